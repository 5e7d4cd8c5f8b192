"""A titrant that gets stronger from run to run: said where the titres show it, and not where they don't."""

from __future__ import annotations

import pytest

from tests.classes import scattered, titres, tree_of


def claim(*values):
    """The claim about a student with these titres in a class at 24.35 cm³ (the practical's own expected titre)."""
    tree = tree_of([titres(*values), *scattered(15, 24.35, 0.03)])
    (found,) = (each for each in tree["students"][0]["findings"] if each["finding"] == "diluted-titrant")
    return found


def test_titres_that_come_down_are_said_to():
    found = claim("25.90", "25.85", "25.75")
    assert found["evidence"]["falls"] is True
    assert ", and the titres come down from run to run, as while water is washed out." in found["message"]


def test_the_first_titre_is_held_against_the_expected_one_where_the_water_is_washed_out():
    found = claim("25.90", "25.10", "24.70")
    above = found["evidence"]["above_expected"], found["evidence"]["last_above_expected"]
    assert above == pytest.approx((1.55, 0.35), abs=0.03)
    assert ": 25.90 cm³ is 1.55 cm³ above the expected 24.35 cm³, and the titres come down from" in found["message"]


@pytest.mark.slow
@pytest.mark.parametrize("values", [("26.20", "26.25", "26.20"), ("26.30", "26.25", "26.25")])
def test_titres_that_agree_are_not(values):
    found = claim(*values)
    assert found["evidence"]["falls"] is False
    assert "come down" not in found["message"]
