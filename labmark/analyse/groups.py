"""Does one bench, bottle or group differ from the rest?

Every group gets a robust centre, all groups together one robust spread: Algorithm A of ISO 13528 with a centre for
each group, those grossly off left out. So a student far out moves neither their own bench nor the yardstick. Then each
group is held against the mean of the others, t = (own − others)/(1.1 s* sqrt(1/n + 1/m)).

The furthest is named first; it is then left out of "the others", lest one bad bottle make the good ones look odd, and
so on until none is beyond the limit. The chance of an unfounded finding is kept at 1 % for the class by dividing it
among all groups of all groupings looked at (Bonferroni). A shift must also matter: at least 0.10 cm³ of titre, two
drops; and two thirds of the group must share it, as faults of two or three students are no shift of their bench.

With two groups one cannot tell which is off: the one further from the reference is named, and the record says so.

Groupings may cross: one bad bottle makes the benches that it stood on look bad too. Each grouping is judged on the
results without the shifts that the others account for. Where groups of several groupings stand out, the one that
explains most is named first, and the rest are looked at again without its shift:

    bottle C, 2.9 % low, stood on bench 5 and on part of bench 4    bottle C; benches 4 and 5 are then as the others
    a bad bottle, and a bad bench elsewhere                         both
    the very same students                                          the grouping that comes first; the record says so

What a group explains is by how much nearer its students are to its own centre than to the others', in Huber's measure
(squares near by, distances further out): students who are moved away by it count against it.
Source: forward selection with refitting is common practice; the measure is Huber's (1964, Ann. Math. Stat. 35, 73).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import BoolArray, FloatArray, IntArray, codes, counts, floats, sums
from labmark.analyse.robust import CLIP, Fit, fit, median
from labmark.laws import t_quantile, two_sided_p
from labmark.words import group_name

FEWEST = 3
"""Fewest students of a group that is looked at."""

ALPHA = 0.01
"""Chance of an unfounded finding among all groups of all groupings of a class."""

MOST_STEPS = 40
"""So often are groups named, and the others refitted then; far more often than a class needs."""

MOST_ROUNDS = 10
"""So often are shifts of crossing groups refitted to one another; two or three are enough."""

SMALLEST = 0.10
"""Smallest shift that is worth a finding, in cm³ of titre: two drops (common practice, no source)."""

GROSS_AT_LEAST = 3.0
"""Nobody is grossly off within so many times the smallest shift of the group's median, however close the others lie."""

ERROR_FACTOR = 1.1
"""Standard error of a centre = 1.1 s*/sqrt(n). For a normal sample it is 1.02 (Algorithm A's mean is 96 % as good as
the mean: Huber 1964, Ann. Math. Stat. 35, 73); the rest allows for the few far out. ISO's 1.25 is the median's."""

AS_FAR = 0.8
"""Groups at least this share as far out as the furthest are judged with it. One bad group of three makes the others
seem half as far out, so that the share must lie above a half."""

AGREEING, AGREE_AT_LEAST = 2, 3
"""So many times as many students of a group must share its shift as contradict it, and so many in all: of two who
overshoot and two who don't, the centre lies between, and tells of neither."""

APART = 1.5
"""A student shares a shift within half of it of the group's centre, or within so many spreads."""


class GroupShift(NamedTuple):
    """One group held against the others. Figures in the unit of the result unless they say otherwise."""

    grouping: str
    """"Bench"."""
    name: Any
    """"3"."""
    n: int
    """Students of the group who have a result."""
    mean: float
    """Robust centre of the group."""
    others: float
    """Mean of the others' centres, each student counting alike."""
    others_n: int
    effect: float
    """Group less others."""
    effect_percent: float
    """The same in per cent of the others."""
    effect_titre: float
    """The same in cm³ of titre; positive means larger titres."""
    low: float
    """Lower end of the interval for the effect, at the level that the correction asks for."""
    high: float
    statistic: float
    critical: float
    p: float
    """Chance of a statistic so far out, times the number of groups looked at, at most 1."""
    dof: float
    looked_at: int
    """How many groups, over all groupings, the correction counts."""
    shifted: bool
    """True means that the group differs: beyond the critical value, and by enough to matter."""
    two_groups: bool
    """True where just one other group was left: which of the two is off cannot be told from results alone."""
    same_as: tuple[str, ...] = ()
    """Groups of other groupings that hold the very same students ("Bottle A"): the cause may be either."""
    places: tuple[int, ...] | None = None
    """Places of its students in the class, where no grouping of the class sheet names it."""

    @property
    def group(self) -> str:
        """The group as a teacher calls it: "Bench 3"."""
        return group_name(self.grouping, self.name)


