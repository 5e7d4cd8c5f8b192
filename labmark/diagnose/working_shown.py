"""Sums as they are printed: to the figures asked for, with the unit, and so that a calculator gives what is shown."""

from decimal import Decimal, DivisionByZero, InvalidOperation
from fractions import Fraction

from labmark.diagnose.working_calculation import Calculation, Op, Steps, Way, decimal_text
from labmark.diagnose.working_right import Digits, equals, figures_at
from labmark.diagnose.working_routes import Hop, run, to_decimal
from labmark.diagnose.working_sums import sum_text
from labmark.exact import asked_decimals, in_decimals, in_figures, round_fraction
from labmark.words import counted, numbered

FINER = range(6)
"""So many more decimals are tried for figures that are rounded in print."""
IN_WORDS = 5
"""Up to so many figures are counted in words."""
PLAIN_BELOW = 100_000
"""Smaller values are printed to the last whole one, so that the sum gives them; larger ones by their figures."""


def value_text(value: Fraction, decimals: int) -> str:
    """Return a value at so many decimals; one rounded to tens or more by its figures: 8.24 × 10⁷."""
    if decimals >= 0:
        return decimal_text(value, decimals)
    rounded = Fraction(round_fraction(value, decimals))
    return in_figures(rounded, figures_at(rounded, decimals)) if rounded else "0"


def with_unit(text: str, unit: str) -> str:
    """Return a figure with its unit."""
    return f"{text} {unit}".rstrip()


def unit_of(calc: Calculation, way: Way) -> str:
    """Return the unit of what a sum gives; none where the sum done this way leads to something else."""
    return calc.unit if all(change.unit for change in way) else ""


def finer(op: Op, titre: Fraction, more: int) -> Op:
    """Return an operation with its figure printed to `more` decimals than usual, where it has them."""
    if op.value is None:
        return op._replace(text=in_decimals(titre, 2, 3 + more), value=titre)
    usual = len(op.text.partition(".")[2])
    return op._replace(text=in_decimals(op.value, usual, usual + more)) if more else op


def carried(chain: Steps) -> Decimal | None:
    """Return what the printed figures give; None where they divide by zero."""
    ops = (op for step in chain for op in step.ops)
    hops = tuple(Hop(op.sign, Decimal(op.text), tuple(map(to_decimal, op.multiples))) for op in ops)
    try:
        return run(Decimal(1), hops, Decimal(1))
    except (DivisionByZero, InvalidOperation):
        return None


def printed_sum(chain: Steps, titre: Fraction, value: Fraction, decimals: int) -> str:
    """Return a sum in figures, with as many digits as it takes to give `value` at so many decimals."""
    goal, half, text = round_fraction(value, decimals), Decimal(5).scaleb(-decimals - 1), ""
    for more in FINER:
        some = tuple(step._replace(ops=tuple(finer(op, titre, more) for op in step.ops)) for step in chain)
        text, given = sum_text(some, titre), carried(some)
        if given is not None and abs(given - goal) <= half:
            break
    return text


def shown_sum(
    chain: Steps, titre: Fraction, value: Fraction, reading: Digits, figures: int, unit: str = "", *, fits: bool = True
) -> str:
    """Return a sum with its value as it was written: "0.0500 × 24.35 ÷ 25.00 = 0.0487 mol/dm³".

    A value written to fewer than the `figures` asked for is shown to these, then as written: "98.1, that is 100 to one
    figure". `fits`: a value that differs from the written one at its digits was rounded on the way.
    """
    decimals = reading.decimals
    if reading.short and fits and value:
        decimals = max(decimals, asked_decimals(value, figures))
    if decimals < 0 and fits and abs(value) < PLAIN_BELOW:
        decimals = 0
    text = f"{printed_sum(chain, titre, value, decimals)} = {with_unit(value_text(value, decimals), unit)}"
    if fits and not equals(value, reading):
        return f"{text}, or {value_text(reading.value, reading.decimals)} with values rounded on the way"
    written = value_text(reading.value, reading.decimals)
    if fits and decimals > reading.decimals and value_text(value, decimals) != written:
        shown = max(1, figures_at(value, reading.decimals))
        return f"{text}, that is {written} to {counted(numbered(shown) if shown <= IN_WORDS else shown, 'figure')}"
    return text
