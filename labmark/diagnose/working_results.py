"""The slips that are named for a written result: what fits, weighed, with the words for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal, DivisionByZero, InvalidOperation
from fractions import Fraction

from labmark.diagnose.working_calculation import Calculation, decimal_text, volume_text
from labmark.diagnose.working_claim import Claim, right_text
from labmark.diagnose.working_digits import digit_slip
from labmark.diagnose.working_fits import Found, all_fits
from labmark.diagnose.working_right import right_reading
from labmark.diagnose.working_rounding import Digits, readings
from labmark.diagnose.working_slips import TOO_FEW, WORTH_BESIDE, WORTH_NAMING, Fit, Slip, merged, said, weigh
from labmark.diagnose.working_sums import at, line, steps, sum_text
from labmark.diagnose.working_ways import OTHER

MOST_LISTED = 5
"""So many causes that fit too are listed, the likeliest first."""


def named(fits: list[Fit], claim: Claim) -> tuple[list[tuple[Fit, float]], list[Fit]]:
    """Return the fits worth naming with their probabilities, and the others; a single slip leaves no room for pairs."""
    ranked = weigh(merged(fits), claim.by_accident)
    worth = [(fit, odds) for fit, odds in ranked if odds >= WORTH_NAMING]
    if sum(odds for _, odds in worth) < 0.5:
        return [], [fit for fit, _ in ranked]
    if any(fit.single for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if fit.single]
    if any(OTHER not in fit.findings for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if OTHER not in fit.findings or odds >= WORTH_BESIDE]
    kept = {fit.findings for fit, _ in worth}
    return worth, [fit for fit, _ in ranked if fit.findings not in kept]


def slips_of(worth: list[tuple[Fit, float]], others: list[Fit], among: Found) -> list[Slip]:
    """Return a slip for each finding of the fits, likeliest first."""
    found: dict[str, Slip] = {}
    for fit, odds in worth:
        for finding, cause in zip(fit.findings, fit.causes, strict=True):
            if finding not in found:
                found[finding] = slip_of(fit, finding, cause, odds, among, causes_of(others))
    return list(found.values())


def slip_of(fit: Fit, finding: str, cause: str, odds: float, among: Found, also: tuple[str, ...]) -> Slip:
    """Return the slip of one finding of a fit."""
    chance = among.singles_by_accident if fit.single else among.all_by_accident
    return Slip(
        finding,
        cause,
        "figures" if cause == TOO_FEW else "calculation",
        said(fit, chance),
        fit.working,
        fit.value,
        tuple(dict.fromkeys(other for other in fit.findings if other != finding)),
        among.tried,
        chance,
        odds,
        also,
    )


def causes_of(fits: list[Fit]) -> tuple[str, ...]:
    """Return the causes of the likeliest of these fits in words."""
    return tuple(dict.fromkeys(" and ".join(fit.causes) for fit in fits))[:MOST_LISTED]


def short_slip(claim: Claim, reading: Digits) -> Slip:
    """Return the slip of a right value with too few figures."""
    asked = claim.calc.significant_figures
    value = at(line(claim.calc), claim.means[0])
    shown = decimal_text(reading.value, reading.decimals)
    right = right_text(claim, claim.means[0])
    message = f"{shown} has too few figures: {asked} significant figures were asked for, as in {right}."
    return Slip("rounding", TOO_FEW, "figures", message, f"{right} → {shown}", value)


def unexplained(claim: Claim, others: list[Fit], among: Found) -> Slip:
    """Return the slip that no sum explains, with what the student's own figures give."""
    mean = claim.means[0]
    right, shown = right_text(claim, mean), decimal_text(claim.value, max(0, claim.written[-1].decimals))
    working = f"{sum_text(steps(claim.calc), mean)} = {right}"
    pen = digit_slip(Decimal(right), Decimal(shown))
    ending = (
        f"it may be a slip of the pen: {pen}" if pen else "no usual slip gives that value: go through the steps again"
    )
    return Slip(
        "result-slip",
        pen or "no usual slip gives this value",
        "calculation",
        f"From a mean of {volume_text(mean)} cm³ the sum is {working}. You wrote {shown}; {ending}.",
        working,
        at(line(claim.calc), mean),
        candidates_tried=among.tried,
        chance=among.all_by_accident,
        also=causes_of(others),
    )


def result_slips(
    calc: Calculation,
    *,
    mean: Fraction,
    claimed: Decimal,
    decimals: int | None,
    titres: Mapping[str, Fraction] | None = None,
    rough: Collection[str] = ("Rough",),
    other_means: tuple[Fraction, ...] = (),
    known_wrong: bool = False,
) -> list[Slip]:
    """Return the slips that explain a written result, likeliest first; an empty list where it is right.

    `mean` [cm³] is the own mean that the result should rest on, `other_means` further ones that it may fairly rest on
    (the unrounded mean behind a rounded one). `claimed` is the written result and `decimals` the places written, None
    where that cannot be known. `titres` are the own titres [cm³] by label; `rough` says which labels are roughs.
    A value that no sum explains is one `result-slip`. Nothing can be said (an empty list) where the mean is not
    positive. `known_wrong` says that `result_is_right` has said no, so that it is not asked again.
    """
    if mean <= 0 or not claimed.is_finite():
        return []
    whole = calc.quantity == "water of crystallisation"
    written = readings(claimed, decimals, calc.significant_figures, whole_is_enough=whole)
    means = tuple(dict.fromkeys((mean, *(other for other in other_means if other > 0))))
    right = None if known_wrong else right_reading(calc, means, written)
    claim = Claim(calc, means, written, titres or {}, rough)
    if right is not None:
        return [short_slip(claim, right)] if right.short else []
    try:
        found = all_fits(claim)
    except (DivisionByZero, InvalidOperation) as problem:
        raise ValueError(f"the figures of the practical allow no result: {problem}") from problem
    worth, others = named(found.fits, claim)
    if not worth:
        return [unexplained(claim, others, found)]
    return slips_of(worth, others, found)


def result_is_right(
    calc: Calculation,
    *,
    mean: Fraction,
    claimed: Decimal,
    decimals: int | None,
    other_means: tuple[Fraction, ...] = (),
) -> bool:
    """Return whether a written result is right at the digits written; how many figures it has is another question."""
    if mean <= 0 or not claimed.is_finite():
        return False
    written = readings(claimed, decimals, calc.significant_figures)
    return right_reading(calc, (mean, *other_means), written) is not None
