"""marks.xlsx: what the teacher sees is right, can be changed, is safe to open, and is the same every time."""

from __future__ import annotations

import csv
import io
import os
import re
import subprocess
import sys
import zipfile
from decimal import Decimal
from typing import Any

import openpyxl
import pytest
from openpyxl.utils import column_index_from_string, range_boundaries
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from labmark.outputs.archive import EPOCH
from labmark.outputs.rows import counted, result_decimals, unique
from labmark.outputs.workbook import marks_workbook, meant
from labmark.problems import letters
from tests.example_tree import SCHEME, example_tree
from tests.office import converted, needs_office
from tests.seeds import few_quick

SHEETS = ["Marks", "Reasons", "Runs", "Findings", "Class", "Decisions", "Legend"]
HEADERS = [
    *("Number", "Student", "Attention", "Why", "Bench"),
    *("recording /1", "table /1", "titres /1", "concordance /2", "selection /1", "mean /1"),
    *("calculation /2", "figures /1", "accuracy /3", "Total", "Out of", "Being checked", "Changed"),
    *("Excused", "Comment", "Private note", "Mean titre (cm³)", "Result (mol/dm³)", "Reference (mol/dm³)"),
    *("Error (%)", "z", "Own mean titre (cm³)", "Own result (mol/dm³)"),
    *(f"{name}, as marked" for name in SCHEME),
]


def opened(data: bytes, *, values: bool = False) -> Workbook:
    """Return a workbook as a program opens it: with its formulas, or with their values."""
    return openpyxl.load_workbook(io.BytesIO(data), data_only=values)


def rows(page: Worksheet) -> list[dict[str, Any]]:
    """Return the rows of a sheet as header -> value."""
    header, *below = page.iter_rows(values_only=True)
    return [dict(zip(header, values, strict=True)) for values in below]


def cell_under(page: Worksheet, header: str, row: int) -> Any:
    """Return the cell of a row under a header."""
    return page.cell(row, [cell.value for cell in page[1]].index(header) + 1)


@pytest.fixture(scope="module")
def example() -> bytes:
    """Return the workbook of the example tree."""
    return marks_workbook(example_tree())


@pytest.fixture(scope="module")
def book(example: bytes) -> Workbook:
    """Return the workbook of the example tree, opened with its formulas."""
    return opened(example)


@pytest.fixture(scope="module")
def shown(example: bytes) -> Workbook:
    """Return the workbook of the example tree, opened with the values of its formulas."""
    return opened(example, values=True)


def test_the_sheets_stand_in_the_order_in_which_a_teacher_needs_them(book: Workbook) -> None:
    assert book.sheetnames == SHEETS
    assert book.active.title == "Marks"
    assert book.properties.title == "Marks: Strength of a drain cleaner (invented)"


def test_a_row_of_marks_holds_a_student(shown: Workbook) -> None:
    assert [cell.value for cell in shown["Marks"][1]] == HEADERS
    who = [2, "S02", 6, "the mean takes in a run that does not agree", 1]
    figures = [25.28, 0.10112, 0.1012, pytest.approx(-0.0790, abs=1e-4), pytest.approx(-0.0790, abs=1e-4)]
    marks = [1, 1, 1, 2, 0, 1, 2, 1, 3]
    rest = [12, 13, None, None, None, None, None]
    assert [cell.value for cell in shown["Marks"][3]] == [*who, *marks, *rest, *figures, 25.43, 0.102, *marks]


def test_the_total_is_a_formula_and_has_its_value_too(book: Workbook, shown: Workbook) -> None:
    for row, student in enumerate(example_tree()["students"], 2):
        assert f"SUM(F{row}:N{row})" in cell_under(book["Marks"], "Total", row).value
        total, out_of = (cell_under(shown["Marks"], header, row).value for header in ("Total", "Out of"))
        assert (total, out_of) == ((student["total"], student["out_of"]) if student["marks"] else (None, None))


