"""The class strip of a sheet: every result as a tick without a name, the reference, and the student's own mark."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from labmark.outputs.number_line import Axis, window
from labmark.outputs.numbers import listed
from labmark.units import shown_unit

Data = dict[str, Any]
Tree = Mapping[str, Any]

SMALLEST_STRIP = 8
"""Results a class strip must have: with fewer a tick could be told to be somebody's. Common practice, no source."""
SMALLEST_SIGMA = 0.001
"""Stands for σ where neither the practical nor the reference gives one (all results 0): the axis needs a width."""
FINEST = 320
"""Places on the strip: results nearer than half a millimetre share a tick."""


def is_few(tree: Tree) -> bool:
    """Return whether there are so few results that a sheet must not depend on those of others."""
    return sum(student.get("result") is not None for student in tree["students"]) < SMALLEST_STRIP


def class_strips(tree: Tree, name: str = "") -> dict[str, Data]:
    """Return a strip for each reference value (as text) that at least `SMALLEST_STRIP` students are held against.

    A strip holds what is the same for all of them: axis, nameless ticks, reference. It is drawn once for all. `name` is
    that of the result where there are several, and begins the key.
    """
    results: dict[str, list[float]] = {}
    references = {}
    for student in tree["students"]:
        reference = _reference(student, tree)
        if student.get("result") and reference is not None:
            key = repr(float(reference["value"]))
            results.setdefault(key, []).append(float(student["result"]["value"]))
            references[key] = {**reference, "printed": student["printed"]["reference"]}
    enough = {key: sorted(values) for key, values in results.items() if len(values) >= SMALLEST_STRIP}
    same = ", held against the same reference as you" if len(results) > 1 else ""
    return {
        f"{name} {key}".lstrip(): _class_strip(tree, values, references[key], same, name)
        for key, values in enough.items()
    }


def _class_strip(tree: Tree, results: Sequence[float], reference: Tree, same: str, name: str) -> Data:
    value, doubt = float(reference["value"]), float(reference.get("standard_uncertainty") or 0)
    axis = _strip_axis(tree, results, value)
    from_class = reference.get("from") == "class"
    held = "middle of the class" if from_class else "reference"
    unit = shown_unit(tree["practical"]["unit"])
    said = " in ".join(filter(None, (name, unit)))
    words = f"{held} {reference['printed']}"
    return {
        "low": axis.low,
        "high": axis.high,
        "title": f"You in the class: {len(results)} results" + same + (f", {said}" if said else ""),
        "ticks": axis.ticks(5 if name else 8),
        "others": _bars([axis.place(result) for result in results if not axis.side(result)]),
        "reference": axis.pointer(value, words)
        | {"from": axis.place(value - 2 * doubt), "to": axis.place(value + 2 * doubt), "of_class": from_class},
        "alt": f"Strip of the {len(results)} results of the class{f' for {name}' if name else ''}, without names, "
        f"with the {words} {unit}.",
        "key": "Thin lines: the results of the class, without names, longer where several are equal. "
        f"Shaded: the {held} with its uncertainty. The bar through your diamond is the uncertainty of your result."
        + _beyond(axis, results),
    }


def _beyond(axis: Axis, results: Sequence[float]) -> str:
    """Return a sentence on the results that lie outside the window, if any do."""
    sides = Counter(axis.side(result) for result in results)
    counts = ((sides["left"], "lower"), (sides["right"], "higher"))
    said = [f"{count} {word}" for count, word in counts if count]
    return f" Outside the picture: {listed(said)}." if said else ""


def _bars(places: Sequence[float]) -> list[tuple[float, float]]:
    """Return (place, length) of the ticks: length 0.5 for one result, 1 for as many as the longest has."""
    counts = Counter(round(place * FINEST) / FINEST for place in places)
    most = max(counts.values(), default=1)
    return [(x, round(0.5 + 0.5 * (count - 1) / max(1, most - 1), 3)) for x, count in sorted(counts.items())]


def _strip_axis(tree: Tree, results: Sequence[float], reference: float) -> Axis:
    """Return a window about the reference and the middle half of the class, twelve times σ wide at most."""
    sigma = float(tree["class"].get("sigma") or 0) or abs(reference) / 100 or SMALLEST_SIGMA
    quarter = len(results) // 4
    core = [reference, *results[quarter : len(results) - quarter]]
    return window(core, results, smallest=6 * sigma, widest=max(12 * sigma, max(core) - min(core)))


def own_place(student: Tree, tree: Tree, strips: Mapping[str, Data], name: str = "") -> Data | None:
    """Return the student's own mark on the strip of the same reference; None where there is no such strip."""
    own, reference = student.get("result"), _reference(student, tree)
    key = f"{name} {float(reference['value'])!r}".lstrip() if reference else ""
    if not own or key not in strips:
        return None
    axis = Axis(strips[key]["low"], strips[key]["high"])
    value, half = float(own["value"]), float(own.get("expanded_uncertainty") or 0)
    words = f"{student['printed']['result']} {shown_unit(own['unit'])}".strip()
    spread = {"from": axis.place(value - half), "to": axis.place(value + half)}
    return {"strip": key, "alt": f"Your result is {words}."} | axis.pointer(value, f"you {words}") | spread


def _reference(student: Tree, tree: Tree) -> Tree | None:
    """Return the reference that the student is held against, or None."""
    reference: Tree | None = student.get("reference") or tree.get("reference")
    return reference if reference and reference.get("value") is not None else None


def as_written(value: float | Decimal) -> str:
    """Return a number as it was written, never with a power of ten: 3, 2.5, 0.0506."""
    if isinstance(value, float) and value.is_integer():
        return f"{value:.0f}"
    return format(value if isinstance(value, Decimal) else Decimal(repr(value)), "f")
