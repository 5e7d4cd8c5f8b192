"""What the report says of each student: where they stand in the table, whether they are open, what is said once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from labmark.outputs import numbers
from labmark.outputs.cards import members_of
from labmark.outputs.decision_rows import corrections
from labmark.outputs.each import endpoints_of, seen_by_results
from labmark.outputs.evidence import sentence
from labmark.outputs.pending import BEING_CHECKED

Tree = dict[str, Any]
Usual = Mapping[tuple[bool, str], str]
"""In the mean, kind of run -> the reason that most such runs of the class have."""

LARGE = 100
"""Students from which a page with everything about each would be too heavy."""
FAR = 2.0
"""|z| from which a result is outside (ISO 13528: a warning signal)."""


def shown_rows(tree: Tree) -> list[Tree]:
    """Return every student as the report shows them."""
    usual, large = usual_reasons(tree), is_large(tree)
    concerned = {one["number"] for found in tree["class"]["findings"] for one in members_of(found, tree)}
    return [_shown(one, seen, usual, concerned, large) for one, seen in seen_by_results(tree)]


def is_large(tree: Tree) -> bool:
    """Return whether a class is so large that the report tells of each student what matters alone."""
    return len(tree["students"]) > LARGE


def _shown(one: Tree, seen: list[Tree], usual: Usual, concerned: set[int], large: bool) -> Tree:
    full = [mark for mark in one["marks"] if large and mark["mark"] == mark["out_of"] and mark["by"] != "teacher"]
    return {
        "kinds": _kinds(one, seen),
        "accuracy": accuracy_of(one),
        "asking": sum(found["level"] != "note" for found in one["findings"]),
        "open": bool(one["attention"]) or one["number"] in concerned,
        "readings": _readings(one, usual),
        "marks": [mark for mark in one["marks"] if mark not in full],
        # Criteria with full marks that are only named.
        "full": [mark["title"] for mark in full],
    }


def _kinds(one: Tree, seen: list[Tree]) -> list[str]:
    """Return the filters of the table that show a student."""
    settled = [mark for mark in one["marks"] if mark["mark"] is not None and not one.get("excused")]
    kinds = {
        "look": bool(one["attention"]),
        "lost": any(mark["mark"] < mark["out_of"] for mark in settled),
        "far": any(each["z"] is not None and abs(each["z"]) > FAR for each in seen),
    }
    return [kind for kind, is_so in kinds.items() if is_so]


def accuracy_of(one: Tree) -> str:
    """Return the accuracy mark: "3", or "0, by the class 3" while it waits."""
    marks = [mark for mark in one["marks"] if mark["criterion"] == "accuracy"]
    if any(mark.get("pending") for mark in marks):
        both = one["accuracy_by_reference"], one["accuracy_by_class"]
        return BEING_CHECKED if None in both else "{}, by the class {}".format(*map(numbers.mark, both))
    return ", ".join(numbers.mark(mark["mark"]) for mark in marks)


def usual_reasons(tree: Tree) -> dict[tuple[bool, str], str]:
    """Return the reason that most runs of a kind have for being in the mean, or not, where it is that of several."""
    counts: dict[tuple[bool, str], Counter[str]] = {}
    for run in (run for one in tree["students"] for run in one["runs"] if run["used"] or run["kind"] == "rough"):
        counts.setdefault((run["used"], run["kind"]), Counter())[run["why"]] += 1
    commonest = {key: found.most_common(1)[0] for key, found in counts.items()}
    return {key: why for key, (why, number) in commonest.items() if number > 1}


def _readings(one: Tree, usual: Usual) -> Tree:
    """Return which columns the table of a student's readings needs, and what is said once above it."""
    runs = one["runs"]
    ends = [end for run in runs for end in endpoints_of(run).values()]
    titres = any(end["claimed_titre"] not in (None, end["titre"]) for end in ends)
    ticked = any(run["claimed_used"] is not None for run in runs)
    ticks = ticked and any(bool(run["claimed_used"]) != run["used"] for run in runs)
    why = [_reason(run, usual) for run in runs]
    said = {
        "Every titre that was written follows from its readings.": not titres
        and any(end["claimed_titre"] is not None for end in ends),
        "The ticks are at the runs in the mean.": ticked and not ticks,
    }
    # A reason for each run, blank where it is the usual one; none where all are.
    shown = {"titres": titres, "ticks": ticks, "why": why if any(why) else []}
    return shown | {"said": [sentence for sentence, is_so in said.items() if is_so]}


def _reason(run: Tree, usual: Usual) -> str:
    """Return why a run is in the mean or not, where that is not the usual reason, and what may have been meant."""
    parts = ["" if usual.get((run["used"], run["kind"])) == run["why"] else run["why"], corrections(run)]
    meant = (
        f"Perhaps meant: {name} {numbers.volume(end['likely'])} (a suggestion, not used)".replace("  ", " ")
        for name, end in endpoints_of(run).items()
        if end["likely"] is not None
    )
    return " ".join(filter(None, map(sentence, (*parts, *meant))))
