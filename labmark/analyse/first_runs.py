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
from fractions import Fraction

from labmark.analyse.titres import with_titres
from labmark.facts import Run, Student, mean_cm3
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
    students = [replace(one, runs=_of(one, titration)) for one in sheet.students]
    runs = [run for one in students for run in one.runs]
    # Runs with numbers of their own have titres that need not agree.
    if any("rough" in run.label.casefold() or run.inputs for run in runs):
        return sheet
    each = enumerate(with_titres(students, capacity))
    judged = {place: one for place, one in each if _can_be_held_against_others(one.runs, at_least)}
    apart = {place: one for place, one in judged.items() if _is_apart(one.runs, within)}
    above = sum(_is_above(one.runs, within) for one in apart.values())
    if 2 * above <= len(judged):
        return sheet
    taken = {place: one.runs[0] for place, one in apart.items() if not _meant_as_run(one, titration)}
    return _taken(sheet, taken, len(judged), titration)


def _of(student: Student, titration: str) -> tuple[Run, ...]:
    return tuple(run for run in student.runs if run.series == titration)


def _titres(runs: Sequence[Run]) -> list[int]:
    return [run.titre for run in runs if run.usable and run.titre is not None]


def _can_be_held_against_others(runs: Sequence[Run], at_least: int) -> bool:
    """Return whether a student's first run has a titre, and so many others have one that must agree."""
    return bool(runs) and runs[0].usable and len(_titres(runs[1:])) >= at_least


def _gap(runs: Sequence[Run]) -> tuple[int, int, int]:
    """Return how far the first titre lies above the others, how far below them, and their span [µL]."""
    first, *others = _titres(runs)
    return first - max(others), min(others) - first, max(others) - min(others)


def _is_apart(runs: Sequence[Run], within: int) -> bool:
    above, below, span = _gap(runs)
    return max(above, below) > max(within, FAR * span)


def _is_above(runs: Sequence[Run], within: int) -> bool:
    """Return whether the first titre lies above others that agree."""
    above, _, span = _gap(runs)
    return above > 0 and span <= within


def _meant_as_run(student: Student, titration: str) -> bool:
    """Return whether a student ticked the first run, or wrote a mean nearer to that of all runs than without it."""
    own = student.several_means.get(titration)
    mean = student.own_mean if not titration else None if own is None else own.value
    if student.runs[0].ticked or mean is None:
        return bool(student.runs[0].ticked)
    titres, written = _titres(student.runs), Fraction(mean)
    every, others = (mean_cm3(sum(some), len(some)) for some in (titres, titres[1:]))
    return abs(written - every) < abs(written - others)


def _taken(sheet: ClassSheet, taken: Mapping[int, Run], judged: int, titration: str) -> ClassSheet:
    """Return the class with these first runs, by the places of their students, as roughs."""
    students = list(sheet.students)
    for place, first in taken.items():
        one, note = students[place], f"run {first.label} ({shown(first.titre or 0):f} cm³)"
        runs = tuple(
            replace(run, rough=True) if (run.series, run.label) == (titration, first.label) else run for run in one.runs
        )
        students[place] = replace(one, runs=runs, notes=(*one.notes, f"{note} was taken for the rough titration"))
    of = f"{titration}: " if titration else ""
    note = (
        f"{of}the first runs of {len(taken)} of {judged} students, none of them called a rough, lie apart from their "
        "other runs: they were taken for the rough titration"
    )
    room = None if sheet.room is None or titration else sheet.room - 1
    return replace(sheet, students=tuple(students), room=room, notes=(*sheet.notes, note))
