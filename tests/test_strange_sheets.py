"""Sheets as quite different people lay them out: the same three students come out of every one of them.

The figures are invented, and reckoned by hand: titres 25.30 and 25.35 have the mean 25.325 (25.33), 25.25 and 25.30 have
25.275 (25.28), 25.35 twice has 25.35; each mean x 0.0500 x 2 / 25.0 rounds to 0.101 mol/dm³.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest

from labmark.outputs.data import results_text
from labmark.pipeline import judged_tree
from labmark.problems import InputError
from tests.fair_students import DRAIN
from tests.seeds import few_quick

# name -> ((initial, final) of the rough and of runs 1 and 2, mean, result)
PEOPLE = {
    "Anke": (((0.00, 25.90), (0.10, 25.40), (0.20, 25.55)), 25.33, 0.101),
    "Bela": (((1.00, 26.70), (2.00, 27.25), (3.00, 28.30)), 25.28, 0.101),
    "Chen": (((0.50, 26.10), (0.00, 25.35), (0.40, 25.75)), 25.35, 0.101),
}


@dataclass(frozen=True)
class Sheet:
    """A class sheet; cells of a row parted by " | "."""

    name: str
    sheets: dict[str, str]
    """Sheet or file name -> its rows as text."""
    kind: str = "csv"
    delimiter: str = ","
    means: bool = True
    results: bool = True
    merged: tuple[str, ...] = ()


def one(name: str, rows: str, **more) -> Sheet:
    return Sheet(name, {"Results": rows}, **more)


WIDE = """
Student | Rough initial | Rough final | Rough titre | Run 1 initial | Run 1 final | Run 1 titre | Run 2 initial | Run 2 final | Run 2 titre | Mean titre | Result
Anke | 0.00 | 25.90 | 25.90 | 0.10 | 25.40 | 25.30 | 0.20 | 25.55 | 25.35 | 25.33 | 0.101
Bela | 1.00 | 26.70 | 25.70 | 2.00 | 27.25 | 25.25 | 3.00 | 28.30 | 25.30 | 25.28 | 0.101
Chen | 0.50 | 26.10 | 25.60 | 0.00 | 25.35 | 25.35 | 0.40 | 25.75 | 25.35 | 25.35 | 0.101
"""
BODY = WIDE.strip("\n").split("\n")[1:]


def headed(header: str) -> str:
    return "\n".join((header, *BODY))


def protocol(name: str, rough: str, one_: str, two: str, mean: str) -> str:
    """A German lab-book page: readings of a run from below in a column."""
    (r0, r1), (a0, a1), (b0, b1) = (each.split() for each in (rough, one_, two))
    titre = [f"{float(last) - float(first):.2f}" for first, last in ((r0, r1), (a0, a1), (b0, b1))]
    return f"""
Protokoll: Titration eines Abflussreinigers
Name: | {name}
Datum: | 12. März

Titration | Vorversuch | 1 | 2
Bürettenstand Ende in mL | {r1} | {a1} | {b1}
Bürettenstand Anfang in mL | {r0} | {a0} | {b0}
Verbrauch in mL | {" | ".join(titre)}

