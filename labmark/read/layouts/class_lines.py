"""Lines of class figures (mean, spread) told from students who are called Mean, Max or Average, Joe.

Words decide only where nobody's readings stand. Where they do, the figures of a class are those of its columns.
"""

from __future__ import annotations

import re
from decimal import Decimal
from statistics import mean, median, pstdev, stdev

from labmark.read.headers import understand
from labmark.read.layouts.find import run_named
from labmark.read.layouts.view import Table
from labmark.read.words import folded, plain

_ALSO_NAMES = frozenset({"max", "min", "sum", "media"})
"""Words for class figures that are also names of people."""
_FIELDS = ("initial", "final", "both", "titre", "value", "mean", "result")
_CAPITALISED = re.compile(r"[^\W\d_][\w'’-]*")


def is_statistic(table: Table, line: int, name: str) -> bool:
    """Return whether a line holds figures of the whole class."""
    text = name or _first_text(table, line)
    if folded(text) == "n" and all(cell.text.isdigit() for cell in list(table.view.lines[line].values())[1:]):
        return True
    if not _says_statistic(text) or (not name and table.of("run") and "statistic" not in understand(text).tags):
        return False
    if is_name_like(text):
        return folded(text) in _ALSO_NAMES and len(_lines_of_figures(table, line)) > 1 and _sums_up(table, line)
    return not _has_readings(table, line) or _sums_up(table, line)


def _first_text(table: Table, line: int) -> str:
    first = next(iter(table.view.lines[line].values()))
    return first.text if first.kind == "text" else ""


def _says_statistic(text: str) -> bool:
    if not text or len(text) > 100:
        return False
    meaning = understand(text)
    sums_up = bool(meaning.tags & {"mean", "statistic"}) or plain(text) == "n"
    return sums_up and meaning.field not in ("initial", "final")


def _has_readings(table: Table, line: int) -> bool:
    """Return whether a run's readings stand in a line: both of them, or one of a run that the line names."""
    filled = {column.header.field for column in table.filled(line, *_FIELDS[:5])}
    runs = [run_named(table.view.get(line, column.at)) for column in table.of("run")]
    return {"initial", "final"} <= filled or "both" in filled or (bool(filled) and any(run is not None for run in runs))


def is_name_like(text: str) -> bool:
    """Return whether a text with a word of statistics in it names somebody: Mean Sok, not Mean of the class."""
    meaning, words = understand(text), plain(text).replace(",", " ").split()
    if folded(text) in _ALSO_NAMES:
        return True
    capitals = all(_CAPITALISED.fullmatch(word) and word[0].isupper() for word in words)
    return capitals and len(words) <= 3 and meaning.unknown > 0 and meaning.tags <= {"mean", "statistic"}


def _sums_up(table: Table, line: int) -> bool:
    """Return whether the numbers of a line are the means, or all spreads or the like, of those in their columns.

    A column of one and the same number, as of burettes filled to the mark, tells nothing beside others.
    """
    figures = _lines_of_figures(table, line)
    others = [record for record in table.records if record not in figures]
    told: list[tuple[bool, ...]] = []
    alike: list[tuple[bool, ...]] = []
    for column in table.of(*_FIELDS):
        number = table.number(line, column)
        values = [value for other in others if (value := table.number(other, column)) is not None]
        if number is not None and values:
            (told if {*values} - {number} else alike).append(_figures(number, values))
    told = told or alike
    return bool(told) and 3 * max(map(sum, zip(*told, strict=True))) > 2 * len(told)


def _lines_of_figures(table: Table, line: int) -> set[int]:
    """Return a line and those next to it with nothing but a word of statistics for a name."""
    place, found = table.records.index(line), {line}
    for step in (-1, 1):
        at = place + step
        while 0 <= at < len(table.records) and _only_statistic(_first_text(table, table.records[at])):
            found.add(table.records[at])
            at += step
    return found


def _only_statistic(text: str) -> bool:
    return _says_statistic(text) and understand(text).unknown == 0


def _figures(number: Decimal, values: list[Decimal]) -> tuple[bool, ...]:
    """Return of each figure of a class whether a number is that of these values, to its own decimals."""
    half = Decimal("0.51").scaleb(-max(-int(number.as_tuple().exponent), 1))
    spreads = (stdev(values), pstdev(values)) if len(values) > 1 else (None, None)
    least, most = min(values), max(values)
    figures = (mean(values), median(values), most, least, sum(values), *spreads, most - least, len(values))
    return tuple(each is not None and abs(number - each) <= half for each in figures)
