"""Firings: schedules, the curves they draw, the heat work they do and the cones that witness it.

The names below are the door; the files beside it hold one subject each.
"""

from core.firing.curve import FiringCurve, SegmentSpan, curve_and_spans, firing_curve
from core.firing.files import firing_from, firing_text, read_firing, shipped_firings, write_firing
from core.firing.heat_work import ConeReading, cone_reached, peak_for
from core.firing.kiln import Kiln, usual_kiln
from core.firing.log import FiringLog, SetPoint, WitnessCone, drift, local_cone
from core.firing.schedule import Firing, Segment, check_segments
from core.firing.sheet import FiringSheet, firing_sheet

__all__ = [
    "ConeReading",
    "Firing",
    "FiringCurve",
    "FiringLog",
    "FiringSheet",
    "Kiln",
    "Segment",
    "SegmentSpan",
    "SetPoint",
    "WitnessCone",
    "check_segments",
    "cone_reached",
    "curve_and_spans",
    "drift",
    "firing_curve",
    "firing_from",
    "firing_sheet",
    "firing_text",
    "local_cone",
    "peak_for",
    "read_firing",
    "shipped_firings",
    "usual_kiln",
    "write_firing",
]
