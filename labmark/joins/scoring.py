"""How far each result lies from its reference, in σ and in its own uncertainty; and the accuracy bands."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from labmark.analyse import scores
from labmark.assessed import ReferenceValue, Uncertain
from labmark.figures import significant
from labmark.formula import Curve
from labmark.practical import Practical
from labmark.units import shown_unit
from labmark.volumes import fraction

COVERAGE = 2.0
"""Coverage factor of a reference whose degrees of freedom nobody states (GUM 6.3.3)."""


def sigma_of(practical: Practical, reference: ReferenceValue | None) -> float | None:
    """Return σ for the scores: as the practical sets it, or its percentage of the reference."""
    if practical.file.scores.sigma is not None:
        return float(practical.file.scores.sigma)
    return None if reference is None else float(practical.file.scores.sigma_percent) / 100 * reference.value


def percent_error(result: float | None, reference: ReferenceValue | None) -> float | None:
    """Return the difference from the reference in per cent of it."""
    return None if result is None or reference is None else 100 * (result - reference.value) / reference.value


def z_of(result: float | None, reference: ReferenceValue | None, practical: Practical) -> float | None:
    """Return z = (result − reference)/σ (ISO 13528:2022, 9.4)."""
    sigma = sigma_of(practical, reference)
    if result is None or reference is None or not sigma:
        return None
    return scores.z(result, reference.value, sigma)


def z_prime_of(result: float | None, reference: ReferenceValue | None, practical: Practical) -> float | None:
    """Return z′, where the reference is too uncertain to be left out of the score (u ≥ 0.3 σ); otherwise None."""
    sigma = sigma_of(practical, reference)
    if result is None or reference is None or not sigma or not reference.standard_uncertainty:
        return None
    u = reference.standard_uncertainty
    return scores.z_prime(result, reference.value, sigma, u) if scores.needs_z_prime(u, sigma) else None


def comparison(
    result: float | None, reference: ReferenceValue | None, uncertain: Uncertain | None, practical: Practical
) -> Mapping[str, Any] | None:
    """Return whether the combined uncertainty explains the difference from the reference, in figures and a sentence.

    Held against the class's own centre the standard's concentration is in both alike, so it is left out of both. A
    reference without a stated uncertainty counts as exact, and the sentence says so.
    """
    if result is None or reference is None or uncertain is None or not uncertain.standard > 0:
        return None
    own = uncertain.standard, uncertain.expanded
    if reference.source == "class":
        own = uncertain.unshared_standard, uncertain.unshared_expanded
    u = reference.standard_uncertainty or 0.0
    found = scores.compare(result, *own, reference.value, u, COVERAGE * u)
    return {
        "difference": found.difference,
        "combined_expanded": found.combined_expanded,
        "zeta": found.zeta,
        "en": found.en,
        "inside": found.inside,
        "sentence": _sentence(found, reference, practical.unit),
    }


def _sentence(found: scores.Comparison, reference: ReferenceValue, unit: str) -> str:
    """Return the comparison in words, with its two figures."""
    words = found.sentence.rstrip(".")
    if reference.source == "class":
        words = words.replace("the reference", "the centre of the class").replace("and reference", "and centre")
    size, reach = (
        f"{significant(fraction(repr(abs(each))), 2):f}" for each in (found.difference, found.combined_expanded)
    )
    against = f"{size} against ± {reach} {shown_unit(unit)}".rstrip()
    exact = "" if reference.standard_uncertainty else " No uncertainty is stated for the reference: it counts as exact."
    return f"{words} ({against}).{exact}"


def bands_about(practical: Practical, curve: Curve, reference: ReferenceValue | None) -> list[dict[str, Any]]:
    """Return the accuracy bands about a reference in the unit of the result, best first."""
    criterion = next((each for each in practical.file.marks if each.criterion == "accuracy"), None)
    expected = None if reference is None else curve.titre(reference.exact)
    if criterion is None or expected is None:
        return []
    made = []
    for band in criterion.bands:
        width = Fraction(band.within) * (1 if criterion.unit == "cm3" else expected / 100)
        if curve.gives(expected - width) and curve.gives(expected + width):
            low, high = sorted(float(curve.result(titre)) for titre in (expected - width, expected + width))
            made.append({"mark": _mark(band.mark), "low": low, "high": high})
    return made


def _mark(mark: Decimal) -> int | float:
    return int(mark) if mark == int(mark) else float(mark)
