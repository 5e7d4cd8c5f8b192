"""A student's own mean and result, read a little further than a reading: they were worked out, not read off.

A label or a sum before the number, an uncertainty behind it and marks between thousands are understood where they leave
no doubt, and noted for the teacher with the text as it stands. A result comes in the unit asked for, whatever unit of
its family stands beside it or in its header; one of another quantity of the substance (g/dm3 where mol/dm3 is asked
for) is handed on with the number in it.
"""

import ast
import re
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from operator import add, mul, sub, truediv

from labmark.dataclass import replace
from labmark.exact import places_in
from labmark.practical.quantities import Asked
from labmark.read.cells import Value, discards, read_number, unusable
from labmark.read.grid import Cell
from labmark.read.words import folded, phrases, plain, tokens, without_marks
from labmark.read.written_units import asked_unit, read_as, unit_of, without_substance

_LABEL = re.compile(
    r"(?:.*[=≈→]|[^.,=≈→]*\b(?:is|has|contains|ist|hat|enthält|beträgt|est|contient|es|tiene|contiene)\b|[^\W\d_][^=≈:±]{0,40}:)"
    r"\s*(?P<rest>[^=≈→]*\d[^=≈→]*)",
    re.I,
)
"""c = 0.0988, x(H2O): 10.0, = 0.0988 mol/dm3, (24.30 + 24.40) / 2 = 24.35; each tablet contains 65.0 mg."""
_SOURCE = re.compile(r"(.*\d.*?)\s+(?:from|of|using|aus|von|de)\s.*")
"""24.35 from runs 1 and 2."""
_NAMED = re.compile(r"(?:[^\W\d_]{2,}\.?\s+){1,3}(?=\d)")
"""Mean titre 24.35, av. 24.35."""
_SPACED = re.compile(r"(0[.,]|\d{1,3}\.)\s+(?=\d{1,6}(?![\d.,]))")
"""0, 101 and 24. 35: nobody works out two numbers."""
_GROUPED = re.compile(
    r"(?<![\d.,])[1-9]\d{0,2}(?:(?:(?P<group>[ '’])\d{3}(?:(?P=group)\d{3})*(?!\d))"
    r"|(?P<other>[.,])\d{3}(?:(?P=other)\d{3})*(?=(?!(?P=other))[.,]\d))"
)
"""Thousands that are plainly parted: 1 234, 1'234.5, 1,234.5."""
_GIVE_OR_TAKE = re.compile(
    r"\(?\s*(?P<head>[^±]*\S)\s*(?:±|\+\s?/?\s?-)\s*\d[\d.,]*(?:[eE][-+]?\d{1,2})?\s*(?P<tail>.*)"
)
"""0.0988 ± 0.0004 mol/dm3, (9.88 ± 0.04) × 10^-2."""
_WATER = re.compile(r"\s*(?:(?:molecules?|mol(?:es)?)\s*(?:of\s*)?)?(?:H2O|waters?)$")
_HYDRATE = re.compile(r"[A-Z][A-Za-z0-9()]*\s*[.,·•*]\s*(?=\d[\d.,]*\s*H2O$)")
"""Na2CO3.10H2O; Na2CO3, 10 H2O."""
_SHARE_OF = re.compile(r"[wω](?:\s*\(.*\))?\s*=\s*(0?[.,]\d+)")
"""w(CaCO3) = 0.931: so much in 1 g."""
_BY_MASS = re.compile(r"\s+\(?(?:by (?:mass|weight)|w/w|m/m)\)?(?!\S)", re.I)
"""39.9 % CaCO3 by mass."""
_BY_VOLUME = re.compile(r"%(.*?)\s+\(?(?:by volume|v/v)\)?(?!\S)", re.I)
"""5.12 % ethanoic acid by volume."""
_BRACKETED = re.compile(r"[(\[]([^()\[\]]+)[)\]]")
_BRACES = str.maketrans("", "", "{}")
_SIGNS = str.maketrans("×x·⋅÷:", "****//")
_SUM = re.compile(r"[(]*\d[\d.+*/()-]{2,100}")
_BARE_MEAN = re.compile(r"(?P<terms>[\d.]+(?:\+[\d.]+)+)/(?P<number>\d)")
_MINUS = re.compile(r"(?<=[\dg)])\s*-\s*(?=\d+[.,]\d)")
"""Between two weighings; a range of whole numbers is no difference."""
FEWEST = 10
"""Units of its last figure are the least that anybody weighs out by difference: common practice, no source."""
_DOES: dict[type[ast.operator], Callable[[Fraction, Fraction], Fraction]] = {
    ast.Add: add,
    ast.Sub: sub,
    ast.Mult: mul,
    ast.Div: truediv,
}
_OF_SUM = 5
"""Figures that a sum is worked out to: one more than any burette gives."""
_CALCULATED = 8
"""Nobody types so many figures."""
_TO_FIGURES = re.compile(
    r"[\s,;]+(?:correct )?to\s+(?:\d|two|three|four)\s*(?:s\.?\s?f\.?|d\.?\s?p\.?|sig\w*\.? fig\w*|decimal places?)",
    re.I,
)
"""0.101 to 3 s.f."""
_SETTLED = re.compile(
    rf".*\d.*?(?:[(\[]|[;,]\s)\s*[=≈]?\s*(?P<rest>[^()]*\d[^()]*?){_TO_FIGURES.pattern}[)\]\s]*", re.I
)
"""0.1013 (0.101 to 3 s.f.): the latter is the answer."""
_LISTED = re.compile(
    r".*\d.*(?:[;,]\s+(?:mean|average|av\.?|mittel(?:wert)?|moyenne|media)"
    r"|\s(?:so|thus|hence|therefore|also|daher|somit|donc|por tanto|∴))\s*[:=]?\s*(?P<rest>[^;,]*\d[^;]*)",
    re.I,
)
"""0.1012; 0.1014; mean 0.101. c = 0.855 M so 5.13 %."""
_SHARE = re.compile(r"(?P<share>0?[.,]\d+)\s*[(=]\s*=?\s*(?P<percent>\d+(?:[.,]\d+)?)\s*%\s*\)?")
"""0.620 (62.0 %), where the one is a hundred times the other."""
_FIGURES = re.compile(r"[-+]?\d[\d.,]*")


