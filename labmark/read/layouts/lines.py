"""The lines of a table: whose they are, and which of them are no records at all.

Lines of class figures (mean, spread) are told from students who are called Mean, Max or Average, Joe: words decide only
where nobody's readings stand. Where they do, the figures of a class are those of its columns.
"""

import re
from decimal import Decimal
from functools import cache
from statistics import mean, median, pstdev, stdev

from labmark.exact import decimals_in
from labmark.problems import InputError
from labmark.read.headers import ABOUT, READINGS, Header, understand
from labmark.read.layouts.columns import column_problem
from labmark.read.layouts.find import capitalised, is_unit, numberish, run_named
from labmark.read.layouts.view import Column, Table
from labmark.read.model import RawNumber, RawStudent, Reading
from labmark.read.moments import moment_of
from labmark.read.words import cell_words, counting, folded, phrases, plain, tokens

NOTE_START = re.compile(
    r"(note|notes|nb|n\.b|key|legend|colou?r|\*|†|hinweis|anmerkung|legende|remarque|legende|nota|leyenda)\b|^[*†#]",
    re.I,
)
_SENTENCE = re.compile(
    r"\w\s*=\s*\w|^\d+ [a-zà-ÿ]{3}|\w (?:by|of|on|at|means|durch|bedeutet|par|sur|signifie|por|significa) \w"
)
"""A key, a number of something, or small words that are in no name."""
LONGEST_NAME, MOST_NAME_WORDS = 60, 6
NO_STUDENT = "a worked example, a demonstration or a blank, not a student"
_ALSO_NAMES = frozenset({"max", "min", "sum", "media"})
"""Words for class figures that are also names of people."""
MANY = 4
"""So many figures of a class are no coincidence."""
_WITH_SURNAMES = ({"statistic", "blank"}, {"statistic", "rough"})
"""Meanings of such a name before a surname: Max Blank. Max Total would be a figure."""
_BY_COMPUTER = frozenset({"username", "user", "initials"})
_FIELDS = ("initial", "final", "both", "titre", "value", "mean", "result")


def has_reading(table: Table, line: int) -> bool:
    """Return whether a line has a number where a reading or a titre is wanted."""
    return any(numberish(table.cell(line, column)) for column in table.of(*READINGS, "value"))


def name_columns(table: Table) -> list[Column]:
    """Return the columns that name the student: the name, surname and forename, or else a code or an address."""
    whole, *parts = (table.of(field)[:1] for field in ("student", "surname", "forename"))
    if whole and not all(parts):
        whole += [column for column in table.of("student")[1:] if _counts_on(whole[0], column)]
        return [*whole, *parts[0], *parts[1]]  # Name and Vorname; Nombre and Apellidos
    return whole or [*parts[0], *parts[1]] or table.of("code")[:1] or table.of("address")[:1]


def _counts_on(first: Column, other: Column) -> bool:
    """Return whether two headings differ by a number or a letter alone: Student 1 and Student 2 worked together.

    So did those who stand side by side below one heading.
    """
    words, others = tokens(first.header.text), tokens(other.header.text)
    if words == others:
        return other.at == first.at + 1
    differ = [pair for pair in zip(words, others, strict=False) if pair[0] != pair[1]]
    counts = all(len(word) == 1 or word in counting("ordinal") for pair in differ for word in pair)
    return len(words) == len(others) and len(differ) == 1 and counts


def name_at(table: Table, line: int, names: list[Column]) -> str:
    """Return the name in a line, put together from its columns; empty where there is none."""
    return ", ".join(name_parts(table, line, names))


def name_parts(table: Table, line: int, names: list[Column]) -> list[str]:
    """Return the surname and the forename in a line, or the whole name, or names, alone where a column has both."""
    if len(names) > 1 and names[1].header.field == "student":
        members = [table.label(line, column) for column in names if column.header.field == "student"]
        return [", ".join(dict.fromkeys(plain(cell.text) for cell in members if cell is not None))]
    cells = {column.header.field: table.label(line, column) for column in names}
    texts = {key: plain(cell.text) for key, cell in cells.items() if cell is not None}
    last, first = (texts.get(key, texts.get("student", "")) for key in ("surname", "forename"))
    if last == first or {*tokens(first)} <= {*tokens(last)} or {*tokens(last)} <= {*tokens(first)}:
        return [max(last, first, key=len) or next(iter(texts.values()), "")]
    return [last, first]


