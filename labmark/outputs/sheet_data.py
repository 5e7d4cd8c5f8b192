"""Turns a student's part of the record tree into what `templates/sheet.typ` draws.

Nothing is worked out here but layout: places on a line, digits shown, which words stand where. What comes out is plain
data (text, numbers, lists) that is handed to the template as JSON, so that no text of a class sheet is ever read as
markup. Another student's figures come in only as the nameless ticks of the class strip, in rising order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labmark.outputs.number_line import Axis, levels, window
from labmark.outputs.numbers import NOTHING, fixed, listed, significant, volume
from labmark.units import shown_unit

Data = dict[str, Any]
Tree = Mapping[str, Any]

SMALLEST_STRIP = 5
"""Results a class strip must have: with fewer a tick could be told to be somebody's. Common practice, no source."""
MOST = {"runs": 16, "steps": 9, "causes": 4, "next": 4, "missing": 6}
"""Rows of each list that one page can hold at a size that can be read; more of them is said, not shown."""
SAFETY = "Follow the local risk assessment, the safety data sheets and the qualified person in charge."
MISSING = frozenset({"missing-reading", "not-a-number", "off-scale", "too-few-runs", "no-concordant-runs"})
"""Findings that say why there is no mean. No other finding is ever shown: `same-readings` is the teacher's alone."""
CRITERIA = {
    "recording": "Recording",
    "table": "Table complete",
    "titres": "Titres",
    "concordance": "Concordance",
    "selection": "Choice of runs",
    "mean": "Mean titre",
    "calculation": "Calculation",
    "figures": "Significant figures",
    "accuracy": "Accuracy",
}
"""Criterion -> heading on the sheet."""
FINEST = 320
"""Places on the strip: results nearer than half a millimetre share a tick."""
LINE_WIDTH = 166.0
"""Width of the drawn lines [mm], as in the template: room for labels is reckoned with it."""


def class_data(tree: Tree) -> Data:
    """Return what all sheets of a class share."""
    practical = tree["practical"]
    return {
        "title": practical["title"],
        "cautions": _cautions(practical.get("cautions") or ()),
        "strips": class_strips(tree),
    }


def student_data(tree: Tree, index: int, group: Mapping[str, Any]) -> Data:
    """Return one student's sheet: everything that differs from sheet to sheet. `group` is the class data."""
    student, practical = tree["students"][index], tree["practical"]
    feedback = student.get("feedback") or {}
    runs = list(student["runs"])
    return {
        "name": student["student"],
        "title": f"{student['student']}: {practical['title']}",
        "number": student["number"],
        "groups": [f"{group} {value}" for group, value in (student.get("groups") or {}).items()],
        "state": _state(student),
        "summary": feedback.get("summary") or _summary(student),
        "missing": _missing(student, feedback),
        "runs": [_run(run) for run in runs[: MOST["runs"]]],
        "more_runs": max(0, len(runs) - MOST["runs"]),
        "written": any(_differs(run) for run in runs),
        "line": _titre_line(student, practical),
        "steps": list(student.get("steps") or ())[: MOST["steps"]],
        "claims": _claims(student, practical),
        "marks": [_mark(mark) for mark in student["marks"]],
        "total": _number(student["total"]) if student["marks"] else None,
        "out_of": _number(student["out_of"]) if student["marks"] else None,
        "causes": _causes(student, feedback),
        "next": list(feedback.get("next") or ())[: MOST["next"]] or _next(student),
        "strip": _own_place(student, tree, group["strips"]),
    }


# --- words -----------------------------------------------------------------------------------------------------------


def _state(student: Tree) -> str:
    """Return which page a student gets: "absent", "unusable" (readings, but no mean titre) or "marked"."""
    if student["absent"] or not student["runs"]:
        return "absent"
    return "unusable" if student["mean_titre"] is None else "marked"


def _summary(student: Tree) -> str:
    return {
        "absent": "There are no readings under your name in the class sheet, so nothing has been marked yet.",
        "unusable": "Your readings do not give a mean titre yet, so there is no result to show.",
        "marked": "This is what your readings give.",
    }[_state(student)]


def _next(student: Tree) -> list[str]:
    if _state(student) == "absent":
        return [
            "Ask your teacher when you can do the practical, or hand in the readings you have.",
            "If you did hand them in, say so: they may stand under another name or on another sheet.",
        ]
    if _state(student) == "unusable":
        return ["Look through your own notes with your teacher: a missing reading may still be there."]
    return []


def _missing(student: Tree, feedback: Tree) -> list[str]:
    """Return what a student without a mean titre lacks: the causes that are given, or else the findings' own words."""
    if _state(student) != "unusable":
        return []
    found = [one["message"] for one in student["findings"] if one["finding"] in MISSING]
    return list(feedback.get("causes") or found)[: MOST["missing"]]


