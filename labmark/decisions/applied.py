"""Everything that decisions do to a class, in order: before it is judged, after, and in its record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from labmark.assessed import Assessed
from labmark.decisions.after import decided, settled
from labmark.decisions.before import corrected, with_references
from labmark.decisions.bind import bound, digest, is_unchanged
from labmark.decisions.folder import Found
from labmark.decisions.model import Decision, as_tree, by_student
from labmark.judge.class_figures import Aside
from labmark.outputs.rows import about
from labmark.practical import Practical
from labmark.records import ClassSheet


class Applied(NamedTuple):
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
        """Return what a folder's decisions make of a class and its practical. Raises InputError."""
        found = found or Found()
        decisions = tuple(bound(found, sheet, practical))
        return cls(
            decisions,
            corrected(sheet, decisions, found.file),
            with_references(practical, decisions),
            practical,
            is_unchanged(found, sheet, practical),
        )

    @property
    def aside(self) -> set[Aside]:
        """Return the findings that the teacher does not uphold."""
        made = (each for each in self.decisions if each.what == "aside")
        return {(each.of or "", *((each.student, each.run) if each.student else (each.about,))) for each in made}

    def decided(self, assessed: list[Assessed]) -> list[Assessed]:
        """Return the students as the teacher has decided."""
        return decided(assessed, settled(self.decisions, assessed, unchanged=self.unchanged), self.given)

    def told(self, tree: dict[str, Any], students: Sequence[Assessed]) -> dict[str, Any]:
        """Return the record tree with the decisions in it."""
        final = settled(self.decisions, students, unchanged=self.unchanged)
        final = list({one.key: one for each in final for one in _of_class(each, tree["class"]["findings"])}.values())
        of = by_student(each for each in final if each.counts)
        for one in tree["students"]:
            for each in of.get(one["student"], ()):
                _annotate(one, each)
                _annotate(one.get("by_own_choice", {}), each)
        tree["decisions"] = [as_tree(each) for each in final]
        tree["source"]["practical_sha256"] = digest(self.given)
        return tree


def _annotate(one: dict[str, Any], decision: Decision) -> None:
    """Put what was written beside what was decided."""
    for run in one.get("runs", ()) if decision.what in ("initial", "final", "reading") else ():
        if run["label"] == decision.of and decision.endpoint is not None:
            run["written_readings"] = {**run.get("written_readings", {}), decision.endpoint: decision.was}
        elif run["label"] == decision.of:
            run[f"written_{decision.what}"] = decision.was
    for each in one.get("inputs", ()) if decision.what == "input" else ():
        if (each["name"], each["run"]) == (decision.of, decision.run):
            each["written_value"] = decision.was


def _of_class(decision: Decision, findings: Sequence[dict[str, Any]]) -> list[Decision]:
    """Set findings about the class aside where the decision says so, one each; it is stale where there is none."""
    if decision.what != "aside" or decision.student is not None:
        return [decision]
    named = [each for each in findings if each["finding"] == decision.of]
    found = [each for each in named if decision.about in (None, about(each))]
    for each in found:
        each["aside"] = True
    whose = sorted({about(each) or "" for each in found})
    return [replace(decision, about=each or None, stale=False) for each in whose] or [replace(decision, stale=True)]
