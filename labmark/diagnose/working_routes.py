"""The orders in which a sum may be done, and every value that rounding on the way can lead to.

Each order is another row of values that may be written down and rounded: in time, or too early, to fewer figures than
were asked for. A sum is followed as a route of operations in decimals of 50 digits. A quotient of figures on a class
sheet (a dozen digits at most) that is no tie cannot come within 10⁻⁵⁰ of one, so every rounding decision is the exact
one.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal, DivisionByZero, InvalidOperation
from fractions import Fraction
from functools import cache, lru_cache, reduce
from itertools import pairwise, permutations
from typing import NamedTuple

from labmark.diagnose.working_calculation import IN_BRACKETS, RIGHT, Calculation, Op, Step, Steps, Way
from labmark.diagnose.working_sums import steps

APART = {*IN_BRACKETS, "into"}
"""Signs of operations that do not change places with × and ÷."""
WIDE = Context(prec=50)
"""For the figures between roundings."""
FURTHER = 3
"""Intermediate values are tried rounded to the figures asked for and up to two more; finer roundings change a result
by less than `slack`."""
EARLY_ORDERS = 2
"""How many orders of the sum are tried with a value rounded too early."""
ON_THE_WAY = "value on the way"
"""A value that no step of the usual order leads to."""


def orders(chain: Steps) -> Iterator[tuple[Step, ...]]:
    """Yield the usual orders of the steps: as laid out, ratio later, mass earlier, dilution before the volume.

    What stands before the last difference, or before a quotient turned over, stays where it is.
    """
    yield chain
    fixed = [i for i, step in enumerate(chain, start=1) if any(op.sign in APART for op in step.ops)]
    start = max([1, *fixed])
    for first, second in pairwise(range(start, len(chain))):
        swapped = list(chain)
        swapped[first], swapped[second] = swapped[second], swapped[first]
        yield tuple(swapped)
    if len(chain) - start > 2:
        yield (*chain[: start + 1], chain[-1], *chain[start + 1 : -1])
        yield (*chain[:start], *chain[start + 1 :], chain[start])
    if len(chain) - start == 3:
        yield from ((*chain[:start], *rest) for rest in permutations(chain[start:]))


def place_of(chain: Steps, *keys: str) -> int | None:
    """Return the place of the first step of these keys."""
    return next((i for i, step in enumerate(chain) if step.key in keys), None)


def through_flask(chain: Steps) -> Steps | None:
    """Return the chain by way of the amount in the whole made-up flask: × 250 ÷ 25, then ÷ 10."""
    i, j = place_of(chain, "c"), place_of(chain, "c.original")
    if i is None or j != i + 1 or [op.sign for op in chain[i].ops] != ["÷"] or len(chain[j].ops) != 2:
        return None
    flask = Step("amount in the flask", (chain[j].ops[0], chain[i].ops[0]))
    return (*chain[:i], flask, chain[j]._replace(ops=(chain[j].ops[1],)), *chain[j + 1 :])


def by_concentration(chain: Steps) -> Steps | None:
    """Return the chain by way of the concentration of a sample's solution: ÷ 25, then × 250."""
    i = place_of(chain, "n.sample", "n.mixture")
    if i is None or len(chain[i].ops) < 2:
        return None
    made, portion, *rest = chain[i].ops
    solution = Step("concentration of the solution", (portion,), "", "mol/dm³", chain[i].scale * 1000)
    original = [solution._replace(name="concentration of the original", ops=tuple(rest))] if rest else []
    return (*chain[:i], solution, *original, chain[i]._replace(ops=(made,)), *chain[i + 1 :])


def about_difference(calc: Calculation, chain: Steps) -> Iterator[Steps]:
    """Yield the chain of a back titration by the portion alone, scaled up afterwards, and by volumes of the reagent."""
    i = next((i for i, step in enumerate(chain) if any(op.sign == "from" for op in step.ops)), None)
    volume = calc.value("excess.volume")
    if i is None or volume is None:
        return
    added = chain[i].ops[0].value or Fraction(0)
    if i and chain[i - 1].key == "n.mixture" and len(chain[i - 1].ops) == 2:
        made, taken = (op.value or Fraction(1) for op in chain[i - 1].ops)
        portion = chain[i]._replace(name="amount used up in the portion", ops=(Op("from", "", added * taken / made),))
        yield (*chain[: i - 1], portion, chain[i - 1], *chain[i + 1 :])
    strength = added / volume
    left = Step("volume left over", (Op("÷", "", strength),), "", "cm³")
    used = Step("volume used up", (Op("from", "", volume),), "", "cm³")
    yield (*chain[:i], left, used, chain[i]._replace(ops=(Op("×", "", strength),)), *chain[i + 1 :])


