"""A maker of one invented class in many layouts and dialects: the tables read from each must be the same.

A variant is a function that writes the class into a folder and returns the path to read. Nobody in it is real.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.styles import Font

Rows = list[list[str]]
Writer = Callable[[Path], Path]


@dataclass(frozen=True)
class Run:
    label: str
    initial: str
    final: str
    used: str = ""

    @property
    def titre(self) -> str:
        return str(Decimal(self.final) - Decimal(self.initial))


@dataclass(frozen=True)
class Student:
    name: str
    bench: str
    runs: tuple[Run, ...]
    mean: str
    result: str


def _student(number: int, bench: str, rough: str, *accurate: tuple[str, str, str], mean: str, result: str) -> Student:
    runs = (Run("Rough", "0.00", rough), *(Run(str(at), *run) for at, run in enumerate(accurate, start=1)))
    return Student(f"S{number:02}", bench, runs, mean, result)


CLASS = (
    _student(
        1,
        "1",
        "24.90",
        ("0.10", "24.45", "y"),
        ("0.00", "24.40", "y"),
        ("1.05", "25.40", ""),
        mean="24.38",
        result="0.0975",
    ),
    _student(
        2,
        "1",
        "25.20",
        ("0.00", "24.30", ""),
        ("24.30", "48.75", "y"),
        ("0.20", "24.65", "y"),
        mean="24.45",
        result="0.0978",
    ),
    _student(
        3,
        "2",
        "24.60",
        ("0.05", "24.30", "y"),
        ("0.00", "24.20", "y"),
        ("0.00", "24.25", "y"),
        mean="24.23",
        result="0.0969",
    ),
    _student(
        4,
        "2",
        "25.00",
        ("0.00", "24.40", "y"),
        ("0.30", "24.75", "y"),
        ("0.00", "25.10", ""),
        mean="24.43",
        result="0.0977",
    ),
    _student(
        5,
        "3",
        "24.80",
        ("2.00", "26.30", "y"),
        ("0.00", "24.35", "y"),
        ("0.40", "24.70", "y"),
        mean="24.32",
        result="0.0973",
    ),
    _student(
        6,
        "3",
        "26.10",
        ("0.00", "24.50", "y"),
        ("0.15", "24.60", "y"),
        ("0.00", "24.10", ""),
        mean="24.48",
        result="0.0979",
    ),
)
RUNS = ("Rough", "1", "2", "3")

English = {
    "student": "Student",
    "bench": "Bench",
    "initial": "initial",
    "final": "final",
    "titre": "titre",
    "used": "used",
    "mean": "Mean titre",
    "result": "Result",
    "rough": "Rough",
    "run": "Run {}",
}
WORDS = {
    "english": English,
    "start": {
        **English,
        "initial": "start vol / mL",
        "final": "end vol / mL",
        "titre": "volume used / mL",
        "run": "Accurate {}",
        "used": "used in mean?",
        "mean": "Average titre (mL)",
        "result": "Concentration of NaOH / mol dm-3",
    },
    "long": {
        **English,
        "initial": "initial burette reading / cm³",
        "final": "final burette reading / cm³",
        "titre": "titre / cm³",
        "student": "Name of student",
        "run": "Titration {}",
        "rough": "Range-finder",
    },
    "trial": {**English, "rough": "Trial", "run": "Titration no. {}", "student": "Candidate", "result": "Final answer"},
    "roman": {**English, "run": "Run #{}", "rough": "Preliminary", "student": "Pupil"},
    "german": {
        "student": "Schüler/in",
        "bench": "Platz",
        "initial": "Anfangsstand / mL",
        "final": "Endstand / mL",
        "titre": "Verbrauch / mL",
        "used": "verwendet",
        "mean": "Mittelwert / mL",
        "result": "Konzentration",
        "rough": "Grobtitration",
        "run": "Titration {}",
    },
    "french": {
        "student": "Élève",
        "bench": "Paillasse",
        "initial": "lecture initiale (mL)",
        "final": "lecture finale (mL)",
        "titre": "volume versé (mL)",
        "used": "retenu",
        "mean": "Volume moyen (mL)",
        "result": "Résultat",
        "rough": "Dosage rapide",
        "run": "Dosage {}",
    },
    "spanish": {
        "student": "Alumno",
        "bench": "Puesto",
        "initial": "lectura inicial (mL)",
        "final": "lectura final (mL)",
        "titre": "volumen gastado (mL)",
        "used": "usado",
        "mean": "Volumen medio (mL)",
        "result": "Resultado",
        "rough": "Valoración aproximada",
        "run": "Valoración {}",
    },
}


def run_word(words: dict[str, str], label: str) -> str:
    return words["rough"] if label == "Rough" else words["run"].format(label)


def cell_of(run: Run, key: str) -> str:
    return {"initial": run.initial, "final": run.final, "titre": run.titre, "used": run.used}[key]


def run_keys(label: str) -> tuple[str, ...]:
    return ("initial", "final", "titre") if label == "Rough" else ("initial", "final", "titre", "used")


# -- grids ------------------------------------------------------------------------------------------------------------


def wide(words: dict[str, str] = English, students: Sequence[Student] = CLASS) -> Rows:
    header = [words["student"], words["bench"]]
    for label in RUNS:
        header += [f"{run_word(words, label)} {words[key]}" for key in run_keys(label)]
    rows = [[*header, words["mean"], words["result"]]]
    for student in students:
        row = [student.name, student.bench]
        for run in student.runs:
            row += [cell_of(run, key) for key in run_keys(run.label)]
        rows.append([*row, student.mean, student.result])
    return rows


def two_rows(words: dict[str, str] = English) -> Rows:
    """Runs over fields, in two header rows."""
    upper, lower = [words["student"], words["bench"]], ["", ""]
    for label in RUNS:
        keys = run_keys(label)
        upper += [run_word(words, label), *[""] * (len(keys) - 1)]
        lower += [words[key] for key in keys]
    return [[*upper, words["mean"], words["result"]], [*lower, "", ""], *wide(words)[1:]]


def units_row(rows: Rows, header_rows: int) -> Rows:
    """The grid with a row of units under its header."""
    last = rows[header_rows - 1]
    units = ["cm3" if any(word in text.casefold() for word in ("initial", "final", "titre")) else "" for text in last]
    return [*rows[:header_rows], units, *rows[header_rows:]]


def fields_over_runs() -> Rows:
    upper, lower = ["Student", "Bench"], ["", ""]
    for key in ("initial", "final", "titre", "used"):
        labels = [label for label in RUNS if key in run_keys(label)]
        upper += [key.title(), *[""] * (len(labels) - 1)]
        lower += ["Rough" if label == "Rough" else f"Run {label}" for label in labels]
    rows = [[*upper, "Mean titre", "Result"], [*lower, "", ""]]
    for student in CLASS:
        row = [student.name, student.bench]
        for key in ("initial", "final", "titre", "used"):
            row += [cell_of(run, key) for run in student.runs if key in run_keys(run.label)]
        rows.append([*row, student.mean, student.result])
    return rows


def long(words: dict[str, str] = English, *, repeat: bool = True, students: Sequence[Student] = CLASS) -> Rows:
    rows = [
        [
            words["student"],
            words["bench"],
            words["run"].format("").strip(" .#"),
            words["initial"],
            words["final"],
            words["titre"],
            words["used"],
            words["mean"],
            words["result"],
        ]
    ]
    for student in students:
        for at, run in enumerate(student.runs):
            first = at == 0
            name = [student.name, student.bench] if first or repeat else ["", ""]
            label = words["rough"] if run.label == "Rough" else run.label
            claims = [student.mean, student.result] if first or repeat else ["", ""]
            rows.append([*name, label, run.initial, run.final, run.titre, run.used, *claims])
    return rows


def block(
    student: Student,
    order: Sequence[str] = ("final", "initial", "titre", "used"),
    words: dict[str, str] = English,
    *,
    name: str = "label",
) -> Rows:
    """The results table of a lab book."""
    corner = student.name if name == "corner" else ""
    rows = [[words["student"], student.name]] if name == "label" else []
    rows += [[words["bench"], student.bench]]
    rows += (
        [[corner, *("Rough" if label == "Rough" else label for label in RUNS)]]
        if words is English
        else [[corner, *(run_word(words, label) for label in RUNS)]]
    )
    for key in order:
        rows.append([words[key].capitalize(), *(cell_of(run, key) for run in student.runs)])
    return [*rows, [words["mean"], student.mean], [words["result"], student.result]]


def runs_over_readings() -> Rows:
    """Students across, each run alone over the labels of its readings."""
    rows: Rows = []
    for run, label, *cells in turned(two_rows()):
        rows += [[run]] if run and label else []
        rows.append([label or run, *cells])
    return rows


def under_one_row() -> Rows:
    """Blocks that share the row that names the runs, each under a bare name."""
    parts = [(student.name, block(student, name="")) for student in CLASS]
    return [["Titration", *RUNS], *stacked([[name], rows[0], *rows[2:]] for name, rows in parts)]


def stacked(parts: Iterable[Rows], gap: int = 1) -> Rows:
    rows: Rows = []
    for part in parts:
        rows += [*part, *[[] for _ in range(gap)]]
    return rows


def beside(parts: Sequence[Rows], gap: int = 1) -> Rows:
    height = max(map(len, parts))
    rows: Rows = [[] for _ in range(height)]
    for part in parts:
        width = max(map(len, part)) + gap
        for at, row in enumerate(rows):
            own = part[at] if at < len(part) else []
            row.extend([*own, *[""] * (width - len(own))])
    return rows


def turned(rows: Rows) -> Rows:
    width = max(map(len, rows))
    full = [[*row, *[""] * (width - len(row))] for row in rows]
    return [list(column) for column in zip(*full, strict=True)]


def upright_blocks() -> Rows:
    parts = []
    for student in CLASS:
        rows = [
            [f"Student: {student.name}", "", f"Bench: {student.bench}"],
            ["Run", "Initial", "Final", "Titre", "Used", "Mean titre", "Result"],
        ]
        for at, run in enumerate(student.runs):
            rows.append(
                [
                    run.label,
                    run.initial,
                    run.final,
                    run.titre,
                    run.used,
                    *([student.mean, student.result] if at == 0 else []),
                ]
            )
        parts.append(rows)
    return stacked(parts)


def form() -> Rows:
    words = {"Rough": "rough", "1": "first accurate", "2": "second accurate", "3": "third accurate"}
    header = ["Timestamp", "Email address", "What is your full name?", "Bench number"]
    for label in RUNS:
        header += [
            f"What was the initial burette reading of your {words[label]} titration, in cm³?",
            f"What was the final burette reading of your {words[label]} titration, in cm³?",
            f"What is the titre of your {words[label]} titration, in cm³?",
        ]
        header += [] if label == "Rough" else [f"Did you use your {words[label]} titration in the mean?"]
    rows = [
        [*header, "Your mean titre (cm³)", "Your result, the concentration of the sodium hydroxide", "Anything else?"]
    ]
    for student, row in zip(CLASS, wide()[1:], strict=True):
        rows.append([f"2026-03-0{student.bench} 10:15:00", f"{student.name.lower()}@school.example", *row, ""])
    return rows


def both_in_a_cell() -> Rows:
    header = ["Student", "Bench"]
    for label in RUNS:
        header += ["Rough readings"] if label == "Rough" else [f"Run {label} readings", f"Run {label} used"]
    rows = [[*header, "Mean titre", "Result"]]
    for student in CLASS:
        row = [student.name, student.bench]
        for run in student.runs:
            row += [f"{run.initial} - {run.final}"] + ([] if run.label == "Rough" else [run.used])
        rows.append([*row, student.mean, student.result])
    return rows


def titres_only() -> Rows:
    return [["Student", "Bench", "Rough", "1", "2", "3", "Average", "Result"]] + [
        [student.name, student.bench, *(run.titre for run in student.runs), student.mean, student.result]
        for student in CLASS
    ]


def with_uncertainty() -> Rows:
    rows = wide()
    found: Rows = []
    for at, row in enumerate(rows):
        new: list[str] = []
        for header, text in zip(rows[0], row, strict=True):
            new.append(text)
            if header.endswith(("initial", "final")):
                new.append("±" if at == 0 else "0.05")
        found.append(new)
    return found


def each(rows: Rows, change: Callable[[str, str], str], header_rows: int = 1) -> Rows:
    """The grid with each cell under the header changed by (header, text)."""
    header = rows[header_rows - 1]
    return [
        *rows[:header_rows],
        *([change(header[at], text) for at, text in enumerate(row)] for row in rows[header_rows:]),
    ]


def with_unit(header: str, text: str) -> str:
    return f"{text} cm3" if text and header.casefold().endswith(("initial", "final", "titre")) else text


def in_litres(rows: Rows) -> Rows:
    changed = each(
        rows,
        lambda header, text: (
            f"{Decimal(text).scaleb(-3):f}" if text and header.endswith(("initial", "final", "titre")) else text
        ),
    )
    changed[0] = [f"{header} / dm³" if header.endswith(("initial", "final", "titre")) else header for header in rows[0]]
    return changed


def unnumbered() -> Rows:
    rows = wide()
    header = [re.sub(r"^Run \d ", "", text) for text in rows[0]]
    return [header, *rows[1:]]


def v_symbols() -> Rows:
    rows = long()
    header = [
        "V1" if text == "initial" else "V2" if text == "final" else "V2 − V1" if text == "titre" else text
        for text in rows[0]
    ]
    return [header, *rows[1:]]


def titled(rows: Rows) -> Rows:
    width = max(map(len, rows))
    mean = ["Class mean", *[""] * (width - 3), "24.38", "0.0975"]
    return [
        ["Titration of sodium hydroxide, class 11B"],
        ["Burettes of class B, spring term"],
        [],
        *rows,
        [],
        mean,
        ["Note: the sulfuric acid was 0.0500 mol/dm³"],
        ["Key: green = concordant, red = discard"],
    ]


def spaced(rows: Rows) -> Rows:
    """Blank rows and columns between."""
    rows = [[*row[:2], "", *row[2:-2], "", *row[-2:]] for row in rows]
    return [[], [], *[["", *row] for row in rows[:3]], [], *[["", *row] for row in rows[3:]]]


def footnoted(rows: Rows) -> Rows:
    noted = [[*row, "", ""] for row in rows]
    noted[2][-1], noted[4][-1] = "† repeated after break", "* flask rinsed"
    return noted


def shuffled(rows: Rows) -> Rows:
    order = sorted(range(len(rows[0])), key=lambda at: (at * 7) % len(rows[0]))
    return [[row[at] for at in order] for row in rows]


def with_more_columns(rows: Rows) -> Rows:
    return [
        [
            row[0],
            ("Candidate number", *(str(1000 + at) for at in range(len(rows))))[index],
            *row[1:],
            ("% error", *("0.4" for _ in rows))[index],
            ("Mark", *("7" for _ in rows))[index],
            ("Date", *("2026-03-02" for _ in rows))[index],
        ]
        for index, row in enumerate(rows)
    ]


# -- files ------------------------------------------------------------------------------------------------------------


def put(sheet: Any, rows: Rows, *, text: bool = False, comma: bool = False) -> None:
    """Write a grid into a sheet: numbers with the number format that shows the digits written."""
    for row, texts in enumerate(rows, start=1):
        for column, content in enumerate(texts, start=1):
            if content == "":
                continue
            cell = sheet.cell(row, column)
            if re.fullmatch(r"\d+(\.\d+)?", content) and len(content) < 20 and not text:
                cell.value = float(content) if "." in content else int(content)
                cell.number_format = "0." + "0" * len(content.partition(".")[2]) if "." in content else "General"
            else:
                cell.value = content.replace(".", ",") if comma and re.fullmatch(r"\d+\.\d+", content) else content


def xlsx(
    rows: Rows | dict[str, Rows], *, name: str = "class.xlsx", finish: Callable[[Any], None] | None = None, **how: bool
) -> Writer:
    def write(folder: Path) -> Path:
        book = openpyxl.Workbook()
        book.remove(book.active)
        for title, grid in (rows if isinstance(rows, dict) else {"Results": rows}).items():
            put(book.create_sheet(title), grid, **how)
        if finish:
            finish(book)
        book.save(folder / name)
        return folder / name

    return write


def table(
    rows: Rows,
    *,
    delimiter: str = ",",
    encoding: str = "utf-8",
    comma: bool = False,
    name: str = "class.csv",
    first: str = "",
) -> Writer:
    def write(folder: Path) -> Path:
        (folder / name).write_bytes((first + as_text(rows, delimiter, comma)).encode(encoding))
        return folder / name

    return write


def as_text(rows: Rows, delimiter: str, comma: bool) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    for row in rows:
        writer.writerow([text.replace(".", ",") if comma and re.fullmatch(r"\d+\.\d+", text) else text for text in row])
    return out.getvalue()


def ods(rows: Rows) -> Writer:
    """Written with odfpy, a library of its own: the reader does without it."""

    def write(folder: Path) -> Path:
        from odf import number, opendocument, style
        from odf import table as tables
        from odf import text as texts

        document = opendocument.OpenDocumentSpreadsheet()
        for decimals in (2, 4):
            shown = number.NumberStyle(name=f"N{decimals}")
            shown.addElement(number.Number(decimalplaces=decimals, minintegerdigits=1))
            document.automaticstyles.addElement(shown)
            document.automaticstyles.addElement(
                style.Style(name=f"ce{decimals}", family="table-cell", datastylename=f"N{decimals}")
            )
        sheet = tables.Table(name="Results")
        for row in rows:
            line = tables.TableRow()
            for content in row:
                if re.fullmatch(r"\d+(\.\d+)?", content):
                    places = len(content.partition(".")[2])
                    how = {"stylename": f"ce{places}"} if places else {}
                    cell = tables.TableCell(valuetype="float", value=str(float(content)), **how)
                else:
                    cell = tables.TableCell(valuetype="string") if content else tables.TableCell()
                if content:
                    cell.addElement(texts.P(text=content))
                line.addElement(cell)
            sheet.addElement(line)
        document.spreadsheet.addElement(sheet)
        document.save(str(folder / "class.ods"))
        return folder / "class.ods"

    return write


def by_library(rows: Rows, engine: str) -> Writer:
    """Written by pandas, through another library than the reader's."""

    def write(folder: Path) -> Path:
        import pandas as pd

        frame = pd.DataFrame(rows[1:], columns=rows[0])
        frame.to_excel(folder / "class.xlsx", index=False, engine=engine, sheet_name="Results")
        return folder / "class.xlsx"

    return write


