"""Where a student's titres should lie under each hypothesis about everything the student did.

Ordinary work has the class's level (expected titre × (1 + shift of the class)) and the spread between students who did
nothing wrong. A hypothesis about the student moves that level by a volume, by a fraction or in the ratio of another
pipette; its density is that of the size, blurred by the spread of ordinary work.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from labmark.diagnose.bench_input import BenchSetting, Floats
from labmark.diagnose.bench_model import evenly, normal
from labmark.diagnose.hypotheses import PIPETTES, RUN_HYPOTHESES, STUDENT_HYPOTHESES, Hypothesis

TAIL_SHARE, TAIL_FACTOR = 0.04, 2.5
"""A share of ordinary students who lie further from the class than the others."""
STUDENT_RATES = np.array([h.rate for h in STUDENT_HYPOTHESES]) / sum(h.rate for h in STUDENT_HYPOTHESES)
RUN_RATES = np.array([h.rate for h in RUN_HYPOTHESES])
RATIO_SPREAD = 0.004
"""Relative standard deviation that another pipette adds: its own tolerance and filling."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What the class says about good work."""

    repeatability: float
    """Standard deviation of a student's good runs [cm³], without the rounding of the readings."""
    between: float
    """Relative standard deviation between students who did nothing wrong."""
    shift: float
    """Relative shift of the class against the expected titre."""
    shift_uncertainty: float
    """Its standard uncertainty."""
    student_rates: Floats = field(default_factory=lambda: STUDENT_RATES)
    """How often each hypothesis about a student holds; adds up to 1."""
    run_rates: Floats = field(default_factory=lambda: RUN_RATES)
    """How often each hypothesis about a run holds, of accurate runs."""

    def centre(self, expected: Floats) -> Floats:
        """Return the level of ordinary work [cm³]."""
        return expected * (1 + self.shift)

    def spread(self, expected: Floats) -> Floats:
        """Return the standard deviation of ordinary students about it [cm³]."""
        return expected * float(np.hypot(self.between, self.shift_uncertainty))


def _ordinary(theta: Floats, centre: Floats, spread: Floats) -> Floats:
    near = (1 - TAIL_SHARE) * normal(theta - centre, spread)
    return near + TAIL_SHARE * normal(theta - centre, TAIL_FACTOR * spread)


def _moved(hypothesis: Hypothesis, theta: Floats, centre: Floats, spread: Floats, unit: Floats | float) -> Floats:
    """Return the density of a level moved by an amount in the bands times `unit`."""
    sign = -1.0 if hypothesis.direction == "-" else 1.0
    x = sign * (theta - centre)
    return np.asarray(sum(b.share * evenly(x, b.low * unit, b.high * unit, spread) for b in hypothesis.bands))


def other_pipettes(aliquot: float | None) -> list[tuple[float, float]]:
    """Return (ratio to the right pipette, share) of the pipettes that may have been taken instead."""
    if aliquot is None:
        return []
    others = [(size / aliquot, share) for size, share in PIPETTES if abs(size - aliquot) > 0.01 * aliquot]
    total = sum(share for _, share in others)
    return [(ratio, share / total) for ratio, share in others]


def _ratio(theta: Floats, centre: Floats, spread: Floats, aliquot: float | None) -> Floats:
    density = np.zeros(np.broadcast_shapes(theta.shape, centre.shape))
    for ratio, share in other_pipettes(aliquot):
        # Where a student stops is a matter of drops, however little the pipette delivered.
        own = max(ratio, 1.0) * spread
        density += share * normal(theta - ratio * centre, np.hypot(own, RATIO_SPREAD * ratio * centre))
    return density


def level_density(hypothesis: Hypothesis, theta: Floats, expected: Floats, fit: Fit, setting: BenchSetting) -> Floats:
    """Return the density of a level theta [cm³], (n, nodes), under a hypothesis about the student [1/cm³]."""
    centre, spread = fit.centre(expected)[:, None], fit.spread(expected)[:, None]
    if hypothesis.shape == "added":
        return _moved(hypothesis, theta, centre, spread, 1.0)
    if hypothesis.shape == "proportional":
        falls = hypothesis.finding == "diluted-titrant" and not setting.weaker_raises
        return _moved(hypothesis, 2 * centre - theta if falls else theta, centre, spread, centre)
    if hypothesis.shape == "fading":
        size = _moved(hypothesis, theta, centre, spread, centre)
        return 0.5 * _ordinary(theta, centre, spread) + 0.5 * size
    if hypothesis.shape == "ratio":
        return _ratio(theta, centre, spread, setting.aliquot)
    if hypothesis.shape == "anywhere":
        return np.full(theta.shape, 1 / setting.capacity)
    return _ordinary(theta, centre, spread)
