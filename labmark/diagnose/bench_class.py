"""What the class itself says about good work: repeatability, spread between students, and a shift of all of them.

Found by going back and forth (expectation–maximisation): posteriors with the present figures tell which runs and
students are good ones, and these give the next figures. Each figure is held by what is usual, as if a few students had
already been seen, so that a class of three does not decide it alone.
"""

import numpy as np

from labmark.diagnose.bench_input import BenchSetting, Floats, RunMatrix
from labmark.diagnose.bench_levels import RUN_RATES, STUDENT_RATES, Fit
from labmark.diagnose.bench_model import CARELESS_FACTOR, CARELESS_SHARE, FIRST, FIRST_ONLY
from labmark.diagnose.bench_posterior import HABIT, Posterior, posterior, prepared
from labmark.diagnose.bench_runs import MIRRORED
from labmark.diagnose.bench_view import View, look, student_levels

USUAL_REPEATABILITY, REPEATABILITY_COUNTS = 0.045, 6.0
"""Scatter of good runs [cm³], and how many runs that experience is worth (common practice, no source)."""
USUAL_BETWEEN, BETWEEN_COUNTS = 0.005, 5.0
"""Relative spread between good students, and what that experience is worth in students (the same)."""
STUDENT_COUNTS, RUN_COUNTS = 15.0, 130.0
"""How many students, and how many runs, the rates of the table of hypotheses are worth beside those of the class: so
many runs that one which may show something rare does not make that common, and itself likelier still."""
USUAL_SHIFT = 0.004
"""A class lies off its reference by this fraction, as a standard deviation: all go a drop past the endpoint, say."""
UNKNOWN = 1.0
"""The same where there is no reference, or one in doubt."""
FEW = 8
"""So few students say nothing of good work where there is a reference: what is told to one would tell of another."""
LEAST_REPEATABILITY, LEAST_BETWEEN = 0.02, 0.002
"""Below this a class copies its figures from one another rather than measuring them [cm³; fraction]."""
ROUNDS = 4
ENOUGH_STUDENTS = 400
"""A class larger than this is represented by students taken at even distances down the list."""


def fit_class(runs: RunMatrix, setting: BenchSetting) -> Fit:
    """Return what the class says about good work."""
    n = runs.titre.shape[0]
    if n > ENOUGH_STUDENTS:
        runs = runs.rows(np.linspace(0, n - 1, ENOUGH_STUDENTS).astype(np.intp))
    view = look(runs, setting)
    shift_spread = _shift_spread(runs, setting)
    if view.accurate.any(axis=1).sum() < FEW and shift_spread < UNKNOWN:
        return Fit(USUAL_REPEATABILITY, USUAL_BETWEEN, 0.0, shift_spread, learnt=False)
    fit = _start(view, runs, shift_spread)
    for _ in range(ROUNDS):
        fit = _next(posterior(view, *prepared(view, fit, setting)), view, fit, shift_spread, setting)
    return fit


def _shift_spread(runs: RunMatrix, setting: BenchSetting) -> float:
    """Return the relative standard deviation of the class's shift before anything is known of this class."""
    known = np.isfinite(runs.expected) & (runs.expected > 0)
    if setting.reference_doubtful or not known.any():
        return UNKNOWN
    relative = np.nan_to_num(runs.expected_uncertainty[known]) / runs.expected[known]
    return float(np.hypot(USUAL_SHIFT, np.median(relative)))


def _start(view: View, runs: RunMatrix, shift_spread: float) -> Fit:
    """Return first figures: the median student, held by what is usual."""
    away = student_levels(runs) / view.expected - 1
    away = away[np.isfinite(away)]
    centre = float(np.median(away)) if away.size else 0.0
    # A median of n values has about π/2 times the variance of a mean.
    own = np.pi / 2 * USUAL_BETWEEN**2 / max(away.size, 1)
    weight = shift_spread**2 / (shift_spread**2 + own)
    return Fit(USUAL_REPEATABILITY, USUAL_BETWEEN, weight * centre, float(np.sqrt(weight * own)))


def _next(found: Posterior, view: View, fit: Fit, shift_spread: float, setting: BenchSetting) -> Fit:
    """Return the figures that the posteriors give."""
    weight, first, second = found.ordinary.sum(axis=0)
    precision = weight / fit.between**2 + 1 / shift_spread**2
    shift = first / fit.between**2 / precision
    squares = max(second - 2 * shift * first + shift**2 * weight, 0.0)
    # Who lies far out counts little here as it is, so that nothing is taken off for the few far ones of the mixture.
    between = np.sqrt((BETWEEN_COUNTS * USUAL_BETWEEN**2 + squares) / (BETWEEN_COUNTS + weight))
    return Fit(
        _repeatability(found, setting), max(float(between), LEAST_BETWEEN), float(shift), float(1 / np.sqrt(precision)),
        *_rates(found, view),
    )  # fmt: skip


def _rates(found: Posterior, view: View) -> tuple[Floats, Floats]:
    """Return how often each hypothesis about a student and about a run holds in this class."""
    told = view.accurate.any(axis=1)
    students = found.student[told].sum(axis=0)
    runs = np.where(view.accurate[..., None], found.run, 0.0).sum(axis=1)
    # A habit is counted as a habit, not once more in every run.
    runs[:, MIRRORED] = np.maximum(runs[:, MIRRORED] - found.student[:, HABIT] * view.accurate.sum(axis=1), 0.0)
    could = np.where(FIRST_ONLY, (view.kind == FIRST).sum(), view.accurate.sum())
    return (
        (STUDENT_COUNTS * STUDENT_RATES + students) / (STUDENT_COUNTS + told.sum()),
        (RUN_COUNTS * RUN_RATES + runs.sum(axis=0)) / (RUN_COUNTS + could),
    )


def _repeatability(found: Posterior, setting: BenchSetting) -> float:
    count, squares = found.scatter.sum(axis=0)
    rounding = (setting.division / 2) ** 2 / 6
    # Good runs are a mixture of careful and careless ones: take their common factor out again.
    factor = 1 + CARELESS_SHARE * (CARELESS_FACTOR**2 - 1)
    usual = (USUAL_REPEATABILITY**2 + rounding) * factor
    variance = (REPEATABILITY_COUNTS * usual + squares) / (REPEATABILITY_COUNTS + count) / factor - rounding
    return float(np.sqrt(max(variance, LEAST_REPEATABILITY**2)))
