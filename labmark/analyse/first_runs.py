"""First runs that are roughs without the word: in a class where nobody's run is called rough, and most began with one.

    26.90, 25.30, 25.35   the first is 1.55 cm³ from the nearer of the others, which are 0.05 cm³ apart: a rough

One student's first run far off is as likely a mishap; where most first titres lie above the others, which agree, the
class was told to do a rough. Who ticked the first run, or took the mean of all, meant it as a run like the others.
A student who wrote "rough" among the ticks said so of that run alone: it keeps its number.
Each of several titrations is looked at by itself: what was titrated in one says nothing of another.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from labmark.analyse.arrays import BoolArray
from labmark.analyse.titres import RunTable, run_table
from labmark.records import ClassSheet, Table
from labmark.volumes import shown

FAR = 2
"""So many times the span of the others, and further than titres may differ, the first lies apart (common practice, no
source)."""


def with_first_roughs(sheet: ClassSheet, capacity: int, within: int, at_least: int, titration: str = "") -> ClassSheet:
    """Return the class with the first runs that are roughs as such, and a note of it; the sheet itself where none are.

    capacity, within   of the burette and of concordance [µL]
    at_least           accurate runs that must agree
    titration          which of several
    """
    rows = [row for row, name in enumerate(sheet.runs["series"]) if name == titration]
    runs = sheet.runs.chosen(rows)
    # Runs with numbers of their own have titres that need not agree.
    if any("rough" in label.casefold() for label in runs["label"]) or any(runs["inputs"]):
        return sheet
    table = run_table(runs, len(sheet.students), capacity)
    judged, apart, above = _first_apart(table, within, at_least)
    if 2 * above.sum() <= judged.sum():
        return sheet
    means = [_mean(row, titration) for row in sheet.students.rows()]
    places = [place for place in np.flatnonzero(apart).tolist() if not _meant_as_run(runs, table, place, means[place])]
    return _taken(sheet, table, {place: rows[table.row[place, 0]] for place in places}, int(judged.sum()), titration)


def _mean(student: dict[str, Any], titration: str) -> Decimal | None:
    if not titration:
        return student["mean"]  # type: ignore[no-any-return]
    own = student["several"].get("mean", {}).get(titration)
    return None if own is None else own.value


def _first_apart(table: RunTable, within: int, at_least: int) -> tuple[BoolArray, BoolArray, BoolArray]:
    """Return whose first run can be held against others (n,), whose lies apart, and whose above others that agree."""
    first, others, there = table.titre[:, 0], table.titre[:, 1:], table.usable[:, 1:]
    far = np.int64(2**60)
    low = np.where(there, others, far).min(axis=1, initial=far)
    high = np.where(there, others, -far).max(axis=1, initial=-far)
    judged = table.usable[:, 0] & (there.sum(axis=1) >= at_least)
    span, gap = high - low, np.maximum(first - high, low - first)
    apart = judged & (gap > np.maximum(within, FAR * span))
    return judged, apart, apart & (first > high) & (span <= within)


def _meant_as_run(runs: Table, table: RunTable, place: int, mean: Decimal | None) -> bool:
    """Return whether a student ticked the first run, or wrote a mean nearer to that of all runs than without it."""
    if runs["ticked"][int(table.row[place, 0])]:
        return True
    if mean is None:
        return False
    titres, written = table.titre[place][table.usable[place]], float(mean * 1000)
    return bool(abs(written - titres.mean()) < abs(written - titres[1:].mean()))


def _taken(sheet: ClassSheet, table: RunTable, taken: dict[int, int], judged: int, titration: str) -> ClassSheet:
    """Return the class with the first runs of these students (place -> row) as roughs."""
    kind, notes = list(sheet.runs["kind"]), list(sheet.students["notes"])
    for place, row in taken.items():
        kind[row] = "rough"
        run = f"run {sheet.runs['label'][row]} ({shown(int(table.titre[place, 0])):f} cm³)"
        notes[place] = (*notes[place], f"{run} was taken for the rough titration")
    runs, students = sheet.runs.having(kind=kind), sheet.students.having(notes=notes)
    of = f"{titration}: " if titration else ""
    note = (
        f"{of}the first runs of {len(taken)} of {judged} students, none of them called a rough, lie apart from their "
        "other runs: they were taken for the rough titration"
    )
    room = None if sheet.room is None or titration else sheet.room - 1
    return replace(sheet, runs=runs, students=students, room=room, notes=(*sheet.notes, note))
