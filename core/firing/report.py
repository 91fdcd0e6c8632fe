"""What can be said about a firing, as one object for scripts and as text for people."""

from __future__ import annotations

import math
from typing import Any

from core.errors import InputError
from core.firing.cones import rank
from core.firing.curve import firing_curve
from core.firing.heat_work import cone_reached
from core.firing.kiln import Kiln
from core.firing.schedule import Firing

HOT_C = 1000.0
COOLING_C = (1100.0, 800.0)


def firing_report(firing: Firing, kiln: Kiln | None = None) -> dict[str, Any]:
    """Return the reading of a schedule as plain values, ready for JSON.

    A cone is text; figures that do not exist are None.

    Parameters
    ----------
    firing : Firing
    kiln : Kiln, optional
        The usual kiln when left out.

    Raises
    ------
    InputError
        If the schedule has no segments.
    """
    if not firing.segments:
        raise InputError(f"the firing {firing.id!r} has no segments", "give it at least one")
    curve = firing_curve(firing, kiln)
    reading = cone_reached(curve)
    cooling = curve.cooling_rate_between(*COOLING_C)
    return {
        "id": firing.id,
        "name": firing.name,
        "stated_cone": firing.cone or None,
        "cone": reading.cone or None,
        "text": reading.text,
        "fraction": round(reading.fraction, 3) if reading.cone else None,
        "position": round(reading.position, 3),
        "uncertainty": round(reading.uncertainty, 2) if reading.cone else None,
        "equivalent_rate_c_per_h": round(reading.equivalent_rate_c_per_h, 1) or None,
        "within_the_chart": reading.tabulated,
        "peak_c": round(curve.peak_c, 1),
        "hours": round(curve.total_hours, 2),
        "hours_above_1000_c": round(float(curve.hours_above(HOT_C)), 2),
        "cooling_c_per_h_1100_to_800": None if cooling is None else round(cooling, 1),
    }


def firing_report_text(values: dict[str, Any]) -> str:
    """Write the values of `firing_report` for people."""
    error = "" if values["uncertainty"] is None else f"  ± {values['uncertainty']:.1f} cone"
    lines = [
        f"{values['name'] or values['id']}",
        f"Cone reached   {values['text']}{error}",
        f"Peak           {values['peak_c']:.0f} °C",
        f"Time           {values['hours']:.1f} h, {values['hours_above_1000_c']:.1f} h of it above"
        f" {HOT_C:.0f} °C",
    ]
    cooling = values["cooling_c_per_h_1100_to_800"]
    high, low = COOLING_C
    said = "does not cool through both" if cooling is None else f"{cooling:.0f} °C/h"
    lines.append(f"Cooling        {said}, {high:.0f} to {low:.0f} °C")
    if values["cone"] and not values["within_the_chart"]:
        lines.append("The heat work is that of a ramp outside the chart's rates: less certain.")
    stated = rank(values["stated_cone"] or "")
    if stated is not None and not math.isclose(stated, values["position"], abs_tol=0.5):
        lines.append(f"The schedule itself says cone {values['stated_cone']}.")
    lines.append("Witness cones in the kiln have the last word.")
    return "\n".join(lines)
