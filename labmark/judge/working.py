"""Slips in the working as findings: what a wrong mean or result came from, on the student's own figures."""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Any

from labmark.diagnose.working import result_slips
from labmark.diagnose.working_calculation import Calculation, in_unit
from labmark.diagnose.working_fits import right_printed
from labmark.diagnose.working_mean_slips import mean_slips, selection_odds
from labmark.diagnose.working_slips import LEFT_OUT, TOGETHER, UNEXPLAINED, Slip
from labmark.diagnose.working_titres import is_last_figure_out
from labmark.exact import asked_decimals, average, in_digits, in_figures, round_fraction, significant, too_few_figures
from labmark.facts import OwnMean, OwnResult, Run, Student, cm3
from labmark.findings import found
from labmark.judge.case import Claimed
from labmark.judge.own_result import starts_of, turned_titre
from labmark.records import Finding
from labmark.units import power_between, shown_unit
from labmark.words import YOU_WROTE, YOUR, listed

PLAIN = ("mean-slip", "result-slip")
"""Findings that are facts: the figures written do not follow from the student's own."""

MOST_STARTS = 2
"""So many means are tried with each slip, the likeliest first: with more, coincidences grow."""
MOST_NAMED = 2
"""Other slips that a message names."""
RARELY_BY_CHANCE = 0.5
"""A slip with lower odds than this is put to the teacher as a question, not as plain."""


def working_findings(claim: Claimed, within: int, expanded: Callable[[], float] = float) -> Iterator[Finding]:
    """Yield what the mean and the result of a student show, on the student's own figures.

    within     concordance limit [µL]
    expanded   gives the expanded uncertainty of the student's result, asked for only where it decides
    """
    student, mean, unit = claim.student, claim.mean, "" if claim.result is None else claim.result.unit
    if mean is not None:
        # Most means show nothing.
        clean = mean.selection_right and (mean.right or (mean.expected is None and not mean.coarse))
        yield from _left_out(student, mean, within) if clean else _mean_findings(student, mean, within)
    yield from _of_result(claim._replace(sums=in_unit(claim.sums, unit)), expanded)


def _of_result(claim: Claimed, expanded: Callable[[], float]) -> Iterator[Finding]:
    """Yield what a result shows: the slips that explain it, and that it cannot be."""
    slips = list(_result_findings(claim, claim.result)) if claim.result is not None and claim.how_wrong else []
    explained = any(slip.evidence.get("slips") for slip in slips)
    unknown = [slip for slip in slips if slip.evidence.get("slips") == [] and claim.student.agreement is None]
    right = unknown[0].evidence["working"] if unknown else ""
    impossible = list(_impossible(claim, expanded, explained=explained, right=right))
    # That a value cannot be says more than that no slip explains it.
    yield from impossible
    yield from (slip for slip in slips if not (impossible and slip.evidence.get("slips") == []))


def _impossible(claim: Claimed, expanded: Callable[[], float], *, explained: bool, right: str) -> Iterator[Finding]:
    """Yield that the readings give no result, or that the written one cannot be; `explained` where a slip gives it.

    right   the sum as it should have been, where none does
    """
    student, calc = claim.student, claim.sums
    low, blank = calc.formula.curve.low, calc.blank_titre
    if low and student.mean is not None and student.mean <= low:
        yield _nothing_left(student, calc, low)
    elif blank is not None and student.mean is not None and student.mean >= blank:
        yield _nothing_reacted(student, blank)
    else:
        yield from _beyond(claim, expanded, explained=explained, right=right)


def _nothing_left(student: Student, calc: Calculation, low: Fraction) -> Finding:
    mean, taken = round_fraction(student.mean or Fraction(0), 2), round_fraction(low, 2)
    message = (
        f"The mean titre of {mean:f} cm³ is not above what the other titres take, {taken:f} cm³: nothing of it is left."
        if "others" in calc.names
        else f"The mean titre of {mean:f} cm³ is not above the blank of {taken:f} cm³: nothing of it has gone into the "
        "sample."
    )
    return found("impossible-result", message, cells=student.at("mean"), blank_titre=float(low))


def _nothing_reacted(student: Student, blank: Fraction) -> Finding:
    mean = round_fraction(student.mean or Fraction(0), 2)
    message = (
        f"The mean titre of {mean:f} cm³ is not below {round_fraction(blank, 2):f} cm³, "
        "which the reagent takes without any sample (the blank titre): nothing of it would have reacted."
    )
    cells = tuple(cell for place in student.closest for cell in student.runs[place].at("initial", "final"))
    return found("impossible-result", message, cells=cells, blank_titre=float(blank))


