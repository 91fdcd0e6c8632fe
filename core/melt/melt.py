"""Compositions as melts: what several figures rest on, worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.composition import Modelled, from_basis
from core.melt.domain import distance
from core.melt.errors import doubt_beyond
from core.melt.viscosity import ViscosityCurve, curve

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Melt:
    """Melts of compositions; every array has their shape (...)."""

    moles: ArrayLike
    """As they were given, shape (..., 25)."""

    @cached_property
    def composition(self) -> Modelled:
        """On the oxides of the melt data.

        Raises
        ------
        ValueError
            If the last axis of the moles is not 25 long.
        """
        return from_basis(self.moles)

    @cached_property
    def viscosity(self) -> ViscosityCurve:
        """See `core.melt.viscosity.curve`."""
        return curve(self.composition)

    @cached_property
    def far(self) -> Floats:
        """Distance to the training data; see `core.melt.domain.distance`."""
        return distance(self.composition)

    @cached_property
    def doubt(self) -> Floats:
        """Factor of the errors where there are no data; see `core.melt.errors.doubt_beyond`."""
        return doubt_beyond(self.composition, self.composition.unmodelled)
