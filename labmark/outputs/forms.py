"""Units and decimal marks as a school writes them: one function that every text for students passes through at the end.

    >>> Forms("mL", "mol/L", ",")("24.35 cm³ of 0.100 mol/dm³, so 4.00 g/dm³")
    '24,35 mL of 0,100 mol/L, so 4,00 g/L'

What the teacher or a student typed stays as it is.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cached_property
from html import escape, unescape
from typing import Any, Self

from labmark.dataclass import dataclass
from labmark.outputs.language import QUOTED, Typed, language
from labmark.places import templates_folder
from labmark.practical.quantities import QUANTITIES
from labmark.practical.scheme import CRITERIA
from labmark.units import shown_unit
from labmark.words import begun

Tree = Mapping[str, Any]
_WORDS = frozenset((*CRITERIA, *QUANTITIES, "teacher", "scheme", "titre", "result", "percent", "cm3", "factor"))
"""Values of keys that are chosen among, not typed."""
_UNITS = re.compile(r"mol([²³⁴⁵⁶]?)/dm(?:³|⁶|⁹|¹²|¹⁵|¹⁸)|[cd]m³")
_NUMBER = re.compile(r"(?<![\w.,])(\d+)\.(\d+)(?!\.?\d)")
_NUMBERS = re.compile(r"(\d,\d+), (?=\d)")
LABEL = re.compile(r'(?:say\(|^  \w+: )"((?:[^"\\]|\\.)*)"', re.MULTILINE)
"""A label in a template: within say(), or in the dictionary of labels."""
_LITRE = {"": "L", "²": "L²", "³": "L³", "⁴": "L⁴", "⁵": "L⁵", "⁶": "L⁶"}
_OURS = ("derived", "unit")
"""Parts of a practical's tree that are not typed."""
_CHOSEN = frozenset(
    ("derived", "unit", "quantity", "class", "glass_class", "sheet", "concordance", "scores", "students", "ions")
)
"""Parts of it with words of labmark's own."""
_NAMED = frozenset(("values", "columns", "pka"))
"""Parts of it whose keys are typed."""
CODES = frozenset(("state", "parts", "paper", "use", "uses", "side", "strip", "name", "comment", "school"))
"""Keys of the data of a page under which no words for people stand, or only what was typed."""


@dataclass(frozen=True)
class Forms:
    """How volumes, concentrations and numbers are written."""

    volume: str = "cm3"
    concentration: str = "mol/dm3"
    decimal: str = "."
    typed: frozenset[str] = frozenset()
    """Texts that somebody typed."""
    language: str = "en"
    names: frozenset[str] = frozenset()
    """Those of them that are in the teacher's language, whatever that of the sheet is: but for what a practical that
    ships says word for word."""
    kept: frozenset[str] = frozenset()
    """Those that stay even then: what students typed, headings of the class sheet."""

    @classmethod
    def of(cls, look: Tree, typed: Iterable[str], names: Iterable[str] = (), kept: Iterable[str] = ()) -> Self:
        """Return the forms of a table [sheet], for texts that hold `typed`."""
        named, stay = frozenset(names) - {""}, frozenset(kept)
        measured = look["volume"], look["concentration"], look["decimal"], frozenset(typed) - {""}
        return cls(*measured, look["language"], named, stay)

    def __call__(self, text: str) -> str:
        """Return a text in these forms; what was typed, or is quoted, stays, by itself and within a sentence."""
        return self._measured(self.words(text))

    def words(self, text: str) -> str:
        """Return a text in the language alone: units and decimal marks as they are."""
        return text if self.language == "en" else language(self.language)(text, self._stays)

    def _measured(self, text: str) -> str:
        """Return a text with units and decimal marks in these forms."""
        if self.are_usual:
            return text
        return "".join(part if place % 2 else self._formed(part) for place, part in enumerate(self._kept.split(text)))

    @property
    def are_usual(self) -> bool:
        """Return whether they are those that every text has to begin with."""
        return (self.volume, self.concentration, self.decimal) == ("cm3", "mol/dm3", ".")

    @cached_property
    def _stays(self) -> Typed:
        ours = {each: language(self.language).labels[each] for each in self._ours & self.names - self.kept}
        return Typed(self.names, {**ours, **{begun(each): begun(said) for each, said in ours.items()}})

    @cached_property
    def _ours(self) -> frozenset[str]:
        """What practicals that ship say, which there are messages for."""
        return frozenset() if self.language == "en" else language(self.language).of_practicals

    @cached_property
    def _kept(self) -> re.Pattern[str]:
        """What stays: quotations in any marks, and what was typed, the longest first."""
        begin, end = map(str.strip, self.label(QUOTED).split("{quoted}"))
        changed = (each for each in self.typed - self._ours if self._formed(each) != each)
        typed = sorted(changed, key=lambda each: (-len(each), each))
        stays = ["“[^”]*”", f"{begin}[^{end}]*{end}", *(rf"(?<!\w){re.escape(each)}(?!\w)" for each in typed)]
        return re.compile(f"({'|'.join(stays)})")

    def label(self, text: str) -> str:
        """Return a label of a template in the language, holes and all."""
        return text if self.language == "en" else language(self.language).label(text)

    def labels(self, template: str) -> dict[str, str]:
        """Return the labels of a template that read otherwise in the language: say("...") in it."""
        if self.language == "en":
            return {}
        text = (templates_folder() / template).read_text(encoding="utf-8")
        return {label: self._measured(self.label(label)) for label in LABEL.findall(text)}

    def all(self, data: Any) -> Any:
        """Return data with every text in these forms; keys, and what stands under `CODES`, in these units alone."""
        return data if self.language == "en" and self.are_usual else self._all(data, self)

    def _all(self, data: Any, form: Callable[[str], str]) -> Any:
        if isinstance(data, str):
            return form(data)
        if isinstance(data, Mapping):
            within = ((key, self._measured if key in CODES else form) for key in data)
            return {self._measured(key): self._all(data[key], form) for key, form in within}
        return [self._all(value, form) for value in data] if isinstance(data, list | tuple) else data

    def _formed(self, text: str) -> str:
        text = _UNITS.sub(lambda unit: self._unit(unit[0], unit[1]), text)
        if self.decimal == ".":
            return text
        # Between numbers with commas a comma would be read as another of them.
        return _NUMBERS.sub(rf"\1{self.label('; ')}", _NUMBER.sub(r"\1,\2", text))

    def _unit(self, unit: str, power: str | None) -> str:
        if power is None:
            return unit if self.volume == "cm3" else {"cm³": "mL", "dm³": "L"}[unit]
        if self.concentration == "mol/dm3":
            return unit
        return f"M{power}" if self.concentration == "M" else f"mol{power}/{_LITRE[power]}"


