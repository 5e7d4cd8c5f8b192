"""Solutions and places over many classes: references in doubt, and what is off wherever it stood. Pure.

A class that agrees with itself and not with its reference puts it in doubt (`analyse/reference.py`); how many of the
classes that are held against one value do so tells a bottle from a bench. What stood in several classes, as Bottle A,
is held against what stood beside it in the same classes, so that it does not matter how these differ:

    Bottle A, 1.2 % low, with six of 24 students in each of six classes: in one class it stands out once in four times,
    in all together nine times in ten (simulated, `tests/test_solutions.py`)

Each result is taken over the middle of its class, and that is found once more without the shifts of the groups that
stand out, until they are the same ones twice.
"""

from collections.abc import Mapping, Sequence
from math import nan
from statistics import median
from typing import Any

import numpy as np

from labmark.analyse.arrays import FloatArray, codes
from labmark.analyse.groups import MOST_ROUNDS, GroupShift, group_shifts
from labmark.analyse.robust import algorithm_a

Digest = Mapping[str, Any]
Labels = dict[str, list[str | None]]
"""Grouping -> name of each student's group; None where nothing else of the grouping stood in the class."""


def references(classes: Sequence[Digest]) -> list[dict[str, Any]]:
    """Return the references of a practical that classes put in doubt, the one that most of them doubt first.

    `percent` are the ends of how far the centres of those classes lie from it, `of` all that are held against it.
    """
    doubts: dict[float, dict[str, float]] = {}
    for each in classes:
        for found in each["findings"]:
            if found["finding"] == "reference-doubtful":
                evidence = found["evidence"]
                doubts.setdefault(evidence["reference"], {})[each["name"]] = evidence["shift_percent"]
    rows = [
        {
            "reference": value,
            # Which of several results it is a reference of, the finding does not say.
            "unit": classes[0]["unit"] if len(classes[0]["quantity"]) == 1 else None,
            "in_doubt": list(percent),
            "of": [each["name"] for each in classes if each["name"] in percent or value in each["references"]],
            "percent": [min(percent.values()), max(percent.values())],
        }
        for value, percent in doubts.items()
    ]
    return sorted(rows, key=lambda row: (-len(row["in_doubt"]), -max(map(abs, row["percent"])), row["reference"]))


def across(classes: Sequence[Digest]) -> list[dict[str, Any]]:
    """Return the groups that stood in several classes and differ from those beside them there, the furthest off first.

    The chance of naming any of a practical in which none is off is that of `group_shifts`, 1 %.
    """
    people = [(each["name"], one) for each in classes for one in each["people"] if one["result"] is not None]
    names, labels = [name for name, _ in people], _labels(people)
    stood: dict[tuple[str, str], dict[str, None]] = {}
    for grouping, own in labels.items():
        for name, label in zip(names, own, strict=True):
            if label is not None:
                stood.setdefault((grouping, label), {})[name] = None
    # A per cent of the result in cm³ of titre, as the classes have it.
    titres = [each["cm3_per_percent"] for each in classes if each["cm3_per_percent"]]
    if not titres or all(len(of) == 1 for of in stood.values()):
        return []
    known = all(one["reference"] for _, one in people)
    held = np.array([one["result"] / (one["reference"] if known else 1.0) for _, one in people])
    shifted = _shifted(held, names, labels, 100 * median(titres), known=known)
    found = [each for each in shifted if len(stood[each.grouping, each.name]) > 1]
    return [
        {"group": each.group, "classes": [*stood[each.grouping, each.name]], "students": each.n}
        | {key: getattr(each, key) for key in ("effect_percent", "effect_titre", "p", "two_groups", "same_as")}
        for each in sorted(found, key=lambda each: -abs(each.statistic))
    ]


def _labels(people: Sequence[tuple[str, Digest]]) -> Labels:
    """Return the groups of all students, those of classes left out in which a grouping has but one."""
    headings = dict.fromkeys(heading for _, one in people for heading in one["groups"])
    there: dict[tuple[str, str], set[str]] = {}
    for name, one in people:
        for heading, label in one["groups"].items():
            there.setdefault((name, heading), set()).add(label)
    return {
        heading: [
            one["groups"].get(heading) if len(there.get((name, heading), ())) > 1 else None for name, one in people
        ]
        for heading in headings
    }


def _shifted(held: FloatArray, names: Sequence[str], labels: Labels, titre: float, *, known: bool) -> list[GroupShift]:
    """Return the groups that differ from those beside them in their classes.

    `known`: results are over their references, so that of two groups the one further from these is named.
    """
    shift, before = np.ones(held.size), set[str]()
    for _ in range(MOST_ROUNDS):
        middles = _middles(held / shift, names)
        anchor = float(np.median(1 / middles)) if known else 1.0
        groupings = group_shifts(held / middles, labels, titre, reference=anchor)
        found = [each for grouping in groupings for each in grouping.groups if each.shifted]
        if (named := {each.group for each in found}) == before:
            break
        before, shift = named, np.ones(held.size)
        for each in found:
            inside = np.array([label == each.name for label in labels[each.grouping]])
            shift[inside] *= 1 + each.effect_percent / 100
    return found


def _middles(held: FloatArray, names: Sequence[str]) -> FloatArray:
    """Return the robust centre of each student's class."""
    number, _ = codes(names)
    classes = np.split(held[np.argsort(number, kind="stable")], np.cumsum(np.bincount(number))[:-1])
    return np.array([algorithm_a(each).mean or nan for each in classes])[number]
