"""The cohort as plain data: what cohort.json holds, and what page, table and workbook are written from. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import Any

import numpy as np

from labmark import __version__
from labmark.cohort import compare, moderate
from labmark.cohort.year import alike, date_of, year
from labmark.laws import t_quantile

Digest = Mapping[str, Any]
FORMAT = 1
_FIGURES = ("students", "absent", "results", "unit", "robust_mean", "robust_sd", "repeatability_sd", "mean_percent")


def cohort_tree(digests: Sequence[Digest]) -> dict[str, Any]:
    """Return the cohort from the digests of its classes, in their order."""
    groups = compare.by_practical(digests)
    told = {name: rows for group in groups for name, rows in moderate.comparisons(group).items()}
    return {
        "format": FORMAT,
        "made_by": f"labmark {__version__}",
        "classes": [entry(each, told.get(each["name"], [])) for each in digests],
        "same_files": (same := _same_files(digests)),
        "twice": [one for group in groups for one in twice(group) if one["classes"] not in same],
        "cohort": compare.over_all(digests),
        "year": year(digests),
        "practicals": [compare.figures(group) | {"sample": moderate.sample(group)} for group in groups],
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
        **{key: each.get(key) for key in _FIGURES},
        "mean_percent_reach": _reach(compare.percents([each])) if usable else None,
        "reference": each.get("reference"),
        "percent_error": _percent_error(each) if usable else None,
        "findings": list(dict.fromkeys(one["finding"] for one in each["findings"])) if usable else [],
        "findings_per_hundred": _per_hundred(each) if usable else {},
        "criteria": each.get("criteria", []),
        "decisions": each.get("decisions", 0),
        "moved": moderate.moved(each) if usable else None,
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
