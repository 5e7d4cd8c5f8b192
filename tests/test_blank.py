"""A blank is taken from every titre; titres and means may stand as they were read, or less the blank. Invented."""

from __future__ import annotations

import csv
import json
import random
import re
from decimal import Decimal
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest

from labmark.outputs.data import results_text
from labmark.outputs.own import own_words
from labmark.outputs.plots import runs_of_all
from labmark.outputs.sheets import class_data, student_data
from labmark.pipeline import judged_tree
from labmark.places import practicals_folder
from labmark.practical.kinds import formula_of
from labmark.problems import InputError
from tests.build import run
from tests.classes import tree_of
from tests.decided import Marked
from tests.practicals import DRAIN_CLEANER, practical
from tests.seeds import few_quick
from tests.test_own_numbers import codes, lost
from tests.test_schema import VALIDATOR

BLANK = ("[result]", "[blank]\ntitre = 0.20\n[result]")
HEAD = [
    "Student",
    "Blank titre",
    "Run 1 initial",
    "Run 1 final",
    "Run 1 titre",
    "Run 2 initial",
    "Run 2 final",
    "Run 2 titre",
]


def test_the_blank_is_taken_from_the_titre_by_hand():
    # (24.55 − 0.20) cm³ × 0.0500 mol/dm³ × 2 ÷ 25.0 cm³ = 0.0974 mol/dm³.
    formula = formula_of(practical(DRAIN_CLEANER, BLANK))
    assert formula.value(titre=Fraction("24.55")) == Fraction("0.0974")
    assert formula.curve.titre(Fraction("0.0974")) == Fraction("24.55")
    assert not formula.curve.gives(Fraction("0.20"))


def test_in_a_back_titration_the_blank_says_what_the_reagent_takes():
    # 50.0 cm³ of 1.000 mol/dm³ HCl made up to 250 cm³: 25.0 cm³ of it take 50.00 cm³ of 0.1000 mol/dm³ NaOH.
    text = (practicals_folder() / "eggshells.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith(("concentration = 1.000", "volume = 50.0"))]
    blank = (
        "\n".join(lines)
        .replace("[sample]", "[blank]\ntitre = 50.00\n[sample]")
        .replace("standard_uncertainty = 0.002\nvol", "vol")
    )
    titre = Fraction("22.05")
    assert formula_of(practical(blank)).value(titre=titre) == formula_of(practical(text)).value(titre=titre)
    assert formula_of(practical(blank)).curve.high == 50


def test_a_reagent_in_excess_without_concentration_or_blank_is_one_line_each():
    text = (practicals_folder() / "eggshells.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("concentration = 1.000")]
    with pytest.raises(InputError) as error:
        practical("\n".join(lines))
    assert "key excess.concentration: is missing; add it, or [blank] titre" in str(error.value.problems[0])


def student(rng: random.Random, name: str, blank: float, *, net: bool, titres: str = "alike") -> list[str]:
    """Return a row of somebody who did it right; `net`: the mean has the blank taken off.

    titres   "alike": as the mean; "other": the other way; "none" are written
    """
    titre = round((0.0974 * 25 / 2 / 0.05 + blank + rng.gauss(0, 0.02)) * 20) / 20
    off = blank if net else 0
    mean = titre + 0.025
    less = {"alike": off, "other": blank - off, "none": 0}[titres]
    written = ["", ""] if titres == "none" else [f"{titre - less:.2f}", f"{titre + 0.05 - less:.2f}"]
    result = f"{0.0500 * (mean - blank) * 2 / 25.0:.3g}"
    first, second = ["0.00", f"{titre:.2f}", written[0]], ["1.00", f"{titre + 1.05:.2f}", written[1]]
    return [name, f"{blank:.2f}", *first, *second, f"{mean - off:.3f}", result]


def judged(folder: Path, rows: list[list[str]], titre: str = '{ column = "Blank titre" }'):
    own, path = folder / "own.toml", folder / "class.csv"
    own.write_text(DRAIN_CLEANER.replace("[result]", f"[blank]\ntitre = {titre}\n[result]"), encoding="utf-8")
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[*HEAD, "Mean titre", "Result"], *rows])
    return judged_tree(path, str(own), ())


