"""What the figures of a class, and of several, are called everywhere, and which of them the report shows."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from labmark.outputs import numbers, plots
from labmark.outputs.each import reference_test
from labmark.outputs.layout import Picture

Tree = dict[str, Any]

FIGURES: dict[str, tuple[str, str]] = {
    "robust_mean": ("robust mean", "centre of all results, far ones with less weight (Algorithm A)"),
    "robust_sd": ("robust standard deviation", "spread of the results, in which a few far out hardly count"),
    "repeatability_sd": ("repeatability standard deviation", "spread of one student’s own runs, pooled (ISO 5725-2)"),
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
    "between_students_sd": (
        "spread between students",
        "of one class, beyond that of their runs, a few far out left out",
    ),
    "between_classes_sd": (
        "spread between classes",
        "beyond what students and runs explain, a few far out left out (ISO 5725-2, nested)",
    ),
}
"""Key of a figure -> its name, what it is."""
MUCH_MORE = 10
BY_A_FEW = (
    "spread of single runs of all students; so much larger than the robust standard deviation because of a few far out"
)
"""What a spread of single runs is that is so many times the robust one."""
FAR = 3.0
"""Robust standard deviations from the class centre from which a student is named under the distribution."""

FURTHER = ("median", "made", "robust_mean_uncertainty", "repeatability_limit", "reproducibility_limit",
           "repeatability_of_titre")  # fmt: skip
"""Keys of the statistics, or of the precision among them, that are shown."""
RELATIVE = ("shift", "robust_sd", "repeatability_sd", "reproducibility_sd")
"""Keys of the figures against each one's own reference that are shown."""


def class_view(tree: Tree, picture: Picture) -> dict[str, Any]:
    """Return the class statistics and what the page makes of them; what there is not is None or empty."""
    further, test = tree["class"]["statistics"], reference_test(tree)
    return {
        **further,
        "relative": relative_figures(further.get("relative") or {}),
        "checks": test.get("checks") or [],
        "technique": technique(test),
        "far": far_out(tree, picture),
        "ordered": plots.in_order_of_work(tree, picture),
        "consistency": plots.consistency(tree),
        "grouped": [each for each in further.get("groups") or [] if each["groups"]],
        "more_figures": more_figures(further),
    }


def technique(test: Tree) -> str:
    """Return what a shift means that technique explains; empty where there is none."""
    if test.get("verdict") != "technique" or test.get("shift_titre") is None:
        return ""
    late = test["shift_titre"] > 0
    habit = "stopping a little past the endpoint" if late else "stopping a little short of the endpoint"
    size, side = numbers.fixed(abs(test["shift_titre"]), 2), "above" if late else "below"
    return (
        f"Titres lie {size} cm³ {side} what the reference gives. A habit that all share, as {habit}, does this; a "
        "wrong reference would usually be further off. Show the endpoint again before the solutions are doubted."
    )


def both_ways(tree: Tree) -> tuple[str, str] | None:
    """Return the mean mark by the reference and by the class, over the students who have both; None without doubt."""
    asked = [one for one in tree["students"] if one.get("total_by_class") is not None]
    if not asked:
        return None
    means = (sum(float(one[key]) for one in asked) / len(asked) for key in ("total_by_reference", "total_by_class"))
    by_reference, by_class = (numbers.fixed(mean, 1) for mean in means)
    return by_reference, by_class


def far_out(tree: Tree, picture: Picture) -> list[tuple[Tree, str]]:
    """Return (student, distance from the class centre) of those far from it, the furthest first."""
    group = (tree["class"]["statistics"]["relative"] or {}) if picture.differences else tree["class"]
    spread = group.get("robust_sd")
    if picture.centre is None or not spread:
        return []
    whole = 100 + picture.centre if picture.differences else picture.centre
    found = []
    for one in tree["students"]:
        value = picture.value(one)
        if value is not None and abs(value - picture.centre) >= FAR * spread:
            found.append((one, 100 * (value - picture.centre) / whole))
    found.sort(key=lambda pair: -abs(pair[1]))
    return [(one, numbers.percent(away)) for one, away in found]


def relative_figures(relative: Tree) -> list[tuple[str, str, str]]:
    """Return rows (name, figure, meaning) of a class whose bottles have references of their own."""

    def shown(key: str, value: float) -> str:
        return numbers.percent(value, 2) if key == "shift" else f"{numbers.uncertainty(value)} %"

    return figure_rows(relative, RELATIVE, shown)


def more_figures(further: Tree) -> list[tuple[str, str, str]]:
    """Return rows (name, figure, meaning) of the figures beside the usual ones."""
    there = further | (further.get("precision") or {})
    return figure_rows(there, FURTHER, lambda key, value: numbers.significant(value, 5 if key == "median" else 2))


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
