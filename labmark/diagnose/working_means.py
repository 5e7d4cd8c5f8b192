"""Which runs a mean titre may be of, when a written mean is right, and which slip gives one that is not.

A written mean is right to 0.01 or to 0.05 cm³, or to more decimals; zeros at its end say nothing, as a spare one costs
nothing and a number cell loses them: 24.380 and 24.4 are both right for 24.383. Where the student ticked runs, the mean
is held against those; without ticks, against every set of runs that agree, and its parts.

What the mean takes in is one question (`rough-in-mean`, `discordant-in-mean`), whether the arithmetic is right another
(`mean-slip`, `rounding`). `own_mean` answers both for the marks, `mean_slips` says what lies behind a wrong mean: the
rough included, a run left out, a wrong count, ... Both go by the likeliest explanation, so that no finding contradicts
a mark.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from itertools import combinations
from math import lcm
from statistics import NormalDist, median

from labmark.diagnose.working_calculation import decimal_text, volume_text
from labmark.diagnose.working_slips import (
    BY_ROUNDING,
    DOUBTFUL,
    LEFT_OUT,
    TICKED_TOO,
    UNEXPLAINED,
    WORTH_NAMING,
    Fit,
    Slip,
    is_usurped,
    merged,
    weigh,
)
from labmark.diagnose.working_titres import digit_slip, is_last_figure_out
from labmark.facts import OwnMean, Places, Run, Student, cm3, mean_cm3
from labmark.figures import magnitude, visible_decimals
from labmark.volumes import both_roundings, round_fraction
from labmark.words import YOU_WROTE, either, listed

HUNDREDTH = 2
FINEST = 10
"""Titres are told apart to so many microlitres."""
NEAR = 0.03
"""Further from the true one [cm³] no rounding takes a mean."""
MOST_RUNS = 8
"""With more runs only whole sets and sets short of one run are tried."""
UNEXPLAINED_RATE = 0.25
RANGE = Fraction(1)
"""A mean without a cause lies within about this many cm³, the further off the more seldom (for weighing accidents)."""
ELSEWHERE_RATE, ELSEWHERE_SPREAD = 0.12, 0.008
"""A mean that is none of the student's own titres: a neighbour's, or what it was meant to come to. It lies as far from
the student's own as two students lie apart, by this standard deviation, relative (common practice, no source)."""
TAKEN_IN_RATE = 0.25
LEFT_OUT_RATE = 0.08
MEDIAN_RATE = 0.03
LAST_RATE = 0.05
ONE_RATE = 0.02
COUNT_RATE = 0.04
PEN_RATE = 0.04
CUT_RATE = 0.15
COARSE_RATE = 0.30
ODD_SET_RATE = 0.004
"""A set of runs that nobody would choose on purpose."""
TO_FIVE = 0.2
"""Of means so many are written to the nearest 0.05, the others to 0.01 (common practice, no source)."""
COARSE = "right to one decimal only"
CAUSES = {
    "rough-in-mean": "the rough included",
    "discordant-in-mean": "a run included that does not agree",
}
"""Findings about a mean that is correctly worked out from the wrong runs, with their cause."""


