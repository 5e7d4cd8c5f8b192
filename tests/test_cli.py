"""The commands as a teacher uses them: what is written, what is said, and that a bad input loses nothing."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from contextlib import chdir
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from labmark.cli import main
from labmark.outputs.data import results_text
from labmark.pipeline import judged_tree
from labmark.places import practicals_folder
from labmark.practicals import shipped
from tests.practicals import DRAIN_CLEANER
from tests.seeds import few_quick

HEADER = "Student,Bench,Rough initial,Rough final,Rough titre,Run 1 initial,Run 1 final,Run 1 titre,Run 1 used"
HEADER += ",Run 2 initial,Run 2 final,Run 2 titre,Run 2 used,Mean titre,Result"
ROWS = [
    "S01,1,0.00,24.90,24.90,0.00,24.35,24.35,y,0.00,24.40,24.40,y,24.38,0.0975",
    "S02,1,0.00,24.80,24.80,24.30,0.00,24.30,y,0.00,24.35,24.35,y,24.33,0.0973",
    "S03,2,0.00,25.00,25.00,0.00,24.40,24.50,y,0.00,24.45,24.45,y,24.48,0.0490",
    "S04,2,,,,,,,,,,,,,",
]
FILES = {
    "report.html",
    "marks.xlsx",
    "marks.csv",
    "marks.schema.json",
    "sheets.csv",
    "feedback.pdf",
    "distribution.svg",
    "distribution.png",
    "results.json",
}


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder of one's own, with spaces and an umlaut in its name, as teachers have them."""
    folder = tmp_path / "Year 12 Säuren"
    folder.mkdir()
    monkeypatch.chdir(folder)
    write_class()
    return folder


def write_class():
    Path("class.csv").write_text("\n".join([HEADER, *ROWS]) + "\n", encoding="utf-8")
    Path("drain.toml").write_text(DRAIN_CLEANER, encoding="utf-8")


def run(*arguments, code=0):
    done = CliRunner().invoke(main, [str(each) for each in arguments])
    assert done.exit_code == code, (done.output, done.exception)
    return done


def results(folder="marked"):
    return json.loads(Path(folder, "results.json").read_text(encoding="utf-8"))


def judged(file, practical):
    """Return the record of a class, without the files made from it."""
    return json.loads(results_text(judged_tree(Path(file), practical, ())))


@pytest.fixture(scope="module")
def marked(tmp_path_factory):
    """The folder that a run has left."""
    with chdir(tmp_path_factory.mktemp("earlier")):
        write_class()
        run("mark", "class.csv", "--practical", "drain.toml")
        return Path("marked").resolve()


def test_mark_writes_the_folder_and_says_who_to_look_at(place):
    done = run("mark", "class.csv", "--practical", "drain.toml", "--out", "marked")
    assert {each.name for each in Path("marked").iterdir() if each.is_file() and not each.name.startswith(".")} == FILES
    assert sorted(each.name for each in Path("marked", "feedback").iterdir()) == [
        "01 S01.pdf",
        "02 S02.pdf",
        "03 S03.pdf",
        "04 S04.pdf",
    ]
    assert done.stdout == ""
    assert "4 students, 1 absent, 9 runs" in done.stderr
    assert "Nobody needs a second look." in done.stderr
    assert "Wrote marked" in done.stderr
    assert "\x1b[" not in done.stderr


def test_the_record_holds_what_the_contract_says(marked):
    tree = results(marked)
    one, two, three, four = tree["students"]
    assert one["mean_titre"] == 24.375
    assert one["result"]["value"] == pytest.approx(0.0975)
    assert one["percent_error"] == pytest.approx(100 * (0.0975 - 0.0974) / 0.0974)
    assert one["z"] == pytest.approx((0.0975 - 0.0974) / 0.000974)
    assert (one["total"], one["out_of"]) == (12, 12)
    assert [each["finding"] for each in two["findings"]] == ["reversed-readings"]
    assert {"subtraction-slip", "ratio-ignored"} <= {each["finding"] for each in three["findings"]}
    assert (four["absent"], four["total"], four["marks"]) == (True, 0, [])
    cells = tree["cells"]
    assert cells["filled"] == cells["used"] + cells["ignored"] + cells["rejected"]
    assert tree["reference"] == {
        "value": 0.0974,
        "standard_uncertainty": 0.0004,
        "unit": "mol/dm3",
        "from": "practical",
    }


