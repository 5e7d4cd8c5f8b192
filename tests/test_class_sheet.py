"""The class workbook written before the lesson: what it holds, and that it reads back without doubt."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from odf import opendocument, style, table
from pypdf import PdfReader

from labmark.cli import main
from labmark.lesson.class_sheet import write_class_sheet
from labmark.lesson.columns import LINE, columns_of
from labmark.lesson.roll import read_roll
from labmark.pipeline import read, tree_of
from labmark.practical import practical_from_rows, practical_from_toml
from labmark.practical.load import table_of
from labmark.practical.rows import rows_of, sheet_rows
from labmark.practicals import named, school_at, shipped, text_of
from labmark.problems import InputError
from labmark.read import load_book
from labmark.read.grid import Cell, Grid
from labmark.read.practical_sheet import practical_rows
from tests.columns import runs_of, students_of
from tests.office import saved
from tests.practicals import DRAIN_CLEANER
from tests.seeds import few_quick, times

NAMES = "Student,ID,Bench,Shoe size\nAnn Example,1001,1,38\nBob Test,1002,2,\nCäcilie Ört,1003,,40\n"


@pytest.fixture
def students(tmp_path) -> Path:
    path = tmp_path / "names.csv"
    path.write_text(NAMES, encoding="utf-8")
    return path


def written(tmp_path: Path, practical: str, students: Path, runs: int | None = None, name: str = "class.xlsx") -> Path:
    out = tmp_path / name
    write_class_sheet(practical, students, out, runs)
    return out


def practical_file(tmp_path: Path, *more: str) -> str:
    path = tmp_path / "own.toml"
    path.write_text(DRAIN_CLEANER + "\n".join(more), encoding="utf-8")
    return str(path)


def headings(practical: str, runs: int = 1) -> list[str]:
    return [each.heading for each in columns_of(practical_from_toml(practical), runs)]


def test_endpoints_titrations_and_several_results_have_columns_of_their_names():
    assert headings(text_of("hydroxide-and-carbonate")) == [
        "Rough initial", "Rough phenolphthalein", "Rough methyl orange",
        "Rough titre phenolphthalein", "Rough titre methyl orange",
        "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange",
        "Run 1 titre phenolphthalein", "Run 1 titre methyl orange", "Run 1 used",
        "Mean titre phenolphthalein", "Mean titre methyl orange", "Result NaOH", "Result Na2CO3",
    ]  # fmt: skip
    both = headings(text_of("calcium-and-magnesium"))
    assert both[3:6] == ["total run 1 initial", "total run 1 final", "total run 1 titre"]
    assert both[10:12] == ["calcium run 1 initial", "calcium run 1 final"]
    assert both[-4:] == ["Mean titre total", "Mean titre calcium", "Result Ca", "Result Mg"]


def fill(path: Path, rng: random.Random) -> dict[str, object]:
    """Fill every unlocked cell with what its heading asks for; return the readings by cell."""
    book = openpyxl.load_workbook(path)
    page = book["Results"]
    filled = {}
    for column in page.iter_cols():
        words = str(column[0].value).lower().split()
        for cell in column[1:]:
            if cell.protection.locked:
                continue
            initial = round(rng.uniform(0, 2) * 20) / 20
            further = {"final": 24, "titre": 22, "phenolphthalein": 20, "orange": 28}.get(words[-1])
            cell.value = filled[cell.coordinate] = (
                initial if words[-1] == "initial"
                else round(initial + further + rng.uniform(0, 2), 2) if further
                else "yes" if words[-1] == "used"
                else "0.0970" if "result" in words
                else "3" if words[0] == "bench"
                else round(rng.uniform(1.2, 1.6) - ("after" in words), 3)
            )  # fmt: skip
    book.save(path)
    return filled


# --- columns ---


def test_a_plain_practical_has_readings_titre_and_tick_of_each_run():
    assert headings(DRAIN_CLEANER) == [
        "Rough initial", "Rough final", "Rough titre",
        "Run 1 initial", "Run 1 final", "Run 1 titre", "Run 1 used",
        "Mean titre", "Result",
    ]  # fmt: skip


def test_what_is_weighed_once_has_a_column_and_what_is_weighed_into_each_flask_one_a_run():
    once = text_of("antacid-tablets")
    assert headings(once)[:3] == ["Mass before", "Mass after", "Rough initial"]
    each = headings(text_of("standardise-by-weighing"))
    assert "Mass" not in each
    assert [each[0], each[4], each[9]] == ["Rough mass", "Run 1 mass", "Run 1 result"]


def test_where_results_must_agree_every_run_has_its_mass_though_solutions_are_made_of_it():
    text = text_of("soda-crystals-own-masses").replace("[concordance]", '[concordance]\nof = "result"')
    each = headings(text)
    assert ("Mass" in each, each[4], each[9], each[-1]) == (False, "Run 1 mass", "Run 1 result", "Result")


def test_a_mean_titre_is_asked_for_only_where_titres_are_averaged():
    each = text_of("standardise-by-weighing")
    assert "Mean titre" not in headings(each)
    of_titres = each.replace("[concordance]", '[concordance]\nof = "titre"')
    assert headings(of_titres)[-2:] == ["Mean titre", "Result"]


def test_a_blank_that_is_titrated_and_a_number_by_group_have_columns():
    more = "[blank]\nruns = true\n[excess]\n"
    given = DRAIN_CLEANER.replace(
        "concentration = 0.0500", 'concentration = { by = "Bottle", values = { A = 0.05, B = 0.06 } }'
    )
    assert headings(given + more.replace("[excess]\n", ""))[:3] == ["Bottle", "Blank initial", "Blank final"]


# --- the practical in rows ---


@pytest.mark.parametrize("name", shipped())
def test_a_practical_says_the_same_in_rows(name):
    table = table_of(text_of(name))
    rows = [(key, value, f"B{row}") for row, (key, value) in enumerate(sheet_rows(table), 2)]
    again, before = practical_from_rows(rows, name), named(name)
    assert str(again.file.model_dump()) == str(before.file.model_dump())
    assert again.own == before.own


def test_formulas_and_findings_keep_their_capitals_and_hyphens_in_rows():
    table = table_of(
        'pka = { "CH3COOH" = 4.756, "H3PO4" = [2.15, 7.20, 12.35] }\nadvice = { rough-in-mean = "no [x]" }'
    )
    said = dict(sheet_rows(table))
    assert said["pka"] == "{ CH3COOH = 4.756, H3PO4 = [2.15, 7.20, 12.35] }"
    assert said["advice"] == '{ rough-in-mean = "no [x]" }'
    assert rows_of((key, value, "B1") for key, value in said.items()).table == table


BOTTLES = '{ by = "Bottle", values = { A = 0.0500, "B 2" = 0.0600 } }'


def test_each_bottle_has_a_row():
    table = table_of(DRAIN_CLEANER.replace("concentration = 0.0500", f"concentration = {BOTTLES}"))
    said = dict(sheet_rows(table))
    assert str(said["burette.concentration.values.B 2"]) == "0.0600"
    assert rows_of((key, value, "B1") for key, value in said.items()).table == table


@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
def test_what_the_technician_found_is_typed_into_the_practicals_own_sheet(ending, tmp_path, students):
    own = tmp_path / "own.toml"
    own.write_text(DRAIN_CLEANER.partition("[reference]")[0], encoding="utf-8")
    grid = load_book(written(tmp_path, str(own), students, name=f"class{ending}")).grids[1]
    typed = {
        "reference.value": "0.0981",
        "standardisation.standard": "Na2CO3",
        "standardisation.equation": "Na2CO3 + H2SO4 -> Na2SO4 + H2O + CO2",
        "standardisation.masses": "0.1325; 0.1330",
        "standardisation.titres": "25.05; 25.10",
    }
    offered = {
        cell.text: row for (row, column), cell in grid.cells.items() if column == 1 and (row, 2) not in grid.cells
    }
    assert {*offered} == {*typed}
    for key, text in typed.items():
        grid.cells[offered[key], 2] = Cell(text)
    practical = practical_from_rows([*_rows_of(grid)], "class")
    # By hand: 1000 × 0.1325 ÷ 105.99 ÷ 25.05 = 0.04990; 1000 × 0.1330 ÷ 105.99 ÷ 25.10 = 0.04999.
    assert float(practical.standardised.value) == pytest.approx((0.04990 + 0.04999) / 2, abs=1e-5)
    assert str(practical.file.reference.value) == "0.0981"


def _rows_of(grid: Grid) -> Iterator[tuple[str, object, str]]:
    for key, value in practical_rows(grid).items():
        cell = grid.cells[value]
        yield grid.cells[key].text, cell.text if cell.kind == "text" else cell.value, grid.address(value)


def test_only_what_the_technician_finds_out_is_open_in_the_practicals_own_sheet(tmp_path, students):
    page = openpyxl.load_workbook(written(tmp_path, "vinegar", students))["Practical"]
    free = {row[0].value for row in page.iter_rows(min_row=2) if not row[1].protection.locked}
    assert {"burette.concentration", "reference.value", "standardisation.masses"} <= free
    assert not {"title", "equation", "result.of", "marks.1.mark"} & free


def test_the_printed_page_and_the_practicals_own_sheet_follow_the_language(tmp_path, students):
    school, out = tmp_path / "school.toml", tmp_path / "class.xlsx"
    school.write_text('[sheet]\nlanguage = "de"\nconcentration = "mol/L"\n', encoding="utf-8")
    write_class_sheet("vinegar", students, out, None, school_at(school))
    book = openpyxl.load_workbook(out)
    page, head = book["Practical"], ["Schlüssel", "Wert", "Für die Vorbereitung"]
    assert [cell.value for cell in page[1]] == head
    assert (page.oddHeader.left.text, page.oddFooter.right.text) == ("Säure in einem Einmachessig", "&P von &N")
    assert "Gefährdungsbeurteilung" in page.oddFooter.left.text
    # "Grobtitration Anfang" takes three lines.
    assert book["Results"].row_dimensions[1].height >= 3 * LINE
    locked = {row[0].value: row[1].protection.locked for row in page.iter_rows(min_row=2)}
    assert (locked["sheet.concentration"], locked["burette.concentration"]) == (True, False)


# --- the workbook ---


def test_readings_are_validated_and_shown_to_two_decimals_and_all_else_is_locked(tmp_path, students):
    page = openpyxl.load_workbook(written(tmp_path, "vinegar", students))["Results"]
    assert [cell.value for cell in page[1]][:4] == ["Student", "ID", "Bench", "Rough initial"]
    rules = {each.coord: rule for rule in page.data_validations.dataValidation for each in rule.sqref}
    rule = rules["D2:D4"]
    assert (rule.type, rule.formula1, rule.formula2, page["D2"].number_format) == ("decimal", "0", "50.0", "0.00")
    assert page.protection.sheet
    assert page.protection.password is None
    assert [page[cell].protection.locked for cell in ("A2", "B2", "C2", "D1")] == [True] * 4
    assert [page[cell].protection.locked for cell in ("C4", "D2", "F2")] == [False] * 3


@pytest.mark.parametrize("name", few_quick(shipped(), 18))
def test_what_is_filled_in_reads_back_without_a_note(name, tmp_path, students):
    path = written(tmp_path, name, students)
    filled = fill(path, random.Random(name))
    sheet, practical = read(path, None, ())
    assert practical.file.title == named(name).file.title
    assert sheet.notes == ()
    assert not any(students_of(sheet)["notes"])
    assert not sheet.ledger.rejected
    assert {f"Results!{cell}" for cell in filled} <= sheet.ledger.used
    for run in runs_of(sheet).rows():
        for end in ("initial", "final"):
            assert run[end] == round(1000 * filled[run["cells"][end].removeprefix("Results!")])


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_random_classes_read_back_without_a_note(name, tmp_path, students):
    blank = written(tmp_path, name, students).read_bytes()
    for seed in range(times(4)):
        path = tmp_path / "filled.xlsx"
        path.write_bytes(blank)
        filled = fill(path, random.Random(seed))
        sheet, _ = read(path, None, ())
        assert (sheet.notes, any(students_of(sheet)["notes"]), dict(sheet.ledger.rejected)) == ((), False, {})
        assert {f"Results!{cell}" for cell in filled} <= sheet.ledger.used


FIVE = ["vinegar", "saponification-value", "antacid-tablets", "bleach", "water-hardness"]


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["xlsx", "ods"])
def test_libreoffice_saves_it_as_it_was_filled_in(ending, tmp_path, students):
    paths = [written(tmp_path, name, students, name=f"{name}.xlsx") for name in FIVE]
    for path in paths:
        fill(path, random.Random(path.stem))
    for path, other in zip(paths, saved(paths, ending, tmp_path / ending), strict=True):
        (before, own), (after, practical) = (read(each, None, ()) for each in (path, other))
        assert practical.file == own.file
        assert runs_of(after).without("cells") == runs_of(before).without("cells"), path.stem
        assert after.notes == (), path.stem


def test_a_faultless_class_is_marked_from_the_workbook_alone(tmp_path, students):
    path = written(tmp_path, practical_file(tmp_path), students)
    book = openpyxl.load_workbook(path)
    for row in range(2, 5):
        # By hand: 24.35 × 0.0500 × 2 ÷ 25.0 = 0.0974
        values = ["0.00", "24.60", "24.60", *["0.00", "24.35", "24.35", "yes"] * 3, "24.35", "0.0974"]
        for column, value in enumerate(values, 4):
            number = value[0].isdigit() and column < 3 + len(values)
            book["Results"].cell(row, column).value = float(value) if number else value
    book.save(path)
    tree = tree_of(*read(path, None, ()))
    assert [(one["student"], one["total"], one["out_of"]) for one in tree["students"]] == [
        (name, 12, 12) for name in ("Ann Example", "Bob Test", "Cäcilie Ört")
    ]


def test_the_same_class_gives_the_same_bytes_and_a_filled_workbook_is_never_overwritten(tmp_path, students):
    path = written(tmp_path, "vinegar", students)
    assert written(tmp_path, "vinegar", students).read_bytes() == path.read_bytes()
    fill(path, random.Random(1))
    before = path.read_bytes()
    with pytest.raises(InputError, match="there already, and is not overwritten"):
        written(tmp_path, "vinegar", students)
    assert path.read_bytes() == before


def test_columns_of_the_practical_are_those_of_another_sheet_and_not_carried(tmp_path, students):
    own = practical_file(tmp_path, "[columns]", '"Rough initial" = "Start"')
    path = written(tmp_path, own, students, runs=2)
    assert "columns" not in {str(cell.value).split(".")[0] for cell in openpyxl.load_workbook(path)["Practical"]["A"]}
    assert openpyxl.load_workbook(path)["Results"].max_column == 3 + 3 + 2 * 4 + 2


# --- as an OpenDocument spreadsheet ---


@pytest.mark.parametrize("name", few_quick(shipped(), 12))
def test_an_ods_reads_back_as_the_xlsx_does(name, tmp_path, students):
    xlsx, ods = (load_book(written(tmp_path, name, students, name=f"class{end}")).grids for end in (".xlsx", ".ods"))
    for one, other in zip(xlsx, ods, strict=True):
        said = {place: cell for place, cell in one.cells.items() if cell.text}
        assert (other.sheet, other.cells) == (one.sheet, said)


def test_readings_of_an_ods_are_questioned_and_all_but_the_cells_to_fill_in_is_protected(tmp_path, students):
    page = opendocument.load(str(written(tmp_path, "vinegar", students, name="class.ods")))
    sheet = page.getElementsByType(table.Table)[0]
    assert sheet.getAttribute("protected") == "true"
    assert sheet.getAttribute("protectionkey") is None
    cells = sheet.getElementsByType(table.TableRow)[3].getElementsByType(table.TableCell)
    styles = {each.getAttribute("name"): each for each in page.getElementsByType(style.Style)}
    shielded = [
        properties.getAttribute("cellprotect")
        for cell in cells[2:4]
        for properties in styles[cell.getAttribute("stylename")].getElementsByType(style.TableCellProperties)
    ]
    assert (shielded, cells[0].getAttribute("stylename")) == (["none", "none"], None)
    rule = next(
        each
        for each in page.getElementsByType(table.ContentValidation)
        if each.getAttribute("name") == cells[3].getAttribute("contentvalidationname")
    )
    assert rule.getAttribute("condition").endswith("cell-content-is-between(0,50.0)")
    assert "Initial burette reading" in str(rule.getElementsByType(table.HelpMessage)[0])
    assert rule.getElementsByType(table.ErrorMessage)[0].getAttribute("messagetype") == "warning"


def test_a_name_of_any_signs_is_the_same_in_an_ods_of_the_same_bytes(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text('<Ann> & "Bob" =1+1\n\x07Émile {{ O\u2019Test }}\n', encoding="utf-8")
    ods = written(tmp_path, "vinegar", path, name="class.ods")
    assert load_book(ods).grids[0].cells[2, 1].text == '<Ann> & "Bob" =1+1'
    assert load_book(ods).grids[0].cells[3, 1].text == read_roll(path).rows[1][0].lstrip("\x07")
    before = ods.read_bytes()
    ods.unlink()
    assert written(tmp_path, "vinegar", path, name="class.ods").read_bytes() == before


@pytest.mark.slow
def test_an_ods_that_libreoffice_saves_when_filled_in_is_marked_as_the_xlsx_is(tmp_path, students):
    blank = [written(tmp_path, name, students, name=f"{name}.ods") for name in FIVE]
    opened = saved(blank, "xlsx", tmp_path / "opened")
    paths = [written(tmp_path, name, students, name=f"{name}.xlsx") for name in FIVE]
    for pair in zip(paths, opened, strict=True):
        cells = [fill(path, random.Random(path.stem)) for path in pair]
        assert cells[0] == cells[1]
    for pair in zip(paths, saved(opened, "ods", tmp_path / "filled"), strict=True):
        one, other = (read(path, None, ()) for path in pair)
        assert tree_of(*other)["students"] == tree_of(*one)["students"], pair[0].stem
        assert other[0].notes == (), pair[0].stem


# --- the list ---


@pytest.mark.parametrize(
    ("name", "text", "rows"),
    [
        ("a.txt", "Ann Example\n\n Smith, Bob \n", [("Ann Example",), ("Smith, Bob",)]),
        ("n.txt", "Student 1\nStudent 2\n", [("Student 1",), ("Student 2",)]),
        ("b.csv", "Ann Example\nBob Test\n", [("Ann Example",), ("Bob Test",)]),
        ("c.csv", "Surname;Forename;E-mail\nTest;Bob;b@c.d\n", [("Bob Test", "b@c.d")]),
        ("c.csv", "Name;Vorname\nTest;Bob\n", [("Bob Test",)]),
        ("c.csv", "Name;Vorname\nBob Test;Bob\n", [("Bob Test",)]),
        ("c.csv", "Name;Vorname;Nachname\nBob T;Bob;Test\n", [("Bob T",)]),
        ("c.csv", "Username;ID;Name\nbtest;101;Bob\n", [("Bob", "101")]),
        ("c.csv", "Email\nb@c.d\n", [("b@c.d",)]),
        ("d.csv", "Students of class 10B\nName;ID\nBob;101\n", [("Bob", "101")]),
        ("d.csv", "Class list\nName,Group 1\n=SUM,A\n", [("=SUM", "A")]),
    ],
)
def test_a_list_is_read(name, text, rows, tmp_path):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    assert list(read_roll(path).rows) == rows


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Name,ID\nAnn,1\n,2\n", "A3: the name is blank"),
        ("Name,ID\nAnn,1\nAnn,1\n", "A3: Ann stands in A2 as well"),
        ("Shoe size,Bench\n38,1\n", "no column of the list is headed Student"),
        ("Name,ID\n", "the list names nobody"),
        *(
            (f"Name\nAnn\nBob\n{gap}{note}\n", f"{note}' reads as a note, not as a name; take it out of the list, or")
            for gap in ("", "\n")
            for note in (
                "28 students",
                "Checked by KM",
                "Note: Bob is new",
                "thank you",
                "Please hand in at the office",
            )
        ),
        ("Name\nExample, Ann\nBob\n", "list.csv, cell B2: ' Ann' stands under no heading; put a name with a comma"),
    ],
)
def test_what_is_wrong_with_a_list_is_said_in_a_line(text, said, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_roll(path)


@pytest.mark.parametrize(
    "names", ["anna\nbob", "Ann van Dam\nBob de Wit", "S01\nS02", "Ann Lee-Wu\nJan van der Berg Maria Sousa"]
)
def test_names_in_small_letters_or_of_many_words_are_no_notes(names, tmp_path):
    path = tmp_path / "list.txt"
    path.write_text(names, encoding="utf-8")
    assert [name for name, *_ in read_roll(path).rows] == names.split("\n")


@pytest.mark.parametrize(
    "text",
    [
        *("1. Ann Lee\n2. Bob Wu", "1)\tAnn Lee\n2)\tBob Wu", "- Ann Lee\n- Bob Wu"),
        *("Name\nAnn Lee\nBob Wu", "Name\n1. Ann Lee\n2. Bob Wu"),
    ],
)
def test_what_counts_the_lines_of_a_list_is_no_part_of_the_names(text, tmp_path):
    path = tmp_path / "list.txt"
    path.write_text(text, encoding="utf-8")
    assert read_roll(path).rows == (("Ann Lee",), ("Bob Wu",))


@pytest.mark.parametrize("text", ["Group 1\nGroup 2\nGroup 3", "Bench 1\nBench 2", "Gruppe 1\nGruppe 2"])
def test_groups_that_work_together_are_no_title_over_a_list(text, tmp_path):
    path = tmp_path / "list.txt"
    path.write_text(text, encoding="utf-8")
    assert [name for name, *_ in read_roll(path).rows] == text.split("\n")


def test_numbers_that_do_not_count_the_lines_are_the_names(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("4. Ann\n2. Bob", encoding="utf-8")
    assert read_roll(path).rows == (("4. Ann",), ("2. Bob",))


def test_a_text_with_a_row_of_headings_is_a_table(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("Student,Bench\nAnn,1\nBob,2", encoding="utf-8")
    assert read_roll(path).rows == (("Ann", "1"), ("Bob", "2"))


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("Ann Lee\t4021\nBob Wu\t4028", ("A1: 'Ann Lee 4021' is more than a name", "A2: 'Bob Wu 4028'")),
        ("Ann Lee, Bob Wu, Cy Oz", ("A1: 'Ann Lee, Bob Wu, Cy Oz' is more than a name; write one name per line",)),
        ("Class 10B\n\nAnn Lee\nBob Wu", ("A1: 'Class 10B' reads as a title, not as a name; take it out",)),
        ("Class 10B\nGroup 1\nGroup 2", ("A1: 'Class 10B' reads as a title, not as a name; take it out",)),
    ],
)
def test_lines_that_are_no_names_are_refused(text, wrong, tmp_path):
    path = tmp_path / "list.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_roll(path)
    told = [str(each) for each in error.value.problems]
    assert all(one in each for one, each in zip(wrong, told, strict=True))


def test_the_sheet_of_a_workbook_that_names_students_is_the_list(tmp_path):
    book, path = openpyxl.Workbook(), tmp_path / "class.xlsx"
    book.active.append(["An invented class; keep this sheet"])
    named = book.create_sheet("List")
    for row in (["Student", "Bench"], ["Ada", "1"], ["Ben", "2"]):
        named.append(row)
    book.save(path)
    roll = read_roll(path)
    assert (roll.headings, roll.rows) == (("Student", "Bench"), (("Ada", "1"), ("Ben", "2")))


def test_students_of_one_name_are_told_apart_by_their_id(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Name,ID\nAnn,1\nAnn,2\n", encoding="utf-8")
    assert len(read_roll(path).rows) == 2


def test_a_name_whose_formula_was_never_calculated_is_not_left_out(tmp_path):
    book = openpyxl.Workbook()
    for row in (["Name"], ["=B2"], ["Bob Test"]):
        book.active.append(row)
    book.save(tmp_path / "list.xlsx")
    with pytest.raises(InputError, match="A2: the name is blank"):
        read_roll(tmp_path / "list.xlsx")


@pytest.mark.parametrize(
    "name", few_quick(["Cy Third", "Average Joe", "Student 1", "Run 1", "=1+1", "Blank", "Mean Joan", "Max Blank"], 8)
)
def test_a_class_called_10A_and_names_like_headings_are_no_row_of_headings(name, tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(f"Student,Class\n{name},10A\nBob Test,10A\n", encoding="utf-8")
    out = written(tmp_path, "vinegar", path)
    book = openpyxl.load_workbook(out)
    for row, rough in ((2, 2.0), (3, 1.0)):  # so far the rough alone
        book["Results"].cell(row, 3).value, book["Results"].cell(row, 4).value = rough, 19.0
    book.save(out)
    sheet, _ = read(out, None, ())
    assert [*students_of(sheet)["student"]] == [name, "Bob Test"]
    assert (sheet.notes, len(runs_of(sheet))) == ((), 2)


def test_a_class_of_one_is_written_where_there_are_several_titrations(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("Ann\n", encoding="utf-8")
    assert written(tmp_path, "calcium-and-magnesium", path).exists()


def test_a_name_that_reads_as_a_line_of_class_figures_is_refused(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("Ann Example\nMean\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["sheet", "vinegar", "--students", str(path), "--out", str(tmp_path / "a.xlsx")])
    assert done.exit_code == 1
    assert done.stderr.count("\n") == 1
    assert "cell A2: Mean would be read as a line of class figures" in done.stderr
    assert not (tmp_path / "a.xlsx").exists()


def test_a_long_name_is_a_name(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("Ann\nMaría del Carmen de la Cruz y Pérez de Example\n", encoding="utf-8")
    assert openpyxl.load_workbook(written(tmp_path, "vinegar", path))["Results"].max_row == 3


# Pages to fill in at the bench, one for each student of the list.


def bench_pages(tmp_path: Path, practical: str, text: str, runs: int | None = None) -> list[str]:
    """Return the words of each page; an empty one is the back of a student's paper."""
    (tmp_path / "names.csv").write_text(text, encoding="utf-8")
    done = CliRunner().invoke(
        main,
        ["sheet", practical, "--students", str(tmp_path / "names.csv"), "--out", str(tmp_path / "bench.pdf")]
        + (["--runs", str(runs)] if runs else []),
    )
    assert done.exit_code == 0, done.stderr
    assert "labmark mark" not in done.stderr
    pages = PdfReader(tmp_path / "bench.pdf").pages
    return [" ".join(page.extract_text().replace("\u200b", "").split()) for page in pages]


