"""Decisions about what was judged: marks, words, findings set aside, students excused."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import reduce

from labmark.assessed import Assessed
from labmark.dataclass import replace
from labmark.decisions.model import Decision, as_tree, by_student
from labmark.judge.marks import as_number
from labmark.outputs.decision_rows import said
from labmark.outputs.rows import unique
from labmark.practical import Practical
from labmark.records import Finding, Mark
from labmark.words import counted, either, listed, numbered

_EXCUSED = f"Excused: this counts neither for nor against {either('you', 'the student')}."
_A_SLIP = ": a slip in the working, "
_BY_HAND = "This is marked by hand."


def decided(assessed: Sequence[Assessed], decisions: Sequence[Decision], practical: Practical) -> list[Assessed]:
    """Return the students of a class as the teacher has decided; pure, and as they are where nothing was decided."""
    of = by_student(decisions)
    scheme = next((one.marks for one in assessed if one.marks), ())
    return [
        _decided(one, of[one.student.name], scheme, practical) if one.student.name in of else one for one in assessed
    ]


def _decided(one: Assessed, theirs: Sequence[Decision], scheme: Sequence[Mark], practical: Practical) -> Assessed:
    """Return a student with all that was decided."""
    mine = [each for each in theirs if each.counts]
    marks = {each.of: each.value for each in mine if each.what == "mark"}
    not_upheld = {(each.of, each.run) for each in mine if each.what == "aside"}
    aside = [(at, each) for at, each in enumerate(one.findings) if (each.finding, each.run) in not_upheld]
    excused = any(each.what == "excused" for each in mine)
    by_scheme = [_unnamed(mark, [each for _, each in aside]) for mark in one.marks]
    given = _marks(by_scheme or (tuple(map(_nothing, scheme)) if marks else ()), marks, excused=excused)
    waits = any(mark.pending and mark.criterion == "accuracy" for mark in given)
    return replace(
        one,
        findings=tuple(each for each in one.findings if (each.finding, each.run) not in not_upheld),
        set_aside=tuple(aside),
        marks=given,
        accuracy_by_reference=one.accuracy_by_reference if waits else None,
        accuracy_by_class=one.accuracy_by_class if waits else None,
        comment=next((str(each.value) for each in mine if each.what == "comment"), ""),
        excused=excused,
        again=_again(theirs, given, practical),
    )


def _unnamed(mark: Mark, aside: Sequence[Finding]) -> Mark:
    """Return a mark whose reason names no slip that the teacher does not uphold; what it costs stands."""
    named = [f": {listed(each.evidence['slips'])}, " for each in aside if each.evidence.get("slips")]
    return replace(mark, reason=reduce(lambda reason, slips: reason.replace(slips, _A_SLIP), named, mark.reason))


def _nothing(mark: Mark) -> Mark:
    """Return a criterion of the scheme for a student who was absent."""
    return replace(mark, mark=None, reason="There is nothing to mark.", cells=(), pending=False, by="scheme")


def _marks(given: Sequence[Mark], marks: Mapping[str | None, Decimal], *, excused: bool) -> tuple[Mark, ...]:
    names = unique(mark.name for mark in given)
    return tuple(
        _changed(mark, marks.get(name), excused) if excused or name in marks else mark
        for name, mark in zip(names, given, strict=True)
    )


def _changed(mark: Mark, value: Decimal | None, excused: bool) -> Mark:
    """Return a mark as the teacher has it: another one, or none for who is excused."""
    gives = "gives no mark" if mark.mark is None else f"gives {mark.mark:g} of {mark.out_of:g}"
    gives = "leaves it open" if mark.pending else gives
    reason = _BY_HAND if mark.by == "teacher" else f"The scheme alone {gives}: {mark.reason}"
    new, why = (None, _EXCUSED) if excused or value is None else (as_number(value), reason)
    return replace(mark, mark=new, reason=why, by="teacher", pending=False, scheme_mark=mark.mark)


def settled(decisions: Sequence[Decision], assessed: Sequence[Assessed], *, unchanged: bool) -> list[Decision]:
    """Return the decisions, each with whether what it was made on has changed since.

    unchanged   class sheet, practical and labmark are as they were when the folder was written: then a scheme's mark
                that differs, or a finding that is gone, follows from another decision, and nothing has become stale
    """
    there: dict[str | None, Assessed] = {one.student.name: one for one in assessed}
    return [_settled(each, there[each.student], unchanged) if each.student in there else each for each in decisions]


def _settled(decision: Decision, one: Assessed, unchanged: bool) -> Decision:
    if decision.what == "aside":
        found: list[Finding] = [*one.findings, *(each for _, each in one.set_aside)]
        gone = all((each.finding, each.run) != (decision.of, decision.run) for each in found)
        return replace(decision, stale=gone and not (unchanged and not decision.stale))
    if decision.what != "mark":
        return decision
    names = unique(mark.name for mark in one.marks)
    mark = next((mark for name, mark in zip(names, one.marks, strict=True) if name == decision.of), None)
    by_scheme = None if mark is None else mark.scheme_mark if mark.by == "teacher" else mark.mark
    if mark is None and one.marks:
        return replace(decision, stale=True)  # the scheme has no such criterion any more
    if unchanged and not decision.stale:
        return replace(decision, was=by_scheme)
    return replace(decision, stale=by_scheme != decision.was)


def _again(decisions: Sequence[Decision], marks: Sequence[Mark], practical: Practical) -> str:
    """Return what is to be looked at again of a student's decisions, in a few words; empty where all of them stand."""
    own = {key: given.model_dump() for key, given in practical.own.items()}
    titles = {mark.name: mark.title or mark.name for mark in marks}
    named = [said(as_tree(each), lambda key: own.get(key, {}), titles) for each in decisions if each.stale]
    return f"{counted(numbered(len(named)), 'decision')} of yours to look at again: {'; '.join(named)}" if named else ""
