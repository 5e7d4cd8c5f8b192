"""A written result with what it may rest on, and how near other values come to it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from math import log

from labmark.diagnose.working_calculation import Calculation, fair_calculations
from labmark.diagnose.working_rounding import Digits
from labmark.diagnose.working_shown import asked_decimals, printed_sum, value_text, with_unit
from labmark.diagnose.working_slips import UNEXPLAINED_RATE
from labmark.diagnose.working_sums import steps
from labmark.diagnose.working_tabled import Tabled, tabled
from labmark.volumes import round_fraction

DECADES = log(100)
"""A value without a cause may lie anywhere within a factor of ten either way (natural logarithm)."""


@dataclass(frozen=True, eq=False)
class Claim:
    """A written result with the means that it may rest on."""

    calc: Calculation
    means: tuple[Fraction, ...]
    """own means [cm³], the likeliest first"""
    written: tuple[Digits, ...]

    @cached_property
    def value(self) -> Fraction:
        """The written value."""
        return self.written[-1 if self.written[-1].decimals >= 0 else 0].value

    @cached_property
    def width(self) -> Fraction:
        """The last digit that can be seen, as a value."""
        decimals = min(reading.decimals for reading in self.written if reading.decimals >= 0)
        return Fraction(1, 10**decimals)

    @cached_property
    def coarsest(self) -> Fraction:
        """The last digit of the widest reading, as a value."""
        return max(Fraction(10) ** -reading.decimals for reading in self.written)

    @cached_property
    def full(self) -> tuple[Digits, ...]:
        """The readings with as many figures as asked."""
        return tuple(reading for reading in self.written if not reading.short)

    @cached_property
    def cases(self) -> tuple[Tabled, ...]:
        """The sum with every fair molar mass, at every mean."""
        return tuple(tabled(calc, mean) for calc in fair_calculations(self.calc) for mean in self.means)

    @cached_property
    def near(self) -> tuple[float, float]:
        """The written value as a float, and how far off a value may lie that is looked at exactly."""
        value = float(self.value)
        return value, 0.5 * float(self.coarsest) * (1 + 1e-6) + 1e-9 * abs(value)

    @property
    def by_accident(self) -> float:
        """Rate at which a value without a cause would be just this one."""
        return UNEXPLAINED_RATE * float(self.width / abs(self.value)) / DECADES if self.value else UNEXPLAINED_RATE

    def hits(self, sizes: Sequence[float]) -> float:
        """Return how many of the values tried would hit this one by accident: their density here times a digit."""
        size = abs(float(self.value))
        if not size:
            return 0.0
        near = bisect_left(sizes, 2 * size) - bisect_right(sizes, size / 2)
        return max(0, near) * float(self.width) / (1.5 * size)


def right_decimals(claim: Claim, value: Fraction) -> int:
    """Return the decimals that the right value is shown to: those asked for, or written where only these tell apart."""
    asked = asked_decimals(value, claim.calc.significant_figures)
    same = round_fraction(value, asked) == round_fraction(claim.value, asked)
    return max(asked, claim.written[0].decimals) if same else asked


def right_text(claim: Claim, titre: Fraction) -> str:
    """Return the right value as it is shown, without its unit."""
    value = tabled(claim.calc, titre).right or Fraction(0)
    return value_text(value, right_decimals(claim, value))


def right_sum(claim: Claim, titre: Fraction) -> str:
    """Return the right sum with its value: "0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974 mol/dm³"."""
    value = tabled(claim.calc, titre).right or Fraction(0)
    return right_printed(claim.calc, titre, right_decimals(claim, value))


@lru_cache(maxsize=1 << 12)
def right_printed(calc: Calculation, titre: Fraction, decimals: int) -> str:
    """Return the right sum to so many decimals; in a large cohort many students have the same mean."""
    value = tabled(calc, titre).right or Fraction(0)
    text = printed_sum(steps(calc), titre, value, decimals)
    return f"{text} = {with_unit(value_text(value, decimals), calc.unit)}"
