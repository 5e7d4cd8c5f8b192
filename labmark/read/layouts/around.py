"""What stands around a table that holds no names: the student, the bench, as a label or a title over it."""

from labmark.dataclass import dataclass, field
from labmark.read.grid import Grid, Place
from labmark.read.headers import GROUPS, READINGS, WHO, Header, titration_named, understand
from labmark.read.layouts.find import Meanings, capitalised, numberish, run_named, titled
from labmark.read.layouts.lines import LONGEST_NAME, MOST_NAME_WORDS, is_name_like
from labmark.read.layouts.view import Table
from labmark.read.model import RawNumber
from labmark.read.own_values import read_own
from labmark.read.words import LABELLED, cell_words, plain, tokens

LONGEST_BLOCK = 24
"""Rows of a block."""
Extent = tuple[int, int, int, int]
"""First row, first column, last row, last column."""


@dataclass(slots=True)
class Around:
    """What the cells near a table say of its student."""

    name: str = ""
    place: Place | None = None
    groups: dict[str, tuple[Place | None, str]] = field(default_factory=dict)
    """Grouping -> place and text."""
    numbers: list[RawNumber] = field(default_factory=list)
    """Numbers of the student's own that a label names."""
    claims: dict[str, Place] = field(default_factory=dict)
    """The student's own mean or result -> a cell below the table with its label in it."""
    ignored: dict[Place, str] = field(default_factory=dict)
    run: Header | None = None
    """The run that is named there."""
    run_place: Place | None = None
    series: str = ""
    """The titration that is named there."""
    title: str = ""
    """A text over the table that may be a name, where several tables have one each."""
    title_place: Place | None = None


def extent(table: Table) -> Extent:
    """Return the rows and columns that a table takes up."""
    reading = table.of(*READINGS, "value", "mean")
    with_numbers = [line for line in table.records if any(numberish(table.cell(line, one)) for one in reading)]
    lines = [*table.header_lines, *(with_numbers or table.records)]
    ats = [column.at for column in table.columns if not column.shared]
    if table.view.turned:
        return min(ats), min(lines), max(ats), max(lines)
    return min(lines), min(ats), max(lines), max(ats)


def look_around(meanings: Meanings, table: Table, others: list[Extent]) -> Around:
    """Return what stands over a table and beside it, down from the table before it, and below it."""
    top, left, bottom, right = extent(table)
    over = [other for other in others if other[1] <= right and other[3] >= left]
    above = max((other[2] for other in over if other[2] < top), default=0)
    below = min((other[0] for other in over if other[0] > bottom), default=bottom + LONGEST_BLOCK)
    before = max(
        (other[3] for other in others if other[3] < left and other[0] <= bottom and other[2] >= top), default=0
    )
    found = Around()
    header = {place for column in table.columns for place in column.header_places}
    lines = meanings.lines
    near = [(row, at) for row in range(above + 1, top) for at in lines.get(row, ()) if left - 1 <= at <= right]
    apart = {column.at for column in table.columns if column.shared and not table.view.turned}  # the runs of all
    beside = [(row, at) for row in range(top, bottom + 1) for at in lines.get(row, ()) if before < at < left]
    beside = [place for place in beside if place[1] not in apart]
    under = [(row, at) for row in range(bottom + 1, below) for at in lines.get(row, ()) if left - 1 <= at <= right]
    for place in sorted([*near, *beside], key=lambda at: (-at[0], at[1])):
        if place not in found.ignored:
            _look_at(meanings, place, found, (top, left))
    if table.view.turned:
        _corner(meanings, table, header, found)
    for place in sorted(under):
        _look_under(meanings, place, found)
    return found


def _look_under(meanings: Meanings, place: Place, found: Around) -> None:
    """Take the student's own mean and result where each stands in a cell with its label: Mean titre = 25.33 cm3.

    What follows the mean leads to the result, and the last is it; before that the concentration may be a given one.
    """
    cell = meanings.grid.cells[place]
    match = LABELLED.fullmatch(plain(cell.text)) if cell.kind == "text" else None
    header = understand(match["label"], meanings.overrides) if match else Header()
    if header.field not in ("mean", "result") or read_own(cell, "", claim=True).state != "number":
        return
    if header.field == "mean":
        found.claims.setdefault(header.key, place)
    elif found.claims or not header.unknown:
        found.claims[header.key] = place


def _look_at(meanings: Meanings, place: Place, found: Around, inside: Place) -> None:
    """Take what a cell says of the student of a table that begins `inside`."""
    cell = meanings.grid.cells[place]
    text, label = plain(cell.text) if cell.kind == "text" else "", meanings.by_place.get(place)
    match = LABELLED.fullmatch(text)
    if series := titration_named(match["value"] if match else text, meanings.overrides):
        found.series = found.series or series
        found.ignored[place] = "names the titration"
        return
    if match and _take_members(match["label"], match["value"], place, found):
        return
    if match and _take(understand(match["label"], meanings.overrides), place, match["value"], found):
        return
    if _take(Header("student"), place, titled(text), found):
        return
    _take_run(meanings, place, found)
    alone = place[1] < inside[1] or len(meanings.lines[place[0]]) == 1
    if plain(cell.text) == "0" and alone and found.run is None:
        found.run, found.run_place = Header("run", kind="rough", number=0), place  # who counts the rough, counts it 0
    if label is not None and label.field in ("student", "code", "group", "surname", "forename", "own"):
        _take_labelled(meanings, place, label, found, inside)
    other = match is not None and "other" in understand(match["label"]).tags  # Teacher: AB
    number = match is not None and match["value"][:1].isdigit()  # Moles of acid = 0.0012, below the block before
    told = found.title or place in found.ignored or place == found.place or number or other
    beside = place[1] < inside[1] and place[0] >= inside[0]
    may_be = _may_be_name(meanings.grid, place, label) or (beside and _stands_below_names(meanings, place))
    if not told and (may_be or {*tokens(text)} & cell_words("not_the_class")):
        found.title, found.title_place = plain(cell.text), place


