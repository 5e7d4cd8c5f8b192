"""Several titres of one practical: the class as each of them sees it, and what each result takes from the others.

Each endpoint (or titration) is read, repeated and averaged by itself, so it is judged as a class of its own. A result
that rests on several titres has its own one and, as numbers of the student's own, the means of the others.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise, product
from typing import Any

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.assessed import ReferenceValue
from labmark.diagnose.working_means import mean_is_right, means_of
from labmark.facts import Student, cm3
from labmark.figures import mean_shown
from labmark.formula import Formula, Input
from labmark.judge.worked import NO_OTHERS, Beside, Worked
from labmark.practical import Practical
from labmark.practical.equation import Species
from labmark.practical.own import BLANK_TITRE
from labmark.practical.several import Series, other_titre
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet, OwnValue, Table, filled_between
from labmark.volumes import PER_CM3, as_written, both_roundings, shown

Row = dict[Any, Any]


def series_of(part: Practical) -> Series:
    """Return which titre a part of a practical is about."""
    assert part.series is not None
    return part.series


def titrations(practical: Practical) -> dict[str, Practical]:
    """Return the part of each titration by its name, which is empty where there is one; none of several endpoints."""
    if not practical.parts:
        return {"": practical}
    return {series_of(part).name: part for part in practical.parts if not series_of(part).endpoints}


def check_runs(sheet: ClassSheet, part: Practical) -> None:
    """Raise InputError where runs of several titrations have numbers of their own: no two of them belong together."""
    owning = [inputs for inputs in sheet.runs["inputs"] if inputs]
    if owning and not series_of(part).endpoints:
        key, own = next(iter(owning[0].items()))
        name, _, cell = own.cells[0].rpartition("!") if own.cells else ("", "", "")
        what = f"runs of several titrations have a number of their own ({key}), and no two runs belong together"
        raise InputError(Problem(what, "give each student one, or all the same", sheet.file, name, cell))


# --- the class as one titre sees it ---


def sheet_of(sheet: ClassSheet, part: Practical) -> ClassSheet:
    """Return the class with the runs, the mean and the result that a part is about."""
    series = series_of(part)
    runs = sheet.runs.chosen([place for place, name in enumerate(sheet.runs["series"]) if name == series.name])
    if series.endpoints:
        out_of_order = _disordered(sheet.runs)
        each = zip(runs["student"], runs["label"], strict=True)
        runs = Table({**runs.columns, "disordered": [out_of_order.get(run, "") for run in each]})
    else:
        runs = runs.having(label=[_plain_label(label, series.name) for label in runs["label"]])
    students = [_with_own(row, series) for row in sheet.students.rows()]
    columns = {name: [row[name] for row in students] for name in sheet.students.columns}
    return replace(sheet, runs=runs, students=Table(columns))


def _plain_label(label: str, name: str) -> str:
    """Return a run's label without the titration's name: "1", "Rough"."""
    bare = label[len(name) :].strip() if label.casefold().startswith(name.casefold()) else label
    return bare.capitalize() if bare.casefold() == "rough" else bare


def labelled(label: str, series: Series) -> str:
    """Return a run's label as it stands in the whole practical: "total 1", "total rough"; "1" with endpoints."""
    return label if series.endpoints else f"{series.name} {label.lower()}"


def headed(message: str, name: str) -> str:
    """Return a sentence with what it is about before it: "Phenolphthalein, run 1: ..." for "Run 1: ..."."""
    start = f"{name[:1].upper()}{name[1:]}"
    begun = re.match(r"(Runs? [^:]*|Rough): ", message)
    return f"{start}, {message[:1].lower()}{message[1:]}" if begun else f"{start}: {message}"


def by_endpoint(message: str, series: Series) -> str:
    """Return a sentence with the readings by their endpoints' names: "the phenolphthalein reading"."""
    if not series.endpoints:
        return message
    before = series.names[series.place - 1] if series.place else "initial"
    message = message.replace("initial and final reading are", f"{before} and {series.name} reading are")
    message = re.sub(r"\bfinal reading", f"{series.name} reading", message)
    return re.sub(r"\binitial reading", f"{before} reading", message)


def _disordered(runs: Table) -> dict[tuple[int, str], str]:
    """Return the readings of every run with several endpoints that do not increase, by student and label.

    Where the burette was filled in between they begin anew.
    """
    readings: dict[tuple[int, str], list[list[int]]] = {}
    before: dict[tuple[int, str], Row] = {}
    for row in runs.rows():
        run = row["student"], row["label"]
        found = readings.setdefault(run, [])
        anew = run not in before or filled_between(before[run]["cells"], row["cells"])
        found += [[]] * anew
        found[-1] = found[-1] + [row[which] for which in ("initial", "final")[not anew :] if row[which] is not None]
        before[run] = row
    return {
        run: ", ".join(f"{shown(each, 2):f}" for each in found)
        for run, parts in readings.items()
        for found in parts
        if any(low > high for low, high in pairwise(found))
    }


