"""A mark that waits is the same mark on every page: being checked, in no total, and never nought."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import openpyxl
import pypdf
import pytest

from labmark.cli import main
from tests.fair_students import DRAIN, LOW_CLASS, TWO_RUNS

pytestmark = pytest.mark.slow

SETTLED = 12
"""Out of: 15 without the 3 for accuracy."""


@pytest.fixture(scope="module")
def marked(tmp_path_factory) -> Path:
    """Eight faultless students at 24.40 cm³ where the reference expects 25.30 cm³."""
    folder = tmp_path_factory.mktemp("doubt")
    (folder / "practical.toml").write_text(DRAIN, encoding="utf-8")
    with (folder / "class.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([cell.strip() for cell in row.split("|")] for row in (TWO_RUNS, *LOW_CLASS))
    out = folder / "marked"
    main(
        [
            "mark",
            str(folder / "class.csv"),
            "--practical",
            str(folder / "practical.toml"),
            "--out",
            str(out),
            "--quiet",
        ],
        standalone_mode=False,
    )
    return out


def students(marked: Path) -> list[dict]:
    return json.loads((marked / "results.json").read_text(encoding="utf-8"))["students"]


def test_results_json_gives_it_both_ways_and_in_no_total(marked):
    for student in students(marked):
        mark = {each["criterion"]: each for each in student["marks"]}["accuracy"]
        assert (mark["mark"], mark["pending"], mark["out_of"]) == (None, True, 3)
        assert (student["total"], student["out_of"]) == (SETTLED, SETTLED)
        # 24.40 is 0.90 from 25.30: no mark; it is the class's own mean: all three.
        assert student["accuracy_by_reference"] == 0
        assert student["accuracy_by_class"] == 3


def test_marks_csv_leaves_it_out(marked):
    with (marked / "marks.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 8
    for row in rows:
        assert not row["accuracy"].strip().startswith(("0", "3"))
        assert (float(row["Total"]), float(row["Out of"])) == (SETTLED, SETTLED)


def test_marks_xlsx_leaves_it_out(marked):
    sheet = openpyxl.load_workbook(marked / "marks.xlsx", data_only=True)["Marks"]
    cells = [[cell.value for cell in row] for row in sheet.iter_rows()]
    head = next(place for place, row in enumerate(cells) if "Student" in row)
    column = next(place for place, title in enumerate(cells[head]) if str(title).startswith("accuracy"))
    assert [row[column] for row in cells[head + 1 : head + 9] if isinstance(row[column], int | float)] == []


def test_a_students_sheet_says_that_it_is_being_checked_and_not_how_it_may_end(marked):
    pages = sorted((marked / "feedback").glob("*.pdf"))
    assert len(pages) == 8
    for page in pages:
        text = " ".join("\n".join(each.extract_text() for each in pypdf.PdfReader(page).pages).split())
        assert "being checked" in text
        assert f"{SETTLED} / 15" not in text
        assert "0 / 3" not in text
        assert "3 / 3" not in text


def test_the_report_says_that_it_is_being_checked(marked):
    assert "being checked" in (marked / "report.html").read_text(encoding="utf-8")
