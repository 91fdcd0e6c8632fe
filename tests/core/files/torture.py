"""What no file may do, tried: a program of its own, so that limits can be laid on it.

``python tests/core/files/torture.py prefixes``
    every prefix of every sample file;
``python tests/core/files/torture.py bytes 100000``
    random changes of single bytes in the samples, from a fixed seed;
``python tests/core/files/torture.py trees 600`` and ``paste 600``
    sound files bent out of shape, and text pasted as cells, for so many seconds; with a second
    number, that many examples at most, the same in every run;
``python tests/core/files/torture.py bombs``
    files made to take time or memory.

Each case has to be refused with an InputError that names the file and its line, or be loaded
right: it is saved, loaded again and used. The process may have 500 MB; a case that takes two
seconds of processor time ends it with a trace of where it stood. One JSON object is printed.
"""

from __future__ import annotations

import copy
import faulthandler
import json
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from core.bodies import read_bodies
from core.check import check_file
from core.errors import InputError
from core.evaluate import evaluate
from core.firing import firing_sheet, firing_text, read_firing, usual_kiln
from core.material_table import read_materials, shipped_materials
from core.plain_yaml import DEEPEST, read_file
from core.recipe import Recipe, Section
from core.recipe_file import read_recipe, recipe_text
from core.report import report
from core.spreadsheet import cells_of, rows_from
from core.studio import Studio, open_studio
from core.telling import report_text
from core.tiles.index import entries_of
from core.tiles.machine import letter_from
from core.tiles.run_file import read_run, run_text
from core.tiles.sheets import run_sheets
from core.tiles.version import firing_version

MOST_BENT = 100_000
"""Characters that one value may be blown up to; the bombs are larger."""
SAMPLES = Path(__file__).parents[2] / "samples" / "format-1"
MOST_MEMORY = 500_000_000
LONGEST_CASE_S = 2.0
WITHOUT_LINE = ("is empty", "is larger than")
"""Beginnings of what is said of a whole file."""


def _peak_mb() -> int:
    """Return the most memory that this program ever held [MB]."""
    # The system's count for a process begins with the memory of the one that started it.
    status = Path("/proc/self/status")
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) // 1000
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000)


@dataclass
class Count:
    """What came of the cases."""

    cases: int = 0
    refused: int = 0
    loaded: int = 0
    slowest_s: float = 0.0
    slowest: str = ""
    failures: list[str] = field(default_factory=list)

    def told(self) -> dict[str, Any]:
        """As it is printed."""
        return {
            "cases": self.cases,
            "refused": self.refused,
            "loaded": self.loaded,
            "slowest_s": round(self.slowest_s, 3),
            "slowest": self.slowest,
            "peak_mb": _peak_mb(),
            "failures": self.failures[:10],
            "failed": len(self.failures),
        }


