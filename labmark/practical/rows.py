"""From the rows of a `Practical` sheet to the table that a practical file in TOML would hold, and the other way round.

Keys are written with dots, or under a row that names their table as in TOML:

    burette.solution     H2SO4           [burette]
                                         solution        H2SO4

Marks are numbered (marks.1.criterion, marks.1.mark), named (marks.recording = 1, marks.accuracy = 0.20: 3, 0.40: 2), or
stand under [[marks]] rows; so do grades (grades.1.at_least, grades.A = 80, [[grades]]). A value may also be written as
in TOML: { taken = 10.0, made_up_to = 250.0 }.
"""

import json
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from labmark.dataclass import dataclass, field
from labmark.practical.scheme import CRITERIA
from labmark.problems import Problem

Row = tuple[str, object, str]
"""(key, value, cell)"""

NUMBERS = ("masses", "titres")
"""Keys that hold several numbers: in one cell (0.4012; 0.4050), or a row each."""

_BAND = re.compile(r"(\d+(?:[.,]\d+)?)\s*:\s*(\d+(?:[.,]\d+(?![\d.,]*\s*:))?)[\s,;]*")
"""One band and what stands behind it; a comma before the next one is no decimal comma."""

_STRAIGHT = str.maketrans("\u201c\u201d\u201e\u00ab\u00bb", '"""""')
"""Quotation marks that a spreadsheet makes of straight ones."""

LISTS = ("cautions", "parts", "through", "ions", "equations", "count", *NUMBERS)
"""Keys whose rows may be repeated: each adds to the list."""
CHAIN = "equation"
"""Key of the practical itself that is a list only where its row is repeated."""

ENTRIES = {
    "marks": ("criterion", "mark"),
    "grades": ("grade", "at_least"),
    "endpoints": ("name", "equations"),
    "titrations": ("name", "equations"),
    "results": ("name", "of"),
}
"""Lists of tables: which key begins an entry and names it, and which one a bare value is."""


@dataclass()
class Rows:
    """The table that the rows say, where each key stands, and what is wrong with a row."""

    table: dict[str, Any] = field(default_factory=dict)
    cells: dict[str, str] = field(default_factory=dict)
    """Dotted key, as an error would name it -> cell."""
    problems: list[Problem] = field(default_factory=list)
    entries: dict[str, dict[str, "Rows"]] = field(default_factory=lambda: {name: {} for name in ENTRIES})
    """Of a list of tables, by the number or name of each."""


def rows_of(rows: Iterable[Row], file: str = "", sheet: str = "") -> Rows:
    """Return what the rows of a sheet say; a row such as [burette] opens that table."""
    made, section = Rows(), ""
    for key, value, cell in rows:
        if value is None:
            section = _open(made, opened(key)) or section
            continue
        path = path_of(f"{section}.{key}" if section else key)
        try:
            _place(made, path, plain_value(path[-1], value), cell)
        except ValueError as error:
            do = "give the key once, with a value"
            made.problems.append(Problem(f"key {str(key)!r}: {error}", do, file, sheet, cell))
    for name in ENTRIES:
        _close(made, name)
    return made


def _open(made: Rows, table: str) -> str:
    """Return what the keys of a table begin with that a row opens; [[marks]] opens one more of its entries."""
    if table not in ENTRIES:
        return table
    number = str(len(made.entries[table]) + 1)
    made.entries[table][number] = Rows()
    return f"{table}.{number}"


def opened(key: str) -> str:
    """Return the table that a row of this key opens, as [burette] and [[marks]] do; nothing where it opens none."""
    found = re.fullmatch(r"\s*\[{1,2}\s*([\w. ]+?)\s*\]{1,2}\s*", key)
    return found.group(1) if found else ""


def path_of(key: str) -> list[str]:
    """Split a dotted key. Spaces, capitals and [1] for .1 do not matter; names of groups and headings are kept."""
    text = re.sub(r"\[(\d+)\]", r".\1", str(key).strip())
    parts = [part.strip() for part in text.split(".")]
    lowered = [re.sub(r"\s+", "_", part.lower()) for part in parts]
    if lowered[:1] == ["columns"]:
        return ["columns", ".".join(parts[1:])]
    if lowered[:1] == ["grades"] and lowered[1:] not in (["grade"], ["at_least"]):
        return ["grades", *parts[1:2], *lowered[2:]]
    if "values" in lowered:
        names = lowered.index("values") + 1
        return [*lowered[:names], ".".join(parts[names:])]
    return lowered


def plain_value(key: str, value: object) -> object:
    """Turn a cell's value into what the TOML file would hold. Raises ValueError."""
    if isinstance(value, float):
        return Decimal(repr(value))
    if not isinstance(value, str):
        return value
    text = value.strip()
    if text[:1] in ("[", "{"):
        return _as_toml(text.translate(_STRAIGHT))
    if key in NUMBERS:
        return _numbers(text)
    if key == "bands" or (key in CRITERIA and ":" in text):
        return _bands(text)
    number = re.fullmatch(r"[-+]?\d+[.,]\d+", text)
    return Decimal(text.replace(",", ".")) if number else text


def _as_toml(text: str) -> object:
    try:
        return tomllib.loads(f"value = {text}", parse_float=Decimal)["value"]
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"found {text!r}, which begins as TOML does and is none") from error


