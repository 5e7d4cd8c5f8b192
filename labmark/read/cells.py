"""One raw cell -> a number with the decimals that were written, nothing, or something odd with the reason why."""

import datetime as dt
import re
from decimal import Decimal
from functools import lru_cache
from typing import Literal, NamedTuple, Self

from labmark.dataclass import dataclass, replace
from labmark.exact import places_in
from labmark.read.decimal_marks import as_decimal
from labmark.read.grid import Cell
from labmark.read.words import cell_words, folded, phrases, plain, tokens, without_marks
from labmark.read.written_units import is_small, unit_of, volume_units

State = Literal["number", "nothing", "odd"]

LITRE = Decimal(1000)
"""cm³ in a dm³."""
_NOISE = Decimal("1e-6")
_MOST, _MOST_FIGURES, _MOST_DECIMALS = Decimal(10**15), 40, 10
"""A result beyond the first (or below one over it, as a product of three ions that are each out by a thousand is not),
or a number of more characters than the second, is none. A volume of more decimals than the third was written by a
program."""
FAR_APART = 3
"""Titres of one student [cm³] do not lie farther apart than this by any ordinary mishap; readings of one run do."""
MOST_LITRES = Decimal("0.1")
"""No burette holds more [dm³]; and where a unit of dm³ is written, to the nearest cm³ at least."""
_DENIES = frozenset(
    {"not", "no", "nicht", "kein", "pas", "non", "nein", "dont", "or", "oder", "minus", "plus", "ou", "o"}
)
"""Words that take back the number they stand behind."""

