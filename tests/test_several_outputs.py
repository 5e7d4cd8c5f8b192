"""What every file says where a practical has several titres and results: two classes, marked once each. Invented."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import click
import openpyxl
import pypdf
import pytest
from jsonschema import Draft202012Validator

from labmark.outputs.chart import distribution
from labmark.pipeline import judged_tree, mark_class, overview_of, read
from labmark.places import templates_folder
from labmark.terminal import understanding
from tests.bare import bare_files
from tests.sheet_pages import student_sheets

LYE = """\
Student,Bench,Run 1 initial,Run 1 phenolphthalein,Run 1 methyl orange,Run 2 initial,Run 2 phenolphthalein,\
Run 2 methyl orange,Mean titre phenolphthalein,Mean titre methyl orange,Result NaOH,Result Na2CO3
Ada,1,0.00,23.75,27.50,0.50,24.25,28.00,23.75,3.75,3.20,1.59
Ben,1,0.00,23.80,27.55,0.20,23.90,27.65,23.75,3.75,3.20,1.59
Cleo,1,1.00,24.70,28.45,0.00,23.70,27.45,23.70,3.75,3.80,1.59
Dan,2,0.00,23.75,27.50,0.00,24.75,28.50,24.25,3.75,3.28,1.59
Eve,2,0.00,23.70,27.45,0.10,23.85,27.65,23.73,3.78,3.19,1.60
Finn,2,,,,,,,,,,
"""
"""23.75 and 3.75 cm³ are expected. Cleo left the carbonate in the hydroxide (23.70 × 0.1000 ÷ 25.0 × 39.997 = 3.79);
Dan's runs do not agree at phenolphthalein; Finn was absent."""
WELL = """\
Student,total run 1 initial,total run 1 final,total run 2 initial,total run 2 final,calcium run 1 initial,\
calcium run 1 final,calcium run 2 initial,calcium run 2 final,Mean titre total,Mean titre calcium,Result Ca,Result Mg
Ada,0.00,30.00,0.50,30.50,0.00,20.00,0.10,20.10,30.00,20.00,80.2,24.3
Ben,0.00,30.05,0.20,30.25,0.30,20.30,0.00,20.00,30.05,20.00,80.2,24.4
Cleo,0.00,29.95,0.00,29.95,0.00,19.95,0.00,20.05,29.95,20.00,80.2,24.2
Dan,0.00,30.00,0.10,30.15,0.00,20.00,0.00,21.00,30.03,20.50,82.2,23.2
"""
"""30.00 and 20.00 cm³ are expected."""
CLASSES = {"lye": (LYE, "hydroxide-and-carbonate"), "well": (WELL, "calcium-and-magnesium")}


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return the marked folder of each class, without chart and sheets."""
    made = tmp_path_factory.mktemp("several")
    with bare_files():
        for name, (text, practical) in CLASSES.items():
            (made / f"{name}.csv").write_text(text, encoding="utf-8")
            mark_class(made / f"{name}.csv", practical, (), made / name)
    return {name: made / name for name in CLASSES}


@pytest.fixture(scope="module")
def trees(folders: dict[str, Path]) -> dict[str, dict[str, Any]]:
    """Return the record tree of each class."""
    return {
        name: judged_tree(folders[name].parent / f"{name}.csv", practical, ())
        for name, (_, practical) in CLASSES.items()
    }


@pytest.fixture(scope="module")
def results(folders: dict[str, Path]) -> dict[str, dict[str, Any]]:
    """Return results.json of each class."""
    return {name: json.loads((folder / "results.json").read_text("utf-8")) for name, folder in folders.items()}


def rows(folder: Path) -> dict[str, dict[str, str]]:
    """Return the rows of marks.csv by student."""
    text = (folder / "marks.csv").read_text("utf-8-sig")
    return {row["Student"]: row for row in csv.DictReader(io.StringIO(text))}


# --- results.json ---


@pytest.mark.slow
@pytest.mark.parametrize("name", CLASSES)
def test_the_results_fit_the_schema(name, results):
    schema = json.loads((templates_folder() / "results.schema.json").read_text("utf-8"))
    errors = Draft202012Validator(schema).iter_errors(results[name])
    assert [f"{error.json_path}: {error.message}" for error in errors] == []


def test_a_run_with_several_endpoints_has_their_readings_and_titres_by_name(results):
    run = results["lye"]["students"][0]["runs"][1]
    assert run["readings"] == {"phenolphthalein": 24.25, "methyl orange": 28.00}
    assert run["titres"] == {"phenolphthalein": 23.75, "methyl orange": 3.75}
    assert (run["initial"], run["final"], run["titre"]) == (0.50, 28.00, 3.75)
    assert run["cells"] == {"initial": "F2", "phenolphthalein": "G2", "methyl orange": "H2"}


def test_every_titre_has_its_own_set_mean_and_expectation(results):
    dan = results["lye"]["students"][3]
    assert dan["concordant_sets"] == {"phenolphthalein": False, "methyl orange": True}
    assert dan["mean_titres"] == {"phenolphthalein": 24.25, "methyl orange": 3.75}
    assert dan["expected_titres"] == {"phenolphthalein": 23.75, "methyl orange": 3.75}
    assert (dan["concordant"], dan["mean_titre"]) == (False, 3.75)
    assert dan["claimed"]["mean_titres"] == {"phenolphthalein": 24.25, "methyl orange": 3.75}


def test_every_result_stands_under_its_name_and_the_first_where_there_is_always_one(results):
    ada = results["lye"]["students"][0]
    assert ada["results"]["NaOH"]["value"] == pytest.approx(3.1998, abs=1e-4)
    assert ada["results"]["Na2CO3"]["value"] == pytest.approx(1.58982, abs=1e-4)
    assert ada["result"] == ada["results"]["NaOH"]
    assert ada["claimed"]["results"] == {"NaOH": 3.20, "Na2CO3": 1.59}
    assert {mark["result"] for mark in ada["marks"] if mark["criterion"] == "accuracy"} == {"NaOH", "Na2CO3"}


def test_every_result_has_its_own_reference(results):
    reference = results["lye"]["reference"]
    assert reference["value"] == reference["results"]["NaOH"]["value"] == 3.20
    assert reference["results"]["Na2CO3"]["value"] == 1.59


def test_the_runs_of_a_titration_are_called_by_its_name(results):
    dan = results["well"]["students"][3]
    assert [run["label"] for run in dan["runs"]] == ["total 1", "total 2", "calcium 1", "calcium 2"]
    assert [run["titration"] for run in dan["runs"]] == ["total", "total", "calcium", "calcium"]
    assert dan["sets_of"] == {"total": [["total 1", "total 2"]], "calcium": []}


def test_the_practical_says_what_each_titre_finds_and_each_result_rests_on(results):
    derived = results["lye"]["practical"]["derived"]
    assert derived["titres"]["phenolphthalein"] == {"OH-": 1, "CO3^2-": 1}
    assert derived["expected_titres"] == {"phenolphthalein": 23.75, "methyl orange": 3.75}
    assert derived["rests_on"] == {"NaOH": ["phenolphthalein", "methyl orange"], "Na2CO3": ["methyl orange"]}
    assert derived["equation"].endswith("; methyl orange: HCO₃⁻ + H⁺ → H₂O + CO₂")


# --- marks.csv, terminal ---


@pytest.mark.parametrize("name", CLASSES)
def test_the_schema_of_marks_csv_names_its_columns(name, folders):
    fields = json.loads((folders[name] / "marks.schema.json").read_text("utf-8"))["fields"]
    assert [field["name"] for field in fields] == [*rows(folders[name])["Ada"]]


def test_marks_csv_has_a_column_for_every_titre_result_and_criterion(folders):
    row = rows(folders["lye"])["Ada"]
    figures = ("Mean titre methyl orange", "Own mean titre phenolphthalein", "Unit Na2CO3", "Own result NaOH")
    assert [row[each] for each in figures] == ["3.75", "23.75", "g/dm3", "3.20"]
    assert float(row["Result Na2CO3"]) == pytest.approx(1.58982, abs=1e-4)
    assert (row["accuracy NaOH"], row["accuracy Na2CO3"], row["Total"]) == ("3", "3", row["Out of"])
    assert rows(folders["well"])["Dan"]["Mean titre calcium"] == "20.50"


def test_check_says_each_titre_and_each_result(folders):
    path = folders["lye"].parent / "lye.csv"
    said = click.unstyle(understanding(overview_of(*read(path, "hydroxide-and-carbonate", ()))))
    assert "expected titre phenolphthalein 23.75 cm³" in said
    assert "NaOH: the class gives 3." in said
    assert "Na2CO3: the class gives 1.590 g/dm³" in said
    assert "12 runs" not in said
    assert "10 runs" in said


# --- marks.xlsx ---


@pytest.fixture(scope="module")
def sheets(folders: dict[str, Path]) -> dict[str, dict[str, list[tuple[Any, ...]]]]:
    """Return the rows of every sheet of marks.xlsx, of each class."""
    books = {name: openpyxl.load_workbook(folder / "marks.xlsx") for name, folder in folders.items()}
    return {name: {page.title: [*page.iter_rows(values_only=True)] for page in book} for name, book in books.items()}


def under(sheet: list[tuple[Any, ...]], row: int) -> dict[str, Any]:
    """Return heading -> value of a row, from 1."""
    return dict(zip(sheet[0], sheet[row], strict=True))


def test_the_sheet_marks_has_every_mean_result_and_criterion_by_name(sheets):
    ada = under(sheets["lye"]["Marks"], 1)
    assert ada["Mean titre phenolphthalein (cm³)"] == 23.75
    assert ada["Result Na2CO3 (g/dm³)"] == pytest.approx(1.58982, abs=1e-4)
    assert (ada["Reference Na2CO3 (g/dm³)"], ada["Own result NaOH (g/dm³)"]) == (1.59, 3.2)
    assert (ada["accuracy NaOH /3"], ada["accuracy Na2CO3 /3"]) == (3, 3)


def test_the_sheet_runs_has_the_readings_and_titres_of_every_endpoint_and_where_to_correct_them(sheets):
    run = under(sheets["lye"]["Runs"], 2)
    assert (run["Initial (cm³)"], run["phenolphthalein (cm³)"], run["methyl orange (cm³)"]) == (0.5, 24.25, 28)
    assert (run["Titre phenolphthalein (cm³)"], run["Titre methyl orange (cm³)"]) == (23.75, 3.75)
    assert [*run][-4:] == ["Use", "Initial is", "phenolphthalein is", "methyl orange is"]
    assert under(sheets["well"]["Runs"], 3)["Run"] == "calcium 1"


def test_the_sheet_class_has_the_reference_of_every_result_and_the_titres_by_name(sheets):
    values = {row[1]: row[2] for row in sheets["lye"]["Class"]}
    assert (values["reference NaOH"], values["reference Na2CO3"]) == (3.2, 1.59)
    assert (values["expected titre phenolphthalein"], values["mean titre methyl orange"]) == (
        23.75,
        pytest.approx(3.755),
    )


# --- the students' sheets ---


def sheet_text(tree: dict[str, Any], name: str) -> str:
    """Return the words of a student's sheet, which is one page."""
    one = {**tree, "students": [each for each in tree["students"] if each["student"] == name]}
    [(_, pdf)] = student_sheets(one)
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(page.extract_text().split())


