"""How far a result lies from the reference: z, z′, zeta and E_n, each with the word that goes with it.

    z    = (x − X)/σ              σ is what is asked of the class
    z′   = (x − X)/sqrt(σ² + u²)  where the reference's own u is no longer small beside σ (from 0.3 σ up)
    zeta = (x − X)/sqrt(u_x² + u²)    against what the result and the reference claim for themselves
    E_n  = (x − X)/sqrt(U_x² + U²)    the same with expanded uncertainties: inside ±1 the two agree

Source: ISO 13528:2022, formulas (10) and (14) to (20), 9.4.2 and 9.7.2.
All take arrays or single numbers and return what they were given.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, nan, sqrt

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import BoolArray, FloatArray
from labmark.analyse.robust import U_FACTOR

WARNING = 2.0
"""|z| above this is a warning signal (2.0 itself is acceptable); ISO 13528:2022, 9.4.2."""
ACTION = 3.0
"""|z| from this on is an action signal; ISO 13528:2022, 9.4.2."""
NEGLIGIBLE = 0.3
"""A reference's u below this share of σ may be left out of the score; ISO 13528:2022, 9.2.1 (strictly below)."""
DEFAULT_SIGMA = 0.01
"""σ as a share of the reference where the practical does not set it (1 %; the project's own default)."""

ACCEPTABLE, WARN, ACT = "acceptable", "warning signal", "action signal"


@dataclass(frozen=True, slots=True)
class Comparison:
    """A result held against the reference, both with their uncertainties."""

    difference: float
    """Result less reference, in the unit of the result."""
    combined_expanded: float
    """sqrt(U_x² + U_ref²): the largest difference that the two uncertainties explain."""
    zeta: float
    en: float
    inside: bool
    """Whether the two uncertainties explain the difference (|E_n| < 1)."""
    sentence: str
    """The same in words, without figures or units."""


def z(x: ArrayLike, reference: ArrayLike, sigma: ArrayLike) -> FloatArray:
    """Return (x − reference)/σ; NaN where σ is 0 or a figure is missing."""
    return _ratio(_difference(x, reference), np.asarray(sigma, dtype=np.float64))


def z_prime(x: ArrayLike, reference: ArrayLike, sigma: ArrayLike, u_reference: ArrayLike) -> FloatArray:
    """Return (x − reference)/sqrt(σ² + u²), which lets the reference's own uncertainty count."""
    return _ratio(_difference(x, reference), _root(sigma, u_reference))


def zeta(x: ArrayLike, u_x: ArrayLike, reference: ArrayLike, u_reference: ArrayLike) -> FloatArray:
    """Return (x − reference)/sqrt(u_x² + u²), standard uncertainties; both must have arisen independently."""
    return _ratio(_difference(x, reference), _root(u_x, u_reference))


def en(x: ArrayLike, expanded_x: ArrayLike, reference: ArrayLike, expanded_reference: ArrayLike) -> FloatArray:
    """Return (x − reference)/sqrt(U_x² + U²), expanded uncertainties."""
    return _ratio(_difference(x, reference), _root(expanded_x, expanded_reference))


def needs_z_prime(u_reference: float, sigma: float) -> bool:
    """Say whether the reference's u is too large to be left out of the score (u ≥ 0.3 σ)."""
    return not u_reference < NEGLIGIBLE * sigma


def consensus_uncertainty(robust_sd: float, results: int) -> float:
    """Return u(x*) = 1.25 s*/sqrt(p) of a consensus of p results; NaN without results (ISO 13528:2022, 7.7.3)."""
    return U_FACTOR * robust_sd / sqrt(results) if results else nan


def sigma_from_precision(reproducibility_sd: float, repeatability_sd: float, runs: float) -> float:
    """Return σ = sqrt(s_R² − s_r²(1 − 1/m)) for means of m runs (ISO 13528:2022, 8.5)."""
    return sqrt(max(0.0, reproducibility_sd**2 - repeatability_sd**2 * (1 - 1 / runs)))


def word(score: float) -> str:
    """Return "acceptable", "warning signal" or "action signal" for a z, z′ or zeta; "" for a missing one."""
    if not isfinite(score):
        return ""
    size = abs(score)
    return ACT if size >= ACTION else WARN if size > WARNING else ACCEPTABLE


def en_word(score: float) -> str:
    """Return "acceptable" or "action signal" for an E_n (no warning between; 1.0 is an action signal)."""
    return "" if not isfinite(score) else ACT if abs(score) >= 1 else ACCEPTABLE


def signals(scores: ArrayLike) -> tuple[BoolArray, BoolArray]:
    """Return where z, z′ or zeta calls for a warning, and where for action (never both)."""
    size = np.abs(np.asarray(scores, dtype=np.float64))
    action = size >= ACTION
    return (size > WARNING) & ~action, action


def compare(
    x: float, u_x: float, expanded_x: float, reference: float, u_reference: float, expanded_reference: float
) -> Comparison:
    """Return whether the combined uncertainty explains a difference, as figures and a sentence.

    Where result and reference rest on the same standard solution, its share cancels in the difference: leave it out
    of both, or the test is too kind.
    """
    score = float(en(x, expanded_x, reference, expanded_reference))
    inside = abs(score) < 1
    both = sqrt(expanded_x**2 + expanded_reference**2)
    standard = float(zeta(x, u_x, reference, u_reference))
    return Comparison(x - reference, both, standard, score, inside, _sentence(x - reference, inside))


def _sentence(difference: float, inside: bool) -> str:
    """Return what a comparison means at the bench."""
    if inside:
        return (
            "The difference from the reference is inside the combined uncertainty: glassware, reading and reference "
            "explain it."
        )
    side = "above" if difference > 0 else "below"
    return (
        f"The result lies {side} the reference by more than the combined uncertainty: glassware and reading alone do "
        "not explain it."
    )


def _difference(x: ArrayLike, reference: ArrayLike) -> FloatArray:
    return np.asarray(np.asarray(x, dtype=np.float64) - np.asarray(reference, dtype=np.float64))


def _root(a: ArrayLike, b: ArrayLike) -> FloatArray:
    return np.asarray(np.hypot(np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)))


def _ratio(top: FloatArray, bottom: FloatArray) -> FloatArray:
    """Return top/bottom, NaN where bottom is not above 0."""
    safe = np.where(bottom > 0, bottom, np.nan)
    return np.asarray(top / safe)
