"""The class as a whole: centre and spread, the reference, groups, the order of work, faults that many share.

Where benches worked one after the other, a drift looks like a group and a group like a drift. Both are fitted, and what
leaves the smaller spread is named: a straight line in the order of work, or a centre for each group. A line has one
slope where groups have many centres, so that it is named where the two come to the same.

    order 1..24, titres rising evenly, benches of three in that order   the line: drift, and no bench is named
    bottle A for the first twelve, bottle B 3 % stronger for the rest   the groups: bottle B, and no drift

Where many stop past the endpoint every time, each by another volume, the class is too scattered to put the reference in
doubt, and it hides its own: each of them is about as far out as the others. Students far above are then counted against
students as far below, who would be as many if nobody had a habit (a sign test). Titres alone don't tell a habit from a
titrant that is weaker than its label, and the finding says so.

    28 students, 15 of them 0.30 to 0.97 cm³ above, none as far below: a chance of 1 in 30,000    a common fault
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import accumulate
from math import comb, isfinite, nan
from typing import Any, NamedTuple

import numpy as np

from labmark.analyse.arrays import BoolArray, FloatArray
from labmark.analyse.drift import Drift, drift
from labmark.analyse.groups import GROSS_AT_LEAST, SMALLEST, Grouping, GroupShift, group_shifts
from labmark.analyse.parted import upper_part
from labmark.analyse.precision import Precision
from labmark.analyse.reference import ReferenceTest
from labmark.analyse.robust import fit
from labmark.dataclass import dataclass
from labmark.exact import fraction, in_figures
from labmark.facts import Student
from labmark.findings import KINDS, found
from labmark.judge.feedback import advice_on
from labmark.judge.references import difference_shown
from labmark.records import Finding
from labmark.units import shown_unit

SHARED_BY = 0.25
"""A fault that this share of those present have is worth teaching again (common practice, no source)."""
SHARED_AT_LEAST = 4
"""... and at least so many students."""
FEWEST_JUDGED = 3
"""Results that must be there, and all wrong, before the practical is doubted (common practice, no source)."""
BY_CHANCE = 0.05
"""... but for this share of them, which may be right by chance, ..."""
FAR_TITRES = 0.02
"""... and so far from the expected one the middle titre must lie, relative to it: some 0.5 cm³, beyond technique
(common practice, no source)."""
NOT_TAUGHT = ("not-concordant", "refilled", "counts-down", "same-readings")
"""Findings that say nothing about what to teach."""
AS_GOOD = 1.15
"""A line is as good as groups where it leaves at most so many times the spread that they leave (the project's own; a
standard deviation of 24 results is itself known to 15 %)."""
PART, REST = "A part of the class", "The rest of the class"
"""What two parts of a class are called that nothing in the class sheet tells apart."""
OF_ONE_LABEL = 10.0
"""So far apart, in per cent, two solutions of one label may be; beyond it another pipette or something else is said of
each student (common practice, no source)."""
HABIT = "always-overshoots"
FAR, GROSS = 0.30, 1.5
"""From here [cm³] on a mean titre is well above the expected one, six drops: twice what `reference` puts down to
technique; beyond the second something else has happened (common practice, no source)."""
ALPHA = 0.002
"""Chance of naming a habit where there is none."""
OTHERWISE = ("diluted-titrant", "wrong-aliquot", "misread-division", "read-upside-down", "overshoot")
"""What explains a student's high titre by itself."""


@dataclass(frozen=True)
class ClassFigures:
    """What the class as a whole shows. Figures in the unit of the result."""

    precision: Precision
    reference: ReferenceTest | None = None
    groupings: tuple[Grouping, ...] = ()
    drift: Drift | None = None
    findings: tuple[Finding, ...] = ()


def groupings_of(students: Sequence[Student]) -> dict[str, list[str | None]]:
    """Return grouping -> label of each student; None where a student has none."""
    names = dict.fromkeys(name for student in students for name in student.groups)
    return {name: [student.groups.get(name) or None for student in students] for name in names}


def order_of(students: Sequence[Student]) -> FloatArray:
    """Return each student's place in the order of work (n,), or the time; NaN where there is none."""
    return np.array([np.nan if student.order is None else float(student.order) for student in students])


def from_the_middle(students: Sequence[Student]) -> FloatArray:
    """Return how far from the middle of the order of work each student is (n,); 0 where there is no order."""
    order = order_of(students)
    there = np.isfinite(order)
    return np.where(there, order - np.median(order[there]), 0.0) if there.any() else np.zeros(order.size)


