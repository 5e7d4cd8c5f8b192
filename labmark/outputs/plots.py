"""Where things stand on the pictures of the report, which its template draws as plain SVG in the page's one style.

Strips: every student's titres in a row, and the groups side by side, in per cent of any width, so that letters and
dots have one size on every screen. All rows share one scale: a shift of a bench or a wild run shows by looking down
the page.

    strip  {"height": of a row [px], "axis": [(x, label)], "label", "line": x of the reference, "centre": x, "rows"}
    row    {"label", "marks", "bar": (x, x) from the smallest to the largest titre behind the mean, "mean": x,
           "concordant", "words": for those who cannot see it, "below", "above": what lies beyond either end}
    mark   {"x", "kind": "used", "unused" or "rough", "dy": off the middle of the row [px], so that equal ones show}

Plots of the class figures: results in order of work, h and k, the uncertainty budget. What stands out is told by fill,
by a dash and by words, so that greyscale loses nothing.
"""

from collections.abc import Sequence
from typing import Any

from labmark.outputs import numbers
from labmark.outputs.layout import Picture
from labmark.outputs.number_line import Axis, stack
from labmark.words import begun, counted, group_name, listed

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
START, END = 3.0, 97.0
"""Ends of the scale [% of the width]: half a label stands beyond either."""
ROW = 24
"""Height of a student's row [px]."""
GROUP_ROW = (24, 48)
"""Least and greatest height of a group's row [px]; between them it is as high as its tallest stack."""
DOT, BESIDE = 7, 1.6
"""Diameter of a dot [px], and how far apart two stand side by side [% of the width]."""
MOST_TICKS = 6
SHARE_SHOWN = 0.9
"""The scale reaches as far as this share of the accurate runs; the rest are told beside it with their value."""
LEAST_REACH, MOST_REACH = 0.5, 3.0
"""Least and greatest reach of the scale either side of its middle [cm³]."""


def in_order_of_work(tree: Tree, picture: Picture) -> Drawn | None:
    """Return the results in order of work, where the sheet tells it; None where it does not."""
    drift = tree["class"]["statistics"]["drift"]
    there = _worked_in_order(tree, picture)
    places = [place for place, *_ in there]
    if not drift or len({*places}) < 2:
        return None
    order, results = Axis(min(places), max(places)), picture.axis

    def at(place: float, value: float) -> tuple[float, float]:
        return round(order.at(place, LEFT + 14, RIGHT - 14), 1), round(results.at(value, BOTTOM, TOP), 1)

    inside = [one for one in there if results.holds(one[1])]
    ends = _ends(drift, tree, picture)
    # Of the numbers under the picture whole ones alone.
    whole = [place for place, _ in Axis(order.low - 0.5, order.high + 0.5).numbers(10) if place == int(place)]
    return {
        "width": WIDTH,
        "height": BOTTOM + 40,
        "points": [(*at(place, value), concordant) for place, value, concordant in inside],
        "across": [(at(place, 0)[0], numbers.fixed(place, 0)) for place in whole],
        "up": [(at(0, value)[1], label) for value, label in results.numbers(6)],
        "line": None if picture.reference is None or picture.from_class else at(0, picture.reference)[1],
        # From the first to the last place, also where that leads out of the picture.
        "slope": (*at(order.low, ends[0]), *at(order.high, ends[1])),
        "label": picture.label,
        "outside": len(there) - len(inside),
        "words": _drift_in_words(drift, len(there)),
    }


def _worked_in_order(tree: Tree, picture: Picture) -> list[tuple[float, float, bool]]:
    """Return (place in the order of work, value on the axis, whether the runs agree) of everybody who has both."""
    found = [(one, picture.value(one)) for one in tree["students"] if one["order"] is not None]
    return [(float(one["order"]), value, one["concordant"]) for one, value in found if value is not None]


