"""What a workbook holds beside plain values: formulas, dates, fonts, hidden and merged cells, comments, dialects."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.comments import Comment
from openpyxl.styles import Font

from labmark import pipeline
from labmark.practical.rows import rows_of
from labmark.problems import InputError
from labmark.read import read_class, read_practical_sheet
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.layouts import CLASS, VARIANTS, put, wide
from tests.practicals import DRAIN_CLEANER

HEADER = [
    "Student",
    "Run 1 initial",
    "Run 1 final",
    "Run 1 titre",
    "Run 1 used",
    "Run 2 initial",
    "Run 2 final",
    "Mean titre",
    "Result",
]
ROWS = [
    HEADER,
    ["S01", "0.00", "24.40", "24.40", "y", "0.10", "24.50", "24.40", "0.0976"],
    ["S02", "0.00", "24.30", "24.30", "y", "0.20", "24.50", "24.30", "0.0972"],
    ["S03", "0.00", "24.50", "24.50", "y", "0.00", "24.40", "24.45", "0.0978"],
]


def class_of(
    folder: Path, change: Callable[[Any], None] | None = None, rows: list[list[str]] = ROWS, **how: Any
) -> ClassSheet:
    """Read ROWS as a workbook, after a change to its sheet."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Results"
    put(sheet, rows)
    if change:
        change(sheet)
    book.save(folder / "class.xlsx")
    return read_class(folder / "class.xlsx", **how)


