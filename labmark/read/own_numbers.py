"""Numbers of the students' own in the class sheet, held against those that the practical gives for everybody."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from labmark.practical.own import OwnNumber
from labmark.problems import InputError, Problem
from labmark.read.cells import Value
from labmark.read.grid import Book, Cell, Grid
from labmark.read.headers import Header, Overrides, understand
from labmark.read.model import RawNumber, Reading
from labmark.read.own_values import read_own
from labmark.read.result_units import MASSES, header_unit, unit_of
from labmark.read.words import folded, plain, tokens
from labmark.units import shown_unit

_AS_GIVEN = "a number that the practical gives for all"
_LEAST_PIPETTE = 5
"""Smaller whole numbers [cm³] under a bare Pipette are what the pipettes are called."""
Found = list[tuple[Book, Grid, RawNumber, Value]]


def known_solution(books: Iterable[Book], numbers: Sequence[OwnNumber]) -> Overrides:
    """Return the headings that give the known solution's concentration by its formula, which would pass for a result.

    >>> known_solution([], ())
    {}
    """
    found: dict[str, Header] = {}
    for number in numbers:
        if number.formula:
            of, unknown = set(tokens(number.formula)), set(tokens(number.not_formula))
            for text in _texts(books):
                words, header = set(tokens(text)), understand(text)
                if of <= words and not unknown <= words and _is_concentration(header):
                    found[folded(text)] = replace(header, field="own", group=number.words)
    return found


def _is_concentration(header: Header) -> bool:
    unit = unit_of(header_unit(header.text))
    return header.field == "result" or (not header.field and unit is not None and unit.kind == "mol/dm3")


def _texts(books: Iterable[Book]) -> set[str]:
    cells = (cell for book in books for grid in book.grids for cell in grid.cells.values())
    return {cell.text for cell in cells if cell.kind == "text" and len(cell.text) < 200}


def number_of(number: RawNumber, grid: Grid, unit: str) -> Value:
    """Return what a cell says where a number of the student's own stands, in g, cm3 or mol/dm3 (`unit`)."""
    cell = grid.cells[number.place]
    if number.text and number.text != plain(cell.text):
        cell = Cell(number.text)
    value = read_own(cell, grid.mark, claim=unit != "cm3")
    if value.number is None:
        return value
    if unit == "cm3":
        scale = number.header.scale if not value.unit else None
        return value if scale is None else replace(value, number=value.number * scale / 1000)
    written = unit_of(value.unit_text or number.header.unit)
    if written is not None and (written in MASSES if unit == "g" else written.kind == unit):
        return replace(value, number=value.number.scaleb(written.power))
    return value


def check_given(readings: Iterable[tuple[Book, Grid, Reading]], numbers: Sequence[OwnNumber]) -> list[str]:
    """Return notes on the students' own numbers; raises InputError where they are not those of the practical.

    A number that the practical does not take from the class sheet would otherwise be passed over in silence, and
    everybody marked with another number than the one that was used at the bench.
    """
    notes: list[str] = []
    problems: list[Problem] = []
    by_words = {number.words: number for number in numbers}
    found: dict[str, Found] = {}
    for book, grid, reading in readings:
        for student in reading.students:
            for raw in student.numbers:
                if raw.header.group in by_words:
                    reading.ignored[raw.place] = _AS_GIVEN
                    value = number_of(raw, grid, by_words[raw.header.group].unit)
                    if value.number is not None:
                        found.setdefault(raw.header.group, []).append((book, grid, raw, value))
    for words, entries in found.items():
        given = by_words[words]
        other = [entry for entry in entries if entry[3].number != given.value]
        if given.value is None or _are_names(entries):
            notes.append(f"{_headings(entries)}: not used, as the practical has no such number")
        elif other:
            problems.append(_problem(given, given.value, entries, other[0]))
        else:
            notes.append(f"{_headings(entries)}: the same for everybody, and what the practical says ({_shown(given)})")
    if problems:
        raise InputError(problems)
    return notes


def _are_names(entries: Found) -> bool:
    """Return whether the numbers are what the pipettes are called."""
    bare = all(raw.header.scale is None and len(tokens(raw.header.text)) == 1 for _, _, raw, _ in entries)
    pipettes = all(folded(raw.header.text).startswith("pipet") for _, _, raw, _ in entries)
    small = (value.number for _, _, _, value in entries if value.number is not None and not value.number % 1)
    return bare and pipettes and any(number < _LEAST_PIPETTE for number in small)


def _problem(given: OwnNumber, value: Decimal, entries: Found, first: tuple[Book, Grid, RawNumber, Value]) -> Problem:
    book, grid, raw, own = first
    table, _, key = given.key.partition(".")
    texts = list(dict.fromkeys(each.header.text for _, _, each, _ in entries))
    ignore = ", ".join(f'"Ignore{"" if at == 1 else f" {at}"}" = "{text}"' for at, text in enumerate(texts, start=1))
    says = f"gives {_shown(given)} for all" if value else f"has no {given.words}"
    unit = f" {shown_unit(given.unit)}"
    return Problem(
        f"the students have numbers of their own under {_headings(entries)} ({own.number:f}{unit} here), "
        f"and the practical {says}",
        f'write {key} = {{ column = "{bare_heading(raw.header)}" }} under [{table}] of the practical to take them, '
        f"or {ignore} under [columns] to pass them over",
        book.file,
        "" if grid.text_table else grid.name,
        grid.address(raw.place).rpartition("!")[2].rpartition("]")[2],
    )


def _shown(given: OwnNumber) -> str:
    return f"{given.value:f} {shown_unit(given.unit)}"


def _headings(entries: Found) -> str:
    texts = list(dict.fromkeys(raw.header.text for _, _, raw, _ in entries))
    return ", ".join(map(repr, texts[:4])) + (", ..." if len(texts) > 4 else "")


_BEFORE_UNIT = re.compile(r"\s*(?:[/(\[,:]|\bin\b)\s*")
_RUN = re.compile(
    r"^(?:run|titration|trial|rough|versuch|durchgang|titrage|dosage|essai|valoración|ensayo)\s*\d*\s*[:,-]?\s+|\s+\d+$",
    re.IGNORECASE,
)


def bare_heading(header: Header) -> str:
    """Return a heading without its unit and without the run that it names, as a practical would name it.

    >>> bare_heading(Header(text="Run 1 mass / g"))
    'mass'
    """
    text = plain(header.text).rstrip("?.: ")
    for match in _BEFORE_UNIT.finditer(text):
        if unit_of(text[match.end() :].strip("()[] ")) is not None:
            text = text[: match.start()]
            break
    return _RUN.sub("", text).strip() or text
