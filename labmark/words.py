"""Words that sentences of several parts are made of."""

from __future__ import annotations

from collections.abc import Sequence


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence: "1, 2 and 3"."""
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


__all__ = ["listed"]
