"""Slips of the pen in one number: digits swapped, one digit wrong, the last figure cut off."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from labmark.volumes import round_fraction

TRANSPOSED = "two digits swapped"


def aligned(first: Decimal, second: Decimal) -> tuple[str, str]:
    """Return the digits of two numbers with as many places before and after the point."""
    places = max(-min(0, int(number.as_tuple().exponent)) for number in (first, second))
    texts = [f"{abs(number):.{places}f}".replace(".", "") for number in (first, second)]
    width = max(map(len, texts))
    return texts[0].zfill(width), texts[1].zfill(width)


def is_transposed(first: Decimal, second: Decimal) -> bool:
    """Return whether two neighbouring digits are swapped."""
    one, other = aligned(first, second)
    apart = [i for i in range(len(one)) if one[i] != other[i]]
    return (
        len(apart) == 2
        and apart[1] == apart[0] + 1
        and one[apart[0]] == other[apart[1]]
        and one[apart[1]] == other[apart[0]]
    )


def is_one_digit_wrong(first: Decimal, second: Decimal) -> bool:
    """Return whether exactly one digit differs, in numbers of three digits or more."""
    one, other = aligned(first, second)
    return len(one.lstrip("0")) > 2 and sum(a != b for a, b in zip(one, other, strict=True)) == 1


def digit_slip(right: Decimal, written: Decimal) -> str:
    """Return the slip of the pen that turns `right` into `written`, in words; "" where there is none."""
    if is_transposed(right, written):
        return TRANSPOSED
    if right and (shift := written / right) in {Decimal(10), Decimal(100), Decimal("0.1"), Decimal("0.01")}:
        return "the decimal point in the wrong place" if shift else ""
    return "one digit wrong" if is_one_digit_wrong(right, written) else ""


def is_last_figure_out(value: Fraction, written: Fraction, decimals: int) -> str:
    """Return "cut" where the figures past `decimals` were cut off, "up" where they were rounded up, else ""."""
    nearest = Fraction(round_fraction(value, decimals))
    place = Fraction(10) ** -decimals
    toward_zero = nearest - place if value > 0 else nearest + place
    if written == toward_zero and abs(value) < abs(nearest):
        return "cut"
    away = nearest + place if value > 0 else nearest - place
    return "up" if written == away and abs(nearest) < abs(value) else ""
