"""Finding the tables on a sheet: headers are known by their words, their direction by what is next to them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import count, pairwise, product, takewhile

from labmark.dataclass import replace
from labmark.problems import InputError
from labmark.read.cells import looks_like_date
from labmark.read.grid import Cell, Place
from labmark.read.guard import MOST_HEADERS
from labmark.read.headers import (
    ABOUT,
    AT_ENDPOINT,
    LETTERS,
    RUN_FIELDS,
    STUDENT_FIELDS,
    UNSAID,
    WHO,
    Header,
    Meant,
    understand,
)
from labmark.read.layouts.view import Column, Table, View
from labmark.read.own_values import read_own
from labmark.read.words import LABELLED, cell_words, folded, plain, tokens
from labmark.read.written_units import unit_of

READING_FIELDS = frozenset({"initial", "final", "titre", "both", "volume", *AT_ENDPOINT})
CLAIMS = ("mean", "result", "own")
MOST_RUNS = 12
"""Lines below the names of students that are looked at for runs."""
LONGEST_HEADER = 300
LONGEST_UNIT = 40
"""Characters of a unit with a word of explanation: in mol dm-3, to 3 s.f."""
_RESULTS_OF = re.compile(
    r"(?:results?|readings|ergebnisse|résultats|resultados) (?:of|from|for|by|von|de) (?P<name>.+)", re.I
)
ROMAN = frozenset({"I", "II", "III", "IV"})
MOST_HEADER_ROWS = 3
"""Header rows above the lowest one that names fields."""

_BETWEEN_NAMES = re.compile(r"[,&+/]|\b(?:and|und|et|y)\b")
_CAPITALISED = re.compile(r"[^\W\d_][\w'’-]*")
_NUMBERISH = re.compile(r"[~≈<>+-]?\s*[0-9]+([.,]+[0-9]*)?\s*(cm3|ml|dm3|l|cc|%)?\s*[*†]?", re.IGNORECASE)
_FIGURES = re.compile(r"(?<![\d.,±])(?<!± )(?<!\+/-)(?<!\+/- )\d+[.,]\d+")
"""A decimal number that is no uncertainty."""
_UNIT_CELL = re.compile(
    r"[(\[/]?\s*(in )?(cm\^?3|ml|dm\^?3|l|cc|[mk]?(mol|g) ?/? ?(d|c)m\^?-?3|[mk]?(mol|g) ?(/ ?l|l-1)"
    r"|g ?/? ?mol(-1)?|%|m?m)\s*[)\]]?",
    re.IGNORECASE,
)


def numberish(cell: Cell | None) -> bool:
    """Return whether a cell holds a number, or something that stands where a number was meant."""
    if cell is None:
        return False
    return _stands_for_number(cell.text) if cell.kind == "text" else cell.kind != "bool"


@lru_cache(maxsize=16384)
def _stands_for_number(text: str) -> bool:
    seen = plain(text)
    number = _NUMBERISH.fullmatch(seen) or re.fullmatch(r"[\d.,]+\s*(-|to|bis|→)\s*[\d.,]+.*", seen)
    return number is not None or (seen[:1].isdigit() and looks_like_date(seen))


def is_unit(cell: Cell) -> bool:
    """Return whether a cell holds nothing but a unit."""
    return cell.kind == "text" and not cell.text[:1].isdigit() and _UNIT_CELL.fullmatch(plain(cell.text)) is not None


def holds_units(cells: Iterable[Cell]) -> bool:
    """Return whether cells hold units, with the word for them over them or not."""
    units = [is_unit(cell) or (understand(cell.text).tags == {"unit"} and None) for cell in cells]
    return any(units) and False not in units


def run_named(cell: Cell | None, overrides: Meant = UNSAID) -> Header | None:
    """Return the run that a cell names ("Rough", 1, "Run 2", "Mean"), if it names one."""
    if cell is None or cell.kind not in ("text", "number") or len(cell.text) > 60 or cell.decimals:
        return None  # 1.00 is a reading
    header = understand(f"run {cell.text}" if cell.text in ROMAN else cell.text, overrides)
    numbered = header.tags in ({"volume"}, {"titre"}) and header.number is not None  # V1, Titre 1
    if header.field not in ("", "value", "run", "mean") and not numbered:
        return None
    if header.field == "mean":
        return header
    if header.kind in ("rough", "blank") or "trial" in header.tags:
        return header
    least = 0 if header.tags & {"run", "trial"} else 1  # Run 0 is the rough
    return header if header.number is not None and header.unknown == 0 and least <= header.number <= 20 else None


def is_blank(cell: Cell) -> bool:
    """Return whether a cell calls a run a blank."""
    return understand(cell.text).tags == {"blank"}


def _runs_in(cells: Mapping[int, Cell]) -> dict[int, str]:
    """Return the cells that name a run, as they do it."""
    return {at: cell.text for at, cell in cells.items() if (named := run_named(cell)) and named.names_run}


def titled(text: str) -> str:
    """Return whose block a text is the title of, Results of Ada; empty where it is nobody's: Results of the class."""
    match = _RESULTS_OF.fullmatch(plain(text))
    name = match["name"] if match else ""
    of_class = {*tokens(name)} & cell_words("section")
    tags = understand(name).tags & {"run", "trial", "rough", "titre"}
    somebody = tags == {"rough"} and may_be_somebody(name)  # Ida Grob
    return "" if of_class or (tags and not somebody) else name


