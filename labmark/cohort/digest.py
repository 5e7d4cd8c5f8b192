"""What of a class's record tree is kept when many classes are compared: figures, and a short row a student.

The tree of a class of 28 takes megabytes; its digest takes a few kilobytes and is plain data, so that it can be stored
and sent. Pure.
"""

from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labmark.cohort.technique import counts, technique
from labmark.findings import KINDS
from labmark.outputs.decision_rows import from_to, in_words

Tree = Mapping[str, Any]
NO_RESULT = 10
"""Doubt about a student without a result: as much as about the most urgent finding."""


_FIGURES = ("students", "absent", "results", "robust_mean", "robust_sd", "repeatability_sd", "reproducibility_sd")


def digest(tree: Tree, undecided: Tree | None = None) -> dict[str, Any]:
    """Return the digest of a class. `undecided` is its tree had the teacher decided nothing; None where so it is."""
    figures, practical = tree["class"], tree["practical"]
    asked = practical["results"] or [practical["result"] or {}]
    before = {} if undecided is None else {one["student"]: one for one in undecided["students"]}
    return {
        **{key: practical[key] for key in ("title", "equation")},
        # What is asked for, of which substance: with the equation it tells one practical from another.
        "quantity": [f"{one.get('quantity')} of {one.get('expressed_as') or one.get('of')}" for one in asked],
        "unit": practical["unit"],
        "progress": practical["sheet"]["progress"],
        "sha256": tree["source"]["sha256"],
        **{key: figures[key] for key in _FIGURES},
        "mean_percent": figures["marks"]["mean_percent"],
        **_references(tree),
        "cm3_per_percent": _cm3_per_percent(tree),
        "criteria": [_criterion(row) for row in figures["marks"]["by_criterion"]],
        "findings": _upheld(figures["findings"]),
        "shared": _shared(tree),
        "decisions": len(tree["decisions"]),
        "moved": _moved(tree, before),
        "people": [_person(one, before.get(one["student"])) for one in tree["students"]],
    }


def _references(tree: Tree) -> dict[str, Any]:
    """Return the value that the whole class is held against, None where it is the class's own, or several; and every
    value of the practical that somebody is held against, of all results."""
    reference = tree["reference"] or {}
    own = [one["reference"] for one in tree["students"] if one["reference"]]
    alike, several = {each["value"] for each in own}, (reference.get("results") or {}).values()
    return {
        "reference": float(alike.pop()) if len(alike) == 1 and reference.get("from") == "practical" else None,
        "references": sorted({float(one["value"]) for one in (*several, *own) if one and one.get("from") != "class"}),
    }


def _cm3_per_percent(tree: Tree) -> float | None:
    """Return what a per cent of the result is in titre [cm³]; None where no one titre says it."""
    test, titre = tree["class"]["statistics"]["reference_test"], tree["class"]["expected_titre"]
    if test is not None and test["shift_percent"]:
        return float(test["shift_titre"] / test["shift_percent"])
    return titre and float(titre) / 100


def _criterion(row: Tree) -> dict[str, Any]:
    share = 100 * float(row["mean"]) / float(row["out_of"]) if row["of"] and row["out_of"] else None
    return {"criterion": row["title"], "percent": share, "of": row["of"], "waiting": row["pending"]}


def _upheld(findings: Any) -> list[Tree]:
    return [each for each in findings if not each.get("aside")]


def _shared(tree: Tree) -> dict[str, int]:
    """Return code -> how many students have the finding; notes, and what is a question to a few, left out."""
    had = [{each["finding"] for each in one["findings"] if counts(each)} for one in tree["students"]]
    return dict(sorted(Counter(code for codes in had for code in codes).items()))


def _person(one: Tree, before: Tree | None) -> dict[str, Any]:
    """Return what a cohort needs of a student; `before` is the student before the teacher decided."""
    marked = bool(one["marks"]) and not one.get("excused")
    result = None if one["result"] is None else float(one["result"]["value"])
    held = one["reference"] or {}
    return {
        "student": one["student"],
        "ID": one["about"].get("ID"),
        "number": one["number"],
        "result": result,
        "reference": float(held["value"]) if held.get("from") == "practical" else None,
        "groups": one["groups"],
        "runs": _runs_behind(one) if result is not None else 0,
        "total": float(one["total"]) if marked else None,
        "out_of": float(one["out_of"]) if marked else None,
        # By how much decisions moved the marks, in per cent of what they are out of.
        "shift": 100 * float(_moved_by(one, before)) / float(one["out_of"]) if marked and one["out_of"] else None,
        "technique": technique(one),
        "doubt": _doubt(one),
        "why": (one["attention"] or {}).get("why"),
    }


def _runs_behind(one: Tree) -> int:
    """Return how many runs are behind the mean, of several titrations that of the first."""
    used = [run for run in one["runs"] if run["used"]]
    return sum(run.get("titration") == used[0].get("titration") for run in used)


def _doubt(one: Tree) -> float:
    """Return how much a student asks for a second look; 0 where nothing does."""
    if not one["attention"]:
        return 0
    urgent = [KINDS[each["finding"]].urgency for each in _upheld(one["findings"]) if each["finding"] in KINDS]
    return max([NO_RESULT] if one["result"] is None else urgent, default=1)


def _moved(tree: Tree, before: Mapping[str, Tree]) -> list[dict[str, Any]]:
    """Return the students whose marks the teacher's decisions moved, each with what was decided about them."""
    rows, say = [], in_words(tree["practical"])
    made_on_marks = [each for each in tree["decisions"] if each["what"] not in ("note", "comment")]
    for one in tree["students"]:
        by = _moved_by(one, before.get(one["student"]))
        if by:
            own = [each for each in made_on_marks if each["student"] in (one["student"], None)]
            whats = dict(sorted(Counter(each["what"] for each in own).items()))
            words = [say(each) if each["what"] == "aside" else f"{say(each)} ({from_to(each)})" for each in own]
            about = {"student": one["student"], "number": one["number"]}
            rows.append({**about, "by": float(by), "decisions": whats, "said": words})
    return rows


def _moved_by(one: Tree, before: Tree | None) -> Decimal:
    """Return by how many marks the decisions moved a student, over the criteria that the scheme had marked too."""
    if before is None or one.get("excused"):
        return Decimal(0)
    scheme = {(each["criterion"], each.get("result")): each["mark"] for each in before["marks"]}
    pairs = [(each["mark"], scheme.get((each["criterion"], each.get("result")))) for each in one["marks"]]
    return sum((Decimal(str(now)) - Decimal(str(then)) for now, then in pairs if None not in (now, then)), Decimal(0))
