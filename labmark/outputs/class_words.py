"""What the figures of a class, and of several, are called wherever they are shown, and what they mean."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

FIGURES: dict[str, tuple[str, str]] = {
    "robust_mean": ("robust mean", "centre of all results, far ones with less weight (Algorithm A)"),
    "robust_sd": ("robust standard deviation", "spread of the results, in which a few far out hardly count"),
    "repeatability_sd": ("repeatability standard deviation", "spread of one student's own runs, pooled (ISO 5725-2)"),
    "reproducibility_sd": ("reproducibility standard deviation", "spread of single runs of all students (ISO 5725-2)"),
    "sigma": ("standard deviation of the scores, σ", "what z is counted in"),
    "mean": ("mean", "plain mean of the results"),
    "sd": ("standard deviation", "plain standard deviation of the results"),
    "median": ("median", "the middle result"),
    "made": ("spread about the median", "1.483 × the median distance from the median"),
    "robust_mean_uncertainty": ("standard uncertainty of the robust mean", "1.25 s*/√p (ISO 13528:2022, 7.7.3)"),
    "repeatability_limit": ("repeatability limit", "two runs of one student differ by less, 95 times in 100 (2.8 s_r)"),
    "reproducibility_limit": ("reproducibility limit", "single runs of two students differ by less (2.8 s_R)"),
    "repeatability_of_titre": (
        "repeatability of a titre",
        "of a single titre in cm³, over all accurate runs, agreeing or not: what the budgets use",
    ),
    "shift": ("robust mean", "robust mean of all results, each against its own reference"),
    "between_students_sd": ("spread between students", "of one class, beyond that of their runs"),
    "between_classes_sd": ("spread between classes", "beyond what students and runs explain (ISO 5725-2, nested)"),
}
"""Key of a figure -> its name, what it is."""
MUCH_MORE = 10
BY_A_FEW = (
    "spread of single runs of all students; so much larger than the robust standard deviation because of a few far out"
)
"""What a spread of single runs is that is so many times the robust one."""


def named(key: str, group: Mapping[str, Any]) -> tuple[str, str]:
    """Return the name of a figure of a class (or of several), and what it is."""
    name, meaning = FIGURES[key]
    robust = group.get("robust_sd") or 0.0
    by_a_few = key == "reproducibility_sd" and 0 < MUCH_MORE * robust <= (group.get(key) or 0.0)
    return name, BY_A_FEW if by_a_few else meaning


def figure_rows(
    group: Mapping[str, Any], keys: Iterable[str], shown: Callable[[str, Any], str]
) -> list[tuple[str, str, str]]:
    """Return rows (name, figure, meaning) of the figures of a class that there are; `shown` sets that of a key."""
    there = [(key, value) for key in keys if (value := group.get(key)) is not None]
    return [(name, shown(key, value), meaning) for key, value in there for name, meaning in [named(key, group)]]
