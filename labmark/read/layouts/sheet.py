"""One sheet -> its students, whatever the layout, and why what is left says nothing about a reading."""

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter

from labmark.dataclass import replace
from labmark.problems import InputError, Problem, raise_any
from labmark.read.cells import read_number
from labmark.read.grid import Book, Cell, Grid, Place
from labmark.read.headers import READINGS, Header, Meant, titration_named, understand
from labmark.read.layouts.around import Around, Extent, extent, look_around
from labmark.read.layouts.blocks import blocks, names_no_runs
from labmark.read.layouts.find import (
    CLAIMS,
    READING_FIELDS,
    Meanings,
    header_rows,
    names_someone,
    numberish,
    run_named,
    tables_across,
)
from labmark.read.layouts.records import read_table
from labmark.read.layouts.view import NAMES, Table, View
from labmark.read.model import RawStudent, Reading
from labmark.read.students import give_runs_their_numbers, name_run, name_titration
from labmark.read.words import cell_words, folded, plain, tokens

NO_RUNS = "stands in a table without students' names, rough, run, initial or final: not taken for titrations"
_KEY = re.compile(
    r"\b(key|legend|legende|leyenda)\b|\b(colou?rs?|green|red|yellow|farbe|couleur)\b.*(?:[:=]|\bmeans?\b)"
)


def read_sheet(book: Book, grid: Grid, overrides: Meant, outside: str) -> Reading:
    """Return what a sheet says: its students as places of cells, and a reason for every other filled cell.

    `outside` names the student of a sheet that holds one student's table without a name. A sheet without any table
    gives no students. Raises InputError where a table is there but cannot be told apart.
    """
    reading = Reading(book, grid)
    view = View(grid)
    _check_both_readings(view)
    meanings = Meanings(view, overrides)
    there = _tables(meanings)
    extents = [extent(table) for table in there]
    of_class = [table for table in there if len(there) == 1 or not _is_no_students(meanings, table, extents)]
    tables = _without_silent(meanings, of_class, extents, reading)
    nameless = [table for table in tables if not table.names_students]
    names = _names_outside(meanings, nameless, extents, tables, outside if len(tables) == len(nameless) else "")
    for table in tables:
        _read(meanings, table, names.get(id(table)), extents, reading)
    of_one = len(nameless) == len(tables) and len({around.name for around in names.values()}) == 1
    if of_one and min(len(tables), len(reading.students)) > 1:
        reading.students[:] = [_joined(reading.students, [_nameless(grid, table) for table in tables])]
    _join_blocks(reading)
    if len(of_class) < len(there):
        reading.notes.append("a table of a standardisation, blank or demonstration was left out")
    _check_once(grid, reading)
    taken = {*reading.ignored, *_used(reading)}
    left = _leftovers(grid, taken, extents)
    if len(of_class) == len(there):
        _tell_passed_over(grid, left, reading)
    reading.ignored.update(left)
    return reading


def _without_silent(meanings: Meanings, tables: list[Table], extents: list[Extent], reading: Reading) -> list[Table]:
    """Return the tables but those without any word for a student, run or reading, unless all are so."""
    silent = [table for table in tables if _is_silent(meanings, table, extents)]
    reading.no_runs = bool(tables) and len(silent) == len(tables)
    if not silent or reading.no_runs:
        return tables
    for table in silent:
        top, left, bottom, right = extent(table)
        places = (place for place in meanings.grid.cells if top <= place[0] <= bottom and left <= place[1] <= right)
        reading.ignored.update(dict.fromkeys(places, NO_RUNS))
    reading.notes.append("a table without students' names, rough, run, initial or final was left out")
    return [table for table in tables if table not in silent]


def _read(meanings: Meanings, table: Table, outside: Around | None, extents: list[Extent], reading: Reading) -> None:
    """Add the students of a table; `outside` is what names its student, where the table itself names none."""
    before, grid, around = len(reading.students), meanings.grid, outside or Around()
    read_table(table, reading, around.name)
    students = reading.students[before:]
    alone = len(students) == 1
    if outside is None and (alone or len(extents) > 1 or table.view.turned or table.overrides.several.titrations):
        # Whose table it is stands within it.
        around = replace(look_around(meanings, table, extents), name="", place=None, groups={}, ignored={})
    if around.run is None:
        _check_runs_said(table, students)
    elif around.run_place and all(run.unnamed for student in students for run in student.runs):
        reading.ignored.setdefault(around.run_place, "names the run")
    for student in students:
        student.grid = grid  # a table may have seen a part of the sheet only
        student.cells = (around.claims if alone else {}) | student.cells
        name_titration(student, around.series or titration_named(grid.name, table.overrides))
    if alone:
        _add_around(reading, students[0], around)
    name_run(students, around.run)


