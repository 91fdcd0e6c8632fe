"""What solving came to, as one object for scripts and as text for people."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from core.evaluate import material_of
from core.oxides import OXIDES
from core.recipe import Recipe
from core.solve.aim import Aimed, Proposal
from core.solve.goals import Wish
from core.solve.swap import Swapped
from core.studio import Studio

_SHOWN = 5e-4


def aim_report(recipe: Recipe, wish: Wish, aimed: Aimed) -> dict[str, Any]:
    """Return the proposals as plain values, ready for JSON."""
    limits = wish.limits
    return {
        "name": recipe.name,
        "goals": [{"oxide": g.oxide, "low": g.low, "high": _finite(g.high)} for g in wish.goals],
        "others": str(wish.others),
        "limits": {
            "loss_on_ignition_percent": _pair(limits.loi_percent),
            "clay_percent": _pair(limits.clay_percent),
            "price_per_kg": _pair(limits.price_per_kg),
            "expansion_linear": _pair(limits.expansion),
        },
        "reached": aimed.reached,
        "fewest_proved": aimed.fewest_proved,
        "recipes": [_proposal(p) for p in aimed.proposals],
        "shortfalls": [
            {
                "lack": str(s.lack),
                "oxide": s.oxide or None,
                "asked": s.asked,
                "within_reach": s.within_reach,
                "materials_that_would_do": list(s.help),
                "says": s.says,
            }
            for s in aimed.shortfalls
        ],
    }


def _proposal(proposal: Proposal) -> dict[str, Any]:
    return {
        "parts": dict(zip(proposal.materials, proposal.parts, strict=True)),
        "reached": proposal.reached,
        "distance": proposal.distance,
        "off": proposal.off,
        "drift": proposal.drift,
        "unity": _by_oxide(proposal.unity),
        "point": list(proposal.point),
        "loss_on_ignition_percent": proposal.loi_percent,
        "clay_percent": proposal.clay_percent,
        "price_per_kg": proposal.price_per_kg,
        "expansion_linear": proposal.expansion,
    }


def swap_report(recipe: Recipe, swapped: Swapped) -> dict[str, Any]:
    """Return a swap as plain values, ready for JSON."""
    return {
        "name": recipe.name,
        "base": {row.material: row.amount for row in swapped.recipe.base},
        "additions": {row.material: row.amount for row in swapped.recipe.additions},
        "changes": [
            {
                "section": str(c.section),
                "material": c.material,
                "before": c.before,
                "after": c.after,
            }
            for c in swapped.rows
        ],
        "unity_before": _by_oxide(swapped.before),
        "unity_after": _by_oxide(swapped.after),
        "shifts": swapped.shifts,
        "kept": swapped.kept,
        "exact": swapped.exact,
        "point_before": list(swapped.point_before),
        "point_after": list(swapped.point_after),
        "unused": list(swapped.unused),
        "notes": list(swapped.notes),
    }


def aim_text(recipe: Recipe, studio: Studio, wish: Wish, aimed: Aimed) -> str:
    """Return the proposals as lines of text for a terminal."""
    lines = [f"{recipe.name}: aiming at {asked(wish)}"]
    for shortfall in aimed.shortfalls:
        lines.append(shortfall.says + ".")
    if not aimed.proposals:
        return "\n".join(lines)
    if not aimed.reached:
        lines.append("The nearest that these materials come:")
    for number, proposal in enumerate(aimed.proposals, start=1):
        lines += ["", f"{number}. {_verdict(proposal)}"]
        for material_id, parts in zip(proposal.materials, proposal.parts, strict=True):
            lines.append(f"   {_name(recipe, studio, material_id):32.32}{parts:10.2f}")
        silica, alumina = proposal.point
        lines.append(f"   SiO2 {silica:.3f}, Al2O3 {alumina:.3f}, {_loss(proposal)}")
        moved = _moved(proposal.off)
        if moved:
            lines.append(f"   off by {moved}")
        drifted = _moved(proposal.drift)
        if drifted:
            lines.append(f"   moved from the recipe: {drifted}")
    if not aimed.fewest_proved:
        lines += ["", "There was no time to make sure that no fewer materials would do."]
    return "\n".join(lines)


def swap_text(recipe: Recipe, studio: Studio, swapped: Swapped) -> str:
    """Return a swap as lines of text for a terminal."""
    lines = [recipe.name, f"{'':32}{'before':>10}{'after':>10}"]
    for change in swapped.rows:
        before = f"{change.before:.2f}" if change.before is not None else "-"
        after = f"{change.after:.2f}" if change.after is not None else "-"
        lines.append(f"{_name(recipe, studio, change.material):32.32}{before:>10}{after:>10}")
    (s0, a0), (s1, a1) = swapped.point_before, swapped.point_after
    lines.append(f"SiO2 {s0:.3f} to {s1:.3f}, Al2O3 {a0:.3f} to {a1:.3f}")
    if swapped.exact:
        lines.append("The formula stays as it was.")
    else:
        moved = _moved(swapped.shifts)
        lines.append(f"Shifts: {moved}" if moved else "No oxide shifts by 0.001 or more.")
    if not swapped.kept:
        lines.append("Not every oxide could be kept within 0.005.")
    return "\n".join([*lines, *(f"{note}." for note in swapped.notes)])


def asked(wish: Wish) -> str:
    """Say a wish in one line."""
    goals = ", ".join(str(goal) for goal in wish.goals) or "its own formula"
    rest = {"free": "", "near": ", the rest as it is", "none": ", nothing else"}
    return goals + rest[str(wish.others)]


def _verdict(proposal: Proposal) -> str:
    if proposal.reached:
        return f"{len(proposal.parts)} materials, on target"
    return f"{len(proposal.parts)} materials, {proposal.distance:.3f} off in all"


def _loss(proposal: Proposal) -> str:
    text = f"loss on ignition {proposal.loi_percent:.1f} %, raw clay {proposal.clay_percent:.1f} %"
    if proposal.price_per_kg is not None:
        text += f", {proposal.price_per_kg:.2f} per kg"
    if proposal.expansion is not None:
        text += f", expansion {proposal.expansion:.2f} (linear sum)"
    return text


def _moved(values: dict[str, float]) -> str:
    return ", ".join(
        f"{oxide} {value:+.3f}" for oxide, value in values.items() if abs(value) >= _SHOWN
    )


def _name(recipe: Recipe, studio: Studio, material_id: str) -> str:
    material = material_of(recipe, studio, material_id)
    return material.name if material is not None else material_id


def _by_oxide(values: Iterable[float]) -> dict[str, float]:
    return {o: float(v) for o, v in zip(OXIDES, values, strict=True) if v > 0}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _pair(value: tuple[float, float] | None) -> list[float | None] | None:
    return None if value is None else [_finite(value[0]), _finite(value[1])]
