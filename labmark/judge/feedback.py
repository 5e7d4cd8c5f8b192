"""What is said to each student, and what a student can do next time.

Findings are hypotheses: the words say "probably" and "may", and the teacher decides. Nothing here ever mentions
another student.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from labmark import words
from labmark.assessed import Assessed
from labmark.diagnose.hypotheses import BY_NAME
from labmark.diagnose.working_slips import LEFT_OUT, TICKED_TOO, UNEXPLAINED
from labmark.diagnose.working_ways import tells
from labmark.exact import apart, mean_shown
from labmark.facts import Run, Student, cm3, runs_named
from labmark.findings import KINDS
from labmark.judge.accuracy import limits_of
from labmark.judge.attention import is_far_out, most_urgent, unread
from labmark.judge.case import sum_for
from labmark.judge.references import printed
from labmark.practical import Practical
from labmark.practical.own import ALIQUOT
from labmark.practical.several import ONLY, Series
from labmark.records import Finding, Mark
from labmark.units import shown_unit

SELECTED = ("rough-in-mean", "discordant-in-mean")
"""Findings that say already which runs should have been kept."""
SUMS = ("subtraction-slip",)
"""Findings whose sum is shown for every run."""
MOST_SUMS = 3
APART = Fraction(3, 10)
"""Titres of one student that are further apart are no ordinary work [cm³]."""
GO_THROUGH = "Go through your notes of the lesson with your teacher: the readings alone do not show what happened."
MOST_CAUSES = 3
"""Causes on a student's sheet: more would not be read."""


def advice_on(code: str) -> str:
    """Return what to do next time about a kind of finding: from the table for the bench, else from the catalogue."""
    return BY_NAME[code].tell if code in BY_NAME else KINDS[code].advice


def next_time(finding: Finding) -> str:
    """Return what a student can do next time about this very finding; empty where another one says it."""
    evidence = finding.evidence
    if finding.finding == "not-a-number" and evidence.get("spoilt"):
        return "Tell your teacher what the burette showed: the spreadsheet has changed what was typed."
    if finding.finding == "too-few-runs" and not evidence.get("another_run_needed"):
        return ""
    if finding.finding == "implausible-titre" and evidence.get("runs"):
        return GO_THROUGH
    if finding.finding == "discordant-in-mean" and not evidence.get("keep"):
        return advice_on("no-concordant-runs")
    if finding.finding == "mean-slip" and evidence.get("cause") == LEFT_OUT:
        return "Take the mean of all the titres that agree."
    if finding.finding == "mean-slip" and evidence.get("cause") == TICKED_TOO:
        return "Tick the runs that your mean is of, and no others."
    if finding.finding == "implausible-input" and evidence.get("input") == ALIQUOT and evidence.get("fits"):
        return "Write down the volume that is printed on the pipette you use."
    if finding.finding == "rounding" and evidence.get("figures"):
        return _counted(evidence["figures"])
    if finding.finding == "rounding" and evidence.get("decimals"):
        return "Write a mean with two decimals, as the readings have."
    return tells().get((finding.finding, str(evidence.get("cause"))), "") or advice_on(finding.finding)


def _counted(asked: int) -> str:
    return f"Count the figures before you write a result down: {asked} significant figures were asked for."


def kept(one: Assessed) -> str:
    """Return which runs should have been kept, where the choice cost marks and no finding names them."""
    chosen = [mark for mark in one.marks if mark.criterion == "selection"]
    if (
        not any(map(is_lost, chosen))
        or not one.student.sets
        or any(each.finding in SELECTED for each in (*one.findings, *(aside for _, aside in one.set_aside)))
    ):
        return ""
    runs = runs_named([one.student.runs[place] for place in one.student.sets[0]]).capitalize()
    return f"{runs} agree: the mean should be of all of these."


def is_lost(mark: Mark) -> bool:
    """Return whether a mark is below what it is out of; one that waits is not."""
    return mark.mark is not None and mark.mark < mark.out_of


def is_told(finding: Finding) -> bool:
    """Return whether a finding stands on the student's sheet; of the notes only that a run was left out of the mean."""
    note = finding.level == "note" and finding.evidence.get("cause") != LEFT_OUT
    return not note and not KINDS[finding.finding].private


def words_for(one: Assessed, practical: Practical, parts: Sequence[tuple[Practical, Assessed]] = ()) -> dict[str, Any]:
    """Return {"summary", "well", "causes", "next"} for the student's sheet.

    parts  of several titres, each with the student judged on it; none where there is one
    """
    told = _told_of(one)
    # Slips that give a value together share one sentence: it is said once.
    # Of several titres the reason beside the mark says which runs to keep.
    causes = [*(_cause(same, one.student) for same in told), "" if parts else kept(one)]
    return {
        "summary": _summary(parts or [(practical, one)]),
        "well": went_well(one),
        "causes": [words.told(cause) for cause in dict.fromkeys(causes) if cause],
        "next": _steps(told, practical.file.advice) or _carry_on(one, practical, [each for _, each in parts] or [one]),
    }


