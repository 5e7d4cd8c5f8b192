"""Critical values of the screening tests, worked out rather than copied from tables.

Printed tables disagree (one-sided against two-sided, two decimals, misprints); these come from the distributions.

- Grubbs, single: from Student's t (closed form).
- Grubbs, two at one end: by recursion. Take the largest value away: what is left is a normal sample of n − 1 again, and
  how far its own largest lies out does not depend on the one taken away. One integral per value gives the law.
- Dixon r10: a double integral over the normal law.
- Cochran, and Mandel's h and k: from F and t (closed form).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import sqrt

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.laws import t_quantile

FEWEST = 3
"""Fewest values of a test for one outlier."""

PRECISION = 1e-12
"""How closely a critical value between 0 and 1 is solved for."""

MOST_STEPS = 200
"""A stop far beyond what any law needs (about 25)."""

MOST_EXACT = 100
"""Largest n for the tests whose law needs an integral (Dixon, two at one end): far beyond any class."""


def grubbs(n: int, alpha: float = 0.05, sides: int = 2) -> float:
    """Return the critical G = |x − mean|/s of one outlier among n ≥ 3.

    G = (n − 1)/√n × sqrt(t²/(n − 2 + t²)), t the upper α/(sides × n) point with n − 2 degrees of freedom.
    Two sides where either end may be out (the columns of ISO 5725-2, Table 5); one where the end was named before.
    """
    t = float(t_quantile(1 - alpha / (sides * n), n - 2))
    return (n - 1) / sqrt(n) * sqrt(t**2 / (n - 2 + t**2))


@lru_cache(maxsize=256)
def grubbs_pair(n: int, alpha: float = 0.05, sides: int = 2) -> float:
    """Return the critical SS(without two)/SS(all) of the two largest (or two smallest) among 4 ≤ n ≤ 100.

    Smaller ratios are the more surprising. Two sides: α/2 for either end, as in ISO 5725-2, Table 5.
    """
    return _solve(lambda ratio: _pair_law(n, ratio), alpha / sides)


@lru_cache(maxsize=256)
def dixon(n: int, alpha: float = 0.05) -> float:
    """Return the critical r10 = gap/range of one outlier at either end (two-sided), 3 ≤ n ≤ 100.

    P(r10 > R) at one end = n(n − 1) ∫∫ φ(x) φ(x − v) [Φ(x − Rv) − Φ(x − v)]^(n−2) dv dx, doubled for both ends.
    Doubling is exact where R > 1/2, and on the safe side below. Source: Dixon (1951), Ann. Math. Stat. 22, 68.
    """
    return _solve(lambda ratio: 1 - 2 * _dixon_tail(n, ratio), 1 - alpha)


def cochran(p: int, n: float, alpha: float = 0.05) -> float:
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


def _solve(law: Callable[[float], float], target: float) -> float:
    """Return where a rising law on 0 to 1 reaches `target`: by false position that never keeps an end twice (Illinois).

    A call of the law is an integral; halving would take five times as many of them.
    """
    low, high = 0.0, 1.0
    below, above = law(low) - target, law(high) - target
    moved = 0
    for _ in range(MOST_STEPS):
        middle = (low * above - high * below) / (above - below)
        value = law(middle) - target
        if abs(value) < PRECISION or high - low < PRECISION:
            break
        if value < 0:
            low, below, above = middle, value, above / 2 if moved < 0 else above
        else:
            high, above, below = middle, value, below / 2 if moved > 0 else below
        moved = -1 if value < 0 else 1
    return middle


def _nodes(low: float, high: float, count: int) -> tuple[FloatArray, FloatArray]:
    """Return Gauss-Legendre nodes and weights on an interval."""
    x, w = np.polynomial.legendre.leggauss(count)
    return low + (x + 1) * (high - low) / 2, w * (high - low) / 2


@lru_cache(maxsize=8)
def _dixon_grid(n: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return x, v and the weight φ(x) φ(x − v) n(n − 1) at every node."""
    x, wx = _nodes(-6.0, 8.0, 96)
    v, wv = _nodes(0.0, 12.0, 96)
    grid_x, grid_v = x[:, None], v[None, :]
    density = np.exp(-(grid_x**2 + (grid_x - grid_v) ** 2) / 2) / (2 * np.pi)
    return grid_x, grid_v, n * (n - 1) * density * wx[:, None] * wv[None, :]