def check_name(table: Table, line: int, names: list[Column]) -> None:
    """Raise InputError where a word that heads names stands for one: what it heads is not understood."""
    name = name_at(table, line, names)
    if {"student", "surname", "forename"} & {*phrases().get(tokens(name), ())}:
        what = f"{name!r} heads names or stands before one, and what stands beside it is not understood"
        do = "call the columns of readings Initial and Final, or leave a blank row above the next table"
        raise InputError(table.view.grid.problem(what, do, table.label_place(line, names[0])))


def about_columns(table: Table) -> list[Column]:
    """Return the columns with ID, e-mail, class and the like; of two IDs the name on a computer comes last."""
    return sorted(table.of(*ABOUT), key=lambda column: bool(_BY_COMPUTER & {*tokens(column.header.text)}))


def own_lines(table: Table) -> dict[int, str]:
    """Return the lines that go on below the readings of one student (titres, ticks, own mean), with what each holds."""
    first = {line: next(iter(table.view.lines[line].values())) for line in table.records}
    said = {line: understand(cell.text, table.overrides) for line, cell in first.items() if cell.kind == "text"}
    told = ("titre", "used", "mean", "result", "titre at")
    found = {line: header.key for line, header in said.items() if header.field in told}
    return found if sum(line not in found and has_reading(table, line) for line in table.records) == 1 else {}


def is_label(name: str) -> bool:
    """Return whether a name is the label of another table's line (Titre, Run) rather than a student's."""
    meaning = understand(name) if len(name) <= LONGEST_NAME else Header()
    *before, last = re.findall(r"\w+", name) or [""]
    # Pupil T among Pupil A to Pupil Z is no titre, nor is T, nor T. R.
    somebody = bool({"student", "bench"} & meaning.tags) or all(len(word) == 1 for word in before)
    lettered = len(last) == 1 and last.isalpha() and somebody
    return meaning.unknown == 0 and meaning.field in ("titre", "run", "used") and not lettered


@cache
def _example_words() -> tuple[str, ...]:
    return tuple(f"{word}{end}" for word in cell_words("example") for end in ".:")


def is_example(table: Table, line: int, name: str) -> bool:
    """Return whether a line is the teacher's own: a worked example, a demonstration, a blank."""
    word = folded(name).strip(" .:")
    if word.startswith(_example_words()):
        return True  # e.g. Ada
    first, *others = tokens(word) or ("",)
    whole = word in cell_words("example", "not_the_class")
    if not whole and first not in cell_words("not_the_class"):
        return False
    if "blank" not in understand(word).tags:
        known = {"s", *cell_words("not_the_class")}  # Technician's value, Teacher demo
        return whole or all(each in known or (each,) in phrases() for each in others)
    if word not in cell_words("not_the_class") or "blank" in understand(word, table.overrides).kind:
        return False
    # Blank is a surname too: a blank takes next to nothing.
    most = {each: _most(table, each) for each in table.records}
    return 3 * most.pop(line) < max(most.values(), default=Decimal(0))


def _most(table: Table, line: int) -> Decimal:
    """Return the largest reading or titre of a line; 0 where there is none."""
    return max(
        (number for column in table.of(*_FIELDS[:5]) if (number := table.number(line, column))), default=Decimal(0)
    )


def is_heading(name: str) -> bool:
    """Return whether a text alone in its line heads the lines below it (Group B, Set 2) rather than names a student."""
    if len(name) > LONGEST_NAME:
        return False
    if {*tokens(name)} & cell_words("section") and (len(name.split()) < 4 or any(map(str.isdigit, name))):
        return True
    meaning = understand(name)
    titre = meaning.field == "titre" and meaning.names_run  # Titre 1
    return meaning.unknown == 0 and (meaning.field in ("group", "value", "run", "class") or titre)


def is_sentence(name: str) -> bool:
    """Return whether a text says something of the table rather than names somebody: abs = absent, Checked by KM."""
    return _SENTENCE.search(name) is not None


def lists_absent(name: str) -> bool:
    """Return whether a word for absence heads those who were: Absent: Ada, Ben."""
    head = folded(name.partition(":")[0]).strip()
    begun = any(f"{head} ".startswith(f"{word} ") for word in cell_words("absent"))
    return begun and (":" in name or head in cell_words("absent"))


def is_name(name: str) -> bool:
    """Return whether a text may be a name, rather than a sentence or a label."""
    words = name.split()
    if not name or len(name) > LONGEST_NAME or len(words) > MOST_NAME_WORDS or re.search(r":|\d/\d", name):
        return False
    return len(words) < 4 or sum(word[0].isupper() for word in words) > 1


