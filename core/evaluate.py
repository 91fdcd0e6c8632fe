"""A recipe in, everything that the bench shows about it out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.bodies import Body
from core.errors import InputError
from core.firing import Firing, FiringSheet, firing_sheet
from core.formula import Formula, State, formula_of
from core.materials import Analysis, Material
from core.melt.crystal_window import CrystalWindow, crystal_window
from core.melt.expansion import FITTED
from core.melt.sheet import MeltSheet, melt_sheet
from core.nudge import nudge
from core.oxides import OXIDES
from core.reading.sheet import Reading, read_glaze
from core.reading.surface import Rules
from core.recipe import Pin, Recipe, Rows, Section, total
from core.regions import Hint, Zone, practice_rules
from core.studio import Studio
from core.uncertainty import Cloud, cloud_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MovedAnalysis:
    """A material whose table entry is no longer what the recipe was computed with."""

    id: str
    name: str
    pinned: Analysis
    table: Analysis


@dataclass(frozen=True, eq=False)
class Evaluation:
    """All figures of one recipe; made once per edit, then only read."""

    recipe: Recipe
    studio: Studio
    base_alone: bool
    materials: Mapping[str, Material]
    """Of every row that could be found, by id."""
    missing: tuple[str, ...]
    moved: tuple[MovedAnalysis, ...]
    base_percent: Floats
    """Each base row in percent of the base, shape (rows,)."""
    formula: Formula
    """Of the whole recipe, or of the base alone."""
    table_formula: Formula | None
    """The same with today's table, where that differs."""
    contributions: Floats
    """Moles of each oxide per mole of fluxes by row, shape (rows, 25); base rows first."""
    cloud: Cloud | None
    firing: Firing | None
    heat: FiringSheet | None
    """The firing as a curve, and as the recipe's shelf feels it; None without segments."""
    body: Body | None
    melt: MeltSheet | None
    """What the melt does at the peak that the shelf feels; None where nothing can melt."""
    crystal_window: CrystalWindow | None
    reading: Reading
    zone: Zone | None
    """By the rules of practice; None without a point."""
    hints: tuple[Hint, ...]
    warnings: tuple[str, ...]

    @property
    def point(self) -> tuple[float, float] | None:
        """(SiO2, Al2O3) on the map."""
        return self.formula.point

    @property
    def rules(self) -> Rules | None:
        """Rules that the surface was read by; None where there is no reading."""
        surface = self.reading.surface
        return surface.rules if surface is not None else None

    @property
    def cone(self) -> str:
        """Cone of the firing as text, or empty."""
        return self.firing.cone if self.firing is not None else ""

    def material_name(self, material_id: str) -> str:
        """Return the name to show for a row."""
        material = self.materials.get(material_id)
        return material.name if material is not None else material_id


