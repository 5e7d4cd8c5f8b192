"""Coordinates of the pictures of the class figures: results in order of work, h and k, the uncertainty budget.

The template draws them as plain SVG in the page's one style; here is only where things stand. What stands out is told
by fill, by a dash and by words, so that greyscale loses nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from labmark.outputs import numbers
from labmark.outputs.each import statistics
from labmark.outputs.number_line import Axis
from labmark.words import begun, counted, listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from labmark.outputs.layout import Picture

Tree = dict[str, Any]
Drawn = dict[str, Any]

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


def in_order_of_work(tree: Tree, picture: Picture) -> Drawn | None:
    """Return the results in order of work, where the sheet tells it; None where it does not."""
    drift = statistics(tree).get("drift")
    there = _worked_in_order(tree, picture)
    field = _Field.of([place for place, *_ in there], picture.axis)
    if not drift or field is None:
        return None
    inside = [one for one in there if picture.axis.holds(one[1])]
    return {
        "width": WIDTH,
        "height": BOTTOM + 40,
        "points": [(field.across(place), field.up(value), concordant) for place, value, concordant in inside],
        "across": field.places(),
        "up": [(field.up(value), label) for value, label in picture.axis.numbers(6)],
        "line": None if picture.reference is None or picture.from_class else field.up(picture.reference),
        "slope": field.line(_ends(drift, tree, picture)),
        "label": picture.label,
        "outside": len(there) - len(inside),
        "words": _drift_in_words(drift, len(there)),
    }


def _worked_in_order(tree: Tree, picture: Picture) -> list[tuple[float, float, bool]]:
    """Return (place in the order of work, value on the axis, whether the runs agree) of everybody who has both."""
    found = [(one, picture.value(one)) for one in tree["students"] if one["order"] is not None]
    return [(float(one["order"]), value, one["concordant"]) for one, value in found if value is not None]


class _Field(NamedTuple):
    """Where places in the order of work and results are drawn."""

    order: Axis
    results: Axis

    @classmethod
    def of(cls, places: Sequence[float], results: Axis) -> _Field | None:
        """Return where places and results are drawn; None where there are no two places."""
        return cls(Axis(min(places), max(places)), results) if len({*places}) > 1 else None

    def across(self, place: float) -> float:
        return round(self.order.at(place, LEFT + 14, RIGHT - 14), 1)

    def up(self, value: float) -> float:
        return round(self.results.at(value, BOTTOM, TOP), 1)

    def places(self) -> list[tuple[float, str]]:
        """Return where the numbers under the picture stand, whole ones alone."""
        wide = Axis(self.order.low - 0.5, self.order.high + 0.5)
        return [(self.across(place), numbers.fixed(place, 0)) for place, _ in wide.numbers(10) if place == int(place)]

    def line(self, ends: tuple[float, float] | None) -> tuple[float, float, float, float] | None:
        """Return a line from the first to the last place, also where that leads out of the picture."""
        if ends is None:
            return None
        return self.across(self.order.low), self.up(ends[0]), self.across(self.order.high), self.up(ends[1])


def _ends(drift: Tree, tree: Tree, picture: Picture) -> tuple[float, float] | None:
    """Return the robust line at both ends, on the axis of the picture."""
    reference = (tree["reference"] or {}).get("value")
    if drift.get("at_first") is None or not reference:
        return None
    first, last = float(drift["at_first"]), float(drift["at_last"])
    if picture.differences:
        return 100 * (first - 1), 100 * (last - 1)
    return first * reference, last * reference


def _drift_in_words(drift: Tree, results: int) -> str:
    size = f"{numbers.signed(drift['first_to_last_titre'], 2)} cm³ of titre from first to last"
    verdict = "more than chance explains" if drift["drifting"] else "not told from chance, or too little to matter"
    return f"{counted(results, 'result')} in order of work: {size}, {verdict}."


def consistency(tree: Tree) -> Drawn | None:
    """Return h and k of every student, a panel each; None where there are none, or too many to be told apart.

    panel   {"name", "bars", "zero": height where they begin, "lines": [(y, "warning" or "action", words)],
            "beneath": height of the numbers}
    bar     {"x", "y", "width", "height", "kind", "number": under it, empty where there is no room}
    """
    mandel = statistics(tree).get("mandel")
    if not mandel or not 3 <= mandel["n"] <= MOST_BARS:
        return None
    panels = [panel for panel in (_panel_of_h(mandel), _panel_of_k(mandel)) if panel is not None]
    height = panels[-1]["beneath"] + 8
    return {"width": WIDTH, "height": height, "panels": panels, "words": _beyond_in_words(mandel)}


def _panel_of_h(mandel: Tree) -> Drawn:
    """Return h of every student, on both sides of 0."""
    h, limits = mandel["h"], (mandel["h_warning"], mandel["h_action"])
    reach = 1.12 * max([abs(value) for value in h if value is not None] + [float(mandel["h_action"] or 0)])
    lines = [(kind, sign * value) for kind, value in zip(_WORDS, limits, strict=True) for sign in (1, -1) if value]
    return _panel("h", mandel, [limits] * len(h), lines, _Heights(TOP + PANEL / 2, TOP, reach))


def _panel_of_k(mandel: Tree) -> Drawn | None:
    """Return k of every student, with the indicators for the commonest number of runs; None where there is none."""
    own = list(zip(mandel["k_warning"], mandel["k_action"], strict=True))
    commonest = max(set(mandel["runs"]), key=mandel["runs"].count)
    usual = next((pair for pair, runs in zip(own, mandel["runs"], strict=True) if runs == commonest), (None, None))
    lines = [(kind, value) for kind, value in zip(_WORDS, usual, strict=True) if value is not None]
    there = [value for value in (*mandel["k"], *(value for _, value in lines)) if value is not None]
    top = TOP + PANEL + GAP
    return _panel("k", mandel, own, lines, _Heights(top + PANEL, top, 1.12 * max(there))) if there else None


_WORDS = {"warning": "5 %", "action": "1 %"}


class _Heights(NamedTuple):
    """Where the values of a panel are drawn."""

    zero: float
    """Height [px] of 0,"""
    top: float
    """and of the top of the panel."""
    reach: float
    """Value at its top."""


def _panel(name: str, mandel: Tree, limits: Sequence[Any], lines: Sequence[tuple[str, float]], at: _Heights) -> Drawn:
    """Return h or k of every student; `limits` are a warning and an action each."""
    values, bars = mandel[name], []
    slot = (RIGHT - LEFT) / len(values)
    for place, value in enumerate(values):
        if value is not None:
            kind = _kind(abs(value), *limits[place])
            named = kind == "beyond" or len(values) <= MOST_NUMBERED
            number = str(mandel["numbers"][place]) if named else ""
            bars.append(_bar(value, LEFT + (place + 0.15) * slot, slot, at) | {"kind": kind, "number": number})
    drawn = [(round(at.zero - value / at.reach * (at.zero - at.top), 1), kind, _WORDS[kind]) for kind, value in lines]
    return {"name": name, "bars": bars, "zero": at.zero, "lines": drawn, "beneath": at.top + PANEL + 12}


def _bar(value: float, left: float, slot: float, at: _Heights) -> Drawn:
    """Return the bar of a value in its slot, up from 0 or down."""
    height = abs(value) / (at.reach / (at.zero - at.top))
    return {
        "x": round(left, 1),
        "y": round(at.zero - (height if value >= 0 else 0), 1),
        "width": round(0.7 * slot, 1),
        "height": round(height, 1),
    }


def _kind(size: float, warning: float | None, action: float | None) -> str:
    """Return whether an h or k is "beyond" the 1 % indicator, "near" beyond that of 5 %, or "within"."""
    if action is not None and size > action:
        return "beyond"
    return "near" if warning is not None and size > warning else "within"


def _beyond_in_words(mandel: Tree) -> str:
    """Return who lies beyond the 1 % indicators, by h and by k."""
    parts = []
    for letter, limits in (("h", [mandel["h_action"]] * len(mandel["h"])), ("k", mandel["k_action"])):
        sizes = zip(mandel["students"], mandel[letter], limits, strict=True)
        names = [name for name, size, limit in sizes if size is not None and _kind(abs(size), None, limit) == "beyond"]
        parts += [f"{listed(names)} by {letter}"] if names else []
    return f"Beyond the 1 % indicator: {'; '.join(parts)}." if parts else "Nobody is beyond the 1 % indicators."


def amounts(rows: Sequence[Tree]) -> list[Drawn]:
    """Return the lines of a budget, in the order given: the width of each bar [% of the longest], and its figures."""
    longest = max((float(row["percent"] or 0) for row in rows), default=0.0)
    return [
        {
            "label": begun(row["source"]),
            "width": round(100 * float(row["percent"] or 0) / longest, 1) if longest else 0.0,
            "text": f"{numbers.uncertainty(row['percent'])} %, {numbers.share(row['share'])} of the variance",
        }
        for row in rows
    ]
