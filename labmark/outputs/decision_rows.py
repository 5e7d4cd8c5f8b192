"""The teacher's decisions in words, for marks.xlsx and the report: each of them, and how to make one."""

from collections.abc import Callable, Container, Mapping
from decimal import Decimal
from functools import partial
from typing import Any

from labmark import words
from labmark.findings import KINDS
from labmark.outputs import numbers
from labmark.outputs.own import called, given_for
from labmark.outputs.rows import CLASS, CLOSED, Column, Sheet, criterion_of, yes

Tree = Mapping[str, Any]

STANDS = "stands"
APPLIED = "applied, but look again: what it was made on has changed, or is gone"
NOT_APPLIED = "not applied: what it was made on has changed, or is gone"
KEPT = "kept: nobody of that name is in the class any more"
BEFORE = frozenset({"use", "initial", "final", "reading", "input", "reference"})
"""What is applied before judging; where it is stale it is not applied."""

HOW = "How to decide"
_HOW = (
    ("Marks", "accuracy /3, and so on", "another mark, as in 2", "Your mark counts; the scheme’s is shown beside it."),
    ("Marks", "Excused", "yes", "Nothing is counted: not marked, rather than given 0."),
    ("Marks", "Comment", "words, as in Well recorded.", "Printed on the student’s sheet."),
    ("Marks", "Private note", "words, as in Ask about bench 3.", "For you alone: on no sheet and in no report."),
    ("Runs", "Use", "yes or no", "The run goes into the mean, or is left out of it."),
    ("Runs", "Initial is, Final is", "the reading, as in 24.40", "What the burette showed; the rest follows from it."),
    ("Findings", "Aside", "yes", "The finding is not accepted: it is taken off the sheet and out of the report."),
    ("Inputs", "Is", "the number, as in 1.423", "What a number of the student’s own really was."),
    ("Class", "Reference is", "the value, as in 0.1012", "Another reference: for everybody, or for one bottle."),
    ("Decisions", "Take back", "yes", "The decision is taken back, also on somebody or something that is gone."),
)


def decisions_sheet(tree: Tree) -> Sheet:
    """Return every decision, a line each, those to be looked at again first."""
    columns = {
        "number": Column("Number"),
        "student": Column("Student", "text"),
        "what": Column("Decided", "text", widest=40),
        "was": Column("From", "text", widest=40),
        "value": Column("To", "text", widest=62),
        "standing": Column("Does it stand?", "long", widest=44),
        "key": Column("Key", "first"),
        "back": Column("Take back", "choice", choices=("yes",)),
    }
    nothing = {"student": CLASS, "what": "nothing", "standing": "Nothing has been decided yet.", "back": CLOSED}
    return Sheet.of("Decisions", columns, listed(tree) or [nothing])


def listed(tree: Tree) -> list[dict[str, Any]]:
    """Return every decision in words, those to be looked at again first."""
    number, say = {one["student"]: one["number"] for one in tree["students"]}, in_words(tree["practical"])
    return [
        {
            "number": number.get(each["student"]),
            "student": each["student"] or CLASS,
            "what": say(each),
            "was": shown(each["was"]),
            "value": made(each),
            "stale": each["stale"],
            "standing": standing(each, {None, *number}),
            "key": told_apart(each),
        }
        for each in sorted(tree["decisions"], key=lambda each: not each["stale"])
    ]


def moderation(tree: Tree) -> list[dict[str, Any]]:
    """Return a row for each criterion on which the teacher decided: how many, up, down, by how much, or by hand."""
    rows: dict[str, dict[str, Any]] = {}
    for mark in (mark for one in tree["students"] if not one.get("excused") for mark in one["marks"]):
        if "scheme_mark" in mark and mark["mark"] is not None:
            new = {"title": mark["title"], "up": 0, "down": 0, "open": 0, "sum": 0}
            row, scheme = rows.setdefault(mark["criterion"], new), mark["scheme_mark"]
            way = "open" if scheme is None else "up" if mark["mark"] > scheme else "down"
            row[way] += mark["mark"] != scheme
            row["sum"] += 0 if scheme is None else Decimal(str(mark["mark"])) - Decimal(str(scheme))
    return [row | {"sum": f"{row['sum']:+g}".replace("-", numbers.MINUS)} for row in rows.values()]


def in_words(practical: Tree) -> Callable[[Tree], str]:
    """Return how a decision is said where this is the practical."""
    titles = {criterion_of(each): each["title"] for each in practical.get("marks") or () if each.get("title")}
    return partial(said, given=partial(given_for, practical), titles=titles)


