"""What some headers leave open, told from the cells below them."""

import re
from collections.abc import Iterable
from decimal import Decimal
from itertools import pairwise, takewhile
from operator import or_

from labmark.dataclass import replace
from labmark.read.cells import FAR_APART, read_number, read_pair, read_tick
from labmark.read.grid import Cell
from labmark.read.headers import (
    FROM_TO,
    READINGS,
    RUN_FIELDS,
    WHO,
    WORTH,
    Header,
    listed_runs,
    titration_named,
    understand,
)
from labmark.read.layouts import lines
from labmark.read.layouts.answers import kinds_of, settle_bare_means, settle_means, settle_results
from labmark.read.layouts.columns import column_problem, gap_between, is_said, is_wide, take
from labmark.read.layouts.find import numberish, run_named
from labmark.read.layouts.view import Column, Table
from labmark.read.own_numbers import WORKED_OUT
from labmark.read.words import cell_words, folded, phrases, plain, tokens

APART = "of another table"
"""Marks a column of another table, beside that of the students."""
MOST_POINTS = 10
"""Answers on a scale go no further."""
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_SYMBOL = re.compile(r"v[1-9]")
_THIRD = re.compile(r"(?:3rd|third)(?:burette)?reading")
_WORD = re.compile(r"[^\W\d_]{2}")


def settle_columns(table: Table) -> None:
    """Tell from the cells what some headers leave open: V1 and V2, and a column headed only Trial or Accurate."""
    _settle_apart(table)
    _settle_from_to(table)
    _settle_titrations(table)
    _settle_endpoints(table)
    _settle_teams(table)
    _settle_members(table)
    _settle_spans(table)
    _settle_by_cells(table)
    _settle_symbols(table)
    _settle_ends(table)
    _check_readings(table)
    _settle_volumes(table)
    _settle_lone_tick(table)
    _settle_attempts(table)
    _settle_initials(table)
    _settle_strengths(table)
    settle_bare_means(table)
    settle_means(table)
    settle_results(table)
    _settle_behind_results(table)
    _settle_steps(table)


def _settle_apart(table: Table) -> None:
    """What stands behind an empty column is another table, where students, their runs and answers stand before it.

    It has numbers among its headings, as a key does, or says the mean or the titre again and nothing that is new.
    """
    apart = _behind_gap(table)
    before = [column.header for column in table.columns if apart and column.at < apart[0].at]
    has = {header.field for header in before}
    if not has & {*WHO} or not has & {"mean", "result"} or not has & {*READINGS, "value"}:
        return
    runs = {_run_of(header) for header in before if header.field in ("titre", "value")}
    titres = [each for each in apart if each.header.field == "titre" and each.header.names_run]
    read = [each for each in titres if _run_of(each.header) not in runs]
    read += [each for each in apart if each.header.field in ("initial", "final")]
    if any(2 * len(table.cells(column)) > len(table.records) for column in read):
        return
    headings = [table.view.grid.cells[place] for column in apart for place in column.header_places]
    again = _say_again([column.header for column in apart], before)
    if again or any(numberish(cell) and run_named(cell) is None for cell in headings):
        for column in apart:
            column.header = Header("ignored", tags=frozenset({APART}), text=column.header.text)


def _say_again(headers: Iterable[Header], before: Iterable[Header]) -> bool:
    """Return whether headings are of a mean or a titre that others before them are of, and of no new answer."""
    claims = [each for each in headers if each.field in ("titre", "mean", "result") and not each.names_run]
    known = {(key, header.series) for header in before for key in (header.key, "titre")}
    return any(each.field != "result" for each in claims) and all((each.key, each.series) in known for each in claims)


def _behind_gap(table: Table) -> list[Column]:
    """Return the columns behind the first empty one, unless practical or teacher say what one of them is."""
    ats = [column.at for column in table.columns]
    ends = [before for before, after in pairwise(ats) if after > before + 1 and not table.view.turned]
    lines = (*table.header_lines, *table.unit_lines, *table.records) if ends else ()
    filled = {at for line in lines for at in table.view.lines.get(line, ())}
    gap = next((end + 1 for end in ends if end + 1 not in filled), None)
    apart = [column for column in table.columns if gap is not None and column.at > gap]
    return [] if any(is_said(table, column) for column in apart) else apart


