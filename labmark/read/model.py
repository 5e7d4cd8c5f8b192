"""What the layouts hand on: students and runs as places of cells, before any number is read."""

from collections.abc import Iterator

from labmark.dataclass import dataclass, field
from labmark.problems import Problem
from labmark.read.grid import Book, Grid, Place
from labmark.read.headers import Header
from labmark.read.layouts.view import Column
from labmark.read.words import plain

HEADING = "header of what was read"
"""Why a heading or a label says nothing about a reading."""
UNCLEAR = "which of the results this is cannot be told"
"""Of a bare result where there are several."""


def run_label(kind: str, number: int | None) -> str:
    """Return the label of a run: "Rough", "Rough 2", "Blank", "1", "2", ..."""
    if kind in ("blank", "rough"):
        return kind.title() + (f" {number}" if number is not None and number > 1 else "")
    return str(number)


def run_name(kind: str, number: int | None) -> str:
    """Return what a run is called in a sentence: "Rough", "run 1"."""
    label = run_label(kind, number)
    return label if kind in ("blank", "rough") else f"run {label}"


@dataclass(slots=True)
class RawRun:
    """One run: where its cells are, or which columns of a table are its."""

    kind: str
    """"rough" or "accurate"."""
    number: int | None = None
    """Number of the run as the sheet gives it; None where it is counted."""
    cells: dict[str, Place] = field(default_factory=dict)
    """Field (initial, final, titre, used, both, or one of an endpoint: "final at:methyl orange") -> place."""
    columns: dict[str, Column] = field(default_factory=dict)
    """Field -> the column (or row) of its cell."""
    series: str = ""
    """Name of its titration, where the sample has several."""
    trial: bool = False
    """Called a trial, which some use for the rough and some for every run."""
    zero: bool = False
    """Counted 0, as the rough is by many, and an accurate run by some."""
    can_tick: bool = False
    """The sheet has a column or row of ticks for this run."""
    unnamed: bool = False
    """Neither a heading nor a cell names it, so that a cell may hold the titres of several."""
    titre: str = ""
    """Its titre, where one does."""
    more: list[tuple[Grid, "RawRun"]] = field(default_factory=list)
    """What another sheet says of the same run, as its titre on an answer sheet."""

    def scale(self, key: str) -> int | None:
        """Return the microlitres in the unit of a field's header; None where it gives none."""
        return self.columns[key].header.scale if key in self.columns else None

    @property
    def name(self) -> str:
        """What the run is called in a sentence."""
        name = run_name(self.kind, self.number)
        return f"{self.series} {name.lower()}" if self.series else name


@dataclass(slots=True)
class RawNumber:
    """A number of a student's own, such as what was weighed: where it is, and whose."""

    header: Header
    place: Place
    run: RawRun | None = None
    """The run that it belongs to; None where it is the student's."""
    text: str = ""
    """The number, where the cell holds more than that ("Mass: 1.423 g")."""


@dataclass(slots=True)
class RawStudent:
    """One student: where the name, the claims and the runs are."""

    grid: Grid
    name: str
    """As written; empty where the sheet or the file names the student."""
    person: str = ""
    """The name before it was made distinct."""
    cells: dict[str, Place] = field(default_factory=dict)
    """student, forename, mean, result, order, or one of several ("mean:methyl orange") -> place."""
    groups: dict[str, tuple[Place | None, str]] = field(default_factory=dict)
    """Grouping -> its cell and text; None where the sheet's name gives it."""
    runs: list[RawRun] = field(default_factory=list)
    numbers: list[RawNumber] = field(default_factory=list)
    headers: dict[str, Header] = field(default_factory=dict)
    """"mean", "result", or one of several -> what heads it."""
    notes: list[str] = field(default_factory=list)
    series: str = ""
    """Name of the titration that the table, the line or the sheet is of."""
    parts: list["RawStudent"] = field(default_factory=list)
    """What stands of the student in other tables, each of another titration."""
    unclear: bool = False
    """Results that differ stand in several lines, and nothing says which result is which."""
    lines: set[int] = field(default_factory=set)
    """Rows of the student where a row is one student's or one run's, for the comments that belong to them."""

    def said(self, key: str) -> str:
        """Return what stands in a cell of the student; empty where there is none."""
        return plain(self.grid.cells[self.cells[key]].text) if key in self.cells else ""

    def filled(self) -> Iterator[tuple[str, Place]]:
        """Yield every cell that the student, or a run of the student, has, with what it is."""
        yield from self.cells.items()
        yield from ((name, place) for name, (place, _) in self.groups.items() if place is not None)
        yield from ((number.header.own, number.place) for number in self.numbers)
        for run in self.runs:
            yield from ((f"{run.kind} {run.number} {key}", place) for key, place in run.cells.items())

    def places(self) -> set[Place]:
        """Return the places of those cells."""
        return {place for _, place in self.filled()}

    def claim(self, key: str, place: Place, header: Header) -> bool:
        """Enter an own mean or result and what heads it, unless there is one already; return whether it was entered."""
        if key in self.cells:
            return False
        self.cells[key], self.headers[key] = place, header
        return True


@dataclass(slots=True)
class Reading:
    """What the layouts made of one sheet."""

    book: Book
    grid: Grid
    students: list[RawStudent] = field(default_factory=list)
    ignored: dict[Place, str] = field(default_factory=dict)
    """Cells that a layout has an explanation for."""
    understood: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    only_claims: bool = False
    """Its tables hold what students worked out or weighed, and no run: it adds to what other sheets say of them."""
    asked: list[Problem] = field(default_factory=list)
    """What is wrong with a table of answers, unless its students have their readings elsewhere."""
    no_runs: bool = False
    """Its tables name no student and no reading: beside a table of the class they are somebody else's."""
    room: int | None = None
    """Accurate runs that there are columns for; None where a run is a row, and there may be any number."""
    named: set[str] = field(default_factory=set)
    """Names of endpoints and titrations in the headings of runs and in the lines of the tables."""
    left_out: str = ""
    """Why the sheet was left out."""
    columns: dict[tuple[str, str], str] = field(default_factory=dict)
    """Meaning and header (or else place) of each column or row used -> its place, for the [columns] table."""
