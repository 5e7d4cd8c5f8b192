"""Classes side by side: figures of each practical over all its classes, and what a moderator asks. Pure.

From digests to plain data: which classes stand apart, which decisions moved marks, and whose work to look at.

A practical is known by its title, its equation and what is asked for. Results of different practicals are never
averaged. Where classes, or students, have different references, results are compared in per cent of the reference.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from math import sqrt
from typing import Any, NamedTuple

import numpy as np

from labmark import __version__
from labmark.analyse.apart import ALPHA, Comparison, beside_the_others, holm
from labmark.analyse.arrays import FloatArray, finite
from labmark.analyse.precision import VarianceComponent, precision, variance_components
from labmark.analyse.robust import U_FACTOR, algorithm_a
from labmark.cohort.solutions import across, references
from labmark.cohort.year import alike, date_of, year
from labmark.laws import t_quantile

Digest = Mapping[str, Any]
WILD = 4.0
"""Students so many robust standard deviations from their class are left out of the split of the spread."""
OF_REFERENCE = "% of the reference"
"""Unit of results that are compared although their references differ."""
KNOWN_BY = ("title", "equation", "quantity", "unit")
FORMAT = 1
_OF_A_CLASS = ("students", "absent", "results", "unit", "robust_mean", "robust_sd", "repeatability_sd", "mean_percent")
FEWEST = 5
"""Students that a class must have to be held against others."""
TEN = 10
"""Students in the sample, one from each tenth of the marks."""
DOUBTFUL = 5
"""Students besides who ask most for a second look."""
Means = Mapping[str, tuple[float, float, float]]
"""Class -> (mean, standard error, degrees of freedom)."""


def by_practical(digests: Iterable[Digest]) -> list[list[Digest]]:
    """Return the classes that could be used, those of each practical together; in the order of first appearance."""
    groups: dict[str, list[Digest]] = {}
    for each in digests:
        if each["error"] is None:
            groups.setdefault(repr([each[key] for key in KNOWN_BY]), []).append(each)
    return list(groups.values())


class Results(NamedTuple):
    """Results of one practical over its classes, one a student who has one: arrays of shape (students,)."""

    unit: str
    """That of the result; `OF_REFERENCE` where references differ."""
    value: FloatArray
    label: list[str]
    """Name of the class of each."""
    student: list[tuple[str, int]]
    """Class, and place in it."""
    runs: list[int]
    """Used runs behind each."""
    within: FloatArray
    """Repeatability of the class [unit]; 0 where it is not known."""

    @property
    def run_values(self) -> tuple[FloatArray, list[str], list[tuple[str, int]]]:
        """Return a result a run, with its class and its student: as far apart as the class's runs are.

        Only the sums of squares are used of them, and these are those of the runs themselves: a student's mean is the
        result, and the squares within students come to those of the class's repeatability.
        """
        parts = [
            value + spread * _apart(runs)
            for value, spread, runs in zip(self.value, self.within, self.runs, strict=True)
        ]
        label = [name for name, runs in zip(self.label, self.runs, strict=True) for _ in range(runs)]
        student = [one for one, runs in zip(self.student, self.runs, strict=True) for _ in range(runs)]
        return (np.concatenate(parts) if parts else np.zeros(0)), label, student


def _apart(runs: int) -> FloatArray:
    """Return so many deviations with mean 0 and standard deviation 1; 0 for a single run."""
    line = np.arange(runs) - (runs - 1) / 2
    return line / line.std(ddof=1) if runs > 1 else np.zeros(runs)


def results_of(classes: Sequence[Digest]) -> Results:
    """Return the results of the classes of one practical."""
    found = [(each, one) for each in classes for one in each["people"] if one["result"] is not None and one["runs"]]
    references = {one["reference"] for _, one in found}
    relative = len(references) > 1
    if relative:
        found = [(each, one) for each, one in found if one["reference"]]
    scale = np.array([100 / one["reference"] if relative else 1.0 for _, one in found])
    return Results(
        OF_REFERENCE if relative else (classes[0]["unit"] if classes else ""),
        np.array([one["result"] for _, one in found]) * scale,
        [each["name"] for each, _ in found],
        [(each["name"], one["number"]) for each, one in found],
        [one["runs"] for _, one in found],
        np.array([each["repeatability_sd"] or 0.0 for each, _ in found]) * scale,
    )


def figures(classes: Sequence[Digest]) -> dict[str, Any]:
    """Return the figures of one practical over its classes; null where there is nothing to work them out from."""
    results, marks = results_of(classes), percents(classes)
    values, _, student = results.run_values
    robust, spread, iso = algorithm_a(results.value), components(results), precision(values, student)
    sd = {one.level: one.sd for one in spread}
    return {
        "practical": classes[0]["title"] if classes else None,
        "classes": [each["name"] for each in classes],
        **_counted(classes),
        "unit": results.unit,
        "robust_mean": finite(robust.mean),
        "robust_sd": finite(robust.sd),
        "repeatability_sd": iso.repeatability_sd,
        "reproducibility_sd": iso.reproducibility_sd,
        "between_classes_sd": sd.get("class"),
        "between_students_sd": sd.get("student"),
        "components": [one._asdict() for one in spread],
        "mean_percent": float(np.mean(marks)) if marks else None,
        "findings": _findings(classes),
    }


def _findings(classes: Iterable[Digest]) -> list[dict[str, Any]]:
    """Return what was found of each class, with its name."""
    return [each | {"class": one["name"]} for one in classes for each in one["findings"]]


def components(results: Results) -> tuple[VarianceComponent, ...]:
    """Return what classes, students and runs each add to the spread (ISO 5725-2, nested), wild students left out."""
    label = np.array(results.label)
    middle = {name: np.median(results.value[label == name]) for name in set(results.label)}
    away = results.value - np.array([middle[name] for name in results.label])
    wide = algorithm_a(away).sd
    tame = np.abs(away) <= WILD * wide if wide > 0 else np.ones(away.size, dtype=bool)
    keep = {student for student, kept in zip(results.student, tame, strict=True) if kept}
    values, of_class, of_student = results.run_values
    usable = [one if one in keep else None for one in of_student]
    return variance_components(values, {"class": of_class, "student": usable})


def percents(classes: Iterable[Digest]) -> list[float]:
    """Return every marked student's total in per cent of what it is out of."""
    return [percent for each in classes for one in each["people"] if (percent := percent_of(one)) is not None]


