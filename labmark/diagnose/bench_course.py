"""What goes on from run to run: water is washed out of a burette, or something changes between two of them.

Washed out: the first titre is the highest, and the later ones come down to the level. If the first accurate titre is
too high by a fraction s of the level θ, and each refill leaves a share r of the water,

    titreₖ = θ (1 + s rᵏ)        k = 0, 1, 2, ... over the accurate runs

so the first titre gives s, and the others have to follow: with θ = 25.30 and titres of 28.40, 27.15, 26.15 and 25.70,
3.10 cm³ becomes 1.85, 0.85 and 0.40: about a half from run to run. A sum over r says how well they do.

Changed: the burette was filled from another bottle, say, or another flask was taken for the sample: the runs before and
those after agree, and one group lies where the class does. With θ the level of that one, the other has a level of its
own, as far from θ as the bands of the table say, which is summed over: m titres that scatter by s about an unknown
level have

    p = u(mean − θ) m^(−1/2) (2π s²)^(−(m − 1)/2) exp(−Σ(titre − mean)² ÷ 2 s²)

Two titres that agree where the class does not lie make a group; one alone is a mishap. So it takes three accurate runs.
"""

import numpy as np

from labmark.diagnose.bench_input import Flags, Floats, Ints
from labmark.diagnose.bench_model import CARELESS_FACTOR, CARELESS_SHARE, READING_STEPS, STEP, Tables
from labmark.diagnose.bench_view import Places, View
from labmark.diagnose.hypotheses import STUDENT_HYPOTHESES

LEFT = np.arange(0.24, 0.77, 0.04)
"""Share of the water that one refill leaves (common practice, no source)."""
LEAST_FALL = 15
"""A first titre less than this above the last, or above the class's level, [STEP] shows no fading."""
ASTRAY = 0.03
"""Share of later runs that something else has spoilt: they may lie anywhere."""
LEAST = 2
"""Titres that make a group."""

_FADING, _CHANGED = (
    next(h.bands for h in STUDENT_HYPOTHESES if h.shape == shape) for shape in ("fading", "two levels")
)


def _number(view: View) -> Ints:
    """Return which of a student's accurate runs each is, counted from 0, (n, k); -1 for a run that is none."""
    return np.where(view.accurate, np.cumsum(view.accurate, axis=1) - 1, -1)


def washed_out(view: View, tables: Tables, theta: Places, centre: Places) -> Floats:
    """Return the density of the accurate runs at each level [cm³ to the minus number of them], (n, nodes).

    0 where there are fewer than two, or where the first titre is hardly above the last or the class's level, `centre`.
    """
    number = _number(view)
    ends = ((number == 0).argmax(axis=1), number.argmax(axis=1))
    first, last = (np.take_along_axis(view.titre, at[:, None], axis=1)[:, 0] for at in ends)
    out = np.zeros(theta.shape)
    which = np.flatnonzero((number.max(axis=1, initial=-1) > 0) & (first - np.maximum(last, centre) >= LEAST_FALL))
    if which.size:
        out[which] = _fading(view.rows(which), tables, theta[which], number[which], first[which])
    return out


def _fading(view: View, tables: Tables, theta: Places, number: Ints, first: Places) -> Floats:
    """Return the density of the runs of students whose first titre is the highest, (n, nodes)."""
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
    # The first titre is too high by a fraction.
    size, level = excess / np.maximum(theta, 1), np.maximum(theta * (STEP / 1000), 1e-9)
    inside = sum(b.share * ((size >= b.low) & (size <= b.high)) / (b.high - b.low) for b in _FADING)
    return np.asarray(follows.sum(axis=2) * inside / level)


def two_levels(view: View, tables: Tables, theta: Places, good: Floats) -> Floats:
    """Return the density of the accurate runs at each level of the one group [cm³ to the minus number], (n, nodes).

    `good` is that of each run at that level, (n, k, nodes); the groups are those before and after each run in turn.
    """
    number, count = _number(view), view.accurate.sum(axis=1)
    out = np.zeros(theta.shape)
    for split in range(1, int(count.max(initial=0))):
        before, after = (number >= 0) & (number < split), number >= split
        for near, moved in ((before, after), (after, before)):
            there = ((moved.sum(axis=1) >= LEAST) & near.any(axis=1))[:, None]
            if there.any():
                at = np.where(near[..., None], good, 1.0).prod(axis=1)
                out += np.where(there, at * _free(view, tables, theta, moved), 0.0)
    return np.asarray(out / np.maximum(2 * count - 2 * LEAST, 1)[:, None])


def _free(view: View, tables: Tables, theta: Places, group: Flags) -> Floats:
    """Return the density of a group at a level of its own, some way from each level theta, (n, nodes)."""
    size = np.maximum(group.sum(axis=1), 1)
    titre = np.where(group, view.titre, 0) * (STEP / 1000)
    mean = titre.sum(axis=1) / size
    squares = np.where(group, (titre - mean[:, None]) ** 2, 0.0).sum(axis=1)
    # The peak of the density of good runs tells how far they scatter.
    peak = (1 - CARELESS_SHARE + CARELESS_SHARE / CARELESS_FACTOR) / np.sqrt(2 * np.pi)
    scatter = peak / tables.good[view.interval, tables.centre]
    alike = (2 * np.pi * scatter**2) ** (-(size - 1) / 2) * np.exp(-squares / (2 * scatter**2)) / np.sqrt(size)
    away = np.abs(mean[:, None] - theta * (STEP / 1000))
    apart = sum(b.share * ((away >= b.low) & (away <= b.high)) / (2 * (b.high - b.low)) for b in _CHANGED)
    return np.asarray(alike[:, None] * apart)


def groups_of(titres: list[int]) -> int:
    """Return after how many of the titres the change came: where the two groups agree best within themselves."""

    def squares(group: list[int]) -> float:
        return float(np.var(group)) * len(group)

    return min(range(1, len(titres)), key=lambda at: squares(titres[:at]) + squares(titres[at:]))
