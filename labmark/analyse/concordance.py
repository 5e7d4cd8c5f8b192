"""The concordant set of each student, for a whole class at once.

Of the accurate runs with a usable titre: the largest set whose largest minus smallest is at most `within`; ties
go to the smaller span, then to the set whose earliest run comes later (then the next, and so on). Runs 24.35,
24.40, 24.80, 24.85 with a limit of 0.10 give two sets of two with the same span: the later one is taken, and a
student who used either is right.

Why windows are enough: a set of the largest size leaves no titre between its smallest and its largest out, or it
could be made larger. So every largest set is a run of neighbours in the sorted titres, and a class is settled by
looking at every pair of ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MOST_RUNS = 62
"""Runs a student may have: a set of runs is one bit pattern of a 64-bit integer."""

_ABSENT = np.int64(2**62)


@dataclass(frozen=True)
class Concordance:
    """Concordant sets of a class of n students with up to r runs each."""

    in_mean: Bools
    """(n, r): the run belongs to the set behind the mean."""
    concordant: Bools
    """(n,): at least `at_least` runs agree."""
    span: Ints
    """(n,) largest minus smallest titre behind the mean [µL]; -1 where there is no mean."""
    total: Ints
    """(n,) sum of the titres behind the mean [µL]; the mean is total / count, exactly."""
    count: Ints
    """(n,) number of runs behind the mean; 0 where there is no mean."""
    largest: tuple[tuple[int, ...], ...]
    """For each student the bit patterns of every largest set, the one behind the mean first; () where none agree."""
    tightest: Ints
    """(n,) span of the closest `at_least` runs [µL]; -1 where there are fewer."""

    def sets(self, student: int) -> tuple[tuple[int, ...], ...]:
        """Return the places of the runs of every largest set of a student, the one behind the mean first."""
        runs = self.in_mean.shape[1]
        return tuple([_runs_of(pattern, runs) for pattern in self.largest[student]])


def concordance(titres: Ints, usable: Bools, within: int, at_least: int = 2) -> Concordance:
    """Return the concordant set of every student.

    titres   (n, r) [µL], in the order of the work
    usable   (n, r), True for an accurate run whose titre counts
    within   largest minus smallest [µL], inclusive
    at_least how many must agree; where fewer do, the two closest runs stand in and the student is not concordant
    """
    students, runs = titres.shape
    if runs > MOST_RUNS:
        raise ValueError(f"{runs} runs for a student; at most {MOST_RUNS} can be handled")
    values = np.where(usable, titres, _ABSENT)
    order = np.argsort(values, axis=1, kind="stable")
    values = np.take_along_axis(values, order, axis=1)
    present = usable.sum(axis=1)
    # The earliest run has the highest bit, so of two sets the smaller pattern is the one that starts later.
    bits = np.left_shift(np.int64(1), (runs - 1 - order).astype(np.int64))
    upto = np.concatenate([np.zeros((students, 1), np.int64), np.cumsum(bits, axis=1)], axis=1)
    windows = [
        _Window(first, last, values[:, last] - values[:, first], upto[:, last + 1] - upto[:, first], present > last)
        for first in range(runs)
        for last in range(first, runs)
    ]
    agreeing = _best(windows, students, lambda window: window.there & (window.span <= within), prefer_size=True)
    closest = _best(windows, students, lambda window: window.there & (window.size == 2), prefer_size=False)
    concordant = agreeing.size >= at_least
    pattern = np.where(concordant, agreeing.pattern, np.where(closest.size == 2, closest.pattern, agreeing.pattern))
    in_mean = (pattern[:, None] >> np.arange(runs - 1, -1, -1) & 1).astype(bool)
    tight = _best(windows, students, lambda window: window.there & (window.size == at_least), prefer_size=False)
    return Concordance(
        in_mean,
        concordant,
        _spans(titres, in_mean),
        np.where(in_mean, titres, 0).sum(axis=1),
        in_mean.sum(axis=1),
        _largest(windows, agreeing, concordant, within),
        np.where(tight.size > 0, tight.span, -1),
    )


@lru_cache(maxsize=1 << 10)
def _runs_of(pattern: int, runs: int) -> tuple[int, ...]:
    return tuple(run for run in range(runs) if pattern >> (runs - 1 - run) & 1)


@dataclass(frozen=True)
class _Window:
    """A run of neighbours in the sorted titres, for every student at once."""

    first: int
    last: int
    span: Ints
    pattern: Ints
    there: Bools
    """The student has that many titres."""

    @property
    def size(self) -> int:
        return self.last - self.first + 1


@dataclass
class _Best:
    size: Ints
    span: Ints
    pattern: Ints


def _best(windows: list[_Window], students: int, allowed, *, prefer_size: bool) -> _Best:  # type: ignore[no-untyped-def]
    """Return for each student the best allowed window: larger (if preferred), then tighter, then later."""
    best = _Best(np.zeros(students, np.int64), np.full(students, _ABSENT), np.full(students, _ABSENT))
    for window in windows:
        larger = prefer_size & (window.size > best.size)
        same = (window.size == best.size) | (not prefer_size)
        closer = (window.span < best.span) | ((window.span == best.span) & (window.pattern < best.pattern))
        take = allowed(window) & (larger | (same & closer))
        best.size = np.where(take, window.size, best.size)
        best.span = np.where(take, window.span, best.span)
        best.pattern = np.where(take, window.pattern, best.pattern)
    return best


def _spans(titres: Ints, chosen: Bools) -> Ints:
    high = np.where(chosen, titres, -_ABSENT).max(axis=1, initial=-_ABSENT)
    low = np.where(chosen, titres, _ABSENT).min(axis=1, initial=_ABSENT)
    return np.where(chosen.any(axis=1), high - low, -1)


def _largest(windows: list[_Window], agreeing: _Best, concordant: Bools, within: int) -> tuple[tuple[int, ...], ...]:
    """Return the patterns of every largest set of each student, the chosen one first."""
    found: list[list[int]] = [
        [pattern] if is_set else []
        for pattern, is_set in zip(agreeing.pattern.tolist(), concordant.tolist(), strict=True)
    ]
    for window in windows:
        tied = window.there & (window.span <= within) & (window.size == agreeing.size) & concordant
        for student in np.flatnonzero(tied & (window.pattern != agreeing.pattern)):
            found[student].append(int(window.pattern[student]))
    return tuple(map(tuple, found))
