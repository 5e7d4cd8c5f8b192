"""One class out of several: the parts of a practical with several titres, judged each by itself, put together.

The findings of all parts stand side by side, each saying which titre it is about; a criterion that looks at readings or
means is earned at every titre, so it has the lowest mark of them, and each slip costs it once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from functools import partial

from labmark.assessed import Assessed, Told, added
from labmark.dataclass import replace
from labmark.diagnose.bench_claims import STUDENT_FINDINGS
from labmark.facts import Student, cm3
from labmark.judge.bench_words import beside
from labmark.judge.classwide import common_faults
from labmark.judge.marks import as_number, cost_of, costing, named_slips
from labmark.judge.several import by_endpoint, crossed_means, headed, labelled
from labmark.practical import Practical
from labmark.practical.scheme import OF_RESULTS, Criterion
from labmark.practical.several import Series
from labmark.records import ClassSheet, Finding, Mark
from labmark.tree import JudgedClass
from labmark.words import listed

Decided = Callable[[list[Assessed]], list[Assessed]]
"""What the teacher decided about students who were judged."""
READINGS = ("missing", "readings", "reading")
"""Evidence that names the readings that a finding is about."""
ALIKE_RUNS, ALIKE_STUDENTS = 0.15, 0.01
"""How far apart the totals of two runs of one student may lie [cm³], and those of two students, as a fraction (common
practice, no source)."""
OF_WHOLE_RUNS = ("diluted-titrant", "wrong-aliquot", "level-change")
"""What happened to titrant or sample: it shows at every endpoint of a run."""
UNNAMED = ("missing-input", "implausible-input", "same-readings", "counts-down")
"""Findings that are about no one titre."""


def combined(practical: Practical, parts: Sequence[JudgedClass], sheet: ClassSheet, decided: Decided) -> JudgedClass:
    """Return the class as the whole practical sees it; `parts` are its titres, judged, the first result first."""
    of_parts = zip(*(part.students for part in parts), strict=True)
    students = decided([_student(practical, each) for each in of_parts])
    present = sum(not one.student.absent for one in students)
    found = [*_of_class(parts), *common_faults([one.findings for one in students], present)]
    lead = parts[0]
    figures = replace(lead.figures, findings=tuple(found))
    given = {(mark.criterion, mark.result) for one in students for mark in one.marks}
    scheme = practical.file.marks if students else ()
    not_marked = [*dict.fromkeys(each.shown for each in scheme if (each.criterion, each.result) not in given)]
    return replace(
        lead,
        sheet=sheet,
        practical=practical,
        students=students,
        figures=figures,
        not_marked=not_marked,
        by_own_choice=partial(_by_own_choice, practical, parts),
        parts=tuple(parts),
    )


def _by_own_choice(practical: Practical, parts: Sequence[JudgedClass], place: int, one: Assessed) -> Told | None:
    """Return a student by the runs that they took for each titre; None where it is the same."""
    chosen = [part.by_own_choice(place, part.students[place]) for part in parts]
    if not any(chosen):
        return None
    pairs = zip(parts, chosen, strict=True)
    told = tuple(own or Told(part.students[place], part.shown(place)) for part, own in pairs)
    seen, aside = _student(practical, [each.one for each in told]), {(of.finding, of.run) for _, of in one.set_aside}
    findings = tuple(each for each in seen.findings if (each.finding, each.run) not in aside)
    one = replace(one, student=seen.student, result=seen.result, findings=findings)
    return Told(one, told[0].shown, told)


def _student(practical: Practical, each: Sequence[Assessed]) -> Assessed:
    """Return a student with the findings of all parts, in `each` of which they are judged, and all marks."""
    of = [(part.series, one) for part, one in zip(practical.parts, each, strict=True)]
    furthest = max(each, key=lambda one: abs(one.fair_z or 0))
    return replace(
        each[0],
        student=replace(
            each[0].student,
            concordant=all(one.student.concordant for series, one in of if series.reads),
            odd={which: text for one in each for which, text in one.student.odd.items()},
        ),
        fair_z=furthest.fair_z,
        by_class=furthest.by_class,
        findings=tuple(_findings(of)),
        marks=tuple(filter(None, (_mark(criterion, of) for criterion in practical.file.marks))),
        accuracy_by_reference=_both_ways(each, lambda one: one.accuracy_by_reference),
        accuracy_by_class=_both_ways(each, lambda one: one.accuracy_by_class),
        circumstance=next((one.circumstance for one in each if one.circumstance), ""),
    )


def _both_ways(each: Iterable[Assessed], of: Callable[[Assessed], int | float | None]) -> int | float | None:
    """Return the marks for accuracy that wait, added up; None where none does."""
    there = [mark for mark in map(of, each) if mark is not None]
    return added(there) if there else None


# --- findings ---


def _findings(each: Sequence[tuple[Series, Assessed]]) -> Iterator[Finding]:
    """Yield the findings of all parts, each saying which titre or result it is about; what is the same is said once."""
    alike: dict[tuple[str, str | None, str], tuple[Finding, list[str], Series]] = {}
    at_endpoint: dict[int, Assessed] = {}
    pairs = [*crossed_means([(series, one.student) for series, one in each if series.reads])]
    yield from (slip for _, slip in pairs)
    crossed = {name for names, _ in pairs for name in names}
    for series, one in each:
        if series.endpoints:
            at_endpoint[series.place] = one
        before = at_endpoint.get(series.place - 1)
        for finding in one.findings:
            if finding.finding == "mean-slip" and series.name in crossed:
                continue
            if _is_said(finding, series) and not (before and _is_said_before(finding, before)):
                said = _said(finding, series)
                # Who shared readings did so at every titre.
                key = (said.finding, said.run, "" if said.finding == "same-readings" else said.message)
                about = series.result if _is_of_result(finding) and series.result else series.name
                alike.setdefault(key, (said, [], series))[1].append(about)
    for said, names, series in alike.values():
        unnamed = said.finding in UNNAMED or (said.finding == "reversed-readings" and series.endpoints)
        yield said if unnamed else replace(said, message=headed(said.message, listed([*dict.fromkeys(names)])))


def _is_said(finding: Finding, series: Series) -> bool:
    """Return whether a finding is new here: a reading that ends one titre and begins the next is looked at once."""
    if not series.reads and not _is_of_result(finding):
        return False
    which = next((finding.evidence[key] for key in READINGS if key in finding.evidence), None)
    only = {which} if isinstance(which, str) else set(which or ())
    return not (series.endpoints and series.place and only == {"initial"})


def _is_said_before(finding: Finding, before: Assessed) -> bool:
    """Return whether what is claimed of a titre is told already by what the one before it in the same runs is."""
    return is_of_whole_runs(finding, before.findings) or is_echo(finding, before.student)


def is_of_whole_runs(finding: Finding, before: Iterable[Finding]) -> bool:
    """Return whether a claim about all that a student did is another name for one about the titre before.

    A weak titrant raises both titres; of the smaller one it may look like going past the endpoint every time.
    """
    others = {each.finding for each in before if each.finding in OF_WHOLE_RUNS}
    return finding.finding in STUDENT_FINDINGS and bool(others) and finding.finding not in others


def is_echo(finding: Finding, before: Student) -> bool:
    """Return whether a claim about a titre only mirrors the one before it in the same runs, which is out the other way.

    Who goes past an endpoint, or misreads the burette there, takes as much from the next titre. All in all the run then
    took what it should, as nearly as runs or students agree, or is out the other way, and the claim is that about the
    titre before.
    """
    evidence = finding.evidence
    if finding.run is None:
        away, level, titre = evidence.get("above_expected"), before.expected_titre, before.mean
        near = ALIKE_STUDENTS * (float(level or 0) + evidence.get("expected", 0.0))
    else:
        away, near = evidence.get("above_own_others", evidence.get("above_own_level")), ALIKE_RUNS
        run = next((run for run in before.runs if run.label == finding.run and run.titre is not None), None)
        level, titre = (None, None) if run is None else (beside(before, run), cm3(run.titre or 0))
    if finding.probability is None or away is None or level is None or titre is None:
        return False
    other = float(titre - level)
    sign = 1 if away > 0 else -1
    return bool(away * other < 0) and round(sign * (away + other), 3) <= max(near, abs(away) / 2)


def _is_of_result(finding: Finding) -> bool:
    return finding.evidence.get("criterion") in OF_RESULTS or finding.finding == "impossible-result"


def _said(finding: Finding, series: Series) -> Finding:
    """Return a finding with the run as it is labelled, the readings by their names, and what it is about."""
    run = None if finding.run is None else labelled(finding.run, series)
    if run is not None and "runs" in finding.evidence:
        runs = [labelled(each, series) for each in finding.evidence["runs"]]
        finding = replace(finding, evidence={**finding.evidence, "runs": runs})
    if _is_of_result(finding):
        return replace(finding, run=run, evidence={**finding.evidence, "result": series.result})
    about = {"endpoint" if series.endpoints else "titration": series.name}
    message = by_endpoint(finding.message, series)
    return replace(finding, message=message, run=run, evidence={**finding.evidence, **about})


def _of_class(parts: Sequence[JudgedClass]) -> Iterator[Finding]:
    """Yield what is found of the class, each saying of which result; of a titre that gives none nothing is said."""
    several = sum(part.practical.series.asked for part in parts) > 1
    for part in parts:
        series = part.practical.series
        for finding in part.figures.findings:
            if finding.finding == "common-fault" or not series.asked:
                continue
            if finding.finding == "practical-doubtful" or not several:
                yield finding
                continue
            yield replace(
                finding,
                message=f"{series.result}: {finding.message}",
                evidence={**finding.evidence, "result": series.result},
            )


# --- marks ---


def _mark(criterion: Criterion, each: Sequence[tuple[Series, Assessed]]) -> Mark | None:
    """Return the mark for a criterion out of those of the parts that it looks at; None where none has one."""
    if criterion.by == "teacher":
        return next((mark for _, one in each for mark in one.marks if _is_of(mark, criterion)), None)
    each_of = [*_marks_of(criterion, each)]
    if not each_of:
        return None
    given = [*_once(criterion, each_of)]
    marks = [mark for _, mark in given]
    one = replace(marks[0], result=criterion.result)
    one = replace(one, title=criterion.title or (one.name if one.result else ""))
    if len(given) == 1:
        return one
    cells = tuple(dict.fromkeys(cell for mark in marks for cell in mark.cells))
    pending = next((mark for mark in marks if mark.pending), None)
    if pending is not None:
        return replace(one, mark=None, pending=True, reason=pending.reason, cells=cells)
    number = _together(criterion, [Decimal(str(mark.mark)) for mark in marks if mark.mark is not None])
    return replace(one, mark=number, reason=_reason(given), cells=cells)


def _marks_of(
    criterion: Criterion, each: Sequence[tuple[Series, Assessed]]
) -> Iterator[tuple[str, Mark, Sequence[str]]]:
    """Yield the marks for a criterion, by the result or the titre that each is about, with the slips that are named."""
    of_results = criterion.criterion in OF_RESULTS
    for series, one in each:
        marks = [mark for mark in one.marks if _is_of(mark, criterion)]
        if not of_results and series.reads:
            yield from ((series.name, replace(mark, reason=by_endpoint(mark.reason, series)), ()) for mark in marks)
        if of_results and series.asked and criterion.result in ("", series.result):
            slips = named_slips(one.findings) if criterion.criterion == "calculation" else []
            yield from ((series.result, mark, slips) for mark in marks)


def _is_of(mark: Mark, criterion: Criterion) -> bool:
    return (mark.criterion, mark.by) == (criterion.criterion, criterion.by)


def _together(criterion: Criterion, marks: Sequence[Decimal]) -> int | float | None:
    """Return one mark of several: slips in the calculation add up, of everything else the lowest counts."""
    if not marks:
        return None
    out_of = criterion.out_of
    if criterion.criterion == "calculation":
        return as_number(max(Decimal(0), out_of - sum(out_of - mark for mark in marks)))
    return as_number(min(marks))


def _once(criterion: Criterion, given: Iterable[tuple[str, Mark, Sequence[str]]]) -> Iterator[tuple[str, Mark]]:
    """Yield marks, each of what its name says, in which a slip that was made in several results costs once."""
    made: set[str] = set()
    for name, mark, slips in given:
        if made.intersection(slips) and mark.mark is not None:
            new = [slip for slip in slips if slip not in made]
            reason = mark.reason.removesuffix(costing(slips, criterion)) + costing(new, criterion)
            mark = replace(mark, mark=as_number(criterion.out_of - cost_of(new, criterion)), reason=reason)
        made.update(slips)
        yield name, mark


def _reason(given: Sequence[tuple[str, Mark]]) -> str:
    """Return the reasons of several marks: those of the marks that are not full where there are any, each once."""
    lost = [(name, mark) for name, mark in given if mark.mark is not None and mark.mark < mark.out_of]
    reasons: dict[str, list[str]] = {}
    for name, mark in lost or given:
        reasons.setdefault(mark.reason, []).append(name)
    if len(reasons) == 1 and not lost:
        return next(iter(reasons))
    return " ".join(headed(reason, listed(names)) for reason, names in reasons.items())