_EXPLAINED = re.compile(r"\s*[(,;:]|\s-+\s|\s(?:as|because|since|weil|da|car|parce|porque)\s")
"""What stands between a word and why it was written: not done - ran out of time."""
_CROSSES = "✗✘✕✖❌"
"""Marks of a number that was not used."""
_MARKS = rf"[*†‡§#!?✓✔{_CROSSES}]+"
_NUMBER = re.compile(
    r"(?P<about>[~≈≃≅ø]|ca\.?|c\.|approx(?:imately)?\.?|about|around|roughly|circa|env(?:iron)?\.?|etwa|ungefähr|rund"
    r"|aprox(?:imadamente)?\.?|unos)?\s*"
    r"(?P<number>[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))"
    r"(?P<power>\s?e[-+]?[0-9]{1,2}|\s*[x×*·]\s*10\s*(?:\^|\*\*)?\s*[-+]?[0-9]{1,2}|\s*[x×*·]\s*10\^\([-+]?[0-9]{1,2}\)|\s10\^[-+]?[0-9]{1,2})?\s*"
    r"(?P<unit>[a-zµμ%‰°/][a-z0-9µμ%/^.·⋅ -]{0,40}?)?\s*"
    rf"(?P<mark>{_MARKS})?\s*(?P<remark>[(\[].{{1,80}}[)\]])?\s*(?P<mark2>{_MARKS})?",
    re.IGNORECASE,
)
_WITH_WORDS = re.compile(
    r"(?P<head>[-+]?\d{1,3}[.,]\d{2}(?:\s?(?:cm3|ml))?)\s*[,;:-]?\s+(?P<words>[^\W\d_]{3}[^\d=±]{0,80})", re.I
)
"""Two decimals are all that a burette shows: words behind them are a remark."""
_SPREAD = re.compile(r"(?<=[\dl3])\s*(?:±|\+\s?/?\s?-)\s*\d[\d.,]*(?:\s?(?:cm3|ml))?$", re.I)
"""How sure a reading is, behind it: 24.30 ± 0.05."""
_OTHER_MARK = re.compile(r"(?<![\d.,])(\d{1,3})(?:[·٫](?=\d{1,6}(?![\d^-]))|['’](?=\d{1,2}(?![\d^-])))")
"""22·50, 0·101 and 22'50: the decimal marks of some schoolbooks. 1'234 is a thousand, and 9·74·10^-2 a power of ten."""
_STRENGTH = re.compile(r"vol(?:ume)?s?\.?(?: strength)?|v")
"""20 vol, 20 volumes, 20 V: what a volume strength is written with, and no unit of anything."""
_WITH_UNIT = re.compile(r"(\S+?)\s*((?:cm|ml|mol|mg|g|m|%).*)")
_MISTYPED = str.maketrans("oOlIiSsBzZ", "0011155822")
"""Letters that pass for digits."""
_ONE = r"[-+]?[0-9]+(?:[.,][0-9]+)?"
_PAIR = re.compile(
    rf"(?P<label>[a-z][a-z :=.]*?)?[ :=]*(?P<first>{_ONE})\s*(?P<unit>cm3|ml|dm3|l)?"
    r"(?P<between>\s*(?:-{1,2}>?|=>|→|⇒|[/;|,&]|\.\.\.|\b(?:(?:up )?to|until|bis|a|and|und|et|y|e|hasta)\b)\s*|\s+)"
    rf"(?P<label2>[a-z][a-z :=.]*?)?[ :=]*(?P<second>[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit2>cm3|ml|dm3|l)?"
    rf"(?P<mark>\s*{_MARKS}|\s*[(\[](?!.*\d[.,]\d).{{1,80}}[)\]])?"  # readings in brackets are no remark
)
_TOTAL = re.compile(rf"\s*{_ONE}\s*(?:cm3|ml)?\s*")
_SUM = re.compile(rf"{_ONE}\s*(?:cm3|ml)?(?:\s*\+\s*{_ONE}\s*(?:cm3|ml)?)+")
_TITRES = re.compile(
    r"\d{1,2}(?P<mark>[.,])\d{2}\s?(?:cm3|ml)?(?:(?:\s*[;/|&]\s*|,\s+|,(?=\d+\.)|\s+(?:(?:and|und|et|y)\s+)?)"
    r"\d{1,2}(?P=mark)\d{2}\s?(?:cm3|ml)?)+"
)
"""25.30, 25.35; 25,30 25,35"""
_LABELS = (
    (re.compile(r"\bv ?1\b"), "initial"),
    (re.compile(r"\bv ?2\b"), "final"),
    (re.compile(rf"({_ONE}\s*(?:cm3|ml)?)\s*\(([a-z ]+)\)"), r"\2 \1"),
)
"""V1 and V2 are the readings; 0.55 (initial) 25.95 (final)."""
_PARTS = (re.compile(r"\)[,;+\s]*\("), re.compile(r"\s*(?:[+&;]|,\s|\b(?:and|und|et|y|then)\b)\s*"))
"""What stands between the parts of a run whose burette was refilled."""
_LOOSE = frozenset({"", ",", "&", "and", "und", "et", "y", "e"})
_BEGIN = frozenset({"", "refilled", "refill", "from", "von", "de", "desde", "between", "zwischen", "entre", "i"})
_END = frozenset({"", "f"})
"""Words before the two readings of a cell, beside those of headers."""
_DATE_TEXT = re.compile(
    r"\d{1,4}(?:([-/. ])\d{1,2}\1|[-/. ][^\W\d]{3,9}\.?[-/. ])\d{1,4}(?:[ T]\d{1,2}:\d{2}.*)?"
    r"|\d{1,2}[-. ][^\W\d]{3,9}\.?|[^\W\d]{3,9}\.?[-. ]\d{1,4}|\d{1,2}:\d{2}(?::\d{2})?"
)
_FORMULA = re.compile(r"=\s*[^=]*(?:\b\$?[A-Z]{1,3}\$?\d{1,5}\b|\b[^\W\d_]{3,}\s*\()[^=]*", re.I)
"""=(B3+B4)/2, =AVERAGE(B3:B4): text in a cell that was no formula's."""
_ERROR_TEXT = re.compile(r"#(?:DIV/0!|REF!|VALUE!|NAME\?|NUM!|N/A|NULL!|SPILL!|CALC!)|Err:\d{3}")
_MONTH_NAMES = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
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
    """What is written next to the number, for the teacher."""
    unit: bool = False
    """The cell gives the unit itself."""
    unit_text: str = ""
    """The unit of a result as it is written beside it."""
    discard: bool = False
    """The student marked the number as not to be used."""
    spoilt: str = ""
    """What the spreadsheet, not the student, made of the cell, in a teacher's words."""
    fault: str = ""
    """What is wrong with a text that should be a number, to go on from it: "has the letter o where ..."."""

    def scaled(self, power: int) -> Self:
        """Return the number times a power of ten, with its decimals moved along.

        Of the zeros at the end of a whole number nobody knows how many were meant: 26000 µg are 26.0 mg as well.
        """
        assert self.number is not None
        open_ended = power < 0 and self.decimals == 0 and self.number and not self.number % 10
        places = None if self.decimals is None or open_ended else max(0, self.decimals - power)
        return replace(self, number=self.number.scaleb(power), decimals=places)


