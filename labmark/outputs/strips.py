"""Places on the report's strips: every student's titres in a row, and the groups side by side.

The template draws them as plain SVG of any width; here is only where things stand, in per cent of that width, so that
letters and dots have one size on every screen. All rows share one scale: a shift of a bench or a wild run shows by
looking down the page.

    strip  {"height": of a row [px], "axis": [(x, label)], "label", "line": x of the reference, "centre": x, "rows"}
    row    {"label", "marks", "bar": (x, x) from the smallest to the largest titre behind the mean, "mean": x,
           "concordant", "words": for those who cannot see it, "below", "above": what lies beyond either end}
    mark   {"x", "kind": "used", "unused" or "rough", "dy": off the middle of the row [px], so that equal ones show}
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from labmark.outputs import numbers
from labmark.outputs.number_line import Axis, stack
from labmark.words import counted, group_name, listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from labmark.outputs.layout import Picture

Tree = dict[str, Any]
Drawn = dict[str, Any]

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


def _from(run: Tree, origin: float) -> float:
    """Return how far a titre lies from where the student's (or the run's own expected titre) does."""
    return float(run["titre"]) - (origin if run.get("expected_titre") is None else float(run["expected_titre"]))


def _axis(students: Sequence[Tree], origins: Sequence[float], line: float | None) -> Axis:
    """Return the axis: about the expected titre, or else the middle of the runs, as wide as most runs need."""
    titres = sorted(
        _from(run, origin)
        for one, origin in zip(students, origins, strict=True)
        for run in one["runs"]
        if run["titre"] is not None and (run["kind"] == "accurate" or (line is None and run["kind"] == "rough"))
    )
    middle = titres[len(titres) // 2] if titres else line or 0.0
    ends = [middle] if line is None or abs(line - middle) > MOST_REACH else [middle, line]
    away = sorted(min(abs(titre - end) for end in ends) for titre in titres) or [0.0]
    reach = 1.15 * away[min(len(away) - 1, int(SHARE_SHOWN * len(away)))]
    reach = min(max(reach, LEAST_REACH), MOST_REACH)
    return Axis(min(ends) - reach, max(ends) + reach)


def _row(one: Tree, axis: Axis, origin: float) -> Drawn:
    used = [_from(run, origin) for run in one["runs"] if run["used"] and run["titre"] is not None]
    inside = [value for value in used if axis.holds(value)]
    mean = None if one["mean_titre"] is None else float(one["mean_titre"]) - origin
    below, above = _beyond(one, axis, origin)
    return {
        "label": one["student"],
        "marks": apart(_marks(one, axis, origin), ROW - DOT),
        "bar": (_x(axis, min(inside)), _x(axis, max(inside))) if len(inside) > 1 else None,
        "mean": _x(axis, mean) if mean is not None and axis.holds(mean) else None,
        "concordant": one["concordant"],
        "words": runs_in_words(one),
        "below": below,
        "above": above,
    }


def _marks(one: Tree, axis: Axis, origin: float) -> list[Drawn]:
    """Return the marks of the runs within the scale."""
    marks = []
    for run in one["runs"]:
        if run["titre"] is not None and run["kind"] != "blank" and axis.holds(_from(run, origin)):
            kind = "rough" if run["kind"] == "rough" else "used" if run["used"] else "unused"
            marks.append({"x": _x(axis, _from(run, origin)), "kind": kind})
    return marks


def _beyond(one: Tree, axis: Axis, origin: float) -> tuple[str, str]:
    """Return the titres of the accurate runs beyond either end; a rough out there is left out."""
    runs = [run for run in one["runs"] if run["titre"] is not None and run["kind"] == "accurate"]
    below = [run["titre"] for run in runs if _from(run, origin) < axis.low]
    above = [run["titre"] for run in runs if _from(run, origin) > axis.high]
    return _from_to(below), _from_to(above)


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
