"""Codes instead of names, in everything that is written but the key."""

from __future__ import annotations

import base64
import csv
import io
import json
import re
import zipfile
import zlib
from pathlib import Path

import openpyxl
import pypdf
import pytest
from click.testing import CliRunner

from labmark.cli import main
from tests.bare import bare_files
from tests.practicals import DRAIN_CLEANER
from tests.seeds import few_quick

HEAD = "Student,ID,Email,Class,Bench,Partner,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Result"
PEOPLE = [
    'Ottilie Zarnke,90417,zarnke@school.example,9B,2,"Quirin, Mabelle",0.00,24.35,0.00,24.40,0.0974',
    "Mabelle Quirin,90418,quirin@school.example,9B,2,Ottilie,0.10,24.45,0.05,24.45,ask Ottilie",
    "Will Vexley,90419,vexley@school.example,9B,3,,1.00,25.45,0.00,ottilie zarnke,0.0979",
    "24,90420,four@school.example,9B,3,,0.20,24.60,0.15,24.50,0.0974",
]
NAMES = ("Ottilie", "Zarnke", "Mabelle", "Quirin", "Vexley", "90417", "90418", "90419", "90420", "@school")
TYPED = "very-private-folder"
USER = "quillfeather"
"""Who runs it."""


def marked(folder: Path, *options: str, people: list[str] = PEOPLE) -> Path:
    """Mark a class into a folder; return it."""
    home = folder / TYPED
    home.mkdir(exist_ok=True)
    (home / "Class of Zarnke.csv").write_text("\n".join([HEAD, *people]), encoding="utf-8")
    (home / "practical.toml").write_text(DRAIN_CLEANER, encoding="utf-8")
    ran = CliRunner(env=dict.fromkeys(("USER", "LOGNAME", "USERNAME"), USER)).invoke(main, [*given(folder), *options])
    assert ran.exit_code == 0, ran.output
    return folder / "out"


def given(folder: Path) -> list[str]:
    """Return how the class is marked."""
    home = folder / TYPED
    said = ["mark", str(home / "Class of Zarnke.csv"), "--practical", str(home / "practical.toml")]
    return [*said, "--out", str(folder / "out")]


def texts(folder: Path) -> dict[str, str]:
    """Return all that can be read in each file of a folder, its path with it."""
    return {
        name: f"{name} {readable(path)}"
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not (name := path.relative_to(folder).as_posix()).startswith(".")
    }


def readable(path: Path) -> str:
    if path.suffix == ".pdf":
        pdf = pypdf.PdfReader(path)
        return f"{pdf.metadata} {pdf.outline} {' '.join(page.extract_text() for page in pdf.pages)}"
    if path.suffix == ".xlsx":
        with zipfile.ZipFile(path) as book:
            return " ".join(book.read(name).decode() for name in book.namelist()) + memory(path)
    return path.read_bytes().decode(errors="replace")


def memory(path: Path) -> str:

    rows = list(openpyxl.load_workbook(path)["labmark"].values)
    return zlib.decompress(base64.b64decode("".join(str(row[0]) for row in rows[1:]))).decode()


@pytest.fixture(scope="module")
def coded(tmp_path_factory):
    with bare_files():
        return marked(tmp_path_factory.mktemp("coded"), "--pseudonyms")


@pytest.fixture(scope="module")
def with_sheets(tmp_path_factory):
    return marked(tmp_path_factory.mktemp("sheets"), "--pseudonyms")


@pytest.fixture(scope="module")
def named(tmp_path_factory):
    return marked(tmp_path_factory.mktemp("named"))


