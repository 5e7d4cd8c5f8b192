"""A sheet as a grid of filled cells, whatever kind of file it came from."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Literal

from labmark.dataclass import dataclass, field
from labmark.problems import Problem, letters
from labmark.written import HIDDEN

Kind = Literal["number", "text", "bool", "date", "error", "uncalculated"]
Place = tuple[int, int]
"""Row and column of a cell, both counted from 1."""


@dataclass(slots=True)
class Cell:
    """One filled cell, as the file holds it."""

    value: object
    """float or int, str, bool, or a date or time of the datetime module."""
    kind: Kind = "text"
    decimals: int | None = None
    """Decimals that the number format shows; None where the format shows as many as there are."""
    percent: bool = False
    """The number format shows a percentage: 0.123 is seen as 12.3 %."""
    struck: bool = False
    """The whole cell is struck out."""
    remark: str = ""
    """Struck-out part of a text of which the rest still counts."""

    @property
    def text(self) -> str:
        """The cell as text, for labels and messages."""
        value = self.value
        if isinstance(value, str):
            return value
        if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        return str(value)


def text_cell(pieces: Sequence[tuple[str, bool]], struck: bool = False) -> Cell:
    """Return a text of several pieces, by whether each is struck out: what is no longer counts, unless all of it is."""
    gone, live = ("".join(text for text, out in pieces if out is which) for which in (True, False))
    if gone.strip() and live.strip():
        return Cell(live, struck=struck, remark=f"{' '.join(gone.split())!r} is struck out")
    return Cell("".join(text for text, _ in pieces), struck=struck or bool(gone.strip()))


@dataclass(slots=True)
class Grid:
    """The filled cells of one sheet, with what is known of the sheet itself."""

    name: str
    """Name of the sheet; the file's name without its ending for a text table."""
    cells: dict[Place, Cell]
    prefix: str = ""
    """What stands before C2 in an address: "Results!", or nothing for a text table."""
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    """Merged ranges: first row, first column, last row, last column."""
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    hidden: bool = False
    comments: dict[Place, str] = field(default_factory=dict)
    """Comments by the place of their cell, filled or not."""
    keeps_zeros: bool | None = None
    """Text tables: whether trailing zeros are kept, so that the digits written are known; None for workbooks."""
    zeros_cut: Mapping[str, int] = field(default_factory=dict)
    """Text tables: answer (mean, result) -> decimals of others, up to which one may have lost its zeros."""

    mark: str = "."
    """Decimal mark of the file's texts; empty where none tells."""
    text_table: bool = False

    def address(self, place: Place) -> str:
        """Return the address of a cell, such as "Results!C2"."""
        return f"{self.prefix}{letters(place[1])}{place[0]}"

    @property
    def sheet(self) -> str:
        """Name of the sheet for a message; empty for a text table."""
        return "" if self.text_table else self.name

    def problem(self, what: str, do: str, place: Place | None = None, file: str = "") -> Problem:
        """Return what is wrong on the sheet, or in a cell of it."""
        return Problem(what, do, file, self.sheet, f"{letters(place[1])}{place[0]}" if place else "")


@dataclass(slots=True)
class Book:
    """The sheets of one file."""

    file: str
    """Path as the user gave it."""
    sha256: str
    grids: tuple[Grid, ...]
    notes: tuple[str, ...] = ()
    """What the teacher should know of the file itself (a guessed encoding, formats that could not be read)."""
    understood: tuple[str, ...] = ()
    """How a text table was taken apart (encoding, delimiter)."""
    text_table: bool = False
    name: str = ""
    """Of a file in a folder: its name without the ending, or that of the file that it is a copy of."""


def is_marks_workbook(book: Book) -> bool:
    """Return whether a file is a marks.xlsx, under whatever name."""
    return any(grid.name == HIDDEN and grid.hidden for grid in book.grids)


@lru_cache(maxsize=4096)
def column_number(letters: str) -> int:
    """Return the number of a column, counted from 1; the opposite of `letters`."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number
