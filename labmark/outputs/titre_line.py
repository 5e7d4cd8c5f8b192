"""A student's titres on a line: which are in the mean, how far apart they lie, and what the reference would give."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from labmark.outputs.forms import Forms
from labmark.outputs.number_line import Axis, levels, window
from labmark.outputs.numbers import fixed, volume

Data = dict[str, Any]
Tree = Mapping[str, Any]

LINE_WIDTH = 164.0
"""Width of the drawn lines [mm], as in the template: room for labels is reckoned with it."""
MOST_RUNS = 16
"""Runs that can be told apart on the line."""
USES = {"used": "in the mean", "rough": "not in the mean", "out": "left out of the mean"}
"""Use of a run -> what is said of it where the line is read out."""


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
    expected = None if student.get("expected_titre") is None else float(student["expected_titre"])
    rest = [float(run["titre"]) for run in runs] + ([] if expected is None else [expected])
    # Room for a label is reckoned with the words that are drawn.
    spoken = Forms(language=(practical.get("sheet") or {}).get("language", "en")).words
    axis = window(used or [sorted(rest)[len(rest) // 2]], rest, smallest=0.5, widest=4.0)
    return {
        "ticks": axis.ticks(),
        "marks": _titre_marks(runs, axis, 2.8 if large else 1.7, spoken),
        "span": {"from": axis.place(min(used)), "to": axis.place(max(used))} if used else None,
        "span_label": _span_label(student, practical) if used else "",
        "expected": None if expected is None else axis.pointer(expected, volume(student["expected_titre"])),
        "alt": _line_alt(runs, student, practical),
    }


def _titre_marks(runs: Sequence[Tree], axis: Axis, letter: float, spoken: Callable[[str], str]) -> list[Data]:
    """Return the marks on the line, equal titres of one use as one mark, on levels that do not overlap.

    letter   width of one on a label [mm]
    """
    together: dict[tuple[float, str], list[str]] = {}
    for run in runs:
        together.setdefault((float(run["titre"]), use_of(run)), []).append(run["label"])
    marks = [_titre_mark(titre, use, labels, axis, letter, spoken) for (titre, use), labels in together.items()]
    marks.sort(key=lambda mark: (mark["from"], mark["x"], mark["label"]))
    for mark, level in zip(marks, levels([(mark["from"], mark["to"]) for mark in marks]), strict=True):
        mark["level"] = level
    return marks


def _titre_mark(
    titre: float, use: str, labels: Sequence[str], axis: Axis, letter: float, spoken: Callable[[str], str]
) -> Data:
    """Return one mark: its place, its label to the right (near the right edge to the left), and the room it takes."""
    side, x = axis.side(titre), axis.place(titre)
    label = ", ".join(labels) + (f" ({titre:.2f})" if side else "")
    bare, reach = 3.0 / LINE_WIDTH, (3.0 + letter * len(spoken(label))) / LINE_WIDTH
    flip = x > 0.5 and x + reach > 1
    start, end = (x - reach, x + bare) if flip else (x - bare, x + reach)
    return {"x": x, "use": use, "label": label, "side": side, "flip": flip, "from": start, "to": end}


def _span_label(student: Tree, practical: Tree) -> str:
    span, limit = student.get("span"), fixed(practical["concordance"]["within"], 2)
    if span is None or sum(run["used"] for run in student["runs"]) < 2:
        return ""
    return f"{volume(span)} cm³ apart: {'concordant' if student['concordant'] else 'not concordant'} (limit {limit})"


def _line_alt(runs: Sequence[Tree], student: Tree, practical: Tree) -> str:
    names = ("rough" if run["label"].casefold() == "rough" else f"run {run['label']}" for run in runs)
    said = "; ".join(
        f"{name} {volume(run['titre'])}, {USES[use_of(run)]}" for name, run in zip(names, runs, strict=True)
    )
    span = _span_label(student, practical)
    expected = student.get("expected_titre")
    return (
        f"Number line of your titres in cm³: {said}."
        + (f" The titres in the mean are {span}." if span else "")
        + (f" The reference would give {volume(expected)}." if expected is not None else "")
    )