def _causes(student: Tree, feedback: Tree) -> list[str]:
    return list(feedback.get("causes") or ())[: MOST["causes"]] if _state(student) == "marked" else []


def _cautions(cautions: Iterable[str]) -> list[str]:
    """Return the cautions at the foot, the deferral to those in charge among them once."""
    lines = [caution.strip() for caution in cautions]
    return lines if any("risk assessment" in line.casefold() for line in lines) else [*lines, SAFETY]


# --- readings and marks ----------------------------------------------------------------------------------------------


def _run(run: Tree) -> Data:
    return {
        "label": run["label"],
        "initial": volume(run["initial"]),
        "final": volume(run["final"]),
        "titre": volume(run["titre"]),
        "written": volume(run.get("claimed_titre")) if _differs(run) else "",
        "use": _use(run),
        "why": run.get("why") or "",
    }


def _use(run: Tree) -> str:
    """Return "used", "rough" or "out": which mark the run has in the table and on the line."""
    return "used" if run["used"] else "rough" if run["kind"] == "rough" else "out"


def _differs(run: Tree) -> bool:
    written = run.get("claimed_titre")
    return written is not None and (run["titre"] is None or Decimal(str(written)) != Decimal(str(run["titre"])))


def _mark(mark: Tree) -> Data:
    return {
        "criterion": CRITERIA.get(mark["criterion"], mark["criterion"]),
        "mark": _number(mark["mark"]),
        "out_of": _number(mark["out_of"]),
        "reason": mark["reason"],
        "teacher": mark["by"] == "teacher",
    }


def _claims(student: Tree, practical: Tree) -> list[Data]:
    """Return what the student wrote beside what the readings give; rows with nothing to say are left out."""
    claimed, result = student.get("claimed") or {}, student.get("result")
    unit = shown_unit(result["unit"] if result else practical["unit"])
    figures = practical["result"]["significant_figures"]
    rows = [
        ("Mean titre", claimed.get("mean_titre"), student["mean_titre"], _mean(student, claimed), "cm³"),
        ("Result", claimed.get("result"), result, significant(result["value"], figures) if result else NOTHING, unit),
    ]
    return [
        {"what": what, "own": _number(own), "given": shown, "unit": unit}
        for what, own, given, shown, unit in rows
        if own is not None or given is not None
    ]


def _mean(student: Tree, claimed: Tree) -> str:
    """Return the mean titre with two decimals, or as many more as the student gave."""
    own = claimed.get("mean_titre")
    written = -int(own.as_tuple().exponent) if isinstance(own, Decimal) else 2
    return fixed(student["mean_titre"], min(4, max(2, written)))


# --- drawings --------------------------------------------------------------------------------------------------------


def _titre_line(student: Tree, practical: Tree) -> Data | None:
    """Return the titres on a line, with the concordance span; None where there are none."""
    runs = [run for run in student["runs"][: MOST["runs"]] if run["titre"] is not None]
    if not runs:
        return None
    used = [float(run["titre"]) for run in runs if run["used"]]
    expected = None if student.get("expected_titre") is None else float(student["expected_titre"])
    rest = [float(run["titre"]) for run in runs] + ([] if expected is None else [expected])
    axis = window(used or [_middle(rest)], rest, smallest=0.5, widest=4.0)
    return {
        "ticks": _ticks(axis),
        "marks": _titre_marks(runs, axis),
        "span": {"from": axis.place(min(used)), "to": axis.place(max(used))} if used else None,
        "span_label": _span_label(student, practical) if used else "",
        "expected": None if expected is None else _pointer(axis, expected, volume(student["expected_titre"])),
        "alt": _line_alt(runs, student, practical),
    }


def _titre_marks(runs: Sequence[Tree], axis: Axis) -> list[Data]:
    """Return the marks on the line, equal titres of one use as one mark, on levels that do not overlap."""
    together: dict[tuple[float, str], list[str]] = {}
    for run in runs:
        together.setdefault((float(run["titre"]), _use(run)), []).append(run["label"])
    marks = [_titre_mark(titre, use, labels, axis) for (titre, use), labels in together.items()]
    marks.sort(key=lambda mark: (mark["from"], mark["x"], mark["label"]))
    for mark, level in zip(marks, levels([(mark["from"], mark["to"]) for mark in marks]), strict=True):
        mark["level"] = level
    return marks


def _titre_mark(titre: float, use: str, labels: Sequence[str], axis: Axis) -> Data:
    """Return one mark: its place, its label to the right (near the right edge to the left), and the room it takes."""
    side, x = axis.side(titre), axis.place(titre)
    label = ", ".join(labels) + (f" ({titre:.2f})" if side else "")
    flip = x > 0.5 and x + _room(label) > 1
    start, end = (x - _room(label), x + _room("")) if flip else (x - _room(""), x + _room(label))
    return {"x": x, "use": use, "label": label, "side": side, "flip": flip, "from": start, "to": end}


