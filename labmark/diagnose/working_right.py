"""When a written value is right: at the digits written, which may be fewer than those asked for.

It is where it equals the true one rounded to these digits, half up or half even: straight from a mean, run by run, or
from intermediate values rounded to at least as many figures as were asked for. 0.0500 × 24.35 ÷ 1000 is 0.0012175 mol;
carried on as 0.00122 mol it gives 0.0976 and not 0.0974 mol/dm³, and both are right at three figures.

What roundings on the way lead to is tabled once for all students with the same titre. The tables hold floats, which
only sieve: what lies too near an edge for them is decided by the decimals they come from.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import chain
from typing import NamedTuple

from labmark.diagnose.working_calculation import RIGHT, Calculation, Way, fair_calculations
from labmark.diagnose.working_routes import (
    FURTHER,
    Route,
    bound,
    end,
    reachable,
    routes,
    slack,
    to_decimal,
    water_by_mass,
)
from labmark.diagnose.working_sets import average
from labmark.diagnose.working_sums import at, line
from labmark.figures import asked_decimals, magnitude, visible_decimals
from labmark.volumes import both_roundings, round_fraction


class Digits(NamedTuple):
    """A written value read at some number of decimal places."""

    decimals: int
    """places; negative where trailing zeros of a whole number may only hold the place"""
    value: Fraction
    short: bool
    """True: fewer significant figures than were asked for"""


def figures_at(value: Fraction, decimals: int) -> int:
    """Return how many significant figures a value shows at `decimals` places (0 for zero)."""
    return magnitude(value) + 1 + decimals if value else 0


def readings(written: Decimal, decimals: int | None, figures: int, *, whole_is_enough: bool = False) -> list[Digits]:
    """Return the ways to read a written value, the strictest first.

    `decimals` None: the digits seen are a minimum, trailing zeros may be lost, so the value is first read with as many
    places as `figures` significant figures need, then as it stands. A cell that shows fewer decimals than its number
    has is read either way. Zeros beyond the figures asked for are spare (0.1010 is also read as 0.101), and so are
    those of a whole number (10.0 is also read as 10). `whole_is_enough`: a whole number is never short.

    Trailing zeros of a whole number may only hold the place, down to one figure fewer than asked: 110 may be 106.6 to
    two figures. 100 is not taken for 106.6 to one: so much is 100 that it shows no sum to be right, and as three
    figures it is wrong.
    """
    seen, value = visible_decimals(written), Fraction(written)
    places = seen if decimals is None else max(decimals, seen)
    most = magnitude(value) + 1 if value else 0
    full = max(places, figures - most) if decimals is None else places
    read = dict.fromkeys([(full, value), (places, value)])
    if decimals is not None and decimals < seen:
        read[decimals, Fraction(round_fraction(value, decimals))] = None
    read |= dict.fromkeys((at, value) for at in range(places - 1, seen - 1, -1) if most + at >= figures)
    if not seen and value:
        zeros = len(str(value)) - len(str(value).rstrip("0"))
        least = figures - 1 - most
        read |= dict.fromkeys(
            (at, value) for at in range(0, -zeros - 1, -1) if at >= least or (whole_is_enough and not at)
        )
    return [
        Digits(at, one, figures_at(one, at) < figures and not (whole_is_enough and one.denominator == 1))
        for at, one in read
    ]


def equals(true: Fraction, written: Digits) -> bool:
    """Return whether the written value is the true one rounded to these places, by either rule for ties."""
    # Whole numbers throughout, |true − written| × 2 × 10^decimals against 1: this is asked very often.
    value, decimals = written.value, written.decimals
    apart = 2 * abs(true.numerator * value.denominator - value.numerator * true.denominator)
    one = true.denominator * value.denominator
    if decimals >= 0:
        apart *= 10**decimals
    else:
        one *= 10**-decimals
    if apart != one:
        return apart < one
    return any(Fraction(choice) == written.value for choice in both_roundings(true, written.decimals))


def first_reading(true: Fraction, written: Sequence[Digits]) -> Digits | None:
    """Return the strictest reading at which the written value is the true one, or None."""
    return next((reading for reading in written if equals(true, reading)), None)


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


Titres = tuple[Fraction, ...]
"""Titres of runs whose mean is one to go on with [cm³]."""


def own_reading(
    calc: Calculation,
    means: Sequence[Fraction],
    claimed: Decimal,
    decimals: int | None,
    by_run: Sequence[Titres] = (),
) -> Digits | None:
    """Return the strictest reading at which a written result is right, marked short where figures are missing.

    `means` [cm³] are those that it may rest on, `by_run` sets of titres of which each may have been worked out alone,
    and the results averaged. None where it is wrong. Figures are missing where fewer are shown than were asked for, and
    where a number rounded up into the next power of ten shows as many but not as far: 9.997 to three figures is 10.0,
    and 9.96 is not. The water of crystallisation is a whole number in nature and may be written as one. Where the
    digits written are not known, nothing is short that is right with the zeros it may have lost.
    """
    found = right_reading(calc, means, readings_of(calc, claimed, decimals), by_run)
    if found is None or found.short or (calc.counts_waters and found.value.denominator == 1):
        return found
    value = at(line(calc), means[0])
    if not value:
        return found
    wanted = asked_decimals(value, calc.significant_figures)
    if found.decimals >= wanted or right_reading(calc, means, [found._replace(decimals=wanted)], by_run):
        return found
    return found._replace(short=True)


def readings_of(calc: Calculation, claimed: Decimal, decimals: int | None) -> list[Digits]:
    """Return the ways to read a written result, the strictest first."""
    return readings(claimed, decimals, calc.significant_figures, whole_is_enough=calc.counts_waters)


def right_reading(
    calc: Calculation, means: Iterable[Fraction], written: Sequence[Digits], by_run: Sequence[Titres] = ()
) -> Digits | None:
    """Return the strictest reading at which a written result is right, or None where it is wrong.

    Straight sums are tried first, then the mean of each run's result, then values rounded on the way.
    """
    short = None
    for reading in _readings_that_fit(calc, [mean for mean in dict.fromkeys(means) if mean > 0], written, by_run):
        if not reading.short:
            return reading
        short = short or reading
    return short


def _readings_that_fit(
    calc: Calculation, means: Sequence[Fraction], written: Sequence[Digits], by_run: Sequence[Titres]
) -> Iterator[Digits]:
    """Yield readings at which a written result is right, the plainest way first."""
    cases = [(one, mean) for one in fair_calculations(calc) for mean in means]
    straight = (at(line(one), mean) for one, mean in cases)
    averaged = (value for one in fair_calculations(calc) for titres in by_run for value in _averaged(one, titres))
    fits = (first_reading(value, written) for value in chain(straight, averaged) if value is not None)
    rounded = (follows_rounded(one, RIGHT, mean, written) for one, mean in cases)
    yield from (reading for reading in chain(fits, rounded) if reading is not None)


def _averaged(calc: Calculation, titres: Titres) -> Iterator[Fraction]:
    """Yield the mean of the results of some runs: each whole, then rounded to as many figures as asked or more."""
    results = [at(line(calc), titre) for titre in titres]
    whole = [result for result in results if result is not None]
    if len(whole) < len(results) or len(whole) < 2:
        return
    yield average(whole)
    for figures in range(calc.significant_figures, calc.significant_figures + FURTHER):
        for half_even in (False, True):
            places = [figures - 1 - magnitude(result) for result in whole]
            rounded = [round_fraction(*one, half_even=half_even) for one in zip(whole, places, strict=True)]
            yield average(map(Fraction, rounded))