def forms_of(tree: Tree) -> Forms:
    """Return the forms that a class is shown in."""
    practical, look = tree["practical"], tree["practical"]["sheet"]
    unit, ours = practical["result"].get("unit") or "", practical["derived"].get("cautions", ())
    typed = set(texts_in({key: part for key, part in practical.items() if key not in _OURS})) - {*ours} | _people(tree)
    # A concentration that was asked for in mol/dm³ is one that [sheet] may write in another way.
    typed |= set() if unit.startswith("mol") else {shown_unit(unit)}
    words = words_of(tree)
    return Forms.of(look, typed, words.names, words.kept)


def words_of(tree: Tree) -> Forms:
    """Return the language of a class alone: for the teacher, who reads units and numbers as they are."""
    practical, language = tree["practical"], tree["practical"].get("sheet", {}).get("language", "en")
    ours, people = practical.get("derived", {}).get("cautions", ()), _people(tree)
    told = (_QUOTED.findall(one.get("progress", "")) for one in tree["students"])  # titles of earlier practicals
    names = people.union(set(names_in(practical)) - {*ours}, *told) if language != "en" else ()
    # A caution may stand as a sentence.
    return Forms(language=language, names=frozenset({*names, *map(begun, names)}) - {""}, kept=frozenset(people))


_QUOTED = re.compile("“([^”]*)”")


def _people(tree: Tree) -> set[str]:
    """Return what is typed of students: names, comments, groups."""
    whole = ((one["student"], one.get("comment", ""), *texts_in(one.get("groups", ()))) for one in tree["students"])
    return {text for texts in whole for text in texts}


def names_in(practical: Any) -> Iterator[str]:
    """Yield what a teacher typed into a practical: titles, names, headings, cautions, substances."""
    if isinstance(practical, str):
        yield from () if practical in _WORDS else (practical,)
    elif isinstance(practical, Mapping):
        for key, part in practical.items():
            yield from part if key in _NAMED and isinstance(part, Mapping) else ()
            yield from names_in(part) if key not in _CHOSEN else ()
            if key == "indicator" and isinstance(part, str):
                yield indicator_alone(part)
    elif isinstance(practical, list | tuple):
        for part in practical:
            yield from names_in(part)


def indicator_alone(indicator: str) -> str:
    """Return an indicator without what is said beside it."""
    return indicator.split(",")[0].split(" (")[0]


def texts_in(data: Any) -> Iterator[str]:
    """Yield every text in data, headings of tables too."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, Mapping):
        yield from (each for pair in data.items() for part in pair for each in texts_in(part))
    elif isinstance(data, list | tuple):
        yield from (each for part in data for each in texts_in(part))


# A page, once it is made.

_TAG = re.compile(r"(<script\b.*?</script>|<style\b.*?</style>|<[^>]*>)", re.DOTALL)
_SAID = re.compile(r'(?<= )(alt|title|placeholder|aria-label|data-shown|data-sorted|data-order)="([^"]*)"')
"""Attributes that people read, or hear."""
_EDGES = re.compile(r"(\s*)(.*?)(\s*)", re.DOTALL)


def in_language(page: str, say: Forms) -> str:
    """Return a page of HTML with every text and label in the language of the class; English is not touched."""
    if say.language == "en":
        return page
    known: dict[str, str] = {}

    def told(text: str) -> str:
        if text not in known:
            before, words, after = _EDGES.fullmatch(unescape(text)).groups()  # type: ignore[union-attr]
            known[text] = before + escape(say(words), quote=False) + after if words else text
        return known[text]

    def tag(text: str) -> str:
        return _SAID.sub(lambda each: f'{each[1]}="{_labelled(each, told, say)}"', text)

    parts = _TAG.split(page.replace('<html lang="en-GB">', f'<html lang="{say.language}">'))
    return "".join(tag(part) if place % 2 else told(part) for place, part in enumerate(parts))


def _labelled(found: re.Match[str], told: Callable[[str], str], say: Forms) -> str:
    """Return what an attribute says; those that the script fills in keep their holes."""
    said = say.label(unescape(found[2])) if found[1].startswith("data-") else unescape(told(found[2]))
    return escape(said)
