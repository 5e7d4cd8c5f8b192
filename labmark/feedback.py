"""Who needs the teacher first, and what is said to each student.

Findings are hypotheses: the words say "probably" and "may", and the teacher decides. Nothing here ever mentions
another student.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from labmark import words
from labmark.assessed import Assessed
from labmark.diagnose.working_slips import LEFT_OUT
from labmark.facts import Student
from labmark.figures import in_figures
from labmark.findings import KINDS
from labmark.joins.advice import is_lost, kept, listed, next_time
from labmark.records import Finding
from labmark.units import shown_unit
from labmark.volumes import fraction, round_fraction, shown

SUMS = ("subtraction-slip",)
"""Findings whose sum is shown for every run."""
MOST_SUMS = 3
OWN_DOING = ("recording", "table", "titres", "selection", "mean", "calculation", "figures")
"""Criteria that a student can earn whatever the titres turn out to be."""
MOST_CAUSES = 3
"""Causes on a student's sheet: more would not be read."""
NEEDS_AN_EYE = 5
"""Urgency from which a finding asks for the teacher."""
FAR_OUT = 3.0
"""|z| from which a result asks for the teacher even without a finding (ISO 13528: an action signal)."""


def attention(assessed: Sequence[Assessed]) -> dict[int, dict[str, Any]]:
    """Return place in the class -> {"rank", "why"} for the students who need a human eye, the most pressing first."""
    pressing = []
    for place, one in enumerate(assessed):
        score, why = _with_unread(one, *_pressing(one))
        if score >= NEEDS_AN_EYE:
            pressing.append((-score, place, why))
    return {place: {"rank": rank, "why": why} for rank, (_, place, why) in enumerate(sorted(pressing), start=1)}


def _pressing(one: Assessed) -> tuple[float, str]:
    if one.student.absent:
        return 0, ""
    seen = _most_urgent(each for each in one.findings if each.level != "note")
    if one.result is None:
        return 10 + len(seen), f"No result: {_brief(seen) or 'no usable titre'}"
    if not seen:
        # A far result that nothing explains is what a teacher wants to see herself.
        far = one.fair_z is not None and abs(one.fair_z) >= FAR_OUT
        held = "the rest of the class" if one.circumstance else "the reference"
        return (
            (6, f"{abs(one.fair_z or 0):.1f} standard deviations from {held}, and nothing explains it")
            if far
            else (0, "")
        )
    top = KINDS[seen[0].finding].urgency
    # Several kinds of trouble at once ask for an eye even where none of them would alone.
    kinds = len({each.finding for each in seen})
    return top + min(1.5, 0.5 * (kinds - 1)), _brief(seen)


def _with_unread(one: Assessed, score: float, why: str) -> tuple[float, str]:
    """Add that an own value could not be read: that costs marks, and only a person can tell what stands there."""
    student = one.student
    unread = [which for which in ("mean", "result") if which in student.odd and which not in student.spoilt]
    if not unread or student.absent:
        return score, why
    said = f"own {' and '.join(unread)} cannot be read"
    return max(score, NEEDS_AN_EYE), f"{why}; {said}" if why else f"{said[0].upper()}{said[1:]}"


def _brief(findings: Sequence[Finding]) -> str:
    """Return the two most urgent kinds of finding in a few words; a third is sooner named than counted."""
    runs: dict[str, list[str]] = {}
    for each in findings:
        runs.setdefault(each.finding, []).extend([each.run] if each.run is not None else [])
    named = [KINDS[code].title + _where(labels) for code, labels in runs.items()]
    if len(named) <= 3:
        return "; ".join(named)
    return f"{'; '.join(named[:2])}; {len(named) - 2} more findings"


def _where(labels: Sequence[str]) -> str:
    """Return the runs of a finding in brackets, as in " (rough, runs 1 and 2)"."""
    accurate = [label for label in labels if label != "Rough"]
    parts = ["rough"] if "Rough" in labels else []
    if accurate:
        parts.append(f"run{'s' if len(accurate) > 1 else ''} {words.listed(accurate)}")
    return f" ({', '.join(parts)})" if parts else ""