def percent_of(one: Mapping[str, Any]) -> float | None:
    """Return a student's total in per cent; None for one who was not marked."""
    return 100 * one["total"] / one["out_of"] if one["out_of"] else None


def over_all(digests: Sequence[Digest]) -> dict[str, Any]:
    """Return the figures of the cohort: those of its practical; only what can be counted where there are several."""
    groups = by_practical(digests)
    if len(groups) == 1:
        return figures(groups[0])
    usable = [each for group in groups for each in group]
    nothing = dict.fromkeys(figures([]))
    counted = _counted(usable) | {"classes": [each["name"] for each in usable], "components": []}
    return nothing | counted | {"findings": _findings(usable)}


def _counted(classes: Iterable[Digest]) -> dict[str, int]:
    return {key: sum(each[key] for each in classes) for key in ("students", "absent", "results")}


# What a moderator asks.


def comparisons(classes: Sequence[Digest]) -> dict[str, list[dict[str, Any]]]:
    """Return class -> what it was held against the other classes of its practical in; differences in per cent.

    Results and marks of all classes count together in the correction for many; teachers' decisions by themselves.
    """
    results = results_of(classes)
    marks = _means({each["name"]: [percent_of(one) for one in each["people"]] for each in classes})
    # What was read and worked out is one family of tests; what teachers made of it is another.
    families = ({"results": _centres(results), "marks": marks}, {"decisions": _decisions(classes)})
    told: dict[str, list[dict[str, Any]]] = {each["name"]: [] for each in classes}
    relative = results.unit == OF_REFERENCE
    for family in families:
        found = [(name, what, one) for what, means in family.items() for name, one in _beside(means)]
        corrected = holm([one.p for _, _, one in found])
        for (name, what, one), p in zip(found, corrected, strict=True):
            row = {"what": what, "difference": one.difference, "error": one.error, "p": p, "apart": p < ALPHA}
            told[name].append(row | ({"over_reference": relative} if what == "results" else {}))
    return told


def over_classes(classes: Sequence[Digest]) -> list[dict[str, Any]]:
    """Return what is one for a whole class and the same for several, as a teacher, held against others of its kind."""
    rows = []
    for heading in dict.fromkeys(heading for each in classes for one in each["people"] for heading in one["groups"]):
        own: dict[str, list[Digest]] = {}
        for each in classes:
            names = {one["groups"][heading] for one in each["people"] if heading in one["groups"]}
            if len(names) == 1:
                own.setdefault(f"{heading} {names.pop()}", []).append(each)
        if 1 < len(own) < sum(map(len, own.values())):
            whole = [_as_one(name, some) for name, some in own.items()]
            told = comparisons(whole)
            rows += [_over(each, told[each["name"]]) for each in whole]
    return rows


