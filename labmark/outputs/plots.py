"""Coordinates of the pictures of the class figures: results in order of work, h and k, the uncertainty budget.

The template draws them as plain SVG in the page's one style; here is only where things stand. What stands out is told
by fill, by a dash and by words, so that greyscale loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labmark.outputs import numbers
from labmark.outputs.layout import ticks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from labmark.outputs.layout import Picture

Tree = dict[str, Any]

WIDTH = 780
LEFT, RIGHT = 70, 760
"""Ends of the plotting area [px of the picture]."""
TOP, BOTTOM = 14, 214
"""Upper and lower end of the plotting area of the order of work."""
MOST_BARS = 80
"""Students whose h and k can be told apart side by side."""
MOST_NUMBERED = 45
"""Students whose numbers fit under their bars."""
PANEL, GAP = 96, 34
"""Height of a panel of h or k, and between the two."""
Ticks = tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class Ordered:
    """Results against the order of work."""

    width: int
    height: int
    points: tuple[tuple[float, float, bool], ...]
    """(x, y, rests on concordant runs)"""
    across: Ticks
    up: Ticks
    line: float | None
    """Height of the reference."""
    slope: tuple[float, float, float, float] | None
    """x, y of both ends of the robust line."""
    label: str
    outside: int
    """Results beyond the upper or lower end."""
    words: str


@dataclass(frozen=True, slots=True)
class Bar:
    """A student's h or k."""

    x: float
    y: float
    width: float
    height: float
    kind: str
    """"beyond" the 1 % indicator, "near" beyond that of 5 %, or "within"."""
    number: str
    """Under the bar; empty where there is no room."""


@dataclass(frozen=True, slots=True)
class Panel:
    """h or k of every student."""

    name: str
    bars: tuple[Bar, ...]
    zero: float
    lines: tuple[tuple[float, str, str], ...]
    """(y, "warning" or "action", words)"""
    beneath: float
    """Height of the numbers."""


