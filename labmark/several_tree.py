"""The record tree of a practical with several titres: what the parts say of a student, under the names of the titres.

What there is one of in every other tree is that of the first result here (and of the last titre, as a mean titre is);
what there is several of stands beside it by name.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any

from labmark.exact import round_fraction
from labmark.judge.several import labelled
from labmark.practical import Practical
from labmark.practical.several import Series, equations_of
from labmark.records import OF_A_TITRE, OF_AN_ENDPOINT, filled_between

Tree = dict[str, Any]
Part = tuple[Series, Tree]
"""What a part says of a student, or of the class."""
BY_RESULT = ("percent_error", "z", "z_prime", "comparison", "uncertainty", "reference", "printed")
"""Keys of a student that each result has of its own."""
OF_A_RESULT = (
    *("unit", "results", "mean", "sd", "robust_mean", "robust_sd", "repeatability_sd", "reproducibility_sd"),
    *("sigma", "bands", "statistics"),
)
"""Keys of the class that each result has of its own."""


def student_tree(tree: Tree, parts: Sequence[Part]) -> Tree:
    """Return the tree of a student, `tree` being that of all parts together."""
    reading = in_order(parts)
    last, by_name = reading[-1][1], {each.name: one for each, one in reading}
    named, asked = _named(parts), {each.result: one for each, one in parts if each.asked}
    runs = [
        {**run, "label": labelled(run["label"], each), "titration": each.name}
        for each, one in reading
        for run in one["runs"]
    ]
    of_results = {
        "results": {name: one["result"] for name, one in named.items()},
        "by_result": {name: {key: one[key] for key in BY_RESULT} for name, one in named.items()},
    }
    return {
        **tree,
        "cells": [*dict.fromkeys(cell for _, one in parts for cell in one["cells"])],
        "runs": [*_runs_of_endpoints(reading, asked)] if reading[0][0].endpoints else runs,
        "inputs": _inputs(reading),
        "concordant": all(one["concordant"] for _, one in reading),
        "concordant_sets": {name: one["concordant"] for name, one in by_name.items()},
        "sets": _sets(*reading[-1]),
        "sets_of": {each.name: _sets(each, one) for each, one in reading},
        **{key: last[key] for key in OF_A_TITRE.values()},
        **{many: {name: one[key] for name, one in by_name.items()} for many, key in OF_A_TITRE.items()},
        "steps": [{**step, "result": each.result} for each, one in parts if each.asked for step in one["steps"]],
        **(of_results if named else {}),
        "claimed": _claimed(tree, by_name, named),
    }


def in_order(parts: Sequence[Part]) -> list[Part]:
    """Return the parts that say something of readings, in the order of the titres."""
    return sorted((part for part in parts if part[0].reads), key=lambda part: part[0].place)


def _named(parts: Sequence[Part]) -> dict[str, Tree]:
    """Return what is said by the names of the results; empty where there is one result."""
    return {each.result: one for each, one in parts if each.asked and each.result}


def _claimed(tree: Tree, by_name: Mapping[str, Tree], named: Mapping[str, Tree]) -> Tree:
    """Return what the student wrote; `tree` holds the first result."""
    units = {name: one["claimed"]["unit"] for name, one in named.items() if "unit" in one["claimed"]}
    return {
        **tree["claimed"],
        "mean_titre": [*by_name.values()][-1]["claimed"]["mean_titre"],
        "mean_titres": {name: one["claimed"]["mean_titre"] for name, one in by_name.items()},
        **({"results": {name: one["claimed"]["result"] for name, one in named.items()}} if named else {}),
        **({"units": units} if units else {}),
        **_unread({"mean_titre": by_name, "result": named or {"": tree}}),
    }


def _unread(of: Mapping[str, Mapping[str, Tree]]) -> Tree:
    """Return what stands where means or results cannot be read, each by its name."""
    found: dict[str, dict[str, str]] = {}
    for key, seen in of.items():
        for name, one in seen.items():
            for text in one["claimed"].get("unread", {}).get(key, {}).values():
                found.setdefault(key, {})[name] = text
    return {"unread": found} if found else {}


def _sets(series: Series, one: Tree) -> list[list[str]]:
    return [[labelled(label, series) for label in labels] for labels in one["sets"]]


def _inputs(reading: Sequence[Part]) -> list[Tree]:
    """Return the numbers of the student's own, those of a run by its label in the whole practical; each once."""
    found: list[Tree] = []
    for series, one in reading:
        for each in one["inputs"]:
            run = None if each["run"] is None else labelled(each["run"], series)
            if (given := {**each, "run": run}) not in found:
                found.append(given)
    return found


