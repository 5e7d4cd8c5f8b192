"""Several practicals of the same students: what is compared, what is said on a sheet, and what never is."""

from __future__ import annotations

import json
from contextlib import chdir

import numpy as np
import pytest
from click.testing import CliRunner

from labmark.cli import main
from labmark.cohort.compare import twice
from labmark.cohort.technique import READING, line, spreads, technique
from labmark.cohort.year import Year, alike, date_of, year
from labmark.places import practicals_folder
from tests.decided import CLASS
from tests.test_cohort import files_in, run

PLAIN = {"spread": [3 * READING, 2], "error": None, "concordant": False, "marks": {}, "slips": []}


def done(where="“Vinegar”", **more):
    """What one student did in one practical."""
    return PLAIN | {"where": where, "student": "Ada"} | more


def of_class(file, *people, title="Vinegar", error=None, sha256=""):
    """A digest; people are (ID, name, technique or None)."""
    rows = [
        {"student": name, "ID": known, "number": place, "technique": technique}
        for place, (known, name, technique) in enumerate(people, start=1)
    ]
    named = {"name": file.rpartition("/")[2], "file": file, "sha256": sha256 or file}
    return named | {"title": title, "error": error, "people": rows}


# What is before what ------------------------------------------------------------------------------------------------


def test_dates_in_names_of_files_and_folders_give_the_order():
    classes = [of_class("b 2026-03-20/10A.csv"), of_class("a 2026-11/10A.csv"), of_class("c/10A 2026-01-12.csv")]
    found = Year(classes)
    assert found.dated
    assert [date_of(each["file"]) for each in found.order] == ["2026-01-12", "2026-03-20", "2026-11"]


def test_without_a_date_of_each_the_names_do_in_their_natural_order():
    found = Year([of_class("10 bleach.csv"), of_class("2026-01-12 vinegar.csv"), of_class("9 soda.csv")])
    assert (found.dated, [each["file"] for each in found.order]) == (
        False,
        ["9 soda.csv", "10 bleach.csv", "2026-01-12 vinegar.csv"],
    )


@pytest.mark.parametrize("copy", ["copy of 10B.csv", "2026-03-20 b/10B.csv"])
def test_the_same_file_under_another_name_is_no_second_practical(copy):
    classes = [of_class(file, ("1", "Ada", PLAIN), sha256="the same") for file in ("10B.csv", copy)]
    assert len(Year(classes).order) == 1
    assert [Year(classes).earlier_in(each["name"]) for each in classes] == [{}, {}]
    assert year(classes) is None


@pytest.mark.parametrize(
    ("other", "said"), [("10B.csv", True), ("2026-03-12 b/10B.csv", True), ("2026-05-02 retake/10B.csv", False)]
)
def test_who_stands_in_two_classes_is_said_unless_they_are_of_two_days(other, said):
    classes = [of_class(file, ("1", "Ada", PLAIN)) for file in ("2026-03-12/10A.csv", other)]
    assert bool(twice(classes)) is said


@pytest.mark.parametrize("other", ["2026-03-20 b.csv", "2026-03 b.csv"])
def test_of_two_classes_on_one_day_or_in_one_month_neither_is_earlier(other):
    classes = [of_class("2026-03-20 a.csv", ("1", "Ada", PLAIN)), of_class(other, ("1", "Ada", PLAIN))]
    assert [Year(classes).earlier_in(each["name"]) for each in classes] == [{}, {}]
    assert year(classes) is None


def test_a_retake_names_the_day_of_the_other_one():
    classes = [of_class(f"2026-0{month}-01/10A.csv", ("1", "Ada", PLAIN)) for month in (1, 2)]
    classes = [each | {"name": str(place)} for place, each in enumerate(classes)]
    assert [each["where"] for each in Year(classes).earlier_in("1")["1"]] == ["the practical of 2026-01-01"]


# Who is one person --------------------------------------------------------------------------------------------------


