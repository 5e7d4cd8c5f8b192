"""What may lie behind a wrong mean titre: other runs in it (the rough, one too few), a wrong count, a slip of the pen.

How likely each is goes by how common it is and how well it fits; a mean from nowhere or from elsewhere is weighed, too.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from itertools import combinations
from statistics import NormalDist, median

from labmark.dataclass import dataclass
from labmark.diagnose.working_calculation import decimal_text, volume_text
from labmark.diagnose.working_means import HUNDREDTH, is_to_the_digit, mean_is_coarse, mean_is_right, ticked
from labmark.diagnose.working_slips import (
    BY_ROUNDING,
    LEFT_OUT,
    LOOSE,
    TICKED_TOO,
    WORTH_NAMING,
    Fit,
    is_usurped,
    merged,
    weigh,
)
from labmark.diagnose.working_titres import digit_slip, is_last_figure_out
from labmark.exact import average, round_fraction, visible_decimals
from labmark.facts import Places, Run, Student, cm3, runs_named

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
CUT = "last figure not rounded correctly"
CAUSES = {
    "rough-in-mean": "the rough included",
    "discordant-in-mean": "a run included that does not agree",
}
"""Findings about a mean that is correctly worked out from the wrong runs, with their cause."""


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
        """The mean as it was written, and with two decimals at least where zeros may have been lost.

        Who took the blank off reads the one that it is held against too.
        """
        places = self.decimals if self.student.own_mean_decimals is None else self.digits
        text, net = decimal_text(Fraction(self.written), places), self.student.net
        return f"{decimal_text(Fraction(self.written - net), places)} (with the blank {text})" if net > 0 else text

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


def ranked_fits(claim: MeanClaim) -> list[tuple[Fit, float]]:
    """Return what may lie behind a wrong mean with its odds, the likeliest first; none where that is too unlikely."""
    sets = (places for places in sets_of(claim) if places and mean_is_right(claim.written, claim.mean(places)))
    fits = merged([*(set_fit(claim, places) for places in sets), *other_fits(claim), *pen_fits(claim)])
    if any(CUT in fit.causes for fit in fits):
        # The right runs give the very same figures, cut off: they tell nothing against the choice.
        fits = [fit._replace(rate=LOOSE * fit.rate) if fit.findings[0] in CAUSES else fit for fit in fits]
    ranked = weigh(fits, by_accident(claim))
    ranked.sort(key=lambda one: is_usurped(one[0], fits))
    return ranked if ranked and ranked[0][1] >= WORTH_NAMING else []


def set_fit(claim: MeanClaim, places: Places) -> Fit:
    """Return the fit of a mean of these runs."""
    value, runs = claim.mean(places), claim.runs(places)
    finding, words = claim.selection(places), f"the mean of {runs_named(runs)}"
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
    return fit._replace(working=working, loose=BY_ROUNDING, rate=TO_FIVE * fit.rate)


def one_run(claim: MeanClaim, place: int) -> tuple[float, str, str]:
    """Return rate, cause and words of one run given instead of a mean."""
    run = claim.student.runs[place]
    if run.rough:
        return LAST_RATE, "the rough given instead of a mean", "the rough titre alone"
    if place == claim.accurate[-1]:
        return LAST_RATE, "last run given instead of a mean", f"the last run alone (run {run.label})"
    return ONE_RATE, "one run given instead of a mean", f"run {run.label} alone"


def sets_of(claim: MeanClaim) -> Iterator[Places]:
    """Yield the sets of runs that a mean may take in, the largest first; of many runs all, all but one, and each."""
    few = len(claim.places) <= MOST_RUNS
    for whole in (claim.places,) if few else (claim.places, claim.accurate):
        for size in range(len(whole), 0, -1) if few else (len(whole), max(len(whole) - 1, 0), 1):
            yield from combinations(whole, size)


def other_fits(claim: MeanClaim) -> Iterator[Fit]:
    """Yield the fits of a median, of a wrong count."""
    for places in dict.fromkeys((*claim.own, claim.accurate, claim.places)):
        titres = claim.titres(places)
        middle = Fraction(median(titres)) if len(titres) > 2 else None
        if middle is not None and mean_is_right(claim.written, middle):
            words = f"the middle value of {runs_named(claim.runs(places))}"
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
            yield Fit(("rounding",), (CUT,), rate, words, working, value)
        if how := digit_slip(round_fraction(value, claim.decimals), claim.written):
            yield mean_fit(value, PEN_RATE / 10, how, how, working)


def by_accident(claim: MeanClaim) -> float:
    """Return how common a mean that comes from nowhere, or from elsewhere, is at the very digits that were written."""
    own = float(claim.mean(claim.own[0])) if claim.own else 0.0
    if not own:  # from nothing at all no distance can be told
        return UNEXPLAINED_RATE * float(width_of(claim) / RANGE)
    away, half = float(claim.written) - own, float(RANGE) / 2
    nowhere = UNEXPLAINED_RATE / float(RANGE) / (1 + (away / half) ** 2)
    elsewhere = ELSEWHERE_RATE * NormalDist(sigma=ELSEWHERE_SPREAD * own).pdf(away)
    return float(width_of(claim)) * (nowhere + elsewhere)


def chance_of(claim: MeanClaim) -> float:
    """Return how many of the means tried would hit the written one by accident, each a last digit wide."""
    written, near = float(claim.written), float(RANGE) / 2 + 1e-9
    means = {claim.mean(places) for places in sets_of(claim) if places}
    return min(1.0, sum(abs(float(mean) - written) <= near for mean in means) * float(width_of(claim) / RANGE))


def width_of(claim: MeanClaim) -> Fraction:
    """Return the last digit that was written, as far as that is known, as a volume [cm³]."""
    return Fraction(1, 10**claim.digits)


def sum_shown(titres: Sequence[Fraction], count: int, value: Fraction, decimals: int = HUNDREDTH) -> str:
    """Return a mean as a sum: "(24.35 + 24.40) ÷ 2 = 24.38 cm³"."""
    total = total_shown(titres)
    return f"{total} ÷ {count} = {decimal_text(value, max(decimals, HUNDREDTH))} cm³" if count > 1 else f"{total} cm³"


def total_shown(titres: Sequence[Fraction]) -> str:
    """Return a sum of titres, in brackets where there are several."""
    inside = " + ".join(volume_text(titre) for titre in titres)
    return f"({inside})" if len(titres) > 1 else inside
