"""A marked class held against the list of what was planted: what was found, missed, and found beyond it."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tests.samples.folder import FOLDER
from tests.samples.plan import FINDING_NONE

Fact = tuple[str, str, str]
"""Student (empty for the class), finding, run (empty where there is none)."""


@dataclass(frozen=True)
class Comparison:
    """Three lists of facts, in the order of the sheet."""

    found: tuple[Fact, ...]
    missed: tuple[Fact, ...]
    beyond: tuple[Fact, ...]
    """Found, not planted: to be looked at, not always wrong (an overshoot leaves a run outside the set, ...)."""


def planted_facts(file: str) -> list[Fact]:
    """Return what the list says of one class file."""
    with (FOLDER / "planted.csv").open(encoding="utf-8", newline="") as handle:
        rows = [row for row in csv.DictReader(handle) if row["file"] == file]
    return [(row["student"], row["finding"], row["run"]) for row in rows if row["finding"] != FINDING_NONE]


def found_facts(results: Mapping[str, Any]) -> list[Fact]:
    """Return what a record tree (results.json) says."""
    facts = [("", each["finding"], "") for each in results["class"]["findings"]]
    for student in results["students"]:
        name = str(student["student"]).strip()
        facts += [(name, each["finding"], each["run"] or "") for each in student["findings"]]
    return facts


def compare(results: Mapping[str, Any], planted: Iterable[Fact]) -> Comparison:
    """Hold a record tree against what was planted."""
    wanted, seen = list(dict.fromkeys(planted)), list(dict.fromkeys(found_facts(results)))
    return Comparison(
        found=tuple(each for each in wanted if each in seen),
        missed=tuple(each for each in wanted if each not in seen),
        beyond=tuple(each for each in seen if each not in wanted),
    )
