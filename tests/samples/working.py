"""The student's own working: titres, ticks, mean and result, with the slips that were planted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from tests.samples.bench import Cell, Student, best_set, closest_pair
from tests.samples.chemistry import Chemistry, to_figures, to_places
from tests.samples.plan import FINDING_NONE, TO_HALF_TENTHS, ClassPlan, Plant


def reckon(plan: ClassPlan, student: Student) -> None:
    """Fill in the student's own titres, ticks, mean and result."""
    for run in student.runs:
        slip = student.planted("subtraction-slip", run.label)
        run.claimed = None if run.own_titre is None else run.own_titre + (round(slip.size * 100) if slip else 0)
    own = {run.label: run.claimed for run in student.runs[1:] if run.claimed is not None}
    ticked = own.keys() if student.planted("discordant-in-mean") else best_set(own) or closest_pair(own)
    for run in student.runs:
        run.ticked = run.label in ticked
    taken = [run.claimed for run in student.runs if run.ticked or (run.label == "Rough" and _rough_in(student))]
    mean = Fraction(sum(each or 0 for each in taken), 100 * len(taken))
    slip = student.planted("mean-slip")
    if any(plant.detail == TO_HALF_TENTHS for plant in student.plants):
        mean = Fraction(to_places(mean * 20, 0)) / 20
    student.mean = to_places(mean, 2) + Decimal(str(slip.size if slip else 0))
    student.result = own_result(plan, student, Fraction(student.mean))


def _rough_in(student: Student) -> bool:
    return student.planted("rough-in-mean") is not None


def own_result(plan: ClassPlan, student: Student, mean: Fraction) -> Cell:
    """Return the result as the student writes it; a planted slip must show."""
    chemistry = plan.chemistry
    right = to_figures(chemistry.result(mean), chemistry.figures)
    for plant in student.plants:
        if plant.finding in RESULT_PLANTS:
            wrong = RESULT_PLANTS[plant.finding](chemistry, student, mean, plant)
            if str(wrong) == str(right):
                raise ValueError(f"{student.name}: {plant.finding} does not show in {right}")
            return wrong
        if plant.finding == FINDING_NONE and plant.size:
            whole = replace(chemistry, per_mole=Fraction(str(plant.size)))
            return to_figures(whole.result(mean), chemistry.figures)
    return right


def _with(**change: Any) -> Callable[[Chemistry, Student, Fraction, Plant], Cell]:
    def result(chemistry: Chemistry, student: Student, mean: Fraction, plant: Plant) -> Cell:
        values = {key: value(chemistry) if callable(value) else value for key, value in change.items()}
        return to_figures(replace(chemistry, **values).result(mean), chemistry.figures)

    return result


def _swapped(chemistry: Chemistry, student: Student, mean: Fraction, plant: Plant) -> Cell:
    return to_figures(replace(chemistry, aliquot=mean).result(chemistry.aliquot), chemistry.figures)


def _from_rough(chemistry: Chemistry, student: Student, mean: Fraction, plant: Plant) -> Cell:
    return to_figures(chemistry.result(Fraction(student.runs[0].claimed or 0, 100)), chemistry.figures)


def _rounded(chemistry: Chemistry, student: Student, mean: Fraction, plant: Plant) -> Cell:
    exact = chemistry.result(mean)
    if plant.detail == "to two figures":
        return str(to_figures(exact, 2))
    # Moles of the standard to two figures, then on: what follows is out by the same factor.
    volume = chemistry.aliquot if chemistry.unknown_in_burette else mean
    moles = chemistry.known * volume / 1000
    return to_figures(exact * Fraction(to_figures(moles, 2)) / moles, chemistry.figures)


def _digits_swapped(chemistry: Chemistry, student: Student, mean: Fraction, plant: Plant) -> Cell:
    text = str(to_figures(chemistry.result(mean), chemistry.figures))
    places = [place for place, letter in enumerate(text) if letter != "."]
    for first, second in zip(reversed(places[:-1]), reversed(places[1:]), strict=True):
        if text[first] != text[second]:
            letters = list(text)
            letters[first], letters[second] = letters[second], letters[first]
            return Decimal("".join(letters))
    return Decimal(text) * 2


RESULT_PLANTS: Mapping[str, Callable[[Chemistry, Student, Fraction, Plant], Cell]] = {
    "ratio-ignored": _with(ratio=Fraction(1)),
    "ratio-inverted": _with(ratio=lambda chemistry: 1 / chemistry.ratio),
    "dilution-ignored": _with(dilution=Fraction(1)),
    "difference-forgotten": _with(difference=False),
    "volume-units": _with(per_mole=lambda chemistry: chemistry.per_mole / 1000),
    "volumes-swapped": _swapped,
    "rough-in-result": _from_rough,
    "rounding": _rounded,
    "result-slip": _digits_swapped,
}
