"""A marked folder with no more than its decisions need, and a hand that writes into its marks.xlsx."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.workbook import Workbook

from labmark.decisions.read import Found, decisions_in
from labmark.outputs.data import results_text
from labmark.pipeline import new_workbook, read, tree_of

CLASS = """Student,ID,Bench,Rough initial,Rough final,Rough titre,Run 1 initial,Run 1 final,Run 1 titre,Run 1 used,\
Run 2 initial,Run 2 final,Run 2 titre,Run 2 used,Run 3 initial,Run 3 final,Run 3 titre,Run 3 used,Mean titre,Result
Ada,1,1,0.00,25.70,25.70,0.00,25.30,25.30,y,0.00,25.35,25.35,y,0.00,25.80,25.80,n,25.33,0.101
Bo,2,1,0.00,25.60,25.60,0.00,25.30,25.30,y,0.50,25.80,25.30,y,0.00,25.25,25.25,y,25.28,0.101
Cy,3,2,0.00,25.90,25.90,0.00,25.20,25.20,y,0.00,25.25,25.25,y,0.00,25.9,25.90,n,25.23,0.505
Di,4,2,0.00,25.60,25.60,0.00,25.40,25.40,y,0.00,25.40,25.40,y,0.00,,,n,25.40,0.102
Ed,5,3,0.00,25.70,25.70,0.00,25.35,25.35,y,0.00,25.30,25.30,y,0.00,25.30,25.30,y,25.32,0.101
Flo,6,3,,,,,,,,,,,,,,,,,
"""
"""Everybody in it is invented; the practical is the drain cleaner, expected titre 25.30 cm³."""
PRACTICAL = "drain-cleaner"
Hand = Callable[[Workbook], Any]
"""Somebody who changes a workbook."""


@dataclass
class Marked:
    """A folder that is marked again and again; its marks.xlsx is written when somebody looks into the folder."""

    place: Path
    practical: str = PRACTICAL
    unwritten: tuple[dict[str, Any], Found] | None = None

    @property
    def folder(self) -> Path:
        """Return the folder, whole."""
        if self.unwritten is not None:
            (self.place / "marks.xlsx").write_bytes(new_workbook(*self.unwritten))
            self.unwritten = None
        return self.place

    def mark(self, text: str = CLASS, name: str = "class.csv") -> dict[str, Any]:
        """Mark a class into the folder and return what results.json holds."""
        path = self.folder.parent / name
        path.write_text(text, encoding="utf-8")
        found = decisions_in(self.folder)
        tree = tree_of(*read(path, self.practical, ()), found)
        self.folder.mkdir(exist_ok=True)
        (self.folder / "results.json").write_text(results_text(tree), encoding="utf-8")
        self.unwritten = tree, found
        return dict(json.loads(results_text(tree)))

    def change(self, *hands: Hand) -> None:
        """Open marks.xlsx, let somebody change it, and save it."""
        book = openpyxl.load_workbook(self.folder / "marks.xlsx")
        for hand in hands:
            hand(book)
        book.save(self.folder / "marks.xlsx")

    def write(self, *cells: tuple[str, dict[str, Any], str, Any]) -> None:
        """Write values into cells, as `written` does, and save."""
        self.change(written(*cells))


def written(*cells: tuple[str, dict[str, Any], str, Any]) -> Hand:
    """Return who writes values into cells: (sheet, what the row holds by heading, heading, value)."""

    def hand(book: Workbook) -> None:
        for sheet, row, heading, value in cells:
            cell_of(book, sheet, row, heading).value = value

    return hand


def cell_of(book: Workbook, sheet: str, row: dict[str, Any], heading: str) -> Any:
    """Return the cell under a heading in the row that holds these values."""
    page = book[sheet]
    heads = {cell.value: cell.column for cell in page[1]}
    for line in range(1, page.max_row + 1):
        if all(page.cell(line, heads[key]).value == value for key, value in row.items()):
            return page.cell(line, heads[heading])
    raise LookupError((sheet, row))


def student(tree: dict[str, Any], name: str) -> dict[str, Any]:
    """Return a student of a tree."""
    return next(dict(one) for one in tree["students"] if one["student"] == name)


def mark(tree: dict[str, Any], name: str, criterion: str) -> dict[str, Any]:
    """Return a mark of a student."""
    return next(dict(each) for each in student(tree, name)["marks"] if each["criterion"] == criterion)
