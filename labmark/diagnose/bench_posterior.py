"""Posteriors over what happened, by adding up over the level at which a student works.

For a hypothesis W about the student with level density p(θ | W), and runs that are independent once the level is known,

    p(titres | W) = ∫ p(θ | W) ∏ₖ Σₕ rateₕ pₕ(titreₖ − θ) dθ

The integral is a trapezium sum over the levels of `bench_lattice`. A student whose runs lie apart may be a shaky one:
then the same is done with a wider scatter, and the two are weighed. Nothing is drawn at random.

Where readings chain, a pair of runs may share one misreading: the product over its two runs is then replaced by the
density of the pair, for each pair in turn (two such pairs in one student are not thought of).
"""

from typing import NamedTuple

import numpy as np

from labmark.dataclass import replace
from labmark.diagnose.bench_input import BenchSetting, Floats
from labmark.diagnose.bench_lattice import QUIET_RANGE, calm_levels, highest_level, is_calm, lie_apart, wide_levels
from labmark.diagnose.bench_levels import Fit, Levels
from labmark.diagnose.bench_links import WHOLES, Links
from labmark.diagnose.bench_misread import VARIANTS
from labmark.diagnose.bench_model import EACH, READING_STEPS, ROUGH, STEP, Tables, make_tables
from labmark.diagnose.bench_runs import COPIED_WAYS, HABIT_WAYS, MIRRORED, MISREAD, TURNED, Runs
from labmark.diagnose.bench_view import Places, View
from labmark.diagnose.hypotheses import COUNTED_FROM_BELOW, STUDENT_HYPOTHESES

SHAKY_SHARE = 0.12
"""Share of students whose good runs scatter more widely than the others' (common practice, no source)."""

_NAMES = [h.name for h in STUDENT_HYPOTHESES]
HABIT = _NAMES.index("reads the scale upside down")
LEVEL_CHANGE = _NAMES.index("level-change")
_SCATTERED = _NAMES.index("scattered work")
FADING = _NAMES.index("titrant diluted, less from run to run")
ORDINARY = _NAMES.index("ordinary work")
OF_ALL_RUNS = (HABIT, FADING, LEVEL_CHANGE, _SCATTERED, *(_NAMES.index(h.name) for h in EACH))
PLAIN = np.array([i not in OF_ALL_RUNS for i in range(len(_NAMES))])
"""Hypotheses about the student under which every run has the usual mixture about the level."""


class Posterior(NamedTuple):
    """Posterior probabilities of a class."""

    evidence: Floats
    """Density of all the runs of each student, whatever happened [cm³ to the minus number of runs], (n,)."""
    student: Floats
    """Over the hypotheses about the student, (n, hypotheses)."""
    run: Floats
    """Over the hypotheses about the run, (n, k, hypotheses); what is missing to 1 is that nothing happened to it."""
    variant: Floats
    """Over the ways to write a reading, (n, k, ways), as far as that happened at all."""
    copied: Floats
    """The final reading misread by a whole number, or upside down in each way of COPIED_WAYS, and copied, (n, k, 5)."""
    ended: Floats
    """Share of a misreading by a whole number in which it was the final reading, (n, k); 0.5 where that is unknown."""
    level: Floats
    """Mean level at which the student works [cm³], (n,)."""
    ordinary: Floats
    """Ordinary work: weight, and sum and sum of squares of the level's distance from the expected titre [1], (n, 3)."""
    scatter: Floats
    """Weight of good accurate runs, and their squared distances from the level [cm³²], (n, 2)."""


def _evidence(runs: Runs, priors: Floats, weights: Floats) -> Floats:
    """Return weight × density of the runs at each level under each hypothesis about the student, (n, W, nodes)."""
    pairs = 1.0 if runs.copied is None else 1 + runs.copied.sum(axis=(1, 2))
    joint = priors * (runs.together(runs.mix) * pairs * weights)[:, None, :]
    bands = STUDENT_HYPOTHESES[_SCATTERED].bands
    wide = sum(b.share * runs.together(runs.scattered(i)) for i, b in enumerate(bands))
    each = (runs.each_added(i) for i in range(len(EACH)))
    of_all = (sum(runs.habits), runs.fading(), runs.changed(), wide, *each)
    for place, density in zip(OF_ALL_RUNS, of_all, strict=True):
        joint[:, place] = priors[:, place] * density * weights
    return joint


