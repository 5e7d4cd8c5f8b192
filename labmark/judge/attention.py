"""Who needs the teacher first, and why."""

from collections.abc import Iterable, Sequence
from typing import Any

from labmark import words
from labmark.assessed import Assessed
from labmark.findings import KINDS, runs_meant
from labmark.records import Finding

NEEDS_AN_EYE = 5
"""Urgency from which a finding asks for the teacher."""
AGAIN = 1000.0
"""What a decision that no longer fits adds to the urgency: it comes before everything else."""
ANSWERS = {"titre": "titres", "mean": "mean", "result": "calculation"}
"""What students work out -> the criterion that looks at it."""
FAR_OUT = 3.0
"""|z| from which a result asks for the teacher even without a finding (ISO 13528: an action signal)."""


def attention(assessed: Sequence[Assessed]) -> dict[int, dict[str, Any]]:
    """Return place in the class -> {"rank", "why", "brief"} for the students who need a human eye, the most pressing
    first; `brief` is the first reason in a few words."""
    pressing = []
    for place, one in enumerate(assessed):
        score, why, brief = (0.0, "", "") if one.excused else _with_unread(one, *_pressing(one))
        if one.again:
            score, why = score + AGAIN, f"{one.again}; {why}" if why else one.again
            brief = "Decision to look at again"
        if score >= NEEDS_AN_EYE:
            pressing.append((-score, place, why, brief))
    return {
        place: {"rank": rank, "why": why, "brief": brief}
        for rank, (_, place, why, brief) in enumerate(sorted(pressing), start=1)
    }


def _pressing(one: Assessed) -> tuple[float, str, str]:
    """Return how much a student asks for a human eye, why, and the first reason in three to five words; 0 where nothing
    does."""
    if one.student.absent:
        return 0, "", ""
    seen = _told(one)
    same = [each for each in seen if each.finding == seen[0].finding]
    brief = KINDS[seen[0].finding].title + (_where(same) if len(same) == 1 else "") if seen else ""
    if one.result is None:
        return 10 + len(seen), f"No result: {_brief(seen) or 'no usable titre'}", brief or "No usable titre"
    if not seen:
        # A far result that nothing explains is what a teacher wants to see herself.
        if not is_far_out(one):
            return 0, "", ""
        held = "the rest of the class" if one.by_class else "the reference"
        why = f"{abs(one.fair_z or 0):.1f} standard deviations from {held}, and nothing explains it"
        return 6, why, f"{abs(one.fair_z or 0):.1f} σ off, unexplained"
    top = KINDS[seen[0].finding].urgency
    # Several kinds of trouble at once ask for an eye even where none of them would alone.
    kinds = len({each.finding for each in seen})
    return top + min(1.5, 0.5 * (kinds - 1)), _brief(seen), brief


def _told(one: Assessed) -> list[Finding]:
    """Return what was found of a student, the most urgent first; not that a result cannot be where its cause is."""
    seen = [each for each in one.findings if each.level != "note"]
    return most_urgent(each for each in seen if not (each.finding == "impossible-result" and _is_explained(each, seen)))


def _is_explained(impossible: Finding, among: Iterable[Finding]) -> bool:
    """Return whether a slip in the working of the same result, or something at the bench, made a result impossible."""
    result = impossible.evidence.get("result")
    return any(
        each.probability is not None
        or (each.evidence.get("criterion") == "calculation" and each.evidence.get("result") == result)
        for each in among
        if each is not impossible
    )


def is_far_out(one: Assessed) -> bool:
    """Return whether a result is so far out that it asks for a human eye, whatever was found."""
    return one.fair_z is not None and abs(one.fair_z) >= FAR_OUT


def unread(one: Assessed) -> list[str]:
    """Return which answers cannot be read: only a person can tell what stands there, and has not yet."""
    settled = {mark.criterion for mark in one.marks if mark.by == "teacher" and not mark.pending}
    odd = {*one.student.odd, *(key for run in one.student.runs if not run.struck for key in run.odd)}
    return [which for which, criterion in ANSWERS.items() if which in odd and criterion not in settled]


def _with_unread(one: Assessed, score: float, why: str, brief: str) -> tuple[float, str, str]:
    """Add which answers cannot be read."""
    if not (answers := unread(one)):
        return score, why, brief
    said = f"written {words.listed(answers)} cannot be read"
    return max(score, NEEDS_AN_EYE), f"{why}; {said}" if why else said.capitalize(), brief or "Own value cannot be read"


def _brief(findings: Sequence[Finding]) -> str:
    """Return the two most urgent kinds of finding in a few words; a third is sooner named than counted."""
    alike: dict[str, list[Finding]] = {}
    for each in findings:
        alike.setdefault(each.finding, []).append(each)
    named = [KINDS[code].title + _where(same) for code, same in alike.items()]
    if len(named) <= 3:
        return "; ".join(named)
    return f"{'; '.join(named[:2])}; {len(named) - 2} more findings"


def _where(findings: Sequence[Finding]) -> str:
    """Return the runs (or the results, where there are several) of a finding in brackets: " (rough, runs 1 and 2)"."""
    labels = dict.fromkeys(label for each in findings for label in runs_meant(each.run, each.evidence))
    numbered = [label for label in labels if label.isdecimal()]
    parts = [words.run_called(label) for label in labels if label.startswith("Rough")]
    if numbered:
        parts.append(f"run{'s' if len(numbered) > 1 else ''} {words.listed(numbered)}")
    parts += [label for label in labels if not label.isdecimal() and not label.startswith("Rough")]
    parts += dict.fromkeys(str(each.evidence["result"]) for each in findings if each.evidence.get("result"))
    return f" ({', '.join(parts)})" if parts else ""


def most_urgent(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings, those first that ask most for a human eye."""
    return sorted(findings, key=lambda each: -KINDS[each.finding].urgency)
