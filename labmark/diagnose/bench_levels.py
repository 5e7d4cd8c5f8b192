"""Where a student's titres should lie under each hypothesis about everything the student did.

Ordinary work has the class's level (expected titre × (1 + shift of the class)) and the spread between students who did
nothing wrong. A hypothesis about the student moves that level by a volume, by a fraction or in the ratio of another
pipette; its density is that of the size, blurred by the spread of ordinary work.

In a back titration the sample takes away from the blank titre, so whatever is wrong with the amount of sample is a
fraction of blank − level, and goes the other way. With a blank of 40.00 and a level of 25.00 cm³, a 20 cm³ pipette in
place of one of 25 leaves 40.00 − 15.00 × 0.8 = 28.00 cm³. A weaker titrant raises the titre here as well.
"""

from typing import Any, Self

import numpy as np
import numpy.typing as npt

from labmark.dataclass import dataclass, field
from labmark.diagnose.bench_input import BenchSetting, Floats
from labmark.diagnose.bench_model import LATTICE, STEP, anywhere, evenly, normal
from labmark.diagnose.hypotheses import PIPETTES, RUN_HYPOTHESES, STUDENT_HYPOTHESES, Hypothesis

TAIL_SHARE, TAIL_FACTOR = 0.04, 2.6
"""A share of ordinary students who lie further from the class than the others."""
STUDENT_RATES = np.array([h.rate for h in STUDENT_HYPOTHESES]) / sum(h.rate for h in STUDENT_HYPOTHESES)
RUN_RATES = np.array([h.rate for h in RUN_HYPOTHESES])
RATIO_SPREAD = 0.004
"""Relative standard deviation that another pipette adds: its own tolerance and filling."""
MANY_EXPECTED = 8
"""With more expected titres than this in a class, levels are worked out for each student."""
OF_SAMPLE = ("pipette wet with water", "flask rinsed with the solution", "last drop blown out of the pipette")
"""Hypotheses that change the amount of sample in the flask, not the strength of the titrant."""


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
    learnt: bool = True
    """The class said so; else all of it is what is usual."""

    def centre(self, expected: Floats) -> Floats:
        """Return the level of ordinary work [cm³]."""
        return expected * (1 + self.shift)

    def spread(self, expected: Floats, factor: float = 1.0) -> Floats:
        """Return the standard deviation of ordinary students about it [cm³], `factor` times as far apart as most.

        However much students differ, the class's level is as uncertain for all of them.
        """
        return expected * float(np.hypot(factor * self.between, self.shift_uncertainty))


def _ordinary(theta: Floats, expected: Floats, fit: Fit) -> Floats:
    away = theta - fit.centre(expected)
    near = (1 - TAIL_SHARE) * normal(away, fit.spread(expected))
    return near + TAIL_SHARE * normal(away, fit.spread(expected, TAIL_FACTOR))


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


def _of_sample(centre: Floats, setting: BenchSetting) -> Floats:
    """Return what the sample adds to a titre [cm³]: all of it, or, in a back titration, less than nothing."""
    return centre - (setting.blank_titre or 0.0)


def _ratios(theta: Floats, expected: Floats, centre: Floats, spread: Floats, setting: BenchSetting) -> Floats:
    """Return the density of levels moved by another pipette than each student's."""
    if setting.own_aliquots is None:
        return _ratio(theta, centre, spread, setting, setting.aliquot)
    each = enumerate(setting.pipettes(expected.tolist()))
    return np.stack([_ratio(theta[i], centre[i], spread[i], setting, aliquot) for i, aliquot in each])


def _ratio(theta: Floats, centre: Floats, spread: Floats, setting: BenchSetting, aliquot: float | None) -> Floats:
    density = np.zeros(np.broadcast_shapes(theta.shape, centre.shape))
    sample = _of_sample(centre, setting)
    for ratio, share in other_pipettes(aliquot):
        # Where a student stops is a matter of drops, however little the pipette delivered.
        own = max(ratio, 1.0) * spread
        moved = centre + (ratio - 1) * sample
        density += share * normal(theta - moved, np.hypot(own, RATIO_SPREAD * ratio * sample))
    return density


def pipette_of(level: float, centre: float, setting: BenchSetting, aliquot: float | None) -> float | None:
    """Return the pipette volume that a level fits [cm³], or None where pipettes play no part."""
    sample = centre - (setting.blank_titre or 0.0)
    return None if aliquot is None or not sample else (level - centre + sample) / sample * aliquot


def level_density(hypothesis: Hypothesis, theta: Floats, expected: Floats, fit: Fit, setting: BenchSetting) -> Floats:
    """Return the density of a level theta [cm³], (n, nodes), under a hypothesis about the student [1/cm³]."""
    centre, spread = fit.centre(expected)[:, None], fit.spread(expected)[:, None]
    if hypothesis.shape == "added":
        return _moved(hypothesis, theta, centre, spread, 1.0)
    if hypothesis.shape == "proportional":
        unit = _of_sample(centre, setting) if hypothesis.name in OF_SAMPLE else centre
        other_way = unit < 0
        return _moved(hypothesis, np.where(other_way, 2 * centre - theta, theta), centre, spread, np.abs(unit))
    if hypothesis.shape == "ratio":
        return _ratios(theta, expected, centre, spread, setting)
    if hypothesis.shape == "anywhere":
        return anywhere(theta - centre, setting.capacity)
    return _ordinary(theta, expected[:, None], fit)


class Levels:
    """How often a student of a class works at each level under each hypothesis; worked out once where that is less."""

    def __init__(self, fit: Fit, setting: BenchSetting) -> None:
        self.fit, self.setting = fit, setting
        self._known: dict[float, Floats] = {}

    def know(self, expected: Floats, highest: int) -> Self:
        """Work out every level up to `highest` [STEP] for each expected titre, where these are few; return self.

        Most classes have one expected titre, or one a bottle.
        """
        values = np.unique(expected)
        if values.size <= MANY_EXPECTED:
            lattice = np.arange(highest // LATTICE + 2)[None, :] * (LATTICE * STEP / 1000)
            self._known = {float(value): self._at(lattice, np.array([value]))[0].T.copy() for value in values}
        return self

    def density(self, theta: npt.NDArray[np.integer[Any]], expected: Floats) -> Floats:
        """Return rate times density of each level [STEP] under each hypothesis about the student, (n, W, nodes)."""
        if not self._known:
            return self._at(theta * (STEP / 1000), expected)
        place = theta // LATTICE
        out = np.empty((*theta.shape, len(STUDENT_HYPOTHESES)))
        for value in np.unique(expected).tolist():
            rows = expected == value
            out[rows] = self._known[value].take(place[rows], axis=0)
        return np.asarray(np.moveaxis(out, 2, 1))

    def _at(self, level: Floats, expected: Floats) -> Floats:
        densities = [level_density(h, level, expected, self.fit, self.setting) for h in STUDENT_HYPOTHESES]
        return np.asarray(self.fit.student_rates[:, None] * np.stack(densities, axis=1))
