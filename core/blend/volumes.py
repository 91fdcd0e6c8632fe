"""Wet blending by volume: what each cup takes from each corner, and whether that is honest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from core.blend.plan import Plan
from core.blend.shares import Shares
from core.blend.slop import Slop
from core.errors import InputError
from core.numbers import number_text

USUAL_RESERVE = 0.15
"""What clings to sieve, jug and syringe; common practice, no source."""
SYRINGE_STEP_ML = 0.1
EQUAL_WITHIN = 0.01
"""Slops whose dry weight in a millilitre differs by less count as equal."""
LARGEST_RATIO = 2.0
"""Slops further apart than this are not blended: the thick one does not measure well."""
LARGEST_CUP_ML = 5000.0


@dataclass(frozen=True, slots=True)
class Honesty:
    """Whether equal volumes of the corners hold equal dry weight."""

    equal: bool
    dry_g_per_ml: tuple[float, ...]
    """Dry glaze in a millilitre of each corner [g/ml]."""
    words: str
    water_to_add_ml: tuple[float, ...]
    """For a litre of each corner, to make it as thin as the thinnest; zero for that one."""


@dataclass(frozen=True, slots=True)
class Cup:
    """One cup of the syringe sheet."""

    number: int
    label: str
    volumes_ml: tuple[Decimal, ...]
    """From each corner; they sum to the cup exactly."""
    dry_shares: tuple[float, ...]
    """What those volumes really come to by dry weight."""
    off: float
    """Largest difference of a share from the plan's."""


@dataclass(frozen=True, slots=True)
class SyringeSheet:
    """Cups in the order of work, and how much of each corner they take."""

    cup_ml: Decimal
    cups: tuple[Cup, ...]
    needed_ml: tuple[Decimal, ...]
    """Of each corner, by the cups alone."""
    to_mix_ml: tuple[float, ...]
    """With the reserve."""
    corrected: bool
    """Whether the volumes differ from the shares because the slops do."""


def needed_ml(shares: Sequence[Shares], cup_ml: float) -> tuple[Fraction, ...]:
    """Exact volume that the cups take of each corner, without reserve [ml].

    Examples
    --------
    >>> from core.blend.line import line_shares
    >>> [float(volume) for volume in needed_ml(line_shares(11), 50.0)]
    [275.0, 275.0]
    """
    cup = Fraction(number_text(_checked_cup(cup_ml)))
    return tuple(sum(column, Fraction(0)) * cup for column in zip(*shares, strict=True))


def with_reserve(volume_ml: float, reserve: float = USUAL_RESERVE) -> float:
    """Volume to mix so that `volume_ml` can be drawn, rounded up to 5 ml.

    Examples
    --------
    >>> with_reserve(275.0), with_reserve(350.0, 0.0)
    (320.0, 350.0)
    """
    if not 0 <= reserve <= 1:
        raise InputError(f"a reserve of {100 * reserve:g} % is not planned", "take 0 to 100 %")
    return 5.0 * math.ceil(volume_ml * (1.0 + reserve) / 5.0 - 1e-9)


def honesty(slops: Sequence[Slop], names: Sequence[str]) -> Honesty:
    """Check that the corners hold the same dry weight in the same volume.

    Raises
    ------
    InputError
        If a corner was not measured, contradicts itself, or lies too far from
        the others to be corrected; the message says what to do.
    """
    found = []
    for slop, name in zip(slops, names, strict=True):
        try:
            per_ml = slop.dry_g_per_ml()
        except InputError as fault:
            raise InputError(f"{name}: {fault.what}", fault.mend) from fault
        if per_ml is None:
            raise InputError(
                f"{name}: nothing says how much dry glaze is in a millilitre",
                "measure its volume or specific gravity, or weigh the water",
            )
        found.append(per_ml)
    thin, thick = min(found), max(found)
    water = tuple(1000.0 * (one / thin - 1.0) for one in found)
    if thick > thin * LARGEST_RATIO:
        raise InputError(
            f"{names[found.index(thick)]} holds {thick / thin:.1f} times the dry glaze of "
            f"{names[found.index(thin)]} in the same volume",
            f"add {max(water):.0f} ml of water to each litre of it, then measure again",
        )
    equal = thick <= thin * (1.0 + EQUAL_WITHIN)
    if equal:
        words = "Equal volumes hold equal dry weight: blending by volume is blending by weight."
    else:
        half = found[0] / (found[0] + found[1]) if len(found) == 2 else thin / (thin + thick)
        words = (
            f"Equal volumes do not hold equal dry weight: half and half by volume would be "
            f"{100 * half:.0f}:{100 * (1 - half):.0f} by dry weight"
            + ("" if len(found) == 2 else " between the thinnest and the thickest")
            + ". The syringe amounts are corrected for it; or thin the thicker ones first."
        )
    return Honesty(equal, tuple(found), words, water)


