"""How far a result lies from the reference: z, z′, zeta and E_n.

    z    = (x − X)/σ              σ is what is asked of the class
    z′   = (x − X)/sqrt(σ² + u²)  where the reference's own u is no longer small beside σ (from 0.3 σ up)
    zeta = (x − X)/sqrt(u_x² + u²)    against what the result and the reference claim for themselves
    E_n  = (x − X)/sqrt(U_x² + U²)    the same with expanded uncertainties: inside ±1 the two agree

Source: ISO 13528:2022, formulas (10) and (14) to (20), and 9.7.2.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan, sqrt

import numpy as np

NEGLIGIBLE = 0.3
"""A reference's u below this share of σ may be left out of the score; ISO 13528:2022, 9.2.1 (strictly below)."""


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


def z(x: float, reference: float, sigma: float) -> float:
    """Return (x − reference)/σ; NaN where σ is 0 or a figure is missing."""
    return _ratio(x - reference, sigma)


def z_prime(x: float, reference: float, sigma: float, u_reference: float) -> float:
    """Return (x − reference)/sqrt(σ² + u²), which lets the reference's own uncertainty count."""
    return _ratio(x - reference, _root(sigma, u_reference))


def zeta(x: float, u_x: float, reference: float, u_reference: float) -> float:
    """Return (x − reference)/sqrt(u_x² + u²), standard uncertainties; both must have arisen independently."""
    return _ratio(x - reference, _root(u_x, u_reference))


def en(x: float, expanded_x: float, reference: float, expanded_reference: float) -> float:
    """Return (x − reference)/sqrt(U_x² + U²), expanded uncertainties."""
    return _ratio(x - reference, _root(expanded_x, expanded_reference))


def needs_z_prime(u_reference: float, sigma: float) -> bool:
    """Say whether the reference's u is too large to be left out of the score (u ≥ 0.3 σ)."""
    return not u_reference < NEGLIGIBLE * sigma


def compare(
    x: float, u_x: float, expanded_x: float, reference: float, u_reference: float, expanded_reference: float
) -> Comparison:
    """Return whether the combined uncertainty explains a difference.

    Where result and reference rest on the same standard solution, its share cancels in the difference: leave it out
    of both, or the test is too kind.
    """
    score = en(x, expanded_x, reference, expanded_reference)
    inside = abs(score) < 1
    both = sqrt(expanded_x**2 + expanded_reference**2)
    standard = zeta(x, u_x, reference, u_reference)
    return Comparison(x - reference, both, standard, score, inside)


def _root(a: float, b: float) -> float:
    return float(np.hypot(a, b))


def _ratio(top: float, bottom: float) -> float:
    """Return top/bottom, NaN where bottom is not above 0."""
    return top / bottom if bottom > 0 else nan
