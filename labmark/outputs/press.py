"""Sheets printed as PDF/UA-1: each as a document of its own, and all of them bound.

The data of the class goes to Typst once, as JSON; each document is then one line with the data of the students whose
pages it holds. `feedback.pdf` comes last and is bound from the single sheets; where two slips share a page they are
laid out once more. A process of its own may do this (`labmark.beside`), so nothing here imports what judges a class.
"""

import json
import re
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

from labmark.outputs.fit import Density, first_density
from labmark.outputs.printable import fonts
from labmark.places import templates_folder

Progress = Callable[[int, int], None]
"""Called with how many sheets are done, and of how many."""
Page = tuple[int, int]
"""Place of the student in the manuscript, and place of the density among its steps."""

STANDARD = "ua-1"
"""PDF/UA-1: readable with a screen reader."""
DOTS = 200
"""Of a picture, an inch."""
DATA_CELL = re.compile(rb"/S/TD(/P \d+ 0 R/A\[<</O/Table)(/Headers\[\(U\d+x(\d+)y\d+\)\])(?=>>)")
"""Cell of a table that is no header, in a PDF written by Typst."""
COUNT = re.compile(rb"/Type\s*/Pages\s*/Count (\d+)")


class Manuscript(NamedTuple):
    """What is to be printed, as data for the template."""

    paths: Sequence[str]
    """Where each sheet goes: "feedback/01 S01.pdf"."""
    sheets: Sequence[dict[str, Any]]
    group: dict[str, Any]
    """The class."""
    steps: Sequence[Density]
    """How tightly a page may be set, the roomiest first."""
    text: str
    """All that is the same for every sheet, as JSON."""


def printed(manuscript: Manuscript, progress: Progress | None = None, *, jobs: int = 1) -> Iterator[tuple[str, bytes]]:
    """Yield (path, PDF) of each sheet in turn, and after that `feedback.pdf`: every sheet on paper of its own.

    `jobs` threads share the work; the bytes do not depend on it.
    """
    from labmark.outputs.bound import bound

    press = Press(manuscript)
    singles = press.singles(jobs, progress)
    yield from zip(manuscript.paths, singles, strict=True)
    yield "feedback.pdf", bound(press.cover(), press.shared() if manuscript.group["slips"] else singles)


def imported() -> None:
    """Import what printing needs, ahead of it."""
    import typst  # noqa: F401

    import labmark.outputs.bound  # noqa: F401


class Press:
    """The sheets of one class: how tightly each is set, and a compiler for each thread."""

    def __init__(self, manuscript: Manuscript) -> None:
        _, self.sheets, self.group, self.steps, self.text = manuscript
        # In a class of so few that a sheet must not tell of another one, the smallest size is that of all.
        self.densities = [len(self.steps) - 1] if self.group["few"] else self._guessed(0)
        self.densities = self._guessed(self._least())
        # A compiler serves one thread at a time.
        self._own = threading.local()

    def singles(self, jobs: int, progress: Progress | None) -> list[bytes]:
        """Return each sheet as a PDF, all in one text size."""
        places = range(len(self.sheets))
        # Typst lets other threads run while it works.
        with ThreadPoolExecutor(max_workers=max(1, jobs)) as pool:
            made = []
            for place, pdf in zip(places, pool.map(self._single, places), strict=True):
                made.append(pdf)
                if progress is not None:
                    progress(place + 1, len(places))
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
        size = min((self.steps[place].size for place in self.densities), default=18.0)
        return next(place for place, density in enumerate(self.steps) if density.size == size)

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
            self._own.compiler = compiler(self.text)
        # The comma after each makes a list of one page a list too.
        listed = " ".join(f"({_literal(self.sheets[place])}, {density})," for place, density in pages)
        line = f'#import "sheet.typ": {function}\n#{function}(({listed}))\n'.encode()
        pdf: bytes = self._own.compiler.compile(input=line, format="pdf", pdf_standards=[STANDARD])
        return DATA_CELL.sub(_row_headers, pdf)


def _literal(data: Any) -> str:
    """Return the expression of Typst that reads data: JSON within a string, in which nothing else has a meaning."""
    text = json.dumps(data, ensure_ascii=False).replace("\\", "\\\\").replace('"', '\\"')
    return f'json(bytes("{text}"))'


def compiler(data: str) -> Any:
    """Return what compiles documents of our templates, whose data is this."""
    import typst

    # Given with each sheet, the data would make Typst build its library anew for each.
    return typst.Compiler(root=str(templates_folder()), font_paths=fonts(), sys_inputs={"data": data})


def png(svg: bytes, wide: float, high: float) -> bytes:
    """Return a picture of so many inches as dots, `DOTS` to the inch."""
    source = f'#set page(width: {wide}in, height: {high}in, margin: 0in)\n#image(bytes(sys.inputs.data), format: "svg")'
    made: bytes = compiler(svg.decode()).compile(input=source.encode(), format="png", ppi=DOTS)
    return made


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
