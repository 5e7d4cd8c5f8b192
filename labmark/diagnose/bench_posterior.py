"""Posteriors over what happened, by adding up over the level at which a student works.

For a hypothesis W about the student with level density p(θ | W), and runs that are independent once the level is known,

    p(titres | W) = ∫ p(θ | W) ∏ₖ Σₕ rateₕ pₕ(titreₖ − θ) dθ

The integral is a trapezium sum over the levels of `bench_lattice`. A student whose runs lie apart may be a shaky one:
then the same is done with a wider scatter, and the two are weighed. Nothing is drawn at random.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from labmark.diagnose.bench_input import BenchSetting, Floats
from labmark.diagnose.bench_lattice import LATTICE, calm_levels, is_calm, lie_apart, wide_levels
from labmark.diagnose.bench_levels import Fit, level_density
from labmark.diagnose.bench_model import LATER, READING_STEPS, ROUGH, STEP, Tables
from labmark.diagnose.bench_view import VARIANT_SHARES, VARIANTS, Places, View
from labmark.diagnose.hypotheses import COUNTED_FROM_BELOW, RUN_HYPOTHESES, STUDENT_HYPOTHESES

SHAKY_SHARE = 0.12
"""Share of students whose good runs scatter more widely than the others' (common practice, no source)."""
HABIT_SLIP = 0.08
"""Share of runs of a student who reads upside down that fit no mirrored reading: then any run's mixture holds."""

_NAMES = [h.name for h in STUDENT_HYPOTHESES]
HABIT = _NAMES.index("reads the scale upside down")
_SCATTERED = _NAMES.index("scattered work")
_FADING = _NAMES.index("titrant diluted, less from run to run")
ORDINARY = _NAMES.index("ordinary work")
PLAIN = np.array([i not in (HABIT, _SCATTERED, _FADING) for i in range(len(_NAMES))])
"""Hypotheses about the student under which every run has the usual mixture about the level."""
MIRRORED = [h.shape for h in RUN_HYPOTHESES].index("mirrored")
_CHAINED = [h.shape for h in RUN_HYPOTHESES].index("not refilled")


@dataclass(frozen=True, slots=True)
class Posterior:
    """Posterior probabilities of a class."""

    evidence: Floats
    """Density of all the runs of each student, whatever happened [cm³ to the minus number of runs], (n,)."""
    student: Floats
    """Over the hypotheses about the student, (n, hypotheses)."""
    run: Floats
    """Over the hypotheses about the run, (n, k, hypotheses); what is missing to 1 is that nothing happened to it."""
    variant: Floats
    """Over the ways of reading a run upside down, (n, k, variants), as far as that happened at all."""
    level: Floats
    """Mean level at which the student works [cm³], (n,)."""
    ordinary: Floats
    """Ordinary work: weight, and sum and sum of squares of the level's distance from the expected titre [1], (n, 3)."""
    scatter: Floats
    """Weight of good accurate runs, and their squared distances from the level [cm³²], (n, 2)."""