def _with_own(row: Row, series: Series) -> Row:
    """Return a student's row with the mean and the result that a series is about in the place of the one."""
    made = dict(row)
    for key, name in (("mean", series.name), ("result", series.result)):
        own: OwnValue | None = row["several"].get(key, {}).get(name)
        if own is None and key == "result" and series.asked and not series.result:
            continue  # there is one result, and it stands where it always does
        own = own or OwnValue(None)
        made |= {key: own.value, f"{key}_decimals": own.decimals}
        made["cells"] = _without(made["cells"], key) | ({key: own.cells[0]} if own.cells else {})
        made["odd"] = _without(made["odd"], key) | ({key: own.odd} if own.odd else {})
        made["spoilt"] = (*(each for each in made["spoilt"] if each != key), *([key] if own.spoilt else []))
        if key == "result":
            made["result_unit"] = own.unit
    return made


def _without(of: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in of.items() if name != key}


# --- what a result takes from the other titres ---


def beside(part: Practical, worked: Mapping[int, Worked]) -> Beside:
    """Return the other titres that a part's result rests on; `worked` are the classes by place of the series."""
    series = series_of(part)
    places = series.others(part.unknown)
    if not places:
        return NO_OTHERS
    classes = [worked[place] for place in places]
    everybody = list(zip(*(each.students for each in classes), strict=True))
    of = tuple(tuple(_means(part, places, students)) for students in everybody)
    also = tuple(tuple(_also(places, students)) for students in everybody)
    typical = tuple(_input(place, _middle(each), series) for place, each in zip(places, classes, strict=True))
    named = [(other_titre(place), each) for place, each in zip(places, classes, strict=True)]
    matrices = {name: _of_runs(each) for name, each in named} if series.endpoints else {}
    scatter = {name: (each.repeatability, each.sets.count.astype(float)) for name, each in named}
    of_label = tuple(_of_labels(places, students) for students in everybody) if series.endpoints else ()
    return Beside(of, also, typical, of_label, matrices, scatter)


def _of_labels(places: Sequence[int], students: Sequence[Student]) -> dict[str, tuple[Input, ...]]:
    """Return the other titres of each run of a student, by its label; those that have all of them."""
    each = [{run.label: run.titre for run in student.runs if run.titre is not None} for student in students]
    return {
        label: tuple(_input(place, cm3(titres[label])) for place, titres in zip(places, each, strict=True))
        for label in each[0]
        if all(label in titres for titres in each)
    }


def beside_known(formula: Formula, part: Practical, titres: Mapping[int, Fraction]) -> Formula:
    """Return a part's formula with other titres [cm³] in it, by place of the series; 0 where one is not known."""
    others = series_of(part).others(part.unknown)
    return formula.given([_input(place, titres.get(place, Fraction(0)), series_of(part)) for place in others])


def _input(place: int, value: Fraction, series: Series | None = None) -> Input:
    words = "" if series is None else f"mean titre, {series.names[place]}"
    return Input(other_titre(place), "titre", value, "cm3", f"{mean_shown(value):f}", words, owner="student")


def _means(part: Practical, places: Sequence[int], students: Sequence[Student]) -> Iterator[Input]:
    for place, student in zip(places, students, strict=True):
        mean = student.mean if student.mean is not None or student.own_mean is None else Fraction(student.own_mean)
        if mean is not None:
            yield _input(place, mean, series_of(part))


def _also(places: Sequence[int], students: Sequence[Student]) -> Iterator[tuple[Input, ...]]:
    """Yield the means that a result may fairly rest on: as written, as they should be, and rounded on the way."""
    each = [[*dict.fromkeys(_fair(student))] for student in students]
    for means in product(*each):
        yield tuple(_input(place, mean) for place, mean in zip(places, means, strict=True))


def _fair(student: Student) -> Iterator[Fraction]:
    if student.own_mean is not None:
        yield Fraction(student.own_mean)
    exact = [student.mean] if student.mean is not None else []
    exact += [mean for places in student.fair for mean in means_of(student, places)]
    yield from exact
    yield from (Fraction(one) for mean in exact for one in both_roundings(mean, 2))


