"""What comes of rounding a value too early: to fewer figures than were asked for, and then going on."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from typing import NamedTuple

from labmark.diagnose.working_calculation import Calculation
from labmark.diagnose.working_orders import chains
from labmark.diagnose.working_routes import WIDE, Route, routes, run, to_decimal

EARLY_ORDERS = 2
"""How many orders of the sum are tried with a value rounded too early."""


class Early(NamedTuple):
    """A value that was rounded too early."""

    name: str
    """what the value is"""
    figures: int
    rounded: Decimal
    result: Decimal
    throughout: bool
    """True: every value was rounded to so few figures"""


def early(calc: Calculation, titre: Fraction, fewest: int) -> Iterator[Early]:
    """Yield the results of rounding one value, or every value, to fewer figures than asked; most figures first.

    Nothing is rounded to fewer than `fewest` figures. Ties go up, and to the even digit where that differs.
    """
    exact = to_decimal(titre)
    usual = [*zip(chains(calc), routes(calc), strict=True)][:EARLY_ORDERS]
    some = [(chain, route, prefixes(route, exact)) for chain, route in usual]
    for figures in range(calc.significant_figures - 1, fewest - 1, -1):
        up, even = (Context(prec=figures, rounding=rule) for rule in (ROUND_HALF_UP, ROUND_HALF_EVEN))
        for chain, route, values in some:
            for place, value in enumerate(values[:-1]):
                for context in (up, even) if up.plus(value) != even.plus(value) else (up,):
                    rest = carried_on(context.plus(value), route[place + 1 :], exact, context, calc.significant_figures)
                    yield from (Early(chain[place].name, figures, context.plus(value), *one) for one in rest)


def prefixes(route: Route, titre: Decimal) -> list[Decimal]:
    """Return the exact value after each step."""
    found, value = [], Decimal(1)
    for hops in route:
        value = run(value, hops, titre)
        found.append(value)
    return found


def carried_on(
    rounded: Decimal, rest: Route, titre: Decimal, context: Context, figures: int
) -> Iterator[tuple[Decimal, bool]]:
    """Yield what comes of going on with a rounded value: whole, rounded as asked, or always as short (then True)."""
    asked = Context(prec=figures, rounding=context.rounding)
    for after, throughout in ((WIDE, False), (asked, False), (context, True)):
        result = rounded
        for hops in rest[:-1]:
            result = after.plus(run(result, hops, titre))
        last = run(result, rest[-1], titre)
        yield last, throughout
        if throughout:
            yield context.plus(last), throughout
