"""The two number lines of a sheet: the student's titres, and the strip of the class.

Titres: which are in the mean, how far apart they lie, and what the reference would give. The strip: every result as a
tick without a name, the reference, and the student's own mark.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from labmark.outputs.each import as_told
from labmark.outputs.forms import Forms
from labmark.outputs.number_line import Axis, levels, window
from labmark.outputs.numbers import fixed, volume
from labmark.units import shown_unit
from labmark.words import begun, listed

Data = dict[str, Any]
Tree = Mapping[str, Any]

LINE_WIDTH = 164.0
"""Width of the drawn lines [mm], as in the template: room for labels is reckoned with it."""
MOST_RUNS = 16
"""Runs that can be told apart on the line."""
USES = {"used": "in the mean", "rough": "not in the mean", "out": "left out of the mean"}
"""Use of a run -> what is said of it where the line is read out."""
SMALLEST_STRIP = 8
"""Results a class strip must have: with fewer a tick could be told to be somebody's. Common practice, no source."""
SMALLEST_SIGMA = 0.001
"""Stands for σ where neither the practical nor the reference gives one (all results 0): the axis needs a width."""
FINEST = 320
"""Places on the strip: results nearer than half a millimetre share a tick."""


# Titres.


def use_of(run: Tree) -> str:
    """Return "used", "rough" or "out": which mark the run has in the table and on the line."""
    return "used" if run["used"] else "rough" if run["kind"] == "rough" else "out"


