"""Numbers of the students' own in the class sheet: their headings, those that the practical names and those by a
formula; and the numbers, held against those that the practical gives for everybody.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from difflib import get_close_matches

from labmark.dataclass import replace
from labmark.facts import OwnValue
from labmark.practical.own import BLANK, OwnNumber
from labmark.problems import Problem, raise_any
from labmark.read.cells import Value, unusable
from labmark.read.grid import Cell, Grid
from labmark.read.headers import Header, Overrides, understand
from labmark.read.model import RawNumber, RawRun, RawStudent, Reading
from labmark.read.own_values import read_difference, read_own
from labmark.read.words import LABELLED, cell_words, folded, plain, says_absent, tokens
from labmark.read.written_units import header_unit, is_small, power_to, unit_of
from labmark.units import shown_unit
from labmark.words import listed

LONGEST, LONGEST_MEANT = 200, 60
"""Characters of a heading, and of one that is known by its meaning alone."""
_BEFORE_UNIT = re.compile(r"\s*(?:[/(\[,:]|\b[ie]n\b)\s*")
_WITHIN = re.compile(r"\s*[(,]?\s*(?:±|\+/-)\s*\d[^)]*\)?$")
"""Mass / g ± 0.001"""
_COUNTS = re.compile(r"\b(?:of|von|de)\s+\d{1,3}\s+[^\W\d_]{3,}", re.I)
"""Mass of 5 tablets: they are no run."""
_FILLERS = frozenset({"of", "in", "for", "the", "used", "im", "fur", "de", "du", "en", "pour", "para"})
"""Words that may stand between a heading and the run that it names."""
_AS_GIVEN = "a number that the practical gives for all"
_LEAST_PIPETTE = 5
"""Smaller whole numbers [cm³] under a bare Pipette are what the pipettes are called."""
WORKED_OUT = "of the unknown"
"""Tag of a mass that may be a step on the way to the result, as that of CaCO3 in a shell."""
Terms = list[tuple[RawNumber, Value]]
"""The number, and what is taken from it where it was weighed by difference; those of them that stand there."""
Found = list[tuple[Reading, RawNumber, Value]]


def own_headings(texts: Iterable[str], numbers: Sequence[OwnNumber], given: Overrides) -> Overrides:
    """Return what the headings mean that hold the practical's own numbers; `given` are the teacher's own meanings."""
    found: dict[str, Header] = {}
    texts = list(_may_head(texts)) if numbers else []
    for text in texts:
        header = next(filter(None, _meanings(text, numbers)), None)
        if header is not None:
            found[folded(text)] = header
    for text, meant in given.items():
        header = next(filter(None, _named(meant.text, numbers)), None)
        found[text] = replace(header, unit=header_unit(text)) if header else meant
    # So much of the unknown as a sample holds is not weighed.
    for number in (each for each in numbers if each.not_formula and not each.formula and (each.value or each.taken)):
        found = {folded(each.text): each for each in _headed(texts, number) if WORKED_OUT in each.tags} | found
    there = {header.group for header in found.values()}
    for number in (each for each in numbers if len(each.columns) == 1 and not each.by_runs):
        if (name := without_unit(number.columns[0])[0]) not in there:
            found |= {folded(each.text): replace(each, group=name) for each in _meant(texts, number)}
    return found


def _headed(texts: Iterable[str], number: OwnNumber) -> Iterator[Header]:
    """Yield what is headed with a word for a number; what names the unknown is tagged."""
    for header in (understand(text) for text in texts if number.words and len(text) <= LONGEST_MEANT):
        if header.number is not None and not header.kind and _COUNTS.search(header.text):
            header = replace(header, number=None)
        if header.field == "own" and header.own == number.words:
            of_unknown = {*tokens(number.not_formula)} - {*tokens(header.text)}
            yield header if of_unknown or not number.not_formula else replace(header, tags=header.tags | {WORKED_OUT})


def _meant(texts: Iterable[str], number: OwnNumber) -> list[Header]:
    """Return the headings of a number by its meaning (Mass of shell / mg for Mass), where one alone can be meant."""
    meant = [*_headed(texts, number)]
    meant = [each for each in meant if WORKED_OUT not in each.tags] or meant
    meant = [each for each in meant if not _names_vessel(each.text)] or meant
    bare = {_words(each) for each in meant}
    bare = bare if len(bare) == 1 else {_words(each) for each in meant if each.unit or each.scale}
    return [each for each in meant if _words(each) in bare] if len(bare) == 1 else []


def _names_vessel(text: str) -> bool:
    """Return whether a heading is of a mass with what it was weighed in, or of that alone."""
    return bool(cell_words("vessel") & {*tokens(text)})


def _words(header: Header) -> tuple[str, ...]:
    """Return the words of a heading without its unit and its run."""
    words, unit = tokens(bare_heading(header)), tokens(header.unit)
    return tuple(word for word in words if word not in unit and not (header.names_run and word.isdigit()))


def _meanings(text: str, numbers: Sequence[OwnNumber]) -> Iterator[Header | None]:
    """Yield what a text may be as a heading of the practical's own numbers, the surest first."""
    yield from _named(text, numbers)
    yield from (_by_formula(text, number) for number in numbers)
    if any(number.columns for number in numbers):
        yield result_of_run(text)
    yield from (Header("group", group=by, text=by) for number in numbers for by in number.groups if named(text, by))


