"""Robust centre and spread: Algorithm A, the median and the scaled median absolute deviation.

Algorithm A (ISO 13528:2022, C.3.1) starts from the median x* and s* = 1.483 × median of |x − median|. Then, again
and again: every value further than 1.5 s* from x* is pulled in to that distance; x* becomes the mean of the values
so obtained, s* becomes 1.134 times their standard deviation. A student who is far out still counts, but no further
than the edge.

    titres 24.30 24.35 24.40 24.30 26.90   mean 24.85   Algorithm A 24.39

Where it stops. The standard asks for no change in the third significant figure, which leaves s* short by a few
per cent in small classes: creosote means of ISO 5725-5, iterates of s* 0.949 0.986 1.010 1.027 1.039 ..., limit 1.0698.
Here the iteration runs to its fixed point, so that the figure does not depend on where one grew tired.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import nan, sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import BoolArray, FloatArray, IntArray, codes, counts, floats, medians, sums

MAD_FACTOR = 1.483
"""Median absolute deviation -> standard deviation of a normal law, as printed in ISO 13528:2022 (exact: 1.482602)."""

CLIP = 1.5
"""How many s* from x* a value may count (ISO 13528:2022, C.3.1)."""

SD_FACTOR = 1.134
"""Gives back the spread that clipping takes away, as printed in ISO 13528:2022 (exact: 1.133393)."""

U_FACTOR = 1.25
"""u(x*) = 1.25 s*/sqrt(p): the factor of ISO 13528:2022, 7.7.3, for a robust mean of p results."""

TOLERANCE = 1e-12
"""Stop when neither x* nor s* moves by more than this share of s*."""

MOST_ITERATIONS = 5000
"""A stop for data on which the iteration creeps; `converged` says whether it was needed."""


@dataclass(frozen=True, slots=True)
class RobustEstimate:
    """Algorithm A's centre and spread of a set of values, in the unit of the values."""

    mean: float
    """x*; NaN without values."""
    sd: float
    """s*; NaN for fewer than two values, 0 where (nearly) all are equal."""
    n: int
    """How many values (missing ones are left out)."""
    iterations: int
    """Steps to the fixed point."""
    converged: bool
    median: float
    """Where the iteration starts."""
    made: float
    """Median absolute deviation × 1.483; NaN for fewer than two values."""
    pulled_in: int
    """How many values lie further than 1.5 s* from x* and count as if they lay there."""
    start: str
    """Spread that the iteration starts from: "MADe", or "sd" where more than half of the values are equal."""

    @property
    def standard_uncertainty(self) -> float:
        """u(x*) = 1.25 s*/sqrt(n) (ISO 13528:2022, 7.7.3); NaN where the spread is not known."""
        return U_FACTOR * self.sd / sqrt(self.n) if self.n else nan


@dataclass(frozen=True, slots=True)
class GroupEstimates:
    """Algorithm A for many groups at once: arrays with one place a group, in the order of `names`."""

    names: tuple[Any, ...]
    mean: FloatArray
    sd: FloatArray
    n: IntArray


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
        return RobustEstimate(only, nan, there.size, 0, True, only, nan, 0, "MADe")
    number = np.zeros(there.size, dtype=np.int64)
    fit = _iterate(there, number, 1)
    centre, spread = float(fit.mean[0]), float(fit.sd[0])
    far = int(np.count_nonzero(np.abs(there - centre) > CLIP * spread))
    return RobustEstimate(
        centre, spread, there.size, fit.iterations, fit.converged, median(there), made(there), far, fit.start(0)
    )


def algorithm_a_by_group(values: ArrayLike, labels: Iterable[Any]) -> GroupEstimates:
    """Return Algorithm A for every group, all iterated together (time grows with the number of values).

    A value without a number or without a group is left out; a group of one has the spread NaN.
    """
    array = floats(values)
    number, names = codes(labels)
    use = np.isfinite(array) & (number >= 0)
    array, number = array[use], number[use]
    fit = _iterate(array, number, len(names))
    size = np.bincount(number, minlength=len(names)).astype(np.int64)
    return GroupEstimates(tuple(names), fit.mean, np.where(size > 1, fit.sd, np.nan), size)


@dataclass(frozen=True, slots=True)
class _Fit:
    mean: FloatArray
    sd: FloatArray
    iterations: int
    converged: bool
    from_sd: BoolArray

    def start(self, group: int) -> str:
        return "sd" if self.from_sd[group] else "MADe"


def _iterate(values: FloatArray, number: IntArray, groups: int) -> _Fit:
    """Run Algorithm A on every group until no group moves."""
    size = counts(number, groups)
    middle = medians(values, number, groups)
    # All steps are taken on distances from the median: subtracting a large common part first keeps the last digits.
    away = values - middle[number]
    wide, from_sd = _start(away, number, size)
    centre, spread = np.zeros(groups), wide.copy()
    for step in range(1, MOST_ITERATIONS + 1):
        new_centre, new_spread = _step(away, number, size, centre, spread)
        # A spread that keeps shrinking goes to nothing: all but a few values are equal.
        gone = new_spread <= TOLERANCE * wide
        new_centre[gone], new_spread[gone] = 0.0, 0.0
        moved = np.maximum(np.abs(new_centre - centre), np.abs(new_spread - spread)) > TOLERANCE * new_spread
        centre, spread = new_centre, new_spread
        if not np.any(moved & ~gone):
            return _Fit(middle + centre, spread, step, True, from_sd)
    return _Fit(middle + centre, spread, MOST_ITERATIONS, False, from_sd)


def _start(away: FloatArray, number: IntArray, size: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return the spread to start from in each group, and where it is the standard deviation for want of a MADe."""
    groups = size.size
    scale = MAD_FACTOR * np.nan_to_num(medians(np.abs(away), number, groups))
    classical = _sd(away, number, size)
    # Rounding leaves 1e-17 where there should be nothing: a MADe of nothing beside the sd is nothing.
    none = (scale <= 1e-9 * classical) & (classical > 0)
    return np.where(none, classical, scale), none


def _step(
    away: FloatArray, number: IntArray, size: FloatArray, centre: FloatArray, spread: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Take one step: pull the far values in, then take mean and scaled standard deviation."""
    edge = CLIP * spread
    pulled = np.clip(away, (centre - edge)[number], (centre + edge)[number])
    return sums(number, pulled, size.size) / np.maximum(size, 1), SD_FACTOR * _sd(pulled, number, size)


def _sd(values: FloatArray, number: IntArray, size: FloatArray) -> FloatArray:
    """Return the standard deviation (divisor n − 1) of each group; 0 for fewer than two values."""
    centre = sums(number, values, size.size) / np.maximum(size, 1)
    return np.sqrt(sums(number, (values - centre[number]) ** 2, size.size) / np.maximum(size - 1, 1))


def _there(values: ArrayLike) -> FloatArray:
    """Return the values that are there."""
    array = floats(values)
    return array[np.isfinite(array)]
