"""From the tables of a class to titres and students, for the whole class at once, without changing a reading.

A titre is final minus initial. Where the two are swapped they are taken the other way round and
that is said; where every run of a student reads downwards, the scale counts down and nobody is blamed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labmark.agreeing import agreeing_sets, closest_sets
from labmark.analyse.arrays import BoolArray, IntArray
from labmark.analyse.concordance import Concordance
from labmark.facts import Asked, Places, Run, Student, mean_cm3
from labmark.records import Table

NONE = np.int64(-(2**62))
"""Stands for "no reading" in matrices of microlitres."""


@dataclass(frozen=True)
class RunTable:
    """The runs of n students as matrices (n, r), in the order of the sheet; r is the most runs anyone has."""

    row: IntArray
    """Row of the `runs` table; -1 where the student has no such run."""
    initial: IntArray
    final: IntArray
    """Readings as recorded [µL]; NONE where missing."""
    written: IntArray
    """Own titre as written [µL]; NONE where missing."""
    titre: IntArray
    """Titre that the readings give [µL]; NONE where they give none."""
    rough: BoolArray
    reversed: BoolArray
    """Initial and final are swapped."""
    off_scale: BoolArray
    """A reading lies outside the burette's scale."""
    missing: BoolArray
    """A run begun but without its initial or final reading."""
    usable: BoolArray
    """An accurate run whose titre can be used."""
    counts_down: BoolArray
    """(n,) every run of the student reads downwards."""
    from_readings: bool
    """False where the sheet holds titres only."""
    decided: IntArray | None = None
    """1 where the teacher takes a run into the mean, -1 where it is left out; None where nothing was decided."""


_SAID = {None: 0, True: 1, False: -1}


def run_table(runs: Table, students: int, capacity: int, within: int = 0) -> RunTable:
    """Return the titres of a class.

    runs      table of runs (see labmark.records)
    students  number of students
    capacity  largest reading of the burette [µL]
    within    how far titres that agree may lie apart [µL]
    """
    row = _rows(np.array(runs["student"], np.int64), students)
    initial, final, written = (_volumes(runs[column], row) for column in ("initial", "final", "titre"))
    odd = _flags(["initial" in cells or "final" in cells for cells in runs["odd"]], row)
    read = _labels_read(runs["label"], row, (initial != NONE) | (final != NONE) | odd)
    off_scale = _outside(initial, capacity) | _outside(final, capacity)
    titre, down, counts_down = _differences(runs, row, initial, final)
    missing = (row >= 0) & read & (titre == NONE)
    # A reading that cannot be right is not put into the other order: that would invent a titre.
    titre = np.where(off_scale & down, NONE, np.where(read, titre, written))
    # Readings of several endpoints neither: which of them is wrong is not known.
    wrong = _flags(runs["disordered"], row) if "disordered" in runs.columns else np.zeros_like(off_scale)
    titre, down = np.where(wrong, NONE, titre), down & ~off_scale & ~wrong
    counts_down &= ~wrong.any(axis=1)
    rough, struck = _flags([kind == "rough" for kind in runs["kind"]], row), _flags(runs["struck"], row)
    there = (row >= 0) & ~struck & (titre > 0)
    others = np.where(there & ~rough & ~off_scale & ~down, titre, NONE)
    again = _filled_again((initial, final, written), others, capacity, within)
    again[~(there & (off_scale | down)) | counts_down[:, None]] = NONE
    stays = again == NONE
    titre, off_scale, down = np.where(stays, titre, again), off_scale & stays, down & stays
    decided = [_SAID[word] for word in runs["decided"]] if "decided" in runs.columns else None
    return RunTable(
        row,
        initial,
        final,
        written,
        titre,
        rough,
        reversed=down & ~counts_down[:, None],
        off_scale=off_scale,
        missing=missing,
        usable=there & ~rough & ~off_scale,
        counts_down=counts_down,
        from_readings=bool(read.any()),
        decided=None if decided is None else _spread(np.array(decided), row, 0),
    )


def _differences(
    runs: Table, row: IntArray, initial: IntArray, final: IntArray
) -> tuple[IntArray, BoolArray, BoolArray]:
    """Return the titres that readings give [µL], which runs read downwards (n, r), and whose scale counts down (n,)."""
    # What the parts of a run come to whose burette was refilled.
    parts = _volumes([sum(abs(end - start) for start, end in each) if each else None for each in runs["parts"]], row)
    both = (initial != NONE) & (final != NONE)
    down = both & (final < initial) & (parts == NONE)
    counts_down = (down.sum(axis=1) == both.sum(axis=1)) & (down.sum(axis=1) >= 2)
    titre = np.where(both, np.abs(np.where(both, final - initial, 0)), NONE)
    return np.where(parts != NONE, parts, titre), down, counts_down


def _labels_read(labels: Sequence[str], row: IntArray, read: BoolArray) -> BoolArray:
    """Return which runs are to be taken from readings: of a label of which several have none there is a titre only."""
    asked = {label for label, times in Counter(labels).items() if times < 2}
    asked |= {labels[place] for place in row[read].tolist()}
    return _flags([label in asked for label in labels], row) & read.any()