class _Runs:
    """Densities of every run at every level of a group of students, each (n, k, nodes)."""

    def __init__(self, view: View, tables: Tables, theta: Places) -> None:
        self.view, self.tables, self.theta = view, tables, theta
        row = (view.interval[:, None] * 3 + view.kind) * tables.width
        self.place = self._at(view.titre) + np.asarray(row[..., None], dtype=np.int32)
        self.straight = tables.mix.reshape(-1).take(self.place)
        accurate = view.accurate[..., None]
        rows = view.interval * tables.width
        self.good_row = np.asarray(rows[:, None, None], dtype=np.int32)
        self.variants = [self.good(view.meant[:, :, i]) for i in range(len(VARIANTS))]
        self.mirrored = tables.rate[MIRRORED, LATER] * accurate * self._mirrored()
        self.chained = (tables.rate[_CHAINED, LATER] * view.can_chain)[..., None] * self.good(view.chained)
        self.mix = self.straight + self.mirrored + self.chained

    def _at(self, titre: Places) -> Places:
        """Return the place of each distance between titre and level in a table."""
        centre = self.tables.centre
        away = (titre + np.int32(centre))[..., None] - self.theta[:, None, :]
        return np.asarray(np.clip(away, 0, 2 * centre, out=away))

    def good(self, titre: Places) -> Floats:
        return np.asarray(self.tables.good.reshape(-1).take(self._at(titre) + self.good_row))

    def _mirrored(self) -> Floats:
        total = np.zeros(self.place.shape)
        for variant, share in zip(self.variants, VARIANT_SHARES, strict=True):
            total += share * variant
        return total

    def habit(self) -> Floats:
        """Return the density of runs whose readings are both mirrored, the rough included."""
        plain, below = VARIANTS.index("both"), VARIANTS.index("both from below")
        fits = (1 - COUNTED_FROM_BELOW) * self.variants[plain] + COUNTED_FROM_BELOW * self.variants[below]
        accurate = (1 - HABIT_SLIP) * fits + HABIT_SLIP * self.mix
        row = (self.view.interval[:, None] * 3 + self.view.kind) * self.tables.width
        place = self._at(self.view.meant[:, :, plain]) + np.asarray(row[..., None], dtype=np.int32)
        return np.asarray(np.where(self.view.accurate[..., None], accurate, self.tables.mix.reshape(-1).take(place)))

    def fading(self) -> Floats:
        """Return the density of runs whose titrant gets stronger."""
        return np.asarray(self.tables.fading.reshape(-1).take(self.place))

    def scattered(self, band: int) -> Floats:
        """Return the density of runs of scattered work."""
        wide = self.tables.scattered[band].reshape(-1).take(self._at(self.view.titre) + self.good_row) + 0.01 / 50
        return np.asarray(np.where(self.view.accurate[..., None], wide, self.mix))

    def fault(self, hypothesis: int) -> Floats:
        """Return rate times density of a hypothesis about the run."""
        if hypothesis == MIRRORED:
            return np.asarray(self.mirrored)
        if hypothesis == _CHAINED:
            return np.asarray(self.chained)
        return np.asarray(self.tables.fault[hypothesis].reshape(-1).take(self.place))

    def together(self, density: Floats) -> Floats:
        """Return the density of all of a student's runs at each level, (n, nodes)."""
        return np.asarray(np.where(self.view.alive[..., None], density, 1.0).prod(axis=1))


def _evidence(runs: _Runs, priors: Floats, weights: Floats) -> Floats:
    """Return weight × density of the runs at each level under each hypothesis about the student, (n, W, nodes)."""
    joint = priors * (runs.together(runs.mix) * weights)[:, None, :]
    joint[:, HABIT] = priors[:, HABIT] * runs.together(runs.habit()) * weights
    joint[:, _FADING] = priors[:, _FADING] * runs.together(runs.fading()) * weights
    bands = STUDENT_HYPOTHESES[_SCATTERED].bands
    wide = sum(b.share * runs.together(runs.scattered(i)) for i, b in enumerate(bands))
    joint[:, _SCATTERED] = priors[:, _SCATTERED] * wide * weights
    return joint


def posterior(view: View, tables: Tables, fit: Fit, setting: BenchSetting) -> Posterior:
    """Return the posteriors of a group of students, all at once."""
    calm, apart = is_calm(view, fit.centre(view.expected)), lie_apart(view)
    parts = []
    for which in (np.flatnonzero(calm), np.flatnonzero(~calm & ~apart), np.flatnonzero(~calm & apart)):
        if not which.size:
            continue
        some = view.rows(which)
        theta, weights = calm_levels(some) if calm[which[0]] else wide_levels(some, fit.centre(some.expected))
        found = _posterior(some, tables, fit, setting, theta, weights)
        if apart[which[0]] and not calm[which[0]]:
            shaky = replace(some, interval=some.interval + len(READING_STEPS))
            found = _weighed(found, _posterior(shaky, tables, fit, setting, theta, weights))
        parts.append((which, found))
    return _joined(parts, view.titre.shape[0])


def _weighed(steady: Posterior, shaky: Posterior) -> Posterior:
    """Return the posteriors of students who may be steady or shaky."""
    first, second = (1 - SHAKY_SHARE) * steady.evidence, SHAKY_SHARE * shaky.evidence
    share = second / np.maximum(first + second, 1e-300)
    columns = []
    for name in Posterior.__slots__:
        one, other = getattr(steady, name), getattr(shaky, name)
        weight = share.reshape(-1, *[1] * (one.ndim - 1))
        columns.append((1 - weight) * one + weight * other)
    return Posterior(*columns)