def names_someone(text: str) -> bool:
    """Return whether a text is a label of a student or a grouping with its value: "Name: S01"."""
    match = LABELLED.fullmatch(plain(text))
    return match is not None and understand(match["label"]).field in STUDENT_FIELDS and tells_value(text)


def tells_value(text: str) -> bool:
    """Return whether a text is a label with its value ("Name: S01") rather than a header ("First run: initial")."""
    match = LABELLED.fullmatch(plain(text))
    if match is None:
        return False
    value = understand(match["value"])
    if understand(match["label"]).field in STUDENT_FIELDS and (
        value.field in ("", "value") or may_be_somebody(match["value"])
    ):
        return True
    return not value.field and not value.tags and value.scale is None and "?" not in text


def capitalised(text: str) -> list[str]:
    """Return the words of a text if each begins with a capital, as those of names do; else none."""
    words = _BETWEEN_NAMES.sub(" ", plain(text)).split()
    return words if all(_CAPITALISED.fullmatch(word) and word[0].isupper() for word in words) else []


def may_be_somebody(text: str) -> bool:
    """Return whether a text may be forename and surname, whatever else one of them means: Ida Grob, Maria Blank."""
    return 1 < len(capitalised(text)) <= 3 and understand(text).unknown > 0


class Meanings:
    """What each text cell of a sheet would mean as a header."""

    def __init__(self, view: View, overrides: Meant) -> None:
        self.view, self.overrides, self.lines = view, overrides, view.lines
        self.grid = grid = view.grid
        self.heads: dict[tuple[int, int], list[int]] = {}
        """Column of labels, and the next such one -> rows that head the columns between."""
        self.rows_of_names: set[int] = set()
        """Rows that hold nothing but the label of a name and the name, whatever else that means."""
        self.by_place: dict[Place, Header] = {}
        for place, cell in grid.cells.items():
            if cell.kind == "text" and len(cell.text) <= LONGEST_HEADER and not numberish(cell):
                header = understand(cell.text, overrides)
                if (header.field or header.names_run or header.series) and not tells_value(cell.text):
                    self.by_place[place] = header
        self.by_place |= self._lettered()
        self._drop_answers()
        self._drop_names()
        self._drop_listed()
        self._drop_titles()
        self.by_row: dict[int, dict[int, Header]] = {}
        for (row, column), header in self.by_place.items():
            self.by_row.setdefault(row, {})[column] = header
        readings = [place for place, header in self.by_place.items() if header.field in READING_FIELDS]
        if len(readings) > MOST_HEADERS:
            what = f"more than {MOST_HEADERS} headers of readings stand on one sheet"
            raise InputError(grid.problem(what, "give each class a sheet of its own"))
        self.anchors = {place: self._direction(place) for place in readings}

    def _lettered(self) -> dict[Place, Header]:
        """Return the labels of readings that are no more than letters: I over F, or F over I, and T below them."""
        letters = {at: LETTERS[low] for at, cell in self.grid.cells.items() if (low := folded(cell.text)) in LETTERS}
        found: dict[Place, Header] = {}
        for row, column in letters:
            places = [(row + step, column) for step in range(3) if (row + step, column) in letters]
            if {letters[at] for at in places[:2]} == {"initial", "final"}:
                found |= {at: understand(letters[at]) for at in places}
        return found

    def _drop_answers(self) -> None:
        """Take out what students wrote into their cells ("initial 0.00, final 24.40"): it heads nothing.

        A text with figures in it is a header only among headers without: beside them or over them.
        """
        readings = {*READING_FIELDS, "value"}
        bare = [at for at in self.by_place if not _FIGURES.search(plain(self.grid.cells[at].text))]
        if sum(self.by_place[at].field in readings for at in bare) < 2:
            return
        rows, columns = Counter(row for row, _ in bare), Counter(column for _, column in bare)
        for row, column in self.by_place.keys() - set(bare):
            if self.by_place[row, column].field in readings and rows[row] < 2 and columns[column] < 2:
                del self.by_place[row, column]

    def _drop_names(self) -> None:
        """Take out what is the name of somebody, as a label says that stands alone beside it: Name | Ida Grob, R. B.

        Such a label comes again over the next table; what stands alone, or over numbers, heads a column: Name |
        Vinegar titre.
        """
        labels = Counter(folded(self.grid.cells[place].text) for place in self.by_place)
        for row, cells in self.lines.items():
            if len(cells) != 2:
                continue
            (first, label), (last, _) = cells.items()
            header = self.by_place.get((row, first), Header())
            known = header.field in WHO and not header.unknown and header.number is None
            heads = numberish(self.next_cell((row, last), 1, 0)) or labels[folded(label.text)] < 2
            if known and not heads:
                self.by_place.pop((row, last), None)
                self.rows_of_names.add(row)

    def _drop_listed(self) -> None:
        """Take out what stands among names, below or beside the heading of a table's names: 9B F, Bench 2 T.

        Where most of what follows is labels, as it is over a block, there are no names among them.
        """
        readings = {at for at, header in self.by_place.items() if header.field in READING_FIELDS}
        known = [at for at, header in self.by_place.items() if header.field in WHO and header.number is None]
        heads = [at for at in known if not self.by_place[at].unknown]
        for (row, column), (down, right) in product(heads, ((1, 0), (0, 1))):
            places = ((row + step * down, column + step * right) for step in count(1))
            listed = [*takewhile(self.grid.cells.__contains__, places)]
            labels = readings.intersection(listed)
            if not labels or 2 * len(labels) >= len(listed):
                continue
            line = [cell for at, cell in self.grid.cells.items() if at[right] == (row, column)[right]]
            if sum(bool(run_named(each) or understand(each.text).field in READING_FIELDS) for each in line) > 1:
                readings -= labels
                for at in labels:
                    del self.by_place[at]

    def _drop_titles(self) -> None:
        """Take out what stands over the names of students, with the runs below each other to the left of them."""
        titles = [place for place, header in self.by_place.items() if header.field in (*READING_FIELDS, "value")]
        rows = {row for row, _ in titles}
        for row, below in [each for each in pairwise(self.lines) if each[0] in rows]:
            cells = self.lines[below]
            first = next((at for at in cells if self._is_name_of_column((below, at))), 0)
            names = [cell.text for at, cell in cells.items() if first and at >= first]
            of_runs = (self._run_to_the_left(line, first) for line in range(below + 1, below + MOST_RUNS))
            if 1 < len(names) == len({*names}) and len({*of_runs} - {""}) > 1:
                for place in titles:
                    if place[0] == row:
                        del self.by_place[place]

    def _is_name_of_column(self, place: Place) -> bool:
        """Return whether a text that means nothing as a heading stands right above a number."""
        cell, below = self.grid.cells[place], self.grid.cells.get((place[0] + 1, place[1]))
        means = place in self.by_place and not may_be_somebody(cell.text)
        return cell.kind == "text" and not numberish(cell) and not means and numberish(below)

    def _run_to_the_left(self, line: int, first: int) -> str:
        """Return the run named in the cell before the column `first`, where a number stands in that; else empty."""
        before = [cell for at, cell in self.lines.get(line, {}).items() if at < first]
        there = before and numberish(self.grid.cells.get((line, first)))
        run = run_named(before[-1], self.overrides) if there else None
        return folded(before[-1].text) if run and run.names_run else ""

    def has_labels(self) -> bool:
        """Return whether any reading's name stands beside its cells rather than over them."""
        return "down" in self.anchors.values()

    def _direction(self, place: Place) -> str:
        """Return "across" for a header over its cells, "down" for a label beside them."""
        right, below = self.next_cell(place, 0, 1), self.next_cell(place, 1, 0)
        if numberish(right) and not numberish(below):
            return "down"
        if numberish(below) and not numberish(right):
            return "across"
        row, column = place
        beside = sum(self._reads(row, column + step) for step in (-3, -2, -1, 1, 2, 3))
        under = sum(self._reads(row + step, column) for step in (-3, -2, -1, 1, 2, 3))
        return "down" if under > beside else "across"

    def _reads(self, row: int, column: int) -> bool:
        return self.by_place.get((row, column), Header()).field in READING_FIELDS | {"used", "mean"}

    def next_cell(self, place: Place, down: int, right: int) -> Cell | None:
        """Return the next filled cell below or to the right, at most three steps away, that holds no unit alone."""
        blank = cell_words("none", "nothing")
        for step in (1, 2, 3):
            cell = self.grid.cells.get((place[0] + down * step, place[1] + right * step))
            if cell is not None and folded(cell.text).strip() not in blank and not is_unit(cell):
                return cell
        return None


