"""A decision of the teacher as a record, and as it stands in results.json."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Literal, get_args

from labmark.dataclass import dataclass
from labmark.outputs.decision_rows import BEFORE

Tree = Mapping[str, Any]
What = Literal[
    "mark", "comment", "note", "use", "initial", "final", "reading", "input", "aside", "excused", "reference"
]
Key = tuple[str | None, str, str | None, str | None]
"""Student, what, of what, run or endpoint (or group or fault): there is one decision of a key."""

WHATS: tuple[What, ...] = get_args(What)
"""Kinds of decision in the order in which they are listed."""


@dataclass(frozen=True, slots=True)
class Decision:
    """One cell of the teacher's."""

    student: str | None
    """Name; None for a decision about the class."""
    what: What
    of: str | None
    """Criterion, label of a run, code of a finding, key of an input, whose reference; None where there is one only."""
    value: Any
    """Decimal for a number, bool for yes and no, str for words."""
    was: Any = None
    """What stood there when it was decided: the scheme's mark, the written reading, whether the run was in the mean."""
    run: str | None = None
    """Label of the run of a finding or an input that belongs to one."""
    endpoint: str | None = None
    """Whose reading it is, where a run has several."""
    on: str | None = None
    """Readings that a run had when it was taken in or left out."""
    stale: bool = False
    """What it was made on has changed since, or is gone."""
    known_as: str = ""
    """ID of the student, where there is one."""
    cell: str = ""
    """Where it stands ("Marks!K3"), for messages; empty where the folder alone remembers it."""
    about: str | None = None
    """Which group or fault a finding about the class is about; None: all that the class has of the finding."""

    @property
    def key(self) -> Key:
        """Return what there is one decision of."""
        return self.student, self.what, self.of, self.run or self.endpoint or self.about

    @property
    def counts(self) -> bool:
        """Return whether it is applied."""
        return not (self.stale and self.what in BEFORE)


def as_tree(decision: Decision) -> dict[str, Any]:
    """Return a decision as plain data; what it has not got is left out, but for the keys that all have."""

    def some(*keys: str) -> dict[str, Any]:
        return {key: getattr(decision, key) for key in keys}

    given = some("run", "endpoint", "about", "on") | {"ID": decision.known_as or None}
    there = {key: value for key, value in given.items() if value is not None}
    return some("student", "what", "of") | there | some("value", "was", "stale")


def from_tree(tree: Tree) -> Decision:
    """Return the decision that plain data hold."""
    keys = ("student", "what", "of", "run", "endpoint", "on", "stale", "about")
    given: dict[str, Any] = {key: tree.get(key) for key in keys} | {"known_as": str(tree.get("ID", ""))}
    given |= {key: Decimal(tree[key]) if type(tree[key]) is int else tree[key] for key in ("value", "was")}
    return Decision(**given)


def by_student(decisions: Iterable[Decision]) -> dict[str | None, list[Decision]]:
    """Return name -> decisions on the student."""
    found: dict[str | None, list[Decision]] = {}
    for each in decisions:
        found.setdefault(each.student, []).append(each)
    return found
