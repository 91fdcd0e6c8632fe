"""The usual kiln."""

from __future__ import annotations

import pytest

from core.firing.kiln import kilns, usual_kiln


def test_the_usual_kiln_is_marked_as_common_practice():
    for kiln in kilns().values():
        assert kiln.source == "common practice, no source"
        assert kiln.confidence == "practice"


def test_its_time_constant_is_the_difference_over_the_rate():
    kiln = usual_kiln()
    assert kiln.time_constant_h * kiln.cooling_c_per_h == pytest.approx(
        kiln.cooling_from_c - kiln.room_c
    )
    assert kiln.room_c < kiln.opened_c < kiln.cooling_from_c