def read_own(cell: Cell, mark: str, *, claim: bool, thousands: bool = False) -> Value:
    """Return what a cell says where the student's own mean or (`claim`) result is wanted.

    As `read_number`, and where that finds no number, a second look.
    """
    if cell.kind == "text" and (answer := _answer(plain(cell.text), claim=claim)):
        found = read_own(replace(cell, value=answer), mark, claim=claim, thousands=thousands)
        if found.state == "number":
            return replace(found, remark=f"written as {plain(cell.text)[:60]!r}")
    value = read_number(cell, mark, claim=claim, thousands=thousands)
    if value.state != "odd" or value.spoilt or cell.kind != "text":
        return value
    found = _second_look(_number_alone(cell.text, claim=claim), mark, claim, thousands)
    if found.state != "number":
        return value
    remark = "; ".join(filter(None, (f"written as {plain(cell.text)[:60]!r}", cell.remark)))
    return replace(found, remark=remark, discard=found.discard or cell.struck)


def _second_look(text: str, mark: str, claim: bool, thousands: bool) -> Value:
    """Return what a text says as a number or as a sum."""
    found = read_number(Cell(text), mark, claim=claim, thousands=thousands)
    total = _worked_out(text, "*" if claim else "+") if found.state == "odd" else None
    return found if total is None else Value("number", total)


def _number_alone(seen: str, *, claim: bool) -> str:
    """Return a text without what may stand about a mean or (`claim`) a result: labels, substances, where it is from."""
    # Braces are how some set an exponent: mol·L^{-1}.
    text = _TO_FIGURES.sub("", _bare(plain(without_marks(seen)).translate(_BRACES).replace("->", "→")))
    text = _SPACED.sub(r"\1", text, count=1) if _SPACED.match(text) else text
    if not claim:
        source = _SOURCE.fullmatch(text)
        return source[1] if source else text
    text = _HYDRATE.sub("", _BY_VOLUME.sub(r"% v/v\1", _BY_MASS.sub("", text)))
    text = _WATER.sub("", _GROUPED.sub(lambda match: re.sub("[ '’.,]", "", match[0]), text))
    return text if discards(text) else without_substance(text)


def read_difference(cell: Cell, mark: str) -> Value | None:
    """Return what a cell says that holds both weighings, 12.400 g - 10.000 g = 2.400 g; None for any other."""
    seen = plain(cell.text) if cell.kind == "text" and not cell.struck else ""
    head, _, total = seen.lstrip("= ").partition("=")
    terms = [read_own(Cell(each), mark, claim=True) for each in _MINUS.split(re.sub("[()]", "", head))]
    numbers = [each.number for each in terms if each.number is not None]
    if len(numbers) != 2 or len(terms) != 2:
        return None
    units = dict.fromkeys(each.unit_text for each in terms if each.unit_text)
    value = replace(
        terms[1], number=abs(numbers[0] - numbers[1]), unit_text="".join(units), remark=f"written as {seen!r}"
    )
    if total and read_own(Cell(total), mark, claim=True).number != value.number:
        return unusable(seen, f"comes to {value.number:f}; write the number alone")
    if not total and _may_be_range(*numbers):
        return unusable(seen, "may be a range, or two weighings; write the number alone")
    return value


def _may_be_range(first: Decimal, second: Decimal) -> bool:
    """Return whether 1.398-1.402 is a number that was not known any better rather than two weighings.

    Nobody weighs out next to nothing. An empty boat may stand first (25.123 - 26.523), but then the two are far apart
    for the figures they are given to.
    """
    span = abs(first - second)
    units = span.scaleb(max(places_in(first), places_in(second)))
    return units < FEWEST or (first < second and units < 10 * FEWEST and span < second / 10)