class Judge:
    """Puts files where the program would find them, and judges what comes of it."""

    def __init__(self, folder: Path) -> None:
        self.count = Count()
        self.raising = False
        """For whoever makes a failing case smaller."""
        self._plain = folder / "plain" / "sample.yaml"
        self._studio = folder / "studio" / "studio.yaml"
        for path in (self._plain, self._studio):
            path.parent.mkdir(parents=True)
        self._tables = Studio()
        self._seen: dict[str, Any] = {}

    def path(self, kind: str) -> Path:
        """Return where a file of a kind lies."""
        return self._studio if kind == "studio" else self._plain

    def knows(self, kind: str, data: bytes) -> None:
        """Take a sound file as one that need not be used again when it comes out the same."""
        self.path(kind).write_bytes(data)
        self._seen[kind] = self._load(kind)

    def case(self, kind: str, data: bytes, name: str) -> None:
        """Judge one file; what goes wrong is written down."""
        self._run(name, lambda: self._file(kind, data))

    def paste(self, text: str) -> None:
        """Judge one text pasted as cells."""
        self._run(f"paste {text[:200]!r}", lambda: self._paste(text))

    def _run(self, name: str, case: Callable[[], None]) -> None:
        self.count.cases += 1
        begin = time.process_time()
        signal.setitimer(signal.ITIMER_PROF, LONGEST_CASE_S)
        try:
            case()
        except Exception as fault:
            trace = traceback.format_exc()[-1500:]
            self.count.failures.append(f"{name}: {type(fault).__name__}\n{trace}")
            if self.raising:
                raise
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            took = time.process_time() - begin
            if took > self.count.slowest_s:
                self.count.slowest_s, self.count.slowest = took, name[:120]

    def _file(self, kind: str, data: bytes) -> None:
        path = self.path(kind)
        path.write_bytes(data)
        try:
            value = self._load(kind)
        except InputError as fault:
            self._refused(fault, str(path))
            return
        self.count.loaded += 1
        if value == self._seen.get(kind):
            return
        self._save_and_load(kind, value)
        self._use(kind, value)

    def _refused(self, fault: InputError, source: str) -> None:
        words = str(fault)
        assert words.startswith(source), f"names no file: {words}"
        _check_words(fault)
        assert fault.line is not None or fault.what.startswith(WITHOUT_LINE), f"no line: {words}"
        self.count.refused += 1

    def _load(self, kind: str) -> Any:
        path = self.path(kind)
        if kind == "recipe":
            return read_recipe(path)
        if kind == "run":
            return read_run(path)
        if kind == "firing":
            return read_firing(path)
        if kind == "materials":
            return list(read_materials(path))
        if kind == "bodies":
            return read_bodies(path)
        if kind == "machine":
            return letter_from(read_file(path))
        found = open_studio(path.parent)
        return (found.name, found.scales, found.kilns, found.convention.fluxes, found.defaults)

    def _save_and_load(self, kind: str, value: Any) -> None:
        write = {"recipe": recipe_text, "run": run_text, "firing": firing_text}.get(kind)
        if write is None:
            return
        text = write(value)
        self.path(kind).write_bytes(text.encode("utf-8"))
        again = self._load(kind)
        assert again == value, "loaded, saved and loaded again it is another"
        assert write(again) == text, "saved twice it is not the same bytes"

    def _use(self, kind: str, value: Any) -> None:
        for said in check_file(self.path(kind), {None: self._tables}):
            assert isinstance(said, str)
        if kind == "recipe":
            self._tell(value, self._tables)
        elif kind == "run":
            value.oddities()
            list(entries_of(value, self._tables, "sample.yaml"))
            for tile in value.tiles[:3]:
                evaluate(value.recipe_of(tile), self._tables)
            _or_refused(lambda: run_sheets(value, self._tables))
        elif kind == "firing":
            firing_version(value)
            for shelf in ("", *(w.shelf for log in value.log for w in log.witness_cones[:2])):
                firing_sheet(value, usual_kiln(), shelf)
        elif kind == "materials":
            for material in value[:5]:
                studio = Studio(materials=read_materials(self.path(kind)))
                self._tell(_recipe_of(material.id), studio)
        elif kind == "bodies":
            for body in list(value)[:5]:
                recipe = _recipe_of("talc", body=body)
                self._tell(recipe, Studio(bodies=value))
        elif kind == "studio":
            self._tell(_recipe_of("talc"), open_studio(self.path(kind).parent))

    def _tell(self, recipe: Recipe, studio: Studio) -> None:
        evaluation = evaluate(recipe, studio)
        report_text(evaluation)
        json.dumps(report(evaluation), allow_nan=False)

    def _paste(self, text: str) -> None:
        table = self._tables.materials
        try:
            rows = rows_from(text, table)
        except InputError as fault:
            _check_words(fault)
            self.count.refused += 1
            return
        self.count.loaded += 1
        recipe = Recipe("Pasted", base=rows)
        self.path("recipe").write_text(recipe_text(recipe), encoding="utf-8", newline="")
        assert read_recipe(self.path("recipe")) == recipe, "what was pasted does not save"
        copied = cells_of((row.material, row.amount) for row in rows)
        assert rows_from(copied, table) == rows, f"copied and pasted it is another: {copied!r}"
        evaluate(recipe, self._tables)


def _or_refused(call: Callable[[], object]) -> None:
    try:
        call()
    except InputError as fault:
        _check_words(fault)


def _check_words(fault: InputError) -> None:
    assert str(fault).isprintable(), f"is no line of text: {str(fault)!r}"
    assert len(str(fault)) < 1200, f"is too long: {fault}"
    assert fault.mend, f"says no way out: {fault}"


