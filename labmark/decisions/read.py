"""What a marked folder says of the decisions of the teacher: marks.xlsx as they stand in it, or else results.json.

Rows are found by the words in them, columns by their headings, so that both may have been moved. A cell that stands as
it was written is no decision; one that was cleared takes its decision back; what is not there at all (a sheet, a
column, a row) takes nothing back.
"""

import hashlib
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple, Self, cast

from labmark.dataclass import dataclass, field, replace
from labmark.decisions.memory import RESULTS, by_id, check_format, known_as, load, made_on, unpacked
from labmark.decisions.model import Decision, Key, What, as_tree, from_tree
from labmark.exact import decimals_in
from labmark.outputs.decision_rows import told_apart
from labmark.outputs.forms import Forms, words_of
from labmark.outputs.own import keys_by_heading
from labmark.outputs.rows import CLASS, DEEPEST, NAMES, criteria, mark_heading
from labmark.places import languages
from labmark.problems import InputError, Problem, Unusable, raise_any
from labmark.read.cells import exact_claim
from labmark.read.files import load_book, load_bytes
from labmark.read.grid import Book, Cell, Grid
from labmark.read.words import folded, plain
from labmark.words import shortened
from labmark.written import HIDDEN

Tree = Mapping[str, Any]
Words = Mapping[str, str]
"""What finds a row ("student", "run", "of", "ID") -> what stands there; empty where nothing does."""
Open = tuple[str, str, Cell | None]
"""What may be decided ("comment", "mark accuracy"), the address of its cell, and what stands there."""
_STUDENT, _RUN = {"student": "Student"}, {"student": "Student", "run": "Run"}

SHEETS: dict[str, tuple[dict[str, str], dict[str, str]]] = {
    "Marks": (_STUDENT | {"ID": "ID"}, {"comment": "Comment", "note": "Private note", "excused": "Excused"}),
    "Runs": (_RUN, {"use": "Use", "initial": "Initial is", "final": "Final is"}),
    "Findings": (_RUN | {"of": "Finding", "about": "Key"}, {"aside": "Aside"}),
    "Inputs": (_RUN | {"of": "Input"}, {"input": "Is"}),
    "Class": ({"of": "Figure"}, {"reference": "Reference is"}),
    "Decisions": (_STUDENT | {"of": "Key"}, {"back": "Take back"}),
}
"""Sheet -> what a row is found by, and what is decided, each with its heading; marks are headed by their criteria
besides."""
OTHERWISE = {"Schülerin": "Student", "Étudiant": "Student", "Alumno": "Student", "Versuch": "Run"}
"""What a heading may be called beside the word that there is for it in a language."""
_ALWAYS = {"Marks": ("comment", "note", "excused"), "Runs": ("use", "initial"), "Findings": ("aside",)}
"""Sheet -> what there is a column for in every workbook."""


YES = frozenset({"yes", "y", "ja", "j", "oui", "o", "si", "s", "true", "1", "✓", "✔", "x"})
NO = frozenset({"no", "n", "nein", "non", "false", "0", "✗", "✘"})
ENGLISH = Forms()
LONGEST = 40
"""Characters that are shown of a cell that cannot be read."""
_LEAST, _MOST = Decimal("1e-9"), Decimal("1e9")
"""Of a reference, or a number of a student's own."""
_NUMBER = re.compile(r"[-+]?\d{1,12}(?:[.,]\d{0,12})?")
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_SPOILT = {
    "uncalculated": "holds a formula that was never calculated",
    "error": "holds an error instead of a value",
    "date": "was made a date or a time by the spreadsheet program",
}


