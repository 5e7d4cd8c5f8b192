"""A written result with what it may rest on, and how near other values come to it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import log

import numpy as np
import numpy.typing as npt

from labmark.diagnose.working_calculation import Calculation, Steps, decimal_text
from labmark.diagnose.working_rounding import Digits, equals
from labmark.diagnose.working_slips import UNEXPLAINED_RATE
from labmark.diagnose.working_sums import at, line, sum_text
from labmark.figures import magnitude

FloatArray = npt.NDArray[np.float64]
DECADES = log(100)
"""A value without a cause may lie anywhere within a factor of ten either way (natural logarithm)."""


@dataclass(frozen=True)
class Claim:
    """A written result with what it may rest on."""

    calc: Calculation
    means: tuple[Fraction, ...]
    """own means [cm³], the likeliest first"""
    written: list[Digits]
    titres: Mapping[str, Fraction]
    """other volumes that may stand in the mean's place: what they are -> cm³"""
    rough: Collection[str]
    """which of them make it the rough"""

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

    @property
    def by_accident(self) -> float:
        """Rate at which a value without a cause would be just this one."""
        return UNEXPLAINED_RATE * float(self.width / abs(self.value)) / DECADES if self.value else UNEXPLAINED_RATE

    def hits(self, candidates: FloatArray) -> float:
        """Return how many of the values tried would hit this one by accident: their density here times a digit."""
        size = abs(float(self.value))
        near = np.abs(candidates[(np.abs(candidates) > size / 2) & (np.abs(candidates) < 2 * size)])
        if not size or not near.size:
            return 0.0
        distinct = len(np.unique(np.round(near / size, 9)))
        return distinct * float(self.width) / (1.5 * size)


def sieve(claim: Claim, candidates: FloatArray, share: float) -> list[int]:
    """Return the places of the values near enough to be looked at exactly."""
    size, half = abs(float(claim.value)), 0.5 * float(claim.coarsest)
    with np.errstate(invalid="ignore"):
        near = np.abs(candidates - float(claim.value)) <= half * (1 + 1e-6) + (share + 1e-9) * size
    return [int(place) for place in np.flatnonzero(near)]


def shown_sum(chain: Steps, titre: Fraction, value: Fraction, reading: Digits, written: Digits | None = None) -> str:
    """Return a sum with its value: "0.0500 × 24.35 ÷ 25.00 = 0.0487"."""
    decimals = max(reading.decimals, 0)
    text = f"{sum_text(chain, titre)} = {decimal_text(value, decimals)}"
    if written is not None and not equals(value, written):
        text += f" ({decimal_text(written.value, decimals)} with values rounded on the way)"
    return text


def right_text(claim: Claim, titre: Fraction) -> str:
    """Return the right value at the places written, or at the figures asked for where those are more."""
    value = at(line(claim.calc), titre) or Fraction(0)
    asked = claim.calc.significant_figures - 1 - magnitude(value)
    return decimal_text(value, max(0, asked, claim.written[0].decimals))