@dataclass(frozen=True, slots=True)
class Consistency:
    """Mandel's h over k."""

    width: int
    height: int
    panels: tuple[Panel, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Amount:
    """A line of a budget."""

    label: str
    width: float
    """Of its bar [% of the longest]."""
    text: str


def in_order_of_work(tree: Tree, picture: Picture) -> Ordered | None:
    """Return the results in order of work, where the sheet tells it; None where it does not."""
    drift = (tree["class"].get("statistics") or {}).get("drift")
    found = [(one, picture.value(one)) for one in tree["students"] if one.get("order") is not None]
    there = [(float(one["order"]), value, bool(one["concordant"])) for one, value in found if value is not None]
    if not drift or len({place for place, *_ in there}) < 2:
        return None
    first, last = min(place for place, *_ in there), max(place for place, *_ in there)
    scale = picture.scale

    def across(place: float) -> float:
        return round(LEFT + 14 + (place - first) / (last - first) * (RIGHT - LEFT - 28), 1)

    def up(value: float) -> float:
        return round(BOTTOM - (value - scale.low) / (scale.high - scale.low) * (BOTTOM - TOP), 1)

    inside = [one for one in there if scale.holds(one[1])]
    marks, decimals = ticks(scale.low, scale.high, 6)
    places, _ = ticks(first - 0.5, last + 0.5, 10)
    reference = None if picture.reference is None or picture.from_class else picture.reference
    ends = _ends(drift, tree, picture)
    return Ordered(
        WIDTH,
        BOTTOM + 40,
        tuple((across(place), up(value), concordant) for place, value, concordant in inside),
        tuple((across(place), numbers.fixed(place, 0)) for place in places if place == int(place)),
        tuple((up(value), numbers.fixed(value, decimals)) for value in marks),
        None if reference is None else up(reference),
        None if ends is None else (across(first), up(ends[0]), across(last), up(ends[1])),
        scale.label,
        len(there) - len(inside),
        _drift_in_words(drift, len(there)),
    )


def _ends(drift: Tree, tree: Tree, picture: Picture) -> tuple[float, float] | None:
    """Return the robust line at both ends, on the axis of the picture."""
    reference = (tree.get("reference") or {}).get("value")
    if drift.get("at_first") is None or not reference:
        return None
    first, last = float(drift["at_first"]), float(drift["at_last"])
    if picture.differences:
        return 100 * (first - 1), 100 * (last - 1)
    return first * reference, last * reference


def _drift_in_words(drift: Tree, results: int) -> str:
    size = f"{numbers.signed(drift['first_to_last_titre'], 2)} cm³ of titre from first to last"
    verdict = "more than chance explains" if drift["drifting"] else "not told from chance, or too little to matter"
    return f"{numbers.count(results, 'result')} in order of work: {size}, {verdict}."


def consistency(tree: Tree) -> Consistency | None:
    """Return h and k of every student; None where there are none, or too many to be told apart."""
    mandel = (tree["class"].get("statistics") or {}).get("mandel")
    if not mandel or not 3 <= mandel["n"] <= MOST_BARS:
        return None
    h, k = mandel["h"], mandel["k"]
    top = TOP + PANEL + GAP
    limits = [mandel["h_warning"], mandel["h_action"]]
    reach = 1.12 * max([abs(value) for value in h if value is not None] + [float(mandel["h_action"] or 0)])
    middle = TOP + PANEL / 2
    upper = _panel("h", mandel, h, [limits] * len(h), middle, reach / (PANEL / 2), TOP + PANEL + 12)
    signed = [(sign * value, kind) for value, kind in zip(limits, _KINDS, strict=True) for sign in (1, -1) if value]
    upper_lines = tuple((round(middle - value / reach * PANEL / 2, 1), kind, _WORDS[kind]) for value, kind in signed)
    own = list(zip(mandel["k_warning"], mandel["k_action"], strict=True))
    commonest = max(set(mandel["runs"]), key=mandel["runs"].count)
    usual = next((pair for pair, runs in zip(own, mandel["runs"], strict=True) if runs == commonest), (None, None))
    there = [value for value in (*k, *usual) if value is not None]
    if not there:
        return Consistency(WIDTH, TOP + PANEL + 20, (_with(upper, upper_lines),), _beyond_in_words(mandel))
    tall = 1.12 * max(there)
    lower = _panel("k", mandel, k, own, top + PANEL, tall / PANEL, top + PANEL + 12)
    lines = tuple(
        (round(top + PANEL - value / tall * PANEL, 1), kind, _WORDS[kind])
        for value, kind in zip(usual, _KINDS, strict=True)
        if value is not None
    )
    panels = (_with(upper, upper_lines), _with(lower, lines))
    return Consistency(WIDTH, top + PANEL + 20, panels, _beyond_in_words(mandel))


_KINDS = ("warning", "action")
_WORDS = {"warning": "5 %", "action": "1 %"}


def _with(panel: Panel, lines: tuple[tuple[float, str, str], ...]) -> Panel:
    return Panel(panel.name, panel.bars, panel.zero, lines, panel.beneath)


def _panel(
    name: str,
    mandel: Tree,
    values: Sequence[float | None],
    limits: Sequence[Any],
    zero: float,
    unit: float,
    beneath: float,
) -> Panel:
    """Return the bars of a panel; `unit` is how much a pixel stands for, `zero` where the bars begin."""
    slot = (RIGHT - LEFT) / len(values)
    numbered = len(values) <= MOST_NUMBERED
    bars = []
    for place, value in enumerate(values):
        if value is None:
            continue
        kind = _kind(abs(value), *limits[place])
        height = abs(value) / unit
        number = str(mandel["numbers"][place]) if numbered or kind == "beyond" else ""
        x, y = LEFT + (place + 0.15) * slot, zero - (height if value >= 0 else 0)
        bars.append(Bar(round(x, 1), round(y, 1), round(0.7 * slot, 1), round(height, 1), kind, number))
    return Panel(name, tuple(bars), zero, (), beneath)


def _kind(size: float, warning: float | None, action: float | None) -> str:
    if action is not None and size > action:
        return "beyond"
    return "near" if warning is not None and size > warning else "within"


def _beyond_in_words(mandel: Tree) -> str:
    """Return who lies beyond the 1 % indicators, by h and by k."""
    parts = []
    for letter, limits in (("h", [mandel["h_action"]] * len(mandel["h"])), ("k", mandel["k_action"])):
        sizes = zip(mandel["students"], mandel[letter], limits, strict=True)
        names = [name for name, size, limit in sizes if size is not None and _kind(abs(size), None, limit) == "beyond"]
        parts += [f"{numbers.listed(names)} by {letter}"] if names else []
    return f"Beyond the 1 % indicator: {'; '.join(parts)}." if parts else "Nobody is beyond the 1 % indicators."


def amounts(rows: Sequence[Tree]) -> tuple[Amount, ...]:
    """Return the lines of a budget as bars, in the order given, each with its figures."""
    longest = max((float(row["percent"] or 0) for row in rows), default=0.0)
    return tuple(
        Amount(
            row["source"][:1].upper() + row["source"][1:],
            round(100 * float(row["percent"] or 0) / longest, 1) if longest else 0.0,
            f"{numbers.uncertainty(row['percent'])} %, {numbers.share(row['share'])} of the variance",
        )
        for row in rows
    )