@pytest.mark.parametrize(("net", "titres"), few_quick(product([False, True], ["alike", "other", "none"]), 4))
def test_titres_and_means_are_right_as_read_and_less_the_blank(tmp_path, net, titres):
    rng = random.Random(4)
    rows = [student(rng, f"S{n:02}", rng.choice((0.10, 0.15, 0.25)), net=net, titres=titres) for n in range(12)]
    tree = judged(tmp_path, rows)
    assert [(each["student"], lost(each), codes(each)) for each in tree["students"] if lost(each) or codes(each)] == []
    first = tree["students"][0]
    assert f"{first['claimed']['mean_titre']:.3f}" == rows[0][8]
    reason = next(each["reason"] for each in first["marks"] if each["criterion"] == "mean")
    figures = [float(each) for each in re.findall(r"\d+\.\d+", reason)]
    less = float(rows[0][1]) if "less the blank" in reason else 0
    assert figures[2] == pytest.approx((figures[0] + figures[1]) / 2 - less)
    on_sheet = student_data(tree, 0, class_data(tree))
    assert [each["sign"] for each in on_sheet["claims"]] == ["", ""]
    assert on_sheet["tables"][0]["written"] == [False]
    assert float(first["mean_titre"]) == pytest.approx(float(rows[0][3]) + 0.025)
    assert first["inputs"][0] | {"value": str(first["inputs"][0]["value"])} == {
        "name": "blank.titre", "value": rows[0][1], "unit": "cm3", "owner": "student", "run": None, "cell": "B2"
    }  # fmt: skip


def test_a_blank_that_was_left_in_is_named(tmp_path):
    rng = random.Random(5)
    rows = [student(rng, f"S{n:02}", 0.35, net=False) for n in range(8)]
    rows[3][-1] = f"{0.0500 * float(rows[3][8]) * 2 / 25.0:.3g}"
    student_ = judged(tmp_path, rows)["students"][3]
    assert codes(student_) == {"difference-forgotten"}
    assert student_["findings"][0]["message"].startswith("Leaving the blank titre in gives")


def test_a_blank_above_the_titre_leaves_that_student_without_a_result(tmp_path):
    rng = random.Random(6)
    rows = [student(rng, f"S{n:02}", 0.20, net=False) for n in range(8)]
    rows[2][1] = "30.00"
    tree = judged(tmp_path, rows)
    assert codes(tree["students"][2]) == {"impossible-result"}
    assert tree["students"][2]["result"] is None
    assert [each["pending"] for each in tree["students"][2]["marks"] if each["criterion"] == "accuracy"] == [True]
    assert all(not lost(each) for place, each in enumerate(tree["students"]) if place != 2)


RUNS_GIVE_IT = ("runs = true", "titre = { runs = true }")
RUNS = [
    "Student",
    "Blank initial",
    "Blank final",
    "Blank 2 initial",
    "Blank 2 final",
    *HEAD[2:],
    "Mean titre",
    "Result",
]


def by_runs(folder: Path, rows: list[list[str]], head: list[str]):
    own, path = folder / "own.toml", folder / "class.csv"
    own.write_text(DRAIN_CLEANER.replace("[result]", "[blank]\nruns = true\n[result]"), encoding="utf-8")
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([head, *rows])
    return judged_tree(path, str(own), ())