def _recipe_of(material: str, **others: str) -> Recipe:
    rows = rows_from("potash-feldspar\t40\nx\t30\nsilica\t30\n", shipped_materials())
    recipe = Recipe("Sample", firing="cone-10-medium", base=rows, **others)
    return recipe.with_material(Section.BASE, 1, material)


@cache
def samples() -> dict[Path, str]:
    """Return the sample files with their kinds, as a stock reader sees them."""
    paths = sorted(SAMPLES.glob("*.yaml"))
    return {p: yaml.load(p.read_bytes(), yaml.BaseLoader)["kind"] for p in paths}


def prefixes(judge: Judge) -> None:
    """Cut every sample short after each of its bytes."""
    for path, kind in samples().items():
        data = path.read_bytes()
        judge.knows(kind, data)
        for end in range(len(data)):
            judge.case(kind, data[:end], f"{path.name}[:{end}]")


def changed_bytes(judge: Judge, many: int) -> None:
    """Change, drop or add up to four bytes of a sample, again and again."""
    chance = random.Random("bytes of glost files")
    files = [(path, kind, path.read_bytes()) for path, kind in samples().items()]
    for number in range(many):
        path, kind, data = files[number % len(files)]
        if number < len(files) or chance.random() < 0.01:
            judge.knows(kind, data)
        judge.case(kind, _changed(data, chance), f"{path.name}, change {number}")


