"""A sheet seen row by row or column by column, so that a layout is written once and read either way round."""

from collections.abc import Mapping
from decimal import Decimal

from labmark.dataclass import dataclass, field
from labmark.problems import letters
from labmark.read.cells import read_number
from labmark.read.grid import Cell, Grid, Place
from labmark.read.headers import WHO, Header, Meant

NAMES = "(names without a header)"
"""What a column of names is called where nothing heads it."""


class View:
    """The filled cells by line and position: rows and columns, or columns and rows where the sheet is turned."""

    def __init__(self, grid: Grid, *, turned: bool = False) -> None:
        self.grid = grid
        self.turned = turned
        self.lines: dict[int, dict[int, Cell]] = {}
        for row, column in sorted(grid.cells, key=(lambda place: (place[1], place[0])) if turned else None):
            line, at = (column, row) if turned else (row, column)
            self.lines.setdefault(line, {})[at] = grid.cells[row, column]
        self._covers = _covers(grid, turned)

    def place(self, line: int, at: int) -> Place:
        """Return the row and column of a line and position."""
        return (at, line) if self.turned else (line, at)

    def get(self, line: int, at: int) -> Cell | None:
        """Return the cell of a line and position, if it is filled."""
        return self.lines.get(line, {}).get(at)

    def label(self, line: int, at: int) -> Cell | None:
        """Return the cell, or the one of the merged range that covers it: for headers and names, never for readings."""
        return self.get(*self.origin(line, at))

    def origin(self, line: int, at: int) -> tuple[int, int]:
        """Return where a label stands: in the cell, or in the first one of the merged range that covers it."""
        return self._covers.get((line, at), (line, at)) if self.get(line, at) is None else (line, at)

    def covered(self, line: int, at: int) -> bool:
        """Return whether a merged range covers the cell (other than its first one)."""
        return (line, at) in self._covers

    def record_name(self, line: int) -> str:
        """Return the name of a line: "row 3", or "column C" where the sheet is turned."""
        return f"column {letters(line)}" if self.turned else f"row {line}"

    def line_name(self, at: int) -> str:
        """Return the name of a position: "column C", or "row 3" where the sheet is turned."""
        return f"row {at}" if self.turned else f"column {letters(at)}"


def _covers(grid: Grid, turned: bool) -> dict[tuple[int, int], tuple[int, int]]:
    """Return, for every cell under a merged range, the range's first cell."""
    covers: dict[tuple[int, int], tuple[int, int]] = {}
    for top, left, bottom, right in grid.merged:
        for row in range(top, min(bottom, top + 2000) + 1):
            for column in range(left, min(right, left + 500) + 1):
                if (row, column) != (top, left):
                    covers[(column, row) if turned else (row, column)] = (left, top) if turned else (top, left)
    return covers


@dataclass(slots=True)
class Column:
    """One field of a table: its position and what its header says."""

    at: int
    header: Header
    header_places: list[Place] = field(default_factory=list)
    shared: bool = False
    """It stands further up, and serves the tables between as well."""


@dataclass(slots=True)
class Table:
    """A table on a sheet: the header's lines, its fields, and the lines that may be records."""

    view: View
    header_lines: list[int]
    columns: list[Column]
    records: list[int]
    overrides: Meant
    """What the teacher says of headings, and the names that they may have."""
    unit_lines: list[int] = field(default_factory=list)
    series: dict[int, str] = field(default_factory=dict)
    """Record -> the titration that a cell of it names."""

    def of(self, *fields: str) -> list[Column]:
        """Return the columns of these fields, in order."""
        return [column for column in self.columns if column.header.field in fields]

    def filled(self, line: int, *fields: str) -> list[Column]:
        """Return the columns of these fields with something in them in a line."""
        return [column for column in self.of(*fields) if self.cell(line, column) is not None]

    def cell(self, line: int, column: Column) -> Cell | None:
        """Return what stands in a line and a column, if anything does."""
        return self.view.get(line, column.at)

    def label(self, line: int, column: Column) -> Cell | None:
        """Return the same, or what stands in the merged range that covers it."""
        return self.view.label(line, column.at)

    def place(self, line: int, column: Column) -> Place:
        """Return the row and column of that cell."""
        return self.view.place(line, column.at)

    def label_place(self, line: int, column: Column) -> Place | None:
        """Return where the label of a line stands, in the cell or in a merged range that covers it."""
        at = self.view.origin(line, column.at)
        return None if self.view.get(*at) is None else self.view.place(*at)

    def places(self, line: int, columns: Mapping[str, Column]) -> dict[str, Place]:
        """Return where the filled cells of a line stand, by field."""
        return {key: self.place(line, column) for key, column in columns.items() if self.cell(line, column) is not None}

    def cells(self, column: Column) -> list[Cell]:
        """Return what the records hold in a column."""
        return [cell for line in self.records if (cell := self.cell(line, column)) is not None]

    def number(self, line: int, column: Column) -> Decimal | None:
        """Return the number in a line and a column, whatever its decimal mark; None where there is none."""
        cell = self.cell(line, column)
        return None if cell is None else read_number(cell, "," if "," in cell.text else ".").number

    @property
    def names_students(self) -> bool:
        """Whether a column holds the students' names, or what stands for them."""
        return bool(self.of(*WHO))
