"""Small helpers on arrays that the class statistics share: group numbers, sums by group, medians.

Labels become numbers once, and every sum by group is then one pass over the class:

    >>> number, names = codes(["Bench 2", "Bench 1", "Bench 2"])
    >>> number.tolist(), names
    ([0, 1, 0], ['Bench 2', 'Bench 1'])
"""

from collections.abc import Hashable, Iterable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

MISSING = -1
"""Group number of a value that belongs to no group."""


def floats(values: ArrayLike) -> FloatArray:
    """Return `values` as a flat array of floats; None becomes NaN."""
    return np.asarray(values, dtype=np.float64).reshape(-1)


def finite(value: float) -> float | None:
    """Return a figure as a plain float; None where it is not finite."""
    return float(value) if np.isfinite(value) else None


def codes(labels: Iterable[Any]) -> tuple[IntArray, list[Any]]:
    """Return the number of each label (0, 1, ... by first appearance) and the labels in that order.

    None, NaN and the empty string are no label: their number is -1 (`MISSING`).
    """
    known: dict[Hashable, int] = {}
    items = labels.tolist() if isinstance(labels, np.ndarray) else list(labels)
    # NaN is the one value that does not equal itself.
    labelled = [item is not None and item != "" and bool(item == item) for item in items]
    pairs = zip(items, labelled, strict=True)
    number = [known.setdefault(item, len(known)) if is_label else MISSING for item, is_label in pairs]
    return np.asarray(number, dtype=np.int64), list(known)


def sums(number: IntArray, weights: FloatArray, groups: int) -> FloatArray:
    """Return the sum of `weights` in each of `groups` groups (shape `groups`)."""
    return np.bincount(number, weights=weights, minlength=groups).astype(np.float64)


def counts(number: IntArray, groups: int) -> FloatArray:
    """Return how many values each group has, as floats (they are divided by)."""
    return np.bincount(number, minlength=groups).astype(np.float64)


def medians(values: FloatArray, number: IntArray, groups: int) -> FloatArray:
    """Return the median of each group; NaN where a group is empty."""
    order = np.lexsort((values, number))
    ordered = values[order]
    size = np.bincount(number, minlength=groups)
    start = np.concatenate(([0], np.cumsum(size)[:-1]))
    out = np.full(groups, np.nan)
    some = size > 0
    low = start[some] + (size[some] - 1) // 2
    high = start[some] + size[some] // 2
    out[some] = ordered[low] + 0.5 * (ordered[high] - ordered[low])
    return out
