"""Several titres of one practical: the class as each of them sees it.

Each endpoint (or titration) is read, repeated and averaged by itself, so it is judged as a class of its own. A result
that rests on several titres has its own one and, as numbers of the student's own, the means of the others.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations, pairwise, product

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.assessed import ReferenceValue
from labmark.dataclass import replace
from labmark.diagnose.working_means import choices, means_of, right_choice
from labmark.diagnose.working_slips import CROSSED
from labmark.exact import both_roundings, mean_text, shown
from labmark.facts import OwnValue, Run, Student, cm3
from labmark.findings import found
from labmark.formula import Formula, Input
from labmark.judge.worked import NO_OTHERS, Beside, Worked, by_run
from labmark.judge.written_otherwise import from_the_last_endpoint
from labmark.practical import Practical
from labmark.practical.equation import Species
from labmark.practical.own import BLANK_TITRE
from labmark.practical.several import Series, other_titre
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet, Finding, bare_label, filled_between
from labmark.words import begun

Seen = tuple[Student, tuple[Finding, ...]]
"""A student as a part sees them, and what is said of that."""


def titrations(practical: Practical) -> dict[str, Practical]:
    """Return the part of each titration by its name, which is empty where there is one; none of several endpoints."""
    if not practical.parts:
        return {"": practical}
    return {part.series.name: part for part in practical.parts if not part.series.endpoints}


def check_runs(sheet: ClassSheet, part: Practical) -> None:
    """Raise InputError where runs of several titrations have numbers of their own: no two of them belong together."""
    owning = [run.inputs for one in sheet.students for run in one.runs if run.inputs]
    if owning and not part.series.endpoints:
        key, own = next(iter(owning[0].items()))
        name, _, cell = own.cells[0].rpartition("!") if own.cells else ("", "", "")
        what = f"runs of several titrations have a number of their own ({key}), and no two runs belong together"
        raise InputError(Problem(what, "give each student one, or all the same", sheet.file, name, cell))


# --- the class as one titre sees it ---


def sheet_of(sheet: ClassSheet, part: Practical) -> ClassSheet:
    """Return the class with the runs, the mean and the result that a part is about."""
    series = part.series
    return replace(sheet, students=tuple(_with_own(_of_series(one, series), series) for one in sheet.students))


def _of_series(student: Student, series: Series) -> Student:
    """Return a student with the runs of one endpoint, or of one titration."""
    runs = [run for run in student.runs if run.series == series.name]
    if series.endpoints:
        out_of_order = _disordered(student.runs)
        runs = [replace(run, disordered=out_of_order.get(run.label, "")) for run in runs]
    else:
        runs = [replace(run, label=bare_label(run.label, series.name)) for run in runs]
    return replace(student, runs=tuple(runs))


def labelled(label: str, series: Series) -> str:
    """Return a run's label as it stands in the whole practical: "total 1", "total rough"; "1" with endpoints."""
    return label if series.endpoints else f"{series.name} {label.lower()}"


def headed(message: str, name: str) -> str:
    """Return a sentence with what it is about before it: "Phenolphthalein, run 1: ..." for "Run 1: ..."."""
    of_run = re.match(r"(Runs? [^:]*|Rough): ", message)
    return f"{begun(name)}, {message[:1].lower()}{message[1:]}" if of_run else f"{begun(name)}: {message}"


def by_endpoint(message: str, series: Series) -> str:
    """Return a sentence with the readings by their endpoints' names: "the phenolphthalein reading"."""
    if not series.endpoints:
        return message
    before = series.names[series.place - 1] if series.place else "initial"
    message = message.replace("initial and final reading are", f"{before} and {series.name} reading are")
    message = re.sub(r"\bfinal reading", f"{series.name} reading", message)
    return re.sub(r"\binitial reading", f"{before} reading", message)