def is_near(table: Table, line: int, name: str, names: list[Column]) -> bool:
    """Return whether a line with nothing but a name belongs to the table: next to it, or named like its students."""
    above = [other for other in table.records if other < line]
    if not above or above[-1] == line - 1:
        return True
    others = [
        other
        for other in table.records
        if other != line and has_reading(table, other) and not is_label(name_at(table, other, names))
    ]
    if any(other > line for other in others):
        return True
    shapes = {re.sub(r"\d+", "9", name_at(table, other, names)) for other in others}
    return bool(re.search(r"\d", name)) and re.sub(r"\d+", "9", name) in shapes


def is_below(table: Table, line: int, names: list[Column]) -> bool:
    """Return whether a line without a run stands apart below the students and is named as none of them: n = 8.

    Nor is anybody called Date, with what it is beside it; Mark may be, with the number of a bench or nothing.
    """
    name, (_, *beside) = name_at(table, line, names), table.view.lines[line].values()
    meaning, told = understand(name), bool(beside) and not any(cell.text.isdigit() for cell in beside)
    labelled = told and meaning.field in ("ignored", "class", "own") and not meaning.unknown
    if _is_capitalised(name) and not labelled:
        return False
    last = next((other for other in reversed(table.records) if has_run(table, other)), line)
    if line <= last or all(each in table.view.lines for each in range(last, line)):
        return False
    return labelled or all(_is_capitalised(name_at(table, other, names)) for other in table.records if other <= last)


def has_run(table: Table, line: int) -> bool:
    """Return whether a line has both readings of some run, or its titre."""
    there = {column.header.field for column in table.of(*READINGS, "value") if numberish(table.cell(line, column))}
    return {"initial", "final"} <= there or bool(there - {"initial", "final"})


def _is_capitalised(name: str) -> bool:
    """Return whether every word of a name begins with a capital or a figure, as in a class list."""
    return all(word[0].isupper() or word[0].isdigit() for word in name.split())


def add_name(table: Table, line: int, names: list[Column], student: RawStudent) -> None:
    """Add where a line names its student, and keep what a column of notes says, for the teacher."""
    for index, column in enumerate(names):
        if table.cell(line, column) is not None:
            field = column.header.field
            key = "student" if index == 0 else f"{field} {index}" if field == "student" else field
            student.cells.setdefault(key, table.place(line, column))
    if not table.view.turned:
        student.lines.add(line)
    grid = table.view.grid
    for column in table.filled(line, "ignored"):
        place = table.place(line, column)
        if "note" in column.header.tags and (text := plain(grid.cells[place].text)):
            student.notes.append(f"{grid.address(place)}: {text[:300]}")


def times_of_work(table: Table) -> list[Column]:
    """Return the columns that tell when the work was done; none where another tells its order."""
    return [] if table.of("order") else [column for column in table.of("ignored") if column.header.tells_when][:1]


def add_claims(table: Table, line: int, student: RawStudent) -> None:
    """Add a line's own mean and result, the runs used, the place in the order of work, and the groupings."""
    for column in times_of_work(table):
        cell = table.cell(line, column)
        if cell is not None and moment_of(cell) is not None:
            student.cells.setdefault("when", table.place(line, column))
    for column in table.filled(line, "mean", "result", "order"):
        cell = table.cell(line, column)
        if not column.header.names_run and not (cell and is_unit(cell)):
            student.claim(claim_key(table, line, column.header), table.place(line, column), column.header)
    for column in table.filled(line, "runs used"):
        student.cells.setdefault(claim_key(table, line, column.header), table.place(line, column))
    for column in table.filled(line, "own", "result"):
        # Which run a number, or a result of one run, belongs to is settled with the runs.
        if column.header.field == "own" or (column.header.names_run and not column.header.of):
            student.numbers.append(RawNumber(column.header, table.place(line, column)))
    for column in (*about_columns(table), *table.of("group")):
        place, header = table.label_place(line, column), column.header
        if place is not None and header.field == "group":
            student.groups.setdefault(header.group, (place, plain(table.view.grid.cells[place].text)))
        elif place is not None:
            student.cells.setdefault(ABOUT[header.field], place)


def explain(table: Table, line: int, why: str, reading: Reading) -> None:
    """Explain the cells of a line that is no record."""
    for at in table.view.lines[line]:
        reading.ignored.setdefault(table.view.place(line, at), why)


def explain_titration(table: Table, line: int, reading: Reading) -> None:
    """Explain what names the titration that a line is of."""
    for column in table.filled(line, "titration"):
        reading.ignored[table.place(line, column)] = "names the titration"


