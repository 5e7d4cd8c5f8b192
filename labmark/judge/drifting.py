"""A drift or a group? Where benches worked one after the other, either looks like the other.

Both are fitted, and what leaves the smaller spread is named: a straight line in the order of work, or a centre for each
group. A line has one slope where groups have many centres, so that it is named where the two come to the same.

    order 1..24, titres rising evenly, benches of three in that order   the line: drift, and no bench is named
    bottle A for the first twelve, bottle B 3 % stronger for the rest   the groups: bottle B, and no drift
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.drift import Drift
from labmark.analyse.group_fit import fit
from labmark.analyse.groups import GROSS_AT_LEAST, SMALLEST, Grouping
from labmark.facts import Student
from labmark.judge.classwide import drift_of, from_the_middle, shifted_groups, without_group_shifts

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
    straight = relative - moving.slope * from_the_middle(students)
    spread = _spread_of(straight, expected_titre, exponent)
    follows = tuple(each.name for each in groupings if _shifted(each) and spread <= AS_GOOD * each.spread)
    if follows:
        # A group may be off beside the drift: what the line explains is no longer looked at.
        groupings = shifted_groups(straight, students, expected_titre, exponent)
        follows = tuple(each.name for each in groupings if each.name in follows and not _shifted(each))
    if any(_shifted(grouping) for grouping in groupings):
        ratio = without_group_shifts(np.full(len(students), expected_titre), groupings, students) / expected_titre
        moving = drift_of(relative / ratio**exponent, students, expected_titre, exponent)
    return groupings, moving, follows if moving is not None and moving.drifting else ()


def _shifted(grouping: Grouping) -> bool:
    return any(group.shifted for group in grouping.groups)


def _spread_of(results: Floats, expected_titre: float, exponent: float) -> float:
    """Return the spread of results over their reference, those grossly off left out as they are for groups."""
    there = results[np.isfinite(results)]
    least = GROSS_AT_LEAST * SMALLEST * abs(exponent) / expected_titre
    return fit(there, np.zeros(there.size, dtype=np.int64), 1, least).spread
