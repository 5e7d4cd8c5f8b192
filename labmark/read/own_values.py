"""A student's own mean and result, read a little further than a reading: they were worked out, not read off.

A label before the number, an uncertainty behind it and the other decimal mark are understood where they leave no
doubt, and noted for the teacher with the text as it stands.
"""

from __future__ import annotations

import re
from dataclasses import replace

from labmark.read.cells import Value, read_number
from labmark.read.grid import Cell
from labmark.read.words import cell_words, folded, plain

_LABEL = re.compile(r"(?:[^\W\d_][^=≈:±]{0,40})?\s*[=≈:]\s*(?P<rest>.*\d.*)")
"""c = 0.0988, x(H2O): 10.0, = 0.0988 mol/dm3."""
_GIVE_OR_TAKE = re.compile(r"\(?\s*(?P<head>[^±]*\S)\s*(?:±|\+\s?/?\s?-)\s*\d[\d.,]*(?:e[-+]?\d{1,2})?\s*(?P<tail>.*)")
"""0.0988 ± 0.0004 mol/dm3, (9.88 ± 0.04) × 10^-2."""
_SUBSTANCE = re.compile(r"(?P<head>.*?\S)\s+(?:of\s+)?(?:[A-Z][A-Za-z0-9().·]{0,30}|[^\W\d_]{3,30})")
"""0.101 mol/l NaOH, 3.95 g/dm3 of ammonia."""
_FIGURES = re.compile(r"[-+]?\d[\d.,]*")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
"""One thousand or more, perhaps: 1,234 with either mark."""


def read_own(cell: Cell, mark: str, *, claim: bool) -> Value:
    """Return what a cell says where the student's own mean or (`claim`) result is wanted.

    `mark` is the decimal mark of the file's texts. As `read_number`, and where that finds no number, a second look.
    """
    value = read_number(cell, mark, claim=claim)
    if value.state != "odd" or value.spoilt or cell.kind != "text":
        return value
    seen = plain(cell.text)
    text = _bare(seen)
    found = read_number(Cell(text), _own_mark(text, mark), claim=claim)
    named = _SUBSTANCE.fullmatch(text) if claim and found.state == "odd" else None
    if named and not _discards(text):
        beside = read_number(Cell(named["head"]), _own_mark(text, mark), claim=True)
        found = beside if beside.unit_text else found  # without a unit the word may be anything
    if found.state != "number":
        return value
    remark = "; ".join(filter(None, (f"written as {seen[:60]!r}", cell.remark)))
    return replace(found, remark=remark, discard=found.discard or cell.struck)


def _discards(text: str) -> bool:
    return bool(set(folded(text).split()) & set(cell_words("discard")))


def _bare(seen: str) -> str:
    """Return a text without a label before the number, and without an uncertainty behind it."""
    if label := _LABEL.fullmatch(seen):
        seen = label["rest"]
    spread = _GIVE_OR_TAKE.fullmatch(seen)
    if spread is None:
        return seen
    head, tail = spread["head"], spread["tail"].lstrip(") ")
    return f"{head} {tail}".strip() if _FIGURES.fullmatch(head) else head


def _own_mark(text: str, mark: str) -> str:
    """Return the decimal mark of a number: the file's, or the other one where it cannot part thousands."""
    other = "," if mark == "." else "."
    figures = _FIGURES.match(text)
    if figures is None or mark in figures[0] or figures[0].count(other) != 1:
        return mark
    return mark if _THOUSANDS.fullmatch(figures[0].lstrip("+-")) else other
