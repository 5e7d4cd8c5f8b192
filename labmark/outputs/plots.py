"""Coordinates of the pictures of the class figures: results in order of work, h and k, the uncertainty budget.

The template draws them as plain SVG in the page's one style; here is only where things stand. What stands out is told
by fill, by a dash and by words, so that greyscale loses nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from labmark.outputs import numbers
from labmark.outputs.each import statistics
from labmark.outputs.number_line import Axis
from labmark.words import begun

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
    found = [(one, picture.value(one)) for one in tree["students"] if one["order"] is not None]
    there = [(float(one["order"]), value, one["concordant"]) for one, value in found if value is not None]
    if not drift or len({place for place, *_ in there}) < 2:
        return None
    first, last = min(place for place, *_ in there), max(place for place, *_ in there)
    order, results = Axis(first, last), picture.axis

    def across(place: float) -> float:
        return round(order.at(place, LEFT + 14, RIGHT - 14), 1)

    def up(value: float) -> float:
        return round(results.at(value, BOTTOM, TOP), 1)

    inside = [one for one in there if results.holds(one[1])]
    places = [value for value, _ in Axis(first - 0.5, last + 0.5).numbers(10) if value == int(value)]
    ends = _ends(drift, tree, picture)
    return {
        "width": WIDTH,
        "height": BOTTOM + 40,
        "points": [(across(place), up(value), concordant) for place, value, concordant in inside],
        "across": [(across(place), numbers.fixed(place, 0)) for place in places],
        "up": [(up(value), label) for value, label in results.numbers(6)],
        "line": None if picture.reference is None or picture.from_class else up(picture.reference),
        # From the first to the last place, also where that leads out of the picture.
        "slope": None if ends is None else (across(first), up(ends[0]), across(last), up(ends[1])),
        "label": picture.label,
        "outside": len(there) - len(inside),
        "words": _drift_in_words(drift, len(there)),
    }


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
    return f"{numbers.count(results, 'result')} in order of work: {size}, {verdict}."


def consistency(tree: Tree) -> Drawn | None:
    """Return h and k of every student, a panel each; None where there are none, or too many to be told apart.

    panel   {"name", "bars", "zero": height where they begin, "lines": [(y, "warning" or "action", words)],
            "beneath": height of the numbers}
    bar     {"x", "y", "width", "height", "kind", "number": under it, empty where there is no room}
    """
    mandel = statistics(tree).get("mandel")
    if not mandel or not 3 <= mandel["n"] <= MOST_BARS:
        return None
    h, k = mandel["h"], mandel["k"]
    limits = (mandel["h_warning"], mandel["h_action"])
    reach = 1.12 * max([abs(value) for value in h if value is not None] + [float(mandel["h_action"] or 0)])
    both_sides = [(kind, sign * value) for kind, value in zip(_WORDS, limits, strict=True) for sign in (1, -1) if value]
    panels = [_panel("h", mandel, [limits] * len(h), both_sides, (TOP + PANEL / 2, TOP), reach)]
    own = list(zip(mandel["k_warning"], mandel["k_action"], strict=True))
    commonest = max(set(mandel["runs"]), key=mandel["runs"].count)
    usual = next((pair for pair, runs in zip(own, mandel["runs"], strict=True) if runs == commonest), (None, None))
    lines = [(kind, value) for kind, value in zip(_WORDS, usual, strict=True) if value is not None]
    there = [value for value in (*k, *(value for _, value in lines)) if value is not None]
    if there:
        top = TOP + PANEL + GAP
        panels.append(_panel("k", mandel, own, lines, (top + PANEL, top), 1.12 * max(there)))
    height = panels[-1]["beneath"] + 8
    return {"width": WIDTH, "height": height, "panels": panels, "words": _beyond_in_words(mandel)}


_WORDS = {"warning": "5 %", "action": "1 %"}


def _panel(
    name: str,
    mandel: Tree,
    limits: Sequence[Any],
    lines: Sequence[tuple[str, float]],
    ends: tuple[float, float],
    reach: float,
) -> Drawn:
    """Return h or k of every student.

    limits   a warning and an action each
    ends     heights at which 0 and the top of the panel are
    reach    value at its top
    """
    values = mandel[name]
    slot = (RIGHT - LEFT) / len(values)
    zero, top = ends

    def bar(place: int, value: float) -> Drawn:
        kind, height = _kind(abs(value), *limits[place]), abs(value) / (reach / (zero - top))
        named = kind == "beyond" or len(values) <= MOST_NUMBERED
        return {
            "x": round(LEFT + (place + 0.15) * slot, 1),
            "y": round(zero - (height if value >= 0 else 0), 1),
            "width": round(0.7 * slot, 1),
            "height": round(height, 1),
            "kind": kind,
            "number": str(mandel["numbers"][place]) if named else "",
        }

    bars = [bar(place, value) for place, value in enumerate(values) if value is not None]
    drawn = [(round(zero - value / reach * (zero - top), 1), kind, _WORDS[kind]) for kind, value in lines]
    return {"name": name, "bars": bars, "zero": zero, "lines": drawn, "beneath": top + PANEL + 12}


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
        parts += [f"{numbers.listed(names)} by {letter}"] if names else []
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
