"""What can be said about a recipe, as one object for scripts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, Final

import msgspec

from core.evaluate import Evaluation
from core.firing import FiringSheet
from core.melt.sheet import MeltSheet
from core.oxides import OXIDES
from core.reading.melting import melting_rules
from core.reading.sheet import Reading
from core.reading.surface import Reason, SurfaceReading, score_rules
from core.reading.words import (
    finite,
    reason_words,
    soundness,
    verdict,
)
from core.telling import cautions

# Keys whose models are not built yet; null, never made up.
_MELT = ("crystal_um",)
_SURFACE: Final = (
    *("surface", "probabilities", "melt_margin_percent", "melt_margin_error_percent"),
    *("melt_margin_clamped", "melt_index", "score", "silica", "alumina", "basis", "outside"),
)
_KIND: Final = ("kind", "kind_id", "says", "minerals", "durability", "notes")


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
    firing, cloud = evaluation.firing, evaluation.cloud
    reading = evaluation.reading
    whole = {
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
        "reading": _reading(reading),
        "melt": _melt(evaluation.melt, reading),
        "healing": reading.healing,
        "running": reading.running,
        "fit": {
            **reading.fit.as_json(),
            "chance_of_tension": reading.fit.chance_of_tension,
            "glaze_expansion_set": evaluation.melt.expansion_set if evaluation.melt else None,
            "source": reading.fit.source or None,
            "confidence": reading.fit.confidence or None,
        },
        "marking": _marking(reading),
        "release": reading.release,
        "workability": _workability(reading),
        "moved_analyses": [moved.id for moved in evaluation.moved],
        "warnings": list(evaluation.warnings),
        "cautions": cautions(evaluation),
    }
    return {key: _plain(value) for key, value in whole.items()}


def _plain(value: Any) -> Any:
    """Return a value or a record as JSON knows it; what is not finite is null."""
    if isinstance(value, float):
        return finite(float(value))
    if isinstance(value, str):
        return str(value)
    if value is None or isinstance(value, int):
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, msgspec.Struct):
        return _plain(msgspec.structs.asdict(value))
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}


def _reading(reading: Reading) -> dict[str, Any]:
    """Return the surface with every figure that its probabilities follow from."""
    surface, kind = reading.surface, reading.kind
    values: dict[str, Any] = {**dict.fromkeys(_SURFACE), **dict.fromkeys(_KIND)}
    if surface is not None:
        values |= {
            "surface": str(surface.zone),
            "probabilities": dict(surface.probabilities),
            "melt_margin_percent": surface.melt_margin_percent,
            "melt_margin_error_percent": surface.melt_margin_error_percent,
            "melt_margin_clamped": surface.melt_margin_clamped,
            "melt_index": surface.melt_index,
            "score": surface.score,
            "silica": surface.silica,
            "alumina": surface.alumina,
            "basis": surface.basis.words(),
            "outside": surface.outside,
        }
    if kind is not None:
        values |= {
            "kind": kind.kind.name,
            "kind_id": kind.kind.id,
            "says": kind.kind.says,
            "minerals": kind.kind.minerals,
            "durability": kind.kind.durability or None,
            "notes": kind.notes,
        }
    edges, limit = score_rules().edges, melting_rules()
    return {
        **values,
        "verdict": verdict(reading) if surface is not None else None,
        "soundness": soundness(reading).text,
        "edges": {"glossy_satin": edges.gloss, "satin_matte": edges.matte},
        "melt_index_limit": limit.limit,
        "melt_index_limit_error": limit.limit_error,
        "crystal_window": _window(surface),
        "reasons": [_reason(reason) for reason in surface.reasons] if surface else [],
    }


def _window(surface: SurfaceReading | None) -> dict[str, Any]:
    return {
        "from_c": surface.window_high_c if surface else None,
        "to_c": surface.window_low_c if surface else None,
        "hours": surface.window_h if surface else None,
    }


def _reason(reason: Reason) -> dict[str, Any]:
    """Return a reason with the rule that turns its value into its contribution."""
    term = score_rules().terms.get(reason.id)
    rule = None
    if term is not None:
        rule = msgspec.structs.asdict(term)
        for said in ("id", "says", "source", "confidence"):
            del rule[said]
    return {
        "id": reason.id,
        "text": reason.text,
        "value": reason.value,
        "error": reason.error,
        "unit": reason.unit or None,
        "contribution": reason.contribution,
        "toward": reason.toward,
        "sentence": reason_words(reason),
        "rule": rule,
        "source": reason.source,
        "confidence": reason.confidence,
    }


def _marking(reading: Reading) -> dict[str, Any] | None:
    if reading.marking is None:
        return None
    values: dict[str, Any] = _plain(reading.marking)
    return values | {"terms": [{"what": what, "part": p} for what, p in reading.marking.terms]}


def _workability(reading: Reading) -> dict[str, Any] | None:
    if reading.workability is None:
        return None
    values: dict[str, Any] = _plain(reading.workability)
    return values | {"gases_l": dict(reading.workability.gases_l)}


def _heat(sheet: FiringSheet | None) -> dict[str, Any]:
    if sheet is None:
        return dict.fromkeys(("shelf", "cone_reached", "local_cone", "felt_peak_c"))
    return {
        "shelf": sheet.shelf or None,
        "cone_reached": sheet.cone.text,
        "local_cone": sheet.local.text if sheet.local else None,
        "felt_peak_c": round(sheet.felt.peak_c, 1),
    }


def _melt(sheet: MeltSheet | None, reading: Reading) -> dict[str, Any]:
    healing = reading.healing
    keys: dict[str, Any] = {
        "healing": healing.number if healing else None,
        "healing_log10_error": healing.log10_error if healing else None,
    }
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


def _by_oxide(values: Any) -> dict[str, float] | None:
    """Return the oxides that are there; a formula that does not exist is None."""
    if values is None:
        return None
    return {oxide: float(value) for oxide, value in zip(OXIDES, values, strict=True) if value > 0}
