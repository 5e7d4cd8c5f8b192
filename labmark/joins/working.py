"""Slips in the working: what follows from what on the student's own figures, and slips back as findings."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from labmark.diagnose.working import (
    Calculation,
    Slip,
    mean_slips,
    own_reading,
    own_result,
    result_slips,
)
from labmark.diagnose.working_claim import right_printed
from labmark.diagnose.working_shown import asked_decimals
from labmark.diagnose.working_slips import LEFT_OUT
from labmark.facts import OwnMean, OwnResult, Places, Run, Student, cm3
from labmark.figures import figures_right, significant, visible_decimals
from labmark.findings import KINDS
from labmark.records import Finding, Level
from labmark.volumes import both_roundings, round_fraction
from labmark.words import listed

PLAIN = ("mean-slip", "result-slip")
"""Findings that are facts: the figures written do not follow from the student's own."""

RARELY_BY_CHANCE = 0.5
"""A slip with lower odds than this is put to the teacher as a question, not as plain."""


def judged_result(student: Student, mean: OwnMean | None, calc: Calculation) -> OwnResult | None:
    """Return whether the own result follows from the own mean; None where there is nothing to judge.

    It is right at the digits written, and also when it follows from intermediate values rounded to at least as many
    figures as were asked for, or from a formula mass as schools round it.
    """
    if student.own_result is None:
        return None
    starts = _starts(student, mean)
    if not starts or starts[0] <= 0:
        return None
    return _judged(calc, starts, student.own_result, student.own_result_decimals)


@lru_cache(maxsize=1 << 15)
def _judged(
    calc: Calculation, starts: tuple[Fraction, ...], written: Decimal, decimals: int | None
) -> OwnResult | None:
    """Return the judgement of a result; in a large cohort many students have the same mean and the same result."""
    if calc.blank_titre is not None and starts[0] >= calc.blank_titre:
        return _at_blank(calc, starts[0], written, decimals)
    # A bare 0 is what anything small rounds to: it says nothing.
    reading = own_reading(calc, starts, written, decimals) if written else None
    # Right as far as it goes, and too coarse.
    coarse = reading is not None and reading.short
    whole = reading is not None and calc.counts_waters and not visible_decimals(written) and not decimals
    figures = (whole or figures_right(written, decimals, calc.significant_figures)) and not coarse
    return OwnResult(reading is not None, own_result(calc, starts[0]), figures, coarse)


def _at_blank(calc: Calculation, mean: Fraction, written: Decimal, decimals: int | None) -> OwnResult | None:
    """Return that the result follows from a mean that is not below the blank titre: nothing, or less than nothing.

    None where another result is written: it may follow from anything, so that there is nothing to judge.
    """
    try:
        expected = own_result(calc, mean)
    except ZeroDivisionError:
        return None
    follows = written in both_roundings(expected, visible_decimals(written) if decimals is None else decimals)
    return OwnResult(True, expected, True, False) if follows else None


def working_findings(
    student: Student, mean: OwnMean | None, result: OwnResult | None, calc: Calculation, within: int
) -> Iterator[Finding]:
    """Yield what the mean and the result of a student show, on the student's own figures.

    within   concordance limit [µL]
    """
    if student.absent:
        return
    if mean is not None and not _is_clean(mean):
        yield from _mean_findings(student, mean, within)
    elif mean is not None:
        yield from _left_out(student, mean)
    if result is not None and (result.coarse or not result.right):
        yield from _result_findings(student, mean, result, calc)


def _is_clean(mean: OwnMean) -> bool:
    """Return whether a mean shows nothing, as most do."""
    return mean.selection_right and (mean.right or (mean.expected is None and not mean.coarse))


def _left_out(student: Student, mean: OwnMean) -> Iterator[Finding]:
    """Yield a note where no run is ticked and the mean fits only some of the runs that agree: it costs no mark."""
    largest = student.sets[0] if student.sets else ()
    if len(mean.runs) >= len(largest) or student.own_mean is None or any(run.ticked for run in student.runs):
        return
    group = next((each for each in student.sets if set(mean.runs) < set(each)), None)
    if group is None:
        return
    some, every = [student.runs[place] for place in mean.runs], [student.runs[place] for place in group]
    titres = [cm3(run.own_titre) for run in every if run.own_titre is not None]
    alone = [f" (or that of run {run.label} alone)" for run in every if cm3(run.own_titre or 0) == student.own_mean]
    yield _fact(
        "mean-slip",
        f"{student.mean_as_written} cm³ is the mean of runs {' and '.join(_labels(some))} only{''.join(alone[:1])}. "
        f"Runs {listed(_labels(every))} agree: "
        f"the mean of all of them is {round_fraction(sum(titres, Fraction(0)) / len(titres), 2):f} cm³.",
        student.at("mean"),
        "note",
        cause=LEFT_OUT,
        keep=_labels(every),
    )


def _mean_findings(student: Student, mean: OwnMean, within: int) -> Iterator[Finding]:
    if not mean.selection_right:
        yield from _selection_findings(student, mean, within)
    if student.own_mean is None:
        return
    if mean.coarse:
        message = (
            f"{_mean_sum(student, mean)}; {student.mean_as_written} is right to one decimal only. "
            "A mean titre is given to 0.05 or 0.01 cm³."
        )
        yield _fact("rounding", message, student.at("mean"), "check", decimals=2)
    elif not mean.right and mean.expected is not None:
        yield from (_finding(slip, student.at("mean")) for slip in mean_slips(student))


