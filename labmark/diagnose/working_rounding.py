"""When a written value is right: digits written, digits asked for, and values rounded on the way.

A written value is right when it equals the true one rounded to the digits written (half up or half even), and also
when it follows from intermediate values rounded to at least as many figures as were asked for. 0.0500 × 24.35 ÷ 1000 is
0.0012175 mol; carried on as 0.00122 mol it gives 0.0976 and not 0.0974 mol/dm³, and both are right at three figures.

Chains are followed in decimals of 50 digits. A quotient of figures on a class sheet (a dozen digits at most) that is no
tie cannot come within 10⁻⁵⁰ of one, so every rounding decision is the exact one.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from labmark.diagnose.working_calculation import CONCENTRATIONS, RIGHT, Calculation, Op, Step, Steps, Way
from labmark.diagnose.working_sums import MIXTURE, WHOLE, steps
from labmark.figures import magnitude
from labmark.volumes import both_roundings, round_fraction

WIDE = Context(prec=50)
"""For the figures between roundings."""
FURTHER = 3
"""Intermediate values are tried rounded to the figures asked for and up to two more; finer roundings change a result
by less than `slack`."""
HALF = Fraction(1, 2)
EARLY_ORDERS = 2
"""How many orders of the sum are tried with a value rounded too early."""


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


def visible_decimals(written: Decimal) -> int:
    """Return the decimals that can be seen: 2 for 24.35, 0 for 24 and for 2E+1."""
    exponent = written.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def readings(written: Decimal, decimals: int | None, figures: int, *, whole_is_enough: bool = False) -> list[Digits]:
    """Return the ways to read a written value, the strictest first.

    `decimals` None: the digits seen are a minimum, trailing zeros may be lost, so the value is first read with as many
    places as `figures` significant figures need, then as it stands. `whole_is_enough`: a whole number is never short.
    """
    value = Fraction(written)
    places = visible_decimals(written) if decimals is None else decimals
    if value != (rounded := Fraction(round_fraction(value, places))):
        value = rounded
    full = figures - 1 - magnitude(value) if value else figures
    found = [Digits(full, value, False)] if decimals is None and full > places else []

    def short(at: int) -> bool:
        enough = whole_is_enough and value.denominator == 1
        return not enough and figures_at(value, at) < figures

    found.append(Digits(places, value, short(places)))
    if places == 0 and value.denominator == 1 and value:
        zeros = len(str(abs(int(value)))) - len(str(abs(int(value))).rstrip("0"))
        found += [Digits(-n, value, short(-n)) for n in range(1, zeros + 1)]
    return found


def equals(true: Fraction, written: Digits) -> bool:
    """Return whether the written value is the true one rounded to these places, by either rule for ties."""
    half = HALF / Fraction(10) ** written.decimals
    apart = abs(true - written.value)
    if apart != half:
        return apart < half
    return any(Fraction(choice) == written.value for choice in both_roundings(true, written.decimals))


def first_reading(true: Fraction, written: list[Digits]) -> Digits | None:
    """Return the strictest reading at which the written value is the true one, or None."""
    return next((reading for reading in written if equals(true, reading)), None)


class Hop(NamedTuple):
    """One operation in wide decimals."""

    sign: str
    figure: Decimal | None
    """None stands for the titre"""


Route = tuple[tuple[Hop, ...], ...]
"""The operations between two values that may be rounded, in order."""


def to_decimal(value: Fraction) -> Decimal:
    """Return a fraction to 50 digits."""
    return WIDE.divide(Decimal(value.numerator), Decimal(value.denominator))


def hop(op: Op) -> Hop:
    """Return an operation with its figure in wide decimals."""
    return Hop(op.sign, None if op.value is None else to_decimal(op.value))


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
        case _:
            return WIDE.divide(figure, value)


@lru_cache(maxsize=64)
def rounders(lowest: int, highest: int) -> tuple[Context, ...]:
    """Return the contexts that round to `lowest` ... `highest` significant figures, by either rule for ties."""
    rules = (ROUND_HALF_UP, ROUND_HALF_EVEN)
    return tuple(Context(prec=n, rounding=rule) for n in range(lowest, highest + 1) for rule in rules)


def orders(chain: Steps) -> Iterator[tuple[Step, ...]]:
    """Yield the usual orders of the steps: as laid out, ratio later, mass earlier, dilution before the volume."""
    yield chain
    if any(op.sign in {"from", "into", "less"} for step in chain for op in step.ops):
        return
    for first, second in pairwise(range(1, len(chain))):
        swapped = list(chain)
        swapped[first], swapped[second] = swapped[second], swapped[first]
        yield tuple(swapped)
    if len(chain) > 3:
        yield (*chain[:2], chain[-1], *chain[2:-1])
        yield (chain[0], *chain[2:], chain[1])


def through_flask(calc: Calculation, chain: Steps) -> Steps | None:
    """Return the chain by way of the amount in the whole made-up flask: × 250 ÷ 25, then ÷ 10."""
    if calc.quantity not in CONCENTRATIONS or calc.dilution is None:
        return None
    i = next((i for i in range(len(chain) - 1) if len(chain[i].ops) == 1 and len(chain[i + 1].ops) == 2), None)
    if i is None or chain[i].ops[0].sign != "÷":
        return None
    flask = Step("amount in the flask", (chain[i + 1].ops[0], chain[i].ops[0]))
    original = Step(chain[i + 1].name, (chain[i + 1].ops[1],))
    return (*chain[:i], flask, original, *chain[i + 2 :])


def by_concentration(chain: Steps) -> Steps | None:
    """Return the chain by way of the concentration of a sample's solution: ÷ 25, then × 250."""
    i = next((i for i, step in enumerate(chain) if step.name.endswith((WHOLE, MIXTURE)) and len(step.ops) > 1), None)
    if i is None:
        return None
    made, portion, *rest = chain[i].ops
    solution = Step("concentration of the solution", (portion,))
    original = [Step("concentration of the original", tuple(rest))] if rest else []
    return (*chain[:i], solution, *original, chain[i]._replace(ops=(made,)), *chain[i + 1 :])


