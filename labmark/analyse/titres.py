"""Titres from readings, for a whole class at once, without changing a reading.

A titre is final minus initial. Where the two are swapped they are taken the other way round and
that is said; where every run of a student reads downwards, the scale counts down and nobody is blamed.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labmark.records import Table

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NONE = np.int64(-(2**62))
"""Stands for "no reading" in matrices of microlitres."""


@dataclass(frozen=True)
class RunTable:
    """The runs of n students as matrices (n, r), in the order of the sheet; r is the most runs anyone has."""

    row: Ints
    """Row of the `runs` table; -1 where the student has no such run."""
    initial: Ints
    final: Ints
    """Readings as recorded [µL]; NONE where missing."""
    written: Ints
    """Own titre as written [µL]; NONE where missing."""
    titre: Ints
    """Titre that the readings give [µL]; NONE where they give none."""
    rough: Bools
    reversed: Bools
    """Initial and final are swapped."""
    off_scale: Bools
    """A reading lies outside the burette's scale."""
    missing: Bools
    """A run begun but without its initial or final reading."""
    usable: Bools
    """An accurate run whose titre can be used."""
    counts_down: Bools
    """(n,) every run of the student reads downwards."""
    from_readings: bool
    """False where the sheet holds titres only."""
    decided: Ints | None = None
    """1 where the teacher takes a run into the mean, -1 where it is left out; None where nothing was decided."""


def run_table(runs: Table, students: int, capacity: int) -> RunTable:
    """Return the titres of a class.

    runs      table of runs (see labmark.records)
    students  number of students
    capacity  largest reading of the burette [µL]
    """
    row = _rows(np.array(runs["student"], np.int64), students)
    initial, final, written = (_matrix(runs, column, row) for column in ("initial", "final", "titre"))
    here = row >= 0
    read = _labels_read(runs, row, (initial != NONE) | (final != NONE) | _flag(runs, "odd", row))
    from_readings = bool(read.any())
    parts = _part_totals(runs, row)
    both = (initial != NONE) & (final != NONE)
    difference = np.where(both, final - initial, NONE)
    down = both & (difference < 0) & (parts == NONE)
    counts_down = (down.sum(axis=1) == both.sum(axis=1)) & (down.sum(axis=1) >= 2)
    titre = np.where(both, np.abs(np.where(both, difference, 0)), NONE)
    titre = np.where(parts != NONE, parts, titre)
    missing = here & ~both & (parts == NONE) & read
    titre = np.where(read, titre, written)
    off_scale = _outside(initial, capacity) | _outside(final, capacity)
    # A reading that cannot be right is not put into the other order: that would invent a titre.
    titre = np.where(off_scale & down, NONE, titre)
    down &= ~off_scale
    rough = _flag(runs, "rough", row)
    struck = _flag(runs, "struck", row)
    if "disordered" in runs.columns:
        # Readings of several endpoints are not put into another order: which of them is wrong is not known.
        wrong = _flag(runs, "disordered", row)
        titre, down = np.where(wrong, NONE, titre), down & ~wrong
        counts_down &= ~wrong.any(axis=1)
    usable = here & ~rough & ~struck & (titre != NONE) & (titre > 0) & ~off_scale
    return RunTable(
        row,
        initial,
        final,
        written,
        titre,
        rough,
        down & ~counts_down[:, None],
        off_scale,
        missing,
        usable,
        counts_down,
        from_readings,
        _decided(runs, row),
    )


def _labels_read(runs: Table, row: Ints, read: Bools) -> Bools:
    """Return which runs are to be taken from readings: of a label of which several have none there is a titre only."""
    labels = runs["label"]
    asked = {label for label, times in Counter(labels).items() if times < 2}
    asked |= {labels[place] for place in row[read].tolist()}
    known = np.fromiter((label in asked for label in labels), bool, len(labels)) & read.any()
    return np.zeros(row.shape, bool) if not len(labels) else known[row] & (row >= 0)


def _rows(student: Ints, students: int) -> Ints:
    """Return (n, r) row numbers of each student's runs in the order of the table; -1 fills up."""
    order = np.argsort(student, kind="stable")
    counts = np.bincount(student, minlength=students)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]]) if students else np.zeros(0, np.int64)
    rows = np.full((students, max(1, int(counts.max(initial=0)))), -1, np.int64)
    place = np.arange(len(student)) - np.repeat(starts, counts)
    rows[student[order], place] = order
    return rows


def _matrix(runs: Table, column: str, row: Ints) -> Ints:
    values = np.array([NONE if value is None else value for value in runs[column]], np.int64)
    if not len(values):
        return np.full(row.shape, NONE)
    return np.where(row >= 0, values[row], NONE)


def _flag(runs: Table, what: str, row: Ints) -> Bools:
    """Return a matrix of facts that are not numbers: "rough", "struck", or "odd" (an unusable reading)."""
    if what == "rough":
        values = np.array([kind == "rough" for kind in runs["kind"]], bool)
    elif what in ("struck", "disordered"):
        values = np.array(runs[what], bool)
    else:
        values = np.array(["initial" in odd or "final" in odd for odd in runs["odd"]], bool)
    if not len(values):
        return np.zeros(row.shape, bool)
    found: Bools = values[row] & (row >= 0)
    return found


def _decided(runs: Table, row: Ints) -> Ints | None:
    if "decided" not in runs.columns:
        return None
    values = np.array([0 if value is None else 1 if value else -1 for value in runs["decided"]], np.int64)
    return np.where(row >= 0, values[row], 0)


def _part_totals(runs: Table, row: Ints) -> Ints:
    """Return the sum of the parts of each run whose burette was refilled; NONE for the others."""
    totals = np.fromiter(
        (sum(abs(final - initial) for initial, final in parts) if parts else int(NONE) for parts in runs["parts"]),
        np.int64,
        len(runs),
    )
    if not len(totals):
        return np.full(row.shape, NONE)
    return np.where(row >= 0, totals[row], NONE)


def _outside(readings: Ints, capacity: int) -> Bools:
    outside: Bools = (readings != NONE) & ((readings < 0) | (readings > capacity))
    return outside
