"""From the tables of a class to titres and students, without changing a reading.

A titre is final minus initial. Where the two are swapped they are taken the other way round and
that is said; where every run of a student reads downwards, the scale counts down and nobody is blamed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from labmark.agreeing import Limit, agreeing_sets, closest_sets
from labmark.analyse.concordance import Concordance, concordance
from labmark.facts import Asked, Places, Run, Student, mean_cm3
from labmark.records import Table


class Read(NamedTuple):
    """A run and what its readings give."""

    row: Mapping[str, Any]
    """The run as a row of the `runs` table."""
    titre: int | None
    """[µL]; None where there is none."""
    reversed: bool = False
    """Initial and final are swapped."""
    off_scale: bool = False
    """A reading lies outside the burette's scale."""
    missing: bool = False
    """The run was begun, but is without its initial or final reading."""
    usable: bool = False
    """An accurate run whose titre can be used."""


class OwnRuns(NamedTuple):
    """The runs of a student, in the order of the sheet."""

    runs: tuple[Read, ...]
    counts_down: bool
    """Every run of the student reads downwards."""


def read_runs(runs: Table, students: int, capacity: int, within: int = 0) -> list[OwnRuns]:
    """Return the runs of each student with their titres.

    runs      table of runs (see labmark.records)
    students  number of students
    capacity  largest reading of the burette [µL]
    within    how far titres that agree may lie apart [µL]
    """
    rows = runs.rows()
    labels = _labels_read(rows)
    each: list[list[Mapping[str, Any]]] = [[] for _ in range(students)]
    for row in rows:
        each[row["student"]].append(row)
    return [_of_student(own, labels, capacity, within) for own in each]


def _of_student(rows: Sequence[Mapping[str, Any]], labels: Collection[str], capacity: int, within: int) -> OwnRuns:
    down = [_reads_down(row) for row in rows]
    out_of_order = any(row.get("disordered") for row in rows)
    counts_down = sum(down) > 1 and sum(down) == sum(map(_has_both, rows)) and not out_of_order
    runs = [_read(row, turned, row["label"] in labels, capacity) for row, turned in zip(rows, down, strict=True)]
    others = [run.titre for run in runs if run.usable and not run.reversed and run.titre is not None]
    if counts_down:
        return OwnRuns(tuple(run._replace(reversed=False) for run in runs), True)
    return OwnRuns(tuple(_filled_again(run, others, capacity, within) for run in runs), False)


def _has_both(row: Mapping[str, Any]) -> bool:
    return row["initial"] is not None and row["final"] is not None


def _reads_down(row: Mapping[str, Any]) -> bool:
    return _has_both(row) and row["final"] < row["initial"] and not row["parts"]


def _read(row: Mapping[str, Any], down: bool, by_readings: bool, capacity: int) -> Read:
    """Return a run with the titre that its readings give or, where it has none to be taken from, that is written."""
    initial, final, parts = row["initial"], row["final"], row["parts"]
    titre = abs(final - initial) if _has_both(row) else None
    if parts:  # of a run whose burette was refilled
        titre = sum(abs(end - start) for start, end in parts)
    off_scale = any(reading is not None and not 0 <= reading <= capacity for reading in (initial, final))
    missing = by_readings and titre is None
    # A reading that cannot be right is not put into the other order: that would invent a titre. Readings of several
    # endpoints neither: which of them is wrong is not known.
    wrong = row.get("disordered") or (off_scale and down)
    titre = None if wrong else titre if by_readings else row["titre"]
    usable = _counts(row, titre) and row["kind"] != "rough" and not off_scale
    return Read(row, titre, down and not wrong, off_scale, missing, usable)


def _counts(row: Mapping[str, Any], titre: int | None) -> bool:
    """Return whether a titre is one to go on with: above nought, and not of a run that was struck out."""
    return titre is not None and titre > 0 and not row["struck"]


def _labels_read(rows: Sequence[Mapping[str, Any]]) -> Collection[str]:
    """Return the labels of the runs that are to be taken from readings: of a label of which several have none there is
    a titre only. None, where there are no readings."""
    read = {row["label"] for row in rows if _is_read(row)}
    times = Counter(row["label"] for row in rows)
    return read | {label for label, number in times.items() if number < 2} if read else ()


def _is_read(row: Mapping[str, Any]) -> bool:
    there = row["initial"] is not None or row["final"] is not None
    return there or "initial" in row["odd"] or "final" in row["odd"]


