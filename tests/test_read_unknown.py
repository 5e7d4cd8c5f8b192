"""Words that are in no list: what they head is asked about or said, and nothing beside it is lost or half read."""

from __future__ import annotations

from pathlib import Path

import pytest

from labmark.problems import InputError
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.test_read_headers import read


def runs(sheet: ClassSheet) -> list[tuple[object, ...]]:
    names = [one["student"] for one in students_of(sheet).rows()]
    return [(names[run["student"]], run["label"], run["final"] - run["initial"]) for run in runs_of(sheet).rows()]


def claims(sheet: ClassSheet) -> list[tuple[str, str, str]]:
    return [(one["student"], str(one["mean"]), str(one["result"])) for one in students_of(sheet).rows()]


@pytest.mark.parametrize("label", ["Tally?|✓|✓", "Drops|12|14"])
def test_a_label_in_a_block_that_is_not_understood_hides_no_mean_below_it(tmp_path: Path, label: str) -> None:
    block = f"{{}}\n|1|2\nInitial|0.00|0.10\nFinal|25.30|25.50\n{label}\nMean titre|25.35\nResult|0.101"
    sheet = read(tmp_path, "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    assert claims(sheet) == [("Ada", "25.35", "0.101"), ("Ben", "25.35", "0.101")]
    assert runs(sheet) == [
        (name, label, titre) for name in ("Ada", "Ben") for label, titre in (("1", 25300), ("2", 25400))
    ]


def test_titres_in_a_block_under_a_word_that_is_not_understood_are_asked_about(tmp_path: Path) -> None:
    block = "Ada\n|1|2\nInitial|0.00|0.10\nFinal|25.30|25.50\nUsage|25.30|25.40\nMean titre|25.35"
    with pytest.raises(InputError, match=r"may hold readings but are not understood: 'Usage' \(row 5\)"):
        read(tmp_path, block)


def test_volumes_at_the_end_of_students_across_are_titres(tmp_path: Path) -> None:
    rows = ["Name|Ada|Ben", "Test 1 - before|0.20|0.10", "Test 1 - after|25.50|25.50", "Test 1 - volume|25.30|25.40"]
    sheet = read(tmp_path, "\n".join([*rows, "Concentration|0.101|0.102"]))
    assert [run["titre"] for run in runs_of(sheet).rows()] == [25300, 25400]
    assert [result for *_, result in claims(sheet)] == ["0.101", "0.102"]


@pytest.mark.parametrize("headings", [("Rough", "Titration 1", "Titration 2"), ("Run 0", "Titre 1", "Titre 2")])
def test_a_run_alone_in_a_line_is_that_of_the_lines_below_it(tmp_path: Path, headings: tuple[str, str, str]) -> None:
    finals = {"Ada": ("25.45", "25.40", "25.40"), "Ben": ("25.60", "25.30", "25.40")}
    parts = [
        "\n".join((heading, *(f"{name}|0.00|{of[place]}" for name, of in finals.items())))
        for place, heading in enumerate(headings)
    ]
    sheet = read(tmp_path, "\n".join(("Name|Start|End", *parts, "", "* repeated")))
    assert sorted(runs(sheet)) == [
        *(("Ada", "1", 25400), ("Ada", "2", 25400), ("Ada", "Rough", 25450)),
        *(("Ben", "1", 25300), ("Ben", "2", 25400), ("Ben", "Rough", 25600)),
    ]


def test_which_run_over_names_of_runs_is_no_question_after_those_used(tmp_path: Path) -> None:
    block = "{}\nWhich run|Start|End\nRough|0.00|25.90\nRun 1|0.00|25.30\nRun 2|0.10|25.50\nAverage|25.35\nFinal answer|0.101"
    sheet = read(tmp_path, "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    titres = (("Rough", 25900), ("1", 25300), ("2", 25400))
    assert runs(sheet) == [(name, label, titre) for name in ("Ada", "Ben") for label, titre in titres]
    assert claims(sheet) == [("Ada", "25.35", "0.101"), ("Ben", "25.35", "0.101")]


@pytest.mark.parametrize("line", ["Teacher: AB", "Lehrerin: AB", "Indicator: phenolphthalein"])
def test_who_teaches_the_class_does_not_make_the_first_block_a_demonstration(tmp_path: Path, line: str) -> None:
    block = "{}|1|2\nInitial|0.00|0.10\nFinal|25.30|25.50"
    sheet = read(tmp_path, f"{line}\n\n" + "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]
