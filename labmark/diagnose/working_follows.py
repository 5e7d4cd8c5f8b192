"""Whether a written value follows from values rounded on the way, tabled once for all students with the same titre.

The tables hold floats, which only sieve: what lies too near an edge for them is decided by the decimals they come from.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import NamedTuple

from labmark.diagnose.working_calculation import RIGHT, Calculation, Way
from labmark.diagnose.working_rounding import Digits
from labmark.diagnose.working_routes import Route, bound, end, reachable, routes, slack, to_decimal, water_by_mass

CERTAIN = 1e-12
"""Floats further from an edge than this, as a share of the values compared, say on which side they are."""
BY_MASS = -1
"""Stands for the order of the sum that goes by the masses of salt and water."""


class Reach(NamedTuple):
    """Where roundings on the way lead by one order of the sum."""

    values: array[float]
    """final values, ascending"""
    spare: float
    """what finer roundings can do besides"""


@dataclass(frozen=True, eq=False)
class Roundings:
    """One way of doing a sum at one titre [cm³], with values rounded on the way."""

    calc: Calculation
    way: Way
    titre: Decimal
    found: dict[int, Reach] = field(default_factory=dict)
    """by the place of the order of the sum"""

    @property
    def routes(self) -> tuple[Route, ...]:
        """The orders of the sum."""
        return routes(self.calc, self.way)

    @cached_property
    def middle(self) -> tuple[float, float]:
        """The value with nothing rounded, and how far roundings can take it."""
        first = self.routes[0]
        return float(end(first, self.titre)), float(bound(first, self.titre, self.calc.significant_figures))

    def exact(self, place: int) -> tuple[set[Decimal], Decimal]:
        """Return the final values by one order of the sum, and what finer roundings can do besides."""
        figures, route = self.calc.significant_figures, self.routes[max(place, 0)]
        by = water_by_mass(self.calc, route, self.titre, figures) if place == BY_MASS else None
        return reachable(route, self.titre, figures) if by is None else by, slack(route, self.titre, figures)

    def reach(self, place: int) -> Reach:
        """Return the same as floats, tabled."""
        reach = self.found.get(place)
        if reach is None:
            values, spare = self.exact(place)
            reach = self.found[place] = Reach(array("d", sorted(map(float, values))), float(spare))
        return reach

    def near(self, written: Sequence[Digits]) -> bool:
        """Return whether roundings may lead to the written value at all."""
        middle, most = self.middle
        goal, widest = float(written[0].value), 5.0 * 10.0 ** -(min(one.decimals for one in written) + 1)
        apart, limit = abs(middle - goal), most + widest
        if abs(apart - limit) > CERTAIN * (abs(goal) + abs(middle) + limit):
            return apart < limit
        return self._near_exactly(written)

    def _near_exactly(self, written: Sequence[Digits]) -> bool:
        widest = Decimal(5).scaleb(-min(one.decimals for one in written) - 1)
        first = self.routes[0]
        apart = abs(end(first, self.titre) - to_decimal(written[0].value))
        return apart <= bound(first, self.titre, self.calc.significant_figures) + widest

    def among(self, place: int, written: Sequence[Digits]) -> Digits | None:
        """Return the strictest reading at which the written value follows by one order of the sum, or None."""
        reach = self.reach(place)
        return next((one for one in written if self._follows(place, reach, one)), None)

    def _follows(self, place: int, reach: Reach, reading: Digits) -> bool:
        values, goal = reach.values, float(reading.value)
        limit = 5.0 * 10.0 ** -(reading.decimals + 1) + reach.spare
        above = bisect_left(values, goal)
        apart = min(abs(one - goal) for one in values[max(0, above - 1) : above + 1])
        if abs(apart - limit) > CERTAIN * (abs(goal) + apart + limit):
            return apart < limit
        exact, spare = self.exact(place)
        goal_exact, half = to_decimal(reading.value), Decimal(5).scaleb(-reading.decimals - 1)
        return any(abs(one - goal_exact) <= half + spare for one in exact)


@lru_cache(maxsize=1 << 13)
def roundings(calc: Calculation, way: Way, titre: Fraction) -> Roundings:
    """Return the table for one way of doing a sum at a titre [cm³]."""
    return Roundings(calc, way, to_decimal(titre))


def follows_rounded(
    calc: Calculation, way: Way, titre: Fraction, written: Sequence[Digits], most: int | None = None
) -> Digits | None:
    """Return the reading at which a written value follows from values rounded on the way, or None.

    Where none is near enough to be reached by any rounding, nothing is searched. `most` limits the search to so many
    of the usual orders of the sum.
    """
    table = roundings(calc, way, titre)
    if not table.near(written):
        return None
    places = [*range(len(table.routes[:most]))]
    if calc.counts_waters and way == RIGHT:
        places.append(BY_MASS)
    for some in (written[:1], written[1:]):
        for place in places if some else ():
            reading = table.among(place, some)
            if reading is not None:
                return reading
    return None
