"""How likely a run's titre is under each hypothesis, given the level at which its student works.

Everything about a run that only depends on its distance from the level stands in tables over that distance in steps of
0.01 cm³: one number a step and hypothesis, in 1/cm³. A titre is rounded twice (two readings), which adds the spread of
a triangle to the repeatability; an effect spread evenly from a to b cm³ then has the density

    (Φ((x − a) ÷ s) − Φ((x − b) ÷ s)) ÷ (b − a)        s² = repeatability² + division² ÷ 24

with a reading interval of half a division: 0.05 cm³ on a burette divided in 0.1.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from labmark.diagnose.bench_input import BenchSetting, Floats
from labmark.diagnose.hypotheses import BY_NAME, RUN_HYPOTHESES, STUDENT_HYPOTHESES, Band, Hypothesis
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
FIRST, LATER, ROUGH = 0, 1, 2
"""Kinds of run: the first accurate one, a later one, the rough."""
CARELESS_SHARE, CARELESS_FACTOR = 0.06, 2.0
"""A share of good runs that scatter more widely than the others, so that a run a little off is no fault at once."""
NEAR_SHARE, NEAR = 0.4, 4.0
"""Of what no row describes, so much lies within this of where it should [cm³], the rest anywhere on the burette: odd
mishaps are more often small than large, and the further from every hypothesis, the likelier."""
ROUGH_BANDS = (Band(0.55, -0.10, 1.20), Band(0.37, -0.50, 2.50), Band(0.08, -2.00, 6.00))
"""Where a rough titre lies against the student's level [cm³]: usually past the endpoint, and no fault."""
ROUGH_RATE = {"misread-division": 0.01, "implausible-titre": 0.01}
"""The only mishaps looked for in a rough run."""
FIRST_ONLY = np.array([h.runs == "first" for h in RUN_HYPOTHESES])
"""Hypotheses about a run that only the first accurate one can show."""
EACH = tuple(h for h in STUDENT_HYPOTHESES if h.shape == "each added")
"""Hypotheses about the student under which every run is out by a volume of its own."""


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
    return np.asarray((1 - NEAR_SHARE) / capacity + np.where(np.abs(x) <= NEAR, NEAR_SHARE / (2 * NEAR), 0.0))


def density(hypothesis: Hypothesis, x: Floats, spread: float, capacity: float) -> Floats:
    """Return the density of a run at distance x from its level under a hypothesis about the run [1/cm³].

    Zero where the readings themselves settle the size ("mirrored", "not refilled", ...): see `bench_runs`.
    """
    if hypothesis.shape == "added":
        sign = -1.0 if hypothesis.direction == "-" else 1.0
        return _sized(hypothesis.bands, sign * x, spread)
    if hypothesis.shape == "whole number":
        return np.asarray(
            sum(b.share * (good_run(x - b.low, spread) + good_run(x + b.low, spread)) / 2 for b in hypothesis.bands)
        )
    if hypothesis.shape == "anywhere":
        return anywhere(x, capacity)
    return np.zeros_like(x)


class Tables(NamedTuple):
    """Densities over the distance from the level, for steady and then for shaky students, each with three intervals."""

    centre: int
    """Place of distance 0; the tables reach this many steps to either side."""
    good: Floats
    """A good run, (intervals, places) [1/cm³]."""
    fault: Floats
    """Rate times density, (hypotheses, intervals, kinds, places)."""
    good_rate: Floats
    """Share of runs that go as they should, (kinds,)."""
    rate: Floats
    """Share of runs that each hypothesis touches, (hypotheses, kinds)."""
    mix: Floats
    """good_rate × good plus all faults, (intervals, kinds, places)."""
    wet_rough: Floats
    """A rough done with a burette still wet with water, (intervals, places)."""
    each: Floats
    """A run that is out by a volume of its own, (rows of that shape, intervals, places)."""
    scattered: Floats
    """A run of scattered work, (bands, intervals, places)."""

    @property
    def width(self) -> int:
        """Number of places in a table."""
        return 2 * self.centre + 1


def by_kind(run_rates: Floats) -> Floats:
    """Return how often each hypothesis touches a run of each kind, (hypotheses, kinds)."""
    rough = np.array([ROUGH_RATE.get(h.name, 0.0) for h in RUN_HYPOTHESES])
    return np.stack([run_rates, np.where(FIRST_ONLY, 0.0, run_rates), rough], axis=1)


def _faults(
    x: Floats, spreads: Mapping[int, float], good: Floats, capacity: float, rates: Floats
) -> tuple[Floats, Floats]:
    """Return rate times density for every hypothesis, interval, kind of run and distance, and the sum of them all.

    Worked out only where it is not nothing: most of a table, which reaches as far as the burette, is zeros.
    """
    tables = np.zeros((len(RUN_HYPOTHESES), len(good), rates.shape[1], len(x)))
    total = np.zeros(tables.shape[1:])
    wide = _rough_misread(x)
    for h, hypothesis in enumerate(RUN_HYPOTHESES):
        for i, spread in spreads.items():
            part = _reached(hypothesis, x, spread)
            if hypothesis.shape == "whole number":
                tables[h, i] = rates[h][:, None] * _shifted(hypothesis, good[i])
                tables[h, i, ROUGH] = ROUGH_RATE["misread-division"] * wide
            else:
                tables[h, i, :, part] = rates[h][:, None] * density(hypothesis, x[part], spread, capacity)
            total[i, :, part] += tables[h, i, :, part]
    return tables, total