def _changed(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        place = chance.randrange(len(changed))
        new = chance.choice(
            (chance.randrange(256), ord(chance.choice("\"'[]{}:,-&*!#|>%@ \n\t019.eE")))
        )
        how = chance.random()
        if how < 0.7:
            changed[place] = new
        elif how < 0.85:
            del changed[place]
        else:
            changed.insert(place, new)
    return bytes(changed)


Node = Any
"""A scalar as it is to be written, a list of nodes, or a list of (key, node) under a `Pairs`."""


class Pairs(list[tuple[str, Any]]):
    """A mapping that may hold a key twice."""


@cache
def _trees() -> dict[Path, Node]:
    return {p: _nodes(yaml.load(p.read_bytes(), yaml.BaseLoader)) for p in samples()}


def _nodes(tree: Any) -> Node:
    if isinstance(tree, dict):
        return Pairs((json.dumps(key), _nodes(value)) for key, value in tree.items())
    if isinstance(tree, list):
        return [_nodes(item) for item in tree]
    return json.dumps(tree, ensure_ascii=False)


def _written(node: Node) -> str:
    if isinstance(node, Pairs):
        return "{" + ", ".join(f"{key}: {_written(value)}" for key, value in node) + "}"
    if isinstance(node, list):
        return "[" + ", ".join(_written(item) for item in node) + "]"
    return str(node)


RAW = (
    *("", "~", "null", "NO", "yes", "off", "true", "010", "0x1F", "0o17", "1_000", "1:30", "06"),
    *(".inf", "-.inf", ".nan", "NaN", "inf", "1e308", "1e309", "-1e308", "1e-320", "1e999999999"),
    *("9" * 400, "0." + "0" * 400 + "1", "-0", "-1", "0", "1e6", "1000001", "0,5", "1.234,5"),
    *("2031-02-30", "0000-00-00", "9999-12-31", "0001-01-01", "31.2.2031", "2031-02-09T07:30Z"),
    *("2031-02-09 07:30+14:00", "1/3", "1/0", "-1/2", "5/4", "1e9/3", "0x1/3", "wet", "dry"),
    *("*a", "&a x", "!!python/object/apply:os.system ['true']", "!!binary aGk=", "<<", "!x y"),
    *(
        "[[]]",
        "{}",
        "[]",
        "{a: {b: {c: d}}}",
        "? x",
        "- x",
        "# x",
        "%YAML 1.1",
        "--- x",
        "@x",
        "`x",
    ),
    *(
        "=cmd",
        "'=1+1'",
        "'@x'",
        "../../etc/passwd",
        "C:\\x",
        "file:///x",
        "http://invented.example/",
    ),
    *(
        "\u0661\u0662",
        "\uff11\uff12",
        "\u2212" + "5",
        "\u00bd",
        "\u2460",
        "1\u00a0000",
        "SiO2",
        "Xx9",
    ),
    *(
        "Al2O3.2SiO2.2H2O",
        "(" * 60,
        "H" * 5000,
        "C60H99999999",
        "Si(O",
        "SiO2" * 500,
        "0SiO2",
        "K2O.0",
    ),
)
"""Scalars as they might stand in a file without quotes."""

QUOTED = tuple(
    json.dumps(text)
    for text in (
        *(
            "",
            " ",
            "\n",
            "a\nb",
            "\t=x",
            "\r",
            "\x00",
            "\x1b[31m",
            "\x7f",
            "\x85",
            "\u2028",
            "\u2029",
        ),
        *(
            "\u202e",
            "\u200b",
            "\ufeff",
            "\ud800",
            "\uffff",
            "\U0010ffff",
            "e\u0301" * 50,
            "\U0001f3fa",
        ),
        *("x" * 80, "x" * 81, "x" * 20_000, "x" * 20_001, "a: b", "{", "'", '"', "\\", "/", "."),
    )
)
KEYS = (
    *("name", "base", "parts", "material", "pinned", "tiles", "code", "result", "shares", "kind"),
    *("glost", "segments", "to_c", "natural_cooling", "analysis", "formula", "loi", "id", "log"),
    *('""', '" "', "NO", "~", "06", '"a.b"', '"a[0]"', "__class__", "self", "extra", '"\\u202e"'),
    *(
        '"two\\nlines"',
        '"' + "k" * 3000 + '"',
        "k" * 200,
        "?",
        "<<",
        '"$`] - at `"',
        "=x",
        "\u00e9",
    ),
)


def _places(node: Node, found: list[tuple[Node, int]]) -> list[tuple[Node, int]]:
    for number, item in enumerate(node):
        found.append((node, number))
        inner = item[1] if isinstance(node, Pairs) else item
        if isinstance(inner, list):
            _places(inner, found)
    return found


@st.composite
def bent_files(draw: st.DrawFn) -> tuple[str, bytes]:
    """A sample whose tree was bent in up to four places."""
    path, kind = draw(st.sampled_from(list(samples().items())))
    root = copy.deepcopy(_trees()[path])
    for _ in range(draw(st.sampled_from((1, 1, 1, 2, 4)))):
        places = _places(root, [])
        if not places:
            break
        leaves = [(n, i) for n, i in places if not isinstance(_value(n, i), list)]
        # The wrong value is likelier to bite in the leaves.
        some = leaves if leaves and draw(st.booleans()) else places
        node, number = some[draw(st.integers(0, len(some) - 1))]
        _bend(draw, node, number, places)
    text = _written(root)
    return kind, text.encode("utf-8", "surrogatepass")


def _value(node: Node, number: int) -> Node:
    return node[number][1] if isinstance(node, Pairs) else node[number]


def _put(node: Node, number: int, value: Node) -> None:
    node[number] = (node[number][0], value) if isinstance(node, Pairs) else value


def _bend(draw: st.DrawFn, node: Node, number: int, places: list[tuple[Node, int]]) -> None:
    old = _value(node, number)
    how = draw(st.sampled_from(("raw", "quoted", "figure", "text", "drop", "key", "twice", "swap",
                                "many", "deep", "wrap", "new")))  # fmt: skip
    if how == "raw":
        _put(node, number, draw(st.sampled_from(RAW)))
    elif how == "quoted":
        _put(node, number, draw(st.sampled_from(QUOTED)))
    elif how == "figure":
        figure = draw(st.floats() | st.integers(-(10**20), 10**20) | st.floats(0, 2000))
        _put(node, number, json.dumps(str(figure)))
    elif how == "text":
        _put(node, number, json.dumps(draw(st.text(max_size=40)), ensure_ascii=draw(st.booleans())))
    elif how == "drop":
        del node[number]
    elif how == "key" and isinstance(node, Pairs):
        node[number] = (draw(st.sampled_from(KEYS)), old)
    elif how == "twice":
        node.insert(number, node[number])
    elif how == "swap":
        other, place = places[draw(st.integers(0, len(places) - 1))]
        if place < len(other):
            _put(node, number, copy.deepcopy(_value(other, place)))
    elif how == "many":
        most = MOST_BENT // max(len(_written(old)), 1)
        _put(node, number, [old] * min(most, draw(st.sampled_from((2, 3, 201, 501, 2000)))))
    elif how == "deep":
        depth = draw(st.sampled_from((1, 3, DEEPEST, 300)))
        _put(node, number, "[" * depth + "]" * depth)
    elif how == "wrap":
        _put(node, number, draw(st.sampled_from(([old], Pairs([("a", old)])))))
    elif how == "new":
        node.insert(number, (draw(st.sampled_from(KEYS)), draw(st.sampled_from(RAW)))
                    if isinstance(node, Pairs) else draw(st.sampled_from(RAW)))  # fmt: skip


_NAMES = (
    *("Talc", "talc", "CHINA CLAY", "nowhere spar", "total", "Total:", "=cmd", "'=cmd", "''x", '"'),
    *(
        '"a',
        'a"b',
        "",
        " ",
        "\ufeff",
        "\u200b",
        "a\u200b b",
        "\uff1dx",
        "x" * 90,
        "-",
        "12",
        "a\x1fb",
    ),
)
_GOOD = ("16", "12,5", "16%", "0", "1000000", "1e-320")
_AMOUNTS = (
    *(*_GOOD, "1.234,5", "-5", "nan", "inf", "1e9", "\u0661", "", "#DIV/0!", "'16", "=1+1"),
)
_CELL = st.sampled_from(_NAMES) | st.sampled_from(_AMOUNTS) | st.text(max_size=12)
_LINE = st.lists(_CELL, max_size=4)
_NAME = st.sampled_from(_NAMES) | st.text(max_size=12)
_ROW = st.tuples(_NAME, st.sampled_from(_GOOD)).map(list)


@st.composite
def pasted_text(draw: st.DrawFn) -> str:
    """Something like cells on the clipboard, or anything at all."""
    if draw(st.integers(0, 9)) == 0:
        return draw(st.text(max_size=200))
    lines = draw(st.lists(_ROW | _ROW | _ROW | _LINE, max_size=6)) * draw(
        st.sampled_from((1, 1, 1, 30))
    )
    parting = draw(st.sampled_from("\t\t;,"))
    end = draw(st.sampled_from(("\n", "\r\n", "\r")))
    quote = draw(st.booleans())
    cells = (['"' + c.replace('"', '""') + '"' if quote else c for c in line] for line in lines)
    return end.join(parting.join(line) for line in cells)


def bent(judge: Judge, what: str, seconds: float, examples: int) -> None:
    """Let hypothesis bend files or pasted text until the time or the examples are used up."""
    end = time.monotonic() + seconds
    batch = min(examples, 500)

    @settings(
        max_examples=batch,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.generate, Phase.shrink),
    )
    @given(st.data())
    def once(data: st.DataObject) -> None:
        if what == "paste":
            judge.paste(data.draw(pasted_text()))
        else:
            kind, text = data.draw(bent_files())
            judge.case(kind, text, f"{kind}: {text[:3000]!r}")

    judge.raising = True
    number = 0
    while time.monotonic() < end and number * batch < examples:
        known = len(judge.count.failures)
        try:
            seed(number)(once)()
        except Exception:
            # The judge wrote each down; the last is the smallest of its kind.
            judge.count.failures[known:] = judge.count.failures[-1:]
        number += 1


