"""Thermal expansion of the glass: the fitted figure, its shares, and published additive sets."""

from __future__ import annotations

from functools import cache
from typing import Final

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.errors import InputError
from core.melt.composition import MODELLED, Composition, composition_of
from core.melt.errors import by_family
from core.melt.factors import Factors, FactorSet, lay_out
from core.melt.network import Ensemble, load
from core.oxides import R2O, RO
from core.schema import Number, convert, expect_kind
from core.tables import data_folder, read_records, shipped

Floats = NDArray[np.float64]

FITTED: Final = "fitted"
LINEAR: Final = "linear"


class _Variable(msgspec.Struct, frozen=True):
    """A factor that changes with the glass: value + slope × (quantity - begin)."""

    of: str
    begin: Number
    end: Number
    value: Number
    slope: Number


class ExpansionSet(FactorSet, frozen=True, kw_only=True):
    """A published additive set of the expansion."""

    scale: Number
    """Turns the sum into the linear coefficient [1e-6/K]."""
    range: str
    """Temperatures the set speaks of."""
    validity: str
    variable: dict[str, _Variable] = msgspec.field(default_factory=dict)


class _Share(msgspec.Struct):
    id: str
    coefficient: Number


class _SetError(msgspec.Struct):
    id: str
    magnesia_rich: Number
    boron_bearing: Number
    alkali_lime: Number
    other: Number


class _Card(msgspec.Struct):
    expansion_linear: list[_Share]
    errors: list[_SetError]


@cache
def published_sets() -> dict[str, ExpansionSet]:
    """Return the published sets by id, in the order of their table; read once."""
    document = shipped("expansion_factors.yaml")
    return {
        row.id: row for _, row in read_records(document, "expansion-factors", ExpansionSet, True)
    }


def expansion_sets() -> tuple[str, ...]:
    """Names of the ways to an expansion: the fitted ones first, then the published.

    Examples
    --------
    >>> expansion_sets()[:3]
    ('fitted', 'linear', 'appen')
    """
    return (FITTED, LINEAR, *published_sets())


@cache
def _card() -> _Card:
    document = shipped("melt/card-expansion.yaml")
    expect_kind(document, "melt-card-expansion")
    return convert(document, _Card)


@cache
def _coefficients() -> Floats:
    rows = {row.id: float(row.coefficient) for row in _card().expansion_linear}
    missing = [oxide for oxide in MODELLED if oxide not in rows]
    if missing:
        raise InputError(
            f"the coefficient of {missing[0]} is missing",
            "run python -m core.melt.fit_expansion",
            "card-expansion.yaml",
        )
    return np.array([rows[oxide] for oxide in MODELLED])


@cache
def _ensemble() -> Ensemble:
    return load(data_folder() / "melt" / "expansion.npz")


def fitted_expansion(
    fractions: ArrayLike | Composition, ensemble: Ensemble | None = None
) -> Floats:
    """Linear thermal expansion of glasses below their transition, by the fit.

    The linear sum, and on it the mean of a few small networks that see what
    a sum cannot, such as boron changing its place. The source of the data
    gives no temperature range; most handbook rows are means from room
    temperature to 300 or 400 °C.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
        Mole fractions in the order of `core.melt.composition.MODELLED`.
    ensemble : Ensemble, optional
        Other networks than the shipped ones.

    Returns
    -------
    ndarray, shape (...)
        [1e-6/K]; one standard error is `expansion_error`.
    """
    melt = composition_of(fractions)
    networks = ensemble if ensemble is not None else _ensemble()
    return np.asarray(melt.fractions @ _coefficients() + networks.mean(melt.features)[..., 0])


def expansion_shares(fractions: ArrayLike) -> Floats:
    """What each oxide brings to the linear sum.

    Parameters
    ----------
    fractions : array_like, shape (..., 18)
        Mole fractions in the order of `core.melt.composition.MODELLED`, sum 1.

    Returns
    -------
    ndarray, shape (..., 18)
        [1e-6/K]; they sum to `linear_expansion`, which differs a little from
        `fitted_expansion`.
    """
    return np.asarray(np.asarray(fractions, float) * _coefficients())