def prepared(view: View, fit: Fit, setting: BenchSetting) -> tuple[Tables, Levels]:
    """Return what the posteriors of a class, or of some of its students, are looked up in."""
    intervals = tuple(np.unique(view.interval).tolist())
    tables = make_tables(setting, fit.repeatability, tuple(fit.run_rates.tolist()), intervals)
    return tables, Levels(fit, setting).know(view.expected, highest_level(view, fit.centre(view.expected)))


def posterior(view: View, tables: Tables, levels: Levels) -> Posterior:
    """Return the posteriors of a group of students, all at once."""
    centre = levels.fit.centre(view.expected)
    calm, apart = is_calm(view, centre), lie_apart(view)
    # What runs look like decides how much has to be added up. Of those that agree with one another and with the class,
    # none was misread.
    quiet = calm & ~lie_apart(view, QUIET_RANGE)
    groups = {_quiet: quiet, _calm: calm & ~quiet, _wide: ~calm & ~apart, _apart: apart}
    which = {each: np.flatnonzero(group) for each, group in groups.items()}
    parts = [each(view.rows(some), tables, levels) for each, some in which.items() if some.size]
    in_order = np.argsort(np.concatenate([*which.values()]))
    return Posterior(*(np.concatenate(each)[in_order] for each in zip(*parts, strict=True)))


def _quiet(view: View, tables: Tables, levels: Levels) -> Posterior:
    """Return the posteriors of students whose titres agree with one another and the class: many are just the same."""
    places = np.where(view.alive, view.titre, 0)
    same = np.concatenate([places, view.alive, view.accurate, view.kind, view.interval[:, None]], axis=1)
    whole = np.concatenate([same.astype(np.float64), view.expected[:, None]], axis=1)
    _, first, of = np.unique(whole, axis=0, return_index=True, return_inverse=True)
    found = _calm(view.rows(first), tables, levels, by_reading=False)
    return Posterior(*(each[of.reshape(-1)] for each in found))


def _calm(view: View, tables: Tables, levels: Levels, *, by_reading: bool = True) -> Posterior:
    """Return the posteriors of students whose titres lie together and close to the class."""
    return _posterior(view, tables, levels, *calm_levels(view), by_reading=by_reading)


def _wide(view: View, tables: Tables, levels: Levels) -> Posterior:
    """Return the posteriors of students whose titres lie together, away from the class."""
    centre = levels.fit.centre(view.expected)
    return _posterior(view, tables, levels, *wide_levels(view, centre, apart=False))


def _apart(view: View, tables: Tables, levels: Levels) -> Posterior:
    """Return the posteriors of students whose titres lie apart: they may be steady or shaky."""
    at = wide_levels(view, levels.fit.centre(view.expected), apart=True)
    shaky = replace(view, interval=view.interval + len(READING_STEPS))
    # Runs of a shaky hand lie apart anyhow: single readings tell nothing of them.
    return _weighed(_posterior(view, tables, levels, *at), _posterior(shaky, tables, levels, *at, by_reading=False))


def _weighed(steady: Posterior, shaky: Posterior) -> Posterior:
    """Return the posteriors of students who may be steady or shaky."""
    first, second = (1 - SHAKY_SHARE) * steady.evidence, SHAKY_SHARE * shaky.evidence
    share = second / np.maximum(first + second, 1e-300)

    def mixed(one: Floats, other: Floats) -> Floats:
        weight = share.reshape(-1, *[1] * (one.ndim - 1))
        return np.asarray((1 - weight) * one + weight * other)

    return Posterior(*map(mixed, steady, shaky))


def _posterior(
    view: View, tables: Tables, levels: Levels, theta: Places, weights: Floats, *, by_reading: bool = True
) -> Posterior:
    """Return the posteriors of students over these levels [STEP], `weights` of each.

    `by_reading`: what single readings may stand for is looked at too.
    """
    level = theta * (STEP / 1000)
    ordinary_level = np.asarray(np.rint(levels.fit.centre(view.expected) * 1000 / STEP), dtype=np.int64)
    runs = Runs(view, tables, theta, ordinary_level, by_reading=by_reading)
    joint = _evidence(runs, levels.density(theta, view.expected), weights)
    evidence = joint.sum(axis=(1, 2))
    joint /= np.maximum(evidence, 1e-300)[:, None, None]
    run, variant, copied, good = _with_pairs(runs, joint)
    centre = (joint.sum(axis=1) * level).sum(axis=1)
    away = level / view.expected[:, None] - 1
    ordinary = np.stack([(joint[:, ORDINARY] * away**power).sum(axis=1) for power in range(3)], axis=1)
    return Posterior(
        evidence, joint.sum(axis=2), run, variant, copied, _ended(view, centre), centre, ordinary,
        _scatter(view, level, good),
    )  # fmt: skip


