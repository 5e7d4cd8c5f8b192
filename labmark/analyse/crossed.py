"""Groupings that cross: one bad bottle makes the benches that it stood on look bad too. Which explanation suffices?

Each grouping is judged on the results without the shifts that the others account for. Where groups of several
groupings stand out, the one that explains most is named first, and the rest are looked at again without its shift:

    bottle C, 2.9 % low, stood on bench 5 and on part of bench 4    bottle C; benches 4 and 5 are then as the others
    a bad bottle, and a bad bench elsewhere                         both
    the very same students                                          the grouping that comes first; the record says so

What a group explains is by how much nearer its students are to its own centre than to the others', in Huber's measure
(squares near by, distances further out): students who are moved away by it count against it.
Source: forward selection with refitting is common practice; the measure is Huber's (1964, Ann. Math. Stat. 35, 73).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from labmark.analyse.arrays import BoolArray, FloatArray, IntArray, codes, sums
from labmark.analyse.group_fit import Compared, Fit, Terms, compare, critical_t, fit
from labmark.analyse.robust import CLIP

FEWEST = 3
"""Fewest students of a group that is looked at."""

ALPHA = 0.01
"""Chance of an unfounded finding among all groups of all groupings of a class."""

MOST_STEPS = 40
"""So often are groups named, and the others refitted then; far more often than a class needs."""

MOST_ROUNDS = 10
"""So often are shifts of crossing groups refitted to one another; two or three are enough."""


@dataclass(frozen=True, slots=True)
class Side:
    """One grouping: its students who have a result, those of groups too small left out."""

    number: IntArray
    """Group (a place in `names`) of each of them."""
    student: IntArray
    """Their places in the class."""
    names: tuple[Any, ...]
    """Groups large enough to be looked at, in order of first appearance."""
    left_out: tuple[Any, ...]
    """Groups too small."""

    @classmethod
    def of(cls, results: FloatArray, labels: Iterable[Any]) -> Side:
        """Return a grouping of a class; results (n,) are NaN and labels None where there is none."""
        number, names = codes(labels)
        use = np.isfinite(results) & (number >= 0)
        keep = np.bincount(number[use], minlength=len(names)) >= FEWEST
        use[use] = keep[number[use]]
        kept, small = (tuple(names[i] for i in np.flatnonzero(which).tolist()) for which in (keep, ~keep))
        return cls((np.cumsum(keep) - 1)[number[use]], np.flatnonzero(use).astype(np.int64), kept, small)

    def members(self, group: int) -> IntArray:
        """Return the students of a group."""
        return np.asarray(self.student[self.number == group], dtype=np.int64)


@dataclass(frozen=True, slots=True)
class Held:
    """A grouping held against itself, given the shifts of the others."""

    fit: Fit
    found: Compared
    critical: float


def untangle(values: FloatArray, sides: Sequence[Side], terms: Terms) -> list[Held]:
    """Return, for every grouping, its groups held against one another, each shift named once.

    `values` has a result a student of the class (those of a side are finite).
    """
    named: list[BoolArray] = [np.zeros(len(side.names), dtype=bool) for side in sides]
    held = _refitted(values, sides, named, terms)
    for _ in range(MOST_STEPS):
        fresh = [each.found.shifted & ~known for each, known in zip(held, named, strict=True)]
        more = [at for at, groups in enumerate(fresh) if groups.any()]
        if not more:
            break
        if len(more) == 1:
            named[more[0]] = named[more[0]] | fresh[more[0]]
        else:
            at, best = _best(held, fresh, sides)
            named[at] = named[at] | best
        held = _refitted(values, sides, named, terms)
    # Only groups that were named, and still stand out, are shifted.
    shifted = [each.found.shifted & known for each, known in zip(held, named, strict=True)]
    return [replace(each, found=replace(each.found, shifted=only)) for each, only in zip(held, shifted, strict=True)]


def _refitted(values: FloatArray, sides: Sequence[Side], named: Sequence[BoolArray], terms: Terms) -> list[Held]:
    """Return every side held against itself without the shifts of the groups named on the others."""
    moves = np.zeros((len(sides), values.size))
    held: list[Held] = []
    for _ in range(MOST_ROUNDS):
        held, before = [], moves.copy()
        for at, side in enumerate(sides):
            held.append(_held(values - moves.sum(axis=0) + moves[at], side, terms))
            moves[at] = _moved(held[at], side, named[at], values.size)
        # What is without a shift of another side needs no second look.
        if np.abs(moves - before).max(initial=0.0) <= terms.smallest / 100:
            break
    return held


def _held(values: FloatArray, side: Side, terms: Terms) -> Held:
    fitted = fit(values[side.student], side.number, len(side.names), terms.gross)
    critical = critical_t(ALPHA, terms.looked_at, fitted.dof)
    return Held(fitted, compare(fitted, critical, terms), critical)


def _moved(held: Held, side: Side, named: BoolArray, students: int) -> FloatArray:
    """Return by how much each student of the class (n,) is moved by the named groups of a side."""
    effect = np.where(named & held.found.shifted, held.fit.centre - held.found.others, 0.0)
    moved = np.zeros(students)
    moved[side.student] = effect[side.number]
    return moved


def _best(held: Sequence[Held], fresh: Sequence[BoolArray], sides: Sequence[Side]) -> tuple[int, BoolArray]:
    """Return a side, and its groups to name next: the one that explains most, and any on that side that explain more
    than every group that they cross. Of groups with the very same students, those of the first side."""
    spread = min(each.fit.spread for each in held)
    gains = [np.where(new, _explained(each, spread), -np.inf) for each, new in zip(held, fresh, strict=True)]
    most = max(range(len(sides)), key=lambda at: float(gains[at].max()))
    students = sides[most].members(int(np.argmax(gains[most])))
    alike = ((at, group) for at in range(most + 1) for group in np.flatnonzero(fresh[at]).tolist())
    at, group = next(each for each in alike if np.array_equal(sides[each[0]].members(each[1]), students))
    better = fresh[at] & (gains[at] > _rivals(gains, sides, at))
    better[group] = True
    return at, better


def _rivals(gains: Sequence[FloatArray], sides: Sequence[Side], at: int) -> FloatArray:
    """Return, for each group of a side, the most that any group of another side explains that it crosses."""
    students = 1 + max(int(side.student.max()) for side in sides)
    most = np.full(students, -np.inf)
    for other, side in enumerate(sides):
        if other != at:
            most[side.student] = np.maximum(most[side.student], gains[other][side.number])
    rivals = np.full(len(sides[at].names), -np.inf)
    np.maximum.at(rivals, sides[at].number, most[sides[at].student])
    return rivals


def _explained(held: Held, spread: float) -> FloatArray:
    """Return, for each group, how much nearer its students are to its centre than to the others'."""
    fitted = held.fit
    unit = spread if spread > 0 else 1.0
    near, far = (_huber((fitted.values - at[fitted.number]) / unit) for at in (fitted.centre, held.found.others))
    return sums(fitted.number, far - near, fitted.centre.size)


def _huber(distance: FloatArray) -> FloatArray:
    away = np.abs(distance)
    return np.where(away <= CLIP, away**2 / 2, CLIP * away - CLIP**2 / 2)
