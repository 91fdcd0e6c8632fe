"""What is told of a recipe in words, for the screen, the card and the terminal."""

from __future__ import annotations

import textwrap
from typing import Final

from core.cautions import cautions_for, general_cautions
from core.evaluate import Evaluation
from core.firing import FiringSheet
from core.melt.sheet import MeltSheet
from core.oxides import OXIDES
from core.reading.kinds import Soundness
from core.reading.sheet import Reading
from core.reading.words import (
    Line,
    Tone,
    margin_words,
    soundness,
    subjects,
    verdict,
)
from core.recipe import Section
from core.regions import Hint, practice_rules

_WIDE: Final = 100
"""Columns of the text of a reading."""


def shelf_words(sheet: FiringSheet | None) -> str:
    """Say which shelf a recipe is fired on and which cone it saw; empty where nobody said."""
    if sheet is None or not (sheet.shelf or sheet.local):
        return ""
    place = f"Shelf: {sheet.shelf}" if sheet.shelf else "Shelf not said"
    if sheet.local is None or sheet.local_log is None:
        return f"{place}, no witness cone there yet: the reading uses the schedule"
    when = f" on {sheet.local_log.begun}" if sheet.local_log.begun else ""
    return (
        f"{place}, where the witness cones{when} saw {sheet.local.text}"
        f" ± {sheet.local.uncertainty:.1f}: the reading uses that"
        f" ({sheet.felt.peak_c - sheet.curve.peak_c:+.0f} °C)"
    )


def melt_lines(sheet: MeltSheet) -> list[tuple[str, str]]:
    """Say the figures of a melt as (what, value with error) lines for people."""
    lines = []
    if sheet.log10_viscosity is not None and sheet.peak_c is not None:
        eta = sheet.log10_viscosity
        lines.append(
            (
                f"viscosity at {sheet.peak_c:.0f} °C",
                f"10^{eta.value:.1f} Pa·s, exponent ± {eta.error:.1f}",
            )
        )
    for what, figure, places, unit in (
        ("liquidus", sheet.liquidus_c, 0, "°C"),
        ("glass transition", sheet.glass_transition_c, 0, "°C"),
        ("expansion", sheet.expansion, 2, "1e-6/K"),
        ("Young's modulus", sheet.youngs_modulus_gpa, 0, "GPa"),
        ("surface tension", sheet.surface_tension_n_m, 2, "N/m"),
    ):
        if figure is not None:
            text = f"{figure.value:.{places}f} ± {figure.error:.{places}f} {unit}"
            lines.append((what, text))
    return lines


def domain_words(sheet: MeltSheet) -> str:
    """Say whether the models were fitted on melts like this one; empty if they were."""
    if sheet.inside_domain:
        return ""
    text = "Outside the melts that the models were fitted on: a guess, not a prediction"
    if sheet.unmodelled > 0:
        text += f"; {100 * sheet.unmodelled:.1f} mol% of its oxides have no melt data"
    return text + "."


def cautions(evaluation: Evaluation) -> list[str]:
    """List the cautions for what is in the recipe, then those that always hold."""
    lines = [
        f"{', '.join(names)}: {text}" for text, names in cautions_for(evaluation.materials.values())
    ]
    return lines + [caution.says for caution in general_cautions()]


def report_text(evaluation: Evaluation, variant: str | None = None) -> str:
    """Return the reading as lines of text for a terminal."""
    recipe, formula = evaluation.recipe, evaluation.formula
    lines = [recipe.name + (f", variant {variant}" if variant else "")]
    firing, body = evaluation.firing, evaluation.body
    if firing is not None:
        cone = f"cone {firing.cone}" if firing.cone else "cone not said"
        peak = f", peak {firing.peak_c:.0f} °C" if firing.peak_c is not None else ""
        lines.append(f"Firing: {firing.name or firing.id} ({cone}{peak})")
    lines += [line for line in (shelf_words(evaluation.heat),) if line]
    if body is not None:
        lines.append(f"Body: {body.name}")
    lines.append("")
    lines += _rows_text(evaluation)
    lines.append("")
    lines += [f"Note: {state}." for state in formula.states]
    lines += [f"Missing from the tables: {name}" for name in evaluation.missing]
    if formula.unity is not None:
        lines += _oxides_text(evaluation)
    if evaluation.melt is not None:
        lines += [f"{what:28}{value}" for what, value in melt_lines(evaluation.melt)]
        surface = evaluation.reading.surface
        # The reading says so too, but not how much of the glaze has no data.
        if surface is None or not surface.outside or evaluation.melt.unmodelled > 0:
            lines += [line for line in (domain_words(evaluation.melt),) if line]
    if formula.loss_on_ignition_percent is not None:
        lines.append(f"Loss on ignition {formula.loss_on_ignition_percent:.2f} %")
    lines += [hint.says for hint in _unsaid(evaluation)]
    lines += [f"Look: {warning}" for warning in evaluation.warnings]
    for moved in evaluation.moved:
        lines.append(f"The table's analysis of {moved.name} is no longer the recipe's.")
    if evaluation.table_formula is not None and evaluation.table_formula.point is not None:
        silica, alumina = evaluation.table_formula.point
        lines.append(f"With today's table: SiO2 {silica:.3f}, Al2O3 {alumina:.3f}")
    lines += ["", *_reading_text(evaluation)]
    lines += ["", "Cautions", *(f"  {caution}" for caution in cautions(evaluation))]
    return "\n".join(lines)


