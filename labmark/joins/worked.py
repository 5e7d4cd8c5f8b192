"""What the readings of a class give, before anything is held against anything."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from math import inf

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.concordance import MOST_RUNS, Concordance, concordance
from labmark.analyse.precision import Precision, precision
from labmark.analyse.robust import RobustEstimate, algorithm_a
from labmark.analyse.students import students_of
from labmark.analyse.titres import RunTable, run_table
from labmark.analyse.uncertainty import Repeatability, class_repeatability
from labmark.diagnose.plain import Setting
from labmark.facts import Student
from labmark.formula import Formula
from labmark.practical import Practical
from labmark.practical.kinds import TITRE, formula_of
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
    formula: Formula
    """The practical's."""
    formulas: tuple[Formula, ...]
    """(n,) each student's, with the numbers that are their own; the very same one where they have none."""
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
    own: Mapping[str, Floats] = field(default_factory=dict)
    """Name of an input that students own -> (n,) its values."""

    def given(self, titres: Floats) -> dict[str, Floats]:
        """Return titres (n,) [cm³] with the numbers that students own, as `Formula.results` and `slopes` take them."""
        return {TITRE: titres, **self.own}

    @cached_property
    def highs(self) -> Floats:
        """Return the titres (n,) [cm³] that leave nothing for the sample; infinite in a direct titration."""
        highs = (formula.curve.high for formula in self.formulas)
        return np.array([inf if high is None else float(high) for high in highs], dtype=np.float64)


def setting_of(practical: Practical) -> Setting:
    """Return the practical's limits in microlitres."""
    given = practical.file
    return Setting(
        capacity=microlitres(given.burette.capacity),
        step=max(1, microlitres(given.burette.division) // 2),
        within=microlitres(given.concordance.within),
        at_least=given.concordance.at_least,
    )


def work_out(sheet: ClassSheet, practical: Practical, standard_dof: float = inf) -> Worked:
    """Return what the readings give; `standard_dof` as in `formula_of`."""
    formula = formula_of(practical, standard_dof)
    setting = setting_of(practical)
    table = run_table(sheet.runs, len(sheet.students), setting.capacity)
    if table.row.shape[1] > MOST_RUNS:
        raise InputError(_too_many_runs(sheet, table))
    sets = concordance(table.titre, table.usable, setting.within, setting.at_least)
    students = tuple(students_of(sheet.runs, sheet.students, table, sets))
    with np.errstate(invalid="ignore"):
        titres = np.where(sets.count > 0, sets.total / np.maximum(sets.count, 1) / 1000, np.nan)
    results = formula.results({TITRE: titres})
    used, usable = (_runs(table, chosen, formula) for chosen in (sets.in_mean, table.usable))
    return Worked(
        table,
        sets,
        students,
        formula,
        (formula,) * len(students),
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


def _runs(table: RunTable, chosen: NDArray[np.bool_], formula: Formula) -> Runs:
    places = np.nonzero(chosen)
    titre = table.titre[places] / 1000
    return Runs(places[0].astype(np.int64), titre, formula.results({TITRE: titre}))