def _check_runs_said(table: Table, students: Sequence[RawStudent]) -> None:
    """Raise InputError where nothing says which run stands under names: these may be what somebody calls runs."""
    over = [column for column in table.of("student") if column.shared or column.header.text == NAMES]
    if table.view.turned and over and all(run.unnamed for student in students for run in student.runs):
        raise names_no_runs(table.view.grid, table.place(table.records[0], over[0]))


def _check_both_readings(view: View) -> None:
    """Raise InputError where each line holds one reading, and it cannot be told which of them are one run.

    It can while each student's lines stand together and no two say the same, or a run is said wherever a name begins.
    """
    told = [*_single_readings(view)]
    together = [[*of] for _, of in groupby(told, key=itemgetter(0))]
    names, runs = {name for name, *_ in told}, {run for _, run, _ in told if run}
    # A label beside the readings of each form, as NaOH, is no name: the same readings come again with it.
    scattered = len(names) < len(together) and bool(runs or len({*told}) == len(told))
    unsaid = scattered and not all(run for (_, run, _), *_ in together)
    if len(names) > 1 and (unsaid or any(len({*of}) < len(of) for of in together)):
        remedy = "put both readings of a run into one line, headed Initial and Final"
        sheet = view.grid.name if view.grid.prefix else ""
        raise InputError(Problem("each line holds one reading", remedy, sheet=sheet))


def _single_readings(view: View) -> Iterator[tuple[str, str, Header]]:
    """Yield whose reading a line holds, of which run, and which reading it is, of lines that end in one and its label.

    A name or run that is said once stands for the lines below it, but no run goes on to another student.
    """
    name, run = "", ""
    lines = ([*cells.values()] for cells in view.lines.values())
    for *before, cell, number in (line for line in lines if len(line) > 1 and line[-2].kind == "text"):
        label, texts = understand(folded(cell.text)), [folded(each.text) for each in before]
        if numberish(number) and label.field in READINGS and not any(understand(of).field in READINGS for of in texts):
            runs = [text for text, each in zip(texts, before, strict=True) if run_named(each)]
            last, name = name, next((text for text in texts if text not in runs), name)
            run = next(iter(runs), run if name == last else "")
            yield name, run, label


def _tables(meanings: Meanings) -> list[Table]:
    upright = tables_across(meanings, header_rows(meanings))
    turned = [] if upright and not meanings.has_labels() else blocks(meanings, upright)
    for table in upright:
        _cut_at_blocks(table, [extent(other) for other in turned])
    # Without records it is a row that names the runs of the blocks below it.
    stronger = [table for table in upright if table.records and not _is_weaker(table, turned)]
    if len(stronger) < len(upright):
        upright, turned = stronger, blocks(meanings, stronger)
    turned = [table for table in turned if not any(_overlap(table, other) for other in upright)]
    for table in upright:
        _cut_at_blocks(table, [extent(other) for other in turned])
        if len(upright) > 1 and not table.names_students:
            table.records = _unbroken(table)
    return [*upright, *turned]


def _is_weaker(table: Table, others: list[Table]) -> bool:
    """Return whether another table claims the same cells, and has more headers of readings; V1 may be a run's name."""
    sure = READING_FIELDS - {"volume", "titre"}
    return any(_overlap(other, table) and len(other.of(*sure)) > len(table.of(*sure)) for other in others)


def _overlap(one: Table, other: Table) -> bool:
    first, second = extent(one), extent(other)
    return first[0] <= second[2] and second[0] <= first[2] and first[1] <= second[3] and second[1] <= first[3]


def _unbroken(table: Table) -> list[int]:
    """Return the records of a table without names down to the first gap, or the label of what comes next.

    Beside somebody who did more runs the mean and the result may stand below a gap, and below it go on runs that have
    not come yet.
    """
    records: list[int] = []
    seen: set[str] = set()
    for line in table.records:
        first, *_ = cells = [*table.view.lines[line].values()]
        texts = [cell.text for cell in cells if cell.kind == "text"]
        apart = bool(records) and line > records[-1] + 1
        run = run_named(first, table.overrides)
        goes_on = run is not None and run.names_run and folded(first.text) not in seen and len(cells) > 1
        more = goes_on or any(understand(text).field in CLAIMS for text in texts)
        if (apart and not more) or any(map(names_someone, texts)):
            break
        records.append(line)
        seen.add(folded(first.text))
    return records


