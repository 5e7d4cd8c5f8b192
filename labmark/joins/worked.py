"""What the readings of a class give, before anything is held against anything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.chemistry import Conversion, conversion
from labmark.analyse.concordance import MOST_RUNS, Concordance, concordance
from labmark.analyse.precision import Precision, precision
from labmark.analyse.robust import RobustEstimate, algorithm_a
from labmark.analyse.students import students_of
from labmark.analyse.titres import RunTable, run_table
from labmark.analyse.uncertainty import Repeatability, class_repeatability
from labmark.diagnose.plain import Setting
from labmark.facts import Student
from labmark.practical import Practical
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet
from labmark.volumes import microlitres

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Runs:
    """Single runs of a class, one place a run."""

    student: Ints
    """Place of the student in the class."""
    titre: Floats
    """[cm³]"""
    result: Floats
    """The titre turned into a result of its own, in the unit of the result."""


@dataclass(frozen=True)
class Worked:
    """Titres, means and results of a class of n."""

    table: RunTable
    sets: Concordance
    students: tuple[Student, ...]
    curve: Conversion
    titres: Floats
    """(n,) mean titres [cm³]; NaN where there is none."""
    results: Floats
    """(n,) results; NaN where there is none."""
    robust: RobustEstimate
    used: Runs
    """The runs behind the means."""
    usable: Runs
    """Every accurate run with a titre, agreeing or not."""
    precision: Precision
    """Of the used runs, in the unit of the result."""
    repeatability: Repeatability | None
    """Of a single titre [cm³], over every usable run: runs chosen for agreeing scatter less than a hand does."""


def setting_of(practical: Practical) -> Setting:
    """Return the practical's limits in microlitres."""
    given = practical.file
    return Setting(
        capacity=microlitres(given.burette.capacity),
        step=max(1, microlitres(given.burette.division) // 2),
        within=microlitres(given.concordance.within),
        at_least=given.concordance.at_least,
    )


def work_out(sheet: ClassSheet, practical: Practical) -> Worked:
    """Return what the readings give."""
    setting = setting_of(practical)
    table = run_table(sheet.runs, len(sheet.students), setting.capacity)
    if table.row.shape[1] > MOST_RUNS:
        raise InputError(_too_many_runs(sheet, table))
    sets = concordance(table.titre, table.usable, setting.within, setting.at_least)
    students = tuple(students_of(sheet.runs, sheet.students, table, sets))
    curve = conversion(practical)
    with np.errstate(invalid="ignore"):
        titres = np.where(sets.count > 0, sets.total / np.maximum(sets.count, 1) / 1000, np.nan)
    results = curve.results(titres)
    used, usable = (_runs(table, chosen, curve) for chosen in (sets.in_mean, table.usable))
    return Worked(
        table,
        sets,
        students,
        curve,
        titres,
        results,
        algorithm_a(results),
        used,
        usable,
        precision(used.result, used.student),
        class_repeatability(usable.titre, usable.student),
    )


def _too_many_runs(sheet: ClassSheet, table: RunTable) -> Problem:
    place = int((table.row >= 0).sum(axis=1).argmax())
    name, _, cell = str(sheet.students["cells"].iloc[place].get("student", "")).rpartition("!")
    student, runs = sheet.students["student"].iloc[place], table.row.shape[1]
    what = f"{runs} runs stand for {student}; at most {MOST_RUNS} can be handled"
    return Problem(what, "give every student a row (or a block) of their own", sheet.file, name, cell)


def _runs(table: RunTable, chosen: NDArray[np.bool_], curve: Conversion) -> Runs:
    places = np.nonzero(chosen)
    titre = table.titre[places] / 1000
    return Runs(places[0].astype(np.int64), titre, curve.results(titre))