def with_volumes_first(chain: Steps) -> Iterator[Steps]:
    """Yield the chain begun with the quotient of the volumes, where volume over volume stands in it."""
    first, rest = chain[0], chain[1:]
    i = next((i for i, step in enumerate(rest) if step.name.startswith("concentration")), None)
    if i is None or len(first.ops) < 2 or len(rest[i].ops) != 1:
        return
    if any(op.sign == "from" for step in rest[:i] for op in step.ops):
        # In a back titration a difference stands between the two.
        return
    quotient = Step("quotient of the volumes", (first.ops[1], rest[i].ops[0]))
    concentration = Step("concentration", (first.ops[0], *first.ops[2:]))
    yield quotient, concentration, *rest[:i], *rest[i + 1 :]
    yield quotient, *rest[:i], concentration, *rest[i + 1 :]


def by_one(chain: Steps) -> Iterator[Steps]:
    """Yield the chain with the mole ratio taken in two steps (÷ 2, then × 5, or the other way round)."""
    if len(chain) < 2 or len(chain[1].ops) != 2 or not chain[1].name.startswith("amount"):
        return
    first, second = (chain[1]._replace(ops=(op,)) for op in chain[1].ops)
    for two in ((second, first), (first, second)):
        yield chain[0], *two, *chain[2:]


@lru_cache(maxsize=4096)
def routes(calc: Calculation, way: Way = RIGHT) -> tuple[Route, ...]:
    """Return the orders of the sum as operations in wide decimals; the same places as `chains`."""
    return tuple(tuple(tuple(hop(op) for op in step.ops) for step in chain) for chain in chains(calc, way))


