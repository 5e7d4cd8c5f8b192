"""What a folder remembers: packed into marks.xlsx and out of it, and what stood where something is decided."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labmark.decisions.memory import RESULTS, load, made_on, packed, unpacked
from labmark.decisions.model import Decision, What
from labmark.outputs.data import results_text
from labmark.problems import InputError, Unusable
from tests.example_tree import example_tree

TREE = json.loads(results_text(example_tree()), parse_float=Decimal)
BY_NAME = {one["student"]: one for one in TREE["students"]}
FIRST = TREE["students"][0]


def stood(what: What, of: str | None, one: dict[str, Any] | None = FIRST, **more: Any) -> Any:
    name = None if one is None else one["student"]
    return made_on(TREE, one, Decision(name, what, of, None, **more), {"student": name or "Class"})


def test_what_is_packed_comes_out_with_all_that_decisions_are_held_against() -> None:
    tree = unpacked(packed(TREE))
    assert tree is not None
    assert [one["student"] for one in tree["students"]] == [*BY_NAME]
    assert tree["students"][0]["runs"][1]["final"] == FIRST["runs"][1]["final"]
    assert len(packed(TREE)) < len(results_text(TREE)) / 5


def test_a_memory_that_somebody_changed_is_none() -> None:
    text = packed(TREE)
    assert unpacked(text[:40] + "A" + text[41:]) is None
    assert unpacked("what is this") is None


def test_a_folder_without_results_remembers_nothing_and_one_that_is_spoilt_is_refused(tmp_path: Path) -> None:
    assert load(tmp_path) is None
    (tmp_path / RESULTS).write_text(json.dumps({"format": TREE["format"], "students": 7}), encoding="utf-8")
    with pytest.raises(InputError, match="not what labmark wrote"):
        load(tmp_path)
    (tmp_path / RESULTS).write_text('{"format": 99}', encoding="utf-8")
    with pytest.raises(InputError, match="a newer labmark wrote it"):
        load(tmp_path)


def test_a_mark_is_decided_on_the_schemes_and_has_its_limit() -> None:
    (given,) = (each for each in FIRST["marks"] if each["criterion"] == "accuracy")
    assert stood("mark", "accuracy") == (given["mark"], None, Decimal(3))


def test_a_run_is_decided_on_its_readings() -> None:
    run = FIRST["runs"][1]
    was, on, most = stood("use", run["label"])
    assert (was, on, most) == (run["used"], f"{run['initial'].normalize():f} to {run['final'].normalize():f}", None)
    assert stood("final", run["label"]) == (run["final"], None, Decimal(50))


@pytest.mark.parametrize(
    ("what", "of", "why"),
    [
        ("use", "9", "has no run 9"),
        ("use", None, "has no run without a name"),
        ("aside", "counts-down", "there is no such finding"),
        ("input", "sample.mass", "there is no such number"),
        ("reference", "B", "the practical has no reference “B”"),
    ],
)
def test_what_is_not_there_cannot_be_decided(what: What, of: str | None, why: str) -> None:
    with pytest.raises(Unusable, match=why):
        stood(what, of)


def test_a_row_about_somebody_who_was_not_marked_says_so() -> None:
    with pytest.raises(Unusable, match="nobody called “Zoe” was marked here"):
        made_on(TREE, None, Decision(None, "comment", None, None), {"student": "Zoe"})