def test_every_student_has_a_page_with_name_id_and_bench_on_paper_of_their_own(tmp_path):
    list_of = "Student,ID,Bench,Email\nAnn Example,1001,1,a@example.org\nBob Test,1002,,b@example.org\n"
    ann, back, bob = bench_pages(tmp_path, "vinegar", list_of)
    assert ann.startswith("Ann Example Acid in a pickling vinegar")
    assert "ID 1001 Bench 1 Date" in ann
    assert bob.startswith("Bob Test Acid in a pickling vinegar")
    assert "ID 1002 Bench Date" in bob  # to be filled in
    assert back == ""
    assert "Bob" not in ann
    assert "@" not in ann + bob
    for page in (ann, bob):
        assert "Never pipette by mouth" in page
        assert "risk assessment" in page


@pytest.mark.parametrize(
    ("practical", "asked"),
    [
        ("soda-crystals-own-masses", ["Your own numbers Mass", "Rough Run 1 Run 2 Run 3", "the others are Mass,"]),
        ("hydroxide-and-carbonate", ["titre methyl orange", "Mean titre phenolphthalein", "(mass concentration of Na₂CO₃"]),
    ],
)  # fmt: skip
def test_a_page_asks_for_what_the_practical_needs(practical, asked, tmp_path):
    [page] = bench_pages(tmp_path, practical, "Student\nAnn Example\n")
    assert [each for each in asked if each not in page] == []


