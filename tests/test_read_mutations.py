"""Whatever is done to a class sheet, every filled cell is accounted for, nobody vanishes, and nothing crashes."""

from __future__ import annotations

import io
import random
import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell.cell import MergedCell
from openpyxl.comments import Comment
from openpyxl.styles import Font

from labmark.problems import InputError, Problem
from labmark.read import read_class
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.layouts import CLASS, VARIANTS
from tests.seeds import few_quick, times

SOME = (
    "plain workbook",
    "two header rows, merged",
    "long",
    "long, name once",
    "lab-book blocks",
    "students across",
    "title, class mean, notes, key",
    "German workbook",
    "units in the cells",
    "two classes",
)
ODD_VALUES = (
    "n/a",
    "-",
    "absent",
    "22..5",
    "2250",
    "22.5O",
    "~23",
    "24.40*",
    "24.40 (discard)",
    "22,50",
    "22.5 cm3",
    " 22\u202f50 ",
    "２２.５０",
    "−1.00",
    "as before",
    "✓",
    "✗",
    "=",
    "=1+1",
    "@x",
    "<b>",
    "#N/A",
    "#DIV/0!",
    "nan",
    "inf",
    "1e5",
    "1_0",
    "",
    "   ",
    "\u200b",
    "x" * 40_000,
    "12.20 - 24.40",
    "22 May",
    "2026-05-22",
    "1,234.5",
    "Rough",
    "Initial",
    "Student",
    "Mean",
    "Note: spilt",
    "S01",
    "_x0009_",
    "\u202e22.5",
)
ODD_NUMBERS = (0, -1, 22.5, 1e9, 1e300, 12.549999999999999, 46164, True, False, 10**20, 0.1 + 0.2)


def mutate(sheet: Any, chance: random.Random) -> None:
    """Do one thing to the sheet that a teacher, a student or a program might do."""
    row, column = chance.randint(1, sheet.max_row + 1), chance.randint(1, sheet.max_column + 1)
    cell = sheet.cell(row, column)
    action = chance.randrange(14)
    if isinstance(cell, MergedCell) and action not in (6, 7, 8, 9):
        return
    match action:
        case 0 | 1 | 2:
            cell.value = chance.choice(ODD_VALUES)[:32_767]
        case 3:
            cell.value = chance.choice(ODD_NUMBERS)
        case 4:
            cell.value = None
        case 5:
            cell.number_format = chance.choice(["0.0", "0.00", "dd/mm/yyyy", "hh:mm", "[h]:mm", "0%", "@", '0.00 "mL"'])
        case 6 if not sheet.merged_cells.ranges:
            sheet.insert_rows(row)
        case 7 if not sheet.merged_cells.ranges:
            sheet.insert_cols(column)
        case 8 if not sheet.merged_cells.ranges:
            sheet.delete_rows(row)
        case 9:
            sheet.row_dimensions[row].hidden = True
        case 10:
            cell.font = Font(strike=True)
        case 11:
            cell.comment = Comment("did you shake it?", "teacher")
        case 12:
            cell.value = chance.choice(["=1/0", "=B2", '=""', "=AVERAGE(A1:A9)"])
        case 13 if not sheet.merged_cells.ranges:
            sheet.merge_cells(
                start_row=row,
                start_column=column,
                end_row=row + chance.randint(0, 2),
                end_column=column + chance.randint(0, 2),
            )
        case _:
            pass


