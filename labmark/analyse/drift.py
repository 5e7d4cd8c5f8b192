"""Do results move with the order of work? Alkali takes up carbon dioxide, a room warms, a stock settles.

The slope is Theil and Sen's: the median of the slopes of all pairs of students. A few students far out don't move it.
Its interval comes from Kendall's statistic, which counts how many pairs rise and how many fall.

    order 1..12, results rising by 0.0002 each: slope 0.0002 a place, 0.0022 from first to last

A drift is named only where it is beyond chance (1 %) and large enough to matter (0.10 cm³ of titre, first to last).
Source: Sen (1968), J. Am. Stat. Assoc. 63, 1379; Kendall's variance with ties as given there.
"""

from math import erfc, prod, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, floats

FEWEST = 6
"""Fewest students with a place in the order."""

ALPHA = 0.01
"""Chance of naming a drift where there is none."""

SMALLEST = 0.10
"""Smallest change from first to last that is worth a finding, in cm³ of titre (common practice, no source)."""

MOST_POINTS = 1000
"""With more students, medians of so many consecutive stretches stand for them: the pairs of 100,000 are 5 thousand
million, and the median of a stretch is as robust."""


class Drift(NamedTuple):
    """A robust slope of the results against the order of work."""

    n: int
    slope: float
    """Change of the result for one place (or one unit of time)."""
    low: float
    """Lower end of the slope's 95 % interval."""
    high: float
    first_to_last: float
    """Slope times the length of the order, in the unit of the result."""
    first_to_last_percent: float
    first_to_last_titre: float
    """The same in cm³ of titre."""
    tau: float
    """Kendall's tau: share of pairs that rise, less share that fall."""
    p: float
    """Chance of a tau so far from 0 where nothing drifts (two-sided, normal law)."""
    drifting: bool
    """True means that the results drift: beyond chance, and by enough to matter."""


def drift(results: ArrayLike, order: ArrayLike, expected_titre: float, exponent: float = 1.0) -> Drift | None:
    """Return the drift of the results with the order of work; None for fewer than six students or places alike.

    Parameters: `results`, one a student, and `order`, a place or a time (missing ones NaN); `expected_titre` [cm³] and
    `exponent` as in `reference_test`.
    """
    y, x = floats(results), floats(order)
    use = np.isfinite(y) & np.isfinite(x)
    y, x = y[use], x[use]
    n = y.size
    if n < FEWEST or not x.max() > x.min():
        return None
    length, middle = float(x.max() - x.min()), float(np.median(y))
    points = _stretches(x, y)
    slopes, rising = _pairs(*points)
    variance, slope = _kendall_variance(*points), float(np.median(slopes))
    whole, (low, high) = slope * length, _interval(slopes, variance)
    titre = whole * expected_titre / (middle * exponent) if middle else np.nan
    percent = 100 * whole / middle if middle else np.nan
    # Two-sided, with the correction for whole numbers.
    p = erfc(max(abs(rising) - 1, 0.0) / sqrt(2 * variance)) if variance > 0 else 1.0
    beyond = bool(p < ALPHA and abs(titre) >= SMALLEST)
    tau = rising / (points[0].size * (points[0].size - 1) / 2)
    return Drift(n, slope, low, high, whole, percent, titre, tau, p, beyond)


def _stretches(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the points, or the medians of consecutive stretches where there are too many."""
    if x.size <= MOST_POINTS:
        return x, y
    by_order = np.argsort(x, kind="stable")
    xs, ys = np.array_split(x[by_order], MOST_POINTS), np.array_split(y[by_order], MOST_POINTS)
    return np.array([np.median(part) for part in xs]), np.array([np.median(part) for part in ys])


def _pairs(x: FloatArray, y: FloatArray) -> tuple[FloatArray, float]:
    """Return the sorted slopes of all pairs at different places, and how many more rise than fall."""
    i, j = np.triu_indices(x.size, 1)
    step, rise = x[j] - x[i], y[j] - y[i]
    apart = step != 0
    slopes = np.sort(rise[apart] / step[apart])
    return slopes, float(np.sum(np.sign(slopes)))


def _kendall_variance(x: FloatArray, y: FloatArray) -> float:
    """Return the variance of Kendall's S where nothing drifts, ties in order and result counted."""
    n = x.size
    ties = [np.unique(v, return_counts=True)[1].astype(np.float64) for v in (x, y)]
    pairs = [t * (t - 1) for t in ties]
    full = sum(float(np.sum(pair * (2 * t + 5))) for pair, t in zip(pairs, ties, strict=True))
    triples = prod(float(np.sum(pair * (t - 2))) for pair, t in zip(pairs, ties, strict=True))
    variance = (n * (n - 1) * (2 * n + 5) - full) / 18 + triples / (9 * n * (n - 1) * (n - 2))
    return variance + prod(float(np.sum(pair)) for pair in pairs) / (2 * n * (n - 1))


def _interval(slopes: FloatArray, variance: float) -> tuple[float, float]:
    """Return Sen's 95 % interval: the slopes as far from the middle as S may stray by chance."""
    reach = 1.959963984540054 * sqrt(variance)
    low = max(0, round((slopes.size - reach) / 2) - 1)
    high = min(slopes.size - 1, round((slopes.size + reach) / 2))
    return float(slopes[low]), float(slopes[high])
