"""Areas of the silica-alumina map by the rules of practice.

The rules know the silica-alumina ratio and, roughly, how far out a glaze
still melts at a cone. They do not know the fluxes of the recipe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.formula import Formula
from core.schema import Number, convert, expect_kind
from core.tables import shipped

Floats = NDArray[np.float64]


class Zone(StrEnum):
    """What a fired surface is expected to be."""

    GLOSSY = "glossy"
    SATIN = "satin"
    MATTE = "matte"
    UNDERFIRED = "underfired"


class _RatioZone(msgspec.Struct):
    zone: str
    source: str
    confidence: str
    below: Number | None = None
    to: Number | None = None


class _MeltingLimit(msgspec.Struct):
    rule: str
    alumina_weight: Number
    by_cone: dict[str, Number]
    source: str
    confidence: str


class Hint(msgspec.Struct, frozen=True):
    """A rule of thumb about one share of the recipe."""

    id: str
    kind: str
    """flux_share, material_share or group_share."""
    of: str
    above: Number
    says: str
    source: str
    confidence: str


class _File(msgspec.Struct):
    ratio_zones: list[_RatioZone]
    melting_limit: _MeltingLimit
    hints: list[Hint]


@dataclass(frozen=True)
class PracticeRules:
    """Zones by ratio and the practice limit of melting, for every cone that has one."""

    ratios: tuple[tuple[float, Zone], ...]
    """(ratio at which the zone begins, zone), ascending; the first begins at zero."""
    alumina_weight: float
    limits: Mapping[str, float]
    hints: tuple[Hint, ...]
    source: str

    def limit(self, cone: str) -> float | None:
        """Largest SiO2 + weight × Al2O3 that still melts at a cone, or None if no rule."""
        return self.limits.get(cone)

    def zone_at(self, silica: float, alumina: float, cone: str) -> Zone:
        """Return the zone of one point of the map (unity formula)."""
        return list(Zone)[int(self.zones(silica, alumina, cone))]

    def zones(self, silica: ArrayLike, alumina: ArrayLike, cone: str) -> NDArray[np.intp]:
        """Return the zones of points as places in `Zone`, with the shape of the input."""
        x, y = np.broadcast_arrays(np.asarray(silica, float), np.asarray(alumina, float))
        order = list(Zone)
        edges = np.array([edge for edge, _ in self.ratios[1:]])
        codes = np.array([order.index(zone) for _, zone in self.ratios])
        # Beyond an edge of the ratio when x > edge * y; no division by zero alumina.
        passed = (x[..., None] >= edges * y[..., None]).sum(axis=-1)
        found = codes[passed]
        limit = self.limit(cone)
        if limit is not None:
            stiff = x + self.alumina_weight * y > limit
            found = np.where(stiff, order.index(Zone.UNDERFIRED), found)
        return np.asarray(found, dtype=np.intp)

    def polygons(self, cone: str, silica: float, alumina: float) -> list[tuple[Zone, Floats]]:
        """Convex areas that cover the map from the origin to (silica, alumina).

        Returns
        -------
        list of (zone, ndarray of shape (corners, 2))
            Corners are (SiO2, Al2O3).
        """
        view = np.array([[0.0, 0.0], [silica, 0.0], [silica, alumina], [0.0, alumina]])
        limit = self.limit(cone)
        weight = self.alumina_weight
        areas: list[tuple[Zone, Floats]] = []
        if limit is not None:
            areas.append((Zone.UNDERFIRED, _clipped(view, -1.0, -weight, limit)))
            view = _clipped(view, 1.0, weight, -limit)
        edges = [edge for edge, _ in self.ratios]
        for (begin, zone), end in zip(self.ratios, [*edges[1:], None], strict=True):
            area = _clipped(view, -1.0, begin, 0.0)
            if end is not None:
                area = _clipped(area, 1.0, -end, 0.0)
            areas.append((zone, area))
        return [(zone, area) for zone, area in areas if len(area) >= 3]

    def spoken_hints(
        self, formula: Formula, material_shares: Mapping[str, float], groups: Mapping[str, float]
    ) -> list[Hint]:
        """Return the hints that apply to a recipe.

        Parameters
        ----------
        formula : Formula
        material_shares, groups : mapping
            Percent of the base by material id and by group of materials.
        """
        amounts = {"material_share": material_shares, "group_share": groups}
        found = []
        for hint in self.hints:
            if hint.kind == "flux_share":
                value = formula.share(hint.of)
            else:
                value = amounts[hint.kind].get(hint.of, 0.0)
            if value > hint.above:
                found.append(hint)
        return found


@cache
def practice_rules() -> PracticeRules:
    """Return the shipped rules of practice; read once."""
    document = shipped("surface_rules.yaml")
    expect_kind(document, "surface-rules")
    file = convert(document, _File)
    ratios, begin = [], 0.0
    for row in file.ratio_zones:
        ratios.append((begin, Zone(row.zone)))
        end = row.below if row.below is not None else row.to
        if end is not None:
            begin = float(end)
    return PracticeRules(
        tuple(ratios),
        float(file.melting_limit.alumina_weight),
        {cone: float(limit) for cone, limit in file.melting_limit.by_cone.items()},
        tuple(file.hints),
        file.ratio_zones[0].source,
    )


def _clipped(polygon: Floats, a: float, b: float, c: float) -> Floats:
    """Keep the part of a convex polygon where a x + b y + c <= 0."""
    if len(polygon) == 0:
        return polygon
    side = polygon @ np.array([a, b]) + c
    kept: list[Floats] = []
    for i in range(len(polygon)):
        j = (i + 1) % len(polygon)
        if side[i] <= 0:
            kept.append(polygon[i])
        if (side[i] < 0 < side[j]) or (side[j] < 0 < side[i]):
            share = side[i] / (side[i] - side[j])
            kept.append(polygon[i] + share * (polygon[j] - polygon[i]))
    return np.array(kept).reshape(-1, 2)