@lru_cache(maxsize=4096)
def chains(calc: Calculation, way: Way = RIGHT) -> tuple[Steps, ...]:
    """Return the orders in which the sum may be done, each with values that may be rounded; the commonest first."""
    chain = steps(calc, way)
    usual = [*orders(chain)]
    others = [one for one in (through_flask(calc, chain), by_concentration(chain)) if one is not None]
    first = [chain, *others]
    later = [*usual, *(one for other in others for one in orders(other)), *with_volumes_first(chain), *by_one(chain)]
    found: dict[tuple[tuple[Op, ...], ...], Steps] = {}
    for one in (*first, *later):
        found.setdefault(tuple(step.ops for step in one), one)
    return tuple(found.values())


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
        values = moved | {context.plus(value) for value in moved for context in contexts}
    return values


def water_by_mass(calc: Calculation, route: Route, titre: Decimal, figures: int) -> set[Decimal]:
    """Return every number of waters by way of the masses: salt n × M, water m − salt, ÷ M(water), ÷ n."""
    amounts = reachable(route[:-3], titre, figures)
    salt, sample = to_decimal(calc.molar_mass or Fraction(0)), to_decimal(calc.sample_mass or Fraction(0))
    water = to_decimal(calc.water_mass)
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
            if one.sign in {"from", "less"}:
                value = after
                continue
            error = WIDE.multiply(error, abs(WIDE.divide(after, value))) if value else error
            value = after
        error = WIDE.add(error, WIDE.multiply(abs(value), share))
    return error


def follows(route: Route, titre: Decimal, figures: int, written: list[Digits]) -> Digits | None:
    """Return the strictest reading at which the written value follows along this route, or None."""
    return among(reachable(route, titre, figures), slack(route, titre, figures), written)


def among(values: set[Decimal], spare: Decimal, written: list[Digits]) -> Digits | None:
    """Return the strictest reading at which the written value is one of these, give or take `spare`."""
    for reading in written:
        half = Decimal(5).scaleb(-reading.decimals - 1)
        goal = to_decimal(reading.value)
        if any(abs(value - goal) <= half + spare for value in values):
            return reading
    return None


def bound(route: Route, titre: Decimal, figures: int) -> Decimal:
    """Return how far roundings to `figures` figures can take the final value: first order, and a tenth on top."""
    return slack(route, titre, figures).scaleb(FURTHER) * Decimal("1.1")


def follows_rounded(
    calc: Calculation, way: Way, titre: Fraction, written: list[Digits], most: int | None = None
) -> Digits | None:
    """Return the reading at which a written value follows from values rounded on the way, or None.

    Where none is near enough to be reached by any rounding, nothing is searched. `most` limits the search to so many
    of the usual orders of the sum.
    """
    exact = to_decimal(titre)
    figures = calc.significant_figures
    ways = routes(calc, way)[:most]
    goal = to_decimal(written[0].value)
    widest = Decimal(5).scaleb(-min(reading.decimals for reading in written) - 1)
    if abs(end(ways[0], exact) - goal) > bound(ways[0], exact, figures) + widest:
        return None
    for some in (written[:1], written[1:]):
        reading = next((r for route in ways if (r := follows(route, exact, figures, some)) is not None), None)
        if reading is None and calc.quantity == "water of crystallisation" and way == RIGHT and some:
            by_mass = water_by_mass(calc, ways[0], exact, figures)
            reading = among(by_mass, slack(ways[0], exact, figures), some)
        if reading is not None:
            return reading
    return None


def end(route: Route, titre: Decimal) -> Decimal:
    """Return the final value with nothing rounded on the way."""
    value = Decimal(1)
    for hops in route:
        value = run(value, hops, titre)
    return value


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
    some = [(chain, route, prefixes(route, exact)) for chain, route in zip(chains(calc), routes(calc), strict=True)]
    for figures in range(calc.significant_figures - 1, fewest - 1, -1):
        up, even = (Context(prec=figures, rounding=rule) for rule in (ROUND_HALF_UP, ROUND_HALF_EVEN))
        for chain, route, values in some[:EARLY_ORDERS]:
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