def _take_members(label: str, value: str, place: Place, found: Around) -> bool:
    """Take a group's number and who is in it, Group 1: Ada B, Ben C, where a text says both; return whether it does."""
    header, (*what, number) = understand(label), label.split() or [""]
    counted = bool(what) and (number.isdigit() or (len(number) == 1 and number.isupper()))
    of_people = bool(capitalised(value)) and not {*tokens(value)} & cell_words("section")
    if header.field != "group" or not counted or not of_people:
        return False
    found.groups.setdefault(header.group if header.group in GROUPS.values() else " ".join(what), (place, number))
    if not found.title:
        found.title, found.title_place = value, place
    return True


def _stands_below_names(meanings: Meanings, place: Place) -> bool:
    """Return whether the first heading of a column is one of names: then 1023, Group 1 and Mark T are such."""
    own = meanings.by_place.get(place, Header())
    if run_named(meanings.grid.cells[place]) or (own.field in (*READINGS, "mean", "result") and not own.unknown):
        return False
    above = [row for row, column in meanings.by_place if column == place[1] and row < place[0]]
    header = meanings.by_place.get((min(above, default=0), place[1]), Header())
    return header.field in WHO and not header.unknown and header.number is None


def _take_run(meanings: Meanings, place: Place, found: Around) -> None:
    run = run_named(meanings.grid.cells[place], meanings.overrides)
    if run is not None and (run.names_run or "trial" in run.tags) and found.run is None:
        found.run, found.run_place, found.series = run, place, found.series or run.series


def _take_labelled(meanings: Meanings, place: Place, label: Header, found: Around, inside: Place) -> None:
    """Take the value to the right of a label, unless it is the table's."""
    for step in (1, 2, 3):
        beside = (place[0], place[1] + step)
        cell = meanings.grid.cells.get(beside)
        if cell is not None:
            heads = label.field != "own" and _heads_names(meanings, place, beside)
            if heads or (beside[0] >= inside[0] and beside[1] >= inside[1]):
                return
            if beside not in meanings.by_place and _take(label, beside, plain(cell.text), found):
                found.ignored[place] = "header: names the value beside it"
            return


def _heads_names(meanings: Meanings, label: Place, corner: Place) -> bool:
    """Return whether names stand below a label, and labels below the cell beside it: Student | Reading | 1 | 2.

    A label that comes again heads none: below Name | Ada the same two columns may hold NaOH | Initial.
    """
    cells, (below, beside) = meanings.grid.cells, ((row + 1, column) for row, column in (label, corner))
    header = meanings.by_place.get(beside)
    name = below in cells and _may_be_name(meanings.grid, below, meanings.by_place.get(below))
    if not name or header is None or header.field not in READINGS:
        return False
    in_column = (at for at in meanings.by_place if at[1] == label[1] and at in cells)
    return sum(cells[at].text == cells[label].text for at in in_column) == 1


def _take(header: Header, place: Place, value: str, found: Around) -> bool:
    if not value:
        return False
    if header.field in ("student", "code", "surname") and not found.name:
        found.name, found.place = value, place
        return True
    if header.field == "group" and header.group and header.group not in found.groups:
        found.groups[header.group.split(":")[0].strip()] = (place, value)
        return True
    if header.field == "own" and not any(number.header.own == header.own for number in found.numbers):
        found.numbers.append(RawNumber(header, place, text=value))
        return True
    return False


def _may_be_name(grid: Grid, place: Place, label: Header | None) -> bool:
    cell = grid.cells[place]
    text = plain(cell.text)
    if cell.kind != "text" or numberish(cell) or (label is not None and label.field and not _names_one(label, text)):
        return False
    return 0 < len(text) <= LONGEST_NAME and len(tokens(text)) <= MOST_NAME_WORDS


def _names_one(label: Header, text: str) -> bool:
    """Return whether a label is itself a name: Student A, Pupil 3, Group 1, Mean Sok."""
    if label.tags & {"mean", "statistic"}:
        return is_name_like(text)
    if label.field == "group":
        return len(tokens(text)) > 1
    return label.field in ("student", "code") and (label.number is not None or label.unknown == 1)


def _corner(meanings: Meanings, table: Table, header: set[Place], found: Around) -> None:
    """Look at the corner of a block, where its labels meet the row that names the runs."""
    for column in table.of("run", "student"):
        for place in column.header_places:
            label, cell = meanings.by_place.get(place), meanings.grid.cells[place]
            _take_run(meanings, place, found)
            named = label.series if label else titration_named(cell.text, meanings.overrides)
            found.series = found.series or named
            if not found.title and found.series == "" and place in header and _may_be_name(meanings.grid, place, label):
                found.title, found.title_place = plain(cell.text), place
