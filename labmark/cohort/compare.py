"""Classes side by side: figures of each practical over all its classes. Pure: from digests to plain data.

A practical is known by its title, its equation and what is asked for. Results of different practicals are never
averaged. Where classes, or students, have different references, results are compared in per cent of the reference.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from labmark.analyse.arrays import FloatArray, finite
from labmark.analyse.components import VarianceComponent, variance_components
from labmark.analyse.precision import Precision, precision
from labmark.analyse.robust import algorithm_a

Digest = Mapping[str, Any]
WILD = 4.0
"""Students so many robust standard deviations from their class are left out of the split of the spread."""
OF_REFERENCE = "% of the reference"
"""Unit of results that are compared although their references differ."""
KNOWN_BY = ("title", "equation", "quantity", "unit")


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
    results = results_of(classes)
    robust, spread, iso = algorithm_a(results.value), components(results), _precision(results)
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
        "mean_percent": _mean(percents(classes)),
        "findings": _findings(classes),
    }


def _findings(classes: Iterable[Digest]) -> list[dict[str, Any]]:
    """Return what was found of each class, with its name."""
    return [each | {"class": one["name"]} for one in classes for each in one["findings"]]


def _precision(results: Results) -> Precision:
    """Return repeatability and reproducibility of the runs (ISO 5725-2)."""
    values, _, student = results.run_values
    return precision(values, student)


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


def _mean(values: Sequence[float]) -> float | None:
    return float(np.mean(values)) if values else None
