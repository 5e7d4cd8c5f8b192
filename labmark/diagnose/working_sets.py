"""Which sets of runs a mean titre may be that of, and whether a written mean is right.

A mean is right to 0.05 or to 0.01, or to more decimals. Where the student ticked runs, the mean is held against those;
without ticks, against every set of concordant runs.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from itertools import combinations
from math import lcm

from labmark.diagnose.working_rounding import Digits, equals, value_at

HUNDREDTH = 2


@dataclass(frozen=True, slots=True)
class MeanRun:
    """A run as the mean sees it."""

    label: str
    kind: str
    """"rough" or "accurate" """
    titre: Fraction
    """own titre [cm³]"""
    ticked: bool | None = None
    """the student's tick; None where the sheet has none for this run"""

    @property
    def is_rough(self) -> bool:
        """Whether this is the rough."""
        return self.kind == "rough"


Runs = tuple[MeanRun, ...]


def mean_of(runs: Sequence[MeanRun]) -> Fraction:
    """Return the mean titre [cm³]."""
    return average(run.titre for run in runs)


def average(volumes: Iterable[Fraction]) -> Fraction:
    """Return the mean of volumes, of which there is one at least."""
    # In whole numbers: a sum of fractions is brought to lowest terms at every step.
    ratios = [one.as_integer_ratio() for one in volumes]
    common = lcm(*[bottom for _, bottom in ratios])
    return Fraction(sum([top * (common // bottom) for top, bottom in ratios]), common * len(ratios))


def mean_readings(written: Decimal, decimals: int | None) -> list[Digits]:
    """Return the ways to read a written mean: to two decimals or more, then as it stands (then it is short)."""
    places, value = value_at(written, decimals)
    found = [Digits(HUNDREDTH, value, False)] if decimals is None and places < HUNDREDTH else []
    return [*found, Digits(places, value, places < HUNDREDTH)]


def equals_mean(true: Fraction, written: Digits) -> bool:
    """Return whether a written mean is the true one, to the digits written, to 0.01, or to 0.05."""
    if equals(true, written):
        return True
    if written.decimals > HUNDREDTH:
        return equals(true, written._replace(decimals=HUNDREDTH)) or is_to_step(true, written.value)
    return not written.short and is_to_step(true, written.value)


def is_to_step(true: Fraction, written: Fraction) -> bool:
    """Return whether a value is the true one to the nearest 0.05; at a tie, either neighbour."""
    if 20 * written.numerator % written.denominator:
        return False
    return 40 * abs(true.numerator * written.denominator - written.numerator * true.denominator) <= (
        true.denominator * written.denominator
    )


def reading_of(true: Fraction, written: list[Digits]) -> Digits | None:
    """Return the strictest reading at which the written mean is the true one."""
    return next((reading for reading in written if equals_mean(true, reading)), None)


@dataclass(frozen=True)
class MeanClaim:
    """A written mean, the runs, and which sets of them would do."""

    runs: Runs
    written: list[Digits]
    concordant: tuple[frozenset[str], ...]
    """labels of every largest concordant set; empty where no runs agree"""
    within: Fraction

    @cached_property
    def _near(self) -> tuple[float, float]:
        """The written mean, and how far off a mean may lie that is looked at exactly."""
        coarsest = 10.0 ** -min(HUNDREDTH, *(reading.decimals for reading in self.written))
        value = self.written[-1].value
        return value.numerator / value.denominator, max(0.025, coarsest / 2) + 1e-6

    def reading(self, true: Fraction) -> Digits | None:
        """Return the strictest reading at which the written mean is this one."""
        value, tolerance = self._near
        if abs(true.numerator / true.denominator - value) > tolerance:
            return None
        return reading_of(true, self.written)

    @cached_property
    def ticked(self) -> Runs:
        """The runs ticked, in order; empty where the sheet has no ticks."""
        return tuple(run for run in self.runs if run.ticked)

    @cached_property
    def accurate(self) -> Runs:
        """All but the rough."""
        return tuple(run for run in self.runs if not run.is_rough)

    @cached_property
    def fair_sets(self) -> tuple[Runs, ...]:
        """The sets to take: the largest that agree; where none do, the closest two (or the only run)."""
        if self.concordant:
            sets = (tuple(run for run in self.runs if run.label in labels) for labels in self.concordant)
            return tuple(one for one in sets if one)
        if len(self.accurate) < 2:
            return (self.accurate,) if self.accurate else ()
        pairs = list(combinations(self.accurate, 2))
        closest = min(abs(a.titre - b.titre) for a, b in pairs)
        return tuple(pair for pair in pairs if abs(pair[0].titre - pair[1].titre) == closest)

    def is_fair(self, runs: Collection[MeanRun]) -> bool:
        """Return whether every run taken belongs to one fair set."""
        labels = {run.label for run in runs}
        return any(labels <= {run.label for run in one} for one in self.fair_sets)

    @cached_property
    def own(self) -> tuple[Runs, ...]:
        """The sets whose mean the student should have written: the runs ticked, else every fair set."""
        return (self.ticked,) if self.ticked else self.fair_sets


def selection(claim: MeanClaim, runs: Runs) -> str:
    """Return the finding about the runs that a mean takes in, or ""."""
    if any(run.is_rough for run in runs):
        return "rough-in-mean"
    return "" if claim.is_fair(runs) else "discordant-in-mean"


def make_claim(
    runs: Sequence[MeanRun],
    claimed: Decimal,
    decimals: int | None,
    within: Fraction,
    concordant: Sequence[Collection[str]],
) -> MeanClaim:
    """Return the claim with its sets."""
    return MeanClaim(tuple(runs), mean_readings(claimed, decimals), tuple(frozenset(one) for one in concordant), within)


def fair_choices(claim: MeanClaim) -> Iterator[Runs]:
    """Yield the sets whose mean is right: the runs ticked; without ticks, every fair set and its parts."""
    yield from claim.own
    if not claim.ticked:
        for one in claim.fair_sets:
            for size in range(len(one) - 1, 1, -1):
                yield from combinations(one, size)


def right_mean(claim: MeanClaim) -> Digits | None:
    """Return the strictest reading at which the mean is right, or None."""
    found = None
    for runs in fair_choices(claim):
        reading = claim.reading(mean_of(runs)) if runs else None
        if reading is not None and not reading.short:
            return reading
        found = found or reading
    return found


def mean_is_right(
    runs: Sequence[MeanRun],
    *,
    claimed: Decimal,
    decimals: int | None,
    within: Fraction,
    concordant: Sequence[Collection[str]],
) -> bool:
    """Return whether a written mean is that of the runs ticked, or of a fair set where none is ticked."""
    claim = make_claim(runs, claimed, decimals, within, concordant)
    reading = right_mean(claim)
    return reading is not None and not reading.short
