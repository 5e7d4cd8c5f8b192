"""One raw cell -> a number with the decimals that were written, nothing, or something odd with the reason why."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Literal

from labmark.read.grid import Cell
from labmark.read.words import cell_words, folded, plain
from labmark.read.written_units import unit_of

State = Literal["number", "nothing", "odd"]

LITRE = Decimal(1000)
"""cm³ in a dm³."""

_UNITS: dict[str, Decimal] = {
    **dict.fromkeys(
        ("cm3", "cm^3", "ml", "cc", "cm 3", "centimetre cubed", "milliliter", "millilitre", "mls"), Decimal(1)
    ),
    **dict.fromkeys(("dm3", "dm^3", "l", "litre", "liter", "litres", "dm 3"), LITRE),
    **dict.fromkeys(("µl", "μl", "ul", "mm3"), Decimal("0.001")),
}
"""Units of volume as written -> cm³ in one of them."""

_NUMBER = re.compile(
    r"(?P<about>[~≈≃<>]|ca\.?|c\.|approx\.?|about|circa|env\.?|etwa|aprox\.?)?\s*"
    r"(?P<number>[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))"
    r"(?P<power>e[-+]?[0-9]{1,2}|\s*[x×*·]\s*10\s*\^?\s*[-+]?[0-9]{1,2})?\s*"
    r"(?P<unit>[a-zµμ%°/][a-z0-9µμ%/^.·⋅ -]{0,40}?)?\s*"
    r"(?P<mark>[*†‡§#!?✓✔]+)?\s*"
    r"(?P<remark>[(\[].{1,80}[)\]])?\s*(?P<mark2>[*†‡§#!?✓✔]+)?",
    re.IGNORECASE,
)
_PAIR = re.compile(
    r"(?P<first>[-+]?[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit>cm3|ml|dm3|l)?\s*(?:-{1,2}>?|→|to|bis|a|à|/|;|\||\.\.\.|…)\s*"
    r"(?P<second>[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit2>cm3|ml|dm3|l)?",
    re.IGNORECASE,
)
_DATE_TEXT = re.compile(
    r"\d{1,4}[-/. ](?:\d{1,2}|[^\W\d]{3,9}\.?)[-/. ]\d{1,4}(?:[ T]\d{1,2}:\d{2}.*)?"
    r"|\d{1,2}[-. ][^\W\d]{3,9}\.?|[^\W\d]{3,9}\.?[-. ]\d{1,4}|\d{1,2}:\d{2}(?::\d{2})?",
)
_ERROR_TEXT = re.compile(r"#(?:DIV/0!|REF!|VALUE!|NAME\?|NUM!|N/A|NULL!|SPILL!|CALC!)|Err:\d{3}")
_MONTH_NAMES = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
_MONTHS = (
    "jan",
    "feb",
    "fev",
    "ene",
    "mar",
    "apr",
    "abr",
    "avr",
    "may",
    "mai",
    "mag",
    "jun",
    "jui",
    "jul",
    "aug",
    "ago",
    "aou",
    "sep",
    "set",
    "oct",
    "okt",
    "nov",
    "dec",
    "dez",
    "dic",
)


@dataclass(frozen=True, slots=True)
class Value:
    """What a cell says."""

    state: State
    number: Decimal | None = None
    """As written; cm³ where it is a volume."""
    decimals: int | None = None
    """Decimals that were written; None where that cannot be known."""
    why: str = ""
    """Why the cell says nothing, or why it cannot be used."""
    remark: str = ""
    """What stands beside the number, for the teacher."""
    unit: bool = False
    """The cell gives the unit itself."""
    unit_text: str = ""
    """The unit of a result as it is written beside it."""
    discard: bool = False
    """The student marked the number as not to be used."""
    spoilt: str = ""
    """What the spreadsheet, not the student, made of the cell, in a teacher's words."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Both readings of a run, or of one part of it, in one cell."""

    first: Value
    second: Value


def exact(value: float | int) -> Decimal:
    """Return a stored number without the noise of binary subtraction: six decimals are kept.

    >>> exact(22.45 - 9.9)
    Decimal('12.55')
    """
    if isinstance(value, int):
        return Decimal(value)
    return Decimal(repr(value)).quantize(Decimal("1e-6")).normalize() if abs(value) < 1e12 else Decimal(repr(value))


def exact_claim(value: float | int) -> Decimal:
    """Return a stored result without binary noise: twelve significant figures are kept.

    >>> exact_claim(0.1 * 3)
    Decimal('0.3')
    """
    return Decimal(value) if isinstance(value, int) else Decimal(f"{value:.12g}")