class Page(NamedTuple):
    """A sheet with the columns that are known on it."""

    grid: Grid
    finds: Collection[str]
    """What may find a row."""
    head: int
    """Row of the headings."""
    columns: Mapping[str, Sequence[int]]
    """What is known of a heading -> its columns: there may be a copy of one."""

    @classmethod
    def of(cls, grid: Grid, name: str, more: Mapping[str, str], says: Sequence[Forms]) -> Self:
        """Return a sheet as that of this name, with headings in some languages.

        `more` holds further headings, with what is decided under them.
        """
        finds, decides = SHEETS[name]
        called = {heading: key for key, heading in (finds | decides).items()}
        wanted = {_heading(say(heading)): key for say in says for heading, key in called.items()}
        wanted |= {_heading(other): called[usual] for other, usual in OTHERWISE.items() if usual in called}
        wanted |= {_heading(header): what for header, what in more.items()}
        rows: dict[int, dict[str, list[int]]] = {}
        for (row, column), cell in sorted(grid.cells.items()):
            if row <= DEEPEST and cell.kind == "text" and (key := wanted.get(_heading(cell.text))):
                rows.setdefault(row, {}).setdefault(key, []).append(column)
        head = max(rows, key=lambda row: len(rows[row]), default=0)
        columns = rows.get(head, {})
        return cls(grid, finds, head, columns if next(iter(finds)) in columns else {})

    def rows(self) -> Iterator[tuple[Words, list[Open]]]:
        """Yield what finds each row below the headings, and its cells; none where the headings are not there."""
        lines: dict[int, dict[int, Cell]] = {}
        for (row, column), cell in sorted(self.grid.cells.items()) if self.columns else ():
            if row > self.head:
                lines.setdefault(row, {})[column] = cell
        for row, line in lines.items():
            found = {key: line.get(self.columns.get(key, (0,))[0]) for key in self.finds}
            words = {key: plain(cell.text) if cell else "" for key, cell in found.items()}
            decided = [(key, at) for key, places in self.columns.items() if key not in self.finds for at in places]
            yield words, [(key, self.grid.address((row, at)), line.get(at)) for key, at in decided]


def _heading(text: str) -> str:
    return re.sub(" ?/ ?", "/", folded(text))


@dataclass(slots=True)
class Reader:
    """Reads the decisions of a workbook against what it was written from."""

    file: str
    memory: Tree
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    _found: dict[Key, Decision] = field(default_factory=dict)
    _seen: set[Key] = field(default_factory=set)
    """What there is a cell for."""
    _priors: dict[Key, Decision] = field(default_factory=dict)
    _taken_back: dict[Key, str] = field(default_factory=dict)
    """With the cells that say so."""

    def read(self, book: Book) -> tuple[Decision, ...]:
        """Return what the cells decide, and what was decided before on which there is no cell any more."""
        self._priors = {each.key: each for each in map(from_tree, self.memory["decisions"])}
        say = words_of(self.memory)
        labels = {say(run["label"]): run["label"] for one in self.memory["students"] for run in one["runs"]}
        ours = {"run": labels, "student": {say(CLASS): CLASS}} if say.language != "en" else {}
        people = {plain(one["student"]): one for one in self.memory["students"]}
        people_by_id = by_id(self.memory["students"])
        inputs = keys_by_heading(self.memory["practical"])
        for name in SHEETS:
            page = self._page(book, name, _further(name, self.memory, say), say)
            for found, cells in page.rows() if page else ():
                words = {key: ours.get(key, {}).get(word, word) for key, word in found.items()}
                one = people_by_id.get(words.get("ID", "")) or people.get(words.get("student", ""))
                for what, address, cell in cells:
                    if name == "Decisions":
                        self._take_back(words, address, cell)
                    else:
                        self._cell(_aim(words, one, what, address, inputs), one, words, cell)
        untouched = {key: each for key, each in self._priors.items() if key not in self._seen}
        return tuple(each for key, each in {**self._found, **untouched}.items() if not self._is_taken_back(key, each))

    def _page(self, book: Book, name: str, more: Mapping[str, str], say: Forms) -> Page | None:
        """Return a sheet, also under the name that the teacher gave it; note what is not there any more."""
        wanted = {what: heading for heading, what in more.items()}
        wanted |= {what: SHEETS[name][1][what] for what in _ALWAYS.get(name, ())}
        grids = [grid for grid in book.grids if grid.name not in {*NAMES, HIDDEN} - {name}]
        # Most headings are those that labmark wrote.
        for known in ([ENGLISH, say], [Forms(language=each) for each in languages()]):
            pages = {grid.name: Page.of(grid, name, more, known) for grid in grids}
            renamed = [page for page in pages.values() if wanted and wanted.keys() <= page.columns.keys()]
            page = pages.get(name) or (renamed[0] if len(renamed) == 1 else None)
            gone = [heading for what, heading in wanted.items() if page and what not in page.columns]
            if (page.columns and not gone) if page else not wanted:
                break
        if wanted and (gone or page is None):
            what = f"no column headed {', '.join(gone)} on the sheet {name}" if page else f"no sheet {name}"
            self.notes.append(f"{self.file}: there is {what} any more: what was decided there before stands")
        return page

    def _cell(self, aim: Decision, one: Tree | None, words: Words, cell: Cell | None) -> None:
        self._seen.add(aim.key)
        # A row without a name is the teacher's own.
        if cell is None or is_blank(cell) or not words.get("student", CLASS):
            return
        try:
            there = made_on(self.memory, one, aim, words)
            value = value_of(aim.what, cell, there.most)
        except Unusable as why:
            self._refuse(why.what, why.do, aim.cell)
            return
        prior = self._priors.get(aim.key)
        if prior is not None and prior.value == value:
            self._take(replace(prior, cell=aim.cell))
        elif value is not None and not (aim.what == "mark" and value == there.was):
            self._take(replace(aim, value=value, was=there.was, on=there.on))

    def _take_back(self, words: Words, address: str, cell: Cell | None) -> None:
        """Note that the decision of a row of the sheet Decisions is taken back."""
        try:
            if cell is None or is_blank(cell) or not value_of("aside", cell, None):
                return
            key = next((key for key, each in self._priors.items() if _named(each) == words), None)
            if key is None:
                raise Unusable("there is no such decision", "clear the cell")
            self._taken_back[key] = address
        except Unusable as why:
            self._refuse(why.what, why.do, address)

    def _is_taken_back(self, key: Key, decision: Decision) -> bool:
        """Return whether a decision is taken back; one that was made anew at the same time says otherwise."""
        if key in self._taken_back and decision.value != self._priors[key].value:
            what = f"it is taken back in {self._taken_back[key]}, and decided anew here"
            self._refuse(what, "leave one of the two", decision.cell)
        return key in self._taken_back

    def _take(self, decision: Decision) -> None:
        other = self._found.setdefault(decision.key, decision)
        if other.value != decision.value:
            what = f"it says otherwise than {other.cell}, which is about the same"
            self._refuse(what, "leave one of the two", decision.cell)

    def _refuse(self, what: str, do: str, cell: str) -> None:
        self.problems.append(Problem(what, do, self.file, "", cell))


