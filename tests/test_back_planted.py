"""Back titrations worked by many students: right results rounded at every step pass, and planted slips are named.

The sums are written out here once more, so that the search is not tested against itself.
"""

import random
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from itertools import permutations

import pytest

from labmark.diagnose.working_calculation import Calculation, calculation
from labmark.diagnose.working_slips import Slip
from tests.calculations import slips_behind
from tests.practicals import AMMONIA, EGGSHELLS, practical
from tests.seeds import few_quick

SHELLS, CLEANER = (calculation(practical(text)) for text in (EGGSHELLS, AMMONIA))


def rounded(value: Fraction, figures: int) -> Fraction:
    """Return a value to so many significant figures, half up; as it is for 0."""
    wide = Decimal(value.numerator) / Decimal(value.denominator)
    return Fraction(Context(prec=figures, rounding=ROUND_HALF_UP).create_decimal(wide)) if figures else value


def shells(titre: Fraction, figures: int, mass: Fraction) -> Fraction:
    """Return the percentage of calcium carbonate, every step rounded."""
    titrant = rounded(Fraction("0.1") * titre / 1000, figures)
    reacted = rounded(Fraction("0.05") - rounded(titrant * 10, figures), figures)
    return rounded(rounded(reacted / 2, figures) * mass, figures) / Fraction("1.5") * 100


def cleaner(titre: Fraction, figures: int, mass: Fraction) -> Fraction:
    """Return the mass concentration of ammonia, every step rounded."""
    titrant = rounded(Fraction("0.05") * titre / 1000, figures)
    reacted = rounded(Fraction("0.005") - rounded(titrant * 2, figures), figures)
    return rounded(rounded(reacted / 25 * 1000, figures) * Fraction(250, 20), figures) * mass


CASES = {
    "shells": (SHELLS, shells, ("100.086", "100.1", "100")),
    "cleaner": (CLEANER, cleaner, ("17.031", "17.03", "17")),
}


def slips(calc: Calculation, titre: Fraction, value: Fraction) -> list[Slip]:
    """Return what is said of a value written to three significant figures."""
    written = Decimal(Context(prec=3, rounding=ROUND_HALF_UP).create_decimal(Decimal(float(value))))
    titres = {"Rough": titre + Fraction("0.45"), "1": titre}
    places = max(0, -int(written.as_tuple().exponent))
    return slips_behind(calc, mean=titre, claimed=written, decimals=places, titres=titres)


@pytest.mark.parametrize("case", CASES)
def test_a_right_result_is_never_called_wrong(case: str) -> None:
    calc, work, masses = CASES[case]
    rng = random.Random(f"right {case}")
    for _ in range(150):
        titre, figures = Fraction(rng.randrange(1500, 3000), 100), rng.choice((0, 3, 4, 5))
        found = slips(calc, titre, work(titre, figures, Fraction(rng.choice(masses))))
        assert {slip.finding for slip in found} <= {"rounding"}, (titre, figures, found)


def halved(value: Fraction) -> Fraction:
    """Return the amount of calcium carbonate that an amount of acid reacts with."""
    return value / 2


def massed(value: Fraction) -> Fraction:
    """Return the mass of an amount of calcium carbonate."""
    return value * Fraction("100.086")


def shared(value: Fraction) -> Fraction:
    """Return a mass in per cent of what was weighed."""
    return value / Fraction("1.5") * 100


@pytest.mark.parametrize("order", list(permutations((halved, massed, shared))))
def test_steps_after_the_difference_may_be_taken_in_any_order(
    order: tuple[Callable[[Fraction], Fraction], ...],
) -> None:
    rng = random.Random("order")
    for _ in range(60):
        titre, figures = Fraction(rng.randrange(1500, 3000), 100), rng.choice((3, 3, 4))
        value = rounded(
            Fraction("0.05") - rounded(rounded(Fraction("0.1") * titre / 1000, figures) * 10, figures), figures
        )
        for step in order:
            value = rounded(step(value), figures)
        found = slips(SHELLS, titre, value)
        assert {slip.finding for slip in found} <= {"rounding"}, (titre, figures, found)


ACID_LEFT = {
    "difference-forgotten": lambda left: left / 2,
    "dilution-ignored": lambda left: (Fraction("0.05") - left / 10) / 2,
    "ratio-ignored": lambda left: Fraction("0.05") - left,
    "ratio-inverted": lambda left: (Fraction("0.05") - left) * 2,
}
"""Amount of calcium carbonate that each slip makes of the acid left in all of the mixture [mol]."""


@pytest.mark.parametrize("finding", few_quick(ACID_LEFT, 2))
def test_a_planted_slip_is_named(finding: str) -> None:
    rng, named = random.Random(f"slip {finding}"), 0
    for _ in range(60):
        # At 25.00 cm³ as much is left as has reacted, and a forgotten difference is no slip.
        titre = Fraction(rng.choice((*range(1500, 2480), *range(2520, 3000))), 100)
        amount = ACID_LEFT[finding](titre / 1000)
        found = slips(SHELLS, titre, amount * Fraction("100.086") / Fraction("1.5") * 100)
        named += bool(found) and found[0].finding == finding
    assert named >= 59
