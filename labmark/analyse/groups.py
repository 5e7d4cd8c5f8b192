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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import floats, two_sided_p
from labmark.analyse.crossed import Held, Side, untangle
from labmark.analyse.group_fit import Terms

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
    there = array[np.isfinite(array)]
    middle = float(np.median(there)) if there.size else np.nan
    scale = expected_titre / (middle * exponent) if middle else np.nan
    least = abs(SMALLEST / scale)
    looked_at = sum(len(side.names) for side in judged.values())
    terms = Terms(looked_at, least, GROSS_AT_LEAST * least, middle if reference is None else reference)
    held = dict(zip(judged, untangle(array, [*judged.values()], terms), strict=True))
    alike = _same_students(sides)
    return tuple(
        _grouping(name, side, held[name], looked_at, scale, alike)
        if name in held
        else Grouping(name, (), np.nan, 0.0, side.left_out)
        for name, side in sides.items()
    )


def _grouping(
    name: str, side: Side, held: Held, looked_at: int, scale: float, alike: Mapping[tuple[str, Any], Sequence[str]]
) -> Grouping:
    """Return a grouping with every group of it; `scale` is in cm³ of titre for one unit of the result."""
    chances = np.minimum(1.0, looked_at * two_sided_p(held.found.statistic, held.fit.dof))
    found = held.found
    groups = []
    for i, (label, chance) in enumerate(zip(side.names, chances.tolist(), strict=True)):
        mean, others = float(held.fit.centre[i]), float(found.others[i])
        effect, reach = mean - others, held.critical * float(found.error[i])
        groups.append(
            GroupShift(
                grouping=name,
                name=label,
                n=int(held.fit.size[i]),
                mean=mean,
                others=others,
                others_n=int(found.others_n[i]),
                effect=effect,
                effect_percent=100 * effect / others if others else np.nan,
                effect_titre=effect * scale,
                low=effect - reach,
                high=effect + reach,
                statistic=float(found.statistic[i]),
                critical=held.critical,
                p=chance,
                dof=held.fit.dof,
                looked_at=looked_at,
                shifted=bool(found.shifted[i]),
                two_groups=int(found.others_groups[i]) == 1,
                same_as=tuple(each for each in alike.get((name, label), ()) if each != group_name(name, label)),
            )
        )
    return Grouping(name, tuple(groups), held.fit.spread, held.fit.dof, side.left_out)


def group_name(grouping: str, name: Any) -> str:
    """Return a group as a teacher calls it: "Bench 3", also where the sheet says "bench 3" itself."""
    text = str(name)
    return text if text.lower().startswith(grouping.lower()) else f"{grouping} {text}"


def _same_students(sides: Mapping[str, Side]) -> dict[tuple[str, Any], list[str]]:
    """Return, for every group, the groups of all groupings that hold the very same students."""
    if len(sides) < 2:
        return {}
    members: dict[bytes, list[tuple[str, Any]]] = {}
    for grouping, side in sides.items():
        for i, name in enumerate(side.names):
            members.setdefault(side.members(i).tobytes(), []).append((grouping, name))
    return {one: [group_name(*each) for each in alike] for alike in members.values() if len(alike) > 1 for one in alike}