def _further(name: str, memory: Tree, say: Callable[[str], str]) -> dict[str, str]:
    """Return further headings on a sheet, in English and as students read them, with what is decided under them."""
    more: dict[str, str] = {}
    if name == "Marks":
        more = {mark_heading(title, out_of): f"mark {criterion}" for criterion, title, out_of in criteria(memory)}
    elif name == "Runs":
        ends = [each["name"] for each in memory["practical"].get("endpoints") or ()]
        more = {f"{end} is": f"reading {end}" for end in ends}
    return {**more, **{say(head): what for head, what in more.items()}}


def _named(decision: Decision) -> dict[str, str]:
    """Return the words by which a decision is found again on the sheet Decisions."""
    return {"student": plain(decision.student or CLASS), "of": plain(told_apart(as_tree(decision)))}


def _aim(words: Words, one: Tree | None, what: str, address: str, inputs: Mapping[str, str]) -> Decision:
    """Return what a cell decides about, with no value yet.

    inputs   what own numbers are called -> their keys
    """
    kind, _, named = what.partition(" ")
    run = words.get("run") or None
    of = (named if kind == "mark" else "") or words.get("of") or run
    if kind == "reference":
        # Whose it is stands behind the word; nothing, where it is everybody's.
        first, _, whose = words["of"].partition(" ")
        of = whose if folded(first).startswith("referen") else words["of"]
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
        cell=address,
        about=(words.get("about") or None) if one is None else None,
    )


# One cell -> what it decides, or why it cannot be read.


def is_blank(cell: Cell) -> bool:
    """Return whether nothing stands in a cell; a formula that was never calculated is something."""
    return cell.kind not in _SPOILT and not plain(cell.text)


def value_of(what: str, cell: Cell, most: Decimal | None) -> Any:
    """Return what a cell decides: a Decimal, a bool, or words; None for a no where only yes decides something.

    most   greatest mark, or the largest reading [cm³]; None where there is no limit
    Raises Unusable.
    """
    if cell.kind in _SPOILT:
        raise Unusable(f"it {_SPOILT[cell.kind]}", "type the value itself, or clear the cell")
    if what in ("comment", "note"):
        return _words(cell)
    if what in ("use", "aside", "excused"):
        yes = _yes(cell, or_no=what == "use")
        return yes if yes or what == "use" else None
    number = _number(cell)
    if what == "mark":
        return _within(number, most, "marks are 0 to {}")
    if what in ("initial", "final", "reading"):
        return _reading(_within(number, most, "readings are 0.00 to {} cm³"))
    if not _LEAST <= number <= _MOST and not (what == "input" and number == 0):
        raise Unusable(f"{number} cannot be", "type a number above 0, or clear the cell")
    return number


