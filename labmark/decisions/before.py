"""Decisions about what was written down: readings, own numbers, which runs count, the reference.

What a decision was made on is held against the class sheet as it is now: where that has changed, or is gone, the
decision is stale, and is not applied.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from labmark.decisions.model import Decision
from labmark.outputs.decision_rows import BEFORE
from labmark.practical import Practical
from labmark.practical.load import practical_with
from labmark.practical.model import Reference
from labmark.practical.own import REFERENCE
from labmark.problems import Problem, raise_any
from labmark.records import ClassSheet, OwnInput, filled_between
from labmark.volumes import microlitres, places_in, shown

_OTHER = {"initial": (0, 0), "final": (-1, 1)}
"""Reading -> which of the parts of a refilled run it stands in, and where there."""


def standing(decision: Decision, sheet: ClassSheet, practical: Practical) -> Decision:
    """Return a decision with whether what it was made on is still there and the same."""
    if decision.what not in BEFORE or decision.stale:
        return decision
    if decision.what == "reference":
        return replace(decision, stale=reference_of(practical, decision.of) != decision.was)
    place = sheet.students["student"].index(decision.student)
    if decision.what == "input":
        return replace(decision, stale=_own(decision, sheet, practical, place) != decision.was)
    rows = rows_of(sheet, place, decision.of)
    if not rows:
        return replace(decision, stale=True)
    if decision.what == "use":
        return replace(decision, stale=read_in(sheet, rows) != decision.on)
    cells = _places(sheet, rows, decision)
    return replace(decision, stale=not cells or _reading(sheet, *cells[0]) != decision.was)


def readings_of(initial: Decimal | None, final: Decimal | None, titre: Decimal | None) -> str:
    """Return what a run was decided on: its readings, or the titre where there are none."""
    if initial is None and final is None:
        return f"titre {_plain(titre)}"
    return f"{_plain(initial)} to {_plain(final)}"


def read_in(sheet: ClassSheet, rows: Sequence[int]) -> str:
    """Return the readings of a run in the class sheet; empty where it is not there."""
    places = ((rows[0], "initial"), (rows[-1], "final"), (rows[-1], "titre")) if rows else ()
    return readings_of(*(_reading(sheet, *each) for each in places)) if places else ""


def _plain(volume: Decimal | None) -> str:
    return "–" if volume is None else f"{Decimal(volume).normalize():f}"


def rows_of(sheet: ClassSheet, place: int, label: str | None) -> list[int]:
    """Return the rows of a student's run: one for each endpoint."""
    pairs = zip(sheet.runs["student"], sheet.runs["label"], strict=True)
    wanted = (place, (label or "").casefold())
    return [row for row, (student, own) in enumerate(pairs) if (student, own.casefold()) == wanted]


def _places(sheet: ClassSheet, rows: Sequence[int], decision: Decision) -> list[tuple[int, str]]:
    """Return row and column of a reading; one between two titres belongs to both."""
    if decision.what != "reading":
        return [(rows[0], "initial") if decision.what == "initial" else (rows[-1], "final")]
    found = [at for at, row in enumerate(rows) if sheet.runs["series"][row] == decision.endpoint]
    cells = [sheet.runs["cells"][row] for row in rows]
    after = [at + 1 for at in found if at + 1 < len(rows) and not filled_between(cells[at], cells[at + 1])]
    return [(rows[at], "final") for at in found] + [(rows[at], "initial") for at in after]


def _reading(sheet: ClassSheet, row: int, which: str) -> Decimal | None:
    value = sheet.runs[which][row]
    return None if value is None else shown(value, sheet.runs[f"{which}_decimals"][row])


def _own(decision: Decision, sheet: ClassSheet, practical: Practical, place: int) -> Decimal | None:
    """Return a number that a student, a run or a group owns, as it was given; None where there is none."""
    key = str(decision.of)
    rows = rows_of(sheet, place, decision.run) if decision.run else []
    table, at = (sheet.runs, rows[0]) if rows else (sheet.students, place)
    own = table["inputs"][at].get(key)
    if own is not None:
        return own.value if isinstance(own, OwnInput) else None
    given = practical.own.get(key)
    if given is None or given.by is None:
        return None
    return given.of_group(sheet.students["groups"][place])


def reference_of(practical: Practical, whose: str | None) -> Decimal | None:
    """Return the reference that the practical gives to everybody, to one group, or for one result."""
    stated = practical.file
    named = [each.reference for each in stated.results if each.name == whose]
    given = named[0] if named else stated.reference
    if given is None or (whose is None and REFERENCE in practical.own):
        return None
    return given.value if whose is None or named else given.values.get(whose)


# Applying them.