def read_number(cell: Cell, mark: str, *, claim: bool = False) -> Value:
    """Return what a cell says where a number is wanted.

    `mark` is the decimal mark of the file's texts. A volume comes in cm³, whatever unit stands in the cell. With
    `claim` the cell holds the student's own result: any unit is left alone, and small numbers keep their figures.
    """
    if cell.kind == "number":
        return _stored(cell, claim=claim)
    if cell.kind == "text":
        found = _from_text(cell.text, mark, claim)
        remark = "; ".join(filter(None, (found.remark, cell.remark)))
        if remark == found.remark and not cell.struck:
            return found
        return replace(found, remark=remark, discard=found.discard or cell.struck)
    return Value("odd", why=_why_odd(cell), spoilt=spoilt(cell))


def _stored(cell: Cell, *, claim: bool) -> Value:
    value = cell.value
    assert isinstance(value, (int, float))
    if value != value or value in (float("inf"), float("-inf")):
        return Value("odd", why="the cell holds no finite number")
    number = exact_claim(value) if claim else exact(value)
    if cell.percent:
        number *= 100
    return Value("number", number, cell.decimals, remark=cell.remark, discard=cell.struck)


def _why_odd(cell: Cell) -> str:
    if cell.kind == "uncalculated":
        return "the formula was never calculated; open the file in a spreadsheet program, recalculate and save it"
    if cell.kind == "error":
        return f"the formula gives the error {plain(cell.text)}; mend it, or type the number"
    if cell.kind == "bool":
        return f"{cell.text} is no number"
    return (
        f"the spreadsheet made a date or time of a number ({_shown_date(cell.value)}){_likely(cell.value)}; retype it"
    )


def spoilt(cell: Cell) -> str:
    """Return what the spreadsheet made of a cell, in a teacher's words; empty where the cell is as it was written.

    >>> spoilt(Cell(dt.datetime(2026, 5, 22), "date"))
    'a date (22 May)'
    """
    if cell.kind == "uncalculated":
        return "formula never calculated"
    if cell.kind == "error":
        return plain(cell.text)[:40] or "an error"
    if cell.kind == "date":
        return _date_words(cell.value)
    seen = plain(cell.text) if cell.kind == "text" and len(cell.text) <= 40 else ""
    if _ERROR_TEXT.fullmatch(seen):
        return seen
    return f"a date ({seen})" if looks_like_date(seen) else ""


def _date_words(value: object) -> str:
    if isinstance(value, (dt.timedelta, dt.time)):
        return f"a time ({value})"
    if not isinstance(value, dt.date):
        return f"a date ({value})"
    # In the format of a date 22.5 is a day of 1900 (or 1904), typed as 22.5 it is a day of this year.
    year = f" {value.year}" if value.year <= 1904 else ""
    return f"a date ({value.day} {_MONTH_NAMES[value.month - 1]}{year})"


def _shown_date(value: object) -> str:
    if isinstance(value, dt.datetime) and value.time() == dt.time(0):
        return value.date().isoformat()
    return str(value)


def _likely(value: object) -> str:
    """Return the likely reading behind a date, in words; nothing is ever taken from it."""
    if isinstance(value, dt.timedelta):
        return f", likely {value.total_seconds() / 86400:.4g}"
    if isinstance(value, dt.datetime) and value.year <= 1900:
        serial = (value - dt.datetime(1899, 12, 30)).total_seconds() / 86400
        # The spreadsheet's calendar holds a 29 February 1900, so days before it are one higher.
        return f", likely {serial if value > dt.datetime(1900, 3, 1) else serial - 1:.6g}"
    if isinstance(value, (dt.datetime, dt.date)):
        return f", likely {value.day}.{value.month}"
    return ""


@lru_cache(maxsize=65536)
def _from_text(text: str, mark: str, claim: bool) -> Value:
    seen = plain(text)
    low = folded(seen).strip(" .")
    if not seen or low in cell_words("nothing") or not low:
        return Value("nothing", why="an empty text" if not seen else f"{seen!r} says that there is nothing")
    if low in cell_words("same"):
        return Value("odd", why=f"{seen!r} points to another cell; write the number")
    match = _NUMBER.fullmatch(seen)
    if match is None:
        return _odd_text(seen)
    written, other = match["number"], "," if mark == "." else "."
    if other in written:
        return Value("odd", why=_why_mark(seen, mark))
    return _numbered(match, Decimal(written.replace(mark, ".").rstrip(".")), claim)


