"""The record tree of a practical with several titres: what the parts say of a student, under the names of the titres.

What there is one of in every other tree is that of the first result here (and of the last titre, as a mean titre is);
what there is several of stands beside it by name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from labmark.joins.several import headed, labelled, series_of
from labmark.practical.several import Series

Tree = dict[str, Any]
Part = tuple[Series, Tree]
"""What a part says of a student, or of the class."""
BY_RESULT = ("percent_error", "z", "z_prime", "comparison", "uncertainty", "reference", "printed")
"""Keys of a student that each result has of its own."""
OF_A_RESULT = ("mean", "sd", "robust_mean", "robust_sd", "repeatability_sd", "reproducibility_sd", "sigma", "bands")
"""Keys of the class that each result has of its own."""


def student_tree(tree: Tree, parts: Sequence[Part]) -> Tree:
    """Return the tree of a student, `tree` being that of all parts together."""
    reading = sorted((part for part in parts if part[0].reads), key=lambda part: part[0].place)
    series, last = reading[-1]
    asked = [part for part in parts if part[0].asked]
    named = {each.result: one for each, one in asked if each.result}
    by_name = {each.name: one for each, one in reading}
    claimed = {"mean_titre": last["claimed"]["mean_titre"], "result": asked[0][1]["claimed"]["result"]}
    claimed["mean_titres"] = {name: one["claimed"]["mean_titre"] for name, one in by_name.items()}
    if named:
        claimed["results"] = {name: one["claimed"]["result"] for name, one in named.items()}
    return {
        **tree,
        "runs": [*_runs_of_endpoints(reading)] if series.endpoints else [*_runs_of_titrations(reading)],
        "concordant": all(one["concordant"] for _, one in reading),
        "concordant_sets": {name: one["concordant"] for name, one in by_name.items()},
        "sets": last["sets"],
        "mean_titre": last["mean_titre"],
        "mean_titres": {name: one["mean_titre"] for name, one in by_name.items()},
        "span": last["span"],
        "spans": {name: one["span"] for name, one in by_name.items()},
        "expected_titre": last["expected_titre"],
        "expected_titres": {name: one["expected_titre"] for name, one in by_name.items()},
        "steps": [{**step, "result": each.result} for each, one in asked for step in one["steps"]],
        **({"results": {name: one["result"] for name, one in named.items()}} if named else {}),
        **({"by_result": {name: {key: one[key] for key in BY_RESULT} for name, one in named.items()}} if named else {}),
        "claimed": claimed,
        "feedback": {**tree["feedback"], "summary": " ".join(_summaries(tree, asked))},
    }


def _summaries(tree: Tree, asked: Sequence[Part]) -> Iterator[str]:
    """Yield what is said of each result; of an absent student it is said once."""
    if tree["absent"]:
        yield tree["feedback"]["summary"]
        return
    for series, one in asked:
        yield headed(one["feedback"]["summary"], series.result or series.name)


def _runs_of_endpoints(reading: Sequence[Part]) -> Iterator[Tree]:
    """Yield the runs, each with its reading and its titre at every endpoint; final and titre are the last one's."""
    (_, first), (_, last) = reading[0], reading[-1]
    for place, run in enumerate(first["runs"]):
        each = {series.name: one["runs"][place] for series, one in reading}
        end = last["runs"][place]
        cells = {key: cell for key, cell in run["cells"].items() if key not in ("final", "titre")}
        cells |= {name: one["cells"]["final"] for name, one in each.items() if "final" in one["cells"]}
        cells |= {f"{name} titre": one["cells"]["titre"] for name, one in each.items() if "titre" in one["cells"]}
        yield {
            **end,
            "initial": run["initial"],
            "readings": {name: one["final"] for name, one in each.items()},
            "titres": {name: one["titre"] for name, one in each.items()},
            "claimed_titres": {name: one["claimed_titre"] for name, one in each.items()},
            "used_for": {name: one["used"] for name, one in each.items()},
            "why": "; ".join(f"{name}: {one['why']}" for name, one in each.items())
            if len({one["why"] for one in each.values()}) > 1
            else end["why"],
            "likely": end["likely"],
            "cells": cells,
        }


def _runs_of_titrations(reading: Sequence[Part]) -> Iterator[Tree]:
    for series, one in reading:
        for run in one["runs"]:
            yield {**run, "label": labelled(run["label"], series), "titration": series.name}


def class_tree(tree: Tree, parts: Sequence[Part]) -> Tree:
    """Return the tree of the class, `tree` being that of all parts together."""
    named = {each.result: one for each, one in parts if each.asked and each.result}
    figures = {name: {key: one[key] for key in ("results", *OF_A_RESULT)} for name, one in named.items()}
    titres = {each.name: one["mean_titre"] for each, one in parts if each.reads}
    return {**tree, "mean_titres": titres, **({"by_result": figures} if named else {})}


def reference_tree(reference: Tree | None, parts: Sequence[tuple[Series, Tree | None]]) -> Tree | None:
    """Return the reference of the first result, with those of all by their names."""
    named = {each.result: one for each, one in parts if each.asked and each.result}
    first = reference or next((one for one in named.values() if one is not None), None)
    return None if first is None else {**first, "results": named} if named else first


def derived_tree(derived: Mapping[str, Any], series: Series) -> Tree:
    """Return what was derived from the practical: each titre with what it finds, and no one expected titre."""
    finds = [{unknown.name: float(number) for unknown, number in line} for line in series.lines]
    return {**derived, "expected_titre": None, "titres": dict(zip(series.names, finds, strict=True))}


__all__ = ["class_tree", "derived_tree", "reference_tree", "series_of", "student_tree"]