def linear_expansion(fractions: ArrayLike) -> Floats:
    """Linear thermal expansion of glasses by the fitted sum alone [1e-6/K].

    Parameters
    ----------
    fractions : array_like, shape (..., 18)
        Mole fractions in the order of `core.melt.composition.MODELLED`, sum 1.

    Returns
    -------
    ndarray, shape (...)
    """
    return np.asarray(np.asarray(fractions, float) @ _coefficients())


def additive_expansion(
    fractions: ArrayLike, name: str, oxides: tuple[str, ...] = MODELLED
) -> Floats:
    """Linear thermal expansion of glasses by a published additive set.

    Parameters
    ----------
    fractions : array_like, shape (..., k)
        Mole fractions in the order of `oxides`. Oxides that the set does not
        know are left out and the rest brought to 100 %; see `left_out`.
    name : str
        One of `published_sets`, whose entries name source and range.
    oxides : tuple of str

    Returns
    -------
    ndarray, shape (...)
        [1e-6/K]; 0 where the set knows none of the oxides.

    Raises
    ------
    ValueError
        If there is no such set or the oxide axis has another length.
    """
    table = _published(name)
    factors = _factors(name, oxides)
    amounts = factors.percent(fractions)
    total = amounts @ factors.values
    for oxide, rule in table.variable.items():
        if oxide in oxides:
            quantity = _QUANTITIES[rule.of](amounts, oxides)
            held = np.clip(quantity, float(rule.begin), float(rule.end)) - float(rule.begin)
            factor = float(rule.value) + float(rule.slope) * held
            total = total + amounts[..., oxides.index(oxide)] * factor
    return np.asarray(float(table.scale) * total)


def left_out(fractions: ArrayLike, name: str, oxides: tuple[str, ...] = MODELLED) -> Floats:
    """Mole fraction of the oxides that a published set has no factor for, shape (...)."""
    _published(name)
    return _factors(name, oxides).left_out(fractions)


def expansion_error(
    fractions: ArrayLike | Composition, name: str = FITTED, far: ArrayLike = 0.0
) -> Floats:
    """One standard error of a set.

    Root mean square residual over publications that the fit never saw, by
    family (`core.melt.composition.families`); a glass of two families takes
    the larger. Outside the domain it grows in proportion to the distance.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
        Mole fractions in the order of `core.melt.composition.MODELLED`.
    name : str
        One of `expansion_sets`.
    far : array_like, shape (...)
        `core.melt.domain.distance`; 1 is the edge of the domain.

    Returns
    -------
    ndarray, shape (...)
        [1e-6/K]

    Raises
    ------
    ValueError
        If there is no such set.
    """
    sigma = _errors().get(name)
    if sigma is None:
        raise _no_such_set(name)
    found = by_family(composition_of(fractions).families, sigma)
    return np.asarray(found * np.maximum(np.asarray(far, float), 1.0))


@cache
def _errors() -> dict[str, tuple[float, ...]]:
    """By set, errors in the order of `core.melt.card.FAMILIES`."""
    return {
        row.id: (
            float(row.magnesia_rich),
            float(row.boron_bearing),
            float(row.alkali_lime),
            float(row.other),
        )
        for row in _card().errors
    }


def _published(name: str) -> ExpansionSet:
    sets = published_sets()
    if name not in sets:
        raise _no_such_set(name)
    return sets[name]


def _no_such_set(name: str) -> ValueError:
    return ValueError(f"there is no expansion set {name!r}; take one of {list(expansion_sets())}")


@cache
def _factors(name: str, oxides: tuple[str, ...]) -> Factors:
    table = published_sets()[name]
    return lay_out(table, oxides, table.variable)


def _total(amounts: Floats, oxides: tuple[str, ...], *names: str) -> Floats:
    return np.asarray(amounts[..., [oxides.index(n) for n in names if n in oxides]].sum(axis=-1))


def _free_flux_per_boron(amounts: Floats, oxides: tuple[str, ...]) -> Floats:
    free = _total(amounts, oxides, *R2O, *RO) - _total(amounts, oxides, "Al2O3")
    # Without boron the factor meets no amount: any quantity will do.
    return np.asarray(free / np.maximum(_total(amounts, oxides, "B2O3"), 1e-12))


_QUANTITIES: Final = {
    "silica": lambda amounts, oxides: _total(amounts, oxides, "SiO2"),
    "alkalis": lambda amounts, oxides: _total(amounts, oxides, *R2O),
    "free_flux_per_boron": _free_flux_per_boron,
}