Mittelwert in mL | {mean}
c(NaOH) in mol/L | 0.101
""".replace(".", ",").replace("12, März", "12. März")


PAGES = (
    ("Anke", "0.00 25.90", "0.10 25.40", "0.20 25.55", "25.33"),
    ("Bela", "1.00 26.70", "2.00 27.25", "3.00 28.30", "25.28"),
    ("Chen", "0.50 26.10", "0.00 25.35", "0.40 25.75", "25.35"),
)


def block(name: str, rough: str, one_: str, two: str, mean: str, title: str = "{}") -> str:
    rows = [(label, *each.split()) for label, each in (("Rough", rough), ("1", one_), ("2", two))]
    lines = [" | ".join((*row, f"{float(row[2]) - float(row[1]):.2f}")) for row in rows]
    return "\n".join(
        (
            title.format(name),
            "Titration | Initial / cm³ | Final / cm³ | Titre / cm³",
            *lines,
            f"Mean titre | | | {mean}",
            "Result / mol dm⁻³ | | | 0.101",
        )
    )


def beside(*blocks: str) -> str:
    """Blocks side by side, an empty column between them."""
    split = [[[cell.strip() for cell in line.split("|")] for line in each.split("\n")] for each in blocks]
    lines = []
    for place in range(max(map(len, split))):
        cells: list[str] = []
        for each in split:
            row = each[place] if place < len(each) else []
            cells += [*row, *[""] * (5 - len(row))]
        lines.append(" | ".join(cells))
    return "\n".join(lines)


def abreast(over: str, corner: str) -> str:
    """Names over the readings of each, and the runs of all to the left of them."""
    runs = [
        (what, *(ends for each in PEOPLE.values() for ends in each[0][place]))
        for place, what in enumerate(("Rough", 1, 2))
    ]
    heads = [
        " | ".join((over, *(f"{name} | " for name in PEOPLE))),
        " | ".join((corner, *["Start | End"] * len(PEOPLE))),
    ]
    lines = [" | ".join((str(what), *(f"{end:.2f}" for end in ends))) for what, *ends in runs]
    return "\n".join((*heads, *lines, " | ".join(("Result", *(f"{result} | " for *_, result in PEOPLE.values())))))


ROTATED = [[cell.strip() for cell in row.split("|")] for row in WIDE.strip("\n").split("\n")]


def long_rows(make) -> str:
    """Rows of make(name, what, initial, final, titre, first of the student, mean)."""
    return "\n".join(
        make(name, what, f"{low:.2f}", f"{high:.2f}", f"{high - low:.2f}", place == 0, f"{mean:.2f}")
        for name, (runs, mean, _) in PEOPLE.items()
        for place, (what, (low, high)) in enumerate(zip(("Rough", "1", "2"), runs, strict=True))
    )


FRENCH = {"Rough": "rapide", "1": "essai 1", "2": "essai 2"}
SHEETS = [
    one("plain", WIDE),
    Sheet("German lab-book pages", {f"Blatt {n}": protocol(*page) for n, page in enumerate(PAGES, 1)}, "xlsx"),
    Sheet("lab-book pages named by their sheets", {page[0]: protocol(*page).replace(f"Name: | {page[0]}\n", "") for page in PAGES}, "xlsx"),
    Sheet("lab-book pages in files", {f"{page[0]}": protocol(*page).replace(f"Name: | {page[0]}\n", "") for page in PAGES}, "folder", ";"),
    one("a French practical", "TP 7 : dosage d'un déboucheur\n\nÉlève | Essai | V initial (mL) | V final (mL) | V versé (mL) | Moyenne (mL) | C (mol/L)\n" + long_rows(lambda name, what, low, high, titre, first, mean: f"{name if first else ''} | {FRENCH[what]} | {low} | {high} | {titre} | {mean if first else ''} | {'0.101' if first else ''}").replace(".", ","), delimiter=";"),
    one("a demonstrator's long table", "Group,Student,Titration no.,Type,Initial/mL,Final/mL,Volume/mL,Included?\n".replace(",", " | ") + long_rows(lambda name, what, low, high, titre, first, mean: f"Thu pm | {name} | {'0' if what == 'Rough' else what} | {'rough' if what == 'Rough' else 'accurate'} | {low} | {high} | {titre} | {'no' if what == 'Rough' else 'yes'}"), means=False, results=False),
    one("a form's export", headed('Timestamp | Email address | Your full name | Rough titration: burette reading at the start (cm³) | Rough titration: burette reading at the end (cm³) | Rough titre (cm³) | First accurate titration: burette reading at the start (cm³) | First accurate titration: burette reading at the end (cm³) | First accurate titre (cm³) | Second accurate titration: burette reading at the start (cm³) | Second accurate titration: burette reading at the end (cm³) | Second accurate titre (cm³) | What is your mean titre? | What concentration did you find?').replace("\nAnke", "\n2026-03-12 10:40:01 | a1@lab.invalid | Anke").replace("\nBela", "\n2026-03-12 10:41:17 | b2@lab.invalid | Bela").replace("\nChen", "\n2026-03-12 10:44:59 | c3@lab.invalid | Chen")),
    one("students across, quantities down", "\n".join(" | ".join(row[place] for row in ROTATED) for place in range(len(ROTATED[0])))),
    one("students across under a title", "Titration, set 4\n\n" + "\n".join(" | ".join(row[place] for row in ROTATED) for place in range(len(ROTATED[0])))),
    one("two levels of header, merged", headed("Student | Rough | | | Run 1 | | | Run 2 | | | Mean | Result\n | start | end | titre | start | end | titre | start | end | titre | cm³ | mol/dm³"), kind="xlsx", merged=("B1:D1", "E1:G1", "H1:J1")),
    one("two levels of header, not merged", headed("Student | Rough | | | 1st accurate | | | 2nd accurate | | | Mean titre | Result\n | initial | final | titre | initial | final | titre | initial | final | titre | | ")),
    one("class figures at the top", "Year 12 titration\nClass mean | | | 25.73 | | | 25.30 | | | 25.33 | 25.32 | 0.101\n\n" + WIDE.strip("\n")),
    one("sections between the students", "\n".join((WIDE.strip("\n").split("\n")[0], "Monday group", *BODY[:2], "Thursday group", BODY[2]))),
    one("a row of units", headed(WIDE.strip("\n").split("\n")[0] + "\n | cm³ | cm³ | cm³ | cm³ | cm³ | cm³ | cm³ | cm³ | cm³ | cm³ | mol/dm³")),
    one("comments between the runs", "\n".join(" | ".join((*row[:4], ("Comments on rough", "quick", "", "12 drops over")[place], *row[4:7], ("Comments", "nice", "air bubble at 3.50?", "")[place], *row[7:])) for place, row in enumerate(ROTATED))),
    one("blocks below one another", "\n\n".join(block(*page) for page in PAGES)),
    one("blocks with a title each", "\n\n".join(block(*page, title="Results of {}") for page in PAGES)),
    one("blocks side by side", beside(*(block(*page, title="Name: {}") for page in PAGES))),
    one("finals before initials, the rough last", "\n".join(" | ".join((row[0], row[5], row[4], row[6], row[8], row[7], row[9], row[2], row[1], row[3], row[10], row[11])) for row in ROTATED)),
    one("Spanish headings", headed("Alumno | Valoración aproximada: lectura inicial (mL) | Valoración aproximada: lectura final (mL) | Valoración aproximada: gasto (mL) | Valoración 1: lectura inicial (mL) | Valoración 1: lectura final (mL) | Valoración 1: gasto (mL) | Valoración 2: lectura inicial (mL) | Valoración 2: lectura final (mL) | Valoración 2: gasto (mL) | Gasto medio (mL) | Concentración (mol/L)")),
    one("headings of a database", headed("STUDENT_NAME | ROUGH_INITIAL | ROUGH_FINAL | ROUGH_TITRE | T1_INITIAL | T1_FINAL | T1_TITRE | T2_INITIAL | T2_FINAL | T2_TITRE | MEAN_TITRE | CONC_MOL_DM3"), delimiter="\t"),
    one("line breaks in the headings", headed(WIDE.strip("\n").split("\n")[0].replace(" initial", "\\ninitial\\n(cm³)").replace(" final", "\\nfinal\\n(cm³)").replace(" titre", "\\ntitre\\n(cm³)")), kind="xlsx"),
    one("a number, a surname and a first name", "\n".join(f"{('No.', '1', '2', '3')[place]} | {('Class', '12B', '12B', '12C')[place]} | {line}" for place, line in enumerate(WIDE.strip("\n").split("\n")))),
    one("a table that begins at D6", "\n\nDrain cleaner\n | | | (readings in cm³)\n\n" + "\n".join(f" | | | {line}" for line in WIDE.strip("\n").split("\n")) + "\n\n | | | 1 please check Bela's second reading\n | | | 2 Anke used the new burette 25.00"),
    one("an empty column between the runs", "\n".join(" | ".join((row[0], "", *row[1:4], "", *row[4:7], "", *row[7:10], "", *row[10:])) for row in ROTATED), kind="xlsx"),
    one("lines of key and value", "\n\n".join("\n".join(f"{key}: | {value}" for key, value in zip(ROTATED[0], row, strict=True)) for row in ROTATED[1:])),
    one("one line a reading", "Student | Titration | Reading | Value / cm³\n" + long_rows(lambda name, what, low, high, titre, first, mean: f"{name} | {what} | initial | {low}\n{name} | {what} | final | {high}"), means=False, results=False),
    one("a run a row with the name in the first alone, then the mean", "Student | Run | Start | Finish | Difference\n" + "\n".join(long_rows(lambda name, what, low, high, titre, first, mean: f"{name if first else ''} | {what.lower()} | {low} | {high} | {titre}" + (f"\n | average | | | {mean}" if what == "2" else "")).split("\n")), results=False),
    one("final minus initial in one cell", "Student | Rough | Run 1 | Run 2 | Mean titre | Result\n" + "\n".join(f"{name} | " + " | ".join(f"{high:.2f} - {low:.2f} = {high - low:.2f}" for low, high in runs) + f" | {mean:.2f} | 0.101" for name, (runs, mean, _) in PEOPLE.items())),
    one("roughs called r, accurate runs a", headed("Name | r1 init | r1 fin | r1 vol | a1 init | a1 fin | a1 vol | a2 init | a2 fin | a2 vol | av. | c")),
    one("the rough headed in one row, the runs in two", headed("Name | Rough initial | Rough final | Rough titre | Run 1 | | | Run 2 | | | Mean | Result\n | | | | initial | final | titre | initial | final | titre | |")),
    *(one(f"students abreast, their runs down, {name}", abreast(*top), means=False) for name, top in {"bare": ("", "Run"), "under a heading": ("Student", "")}.items()),
    one("letters of runs over their readings", headed("Name | R1 | | | A1 | | | A2 | | | | \n | start | end | vol. | start | end | vol. | start | end | vol. | av. | M")),
    one("V0 and V1", "Nom | V0 grossier | V1 grossier | V0 1 | V1 1 | V0 2 | V1 2 | Vmoy | C\n" + "\n".join(" | ".join((row[0], *row[1:3], *row[4:6], *row[7:9], *row[10:])) for row in ROTATED[1:]), delimiter=";"),
    one("V0 and V1 of trials", "Nom | V0 essai rapide | V1 essai rapide | V0 essai 1 | V1 essai 1 | V0 essai 2 | V1 essai 2 | Vmoy | C\n" + "\n".join(" | ".join((row[0], *row[1:3], *row[4:6], *row[7:9], *row[10:])) for row in ROTATED[1:]), delimiter=";"),
    one("roughs beside accurate runs in a column of kinds", "Name | Type | No | Initial | Final | Titre\n" + long_rows(lambda name, what, low, high, titre, first, mean: f"{name} | {'R' if what == 'Rough' else 'A'} | {'1' if what == 'Rough' else what} | {low} | {high} | {titre}"), means=False, results=False),
    one("all starts, then all ends, then all volumes", " | Start | | | End | | | Volume | | | | \nName | R | 1 | 2 | R | 1 | 2 | R | 1 | 2 | Average | Conc.\n" + "\n".join(" | ".join((row[0], *row[1:10:3], *row[2:10:3], *row[3:10:3], *row[10:])) for row in ROTATED[1:])),
    one("tables whose runs have no header", "\n\n".join(f"Table {place}\n{block(*page).replace('Titration | ', ' | ')}" for place, page in enumerate(PAGES, 1))),
    Sheet("a page for each student and an overview", {page[0]: block(*page, title="").replace("Rough", "Trial").strip() for page in PAGES} | {"Overview": "Name | Mean | Conc\nAnke | 25.33 | 0.101\nBela | 25.28 | 0.101\nChen | 25.35 | 0.101"}, "xlsx"),
    one("a set over each header", "\n".join(("Set 1", WIDE.strip("\n").split("\n")[0], *BODY[:2], "", "Set 2", WIDE.strip("\n").split("\n")[0], BODY[2]))),
    one("readings that somebody checked", "\n".join(" | ".join((*row[:3], ("Rough checked", "✓", "ML", "ML")[place], *row[3:6], ("Run 1 checked", "✓", "", "ML")[place], *row[6:], ("Checked by", "ML", "ML", "")[place])) for place, row in enumerate(ROTATED))),
    one("points and feedback of a quiz", "\n".join(" | ".join((row[0], *(f"{head} | Points - {head} | Feedback - {head}" if place == 0 else f"{cell} | 1 | " for head, cell in zip(ROTATED[0][1:], row[1:], strict=True)))) for place, row in enumerate(ROTATED))),
    one("both readings in cells headed by a run", "Name | Readings (rough) | Readings (1) | Readings (2) | Mean | Result\n" + "\n".join(f"{row[0]} | {row[1]} → {row[2]} | {row[4]} → {row[5]} | {row[7]} → {row[8]} | {row[10]} | {row[11]}" for row in ROTATED[1:])),
    one("the rough counted 0", headed("NOM Prénom | Vi0 | Vf0 | Veq0 | Vi1 | Vf1 | Veq1 | Vi2 | Vf2 | Veq2 | Veq moyen | C")),
    one("results below the readings", "Readings\n" + "\n".join(row.rsplit(" | ", 2)[0] for row in WIDE.strip("\n").split("\n")) + "\n\nResults\nStudent | Mean titre | Concentration\n" + "\n".join(f"{name} | {mean:.2f} | {result}" for name, (_, mean, result) in PEOPLE.items())),
    Sheet("a sheet for each run, and one for results", {run: "Name | Initial | Final | Titre\n" + "\n".join(" | ".join((row[0], *row[at : at + 3])) for row in ROTATED[1:]) for run, at in (("Rough", 1), ("Run 1", 4), ("Run 2", 7))} | {"Answers": "Name | Mean titre | Concentration\n" + "\n".join(" | ".join((row[0], *row[10:])) for row in ROTATED[1:])}, "xlsx"),
    one("how sure the readings are, below the header", headed(WIDE.strip("\n").split("\n")[0] + "\n± 0.05" + " | 0.05 | 0.05 | 0.10" * 3)),
    one("a column of ticks for the rough", "Student | Titration | Rough? | Start | End | Titre\n" + long_rows(lambda name, what, low, high, titre, first, mean: f"{name} | {what.replace('Rough', '0')} | {'Y' if what == 'Rough' else 'N'} | {low} | {high} | {titre}"), means=False, results=False),
    one("tables of the room over their students", "\n".join((WIDE.strip("\n").split("\n")[0], "Table 1", *BODY[:2], "Table 2", BODY[2], "", "Checked TO 15/3"))),
    one("a name over the header of each table", "\n\n".join(f"Schüler: | {page[0]} | Datum: | 14.3.\n" + block(*page, title="").strip().replace("Titration |", "Nr. |", 1) for page in PAGES)),
    one("the mean of all beside that of the concordant", "\n".join(" | ".join((*row[:10], ("Average of all", "25.52", "25.41", "25.43")[place], ("Average of concordant", *row[10:])[0] if place == 0 else row[10], row[11])) for place, row in enumerate(ROTATED))),
    one("the mean of all beside the mean", "\n".join(" | ".join((*row[:10], ("Mean of all titres", "25.52", "25.41", "25.43")[place], *row[10:])) for place, row in enumerate(ROTATED))),
    one("names once more at the end", "\n".join(f"{row} | {row.split(' | ')[0]}" for row in WIDE.strip("\n").split("\n"))),
    one("a title over the names", headed("Titration of drain cleaner | " + WIDE.strip("\n").split("\n")[0].partition(" | ")[2])),
    one("names over three lines each, and the answers below", "Readings\n\nPupil | | Rough | 1 | 2\n" + "\n".join(f"{name} | Start | " + " | ".join(f"{low:.2f}" for low, _ in runs) + "\n | Finish | " + " | ".join(f"{high:.2f}" for _, high in runs) + "\n | Titre | " + " | ".join(f"{high - low:.2f}" for low, high in runs) for name, (runs, _, _) in PEOPLE.items()) + "\n\nPupil | Average titre | Concentration\n" + "\n".join(f"{name} | {mean:.2f} | {result}" for name, (_, mean, result) in PEOPLE.items())),
    one("a form sent in for each run", "Your name | Which titration is this? | Burette at the start (cm3) | Burette at the end (cm3) | Titre (cm3) | Mean titre | Concentration\n" + long_rows(lambda name, what, low, high, titre, first, mean: f"{name} | {'Rough' if what == 'Rough' else 'Accurate ' + what} | {low} | {high} | {titre} | {mean if what == '2' else ''} | {'0.101' if what == '2' else ''}")),
    one("marks and initials of the teacher", headed("Name | R i | R f | R t | 1 i | 1 f | 1 t | 2 i | 2 f | 2 t | avg | ans | /5 | late?").replace("0.101", "0.101 | 4 | n")),
    one("German runs with a full stop, from and to", "Name | Vortitration | 1. Titration | 2. Titration | Mittel | c(NaOH)\n" + "\n".join(f"{name} | " + " | ".join(f"{low:.2f} mL bis {high:.2f} mL" for low, high in runs) + f" | {mean:.2f} mL | 0.101 mol/L" for name, (runs, mean, _) in PEOPLE.items()).replace(".", ","), delimiter=";"),
    one("French differences of two symbols", "Élève | N° essai | Vi (mL) | Vf (mL) | Vf - Vi (mL) | V moyen (mL) | c (mol/L)\n" + long_rows(lambda name, what, low, high, titre, first, mean: f"{name} | {'0' if what == 'Rough' else what} | {low} | {high} | {titre} | {mean if first else ''} | {'0.101' if first else ''}").replace(".", ","), delimiter=";"),
    one("initial and final burette readings by their initials", headed("Student | " + " | ".join(f"{run} {what}" for run in ("Rough", "Trial 1", "Trial 2") for what in ("IBR", "FBR", "Vol. added")) + " | Mean titre | Result")),
    Sheet("answers under the surname first", {"Burette": "Name | Rough start | Rough end | Run 1 start | Run 1 end | Run 2 start | Run 2 end\n" + "\n".join(f"{name} Li | " + " | ".join(f"{low:.2f} | {high:.2f}" for low, high in runs) for name, (runs, _, _) in PEOPLE.items()), "Answers": "Student | Mean titre | Result\n" + "\n".join(f"Li, {name} | {mean:.2f} | {result}" for name, (_, mean, result) in PEOPLE.items())}, "xlsx"),
    one("a titled table for each run, below one another", "\n\n".join(f"{title}\nName | Start | End | Titre\n" + "\n".join(" | ".join((row[0], *row[at : at + 3])) for row in ROTATED[1:]) for title, at in (("Rough titration", 1), ("First accurate titration", 4), ("Second accurate titration", 7))) + "\n\nAnswers\nName | Mean titre | c\n" + "\n".join(" | ".join((row[0], *row[10:])) for row in ROTATED[1:])),
    one("a titled table for each run, side by side", "Rough | | | | | Accurate 1 | | | | | Accurate 2 | | | | | |\n" + "\n".join(" | ".join((*(cell for at in (1, 4, 7) for cell in (row[0], *row[at : at + 3], "")), row[0], *row[10:])).replace("Run 1 ", "").replace("Run 2 ", "").replace("Rough ", "") for row in ROTATED)),
    one("the teacher's own lines", "\n".join((WIDE.strip("\n").split("\n")[0], "Teacher | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30", "Blank | | | | 0.00 | 0.10 | 0.10", *BODY, "Expected | | | | | | 25.30 | | | 25.30 | 25.30 | 0.101"))),
]  # fmt: skip


def write(sheet: Sheet, folder: Path) -> Path:
    grids = {
        name: [[cell.strip().replace("\\n", "\n") for cell in line.split("|")] for line in text.strip("\n").split("\n")]
        for name, text in sheet.sheets.items()
    }
    if sheet.kind == "xlsx":
        return _workbook(sheet, grids, folder)
    place = folder / "class" if sheet.kind == "folder" else folder
    place.mkdir(exist_ok=True)
    for name, rows in grids.items():
        with (place / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, delimiter=sheet.delimiter).writerows(rows)
    return place if sheet.kind == "folder" else place / "Results.csv"


def _workbook(sheet: Sheet, grids: dict[str, list[list[str]]], folder: Path) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in grids.items():
        page = book.create_sheet(name)
        for number, row in enumerate(rows, start=1):
            for column, text in enumerate(row, start=1):
                if text:
                    cell = page.cell(number, column)
                    cell.value = text
                    if text.replace(".", "", 1).isdigit():
                        cell.value, cell.number_format = (
                            float(text),
                            "0.000" if text.startswith("0.1") and len(text) == 5 else "0.00",
                        )
        for area in sheet.merged:
            page.merge_cells(area)
    path = folder / "class.xlsx"
    book.save(path)
    return path


def read_facts(tree: dict) -> dict[str, object]:
    return {
        each["student"].removesuffix(" Li"): (
            tuple((run["kind"], run["initial"], run["final"]) for run in each["runs"]),
            each["claimed"]["mean_titre"],
            each["claimed"]["result"],
        )
        for each in tree["students"]
    }


def known_facts(sheet: Sheet) -> dict[str, object]:
    return {
        name: (
            tuple(("accurate" if place else "rough", *ends) for place, ends in enumerate(runs)),
            mean if sheet.means else None,
            result if sheet.results else None,
        )
        for name, (runs, mean, result) in PEOPLE.items()
    }


def in_order(facts: dict[str, object]) -> dict[str, object]:
    """The rough first: where it stands on the sheet is its maker's choice."""
    return {
        name: (tuple(sorted(runs, key=lambda run: run[0] != "rough")), *own) for name, (runs, *own) in facts.items()
    }