class Grouping(NamedTuple):
    """A grouping of the class: its groups side by side, and what the spread within them is."""

    name: str
    groups: tuple[GroupShift, ...]
    """Groups large enough to be looked at, in order of first appearance."""
    spread: float
    """Robust standard deviation within groups; NaN where no group could be looked at."""
    dof: float
    left_out: tuple[Any, ...]
    """Groups too small to be looked at."""


def group_shifts(
    results: ArrayLike,
    groupings: Mapping[str, Iterable[Any]],
    expected_titre: float,
    exponent: float = 1.0,
    *,
    reference: float | None = None,
) -> tuple[Grouping, ...]:
    """Return, for every grouping, every group of three or more held against the others.

    Parameters: `results`, one a student (missing NaN); `groupings`, name -> label of each student (None: no group);
    `expected_titre` [cm³] and `exponent` turn a shift of the result into cm³ of titre, as in `reference_test`;
    `reference` says which of two groups is the further off (the class's median where not given).
    Where students have different references, give results ÷ own reference.
    """
    array = floats(results)
    sides = {name: Side.of(array, labels) for name, labels in groupings.items()}
    judged = {name: side for name, side in sides.items() if len(side.names) > 1}
    middle = median(array)
    scale = expected_titre / (middle * exponent) if middle else np.nan
    least = abs(SMALLEST / scale)
    looked_at = sum(len(side.names) for side in judged.values())
    terms = Terms(looked_at, least, GROSS_AT_LEAST * least, middle if reference is None else reference)
    held = dict(zip(judged, untangle(array, [*judged.values()], terms), strict=True))
    alike = _same_students(sides)
    return tuple(_grouping(name, side, held.get(name), looked_at, scale, alike) for name, side in sides.items())


Alike = Mapping[tuple[str, Any], Sequence[str]]
"""Grouping and group -> the groups that hold the very same students, itself among them."""


def _grouping(name: str, side: Side, held: Held | None, looked_at: int, scale: float, alike: Alike) -> Grouping:
    """Return a grouping with every group of it; `scale` is in cm³ of titre for one unit of the result."""
    if held is None:
        return Grouping(name, (), np.nan, 0.0, side.left_out)
    dof, critical = held.fit.dof, held.critical
    groups = []
    for place, label in enumerate(side.names):
        same = tuple(each for each in alike.get((name, label), ()) if each != group_name(name, label))
        shift = _shift(held, place, scale, looked_at)
        groups.append(GroupShift(name, label, critical=critical, dof=dof, looked_at=looked_at, same_as=same, **shift))
    return Grouping(name, tuple(groups), held.fit.spread, dof, side.left_out)


def _shift(held: Held, place: int, scale: float, looked_at: int) -> dict[str, Any]:
    """Return what a group differs by from the others, under the names of `GroupShift`."""
    fitted, found = held.fit, held.found
    mean, others, statistic = (float(each[place]) for each in (fitted.centre, found.others, found.statistic))
    effect, reach = mean - others, held.critical * float(found.error[place])
    return {
        "n": int(fitted.size[place]),
        "mean": mean,
        "others": others,
        "others_n": int(found.others_n[place]),
        "effect": effect,
        "effect_percent": 100 * effect / others if others else np.nan,
        "effect_titre": effect * scale,
        "low": effect - reach,
        "high": effect + reach,
        "statistic": statistic,
        "p": min(1.0, looked_at * float(two_sided_p(statistic, fitted.dof))),
        "shifted": bool(found.shifted[place]),
        "two_groups": int(found.others_groups[place]) == 1,
    }


def _same_students(sides: Mapping[str, Side]) -> Alike:
    """Return, for every group, the groups of all groupings that hold the very same students."""
    if len(sides) < 2:
        return {}
    members: dict[bytes, list[tuple[str, Any]]] = {}
    for grouping, side in sides.items():
        for i, name in enumerate(side.names):
            members.setdefault(side.members(i).tobytes(), []).append((grouping, name))
    return {one: [group_name(*each) for each in alike] for alike in members.values() if len(alike) > 1 for one in alike}


class Terms(NamedTuple):
    """What all groups of a class are judged by."""

    looked_at: int
    """How many groups there are, over all groupings."""
    smallest: float
    """Smallest effect that counts, in the unit of the results."""
    gross: float
    """Nobody is grossly off nearer than this to the median of the group."""
    anchor: float
    """Where results should lie; of groups that differ only from one another, the one further from it is named."""


