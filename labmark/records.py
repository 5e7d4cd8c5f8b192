"""What passes between the stages: two tables, a ledger, and findings.

Reading makes a `ClassSheet`. Its two tables run through the middle, each row one fact:

`runs`, one row a run, in the order of the sheet
    student          int      row number in `students`
    series           str      endpoint or titration that the row is of, as in the practical; "" where there is one only
    label            str      "Rough", "1", "2", ...
    kind             str      "rough" or "accurate"
    initial, final   int      readings [µL]; missing where there is none that can be used
    initial_decimals, final_decimals   int      decimals written; missing where that cannot be known
    titre            int      own (written) titre [µL]
    titre_decimals   int      decimals written
    parts            tuple    (initial, final) pairs [µL] of a run whose burette was refilled, else ()
    ticked           bool     the student's tick; missing where the sheet has no tick for this run
    struck           bool     struck out by the student: a discard
    cells            dict     {"initial": "Results!C2", "final": ..., "titre": ..., "used": ...}, filled cells only
    odd              dict     {"initial": "24.o", ...}: text of the cells that hold no usable number
    why              dict     {"initial": "has the letter o where ...", ...}: what is wrong with it, where that is known
    spoilt           tuple    the cells (initial, final, titre, used) that the spreadsheet spoilt, else ()
    inputs           dict     {"sample.mass": OwnInput}: numbers that the run owns, by the practical's keys
    result           Decimal  own result of the run
    result_decimals  int      decimals written; missing where that cannot be known
    decided          bool     only where the teacher decided about runs: takes it into the mean, or leaves it out
    as_written       int      only there: titre of the readings as written [µL], where the teacher corrected one

With several endpoints a run is a row an endpoint, in their order, with the same label and the same tick: `initial` is
the reading before (the initial one, or that of the endpoint before), `final` the one at the endpoint. With several
titrations a run is one row, and its label begins with the titration's name: "total 1", "total rough".

`students`, one row a student, in the order of the sheet
    student          str      name, code or number as written
    groups           dict     {"Bench": "3"}
    about            dict     {"ID": "1001", "Email": ..., "Class": ..., "Attempt": ..., "Partner": ...}, those given
    mean, result     Decimal  own mean titre [cm³] and own result
    mean_decimals, result_decimals   int      decimals written; missing where that cannot be known
    result_unit      str      "" where `result` is in the unit asked for; else the unit that it is in, one of another
                              quantity: "mol/dm3", "g/dm3", "%", "g/mol", "g", "mol", "mol/g" (4050 mg/L is 4.050 g/dm3)
    cells            dict     {"student": "Results!A2", "mean": ..., "result": ..., "Bench": ...}, filled cells only
    odd              dict     {"mean": "n/a"}: text of the cells that hold no usable number
    spoilt           tuple    the cells (mean, result) that the spreadsheet spoilt, else ()
    absent           bool     nothing but a name, or marked as absent
    order            int      place in the order of work where the sheet tells it, else missing
    notes            tuple    remarks for the teacher (comments, a second attempt, ...)
    inputs           dict     {"sample.mass": OwnInput}: numbers that the student owns, by the practical's keys
    several          dict     {"mean": {series: OwnValue}, "result": {name: OwnValue}} where there are several; else {}

The spreadsheet spoilt a cell, not the student, where it holds a formula that was never calculated, an error value or a
date that was a number; `odd` then says which ("formula never calculated", "#DIV/0!", "a date (22 May)").
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Literal, NamedTuple

OF_AN_ENDPOINT = {
    "titres": "titre",
    "claimed_titres": "claimed_titre",
    "used_for": "used",
    "whys": "why",
    "likely_for": "likely",
}
"""Key under which the tree of a run has something of each of several endpoints -> that of the one elsewhere."""

NOT_UNDERSTOOD = "not understood and not used"
"""First words of the note on columns of numbers whose headings say nothing."""

Level = Literal["note", "check", "fault"]

RUN_COLUMNS = (
    "student", "label", "series", "kind", "initial", "final", "initial_decimals", "final_decimals", "titre",
    "titre_decimals", "parts", "ticked", "struck", "cells", "odd", "why", "spoilt", "inputs", "result",
    "result_decimals",
)  # fmt: skip
STUDENT_COLUMNS = (
    "student", "groups", "about", "mean", "mean_decimals", "result", "result_decimals", "result_unit", "cells", "odd",
    "spoilt", "absent", "order", "notes", "inputs", "several",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one kind, held as columns of one length; None where a value is missing."""

    columns: Mapping[str, list[Any]]

    def __len__(self) -> int:
        return len(next(iter(self.columns.values()), ()))

    def __getitem__(self, name: str) -> list[Any]:
        return self.columns[name]

    def rows(self) -> list[dict[str, Any]]:
        """Return the rows, each column -> value."""
        return [dict(zip(self.columns, row, strict=True)) for row in zip(*self.columns.values(), strict=True)]

    def chosen(self, places: Sequence[int]) -> Table:
        """Return the rows at these places, in this order."""
        return Table({name: [values[place] for place in places] for name, values in self.columns.items()})

    def having(self, **columns: list[Any]) -> Table:
        """Return the table with some columns replaced."""
        return Table({**self.columns, **columns})


