"""Header words and cell words in several languages, from the table `words.toml`."""

import re
import tomllib
import unicodedata
from functools import cache, lru_cache
from itertools import filterfalse
from pathlib import Path

TABLE = Path(__file__).with_name("words.toml")

CELL_WORDS = frozenset(
    {"none", "nothing", "absent", "same", "discard", "yes", "no", "example", "section", "not_the_class", "month"}
    | {"cm3", "dm3", "mm3", "all", "initials", "cardinal", "ordinal", "from", "to", "vessel"}
)
"""Lists of the table that are about cells, or only looked for in a heading; all others say what a heading means."""

_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_INVISIBLE = dict.fromkeys(
    [0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, 0x00AD, 0x200E, 0x200F, 0x202A, 0x202C, 0xFE0F, 0xFE0E]
)
_MINUS = dict.fromkeys([0x2212, 0x2012, 0x2013, 0x2014, 0xFF0D, 0x2010, 0x2011, 0xFE63], "-")
_TOKEN = re.compile(r"[^\W_]+|[±%#✓]|\+/-")

_SIGNS = "⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉⁺⁻⁽⁾ⁿⁱʰ-ʸˠ-ˤᵃ-ᵪᶛ-ᶿₐ-ₜ"
_POWER = re.compile(r"(?<=[x×*·⋅∙])(\s*10)(?=[⁻⁺⁰-⁹¹²³])")
_MARKS = re.compile(rf"((?![{_SIGNS}])[^\W\d_][{_SIGNS}]+|\^[{_SIGNS}]+)|[{_SIGNS}]+|[①-⒛⓪-⓿❶-➓㉑-㉟㊱-㊿]")
"""Raised, lowered and circled signs; in the first group those that belong to the letter before them, or to a power."""

_OVERLINED = re.compile("[vx][\u0304\u0305]")
"""A line above the letter of a volume or a value makes it their mean."""

LABELLED = re.compile(r"(?P<label>[^:=]{1,60})[:=]\s*(?P<value>\S.*)")
"""A label and its value in one cell: Name: S01."""

LONGEST_TEXT = 2000
"""Characters of a cell that are looked at; no header, name or reading is longer."""

LONGEST_REASON = 80
"""Characters of a reason for somebody's absence; a longer text is a remark."""


@lru_cache(maxsize=16384)
def plain(text: str) -> str:
    """Return a text in its plainest spelling: composed, visible, single spaces, one kind of minus.

    >>> plain("22\u202f50 cm³")
    '22 50 cm3'
    """
    text = _ESCAPE.sub(lambda m: chr(int(m[1], 16)), text[:LONGEST_TEXT])
    text = unicodedata.normalize("NFKC", text).translate(_INVISIBLE).translate(_MINUS)
    return " ".join(text.split())


def without_marks(text: str) -> str:
    """Return a text without raised, lowered and circled signs that mark a remark; exponents and units keep theirs.

    >>> without_marks("23.80¹ cm³"), without_marks("② 9.88 × 10⁻²")
    ('23.80 cm³', ' 9.88 × 10^⁻²')
    """
    return text if text.isascii() else _MARKS.sub(lambda match: match[1] or "", _POWER.sub(r"\1^", text))


@lru_cache(maxsize=16384)
def folded(text: str) -> str:
    """Return a text without case and accents, for comparing words.

    >>> folded("Schüler / Élève")
    'schuler / eleve'
    """
    decomposed = _OVERLINED.sub("v mean ", unicodedata.normalize("NFKD", plain(text).casefold()))
    return decomposed if decomposed.isascii() else "".join(filterfalse(unicodedata.combining, decomposed))


def tokens(text: str) -> tuple[str, ...]:
    """Return the words and numbers of a text, folded."""
    return tuple(_TOKEN.findall(folded(text)))


def spans(text: str) -> tuple[tuple[str, int, int], ...]:
    """Return the words and numbers of a plain text, folded, each with its place: first and last character."""
    return tuple((folded(match[0]), *match.span()) for match in _TOKEN.finditer(text))


@cache
def word_lists() -> dict[str, tuple[str, ...]]:
    """Return every list of the table, its languages joined."""
    return {name: tuple(word for words in languages.values() for word in words) for name, languages in _table().items()}


@cache
def _table() -> dict[str, dict[str, list[str]]]:
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


@cache
def cell_words(*names: str) -> frozenset[str]:
    """Return the folded words of lists about cells, such as "nothing"."""
    return frozenset(folded(word) for name in names for word in word_lists()[name])


@cache
def by_language(name: str) -> tuple[frozenset[str], ...]:
    """Return the folded words of a list, those of each language by themselves."""
    return tuple(frozenset(map(folded, words)) for words in _table()[name].values())


@lru_cache(maxsize=16384)
def says_absent(text: str) -> bool:
    """Return whether a text has a word for absence in it.

    >>> says_absent("ABSENT - dentist")
    True
    """
    words = f" {' '.join(tokens(text))} "
    return len(text) <= LONGEST_REASON and any(f" {word} " in words for word in cell_words("absent"))


@cache
def phrases() -> dict[tuple[str, ...], tuple[str, ...]]:
    """Return header wordings as tuples of tokens, with every meaning each one has."""
    meanings: dict[tuple[str, ...], list[str]] = {}
    for name, words in word_lists().items():
        if name in CELL_WORDS:
            continue
        for word in words:
            known = meanings.setdefault(tokens(word), [])
            if name not in known:
                known.append(name)
    return {phrase: tuple(names) for phrase, names in meanings.items() if phrase}


@cache
def longest_phrase() -> int:
    """Return how many tokens the longest wording has."""
    return max(map(len, phrases()))


@cache
def counting(name: str) -> dict[str, int]:
    """Return the words of a list that count (first, zweite, ...) with their number."""
    counted = (each for words in _table()[name].values() for each in enumerate(words, start=1))
    return {folded(word): number for number, word in counted}