def evaluate(
    recipe: Recipe,
    studio: Studio,
    base_alone: bool = False,
    expansion_set: str = FITTED,
    layer_mm: float | None = None,
    rules: Rules | None = None,
) -> Evaluation:
    """Compute everything that is shown about a recipe.

    A half-typed recipe is the usual case: what cannot be computed is None
    and named in the formula's states, never an exception.

    Parameters
    ----------
    recipe : Recipe
    studio : Studio
    base_alone : bool
        Leave the additions out of formula, point, cloud and melt.
    expansion_set : str
        One of `core.melt.expansion_sets`.
    layer_mm : float, optional
        Thickness of the fired layer that may run [mm]; the usual one when left out.
    rules : Rules, optional
        Of the surface, learnt from tiles; as shipped when left out.
    """
    materials, missing = resolve(recipe, studio)
    amounts = batch_amounts(recipe, base_alone)
    found = [(materials[m], w) for m, w in amounts if m in materials]
    formula = _formula(found, studio, len(found) < len(amounts))
    moved = _moved(recipe, studio, materials)
    table_formula = None
    if moved:
        now = [(studio.materials.get(m.id) or m, w) for m, w in found]
        table_formula = _formula(now, studio, len(found) < len(amounts))
    base_total = total(recipe.base)
    base = np.array([row.amount for row in recipe.base])
    percent = 100.0 * base / base_total if base_total > 0 else np.zeros(len(base))
    firing = studio.firings.get(recipe.firing)
    heat = firing_sheet(firing, studio.kiln, recipe.shelf) if firing is not None else None
    melt = melt_sheet(formula.moles, heat.felt.peak_c if heat else None, expansion_set)
    practice = practice_rules()
    zone = None
    # Without silica there is no glass to be glossy or matte.
    readable = formula.point is not None and State.NO_SILICA not in formula.states
    if formula.point is not None and readable:
        zone = practice.zone_at(*formula.point, firing.cone if firing else "")
    shares, groups = _shares(recipe, percent, materials)
    body = studio.bodies.get(recipe.body)
    reading = read_glaze(
        formula,
        heat,
        melt,
        body,
        _known(recipe.base, materials),
        () if base_alone else _known(recipe.additions, materials),
        studio.convention,
        layer_mm,
        rules,
    )
    scale_factor = studio.test_batch_g / base_total if base_total > 0 else 0.0
    return Evaluation(
        recipe=recipe,
        studio=studio,
        base_alone=base_alone,
        materials=materials,
        missing=missing,
        moved=moved,
        base_percent=percent,
        formula=formula,
        table_formula=table_formula,
        contributions=_contributions(amounts, materials, formula),
        cloud=cloud_of(
            [m for m, _ in found],
            np.array([w for _, w in found]) * scale_factor,
            float(studio.scale.readout_g),
            studio.convention,
        )
        if formula.unity is not None
        else None,
        firing=firing,
        heat=heat,
        body=body,
        melt=melt,
        crystal_window=crystal_window(melt) if melt is not None else None,
        reading=reading,
        zone=zone,
        hints=tuple(practice.spoken_hints(formula, shares, groups)) if readable else (),
        warnings=_warnings(recipe, studio, materials, firing),
    )


def _known(rows: Rows, materials: Mapping[str, Material]) -> list[tuple[Material, float]]:
    return [(materials[row.material], row.amount) for row in rows if row.material in materials]


def resolve(recipe: Recipe, studio: Studio) -> tuple[dict[str, Material], tuple[str, ...]]:
    """Find the materials of the rows: what the recipe pinned first, then the tables.

    Returns
    -------
    materials : dict by id
    missing : tuple of ids that neither knows
    """
    found: dict[str, Material] = {}
    missing = []
    for row in (*recipe.base, *recipe.additions):
        if row.material in found or row.material in missing:
            continue
        material = material_of(recipe, studio, row.material)
        if material is None:
            missing.append(row.material)
        else:
            found[row.material] = material
    return found, tuple(missing)


def material_of(recipe: Recipe, studio: Studio, material_id: str) -> Material | None:
    """Return a material as this recipe computes with it, or None."""
    table = studio.materials.get(material_id)
    pin = recipe.pinned.get(material_id)
    if pin is None or (table is not None and pin.analysis == table.analysis):
        return table
    if table is None:
        return Material(
            material_id,
            pin.name,
            pin.analysis,
            hazards=pin.hazards,
            source=pin.source,
            origin="recipe",
        )
    return Material(
        id=material_id,
        name=pin.name,
        analysis=pin.analysis,
        synonyms=table.synonyms,
        group=table.group,
        form=table.form,
        density=table.density,
        hazards=table.hazards,
        dust=table.dust,
        source=pin.source,
        origin="recipe",
    )


def pins_of(recipe: Recipe, studio: Studio) -> dict[str, Pin]:
    """Return the analyses that a recipe and its variants are computed with, by id."""
    pins = {}
    for material_id in recipe.material_ids():
        material = material_of(recipe, studio, material_id)
        if material is not None:
            kept = recipe.pinned.get(material_id)
            pins[material_id] = Pin(
                material.name,
                material.analysis,
                material.source,
                material.hazards,
                kept.extra if kept is not None else {},
            )
    return pins