def _beyond(claim: Claimed, expanded: Callable[[], float], *, explained: bool, right: str) -> Iterator[Finding]:
    """Yield that a written result is negative, or more than all of the sample."""
    student, result, calc = claim.student, claim.result, claim.sums
    own = student.result_as_written
    if own is None:
        return
    percent = False
    if calc.quantity == "percent by mass":
        most, written = calc.most * Fraction(10) ** (power_between("%", calc.unit) or 0), Fraction(own)
        percent = written > most and written > most + Fraction(expanded())
    if not percent and own >= 0:
        return
    why = "no amount is less than nothing"
    if percent:
        share = in_figures(calc.most, 4)
        all_of_it = f"no sample holds more than {share} % of it"
        why = "no sample is more than 100 % of one substance" if calc.most == 100 else all_of_it
    follows = result is not None and result.right
    where = "" if explained else " Go through the steps of the sum again."
    if right and not explained:
        where = f" The correct working is {right}."
    if follows:
        where = f" It follows from {YOUR} titres, so look for the cause in the readings, the solutions or the sample."
    message = f"A result of {in_digits(own)} {calc.unit}".rstrip() + f" cannot be: {why}.{where}"
    costs = None if follows or result is None else "calculation"
    yield found("impossible-result", message, cells=student.at("result"), criterion=costs, slips=[])


def _left_out(student: Student, mean: OwnMean, within: int) -> Iterator[Finding]:
    """Yield a note where no run is ticked and the mean fits only some of the runs that agree: it costs no mark."""
    group = next((each for each in student.sets if set(mean.runs) < set(each)), None)
    if mean.uncheckable or group is None or student.own_mean is None or any(run.ticked for run in student.runs):
        return
    some, every = [student.runs[place] for place in mean.runs], [student.runs[place] for place in group]
    # Who wrote another titre than the readings give went by what was written.
    if student.agreement is None and _spread(every) > within:
        return
    value = average(cm3(run.own_titre) for run in every if run.own_titre is not None)
    # The mean of all of them with its last figure cut off says as much: 21.77 of 21.775.
    if is_last_figure_out(value, Fraction(student.own_mean), 2) == "cut":
        return
    alone = [f" (or that of run {run.label} alone)" for run in every if cm3(run.own_titre or 0) == student.own_mean]
    which = f"run{'s' if len(some) > 1 else ''} {listed(_labels(some))}{''.join(alone[:1])}"
    message = (
        f"{student.mean_as_written} cm³ is the mean of only {which}. Runs {listed(_labels(every))} agree: "
        f"the mean of all of them is {round_fraction(value, 2):f} cm³."
    )
    yield found("mean-slip", message, cells=student.at("mean"), level="note", cause=LEFT_OUT, keep=_labels(every))


def _mean_findings(student: Student, mean: OwnMean, within: int) -> Iterator[Finding]:
    """Yield what is wrong with a written mean."""
    if not mean.selection_right:
        yield from _selection_findings(student, mean, within)
    if student.own_mean is None:
        return
    if mean.coarse:
        message = (
            f"{_mean_sum(student, mean)}; {student.mean_as_written} is right to one decimal only. "
            "A mean titre is given to 0.05 or 0.01 cm³."
        )
        yield found("rounding", message, cells=student.at("mean"), level="check", criterion="mean", decimals=2)
    elif not mean.right and mean.expected is not None:
        yield from (_finding(slip, student.at("mean")) for slip in mean_slips(student))


def _selection_findings(student: Student, mean: OwnMean, within: int) -> Iterator[Finding]:
    """Yield what is wrong with the runs that a mean is of, with the odds that it is of these, where nobody says so."""
    cells = (*student.at("mean"), *(cell for run in student.runs for cell in run.at("used")))
    chosen = [student.runs[place] for place in mean.runs]
    said: dict[str, tuple[str, list[Run]]] = {}
    if any(run.rough for run in chosen):
        taken = "The rough titre was included in the mean" if mean.right else "The rough is among the runs ticked"
        said["rough-in-mean"] = f"{taken} ({_titres(chosen)}).{_keep(student)}", chosen
    accurate = [run for run in chosen if not run.rough]
    places = {place for place in mean.runs if not student.runs[place].rough}
    inside = any(places <= set(group) for group in student.sets)  # of one largest concordant set
    outside = bool(student.sets) and len(accurate) > 1 and not inside
    if (student.agreement is None and _spread(accurate) > within) or outside:
        said["discordant-in-mean"] = f"{_disagreeing(student, accurate, mean.right)}.{_keep(student)}", accurate
    odds = selection_odds(student) if said else None
    for code, (message, runs) in said.items():
        evidence = {"criterion": "selection", "runs": _labels(runs), "keep": _kept(student)}
        yield found(code, message, None, evidence, **_at_odds(odds), cells=cells)


def _at_odds(odds: float | None) -> dict[str, Any]:
    """Return probability and level of what has odds; the usual level where they are not low."""
    rarely = odds is not None and odds < RARELY_BY_CHANCE
    return {"probability": None if odds is None else round(float(odds), 3), "level": "check" if rarely else None}


