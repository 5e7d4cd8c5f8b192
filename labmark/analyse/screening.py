"""Screening for values and students that stand out: Grubbs, Dixon, Cochran, Mandel's h and k.

Each test returns its n, its statistic and the critical value for that n, and says whether the statistic is beyond it.
None of them decides a mark or leaves a result out: Algorithm A needs no value removed. They are shown because textbooks
name them, and because "how far is far, for so few values?" deserves a figure. With three values none of them says much.

    >>> grubbs([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]).beyond
    True
"""

from collections.abc import Iterable, Sequence
from math import sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, IntArray, floats
from labmark.analyse.precision import cells
from labmark.laws import t_quantile

ALPHA = 0.05
"""Chance that a clean normal sample is beyond the critical value."""
FEWEST = 3
"""Fewest values of a test for one outlier."""


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
    sd = float(array.std(ddof=1)) if array.size >= FEWEST else 0.0
    if not _spread(array, sd):
        return None
    reach = np.abs(array - array.mean()) / sd
    which = int(np.argmax(reach))
    g, limit = float(reach[which]), grubbs_limit(array.size, ALPHA)
    return Screening("Grubbs", array.size, None, g, limit, ALPHA, 2, g > limit, (int(place[which]),))


def grubbs_pair(values: ArrayLike, side: str = "upper") -> Screening | None:
    """Return Grubbs' test for the two highest ("upper") or two lowest values; None for n below 4 or above 100.

    The statistic is the share of the sum of squares that is left without the two: small means that they stand out.
    Source: ISO 5725-2:1994, 7.3.4.
    """
    array, place = _there(values)
    limit = _kept(GRUBBS_PAIR, array.size - 4)
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
    limit = _kept(DIXON, array.size - FEWEST)
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
    limit = cochran_limit(place.size, runs, ALPHA)
    return Screening("Cochran", place.size, runs, c, limit, ALPHA, 1, c > limit, (seen.names[int(place[which])],))


def mandel(values: ArrayLike, group: Iterable[Any]) -> Mandel | None:
    """Return Mandel's h and k of every student with their indicators at 5 % and 1 %; None for fewer than 3 students.

    h = (m_i − mean)/sd of the means; k = s_i/sqrt(mean of the s_i²). With unequal runs every student counts alike.
    Source: ISO 5725-2:1994, 7.3.1; indicators as in its Tables 6 and 7, worked out.
    """
    seen = cells(values, group)
    p = len(seen.names)
    if p < FEWEST:
        return None
    spread = float(seen.mean.std(ddof=1))
    h = (seen.mean - seen.mean.mean()) / (spread if spread > 0 else np.inf)
    several = seen.n > 1
    pooled = float(np.sqrt(np.mean(seen.sd[several] ** 2))) if several.any() else 0.0
    k = seen.sd / (pooled if pooled > 0 else np.nan)
    warning, action = (_k_indicators(seen.n, int(several.sum()), alpha) for alpha in (0.05, 0.01))
    return Mandel(seen.names, h, k, seen.n, mandel_h(p, 0.05), mandel_h(p, 0.01), warning, action)


def _k_indicators(runs: IntArray, students: int, alpha: float) -> FloatArray:
    """Return each student's indicator for k by the number of runs; NaN for one run or one student alone."""
    out = np.full(runs.size, np.nan)
    if students > 1:
        for n in np.unique(runs[runs > 1]).tolist():
            out[runs == n] = mandel_k(students, n, alpha)
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


# Critical values, worked out rather than copied from tables -----------------------------------------------------------
#
# Printed tables disagree (one-sided against two-sided, two decimals, misprints); these come from the distributions.
# Grubbs, two at one end, and Dixon r10 are integrals, which take long: what they come to is kept here.

