"""How far a result lies from what it is held against, said in σ and in its own uncertainty:

    z    = (x − X)/σ              σ is what is asked of the class
    z′   = (x − X)/sqrt(σ² + u²)  where the reference's own u is no longer small beside σ (from 0.3 σ up)
    zeta = (x − X)/sqrt(u_x² + u²)    against what the result and the reference claim for themselves
    E_n  = (x − X)/sqrt(U_x² + U²)    the same with expanded uncertainties: inside ±1 the two agree

Source: ISO 13528:2022, formulas (10) and (14) to (20), and 9.7.2.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from math import isfinite, nan, sqrt
from typing import Any

import numpy as np

from labmark.assessed import ReferenceValue, Uncertain
from labmark.figures import decimals_of, magnitude, significant
from labmark.formula import Curve
from labmark.judge.marks import as_number
from labmark.practical import Practical
from labmark.units import shown_unit
from labmark.volumes import fraction, round_fraction

NEGLIGIBLE = 0.3
"""A reference's u below this share of σ may be left out of the score; ISO 13528:2022, 9.2.1 (strictly below)."""
COVERAGE = 2.0
"""Coverage factor of a reference whose degrees of freedom nobody states (GUM 6.3.3)."""


def score(difference: float, spread: float, other: float = 0.0) -> float:
    """Return a difference from the reference over its spread, or over two in quadrature; NaN where these are 0."""
    bottom = float(np.hypot(spread, other))
    return difference / bottom if bottom > 0 else nan


def sigma_of(practical: Practical, reference: ReferenceValue | None) -> float | None:
    """Return σ for the scores: as the practical sets it, or its percentage of the reference."""
    if practical.file.scores.sigma is not None:
        return float(practical.file.scores.sigma)
    return None if reference is None else float(practical.file.scores.sigma_percent) / 100 * reference.value


def percent_error(result: float | None, reference: ReferenceValue | None) -> float | None:
    """Return the difference from the reference in per cent of it."""
    return None if result is None or reference is None else 100 * (result - reference.value) / reference.value


def z_of(result: float | None, held: float | None, sigma: float | None) -> float | None:
    """Return z = (result − what it is held against)/σ (ISO 13528:2022, 9.4)."""
    if result is None or held is None or not isfinite(held) or not sigma:
        return None
    return score(result - held, sigma)


def z_prime_of(result: float | None, reference: ReferenceValue | None, practical: Practical) -> float | None:
    """Return z′, where the reference is too uncertain to be left out of the score (u ≥ 0.3 σ); otherwise None."""
    sigma = sigma_of(practical, reference)
    if result is None or reference is None or not sigma or not reference.standard_uncertainty:
        return None
    u = reference.standard_uncertainty
    return None if u < NEGLIGIBLE * sigma else score(result - reference.value, sigma, u)


def comparison(
    result: float | None, reference: ReferenceValue | None, uncertain: Uncertain | None, practical: Practical
) -> Mapping[str, Any] | None:
    """Return whether the combined uncertainty explains the difference from the reference, in figures and a sentence.

    A reference without a stated uncertainty counts as exact, and the sentence says so.
    """
    if result is None or reference is None or uncertain is None or not uncertain.budget.standard_uncertainty > 0:
        return None
    standard, expanded = _claimed(uncertain, reference)
    u, difference = reference.standard_uncertainty or 0.0, result - reference.value
    combined, en = sqrt(expanded**2 + (COVERAGE * u) ** 2), score(difference, expanded, COVERAGE * u)
    return {
        "difference": difference,
        "combined_expanded": combined,
        "zeta": score(difference, standard, u),
        "en": en,
        "inside": abs(en) < 1,
        "sentence": _sentence(combined, result, reference, practical, inside=abs(en) < 1),
    }


def _claimed(uncertain: Uncertain, reference: ReferenceValue) -> tuple[float, float]:
    """Return the standard and the expanded uncertainty of a result beside its reference.

    Held against the class's own centre the standard's concentration is in both alike, so it is left out of both.
    """
    own = uncertain.budget
    return uncertain.unshared if reference.source == "class" else (own.standard_uncertainty, own.expanded)


