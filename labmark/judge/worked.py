"""What the readings of a class give, before anything is held against anything."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cached_property
from math import inf, nan
from operator import attrgetter
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from labmark.agreeing import MOST_RUNS, with_mean, with_runs
from labmark.analyse.arrays import BoolArray, FloatArray, IntArray
from labmark.analyse.precision import Precision, precision
from labmark.analyse.robust import RobustEstimate, algorithm_a
from labmark.analyse.titres import with_titres
from labmark.analyse.uncertainty import Repeatability, class_repeatability
from labmark.dataclass import dataclass, field, replace
from labmark.diagnose.plain import Setting
from labmark.diagnose.working_means import right_choice
from labmark.exact import microlitres
from labmark.facts import OwnMean, Run, Student
from labmark.formula import Formula, Input
from labmark.judge.by_result import (
    agreeing,
    inputs_over,
    is_by_result,
    result_of,
    turned,
    with_chosen_results,
    with_results,
)
from labmark.judge.owned import Numbers, held_against_all, own_numbers
from labmark.judge.written_otherwise import as_read, as_titre
from labmark.practical import Practical
from labmark.practical.inputs import TITRE
from labmark.practical.kinds import formula_of
from labmark.practical.own import BLANK_TITRE
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet


class Runs(NamedTuple):
    """Single runs of a class, one place a run."""

    student: IntArray
    """Place of the student in the class."""
    titre: FloatArray
    """[cm³]"""
    result: FloatArray
    """The titre turned into a result of its own, in the unit of the result."""


@dataclass(frozen=True)
class Beside:
    """The other titres that a result rests on, where there are several."""

    of: tuple[tuple[Input, ...], ...]
    """(n,) each student's means; one that is missing is left out."""
    also: tuple[tuple[tuple[Input, ...], ...], ...]
    """(n,) sets of means that a student may fairly have taken instead, the likeliest first."""
    typical: tuple[Input, ...]
    """The middle ones of the class."""
    rough: tuple[tuple[Input, ...], ...] = ()
    """(n,) each student's roughs of them; empty where one is missing."""
    of_label: tuple[Mapping[str, tuple[Input, ...]], ...] = ()
    """(n,) label of a run -> its own ones; empty where other runs gave them."""
    of_runs: Mapping[str, FloatArray] = field(default_factory=dict)
    """Name -> titres of the same runs (n, r) [cm³], the mean where missing; empty where other runs gave them."""
    scatter: Mapping[str, tuple[Repeatability | None, FloatArray]] = field(default_factory=dict)
    """Name -> repeatability of a single titre [cm³], and (n,) of how many runs the means are."""


NO_OTHERS = Beside((), (), ())


@dataclass(frozen=True)
class Worked:
    """Titres, means and results of a class of n."""

    students: tuple[Student, ...]
    formula: Formula
    """The practical's."""
    formulas: tuple[Formula, ...]
    """(n,) each student's, with the numbers that are their own; the very same one where they have none."""
    titres: FloatArray
    """(n,) mean titres [cm³]; NaN where there is none."""
    results: FloatArray
    """(n,) results; NaN where there is none."""
    numbers: tuple[Numbers, ...]
    """(n,) the students' own numbers, and what is wrong with them."""
    inputs: tuple[tuple[Input, ...], ...]
    """(n,) the numbers that count for the student, those of runs as the mean over the runs behind the mean."""
    own: Mapping[str, FloatArray]
    """Name of an input that students own -> (n,) its values; NaN where it is missing."""
    beside: Beside
    """The other titres that the results rest on."""

    @cached_property
    def of_runs(self) -> Sequence[Sequence[Formula]]:
        """Return each run's formula (n, r), where results must agree; else nothing."""
        pairs = zip(self.numbers, self.students, strict=True)
        return [[self.formula.given(own.of(run.label)) for run in one.runs] for own, one in pairs if one.agreement]

    def given(self, titres: FloatArray) -> dict[str, FloatArray]:
        """Return titres (n,) [cm³] with the numbers that students own, as `Formula.results` and `slopes` take them."""
        return {TITRE: titres, **self.own}

    @cached_property
    def turned(self) -> IntArray:
        """Return the titres (n, r) [µL]; where results must agree, what would give them with the mean own numbers."""
        return by_run(self.students, _turned, np.int64)

    @cached_property
    def counts(self) -> IntArray:
        """Return of how many runs the means (n,) are; 0 where there is none."""
        return np.array([len(one.closest) for one in self.students], np.int64)

    @cached_property
    def robust(self) -> RobustEstimate:
        """Return centre and spread of the results."""
        return algorithm_a(self.results)

    @cached_property
    def are_usable(self) -> BoolArray:
        """Return which runs (n, r) are accurate and have a titre that can be used."""
        return by_run(self.students, "usable", np.bool_)

    @cached_property
    def used(self) -> Runs:
        """Return the runs behind the means."""
        return self._runs(by_run(self.students, "in_mean", np.bool_))

    @cached_property
    def usable(self) -> Runs:
        """Return every accurate run with a titre, agreeing or not."""
        return self._runs(self.are_usable)

    def _runs(self, chosen: BoolArray) -> Runs:
        places = np.nonzero(chosen)
        titre = self.turned[places] / 1000
        given = {name: values[places[0]] for name, values in self.own.items()}
        given |= {name: values[places] for name, values in self.beside.of_runs.items()}
        return Runs(places[0].astype(np.int64), titre, self.formula.results({TITRE: titre, **given}))

    @cached_property
    def precision(self) -> Precision:
        """Return the precision of the used runs, in the unit of the result."""
        return precision(self.used.result, self.used.student)

    @cached_property
    def repeatability(self) -> Repeatability | None:
        """Return that of a single titre [cm³], over every usable run: those that agree scatter less than a hand does.

        Where other titres of the same runs are known, each is moved by how these differ from the student's mean: what
        is late at one endpoint is missing from the next titre, so the scatter of the result is that of both together.
        """
        places, moved = np.nonzero(self.are_usable), np.zeros(())
        with np.errstate(invalid="ignore", divide="ignore"):
            slopes = self.formula.slopes(self.given(self.titres)) if self.beside.of_runs else {}
            for name in (each for each in self.beside.of_runs if each in self.own):
                away = self.beside.of_runs[name][places] - self.own[name][places[0]]
                share = np.broadcast_to(slopes[name] / slopes[TITRE], self.titres.shape)
                moved = moved + away * share[places[0]]
        return class_repeatability(self.usable.titre + moved, self.usable.student)


