"""Exact volumes: integers of microlitres, and the digits that were written down.

22.50 cm³ is 22500 µL; 22.60 and 22.50 are exactly 100 µL apart, which no binary fraction can say.

    >>> microlitres(Decimal("22.50"))
    22500
    >>> shown(22500, 2)
    Decimal('22.50')
"""

from collections.abc import Iterable
from decimal import Context, Decimal
from fractions import Fraction
from functools import lru_cache
from math import lcm

PER_CM3 = 1000
"""Microlitres in a cubic centimetre."""

_WIDE = Context(prec=2000)
"""A cell may hold forty nines: no number that was written is too long to be shown again."""


def microlitres(volume: Decimal) -> int:
    """Return a volume [cm³] as whole microlitres.

    Raises ValueError where the volume is no whole number of microlitres: nothing is rounded away in silence.
    """
    scaled = volume * PER_CM3
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{volume} cm³ is not a whole number of microlitres")
    return int(scaled)


@lru_cache(maxsize=1 << 14)
def shown(volume: int, decimals: int | None = None) -> Decimal:
    """Return microlitres as cm³ with the decimals that were written (two where that is not known).

    More decimals are shown where the volume needs them: nothing is hidden. Kept, as readings repeat: a burette has
    a thousand of them.
    """
    exact = Decimal(volume) / PER_CM3
    wanted = 2 if decimals is None else decimals
    needed = places_in(exact.normalize())
    return exact.quantize(Decimal(1).scaleb(-max(wanted, needed)), context=_WIDE)


def round_fraction(value: Fraction, decimals: int, *, half_even: bool = False) -> Decimal:
    """Return `value` rounded to `decimals` places, ties away from zero (or to the even digit).

    Source of the two rules: ISO 80000-1:2009, Annex B, rules B and A (from memory).
    """
    # Whole numbers throughout: this is asked ten thousand times for a class, and fractions are slow.
    numerator, denominator = _scaled(value, decimals)
    down, rest = divmod(numerator, denominator)
    if 2 * rest > denominator or (2 * rest == denominator and (down % 2 == 1 if half_even else numerator >= 0)):
        down += 1
    return Decimal(down).scaleb(-decimals, context=_WIDE)


def _scaled(value: Fraction, decimals: int) -> tuple[int, int]:
    """Return `value` × 10^decimals as numerator and denominator."""
    if decimals >= 0:
        return value.numerator * 10**decimals, value.denominator
    return value.numerator, value.denominator * 10**-decimals


def both_roundings(value: Fraction, decimals: int) -> frozenset[Decimal]:
    """Return what either tie rule makes of `value` at `decimals` places: one number, or two at a tie."""
    numerator, denominator = _scaled(value, decimals)
    up = round_fraction(value, decimals)
    tie = 2 * (numerator % denominator) == denominator
    return frozenset((up, round_fraction(value, decimals, half_even=True))) if tie else frozenset((up,))


def as_written(value: Decimal, decimals: int | None) -> Decimal:
    """Return a written number with the decimals that were written; as it stands where that is not known."""
    exponent = value.as_tuple().exponent
    if decimals is None or not isinstance(exponent, int) or -exponent > decimals:
        return value
    return value.quantize(Decimal(1).scaleb(-decimals), context=_WIDE)


def fraction(value: Decimal | int | float) -> Fraction:
    """Return a decimal number as an exact fraction; a binary one as the shortest decimal that stands for it."""
    return Fraction(Decimal(repr(float(value))) if isinstance(value, float) else value)


def decimals_in(number: Decimal) -> int:
    """Return how many decimals a number is written with: 2 for 24.30; below nought for tens and more that end it."""
    return -int(number.as_tuple().exponent)


def places_in(number: Decimal) -> int:
    """Return how many decimals stand behind the point of a number: 2 for 24.30, none for whole tens."""
    return max(0, decimals_in(number))


def average(numbers: Iterable[Fraction]) -> Fraction:
    """Return the mean of numbers, of which there is one at least."""
    # In whole numbers: a sum of fractions is brought to lowest terms at every step.
    ratios = [one.as_integer_ratio() for one in numbers]
    common = lcm(*[bottom for _, bottom in ratios])
    return Fraction(sum([top * (common // bottom) for top, bottom in ratios]), common * len(ratios))