def _filled_again(run: Read, others: Sequence[int], capacity: int, within: int) -> Read:
    """Return a run that goes on from the top of the scale once the burette is empty with its titre; any other as it is.

    From 40.00 to 15.35, or counted on to 65.35, that is 25.35. Only a titre that agrees with one of the student's
    `others`, or that is written, is taken for such; the readings may be mistaken or swapped as well.
    """
    initial, final, written = run.row["initial"], run.row["final"], run.row["titre"]
    odd = _counts(run.row, run.titre) and (run.off_scale or run.reversed) and _has_both(run.row)
    if not odd or not 0 <= initial <= capacity or final < 0:
        return run
    apart = final - initial
    titre = apart + capacity if apart < 0 else apart
    agree, swapped = _is_near(titre, others, within), _is_near(-apart, others, within) or written == -apart
    on = final > capacity and apart <= capacity and agree
    back = apart < 0 and (written == titre or (agree and not swapped))
    return Read(run.row, titre, missing=run.missing, usable=run.row["kind"] != "rough") if on or back else run


def _is_near(titre: int, others: Sequence[int], within: int) -> bool:
    """Return whether a titre is within so much of one of the student's others [µL]."""
    return any(abs(titre - other) <= within for other in others)


def agreement(own: OwnRuns, values: Sequence[int], within: Limit, at_least: int) -> Concordance:
    """Return which runs of a student agree by their titres, or by their results as whole numbers (`values`)."""
    usable, decided = [run.usable for run in own.runs], [run.row.get("decided") for run in own.runs]
    return concordance(values, usable, within, at_least, decided)


def asked(runs: Table, students: Table, room: int | None = None, at_least: int = 1) -> Asked:
    """Return what the sheet had room for: a column counts as asked for where anybody filled it.

    room      accurate runs that the sheet has columns for; None where there may be any number
    at_least  accurate runs that must agree
    """
    titres = frozenset(label for label, own in zip(runs["label"], runs["titre"], strict=True) if own is not None)
    return Asked(
        readings=any(map(_is_read, runs.rows())),
        titres_of=titres,
        ticks=any(tick is not None for tick in runs["ticked"]),
        mean=any("mean" in cells for cells in students["cells"]),
        result=any("result" in cells for cells in (*students["cells"], *runs["cells"])),
        accurate=room != 0,
        several=room is None or room >= at_least,
    )


def students_of(
    students: Table, runs: Sequence[OwnRuns], sets: Sequence[Concordance], within: Limit, at_least: int
) -> Iterator[Student]:
    """Yield the students of a class in the order of the sheet.

    students          the table (see labmark.records)
    runs, sets        what `read_runs` and `concordance` made of each
    within, at_least  which the sets were found with
    """
    found = zip(students.rows(), runs, sets, strict=True)
    for number, (row, (own, counts_down), chosen) in enumerate(found, start=1):
        made = tuple([_run(run, place in chosen.behind) for place, run in enumerate(own)])
        yield Student(
            number,
            runs=made,
            counts_down=counts_down,
            fair=_fair(made, chosen.sets, within, at_least),
            concordant=chosen.agree,
            mean=mean_cm3(chosen.total, len(chosen.behind)) if chosen.behind else None,
            span=chosen.span,
            tightest=chosen.tightest,
            sets=chosen.sets,
            **{name: row[column] for name, column in _OF_STUDENT.items()},
        )


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


def _run(run: Read, in_mean: bool) -> Run:
    row = run.row
    return Run(
        rough=row["kind"] == "rough",
        titre=run.titre,
        reversed=run.reversed,
        disordered=row.get("disordered", ""),
        off_scale=run.off_scale,
        missing=run.missing,
        usable=run.usable,
        in_mean=in_mean,
        decided=row.get("decided"),
        as_written=row.get("as_written"),
        **{name: row[column] for name, column in _OF_RUN.items()},
    )


def _fair(runs: tuple[Run, ...], sets: tuple[Places, ...], within: Limit, at_least: int) -> tuple[Places, ...]:
    """Return the sets of runs that a mean may be of: the largest that agree, by the readings or by own titres.

    A slip in a titre is carried forward, so both count. Where none agree, the closest ones are the best there are, and
    the rough where nothing else was done.
    """
    given = [run.titre if run.usable else None for run in runs]
    own = [None if run.rough else run.own_titre for run in runs]
    if not any(titre is not None for titre in own):
        return closest_sets([run.own_titre for run in runs])
    if own == given:
        return sets or closest_sets(given)
    agreeing = (*sets, *agreeing_sets(own, within, at_least))
    return tuple(dict.fromkeys(agreeing or (*closest_sets(given), *closest_sets(own))))
