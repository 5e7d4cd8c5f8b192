"""Readings that two or more students share beyond chance: a question to the teacher, never a charge.

Everyone titrates the same solution, so shared titres are expected, and an initial reading of 0.00 is common. What
counts is how likely it is, run by run, that a student who works alone writes down just what another has written:

    initial reading   its share among the initial readings of the class; 1 where it only repeats an earlier one of the
                      same student (who fills to 0.00 does so again) or the final reading before (not refilled)
    titre             first accurate run: spread of the class about its centre; later runs: scatter about the student's
                      own runs before; rough: how far roughs lie above; a reading interval (0.05 cm³) wide

Two students who share 1.35 → 25.70 have a chance of about 1/60 × 1/6; four such runs leave one in 10⁹. Two who start at
0.00 and share 24.35, 24.40 and a rough of 25.10 leave one in 1,400, which happens among the pairs of a large class.

For each pair: odds = (chance if copied, wholly or in part) ÷ (chance if not), divided by the number of pairs in the
class. That bounds the false alarms (Markov's inequality): where students work alone, odds of 1,000 or more turn up in
fewer than one class in 1,000; in simulated classes of 24 of eight kinds in none of 2,000. Common practice, no source.
"""

from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from labmark.diagnose.bench_input import Flags, Floats, Ints, RunMatrix
from labmark.diagnose.bench_links import refilled
from labmark.diagnose.bench_model import READING_STEPS
from labmark.diagnose.bench_view import class_centre, interval_kept, student_levels

COPIES = ((0.6, 0.90, 0.05), (0.4, 0.50, 0.03))
"""How copies come about: share of the copies, and of their runs the share that is the same and that is one step off in
one or both readings. Six in ten take all runs over, the others about half of them."""
NEIGHBOURS = 8
"""Pairs of readings one step or less away, without the pair itself."""
LEAST_ODDS = 1000.0
"""Odds, already divided by the number of pairs, from which on the question is put."""
GENEROUS_ODDS = 0.05
"""Odds from which on two students may belong together; they need not be beyond chance."""
LEAST_RUNS = 3
"""Runs that have to be alike besides: among the pairs of a class two are so now and then by chance."""
LEAST_TITRE_CHANCE = 0.01
"""No titre counts for more than this: two students may make the same mistake."""
CROWD = 40
"""Readings shared by more students than this say nothing of any two of them."""
INTERVAL = 50
"""Reading interval [µL]."""
NEARBY = 5
"""Burettes filled to near the zero stop anywhere: as many intervals either way tell how common a reading is."""
WEIGHT_OF_USUAL = 20.0
"""What is usual of initial readings is worth so many runs beside those of the class."""
MOST_AT_A_BENCH = 5
"""Data that more than half of a class shares, and more students than this, were handed out (common practice)."""
CAPACITY = 50_000
"""Where no better is known [µL]."""

Rows = npt.NDArray[np.int64]


class Likeness(NamedTuple):
    """Students whose readings are more alike than chance would have it."""

    students: tuple[int, ...]
    """Rows in the matrix, in order."""
    runs: tuple[int, ...]
    """Columns in which all of them have the same readings."""
    odds: float
    """Odds against chance of the closest pair, with the number of pairs in the class taken into account."""


def likeness(runs: RunMatrix) -> list[Likeness]:
    """Return groups of students whose readings are alike beyond chance, in the order of their first student.

    Give it one class, not a cohort: among the pairs of 100,000 students nearly everything happens by chance.
    Runs are compared column by column. Works by looking up shared readings, not by comparing all pairs.
    """
    live = runs.present & runs.usable
    first, second = _candidates(runs, live)
    if not first.size:
        return []
    step = INTERVAL * np.array(READING_STEPS)[interval_kept(runs, INTERVAL)][:, None]
    titre = _titre_chance(runs, live, step)
    # Who may belong together is found first, generously: no reading is to be held to be common because a ring has it.
    alone = _initial_chance(runs, live, step, np.arange(live.shape[0])) * titre
    perhaps = _pair_odds(runs, live, alone, first, second)[0] >= GENEROUS_ODDS
    first, second = first[perhaps], second[perhaps]
    chance = _chances(runs, live, step, titre, _rings(first, second, live))
    odds, same, near = _pair_odds(runs, live, chance, first, second)
    keep = (odds >= LEAST_ODDS) & ((same | near).sum(axis=1) >= LEAST_RUNS)
    return _groups(first[keep], second[keep], odds[keep], same[keep])