def test_a_page_has_room_for_as_many_runs_as_are_asked_for(tmp_path):
    [page] = bench_pages(tmp_path, "vinegar", "Student\nAnn Example\n", runs=5)
    assert "Rough Run 1 Run 2 Run 3 Run 4 Run 5 initial" in page


def test_a_bottle_that_the_list_gives_is_printed_and_not_asked_for(tmp_path):
    own, bottles = practical_file(tmp_path), '{ by = "Bottle", values = { A = 0.0500, B = 0.0510 } }'
    text = DRAIN_CLEANER.replace("concentration = 0.0500", f"concentration = {bottles}")
    Path(own).write_text(text, encoding="utf-8")
    [without] = bench_pages(tmp_path, own, "Student\nAnn Example\n")
    (tmp_path / "bench.pdf").unlink()
    [given] = bench_pages(tmp_path, own, "Student,Bottle\nAnn Example,B\n")
    assert "Your own numbers Bottle" in without
    assert "the others are Bottle," in without
    assert "Bottle B Date" in given
    assert given.count("Bottle") == 1


def test_in_large_print_a_page_that_goes_on_says_whose_it_is(tmp_path):
    own = practical_file(tmp_path, "[sheet]", 'size = "large"', 'language = "de"')
    pages = bench_pages(tmp_path, own, "Student,Bench\nAnn Example,1\nBob Test,2\n")
    assert [page[:3] for page in pages if page.startswith(("Ann", "Bob"))] == ["Ann", "Bob"]
    assert len(pages) == 4
    assert all(page.endswith(name) for page, name in zip(pages[1::2], ("Ann Example", "Bob Test"), strict=True))
    assert "Arbeitsplatz 1 Datum" in pages[0]