class Side(NamedTuple):
    """One grouping: its students who have a result, those of groups too small left out."""

    number: IntArray
    """Group (a place in `names`) of each of them."""
    student: IntArray
    """Their places in the class."""
    names: tuple[Any, ...]
    """Groups large enough to be looked at, in order of first appearance."""
    left_out: tuple[Any, ...]
    """Groups too small."""

    @classmethod
    def of(cls, results: FloatArray, labels: Iterable[Any]) -> Side:
        """Return a grouping of a class; results (n,) are NaN and labels None where there is none."""
        number, names = codes(labels)
        use = np.isfinite(results) & (number >= 0)
        keep = np.bincount(number[use], minlength=len(names)) >= FEWEST
        use[use] = keep[number[use]]
        kept, small = (tuple(names[i] for i in np.flatnonzero(which).tolist()) for which in (keep, ~keep))
        return cls((np.cumsum(keep) - 1)[number[use]], np.flatnonzero(use).astype(np.int64), kept, small)

    def members(self, group: int) -> IntArray:
        """Return the students of a group."""
        return np.asarray(self.student[self.number == group], dtype=np.int64)


class Held(NamedTuple):
    """A grouping held against itself, given the shifts of the others."""

    fit: Fit
    found: Compared
    critical: float


def untangle(values: FloatArray, sides: Sequence[Side], terms: Terms) -> list[Held]:
    """Return, for every grouping, its groups held against one another, each shift named once.

    `values` has a result a student of the class (those of a side are finite).
    """
    named: list[BoolArray] = [np.zeros(len(side.names), dtype=bool) for side in sides]
    held = _refitted(values, sides, named, terms)
    for _ in range(MOST_STEPS):
        fresh = [each.found.shifted & ~known for each, known in zip(held, named, strict=True)]
        more = [at for at, groups in enumerate(fresh) if groups.any()]
        if not more:
            break
        at, next_ones = (more[0], fresh[more[0]]) if len(more) == 1 else _best(held, fresh, sides)
        named[at] = named[at] | next_ones
        held = _refitted(values, sides, named, terms)
    # Only groups that were named, and still stand out, are shifted.
    shifted = [each.found.shifted & known for each, known in zip(held, named, strict=True)]
    return [each._replace(found=each.found._replace(shifted=only)) for each, only in zip(held, shifted, strict=True)]


def _refitted(values: FloatArray, sides: Sequence[Side], named: Sequence[BoolArray], terms: Terms) -> list[Held]:
    """Return every side held against itself without the shifts of the groups named on the others."""
    moves = np.zeros((len(sides), values.size))
    held: list[Held] = []
    for _ in range(MOST_ROUNDS):
        held, before = [], moves.copy()
        for at, side in enumerate(sides):
            without = values - moves.sum(axis=0) + moves[at]
            fitted = fit(without[side.student], side.number, len(side.names), terms.gross)
            critical = critical_t(ALPHA, terms.looked_at, fitted.dof)
            held.append(Held(fitted, compare(fitted, critical, terms), critical))
            moves[at] = _moved(held[at], side, named[at], values.size)
        # What is without a shift of another side needs no second look.
        if np.abs(moves - before).max(initial=0.0) <= terms.smallest / 100:
            break
    return held


def _moved(held: Held, side: Side, named: BoolArray, students: int) -> FloatArray:
    """Return by how much each student of the class (n,) is moved by the named groups of a side."""
    effect = np.where(named & held.found.shifted, held.fit.centre - held.found.others, 0.0)
    moved = np.zeros(students)
    moved[side.student] = effect[side.number]
    return moved


def _best(held: Sequence[Held], fresh: Sequence[BoolArray], sides: Sequence[Side]) -> tuple[int, BoolArray]:
    """Return a side, and its groups to name next: the one that explains most, and any on that side that explain more
    than every group that they cross. Of groups with the very same students, those of the first side."""
    spread = min(each.fit.spread for each in held)
    gains = [np.where(new, _explained(each, spread), -np.inf) for each, new in zip(held, fresh, strict=True)]
    most = max(range(len(sides)), key=lambda at: float(gains[at].max()))
    students = sides[most].members(int(np.argmax(gains[most])))
    alike = ((at, group) for at in range(most + 1) for group in np.flatnonzero(fresh[at]).tolist())
    at, group = next(each for each in alike if np.array_equal(sides[each[0]].members(each[1]), students))
    better = fresh[at] & (gains[at] > _rivals(gains, sides, at))
    better[group] = True
    return at, better


def _rivals(gains: Sequence[FloatArray], sides: Sequence[Side], at: int) -> FloatArray:
    """Return, for each group of a side, the most that any group of another side explains that it crosses."""
    students = 1 + max(int(side.student.max()) for side in sides)
    most = np.full(students, -np.inf)
    for other, side in enumerate(sides):
        if other != at:
            most[side.student] = np.maximum(most[side.student], gains[other][side.number])
    rivals = np.full(len(sides[at].names), -np.inf)
    np.maximum.at(rivals, sides[at].number, most[sides[at].student])
    return rivals