def test_a_sheet_has_every_reading_titre_mean_result_and_working(trees):
    said = sheet_text(trees["lye"], "Ada")
    assert "Run Initial Phenolphthalein Titre Methyl orange Titre In the mean Why" in said
    assert "Phenolphthalein: two of your titres agree; their mean is 23.75 cm³" in said
    for row in ("Mean titre, methyl orange cm³ 3.75 3.75 3.75", "Result, Na2CO3 g/dm³ 1.59 1.59"):
        assert row in said
    assert "The working for NaOH, in your numbers" in said
    assert "The working for Na2CO3, in your numbers" in said


def test_with_titrations_each_has_its_own_table(trees):
    said = sheet_text(trees["well"], "Dan")
    assert "Your readings / cm³, total" in said
    assert "Your readings / cm³, calcium" in said
    assert "Calcium: too few of your titres agree" in said


def test_a_sheet_says_of_no_titre_that_it_agrees_where_another_does(trees):
    said = sheet_text(trees["lye"], "Dan")
    assert "Phenolphthalein: too few of your titres agree" in said
    assert "Methyl orange: two of your titres agree" in said
    assert "until your titres agreed" not in said


# --- the report and the chart ---


@pytest.fixture(scope="module")
def pages(folders: dict[str, Path]) -> dict[str, str]:
    """Return the report of each class."""
    return {name: (folder / "report.html").read_text("utf-8") for name, folder in folders.items()}


