"""What each student is held against: the practical's value, that of their bottle, or the class's own centre.

And how far a result lies from it, said in σ and in its own uncertainty:

    z    = (x − X)/σ              σ is what is asked of the class
    z′   = (x − X)/sqrt(σ² + u²)  where the reference's own u is no longer small beside σ (from 0.3 σ up)
    zeta = (x − X)/sqrt(u_x² + u²)    against what the result and the reference claim for themselves
    E_n  = (x − X)/sqrt(U_x² + U²)    the same with expanded uncertainties: inside ±1 the two agree

Source: ISO 13528:2022, formulas (10) and (14) to (20), and 9.7.2.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from math import isfinite, nan, sqrt
from typing import Any

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.analyse.robust import RobustEstimate
from labmark.assessed import ReferenceValue, Uncertain
from labmark.dataclass import dataclass
from labmark.exact import decimals_of, fraction, in_decimals, in_figures, magnitude, round_fraction, significant
from labmark.facts import Student
from labmark.formula import Curve, Formula
from labmark.judge.marks import as_number
from labmark.judge.owned import Numbers
from labmark.judge.worked import Worked
from labmark.practical import Practical
from labmark.practical.inputs import TITRE
from labmark.practical.model import Reference, of_group
from labmark.practical.own import REFERENCE
from labmark.problems import InputError, Problem, raise_any
from labmark.records import ClassSheet
from labmark.units import shown_unit

FEWEST_FOR_CONSENSUS = 3
"""Results that a class must have before students are held against its own centre: of one or two it says nothing."""

SEEN = Fraction(5, 1000)
"""How far a titre is at least from where results begin or end [cm³]: of less nothing is left to two decimals."""
MOST_CALLED_FOR = 10_000
"""Largest titre [cm³] that a reference may call for: a larger one is that of a reference in a wrong unit."""


@dataclass(frozen=True)
class References:
    """The references of a class of n."""

    each: tuple[ReferenceValue | None, ...]
    """(n,) what each student is held against."""
    common: ReferenceValue | None
    """The one that most students have (the first of them at a tie)."""
    expected: tuple[Fraction | None, ...]
    """(n,) titre that their reference gives [cm³]."""
    by: str | None
    """The column of the sheet that chooses among several."""

    @cached_property
    def values(self) -> FloatArray:
        """Return the references as an array (n,); NaN where a student has none."""
        return np.array([np.nan if each is None else each.value for each in self.each], dtype=np.float64)

    @property
    def titres(self) -> FloatArray:
        """Return the expected titres (n,) [cm³]; NaN where there is none."""
        return np.array([np.nan if each is None else float(each) for each in self.expected], dtype=np.float64)

    def titre_uncertainties(self, worked: Worked) -> FloatArray:
        """Return the standard uncertainties of the expected titres (n,) [cm³]; NaN where there is none."""
        with np.errstate(invalid="ignore", divide="ignore"):
            slopes = np.abs(worked.formula.slopes(worked.given(self.titres))[TITRE])
        spreads = np.array([0.0 if each is None else each.standard_uncertainty or 0.0 for each in self.each])
        return np.asarray(spreads / slopes, dtype=np.float64)

    @cached_property
    def several(self) -> bool:
        """Return whether students are held against different values."""
        # Students of one reference share its record: there are few records, and many students.
        return len({each.exact for each in {id(each): each for each in self.each}.values() if each is not None}) > 1

    @property
    def by_practical(self) -> bool:
        """Return whether the practical gives them, and not the class itself."""
        return self.common is not None and self.common.source == "practical"


def of_class(worked: Worked, practical: Practical, sheet: ClassSheet) -> References:
    """Return the references of a class. Raises InputError where a bottle of the sheet has no value in the practical."""
    each = tuple(_each(worked, practical, sheet))
    values = dict.fromkeys(one.exact for one in each if one is not None and one.source == "practical")
    reachable(values, worked.formula.curve, sheet.file)
    if REFERENCE not in practical.own:  # else a slip in one student's cell
        tellable(values, worked.formula.curve, sheet.file)
    there = [one for one in each if one is not None]
    given = practical.file.reference
    common = max(dict.fromkeys(there), key=there.count) if there else None if given else consensus(worked.robust)
    expected = titres_of((None if one is None else one.exact for one in each), worked.formulas)
    there_is = [None if one.lacks(None) else titre for one, titre in zip(worked.numbers, expected, strict=True)]
    return References(each, common, tuple(there_is), given.by if given else None)


def _each(worked: Worked, practical: Practical, sheet: ClassSheet) -> Sequence[ReferenceValue | None]:
    """Return what each student is held against; one record for all who share it."""
    given = practical.file.reference
    if given is None:
        enough = worked.robust.n >= FEWEST_FOR_CONSENSUS
        return [consensus(worked.robust) if enough else None] * len(worked.students)
    u = None if given.standard_uncertainty is None else float(given.standard_uncertainty)
    default = None if given.value is None else ReferenceValue(float(given.value), u, "practical", Fraction(given.value))
    if REFERENCE in practical.own:
        return [_own(one, default, u) for one in worked.numbers]
    if given.by is None:
        return [default] * len(worked.students)
    own = {value: ReferenceValue(float(value), u, "practical", Fraction(value)) for value in given.values.values()}
    groups = [of_group(given, student.groups) for student in worked.students]
    if default is None:
        _check_groups(worked.students, groups, given, sheet)
    return [default if group is None else own[group] for group in groups]


def _check_groups(
    students: Iterable[Student], groups: Iterable[Decimal | None], given: Reference, sheet: ClassSheet
) -> None:
    """Raise InputError where a student who was there has no reference; `groups` are those of their groups."""
    present = [pair for pair in zip(students, groups, strict=True) if not pair[0].absent]
    if present and not any(given.by in student.groups for student, _ in present):
        what = f"there is no column {given.by!r}, by which the practical chooses the reference"
        do = "add the column, name it in a [columns] table, or give reference.value"
        raise InputError(Problem(what, do, sheet.file, ", ".join(filter(None, sheet.sheets))))
    without = [student for student, group in present if group is None]
    if without:
        raise InputError(_no_reference(student, given, sheet) for student in without)


def _own(numbers: Numbers, default: ReferenceValue | None, u: float | None) -> ReferenceValue | None:
    """Return the reference that a student has of the own; None where it is missing."""
    value = next((own.input.value for own in numbers.owned if own.input.name == REFERENCE), None)
    if value is None:
        return None if numbers.lacks(None) else default
    return ReferenceValue(float(value), u, "practical", value)


def reachable(references: Iterable[Fraction], curve: Curve, file: str) -> None:
    """Raise InputError where a reference calls for more of a reagent in excess than was added."""
    beyond = [value for value in references if curve.high is not None and curve.titre(value) is None]
    if beyond:
        raise InputError(
            Problem(
                f"no titre gives the reference {float(value):g}: the reagent added is too little for it, or for the "
                "sample as the practical has it",
                "check [reference], and concentration and volume in [excess], in the practical",
                file,
            )
            for value in beyond
        )


def tellable(references: Iterable[Fraction], curve: Curve, file: str) -> None:
    """Raise InputError where a reference of the practical calls for a titre that no burette gives."""
    raise_any([problem for value in references if (problem := _untellable(value, curve, file))])


def _untellable(value: Fraction, curve: Curve, file: str) -> Problem | None:
    titre = curve.titre(value)
    if titre is None:
        return None
    ends = [end for end in (curve.low, curve.high) if end is not None and abs(titre - end) < SEEN]
    if not ends and titre <= MOST_CALLED_FOR:
        return None
    why = f"which no burette tells from {in_decimals(ends[0], 2)}" if ends else "which no burette gives"
    what = f"the reference {float(value):g} calls for a titre of {in_figures(titre, 3)} cm³, {why}"
    return Problem(what, "check [reference], and the unit of the result, in the practical", file)


def _no_reference(student: Student, given: Reference, sheet: ClassSheet) -> Problem:
    by, known = given.by or "", f"(it has {', '.join(given.values)})"
    entry = student.groups.get(by, "")
    name, _, cell = (student.cells.get(by) or student.cells.get("student", "")).rpartition("!")
    what = f"{student.name} has no {by}, by which the practical chooses the reference {known}"
    do = "fill in the cell, or give reference.value"
    if entry:
        what = f"{by} {entry!r} has no reference value in the practical {known}"
        do = "add it to reference.values, or correct the cell"
    return Problem(what, do, sheet.file, name, cell)


def consensus(robust: RobustEstimate) -> ReferenceValue | None:
    """Return the class's robust mean as the reference, with u(x*) = 1.25 s*/√p (ISO 13528:2022, 7.7.3)."""
    if not np.isfinite(robust.mean) or not robust.mean:
        return None
    u = robust.standard_uncertainty
    return ReferenceValue(robust.mean, float(u) if np.isfinite(u) else None, "class", fraction(robust.mean))


