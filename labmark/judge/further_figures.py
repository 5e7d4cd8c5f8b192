"""The further figures of a class: `class.statistics` of the record tree.

None of them decides a mark; each says what it is. Where bottles have references of their own, results are first turned
to the common one (result ÷ own reference × common reference): two solutions are never taken for a spread of one.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import compress
from typing import Any

import numpy as np

from labmark.analyse import screening
from labmark.analyse.arrays import FloatArray, IntArray, codes, finite, medians
from labmark.analyse.budget import LEVEL
from labmark.analyse.precision import LIMIT_FACTOR, precision, variance_components
from labmark.analyse.reference import CHECKS
from labmark.analyse.robust import algorithm_a, made
from labmark.assessed import ReferenceValue
from labmark.exact import fraction, round_fraction
from labmark.judge.classwide import ClassFigures, drift_line, groupings_of, order_of, plain
from labmark.judge.references import References, bands_about
from labmark.judge.uncertainty import Behind, budgets
from labmark.judge.worked import Worked
from labmark.practical import Practical
from labmark.practical.inputs import TITRE
from labmark.words import group_name

Facts = dict[str, Any]

NEVER_DECIDES = "Shown for those who want it; it never decides a mark and leaves no result out."
COARSE = ("class", "set", "teacher", "school", "room", "session")
"""Groupings within which benches are counted anew: bench 3 of two classes is two benches."""
WILD = 4.0
"""Robust standard deviations from their group beyond which a student says nothing about where spread comes from."""
FEWEST_IN_GROUP = 3
"""Students whose group has a median of its own."""


def further(worked: Worked, refs: References, figures: ClassFigures, behind: Behind) -> Facts:
    """Return the further figures, and those that stand among the figures of the class itself.

    Screening, components and budget take a tenth of the time of `check`, which shows none of them.
    """
    practical, comparable = behind.practical, turned(worked.results, refs, np.arange(len(worked.students)))
    return {
        **_centre(worked, refs),
        "precision": {**plain(worked.precision), "what": _PRECISION, "unit": practical.unit},
        "reference_test": _tested(figures),
        "groups": plain(list(figures.groupings)),
        "drift": _drift(worked, refs, figures),
        "relative": _relative(worked, refs),
        "by_reference": _by_reference(worked, practical, refs),
        "screening": list(_screening(worked, refs, comparable)),
        "mandel": _mandel(worked, refs),
        "components": _components(worked, refs, practical),
        "budget": _class_budget(worked, comparable, behind),
    }


def centre(worked: Worked, practical: Practical, refs: References) -> Facts:
    """Return those of the further figures that the terminal shows."""
    return {**_centre(worked, refs), "by_reference": _by_reference(worked, practical, refs)}


_PRECISION = (
    "Repeatability (one student’s runs) and reproducibility (single runs over the class) of the used runs, ISO 5725-2; "
    f"the limits are {LIMIT_FACTOR} standard deviations: two single runs differ by less 95 times in 100."
)


def turned(values: FloatArray, refs: References, student: IntArray) -> FloatArray:
    """Return results turned to the common reference; `student` says whose each is. As they are without references."""
    if refs.common is None or not refs.several:
        return values
    return np.asarray(values / refs.values[student] * refs.common.value)


def _centre(worked: Worked, refs: References) -> Facts:
    there = worked.results[np.isfinite(worked.results)]
    titres = worked.titres[np.isfinite(worked.titres)]
    robust = worked.robust
    alike = refs.common if not worked.own else None  # with numbers of their own each expects another titre
    return {
        "mean": float(there.mean()) if there.size else None,
        "sd": float((there - there[0]).std(ddof=1)) if there.size > 1 else None,  # of what is alike exactly 0
        "robust_mean": finite(robust.mean),
        "robust_sd": finite(robust.sd),
        "expected_titre": _expected_titre(worked, alike),
        "mean_titre": float(titres.mean()) if titres.size else None,
        "median": finite(robust.median),
        "made": finite(robust.made),
        "robust_mean_uncertainty": finite(robust.standard_uncertainty),
        "repeatability_of_titre": None if worked.repeatability is None else worked.repeatability.sd,
    }


def _tested(figures: ClassFigures) -> Facts | None:
    if figures.reference is None:
        return None
    found: Facts = plain(figures.reference)
    found["checks"] = list(CHECKS) if figures.reference.doubtful else []
    return found


def _drift(worked: Worked, refs: References, figures: ClassFigures) -> Facts | None:
    """Return the drift with the robust line's ends, as results over their own reference at the first and last place."""
    if figures.drift is None:
        return None
    order = order_of(worked.students)
    relative = worked.results / refs.values
    use = np.isfinite(order) & np.isfinite(relative)
    line = drift_line(figures.drift, relative, worked.students)[use]
    return {
        **plain(figures.drift),
        "what": "Theil and Sen’s slope of the results, each over its own reference, against the order of work.",
        "at_first": float(line[order[use].argmin()]),
        "at_last": float(line[order[use].argmax()]),
    }


