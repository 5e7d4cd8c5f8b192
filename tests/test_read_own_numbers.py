"""A number of the students' own in the class sheet is never passed over in silence. Figures are invented."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import openpyxl
import pytest

from labmark.pipeline import read
from labmark.practical.own import FromSheet, OwnNumber
from labmark.practicals import text_of
from labmark.problems import InputError
from labmark.read import read_class
from labmark.read.own_numbers import named
from tests.columns import runs_of, students_of

EGGSHELLS = (
    ["Student", "Run 1 initial", "Run 1 final", "Run 2 initial", "Run 2 final", "Mean titre", "Result"],
    ["S01", "0.00", "22.05", "0.10", "22.15", "22.05", "93.2"],
    ["S02", "0.00", "22.10", "1.00", "23.05", "22.08", "93.1"],
)
OWN = ["1.423", "1.518"]
OWN_MASSES = "eggshells-own-masses"
WAYS_OUT = '{{ column = "{0}" }} under [{2}] of the practical to take them, or "Ignore" = "{1}" under [columns]'


def text_table(folder: Path, rows) -> Path:
    path = folder / "class.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path


def with_column(heading, values=OWN, rows=EGGSHELLS):
    return [[*row, extra] for row, extra in zip(rows, [heading, *values], strict=True)]


def refused(path: Path, practical: str | None = "eggshells") -> str:
    with pytest.raises(InputError) as error:
        read(path, practical, ())
    assert len(error.value.problems) == 1
    return str(error.value.problems[0])


@pytest.mark.parametrize(
    ("practical", "heading", "values", "column", "key"),
    [
        ("eggshells", "Mass / g", OWN, "Mass", "mass"),
        ("eggshells", "MASS (mg)", ["1423", "1518"], "MASS", "mass"),
        ("eggshells", "m(shell) / g", OWN, "m(shell)", "mass"),
        ("eggshells", "What mass of shell did you weigh out?", OWN, "What mass of shell did you weigh out", "mass"),
        ("eggshells", "Einwaage in g", OWN, "Einwaage", "mass"),
        ("eggshells", "Masse pesée (g)", OWN, "Masse pesée", "mass"),
        ("eggshells", "Masa / g", OWN, "Masa", "mass"),
        ("eggshells", "Aliquot", ["20.0", "25.0"], "Aliquot", "aliquot"),
        ("eggshells", "Pipette / mL", ["20.0", "20.0"], "Pipette", "aliquot"),
        ("eggshells", "Prise d'essai", ["10,0 mL", "25,0 mL"], "Prise d'essai", "aliquot"),
        ("drain-cleaner", "Titrant concentration", ["0.0498", "0.0512"], "Titrant concentration", "concentration"),
        ("drain-cleaner", "[H2SO4] / mol dm-3", ["0.0498", "0.0512"], "[H2SO4]", "concentration"),
        ("drain-cleaner", "Blank titre", ["0.15", "0.10"], "Blank titre", "titre"),
        ("drain-cleaner", "Blindwert", ["0,15", "0,10"], "Blindwert", "titre"),
    ],
)
def test_a_number_of_the_students_own_that_the_practical_does_not_take_is_refused_with_the_ways_out(
    tmp_path, practical, heading, values, column, key
):
    said = refused(text_table(tmp_path, with_column(heading, values)), practical)
    assert f"class.csv, cell H2: the students have numbers of their own under {heading!r}" in said
    table = {"mass": "sample", "aliquot": "flask", "concentration": "burette", "titre": "blank"}[key]
    assert f"write {key} = " + WAYS_OUT.format(column, heading, table) in said


def test_the_line_says_what_was_found_and_what_the_practical_says(tmp_path):
    assert refused(text_table(tmp_path, with_column("Mass / g"))).endswith(
        "class.csv, cell H2: the students have numbers of their own under 'Mass / g' (1.423 g here), and the practical "
        'gives 1.500 g for all; write mass = { column = "Mass" } under [sample] of the practical to take them, '
        'or "Ignore" = "Mass / g" under [columns] to pass them over'
    )


@pytest.mark.parametrize(
    ("headings", "taken"),
    [
        (("Mass of boat and shell / g", "Mass of boat / g", "Mass of shell / g"), 'column = "Mass of shell"'),
        (("Mass before / g", "Mass after / g"), 'column = "Mass before", minus = "Mass after"'),
    ],
)
def test_the_way_out_takes_the_mass_of_no_vessel(tmp_path, headings, taken):
    heads, masses = ",".join(headings), ",".join(("12.423", "11.000", "1.423")[: len(headings)])
    path = tmp_path / "class.csv"
    path.write_text(f"Student,Run 1 titre,Run 2 titre,{heads}\nS01,22.05,22.10,{masses}\n", encoding="utf-8")
    assert f"write mass = {{ {taken} }} under [sample]" in refused(path)


def test_one_number_that_differs_is_enough(tmp_path):
    assert "cell H3" in refused(text_table(tmp_path, with_column("Mass", ["1.500", "1.518"])))


LONG = [
    ["Student", "Run", "Initial", "Final", "Mass / g"],
    ["S01", "1", "0.00", "22.05", "1.423"],
    ["S01", "2", "0.10", "22.15", "1.431"],
    ["S02", "1", "0.00", "22.10", "1.518"],
    ["S02", "2", "1.00", "23.05", "1.509"],
]
RUNS = [
    ["Student", "Run 1 initial", "Run 1 final", "Run 1 mass", "Run 2 initial", "Run 2 final", "Run 2 mass"],
    ["S01", "0.00", "22.05", "1.423", "0.10", "22.15", "1.431"],
    ["S02", "0.00", "22.10", "1.518", "1.00", "23.05", "1.509"],
]
TWO_ROWS = [
    ["", "Run 1", "", "", "Run 2", "", ""],
    ["Student", "Initial", "Final", "Mass", "Initial", "Final", "Mass"],
    *RUNS[1:],
]
UNITS_BELOW = [[*LONG[0][:4], "Mass"], ["", "", "cm3", "cm3", "g"], *LONG[1:]]
LAB_BOOK = [
    ["Name", "S01", "", ""],
    ["", "Rough", "1", "2"],
    ["Final", "22.30", "22.05", "22.15"],
    ["Initial", "0.00", "0.00", "0.10"],
    ["Titre", "22.30", "22.05", "22.05"],
    ["Mass / g", "1.423", "1.423", "1.423"],
]
ABOVE = [["Mass of shell: 1.423 g", "", "", ""], *LAB_BOOK[:5]]
BESIDE = [["Mass of shell", "1.423 g", "", ""], *LAB_BOOK[1:5]]
FORM = [
    ["Timestamp", "Your name", "Run 1: initial reading", "Run 1: final reading", "Mass of shell you weighed (g)?"],
    ["2026/03/02 10:11", "S01", "0.00", "22.05", "1.423"],
    ["2026/03/02 10:12", "S02", "0.00", "22.10", "1.518"],
]


@pytest.mark.parametrize("rows", [LONG, RUNS, TWO_ROWS, UNITS_BELOW, LAB_BOOK, ABOVE, BESIDE, FORM])
def test_every_layout_is_looked_at(tmp_path, rows):
    said = refused(text_table(tmp_path, rows))
    assert "1.423 g here" in said
    assert "1.500 g for all" in said


def test_the_line_names_the_sheet_of_a_workbook_and_the_practical_may_be_its_own(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "Results"
    for row in with_column("Mass / g"):
        book.active.append(row)
    practical = book.create_sheet("Practical")
    for row in (
        ("title", "Eggshells"),
        ("equation", "HCl + NaOH -> NaCl + H2O"),
        ("burette.solution", "NaOH"),
        ("burette.concentration", 0.1),
        ("flask.solution", "HCl"),
        ("flask.aliquot", 25),
        ("excess.solution", "HCl"),
        ("excess.equation", "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2"),
        ("excess.concentration", 1),
        ("excess.volume", 50),
        ("excess.made_up_to", 250),
        ("sample.mass", 1.5),
        ("result.of", "CaCO3"),
        ("result.quantity", "percent by mass"),
    ):
        practical.append(row)
    book.save(tmp_path / "class.xlsx")
    assert "class.xlsx, sheet Results, cell H2:" in refused(tmp_path / "class.xlsx", None)
    practical.append(("columns.Ignore", "Mass / g"))
    book.save(tmp_path / "class.xlsx")
    assert len(read(tmp_path / "class.xlsx", None, ())[0].students) == 2


@pytest.mark.parametrize(
    ("heading", "values"),
    [("Mass / g", ["1.5", "1.500"]), ("Mass (mg)", ["1500", "1500"]), ("Aliquot / cm3", ["25", "25.00"])],
)
def test_the_practicals_own_number_in_every_row_is_a_note(tmp_path, heading, values):
    sheet, _ = read(text_table(tmp_path, with_column(heading, values)), "eggshells", ())
    assert any(f"{heading!r}: the same for everybody, and what the practical says" in note for note in sheet.notes)
    assert sheet.ledger.ignored["H2"] == "a number that the practical gives for all"


@pytest.mark.parametrize(
    ("practical", "heading", "values"),
    [
        ("drain-cleaner", "Concentration", ["0.0971", "0.0976"]),
        ("drain-cleaner", "Concentration of NaOH", ["0.0971", "0.0976"]),
        ("drain-cleaner", "Mass of bottle / g", ["512.1", "498.3"]),  # a practical without a mass
        ("eggshells", "Percentage by mass", ["93.2", "93.1"]),
        ("eggshells", "Pipette", ["3", "7"]),  # which one it was
        ("eggshells", "Pipette number", ["3", "17"]),
        ("eggshells", "Pipette", ["class B", "class B"]),
        ("eggshells", "Mass", ["", "n/a"]),
    ],
)
def test_a_heading_of_something_else_is_none(tmp_path, practical, heading, values):
    sheet, _ = read(text_table(tmp_path, with_column(heading, values)), practical, ())
    assert len(sheet.students) == 2


def test_figures_of_the_class_below_the_table_are_no_students_own(tmp_path):
    rows = [*with_column("Mass", ["1.500", "1.500"]), ["Class mean", "", "", "", "", "22.06", "93.1", "1.47"]]
    assert len(read(text_table(tmp_path, rows), "eggshells", ())[0].students) == 2


def test_the_way_out_that_the_line_names_is_one(tmp_path):
    path = text_table(tmp_path, RUNS)
    shipped = Path(__file__).parents[1] / "templates" / "practicals" / "eggshells.toml"
    assert '"Ignore" = "Run 1 mass", "Ignore 2" = "Run 2 mass"' in refused(path)
    mine = shutil.copy(shipped, tmp_path / "mine.toml")
    with mine.open("a") as file:
        file.write('\n[columns]\n"Ignore" = "Run 1 mass"\n"Ignore 2" = "Run 2 mass"\n')
    assert len(read(path, str(mine), ())[0].students) == 2


def test_under_columns_a_heading_is_found_without_its_unit(tmp_path):
    path = text_table(tmp_path, with_column("Mass / g"))
    shipped = Path(__file__).parents[1] / "templates" / "practicals" / "eggshells.toml"
    mine = shutil.copy(shipped, tmp_path / "mine.toml")
    with mine.open("a") as file:
        file.write('\n[columns]\n"Ignore" = "Mass"\n')
    assert len(read(path, str(mine), ())[0].students) == 2


def test_a_folder_of_students_gives_one_line(tmp_path):
    (tmp_path / "class").mkdir()
    for name, mass in (("Ada", "1.423"), ("Ben", "1.518")):
        text_table(tmp_path, [["Name", name, "", ""], *LAB_BOOK[1:5], ["Mass / g", mass, "", ""]])
        (tmp_path / "class.csv").rename(tmp_path / "class" / f"{name}.csv")
    assert "Ada.csv" in refused(tmp_path / "class")


@pytest.mark.parametrize("form", ["{}: m(Na2CO3) (g)", "m(Na2CO3) / g, {}", "Mass / g ({})", "{} - Mass (g)"])
@pytest.mark.parametrize("runs", [("Rapide", "Essai 1"), ("Trial 0", "Trial 1"), ("0", "1")])
def test_the_mass_of_each_run_is_found_by_what_stands_beside_the_run(tmp_path, form, runs):
    heads = [head for run in runs for head in (form.format(run), f"{run}: initial", f"{run}: final")]
    rows = [["Nom", *heads], *([name, "1.423", "0.00", "22.60", "1.518", "0.00", "22.05"] for name in ("Ada", "Ben"))]
    mass = OwnNumber("sample.mass", "mass", "g", taken=FromSheet(column="Mass"))
    sheet = read_class(text_table(tmp_path, rows), numbers=(mass,))
    assert [str(each["sample.mass"].value) for each in runs_of(sheet)["inputs"]] == ["1.423", "1.518"] * 2


def test_a_mass_may_name_its_run_as_a_number():
    assert named("Mass, No. 1", "Mass").number == 1


@pytest.mark.parametrize("label", ["Mass", "Mass / g", "mass of the shell (g)"])
def test_a_number_in_a_line_below_a_row_for_each_run_is_taken(tmp_path, label):
    runs = [["Run", "Initial", "Final"], ["Rough", "0.00", "22.60"], ["1", "0.00", "22.05"], ["2", "0.10", "22.15"]]
    sheet, _ = read(text_table(tmp_path, [["Student", "Ada"], [], *runs, [], [label, "1.423"]]), OWN_MASSES, ())
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"]
    assert str(students_of(sheet)["inputs"][0]["sample.mass"].value) == "1.423"


@pytest.mark.parametrize("practical", ["eggshells", OWN_MASSES])
def test_a_mass_of_the_unknown_on_the_way_to_the_result_was_not_weighed(tmp_path, practical):
    rows = [["Mass of shell / g", *EGGSHELLS[0][:6], "mass CaCO3 / g", "Result"]]
    rows += [["1.500", *row[:6], worked, row[6]] for row, worked in zip(EGGSHELLS[1:], ["1.398", "1.396"], strict=True)]
    sheet, _ = read(text_table(tmp_path, rows), practical, ())
    masses = [str(own.value) for student in sheet.students for own in student.inputs.values()]
    assert (masses, "H2" in sheet.ledger.ignored) == (["1.500"] * 2 * (practical == OWN_MASSES), True)
    (note,) = [each for each in sheet.notes if "step of the sum" in each]
    assert note.startswith("'mass CaCO3 / g' (column H): taken for a step of the sum")


def test_a_word_for_a_lost_mass_is_named_where_the_practical_gives_one_for_all(tmp_path):
    sheet, _ = read(text_table(tmp_path, with_column("Mass / g", ["1.500", "spilt"])), "eggshells", ())
    said = "'Mass / g': the same for everybody, and what the practical says (1.500 g)"
    assert f"{said}; it counts for those without a number too (H3)" in sheet.notes


def test_readings_of_blank_runs_are_refused_with_the_key_that_takes_them(tmp_path):
    rows = [["Student", "Blank initial", "Blank final", *EGGSHELLS[0][1:]]]
    rows += [[row[0], "0.00", "0.15", *row[1:]] for row in EGGSHELLS[1:]]
    said = refused(text_table(tmp_path, rows), "drain-cleaner")
    assert "write runs = true under [blank] of the practical to take them, or " in said
    assert '"Ignore" = "Blank initial", "Ignore 2" = "Blank final" under [columns]' in said


def test_a_word_for_the_pipette_in_a_sentence_heads_no_column(tmp_path):
    book = openpyxl.Workbook()
    for row in with_column("Pipette volume (mL)", ["20.0", "25.0"]):
        book.active.append(row)
    book.create_sheet("Instructions").append(["2. Rinse the pipette"])
    book.save(tmp_path / "class.xlsx")
    aliquot = OwnNumber("flask.aliquot", "aliquot", "cm3", taken=FromSheet(column="Aliquot"))
    sheet = read_class(tmp_path / "class.xlsx", numbers=(aliquot,))
    assert [str(one.inputs["flask.aliquot"].value) for one in sheet.students] == ["20.0", "25.0"]


def test_a_heading_may_have_its_unit_in_one_file_and_none_in_another(tmp_path):
    (tmp_path / "class").mkdir()
    for name, heading in (("Ada", "Pipette volume"), ("Ben", "Pipette volume (mL)")):
        text_table(tmp_path, [["Name", name, "", ""], *LAB_BOOK[1:5], [heading, "25.0", "", ""]])
        (tmp_path / "class.csv").rename(tmp_path / "class" / f"{name}.csv")
    aliquot = OwnNumber("flask.aliquot", "aliquot", "cm3", taken=FromSheet(column="Aliquot"))
    sheet = read_class(tmp_path / "class", numbers=(aliquot,))
    assert [str(one.inputs["flask.aliquot"].value) for one in sheet.students] == ["25.0", "25.0"]


@pytest.mark.parametrize(
    ("full", "empty", "net"),
    [
        ("Mass of boat + shell (g)", "Mass of empty boat (g)", "Mass of shell (g)"),
        ("Gross mass / g", "Mass of beaker / g", "Net mass / g"),
        ("Masse avant (g)", "Masse après (g)", "Masse de coquille (g)"),
        ("Einwaage Schälchen + Probe (g)", "Schälchen leer (g)", "Einwaage (g)"),
    ],
)
def test_a_mass_beside_those_of_what_it_was_weighed_in_is_the_sample_s(
    tmp_path: Path, full: str, empty: str, net: str
) -> None:
    rows = with_column(net, rows=with_column(empty, ["12.402"] * 2, with_column(full, ["13.825", "13.920"])))
    sheet, _ = read(text_table(tmp_path, rows), OWN_MASSES, ())
    assert [str(own["sample.mass"].value) for own in students_of(sheet)["inputs"]] == OWN


def test_masses_before_and_after_are_refused_with_what_to_write_and_then_read(tmp_path: Path) -> None:
    before, after = "Mass of boat and sample (g)", "Mass of emptied boat (g)"
    path = text_table(tmp_path, with_column(after, ["12.402"] * 2, with_column(before, ["13.825", "13.920"])))
    remedy = '{ column = "Mass of boat and sample", minus = "Mass of emptied boat" }'
    assert refused(path, OWN_MASSES).endswith(f"write mass = {remedy} under [sample] of the practical")
    practical = tmp_path / "mine.toml"
    practical.write_text(text_of(OWN_MASSES).replace('{ column = "Mass" }', remedy), encoding="utf-8")
    sheet, _ = read(path, str(practical), ())
    assert [str(own["sample.mass"].value) for own in students_of(sheet)["inputs"]] == OWN


@pytest.mark.parametrize(("heading", "values"), [("Mass of 2 tablets (g)", ["1.402", "1.415"])])
def test_a_mass_where_two_weighings_are_asked_for_is_refused_with_what_to_write_and_then_read(
    tmp_path: Path, heading: str, values: list[str]
) -> None:
    path = text_table(tmp_path, with_column(heading, values))
    before, wanted = '{ column = "Mass before", minus = "Mass after" }', '{ column = "Mass of 2 tablets" }'
    assert f"write mass = {wanted} under [sample]" in refused(path, "antacid-tablets")
    practical = tmp_path / "mine.toml"
    practical.write_text(text_of("antacid-tablets").replace(before, wanted), encoding="utf-8")
    sheet, _ = read(path, str(practical), ())
    assert [str(own["sample.mass"].value) for own in students_of(sheet)["inputs"]] == values


@pytest.mark.parametrize("heading", ["Mass of 5 tablets (g)", "Mass of 2 shells / g"])
def test_a_mass_of_so_many_is_the_students_and_of_no_run(tmp_path: Path, heading: str) -> None:
    sheet, _ = read(text_table(tmp_path, with_column(heading)), OWN_MASSES, ())
    assert [str(own["sample.mass"].value) for own in students_of(sheet)["inputs"]] == OWN
    assert f'column = "{heading.partition(" (")[0].partition(" /")[0]}"' in refused(tmp_path / "class.csv", "eggshells")
