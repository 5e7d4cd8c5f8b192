"""Slips in the working: which wrong sum gives the value that a student wrote.

Every single slip, and every two that occur together, is tried on the student's own figures; those that give the written
digits are named with the sum that shows it. A value that is right, by any legitimate rounding, is never a slip.

25.00 cm³ of NaOH against 24.35 cm³ of 0.0500 mol/dm³ H2SO4, 2 : 1, is 0.0974 mol/dm³; 0.0487 is `ratio-ignored`.

Written values may be wrong in three places, each held against the one before, so that a slip is counted once: the
titre against own readings (`titre_slip`), the mean against own titres (`mean_slips`), the result against own mean
(`result_slips`). The parts:

- `working_calculation`: the practical's formula and the ways of doing the sum
- `working_edits`, `slips.toml`: slips as edits of the formula
- `working_sums`: the sum as a chain of steps, the right way and every other
- `working_ways`: the table of slips, and what each gives at one volume
- `working_routes`: the orders of the sum, and the values that rounding on the way can lead to
- `working_right`: when a written value is right
- `working_fits`: what may lie behind a result
- `working_volumes`: volumes taken instead of the mean
- here: the search, and what is named
- `working_implied`: what a result that nothing explains would take
- `working_shown`: sums in print
- `working_means`: when a mean is right
- `working_mean_fits`: what may lie behind a mean that is not
- `working_mean_slips`: what is handed on of it
- `working_titres`: the slip behind a titre, and slips of the pen
- `working_slips`: what is handed on, and its odds
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from labmark.diagnose.working_calculation import Calculation, fair_calculations
from labmark.diagnose.working_fits import (
    Claim,
    early_fits,
    exact_fits,
    last_figure_fits,
    pen_fits,
    right_decimals,
    right_sum,
    rounded_fits,
    unlike,
    volume_fit,
    volume_pairs,
)
from labmark.diagnose.working_implied import implied
from labmark.diagnose.working_right import readings_of
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
    slip_of,
    weigh,
)
from labmark.diagnose.working_titres import TRANSPOSED, digit_slip
from labmark.diagnose.working_volumes import Volume, volumes_instead
from labmark.diagnose.working_ways import OTHER, USUAL, tabled
from labmark.exact import round_fraction, visible_decimals

MOST_SEARCHED = 2
"""With so many molar masses and means the longer searches are made, the standard one first."""
MOST_LISTED = 5
"""So many causes that fit too are listed, the likeliest first."""


def fits_of(claim: Claim, volumes: Sequence[Volume]) -> list[Fit]:
    """Return every fit: straight sums first, and what takes more only where these don't fit."""
    own = [tabled(claim.calc, mean) for mean in claim.means]
    fits = [fit for case in own for fit in last_figure_fits(claim, case)]
    fits += [fit for case in own for fit in pen_fits(claim, case)]
    fits += [fit for case in claim.cases for fit in exact_fits(claim, case)]
    # Where a straight sum with one named slip fits, no value is thought to have been rounded early.
    if not any(fit.single and OTHER not in fit.findings for fit in fits):
        fits += [fit for case in own for fit in early_fits(claim, case)]
    fits += [fit for calc in fair_calculations(claim.calc) for one in volumes for fit in volume_fit(claim, calc, one)]
    # Where a single slip of the sum itself fits, no two together need be looked for.
    if any(fit.single and fit.causes != (TRANSPOSED,) for fit in fits):
        return fits
    return [*fits, *searched_further(claim, volumes, bool(fits))]


def searched_further(claim: Claim, volumes: Sequence[Volume], found: bool) -> Iterator[Fit]:
    """Yield the fits with another volume and a slip, and those with values rounded on the way.

    `found`: pairs fit already, so pairs with roundings besides are not looked for.
    """
    cases = claim.cases[:MOST_SEARCHED]
    for case in cases:
        for one in volumes:
            pairs = [*volume_pairs(claim, case.calc, one), *volume_fit(claim, case.calc, one, rounded=True)]
            found = found or bool(pairs)
            yield from pairs
        rounded = [*rounded_fits(claim, case)]
        found = found or bool(rounded)
        yield from rounded
    if not found:
        for case in cases:
            yield from rounded_fits(claim, case, pairs=True)


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


def slips_of(worth: list[tuple[Fit, float]], others: list[Fit], claim: Claim, among: int) -> list[Slip]:
    """Return a slip for each finding of the likeliest fit; the other fits would exclude it, and are listed with it.

    `among`: of how many sums they are.
    """
    (first, odds), *rest = worth
    fit = first if first.work is None else first._replace(working=first.work())
    also = tuple(dict.fromkeys((*fit.others, *(one.cause for one, _ in rest), *causes_of(others))))[:MOST_LISTED]
    case = claim.cases[0]
    chance = claim.hits(case.single_sizes if fit.single else case.all_sizes)
    found: dict[str, Slip] = {}
    for place, (finding, cause) in enumerate(zip(fit.findings, fit.causes, strict=True)):
        criterion = "figures" if cause == TOO_FEW else "calculation"
        found.setdefault(finding, slip_of(fit, place, criterion, said(fit, chance), among, chance, odds, also))
    return list(found.values())


def causes_of(fits: list[Fit]) -> tuple[str, ...]:
    """Return the causes of the likeliest of these fits in words."""
    return tuple(dict.fromkeys(fit.cause for fit in fits))[:MOST_LISTED]


def unexplained(claim: Claim, decimals: int, others: list[Fit], among: int) -> Slip:
    """Return the slip that no sum explains, with what the student's own figures give; written to so many decimals."""
    mean = claim.means[0]
    exact = tabled(claim.calc, mean).right
    value = exact or Fraction(0)
    shown = value_text(claim.value, decimals)
    pen = digit_slip(round_fraction(value, right_decimals(claim, value)), round_fraction(claim.value, decimals))
    ending = f"it may be a slip of the pen: {pen}" if pen else f"no usual slip gives that value{implied(claim)}"
    return Slip(
        "result-slip",
        pen or UNEXPLAINED,
        "calculation",
        unlike(claim, mean, shown, ending),
        right_sum(claim, mean),
        exact,
        candidates_tried=among,
        chance=claim.hits(claim.cases[0].all_sizes),
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
    from_start: Fraction | None = None,
    elsewhere: Sequence[tuple[str, Fraction]] = (),
) -> list[Slip]:
    """Return the slips that explain a written result that is wrong: `own_reading` has found none.

    `mean` [cm³] is what the student's result should rest on, `other_means` further ones that it may fairly rest on
    (the unrounded mean behind a rounded one). `claimed` is the written result and `decimals` the places written, None
    where that cannot be known. `titres` are the student's titres [cm³] by label; `rough` says which labels are roughs.
    Only the likeliest explanation is returned: one slip, or those that go together. A value that no sum explains is one
    `result-slip`. Nothing can be said (an empty list) where the mean is not positive.
    """
    if mean <= 0 or not claimed.is_finite():
        return []
    means = tuple(dict.fromkeys((mean, *(other for other in other_means if other > 0))))
    claim = Claim(calc, means, tuple(readings_of(calc, claimed, decimals)))
    volumes = volumes_instead(titres or {}, rough, means, from_start, calc.rough, elsewhere)
    worth, others = named(fits_of(claim, volumes), claim)
    among = sum(len(case.rows.candidates) + len(volumes) * (1 + case.rows.singles) for case in claim.cases)
    places = max(decimals or 0, visible_decimals(claimed))
    return slips_of(worth, others, claim, among) if worth else [unexplained(claim, places, others, among)]
