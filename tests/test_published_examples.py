"""Published worked titrations, from the text of a practical and a class sheet to the value in the results."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet

from labmark.outputs.data import results_text
from labmark.pipeline import judged_tree
from labmark.practical import practical_from_toml
from labmark.practical.quantities import QUANTITIES
from tests.published_examples import EXAMPLES, Example


def marked(example: Example, folder: Path) -> dict:
    """Return what results.json holds of a class of one, who did the example."""
    file, sheet = folder / "practical.toml", folder / "class.csv"
    file.write_text(f'title = "{example.title}"\n{example.practical}', encoding="utf-8")
    titres = example.titres * 2 if len(example.titres) == 1 else example.titres
    heads = [f"Run {run} {reading}" for run in range(1, len(titres) + 1) for reading in ("initial", "final")]
    readings = [reading for titre in titres for reading in ("0.00", titre)]
    with sheet.open("w", newline="", encoding="utf-8") as lines:
        table = [["Student", *dict(example.own), *heads], ["S01", *dict(example.own).values(), *readings]]
        csv.writer(lines).writerows(table)
    return json.loads(results_text(judged_tree(sheet, str(file), ())))


def apart(value: float, printed: str) -> Decimal:
    """Return how far a value lies from a printed one, in units of the last printed digit."""
    unit = Decimal(1).scaleb(int(Decimal(printed).as_tuple().exponent))
    return abs(Decimal(repr(value)) - Decimal(printed)) / unit


def quick_or_slow() -> Iterator[ParameterSet]:
    """Yield every example; the first of its quantity, and the first back titration, are quick tests."""
    seen = set()
    for each in EXAMPLES:
        kinds = {*re.findall('quantity = "(.*?)"', each.practical), *re.findall("excess", each.practical)}
        yield pytest.param(each, id=each.title, marks=() if kinds - seen else pytest.mark.slow)
        seen |= kinds


@pytest.mark.parametrize("example", [*quick_or_slow()])
def test_a_published_example_comes_out_as_printed_or_differs_for_the_reason_given(example, tmp_path):
    student = marked(example, tmp_path)["students"][0]
    value = student["result"]["value"]
    assert apart(value, example.by_hand or example.published) <= 1
    assert (apart(value, example.published) > 1) == bool(example.differs)


def test_every_quantity_has_a_published_example():
    shown = {practical_from_toml(f'title = ""\n{each.practical}').file.result.quantity for each in EXAMPLES}
    assert shown == set(QUANTITIES)


def test_enough_examples_were_read_in_their_source():
    assert sum("from memory" not in each.source for each in EXAMPLES) >= 35