def files(make: Callable[[Student], Rows], ending: str) -> Writer:
    def write(folder: Path) -> Path:
        for student in CLASS:
            one = (
                xlsx(make(student), name=f"{student.name}{ending}")
                if ending == ".xlsx"
                else table(make(student), name=f"{student.name}{ending}")
            )
            one(folder)
        return folder

    return write


def merge_two_rows(book: Any) -> None:
    sheet = book["Results"]
    column = 3
    for label in RUNS:
        wide_by = len(run_keys(label))
        sheet.merge_cells(start_row=1, start_column=column, end_row=1, end_column=column + wide_by - 1)
        column += wide_by
    for at in (1, 2, column, column + 1):
        sheet.merge_cells(start_row=1, start_column=at, end_row=2, end_column=at)


def merge_names(book: Any) -> None:
    sheet = book["Results"]
    for at in range(len(CLASS)):
        for column in (1, 2):
            sheet.merge_cells(start_row=2 + 4 * at, start_column=column, end_row=5 + 4 * at, end_column=column)


def hide(book: Any) -> None:
    sheet = book["Results"]
    sheet.row_dimensions[4].hidden = True
    sheet.column_dimensions["D"].hidden = True


def embolden(book: Any) -> None:
    for cell in book["Results"][1]:
        cell.font = Font(bold=True)
    book["Results"].freeze_panes = "B2"
    book["Results"].auto_filter.ref = book["Results"].dimensions


