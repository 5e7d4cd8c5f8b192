"""Blank runs: no student's result is theirs, but they give the blank titre."""

from collections.abc import Sequence
from decimal import Decimal

from labmark.dataclass import replace
from labmark.exact import PER_CM3
from labmark.facts import OwnValue, Run, Student
from labmark.practical.own import BLANK_TITRE
from labmark.read.headers import understand

DECIMALS = 4
"""Of the mean of several blanks [cm³]: more says nothing, and stands on the students' sheets."""


def with_blanks(students: Sequence[Student]) -> tuple[Student, ...]:
    """Return the students with the blank titre as a number of their own.

    Whoever has blank runs has their mean titre, the others that of a row called Blank, which is no student.
    """
    for_all = [one for one in students if _is_blank(one.name)]
    common = _blank_titre([run for one in for_all for run in (*one.runs, *one.blanks)])
    return tuple(_with_blank(one, common) for one in students if not _is_blank(one.name))


def _is_blank(name: str) -> bool:
    header = understand(name)
    return header.tags == {"blank"} and not header.unknown


def _with_blank(student: Student, common: OwnValue | None) -> Student:
    titre = _blank_titre(student.blanks) or common
    blanks = tuple(replace(run, titre=_titre(run)) for run in student.blanks)
    inputs = student.inputs if titre is None else {BLANK_TITRE: titre, **student.inputs}
    return replace(student, blanks=blanks, inputs=inputs)


def _titre(run: Run) -> int | None:
    """Return what a run gives [µL]: from its readings, or else as it was written."""
    return run.written if run.initial is None or run.final is None else abs(run.final - run.initial)


def _blank_titre(runs: Sequence[Run]) -> OwnValue | None:
    """Return the mean titre of blank runs as a number of the student's own; None where there are none."""
    if not runs:
        return None
    cells = tuple(cell for run in runs for cell in run.at("final", "initial", "titre") if cell)
    titres = [titre for titre in map(_titre, runs) if titre is not None]
    odd = "; ".join(text for run in runs for text in run.odd.values())
    if not titres:
        return OwnValue(None, None, cells, odd)
    mean = Decimal(sum(titres)) / len(titres) / PER_CM3
    mean = mean if mean == round(mean, DECIMALS) else round(mean, DECIMALS)
    return OwnValue(mean, None if mean * 100 % 1 else 2, cells)
