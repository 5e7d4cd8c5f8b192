"""The schema of results.json: it accepts what labmark writes and catches a slip of the pen at every level we own."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from labmark.outputs.data import results_text
from tests.example_tree import example_tree
from tests.schema import FILE, generated

Tree = dict[str, Any]

SCHEMA = json.loads(FILE.read_text(encoding="utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)
OPEN = {"practical", "evidence", "statistics", "groups"}
"""Keys under which further names are free."""

OPTIONAL = {"advice", "grades", "not_marked", "pending"}
"""Keys that need not stand."""


def written() -> Tree:
    """Return the example as a program reads it from results.json."""
    tree: Tree = json.loads(results_text(example_tree()))
    return tree


def owned(value: Any) -> Iterator[Tree]:
    """Yield every object of a tree whose keys are ours alone."""
    if isinstance(value, list):
        for item in value:
            yield from owned(item)
    if isinstance(value, dict):
        yield value
        for key, item in value.items():
            if key not in OPEN and not (key == "cells" and "label" in value):
                yield from owned(item)


def test_the_schema_is_one_itself() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_the_schema_is_that_of_the_types() -> None:
    assert FILE.read_text(encoding="utf-8") == generated(), "python -m tests.schema"


def test_what_is_written_fits_the_schema() -> None:
    assert [error.message for error in VALIDATOR.iter_errors(written())] == []


def smallest() -> Tree:
    """Return the example with one student, who has a finding: every kind of record, and quick to check."""
    tree = written()
    tree["students"] = [one for one in tree["students"] if one["student"] == "S02"]
    return tree


def test_a_name_that_is_not_known_is_caught_wherever_it_stands() -> None:
    tree = smallest()
    for part in owned(tree):
        part["conclusion"] = None
        assert not VALIDATOR.is_valid(tree), part
        del part["conclusion"]
    assert VALIDATOR.is_valid(tree)


@pytest.mark.slow
def test_a_name_that_is_missing_is_caught_wherever_it_should_stand() -> None:
    tree = smallest()
    for part in owned(tree):
        for key in set(part) - OPTIONAL - ({"understood", "notes"} if "sha256" in part else set()):
            value = part.pop(key)
            assert not VALIDATOR.is_valid(tree), key
            part[key] = value
    assert VALIDATOR.is_valid(tree)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda tree: tree.update(format=2),
        lambda tree: tree["source"].update(sha256="not a hash"),
        lambda tree: tree["cells"].update(filled=-1),
        lambda tree: tree["students"][0].update(number=0),
        lambda tree: tree["students"][0].update(mean_titre="25.28"),
        lambda tree: tree["students"][0]["runs"][0].update(kind="practice"),
        lambda tree: tree["students"][0]["runs"][0].update(used=None),
        lambda tree: tree["students"][0]["findings"][0].update(finding="not-concordent"),
        lambda tree: tree["students"][0]["findings"][0].update(level="accusation"),
        lambda tree: tree["students"][0]["findings"][0].update(probability=1.2),
        lambda tree: tree["students"][0]["marks"][0].update(reason=""),
        lambda tree: tree["students"][0]["marks"][0].update(by="student"),
        lambda tree: tree["students"][0]["marks"][0].update(criterion=""),
        lambda tree: tree["students"][0]["groups"].update(Bench=1),
        lambda tree: tree["students"][0]["result"].update(standard_uncertainty=-0.1),
        lambda tree: tree["students"][0]["uncertainty"]["budget"][0].update(share=45),
        lambda tree: tree["class"].update(robust_sd=-0.1),
        lambda tree: tree["practical"]["result"].update(quantity=3),
    ],
)
def test_a_value_that_cannot_be_is_caught(spoil: Callable[[Tree], None]) -> None:
    tree = written()
    spoil(tree)
    assert not VALIDATOR.is_valid(tree)


def test_a_class_without_any_result_fits_too() -> None:
    tree = written()
    tree["students"] = [one for one in tree["students"] if one["absent"]]
    nothing = dict.fromkeys(("mean", "sd", "robust_mean", "robust_sd", "repeatability_sd", "reproducibility_sd"))
    tree["class"] |= nothing | {"sigma": None, "expected_titre": None, "mean_titre": None, "findings": [], "bands": []}
    tree["class"]["marks"] |= {"mean": None, "by_criterion": []}
    tree["reference"] = {"value": None, "standard_uncertainty": None, "unit": "mol/dm3", "from": "class"}
    assert [error.message for error in VALIDATOR.iter_errors(tree)] == []
