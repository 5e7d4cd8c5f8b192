"""Students' names made distinct, so that two attempts, or two classes, stay apart."""

from __future__ import annotations

from labmark.problems import InputError, Problem
from labmark.read.grid import Place
from labmark.read.model import RawStudent
from labmark.read.words import folded, plain


def make_distinct(students: list[RawStudent], file: str) -> None:
    """Give every student a name of its own: "S01 (2)" for a second attempt, "S01 (11B)" for one of another class.

    Raises InputError where two students are alike in every cell: a row that was pasted twice.
    """
    by_name: dict[str, list[RawStudent]] = {}
    for student in students:
        by_name.setdefault(folded(student.name), []).append(student)
    problems = [problem for alike in by_name.values() if len(alike) > 1 for problem in _pasted(alike, file)]
    if problems:
        raise InputError(problems)
    taken = {student.name for student in students}
    for alike in by_name.values():
        if len(alike) > 1:
            _rename(alike, taken)


def _rename(alike: list[RawStudent], taken: set[str]) -> None:
    name = alike[0].name
    told = [(_said(student, "ID"), _said(student, "Attempt")) for student in alike]
    known = len(set(told)) == len(alike) and (all(who for who, _ in told) or all(time for _, time in told))
    labels = [str(number) for number in range(1, len(alike) + 1)]
    classes = len({student.grid.prefix for student in alike}) == len(alike)
    if classes:
        labels = [student.grid.name for student in alike]
    elif known:
        several = len({who for who, _ in told}) > 1
        labels = [", ".join([who] * several + [f"attempt {time}"] * bool(time)) for who, time in told]
    for place, (student, label) in enumerate(zip(alike, labels, strict=True)):
        student.person = name
        if place or classes or known:
            student.name = _free(name, label, taken)
            taken.add(student.name)
    others = ", ".join(student.name for student in alike)
    for student in () if known else alike:
        student.notes.append(f"the name {name} stands more than once: kept as {others}; two attempts, or two people?")


def _said(student: RawStudent, key: str) -> str:
    return plain(student.grid.cells[student.cells[key]].text) if key in student.cells else ""


def _free(name: str, label: str, taken: set[str]) -> str:
    """Return a name with a label that nobody has yet."""
    wanted, number = f"{name} ({label})", 2
    while wanted in taken:
        wanted, number = f"{name} ({number})", number + 1
    return wanted


def _pasted(alike: list[RawStudent], file: str) -> list[Problem]:
    seen: dict[tuple[tuple[str, str], ...], RawStudent] = {}
    problems = []
    for student in alike:
        content = _content(student)
        first = seen.setdefault(content, student)
        if first is not student and student.runs and first.grid.prefix == student.grid.prefix:
            problems.append(_problem(first, student, file))
    return problems


def _content(student: RawStudent) -> tuple[tuple[str, str], ...]:
    grid = student.grid
    found = [(key, plain(grid.cells[place].text)) for key, place in {**student.cells, **student.groups}.items()]
    for run in student.runs:
        found += [(f"{run.kind} {run.number} {key}", plain(grid.cells[place].text)) for key, place in run.cells.items()]
    return tuple(sorted(found))


def held_by(student: RawStudent) -> set[tuple[str, str]]:
    """Return all that stands of a student but the runs' numbering, for comparing sheets; never empty."""
    return {*_content(student), ("student", student.name)}


def _problem(first: RawStudent, second: RawStudent, file: str) -> Problem:
    what = f"{second.name!r} is the same as in {_cell(first)}, cell by cell"
    return second.grid.problem(what, "delete the row that was pasted twice", _first_place(second), file)


def _first_place(student: RawStudent) -> Place:
    return student.cells.get("student") or min(place for run in student.runs for place in run.cells.values())


def _cell(student: RawStudent) -> str:
    return student.grid.address(_first_place(student)).rpartition("!")[2].rpartition("]")[2]