def _rows(student: IntArray, students: int) -> IntArray:
    """Return (n, r) row numbers of each student's runs in the order of the table; -1 fills up."""
    order = np.argsort(student, kind="stable")
    counts = np.bincount(student, minlength=students)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]]) if students else np.zeros(0, np.int64)
    rows = np.full((students, max(1, int(counts.max(initial=0)))), -1, np.int64)
    place = np.arange(len(student)) - np.repeat(starts, counts)
    rows[student[order], place] = order
    return rows


def _spread(values: NDArray[Any], row: IntArray, other: Any) -> NDArray[Any]:
    """Return a column of the table as a matrix (n, r); `other` where a student has no such run."""
    return np.where(row >= 0, values[row], other) if len(values) else np.full(row.shape, other)


def _volumes(column: Sequence[int | None], row: IntArray) -> IntArray:
    return _spread(np.array([NONE if value is None else value for value in column], np.int64), row, NONE)


def _flags(column: Sequence[Any], row: IntArray) -> BoolArray:
    return _spread(np.array(column, bool), row, False)


def _outside(readings: IntArray, capacity: int) -> BoolArray:
    outside: BoolArray = (readings != NONE) & ((readings < 0) | (readings > capacity))
    return outside


def _filled_again(
    readings: tuple[IntArray, IntArray, IntArray], others: IntArray, capacity: int, within: int
) -> IntArray:
    """Return the titres [µL] of runs that go on from the top of the scale once the burette is empty; NONE for the rest.

    From 40.00 to 15.35, or counted on to 65.35, that is 25.35. Only a titre that agrees with one of the student's
    `others`, or that is written, is taken for such; the readings may be mistaken or swapped as well.
    `readings` are the initial and final ones and the written titres.
    """
    initial, final, written = readings
    there = (initial != NONE) & (final != NONE) & ~_outside(initial, capacity) & (final >= 0)
    apart = np.where(there, final - initial, 0)
    on, back = (final > capacity) & (apart <= capacity), apart < 0
    titre = np.where(back, apart + capacity, apart)
    if not (there & (on | back)).any():
        return np.full_like(titre, NONE)
    agree, swapped = _is_near(titre, others, within), _is_near(-apart, others, within) | (written == -apart)
    taken = there & ((on & agree) | (back & ((written == titre) | (agree & ~swapped))))
    return np.where(taken, titre, NONE)


def _is_near(titres: IntArray, others: IntArray, within: int) -> BoolArray:
    """Return which titres (n, r) are within so much of one of the student's others (n, r) [µL]."""
    near: BoolArray = ((np.abs(titres[:, :, None] - others[:, None, :]) <= within) & (others != NONE)[:, None, :]).any(
        axis=2
    )
    return near


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
    found = zip(students.rows(), of_each, table.counts_down.tolist(), _agreement(sets), strict=True)
    for place, (row, own, counts_down, agreement) in enumerate(found):
        alike = {name: row[column] for name, column in _OF_STUDENT.items()}
        fair = _fair(own, sets, place)
        yield Student(place + 1, runs=own, counts_down=counts_down, fair=fair, **agreement, **alike)


def _agreement(sets: Concordance) -> Iterator[dict[str, Any]]:
    """Yield how the runs of each student agree, under the names of `Student`."""
    given = (sets.concordant, sets.total, sets.count, sets.span, sets.tightest)
    figures = zip(sets.sets, *(each.tolist() for each in given), strict=True)
    for own, concordant, total, count, span, tightest in figures:
        yield {
            "concordant": concordant,
            "mean": mean_cm3(total, count) if count else None,
            "span": span if span >= 0 else None,
            "tightest": tightest if tightest >= 0 else None,
            "sets": own,
        }


# Field of a record -> column of the table, where both hold the same.
_OF_RUN = {
    **{each: each for each in ("label", "initial", "final", "initial_decimals", "final_decimals", "parts", "ticked")},
    **{each: each for each in ("struck", "cells", "odd", "why", "spoilt")},
    **{"written": "titre", "written_decimals": "titre_decimals", "own_result": "result"},
    "own_result_decimals": "result_decimals",
}
_OF_STUDENT = {
    **{each: each for each in ("groups", "about", "absent", "cells", "odd", "spoilt", "notes", "order")},
    **{"name": "student", "own_mean": "mean", "own_mean_decimals": "mean_decimals", "own_result": "result"},
    **{"own_result_decimals": "result_decimals", "own_result_unit": "result_unit"},
}


def _runs(runs: Table, table: RunTable, sets: Concordance) -> Iterator[Run]:
    """Yield the runs in the order of the table."""
    given = (table.titre, table.reversed, table.off_scale, table.missing, table.usable, sets.in_mean)
    found = zip(*(_in_order(each, table) for each in given), strict=True)
    for row, (titre, turned, off_scale, missing, usable, in_mean) in zip(runs.rows(), found, strict=True):
        yield Run(
            rough=row["kind"] == "rough",
            titre=None if titre == NONE else titre,
            reversed=turned,
            disordered=row.get("disordered", ""),
            off_scale=off_scale,
            missing=missing,
            usable=usable,
            in_mean=in_mean,
            decided=row.get("decided"),
            as_written=row.get("as_written"),
            **{name: row[column] for name, column in _OF_RUN.items()},
        )


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
