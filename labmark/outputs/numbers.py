"""How figures are set for people: the same way on the page, on the sheets and in the workbook.

    >>> significant(0.09996, 3)
    '0.100'
    >>> with_uncertainty(0.101123, 0.000618)
    ('0.10112', '0.00062')
    >>> signed(-0.42, 1)
    '−0.4'
    >>> in_words(0.93)
    'very likely'

Figures are rounded half away from zero on their shortest decimal form, as students are taught, so that 0.125 becomes
0.13. A true minus sign is used: a hyphen may break off at the end of a line, and is read out as a dash.
"""

import math
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from labmark.exact import asked_decimals, fraction, in_digits, magnitude, raised, round_fraction

MINUS = "−"
NOTHING = "–"
"""Stands where there is no figure to show."""

LIKELIHOOD: tuple[tuple[float, str], ...] = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.00, "very unlikely"),
)
"""Least probability for a wording, inclusive: the likelihood scale of the IPCC's guidance note on uncertainties, 2010
(Mastrandrea et al., table 1; from memory). Fixed words, so that two teachers read the same thing."""

Number = float | int | Decimal


def _known(value: Number | None) -> bool:
    return value is not None and math.isfinite(value)


def places(value: Number, figures: int) -> int:
    """Return the decimal places that show `value` to so many significant figures; negative for tens, hundreds, ...

    Counted after rounding: 0.09996 to 3 figures is 0.100, three places.
    """
    return asked_decimals(fraction(value), figures)


def fixed(value: Number | None, decimals: int) -> str:
    """Return a figure with so many decimal places."""
    return NOTHING if value is None or not _known(value) else in_digits(round_fraction(fraction(value), decimals))


def signed(value: Number | None, decimals: int) -> str:
    """Return a figure with its sign, plus or minus; what rounds to zero has none."""
    text = fixed(value, decimals)
    up = value is not None and _known(value) and round_fraction(fraction(value), decimals) > 0
    return f"+{text}" if up else text


def significant(value: Number | None, figures: int) -> str:
    """Return a figure to so many significant figures; with a power of ten where zeros would run on."""
    if value is None or not _known(value):
        return NOTHING
    exact = fraction(value)
    decimals = asked_decimals(exact, figures)
    if exact and not -4 <= magnitude(exact) <= 6:
        power = figures - 1 - decimals
        return f"{in_digits(round_fraction(exact / Fraction(10) ** power, figures - 1))} × 10{raised(str(power))}"
    return in_digits(round_fraction(exact, decimals))


def uncertainty(value: Number | None) -> str:
    """Return an uncertainty to two significant figures.

    Two are enough and one loses up to a third of it: GUM (JCGM 100:2008), 7.2.6.
    """
    return significant(value, 2)


def with_uncertainty(value: Number | None, expanded: Number | None) -> tuple[str, str]:
    """Return a figure and its uncertainty, both to the place of the uncertainty's second figure.

    Without an uncertainty the figure is shown to four significant figures.
    """
    if expanded is None or not _known(expanded) or expanded <= 0 or value is None:
        return significant(value, 4), NOTHING
    decimals = places(expanded, 2)
    return fixed(value, decimals), fixed(expanded, decimals)


def volume(value: Number | None) -> str:
    """Return a volume [cm³] with the digits it carries; a binary fraction to the 0.01 cm³."""
    return in_digits(value) if isinstance(value, Decimal) else fixed(value, 2)


def percent(value: Number | None, decimals: int = 1) -> str:
    """Return a signed percentage, as "−0.4 %"."""
    text = signed(value, decimals)
    return text if text == NOTHING else f"{text} %"


def share(part: Number | None) -> str:
    """Return a part of one as a whole percentage; never 0 % or 100 % of what is merely very rare or common."""
    if part is None or not _known(part):
        return NOTHING
    if 0 < part < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < part < 1 else f"{fixed(100 * float(part), 0)} %"


def in_words(probability: float) -> str:
    """Return the wording for a probability from 0 to 1."""
    return next(words for least, words in LIKELIHOOD if probability >= least or least == 0)


def probability(value: float | None) -> str:
    """Return a probability as words and a figure, as "very likely (93 %)"; empty for a plain fact.

    A hypothesis is never certain: 1 is shown as over 99 %, whatever was rounded to get there.
    """
    if value is None or not _known(value):
        return ""
    return f"{in_words(value)} ({share(min(max(value, 1e-6), 1 - 1e-6))})"


def mark(value: Number | None) -> str:
    """Return a mark without needless decimals: 9, 9.5."""
    if value is None or not _known(value):
        return NOTHING
    return in_digits(round_fraction(fraction(value), 2).normalize())


def addresses(cells: Iterable[str]) -> str:
    """Return cells each once, the sheet named only where it changes: "Results!F2, G2, H2"."""
    shown, last = [], None
    for cell in dict.fromkeys(cells):
        sheet, _, place = cell.rpartition("!")
        shown.append(place if sheet == last else cell)
        last = sheet
    return ", ".join(shown)
