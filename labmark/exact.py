"""Exact numbers: volumes as integers of microlitres, the digits that were written down, and significant figures.

22.50 cm³ is 22500 µL; 22.60 and 22.50 are exactly 100 µL apart, which no binary fraction can say.

    >>> microlitres(Decimal("22.50"))
    22500
    >>> shown(22500, 2)
    Decimal('22.50')
    >>> significant(Fraction(974, 10000), 3)
    Decimal('0.0974')
    >>> in_figures(Fraction(12175, 100_000_000), 4)
    '1.218 × 10⁻⁴'
"""

from collections.abc import Iterable, Sequence
from decimal import Context, Decimal
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import NamedTuple

PER_CM3 = 1000
"""Microlitres in a cubic centimetre."""

_WIDE = Context(prec=2000)
"""A cell may hold forty nines: no number that was written is too long to be shown again."""

_RAISED = str.maketrans("0123456789+-−()abcdefghijklmnoprstuvwxyz", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁻⁽⁾ᵃᵇᶜᵈᵉᶠᵍʰⁱʲᵏˡᵐⁿᵒᵖʳˢᵗᵘᵛʷˣʸᶻ")


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


@lru_cache(maxsize=1 << 14, typed=True)
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


# Significant figures.


def magnitude(value: Fraction) -> int:
    """Return the power of ten of the first significant figure: -2 for 0.0974; 0 for zero."""
    # Whole numbers throughout: fractions are slow, and this is asked ten thousand times for a class.
    numerator, denominator = abs(value.numerator), value.denominator
    if not numerator:
        return 0
    guess = len(str(numerator)) - len(str(denominator))
    reached = numerator >= denominator * 10**guess if guess >= 0 else numerator * 10**-guess >= denominator
    return guess if reached else guess - 1


@lru_cache(maxsize=1 << 14)
def visible_decimals(written: Decimal) -> int:
    """Return how many decimals a number shows, trailing zeros left out: 2 for 24.35, 1 for 24.30, 0 for 24 and 2E+1."""
    _, digits, exponent = written.as_tuple()
    if not isinstance(exponent, int) or not written:
        return 0
    shown = "".join(map(str, digits))
    return max(0, -exponent - (len(shown) - len(shown.rstrip("0"))))


def in_digits(value: Decimal) -> str:
    """Return a number as people read it: every digit, no power of ten, and a minus sign."""
    return f"{value:f}".replace("-", "−")


def significant(value: Fraction, figures: int) -> Decimal:
    """Return `value` rounded half up to so many significant figures, with the digits that show them."""
    power = magnitude(value)
    rounded = round_fraction(value, figures - 1 - power)
    # 9.996 to three figures becomes 10.00: one figure too many, so round again at the new magnitude.
    return round_fraction(value, figures - 2 - power) if _magnitude(rounded) > power else rounded


def asked_decimals(value: Fraction, figures: int) -> int:
    """Return the decimals (negative for tens and more) that show a value to so many significant figures."""
    return decimals_in(significant(value, figures))


def _magnitude(value: Decimal) -> int:
    return value.adjusted() if value else 0


def in_decimals(value: Fraction, least: int = 0, most: int = 6) -> str:
    """Return a figure as printed: at least so many decimals, more (up to `most`) where the figure has them."""
    places = least
    while places < most and round_fraction(value, places) != value:
        places += 1
    return f"{round_fraction(value, places):f}"


def in_figures(value: Fraction, figures: int) -> str:
    """Return `value` as text with so many significant figures; powers of ten outside 0.001 to 99999."""
    rounded = significant(value, figures)
    power = _magnitude(rounded)
    if -3 <= power <= 4:
        return in_digits(rounded if rounded.as_tuple().exponent <= 0 else Decimal(int(rounded)))  # type: ignore[operator]
    return f"{in_digits(rounded.scaleb(-power))} × 10{raised(str(power))}"


def raised(text: str) -> str:
    """Return a text in raised signs, as a power or a charge is printed: -3 as ⁻³."""
    return text.translate(_RAISED)


def plain(value: Fraction) -> str:
    """Return an exact decimal number without trailing zeros; four figures where it has no end."""
    denominator = value.denominator
    for prime in (2, 5):
        while denominator % prime == 0:
            denominator //= prime
    if denominator != 1:
        return in_figures(value, 4)
    text = f"{Decimal(value.numerator) / Decimal(value.denominator):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def decimals_of(value: Fraction) -> int:
    """Return how many decimals an exact number has: 4 for 0.1012; eight where it has no end."""
    return next((places for places in range(8) if not 10**places % value.denominator), 8)


def figures_right(written: Decimal, decimals: int | None, figures: int) -> bool:
    """Return whether a number was written to so many significant figures, as far as that can be known.

    Trailing zeros of a whole number may or may not count, and a number whose digits as written are not known may
    have lost zeros at the end: neither is held against the student.
    """
    fewest, most = written_figures(written, decimals)
    return fewest <= figures and (most is None or figures <= most)


def written_figures(written: Decimal, decimals: int | None) -> tuple[int, int | None]:
    """Return the fewest and the most significant figures that a written number may have; None for no upper limit."""
    shortest = len(written.normalize().as_tuple().digits)
    if decimals is None:
        return shortest, None
    whole = magnitude(fraction(written)) + 1
    if decimals < visible_decimals(written):  # a cell that shows fewer than it holds: either may be meant
        return min(shortest, whole + decimals), shortest
    if decimals > 0:
        return whole + decimals, whole + decimals
    return min(shortest, whole), whole


def too_few_figures(written: object, asked: int, right: object) -> str:
    """Return that a written result has too few figures, with one that has as many as were asked for."""
    return f"The result {written} has fewer than the {asked} significant figures asked for, as in {right}."


def figures_text(written: Decimal, decimals: int | None) -> str:
    """Return how many significant figures a written number has, as far as that can be known: "2", "at least 4"."""
    fewest, most = written_figures(written, decimals)
    return f"{fewest}" if fewest == most else f"at least {fewest}" if most is None else f"{fewest} to {most}"


class Apart(NamedTuple):
    """How far a mean titre lies from the expected one, in figures that agree with one another as they are printed."""

    titre: str
    expected: str
    volume: str
    """How far apart [cm³], without a sign."""
    percent: str
    """How far apart, in per cent of the expected titre."""
    above: bool

    def words(self, what: str = "the expected {} cm³", *, percent: bool = False) -> str:
        """Return the distance in words: "0.13 cm³ above the expected 25.30 cm³"."""
        held = what.format(self.expected)
        if not float(self.volume):
            return f"within 0.01 cm³ of {held}"
        share = f" ({self.percent} %)" if percent and float(self.percent) else ""
        return f"{self.volume} cm³{share} {'above' if self.above else 'below'} {held}"


@lru_cache(maxsize=1 << 14)
def apart(
    titre: Fraction, expected: Fraction, limits: tuple[Fraction, ...] = (), percent_limits: tuple[Fraction, ...] = ()
) -> Apart:
    """Return how far a mean titre is from the expected one, both in cm³, as it is printed everywhere.

    A distance has two decimals (one in per cent), or as many as show on which side of every limit it lies; the two
    titres have as many as it takes to reckon the distance again from them, and where these are three it may have three.
    """
    off = abs(titre - expected)
    fewest, percent = beside(off, limits, 2), beside(off / expected * 100, percent_limits, 1)
    for decimals, more in ((2, 0), (3, 0), (3, 3), *((each, 0) for each in range(4, 8))):
        shown, held = mean_shown(titre, decimals), round_fraction(expected, decimals)
        again, volume = abs(Fraction(shown) - Fraction(held)), beside(off, limits, more) if more else fewest
        same = round_fraction(again, decimals_in(volume)) == volume
        share = again / Fraction(held) * 100 if percent_limits else None
        if same and (share is None or round_fraction(share, decimals_in(percent)) == percent):
            break
    return Apart(f"{shown:f}", f"{held:f}", f"{volume:f}", f"{percent:f}", titre > expected)


def mean_shown(titre: Fraction, decimals: int = 2) -> Decimal:
    """Return a mean titre [cm³] to two decimals where these end it, else to three or the decimals asked for."""
    return round_fraction(titre, max(decimals, 3) if 100 % titre.denominator else 2)


def mean_text(mean: Fraction | None) -> Decimal | None:
    """Return a mean titre as a decimal number: two decimals, or up to four where the second does not end it."""
    return None if mean is None else round_fraction(mean, min(max(decimals_of(mean), 2), 4))


def beside(off: Fraction, limits: Sequence[Fraction], fewest: int = 1) -> Decimal:
    """Return a distance with as many decimals as show on which side of every limit it lies."""
    for decimals in range(fewest, 7):
        shown = round_fraction(off, decimals)
        if all((Fraction(shown) <= limit) == (off <= limit) for limit in limits):
            break
    return shown
