"""The workbook's own sheet called Practical: keys in its first filled column, values beside them."""

from decimal import Decimal
from pathlib import Path

from labmark.exact import places_in
from labmark.practical.rows import opened
from labmark.read.cells import exact_claim
from labmark.read.files import load_book, tables_in
from labmark.read.grid import Book, Cell, Grid, Place
from labmark.read.words import folded, plain

NAME = "practical"
"""Name of the sheet, folded."""
_HEADS = ("value", "values", "wert", "valeur", "valor")
"""What stands over the values, folded."""
ON_COMMAND_LINE = "the practical file was given on the command line"


def is_practical(grid: Grid) -> bool:
    """Return whether a sheet is the workbook's own practical."""
    return not grid.text_table and folded(grid.name).strip() == NAME


def practical_rows(grid: Grid) -> dict[Place, Place | None]:
    """Return the places of keys -> the places of their values; None where a row opens a table, as [burette] does."""
    rows: dict[Place, Place | None] = {}
    first = min((column for _, column in grid.cells), default=1)
    for place, cell in sorted(grid.cells.items()):
        value = (place[0], first + 1)
        if place[1] != first or not plain(cell.text):
            continue
        if opened(cell.text):
            rows[place] = None
        elif value in grid.cells and folded(grid.cells[value].text) not in _HEADS:
            rows[place] = value
    return rows


def practical_ledger(grid: Grid, used: bool) -> tuple[set[str], dict[str, str]]:
    """Return the addresses of the sheet that were used, and the ignored ones with the reason."""
    rows = practical_rows(grid) if used else {}
    taken = {*rows, *filter(None, rows.values())}
    why = "a heading or a note beside the practical" if used else ON_COMMAND_LINE
    ignored = {grid.address(place): why for place in grid.cells if place not in taken}
    return {grid.address(place) for place in taken}, ignored


def read_practical_sheet(path: Path, book: Book | None = None) -> list[tuple[str, object, str]] | None:
    """Return the workbook's own practical as (key, value, address of the value); None where it has no such sheet.

    A row that opens a table has no value, and its own address.

    `book` is what `load_book` made of the path, where it is loaded already.
    A number comes as int or Decimal, with the decimals that the cell shows (0.0500); a text without
    spaces around it, anything else as it stands in the cell.
    Raises InputError where the file cannot be read, or where a folder holds no table at all.
    """
    if Path(path).is_dir():
        tables_in(Path(path))  # whether there is anything to mark comes before by what
        return None
    grids = (book or load_book(Path(path))).grids
    grid = next((grid for grid in grids if is_practical(grid)), None)
    if grid is None:
        return None
    return [
        (plain(grid.cells[key].text), value and _content(grid.cells[value]), grid.address(value or key))
        for key, value in practical_rows(grid).items()
    ]


def _content(cell: Cell) -> object:
    """Return what a cell holds; a number with the zeros that its format shows, and all digits."""
    if cell.kind != "number" or not isinstance(cell.value, (int, float)):
        return cell.text.strip() if cell.kind == "text" else cell.value
    number, places = exact_claim(cell.value), cell.decimals or 0
    if places > places_in(number):
        return number.quantize(Decimal(1).scaleb(-places))
    return cell.value if isinstance(cell.value, int) else number
