"""Who gives a code: this machine's count, and the letter that it holds in a studio.

The count lives with the machine and runs on over all its studios; the letter
lives with the studio, one file each, so that a shared folder never has to
merge two of them. A code is the letter and the count: two machines that hold
different letters can work apart for as long as they like.

A letter is claimed while the studio's folder is at hand. Two machines that
both claim their first letter in copies that have not met could take the same
one. The letters are therefore claimed in an order of the machine's own, and
each machine begins to count at a place of its own among all the numbers: with
a thousand tiles each before the copies meet, one pair of such machines in 5,600
would give a code twice. Where copies meet, `clashes` names what stands twice.
"""

from __future__ import annotations

import hashlib
import random
import secrets
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import msgspec

import core.files.process_lock as process_lock
from core.errors import InputError
from core.files.content import Stamp, stamp_of
from core.files.formats import in_present_format
from core.files.records import save_record
from core.files.saving import write_in_place
from core.files.sync_copies import without_copies
from core.plain_yaml import PlainYaml, Tree, read_file, write
from core.schema import FORMAT, Amount, check_line, convert, expect_kind, unknown_keys
from core.tiles.codes import LETTERS, NUMBERS, code_of, tidy

_UNSIGNED = stamp_of(b"")
_STATE, _LOCK, _FOLDER = "machine.yaml", "machine.lock", "machines"


class _StateRecord(msgspec.Struct):
    glost: str
    kind: str
    id: str
    next: Amount = Amount(0.0)


class _LetterRecord(msgspec.Struct):
    glost: str
    kind: str
    letter: str
    machine: str
    name: str = ""
    next: Amount = Amount(0.0)


@dataclass(frozen=True, slots=True)
class HeldLetter:
    """A letter of a studio and the machine that holds it."""

    letter: str
    machine: str
    name: str = ""
    next: int = 0
    """The machine's count when it last gave codes here."""
    extra: Mapping[str, Tree] = field(default_factory=dict)
    """Keys of the file that this version does not know."""


@dataclass(frozen=True, slots=True)
class _Claim:
    """A letter, the file that it stands in, and what stood there."""

    held: HeldLetter
    path: Path
    stamp: Stamp


def take_codes(
    state_folder: Path, studio_folder: Path, many: int, known: Iterable[str] = (), name: str = ""
) -> tuple[str, ...]:
    """Give new codes in writing order; none of them is ever given again.

    The count is raised and flushed to the disk before a code is handed out,
    under a lock, so that two windows of one machine never give the same.
    Should the machine have lost its count, it goes on behind what the studio's
    file remembers of it, and passes over every code that is known.

    Parameters
    ----------
    state_folder : Path
        This machine's own folder, outside every studio; made where it lacks.
    studio_folder : Path
    many : int
        How many.
    known : iterable of str
        Codes that the studio's runs hold already.
    name : str
        What to call this machine in the studio's file.

    Raises
    ------
    InputError
        If the codes or the letters have run out, or a file cannot be read.
    OSError
        If the disk refuses.
    """
    if many < 1:
        raise InputError(f"{many} codes cannot be given", "ask for one or more")
    state_folder.mkdir(parents=True, exist_ok=True)
    with process_lock.held(state_folder / _LOCK):
        machine, count = _state(state_folder)
        claim = _claim_of(studio_folder, machine, name)
        begin = begin_of(machine)
        given = {tidy(code) for code in known}
        codes: list[str] = []
        count = max(count, claim.held.next)
        while len(codes) < many:
            if count >= NUMBERS:
                raise InputError(
                    f"this machine has given its {NUMBERS} codes",
                    f"move {_STATE} out of {state_folder} to begin under a new letter",
                )
            code = code_of(claim.held.letter, (begin + count) % NUMBERS)
            count += 1
            if code not in given:
                codes.append(code)
        _write_state(state_folder, machine, count)
        _write_letter(claim, replace(claim.held, next=count))
    return tuple(codes)


def begin_of(machine: str) -> int:
    """Return the number at which a machine begins to count, from 0 to `NUMBERS` - 1.

    Spread evenly over the machines by a hash of their random ids.
    """
    drawn = int.from_bytes(hashlib.sha256(machine.encode()).digest()[:8], "big")
    return drawn % int(NUMBERS)