def _named(text: str, numbers: Sequence[OwnNumber]) -> Iterator[Header | None]:
    if any(number.by_runs for number in numbers):
        yield _of_blank(text)
    yield from (named(text, column) for number in numbers for column in number.columns)


def _may_head(texts: Iterable[str]) -> Iterator[str]:
    """Yield what may be a heading, and what stands before a colon."""
    for text in (text for text in texts if len(text) <= LONGEST):
        yield text
        if match := LABELLED.fullmatch(plain(text)):
            yield match["label"]


def named(text: str, column: str) -> Header | None:
    """Return what a heading says if it is the column's, with a unit or a run beside it or not.

    >>> named("Run 2 mass / mg", "Mass").number
    2
    """
    bare, unit = without_unit(text)
    words, wanted = tokens(bare), tokens(without_unit(column)[0])
    size = len(wanted)
    for at in range(len(words) - size + 1 if wanted else 0):
        if words[at : at + size] != wanted:
            continue
        rest = [word for word in words[:at] + words[at + size :] if word not in _FILLERS]
        if not unit and rest and unit_of(rest[-1]) is not None:
            unit = rest.pop()  # Mass g
        if not unit and (within := header_unit(text)) in rest:
            unit = within  # Mass / g (run 1)
            rest.remove(within)
        run = understand(" ".join(rest))
        if not run.unknown and run.tags <= {"run", "trial", "rough", "attempt", "number"}:
            scale = understand(f"({unit})").scale if unit else None
            return Header("own", run.kind, run.number, scale, without_unit(column)[0], text=plain(text), unit=unit)
    return None


def without_unit(text: str) -> tuple[str, str]:
    """Return a heading without its unit, and the unit.

    >>> without_unit("Mass of KHP / mg")
    ('Mass of KHP', 'mg')
    """
    seen = _WITHIN.sub("", plain(text)).rstrip("?.: ")
    for match in _BEFORE_UNIT.finditer(seen):
        unit = seen[match.end() :].strip("()[] ")
        if match.start() and unit_of(unit) is not None:
            return seen[: match.start()], unit
    return seen, ""


def _of_blank(text: str) -> Header | None:
    """Return a heading of a reading of a blank run, or the name of such a run."""
    header = understand(text)
    if "blank" not in header.tags or "volume" in header.tags:
        return None
    field = next((each for each in ("titre", "initial", "final") if each in header.tags), "")
    if not field and (header.unknown or not header.tags <= {"blank", "run"}):
        return None
    return replace(header, field=field or "value", kind="blank", number=header.number or 1, unit="")