def header_rows(meanings: Meanings) -> list[int]:
    """Return the rows that are headers of tables whose records are rows."""
    across: Counter[int] = Counter()
    for (row, _), direction in meanings.anchors.items():
        across[row] += 1 if direction == "across" else -1
    known = Counter(row for row, _ in meanings.by_place)
    cells = meanings.grid.cells.items()
    numbers = Counter(row for (row, _), cell in cells if row in across and numberish(cell))
    # A student who writes "Initial" into a cell does not make a header of a row of numbers.
    rows = [row for row, votes in sorted(across.items()) if votes > 0 and known[row] >= max(2, numbers[row])]
    of_runs = _rows_of_runs(meanings, known)
    if not rows and not meanings.has_labels():
        rows, of_runs = of_runs, []
    near = {row + step for row in rows for step in range(-MOST_HEADER_ROWS, 3)}  # of a header that is known already
    more = [row for row in of_runs if _names_both(meanings, row, "value") and row not in near]
    apart = near | {row for (row, _), cell in cells if row in known and numberish(cell)}
    more += [row for row in known if row not in apart and _heads_claims(meanings, row)]
    return _without_records(meanings, sorted({*rows, *more}))


def _without_records(meanings: Meanings, rows: list[int]) -> list[int]:
    """Return the header rows without those that go on with the table above: where that one names a student, such a row
    names one too, or is in the midst of the records and repeats none of the headers."""
    filled = Counter(row for row, _ in meanings.grid.cells)
    kept: list[int] = []
    for row in rows:
        above = meanings.by_row.get(kept[-1], {}) if kept and row - 1 in filled else {}
        names = [(row, column) for column, header in above.items() if header.field in WHO]
        named = any(place in meanings.grid.cells and place not in meanings.by_place for place in names)
        amidst = bool(above) and row - 1 > kept[-1] + MOST_HEADER_ROWS and filled[row - 1] > 2
        headers = meanings.by_row.get(row, {})
        words = 2 * len(headers) > filled[row] and not any(map(numberish, meanings.lines[row].values()))
        if not named and (not amidst or words or _repeats(headers, above)):
            kept.append(row)
    return kept