def dry_shares(volumes: Sequence[float], dry_g_per_ml: Sequence[float]) -> tuple[float, ...]:
    """Shares by dry weight that volumes of the corners come to.

    Examples
    --------
    300 g in 300 g of water and in 200 g of water, half and half by volume:

    >>> per_ml = [Slop(300.0, water).dry_g_per_ml() for water in (300.0, 200.0)]
    >>> [round(100 * share) for share in dry_shares((50.0, 50.0), per_ml)]
    [43, 57]
    """
    grams = [volume * per_ml for volume, per_ml in zip(volumes, dry_g_per_ml, strict=True)]
    weight = math.fsum(grams)
    return tuple(gram / weight for gram in grams)


def syringe_sheet(
    plan: Plan,
    cup_ml: float,
    slops: Sequence[Slop] = (),
    step_ml: float = SYRINGE_STEP_ML,
    reserve: float = USUAL_RESERVE,
) -> SyringeSheet:
    """Work out what each cup takes from each corner.

    The volumes are rounded to the step so that each cup's sum is the cup
    exactly (largest remainders are rounded up first).

    Parameters
    ----------
    plan : Plan
        A line, triaxial or grid.
    cup_ml : float
        Volume of each cup [ml].
    slops : sequence of Slop, optional
        The corners as they were measured. Left out, they are taken to hold
        the same dry weight in the same volume; the sheet then says what to
        weigh, and the check comes before the blending.
    step_ml : float
        Step of the syringe [ml].
    reserve : float
        Share to mix over what the cups take.

    Raises
    ------
    InputError
        If the slops cannot be blended (see `honesty`), or the cup is no
        whole number of steps.
    """
    names = [corner.name for corner in plan.corners]
    if slops and len(slops) != len(names):
        raise InputError(f"{len(slops)} slops are measured", f"this plan has {len(names)} corners")
    check = honesty(slops, names) if slops else None
    per_ml = check.dry_g_per_ml if check is not None else (1.0,) * len(names)
    corrected = check is not None and not check.equal
    cup = Decimal(number_text(_checked_cup(cup_ml)))
    step = Decimal(number_text(step_ml))
    if not (step > 0 and cup % step == 0):
        raise InputError(
            f"a cup of {cup_ml:g} ml is no whole number of {step_ml:g} ml", "change one of them"
        )
    steps = int((cup / step).to_integral_value(ROUND_HALF_UP))
    exact_per_ml = [Fraction(one) for one in per_ml]
    cups = []
    owed = [Fraction(0)] * len(names)
    for cell in plan.cells:
        if corrected:
            raw = [share / one for share, one in zip(cell.shares, exact_per_ml, strict=True)]
            whole = sum(raw, Fraction(0))
            parts = [one / whole for one in raw]
        else:
            parts = list(cell.shares)
        counts = shared_out(steps, parts, owed)
        owed = [
            due + steps * part - count for due, part, count in zip(owed, parts, counts, strict=True)
        ]
        volumes = tuple(count * step for count in counts)
        real = dry_shares([float(v) for v in volumes], per_ml)
        off = max(abs(a - float(b)) for a, b in zip(real, cell.shares, strict=True))
        cups.append(Cup(cell.number, cell.label, volumes, real, off))
    taken = zip(*(made.volumes_ml for made in cups), strict=True)
    needed = tuple(sum(column, Decimal(0)) for column in taken)
    to_mix = tuple(with_reserve(float(volume), reserve) for volume in needed)
    return SyringeSheet(cup, tuple(cups), needed, to_mix, corrected)


def shared_out(steps: int, shares: Sequence[Fraction], owed: Sequence[Fraction] = ()) -> list[int]:
    """Share out whole steps, the largest remainders first.

    Of equal remainders the one wins to which most is owed from before, so that
    ties do not all fall to the first corner; then the earlier one.

    Examples
    --------
    >>> shared_out(10, [Fraction(1, 3)] * 3)
    [4, 3, 3]
    """
    exact = [share * steps for share in shares]
    counts = [int(amount) for amount in exact]
    due = owed or [Fraction(0)] * len(exact)
    by_remainder = sorted(range(len(exact)), key=lambda i: (counts[i] - exact[i], -due[i], i))
    for i in by_remainder[: steps - sum(counts)]:
        counts[i] += 1
    return counts


def _checked_cup(cup_ml: float) -> float:
    if not (math.isfinite(cup_ml) and 0 < cup_ml <= LARGEST_CUP_ML):
        raise InputError(f"a cup of {cup_ml:g} ml is not planned", "give millilitres, such as 50")
    return cup_ml
