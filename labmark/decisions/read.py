"""marks.xlsx of the marked folder -> the teacher's decisions.

Rows are found by the words in them, columns by their headings, so that both may have been moved. A cell that stands as
it was written is no decision; one that was cleared takes its decision back; what is not there at all (a sheet, a
column, a row) takes nothing back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, cast

from labmark.decisions import headings
from labmark.decisions.cells import Unusable, is_blank, value_of
from labmark.decisions.memory import by_id, known_as, made_on
from labmark.decisions.model import Decision, Key, What, as_tree, from_tree
from labmark.outputs.decision_rows import told_apart
from labmark.outputs.own import keys_by_heading
from labmark.outputs.rows import CLASS, criteria, mark_heading
from labmark.problems import Problem
from labmark.read.grid import Book, Cell, Grid, Place
from labmark.read.words import folded, plain

Tree = Mapping[str, Any]
DEEPEST = 60
"""Rows among which the headings are looked for."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a sheet."""

    grid: Grid
    words: Mapping[str, str]
    """What finds it ("student", "run", "of", "ID") -> what stands there; empty where nothing does."""
    cells: Mapping[str, tuple[Place, Cell | None]]
    """What may be decided ("comment", "mark accuracy") -> its place, and what stands there."""


def rows_of(grid: Grid, more: Mapping[str, Mapping[str, str]]) -> Iterator[Row]:
    """Yield the rows below the headings of a sheet; none where they are not there.

    more   sheet -> further headings, with what is decided under them
    """
    finds, decides = headings.SHEETS[grid.name]
    wanted = {folded(word): key for part in (finds, decides) for key, words in part.items() for word in words}
    wanted |= {folded(header): what for header, what in more.get(grid.name, {}).items()}
    lines: dict[int, dict[int, Cell]] = {}
    for (row, column), cell in sorted(grid.cells.items()):
        lines.setdefault(row, {})[column] = cell
    heads = {row: _columns(cells, wanted) for row, cells in lines.items() if row <= DEEPEST}
    head = max(heads, key=lambda row: len(heads[row]), default=0)
    columns = heads.get(head, {})
    if next(iter(finds)) not in columns:
        return
    for row, line in lines.items():
        if row > head:
            found = {key: line.get(columns.get(key, 0)) for key in finds}
            words = {key: plain(cell.text) if cell else "" for key, cell in found.items()}
            cells = {key: ((row, at), line.get(at)) for key, at in columns.items() if key not in finds}
            yield Row(grid, words, cells)


def _columns(cells: Mapping[int, Cell], wanted: Mapping[str, str]) -> dict[str, int]:
    """Return what stands under the headings of a row -> its column; the first of two alike."""
    found: dict[str, int] = {}
    for column, cell in cells.items():
        if cell.kind == "text" and (key := wanted.get(folded(cell.text))):
            found.setdefault(key, column)
    return found


