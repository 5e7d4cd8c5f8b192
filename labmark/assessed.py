"""A class that has been judged: what the record tree, and through it every output, is made of."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from labmark.analyse.budget import Budget
from labmark.dataclass import dataclass, field
from labmark.facts import Student
from labmark.records import Finding, Mark


class ReferenceValue(NamedTuple):
    """What results are held against."""

    value: float
    standard_uncertainty: float | None
    source: str
    """"practical", or "class" where the practical has none."""
    exact: Fraction
    """The same value, exactly."""


class Uncertain(NamedTuple):
    """How uncertain a result is."""

    budget: Budget
    school_percent: float | None = None
    unshared: tuple[float, float] = (0.0, 0.0)
    """Standard and expanded uncertainty without the standard's concentration, which all of a class share."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What the files show of a student beside the judgement; nothing of it decides a mark or asks for the teacher."""

    uncertain: Uncertain | None = None
    steps: tuple[Mapping[str, Any], ...] = ()
    """The working, from the student's mean titre."""
    likely: Mapping[str, Decimal] = field(default_factory=dict)
    """Label of a run -> likely intended titre [cm³]."""


@dataclass(frozen=True, slots=True)
class Assessed:
    """One student, judged."""

    student: Student
    result: float | None
    """What the readings give, in the unit of the result."""
    reference: ReferenceValue | None
    findings: tuple[Finding, ...]
    marks: tuple[Mark, ...]
    fair_z: float | None = None
    """z against what is fair: the class's centre where the reference is in doubt, their group's where it differs."""
    by_class: bool = False
    """What is fair is not the reference as it stands."""
    circumstance: str = ""
    """What the student should know of a doubtful reference or a shifted group; empty otherwise."""
    accuracy_by_reference: int | float | None = None
    """Accuracy mark by the reference as it stands; None unless it waits for the reference or a group."""
    accuracy_by_class: int | float | None = None
    """The same if the centre of the class (or of a shifted group) were the reference."""
    comment: str = ""
    """The teacher's words for the student's sheet."""
    excused: bool = False
    """The teacher has decided that nothing is counted."""
    set_aside: tuple[tuple[int, Finding], ...] = ()
    """Findings that the teacher does not uphold, each with its place among all of them."""
    again: str = ""
    """Which of the teacher's decisions to look at again; empty where all of them stand."""

    @property
    def total(self) -> int | float:
        """Return the marks added up; 0, out of 0, for an absent student."""
        return added(mark.mark for mark in self.marks)

    @property
    def out_of(self) -> int | float:
        """Return the most that could be earned with the marks that count."""
        return added(mark.out_of for mark in self.marks if mark.mark is not None)


class Told(NamedTuple):
    """A student by a choice of runs, and what is shown of that."""

    one: Assessed
    shown: Shown
    parts: tuple["Told", ...] = ()
    """The same by each of several titres."""


def added(marks: Iterable[int | float | None]) -> int | float:
    """Return marks added up exactly as they are shown: 0.1 and 0.2 are 0.3."""
    there = [mark for mark in marks if mark is not None]
    if isinstance(whole := sum(there), int):
        return whole
    total = sum((Decimal(str(mark)) for mark in there), Decimal(0))
    return int(total) if total == int(total) else float(total)
