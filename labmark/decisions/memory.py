"""What the folder remembers of the run that wrote it: results.json, or what of it went into marks.xlsx.

A hidden sheet of marks.xlsx holds it packed, so that a workbook which was moved, or opened from a backup, is held
against what it was written from.
"""

import base64
import binascii
import json
import zlib
from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

from labmark.decisions.before import readings_of
from labmark.decisions.model import WHATS, Decision
from labmark.outputs.data import results_text
from labmark.outputs.own import standing
from labmark.outputs.rows import CLASS, about, criteria, given_marks, scheme_mark
from labmark.problems import InputError, Problem, Unusable
from labmark.read.files import load_bytes
from labmark.tree import FORMAT

Tree = dict[str, Any]
RESULTS = "results.json"
_STUDENT = {"student": str, "about": dict, "runs": list, "inputs": list, "findings": list, "marks": list}
_DECISION = dict.fromkeys(("student", "what", "of", "value", "was", "stale"), object)
_LARGEST = 200_000_000
"""Characters that a packed memory may come to."""


def load(folder: Path) -> Tree | None:
    """Return the record tree that results.json of a folder holds; None where there is none. Raises InputError."""
    path = folder / RESULTS
    if not path.exists():
        return None
    tree = _parsed(load_bytes(path))
    if tree is None:
        do = "put an unharmed copy in its place, or mark into another folder with --out"
        raise InputError(Problem("this is not what labmark wrote: it cannot be read", do, str(path)))
    check_format(tree, str(path))
    return tree


def check_format(tree: Tree, file: str) -> None:
    """Raise InputError where a newer labmark wrote the tree."""
    if tree["format"] != FORMAT:
        what = f"a newer labmark wrote it (format {tree['format']!s:.20}; this one knows {FORMAT})"
        raise InputError(Problem(what, "update labmark, or mark into another folder with --out", file))


def _parsed(data: bytes) -> Tree | None:
    try:
        tree = json.loads(data, parse_float=Decimal)
    except (ValueError, RecursionError):
        return None
    return tree if _holds(tree, {"format": object}) and (tree["format"] != FORMAT or _is_whole(tree)) else None


def _is_whole(tree: Tree) -> bool:
    """Return whether what decisions are held against is there: somebody may have edited the file."""
    parts = {"students": list, "decisions": list, "source": dict, "practical": dict, "class": dict}
    return (
        _holds(tree, parts)
        and _holds(tree["source"], {"file": str, "sha256": str})
        and _holds(tree["practical"], {"title": str, "equation": object, "burette": dict})
        and _holds(tree["class"], {"findings": list})
        and all(_holds(one, _STUDENT) for one in tree["students"])
        and all(_holds(each, _DECISION) and each["what"] in WHATS for each in tree["decisions"])
    )


def _holds(table: object, kinds: Mapping[str, type]) -> bool:
    return isinstance(table, dict) and all(key in table and isinstance(table[key], of) for key, of in kinds.items())


def packed(tree: Mapping[str, Any]) -> str:
    """Return what there is to remember of a tree in letters that every spreadsheet program leaves alone."""
    text = results_text(_remembered(tree)).encode()
    return base64.b64encode(zlib.compress(text, 9)).decode()


def unpacked(text: str) -> Tree | None:
    """Return the tree that was packed; None where the text was changed."""
    try:
        inside = zlib.decompressobj().decompress(base64.b64decode(text, validate=True), _LARGEST)
    except (binascii.Error, zlib.error, ValueError):
        return None
    return _parsed(inside)


def _remembered(tree: Mapping[str, Any]) -> Tree:
    practical, source = tree["practical"], tree["source"]
    return {
        **_some(tree, ("format", "made_by", "reference")),
        "practical": {key: part for key, part in practical.items() if key != "cautions"},
        "source": _some(source, ("file", "sha256", "practical_sha256")),
        "students": [_student(each) for each in tree["students"]],
        "class": {"findings": [_some(each, ("finding", "run", "evidence")) for each in tree["class"]["findings"]]},
        "decisions": list(tree.get("decisions") or ()),
    }


def _student(one: Mapping[str, Any]) -> Tree:
    runs = ("label", "kind", "initial", "final", "claimed_titre", "used", "readings", "initials")
    before = ("written_initial", "written_final", "written_readings")
    marks = ("criterion", "result", "title", "mark", "out_of", "by", "scheme_mark")
    inputs = ("name", "value", "run", "written_value")
    return {
        **_some(one, ("student", "number")),
        "about": _some(one["about"], ("ID",)),
        "runs": [_some(each, (*runs, *before)) for each in one["runs"]],
        "inputs": [_some(each, inputs) for each in one["inputs"]],
        "marks": [_some(each, marks) for each in one["marks"]],
        "findings": [_some(each, ("finding", "run")) for each in one["findings"]],
    }


def _some(tree: Mapping[str, Any], keys: Iterable[str]) -> Tree:
    return {key: tree[key] for key in keys if key in tree}


