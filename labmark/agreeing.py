"""Which titres agree: the one home of that, for a student's runs as for the titres that a misreading would leave.

The largest set whose largest minus smallest is at most a limit; ties go to the smaller span, then to the set whose
earliest run comes later (then the next, and so on). Runs 24.35, 24.40, 24.80, 24.85 with a limit of 0.10 give two sets
of two with the same span: the later one is taken first.

Why windows are enough: a set of the largest size leaves no titre between its smallest and its largest out, or it
could be made larger. So every largest set is a run of neighbours in the sorted titres.

The set behind a student's mean is the one to take first; a student who used another of the largest is right as well.
Where too few agree the two closest runs stand in, and where the teacher decided about runs, those count.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any

from labmark.dataclass import replace
from labmark.facts import Places, Run, Student, mean_cm3

Limit = int | Fraction
"""Largest minus smallest that still agrees: in µL, or (a fraction) as a share of the mean of those that agree."""
MOST_RUNS = 62
"""Runs a student may have: more is a sheet misread."""


def agreeing_sets(titres: Sequence[int | None], within: Limit, at_least: int) -> tuple[Places, ...]:
    """Return the places of every largest set of titres [µL] that agree, the one to take first; () where too few do.

    titres   in the order of the work; None where there is none that counts
    """
    there = _sorted(titres)
    windows = [list(_window(there[first:], within)) for first in range(len(there))]
    most = max(map(len, windows), default=0)
    return _in_order(window for window in windows if len(window) == most) if most >= at_least else ()


def _window(there: Sequence[tuple[int, int]], within: Limit) -> Iterator[tuple[int, int]]:
    """Yield the first of these titres and those after it that agree with it."""
    low, total = there[0][0], 0
    for number, (titre, place) in enumerate(there, start=1):
        total += titre
        allowed = within if isinstance(within, int) else within * Fraction(total, number)
        if titre - low > allowed:
            return
        yield titre, place


def closest_sets(titres: Sequence[int | None]) -> tuple[Places, ...]:
    """Return the places of the two closest titres, every such pair, the one to take first; the only titre alone."""
    there = _sorted(titres)
    if len(there) < 2:
        return _in_order([there]) if there else ()
    closest = tightest_span(titres, 2)
    return _in_order(pair for pair in pairwise(there) if pair[1][0] - pair[0][0] == closest)


def _sorted(titres: Sequence[int | None]) -> list[tuple[int, int]]:
    """Return (titre, place) of the titres that are there, the smallest first."""
    return sorted((titre, place) for place, titre in enumerate(titres) if titre is not None)


def _in_order(windows: Iterable[Sequence[tuple[int, int]]]) -> tuple[Places, ...]:
    """Return the places in windows of sorted titres: the tighter first, then the one that starts later."""
    found = [(window[0][0] - window[-1][0], tuple(sorted(place for _, place in window))) for window in windows]
    return tuple(places for _, places in sorted(found, reverse=True))


def tightest_span(titres: Sequence[int | None], number: int) -> int | None:
    """Return the span of the closest so many titres [µL]; None where there are fewer."""
    values = [titre for titre, _ in _sorted(titres)]
    return min((high - low for low, high in zip(values, values[number - 1 :], strict=False)), default=None)


# --- the mean of a student ---


def with_mean(student: Student, values: Sequence[int], within: Limit, at_least: int) -> Student:
    """Return a student with the runs that agree, and their mean.

    values   what is to agree, in the order of the runs: titres [µL], or results as whole numbers
    within   largest minus smallest, inclusive
    at_least how many must agree; where fewer do, the two closest runs stand in and the student is not concordant

    Where the teacher decided about runs, the sets that agree, and how close the closest are, stay those of the titres;
    the student's mean may be of one of these or of the runs that the teacher counts.
    """
    counting = [value if run.usable else None for run, value in zip(student.runs, values, strict=True)]
    sets = agreeing_sets(counting, within, at_least)
    decided = student.decided
    taken = _decided(student.runs, counting, values, within, at_least) if decided else _first(counting, sets)
    fair = _fair(student.runs, sets, within, at_least)
    # Of runs that a teacher takes in, some may lie apart.
    apart = decided and not agreeing_sets([values[place] for place in taken], within, max(len(taken), at_least))
    return with_runs(
        student,
        taken,
        values,
        concordant=not apart if decided else bool(sets),
        tightest=tightest_span(counting, at_least),
        sets=sets,
        fair=tuple(dict.fromkeys((taken, *fair))) if decided and taken else fair,
    )


def with_runs(student: Student, places: Places, values: Sequence[int], **agreement: Any) -> Student:
    """Return a student with the mean of some runs, and how far apart these lie; `values` are as in `with_mean`.

    agreement   what else is to be said of the student: which sets agree
    """
    chosen = [values[place] for place in places]
    counted = [(run, at in places) for at, run in enumerate(student.runs)]
    runs = [run if run.in_mean == counts else replace(run, in_mean=counts) for run, counts in counted]
    mean = mean_cm3(sum(chosen), len(chosen)) if chosen else None
    span = max(chosen) - min(chosen) if chosen else None
    return replace(student, runs=tuple(runs), mean=mean, span=span, **agreement)


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
