"""Marks that wait, in the same words in every file: "accuracy (3): being checked", never a nought."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from labmark.outputs import numbers

Tree = Mapping[str, Any]

BEING_CHECKED = "being checked"


def waiting(student: Tree) -> str:
    """Return which of a student's marks wait: "accuracy (3), Tidy bench (2)"; empty where none does."""
    waits = (mark for mark in student["marks"] if mark.get("pending"))
    return ", ".join(f"{mark['title']} ({numbers.mark(mark['out_of'])})" for mark in waits)


def shown(mark: Tree) -> str:
    """Return a mark with what it is out of: "2 / 3", "being checked (3)", or "–" where there was nothing to mark."""
    if mark.get("pending"):
        return f"{BEING_CHECKED} ({numbers.mark(mark['out_of'])})"
    return numbers.NOTHING if mark["mark"] is None else f"{numbers.mark(mark['mark'])} / {numbers.mark(mark['out_of'])}"