def written(record: Mapping[str, Any], which: str) -> Any:
    """Return a reading (or the value of an input) as the class sheet has it."""
    return record[f"written_{which}"] if f"written_{which}" in record else record[which]


def as_read(run: Mapping[str, Any]) -> str:
    """Return the readings of a run as the class sheet had them."""
    ends = {**(run.get("readings") or {"": written(run, "final")}), **run.get("written_readings", {})}
    course = [[written(run, "initial")]]
    for name, end in ends.items():
        if name in run.get("initials", {}):
            course.append([run["initials"][name]])
        course[-1].append(end)
    return readings_of(course, run["claimed_titre"])


def known_as(one: Mapping[str, Any]) -> str:
    """Return a student's ID; empty where there is none."""
    return str(one["about"].get("ID", ""))


def by_id(students: Iterable[Tree]) -> dict[str, Tree]:
    """Return ID -> student, of the IDs that one student alone has."""
    found: dict[str, list[Tree]] = {}
    for one in students:
        found.setdefault(known_as(one), []).append(one)
    return {known: people[0] for known, people in found.items() if known and len(people) == 1}


class MadeOn(NamedTuple):
    """What stood where something is decided."""

    was: Any
    on: str | None = None
    """Readings of the run."""
    most: Decimal | None = None
    """Limit of a new value."""


def made_on(tree: Mapping[str, Any], one: Mapping[str, Any] | None, aim: Decision, words: Mapping[str, str]) -> MadeOn:
    """Return what stood where something is decided.

    tree   what the workbook was written from
    one    the student; None where the workbook was written without such a one
    words  what the row says
    Raises Unusable where there was nothing of the kind.
    """
    if one is None and words.get("student", CLASS) != CLASS:
        raise Unusable(f"nobody called “{words['student']:.40}” was marked here", "correct the name, or clear the cell")
    if aim.what == "mark":
        given = given_marks(one) if one else {}
        most = next(out_of for name, _, out_of in criteria(tree) if name == aim.of)
        return MadeOn(scheme_mark(given[aim.of]) if aim.of in given else None, most=Decimal(str(most)))
    if aim.what == "aside":
        findings = tree["class"]["findings"] if one is None else one["findings"]
        there = [each for each in findings if (each["finding"], each["run"]) == (aim.of, aim.run)]
        if not any(aim.about in (None, about(each)) for each in there):
            raise Unusable(f"there is no such finding ({aim.of or 'blank'})", "correct it, or clear the cell")
    if aim.what in ("use", "initial", "final", "reading") and one is not None:
        return _run_made_on(tree, one, aim)
    if aim.what == "input" and one is not None:
        return MadeOn(_input_made_on(one, aim, tree["practical"]))
    if aim.what == "reference":
        return MadeOn(_reference_made_on(tree, aim))
    return MadeOn(False if aim.what in ("excused", "aside") else None)


def _run_made_on(tree: Mapping[str, Any], one: Mapping[str, Any], aim: Decision) -> MadeOn:
    run = next((each for each in one["runs"] if each["label"] == aim.of), None)
    if run is None:
        raise Unusable(f"{one['student']} has no run {aim.of or 'without a name'}", "correct Run, or clear the cell")
    if run["kind"] == "blank":
        raise Unusable("this is a blank", "say on the sheet Inputs what the blank titre is")
    if aim.endpoint is not None:
        read = {**(run.get("readings") or {}), **(run.get("written_readings") or {})}
        run = {**run, "reading": read.get(aim.endpoint)}
    if aim.what != "use":
        return MadeOn(written(run, aim.what), most=Decimal(str(tree["practical"]["burette"]["capacity"])))
    return MadeOn(run["used"], as_read(run))


def _input_made_on(one: Mapping[str, Any], aim: Decision, practical: Mapping[str, Any]) -> Any:
    for each in one["inputs"]:
        if (each["name"], each["run"]) == (aim.of, aim.run):
            return written(each, "value")
    for each in one["findings"]:
        if each["finding"] == "missing-input" and each["run"] == aim.run:
            return None
    if aim.run is None and str(aim.of) in standing(one, practical):
        return None
    raise Unusable("there is no such number", "correct Run and Input, or clear the cell")


def _reference_made_on(tree: Mapping[str, Any], aim: Decision) -> Any:
    prior = (each for each in tree["decisions"] if each["what"] == "reference" and each["of"] == aim.of)
    for each in prior:
        return each["was"]
    given = tree["practical"].get("reference") or {}
    values = {None: given.get("value"), **(given.get("values") or {})}
    if tree["practical"].get("results"):
        values = {each["name"]: (each["reference"] or {}).get("value") for each in tree["practical"]["results"]}
    if aim.of not in values:
        raise Unusable(f"the practical has no reference “{aim.of or ''}”", "clear the cell")
    value = values[aim.of]
    return value if isinstance(value, (int, Decimal)) else None