def titre_line(student: Tree, practical: Tree, *, large: bool = False) -> Data | None:
    """Return a student's titres on a line, with the concordance span; None where there are none, or too many."""
    runs = [run for run in student["runs"] if run["titre"] is not None and run["kind"] != "blank"]
    results_agree = student["mean_titre"] is None and student["result"] is not None  # and not titres
    if not 1 <= len(runs) <= MOST_RUNS or results_agree:
        return None
    used = [float(run["titre"]) for run in runs if run["used"]]
    expected = None if student["expected_titre"] is None else float(student["expected_titre"])
    rest = [float(run["titre"]) for run in runs] + ([] if expected is None else [expected])
    # Room for a label is reckoned with the words that are drawn.
    spoken = Forms(language=practical["sheet"]["language"]).words
    axis = window(used or [sorted(rest)[len(rest) // 2]], rest, smallest=0.5, widest=4.0)
    return {
        "ticks": axis.ticks(),
        "marks": _titre_marks(runs, axis, lambda label: (2.8 if large else 1.7) * len(spoken(label))),
        "span": {"from": axis.place(min(used)), "to": axis.place(max(used))} if used else None,
        "span_label": _span_label(student, practical) if used else "",
        "expected": None if expected is None else axis.pointer(expected, _expected_label(student)),
        "alt": _line_alt(runs, student, practical),
    }


def _titre_marks(runs: Sequence[Tree], axis: Axis, width: Callable[[str], float]) -> list[Data]:
    """Return the marks on the line, equal titres of one use as one mark, on levels that do not overlap.

    width   of a label [mm]
    """
    together: dict[tuple[float, str], list[str]] = {}
    for run in runs:
        together.setdefault((float(run["titre"]), use_of(run)), []).append(run["label"])
    marks = [_titre_mark(titre, use, labels, axis, width) for (titre, use), labels in together.items()]
    marks.sort(key=lambda mark: (mark["from"], mark["x"], mark["label"]))
    for mark, level in zip(marks, levels([(mark["from"], mark["to"]) for mark in marks]), strict=True):
        mark["level"] = level
    return marks


def _titre_mark(titre: float, use: str, labels: Sequence[str], axis: Axis, width: Callable[[str], float]) -> Data:
    """Return one mark: its place, its label to the right (near the right edge to the left), and the room it takes."""
    side, x = axis.side(titre), axis.place(titre)
    label = ", ".join(labels) + (f" ({titre:.2f})" if side else "")
    bare, reach = 3.0 / LINE_WIDTH, (3.0 + width(label)) / LINE_WIDTH
    flip = x > 0.5 and x + reach > 1
    start, end = (x - reach, x + bare) if flip else (x - bare, x + reach)
    return {"x": x, "use": use, "label": label, "side": side, "flip": flip, "from": start, "to": end}


def _span_label(student: Tree, practical: Tree) -> str:
    span, limit = student["span"], fixed(practical["concordance"]["within"], 2)
    if span is None or sum(run["used"] for run in student["runs"]) < 2:
        return ""
    return f"{volume(span)} cm³ apart: {'concordant' if student['concordant'] else 'not concordant'} (limit {limit})"


def _line_alt(runs: Sequence[Tree], student: Tree, practical: Tree) -> str:
    names = ("rough" if run["label"].casefold() == "rough" else f"run {run['label']}" for run in runs)
    said = "; ".join(
        f"{name} {volume(run['titre'])}, {USES[use_of(run)]}" for name, run in zip(names, runs, strict=True)
    )
    span = _span_label(student, practical)
    return (
        f"Number line of your titres in cm³: {said}."
        + (f" The titres in the mean are {span}." if span else "")
        + (f" {begun(_expected_label(student))}." if student["expected_titre"] is not None else "")
    )


def _expected_label(student: Tree) -> str:
    whose = "middle of the class" if (student["reference"] or {}).get("from") == "class" else "reference"
    return f"the {whose} would give {volume(student['expected_titre'])}"


# The class.


def is_few(tree: Tree) -> bool:
    """Return whether there are so few results that a sheet must not depend on those of others."""
    return sum(student["result"] is not None for student in tree["students"]) < SMALLEST_STRIP


def class_strips(tree: Tree, name: str = "") -> dict[str, Data]:
    """Return a strip for each reference value (as text) that at least `SMALLEST_STRIP` students are held against.

    A strip holds what is the same for all of them: axis, nameless ticks, reference. It is drawn once for all. `name` is
    that of the result where there are several, and begins the key.
    """
    results: dict[str, list[float]] = {}
    references = {}
    for student in map(as_told, tree["students"]):
        reference = student["reference"]
        if student["result"] and reference:
            key = repr(float(reference["value"]))
            results.setdefault(key, []).append(float(student["result"]["value"]))
            references[key] = {**reference, "printed": student["printed"]["reference"]}
    enough = {key: sorted(values) for key, values in results.items() if len(values) >= SMALLEST_STRIP}
    same = ", compared with the same reference as you" if len(results) > 1 else ""
    return {
        f"{name} {key}".lstrip(): _class_strip(tree, values, references[key], same, name)
        for key, values in enough.items()
    }


def _class_strip(tree: Tree, results: Sequence[float], reference: Tree, same: str, name: str) -> Data:
    """Return the strip of a class by one result, without the place of any student."""
    axis = _strip_axis(tree, results, float(reference["value"]))
    held = "middle of the class" if reference.get("from") == "class" else "reference"
    unit = shown_unit(tree["practical"]["unit"])
    said = " in ".join(filter(None, (name, unit)))
    words = f"{held} {reference['printed']}"
    return {
        "low": axis.low,
        "high": axis.high,
        "title": f"You in the class: {len(results)} results" + same + (f", {said}" if said else ""),
        "ticks": axis.ticks(5 if name else 8),
        "others": _bars([axis.place(result) for result in results if not axis.side(result)]),
        "reference": _drawn(reference, axis, words),
        "alt": f"Strip of the {len(results)} results of the class{f' for {name}' if name else ''}, without names, "
        f"with the {words} {unit}.",
        # What is drawn on it.
        "key": "Thin lines: the results of the class, without names, longer where several are equal. "
        f"Shaded: the {held} with its uncertainty. The bar through your diamond is the uncertainty of your result."
        + _beyond(axis, results),
    }


def _drawn(reference: Tree, axis: Axis, words: str) -> Data:
    """Return where a reference is drawn, with the room that its uncertainty takes."""
    value, doubt = float(reference["value"]), float(reference.get("standard_uncertainty") or 0)
    room = {"from": axis.place(value - 2 * doubt), "to": axis.place(value + 2 * doubt)}
    return axis.pointer(value, words) | room | {"of_class": reference.get("from") == "class"}


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


def own_place(student: Tree, strips: Mapping[str, Data], name: str = "") -> Data | None:
    """Return the student's own mark on the strip of the same reference; None where there is no such strip."""
    own, reference = student["result"], student["reference"]
    key = f"{name} {float(reference['value'])!r}".lstrip() if reference else ""
    if not own or key not in strips:
        return None
    axis = Axis(strips[key]["low"], strips[key]["high"])
    value, half = float(own["value"]), float(own.get("expanded_uncertainty") or 0)
    words = f"{student['printed']['result']} {shown_unit(own['unit'])}".strip()
    spread = {"from": axis.place(value - half), "to": axis.place(value + half)}
    return {"strip": key, "alt": f"Your result is {words}."} | axis.pointer(value, f"you {words}") | spread