def _told_of(one: Assessed) -> list[list[Finding]]:
    """Return what a student is told of, the most urgent kinds first.

    Together are those of one kind: of runs all, of several results those of one cause, or in the same words where the
    cause is not known.
    """
    alike: dict[tuple[str, Any], list[Finding]] = {}
    for each in most_urgent(filter(is_told, one.findings)):
        cause = None if each.run else each.evidence.get("cause")
        alike.setdefault((each.finding, each.message if cause == UNEXPLAINED else cause), []).append(each)
    # What is said of a rough says less than what is said of a run that counts.
    return [sorted(same, key=lambda each: each.run == "Rough") for same in alike.values()][:MOST_CAUSES]


def _steps(told: Sequence[Sequence[Finding]], own: Mapping[str, str]) -> list[str]:
    """Return what to do next time about these kinds of finding, each step once; `own` are the teacher's words on it by
    the code of the finding."""
    # What made a result impossible has a step of its own.
    first = [same[0] for same in told if len(told) == 1 or same[0].finding != "impossible-result"]
    steps = (own.get(each.finding) or next_time(each) for each in first)
    return [step for step in dict.fromkeys(steps) if step]


def _is_earned(mark: Mark) -> bool:
    """Return whether a mark is full, by the scheme too where the teacher gave it."""
    by_scheme = mark.mark if mark.by == "scheme" else mark.scheme_mark
    return mark.mark == mark.out_of == by_scheme


def went_well(one: Assessed) -> str:
    """Return one true thing that went well; empty for an absent student."""
    student = one.student
    if student.absent:
        return ""
    full = {mark.criterion for mark in one.marks} - {mark.criterion for mark in one.marks if not _is_earned(mark)}
    if "calculation" in full and (calculated := _calculated_well(one)):
        return calculated
    if student.concordant:
        what = "titres" if student.agreement is None else "results"
        return f"What went well: you repeated the titration until your {what} agreed."
    if "titres" in full and any(run.written is not None and run.titre is not None for run in student.runs):
        return "What went well: you subtracted your readings correctly."
    if "recording" in full:
        return "What went well: you read the burette as finely as it can be read."
    return _handed_in(student)


def _handed_in(student: Student) -> str:
    """Return how many runs a student wrote down, where nothing else is known to have gone well."""
    runs = [run for run in student.runs if run.initial is not None or run.final is not None or run.written is not None]
    if not runs:
        return "What went well: you handed in your work."
    done = words.counted(words.numbered(len(runs)), "run")
    return f"What went well: you did {done} and wrote down what you saw."


def _calculated_well(one: Assessed) -> str:
    """Return that the results with full marks are right; empty where none is written, or what it rests on is unread."""
    student = one.student
    unread = student.own_mean is None and any(run.own_titre is None for run in student.accurate)
    if student.own_result is None or unread:
        return ""
    many = "s" * (sum(mark.criterion == "calculation" for mark in one.marks) > 1)
    rests_on = "titres" if student.own_mean is None else f"mean titre{many}"
    return f"What went well: you worked your result{many} out correctly from your {rests_on}."


def _cause(same: Sequence[Finding], student: Student) -> str:
    """Return the findings of one kind in the words of the first; sums are all shown, other runs are named."""
    if len(same) == 1:
        return same[0].message
    if same[0].finding in SUMS:
        return " ".join(each.message for each in same[:MOST_SUMS]) + _and_more(len(same) - MOST_SUMS)
    of_titres = [_of_titre(each) for each in same[1:]]
    if all(of_titres):
        return f"{same[0].message} Likewise {words.listed(of_titres)}."
    others = {each.run for each in same[1:]}
    runs = [run for run in student.runs if run.label in others]
    return f"{same[0].message} Likewise {runs_named(runs)}." if runs else same[0].message + _and_more(len(same) - 1)


def _of_titre(finding: Finding) -> str:
    """Return one of several titres or results, or a run of it, as a sentence names it: "total (run 3)"; else empty."""
    name = next(filter(None, map(finding.evidence.get, ("endpoint", "titration", "result"))), "")
    if not name or finding.run is None:
        return name
    label = finding.run.removeprefix(f"{name} ")
    return f"{name} (the rough)" if label.casefold() == "rough" else f"{name} (run {label})"


def _and_more(number: int) -> str:
    return f" And {number} more like it." if number > 0 else ""