def _repeats(headers: Mapping[int, Header], above: Mapping[int, Header]) -> bool:
    """Return whether headers of readings stand under the same ones."""
    readings = [column for column, header in headers.items() if header.field in READING_FIELDS]
    return len(readings) > 1 and all(above.get(at, Header()).field == headers[at].field for at in readings)


def _names_both(meanings: Meanings, row: int, *fields: str) -> bool:
    """Return whether a row holds a header of students and one of these fields."""
    headers = meanings.by_row.get(row, {}).values()
    named = any(header.field in WHO and header.number is None for header in headers)  # Student 1 is somebody
    return named and any(header.field in fields for header in headers)


def _heads_claims(meanings: Meanings, row: int) -> bool:
    """Return whether a row heads a table of what students worked out or weighed, apart from their readings."""
    claims = [at for at, header in meanings.by_row[row].items() if header.field in CLAIMS]
    below = [cell for at in claims if (cell := meanings.next_cell((row, at), 1, 0))]
    answers = any(numberish(cell) or read_own(cell, "", claim=True).state == "number" for cell in below)
    return answers and _names_both(meanings, row, *CLAIMS)


def _rows_of_runs(meanings: Meanings, known: Iterable[int]) -> list[int]:
    """Return the header rows of a sheet with titres only: runs named side by side, numbers below."""
    found: list[int] = []
    for row in sorted(known):
        cells = meanings.lines[row]
        named = [at for at, cell in cells.items() if run_named(cell, meanings.overrides)]
        texts = [at for at in named if cells[at].kind == "text" and not numberish(cells[at])]
        numbers = sum(numberish(cell) for at, cell in cells.items() if at not in named)
        below = any(numberish(meanings.next_cell((row, at), 1, 0)) for at in named)
        if len(named) >= max(2, numbers) and texts and below:
            found.append(row)
    return found


