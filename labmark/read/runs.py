"""The cells of a run -> its readings, its tick, and the account of its cells.

Both readings may stand in one cell of a sheet that has a column for each, as in 30.00 - 50.00 + 0.00 - 5.30: they are
taken where the run's other cells leave no doubt: empty, or the first or the last reading once more.
"""

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import chain
from typing import Any

from labmark.dataclass import dataclass, field, replace
from labmark.exact import PER_CM3
from labmark.read.cells import (
    MOST_LITRES,
    Pair,
    Value,
    looks_like_date,
    read_number,
    read_pair,
    read_refilled,
    read_sum,
    read_tick,
    read_total,
    shortened,
    spoilt,
    unusable,
)
from labmark.read.grid import Cell, Grid, Place
from labmark.read.headers import understand
from labmark.read.model import RawRun, RawStudent
from labmark.read.words import folded, plain

BARE_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d*)?")
MICROLITRE = Decimal("0.001")
READINGS = ("initial", "final", "titre")
ENDS = ("initial", "final")
AGAIN = ("initial again", "final again")
NOTHING = Value("nothing")
FARTHEST = Decimal(10**9)
"""Largest number [cm³] that is still taken for a misplaced point rather than for no reading at all."""
Parts = tuple[tuple[int, int], ...]
"""Readings [µL] of each part of a run whose burette was refilled; empty where it was not."""


def bare_decimals(text: str) -> int:
    """Return how many decimals a bare number shows; 0 for anything else."""
    return len("".join(re.split("[.,]", text)[1:])) if BARE_NUMBER.fullmatch(text.strip()) else 0


@dataclass(slots=True)
class Account:
    """The ledger while it is being filled, by address."""

    used: set[str] = field(default_factory=set)
    ignored: dict[str, str] = field(default_factory=dict)
    rejected: dict[str, str] = field(default_factory=dict)

    def set_aside(self, addresses: Iterable[str], why: str) -> None:
        """Ignore cells, whatever was entered of them before."""
        for address in addresses:
            self.used.discard(address)
            self.rejected.pop(address, None)
            self.ignored[address] = why


@dataclass(slots=True)
class Entry:
    """The cells of one student, run or number while they are read, each entered in the account."""

    account: Account
    grid: Grid
    notes: list[str] = field(default_factory=list)
    cells: dict[str, str] = field(default_factory=dict)
    """Field -> address."""
    odd: dict[str, str] = field(default_factory=dict)
    """Field -> what stands there and cannot be understood."""
    values: dict[str, Value] = field(default_factory=dict)

    def enter(self, key: str, place: Place, value: Value) -> Value:
        """Enter a cell by what it says, which is returned; without decimals where the file drops trailing zeros."""
        address, text = self.grid.address(place), self.grid.cells[place].text
        cut = bare_decimals(text) < self.grid.zeros_cut.get(key.partition(":")[0], 0)
        if (cut or self.grid.keeps_zeros is False) and BARE_NUMBER.fullmatch(text.strip()):
            value = replace(value, decimals=None)
        if value.state == "nothing":
            self.account.ignored[address] = value.why
            return value
        self.cells[key] = address
        if value.state == "odd":
            self.odd[key] = value.spoilt or shortened(plain(text))
            self.account.used.discard(address)
            self.account.rejected[address] = value.why
        elif address not in self.account.rejected:
            self.account.used.add(address)
        return value

    def use(self, key: str, place: Place) -> None:
        """Enter a cell that says what it is wanted for."""
        self.enter(key, place, Value("number"))

    def on(self, grid: Grid) -> "Entry":
        """Return the same entry for cells of another sheet."""
        return self if grid is self.grid else replace(self, grid=grid)

    def value(self, key: str) -> Value:
        """Return what was read for a field."""
        return self.values.get(key, NOTHING)


