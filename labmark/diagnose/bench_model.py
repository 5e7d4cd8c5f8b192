"""How likely a run's titre is under each hypothesis, given the level at which its student works.

Everything about a run that only depends on its distance from the level stands in tables over that distance in steps of
0.01 cm³: one number a step and hypothesis, in 1/cm³. A titre is rounded twice (two readings), which adds the spread of
a triangle to the repeatability; an effect spread evenly from a to b cm³ then has the density

    (Φ((x − a) ÷ s) − Φ((x − b) ÷ s)) ÷ (b − a)        s² = repeatability² + division² ÷ 24

with a reading interval of half a division: 0.05 cm³ on a burette divided in 0.1.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from labmark.diagnose.bench_input import BenchSetting, Floats
from labmark.diagnose.hypotheses import BY_NAME, RUN_HYPOTHESES, STUDENT_HYPOTHESES, Band
from labmark.laws import normal_below

NEGLIGIBLE = 9.0
"""Standard deviations beyond which a density is taken as 0: it's below 10⁻¹⁷ of its peak."""
STEP = 10
"""Step of the tables [µL]."""
LATTICE = 3
"""Step between the levels that are added up over [STEP]: 0.03 cm³, finer than the scatter of runs read to 0.05."""
READING_STEPS = (1, 2, 10)
"""Reading intervals that tables are made for, in multiples of half a division: 0.05, 0.1 and 0.5 cm³."""
SHAKY_FACTOR = 2.4
"""Runs of a shaky student scatter by this much more than those of the class (common practice, no source)."""
KINDS = 3
FIRST, LATER, ROUGH = range(KINDS)
"""Kinds of run: the first accurate one, a later one, the rough."""
CARELESS_SHARE, CARELESS_FACTOR = 0.06, 2.0
"""A share of good runs that scatter more widely than the others, so that a run a little off is no fault at once. It is
for ordinary students with shaky hands: where 15 % have them, 7 for 3 of 1,984 are accused without it (simulated)."""
NEAR = ((0.25, 4.0), (0.70, 15.0))
"""Of what no row describes, such shares lie within so much of where it should [cm³], the rest anywhere on the burette:
odd mishaps are more often small than large, and few double a titre or leave nothing of it."""
ROUGH_BANDS = (Band(0.55, -0.10, 1.20), Band(0.37, -0.50, 2.50), Band(0.08, -2.00, 6.00))
"""Where a rough titre lies against the student's level [cm³]: usually past the endpoint, and no fault."""
WET_ROUGH_BAND = Band(1.0, 0.20, 4.50)
"""The same in a burette that is still wet with water."""
MISREAD_ROUGH, MISREAD_SPREAD = tuple(Band(0.25, out, out) for out in (10, 11, -10, -9)), 0.7
"""A misread rough [cm³]: ±1 says nothing there, only a misreading by 10 can be told."""
ROUGH_MISHAP = 0.01
"""Rate of each mishap that is looked for in a rough run: misread by 10 cm³, and what nothing explains."""
FIRST_ONLY = np.array([h.runs == "first" for h in RUN_HYPOTHESES])
"""Hypotheses about a run that only the first accurate one can show."""
EACH = tuple(h for h in STUDENT_HYPOTHESES if h.shape == "each added")
"""Hypotheses about the student under which every run is out by a volume of its own."""
GOOD, ROUGH_GOOD, ROUGH_MISREAD, WET_ROUGH, EACH_ADDED = range(len(RUN_HYPOTHESES), len(RUN_HYPOTHESES) + 5)
"""Columns of the tables behind those of RUN_HYPOTHESES, and the first of those of EACH;"""
SCATTERED = EACH_ADDED + len(EACH)
"""the first of those of scattered work;"""
RATED, COLUMNS = ROUGH_MISREAD + 1, SCATTERED + len(BY_NAME["scattered work"].bands)
"""so many of the first ones have a rate, and so many there are."""
FLAT = 25.0
"""Further out than this [cm³] every density is as it is there: a whole number misread is the largest size."""


def normal(x: Floats, spread: float | Floats) -> Floats:
    """Return the normal density about 0 with standard deviation `spread`; 0 further out than NEGLIGIBLE of them."""
    z = np.asarray(x / spread)
    out = np.zeros_like(z)
    near = np.abs(z) < NEGLIGIBLE
    out[near] = np.exp(-0.5 * z[near] ** 2)
    return np.asarray(out / (np.sqrt(2 * np.pi) * spread))


def evenly(x: Floats, low: float | Floats, high: float | Floats, spread: float | Floats) -> Floats:
    """Return the density at x of a size spread evenly from low to high, blurred by a normal of sd `spread`."""
    above, below = np.asarray((x - low) / spread), np.asarray((x - high) / spread)
    near = (above > -NEGLIGIBLE) & (below < NEGLIGIBLE)
    inside = np.zeros_like(above)
    inside[near] = np.subtract(*normal_below(np.stack((above[near], below[near]))))
    return np.asarray(inside / (high - low))


def good_run(x: Floats, spread: float) -> Floats:
    """Return the density of a good run at distance x from its level [cm³]."""
    careful = (1 - CARELESS_SHARE) * normal(x, spread)
    return careful + CARELESS_SHARE * normal(x, CARELESS_FACTOR * spread)


def anywhere(x: Floats, capacity: float) -> Floats:
    """Return the density at distance x of what no row describes [1/cm³]."""
    near = sum(np.where(np.abs(x) <= away, share / (2 * away), 0.0) for share, away in NEAR)
    return np.asarray(near + (1 - sum(share for share, _ in NEAR)) / capacity)


