"""Which points of the map some mixture of the rows comes to.

The point (SiO2, Al2O3) of a mixture is a quotient of sums over the rows: a
projective image of the amounts. It carries convex sets to convex sets, so what
is reachable is the convex hull of the points of the extreme mixtures; a row
without flux lies at infinity, in the direction of what it brings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float]

_FLAT: Final = 1e-9


@dataclass(frozen=True, eq=False, slots=True)
class Region:
    """The convex hull of extreme mixtures on the map."""

    corners: Floats
    """(SiO2, Al2O3, fluxes) of each extreme mixture up to a factor, shape (k, 3)."""
    rows: tuple[int, ...]
    """Which row each of them is rich in; -1 for the locked rows by themselves."""
    edges: Floats
    """Inward normals (a, b, c), ``a x + b y + c >= 0`` inside, shape (edges, 3)."""
    flat: bool
    """Whether the region is a line or a point, so that a cursor hardly ever meets it."""

    def polygon(self, box: tuple[float, float, float, float]) -> Floats:
        """Outline within a box, to be drawn.

        Parameters
        ----------
        box : (least SiO2, least Al2O3, most SiO2, most Al2O3)

        Returns
        -------
        ndarray, shape (corners, 2)
            Without repeating the first; empty where the box shows none of it.
        """
        left, low, right, top = box
        corners = np.array([[left, low], [right, low], [right, top], [left, top]])
        for normal in self.edges:
            corners = _clip(corners, normal)
        return corners

    def contains(self, point: Point, slack: float = 1e-9) -> bool:
        """Tell whether a mixture comes to the point."""
        place = np.array([*point, 1.0])
        return all(float(normal @ place) >= -slack for normal in self.edges)

    def share_of_way(self, start: Point, end: Point) -> tuple[float, Floats | None]:
        """How far one can go from a reachable start straight to an end.

        Returns
        -------
        (share from 0 to 1, normal of the edge that stops it or None)
        """
        here = self.edges @ np.array([*start, 1.0])
        there = self.edges @ np.array([*end, 1.0])
        out = np.flatnonzero(there < -_FLAT)
        if not len(out):
            return 1.0, None
        reach = np.maximum(here[out], 0.0) / (np.maximum(here[out], 0.0) - there[out])
        first = int(np.argmin(reach))
        return float(reach[first]), self.edges[out[first]]

    def nearest_on_line(self, start: Point, end: Point) -> Point:
        """Nearest point to `end` where the region is a line through `start`."""
        points = self.corners
        place = np.array([*start, 1.0])
        ways = points[:, :2] * place[2] - points[:, 2:] * place[:2]
        longest = ways[int(np.argmax(np.linalg.norm(ways, axis=1)))]
        length = float(np.linalg.norm(longest))
        if length < _FLAT:
            return start
        along = longest / length
        with np.errstate(divide="ignore", invalid="ignore"):
            # A row without flux is infinitely far along the line.
            far = np.where(
                points[:, 2] > _FLAT,
                (ways @ along) / np.where(points[:, 2] > _FLAT, points[:, 2], 1.0),
                np.sign(ways @ along) * 1e9,
            )
        step = float(np.clip((np.array(end) - np.array(start)) @ along, far.min(), far.max()))
        return start[0] + step * float(along[0]), start[1] + step * float(along[1])


def _directions(corners: Floats) -> Floats:
    lengths = np.linalg.norm(corners, axis=1, keepdims=True)
    return np.asarray(corners / np.maximum(lengths, 1e-300))


def _normals(unit: Floats) -> Floats:
    """Inward normals (a, b, c) of the edges, ``a x + b y + c >= 0`` inside, shape (edges, 3)."""
    one, other = np.triu_indices(len(unit), 1)
    normals = np.cross(unit[one], unit[other])
    lengths = np.linalg.norm(normals, axis=1)
    normals = normals[lengths > _FLAT] / lengths[lengths > _FLAT, None]
    sides = normals @ unit.T
    inward = sides.min(axis=1, initial=np.inf) >= -_FLAT
    outward = sides.max(axis=1, initial=-np.inf) <= _FLAT
    edges = np.concatenate([normals[inward], -normals[outward]])
    # The edge at infinity bounds every mixture and is none of the map.
    return np.asarray(edges[np.hypot(edges[:, 0], edges[:, 1]) > _FLAT])


def region_of(
    values: Floats, locked: Floats, free: NDArray[np.bool_], room: float, alone: bool = False
) -> Region:
    """Return what is reachable.

    Parameters
    ----------
    values : ndarray, shape (n, 3)
        SiO2, Al2O3 and fluxes [mol] of one part of each row.
    locked : ndarray, shape (n,)
        Parts of the locked rows, zero for the others.
    free : ndarray of bool, shape (n,)
    room : float
        Parts that the free rows share.
    alone : bool
        Whether the free rows may also all be nought.
    """
    base = locked @ values
    corners = [base + room * values[i] for i in np.flatnonzero(free)]
    rows = [int(i) for i in np.flatnonzero(free)]
    if alone or not corners:
        corners, rows = [*corners, base], [*rows, -1]
    table = np.array(corners)
    kept = np.linalg.norm(table, axis=1) > 1e-15
    unit = _directions(table[kept])
    return Region(
        corners=table[kept],
        rows=tuple(r for r, k in zip(rows, kept, strict=True) if k),
        edges=_normals(unit),
        flat=bool(np.linalg.matrix_rank(unit, tol=_FLAT) < 3),
    )


def _clip(corners: Floats, normal: Floats) -> Floats:
    """Cut a convex polygon by a half plane."""
    if not len(corners):
        return corners
    side = corners @ normal[:2] + normal[2]
    kept: list[Floats] = []
    for i in range(len(corners)):
        j = (i + 1) % len(corners)
        if side[i] >= 0:
            kept.append(corners[i])
        if side[i] * side[j] < 0:
            share = side[i] / (side[i] - side[j])
            kept.append(corners[i] + share * (corners[j] - corners[i]))
    return np.array(kept).reshape(-1, 2)
