"""Does one class stand apart from the others? Each is held against all the others, and the many tests are counted.

    others    robust centre of the other classes (Algorithm A), so that a second odd one does not hide the first
    expected  how far a class like the others would be from it by chance: its own students, what lies between the
              others beyond their students, and how well their centre is known
    p         of Student's t with the degrees of freedom of Welch and Satterthwaite, then by Holm for all that is asked

Where classes differ among themselves more than their students explain, that is not held against any one of them.

Sources (from memory): Holm (1979), Scand. J. Statist. 6, 65; Satterthwaite (1946), Biometrics Bull. 2, 110;
ISO 13528:2022 for Algorithm A and the 1.25 of a robust mean's uncertainty.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, floats
from labmark.analyse.robust import U_FACTOR, algorithm_a
from labmark.laws import two_sided_p

ALPHA = 0.05
"""Chance of saying it at all of a cohort in which no class stands apart."""


class Comparison(NamedTuple):
    """One class beside the others, in the unit of the means."""

    difference: float
    """Mean less the centre of the others."""
    error: float
    """Standard deviation that the difference has by chance."""
    dof: float
    p: float
    """Of this comparison alone."""


def beside_the_others(mean: ArrayLike, error: ArrayLike, dof: ArrayLike) -> list[Comparison]:
    """Return each class beside the others.

    Parameters, an entry a class (k,), of which there are two at least: `mean`, its standard `error` from its own
    students, and the degrees of freedom of that.
    """
    means, errors, degrees = floats(mean), floats(error), floats(dof)
    return [_one(place, means, errors, degrees) for place in range(means.size)]


def _one(place: int, means: FloatArray, errors: FloatArray, degrees: FloatArray) -> Comparison:
    """Return how far one mean lies from the others."""
    others, theirs = np.delete(means, place), np.delete(errors, place) ** 2
    robust, k, own = algorithm_a(others), others.size, errors[place] ** 2
    chance = float(np.median(theirs))
    spread = max(robust.sd**2, chance) if k > 1 else chance
    # What the others differ by beyond their students, and how well their centre is known.
    around = (spread - chance) + (U_FACTOR**2 if k > 2 else 1) * spread / k
    difference, variance = float(means[place] - robust.mean), float(own + around)
    if variance <= 0:
        return Comparison(difference, 0.0, np.inf, 1.0 if difference == 0 else 0.0)
    # Known from as many others as there are; where they differ by no more than chance, also from their students.
    known = (k - 1) if k > 1 and spread > chance else float(np.sum(np.delete(degrees, place)))
    freedom = variance**2 / (own**2 / degrees[place] + around**2 / known)
    return Comparison(difference, variance**0.5, freedom, float(two_sided_p(abs(difference) / variance**0.5, freedom)))


def holm(chances: Sequence[float]) -> list[float]:
    """Return probabilities corrected for how many there are (Holm): one below 0.05 at all in 5 % of the cases.

    >>> holm([0.01, 0.04, 0.03])
    [0.03, 0.06, 0.06]
    """
    order = sorted(range(len(chances)), key=lambda place: chances[place])
    corrected, least = [0.0] * len(chances), 0.0
    for rank, place in enumerate(order):
        least = max(least, min(1.0, (len(chances) - rank) * chances[place]))
        corrected[place] = least
    return corrected