def by_run(students: Sequence[Student], of: str | Callable[[Run], Any], kind: type[np.generic]) -> NDArray[Any]:
    """Return something of every run of students (n, r), r being the most runs that anyone has; 0 fills up, and stands
    where there is nothing. `of` names a field of the run, or works it out."""
    most = max((len(one.runs) for one in students), default=0) or 1
    take = attrgetter(of) if isinstance(of, str) else of
    rows = [[*(take(run) or 0 for run in one.runs), *[0] * (most - len(one.runs))] for one in students]
    return np.array(rows, kind).reshape(-1, most)


def _turned(run: Run) -> int | None:
    return run.titre if run.turned is None else round(run.turned * 1000)


def setting_of(practical: Practical) -> Setting:
    """Return the practical's limits in microlitres."""
    given = practical.file
    return Setting(
        capacity=microlitres(given.burette.capacity),
        step=max(1, microlitres(given.burette.division) // 2),
        within=microlitres(given.concordance.within),
        at_least=given.concordance.at_least,
    )


def work_out(sheet: ClassSheet, practical: Practical, standard_dof: float = inf, beside: Beside = NO_OTHERS) -> Worked:
    """Return what the readings give; `standard_dof` as in `formula_of`."""
    formula = formula_of(practical, standard_dof).given(beside.typical)
    setting = setting_of(practical)
    students = with_titres(sheet.students, setting.capacity, setting.within)
    if max((len(one.runs) for one in students), default=0) > MOST_RUNS:
        raise InputError(_too_many_runs(sheet.file, students))
    numbers = _numbers(sheet, practical, formula, beside)
    if by_result := is_by_result(practical, formula, numbers):
        of_label: Sequence[Mapping[str, tuple[Input, ...]]] = beside.of_label or [{}] * len(numbers)
        numbers = tuple(replace(one, beside_of=of) for one, of in zip(numbers, of_label, strict=True))
        pairs = zip(numbers, students, strict=True)
        results = [[result_of(formula, own, run) for run in one.runs] for own, one in pairs]
        students = [*agreeing(practical, students, results)]
    else:
        limits = setting.within, setting.at_least
        students = [with_mean(one, [run.titre or 0 for run in one.runs], *limits) for one in students]
    made = tuple(_students(practical, students, numbers, formula, by_result=by_result))
    return _worked(made, formula, numbers, beside)


def _numbers(sheet: ClassSheet, practical: Practical, formula: Formula, beside: Beside) -> tuple[Numbers, ...]:
    """Return every student's own numbers, the other titres that the result rests on among them."""
    numbers = own_numbers(practical, formula, sheet)
    if not beside.typical:
        return numbers
    pairs = zip(numbers, beside.of, strict=True)
    return tuple(replace(one, beside=of, without=len(of) < len(beside.typical)) for one, of in pairs)


def _students(
    practical: Practical, students: Sequence[Student], numbers: Sequence[Numbers], formula: Formula, *, by_result: bool
) -> Iterator[Student]:
    """Yield the students with what they own, and with how their results agree, where these must; titres and mean as
    they were read, where the blank was taken off."""
    limit, blank = practical.file.concordance.within_percent, practical.file.blank
    read = as_read if practical.back is None else as_titre
    for student, own in zip(students, numbers, strict=True):
        one = replace(student, owned=own.owned) if own.owned else student
        if by_result:
            one = with_results(one, limit, formula.given(inputs_over(own, one, one.closest)))
        taken = formula.given(own.of(None)).of[BLANK_TITRE].value if blank is not None else None
        yield one if blank is None else read(one, taken or Fraction(0))


def _worked(students: tuple[Student, ...], formula: Formula, numbers: tuple[Numbers, ...], beside: Beside) -> Worked:
    """Return what the students, whose runs are chosen, come to with their own numbers."""
    pairs = zip(numbers, students, strict=True)
    inputs = tuple(tuple(inputs_over(own, student, student.closest)) for own, student in pairs)
    formulas = tuple(formula.given(own) for own in inputs)
    own = _own(formula, numbers, inputs)
    titres = np.array([nan if one.mean is None else float(one.mean) for one in students], dtype=np.float64)
    by_result = any(one.agreement is not None for one in students)
    if by_result:
        students = tuple(turned(one, given) for one, given in zip(students, formulas, strict=True))
    results = _means(students) if by_result else formula.results({TITRE: titres, **own})
    numbers = held_against_all(numbers, results, formulas, students)
    return Worked(students, formula, formulas, titres, results, numbers, inputs, own, beside)


def with_own_choice(worked: Worked, means: Sequence[OwnMean | None], taken: Sequence[tuple[Input, ...]] = ()) -> Worked:
    """Return the same with the runs that students took, where these agree as well as those behind their means; the very
    same where nobody took others. `means` (n,) are what they made of them, `taken` (n,) those of other titres."""
    pairs = zip(worked.students, means, strict=True)
    students = tuple(chosen_by(student, mean) for student, mean in pairs)
    others = zip(worked.numbers, taken, strict=True) if taken and not worked.of_runs else ()
    numbers = tuple(replace(own, beside=means) for own, means in others) or worked.numbers
    if all(one is other for one, other in zip(students, worked.students, strict=True)) and numbers == worked.numbers:
        return worked
    return _worked(students, worked.formula, numbers, worked.beside)


def chosen_by(student: Student, mean: OwnMean | None) -> Student:
    """Return a student by the runs that they took, where these agree as well as those behind the mean, or are as close
    where too few agree; else as is."""
    places = () if mean is None else tuple(sorted(mean.runs))
    sets = student.sets or [each for each in student.fair if all(student.runs[place].usable for place in each)]
    if places not in sets:  # others may be ticked beside those that the mean is of
        places, _ = right_choice(student, student.fair) or ((), None)
    if places not in sets[1:] or student.decided:
        return student
    one = with_runs(student, places, [run.titre or 0 for run in student.runs])
    return one if one.agreement is None else with_chosen_results(one, one.agreement)


def _means(students: Sequence[Student]) -> FloatArray:
    """Return the mean of the results of the runs behind the mean (n,); NaN where there is none."""
    means = [[float(run.result) for run in one.runs if run.in_mean and run.result is not None] for one in students]
    return np.array([sum(each) / len(each) if each else np.nan for each in means], dtype=np.float64)


def _own(formula: Formula, numbers: Sequence[Numbers], inputs: Sequence[Sequence[Input]]) -> dict[str, FloatArray]:
    """Return each input that students own as an array (n,); NaN where one is missing."""
    found: dict[str, FloatArray] = {}
    lacking = [one.lacks(None) for one in numbers]
    for key in dict.fromkeys(each.name for own in inputs for each in own):
        given = formula.of.get(key)
        if given is not None:
            owned = ({each.name: each.value for each in own} for own in inputs)
            values = [float(own.get(key, given.value) or 0) for own in owned]
            found[key] = np.where(lacking, np.nan, np.array(values, dtype=np.float64))
    return found


def _too_many_runs(file: str, students: Sequence[Student]) -> Problem:
    one = max(students, key=lambda each: len(each.runs))
    name, _, cell = one.cells.get("student", "").rpartition("!")
    what = f"{len(one.runs)} runs stand for {one.name}; at most {MOST_RUNS} can be handled"
    return Problem(what, "give every student a row (or a block) of their own", file, name, cell)