def with_volumes_first(chain: Steps) -> Iterator[Steps]:
    """Yield the chain begun with the quotient of the volumes, where volume over volume stands in it."""
    first, rest = chain[0], chain[1:]
    i = place_of(rest, "c")
    if i is None or len(first.ops) < 2 or len(rest[i].ops) != 1:
        return
    if any(op.sign in APART for step in (first, *rest[:i]) for op in step.ops):
        # A blank is taken off first; in a back titration a difference stands between the two.
        return
    quotient = Step("quotient of the volumes", (first.ops[1], rest[i].ops[0]))
    concentration = Step("concentration", (first.ops[0], *first.ops[2:]), "", rest[i].unit, rest[i].scale)
    yield quotient, concentration, *rest[:i], *rest[i + 1 :]
    yield quotient, *rest[:i], concentration, *rest[i + 1 :]


def by_one(chain: Steps) -> Iterator[Steps]:
    """Yield the chain with the mole ratio taken in two steps (÷ 2, then × 5, or the other way round)."""
    if len(chain) < 2 or len(chain[1].ops) != 2 or not chain[1].key.startswith(("n.unknown", "n.left", "n.link")):
        return
    first, second = (chain[1]._replace(ops=(op,)) for op in chain[1].ops)
    for two in ((second, first), (first, second)):
        yield chain[0], *two, *chain[2:]


@lru_cache(maxsize=4096)
def chains(calc: Calculation, way: Way = RIGHT) -> tuple[Steps, ...]:
    """Return the orders in which the sum may be done, each with values that may be rounded; the commonest first."""
    whole = steps(calc, way)
    end = next((i for i, step in enumerate(whole) if step.ops[0].multiples), len(whole))
    chain, tail = whole[:end], whole[end:]
    usual = [*orders(chain)]
    others = [one for one in (through_flask(chain), by_concentration(chain)) if one is not None]
    first = [chain, *others]
    later = [*about_difference(calc, chain), *usual, *(one for other in others for one in orders(other))]
    later += (*with_volumes_first(chain), *by_one(chain))
    found: dict[tuple[tuple[Op, ...], ...], Steps] = {}
    for one in ((*each, *tail) for each in (*first, *later)):
        found.setdefault(tuple(step.ops for step in one), one)
    return tuple(found.values())


class Hop(NamedTuple):
    """One operation in wide decimals."""

    sign: str
    figure: Decimal | None
    """None stands for the titre"""
    multiples: tuple[Decimal, ...] = ()


Hops = tuple[Hop, ...]


class Leg:
    """What leads from one value that may be rounded to the next; one and the same in all orders of a sum."""

    def __init__(self, hops: Hops, figures: int) -> None:
        self.hops = hops
        self.choices = (hops, *rounded_factors(hops, figures))


Route = tuple[Leg, ...]


def to_decimal(value: Fraction) -> Decimal:
    """Return a fraction to 50 digits."""
    return WIDE.divide(Decimal(value.numerator), Decimal(value.denominator))


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
        case "plus":
            return WIDE.add(value, figure)
        case "ions":
            return WIDE.multiply(figure, WIDE.power(value, len(do.multiples)))
        case _:
            return WIDE.divide(figure, value)


@lru_cache(maxsize=64)
def rounders(figures: int) -> tuple[Context, ...]:
    """Return the contexts that round to so many significant figures, or a few more, by either rule for ties."""
    rules = (ROUND_HALF_UP, ROUND_HALF_EVEN)
    return tuple(Context(prec=figures + more, rounding=rule) for more in range(FURTHER) for rule in rules)


@lru_cache(maxsize=4096)
def routes(calc: Calculation, way: Way = RIGHT) -> tuple[Route, ...]:
    """Return the orders of the sum as operations in wide decimals; the same places as `chains`."""

    @cache
    def leg(ops: tuple[Op, ...]) -> Leg:
        figures = [None if op.value is None else to_decimal(op.value) for op in ops]
        multiples = [tuple(map(to_decimal, op.multiples)) for op in ops]
        return Leg(tuple(map(Hop, (op.sign for op in ops), figures, multiples)), calc.significant_figures)

    return tuple(tuple(leg(step.ops) for step in chain) for chain in chains(calc, way))


def rounded_factors(hops: Hops, figures: int) -> Iterator[Hops]:
    """Yield a step with its factor worked out first and rounded (250 ÷ 15 = 16.7)."""
    if len(hops) != 2 or any(one.figure is None or one.sign not in {"×", "÷"} for one in hops):
        return
    factor = Decimal(1)
    for one in hops:
        factor = move(factor, one, factor)
    rounded = {context.plus(factor) for context in rounders(figures)} - {factor}
    yield from ((Hop("×", value),) for value in sorted(rounded))


def run(value: Decimal, hops: Hops, titre: Decimal) -> Decimal:
    """Return the value after all operations of a step."""
    for one in hops:
        value = move(value, one, titre)
    return value


def prefixes(route: Route, titre: Decimal) -> list[Decimal]:
    """Return the value after each step, with nothing rounded on the way."""
    found, value = [], Decimal(1)
    for leg in route:
        value = run(value, leg.hops, titre)
        found.append(value)
    return found


def reachable(route: Route, titre: Decimal, figures: int) -> set[Decimal]:
    """Return every final value with each intermediate one kept whole or rounded to `figures` or a few more."""
    values = {Decimal(1)}
    for leg in route:
        values = kept(moved(values, leg, titre, figures), figures)
    return values


