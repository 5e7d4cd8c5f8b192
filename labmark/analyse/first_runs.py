"""First runs that are roughs without the word: in a class where nobody's run is called rough, and most began with one.

    26.90, 25.30, 25.35   the first is 1.55 cm³ from the nearer of the others, which are 0.05 cm³ apart: a rough

One student's first run far off is as likely a mishap; where most first titres lie above the others, which agree, the
class was told to do a rough. Who ticked the first run, or took the mean of all, meant it as a run like the others.
A student who wrote "rough" among the ticks said so of that run alone: it keeps its number.
Each of several titrations is looked at by itself: what was titrated in one says nothing of another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from statistics import fmean
from typing import Any

from labmark.analyse.titres import Read, read_runs
from labmark.records import ClassSheet
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
    each = enumerate(own.runs for own in read_runs(runs, len(sheet.students), capacity))
    judged = {place: own for place, own in each if _can_be_held_against_others(own, at_least)}
    apart = {place: own for place, own in judged.items() if _is_apart(own, within)}
    above = sum(_is_above(own, within) for own in apart.values())
    if 2 * above <= len(judged):
        return sheet
    means = [_mean(row, titration) for row in sheet.students.rows()]
    taken = {place: own[0] for place, own in apart.items() if not _meant_as_run(own, means[place])}
    first = {sheet.runs["student"][row]: row for row in reversed(rows)}
    return _taken(sheet, {first[place]: own for place, own in taken.items()}, len(judged), titration)


def _mean(student: dict[str, Any], titration: str) -> Decimal | None:
    if not titration:
        return student["mean"]  # type: ignore[no-any-return]
    own = student["several"].get("mean", {}).get(titration)
    return None if own is None else own.value


def _titres(runs: Sequence[Read]) -> list[int]:
    return [run.titre for run in runs if run.usable and run.titre is not None]


def _can_be_held_against_others(runs: Sequence[Read], at_least: int) -> bool:
    """Return whether a student's first run has a titre, and so many others have one that must agree."""
    return bool(runs) and runs[0].usable and len(_titres(runs[1:])) >= at_least


def _gap(runs: Sequence[Read]) -> tuple[int, int, int]:
    """Return how far the first titre lies above the others, how far below them, and their span [µL]."""
    first, *others = _titres(runs)
    return first - max(others), min(others) - first, max(others) - min(others)


def _is_apart(runs: Sequence[Read], within: int) -> bool:
    above, below, span = _gap(runs)
    return max(above, below) > max(within, FAR * span)


def _is_above(runs: Sequence[Read], within: int) -> bool:
    """Return whether the first titre lies above others that agree."""
    above, _, span = _gap(runs)
    return above > 0 and span <= within


def _meant_as_run(runs: Sequence[Read], mean: Decimal | None) -> bool:
    """Return whether a student ticked the first run, or wrote a mean nearer to that of all runs than without it."""
    if runs[0].row["ticked"]:
        return True
    if mean is None:
        return False
    titres, written = _titres(runs), float(mean * 1000)
    return abs(written - fmean(titres)) < abs(written - fmean(titres[1:]))


def _taken(sheet: ClassSheet, taken: Mapping[int, Read], judged: int, titration: str) -> ClassSheet:
    """Return the class with these runs, by their rows, as roughs."""
    kind, notes = list(sheet.runs["kind"]), list(sheet.students["notes"])
    for row, own in taken.items():
        kind[row], place = "rough", own.row["student"]
        run = f"run {own.row['label']} ({shown(own.titre or 0):f} cm³)"
        notes[place] = (*notes[place], f"{run} was taken for the rough titration")
    runs, students = sheet.runs.having(kind=kind), sheet.students.having(notes=notes)
    of = f"{titration}: " if titration else ""
    note = (
        f"{of}the first runs of {len(taken)} of {judged} students, none of them called a rough, lie apart from their "
        "other runs: they were taken for the rough titration"
    )
    room = None if sheet.room is None or titration else sheet.room - 1
    return replace(sheet, runs=runs, students=students, room=room, notes=(*sheet.notes, note))