def _ends(drift: Tree, tree: Tree, picture: Picture) -> tuple[float, float]:
    """Return the robust line at both ends, on the axis of the picture."""
    first, last = float(drift["at_first"]), float(drift["at_last"])
    if picture.differences:
        return 100 * (first - 1), 100 * (last - 1)
    reference = tree["reference"]["value"]
    return first * reference, last * reference


def _drift_in_words(drift: Tree, results: int) -> str:
    size = f"{numbers.signed(drift['first_to_last_titre'], 2)} cm³ of titre from first to last"
    verdict = "more than chance explains" if drift["drifting"] else "no different from chance, or too small to matter"
    return f"{counted(results, 'result')} in order of work: {size}, {verdict}."


def consistency(tree: Tree) -> Drawn | None:
    """Return h and k of every student, a panel each; None where there are none, or too many to be told apart.

    panel   {"name", "bars", "zero": height where they begin, "lines": [(y, "warning" or "action", words)],
            "beneath": height of the numbers}
    bar     {"x", "y", "width", "height", "kind", "number": under it, empty where there is no room}
    """
    mandel = tree["class"]["statistics"]["mandel"]
    if not mandel or not 3 <= mandel["n"] <= MOST_BARS:
        return None
    own = list(zip(mandel["k_warning"], mandel["k_action"], strict=True))
    # The lines of k are those of the commonest number of runs.
    commonest = max(set(mandel["runs"]), key=mandel["runs"].count)
    of_k = next(pair for pair, runs in zip(own, mandel["runs"], strict=True) if runs == commonest)
    of_h = mandel["h_warning"], mandel["h_action"]
    both = _panel("h", mandel, [of_h] * len(own), of_h, TOP), _panel("k", mandel, own, of_k, TOP + PANEL + GAP)
    panels = [panel for panel in both if panel is not None]
    height = panels[-1]["beneath"] + 8
    return {"width": WIDTH, "height": height, "panels": panels, "words": _beyond_in_words(mandel)}


_WORDS = {"warning": "5 %", "action": "1 %"}


def _panel(name: str, mandel: Tree, limits: Sequence[Any], usual: Sequence[float | None], top: float) -> Drawn | None:
    """Return h (up from 0 and down) or k of every student; None where there is none.

    limits   a warning and an action of each
    usual    those that are drawn
    """
    values, signs = mandel[name], (1, -1) if name == "h" else (1,)
    lines = [(kind, sign * value) for kind, value in zip(_WORDS, usual, strict=True) if value for sign in signs]
    there = [abs(value) for value in (*values, *(value for _, value in lines)) if value is not None]
    if not there:
        return None
    zero = top + (PANEL / 2 if name == "h" else PANEL)
    scale, slot = (zero - top) / (1.12 * max(there)), (RIGHT - LEFT) / len(values)
    bars = []
    for place, value in enumerate(values):
        if value is not None:
            kind = _kind(abs(value), *limits[place])
            named = kind == "beyond" or len(values) <= MOST_NUMBERED
            bar = _bar(value * scale, LEFT + (place + 0.15) * slot, slot, zero)
            bars.append(bar | {"kind": kind, "number": str(mandel["numbers"][place]) if named else ""})
    drawn = [(round(zero - value * scale, 1), kind, _WORDS[kind]) for kind, value in lines]
    return {"name": name, "bars": bars, "zero": zero, "lines": drawn, "beneath": top + PANEL + 12}


def _bar(up: float, left: float, slot: float, zero: float) -> Drawn:
    """Return a bar in its slot, so far up from 0 or down."""
    size = {"width": round(0.7 * slot, 1), "height": round(abs(up), 1)}
    return {"x": round(left, 1), "y": round(zero - max(up, 0.0), 1), **size}


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


# Strips.


def _x(axis: Axis, value: float) -> float:
    return round(axis.at(value, START, END), 1)


def _numbers(axis: Axis) -> list[tuple[float, str]]:
    return [(_x(axis, value), label) for value, label in axis.numbers(MOST_TICKS)]