# Several references --------------------------------------------------------------------------------------------------


def _relative(worked: Worked, refs: References) -> Facts | None:
    """Return the spread of the class in per cent of each student's own reference; None where all share one."""
    if not refs.several:
        return None
    values = refs.values
    robust = algorithm_a(worked.results / values)
    runs = precision(worked.used.result / values[worked.used.student], worked.used.student)
    return {
        "what": "Results over each student’s own reference, in per cent of it: no spread here comes from the bottles.",
        "unit": "%",
        "n": robust.n,
        "shift": _per_cent(robust.mean - 1),
        "shift_uncertainty": _per_cent(robust.standard_uncertainty),
        "robust_sd": _per_cent(robust.sd),
        "repeatability_sd": _per_cent(runs.repeatability_sd),
        "reproducibility_sd": _per_cent(runs.reproducibility_sd),
    }


def _per_cent(value: float | None) -> float | None:
    return None if value is None else finite(100 * value)


def _by_reference(worked: Worked, practical: Practical, refs: References) -> list[Facts]:
    """Return the figures of the students of each reference; empty where all share one."""
    if not refs.several:
        return []
    values = dict.fromkeys(each for each in refs.each if each is not None)
    return [_of_reference(value, worked, practical, refs) for value in values]


def _of_reference(value: ReferenceValue, worked: Worked, practical: Practical, refs: References) -> Facts:
    """Return the figures of the students of one reference."""
    inside = [each is not None and each.exact == value.exact for each in refs.each]
    students = [*compress(worked.students, inside)]
    names = dict.fromkeys(name for student in students if (name := student.groups.get(refs.by or "")))
    robust = algorithm_a(worked.results[np.array(inside)])
    return {
        "what": "The students of one reference, in the unit of the result.",
        "groups": [group_name(refs.by or "", name) for name in names],
        "reference": value.value,
        "standard_uncertainty": value.standard_uncertainty,
        "expected_titre": _expected_titre(worked, value),
        "students": len(students),
        "n": robust.n,
        "robust_mean": finite(robust.mean),
        "robust_sd": finite(robust.sd),
        "robust_mean_uncertainty": finite(robust.standard_uncertainty),
        "shift_percent": finite(100 * (robust.mean / value.value - 1)),
        "bands": bands_about(practical, worked.formula.curve, value),
    }


def _expected_titre(worked: Worked, reference: ReferenceValue | None) -> float | None:
    """Return the titre [cm³] that a reference gives by the class's formula, to two decimals."""
    titre = None if reference is None else worked.formula.curve.titre(reference.exact)
    return None if titre is None else float(round_fraction(titre, 2))


# Screening -----------------------------------------------------------------------------------------------------------


def _screening(worked: Worked, refs: References, comparable: FloatArray) -> Iterator[Facts]:
    """Yield each test that can be made, with its n, statistic and critical value."""
    single = screening.grubbs(comparable)  # for two, where this one finds nothing (ISO 5725-2:1994, 7.3.4)
    sides = () if single is not None and single.beyond else ("upper", "lower")
    pairs = (screening.grubbs_pair(comparable, side=side) for side in sides)
    runs = worked.usable
    scatter = screening.cochran(turned(runs.result, refs, runs.student), runs.student)
    for found in filter(None, (single, *pairs, screening.dixon(comparable), scatter)):
        figures = {"test": found.test, "what": _OF_RESULTS[found.test]} | found._asdict()
        students = [worked.students[int(place)].name for place in figures.pop("who")]
        yield {**figures, "students": students, "note": NEVER_DECIDES}


_OF_RESULTS = {
    "Grubbs": "the result furthest from the mean, in standard deviations",
    "Grubbs, two highest": "share of the sum of squares left without the two highest results (small: they stand out)",
    "Grubbs, two lowest": "share of the sum of squares left without the two lowest results (small: they stand out)",
    "Dixon": "gap between the outermost result and the next, as a share of the range",
    "Cochran": "largest variance of one student’s runs, as a share of all (runs a student: the commonest number)",
}

_MANDEL = (
    "h: how far the mean of a student’s accurate runs lies from the class, in standard deviations of these means. "
    "k: how widely the runs scatter, beside the class’s pooled scatter. All accurate runs, agreeing or not."
)