def test_who_has_no_id_or_did_nothing_is_not_followed():
    classes = [of_class(f"{place}.csv", (None, "Ada", PLAIN), ("2", "Bo", None)) for place in "12"]
    assert Year(classes).earlier_in("2.csv") == {}


def test_an_id_with_another_name_or_twice_in_a_class_is_nobody():
    classes = [
        of_class("1.csv", ("1", "Ada King", PLAIN), ("2", "Bo", PLAIN), ("3", "Cy", PLAIN), ("4", "Di", PLAIN)),
        of_class("2.csv", ("1", "King, Ada", PLAIN), ("2", "Ben", PLAIN), ("3", "Cy", PLAIN), ("3", "Cy", PLAIN)),
        of_class("3.csv", ("4", "Di", PLAIN)),
    ]
    assert Year(classes).earlier_in("2.csv").keys() == {"1"}
    assert year(classes)["unsure"] == ["2", "3"]


def test_ids_that_number_the_rows_of_each_class_know_nobody():
    classes = [
        of_class("1.csv", ("1", "Ada", PLAIN), ("2", "Bo", PLAIN), ("3", "Cy", PLAIN)),
        of_class("2.csv", ("1", "Ada", PLAIN), ("2", "Ed", PLAIN), ("3", "Flo", PLAIN)),
    ]
    assert Year(classes).earlier_in("2.csv") == {}


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [("Ada", "ada", True), ("A. King", "Ada King", True), ("Ada", "Adam", False), ("Ada King", "Ada Lord", False)],
)
def test_names_are_one_persons_where_words_or_initials_agree(one, other, same):
    assert alike(one, other) is alike(other, one) is same


# What is said -------------------------------------------------------------------------------------------------------


def test_runs_that_chance_may_have_brought_together_are_not_compared():
    # Two runs now, and any number before: one degree of freedom says nothing.
    assert spreads(done(spread=[0.0, 1]), [done(spread=[0.5, 2])] * 5) == ""
    # Three times as far apart with two degrees of freedom each: F = 9, and F(0.975; 2, 2) is 39 (worked by hand:
    # 1 / (1 + F) = 0.1).
    assert spreads(done(spread=[2 * 0.01, 2]), [done(spread=[2 * 0.09, 2])]) == ""
    assert spreads(done(spread=[2 * 0.01, 2]), [done(spread=[2 * 0.40, 2])]) == "closer"
    assert spreads(done(spread=[2 * 0.38, 2]), [done(spread=[2 * 0.01, 2])]) == ""


def test_three_equal_readings_are_no_better_than_readings_can_be():
    assert spreads(done(spread=[0.0, 2]), [done(spread=[2 * 38 * READING, 2])]) == ""
    assert spreads(done(spread=[0.0, 2]), [done(spread=[2 * 40 * READING, 2])]) == "closer"


def test_of_students_who_work_as_ever_few_are_told_that_their_runs_differ():
    rng = np.random.default_rng(1)
    told = []
    for _ in range(2000):
        runs = np.round((25 + 0.04 * rng.standard_normal((3, 3))) / 0.05) * 0.05
        now, *before = ([((own - own.mean()) ** 2).sum(), 2] for own in runs)
        told.append(spreads(done(spread=now), [done(spread=each) for each in before]))
    assert np.mean([one != "" for one in told]) <= 0.05