def _middle(worked: Worked) -> Fraction:
    means = sorted(student.mean for student in worked.students if student.mean is not None)
    return means[len(means) // 2] if means else Fraction(0)


def _of_runs(worked: Worked) -> FloatArray:
    """Return the titres of the runs (n, r) [cm³]; the student's mean where a run has none."""
    table = worked.table
    return np.where(table.usable, table.titre / 1000, worked.titres[:, None])


# --- what is expected ---


def forward(
    parts: Sequence[Practical], formulas: Sequence[Formula], references: Sequence[ReferenceValue | None]
) -> list[Fraction | None]:
    """Return the titre [cm³] at each part's own series that a student's references (one a part) together call for.

    The titres follow forwards: each reference is so much of its unknown, and all of them take titrant.
    """
    amounts: dict[Species, tuple[Fraction, Formula]] = {}
    for part, formula, reference in zip(parts, formulas, references, strict=True):
        series = series_of(part)
        alone = formula.given([_input(place, Fraction(0)) for place in series.others(part.unknown)])
        titre = None if reference is None else alone.curve.titre(reference.exact)
        if titre is not None:
            net = titre - _value(formula, BLANK_TITRE, 0)
            amounts[part.unknown] = (
                net * _value(formula, "burette.concentration", 1) / series.of(part.unknown).titrant,
                formula,
            )
    return [_titre_at(part, formula, amounts) for part, formula in zip(parts, formulas, strict=True)]


def _titre_at(
    part: Practical, formula: Formula, amounts: Mapping[Species, tuple[Fraction, Formula]]
) -> Fraction | None:
    """Return what all unknowns that a series finds take there; None where one of them is not known."""
    uses = series_of(part).lines[series_of(part).place]
    if any(unknown not in amounts for unknown, _ in uses):
        return None
    taken = Fraction(0)
    for unknown, titrant in uses:
        amount, other = amounts[unknown]
        taken += titrant * amount * _value(formula, "flask.aliquot", 1) / _value(other, "flask.aliquot", 1)
    return taken / _value(formula, "burette.concentration", 1) + _value(formula, BLANK_TITRE, 0)


def _value(formula: Formula, name: str, otherwise: int) -> Fraction:
    given = formula.of.get(name)
    return Fraction(otherwise) if given is None or given.value is None else given.value


# --- several endpoints in a run: one tick for all, a later titre counted from the first reading ---


def counted_on(worked: Worked, part: Practical, alone: Mapping[int, Worked]) -> Worked:
    """Return a class whose titres and means of a later endpoint count from the one before; `alone` is by place."""
    series = series_of(part)
    if not series.endpoints:
        return worked
    students = tuple(replace(one, ticks_shared=True) for one in worked.students)
    if series.place:
        earlier = zip(*(alone[place].students for place in range(series.place)), strict=True)
        students = tuple(from_the_last_endpoint(*pair) for pair in zip(students, earlier, strict=True))
    return replace(worked, students=students)


def from_the_last_endpoint(student: Student, earlier: Sequence[Student]) -> Student:
    """Return a student who counted a later endpoint's titres from the initial reading with these from the one before.

    `earlier` is the student at the endpoints before. Others are returned as they are.
    """
    before = {run.label: sum(titres) for run in student.runs if all(titres := _titres_before(run.label, earlier))}
    used = [run for run in student.runs if run.in_mean and run.label in before]
    if student.mean is not None and used:
        less = cm3(sum(before[run.label] for run in used)) / len(used)
        student = replace(student, from_start=student.mean + less)
    written = [run for run in student.runs if run.written is not None and run.titre is not None and run.label in before]
    gross = [_is(run.written or 0, (run.titre or 0) + before[run.label], run.written_decimals) for run in written]
    net = [_is(run.written or 0, run.titre or 0, run.written_decimals) for run in written]
    if written and all(gross) and not any(net):
        runs = tuple(
            replace(run, written=run.written - before[run.label], net=-before[run.label])
            if run in written and run.written is not None
            else run
            for run in student.runs
        )
        student = replace(student, runs=runs)
    return _mean_from_last(student, before)


def _titres_before(label: str, earlier: Sequence[Student]) -> list[int]:
    found = [next((run.titre for run in one.runs if run.label == label), None) for one in earlier]
    return [each or 0 for each in found]


def _is(written: int, titre: int, decimals: int | None) -> bool:
    places = 2 if decimals is None else decimals
    return written == titre or as_written(Decimal(written) / PER_CM3, places) in both_roundings(cm3(titre), places)


def _mean_from_last(student: Student, before: Mapping[str, int]) -> Student:
    own = student.own_mean
    if own is None:
        return student
    for places in student.fair:
        labels = [student.runs[place].label for place in places]
        if not all(label in before for label in labels):
            continue
        less = cm3(sum(before[label] for label in labels)) / len(labels)
        for mean in means_of(student, places):
            if mean_is_right(own, mean + less) and not mean_is_right(own, mean):
                kept = mean_shown(mean, 2)
                return replace(student, own_mean=kept, net=kept - own)
    return student
