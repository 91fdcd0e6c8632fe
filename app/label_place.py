"""Where a label finds most room in an area of any shape."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF

Flags = NDArray[np.bool_]

_MARGINS: Final = (28.0, 14.0, 6.0, 1.0)
"""Room that a label would like around it, tried from the most [px]."""


def label_place(
    area: Flags, box: QRectF, label: QRectF, clear: QRectF | None = None
) -> QPointF | None:
    """Find where a label has room inside an area, and among such places the middle.

    Parameters
    ----------
    area : ndarray of bool, shape (rows, columns)
        Cells of the box, the first row at its top.
    box : QRectF
        What the cells cover [px].
    label : QRectF
        Of the wanted size [px].
    clear : QRectF, optional
        What the label should leave free [px].

    Returns
    -------
    QPointF or None
        Its centre; None where it does not fit.
    """
    rows, columns = area.shape
    if not area.any() or box.isEmpty():
        return None
    across, down = box.width() / columns, box.height() / rows
    sums = np.zeros((rows + 1, columns + 1), np.int32)
    sums[1:, 1:] = area.cumsum(axis=0).cumsum(axis=1)
    for margin in _MARGINS:
        wide = int(np.ceil((label.width() + 2 * margin) / across))
        high = int(np.ceil((label.height() + 2 * margin) / down))
        if wide > columns or high > rows:
            continue
        covered = (
            sums[high:, wide:] - sums[:-high, wide:] - sums[high:, :-wide] + sums[:-high, :-wide]
        )
        top, left = np.nonzero(covered == wide * high)
        if not top.size:
            continue
        x = box.left() + (left + wide / 2) * across
        y = box.top() + (top + high / 2) * down
        far = np.hypot(x - x.mean(), y - y.mean())
        if clear is not None:
            middle, reach = clear.center(), (label.size() + clear.size()) / 2
            near = (abs(x - middle.x()) < reach.width()) & (abs(y - middle.y()) < reach.height())
            if near.all():
                continue
            far[near] = np.inf
        best = int(far.argmin())
        return QPointF(float(x[best]), float(y[best]))
    return None