def test_every_formula_has_a_value_in_the_file(example: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(example)) as archive:
        sheets = "".join(archive.read(f"xl/worksheets/sheet{n}.xml").decode() for n in range(1, 8))
    formulas = re.findall(r'<c r="[A-Z]+[0-9]+"([^>]*)><f>[^<]*</f>(<v>[^<]*</v>|<v ?/>)?', sheets)
    assert len(formulas) == 3 * 12 + 10  # totals, what they are out of, changes, means of the class
    assert all(value and (value != "<v></v>" or 't="str"' in attributes) for attributes, value in formulas)


def test_a_student_who_was_not_marked_has_no_total_rather_than_nought(shown: Workbook) -> None:
    (absent,) = [row for row in rows(shown["Marks"]) if row["Student"] == "S07"]
    assert absent["Total"] is None
    assert absent["accuracy /3"] is None
    assert absent["Why"] == "absent"


def test_the_means_of_the_class_are_formulas_over_the_marks(book: Workbook, shown: Workbook) -> None:
    formula = {row["Figure"]: row["Value"] for row in rows(book["Class"])}
    value = {row["Figure"]: row["Value"] for row in rows(shown["Class"])}
    assert formula["mean total"] == '=IF(COUNT(Marks!$O$2:$O$13)=0,"",AVERAGE(Marks!$O$2:$O$13))'
    assert value["mean total"] == 11.73
    assert value["mean for accuracy"] == 2.55
    assert value["robust mean"] == 0.10116


@pytest.mark.slow
def test_of_the_further_statistics_a_teacher_sees_those_that_say_something() -> None:
    tree = example_tree()
    group = {"grouping": "Bench", "name": "2", "n": 5, "effect_percent": -1.234, "shifted": True}
    tree["class"]["statistics"] = {
        "median": 0.10112,
        "repeatability_of_titre": 0.0462,
        "reference_test": {"verdict": "agrees"},
        "groups": [{"name": "Bench", "groups": [group, group | {"name": "3", "n": 1, "shifted": False}]}],
        "drift": None,
    }
    read = {row["Figure"]: row for row in rows(opened(marks_workbook(tree))["Class"])}
    assert (read["median"]["Value"], read["median"]["Unit"]) == (0.10112, "mol/dm³")
    assert (read["repeatability of a titre"]["Value"], read["repeatability of a titre"]["Unit"]) == (0.0462, "cm³")
    assert read["reference test"]["Remarks"] == "the reference and the class: agrees"
    assert (read["Bench 2"]["Value"], read["Bench 2"]["Unit"]) == (-1.234, "%")
    assert read["Bench 2"]["Remarks"] == "from the others; 5 students; more than scatter explains"
    assert read["Bench 3"]["Remarks"] == "from the others; 1 student; no more than scatter explains"


@pytest.mark.parametrize(
    ("sheets", "said"), [(["Results"], "class.csv, sheets: Results"), ([], "class.csv"), (["A", "B"], "class.csv, sheets: A and B")]
)  # fmt: skip
def test_what_was_read_is_named_with_its_sheets_where_it_has_any(sheets: list[str], said: str) -> None:
    tree = example_tree()
    tree["source"] |= {"file": "class.csv", "sheets": sheets}
    page = openpyxl.load_workbook(io.BytesIO(marks_workbook(tree)))["Class"]
    [row] = [each for each in page.iter_rows(values_only=True) if each[:2] == ("file", "read from")]
    assert said in row


def test_every_mark_stands_with_its_reason_and_cells(shown: Workbook) -> None:
    reasons = rows(shown["Reasons"])
    assert len(reasons) == 11 * 9
    assert reasons[13] == {
        "Number": 2,
        "Student": "S02",
        "Criterion": "selection",
        "Mark": 0,
        "Out of": 1,
        "Reason": "the mean takes in run 2, which lies 0.45 cm³ above the others",
        "Cells": "Results!F3, J3, N3",
        "Given by": "scheme",
        "By the scheme": None,
    }
    assert [row["Number"] for row in reasons if row["Given by"] == "teacher"] == [10]


def test_a_lost_mark_has_its_reason_in_a_note_and_a_full_one_has_none(book: Workbook) -> None:
    marks = book["Marks"]
    note = cell_under(marks, "selection /1", 3).comment
    assert note.text == "0 / 1: the mean takes in run 2, which lies 0.45 cm³ above the others"
    assert cell_under(marks, "accuracy /3", 3).comment is None
    assert cell_under(marks, "recording /1", 11).comment.text.startswith("1 / 1 (by the teacher): accepted")


