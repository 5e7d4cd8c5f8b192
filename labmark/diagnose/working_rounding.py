"""When a written value is the true one: at the digits written, which may be fewer than those asked for.

It is where it equals the true one rounded to these digits, half up or half even. What values rounded on the way lead to
is for `labmark.diagnose.working_follows`.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from labmark.figures import magnitude, visible_decimals
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
