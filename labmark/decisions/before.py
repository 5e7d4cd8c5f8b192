"""Decisions about what was written down: readings, own numbers, which runs count, the reference.

What a decision was made on is held against the class sheet as it is now: where that has changed, or is gone, the
decision is stale, and is not applied.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labmark.dataclass import replace
from labmark.decisions.model import Decision, by_student
from labmark.exact import microlitres, places_in
from labmark.facts import OwnValue, Run, Student
from labmark.outputs.decision_rows import BEFORE
from labmark.practical import Practical
from labmark.practical.load import practical_with
from labmark.practical.model import Reference, of_group
from labmark.practical.own import REFERENCE
from labmark.problems import InputError, Problem, raise_any
from labmark.records import ClassSheet, filled_between

_OTHER = {"initial": (0, 0), "final": (-1, 1)}
"""Reading -> which of the parts of a refilled run it stands in, and where there."""


def standing(decision: Decision, sheet: ClassSheet, practical: Practical) -> Decision:
    """Return a decision with whether what it was made on is still there and the same."""
    if decision.what not in BEFORE or decision.stale:
        return decision
    if decision.what == "reference":
        return replace(decision, stale=reference_of(practical, decision.of) != decision.was)
    student = student_called(sheet, decision.student)
    if decision.what == "input":
        return replace(decision, stale=_own(decision, student, practical) != decision.was)
    places = places_of(student, decision.of)
    if not places:
        return replace(decision, stale=True)
    if decision.what == "use":
        return replace(decision, stale=read_in(student, decision.of) != decision.on)
    cells = _cells(student, places, decision)
    return replace(decision, stale=not cells or student.runs[cells[0][0]].reading(cells[0][1]) != decision.was)


def student_called(sheet: ClassSheet, name: str | None) -> Student:
    """Return the student of a name, whom there is."""
    return next(one for one in sheet.students if one.name == name)


def readings_of(course: Sequence[Sequence[Decimal | None]], titre: Decimal | None) -> str:
    """Return what a run was decided on: its readings, or the titre where there are none.

    course  the readings in order; a list more each time that the burette was filled on the way to a later endpoint
    """
    if all(volume is None for part in course for volume in part):
        return f"titre {_plain(titre)}"
    return ", ".join(" to ".join(map(_plain, part)) for part in course)


def read_in(student: Student, label: str | None) -> str:
    """Return the readings of a run in the class sheet; empty where it is not there."""
    runs = [student.runs[place] for place in places_of(student, label)]
    if not runs:
        return ""
    course: list[list[Decimal | None]] = []
    for at, run in enumerate(runs):
        if not at or filled_between(runs[at - 1].cells, run.cells):
            course.append([run.reading("initial")])
        course[-1].append(run.reading("final"))
    return readings_of(course, runs[-1].reading("written"))


def _plain(volume: Decimal | None) -> str:
    return "–" if volume is None else f"{Decimal(volume).normalize():f}"


def places_of(student: Student, label: str | None) -> list[int]:
    """Return the places of a student's run: one for each endpoint."""
    wanted = (label or "").casefold()
    return [place for place, run in enumerate(student.runs) if run.label.casefold() == wanted]


def _cells(student: Student, places: Sequence[int], decision: Decision) -> list[tuple[int, str]]:
    """Return which field of which run a reading is; one between two titres belongs to both."""
    if decision.what != "reading":
        return [(places[0], "initial") if decision.what == "initial" else (places[-1], "final")]
    runs = [student.runs[place] for place in places]
    found = [at for at, run in enumerate(runs) if run.series == decision.endpoint]
    after = [at + 1 for at in found if at + 1 < len(runs) and not filled_between(runs[at].cells, runs[at + 1].cells)]
    return [(places[at], "final") for at in found] + [(places[at], "initial") for at in after]


def _own(decision: Decision, student: Student, practical: Practical) -> Decimal | None:
    """Return a number that a student, a run or a group owns, as it was given; None where there is none."""
    key = str(decision.of)
    places = places_of(student, decision.run) if decision.run else []
    owner = student.runs[places[0]] if places else student
    own = owner.inputs.get(key)
    if own is not None:
        return own.value
    given = practical.own.get(key)
    return None if given is None or given.by is None else of_group(given, student.groups)


def reference_of(practical: Practical, whose: str | None) -> Decimal | None:
    """Return the reference that the practical gives to everybody, to one group, or for one result."""
    stated = practical.file
    named = [each.reference for each in stated.results if each.name == whose]
    given = named[0] if named else stated.reference
    if given is None or (whose is None and REFERENCE in practical.own):
        return None
    return given.value if whose is None or named else given.values.get(whose)


# Applying them.


def corrected(sheet: ClassSheet, decisions: Sequence[Decision], file: str) -> ClassSheet:
    """Return the class sheet as decided. Raises InputError where a run without a titre is taken into the mean."""
    counting = [each for each in decisions if each.counts and each.what in BEFORE - {"reference"}]
    if not counting:
        return sheet
    of = by_student(counting)
    students = tuple(_corrected(one, of.get(one.name, ())) for one in sheet.students)
    made = replace(sheet, students=students)
    raise_any([*_without_titre(made, counting, file)])
    return made