def _numbered(match: re.Match[str], number: Decimal, claim: bool) -> Value:
    unit = " ".join((match["unit"] or "").split()).casefold()
    inside = (match["remark"] or "").strip("()[] ").casefold()
    if inside in _UNITS and not unit:
        unit = inside
    discard = any(word in folded(inside).split() or word == folded(inside) for word in cell_words("discard"))
    if claim:
        return _claimed(match, number, unit, discard)
    if match["power"]:
        return _odd_text(match.string)
    if unit and unit not in _UNITS:
        if unit in cell_words("discard"):
            return Value("number", number, _decimals(number), remark=f"written as {match.string!r}", discard=True)
        return _odd_text(match.string)
    factor = _UNITS.get(unit, Decimal(1))
    if factor != 1:
        number = number.scaleb(3 if factor == LITRE else -3)
    remark = "" if inside in _UNITS else _remark(match)
    return Value("number", number, _decimals(number), remark=remark, unit=bool(unit), discard=discard)


def _claimed(match: re.Match[str], number: Decimal, unit: str, discard: bool) -> Value:
    """Return a student's own result: any usual unit may follow, and a power of ten counts."""
    if unit and unit_of(unit) is None:
        return _odd_text(match.string)
    if match["power"]:
        power = re.sub(r"^e|^\s*[x×*·]\s*10\s*\^?\s*", "", match["power"], flags=re.IGNORECASE)
        number = number.scaleb(int(power))
    inside = (match["remark"] or "").strip("()[] ").casefold()
    beside = unit if unit and not (unit == "%" and inside) else inside
    beside = beside if unit_of(beside) else unit
    return Value("number", number, _decimals(number), remark=_remark(match), discard=discard, unit_text=beside)


def _decimals(number: Decimal) -> int:
    return max(0, -int(number.as_tuple().exponent))


def _remark(match: re.Match[str]) -> str:
    said = [part for part in (match["about"], match["mark"], match["remark"], match["mark2"]) if part]
    return f"written as {match.string!r}" if said else ""


def _why_mark(seen: str, mark: str) -> str:
    used, other = ("point", "comma") if mark == "." else ("comma", "point")
    return f"{seen!r} has a decimal {other} in a file that writes a decimal {used}; write it with a {used}"


def _odd_text(seen: str) -> Value:
    return Value("odd", why=_why_text(seen), spoilt=spoilt(Cell(seen)))


def _why_text(seen: str) -> str:
    """Return why a text is no number, with the likely reading where one suggests itself."""
    short = seen if len(seen) <= 40 else seen[:37] + "..."
    if _ERROR_TEXT.fullmatch(seen):
        return f"a formula gave the error {seen}; mend it in the spreadsheet, or type the number"
    if looks_like_date(seen):
        return f"{short!r} looks like a date that a spreadsheet made of a number; retype it"
    guess = re.sub(r"[.,]{2,}", ".", seen.replace("O", "0").replace("o", "0").replace("l", "1").replace("I", "1"))
    if guess != seen and re.fullmatch(r"\d+(\.\d+)?", guess):
        return f"{short!r} is no number, likely {guess}"
    if re.fullmatch(r"[(\[].*[)\]]", seen):
        return f"{short!r} stands in brackets; write the number without them, or strike it out"
    return f"{short!r} is no number"


def looks_like_date(seen: str) -> bool:
    """Return whether a text has the look of a date or a time (22-May, 22/05/2026, 2026-05-22 00:00:00)."""
    if not _DATE_TEXT.fullmatch(seen):
        return False
    letters = re.findall(r"[^\W\d]{3,}", folded(seen))
    return not letters or letters[0].startswith(_MONTHS)


def read_pair(text: str, mark: str) -> tuple[Pair, ...]:
    """Return the readings of a cell that holds both, "12.20 - 24.40"; one pair a part where the burette was refilled.

    Empty where the text is no such cell.
    """
    pairs = []
    for part in re.split(r"\s*(?:[+&;\n]|\band\b|\bund\b|\bet\b|\by\b)\s*", plain(text)):
        match = _PAIR.fullmatch(part.strip("() "))
        if match is None:
            return ()
        ends = (_from_text(match["first"], mark, False), _from_text(match["second"], mark, False))
        if any(end.state != "number" for end in ends):
            return ()
        pairs.append(Pair(*ends))
    return tuple(pairs)


def read_tick(cell: Cell) -> bool | None:
    """Return whether the student ticked a run; None where the cell says neither yes nor no."""
    if isinstance(cell.value, bool):
        return cell.value
    word = folded(cell.text).strip(" .()[]") or folded(cell.text)
    if word in cell_words("no") and word != "x":
        return False
    if word in cell_words("yes"):
        return True
    return None