def edit_parts(path: Path, change: Callable[[str, bytes], bytes | None]) -> Path:
    """Rewrite the parts of a workbook, as another program might have written them."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            new = change(name, data)
            if new is not None:
                archive.writestr(name, new)
    return path


def run(sheet: ClassSheet, student: int, label: str) -> dict[str, Any]:
    return next(row for row in runs_of(sheet).rows() if (row["student"], row["label"]) == (student, label))


def test_a_formula_without_a_stored_result_is_no_blank_cell(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("D2", "=C2-B2"))
    assert run(sheet, 0, "1")["titre"] is None
    assert run(sheet, 0, "1")["odd"] == {"titre": "formula never calculated"}
    assert "recalculate and save" in sheet.ledger.rejected["Results!D2"]


def test_a_formula_with_a_stored_result_is_that_result(tmp_path: Path) -> None:
    class_of(tmp_path, lambda ws: ws.__setitem__("D2", "=C2-B2"))
    path = edit_parts(
        tmp_path / "class.xlsx",
        lambda name, data: re.sub(rb"<f>C2-B2</f><v\s*/?>(</v>)?", b"<f>C2-B2</f><v>24.399999999999999</v>", data),
    )
    assert run(read_class(path), 0, "1")["titre"] == 24_400


def test_a_formula_that_shows_nothing_is_ignored_as_such(tmp_path: Path) -> None:
    class_of(tmp_path, lambda ws: ws.__setitem__("D2", '=IF(C2="","",C2-B2)'))
    path = edit_parts(
        tmp_path / "class.xlsx", lambda name, data: re.sub(rb'<c r="D2"([^>]*)>', rb'<c r="D2"\1 t="str">', data)
    )
    sheet = read_class(path)
    assert run(sheet, 0, "1")["titre"] is None
    assert "Results!D2" in sheet.ledger.ignored


def test_zeros_that_a_writer_stored_for_formulas_it_did_not_calculate_are_no_results(tmp_path: Path) -> None:
    import xlsxwriter

    book = xlsxwriter.Workbook(str(tmp_path / "class.xlsx"))
    sheet = book.add_worksheet("Results")
    for at, row in enumerate(ROWS):
        for column, text in enumerate(row):
            if at and column == 3:
                sheet.write_formula(at, column, f"=C{at + 1}-B{at + 1}")
            elif re.fullmatch(r"[\d.]+", text):
                sheet.write_number(at, column, float(text))
            else:
                sheet.write_string(at, column, text)
    book.close()
    read = read_class(tmp_path / "class.xlsx")
    assert set(runs_of(read)["titre"]) == {None}
    assert sorted(read.ledger.rejected) == ["Results!D2", "Results!D3", "Results!D4"]


def test_an_error_cell_is_named_and_costs_only_itself(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["H2"].value = "#DIV/0!"
        ws["H2"].data_type = "e"

    sheet = class_of(tmp_path, change)
    assert students_of(sheet)["mean"][0] is None
    assert students_of(sheet)["odd"][0] == {"mean": "#DIV/0!"}
    assert "#DIV/0!" in sheet.ledger.rejected["Results!H2"]
    assert run(sheet, 0, "1")["final"] == 24_400


def test_a_number_that_became_a_date_is_rejected_with_its_likely_reading(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("C2", dt.datetime(2026, 5, 22)))
    assert run(sheet, 0, "1")["final"] is None
    assert "likely 22.5" in sheet.ledger.rejected["Results!C2"]
    assert "2026-05-22" in sheet.ledger.rejected["Results!C2"]
    assert run(sheet, 0, "1")["odd"]["final"] == "a date (22 May)"


def test_decimals_come_from_the_number_format_and_a_general_cell_tells_none(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["B2"].number_format, ws["C2"].number_format = "0.0", "General"

    sheet = class_of(tmp_path, change)
    first = run(sheet, 0, "1")
    assert first["initial_decimals"] is None  # the format cannot keep a second decimal that was typed
    assert first["final_decimals"] is None
    assert first["titre_decimals"] == 2
    assert sum("General" in note for note in sheet.notes) == 1


def test_a_number_in_a_scientific_format_is_what_it_shows(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["C2"].value, ws["C2"].number_format = 24.4137, "0.00E+00"

    first = run(class_of(tmp_path, change), 0, "1")
    assert (first["final"], first["final_decimals"]) == (24_400, None)


def test_a_number_stored_as_text_keeps_the_decimals_that_were_typed(tmp_path: Path) -> None:
    first = run(class_of(tmp_path, lambda ws: ws.__setitem__("C2", "24.4")), 0, "1")
    assert (first["final"], first["final_decimals"]) == (24_400, 1)


def test_a_struck_out_run_is_a_discard(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["D2"].font = Font(strike=True)

    sheet = class_of(tmp_path, change)
    assert [run(sheet, 0, label)["struck"] for label in ("1", "2")] == [True, False]
    assert run(sheet, 0, "1")["titre"] == 24_400


def test_a_reading_that_was_struck_out_and_written_again_counts_as_the_new_one(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["C2"].value = CellRichText(TextBlock(InlineFont(strike=True), "22.90"), TextBlock(InlineFont(), " 24.40"))

    sheet = class_of(tmp_path, change)
    assert run(sheet, 0, "1")["final"] == 24_400
    assert any("'22.90' is struck out" in note for note in students_of(sheet)["notes"][0])


@pytest.mark.parametrize("align", ["superscript", "subscript"])
def test_a_raised_or_lowered_figure_behind_a_reading_is_a_remark(tmp_path: Path, align: str) -> None:
    def change(ws: Any) -> None:
        ws["C2"].value = CellRichText("24.40", TextBlock(InlineFont(vertAlign=align), "1"))

    sheet = class_of(tmp_path, change)
    assert (run(sheet, 0, "1")["final"], run(sheet, 0, "1")["final_decimals"]) == (24_400, 2)
    assert any("24.40¹" in note for note in students_of(sheet)["notes"][0])


@pytest.mark.parametrize("position", ["super 58%", "sub 58%", "33% 58%"])
def test_a_raised_or_lowered_figure_in_an_opendocument_sheet_is_a_remark_too(tmp_path: Path, position: str) -> None:
    from odf import opendocument, style
    from odf.table import Table, TableCell, TableRow
    from odf.text import P, Span

    document = opendocument.OpenDocumentSpreadsheet()
    raised = style.Style(name="T1", family="text")
    raised.addElement(style.TextProperties(textposition=position))
    document.automaticstyles.addElement(raised)
    table = Table(name="Results")
    for texts in (["Student", "Run 1 initial", "Run 1 final"], ["S01", "0.00", "24.40"]):
        row = TableRow()
        for text in texts:
            cell, paragraph = TableCell(valuetype="string"), P(text=text)
            if text == "24.40":
                paragraph.addElement(Span(stylename="T1", text="1"))
            cell.addElement(paragraph)
            row.addElement(cell)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    document.save(str(tmp_path / "class.ods"))
    sheet = read_class(tmp_path / "class.ods")
    assert list(runs_of(sheet)["final"]) == [24_400]
    assert any("24.40¹" in note for note in students_of(sheet)["notes"][0])


def test_rich_text_in_a_header_is_read_as_text(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["D1"].value = CellRichText("Run 1 titre / cm", TextBlock(InlineFont(vertAlign="superscript"), "3"))

    assert run(class_of(tmp_path, change), 0, "1")["titre"] == 24_400


def test_comments_become_notes_for_the_teacher(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["C3"].comment = Comment("flask was rinsed\nwith alkali", "teacher")
        ws["A9"].comment = Comment("ask about bench 2", "teacher")

    sheet = class_of(tmp_path, change)
    assert students_of(sheet)["notes"][1] == ("comment in Results!C3: flask was rinsed with alkali",)
    assert any("ask about bench 2" in note for note in sheet.notes)


def test_hidden_rows_and_columns_are_read_and_said(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws.row_dimensions[3].hidden = ws.row_dimensions[4].hidden = True
        ws.column_dimensions["D"].hidden = True

    sheet = class_of(tmp_path, change)
    assert list(students_of(sheet)["student"]) == ["S01", "S02", "S03"]
    assert any("rows 3-4 are hidden" in note for note in sheet.notes)
    assert any("column D is hidden" in note for note in sheet.notes)


def test_a_hidden_sheet_is_not_read_and_that_is_said(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        other = ws.parent.create_sheet("Old")
        put(other, ROWS)
        other.sheet_state = "veryHidden"

    sheet = class_of(tmp_path, change)
    assert len(sheet.students) == 3
    assert sheet.ledger.ignored["Old!A2"] == "the sheet is hidden"
    assert any("Old is hidden" in note for note in sheet.notes)


def test_a_merged_cell_speaks_for_all_it_covers_in_names_and_never_in_readings(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.merge_cells("C2:C3"))
    assert run(sheet, 0, "1")["final"] == 24_400
    assert run(sheet, 1, "1")["final"] is None


def test_sheets_are_picked_by_name_and_all_are_read_without_one(tmp_path: Path) -> None:
    path = VARIANTS["two classes"](tmp_path)
    assert list(students_of(read_class(path, sheets=["11B"]))["student"]) == [student.name for student in CLASS[3:]]
    assert read_class(path).sheets == ("11A", "11B")
    assert students_of(read_class(path))["cells"][3]["student"] == "11B!A2"
    with pytest.raises(InputError, match="no sheet called '11C'; choose from: 11A, 11B"):
        read_class(path, sheets=["11C"])


def test_one_name_in_two_classes_stays_two_students(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        put(ws.parent.create_sheet("11B"), ROWS)

    assert list(students_of(class_of(tmp_path, change))["student"]) == [
        "S01 (Results)",
        "S02 (Results)",
        "S03 (Results)",
        "S01 (11B)",
        "S02 (11B)",
        "S03 (11B)",
    ]


def test_one_name_on_two_sheets_of_that_name_is_told_apart_by_these(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for name, final in (("Tom Smith", 25.30), ("Tom Smith (2)", 25.35), ("Ann Lee", 25.40)):
        page = book.create_sheet(name)
        for line in (
            ("Student", name.partition(" (")[0]),
            ("Run", 1, 2),
            ("Initial", 0.5, 0.5),
            ("Final", final, 25.8),
        ):
            page.append(line)
    del book["Sheet"]
    book.save(tmp_path / "class.xlsx")
    students = students_of(read_class(tmp_path / "class.xlsx"))["student"]
    assert list(students) == ["Tom Smith", "Tom Smith (2)", "Ann Lee"]


def test_a_second_attempt_is_kept_beside_the_first_and_both_say_so(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("A3", "S01"))
    assert list(students_of(sheet)["student"]) == ["S01", "S01 (2)", "S03"]
    assert all("two attempts, or two people?" in " ".join(students_of(sheet)["notes"][at]) for at in (0, 1))


def test_a_row_that_was_pasted_twice_is_refused_with_both_cells(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"class\.xlsx, sheet Results, cell A4: 'S02' is the same as in A3, cell by cell; delete"
    ):
        class_of(tmp_path, rows=[*ROWS[:3], ROWS[2]])


def test_students_with_a_name_alone_or_marked_absent_are_absent(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, rows=[*ROWS, ["S04"], ["S05", "absent"], ["S06", "-", "-"]])
    assert list(students_of(sheet)["absent"]) == [False, False, False, True, True, True]
    assert "says that there is nothing" in sheet.ledger.ignored["Results!B6"]


@pytest.mark.parametrize(
    "name", ["None", "NA", "nan", "Max", "Min", "001", "007", "1", "Null", "TRUE", "Fin", "Ende", "Nota", "Rapide"]
)
def test_no_name_is_lost_whatever_word_it_is(tmp_path: Path, name: str) -> None:
    def change(ws: Any) -> None:
        ws["A3"].value = name
        ws["A3"].data_type = "s"

    assert list(students_of(class_of(tmp_path, change))["student"]) == ["S01", name, "S03"]


def test_surname_and_forename_columns_make_one_name(tmp_path: Path) -> None:
    rows = [["Surname", "First name", *HEADER[1:]], ["Marlow", "Ada", *ROWS[1][1:]], ["Okoro", "Ben", *ROWS[2][1:]]]
    assert list(students_of(class_of(tmp_path, rows=rows))["student"]) == ["Marlow, Ada", "Okoro, Ben"]


def test_a_run_begun_but_not_ended_stays_a_run(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("G2", None))
    second = run(sheet, 0, "2")
    assert second["initial"] == 100
    assert second["final"] is None
    assert set(second["cells"]) == {"initial"}


def test_a_run_without_any_cell_is_no_run(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["F2"].value = ws["G2"].value = None

    sheet = class_of(tmp_path, change)
    assert [row["label"] for row in runs_of(sheet).rows() if row["student"] == 0] == ["1"]


def test_a_reading_off_the_scale_is_still_a_number(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("C2", 2440))
    assert run(sheet, 0, "1")["final"] == 2_440_000
    assert not sheet.ledger.rejected


def test_a_decimal_point_that_may_be_lost_is_said_where_the_burette_is_known(tmp_path: Path) -> None:
    change = lambda ws: ws.__setitem__("C2", 2440)  # noqa: E731
    note = "Results!C2: 2440 is beyond the burette; a decimal point may be lost (likely 24.40)"
    assert note in class_of(tmp_path, change, capacity=50_000).notes
    assert note not in class_of(tmp_path, change).notes


def test_two_digits_beyond_the_burette_are_those_of_a_larger_one(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("C2", 60), capacity=50_000)
    assert not [note for note in sheet.notes if "decimal point" in note]


def test_an_x_is_a_tick_unless_the_same_student_ticks_otherwise_too(tmp_path: Path) -> None:
    header = [*HEADER[:7], "Run 2 used"]
    rows = [header, ["S01", *ROWS[1][1:4], "x", *ROWS[1][5:7], ""], ["S02", *ROWS[2][1:4], "✓", *ROWS[2][5:7], "x"]]
    sheet = class_of(tmp_path, rows=rows)
    assert list(runs_of(sheet)["ticked"]) == [True, False, None, None]
    assert list(sheet.ledger.rejected) == ["Results!H3"]


def test_groupings_are_bench_bottle_group_columns_and_the_practical_s_own(tmp_path: Path) -> None:
    rows = [
        ["Student", "Bench", "Bottle", "Group colour", "Acid batch", *HEADER[1:]],
        ["S01", "3", "A", "red", "K7", *ROWS[1][1:]],
    ]
    assert students_of(class_of(tmp_path, rows=rows, group_by="acid batch"))["groups"][0] == {
        "Bench": "3",
        "Bottle": "A",
        "Group colour": "red",
        "acid batch": "K7",
    }
    assert students_of(class_of(tmp_path, rows=rows))["groups"][0] == {
        "Bench": "3",
        "Bottle": "A",
        "Group colour": "red",
    }


def test_the_column_that_chooses_the_reference_is_found_whatever_its_capitals(tmp_path: Path) -> None:
    practical = tmp_path / "practical.toml"
    by_batch = 'by = "acid batch"\nvalues = { K7 = 0.0974, K8 = 0.1010 }'
    practical.write_text(DRAIN_CLEANER.replace("value = 0.0974", by_batch), encoding="utf-8")
    rows = [["Student", "Acid Batch", *HEADER[1:7]], ["S01", "K7", *ROWS[1][1:7]], ["S02", "K8", *ROWS[2][1:7]]]
    class_of(tmp_path, rows=rows)
    tree = pipeline.tree_of(*pipeline.read(tmp_path / "class.xlsx", str(practical), ()))
    assert [one["reference"]["value"] for one in tree["students"]] == [0.0974, 0.1010]


def test_a_declared_size_of_a_million_rows_is_not_believed(tmp_path: Path) -> None:
    class_of(tmp_path)
    path = edit_parts(
        tmp_path / "class.xlsx",
        lambda name, data: re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1:XFD1048576"', data),
    )
    assert len(read_class(path).students) == 3


def test_a_cell_far_away_is_accounted_for_and_costs_nothing(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: ws.__setitem__("XFD1048576", "made with care"))
    assert len(sheet.students) == 3
    assert "Results!XFD1048576" in sheet.ledger.ignored


def test_a_workbook_of_the_strict_kind_is_read(tmp_path: Path) -> None:
    class_of(tmp_path)
    strict = (
        (
            b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
            b"http://purl.oclc.org/ooxml/spreadsheetml/main",
        ),
        (
            b"http://schemas.openxmlformats.org/officeDocument/2006/relationships",
            b"http://purl.oclc.org/ooxml/officeDocument/relationships",
        ),
    )

    def change(name: str, data: bytes) -> bytes:
        for usual, other in strict:
            data = data.replace(usual, other)
        return data

    assert len(read_class(edit_parts(tmp_path / "class.xlsx", change)).students) == 3


def test_a_fill_pattern_nobody_knows_costs_nothing(tmp_path: Path) -> None:
    class_of(tmp_path)

    def change(name: str, data: bytes) -> bytes:
        return (
            data.replace(b"<patternFill", b'<patternFill patternType="tartan"', 1) if name == "xl/styles.xml" else data
        )

    assert list(runs_of(read_class(edit_parts(tmp_path / "class.xlsx", change)))["final_decimals"]) == [2] * 6


def test_a_stylesheet_that_cannot_be_read_costs_the_formats_only(tmp_path: Path) -> None:
    class_of(tmp_path)
    path = edit_parts(tmp_path / "class.xlsx", lambda name, data: data[:-40] if name == "xl/styles.xml" else data)
    sheet = read_class(path)
    assert list(runs_of(sheet)["final"]) == [24_400, 24_500, 24_300, 24_500, 24_500, 24_400]
    assert set(runs_of(sheet)["final_decimals"]) == {None}
    assert any("formats of this workbook could not be read" in note for note in sheet.notes)


def test_the_practical_sheet_is_no_class_sheet_and_its_cells_are_accounted_for(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        practical = ws.parent.create_sheet("Practical")
        for row in (
            ["What", "Value", "Unit"],
            ["title", "Strength of a drain cleaner"],
            ["burette.concentration", 0.05, "checked in May"],
            ["result.significant_figures", 3],
        ):
            practical.append(row)

    used = class_of(tmp_path, change, practical_used=True)
    assert used.sheets == ("Results",)
    assert "Practical!B3" in used.ledger.used
    assert used.ledger.ignored["Practical!C3"] == "a heading or a note beside the practical"
    ignored = class_of(tmp_path, change)
    assert ignored.ledger.ignored["Practical!B3"] == "the practical file was given on the command line"
    rows = read_practical_sheet(tmp_path / "class.xlsx")
    assert rows is not None
    assert [(key, str(value), cell) for key, value, cell in rows] == [
        ("title", "Strength of a drain cleaner", "Practical!B2"),
        ("burette.concentration", "0.05", "Practical!B3"),
        ("result.significant_figures", "3", "Practical!B4"),
    ]


@pytest.mark.parametrize("first", [1, 2])
def test_rows_of_a_practical_sheet_open_tables_as_in_toml(tmp_path: Path, first: int) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Practical"
    rows = [("title", "Vinegar"), ("[burette]", None), ("class", "A"), ("[[marks]]", "a note"), ("criterion", "mean")]
    for at, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=first):
            sheet.cell(at, column).value = value
    book.save(tmp_path / "class.xlsx")
    made = rows_of(read_practical_sheet(tmp_path / "class.xlsx") or ())
    assert made.table == {"title": "Vinegar", "burette": {"class": "A"}, "marks": [{"criterion": "mean"}]}


def test_there_is_no_practical_where_no_sheet_is_called_so(tmp_path: Path) -> None:
    class_of(tmp_path)
    assert read_practical_sheet(tmp_path / "class.xlsx") is None


def test_the_order_of_work_is_kept_where_the_sheet_tells_it(tmp_path: Path) -> None:
    rows = [[*HEADER, "Order"], [*ROWS[1], "2"], [*ROWS[2], "1"]]
    assert list(students_of(class_of(tmp_path, rows=rows))["order"]) == [2, 1]


def test_columns_the_teacher_names_are_taken_as_named(tmp_path: Path) -> None:
    rows = [["Kürzel", "a", "b", "ab", *HEADER[4:]], *ROWS[1:]]
    columns = {"Student": "Kürzel", "Run 1 initial": "column B", "Run 1 final": "b", "Run 1 titre": "ab"}
    sheet = class_of(tmp_path, rows=rows, columns=columns)
    assert (run(sheet, 1, "1")["initial"], run(sheet, 1, "1")["final"], run(sheet, 1, "1")["titre"]) == (
        0,
        24_300,
        24_300,
    )


def test_a_named_column_that_is_not_there_names_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match="'run 1 finel', which is not in the class sheet; the nearest text in it is 'run 1 final'"
    ):
        class_of(tmp_path, columns={"Run 1 final": "Run 1 finel"})


def test_an_unknown_meaning_names_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="did you mean 'Run 1 titre'"):
        class_of(tmp_path, columns={"Run 1 tritre": "D"})


def test_two_columns_that_seem_the_same_are_refused_rather_than_guessed(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"cell E1: two columns seem to be the same thing"):
        class_of(tmp_path, rows=[[*HEADER[:4], "Run 1 final"], *[row[:5] for row in ROWS[1:]]])


def test_a_sheet_without_a_table_is_refused_with_what_to_write(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match="no table of titrations was found on Results; head the columns Student, Rough initial"
    ):
        class_of(tmp_path, rows=[["Shopping"], ["Milk", "2"], ["Bread", "1"]])


def test_readings_of_several_people_without_names_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no column says whose readings these are"):
        class_of(tmp_path, rows=[["Rough initial", "Rough final"], ["0.00", "24.50"], ["0.00", "24.60"]])


def test_the_file_of_one_student_gives_the_name(tmp_path: Path) -> None:
    rows = [["", "Rough", "1", "2"], ["Initial", "0.00", "0.00", "0.00"], ["Final", "24.90", "24.40", "24.45"]]
    book = openpyxl.Workbook()
    put(book.active, rows)
    book.save(tmp_path / "Ada Marlow.xlsx")
    assert list(students_of(read_class(tmp_path / "Ada Marlow.xlsx"))["student"]) == ["Ada Marlow"]


def test_a_burette_that_counts_down_is_left_as_it_was_read(tmp_path: Path) -> None:
    rows = [[*HEADER[:3]], ["S01", "50.00", "25.60"], ["S02", "49.00", "24.70"]]
    assert list(runs_of(class_of(tmp_path, rows=rows))["initial"]) == [50_000, 49_000]


def test_the_address_of_every_cell_used_leads_back_to_its_value(tmp_path: Path) -> None:
    sheet = class_of(tmp_path)
    book = openpyxl.load_workbook(tmp_path / "class.xlsx")
    for row in runs_of(sheet).rows():
        for key in ("initial", "final", "titre"):
            if key in row["cells"]:
                name, _, cell = row["cells"][key].partition("!")
                assert round(book[name][cell].value * 1000) == row[key]


def test_wide_tables_of_many_runs_keep_every_run(tmp_path: Path) -> None:
    header = ["Student", *(f"Run {number} {key}" for number in range(1, 13) for key in ("initial", "final"))]
    sheet = class_of(tmp_path, rows=[header, ["S01", *("0.00", "24.40") * 12]])
    assert list(runs_of(sheet)["label"]) == [str(number) for number in range(1, 13)]


def test_the_plain_sheet_is_understood_in_plain_words(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Results"
    put(book.active, wide())
    book.save(tmp_path / "class.xlsx")
    understood = read_class(tmp_path / "class.xlsx").understood
    assert understood[:3] == (
        "sheet Results: one row per student, 4 runs",
        "Student: 'Student' (column A)",
        "Rough initial: 'Rough initial' (column C)",
    )
    assert understood[-2:] == ("Result: 'Result' (column S)", "6 students, 24 runs")


def test_what_the_spreadsheet_spoilt_is_told_apart_from_what_the_student_wrote(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["B2"].value = dt.datetime(2026, 5, 22)
        ws["C2"].value, ws["C2"].data_type = "#REF!", "e"
        ws["D2"].value = "=C2-B2"
        ws["E2"].value = '=IF(D2>0,"y","")'
        ws["F2"].value = "22.5O"
        ws["H2"].value, ws["H2"].data_type = "#DIV/0!", "e"
        ws["I2"].value = "=H2*2"

    sheet = class_of(tmp_path, change)
    first, second = run(sheet, 0, "1"), run(sheet, 0, "2")
    assert first["spoilt"] == ("initial", "final", "titre", "used")
    assert first["odd"] == {
        "initial": "a date (22 May)",
        "final": "#REF!",
        "titre": "formula never calculated",
        "used": "formula never calculated",
    }
    assert (second["spoilt"], second["odd"]) == ((), {"initial": "22.5O"})
    assert students_of(sheet)["odd"][0] == {"mean": "#DIV/0!", "result": "formula never calculated"}
    assert all(sheet.ledger.rejected[f"Results!{cell}2"].count(";") == 1 for cell in "BCDEHI")


@pytest.mark.parametrize(("stored", "odd"), [(26.3005, "26.3005"), ("26.30005", "26.30005"), ("26.3005 cm3",) * 2])
def test_a_reading_with_more_digits_than_a_burette_shows_is_not_rounded(
    tmp_path: Path, stored: object, odd: str
) -> None:
    sheet = class_of(tmp_path, lambda ws: setattr(ws["C2"], "value", stored))
    assert run(sheet, 0, "1")["final"] is None
    assert (run(sheet, 0, "1")["odd"], run(sheet, 0, "1")["spoilt"]) == ({"final": odd}, ())
    assert "more digits than a burette shows" in sheet.ledger.rejected["Results!C2"]


def test_the_noise_of_a_subtraction_in_a_cell_is_no_further_digit(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, lambda ws: setattr(ws["D2"], "value", 22.45 - 9.9))
    assert run(sheet, 0, "1")["titre"] == 12_550


PREPARATION = [
    ["Preparation, period 3", "", ""],
    ["Solution", "Volume / dm³", "Concentration"],
    ["sulfuric acid", "2.5", "0.0500"],
    ["sodium hydroxide, bottle A", "2.0", "0.1012"],
    ["washed up and away by", "Friday", ""],
]


@pytest.mark.parametrize(
    "lists", [PREPARATION, [["Notes", ""], ["Volume of acid used", "25.0"]], [*PREPARATION, [], *PREPARATION]]
)
def test_a_sheet_of_other_things_beside_the_class_is_no_student(tmp_path: Path, lists: list[list[str]]) -> None:
    def change(ws: Any) -> None:
        put(ws.parent.create_sheet("Preparation"), lists)

    sheet = class_of(tmp_path, change)
    assert list(students_of(sheet)["student"]) == ["S01", "S02", "S03"]
    cells = [f"Preparation!{cell}" for cell in ("A1", "A2", "B2")]
    assert all(sheet.ledger.ignored[cell] for cell in cells)
    assert any(note.startswith("sheet Preparation: ") for note in sheet.notes)
    assert not any("Preparation" in address for address in [*sheet.ledger.used, *sheet.ledger.rejected])


def test_a_list_of_other_things_beside_the_class_table_is_no_student(tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        for row, texts in enumerate(PREPARATION[1:4], start=1):
            for column, text in enumerate(texts, start=12):
                ws.cell(row + 8, column).value = float(text) if text[0].isdigit() else text

    sheet = class_of(tmp_path, change)
    assert list(students_of(sheet)["student"]) == ["S01", "S02", "S03"]
    assert sheet.ledger.ignored["Results!M10"]


def test_the_class_in_the_sample_workbook_has_no_technician_in_it() -> None:
    sheet = read_class(Path(__file__).parent.parent / "sample_data" / "drain-cleaner.xlsx")
    assert (len(sheet.students), sheet.sheets) == (28, ("Results",))
    assert "names no student and no run" in next(note for note in sheet.notes if "Preparation" in note)
    assert {sheet.ledger.ignored[f"Preparation!{cell}"] for cell in ("A1", "B3", "C5", "B6")} == {
        "stands in a table without students' names, rough, run, initial or final: not taken for titrations"
    }


def test_the_practical_keeps_the_digits_that_its_cells_show(tmp_path: Path) -> None:
    rows = {"a": (0.05, "0.0000"), "b": (25, "0.0"), "c": (0.05, "General"), "d": (3, "0"), "e": (0.0512, "0.00")}
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Practical"
    for at, (key, (value, shown)) in enumerate(rows.items(), start=1):
        sheet.cell(at, 1).value = key
        sheet.cell(at, 2).value = value
        sheet.cell(at, 2).number_format = shown
    book.save(tmp_path / "class.xlsx")
    read = read_practical_sheet(tmp_path / "class.xlsx") or []
    assert [str(value) for _, value, _ in read] == ["0.0500", "25.0", "0.05", "3", "0.0512"]
    assert isinstance(read[3][1], int)
