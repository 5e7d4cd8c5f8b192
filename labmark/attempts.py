"""Several attempts of one student at a practical: one counts, the others are kept in view as notes."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from labmark.records import ClassSheet, Ledger, Table
from labmark.volumes import shown


def one_attempt_each(sheet: ClassSheet, totals: Sequence[float] | None = None) -> ClassSheet:
    """Return a class in which everybody stands once: with the latest attempt, or with the best by `totals`.

    totals   marks of each row of `students`
    Rows are attempts of one student where name and ID are the same, or the name is and a column counts attempts.
    """
    people: list[dict[Any, Any]] = sheet.students.rows()
    groups: dict[tuple[str, str], list[int]] = {}
    for place, one in enumerate(people):
        groups.setdefault((_name(one), one["about"].get("ID", "")), []).append(place)
    counted: dict[int, int] = {}
    for (_, known), places in groups.items():
        if len(places) > 1 and (known or any("Attempt" in people[place]["about"] for place in places)):
            chosen = max(places, key=lambda place: _rank(people[place], place, totals))
            counted |= {place: chosen for place in places if place != chosen}
    return _without(sheet, people, counted) if counted else sheet


def _name(one: Mapping[Any, Any]) -> str:
    return str(one["about"].get("Name", one["student"])).casefold()


def _rank(one: Mapping[Any, Any], place: int, totals: Sequence[float] | None) -> tuple[float, ...]:
    number = re.search(r"\d+", one["about"].get("Attempt", ""))
    return not one["absent"], totals[place] if totals else 0, int(number[0]) if number else 0, place


def _without(sheet: ClassSheet, people: list[dict[Any, Any]], counted: Mapping[int, int]) -> ClassSheet:
    """Return the class without some rows, each of which is noted with the row that counts instead."""
    runs, kept = sheet.runs, [place for place in range(len(people)) if place not in counted]
    ignored: dict[str, str] = {}
    for place, chosen in counted.items():
        one, best = people[place], people[chosen]
        mine = runs.chosen([at for at, student in enumerate(runs["student"]) if student == place])
        best["notes"] = (*best["notes"], f"{one['student']} is kept in view and does not count: {_titres(mine)}")
        for cells in (one["cells"], *mine["cells"]):
            ignored |= dict.fromkeys(cells.values(), f"an attempt that does not count; {best['student']} does")
    names = Counter(_name(people[place]) for place in kept)
    for best in (people[place] for place in set(counted.values()) if names[_name(people[place])] == 1):
        best["student"] = best["about"].get("Name", best["student"])
    moved = {place: at for at, place in enumerate(kept)}
    runs = runs.chosen([at for at, student in enumerate(runs["student"]) if student in moved])
    runs = runs.having(student=[moved[student] for student in runs["student"]])
    changed = {column: [people[place][column] for place in kept] for column in ("student", "notes")}
    students = sheet.students.chosen(kept).having(**changed)
    return replace(sheet, runs=runs, students=students, ledger=_ignoring(sheet.ledger, ignored))


def _ignoring(ledger: Ledger, ignored: Mapping[str, str]) -> Ledger:
    """Return the account of cells in which these are ignored, whatever was made of them before."""
    rejected = {cell: why for cell, why in ledger.rejected.items() if cell not in ignored}
    return Ledger(frozenset(ledger.used) - ignored.keys(), {**ledger.ignored, **ignored}, rejected)


def _titres(runs: Table) -> str:
    told = [
        f"{label}: {' to '.join(map(_shown, readings))}, titre {_shown(own)}"
        for label, *readings, own in zip(*(runs[name] for name in ("label", "initial", "final", "titre")), strict=True)
    ]
    return "; ".join(told) or "nothing was recorded"


def _shown(volume: object) -> str:
    return f"{shown(volume):f}" if isinstance(volume, int) else "–"