def _cut_at_blocks(table: Table, others: Sequence[Extent]) -> None:
    """End a table where one that stands on its side begins below it."""
    stop = min((other[0] for other in others if other[0] > table.header_lines[-1]), default=None)
    if stop is not None:
        table.records = [line for line in table.records if line < stop]


def _is_no_students(meanings: Meanings, table: Table, extents: list[Extent]) -> bool:
    """Return whether the title of a table without names says that it is no student's."""
    around = Around() if table.names_students else look_around(meanings, table, extents)
    title = "" if around.name else around.title  # Teacher | , below the name of a student, is a line of a form
    return bool({*tokens(title)} & cell_words("not_the_class"))


def _is_silent(meanings: Meanings, table: Table, extents: list[Extent]) -> bool:
    """Return whether a table has no word for a student, a run or a reading, as a technician's lists have."""
    if table.names_students or table.of("initial", "final", "both", "initial again", "final again", "run", "used"):
        return False
    if any(column.header.names_run or column.header.tags & {"rough", "trial"} for column in table.columns):
        return False
    return not look_around(meanings, table, extents).name


def holds_no_runs(grid: Grid, overrides: Meant) -> bool:
    """Return whether a sheet holds tables, and none of them names a student, a run or a reading."""
    meanings = Meanings(View(grid), overrides)
    tables = _tables(meanings)
    extents = [extent(table) for table in tables]
    return bool(tables) and all(_is_silent(meanings, table, extents) for table in tables)


def _names_outside(
    meanings: Meanings, tables: list[Table], extents: list[Extent], others: list[Table], outside: str
) -> dict[int, Around]:
    """Return, for each table without names, what stands around it; raises InputError where several have no name."""
    found = _around_each(meanings, tables, extents, others)
    named = {around.name for around in found.values() if around.name}
    # 01.xlsx names nobody: there what stands over the readings does.
    titles = [around.title for around in found.values() if not understand(around.title).tags]
    by_title = not named and not re.search(r"[^\W\d_]", outside) and all(titles) and len(titles) == len(tables)
    # The rough here and the accurate runs there are one student's: what heads one of them is a title and no name.
    several = len(tables) > 1 and all(around.name or around.title for around in found.values())
    if len(named) < 2 and not several and not by_title:
        for around in found.values():
            around.name = next(iter(named), outside)
        if named or outside:
            return found
    for around in found.values():
        if not around.name and around.title:
            around.name, around.place = around.title, around.title_place
    raise_any([_nameless(meanings.grid, table) for table in tables if not found[id(table)].name])
    return found


def _around_each(
    meanings: Meanings, tables: list[Table], extents: list[Extent], others: list[Table]
) -> dict[int, Around]:
    """Return what stands around each table; one of another titration alone has the name of the table above it.

    `others` are all the tables with runs.
    """
    found = {id(table): look_around(meanings, table, extents) for table in tables}
    for table in tables:
        around = found[id(table)]
        if around.series and not (around.name or around.title) and (above := _table_above(table, others)) is not None:
            over, within = found.get(id(above), Around()), above.of("student")
            names = {plain(cell.text) for column in within for cell in above.cells(column)}
            around.name = over.name or over.title or (names.pop() if len(names) == 1 else "")
    _go_on(tables, found)
    return found


def _go_on(tables: list[Table], found: dict[int, Around]) -> None:
    """Give a run, which is named beside its readings, to who is named beside those right above it."""
    for table in sorted(tables, key=extent):
        around, above = found[id(table)], _table_above(table, tables)
        if around.name or around.title or around.run is None or above is None:
            continue
        over, (bottom, left) = found[id(above)], extent(above)[2:0:-1]
        place = over.place or over.title_place
        if bottom == extent(table)[0] - 1 and place is not None and place[1] < left:
            around.name, around.place = over.name, over.place
            around.title, around.title_place = over.title, over.title_place


def _table_above(table: Table, tables: list[Table]) -> Table | None:
    top, left, _, right = extent(table)
    above = [(extent(other), other) for other in tables]
    above = [(at, other) for at, other in above if at[2] < top and at[1] <= right and at[3] >= left]
    return max(above, key=lambda each: each[0][2])[1] if above else None


def _nameless(grid: Grid, table: Table) -> Problem:
    what = "no name stands with this table, and the sheet holds several"
    do = "write Name and the student's name over each table, or give each student a sheet"
    return grid.problem(what, do, extent(table)[:2])