def _settle_from_to(table: Table) -> None:
    """From and To are no readings where they lie closer together than those of a run: times, benches."""
    starts, ends = ([each for each in table.of(of) if FROM_TO in each.header.tags] for of in ("initial", "final"))
    both = list(zip(starts, ends, strict=False))
    gaps = [gap for pair in both for line in table.records if (gap := gap_between(table, line, *pair)) is not None]
    near = sum(abs(gap) <= FAR_APART for gap in gaps)
    filled = any(map(table.cells, (*starts, *ends)))
    take((*starts, *ends) if both and filled and 2 * near >= len(gaps) else (), "")


def _settle_titrations(table: Table) -> None:
    """Where the entries of a column are names of titrations, they tell which one each line is of."""
    if not table.overrides.several.titrations:
        return
    for column in table.of("", "run", "ignored"):
        cells = {line: cell for line in table.records if (cell := table.label(line, column)) is not None}
        named = {line: titration_named(cell.text, table.overrides) for line, cell in cells.items()}
        if cells and all(named.values()):
            column.header = replace(column.header, field="titration")
            last = ""
            for line in table.records:
                new = table.filled(line, *WHO) and line not in named
                last = table.series[line] = named.get(line, "" if new else last)
        elif column.header.field == "run":
            runs = {line: understand(cell.text, table.overrides).series for line, cell in cells.items()}
            table.series |= {line: name for line, name in runs.items() if name}


def _settle_endpoints(table: Table) -> None:
    """A volume up to an endpoint, where another column has the reading there, is the titre.

    Where runs are called Titre 1, which has an initial reading, Titre 1 phenolphthalein is the reading there.
    """
    called = {each.header.number for each in table.of("initial") if "titre" in each.header.tags} - {None}
    there = {(each.header.number, each.header.of) for each in table.of("final at")}
    titres = [each for each in table.of("titre at") if each.header.number in called]
    take((each for each in titres if (each.header.number, each.header.of) not in there), "final at")
    volumes = [column for column in table.of("final at") if "volume" in column.header.tags]
    read = {column.header.of for column in table.of("final at") if column not in volumes}
    take((column for column in volumes if column.header.of in read), "titre at")


def _settle_teams(table: Table) -> None:
    """Numbers and letters are nobody's name where another column has names for as many: Team | Name."""
    columns = table.of("student", "surname", "forename")
    held = {column.at: {plain(cell.text) for cell in table.cells(column)} for column in columns}
    named = {at: len(texts) for at, texts in held.items() if any(map(_WORD.search, texts))}
    for column in columns:
        lettered = column.header.field == "student" and column.at not in named
        if lettered and 0 < len(held[column.at]) <= max(named.values(), default=0):
            column.header = replace(column.header, field="group", group=column.header.text)


def _settle_members(table: Table) -> None:
    """Group members are the students where nobody else is named, and so are several partners.

    Names beside each other, below one heading that is merged over them, are those of one group.
    """
    groups, partners = ([] if table.names_students else table.of(field) for field in ("group", "partner"))
    take([each for each in groups if "student" in phrases().get(tokens(each.header.text), ())][:1], "student")
    take(partners if len(partners) > 1 else (), "student")
    for first in table.of("student")[:1] if not table.view.turned else ():
        beside, headed = Column(first.at + 1, first.header), {column.at for column in table.columns}
        merged = any(table.view.covered(line, beside.at) for line in table.header_lines)
        names = [cell for cell in table.cells(beside) if not numberish(cell) and run_named(cell) is None]
        if merged and beside.at not in headed and names == table.cells(beside) != []:
            table.columns = sorted([*table.columns, beside], key=lambda one: one.at)


def settle_groups(table: Table) -> None:
    """Each group, or bench, is a student where nobody else is named and they differ; it stays a grouping too.

    A bottle is nobody's name, and where a column without a known heading may hold names, the teacher says who is meant.
    """
    groups = [column for column in table.of("group") if "bottle" not in column.header.tags]
    for column in groups if not table.view.turned and not _may_hold_names(table) else ():
        texts = [folded(cell.text) for cell in table.cells(column)]
        differ = len({*texts}) > 1 and (len({*texts}) == len(texts) or not is_wide(table))
        if differ and not table.names_students:
            table.columns = [*table.columns, replace(column, header=replace(column.header, field="student"))]