def held_letters(studio_folder: Path) -> list[HeldLetter]:
    """Return the letters that machines hold in a studio.

    Raises
    ------
    InputError
        If a file is no letter's.
    """
    return [claim.held for claim in _claims(studio_folder / _FOLDER)]


def letter_from(document: PlainYaml) -> HeldLetter:
    """Read a file of ``kind: machine``.

    Raises
    ------
    InputError
        With line and path of the first fault.
    """
    document = in_present_format(document)
    expect_kind(document, "machine")
    record = convert(document, _LetterRecord)
    tree: Any = document.tree
    check_line(document, ("machine",), record.machine)
    check_line(document, ("name",), record.name, needed=False)
    if record.letter not in LETTERS:
        raise document.fault(
            ("letter",), f"{record.letter!r} is no machine's", f"use one of {''.join(LETTERS)}"
        )
    return HeldLetter(
        record.letter,
        record.machine,
        record.name,
        int(record.next),
        unknown_keys(tree, _LetterRecord),
    )


def letter_text(held: HeldLetter) -> str:
    """Return the text of a letter's file."""
    tree: dict[str, Tree] = {
        "glost": FORMAT,
        "kind": "machine",
        "letter": held.letter,
        "machine": held.machine,
        "name": held.name,
        "next": str(held.next),
    }
    return write({**tree, **held.extra})


def clashes(letters: Iterable[HeldLetter], codes: Iterable[str]) -> list[str]:
    """Say which letters two machines hold, and which codes stand on two tiles.

    Neither can come about while a letter is claimed with the folder at hand;
    copies of a studio that grew apart may bring it.
    """
    said = []
    owner: dict[str, str] = {}
    for held in letters:
        other = owner.setdefault(held.letter, held.machine)
        if other != held.machine:
            said.append(
                f"two machines hold the letter {held.letter}: let one of them take a new one"
            )
    seen: set[str] = set()
    twice = []
    for code in codes:
        if code in seen:
            twice.append(code)
        seen.add(code)
    said += [f"the code {code} stands on two tiles" for code in dict.fromkeys(twice)]
    return said


def _claims(folder: Path) -> list[_Claim]:
    claims = []
    for path in without_copies(sorted(folder.glob("*.yaml"))):
        if path.stat().st_size:
            document = read_file(path)
            claims.append(_Claim(letter_from(document), path, document.stamp))
        else:  # claimed by a machine that has not got round to signing it
            claims.append(_Claim(HeldLetter(path.stem[:1], ""), path, _UNSIGNED))
    return claims


def _claim_of(studio_folder: Path, machine: str, name: str) -> _Claim:
    folder = studio_folder / _FOLDER
    claims = _claims(folder)
    holders = Counter(claim.held.letter for claim in claims)
    for claim in claims:
        if claim.held.machine == machine and holders[claim.held.letter] == 1:
            return claim
    order = list(LETTERS)
    random.Random(machine).shuffle(order)
    folder.mkdir(parents=True, exist_ok=True)
    for letter in order:
        if letter in holders:
            continue
        path = folder / f"{letter}.yaml"
        try:
            # Made only if it is not there: of two windows one gets the letter.
            path.touch(exist_ok=False)
        except FileExistsError:
            continue
        held = HeldLetter(letter, machine, name)
        return _Claim(held, path, _write_letter(_Claim(held, path, _UNSIGNED), held))
    raise InputError(
        f"all {len(LETTERS)} letters of this studio are held by machines",
        f"take the file of a machine that will never give codes again out of {_FOLDER}",
    )


def _write_letter(claim: _Claim, held: HeldLetter) -> Stamp:
    return save_record(claim.path, held, letter_text, letter_from, "letter", claim.stamp)


def _state(folder: Path) -> tuple[str, int]:
    path = folder / _STATE
    if not path.exists():
        return secrets.token_hex(8), 0
    document = in_present_format(read_file(path))
    expect_kind(document, "machine-state")
    record = convert(document, _StateRecord)
    check_line(document, ("id",), record.id)
    return record.id, int(record.next)


def _write_state(folder: Path, machine: str, count: int) -> None:
    tree = {"glost": FORMAT, "kind": "machine-state", "id": machine, "next": str(count)}
    write_in_place(folder / _STATE, write({**tree}))
