"""What comes of rounding a value too early: to fewer figures than were asked for, and then going on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from labmark.diagnose.working_calculation import Calculation, Step, Steps
from labmark.diagnose.working_orders import chains
from labmark.diagnose.working_routes import WIDE, Route, routes, run, to_decimal
from labmark.diagnose.working_sums import steps

EARLY_ORDERS = 2
"""How many orders of the sum are tried with a value rounded too early."""
ON_THE_WAY = "value on the way"
"""A value that no step of the usual order leads to."""


@lru_cache(maxsize=256)
def names(calc: Calculation) -> tuple[tuple[Step, ...], ...]:
    """Return what each value of each order of the sum is."""
    return tuple(tuple(called(calc, chain)) for chain in chains(calc)[:EARLY_ORDERS])


def called(calc: Calculation, chain: Steps) -> Iterator[Step]:
    """Yield what each value of a chain is; one that its order brings about has no name of its own."""
    reached = {step.name: Counter(ops_up_to(steps(calc), step.name)) for step in steps(calc)}
    for step in chain:
        usual = step.name not in reached or reached[step.name] == Counter(ops_up_to(chain, step.name))
        yield step if usual else Step(ON_THE_WAY, step.ops)


def ops_up_to(chain: Steps, name: str) -> Iterator[tuple[str, Fraction | None]]:
    """Yield the operations that lead to the value of a step."""
    for step in chain:
        yield from ((op.sign, op.value) for op in step.ops)
        if step.name == name:
            return


class Early(NamedTuple):
    """A value that was rounded too early."""

    name: str
    """what the value is"""
    unit: str
    scale: Fraction
    """the value in its unit, over the rounded one"""
    figures: int
    rounded: Decimal
    result: Decimal
    throughout: bool
    """True: every value was rounded to so few figures"""


def early(calc: Calculation, titre: Fraction) -> Iterator[Early]:
    """Yield the results of rounding one value, or every value, to fewer figures than asked; most figures first.

    Ties go up, and to the even digit where that differs.
    """
    exact = to_decimal(titre)
    usual = zip(names(calc), routes(calc)[:EARLY_ORDERS], strict=True)
    some = [(words, route, prefixes(route, exact)) for words, route in usual]
    for figures in range(calc.significant_figures - 1, 0, -1):
        up, even = (Context(prec=figures, rounding=rule) for rule in (ROUND_HALF_UP, ROUND_HALF_EVEN))
        for words, route, values in some:
            for place, value in enumerate(values[:-1]):
                what = words[place].name, words[place].unit, words[place].scale
                for context in (up, even) if up.plus(value) != even.plus(value) else (up,):
                    rest = carried_on(context.plus(value), route[place + 1 :], exact, context, calc.significant_figures)
                    yield from (Early(*what, figures, context.plus(value), *one) for one in rest)


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