def _may_hold_names(table: Table) -> bool:
    """Return whether each line has a text, not always the same, where nothing says what it is, or as a partner."""
    held = (table.cells(column) for column in table.of("", "partner"))
    full = (cells for cells in held if len(cells) == len(table.records) and not any(map(numberish, cells)))
    return any(len({folded(cell.text) for cell in cells}) > 1 for cells in full)


def _settle_spans(table: Table) -> None:
    """Where the name of each run stands over columns of numbers without a heading they are its readings, and titre."""
    spans = [_span(table, column) for column in table.of("value", "titre") if column.header.names_run]
    spans = [span for span in spans if len(span) > 1]
    if len(spans) < 2:
        return
    table.columns = sorted([*table.columns, *(one for span in spans for one in span[1:])], key=lambda one: one.at)
    gaps = [
        [gap for line in table.records if (gap := gap_between(table, line, *span[:2])) is not None] for span in spans
    ]
    down = all(gap < 0 for of_run in gaps for gap in of_run)  # the final reading stands first
    for span, of_run in zip(spans, gaps, strict=True):
        for one, field in zip(
            span, ("final", "initial", "titre") if down else ("initial", "final", "titre"), strict=False
        ):
            one.header = replace(one.header, field=field)
        far = all(abs(gap) > FAR_APART for gap in of_run)
        if not far or (len(span) > 2 and not _is_difference(table, span[2])):
            what = f"{span[0].header.text!r} stands over columns that have no headings of their own"
            raise column_problem(table, span[0], what, "write Initial, Final or Titre over each of them")


def _span(table: Table, first: Column) -> list[Column]:
    """Return a column with the two at most behind it that have no heading, and numbers for more than half of its."""
    headed, least = {column.at for column in table.columns}, _numbers(table, first) / 2
    behind = (Column(first.at + step, first.header) for step in (1, 2))
    return [first, *takewhile(lambda one: one.at not in headed and _numbers(table, one) > least, behind)]


def _numbers(table: Table, column: Column) -> int:
    return sum(map(numberish, table.cells(column)))


def _settle_by_cells(table: Table) -> None:
    """Take a column for what its cells hold where its header leaves that open."""
    for fields, holds, field in (
        (("value",), _ticks_roughs, "rough ticked"),
        (("value", "titre", "result"), _ticks_runs, "used"),
        (("",), _ticks_by_signs, "used"),
        (("value",), _tells_when, "ignored"),
        (("value",), _rates, ""),
        (("value", *READINGS, "mean", "result"), _marks, "ignored"),
        (("",), _holds_pairs, "both"),
        (("run",), _holds_volumes, "value"),
        (("", "ignored", "used"), _tells_kinds, "run"),
    ):
        for column in table.of(*fields):
            if (cells := table.cells(column)) and holds(table, column.header, cells):
                take([column], field)


