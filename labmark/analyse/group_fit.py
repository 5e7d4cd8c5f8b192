"""Centres of groups with one common spread, and which of them stand apart: the arithmetic behind `groups`.

`centre`, `size` and the like have one place a group.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labmark.analyse.arrays import BoolArray, FloatArray, IntArray, counts, medians, sums, t_quantile
from labmark.analyse.robust import CLIP, MAD_FACTOR, SD_FACTOR

TOLERANCE = 1e-9
"""The joint fit stops when no centre moves by more than this share of the spread: far below what a test can tell."""

MOST_ITERATIONS = 2000

ERROR_FACTOR = 1.1
"""Standard error of a centre = 1.1 s*/sqrt(n). For a normal sample it is 1.02 (Algorithm A's mean is 96 % as good as
the mean: Huber 1964, Ann. Math. Stat. 35, 73); the rest allows for the few far out. ISO's 1.25 is the median's."""

AS_FAR = 0.8
"""Groups at least this share as far out as the furthest are judged with it. One bad group of three makes the others
seem half as far out, so that the share must lie above a half."""

GROSS = 5.0
"""A result so many spreads from the median of its own group counts neither for the centre nor for the spread: with a
fifth of the class grossly off, pulling them in is not enough."""

AGREEING, AGREE_AT_LEAST = 2, 3
"""So many times as many students of a group must share its shift as contradict it, and so many in all: of two who
overshoot and two who don't, the centre lies between, and tells of neither."""

APART = 1.5
"""A student shares a shift within half of it of the group's centre, or within so many spreads."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Robust centres of groups and the spread within them."""

    centre: FloatArray
    size: FloatArray
    """Students of each group."""
    counted: FloatArray
    """Those that are not grossly off."""
    spread: float
    dof: float
    values: FloatArray
    number: IntArray


@dataclass(frozen=True, slots=True)
class Terms:
    """What all groups of a class are judged by."""

    looked_at: int
    """How many groups there are, over all groupings."""
    smallest: float
    """Smallest effect that counts, in the unit of the results."""
    gross: float
    """Nobody is grossly off nearer than this to the median of the group."""
    anchor: float
    """Where results should lie; of groups that differ only from one another, the one further from it is named."""


@dataclass(frozen=True, slots=True)
class Compared:
    """Each group against the groups that are not shifted, itself left out."""

    others: FloatArray
    others_n: FloatArray
    others_groups: IntArray
    error: FloatArray
    """Standard error of own centre less others."""
    statistic: FloatArray
    shifted: BoolArray


def fit(values: FloatArray, number: IntArray, groups: int, least: float = 0.0) -> Fit:
    """Return the joint fit of `groups` groups; `number` gives the group of each value.

    Values grossly off, and further than `least` from the median of their group, are left out.
    """
    kept = _not_gross(values, number, groups, least)
    centre, spread = joint_fit(values[kept], number[kept], groups)
    counted = counts(number[kept], groups)
    return Fit(centre, counts(number, groups), counted, spread, float(kept.sum() - groups), values, number)


def _not_gross(values: FloatArray, number: IntArray, groups: int, least: float) -> BoolArray:
    """Return which values are not grossly off; a group of which no more than half would be left stays whole."""
    away = np.abs(values - medians(values, number, groups)[number])
    spread = _median_spread(away, groups)
    near = away <= max(GROSS * spread, least)
    whole = 2 * counts(number[near], groups) <= counts(number, groups)
    return np.asarray(near | whole[number], dtype=bool)


def _median_spread(away: FloatArray, groups: int) -> float:
    """Return the spread that distances from their group's median tell.

    They are short in small groups: a median sits on a value.
    """
    return MAD_FACTOR * float(np.median(away)) * float(np.sqrt(away.size / max(away.size - groups, 1)))


def joint_fit(values: FloatArray, number: IntArray, groups: int) -> tuple[FloatArray, float]:
    """Return a robust centre for each group and one robust spread for all, iterated to the fixed point.

    Algorithm A's step with many centres: values further than 1.5 s* from their group's centre are pulled in to there;
    centre = mean of the group; s* = 1.134 sqrt(Σ(pulled − centre)²/(values − groups)).
    `number` gives the group (0 to groups − 1) of each value; none is empty.
    """
    size = counts(number, groups)
    start = medians(values, number, groups)
    away = values - start[number]
    centre = np.zeros(groups)
    dof = max(values.size - groups, 1)
    classical = float(np.sqrt(np.sum((away - (sums(number, away, groups) / size)[number]) ** 2) / dof))
    spread = _median_spread(np.abs(away), groups)
    spread = spread if spread > 1e-9 * classical else classical
    for _ in range(MOST_ITERATIONS):
        edge = CLIP * spread
        pulled = np.clip(away, centre[number] - edge, centre[number] + edge)
        new = sums(number, pulled, groups) / size
        wide = SD_FACTOR * float(np.sqrt(np.sum((pulled - new[number]) ** 2) / dof))
        moved = max(float(np.abs(new - centre).max()), abs(wide - spread))
        centre, spread = new, wide
        if moved <= TOLERANCE * spread:
            break
    return start + centre, spread