def _mandel(worked: Worked, refs: References) -> Facts | None:
    """Return Mandel's h and k of every student with a usable accurate run; None for fewer than three."""
    runs = worked.usable
    found = screening.mandel(turned(runs.result, refs, runs.student), runs.student)
    if found is None:
        return None
    figures, who = plain(found), [worked.students[int(place)] for place in found.names]
    names = {"n": len(who), "students": [one.name for one in who], "numbers": [one.number for one in who]}
    del figures["names"]
    return {"what": _MANDEL, "note": NEVER_DECIDES, **figures, **names, "runs": figures["n"]}


# Where the spread comes from, and what an uncertainty is made of -----------------------------------------------------


_COMPONENTS = (
    "Where the spread of the used runs comes from: what each level adds within the one above it, with a 95 % interval "
    f"of its standard deviation. Students more than {WILD:g} robust standard deviations from their group are left out."
)


def _components(worked: Worked, refs: References, practical: Practical) -> Facts | None:
    """Return what groups, students and runs each add to the spread of the used runs, wild students left out."""
    runs = worked.used
    if not runs.student.size:
        return None
    values = turned(runs.result, refs, runs.student)
    chosen = _levels(groupings_of([worked.students[place] for place in np.unique(runs.student).tolist()]))
    labels = {name: [worked.students[place].groups.get(name) for place in runs.student.tolist()] for name in chosen}
    wild = _wild(values, runs.student, list(labels.values())[-1] if labels else None)
    values = np.where(np.isin(runs.student, wild), np.nan, values)
    found = variance_components(values, {**labels, "student": runs.student.tolist()})
    if len(found) < 2:
        return None
    return {
        "what": _COMPONENTS,
        "note": NEVER_DECIDES,
        "unit": practical.unit,
        "levels": plain(list(found)),
        "left_out": [worked.students[place].name for place in wild],
    }


def _wild(values: FloatArray, student: IntArray, group: Sequence[str | None] | None) -> list[int]:
    """Return the students whose median run lies wildly far from that of their group (their class where it is small)."""
    people, first, number = np.unique(student, return_index=True, return_inverse=True)
    middle = medians(values, number.reshape(-1), people.size)
    own, names = codes([None] * people.size if group is None else [group[place] for place in first.tolist()])
    grouped = own >= 0
    size = np.bincount(own[grouped], minlength=len(names))
    centres = np.append(
        np.where(size >= FEWEST_IN_GROUP, medians(middle[grouped], own[grouped], len(names)), np.nan), np.nan
    )
    centre = np.where(np.isfinite(centres[own]), centres[own], np.median(middle))
    away = middle - centre
    spread = made(away)
    return people[np.abs(away) > WILD * spread].tolist() if spread > 0 else []


def _levels(groupings: Mapping[str, Sequence[str | None]]) -> dict[str, Sequence[str | None]]:
    """Return the groupings that everybody is in and that lie within one another, coarsest first."""
    there = {name: labels for name, labels in groupings.items() if all(labels) and len(set(labels)) > 1}
    chosen: dict[str, Sequence[str | None]] = {}
    for name in sorted(there, key=lambda each: (not _coarse(each), len(set(there[each])))):
        # Benches are counted anew in every class; other groupings that cut across one another are not nested.
        anew = bool(chosen) and all(_coarse(each) for each in chosen)
        if anew or all(_within(there[name], above) for above in chosen.values()):
            chosen[name] = there[name]
    return chosen


def _within(inner: Sequence[str | None], outer: Sequence[str | None]) -> bool:
    return len(set(zip(inner, outer, strict=True))) == len(set(inner))


def _coarse(name: str) -> bool:
    return any(word in name.lower().split() for word in COARSE)


def _class_budget(worked: Worked, comparable: FloatArray, behind: Behind) -> Facts | None:
    """Return the budget of a student at the centre of the class, with the usual number of runs."""
    centre = algorithm_a(comparable).mean
    titre = worked.formula.curve.titre(fraction(centre)) if np.isfinite(centre) else None
    counts = worked.counts[worked.counts > 0]
    if titre is None or not counts.size:
        return None
    runs = int(np.median(counts))
    found = budgets(behind, {TITRE: np.array([float(titre)])}, np.array([float(runs)])).of(0)
    return {
        "what": f"Uncertainty of a result at the centre of the class, from {runs} runs; largest part first.",
        "notes": list(found.notes),
        "unit": behind.practical.unit,
        **found.figures,
        "level": LEVEL,
        "rows": list(found.rows),
        "advice": found.sentence,
    }
