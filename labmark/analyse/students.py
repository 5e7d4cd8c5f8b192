"""From the tables of a class to its students as plain facts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.concordance import Concordance, agreeing_sets, closest_sets
from labmark.analyse.titres import NONE, RunTable
from labmark.facts import Asked, Places, Run, Student, mean_cm3
from labmark.records import Table


def asked(runs: Table, students: Table, table: RunTable, room: int | None = None, at_least: int = 1) -> Asked:
    """Return what the sheet had room for: a column counts as asked for where anybody filled it.

    room      accurate runs that the sheet has columns for; None where there may be any number
    at_least  accurate runs that must agree
    """
    titres = frozenset(label for label, own in zip(runs["label"], runs["titre"], strict=True) if own is not None)
    return Asked(
        readings=table.from_readings,
        titres_of=titres,
        ticks=any(tick is not None for tick in runs["ticked"]),
        mean=any("mean" in cells for cells in students["cells"]),
        result=any("result" in cells for cells in (*students["cells"], *runs["cells"])),
        accurate=room != 0,
        several=room is None or room >= at_least,
    )


def students_of(runs: Table, students: Table, table: RunTable, sets: Concordance) -> Iterator[Student]:
    """Yield the students of a class in the order of the sheet.

    runs, students   the tables (see labmark.records)
    table, sets      what `run_table` and `concordance` made of them, matrices (n, r)
    """
    made = list(_runs(runs, table, sets))
    of_each = [tuple([made[row] for row in rows if row >= 0]) for rows in table.row.tolist()]
    given = (table.counts_down, sets.concordant, sets.total, sets.count, sets.span, sets.tightest)
    found = zip(students.rows(), of_each, *(each.tolist() for each in given), strict=True)
    for place, (row, own, counts_down, concordant, total, count, span, tightest) in enumerate(found):
        yield Student(
            place + 1,
            str(row["student"]),
            own,
            absent=bool(row.get("absent")),
            counts_down=counts_down,
            concordant=concordant,
            mean=mean_cm3(total, count) if count else None,
            span=span if span >= 0 else None,
            tightest=tightest if tightest >= 0 else None,
            sets=sets.sets[place],
            fair=_fair(own, sets, place),
            own_result_unit=row.get("result_unit") or "",
            spoilt=tuple(row.get("spoilt") or ()),
            notes=tuple(row.get("notes") or ()),
            **_alike(row, _OF_STUDENT, ("groups", "about", "cells", "odd")),
        )


# Field of a record -> column of the table, where both hold the same.
_OF_RUN = {
    **{each: each for each in ("initial", "final", "initial_decimals", "final_decimals", "ticked")},
    **{"written": "titre", "written_decimals": "titre_decimals", "own_result": "result"},
    **{"own_result_decimals": "result_decimals", "decided": "decided", "as_written": "as_written"},
}
_OF_STUDENT = {
    **{"own_mean": "mean", "own_mean_decimals": "mean_decimals", "own_result": "result"},
    **{"own_result_decimals": "result_decimals", "order": "order"},
}


def _runs(runs: Table, table: RunTable, sets: Concordance) -> Iterator[Run]:
    """Yield the runs in the order of the table."""
    given = (table.titre, table.reversed, table.off_scale, table.missing, table.usable, sets.in_mean)
    found = zip(*(_in_order(each, table) for each in given), strict=True)
    for row, (titre, turned, off_scale, missing, usable, in_mean) in zip(runs.rows(), found, strict=True):
        yield Run(
            str(row["label"]),
            row["kind"] == "rough",
            titre=None if titre == NONE else titre,
            parts=tuple(row.get("parts") or ()),
            struck=bool(row.get("struck")),
            reversed=turned,
            disordered=row.get("disordered") or "",
            off_scale=off_scale,
            missing=missing,
            usable=usable,
            in_mean=in_mean,
            spoilt=tuple(row.get("spoilt") or ()),
            **_alike(row, _OF_RUN, ("cells", "odd", "why")),
        )


def _alike(row: Mapping[str, Any], columns: Mapping[str, str], mappings: Sequence[str]) -> dict[str, Any]:
    """Return the fields of a record that hold what the table does; a mapping that is not there is empty."""
    return {name: row.get(column) for name, column in columns.items()} | {
        name: row.get(name) or {} for name in mappings
    }


def _in_order(matrix: NDArray[Any], table: RunTable) -> list[Any]:
    """Return a matrix (n, r) of runs as a list in the order of the table of runs."""
    here = table.row >= 0
    rows = np.empty(int(here.sum()), matrix.dtype)
    rows[table.row[here]] = matrix[here]
    return list(rows.tolist())


def _fair(runs: tuple[Run, ...], sets: Concordance, place: int) -> tuple[Places, ...]:
    """Return the sets of runs that a mean may be of: the largest that agree, by the readings or by own titres.

    A slip in a titre is carried forward, so both count. Where none agree, the closest ones are the best there are, and
    the rough where nothing else was done.
    """
    given = [run.titre if run.usable else None for run in runs]
    own = [None if run.rough else run.own_titre for run in runs]
    if not any(titre is not None for titre in own):
        return closest_sets([run.own_titre for run in runs])
    if own == given:
        return sets.sets[place] or closest_sets(given)
    agreeing = (*sets.sets[place], *agreeing_sets(own, sets.within, sets.at_least))
    return tuple(dict.fromkeys(agreeing or (*closest_sets(given), *closest_sets(own))))