def _room(label: str) -> float:
    """Return how far a mark with a label reaches to the label's side, as a fraction of the line."""
    return (3.0 + 1.7 * len(label)) / LINE_WIDTH


def _span_label(student: Tree, practical: Tree) -> str:
    span, limit = student.get("span"), fixed(practical["concordance"]["within"], 2)
    if span is None:
        return ""
    if student["concordant"]:
        return f"{volume(span)} cm³ apart: concordant (limit {limit})"
    return f"{volume(span)} cm³ apart: not concordant (limit {limit})"


def _line_alt(runs: Sequence[Tree], student: Tree, practical: Tree) -> str:
    words = {"used": "in the mean", "rough": "rough, not in the mean", "out": "left out of the mean"}
    said = "; ".join(f"run {run['label']} {volume(run['titre'])}, {words[_use(run)]}" for run in runs)
    span = _span_label(student, practical)
    expected = student.get("expected_titre")
    return (
        f"Number line of your titres in cm³: {said}."
        + (f" The titres in the mean are {span}." if span else "")
        + (f" The reference would give {volume(expected)}." if expected is not None else "")
    )


def class_strips(tree: Tree) -> dict[str, Data]:
    """Return a strip for each reference value (as text) that at least `SMALLEST_STRIP` students are held against.

    A strip holds what is the same for all of them: axis, nameless ticks, reference. It is drawn once for all.
    """
    results: dict[str, list[float]] = {}
    references = {}
    for student in tree["students"]:
        reference = _reference(student, tree)
        if student.get("result") and reference is not None:
            key = repr(float(reference["value"]))
            results.setdefault(key, []).append(float(student["result"]["value"]))
            references[key] = reference
    enough = {key: sorted(values) for key, values in results.items() if len(values) >= SMALLEST_STRIP}
    return {key: _class_strip(tree, values, references[key]) for key, values in enough.items()}


def _class_strip(tree: Tree, results: Sequence[float], reference: Tree) -> Data:
    value, doubt = float(reference["value"]), float(reference.get("standard_uncertainty") or 0)
    axis = _strip_axis(tree, results, value)
    from_class = reference.get("from") == "class"
    held = "middle of the class" if from_class else "reference"
    figures, unit = tree["practical"]["result"]["significant_figures"], shown_unit(tree["practical"]["unit"])
    words = f"{held} {significant(value, figures + 1) if from_class else _number(reference['value'])}"
    return {
        "low": axis.low,
        "high": axis.high,
        "title": f"You in the class: {len(results)} results" + (f", {unit}" if unit else ""),
        "ticks": _ticks(axis),
        "others": _bars([axis.place(result) for result in results if not axis.side(result)]),
        "reference": _pointer(axis, value, words)
        | {"from": axis.place(value - 2 * doubt), "to": axis.place(value + 2 * doubt)},
        "alt": f"Strip of the {len(results)} results of the class, without names, with the {words} {unit}.",
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
    sigma = float(tree["class"].get("sigma") or 0) or abs(reference) / 100
    quarter = len(results) // 4
    core = [reference, *results[quarter : len(results) - quarter]]
    return window(core, results, smallest=6 * sigma, widest=max(12 * sigma, max(core) - min(core)))


def _own_place(student: Tree, tree: Tree, strips: Mapping[str, Data]) -> Data | None:
    """Return the student's own mark on the strip of the same reference; None where there is no such strip."""
    own, reference = student.get("result"), _reference(student, tree)
    key = repr(float(reference["value"])) if reference else ""
    if not own or key not in strips:
        return None
    axis = Axis(strips[key]["low"], strips[key]["high"])
    value, half = float(own["value"]), float(own.get("expanded_uncertainty") or 0)
    figures = tree["practical"]["result"]["significant_figures"]
    words = f"{significant(value, figures)} {shown_unit(own['unit'])}".strip()
    spread = {"from": axis.place(value - half), "to": axis.place(value + half)}
    return {"strip": key, "alt": f"Your result is {words}."} | _pointer(axis, value, f"you {words}") | spread


def _reference(student: Tree, tree: Tree) -> Tree | None:
    """Return the reference that the student is held against, or None."""
    reference: Tree | None = student.get("reference") or tree.get("reference")
    return reference if reference and reference.get("value") is not None else None


def _pointer(axis: Axis, value: float, label: str) -> Data:
    return {"x": axis.place(value), "side": axis.side(value), "label": label}


def _ticks(axis: Axis) -> list[Data]:
    return [{"x": place, "label": label} for place, label in axis.ticks()]


def _middle(values: Sequence[float]) -> float:
    return sorted(values)[len(values) // 2]


# --- digits ----------------------------------------------------------------------------------------------------------


def _number(value: Any) -> str:
    """Return a number as it was written: 3, 2.5, 0.0506; empty where there is none."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return f"{value:.0f}"
    return format(value if isinstance(value, Decimal) else Decimal(repr(value)), "f")