@pytest.mark.parametrize(
    ("now", "before", "said"),
    [
        ({"error": [0.3, 0.3]}, {"error": [-2.0, 0.3]}, "Your result lies nearer to the reference than in “Vinegar”."),
        ({"error": [0.3, 0.3]}, {"error": [-1.0, 0.3]}, ""),
        ({"error": [0.3, 0.3]}, {"error": None}, ""),
        (
            {"marks": {"mean": [1, 1], "figures": [1, 1]}},
            {"marks": {"mean": [0, 1], "figures": [1, 1]}},
            "What cost you marks in “Vinegar” has full marks here: mean.",
        ),
        ({"marks": {"mean": [1, 2]}}, {"marks": {"mean": [0, 2]}}, ""),
        ({"concordant": True}, {"concordant": True}, "Your runs agree, as they do in “Vinegar”."),
        (
            {"slips": ["mean-slip"]},
            {"slips": ["mean-slip"]},
            "Slip in the mean: one thing to look out for, noted here and in “Vinegar”.",
        ),
        ({"slips": ["mean-slip"]}, {"slips": ["rounding"]}, ""),
        (
            {"spread": [2 * 0.40, 2]},
            {"spread": [2 * 0.01, 2]},
            "Your accurate runs lie further apart than in “Vinegar”: take the last drops slowly.",
        ),
    ],
)
def test_a_line_says_what_the_figures_bear_out(now, before, said):
    assert line(done(**now), [done(**before)]) == said


def test_what_is_good_comes_first():
    both = {"concordant": True, "slips": ["rounding"]}
    assert line(done(**both), [done(**both)]).startswith("Your runs agree")


# What a class learnt ------------------------------------------------------------------------------------------------


def test_a_class_that_learnt_is_told_from_one_that_did_not():
    def some(mark, slips=()):
        return [(str(k), f"S{k}", PLAIN | {"marks": {"mean": [mark(k), 2]}, "slips": list(slips)}) for k in range(12)]

    found = year([of_class("1.csv", *some(lambda k: k % 2)), of_class("2.csv", *some(lambda _: 2, ["rounding"]))])
    rows = {row["what"]: row for row in found["learnt"]}
    assert rows["mean, % of the marks"]["change"] == "better"
    assert (rows["mean, % of the marks"]["before"], rows["mean, % of the marks"]["now"]) == (25, 100)
    assert rows["Rounding, % of the students"]["change"] == "worse"
    assert rows["spread of accurate runs, cm³"]["change"] is None


def test_nothing_is_said_of_what_four_students_learnt():
    some = [(str(k), f"S{k}", PLAIN) for k in range(4)]
    assert year([of_class("1.csv", *some), of_class("2.csv", *some)])["learnt"] == []


# On the sheets ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A class in two practicals, whose sheets tell of it, marked as a cohort."""
    place = tmp_path_factory.mktemp("year")
    text = (practicals_folder() / "drain-cleaner.toml").read_text(encoding="utf-8")
    (place / "p.toml").write_text(f"{text}\n[sheet]\nprogress = true\n", encoding="utf-8")
    for date in ("2026-01-12", "2026-02-16"):
        (place / date).mkdir()
        (place / date / f"{date[5:7]}.csv").write_text(CLASS, encoding="utf-8")
    with chdir(place):
        run("2026-02-16", "2026-01-12", "--practical", "p.toml", "--out", "all", "--jobs", 1)
    return place


def progress_in(folder):
    students = json.loads((folder / "results.json").read_text(encoding="utf-8"))["students"]
    return {one["student"]: one["progress"] for one in students if "progress" in one}


@pytest.mark.slow
def test_only_the_later_sheet_tells_of_the_earlier_and_of_the_student_alone(place):
    assert progress_in(place / "all/01") == {}
    told = progress_in(place / "all/02")
    assert told["Bo"] == "Your runs agree, as they do in the practical of 2026-01-12."
    assert "Flo" not in told  # absent both times
    assert not any(other in said for one, said in told.items() for other in ("Ada", "Bo", "Cy", "Di", "Ed"))


@pytest.mark.slow
def test_the_line_stands_on_the_sheet(place):
    from pypdf import PdfReader

    text = " ".join(PdfReader(place / "all/02/feedback/02 Bo.pdf").pages[0].extract_text().split())
    assert "Your runs agree, as they do in the practical of 2026-01-12." in text


