"""A student's own numbers ("Mass 1.423 g") and marks that wait ("being checked (3)"), worded alike everywhere."""

from collections.abc import Iterator, Mapping
from typing import Any

from labmark.outputs import numbers
from labmark.practical.own import BLANK_TITRE
from labmark.units import shown_unit
from labmark.words import run_called, shortened

Tree = Mapping[str, Any]
BLANK = "Blank titre"
"""What a blank is called that has no column: of blank runs, or by groups."""
BEING_CHECKED = "being checked"
LONGEST = 22
"""Characters of a heading beside its number."""


def own_result(student: Tree) -> Any:
    """Return the result that a student wrote; in words where its unit is of another quantity than asked for."""
    claimed = student["claimed"]
    return f"{claimed['result']} {shown_unit(claimed['unit'])}" if claimed.get("unit") else claimed["result"]


def unread(student: Tree, answer: str, name: str, longest: int = 60) -> str:
    """Return what a student wrote for an answer (mean_titre, result) that cannot be read, quoted; empty for others."""
    text = student["claimed"].get("unread", {}).get(answer, {}).get(name)
    return f"“{shortened(text, longest)}”" if text else ""


def heading(given: Tree, practical: Tree) -> str:
    """Return what a number of the students' own is called: its column, or else its key."""
    return called(given["name"], given_for(practical, given["name"]))


def given_for(practical: Tree, key: str) -> Tree:
    """Return what a practical says for a number, by its key."""
    said: Any = practical
    for part in key.split("."):
        said = said.get(part, {})
    return said if isinstance(said, Mapping) else {}


def called(key: str, said: Tree) -> str:
    """Return the heading of a number; one weighed by difference stands in neither of its two columns."""
    column = None if said.get("minus") else said.get("column")
    return str(column or (BLANK if key == BLANK_TITRE else key.rpartition(".")[2].capitalize()))


def keys_by_heading(practical: Tree, path: str = "") -> dict[str, str]:
    """Return what each number of the students' own is called -> its key, as in sample.mass."""
    found: dict[str, str] = {}
    for name, part in practical.items():
        key = f"{path}.{name}".lstrip(".")
        if isinstance(part, Mapping) and (
            part.get("column") or (part.get("by") and "standard_uncertainty" not in part)
        ):
            # Of a difference the first column too: a missing number is known by it.
            found |= {called(key, part): key, str(part.get("column") or called(key, part)): key}
        elif isinstance(part, Mapping):
            found |= {BLANK: BLANK_TITRE} if key == "blank" and part.get("runs") else keys_by_heading(part, key)
    return found


def standing(student: Tree, practical: Tree) -> Iterator[str]:
    """Yield the keys of numbers that a student has not, where the practical gives one for those who have none."""
    there = {each["name"] for each in student["inputs"]}
    keys = dict.fromkeys(keys_by_heading(practical).values()) if student["runs"] else ()
    yield from (key for key in keys if key not in there and given_for(practical, key).get("default") is not None)


def own_words(student: Tree, practical: Tree, run: str | None = None) -> list[str]:
    """Return a student's own numbers (with `run` of a run) in words."""
    return [
        f"{shortened(heading(each, practical), LONGEST)} {each['value']} {shown_unit(each['unit'])}".strip()
        for each in student["inputs"]
        if each["run"] == run
    ]


def all_own(student: Tree, practical: Tree) -> str:
    """Return all own numbers of a student in words: "Mass 1.423 g", "rough: Mass 0.51 g; run 1: Mass 0.5105 g"."""
    runs = dict.fromkeys(each["run"] for each in student["inputs"])
    parts = [(run, ", ".join(own_words(student, practical, run))) for run in runs]
    return "; ".join(words if run is None else f"{run_called(run)}: {words}" for run, words in parts)


def waiting(student: Tree) -> str:
    """Return which of a student's marks wait: "accuracy (3), Tidy bench (2)"; empty where none does."""
    waits = (mark for mark in student["marks"] if mark.get("pending"))
    return ", ".join(f"{mark['title']} ({numbers.mark(mark['out_of'])})" for mark in waits)


def shown(mark: Tree) -> str:
    """Return a mark with what it is out of: "2 / 3", "being checked (3)", or "–" where there was nothing to mark."""
    if mark.get("pending"):
        return f"{BEING_CHECKED} ({numbers.mark(mark['out_of'])})"
    return numbers.NOTHING if mark["mark"] is None else f"{numbers.mark(mark['mark'])} / {numbers.mark(mark['out_of'])}"