def _worked_out(text: str, sign: str) -> Decimal | None:
    """Return what a sum comes to that was left as it is, (24.30 + 24.40) / 2; None for anything else.

    This sign is in it: 24.30 - 24.40 and 24.30 / 24.40 are two values. Without brackets 24.30 + 24.40 / 2 is a mean.
    """
    bare = folded(text).translate(_SIGNS).rstrip("=. ").lstrip("= ").replace(",", ".").replace(" ", "")
    if sign not in bare or "/" not in bare or not _SUM.fullmatch(bare):
        return None
    mean = _BARE_MEAN.fullmatch(bare)
    if mean and mean["terms"].count("+") + 1 == int(mean["number"]):
        bare = f"({mean['terms']})/{mean['number']}"
    try:
        total = _value_of(ast.parse(bare, mode="eval").body, bare)
    except (KeyError, SyntaxError, ValueError, ZeroDivisionError):
        return None
    return Decimal(f"{float(total):.{_OF_SUM}g}")


def _value_of(node: ast.expr, text: str) -> Fraction:
    """Return the exact value of a sum of numbers with + - * / and brackets."""
    if isinstance(node, ast.Constant):
        return Fraction(text[node.col_offset : node.end_col_offset])
    if not isinstance(node, ast.BinOp):
        raise ValueError
    return _DOES[type(node.op)](_value_of(node.left, text), _value_of(node.right, text))


def _answer(seen: str, *, claim: bool) -> str:
    """Return which of the numbers in a text is its answer; empty if the text does not say."""
    if settled := _SETTLED.fullmatch(seen) or _LISTED.fullmatch(seen):
        return settled["rest"]
    if claim and (share_of := _SHARE_OF.fullmatch(seen)):
        return f"{share_of[1]} g/g"
    both = _SHARE.fullmatch(seen) if claim else None
    share, percent = (Decimal(each.replace(",", ".")) for each in both.groups()) if both else (0, 1)
    return f"{both['percent']} %" if both and share * 100 == percent else ""


def as_shown(value: Value, shown: int | None, *, claim: bool) -> Value:
    """Return a result as its cell shows it, and a mean where it was calculated: 25.3333333333 as 25.33, not 25.325."""
    if value.number is None or shown is None:
        return value
    places = places_in(value.number)
    rounded = value.number.quantize(Decimal(1).scaleb(-shown), ROUND_HALF_UP) if places > shown else value.number
    if (claim or len(value.number.as_tuple().digits) >= _CALCULATED) and len(rounded.as_tuple().digits) > 2:
        return replace(value, number=rounded, decimals=shown)
    return replace(value, decimals=max(places, shown) if value.decimals is not None else None)


def _bare(seen: str) -> str:
    """Return a text without brackets about it, a label before the number, and an uncertainty behind it."""
    if within := _BRACKETED.fullmatch(seen):
        seen = within[1]
    if label := _LABEL.fullmatch(seen):
        seen = label["rest"]
    if (named := _NAMED.match(seen)) and all((word,) in phrases() for word in tokens(named[0])):
        seen = seen[named.end() :]
    spread = _GIVE_OR_TAKE.fullmatch(seen)
    if spread is None:
        return seen
    # A per cent sign there is that of the uncertainty: 0.101 ± 1 %; a result in per cent needs none.
    head, tail = spread["head"], spread["tail"].lstrip(") %")
    return f"{head} {tail}".strip() if _FIGURES.fullmatch(head) else head


def in_asked_unit(value: Value, asked_as: Asked | None, written: str, header: str) -> tuple[Value, str]:
    """Return a result in the unit asked for, and what the teacher should know of the header's unit.

    `written` is the text of the cell, `header` the unit in the header; one beside the number goes before it. Where it
    is one of another quantity, the number is in that quantity's plain unit, and `unit_text` names this; else that is
    empty. A unit beside the number that says nothing of the quantity is noted, and handed on with the number as it
    stands: the unit may be a slip of the pen, or the result be of something else.
    """
    if value.number is None or asked_as is None or not (value.unit_text or header):
        return replace(value, unit_text=""), ""
    asked, in_words = asked_unit(asked_as.unit), asked_as.words
    unit, whole = read_as(unit_of(value.unit_text or header), asked)
    other = "" if unit is None or unit.kind == asked.kind else unit.kind
    power = 0 if unit is None else unit.power - (0 if other else asked.power)
    taken = replace(value.scaled(power), unit_text=other)
    if whole and not other and not power:
        return taken, ""
    look = "" if whole and not other else f"; {in_words} is asked for, so look at the unit"
    if value.unit_text and unit is None:
        remark = f"written as {written!r}; {in_words} is asked for, so look at the unit"
        return replace(value, remark=remark), ""
    if value.unit_text:
        return replace(taken, remark=f"written as {written!r}, taken as {taken.number:f} {other}".rstrip() + look), ""
    how = f"each was taken × 10^{power}" if power else "they were taken as they stand"
    return taken, f"the results are headed {header!r}, and {in_words} is asked for: {how}" + (
        f"{f', in {other}' if other else ''}; look at the unit" if look else ""
    )