def _numbers(text: str) -> list[Decimal]:
    """Read "0.4012; 0.4050" as the numbers it says; between decimal commas a semicolon or a space must stand."""
    parts = re.split(r"[;\s]+|,(?=\s)|(?<=\d),(?=\d+\.)", text.strip(" ;,"))
    texts = [part.rstrip(",").replace(",", ".") for part in parts if part.strip(",")]
    if not texts or not all(re.fullmatch(r"\d+(\.\d+)?", each) for each in texts):
        raise ValueError(f"found {text!r}, expected numbers such as 0.4012; 0.4050; 0.3987")
    return [Decimal(each) for each in texts]


def _bands(text: str) -> list[dict[str, object]]:
    """Read "0.20: 3, 0.40: 2" as the bands it says; with decimal commas too."""
    pairs = _BAND.findall(text)
    if not pairs or _BAND.sub("", text).strip(" ,;\n\t"):
        raise ValueError(f"found {text!r}, expected bands such as 0.20: 3, 0.40: 2, 0.60: 1")
    plain = [[Decimal(each.replace(",", ".")) for each in pair] for pair in pairs]
    return [{"within": within, "mark": mark} for within, mark in plain]


def _place(made: Rows, path: list[str], value: object, cell: str) -> None:
    """Put a value where its key says. Raises ValueError where there is one already."""
    if path[0] in ENTRIES and len(path) > 1:
        _place_entry(made, path[0], path[1:], value, cell)
        return
    _put(made.table, path, value)
    made.cells.setdefault(".".join(path), cell)


def _put(table: Any, path: list[str], value: object) -> None:
    """Put a value where a path in a table says. Raises ValueError where there is one already."""
    for part in path[:-1]:
        table = table.setdefault(part, {})
        if not isinstance(table, dict):
            raise ValueError(f"{part} is a value and a table at once")
    if path[-1] in LISTS:
        values = value if isinstance(value, list) else [value]
        table.setdefault(path[-1], []).extend(values)
    elif path == [CHAIN] and CHAIN in table:
        before = table[CHAIN]
        table[CHAIN] = [*(before if isinstance(before, list) else [before]), value]
    elif path[-1] in table:
        raise ValueError("stands twice")
    else:
        table[path[-1]] = value


def _place_entry(made: Rows, of: str, path: list[str], value: object, cell: str) -> None:
    """Put a key of one entry of the marking scheme or the grades: numbered, named, or begun by what names it."""
    entries, (naming, bare) = made.entries[of], ENTRIES[of]
    first = path[0]
    if first == naming and len(path) == 1:
        entries[str(len(entries) + 1)] = Rows()
    named = first in CRITERIA if of == "marks" else of == "grades" and first not in (naming, bare)
    numbered = first.isdigit() and (of != "grades" or len(path) > 1)
    number = first if numbered or named else next(reversed(entries), "1")
    entry = entries.setdefault(number, Rows({naming: first} if named and not numbered else {}))
    name = (path[1:] if numbered or named else path) or ["bands" if isinstance(value, list) else bare]
    _put(entry.table, name, value)
    entry.cells[".".join(name)] = cell


def _close(made: Rows, of: str) -> None:
    """Make the list of the marking scheme or the grades, numbered entries in the order of their numbers."""
    entries = made.entries[of]
    order = [entries[number] for number in sorted(entries, key=lambda each: int(each) if each.isdigit() else 0)]
    made.table |= {of: [entry.table for entry in order]} if order else {}
    for place, entry in enumerate(order, 1):
        for name, cell in entry.cells.items():
            made.cells[f"{of}.{place}.{name}"] = cell
            made.cells.setdefault(f"{of}.{place}", cell)


# --- from a table to rows ---
#
# Tables and lists within a table stand in one cell as in TOML; the values of groups (reference.values.A), and what is
# repeated there (cautions), have a row each.

_PLAIN, _GROUP = re.compile(r"[a-z_]+"), re.compile(r"\w+( \w+)*")
"""A key that capitals and spaces do not matter to; a key that may be the name of a group."""


def sheet_rows(table: Mapping[str, Any]) -> Iterator[tuple[str, object]]:
    """Yield the key and the value of each row; a number keeps the digits that were written."""
    for key, value in table.items():
        if isinstance(value, Mapping) and all(_PLAIN.fullmatch(name) for name in value):
            for name, inner in value.items():
                yield from _rows(f"{key}.{name}", name, inner)
        elif isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
            for place, entry in enumerate(value, 1):
                yield from ((f"{key}.{place}.{name}", _in_one_cell(inner)) for name, inner in entry.items())
        else:
            yield from _rows(key, key, value)


def _rows(key: str, name: str, value: Any) -> Iterator[tuple[str, object]]:
    if isinstance(value, Mapping) and (name == "values" or "values" in value) and all(map(_GROUP.fullmatch, value)):
        yield from (row for part, inner in value.items() for row in _rows(f"{key}.{part}", part, inner))
        return
    repeated = name in LISTS or (key == CHAIN and isinstance(value, list) and len(value) > 1)
    for each in value if repeated and isinstance(value, list) and value else [value]:
        yield key, _in_one_cell(each)


def _in_one_cell(value: Any) -> object:
    return _toml(value) if isinstance(value, (Mapping, list)) else value


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(key)} = {_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, (bool, str)):
        return json.dumps(value, ensure_ascii=False)
    return str(value) if isinstance(value, (int, Decimal)) else json.dumps(str(value))


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)