def _selection_findings(student: Student, mean: OwnMean, within: int) -> Iterator[Finding]:
    cells = (*student.at("mean"), *(cell for run in student.runs for cell in run.at("used")))
    chosen = [student.runs[place] for place in mean.runs]
    if any(run.rough for run in chosen):
        message = f"The mean takes the rough in ({_titres(chosen)}).{_keep(student)}"
        yield _fact("rough-in-mean", message, cells, runs=_labels(chosen), keep=_kept(student))
    accurate = [run for run in chosen if not run.rough]
    outside = bool(student.sets) and len(accurate) > 1 and not _inside(student, mean.runs)
    if _spread(accurate) > within or outside:
        message = f"The mean takes titres in that do not agree ({_titres(accurate)}).{_keep(student)}"
        yield _fact("discordant-in-mean", message, cells, runs=_labels(accurate), keep=_kept(student))


def _mean_sum(student: Student, mean: OwnMean) -> str:
    assert mean.expected is not None
    return f"The mean of {_titres([student.runs[place] for place in mean.runs])} is {float(mean.expected):.2f} cm³"


def _kept(student: Student) -> list[str]:
    """Return the labels of the runs that should have been kept; none where no titres agree."""
    return _labels([student.runs[place] for place in student.sets[0]]) if student.sets else []


def _keep(student: Student) -> str:
    """Return a sentence that names the runs that should have been kept."""
    kept = _kept(student)
    return f" Runs {listed(kept)} are the ones that agree." if kept else ""


def _result_findings(student: Student, mean: OwnMean | None, result: OwnResult, calc: Calculation) -> Iterator[Finding]:
    if student.own_result is None:
        return
    cells = student.at("result", "mean")
    if result.coarse:
        yield _fact(
            "rounding",
            f"The result {student.result_as_written} is right to fewer than the {calc.significant_figures} "
            f"significant figures asked for, as in {significant(result.expected, calc.significant_figures):f}.",
            cells,
            "check",
            figures=calc.significant_figures,
        )
        return
    starts = _starts(student, mean)
    titres = {run.label: cm3(run.own_titre) for run in student.runs if run.own_titre is not None}
    rough = tuple(run.label for run in student.runs if run.rough)
    slips = result_slips(
        calc,
        mean=starts[0],
        claimed=student.own_result,
        decimals=student.own_result_decimals,
        titres=titres,
        rough=rough,
        other_means=starts[1:],
        known_wrong=True,
    )
    yield from _first_of_each(slips, cells, _right_sum(calc, starts[0]))


def _starts(student: Student, mean: OwnMean | None) -> tuple[Fraction, ...]:
    """Return the means that the result may fairly rest on [cm³], the own one as written first."""
    written = student.own_mean
    starts: tuple[Fraction, ...] = ()
    if written is not None and written > 0:
        starts = (_exact(written),)
    if mean is not None and mean.expected and (mean.right or mean.coarse or not starts) and starts != (mean.expected,):
        starts = (*starts, mean.expected)
    return starts or ((student.mean,) if student.mean else ())


@lru_cache(maxsize=1 << 13)
def _exact(written: Decimal) -> Fraction:
    return Fraction(written)


def _right_sum(calc: Calculation, mean: Fraction) -> str:
    """Return the sum as it should have been, so that it stands beside the one that was done."""
    decimals = asked_decimals(own_result(calc, mean), calc.significant_figures)
    return f" The right sum is {right_printed(calc, mean, decimals)}."


def _first_of_each(slips: list[Slip], cells: tuple[str, ...], right: str) -> Iterator[Finding]:
    seen: set[str] = set()
    for slip in slips:
        if slip.finding not in seen:
            seen.add(slip.finding)
            yield _finding(slip, cells, "" if slip.says_right else right)


def _finding(slip: Slip, cells: tuple[str, ...], right: str = "") -> Finding:
    level: Level = KINDS[slip.finding].level
    if slip.probability is not None and slip.probability < RARELY_BY_CHANCE:
        level = "check"
    probability = None if slip.probability is None else round(float(slip.probability), 3)
    evidence = slip.evidence()
    if slip.finding in PLAIN:
        # That the value is wrong is plain; the odds are those of the explanation.
        level, evidence, probability = (
            KINDS[slip.finding].level,
            evidence | {"explanation_probability": probability},
            None,
        )
    return Finding(slip.finding, slip.message + right + _also(slip), level, None, probability, cells, evidence)


def _also(slip: Slip) -> str:
    """Return the less likely slips that fit as well; two slips at once are for the evidence only."""
    single = [cause for cause in slip.also if " and " not in cause]
    return f" Less likely, but it fits as well: {'; '.join(single)}." if single else ""


def _fact(code: str, message: str, cells: tuple[str, ...], level: Level | None = None, **evidence: object) -> Finding:
    return Finding(code, message, level or KINDS[code].level, None, None, tuple(cells), evidence)


def _inside(student: Student, places: Places) -> bool:
    """Return whether the accurate runs among the places all belong to one largest concordant set."""
    accurate = {place for place in places if not student.runs[place].rough}
    return any(accurate <= set(group) for group in student.sets)


def _spread(runs: list[Run]) -> int:
    own = [run.own_titre for run in runs if run.own_titre is not None]
    return max(own) - min(own) if own else 0


def _titres(runs: list[Run]) -> str:
    return ", ".join(f"{float(cm3(run.own_titre)):.2f}" for run in runs if run.own_titre is not None)


def _labels(runs: list[Run]) -> list[str]:
    return [run.label for run in runs]
