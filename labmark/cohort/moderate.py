"""What a moderator asks: which classes stand apart, which decisions moved marks, and whose work to look at. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from labmark.analyse.apart import ALPHA, ROBUST, Comparison, beside_the_others, holm
from labmark.analyse.arrays import FloatArray
from labmark.analyse.robust import algorithm_a
from labmark.cohort.compare import Digest, percent_of, results_of

FEWEST = 5
"""Students that a class must have to be held against others."""
TEN = 10
"""Students in the sample, one from each tenth of the marks."""
DOUBTFUL = 5
"""Students besides who ask most for a second look."""
Means = Mapping[str, tuple[float, float, float]]
"""Class -> (mean, standard error, degrees of freedom)."""


def comparisons(classes: Sequence[Digest]) -> dict[str, list[dict[str, Any]]]:
    """Return class -> what it was held against the other classes of its practical in; differences in per cent.

    Results and marks of all classes count together in the correction for many; teachers' decisions by themselves.
    """
    marks = _means({each["name"]: [percent_of(one) for one in each["people"]] for each in classes})
    # What was read and worked out is one family of tests; what teachers made of it is another.
    families = ({"results": _results(classes), "marks": marks}, {"decisions": _decisions(classes)})
    told: dict[str, list[dict[str, Any]]] = {each["name"]: [] for each in classes}
    for family in families:
        found = [(name, what, one) for what, means in family.items() for name, one in _beside(means)]
        corrected = holm([one.p for _, _, one in found])
        for (name, what, one), p in zip(found, corrected, strict=True):
            row = {"what": what, "difference": one.difference, "error": one.error, "p": p, "apart": p < ALPHA}
            told[name].append(row)
    return told


def _beside(means: Means) -> Iterator[tuple[str, Comparison]]:
    rows = list(means.values())
    yield from zip(means, beside_the_others(*zip(*rows, strict=True)) if len(rows) > 1 else (), strict=False)


def _results(classes: Sequence[Digest]) -> Means:
    """Return the robust centre of each class, in per cent of that of all."""
    results = results_of(classes)
    whole = algorithm_a(results.value).mean
    values = 100 * results.value / whole
    rows = zip(results.label, values.tolist(), strict=True)
    of = {name: np.array([value for _, value in own]) for name, own in groupby(rows, key=lambda row: row[0])}
    robust = {name: algorithm_a(own) for name, own in of.items() if own.size >= FEWEST}
    return _with_errors({name: (one.mean, one.sd, one.n) for name, one in robust.items()}, ROBUST)


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
