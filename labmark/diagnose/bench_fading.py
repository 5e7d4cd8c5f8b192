"""Water washed out of a burette: the first titre is the highest, and the later ones come down to the level.

If the first accurate titre is too high by a fraction s of the level θ, and each refill leaves a share r of the water,

    titreₖ = θ (1 + s rᵏ)        k = 0, 1, 2, ... over the accurate runs

so the first titre gives s, and the others have to follow: with θ = 25.30 and titres of 28.40, 27.15, 26.15 and 25.70,
3.10 cm³ becomes 1.85, 0.85 and 0.40: about a half from run to run. A sum over r says how well they do.
"""

from __future__ import annotations

import numpy as np

from labmark.diagnose.bench_input import Floats
from labmark.diagnose.bench_model import READING_STEPS, STEP, Tables
from labmark.diagnose.bench_view import Places, View
from labmark.diagnose.hypotheses import STUDENT_HYPOTHESES

LEFT = np.arange(0.24, 0.77, 0.04)
"""Share of the water that one refill leaves (common practice, no source)."""
LEAST_FALL = 15
"""A first titre less than this above the last, or above the class's level, [STEP] shows no fading."""
ASTRAY = 0.03
"""Share of later runs that something else has spoilt: they may lie anywhere."""

_BANDS = next(h.bands for h in STUDENT_HYPOTHESES if h.shape == "fading")


def washed_out(view: View, tables: Tables, theta: Places, centre: Places) -> Floats:
    """Return the density of the accurate runs at each level [cm³ to the minus number of them], (n, nodes).

    0 where there are fewer than two, or where the first titre is hardly above the last or the class's level, `centre`.
    """
    number = np.where(view.accurate, np.cumsum(view.accurate, axis=1) - 1, -1)
    ends = ((number == 0).argmax(axis=1), number.argmax(axis=1))
    first, last = (np.take_along_axis(view.titre, at[:, None], axis=1)[:, 0] for at in ends)
    out = np.zeros(theta.shape)
    which = np.flatnonzero((number.max(axis=1, initial=-1) > 0) & (first - np.maximum(last, centre) >= LEAST_FALL))
    if which.size:
        some = view.rows(which)
        out[which] = _density(some, tables, theta[which], number[which], first[which])
    return out


def _density(view: View, tables: Tables, theta: Places, number: Places, first: Places) -> Floats:
    excess = np.maximum(first[:, None] - theta, 0)
    # What the first titre says of the water is as uncertain as a titre: the later ones may lie twice as far away.
    steady = view.interval < len(READING_STEPS)
    row = np.where(steady, view.interval + len(READING_STEPS), view.interval) * tables.width
    follows = np.full((*theta.shape, LEFT.size), 1 / LEFT.size)
    for k in np.flatnonzero((number > 0).any(axis=0)):
        gone = np.rint(excess[..., None] * LEFT ** np.maximum(number[:, k], 0)[:, None, None]).astype(np.int64)
        away = view.titre[:, k, None, None] - theta[..., None] - gone + tables.centre
        near = tables.good.reshape(-1).take(np.clip(away, 0, 2 * tables.centre) + row[:, None, None])
        run = (1 - ASTRAY) * near + ASTRAY / view.capacity
        follows *= np.where((number[:, k] > 0)[:, None, None], run, 1.0)
    return np.asarray(follows.sum(axis=2) * _of_first(excess / np.maximum(theta, 1), theta))


def _of_first(size: Floats, theta: Places) -> Floats:
    """Return the density of a first titre that is too high by a fraction [1/cm³]."""
    inside = sum(b.share * ((size >= b.low) & (size <= b.high)) / (b.high - b.low) for b in _BANDS)
    return np.asarray(inside / np.maximum(theta * (STEP / 1000), 1e-9))