HEAD = b'glost: "1"\nkind: recipe\nname: x\n'


def bombs() -> Iterator[tuple[str, bytes]]:
    """Files made to take time or memory, with their names."""
    doubling = "".join(f"l{i}: &l{i} [{', '.join([f'*l{i - 1}'] * 9)}]\n" for i in range(1, 40))
    yield "aliases that double", b"l0: &l0 [x]\n" + doubling.encode()
    yield (
        "aliases after a sound head",
        HEAD + b"base: &b [{material: a, parts: 1}]\n" + b"c: *b\n" * 9,
    )
    merge = "".join(f"m{i}: &m{i} {{<<: [*m{i - 1}, *m{i - 1}]}}\n" for i in range(1, 40))
    yield "merges that double", b"m0: &m0 {a: b}\n" + merge.encode()
    yield "eight MB of [", b"[" * 7_999_000
    yield "eight MB of {a: ", b"{a: " * 1_999_000
    yield "eight MB of dashes", b"- " * 3_999_000
    yield "eight MB of question marks", b"? " * 3_999_000
    yield "eight MB of one scalar", HEAD + b'notes: "' + b"x" * 7_990_000 + b'"\n'
    yield "eight MB of one plain scalar", HEAD + b"notes: " + b"x " * 3_990_000
    yield "eight MB of one block", HEAD + b"notes: |\n" + b"  x\n" * 1_900_000
    yield "eight MB of one key", HEAD + b"k" * 7_990_000 + b": v\n"
    yield "eight MB of a comment", b"#" + b"x" * 7_990_000
    yield "eight MB of empty lines", b"\n" * 7_990_000
    yield "eight MB of blanks", b" " * 7_990_000
    yield "eight MB of tabs", HEAD + b"notes:" + b"\t" * 7_900_000 + b"x"
    yield "eight MB of escapes", HEAD + b'notes: "' + b"\\n" * 3_990_000 + b'"\n'
    yield "eight MB of quotes", HEAD + b"notes: " + b"''" * 3_990_000 + b"\n"
    yield "eight MB of documents", b"---\n" * 1_990_000
    yield "eight MB of directives", b"%A b\n" * 1_500_000
    yield "eight MB of commas", HEAD + b"base: [" + b"," * 7_990_000
    yield "eight MB of NUL", b"\0" * 7_990_000
    yield "eight MB of a mark", b"\xef\xbb\xbf" * 2_600_000
    yield "eight MB of half a character", HEAD + b'notes: "' + b"\xc3" * 7_990_000
    yield "eight MB of tags", HEAD + b"notes: !" + b"x" * 7_990_000 + b" y\n"
    yield "eight MB of an anchor", HEAD + b"notes: &" + b"x" * 7_990_000 + b" y\n"
    yield "a million keys", HEAD + b"".join(b"k%d: v\n" % i for i in range(700_000))
    yield "a million times the same key", HEAD + b"a: b\n" * 1_000_000
    yield "a million rows", HEAD + b"base: [" + b"{a: b}," * 1_000_000 + b"]\n"
    yield "fifty thousand rows", HEAD + b"base: [" + b"{material: a, parts: 1}," * 16_000 + b"]\n"
    yield "deep indents", b"".join(b" " * i + b"k:\n" for i in range(3_900))
    yield "nine MB", b"#" * 9_000_000


