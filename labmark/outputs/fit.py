"""Guesses how tall a sheet will be, so that most are laid out at the right size at the first try.

A sheet is one page. `templates/sheet.typ` knows several densities, from roomy to tight; which one a student's sheet
needs is known for certain only when it is laid out. Guessing well saves laying it out twice; a guess that was too
bold is noticed by the page count. Heights are reckoned as the template stacks its parts, in mm; the shares of a text
size (em) follow from the template's spacing and were checked against what Typst measures.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from labmark.dataclass import dataclass

PAGE = 277.0
"""Height between the margins, 273 mm, and what a guess is too tall by [mm]: one that is too bold is mended."""
LETTER_IS_LOWER = 17.6
"""How much lower a page of letter paper is than one of A4 [mm]; that it is wider is left in hand."""
SLIP_MARGINS = 13.0
"""Margins of a slip less what a guess is too tall by [mm]."""
WIDTH = 178.0
"""Width between the margins [mm]."""
POINT = 0.35278
"""A point [mm]."""
LETTER = 0.415
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
    inset: float = 0.32
    """Room above and below what stands in a table [em]."""
    brief: bool = False
    """Whether marks that are full are named alone, without the reason."""

    @property
    def under(self) -> float:
        """Room below a heading [mm]: less than above it, so that it stands with what it is the heading of."""
        return min(0.76 * self.size * POINT, 2.5 * self.gap)


DENSITIES = (
    Density(11.0, 1.6),
    Density(11.0, 1.2),
    Density(10.5, 1.4),
    Density(10.5, 1.0),
    Density(10.0, 1.3),
    Density(10.0, 0.85),
    Density(9.5, 1.6),
    Density(9.5, 1.2),
    Density(9.5, 0.9),
    Density(9.5, 0.7),
    Density(9.5, 0.6),
    Density(9.5, 0.52, 0.2),
    Density(9.5, 0.7, brief=True),
    Density(9.5, 0.6, brief=True),
    Density(9.5, 0.52, 0.2, brief=True),
    Density(9.5, 0.9),
)
"""A class has the size of its fullest sheet, and each sheet the room that there is; the last is on several pages."""
SLIPS = (
    Density(10.5, 1.0, brief=True),
    Density(10.0, 0.85, brief=True),
    Density(9.5, 0.9, brief=True),
    Density(9.5, 0.6, brief=True),
    Density(9.5, 0.52, 0.2, brief=True),
    Density(9.5, 0.9),
)
"""Slips; what does not fit on one has a whole page, as the last."""
LARGE = (Density(18.0, 1.2),)
"""Large print takes as many pages as it takes."""


def first_density(
    group: Mapping[str, Any], sheet: Mapping[str, Any], steps: Sequence[Density] = DENSITIES, least: int = 0
) -> int:
    """Return the place in `steps` of the roomiest, from `least` on, that should fit; else of the tightest."""
    page = PAGE - LETTER_IS_LOWER * (group["paper"] == "letter")
    if group["slips"]:
        page = (PAGE + 20.0 - LETTER_IS_LOWER * (group["paper"] == "letter")) / 2 - SLIP_MARGINS
    tightest = max(0, len(steps) - 2)
    return next((at for at in range(least, tightest) if height(group, sheet, steps[at]) <= page), tightest)


def height(group: Mapping[str, Any], sheet: Mapping[str, Any], density: Density) -> float:
    """Return the guessed height [mm] of a sheet; `group` is what the whole class shares."""
    em, gap, name = density.size * POINT, density.gap * 4.2, sheet["name"]
    reckon = _Reckoner(em, density.inset, density.under)
    parts = reckon.parts(group, sheet, brief=density.brief)
    heights = [parts[name] for name in group["parts"] if parts[name]]
    head = reckon.text(name, 130.0, 1.5 if len(name.encode()) > 34 else 2.0) + (2.6 if sheet["waiting"] else 1.9) * em
    return head + sum(height + gap for height in heights) + (1.5 * em if group["school"] else 0.0)


class _Reckoner(NamedTuple):
    """Heights [mm] of the parts of a sheet at one text size `em` [mm]."""

    em: float
    inset: float
    under: float

    def parts(self, group: Mapping[str, Any], sheet: Mapping[str, Any], *, brief: bool) -> dict[str, float]:
        """Return the height of each part, 0 where there is nothing in it; marks that are full are named in `brief`."""
        comment, line = sheet["comment"].split("\n") if sheet["comment"] else [], sheet["line"]
        levels = 1 + max(int(mark["level"]) for mark in line["marks"]) if line else 0
        marks = [one for one in sheet["marks"] if not brief or not one["full"] or one["teacher"]]
        named = 12 * NEXT * self.em * (len(sheet["marks"]) - len(marks)) * self.em / WIDTH
        cautions = (self.text(each, WIDTH - 7.0 * self.em, 0.86) + 0.43 * self.em for each in group["cautions"])
        return {
            "summary": 1.5 * self.em + self.text(sheet["summary"], WIDTH - 2 * self.em, 1.08),
            "comment": sum((self.text(each, WIDTH - 2 * self.em) for each in comment), self.part if comment else 0.0),
            "readings": self.readings(sheet["tables"]),
            "titres": 5.6 + 4.2 * levels + (5.4 if line["expected"] is None else 9.0) if line else 0.0,
            "marks": self.marks(marks, sheet) + named,
            "advice": self.advice(sheet),
            "class": self.strip(group, sheet),
            "cautions": 0.5 * self.em + sum(cautions),
            **self.columns(sheet),
        }

    def lines(self, text: str, width: float, scale: float = 1.0) -> int:
        """Return how many lines `text` takes at `scale` times the text size in `width` mm."""
        return max(1, math.ceil(len(text) * LETTER * scale * self.em / width))

    def text(self, text: str, width: float, scale: float = 1.0) -> float:
        """Return the height of a paragraph."""
        return (FIRST + NEXT * (self.lines(text, width, scale) - 1)) * scale * self.em

    @property
    def part(self) -> float:
        """Height of a heading with the room about it."""
        return 0.79 * self.em + self.under

    @property
    def row(self) -> float:
        """Height of one line in a table."""
        return (FIRST + 2 * self.inset) * self.em

    def rows(self, texts: Sequence[str], width: float) -> float:
        """Return the height of a table with its header, a text a row."""
        return self.row + sum(self.text(text, width) + 2 * self.inset * self.em for text in texts)

    def readings(self, tables: Sequence[Mapping[str, Any]]) -> float:
        if len(tables) == 2:  # beside each other
            return max(self._table(table, (WIDTH - 7.0) / 2, 15.0, "short") for table in tables)
        return sum(self._table(table, WIDTH, 23.5, "why") for table in tables)

    def _table(self, table: Mapping[str, Any], width: float, taken: float, words: str) -> float:
        # Each further endpoint has a reading and a titre of its own.
        further = 5.0 * sum(table["written"]) + 11.0 * (len(table["written"]) - 1)
        width -= (taken + further) * self.em
        heights = (self.text(run[words], width) + 2 * self.inset * self.em for run in table["runs"])
        return self.part + self.row + sum(heights)

    def columns(self, sheet: Mapping[str, Any]) -> dict[str, float]:
        """Return the heights of answers and working, of which those beside each other count once."""
        claims = len(sheet["claims"]) if sheet["state"] == "marked" else 0
        several = len(sheet["workings"]) > 1
        halves = not several and any(len(one["steps"]) > MANY_STEPS for one in sheet["workings"])
        beside = bool(sheet["workings"]) and not (several or halves)
        width = (WIDTH / 2 - 3.5 if several or halves else WIDTH - (71.0 if claims else 0.0)) - 1.1 * self.em
        working = max((self._working(one["steps"], width, halves) for one in sheet["workings"]), default=0.0)
        row = self.row + (1.15 * self.em if beside else 0.0)
        answers = self.part + self.row + row * claims
        answers += self.text(sheet["doubt"], 64.0) + 0.65 * self.em if beside else 0.0
        answers = answers if claims else 0.0
        together = {"working": max(working, answers), "answers": 0.0}
        return together if beside else {"working": working, "answers": answers}

    def _working(self, steps: Sequence[Mapping[str, Any]], width: float, halves: bool) -> float:
        heights = [self._step(step, width) for step in steps]
        first = math.ceil(len(steps) / 2) if halves else len(steps)
        return self.part + max(sum(heights[:first]), sum(heights[first:]))

    def _step(self, step: Mapping[str, Any], width: float) -> float:
        what = self.lines(f"{step['what']}: {step['formula']}", width)
        numbers = self.lines(f"{step['numbers']} = {step['shown']}", width)
        return (FIRST + NEXT * (what + numbers - 1) + 0.3) * self.em

    def marks(self, marks: Sequence[Mapping[str, Any]], sheet: Mapping[str, Any]) -> float:
        texts = [("Your teacher’s mark: " if mark["teacher"] else "") + mark["reason"] for mark in marks]
        columns = (19.0 if sheet["waiting"] else 13.5) * self.em
        return self.part + self.rows(texts, WIDTH - columns) if texts else 0.0

    def advice(self, sheet: Mapping[str, Any]) -> float:
        sides = [side for side in (sheet["missing"], sheet["causes"], sheet["next"]) if side]
        if not sides:
            return 0.0
        lengths = [sum(map(len, side)) for side in sides]
        room = WIDTH - 1.8 * self.em - 7.0 * (len(sides) - 1)
        shares = [min(max(length / sum(lengths), 0.35), 0.65) if len(sides) > 1 else 1.0 for length in lengths]
        widths = [room * share - self.em for share in shares]
        tallest = max(
            sum(self.text(item, width) + 0.55 * self.em for item in side)
            for side, width in zip(sides, widths, strict=True)
        )
        return self.part + tallest + 1.0 * self.em

    def strip(self, group: Mapping[str, Any], sheet: Mapping[str, Any]) -> float:
        if not sheet["strips"]:
            return 0.0
        key = group["strips"][sheet["strips"][0]["strip"]]["key"]
        return self.part + 20.5 + 0.8 * self.em + self.text(key, WIDTH, 0.86)
