"""The record tree as JSON text, with every written digit kept.

A burette reading of 24.90 cm³ is written as the number 24.90, not as 24.9: the last digit says how well the student
read the scale. The standard encoder cannot write a decimal number, so the few rules of JSON are spelt out here; they
also allow a layout that people can read, with what belongs together on one line:

    {"label": "1", "initial": 0.00, "final": 24.40, "titre": 24.40}

What is no JSON number (NaN, infinity) is never written: a reader elsewhere would stumble over it.
"""

from collections.abc import Mapping
from decimal import Decimal
from json.encoder import encode_basestring, encode_basestring_ascii
from typing import Any

from labmark.exact import decimals_in

WIDTH = 118
"""Characters, with indentation, up to which a list or an object stays on one line."""

_PLAIN_PLACES = 30
"""A decimal number that needs more places than this to write out is written with an exponent."""


def results_text(tree: Mapping[str, Any]) -> str:
    """Return the record tree as JSON text, in the order of the tree, with a newline at the end.

    Decimals keep their digits, floats are written in the shortest form that reads back as the same float, numbers of
    numpy become plain ones. The text can always be written as UTF-8.

    Raises ValueError for NaN and infinity and TypeError for what JSON has no form for.
    """
    return _rendered(tree, "") + "\n"


def _rendered(value: Any, indent: str) -> str:
    """Return one value as JSON; `indent` is that of the line it begins on."""
    if isinstance(value, str):
        return _text(value)
    inner = indent + "  "
    if isinstance(value, Mapping):
        return _joined("{", [f"{_name(key)}: {_rendered(item, inner)}" for key, item in value.items()], "}", indent)
    if isinstance(value, list | tuple):
        return _joined("[", [_rendered(item, inner) for item in value], "]", indent)
    return _scalar(value)


def _joined(opening: str, parts: list[str], closing: str, indent: str) -> str:
    """Return the parts on one line where they fit there, else a line each."""
    line = opening + ", ".join(parts) + closing
    if len(indent) + len(line) <= WIDTH and "\n" not in line:
        return line
    inner = "\n" + indent + "  "
    return opening + inner + ("," + inner).join(parts) + "\n" + indent + closing


def _name(key: Any) -> str:
    """Return the name of a member of an object, in quotes."""
    if not isinstance(key, str):
        raise TypeError(f"the name of a member must be text, not {key!r}")
    return _text(key)


def _text(value: str) -> str:
    """Return text in JSON quotes: letters as they are, but half a surrogate pair, which is no UTF-8, escaped."""
    try:
        value.encode()
    except UnicodeEncodeError:
        return encode_basestring_ascii(value)
    return encode_basestring(value)


def _scalar(value: Any) -> str:
    """Return null, a truth value or a number as JSON: a float in the shortest form that reads back the same, a decimal
    number with the digits that were written."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return int.__repr__(value)
    if isinstance(value, float) and value - value == 0:  # so of neither NaN nor an infinity
        return float.__repr__(value)
    if isinstance(value, Decimal) and value.is_finite():
        return f"{value:f}" if abs(decimals_in(value)) <= _PLAIN_PLACES else str(value)
    if isinstance(value, float | Decimal):
        raise ValueError(f"{value} is not a number that JSON can hold")
    if hasattr(value, "dtype") and getattr(value, "ndim", 1) == 0:  # a number of numpy
        return _rendered(value.item(), "")
    raise TypeError(f"{value!r} has no form in JSON")