@dataclass(slots=True)
class Reader:
    """Reads the decisions of a workbook against what it was written from."""

    file: str
    memory: Tree
    problems: list[Problem] = field(default_factory=list)
    _found: dict[Key, Decision] = field(default_factory=dict)
    _seen: set[Key] = field(default_factory=set)
    """What there is a cell for."""
    _priors: dict[Key, Decision] = field(default_factory=dict)
    _taken_back: dict[Key, str] = field(default_factory=dict)
    """With the cells that say so."""

    def read(self, book: Book) -> tuple[Decision, ...]:
        """Return what the cells decide, and what was decided before on which there is no cell any more."""
        self._priors = {each.key: each for each in map(from_tree, self.memory.get("decisions") or ())}
        ends = [each["name"] for each in self.memory["practical"].get("endpoints") or ()]
        more = {
            "Marks": {mark_heading(title, out_of): f"mark {name}" for name, title, out_of in criteria(self.memory)},
            "Runs": {f"{name} is": f"reading {name}" for name in ends},
        }
        people = {plain(one["student"]): one for one in self.memory["students"]}
        people_by_id = by_id(self.memory["students"])
        inputs = keys_by_heading(self.memory["practical"])
        for grid in book.grids:
            for row in rows_of(grid, more) if grid.name in headings.SHEETS else ():
                words = row.words
                if grid.name == "Decisions":
                    self._take_back(row)
                    continue
                one = people_by_id.get(words.get("ID", "")) or people.get(words.get("student", ""))
                for what, (place, cell) in row.cells.items():
                    self._cell(_aim(row, one, what, place, inputs), one, words, cell)
        untouched = {key: each for key, each in self._priors.items() if key not in self._seen}
        return tuple(each for key, each in {**self._found, **untouched}.items() if not self._is_taken_back(key, each))

    def _cell(self, aim: Decision, one: Tree | None, words: Mapping[str, str], cell: Cell | None) -> None:
        self._seen.add(aim.key)
        # A row without a name is the teacher's own.
        if cell is None or is_blank(cell) or not words.get("student", CLASS):
            return
        try:
            was, on, most = made_on(self.memory, one, aim, words)
            value = value_of(aim.what, cell, most)
        except Unusable as why:
            self.problems.append(Problem(why.what, why.do, self.file, "", aim.cell))
            return
        prior = self._priors.get(aim.key)
        if prior is not None and prior.value == value:
            self._take(replace(prior, cell=aim.cell))
        elif value is not None and not (aim.what == "mark" and value == was):
            self._take(replace(aim, value=value, was=was, on=on))

    def _take_back(self, row: Row) -> None:
        """Note that the decision of a row of the sheet Decisions is taken back."""
        key = next((key for key, each in self._priors.items() if _named(each) == row.words), None)
        for place, cell in row.cells.values():
            try:
                if cell is None or is_blank(cell) or not value_of("aside", cell, None):
                    continue
                if key is None:
                    raise Unusable("there is no such decision", "clear the cell")
                self._taken_back[key] = row.grid.address(place)
            except Unusable as why:
                self.problems.append(Problem(why.what, why.do, self.file, "", row.grid.address(place)))

    def _is_taken_back(self, key: Key, decision: Decision) -> bool:
        """Return whether a decision is taken back; one that was made anew at the same time says otherwise."""
        if key in self._taken_back and decision.value != self._priors[key].value:
            what = f"it is taken back in {self._taken_back[key]}, and decided anew here"
            self.problems.append(Problem(what, "leave one of the two", self.file, "", decision.cell))
        return key in self._taken_back

    def _take(self, decision: Decision) -> None:
        other = self._found.setdefault(decision.key, decision)
        if other.value != decision.value:
            what = f"it says otherwise than {other.cell}, which is about the same"
            self.problems.append(Problem(what, "leave one of the two", self.file, "", decision.cell))


def _named(decision: Decision) -> dict[str, str]:
    """Return the words by which a decision is found again on the sheet Decisions."""
    return {"student": plain(decision.student or CLASS), "of": plain(told_apart(as_tree(decision)))}


def _whose(figure: str) -> str:
    """Return whose reference a row of the sheet Class is about; empty where it is everybody's."""
    first, _, whose = figure.partition(" ")
    return whose if folded(first).startswith("referen") else figure


def _aim(row: Row, one: Tree | None, what: str, place: Place, inputs: Mapping[str, str]) -> Decision:
    """Return what a cell decides about, with no value yet.

    inputs   what own numbers are called -> their keys
    """
    kind, _, named = what.partition(" ")
    words = row.words
    run = words.get("run") or None
    of = (named if kind == "mark" else "") or words.get("of") or run
    if kind == "reference":
        of = _whose(words["of"])
    elif kind == "input":
        of = inputs.get(words["of"], words["of"])
    return Decision(
        None if one is None else one["student"],
        cast(What, kind),
        of or None,
        None,
        run=run if "of" in words else None,
        endpoint=named if kind == "reading" else None,
        known_as="" if one is None else known_as(one),
        cell=row.grid.address(place),
    )