def said(decision: Tree, given: Callable[[str], Tree], titles: Mapping[str, str]) -> str:
    """Return what a decision is about, in words: "final reading of run 1", "Mass of run 2".

    `given` returns what the practical says for a number of their own, by its key; `titles` are those of criteria.
    """
    of, run, about = decision["of"] or "", decision.get("run"), decision.get("about", "")
    of = called(of, given(of)) if decision["what"] == "input" else of
    return {
        "mark": f"mark for {titles.get(of, of)}",
        "note": "private note",
        "use": f"use{words.of_run(of)}",
        "initial": f"initial reading{words.of_run(of)}",
        "final": f"final reading{words.of_run(of)}",
        "reading": f"{decision.get('endpoint')} reading{words.of_run(of)}",
        "input": f"{of}{words.of_run(run)}",
        "aside": f"{titled(of)}{words.of_run(run)}{about and f' ({titled(about)})'} set aside",
        "reference": f"reference {of}".strip(),
    }.get(decision["what"]) or str(decision["what"])


def told_apart(decision: Tree) -> str:
    """Return what tells a decision from all others on a student, in the same words for ever."""
    parts = (decision["what"], decision["of"], *(decision.get(key) for key in ("run", "endpoint", "about")))
    return " / ".join(str(part) for part in parts if part)


def titled(code: str) -> str:
    """Return the few words for a finding within a sentence; a group, or a code that is not known, as it is."""
    return KINDS[code].title.lower() if code in KINDS else code


def made(decision: Tree) -> str:
    """Return what was decided; a run may be taken in, or left out, that is so already."""
    value, same = shown(decision["value"]), decision["what"] == "use" and decision["value"] == decision["was"]
    return f"still {value}" if same else value


def from_to(decision: Tree) -> str:
    """Return what was, and what was decided: "yes to no"."""
    return f"{shown(decision['was'])} to {made(decision)}"


def shown(value: Any) -> str:
    """Return a value of a decision as people read it."""
    if isinstance(value, bool):
        return yes(value) or ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    return numbers.NOTHING if value is None else str(value)


def upheld(tree: Tree) -> dict[str, Any]:
    """Return a record tree for others than the teacher's own workbook: without findings set aside and private notes."""

    def kept(record: Tree) -> dict[str, Any]:
        return {**record, "findings": [each for each in record["findings"] if not each.get("aside")]}

    students = [kept(one) for one in tree["students"]]
    decisions = [each for each in tree["decisions"] if each["what"] != "note"]
    return {**tree, "students": students, "class": kept(tree["class"]), "decisions": decisions}


def behind_readings(run: Tree) -> str:
    """Return what the readings of a run do not say: where the burette was filled again, and what the teacher corrected.

    Empty where there is nothing to say.
    """
    parts = words.listed([f"{start} to {end}" for start, end in run.get("parts", ())])
    return "; ".join(filter(None, [f"filled again: {parts}" if parts else "", _corrections(run)]))


def _corrections(run: Tree) -> str:
    written = {which: run[f"written_{which}"] for which in ("initial", "final") if f"written_{which}" in run}
    return "; ".join(
        f"{which} reading corrected by the teacher ({'blank' if value is None else value} as written)"
        for which, value in {**written, **run.get("written_readings", {})}.items()
    )


def standing(decision: Tree, there: Container[str | None]) -> str:
    """Return whether a decision stands; `there` are the students of the class, and None for the class itself."""
    if not decision["stale"]:
        return STANDS
    if decision["student"] not in there:
        return KEPT
    return NOT_APPLIED if decision["what"] in BEFORE else APPLIED


def legend_sheet() -> Sheet:
    """Return what each of the teacher's cells does, with an example."""
    columns = (
        Column("Sheet", "text"),
        Column("Column", "text", widest=34),
        Column("Write", "text", widest=34),
        Column("What it does", "long", widest=70),
    )
    how = (
        HOW,
        "the framed yellow cells",
        "type, save, mark again",
        "Write into framed yellow cells only, close the file, and run labmark mark again with the same folder. "
        "Clearing a cell takes the decision back. Sort, filter, colour and add columns or sheets as you like: they "
        "stay. The sheets are protected, without a password, so that nothing is changed by accident.",
    )
    return Sheet("Legend", columns, (how, *_HOW))
