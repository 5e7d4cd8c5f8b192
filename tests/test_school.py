"""What a school says once for all practicals, and the teacher's own words for a finding."""

from __future__ import annotations

import csv
import json

import openpyxl
import pytest
from click.testing import CliRunner

from labmark.cli import main
from labmark.pipeline import judged_tree
from labmark.practical import practical_from_rows, practical_from_toml
from labmark.practical.load import over, school_from_toml
from labmark.problems import InputError
from tests.bare import bare_files
from tests.practicals import DRAIN_CLEANER

SCHOOL = """
[concordance]
within = 0.20
at_least = 3
[[grades]]
at_least = 50
grade = "pass"
[advice]
overshoot = "Slow down before the end."
"""
RUNS = ["Student", "Run 1 initial", "Run 1 final", "Run 2 initial", "Run 2 final", "Run 3 initial", "Run 3 final"]


def test_tables_are_joined_key_by_key_and_lists_are_the_practicals_own():
    school = {"concordance": {"within": 1, "at_least": 3}, "grades": [1], "marks": [2]}
    practical = {"title": "t", "concordance": {"within": 2}, "grades": [9]}
    joined = {"title": "t", "concordance": {"within": 2, "at_least": 3}, "grades": [9], "marks": [2]}
    assert over(school, practical) == joined
    assert practical == {"title": "t", "concordance": {"within": 2}, "grades": [9]}


def test_a_practical_stands_above_its_school():
    school = school_from_toml(SCHOOL)
    own = practical_from_toml(DRAIN_CLEANER + "[concordance]\nwithin = 0.10\n", school=school).file
    assert (str(own.concordance.within), own.concordance.at_least) == ("0.10", 3)
    assert [each.grade for each in own.grades] == ["pass"]


def test_a_practical_in_rows_stands_above_it_too():
    rows = [("title", "t", "B1"), ("equation", "HCl + NaOH -> NaCl + H2O", "B2"), ("burette.solution", "NaOH", "B3")]
    rows += [("burette.concentration", 0.1, "B4"), ("flask.solution", "HCl", "B5"), ("flask.aliquot", 25, "B6")]
    rows += [("result.of", "HCl", "B7"), ("concordance.at_least", 2, "B8")]
    made = practical_from_rows(rows, "class.xlsx", school=school_from_toml(SCHOOL)).file
    assert (str(made.concordance.within), made.concordance.at_least) == ("0.20", 2)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('title = "a"', "school.toml: key title belongs to one practical; leave it to the practical"),
        ("[concordanse]\nwithin = 0.1", "key concordanse is not known; the nearest known key is concordance"),
        ("[concordance]\nwithin = -1", "school.toml: key concordance.within: found -1"),
        ('[advice]\novershot = "a"', "'overshot' is no finding; the nearest is overshoot"),
    ],
)
def test_what_is_wrong_in_the_schools_file_is_said_of_that_file(text, said):
    with pytest.raises(InputError, match=said.replace("[", r"\[")):
        school_from_toml(text, "school.toml")


@pytest.fixture
def files(tmp_path):
    (tmp_path / "school.toml").write_text(SCHOOL, encoding="utf-8")
    (tmp_path / "own.toml").write_text(DRAIN_CLEANER, encoding="utf-8")
    with (tmp_path / "class.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([RUNS, ["Ann", "0.00", "24.35", "0.00", "24.50", "0.00", "24.55"]])
    return tmp_path


def test_mark_takes_what_the_school_says(files):
    arguments = [
        "mark",
        str(files / "class.csv"),
        "--practical",
        str(files / "own.toml"),
        "--out",
        str(files / "marked"),
    ]
    done = CliRunner().invoke(main, [*arguments, "--school", str(files / "school.toml"), "--quiet"])
    assert done.exit_code == 0, done.stderr
    tree = json.loads((files / "marked" / "results.json").read_text(encoding="utf-8"))
    assert tree["practical"]["concordance"]["at_least"] == 3
    assert tree["students"][0]["concordant"]


@pytest.mark.slow
def test_cohort_and_check_take_what_the_school_says(files):
    def run(*arguments):
        done = CliRunner().invoke(main, [*arguments, "--practical", str(files / "own.toml")])
        assert done.exit_code == 0, done.output
        return done.output

    class_, school, out = str(files / "class.csv"), ("--school", str(files / "school.toml")), files / "all"
    with bare_files():
        run("mark", class_, "--out", str(files / "marked"), *school)
        run("cohort", class_, "--out", str(out), *school)
        assert (out / "class/results.json").read_bytes() == (files / "marked/results.json").read_bytes()
        kept = (out / "class/results.json").stat().st_mtime_ns
        run("cohort", class_, "--out", str(out), *school, "--resume")
        assert (out / "class/results.json").stat().st_mtime_ns == kept
        (files / "school.toml").write_text("[concordance]\nwithin = 0.5\nat_least = 4\n", encoding="utf-8")
        run("cohort", class_, "--out", str(out), *school, "--resume")
    tree = json.loads((out / "class/results.json").read_text(encoding="utf-8"))
    assert tree["practical"]["concordance"]["at_least"] == 4
    assert run("check", class_, *school) != run("check", class_)


def test_the_class_workbook_carries_what_the_school_says(files):
    (files / "names.txt").write_text("Ann\n", encoding="utf-8")
    arguments = [
        "sheet",
        str(files / "own.toml"),
        "--students",
        str(files / "names.txt"),
        "--out",
        str(files / "a.xlsx"),
    ]
    done = CliRunner().invoke(main, [*arguments, "--school", str(files / "school.toml")])
    assert done.exit_code == 0, done.stderr
    rows = {row[0].value: row[1].value for row in openpyxl.load_workbook(files / "a.xlsx")["Practical"]}
    assert (rows["concordance.at_least"], rows["grades.1.grade"]) == (3, "pass")
    assert "Run 4 final" in [cell.value for cell in openpyxl.load_workbook(files / "a.xlsx")["Results"][1]]


def test_the_teachers_own_words_stand_instead_of_labmarks(files):
    own = files / "words.toml"
    own.write_text(
        DRAIN_CLEANER + '[advice]\nsubtraction-slip = "Write it down, one below the other."\n', encoding="utf-8"
    )
    head = ["Student", *(f"Run {n} {end}" for n in (1, 2) for end in ("initial", "final", "titre"))]
    with (files / "slip.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([head, ["Ann", "0.00", "24.35", "24.53", "0.00", "24.35", "24.35"]])
    (student,) = judged_tree(files / "slip.csv", str(own), ())["students"]
    assert student["feedback"]["next"][0] == "Write it down, one below the other."


def test_what_is_prepared_for_a_lesson_follows_the_school(tmp_path):
    (tmp_path / "school.toml").write_text(SCHOOL, encoding="utf-8")
    (tmp_path / "practical.toml").write_text(DRAIN_CLEANER, encoding="utf-8")
    asked = ["prepare", str(tmp_path / "practical.toml"), "--students", "10", "--out", str(tmp_path / "lesson")]
    found = CliRunner().invoke(main, [*asked, "--school", str(tmp_path / "school.toml")])
    assert found.exit_code == 0, found.output
    tree = json.loads((tmp_path / "lesson" / "prepare.json").read_text(encoding="utf-8"))
    assert tree["runs"] == 1 + 3 + 1  # the rough, those that must agree, and one more