def _candidates(runs: RunMatrix, live: Flags) -> tuple[Rows, Rows]:
    """Return pairs of students that share both readings of at least two runs, or of all (first < second)."""
    k = live.shape[1]
    n = live.shape[0]
    readings = np.stack([np.where(live, part, -1) for part in (runs.initial, runs.final)], axis=2)

    def shared(columns: tuple[int, ...]) -> list[Rows]:
        complete = live[:, columns].all(axis=1) if len(columns) == 2 else live.any(axis=1)
        rows = np.flatnonzero(complete)
        flat = readings[:, columns][rows].reshape(rows.size, 2 * len(columns))
        return [first * n + second for first, second in _sharing(flat, rows)]

    choices = [*combinations(range(k), 2), tuple(range(k))]
    found = (codes for columns in choices for codes in shared(columns))
    codes = np.unique(np.concatenate([np.empty(0, dtype=np.int64), *found]))
    return codes // n, codes % n


def _key(values: Ints) -> npt.NDArray[np.uint64]:
    """Return one number for each row of values; two rows that differ share it less than once in 10¹⁸ pairs."""
    key = np.zeros(values.shape[0], dtype=np.uint64)
    for column in values.T:
        # The multiplier and the shift are those of the 64-bit splitmix generator's last step (from memory).
        key = (key ^ column.astype(np.uint64)) * np.uint64(0xBF58476D1CE4E5B9)
        key ^= key >> np.uint64(27)
    return key


def _sharing(values: Ints, rows: Rows) -> Iterator[tuple[Rows, Rows]]:
    """Yield pairs of rows with the same values, group by group of equal size, crowds left out."""
    if not rows.size:
        return
    _, group, count = np.unique(_key(values), return_inverse=True, return_counts=True)
    order = np.argsort(group.reshape(-1), kind="stable")
    starts = np.concatenate([[0], np.cumsum(count)[:-1]])
    for size in range(2, min(CROWD, int(count.max())) + 1):
        members = rows[order[starts[count == size][:, None] + np.arange(size)]]
        for i, j in combinations(range(size), 2):
            yield members[:, i], members[:, j]


def _rings(first: Rows, second: Rows, live: Flags) -> Rows:
    """Return a number for each student that those who share readings beyond chance have in common, (n,).

    A ring counts once when it is asked how common a reading is: or the larger it is, the safer it would be. What more
    than half of a class has was handed out to be worked on, and is as common as that; but a few students may all copy.
    """
    ring = np.arange(live.shape[0])
    for row, leader in _leaders(first, second).items():
        ring[row] = leader
    size = np.bincount(ring, minlength=ring.size)[ring]
    handed_out = (2 * size > live.any(axis=1).sum()) & (size > MOST_AT_A_BENCH)
    return np.where(handed_out, np.arange(ring.size), ring)


def _leaders(first: Rows, second: Rows) -> dict[int, int]:
    """Return the first student of the group that each student of the pairs hangs together with."""
    leader: dict[int, int] = {}

    def find(row: int) -> int:
        while leader.setdefault(row, row) != row:
            leader[row] = leader[leader[row]]
            row = leader[row]
        return row

    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        low, high = sorted((find(a), find(b)))
        leader[high] = low
    return {row: find(row) for row in list(leader)}


def _shares(values: Ints, live: Flags, ring: Rows) -> Floats:
    """Return how many runs of others have the same value, (n, k).

    A ring counts as one of its students. Who is in none leaves out as many again as there are own runs: a partner's.
    """
    out = np.zeros(live.shape)
    _, value = np.unique(_key(values[live].reshape(int(live.sum()), -1)), return_inverse=True)
    value = value.reshape(-1)
    own_ring = np.broadcast_to(ring[:, None], live.shape)[live]
    size = np.bincount(ring, minlength=ring.size)
    weight = 1 / size[own_ring]
    _, mine = np.unique(value * ring.size + own_ring, return_inverse=True)
    own = np.bincount(mine.reshape(-1), weights=weight)[mine.reshape(-1)]
    alone = size[own_ring] == 1
    out[live] = np.bincount(value, weights=weight)[value] - np.where(alone, 2, 1) * own
    return np.maximum(out, 0.0)


def _nearby(values: Ints, live: Flags, ring: Rows) -> Floats:
    """Return how many runs of others would have the same value, (n, k), by those that lie about it; 0.00 has its own.

    The very value alone would be taken for rare just because two students share it and nobody else has it.
    """
    weight = np.where(live & (values > 0), 1 / np.bincount(ring, minlength=ring.size)[ring][:, None], 0.0)
    cell, width = np.maximum(values, 0) // INTERVAL, 2 * NEARBY + 1
    count = np.bincount(cell.reshape(-1), weight.reshape(-1), minlength=width)
    return np.asarray(np.maximum(np.convolve(count, np.full(width, 1 / width), "same")[cell] - 2 * weight / width, 0))


def _initial_chance(runs: RunMatrix, live: Flags, step: Ints, ring: Rows) -> Floats:
    """Return the chance that another student's initial reading is the same, (n, k)."""
    others = np.maximum(_shares(runs.initial, live, ring), _nearby(runs.initial, live, ring) * step / INTERVAL)
    usual = WEIGHT_OF_USUAL * refilled(runs.initial, step, CAPACITY)
    chance = (others + usual) / (live.sum() + WEIGHT_OF_USUAL)
    follows = np.zeros(live.shape, dtype=np.bool_)
    for k in range(1, live.shape[1]):
        earlier = (runs.initial[:, :k] == runs.initial[:, k : k + 1]) & live[:, :k]
        follows[:, k] = earlier.any(axis=1) | ((runs.initial[:, k] == runs.final[:, k - 1]) & live[:, k - 1])
    return np.where(follows, 1.0, np.minimum(chance, 1.0))


