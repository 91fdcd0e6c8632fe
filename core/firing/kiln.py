"""Kilns: how fast one heats and cools when nothing holds it back."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import msgspec

from core.errors import InputError
from core.schema import Number
from core.tables import read_records, shipped


class Kiln(msgspec.Struct, frozen=True):
    """A kiln's own rates; cooling follows Newton's law towards the room."""

    id: str
    heating_c_per_h: Number
    """As fast as it heats [°C/h]."""
    cooling_c_per_h: Number
    """Switched off, at `cooling_from_c` [°C/h]."""
    cooling_from_c: Number
    room_c: Number = Number(20.0)
    opened_c: Number = Number(100.0)
    """Where a natural cooling is taken to end [°C]."""
    name: str = ""
    note: str = ""
    source: str = ""
    confidence: str = ""

    @property
    def time_constant_h(self) -> float:
        """Time in which the difference to the room falls to 1/e [h]."""
        return (self.cooling_from_c - self.room_c) / self.cooling_c_per_h


@cache
def kilns() -> Mapping[str, Kiln]:
    """Return the shipped kilns by id; read once."""
    return {k.id: k for _, k in read_records(shipped("kilns.yaml"), "kilns", Kiln, True)}


def usual_kiln() -> Kiln:
    """Return the kiln that is meant when nobody says which."""
    return kilns()["usual"]


def check_kiln(kiln: Kiln) -> None:
    """Check that a kiln can be one.

    Raises
    ------
    InputError
        Naming the figure that it cannot have.
    """
    for what, rate in (("heating", kiln.heating_c_per_h), ("cooling", kiln.cooling_c_per_h)):
        if not 1.0 <= rate <= 3000.0:
            raise InputError(
                f"the kiln {kiln.id!r} has the {what} rate {rate:g} °C/h, which no kiln has",
                "give °C per hour, such as 150",
            )
    if not 0.0 <= kiln.room_c <= 60.0:
        raise InputError(
            f"the kiln {kiln.id!r} stands in a room of {kiln.room_c:g} °C", "give 0 to 60 °C"
        )
    if not kiln.room_c < kiln.opened_c <= 600.0:
        raise InputError(
            f"the kiln {kiln.id!r} is opened at {kiln.opened_c:g} °C",
            "give a temperature above the room, such as 100",
        )
    if not kiln.opened_c < kiln.cooling_from_c <= 1800.0:
        raise InputError(
            f"the kiln {kiln.id!r} cools from {kiln.cooling_from_c:g} °C",
            "give the temperature that its cooling rate was read at, such as 1200",
        )
