"""Units of a result as they are written, beside the number or in a header, and what they are to the one asked for."""

import re
from functools import cache, lru_cache
from typing import NamedTuple

from labmark.read.words import cell_words, folded, phrases, plain, tokens
from labmark.units import ASKED


class Unit(NamedTuple):
    """A unit as a kind and a power of ten: mmol/dm3 is ("mol/dm3", -3)."""

    kind: str
    power: int


PER_CENT = 1
"""Power of ten of g in 100 cm3 over g/dm3."""
MASSES = (Unit("g", 0), Unit("g", -3), Unit("g", 3), Unit("g", -6))
_RELATED = ({"mol/dm3", "g/dm3", "vol", "°dH", "°fH"}, {"mol", "g"}, {"mol/g", "%"})
"""Kinds that one molar mass turns into each other."""
_PREFIXES = {"": 0, "k": 3, "m": -3, "u": -6, "μ": -6}
_VOLUMES = {"d": 0, "l": 0, "c": 3, "m": -3}
"""First letter of a volume (dm3, l, cm3, m3) -> the power that one over it has to one over dm3."""
_UNIT = re.compile(
    r"(?P<share>[mμu]?)(?P<molar>m|molar)|mol(?P<product>\d)/?(?:dm-?\d{1,2}|l-?\d)|m(?P<molars>[2-9])"
    r"|(?P<by>wt|weight|mass|masse|gew|vol(?:ume)?|[wm]/?[wmv]|v/?v)?-?(?P<percent>%|percent|prozent)"
    r"(?P<of>[wm]/?[wmv]|v/?v|bymass|byvol(?:ume)?)?"
    r"|(?P<parts>pp[mb])|(?P<atomic>amu|da|u)"
    r"|(?P<volume>dm-?3|cm-?3|ml|cc)|(?P<gas>vol(?:ume)?s?)|(?P<normal>n)|(?P<degree>°[df]|(?:grad)?[df](?=h))h?"
    r"|(?P<prefix>[kmμu]?)(?P<base>mol|g)(?:/?(?P<portion>10{0,3})?"
    r"(?P<below>dm-?3?|l(?:-?1)?|cm-?3|ml(?:-?1)?|cc|m-?3|mol(?:-?1)?|k?g(?:-?1)?))?"
)
_ALONE = {"atomic": Unit("g/mol", 0), "volume": Unit("volume", 0), "gas": Unit("vol", 0), "normal": Unit("N", 0)}
"""Units that nothing is written beside; 20 vol is the strength of hydrogen peroxide, and N counts equivalents."""
_LONG = re.compile(
    r"\b(?:(k|kilo|m|milli|micro)?(moles?|mols|grams?|grammes?|gramm)|(lit(?:re|er|ro)s?|cubic decimet(?:re|er)s?))\b"
)
_PER_ITEM = re.compile(
    r"(?<=g)\s*/\s*(?:1\s*)?(?:tab(?:let)?s?|tabletten?|pills?|capsules?|items?|pieces?|comprimes?|comprimidos?)\.?$"
)
"""mg/tablet: a mass."""
_SUBSTANCE = re.compile(
    r"(?<!per)(?:(?<=[a-zLM%])|(?<=[a-z]\d)|(?<=-\d))\s+(?:(?:as|of)\s+)?(?![kmµμu]?(?:mol|moles?|grams?)\b)"
    r"(?:[A-Z][A-Za-z0-9().·^]{0,30}[-+]?|[^\W\d_]{3,30}(?:\s[^\W\d_]{3,30})?)(?=\s*(?:/|\bper\b|[)\]]*$))"
)
"""Of a unit: mg CaCO3/L, mg/L as CaCO3, 5.12 g of ethanoic acid in 100 cm3, 65.0 mg of Fe2+ per tablet."""
_IN = re.compile(
    r"(?<=[a-z+])\s+in\s+(?:1\s+|one\s+|a\s+|each\s+)?(?=(?:100?\s*)?(?:c|d)m|(?:100?\s*)?(?:ml|l)\b|tablet)", re.I
)
"""5.12 g in 100 cm3, 65.0 mg in one tablet."""
_APART = re.compile(r"[kmμu][\s()\[\]]+(?:mol|g)")
"""M (g/mol): a symbol before its unit, and no prefix of it."""
TO_FIGURES = re.compile(
    r"[(,;]?\s*(?:\bcorrect )?(?:\b(?:to|auf|a|avec|con) )?\b(?:[1-6]|two|three|four)\s*"
    r"(?:s\.?\s?f\b|c\.?\s?s\b|d\.?\s?p\b|sig\w*\.?\s?(?:fig|st|zi)|decimal|dezimal|nachkomma|stellen|gult"
    r"|chiffres|cifras)[^/()\d]*\)?",
    re.IGNORECASE,
)
"""Result (3 s.f.), Mean titre to 2 decimal places: no run's number."""
_LONGEST_HEADER = 200
_HEADED = re.compile(r"(?:[/(\[]|\b[ie]n\b|:)\s*", re.IGNORECASE)
"""What stands before the unit in a header: Result / mmol dm-3, Result (g/dm3), c in mol/L."""