_HELD = {
    "class": ("the centre of the class", "glassware and reading"),
    "practical": ("the reference", "glassware, reading and reference"),
}
"""Source of a reference -> what it is called, and what may explain a difference from it."""


def _sentence(combined: float, result: float, reference: ReferenceValue, practical: Practical, *, inside: bool) -> str:
    """Return the comparison in words; the difference is that of the two as they are printed."""
    unit, (whose, by) = practical.unit, _HELD[reference.source]
    shown_ones = printed(result, reference, practical.file.result.significant_figures)
    off = abs(Decimal(shown_ones["result"]) - Decimal(shown_ones["reference"]))
    reach = difference_shown(f"± {significant(fraction(combined), 2):f}", unit)
    size = difference_shown(f"{off:f}", unit)
    exact = "" if reference.standard_uncertainty else " No uncertainty is stated for the reference: it counts as exact."
    if not inside:
        return (
            f"The result lies {size} {'above' if result > reference.value else 'below'} {whose}, which is more than "
            f"the combined uncertainty of {reach}: glassware and reading alone do not explain it.{exact}"
        )
    if not off:
        return f"The result and {whose} are the same, as printed; the combined uncertainty is {reach}.{exact}"
    return (
        f"The difference from {whose}, {size}, is inside the combined uncertainty of {reach}: {by} explain it.{exact}"
    )


def difference_shown(size: str, unit: str) -> str:
    """Return how far two results in a unit are apart, with what that is counted in."""
    # Beside percentages a bare 1 % might be taken for a hundredth of one.
    return f"{size} {'percentage points' if unit == '%' else shown_unit(unit)}".rstrip()


def printed(result: float | None, reference: ReferenceValue | None, figures: int) -> dict[str, Any]:
    """Return {"result", "reference", "percent"} as they are printed everywhere.

    The result has as many digits as the reference (or the figures asked for, if these are more), and the percentage is
    reckoned from the two as printed, so that it can be reckoned again. None for what there is not.
    """
    if reference is None:
        decimals = None if result is None else figures - 1 - magnitude(fraction(result))
    else:
        decimals = decimals_beside(reference, figures)
    held = None if reference is None else round_fraction(reference.exact, decimals or 0)
    own = None if result is None else round_fraction(fraction(result), decimals or 0)
    off = (
        None if own is None or not held else round_fraction((fraction(own) - fraction(held)) / fraction(held) * 100, 1)
    )
    return {"result": own and f"{own:f}", "reference": held and f"{held:f}", "percent": off}


def decimals_beside(reference: ReferenceValue, figures: int) -> int:
    """Return the decimals with which a result and its reference are printed beside one another."""
    asked = figures - 1 - magnitude(reference.exact)
    return asked + 1 if reference.source == "class" else max(asked, decimals_of(reference.exact))


def bands_about(practical: Practical, curve: Curve, reference: ReferenceValue | None) -> list[dict[str, Any]]:
    """Return the accuracy bands about a reference in the unit of the result, best first.

    Those of a result that rests on several titres are per cent of its reference, all others of the expected titre.
    """
    criterion = next((each for each in practical.file.marks if each.criterion == "accuracy"), None)
    if criterion is None or reference is None:
        return []
    of_result = bool(practical.series.others(practical.unknown))
    made = []
    for band in criterion.bands:
        within = Fraction(band.within)
        ends = (
            [reference.value * (1 + side * float(within) / 100) for side in (-1, 1)]
            if of_result
            else _of_titres(within, criterion.unit, reference, curve)
        )
        if len(ends) == 2:
            made.append({"mark": as_number(band.mark), "low": ends[0], "high": ends[1]})
    return made


def _of_titres(within: Fraction, unit: str, reference: ReferenceValue, curve: Curve) -> list[float]:
    """Return the results, smallest first, of the titres so far below and above the expected one, those that there are;
    `unit` is "cm3" or "percent"."""
    expected = curve.titre(reference.exact)
    if expected is None:
        return []
    width = within * (1 if unit == "cm3" else expected / 100)
    results = (curve.result(titre) for titre in (expected - width, expected + width))
    return sorted(float(result) for result in results if result is not None)