def result_of_run(text: str) -> Header | None:
    """Return a heading of a run's result, or of their mean, where runs may have results of their own."""
    header = understand(text)
    if "result" not in header.tags or header.tags & {"initial", "final", "titre", "used"}:
        return None
    if not header.kind and not header.tags & {"mean", "trial"}:
        return None
    return replace(header, field="result", unit=header_unit(text))


def _by_formula(text: str, number: OwnNumber) -> Header | None:
    """Return a heading that gives the known solution's concentration by its formula and would pass for a result."""
    if not number.formula:
        return None
    words = set(tokens(text))
    if not set(tokens(number.formula)) <= words or set(tokens(number.not_formula)) <= words:
        return None
    header = understand(text)
    unit = unit_of(header_unit(text))
    if header.field != "result" and (header.field or unit is None or unit.kind != number.unit):
        return None
    return replace(header, field="own", tags=header.tags | {number.words}, unit=header_unit(text))


def bare_heading(header: Header) -> str:
    """Return a heading as a practical names it: without its unit, and without the run that stands in it.

    >>> bare_heading(understand("Run 1 mass / g"))
    'mass'
    """
    bare, _ = without_unit(header.text)
    runs = {"run", "trial", "rough", "number"}
    of_run = [header.names_run and (word.isdigit() or understand(word).tags & runs) for word in bare.split()]
    without = " ".join(word for word, gone in zip(bare.split(), of_run, strict=True) if not gone)
    return without if without and named(header.text, without) else bare


def check_columns(
    readings: Sequence[Reading], numbers: Sequence[OwnNumber], found: Mapping[str, Header], file: str
) -> None:
    """Raise InputError for a column that the practical names and the class sheet has not got."""
    students = [student for reading in readings for student in reading.students]
    held = {each.header.group for student in students for each in student.numbers}
    told = (header for header in found.values() if header.group in held or named(header.text, header.group))
    there = {header.group for header in told}  # a note that means the number is no column of it
    there |= {BLANK} if any(header.kind == "blank" for header in found.values()) else set()
    problems = []
    for number in numbers:
        missing = [column for column in (*number.columns, *number.groups) if _bare(column) not in there]
        both = len(missing) == 2 == len(number.columns)  # one line is enough
        problems += [_no_column(number, column, readings, file, both) for column in missing[: 1 if both else None]]
    problems += [
        _other_unit(number, raw, student.grid, file)
        for student in students
        for raw in student.numbers
        for number in numbers
        if raw.header.group in map(_bare, number.columns) and _is_of_another_kind(raw.header.unit, number.unit)
    ]
    raise_any(problems)


def _bare(column: str) -> str:
    return without_unit(column)[0]


def _is_of_another_kind(unit: str, asked: str) -> bool:
    """Return whether a unit in a heading is of another quantity than a number is; a bare m is the symbol of a mass."""
    known = unit_of(unit) is not None and folded(unit) != "m"
    return known and asked != "cm3" and power_to(unit, asked) is None


def _other_unit(number: OwnNumber, raw: RawNumber, grid: Grid, file: str) -> Problem:
    asked = shown_unit(number.unit) or "no unit"
    what = f"the numbers under {raw.header.text!r} are in {raw.header.unit}, and {number.key} is in {asked}"
    return grid.problem(what, f"give them in {asked}, and head the column so", None, file)


