"""Whatever a practical asks for: it is refused with what to do, or whoever did it right keeps every mark."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labmark.outputs.data import results_text
from labmark.outputs.forms import texts_in
from labmark.outputs.sheets import manuscript_of
from labmark.pipeline import judged_tree
from labmark.practical import practical_from_toml
from labmark.problems import InputError
from tests.any_class import any_table, as_toml, right_class, write
from tests.seeds import times
from tests.test_schema import VALIDATOR

FEW, MANY = 4, 300
LEAKED = re.compile(r"\bnan\b|\bNone\b(?! of)|\{\}|\{\w|  ")
"""What a value that is missing, or a hole that was not filled, leaves in a text."""


def judged(seed: int, folder: Path) -> dict[str, Any] | None:
    """Return the tree of a random class; None where its practical is ill-posed, or nobody could do it right."""
    rng = random.Random(seed)
    table = any_table(rng)
    try:
        right = right_class(practical_from_toml(as_toml(table), "practical.toml"), rng)
    except InputError:  # of which every problem says what is wrong and what to do
        return None
    if right is None:
        return None
    toml = folder / f"{seed}.toml"
    toml.write_text(as_toml(table | {"reference": {"value": float(right.reference)}}), encoding="utf-8")
    return judged_tree(write(right.rows, folder / f"{seed}.csv"), str(toml), ())


def wrongs(tree: dict[str, Any]) -> Iterator[str]:
    """Yield what a class that did it right lost or was told, and what is no plain text on its sheets."""
    data = json.loads(results_text(tree))
    yield from (error.message for error in VALIDATOR.iter_errors(data))
    for student in data["students"]:
        yield from (each["reason"] for each in student["marks"] if each["mark"] != each["out_of"])
        yield from (each["message"] for each in student["findings"] if each["level"] != "note")
    yield from (each["message"] for each in data["class"]["findings"])
    said = manuscript_of(tree)
    told = texts_in([*said.sheets, said.group, data["class"], [each["findings"] for each in data["students"]]])
    yield from (text for text in told if LEAKED.search(text))


@pytest.mark.parametrize("seeds", [range(FEW), pytest.param(range(FEW, times(MANY)), marks=pytest.mark.slow)])
def test_whoever_does_any_practical_right_keeps_every_mark(seeds: range, tmp_path: Path) -> None:
    trees = {seed: tree for seed in seeds if (tree := judged(seed, tmp_path)) is not None}
    assert 4 * len(trees) >= len(seeds)
    assert [(seed, wrong) for seed, tree in trees.items() for wrong in wrongs(tree)] == []