def moved(values: set[Decimal], leg: Leg, titre: Decimal, figures: int) -> set[Decimal]:
    """Return where a leg leads from some values."""
    found = {run(value, choice, titre) for choice in leg.choices for value in values}
    return found | set(products(values, leg.hops[0], figures)) if leg.hops[0].multiples else found


def kept(values: set[Decimal], figures: int) -> set[Decimal]:
    """Return values kept whole and rounded to `figures` or a few more."""
    return values | {context.plus(value) for value in values for context in rounders(figures)}


@lru_cache(maxsize=1 << 12)
def ends(route: Route, titre: Decimal, figures: int) -> tuple[Decimal, Decimal]:
    """Return the least and the largest value that is reachable; orders that begin alike are followed once.

    What follows from other values lies between what follows from these. Raises ZeroDivisionError where they lie about
    0, which a quotient turned over would take beyond all bounds.
    """
    if not route:
        return Decimal(1), Decimal(1)
    found = moved({*ends(route[:-1], titre, figures)}, route[-1], titre, figures)
    found = kept({min(found), max(found)}, figures)
    least, most = min(found), max(found)
    if least <= 0 <= most:
        raise ZeroDivisionError("values lie about 0")
    return least, most


def products(values: set[Decimal], do: Hop, figures: int) -> Iterator[Decimal]:
    """Yield the products of ions whose concentrations, and powers of them, are each kept whole or rounded.

    Each may come from another rounding of what was before it.
    """
    powers = []
    for times, number in Counter(do.multiples).items():
        ion = kept({WIDE.multiply(value, times) for value in values}, figures)
        powers.append(kept({WIDE.power(value, number) for value in ion}, figures))
        # All of it as a power of this ion: 4 s³, or the half of (2 s)³.
        rest = WIDE.divide(do.figure or Decimal(1), WIDE.power(times, len(do.multiples)))
        cubes = kept({WIDE.power(value, len(do.multiples)) for value in ion}, figures)
        yield from (WIDE.multiply(cube, rest) for cube in cubes)
    yield from reduce(lambda one, other: {WIDE.multiply(a, b) for a in one for b in other}, powers)


def by_mass(calc: Calculation, amounts: Iterable[Decimal], figures: int) -> Iterator[Route]:
    """Yield the way from each amount of salt by way of the masses: salt n × M, water m − salt, ÷ M(water), ÷ n."""
    salt, sample, water = (
        to_decimal(calc.value(name) or Fraction(0)) for name in ("molar_mass", "sample.mass", "water_mass")
    )
    for amount in amounts:
        hops = ((Hop("×", amount), Hop("×", salt)), (Hop("from", sample),), (Hop("÷", water),), (Hop("÷", amount),))
        yield tuple(Leg(each, figures) for each in hops)


@lru_cache(maxsize=1 << 12)
def unrounded(route: Route, titre: Decimal, figures: int) -> tuple[Decimal, Decimal]:
    """Return the value with nothing rounded, and a bound on what roundings to `figures` + 3 or more can do to it."""
    if not route:
        return Decimal(1), Decimal(0)
    value, error = unrounded(route[:-1], titre, figures)
    share = Decimal(5).scaleb(-figures - FURTHER)
    for one in route[-1].hops:
        after = move(value, one, titre)
        if one.multiples:  # each ion, and each power, may be rounded
            error = WIDE.multiply(len(one.multiples), WIDE.add(error, WIDE.multiply(2 * abs(value), share)))
        if value and one.sign not in IN_BRACKETS:
            error = WIDE.multiply(error, abs(WIDE.divide(after, value)))
        value = after
    return value, WIDE.add(error, WIDE.multiply(abs(value), share))


def bound(route: Route, titre: Decimal, figures: int) -> Decimal:
    """Return how far roundings to `figures` figures can take the final value: first order, and a tenth on top.

    A power takes them further: a tenth on top for each time that it multiplies.
    """
    power = max(len(one.multiples) or 1 for leg in route for one in leg.hops)
    return unrounded(route, titre, figures)[1].scaleb(FURTHER) * WIDE.power(Decimal("1.1"), power)


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

    step: Step
    """what leads to it"""
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
                for context in (up, even) if up.plus(value) != even.plus(value) else (up,):
                    rest = carried_on(context.plus(value), route[place + 1 :], exact, context, calc.significant_figures)
                    yield from (Early(words[place], figures, context.plus(value), *one) for one in rest)


def carried_on(
    rounded: Decimal, rest: Route, titre: Decimal, context: Context, figures: int
) -> Iterator[tuple[Decimal, bool]]:
    """Yield what comes of going on with a rounded value: whole, rounded as asked, or always as short (then True)."""
    asked = Context(prec=figures, rounding=context.rounding)
    for after, throughout in ((WIDE, False), (asked, False), (context, True)):
        result = rounded
        try:
            for leg in rest[:-1]:
                result = after.plus(run(result, leg.hops, titre))
            last = run(result, rest[-1].hops, titre)
        except (DivisionByZero, InvalidOperation):  # rounded so short, nothing is left of a difference
            continue
        yield last, throughout
        if throughout:
            yield context.plus(last), throughout
