"""Whole classes for tests: from titres as they were read to the record tree. Figures are invented."""

from __future__ import annotations

import warnings
from functools import cache
from pathlib import Path

import numpy as np

from labmark.judge.stages import judge
from labmark.pipeline import judged_tree
from labmark.records import ClassSheet, Ledger
from labmark.tree import record_tree
from tests.build import people, run
from tests.practicals import DRAIN_CLEANER, practical

SAMPLES = Path(__file__).resolve().parent.parent / "sample_data"
SHIPPED = {
    "drain-cleaner.xlsx": None,
    "vinegar.xlsx": "vinegar",
    "limescale-remover.csv": "limescale-remover",
    "standardising.xlsx": None,
    "moss-killer.csv": "moss-killer",
    "eggshells.xlsx": None,
}
"""Sample class and the practical to mark it with; None where the workbook holds it."""


@cache
def sample(name):
    """Return the tree of a sample class, judged once for all tests, in which nothing overflows."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        return judged_tree(SAMPLES / name, SHIPPED[name], ())


def sheet_of(*students):
    return ClassSheet(people(*students), Ledger(), "class.csv", "0" * 64, ())


def tree_of(students, *changes, text=DRAIN_CLEANER, aside=()):
    judged = judge(sheet_of(*students), practical(text, *changes), aside=aside)
    return record_tree(judged, [None] * len(students))


def titres(*values, **more):
    """A student with these accurate titres [cm³]."""
    return more, [run(str(n), f"0.00 {value}") for n, value in enumerate(values, start=1)]


def scattered(count, centre=24.35, spread=0.08, seed=1, **more):
    """Students whose titres scatter normally about a centre, to the nearest 0.05 cm³; `more` may hold functions."""
    rng = np.random.default_rng(seed)
    made = []
    for place in range(count):
        own = {name: value(place) if callable(value) else value for name, value in more.items()}
        middle = centre(place) if callable(centre) else centre
        made.append(titres(*(f"{round(value * 20) / 20:.2f}" for value in middle + spread * rng.normal(size=3)), **own))
    return made