def _with_pairs(runs: Runs, joint: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return what `_runs_of` does, pairs of runs that share a misreading counted in; the third of four is the pairs."""
    plain, copied = _pairs_of(runs, joint[:, PLAIN].sum(axis=1))
    run, variant, good = _runs_of(runs, plain, _habit_of(runs, joint[:, HABIT]))
    run[:, :, MISREAD] += copied[:, :, 0]
    run[:, :, MIRRORED] += copied[:, :, 1:].sum(axis=2)
    # Pairs are weighed one at a time, so that of runs in two of them a little too much may be said.
    run /= np.maximum(run.sum(axis=2, keepdims=True), 1.0)
    variant[:, :, [way for way, _ in COPIED_WAYS]] += copied[:, :, 1:]
    return run, variant, copied, good


def _pairs_of(runs: Runs, plain: Floats) -> tuple[Floats, Floats]:
    """Return the posterior of each run by itself at each level, (n, k, nodes), and of copied misreadings, (n, k, 5)."""
    shape = runs.mix.shape
    if runs.copied is None:
        return np.broadcast_to(plain[:, None, :], shape), np.zeros((*shape[:2], 1 + len(COPIED_WAYS)))
    pair = runs.copied.sum(axis=2)
    share = (plain / (1 + pair.sum(axis=1)))[:, None, :]
    shared = share * (pair + np.roll(pair, 1, axis=1))
    return plain[:, None, :] - shared, (share[:, :, None] * runs.copied).sum(axis=3)


def _ended(view: View, centre: Floats) -> Floats:
    """Return the share of misreadings by a whole number in which it was the final reading, (n, k)."""
    whole = np.rint((view.titre * (STEP / 1000) - centre[:, None]) / view.turned)
    known = whole[..., None] == WHOLES
    return np.asarray(np.where(known.any(axis=2), (known * view.links.final_share).sum(axis=2), 0.5))


def _runs_of(runs: Runs, plain: Floats, habit: list[Floats]) -> tuple[Floats, Floats, Floats]:
    """Return posteriors over hypotheses about each run, over ways to write it, and of a good run at each level."""
    weight = plain / runs.mix
    faults, ways, good = runs.mishaps(weight), runs.ways(weight), runs.good_runs(weight)
    if runs.variants is not None:
        share = _one_of_two(faults[:, :, [MISREAD, *TURNED]].sum(axis=2), runs.view.links)
        faults[:, :, [MISREAD, *TURNED]] *= share
        ways *= share
    for (way, _), by_habit in zip(HABIT_WAYS[: len(habit)], habit, strict=True):
        ways[:, :, VARIANTS.index(way)] += (1 - COUNTED_FROM_BELOW) * by_habit
        ways[:, :, VARIANTS.index(f"{way} from below")] += COUNTED_FROM_BELOW * by_habit
        faults[:, :, MIRRORED] += by_habit
    faults *= runs.view.alive[..., None]
    return faults, ways, good


def _one_of_two(misread: Floats, chained: Links) -> Floats:
    """Return how much is left of the chance that a run was misread, (n, k, 1), where the one beside it may be instead.

    A final reading and a next initial one that contradict each other count for both runs: one of them is enough.
    """
    odds = misread / np.maximum(1 - misread, 1e-12)
    after = np.where(chained.either, np.roll(odds, -1, axis=1), 0.0)
    before = np.roll(np.where(chained.either, odds, 0.0), 1, axis=1)
    return np.asarray(((1 + odds) / (1 + odds + before + after))[..., None])


def _habit_of(runs: Runs, habit: Floats) -> list[Floats]:
    """Return the posterior that each run was read upside down by habit, for each of HABIT_WAYS, (n, k)."""
    level = habit / np.maximum(sum(runs.habits), 1e-300)
    return [
        np.einsum("ig,ikg->ik", level * way, share) for way, share in zip(runs.habits, runs.habit_shares, strict=True)
    ]


def _scatter(view: View, level: Floats, good: Floats) -> Floats:
    """Return the weight of good accurate runs and the sum of their squared distances from the level, (n, 2)."""
    sure = np.where((view.accurate & (view.kind != ROUGH) & (view.interval < 1)[:, None])[..., None], good, 0.0)
    away = view.titre[..., None] * (STEP / 1000) - level[:, None, :]
    return np.stack([sure.sum(axis=(1, 2)), (sure * away**2).sum(axis=(1, 2))], axis=1)