def _words(cell: Cell) -> str:
    """Return words as they were typed, a line each."""
    text = _ESCAPE.sub(lambda found: chr(int(found[1], 16)), cell.text).replace("\r\n", "\n").replace("\r", "\n")
    return "\n".join(line.strip() for line in text.strip().split("\n"))


def _yes(cell: Cell, *, or_no: bool) -> bool:
    word = folded(cell.text)
    if word in YES or word in NO:
        return word in YES
    raise Unusable(f"{_seen(cell)} is neither yes nor no", f"write yes{' or no' if or_no else ''}, or clear the cell")


def _number(cell: Cell) -> Decimal:
    if cell.kind == "number" and isinstance(cell.value, (int, float)) and abs(cell.value) < 1e12:
        return exact_claim(cell.value)
    text = plain(cell.text)
    if cell.kind == "text" and _NUMBER.fullmatch(text):
        return Decimal(text.replace(",", "."))
    raise Unusable(f"{_seen(cell)} is not a number", "write the number alone, or clear the cell")


def _within(number: Decimal, most: Decimal | None, limits: str) -> Decimal:
    if number < 0 or (most is not None and number > most):
        raise Unusable(f"{number} is out of range: {limits.format(most)}", "correct it, or clear the cell")
    return number


def _reading(number: Decimal) -> Decimal:
    """Return a reading with two decimals, as a burette is read, or with a third where it has one."""
    decimals = decimals_in(number.normalize())
    if decimals > 3:
        raise Unusable(f"{number} has more decimals than a burette shows", "correct it, or clear the cell")
    return number.quantize(Decimal(1).scaleb(-max(2, decimals)))


def _seen(cell: Cell) -> str:
    return f"“{shortened(plain(cell.text), LONGEST)}”"


MARKS = "marks.xlsx"


@dataclass(frozen=True)
class Found:
    """Decisions of a folder, and what they were made on."""

    decisions: tuple[Decision, ...] = ()
    memory: Tree | None = None
    """Of the run that wrote the workbook (or the folder, where there is none); None where nothing is remembered."""
    notes: tuple[str, ...] = ()
    """What the teacher should know of it."""
    file: str = ""
    """Path that problems name: marks.xlsx, or results.json where that alone remembers."""
    book: bytes | None = None
    """marks.xlsx as it was read; None where there is none of labmark's."""
    sha256: str | None = None
    """Of marks.xlsx, whoever wrote it."""
    called: Mapping[str, str] = field(default_factory=dict)
    """Code in the workbook -> name, where it was written with codes and they are names here."""
    coded: bool = False
    """The folder was written with codes instead of names."""


def decisions_in(folder: Path) -> Found:
    """Return the decisions of a folder. Raises InputError with every cell that cannot be read."""
    kept = load(folder)
    path = folder / MARKS
    if not path.exists():
        decisions = tuple(map(from_tree, kept["decisions"])) if kept else ()
        gone = f"{path} is gone: {len(decisions)} of your decisions were taken from {RESULTS}"
        return Found(decisions, kept, (gone,) if decisions else (), str(folder / RESULTS))
    book, data = load_book(path), load_bytes(path)
    if hashlib.sha256(data).hexdigest() != book.sha256:
        raise InputError(Problem("it is just being saved", "run again", str(path)))
    written_from = _written_from(book, str(path)) or kept
    if written_from is None:
        return Found(file=str(path), sha256=book.sha256)
    reader = Reader(str(path), written_from)
    decisions = reader.read(book)
    mine, theirs = written_from["source"], (kept or written_from)["source"]
    if decisions and mine["sha256"] != theirs["sha256"] and Path(mine["file"]).name != Path(theirs["file"]).name:
        what = f"it was written for another class file ({mine['file']})"
        raise InputError(Problem(what, "put this folder's own workbook back, or delete it", str(path)))
    raise_any(reader.problems)
    return Found(decisions, written_from, tuple(reader.notes), str(path), data, book.sha256)


def _written_from(book: Book, file: str) -> Tree | None:
    """Return what the hidden sheet holds; None where it is missing or was changed."""
    for grid in book.grids:
        if grid.name == HIDDEN:
            text = "".join(grid.cells[row, 1].text for row, column in sorted(grid.cells) if row > 1 and column == 1)
            tree = unpacked(text)
            if tree is not None:
                check_format(tree, file)
                return tree
    return None
