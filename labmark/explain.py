"""Every mark of one student with what is behind it, from the folder alone: for a parent who asks, and a moderator."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from labmark.decisions.memory import RESULTS, load
from labmark.findings import runs_meant
from labmark.outputs import numbers
from labmark.outputs.decision_rows import behind_readings, listed, shown
from labmark.outputs.each import as_told, results_of, titres_of
from labmark.outputs.evidence import named
from labmark.outputs.folder import put_right
from labmark.outputs.own import all_own, unread
from labmark.outputs.own import shown as shown_mark
from labmark.problems import InputError, Problem
from labmark.units import shown_unit
from labmark.words import readable, run_called

Tree = Mapping[str, Any]
NEAR = 5
"""Names that are offered where there is no such student."""


def explained(folder: Path, name: str) -> str:
    """Return all that is behind a student's marks. Raises InputError where the folder or the student is not there."""
    put_right(folder)
    tree = load(folder)
    if tree is None:
        what = "no class was marked into this folder"
        raise InputError(Problem(what, "give the folder that labmark mark has written", str(folder)))
    one = _student(tree, readable(name), str(folder / RESULTS))
    head = f"{one['student']}: {tree['practical']['title']}"
    file = f"read from {tree['source']['file']} (SHA-256 {tree['source']['sha256']}), {tree['made_by']}"
    told = [[title, *(f"  {line}" for line in lines)] for title, lines in _parts(tree, one).items() if lines]
    return "\n\n".join("\n".join(lines) for lines in ([head, file], *told))


def _parts(tree: Tree, one: Tree) -> dict[str, list[str]]:
    """Return what is said of a student, under headings."""
    return {
        "Readings (cm³)": list(_readings(one)),
        "Own numbers": [all_own(one, tree["practical"])] if one["inputs"] else [],
        "Working": [f"{each['what']}: {each['numbers']} = {each['shown']}" for each in one["steps"]],
        "Mean and result": list(_results(tree, one)),
        "Marks": list(_marks(one)),
        "Findings": [_finding(each) for each in one["findings"]],
        "Decisions of the teacher": list(_decisions(tree, one)),
        "From the teacher": [one["comment"]] if one.get("comment") else [],
    }


def _student(tree: Tree, name: str, file: str) -> Tree:
    """Return the student of that name, in any case, or of that ID."""
    from difflib import get_close_matches

    wanted = " ".join(name.split()).casefold()
    named_so = [one for one in tree["students"] if " ".join(one["student"].split()).casefold() == wanted]
    found = named_so or [one for one in tree["students"] if one["about"].get("ID", "").casefold() == wanted]
    if len(found) == 1:
        return as_told(found[0])
    if found:
        raise InputError(Problem(f"{len(found)} students are called “{name:.40}”", "give the ID instead", file))
    near = get_close_matches(name, [one["student"] for one in tree["students"]], NEAR, 0.3)
    do = f"the nearest: {', '.join(near)}" if near else "write the name as it stands in the class sheet"
    raise InputError(Problem(f"nobody here is called “{name:.40}”", do, file))


def _readings(one: Tree) -> Iterator[str]:
    for run in one["runs"]:
        between = "".join(f" to {shown(value)}" for value in (run.get("readings") or {"": run["final"]}).values())
        used = "in the mean" if run["used"] else "not in the mean"
        parts = [f"titre {shown(run['titre'])}", f"{used}: {run['why']}", behind_readings(run)]
        cells = numbers.addresses(run["cells"].values())
        said_of_it = "; ".join(filter(None, parts))
        yield f"{run['label']}: {shown(run['initial'])}{between}, {said_of_it} [{cells}]"


def _results(tree: Tree, one: Tree) -> Iterator[str]:
    """Yield the student's means and results, each of several by its name, beside what was written."""
    for name, titre in titres_of(one).items():
        mean, written = titre["mean_titre"], titre["claimed"]["mean_titre"]
        written = unread(one, "mean_titre", name) or written
        if (mean, written) != (None, None):
            yield f"{_named('mean titre', name)} {shown(mean)} cm³; written {shown(written)}"
    for name, seen in results_of({**tree, "students": [one]}).items():
        (student,) = seen["students"]
        yield from _result(student, name)


def _result(one: Tree, name: str) -> Iterator[str]:
    claimed, result = one["claimed"], one["result"]
    if result:
        value, expanded = numbers.with_uncertainty(result["value"], result["expanded_uncertainty"])
        measured = value if expanded == numbers.NOTHING else f"{value} ± {expanded}"
        own = unread(one, "result", name) or shown(claimed["result"])
        written = f"{own} {shown_unit(claimed.get('unit', ''))}".rstrip()
        yield f"{_named('result', name)} {measured} {shown_unit(result['unit'])}; written {written}"
    if one["reference"]:
        off = "" if one["percent_error"] is None else f", {numbers.percent(float(one['percent_error']))} from it"
        reference = f"{one['reference']['value']} {shown_unit(one['reference']['unit'])}"
        yield f"{_named('reference', name)} {reference}{off}"


def _named(what: str, name: str) -> str:
    return f"{what} {name}".rstrip()


def _marks(one: Tree) -> Iterator[str]:
    for mark in one["marks"]:
        decided = "scheme_mark" in mark
        by = f" (teacher; the scheme alone: {shown(mark['scheme_mark'])})" if decided else ""
        cells = f" [{numbers.addresses(mark['cells'])}]" if mark["cells"] else ""
        yield f"{mark['title']}: {shown_mark(mark)}{by}: {mark['reason']}{cells}"
    grade = f", grade {one['grade']}" if one.get("grade") else ""
    yield f"total: {numbers.mark(one['total'])} of {numbers.mark(one['out_of'])}{grade}"
    if one.get("excused"):
        yield "excused by the teacher"


def _finding(finding: Tree) -> str:
    runs = ", ".join(map(run_called, runs_meant(finding["run"], finding["evidence"])))
    where = f" ({runs})" if runs else ""
    aside = ", set aside by the teacher" if finding.get("aside") else ""
    return f"{named(finding['finding'])}{where}{aside}: {finding['message']} [{numbers.addresses(finding['cells'])}]"


def _decisions(tree: Tree, one: Tree) -> Iterator[str]:
    """Yield what was decided about the student, and about the class; a private note is nobody else's."""
    theirs = [
        each for each in tree["decisions"] if each["what"] != "note" and each["student"] in (one["student"], None)
    ]
    for each in listed({**tree, "decisions": theirs}):
        yield f"{each['what']}: {each['was']} to {each['value']}: {each['standing']}"
