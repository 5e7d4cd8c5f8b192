"""How small a shift the tests of a class would find: worked out before anybody titrates, in cm³ of titre.

What `reference` and `groups` ask for, the size of the class and the spread between students give the shift that is
found in four of five such classes: the threshold, and 0.84 standard errors more, as the class's centre scatters, and
the threshold with the spread that the class itself shows.

    24 students who differ by 0.10 cm³, u of the reference 0.05 cm³: 0.32 cm³ above it, 0.22 cm³ below it, and a bench
    of six by 0.23 cm³

Source: power of a test on normal results, as in any textbook; the spread is taken as known.
"""

from math import hypot, sqrt

from labmark.analyse import reference
from labmark.analyse.groups import ALPHA, ERROR_FACTOR, FEWEST, SMALLEST, critical_t
from labmark.analyse.robust import U_FACTOR
from labmark.laws import t_quantile

POWER = 0.8
"""Share of classes in which the shift is found."""

CENTRE = 1.02
"""Standard error of a robust centre of normal results, in s/sqrt(n) (Algorithm A's mean is 96 % as good as the mean:
Huber 1964, Ann. Math. Stat. 35, 73)."""


SPREAD = 0.75
"""How good Algorithm A's spread is beside the standard deviation, for normal results (found by simulation)."""


def _normal(probability: float) -> float:
    return float(t_quantile(probability, float("inf")))


def shifts_off_reference(students: int, spread: float, uncertainty: float) -> tuple[float, float] | None:
    """Return the smallest shift (upwards, downwards) of all titres [cm³] that puts the reference in doubt.

    `spread` is the standard deviation between students and `uncertainty` that of the reference, both in cm³ of titre.
    None where the class is too small.
    """
    if students < reference.FEWEST:
        return None
    upper, root = 0.5 + reference.LEVEL / 2, sqrt(students)
    factor = float(t_quantile(upper, students - 1)) * U_FACTOR
    reach = hypot(factor * spread / root, _normal(upper) * uncertainty)
    reach += _scatter(spread / root, factor * spread / root, students - 1)
    share = reference.SAME_SIDE
    agreeing = spread * _normal(min(share + _normal(POWER) * sqrt(share * (1 - share) / students), 0.999))
    technique = reference.TECHNIQUE_ABOVE, reference.TECHNIQUE_BELOW
    above, below = (max(each + reach, agreeing) for each in technique)
    return above, below


def shift_of_group(students: int, size: int, spread: float) -> float | None:
    """Return the smallest shift of one group of `size` [cm³] that is found among like groups of a class.

    None where there is no second group, or a group is too small.
    """
    number = students // size
    if number < 2 or size < FEWEST:
        return None
    error = spread * sqrt(1 / size + 1 / (students - size))
    limit = critical_t(ALPHA, number, students - number) * ERROR_FACTOR * error
    scatter = _scatter(error, limit if limit > SMALLEST else 0.0, students - number)
    return max(limit, SMALLEST) + scatter


def _scatter(error: float, limit: float, dof: float) -> float:
    """Return what is to be added to a limit that goes with the spread, so that four of five are beyond it."""
    return _normal(POWER) * hypot(CENTRE * error, limit / sqrt(2 * SPREAD * dof))
