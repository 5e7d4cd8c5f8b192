"""Critical values of the screening tests, worked out rather than copied from tables.

Printed tables disagree (one-sided against two-sided, two decimals, misprints); these come from the distributions.

- Grubbs: from Student's t (closed form).
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


def grubbs(n: int, alpha: float = 0.05, sides: int = 2) -> float:
    """Return the critical G = |x − mean|/s of one outlier among n ≥ 3.

    G = (n − 1)/√n × sqrt(t²/(n − 2 + t²)), t the upper α/(sides × n) point with n − 2 degrees of freedom.
    Two sides where either end may be out (the columns of ISO 5725-2, Table 5); one where the end was named before.
    """
    t = float(t_quantile(1 - alpha / (sides * n), n - 2))
    return (n - 1) / sqrt(n) * sqrt(t**2 / (n - 2 + t**2))


@lru_cache(maxsize=256)
def dixon(n: int, alpha: float = 0.05) -> float:
    """Return the critical r10 = gap/range of one outlier at either end (two-sided), n ≥ 3.

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
