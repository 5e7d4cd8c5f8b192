"""`--dry-run` and `explain`: what would change, and what is behind a mark."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from labmark.changes import changes
from labmark.explain import explained
from labmark.outputs.data import results_text
from labmark.outputs.sheets import manuscript_of
from labmark.pipeline import judged_tree
from labmark.problems import InputError
from tests.decided import CLASS, Marked
from tests.schema import FILE as SCHEMA

ADA = {"Student": "Ada"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Marked:
    return Marked(tmp_path_factory.mktemp("place") / "marked")


@pytest.fixture(scope="module")
def before(folder: Marked) -> dict[str, Any]:
    return folder.mark()


@pytest.fixture(scope="module")
def after(folder: Marked, before: dict[str, Any]) -> dict[str, Any]:
    folder.write(
        ("Marks", ADA, "accuracy /3", 1),
        ("Marks", {"Student": "Bo"}, "table /1", 0),
        ("Marks", ADA, "Private note", "tap leaks"),
        ("Runs", ADA | {"Run": 3}, "Use", "yes"),
    )
    return folder.mark()


def test_nothing_changes_between_a_tree_and_itself(before: dict[str, Any]) -> None:
    assert changes(before, before, "marked") == "Nothing would change in marked.\n\nNothing was written."


def test_marks_are_named_the_largest_change_first(before: dict[str, Any], after: dict[str, Any]) -> None:
    told = changes(before, after, "marked").split("\n")
    assert [line.strip().split(",")[0] for line in told[1:3]] == ["Ada: −2", "Bo: −1"]
    assert "accuracy 3 to 1 by the teacher (The scheme alone gives 3 of 3" in told[1]
    assert "  Bo: mark for table: 1 to 0" in told
    assert "  Ada: new: Not concordant" not in told
    assert not any("tap leaks" in line for line in told)


def test_who_is_excused_is_said_in_one_word_and_is_not_called_nought(before: dict[str, Any]) -> None:
    excused = json.loads(json.dumps(before))
    one = excused["students"][0]
    one |= {"excused": True, "total": 0, "out_of": 0}
    for each in one["marks"]:
        each |= {"mark": None, "by": "teacher"}
    full = f"{before['students'][0]['total']} of {before['students'][0]['out_of']}"
    assert f"  {one['student']}: {full} to out of nothing: excused by the teacher" in changes(before, excused, "marked")
    assert f"  {one['student']}: out of nothing to {full}: no longer excused" in changes(excused, before, "marked")


def test_a_mark_that_no_longer_waits_changes_what_it_is_out_of(before: dict[str, Any]) -> None:
    waits = json.loads(json.dumps(before))
    one = waits["students"][0]
    one["marks"][-1] |= {"mark": None, "pending": True}
    one |= {"total": one["total"] - 3, "out_of": one["out_of"] - 3}
    now = before["students"][0]
    told = f"  {now['student']}: +3, {one['total']} of {one['out_of']} to {now['total']} of {now['out_of']}: accuracy – to 3"
    assert told in changes(waits, before, "marked")


def test_what_is_taken_back_or_fits_no_more_is_said(before: dict[str, Any], after: dict[str, Any]) -> None:
    assert "  Bo: mark for table: taken back" in changes(after, before, "marked").split("\n")
    stale = json.loads(json.dumps(after))
    stale["decisions"][-1]["stale"] = True
    assert "look again" in changes(after, stale, "marked")
    stale["decisions"][-1]["student"] = "Gus"
    assert "  Gus: mark for table: kept: nobody of that name is in the class any more" in changes(
        after, stale, "marked"
    )


@pytest.mark.slow
def test_decisions_on_a_student_who_was_renamed_or_given_an_id_stay_as_they_are(tmp_path: Path) -> None:
    folder = Marked(tmp_path / "marked")
    folder.mark(text := CLASS.replace("Ada,1", "Ada,"))
    folder.write(("Marks", ADA, "accuracy /3", 1), ("Marks", {"Student": "Bo"}, "table /1", 0))
    before = folder.mark(text)
    for other in (CLASS.replace("Ada,1", "Ada,A1"), text.replace("Bo,2", "Bo Berg,2")):
        after = folder.mark(other)
        assert "Decisions" not in changes(before, after, "marked")
        folder.mark(text)


def test_a_folder_that_is_new_is_said(before: dict[str, Any]) -> None:
    assert changes(None, before, "marked").startswith("Nothing was marked into marked yet")


def test_every_mark_is_explained_from_the_folder_alone(folder: Marked, after: dict[str, Any]) -> None:
    told = explained(folder.folder, "ADA")
    for mark in next(one for one in after["students"] if one["student"] == "Ada")["marks"]:
        assert f"  {mark['title']}: {mark['mark']:g} / {mark['out_of']:g}" in told
    assert "accuracy: 1 / 3 (teacher; the scheme alone: 3)" in told
    assert "3: 0.00 to 25.80, titre 25.80; in the mean: taken in by the teacher" in told
    assert "use of run 3: no to yes: stands" in told
    assert re.search(r"result \d\.\d{4,5} ± 0\.\d{4,5} mol/dm³; written ", told)
    assert "tap leaks" not in told
    assert explained(folder.folder, "1") == told


@pytest.mark.parametrize(
    ("practical", "head", "row", "written"),
    [
        (
            "drain-cleaner",
            "Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result",
            "0.00,25.30,0.10,25.40,see over,in my book",
            {"mean titre": "“see over”", "result": "“in my book”"},
        ),
        (
            "hydroxide-and-carbonate",
            "Run 1 initial,Run 1 phenolphthalein,Run 1 methyl orange,Mean titre phenolphthalein,Mean titre methyl orange,"
            "Result NaOH,Result Na2CO3",
            "0.00,23.75,27.50,23.75,see over,3.20,in my book",
            {
                "mean titre phenolphthalein": "23.75",
                "mean titre methyl orange": "“see over”",
                "result NaOH": "3.20",
                "result Na2CO3": "“in my book”",
            },
        ),
    ],
)
def test_an_answer_that_cannot_be_read_is_quoted_as_it_was_written(practical, head, row, written, tmp_path):
    (tmp_path / "class.csv").write_text(f"Student,{head}\nAda,{row}\n", encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", practical, ())
    (tmp_path / "results.json").write_text(text := results_text(tree), encoding="utf-8")
    Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).validate(json.loads(text))
    told = explained(tmp_path, "Ada").partition("Mean and result\n")[2].partition("\n\n")[0]
    said = re.findall(
        r"^  ((?:mean titre|result)[\w ]*?) [\d.]+(?: ± .*?)?(?: \S+)?; written (.*)$", told, re.MULTILINE
    )
    assert dict(said) == written
    tree["students"][0]["sheet"] = "feedback/Ada.pdf"
    shown = {row["what"]: row["own"] for row in manuscript_of(tree).sheets[0]["claims"]}
    assert {name.replace(",", "").lower(): own for name, own in shown.items()} == {
        name.lower(): own for name, own in written.items()
    }


def test_each_of_several_means_and_results_is_explained(tmp_path: Path) -> None:
    runs = ",".join(f"Run {n} initial,Run {n} phenolphthalein,Run {n} methyl orange" for n in (1, 2))
    head = f"Student,{runs},Mean titre phenolphthalein,Mean titre methyl orange,Result NaOH,Result Na2CO3"
    row = "Ada,0.00,23.75,27.50,0.10,23.85,27.60,23.75,3.75,3.20,0.0150 mol/dm3"
    (tmp_path / "class.csv").write_text(f"{head}\n{row}\n", encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", "hydroxide-and-carbonate", ())
    (tmp_path / "results.json").write_text(results_text(tree), encoding="utf-8")
    told = explained(tmp_path, "Ada").partition("Mean and result\n")[2].splitlines()[:6]
    assert [re.sub(r"(\.\d{2})\d+", r"\1", line.strip()) for line in told] == [
        "mean titre phenolphthalein 23.75 cm³; written 23.75",
        "mean titre methyl orange 3.75 cm³; written 3.75",
        "result NaOH 3.20 ± 0.03 g/dm³; written 3.20",
        "reference NaOH 3.2 g/dm³, 0.0 % from it",
        "result Na2CO3 1.59 ± 0.04 g/dm³; written 0.01 mol/dm³",
        "reference Na2CO3 1.59 g/dm³, 0.0 % from it",
    ]


def test_who_is_not_there_is_said_with_the_nearest_names(folder: Marked, after: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nobody here is called “Adaa”; the nearest: Ada"):
        explained(folder.folder, "Adaa")
    with pytest.raises(InputError, match="no class was marked"):
        explained(tmp_path, "Ada")


def test_a_folder_of_a_newer_labmark_is_left_alone(folder: Marked, after: dict[str, Any], tmp_path: Path) -> None:
    newer = {**after, "format": 2}
    (tmp_path / "results.json").write_text(json.dumps(newer, default=lambda value: float(Decimal(value))))
    with pytest.raises(InputError, match="a newer labmark wrote it"):
        explained(tmp_path, "Ada")


@pytest.mark.slow
def test_a_titre_that_follows_from_the_readings_as_they_were_written_stays_right(tmp_path: Path) -> None:
    folder = Marked(tmp_path / "marked")
    folder.mark()
    folder.write(("Runs", ADA | {"Run": 1}, "Final is", 25.2))
    one = next(one for one in folder.mark(CLASS)["students"] if one["student"] == "Ada")
    assert next(each["mark"] for each in one["marks"] if each["criterion"] == "titres") == 1
    assert not [each for each in one["findings"] if each["finding"] == "subtraction-slip"]
