"""Blank runs: taken out of the table of runs, as no student's result is theirs, and turned into the blank titre."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from labmark.practical.own import BLANK_TITRE
from labmark.read.headers import understand
from labmark.records import OwnInput, Table
from labmark.volumes import PER_CM3

DECIMALS = 4
"""Of the mean of several blanks [cm³]: more says nothing, and stands on the students' sheets."""
Rows = Sequence[Mapping[str, Any]]


def take_blanks(runs: Table, students: Table) -> tuple[Table, Table, tuple[Mapping[str, Any], ...]]:
    """Return the runs and the students without blanks, and the blank runs with the place of their student.

    Whoever has blank runs of their own has their mean titre as a number of their own, the others that of a row called
    Blank, which is no student.
    """
    for_all = {place for place, name in enumerate(students["student"]) if _is_blank(str(name))}
    kept = [place for place in range(len(students)) if place not in for_all]
    moved = {old: new for new, old in enumerate(kept)}
    blank = [kind == "blank" or place in for_all for kind, place in zip(runs["kind"], runs["student"], strict=True)]
    rows = [_plain(row) for row in runs.chosen([at for at, it in enumerate(blank) if it]).rows()]
    common = _blank_titre([row for row in rows if row["student"] in for_all])
    own = [{**row, "student": moved[row["student"]]} for row in rows if row["student"] in moved]
    rest, inputs = students.chosen(kept), []
    for place, given in enumerate(rest["inputs"]):
        titre = _blank_titre([row for row in own if row["student"] == place]) or common
        inputs.append({BLANK_TITRE: titre, **given} if titre is not None else given)
    proper = runs.chosen([at for at, it in enumerate(blank) if not it])
    proper = proper.having(student=[moved[place] for place in proper["student"]])
    return proper, rest.having(inputs=inputs), tuple(own)


def _is_blank(name: str) -> bool:
    header = understand(name)
    return header.tags == {"blank"} and not header.unknown


def _plain(row: Mapping[Any, Any]) -> dict[str, Any]:
    """Return a run as plain numbers [µL], with what it gives: from its readings, or else as it was written."""
    initial, final, written = row["initial"], row["final"], row["titre"]
    given = written if initial is None or final is None else abs(final - initial)
    same = {key: row[key] for key in ("student", "label", "cells", "odd")}
    return {**same, "initial": initial, "final": final, "written": written, "titre": given}


def _blank_titre(rows: Rows) -> OwnInput | None:
    """Return the mean titre of blank runs as a number of the student's own; None where there are none."""
    if not rows:
        return None
    cells = tuple(cell for row in rows for key in ("final", "initial", "titre") if (cell := row["cells"].get(key)))
    titres = [row["titre"] for row in rows if row["titre"] is not None]
    odd = "; ".join(str(text) for row in rows for text in row["odd"].values())
    if not titres:
        return OwnInput(None, None, cells, odd)
    mean = Decimal(sum(titres)) / len(titres) / PER_CM3
    mean = mean if mean == round(mean, DECIMALS) else round(mean, DECIMALS)
    return OwnInput(mean, None if mean * 100 % 1 else 2, cells)
