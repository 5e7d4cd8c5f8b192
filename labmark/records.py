"""What passes between the stages: a class as it was read, with the account of its cells, and findings and marks."""

from collections.abc import Mapping, Set
from typing import Any, Literal

from labmark.dataclass import dataclass, field
from labmark.facts import Student

OF_AN_ENDPOINT = {
    "titres": "titre",
    "claimed_titres": "claimed_titre",
    "used_for": "used",
    "whys": "why",
    "likely_for": "likely",
}
"""Key under which the tree of a run has something of each of several endpoints -> that of the one elsewhere."""
OF_A_TITRE = {"mean_titres": "mean_titre", "spans": "span", "expected_titres": "expected_titre"}
"""Key in a student's tree for something of each of several titres -> its key where there is one titre."""

NOT_UNDERSTOOD = "not understood and not used"
"""First words of the note on columns of numbers whose headings say nothing."""

Level = Literal["note", "check", "fault"]


def bare_label(label: str, titration: str) -> str:
    """Return a run's label without the name of its titration: "1", "Rough"."""
    bare = label.removeprefix(f"{titration} ")
    return bare.capitalize() if bare == "rough" else bare


def filled_between(before: Mapping[str, str], after: Mapping[str, str]) -> bool:
    """Return whether an endpoint has an initial reading of its own: the burette was filled after the endpoint before.

    Each is the cells of a run at its endpoint, where the two would share a reading.
    """
    return after.get("initial") not in (None, before.get("final"))


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
    """A class as it was read: the students as they were recorded, the ledger, and what was understood."""

    students: tuple[Student, ...]
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
    columns: tuple[tuple[str, str, str], ...] = ()
    """Meaning, header (or else place) and place of each column or row that was used."""


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