class Pair(NamedTuple):
    """Both readings of a run, or of one part of it, in one cell."""

    first: Value
    second: Value

    @property
    def upwards(self) -> "Pair":
        """The same with the lesser reading first."""
        return Pair(self.second, self.first) if (self.first.number or 0) > (self.second.number or 0) else self


def exact(value: float | int) -> Decimal:
    """Return a stored number without the noise of binary subtraction: six decimals are kept.

    >>> exact(22.45 - 9.9)
    Decimal('12.55')
    """
    if isinstance(value, int):
        return Decimal(value)
    return Decimal(repr(value)).quantize(_NOISE).normalize() if abs(value) < 1e12 else Decimal(repr(value))


def exact_claim(value: float | int) -> Decimal:
    """Return a stored result without binary noise: twelve significant figures are kept.

    >>> exact_claim(0.1 * 3)
    Decimal('0.3')
    """
    return Decimal(value) if isinstance(value, int) else Decimal(f"{value:.12g}")


def read_number(cell: Cell, mark: str, *, claim: bool = False, thousands: bool = False) -> Value:
    """Return what a cell says where a number is wanted.

    `mark` is the decimal mark of the other texts (empty: unknown); `thousands` says that a number of a thousand or more
    may be meant. A volume comes in cm³, whatever unit stands in the cell. With `claim` the cell holds the student's own
    result: any unit is left alone, and small numbers keep their figures.
    """
    if cell.kind == "number":
        return _stored(cell, claim=claim)
    if cell.kind == "text":
        found = _from_text(cell.text, mark, claim, thousands)
        if not cell.remark and not cell.struck:
            return found
        remark = "; ".join(filter(None, (found.remark, cell.remark)))
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
    places, shown = places_in(number), cell.decimals
    if not claim and shown is not None:
        # A format of fewer than two decimals cannot keep the zero of 25.30.
        shown = max(shown, places) if max(shown, places) > 1 else None
    found = Value("number", number, shown, remark=cell.remark, discard=cell.struck)
    return _bounded(found, cell.text) if claim else found


def _why_odd(cell: Cell) -> str:
    if cell.kind == "uncalculated":
        return "the formula was never calculated; open the file in a spreadsheet program, recalculate and save it"
    if cell.kind == "error":
        return f"the formula gives the error {plain(cell.text)}; mend it, or type the number"
    if cell.kind == "bool":
        return f"{cell.text} is not a number"
    value = cell.value
    seen = value.date().isoformat() if isinstance(value, dt.datetime) and value.time() == dt.time(0) else value
    return f"the spreadsheet made a date or time of a number ({seen}){_likely(value)}; retype it"


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
    if _FORMULA.fullmatch(seen):
        return spoilt(Cell(seen, "uncalculated"))
    return f"a date ({seen})" if looks_like_date(seen) else ""


def _date_words(value: object) -> str:
    if isinstance(value, (dt.timedelta, dt.time)):
        return f"a time ({value})"
    if not isinstance(value, dt.date):
        return f"a date ({value})"
    # In the format of a date 22.5 is a day of 1900 (or 1904), typed as 22.5 it is a day of this year.
    year = f" {value.year}" if value.year <= 1904 else ""
    return f"a date ({value.day} {_MONTH_NAMES[value.month - 1]}{year})"


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
def _from_text(text: str, mark: str, claim: bool, thousands: bool = False) -> Value:
    seen, whole = plain(without_marks(text)), plain(text)
    low = folded(seen).strip(" .")
    said = low if any(map(str.isdigit, low)) else _EXPLAINED.split(low)[0].replace("’", "'")
    if not seen or not low or {low, said} & cell_words("none", "nothing"):
        return Value("nothing", why="an empty text" if not seen else f"{seen!r} says that there is nothing")
    if low in cell_words("discard"):
        return Value("nothing", why=f"{seen!r} says that the run was given up", discard=True)
    if low in cell_words("same"):
        return unusable(seen, "points to another cell; write the number")
    bare = _OTHER_MARK.sub(r"\1.", seen if claim else _SPREAD.sub("", seen))
    match = _NUMBER.fullmatch(bare) or _NUMBER.fullmatch(bare.strip(" .,;'\"“”"))
    if match is None:
        return (None if claim else _with_words(seen, mark)) or _odd_text(seen)
    value = _numbered(match, mark, claim, thousands)
    if value.number is None or not (value.remark or seen != whole):
        return value
    return replace(value, remark=f"written as {' '.join(text.split())[:60]!r}")