GRUBBS_PAIR = (
    *(0.0001938, 0.00897897, 0.0348679, 0.0708384, 0.110124, 0.149186, 0.186452, 0.221326, 0.253671, 0.283564),
    *(0.311167, 0.336672, 0.360274, 0.382158, 0.402492, 0.421428, 0.439103, 0.455635, 0.471132, 0.485689),
    *(0.499388, 0.512305, 0.524506, 0.536049, 0.546988, 0.55737, 0.567237, 0.576628, 0.585578, 0.594117),
    *(0.602275, 0.610076, 0.617545, 0.624703, 0.63157, 0.638163, 0.6445, 0.650595, 0.656463, 0.662116),
    *(0.667567, 0.672826, 0.677903, 0.682809, 0.687552, 0.692141, 0.696583, 0.700885, 0.705054, 0.709096),
    *(0.713018, 0.716824, 0.720521, 0.724112, 0.727603, 0.730997, 0.734299, 0.737513, 0.740642, 0.743689),
    *(0.746659, 0.749554, 0.752376, 0.755129, 0.757816, 0.760438, 0.762999, 0.765499, 0.767943, 0.770331),
    *(0.772665, 0.774948, 0.77718, 0.779365, 0.781503, 0.783595, 0.785644, 0.787651, 0.789617, 0.791543),
    *(0.793431, 0.795282, 0.797096, 0.798876, 0.800622, 0.802334, 0.804015, 0.805664, 0.807284, 0.808873),
    *(0.810435, 0.811969, 0.813475, 0.814956, 0.81641, 0.81784, 0.819246),
)
"""Critical SS(without two)/SS(all) at 5 % of the two largest, or the two smallest, of 4, 5, ... 100 values: half of it
for either end, as in ISO 5725-2:1994, Table 5. Smaller ratios are the more surprising.

By recursion: without the largest value a normal sample of n is one of n − 1, and how far its own largest lies out does
not depend on the one taken away, so that one integral a value gives the law (at 3,201 places, which is good to 1e-6).
"""

DIXON = (
    *(0.970213, 0.82975, 0.710239, 0.627511, 0.568952, 0.525602, 0.492195, 0.465594, 0.443843, 0.425673),
    *(0.410223, 0.396891, 0.385242, 0.374957, 0.365792, 0.35756, 0.350114, 0.343338, 0.337137, 0.331435),
    *(0.326169, 0.321285, 0.31674, 0.312497, 0.308522, 0.30479, 0.301275, 0.297958),
)
"""Critical r10 = gap/range at 5 % of one outlier at either end of 3, 4, ... 30 values, as far as published tables go
(Rorabacher 1991, Anal. Chem. 63, 139; from memory).

P(r10 > R) at one end = n(n − 1) ∫∫ φ(x) φ(x − v) [Φ(x − Rv) − Φ(x − v)]^(n−2) dv dx, doubled for both ends, which is
exact where R > 1/2 and on the safe side below (Dixon 1951, Ann. Math. Stat. 22, 68).
"""


def grubbs_limit(n: int, alpha: float = 0.05, sides: int = 2) -> float:
    """Return the critical G = |x − mean|/s of one outlier among n ≥ 3.

    G = (n − 1)/√n × sqrt(t²/(n − 2 + t²)), t the upper α/(sides × n) point with n − 2 degrees of freedom.
    Two sides where either end may be out (the columns of ISO 5725-2, Table 5); one where the end was named before.
    """
    t = float(t_quantile(1 - alpha / (sides * n), n - 2))
    return (n - 1) / sqrt(n) * sqrt(t**2 / (n - 2 + t**2))


def cochran_limit(p: int, n: float, alpha: float = 0.05) -> float:
    """Return the critical largest variance/sum of p variances, of n values each.

    C = F/(F + p − 1), F the upper α/p point with n − 1 and (n − 1)(p − 1) degrees of freedom.
    """
    f = _f_quantile(1 - alpha / p, n - 1, (n - 1) * (p - 1))
    return f / (f + p - 1)


def mandel_h(p: int, alpha: float = 0.05) -> float:
    """Return the indicator for |h| among p ≥ 3 students: (p − 1)t/sqrt(p(t² + p − 2)), t two-sided with p − 2 df."""
    t = float(t_quantile(1 - alpha / 2, p - 2))
    return (p - 1) * t / sqrt(p * (t**2 + p - 2))


def mandel_k(p: int, n: float, alpha: float = 0.05) -> float:
    """Return the indicator for k, p ≥ 2 students of n runs: sqrt(p/(1 + (p − 1)/F)), n − 1 and (p − 1)(n − 1) df."""
    f = _f_quantile(1 - alpha, n - 1, (p - 1) * (n - 1))
    return sqrt(p / (1 + (p - 1) / f))


def _f_quantile(probability: float, top: float, bottom: float) -> float:
    """Return the quantile of the F law."""
    from scipy.special import fdtri

    return float(fdtri(top, bottom, probability))
