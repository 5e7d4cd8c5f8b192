"""Sample classes as the files that a spreadsheet program opens: the same class gives the same bytes."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from decimal import Decimal
from random import Random
from typing import Any

from tests.samples.bench import SEED, Cell, Student
from tests.samples.plan import ClassPlan, practical_file

INVENTED = "Every person, place and figure in this file is invented."


def headings(plan: ClassPlan, students: list[Student]) -> list[str]:
    """Return the headings of a class sheet, as many runs wide as the busiest student needs."""
    widest = max(len(student.runs) for student in students)
    labels = ["Rough", *(f"Run {number}" for number in range(1, widest))]
    columns = ["Student", "Bench", "Bottle"]
    for label in labels:
        columns += [f"{label} initial", f"{label} final"]
        columns += [f"{label} titre"] if plan.with_titres else []
        columns += [f"{label} used"] if label != "Rough" else []
    return columns + ["Mean titre", "Result"] + (["Remarks"] if plan.remarks else [])


def row_of(plan: ClassPlan, student: Student, number: int) -> dict[str, Cell]:
    """Return the filled cells of a student's row by heading."""
    # A blank behind a name is no other name.
    name = student.name + " " * (number % 9 == 0)
    row: dict[str, Cell] = {"Student": name, "Bench": student.bench, "Bottle": student.bottle}
    row["Remarks"] = student.remark
    # One absent student is marked as such, the others are only a name.
    if student.absent and number == plan.absent[-1]:
        row["Rough initial"] = "absent"
    for run in student.runs:
        title = "Rough" if run.label == "Rough" else f"Run {run.label}"
        for part, reading in (("initial", run.initial), ("final", run.final)):
            row[f"{title} {part}"] = run.written.get(part, _reading(reading))
        row[f"{title} titre"] = _reading(run.claimed)
        row[f"{title} used"] = plan.ticks[0] if run.ticked else plan.ticks[1]
    row["Mean titre"], row["Result"] = student.mean, student.result
    return {key: value for key, value in row.items() if value not in (None, "")}


def _reading(hundredths: int | None) -> Decimal | None:
    return None if hundredths is None else Decimal(hundredths).scaleb(-2)


def table(plan: ClassPlan, students: list[Student]) -> list[list[Cell]]:
    """Return the class sheet as rows of cells, headings first."""
    columns = headings(plan, students)
    rows = [row_of(plan, student, number) for number, student in enumerate(students, start=1)]
    if plan.blank_after:
        rows.insert(plan.blank_after, {})
    below: list[dict[str, Cell]] = [dict(plan.below)] if plan.below else []
    filler: list[dict[str, Cell]] = [{}] if below else []
    heads: list[Cell] = [*columns]
    return [heads, *([row.get(column) for column in columns] for row in (*rows, *filler, *below))]


def csv_bytes(plan: ClassPlan, rows: list[list[Cell]]) -> bytes:
    """Return a class as comma-separated text, as a spreadsheet program saves it."""
    text = io.StringIO()
    accented = not all(name.isascii() for name in plan.names)
    csv.writer(text, lineterminator="\r\n" if accented else "\n").writerows(rows)
    return text.getvalue().encode("utf-8-sig" if accented else "utf-8")


def workbook_bytes(plan: ClassPlan, rows: list[list[Cell]]) -> bytes:
    """Return a class as a workbook: About, Results, and the practical where it has its own."""
    from openpyxl import Workbook

    book = Workbook()
    book.properties.title, book.properties.creator = f"{plan.about} {INVENTED}", "invented"
    about = book.active
    about.title = "About"
    for line in (plan.about, INVENTED, "The class is on the sheet Results."):
        about.append([line])
    about.column_dimensions["A"].width = 90
    _fill_results(book.create_sheet("Results"), plan, rows)
    if plan.own_practical is not None:
        _fill_practical(book.create_sheet("Practical"), plan)
    if plan.preparation:
        notes = book.create_sheet("Preparation")
        for row in plan.preparation:
            notes.append(row)
    buffer = io.BytesIO()
    book.save(buffer)
    return fixed_zip(buffer.getvalue())


def _fill_results(sheet: Any, plan: ClassPlan, rows: list[list[Cell]]) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    as_text = Random(f"{SEED} {plan.file} text")
    for at, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            if value is None:
                continue
            cell = sheet.cell(at, column)
            heading = str(rows[0][column - 1])
            _put(cell, value, plan, heading, as_text)
            if at == 1:
                cell.font, cell.alignment = Font(name="Calibri", bold=True), Alignment(wrap_text=True, vertical="top")
                sheet.column_dimensions[get_column_letter(column)].width = 9
    sheet.freeze_panes = "B2"
    sheet.row_dimensions[1].height = 32
    sheet.column_dimensions["A"].width = 16


def _put(cell: Any, value: Decimal | str, plan: ClassPlan, heading: str, as_text: Random) -> None:
    if isinstance(value, str):
        number = int(value) if heading == "Bench" and value.isdecimal() else value
        cell.value, cell.number_format = number, "General" if number != value else "@"
    elif heading == "Result":
        cell.value = float(value)
        cell.number_format = "General" if plan.own_result_number else _decimals(value)
    elif heading.endswith(("initial", "final")) and as_text.random() < 0.03:
        cell.value, cell.number_format = f"{value:.2f}", "@"
    else:
        cell.value, cell.number_format = float(value), plan.number_format


def _decimals(value: Decimal) -> str:
    places = -int(value.as_tuple().exponent)
    return "0." + "0" * places if places > 0 else "0"


def _fill_practical(sheet: Any, plan: ClassPlan) -> None:
    practical = practical_file(plan.practical)
    for key, value in (plan.own_practical or {}).items():
        practical[key] = value
    sheet.append(["key", "value"])
    for key, value in dotted(practical):
        sheet.append([key, float(value) if isinstance(value, Decimal) else value])
        if isinstance(value, Decimal):
            sheet.cell(sheet.max_row, 2).number_format = _decimals(value)
    sheet.column_dimensions["A"].width = 32
    sheet.column_dimensions["B"].width = 80


def dotted(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Yield the leaves of a practical as dotted keys: lists of words repeat the key, tables in a list are numbered."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from dotted(inner, f"{key}.{name}" if key else name)
    elif isinstance(value, list) and key.endswith("bands"):
        yield key, ", ".join(f"{band['within']}: {band['mark']}" for band in value)
    elif isinstance(value, list):
        for number, inner in enumerate(value, start=1):
            yield from dotted(inner, f"{key}.{number}" if isinstance(inner, dict) else key)
    else:
        yield key, value


def fixed_zip(data: bytes) -> bytes:
    """Return a workbook without the hour it was made: the same content gives the same bytes."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(buffer, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename == "docProps/core.xml":
                content = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2000-01-01T00:00:00Z", content)
            plain = zipfile.ZipInfo(entry.filename, (1980, 1, 1, 0, 0, 0))
            plain.compress_type, plain.external_attr, plain.create_system = zipfile.ZIP_DEFLATED, 0o600 << 16, 3
            new.writestr(plain, content, compresslevel=6)
    return buffer.getvalue()