def no_reading_words(evaluation: Evaluation) -> str:
    """Say why there is no surface to read; empty where there is one."""
    if evaluation.reading.surface is not None:
        return ""
    if evaluation.formula.unity is None:
        return "Without flux there is no surface to read."
    if evaluation.heat is not None:
        return "Without silica there is no surface to read."
    if evaluation.firing is not None:
        return "The firing has no schedule: give it segments to read the surface."
    if evaluation.recipe.firing:
        return "The firing is not in the tables: choose another to read the surface."
    return "No firing is chosen: choose one to read the surface."


def fit_words(reading: Reading) -> str:
    """Say the fit to the body in one sentence, with stress and error, or what it lacks."""
    return next((line.text for line in _lines_of(reading, "Fit to the body")), "")


def soundness_words(reading: Reading) -> str:
    """Say the soundness so that it can stand in a row of other words."""
    word = soundness(reading).text
    return f"soundness {word}" if word == Soundness.UNKNOWN.value else word


def _lines_of(reading: Reading, title: str) -> tuple[Line, ...]:
    return next((s.lines for s in subjects(reading) if s.title == title), ())


def _reading_text(evaluation: Evaluation) -> list[str]:
    """Say the verdict, then each subject with its figures indented below its lines."""
    reading = evaluation.reading
    if reading.surface is None:
        lines = [f"Reading: {no_reading_words(evaluation)}"]
    else:
        lines = [
            f"Reading: {verdict(reading)}, {soundness_words(reading)},"
            f" {margin_words(reading.surface)}",
            *_wrapped(f"Computed for {reading.surface.basis.words()}. Fire a tile.", "", 2),
        ]
    for subject in subjects(reading):
        lines += ["", subject.title]
        for line in subject.lines:
            sign = "" if line.tone is Tone.PLAIN else str(line.tone)
            lines += _wrapped(line.text, f"  {sign:6}", 8)
            lines += _wrapped(line.more, 10 * " ", 10)
    return lines


def _wrapped(text: str, first: str, indent: int) -> list[str]:
    return textwrap.wrap(
        text, _WIDE, initial_indent=first, subsequent_indent=indent * " ", break_on_hyphens=False
    )


def _unsaid(evaluation: Evaluation) -> list[Hint]:
    """Return the rules of thumb that the reading does not say by itself."""
    reading = evaluation.reading
    said = set()
    if reading.workability is not None:
        said |= {"clay-share", "bentonite-share"}
    # Its score counts how far each flux saturates the melt.
    of_fluxes = reading.surface is not None
    return [
        hint
        for hint in evaluation.hints
        if hint.id not in said and not (of_fluxes and hint.kind == "flux_share")
    ]


def _by_ratio(evaluation: Evaluation) -> str:
    """Say what the rule of the trade makes of the ratio, which knows no flux and no firing."""
    if evaluation.zone is None or evaluation.point is None:
        return ""
    return f"  (trade rule by ratio alone: {practice_rules().zone_at(*evaluation.point, '')})"


def _rows_text(evaluation: Evaluation) -> list[str]:
    recipe = evaluation.recipe
    lines = [f"{'':32}{'parts':>10}{'percent':>10}"]
    for row, percent in zip(recipe.base, evaluation.base_percent, strict=True):
        name = evaluation.material_name(row.material)
        lines.append(f"{name:32.32}{row.amount:10.2f}{percent:10.2f}")
    if recipe.rows(Section.ADDITIONS):
        lines.append("additions, percent of the base")
    for row in recipe.additions:
        lines.append(f"{evaluation.material_name(row.material):32.32}{row.amount:20.2f}")
    return lines


def _oxides_text(evaluation: Evaluation) -> list[str]:
    formula, cloud = evaluation.formula, evaluation.cloud
    assert formula.unity is not None
    assert formula.weight_percent is not None
    lines = [f"{'oxide':8}{'unity':>10}{'error':>9}{'wt%':>9}"]
    for i, oxide in enumerate(OXIDES):
        if formula.unity[i] > 0:
            error = f"±{cloud.standard_error[i]:.3f}" if cloud else ""
            lines.append(
                f"{oxide:8}{formula.unity[i]:10.3f}{error:>9}{formula.weight_percent[i]:9.2f}"
            )
    lines.append(f"({formula.convention})")
    if formula.silica_alumina is not None:
        lines.append(f"SiO2:Al2O3 {formula.silica_alumina:.2f}{_by_ratio(evaluation)}")
    lines.append(f"R2O {formula.r2o_share:.3f}, MgO {formula.magnesia_share:.3f} of the fluxes")
    return lines