def tables_across(meanings: Meanings, rows: list[int]) -> list[Table]:
    """Return the tables whose headers stand in these rows, side by side or under each other."""
    view = meanings.view
    stacks = [_stack(meanings, view, row) for row in rows]
    tables: list[Table] = []
    for (lines, units), (below, _) in pairwise([*stacks, ([10**9], [])]):
        start = max([*lines, *units])
        stop = next((line for line in view.lines if start < line < below[0] and _names_next(meanings, line)), below[0])
        while stop - 1 in view.lines and stop < 10**9 and _is_of_next(meanings, stop - 1):
            stop -= 1
        records = [line for line, cells in view.lines.items() if start < line < stop and not _titles_run(cells)]
        columns = _with_runs(_columns(meanings, view, lines, units), view, records)
        tables.extend(_cut(Table(view, lines, columns, records, meanings.overrides, units)))
    return [table for table in tables if table.records]


def _with_runs(columns: list[Column], view: View, records: list[int]) -> list[Column]:
    """Return the columns with those of runs that no heading calls so, where several tables stand beside one another."""
    headed = {column.at: column for column in columns}
    open_ones = [at for at, one in headed.items() if one.header.field in ("", "run") or one.header.tags == {"number"}]
    others = headed.keys() - {*open_ones}
    named: dict[int, dict[int, str]] = {}
    for line in records:
        open_to = {at: cell for at, cell in view.lines[line].items() if at not in others}
        for at, text in _runs_in(open_to).items():
            named.setdefault(at, {})[line] = folded(text)
    called = [at for at in named if at in headed and headed[at].header.field == "run"]  # Quiz, in figures, is not
    first = named[min(called or named)] if named else {}
    runs = [at for at, of in named.items() if _are_of_runs(of, first)]
    for at in runs if len(runs) > 1 else ():
        column = headed.get(at) or Column(at, Header())
        headed[at] = replace(column, header=replace(column.header, field="run"))
    return [headed[at] for at in sorted(headed)]


def _are_of_runs(texts: dict[int, str], first: dict[int, str]) -> bool:
    """Return whether several names of runs, by their lines, are those of the `first` column, or words at least."""
    common = texts.keys() & first.keys()
    alike = all(texts[line] == first[line] for line in common)
    return len(common) > 1 and (alike or not all(map(str.isdigit, texts.values())))


def _is_of_next(meanings: Meanings, line: int) -> bool:
    """Return whether a line right above the next table says something of whose that is, Bench | 1, and no mean."""
    cells, headers = meanings.lines[line], meanings.by_row.get(line, {})
    known = all(headers[at].field in (*WHO, *ABOUT, "group", "own", "ignored") for at in headers)
    return known and 2 * len(headers) == len(cells) and _labels_values(cells, meanings.overrides)


def _names_next(meanings: Meanings, line: int) -> bool:
    """Return whether a line labels the name of whose table comes next, Name | Ada, and says nothing else."""
    cells, headers = meanings.lines[line], meanings.by_row.get(line, {})
    (first, *more), told = sorted(cells), [header for header in headers.values() if header.field in WHO]
    alone = len(more) == len(headers) == len(told) == 1 and first in headers
    return alone and not told[0].names_run and told[0].unknown != 1  # Student C is somebody