def _join_blocks(reading: Reading) -> None:
    """Make one student of those of several blocks who are named by the same cell."""
    named: dict[object, list[RawStudent]] = {}
    for student in reading.students:
        named.setdefault(student.cells.get("student", id(student)), []).append(student)
    what, do = "the same run stands twice below this name", "write Rough, Run 1, ... over the readings of each run"
    for place, parts in named.items():
        of = [reading.grid.problem(what, do, place)] if isinstance(place, tuple) else []
        named[place] = [_joined(parts, of)]
    reading.students[:] = [student for (student,) in named.values()]


def _joined(parts: list[RawStudent], problems: list[Problem]) -> RawStudent:
    """Return the student whose parts these are; raises InputError where they have a run in common."""
    first, *rest = parts
    give_runs_their_numbers(parts)
    for part in rest:
        first.runs += part.runs
        first.numbers += part.numbers
        first.cells, first.groups = part.cells | first.cells, part.groups | first.groups
        first.headers = part.headers | first.headers
        first.lines |= part.lines
    if rest and len({(run.series, run.kind, run.number) for run in first.runs}) < len(first.runs):
        raise InputError(problems)
    return first


def _add_around(reading: Reading, student: RawStudent, around: Around) -> None:
    """Give what stands around a table to its only student."""
    reading.ignored.update({place: why for place, why in around.ignored.items() if place not in reading.ignored})
    if around.place is not None and student.name == around.name:
        student.cells.setdefault("student", around.place)
        reading.ignored.pop(around.place, None)
    student.groups = around.groups | student.groups
    known = {number.header.own for number in student.numbers}
    student.numbers += [number for number in around.numbers if number.header.own not in known]


def _check_once(grid: Grid, reading: Reading) -> None:
    """Raise InputError where two tables claim one cell: better refused than read wrong."""
    seen: set[Place] = set()
    for student in reading.students:
        claims = [place for key, place in student.cells.items() if key.startswith(("mean", "result", "order"))]
        claims += [number.place for number in student.numbers]
        for place in [*claims, *(place for run in student.runs for place in run.cells.values())]:
            if place in seen:
                do = "leave a blank row between tables, and check the headers above"
                raise InputError(grid.problem("the sheet can be read in two ways here", do, place))
            seen.add(place)


def _used(reading: Reading) -> set[Place]:
    spare = {
        number.place
        for student in reading.students
        for number in student.numbers
        if not number.header.group and number.header.field != "result"
    }
    return {place for student in reading.students for place in student.places()} - spare


def _leftovers(grid: Grid, taken: set[Place], tables: list[Extent]) -> dict[Place, str]:
    """Return a reason for every filled cell that is not in `taken`: titles, notes, keys of colours, averages."""
    if not tables:
        return dict.fromkeys(grid.cells.keys() - taken, "no table of titrations stands here")
    top, bottom = min(table[0] for table in tables), max(table[2] for table in tables)
    return {place: _why(cell, place, top, bottom) for place, cell in grid.cells.items() if place not in taken}


def _tell_passed_over(grid: Grid, left: Mapping[Place, str], reading: Reading) -> None:
    """Say where readings begin that belong to no table that was read, if there are any: somebody may be missing."""
    words = (place for place in left if understand(grid.cells[place].text[:200]).field in ("initial", "final", "titre"))
    heads = (place for place in words if any(_is_followed(grid, left, place, *way) for way in ((0, 1), (1, 0))))
    for place in [*heads][:1]:
        word, cell = plain(grid.cells[place].text)[:60], grid.address(place)
        reading.notes.append(f"readings at {word!r} ({cell}) belong to no table that was found, and were not used")


def _is_followed(grid: Grid, left: Mapping[Place, str], place: Place, down: int, across: int) -> bool:
    """Return whether two numbers that were left over follow a cell."""
    following = [(place[0] + step * down, place[1] + step * across) for step in (1, 2)]
    return all(at in left and read_number(grid.cells[at], grid.mark).number is not None for at in following)


def _why(cell: Cell, place: Place, top: int, bottom: int) -> str:
    if cell.kind == "text" and not plain(cell.text):
        return "only spaces, or a formula that shows nothing"
    if cell.kind == "text" and _KEY.search(folded(cell.text)):
        return "a key of colours or signs"
    if cell.kind == "text" and len(cell.text) < 200 and understand(cell.text).tags & {"statistic", "mean"}:
        return "class figures, not a student"
    if place[0] < top:
        return "stands above the table: a title or a note"
    if place[0] > bottom:
        return "stands below the table: a note or class figures"
    return "is beside the readings, in a column or row that is not needed"
