"""Several attempts of one student at a practical: one counts, the others are kept in view as notes."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from labmark.dataclass import replace
from labmark.exact import shown
from labmark.facts import Run, Student
from labmark.records import ClassSheet, Ledger


def one_attempt_each(sheet: ClassSheet, totals: Sequence[float] | None = None) -> ClassSheet:
    """Return a class in which everybody stands once: with the latest attempt, or with the best by `totals`.

    totals   marks of each student
    Two are attempts of one student where name and ID are the same, or the name is and a column counts attempts.
    """
    people = sheet.students
    groups: dict[tuple[str, str], list[int]] = {}
    for place, one in enumerate(people):
        groups.setdefault(_who(one), []).append(place)
    counted: dict[int, int] = {}
    for places in groups.values():
        if len(places) > 1 and are_attempts([people[place] for place in places]):
            chosen = max(places, key=lambda place: _rank(people[place], place, totals))
            counted |= {place: chosen for place in places if place != chosen}
    return _without(sheet, counted) if counted else sheet


def are_attempts(people: Sequence[Student]) -> bool:
    """Return whether they are one student, who stands in the class more than once."""
    (_, known), *others = {_who(one) for one in people}
    return not others and bool(known or any("Attempt" in one.about for one in people))


def _who(one: Student) -> tuple[str, str]:
    return _name(one), one.about.get("ID", "")


def _name(one: Student) -> str:
    return one.about.get("Name", one.name).casefold()


def _rank(one: Student, place: int, totals: Sequence[float] | None) -> tuple[float, ...]:
    number = re.search(r"\d+", one.about.get("Attempt", ""))
    return not one.absent, totals[place] if totals else 0, int(number[0]) if number else 0, place


def _without(sheet: ClassSheet, counted: Mapping[int, int]) -> ClassSheet:
    """Return the class without some students, each of which is noted with the one that counts instead."""
    people, ignored = list(sheet.students), dict[str, str]()
    for place, chosen in counted.items():
        one, best = people[place], people[chosen]
        note = f"{one.name} is kept in view and does not count: {_titres(one)}"
        people[chosen] = replace(best, notes=(*best.notes, note))
        ignored |= dict.fromkeys(_cells(one), f"an attempt that does not count; {best.name} does")
    names = Counter(_name(one) for place, one in enumerate(people) if place not in counted)
    for chosen in {*counted.values()}:
        best = people[chosen]
        people[chosen] = replace(best, name=best.about.get("Name", best.name)) if names[_name(best)] == 1 else best
    kept = tuple(one for place, one in enumerate(people) if place not in counted)
    shared = {cell for one in kept for cell in _cells(one)}
    ignored = {cell: why for cell, why in ignored.items() if cell not in shared}
    # Whatever was made of these cells before.
    used, was = frozenset(sheet.ledger.used) - ignored.keys(), sheet.ledger
    rejected = {cell: why for cell, why in was.rejected.items() if cell not in ignored}
    return replace(sheet, students=kept, ledger=Ledger(used, {**was.ignored, **ignored}, rejected))


def _cells(student: Student) -> Iterator[str]:
    """Yield the cells that a student, the runs and the numbers of their own stand in; a blank may be everybody's."""
    owners: Sequence[Student | Run] = (student, *student.runs, *student.blanks)
    for owner in owners:
        yield from owner.cells.values()
        yield from (cell for own in owner.inputs.values() for cell in own.cells)


def _titres(student: Student) -> str:
    told = [
        f"{run.label}: {_shown(run.initial)} to {_shown(run.final)}, titre {_shown(_titre(run))}"
        for run in student.runs
    ]
    return "; ".join(told) or "nothing was recorded"


def _titre(run: Run) -> int | None:
    """Return the titre as it was written, or what the readings come to, in whichever order they stand."""
    if run.written is not None or run.initial is None or run.final is None:
        return run.written
    return sum(final - initial for initial, final in run.parts) or abs(run.final - run.initial)


def _shown(volume: int | None) -> str:
    return "–" if volume is None else f"{shown(volume):f}"
