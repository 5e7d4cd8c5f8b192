"""What decisions were made on, held against the class sheet and the students of today."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from labmark import __version__
from labmark.decisions.applied import bound, digest, is_unchanged, renamed
from labmark.decisions.before import corrected, read_in, reference_of, standing, with_references
from labmark.decisions.model import Decision, as_tree, from_tree
from labmark.decisions.read import Found
from labmark.problems import InputError
from labmark.records import ClassSheet
from tests.build import run
from tests.classes import sheet_of
from tests.practicals import EGGSHELLS, practical

RUNS = [run("1", "0.00 24.35"), run("2", "0.50 24.80")]
FINAL = Decision("Ada", "final", "1", Decimal("24.45"), Decimal("24.35"), known_as="7")
USE = Decision("Ada", "use", "2", False, True, on="0.5 to 24.8", known_as="7")
REFERENCE = Decision(None, "reference", None, Decimal("0.0980"), Decimal("0.0974"))


def sheet(*people: tuple[str, str]) -> ClassSheet:
    """Return a class of these students, name and ID, who all read the same."""
    return sheet_of(*(({"student": name, "about": {"ID": known} if known else {}}, RUNS) for name, known in people))


ADA = sheet(("Ada", "7"))


def memory(*people: tuple[str, str], **more: Any) -> dict[str, Any]:
    """Return what a folder remembers of a class of these students."""
    runs = [
        {"label": "1", "initial": Decimal("0.00"), "final": Decimal("24.35"), "claimed_titre": None},
        {"label": "2", "initial": Decimal("0.50"), "final": Decimal("24.80"), "claimed_titre": None},
    ]
    equation = practical().file.equation
    return {
        "made_by": "labmark",
        "practical": {"title": "Strength of a drain cleaner", "equation": equation},
        "source": {"file": "class.csv", "sha256": "0" * 64},
        "students": [
            {"student": name, "about": {"ID": known} if known else {}, "runs": runs} for name, known in people
        ],
        **more,
    }


def today(then: tuple[str, str], *now: tuple[str, str], decision: Decision = FINAL) -> Decision:
    """Return a decision on a student, name and ID, in a class of these today."""
    made = replace(decision, student=then[0], known_as=then[1])
    return bound(Found((made,), memory(then, *now)), sheet(*now), practical())[0]


def test_a_decision_is_the_same_after_it_was_written_and_read() -> None:
    assert from_tree(as_tree(USE)) == USE


@pytest.mark.parametrize(
    ("decision", "stale"),
    [
        (FINAL, False),
        (replace(FINAL, was=Decimal("24.40")), True),
        (replace(FINAL, of="3"), True),
        (USE, False),
        (replace(USE, on="0 to 24.8"), True),
        (REFERENCE, False),
        (replace(REFERENCE, was=Decimal("0.1")), True),
    ],
)
def test_a_decision_stands_while_the_sheet_says_what_it_was_made_on(decision: Decision, stale: bool) -> None:
    assert standing(decision, ADA, practical()).stale == stale


def test_the_label_of_a_run_may_be_written_in_capitals() -> None:
    two = sheet_of(({}, [run("a", "0.00 24.35")]))
    assert read_in(two.students[0], "A") == "0 to 24.35"
    assert read_in(two.students[0], "B") == ""


def test_a_corrected_reading_is_no_longer_odd_and_the_titre_as_written_is_kept() -> None:
    odd = sheet_of(({"student": "Ada"}, [run("1", "0.00 24.35", odd={"final": "24.4o"}, spoilt=("final",))]))
    (again,) = corrected(odd, [FINAL], "marks.xlsx").students[0].runs
    assert (again.final, again.odd, again.spoilt, again.as_written) == (24_450, {}, (), 24_350)


def test_a_run_without_a_titre_cannot_be_taken_into_the_mean() -> None:
    empty = sheet_of(({"student": "Ada"}, [run("2", "0.50 -")]))
    with pytest.raises(InputError, match="run 2 of Ada has no titre to take into the mean"):
        corrected(empty, [replace(USE, value=True)], "marks.xlsx")


def test_a_decided_reference_takes_the_place_of_that_of_the_practical() -> None:
    assert reference_of(with_references(practical(), [REFERENCE]), None) == Decimal("0.0980")
    stale = replace(REFERENCE, stale=True)
    assert reference_of(with_references(practical(), [stale]), None) == Decimal("0.0974")


def test_a_decided_reference_that_no_sample_has_is_refused_at_its_cell() -> None:
    eggshells, decided = practical(EGGSHELLS), replace(REFERENCE, value=Decimal(322), cell="Class!F7")
    with pytest.raises(InputError) as refused:
        with_references(eggshells, [decided], "marks.xlsx")
    said = "marks.xlsx, cell Class!F7: found 322, but no sample holds more than 100 % of CaCO3; "
    assert [str(each) for each in refused.value.problems] == [f"{said}correct it, or clear the cell"]


def test_a_folder_remembers_whether_anything_has_changed_since() -> None:
    given = {"file": "class.csv", "sha256": ADA.sha256, "practical_sha256": digest(practical())}
    before = memory(("Ada", "7"), source=given, made_by=f"labmark {__version__}")
    assert is_unchanged(Found(memory=before), ADA, practical())
    assert not is_unchanged(Found(memory={**before, "made_by": "labmark 0.0.1"}), ADA, practical())
    assert not is_unchanged(Found(memory=before), replace(ADA, sha256="1" * 64), practical())
    assert not is_unchanged(Found(), ADA, practical())


@pytest.mark.parametrize(
    ("then", "now", "name", "stale"),
    [
        (("Ada", "7"), [("Ada", "7")], "Ada", False),
        (("Ada", "7"), [("Ada Byron", "7")], "Ada Byron", False),  # a name of today
        (("Ada", "7"), [("Ada", "8")], "Ada", False),  # the ID was corrected: the readings are the same
        (("Ada", ""), [("Ada", ""), ("Bo", "")], "Ada", False),
        (("Ada", "7"), [("Bo", "8"), ("Cy", "9")], "Ada", True),
    ],
)
def test_a_student_is_found_again_by_name_and_id(
    then: tuple[str, str], now: list[tuple[str, str]], name: str, stale: bool
) -> None:
    found = today(then, *now)
    assert (found.student, found.stale) == (name, stale)


def test_a_folder_of_another_class_or_another_practical_is_refused() -> None:
    with pytest.raises(InputError, match="of another class"):
        bound(Found((FINAL,), memory(("Ada", "7"))), sheet(("Bo", "8")), practical())
    vinegar = {"title": "Vinegar", "equation": "NaOH + CH3COOH -> CH3COONa + H2O"}
    with pytest.raises(InputError, match="of another practical"):
        bound(Found((FINAL,), memory(("Ada", "7"), practical=vinegar)), ADA, practical())


def test_who_has_a_new_name_is_found_by_the_id_that_only_they_have() -> None:
    found = Found(memory=memory(("Ada", "7"), ("Bo", "8"), ("Bob", "8")))
    assert renamed(found, memory(("Ada Byron", "7"), ("Bo", "8"))) == {"Ada": "Ada Byron"}