@dataclass(slots=True)
class Done:
    """A run that was done, or one endpoint of it, before it becomes a row of the table."""

    run: RawRun
    entry: Entry
    parts: Parts
    ticked: bool | None
    of_run: dict[str, Any] = field(default_factory=dict)
    """Numbers of its own, and its own result."""

    @property
    def kind(self) -> str:
        """The kind of the run; the rough, where its student calls it so among the ticks."""
        return "rough" if says_rough(self.entry.grid, self.run) else self.run.kind

    @property
    def spoilt(self) -> tuple[str, ...]:
        """Fields that the spreadsheet spoilt."""
        return tuple(key for key in (*READINGS, "used") if self.entry.value(key).spoilt)

    @property
    def tick(self) -> str:
        """What the run is ticked with in its own cell; empty where it is not."""
        used = self.run.cells.get("used")
        return folded(self.entry.grid.cells[used].text).strip() if used and self.ticked else ""


class RunReader:
    """Reads the cells of runs, and enters each in the account."""

    def __init__(self, endpoints: Sequence[str]) -> None:
        """Take the names of the endpoints of a run, where it has several."""
        self.account = Account()
        self.endpoints = endpoints
        self.unit_notes: dict[str, None] = {}
        """What the teacher should know of the units in headings."""
        self.hidden_digits = False
        """A reading's decimals cannot be known from its format."""

    def read_run(self, raw: RawStudent, run: RawRun, notes: list[str]) -> Done:
        """Read the cells of a run."""
        entry = Entry(self.account, raw.grid, notes)
        parts: Parts = ()
        if "both" in run.cells:
            parts = self._both(run, entry)
        elif run.series not in self.endpoints and not run.titre:
            parts = self._one_cell(run, entry)
        for key in READINGS:
            if key in run.cells and (key not in entry.values or "both" in run.cells):
                entry.values[key] = self._reading(run, key, entry)
        ticks = [(run, entry), *((other, entry.on(grid)) for grid, other in run.more)]
        for other, on in ticks[1:]:
            for key, place in other.cells.items():
                if key in READINGS and key not in entry.values:
                    entry.values[key] = self._reading(other, key, on)
                elif key != "used":
                    self.account.ignored[on.grid.address(place)] = "the same run once more; the first was taken"
        parts = parts or self._added(run, entry)
        ticked = next((tick for each in ticks if (tick := self._tick(*each)) is not None), None)
        return Done(run, entry, parts or self._refilled(run, entry), ticked)

    def was_not_done(self, run: RawRun, entry: Entry) -> bool:
        """Return whether nothing but noughts stand in a run, or an error: formulas, and cells filled in beforehand.

        Where the run has no column for readings an error is a titre that cannot be read.
        """
        titre, initial = entry.value("titre"), entry.value("initial")
        if initial.number == entry.value("final").number == 0 and not titre.number:
            self.account.set_aside(entry.cells.values(), "noughts throughout: a run that was not done")
            return True
        begun = "final" in entry.cells or initial.number or initial.state == "odd"
        subtracted = bool(titre.spoilt) and (not run.columns or not {*ENDS, "both"}.isdisjoint(run.columns))
        if begun or titre.number or not (titre.state == "number" or subtracted):
            return False
        why = "a titre of nought without readings: a run that was not done"
        self.account.set_aside(entry.cells.values(), why)
        return True

    def _reading(self, run: RawRun, key: str, entry: Entry) -> Value:
        place, scale = run.cells[key], run.scale(key)
        cell = entry.grid.cells[place]
        cell = replace(cell, value=run.titre, remark=f"written as {plain(cell.text)[:60]!r}") if run.titre else cell
        value = read_number(cell, entry.grid.mark, thousands=scale is not None and scale < PER_CM3)
        if value.state == "number":
            value = self.scaled(value, scale)
        number = value.number
        if number is not None and abs(number) > FARTHEST:
            value = unusable(plain(cell.text), "is beyond any volume")
        elif number is not None and number % MICROLITRE:
            value = _more_digits(cell)
        elif key == "titre" and value.state == "odd" and (terms := read_sum(cell.text, entry.grid.mark)):
            whole = sum((each.number or Decimal(0) for each in terms), Decimal(0))
            value = replace(terms[-1], number=whole, remark=f"written as {plain(cell.text)[:60]!r}")
        elif number is not None and value.decimals is None and key != "titre":
            self.hidden_digits = True
        return entry.enter(key, place, value)

    def scaled(self, value: Value, scale: int | None) -> Value:
        """Return a volume in cm³ where the header gives it in another unit; one in the cell itself has been seen to."""
        if scale is None or scale == PER_CM3 or value.number is None or value.unit:
            return value
        if scale > PER_CM3 and abs(value.number) > MOST_LITRES:
            self.unit_notes["readings headed in dm3 that only fit cm3 were taken as cm3; look at the heading"] = None
            return value
        return value.scaled(3 if scale > PER_CM3 else -3)

    def _refilled(self, run: RawRun, entry: Entry) -> Parts:
        """Return the parts of a run whose second part has readings of its own; the last final becomes the run's."""
        values, again = entry.values, [key for key in AGAIN if key in run.cells]
        if not again:
            return ()
        for key in again:
            values[key] = self._reading(run, key, entry)
            if values[key].state == "odd":  # without it the first part would pass for the whole run
                values[key.split()[0]], entry.odd[key.split()[0]] = values[key], entry.odd[key]
        first, last, start, end = (microlitres(entry.value(key)) for key in (*ENDS, *AGAIN))
        if first is None or last is None or start is None or end is None:
            return ()
        values["final"] = values["final again"]
        return ((first, last), (start, end))

    def _added(self, run: RawRun, entry: Entry) -> Parts:
        """Return the parts of a run whose final reading goes on after the burette was filled again: 50.00 + 15.35."""
        if "final" not in entry.odd or "final" not in run.cells or (run.scale("final") or PER_CM3) != PER_CM3:
            return ()
        place, start = run.cells["final"], microlitres(entry.value("initial"))
        text, mark = entry.grid.cells[place].text, entry.grid.mark
        end, *more = read_sum(text, mark) or (NOTHING,)
        pairs = [Pair(Value("number", Decimal(0)), each) for each in more]
        if again := read_refilled(text, mark):
            end, pairs = again[0], [again[1]]
        first = microlitres(end)
        if start is None or first is None or start > first or any(microlitres(each) is None for each in chain(*pairs)):
            return ()
        self.account.rejected.pop(entry.grid.address(place))
        del entry.odd["final"]
        last = replace(pairs[-1].second, remark=f"written as {plain(text)[:60]!r}")
        entry.values["final"] = entry.enter("final", place, last)
        return ((start, first), *((microlitres(pair.first) or 0, microlitres(pair.second) or 0) for pair in pairs))

    def _both(self, run: RawRun, entry: Entry) -> Parts:
        """Read a cell that holds both readings; returns the parts of a run whose burette was refilled."""
        place, scale = run.cells["both"], run.scale("both")
        cell, mark = entry.grid.cells[place], entry.grid.mark
        pairs = read_pair(cell.text, mark) if cell.kind == "text" else ()
        ends = [Pair(*(self.scaled(end, scale) for end in pair)) for pair in pairs]
        first = last = read_number(cell, mark)
        if any(end.number is None or end.number % MICROLITRE for pair in ends for end in pair):
            first, last, ends = _more_digits(cell), _more_digits(cell), []
        elif ends:
            first, last = ends[0].first, ends[-1].second
        elif first.state == "number":
            first = last = unusable(plain(cell.text), "is one number where both readings are expected")
        for key, value in zip(ENDS, (first, last), strict=True):
            entry.values[key] = entry.enter(key, place, value)
        if ends and (total := self.scaled(read_total(cell.text, mark), scale)).number is not None:
            entry.values["titre"], entry.cells["titre"] = total, entry.grid.address(place)
        return _parts(ends)

    def _one_cell(self, run: RawRun, entry: Entry) -> Parts:
        """Read both readings from one cell of a run with a column for each; returns the parts of a refilled run."""
        cells = {key: entry.grid.cells[run.cells[key]] for key in READINGS if key in run.cells}
        held, pairs = _in_one_cell(cells, entry.grid.mark)
        if not pairs or (run.scale(held) or PER_CM3) != PER_CM3 or {*AGAIN} & run.cells.keys():
            return ()
        for key in ENDS:  # the other cell is empty, or the same reading once more
            entry.use(key, run.cells[held])
            if key in cells and key != held:
                self._reading(run, key, entry)
        entry.values["initial"], entry.values["final"] = pairs[0].first, pairs[-1].second
        if held == "titre":
            entry.values["titre"] = read_total(cells["titre"].text, entry.grid.mark)
        return _parts(pairs)

    def _tick(self, run: RawRun, entry: Entry) -> bool | None:
        if "used" not in run.cells:
            return None
        tick, value = self._ticked(run, entry)
        entered = entry.enter("used", run.cells["used"], value)
        cell = entry.grid.cells[run.cells["used"]]
        entry.values["used"] = replace(entered, spoilt=spoilt(cell)) if value.why else entered
        return tick

    def _ticked(self, run: RawRun, entry: Entry) -> tuple[bool | None, Value]:
        """Return whether the cell for it says that a run was used, and what the cell says."""
        cell, mark = entry.grid.cells[run.cells["used"]], entry.grid.mark
        if cell.kind in ("uncalculated", "error", "date"):
            return None, read_number(cell, mark)
        if not plain(cell.text):
            return None, Value("nothing", why="an empty text")
        tick = False if says_rough(entry.grid, run) else read_tick(cell)
        again = read_number(cell, mark).number if tick is None else None
        if again is not None and again == entry.value("titre").number:
            return True, Value("number")  # the titre once more
        if tick is None:
            return None, Value("odd", why=unusable(plain(cell.text), "is neither a tick nor a cross").why)
        if not tick and not entry.cells:
            return None, Value("nothing", why="a run that was not done")
        return tick, Value("number")


