"""Robust centre and spread: Algorithm A, for one group and for many, median and scaled median absolute deviation.

Algorithm A (ISO 13528:2022, C.3.1) starts from the median x* and s* = 1.483 × median of |x − median|. Then, again
and again: every value further than 1.5 s* from x* is pulled in to that distance; x* becomes the mean of the values
so obtained, s* becomes 1.134 times their standard deviation. A student who is far out still counts, but no further
than the edge.

    titres 24.30 24.35 24.40 24.30 26.90   mean 24.85   Algorithm A 24.39

Where it stops. The standard asks for no change in the third significant figure, which leaves s* short by a few
per cent in small classes: creosote means of ISO 5725-5, iterates of s* 0.949 0.986 1.010 1.027 1.039 ..., limit 1.0698.
Here the iteration runs to its fixed point, so that the figure does not depend on where one grew tired.
"""

from math import nan, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import BoolArray, FloatArray, IntArray, counts, floats, medians

MAD_FACTOR = 1.483
"""Median absolute deviation -> standard deviation of a normal law, as printed in ISO 13528:2022 (exact: 1.482602)."""

CLIP = 1.5
"""How many s* from x* a value may count (ISO 13528:2022, C.3.1)."""

SD_FACTOR = 1.134
"""Gives back the spread that clipping takes away, as printed in ISO 13528:2022 (exact: 1.133393)."""

U_FACTOR = 1.25
"""u(x*) = 1.25 s*/sqrt(p): the factor of ISO 13528:2022, 7.7.3, for a robust mean of p results."""

TOLERANCE = 1e-12
"""Algorithm A stops when neither x* nor s* moves by more than this share of s*."""

JOINT_TOLERANCE = 1e-9
"""With many groups it stops at this share: far below what a test can tell."""

MOST_ITERATIONS = 5000
"""A stop for data on which the iteration creeps."""

GROSS = 5.0
"""A result so many spreads from the median of its own group counts neither for the centre nor for the spread: with a
fifth of the class grossly off, pulling them in is not enough."""


class RobustEstimate(NamedTuple):
    """Algorithm A's centre and spread of a set of values, in the unit of the values."""

    mean: float
    """x*; NaN without values."""
    sd: float
    """s*; NaN for fewer than two values, 0 where (nearly) all are equal."""
    n: int
    """How many values (missing ones are left out)."""
    median: float
    """Where the iteration starts."""
    made: float
    """Median absolute deviation × 1.483; NaN for fewer than two values."""

    @property
    def standard_uncertainty(self) -> float:
        """u(x*) = 1.25 s*/sqrt(n) (ISO 13528:2022, 7.7.3); NaN where the spread is not known."""
        return U_FACTOR * self.sd / sqrt(self.n) if self.n else nan


def median(values: ArrayLike) -> float:
    """Return the median of the values that are there; NaN where there is none."""
    there = _there(values)
    return float(np.median(there)) if there.size else nan


def made(values: ArrayLike) -> float:
    """Return the scaled median absolute deviation, 1.483 × median |x − median|; NaN for fewer than two values.

    Source: ISO 13528:2022, C.2.2.
    """
    there = _there(values)
    return MAD_FACTOR * float(np.median(np.abs(there - np.median(there)))) if there.size > 1 else nan


def algorithm_a(values: ArrayLike) -> RobustEstimate:
    """Return Algorithm A's robust mean and standard deviation, iterated to the fixed point.

    Parameters: `values` in any unit, any shape; NaN and infinities are left out.
    One value: its mean, and a spread of NaN. Two: their mean, and 1.134 times their standard deviation (nothing is far
    out). All equal: spread 0. More than half equal (MADe = 0): the start is the ordinary standard deviation, as
    the iteration could otherwise never leave the spread 0.

    Source: ISO 13528:2022, C.3.1, with its printed factors 1.483 and 1.134.
    """
    there = _there(values)
    if there.size < 2:
        only = float(there[0]) if there.size else nan
        return RobustEstimate(only, nan, there.size, only, nan)
    wide = made(there)
    (centre,), spread = _iterated(there, np.zeros(there.size, dtype=np.int64), 1, wide, TOLERANCE)
    return RobustEstimate(float(centre), spread, there.size, median(there), wide)


def _there(values: ArrayLike) -> FloatArray:
    array = floats(values)
    return array[np.isfinite(array)]