def _with_words(seen: str, mark: str) -> Value | None:
    """Return a reading with a remark behind it; None where the words may say that it is another number, or none."""
    match = _WITH_WORDS.fullmatch(seen)
    if match is None or unit_of(match["words"]) is not None:
        return None
    discard = discards(match["words"])
    if not discard and _DENIES & set(tokens(match["words"])):
        return None
    value = _from_text(match["head"], mark, False)
    return replace(value, remark=f"written as {seen[:60]!r}", discard=discard)


def discards(words: str) -> bool:
    """Return whether words say that a number is not to be used."""
    return any(word in folded(words).split() or word == folded(words) for word in cell_words("discard"))


def _numbered(match: re.Match[str], mark: str, claim: bool, thousands: bool) -> Value:
    """Return what a number says with its unit and its remark; `mark` and `thousands` as for `read_number`."""
    seen, written = match.string, match["number"]
    unit = " ".join((match["unit"] or "").split()).casefold()
    unit = unit.replace(".", "") if unit.replace(".", "") in volume_units() else unit
    inside = (match["remark"] or "").strip("()[] ").casefold()
    if inside in volume_units() and not unit:
        unit = inside
    if len(written) > _MOST_FIGURES:
        return unusable(seen, "has more figures than any number of a titration")
    thousands |= bool(mark) or is_small(unit) if claim else volume_units().get(unit, 1000) < 1000
    number = as_decimal(written, mark, thousands)
    if number is None:
        bare = re.sub("[.,]", "", written)
        return unusable(seen, f"can be {written.replace(',', '.')} or {bare}; write it with a decimal point")
    return _claimed(match, number, unit, inside) if claim else _volume(match, number, unit, inside)


def _volume(match: re.Match[str], number: Decimal, unit: str, inside: str) -> Value:
    """Return a volume in cm³, with the decimals that were written in this unit."""
    seen, factor = match.string, Decimal(volume_units().get(unit, 1000)) / 1000
    if unit and unit not in volume_units() and unit not in cell_words("discard"):
        return _with_words(seen, "") or _odd_text(seen)
    if match["power"]:
        return _odd_text(seen)
    if factor == LITRE and number and (abs(number) > MOST_LITRES or places_in(number) < 3):
        return unusable(seen, f"would be {match['number']} {unit}, which no burette shows; write it in cm3")
    noisy = places_in(number) > _MOST_DECIMALS  # 24.349999999999998 is how a program writes 24.35
    number = exact(float(number * factor)) if noisy else number.scaleb(factor.adjusted())
    if unit in cell_words("discard"):
        return Value("number", number, places_in(number), remark=f"written as {seen!r}", discard=True)
    remark = "" if inside in volume_units() else _remark(match)
    discard = discards(inside) or bool({*_CROSSES} & {*(match["mark"] or ""), *(match["mark2"] or "")})
    return Value("number", number, None if noisy else places_in(number), "", remark, bool(unit), "", discard)


def _claimed(match: re.Match[str], number: Decimal, unit: str, inside: str) -> Value:
    """Return a student's own result: any usual unit may follow, and a power of ten counts."""
    remark = _remark(match)
    if _STRENGTH.fullmatch(unit):
        unit, remark = "", f"written as {match.string!r}"
    if unit and unit_of(unit) is None:
        return _odd_text(match.string)
    if match["power"]:
        power = re.sub(r"^\s?e|^\s*[x×*·]?\s*10\s*[\^*]*[\s(]*", "", match["power"], flags=re.IGNORECASE)
        number = number.scaleb(int(power.rstrip(")")))
    beside = unit if unit and not (unit == "%" and inside) else inside
    beside = beside if unit_of(beside) else unit
    written = " ".join((match["unit"] or "").split())
    beside = written if written.casefold() == beside else beside  # N is normal, and n nothing
    value = Value("number", number, places_in(number), remark=remark, discard=discards(inside))
    return _bounded(replace(value, unit_text=beside), match.string)


