"""What can be said about a recipe, as one object for scripts and as text for people."""

from __future__ import annotations

from typing import Any

from core.cautions import cautions_for, general_cautions
from core.evaluate import Evaluation
from core.firing import FiringSheet
from core.melt.sheet import MeltSheet
from core.oxides import OXIDES
from core.recipe import Section

# Keys whose models are not built yet; null, never made up.
_READING = (
    "surface",
    "kind",
    "soundness",
    "probabilities",
    "melt_margin_percent",
    "reasons",
)
_MELT = ("healing", "crystal_um")


def report(evaluation: Evaluation, variant: str | None = None) -> dict[str, Any]:
    """Return the reading of a recipe as plain values, ready for JSON.

    Figures that do not exist are None; see ``states`` for the reason.

    Parameters
    ----------
    evaluation : Evaluation
    variant : str, optional
        Name of the variant that was evaluated.
    """
    recipe, formula = evaluation.recipe, evaluation.formula
    firing, body, cloud = evaluation.firing, evaluation.body, evaluation.cloud
    expansion = evaluation.melt.expansion if evaluation.melt else None
    return {
        "name": recipe.name,
        "variant": variant,
        "firing": {
            "id": recipe.firing or None,
            "cone": (firing.cone or None) if firing else None,
            "peak_c": firing.peak_c if firing else None,
        },
        "heat": _heat(evaluation.heat),
        "body": {"id": recipe.body or None},
        "convention": str(formula.convention),
        "incomplete": list(evaluation.missing),
        "unity": _by_oxide(formula.unity),
        "unity_error": _by_oxide(cloud.standard_error if cloud else None),
        "mol_percent": _by_oxide(formula.mole_percent),
        "weight_percent": _by_oxide(formula.weight_percent),
        "loss_on_ignition_percent": formula.loss_on_ignition_percent,
        "ratios": {
            "silica_alumina": formula.silica_alumina,
            "r2o_share": formula.r2o_share,
            "magnesia_share": formula.magnesia_share,
        },
        "states": [str(state) for state in formula.states],
        "practice": {
            "zone": str(evaluation.zone) if evaluation.zone else None,
            "hints": [hint.says for hint in evaluation.hints],
        },
        "reading": dict.fromkeys(_READING),
        "melt": _melt(evaluation.melt),
        "fit": {
            "glaze_expansion": expansion.value if expansion else None,
            "glaze_expansion_error": expansion.error if expansion else None,
            "glaze_expansion_set": evaluation.melt.expansion_set if evaluation.melt else None,
            "body_expansion": body.expansion_1e6_per_k if body else None,
            "stress_mpa": None,
            "verdict": None,
        },
        "moved_analyses": [moved.id for moved in evaluation.moved],
        "warnings": list(evaluation.warnings),
        "cautions": cautions(evaluation),
    }


def _heat(sheet: FiringSheet | None) -> dict[str, Any]:
    if sheet is None:
        return dict.fromkeys(("shelf", "cone_reached", "local_cone", "felt_peak_c"))
    return {
        "shelf": sheet.shelf or None,
        "cone_reached": sheet.cone.text,
        "local_cone": sheet.local.text if sheet.local else None,
        "felt_peak_c": round(sheet.felt.peak_c, 1),
    }


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


def _melt(sheet: MeltSheet | None) -> dict[str, Any]:
    keys: dict[str, Any] = {}
    for value, error, figure in (
        (
            "log10_viscosity_at_peak",
            "log10_viscosity_error",
            sheet.log10_viscosity if sheet else None,
        ),
        ("liquidus_c", "liquidus_error_c", sheet.liquidus_c if sheet else None),
        (
            "surface_tension_n_m",
            "surface_tension_error_n_m",
            sheet.surface_tension_n_m if sheet else None,
        ),
        (
            "glass_transition_c",
            "glass_transition_error_c",
            sheet.glass_transition_c if sheet else None,
        ),
        (
            "youngs_modulus_gpa",
            "youngs_modulus_error_gpa",
            sheet.youngs_modulus_gpa if sheet else None,
        ),
    ):
        keys[value] = figure.value if figure else None
        keys[error] = figure.error if figure else None
    return {
        **keys,
        **dict.fromkeys(_MELT),
        "inside_domain": sheet.inside_domain if sheet else None,
        "unmodelled_mole_fraction": sheet.unmodelled if sheet else None,
    }


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
        outside = domain_words(evaluation.melt)
        lines += [outside] if outside else []
    if formula.loss_on_ignition_percent is not None:
        lines.append(f"Loss on ignition {formula.loss_on_ignition_percent:.2f} %")
    if evaluation.zone is not None:
        lines.append(f"By the rules of practice, which do not know the fluxes: {evaluation.zone}")
    lines += [f"  {hint.says}" for hint in evaluation.hints]
    lines += [f"Look: {warning}" for warning in evaluation.warnings]
    for moved in evaluation.moved:
        lines.append(f"The table's analysis of {moved.name} is no longer the recipe's.")
    if evaluation.table_formula is not None and evaluation.table_formula.point is not None:
        silica, alumina = evaluation.table_formula.point
        lines.append(f"With today's table: SiO2 {silica:.3f}, Al2O3 {alumina:.3f}")
    lines += ["", "Cautions", *(f"  {caution}" for caution in cautions(evaluation))]
    return "\n".join(lines)


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
    ratio = formula.silica_alumina
    if ratio is not None:
        lines.append(f"SiO2:Al2O3 {ratio:.2f}")
    lines.append(f"R2O {formula.r2o_share:.3f}, MgO {formula.magnesia_share:.3f} of the fluxes")
    return lines


def _by_oxide(values: Any) -> dict[str, float] | None:
    """Return the oxides that are there; a formula that does not exist is None."""
    if values is None:
        return None
    return {oxide: float(value) for oxide, value in zip(OXIDES, values, strict=True) if value > 0}
