"""When a written value is right: at the digits written, which may be fewer than those asked for.

It is where it equals the true one rounded to these digits, half up or half even: straight from a mean, run by run, or
from intermediate values rounded to at least as many figures as were asked for. 0.0500 × 24.35 ÷ 1000 is 0.0012175 mol;
carried on as 0.00122 mol it gives 0.0976 and not 0.0974 mol/dm³, and both are right at three figures.

How far roundings on the way can lead is tabled once for all students with the same titre; where else they lead is only
worked out for a value that lies between.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import chain
from typing import NamedTuple

from labmark.diagnose.working_calculation import RIGHT, Calculation, Way, fair_calculations
from labmark.diagnose.working_routes import FURTHER, bound, by_mass, ends, reachable, routes, to_decimal, unrounded
from labmark.exact import asked_decimals, average, both_roundings, fraction, magnitude, round_fraction, visible_decimals


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
    seen, value = visible_decimals(written), fraction(written)
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


BY_MASS = -1
"""Stands for the order of the sum that goes by the masses of salt and water."""


@lru_cache(maxsize=1 << 13)
def furthest(calc: Calculation, way: Way, titre: Fraction) -> tuple[Decimal, Decimal]:
    """Return what a sum gives at a titre [cm³] with nothing rounded, and how far roundings on the way can take it."""
    first, exact, figures = routes(calc, way)[0], to_decimal(titre), calc.significant_figures
    return unrounded(first, exact, figures)[0], bound(first, exact, figures)


def may_follow(calc: Calculation, way: Way, titre: Fraction, written: Sequence[Digits]) -> bool:
    """Return whether roundings on the way may lead to a written value at all."""
    middle, most = furthest(calc, way, titre)
    widest = Decimal(5).scaleb(-min(one.decimals for one in written) - 1)
    return abs(middle - to_decimal(written[0].value)) <= most + widest


@lru_cache(maxsize=1 << 10)
def reached(calc: Calculation, way: Way, titre: Fraction, place: int) -> set[Decimal]:
    """Return where roundings on the way lead by one order of the sum."""
    figures, route, exact = calc.significant_figures, routes(calc, way)[max(place, 0)], to_decimal(titre)
    if place != BY_MASS:
        return reachable(route, exact, figures)
    amounts = reachable(route[:-3], exact, figures)
    return {value for one in by_mass(calc, amounts, figures) for value in reachable(one, exact, figures)}


@lru_cache(maxsize=1 << 15)
def bounds(calc: Calculation, way: Way, titre: Fraction, place: int) -> tuple[Decimal, Decimal, Decimal]:
    """Return the least and the largest value by one order of the sum, and what finer roundings can do besides."""
    figures, route, exact = calc.significant_figures, routes(calc, way)[max(place, 0)], to_decimal(titre)
    finer = unrounded(route, exact, figures)[1]
    try:
        if place != BY_MASS:
            return *ends(route, exact, figures), finer
        some = [ends(one, exact, figures) for one in by_mass(calc, ends(route[:-3], exact, figures), figures)]
        return min(some)[0], max(most for _, most in some), finer
    except ZeroDivisionError:
        return Decimal("-Infinity"), Decimal("Infinity"), finer


def follows(calc: Calculation, way: Way, titre: Fraction, place: int, reading: Digits) -> bool:
    """Return whether a written value follows from values rounded on the way by one order of the sum."""
    least, most, finer = bounds(calc, way, titre, place)
    goal, within = to_decimal(reading.value), Decimal(5).scaleb(-reading.decimals - 1) + finer
    # Nearly every value between the ends follows from some rounding: beyond them there is nothing to look for.
    if not least - within <= goal <= most + within:
        return False
    return any(abs(one - goal) <= within for one in reached(calc, way, titre, place))


def follows_rounded(
    calc: Calculation, way: Way, titre: Fraction, written: Sequence[Digits], most: int | None = None
) -> Digits | None:
    """Return the reading at which a written value follows from values rounded on the way, or None.

    Where none is near enough to be reached by any rounding, nothing is searched. `most` limits the search to so many
    of the usual orders of the sum.
    """
    if not may_follow(calc, way, titre, written):
        return None
    places = [*range(len(routes(calc, way)[:most]))]
    if calc.counts_waters and way == RIGHT:
        places.append(BY_MASS)
    # The strictest reading is tried by every order of the sum before the others are.
    tries = ((place, one) for some in (written[:1], written[1:]) for place in places for one in some)
    return next((one for place, one in tries if follows(calc, way, titre, place, one)), None)


Titres = tuple[Fraction, ...]
"""Titres of runs whose mean is one to go on with [cm³]."""


def own_reading(
    calc: Calculation, mean: Fraction, claimed: Decimal, decimals: int | None, by_run: Sequence[Titres] = ()
) -> Digits | None:
    """Return the strictest reading at which a written result is right, marked short where figures are missing.

    `mean` [cm³] is the one that it rests on, `by_run` are sets of titres of which each may have been worked out alone,
    and the results averaged. None where it is wrong. Figures are missing where fewer are shown than were asked for, and
    where a number rounded up into the next power of ten shows as many but not as far: 9.997 to three figures is 10.0,
    and 9.96 is not. The water of crystallisation is a whole number in nature and may be written as one. Where the
    digits written are not known, nothing is short that is right with the zeros it may have lost.
    """
    found = right_reading(calc, mean, readings_of(calc, claimed, decimals), by_run)
    if found is None or found.short or (calc.counts_waters and found.value.denominator == 1):
        return found
    value = calc.formula.curve.value.at(mean)
    if not value:
        return found
    wanted = asked_decimals(value, calc.significant_figures)
    if found.decimals >= wanted or right_reading(calc, mean, [found._replace(decimals=wanted)], by_run):
        return found
    return found._replace(short=True)


def readings_of(calc: Calculation, claimed: Decimal, decimals: int | None) -> list[Digits]:
    """Return the ways to read a written result, the strictest first."""
    return readings(claimed, decimals, calc.significant_figures, whole_is_enough=calc.counts_waters)


def right_reading(
    calc: Calculation, mean: Fraction, written: Sequence[Digits], by_run: Sequence[Titres]
) -> Digits | None:
    """Return the strictest reading at which a written result is right, or None where it is wrong.

    Straight sums are tried first, then the mean of each run's result, then values rounded on the way.
    """
    if mean <= 0:
        return None
    calcs = fair_calculations(calc)
    straight = (one.formula.curve.value.at(mean) for one in calcs)
    averaged = (value for one in calcs for titres in by_run for value in _averaged(one, titres))
    fits = (first_reading(value, written) for value in chain(straight, averaged) if value is not None)
    rounded = (follows_rounded(one, RIGHT, mean, written) for one in calcs)
    short = None
    for reading in chain(fits, rounded):
        if reading is not None and not reading.short:
            return reading
        short = short or reading
    return short


def _averaged(calc: Calculation, titres: Titres) -> Iterator[Fraction]:
    """Yield the mean of the results of some runs: each whole, then rounded to as many figures as asked or more."""
    results = [calc.formula.curve.value.at(titre) for titre in titres]
    whole = [result for result in results if result is not None]
    if len(whole) < len(results) or len(whole) < 2:
        return
    yield average(whole)
    for figures in range(calc.significant_figures, calc.significant_figures + FURTHER):
        for half_even in (False, True):
            places = [figures - 1 - magnitude(result) for result in whole]
            rounded = [round_fraction(*one, half_even=half_even) for one in zip(whole, places, strict=True)]
            yield average(map(Fraction, rounded))