def _bounded(value: Value, seen: str) -> Value:
    """Return a number that is beyond any result as unusable."""
    size = abs(value.number or Decimal(0))
    return value if size < _MOST and (not size or size > 1 / _MOST) else unusable(seen, "is beyond any result")


def _remark(match: re.Match[str]) -> str:
    said = [part for part in (match["about"], match["mark"], match["remark"], match["mark2"]) if part]
    return f"written as {match.string!r}" if said else ""


def unusable(seen: str, fault: str) -> Value:
    """Return what a cell says that holds no number that can be used: "24.o", "has the letter o where ..."."""
    return Value("odd", why=f"{shortened(seen)!r} {fault}", fault=fault.partition(";")[0])


def shortened(seen: str) -> str:
    """Return a text as it is quoted in a message."""
    return seen if len(seen) <= 40 else seen[:37] + "..."


def _odd_text(seen: str) -> Value:
    return replace(unusable(seen, _fault(seen)), spoilt=spoilt(Cell(seen)))


def _fault(seen: str) -> str:
    """Return what is wrong with a text that should be a number, with the likely reading where one suggests itself."""
    if _ERROR_TEXT.fullmatch(seen):
        return "is an error that a formula gave; mend it in the spreadsheet, or type the number"
    if _FORMULA.fullmatch(seen):
        return "is a formula that was never calculated; type the number"
    if looks_like_date(seen):
        return "looks like a date or time that a spreadsheet made of a number; retype it"
    if mistyped := _mistyped(seen):
        return mistyped
    if seen[0] in "<>≤≥":
        return "is a limit rather than a reading"
    if re.fullmatch(r"[(\[].*[)\]]", seen):
        return "stands in brackets; write the number without them, or strike it out"
    numbers = len(re.findall(r"(?<![^\W\d_])\d+(?:[.,]\d+)?", seen))
    if numbers > 1:
        return "holds more than one number"
    return "has something beside the number that cannot be told" if numbers else "is not a number"


def _mistyped(seen: str) -> str:
    """Return which slip at the keyboard spoilt a number, with what was likely meant; empty where there is none."""
    match = _WITH_UNIT.fullmatch(seen)
    bare = match[1] if match and (match[2] in volume_units() or unit_of(match[2])) else seen
    digits, likely = bare.translate(_MISTYPED), re.sub(r"\s*[.,]+\s*", ".", bare.translate(_MISTYPED))
    likely = f", likely {likely}" if re.fullmatch(r"\d{1,4}(\.\d{1,4})?", likely) and likely != bare else ""
    letters = sorted({old for old, new in zip(bare, digits, strict=True) if old != new})
    if likely and letters:
        which = "letter" if len(letters) == 1 else "letters"
        return f"has the {which} {' and '.join(letters)} where a digit should be{likely}"
    if re.fullmatch(r"[-+]?[\d.,]*[.,][\d.,]*[.,][\d.,]*", seen):
        return f"has more than one decimal mark{likely}"
    return f"has a space between its figures{likely}" if re.fullmatch(r"[0-9]+(?: ?[.,] ?| )[0-9]+", seen) else ""


def looks_like_date(seen: str) -> bool:
    """Return whether a text has the look of a date or a time (22-May, 22/05/2026, 2026-05-22 00:00:00)."""
    if not _DATE_TEXT.fullmatch(seen):
        return False
    letters = re.findall(r"[^\W\d]{3,}", folded(seen))
    return not letters or letters[0].startswith(tuple(cell_words("month")))


@lru_cache(maxsize=65536)
def read_pair(text: str, mark: str) -> tuple[Pair, ...]:
    """Return the readings of a cell that holds both, "12.20 - 24.40"; one pair a part where the burette was refilled.

    Empty where the text is no such cell.
    """
    seen = folded(without_marks(text).replace("\n", "; "))
    head, equals, total = seen.partition("=")
    if equals and _TOTAL.fullmatch(total) and (difference := _one_pair(head, mark)):  # 25.90 - 0.00 = 25.90
        return (difference.upwards,)
    as_written = seen
    for pattern, label in _LABELS:
        seen = pattern.sub(label, seen)
    if both := _one_pair(as_written, mark) or _one_pair(seen, mark):
        return (both,)
    between = next(each for each in _PARTS if each.search(seen) or each is _PARTS[-1])
    parts = [_one_pair(part, mark) for part in between.split(seen)]
    return tuple(part for part in parts if part) if all(parts) else ()