def titres_of(values: Iterable[Fraction | None], formulas: Sequence[Formula]) -> list[Fraction | None]:
    """Return the titre [cm³] that gives each value with the student's own numbers."""
    pairs = zip(values, formulas, strict=True)
    return [None if value is None else formula.curve.titre(value) for value, formula in pairs]


NEGLIGIBLE = 0.3
"""A reference's u below this share of σ may be left out of the score; ISO 13528:2022, 9.2.1 (strictly below)."""
COVERAGE = 2.0
"""Coverage factor of a reference whose degrees of freedom nobody states (GUM 6.3.3)."""


def score(difference: float, spread: float, other: float = 0.0) -> float:
    """Return a difference from the reference over its spread, or over two in quadrature; NaN where these are 0."""
    bottom = float(np.hypot(spread, other))
    return difference / bottom if bottom > 0 else nan


def sigma_of(practical: Practical, reference: ReferenceValue | None) -> float | None:
    """Return σ for the scores: as the practical sets it, or its percentage of the reference."""
    if practical.file.scores.sigma is not None:
        return float(practical.file.scores.sigma)
    return None if reference is None else float(practical.file.scores.sigma_percent) / 100 * reference.value


def percent_error(result: float | None, reference: ReferenceValue | None) -> float | None:
    """Return the difference from the reference in per cent of it."""
    return None if result is None or reference is None else 100 * (result - reference.value) / reference.value


