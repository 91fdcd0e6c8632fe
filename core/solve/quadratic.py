"""Least squares with rows that must hold and amounts that cannot be negative; small and quick."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Weight of the rows that must hold while the active set is sought; exact afterwards.
_FIRM: Final = 1e4
_ZERO: Final = 1e-9
_ROUNDING: Final = 1e-14
_MOST_TRIES: Final = 30


def constrained_least_squares(
    matrix: Floats, wanted: Floats, hold: Floats, held: Floats
) -> Floats | None:
    """Minimise ``|matrix @ x - wanted|`` with ``hold @ x == held`` and ``x >= 0``.

    Which amounts are nought is found by non-negative least squares (Lawson and
    Hanson 1974, Solving Least Squares Problems, chapter 23) with the firm rows
    weighted heavily; then the rest is solved with the firm rows exact.

    Parameters
    ----------
    matrix : ndarray, shape (m, n)
        Of full column rank.
    wanted : ndarray, shape (m,)
    hold : ndarray, shape (k, n)
    held : ndarray, shape (k,)

    Returns
    -------
    ndarray, shape (n,), or None where the rows cannot hold.
    """
    from scipy.optimize import nnls

    n = matrix.shape[1]
    if n == 0:
        # scipy's routine ends the process when it is given no column.
        return np.zeros(0) if not np.abs(held).max(initial=0.0) > _ZERO else None
    scale = np.abs(hold).max(axis=1, initial=0.0)
    # A row of rounding errors says nothing of the amounts.
    sound = scale > _ROUNDING
    if np.abs(held[~sound]).max(initial=0.0) > _ZERO:
        return None
    firm, firm_held = hold[sound] / scale[sound, None], held[sound] / scale[sound]
    use = np.arange(n)
    # Most of a drag needs no amount at nought.
    whole = _exact(matrix, wanted, firm, firm_held, use)
    if whole is not None and whole.min(initial=0.0) >= -_ZERO:
        return np.asarray(np.maximum(whole, 0.0))
    stacked = np.vstack([matrix, _FIRM * firm])
    guess, _ = nnls(stacked, np.concatenate([wanted, _FIRM * firm_held]))
    use = np.flatnonzero(guess > _ZERO * max(float(guess.max(initial=0.0)), 1e-300))
    for _ in range(_MOST_TRIES):
        part = _exact(matrix, wanted, firm, firm_held, use)
        if part is None:
            return None
        if part.min(initial=0.0) >= -_ZERO:
            x = np.zeros(n)
            x[use] = np.maximum(part, 0.0)
            entering = _entering(matrix, wanted, firm, x, use)
            if entering is None:
                return x
            use = np.sort(np.append(use, entering))
            continue
        use = np.delete(use, int(np.argmin(part)))
    return None


def _exact(
    matrix: Floats, wanted: Floats, firm: Floats, held: Floats, use: NDArray[np.intp]
) -> Floats | None:
    """Solve with the rows exact and only some amounts; None where the rows do not hold."""
    a, c = matrix[:, use], firm[:, use]
    n, k = len(use), len(firm)
    system = np.zeros((n + k, n + k))
    system[:n, :n] = a.T @ a
    system[:n, n:] = c.T
    system[n:, :n] = c
    right = np.concatenate([a.T @ wanted, held])
    try:
        x = np.linalg.solve(system, right)[:n]
    except np.linalg.LinAlgError:
        x = np.linalg.lstsq(system, right, rcond=None)[0][:n]
    if np.abs(c @ x - held).max(initial=0.0) > 1e-8 * max(1.0, float(np.abs(x).max(initial=0.0))):
        return None
    return np.asarray(x)


def _entering(
    matrix: Floats, wanted: Floats, firm: Floats, x: Floats, use: NDArray[np.intp]
) -> int | None:
    """Number of an amount at nought that would better the fit, or None at the optimum."""
    slope = matrix.T @ (matrix @ x - wanted)
    multipliers = np.linalg.lstsq(firm[:, use].T, -slope[use], rcond=None)[0]
    reduced = slope + firm.T @ multipliers
    reduced[use] = np.inf
    worst = int(np.argmin(reduced)) if len(reduced) else 0
    if len(reduced) and reduced[worst] < -1e-7 * max(1.0, float(np.abs(slope).max())):
        return worst
    return None
