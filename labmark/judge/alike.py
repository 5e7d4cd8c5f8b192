"""Readings shared beyond chance, as findings about each of the students: a question to the teacher, never a charge."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import numpy as np

from labmark.diagnose.bench_input import RunMatrix
from labmark.diagnose.likeness import Likeness, likeness
from labmark.facts import Student, runs_named
from labmark.findings import found
from labmark.records import Finding

MOST_NAMED = 3
"""Students named in the message; all of them stand in the evidence."""


_BETWEEN = re.compile(r"\s*(?:[&+;/]|\band\b|\bund\b|\bet\b|\by\b)\s*")
"""What stands between two partners."""


def alike_findings(students: Sequence[Student], capacity: int) -> Iterator[tuple[int, Finding]]:
    """Yield (place in the class, `same-readings`) for every student whose readings are shared beyond chance.

    `capacity` is that of the burettes [µL].
    """
    for alike in likeness(_matrix(students, capacity)):
        for place in alike.students:
            strangers = [other for other in alike.students if not _are_partners(students[place], students[other])]
            if strangers:
                yield place, _finding(students, alike, place, strangers)


def _matrix(students: Sequence[Student], capacity: int) -> RunMatrix:
    """Return the readings as padded matrices, the smaller first: to swap them is a habit, and no likeness.

    Of a burette that counts down they are how far it has run from full, which it is as often as others are at 0.00.
    """
    widest = max((len(student.runs) for student in students), default=0) or 1
    shape = (len(students), widest)
    initial, final, titre = (np.zeros(shape, np.int64) for _ in range(3))
    present, rough = (np.zeros(shape, np.bool_) for _ in range(2))
    for row, student in enumerate(students):
        downwards = student.counts_down and _begins_full(student, capacity)
        for column, run in enumerate(student.runs):
            if run.initial is not None and run.final is not None and run.titre is not None:
                ends = (capacity - run.initial, capacity - run.final) if downwards else (run.initial, run.final)
                initial[row, column], final[row, column] = sorted(ends)
                titre[row, column] = run.titre
                present[row, column], rough[row, column] = True, run.rough
    nothing = np.full(shape[0], np.nan)
    return RunMatrix(initial, final, titre, present, present, rough, nothing, np.zeros(shape[0]), titre)


def _begins_full(student: Student, capacity: int) -> bool:
    """Return whether runs begin nearer to a full burette than they end to 0.00: the two are not just swapped."""
    ends = [(run.initial, run.final) for run in student.runs if run.initial is not None and run.final is not None]
    return sum(capacity - initial for initial, _ in ends) < sum(final for _, final in ends)


def _are_partners(one: Student, other: Student) -> bool:
    """Return whether two students are one, or either names the other as a partner, in full or in part."""
    return one is other or _names(one, other) or _names(other, one)


def _names(one: Student, other: Student) -> bool:
    return names_partner(one.about.get("Partner", ""), other.name, other.about.get("ID", ""))


def names_partner(said: str, name: str, known_as: str) -> bool:
    """Return whether what was written as the partner names a student, by (part of) the name or by the ID."""
    told = [_words(part) for part in _BETWEEN.split(said.casefold())]
    return any(part and (part <= _words(name) or part == {known_as.casefold()}) for part in told)


def _words(text: str) -> set[str]:
    return {word.strip(",.") for word in text.casefold().split()}


def _finding(students: Sequence[Student], alike: Likeness, place: int, strangers: Sequence[int]) -> Finding:
    student = students[place]
    others = [students[other].name for other in strangers]
    named = ", ".join(others[:MOST_NAMED]) + (
        f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    )
    shared = [student.runs[column] for column in alike.runs if column < len(student.runs)]
    where = f" in {runs_named(shared)}" if shared else ""
    odds = f"about {alike.odds:,.0f}".replace(",", " ") if alike.odds < 1e6 else "more than a million"
    message = (
        f"The readings{where} are the same as those of {named}; the odds against chance are "
        f"{odds} to 1. Did they share a bench, a burette or a set of readings, or is one of them "
        "entered twice?"
    )
    cells = tuple(cell for run in shared for cell in run.at("initial", "final"))
    evidence = {"with": others, "runs": [run.label for run in shared], "odds": alike.odds}
    return found("same-readings", message, None, evidence, cells=cells)
