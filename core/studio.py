"""A studio: the folder that holds everything, with the shipped tables behind it."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import msgspec

import core.files.disk as disk
from core.bodies import Body, read_bodies, shipped_bodies
from core.errors import InputError
from core.files.content import ABSENT, Stamp
from core.files.formats import in_present_format
from core.files.saving import save
from core.files.sync_copies import without_copies
from core.files.whole import read_whole
from core.firing import Firing, Kiln, firing_from, shipped_firings, usual_kiln
from core.firing.kiln import check_kiln
from core.material_table import read_materials, shipped_materials
from core.materials import MaterialTable
from core.oxides import COLOURING_RO, FLUXES, Convention
from core.plain_yaml import PlainYaml, Tree, parse, read_file, write
from core.schema import FORMAT, Amount, convert, expect_kind

STUDIO_FILE = "studio.yaml"


class Scale(msgspec.Struct, frozen=True):
    """A weighing scale and the step of its readout [g]."""

    id: str
    name: str = ""
    readout_g: Amount = Amount(0.1)
    capacity_g: Amount | None = None


USUAL_SCALE = Scale("usual", "Scale reading 0.1 g")


class _StudioRecord(msgspec.Struct):
    glost: str
    kind: str
    name: str = ""
    note: str = ""
    units: dict[str, str] = {}
    scales: list[Scale] = []
    default_scale: str = ""
    kilns: list[Kiln] = []
    default_kiln: str = ""
    defaults: dict[str, str] = {}
    count_as_flux: list[str] = []
    test_batch_g: Amount = Amount(100.0)


@dataclass(frozen=True)
class Studio:
    """Everything a recipe is computed with."""

    folder: Path | None = None
    name: str = ""
    note: str = ""
    materials: MaterialTable = field(default_factory=shipped_materials)
    bodies: Mapping[str, Body] = field(default_factory=shipped_bodies)
    firings: Mapping[str, Firing] = field(default_factory=shipped_firings)
    firing_paths: Mapping[str, Path] = field(default_factory=dict)
    """The studio's own firing files by id."""
    firing_stamps: Mapping[str, Stamp] = field(default_factory=dict)
    """What stood in them when they were last read or saved, by id."""
    convention: Convention = field(default_factory=Convention)
    scales: tuple[Scale, ...] = (USUAL_SCALE,)
    scale: Scale = USUAL_SCALE
    kilns: tuple[Kiln, ...] = field(default_factory=lambda: (usual_kiln(),))
    kiln: Kiln = field(default_factory=usual_kiln)
    """The one whose own rates a schedule means by "full" and by switched off."""
    test_batch_g: float = 100.0
    """Dry weight that is usually mixed for a tile [g]; the scale's error counts against it."""
    defaults: Mapping[str, str] = field(default_factory=dict)
    faults: tuple[InputError, ...] = ()
    """What is wrong with firing files that nothing else depends on."""

    def owns_firing(self, firing_id: str) -> bool:
        """Tell whether a firing is the studio's own, and not a shipped one."""
        return firing_id in self.firing_paths or firing_id not in shipped_firings()

    def own_copy(self, firing: Firing) -> Firing:
        """Return a shipped firing, changed or not, under an id of the studio's own.

        It gets a name of its own unless it has one, and loses the source of the shipped one.

        Examples
        --------
        >>> Studio().own_copy(shipped_firings()["cone-10-medium"]).id
        'cone-10-medium-own'
        """
        new, number = self._free_id(firing.id)
        name = firing.name
        if name == shipped_firings()[firing.id].name:
            name = f"{name or firing.id}, own" + (f" {number}" if number > 1 else "")
        return replace(firing, id=new, name=name, note="", source="", confidence="")

    def free_firing_id(self, firing_id: str) -> str:
        """Return an id that no firing has, made of one that is taken.

        Examples
        --------
        >>> Studio().free_firing_id("cone-10-medium")
        'cone-10-medium-own'
        """
        return self._free_id(firing_id)[0]

    def _free_id(self, firing_id: str) -> tuple[str, int]:
        number, new = 1, f"{firing_id}-own"
        while new in self.firings:
            number += 1
            new = f"{firing_id}-own-{number}"
        return new, number

    def firing_path(self, firing_id: str) -> Path | None:
        """Return the file of a firing of the studio's own, or the one it would get."""
        if self.folder is None:
            return None
        known = self.firing_paths.get(firing_id)
        if known is not None:
            return known
        stem = re.sub(r"[^\w.-]+", "-", firing_id).strip(".-")[:60] or "firing"
        taken = {path.name.casefold() for path in self.firing_paths.values()}
        number, name = 1, f"{stem}.yaml"
        while name.casefold() in taken or os.path.lexists(self.folder / "firings" / name):
            number += 1
            name = f"{stem}-{number}.yaml"
        return self.folder / "firings" / name

    def tables_mark(self) -> str:
        """Return a text that another table of materials, or another convention, would change.

        It stands for all that the formula and the words of a recipe rest on besides its file.
        """
        mark = hashlib.sha256(repr(self.convention).encode())
        for material in self.materials:
            said = (material.id, material.name, material.synonyms)
            mark.update(repr(said).encode())
            mark.update(material.moles_per_gram.tobytes())
        return mark.hexdigest()

    def first_recipe(self) -> Path | None:
        """Return the recipe to begin with: the studio's choice, or the first by name."""
        paths = self.recipe_paths()
        wanted = self.defaults.get("recipe", "")
        return next((p for p in paths if p.stem == wanted), paths[0] if paths else None)

    def recipe_paths(self) -> list[Path]:
        """Return the recipe files, by name."""
        if self.folder is None:
            return []
        return _sorted_files(self.folder / "recipes")

    def run_paths(self) -> list[Path]:
        """Return the files of the test-tile runs, by name."""
        if self.folder is None:
            return []
        return _sorted_files(self.folder / "runs")


