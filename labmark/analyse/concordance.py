"""The concordant sets of a student: of the accurate runs with a usable titre, those that agree (`agreeing`).

The set behind the mean is the one to take first; a student who used another of the largest is right as well. Where too
few agree the two closest runs stand in, and where the teacher decided about runs, those count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from labmark.agreeing import Limit, agreeing_sets, closest_sets, tightest_span
from labmark.facts import Places, Run, Student, mean_cm3

MOST_RUNS = 62
"""Runs a student may have: more is a sheet misread."""


def with_mean(student: Student, values: Sequence[int], within: Limit, at_least: int) -> Student:
    """Return a student with the runs that agree, and their mean.

    values   what is to agree, in the order of the runs: titres [µL], or results as whole numbers
    within   largest minus smallest, inclusive
    at_least how many must agree; where fewer do, the two closest runs stand in and the student is not concordant

    Sets that agree, and how close the closest are, stay those of the titres where the teacher decided about runs.
    """
    counting = [value if run.usable else None for run, value in zip(student.runs, values, strict=True)]
    sets = agreeing_sets(counting, within, at_least)
    decided = any(run.decided is not None for run in student.runs)
    taken = _decided(student.runs, counting, values, within, at_least) if decided else _first(counting, sets)
    chosen = [values[place] for place in taken]
    # Of runs that a teacher takes in, some may lie apart.
    agree = len(chosen) >= at_least and bool(agreeing_sets(chosen, within, len(chosen))) if decided else bool(sets)
    runs = tuple([replace(run, in_mean=True) if place in taken else run for place, run in enumerate(student.runs)])
    return replace(
        student,
        runs=runs,
        concordant=agree,
        mean=mean_cm3(sum(chosen), len(chosen)) if chosen else None,
        span=max(chosen) - min(chosen) if chosen else None,
        tightest=tightest_span(counting, at_least),
        sets=sets,
        fair=_fair(runs, sets, within, at_least),
    )


def _first(counting: Sequence[int | None], sets: Sequence[Places]) -> Places:
    """Return the set to take first; where none agree, the closest."""
    return next(iter(sets or closest_sets(counting)), ())


def _decided(
    runs: Sequence[Run], counting: Sequence[int | None], values: Sequence[int], within: Limit, at_least: int
) -> Places:
    """Return the set that agrees among the runs not left out, with the runs that are taken in."""
    kept = [None if run.decided is False else value for run, value in zip(runs, counting, strict=True)]
    best = _first(kept, agreeing_sets(kept, within, at_least))
    return tuple(sorted({*best, *(place for place, run in enumerate(runs) if run.decided and values[place] > 0)}))


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