def losses(tree: dict) -> list[str]:
    return [
        f"{student['student']}: {mark['criterion']} {mark['reason']}"
        for student in tree["students"]
        for mark in student["marks"]
        if mark["mark"] != mark["out_of"]
    ]


@pytest.mark.parametrize("sheet", few_quick(SHEETS, 12), ids=lambda sheet: sheet.name.replace(" ", "-"))
def test_the_same_students_come_out_and_lose_nothing(sheet, tmp_path):
    practical = tmp_path / "practical.toml"
    practical.write_text(DRAIN, encoding="utf-8")
    tree = json.loads(results_text(judged_tree(write(sheet, tmp_path), str(practical), ())))
    assert in_order(read_facts(tree)) == known_facts(sheet)
    assert losses(tree) == []


def test_columns_that_may_hold_readings_are_asked_about_rather_than_left_out(tmp_path):
    (tmp_path / "practical.toml").write_text(DRAIN, encoding="utf-8")
    titles = [f"{run} {what}" for run in ("Prova", "1", "2") for what in ("iniziale", "finale", "volume")]
    path = write(
        one("Italian headings", headed(" | ".join(("Studente", *titles, "Media", "Concentrazione")))), tmp_path
    )
    asked = r"may hold readings but are not understood: 'Prova iniziale' \(column B\), .*\[columns\] table"
    with pytest.raises(InputError, match=asked):
        judged_tree(path, str(tmp_path / "practical.toml"), ())
