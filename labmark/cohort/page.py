"""The moderator's page: one HTML file that fetches nothing. Do classes stand apart, and where do I look?

It is rendered from the cohort's tree alone, in the looks of the class report (`templates/report.css`); its words are in
`templates/cohort.html.j2`.
"""

from collections.abc import Iterator, Mapping, Sequence
from math import inf, sqrt
from typing import Any

from labmark.analyse.robust import U_FACTOR
from labmark.cohort.sheets import FIGURES, codes_of, criteria_of, doubted, followed, off, shares, stands_apart
from labmark.outputs import numbers
from labmark.outputs.class_view import named
from labmark.outputs.engine import policy
from labmark.outputs.number_line import Axis, window
from labmark.outputs.report import environment
from labmark.places import templates_folder
from labmark.units import shown_unit
from labmark.words import shortened

Tree = Mapping[str, Any]
MOST_FINDINGS = 10
"""Findings with a column of their own on the page; the workbook has them all."""
MOST_FOLLOWED = 40
"""Students whose work over several practicals is shown on the page."""
MOST_MOVED = 12
"""Students whose marks decisions moved the furthest, that are named on the page."""
LEFT, RIGHT, TOP, STEP = 170, 750, 34, 22
"""Ends of the picture's axis, where its rows begin, and how far they are apart [px]."""


def page(tree: Tree) -> str:
    """Return cohort.html. The same tree gives the same text."""
    style = "".join((templates_folder() / f"{name}.css").read_text(encoding="utf-8") for name in ("report", "cohort"))
    usable = [each for each in tree["classes"] if each["error"] is None]
    template = environment().get_template("cohort.html.j2")
    return template.render(
        shares=shares,
        stands_apart=stands_apart,
        doubted=doubted,
        off=off,
        followed=[followed(one) for one in (tree["year"] or {"students": []})["students"][:MOST_FOLLOWED]],
        most=MOST_FOLLOWED,
        tree=tree,
        usable=usable,
        refused=[each for each in tree["classes"] if each["error"] is not None],
        parts=[_part(each, usable) for each in tree["practicals"]],
        style=style,
        policy=policy(style, ""),
    )


def _part(practical: Tree, usable: Sequence[Tree]) -> dict[str, Any]:
    names = set(practical["classes"])
    classes = [each for each in usable if each["class"] in names]
    moved = [one | {"class": each["class"]} for each in classes for one in each["moved"]["students"]]
    return {
        "figures": [*_figures(practical)],
        "practical": practical,
        "unit": shown_unit(practical["unit"]),
        "own_unit": shown_unit(classes[0]["unit"]),
        "classes": classes,
        "apart": [each for each in classes if stands_apart(each)],
        "compared": any(each["comparisons"] for each in classes),
        "moved": [each for each in classes if each["moved"]["students"]],
        "students_moved": sorted(moved, key=lambda one: -abs(one["by"]))[:MOST_MOVED],
        "criteria": criteria_of({"classes": classes}),
        "codes": codes_of(classes)[:MOST_FINDINGS],
        "pictures": [picture for picture in (_centres(practical, classes), _marks(classes)) if picture],
    }


def _figures(practical: Tree) -> Iterator[tuple[str, str, str, str]]:
    """Yield (name, figure, its interval, meaning) of the figures of a practical."""
    decimals = numbers.places(practical["robust_sd"], 2) if practical["robust_sd"] else 4
    for key in FIGURES:
        name, meaning = named(key, practical)
        value = practical[key]
        shown = numbers.fixed(value, decimals) if key == "robust_mean" else numbers.uncertainty(value)
        yield name, shown, _interval(practical, key), meaning


def _interval(practical: Tree, key: str) -> str:
    """Return the 95 % interval of a standard deviation between units of one level; empty where there is none."""
    level = _LEVELS.get(key)
    ends = [(one["low"], one["high"]) for one in practical["components"] if one["level"] == level]
    return "".join(f"{numbers.uncertainty(low)} to {numbers.uncertainty(high)}" for low, high in ends)


_LEVELS = {"between_classes_sd": "class", "between_students_sd": "student"}


def _centres(practical: Tree, classes: Sequence[Tree]) -> dict[str, Any] | None:
    """Return the picture of the classes' centres: from their references [%] where all have one, else in the unit."""
    relative = all(each["percent_error"] is not None for each in classes)
    rows = []
    for each in classes:
        if each["robust_mean"] is None or each["robust_sd"] is None:
            continue
        scale = 100 / each["reference"] if relative else 1.0
        half = 2 * U_FACTOR * scale * each["robust_sd"] / sqrt(each["results"])
        rows.append((each["class"], each["percent_error"] if relative else each["robust_mean"], half))
    if relative:
        return _picture("Centre of each class, % from the reference", rows, 0.0, 0.1)
    least = max((abs(centre) for _, centre, _ in rows), default=0.0) / 1000
    own, unit = practical["unit"] == classes[0]["unit"], shown_unit(classes[0]["unit"])
    return _picture(f"Centre of each class, {unit}", rows, practical["robust_mean"] if own else None, least)


def _marks(classes: Sequence[Tree]) -> dict[str, Any] | None:
    """Return the picture of the classes' mean marks [%]."""
    rows = [
        (each["class"], each["mean_percent"], each["mean_percent_reach"] or 0.0)
        for each in classes
        if each["mean_percent"] is not None
    ]
    middle = sum(mean for _, mean, _ in rows) / len(rows) if rows else None
    return _picture("Mean mark of each class, %", rows, middle, 1.0, most=100.0)


def _picture(
    title: str, rows: Sequence[tuple[str, float, float]], line: float | None, least: float, most: float = inf
) -> dict[str, Any] | None:
    """Return where a tick and a bar of each row are drawn, `least` wide altogether; None for fewer than two rows.

    No bar goes beyond `most`.
    """
    if len(rows) < 2:
        return None
    bars = [(label, centre, centre - half, min(centre + half, most)) for label, centre, half in rows]
    ends = [end for *_, low, high in bars for end in (low, high)]
    axis = window(
        [*ends, *([] if line is None else [line])], [], smallest=max(least, max(ends) - min(ends)) + 1e-9, widest=0
    )
    return {
        "title": title,
        "height": TOP + STEP * len(rows) + 6,
        "ticks": [(_x(tick["x"]), tick["label"]) for tick in axis.ticks()],
        "line": None if line is None else _x(axis.place(line)),
        "rows": [
            {"label": shortened(label, 22), "y": TOP + STEP * place + STEP / 2, **_bar(axis, *bar)}
            for place, (label, *bar) in enumerate(bars)
        ],
    }


def _bar(axis: Axis, centre: float, low: float, high: float) -> dict[str, float]:
    return {"x": _x(axis.place(centre)), "from": _x(axis.place(low)), "to": _x(axis.place(high))}


def _x(place: float) -> float:
    return round(LEFT + place * (RIGHT - LEFT), 1)
