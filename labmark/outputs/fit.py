"""Guesses how tall a sheet will be, so that most are laid out at the right size at the first try.

A sheet is one page. `templates/sheet.typ` knows several densities, from roomy to tight; which one a student's sheet
needs is known for certain only when it is laid out. Guessing well saves laying it out twice; a guess that was too
bold is noticed by the page count. Heights are reckoned as the template stacks its parts, in mm; the shares of a text
size (em) follow from the template's spacing and were checked against what Typst measures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

PAGE = 277.0
"""Height between the margins, 273 mm, and what a guess is too tall by [mm]: one that is too bold is mended."""
LETTER_IS_LOWER = 17.6
"""How much lower a page of letter paper is than one of A4 [mm]; that it is wider is left in hand."""
WIDTH = 178.0
"""Width between the margins [mm]."""
POINT = 0.35278
"""A point [mm]."""
LETTER = 0.42
"""Mean width of a character [em], from the body face with its even-width digits."""
MANY_STEPS = 4
"""More steps than this stand in two columns."""
FIRST, NEXT = 0.66, 1.17
"""Height of the first line and of each further line of a paragraph [em]."""


@dataclass(frozen=True, slots=True)
class Density:
    """How tightly a page is set; the template is handed these numbers."""

    size: float
    """Text size [pt]."""
    gap: float
    """Room between parts, as a multiple of 4.2 mm."""
    cut: int
    """Characters of a reason that are shown."""
    inset: float = 0.32
    """Room above and below what stands in a table [em]."""


DENSITIES = (
    Density(11.0, 1.2, 900),
    Density(10.5, 1.0, 900),
    Density(10.0, 0.85, 900),
    Density(9.5, 0.7, 900),
    Density(9.5, 0.45, 900),
    Density(9.5, 0.3, 900, 0.2),
    Density(9.5, 0.3, 160, 0.2),
    Density(9.5, 0.3, 90, 0.2),
    Density(9.5, 0.7, 9000),  # on more than one page, where nothing has to be cut
)
SMALLEST = 3
"""Place of the first of those in the smallest size, below which no text is set."""
LARGE = (Density(18.0, 1.2, 9000),)
"""Large print: nothing is cut, and it takes as many pages as it takes."""


def first_density(group: Mapping[str, Any], sheet: Mapping[str, Any]) -> int:
    """Return the place in `DENSITIES` of the roomiest that should fit; the last where none does."""
    page = PAGE - LETTER_IS_LOWER * (group["paper"] == "letter")
    fitting = (place for place, density in enumerate(DENSITIES) if height(group, sheet, density) <= page)
    return next(fitting, len(DENSITIES) - 1)


def height(group: Mapping[str, Any], sheet: Mapping[str, Any], density: Density) -> float:
    """Return the guessed height [mm] of a sheet; `group` is what the whole class shares."""
    em, gap = density.size * POINT, density.gap * 4.2
    reckon = _Reckoner(em, density.cut, density.inset)
    parts = [
        reckon.head(sheet),
        reckon.summary(sheet),
        reckon.comment(sheet),
        reckon.readings(sheet),
        reckon.columns(sheet),
        reckon.marks(sheet),
        reckon.advice(sheet),
        reckon.strip(group, sheet),
    ]
    drawn = _line_height(sheet["line"]) + gap if sheet["line"] else 0.0
    return sum(part + gap for part in parts if part) + drawn + reckon.foot(group)


def _line_height(line: Mapping[str, Any]) -> float:
    """Return the height [mm] of the drawn titres, as in the template."""
    levels = 1 + max(int(mark["level"]) for mark in line["marks"])
    return 5.6 + 4.2 * levels + (5.4 if line["expected"] is None else 9.0)


@dataclass(frozen=True, slots=True)
class _Reckoner:
    """Heights [mm] of the parts of a sheet at one text size `em` [mm]."""

    em: float
    cut: int
    inset: float

    def lines(self, text: str, width: float, scale: float = 1.0) -> int:
        """Return how many lines `text` takes at `scale` times the text size in `width` mm."""
        return max(1, math.ceil(len(text) * LETTER * scale * self.em / width))

    def text(self, text: str, width: float, scale: float = 1.0) -> float:
        """Return the height of a paragraph."""
        return (FIRST + NEXT * (self.lines(text, width, scale) - 1)) * scale * self.em

    def cut_text(self, text: str, width: float) -> float:
        """Return the height of a reason, shortened as the density says."""
        return self.text(text if len(text) <= self.cut else text[: self.cut] + "… (more in class)", width)

    @property
    def part(self) -> float:
        """Height of a heading with the room about it."""
        return 1.55 * self.em

    @property
    def row(self) -> float:
        """Height of one line in a table."""
        return (FIRST + 2 * self.inset) * self.em

    def rows(self, texts: Sequence[str], width: float) -> float:
        """Return the height of a table with its header, a text a row."""
        return self.row + sum(self.cut_text(text, width) + 2 * self.inset * self.em for text in texts)

    def head(self, sheet: Mapping[str, Any]) -> float:
        name = sheet["name"]
        scale = 1.5 if len(name.encode()) > 34 else 2.0
        return self.text(name, 130.0, scale) + (2.6 if sheet["waiting"] else 1.9) * self.em

    def summary(self, sheet: Mapping[str, Any]) -> float:
        return 1.5 * self.em + self.text(sheet["summary"], WIDTH - 2 * self.em, 1.08)

    def comment(self, sheet: Mapping[str, Any]) -> float:
        lines = sheet["comment"].split("\n") if sheet["comment"] else []
        return sum((self.text(line, WIDTH - 2 * self.em) for line in lines), self.part if lines else 0.0)

    def readings(self, sheet: Mapping[str, Any]) -> float:
        return sum(map(self._table, sheet["tables"]))

    def _table(self, table: Mapping[str, Any]) -> float:
        # Each further endpoint has a reading and a titre of its own.
        further = 5.0 * sum(table["written"]) + 11.0 * (len(table["written"]) - 1)
        width = WIDTH - (23.5 + further) * self.em
        more = 1.2 * self.em if table["more"] else 0.0
        texts = [run["why"] for run in table["runs"]]
        return self.part + self.row + sum(self.text(text, width) + 2 * self.inset * self.em for text in texts) + more

    def columns(self, sheet: Mapping[str, Any]) -> float:
        claims, several = sheet["state"] == "marked" and bool(sheet["claims"]), len(sheet["workings"]) > 1
        halves = not several and any(len(one["steps"]) > MANY_STEPS for one in sheet["workings"])
        width = (WIDTH / 2 - 3.5 if several or halves else WIDTH - (71.0 if claims else 0.0)) - 1.1 * self.em
        workings = [self._working(one["steps"], width, halves) for one in sheet["workings"]]
        row = self.row + (0.0 if several or halves else 1.15 * self.em)
        answers = self.part + self.row + row * len(sheet["claims"]) if claims else 0.0
        return max(workings) + answers if several or halves else max([*workings, answers])

    def _working(self, steps: Sequence[Mapping[str, Any]], width: float, halves: bool) -> float:
        heights = [self._step(step, width) for step in steps]
        first = math.ceil(len(steps) / 2) if halves else len(steps)
        return self.part + max(sum(heights[:first]), sum(heights[first:]))

    def _step(self, step: Mapping[str, Any], width: float) -> float:
        what = self.lines(f"{step['what']}: {step['formula']}", width)
        numbers = self.lines(f"{step['numbers']} = {step['shown']}", width)
        return (FIRST + NEXT * (what + numbers - 1) + 0.3) * self.em

    def marks(self, sheet: Mapping[str, Any]) -> float:
        texts = [("Your teacher’s mark: " if mark["teacher"] else "") + mark["reason"] for mark in sheet["marks"]]
        columns = (19.0 if sheet["waiting"] else 13.5) * self.em
        return self.part + self.rows(texts, WIDTH - columns) if texts else 0.0

    def advice(self, sheet: Mapping[str, Any]) -> float:
        sides = [side for side in (sheet["missing"], sheet["causes"], sheet["next"]) if side]
        if not sides:
            return 0.0
        width = (WIDTH - 1.8 * self.em - 7.0 * (len(sides) - 1)) / len(sides) - 1.0 * self.em
        tallest = max(sum(self.cut_text(item, width) + 0.55 * self.em for item in side) for side in sides)
        return self.part + tallest + 1.0 * self.em

    def strip(self, group: Mapping[str, Any], sheet: Mapping[str, Any]) -> float:
        if not sheet["strips"]:
            return 0.0
        key = group["strips"][sheet["strips"][0]["strip"]]["key"]
        return self.part + 20.5 + 0.8 * self.em + self.text(key, WIDTH, 0.86)

    def foot(self, group: Mapping[str, Any]) -> float:
        width = WIDTH - 7.0 * self.em
        lines = sum(self.text(caution, width, 0.86) + 0.43 * self.em for caution in group["cautions"])
        return 0.5 * self.em + lines + (1.5 * self.em if group["school"] else 0.0)