def says_rough(grid: Grid, run: RawRun) -> bool:
    """Return whether the student wrote that a run is the rough where it would be ticked."""
    return "used" in run.cells and understand(grid.cells[run.cells["used"]].text).kind == "rough"


def _more_digits(cell: Cell) -> Value:
    return unusable(plain(cell.text), "has more digits than a burette shows; write it as it was read")


def _parts(ends: Sequence[Pair]) -> Parts:
    """Return the parts [µL] of a run whose burette was refilled; none where it was not."""
    parts = tuple((microlitres(pair.first) or 0, microlitres(pair.second) or 0) for pair in ends)
    return parts if len(parts) > 1 else ()


def microlitres(value: Value) -> int | None:
    """Return a volume [cm³] in microlitres; None where the cell holds no number."""
    if value.state != "number" or value.number is None:
        return None
    return int((value.number * PER_CM3).to_integral_value())


def _in_one_cell(cells: dict[str, Cell], mark: str) -> tuple[str, tuple[Pair, ...]]:
    """Return the field (initial, final, titre) whose cell holds all readings of a run, and these; none where none does.

    cells   field -> cell
    mark    the decimal mark of the file's texts
    """
    for key in ("final", "initial", "titre"):
        pairs = _pairs(cells[key], mark, turned=key == "titre") if key in cells else ()
        if pairs and _others_agree(cells, key, pairs, mark):
            return key, pairs
    return "", ()