def _no_column(number: OwnNumber, column: str, readings: Iterable[Reading], file: str, both: bool) -> Problem:
    """Return the problem of a column that is not there; `both`: nor is the other one, of two weighings."""
    headings = {
        folded(without_unit(cell.text)[0]): plain(cell.text)
        for reading in readings
        for place, why in reading.ignored.items()
        if why.startswith("header") and (cell := reading.grid.cells[place]).kind == "text"
    }
    same = [text for text in headings.values() if number.words and number.words in understand(text).tags]
    units = {text: unit_of(without_unit(text)[1]) for text in headings.values()}
    near = same or [text for text, unit in units.items() if unit is not None and unit.kind == number.unit]
    near = [text for text in near if not _names_vessel(text)] or near
    near = near or [headings[each] for each in get_close_matches(folded(column), headings, 1, 0.0)]
    do = f"the nearest heading is {near[0]!r}: correct the name in the practical, or add the column" if near else ""
    weighed = len(same) == 2 and all(map(_names_vessel, same))
    if weighed or (both and len(same) == 1):
        table, _, key = number.key.partition(".")
        how = "it was weighed by difference" if weighed else "this is the mass itself"
        do = f"where {how}, write {_taken(key, map(_bare, same))} under [{table}] of the practical"
    return Problem(f"{number.key} is to be taken from the column {column!r}, which is not there", do, file)


def _taken(key: str, columns: Iterable[str]) -> str:
    """Return how a practical takes a number from a column, or from two of them, one minus the other."""
    terms = ", ".join(f'{term} = "{text}"' for term, text in zip(("column", "minus"), columns, strict=False))
    return f"{key} = {{ {terms} }}"


# --- the numbers ---


def owned(raw: RawStudent, run: RawRun | None, numbers: Sequence[OwnNumber]) -> Iterator[tuple[OwnNumber, Terms]]:
    """Yield each number that the practical takes from the class sheet, with what stands for it.

    `run` is the run that owns it, None for the student. What is taken from it (weighed by difference) may be the
    student's where the number itself is the run's.
    """
    for number in numbers:
        names = [without_unit(column)[0] for column in number.columns]
        terms = [
            [each for each in raw.numbers if each.header.group == name and each.run in (run, None)] for name in names
        ]
        if any(each.run is run for term in terms for each in term):
            nearest = [max(term, key=lambda each: each.run is run) for term in terms if term]
            yield number, [(each, number_of(each, raw.grid, number.unit)) for each in nearest]


def is_turned(terms: Terms) -> bool:
    """Return whether a mass was weighed by adding to what stood on the balance: then the first term is the smaller."""
    first, *others = (value.number or Decimal(0) for _, value in terms)
    return 0 < first < sum(others)


def own_input(terms: Terms, wanted: int, cells: tuple[str, ...], odd: str) -> OwnValue:
    """Return what a number of so many terms comes to; one weighed by difference needs both, in either order."""
    there = [value.number for _, value in terms if value.number is not None]
    if len(there) < wanted:
        return OwnValue(None, None, cells, odd)
    known = [value.decimals for _, value in terms if value.decimals is not None]
    value = there[0] - sum(there[1:], Decimal(0))
    value = abs(value) if is_turned(terms) else value
    whole = max(there) if len(there) > 1 else None
    return OwnValue(value, max(known) if len(known) == len(there) else None, cells, odd, whole)


def number_of(number: RawNumber, grid: Grid, unit: str) -> Value:
    """Return what a cell says where a number of the student's own stands, in `unit`: g, cm3, mol/dm3, the result's."""
    cell = grid.cells[number.place]
    if number.text and number.text != plain(cell.text):
        cell = Cell(number.text)
    # Nobody weighs 1,400 g: only where a small unit is asked for may a comma part thousands.
    mark = grid.mark if is_small(number.header.unit) else ""
    value = read_difference(cell, mark) or read_own(cell, mark, claim=unit != "cm3")
    if value.state == "nothing" and folded(cell.text).strip(" .") not in cell_words("none"):
        value = unusable(plain(cell.text), "is not a number")  # spilt: no default is meant
    if value.number is None:
        return value
    if unit == "cm3":
        scale = 1000 if value.unit or number.header.scale is None else number.header.scale
        return value if scale == 1000 else value.scaled(3 if scale > 1000 else -3)
    power = power_to(value.unit_text or number.header.unit, unit)
    if power is None and unit and unit_of(value.unit_text) is not None:
        return unusable(plain(cell.text), f"is in {value.unit_text}, where {shown_unit(unit)} is wanted")
    return value.scaled(power or 0)