def compare(groups: Fit, critical: float, terms: Terms) -> Compared:
    """Name the groups shifted beyond the critical t, the furthest first; each is left out of what the next are held to.

    So is a group that is far off without its students sharing it, but it is not named.
    """
    shifted = np.zeros(groups.centre.size, dtype=bool)
    aside = shifted.copy()
    while True:
        found = _against(groups, shifted, ~shifted & ~aside)
        effect = np.abs(groups.centre - found.others)
        beyond = ~shifted & ~aside & (np.abs(found.statistic) > critical) & (effect >= terms.smallest)
        if not beyond.any() or np.count_nonzero(~shifted & ~aside) < 2:
            return found
        far = _worst(groups, np.abs(found.statistic), beyond, shifted | aside, terms)
        agreeing = _agreeing(groups, found.others)
        shifted, aside = shifted | (far & agreeing), aside | (far & ~agreeing)


def critical_t(alpha: float, looked_at: int, dof: float) -> float:
    """Return the two-sided critical t, the chance divided among the groups looked at (Bonferroni)."""
    return float(t_quantile(1 - alpha / (2 * max(looked_at, 1)), max(dof, 1.0)))


def _agreeing(groups: Fit, others: FloatArray) -> BoolArray:
    """Return in which groups enough students share the shift: half of them, and twice as many as contradict it.

    Those far out on its other side do neither.
    """
    effect = groups.centre - others
    away = (groups.values - groups.centre[groups.number]) * np.where(effect < 0, -1, 1)[groups.number]
    reach = np.maximum(np.abs(effect) / 2, APART * groups.spread)[groups.number]
    share = counts(groups.number[np.abs(away) <= reach], effect.size)
    contradict = counts(groups.number[away < -reach], effect.size)
    enough = (share >= AGREE_AT_LEAST) & (share >= AGREEING * contradict) & (2 * share >= groups.size)
    return np.asarray(enough, dtype=bool)


def _against(groups: Fit, shifted: BoolArray, counted: BoolArray) -> Compared:
    """Hold each group against the mean of the others that are counted, each student counting alike.

    A group that has only others beside it is held against those.
    """
    good = _others(groups, counted)
    any_ = _others(groups, np.ones_like(shifted))
    others, others_n, others_groups = (np.where(good[1] > 0, g, a) for g, a in zip(good, any_, strict=True))
    error = ERROR_FACTOR * groups.spread * np.sqrt(1 / groups.counted + 1 / np.maximum(others_n, 1))
    effect = groups.centre - others
    # Without any spread, any difference at all is beyond chance.
    never = np.where(effect == 0, 0.0, np.copysign(np.inf, effect))
    statistic = np.divide(effect, error, out=never, where=error > 0)
    return Compared(others, others_n, others_groups.astype(np.int64), error, statistic, shifted)


def _others(groups: Fit, counted: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return, for each group, mean, students and number of the other groups that are counted."""
    weight = np.where(counted, groups.size, 0.0)
    n = weight.sum() - weight
    # Distances from one centre keep the last digits where all centres are nearly alike.
    away = groups.centre - groups.centre[0]
    mean = groups.centre[0] + (np.sum(weight * away) - weight * away) / np.maximum(n, 1)
    return mean, n, np.count_nonzero(counted) - counted.astype(np.float64)


def _worst(groups: Fit, distance: FloatArray, beyond: BoolArray, out: BoolArray, terms: Terms) -> BoolArray:
    """Return which groups to name next: the furthest and any about as far, if they are the lesser part of the class.

    Where they are half of it or more, the groups only differ from one another: the one furthest from where results
    should lie is named.
    """
    furthest = float(distance[beyond].max())
    far = beyond & (distance >= (AS_FAR * furthest if np.isfinite(furthest) else furthest))
    if 2 * groups.size[far].sum() < groups.size[~out].sum():
        return far
    off = np.where(far, np.abs(groups.centre - terms.anchor), -1.0)
    return np.asarray(np.arange(off.size) == int(np.argmax(off)), dtype=bool)
