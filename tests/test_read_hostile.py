"""Files that are broken, locked, or made to harm: refused with what to do, in bounded time and memory."""

from __future__ import annotations

import io
import os
import re
import time
import tracemalloc
import zipfile
from pathlib import Path

import openpyxl
import pytest

from labmark.pipeline import judged_tree
from labmark.practicals import find_practical
from labmark.problems import InputError
from labmark.read import read_class, read_practical_sheet
from tests.columns import runs_of, students_of
from tests.layouts import VARIANTS, put, wide
from tests.test_read_mutations import read_or_refused
from tests.test_read_workbook import ROWS, class_of, edit_parts

MOST_SECONDS = 20.0
MOST_MIB = 400
CONTENT_TYPES = (
    b'<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    b'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    b'<Default Extension="xml" ContentType="application/xml"/></Types>'
)


def refusal(path: Path) -> str:
    """Return the message for a file that must be refused, holding the bounds of time and memory."""
    tracemalloc.start()
    began = time.perf_counter()
    try:
        with pytest.raises(InputError) as caught:
            read_class(path)
        seconds, peak = time.perf_counter() - began, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert seconds < MOST_SECONDS
    assert peak < MOST_MIB * 2**20
    message = str(caught.value)
    assert path.name in message
    assert ";" in message
    with pytest.raises(InputError):
        read_practical_sheet(path)
    return message


def workbook(folder: Path, parts: dict[str, bytes], name: str = "class.xlsx") -> Path:
    with zipfile.ZipFile(folder / name, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, data in parts.items():
            archive.writestr(part, data)
    return folder / name


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("empty.xlsx", b"", "the file is empty; if it is still being copied or synced, wait"),
        ("zeros.xlsx", b"\0" * 4096, "the file is empty"),
        (
            "old.xls",
            bytes.fromhex("D0CF11E0A1B11AE1") + b"\0" * 600,
            "locked with a password, or is of the old .xls kind",
        ),
        ("page.xls", b"<html><table><tr><td>Student</td></tr></table></html>", "web page or XML"),
        ("scan.csv", b"%PDF-1.7\n...", "not a spreadsheet"),
        ("photo.xlsx", b"\x89PNG\r\n\x1a\n" + b"\0" * 99, "not a spreadsheet"),
        ("binary.csv", b"Student,Initial\n\0\x01\x02" * 20, "binary data"),
        ("cut.xlsx", b"PK\3\4" + b"\x14\0" * 50, "damaged or cut short"),
        ("words.txt", b"Dear all,\nplease bring goggles.\n", "no table of titrations was found"),
    ],
)
def test_a_file_that_is_no_class_sheet_is_named_for_what_it_is(
    tmp_path: Path, name: str, data: bytes, message: str
) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_class(tmp_path / name)
    assert message in str(caught.value)
    assert name in str(caught.value)


def test_a_missing_file_and_an_empty_folder_are_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_class(tmp_path / "class.xlsx")
    with pytest.raises(InputError, match="the folder holds no spreadsheet"):
        read_class(tmp_path)
    (tmp_path / "readme.md").write_text("no table")
    with pytest.raises(InputError, match="the folder holds no spreadsheet"):
        judged_tree(tmp_path, None, ())  # before a practical is asked for


