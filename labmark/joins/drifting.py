"""A drift or a group? Where benches worked one after the other, either looks like the other.

Both are fitted, and what leaves the smaller spread is named: a straight line in the order of work, or a centre for each
group. A line has one slope where groups have many centres, so that it is named where the two come to the same.

    order 1..24, titres rising evenly, benches of three in that order   the line: drift, and no bench is named
    bottle A for the first twelve, bottle B 3 % stronger for the rest   the groups: bottle B, and no drift
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.drift import Drift
from labmark.analyse.groups import Grouping
from labmark.analyse.robust import algorithm_a
from labmark.facts import Student
from labmark.joins.classwide import drift_of, shifted_groups, without_group_shifts

Floats = NDArray[np.float64]

AS_GOOD = 1.15
"""A line is as good as groups where it leaves at most so many times the spread that they leave (the project's own; a
standard deviation of 24 results is itself known to 15 %)."""


def told_apart(
    relative: Floats, students: Sequence[Student], expected_titre: float, exponent: float
) -> tuple[tuple[Grouping, ...], Drift | None, tuple[str, ...]]:
    """Return the groupings, the drift, and the groupings whose differences the drift explains.

    `relative` is each result over its own reference (n,).
    """
    groupings = shifted_groups(relative, students, expected_titre, exponent)
    moving = drift_of(relative, students, expected_titre, exponent)
    if moving is None or not moving.drifting or not any(_shifted(grouping) for grouping in groupings):
        return groupings, moving, ()
    spread = _spread_about_line(relative, students, moving)
    follows = tuple(each.name for each in groupings if _shifted(each) and spread <= AS_GOOD * each.spread)
    kept = tuple(_cleared(each) if each.name in follows else each for each in groupings)
    if any(_shifted(grouping) for grouping in kept):
        ratio = without_group_shifts(np.full(len(students), expected_titre), kept, students) / expected_titre
        moving = drift_of(relative / ratio**exponent, students, expected_titre, exponent)
    return kept, moving, follows if moving is not None and moving.drifting else ()


def _shifted(grouping: Grouping) -> bool:
    return any(group.shifted for group in grouping.groups)


def _cleared(grouping: Grouping) -> Grouping:
    return replace(grouping, groups=tuple(replace(group, shifted=False) for group in grouping.groups))


def _spread_about_line(relative: Floats, students: Sequence[Student], moving: Drift) -> float:
    """Return the robust spread of the results about the drift's line."""
    order = np.array([np.nan if student.order is None else float(student.order) for student in students])
    return algorithm_a(relative - moving.slope * order).sd
