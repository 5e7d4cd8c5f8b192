"""Of every practical that ships, whoever did it right in a way of their own keeps every mark and is told of no fault."""

from __future__ import annotations

import csv

import pytest

from labmark.pipeline import judged_tree
from labmark.practicals import shipped
from tests.odd_classes import BENCHES, FURTHEST_RUN, class_of
from tests.test_own_numbers import lost

SEVERAL = {"calcium-and-magnesium", "carbonate-and-hydrogencarbonate", "hydroxide-and-carbonate"}
"""Of several titres: `tests/several_classes.py` makes their students."""


def test_every_practical_of_one_titre_has_its_students():
    assert {*shipped()} - SEVERAL == {*BENCHES}


@pytest.mark.slow
@pytest.mark.parametrize("name", BENCHES)
def test_whoever_is_right_keeps_every_mark(name, tmp_path):
    with (tmp_path / "class.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(class_of(BENCHES[name]))
    tree = judged_tree(tmp_path / "class.csv", name, ())
    told = [
        (one["student"], each["run"], each["message"])
        for one in tree["students"]
        for each in one["findings"]
        # They all have about the same titres, as nobody's class has.
        if each["level"] != "note"
        and each["finding"] != "same-readings"
        and FURTHEST_RUN.get(one["student"], "") != each["run"]
    ]
    assert told == []
    assert [(one["student"], lost(one)) for one in tree["students"] if lost(one)] == []
    assert [each["message"] for each in tree["class"]["findings"]] == []
    assert tree["cells"]["rejected_cells"] == []