def _lies_apart(student: Student, run: Run) -> bool:
    """Return whether a run that is not in the mean is so far from it that it was no ordinary one."""
    if run.in_mean or run.titre is None or student.mean is None or student.agreement is not None:
        return False
    return abs(cm3(run.titre) - student.mean) > APART


def _carry_on(one: Assessed, practical: Practical, parts: Sequence[Assessed]) -> list[str]:
    if one.student.absent:
        return []
    if one.result is None or is_far_out(one):
        return [GO_THROUGH]
    waiting = [mark.title or mark.criterion for mark in one.marks if mark.pending and mark.by == "scheme"]
    lost = [mark for mark in one.marks if is_lost(mark)]
    if one.circumstance and waiting and not lost:
        marks = f"mark{'s' if len(waiting) > 1 else ''} for {words.listed(waiting)} wait{'s' * (len(waiting) == 1)}"
        return [f"Your readings show nothing that went wrong; the {marks} for that check."]
    if waiting and unread(one):
        return ["Tell your teacher what you meant where an answer cannot be read; next time write the number alone."]
    if lost and all(mark.by == "teacher" for mark in lost):
        return ["Your readings show nothing that went wrong. Ask your teacher about the marks that are missing."]
    asked = {each.file.result.significant_figures for each in practical.parts or (practical,)}
    if lost and len(asked) == 1 and all(mark.criterion == "figures" for mark in lost):
        return [_counted(asked.pop())]
    if lost and {mark.criterion for mark in lost} <= _left_blank(parts):
        return ["Fill in every answer, even one that you are not sure of: what is blank cannot be marked."]
    if any(_lies_apart(one.student, run) for run in one.student.usable):
        return ["Your readings do not show why some of your runs lie apart: do each of them in the same way."]
    if lost:
        return ["Your readings do not show what went wrong. Where a mark is missing, the reason beside it says why."]
    return ["Your readings show nothing that went wrong: work the same way next time."]


def _left_blank(parts: Sequence[Assessed]) -> set[str]:
    """Return the criteria that look at an answer which is not there, of any of several results."""
    return {criterion for part in parts for criterion in _blank_of(part.student)}


def _blank_of(student: Student) -> set[str]:
    """Return the criteria that look at an answer which is not there: a mean, a result, a titre beside its readings."""
    answers = {"mean": (student.own_mean, "mean"), "calculation": (student.own_result, "result")}
    blank = {name for name, (own, cell) in answers.items() if own is None and cell not in student.odd}
    return blank | {"table" for run in student.runs if run.written is None and run.titre is not None}


def _summary(parts: Sequence[tuple[Practical, Assessed]]) -> str:
    """Return what the readings come to: each titre and each result, by name where there are several."""
    each = [(part.series if len(parts) > 1 else ONLY, part, one) for part, one in parts]
    titres = sorted((of for of in each if of[0].reads), key=lambda of: of[0].place)
    asked, judged = [of for of in each if of[0].asked], [one for *_, one in titres]
    if judged[0].student.absent:
        return "You are listed as absent, so there are no readings to mark."
    if all(one.student.mean is None for one in judged):
        return f"{_NO_MEAN}, so there is no result. What is missing is listed below."
    if len(parts) == 1 and judged[0].result is None:
        mean = mean_shown(judged[0].student.mean or Fraction(0))
        return f"Your mean titre of {mean:f} cm³ does not lead to a result. The reason is given below."
    said = [*(_of_titre_named(*of) for of in titres), *(_of_result_named(*of) for of in asked)]
    said += dict.fromkeys(_pipette(one, part) for _, part, one in asked)
    return " ".join(filter(None, [*said, *dict.fromkeys(one.circumstance for one in judged)]))


def _pipette(one: Assessed, practical: Practical) -> str:
    """Return for which pipette the result is, where the titres fit another one."""
    fits = any(each.finding == "wrong-aliquot" for each in one.findings)
    own = [each.input.value for each in one.student.owned if each.input.name == ALIQUOT]
    return sum_for(own[0] if own else practical.file.flask.aliquot, own=bool(own)) if fits else ""


def _basis_of_results(student: Student) -> tuple[str, str]:
    """Return which results the mean is of, and how the sentence that gives it begins."""
    runs = sum(run.in_mean for run in student.runs)
    if student.decided:
        return "Your teacher chose the runs", "Their mean is"
    if student.concordant:
        return f"{words.numbered(runs).capitalize()} of your results agree", "Their mean is"
    if runs > 1:
        return "Too few of your results agree", "The mean of the closest two is"
    return "Only one of your runs gives a result", "That is"