def test_a_name_that_cannot_be_printed_is_said_and_its_page_bears_a_number(tmp_path):
    path = tmp_path / "names.txt"
    path.write_text("Ann Example\n\U00013000\U00013001 Scribe\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["sheet", "vinegar", "--students", str(path), "--out", str(tmp_path / "bench.pdf")])
    assert "cannot be printed the pages say Student 2" in done.stderr
    assert PdfReader(tmp_path / "bench.pdf").pages[2].extract_text().startswith("Student 2")


def test_pages_of_the_same_class_are_the_same_bytes_and_never_overwritten(tmp_path, students):
    made = [written(tmp_path, "vinegar", students, name=f"{at}.pdf").read_bytes() for at in range(2)]
    assert made[0] == made[1]
    (tmp_path / "0.pdf").write_bytes(b"mine")
    with pytest.raises(InputError, match="not overwritten"):
        written(tmp_path, "vinegar", students, name="0.pdf")


def test_a_file_of_another_kind_is_refused_in_a_line(tmp_path, students):
    with pytest.raises(InputError, match=r"written as .xlsx or .ods.*name it class.xlsx"):
        write_class_sheet("vinegar", students, tmp_path / "class.csv", None)


@pytest.mark.slow
def test_two_thousand_names_take_a_workbook_too(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("\n".join(f"Student {number}" for number in range(2000)), encoding="utf-8")
    assert openpyxl.load_workbook(written(tmp_path, "vinegar", path))["Results"].max_row == 2001
