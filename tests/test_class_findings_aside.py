"""A finding about the class that is set aside: that very one, and no other of its code."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest

from labmark.changes import changes
from labmark.decisions.applied import Applied
from labmark.decisions.memory import packed, unpacked
from labmark.decisions.model import Decision, as_tree, from_tree
from labmark.decisions.read import Reader
from labmark.judge.stages import judge
from labmark.outputs.decision_rows import in_words
from labmark.outputs.rows import findings_sheet
from labmark.places import templates_folder
from labmark.read.grid import Book, Cell, Grid
from tests.classes import scattered, sheet_of
from tests.example_tree import class_findings, example_tree
from tests.practicals import DRAIN_CLEANER, practical

WHOSE = [("group-shift", "Bench 3"), ("group-shift", "Bottle A"), ("common-fault", "overshoot")]
WHOSE += [("common-fault", "counts-down"), ("drift", None)]
KEYS = {"group-shift": "group", "common-fault": "finding"}
SCHEMA = json.loads((templates_folder() / "results.schema.json").read_text(encoding="utf-8"))


def tree() -> dict[str, Any]:
    """Return a class with several findings of one code."""
    made = example_tree() | {"decisions": []}
    made["class"]["findings"] = [
        class_findings()[0] | {"finding": code, "evidence": {KEYS[code]: about} if about else {}}
        for code, about in WHOSE
    ]
    return made


def read(aside: str, *, key: str = "Key", memory: dict[str, Any] | None = None) -> list[tuple[str | None, str | None]]:
    """Return what is decided where the class's row with this key is set aside, the rows turned round."""
    sheet = findings_sheet(tree())
    heads = [column.header.replace("Key", key) for column in sheet.columns]
    lines = [[*row] for row in reversed(sheet.rows)]
    for line in lines:
        if line[-1] == aside:
            line[heads.index("Aside")] = "yes"
    filled = {
        (row, at): Cell(value)
        for row, line in enumerate([heads, *lines], 1)
        for at, value in enumerate(line, 1)
        if isinstance(value, str)
    }
    reader = Reader("marks.xlsx", memory or unpacked(packed(tree())) or {})
    found = reader.read(Book("marks.xlsx", "", (Grid("Findings", filled),)))
    assert reader.problems == []
    return [(each.of, each.about) for each in found]


def told(*decisions: Decision) -> dict[str, Any]:
    made = tree()
    made["source"].setdefault("practical_sha256", "")
    given = practical()
    return Applied(decisions, None, given, given, unchanged=True).told(made, [])  # type: ignore[arg-type]


@pytest.mark.parametrize("whose", WHOSE[:4])
def test_the_decision_is_about_the_finding_of_its_row_wherever_that_stands(whose: tuple[str, str]) -> None:
    assert read(whose[1]) == [whose]


def test_a_workbook_that_does_not_say_which_decides_about_all_of_a_code() -> None:
    old = unpacked(packed(tree())) or {}
    for each in old["class"]["findings"]:
        del each["evidence"]
    assert read("Bottle A", key="Was", memory=old) == [("group-shift", None)]


@pytest.mark.slow
def test_the_tree_marks_that_finding_alone_and_names_it() -> None:
    made = told(Decision(None, "aside", "group-shift", True, False, about="Bottle A"))
    assert [each.get("aside", False) for each in made["class"]["findings"]] == [False, True, False, False, False]
    (decision,) = made["decisions"]
    assert decision["about"] == "Bottle A"
    assert in_words({})(decision) == "one group differs (Bottle A) set aside"
    jsonschema.validate(decision, {"$defs": SCHEMA["$defs"], "$ref": "#/$defs/Decision"})
    assert from_tree(decision).about == "Bottle A"


def test_a_decision_that_does_not_say_which_becomes_one_about_each() -> None:
    made = told(Decision(None, "aside", "group-shift", True, False), Decision(None, "aside", "drift", True, False))
    assert [each.get("about") for each in made["decisions"]] == ["Bench 3", "Bottle A", None]
    assert not any(each["stale"] for each in made["decisions"])
    assert "about" not in as_tree(Decision(None, "aside", "drift", True, False))


def test_a_group_that_is_gone_leaves_its_decision_stale_and_the_others_alone() -> None:
    made = told(Decision(None, "aside", "group-shift", True, False, about="Bench 9"))
    assert [each["stale"] for each in made["decisions"]] == [True]
    assert not any(each.get("aside") for each in made["class"]["findings"])


def test_what_marking_again_would_change_names_the_group() -> None:
    after = told(Decision(None, "aside", "group-shift", True, False, about="Bottle A"))
    lines = changes(tree(), after, "marked").split("\n")
    assert "  the class: gone: One group differs (Bottle A)" in lines
    assert "  the class: one group differs (Bottle A) set aside: no to yes" in lines
    before = told()
    before["decisions"] = [as_tree(Decision(None, "aside", "group-shift", True, False))]
    assert "taken back" not in changes(before, after, "marked")


def test_marks_of_another_group_go_on_waiting() -> None:
    students = scattered(
        32, spread=0.03, centre=lambda n: 24.35 + (n < 8) - (n >= 24), groups=lambda n: {"Bench": str(n // 8)}
    )
    judged = judge(sheet_of(*students), practical(DRAIN_CLEANER), aside={("group-shift", "Bench 0")})
    groups = [each.evidence["group"] for each in judged.figures.findings if each.finding == "group-shift"]
    assert groups == ["Bench 0", "Bench 3"]
    waits = [any(mark.pending for mark in one.marks if mark.criterion == "accuracy") for one in judged.students]
    assert waits == [False] * 24 + [True] * 8