def _cut(table: Table) -> list[Table]:
    """Return a table for each part of a header row, each with its own part of the sheet."""
    tables, parts, grid = [], _side_by_side(table), table.view.grid
    starts = [next(column.at for column in part if not column.shared) for part in parts]
    shared = starts[0] if any(column.shared for column in parts[-1]) else 0
    rows = range(table.header_lines[0], (table.records or table.header_lines)[-1] + 1)
    for index, part in enumerate(parts if len(parts) > 1 else ()):
        stop = [*starts, 10**9][index + 1]
        within = {at for at in grid.cells if at[0] in rows and (at[1] < shared or starts[index] <= at[1] < stop)}
        own = View(replace(grid, cells={at: cell for at, cell in grid.cells.items() if at in within}))
        records = [line for line in table.records if line in own.lines]
        tables.append(Table(own, table.header_lines, part, records, table.overrides, table.unit_lines))
    return tables or [table]


def _stack(meanings: Meanings, view: View, row: int) -> tuple[list[int], list[int]]:
    """Return the lines of a header around its main row, and the rows of units below it."""
    lines = [row]
    while len(lines) <= MOST_HEADER_ROWS and _is_upper(meanings, view, lines[0] - 1, row):
        lines.insert(0, lines[0] - 1)
    units: list[int] = []
    below = row + 1
    for _ in range(2):
        cells = view.lines.get(below, {})
        if cells and _holds_units(meanings, row, cells):
            units.append(below)
        elif cells and _is_lower(meanings, view, below, row):
            lines.append(below)
        else:
            break
        below += 1
    return lines, units


def _holds_units(meanings: Meanings, main: int, cells: dict[int, Cell]) -> bool:
    """Return whether the cells under a header are units, perhaps with a word of explanation among them."""
    if not any(is_unit(cell) for cell in cells.values()) or holds_units(cells.values()):
        return holds_units(cells.values())
    named = [at for at in cells if (header := meanings.by_place.get((main, at))) and header.field in STUDENT_FIELDS[:5]]
    return not named and all(
        cell.kind == "text" and not numberish(cell) and len(cell.text) <= LONGEST_UNIT for cell in cells.values()
    )


def _is_upper(meanings: Meanings, view: View, line: int, main: int) -> bool:
    """Return whether a line above a header is part of it: it names runs or fields over the columns."""
    cells = view.lines.get(line, {})
    zeros = {at for at, cell in cells.items() if plain(cell.text) == "0"}  # who counts the rough, counts it 0
    numbers = any(numberish(cell) and not run_named(cell) for at, cell in cells.items() if at not in zeros)
    if numbers or len(zeros) > 1 or not any(cell.kind == "text" and not numberish(cell) for cell in cells.values()):
        return False
    headers = {at: meanings.by_place.get((line, at), Header()) for at in cells}
    # What stands over the students' names is a title: "Year 12 titration" names no run 12.
    fields = {at: header.field for at, header in meanings.by_row.get(main, {}).items()}
    about = {at for at, field in fields.items() if field in (*STUDENT_FIELDS[:5], *ABOUT)}
    labels = [at for at, header in headers.items() if header.field in WHO and at not in about]
    beside = [cell for at, cell in cells.items() if at not in labels]
    runs = len(beside) > 1 and all(run_named(cell) for at, cell in cells.items() if at not in {*labels, *zeros})
    labelled = len(labels) == 1 and bool(beside) and not any(understand(cell.text).tags for cell in beside) and not runs
    labelled = labelled or _titles_run(cells) or _labels_values(cells, meanings.overrides)
    labelled = labelled or any(titled(cell.text) for cell in cells.values())
    if labelled or any(at in fields for at in labels):
        return False  # Student: | Ada, or Titration | 1, or Bench | 1, over the columns of a table
    if len(cells) == 1:
        # One cell over the whole table is a title; over a part of it, or naming a run, it is a heading.
        ((at, header),) = headers.items()
        wide = sum(view.covered(line, other) for other in view.lines.get(main, {})) + 1
        return at not in about and header.names_run and header.unknown == 0 and wide < len(view.lines[main])
    named = {at for at, cell in cells.items() if run_named(cell, meanings.overrides)}
    named |= {at for at, header in headers.items() if (line, at) in meanings.by_place and header.unknown <= 3}
    first = min((at for at, field in fields.items() if field in READING_FIELDS), default=0)
    over = [cell.text for at, cell in cells.items() if at >= first]
    if first and named and max(named) < first and 1 < len(over) == len({*over}) < len(fields):
        return False  # Run | Ada | Ben: whose the readings below are
    return bool(named - about)