def _joined(parts: list[tuple[npt.NDArray[np.intp], Posterior]], n: int) -> Posterior:
    columns = []
    for name in Posterior.__slots__:
        out = np.empty((n, *getattr(parts[0][1], name).shape[1:]))
        for which, part in parts:
            out[which] = getattr(part, name)
        columns.append(out)
    return Posterior(*columns)


def _posterior(
    view: View, tables: Tables, fit: Fit, setting: BenchSetting, theta: Places, weights: Floats
) -> Posterior:
    level = theta * (STEP / 1000)
    runs = _Runs(view, tables, theta)
    joint = _evidence(runs, _priors(theta, view.expected, fit, setting), weights)
    evidence = joint.sum(axis=(1, 2))
    joint /= np.maximum(evidence, 1e-300)[:, None, None]
    plain = joint[:, PLAIN].sum(axis=1)
    run, variant, good = _runs_of(runs, plain, joint[:, HABIT].sum(axis=1))
    ordinary = joint[:, ORDINARY]
    away = level / view.expected[:, None] - 1
    first = (ordinary * away).sum(axis=1)
    return Posterior(
        evidence, joint.sum(axis=2), run, variant, (joint.sum(axis=1) * level).sum(axis=1),
        np.stack([ordinary.sum(axis=1), first, (ordinary * away**2).sum(axis=1)], axis=1),
        _scatter(view, level, good),
    )  # fmt: skip


def _priors(theta: Places, expected: Floats, fit: Fit, setting: BenchSetting) -> Floats:
    """Return rate times density of each level under each hypothesis about the student, (n, W, nodes)."""
    values, which = np.unique(expected, return_inverse=True)
    first, last = int(theta.min()) // LATTICE, int(theta.max()) // LATTICE
    if values.size * (last - first + 1) > theta.size:
        return _densities(theta * (STEP / 1000), expected, fit, setting)
    # Most classes have one expected titre, or one a bottle: every level is worked out once for all.
    lattice = np.arange(first, last + 1) * (LATTICE * STEP / 1000)
    table = _densities(np.tile(lattice, (values.size, 1)), values, fit, setting)
    return np.asarray(np.moveaxis(table.transpose(0, 2, 1)[which[:, None], theta // LATTICE - first], 2, 1))


def _densities(level: Floats, expected: Floats, fit: Fit, setting: BenchSetting) -> Floats:
    densities = [level_density(h, level, expected, fit, setting) for h in STUDENT_HYPOTHESES]
    return np.asarray(fit.student_rates[:, None] * np.stack(densities, axis=1))


def _runs_of(runs: _Runs, plain: Floats, habit: Floats) -> tuple[Floats, Floats, Floats]:
    """Return posteriors over hypotheses about each run, over ways to mirror it, and of a good run at each level."""
    weight = plain[:, None, :] / runs.mix
    faults = np.stack([_over_levels(weight, runs.fault(h)) for h in range(len(RUN_HYPOTHESES))], axis=2)
    accurate = runs.view.accurate
    ways = np.stack([_over_levels(weight, way) for way in runs.variants], axis=2) * VARIANT_SHARES
    ways *= runs.tables.rate[MIRRORED, LATER] * accurate[..., None]
    for name, share in (("both", 1 - COUNTED_FROM_BELOW), ("both from below", COUNTED_FROM_BELOW)):
        ways[:, :, VARIANTS.index(name)] += share * habit[:, None]
    # Who reads the scale upside down does so in the rough as well.
    faults[:, :, MIRRORED] += habit[:, None]
    faults *= runs.view.alive[..., None]
    good = weight * runs.tables.good_rate[runs.view.kind][..., None] * runs.good(runs.view.titre)
    return faults, ways, good


def _over_levels(weight: Floats, density: Floats) -> Floats:
    """Return the sum over levels of weight × density, (n, k)."""
    return np.asarray(np.einsum("ikg,ikg->ik", weight, density))


def _scatter(view: View, level: Floats, good: Floats) -> Floats:
    """Return the weight of good accurate runs and the sum of their squared distances from the level, (n, 2)."""
    sure = np.where((view.accurate & (view.kind != ROUGH) & (view.interval < 1)[:, None])[..., None], good, 0.0)
    away = view.titre[..., None] * (STEP / 1000) - level[:, None, :]
    return np.stack([sure.sum(axis=(1, 2)), (sure * away**2).sum(axis=(1, 2))], axis=1)
