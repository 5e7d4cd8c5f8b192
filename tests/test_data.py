"""The JSON text holds the tree: same values, same digits, same bytes."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.outputs.data import WIDTH, results_text
from tests.example_tree import example_tree

LEAVES = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.decimals(allow_nan=False, allow_infinity=False)
    | st.text()
)
TREES = st.recursive(LEAVES, lambda part: st.lists(part) | st.dictionaries(st.text(), part), max_leaves=30)


def read_back(text: str) -> Any:
    """Return JSON text as a tree whose numbers with a point are decimals: all digits can be compared."""
    return json.loads(text, parse_float=Decimal, parse_constant=pytest.fail)


@pytest.mark.parametrize("written", ["24.90", "0.00", "25", "25.0", "-0.05", "24.225", "0.0000001", "-0.00"])
def test_a_decimal_keeps_the_digits_that_were_written(written: str) -> None:
    assert results_text({"v": Decimal(written)}) == f'{{"v": {written}}}\n'


@pytest.mark.parametrize("value", [Decimal("1E+400"), Decimal("-2.50E-400"), Decimal("0E+400")])
def test_a_decimal_of_absurd_size_is_written_short(value: Decimal) -> None:
    text = results_text([value])
    assert len(text) < 20
    assert [str(number) for number in read_back(text)] == [str(value)]


def test_what_looks_like_a_number_in_a_students_text_stays_text() -> None:
    names = ["24.90", "24.90e", '"24.90"', "\ue000 24.90", "NaN", "null", "</script>", "\u2028", "=1+1"]
    assert json.loads(results_text(names)) == names


def test_half_a_surrogate_pair_does_not_spoil_the_file() -> None:
    text = results_text({"student": "Ω \ud800"})
    assert json.loads(text.encode().decode()) == {"student": "Ω \ud800"}


@pytest.mark.slow
@given(TREES)
def test_what_is_written_reads_back_the_same(tree: Any) -> None:
    text = results_text({"tree": tree})
    assert flat(read_back(text)["tree"]) == flat(tree)


def flat(value: Any) -> Any:
    """Return a tree with its numbers as exact fractions or their text, so that 1.0 from a float equals 1.0 read."""
    if isinstance(value, dict):
        return {key: flat(item) for key, item in value.items()}
    if isinstance(value, list):
        return [flat(item) for item in value]
    if isinstance(value, float):
        return Decimal(repr(value))
    return value


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_reads_back_as_the_same_float(value: float) -> None:
    assert json.loads(results_text([value])) == [value]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), Decimal("NaN"), np.float64("nan")])
def test_what_is_no_number_is_refused(value: Any) -> None:
    with pytest.raises(ValueError, match=r"is not a number that JSON can hold$"):
        results_text({"students": [{"z": 0.5}, {"z": value}]})


@pytest.mark.parametrize("value", [{1, 2}, b"bytes", 1j, object(), np.array([1.0, 2.0])])
def test_what_json_has_no_form_for_is_refused(value: Any) -> None:
    with pytest.raises(TypeError, match=r"has no form in JSON$"):
        results_text({"class": {"h": value}})


def test_a_name_that_is_no_text_is_refused() -> None:
    with pytest.raises(TypeError, match=r"^the name of a member must be text, not 3$"):
        results_text({"bands": {3: 1.0}})


def test_scalars_of_numpy_are_plain_numbers() -> None:
    values = [np.int64(3), np.float64(0.1), np.float32(0.5), np.bool_(True), np.str_("a"), np.array(2.0)]
    assert results_text(values) == '[3, 0.1, 0.5, true, "a", 2.0]\n'


def test_nothing_is_an_empty_list_or_object() -> None:
    assert results_text({"runs": [], "evidence": {}}) == '{"runs": [], "evidence": {}}\n'


def test_a_short_record_takes_one_line_and_a_long_one_several() -> None:
    run = {"label": "1", "initial": Decimal("0.00"), "final": Decimal("24.40")}
    assert results_text({"students": [{"student": "S01", "runs": [run] * 3, "notes": []}]}) == (
        '{\n'
        '  "students": [\n'
        '    {\n'
        '      "student": "S01",\n'
        '      "runs": [\n'
        '        {"label": "1", "initial": 0.00, "final": 24.40},\n'
        '        {"label": "1", "initial": 0.00, "final": 24.40},\n'
        '        {"label": "1", "initial": 0.00, "final": 24.40}\n'
        '      ],\n'
        '      "notes": []\n'
        '    }\n'
        '  ]\n'
        '}\n'
    )  # fmt: skip


def test_a_list_or_object_longer_than_the_width_takes_several_lines() -> None:
    for line in results_text(example_tree()).splitlines():
        opening = min((place for place in map(line.find, "{[") if place >= 0), default=len(line))
        held = line[opening:].rstrip(",")
        if held.endswith(("}", "]")):
            assert len(held) <= WIDTH


def test_the_example_tree_reads_back_whole_and_in_order() -> None:
    tree = example_tree()
    text = results_text(tree)
    assert text == results_text(example_tree())
    assert flat(read_back(text)) == flat(tree)
    assert list(json.loads(text)) == list(tree)
    assert list(json.loads(text)["students"][0]) == list(tree["students"][0])
