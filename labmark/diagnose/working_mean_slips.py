"""What a student's mean titre is the mean of, and the slip told of one that is wrong.

What the mean takes in is one question (`rough-in-mean`, `discordant-in-mean`), whether the arithmetic is right another
(`mean-slip`, `rounding`). `own_mean` answers both for the marks, `mean_slips` says what lies behind a wrong mean. Both
go by the likeliest explanation, so that no finding contradicts a mark.
"""

from collections.abc import Sequence
from fractions import Fraction

from labmark.diagnose.working_mean_fits import (
    CAUSES,
    COARSE,
    MOST_RUNS,
    MeanClaim,
    chance_of,
    ranked_fits,
    sum_shown,
)
from labmark.diagnose.working_means import choices, means_of, right_choice, selection_right, ticked
from labmark.diagnose.working_slips import DOUBTFUL, UNEXPLAINED, Fit, Slip, slip_of
from labmark.facts import OwnMean, Student, cm3, runs_named
from labmark.words import YOU_WROTE, either


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
    return [explained_mean(claim, ranked, tried)]


def explained_mean(claim: MeanClaim, ranked: Sequence[tuple[Fit, float]], tried: int) -> Slip:
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
    criterion = "selection" if fit.findings[0] in CAUSES else "mean"
    also = tuple(dict.fromkeys((*fit.others, *(other.causes[0] for other, _ in others))))
    return slip_of(fit, 0, criterion, message, tried, chance_of(claim), odds, also)


def unexplained_mean(claim: MeanClaim, tried: int) -> Slip:
    """Return the slip of a mean that nothing explains."""
    if not claim.own:
        message = f"{either('You', 'The student')} wrote {claim.shown} cm³, and no set of the titres gives that mean."
        return Slip("mean-slip", UNEXPLAINED, "mean", message, candidates_tried=tried)
    own = claim.own[0]
    value = claim.mean(own)
    working = sum_shown(claim.titres(own), len(own), value)
    message = (
        f"The mean of {runs_named(claim.runs(own))} is {working}, but {YOU_WROTE} {claim.shown}, and no usual slip "
        "gives that."
    )
    return Slip("mean-slip", UNEXPLAINED, "mean", message, working, value, candidates_tried=tried)


def selection_odds(student: Student) -> float | None:
    """Return the odds that a written mean takes in the runs it seems to; None where the runs ticked say so."""
    if student.own_mean is None or ticked(student):
        return None
    ranked = ranked_fits(MeanClaim(student, student.own_mean))
    return ranked[0][1] if ranked else None


def own_mean(student: Student, at_least: int, within: int) -> OwnMean | None:
    """Return what the student's mean is the mean of, and whether it is right; None where there is nothing to judge.

    at_least   how many runs must agree
    within     largest minus smallest of titres that agree [µL]
    """
    chosen, written = ticked(student), student.own_mean
    unread = any(run.ticked and run.own_titre is None for run in student.runs)
    if written is None and not chosen and not unread:
        return None
    if written is None:
        selected = unread or selection_right(student, chosen, at_least)
        return OwnMean(False, chosen, selected, next(means_of(student, chosen), None))
    right = right_choice(student, choices(student))
    if right is not None and not unread:
        return OwnMean(True, right[0], selection_right(student, right[0], at_least), right[1])
    odd = any("titre" in run.odd and not run.struck for run in student.accurate)
    if unread or odd or (not chosen and may_take_in_an_unread_run(student, within)):
        return OwnMean(True, chosen, not any(student.runs[place].rough for place in chosen), None, uncheckable=True)
    return of_wrong_mean(MeanClaim(student, written), at_least)


def of_wrong_mean(claim: MeanClaim, at_least: int) -> OwnMean:
    """Return what a wrong mean is most likely the mean of."""
    student, chosen = claim.student, ticked(claim.student)
    fit = next((one for one, _ in ranked_fits(claim)), None)
    if fit is not None and fit.findings[0] in CAUSES:
        return OwnMean(True, fit.runs, False, fit.value)
    # Runs ticked in excess, and the mean of the right ones all the same: one slip, and it costs the mean.
    excused = not chosen or right_choice(student, student.fair) is not None
    selected, own = excused or selection_right(student, chosen, at_least), next(iter(claim.own), ())
    return OwnMean(False, own, selected, next(means_of(student, own), None), fit is not None and fit.cause == COARSE)


def may_take_in_an_unread_run(student: Student, within: int) -> bool:
    """Return whether the written mean may be that of runs that agree, one of which has no titre that can be read."""
    if student.own_mean is None or all(run.own_titre is not None or run.struck for run in student.accurate):
        return False
    known = [
        abs(cm3(run.own_titre) - Fraction(student.own_mean)) for run in student.accurate if run.own_titre is not None
    ]
    return not known or min(known) <= cm3(within)