# Many groups with one common spread ----------------------------------------------------------------------------------


class Fit(NamedTuple):
    """Robust centres of groups and the spread within them."""

    centre: FloatArray
    size: FloatArray
    """Students of each group."""
    counted: FloatArray
    """Those that are not grossly off."""
    spread: float
    dof: float
    values: FloatArray
    number: IntArray


def fit(values: FloatArray, number: IntArray, groups: int, least: float = 0.0) -> Fit:
    """Return the joint fit of `groups` groups; `number` gives the group of each value.

    Values grossly off, and further than `least` from the median of their group, are left out.
    """
    kept = _not_gross(values, number, groups, least)
    centre, spread = joint_fit(values[kept], number[kept], groups)
    counted = counts(number[kept], groups)
    return Fit(centre, counts(number, groups), counted, spread, float(kept.sum() - groups), values, number)


def _not_gross(values: FloatArray, number: IntArray, groups: int, least: float) -> BoolArray:
    """Return which values are not grossly off; a group of which no more than half would be left stays whole."""
    away = np.abs(values - medians(values, number, groups)[number])
    spread = _median_spread(away, groups)
    near = away <= max(GROSS * spread, least)
    whole = 2 * counts(number[near], groups) <= counts(number, groups)
    return np.asarray(near | whole[number], dtype=bool)


def _median_spread(away: FloatArray, groups: int) -> float:
    """Return the spread that distances from their group's median tell.

    They are short in small groups: a median sits on a value.
    """
    return MAD_FACTOR * float(np.median(away)) * float(np.sqrt(away.size / max(away.size - groups, 1)))


def joint_fit(values: FloatArray, number: IntArray, groups: int) -> tuple[FloatArray, float]:
    """Return a robust centre for each group and one robust spread for all, iterated to the fixed point.

    Algorithm A's step with many centres: values further than 1.5 s* from their group's centre are pulled in to there;
    centre = mean of the group; s* = 1.134 sqrt(Σ(pulled − centre)²/(values − groups)).
    `number` gives the group (0 to groups − 1) of each value; none is empty.
    """
    away = np.abs(values - medians(values, number, groups)[number])
    return _iterated(values, number, groups, _median_spread(away, groups), JOINT_TOLERANCE)


def _iterated(
    values: FloatArray, number: IntArray, groups: int, wide: float, tolerance: float
) -> tuple[FloatArray, float]:
    """Run Algorithm A from the medians and a spread until nothing moves; return the centres and the spread."""
    start = medians(values, number, groups)
    grouped = _Grouped(number, counts(number, groups), max(values.size - groups, 1))
    # All steps are taken on distances from the median: subtracting a large common part first keeps the last digits.
    away, centre = values - start[number], np.zeros(groups)
    _, classical = grouped.means(away)
    # Where more than half of the values are their median, but for rounding, the standard deviation is the start.
    wide = wide if wide > 1e-9 * classical else classical
    spread = wide
    for _ in range(MOST_ITERATIONS):
        new_centre, new_spread = _step(away, grouped, centre, spread)
        # A spread that keeps shrinking goes to nothing: all but a few values are equal.
        if new_spread <= TOLERANCE * wide:
            return start, 0.0
        moved = max(float(np.abs(new_centre - centre).max()), abs(new_spread - spread))
        centre, spread = new_centre, new_spread
        if moved <= tolerance * spread:
            break
    return start + centre, spread


class _Grouped(NamedTuple):
    """The groups of some values: what stays the same from step to step is worked out once."""

    number: IntArray
    size: FloatArray
    freedom: int
    """Values less groups, 1 at least."""

    def means(self, values: FloatArray) -> tuple[FloatArray, float]:
        """Return the plain mean of each group, and the standard deviation within groups."""
        centre = np.bincount(self.number, values, self.size.size) / self.size
        apart = values - centre[self.number]
        # Added up in order: numpy's own order depends on the processor, and so would the last digit.
        return centre, sqrt(float((apart * apart).cumsum()[-1]) / self.freedom)


def _step(away: FloatArray, grouped: _Grouped, centre: FloatArray, spread: float) -> tuple[FloatArray, float]:
    """Take one step: pull the far values in, then take the means and the scaled standard deviation."""
    middle, edge = centre[grouped.number], CLIP * spread
    new, wide = grouped.means(np.minimum(np.maximum(away, middle - edge), middle + edge))
    return new, SD_FACTOR * wide
