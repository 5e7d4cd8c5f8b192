"""What `labmark check` says of a file: how it was understood, and what the teacher should know."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from pathlib import PurePath

from labmark.exact import PER_CM3, shown
from labmark.facts import Student
from labmark.problems import letters
from labmark.read.grid import Book
from labmark.read.model import RawStudent, Reading
from labmark.read.students import whole_students
from labmark.read.tables import Maker

MOST_POINT_NOTES = 20
BURETTES = tuple(size * PER_CM3 for size in (10, 25, 50, 100))
"""Usual sizes [µL]: common practice, no source."""


def understood(books: list[Book], readings: list[Reading], counts: dict[str, tuple[int, int]], runs: int) -> list[str]:
    """Return how the file was taken, a sentence each: encoding, layout, columns, decimal mark, numbers of students."""
    lines = list(dict.fromkeys(line for book in books for line in book.understood))
    for reading in readings:
        lines.extend(line for line in reading.understood if line not in lines)
    students = list(whole_students(readings))
    lines.append(f"{len(students)} {'student' if len(students) == 1 else 'students'}, {runs} runs")
    points, commas = (sum(count[index] for count in counts.values()) for index in (0, 1))
    if points or commas:
        mark = "point" if not commas else "comma" if not points else "point or comma"
        lines.append(f"numbers written as text have a decimal {mark}")
    return lines


def file_notes(
    books: list[Book], readings: list[Reading], maker: Maker, counts: dict[str, tuple[int, int]]
) -> list[str]:
    """Return what the teacher should know of the file as a whole."""
    several = len(books) > 1
    told = ((_name(book) if several else "", note) for book in books for note in book.notes)
    notes = list(dict.fromkeys(f"{name}: {note}" if name else note for name, note in told))
    for reading in readings:
        notes.extend(_sheet_notes(reading, _name(reading.book) if several else ""))
    for file, (points, commas) in counts.items():
        if points and commas:
            of_points = f"{points} {'number has' if points == 1 else 'numbers have'}"
            note = f"{of_points} a decimal point and {commas} a decimal comma; each was read by its own"
            notes.append(f"{PurePath(file).name}: {note}" if several else note)
    notes.extend(_digit_notes(readings, maker, several))
    return notes


def _name(book: Book) -> str:
    return PurePath(book.file).name


def _digit_notes(readings: list[Reading], maker: Maker, several: bool) -> list[str]:
    notes = []
    without = [_name(reading.book) for reading in readings if reading.grid.keeps_zeros is False]
    if without:
        where = ", ".join(without[:5]) + (", ...: " if len(without) > 5 else ": ") if several else ""
        notes.append(
            f"{where}the file keeps no trailing zeros: how many decimals were written cannot be known, "
            "and costs no mark"
        )
    if maker.hidden_digits:
        notes.append(
            "some readings are in cells whose number format shows as many decimals as there are (General): "
            "how many were written cannot be known, and no mark depends on it"
        )
    return notes


def _sheet_notes(reading: Reading, file: str) -> list[str]:
    grid = reading.grid
    parts = [part for part in (file, "" if grid.text_table else f"sheet {grid.name}") if part]
    where = f"{', '.join(parts)}: " if parts else ""
    if reading.left_out:
        return [f"{where}{reading.left_out}"]
    if not reading.students:
        if grid.text_table:
            return [f"{file or grid.name} holds no table of titrations and was passed over"]
        return [f"{where}no table of titrations found; the sheet was not used"]
    notes = [f"{where}{note}" for note in reading.notes]
    rows = sorted({row for row, _ in grid.cells} & grid.hidden_rows)
    columns = sorted({column for _, column in grid.cells} & grid.hidden_columns)
    if rows:
        notes.append(where + _hidden("row", _ranges(rows), len(rows)))
    if columns:
        notes.append(where + _hidden("column", ", ".join(map(letters, columns)), len(columns)))
    return notes + [note for note, students in _comments(reading) if not students]


def _hidden(what: str, which: str, number: int) -> str:
    if number == 1:
        return f"{what} {which} is hidden in the file; it was read like the others"
    return f"{what}s {which} are hidden in the file; they were read like the others"


def _ranges(numbers: Iterable[int]) -> str:
    """Return numbers with neighbours drawn together: 14-16, 20."""
    parts: list[list[int]] = []
    for number in numbers:
        if parts and number == parts[-1][-1] + 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    return ", ".join(str(part[0]) if len(part) == 1 else f"{part[0]}-{part[-1]}" for part in parts)


def give_comments(reading: Reading) -> None:
    """Keep the comments on a student's cells, or in a student's row, as notes for the teacher."""
    for note, students in _comments(reading):
        for student in students:
            student.notes.append(note)


def _comments(reading: Reading) -> Iterator[tuple[str, list[RawStudent]]]:
    """Yield the comments of a sheet, each with the students whose cell it is on, or whose row."""
    held = [(student, student.places()) for student in reading.students if reading.grid.comments]
    for place, text in sorted(reading.grid.comments.items()):
        theirs = [student for student, places in held if place in places or place[0] in student.lines]
        yield f"comment in {reading.grid.address(place)}: {text[:300]}", theirs


def burette_read(students: Iterable[Student], capacity: int) -> int:
    """Return the size of the burette [µL]: the next one that would do where most students read beyond its capacity."""
    read = [[each for run in one.runs for each in (run.initial, run.final) if each] for one in students]
    furthest = [max(each) for each in read if each and max(each) <= BURETTES[-1]]
    beyond = [each for each in furthest if each > capacity]
    larger = (size for size in BURETTES if beyond and size >= max(beyond))
    return next(larger, capacity) if 1 < len(furthest) < 2 * len(beyond) else capacity


def capacity_notes(students: Sequence[Student], capacity: int | None) -> list[str]:
    """Return a note on readings beyond the burette's capacity [µL], where most students have some, and one for each
    whole number there that has the digits of a reading.
    """
    if not capacity:
        return []
    notes: list[str] = []
    if (size := burette_read(students, capacity)) > capacity:
        given, taken = f"{capacity // PER_CM3}", f"{size // PER_CM3}"
        notes.append(
            f"most students read beyond the {given} cm³ of the burette, and one of {taken} cm³ was taken: look at "
            "burette.capacity in the practical"
        )
    runs = [run for one in students for run in one.runs]
    for key, run in product(("initial", "final"), runs):
        volume = getattr(run, key)
        # Of two digits it may as well be a reading of a larger burette.
        if volume is not None and max(capacity, 99 * PER_CM3) < volume <= 100 * capacity and volume % PER_CM3 == 0:
            cell, number, likely = run.cells[key], volume // PER_CM3, shown(volume // 100, 2)
            notes.append(f"{cell}: {number} is beyond the burette; a decimal point may be lost (likely {likely})")
    return notes[:MOST_POINT_NOTES]