def test_blank_runs_of_the_student_give_the_blank(tmp_path):
    rng, rows = random.Random(7), []
    for number in range(8):
        name, blank, *rest = student(rng, f"S{number:02}", 0.20, net=False)
        assert blank
        rows.append([name, "0.00", "0.15", "0.15", "0.40", *rest])
    tree = by_runs(tmp_path, rows, RUNS)
    assert [(each["student"], lost(each), codes(each)) for each in tree["students"] if lost(each) or codes(each)] == []
    first = tree["students"][0]
    assert [run["label"] for run in first["runs"]] == ["1", "2", "Blank", "Blank 2"]
    assert [(run["kind"], str(run["titre"])) for run in first["runs"][2:]] == [("blank", "0.15"), ("blank", "0.25")]
    assert [(each["name"], str(each["value"])) for each in first["inputs"]] == [("blank.titre", "0.20")]
    assert tree["cells"]["filled"] == sum(tree["cells"][each] for each in ("used", "ignored", "rejected"))
    assert not [*VALIDATOR.iter_errors(json.loads(results_text(tree)))]


def test_the_mean_of_three_blanks_is_no_endless_decimal_and_is_called_by_its_name(tmp_path):
    _, _, *rest = student(random.Random(7), "S01", 0.18, net=False)
    head = [RUNS[0], *(f"Blank {number} titre" for number in (1, 2, 3)), *HEAD[2:], "Mean titre", "Result"]
    tree = by_runs(tmp_path, [["S01", "0.20", "0.20", "0.15", *rest]], head)
    one = tree["students"][0]
    assert own_words(one, tree["practical"]) == ["Blank titre 0.1833 cm³"]
    assert "− 0.1833 cm³" in one["steps"][0]["numbers"]


