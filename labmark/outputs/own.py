"""The students' own numbers in words: "Mass 1.423 g"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from labmark.units import shown_unit

Tree = Mapping[str, Any]


def heading(given: Tree, practical: Tree) -> str:
    """Return what a number of the students' own is called: its column, or else its key."""
    said: Any = practical
    for part in given["name"].split("."):
        said = said.get(part, {})
    return str(said.get("column") or given["name"].rpartition(".")[2].capitalize())


def own_words(student: Tree, practical: Tree, run: str | None = None) -> list[str]:
    """Return the own numbers of a student (with `run` of a run) in words."""
    return [
        f"{heading(each, practical)} {each['value']} {shown_unit(each['unit'])}".strip()
        for each in student["inputs"]
        if each["run"] == run
    ]