def _corrected(student: Student, decisions: Iterable[Decision]) -> Student:
    """Return a student with what was decided of their runs and of their own numbers."""
    made = student
    for each in decisions:
        made = _with(made, each, student.runs)
    return made


def _with(student: Student, decision: Decision, written: Sequence[Run]) -> Student:
    """Return a student with a decision, whose runs as they were written are these."""
    key, value, runs = str(decision.of), decision.value, list(student.runs)
    if decision.what == "input":
        places = places_of(student, decision.run)
        for place in places:
            runs[place] = replace(runs[place], inputs=_put(runs[place].inputs, key, value))
        inputs = student.inputs if places else _put(student.inputs, key, value)
        return replace(student, runs=tuple(runs), inputs=inputs)
    for place, which in _cells(student, places_of(student, key), decision) if decision.what != "use" else ():
        was = written[place]
        titre = None if was.initial is None or was.final is None or was.parts else abs(was.final - was.initial)
        runs[place] = replace(_with_reading(runs[place], which, value), as_written=titre)
    for place in places_of(student, key) if decision.what == "use" else ():
        runs[place] = replace(runs[place], decided=value)
    return replace(student, runs=tuple(runs))


def _put(inputs: Mapping[str, OwnValue], key: str, value: Decimal) -> dict[str, OwnValue]:
    own = inputs.get(key)
    cells, was = (own.cells, own.value) if own else (("",), None)
    return {**inputs, key: OwnValue(value, places_in(value), cells, was=was)}


def _with_reading(run: Run, which: str, value: Decimal) -> Run:
    """Return a run with another reading [cm³], where whatever was wrong with the cell is wrong no more."""
    volume, parts = microlitres(value), [list(part) for part in run.parts]
    if parts:
        part, end = _OTHER[which]
        parts[part][end] = volume
    read: dict[str, Any] = {which: volume, f"{which}_decimals": places_in(value)}
    return replace(
        run,
        **read,
        odd={key: text for key, text in run.odd.items() if key != which},
        why={key: text for key, text in run.why.items() if key != which},
        spoilt=tuple(key for key in run.spoilt if key != which),
        parts=tuple((start, end) for start, end in parts),
    )


def _without_titre(sheet: ClassSheet, decisions: Sequence[Decision], file: str) -> Iterator[Problem]:
    """Yield a problem for each run that is taken into the mean and has no titre, readings corrected."""
    for each in (each for each in decisions if each.what == "use" and each.value):
        student = student_called(sheet, each.student)
        if not all(_has_titre(student.runs[place]) for place in places_of(student, each.of)):
            what = f"run {each.of} of {each.student} has no titre to take into the mean"
            yield Problem(what, "correct its readings in the columns beside it", file, "", each.cell)


def _has_titre(run: Run) -> bool:
    both = run.initial is not None and run.final is not None
    return both or bool(run.parts) or run.written is not None


def with_references(practical: Practical, decisions: Sequence[Decision], file: str = "") -> Practical:
    """Return the practical with the references that were decided. Raises InputError where one of them cannot be."""
    given = [each for each in decisions if each.what == "reference" and each.counts]
    for each in given:
        try:
            practical = _with_reference(practical, each)
        except InputError as error:
            what = [problem.what.partition(": ")[2] for problem in error.problems]
            raise InputError(
                Problem(text, "correct it, or clear the cell", file, "", each.cell) for text in what
            ) from error
    return practical


def _with_reference(practical: Practical, decision: Decision) -> Practical:
    """Return the practical with one reference. Raises InputError where it does not fit the practical."""
    if practical.file.results:
        return _with_results(practical, {decision.of: decision.value})
    stated = practical.file.reference
    table: dict[str, Any] = {} if stated is None else stated.model_dump()
    if decision.of is None:
        table = {"value": decision.value, "standard_uncertainty": table.get("standard_uncertainty")}
    else:
        table["values"] = {**table["values"], decision.of: decision.value}
    changed: dict[str, Any] = {"reference": Reference.model_validate(table)}
    if practical.parsed is not None and practical.parsed.reference is None:
        changed |= {"standardisation": None}  # which would give the reference
    own = {key: taken for key, taken in practical.own.items() if key != REFERENCE or table.get("by")}
    parsed = practical.parsed and practical.parsed.model_copy(update=changed)
    made = replace(practical, file=practical.file.model_copy(update=changed), parsed=parsed, own=own)
    practical_with(made, {})
    return made


def _with_results(practical: Practical, values: Mapping[str | None, Decimal]) -> Practical:
    """Return a practical of several results with other references, by the names of the results."""
    results = [each.model_dump(by_alias=True) for each in practical.file.results]
    for each in results:
        if each["name"] in values:
            stated = each["reference"] or {"standard_uncertainty": None}
            each["reference"] = {**stated, "value": values[each["name"]]}
    return practical_with(practical, {"results": results, "reference": results[0]["reference"]})