def test_every_run_stands_with_what_became_of_it(shown: Workbook) -> None:
    runs = rows(shown["Runs"])
    assert len(runs) == 11 * 4
    assert runs[33] == {
        "Number": 10,
        "Student": "S10",
        "Run": 1,
        "Kind": "accurate",
        "Initial (cm³)": 24.6,
        "Final (cm³)": 1,
        "Titre (cm³)": 26.4,
        "Written titre (cm³)": 26.4,
        "In the mean": "no",
        "Own tick": "no",
        "Likely titre (cm³)": 25.4,
        "Why": "1.05 above the others",
        "Cells": "Results!F11, G11, H11, I11",
        "Use": None,
        "Initial is": None,
        "Final is": None,
    }


def test_every_finding_stands_with_its_evidence_those_about_the_class_first(shown: Workbook) -> None:
    findings = rows(shown["Findings"])
    assert [row["Finding"] for row in findings][:3] == ["group-shift", "common-fault", "not-concordant"]
    assert len(findings) == 2 + sum(len(one["findings"]) for one in example_tree()["students"])
    assert findings[3] | {"What was seen": None} == {
        "Number": 2,
        "Student": "S02",
        "Run": 2,
        "Finding": "overshoot",
        "Level": "check",
        "Probability": 0.93,
        "What was seen": None,
        "What would tell": None,
        "Cells": "Results!K3, L3",
        "Aside": None,
        "Key": None,
    }


@pytest.mark.slow
def test_what_would_tell_a_claim_from_its_alternatives_stands_beside_it() -> None:
    tree = example_tree()
    tree["students"][1]["findings"][0]["evidence"]["check"] = "colour left in the flask"
    assert rows(opened(marks_workbook(tree))["Findings"])[3]["What would tell"] == "colour left in the flask"


def test_a_reading_shows_the_digits_that_were_written(book: Workbook) -> None:
    runs = book["Runs"]
    written = [cell_under(runs, "Final (cm³)", row) for row in (3, 20)]
    # 25.2 was written with one decimal: the missing digit is what the student lost a mark for
    assert [(cell.value, cell.number_format) for cell in written] == [(25.35, "0.00"), (25.2, "0.0")]
    marks = book["Marks"]
    assert [cell_under(marks, header, 2).number_format for header in HEADERS[21:26]] == [
        *("0.00", "0.00000", "0.00000", "+0.0;-0.0;0.0", "+0.00;-0.00;0.00")
    ]  # fmt: skip


def test_the_result_shows_the_second_figure_of_its_uncertainty() -> None:
    tree = example_tree()
    assert result_decimals(tree) == 5  # expanded uncertainty 0.00062
    for one in tree["students"]:
        one["result"] = one["result"] and one["result"] | {"expanded_uncertainty": None}
    assert result_decimals(tree) == 4  # four figures of 0.1011
    for one in tree["students"]:
        one["result"] = one["result"] and one["result"] | {"value": 152.3}
    assert result_decimals(tree) == 1


# What students wrote.

NASTY = {
    "=1+1": "=1+1",
    "=cmd|' /C calc'!A0": "=cmd|' /C calc'!A0",
    "+1": "+1",
    "-1": "-1",
    "@SUM(A1)": "@SUM(A1)",
    "#N/A": "#N/A",
    "TRUE": "TRUE",
    "12": "12",
    "2026-11-24": "2026-11-24",
    "'quoted": "'quoted",
    "bell\x07 null\x00": "bell null",
    "half \ud83d": "half ",
    "line\r\nbreak": "line\nbreak",
    "😀" * 20_000: "😀" * 16_000,
    "<b>&amp;": "<b>&amp;",
}
"""What a student may write in place of a name -> what stands in the cell, as text."""


