"""Everything that decisions do to a class, in order: before it is judged, after, and in its record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from labmark.assessed import Assessed
from labmark.decisions.after import again, decided, settled
from labmark.decisions.bind import bound, digest, is_unchanged
from labmark.decisions.folder import Found
from labmark.decisions.model import Decision, as_tree, by_student
from labmark.practical import Practical
from labmark.records import ClassSheet


@dataclass(frozen=True)
class Applied:
    """Decisions on their way through the judging of a class."""

    decisions: tuple[Decision, ...]
    sheet: ClassSheet
    """As decided."""
    practical: Practical
    """As decided."""
    given: Practical
    """As it was given."""
    unchanged: bool
    """Class sheet, practical and labmark are those that the folder was written from."""

    @classmethod
    def of(cls, found: Found | None, sheet: ClassSheet, practical: Practical) -> Applied:
        """Return what a folder's decisions make of a class and its practical."""
        found = found or Found()
        return cls(
            tuple(bound(found, sheet, practical)), sheet, practical, practical, is_unchanged(found, sheet, practical)
        )

    def decided(self, assessed: list[Assessed]) -> list[Assessed]:
        """Return the students as the teacher has decided."""
        of = by_student(settled(self.decisions, assessed, unchanged=self.unchanged))
        looked = (replace(one, again=again(of.get(one.student.name, ()))) for one in assessed)
        return decided(list(looked), [each for mine in of.values() for each in mine], self.given)

    def told(self, tree: dict[str, Any], students: Sequence[Assessed]) -> dict[str, Any]:
        """Return the record tree with the decisions in it."""
        tree["decisions"] = [as_tree(each) for each in settled(self.decisions, students, unchanged=self.unchanged)]
        tree["source"]["practical_sha256"] = digest(self.given)
        return tree