def tree(folder: Path) -> dict:
    return json.loads((folder / "results.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("which", few_quick(["coded", "with_sheets"], 2))
def test_the_key_alone_has_a_name_an_id_or_an_email(which, request):
    told = texts(request.getfixturevalue(which))
    assert "Ottilie Zarnke" in told.pop("pseudonyms.csv")
    found = {name: [each for each in NAMES if each.casefold() in text.casefold()] for name, text in told.items()}
    assert not {name: words for name, words in found.items() if words}


def test_the_key_has_a_code_and_a_name_for_each(coded):
    rows = list(csv.reader(io.StringIO((coded / "pseudonyms.csv").read_text("utf-8-sig"))))
    assert rows == [
        ["code", "name"],
        ["P01", "Ottilie Zarnke"],
        ["P02", "Mabelle Quirin"],
        ["P03", "Will Vexley"],
        ["P04", "24"],
    ]


@pytest.mark.slow
def test_cells_runs_marks_and_findings_are_as_with_names(coded, named):
    kept = ("number", "cells", "total", "mean_titre", "groups")
    both = [[{key: one[key] for key in kept} for one in tree(each)["students"]] for each in (coded, named)]
    assert both[0] == both[1]
    both = [
        [[(each["criterion"], each["mark"]) for each in one["marks"]] for one in tree(each)["students"]]
        for each in (coded, named)
    ]
    assert both[0] == both[1]
    assert [run["label"] for run in tree(coded)["students"][3]["runs"]] == ["1", "2"]


@pytest.mark.slow
def test_sheets_bear_the_code(with_sheets):
    assert sorted(path.name for path in (with_sheets / "feedback").iterdir())[0] == "01 P01.pdf"


def test_partners_are_partners_by_their_codes(coded):
    assert [one["about"].get("Partner") for one in tree(coded)["students"]] == ["P02", "P01", None, None]


@pytest.mark.slow
def test_no_path_as_it_was_typed_and_no_user_stands_in_any_file(named):
    told = (TYPED, str(named.parent), USER)
    assert not [name for name, text in texts(named).items() if any(word in text for word in told)]
    assert tree(named)["source"]["file"] == "Class of Zarnke.csv"


def comment(folder: Path, student: str, words: str) -> None:
    book = openpyxl.load_workbook(folder / "marks.xlsx")
    sheet = book["Marks"]
    head = next(row for row in sheet.iter_rows() if "Student" in [cell.value for cell in row])
    column = {cell.value: cell.column for cell in head}
    row = next(row for row in sheet.iter_rows() if student in [cell.value for cell in row])
    sheet.cell(row[0].row, column["Comment"]).value = words
    book.save(folder / "marks.xlsx")


def comments(folder: Path) -> dict[str, str]:
    return {one["student"]: one["comment"] for one in tree(folder)["students"] if "comment" in one}


@pytest.mark.slow
def test_decisions_follow_the_student_through_codes_and_names(tmp_path):
    out = marked(tmp_path, "--pseudonyms")
    comment(out, "P02", "Well done, P02.")
    later = [PEOPLE[3], *PEOPLE[:3]]
    assert comments(marked(tmp_path, "--pseudonyms", people=later)) == {"P02": "Well done, P02."}
    assert comments(marked(tmp_path, people=later)) == {"Mabelle Quirin": "Well done, Mabelle Quirin."}
    assert not (out / "pseudonyms.csv").exists()
    assert comments(marked(tmp_path, "--pseudonyms", people=later)) == {"P03": "Well done, P03."}


@pytest.mark.slow
@pytest.mark.usefixtures("bare")
def test_a_lost_key_gives_nobody_the_decisions_of_another(tmp_path):
    out = marked(tmp_path, "--pseudonyms")
    comment(out, "P02", "Well done.")
    (out / "pseudonyms.csv").unlink()
    ran = CliRunner().invoke(main, [*given(tmp_path), "--pseudonyms"])
    assert ran.exit_code == 1
    assert "the folder is of another class" in ran.output


@pytest.mark.slow
def test_a_workbook_with_names_that_was_changed_is_kept_and_said(tmp_path):
    out = marked(tmp_path)
    comment(out, "Mabelle Quirin", "Well done.")
    ran = CliRunner().invoke(main, [*given(tmp_path), "--pseudonyms"])
    assert re.search(r"marks \(kept \w+\).xlsx is as it was, and may hold names\.", ran.output)
    assert comments(out) == {"P02": "Well done."}
