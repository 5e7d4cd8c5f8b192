"""Many classes by one command: each as `mark` does it, all of them side by side, and nothing lost on the way."""

from __future__ import annotations

import csv
import errno
import json
import os
import re
import shutil
import signal
from contextlib import chdir
from pathlib import Path

import pytest
from click.testing import CliRunner

from labmark import pipeline
from labmark.cli import main
from labmark.cohort import run as cohort_run
from labmark.cohort import work
from labmark.cohort.find import classes_of
from labmark.cohort.task import Task, forget
from labmark.cohort.work import FEW, outcomes
from labmark.diagnose.working_ways import tabled
from labmark.outputs.folder import MANIFEST
from labmark.pipeline import judged_tree
from tests.bare import bare_files
from tests.decided import CLASS, PRACTICAL, cell_of

OTHER = CLASS.replace("25.30", "25.35")
NAMES = {"9A", "10A (Säuren 10)", "10A (alte)"}


def run(*arguments, code=0):
    done = CliRunner().invoke(main, ["cohort", *map(str, arguments)])
    assert done.exit_code == code, (done.output, done.exception)
    return done


def files_in(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def year_in(place):
    """Mark a year's classes in folders with spaces, one of them broken."""
    year = place / "Säuren 10"
    (year / "alte").mkdir(parents=True)
    for name, text in (("10A", CLASS), ("9A", OTHER), ("alte/10A", OTHER), ("broken", "hello,there\n")):
        (year / f"{name}.csv").write_text(text, encoding="utf-8")
    (year / "notes.txt").write_text("ask about 9A", encoding="utf-8")
    with chdir(place):
        done = run("Säuren 10", "--practical", PRACTICAL, "--out", "all", "--jobs", 1, code=1)
    return place, done


@pytest.fixture(scope="module")
def marked(tmp_path_factory):
    """The year without charts and sheets, marked once."""
    with bare_files():
        return year_in(tmp_path_factory.mktemp("bare"))


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The year with all of its files, marked once."""
    return year_in(tmp_path_factory.mktemp("whole"))


@pytest.fixture
def again(marked, tmp_path):
    """A copy of the bare year in which a test may do as it likes."""
    place = shutil.copytree(marked[0], tmp_path / "year")
    with chdir(place):
        yield place


@pytest.fixture
def whole_again(whole, tmp_path):
    """A copy of the whole year in which a test may do as it likes."""
    place = shutil.copytree(whole[0], tmp_path / "year")
    with chdir(place):
        yield place


@pytest.mark.slow
def test_every_class_has_a_folder_named_after_its_file(marked):
    assert {path.name for path in (marked[0] / "all").iterdir() if not path.name.startswith(".")} - NAMES == {
        "cohort.html",
        "cohort.xlsx",
        "cohort.csv",
        "cohort.json",
    }


@pytest.mark.slow
def test_a_folder_holds_what_mark_writes(whole, tmp_path):
    with chdir(whole[0]):
        file = "Säuren 10/9A.csv"
        alone = CliRunner().invoke(main, ["mark", file, "--practical", PRACTICAL, "--out", str(tmp_path / "9A"), "-q"])
    assert alone.exit_code == 0
    assert files_in(tmp_path / "9A") == files_in(whole[0] / "all" / "9A")


def test_a_class_that_cannot_be_used_is_one_line_and_the_others_are_done(marked):
    place, done = marked
    lines = [line for line in done.stderr.splitlines() if line.startswith("labmark: ")]
    assert len(lines) == 1
    assert "broken.csv" in lines[0]
    entries = json.loads((place / "all/cohort.json").read_text(encoding="utf-8"))["classes"]
    assert [each["class"] for each in entries if each["error"] is None] == ["9A", "10A (Säuren 10)", "10A (alte)"]
    broken = next(each for each in entries if each["class"] == "broken")
    assert "\n" not in broken["error"]
    assert broken["folder"] is None


def test_an_entry_says_what_was_read_and_found(marked):
    place, _ = marked
    tree = json.loads((place / "all/cohort.json").read_text(encoding="utf-8"))
    entry = next(each for each in tree["classes"] if each["class"] == "9A")
    results = json.loads((place / "all/9A/results.json").read_text(encoding="utf-8"))
    assert entry["file"] == str(Path("Säuren 10/9A.csv"))
    assert entry["folder"] == "9A"
    assert entry["sha256"] == results["source"]["sha256"]
    for key in ("students", "results", "robust_mean", "robust_sd", "repeatability_sd"):
        assert entry[key] == results["class"][key]
    assert entry["mean_percent"] == results["class"]["marks"]["mean_percent"]
    assert entry["findings"] == [each["finding"] for each in results["class"]["findings"]]
    assert entry["decisions"] == 0
    assert tree["cohort"]["students"] == 18
    assert tree["cohort"]["between_classes_sd"] is not None


def test_the_table_has_a_row_a_class(marked):
    rows = list(csv.DictReader((marked[0] / "all/cohort.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert {row["Class"] for row in rows} == {*NAMES, "broken"}
    assert all(bool(row["Error"]) == (row["Class"] == "broken") for row in rows)


def test_a_student_in_two_classes_is_said(marked):
    place, done = marked
    tree = json.loads((place / "all/cohort.json").read_text(encoding="utf-8"))
    assert tree["twice"][0] == {"ID": "1", "student": "Ada", "classes": ["9A", "10A (Säuren 10)", "10A (alte)"]}
    assert "Ada (ID 1) stands in 9A, 10A (Säuren 10) and 10A (alte)" in done.stderr


@pytest.mark.slow
@pytest.mark.usefixtures("bare")
def test_one_file_under_two_names_is_said_in_one_line(marked, again):
    assert "9A and 10A (alte) are the same file: everybody in it is counted 2 times" in marked[1].stderr
    done = run("Säuren 10/9A.csv", "Säuren 10/alte", "--practical", PRACTICAL, "--out", "new", "--jobs", 1)
    assert "stands in" not in done.stderr
    said, page = "9A and 10A are the same file: everybody in it is counted 2 times", again / "new/cohort.html"
    assert said in done.stderr
    assert f"{said}." in page.read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.usefixtures("bare")
def test_a_folder_of_a_class_that_is_called_otherwise_now_is_said(again):
    run("Säuren 10/9A.csv", "--practical", PRACTICAL, "--out", "new", "--jobs", 1)
    (again / "11").mkdir()
    shutil.copy(again / "Säuren 10/10A.csv", again / "11/9A.csv")
    done = run("Säuren 10/9A.csv", "11", "--practical", PRACTICAL, "--out", "new", "--jobs", 1)
    assert "9A was marked earlier, and is none of these classes: decisions in it move nothing here" in done.stderr


@pytest.mark.slow
def test_classes_that_all_have_full_marks_stand_on_an_axis_that_can_be_read(tmp_path):
    full = [line for line in CLASS.splitlines() if not line.startswith(("Cy", "Di", "Flo"))]
    for name in ("9A.csv", "9B.csv"):
        (tmp_path / name).write_text("\n".join([*full, "" if name == "9A.csv" else "Zed"]), encoding="utf-8")
    run(*tmp_path.glob("*.csv"), "--practical", PRACTICAL, "--out", tmp_path / "new", "--jobs", 1)
    drawn = (tmp_path / "new/cohort.html").read_text(encoding="utf-8").partition('aria-label="Mean mark of each class')
    labels = re.findall(r'class="tick"[^>]*>([^<]*)<', drawn[2].partition("</svg>")[0])
    assert "100.0" in labels
    assert max(map(len, labels)) == len("100.0")


@pytest.mark.slow
@pytest.mark.usefixtures("bare")
def test_an_id_that_stands_with_another_name_in_another_class_is_not_the_same_student(again):
    other = OTHER.replace("Ada", "Zoe Marsh")
    (again / "10B.csv").write_text(other, encoding="utf-8")
    run("10B.csv", "Säuren 10/9A.csv", "--practical", PRACTICAL, "--out", "new", "--jobs", 1)
    tree = json.loads((again / "new/cohort.json").read_text(encoding="utf-8"))
    assert "Ada" not in {one["student"] for one in tree["twice"]}
    assert "Bo" in {one["student"] for one in tree["twice"]}


@pytest.mark.usefixtures("bare")
def test_a_folder_that_labmark_wrote_is_no_class(again):
    done = run("all/9A", "Säuren 10/10A.csv", "--practical", PRACTICAL, "--out", "new", "--jobs", 1, code=1)
    assert "all/9A: labmark wrote this folder" in done.stderr
    assert (again / "new/10A/report.html").exists()


def test_a_pattern_that_takes_in_what_the_last_run_wrote_means_the_classes_alone(marked):
    assert named(marked[0], "Säuren 10", "all") == named(marked[0], "Säuren 10")


def test_nothing_but_what_the_last_run_wrote_is_no_class(again):
    before = files_in(again)
    assert "no class is named" in run("all", "--out", "all", code=1).stderr
    assert files_in(again) == before


def test_what_is_no_class_sheet_is_said(marked):
    assert "notes.txt" in marked[1].stderr


@pytest.mark.slow
def test_resume_leaves_alone_what_is_as_it_was(whole_again):
    before = {path: path.stat().st_mtime_ns for name in NAMES for path in (whole_again / "all" / name).rglob("*")}
    cohort = files_in(whole_again / "all")
    (whole_again / "Säuren 10/9A.csv").write_text(CLASS, encoding="utf-8")
    run("Säuren 10", "--practical", PRACTICAL, "--out", "all", "--jobs", 1, "--resume", code=1)
    changed = {path for path, time in before.items() if path.stat().st_mtime_ns != time}
    assert changed
    assert {path.relative_to(whole_again / "all").parts[0] for path in changed} == {"9A"}
    (whole_again / "Säuren 10/9A.csv").write_text(OTHER, encoding="utf-8")
    run("Säuren 10", "--practical", PRACTICAL, "--out", "all", "--jobs", 1, "--resume", code=1)
    assert files_in(whole_again / "all") == cohort


@pytest.mark.slow
def test_resume_sees_a_decision_and_a_missing_sheet(whole_again):
    import openpyxl

    path = whole_again / "all/9A/marks.xlsx"
    book = openpyxl.load_workbook(path)
    cell_of(book, "Marks", {"Student": "Ada"}, "recording /1").value = 0
    book.save(path)
    (whole_again / "all/10A (alte)/feedback.pdf").unlink()
    run("Säuren 10", "--practical", PRACTICAL, "--out", "all", "--jobs", 1, "--resume", code=1)
    tree = json.loads((whole_again / "all/cohort.json").read_text(encoding="utf-8"))
    assert {each["class"]: each["decisions"] for each in tree["classes"] if each["error"] is None}["9A"] == 1
    assert (whole_again / "all/10A (alte)/feedback.pdf").exists()


@pytest.mark.usefixtures("bare")
def test_who_stops_it_keeps_whole_classes_and_is_told_how_to_go_on(again, monkeypatch):
    def stopped_after_one(tasks, jobs):
        yield from outcomes(tasks[:1], jobs)
        raise KeyboardInterrupt

    shutil.rmtree(again / "all")
    monkeypatch.setattr(cohort_run, "outcomes", stopped_after_one)
    done = run("Säuren 10", "--practical", PRACTICAL, "--out", "all", "--jobs", 1, code=130)
    assert "1 of 4 classes" in done.stderr
    assert "--resume" in done.stderr
    assert (again / "all/9A" / MANIFEST).exists()
    assert not (again / "all/cohort.json").exists()


def test_what_was_worked_out_for_one_class_is_forgotten_before_the_next(marked):
    with chdir(marked[0]):
        judged_tree(Path("Säuren 10/9A.csv"), PRACTICAL, ())
    assert tabled.cache_info().currsize
    forget()
    assert not tabled.cache_info().currsize


def test_a_folder_into_which_a_class_was_marked_is_refused(again):
    before = files_in(again / "all/9A")
    done = run("Säuren 10", "--practical", PRACTICAL, "--out", "all/9A", code=1)
    assert "all/9A: a class was marked into this folder" in done.stderr
    assert files_in(again / "all/9A") == before


@pytest.mark.parametrize(
    ("stopped_by", "said"),
    [
        (MemoryError(), "memory"),
        (OSError(errno.ENOSPC, "No space left on device"), "No space left"),
        (PermissionError(errno.EACCES, "Permission denied"), "Permission denied"),
        (RuntimeError("one line\nand another"), "labmark failed on it"),
    ],
)
def test_a_class_for_which_memory_disk_or_rights_do_not_do_is_one_line_and_stays_as_it_was(
    again, monkeypatch, stopped_by, said
):
    mark_class = pipeline.mark_class

    def stopped(path, *given, **more):
        if path.stem == "9A":
            raise stopped_by
        return mark_class(path, *given, **more)

    before = files_in(again / "all/9A")
    monkeypatch.setattr(pipeline, "mark_class", stopped)
    classes = ("Säuren 10/9A.csv", "Säuren 10/10A.csv")
    done = run(*classes, "--practical", PRACTICAL, "--out", "all", "--jobs", 1, code=1)
    (line,) = (line for line in done.stderr.splitlines() if line.startswith("labmark: "))
    assert "9A.csv" in line
    assert said in line
    entries = json.loads((again / "all/cohort.json").read_text(encoding="utf-8"))["classes"]
    (error,) = [each["error"] for each in entries if each["error"] is not None]
    assert "\n" not in error
    assert files_in(again / "all/9A") == before


def test_a_practical_that_is_not_there_is_one_line_and_nothing_is_written(again):
    done = run("Säuren 10", "--practical", "vineger", "--out", "new", code=1)
    assert len(done.stderr.splitlines()) == 1
    assert not (again / "new").exists()


def test_where_no_class_is_there_the_earlier_cohort_stays(again):
    before = files_in(again)
    done = run("Saeuren 10/*.csv", "9Z.csv", "--practical", PRACTICAL, "--out", "all", code=1)
    assert [line.partition(";")[0] for line in done.stderr.splitlines()] == [
        "labmark: 9Z.csv: there is no such file",
        "labmark: Saeuren 10/*.csv: there is no such file",
    ]
    assert files_in(again) == before


def test_where_no_class_can_be_used_the_earlier_cohort_stays(again):
    before = files_in(again / "all")
    done = run("Säuren 10/broken.csv", "--practical", PRACTICAL, "--out", "all", code=1)
    assert done.stderr.splitlines()[-1] == "No class can be used, so the earlier cohort is left as it was in all"
    assert done.stderr.startswith("labmark: Säuren 10/broken.csv: no table of titrations was found")
    assert files_in(again / "all") == before


def test_where_no_class_can_be_used_a_new_folder_says_why(again):
    run("Säuren 10/broken.csv", "--practical", PRACTICAL, "--out", "new", code=1)
    (only,) = json.loads((again / "new" / "cohort.json").read_text(encoding="utf-8"))["classes"]
    assert "no table of titrations was found" in only["error"]


def test_classes_are_not_marked_into_the_folder_that_they_are_in(again):
    before = files_in(again)
    done = run("Säuren 10", "--practical", PRACTICAL, "--out", "Säuren 10", code=1)
    assert done.stderr == "labmark: Säuren 10: the classes would be marked into their own folder; choose another\n"
    assert files_in(again) == before


def test_no_class_without_a_folder_for_it(again):
    assert "--out" in run("Säuren 10", code=2).stderr


# Which classes are meant ---------------------------------------------------------------------------------------------


def named(place, *arguments):
    with chdir(place):
        return {each.name: str(each.path) for each in classes_of(arguments, Path("all"))[0]}


@pytest.mark.parametrize(
    "typed",
    ["Säuren 10", 'Säuren 10"', "Säuren 10/", "Säuren 10/**/*.csv", "Säuren 10\\**\\*.csv", "Säu* 10"],
)
def test_a_folder_and_a_pattern_mean_the_same_classes(marked, typed):
    assert named(marked[0], typed) == named(marked[0], "Säuren 10")


def test_the_order_in_which_classes_are_given_makes_no_difference(marked):
    files = ["Säuren 10/10A.csv", "Säuren 10/9A.csv", "Säuren 10/alte/10A.csv"]
    assert named(marked[0], *files) == named(marked[0], *reversed(files), "Säuren 10/9A.csv")
    assert list(named(marked[0], *files)) == ["9A", "10A (Säuren 10)", "10A (alte)"]


def test_what_labmark_wrote_is_no_class(marked):
    assert set(named(marked[0], ".")) == set(named(marked[0], "Säuren 10"))


def test_what_is_not_there_stays_in_the_list(marked):
    assert named(marked[0], "11Z.csv") == {"11Z": "11Z.csv"}


def test_a_folder_of_one_file_a_student_is_one_class(tmp_path):
    header, *rows = CLASS.splitlines()
    (tmp_path / "10B").mkdir()
    for row in rows[:3]:
        (tmp_path / "10B" / f"{row.split(',')[0]}.csv").write_text(f"{header}\n{row}\n", encoding="utf-8")
    (tmp_path / "9A.csv").write_text(CLASS, encoding="utf-8")
    assert list(named(tmp_path, str(tmp_path))) == ["9A", "10B"]


def test_a_workbook_and_a_table_of_one_name_are_told_apart(tmp_path):
    for name in ("10A.csv", "10A.tsv", "cohort.json.csv", "CON.csv"):
        (tmp_path / name).write_text(CLASS, encoding="utf-8")
    assert set(named(tmp_path, str(tmp_path))) == {"10A (csv)", "10A (tsv)", "cohort.json (csv)", "_CON"}


# By several processes ------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_processes_and_order_make_no_difference_to_the_bytes(whole_again):
    files = ["Säuren 10/alte/10A.csv", "Säuren 10/10A.csv", "Säuren 10/broken.csv", "Säuren 10/9A.csv"]
    run(*files, "--practical", PRACTICAL, "--out", "all2", "--jobs", 2, code=1)
    one, two = files_in(whole_again / "all"), files_in(whole_again / "all2")
    kept = {name for name in one if name.startswith(".labmark-cohort")}
    assert {name: one[name] for name in one.keys() - kept} == {name: two[name] for name in two.keys() - kept}


def ended_by_the_system(task):
    """Stand in for a class that takes more memory than there is: the system ends the process."""
    if task.name == "poisoned":
        os._exit(9)
    return {"name": task.name, "error": None}


@pytest.mark.slow
def test_a_process_that_is_ended_costs_no_class_but_its_own(tmp_path):
    names = [f"class {place}" for place in range(6)]
    tasks = [Task(f"{name}.csv", name, str(tmp_path), None, "", False) for name in [*names[:2], "poisoned", *names[2:]]]
    done = {each["name"]: each["error"] for each in outcomes(tasks, 2, ended_by_the_system)}
    assert done.keys() == {*names, "poisoned"}
    assert "ended, twice" in done.pop("poisoned")
    assert set(done.values()) == {None}


def noted(task):
    """Stand in for marking: leave a file where the class was marked."""
    Path(task.out, task.name).touch()
    return {"name": task.name, "error": None}


@pytest.mark.slow
def test_who_stops_it_is_told_of_the_classes_in_hand_too(tmp_path, monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    tasks = [Task(f"{place}.csv", f"{place}", str(tmp_path), None, "", False) for place in range(9)]
    monkeypatch.setattr(work, "wait", stop)
    done = []
    with pytest.raises(KeyboardInterrupt):
        done.extend(outcome["name"] for outcome in outcomes(tasks, 2, noted))
    assert sorted(done) == sorted(path.name for path in tmp_path.iterdir())
    assert 0 < len(done) < len(tasks)


def stopped_by_hand(task):
    """Stand in for marking: Ctrl-C while a class is in hand."""
    signal.raise_signal(signal.SIGINT)
    return noted(task)


def test_the_class_that_is_marked_here_when_somebody_stops_it_is_whole_and_counts(tmp_path):
    tasks = [Task(f"{place}.csv", f"{place}", str(tmp_path), None, "", False) for place in range(3)]
    done = []
    with pytest.raises(KeyboardInterrupt):
        done.extend(outcome["name"] for outcome in outcomes(tasks, 1, stopped_by_hand))
    assert done == [path.name for path in tmp_path.iterdir()] == ["0"]
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


def test_where_nobody_is_to_stop_it_a_class_here_is_not_stopped(tmp_path):
    tasks = [Task(f"{place}.csv", f"{place}", str(tmp_path), None, "", False) for place in range(3)]
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        done = [outcome["name"] for outcome in outcomes(tasks, 1, stopped_by_hand)]
    finally:
        signal.signal(signal.SIGINT, before)
    assert done == ["0", "1", "2"]


def which_process(task):
    """Stand in for marking: say which process it would be done in."""
    return {"name": task.name, "error": None, "process": os.getpid()}


@pytest.mark.parametrize(("classes", "here"), [(FEW, True), pytest.param(FEW + 1, False, marks=pytest.mark.slow)])
def test_with_one_job_many_classes_are_marked_by_one_process_that_does_not_compare_them(tmp_path, classes, here):
    tasks = [Task(f"{place}.csv", f"{place}", str(tmp_path), None, "", False) for place in range(classes)]
    processes = {each["process"] for each in outcomes(tasks, 1, which_process)}
    assert (len(processes), os.getpid() in processes) == (1, here)


def test_a_class_is_not_marked_into_the_folder_of_a_cohort(again):
    before = files_in(again / "all")
    done = CliRunner().invoke(main, ["mark", "Säuren 10/9A.csv", "--practical", PRACTICAL, "--out", "all"])
    assert (done.exit_code, "this folder holds a cohort" in done.stderr) == (1, True)
    assert files_in(again / "all") == before