def _explained(held: Held, spread: float) -> FloatArray:
    """Return, for each group, how much nearer its students are to its centre than to the others'."""
    fitted = held.fit
    unit = spread if spread > 0 else 1.0
    near, far = (_huber((fitted.values - at[fitted.number]) / unit) for at in (fitted.centre, held.found.others))
    return sums(fitted.number, far - near, fitted.centre.size)


def _huber(distance: FloatArray) -> FloatArray:
    away = np.abs(distance)
    return np.where(away <= CLIP, away**2 / 2, CLIP * away - CLIP**2 / 2)


# Which groups of one grouping stand apart; `centre`, `size` and the like have one place a group -----------------------


class Compared(NamedTuple):
    """Each group against the groups that are not shifted, itself left out."""

    others: FloatArray
    others_n: FloatArray
    others_groups: IntArray
    error: FloatArray
    """Standard error of own centre less others."""
    statistic: FloatArray
    shifted: BoolArray


def compare(groups: Fit, critical: float, terms: Terms) -> Compared:
    """Name the groups shifted beyond the critical t, the furthest first; each is left out of what the next are held to.

    So is a group that is far off without its students sharing it, but it is not named.
    """
    shifted = np.zeros(groups.centre.size, dtype=bool)
    aside = shifted.copy()
    while True:
        found = _against(groups, shifted, ~shifted & ~aside)
        effect = np.abs(groups.centre - found.others)
        beyond = ~shifted & ~aside & (np.abs(found.statistic) > critical) & (effect >= terms.smallest)
        if not beyond.any() or np.count_nonzero(~shifted & ~aside) < 2:
            return found
        far = _worst(groups, np.abs(found.statistic), beyond, shifted | aside, terms)
        agreeing = _agreeing(groups, found.others)
        shifted, aside = shifted | (far & agreeing), aside | (far & ~agreeing)


def critical_t(alpha: float, looked_at: int, dof: float) -> float:
    """Return the two-sided critical t, the chance divided among the groups looked at (Bonferroni)."""
    return float(t_quantile(1 - alpha / (2 * max(looked_at, 1)), max(dof, 1.0)))


def _agreeing(groups: Fit, others: FloatArray) -> BoolArray:
    """Return in which groups enough students share the shift: half of them, and twice as many as contradict it.

    Those far out on its other side do neither.
    """
    effect = groups.centre - others
    away = (groups.values - groups.centre[groups.number]) * np.where(effect < 0, -1, 1)[groups.number]
    reach = np.maximum(np.abs(effect) / 2, APART * groups.spread)[groups.number]
    share = counts(groups.number[np.abs(away) <= reach], effect.size)
    contradict = counts(groups.number[away < -reach], effect.size)
    enough = (share >= AGREE_AT_LEAST) & (share >= AGREEING * contradict) & (2 * share >= groups.size)
    return np.asarray(enough, dtype=bool)


def _against(groups: Fit, shifted: BoolArray, counted: BoolArray) -> Compared:
    """Hold each group against the mean of the others that are counted, each student counting alike.

    A group that has only others beside it is held against those.
    """
    good = _others(groups, counted)
    any_ = _others(groups, np.ones_like(shifted))
    others, others_n, others_groups = (np.where(good[1] > 0, g, a) for g, a in zip(good, any_, strict=True))
    error = ERROR_FACTOR * groups.spread * np.sqrt(1 / groups.counted + 1 / np.maximum(others_n, 1))
    effect = groups.centre - others
    # Without any spread, any difference at all is beyond chance.
    never = np.where(effect == 0, 0.0, np.copysign(np.inf, effect))
    statistic = np.divide(effect, error, out=never, where=error > 0)
    return Compared(others, others_n, others_groups.astype(np.int64), error, statistic, shifted)


def _others(groups: Fit, counted: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return, for each group, mean, students and number of the other groups that are counted."""
    weight = np.where(counted, groups.size, 0.0)
    n = weight.sum() - weight
    # Distances from one centre keep the last digits where all centres are nearly alike.
    away = groups.centre - groups.centre[0]
    mean = groups.centre[0] + (np.sum(weight * away) - weight * away) / np.maximum(n, 1)
    return mean, n, np.count_nonzero(counted) - counted.astype(np.float64)


def _worst(groups: Fit, distance: FloatArray, beyond: BoolArray, out: BoolArray, terms: Terms) -> BoolArray:
    """Return which groups to name next: the furthest and any about as far, if they are the lesser part of the class.

    Where they are half of it or more, the groups only differ from one another: the one furthest from where results
    should lie is named.
    """
    furthest = float(distance[beyond].max())
    far = beyond & (distance >= (AS_FAR * furthest if np.isfinite(furthest) else furthest))
    if 2 * groups.size[far].sum() < groups.size[~out].sum():
        return far
    off = np.where(far, np.abs(groups.centre - terms.anchor), -1.0)
    return np.asarray(np.arange(off.size) == int(np.argmax(off)), dtype=bool)