def filled_between(before: Mapping[str, str], after: Mapping[str, str]) -> bool:
    """Return whether an endpoint has an initial reading of its own: the burette was filled after the endpoint before.

    Each is the cells of a run at its endpoint, where the two would share a reading.
    """
    return after.get("initial") not in (None, before.get("final"))


class OwnInput(NamedTuple):
    """A number that a student or a run owns, as the class sheet has it."""

    value: Decimal | None
    """In the unit of its key (g, cm³, mol/dm³); None where the cells hold no number."""
    decimals: int | None = None
    """Decimals written; None where that cannot be known."""
    cells: tuple[str, ...] = ()
    odd: str = ""
    """Text of a cell that holds no number."""
    whole: Decimal | None = None
    """The larger weighing, where it is a difference of two."""


class OwnValue(NamedTuple):
    """A mean or a result that a student wrote down, where there are several of them."""

    value: Decimal | None
    """cm³ or the result's unit; None where the cell holds no number."""
    decimals: int | None = None
    """Decimals written; None where that cannot be known."""
    unit: str = ""
    """As `result_unit` of the students."""
    cells: tuple[str, ...] = ()
    odd: str = ""
    """Text of a cell that holds no number."""
    spoilt: bool = False
    """The spreadsheet spoilt the cell."""


@dataclass(frozen=True, slots=True)
class Ledger:
    """The account of every filled cell of every sheet read: filled = used + ignored + rejected."""

    used: Set[str] = frozenset()
    """Addresses ("Results!C2") of the cells that went into the tables."""
    ignored: Mapping[str, str] = field(default_factory=dict)
    """Address -> why the cell says nothing about a reading, a claim, a student or a group."""
    rejected: Mapping[str, str] = field(default_factory=dict)
    """Address -> why the cell should have held something usable and does not."""

    @property
    def filled(self) -> int:
        """How many cells were filled."""
        return len(self.used) + len(self.ignored) + len(self.rejected)


@dataclass(frozen=True, slots=True)
class ClassSheet:
    """A class as it was read: the two tables, the ledger, and what was understood."""

    runs: Table
    students: Table
    ledger: Ledger
    file: str
    """Path as the user gave it."""
    sha256: str
    """Hash of the file's bytes, so that a mark can be traced to the very file."""
    sheets: tuple[str, ...]
    """Names of the sheets that were read."""
    understood: tuple[str, ...] = ()
    """How the sheet was understood, a sentence each (layout, columns, units, decimal mark)."""
    room: int | None = None
    """Accurate runs that the sheet has columns for; None where there may be any number."""
    notes: tuple[str, ...] = ()
    """What the teacher should know of the file (hidden rows, formats that hide digits, ...)."""
    blanks: tuple[Mapping[str, Any], ...] = ()
    """Blank runs with the place of their student: readings, titre and own titre (`written`) [µL], cells."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something noticed about a run, a student or the class: a hypothesis with its evidence."""

    finding: str
    """Code from the catalogue in `labmark.findings`."""
    message: str
    """What was seen, in words for the teacher and the student, with the figures it rests on."""
    level: Level = "check"
    run: str | None = None
    """Label of the run; None for a finding about a student or the class."""
    probability: float | None = None
    """Odds of this hypothesis as a probability; None where the finding is a plain fact."""
    cells: tuple[str, ...] = ()
    """Addresses of the cells that the finding rests on."""
    evidence: Mapping[str, Any] = field(default_factory=dict)
    """The figures behind the message."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark for one criterion, with the reason for it."""

    criterion: str
    mark: int | float | None
    """None while it is pending, or where there is nothing to mark it on: then it counts in no total."""
    out_of: int | float
    reason: str
    """Why, in words that a student understands."""
    cells: tuple[str, ...] = ()
    by: Literal["scheme", "teacher"] = "scheme"
    title: str = ""
    """What people read instead of the criterion's name; empty: the name."""
    result: str = ""
    """Which of several results it is about; empty where there is one, or for all of them."""
    pending: bool = False
    """It waits: for the teacher, or for a doubt about the reference, a group or the practical to be settled."""
    scheme_mark: int | float | None = None
    """The scheme's own mark, where `by` says that the teacher decided."""

    @property
    def name(self) -> str:
        """Return the criterion, with the result that it is about: "accuracy NaOH"."""
        return f"{self.criterion} {self.result}".rstrip()