def claim_key(table: Table, line: int, header: Header) -> str:
    """Return what a claim of a line is entered by: a mean, or a list of runs, in the line of a titration is of that."""
    key, series = header.key.removeprefix("runs "), table.series.get(line, "")
    return f"{key}:{series}" if key in ("mean", "used") and series else key


def nameless(table: Table) -> InputError:
    """Return the error for readings of several people without names."""
    what = "no column says whose readings these are"
    do = "give the table a column headed Student, or name the one that holds the students in a [columns] table"
    return column_problem(table, table.columns[0], what, do)


# --- figures of the class ---


def is_statistic(table: Table, line: int, name: str) -> bool:
    """Return whether a line holds figures of the whole class."""
    text = name or _first_text(table, line)
    if folded(text) == "n" and all(cell.text.isdigit() for cell in list(table.view.lines[line].values())[1:]):
        return True
    meaning, words = understand(text), tokens(text)
    if len(words) > 1 and "statistic" in phrases().get(words, ()):  # nobody is called Grand total
        return True
    if text[:1] == "±" or ("uncertainty" in meaning.tags and not meaning.unknown):  # of the burette: ± 0.05
        return True
    if not _says_statistic(text) or (not name and table.of("run") and "statistic" not in meaning.tags):
        return False
    if is_name_like(text):
        without = bool(table.of("initial", "final", "both")) and not _has_readings(table, line)
        least = 1 if without or len(_lines_of_figures(table, line)) > 1 else MANY
        return folded(text) in _ALSO_NAMES and sums_up(table, line, least)
    return not _has_readings(table, line) or sums_up(table, line)


def _first_text(table: Table, line: int) -> str:
    first = next(iter(table.view.lines[line].values()))
    return first.text if first.kind == "text" else ""


def _says_statistic(text: str) -> bool:
    if not text or len(text) > 100:
        return False
    meaning = understand(text)
    sums_up = bool(meaning.tags & {"mean", "statistic", "expected"}) or plain(text) == "n"
    return sums_up and meaning.field not in ("initial", "final")


def _has_readings(table: Table, line: int) -> bool:
    """Return whether a run's readings stand in a line: both of them, or one of a run that the line names."""
    filled = {column.header.field for column in table.filled(line, *_FIELDS[:5])}
    runs = [run_named(table.cell(line, column)) for column in table.of("run")]
    return {"initial", "final"} <= filled or "both" in filled or (bool(filled) and any(run is not None for run in runs))


def is_name_like(text: str) -> bool:
    """Return whether a text with a word of statistics in it names somebody: Mean Sok, not Mean of the class."""
    meaning, words = understand(text), capitalised(text)
    if folded(text) in _ALSO_NAMES:
        return True
    if len(words) == 2 and folded(words[0]) in _ALSO_NAMES and meaning.tags in _WITH_SURNAMES:
        return True
    return 0 < len(words) <= 3 and meaning.unknown > 0 and meaning.tags <= {"mean", "statistic"}


def sums_up(table: Table, line: int, least: int = 1) -> bool:
    """Return whether `least` numbers of a line are the means, or all spreads or the like, of those in their columns.

    A column of one and the same number, as of burettes filled to the mark, tells nothing beside others.
    """
    figures = _lines_of_figures(table, line)
    others = [record for record in table.records if record not in figures]
    told: list[tuple[bool, ...]] = []
    alike: list[tuple[bool, ...]] = []
    for column in table.of(*_FIELDS):
        number = table.number(line, column)
        values = [value for other in others if (value := table.number(other, column)) is not None]
        if number is not None and values:
            (told if {*values} - {number} else alike).append(_figures(number, values))
    told = told or alike
    return len(told) >= least and 3 * max(map(sum, zip(*told, strict=True))) > 2 * len(told)


def _lines_of_figures(table: Table, line: int) -> set[int]:
    """Return a line and those next to it with nothing but a word of statistics for a name."""
    place, found = table.records.index(line), {line}
    for step in (-1, 1):
        at = place + step
        while 0 <= at < len(table.records):
            text = _first_text(table, table.records[at])
            if not _says_statistic(text) or understand(text).unknown:
                break
            found.add(table.records[at])
            at += step
    return found


def _figures(number: Decimal, values: list[Decimal]) -> tuple[bool, ...]:
    """Return of each figure of a class whether a number is that of these values, to its own decimals."""
    half = Decimal("0.51").scaleb(-max(decimals_in(number), 1))
    spreads = (stdev(values), pstdev(values)) if len(values) > 1 else (None, None)
    least, most = min(values), max(values)
    figures = (mean(values), median(values), most, least, sum(values), *spreads, most - least, len(values))
    return tuple(each is not None and abs(number - each) <= half for each in figures)