def _dixon_tail(n: int, ratio: float) -> float:
    """Return P(r10 > ratio) at one end."""
    from scipy.special import ndtr

    x, v, weight = _dixon_grid(n)
    return float(np.sum(weight * (ndtr(x - ratio * v) - ndtr(x - v)) ** (n - 2)))


# Two outliers at one end. g is how many standard deviations a value lies above the mean of its sample of m.
# Taking it away leaves the share 1 − m g²/(m − 1)² of the sum of squares, with what follows for the rest.

GRID = 3201
"""Places at which a law is kept between its ends; twice as many change a critical value by less than 1e-6."""


def _widest(m: int) -> float:
    """Return the largest g possible in a sample of m."""
    return (m - 1) / sqrt(m)


def _tail(m: int, g: FloatArray) -> FloatArray:
    """Return P(one named value lies more than g above the mean), in a sample of m ≥ 3."""
    from scipy.special import stdtr

    inside = np.clip(g, 0.0, _widest(m) * (1 - 1e-14))
    t = np.sqrt((m - 2) * m * inside**2 / ((m - 1) ** 2 - m * inside**2))
    return np.asarray(np.where(g >= _widest(m), 0.0, stdtr(m - 2, -t)), dtype=np.float64)


@lru_cache(maxsize=256)
def _largest_law(m: int) -> tuple[FloatArray, FloatArray]:
    """Return places g and P(the largest of m lies less than g above the mean)."""
    # The largest of m is at least this far out: the others can at best all equal it, less one.
    g = np.linspace(1 / sqrt(m), _widest(m), GRID)
    if m == 2:
        # Two values: the larger always lies 1/√2 standard deviations above the mean.
        return np.array([0.0, 1 / sqrt(2), 1 / sqrt(2)]), np.array([0.0, 0.0, 1.0])
    middle = (g[1:] + g[:-1]) / 2
    mass = -m * np.diff(_tail(m, g))
    steps = mass * _below(m - 1, _rest_at(m, middle))
    law = np.concatenate(([0.0], np.cumsum(steps)))
    return g, np.minimum(law / law[-1], 1.0)


def _rest_at(m: int, g: FloatArray) -> FloatArray:
    """Return how far a value at g in m lies above the mean of the m − 1 others, in their standard deviations."""
    left = np.maximum(1 - m * g**2 / (m - 1) ** 2, 1e-300)
    return np.asarray(g * _scale(m) / np.sqrt(left), dtype=np.float64)


def _g_at(m: int, rest: FloatArray) -> FloatArray:
    """Return the g in m of a value that lies `rest` standard deviations above the mean of the m − 1 others."""
    return np.asarray(rest / np.sqrt(_scale(m) ** 2 + m * (rest / (m - 1)) ** 2), dtype=np.float64)


def _scale(m: int) -> float:
    """Return what turns g into a distance from the others' mean, but for what taking the value away leaves."""
    return m / (m - 1) * sqrt((m - 2) / (m - 1))


def _below(m: int, g: FloatArray) -> FloatArray:
    """Return P(the largest of m lies less than g above the mean)."""
    places, law = _largest_law(m)
    return np.asarray(np.interp(g, places, law), dtype=np.float64)


def _pair_law(n: int, ratio: float) -> float:
    """Return P(SS without the two largest/SS of all < ratio)."""
    places, law = _largest_law(n - 1)
    second = (places[1:] + places[:-1]) / 2
    mass = np.diff(law)
    left = np.maximum(1 - (n - 1) * second**2 / (n - 2) ** 2, 1e-300)
    # The largest must lie above the second, and far enough out to bring the ratio down.
    above = _g_at(n, second)
    share = np.clip(ratio / left, 0.0, 1.0)
    enough = (n - 1) / sqrt(n) * np.sqrt(1 - share)
    return float(np.sum(mass * n * _tail(n, np.maximum(above, enough))))
