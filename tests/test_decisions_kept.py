"""What becomes of the teacher's decisions, and of what else is in marks.xlsx, when others have had it in hand."""

from __future__ import annotations

import random
import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.workbook import Workbook

from labmark.outputs import workbook
from tests.decided import CLASS, Marked, cell_of, mark, student, written
from tests.office import needs_office, saved

ADA = {"Student": "Ada"}


@pytest.fixture
def folder(tmp_path: Path, once: Path) -> Marked:
    return Marked(Path(shutil.copytree(once, tmp_path / "marked")))


def sort(book: Workbook, sheet: str, seed: int = 1) -> None:
    """Put the rows of a sheet into another order, as sorting does."""
    page = book[sheet]
    last = page.tables[f"{sheet}Table"].ref.partition(":")[2].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    rows = [[(cell.value, cell.data_type) for cell in row] for row in page.iter_rows(min_row=2, max_row=int(last))]
    random.Random(seed).shuffle(rows)
    for number, values in enumerate(rows, 2):
        for place, (value, kind) in enumerate(values, 1):
            page.cell(number, place).value = value
            page.cell(number, place).data_type = kind


def decorate(book: Workbook) -> None:
    """Add what a teacher adds: a column, a row below, a sheet, a colour, a note."""
    page = book["Marks"]
    column = page.max_column + 1
    page.cell(1, column).value = "Homework"
    for row in range(2, page.max_row + 1):
        page.cell(row, column).value = f"of {page.cell(row, 2).value}"
        page.cell(row, column + 1).value = f"=B{row}"
    page.cell(page.max_row + 2, 12).value = "seen with Kim"
    cell_of(book, "Marks", ADA, "Student").fill = PatternFill("solid", start_color="FFAA00")
    cell_of(book, "Runs", ADA | {"Run": 2}, "Run").font = Font(color="CC0000", bold=True)
    cell_of(book, "Marks", ADA, "Student").comment = Comment("ask Ada", "me")
    own = book.create_sheet("My list")
    own["B2"], own["B3"] = "=Marks!B2", 3.5
    own["B2"].font = Font(italic=True)


def check_decorated(book: Workbook) -> None:
    page = book["Marks"]
    heads = [cell.value for cell in page[1]]
    for row in range(2, 8):
        assert page.cell(row, heads.index("Homework") + 1).value == f"of {page.cell(row, 2).value}"
        assert page.cell(row, heads.index("Homework") + 2).value == f"=B{row}"
    assert "seen with Kim" in [cell.value for row in page.iter_rows() for cell in row]
    assert page.tables["MarksTable"].ref.startswith(f"A1:{page.cell(1, len(heads)).column_letter}")
    ada = cell_of(book, "Marks", ADA, "Student")
    assert (ada.fill.fgColor.rgb[-6:], ada.comment.text.strip()) == ("FFAA00", "ask Ada")
    assert cell_of(book, "Marks", {"Student": "Bo"}, "Student").fill.fill_type is None
    assert cell_of(book, "Runs", ADA | {"Run": 2}, "Run").font.color.rgb[-6:] == "CC0000"
    assert (book["My list"]["B3"].value, book["My list"]["B2"].font.i) == (3.5, True)


def opened(folder: Marked) -> Workbook:
    return openpyxl.load_workbook(folder.folder / "marks.xlsx")


@pytest.mark.slow
def test_what_the_teacher_added_is_there_after_every_later_run(folder: Marked) -> None:
    folder.change(decorate)
    folder.mark()
    check_decorated(opened(folder))
    second = (folder.folder / "marks.xlsx").read_bytes()
    folder.mark()
    assert (folder.folder / "marks.xlsx").read_bytes() == second


def test_rows_that_were_sorted_stay_so_and_keep_their_decisions(folder: Marked) -> None:
    typed = written(("Marks", ADA, "accuracy /3", 1), ("Runs", ADA | {"Run": 1}, "Use", "no"))
    folder.change(typed, decorate, lambda book: [sort(book, sheet) for sheet in ("Marks", "Runs")])
    order = [row[1].value for row in opened(folder)["Marks"].iter_rows(min_row=2, max_row=7)]
    tree = folder.mark()
    assert [(each["student"], each["what"], each["stale"]) for each in tree["decisions"]] == [
        ("Ada", "mark", False),
        ("Ada", "use", False),
    ]
    assert [row[1].value for row in opened(folder)["Marks"].iter_rows(min_row=2, max_row=7)] == order
    assert [one["student"] for one in tree["students"]] == ["Ada", "Bo", "Cy", "Di", "Ed", "Flo"]