def _runs_of_endpoints(reading: Sequence[Part], asked: Mapping[str, Tree]) -> Iterator[Tree]:
    """Yield the runs, each with its reading and its titre at every endpoint; final and titre are the last one's, the
    result is the first one's."""
    labels = dict.fromkeys(run["label"] for _, one in reading for run in one["runs"])
    for label in labels:
        run = _of_endpoints({s.name: run for s, one in reading for run in one["runs"] if run["label"] == label})
        of = {name: own.get("result") for name, one in asked.items() for own in one["runs"] if own["label"] == label}
        several = {"results": of} if "" not in of else {}
        yield {**run, "result": next(iter(of.values()), None), **several} if "result" in run else run


def _of_endpoints(each: Mapping[str, Tree]) -> Tree:
    """Return a run of which each endpoint, by its name, sees a part."""
    first, *_, end = [*each.values()] * 2
    # Before which endpoints the burette was filled.
    own = {name: one for (_, old), (name, one) in pairwise(each.items()) if filled_between(old["cells"], one["cells"])}
    whys = {name: one["why"] for name, one in each.items()}
    return {
        **end,
        "initial": first["initial"],
        "readings": {name: one["final"] for name, one in each.items()},
        **({"initials": {name: one["initial"] for name, one in own.items()}} if own else {}),
        **{many: {name: one[key] for name, one in each.items()} for many, key in OF_AN_ENDPOINT.items()},
        "why": end["why"] if len({*whys.values()}) == 1 else "; ".join(map(": ".join, whys.items())),
        "cells": {
            **{key: cell for key, cell in first["cells"].items() if key not in ("final", "titre")},
            **{name: one["cells"]["final"] for name, one in each.items() if "final" in one["cells"]},
            **{f"{name} titre": one["cells"]["titre"] for name, one in each.items() if "titre" in one["cells"]},
            **{f"{name} initial": one["cells"]["initial"] for name, one in own.items()},
        },
    }


def class_tree(tree: Tree, parts: Sequence[Part]) -> Tree:
    """Return the tree of the class, `tree` being that of all parts together; a part has the unit of its result."""
    figures = {name: {key: one[key] for key in OF_A_RESULT} for name, one in _named(parts).items()}
    titres = {each.name: one["mean_titre"] for each, one in in_order(parts)}
    return {**tree, "mean_titres": titres, **({"by_result": figures} if figures else {})}


def reference_tree(reference: Tree | None, parts: Sequence[tuple[Series, Tree | None]], unit: str) -> Tree | None:
    """Return the reference of the first result, with those of all by their names."""
    named = {each.result: one for each, one in parts if each.asked and each.result}
    if not any(named.values()):
        return reference
    nothing = {"value": None, "standard_uncertainty": None, "unit": unit, "from": "class"}
    return {**(reference or nothing), "results": named}


def derived_tree(derived: Tree, practical: Practical, expected: Sequence[Fraction | None]) -> Tree:
    """Return what was derived from the practical: each titre with what it finds and what is expected of it, and the
    titres that each result rests on. `expected` are the titres [cm³] of its parts."""
    series, file = practical.series, practical.file
    finds = [{unknown.name: float(number) for unknown, number in line} for line in series.lines]
    each = [", ".join(one.shown for one in equations_of(given)) for given in file.endpoints or file.titrations]
    places = {part.series.place: titre for part, titre in zip(practical.parts, expected, strict=True)}
    titres = [places.get(place) for place in range(len(series.names))]
    return {
        **derived,
        "equation": "; ".join(f"{name}: {equations}" for name, equations in zip(series.names, each, strict=True)),
        "expected_titre": None,
        "titres": dict(zip(series.names, finds, strict=True)),
        "expected_titres": {
            name: None if titre is None else round_fraction(titre, 2)
            for name, titre in zip(series.names, titres, strict=True)
        },
        "rests_on": dict(_rests_on(practical)),
    }


def _rests_on(practical: Practical) -> Iterator[tuple[str, list[str]]]:
    """Yield each result (by its unknown where there is one result) with the names of the titres behind it."""
    for part in practical.parts:
        series = part.series
        if series.asked:
            places = sorted({series.place, *series.others(part.unknown)})
            yield series.result or part.unknown.name, [series.names[place] for place in places]
