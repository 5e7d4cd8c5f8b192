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


def links(low: Ints, high: Ints, single: Flags, unit: int, top: float) -> Links:
    """Return what initial and final readings, (n, k) [µL], say of one another; read to `unit`, on a scale up to `top`.

    `single`: the run is usable, and its titre is the difference of these two.
    """
    out = np.rint(1000 * WHOLES).astype(np.int64)
    by_way = zip(*(ends(way, low, high) for way in WAYS), strict=True)
    pairs = zip((low[..., None] + out, high[..., None] - out), by_way, strict=True)
    first, last = (np.concatenate([whole, np.stack(ways, axis=2)], axis=2) for whole, ways in pairs)
    before, after, same = _gains(low, high, single, unit, top, first, last)
    wholes, known = slice(out.size), single[..., None]
    begun, ended = _possible(low, high, top, first[..., wholes], last[..., wholes])
    either = begun + ended
    begun, ended = begun * before[..., wholes], ended * after[..., wholes]
    factor = np.where(known, (begun + ended) / np.maximum(either, 1e-12), 1.0)
    return Links(
        np.pad(factor, ((0, 0), (0, 0), (0, 1)), constant_values=1.0),
        ended / np.maximum(begun + ended, 1e-12),
        np.where(known, (before * after)[..., out.size :], 1.0),
        same,
        (after > 1).any(axis=2) & np.roll((before > 1).any(axis=2), -1, axis=1),
    )


def _gains(
    low: Ints, high: Ints, single: Flags, unit: int, top: float, first: Ints, last: Ints
) -> tuple[Floats, Floats, Flags]:
    """Return what initial and final readings that stood for `first` and `last`, (n, k, m), gain by those beside them.

    The third is where a final reading is the next run's initial one.
    """
    pair = single[:, :-1] & single[:, 1:]
    same = pair & (np.abs(low[:, 1:] - high[:, :-1]) <= unit) & (low[:, 1:] > 0)
    others, alike = (each.sum(axis=1, keepdims=True) - each for each in (pair, same))
    chance = (CHAINED_BEFORE[0] + alike) / (CHAINED_BEFORE[1] + others)
    anew = (1 - chance) * refilled(low[:, 1:], unit, top)

    def likelihood(one: Ints, other: Ints) -> Floats:
        away = np.abs(one - other)
        again = np.where(away == 0, SAME, np.where(away <= unit, NEXT, 0.0))
        return np.asarray(chance[..., None] * again + anew[..., None])

    base = likelihood(high[:, :-1, None], low[:, 1:, None])
    begun, ended = likelihood(high[:, :-1, None], first[:, 1:]), likelihood(last[:, :-1], low[:, 1:, None])
    before, after = (np.where(pair[..., None], each / base, 1.0) for each in (begun, ended))
    ahead, behind = ((0, 0), (1, 0), (0, 0)), ((0, 0), (0, 1), (0, 0))
    return (
        np.pad(before, ahead, constant_values=1.0),
        np.pad(after, behind, constant_values=1.0),
        np.pad(same, behind[:2]),
    )


def _possible(low: Ints, high: Ints, top: float, first: Ints, last: Ints) -> tuple[Floats, Floats]:
    """Return how easily the initial reading, or the final one, stood for another: 0 where that is off the scale."""
    read = np.where(low == 0, ZERO_MISREAD, 1.0)[..., None]
    begun = np.where((first >= 0) & (first < high[..., None]) & (first <= top), read, 0.0)
    return begun, np.where((last > low[..., None]) & (last <= top), 1.0, 0.0)
