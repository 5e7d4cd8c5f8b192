"""Decisions where a practical has several endpoints, titrations or results; and all of them against the schema."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from labmark.places import templates_folder
from tests.decided import Marked, mark, student
from tests.seeds import few_quick
from tests.several_classes import LYE, WELL

SCHEMA = json.loads((templates_folder() / "results.schema.json").read_text(encoding="utf-8"))
RUN_OF_LYE = "Run {0} initial,Run {0} phenolphthalein,Run {0} methyl orange"
LYES = f"Student,{RUN_OF_LYE.format(1)},{RUN_OF_LYE.format(2)},Result NaOH,Result Na2CO3\n" + "".join(
    f"S{n},0.00,{reading},27.50,0.00,{reading},27.55,3.20,1.60\n"
    for n, reading in enumerate(("23.75", "23.70", "23.80"), 1)
)
RUN_OF_WELL = "{1} run {0} initial,{1} run {0} final"
WELLS = "Student," + ",".join(RUN_OF_WELL.format(n, name) for name in ("Total", "Calcium") for n in (1, 2))
WELLS += ",Result Ca,Result Mg\n" + "".join(
    f"S{n},0.00,30.00,0.00,30.05,0.00,20.00,0.00,20.05,80.2,24.3\n" for n in (1, 2, 3)
)


def marked(place: Path, practical: str, text: str) -> tuple[Marked, dict[str, Any]]:
    (place / "practical.toml").write_text(practical, encoding="utf-8")
    folder = Marked(place / "marked", str(place / "practical.toml"))
    return folder, folder.mark(text)


def again(folder: Marked, text: str) -> dict[str, Any]:
    """Mark again, and hold the tree against the schema and against marking once more."""
    tree = folder.mark(text)
    jsonschema.validate(tree, SCHEMA)
    second = (folder.folder / "marks.xlsx").read_bytes()
    assert folder.mark(text) == tree
    assert (folder.folder / "marks.xlsx").read_bytes() == second
    assert not any(each["stale"] for each in tree["decisions"])
    return tree


@pytest.mark.slow
def test_a_reading_between_two_endpoints_belongs_to_both_titres(tmp_path: Path) -> None:
    folder, _ = marked(tmp_path, LYE, LYES)
    folder.write(("Runs", {"Student": "S1", "Run": 1}, "phenolphthalein is", 23.6))
    run = student(again(folder, LYES), "S1")["runs"][0]
    assert run["readings"] == {"phenolphthalein": 23.6, "methyl orange": 27.5}
    assert run["titres"] == {"phenolphthalein": 23.6, "methyl orange": 3.9}
    assert run["written_readings"] == {"phenolphthalein": 23.75}


@pytest.mark.slow
def test_an_endpoint_before_which_the_burette_was_filled_has_an_initial_reading_of_its_own(tmp_path: Path) -> None:
    ends = "Run {0} initial,Run {0} phenolphthalein,Run {0} methyl orange initial,Run {0} methyl orange"
    filled = f"Student,{ends.format(1)},{ends.format(2)},Result NaOH,Result Na2CO3\n" + "".join(
        f"S{n},0.10,23.85,0.00,3.75,0.20,24.00,24.00,27.75,3.20,1.59\n" for n in (1, 2, 3)
    )
    folder, first = marked(tmp_path, LYE, filled)
    one = student(first, "S1")
    assert one["findings"] == []
    assert one["runs"][0]["titres"] == {"phenolphthalein": 23.75, "methyl orange": 3.75}
    assert one["runs"][0]["initials"] == {"methyl orange": 0.0}
    folder.write(("Runs", {"Student": "S1", "Run": 1}, "phenolphthalein is", 23.9))
    run = student(again(folder, filled), "S1")["runs"][0]
    assert run["titres"] == {"phenolphthalein": 23.8, "methyl orange": 3.75}
    folder.write(("Runs", {"Student": "S2", "Run": 1}, "Use", "no"))
    assert [each["used"] for each in student(again(folder, filled), "S2")["runs"]] == [False, True]
    tree = folder.mark(filled.replace("S2,0.10,23.85,0.00", "S2,0.10,23.85,0.05"))
    assert [each["stale"] for each in tree["decisions"]] == [False, True]


@pytest.mark.slow
def test_a_run_a_mark_and_a_reference_of_several_results(tmp_path: Path) -> None:
    folder, _ = marked(tmp_path, LYE, LYES)
    folder.write(
        ("Runs", {"Student": "S2", "Run": 1}, "Use", "no"),
        ("Marks", {"Student": "S3"}, "accuracy Na2CO3 /3", 0),
        ("Class", {"Figure": "reference Na2CO3"}, "Reference is", 1.7),
    )
    tree = again(folder, LYES)
    assert [run["used"] for run in student(tree, "S2")["runs"]] == [False, True]
    assert {name: each["value"] for name, each in tree["reference"]["results"].items()} == {"NaOH": 3.2, "Na2CO3": 1.7}
    decided = [each for each in student(tree, "S3")["marks"] if each["by"] == "teacher"]
    assert [(each["criterion"], each["result"], each["mark"]) for each in decided] == [("accuracy", "Na2CO3", 0)]


@pytest.mark.slow
def test_a_run_left_out_counts_again_where_a_reading_between_its_ends_has_changed(tmp_path: Path) -> None:
    folder, _ = marked(tmp_path, LYE, LYES)
    folder.write(("Runs", {"Student": "S1", "Run": 1}, "Use", "no"))
    assert [run["used"] for run in student(again(folder, LYES), "S1")["runs"]] == [False, True]
    tree = folder.mark(LYES.replace("S1,0.00,23.75,", "S1,0.00,23.70,"))
    assert [each["stale"] for each in tree["decisions"]] == [True]
    assert [run["used"] for run in student(tree, "S1")["runs"]] == [True, True]


@pytest.mark.slow
@pytest.mark.parametrize("readings", ["0.00,23.75,", "0.00,,27.50"])
def test_a_run_of_which_a_reading_is_missing_may_be_left_out(tmp_path: Path, readings: str) -> None:
    text = LYES.replace("S1,0.00,23.75,27.50", f"S1,{readings}")
    folder, _ = marked(tmp_path, LYE, text)
    folder.write(("Runs", {"Student": "S1", "Run": 1}, "Use", "no"))
    assert [run["used"] for run in student(again(folder, text), "S1")["runs"]] == [False, True]


@pytest.mark.slow
def test_runs_of_several_titrations_are_told_apart(tmp_path: Path) -> None:
    folder, _ = marked(tmp_path, WELL, WELLS)
    folder.write(
        ("Runs", {"Student": "S1", "Run": "calcium 1"}, "Final is", 20.1),
        ("Runs", {"Student": "S2", "Run": "total 1"}, "Use", "no"),
    )
    tree = again(folder, WELLS)
    finals = {run["label"]: run["final"] for run in student(tree, "S1")["runs"]}
    assert (finals["calcium 1"], finals["total 1"]) == (20.1, 30.0)
    assert [run["used"] for run in student(tree, "S2")["runs"]] == [False, True, True, True]


@pytest.mark.slow
def test_a_tree_with_every_kind_of_decision_fits_the_schema(tmp_path: Path) -> None:
    folder = Marked(tmp_path / "marked")
    tree = folder.mark()
    ada = {"Student": "Ada"}
    folder.write(
        ("Marks", ada, "accuracy /3", 1.5),
        ("Marks", ada, "Comment", "Good."),
        ("Marks", ada, "Private note", "ask"),
        ("Marks", {"Student": "Bo"}, "Excused", "yes"),
        ("Runs", ada | {"Run": 1}, "Initial is", 0.05),
        ("Runs", ada | {"Run": 1}, "Final is", 25.35),
        ("Runs", ada | {"Run": 3}, "Use", "yes"),
        ("Findings", {"Student": "Ada", "Finding": student(tree, "Ada")["findings"][0]["finding"]}, "Aside", "yes"),
        ("Class", {"Figure": "reference"}, "Reference is", 0.1015),
    )
    tree = folder.mark()
    jsonschema.validate(tree, SCHEMA)
    assert len(tree["decisions"]) == 9
    assert mark(tree, "Ada", "accuracy")["mark"] == 1.5


@pytest.mark.parametrize("figure", few_quick(["students", "robust mean"], 2))
def test_a_reference_in_another_row_is_refused(tmp_path: Path, figure: str) -> None:
    folder = Marked(tmp_path / "marked")
    folder.mark()
    folder.write(("Class", {"Figure": figure}, "Reference is", 0.1))
    with pytest.raises(Exception, match=f"no reference “{figure}”"):
        folder.mark()


@pytest.mark.slow
def test_of_a_student_all_of_whose_runs_are_left_out_there_is_no_result(tmp_path: Path) -> None:
    means = LYES.replace("Result NaOH", "Mean phenolphthalein,Mean methyl orange,Result NaOH")
    means = means.replace(",3.20,", ",23.70,25.00,3.20,")
    folder, _ = marked(tmp_path, LYE, means)
    folder.write(*(("Runs", {"Student": "S2", "Run": run}, "Use", "no") for run in (1, 2)))
    one = student(again(folder, means), "S2")
    assert [run["used"] for run in one["runs"]] == [False, False]
    assert one["mean_titres"] == {"phenolphthalein": None, "methyl orange": None}
