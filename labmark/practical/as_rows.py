"""From the table of a practical file to the rows of a `Practical` sheet: what `rows.py` reads, the other way round.

    burette.solution       H2SO4
    flask.dilution         { taken = 25.0, made_up_to = 250.0 }
    marks.1.criterion      recording

Tables and lists within a table stand in one cell as in TOML; the values of groups (reference.values.A), and what is
repeated there (cautions), have a row each.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from labmark.practical.rows import CHAIN, LISTS

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