def corrected(sheet: ClassSheet, decisions: Sequence[Decision], file: str) -> ClassSheet:
    """Return the class sheet as decided. Raises InputError where a run without a titre is taken into the mean."""
    counting = [each for each in decisions if each.counts and each.what in BEFORE - {"reference"}]
    if not counting:
        return sheet
    places = {name: place for place, name in enumerate(sheet.students["student"])}
    runs = {name: list(values) for name, values in sheet.runs.columns.items()}
    people = list(sheet.students["inputs"])
    runs["decided"] = [None] * len(sheet.runs)
    runs["as_written"] = [None] * len(sheet.runs)
    for each in counting:
        _put(each, sheet, runs, people, places[each.student])
    raise_any([*_without_titre(sheet, runs, counting, file)])
    return replace(sheet, runs=sheet.runs.having(**runs), students=sheet.students.having(inputs=people))


def _put(decision: Decision, sheet: ClassSheet, runs: dict[str, list[Any]], people: list[Any], place: int) -> None:
    """Put what was decided of a student into the columns of the runs, or of the students' own numbers."""
    key, value = str(decision.of), decision.value
    rows = rows_of(sheet, place, decision.run if decision.what == "input" else decision.of)
    if decision.what == "input":
        for column, at in [(runs["inputs"], row) for row in rows] or [(people, place)]:
            own = column[at].get(key)
            column[at] = {**column[at], key: OwnInput(value, places_in(value), own.cells if own else ("",))}
    elif decision.what == "use":
        for row in rows:
            runs["decided"][row] = value
    else:
        for row, which in _places(sheet, rows, decision):
            runs["as_written"][row] = _difference(sheet, row)
            _correct(runs, row, which, value)


def _difference(sheet: ClassSheet, row: int) -> int | None:
    """Return the titre that the readings give as they were written [µL]."""
    initial, final = sheet.runs["initial"][row], sheet.runs["final"][row]
    return None if initial is None or final is None or sheet.runs["parts"][row] else abs(final - initial)


def _has_titre(runs: Mapping[str, list[Any]], row: int) -> bool:
    both = all(runs[each][row] is not None for each in ("initial", "final"))
    return both or bool(runs["parts"][row]) or runs["titre"][row] is not None


def _without_titre(
    sheet: ClassSheet, runs: Mapping[str, list[Any]], decisions: Sequence[Decision], file: str
) -> Iterator[Problem]:
    """Yield a problem for each run that is taken into the mean and has no titre; `runs` are those as corrected."""
    for each in (each for each in decisions if each.what == "use" and each.value):
        rows = rows_of(sheet, sheet.students["student"].index(each.student), each.of)
        if not all(_has_titre(runs, row) for row in rows):
            what = f"run {each.of} of {each.student} has no titre to take into the mean"
            yield Problem(what, "correct its readings in the columns beside it", file, "", each.cell)


def _correct(runs: Mapping[str, list[Any]], row: int, which: str, value: Decimal) -> None:
    """Put a reading [cm³] into a row of the runs, where whatever was wrong with the cell is wrong no more."""
    volume = microlitres(value)
    runs[which][row], runs[f"{which}_decimals"][row] = volume, places_in(value)
    for column in ("odd", "why"):
        runs[column][row] = {key: text for key, text in runs[column][row].items() if key != which}
    runs["spoilt"][row] = tuple(key for key in runs["spoilt"][row] if key != which)
    if runs["parts"][row]:
        parts = [list(part) for part in runs["parts"][row]]
        part, end = _OTHER[which]
        parts[part][end] = volume
        runs["parts"][row] = tuple(tuple(part) for part in parts)


def with_references(practical: Practical, decisions: Sequence[Decision]) -> Practical:
    """Return the practical with the references that were decided. Pure."""
    given = [each for each in decisions if each.what == "reference" and each.counts]
    if not given:
        return practical
    if practical.file.results:
        return _with_results(practical, {each.of: each.value for each in given})
    stated = practical.file.reference
    table: dict[str, Any] = {} if stated is None else stated.model_dump()
    for each in given:
        if each.of is None:
            table = {"value": each.value, "standard_uncertainty": table.get("standard_uncertainty")}
        else:
            table["values"] = {**table["values"], each.of: each.value}
    changed: dict[str, Any] = {"reference": Reference.model_validate(table)}
    if practical.parsed is not None and practical.parsed.reference is None:
        changed |= {"standardisation": None}  # which would give the reference
    own = {key: taken for key, taken in practical.own.items() if key != REFERENCE or table.get("by")}
    parsed = practical.parsed and practical.parsed.model_copy(update=changed)
    return replace(practical, file=practical.file.model_copy(update=changed), parsed=parsed, own=own)


def _with_results(practical: Practical, values: Mapping[str | None, Decimal]) -> Practical:
    """Return a practical of several results with other references, by the names of the results."""
    results = [each.model_dump(by_alias=True) for each in practical.file.results]
    for each in results:
        if each["name"] in values:
            stated = each["reference"] or {"standard_uncertainty": None}
            each["reference"] = {**stated, "value": values[each["name"]]}
    return practical_with(practical, {"results": results, "reference": results[0]["reference"]})
