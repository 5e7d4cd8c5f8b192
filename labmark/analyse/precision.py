"""Repeatability and reproducibility of a class, by ISO 5725-2 for unequal numbers of runs.

Every used run is turned into a result of its own; a student is the "laboratory" of the standard.

    s_r  how far two runs of one student lie apart (repeatability)
    s_L  how far the students lie apart beyond that (between students)
    s_R  sqrt(s_r² + s_L²): how far single runs of two students lie apart (reproducibility)

Limits: two single runs differ by less than 2.8 s_r (same student) or 2.8 s_R (two students) 95 times in 100.
2.8 = 1.96 × sqrt(2), as the standard rounds it.

Where students stand within benches, the variance is split over all nested levels: class, bench, student, run.

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

from collections.abc import Iterable, Mapping
from math import sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, IntArray, codes, counts, floats, sums

LIMIT_FACTOR = 2.8
"""Standard deviation -> limit for the difference of two (ISO 5725-6:1994, 4.1.4: 1.96 sqrt(2), rounded)."""


class Precision(NamedTuple):
    """Precision figures of a class in the unit of the values; None where the data cannot give one."""

    mean: float | None
    """General mean, every run counting alike."""
    repeatability_sd: float | None
    """s_r; None where no student has two runs."""
    between_sd: float | None
    """s_L; 0 where the students lie no further apart than their runs; None without s_r or with one student."""
    reproducibility_sd: float | None
    """s_R; None with one student. Without any second run it is the spread of the single runs."""
    repeatability_limit: float | None
    """2.8 s_r."""
    reproducibility_limit: float | None
    """2.8 s_R."""
    dof: int
    """Degrees of freedom of s_r: runs less students."""
    n: int
    """How many runs."""
    p: int
    """How many students."""
    mean_runs: float | None
    """The average number of runs that unequal numbers come to (n with two bars in the standard)."""


class Cells(NamedTuple):
    """Mean, standard deviation and number of runs of each student, in order of first appearance."""

    names: tuple[Any, ...]
    mean: FloatArray
    sd: FloatArray
    """NaN for a student with one run."""
    n: IntArray


def precision(values: ArrayLike, group: Iterable[Any]) -> Precision:
    """Return repeatability and reproducibility of `values`, one a run, with `group` the student of each run.

    s_r² = Σ(n_i − 1)s_i² / Σ(n_i − 1);  s_d² = Σ n_i(m_i − m)² / (p − 1);  n̿ = (N − Σn_i²/N)/(p − 1);
    s_L² = max(0, (s_d² − s_r²)/n̿);  s_R² = s_r² + s_L².

    Runs without a value or a student are left out. Source: ISO 5725-2:1994, 7.4.
    """
    seen = cells(values, group)
    total, students = int(seen.n.sum()), seen.n.size
    if not total:
        return Precision(None, None, None, None, None, None, 0, 0, 0, None)
    # From the first one on, so that what is alike is so to the last bit.
    general = float(seen.mean[0] + np.sum(seen.n * (seen.mean - seen.mean[0])) / total)
    dof = total - students
    repeat = float(np.nansum((seen.n - 1) * seen.sd**2)) / dof if dof else None
    average, between, both = float(total), None, None
    if students > 1:
        average = (total - float(np.sum(seen.n**2)) / total) / (students - 1)
        square = float(np.sum(seen.n * (seen.mean - general) ** 2)) / (students - 1)
        between = None if repeat is None else max(0.0, (square - repeat) / average)
        # With single runs the spread of the students' runs is that of reproducibility itself.
        both = square if repeat is None or between is None else repeat + between
    s_r, s_l, s_big = (None if variance is None else sqrt(variance) for variance in (repeat, between, both))
    limit_r, limit_big = (None if sd is None else LIMIT_FACTOR * sd for sd in (s_r, s_big))
    return Precision(general, s_r, s_l, s_big, limit_r, limit_big, dof, total, students, average)


def cells(values: ArrayLike, group: Iterable[Any]) -> Cells:
    """Return each student's mean, standard deviation and number of runs (students with no run left out)."""
    array = floats(values)
    number, names = codes(group)
    use = np.isfinite(array) & (number >= 0)
    array, number = array[use], number[use]
    size = counts(number, len(names))
    first = np.zeros(size.size)
    first[number[::-1]] = array[::-1]
    # From each one's first value on, so that values that are alike have no spread, to the last bit.
    mean = first + sums(number, array - first[number], size.size) / np.maximum(size, 1)
    square = sums(number, (array - mean[number]) ** 2, size.size)
    sd = np.sqrt(np.where(size > 1, square / np.maximum(size - 1, 1), np.nan))
    keep = np.flatnonzero(size > 0)
    return Cells(tuple(names[i] for i in keep.tolist()), mean[keep], sd[keep], size[keep].astype(np.int64))


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
    units = {name: codes(node[use])[0] for name, node in nested.items()} | {"run": np.arange(array.size)}
    nodes = _with_freedom(units)
    table = _anova(array - array.mean(), [*nodes.values()])
    variance = np.asarray(np.linalg.solve(table.coefficient, table.mean_square), dtype=np.float64)
    whole = float(np.maximum(variance, 0).sum())
    return tuple(_component(name, a, table, variance, whole) for a, name in enumerate(nodes))


def _nested(array: FloatArray, levels: Mapping[str, Iterable[Any]]) -> dict[str, IntArray]:
    """Return the numbers of the units of every level, each told apart within the coarser ones."""
    nodes: dict[str, IntArray] = {}
    above = [0] * array.size
    for name, labels in levels.items():
        own = zip(above, codes(labels)[0].tolist(), strict=True)
        nodes[name], _ = codes([(of, number) if of >= 0 and number >= 0 else None for of, number in own])
        above = nodes[name].tolist()
    return nodes


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
    within = [np.zeros(values.size, dtype=np.int64), *nodes]  # the whole, and each level in it
    sizes = [np.bincount(node) for node in within]
    units = np.array([size.size for size in sizes], dtype=np.int64)
    squares = [float(np.sum(sums(n, values, s.size) ** 2 / s)) for n, s in zip(within, sizes, strict=True)]
    expected = np.diff([[_weight(inner, outer) for inner in nodes] for outer in within], axis=0)
    dof = np.diff(units).astype(np.float64)
    return _Anova(np.diff(squares) / dof, dof, expected / dof[:, None], units[1:])


def _weight(inner: IntArray, outer: IntArray) -> float:
    """Return how often the inner level's variance stands in the expected Σ (sum of a unit)²/size over the outer level.

    Inner units within an outer one: Σ n_inner²/n_outer. Where the inner level is the coarser one, all of a unit shares
    its effect, and every value counts once.
    """
    size, whole = np.bincount(inner).astype(np.float64), np.bincount(outer)
    if whole.size >= size.size:
        return float(inner.size)
    parent = np.zeros(size.size, dtype=np.int64)
    parent[inner] = outer
    return float(np.sum(size**2 / whole[parent]))


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