def average(volumes: Iterable[Fraction]) -> Fraction:
    """Return the mean of volumes, of which there is one at least."""
    # In whole numbers: a sum of fractions is brought to lowest terms at every step.
    ratios = [one.as_integer_ratio() for one in volumes]
    common = lcm(*[bottom for _, bottom in ratios])
    return Fraction(sum([top * (common // bottom) for top, bottom in ratios]), common * len(ratios))


def is_to_the_digit(written: Decimal, true: Fraction) -> bool:
    """Return whether a written mean [cm³] is the true one to 0.01 or to the decimals that can be seen.

    Beyond the hundredth a figure may also be cut off, as on the display of a calculator.
    """
    places = max(HUNDREDTH, visible_decimals(written))
    if written in both_roundings(true, HUNDREDTH) or written in both_roundings(true, places):
        return True
    return places > HUNDREDTH and 0 <= (true - Fraction(written)) * 10**places < 1


def mean_is_right(written: Decimal, true: Fraction) -> bool:
    """Return whether a written mean [cm³] is right for a true one."""
    if abs(float(written) - float(true)) > NEAR:
        return False
    # To the nearest 0.05, ties up or to the even one.
    return is_to_the_digit(written, true) or written * 20 in both_roundings(true * 20, 0)


def mean_is_coarse(written: Decimal, true: Fraction) -> bool:
    """Return whether a written mean is right to one decimal only, which is neither to 0.05 nor to 0.01 cm³."""
    return visible_decimals(written) <= 1 and written in both_roundings(true, 1) and not mean_is_right(written, true)


def means_of(student: Student, places: Places) -> Iterator[Fraction]:
    """Yield the mean of some runs on own titres, then on what all of their readings give [cm³]."""
    own = [titre for place in places if (titre := student.runs[place].own_titre) is not None]
    given = [titre for place in places if (titre := student.runs[place].titre) is not None]
    if own:
        yield mean_cm3(sum(own), len(own))
    if given and given != own and len(given) == len(places):
        yield mean_cm3(sum(given), len(given))


def ticked(student: Student) -> Places:
    """Return the places of the runs that the student ticked, those with a titre."""
    return tuple([place for place, run in enumerate(student.runs) if run.ticked and run.own_titre is not None])


def choices(student: Student) -> Iterator[Places]:
    """Yield the sets whose mean is right: the runs ticked (or all that agree with them), else every fair set and part.

    Where one tick is for several endpoints, a mean of titres that agree says better which ones are in it.
    What the mean takes in is another question: see `selection_right`.
    """
    chosen = ticked(student)
    if chosen:
        yield chosen
        yield from (one for one in student.fair if student.ticks_shared or set(chosen) < set(one))
        return
    yield from student.fair
    yield from (part for one in student.fair for size in range(len(one) - 1, 1, -1) for part in combinations(one, size))


def right_choice(student: Student, sets: Iterable[Places]) -> tuple[Places, Fraction] | None:
    """Return the first of some sets whose mean is the written one, with that mean [cm³]; None where none is."""
    written = student.own_mean
    if written is None or not written.is_finite():
        return None
    pairs = ((places, mean) for places in sets for mean in means_of(student, places))
    return next(((places, mean) for places, mean in pairs if mean_is_right(written, mean)), None)


def selection_right(student: Student, places: Places, at_least: int) -> bool:
    """Return whether the runs all belong to one fair set, and are as many as must agree.

    Where no titres agree, the closest ones are the best there are: taking them is no slip of its own. Where results
    must agree, a run without one (its mass is blank) can be held against nobody.
    """
    chosen = set(places)
    if student.agreement is not None and student.sets:
        chosen = {place for place in places if student.runs[place].result is not None}
    return any(chosen == set(one) or (len(chosen) >= at_least and chosen < set(one)) for one in student.fair)


def unread_means(student: Student, within: int) -> Iterator[Fraction]:
    """Yield the means [cm³] that there may be where one run in them has no titre that can be read, and none is written.

    within   largest minus smallest of titres that agree [µL]: the titre lies where it agrees with all of the others
    """
    any_ticked = any(run.ticked for run in student.runs)
    unread = [run for run in student.accurate if run.own_titre is None and not run.struck]
    unread = [run for run in unread if run.ticked or not any_ticked]
    if student.own_mean is not None or student.agreement is not None or len(unread) != 1:
        return
    for places in [ticked(student)] if any_ticked else student.fair:
        own = [titre for place in places if (titre := student.runs[place].own_titre) is not None]
        if own:
            titres = range(max(own) - within, min(own) + within + 1, FINEST)
            yield from (mean_cm3(sum(own) + titre, len(own) + 1) for titre in titres)


def rounded_means(mean: Fraction, figures: int) -> Iterator[Decimal]:
    """Yield a mean [cm³] as it may be rounded before going on: to 0.05, 0.01, 0.001 or so many significant figures."""
    yield from (one / 20 for one in both_roundings(mean * 20, 0))
    for places in (HUNDREDTH, HUNDREDTH + 1, figures - 1 - magnitude(mean)):
        yield from both_roundings(mean, places)


@dataclass(frozen=True)
class MeanClaim:
    """A written mean and the runs it may be of."""

    student: Student
    written: Decimal

    @cached_property
    def places(self) -> Places:
        """The runs with a titre."""
        return tuple([place for place, run in enumerate(self.student.runs) if run.own_titre is not None])

    @cached_property
    def accurate(self) -> Places:
        """All of them but the rough."""
        return tuple([place for place in self.places if not self.student.runs[place].rough])

    @cached_property
    def own(self) -> tuple[Places, ...]:
        """The sets whose mean the student should have written: the runs ticked, else every fair set."""
        chosen = ticked(self.student)
        return (chosen,) if chosen else self.student.fair

    @cached_property
    def decimals(self) -> int:
        """The decimals that can be seen, and two at least."""
        return max(HUNDREDTH, visible_decimals(self.written))

    @cached_property
    def digits(self) -> int:
        """The decimals that were written, as far as that is known."""
        return max(visible_decimals(self.written), self.student.own_mean_decimals or 0)

    @property
    def shown(self) -> str:
        """The mean as it was written, and with two decimals at least."""
        return decimal_text(Fraction(self.written), self.decimals)

    def runs(self, places: Places) -> list[Run]:
        """Return some runs."""
        return [self.student.runs[place] for place in places]

    def titres(self, places: Places) -> list[Fraction]:
        """Return own titres [cm³]."""
        return [cm3(run.own_titre) for run in self.runs(places) if run.own_titre is not None]

    def mean(self, places: Places) -> Fraction:
        """Return the mean of own titres [cm³]."""
        return average(self.titres(places))

    @cached_property
    def likely(self) -> Mapping[str, Sequence[Places]]:
        """Sets with too many runs that may be taken, by finding: all, all but the rough, or one's own and one more."""
        more = (tuple(sorted({*one, place})) for one in self.own for place in self.places if place not in one)
        found: dict[str, list[Places]] = {"": [], **{finding: [] for finding in CAUSES}}
        for places in dict.fromkeys((self.places, self.accurate, *more)):
            found[self.selection(places)].append(places)
        return found

    def selection(self, places: Places) -> str:
        """Return the finding about the runs that a mean takes in, or ""."""
        if any(set(places) <= set(one) for one in self.student.fair):
            return ""
        return "rough-in-mean" if any(run.rough for run in self.runs(places)) else "discordant-in-mean"


def names(runs: Sequence[Run]) -> str:
    """Return the runs in words: "runs 1, 2 and the rough"."""
    numbered = [run.label for run in runs if not run.rough]
    rough = "the rough" if any(run.rough for run in runs) else ""
    if not numbered:
        return rough
    text = f"run{'s' if len(numbered) > 1 else ''} {listed(numbered)}"
    return f"{text} and {rough}" if rough else text


def sum_shown(titres: Sequence[Fraction], count: int, value: Fraction, decimals: int = HUNDREDTH) -> str:
    """Return a mean as a sum: "(24.35 + 24.40) ÷ 2 = 24.38 cm³"."""
    total = total_shown(titres)
    return f"{total} ÷ {count} = {decimal_text(value, max(decimals, HUNDREDTH))} cm³" if count > 1 else f"{total} cm³"


def total_shown(titres: Sequence[Fraction]) -> str:
    """Return a sum of titres, in brackets where there are several."""
    inside = " + ".join(volume_text(titre) for titre in titres)
    return f"({inside})" if len(titres) > 1 else inside


def set_fit(claim: MeanClaim, places: Places) -> Fit:
    """Return the fit of a mean of these runs."""
    value, runs = claim.mean(places), claim.runs(places)
    finding, words = claim.selection(places), f"the mean of {names(runs)}"
    if len(runs) == 1:
        finding = ""
        rate, cause, words = one_run(claim, places[0])
    elif finding and places in claim.likely[finding]:
        # There are so many sets that somebody may have taken so.
        rate, cause = TAKEN_IN_RATE / len(claim.likely[finding]), CAUSES[finding]
    elif finding:
        # Nobody chooses such runs on purpose: the choice is not held against a student by a coincidence.
        finding, rate, cause = "", ODD_SET_RATE, "the mean of other runs"
    elif claim.selection(claim.own[0]):
        rate, cause = LEFT_OUT_RATE, TICKED_TOO
    elif any(set(places) < set(one) for one in claim.own):
        rate, cause, words = LEFT_OUT_RATE, LEFT_OUT, f"{words} only"
    else:
        rate, cause = LEFT_OUT_RATE, "the mean of other runs than those ticked"
    working = sum_shown(claim.titres(places), len(runs), value, claim.decimals)
    fit = Fit((finding or "mean-slip",), (cause,), rate, words, working, value, runs=places)
    return as_written(claim, fit)


def as_written(claim: MeanClaim, fit: Fit) -> Fit:
    """Return the fit of a mean with what was made of it: nothing, where its digits are those written."""
    if is_to_the_digit(claim.written, fit.value):
        return fit
    working = f"{fit.working}, or {claim.shown} to the nearest 0.05"
    return replace(fit, working=working, loose=BY_ROUNDING, rate=TO_FIVE * fit.rate)


def one_run(claim: MeanClaim, place: int) -> tuple[float, str, str]:
    """Return rate, cause and words of one run given instead of a mean."""
    run = claim.student.runs[place]
    if run.rough:
        return LAST_RATE, "the rough given instead of a mean", "the rough titre alone"
    if place == claim.accurate[-1]:
        return LAST_RATE, "last run given instead of a mean", f"the last run alone (run {run.label})"
    return ONE_RATE, "one run given instead of a mean", f"run {run.label} alone"


def sets_of(claim: MeanClaim) -> Iterator[Places]:
    """Yield the sets of runs that a mean may take in, the largest first."""
    every, accurate = claim.places, claim.accurate
    if len(every) <= MOST_RUNS:
        for size in range(len(every), 0, -1):
            yield from combinations(every, size)
        return
    yield every
    yield accurate
    for one in every:
        yield tuple(place for place in every if place != one)
        yield tuple(place for place in accurate if place != one)
        yield (one,)


def other_fits(claim: MeanClaim) -> Iterator[Fit]:
    """Yield the fits of a median, of a wrong count."""
    for places in dict.fromkeys((*claim.own, claim.accurate, claim.places)):
        titres = claim.titres(places)
        middle = Fraction(median(titres)) if len(titres) > 2 else None
        if middle is not None and mean_is_right(claim.written, middle):
            words = f"the middle value of {names(claim.runs(places))}"
            working = f"{volume_text(middle)} cm³"
            yield as_written(claim, mean_fit(middle, MEDIAN_RATE, "median given instead of a mean", words, working))
    for places in claim.own:
        titres = claim.titres(places)
        value = claim.mean(places)
        if is_to_the_digit(1000 * claim.written, value):
            working = sum_shown(titres, len(titres), value)
            yield mean_fit(value, PEN_RATE, "mean in dm³", "the mean in dm³", working)
        for count in {1, len(titres) - 1, len(titres) + 1, len(claim.places), len(claim.accurate)} - {0, len(titres)}:
            value = sum(titres, Fraction(0)) / count
            if mean_is_right(claim.written, value):
                working = sum_shown(titres, count, value) if count > 1 else f"{total_shown(titres)} ÷ 1"
                words = f"the sum of {len(titres)} runs divided by {count}"
                fit = mean_fit(value, COUNT_RATE, "divided by the wrong number of runs", words, working)
                yield as_written(claim, fit)


def mean_fit(value: Fraction, rate: float, cause: str, words: str, working: str) -> Fit:
    """Return the fit of a value that is no mean of some runs."""
    return Fit(("mean-slip",), (cause,), rate, words, working, value)


def pen_fits(claim: MeanClaim) -> Iterator[Fit]:
    """Yield the fits of a mean cut off or to one decimal only, and of one digit or two in the wrong place."""
    places = claim.digits
    for own in claim.own:
        value = claim.mean(own)
        working = sum_shown(claim.titres(own), len(own), value, claim.decimals + 1)
        if mean_is_coarse(claim.written, value):
            # In a cell that shows as many decimals as there are, how many were written is not known.
            rate = COARSE_RATE if claim.student.own_mean_decimals in (None, 1) else CUT_RATE
            yield Fit(("rounding",), (COARSE,), rate, f"it is {COARSE}", working, value)
        elif how := is_last_figure_out(value, Fraction(claim.written), max(1, places)):
            rate, words = CUT_RATE if how == "cut" else CUT_RATE / 10, "it is not rounded correctly"
            yield Fit(("rounding",), ("last figure not rounded correctly",), rate, words, working, value)
        if how := digit_slip(round_fraction(value, claim.decimals), Decimal(claim.shown)):
            yield mean_fit(value, PEN_RATE / 10, how, how, working)


def chance_of(claim: MeanClaim) -> float:
    """Return how many of the means tried would hit the written one by accident, each a last digit wide."""
    written, near = float(claim.written), float(RANGE) / 2 + 1e-9
    means = {claim.mean(places) for places in sets_of(claim) if places}
    return min(1.0, sum(abs(float(mean) - written) <= near for mean in means) * float(width_of(claim) / RANGE))


def slip_of(claim: MeanClaim, ranked: Sequence[tuple[Fit, float]], tried: int) -> Slip:
    """Return the slip of the likeliest of some fits, with its sentence."""
    (fit, odds), *others = ranked
    pen = fit.findings[0] == "rounding" or fit.phrase == fit.causes[0]
    lead = (
        f"The mean is {fit.working}, but {YOU_WROTE} {claim.shown} cm³"
        if pen
        else f"{either('You', 'The student')} wrote {claim.shown} cm³. That is {fit.phrase}: {fit.working}"
    )
    message = f"{lead}: {fit.phrase}." if pen else f"{lead}."
    if 1 - sum(odds for _, odds in ranked) >= DOUBTFUL and not pen:
        message += " It may be a coincidence."
    return Slip(
        fit.findings[0],
        fit.causes[0],
        "selection" if fit.findings[0] in CAUSES else "mean",
        message,
        fit.working,
        fit.value,
        (),
        fit.causes,
        tried,
        chance_of(claim),
        odds,
        tuple(dict.fromkeys((*fit.others, *(other.causes[0] for other, _ in others)))),
    )


def ranked_fits(claim: MeanClaim) -> list[tuple[Fit, float]]:
    """Return what may lie behind a wrong mean with its odds, the likeliest first; none where that is too unlikely."""
    sets = (places for places in sets_of(claim) if places and mean_is_right(claim.written, claim.mean(places)))
    fits = merged([*(set_fit(claim, places) for places in sets), *other_fits(claim), *pen_fits(claim)])
    ranked = weigh(fits, by_accident(claim))
    ranked.sort(key=lambda one: is_usurped(one[0], fits))
    return ranked if ranked and ranked[0][1] >= WORTH_NAMING else []


def by_accident(claim: MeanClaim) -> float:
    """Return how common a mean that comes from nowhere, or from elsewhere, is at the very digits that were written."""
    own = float(claim.mean(claim.own[0])) if claim.own else 0.0
    if not own:  # from nothing at all no distance can be told
        return UNEXPLAINED_RATE * float(width_of(claim) / RANGE)
    away, half = float(claim.written) - own, float(RANGE) / 2
    nowhere = UNEXPLAINED_RATE / float(RANGE) / (1 + (away / half) ** 2)
    elsewhere = ELSEWHERE_RATE * NormalDist(sigma=ELSEWHERE_SPREAD * own).pdf(away)
    return float(width_of(claim)) * (nowhere + elsewhere)


def selection_odds(student: Student) -> float | None:
    """Return the odds that a written mean takes in the runs it seems to; None where the runs ticked say so."""
    if student.own_mean is None or ticked(student):
        return None
    ranked = ranked_fits(MeanClaim(student, student.own_mean))
    return ranked[0][1] if ranked else None


def width_of(claim: MeanClaim) -> Fraction:
    """Return the last digit that was written, as far as that is known, as a volume [cm³]."""
    return Fraction(1, 10**claim.digits)


def mean_slips(student: Student) -> list[Slip]:
    """Return the slip that explains a written mean titre best; an empty list where the mean is right, or there is none.

    Only one, as two would exclude one another; what fits besides is listed in `also`. A mean correctly worked out from
    the wrong runs is `rough-in-mean` or `discordant-in-mean`, and costs the selection.
    """
    written = student.own_mean
    if written is None or not written.is_finite() or right_choice(student, choices(student)) is not None:
        return []
    claim = MeanClaim(student, written)
    ranked = ranked_fits(claim)
    tried = 2 ** min(len(claim.places), MOST_RUNS)
    if not ranked:
        return [unexplained_mean(claim, tried)] if claim.places else []
    return [slip_of(claim, ranked, tried)]


def unexplained_mean(claim: MeanClaim, tried: int) -> Slip:
    """Return the slip of a mean that nothing explains."""
    cause = UNEXPLAINED
    if not claim.own:
        message = f"{either('You', 'The student')} wrote {claim.shown} cm³, and no set of the titres gives that mean."
        return Slip("mean-slip", cause, "mean", message, candidates_tried=tried)
    own = claim.own[0]
    value = claim.mean(own)
    working = sum_shown(claim.titres(own), len(own), value)
    message = (
        f"The mean of {names(claim.runs(own))} is {working}, but {YOU_WROTE} {claim.shown}, and no usual slip "
        "gives that."
    )
    return Slip("mean-slip", cause, "mean", message, working, value, candidates_tried=tried)


def own_mean(student: Student, at_least: int, within: int) -> OwnMean | None:
    """Return what the student's mean is the mean of, and whether it is right; None where there is nothing to judge.

    at_least   how many runs must agree
    within     largest minus smallest of titres that agree [µL]
    """
    chosen, written = ticked(student), student.own_mean
    unread = any(run.ticked and run.own_titre is None for run in student.runs)
    if written is None and not chosen and not unread:
        return None
    selected = selection_right(student, chosen, at_least)
    if written is None:
        return OwnMean(False, chosen, selected or unread, next(means_of(student, chosen), None))
    right = right_choice(student, choices(student))
    if right is not None and not unread:
        return OwnMean(True, right[0], selection_right(student, right[0], at_least), right[1])
    if unread or (not chosen and may_take_in_an_unread_run(student, within)):
        return OwnMean(True, chosen, not any(student.runs[place].rough for place in chosen), None, uncheckable=True)
    fit = next((one for one, _ in ranked_fits(MeanClaim(student, written))), None)
    if fit is not None and fit.findings[0] in CAUSES:
        return OwnMean(True, fit.runs, False, fit.value)
    # Runs ticked in excess, and the mean of the right ones all the same: one slip, and it costs the mean.
    if not chosen or right_choice(student, student.fair) is not None:
        selected = True
    own = chosen or next(iter(student.fair), ())
    return OwnMean(False, own, selected, next(means_of(student, own), None), fit is not None and fit.cause == COARSE)


def may_take_in_an_unread_run(student: Student, within: int) -> bool:
    """Return whether the written mean may be that of runs that agree, one of which has no titre that can be read."""
    if student.own_mean is None or all(run.own_titre is not None or run.struck for run in student.accurate):
        return False
    known = [
        abs(cm3(run.own_titre) - Fraction(student.own_mean)) for run in student.accurate if run.own_titre is not None
    ]
    return not known or min(known) <= cm3(within)
