"""One cell of the teacher's: what it decides, or why it cannot be read."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labmark.decisions.read import is_blank, value_of
from labmark.problems import Unusable
from labmark.read.grid import Cell

THREE = Decimal(3)
BURETTE = Decimal(50)


@pytest.mark.parametrize(
    ("what", "cell", "most", "value"),
    [
        ("mark", Cell(2, "number"), THREE, Decimal(2)),
        ("mark", Cell("2,5"), THREE, Decimal("2.5")),
        ("use", Cell("Nein"), None, False),
        ("use", Cell("x"), None, True),
        ("aside", Cell("no"), None, None),
        ("excused", Cell("✓"), None, True),
        ("comment", Cell(" two_x000D_\n lines "), None, "two\nlines"),
        ("initial", Cell(0.1, "number"), BURETTE, Decimal("0.10")),
        ("final", Cell("25.125"), BURETTE, Decimal("25.125")),
        ("input", Cell(0, "number"), None, Decimal(0)),
    ],
)
def test_a_cell_is_read_as_what_it_decides(what: str, cell: Cell, most: Decimal | None, value: Any) -> None:
    read = value_of(what, cell, most)
    assert (read, str(read)) == (value, str(value))


@pytest.mark.parametrize(
    ("what", "cell", "most", "why"),
    [
        ("mark", Cell(4, "number"), THREE, "4 is out of range: marks are 0 to 3"),
        ("mark", Cell("two"), THREE, "“two” is not a number"),
        ("mark", Cell("2", "date"), THREE, "was made a date"),
        ("comment", Cell("#REF!", "error"), None, "holds an error"),
        ("use", Cell("perhaps"), None, "“perhaps” is neither yes nor no"),
        ("final", Cell("50.05"), BURETTE, "readings are 0.00 to 50 cm³"),
        ("final", Cell("25.1234"), BURETTE, "more decimals than a burette shows"),
        ("reference", Cell(0, "number"), None, "0 cannot be"),
        ("reference", Cell("9" * 60), None, f"“{'9' * 39}…” is not a number"),
    ],
)
def test_a_cell_that_cannot_be_read_says_why(what: str, cell: Cell, most: Decimal | None, why: str) -> None:
    with pytest.raises(Unusable, match="^.*" + why.replace("…", ".")) as refused:
        value_of(what, cell, most)
    assert "clear the cell" in refused.value.do


def test_a_formula_that_was_never_calculated_is_something() -> None:
    assert is_blank(Cell("  "))
    assert not is_blank(Cell("", "uncalculated"))
