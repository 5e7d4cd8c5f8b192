"""A folder of one file a student, and OpenDocument files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from labmark.outputs.workbook import marks_workbook
from labmark.problems import InputError
from labmark.read import read_class
from labmark.written import MANIFEST
from tests.columns import runs_of, students_of
from tests.example_tree import example_tree
from tests.layouts import CLASS, VARIANTS, block, ods, table, xlsx
from tests.test_read_workbook import ROWS, edit_parts


def test_the_file_s_name_names_the_student_and_stands_in_the_addresses(tmp_path: Path) -> None:
    sheet = read_class(VARIANTS["a .csv a student"](tmp_path))
    assert list(students_of(sheet)["student"]) == [student.name for student in CLASS]
    assert runs_of(sheet)["cells"][0]["initial"] == "[S01.csv]B4"


def test_files_that_are_no_spreadsheets_are_passed_over_and_said(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff")
    (tmp_path / "~$S01.xlsx").write_bytes(b"lock")
    assert any("photo.jpg, ~$S01.xlsx" in note for note in read_class(tmp_path).notes)


def test_a_copy_of_a_file_is_no_student_and_one_that_differs_is_asked_about(tmp_path: Path) -> None:
    for name in (
        "Ada.csv",
        "Ada (1).csv",
        "Copy of Ada.csv",
        "Ada - Kopie.csv",
        "Ada (conflicted copy 2026-03-01).csv",
    ):
        table(block(CLASS[0], name=""), name=name)(tmp_path)
    table(block(CLASS[1], name=""), name="Ben (2).csv")(tmp_path)
    assert list(students_of(read_class(tmp_path))["student"]) == ["Ada", "Ben (2)"]
    table(block(CLASS[1], name=""), name="Ada (1).csv")(tmp_path)
    sheet = read_class(tmp_path)
    assert list(students_of(sheet)["student"]) == ["Ada (1)", "Ada", "Ben (2)"]
    assert "the name Ada appears more than once" in sheet.students[0].notes[0]


def test_each_file_has_its_own_decimal_mark(tmp_path: Path) -> None:
    table(block(CLASS[0], name=""), name="S01.csv")(tmp_path)
    table(block(CLASS[1], name=""), name="S02.csv", delimiter=";", comma=True)(tmp_path)
    sheet = read_class(tmp_path)
    assert list(runs_of(sheet)["final"][4:]) == [25_200, 24_300, 48_750, 24_650]
    assert not sheet.ledger.rejected


def test_every_file_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    (tmp_path / "S02.xlsx").write_bytes(b"PK\3\4 cut short")
    (tmp_path / "S03.csv").write_bytes(b"")
    with pytest.raises(InputError) as caught:
        read_class(tmp_path)
    assert [Path(problem.file).name for problem in caught.value.problems] == ["S02.xlsx", "S03.csv"]


def test_the_hash_of_a_folder_depends_on_its_files_and_not_on_its_place(tmp_path: Path) -> None:
    for name in ("here", "there"):
        (tmp_path / name).mkdir()
        VARIANTS["a .csv a student"](tmp_path / name)
    here, there = read_class(tmp_path / "here").sha256, read_class(tmp_path / "there").sha256
    assert here == there
    table(block(CLASS[1], name=""), name="S01.csv")(tmp_path / "there")
    assert read_class(tmp_path / "there").sha256 != here


# -- OpenDocument -----------------------------------------------------------------------------------------------------


def edited(folder: Path, change: Callable[[bytes], bytes]) -> Path:
    """ROWS as an OpenDocument file, with its content changed."""
    return edit_parts(ods(ROWS)(folder), lambda name, data: change(data) if name == "content.xml" else data)


def reading_replaced(data: bytes, new: bytes) -> bytes:
    """The content with the cell C2 (24.40) replaced by another one."""
    at = data.index(b'office:value="24.4"')
    end = data.index(b"</table:table-cell>", at) + len(b"</table:table-cell>")
    return data[: data.rindex(b"<table:table-cell", 0, at)] + new + data[end:]


def test_decimals_come_from_the_style_of_the_cell(tmp_path: Path) -> None:
    sheet = read_class(ods([*ROWS, ["S04", "0", "24.40"]])(tmp_path))
    assert list(runs_of(sheet)["final_decimals"]) == [2] * 7
    assert runs_of(sheet)["initial_decimals"][-1] is None


@pytest.mark.parametrize(
    ("cell", "why"),
    [
        (b'<table:table-cell table:formula="of:=[.C2]-[.B2]"/>', "never calculated"),
        (
            b'<table:table-cell table:formula="of:=1/0" office:value-type="string">'
            b"<text:p>#DIV/0!</text:p></table:table-cell>",
            "gives the error #DIV/0!",
        ),
        (b'<table:table-cell office:value-type="date" office:date-value="2026-05-22"/>', "likely 22.5"),
        (b'<table:table-cell office:value-type="time" office:time-value="PT12H00M00S"/>', "likely 0.5"),
    ],
)
def test_formulas_errors_and_dates_are_told_apart(tmp_path: Path, cell: bytes, why: str) -> None:
    sheet = read_class(edited(tmp_path, lambda data: reading_replaced(data, cell)))
    assert list(sheet.ledger.rejected) == ["Results!C2"]
    assert why in sheet.ledger.rejected["Results!C2"]


def test_a_filtered_row_is_read_and_said(tmp_path: Path) -> None:
    def hide(data: bytes) -> bytes:
        before, header, rest = data.split(b"<table:table-row>", 2)
        hidden = b'<table:table-row table:visibility="filter">'
        return before + b"<table:table-row>" + header + hidden + rest

    sheet = read_class(edited(tmp_path, hide))
    assert len(sheet.students) == 3
    assert any("row 2 is hidden" in note for note in sheet.notes)


def test_a_struck_out_cell_is_a_discard(tmp_path: Path) -> None:
    def strike(data: bytes) -> bytes:
        style = (
            b'<style:style style:name="ce9" style:family="table-cell">'
            b'<style:text-properties style:text-line-through-style="solid"/></style:style></office:automatic-styles>'
        )
        cell = b'<table:table-cell table:style-name="ce9" office:value-type="float" office:value="24.4"/>'
        return reading_replaced(data.replace(b"</office:automatic-styles>", style), cell)

    assert list(runs_of(read_class(edited(tmp_path, strike)))["struck"]) == [True, *[False] * 5]


@pytest.mark.parametrize(
    ("text", "titre", "note"),
    [
        (b'<text:span text:style-name="T9">22.90</text:span> 24.40', 24_400, "'22.90' is struck out"),
        (b'<text:span text:style-name="T9">24.40</text:span>', 24_400, ""),
    ],
)
def test_a_reading_struck_out_and_written_again_counts_as_the_new_one(
    tmp_path: Path, text: bytes, titre: int, note: str
) -> None:
    def strike(data: bytes) -> bytes:
        style = (
            b'<style:style style:name="T9" style:family="text">'
            b'<style:text-properties style:text-line-through-style="solid"/></style:style></office:automatic-styles>'
        )
        cell = b'<table:table-cell office:value-type="string"><text:p>' + text + b"</text:p></table:table-cell>"
        return reading_replaced(data.replace(b"</office:automatic-styles>", style), cell)

    student = read_class(edited(tmp_path, strike)).students[0]
    assert (student.runs[0].final, student.runs[0].struck) == (titre, not note)
    assert note in " ".join(student.notes)


def test_a_comment_is_a_note(tmp_path: Path) -> None:
    cell = (
        b'<table:table-cell office:value-type="float" office:value="24.4">'
        b"<office:annotation><text:p>bubble in the jet</text:p></office:annotation></table:table-cell>"
    )
    sheet = read_class(edited(tmp_path, lambda data: reading_replaced(data, cell)))
    assert students_of(sheet)["notes"][0] == ("comment in Results!C2: bubble in the jet",)


def test_a_name_that_no_sheet_and_no_file_of_a_folder_has_is_an_error(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    with pytest.raises(InputError, match="there is no sheet or file called 'Results'"):
        read_class(tmp_path, sheets=["Results"])
    assert list(students_of(read_class(tmp_path, sheets=["S02.csv", "s03"]))["student"]) == ["S02", "S03"]


def test_a_stray_text_in_a_folder_is_passed_over_with_a_note_and_is_no_sheet(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    (tmp_path / "readme.txt").write_text('Files of the class.\n"One file a student, please.\n')
    (tmp_path / "letter.docx").write_bytes(b"PK")
    sheet = read_class(tmp_path)
    assert len(sheet.students) == len(CLASS)
    assert any("passed over: letter.docx, readme.txt" in note for note in sheet.notes)
    assert not any("sheet" in note and "readme" not in note for note in sheet.notes)


def test_a_text_without_a_table_is_passed_over_likewise(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    (tmp_path / "readme.txt").write_text("Files of the class, one a student.\n")
    sheet = read_class(tmp_path)
    assert "readme.txt holds no table of titrations and was passed over" in sheet.notes
    assert "[readme.txt]A1" in sheet.ledger.ignored


def test_notes_on_a_folder_name_the_file(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    (tmp_path / "S07.csv").write_text("Run,Initial,Final\nRough,0.1,24.9\n1,0.1,24.5\n2,0.1,24.6\n")
    (note,) = (note for note in read_class(tmp_path).notes if "trailing zeros" in note)
    assert note.startswith("S07.csv: the file keeps no trailing zeros")


def test_a_sheet_goes_before_a_file_of_the_same_name(tmp_path: Path) -> None:
    others = [[f"T{text}" if text.startswith("S0") else text for text in row] for row in ROWS]
    xlsx({"class": ROWS, "other": others})(tmp_path)
    assert list(students_of(read_class(tmp_path / "class.xlsx", sheets=["class"]))["student"]) == ["S01", "S02", "S03"]
    with pytest.raises(InputError, match=r"there is no sheet called 'class\.xlsx'"):
        read_class(tmp_path / "class.xlsx", sheets=["class.xlsx"])
    (tmp_path / "S09.csv").write_text("Run,Initial,Final\n1,0.10,24.50\n2,0.10,24.60\n")
    both = read_class(tmp_path, sheets=["S09", "other"])
    assert list(students_of(both)["student"]) == ["TS01", "TS02", "TS03", "S09"]


@pytest.mark.slow
def test_what_labmark_wrote_into_the_folder_is_left_out(tmp_path: Path) -> None:
    VARIANTS["a .csv a student"](tmp_path)
    folder = next(each for each in (tmp_path, *tmp_path.iterdir()) if (each / "S01.csv").exists())
    before = read_class(folder)
    listed = "".join(f"0  {name}\n" for name in ("marks.csv", "sheets.csv", "marks.xlsx"))
    (folder / MANIFEST).write_text(listed, encoding="utf-8")
    for name in ("marks.csv", "sheets.csv", "marks (kept 0123abcd).xlsx"):
        (folder / name).write_text("Student,Mean titre\nS09,25.00\n", encoding="utf-8")
    (folder / "marks.xlsx").write_bytes(marks_workbook(example_tree(), "remembered"))
    (folder / "a copy of it.xlsx").write_bytes((folder / "marks.xlsx").read_bytes())
    assert read_class(folder) == before
    for name in ("marks.csv", "a copy of it.xlsx"):
        with pytest.raises(InputError, match="labmark wrote this file; name the class sheet it was made from"):
            read_class(folder / name)


def test_files_that_are_numbered_go_by_the_names_over_their_readings(tmp_path: Path) -> None:
    for number, name in enumerate(("Ines Vale", "Gita R"), start=1):
        rows = f"{name}\nTitration,Rough,1\nInitial,0.00,0.05\nFinal,24.60,24.15\n"
        (tmp_path / f"{number:02}.csv").write_text(rows, encoding="utf-8")
    assert list(students_of(read_class(tmp_path))["student"]) == ["Ines Vale", "Gita R"]