def check_given(readings: Iterable[Reading], numbers: Sequence[OwnNumber]) -> list[str]:
    """Return notes on the students' own numbers; raises InputError where they are not those of the practical.

    A number that the practical does not take from the class sheet would otherwise be passed over in silence, and
    everybody marked with another number than the one that was used at the bench.
    """
    notes: list[str] = []
    problems: list[Problem] = []
    by_words = {number.words: number for number in numbers if number.words and number.taken is None}
    for words, entries in _not_taken(readings, by_words).items():
        given = by_words[words]
        there = [entry for entry in entries if entry[2].number is not None]
        other = [entry for entry in there if entry[2].number != given.value]
        if given.value is None or _are_names(entries):
            notes.append(f"{_headings(entries)}: not used, as the practical has no such number")
        elif other:
            problems.append(_problem(given, given.value, entries, other[0]))
        elif there:
            said = f"{_headings(entries)}: the same for everybody, and what the practical says ({_shown(given)})"
            unread = [of.grid.address(raw.place) for of, raw, value in entries if value.number is None]
            notes.append(f"{said}; it counts for those without a number too ({listed(unread)})" if unread else said)
    raise_any(problems)
    return notes


def _not_taken(readings: Iterable[Reading], by_words: Mapping[str, OwnNumber]) -> dict[str, Found]:
    """Return the numbers of the students' own that the practical gives for all, by the list of their words."""
    found: dict[str, Found] = {}
    for reading in readings:
        for raw in (number for student in reading.students for number in student.numbers):
            if raw.header.own in by_words and not raw.header.group:
                reading.ignored[raw.place] = _AS_GIVEN
                value = number_of(raw, reading.grid, by_words[raw.header.own].unit)
                if value.state != "nothing" and not says_absent(reading.grid.cells[raw.place].text):
                    found.setdefault(raw.header.own, []).append((reading, raw, value))
    return found


def _are_names(entries: Found) -> bool:
    """Return whether the numbers are what the pipettes are called."""
    bare = all(raw.header.scale is None and len(tokens(raw.header.text)) == 1 for _, raw, _ in entries)
    pipettes = all(folded(raw.header.text).startswith("pipet") for _, raw, _ in entries)
    small = (value.number for _, _, value in entries if value.number is not None and not value.number % 1)
    return bare and pipettes and any(number < _LEAST_PIPETTE for number in small)


def _problem(given: OwnNumber, value: Decimal, entries: Found, first: tuple[Reading, RawNumber, Value]) -> Problem:
    reading, raw, own = first
    table, _, key = given.key.partition(".")
    texts = dict.fromkeys(each.header.text for _, each, _ in entries)
    ignore = ", ".join(f'"Ignore{"" if at == 1 else f" {at}"}" = "{text}"' for at, text in enumerate(texts, start=1))
    says = f"gives {_shown(given)} for all" if value else f"has no {given.words}"
    columns = dict.fromkeys(bare_heading(each.header) for each in (raw, *(each for _, each, _ in entries)))
    alone = [column for column in columns if not _names_vessel(column)]
    by_difference = given.words == "mass" and len(columns) == 2 and not alone
    taken = _taken(key, columns if by_difference else [*alone, *columns][:1])
    if given.words == "blank" and any(each.header.tags & {"initial", "final"} for _, each, _ in entries):
        taken = "runs = true"
    return reading.grid.problem(
        f"the students have numbers of their own under {_headings(entries)} ({own.number:f} {shown_unit(given.unit)} "
        f"here), and the practical {says}",
        f"write {taken} under [{table}] of the practical to take them, or {ignore} under [columns] to pass them over",
        raw.place,
        reading.book.file,
    )


def _shown(given: OwnNumber) -> str:
    return f"{given.value:f} {shown_unit(given.unit)}"


def _headings(entries: Found) -> str:
    texts = list(dict.fromkeys(raw.header.text for _, raw, _ in entries))
    return ", ".join(map(repr, texts[:4])) + (", ..." if len(texts) > 4 else "")
