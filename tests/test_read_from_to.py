"""From and To over, or beside, the readings of runs: both together are the start and the end of each, and no students."""

from __future__ import annotations

from pathlib import Path

import pytest

from labmark.problems import InputError
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.seeds import few_quick
from tests.several_layouts import ENDPOINTS
from tests.test_read_headers import read

LANGUAGES = {"en": ("From", "To"), "de": ("von", "bis"), "fr": ("de", "à"), "es": ("desde", "hasta")}
BOTH = pytest.mark.parametrize(("start", "end"), [*LANGUAGES.values(), ("from / cm3", "to / cm3")])
READ = [("Ada", 100, 25400), ("Ada", 200, 25550), ("Ben", 1100, 26400), ("Ben", 0, 25350)]


def told(sheet: ClassSheet) -> list[tuple[str, int, int]]:
    names = list(students_of(sheet)["student"])
    return [(names[run["student"]], run["initial"], run["final"]) for run in runs_of(sheet).rows()]


@BOTH
@pytest.mark.parametrize("run", few_quick(["Titre {}", "#{}", "Run {}"], 3))
def test_in_blocks_whose_runs_stand_above(tmp_path: Path, start: str, end: str, run: str) -> None:
    names = f"|{run.format(1)}|{run.format(2)}"
    ada, ben = f"{start}|0.10|0.20\n{end}|25.40|25.55", f"{start}|1.10|0.00\n{end}|26.40|25.35"
    assert told(read(tmp_path, f"Name: Ada\n{names}\n{ada}\n\nName: Ben\n{names}\n{ben}")) == READ


@BOTH
@pytest.mark.parametrize("run", few_quick(["Titre {}", "#{}", "{}"], 3))
def test_in_blocks_whose_runs_stand_to_the_left(tmp_path: Path, start: str, end: str, run: str) -> None:
    one, two = run.format(1), run.format(2)
    ada = f"Name|Ada\n|{start}|{end}\n{one}|0.10|25.40\n{two}|0.20|25.55"
    assert told(read(tmp_path, ada)) == READ[:2]
    ben = f"Name|Ben\n|{start}|{end}\n{one}|1.10|26.40\n{two}|0.00|25.35"
    assert told(read(tmp_path, f"{ada}\n\n{ben}")) == READ


@BOTH
@pytest.mark.parametrize(
    "head",
    [
        "Student|Attempt 1_{0}|Attempt 1_{1}|Attempt 2_{0}|Attempt 2_{1}",
        "Student|Run 1 {0}|Run 1 {1}|Run 2 {0}|Run 2 {1}",
        "|Run 1||Run 2\nStudent|{0}|{1}|{0}|{1}",
    ],
)
def test_in_a_row_a_student(tmp_path: Path, start: str, end: str, head: str) -> None:
    people = "Ada|0.10|25.40|0.20|25.55\nBen|1.10|26.40|0.00|25.35"
    assert told(read(tmp_path, f"{head.format(start, end)}\n{people}")) == READ


@BOTH
def test_in_a_row_a_run(tmp_path: Path, start: str, end: str) -> None:
    lines = "Ada|1|0.10|25.40\nAda|2|0.20|25.55\nBen|1|1.10|26.40\nBen|2|0.00|25.35"
    assert told(read(tmp_path, f"Student|Run|{start}|{end}\n{lines}")) == READ


@pytest.mark.parametrize("unit", ["", " [mL]", " / cm3"])
def test_the_end_may_be_an_endpoint(tmp_path: Path, unit: str) -> None:
    heads = "|".join(f"{what}{unit}" for what in ("From", "phenolphthalein", "methyl orange"))
    sheet = read(tmp_path, f"Student|Run|{heads}\nAda|1|0.10|15.40|19.20\nBen|1|1.10|16.40|20.20", several=ENDPOINTS)
    assert {(run["series"], run["initial"], run["final"]) for run in runs_of(sheet).rows()} == {
        ("phenolphthalein", 100, 15400),
        ("methyl orange", 15400, 19200),
        ("phenolphthalein", 1100, 16400),
        ("methyl orange", 16400, 20200),
    }


@pytest.mark.parametrize(
    ("heads", "cells"),
    [
        ("Time from|Time to", "10.05|10.20"),
        ("From|To", "10:05|10:20"),
        ("From|To", "3|4"),
        ("Bench from|Bench to", "3|4"),
    ],
)
def test_times_and_benches_are_no_readings(tmp_path: Path, heads: str, cells: str) -> None:
    titres = f"Student|{heads}|Titre 1|Titre 2\nAda|{cells}|25.30|25.35\nBen|{cells}|25.30|25.35"
    assert {(run["initial"], run["titre"]) for run in runs_of(read(tmp_path, titres)).rows()} == {
        (None, 25300),
        (None, 25350),
    }
    titres = titres.replace("Titre 1|Titre 2", "Initial|Final").replace("25.30|25.35", "0.10|25.40")
    assert told(read(tmp_path, titres)) == [("Ada", 100, 25400), ("Ben", 100, 25400)]


@pytest.mark.parametrize("heads", ["From|Titre", "To|Titre", "Nach|Vor"])
def test_one_of_them_alone_says_nothing(tmp_path: Path, heads: str) -> None:
    with pytest.raises(InputError, match=r"may hold readings but are not understood|no table of titrations"):
        read(tmp_path, f"Student|Run|{heads}\nAda|1|25.40|0.10\nBen|1|26.40|1.10")
