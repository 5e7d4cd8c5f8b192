"""Which columns hold what students worked out, the mean and the result, where their headers leave it open."""

import re
from decimal import Decimal

from labmark.dataclass import replace
from labmark.exact import decimals_in
from labmark.read.cells import read_number
from labmark.read.headers import (
    NET,
    QUANTITIES,
    Header,
    understand,
)
from labmark.read.layouts.columns import column_problem, is_said, take
from labmark.read.layouts.view import Column, Table
from labmark.read.words import cell_words, folded, plain, tokens
from labmark.read.written_units import PER_CENT, asked_unit, fits, header_unit, unit_of

FAR = 4
"""So many times as large, or as small, a number is of something else."""
_FORMULA = re.compile(r"(?:[A-Z][a-z]?\d*|[()]\d*)+ (?P<unit>\S+)")
"""CaCO3 %"""


def settle_bare_means(table: Table) -> None:
    """A column headed Mean alone, with numbers far from all that the burette showed, has the mean of the results."""
    bare = [column for column in table.of("mean") if len(tokens(column.header.text)) == 1]
    read = sorted(_numbers_in(table, *table.of("final", "titre"))) if bare else []
    results = [column.header for column in table.of("result") if not column.header.names_run]
    called = any("outcome" in header.tags for header in results)  # Result goes before Mean
    for column in bare if read else ():
        means = _numbers_in(table, column)
        if means and (FAR * max(means) < read[len(read) // 2] or min(means) > FAR * read[-1]):
            column.header = replace(column.header, field="ignored" if called else "result")


def _numbers_in(table: Table, *columns: Column) -> list[Decimal]:
    each = (table.number(line, column) for column in columns for line in table.records)
    return [number for number in each if number is not None]


def settle_means(table: Table) -> None:
    """Of several means of one titre keep the one of the concordant titres; where none says so, not that of all.

    What is called the mean titre goes before what is called no more than a mean, and what the teacher says is the mean
    before everything.
    """
    for key in {column.header.key for column in table.of("mean")}:
        means = [column for column in table.of("mean") if column.header.key == key]
        if len(means) == 1 and means[0].header.kind != "rough":  # Mean of 3 titres is of no run 3
            means[0].header = replace(means[0].header, kind="", number=None)
        for is_likelier in (
            lambda column: is_said(table, column),
            table.cells,
            lambda column: "used" in column.header.tags,
            lambda column: not NET.search(folded(column.header.text)),
            lambda column: not cell_words("all") & {*tokens(column.header.text)},
            lambda column: any(understand(word).field == "titre" for word in tokens(column.header.text)),
        ):
            left = [column for column in means if is_likelier(column)] or means
            take((column for column in means if column not in left), "ignored")
            means = left
        _check_alike(table, means, "the mean titre", rounded=True)


def _check_alike(table: Table, columns: list[Column], what: str, *, rounded: bool = False) -> None:
    """Raise InputError where several columns may be one thing and hold different numbers.

    `rounded`: the others may hold those of the first one rounded.
    """
    for column in columns[1:]:
        if any(_differ(table, line, columns[0], column, rounded) for line in table.records):
            first = columns[0].header.text
            do = f'say which is not, e.g. "Ignore" = "{first}" in a [columns] table'
            raise column_problem(table, column, f"{first!r} and {column.header.text!r} may both be {what}", do)


def _differ(table: Table, line: int, first: Column, second: Column, rounded: bool) -> bool:
    """Return whether a record has different numbers in two columns; `rounded`: beyond the last digit of the second."""
    one, other = table.number(line, first), table.number(line, second)
    if one is None or other is None:
        return False
    scale = Decimal(first.header.scale or 1000) / (second.header.scale or 1000)  # a mean in dm3 beside one in cm3
    half = Decimal(5).scaleb(-decimals_in(other) - 1)
    return abs(other - one * scale) > (half if rounded else 0)


def settle_results(table: Table) -> None:
    """Beside a column that is called the result, one with the symbol or unit of a concentration only is another.

    Where there are several results, and several columns that do not say of which, none is guessed at; where there is
    one, `_but_the_result` says which it is. A concentration that is the same for all is that of the known solution.
    """
    for column in (column for column in table.of("result") if _is_known(table, column)):
        column.header = _of_known(column.header)
    results = table.of("result")
    if len(results) == 1:  # c1 is the concentration of the first solution
        results[0].header = replace(results[0].header, kind="", number=None)
    unnamed = [column for column in results if not (column.header.of or column.header.names_run)]
    if len(table.overrides.several.results) > 1 and len(unnamed) > 1:
        take(unnamed, "")
    called = [kinds_of(column.header) for column in results if "result" in column.header.tags]
    if any(kinds <= {_wanted(table)} for kinds in called):
        take((column for column in results if not column.header.tags and not column.header.of), "")
    of = {column.header.of for column in results if "result" in column.header.tags and table.cells(column)} - {""}
    take((column for column in results if not column.header.tags and column.header.of in of), "")
    # A mean of results stands beside those of runs.
    perhaps = [column for column in unnamed if column.header.field and "mean" not in column.header.tags]
    for column in _but_the_result(table, perhaps):
        header, numbers = column.header, [table.number(line, column) for line in table.records]
        known = "amount_concentration" in header.tags and "mol/dm3" in kinds_of(header)
        given = known and len(numbers) > 1 and len({*numbers}) == 1
        column.header = _of_known(header) if given else replace(header, field="")
    if not results:
        _settle_unnamed_results(table)


def _is_known(table: Table, column: Column) -> bool:
    """Return whether a concentration, of what is not the unknown, is with everybody what the practical gives."""
    known, header = table.overrides.known, column.header
    if known is None or header.names_run or not header.unknown:
        return False
    numbers = [table.number(line, column) for line in table.records if table.cell(line, column)]
    return (
        len(numbers) > 1 and {*numbers} == {known.value} and not {*tokens(known.not_formula)} <= {*tokens(header.text)}
    )


def _of_known(header: Header) -> Header:
    return replace(header, field="own", tags=header.tags | {"known"}, unit=header_unit(header.text))


def _but_the_result(table: Table, perhaps: list[Column]) -> list[Column]:
    """Return which of several columns that may be the result are others; raises InputError if that is not plain."""
    left = _likeliest(table, perhaps)
    _check_alike(table, left, "the result")
    return [column for column in perhaps if column is not left[0]]


def _likeliest(table: Table, perhaps: list[Column]) -> list[Column]:
    """Return which of several columns that may each be the result are likeliest to be.

    What is called the result goes before what is called a concentration or the like, which may be a step on the way;
    the unit that is asked goes before none at all, and this before that of something else; what differs between
    students goes before what is the same for all, as the actual concentration is.
    """
    wanted, kinds = _wanted(table), {column.at: kinds_of(column.header) for column in perhaps}
    left = perhaps
    for is_likelier in (
        lambda column: is_said(table, column),
        table.cells,
        lambda column: any(re.search(r"\d", cell.text) for cell in table.cells(column)),
        lambda column: "outcome" in column.header.tags,
        lambda column: wanted in kinds[column.at],
        lambda column: not kinds[column.at],
        lambda column: len({table.number(line, column) for line in table.records} - {None}) > 1,
    ):
        left = [column for column in left if is_likelier(column)] or left
    return left


def _wanted(table: Table) -> str:
    """Return the kind of unit that the result is asked in."""
    asked = asked_unit(table.overrides.asked)
    return "%" if asked.power == PER_CENT else asked.kind


def kinds_of(header: Header) -> set[str]:
    """Return which units a heading says that its numbers are in: its own, or those of the quantities that it names."""
    before = "%" if plain(header.text).startswith("%") else ""  # % ethanoic acid
    unit = unit_of(header.unit or header_unit(header.text) or before)
    named = {kind for words, kind in QUANTITIES.items() if words in header.tags}
    return named if unit is None else {"%" if unit == ("g/dm3", PER_CENT) else unit.kind}


def _settle_unnamed_results(table: Table) -> None:
    """Take as the result a column headed with its symbol or unit alone; as several results, those headed by name."""
    unknown, names = [column for column in table.of("") if table.cells(column)], table.overrides.several.results
    of = {column.at: name for column in unknown for name in names if folded(column.header.text) == folded(name)}
    if len(of) == len(names) == len({*of.values()}):
        for column in unknown:
            if column.at in of:
                column.header = replace(column.header, field="result", of=of[column.at])
    perhaps = [column for column in unknown if len(names) < 2 and _tells_result(table, column)]
    take(perhaps if len(perhaps) == 1 else (), "result")


def _tells_result(table: Table, column: Column) -> bool:
    """Return whether a heading is no more than the symbol or the unit of the result, or all its cells have its unit."""
    asked, cells = table.overrides.asked, table.cells(column)
    lowest = [table.view.grid.cells[place].text for place in column.header_places[-1:]]
    if any(is_symbol(text, asked) for text in (column.header.text, *lowest)):
        return True
    return bool(cells) and all(
        cell.kind == "text" and fits(read_number(cell, "", claim=True).unit_text, asked) for cell in cells
    )


def is_symbol(text: str, asked: str) -> bool:
    """Return whether a text is no more than a result's symbol, or a formula and a unit of what is asked in `asked`."""
    substance = _FORMULA.fullmatch(plain(text))
    return plain(text) in ("c", "C", "x", "M") or fits(substance["unit"] if substance else plain(text), asked)