def z_of(result: float | None, held: float | None, sigma: float | None) -> float | None:
    """Return z = (result − what it is held against)/σ (ISO 13528:2022, 9.4)."""
    if result is None or held is None or not isfinite(held) or not sigma:
        return None
    return score(result - held, sigma)


def z_prime_of(result: float | None, reference: ReferenceValue | None, practical: Practical) -> float | None:
    """Return z′, where the reference is too uncertain to be left out of the score (u ≥ 0.3 σ); otherwise None."""
    sigma = sigma_of(practical, reference)
    if result is None or reference is None or not sigma or not reference.standard_uncertainty:
        return None
    u = reference.standard_uncertainty
    return None if u < NEGLIGIBLE * sigma else score(result - reference.value, sigma, u)


def comparison(
    result: float | None, reference: ReferenceValue | None, uncertain: Uncertain | None, practical: Practical
) -> Mapping[str, Any] | None:
    """Return whether the combined uncertainty explains the difference from the reference, in figures and a sentence.

    A reference without a stated uncertainty counts as exact, and the sentence says so.
    """
    if result is None or reference is None or uncertain is None or not uncertain.budget.standard_uncertainty > 0:
        return None
    standard, expanded = _claimed(uncertain, reference)
    u, difference = reference.standard_uncertainty or 0.0, result - reference.value
    combined, en = sqrt(expanded**2 + (COVERAGE * u) ** 2), score(difference, expanded, COVERAGE * u)
    return {
        "difference": difference,
        "combined_expanded": combined,
        "zeta": score(difference, standard, u),
        "en": en,
        "inside": abs(en) < 1,
        "sentence": _sentence(combined, result, reference, practical, inside=abs(en) < 1),
    }


def _claimed(uncertain: Uncertain, reference: ReferenceValue) -> tuple[float, float]:
    """Return the standard and the expanded uncertainty of a result beside its reference.

    Held against the class's own centre the standard's concentration is in both alike, so it is left out of both.
    """
    own = uncertain.budget
    return uncertain.unshared if reference.source == "class" else (own.standard_uncertainty, own.expanded)