@pytest.mark.parametrize(("written", "text"), few_quick(NASTY.items(), 20), ids=lambda text: ascii(text[:20]))
def test_what_a_student_wrote_is_text_and_nothing_else(written: str, text: str) -> None:
    tree = example_tree()
    student = tree["students"][0]
    student |= {"student": written, "notes": [written], "groups": {"Bench": written, written: "1"}}
    student["findings"][0] |= {"message": written, "cells": [written]}
    student["marks"][0] |= {"reason": written, "mark": 0, "cells": [written]}
    student["runs"][0] |= {"label": written, "why": written}
    tree["practical"] |= {"title": written, "indicator": written}
    book = opened(marks_workbook(tree))
    for sheet, row in (("Marks", 2), ("Reasons", 2), ("Runs", 2), ("Findings", 4)):
        cell = cell_under(book[sheet], "Student", row)
        assert (cell.value, cell.data_type) == (text, "s")
    allowed = ("=SUM(", "=IF(OR(COUNT(", "=IF(COUNT(", "=IF(SUMPRODUCT(")
    for page in book:
        for cell in (cell for row in page.iter_rows() for cell in row):
            assert cell.data_type != "e"
            assert cell.data_type != "f" or cell.value.startswith(allowed), (page.title, cell.coordinate)


def test_what_looks_like_an_escape_of_the_file_format_stays_as_written() -> None:
    """A reader of the format turns _x0041_ into A unless its own mark of escape is escaped (ECMA-376, ST_Xstring)."""
    tree = example_tree()
    tree["students"][0]["student"] = "_x0041_ and _x00e9_"
    with zipfile.ZipFile(io.BytesIO(marks_workbook(tree))) as archive:
        sheet = archive.read("xl/worksheets/sheet1.xml").decode()
    assert "<t>_x005F_x0041_ and _x005F_x00e9_</t>" in sheet


def test_headers_that_would_stand_twice_are_told_apart() -> None:
    tree = example_tree()
    for one in tree["students"]:
        one["groups"] = {"Student": "a", "Group\nresult": "b", "GROUP result": "c", " ": "d"}
    headers = [cell.value for cell in opened(marks_workbook(tree))["Marks"][1]]
    assert headers[:8] == [
        "Number",
        "Student",
        "Attention",
        "Why",
        "Student (2)",
        "Group result",
        "GROUP result (2)",
        "unnamed",
    ]
    assert len({header.casefold() for header in headers}) == len(headers)


def test_numbers_have_the_digits_that_are_meant(book: Workbook) -> None:
    assert meant(0.9420000000000001) == 0.942
    assert meant(0.1 + 0.2) == 0.3
    assert meant(7) == 7
    written = [cell.value for page in book for row in page.iter_rows() for cell in row]
    assert [value for value in written if isinstance(value, float) and len(repr(value)) > 16] == []


# The look, and what the teacher can do.


def test_what_is_printed_of_the_marks_fits_a4_with_letters_of_8_points_or_more(book: Workbook) -> None:
    page = book["Marks"]
    first, last = page.print_area.replace("$", "").removeprefix("'Marks'!").split(":")
    assert (first, cell_under(page, "Changed", 13).coordinate) == ("A1", last)
    columns = (letters(n) for n in range(1, column_index_from_string(last.rstrip("0123456789")) + 1))
    inches = sum(page.column_dimensions[each].width for each in columns) * 7 / 96  # a figure of Calibri 11 is 7 pixels
    assert 11 * min(1, (11.69 - 1.0) / inches) >= 8


def test_every_sheet_is_a_table_with_a_header_in_sight_and_no_merged_cells(book: Workbook) -> None:
    for page in book:
        (table,) = page.tables.values()
        assert table.ref == page.dimensions
        assert [column.name for column in table.tableColumns] == [cell.value for cell in page[1]]
        assert table.autoFilter is not None
        assert page.freeze_panes == ("A2" if page.title in ("Class", "Legend") else "C2")
        assert not page.merged_cells.ranges
    assert len({table.id for page in book for table in page.tables.values()}) == len(SHEETS)


def test_every_sheet_prints_as_wide_as_the_paper_with_its_header_on_each_page(book: Workbook) -> None:
    for page in book:
        assert page.page_setup.orientation == "landscape"
        assert (page.sheet_properties.pageSetUpPr.fitToPage, page.page_setup.fitToHeight) == (True, 0)
        assert page.print_title_rows == "$1:$1"
        assert page.oddFooter.left.text == f"{page.title}: Strength of a drain cleaner (invented)"