_BEHIND = re.compile(r"[)\]?;]|[.,]?\s+(?:[-(\[]\s*|(?:to|auf|a|con|avec)\b)|[.,]\s")
"""What may follow a unit in a header: Result / mmol dm-3 (3 marks), Result (g/dm3) - to 3 s.f."""


def without_substance(text: str) -> str:
    """Return a text that ends in a unit without the name of what it is of.

    >>> without_substance("5.12 g of ethanoic acid in 100 cm3"), without_substance("0.101 mol/l NaOH")
    ('5.12 g per 100 cm3', '0.101 mol/l')
    """
    return _SUBSTANCE.sub(_unless_known, _IN.sub(" per ", text))


def _unless_known(match: re.Match[str]) -> str:
    """Return what stands behind a unit where a word of it has another meaning in headings, as in "volume used"; else
    nothing, as of "11.0 % protein"."""
    return match[0] if any(set(phrases().get((word,), ())) - {"result"} for word in tokens(match[0])) else ""


@cache
def volume_units() -> dict[str, int]:
    """Return the units of volume as they are written -> microlitres in one."""
    lists = {"cm3": 1000, "dm3": 1_000_000, "mm3": 1}
    return {word: scale for name, scale in lists.items() for word in cell_words(name)}


@lru_cache(maxsize=4096)
def unit_of(text: str) -> Unit | None:
    """Return the unit that a text is; None where it is none that is known.

    >>> unit_of("mmol dm-3"), unit_of("g/100 cm³"), unit_of("mM")
    (Unit(kind='mol/dm3', power=-3), Unit(kind='g/dm3', power=1), Unit(kind='mol/dm3', power=-3))
    """
    short = _LONG.sub(
        _shortened, re.sub(r"\b(?:per|pro|par|pour|por)\b(?! ?cent)", "/", folded(text).replace("‰", "g/kg"))
    )
    match = _UNIT.fullmatch(re.sub(r"[\s^·⋅.*()\[\]]", "", _PER_ITEM.sub("", short)))
    if match is None or _APART.match(short):
        return None
    if match["molar"]:
        return Unit("mol/dm3", _PREFIXES[match["share"]])
    if product := match["product"] or match["molars"]:  # of concentrations: mol3 dm-9, mol^3/L^3, M^3
        return Unit(f"mol{product}/dm{3 * int(product)}", 0)
    if match["percent"]:
        of = (match["of"] or match["by"] or "").removeprefix("by")
        return Unit("% v/v", 0) if of.startswith("v") else Unit("g/dm3", 1) if of.endswith("v") else Unit("%", 0)
    if match["degree"]:
        return Unit(f"°{match['degree'][-1]}H", 0)  # of the hardness of water
    if match["parts"]:
        return Unit("ppm", -3 if match["parts"].endswith("b") else 0)
    return next((unit for group, unit in _ALONE.items() if match[group]), None) or _ratio(match)


def is_small(unit: str) -> bool:
    """Return whether a thousand of a unit is nothing out of the ordinary: mg/dm3, ppm."""
    known = unit_of(unit)
    return known is not None and (known.power < 0 or known.kind == "ppm")


def _shortened(match: re.Match[str]) -> str:
    if match[3]:
        return "l"
    prefix = {"kilo": "k", "milli": "m", "micro": "μ"}.get(match[1] or "", match[1] or "")
    return prefix + ("mol" if match[2].startswith("mol") else "g")


