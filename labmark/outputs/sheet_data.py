"""Turns a student's part of the record tree into what `templates/sheet.typ` draws.

Nothing is worked out here but layout: places on a line, digits shown, which words stand where. What comes out is plain
data (text, numbers, lists) that is handed to the template as JSON, so that no text of a class sheet is ever read as
markup. Another student's figures come in only as the nameless ticks of the class strip, in rising order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from labmark.outputs.class_strip import as_written, class_strips, own_place
from labmark.outputs.decision_rows import corrections
from labmark.outputs.numbers import NOTHING, fixed, mark, significant, volume
from labmark.outputs.own import own_words
from labmark.outputs.pending import shown, waiting
from labmark.outputs.strips import shortened
from labmark.outputs.titre_line import titre_line, use_of
from labmark.units import shown_unit

Data = dict[str, Any]
Tree = Mapping[str, Any]

MOST = {"runs": 16, "steps": 10, "causes": 4, "next": 4, "missing": 6, "groups": 5}
"""Rows of each list that one page can hold at a size that can be read; more of them is said, not shown."""
LONGEST = 28
"""Characters of a group or of the label of a run."""
SAFETY = "Follow the local risk assessment, the safety data sheets and the qualified person in charge."
MISSING = frozenset({"missing-reading", "not-a-number", "off-scale", "too-few-runs", "no-concordant-runs"})
"""Findings that say why there is no mean. No other finding is ever shown: `same-readings` is the teacher's alone."""


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
        "groups": _groups(student, practical),
        "state": _state(student),
        "summary": " ".join(filter(None, (feedback.get("summary") or _summary(student), feedback.get("well")))),
        "comment": student.get("comment", ""),
        "missing": _missing(student, feedback),
        "runs": [_run(run, own_words(student, practical, run["label"])) for run in runs[: MOST["runs"]]],
        "more_runs": max(0, len(runs) - MOST["runs"]),
        "written": any(_differs(run) for run in runs),
        "line": titre_line(student, practical, MOST["runs"]),
        "steps": list(student.get("steps") or ())[: MOST["steps"]],
        "claims": _claims(student, practical),
        "marks": [_mark(given) for given in student["marks"]],
        "total": mark(student["total"]) if student["out_of"] else None,
        "out_of": mark(student["out_of"]),
        "grade": student["grade"],
        "waiting": waiting(student),
        "causes": _causes(student, feedback),
        "next": list(feedback.get("next") or ())[: MOST["next"]] or _next(student),
        "strip": own_place(student, tree, group["strips"]),
    }


def _groups(student: Tree, practical: Tree) -> list[str]:
    named = [f"{kind} {entry}" for kind, entry in (student.get("groups") or {}).items()]
    named += own_words(student, practical)
    return [shortened(group, LONGEST) for group in named[: MOST["groups"]]]


# --- words -----------------------------------------------------------------------------------------------------------


def _state(student: Tree) -> str:
    """Return which page a student gets: "absent", "unusable" (readings, but no mean titre) or "marked"."""
    if student["absent"] or not student["runs"]:
        return "absent"
    return "unusable" if student["mean_titre"] is None and student["result"] is None else "marked"


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


def _run(run: Tree, own: list[str]) -> Data:
    return {
        "label": shortened(run["label"], LONGEST),
        "initial": volume(run["initial"]),
        "final": volume(run["final"]),
        "titre": volume(run["titre"]),
        "written": volume(run.get("claimed_titre")) if _differs(run) else "",
        "use": use_of(run),
        "why": "; ".join(filter(None, [*own, run.get("why"), corrections(run)])),
    }


def _differs(run: Tree) -> bool:
    written = run.get("claimed_titre")
    return written is not None and (run["titre"] is None or Decimal(str(written)) != Decimal(str(run["titre"])))


def _mark(given: Tree) -> Data:
    return {
        "criterion": given["title"][:1].upper() + given["title"][1:],
        "mark": shown(given),
        "reason": given.get("told") or given["reason"],
        "teacher": given["by"] == "teacher" and given["mark"] is not None,
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
        {"what": what, "own": _own(what, own, claimed), "given": shown, "unit": unit}
        for what, own, given, shown, unit in rows
        if own is not None or given is not None
    ]


def _own(what: str, own: Any, claimed: Tree) -> str:
    """Return what the student wrote, a result with its unit where that is of another quantity than asked for."""
    unit = claimed.get("unit", "") if what == "Result" else ""
    return "" if own is None else f"{as_written(own)} {shown_unit(unit)}".rstrip()


def _mean(student: Tree, claimed: Tree) -> str:
    """Return the mean titre with two decimals, or as many more as the student gave."""
    own = claimed.get("mean_titre")
    written = -int(own.as_tuple().exponent) if isinstance(own, Decimal) else 2
    return fixed(student["mean_titre"], min(4, max(2, written)))
