"""The students' sheets: an accessible PDF page for each, and all of them in one file for printing.

The data of the class goes to Typst once, as JSON; each document is then one line with the data of the students whose
pages it holds. `feedback.pdf` comes last and is bound from the single sheets; where two slips share a page they are
laid out once more. What a student typed is only ever data, never markup.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from typing import Any

from labmark.outputs.bound import bound
from labmark.outputs.each import results_of
from labmark.outputs.fit import DENSITIES, LARGE, SLIPS, first_density, first_of_size
from labmark.outputs.forms import forms_of
from labmark.outputs.printable import REPLACEMENT, all_printable, families, fonts, printable, printable_name
from labmark.outputs.sheet_data import class_data, student_data
from labmark.places import templates_folder

Tree = Mapping[str, Any]
Page = tuple[int, int]
"""Place of the student in the data, and place of the density in `DENSITIES`."""

STANDARD = "ua-1"
"""PDF/UA-1: readable with a screen reader."""
DATA_CELL = re.compile(rb"/S/TD(/P \d+ 0 R/A\[<</O/Table)(/Headers\[\(U\d+x(\d+)y\d+\)\])(?=>>)")
"""Cell of a table that is no header, in a PDF written by Typst."""
COUNT = re.compile(rb"/Type\s*/Pages\s*/Count (\d+)")


def sheet_files(
    tree: Tree, *, progress: Callable[[int], None] | None = None, jobs: int = 1
) -> Iterator[tuple[str, bytes]]:
    """Yield (path, PDF) of each student's sheet, in the order of the class, and after that `feedback.pdf`.

    `path` is the student's `sheet`, such as "feedback/01 S01.pdf"; a student whose `sheet` is None gets none.
    `feedback.pdf` has every sheet on paper of its own, printed on both sides, a bookmark each.
    `progress` is called with how many are done. `jobs` threads share the work; the bytes do not depend on it.
    """
    book = _Book(tree)
    singles = book.singles(jobs, progress)
    yield from zip(book.paths, singles, strict=True)
    yield "feedback.pdf", bound(book.cover(), book.shared() if book.group["slips"] else singles)


def sheet_warnings(tree: Tree) -> list[str]:
    """Return what the teacher should know of the sheets, a sentence each: names and titles that cannot be printed."""
    warnings = []
    if REPLACEMENT in printable(tree["practical"]["title"]):
        warnings.append("The title of the practical holds characters that cannot be printed; � stands for them.")
    for student in tree["students"]:
        name = f"Student {student['number']}"
        if student["student"] != name and printable_name(student["student"], student["number"]) == name:
            where = f" ({', '.join(student['cells'][:1])})" if student.get("cells") else ""
            warnings.append(
                f"The name of student {student['number']}{where} cannot be printed; the sheet says “{name}”."
            )
    return warnings


class _Book:
    """The sheets of one class: their data, and a compiler for each thread."""

    def __init__(self, tree: Tree) -> None:
        places = [place for place, student in enumerate(tree["students"]) if student.get("sheet")]
        self.paths: list[str] = [tree["students"][place]["sheet"] for place in places]
        group, results, forms = class_data(tree), results_of(tree), forms_of(tree)
        self.group = all_printable(forms.all(group))
        self.sheets = [
            _named(forms.all(student_data(tree, place, group, results)), self.group["title"]) for place in places
        ]
        self.steps = LARGE if self.group["large"] else SLIPS if self.group["slips"] else DENSITIES
        data = {
            "title": f"{forms('Feedback')}: {self.group['title']}",
            "fonts": families(),
            "class": self.group,
            "language": forms.language,
            "words": forms.labels("sheet.typ"),
            "densities": [asdict(density) for density in self.steps],
            "several": any(sheet["several"] for sheet in self.sheets),
        }
        self.text = json.dumps(data, ensure_ascii=False)
        self.few: bool = self.group["few"]
        # In a class of so few that a sheet must not tell of another one, the smallest size is that of all.
        self.densities = [len(self.steps) - 1] if self.few else self._guessed(0)
        self.densities = self._guessed(self._least())
        # A compiler serves one thread at a time.
        self._own = threading.local()

    def singles(self, jobs: int, progress: Callable[[int], None] | None) -> list[bytes]:
        """Return each sheet as a PDF, all in one text size."""
        places = range(len(self.sheets))
        # Typst lets other threads run while it works.
        with ThreadPoolExecutor(max_workers=max(1, jobs)) as pool:
            made = []
            for place, pdf in zip(places, pool.map(self._single, places), strict=True):
                made.append(pdf)
                if progress is not None:
                    progress(place + 1)
            least = self._least()
            larger = [place for place in places if self.densities[place] < least]
            guessed = self._guessed(least) if larger else []
            for place in larger:
                self.densities[place] = guessed[place]
            for place, pdf in zip(larger, pool.map(self._single, larger), strict=True):
                made[place] = pdf
        return made

    def _guessed(self, least: int) -> list[int]:
        """Return the density that should do for each sheet, from `least` on."""
        return [first_density(self.group, sheet, self.steps, least) for sheet in self.sheets]

    def _least(self) -> int:
        """Return the first density with the text size of the fullest sheet."""
        return first_of_size(self.steps, min((self.steps[place].size for place in self.densities), default=18.0))

    def cover(self) -> bytes:
        """Return a PDF with the title and the language of the class, and nothing on its page."""
        return self._compile("paper", ())

    def shared(self) -> Iterator[bytes]:
        """Yield the pages as they are printed where two slips go on one, set as they were singly."""
        last = len(self.steps) - 1
        papers: list[list[Page]] = []
        for page in enumerate(self.densities):
            # Who needs the last density needs a whole page.
            if papers and len(papers[-1]) == 1 and last not in (papers[-1][0][1], page[1]):
                papers[-1].append(page)
            else:
                papers.append([page])
        return (self._compile("paper", pages) for pages in papers)

    def _single(self, place: int) -> bytes:
        """Return one sheet as a PDF of one page, set more tightly than was guessed where it must be.

        In large print, and where the tightest does not do, it is as many pages as it takes.
        """
        while True:
            pdf = self._compile("single", [(place, self.densities[place])])
            if self.densities[place] == len(self.steps) - 1 or _pages(pdf) == 1:
                return pdf
            self.densities[place] += 1

    def _compile(self, function: str, pages: Sequence[Page]) -> bytes:
        """Return the document that a function of the template makes of pages beside each other in the class."""
        if not hasattr(self._own, "compiler"):
            self._own.compiler = _compiler(self.text)
        # The comma after each makes a list of one page a list too.
        listed = " ".join(f"({_literal(self.sheets[place])}, {density})," for place, density in pages)
        line = f'#import "sheet.typ": {function}\n#{function}(({listed}))\n'.encode()
        pdf: bytes = self._own.compiler.compile(input=line, format="pdf", pdf_standards=[STANDARD])
        return DATA_CELL.sub(_row_headers, pdf)


def _literal(data: Any) -> str:
    """Return the expression of Typst that reads data: JSON within a string, in which nothing else has a meaning."""
    text = json.dumps(data, ensure_ascii=False).replace("\\", "\\\\").replace('"', '\\"')
    return f'json(bytes("{text}"))'


def _compiler(data: str) -> Any:
    import typst

    # Given with each sheet, the data would make Typst build its library anew for each.
    return typst.Compiler(root=str(templates_folder()), font_paths=fonts(), sys_inputs={"data": data})


def _row_headers(cell: re.Match[bytes]) -> bytes:
    """Return a cell of a table as the header of its row where it is the first.

    Typst has no way to say so. The headers of a cell then follow from those of its row and column and need not be
    listed: spaces stand for the list, so that everything else in the file stays where it is.
    """
    start, listed, column = cell.groups()
    kind, scope = (b"/S/TH", b"/Scope/Row") if column == b"0" else (b"/S/TD", b"")
    return kind + start + scope.ljust(len(listed))


def _pages(pdf: bytes) -> int:
    """Return how many pages a PDF written by Typst has."""
    found = COUNT.search(pdf)
    if found is None:
        raise ValueError("the PDF has no page tree that can be read; is this a tried version of typst?")
    return int(found[1])


def _named(sheet: dict[str, Any], practical: str) -> dict[str, Any]:
    """Return the data of a sheet with every text printable, and the name as it is printed."""
    name = printable_name(sheet["name"], sheet["number"])
    return {**all_printable(sheet), "name": name, "title": f"{name}: {practical}"}
