"""Slips in one number: digits swapped, one digit wrong, a figure cut off, and the slip in a subtraction.

initial 12.90, final 36.35: written 24.45 instead of 23.45 is a whole-number slip
"""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from labmark.exact import places_in, round_fraction, shown

TRANSPOSED = "two digits swapped"


def aligned(first: Decimal, second: Decimal) -> tuple[str, str]:
    """Return the digits of two numbers with as many places before and after the point."""
    places = max(map(places_in, (first, second)))
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
    if right and written / right in {Decimal(10), Decimal(100), Decimal("0.1"), Decimal("0.01")}:
        return "the decimal point in the wrong place"
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


WHOLE = 1000
TENTH = 100


class TitreSlip(NamedTuple):
    """What kind of slip a written titre shows."""

    kind: str
    """e.g. "whole-number slip"; "other" where none of the usual ones gives it"""
    words: str = ""
    """What it looks like, to go on with after the sum; empty for "other"."""


def borrowed(final: int, initial: int) -> frozenset[int]:
    """Return what comes out [µL] if borrowing goes wrong: forgotten at each place alone, or always smaller from larger.

    Worked in hundredths of a cm³, as written; empty where the readings have no such last digit.
    """
    if final % 10 or initial % 10:
        return frozenset()
    top, bottom = f"{final // 10:06d}", f"{initial // 10:06d}"
    digits = [int(a) - int(b) for a, b in zip(top, bottom, strict=True)]
    turned = int("".join(str(abs(digit)) for digit in digits)) * 10
    found, borrow = {turned}, 0
    for place in range(len(digits) - 1, 0, -1):
        borrow = 1 if digits[place] - borrow < 0 else 0
        if borrow:
            found.add(final - initial + 10 * 10 ** (len(digits) - place))
    return frozenset(found - {final - initial})


def decimal(volume: int) -> Decimal:
    """Return microlitres as cm³ with two decimals."""
    return shown(volume, 2)


Rule = tuple[str, str, Callable[[int, int, int], bool]]

RULES: tuple[Rule, ...] = (
    ("added instead of subtracted", "that is the two readings added together", lambda i, f, w: i != 0 and w == f + i),
    ("final reading copied", "that is the final reading itself", lambda i, f, w: i != 0 and w == f),
    ("initial reading copied", "that is the initial reading itself", lambda i, f, w: i != 0 and w == i),
    ("borrowed digit", "a slip in borrowing gives that", lambda i, f, w: w in borrowed(f, i)),
    (
        "transposed digits",
        "two digits are swapped",
        lambda i, f, w: is_transposed(decimal(f - i), decimal(w)),
    ),
    (
        "transposed reading",
        "with two digits of a reading swapped it would be right",
        lambda i, f, w: is_transposed(decimal(f), decimal(w + i)) or is_transposed(decimal(i), decimal(f - w)),
    ),
    ("whole-number slip", "it is out by {out} cm³", lambda i, f, w: (w - f + i) % WHOLE == 0),
    ("tenth slip", "it is out by {out} cm³", lambda i, f, w: (w - f + i) % TENTH == 0 and abs(w - f + i) < WHOLE),
    ("one digit wrong", "one digit is wrong", lambda i, f, w: is_one_digit_wrong(decimal(f - i), decimal(w))),
)
"""Kind, what it looks like, test of (initial, final, written) [µL]; the first that holds is named."""


def titre_slip(initial: int, final: int, written: int) -> TitreSlip | None:
    """Return the slip behind a written titre, all in µL; None where it is final minus initial."""
    if written == final - initial:
        return None
    for kind, words, holds in RULES:
        if holds(initial, final, written):
            return TitreSlip(kind, words.format(out=decimal(abs(written - final + initial))))
    return TitreSlip("other")
