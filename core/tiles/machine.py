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
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import msgspec

from core.errors import InputError
from core.files.formats import in_present_format
from core.files.saving import write_in_place
from core.files.sync_copies import without_copies
from core.plain_yaml import PlainYaml, read_file, write
from core.schema import FORMAT, Amount, check_line, convert, expect_kind
from core.tiles.codes import LETTERS, NUMBERS, code_of, tidy

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
    with _locked(state_folder):
        machine, count = _state(state_folder)
        held = _letter_of(studio_folder, machine, name)
        begin = begin_of(machine)
        given = {tidy(code) for code in known}
        codes: list[str] = []
        count = max(count, held.next)
        while len(codes) < many:
            if count >= NUMBERS:
                raise InputError(
                    f"this machine has given its {NUMBERS} codes",
                    f"move {_STATE} out of {state_folder} to begin under a new letter",
                )
            code = code_of(held.letter, (begin + count) % NUMBERS)
            count += 1
            if code not in given:
                codes.append(code)
        _write_state(state_folder, machine, count)
        _write_letter(studio_folder, HeldLetter(held.letter, machine, held.name, count))
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
    folder = studio_folder / _FOLDER
    # An empty one was claimed by a machine that has not got round to signing it.
    return [
        letter_from(read_file(path)) if path.stat().st_size else HeldLetter(path.stem[:1], "")
        for path in without_copies(sorted(folder.glob("*.yaml")))
    ]


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
    check_line(document, ("machine",), record.machine)
    check_line(document, ("name",), record.name, needed=False)
    if record.letter not in LETTERS:
        raise document.fault(
            ("letter",), f"{record.letter!r} is no machine's", f"use one of {''.join(LETTERS)}"
        )
    return HeldLetter(record.letter, record.machine, record.name, int(record.next))


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


def _letter_of(studio_folder: Path, machine: str, name: str) -> HeldLetter:
    taken = held_letters(studio_folder)
    holders = Counter(held.letter for held in taken)
    for held in taken:
        if held.machine == machine and holders[held.letter] == 1:
            return held
    order = list(LETTERS)
    random.Random(machine).shuffle(order)
    folder = studio_folder / _FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    for letter in order:
        if letter in holders:
            continue
        try:
            # Made only if it is not there: of two windows one gets the letter.
            (folder / f"{letter}.yaml").touch(exist_ok=False)
        except FileExistsError:
            continue
        held = HeldLetter(letter, machine, name)
        _write_letter(studio_folder, held)
        return held
    raise InputError(
        f"all {len(LETTERS)} letters of this studio are held by machines",
        f"take the file of a machine that will never give codes again out of {_FOLDER}",
    )


def _write_letter(studio_folder: Path, held: HeldLetter) -> None:
    folder = studio_folder / _FOLDER
    path = next(
        (p for p in without_copies(sorted(folder.glob("*.yaml"))) if _holds(p, held)),
        folder / f"{held.letter}.yaml",
    )
    text = write(
        {
            "glost": FORMAT,
            "kind": "machine",
            "letter": held.letter,
            "machine": held.machine,
            "name": held.name,
            "next": str(held.next),
        }
    )
    write_in_place(path, text)


def _holds(path: Path, held: HeldLetter) -> bool:
    if path.stat().st_size == 0:  # claimed a moment ago, by us or another
        return path.stem == held.letter
    found = letter_from(read_file(path))
    return (found.machine, found.letter) == (held.machine, held.letter)


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


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold this machine's lock; the system lets go of it even if the program dies."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / _LOCK).open("a+b") as file:
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)
            try:
                yield
            finally:
                file.seek(0)
                msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
            yield