def read_total(text: str, mark: str) -> Value:
    """Return the titre that stands behind the readings of a cell: 25.90 - 0.00 = 25.90."""
    _, equals, total = plain(without_marks(text)).partition("=")
    return _from_text(total, mark, False) if equals else Value("nothing")


def read_sum(text: str, mark: str) -> tuple[Value, ...]:
    """Return the terms of a sum of volumes, 50.00 + 15.35 = 65.35; empty where it is none, or is out."""
    head, equals, total = folded(without_marks(text)).partition("=")
    if not _SUM.fullmatch(head.strip()):
        return ()
    terms = tuple(_from_text(each, mark, False) for each in head.split("+"))
    comes_to = sum((each.number or Decimal(0) for each in terms), Decimal(0))
    fits = not equals or _from_text(total, mark, False).number == comes_to
    return terms if fits and all(each.number is not None for each in terms) else ()


def titres_in(text: str) -> list[str]:
    """Return the titres of several runs that stand in one cell, 25.30; 25.35; none where it may hold anything else."""
    seen = folded(without_marks(text).replace("\n", "; "))
    found = re.findall(r"\d+[.,]\d+", seen) if _TITRES.fullmatch(seen.strip()) else []
    titres = [Decimal(each.replace(",", ".")) for each in found]
    return found if titres and max(titres) - min(titres) <= FAR_APART else []


def read_refilled(text: str, mark: str) -> tuple[Value, Pair] | None:
    """Return where a burette was filled again, and the readings after it: 50.00 then 0.00 to 15.35."""
    head, *rest = _PARTS[-1].split(folded(without_marks(text)), maxsplit=1)
    after, first = read_pair(rest[0], mark) if rest else (), _from_text(head, mark, False)
    return (first, after[0]) if first.number is not None and len(after) == 1 else None


def _one_pair(seen: str, mark: str) -> Pair | None:
    match = _PAIR.fullmatch(seen.strip(" .")) or _PAIR.fullmatch(seen.strip("()[]{}<> ."))
    if match is None:
        return None
    written, between = (match["first"], match["second"]), match["between"].strip()
    # A comma or a space can as well stand within one number, and an "and" between two tries.
    pointed = [bool(re.search("[.,]", number)) for number in written]
    loose = between in _LOOSE and not (match["label"] and match["label2"])
    if loose and not (all(pointed) or (any(pointed) and match["between"] != "," and "0" in (*written, between))):
        return None
    ends = [_labelled(match[name] or "") for name in ("label", "label2")]
    units = [match["unit"] or match["unit2"] or "", match["unit2"] or match["unit"] or ""]
    said = [f"{number} {unit}" for number, unit in zip(written, units, strict=True)]
    values = [_from_text(said[0], mark, False), _from_text(f"{said[1]}{match['mark'] or ''}", mark, False)]
    if None in ends or any(value.state != "number" for value in values):
        return None
    first, second = values
    if ends in (["initial", "final"], ["initial", ""], ["", "final"], ["", ""]):
        return Pair(first, second)
    return Pair(second, first) if ends == ["final", "initial"] else None


def _labelled(words: str) -> str | None:
    """Return which reading the words before it say that it is, "" where they say nothing; None for other words."""
    words = words.strip(" :=.")
    meanings = {
        meaning for word in (tokens(words), *((one,) for one in tokens(words))) for meaning in phrases().get(word, ())
    }
    for name, known in (("initial", _BEGIN), ("final", _END)):
        if name in meanings or words in known:
            return name if words not in ("", "de", "y") else ""
    return None


def read_tick(cell: Cell) -> bool | None:
    """Return whether the student ticked a run; None where the cell says neither yes nor no."""
    if isinstance(cell.value, bool):
        return cell.value
    word = folded(cell.text).strip(" .,!?*()[]") or folded(cell.text)
    word = word[0] if len(set(word)) == 1 and word[0] not in "-" else word
    if word in cell_words("no", "discard", "none", "nothing") and word != "x":
        return False
    if word in cell_words("yes") or "used" in phrases().get(tokens(word), ()):
        return True
    return None