def drift_line(moving: Drift, relative: FloatArray, students: Sequence[Student]) -> FloatArray:
    """Return the results over their references that a drift calls for at each student's place (n,); that of the middle
    of the order of work where a student has none."""
    away = moving.slope * from_the_middle(students)
    return np.asarray(float(np.nanmedian(np.where(np.isfinite(order_of(students)), relative - away, np.nan))) + away)


def without_drift(expected: FloatArray, moving: Drift | None, students: Sequence[Student]) -> FloatArray:
    """Return the expected titres (n,) [cm³] moved along the line of a drift, about the middle of the order of work, so
    that those at its ends are not taken for so many students' faults."""
    if moving is None or not moving.drifting:
        return expected
    return expected + moving.slope * from_the_middle(students) * (moving.first_to_last_titre / moving.first_to_last)


def without_group_shifts(
    expected: FloatArray, groupings: Sequence[Grouping], students: Sequence[Student]
) -> FloatArray:
    """Return the expected titres (n,) [cm³] moved by the shift of each student's group, so that a bad bottle is not
    taken for so many students' faults."""
    moved = expected.copy()
    for group, inside in groups_shifted(groupings, students):
        moved[inside] += group.effect_titre
    return moved


def groups_shifted(
    groupings: Iterable[Grouping], students: Sequence[Student]
) -> Iterator[tuple[GroupShift, BoolArray]]:
    """Yield every group that is shifted, and which students (n,) are in it."""
    for group in (each for grouping in groupings for each in grouping.groups if each.shifted):
        if group.places is None:
            inside = [student.groups.get(group.grouping) == group.name for student in students]
        else:
            inside = [place in group.places for place in range(len(students))]
        yield group, np.array(inside, dtype=bool)


Told = tuple[tuple[Grouping, ...], Drift | None, tuple[str, ...]]
"""The groupings, the drift, and the groupings whose differences the drift explains."""


class _Looked(NamedTuple):
    """How a class is looked at: by the groups and the order of work of its students, each result over its reference."""

    students: Sequence[Student]
    titre: float
    """Expected titre [cm³]."""
    exponent: float

    def groupings(self, relative: FloatArray) -> tuple[Grouping, ...]:
        return group_shifts(relative, groupings_of(self.students), self.titre, self.exponent, reference=1.0)

    def drift(self, relative: FloatArray) -> Drift | None:
        return drift(relative, order_of(self.students), self.titre, self.exponent)

    def unnamed(self, relative: FloatArray) -> tuple[Grouping, ...]:
        """Return the two parts that a class lies in without a name, the one further from the reference as a group."""
        above = upper_part(relative, abs(self.exponent) / self.titre)
        if above is None:
            return ()
        there = np.isfinite(relative)
        further = abs(np.median(relative[above]) - 1) > abs(np.median(relative[there & ~above]) - 1)
        inside = above if further else there & ~above
        labels = [PART if here else REST if known else None for here, known in zip(inside, there, strict=True)]
        (found,) = group_shifts(relative, {"": labels}, self.titre, self.exponent, reference=1.0)
        places = tuple(np.flatnonzero(inside).tolist())
        groups = tuple(
            # A part that was found by its results is no test of them.
            each._replace(places=places, statistic=nan, critical=nan, p=nan)
            for each in found.groups
            if each.name == PART and each.shifted and abs(each.effect_percent) <= OF_ONE_LABEL
        )
        return (found._replace(groups=groups),) if groups else ()

    def spread_of(self, results: FloatArray) -> float:
        """Return the spread of results over their reference, those grossly off left out as they are for groups."""
        there = results[np.isfinite(results)]
        least = GROSS_AT_LEAST * SMALLEST * abs(self.exponent) / self.titre
        return fit(there, np.zeros(there.size, dtype=np.int64), 1, least).spread


def told_apart(relative: FloatArray, students: Sequence[Student], expected_titre: float, exponent: float) -> Told:
    """Return what differs within a class; `relative` is each result over its own reference (n,)."""
    if not np.isfinite(expected_titre):
        return (), None, ()
    looked = _Looked(students, expected_titre, exponent)
    groupings, moving = looked.groupings(relative), looked.drift(relative)
    named = any(map(_shifted, groupings))
    if moving is not None and moving.drifting:
        return _line_or_groups(looked, relative, groupings, moving) if named else (groupings, moving, ())
    return (*groupings, *(() if named else looked.unnamed(relative))), moving, ()


