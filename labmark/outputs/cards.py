"""The first screen of the report: three cards that say whether to trust the class, who needs a look, what to teach.

Every sentence is made of the record tree; the figures behind it stand further down the page, where its card leads.
"""

from collections.abc import Callable
from typing import Any

from labmark import words
from labmark.findings import KINDS, is_private
from labmark.outputs import numbers
from labmark.outputs.each import reference_test, results_of
from labmark.outputs.evidence import named, sentence
from labmark.words import begun, group_name

Tree = dict[str, Any]
Said = tuple[str, str]
"""Level and sentence."""
Checks = tuple[str, str, str]
"""Level, sentence, and what to check first."""

TESTED: dict[str, Said] = {
    "agrees": ("note", "The class agrees with the reference"),
    "technique": ("note", "The class lies off the reference by no more than technique, a drop or three, explains"),
    "scattered": ("check", "The class is off the reference, and does not agree with itself well enough to judge it"),
    "too few": ("note", "There are too few results to judge the reference by"),
}
"""Outcome of the test of the reference -> level, what it means."""
UNTESTED: Said = ("note", "Nothing found here speaks against the reference")
MOST_NAMED = 8
"""Members of a group that are named; of more, two fewer."""
LESSON = {
    "recording": "Read one burette together, to half a division, and write two decimals.",
    "table": "Draw the table of readings before the first run, with a cell for each of them.",
    "titres": "Check each titre by adding it to its initial reading.",
    "concordance": "Show the last cubic centimetre drop by drop, and go on until enough titres agree.",
    "selection": "Ring the titres that agree before a mean is taken; the rough is never one of them.",
    "mean": "Check each mean: it lies between the smallest and the largest titre in it.",
    "calculation": "Work one result through on the board, a step to a line, with units and the mole ratio.",
    "figures": "Say to how many figures the result is asked for, and round once, at the end.",
    "accuracy": "Go through rinsing, filling and the endpoint once more at the bench.",
}
"""Criterion -> what to do in the next lesson where it is the weakest."""


# Trust?


def trust(tree: Tree) -> list[Checks]:
    """Return whether data and reference can be trusted, from the class findings, or else from the reference's test."""
    if not tree["class"]["results"]:
        return [("check", "No student has a result: there is nothing yet to compare a reference with.", "")]
    found = [each for each in tree["class"]["findings"] if each["finding"] in _DOUBTS]
    said = [(each["level"], _DOUBTS[each["finding"]](each, tree), _first_check(each, tree)) for each in found]
    return said or [(*_tested(tree), "")]


def _first_check(found: Tree, tree: Tree) -> str:
    """Return what to check first: of a group its own things, of the reference what its test lists first."""
    if found["finding"] == "group-shift":
        whose = found["evidence"]["group"]
        whose = whose[:1].lower() + whose[1:] if found["evidence"].get("places") else whose
        return f"The solutions and the glassware of {whose}."
    checks = [check for one in results_of(tree).values() for check in reference_test(one).get("checks") or ()]
    return sentence(checks[0]) if checks and found["finding"] == "reference-doubtful" else ""


def unread(tree: Tree) -> Said:
    """Return how many cells could not be used, and which."""
    cells = [each["cell"] for each in tree["cells"]["rejected_cells"]]
    if not cells:
        return "note", "Every cell could be used."
    more = f" and {len(cells) - 3} more" if len(cells) > 3 else ""
    return "check", f"{words.counted(len(cells), 'cell')} could not be used: {numbers.addresses(cells[:3])}{more}."


def _reference(found: Tree, tree: Tree) -> str:
    shift = found["evidence"].get("shift_percent")
    size = f"{numbers.fixed(abs(shift), 1)} % {'above' if shift > 0 else 'below'}" if shift else "away from"
    return f"The class agrees with itself{_of(found)}, {size} the reference: {_waits(tree['students'])}."


def _group(found: Tree, tree: Tree) -> str:
    evidence, members = found["evidence"], members_of(found, tree)
    names = [one["student"] for one in members]
    if len(names) > MOST_NAMED:
        names = [*names[: MOST_NAMED - 2], f"{len(names) - MOST_NAMED + 2} more"]
    shift = evidence.get("effect_percent") or 0.0
    size = f"{numbers.fixed(abs(shift), 1)} % {'high' if shift > 0 else 'low'}"
    return f"{evidence['group']} ({', '.join(names)}) is {size}{_of(found)}: {_waits(members)}."