def test_what_would_print_too_small_to_read_goes_on_to_a_page_beside_it(book: Workbook) -> None:
    pages = {}
    for page in book:
        last = range_boundaries((page.print_area or page.dimensions).rpartition("!")[2])[2]
        columns = (page.column_dimensions[letters(place)] for place in range(1, last + 1))
        pages[page.title] = page.page_setup.fitToWidth
        assert sum(each.width for each in columns if not each.hidden) <= 190 * pages[page.title]
        assert (page.print_title_cols is not None) == (pages[page.title] > 1)
    assert pages["Findings"] == 2
    assert book["Findings"].print_title_cols == "$A:$B"


def test_columns_are_wide_enough_for_what_is_not_wrapped(book: Workbook) -> None:
    for page in book:
        for column in page.iter_cols():
            width = page.column_dimensions[letters(column[0].column)].width
            texts = [
                str(cell.value) for cell in column[1:] if cell.value is not None and not str(cell.value).startswith("=")
            ]
            short = [text for text in texts if not isinstance(column[0].value, str) or len(text) < 12]
            assert all(len(text) <= width for text in short), (page.title, column[0].value)


def test_rows_are_high_enough_for_wrapped_text(book: Workbook) -> None:
    page = book["Findings"]
    width = page.column_dimensions["G"].width
    for row in range(2, page.max_row + 1):
        lines = -(-len(page.cell(row, 7).value) // (1.2 * width))
        assert (page.row_dimensions[row].height or 15) >= 15 * lines


def test_the_row_of_a_digest_is_high_enough_for_all_its_figures(book: Workbook) -> None:
    page = book["Class"]
    (row,) = [each for each in page.iter_rows() if each[1].value == "sha256"]
    assert len(str(row[4].value)) > page.column_dimensions["E"].width - 1
    assert page.row_dimensions[row[0].row].height >= 30


def test_only_marks_from_nought_to_the_greatest_can_be_typed(book: Workbook) -> None:
    rules = {str(rule.sqref): rule for rule in book["Marks"].data_validations.dataValidation}
    assert set(rules) == {f"{letters(n)}2:{letters(n)}13" for n in (*range(6, 15), 19)}
    rule = rules["N2:N13"]
    assert rule.allowBlank  # a mark may be taken away
    assert rule.formula1 == "AND(ISNUMBER(N2),N2>=0,N2<=3,MOD(N2*2,1)=0)"
    assert (rule.type, rule.showErrorMessage, rule.error) == (
        "custom",
        True,
        "A mark for accuracy is 0 to 3, whole or halves.",
    )


def test_marks_as_first_given_stand_in_hidden_columns(book: Workbook) -> None:
    page = book["Marks"]
    hidden = [cell.value for cell in page[1] if page.column_dimensions[letters(cell.column)].hidden]
    assert hidden == [f"{name}, as marked" for name in SCHEME]


def test_nothing_is_told_by_colour_alone(book: Workbook) -> None:
    rules = [rule for page in book for part in page.conditional_formatting for rule in part.rules]
    assert len(rules) == 9 * 2 + 2 + 2
    assert all(rule.dxf.font.b or rule.dxf.font.u for rule in rules)


def test_nothing_outside_the_file_is_referred_to(example: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(example)) as archive:
        names = archive.namelist()
        relations = b"".join(archive.read(name) for name in names if name.endswith(".rels"))
    assert b"External" not in relations
    assert not [name for name in names if "externalLink" in name or "vbaProject" in name]


# Odd classes.


@pytest.mark.slow
def test_a_class_without_a_marking_scheme_has_no_columns_of_marks() -> None:
    tree = example_tree()
    for one in tree["students"]:
        one |= {"marks": [], "total": 0}
    tree["class"]["marks"] = {"mean": None, "out_of": 0, "by_criterion": []}
    headers = [cell.value for cell in opened(marks_workbook(tree))["Marks"][1]]
    assert headers == [*HEADERS[:5], *HEADERS[18:28]]


@pytest.mark.slow
def test_a_class_without_findings_says_so() -> None:
    tree = example_tree()
    for one in (*tree["students"], tree["class"]):
        one["findings"] = []
    assert [row["What was seen"] for row in rows(opened(marks_workbook(tree))["Findings"])] == ["Nothing was found."]


def test_a_class_without_students_still_opens() -> None:
    tree = example_tree()
    tree["students"] = []
    tree["class"]["marks"] = {"mean": None, "out_of": 0, "by_criterion": []}
    assert opened(marks_workbook(tree))["Marks"].tables["MarksTable"].ref == "A1:N2"


def test_a_criterion_that_stands_twice_has_two_columns() -> None:
    tree = example_tree()
    for one in tree["students"]:
        one["marks"] = one["marks"] and [*one["marks"], one["marks"][-1] | {"mark": 1, "out_of": 2}]
    tree["class"]["marks"]["by_criterion"].append(
        {"criterion": "accuracy", "title": "accuracy", "out_of": 2, "of": 11, "full": 0, "mean": 1.0, "pending": 0}
    )
    read = rows(opened(marks_workbook(tree))["Marks"])[0]
    assert (read["accuracy /3"], read["accuracy (2) /2"]) == (3, 1)


def with_waiting_accuracy() -> dict[str, Any]:
    """Return the example with grades, where the first student's mark for accuracy waits."""
    tree = example_tree()
    tree["practical"]["grades"] = [{"at_least": Decimal(90), "grade": "A"}, {"at_least": Decimal(0), "grade": 'B "+"'}]
    one = tree["students"][0]
    one["marks"][-1] |= {"mark": None, "pending": True, "reason": "The reference is being checked."}
    one |= {"total": 10, "out_of": 10, "grade": None}
    tree["students"][1]["grade"] = "A"
    return tree


def test_a_mark_that_waits_is_a_blank_cell_that_says_so_and_counts_in_no_total() -> None:
    book = opened(marks_workbook(with_waiting_accuracy()), values=True)
    first, second = rows(book["Marks"])[:2]
    names = ("accuracy /3", "Total", "Out of", "Grade", "Being checked")
    assert [first[name] for name in names] == [None, 10, 10, None, "accuracy (3)"]
    assert [second[name] for name in names] == [3, 12, 13, "A", None]
    note = cell_under(book["Marks"], "accuracy /3", 2).comment.text
    assert note == "being checked (3): The reference is being checked."
    assert rows(book["Reasons"])[8]["Mark"] == "being checked"


def test_names_are_made_unique_with_numbers() -> None:
    assert unique(["a", "A", "a (2)", " b\nc ", "", "a\x07"]) == ["a", "A (2)", "a (2) (2)", "b c", "unnamed", "a (3)"]


@pytest.mark.parametrize(
    ("written", "value"),
    [("3", 3), ("10", 10), ("0", 0), ("007", "007"), ("1.0", "1.0"), ("-1", "-1"), ("²", "²"), ("", ""), (None, None)],
)
def test_a_plain_counting_number_as_a_label_is_a_number_and_sorts_as_one(written: str | None, value: Any) -> None:
    assert counted(written) == value


@pytest.mark.parametrize(("place", "text"), [(1, "A"), (26, "Z"), (27, "AA"), (702, "ZZ"), (703, "AAA")])
def test_columns_are_lettered(place: int, text: str) -> None:
    assert letters(place) == text


# Same input, same bytes.


def test_nothing_in_the_file_tells_when_or_where_it_was_written(example: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(example)) as archive:
        entries = archive.infolist()
        assert {(entry.date_time, entry.create_system, entry.external_attr) for entry in entries} == {
            (EPOCH, 3, 0o600 << 16)
        }
        core = archive.read("docProps/core.xml").decode()
    assert set(re.findall(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]+", core)) == {"1980-01-01T00:00:00"}


def test_no_sheet_of_students_stands_in_a_temporary_file_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", "/nowhere to write")
    marks_workbook(example_tree())


@pytest.mark.slow
@pytest.mark.parametrize("setting", [{"PYTHONHASHSEED": "1"}, {"PYTHONHASHSEED": "2"}])
def test_another_process_writes_the_same_bytes(setting: dict[str, str]) -> None:
    program = "import sys; from tests.test_workbook import nasty_book; sys.stdout.buffer.write(nasty_book())"
    command = [sys.executable, "-c", program]
    other = subprocess.run(command, capture_output=True, check=True, env={**os.environ, **setting})
    assert other.stdout == nasty_book()


def nasty_book() -> bytes:
    """Return the workbook of the example with every nasty name in it."""
    tree = example_tree()
    for one, (name, number) in zip(tree["students"] * 2, ((name, n) for n, name in enumerate(NASTY)), strict=False):
        one |= {"student": name, "number": number}
        one["groups"] = {"Bench": name, f"<{number}> & \"'": name}
        one["notes"] = [name, " two  spaces ", "a > b / > c />"]
    return marks_workbook(tree)


# In a spreadsheet program.

CSV_OF_EVERY_SHEET = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"


Calculated = dict[str, dict[str, list[dict[str, str]]]]


@pytest.fixture(scope="module")
def calculated(tmp_path_factory: pytest.TempPathFactory) -> Calculated:
    """Return name -> sheet -> rows of workbooks as a spreadsheet program works them out, from formulas alone."""
    folder = tmp_path_factory.mktemp("calculated")
    books = {name: opened(marks_workbook(example_tree())) for name in ("as it is", "changed")}
    cell_under(books["changed"]["Marks"], "accuracy /3", 12).value = 2.5
    cell_under(books["changed"]["Marks"], "recording /1", 8).value = 1  # the absent student, marked by hand
    books |= {name: opened(marks_workbook(with_waiting_accuracy())) for name in ("waiting", "typed")}
    cell_under(books["typed"]["Marks"], "accuracy /3", 2).value = 1
    for name, book in books.items():
        book.save(folder / f"{name}.xlsx")  # this drops the values that stand beside the formulas
    converted([folder / f"{name}.xlsx" for name in books], CSV_OF_EVERY_SHEET, folder)
    return {
        name: {
            sheet: list(csv.DictReader((folder / f"{name}-{sheet}.csv").open(encoding="utf-8", newline="")))
            for sheet in SHEETS
        }
        for name in books
    }


@pytest.mark.slow
@needs_office
def test_a_spreadsheet_program_works_out_the_values_that_stand_in_the_file(calculated: Calculated) -> None:
    sheets = calculated["as it is"]
    totals = [str(one["total"]) if one["marks"] else "" for one in example_tree()["students"]]
    assert [row["Total"] for row in sheets["Marks"]] == totals
    assert [row["Out of"] for row in sheets["Marks"]] == ["13" if total else "" for total in totals]
    assert [row["Student"] for row in sheets["Marks"] if row["Changed"]] == ["S10"]
    means = [float(row["Value"]) for row in sheets["Class"] if row["About"] == "marks"]
    expected = example_tree()["class"]["marks"]
    parts = [part["mean"] for part in expected["by_criterion"]]
    assert means == pytest.approx([expected["mean"], *parts], abs=0.005)  # the example has them to two decimals


@pytest.mark.slow
@needs_office
def test_in_a_spreadsheet_program_the_total_and_the_means_follow_a_changed_mark(calculated: Calculated) -> None:
    sheets = calculated["changed"]
    assert [(row["Total"], row["Changed"]) for row in sheets["Marks"]][5:] == [
        ("8", ""),
        ("1", "changed"),
        ("12", ""),
        ("13", ""),
        ("13", "changed"),
        ("12.5", "changed"),
        ("13", ""),
    ]
    (mean,) = [float(row["Value"]) for row in sheets["Class"] if row["Figure"] == "mean for accuracy"]
    assert mean == pytest.approx((9 * 3 + 1 + 2.5) / 11)


@pytest.mark.slow
@needs_office
def test_in_a_spreadsheet_program_a_mark_typed_where_one_waited_counts_and_brings_the_grade(
    calculated: Calculated,
) -> None:
    before = calculated["waiting"]["Marks"][0]
    assert (before["Total"], before["Out of"], before["Grade"]) == ("10", "10", "")
    after = calculated["typed"]["Marks"][0]
    # 11 of 13 is 84.6 %.
    assert (after["Total"], after["Out of"], after["Grade"], after["Changed"]) == ("11", "13", 'B "+"', "changed")