HALVES = (CLASS[:3], CLASS[3:])

VARIANTS: dict[str, Writer] = {
    "plain workbook": xlsx(wide(), finish=embolden),
    "plain workbook, numbers as text": xlsx(wide(), text=True),
    "plain workbook, decimal commas as text": xlsx(wide(), text=True, comma=True),
    "plain .xlsm": xlsx(wide(), name="class.xlsm"),
    "plain .csv": table(wide()),
    "plain .csv with byte-order mark": table(wide(), encoding="utf-8-sig"),
    "plain .csv, bars": table(wide(), delimiter="|"),
    "plain .csv, sep= line": table(wide(), delimiter=";", first="sep=;\r\n"),
    "plain .tsv": table(wide(), delimiter="\t", name="class.tsv"),
    "unicode text": table(wide(), delimiter="\t", encoding="utf-16", name="class.txt"),
    "UTF-16 without mark": table(wide(), delimiter=";", encoding="utf-16-le"),
    "German .csv, Windows-1252": table(wide(WORDS["german"]), delimiter=";", comma=True, encoding="cp1252"),
    "French .csv": table(wide(WORDS["french"]), delimiter=";", comma=True, encoding="utf-8-sig"),
    "Spanish .csv": table(wide(WORDS["spanish"]), delimiter=";", comma=True),
    "quoted decimal commas between commas": table(wide(), comma=True),
    "plain .ods": ods(wide()),
    "lab-book blocks .ods": ods(stacked(block(student) for student in CLASS)),
    "German workbook": xlsx(wide(WORDS["german"])),
    "French workbook": xlsx(wide(WORDS["french"])),
    "Spanish workbook": xlsx(wide(WORDS["spanish"])),
    "start and end volumes": xlsx(wide(WORDS["start"])),
    "long wordings": xlsx(wide(WORDS["long"])),
    "trial and titration no.": xlsx(wide(WORDS["trial"])),
    "preliminary and run #": xlsx(wide(WORDS["roman"])),
    "headers in capitals": xlsx([[text.upper() for text in wide()[0]], *wide()[1:]]),
    "headers in any order": xlsx(shuffled(wide())),
    "runs without numbers": xlsx(unnumbered()),
    "two header rows, merged": xlsx(two_rows(), finish=merge_two_rows),
    "two header rows, not merged": xlsx(two_rows()),
    "two header rows, German": xlsx(two_rows(WORDS["german"]), finish=merge_two_rows),
    "two header rows and units": xlsx(units_row(two_rows(), 2), finish=merge_two_rows),
    "header and units": xlsx(units_row(wide(), 1)),
    "fields over runs": xlsx(fields_over_runs()),
    "units in the cells": xlsx(each(wide(), with_unit)),
    "litres": table(in_litres(wide())),
    "uncertainty columns": xlsx(with_uncertainty()),
    "title, class mean, notes, key": xlsx(titled(wide())),
    "title and two header rows": xlsx(titled(two_rows())),
    "blank rows and columns": xlsx(spaced(wide())),
    "footnotes beside": xlsx(footnoted(wide())),
    "further columns": xlsx(with_more_columns(wide())),
    "hidden row and column": xlsx(wide(), finish=hide),
    "long": xlsx(long()),
    "long, name once": xlsx(long(repeat=False)),
    "long, name merged": xlsx(long(repeat=False), finish=merge_names),
    "long .csv": table(long()),
    "long, German": xlsx(long(WORDS["german"])),
    "long, V1 and V2": xlsx(v_symbols()),
    "lab-book blocks": xlsx(stacked(block(student) for student in CLASS)),
    "lab-book blocks, initial first": xlsx(
        stacked(block(student, ("initial", "final", "titre", "used")) for student in CLASS)
    ),
    "lab-book blocks, close together": xlsx(stacked((block(student) for student in CLASS), gap=0)),
    "lab-book blocks, name in the corner": xlsx(stacked(block(student, name="corner") for student in CLASS)),
    "lab-book blocks under one row of runs": xlsx(under_one_row()),
    "lab-book blocks, German": xlsx(stacked(block(student, words=WORDS["german"]) for student in CLASS)),
    "lab-book blocks side by side": xlsx(beside([block(student) for student in CLASS])),
    "lab-book blocks two by two": xlsx(
        stacked(beside([block(a), block(b)]) for a, b in zip(CLASS[::2], CLASS[1::2], strict=True))
    ),
    "a sheet a student": xlsx({student.name: block(student, name="") for student in CLASS}),
    "a .csv a student": files(lambda student: block(student, name=""), ".csv"),
    "a workbook a student": files(block, ".xlsx"),
    "a row-wise table a student": xlsx(upright_blocks()),
    "students across": xlsx(turned(wide())),
    "students across, long labels": xlsx(turned(wide(WORDS["long"]))),
    "students across, runs over their readings": xlsx(runs_over_readings()),
    "students across, a column of units": xlsx(turned([[*row] for row in units_row(wide(), 1)])),
    "students across, two label columns": xlsx(turned(two_rows())),
    "two tables side by side": xlsx(beside([wide(students=half) for half in HALVES], gap=2)),
    "two tables under each other": xlsx(stacked([wide(students=half) for half in HALVES])),
    "two classes": xlsx({"11A": wide(students=HALVES[0]), "11B": wide(students=HALVES[1])}),
    "online form": table(form()),
    "online form as workbook": xlsx(form(), text=True),
    "pandas and openpyxl": by_library(wide(), "openpyxl"),
    "pandas and XlsxWriter": by_library(wide(), "xlsxwriter"),
}
"""Full variants: every fact of the class is in them."""