@pytest.mark.slow
def test_columns_rows_and_sheets_that_are_gone_take_nothing_back(folder: Marked) -> None:
    folder.write(("Marks", ADA, "Comment", "good"), ("Runs", ADA | {"Run": 1}, "Use", "no"))
    folder.mark()

    def without(book: Workbook) -> None:
        book["Marks"].delete_cols(cell_of(book, "Marks", ADA, "Comment").column)
        book["Marks"].insert_rows(1, 3)
        del book["Runs"]
        del book["labmark"]

    folder.change(without)
    assert [each["what"] for each in folder.mark()["decisions"]] == ["comment", "use"]


@pytest.mark.slow
def test_what_an_earlier_labmark_coloured_is_not_taken_for_the_teachers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Marked(tmp_path / "marked")

    def colours(*headings: str) -> list[str]:
        book = opened(folder)
        return [str(cell_of(book, "Marks", ADA, heading).fill.fgColor.rgb[-6:]) for heading in headings]

    with monkeypatch.context() as earlier:
        earlier.setattr(workbook, "PatternFill", lambda kind=None, **_: PatternFill(kind, start_color="00FF00"))
        folder.mark()
        assert colours("accuracy /3") == ["00FF00"]
    folder.change(decorate)
    folder.mark()
    accuracy, name = colours("accuracy /3", "Student")
    assert accuracy != "00FF00"
    assert name == "FFAA00"


@pytest.mark.slow
def test_a_new_student_takes_no_row_of_another(folder: Marked) -> None:
    folder.change(written(("Marks", {"Student": "Bo"}, "accuracy /3", 0)), decorate)
    late = CLASS.replace("Bo,2,", "Abe,9,1,0.00,25.7,25.7,0.00,25.30,25.30,y,0.00,25.30,25.30,y,,,,,25.30,0.101\nBo,2,")
    tree = folder.mark(late)
    assert mark(tree, "Bo", "accuracy")["mark"] == 0
    assert mark(tree, "Abe", "accuracy")["by"] == "scheme"
    page = opened(folder)["Marks"]
    heads = [cell.value for cell in page[1]]
    homework = {row[1].value: row[heads.index("Homework")].value for row in page.iter_rows(min_row=2, max_row=8)}
    assert (homework["Bo"], homework["Abe"]) == ("of Bo", None)


@pytest.mark.slow
@needs_office
def test_another_program_may_save_the_workbook(folder: Marked) -> None:
    folder.write(
        ("Marks", ADA, "accuracy /3", 1),
        ("Marks", ADA, "Comment", "Well done: ±0.05 cm³\nsee me"),
        ("Runs", ADA | {"Run": 1}, "Initial is", 0.05),
        ("Marks", {"Student": "Cy"}, "Excused", "yes"),
    )
    folder.change(decorate)
    (file,) = saved([folder.folder / "marks.xlsx"], "xlsx", folder.folder.parent / "saved")
    shutil.copyfile(file, folder.folder / "marks.xlsx")
    tree: dict[str, Any] = folder.mark()
    assert [(each["what"], each["value"]) for each in tree["decisions"]] == [
        ("mark", 1),
        ("comment", "Well done: ±0.05 cm³\nsee me"),
        ("initial", 0.05),
        ("excused", True),
    ]
    check_decorated(opened(folder))
    assert student(tree, "Ada")["runs"][1]["written_initial"] == 0
    second = (folder.folder / "marks.xlsx").read_bytes()
    folder.mark()
    assert (folder.folder / "marks.xlsx").read_bytes() == second


def at_random(seed: int, tree: dict[str, Any]) -> dict[tuple[str, str, str, str], Any]:
    """Return decisions at random, by (sheet, student, row, heading)."""
    chance = random.Random(seed)
    made: dict[tuple[str, str, str, str], Any] = {}
    for _ in range(chance.randrange(1, 12)):
        one = chance.choice([each for each in tree["students"] if each["runs"]])
        name, given = one["student"], chance.choice(one["marks"])
        run = chance.choice([each for each in one["runs"] if each["titre"] is not None])
        heading = f"{given['criterion']} /{given['out_of']}"
        reading = round(run["initial"] + chance.choice([0.05, 0.1, 0.5]), 2)
        marks = [value / 2 for value in range(2 * given["out_of"] + 1) if value / 2 != given["mark"]]
        made |= chance.choice(
            [
                {("Marks", name, "", heading): chance.choice(marks)},
                {("Marks", name, "", "Comment"): chance.choice(["Gut.", "=1+1 is 2", "two\nlines", "±0.05 cm³ – ½"])},
                {("Marks", name, "", "Private note"): "ask again"},
                {("Marks", name, "", "Excused"): "yes"},
                {("Runs", name, run["label"], "Use"): chance.choice(["yes", "no"])},
                {("Runs", name, run["label"], "Initial is"): reading},
            ]
        )
        if one["findings"]:
            found = chance.choice(one["findings"])
            made[("Findings", name, f"{found['run'] or ''} {found['finding']}", "Aside")] = "yes"
    return made