def _ticks_roughs(_table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether a column Rough? has nothing but ticks, which say which runs are the rough."""
    return header.kind == "rough" and _are_ticks(cells)


def _ticks_runs(table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether a column of a run holds nothing but ticks: Run 1 OK?, or Conc? in a row for each run."""
    told = header.text.endswith("?") or any(map(read_tick, cells))
    return (header.names_run or not is_wide(table)) and _are_ticks(cells) and told


def _ticks_by_signs(table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether a column of signs for yes and no, whatever heads it, is the only one of ticks for each run."""
    signs = not any(char.isalnum() for cell in cells for char in cell.text)
    told = bool(header.text) and not is_wide(table) and not table.of("used")
    return told and signs and _are_ticks(cells) and any(map(read_tick, cells))


def _rates(_table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether a column of which the number alone is understood holds answers such as 1 to 5, no volumes."""
    numbers = [float(number.replace(",", ".")) for cell in cells for number in _NUMBER.findall(cell.text)]
    return header.unknown > 0 and all(number <= MOST_POINTS and number.is_integer() for number in numbers)


def _tells_when(_table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether a column that names a run says when it was done."""
    return bool(header.tags & {"when", "date"}) and all(read_number(cell, "").state != "number" for cell in cells)


def _marks(_table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether a column Mean titre (2 marks) holds the marks, halves too, rather than the answers."""
    worth = WORTH.search(folded(header.text))
    if worth is None:
        return False
    numbers = [number for cell in cells if (number := read_number(cell, ".").number) is not None]
    return bool(numbers) and all(2 * number % 1 == 0 and number <= int(worth["most"]) for number in numbers)


def _are_ticks(cells: list[Cell]) -> bool:
    return all(not numberish(cell) and read_tick(cell) is not None for cell in cells)


def _holds_pairs(_table: Table, header: Header, cells: list[Cell]) -> bool:
    """Return whether both readings of the run that a header names stand in each cell."""
    return header.names_run and all(cell.kind == "text" and read_pair(cell.text, "") for cell in cells)


def _holds_volumes(table: Table, _header: Header, cells: list[Cell]) -> bool:
    """Return whether a column headed Trial or Accurate, beside others that name runs, is a run: it holds volumes."""
    named = any(column.header.names_run for column in table.of(*RUN_FIELDS))
    volumes = [cell for cell in cells if numberish(cell) and not re.fullmatch(r"\d{1,2}", plain(cell.text))]
    return named and 2 * len(volumes) >= len(cells)


def _tells_kinds(table: Table, _header: Header, cells: list[Cell]) -> bool:
    """Return whether a column says rough or accurate (R or A) of each run, whatever its header is."""
    if is_wide(table):
        return False
    said = [understand(cell.text) for cell in cells]
    accurate = [one.field == "run" or one.kind == "accurate" or folded(one.text) == "a" for one in said]
    roughs = [one.kind == "rough" or (one.tags == {"trial"} and one.number is None) for one in said]
    return any(roughs) and all(map(or_, roughs, accurate))


def _settle_symbols(table: Table) -> None:
    """V1 and V2 are the readings of one run where they lie far apart; with a V3, or close together, they are titres.

    V0 and V1 are the two readings of one run.
    """
    if any("v0" in tokens(column.header.text) for column in table.of("initial")):
        for column in table.of("initial", "volume", "value"):
            if "v1" in tokens(column.header.text):
                _rename(column, "final", keep_run=_bare(column.header) != "v1")
        return
    open_ones = [column for column in table.columns if column.header.field not in ("initial", "final")]
    symbols = [column for column in open_ones if _SYMBOL.fullmatch(_bare(column.header))]
    only_two = {_bare(column.header) for column in symbols} == {"v1", "v2"} and not table.of("initial", "final")
    readings = only_two and _are_readings(table, symbols)
    for column in symbols:
        of_run = "initial" if _bare(column.header) == "v1" else "final"
        _rename(column, of_run if readings else "titre", keep_run=not readings)


def _are_readings(table: Table, symbols: list[Column]) -> bool:
    """Return whether V1 and V2 are the readings of a run rather than titres; raises InputError where either may be."""
    if table.of("titre"):
        return True
    first, second = ([column for column in symbols if _bare(column.header) == name] for name in ("v1", "v2"))
    gaps = (gap_between(table, line, a, b) for a, b in zip(first, second, strict=False) for line in table.records)
    apart = [gap for gap in gaps if gap is not None]
    if apart and all(gap > FAR_APART for gap in apart):
        return True
    if any(abs(gap) > FAR_APART for gap in apart):
        what = "V1 and V2 may be the two readings of a run, or two titres"
        do = 'say which, e.g. "Initial" = "V1" and "Final" = "V2" in a [columns] table'
        raise column_problem(table, symbols[0], what, do)
    return False


def _settle_ends(table: Table) -> None:
    """Where a run is a row, what is the initial reading and the titre together is the final reading: V0, Ve, Veq."""
    starts, ends, titres = (table.of(field) for field in ("initial", "final", "titre"))
    if len(starts) != 1 or ends or len(titres) != 1:
        return
    titre = {line: table.number(line, titres[0]) for line in table.records}
    for column in table.of("", "ignored"):
        gaps = {line: gap for line in titre if (gap := gap_between(table, line, starts[0], column)) is not None}
        if len(gaps) > 2 and all(titre[line] == gap for line, gap in gaps.items()):
            take([column], "final")
            return


def _rename(column: Column, name: str, *, keep_run: bool) -> None:
    kind, number = (column.header.kind, column.header.number) if keep_run else ("", None)
    tags = {name} | (column.header.tags & {"trial"} if keep_run else set())
    column.header = replace(column.header, field=name, kind=kind, number=number, tags=frozenset(tags))


def _settle_volumes(table: Table) -> None:
    """A column headed just "volume" is a titre where nothing else is, or where it is the difference of the readings.

    So are those headed Used that hold it for each run; where some are blank, these runs may not have been used.
    """
    told = {column.header.field for column in table.of("initial", "final", "titre", "both", "value")}
    used = [column for column in table.of("used") if "titre" not in told and table.cells(column)]
    take(used if all(_is_difference(table, each, whole=True) for each in used) else (), "titre")
    take([column for column in table.of("titre") if _is_no_difference(table, column)], "")
    take([column for column in table.of("titre", "value") if _is_far_off(table, column)], "")
    for column in table.of("volume"):
        both, of_run = {"initial", "final"} <= told, column.header.names_run
        lone = not told or (told == {"value"} and of_run)
        take([column], "titre" if lone or (both and (of_run or _is_difference(table, column))) else "")


def _is_no_difference(table: Table, column: Column) -> bool:
    """Return whether a titre that names no run is nobody's difference of readings, or the same for all."""
    if column.header.names_run or column.header.scale not in (None, 1000):
        return False
    before = any(each.at < column.at for each in table.of("initial", "final"))
    if not before and any(each.header.names_run for each in table.of("initial")):
        return True  # Total volume used, before the readings of runs that have names.
    told = [(gap, own) for gap, own in _with_differences(table, column) if own is not None]
    return len(told) > 2 and (_is_for_all(told) or all(abs(gap - own) > 1 for gap, own in told))


def _is_far_off(table: Table, column: Column) -> bool:
    """Return whether a column that names a run holds nothing near the difference of its readings: T1 may be a mark."""
    of_run = {each.header.field: each for each in table.columns if _run_of(each.header) == _run_of(column.header)}
    ends = [of_run[end] for end in ("initial", "final") if end in of_run]
    if len(ends) < 2 or not column.header.names_run or column.header.scale not in (None, 1000):
        return False
    far = 0
    for line in table.records:
        gap, own = gap_between(table, line, *ends), table.number(line, column)
        if gap is not None and own is not None:
            far += 1
            if abs(abs(gap) - own) <= FAR_APART:
                return False
    return far > 2


def _run_of(header: Header) -> tuple[str, int | None, str]:
    return header.kind, header.number, header.series


def _is_difference(table: Table, column: Column, *, whole: bool = False) -> bool:
    """Return whether a column is final minus initial of the columns before it, in most records; `whole`: none blank."""
    gaps = _with_differences(table, column)
    told = [(gap, own) for gap, own in gaps if own is not None]
    most = 2 * sum(abs(gap - own) <= 1 for gap, own in told) > len(told)
    return bool(gaps) and most and not _is_for_all(told) and not (whole and len(told) < len(gaps))


def _with_differences(table: Table, column: Column) -> list[tuple[Decimal, Decimal | None]]:
    """Return how far the readings before a column are apart, and what it holds, of each record with both readings.

    Where none stand before it, as in a line for each run, they are those after it.
    """
    first, last = (
        [each for each in table.of(key) if each.at < column.at] or table.of(key)[:1] for key in ("initial", "final")
    )
    both, names = zip(first[-1:], last[-1:], strict=False), lines.name_columns(table)
    gaps = {line: gap_between(table, line, *ends) for ends in both for line in table.records}
    gaps = {
        line: gap
        for line, gap in gaps.items()
        if not lines.is_statistic(table, line, lines.name_at(table, line, names))
    }
    return [(abs(gap), table.number(line, column)) for line, gap in gaps.items() if gap is not None]


def _is_for_all(told: list[tuple[Decimal, Decimal]]) -> bool:
    """Return whether a volume was given to everybody: it is always the same one, and no difference of readings."""
    return len(told) > 2 and len({own for _, own in told}) == 1 and all(gap != own for gap, own in told)


def _check_readings(table: Table) -> None:
    """Raise InputError where there is a third reading: the first two need not be a run's initial and final then."""
    third = next((column for column in table.columns if _THIRD.fullmatch(_bare(column.header))), None)
    if third is not None and table.of("initial", "final"):
        what = "first, second and third reading may be titres, or readings of runs"
        raise column_problem(table, third, what, 'say which, e.g. "Run 3 titre" = "3rd reading" in a [columns] table')


def _bare(header: Header) -> str:
    return re.split(r"[/(\[]|\b(?:in|ml|cm3?|mls)\b", folded(header.text))[0].replace(" ", "")


def _settle_strengths(table: Table) -> None:
    """A titre in the unit of a concentration, beside readings of which it is no difference, is French for strength."""
    titres = (column for column in table.of("titre") if not column.header.names_run and kinds_of(column.header))
    read = table.of("initial", "final", "both")
    take((column for column in titres if read and not _is_difference(table, column)), "result")


def _settle_lone_tick(table: Table) -> None:
    """One column for several named runs lists those that were used ("1 and 3"), or its ticks do not say which.

    Beside a list other columns that name no run say something else: Did you get concordant titres?
    """
    of_runs = [column.header for column in table.of(*RUN_FIELDS) if column.header.names_run]
    for series in dict.fromkeys(header.series for header in (*of_runs, Header())):
        ticks = [each for each in table.of("used") if not each.header.names_run and each.header.series == series]
        named = {(header.kind, header.number) for header in of_runs if not series or header.series == series}
        lists = [each for each in ticks if _is_list(table.cells(each))]
        if lists or (len(ticks) == 1 and len(named) > 1):
            take(ticks, "")
            take(lists[:1], "runs used")


def _is_list(cells: list[Cell]) -> bool:
    """Return whether a cell names more than one run (1 and 3, all of them), and most are no ticks."""
    named = (len(listed_runs(cell.text)) > 1 or cell_words("all") & {*tokens(cell.text)} for cell in cells)
    ticks = [cell for cell in cells if not any(map(str.isdigit, cell.text)) and read_tick(cell) is not None]
    return any(named) and 2 * len(ticks) < len(cells)


def _settle_attempts(table: Table) -> None:
    """A column Attempt names runs only where nothing else does: beside them it counts times that a student came."""
    runs = table.of("run")
    for column in runs:
        if "attempt" in column.header.tags and (is_wide(table) or len(runs) > 1):
            take([column], "attempt")


def _settle_initials(table: Table) -> None:
    """Initials beside names are those of who checked the work, unless they tell the students apart."""
    names = table.of("student", "surname")[:1]
    for column in table.of("code") if names else ():
        both = [(table.label(line, names[0]), table.cell(line, column)) for line in table.records]
        named = [(folded(name.text), own) for name, own in both if name is not None]
        told = {(name, folded(own.text)) for name, own in named if own is not None}
        shared, few = len({own for _, own in told}) < len(told), 2 * len(told) <= len({name for name, _ in named})
        if (shared or few) and cell_words("initials") & {*tokens(column.header.text)}:
            column.header = replace(column.header, field="ignored")


def _settle_behind_results(table: Table) -> None:
    """A difference behind the mean or the result, where readings stand before them, is from the class and no titre."""
    claims = [column.at for column in table.of("mean", "result")]
    before = [column.at for column in table.of(*RUN_FIELDS) if claims and column.at < min(claims)]
    behind = [column for column in table.of("titre", "volume") if claims and column.at > min(claims)]
    behind = [each for each in behind if is_wide(table) or each.at > max(claims) or not _is_difference(table, each)]
    last = max((other.at for other in table.of("initial", "final")), default=0)
    take((each for each in behind if before and not each.header.names_run and each.at > last), "ignored")


def _settle_steps(table: Table) -> None:
    """A mass of the unknown, behind readings and before the result, is a step on the way there: nobody weighs it."""
    first, last = (min((each.at for each in table.of(*what)), default=0) for what in (RUN_FIELDS, ("result",)))
    own = (column for column in table.of("own") if WORKED_OUT in column.header.tags)
    take((column for column in own if first and first < column.at < last), "ignored")
