"""The class held against its references: is one of them in doubt, does a group differ, do results drift?

And what each student is fairly held against where that is so.
"""

from collections.abc import Collection
from fractions import Fraction
from math import isfinite
from typing import NamedTuple

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.analyse.reference import ReferenceTest, reference_test
from labmark.analyse.robust import algorithm_a
from labmark.exact import fraction
from labmark.judge import classwide
from labmark.judge.classwide import ClassFigures, told_apart
from labmark.judge.references import FEWEST_FOR_CONSENSUS, References, titres_of
from labmark.judge.worked import Worked
from labmark.practical import Practical
from labmark.practical.inputs import TITRE

PRACTICAL = "The results of the class do not fit the practical as it is set up, so the practical is being checked."
"""What students should know where the practical is doubted."""
_DOUBT = "The class as a whole disagrees with the reference, so the reference is being checked."
_DRIFT = "The results of the class move with the order of work, so the solutions are being checked."
_SHIFT = "{} as a whole differs from the rest, so its solutions and glassware are being checked."


def class_figures(worked: Worked, practical: Practical, refs: References) -> ClassFigures:
    """Return what the class as a whole shows."""
    # Over their own references, so that bottles can be compared.
    relative = worked.results / refs.values
    titre, exponent = anchor_of(worked, refs)
    test = _reference_test(worked, relative, refs, titre, exponent)
    groupings, moving, follows = told_apart(relative, worked.students, titre, exponent)
    unit, digits = practical.unit, practical.file.result.significant_figures
    value = refs.common.value if refs.common else float("nan")
    found = [
        *classwide.reference_finding(test, unit, digits),
        *classwide.group_findings(groupings, unit, value, digits, several=refs.several),
        *classwide.drift_finding(moving, follows),
    ]
    return ClassFigures(worked.precision, test, groupings, moving, tuple(found))


def anchor_of(worked: Worked, refs: References) -> tuple[float, float]:
    """Return the titre that the common reference gives [cm³], and the relative sensitivity of the result to it there.

    The class is looked at there; the titre is NaN without a reference.
    """
    common = refs.common
    titre = None if common is None else worked.formula.curve.titre(common.exact)
    if titre is None or common is None:
        return float("nan"), 1.0
    slope = worked.formula.slopes({TITRE: float(titre)})[TITRE]
    return float(titre), slope * float(titre) / common.value


def _reference_test(
    worked: Worked, relative: FloatArray, refs: References, titre: float, exponent: float
) -> ReferenceTest | None:
    """Return the class held against the reference of the practical; None without one, or for too few."""
    common = refs.common
    few = worked.robust.n < FEWEST_FOR_CONSENSUS
    if common is None or not refs.by_practical or not np.isfinite(titre) or few:
        return None
    # As if all had the common reference, so that the figures are in the unit of the result.
    alike = relative * common.value
    return reference_test(alike, common.value, common.standard_uncertainty or 0.0, titre, exponent)


Aside = tuple[str | None, ...]
"""A finding that the teacher does not uphold: its code, and of the class which group it is about (None: any), of a
student the name and the run (None: of none)."""


class Fair(NamedTuple):
    """What each student is fairly held against where the reference is in doubt, a group differs or results drift."""

    values: FloatArray
    """(n,) fair reference values, in the unit of the result; the student's own reference where nothing is in doubt."""
    circumstances: tuple[str, ...]
    """What each student should know; empty where there is nothing."""
    titres: tuple[Fraction | None, ...]
    """(n,) titre that the fair value gives [cm³]; None where no titre does."""


def fair_values(worked: Worked, refs: References, figures: ClassFigures, aside: Collection[Aside] = ()) -> Fair:
    """Return what is fair to each student: what the class has in common is seen without the shifts of groups.

    aside   findings about the class that are not upheld: the references stand as if they had not been made
    """
    students, shift, words = worked.students, np.ones(len(worked.students)), [""] * len(worked.students)
    for group, inside in classwide.groups_shifted(figures.groupings, students):
        if {("group-shift", None), ("group-shift", group.group)} & {*aside}:
            continue
        shift[inside] *= 1 + group.effect_percent / 100
        words = [_SHIFT.format(group.group) if here else word for here, word in zip(inside, words, strict=True)]
    relative = worked.results / (refs.values * shift)
    test, moving, common, of_all = figures.reference, figures.drift, np.ones_like(shift), ""
    if moving is not None and moving.drifting and ("drift", None) not in aside:
        common, of_all = classwide.drift_line(moving, relative, students), _DRIFT
    elif test is not None and test.doubtful and ("reference-doubtful", None) not in aside:
        common, of_all = common * algorithm_a(relative).mean, _DOUBT
    values = refs.values * common * shift
    exact = (fraction(value) if isfinite(value) else None for value in values.tolist())
    return Fair(values, tuple(word or of_all for word in words), tuple(titres_of(exact, worked.formulas)))
