"""Which slip gives the mean titre that was written: the rough taken in, a run left out, a wrong count, ...

A mean is right to 0.05 or to 0.01, or to more decimals. Where the student ticked runs, the mean is held against those;
without ticks, against every set of concordant runs. What the mean takes in is one question (`rough-in-mean`,
`discordant-in-mean`), whether the arithmetic is right another (`mean-slip`, `rounding`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from math import lcm
from statistics import median
from typing import NamedTuple

from labmark.diagnose.working_calculation import decimal_text, volume_text
from labmark.diagnose.working_digits import digit_slip, is_last_figure_out
from labmark.diagnose.working_rounding import Digits, equals
from labmark.diagnose.working_sets import (
    HUNDREDTH,
    MeanClaim,
    MeanRun,
    Runs,
    equals_mean,
    fair_choices,
    make_claim,
    mean_of,
    right_mean,
    selection,
)
from labmark.diagnose.working_slips import (
    BY_ROUNDING,
    DOUBTFUL,
    LEFT_OUT,
    WORTH_BESIDE,
    WORTH_NAMING,
    Fit,
    Slip,
    is_usurped,
    merged,
    weigh,
)
from labmark.volumes import round_fraction
from labmark.words import listed

MOST_RUNS = 8
"""With more runs only whole sets and sets short of one run are tried."""
UNEXPLAINED_RATE = 0.25
RANGE = Fraction(1)
"""A mean without a cause may lie anywhere within about this many cm³ (for weighing accidents)."""
ROUGH_RATE = 0.25
DISCORDANT_RATE = 0.25
LEFT_OUT_RATE = 0.08
MEDIAN_RATE = 0.03
LAST_RATE = 0.05
ONE_RATE = 0.02
COUNT_RATE = 0.04
PEN_RATE = 0.04
CUT_RATE = 0.06
ODD_SET_RATE = 0.004
"""A set of runs that nobody would choose on purpose."""


def names(runs: Sequence[MeanRun]) -> str:
    """Return the runs in words: "runs 1, 2 and the rough"."""
    numbered = [run.label for run in runs if not run.is_rough]
    rough = "the rough" if any(run.is_rough for run in runs) else ""
    if not numbered:
        return rough
    text = f"run{'s' if len(numbered) > 1 else ''} {listed(numbered)}"
    return f"{text} and {rough}" if rough else text


def sum_shown(runs: Sequence[MeanRun], count: int, value: Fraction, decimals: int) -> str:
    """Return a mean as a sum: "(24.35 + 24.40) ÷ 2 = 24.38 cm³"."""
    total = total_shown(runs)
    return f"{total} ÷ {count} = {decimal_text(value, max(decimals, HUNDREDTH))} cm³" if count > 1 else f"{total} cm³"


def total_shown(runs: Sequence[MeanRun]) -> str:
    """Return a sum of titres, in brackets where there are several."""
    inside = " + ".join(volume_text(run.titre) for run in runs)
    return f"({inside})" if len(runs) > 1 else inside


def set_fit(claim: MeanClaim, runs: Runs, reading: Digits) -> Fit:
    """Return the fit of a mean of these runs."""
    value = mean_of(runs)
    finding = selection(claim, runs) or "mean-slip"
    every = set(claim.accurate) <= set(runs)
    if finding == "mean-slip":
        rate, cause, words = LEFT_OUT_RATE, LEFT_OUT, f"the mean of {names(runs)} only"
    elif finding == "rough-in-mean":
        rate, cause, words = ROUGH_RATE, "the rough taken in", f"the mean of {names(runs)}"
    else:
        rate, cause, words = DISCORDANT_RATE, "a run taken in that does not agree", f"the mean of {names(runs)}"
    rate = rate if finding == "mean-slip" or every or is_own_with_more(claim, runs) else ODD_SET_RATE
    if len(runs) == 1:
        finding = finding if runs[0].is_rough else "mean-slip"
        rate, cause, words = one_run(claim, runs[0])
    working = sum_shown(runs, len(runs), value, reading.decimals)
    return as_written(Fit((finding,), (cause,), rate, words, working, value), reading)


def as_written(fit: Fit, reading: Digits) -> Fit:
    """Return the fit of a mean with what was made of it: nothing, where its digits are those written."""
    exact = equals(fit.value, reading)
    if reading.short or exact:
        return replace(fit, loose=BY_ROUNDING if reading.short else 0)
    twentieth = f"{decimal_text(reading.value, reading.decimals)} to the nearest 0.05"
    return replace(fit, working=f"{fit.working}, or {twentieth}", loose=BY_ROUNDING)


def is_own_with_more(claim: MeanClaim, runs: Runs) -> bool:
    """Return whether the runs are a set that the student should have taken, and one more."""
    return any(len(runs) == len(one) + 1 and set(one) <= set(runs) for one in claim.own)


def one_run(claim: MeanClaim, run: MeanRun) -> tuple[float, str, str]:
    """Return rate, cause and words of one run given instead of a mean."""
    if run.is_rough:
        return LAST_RATE, "the rough given instead of a mean", "the rough titre alone"
    if run == claim.accurate[-1]:
        return LAST_RATE, "last run given instead of a mean", f"the last run alone (run {run.label})"
    return ONE_RATE, "one run given instead of a mean", f"run {run.label} alone"


def sets_of(runs: Runs) -> Iterator[Runs]:
    """Yield the sets of runs that a mean may take in, the largest first."""
    if len(runs) <= MOST_RUNS:
        for size in range(len(runs), 0, -1):
            yield from combinations(runs, size)
        return
    accurate = tuple(run for run in runs if not run.is_rough)
    yield runs
    yield accurate
    for one in runs:
        yield tuple(run for run in runs if run is not one)
        yield tuple(run for run in accurate if run is not one)
        yield (one,)


def set_fits(claim: MeanClaim) -> Iterator[Fit]:
    """Yield the fits of means of other sets of runs."""
    for runs in sets_of(claim.runs):
        if runs and runs not in claim.own and (reading := claim.reading(mean_of(runs))) is not None:
            fit = set_fit(claim, runs, reading)
            if selection(claim, runs) or claim.ticked or len(runs) == 1:
                yield fit


def other_fits(claim: MeanClaim) -> Iterator[Fit]:
    """Yield the fits of a median, of a wrong count, of a mean cut off."""
    for runs in unique((*claim.own, claim.accurate, claim.runs)):
        middle = Fraction(median(run.titre for run in runs)) if len(runs) > 2 else None
        if middle is not None and (reading := claim.reading(middle)) is not None:
            words = f"the middle value of {names(runs)}"
            working = f"{volume_text(middle)} cm³"
            yield as_written(mean_fit(middle, MEDIAN_RATE, "median given instead of a mean", words, working), reading)
    for runs in claim.own:
        total = sum((run.titre for run in runs), Fraction(0))
        for count in {1, len(runs) - 1, len(runs) + 1, len(claim.runs), len(claim.accurate)} - {0, len(runs)}:
            if (reading := claim.reading(value := total / count)) is not None:
                working = sum_shown(runs, count, value, HUNDREDTH) if count > 1 else f"{total_shown(runs)} ÷ 1"
                words = f"the sum of {len(runs)} runs divided by {count}"
                fit = mean_fit(value, COUNT_RATE, "divided by the wrong number of runs", words, working)
                yield as_written(fit, reading)


def unique(sets: Sequence[Runs]) -> list[Runs]:
    """Return the sets of runs without those that stood before."""
    return [runs for place, runs in enumerate(sets) if runs not in sets[:place]]


def mean_fit(value: Fraction, rate: float, cause: str, words: str, working: str) -> Fit:
    """Return the fit of a value that is no mean of some runs."""
    return Fit(("mean-slip",), (cause,), rate, words, working, value)


def pen_fits(claim: MeanClaim) -> Iterator[Fit]:
    """Yield the fits of a mean cut off instead of rounded, and of one digit or two in the wrong place."""
    reading = claim.written[-1]
    written = Decimal(decimal_text(reading.value, reading.decimals))
    for runs in claim.own:
        value = mean_of(runs)
        if how := is_last_figure_out(value, reading.value, reading.decimals):
            rate = CUT_RATE if how == "cut" else CUT_RATE / 4
            yield Fit(
                ("rounding",),
                ("last figure not rounded rightly",),
                rate,
                "it is not rounded rightly",
                sum_shown(runs, len(runs), value, reading.decimals + 1),
                value,
                loose=BY_ROUNDING if reading.short else 0,
            )
        how = digit_slip(round_fraction(value, max(reading.decimals, HUNDREDTH)), written)
        if how:
            working = sum_shown(runs, len(runs), value, reading.decimals + 1)
            yield mean_fit(value, PEN_RATE / 10, how, how, working)


class Among(NamedTuple):
    """What the slips of a mean were found among."""

    tried: int
    chance: float
    """accidental hits expected: the means near the written one, each a last digit wide"""
    unexplained: float
    """probability of a value without a cause"""
    also: tuple[str, ...]


def chance_of(claim: MeanClaim, width: Fraction) -> float:
    """Return how many of the means tried would hit the written one by accident."""
    written, near = float(claim.written[-1].value), float(RANGE) / 2 + 1e-9
    return min(1.0, sum(abs(mean - written) <= near for mean in distinct_means(claim.runs)) * float(width / RANGE))


def distinct_means(runs: Runs) -> set[float]:
    """Return the means of every set of runs that is tried [cm³]; equal fractions are equal floats."""
    if len(runs) > MOST_RUNS:
        return {float(mean_of(some)) for some in sets_of(runs) if some}
    ratios = [run.titre.as_integer_ratio() for run in runs]
    common = lcm(*(bottom for _, bottom in ratios))
    scaled = [top * (common // bottom) for top, bottom in ratios]
    return {sum(some) / (common * size) for size in range(1, len(scaled) + 1) for some in combinations(scaled, size)}


def slip_of(claim: MeanClaim, fit: Fit, odds: float, among: Among) -> Slip:
    """Return the slip of a fit, with its sentence."""
    shown = decimal_text(claim.written[0].value, claim.written[0].decimals)
    pen = fit.findings[0] == "rounding" or fit.phrase == fit.causes[0]
    lead = (
        f"The mean is {fit.working}, and you wrote {shown} cm³"
        if pen
        else f"You wrote {shown} cm³. That is {fit.phrase}: {fit.working}"
    )
    message = f"{lead}: {fit.phrase}." if pen else f"{lead}."
    if among.unexplained >= DOUBTFUL and not pen:
        message += " It may be a coincidence."
    criterion = "selection" if fit.findings[0].endswith("-in-mean") and not claim.ticked else "mean"
    return Slip(
        fit.findings[0],
        fit.cause,
        criterion,
        message,
        fit.working,
        fit.value,
        (),
        among.tried,
        among.chance,
        odds,
        tuple(dict.fromkeys((*fit.others, *among.also))),
    )


def selected_slip(claim: MeanClaim, runs: Runs, finding: str) -> Slip:
    """Return the slip of a mean that is worked rightly from the wrong runs."""
    value = mean_of(runs)
    working = sum_shown(runs, len(runs), value, HUNDREDTH)
    if finding == "rough-in-mean":
        cause, words = "the rough taken in", "the rough never counts"
    else:
        outside = odd_ones(claim, runs)
        cause, words = (
            "a run taken in that does not agree",
            f"{names(outside)} does not agree with the others"
            if len(outside) == 1
            else f"{names(outside)} do not agree with the others",
        )
    message = f"Your mean is that of {names(runs)}: {working}. It should take in only runs that agree: {words}."
    return Slip(finding, cause, "selection", message, working, value, figures={"runs": [run.label for run in runs]})


def odd_ones(claim: MeanClaim, runs: Runs) -> Runs:
    """Return the runs taken in that do not belong to the fair set that shares most with them."""
    best = max(claim.fair_sets, key=lambda one: len(set(one) & set(runs)), default=())
    return tuple(run for run in runs if run not in best) or runs


def short_mean(claim: MeanClaim, reading: Digits) -> Slip:
    """Return the slip of a mean written to too few decimals."""
    value = next(mean_of(runs) for runs in fair_choices(claim) if equals_mean(mean_of(runs), reading))
    right = decimal_text(value, HUNDREDTH)
    shown = decimal_text(reading.value, reading.decimals)
    # Right whatever the digits: in a cell that shows as many as there are, how many were written is not known.
    message = (
        f"Your mean of {shown} cm³ is right neither to 0.05 nor to 0.01 cm³, to which a mean titre is given, "
        f"as in {right}."
    )
    return Slip("rounding", "too few figures", "figures", message, f"{right} → {shown}", value)


def mean_slips(
    runs: Sequence[MeanRun],
    *,
    claimed: Decimal,
    decimals: int | None,
    within: Fraction,
    concordant: Sequence[Collection[str]] = (),
) -> list[Slip]:
    """Return the slips that explain a written mean titre [cm³], likeliest first; an empty list where it is right.

    `runs` are the student's runs in order with own titres; `concordant` holds the labels of every largest set that
    agrees within `within` [cm³]. A mean rightly worked from the wrong runs is `rough-in-mean` or `discordant-in-mean`
    and costs the selection; where the ticks say otherwise, it costs the mean. Nothing can be said (an empty list)
    without a run.
    """
    claim = make_claim(runs, claimed, decimals, within, concordant)
    if not claim.runs or not claimed.is_finite():
        return []
    right = right_mean(claim)
    if right is not None:
        found = [short_mean(claim, right)] if right.short else []
        wrong = selection(claim, claim.ticked) if claim.ticked else ""
        return [selected_slip(claim, claim.ticked, wrong), *found] if wrong else found
    return wrong_mean(claim)


def wrong_mean(claim: MeanClaim) -> list[Slip]:
    """Return the slips behind a mean that is not right."""
    fits = merged([*set_fits(claim), *other_fits(claim), *pen_fits(claim)])
    tried = 2 ** min(len(claim.runs), MOST_RUNS)
    width = Fraction(1, 10 ** max(0, claim.written[-1].decimals))
    ranked = weigh(fits, UNEXPLAINED_RATE * float(width / RANGE))
    worth = [(fit, odds) for fit, odds in ranked if odds >= WORTH_NAMING and not is_usurped(fit, fits)]
    if any(fit.findings[0] != "mean-slip" for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if fit.findings[0] != "mean-slip" or odds >= WORTH_BESIDE]
    named = [fit for fit, _ in worth]
    also = tuple(dict.fromkeys(fit.cause for fit, _ in ranked if fit not in named))
    if worth:
        among = Among(tried, chance_of(claim, width), 1 - sum(odds for _, odds in ranked), also)
        return [slip_of(claim, fit, odds, among) for fit, odds in worth]
    return [unexplained_mean(claim, tried)]


def unexplained_mean(claim: MeanClaim, tried: int) -> Slip:
    """Return the slip of a mean that nothing explains."""
    shown = decimal_text(claim.written[-1].value, max(0, claim.written[-1].decimals))
    cause = "no usual slip gives this value"
    if not claim.own:
        message = f"You wrote a mean of {shown} cm³, and no set of your titres gives that."
        return Slip("mean-slip", cause, "mean", message, candidates_tried=tried)
    runs = claim.own[0]
    value = mean_of(runs)
    working = sum_shown(runs, len(runs), value, HUNDREDTH)
    message = f"The mean of {names(runs)} is {working}; you wrote {shown}, and no usual slip gives that: add up again."
    return Slip("mean-slip", cause, "mean", message, working, value, candidates_tried=tried)
