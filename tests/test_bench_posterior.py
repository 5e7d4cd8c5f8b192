"""Adding up over levels: the sum on a coarse lattice is the integral."""

from __future__ import annotations

import numpy as np
import pytest

from labmark.diagnose.bench_input import BenchSetting, RunMatrix
from labmark.diagnose.bench_lattice import calm_levels, is_calm, lie_apart, wide_levels
from labmark.diagnose.bench_levels import RUN_RATES, Fit, Levels, level_density
from labmark.diagnose.bench_misread import OF_HYPOTHESIS, VARIANT_SHARES, meant
from labmark.diagnose.bench_model import anywhere, evenly, good_run, make_tables
from labmark.diagnose.bench_posterior import ORDINARY, PLAIN, posterior
from labmark.diagnose.bench_view import look
from labmark.diagnose.hypotheses import BY_NAME, RUN_HYPOTHESES, STUDENT_HYPOTHESES, Hypothesis
from tests.build import run_matrix
from tests.seeds import few_quick

SETTING = BenchSetting()
FIT = Fit(0.04, 0.005, 0.0, 0.001)
SPREAD = float(np.hypot(0.04, 0.05 / np.sqrt(6)))
BUBBLE = BY_NAME["air bubble in the jet"].rate


def runs_of(*titres: float, initial: float = 0.35) -> RunMatrix:
    first = np.full((1, len(titres)), round(initial * 1000))
    return run_matrix(first, first + np.round(np.array([titres]) * 1000).astype(int), rough=False, expected=24.35)


def density(hypothesis: Hypothesis, x: np.ndarray) -> np.ndarray:
    """Density of a run at distance x from its level; 0 where the readings settle the size."""
    if hypothesis.shape == "anywhere":
        return anywhere(x, SETTING.capacity)
    ways = {"whole number": (1, -1)}.get(hypothesis.shape, (-1 if hypothesis.direction == "-" else 1,))
    out = np.zeros_like(x)
    for share, low, high in hypothesis.bands:
        for way in ways:
            one = good_run(way * x - low, SPREAD) if low == high else evenly(way * x, low, high, SPREAD)
            out += share / len(ways) * one
    return out


def run_density(runs: RunMatrix, k: int, theta: np.ndarray) -> np.ndarray:
    """Density of a run at each level, written out once more without tables."""
    titre = runs.titre[0, k] / 1000
    first = k == 0
    out = (1 - RUN_RATES.sum() + (0 if first else BUBBLE)) * good_run(titre - theta, SPREAD)
    for hypothesis in RUN_HYPOTHESES:
        if first or hypothesis.runs != "first":
            out += hypothesis.rate * density(hypothesis, titre - theta)
    stands_for = meant(runs.initial[:, k], runs.final[:, k], 50, 50_000)[0] / 1000
    for value, share, of in zip(stands_for, VARIANT_SHARES, OF_HYPOTHESIS, strict=True):
        out += RUN_HYPOTHESES[of].rate * share * good_run(value - theta, SPREAD)
    return out


def by_brute_force(runs: RunMatrix) -> np.ndarray:
    """Evidence for each hypothesis about the student under which all runs have the usual mixture."""
    theta = np.arange(0.002, 60, 0.002)
    together = np.prod([run_density(runs, k, theta) for k in range(runs.titre.shape[1])], axis=0)
    level = [level_density(h, theta[None, :], runs.expected, FIT, SETTING)[0] for h in STUDENT_HYPOTHESES]
    rates = [h.rate for h in STUDENT_HYPOTHESES]
    return np.array([rate * np.trapezoid(p * together, theta) for rate, p in zip(rates, level, strict=True)])


@pytest.mark.parametrize("place", few_quick(range(len(RUN_HYPOTHESES)), 5), ids=[h.name for h in RUN_HYPOTHESES])
def test_the_tables_hold_the_density_of_every_mishap(place):
    tables = make_tables(SETTING, 0.04, tuple(RUN_RATES), (0,))
    x = np.arange(-tables.centre, tables.centre + 1) / 100
    assert tables.density[0, :, place] == pytest.approx(density(RUN_HYPOTHESES[place], x), abs=1e-12)


@pytest.mark.parametrize(
    "titres",
    [(24.35, 24.40, 24.35), (24.85, 24.80, 24.85), (25.60, 25.55), (19.50, 19.45, 19.50, 19.55), (23.95,)],
    ids=["ordinary", "half a cm³ high", "five per cent high", "another pipette", "a single run"],
)
def test_the_lattice_gives_what_a_fine_grid_gives(titres):
    runs = runs_of(*titres)
    found = posterior(
        look(runs, SETTING), make_tables(SETTING, 0.04, tuple(RUN_RATES), (0, 1, 2)), Levels(FIT, SETTING)
    ).student[0]
    wanted = by_brute_force(runs)
    assert found[PLAIN] / found[PLAIN].sum() == pytest.approx(wanted[PLAIN] / wanted[PLAIN].sum(), rel=0.03, abs=5e-4)


def test_the_mean_level_is_that_of_the_runs_where_nothing_happened():
    runs = runs_of(24.35, 24.40, 24.45)
    found = posterior(
        look(runs, SETTING), make_tables(SETTING, 0.04, tuple(RUN_RATES), (0, 1, 2)), Levels(FIT, SETTING)
    )
    assert found.level[0] == pytest.approx(24.40, abs=0.015)
    assert found.student[0, ORDINARY] > 0.9


def test_students_who_agree_with_the_class_need_few_levels():
    near, far, apart = (look(runs_of(*t), SETTING) for t in ((24.35, 24.4), (24.75, 24.8), (24.35, 24.75)))
    assert [bool(is_calm(view, view.expected)[0]) for view in (near, far, apart)] == [True, False, False]
    assert [bool(lie_apart(view)[0]) for view in (near, far, apart)] == [False, False, True]


def test_students_with_the_same_titres_near_the_class_get_the_same_odds_whoever_they_are():
    """They are worked out once, and every student gets their own place back."""
    titres = [(24.35, 24.40), (24.40, 24.35), (24.35, 24.40), (24.30, 24.35), (24.40, 24.35)]
    together = look(run_matrix(*_readings(titres), rough=False, expected=24.35), SETTING)
    tables, levels = make_tables(SETTING, 0.04, tuple(RUN_RATES), (0, 1, 2)), Levels(FIT, SETTING)
    found = posterior(together, tables, levels)
    for place in range(len(titres)):
        alone = posterior(together.rows(slice(place, place + 1)), tables, levels)
        assert np.array_equal(found.student[place], alone.student[0])
        assert np.array_equal(found.run[place], alone.run[0])


def _readings(titres):
    final = np.round(np.array(titres) * 1000).astype(np.int64)
    return np.zeros_like(final), final


def test_weights_of_the_levels_cover_them_once():
    view = look(runs_of(24.35, 25.75, 7.10), SETTING)
    for apart in (True, False):
        theta, weights = wide_levels(view, view.expected, apart=apart)
        assert (np.diff(theta, axis=1) >= 0).all()
        assert weights.sum() == pytest.approx((theta[0, -1] - theta[0, 0]) / 100)
    theta, weights = calm_levels(view)
    assert weights.sum() == pytest.approx(0.63)
