"""A class from its plan, and the list of what was planted in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from random import Random

from tests.samples.bench import SEED, Student, best_set, work
from tests.samples.plan import FINDING_NONE, ClassPlan, Plant
from tests.samples.working import reckon


def make_class(plan: ClassPlan) -> list[Student]:
    """Return the students of a class, in the order of the sheet."""
    students: list[Student] = []
    for number, name in enumerate(plan.names, start=1):
        bench = (number - 1) // plan.per_bench
        student = Student(name, str(bench + 1), plan.bottles[bench], plan.plants.get(number, ()))
        student.remark, student.absent = plan.remarks.get(number), number in plan.absent
        if not student.absent:
            copied = student.planted("same-readings")
            if copied:
                source = next(each for each in students if each.name == copied.detail)
                student.runs = [replace(run) for run in source.runs]
            else:
                work(plan, student, Random(f"{SEED} {plan.file} {number}"))
            reckon(plan, student)
        students.append(student)
    return students


Row = tuple[str, str, str, str, str]
"""File, student, finding, run, what was planted."""


def planted_rows(plan: ClassPlan, students: list[Student]) -> Iterator[Row]:
    """Yield what was planted, and the plain facts about agreement that follow from the readings."""
    for finding, meant, words in plan.group_plants:
        yield plan.file, "", finding, "", f"{meant}: {words}"
    for student in students:
        if student.absent:
            yield plan.file, student.name, FINDING_NONE, "", "absent"
            continue
        for plant in student.plants:
            if plant.finding not in AGREEMENT:
                yield from (
                    (plan.file, student.name, plant.finding, run, plant.note()) for run in _runs(student, plant)
                )
        yield from ((plan.file, student.name, *fact) for fact in agreement(plan, student))


AGREEMENT = ("no-concordant-runs", "too-few-runs")
PER_RUN = ("coarse-reading", "read-upside-down")
"""Findings about a run that may be planted in all of them."""


def _runs(student: Student, plant: Plant) -> tuple[str, ...]:
    if plant.run is None and plant.finding in PER_RUN:
        return tuple(run.label for run in student.runs)
    return (plant.run or "",)


def agreement(plan: ClassPlan, student: Student) -> Iterator[tuple[str, str, str]]:
    """Yield what the readings say about agreement, planted or not: finding, run, why."""
    titres = {run.label: run.titre or 0 for run in student.accurate}
    best = best_set(titres)
    cause = {plant.run: plant.finding for plant in student.plants}
    if len(titres) < plan.at_least:
        yield "too-few-runs", "", f"{len(titres)} of {plan.at_least} accurate runs with a titre"
    elif len(best) < plan.at_least:
        yield "no-concordant-runs", "", "titres " + ", ".join(f"{each / 100:.2f}" for each in titres.values())
    else:
        for label in titres:
            if label not in best:
                yield "not-concordant", label, f"follows from {cause[label]}" if label in cause else "ordinary scatter"
