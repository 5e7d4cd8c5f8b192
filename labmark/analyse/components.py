"""Where does the spread come from? Variance split over nested levels: class, bench, student, run.

    level     components of variance (sd)         says
    Bench     0.0004                              benches differ: solutions, apparatus, a demonstrator
    student   0.0009                              students differ: technique, own glass
    run       0.0002                              one student's runs differ: reading, last drop

Each level's sum of squares is what its means add to those of the level above (analysis of variance). Numbers of
students and runs may be unequal: the expected mean squares carry the exact coefficients, and solving them gives the
components. Estimates below 0 are set to 0: that level adds nothing that the levels below don't explain.

Intervals: the finest level's is exact (chi-squared). The others are modified large-sample intervals, with the mean
square of the level and those it is corrected by each stretched by its own degrees of freedom.

Source (from memory): Searle, Casella and McCulloch (1992), Variance Components, ch. 3 and 5 (sums of squares,
coefficients); Burdick and Graybill (1992), Confidence Intervals on Variance Components, ch. 3 (intervals; the cross
term is left out, which widens them a little).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, IntArray, codes, floats, sums

LEVEL = 0.95
"""Level of confidence of the intervals."""


class VarianceComponent(NamedTuple):
    """What one level adds to the spread, in the unit of the values."""

    level: str
    sd: float
    """Standard deviation between units of this level within one unit of the level above."""
    low: float
    high: float
    """Ends of the 95 % interval of the standard deviation."""
    share: float
    """Share of the whole variance, 0 to 1."""
    units: int
    """Units of this level (benches, students, runs)."""
    dof: int


class _Anova(NamedTuple):
    mean_square: FloatArray
    dof: FloatArray
    coefficient: FloatArray
    """coefficient[a, b]: how often the variance of level b stands in the expected mean square of level a."""
    units: IntArray


def variance_components(values: ArrayLike, levels: Mapping[str, Iterable[Any]]) -> tuple[VarianceComponent, ...]:
    """Return what each level adds to the spread, coarsest first, "run" last.

    Parameters: `values`, one a run; `levels`, name -> label of each run, coarsest first ({"Bench": ..., ...}).
    A label belongs within its coarser ones: bench 3 of two classes is two benches. Runs without a label are left out.
    So are levels without a degree of freedom (one bench; every student alone at one). Empty for fewer than two runs.
    """
    array = floats(values)
    nested = _nested(array, levels)
    use = np.isfinite(array) & np.all([node >= 0 for node in nested.values()], axis=0) if nested else np.isfinite(array)
    array = array[use]
    if array.size < 2:
        return ()
    units = {name: _renumber(node[use]) for name, node in nested.items()} | {"run": np.arange(array.size)}
    nodes = _with_freedom(units)
    table = _anova(array - array.mean(), [*nodes.values()])
    variance = np.asarray(np.linalg.solve(table.coefficient, table.mean_square), dtype=np.float64)
    whole = float(np.maximum(variance, 0).sum())
    return tuple(_component(name, a, table, variance, whole) for a, name in enumerate(nodes))


def _nested(array: FloatArray, levels: Mapping[str, Iterable[Any]]) -> dict[str, IntArray]:
    """Return the numbers of the units of every level, each told apart within the coarser ones."""
    nodes = {}
    above = np.zeros(array.size, dtype=np.int64)
    for name, labels in levels.items():
        number, _ = codes(labels)
        width = int(number.max(initial=0)) + 1
        above = np.where((number >= 0) & (above >= 0), above * width + number, -1)
        # Numbers stay small: each level multiplies them.
        above = nodes[name] = np.where(above >= 0, _renumber(above), -1)
    return nodes


def _renumber(number: IntArray) -> IntArray:
    """Return the same units numbered 0, 1, ... without gaps."""
    return np.unique(number, return_inverse=True)[1].astype(np.int64).reshape(-1)


def _with_freedom(nodes: Mapping[str, IntArray]) -> dict[str, IntArray]:
    """Leave out levels that have no more units than the level above."""
    kept, above = {}, 1
    for name, node in nodes.items():
        units = int(node.max()) + 1
        if units > above:
            kept[name], above = node, units
    return kept


def _anova(values: FloatArray, nodes: list[IntArray]) -> _Anova:
    """Return mean squares, degrees of freedom and the coefficients of the expected mean squares."""
    levels, total = len(nodes), values.size
    sizes = [np.bincount(node) for node in nodes]
    units = np.array([size.size for size in sizes], dtype=np.int64)
    uncorrected = [float(values.sum()) ** 2 / total]
    uncorrected += [float(np.sum(sums(n, values, n.max() + 1) ** 2 / s)) for n, s in zip(nodes, sizes, strict=True)]
    weights = np.array([[_weight(nodes[b], sizes[b], None, total) for b in range(levels)]])
    rows = [[_weight(nodes[b], sizes[b], (nodes[a], sizes[a]), total) for b in range(levels)] for a in range(levels)]
    expected = np.diff(np.concatenate((weights, np.array(rows))), axis=0)
    dof = np.diff(np.concatenate(([1], units))).astype(np.float64)
    return _Anova(np.diff(uncorrected) / dof, dof, expected / dof[:, None], units)


def _weight(inner: IntArray, inner_size: IntArray, outer: tuple[IntArray, IntArray] | None, total: int) -> float:
    """Return how often the inner level's variance stands in the expected Σ (sum of a unit)²/size over the outer level.

    Inner units within an outer one: Σ n_inner²/n_outer. Where the inner level is the coarser one, all of a unit shares
    its effect, and every value counts once.
    """
    if outer is None:
        return float(np.sum(inner_size.astype(np.float64) ** 2)) / total
    node, size = outer
    if size.size >= inner_size.size:
        return float(total)
    parent = np.zeros(inner_size.size, dtype=np.int64)
    parent[inner] = node
    return float(np.sum(inner_size.astype(np.float64) ** 2 / size[parent]))


def _component(name: str, a: int, table: _Anova, variance: FloatArray, whole: float) -> VarianceComponent:
    """Put one level's figures together."""
    # Each component is a weighted sum of mean squares: + its own, − what the levels below put into it.
    weight = np.linalg.inv(table.coefficient)[a]
    low, high = _interval(weight, table.mean_square, table.dof, float(variance[a]))
    share = max(float(variance[a]), 0.0) / whole if whole > 0 else 0.0
    return VarianceComponent(
        name, sqrt(max(float(variance[a]), 0.0)), sqrt(low), sqrt(high), share, int(table.units[a]), int(table.dof[a])
    )


def _interval(weight: FloatArray, ms: FloatArray, dof: FloatArray, estimate: float) -> tuple[float, float]:
    """Return the modified large-sample interval of Σ weight × mean square, not below 0."""
    from scipy.special import chdtri

    tail = (1 - LEVEL) / 2
    # chdtri gives the point with the stated chance above it.
    shrink = 1 - dof / chdtri(dof, tail)
    stretch = dof / chdtri(dof, 1 - tail) - 1
    part = weight * ms
    down = np.where(part > 0, shrink, stretch) * part
    up = np.where(part > 0, stretch, shrink) * part
    return max(0.0, estimate - sqrt(float(np.sum(down**2)))), max(0.0, estimate + sqrt(float(np.sum(up**2))))