def _of_titre_named(series: Series, practical: Practical, one: Assessed) -> str:
    """Return which titres, or results, a mean is of; by the name of the titre where it has one."""
    basis = _NO_MEAN if one.student.mean is None else _basis(one, practical)
    if one.student.mean is not None and one.student.agreement is not None:
        basis, _ = _basis_of_results(one.student)
    return f"{words.begun(series.name)}: {basis[:1].lower()}{basis[1:]}." if series.name else f"{basis}."


def _of_result_named(series: Series, practical: Practical, one: Assessed) -> str:
    """Return what a result is, by its name where it has one."""
    name = series.result
    if one.result is None:
        return f"There is no result{f' for {name}' if name else ''}."
    lead = "That gives" if one.student.agreement is None else _basis_of_results(one.student)[1]
    return f"{_gives(one, practical, f'{words.begun(name)}:' if name else lead)}."


_NO_MEAN = "Your readings do not give a mean titre yet"


def _basis(one: Assessed, practical: Practical) -> str:
    """Return which titres the mean is of and, with the words of the mark for accuracy, how far out it is."""
    student, held = one.student, None if _is_doubted(one) else one.student.expected_titre
    assert student.mean is not None
    away = None if held is None else apart(student.mean, held, *limits_of(practical.file.marks))
    mean = f"{mean_shown(student.mean) if away is None else away.titre} cm³"
    runs = sum(run.in_mean for run in student.runs)
    if student.decided:
        begins = f"The mean of the runs that your teacher chose is {mean}"
    elif student.concordant:
        begins = f"{words.numbered(runs).capitalize()} of your titres agree; their mean is {mean}"
    elif runs > 1:
        begins = f"Too few of your titres agree; the mean of the closest two is {mean}"
    else:
        begins = f"One accurate run gives a titre, {mean}"
    by_class = one.reference is not None and one.reference.source == "class"
    expected = "the {} cm³ that the class’s results suggest" if by_class else "the expected {} cm³"
    return begins if away is None else f"{begins}, {away.words(expected)}"


def _is_doubted(one: Assessed) -> bool:
    """Return whether a number of the student's own is in doubt: then nobody knows how far out the rest is."""
    return any(each.finding == "implausible-input" for each in one.findings)


def _gives(one: Assessed, practical: Practical, lead: str) -> str:
    """Return the result, with how far it is from the reference; `lead` begins the sentence."""
    shown_ones = printed(one.result, one.reference, practical.file.result.significant_figures)
    result = f"{lead} {shown_ones['result']} {shown_unit(practical.unit)}".rstrip()
    if one.reference is None or shown_ones["percent"] is None or _is_doubted(one):
        return result
    named = "reference" if one.reference.source == "practical" else "middle of the class"
    whose, off = f"the {named} {shown_ones['reference']}", shown_ones["percent"]
    if not off:
        same = shown_ones["result"] == shown_ones["reference"]
        return f"{result}; {whose} is the same" if same else f"{result}, within 0.1 % of {whose}"
    side = "above" if off > 0 else "below"
    # Beside a result in per cent a bare 0.3 % might be taken for a difference of results.
    if practical.unit == "%":
        return f"{result}, {side} {whose} %: a percentage error of {abs(off)} %"
    return f"{result}, {abs(off)} % {side} {whose}"


def why_run(student: Student, place: int) -> str:
    """Return why a run is or is not in the mean, in the student's words."""
    run = student.runs[place]
    if run.decided is False:
        return "left out by the teacher"
    if run.decided:
        return "taken in by the teacher" if run.in_mean else _why_unusable(run)
    if run.rough:
        return "rough: never in the mean" if run.label.startswith("Rough") else "taken for the rough: not in the mean"
    if run.struck:
        return "set aside in the table, so left out"
    if run.in_mean:
        return _why_in_mean(student)
    if not run.usable:
        return _why_unusable(run)
    if student.mean is None or run.titre is None:
        return "left out"
    if any(place in group for group in student.sets):
        return "agrees just as well with other runs"
    if student.agreement is not None:
        return "its result does not agree with the others"
    return apart(cm3(run.titre), student.mean).words("the mean")


def _why_in_mean(student: Student) -> str:
    if student.concordant:
        return "agrees with the others in the mean"
    if student.decided:
        return "one of those that count"
    return "one of the closest two" if len(student.closest) > 1 else "the only accurate run with a titre"


def _why_unusable(run: Run) -> str:
    if any(which in run.odd for which in ("initial", "final")):
        return "a reading is not a number"
    if run.missing:
        return "a reading is missing"
    if run.off_scale:
        return "a reading is off the scale"
    if run.titre and run.result is None:
        unread = any(own.value is None and own.odd for own in run.inputs.values())
        return f"a number that its result needs {'cannot be read' if unread else 'is missing'}"
    return "no titre that can be used"
