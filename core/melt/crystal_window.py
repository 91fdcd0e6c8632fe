"""Where a cooling glaze grows its crystals: below the liquidus, and not yet too stiff."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import msgspec
import numpy as np

from core.melt.sheet import CURVE_C, MeltSheet
from core.schema import Number
from core.tables import read_records, shipped


class GrowthRule(msgspec.Struct, frozen=True):
    """One limit of the window, with its error."""

    id: str
    value: Number
    error: Number
    says: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class CrystalWindow:
    """Temperatures between which crystals grow on cooling, with one-sigma errors [°C]."""

    high_c: float
    high_error_c: float
    low_c: float
    low_error_c: float


@cache
def growth_rules() -> dict[str, GrowthRule]:
    """Return the limits of the window by id, "lag" and "stiff"; read once."""
    rows = read_records(shipped("crystal_growth.yaml"), "crystal-growth", GrowthRule, True)
    return {rule.id: rule for _, rule in rows}


def crystal_window(melt: MeltSheet) -> CrystalWindow | None:
    """Work out the window of a melt.

    It begins an undercooling below the liquidus and ends where the melt is
    too stiff for crystals to grow. It says where crystals may grow, not
    whether they do.

    Parameters
    ----------
    melt : MeltSheet

    Returns
    -------
    CrystalWindow or None
        None where the liquidus is unknown, or the melt is too stiff before
        the window begins.
    """
    if melt.liquidus_c is None:
        return None
    lag, stiff = growth_rules()["lag"], growth_rules()["stiff"]
    # The curve falls with temperature; np.interp wants rising places.
    low, fluid = np.interp(
        [-float(stiff.value), -float(stiff.value) + 0.5], -melt.curve, CURVE_C
    ).tolist()
    high = melt.liquidus_c.value - lag.value
    if not high > low:
        return None
    per_decade = (fluid - low) / 0.5
    doubt = float(np.interp(low, CURVE_C, melt.curve_error))
    return CrystalWindow(
        high_c=high,
        high_error_c=math.hypot(melt.liquidus_c.error, lag.error),
        low_c=low,
        low_error_c=per_decade * math.hypot(doubt, stiff.error),
    )