def _most_urgent(findings: Iterable[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda each: -KINDS[each.finding].urgency)


def is_told(finding: Finding) -> bool:
    """Return whether a finding stands on the student's sheet; of the notes only that a run was left out of the mean."""
    note = finding.level == "note" and finding.evidence.get("cause") != LEFT_OUT
    return not note and not KINDS[finding.finding].private


def words_for(one: Assessed, unit: str, figures: int) -> dict[str, Any]:
    """Return {"summary", "causes", "next"} for the student's sheet."""
    tell = [each for each in one.findings if is_told(each)]
    chosen = _most_urgent(tell)
    alike: dict[str, list[Finding]] = {}
    for each in chosen:
        alike.setdefault(each.finding, []).append(each)
    # What is said of a rough says less than what is said of a run that counts.
    told = [sorted(same, key=lambda each: each.run == "Rough") for same in alike.values()][:MOST_CAUSES]
    # Slips that give a value together share one sentence: it is said once.
    causes = [*(_cause(same, one.student) for same in told), kept(one)]
    steps = [step for same in told for step in next_time(same[0])]
    return {
        "summary": _summary(one, unit, figures),
        "causes": [cause for cause in dict.fromkeys(causes) if cause],
        "next": list(dict.fromkeys(steps)) or _carry_on(one),
    }


def _cause(same: Sequence[Finding], student: Student) -> str:
    """Return the findings of one kind in the words of the first; sums are all shown, other runs are named."""
    if len(same) == 1:
        return same[0].message
    if same[0].finding in SUMS:
        return " ".join(each.message for each in same[:MOST_SUMS]) + _and_more(len(same) - MOST_SUMS)
    others = {each.run for each in same[1:]}
    runs = [run for run in student.runs if run.label in others]
    return f"{same[0].message} Likewise {listed(runs)}." if runs else same[0].message + _and_more(len(same) - 1)


def _and_more(number: int) -> str:
    return f" And {number} more like it." if number > 0 else ""


def _carry_on(one: Assessed) -> list[str]:
    if one.student.absent:
        return []
    if one.result is None or (one.fair_z is not None and abs(one.fair_z) >= FAR_OUT):
        return ["Go through your notes of the lesson with your teacher: the readings alone do not show what happened."]
    if one.circumstance:
        return ["Nothing went wrong that your readings would show; the mark for accuracy waits for that check."]
    if any(is_lost(mark) for mark in one.marks if mark.criterion in OWN_DOING):
        return ["Your readings are in order. Where a mark is missing, the reason beside it says what to do."]
    return ["Nothing went wrong that the readings would show: work the same way next time."]


def _summary(one: Assessed, unit: str, figures: int) -> str:
    student = one.student
    if student.absent:
        return "There are no readings for you: you are listed as absent."
    if student.mean is None:
        return "Your readings give no mean titre yet, so no result can be worked out. See below what is missing."
    mean = f"{round_fraction(student.mean, 2):f}"
    if one.result is None:
        return f"No result follows from your mean titre of {mean} cm³. See below why."
    runs = sum(run.in_mean for run in student.runs)
    if student.agreement is not None:
        basis = f"{runs} of your results agree." if student.concordant else "Your results do not agree closely enough."
        mean = f"Their mean is {_number(one.result, figures)} {shown_unit(unit)}".rstrip()
        return f"{basis} {mean}{_against(one)}. {one.circumstance}".rstrip()
    basis = (
        f"{runs} of your titres agree; their mean is {mean} cm³."
        if student.concordant
        else _without_agreement(runs, mean)
    )
    gives = f"{basis} That gives {_number(one.result, figures)} {shown_unit(unit)}".rstrip() + f"{_against(one)}."
    return f"{gives} {one.circumstance}".rstrip()


def _without_agreement(runs: int, mean: str) -> str:
    return (
        f"Your titres do not agree; the mean of the closest two is {mean} cm³."
        if runs > 1
        else f"There is one usable titre, {mean} cm³."
    )


def _against(one: Assessed) -> str:
    if one.percent_error is None or one.reference is None:
        return ""
    side = "above" if one.percent_error > 0 else "below"
    whose = "the reference" if one.reference.source == "practical" else "the centre of the class"
    if abs(one.percent_error) < 0.05:
        return f", as near as can be to {whose}"
    return f", {abs(one.percent_error):.1f} % {side} {whose}"


def _number(value: float, figures: int) -> str:
    return in_figures(fraction(repr(value)), figures)


def why_run(student: Student, place: int) -> str:
    """Return why a run is or is not in the mean, in the student's words."""
    run = student.runs[place]
    if run.rough:
        return "rough: never in the mean"
    if run.struck:
        return "struck out, so left out"
    if run.in_mean:
        return (
            "agrees with the others in the mean"
            if student.concordant
            else "one of the closest two"
            if sum(r.in_mean for r in student.runs) > 1
            else "the only usable run"
        )
    if not run.usable:
        return _why_unusable(run)
    inside = [each.titre for each in student.runs if each.in_mean and each.titre is not None]
    if not inside or run.titre is None:
        return "left out"
    if any(place in group for group in student.sets):
        return "in another set that agrees as well"
    above, below = run.titre - max(inside), min(inside) - run.titre
    return f"{shown(above):f} above the others" if above > 0 else f"{shown(below):f} below the others"


def _why_unusable(run: Any) -> str:
    if any(which in run.odd for which in ("initial", "final")):
        return "a reading is no number"
    if run.missing:
        return "a reading is missing"
    if run.off_scale:
        return "a reading is off the scale"
    return "no titre that can be used"


__all__ = ["attention", "why_run", "words_for"]
