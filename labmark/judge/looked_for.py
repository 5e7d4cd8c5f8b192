"""What is looked for at the bench, in words: the table of hypotheses as the report shows it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from labmark.diagnose.hypotheses import HYPOTHESES, PIPETTES, Band, Hypothesis
from labmark.findings import KINDS
from labmark.words import begun

WAYS = {"": "", "+": "up", "-": "down", "+/-": "up or down"}
"""Direction of a hypothesis -> words for what it does to the titre."""


@cache
def looked_for() -> tuple[dict[str, Any], ...]:
    """Return a row a hypothesis, in the order of the table.

    {"what", "scope", "finding", "direction", "effect", "rate", "looks_like", "tell", "check"}; `effect` says which way
    and how much, `rate` is a fraction of accurate runs (scope "run") or of students (scope "student").
    """
    return tuple(
        {
            "what": name_of(each),
            "scope": each.scope,
            "finding": each.finding,
            "direction": each.direction,
            "effect": effect_of(each),
            "rate": each.rate,
            "looks_like": each.looks_like,
            "tell": each.tell,
            "check": each.check,
        }
        for each in HYPOTHESES
    )


def name_of(hypothesis: Hypothesis) -> str:
    """Return a hypothesis as a heading: the title of its own finding, or its name."""
    return begun(KINDS[hypothesis.name].title if hypothesis.name in KINDS else hypothesis.name)


def effect_of(hypothesis: Hypothesis) -> str:
    """Return which way a hypothesis moves the titre, and by how much."""
    way = WAYS[hypothesis.direction]
    return f"{way}, {_SIZES[hypothesis.shape](hypothesis.bands)}" if way else "as expected"


def _added(bands: tuple[Band, ...]) -> str:
    return _range(bands, 1, " cm³", ".2f")


def _proportional(bands: tuple[Band, ...]) -> str:
    return f"{_range(bands, 100, ' %', 'g')} of the titre"


def _whole(bands: tuple[Band, ...]) -> str:
    commonest = " or ".join(f"{band.low:g} cm³ ({100 * band.share:.0f} %)" for band in bands[:2])
    rest = ", ".join(f"{low:g}" for low in sorted(band.low for band in bands[2:]))
    return f"{commonest}, seldom {rest}" if rest else commonest


def _range(bands: tuple[Band, ...], scale: float, unit: str, form: str) -> str:
    """Return from where to where the sizes go and, of several bands, up to where the commonest goes."""
    low, high = (f"{scale * end:{form}}" for end in (min(b.low for b in bands), max(b.high for b in bands)))
    most = max(bands, key=lambda band: band.share)
    if len(bands) == 1 or most.low == most.high:
        return f"{low} to {high}{unit}"
    return f"{low} to {high}{unit} (mostly up to {scale * most.high:{form}})"


_SIZES: dict[str, Callable[[tuple[Band, ...]], str]] = {
    "added": _added,
    "proportional": _proportional,
    "fading": lambda bands: f"{_proportional(bands)} at first, less from run to run",
    "whole number": _whole,
    "each added": lambda bands: f"each run by its own, {_added(bands)}",
    "scatter": lambda bands: f"runs scatter by {_added(bands)}",
    "mirrored": lambda _: "as the readings say: 24.70 written for 24.30",
    "digits swapped": lambda _: "as the readings say: 23.75 written for 27.35",
    "another sample": lambda _: "to the titre of a run before",
    "not refilled": lambda _: "by the final reading of the run before",
    "two levels": lambda bands: f"some runs, {_added(bands)}",
    "ratio": lambda _: f"in the ratio of another pipette ({_listed(sorted(size for size, _ in PIPETTES))} cm³)",
    "anywhere": lambda _: "by any amount",
}
"""Shape -> words for how much, from the bands."""


def _listed(sizes: list[float]) -> str:
    return ", ".join(f"{size:g}" for size in sizes)
