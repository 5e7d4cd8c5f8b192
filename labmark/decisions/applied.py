"""Everything that decisions do to a class, in order: found again in it as it is now, applied before it is judged and
after, and told in its record.
"""

import hashlib
from collections.abc import Mapping, Sequence, Set
from typing import Any, NamedTuple, Self

from labmark import __version__
from labmark.assessed import Assessed
from labmark.dataclass import replace
from labmark.decisions.after import decided, settled
from labmark.decisions.before import corrected, read_in, standing, student_called, with_references
from labmark.decisions.memory import as_read, by_id, known_as
from labmark.decisions.model import WHATS, Decision, as_tree, by_student
from labmark.decisions.read import Found
from labmark.judge.class_figures import Aside
from labmark.outputs.rows import about
from labmark.practical import Practical
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet

_KEPT = frozenset({"mark", "aside"})
"""Whether these still stand is seen once the class has been judged."""


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
    def of(cls, found: Found | None, sheet: ClassSheet, practical: Practical) -> Self:
        """Return what a folder's decisions make of a class and its practical. Raises InputError."""
        found = found or Found()
        decisions = tuple(bound(found, sheet, practical))
        return cls(
            decisions,
            corrected(sheet, decisions, found.file),
            with_references(practical, decisions, found.file),
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


# Finding them again.


def digest(practical: Practical) -> str:
    """Return a hash of a practical as it was given."""
    text = f"{practical.file.model_dump_json(by_alias=True)} {sorted(practical.own.items())}"
    return hashlib.sha256(text.encode()).hexdigest()


def is_unchanged(found: Found, sheet: ClassSheet, practical: Practical) -> bool:
    """Return whether class, practical and labmark are those that the folder was written from."""
    if found.memory is None:
        return False
    source = found.memory["source"]
    before = (source["sha256"], source.get("practical_sha256"), found.memory["made_by"])
    return before == (sheet.sha256, digest(practical), f"labmark {__version__}")


def bound(found: Found, sheet: ClassSheet, practical: Practical) -> list[Decision]:
    """Return the decisions with the students' names of today; what is gone is stale.

    Raises InputError where they were made on another class or another practical.
    """
    if not found.decisions or found.memory is None:
        return []
    today = {one.name: one.about.get("ID", "") for one in sheet.students}
    same = {one["student"] for one in found.memory["students"] if _is_the_same(one, today, sheet)}
    bound_ones = [standing(_bound(each, today, same), sheet, practical) for each in found.decisions]
    what = _of_another(found.memory, practical, today)
    if what:
        do = "mark into another folder with --out, or delete marks.xlsx and results.json there"
        raise InputError(Problem(f"{what}, and holds {len(bound_ones)} of your decisions", do, found.file))
    order = {name: place for place, name in enumerate(today)}
    return sorted(bound_ones, key=lambda each: _place(each, order))


def _place(decision: Decision, order: Mapping[str, int]) -> tuple[Any, ...]:
    name = decision.student or ""
    at = -1 if decision.student is None else order.get(name, len(order))
    return at, name, WHATS.index(decision.what), decision.of or "", decision.run or decision.about or ""


def _bound(decision: Decision, today: Mapping[str, str], same: Set[str]) -> Decision:
    if decision.student is None:
        return replace(decision, stale=False)
    name = _person(decision.student, decision.known_as, today, same)
    known, stale = today.get(name) or decision.known_as, decision.stale and decision.what in _KEPT
    return replace(decision, student=name, known_as=known, stale=stale or name not in today)


def _is_the_same(one: Mapping[str, Any], today: Mapping[str, str], sheet: ClassSheet) -> bool:
    """Return whether who has a student's name, and another ID, has most of the readings: then the ID was corrected."""
    name = one["student"]
    if not today.get(name) or today[name] == known_as(one):
        return False
    student = student_called(sheet, name)
    runs = [read_in(student, run["label"]) == as_read(run) for run in one["runs"]]
    return 2 * sum(runs) > len(runs)


def _person(name: str, known: str, today: Mapping[str, str], same: Set[str]) -> str:
    """Return what a student is called today; where somebody else has the name by now, with the ID behind it.

    today   name -> ID, or nothing
    same    names of those whose ID was corrected
    """
    if today.get(name) == known:
        return name
    holders = [other for other, theirs in today.items() if known and theirs == known]
    if len(holders) == 1:
        return holders[0]
    another = known and today.get(name) and name not in same
    return f"{name} ({known})" if another else name


def _of_another(memory: Mapping[str, Any], practical: Practical, today: Mapping[str, str]) -> str:
    """Return that what is remembered is of another practical or another class; empty where it is of this one."""
    then, now = memory["practical"], practical.file
    equation = then["equation"] if isinstance(then["equation"], str) else tuple(then["equation"])
    if then["title"] != now.title and equation != now.equation:
        return f"the folder is of another practical ({then['title']:.60})"
    there = [one["student"] in today or known_as(one) in {*today.values()} - {""} for one in memory["students"]]
    return "" if any(there) or not there else f"the folder is of another class ({memory['source']['file']})"


def renamed(found: Found, tree: Mapping[str, Any]) -> dict[str, str]:
    """Return earlier name -> name of today of the students whose ID (or code) says that they are the same."""
    today, then = by_id(tree["students"]), by_id(found.memory["students"] if found.memory else ())
    pairs = [(one["student"], today[known]["student"]) for known, one in then.items() if known in today]
    return {**found.called, **dict(pairs)}
