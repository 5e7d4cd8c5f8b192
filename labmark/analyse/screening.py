"""Screening for values and students that stand out: Grubbs, Dixon, Cochran, Mandel's h and k.

Each test returns its n, its statistic and the critical value for that n, and says whether the statistic is beyond it.
None of them decides a mark or leaves a result out: Algorithm A needs no value removed. They are shown because textbooks
name them, and because "how far is far, for so few values?" deserves a figure. With three values none of them says much.

    >>> grubbs([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]).beyond
    True
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse import critical
from labmark.analyse.arrays import FloatArray, IntArray, floats
from labmark.analyse.precision import cells

ALPHA = 0.05
"""Chance that a clean normal sample is beyond the critical value."""


class Screening(NamedTuple):
    """Outcome of one test."""

    test: str
    """"Grubbs", "Grubbs, two highest", "Grubbs, two lowest", "Dixon" or "Cochran"."""
    n: int
    """Values (Cochran: students) looked at."""
    runs: int | None
    """Cochran: runs a student, the commonest number where they differ; else None."""
    statistic: float
    critical: float
    alpha: float
    sides: int
    beyond: bool
    """True means that something stands out."""
    who: tuple[Any, ...]
    """What it looked at: places in the array that was given (Cochran: the student's label)."""


class Mandel(NamedTuple):
    """Mandel's h (how far a student's mean lies out) and k (how wide a student's runs scatter)."""

    names: tuple[Any, ...]
    h: FloatArray
    k: FloatArray
    """NaN for a student with one run."""
    n: IntArray
    """Runs of each student."""
    h_warning: float
    """Indicator for |h| at 5 %."""
    h_action: float
    """Indicator for |h| at 1 %."""
    k_warning: FloatArray
    """Indicator for k at 5 %, by each student's number of runs."""
    k_action: FloatArray
    """The same at 1 %."""


def grubbs(values: ArrayLike) -> Screening | None:
    """Return Grubbs' test for the value furthest from the mean, on either side; None for fewer than three or for equal
    values.

    Source: ISO 5725-2:1994, 7.3.4; Grubbs (1969).
    """
    array, place = _there(values)
    sd = float(array.std(ddof=1)) if array.size >= critical.FEWEST else 0.0
    if not _spread(array, sd):
        return None
    reach = np.abs(array - array.mean()) / sd
    which = int(np.argmax(reach))
    g, limit = float(reach[which]), critical.grubbs(array.size, ALPHA)
    return Screening("Grubbs", array.size, None, g, limit, ALPHA, 2, g > limit, (int(place[which]),))


def grubbs_pair(values: ArrayLike, side: str = "upper") -> Screening | None:
    """Return Grubbs' test for the two highest ("upper") or two lowest values; None for n below 4 or above 100.

    The statistic is the share of the sum of squares that is left without the two: small means that they stand out.
    Source: ISO 5725-2:1994, 7.3.4.
    """
    array, place = _there(values)
    limit = _kept(critical.GRUBBS_PAIR, array.size - 4)
    if limit is None or not _spread(array, float(array.std(ddof=1))):
        return None
    order = np.argsort(array, kind="stable")
    two = order[-2:] if side == "upper" else order[:2]
    rest = np.delete(array, two)
    ratio = float(np.sum((rest - rest.mean()) ** 2) / np.sum((array - array.mean()) ** 2))
    name = "Grubbs, two highest" if side == "upper" else "Grubbs, two lowest"
    where = tuple(int(place[i]) for i in two)
    return Screening(name, array.size, None, ratio, limit, ALPHA, 2, ratio < limit, where)


def dixon(values: ArrayLike) -> Screening | None:
    """Return Dixon's Q (r10): gap to the neighbour over the range, at whichever end it is larger.

    None for fewer than 3 or more than 30 values, or for equal values. Source: Dixon (1951); Dean and Dixon (1951).
    """
    array, place = _there(values)
    limit = _kept(critical.DIXON, array.size - critical.FEWEST)
    if limit is None or not _spread(array, float(array.std(ddof=1))):
        return None
    order = np.argsort(array, kind="stable")
    ordered = array[order]
    low, high = float(ordered[1] - ordered[0]), float(ordered[-1] - ordered[-2])
    q = max(low, high) / float(ordered[-1] - ordered[0])
    which = order[-1] if high >= low else order[0]
    return Screening("Dixon", array.size, None, q, limit, ALPHA, 2, q > limit, (int(place[which]),))


def cochran(values: ArrayLike, group: Iterable[Any]) -> Screening | None:
    """Return Cochran's test: does one student's scatter stand out among the students with two runs or more?

    Numbers of runs that differ are taken at the commonest, as ISO 5725-2:1994, 7.3.3, allows where few differ.
    None for fewer than two such students, or where nobody scatters at all.
    """
    seen = cells(values, group)
    place = np.flatnonzero(seen.n > 1)
    variance = seen.sd[place] ** 2
    if place.size < 2 or not float(variance.sum()) > 0:
        return None
    runs = int(np.argmax(np.bincount(seen.n[place])))  # the smaller of two that tie
    which = int(np.argmax(variance))
    c = float(variance[which] / variance.sum())
    limit = critical.cochran(place.size, runs, ALPHA)
    return Screening("Cochran", place.size, runs, c, limit, ALPHA, 1, c > limit, (seen.names[int(place[which])],))


def mandel(values: ArrayLike, group: Iterable[Any]) -> Mandel | None:
    """Return Mandel's h and k of every student with their indicators at 5 % and 1 %; None for fewer than 3 students.

    h = (m_i − mean)/sd of the means; k = s_i/sqrt(mean of the s_i²). With unequal runs every student counts alike.
    Source: ISO 5725-2:1994, 7.3.1; indicators as in its Tables 6 and 7, worked out.
    """
    seen = cells(values, group)
    p = len(seen.names)
    if p < critical.FEWEST:
        return None
    spread = float(seen.mean.std(ddof=1))
    h = (seen.mean - seen.mean.mean()) / (spread if spread > 0 else np.inf)
    several = seen.n > 1
    pooled = float(np.sqrt(np.mean(seen.sd[several] ** 2))) if several.any() else 0.0
    k = seen.sd / (pooled if pooled > 0 else np.nan)
    warning, action = (_k_indicators(seen.n, int(several.sum()), alpha) for alpha in (0.05, 0.01))
    return Mandel(seen.names, h, k, seen.n, critical.mandel_h(p, 0.05), critical.mandel_h(p, 0.01), warning, action)


def _k_indicators(runs: IntArray, students: int, alpha: float) -> FloatArray:
    """Return each student's indicator for k by the number of runs; NaN for one run or one student alone."""
    out = np.full(runs.size, np.nan)
    if students > 1:
        for n in np.unique(runs[runs > 1]).tolist():
            out[runs == n] = critical.mandel_k(students, n, alpha)
    return out


def _kept(table: Sequence[float], place: int) -> float | None:
    """Return a critical value by its place in a table; None where there is none."""
    return table[place] if 0 <= place < len(table) else None


def _there(values: ArrayLike) -> tuple[FloatArray, IntArray]:
    """Return the values that are there, and their places in what was given."""
    array = floats(values)
    place = np.flatnonzero(np.isfinite(array)).astype(np.int64)
    return array[place], place


def _spread(array: FloatArray, sd: float) -> bool:
    """Say whether the values differ by more than rounding of floats."""
    return sd > 1e-14 * float(np.abs(array).max(initial=0.0))
