"""The orders in which a sum may be done: each is another row of values that may be written down and rounded."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, permutations

from labmark.diagnose.working_calculation import RIGHT, Calculation, Op, Step, Steps, Way
from labmark.diagnose.working_sums import steps

APART = {"from", "into", "less"}
"""Signs of operations that do not change places with × and ÷."""


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
