"""The slips that are named for a written result: what fits, weighed, with the words for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from decimal import Decimal, DivisionByZero, InvalidOperation
from fractions import Fraction
from functools import lru_cache

from labmark.diagnose.working_calculation import Calculation, decimal_text
from labmark.diagnose.working_claim import Claim, right_decimals, right_sum, right_text
from labmark.diagnose.working_digits import digit_slip
from labmark.diagnose.working_fits import unlike
from labmark.diagnose.working_right import Titres, own_reading, readings_of
from labmark.diagnose.working_rounding import Digits
from labmark.diagnose.working_search import Found, Search
from labmark.diagnose.working_shown import value_text
from labmark.diagnose.working_slips import (
    TOO_FEW,
    UNEXPLAINED,
    WORTH_BESIDE,
    WORTH_NAMING,
    Fit,
    Slip,
    is_usurped,
    merged,
    said,
    shown_working,
    weigh,
)
from labmark.diagnose.working_tabled import tabled
from labmark.diagnose.working_volumes import Volume, volumes_instead
from labmark.diagnose.working_ways import OTHER, USUAL
from labmark.volumes import round_fraction

MOST_LISTED = 5
"""So many causes that fit too are listed, the likeliest first."""


def named(fits: list[Fit], claim: Claim) -> tuple[list[tuple[Fit, float]], list[Fit]]:
    """Return the fits worth naming with their probabilities, and the others, the likeliest first."""
    together = merged(fits)
    usurped = sorted((fit for fit in together if is_usurped(fit, together)), key=lambda fit: -fit.rate)
    ranked = weigh([fit for fit in together if fit not in usurped], claim.by_accident)
    worth = worth_naming(ranked)
    kept = {fit.findings for fit, _ in worth}
    return worth, [*(fit for fit, _ in ranked if fit.findings not in kept), *usurped]


def worth_naming(ranked: list[tuple[Fit, float]]) -> list[tuple[Fit, float]]:
    """Return the fits to name; a single slip leaves no room for pairs.

    None where it is likelier than not that the cause is none of those worth naming.
    """
    worth = [(fit, odds) for fit, odds in ranked if odds >= WORTH_NAMING or is_plain(fit)]
    if sum(odds for _, odds in worth) < 0.5:
        return []
    if any(fit.single for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if fit.single]
    else:
        first = worth[0][0].findings
        worth = [
            (fit, odds)
            for fit, odds in worth
            if fit.findings == first or (odds >= WORTH_BESIDE and (OTHER in first or OTHER not in fit.findings))
        ]
    # A rounding is named only where it explains the value no worse than the rest.
    best = max(odds for _, odds in worth)
    worth = [(fit, odds) for fit, odds in worth if fit.findings != ("rounding",) or odds >= best]
    if any(OTHER not in fit.findings for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if OTHER not in fit.findings or odds >= WORTH_BESIDE]
    return worth


def is_plain(fit: Fit) -> bool:
    """Return whether a fit is a usual single slip of its own kind that gives the very digits: always named."""
    return fit.single and not fit.loose and fit.rate >= USUAL and fit.findings[0] not in {OTHER, "rounding"}


def slips_of(worth: list[tuple[Fit, float]], others: list[Fit], among: Found) -> list[Slip]:
    """Return a slip for each finding of the likeliest fit; the other fits would exclude it, and are listed with it."""
    (first, odds), *rest = worth
    fit = replace(first, working=shown_working(first), work=None)
    also = tuple(dict.fromkeys((*fit.others, *(one.cause for one, _ in rest), *causes_of(others))))[:MOST_LISTED]
    found: dict[str, Slip] = {}
    for finding, cause in zip(fit.findings, fit.causes, strict=True):
        found.setdefault(finding, slip_of(fit, finding, cause, odds, among, also))
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
        tuple(one for one in fit.causes if one != TOO_FEW),
        among.tried,
        chance,
        odds,
        also,
        bool(fit.message),
    )


def causes_of(fits: list[Fit]) -> tuple[str, ...]:
    """Return the causes of the likeliest of these fits in words."""
    return tuple(dict.fromkeys(fit.cause for fit in fits))[:MOST_LISTED]


def short_slip(claim: Claim, reading: Digits) -> Slip:
    """Return the slip of a right value with too few figures."""
    asked = claim.calc.significant_figures
    value = tabled(claim.calc, claim.means[0]).right
    shown = decimal_text(reading.value, reading.decimals)
    right = right_text(claim, claim.means[0])
    message = f"{shown} has too few figures: {asked} significant figures were asked for, as in {right}."
    return Slip("rounding", TOO_FEW, "figures", message, f"{right} → {shown}", value, says_right=True)


def unexplained(claim: Claim, others: list[Fit], among: Found) -> Slip:
    """Return the slip that no sum explains, with what the student's own figures give."""
    mean = claim.means[0]
    exact = tabled(claim.calc, mean).right
    value = exact or Fraction(0)
    decimals = max(0, claim.written[-1].decimals)
    shown = value_text(claim.value, decimals)
    pen = digit_slip(round_fraction(value, right_decimals(claim, value)), round_fraction(claim.value, decimals))
    ending = f"it may be a slip of the pen: {pen}" if pen else "no usual slip gives that value"
    return Slip(
        "result-slip",
        pen or UNEXPLAINED,
        "calculation",
        unlike(claim, mean, shown, ending),
        right_sum(claim, mean),
        exact,
        candidates_tried=among.tried,
        chance=among.all_by_accident,
        also=causes_of(others),
        says_right=True,
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
    by_run: tuple[Titres, ...] = (),
    known_wrong: bool = False,
    from_start: Fraction | None = None,
) -> list[Slip]:
    """Return the slips that explain a written result, likeliest first; an empty list where it is right.

    `mean` [cm³] is what the student's result should rest on, `other_means` further ones that it may fairly rest on
    (the unrounded mean behind a rounded one), and `by_run` titres that may have been worked out run by run. `claimed`
    is the written result and `decimals` the places written, None where that cannot be known. `titres` are the own
    titres [cm³] by label; `rough` says which labels are roughs. Only the likeliest explanation is returned: one slip,
    or those that go together. A value that no sum explains is one `result-slip`. Nothing can be said (an empty list)
    where the mean is not positive. `known_wrong` says that `own_reading` has found none, so that it is not asked again.

    Raises ValueError where the figures of the practical divide by zero.
    """
    if mean <= 0 or not claimed.is_finite():
        return []
    means = tuple(dict.fromkeys((mean, *(other for other in other_means if other > 0))))
    search = search_of(calc, means, claimed, decimals)
    right = None if known_wrong else own_reading(calc, means, claimed, decimals, by_run)
    if right is not None:
        return [short_slip(search.claim, right)] if right.short else []
    volumes = volumes_instead(titres or {}, rough, means, from_start)
    try:
        return [*slips_behind(search, search.worth_a_look(volumes), len(volumes))]
    except (DivisionByZero, InvalidOperation) as problem:
        raise ValueError(f"the figures of the practical allow no result: {problem}") from problem


@lru_cache(maxsize=1 << 13)
def search_of(calc: Calculation, means: tuple[Fraction, ...], claimed: Decimal, decimals: int | None) -> Search:
    """Return the search behind a written result; in a large cohort many students write the same from the same mean."""
    return Search(Claim(calc, means, tuple(readings_of(calc, claimed, decimals))))


@lru_cache(maxsize=1 << 13)
def slips_behind(search: Search, volumes: tuple[Volume, ...], number: int) -> tuple[Slip, ...]:
    """Return the slips that a search finds, with the volumes worth a look of `number` that were thought of."""
    found = search.found(volumes, number)
    worth, others = named(found.fits, search.claim)
    return tuple(slips_of(worth, others, found)) if worth else (unexplained(search.claim, others, found),)


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
    return own_reading(calc, (mean, *other_means), claimed, decimals) is not None