def _labels_values(cells: dict[int, Cell], overrides: Meant) -> bool:
    """Return whether a line holds nothing but labels with a value each: Class: 10A | Bench | 1 | Date | 12 March."""
    apart = [cell for cell in cells.values() if not (cell.kind == "text" and tells_value(cell.text))]
    labels, values = apart[::2], apart[1::2]
    return len(labels) == len(values) and all(
        _labels(label, value, overrides) for label, value in zip(labels, values, strict=True)
    )


def _labels(cell: Cell, value: Cell, overrides: Meant) -> bool:
    """Return whether a cell is the label of a value behind it, of a student, a bench or the like; Run 1 heads runs."""
    header = understand(cell.text, overrides)
    if numberish(cell) or header.names_run or header.series:
        return False
    if header.field in (*STUDENT_FIELDS, "ignored"):
        return numberish(value) or not understand(value.text).tags
    return not header.tags and numberish(value)


def _titles_run(cells: dict[int, Cell]) -> bool:
    """Return whether a line says of which run the table below it is, Titration | 1, and nothing else."""
    if len(cells) != 2:
        return False
    first, second = cells.values()
    label = understand(first.text)
    return label.field == "run" and not label.unknown and run_named(first) is None and run_named(second) is not None


def _is_lower(meanings: Meanings, view: View, line: int, main: int) -> bool:
    """Return whether a line under a header names the runs below each of its fields."""
    cells = view.lines[line]
    named = [at for at, cell in cells.items() if run_named(cell, meanings.overrides)]
    texts = [at for at in named if cells[at].kind == "text" and not numberish(cells[at])]
    # A name, Student 1 too, stands under a heading for names: 10A beside it is a class, and no run.
    main_row, own_row = meanings.by_row.get(main, {}).items(), meanings.by_row.get(line, {}).items()
    heads = [at for at, header in own_row if header.field in WHO and header.number is None]
    named_below = [at for at, header in main_row if header.field in WHO and at in cells and at not in heads]
    others = [cell for at, cell in cells.items() if at not in named]
    if named_below or any(map(numberish, others)):
        return False
    if any(header.field in ("mean", "result") and view.label(main, at) is None for at, header in own_row):
        return True
    if len(named) < 2 or not (texts or (heads and len(heads) == len(others))):
        return False
    first = view.get(main, min(cells))
    return bool(heads) or not others or (first is not None and len(others) <= 2)


def _columns(meanings: Meanings, view: View, lines: list[int], units: list[int]) -> list[Column]:
    """Return the columns of a table by the headings over them, of which one may stand over several."""
    last: dict[int, tuple[int, str]] = {}
    columns = []
    for at in sorted({at for line in lines for at in view.lines.get(line, {})}):
        texts = _headings_over(meanings, view, lines, at, last)
        header, given = _joined(meanings, texts), meanings.overrides.get(view.line_name(at).casefold())
        header = replace(given, text=header.text) if given else header
        places = [view.place(line, at) for line in lines if view.get(line, at) is not None]
        columns.append(Column(at, with_unit(view, units, at, header), places))
    return columns


def _headings_over(
    meanings: Meanings, view: View, lines: list[int], at: int, last: dict[int, tuple[int, str]]
) -> list[str]:
    """Return the headings over a column; `last` is the last heading of each line, which may reach further right."""
    texts = []
    for line in lines:
        cell = view.label(line, at)
        if cell is not None:
            texts.append(cell.text)
            if view.get(line, at) is not None:
                last[line] = (at, cell.text)
        elif any(view.get(below, at) for below in lines if below > line):
            if line in last and _reaches(meanings, view, lines, line, last[line], at):
                texts.append(last[line][1])
            else:
                last.pop(line, None)  # what stands further right is no part of it either
    return texts