def _disagreeing(student: Student, runs: list[Run], taken: bool) -> str:
    if student.agreement is None:
        said = "Titres that do not agree were included in the mean" if taken else "The titres ticked do not agree"
        return f"{said} ({_titres(runs)})"
    results = ", ".join(in_figures(run.result, 4) for run in runs if run.result is not None)
    return f"The results of runs {listed(_labels(runs))} do not agree within {student.agreement.limit} % ({results})"


def _mean_sum(student: Student, mean: OwnMean) -> str:
    assert mean.expected is not None
    return f"The mean of {_titres([student.runs[place] for place in mean.runs])} is {float(mean.expected):.2f} cm³"


def _kept(student: Student) -> list[str]:
    """Return the labels of the runs that should have been kept; none where no titres agree."""
    return _labels([student.runs[place] for place in student.sets[0]]) if student.sets else []


def _keep(student: Student) -> str:
    """Return a sentence that names runs to be kept; others, or the rough, may agree with them as well."""
    kept = _kept(student)
    return f" Runs {listed(kept)} agree: a mean of these is right." if kept else ""


def _result_findings(claim: Claimed, result: OwnResult) -> Iterator[Finding]:
    """Yield what is wrong with a written result."""
    student, mean, calc = claim.student, claim.mean, claim.sums
    cells = student.at("result", "mean")
    if result.coarse:
        asked = calc.significant_figures
        message = too_few_figures(student.result_in_words, asked, f"{significant(result.expected, asked):f}")
        yield found("rounding", message, cells=cells, level="check", criterion="figures", figures=asked)
        return
    starts = starts_of(student, mean)[:MOST_STARTS]
    slips = _slips(student, starts, calc)
    decimals = asked_decimals(calc.formula.curve.value.at(starts[0]) or Fraction(0), calc.significant_figures)
    # Whether zeros were lost in a cell cannot be known: then the figures keep their mark, and are not found wanting.
    worth = [slip for slip in slips if slip.criterion != "figures" or not result.figures_right]
    if student.agreement is not None:
        worth = [_of_results(student, slip, calc) for slip in worth]
    for slip in worth:
        # The sum as it should have been is printed beside the one that was done.
        right = f" The correct working is {right_printed(calc, slip.start or starts[0], decimals)}."
        yield _finding(slip, cells, "" if slip.says_right else right)


def _slips(student: Student, starts: tuple[Fraction, ...], calc: Calculation) -> Sequence[Slip]:
    """Return the slips that may have led from the means that a result may rest on [cm³] to the written one."""
    assert student.own_result is not None
    return result_slips(
        calc,
        mean=starts[0],
        claimed=student.own_result,
        decimals=student.own_result_decimals,
        titres={run.label: titre for run in student.runs if (titre := turned_titre(run)) is not None},
        rough=tuple(run.label for run in student.runs if run.rough),
        other_means=starts[1:],
        from_start=student.from_start,
        elsewhere=student.elsewhere,
    )


def _of_results(student: Student, slip: Slip, calc: Calculation) -> Slip:
    """Return a slip that no sum explains, held against the results of the runs: they have no mean titre in common."""
    used = [run for run in student.runs if run.in_mean and run.result is not None]
    if slip.finding != "result-slip" or not slip.says_right or not used:
        return slip
    mean = average(run.result for run in used if run.result is not None)
    of = (
        f"The mean of the results of runs {listed(_labels(used))} is" if len(used) > 1 else f"Run {used[0].label} gives"
    )
    value = f"{significant(mean, calc.significant_figures):f} {shown_unit(calc.unit)}".rstrip()
    why = (
        "no usual slip gives that value" if slip.cause == UNEXPLAINED else f"it may be a slip of the pen: {slip.cause}"
    )
    return slip._replace(message=f"{of} {value}, but {YOU_WROTE} {student.result_in_words}; {why}.")


def _finding(slip: Slip, cells: tuple[str, ...], right: str = "") -> Finding:
    held, evidence = _at_odds(slip.probability), slip.evidence()
    if slip.finding in PLAIN:
        # That the value is wrong is plain; the odds are those of the explanation.
        held, evidence = {}, evidence | {"explanation_probability": held["probability"]}
    return found(slip.finding, slip.message + right + _also(slip), None, evidence, **held, cells=cells)


def _also(slip: Slip) -> str:
    """Return the less likely slips that fit as well; two at once are named only beside two at once."""
    others = [cause for cause in slip.also if slip.slips and (len(slip.slips) > 1 or TOGETHER not in cause)]
    return f" Less likely, but it would fit too: {'; '.join(others[:MOST_NAMED])}." if others else ""


def _spread(runs: list[Run]) -> int:
    own = [run.own_titre for run in runs if run.own_titre is not None]
    return max(own) - min(own) if own else 0


def _titres(runs: list[Run]) -> str:
    return ", ".join(f"{float(cm3(run.own_titre)):.2f}" for run in runs if run.own_titre is not None)


def _labels(runs: list[Run]) -> list[str]:
    return [run.label for run in runs]
