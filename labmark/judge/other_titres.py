"""What a result takes from the other titres of a practical, and which titres are expected together.

A result that rests on several titres has its own one and, as numbers of the student's own, the means of the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.assessed import ReferenceValue
from labmark.diagnose.working_means import means_of
from labmark.facts import Student, cm3
from labmark.figures import mean_text
from labmark.formula import Formula, Input
from labmark.judge.worked import NO_OTHERS, Beside, Worked
from labmark.practical import Practical
from labmark.practical.equation import Species
from labmark.practical.own import BLANK_TITRE
from labmark.practical.several import Series, other_titre
from labmark.volumes import both_roundings


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
    titres = worked.by_run(lambda run: run.titre or 0, np.int64)
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
