"""Burettes that were not refilled: a final reading is the initial reading of the next run, so each checks the other.

Written down twice, or read again to within one reading interval. Where a student's other readings chain like that, and
25.35 is followed by 24.35, one of the two was misread by 1.00, and the titres say which. Where 24.35 is followed by
24.35, no misreading of this one alone would leave them alike: a titre 1.00 too high is then an overshoot. Only a
reading misread once and copied does, and then two titres are out by as much in opposite directions; the finding is
that of the run which the reading ended, for the next run's was copied from it.

With c the chance that this student did not refill, K the chance of reading the level alike twice, and g that of a
burette filled to the next reading n, a reading r stands beside n with the likelihood

    P(n | r) = c K(n − r) + (1 − c) g(n)          and a misreading of r for r' gains P(n | r') ÷ P(n | r)
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from labmark.diagnose.bench_input import Flags, Floats, Ints
from labmark.diagnose.bench_misread import WAYS, ends
from labmark.diagnose.hypotheses import BY_NAME

SAME, NEXT = 0.85, 0.06
"""K: the level read alike twice, or one reading interval higher or lower (common practice, no source)."""
CHAINED_BEFORE = (0.3, 1.5)
"""Chance that a burette was not refilled before a run: as if 0.3 of 1.5 runs of the student had been seen so."""
TO_ZERO, NEAR_ZERO, NEAR = 0.45, 0.45, 3000
"""g: burettes are filled to the zero, or to within 3 cm³ [µL] of it; the rest of the cases anywhere (the same)."""
ZERO_MISREAD = 0.1
"""An initial reading of 0.00 is set rather than read: it is misread this much more seldom (the same)."""

_BANDS = BY_NAME["misread-division"].bands
WHOLES = np.array([sign * band.low for band in _BANDS for sign in (1, -1)])
"""Whole numbers by which a titre may be out [cm³],"""
WHOLE_SHARES = np.array([band.share / 2 for band in _BANDS for _ in (1, -1)])
"""and how often."""


class Links(NamedTuple):
    """What readings that chain say about misreadings of one of them."""

    whole: Floats
    """Factor on the chance that a titre is out by each of WHOLES, 1 where nothing is known, (n, k, wholes + 1)."""
    final_share: Floats
    """Share of it in which the final reading was misread, (n, k, wholes)."""
    ways: Floats
    """Factor on the chance that a run was written in each other way, (n, k, ways)."""
    copied: Flags
    """The final reading is the next run's initial reading, (n, k)."""
    either: Flags
    """The final reading and the next run's initial one differ, and either may be misread for that, (n, k)."""


def refilled(first: Ints, unit: Ints | int, capacity: float) -> Floats:
    """Return the chance that a refilled burette, read to `unit`, stands at an initial reading [µL]."""
    near = np.where(first <= NEAR, NEAR_ZERO * unit / NEAR, 0.0)
    anywhere = (1 - TO_ZERO - NEAR_ZERO) * unit / capacity
    return np.asarray(np.where(first == 0, TO_ZERO, near) + anywhere)


class Readings(NamedTuple):
    """The readings of runs, those of each side by side."""

    low: Ints
    """Initial reading, reversed ones put right, (n, k) [µL]."""
    high: Ints
    """Final reading, likewise, (n, k) [µL]."""
    single: Flags
    """The run is usable and its titre is the difference of these two readings, (n, k)."""
    unit: int
    """Reading interval expected [µL]."""
    top: float
    """End of the scale [µL]."""


class _Neighbours:
    """The reading before each initial reading and after each final one, and how likely they are."""

    def __init__(self, of: Readings) -> None:
        self.of = of
        pair = of.single[:, :-1] & of.single[:, 1:]
        same = pair & (np.abs(of.low[:, 1:] - of.high[:, :-1]) <= of.unit) & (of.low[:, 1:] > 0)
        self.copied = np.concatenate([same, np.zeros((pair.shape[0], 1), np.bool_)], axis=1)
        others = pair.sum(axis=1, keepdims=True) - pair
        alike = same.sum(axis=1, keepdims=True) - same
        self.chance = (CHAINED_BEFORE[0] + alike) / (CHAINED_BEFORE[1] + others)
        self.pair, self.refilled = pair, refilled(of.low[:, 1:], of.unit, of.top)
        self.base = self._likelihood(of.high[:, :-1], of.low[:, 1:])

    def _likelihood(self, last: Ints, first: Ints) -> Floats:
        away = np.abs(first - last)
        again = np.where(away == 0, SAME, np.where(away <= self.of.unit, NEXT, 0.0))
        return np.asarray(self.chance * again + (1 - self.chance) * self.refilled)

    def gain(self, low: Ints, high: Ints) -> tuple[Floats, Floats]:
        """Return what initial, and final readings that stood for `low` and `high` gain, each (n, k)."""
        before = np.where(self.pair, self._likelihood(self.of.high[:, :-1], low[:, 1:]) / self.base, 1.0)
        after = np.where(self.pair, self._likelihood(high[:, :-1], self.of.low[:, 1:]) / self.base, 1.0)
        one = np.ones((low.shape[0], 1))
        return np.concatenate([one, before], axis=1), np.concatenate([after, one], axis=1)


def links(of: Readings) -> Links:
    """Return what the readings of students say, by themselves, about misreadings."""
    beside = _Neighbours(of)
    out = np.rint(1000 * WHOLES).astype(np.int64).tolist()
    by_whole = [beside.gain(of.low + each, of.high - each) for each in out]
    by_way = [beside.gain(*ends(way, of.low, of.high)) for way in WAYS]
    factors = [_whole(of, gain, each) for gain, each in zip(by_whole, out, strict=True)]
    whole = np.stack([factor for factor, _ in factors], axis=2)
    turned = np.stack([before * after for before, after in by_way], axis=2)
    before, after = (np.stack(each, axis=2).max(axis=2) > 1 for each in zip(*by_whole, *by_way, strict=True))
    single = of.single[..., None]
    return Links(
        np.concatenate([np.where(single, whole, 1.0), np.ones((*of.low.shape, 1))], axis=2),
        np.stack([share for _, share in factors], axis=2), np.where(single, turned, 1.0), beside.copied,
        after & np.roll(before, -1, axis=1),
    )  # fmt: skip


def _whole(of: Readings, gain: tuple[Floats, Floats], out: int) -> tuple[Floats, Floats]:
    """Return the factor on a titre too high by `out` [µL], and the share of it in a misread final reading."""
    low, high = of.low + out, of.high - out
    initial = np.where((low >= 0) & (low < of.high) & (low <= of.top), np.where(of.low == 0, ZERO_MISREAD, 1.0), 0.0)
    final = np.where((high > of.low) & (high <= of.top), 1.0, 0.0)
    before, after = gain
    total = initial + final
    factor = (initial * before + final * after) / np.maximum(total, 1e-12)
    return factor, final * after / np.maximum(initial * before + final * after, 1e-12)
