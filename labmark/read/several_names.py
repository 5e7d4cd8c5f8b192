"""Names of endpoints, titrations and results in headings: taken out before a heading is understood, and remembered."""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from labmark.practical.own import Several
from labmark.read.words import plain, spans, tokens
from labmark.read.written_units import header_unit

_LEADING = frozenset(
    {"at", "to", "the", "of", "for", "with", "by", "until", "bis", "bei", "mit", "von", "zu", "a", "au"}
)
"""Words that lead up to a name, and go with it."""
_AT = {"value": "final", "": "final", "volume": "final", "run": "final"}
"""Field of a heading beside the name of an endpoint -> what is read off there."""
_OF_ENDPOINTS = frozenset({"initial", "final", "titre", "used", "value"})
_OF_TITRATIONS = _OF_ENDPOINTS | {"both", "initial again", "final again", "run", "mean", "volume"}
_CHARGE = re.compile(r"(?<=[A-Za-z\])])\^?\d?[-+](?!\w)")
"""Ca2+ is Ca."""
_HARMLESS = frozenset({"endpoint", "reading", "volume", "run"})
"""Words beside an endpoint's name that leave it the endpoint's reading."""
Words = tuple[str, ...]


def meanings(several: Several) -> tuple[str, ...]:
    """Return what headings of several titres and results can be said to be."""
    runs = *(f"Run 1 {name}" for name in several.endpoints), *(f"{name} run 1 initial" for name in several.titrations)
    means = (f"Mean titre {name}" for name in (*several.endpoints, *several.titrations))
    return (*runs, *means, *(f"Result {name}" for name in several.results))


def said(
    several: Several, field: str, tags: frozenset[str], unknown: int, found: Sequence[Words]
) -> tuple[str, str, str] | None:
    """Return field, titration, and endpoint or result of a heading with these names in it; None: as it stands.

    `field`, `tags` and `unknown` are what the heading says without the names.
    """
    series = _named(found, (*several.endpoints, *several.titrations))
    titration = series if series in several.titrations else ""
    result = _named(found, several.results) if field == "result" or "result" in tags else ""
    if result and field != "result":  # of one run
        return "ignored", "", ""
    if series and not result and "mean" in tags and "outcome" not in tags:  # Mean total hardness
        return "mean", titration, "" if titration else series
    if field == "result":
        return (field, "", result) if result else ("ignored", titration, "") if series and several.results else None
    if titration:
        return (field, titration, "") if field in _OF_TITRATIONS or (not field and not unknown) else None
    if series and field == "mean":
        return field, "", series
    if not series or (field not in _OF_ENDPOINTS and (unknown or tags - _HARMLESS)):
        return None
    if field == "initial" and series == several.endpoints[0]:
        return field, "", ""
    return f"{_AT.get(field, field)} at", "", series


@lru_cache(maxsize=16384)
def taken_out(names: tuple[str, ...], parts: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[Words, ...]]:
    """Return the parts of a heading without the names in them, and the names' words; the longest name comes first.

    >>> taken_out(("methyl orange",), ("Run 1", "Methyl orange / cm³"))
    (('Run 1', '  / cm3'), (('methyl', 'orange'),))
    """
    wanted = sorted(names, key=lambda name: -len(tokens(name)))
    for texts in ([_CHARGE.sub("", plain(part)) for part in parts], [plain(part) for part in parts]):
        found: list[Words] = []
        bare = tuple([_without(text, wanted, found) for text in texts])
        if found:
            break
    return bare, tuple(found)


def _without(text: str, wanted: Sequence[str], found: list[Words]) -> str:
    """Return a text without the names in it, whose words are added to `found`; Mg is a name, and mg its unit."""
    places = spans(text)
    unit = text.rfind(header_unit(text)) if header_unit(text) else len(text)
    kept, end, at = "", 0, 0
    while at < len(places):
        name = next((one for one in wanted if _is_at(places, at, one)), "")
        size = len(tokens(name))
        if size and (places[at][1] < unit or name in text[places[at][1] :]):
            first = at
            while first and places[first - 1][0] in _LEADING and places[first - 1][1] >= end:
                first -= 1
            kept += f"{text[end : places[first][1]]} "
            end = places[at + size - 1][2]
            found.append(tokens(name))
        at += size or 1
    return kept + text[end:]


def _is_at(places: Sequence[tuple[str, int, int]], at: int, name: str) -> bool:
    words = tokens(name)
    return bool(words) and tuple(word for word, _, _ in places[at : at + len(words)]) == words


def _named(found: Sequence[Words], names: Iterable[str]) -> str:
    """Return the name whose words were found, the lowest of several headings; empty where there is none."""
    by_words = {tokens(name): name for name in names}
    return next((by_words[words] for words in reversed(found) if words in by_words), "")
