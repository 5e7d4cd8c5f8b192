"""Whether a written result is right: straight from a mean, run by run, or by any legitimate rounding on the way.

A result is right also where it follows from intermediate values rounded to at least as many figures as were asked for.
0.0500 × 24.35 ÷ 1000 is 0.0012175 mol; carried on as 0.00122 mol it gives 0.0976 and not 0.0974 mol/dm³, and both are
right at three figures.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import chain

from labmark.diagnose.working_calculation import RIGHT, Calculation, fair_calculations
from labmark.diagnose.working_follows import follows_rounded
from labmark.diagnose.working_rounding import Digits, first_reading, readings
from labmark.diagnose.working_routes import FURTHER
from labmark.diagnose.working_sets import average
from labmark.diagnose.working_shown import asked_decimals
from labmark.diagnose.working_sums import at, line
from labmark.figures import magnitude
from labmark.volumes import round_fraction

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