def blow(judge: Judge) -> dict[str, float]:
    """Judge the bombs; return the time that each took [s]."""
    took = {}
    for name, data in bombs():
        begin = time.process_time()
        judge.case("recipe", data, name)
        took[name] = round(time.process_time() - begin, 3)
    return took


def _stay_inside(event: str, arguments: tuple[object, ...]) -> None:
    """Let no file reach the network or start a program."""
    if event.startswith(("socket.", "subprocess.", "os.exec", "os.posix_spawn", "os.system")):
        raise AssertionError(f"left the process: {event} {arguments!r}")


def main(arguments: list[str]) -> int:
    """Run one of the trials and print what came of it."""
    what, *numbers = arguments
    faulthandler.register(signal.SIGPROF, chain=True)  # and then the signal's own way: to end
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    warnings.simplefilter("error")
    more: dict[str, Any] = {}
    sys.addaudithook(_stay_inside)
    with tempfile.TemporaryDirectory() as folder:
        judge = Judge(Path(folder))
        begin = time.monotonic()
        if what == "prefixes":
            prefixes(judge)
        elif what == "bytes":
            changed_bytes(judge, int(numbers[0]))
        elif what in ("trees", "paste"):
            bent(judge, what, float(numbers[0]), int(numbers[1]) if numbers[1:] else 10**9)
        elif what == "bombs":
            more["took_s"] = blow(judge)
        else:
            print(__doc__, file=sys.stderr)
            return 2
        told = {**judge.count.told(), "seconds": round(time.monotonic() - begin, 1), **more}
    print(json.dumps(told, ensure_ascii=False, indent=1))
    return 1 if judge.count.failures else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
