"""Whether a written result is right: straight from own mean, or by any legitimate rounding on the way.

A result is right also where it follows from intermediate values rounded to at least as many figures as were asked for.
0.0500 × 24.35 ÷ 1000 is 0.0012175 mol; carried on as 0.00122 mol it gives 0.0976 and not 0.0974 mol/dm³, and both are
right at three figures.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from labmark.diagnose.working_calculation import RIGHT, Calculation
from labmark.diagnose.working_follows import follows_rounded
from labmark.diagnose.working_rounding import Digits, first_reading, readings
from labmark.diagnose.working_shown import asked_decimals
from labmark.diagnose.working_sums import at, line


def own_reading(calc: Calculation, means: Sequence[Fraction], claimed: Decimal, decimals: int | None) -> Digits | None:
    """Return the strictest reading at which a written result is right, marked short where figures are missing.

    None where it is wrong. Figures are missing where fewer are shown than were asked for, and where a number rounded
    up into the next power of ten shows as many but not as far: 9.997 to three figures is 10.0, and 9.96 is not. The
    water of crystallisation is a whole number in nature and may be written as one. Where the digits written are not
    known, nothing is short that is right with the zeros it may have lost.
    """
    found = right_reading(calc, means, readings_of(calc, claimed, decimals))
    if found is None or found.short or (calc.counts_waters and found.value.denominator == 1):
        return found
    value = at(line(calc), means[0])
    if not value:
        return found
    wanted = asked_decimals(value, calc.significant_figures)
    if found.decimals >= wanted or right_reading(calc, means, [found._replace(decimals=wanted)]) is not None:
        return found
    return found._replace(short=True)


def readings_of(calc: Calculation, claimed: Decimal, decimals: int | None) -> list[Digits]:
    """Return the ways to read a written result, the strictest first."""
    return readings(claimed, decimals, calc.significant_figures, whole_is_enough=calc.counts_waters)


@lru_cache(maxsize=256)
def fair_calculations(calc: Calculation) -> tuple[Calculation, ...]:
    """Return the calculation with the exact molar masses, then with each that is as good."""
    masses = [calc.molar_mass, *(calc.accepted_molar_masses if calc.molar_mass is not None else ())]
    waters = [calc.water_mass]
    if calc.counts_waters:
        waters += calc.accepted_water_masses
    return tuple(
        replace(calc, molar_mass=mass, water_mass=water, accepted_molar_masses=(), accepted_water_masses=())
        for mass in dict.fromkeys(masses)
        for water in dict.fromkeys(waters)
    )


def right_reading(calc: Calculation, means: Iterable[Fraction], written: Sequence[Digits]) -> Digits | None:
    """Return the strictest reading at which a written result is right, or None where it is wrong.

    `means`: the own means [cm³] that it may rest on. Straight sums are tried first, then values rounded on the way.
    """
    found: Digits | None = None
    cases = [(one, mean) for one in fair_calculations(calc) for mean in dict.fromkeys(means) if mean > 0]
    for one, mean in cases:
        value = at(line(one), mean)
        reading = first_reading(value, written) if value is not None else None
        if reading is not None and not reading.short:
            return reading
        found = found or reading
    for one, mean in cases:
        reading = follows_rounded(one, RIGHT, mean, written)
        if reading is not None and not reading.short:
            return reading
        found = found or reading
    return found