def test_readings_keep_the_digits_that_were_written(marked):
    assert '"final": 24.90' in (marked / "results.json").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_same_input_gives_the_same_bytes_and_quiet_says_nothing(place, marked):
    assert run("mark", "class.csv", "--practical", "drain.toml", "--out", "again", "--quiet").output == ""
    assert _hashes("again") == _hashes(marked)


def _hashes(folder):
    files = sorted(path for path in Path(folder).rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_a_class_without_reference_is_held_against_its_own_centre(place):
    text = DRAIN_CLEANER.partition("[reference]")[0]
    Path("bare.toml").write_text(text, encoding="utf-8")
    tree = judged("class.csv", "bare.toml")
    assert tree["reference"]["from"] == "class"
    assert tree["reference"]["value"] == pytest.approx(tree["class"]["robust_mean"])


def test_a_shipped_practical_is_found_by_its_bare_name(place):
    assert judged("class.csv", "drain-cleaner")["practical"]["title"] == "Strength of a drain cleaner"


def test_the_practical_may_stand_in_the_workbook(place):
    book = openpyxl.Workbook()
    book.active.title = "Results"
    for line in [HEADER, *ROWS]:
        book.active.append([_value(text) for text in line.split(",")])
    sheet = book.create_sheet("Practical")
    for row in [
        ("title", "Strength of a drain cleaner"),
        ("equation", "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"),
        ("burette.solution", "H2SO4"),
        ("burette.concentration", 0.05),
        ("flask.solution", "NaOH"),
        ("flask.aliquot", 25),
        ("result.of", "NaOH"),
    ]:
        sheet.append(row)
    book.save("class.xlsx")
    tree = judged("class.xlsx", None)
    assert tree["source"]["sheets"] == ["Results"]
    assert tree["students"][0]["runs"][0]["cells"]["initial"] == "Results!C2"
    assert tree["cells"]["filled"] == tree["cells"]["used"] + tree["cells"]["ignored"] + tree["cells"]["rejected"]


def _value(text):
    try:
        return float(text)
    except ValueError:
        return text or None


def test_a_practical_in_the_workbook_that_is_passed_over_for_another_is_said(place):
    names = Path("names.txt")
    names.write_text("S01\n", encoding="utf-8")
    run("sheet", "drain-cleaner", "--students", "names.txt", "--out", "lesson.xlsx")
    said = "sheet Practical was passed over"
    assert said not in run("check", "lesson.xlsx", "--practical", "drain-cleaner").output
    book = openpyxl.load_workbook("lesson.xlsx")
    rows = {row[0].value: row[1] for row in book["Practical"].iter_rows() if row[0].value}
    rows["reference.value"].value = 0.0987  # found out by the technician
    book.save("lesson.xlsx")
    assert said in run("check", "lesson.xlsx", "--practical", "drain-cleaner").output
    assert said in run("mark", "lesson.xlsx", "--practical", "drain-cleaner", "--out", "marked").output
    assert said not in run("check", "lesson.xlsx").output


def test_a_burette_that_was_filled_again_is_told_with_what_was_read_in_each_part(place):
    line = "S05,1,0.00,24.90,24.90,30.00,50.00 + 4.40,24.40,y,0.00,24.40,24.40,y,24.40,0.0976"
    Path("class.csv").write_text("\n".join([HEADER, *ROWS, line]) + "\n", encoding="utf-8")
    german = f'{DRAIN_CLEANER}\n[sheet]\nlanguage = "de"\ndecimal = ","\n'
    Path("drain.toml").write_text(german, encoding="utf-8")
    run("mark", "class.csv", "--practical", "drain.toml")
    tree = json.loads(Path("marked/results.json").read_text(encoding="utf-8"))
    assert tree["students"][4]["runs"][1]["parts"] == [[30.0, 50.0], [0.0, 4.4]]
    told = run("explain", "marked", "S05").output
    assert (
        "1: 30.00 to 4.40, titre 24.40; in the mean: agrees with the others in the mean; filled again: 30.00 to 50.00"
        in told
    )
    assert "30.00 to 50.00 and 0.00 to 4.40 add up to 24.40 cm³" in tree["students"][4]["findings"][0]["message"]
    page = PdfReader("marked/feedback/05 S05.pdf").pages[0].extract_text()
    assert "nachgefüllt: 30,00 bis 50,00 und 0,00 bis 4,40" in " ".join(page.split())


def test_check_shows_the_understanding_and_writes_nothing(place):
    before = sorted(place.iterdir())
    done = run("check", "class.csv", "--practical", "drain.toml")
    assert sorted(place.iterdir()) == before
    for text in (
        "How the sheet was understood",
        "Run 1 initial",
        "expected titre 24.35 cm³",
        "Nothing was written",
    ):
        assert text in done.stdout


def test_check_says_of_a_class_too_that_the_expected_titre_does_not_suit_the_burette(place):
    Path("more.toml").write_text(DRAIN_CLEANER.replace("aliquot = 25.0", "aliquot = 75.0"), encoding="utf-8")
    assert (
        "warning: 73.05 cm³ is more than the burette holds"
        in run("check", "class.csv", "--practical", "more.toml").stdout
    )


def test_check_prints_the_columns_ready_to_paste(place):
    done = run("check", "class.csv", "--practical", "drain.toml", "--mapping")
    assert done.stdout.startswith("[columns]\n")
    Path("mapped.toml").write_text(done.stdout.rpartition("\n\n")[2] + "\n", encoding="utf-8")


def test_help_names_the_commands():
    for command, argument in (("mark", " CLASS"), ("check", " [CLASS]"), ("practicals", " [NAME]")):
        assert command in run("--help").output
        assert argument in run(command, "--help").output


# --- practicals ---


def test_those_that_ship_are_listed_with_what_is_asked_the_expected_titre_and_the_equation():
    lines = run("practicals").stdout.splitlines()
    place = next(number for number, line in enumerate(lines) if line.startswith("drain-cleaner "))
    assert lines[place].split() == ["drain-cleaner", "amount", "concentration", "of", "NaOH,", "mol/dm³"]
    assert lines[place + 1].split(maxsplit=2) == ["25.30", "cm³", "2 NaOH + H₂SO₄ → Na₂SO₄ + 2 H₂O"]
    own = next(number for number, line in enumerate(lines) if line.startswith("standardise-by-weighing "))
    assert lines[own + 1].lstrip().startswith("own numbers   KHC₈H₄O₄")
    assert max(map(len, lines)) <= 80


def test_titres_and_equations_stand_beneath_each_other_in_the_list_of_practicals_and_each_equation_once():
    lines = run("practicals").stdout.splitlines()
    place = next(number for number, line in enumerate(lines) if line.startswith("calcium-and-magnesium "))
    first, second, after = lines[place + 1 : place + 4]
    assert first.index("Ca²⁺") == second.index("Mg²⁺")
    assert after.startswith("carbonate-and-hydrogencarbonate")


def test_one_practical_is_shown_with_the_text_of_its_file():
    shown = run("practicals", "vinegar").stdout
    assert "CH₃COOH + NaOH → CH₃COONa + H₂O" in shown
    assert (practicals_folder() / "vinegar.toml").read_text(encoding="utf-8").rstrip() in shown


def test_a_copy_to_edit_is_the_file_that_ships_and_what_to_change_is_said(place):
    said = run("practicals", "vinegar", "--new", "My vinegar.toml").stdout
    assert Path("My vinegar.toml").read_bytes() == (practicals_folder() / "vinegar.toml").read_bytes()
    for words in ("burette.concentration       0.1000 mol/dm³", "reference                   5.12 %", "marks"):
        assert words in said
    assert 'labmark check --practical "My vinegar.toml"' in said


def test_a_number_of_each_students_own_is_told_with_its_column(place):
    said = run("practicals", "eggshells-own-masses", "--new", "shells.toml").stdout
    assert "sample.mass                 each student's own, from the column Mass" in said


@pytest.mark.parametrize(("new", "copied"), [("mine.toml", "drain-cleaner"), ("sea-water.toml", "sea-water")])
def test_without_a_name_the_best_explained_is_copied_or_the_one_that_the_file_is_called_after(place, new, copied):
    assert f"a copy of {copied}" in run("practicals", "--new", new).stdout
    assert Path(new).read_bytes() == (practicals_folder() / f"{copied}.toml").read_bytes()


def test_last_years_own_practical_can_be_copied_too(place):
    run("practicals", "drain.toml", "--new", "this year.toml")
    assert Path("this year.toml").read_text(encoding="utf-8") == DRAIN_CLEANER


def test_a_practical_alone_is_told_in_full(place):
    said = run("check", "--practical", "drain.toml").stdout
    for words in (
        "2 NaOH + H₂SO₄ → Na₂SO₄ + 2 H₂O",
        "expected titre 24.35 cm³, for the reference 0.0974 mol/dm³",
        "1. amount of H₂SO₄ in the mean titre: n = c × V ÷ 1000",
        "0.0500 mol/dm³ × 24.35 cm³ ÷ 1000 = 0.0012175 mol",
        "burette calibration",
        "the school way, percentages added up: 1.1 %",
        "accuracy: 3 within 0.20, 2 within 0.40, 1 within 0.60 cm³ of the titre",
        "no band is finer",
        "Wear eye protection throughout",
    ):
        assert words in said
    assert max(map(len, said.splitlines())) <= 80


@pytest.mark.parametrize("name", few_quick(shipped(), 3))
def test_what_ships_is_told_within_the_width_of_a_terminal(name):
    said = run("check", "--practical", name).stdout
    assert "Cautions" in said
    assert max(map(len, said.splitlines())) <= 80


def test_a_practical_with_masses_of_their_own_says_which_are_usual(place):
    said = run("check", "--practical", "standardise-by-weighing").stdout
    # 15.0 to 40.0 cm³ × 0.1004 mol/dm³ × 204.22 g/mol: 0.3076 to 0.8201 g
    assert "expected titre: each student's own" in said
    assert "usual titres call for 0.308 to 0.820 g as sample.mass" in said


BAD = {
    "missing file": (["mark", "nothing.csv", "--practical", "drain.toml"], r"nothing\.csv: .*no such file"),
    "missing practical": (["mark", "class.csv", "--practical", "drain-claener"], r"drain-claener: no such practical file; perhaps drain-cleaner"),
    "no practical at all": (["mark", "class.csv"], r"class\.csv: there is no practical: .* --practical"),
    "practical that is no TOML": (["mark", "class.csv", "--practical", "class.csv"], r"class\.csv: not a practical file in TOML"),
    "out is a file": (["mark", "class.csv", "--practical", "drain.toml", "--out", "drain.toml"], r"drain\.toml: this is a file, not a folder"),
    "text that is no workbook": (["mark", "fake.xlsx", "--practical", "drain.toml"], r"fake\.xlsx"),
    "empty workbook": (["mark", "empty.xlsx", "--practical", "drain.toml"], r"empty\.xlsx"),
    "no recognisable header": (["mark", "shopping.csv", "--practical", "drain.toml"], r"shopping\.csv"),
    "no such sheet": (["mark", "empty.xlsx", "--practical", "drain.toml", "--sheet", "Other"], r"empty\.xlsx.*Other"),
    "two rows alike": (["mark", "twice.csv", "--practical", "drain.toml"], r"twice\.csv.*A3"),
    "practical that does not balance": (["mark", "class.csv", "--practical", "odd.toml"], r"odd\.toml: key equation: .*does not balance"),
    "practical with a wrong species": (["mark", "class.csv", "--practical", "species.toml"], r"species\.toml: key burette\.solution: found 'HCl'"),
    "no column to choose the reference by": (["mark", "class.csv", "--practical", "bottle.toml"], r"class\.csv: there is no column 'Bottle', by which"),
    "more runs than can be handled": (["mark", "long.csv", "--practical", "drain.toml"], r"long\.csv, cell A2: 70 runs stand for S01; at most 62"),
    "copy that would overwrite": (["practicals", "vinegar", "--new", "drain.toml"], r"^labmark: drain\.toml: it is there already, and is not overwritten; give"),
    "copy into a folder that is not there": (["practicals", "--new", "none/new.toml"], r"none.new\.toml: it cannot be written \(No such file"),
    "copy onto a folder": (["practicals", "--new", "."], r"\.: it is a folder; give the name of a new file"),
    "a word of a name": (["practicals", "copper"], r"copper: no such practical file; perhaps copper-in-brass is meant"),
    "copy of nothing": (["practicals", "vinger", "--new", "new.toml"], r"vinger: no such practical file; perhaps vinegar is meant"),
    "copy of what is wrong": (["practicals", "odd.toml", "--new", "new.toml"], r"odd\.toml: key equation: .*does not balance"),
    "practical alone that does not balance": (["check", "--practical", "odd.toml"], r"odd\.toml: key equation: .*does not balance"),
    "practical alone without the mass it needs": (["check", "--practical", "massless.toml"], r"massless\.toml: key result\.quantity: percent by mass needs the mass"),
    "bottle without a reference": (["mark", "class.csv", "--practical", "bench.toml"], r"class\.csv, cell B4: Bench '2' has no reference value"),
}  # fmt: skip


@pytest.fixture
def bad_files(place, marked):
    shutil.copytree(marked, "marked")
    Path("fake.xlsx").write_text("this is no workbook", encoding="utf-8")
    openpyxl.Workbook().save("empty.xlsx")
    Path("shopping.csv").write_text("milk,2\nbread,1\n", encoding="utf-8")
    Path("twice.csv").write_text("\n".join([HEADER, ROWS[0], ROWS[0]]) + "\n", encoding="utf-8")
    Path("odd.toml").write_text(DRAIN_CLEANER.replace("2 NaOH", "NaOH"), encoding="utf-8")
    Path("species.toml").write_text(DRAIN_CLEANER.replace('"H2SO4"', '"HCl"'), encoding="utf-8")
    massless = DRAIN_CLEANER.replace("[reference]", 'quantity = "percent by mass"\n[reference]')
    Path("massless.toml").write_text(massless, encoding="utf-8")
    by_bench = DRAIN_CLEANER.replace("value = 0.0974", 'by = "Bench"\nvalues = { 1 = 0.0974 }')
    Path("bench.toml").write_text(by_bench, encoding="utf-8")
    by_bottle = DRAIN_CLEANER.replace("value = 0.0974", 'by = "Bottle"\nvalues = { A = 0.0974 }')
    Path("bottle.toml").write_text(by_bottle, encoding="utf-8")
    many = ["Student", *(f"Run {number} {which}" for number in range(1, 71) for which in ("initial", "final"))]
    Path("long.csv").write_text("\n".join([",".join(many), "S01" + ",0.00,24.35" * 70]) + "\n", encoding="utf-8")
    return place


@pytest.mark.parametrize("name", few_quick(BAD, 2))
def test_a_bad_input_is_one_clear_line_and_loses_nothing(bad_files, name):
    before = _hashes(".")
    arguments, said = BAD[name]
    done = run(*arguments, code=1)
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert any(re.search(said, line) for line in lines), done.stderr
    assert all(line.startswith("labmark: ") for line in lines)
    assert "Traceback" not in done.output
    assert _hashes(".") == before


@pytest.mark.parametrize(
    "arguments",
    [
        ["mark"],
        ["mark", "a", "b"],
        ["mark", "a", "--nonsense"],
        ["nonsense"],
        ["mark", "a", "--jobs", "0"],
        ["check"],
        ["check", "--practical", "vinegar", "--mapping"],
        ["check", "--practical", "vinegar", "--sheet", "Results"],
        ["check", "vinegar.toml"],
        ["practicals", "vinegar", "sea-water"],
    ],
)
def test_wrong_use_of_the_command_line_is_status_two(arguments):
    run(*arguments, code=2)


def test_whether_a_file_may_be_read_is_found_out_by_reading_it(place, monkeypatch):
    monkeypatch.setattr("os.access", lambda *_, **__: False)
    run("check", "class.csv", "--practical", "drain.toml")


def test_wrong_use_says_what_to_give_instead():
    assert "or give --practical alone" in run("check", code=2).stderr
    assert "--mapping needs CLASS" in run("check", "--mapping", code=2).stderr
    assert "write --practical before it" in run("check", "vinegar.toml", code=2).stderr


def test_one_student_without_a_reference_is_not_marked_on_accuracy(place):
    Path("one.csv").write_text("\n".join([HEADER, ROWS[0]]) + "\n", encoding="utf-8")
    Path("bare.toml").write_text(DRAIN_CLEANER.partition("[reference]")[0], encoding="utf-8")
    tree = judged("one.csv", "bare.toml")
    assert tree["reference"]["from"] == "class"
    assert tree["class"]["not_marked"] == ["accuracy"]
    assert (tree["students"][0]["total"], tree["students"][0]["out_of"]) == (9, 9)


def test_bottles_are_matched_whatever_their_capitals(place):
    by_bench = DRAIN_CLEANER.replace("value = 0.0974", 'by = "Group"\nvalues = { A = 0.0974, B = 0.0980 }')
    Path("group.toml").write_text(by_bench, encoding="utf-8")
    lines = [HEADER.replace("Bench", "Group"), *(row.replace(",1,", ",a ,").replace(",2,", ",B,") for row in ROWS)]
    Path("grouped.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    tree = judged("grouped.csv", "group.toml")
    assert [one["reference"]["value"] for one in tree["students"]] == [0.0974, 0.0974, 0.098, 0.098]