def written_by(made: dict[tuple[str, str, str, str], Any], book: Workbook) -> None:
    """Write decisions into a workbook."""
    for (sheet, name, row, heading), value in made.items():
        run, _, finding = row.partition(" ") if sheet == "Findings" else (row, "", "")
        label = int(run) if run.isdigit() else run or None
        keys = {"Student": name} | ({} if sheet == "Marks" else {"Run": label})
        cell = cell_of(book, sheet, keys | ({"Finding": finding} if finding else {}), heading)
        cell.value, cell.data_type = value, "s" if isinstance(value, str) else "n"


def decided(tree: dict[str, Any]) -> dict[tuple[str, str, str, str], Any]:
    """Return the decisions of a tree in the form in which they were made."""
    found = {}
    sheets = {"use": "Runs", "initial": "Runs", "aside": "Findings"}
    heads = {"comment": "Comment", "note": "Private note", "excused": "Excused", "use": "Use", "initial": "Initial is"}
    for each in tree["decisions"]:
        assert each["stale"] is False
        out_of = {given["criterion"]: given["out_of"] for given in tree["students"][0]["marks"]}
        head = heads.get(each["what"], f"{each['of']} /{out_of.get(each['of'])}")
        row = "" if each["what"] not in sheets else each["of"]
        if each["what"] == "aside":
            head, row = "Aside", f"{each.get('run', '')} {each['of']}"
        value = {True: "yes", False: "no"}[each["value"]] if isinstance(each["value"], bool) else each["value"]
        found[sheets.get(each["what"], "Marks"), each["student"], row, head] = value
    return found


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> tuple[Marked, dict[str, Any], bytes]:
    """Return a folder without decisions, its tree and its workbook."""
    marked = Marked(tmp_path_factory.mktemp("plain") / "marked")
    tree = marked.mark()
    return marked, tree, (marked.folder / "marks.xlsx").read_bytes()


def decide_at_random(marked: Marked, tree: dict[str, Any], before: bytes, seed: int) -> dict[Any, Any]:
    """Write decisions into the workbook as it was at first, and return them."""
    (marked.folder / "marks.xlsx").write_bytes(before)
    made = at_random(seed, tree)
    marked.change(lambda book: written_by(made, book))
    if seed % 2:
        marked.change(lambda book: [sort(book, sheet, seed) for sheet in ("Marks", "Runs", "Findings")])
    return made


def check_kept(marked: Marked, made: dict[Any, Any]) -> None:
    (marked.folder / "results.json").unlink(missing_ok=True)  # the workbook alone remembers
    assert decided(marked.mark()) == made
    second = (marked.folder / "marks.xlsx").read_bytes()
    assert decided(marked.mark()) == made
    assert (marked.folder / "marks.xlsx").read_bytes() == second


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_no_decision_is_lost_or_goes_astray(plain: tuple[Marked, dict[str, Any], bytes], seed: int) -> None:
    check_kept(plain[0], decide_at_random(*plain, seed))


@pytest.mark.slow
@pytest.mark.parametrize("block", range(4))
def test_none_of_forty_sets_of_decisions_is_lost(plain: tuple[Marked, dict[str, Any], bytes], block: int) -> None:
    for seed in range(block * 10, block * 10 + 10):
        check_kept(plain[0], decide_at_random(*plain, seed))


@pytest.mark.slow
@needs_office
def test_no_decision_is_lost_in_another_program(plain: tuple[Marked, dict[str, Any], bytes], tmp_path: Path) -> None:
    marked, all_made, files = plain[0], [], []
    for seed in range(100, 106):
        all_made.append(decide_at_random(*plain, seed))
        files.append(Path(shutil.copyfile(marked.folder / "marks.xlsx", tmp_path / f"{seed}.xlsx")))
    for made, file in zip(all_made, saved(files, "xlsx", tmp_path / "saved"), strict=True):
        shutil.copyfile(file, marked.folder / "marks.xlsx")
        check_kept(marked, made)
