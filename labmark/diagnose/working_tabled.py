"""What every way of doing a sum gives at one volume, tabled once for all students who have it.

Own means and titres lie on a lattice, so that a large cohort has few of them. The floats of the table only sieve; a
value that comes near enough is looked at exactly.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from labmark.diagnose.working_calculation import Calculation
from labmark.diagnose.working_early import Early, early
from labmark.diagnose.working_sums import at, line
from labmark.diagnose.working_ways import Table, table, values

SAME = 1e-10
"""Values no further apart than this share are one."""


class Column(NamedTuple):
    """Values in ascending order, with the places they come from."""

    values: tuple[float, ...]
    places: tuple[int, ...]

    def near(self, value: float, tolerance: float) -> list[int]:
        """Return the places of the values within a tolerance, in order."""
        first, last = bisect_left(self.values, value - tolerance), bisect_right(self.values, value + tolerance)
        return sorted(self.places[first:last])

    def holds(self, value: float, tolerance: float) -> bool:
        """Return whether there is a value within a tolerance."""
        first = bisect_left(self.values, value - tolerance)
        return first < len(self.values) and self.values[first] <= value + tolerance


def column(some: npt.NDArray[np.float64]) -> Column:
    """Return values as a column; those that are not a number are left out."""
    order = some.argsort(kind="stable")
    order = order[~np.isnan(some[order])]
    return Column(tuple(some[order].tolist()), tuple(order.tolist()))


def sizes(one: Column) -> tuple[float, ...]:
    """Return the distinct sizes of the values, ascending."""
    found: list[float] = []
    for size in sorted(abs(value) for value in one.values):
        if not found or size - found[-1] > SAME * size:
            found.append(size)
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Tabled:
    """A practical's sum, done in every way, at one volume in the mean's place [cm³]."""

    calc: Calculation
    titre: Fraction
    known: dict[int, Fraction | None] = field(default_factory=dict)

    @property
    def rows(self) -> Table:
        """The ways of doing the sum."""
        return table(self.calc)

    @cached_property
    def right(self) -> Fraction | None:
        """What the right sum gives."""
        return at(line(self.calc), self.titre)

    @cached_property
    def about(self) -> float:
        """The same as a float; not a number where there is none."""
        return float("nan") if self.right is None else float(self.right)

    def is_near(self, value: float, tolerance: float) -> bool:
        """Return whether the right sum gives a value within a tolerance."""
        return abs(self.about - value) <= tolerance

    @cached_property
    def singles(self) -> Column:
        """The values of the single slips."""
        return column(values(self.rows.lines[:, : self.rows.singles], float(self.titre)))

    @cached_property
    def every(self) -> Column:
        """The values of single slips and pairs."""
        return column(values(self.rows.lines, float(self.titre)))

    @cached_property
    def single_sizes(self) -> tuple[float, ...]:
        """The distinct sizes of the values of single slips."""
        return sizes(self.singles)

    @cached_property
    def all_sizes(self) -> tuple[float, ...]:
        """The distinct sizes of all values."""
        return sizes(self.every)

    @cached_property
    def early(self) -> tuple[Early, ...]:
        """What comes of rounding too early, to one figure or more."""
        return tuple(early(self.calc, self.titre))

    @cached_property
    def early_results(self) -> Column:
        """The results of these."""
        return column(np.array([float(one.result) for one in self.early], dtype=np.float64))

    def exact(self, place: int) -> Fraction | None:
        """Return the exact value of one way of doing the sum; None where it has none."""
        if place not in self.known:
            self.known[place] = at(self.rows.candidates[place].line, self.titre)
        return self.known[place]


@lru_cache(maxsize=1 << 12)
def tabled(calc: Calculation, titre: Fraction) -> Tabled:
    """Return the table of a practical at one volume [cm³]."""
    return Tabled(calc, titre)