def _disordered(runs: Sequence[Run]) -> dict[str, str]:
    """Return the readings of every run of a student with several endpoints that do not increase, by label.

    Where the burette was filled in between they begin anew; where all of a student's decrease, the scale counts down.
    """
    readings: dict[str, list[list[int]]] = {}
    before: dict[str, Run] = {}
    for run in runs:
        found = readings.setdefault(run.label, [])
        anew = run.label not in before or filled_between(before[run.label].cells, run.cells)
        found += [[]] * anew
        found[-1] = found[-1] + [each for each in (run.initial, run.final)[not anew :] if each is not None]
        before[run.label] = run
    if len(readings) > 1 and all(a > b for parts in readings.values() for found in parts for a, b in pairwise(found)):
        return {}
    return {
        label: ", ".join(f"{shown(each, 2):f}" for each in found)
        for label, parts in readings.items()
        for found in parts
        if any(low > high for low, high in pairwise(found))
    }


def _with_own(student: Student, series: Series) -> Student:
    """Return a student with the mean and the result that a series is about in the place of the one."""
    student = student.with_own("mean", student.several_means.get(series.name, OwnValue(None)))
    result = student.several_results.get(series.result)
    if result is None and series.asked and not series.result:
        return student  # there is one result, and it stands where it always does
    return student.with_own("result", result or OwnValue(None))


# --- two results the wrong way round ---


def crossed(pair: Sequence[Student], names: Sequence[str]) -> tuple[Seen, Seen]:
    """Return a student, as the parts of two named results see them, with each result where the other is written.

    That is one slip, and stands with the first of the two.
    """
    (one, other), (first, second) = pair, names
    message = (
        f"The results of {first} and {second} are the wrong way round: {other.result_in_words} belongs to {first}, "
        f"{one.result_in_words} to {second}."
    )
    cells = (*one.at("result"), *other.at("result"))
    slip = found("result-slip", message, cells=cells, criterion="calculation", cause=CROSSED, slips=[CROSSED])
    return (one.with_own("result", other.own("result")), (slip,)), (other.with_own("result", one.own("result")), ())


# --- two means the wrong way round ---


def crossed_means(each: Sequence[tuple[Series, Student]]) -> Iterator[tuple[tuple[str, str], Finding]]:
    """Yield the names of two titres whose written means are wrong, and right the other way round, with that one slip.

    The figures stand as they are: a result may follow from the means as they were written.
    """
    wrong = [(series.name, one) for series, one in each if one.own_mean is not None and not _is_mean_right(one)]
    for (first, one), (second, other) in combinations(wrong, 2):
        if _is_mean_right(_with_mean_of(one, other)) and _is_mean_right(_with_mean_of(other, one)):
            message = (
                f"The means of {first} and {second} are the wrong way round: {other.mean_as_written} cm³ "
                f"belongs to {first}, {one.mean_as_written} cm³ to {second}."
            )
            cells = (*one.at("mean"), *other.at("mean"))
            slip = found("mean-slip", message, cells=cells, criterion="mean", cause="two means the wrong way round")
            yield (first, second), slip


def _is_mean_right(one: Student) -> bool:
    return right_choice(one, choices(one)) is not None


def _with_mean_of(one: Student, other: Student) -> Student:
    return replace(one.with_own("mean", other.own("mean")), net=other.net, saved=other.saved)


# --- several endpoints in a run: one tick for all, a later titre counted from the first reading ---


def counted_on(worked: Worked, part: Practical, alone: Mapping[int, Worked]) -> Worked:
    """Return a class whose titres and means of a later endpoint count from the one before; `alone` is by place."""
    series = part.series
    if not series.endpoints:
        return worked
    students = tuple(replace(one, ticks_shared=True) for one in worked.students)
    if series.place:
        earlier = zip(*(alone[place].students for place in range(series.place)), strict=True)
        students = tuple(from_the_last_endpoint(*pair) for pair in zip(students, earlier, strict=True))
    return replace(worked, students=students)