def runs_of_all(tree: Tree) -> Drawn | None:
    """Return the titres of every student with a run, on one scale; None where nobody has one.

    Where students (or runs) are held against different titres, each is shown as its difference from its own
    expected one.
    """
    students = [one for one in tree["students"] if any(run["titre"] is not None for run in one["runs"])]
    if not students:
        return None
    several, line = _expected(students)
    origins = [float(one["expected_titre"] or 0) if several else 0.0 for one in students]
    axis = _axis(students, origins, line)
    return {
        "height": ROW,
        "axis": _numbers(axis),
        "label": "titre minus own expected titre, cm³" if several else "titre, cm³",
        "line": _x(axis, line) if line is not None and axis.holds(line) else None,
        "centre": None,
        "rows": [_row(one, axis, origin) for one, origin in zip(students, origins, strict=True)],
    }


def _expected(students: Sequence[Tree]) -> tuple[bool, float | None]:
    """Return whether different titres are expected, and where the line of the expected one is [cm³]."""
    expected = {one["expected_titre"] for one in students if one["expected_titre"] is not None}
    of_runs = any(run.get("expected_titre") is not None for one in students for run in one["runs"])
    if len(expected) > 1 or of_runs:
        return True, 0.0
    return False, float(next(iter(expected))) if expected else None


def _away(one: Tree, origin: float) -> list[tuple[Tree, float]]:
    """Return a student's runs, each with how far its titre lies from the student's origin, or its own expected one."""
    own = ((run, run.get("expected_titre")) for run in one["runs"] if run["titre"] is not None)
    return [(run, float(run["titre"]) - (origin if expected is None else float(expected))) for run, expected in own]