def _drift(found: Tree, tree: Tree) -> str:
    size = numbers.percent(found["evidence"].get("first_to_last_percent"))
    return (
        f"Results move{_of(found)} by {size} from the first to the last in order of work: {_waits(tree['students'])}."
    )


_DOUBTS: dict[str, Callable[[Tree, Tree], str]] = {
    "practical-doubtful": lambda *_: (
        "Is this the right practical? The results do not follow by it, and the titres do not fit it."
    ),
    "reference-doubtful": _reference,
    "group-shift": _group,
    "drift": _drift,
}
"""Finding about the class that speaks against its results -> the sentence."""


def _of(found: Tree) -> str:
    """Return which of several results a finding is about."""
    return f" by {found['evidence']['result']}" if found["evidence"].get("result") else ""


def _waits(students: list[Tree]) -> str:
    waiting = sum(
        any(mark.get("pending") and mark["criterion"] == "accuracy" for mark in one["marks"]) for one in students
    )
    if not waiting:
        return "no mark waits for it"
    if waiting == sum(bool(one["marks"]) for one in students):
        return "their accuracy marks wait" if len(students) > 1 else "the accuracy mark waits"
    return words.counted(waiting, "accuracy mark waits", "accuracy marks wait")


def members_of(found: Tree, tree: Tree) -> list[Tree]:
    """Return the students that a finding about the class is about; none where it is about everybody."""
    evidence = found["evidence"]
    if found["finding"] == "group-shift":
        name = evidence.get("grouping") or ""
        if evidence.get("places"):
            return [tree["students"][place] for place in evidence["places"]]
        return [
            one
            for one in tree["students"]
            if name in one["groups"] and group_name(name, one["groups"][name]) == evidence["group"]
        ]
    if found["finding"] == "common-fault":
        had = [{each["finding"] for each in one["findings"] if each["level"] != "note"} for one in tree["students"]]
        return [one for one, codes in zip(tree["students"], had, strict=True) if evidence["finding"] in codes]
    return []


def _tested(tree: Tree) -> Said:
    """Return level and words of the test of the reference, of several the level of the worst and the words of all."""
    found = {
        name: TESTED.get(reference_test(one).get("verdict", ""), UNTESTED) for name, one in results_of(tree).items()
    }
    level = "check" if any(level == "check" for level, _ in found.values()) else "note"
    said = (f"{name}: {text[0].lower()}{text[1:]}" if name else text for name, (_, text) in found.items())
    return level, "; ".join(said) + "."


# Teach?


def commonest(tree: Tree, faults: list[Tree]) -> tuple[str, str] | None:
    """Return (what most students share, what to do in the next lesson); None where no two share a finding.

    `faults` are the findings that students share, most students first.
    """
    present = sum(not one["absent"] for one in tree["students"])
    counted = {row["code"]: len(row["students"]) for row in faults}
    for each in tree["class"]["findings"]:
        if each["finding"] == "common-fault":
            code = each["evidence"]["finding"]
            counted[code] = max(counted.get(code, 0), each["evidence"]["students"])
    shared = {code: number for code, number in counted.items() if number > 1 and not is_private(code)}
    if not shared:
        return None
    code = max(shared, key=lambda code: shared[code])
    return f"{named(code)}: {shared[code]} of {words.counted(present, 'student')}.", advice(tree, code)


def advice(tree: Tree, code: str) -> str:
    """Return what to do next time about a finding: the teacher's own words, the catalogue's, or those for the bench."""
    own = (tree["practical"].get("advice") or {}).get(code)
    bench = (row["tell"] for row in tree["class"]["looked_for"] if row["what"] == named(code))
    return str(own or (KINDS[code].advice if code in KINDS else "") or next(bench, ""))


def weakest(criteria: list[Tree]) -> tuple[str, str] | None:
    """Return (the criterion with the fewest full marks, what to do in the next lesson); None where all are full.

    `criteria` stand in that order already.
    """
    row = next((row for row in criteria if row["of"] and row["full"] < row["of"]), None)
    if row is None:
        return None
    full, mean = f"{row['full']} of {row['of']}", f"{numbers.mark(row['mean'])} of {numbers.mark(row['out_of'])}"
    return f"{begun(row['title'])}: {full} have full marks, mean {mean}.", LESSON.get(row["criterion"], "")