def _ratio(match: re.Match[str]) -> Unit:
    base, below, power = match["base"], match["below"] or "", _PREFIXES[match["prefix"]]
    power -= (match["portion"] or "").count("0")
    if not below:
        return Unit(base, power)
    if below.startswith("mol"):
        return Unit(f"{base}/mol", power)
    if below.startswith(("g", "kg")):
        power -= 3 if below.startswith("k") else 0
        return Unit("%", power + 2) if base == "g" else Unit(f"{base}/g", power)
    return Unit(f"{base}/dm3", power + (3 if below.startswith("ml") else _VOLUMES[below[0]]))


@lru_cache(maxsize=256)
def header_unit(header: str) -> str:
    """Return the unit in a header, as it is written; empty where there is none.

    >>> header_unit("Concentration of NaOH / mmol dm-3")
    'mmol dm-3'
    """
    text = without_substance(TO_FIGURES.sub("", plain(header)).strip())
    if len(text) > _LONGEST_HEADER:
        return ""
    for match in re.finditer(r"^|\s", text):  # a ratio is plainly a unit, with or without a sign before it
        end = text[match.end() :].strip("()[] ")
        if re.search(r"[-/]|\bper\b", end) and (unit := unit_of(end)) is not None and "/" in unit.kind:
            return end
    # A lone M in a header is the symbol of molar mass or mass as often as a unit, and N of a number.
    for match in _HEADED.finditer(text):
        rest = text[match.end() :]
        for end in (each.strip("()[] ") for each in (rest, _BEHIND.split(rest, maxsplit=1)[0])):
            if folded(end) not in ("m", "n") and (unit := unit_of(end)) is not None and unit.kind != "volume":
                return end
    return ""


@cache
def asked_unit(asked: str) -> Unit:
    """Return the unit that a bare number is in, from its name in the practical."""
    return Unit(*ASKED[asked]) if asked in ASKED else unit_of(asked) or Unit("", 0)


def read_as(unit: Unit | None, asked: Unit) -> tuple[Unit | None, bool]:
    """Return a unit as it is meant where another is asked for, and whether it is fully written.

    None where it says nothing of that quantity. A bare g or mol beside a concentration is one in a dm3, a bare g beside
    per cent of a solution one in 100 cm3.
    """
    if unit is None:
        return None, False
    if unit.kind == "%" and (asked.kind.endswith("/dm3") or asked.kind == "vol"):  # of a solution: g in 100 cm3
        return Unit("g/dm3", unit.power + 1), True
    if unit.kind == "ppm":  # of a dilute solution in water 1 mg in 1 dm3
        return Unit("%", unit.power - 4) if asked.kind == "%" else Unit("g/dm3", unit.power - 3), True
    if unit.kind == "%" and not asked.kind:  # a factor of 101.0 % is one of 1.010
        return Unit("", unit.power - 2), True
    base, _, below = asked.kind.partition("/")
    if unit.kind == "g" and asked.power == PER_CENT:
        return Unit(asked.kind, asked.power + unit.power), False
    if below and unit.kind in (("g", "mol") if below == "dm3" else (base,)):
        return (None if asked.power else Unit(f"{unit.kind}/{below}", unit.power)), False
    known = unit.kind == asked.kind or any({unit.kind, asked.kind} <= kinds for kinds in _RELATED)
    return (unit, True) if known else (None, False)


def power_to(unit: str, asked: str) -> int | None:
    """Return the power of ten that turns a number in a unit, as written, into one in another; None where none does.

    >>> power_to("% w/v", "g/dm3"), power_to("mg", "g"), power_to("g/dm3", "mol/dm3")
    (1, -3, None)
    """
    read, wanted = read_as(unit_of(unit), asked_unit(asked))[0], asked_unit(asked)
    return read.power - wanted.power if read is not None and read.kind == wanted.kind else None


def fits(unit: str, asked: str) -> bool:
    """Return whether a unit, as written, says something of the quantity that is asked in another one.

    >>> fits("mg/L", "mol/dm3"), fits("mg", "%")
    (True, False)
    """
    return read_as(unit_of(unit), asked_unit(asked))[0] is not None