@pytest.mark.slow
def test_what_the_blank_of_blank_runs_really_was_may_be_decided(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(DRAIN_CLEANER.replace("[result]", "[blank]\nruns = true\n[result]"), encoding="utf-8")
    text = "Student,Blank titre 1,Run 1 titre,Run 2 titre\nAda,0.15,25.45,25.50\nBo,0.20,25.50,25.50\n"
    folder = Marked(tmp_path / "marked", str(own))
    folder.mark(text)
    folder.write(("Inputs", {"Student": "Ada", "Input": "Blank titre"}, "Is", 0.25))
    one = folder.mark(text)["students"][0]
    assert (one["inputs"][0]["value"], one["mean_titre"]) == (0.25, 25.475)
    assert one["result"]["value"] == pytest.approx(0.0500 * (25.475 - 0.25) * 2 / 25.0)


@pytest.mark.parametrize(
    ("mean", "right"),
    [("23.583", True), ("13.917", True), ("13.92", True), ("13.90", True), ("13.96", False), ("23.92", False)],
)
def test_in_a_back_titration_the_mean_may_be_what_the_sample_saved(mean, right, tmp_path):
    # 37.50 − (23.55 + 23.60 + 23.60) ÷ 3 = 13.917 cm³; × 0.500 × 56.11 ÷ 2.035 = 192 mg/g. To 0.05 cm³ it is 13.90.
    text = "Student,Mass,Run 1 titre,Run 2 titre,Run 3 titre,Mean titre,Result\n"
    path = tmp_path / "class.csv"
    path.write_text(f"{text}Ada,2.035,23.55,23.60,23.60,{mean},192\n", encoding="utf-8")
    (one,) = judged_tree(path, "saponification-value", ())["students"]
    marks = {each["criterion"]: each["mark"] == each["out_of"] for each in one["marks"]}
    assert (marks["mean"], marks["calculation"]) == (right, True)
    assert str(one["claimed"]["mean_titre"]) == mean
    reason = next(each["reason"] for each in one["marks"] if each["criterion"] == "mean")
    said = "The blank less the mean of 23.55, 23.60, 23.60 is 13.917 cm³"
    assert reason.startswith(said) == (right and mean.startswith("13"))


def test_what_the_sample_saved_may_be_reckoned_from_the_mean_as_it_is_rounded(tmp_path):
    # (23.50 + 23.55) ÷ 2 = 23.525 cm³, written as 23.53: 37.50 − 23.53 = 13.97; × 0.500 × 56.11 ÷ 2.041 = 192 mg/g.
    lines = "Student,Mass,Run 1 titre,Run 2 titre,Mean titre,Result\nAda,2.041,23.50,23.55,13.97,192\n"
    (tmp_path / "class.csv").write_text(lines, encoding="utf-8")
    (one,) = judged_tree(tmp_path / "class.csv", "saponification-value", ())["students"]
    assert [each["criterion"] for each in one["marks"] if each["mark"] != each["out_of"]] == []
    assert next(each["reason"] for each in one["marks"] if each["criterion"] == "mean").endswith("; 13.97 is right.")


@pytest.mark.parametrize(
    ("result", "finding"),
    [
        ("192", None),  # (37.50 − 23.58) × 0.500 × 56.106 ÷ 2.035
        ("325", "difference-forgotten"),  # of 23.58
        ("517", "difference-forgotten"),  # of 37.50
    ],
)
def test_the_titre_or_the_blank_alone_is_a_difference_forgotten(result, finding, tmp_path):
    path = tmp_path / "class.csv"
    path.write_text(
        f"Student,Mass,Run 1 titre,Run 2 titre,Mean titre,Result\nAda,2.035,23.55,23.60,23.58,{result}\n",
        encoding="utf-8",
    )
    (one,) = judged_tree(path, "saponification-value", ())["students"]
    assert [each["finding"] for each in one["findings"] if each["level"] == "fault"] == ([finding] if finding else [])


def test_a_row_called_blank_gives_it_for_all_and_is_no_student(tmp_path):
    rng = random.Random(8)
    rows = [student(rng, f"S{number:02}", 0.20, net=False) for number in range(8)]
    plain = [[row[0], *row[2:]] for row in rows]
    blank = ["Blank", "0.00", "0.15", "0.15", "1.00", "1.25", "0.25", "", ""]
    tree = by_runs(tmp_path, [blank, *plain], [HEAD[0], *HEAD[2:], "Mean titre", "Result"])
    assert [each["student"] for each in tree["students"]] == [row[0] for row in rows]
    assert [(each["student"], lost(each), codes(each)) for each in tree["students"] if lost(each) or codes(each)] == []
    assert {str(each["inputs"][0]["value"]) for each in tree["students"]} == {"0.20"}


def test_that_runs_give_the_blank_may_be_said_of_its_titre():
    made = [practical(DRAIN_CLEANER, ("[result]", f"[blank]\n{said}\n[result]")) for said in RUNS_GIVE_IT]
    assert made[0].own == made[1].own
    assert [one.file.blank for one in made] == [made[0].file.blank] * 2


def test_a_blank_run_stands_in_no_picture_of_titres(tmp_path):
    rng, rows = random.Random(7), []
    for number in range(4):
        name, _, *rest = student(rng, f"S{number:02}", 0.20, net=False)
        rows.append([name, "0.00", "0.15", "0.15", "0.40", *rest])
    tree = by_runs(tmp_path, rows, RUNS)
    line = student_data(tree, 0, class_data(tree))["line"]
    assert [mark["label"] for mark in line["marks"]] in (["1", "2"], ["1, 2"], ["2", "1"])
    strip = runs_of_all(tree)
    assert strip is not None
    assert [len(row["marks"]) for row in strip["rows"]] == [2] * 4


def blank_among_runs(layout: str) -> list[list[str]]:
    """Students with a blank of 0.20 cm³ and runs of 24.55 and 24.60 cm³, the blank named as a run is."""
    result = "0.0975"  # (24.575 − 0.20) × 0.0500 × 2 ÷ 25.0
    made: list[list[str]] = []
    for name, low in (("Ada", 0.0), ("Bo", 0.1), ("Cy", 0.35)):
        runs = [("Blank", "0.00", "0.20")]
        runs += [(label, f"{low:.2f}", f"{low + titre:.2f}") for label, titre in (("1", 24.55), ("2", 24.60))]
        if layout == "a row a run":
            made += [[name, *run, "24.58", result] for run in runs]
        elif layout == "blocks":
            labels, initials, finals = (list(each) for each in zip(*runs, strict=True))
            made += [["Student", name], ["", *labels], ["Initial", *initials], ["Final", *finals]]
            made += [["Mean titre", "24.58"], ["Result", result], []]
        else:
            made.append([name, *(reading for run in runs for reading in run[1:]), "24.58", result])
    above = ["Student", "Blank", "", "Run 1", "", "Run 2", "", "Mean titre", "Result"]
    below = ["", *("Initial", "Final") * 3, "", ""]
    heads = {"a row a run": [["Student", "Run", "Initial", "Final", "Mean titre", "Result"]], "blocks": []}
    return heads.get(layout, [above, below]) + made


@pytest.mark.parametrize("layout", ["a row a run", "blocks", "two header rows"])
def test_a_blank_is_one_wherever_runs_are_named(tmp_path, layout):
    head, *rows = blank_among_runs(layout)
    for one in by_runs(tmp_path, rows, head)["students"]:
        assert [(run["label"], run["kind"]) for run in one["runs"]][-1] == ("Blank", "blank")
        assert [each["value"] for each in one["inputs"]] == [Fraction("0.2")]
        assert (codes(one), lost(one)) == (set(), [])


def test_the_mean_of_all_runs_ticked_is_not_taken_for_another_less_the_blank():
    # (24.15 + 24.20 + 24.45 + 24.50) ÷ 4 = 24.325; the closest two, less the blank of 0.20, have 24.275: 24.30 to 0.05.
    runs = [run(str(n), f"0.00 {titre}", tick=True) for n, titre in enumerate(("24.15", "24.20", "24.45", "24.50"), 1)]
    own = {"mean": Decimal("24.30"), "mean_decimals": 2}
    assert codes(tree_of([(own, runs)], BLANK)["students"][0]) - {"not-concordant"} == {"discordant-in-mean"}


def test_a_wrong_mean_less_the_blank_is_told_as_it_was_written():
    runs = [run(str(n), f"0.00 {read}", net) for n, read, net in ((1, "24.55", "24.35"), (2, "24.60", "24.40"))]
    own = {"mean": Decimal("24.63"), "mean_decimals": 2}
    (cause,) = tree_of([(own, runs)], BLANK)["students"][0]["feedback"]["causes"]
    assert "you wrote 24.63 (with the blank 24.83), and no usual slip" in cause


@pytest.mark.parametrize(
    ("mean", "named"),
    [("24.575", "Your mean titre 24.575 cm³ is"), ("24.375", "The mean 24.575 cm³ of your titres that agree is")],
)
def test_a_mean_is_called_the_students_where_it_is_what_they_wrote(mean, named):
    runs = [run(str(n), f"0.00 {read}") for n, read in ((1, "24.55"), (2, "24.60"))]
    own = {"mean": Decimal(mean), "mean_decimals": 3}
    (one,) = tree_of([(own, runs)], BLANK)["students"]
    told = {each["criterion"]: each.get("told") or each["reason"] for each in one["marks"]}
    assert told["accuracy"].startswith(named)
    assert lost(one) == []


def test_a_mean_of_what_the_sample_saved_is_no_titre(tmp_path):
    text = (
        "Student,Mass,Run 1 titre,Run 2 titre,Run 3 titre,Mean titre,Result\nAda,2.035,23.55,23.60,23.60,13.917,192\n"
    )
    (tmp_path / "class.csv").write_text(text, encoding="utf-8")
    (one,) = judged_tree(tmp_path / "class.csv", "saponification-value", ())["students"]
    assert "mean titre 23." not in " ".join(each["reason"] for each in one["marks"])


def test_a_blank_of_nothing_is_a_blank_and_no_run_that_was_not_done(tmp_path):
    (tmp_path / "p.toml").write_text(
        DRAIN_CLEANER.replace("[result]", "[blank]\nruns = true\n[result]"), encoding="utf-8"
    )
    head = "Student,Blank initial,Blank final,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final"
    (tmp_path / "c.csv").write_text(f"{head}\nAda,0.00,0.00,0.00,24.35,0.00,24.35\n", encoding="utf-8")
    (one,) = judged_tree(tmp_path / "c.csv", str(tmp_path / "p.toml"), ())["students"]
    assert (one["result"]["value"], codes(one)) == (pytest.approx(0.0974), set())