@pytest.mark.slow
def test_a_class_marked_again_by_itself_into_its_folder_has_the_same_bytes(place):
    before = files_in(place / "all/02")
    with chdir(place):
        file = "2026-02-16/02.csv"
        again = CliRunner().invoke(main, ["mark", file, "--practical", "p.toml", "--out", "all/02", "-q"])
    assert (again.exit_code, files_in(place / "all/02")) == (0, before)


@pytest.mark.slow
def test_resume_marks_anew_whose_earlier_work_has_changed(place):
    before = files_in(place / "all")
    with chdir(place):
        again = ("2026-01-12", "2026-02-16", "--practical", "p.toml", "--out", "all", "--jobs", 1, "--resume")
        run(*again)
        assert files_in(place / "all") == before
        (place / "2026-01-12/01.csv").write_text(CLASS.replace("Bo,2,", "Bo,22,"), encoding="utf-8")
        run(*again)
        assert "Bo" not in progress_in(place / "all/02")
        (place / "2026-01-12/01.csv").write_text(CLASS, encoding="utf-8")
        run(*again)
    assert files_in(place / "all") == before


def student_with(*marks, **more):
    """A student's record with one run of 25.00 cm³, as far as `technique` looks at it."""
    run = {"kind": "accurate", "titre": 25.0, "label": "1"}
    record = {"absent": False, "runs": [run], "inputs": [], "findings": [], "concordant": False, "marks": marks}
    result = {"value": 0.1, "standard_uncertainty": 0.0005}
    return record | {"percent_error": 1.0, "result": result, "reference": {"from": "practical"}} | more


def criterion(name, mark, **more):
    return {"criterion": name, "title": name, "mark": mark, "out_of": 2} | more


def test_a_result_is_compared_unless_its_reference_is_in_doubt_or_the_class_itself():
    waits = {"pending": True}
    assert technique(student_with(criterion("accuracy", 1)))["error"] == [1.0, 0.5]
    assert technique(student_with(criterion("tidy bench", None, **waits)))["error"] == [1.0, 0.5]
    assert technique(student_with(criterion("accuracy", None, **waits)))["error"] is None
    assert technique(student_with(criterion("accuracy", 2, by="teacher", scheme_mark=None)))["error"] is None
    assert technique(student_with(reference={"from": "class"}))["error"] is None
    assert technique(student_with(result={"value": 0.0, "standard_uncertainty": 0.1}))["error"] is None


def test_a_mark_that_waits_and_a_misread_run_are_not_compared():
    runs = [{"kind": "accurate", "titre": titre, "label": str(titre)} for titre in (25.0, 25.2, 26.2)]
    misread = {"finding": "misread-division", "run": "26.2", "level": "check"}
    one = student_with(criterion("mean", None, pending=True), runs=runs, findings=[misread])
    assert technique(one)["marks"] == {}
    assert technique(one)["spread"] == [pytest.approx(0.02), 1]  # 0.1² + 0.1², two runs


def test_runs_that_are_alike_have_no_spread_at_all():
    runs = [{"kind": "accurate", "titre": 25.4, "label": label} for label in "123"]  # 3 × 25.4 is 76.19999999999999
    assert technique(student_with(runs=runs))["spread"] == [0.0, 2]


@pytest.mark.slow
def test_what_an_older_labmark_kept_is_not_taken_up_again(place):
    before = files_in(place / "all")
    path = place / "all/.labmark-cohort/01.json"
    kept = json.loads(path.read_text(encoding="utf-8"))
    kept["made_from"]["version"] = kept["made_from"]["version"].partition(",")[0]
    for one in kept["outcome"]["people"]:
        del one["technique"]
    path.write_text(json.dumps(kept), encoding="utf-8")
    with chdir(place):
        run("2026-01-12", "2026-02-16", "--practical", "p.toml", "--out", "all", "--jobs", 1, "--resume")
    assert files_in(place / "all") == before
