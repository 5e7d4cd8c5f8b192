"""A sum as a route of operations in wide decimals, and every value that rounding on the way can lead to.

Routes are followed in decimals of 50 digits. A quotient of figures on a class sheet (a dozen digits at most) that is no
tie cannot come within 10⁻⁵⁰ of one, so every rounding decision is the exact one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from functools import lru_cache, reduce
from typing import NamedTuple

from labmark.diagnose.working_calculation import RIGHT, Calculation, Op, Way
from labmark.diagnose.working_orders import chains

WIDE = Context(prec=50)
"""For the figures between roundings."""
FURTHER = 3
"""Intermediate values are tried rounded to the figures asked for and up to two more; finer roundings change a result
by less than `slack`."""


class Hop(NamedTuple):
    """One operation in wide decimals."""

    sign: str
    figure: Decimal | None
    """None stands for the titre"""
    multiples: tuple[Decimal, ...] = ()


Route = tuple[tuple[Hop, ...], ...]
"""The operations between two values that may be rounded, in order."""


def to_decimal(value: Fraction) -> Decimal:
    """Return a fraction to 50 digits."""
    return WIDE.divide(Decimal(value.numerator), Decimal(value.denominator))


def hop(op: Op) -> Hop:
    """Return an operation with its figure in wide decimals."""
    return Hop(op.sign, None if op.value is None else to_decimal(op.value), tuple(map(to_decimal, op.multiples)))


def move(value: Decimal, do: Hop, titre: Decimal) -> Decimal:
    """Return the value after one operation. Raises decimal.DivisionByZero or InvalidOperation where there is none."""
    figure = titre if do.figure is None else do.figure
    match do.sign:
        case "×":
            return WIDE.multiply(value, figure)
        case "÷":
            return WIDE.divide(value, figure)
        case "from":
            return WIDE.subtract(figure, value)
        case "less":
            return WIDE.subtract(value, figure)
        case "ions":
            return WIDE.multiply(figure, WIDE.power(value, len(do.multiples)))
        case _:
            return WIDE.divide(figure, value)


@lru_cache(maxsize=64)
def rounders(lowest: int, highest: int) -> tuple[Context, ...]:
    """Return the contexts that round to `lowest` ... `highest` significant figures, by either rule for ties."""
    rules = (ROUND_HALF_UP, ROUND_HALF_EVEN)
    return tuple(Context(prec=n, rounding=rule) for n in range(lowest, highest + 1) for rule in rules)


@lru_cache(maxsize=4096)
def routes(calc: Calculation, way: Way = RIGHT) -> tuple[Route, ...]:
    """Return the orders of the sum as operations in wide decimals; the same places as `chains`."""
    return tuple(tuple(tuple(hop(op) for op in step.ops) for step in chain) for chain in chains(calc, way))


@lru_cache(maxsize=4096)
def factors(hops: tuple[Hop, ...], figures: int) -> tuple[tuple[Hop, ...], ...]:
    """Return a step, and the same with its factor worked out first and rounded (250 ÷ 15 = 16.7)."""
    if len(hops) != 2 or any(one.figure is None or one.sign not in {"×", "÷"} for one in hops):
        return (hops,)
    factor = Decimal(1)
    for one in hops:
        factor = move(factor, one, factor)
    rounded = {context.plus(factor) for context in rounders(figures, figures + FURTHER - 1)} - {factor}
    return (hops, *((Hop("×", value),) for value in sorted(rounded)))


def run(value: Decimal, hops: tuple[Hop, ...], titre: Decimal) -> Decimal:
    """Return the value after all operations of a step."""
    for one in hops:
        value = move(value, one, titre)
    return value


def reachable(route: Route, titre: Decimal, figures: int) -> set[Decimal]:
    """Return every final value with each intermediate one kept whole or rounded to `figures` or a few more."""
    contexts = rounders(figures, figures + FURTHER - 1)
    values = {Decimal(1)}
    for hops in route:
        moved = {run(value, choice, titre) for choice in factors(hops, figures) for value in values}
        if hops[0].multiples:
            moved |= set(products(values, hops[0], contexts))
        values = moved | {context.plus(value) for value in moved for context in contexts}
    return values


def products(values: set[Decimal], do: Hop, contexts: tuple[Context, ...]) -> Iterator[Decimal]:
    """Yield the products of ions whose concentrations, and powers of them, are each kept whole or rounded.

    Each may come from another rounding of what was before it.
    """

    def kept(some: set[Decimal]) -> set[Decimal]:
        return some | {context.plus(value) for value in some for context in contexts}

    powers = []
    for times, number in Counter(do.multiples).items():
        ion = kept({WIDE.multiply(value, times) for value in values})
        powers.append(kept({WIDE.power(value, number) for value in ion}))
        # All of it as a power of this ion: 4 s³, or the half of (2 s)³.
        rest = WIDE.divide(do.figure or Decimal(1), WIDE.power(times, len(do.multiples)))
        yield from (WIDE.multiply(cube, rest) for cube in kept({WIDE.power(value, len(do.multiples)) for value in ion}))
    yield from reduce(lambda one, other: {WIDE.multiply(a, b) for a in one for b in other}, powers)


def water_by_mass(calc: Calculation, route: Route, titre: Decimal, figures: int) -> set[Decimal]:
    """Return every number of waters by way of the masses: salt n × M, water m − salt, ÷ M(water), ÷ n."""
    amounts = reachable(route[:-3], titre, figures)
    salt, sample, water = (
        to_decimal(calc.value(name) or Fraction(0)) for name in ("molar_mass", "sample.mass", "water_mass")
    )
    found: set[Decimal] = set()
    for amount in amounts:
        start = (Hop("×", amount), Hop("×", salt))
        found |= reachable((start, (Hop("from", sample),), (Hop("÷", water),), (Hop("÷", amount),)), titre, figures)
    return found


def slack(route: Route, titre: Decimal, figures: int) -> Decimal:
    """Return a bound on what roundings to `figures` + 3 figures or more can do to the final value."""
    share = Decimal(5).scaleb(-figures - FURTHER)
    value, error = Decimal(1), Decimal(0)
    for hops in route:
        for one in hops:
            after = move(value, one, titre)
            if one.multiples:  # each ion, and each power, may be rounded
                error = WIDE.multiply(len(one.multiples), WIDE.add(error, WIDE.multiply(2 * abs(value), share)))
            if one.sign in {"from", "less"}:
                value = after
                continue
            error = WIDE.multiply(error, abs(WIDE.divide(after, value))) if value else error
            value = after
        error = WIDE.add(error, WIDE.multiply(abs(value), share))
    return error


def bound(route: Route, titre: Decimal, figures: int) -> Decimal:
    """Return how far roundings to `figures` figures can take the final value: first order, and a tenth on top.

    A power takes them further: a tenth on top for each time that it multiplies.
    """
    power = max(len(one.multiples) or 1 for hops in route for one in hops)
    return slack(route, titre, figures).scaleb(FURTHER) * WIDE.power(Decimal("1.1"), power)


def end(route: Route, titre: Decimal) -> Decimal:
    """Return the final value with nothing rounded on the way."""
    value = Decimal(1)
    for hops in route:
        value = run(value, hops, titre)
    return value
