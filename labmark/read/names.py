"""Students' names made distinct, so that two attempts, or two classes, stay apart."""

from __future__ import annotations

from labmark.problems import InputError, Problem
from labmark.read.grid import Grid, Place
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
    classes = len({student.grid.prefix for student in alike}) == len(alike)
    for number, student in enumerate(alike, start=1):
        if number > 1 or classes:
            wanted = f"{name} ({student.grid.name if classes else number})"
            while wanted in taken:
                number += 1
                wanted = f"{name} ({number})"
            student.name = wanted
            taken.add(wanted)
    others = ", ".join(student.name for student in alike)
    for student in alike:
        student.notes.append(f"the name {name} stands more than once: kept as {others}; two attempts, or two people?")


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


def _problem(first: RawStudent, second: RawStudent, file: str) -> Problem:
    grid = second.grid
    here, there = _cell(grid, _first_place(second)), _cell(first.grid, _first_place(first))
    sheet = grid.name if "!" in grid.prefix else ""
    return Problem(
        f"{second.name!r} is the same as in {there}, cell by cell",
        "delete the row that was pasted twice",
        file,
        sheet,
        here,
    )


def _first_place(student: RawStudent) -> Place:
    return student.cells.get("student") or min(place for run in student.runs for place in run.cells.values())


def _cell(grid: Grid, place: Place) -> str:
    return grid.address(place).rpartition("!")[2].rpartition("]")[2]
