"""A record tree as each of its titres, or of its results, sees it: a tree with that one alone.

Where there is one, it is the tree itself, without a name. So an output that goes through them shows one titre or five,
one result or three, by the same lines.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from labmark.practical.quantities import numbered
from labmark.records import OF_A_TITRE, OF_AN_ENDPOINT, bare_label

Tree = dict[str, Any]


def titles(names: Iterable[str], word: str) -> list[str]:
    """Return what each of several is headed with: "Result NaOH"; the word alone for the one without a name."""
    return [f"{word} {name}".rstrip() for name in names]


def as_told(student: Mapping[str, Any]) -> Tree:
    """Return a student as their own sheet shows them: by the runs that they took, where these agree as well."""
    return {**student, **student.get("by_own_choice", {})}


# --- results ---


def results_of(tree: Mapping[str, Any]) -> dict[str, Tree]:
    """Return the name of each result -> the tree as it sees it."""
    names = tree["class"].get("by_result") or ()
    return {name: _of_result(tree, name) for name in names} or {"": dict(tree)}


def _of_result(tree: Mapping[str, Any], name: str) -> Tree:
    practical, figures = tree["practical"], dict(tree["class"]["by_result"][name])
    titres = practical["derived"]["rests_on"][name]
    titre = titres[0] if len(titres) == 1 else None
    wanted = next(each for each in practical["results"] if each["name"] == name)
    _, of = numbered(wanted["expressed_as"] or wanted["of"])
    return {
        **tree,
        "practical": {
            **practical,
            "title": f"{practical['title']}: {name}",
            "unit": figures.pop("unit"),
            "result": {**wanted, "of": of},
            "reference": wanted["reference"],
        },
        "reference": ((tree["reference"] or {}).get("results") or {}).get(name),
        # The terminal's tree has no more of a student than the name.
        "students": [student_of_result(one, name, titres) if "results" in one else one for one in tree["students"]],
        "class": {
            **tree["class"],
            **figures,
            "mean_titre": tree["class"]["mean_titres"].get(titre),
            "expected_titre": practical["derived"]["expected_titres"].get(titre),
        },
    }


def student_of_result(student: Tree, name: str, titres: Sequence[str]) -> Tree:
    """Return a student as one result sees them; there is no one mean titre where it rests on several titres."""
    titre = titres[0] if len(titres) == 1 else None
    claimed = student["claimed"]
    unit = claimed.get("units", {}).get(name)
    if own := student.get("by_own_choice"):
        own = student_of_result({**student, **own, "by_own_choice": {}}, name, titres)
    return {
        **student,
        **student["by_result"][name],
        **({"by_own_choice": own} if own else {}),
        "result": student["results"][name],
        "mean_titre": student["mean_titres"].get(titre),
        "expected_titre": student["expected_titres"].get(titre),
        "concordant": all(student["concordant_sets"][each] for each in titres),
        "steps": [step for step in student["steps"] if step["result"] == name],
        "claimed": {
            "mean_titre": None,
            "result": claimed["results"][name],
            "unread": claimed.get("unread", {}),
            **({"unit": unit} if unit else {}),
        },
    }


def seen_by_results(tree: Mapping[str, Any]) -> list[tuple[Tree, list[Tree]]]:
    """Return every student with the student as each result sees them."""
    each = zip(*(one["students"] for one in results_of(tree).values()), strict=True)
    return [(student, list(seen)) for student, seen in zip(tree["students"], each, strict=True)]


# --- titres ---


def expected_and_mean(tree: Mapping[str, Any]) -> dict[str, tuple[Any, Any]]:
    """Return the name of each titre -> what is expected of it, the class's mean [cm³]."""
    means, expected = tree["class"].get("mean_titres"), tree["practical"]["derived"].get("expected_titres")
    if not means or not expected:
        return {"": (tree["class"]["expected_titre"], tree["class"]["mean_titre"])}
    return {name: (expected[name], mean) for name, mean in means.items()}


def titres_of(student: Mapping[str, Any]) -> dict[str, Tree]:
    """Return the name of each titre -> a student as it sees them: its runs, mean and what is expected."""
    names = student.get("mean_titres") or ()
    return {name: _of_titre(student, name) for name in names} or {"": dict(student)}


def _of_titre(student: Mapping[str, Any], name: str) -> Tree:
    claimed = student["claimed"]
    return {
        **student,
        "runs": [_run_of(run, name) for run in student["runs"] if run.get("titration", name) == name],
        "sets": [[label.removeprefix(f"{name} ") for label in labels] for labels in student["sets_of"][name]],
        **{key: student[many][name] for many, key in OF_A_TITRE.items()},
        "concordant": student["concordant_sets"][name],
        "claimed": {
            "mean_titre": claimed["mean_titres"][name],
            "result": None,
            "unread": claimed.get("unread", {}),
        },
    }


def endpoints_of(run: Mapping[str, Any]) -> dict[str, Tree]:
    """Return the name of each endpoint of a run -> the run as it sees it; the run itself where there is one."""
    return {name: _at_endpoint(run, name) for name in run.get("readings") or ()} or {"": dict(run)}


def _run_of(run: Tree, name: str) -> Tree:
    """Return a run as its titre sees it."""
    if "titration" not in run:
        return _at_endpoint(run, name)
    return {**run, "label": bare_label(run["label"], run["titration"])}


def _at_endpoint(run: Mapping[str, Any], name: str) -> Tree:
    ends = [run["initial"], *run["readings"].values()]
    place = [*run["readings"]].index(name)
    cells = (("final", name), ("titre", f"{name} titre"))
    return {
        **run,
        "initial": run.get("initials", {}).get(name, ends[place]),
        "final": ends[place + 1],
        **{key: run[many][name] for many, key in OF_AN_ENDPOINT.items()},
        "cells": {key: run["cells"][at] for key, at in cells if at in run["cells"]},
    }


# --- figures of the class ---


def reference_test(tree: Mapping[str, Any]) -> Tree:
    """Return the figures of the test of the reference; empty where it was not tested."""
    return tree["class"]["statistics"]["reference_test"] or {}
