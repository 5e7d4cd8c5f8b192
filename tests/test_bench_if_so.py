"""What a misreading would lead to: the very result that the corrected reading gives. Students and figures are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from labmark.pipeline import judged_tree

HEADER = (
    "Student,Rough initial,Rough final,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Run 3 initial,Run 3 final"
)
CLASS = [
    "A,0.00,25.80,0.50,25.80,0.20,25.45,1.10,26.40",
    "B,0.00,25.95,0.00,25.25,0.35,25.70,0.00,25.30",
    "C,0.10,26.05,0.75,26.00,0.00,25.25,0.60,25.90",
    "D,0.00,25.70,0.00,25.30,0.15,25.40,0.40,25.70",
    "E,0.25,25.85,1.20,26.55,0.00,25.30,0.00,25.35",
]


def student(folder: Path, line: str):
    """Return student Z of a class in which everyone else did well."""
    table = folder / "class.csv"
    table.write_text("\n".join([HEADER, *CLASS, line]), encoding="utf-8")
    return judged_tree(table, "drain-cleaner", ())["students"][-1]


def claim(folder: Path, line: str):
    (found,) = [
        f for f in student(folder, line)["findings"] if f["finding"] in ("misread-division", "read-upside-down")
    ]
    return found


@pytest.mark.parametrize(
    ("misread", "meant"),
    [
        ("0.30,25.55,0.40,26.65", "0.30,25.55,0.40,25.65"),
        ("0.30,25.55,0.65,25.05", "0.30,25.55,0.65,25.95"),
    ],
    ids=["one too many", "upside down"],
)
def test_the_result_if_so_is_that_of_the_reading_put_right(tmp_path, misread, meant):
    evidence = claim(tmp_path, f"Z,0.00,25.90,{misread},0.00,25.25")["evidence"]
    corrected = student(tmp_path, f"Z,0.00,25.90,{meant},0.00,25.25")
    assert evidence["mean_if_so"] == pytest.approx(float(corrected["mean_titre"]), abs=1e-4)
    assert evidence["result_if_so"] == pytest.approx(float(corrected["result"]["value"]), rel=1e-9)


def test_a_copied_misreading_names_the_run_that_began_with_it(tmp_path):
    lines = [line.replace("25.", "14.").replace("26.", "15.") for line in CLASS]
    table = tmp_path / "class.csv"
    runs = "Z,0.00,15.00,15.00,30.35,30.35,43.60,0.00,14.30"
    table.write_text("\n".join([HEADER, *lines, runs]), encoding="utf-8")
    (found,) = [f for f in judged_tree(table, "drain-cleaner", ())["students"][-1]["findings"] if f["probability"]]
    assert (found["finding"], found["run"], found["evidence"]["copied_to"]) == ("misread-division", "1", "2")
    assert "Run 2 begins with a copy of it" in found["message"]


def test_where_all_runs_are_of_one_sample_no_titre_is_that_of_another(tmp_path):
    found = student(tmp_path, "Z,0.00,25.90,0.30,25.55,0.40,19.20,0.00,25.25")["findings"]
    named = [f["evidence"]["looks_the_same"] for f in found if f["finding"] == "implausible-titre"]
    assert named == [[]]
