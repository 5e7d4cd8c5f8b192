"""Decisions, found again in the class as it is now."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from labmark import __version__
from labmark.decisions.before import standing
from labmark.decisions.folder import Found
from labmark.decisions.memory import known_as
from labmark.decisions.model import WHATS, Decision
from labmark.practical import Practical
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet

_KEPT = frozenset({"mark", "aside"})
"""Whether these still stand is seen once the class has been judged."""


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
    people = list(zip(sheet.students["student"], sheet.students["about"], strict=True))
    names = {str(name) for name, _ in people}
    by_id = {about["ID"]: str(name) for name, about in people if about.get("ID")}
    bound_ones = [standing(_bound(each, names, by_id), sheet, practical) for each in found.decisions]
    what = _of_another(found.memory, practical, names, by_id)
    if what:
        do = "mark into another folder with --out, or delete marks.xlsx and results.json there"
        raise InputError(Problem(f"{what}, and holds {len(bound_ones)} of your decisions", do, found.file))
    order = {name: place for place, name in enumerate(str(name) for name, _ in people)}
    return sorted(bound_ones, key=lambda each: _place(each, order))


def _place(decision: Decision, order: Mapping[str, int]) -> tuple[Any, ...]:
    name = decision.student or ""
    at = -1 if decision.student is None else order.get(name, len(order))
    return at, name, WHATS.index(decision.what), decision.of or "", decision.run or ""


def _bound(decision: Decision, names: set[str], by_id: Mapping[str, str]) -> Decision:
    if decision.student is None:
        return replace(decision, stale=False)
    name = by_id.get(decision.known_as, decision.student)
    return replace(decision, student=name, stale=name not in names or (decision.stale and decision.what in _KEPT))


def _of_another(memory: Mapping[str, Any], practical: Practical, names: set[str], by_id: Mapping[str, str]) -> str:
    """Return that what is remembered is of another practical or another class; empty where it is of this one."""
    then, now = memory["practical"], practical.file
    equation = then["equation"] if isinstance(then["equation"], str) else tuple(then["equation"])
    if then["title"] != now.title and equation != now.equation:
        return f"the folder is of another practical ({then['title']:.60})"
    there = [one["student"] in names or one["about"].get("ID") in by_id for one in memory["students"]]
    return "" if any(there) or not there else f"the folder is of another class ({memory['source']['file']})"


def renamed(found: Found, tree: Mapping[str, Any]) -> dict[str, str]:
    """Return earlier name -> name of today of the students whose ID (or code) says that they are the same."""
    today = {known_as(one): one["student"] for one in tree["students"] if known_as(one)}
    then = found.memory["students"] if found.memory else []
    return {**found.called, **{one["student"]: today[known_as(one)] for one in then if known_as(one) in today}}