@pytest.fixture(scope="module")
def chart_of_lye(trees: dict[str, dict[str, Any]]) -> ElementTree.Element:
    return ElementTree.fromstring(distribution(trees["lye"]).svg)


def test_the_chart_has_a_panel_for_each_result_under_each_other(chart_of_lye):
    said = "".join(chart_of_lye.itertext())
    assert "mass concentration of NaOH, g/dm³" in said
    assert "mass concentration of Na₂CO₃, g/dm³" in said
    high, wide = (float(chart_of_lye.attrib[side].removesuffix("pt")) for side in ("height", "width"))
    assert high > wide


def test_a_titre_axis_stands_only_where_one_titre_gives_the_result(chart_of_lye):
    assert "".join(chart_of_lye.itertext()).count("mean titre, cm³") == 1


def test_the_report_has_figures_pictures_and_columns_for_each_titre_and_result(pages):
    page = pages["lye"]
    for heading in (
        "The reference against the class, Na2CO3",
        "Runs of every student, methyl orange",
        "What the uncertainty of NaOH is made of",
        "Figures of the class, Na2CO3",
        "Working and uncertainty, NaOH",
        '<th scope="col" class="n">Titre methyl orange</th>',
    ):
        assert heading in page
    assert "Titre phenolphthalein, cm³</th><td" in page
    assert page.count("<h2") == pages["well"].count("<h2")