_HELD = {
    "class": ("the centre of the class", "glassware and reading"),
    "practical": ("the reference", "glassware, reading and reference"),
}
"""Source of a reference -> what it is called, and what may explain a difference from it."""


def _sentence(combined: float, result: float, reference: ReferenceValue, practical: Practical, *, inside: bool) -> str:
    """Return the comparison in words; the difference is that of the two as they are printed."""
    unit, (whose, by) = practical.unit, _HELD[reference.source]
    shown_ones = printed(result, reference, practical.file.result.significant_figures)
    off = abs(Decimal(shown_ones["result"]) - Decimal(shown_ones["reference"]))
    reach = difference_shown(f"± {significant(fraction(combined), 2):f}", unit)
    size = difference_shown(f"{off:f}", unit)
    exact = "" if reference.standard_uncertainty else " No uncertainty is stated for the reference: it counts as exact."
    if not inside:
        return (
            f"The result lies {size} {'above' if result > reference.value else 'below'} {whose}, which is more than "
            f"the combined uncertainty of {reach}: glassware and reading alone do not explain it.{exact}"
        )
    if not off:
        return f"The result and {whose} are the same, as printed; the combined uncertainty is {reach}.{exact}"
    return (
        f"The difference from {whose}, {size}, is inside the combined uncertainty of {reach}: {by} explain it.{exact}"
    )


def difference_shown(size: str, unit: str) -> str:
    """Return how far two results in a unit are apart, with what that is counted in."""
    # Beside percentages a bare 1 % might be taken for a hundredth of one.
    return f"{size} {'percentage points' if unit == '%' else shown_unit(unit)}".rstrip()


def printed(result: float | None, reference: ReferenceValue | None, figures: int) -> dict[str, Any]:
    """Return {"result", "reference", "percent"} as they are printed everywhere.

    The result has as many digits as the reference (or the figures asked for, if these are more), and the percentage is
    reckoned from the two as printed, so that it can be reckoned again. None for what there is not.
    """
    if reference is None:
        decimals = None if result is None else figures - 1 - magnitude(fraction(result))
    else:
        decimals = decimals_beside(reference, figures)
    held = None if reference is None else round_fraction(reference.exact, decimals or 0)
    own = None if result is None else round_fraction(fraction(result), decimals or 0)
    off = (
        None if own is None or not held else round_fraction((fraction(own) - fraction(held)) / fraction(held) * 100, 1)
    )
    return {"result": own and f"{own:f}", "reference": held and f"{held:f}", "percent": off}


def decimals_beside(reference: ReferenceValue, figures: int) -> int:
    """Return the decimals with which a result and its reference are printed beside one another."""
    asked = figures - 1 - magnitude(reference.exact)
    return asked + 1 if reference.source == "class" else max(asked, decimals_of(reference.exact))


def bands_about(practical: Practical, curve: Curve, reference: ReferenceValue | None) -> list[dict[str, Any]]:
    """Return the accuracy bands about a reference in the unit of the result, best first.

    Those of a result that rests on several titres are per cent of its reference, all others of the expected titre.
    """
    criterion = next((each for each in practical.file.marks if each.criterion == "accuracy"), None)
    if criterion is None or reference is None:
        return []
    of_result = bool(practical.series.others(practical.unknown))
    made = []
    for band in criterion.bands:
        within = Fraction(band.within)
        ends = (
            [reference.value * (1 + side * float(within) / 100) for side in (-1, 1)]
            if of_result
            else _of_titres(within, criterion.unit, reference, curve)
        )
        if len(ends) == 2:
            made.append({"mark": as_number(band.mark), "low": ends[0], "high": ends[1]})
    return made


def _of_titres(within: Fraction, unit: str, reference: ReferenceValue, curve: Curve) -> list[float]:
    """Return the results, smallest first, of the titres so far below and above the expected one, those that there are;
    `unit` is "cm3" or "percent"."""
    expected = curve.titre(reference.exact)
    if expected is None:
        return []
    width = within * (1 if unit == "cm3" else expected / 100)
    results = (curve.result(titre) for titre in (expected - width, expected + width))
    return sorted(float(result) for result in results if result is not None)