def batch_amounts(recipe: Recipe, base_alone: bool = False) -> list[tuple[str, float]]:
    """Weight of each row in parts of the base, base rows first.

    Additions are percent of the base: 4 % on a base of 50 parts weigh 2.
    """
    amounts = [(row.material, row.amount) for row in recipe.base]
    if not base_alone:
        base_total = total(recipe.base)
        amounts += [(row.material, row.amount / 100.0 * base_total) for row in recipe.additions]
    return amounts


def formula_alone(recipe: Recipe, studio: Studio, base_alone: bool = False) -> Formula:
    """Compute the formula of a recipe and nothing else that is shown about it."""
    materials, missing = resolve(recipe, studio)
    amounts = [(materials[m], w) for m, w in batch_amounts(recipe, base_alone) if m in materials]
    return _formula(amounts, studio, bool(missing))


def nudged_point(
    evaluation: Evaluation, section: Section, row: int, step: float, hold_total: bool
) -> tuple[float, float] | None:
    """Return where the point would go if `row` were nudged by `step`, or None."""
    if row >= len(evaluation.recipe.rows(section)):
        return None
    try:
        changed = nudge(evaluation.recipe, section, row, step, hold_total)
    except InputError:
        return None
    return formula_alone(changed, evaluation.studio, evaluation.base_alone).point


def _formula(amounts: list[tuple[Material, float]], studio: Studio, incomplete: bool) -> Formula:
    return formula_of(
        np.array([w for _, w in amounts], dtype=float),
        np.array([m.moles_per_gram for m, _ in amounts]).reshape(-1, len(OXIDES)),
        np.array([m.analysis.loi for m, _ in amounts], dtype=float),
        studio.convention,
        incomplete,
    )


def _contributions(
    amounts: list[tuple[str, float]], materials: Mapping[str, Material], formula: Formula
) -> Floats:
    rows = np.zeros((len(amounts), len(OXIDES)))
    for i, (material_id, weight) in enumerate(amounts):
        if material_id in materials:
            rows[i] = weight * materials[material_id].moles_per_gram
    if formula.unity is None:
        return np.zeros_like(rows)
    fluxes = float(formula.moles @ formula.convention.mask)
    return np.asarray(rows / fluxes)


def _moved(
    recipe: Recipe, studio: Studio, materials: Mapping[str, Material]
) -> tuple[MovedAnalysis, ...]:
    found = []
    for material_id, material in materials.items():
        table = studio.materials.get(material_id)
        if material.origin == "recipe" and table is not None:
            found.append(
                MovedAnalysis(material_id, material.name, material.analysis, table.analysis)
            )
    return tuple(found)


def _shares(
    recipe: Recipe, percent: Floats, materials: Mapping[str, Material]
) -> tuple[dict[str, float], dict[str, float]]:
    shares: dict[str, float] = {}
    groups: dict[str, float] = {}
    for row, value in zip(recipe.base, percent, strict=True):
        shares[row.material] = shares.get(row.material, 0.0) + float(value)
        material = materials.get(row.material)
        # Calcined clay neither keeps a glaze in suspension nor shrinks.
        if material is not None and material.form == "raw":
            groups[material.group] = groups.get(material.group, 0.0) + float(value)
    for addition in recipe.additions:
        shares[addition.material] = shares.get(addition.material, 0.0) + addition.amount
    return shares, groups


def _warnings(
    recipe: Recipe, studio: Studio, materials: Mapping[str, Material], firing: Firing | None
) -> tuple[str, ...]:
    warnings = [text for material in materials.values() for text in material.warnings]
    warnings += [
        f"{material.name} dissolves in water: it moves with the water into the body and the "
        "bucket changes as it stands"
        for material in materials.values()
        if material.form == "soluble"
    ]
    if recipe.firing and firing is None:
        warnings.append(f"the firing {recipe.firing!r} is not in the tables")
    if recipe.body and recipe.body not in studio.bodies:
        warnings.append(f"the body {recipe.body!r} is not in the tables")
    return tuple(warnings)