def test_the_lock_file_of_an_open_workbook_is_named(tmp_path: Path) -> None:
    (tmp_path / "~$class.xlsx").write_bytes(b"\x05user" * 30)
    with pytest.raises(InputError, match="lock file"):
        read_class(tmp_path / "~$class.xlsx")


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 0.99])
def test_a_workbook_cut_short_is_refused(tmp_path: Path, share: float) -> None:
    path = VARIANTS["plain workbook"](tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    assert "damaged or cut short" in refusal(path)


@pytest.mark.slow
def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    class_of(tmp_path)
    path = edit_parts(
        tmp_path / "class.xlsx", lambda name, data: b" " * (200 * 2**20) if name.endswith("sheet1.xml") else data
    )
    assert path.stat().st_size < 2**20
    refused = refusal(path)
    assert "unpacks to more than" in refused
    assert "delete empty rows and columns that are formatted" in refused


def test_a_part_that_packs_beyond_any_sheet_is_refused(tmp_path: Path) -> None:
    class_of(tmp_path)
    path = edit_parts(
        tmp_path / "class.xlsx", lambda name, data: data + b" " * (10 * 2**20) if name.endswith("sheet1.xml") else data
    )
    assert "times its size" in refusal(path)


def test_a_part_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    path = VARIANTS["plain workbook"](tmp_path)
    data = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as archive:
        entry = archive.getinfo("xl/worksheets/sheet1.xml")
    at = data.rfind(b"xl/worksheets/sheet1.xml") - 46
    assert int.from_bytes(data[at + 24 : at + 28], "little") == entry.file_size
    data[at + 24 : at + 28] = (100).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    assert "damaged" in refusal(path)


@pytest.mark.parametrize(
    "declaration",
    [
        b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>',
        b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        b"<!--" + b"-" * 5000 + b'--><!DOCTYPE x [<!ENTITY a "b">]>',
    ],
)
@pytest.mark.parametrize(
    "victim", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/sharedStrings.xml", "xl/_rels/workbook.xml.rels"]
)
def test_entities_are_never_expanded(tmp_path: Path, declaration: bytes, victim: str) -> None:
    path = VARIANTS["pandas and XlsxWriter"](tmp_path)
    edit_parts(path, lambda name, data: _declared(declaration, data) if name == victim else data)
    assert "declares entities" in refusal(path)


def _declared(declaration: bytes, data: bytes) -> bytes:
    """Put a declaration before the root element, behind the XML declaration where there is one."""
    head, mark, rest = data.partition(b"?>")
    return head + mark + declaration + rest if mark and data.startswith(b"<?xml") else declaration + data


def test_entities_in_an_unusual_encoding_are_refused_too(tmp_path: Path) -> None:
    class_of(tmp_path)
    path = edit_parts(
        tmp_path / "class.xlsx",
        lambda name, data: data.decode().encode("utf-16") if name.endswith("sheet1.xml") else data,
    )
    assert "unusual encoding" in refusal(path)


@pytest.mark.parametrize("encoding", [b"ZTF-8", b"utf-7", b"idna"])
@pytest.mark.parametrize(("variant", "part"), [("plain .ods", "content.xml"), ("pandas and XlsxWriter", "sheet1.xml")])
def test_an_encoding_that_nobody_knows_is_a_damaged_part(
    tmp_path: Path, variant: str, part: str, encoding: bytes
) -> None:
    def declared(name: str, data: bytes) -> bytes:
        if not name.endswith(part):
            return data
        return b'<?xml version="1.0" encoding="' + encoding + b'"?>' + data.partition(b"?>")[2].lstrip()

    assert part in refusal(edit_parts(VARIANTS[variant](tmp_path), declared))


def test_entities_in_an_opendocument_are_refused(tmp_path: Path) -> None:
    path = edit_parts(
        VARIANTS["plain .ods"](tmp_path),
        lambda name, data: b'<!DOCTYPE x [<!ENTITY a "b">]>' + data if name == "content.xml" else data,
    )
    assert "declares entities" in refusal(path)


@pytest.mark.slow
def test_hundreds_of_sheets_are_refused(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for number in range(300):
        book.create_sheet(f"S{number}")
    book.save(tmp_path / "class.xlsx")
    assert "301 sheets, more than 300" in refusal(tmp_path / "class.xlsx")


@pytest.mark.slow
def test_thousands_of_parts_are_refused(tmp_path: Path) -> None:
    path = workbook(
        tmp_path,
        {"[Content_Types].xml": CONTENT_TYPES, **{f"xl/media/{number}.xml": b"<a/>" for number in range(3_000)}},
    )
    assert "3001 parts, more than 2000" in refusal(path)


def test_a_merged_range_over_a_whole_sheet_is_refused(tmp_path: Path) -> None:
    class_of(tmp_path)
    merge = b'</sheetData><mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>'
    path = edit_parts(tmp_path / "class.xlsx", lambda name, data: data.replace(b"</sheetData>", merge))
    assert "merged cells cover most of a sheet" in refusal(path)


def test_an_encrypted_part_is_refused(tmp_path: Path) -> None:
    path = VARIANTS["plain workbook"](tmp_path)
    data = bytearray(path.read_bytes())
    for signature, offset in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        at = data.find(signature)
        while at >= 0:
            data[at + offset] |= 1
            at = data.find(signature, at + 4)
    path.write_bytes(bytes(data))
    assert "encrypted" in refusal(path)


def test_an_opendocument_with_a_password_is_refused(tmp_path: Path) -> None:
    locked = b'<manifest:manifest xmlns:manifest="m"><manifest:encryption-data/></manifest:manifest>'
    path = edit_parts(
        VARIANTS["plain .ods"](tmp_path), lambda name, data: locked if name.endswith("manifest.xml") else data
    )
    assert "password" in refusal(path)


def test_repeat_counts_are_not_expanded(tmp_path: Path) -> None:
    path = VARIANTS["plain .ods"](tmp_path)

    def repeat(name: str, data: bytes) -> bytes:
        return (
            data.replace(b"<table:table-cell ", b'<table:table-cell table:number-columns-repeated="1000000" ')
            if name == "content.xml"
            else data
        )

    assert "repeated 1000000 times" in refusal(edit_parts(path, repeat))


@pytest.mark.slow
def test_a_million_blank_rows_at_the_end_of_an_opendocument_cost_nothing(tmp_path: Path) -> None:
    blank = (
        b'<table:table-row table:number-rows-repeated="1048500">'
        b'<table:table-cell table:number-columns-repeated="16384"/></table:table-row></table:table>'
    )
    path = edit_parts(
        VARIANTS["plain .ods"](tmp_path),
        lambda name, data: data.replace(b"</table:table>", blank) if name == "content.xml" else data,
    )
    assert len(read_class(path).students) == 6


def test_a_very_long_cell_is_accounted_for(tmp_path: Path) -> None:
    sheet = class_of(tmp_path, rows=[*ROWS, ["S04", "x" * 32_767, "24.40"]])
    assert len(sheet.ledger.rejected["Results!B5"]) < 200
    assert len(runs_of(sheet)["odd"][-1]["initial"]) <= 200


def test_an_unclosed_quotation_mark_is_said_rather_than_swallowing_the_class(tmp_path: Path) -> None:
    rows = "\r\n".join(f"S{number},0.00,24.40" for number in range(5_000))
    (tmp_path / "class.csv").write_text(f'Student,Run 1 initial,Run 1 final\r\n"S0,0.00,24.40\r\n{rows}\r\n')
    assert "quotation mark that is not closed" in refusal(tmp_path / "class.csv")


def test_a_text_file_larger_than_any_class_is_refused_unread(tmp_path: Path) -> None:
    with (tmp_path / "class.csv").open("wb") as stream:
        stream.truncate(70 * 2**20)
        stream.write(b"Student,Run 1 titre\n")
    assert "larger than 32 MiB" in refusal(tmp_path / "class.csv")


def test_text_made_to_stall_a_pattern_is_read_in_step_with_its_size(tmp_path: Path) -> None:
    began = time.perf_counter()
    for text in (
        "(" * 30_000,
        "1" * 30_000,
        "1 " * 15_000,
        "0.00 - " * 4_000,
        "a" * 30_000 + ":",
        "=" * 30_000,
        "1,1." * 8_000,
    ):
        sheet = class_of(tmp_path, rows=[*ROWS, ["S04", text, "24.40"], [text]])
        assert list(students_of(sheet)["student"])[:4] == ["S01", "S02", "S03", "S04"]
    assert time.perf_counter() - began < MOST_SECONDS


def test_a_deeply_nested_part_is_read_or_refused(tmp_path: Path) -> None:
    class_of(tmp_path)
    deep = b"<a>" * 50_000 + b"</a>" * 50_000
    path = edit_parts(
        tmp_path / "class.xlsx",
        lambda name, data: (
            data.replace(b"</sheetData>", b"</sheetData>" + deep) if name.endswith("sheet1.xml") else data
        ),
    )
    sheet = read_or_refused(path)
    assert sheet is None or len(sheet.students) == 3


def test_links_to_other_files_are_not_followed_and_said(tmp_path: Path) -> None:
    class_of(tmp_path)
    path = edit_parts(tmp_path / "class.xlsx", lambda name, data: data)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/externalLinks/externalLink1.xml", b'<externalLink xmlns="x"/>')
        archive.writestr("xl/vbaProject.bin", b"Sub Auto_Open()")
    notes = " ".join(read_class(path).notes)
    assert "links to other files; they were not followed" in notes
    assert "macros; they were not run" in notes


@pytest.mark.slow
def test_a_file_of_many_rows_is_read_in_bounded_memory(tmp_path: Path) -> None:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Results")
    sheet.append(wide()[0])
    for number in range(1_500):
        sheet.append([f"S{number}", 1, 0, 24.5])
    out = io.BytesIO()
    book.save(out)
    (tmp_path / "class.xlsx").write_bytes(out.getvalue())
    tracemalloc.start()
    assert len(read_class(tmp_path / "class.xlsx").students) == 1_500
    assert tracemalloc.get_traced_memory()[1] < MOST_MIB / 4 * 2**20
    tracemalloc.stop()


def test_a_sheet_that_says_nothing_of_where_its_cells_are_is_read_in_order(tmp_path: Path) -> None:
    import re

    class_of(tmp_path)
    bare = lambda name, data: re.sub(rb' r="[A-Z]*\d+"', b"", data) if name.endswith("sheet1.xml") else data  # noqa: E731
    with pytest.raises(InputError):
        # Blank cells are not written, so without addresses the columns slide: readings would stand under wrong headers.
        read_class(
            edit_parts(tmp_path / "class.xlsx", lambda name, data: re.sub(rb' r="[A-Z]+(\d+)"', rb' r="!\1"', data))
        )
    full = [[text or "-" for text in row] for row in ROWS]
    book = openpyxl.Workbook()
    put(book.active, full)
    book.save(tmp_path / "full.xlsx")
    assert len(read_class(edit_parts(tmp_path / "full.xlsx", bare)).students) == 3


@pytest.mark.slow
def test_ten_thousand_headers_are_refused_soon(tmp_path: Path) -> None:
    (tmp_path / "class.csv").write_text("Initial;Final\n" * 10_000)
    began = time.perf_counter()
    with pytest.raises(InputError, match="more than 3000 headers of readings stand on one sheet; give each class"):
        read_class(tmp_path / "class.csv")
    assert time.perf_counter() - began < MOST_SECONDS


@pytest.mark.parametrize("name", ["class.csv", "class.xlsx"])
def test_a_pipe_is_refused_rather_than_waited_for(tmp_path: Path, name: str) -> None:
    os.mkfifo(tmp_path / name)
    assert "this is a pipe or a device, not a file" in refusal(tmp_path / name)


def test_a_device_and_a_link_to_itself_are_refused(tmp_path: Path) -> None:
    (tmp_path / "zero.csv").symlink_to("/dev/zero")
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")
    assert "this is a pipe or a device" in refusal(tmp_path / "zero.csv")
    assert "cannot be read (Too many levels of symbolic links)" in refusal(tmp_path / "loop.csv")


def test_pipes_and_links_to_nowhere_in_a_folder_are_passed_over_and_named(tmp_path: Path) -> None:
    (tmp_path / "Anna.csv").write_text("Run,Initial,Final\n1,0.00,24.40\n2,0.10,24.45\n")
    os.mkfifo(tmp_path / "Ben.csv")
    (tmp_path / "Cy.csv").symlink_to(tmp_path / "Cy.csv")
    (tmp_path / "Di.csv").symlink_to(tmp_path / "nowhere.csv")
    sheet = read_class(tmp_path)
    assert list(students_of(sheet)["student"]) == ["Anna"]
    said = "files that are no spreadsheets, or copies of others, were passed over"
    assert f"{said}: Ben.csv, Cy.csv, Di.csv" in sheet.notes


@pytest.mark.parametrize("kind", ["pipe", "device", "folder"])
def test_a_practical_that_is_no_file_is_refused(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "practical.toml"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    else:
        path.mkdir()
    with pytest.raises(
        InputError, match=f"is a {'folder' if kind == 'folder' else 'pipe or a device'}, not a practical"
    ):
        find_practical(str(path), tmp_path)


def test_sheets_that_share_a_part_are_refused(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for _ in range(40):
        book.create_sheet()
    book.save(tmp_path / "class.xlsx")

    def one_part(name: str, data: bytes) -> bytes:
        return (
            re.sub(rb"worksheets/sheet\d+\.xml", b"worksheets/sheet1.xml", data)
            if "workbook.xml.rels" in name
            else data
        )

    edit_parts(tmp_path / "class.xlsx", one_part)
    assert "points at its part 'xl/worksheets/sheet1.xml' more than once" in refusal(tmp_path / "class.xlsx")
