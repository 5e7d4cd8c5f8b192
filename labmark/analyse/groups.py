"""Does one bench, bottle or group differ from the rest?

Every group gets a robust centre, all groups together one robust spread: Algorithm A of ISO 13528 with a centre for
each group, those grossly off left out. So a student far out moves neither their own bench nor the yardstick. Then each
group is held against the mean of the others, t = (own − others)/(1.1 s* sqrt(1/n + 1/m)).

The furthest is named first; it is then left out of "the others", lest one bad bottle make the good ones look odd, and
so on until none is beyond the limit. The chance of an unfounded finding is kept at 1 % for the class by dividing it
among all groups of all groupings looked at (Bonferroni). A shift must also matter: at least 0.10 cm³ of titre, two
drops; and two thirds of the group must share it, as faults of two or three students are no shift of their bench.
Where groupings cross, a shift is named once (`crossed`).

With two groups one cannot tell which is off: the one further from the reference is named, and the record says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse import crossed
from labmark.analyse.arrays import BoolArray, FloatArray, IntArray, codes, floats, two_sided_p

FEWEST = 3
"""Fewest students of a group that is looked at."""

ALPHA = 0.01
"""Chance of an unfounded finding among all groups of all groupings of a class."""

SMALLEST = 0.10
"""Smallest shift that is worth a finding, in cm³ of titre: two drops (common practice, no source)."""

GROSS_AT_LEAST = 3.0
"""Nobody is grossly off within so many times the smallest shift of the group's median, however close the others lie."""


@dataclass(frozen=True, slots=True)
class GroupShift:
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

    @property
    def group(self) -> str:
        """The group as a teacher calls it: "Bench 3"."""
        return group_name(self.grouping, self.name)


@dataclass(frozen=True, slots=True)
class Grouping:
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
    alpha: float = ALPHA,
    smallest: float = SMALLEST,
) -> tuple[Grouping, ...]:
    """Return, for every grouping, every group of three or more held against the others.

    Parameters: `results`, one a student (missing NaN); `groupings`, name -> label of each student (None: no group);
    `expected_titre` [cm³] and `exponent` turn a shift of the result into cm³ of titre, as in `reference_test`;
    `reference` says which of two groups is the further off (the class's median where not given).
    Where students have different references, give results ÷ own reference.
    """
    array = floats(results)
    prepared = {name: _Prepared.of(array, labels) for name, labels in groupings.items()}
    looked_at = sum(int(p.keep.sum()) for p in prepared.values() if p.keep.sum() > 1)
    there = array[np.isfinite(array)]
    middle = float(np.median(there)) if there.size else np.nan
    scale = expected_titre / (middle * exponent) if middle else np.nan
    least = abs(smallest / scale)
    anchor = middle if reference is None else reference
    terms = crossed.Terms(alpha, looked_at, least, GROSS_AT_LEAST * least, anchor)
    judged = [name for name, p in prepared.items() if p.keep.sum() > 1]
    held = dict(zip(judged, crossed.untangle(array, [prepared[name].side for name in judged], terms), strict=True))
    record = _Recorder(looked_at, scale, _same_students(prepared))
    return tuple(record.grouping(name, p, held.get(name)) for name, p in prepared.items())


@dataclass(frozen=True, slots=True)
class _Prepared:
    """The students of one grouping who have a result, groups too small already gone."""

    number: IntArray
    names: list[Any]
    keep: BoolArray
    """Groups (by number) that are large enough."""
    student: IntArray
    """Place of each value in the class."""

    @classmethod
    def of(cls, array: FloatArray, labels: Iterable[Any]) -> _Prepared:
        number, names = codes(labels)
        use = np.isfinite(array) & (number >= 0)
        size = np.bincount(number[use], minlength=len(names))
        keep = size >= FEWEST
        use[use] = keep[number[use]]
        return cls(number[use], names, keep, np.flatnonzero(use).astype(np.int64))

    @property
    def side(self) -> crossed.Side:
        """The groups that are kept, numbered anew."""
        return crossed.Side((np.cumsum(self.keep) - 1)[self.number], self.student, int(self.keep.sum()))


@dataclass(frozen=True, slots=True)
class _Recorder:
    """Puts the figures of groupings together."""

    looked_at: int
    scale: float
    """cm³ of titre for one unit of the result."""
    same: Mapping[Any, list[str]]

    def grouping(self, name: str, p: _Prepared, held: crossed.Held | None) -> Grouping:
        """Return a grouping with every group of it."""
        small = tuple(p.names[i] for i in np.flatnonzero(~p.keep).tolist())
        if held is None:
            return Grouping(name, (), np.nan, 0.0, small)
        names = [p.names[i] for i in np.flatnonzero(p.keep).tolist()]
        chance = np.minimum(1.0, self.looked_at * two_sided_p(held.found.statistic, held.fit.dof))
        groups = tuple(self._group((name, label), i, held, float(chance[i])) for i, label in enumerate(names))
        return Grouping(name, groups, held.fit.spread, held.fit.dof, small)

    def _group(self, key: tuple[str, Any], i: int, held: crossed.Held, chance: float) -> GroupShift:
        fit, found = held.fit, held.found
        mean, others = float(fit.centre[i]), float(found.others[i])
        effect, reach = mean - others, held.critical * float(found.error[i])
        return GroupShift(
            grouping=key[0],
            name=key[1],
            n=int(fit.size[i]),
            mean=mean,
            others=others,
            others_n=int(found.others_n[i]),
            effect=effect,
            effect_percent=100 * effect / others if others else np.nan,
            effect_titre=effect * self.scale,
            low=effect - reach,
            high=effect + reach,
            statistic=float(found.statistic[i]),
            critical=held.critical,
            p=chance,
            dof=fit.dof,
            looked_at=self.looked_at,
            shifted=bool(found.shifted[i]),
            two_groups=int(found.others_groups[i]) == 1,
            same_as=tuple(other for other in self.same.get(key, []) if other != group_name(*key)),
        )


def group_name(grouping: str, name: Any) -> str:
    """Return a group as a teacher calls it: "Bench 3", also where the sheet says "bench 3" itself."""
    text = str(name)
    return text if text.lower().startswith(grouping.lower()) else f"{grouping} {text}"


def _same_students(prepared: Mapping[str, _Prepared]) -> dict[Any, list[str]]:
    """Return, for every group, the groups of all groupings that hold the very same students."""
    if len(prepared) < 2:
        return {}
    members: dict[bytes, list[tuple[str, Any]]] = {}
    for grouping, p in prepared.items():
        order = np.argsort(p.number, kind="stable")
        edges = np.searchsorted(p.number[order], np.arange(len(p.names) + 1))
        for i in np.flatnonzero(p.keep).tolist():
            students = p.student[order[edges[i] : edges[i + 1]]]
            members.setdefault(students.tobytes(), []).append((grouping, p.names[i]))
    return {one: [group_name(*each) for each in alike] for alike in members.values() if len(alike) > 1 for one in alike}