def with_others(worked: Worked, part: Practical, alone: Mapping[int, Worked]) -> Worked:
    """Return a class whose students have the means of their other titres beside them; `alone` is by place."""
    series = part.series
    others = [(name, alone[place].students) for place, name in enumerate(series.names) if place != series.place]
    students = tuple(
        replace(one, elsewhere=tuple((name, mean) for name, them in others for mean in [*_fair(them[at])][:1]))
        for at, one in enumerate(worked.students)
    )
    return replace(worked, students=students)


# --- what a result takes from the other titres ---


def beside(part: Practical, worked: Mapping[int, Worked]) -> Beside:
    """Return the other titres that a part's result rests on; `worked` are the classes by place of the series."""
    series = part.series
    places = series.others(part.unknown)
    if not places:
        return NO_OTHERS
    classes = [worked[place] for place in places]
    everybody = list(zip(*(each.students for each in classes), strict=True))
    of = means_beside(part, worked)
    also = tuple(tuple(_also(places, students)) for students in everybody)
    typical = tuple(_input(place, _middle(each), series) for place, each in zip(places, classes, strict=True))
    named = [(other_titre(place), each) for place, each in zip(places, classes, strict=True)]
    matrices = {name: _of_runs(each) for name, each in named} if series.endpoints else {}
    scatter = {name: (each.repeatability, each.counts.astype(float)) for name, each in named}
    of_label = tuple(_of_labels(places, students) for students in everybody) if series.endpoints else ()
    rough = tuple(_roughs(places, students) for students in everybody)
    return Beside(of, also, typical, rough, of_label, matrices, scatter)


def means_beside(part: Practical, worked: Mapping[int, Worked]) -> tuple[tuple[Input, ...], ...]:
    """Return each student's means of the other titres that a part's result rests on; `worked` are as in `beside`."""
    places = part.series.others(part.unknown)
    everybody = zip(*(worked[place].students for place in places), strict=True)
    return tuple(tuple(_means(part, places, students)) for students in everybody)


def _roughs(places: Sequence[int], students: Sequence[Student]) -> tuple[Input, ...]:
    """Return the other titres as the roughs were; none where a student has not got all of them."""
    each = [next((run.own_titre for run in student.runs if run.rough), None) for student in students]
    there = [titre for titre in each if titre is not None]
    if len(there) < len(places):
        return ()
    return tuple(_input(place, cm3(titre)) for place, titre in zip(places, there, strict=True))


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
    others = part.series.others(part.unknown)
    return formula.given([_input(place, titres.get(place, Fraction(0)), part.series) for place in others])


def _input(place: int, value: Fraction, series: Series | None = None) -> Input:
    words = "" if series is None else f"mean titre, {series.names[place]}"
    return Input(other_titre(place), "titre", value, "cm3", f"{mean_text(value):f}", words, owner="student")


def _means(part: Practical, places: Sequence[int], students: Sequence[Student]) -> Iterator[Input]:
    for place, student in zip(places, students, strict=True):
        mean = student.mean if student.mean is not None or student.own_mean is None else Fraction(student.own_mean)
        if mean is not None:
            yield _input(place, mean, part.series)


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
    titres = by_run(worked.students, "titre", np.int64)
    return np.where(worked.are_usable, titres / 1000, worked.titres[:, None])


# --- what is expected ---


def forward(
    parts: Sequence[Practical], formulas: Sequence[Formula], references: Sequence[ReferenceValue | None]
) -> list[Fraction | None]:
    """Return the titre [cm³] at each part's own series that a student's references (one a part) together call for.

    The titres follow forwards: each reference is so much of its unknown, and all of them take titrant.
    """
    amounts: dict[Species, tuple[Fraction, Formula]] = {}
    for part, formula, reference in zip(parts, formulas, references, strict=True):
        series = part.series
        titre = None if reference is None else beside_known(formula, part, {}).curve.titre(reference.exact)
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
    uses = part.series.lines[part.series.place]
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