def _rough_misread(x: Floats) -> Floats:
    """Return the density of a misread rough: ±1 cm³ says nothing there, only a misreading by 10 cm³ can be told."""
    return (normal(x - 10, 0.7) + normal(x - 11, 0.7) + normal(x + 10, 0.7) + normal(x + 9, 0.7)) / 4


def _reached(hypothesis: Hypothesis, x: Floats, spread: float) -> slice:
    """Return which of the distances (ascending) a hypothesis about a run can bring about."""
    if hypothesis.shape != "added":
        return slice(None if hypothesis.shape in ("anywhere", "whole number") else 0)
    low, high = min(b.low for b in hypothesis.bands), max(b.high for b in hypothesis.bands)
    return _within(x, *((-high, -low) if hypothesis.direction == "-" else (low, high)), spread)


def _within(x: Floats, low: float, high: float, spread: float) -> slice:
    """Return which distances (ascending) a size from low to high comes to, blurred by good work of this spread."""
    blurred = NEGLIGIBLE * CARELESS_FACTOR * spread
    return slice(*np.searchsorted(x, (low - blurred, high + blurred)))


def _shifted(hypothesis: Hypothesis, good: Floats) -> Floats:
    """Return `density` of a whole number out from the table of good runs, moved by so many of its steps."""
    out = np.zeros_like(good)
    for band in hypothesis.bands:
        steps, half = min(round(band.low * 1000) // STEP, len(good)), band.share / 2
        out[steps:] += half * good[: len(good) - steps]
        out[: len(good) - steps] += half * good[steps:]
    return out


def _sized(bands: Sequence[Band], x: Floats, spread: float) -> Floats:
    """Return the density at x of sizes in bands, blurred by good work."""
    lows, highs = np.array([(band.low, band.high) for band in bands]).T[..., None]
    each = evenly(x, lows, highs, spread)
    return np.asarray(sum(band.share * one for band, one in zip(bands, each, strict=True)))


def _wet_rough(x: Floats, spread: float) -> Floats:
    """Return the density of the rough of a burette that is still wet with water."""
    return np.asarray(evenly(x, 0.2, 4.50, spread) + 0.005 / 50)


def make_tables(setting: BenchSetting, repeatability: float, run_rates: Floats, intervals: Iterable[int]) -> Tables:
    """Return the tables for a repeatability [cm³], the rates of mishaps, and the setting's burette and interval.

    Only for students who keep to these intervals (places of READING_STEPS): those of the others are left 0.
    """
    centre = round(setting.capacity * 1000) // STEP
    x = np.arange(-centre, centre + 1) * (STEP / 1000)
    wanted = _spreads(setting, repeatability, intervals)
    table = partial(_table, x, wanted)
    good = table(good_run)
    rates = by_kind(run_rates)
    fault, mix = _faults(x, wanted, good, setting.capacity, rates)
    # Rates of the hypotheses without a table count too: the shares of a run add up to one.
    good_rate = 1 - rates.sum(axis=0)
    rough = table(partial(_sized, ROUGH_BANDS), min(b.low for b in ROUGH_BANDS), max(b.high for b in ROUGH_BANDS))
    for i in wanted:
        mix[i] += good_rate[:, None] * np.stack([good[i], good[i], rough[i]])
    scattered = np.array([table(normal, more=band.low) for band in BY_NAME["scattered work"].bands])
    wet_rough = table(_wet_rough, -np.inf, np.inf)
    each = np.array([table(partial(_sized, h.bands), h.bands[0].low, h.bands[-1].high) for h in EACH])
    return Tables(centre, good, fault, good_rate, rates, mix, wet_rough, each, scattered)


def _spreads(setting: BenchSetting, repeatability: float, intervals: Iterable[int]) -> dict[int, float]:
    """Return place of an interval -> how far good runs scatter [cm³], for steady and then for shaky students."""
    steps = [setting.division / 2 * m / np.sqrt(6) for m in READING_STEPS]
    scatter = (repeatability, SHAKY_FACTOR * repeatability)
    wanted = ((shaky, each) for each in intervals for shaky in (0, 1))
    return {each + shaky * len(steps): float(np.hypot(scatter[shaky], steps[each])) for shaky, each in wanted}


def _table(
    x: Floats,
    spreads: Mapping[int, float],
    density: Callable[[Floats, float], Floats],
    low: float = 0.0,
    high: float = 0.0,
    more: float = 0.0,
) -> Floats:
    """Return a density at each distance, (intervals, places), worked out where sizes from low to high can be.

    `more` is the scatter that comes on top of that of good runs [cm³].
    """
    made = np.zeros((2 * len(READING_STEPS), len(x)))
    for i, own in spreads.items():
        spread = float(np.hypot(own, more))
        part = _within(x, low, high, spread)
        made[i, part] = density(x[part], spread)
    return made
