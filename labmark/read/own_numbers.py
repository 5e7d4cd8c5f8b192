"""Numbers of the students' own in the class sheet, held against those that the practical gives for everybody."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from labmark.practical.own import OwnNumber
from labmark.problems import InputError, Problem
from labmark.read.cells import Value
from labmark.read.grid import Book, Cell, Grid
from labmark.read.model import RawNumber, RawRun, RawStudent, Reading
from labmark.read.own_headings import bare_heading, without_unit
from labmark.read.own_values import read_own
from labmark.read.words import folded, plain, tokens
from labmark.read.written_units import MASSES, is_small, unit_of
from labmark.records import OwnInput
from labmark.units import shown_unit

_AS_GIVEN = "a number that the practical gives for all"
_LEAST_PIPETTE = 5
"""Smaller whole numbers [cm³] under a bare Pipette are what the pipettes are called."""
Terms = list[tuple[RawNumber, Value] | None]
"""The number, and what is taken from it where it was weighed by difference; None where there is none."""
Found = list[tuple[Book, Grid, RawNumber, Value]]


def owned(raw: RawStudent, run: RawRun | None, numbers: Sequence[OwnNumber]) -> Iterator[tuple[OwnNumber, Terms]]:
    """Yield each number that the practical takes from the class sheet, with what stands for it.

    `run` is the run that owns it, None for the student. What is taken from it (weighed by difference) may be the
    student's where the number itself is the run's.
    """
    for number in numbers:
        names = [without_unit(column)[0] for column in number.columns]
        terms = [
            [each for each in raw.numbers if each.header.group == name and each.run in (run, None)] for name in names
        ]
        if any(each.run is run for term in terms for each in term):
            nearest = [max(term, key=lambda each: each.run is run, default=None) for term in terms]
            yield number, [None if each is None else (each, number_of(each, raw.grid, number.unit)) for each in nearest]


def own_input(terms: Terms, cells: tuple[str, ...], odd: str) -> OwnInput:
    """Return what a number comes to; one weighed by difference needs both terms."""
    numbers = [None if term is None else term[1].number for term in terms]
    there = [number for number in numbers if number is not None]
    if len(there) < len(numbers):
        return OwnInput(None, None, cells, odd)
    digits = [term[1].decimals for term in terms if term is not None]
    known = [each for each in digits if each is not None]
    value = there[0] - sum(there[1:], Decimal(0))
    return OwnInput(value, max(known) if len(known) == len(digits) else None, cells, odd)


def number_of(number: RawNumber, grid: Grid, unit: str) -> Value:
    """Return what a cell says where a number of the student's own stands, in g, cm3 or mol/dm3 (`unit`)."""
    cell = grid.cells[number.place]
    if number.text and number.text != plain(cell.text):
        cell = Cell(number.text)
    # Nobody weighs 1,400 g: only where a small unit is asked for may a comma part thousands.
    mark = grid.mark if is_small(number.header.unit) else ""
    value = read_own(cell, mark, claim=unit != "cm3")
    if value.number is None:
        return value
    if unit == "cm3":
        scale = 1000 if value.unit or number.header.scale is None else number.header.scale
        return value if scale == 1000 else value.scaled(3 if scale > 1000 else -3)
    written = unit_of(value.unit_text or number.header.unit)
    if written is not None and (written in MASSES if unit == "g" else written.kind == unit):
        return value.scaled(written.power)
    return value


def check_given(readings: Iterable[tuple[Book, Grid, Reading]], numbers: Sequence[OwnNumber]) -> list[str]:
    """Return notes on the students' own numbers; raises InputError where they are not those of the practical.

    A number that the practical does not take from the class sheet would otherwise be passed over in silence, and
    everybody marked with another number than the one that was used at the bench.
    """
    notes: list[str] = []
    problems: list[Problem] = []
    by_words = {number.words: number for number in numbers if number.words and number.taken is None}
    found: dict[str, Found] = {}
    for book, grid, reading in readings:
        for student in reading.students:
            for raw in student.numbers:
                if raw.header.own in by_words and not raw.header.group:
                    reading.ignored[raw.place] = _AS_GIVEN
                    value = number_of(raw, grid, by_words[raw.header.own].unit)
                    if value.number is not None:
                        found.setdefault(raw.header.own, []).append((book, grid, raw, value))
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
    taken = f'{key} = {{ column = "{bare_heading(raw.header)}" }}'
    if given.words == "blank" and any(each.header.tags & {"initial", "final"} for _, _, each, _ in entries):
        taken = "runs = true"
    return grid.problem(
        f"the students have numbers of their own under {_headings(entries)} ({own.number:f} {shown_unit(given.unit)} "
        f"here), and the practical {says}",
        f"write {taken} under [{table}] of the practical to take them, or {ignore} under [columns] to pass them over",
        raw.place,
        book.file,
    )


def _shown(given: OwnNumber) -> str:
    return f"{given.value:f} {shown_unit(given.unit)}"


def _headings(entries: Found) -> str:
    texts = list(dict.fromkeys(raw.header.text for _, _, raw, _ in entries))
    return ", ".join(map(repr, texts[:4])) + (", ..." if len(texts) > 4 else "")
