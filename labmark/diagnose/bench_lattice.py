"""The levels over which the posteriors are added up: a lattice, close to where a student may work and nowhere else.

A student whose runs agree with one another and with the class needs a few levels about them. Any other needs levels
about every run, and about the expected titre.
"""

import numpy as np

from labmark.diagnose.bench_input import Flags, Floats
from labmark.diagnose.bench_model import LATTICE, STEP
from labmark.diagnose.bench_view import Places, View

NEAR = np.arange(-8, 9, dtype=np.int64) * LATTICE
"""Levels about each run: ±0.24 cm³."""
CALM = np.arange(-10, 11, dtype=np.int64) * LATTICE
"""Levels for a student whose runs agree: ±0.30 cm³ about their median."""
ABOUT_EXPECTED = np.arange(-32, 33, dtype=np.int64) * LATTICE
"""Levels about the expected titre: ±0.96 cm³."""
CALM_RANGE = 20
"""Runs further apart than this [STEP] need levels about each of them."""
CALM_AWAY = 15
"""Runs further than this from the class's level [STEP] need levels about the expected titre."""
QUIET_RANGE = 10
"""Of runs no further apart than this [STEP], near the class's level, none was read upside down to any effect."""
HUGE = 2**30
"""Beyond every titre [STEP]."""


def highest_level(view: View, centre: Floats) -> int:
    """Return a level [STEP] that no student of a class gets beyond."""
    titre = int(view.titre[view.accurate].max(initial=0))
    return max(titre, int(centre.max(initial=0) * 1000 / STEP)) + int(ABOUT_EXPECTED[-1]) + 2 * LATTICE


def is_calm(view: View, centre: Floats) -> Flags:
    """Return which students have at least two accurate runs, all close together and to the class's level, (n,)."""
    low, high = _ends(view)
    enough = view.accurate.sum(axis=1) >= 2
    away = np.abs((high + low) / 2 - centre * 1000 / STEP)
    return np.asarray(enough & (high - low <= CALM_RANGE) & (away <= CALM_AWAY) & (view.interval < 2))


def lie_apart(view: View, by: int = CALM_RANGE) -> Flags:
    """Return which students have accurate runs further apart than this [STEP]: too far for concordant ones, (n,)."""
    low, high = _ends(view)
    return np.asarray(high - low > by)


def _ends(view: View) -> tuple[Places, Places]:
    """Return each student's lowest and highest accurate titre [STEP]; 0 and 0 where there is none."""
    some = view.accurate.any(axis=1)
    low = np.where(view.accurate, view.titre, HUGE).min(axis=1, initial=HUGE)
    high = np.where(view.accurate, view.titre, -HUGE).max(axis=1, initial=-HUGE)
    return np.where(some, low, 0), np.where(some, high, 0)


def calm_levels(view: View) -> tuple[Places, Floats]:
    """Return levels [STEP] and their weights [cm³] about the middle of each student's runs, (n, nodes)."""
    low, high = _ends(view)
    theta = _snap((low + high) // 2)[:, None] + CALM
    return theta, np.full(theta.shape, LATTICE * STEP / 1000)


def _snap(places: Places) -> Places:
    return np.asarray(np.rint(places / LATTICE) * LATTICE, dtype=np.int64)


def wide_levels(view: View, centre: Floats, *, apart: bool) -> tuple[Places, Floats]:
    """Return levels [STEP] where a student may work, with weights [cm³], (n, nodes).

    About each run, or, of runs that lie together, about their middle; and about the expected titre: who reads upside
    down works there.
    """
    expected = np.asarray(np.rint(centre * 1000 / STEP), dtype=np.int64)[:, None]
    around = _about_runs(view, expected) if apart else calm_levels(view)[0]
    theta = np.sort(np.concatenate([around, _snap(expected) + ABOUT_EXPECTED], axis=1), axis=1)
    theta = np.maximum(theta, 0)
    gaps = np.diff(theta, axis=1) * (STEP / 1000)
    weights = np.zeros(theta.shape)
    weights[:, :-1] += gaps / 2
    weights[:, 1:] += gaps / 2
    return theta, weights


def _about_runs(view: View, expected: Places) -> Places:
    some = view.accurate.any(axis=0)
    runs = np.where(view.accurate[:, some], view.titre[:, some], expected)
    return np.asarray((_snap(runs)[:, :, None] + NEAR).reshape(runs.shape[0], -1), dtype=np.int64)