def _line_or_groups(looked: _Looked, relative: FloatArray, groupings: tuple[Grouping, ...], line: Drift) -> Told:
    """Return what is left of groups that differ and of a drift, where each may be the other."""
    students = looked.students
    moving: Drift | None = line
    straight = relative - line.slope * from_the_middle(students)
    spread = looked.spread_of(straight)
    follows = tuple(each.name for each in groupings if _shifted(each) and spread <= AS_GOOD * each.spread)
    if follows:
        # A group may be off beside the drift: what the line explains is no longer looked at.
        groupings = looked.groupings(straight)
        follows = tuple(each.name for each in groupings if each.name in follows and not _shifted(each))
    if any(map(_shifted, groupings)):
        ratio = without_group_shifts(np.full(len(students), looked.titre), groupings, students) / looked.titre
        moving = looked.drift(relative / ratio**looked.exponent)
    return groupings, moving, follows if moving is not None and moving.drifting else ()


def _shifted(grouping: Grouping) -> bool:
    return any(group.shifted for group in grouping.groups)


def reference_finding(test: ReferenceTest | None, unit: str, figures: int) -> list[Finding]:
    """Return `reference-doubtful` where the class agrees with itself and not with the reference."""
    if test is None or not test.doubtful:
        return []
    mean, value = (
        f"{in_figures(fraction(each), figures + 1)} {shown_unit(unit)}".strip()
        for each in (test.robust_mean, test.reference)
    )
    message = (
        f"The class agrees with itself at {mean}, {abs(test.shift_percent):.1f} % {test.direction} "
        f"the reference {value} "
        f"({abs(test.shift_titre):.2f} cm³ of titre, more than technique explains; "
        f"{test.same_side} of {test.results} students on that side). "
        "The reference may be wrong: standardise again, and check the label and the dilution."
    )
    return [found("reference-doubtful", message, evidence=plain(test))]


def group_findings(
    groupings: Iterable[Grouping], unit: str, reference: float, figures: int, *, several: bool
) -> list[Finding]:
    """Return a `group-shift` for every group that differs; `reference` turns relative figures back into the unit, and
    there may be `several` that results are relative to."""
    return [
        _group_finding(group, unit, reference, figures, several=several)
        for grouping in groupings
        for group in grouping.groups
        if group.shifted
    ]


def _group_finding(group: GroupShift, unit: str, reference: float, figures: int, *, several: bool) -> Finding:
    amount = difference_shown(in_figures(fraction(abs(group.effect) * reference), max(2, figures - 1)), unit)
    message = _set_apart(group, amount)
    if several:
        message += " Each is compared with its own reference."
    if group.same_as:
        message += f" The same students make up {', '.join(group.same_as)}: the cause may be either."
    if group.two_groups:
        message += " With two groups only, the results alone cannot tell which of them is off."
    message += " Check the solutions and the glassware of that group before the students’ work."
    return found("group-shift", message, evidence={"group": group.group, **plain(group)})


def _set_apart(group: GroupShift, amount: str) -> str:
    """Return by how much a group differs and, where nothing in the class sheet names it, what it may be."""
    side = "higher" if group.effect > 0 else "lower"
    if group.places:
        return (
            f"The results of {group.n} students lie together, {abs(group.effect_percent):.1f} % {side} than the "
            f"others, and nobody lies between: {amount}, {abs(group.effect_titre):.2f} cm³ of titre. They may have had "
            "another bottle or pipette: ask who used which, and add a column Bottle to the class sheet."
        )
    return (
        f"The results of {group.group} ({group.n} students) are {abs(group.effect_percent):.1f} % {side} than the "
        f"others: {amount}, {abs(group.effect_titre):.2f} cm³ of titre."
    )


def drift_finding(drift: Drift | None, follows: Sequence[str] = ()) -> list[Finding]:
    """Return `drift` where results move with the order of work; `follows` are the groupings that go with that order."""
    if drift is None or not drift.drifting:
        return []
    side = "rise" if drift.first_to_last > 0 else "fall"
    message = (
        f"Results {side} with the order of work: {abs(drift.first_to_last_percent):.1f} % from first to last "
        f"({abs(drift.first_to_last_titre):.2f} cm³ of titre). A solution that changes or a warming room would do this."
    )
    if follows:
        message += f" The order goes with {' and '.join(follows)}, whose differences it explains as well."
    return [found("drift", message, evidence={**plain(drift), "goes_with": list(follows)})]


