"""What marking again would change in a folder: marks up and down, findings new and gone, decisions that fit no more."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from labmark.outputs import numbers
from labmark.outputs.decision_rows import from_to, in_words, standing, titled, upheld
from labmark.outputs.evidence import named
from labmark.outputs.rows import CLASS, about, given_marks

Tree = Mapping[str, Any]


def changes(before: Tree | None, after: Tree, folder: str) -> str:
    """Return what would change, the largest change of marks first; `before` is what the folder holds."""
    if before is None:
        return f"Nothing was marked into {folder} yet: all of it would be new. Nothing was written."
    then, now = upheld({"decisions": [], **before}), upheld(after)
    parts = {
        "Marks": _marks(then, now),
        "Findings": list(_findings(then, now)),
        "Decisions": list(_decisions(then, now)),
    }
    lines = [line for title, told in parts.items() if told for line in (title, *(f"  {each}" for each in told))]
    return "\n".join([*(lines or [f"Nothing would change in {folder}."]), "", "Nothing was written."])


def _pairs(then: Tree, now: Tree) -> Iterator[tuple[str, Tree | None, Tree | None]]:
    """Yield name, student as before and student as now; by ID where both have one."""
    by_id = {one["about"]["ID"]: one for one in then["students"] if one["about"].get("ID")}
    by_name = {one["student"]: one for one in then["students"]}
    met = set()
    for one in now["students"]:
        known = by_id.get(one["about"].get("ID")) or by_name.get(one["student"])
        met.add(None if known is None else known["student"])
        yield one["student"], known, one
    yield from ((name, one, None) for name, one in by_name.items() if name not in met)


def _marks(then: Tree, now: Tree) -> list[str]:
    """Return whose marks changed, the largest change first."""
    found = []
    for name, old, new in _pairs(then, now):
        if old is None or new is None:
            one, why = new or old or {}, "new" if old is None else "not in the class any more"
            found.append((1e9, f"{name}: {why}{f', {_of(one)}' if one['out_of'] else ''}"))
            continue
        if bool(new.get("excused")) != bool(old.get("excused")):
            why = "excused by the teacher" if new.get("excused") else "no longer excused"
            found.append((abs(float(new["total"]) - float(old["total"])), f"{name}: {_of(old)} to {_of(new)}: {why}"))
            continue
        if why := "; ".join(_changed(old, new)):
            by = float(new["total"]) - float(old["total"])
            change = f"{by:+g}".replace("-", numbers.MINUS)
            out_of = old["out_of"] != new["out_of"]
            totals = " to ".join(_of(each) if out_of else numbers.mark(each["total"]) for each in (old, new))
            found.append((abs(by), f"{name}: {change}, {totals}: {why}"))
    return [line for _, line in sorted(found, key=lambda each: -each[0])]


def _changed(old: Tree, new: Tree) -> Iterator[str]:
    """Yield how each mark of a student changes that does."""
    earlier, marks = given_marks(old), given_marks(new)
    for each in dict.fromkeys([*marks, *earlier]):
        if each not in marks or each not in earlier or _number(marks[each]) != _number(earlier[each]):
            yield _change(earlier.get(each), marks.get(each))


def _of(one: Tree) -> str:
    return f"{numbers.mark(one['total'])} of {numbers.mark(one['out_of'])}" if one["out_of"] else "out of nothing"


def _number(mark: Tree) -> float | None:
    return None if mark["mark"] is None else float(mark["mark"])


def _change(old: Tree | None, new: Tree | None) -> str:
    """Return how a mark changes, and why it is what it would be."""
    mark = new or old or {}
    numbered = (None if not each or each["mark"] is None else numbers.mark(each["mark"]) for each in (old, new))
    before, after = (each or numbers.NOTHING for each in numbered)
    why = f" ({mark['reason'].rstrip('.')})" if new else ""
    return f"{mark['title']} {before} to {after}{' by the teacher' if mark['by'] == 'teacher' else ''}{why}"


def _findings(then: Tree, now: Tree) -> Iterator[str]:
    """Yield the findings that are new, and those that are gone."""
    everybody = [*_pairs(then, now), (CLASS, then["class"], now["class"])]
    for name, old, new in everybody:
        found = ((one or {"findings": ()})["findings"] for one in (old, new))
        earlier, later = ({(each["finding"], each["run"], about(each)) for each in findings} for findings in found)
        for word, codes in (("new", later - earlier), ("gone", earlier - later)):
            for code, run, whose in sorted(codes, key=str):
                where = f" (run {run})" if run else f" ({titled(whose)})" if whose else ""
                yield f"{name}: {word}: {named(code)}{where}"


def _decisions(then: Tree, now: Tree) -> Iterator[str]:
    """Yield the decisions that are new, that are taken back, and that no longer fit."""
    whose = _today(then, now)
    earlier = {_key(each, whose(each)): each for each in then["decisions"]}
    later = {_key(each, each["student"]): each for each in now["decisions"]}
    what = in_words(now["practical"])
    there = {None, *(one["student"] for one in now["students"])}
    for key, each in later.items():
        who = each["student"] or CLASS
        if each["stale"]:
            yield f"{who}: {what(each)}: {standing(each, there)}"
        elif (earlier.get(key) or earlier.get((*key[:-1], None), {})).get("value") != each["value"]:
            yield f"{who}: {what(each)}: {from_to(each)}"
    # An earlier labmark decided about all findings of a code at once.
    for key, each in earlier.items():
        if key not in {*later, *((*other[:-1], None) for other in later)}:
            yield f"{each['student'] or CLASS}: {what(each)}: taken back"


def _today(then: Tree, now: Tree) -> Callable[[Tree], str | None]:
    """Return what tells the student of an earlier decision by the name of today: one may be renamed, or come back."""
    names = {old["student"]: name for name, old, new in _pairs(then, now) if old and new}
    by_id = {one["about"]["ID"]: one["student"] for one in now["students"] if one["about"].get("ID")}
    return lambda each: names.get(each["student"]) or by_id.get(each.get("ID")) or each["student"]


def _key(decision: Tree, student: str | None) -> tuple[Any, ...]:
    run = decision.get("run", decision.get("endpoint"))
    return student, decision["what"], decision["of"], run, decision.get("about")
