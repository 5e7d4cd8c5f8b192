"""The teacher's decisions in the report: how far they moved marks, and each of them in words."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labmark.outputs import numbers
from labmark.outputs.decision_rows import said, shown, standing
from labmark.outputs.rows import CLASS

Tree = Mapping[str, Any]


def moderation(tree: Tree) -> list[dict[str, Any]]:
    """Return a row for each criterion on which the teacher decided: how many, up, down, by how much, or by hand."""
    rows: dict[str, dict[str, Any]] = {}
    for mark in (mark for one in tree["students"] if not one.get("excused") for mark in one["marks"]):
        if "scheme_mark" in mark and mark["mark"] is not None:
            new = {"title": mark["title"], "up": 0, "down": 0, "open": 0, "sum": 0}
            row, scheme = rows.setdefault(mark["criterion"], new), mark["scheme_mark"]
            way = "open" if scheme is None else "up" if mark["mark"] > scheme else "down"
            row[way] += mark["mark"] != scheme
            row["sum"] += 0 if scheme is None else Decimal(str(mark["mark"])) - Decimal(str(scheme))
    return [row | {"sum": f"{row['sum']:+g}".replace("-", numbers.MINUS)} for row in rows.values()]


def listed(tree: Tree) -> list[dict[str, Any]]:
    """Return every decision in words, those to be looked at again first."""
    number = {one["student"]: one["number"] for one in tree["students"]}
    shared = (each for each in tree["decisions"] if each["what"] != "note")
    ordered = sorted(shared, key=lambda each: not each["stale"])
    return [
        {
            "student": each["student"] or CLASS,
            "number": number.get(each["student"]),
            "what": said(each),
            "was": shown(each["was"]),
            "value": shown(each["value"]),
            "stale": each["stale"],
            "standing": standing(each),
        }
        for each in ordered
    ]