def _pairs(cell: Cell, mark: str, *, turned: bool) -> tuple[Pair, ...]:
    """Return the readings of a cell, one pair a part; with `turned` a difference, 50.00 - 30.00, is read as such."""
    if cell.kind != "text" or (seen := plain(cell.text)).replace(".", "", 1).isdigit():
        return ()
    # A stroke parts two tries at one reading as often as two readings.
    if "/" in seen or "|" in seen or looks_like_date(seen):
        return ()
    pairs = read_pair(cell.text, mark)
    if not pairs or not all(_is_read_off(end) for pair in pairs for end in pair):
        return ()
    first, second = (end.number or Decimal(0) for end in pairs[0])
    if len(pairs) == 1 and abs(first - second) < 1:
        return ()  # two tries at one reading, 24.30, 24.35
    pairs = tuple(Pair(*(replace(end, remark=cell.remark, discard=cell.struck) for end in pair)) for pair in pairs)
    down = all(pair.upwards != pair for pair in pairs)
    return tuple(pair.upwards for pair in pairs) if turned and down else pairs


def _is_read_off(value: Value) -> bool:
    """Return whether a number has the look of a reading: 1 - 3 may be runs 1 to 3."""
    return value.number == 0 or (value.number is not None and value.decimals in (1, 2, 3))


def _others_agree(cells: dict[str, Cell], key: str, pairs: tuple[Pair, ...], mark: str) -> bool:
    known = (pairs[0].first.number, pairs[-1].second.number)
    for other in ENDS:
        if other == key or other not in cells:
            continue
        value = read_number(cells[other], mark)
        if value.state == "odd" or value.discard or (value.state == "number" and value.number not in known):
            return False
    return True