def _axis(students: Sequence[Tree], origins: Sequence[float], line: float | None) -> Axis:
    """Return the axis: about the expected titre, or else the middle of the runs, as wide as most runs need."""
    titres = sorted(
        titre
        for one, origin in zip(students, origins, strict=True)
        for run, titre in _away(one, origin)
        if run["kind"] == "accurate" or (line is None and run["kind"] == "rough")
    )
    middle = titres[len(titres) // 2] if titres else line or 0.0
    ends = [middle] if line is None or abs(line - middle) > MOST_REACH else [middle, line]
    away = sorted(min(abs(titre - end) for end in ends) for titre in titres) or [0.0]
    reach = 1.15 * away[min(len(away) - 1, int(SHARE_SHOWN * len(away)))]
    reach = min(max(reach, LEAST_REACH), MOST_REACH)
    return Axis(min(ends) - reach, max(ends) + reach)


def _row(one: Tree, axis: Axis, origin: float) -> Drawn:
    runs = _away(one, origin)
    marks = [
        {"x": _x(axis, titre), "kind": "rough" if run["kind"] == "rough" else "used" if run["used"] else "unused"}
        for run, titre in runs
        if run["kind"] != "blank" and axis.holds(titre)
    ]
    inside = [titre for run, titre in runs if run["used"] and axis.holds(titre)]
    mean = None if one["mean_titre"] is None else float(one["mean_titre"]) - origin
    # Of what lies beyond either end a rough is left out.
    accurate = [(run["titre"], titre) for run, titre in runs if run["kind"] == "accurate"]
    return {
        "number": one["number"],
        "label": one["student"],
        "marks": apart(marks, ROW - DOT),
        "bar": (_x(axis, min(inside)), _x(axis, max(inside))) if len(inside) > 1 else None,
        "mean": _x(axis, mean) if mean is not None and axis.holds(mean) else None,
        "concordant": one["concordant"],
        "words": runs_in_words(one),
        "below": _from_to([shown for shown, titre in accurate if titre < axis.low]),
        "above": _from_to([shown for shown, titre in accurate if titre > axis.high]),
    }


def _from_to(titres: Sequence[Any]) -> str:
    ends = [numbers.volume(end(titres)) for end in (min, max)] if titres else [""]
    return ends[0] if ends[0] == ends[-1] else f"{ends[0]} to {ends[1]}"


def apart(marks: Sequence[Drawn], room: float) -> list[Drawn]:
    """Return the marks moved up and down from the middle of a row of this height, so that equal ones show."""
    levels = stack([mark["x"] for mark in marks], BESIDE)
    step = min(DOT - 1, room / max(1, *levels)) if levels else 0
    # Levels 0, 1, 2, 3, 4 go to the middle, up, down, further up, further down.
    shifts = ((level + 1) // 2 * (-1 if level % 2 else 1) * step for level in levels)
    return [mark | {"dy": round(shift, 1)} for mark, shift in zip(marks, shifts, strict=True)]


def runs_in_words(one: Tree) -> str:
    """Return a student's titres in a sentence: "25.30 and 25.25 in the mean; 24.75 not"."""
    accurate = [run for run in one["runs"] if run["titre"] is not None and run["kind"] == "accurate"]
    used = listed([numbers.volume(run["titre"]) for run in accurate if run["used"]])
    unused = listed([numbers.volume(run["titre"]) for run in accurate if not run["used"]])
    parts = [f"{used} in the mean" if used else "", f"{unused} not" if unused else ""]
    return "; ".join(part for part in parts if part) or "no accurate run"


def groups(tree: Tree, picture: Picture) -> list[tuple[str, Drawn]]:
    """Return (grouping, picture) for each grouping of two or more groups, on the scale of the distribution."""
    names = dict.fromkeys(name for one in tree["students"] for name in one["groups"])
    drawn = [(name, _grouping(tree, name, picture)) for name in names]
    return [(name, strip) for name, strip in drawn if strip is not None]


def _grouping(tree: Tree, name: str, picture: Picture) -> Drawn | None:
    """Return the strip of one grouping, a row for each group; None where there is one group only."""
    values = _by_group(tree, name, picture)
    if len(values) < 2:
        return None
    axis = picture.axis
    ordered = sorted(values, key=lambda group: (len(group), group))
    stacks = [stack([_x(axis, value) for value in values[group] if axis.holds(value)], BESIDE) for group in ordered]
    tallest = max((max(levels, default=0) + 1 for levels in stacks), default=1)
    height = min(max(GROUP_ROW[0], 2 * DOT + (DOT - 1) * tallest), GROUP_ROW[1])
    return {
        "height": height,
        "axis": _numbers(axis),
        "label": picture.label,
        "line": None if picture.reference is None or picture.from_class else _x(axis, picture.reference),
        "centre": None if picture.centre is None else _x(axis, picture.centre),
        "rows": [_group_row(group_name(name, group), values[group], axis, height) for group in ordered],
    }


def _by_group(tree: Tree, name: str, picture: Picture) -> dict[str, list[float]]:
    """Return what the picture shows of the students of each group."""
    values: dict[str, list[float]] = {}
    for one in tree["students"]:
        value, group = picture.value(one), one["groups"].get(name)
        if value is not None and group not in (None, ""):
            values.setdefault(str(group), []).append(value)
    return values


def _group_row(label: str, values: list[float], axis: Axis, height: float) -> Drawn:
    """Return the dots of a group, stacked about the middle of its row."""
    inside = sorted(value for value in values if axis.holds(value))
    beyond = (sum(value < axis.low for value in values), sum(value > axis.high for value in values))
    below, above = (f"{number} more" if number else "" for number in beyond)
    ends = [numbers.significant(value, 4) for value in (min(values), max(values))]
    return {
        "label": f"{label} ({len(values)})",
        "marks": apart([{"x": _x(axis, value), "kind": "used"} for value in inside], height - 2 * DOT),
        "bar": None,
        "mean": None,
        "concordant": True,
        "words": f"{counted(len(values), 'result')} from {ends[0]} to {ends[1]}",
        "below": below,
        "above": above,
    }
