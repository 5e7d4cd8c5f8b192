"""What a school says once for all its practicals: tables that stand beneath those of every practical.

    [concordance]          the school's       within = 0.10, at_least = 3
    [concordance]          the practical's    within = 0.20
                           together           within = 0.20, at_least = 3

Tables are joined key by key; a list (the marking scheme, the grades) is the practical's own, or else the school's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SHARED = ("sheet", "advice", "concordance", "scores", "marks", "grades")
"""Tables and lists of a practical that a school may give for all."""

School = Mapping[str, Any]
"""The tables that stand beneath those of every practical; empty where there are none."""
NONE: School = {}


def over(school: School, practical: Mapping[str, Any]) -> dict[str, Any]:
    """Return the table of a practical with the school's beneath it. Pure."""
    beneath = {
        key: {**value, **own} if isinstance(value, Mapping) and isinstance(own, Mapping) else own
        for key, value in school.items()
        if (own := practical.get(key, value)) is not None
    }
    return {**practical, **beneath}
