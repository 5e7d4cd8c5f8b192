"""What each student is held against: the practical's value, that of their bottle, or the class's own centre."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.analyse.robust import RobustEstimate
from labmark.assessed import ReferenceValue
from labmark.facts import Student
from labmark.formula import Curve, Formula
from labmark.judge.owned import Numbers
from labmark.judge.worked import Worked
from labmark.practical import Practical
from labmark.practical.inputs import TITRE
from labmark.practical.own import REFERENCE
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet
from labmark.volumes import fraction

FEWEST_FOR_CONSENSUS = 3
"""Results that a class must have before students are held against its own centre: of one or two it says nothing."""


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
    def can_mark_accuracy(self) -> bool:
        """Return whether there is a value that accuracy can be marked against."""
        return any(each is not None for each in self.each)

    @property
    def by_practical(self) -> bool:
        """Return whether the practical gives any of them."""
        return any(each is not None and each.source == "practical" for each in self.each)


def references(worked: Worked, practical: Practical, sheet: ClassSheet) -> References:
    """Return the references. Raises InputError where a bottle of the sheet has no value in the practical."""
    each = tuple(_each(worked, practical, sheet))
    values = dict.fromkeys(one.exact for one in each if one is not None and one.source == "practical")
    reachable(values, worked.formula.curve, sheet.file)
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
    own = {
        _folded(entry): ReferenceValue(float(value), u, "practical", Fraction(value))
        for entry, value in given.values.items()
    }
    if default is None:
        _check_groups(worked.students, given.by, list(given.values), sheet)
    return [own.get(_folded(student.groups.get(given.by, "")), default) for student in worked.students]


def _check_groups(students: Iterable[Student], by: str, known: list[str], sheet: ClassSheet) -> None:
    """Raise InputError where a student who was there has no reference; `known` are the groups that have one."""
    present = [student for student in students if not student.absent]
    if present and not any(by in student.groups for student in present):
        what = f"there is no column {by!r}, by which the practical chooses the reference"
        do = "add the column, name it in a [columns] table, or give reference.value"
        raise InputError(Problem(what, do, sheet.file, ", ".join(filter(None, sheet.sheets))))
    without = [student for student in present if _folded(student.groups.get(by, "")) not in map(_folded, known)]
    if without:
        raise InputError(_no_reference(student, by, sheet, known) for student in without)


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


def _folded(entry: str) -> str:
    """Return an entry as it is compared: " a" and "A" are the same bottle."""
    return entry.strip().casefold()


def _no_reference(student: Student, by: str, sheet: ClassSheet, known: list[str]) -> Problem:
    entry = student.groups.get(by, "")
    name, _, cell = (student.cells.get(by) or student.cells.get("student", "")).rpartition("!")
    return Problem(
        f"{by} {entry!r} has no reference value in the practical (it has {', '.join(known)})"
        if entry
        else f"{student.name} has no {by}, by which the practical chooses the reference (it has {', '.join(known)})",
        "add it to reference.values, or correct the cell" if entry else "fill in the cell, or give reference.value",
        sheet.file,
        name,
        cell,
    )


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
