"""The normal law and Student's t, in whole arrays. Base: the class statistics and the diagnosis rest on them.

scipy.special has both, but takes 0.07 s to import, a sixth of what `labmark check` takes for a class: only what asks
for F or χ² imports it.

With s² = ln(1 + t²/ν) a tail of Student's t becomes an integral of nearly a normal density, whatever ν is:

    P(T > t) = ½ ∫ₛ h(u) du ÷ ∫₀ h(u) du        h(u) = exp(−ν u²/2) u ÷ √(1 − exp(−u²))

so that no gamma function is needed, and the normal law is only its end, of very many degrees of freedom.
"""

from functools import cache, lru_cache
from math import erfc, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

REACH, FINE = 10, 256
"""Φ is kept so far to either side, at so many places a standard deviation."""
MOST = 1e15
"""With more degrees of freedom t and the normal law agree to the last digit of a float."""
GONE = 80.0
"""Where the density has fallen by exp(−GONE/2), nothing is left of its integral."""
ROUNDS = 6
"""Of Newton's method; from above, four are enough."""
_AT = np.arange(-49, 50) / 16
_ARC = np.pi / 2 * np.sinh(_AT)
NODES, WEIGHTS = (1 + np.tanh(_ARC)) / 2, np.pi / 64 * np.cosh(_AT) / np.cosh(_ARC) ** 2
"""Of an integral from 0 to 1 (tanh-sinh: Takahasi and Mori 1974)."""


@cache
def _kept() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return places, Φ and the normal density at them."""
    at = np.arange(-REACH * FINE, REACH * FINE + 1) / FINE
    return at, np.array([erfc(-z / sqrt(2)) / 2 for z in at.tolist()]), np.exp(-(at**2) / 2) / sqrt(2 * np.pi)


def normal_below(z: FloatArray) -> FloatArray:
    """Return how much of the normal law lies below z: from the nearest kept place by Taylor's series, to 1e-15."""
    places, below, density = _kept()
    z = np.minimum(np.maximum(z, -REACH), REACH)
    nearest = np.rint((z + REACH) * FINE).astype(np.intp)
    x = places[nearest]
    d, square = z - x, x * x
    series = 1 - d / 2 * (x - d / 3 * (square - 1 - d / 4 * x * (square - 3)))
    return np.asarray(below[nearest] + density[nearest] * d * series)


def _beyond(start: FloatArray, dof: FloatArray) -> FloatArray:
    """Return ∫ h(u) du from `start` on, over exp(−ν start²/2)."""
    first, freedom = start[:, None], dof[:, None]
    length = np.sqrt(first**2 + GONE / freedom) - first
    u = first + NODES * length
    return np.asarray((np.exp(freedom * (first**2 - u**2) / 2) * _factor(u) * length) @ WEIGHTS)


def _factor(u: FloatArray) -> FloatArray:
    """Return u ÷ √(1 − exp(−u²))."""
    return np.asarray(u / np.sqrt(-np.expm1(-(u**2))))


def t_quantile(probability: float, dof: ArrayLike) -> FloatArray:
    """Return the quantile of Student's t; `dof` may be any positive number, or infinite (the normal law).

    Source: the distribution itself; GUM Table G.2 prints it (tests/test_uncertainty.py).
    """
    degrees = np.asarray(dof, dtype=np.float64)
    # Most of a class share their degrees of freedom: each quantile is worked out once.
    distinct, back = np.unique(np.minimum(degrees, MOST), return_inverse=True)
    size = _upper_quantiles(min(probability, 1 - probability), tuple(distinct.tolist()))
    return np.asarray(np.copysign(size, probability - 0.5)[back].reshape(degrees.shape))


@lru_cache(maxsize=128)
def _upper_quantiles(tail: float, degrees: tuple[float, ...]) -> FloatArray:
    """Return the quantiles with this tail above them. Many are asked for again and again: the degrees of freedom are
    numbers of students or runs."""
    dof = np.array(degrees)
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = _beyond(np.zeros_like(dof), dof)
        # A tail is less than exp(−ν s²/2) ÷ 2, and its logarithm bends down: Newton's method comes from above.
        s = np.sqrt(-2 * np.log(2 * tail) / dof)
        for _ in range(ROUNDS if tail < 0.5 else 0):
            rest = _beyond(s, dof)
            lacking = np.log(rest / whole / (2 * tail)) - dof * s**2 / 2
            s = s + lacking * rest / _factor(s)
        return np.asarray(np.sqrt(dof * np.expm1(s**2)))


def two_sided_p(statistic: ArrayLike, dof: ArrayLike) -> FloatArray:
    """Return the probability of a t at least as far from zero, on either side."""
    size, degrees = np.broadcast_arrays(np.abs(np.asarray(statistic, dtype=np.float64)), np.minimum(dof, MOST))
    t, freedom = np.minimum(size, 1e150).ravel(), degrees.astype(np.float64).ravel()
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.sqrt(np.log1p(t**2 / freedom))
        p = np.exp(-freedom * s**2 / 2) * _beyond(s, freedom) / _beyond(np.zeros_like(s), freedom)
    return np.asarray(p.reshape(size.shape))