class Tables(NamedTuple):
    """Densities over the distance from the level, for steady and then for shaky students, each with three intervals."""

    centre: int
    """Place of distance 0; the tables reach this many steps to either side, and are flat from there on."""
    density: Floats
    """(intervals, places, columns) [1/cm³]."""
    good: Floats
    """The column of good runs by itself, (intervals, places)."""
    rate: Floats
    """Share of runs of each kind that go by each of the first columns, (RATED, kinds); adds up to 1."""
    mix: Floats
    """What a run of each kind may be, all in all, (intervals, places, kinds) [1/cm³]."""

    @property
    def width(self) -> int:
        """Number of places in a table."""
        return 2 * self.centre + 1


def _rates(run_rates: Sequence[float]) -> Floats:
    """Return how often runs of each kind go by each of the first columns, (RATED, kinds); what is left is good runs."""
    rough = [ROUGH_MISHAP * (h.shape == "anywhere") for h in RUN_HYPOTHESES]
    faults = np.stack([run_rates, np.where(FIRST_ONLY, 0.0, run_rates), rough], axis=1)
    misread = np.array([0.0, 0.0, ROUGH_MISHAP])
    good = 1 - faults.sum(axis=0) - misread
    return np.stack([*faults, good * [1, 1, 0], good * [0, 0, 1], misread])


@lru_cache(maxsize=8)
def make_tables(
    setting: BenchSetting, repeatability: float, run_rates: tuple[float, ...], intervals: tuple[int, ...]
) -> Tables:
    """Return the tables for a repeatability [cm³], the rates of mishaps, and the setting's burette and interval.

    Those of usual work are asked for by every class, and kept. They are only for students who keep to these intervals
    (places of READING_STEPS): those of the others are left 0.
    """
    centre, rate = round(1000 * FLAT) // STEP, _rates(run_rates)
    x = np.arange(-centre, centre + 1) * (STEP / 1000)
    density = np.zeros((2 * len(READING_STEPS), x.size, COLUMNS))
    good, mix = np.zeros(density.shape[:2]), np.zeros((*density.shape[:2], KINDS))
    for i, spread in _spreads(setting, repeatability, intervals).items():
        columns = np.array([*_columns(x, spread, setting.capacity)])
        density[i], good[i] = columns.T, columns[GOOD]
        mix[i] = density[i, :, :RATED] @ rate
    return Tables(centre, density, good, rate, mix)


def _columns(x: Floats, spread: float, capacity: float) -> Iterator[Floats]:
    """Yield the columns of the tables, in order, at each distance x [cm³] where good runs scatter by `spread` [cm³]."""
    wide = np.arange(1 - x.size, x.size) * (STEP / 1000)
    # Far out, which is nearly everywhere, nothing is left of either.
    near = slice(*np.searchsorted(wide, (-(far := NEGLIGIBLE * CARELESS_FACTOR * spread), far)))
    good, below = np.zeros(wide.size), (wide > 0).astype(np.float64)
    good[near], below[near] = good_run(wide[near], spread), normal_below(np.asarray(wide[near] / spread))
    reach = x.size - near.start
    for h in RUN_HYPOTHESES:
        sized = _sized(h.bands, good, below, reach)
        either = (sized + sized[::-1]) / 2 if h.shape == "whole number" else sized[:: -1 if h.direction == "-" else 1]
        yield anywhere(x, capacity) if h.shape == "anywhere" else either
    yield _sized((Band(1.0, 0.0, 0.0),), good, below, reach)
    yield _sized(ROUGH_BANDS, good, below, reach)
    yield _sized(MISREAD_ROUGH, normal(wide, MISREAD_SPREAD), below, x.size)
    yield _sized((WET_ROUGH_BAND,), good, below, reach) + 0.005 / 50
    yield from (_sized(h.bands, good, below, reach) for h in EACH)
    yield from (normal(x, float(np.hypot(spread, b.low))) + 0.01 / 50 for b in BY_NAME["scattered work"].bands)


def _sized(bands: Sequence[Band], good: Floats, below: Floats, reach: int) -> Floats:
    """Return the density of sizes in bands at each distance, blurred by good work.

    `good` is that of good runs, and `below` how much of the normal law lies below, as far to either side again: moved
    by so many steps they are those about another size. Beyond `reach` steps nothing is left of either.
    """
    centre = good.size // 4
    out = np.zeros(2 * centre + 1)
    for band in bands:
        low, high = (max(-centre, min(centre, round(1000 * size / STEP))) for size in (band.low, band.high))
        first, end = max(0, centre + low - reach), min(out.size, centre + high + reach + 1)
        at, to = (slice(first + centre - by, end + centre - by) for by in (low, high))
        if band.low == band.high:
            out[first:end] += band.share * good[at]
        else:
            out[first:end] += band.share / (band.high - band.low) * (below[at] - below[to])
    return out


def _spreads(setting: BenchSetting, repeatability: float, intervals: Iterable[int]) -> dict[int, float]:
    """Return place of an interval -> how far good runs scatter [cm³], for steady and then for shaky students."""
    steps = [setting.division / 2 * m / np.sqrt(6) for m in READING_STEPS]
    scatter = (repeatability, SHAKY_FACTOR * repeatability)
    wanted = ((shaky, each) for each in intervals for shaky in (0, 1))
    return {each + shaky * len(steps): float(np.hypot(scatter[shaky], steps[each])) for shaky, each in wanted}
