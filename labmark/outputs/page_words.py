"""A page in the language of the class: its texts, and what is said of its parts, once it is made."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import escape, unescape

from labmark.outputs.forms import Forms

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