def filled(data: bytes) -> Counter[str]:
    """Count the filled cells of a workbook in an independent way: formulas and values, without stored results."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    return Counter(
        f"{sheet.title}!{cell.coordinate}"
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if not isinstance(cell, MergedCell) and cell.value is not None
    )


def bases(folder: Path) -> list[bytes]:
    found = []
    for number, name in enumerate(SOME):
        place = folder / str(number)
        place.mkdir()
        found.append(VARIANTS[name](place).read_bytes())
    return found


def read_or_refused(path: Path) -> ClassSheet | None:
    """Read a file; None where it is refused, which must name the file, what is wrong and what to do."""
    problems: tuple[Problem, ...] = ()
    sheet = None
    try:
        sheet = read_class(path)
    except InputError as error:
        problems = error.problems
    assert (sheet is None) == bool(problems)
    assert all(problem.what and problem.do and problem.file for problem in problems)
    return sheet


def outcome(path: Path) -> str:
    return "refused" if read_or_refused(path) is None else "read"


def check(data: bytes, path: Path) -> str:
    """Read a workbook: its ledger holds exactly the filled cells, or it is refused with an address and a remedy."""
    path.write_bytes(data)
    sheet = read_or_refused(path)
    if sheet is None:
        return "refused"
    ledger = sheet.ledger
    accounted = Counter([*ledger.used, *ledger.ignored, *ledger.rejected])
    assert accounted == filled(data)
    assert all(ledger.ignored.values())
    assert all(ledger.rejected.values())
    names = list(students_of(sheet)["student"])
    assert len(set(names)) == len(names)
    assert set(runs_of(sheet)["student"]) <= set(range(len(names)))
    cells = [address for row in runs_of(sheet)["cells"] for address in row.values()]
    assert set(cells) <= ledger.used | set(ledger.rejected)
    return "read"


def run_mutations(folder: Path, seeds: range) -> Counter[str]:
    originals = bases(folder)
    outcomes: Counter[str] = Counter()
    for seed in seeds:
        chance = random.Random(seed)
        book = openpyxl.load_workbook(io.BytesIO(chance.choice(originals)))
        for _ in range(chance.randint(1, 6)):
            mutate(chance.choice(book.worksheets), chance)
        out = io.BytesIO()
        book.save(out)
        outcomes[check(out.getvalue(), folder / "mutated.xlsx")] += 1
    return outcomes


@pytest.mark.slow
def test_every_cell_of_a_mutated_workbook_is_accounted_for(tmp_path: Path) -> None:
    outcomes = run_mutations(tmp_path, range(80))
    assert outcomes["read"] > 50


@pytest.mark.slow
@pytest.mark.parametrize("part", range(2))
def test_many_mutated_workbooks_leave_no_gap(tmp_path: Path, part: int) -> None:
    many = times(300)
    outcomes = run_mutations(tmp_path, range(1_000 + many * part, 1_000 + many * (part + 1)))
    assert outcomes["read"] > 0.6 * many


MUTATED = (
    "plain workbook",
    "two header rows, merged",
    "long",
    "long, name once",
    "lab-book blocks",
    "lab-book blocks side by side",
    "students across",
    "fields over runs",
    "a sheet a student",
    "two tables side by side",
    "units in the cells",
)


def is_reading(cell: Any) -> bool:
    return isinstance(cell.value, float) or cell.value == "y" or str(cell.value).endswith(" cm3")


@pytest.mark.parametrize("seeds", [range(3), pytest.param(range(3, times(8)), marks=pytest.mark.slow)])
@pytest.mark.parametrize("name", few_quick(MUTATED, 6))
def test_students_out_are_students_in_whatever_happens_to_their_readings(
    tmp_path: Path, name: str, seeds: range
) -> None:
    original = VARIANTS[name](tmp_path).read_bytes()
    refused = 0
    for seed in seeds:
        chance = random.Random(seed)
        book = openpyxl.load_workbook(io.BytesIO(original))
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if is_reading(cell)]
        for cell in chance.sample(cells, 8):
            cell.value = chance.choice([*ODD_VALUES, *ODD_NUMBERS])
        out = tmp_path / "class.xlsx"
        book.save(out)
        try:
            students = list(students_of(read_class(out))["student"])
        except InputError:
            refused += 1
            continue
        assert students == [student.name for student in CLASS]
    assert refused <= min(2, len(seeds) / 4)


SEEDS = [range(15), pytest.param(range(15, 60), marks=pytest.mark.slow)]
"""Of random damage: some in the quick tests, all in the slow ones."""


@pytest.mark.parametrize("seeds", SEEDS)
@pytest.mark.parametrize(
    "name", few_quick(["plain workbook", "plain .ods", "plain .csv", "German .csv, Windows-1252", "unicode text"], 2)
)
def test_damaged_bytes_are_read_or_refused_and_never_crash(tmp_path: Path, name: str, seeds: range) -> None:
    path = VARIANTS[name](tmp_path)
    original = path.read_bytes()
    for seed in seeds:
        chance = random.Random(seed)
        data = bytearray(original)
        for _ in range(chance.randint(1, 20)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        path.write_bytes(bytes(data[: chance.randint(1, len(data))] if chance.random() < 0.4 else data))
        assert outcome(path) in ("read", "refused")


@pytest.mark.parametrize("seeds", SEEDS)
@pytest.mark.parametrize("name", few_quick(["plain workbook", "plain .ods"], 2))
def test_damaged_parts_inside_the_archive_are_read_or_refused(tmp_path: Path, name: str, seeds: range) -> None:
    path = VARIANTS[name](tmp_path)
    with zipfile.ZipFile(path) as archive:
        parts = {part: archive.read(part) for part in archive.namelist()}
    for seed in seeds:
        chance = random.Random(seed)
        changed = dict(parts)
        victim = chance.choice(sorted(changed))
        data = bytearray(changed[victim])
        for _ in range(chance.randint(1, 10)):
            if data:
                data[chance.randrange(len(data))] = chance.choice(b'<>/"&= 0aZ\x00\xff')
        changed[victim] = bytes(data)
        if chance.random() < 0.2:
            del changed[victim]
        with zipfile.ZipFile(path, "w") as archive:
            for part, content in changed.items():
                archive.writestr(part, content)
        assert outcome(path) in ("read", "refused")