def _sorted_files(folder: Path) -> list[Path]:
    return without_copies(sorted(folder.glob("*.yaml"), key=lambda p: p.name.casefold()))


def find_studio(path: Path) -> Path | None:
    """Return the nearest folder at or above `path` that holds a studio, or None."""
    start = path.absolute()
    for folder in (start, *start.parents):
        if os.path.lexists(folder / STUDIO_FILE):
            return folder
    return None


def studio_of(path: Path) -> Path | None:
    """Return the folder of the studio that a file lies in, or None.

    Of a symbolic link it is that of the file behind it: a save follows the link too.
    """
    near, found = (find_studio(p.parent) for p in (path, Path(os.path.realpath(path))))
    if near is not None and found is not None and near.resolve() == found.resolve():
        return near  # by the name that it was opened under
    return found


def open_studio(folder: Path | None) -> Studio:
    """Read a studio's tables; None gives the shipped ones alone.

    Raises
    ------
    InputError
        If the studio's own file, its materials or its bodies cannot be read.
    """
    if folder is None:
        return Studio()
    document = in_present_format(read_file(folder / STUDIO_FILE))
    record = _record_of(document)
    for number, oxide in enumerate(record.count_as_flux):
        if oxide not in (*FLUXES, *COLOURING_RO):
            raise document.fault(
                ("count_as_flux", number),
                f"{oxide!r} cannot be counted as a flux",
                f"choose among {', '.join(COLOURING_RO)}",
            )
    for number, scale in enumerate(record.scales):
        if not 1e-4 <= scale.readout_g <= 1000:
            raise document.fault(
                ("scales", number, "readout_g"),
                f"{scale.readout_g:g} g is no step of a scale",
                "give it in grams, such as 0.1",
            )
    for number, kiln in enumerate(record.kilns):
        try:
            check_kiln(kiln)
        except InputError as fault:
            raise document.fault(("kilns", number), fault.what, fault.mend) from fault
    kilns = tuple(record.kilns) or (usual_kiln(),)
    scales = tuple(record.scales) or (USUAL_SCALE,)
    materials = shipped_materials()
    if os.path.lexists(folder / "materials.yaml"):
        materials = read_materials(folder / "materials.yaml").over(materials)
    bodies = dict(shipped_bodies())
    if os.path.lexists(folder / "bodies.yaml"):
        bodies |= read_bodies(folder / "bodies.yaml")
    firings = dict(shipped_firings())
    faults: list[InputError] = []
    own: dict[str, Path] = {}
    stamps: dict[str, Stamp] = {}
    for path in without_copies(sorted((folder / "firings").glob("*.yaml"))):
        try:
            read = read_whole(path)
            firing = firing_from(read)
        except InputError as fault:
            faults.append(fault)
            continue
        if firing.id in own:
            faults.append(
                InputError(
                    f"repeats the id {firing.id!r} of {own[firing.id].name}",
                    "give each firing its own id",
                    str(path),
                )
            )
            continue
        own[firing.id] = path
        stamps[firing.id] = read.stamp
        firings[firing.id] = firing
    return Studio(
        folder=folder,
        name=record.name,
        note=record.note,
        materials=materials,
        bodies=bodies,
        firings=firings,
        firing_paths=own,
        firing_stamps=stamps,
        convention=Convention(tuple(dict.fromkeys((*FLUXES, *record.count_as_flux)))),
        scales=scales,
        scale=next((s for s in scales if s.id == record.default_scale), scales[0]),
        kilns=kilns,
        kiln=next((k for k in kilns if k.id == record.default_kiln), kilns[0]),
        test_batch_g=float(record.test_batch_g) or 100.0,
        defaults=dict(record.defaults),
        faults=tuple(faults),
    )


def _record_of(document: PlainYaml) -> _StudioRecord:
    expect_kind(document, "studio")
    return convert(document, _StudioRecord)


def begin_studio(folder: Path, name: str) -> None:
    """Make a folder a studio: its file, and the folders that it keeps things in.

    Raises
    ------
    InputError
        If it is one already.
    OSError
        If the disk refuses.
    """
    if os.path.lexists(folder / STUDIO_FILE):
        raise InputError(f"{folder.name} is a studio already", "open it, or choose another folder")
    for inner in ("recipes", "runs", "firings", "photos"):
        disk.make_folder(folder / inner)
    tree: Tree = {"glost": FORMAT, "kind": "studio", "name": name}

    def reads_back(text: str) -> None:
        _record_of(parse(text, STUDIO_FILE))

    save(folder / STUDIO_FILE, write(tree), reads_back, ABSENT)
