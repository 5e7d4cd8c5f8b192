"""Runs in two groups that agree within themselves and lie apart: something changed between two runs.

The burette was filled from another bottle, say, or another flask was taken for the sample: the runs before and those
after agree, and one group lies where the class does. With θ the level of that one, the other has a level of its own, as
far from θ as the bands of the table say, which is summed over: m titres that scatter by s about an unknown level have

    p = u(mean − θ) m^(−1/2) (2π s²)^(−(m − 1)/2) exp(−Σ(titre − mean)² ÷ 2 s²)

Two titres that agree where the class does not lie make a group; one alone is a mishap. So it takes three accurate runs.
"""

from __future__ import annotations

import numpy as np

from labmark.diagnose.bench_input import Flags, Floats
from labmark.diagnose.bench_model import CARELESS_FACTOR, CARELESS_SHARE, STEP, Tables
from labmark.diagnose.bench_view import Places, View
from labmark.diagnose.hypotheses import STUDENT_HYPOTHESES

LEAST = 2
"""Titres that make a group."""

_BANDS = next(h.bands for h in STUDENT_HYPOTHESES if h.shape == "two levels")


def two_levels(view: View, tables: Tables, theta: Places, good: Floats) -> Floats:
    """Return the density of the accurate runs at each level of the one group [cm³ to the minus number], (n, nodes).

    `good` is that of each run at that level, (n, k, nodes); the groups are those before and after each run in turn.
    """
    number = np.where(view.accurate, np.cumsum(view.accurate, axis=1) - 1, -1)
    count = view.accurate.sum(axis=1)
    out = np.zeros(theta.shape)
    for split in range(1, int(count.max(initial=0))):
        before, after = (number >= 0) & (number < split), number >= split
        for near, moved in ((before, after), (after, before)):
            there = ((moved.sum(axis=1) >= LEAST) & near.any(axis=1))[:, None]
            if there.any():
                out += np.where(there, _at(good, near) * _free(view, tables, theta, moved), 0.0)
    return np.asarray(out / np.maximum(2 * count - 2 * LEAST, 1)[:, None])


def _at(good: Floats, group: Flags) -> Floats:
    """Return the density of a group at each level, (n, nodes)."""
    return np.asarray(np.where(group[..., None], good, 1.0).prod(axis=1))


def _free(view: View, tables: Tables, theta: Places, group: Flags) -> Floats:
    """Return the density of a group at a level of its own, some way from each level theta, (n, nodes)."""
    size = np.maximum(group.sum(axis=1), 1)
    titre = np.where(group, view.titre, 0) * (STEP / 1000)
    mean = titre.sum(axis=1) / size
    squares = np.where(group, (titre - mean[:, None]) ** 2, 0.0).sum(axis=1)
    # The peak of the density of good runs tells how far they scatter.
    peak = (1 - CARELESS_SHARE + CARELESS_SHARE / CARELESS_FACTOR) / np.sqrt(2 * np.pi)
    scatter = peak / tables.good[view.interval, tables.centre]
    alike = (2 * np.pi * scatter**2) ** (-(size - 1) / 2) * np.exp(-squares / (2 * scatter**2)) / np.sqrt(size)
    away = np.abs(mean[:, None] - theta * (STEP / 1000))
    apart = sum(b.share * ((away >= b.low) & (away <= b.high)) / (2 * (b.high - b.low)) for b in _BANDS)
    return np.asarray(alike[:, None] * apart)


def groups_of(titres: list[int]) -> int:
    """Return after how many of the titres the change came: where the two groups agree best within themselves."""

    def squares(group: list[int]) -> float:
        return float(np.var(group)) * len(group)

    return min(range(1, len(titres)), key=lambda at: squares(titres[:at]) + squares(titres[at:]))