def test_the_report_says_which_result_a_finding_is_about(pages):
    assert "(NaOH)" in pages["lye"]


@pytest.mark.slow
def test_what_could_not_be_read_of_any_result_asks_for_the_teacher(tmp_path):
    (tmp_path / "class.csv").write_text(LYE.replace("3.75,3.20,1.59\nBen", "3.75,3.20,smudged\nBen"), encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", "hydroxide-and-carbonate", ())
    one = tree["students"][0]
    assert "written result cannot be read" in one["attention"]["why"].lower()
    waits = [each for each in one["marks"] if each.get("pending")]
    assert [(each["criterion"], each["mark"], "holds “smudged”" in each["reason"]) for each in waits] == [
        ("calculation", None, True), ("figures", None, True),
    ]  # fmt: skip


@pytest.mark.slow
def test_the_words_below_a_narrow_strip_do_not_stand_on_one_another(tmp_path):
    shipped = (templates_folder() / "practicals" / "hydroxide-and-carbonate.toml").read_text("utf-8")
    (tmp_path / "own.toml").write_text(re.sub("reference = .*", "", shipped), encoding="utf-8")
    head = LYE.splitlines()[0].partition(",Mean")[0].replace(",Bench", "")
    more = [(place, 5 * (place % 3), 5 * (place % 2)) for place in range(9)]
    rows = [f"S{n},0.00,23.{70 + a},27.{45 + a},0.00,23.{75 + b},27.{50 + b}" for n, a, b in more]
    (tmp_path / "class.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", str(tmp_path / "own.toml"), ())
    tree["students"] = [each | {"sheet": "1.pdf" if each["number"] == 1 else None} for each in tree["students"]]
    [(_, pdf)] = student_sheets(tree)
    lines: dict[str, float] = {}
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    page.extract_text(visitor_text=lambda text, at, *_: lines.update({text.replace("\xa0", " ").strip(): at[5]}))
    assert lines["you 1.590 g/dm³"] < lines["middle of the class 1.590"] - 8