def practical_finding(off: FloatArray, right: Sequence[bool]) -> list[Finding]:
    """Return `practical-doubtful` where hardly a result follows from its mean and titres are far from what is expected.

    off     (n,) each mean titre from the expected one, relative to it; NaN where there is none
    right   whether each result that could be judged follows from the student's own figures
    """
    there = off[np.isfinite(off)]
    few = len(right) < FEWEST_JUDGED or sum(right) > BY_CHANCE * len(right)
    if few or not there.size or abs(np.median(there)) <= FAR_TITRES:
        return []
    away = float(np.median(there)) * 100
    message = (
        f"Is this the right practical? {f'Only {sum(right)}' if any(right) else 'None'} of the {len(right)} results "
        f"follow by it, and the titres lie {abs(away):.0f} % {'above' if away > 0 else 'below'} what it expects. Look "
        "at its equation, concentrations, volumes and reference first: calculation and accuracy wait for that."
    )
    evidence = {"students": len(right), "titres_off_percent": away}
    return [found("practical-doubtful", message, evidence=evidence)]


def common_faults(by_student: Sequence[Sequence[Finding]], present: int) -> list[Finding]:
    """Return `common-fault` for every fault that a quarter of those present share, the commonest first."""
    counts = Counter(
        code
        for findings in by_student
        for code in dict.fromkeys(each.finding for each in findings if each.level != "note")
        if code not in NOT_TAUGHT
    )
    shared = [(code, number) for code, number in counts.items() if number >= max(SHARED_AT_LEAST, SHARED_BY * present)]
    return [
        found(
            "common-fault",
            f"{KINDS[code].title}: {number} of {present} students. {teach_again(code)}",
            evidence={"finding": code, "students": number, "present": present},
        )
        for code, number in sorted(shared, key=lambda pair: (-pair[1], list(KINDS).index(pair[0])))
    ]


def class_habit(away: FloatArray, by_student: Sequence[Sequence[Finding]], present: int) -> list[Finding]:
    """Return a `common-fault` where far more students lie well above the expected titre than below.

    `away` is each mean titre less the expected one (n,) [cm³], NaN where there is none; what is known to shift groups
    is taken out of it already.
    """
    there = np.isfinite(away)
    size = np.abs(np.where(there, away, 0.0))
    far = (size >= FAR - 1e-9) & (size <= GROSS)
    high = np.flatnonzero(far & (away > 0)).tolist()
    above = sum(not any(each.finding in OTHERWISE for each in by_student[place]) for place in high)
    below = int(np.count_nonzero(far & (away < 0)))
    chance = _chance_of(above, below)
    if above < max(SHARED_AT_LEAST, SHARED_BY * present) or chance > ALPHA:
        return []
    evidence = {"finding": HABIT, "students": above, "present": present, "as_far_below": below, "p": chance}
    return [found("common-fault", _habit_in_words(above, below, present), evidence=evidence)]


def _chance_of(above: int, below: int) -> float:
    """Return the chance of so many above, out of those far off, where either side is as likely."""
    far = above + below
    ways = accumulate(range(above, far), lambda ways, n: ways * (far - n) // (n + 1), initial=comb(far, above))
    return float(sum(ways) / 2**far)


def _habit_in_words(above: int, below: int, present: int) -> str:
    fewer = f"{below} as far below" if below else "nobody as far below"
    return (
        f"{KINDS[HABIT].title}, probably: the mean titres of {above} of {present} students lie {FAR:.2f} cm³ or more "
        f"above the expected one, and {fewer}. A titrant weaker than its label would do the same to everybody. "
        f"{teach_again(HABIT)}"
    )


def teach_again(code: str) -> str:
    """Return what to teach again where many share a finding."""
    advice = advice_on(code)
    return f"Worth teaching again: {advice[:1].lower()}{advice[1:]}"


def plain(record: Any) -> Any:
    """Return a record as plain dictionaries, lists and numbers; what is not finite becomes None."""
    if record is None or isinstance(record, (str, bool, int)):
        return record
    if isinstance(record, float):
        return float(record) if isfinite(record) else None
    if hasattr(record, "_asdict"):
        return plain(record._asdict())
    if isinstance(record, Mapping):
        return {str(key): plain(value) for key, value in record.items()}
    if isinstance(record, (list, tuple)):
        return [plain(value) for value in record]
    if isinstance(record, (np.ndarray, np.generic)):
        return plain(record.tolist())
    return record