def _joined(meanings: Meanings, texts: list[str]) -> Header:
    """Return what the headings over a column mean together; one that misleads and names no run is left out."""
    header = understand(tuple(texts), meanings.overrides)
    if len(texts) > 1 and header.field in ("ignored", "", "result"):
        last = understand(texts[-1], meanings.overrides)
        if last.field not in ("", "value", header.field):
            kind, number = last.kind or header.kind, last.number if last.number is not None else header.number
            return replace(last, kind=kind, number=number, text=header.text, scale=last.scale or header.scale)
    return header


def with_unit(view: View, units: list[int], at: int, header: Header) -> Header:
    """Return a header with the unit that stands in a row of units below it."""
    for cell in filter(None, (view.get(line, at) for line in units)):
        seen, scale = plain(cell.text), understand(f"({cell.text})").scale
        known = unit_of(seen) is not None
        if known and header.field == "result":
            return replace(header, unit=seen)
        if known and header.field == "own":
            return replace(header, unit=seen, scale=scale)
        if scale:
            return replace(header, scale=scale)
    return header


def _reaches(meanings: Meanings, view: View, lines: list[int], line: int, heading: tuple[int, str], at: int) -> bool:
    """Return whether a heading speaks for a blank cell further right: no run's name does for a mean or a result."""
    named = understand(heading[1], meanings.overrides)
    carries = named.names_run or named.series or named.field in (*RUN_FIELDS, "mean")
    if not carries or view.covered(line, heading[0] + 1):
        return False  # a merged heading ends with its range
    below = [cell.text for other in lines if other > line and (cell := view.get(other, at)) is not None]
    header = understand(tuple(below), meanings.overrides)
    own = header.field
    if not own and header.unknown and not header.tags:  # a word that comes once may be anything, Run 1 F is final
        again = any(sum(cell.text in below for cell in view.lines[other].values()) > 1 for other in lines)
        return again or understand((heading[1], *below), meanings.overrides).field in READING_FIELDS
    return own not in STUDENT_FIELDS or (own == "mean" and bool(named.series) and not named.names_run)


def _side_by_side(table: Table) -> list[list[Column]]:
    """Part the columns of a header row where another table begins: another student or run column after readings.

    Where names stand over readings, and the runs of all to the left of them, it begins with each student's first.
    What is worked out has a table of its own where it has the same students, in whatever order.
    """
    shared = _runs_of_all(table)
    parts: list[list[Column]] = [shared]
    begins = READING_FIELDS if shared else {"student", "run"}
    columns = [column for column in table.columns if column.at not in {each.at for each in shared}]
    for place, column in enumerate(columns):
        field, text = column.header.field, column.header.text
        before = {known.header.field for known in parts[-1] if not shared or known.header.text == text}
        fields = {other.header.field for other in columns[place:]}
        follows = fields & {*READING_FIELDS, "value"} or (fields & {*CLAIMS} and _same_people(table, column))
        if field in begins and field in before and before & READING_FIELDS and follows:
            parts.append(shared)
        parts[-1] = [*parts[-1], column]
    return parts


def _same_people(table: Table, column: Column) -> bool:
    """Return whether a column of students holds those of the first one again."""
    first = {folded(cell.text) for each in table.of(column.header.field)[:1] for cell in table.cells(each)}
    again = {folded(cell.text) for cell in table.cells(column)}
    return column.header.field == "student" and 2 * len(first & again) > len(again)


def _runs_of_all(table: Table) -> list[Column]:
    """Return the column of runs to the left of the readings of several students, whose names stand over them."""
    view, readings = table.view, table.of(*READING_FIELDS)
    starts = [each.at for each in readings if each.header.text == readings[0].header.text]
    over = view.lines.get(table.header_lines[0] - 1, {})
    if len(starts) < 2 or [at for at in over if at >= starts[0]] != starts or any(numberish(over[at]) for at in starts):
        return []
    said = [understand(over[at].text, table.overrides) for at in starts]
    runs = {at for line in table.records for at in _runs_in(view.lines[line]) if at < starts[0]}
    if len(runs) != 1 or not all(not each.tags or (each.field in WHO and each.number) for each in said):
        return []
    column = next((each for each in table.columns if each.at in runs), Column(min(runs), Header()))
    return [replace(column, header=replace(column.header, field="run"), shared=True)]
