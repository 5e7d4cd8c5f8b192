"""A picture of how far stated probabilities can be trusted, with the rules in common use beside the diagnosis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

from tests.bench_scores import Scores

Rule = tuple[str, float, float]
"""Name, precision, recall."""
MARKS = ("o", "s", "^")
GREYS = ("#1b4965", "#c1666b", "#6a994e")


def draw(path: Path, kinds: Mapping[str, Scores], rules: Sequence[Rule]) -> None:
    """Write an SVG: stated probability against share that was right, with counts; the rules as a table below."""
    with mpl.rc_context({"svg.hashsalt": "reliability", "svg.fonttype": "path", "font.size": 9}):
        figure = Figure(figsize=(6.4, 7.6), layout="constrained")
        curve, counts, table = figure.subplots(3, 1, height_ratios=(5, 1.4, 1.5))
        _curve(curve, kinds)
        _counts(counts, kinds)
        _table(table, rules)
        figure.savefig(path, format="svg", metadata={"Date": None})


def _curve(axes: Any, kinds: Mapping[str, Scores]) -> None:
    axes.plot([0, 1], [0, 1], color="0.6", linewidth=0.8, linestyle="--", label="as stated")
    for (name, scores), mark, colour in zip(kinds.items(), MARKS, GREYS, strict=False):
        rows = scores.odds.bins()
        # Two standard errors of a share, so that a bin of five claims isn't read like one of five hundred.
        errors = [2 * (max(right * (1 - right), 0.25 / n) / n) ** 0.5 for _, right, n in rows]
        stated, right = [p for p, _, _ in rows], [share for _, share, _ in rows]
        label = f"{name}: calibration error {scores.odds.error:.3f}"
        axes.errorbar(stated, right, errors, color=colour, marker=mark, linewidth=1, capsize=2, label=label)
    axes.set(xlim=(0, 1), ylim=(0, 1.02), xlabel="stated probability", ylabel="share that was right")
    axes.set_title("Findings at the bench, simulated classes: stated and right", loc="left")
    axes.legend(loc="upper left", frameon=False)


def _counts(axes: Any, kinds: Mapping[str, Scores]) -> None:
    width = 0.08 / max(len(kinds), 1)
    for place, ((name, scores), colour) in enumerate(zip(kinds.items(), GREYS, strict=False)):
        for p, _, n in scores.odds.bins():
            left = min(int(p * 10), 9) / 10 + 0.01 + place * width
            axes.bar(left, n, width, align="edge", color=colour, label=name)
            axes.annotate(str(n), (left + width / 2, n), ha="center", va="bottom", fontsize=6)
    axes.set(xlim=(0, 1), yscale="log", ylabel="claims", xlabel="stated probability, in tenths")
    axes.margins(y=0.3)


def _table(axes: Any, rules: Sequence[Rule]) -> None:
    axes.axis("off")
    axes.set_title("Whether a run is odd at all, on the same runs", loc="left")
    rows = [[name, f"{p:.3f}", f"{r:.3f}", f"{2 * p * r / max(p + r, 1e-12):.3f}"] for name, p, r in rules]
    table = axes.table(rows, colLabels=["", "precision", "recall", "F1"], loc="center", edges="horizontal")
    table.auto_set_font_size(False)
    table.set_fontsize(9)
