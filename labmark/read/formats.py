"""Number formats of a workbook: the decimals they fix, and whether they show a date, a time or a percentage."""

import datetime as dt
import re
from typing import NamedTuple
from xml.etree.ElementTree import Element

BUILT_IN = {
    1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 9: "0%", 10: "0.00%", 11: "0.00E+00", 12: "# ?/?", 13: "# ??/??",
    37: "#,##0_)", 38: "#,##0_)", 39: "#,##0.00_)", 40: "#,##0.00_)", 44: "#,##0.00_)", 48: "##0.0E+0", 49: "@",
    **dict.fromkeys((14, 15, 16, 17, 22, *range(27, 37), *range(50, 59)), "yyyy-mm-dd"),
    **dict.fromkeys((18, 19, 20, 21, 45, 47), "hh:mm"), 46: "[h]:mm:ss",
}  # fmt: skip
"""Formats that a workbook names by number alone. Source: ECMA-376 Part 1, 18.8.30 (from memory)."""

_LITERAL = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]', re.IGNORECASE)
_SPAN = re.compile(r"\[(h+|m+|s+)\]", re.IGNORECASE)
EPOCH, EPOCH_1904 = dt.datetime(1899, 12, 30), dt.datetime(1904, 1, 1)


class CellStyle(NamedTuple):
    """What the style of a cell says."""

    decimals: int | None = None
    """Decimals that the format fixes; None where it shows as many as there are."""
    figures: int | None = None
    """Figures that a format with a power of ten fixes."""
    percent: bool = False
    moment: str = ""
    """"date", or "span" for a length of time; empty for a number."""
    struck: bool = False


PLAIN = CellStyle()


def format_decimals(number_format: str) -> int | None:
    """Return the decimals that a number format fixes; None where it shows as many as there are.

    >>> format_decimals('0.00 "mL"'), format_decimals("General"), format_decimals("0.0#")
    (2, None, None)
    """
    bare = _first_section(number_format).replace(" ", "")
    match = re.fullmatch(r"[-+(]?[#0?,]*[0#?](?:\.([0#?]+))?%?\)?[^a-zA-Z0-9#?.,/@%]*", bare)
    if match is None:
        return None
    places = match[1] or ""
    return len(places) if set(places) <= {"0"} else None


def _first_section(number_format: str) -> str:
    return _LITERAL.sub("", number_format).split(";")[0]


def style_of(number_format: str, struck: bool) -> CellStyle:
    """Return what a number format and a font say of a cell."""
    bare = _first_section(number_format)
    if bare.casefold() != "general" and re.search(r"[dmhys]", bare, re.IGNORECASE):
        return CellStyle(moment="span" if _SPAN.search(bare) else "date", struck=struck)
    power = re.fullmatch(r"0(?:\.(0*))?E\+0+", bare, re.IGNORECASE)
    figures = 1 + len(power[1] or "") if power else None
    return CellStyle(format_decimals(number_format), figures, "%" in bare, "", struck)


def cell_styles(root: Element) -> list[CellStyle]:
    """Return what each cell style of a stylesheet says, by its number; what cannot be read says nothing."""
    formats = dict(BUILT_IN)
    for entry in root.iterfind("{*}numFmts/*"):
        if (number := whole(entry.get("numFmtId"))) is not None:
            formats[number] = entry.get("formatCode", "")
    struck = [
        any(part.get("val", "1") not in ("0", "false") for part in font.iterfind("{*}strike"))
        for font in root.iterfind("{*}fonts/*")
    ]
    styles = []
    for entry in root.iterfind("{*}cellXfs/*"):
        font, shown = whole(entry.get("fontId")) or 0, formats.get(whole(entry.get("numFmtId")) or 0, "General")
        styles.append(style_of(shown, font < len(struck) and struck[font]))
    return styles


def whole(text: str | None) -> int | None:
    """Return a text as a whole number not below zero; None where it is none."""
    return int(text) if text is not None and text.isdecimal() and len(text) < 10 else None


def date_of(text: str) -> dt.datetime | str:
    """Return a date in the spelling of ISO 8601; the text itself where it is none."""
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        return text


def whole_where(number: float) -> float | int:
    """Return a stored number as a whole one where it is one."""
    return int(number) if number.is_integer() and abs(number) < 1e15 else number


def moment(serial: float, span: bool, epoch: dt.datetime) -> object:
    """Return the date, time or length of time that a number shows in its format; None where there is no such day.

    The spreadsheet's calendar of 1900 holds a 29 February, so the days before it count one less.
    """
    try:
        if span:
            return dt.timedelta(days=serial)
        if 0 <= serial < 1:
            return (EPOCH + dt.timedelta(days=serial)).time()
        early = epoch == EPOCH and 0 < serial < 60
        return epoch + dt.timedelta(days=serial + 1 if early else serial)
    except (OverflowError, ValueError):
        return None
