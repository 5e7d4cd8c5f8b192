"""Repeatability and reproducibility of a class, by ISO 5725-2 for unequal numbers of runs.

Every used run is turned into a result of its own; a student is the "laboratory" of the standard.

    s_r  how far two runs of one student lie apart (repeatability)
    s_L  how far the students lie apart beyond that (between students)
    s_R  sqrt(s_r² + s_L²): how far single runs of two students lie apart (reproducibility)

Limits: two single runs differ by less than 2.8 s_r (same student) or 2.8 s_R (two students) 95 times in 100.
2.8 = 1.96 × sqrt(2), as the standard rounds it.
"""

from __future__ import annotations

from collections.abc import Iterable
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
    general, dof = float(np.sum(seen.n * seen.mean)) / total, total - students
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
    mean = sums(number, array, size.size) / np.maximum(size, 1)
    square = sums(number, (array - mean[number]) ** 2, size.size)
    sd = np.sqrt(np.where(size > 1, square / np.maximum(size - 1, 1), np.nan))
    keep = np.flatnonzero(size > 0)
    return Cells(tuple(names[i] for i in keep.tolist()), mean[keep], sd[keep], size[keep].astype(np.int64))