def _as_one(name: str, classes: Sequence[Digest]) -> Digest:
    """Return what `comparisons` needs of several classes, as of one."""
    people, moved = ([one for each in classes for one in each[key]] for key in ("people", "moved"))
    of = [each["name"] for each in classes]
    return {"name": name, "of": of, "people": people, "moved": moved, "unit": classes[0]["unit"], "repeatability_sd": 0}


def _over(each: Digest, beside: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    marks = percents([each])
    mean = float(np.mean(marks)) if marks else None
    about = {"group": each["name"], "classes": each["of"], "students": len(each["people"]), "mean_percent": mean}
    return about | {"moved": moved(each), "comparisons": list(beside)}


def _beside(means: Means) -> Iterator[tuple[str, Comparison]]:
    rows = list(means.values())
    yield from zip(means, beside_the_others(*zip(*rows, strict=True)) if len(rows) > 1 else (), strict=False)


def _centres(results: Results) -> Means:
    """Return the robust centre of each class, in per cent of that of all."""
    whole = algorithm_a(results.value).mean
    values = 100 * results.value / whole
    rows = zip(results.label, values.tolist(), strict=True)
    of = {name: np.array([value for _, value in own]) for name, own in groupby(rows, key=lambda row: row[0])}
    robust = {name: algorithm_a(own) for name, own in of.items() if own.size >= FEWEST}
    return _with_errors({name: (one.mean, one.sd, one.n) for name, one in robust.items()}, U_FACTOR)


def _decisions(classes: Sequence[Digest]) -> Means:
    """Return by how much the teacher's decisions moved the marks of each class [% of what they are out of]."""
    if not any(each["moved"] for each in classes):
        return {}
    return _means({each["name"]: [one["shift"] for one in each["people"]] for each in classes})


def _means(values: Mapping[str, Sequence[float | None]]) -> Means:
    there: dict[str, FloatArray] = {
        name: np.array([one for one in own if one is not None], dtype=np.float64) for name, own in values.items()
    }
    rows = {
        name: (float(own.mean()), float(own.std(ddof=1)), own.size) for name, own in there.items() if own.size >= FEWEST
    }
    return _with_errors(rows, 1.0)


def _with_errors(rows: Mapping[str, tuple[float, float, int]], factor: float) -> Means:
    """Return means with their errors: a class that happens to be narrow is taken to be as wide as they usually are."""
    usual = float(np.median([sd for _, sd, _ in rows.values()])) if rows else 0.0
    return {name: (mean, factor * max(sd, usual) / n**0.5, n - 1.0) for name, (mean, sd, n) in rows.items()}


def moved(each: Digest) -> dict[str, Any]:
    """Return how the teacher's decisions moved the marks of a class."""
    shifts = [one["shift"] for one in each["people"] if one["shift"] is not None]
    return {
        "raised": sum(row["by"] > 0 for row in each["moved"]),
        "lowered": sum(row["by"] < 0 for row in each["moved"]),
        "mean_percent": float(np.mean(shifts)) if shifts else None,
        "students": each["moved"],
    }


def sample(classes: Sequence[Digest]) -> list[dict[str, Any]]:
    """Return whose work to look at: one from each tenth of the marks by lot, and those who ask most for it.

    The lot is drawn by a hash over class and student, so that it falls alike every time and nobody can choose it.
    """
    marked = [
        (percent, _lot(each, one), each, one)
        for each in classes
        for one in each["people"]
        if (percent := percent_of(one)) is not None
    ]
    ordered = sorted(marked, key=lambda row: row[:2])
    size = min(TEN, len(ordered))
    tenths = [ordered[place * len(ordered) // size : (place + 1) * len(ordered) // size] for place in range(size)]
    drawn = [min(tenth, key=lambda row: row[1]) for tenth in tenths]
    taken = {row[1] for row in drawn}
    asking = [row for row in marked if row[3]["doubt"] and row[1] not in taken]
    asking.sort(key=lambda row: (-row[3]["doubt"], row[1]))
    return [_sampled(*row, "by lot") for row in drawn] + [_sampled(*row, "most doubtful") for row in asking[:DOUBTFUL]]


def _lot(each: Digest, one: Mapping[str, Any]) -> str:
    return hashlib.sha256(f"{each['sha256']} {each['name']} {one['number']}".encode()).hexdigest()


def _sampled(percent: float, _lot: str, each: Digest, one: Mapping[str, Any], how: str) -> dict[str, Any]:
    about = {key: one[key] for key in ("student", "ID", "number", "total", "out_of")}
    return {"class": each["name"], **about, "percent": percent, "how": how, "why": one["why"]}


# As plain data.


def cohort_tree(digests: Sequence[Digest]) -> dict[str, Any]:
    """Return the cohort from the digests of its classes, in their order."""
    groups = by_practical(digests)
    told = {name: rows for group in groups for name, rows in comparisons(group).items()}
    return {
        "format": FORMAT,
        "made_by": f"labmark {__version__}",
        "classes": [entry(each, told.get(each["name"], [])) for each in digests],
        "same_files": (same := _same_files(digests)),
        "twice": [one for group in groups for one in twice(group) if one["classes"] not in same],
        "cohort": over_all(digests),
        "year": year(digests),
        "practicals": [
            figures(group)
            | {"references": references(group), "across": across(group)}
            | {"over_classes": over_classes(group), "sample": sample(group)}
            for group in groups
        ],
    }


def _same_files(classes: Sequence[Digest]) -> list[list[str]]:
    """Return the names of classes whose files hold the same, each list of them once."""
    names: dict[str, list[str]] = {}
    for each in classes:
        if each["error"] is None:
            names.setdefault(each["sha256"], []).append(each["name"])
    return [alike for alike in names.values() if len(alike) > 1]


def twice(classes: Sequence[Digest]) -> list[dict[str, Any]]:
    """Return the students who, by their ID, stand in more than one class of a practical, and not on other days.

    Where one of a student's classes has no date, nobody knows that it was another day.
    """
    undated = {one["ID"] for each in classes for one in each["people"] if not date_of(each["file"])}
    found: dict[tuple[str, str], dict[str, str]] = {}
    for each in classes:
        for one in each["people"]:
            if one["ID"]:
                day = "" if one["ID"] in undated else date_of(each["file"])
                found.setdefault((one["ID"], day), {}).setdefault(each["name"], one["student"])
    several = {
        known: n
        for known, n in found.items()
        if len(n) > 1 and all(alike(each, next(iter(n.values()))) for each in n.values())
    }
    return [{"ID": known[0], "student": next(iter(n.values())), "classes": list(n)} for known, n in several.items()]


def entry(each: Digest, beside: Sequence[Mapping[str, Any]] = ()) -> dict[str, Any]:
    """Return what there is to say of one class; `beside` is what it was held against the others in."""
    usable = each["error"] is None
    return {
        "class": each["name"],
        "file": each["file"],
        "folder": each["name"] if usable else None,
        "sha256": each["sha256"],
        "practical": each.get("title"),
        **{key: each.get(key) for key in _OF_A_CLASS},
        "mean_percent_reach": _reach(percents([each])) if usable else None,
        "reference": each.get("reference"),
        "percent_error": _percent_error(each) if usable else None,
        "findings": list(dict.fromkeys(one["finding"] for one in each["findings"])) if usable else [],
        "findings_per_hundred": _per_hundred(each) if usable else {},
        "criteria": each.get("criteria", []),
        "decisions": each.get("decisions", 0),
        "moved": moved(each) if usable else None,
        "comparisons": list(beside),
        "error": each["error"],
    }


def _percent_error(each: Digest) -> float | None:
    """Return how far the class's centre is from its reference [%]; None where it has none."""
    if not each["reference"] or each["robust_mean"] is None:
        return None
    return float(100 * (each["robust_mean"] / each["reference"] - 1))


def _per_hundred(each: Digest) -> dict[str, float]:
    """Return code -> students with the finding in a hundred who were there."""
    there = each["students"] - each["absent"]
    return {code: 100 * count / there for code, count in each["shared"].items()} if there else {}


def _reach(percents: Sequence[float]) -> float | None:
    """Return how far a mean mark may lie from that of more students like these [%]: half a 95 % interval."""
    n = len(percents)
    return float(t_quantile(0.975, n - 1) * np.std(percents, ddof=1) / sqrt(n)) if n > 1 else None
