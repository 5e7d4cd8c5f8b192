"""marks.csv: plain to import, safe to open."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.outputs.table import FORMULA_STARTS, marks_csv, marks_schema
from tests.example_tree import SCHEME, example_tree, finding

HEADERS = [
    *(
        "Number",
        "Student",
        "ID",
        "Email",
        "Class",
        "Bench",
        "Mean titre",
        "Result",
        "Unit",
        "Reference",
        "Percent error",
        "z",
    ),
    *("Own mean titre", "Own result", *SCHEME, "Total", "Out of", "Grade", "Being checked", "Findings"),
]


def read(tree: dict[str, Any]) -> list[dict[str, str]]:
    """Return the rows of the table as header -> text."""
    return list(csv.DictReader(io.StringIO(marks_csv(tree).decode("utf-8-sig"), newline="")))


def with_name(name: str) -> dict[str, Any]:
    """Return the example with the first student renamed."""
    tree = example_tree()
    tree["students"][0]["student"] = name
    return tree


def test_the_file_is_utf8_with_a_mark_and_windows_line_ends() -> None:
    data = marks_csv(example_tree())
    assert data.startswith("\ufeffNumber,Student,ID,Email,Class,Bench,Mean titre".encode())
    assert data.count(b"\r\n") == data.count(b"\n") == 13
    assert data.endswith(b"\r\n")


def test_a_row_is_a_student() -> None:
    row = read(example_tree())[1]
    assert list(row) == HEADERS
    assert list(row.values()) == [
        *("2", "S02", "", "", "", "1", "25.28", "0.10112", "mol/dm3", "0.1012", "-0.08", "-0.08", "25.43", "0.102"),
        *("1", "1", "1", "2", "0", "1", "2", "1", "3", "12", "13", "", "", "overshoot (2); discordant-in-mean"),
    ]


def test_a_student_who_was_not_marked_has_no_total() -> None:
    (absent,) = [row for row in read(example_tree()) if row["Student"] == "S07"]
    assert (absent["Total"], absent["accuracy"], absent["Result"], absent["Findings"]) == ("", "", "", "")


def test_every_student_has_a_row_in_the_order_of_the_class_sheet() -> None:
    tree = example_tree()
    assert [(row["Number"], row["Student"]) for row in read(tree)] == [
        (str(one["number"]), one["student"]) for one in tree["students"]
    ]


@pytest.mark.parametrize(
    "name", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1+1", "\r=1+1", " =1+1", "\x00=1+1", "＝1+1", "-"]
)
def test_text_that_looks_like_a_formula_is_given_an_apostrophe(name: str) -> None:
    (row, *_) = read(with_name(name))
    assert row["Student"].startswith("'")
    assert row["Student"].removeprefix("'") == name.strip().replace("\x00", "")


@given(st.text())
def test_no_text_of_a_student_begins_like_a_formula(name: str) -> None:
    row = read(with_name(name))[0]
    assert not row["Student"].startswith(FORMULA_STARTS)
    assert "\n" not in row["Student"]


def test_a_formula_in_any_other_text_is_given_an_apostrophe_too() -> None:
    tree = example_tree()
    tree["students"][0] |= {"groups": {"=Bench": "=1"}}
    tree["students"][0]["findings"][0]["run"] = "=1"
    row = read(tree)[0]
    assert row["'=Bench"] == "'=1"
    assert row["Findings"] == "not-concordant (=1)"


def test_a_number_below_nought_stays_a_number() -> None:
    assert read(example_tree())[10]["z"] == "-20.04"


def test_a_written_figure_keeps_its_digits() -> None:
    tree = example_tree()
    tree["students"][0] |= {"mean_titre": Decimal("25.30")}
    tree["students"][0]["claimed"] = {"mean_titre": Decimal("25.3"), "result": Decimal("0.1010")}
    row = read(tree)[0]
    assert (row["Mean titre"], row["Own mean titre"], row["Own result"]) == ("25.30", "25.3", "0.1010")


def test_a_name_with_commas_quotes_and_letters_of_any_script_comes_through() -> None:
    name = 'Ünal "Ω", the 2nd; 山'
    assert read(with_name(name))[0]["Student"] == name


def test_groupings_that_not_every_student_has_are_blank_for_the_others() -> None:
    tree = example_tree()
    tree["students"][2]["groups"] = {"Bench": "2", "Bottle": "A"}
    assert [row["Bottle"] for row in read(tree)][:4] == ["", "", "A", ""]


def test_the_same_tree_gives_the_same_bytes() -> None:
    assert marks_csv(example_tree()) == marks_csv(example_tree())


def test_shared_readings_are_never_exported() -> None:
    tree = example_tree()
    tree["students"][0]["findings"] = [
        finding(code, "check", "An example.", []) for code in ("same-readings", "mean-slip")
    ]
    assert read(tree)[0]["Findings"] == "mean-slip"


def test_the_schema_tells_every_column_and_every_cell_is_of_its_type() -> None:
    tree = example_tree()
    fields = marks_schema(tree)["fields"]
    assert [field["name"] for field in fields] == HEADERS
    made = {"number": Decimal, "integer": int, "string": str}
    for row in read(tree):
        for field in fields:
            assert row[field["name"]] == "" or made[field["type"]](row[field["name"]]) is not None