LESSER: dict[str, tuple[Writer, frozenset[str]]] = {
    "both readings in a cell": (xlsx(both_in_a_cell()), frozenset({"titre", "titre_decimals"})),
    "titres only": (
        xlsx(titres_only()),
        frozenset({"initial", "final", "initial_decimals", "final_decimals", "ticked"}),
    ),
    "titres only .csv": (
        table(titres_only()),
        frozenset({"initial", "final", "initial_decimals", "final_decimals", "ticked"}),
    ),
    "titres only, students across": (
        xlsx(turned(titres_only())),
        frozenset({"initial", "final", "initial_decimals", "final_decimals", "ticked"}),
    ),
}
"""Variants that leave columns of the runs table empty."""


def squared(rows: Rows) -> Rows:
    """The grid with lines of one length."""
    return turned(turned(rows))


TURNED: dict[str, Rows] = {
    "header and units": units_row(wide(), 1),
    "two header rows": two_rows(),
    "two header rows, German": two_rows(WORDS["german"]),
    "two header rows and units": units_row(two_rows(), 2),
    "fields over runs": fields_over_runs(),
    "runs over readings": runs_over_readings(),
    "runs without numbers": unnumbered(),
    "headers in any order": shuffled(wide()),
    "long": long(),
    "long, name once": long(repeat=False),
    "long, German": long(WORDS["german"]),
    "long, V1 and V2": v_symbols(),
    "title, class mean, notes, key": titled(wide()),
    "blank rows and columns": spaced(wide()),
    "footnotes beside": footnoted(wide()),
    "further columns": with_more_columns(wide()),
    "litres": in_litres(wide()),
    "units in the cells": each(wide(), with_unit),
    "uncertainty columns": with_uncertainty(),
    "online form": form(),
    "blocks": stacked(block(student) for student in CLASS),
    "blocks, close together": stacked((block(student) for student in CLASS), gap=0),
    "blocks, name in the corner": stacked(block(student, name="corner") for student in CLASS),
    "blocks under one row of runs": under_one_row(),
    "blocks side by side": beside([block(student) for student in CLASS], gap=0),
    "blocks two by two": stacked(
        beside([block(one), block(other)]) for one, other in zip(CLASS[::2], CLASS[1::2], strict=True)
    ),
    "row-wise tables": upright_blocks(),
    "two tables side by side": beside([wide(students=half) for half in HALVES]),
    "two tables under each other": stacked([wide(students=half) for half in HALVES]),
    "two long tables side by side": beside([long(students=half) for half in HALVES]),
    "two tables across": stacked([turned(wide(students=half)) for half in HALVES]),
}
"""Grids that are to be turned over: rows for columns."""