def _titre_chance(runs: RunMatrix, live: Flags, step: Ints) -> Floats:
    """Return the chance that another student's titre is the same, given the same runs before it, (n, k)."""
    titre = runs.titre / 1000
    accurate = live & ~runs.rough
    within, between, rough = _spreads(runs, live)
    before: Ints = np.cumsum(accurate, axis=1, dtype=np.int64) - accurate
    total = np.cumsum(np.where(accurate, titre, 0.0), axis=1) - np.where(accurate, titre, 0.0)
    centre = class_centre(runs)
    centre = centre if np.isfinite(centre) else float(np.median(titre[live]))
    mean = np.where(before > 0, total / np.maximum(before, 1), centre)
    spread = np.where(before > 0, within * np.sqrt(1 + 1 / np.maximum(before, 1)), np.hypot(within, between))
    z = (titre - mean) / spread
    chance = step / 1000 * np.exp(-0.5 * z * z) / (np.sqrt(2 * np.pi) * spread)
    # Roughs lie anywhere within a cm³ or so, whatever the student's level.
    chance = np.where(runs.rough, step / 1000 / (3.5 * rough), chance)
    return np.clip(chance, LEAST_TITRE_CHANCE, 1.0)


def _spreads(runs: RunMatrix, live: Flags) -> tuple[float, float, float]:
    """Return robust scatter within students, spread between them, and of the roughs [cm³]; never very small."""
    titre, level = runs.titre / 1000, student_levels(runs)
    away = np.abs(titre - level[:, None])
    accurate = live & ~runs.rough & ~np.isnan(level)[:, None]
    rough = live & runs.rough & ~np.isnan(level)[:, None]
    known = level[~np.isnan(level)]
    between = 1.4826 * float(np.median(np.abs(known - np.median(known)))) if known.size else 0.1
    excess = (titre - level[:, None])[rough]
    rough_spread = 1.4826 * float(np.median(np.abs(excess - np.median(excess)))) if excess.size else 0.4
    # Distances from a median of three are half zeros: their mean tells more than their median.
    within = float(np.mean(np.minimum(away[accurate], 0.15))) * 1.6 if accurate.any() else 0.05
    return float(np.clip(within, 0.03, 0.08)), max(between, 0.05), max(rough_spread, 0.25)


def _chances(runs: RunMatrix, live: Flags, step: Ints, titre: Floats, ring: Rows) -> Floats:
    """Return the chance that a student working alone has the same run, (n, k); `titre` is that of the titre alone."""
    model = _initial_chance(runs, live, step, ring) * titre
    # Where others have the very same run too, that is how common it is: worked data handed out, say.
    column = np.broadcast_to(np.arange(live.shape[1]), live.shape)
    run = np.stack([column, runs.initial, runs.final], axis=2)
    others = _shares(run, live, ring) / max(live.shape[0], 1)
    return np.asarray(np.clip(np.maximum(model, others), 1e-12, 1.0))


def _pair_odds(runs: RunMatrix, live: Flags, chance: Floats, first: Rows, second: Rows) -> tuple[Floats, Flags, Flags]:
    """Return the odds of each pair, (p,), divided by the number of pairs in the class, and the runs that are the same,
    and a step apart, each (p, k)."""
    both = live[first] & live[second]
    off = np.maximum(np.abs(runs.initial[first] - runs.initial[second]), np.abs(runs.final[first] - runs.final[second]))
    same, near = both & (off == 0), both & (off > 0) & (off <= INTERVAL)
    p = np.maximum(chance[first], chance[second])
    odds = np.zeros(first.size)
    for share, true, close in COPIES:
        own = 1 - true - close
        each = own + np.where(same, true / p, 0.0) + np.where(near, close / NEIGHBOURS / p, 0.0)
        odds += share * np.where(both, each, 1.0).prod(axis=1)
    there = int(live.any(axis=1).sum())
    return odds / max(there * (there - 1) / 2, 1.0), same, near


def _groups(first: Rows, second: Rows, odds: Floats, same: Flags) -> list[Likeness]:
    """Return the pairs gathered into groups that hang together."""
    leader = _leaders(first, second)
    group = np.array([leader[row] for row in first.tolist()], dtype=np.int64)
    found = []
    for here in (group == one for one in np.unique(group)):
        students = np.union1d(first[here], second[here])
        shared = np.flatnonzero(same[here].all(axis=0))
        found.append(Likeness((*students.tolist(),), (*shared.tolist(),), float(f"{odds[here].max():.1e}")))
    return found
