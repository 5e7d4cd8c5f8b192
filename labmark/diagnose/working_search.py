"""The search behind a written result, in order: straight sums first, and what takes more only where these don't fit.

A search is kept for all students who wrote the same value from the same mean; only other volumes are their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from labmark.diagnose.working_calculation import Calculation, fair_calculations
from labmark.diagnose.working_claim import Claim
from labmark.diagnose.working_digits import TRANSPOSED
from labmark.diagnose.working_fits import (
    early_fits,
    exact_fits,
    last_figure_fits,
    may_give,
    pen_fits,
    rounded_fits,
    volume_fit,
    volume_pairs,
)
from labmark.diagnose.working_slips import Fit
from labmark.diagnose.working_tabled import Tabled, tabled
from labmark.diagnose.working_volumes import Volume
from labmark.diagnose.working_ways import OTHER

MOST_SEARCHED = 2
"""With so many molar masses and means the longer searches are made, the standard one first."""


def is_whole(fit: Fit) -> bool:
    """Return whether a fit is a single slip of the sum itself, so that no two together need be looked for."""
    return fit.single and fit.causes != (TRANSPOSED,)


@dataclass(frozen=True)
class Found:
    """What was found, and among how many sums."""

    fits: list[Fit]
    singles_by_accident: float
    """accidental hits expected of the single slips"""
    all_by_accident: float
    """accidental hits expected of single slips and pairs"""
    tried: int


@dataclass(frozen=True, eq=False)
class Search:
    """What a written result may have come from."""

    claim: Claim
    known: dict[tuple[Tabled, bool], list[Fit]] = field(default_factory=dict)

    @property
    def calcs(self) -> tuple[Calculation, ...]:
        """The practical with each fair molar mass."""
        return fair_calculations(self.claim.calc)

    @cached_property
    def own(self) -> tuple[Tabled, ...]:
        """The practical as it is, at every mean."""
        return tuple(tabled(self.claim.calc, mean) for mean in self.claim.means)

    @cached_property
    def straight(self) -> list[Fit]:
        """The fits of straight sums, and of a last figure out."""
        found = [fit for case in self.own for fit in last_figure_fits(self.claim, case)]
        found += (fit for case in self.own for fit in pen_fits(self.claim, case))
        return [*found, *(fit for case in self.claim.cases for fit in exact_fits(self.claim, case))]

    @cached_property
    def early(self) -> list[Fit]:
        """The fits of values rounded too early."""
        return [fit for case in self.own for fit in early_fits(self.claim, case)]

    @cached_property
    def is_settled(self) -> bool:
        """Whether a straight sum with one named slip fits, so that nothing else is looked for."""
        return any(fit.single and OTHER not in fit.findings for fit in self.straight)

    @cached_property
    def is_single(self) -> bool:
        """Whether a single slip fits without another volume, so that two together are not looked for."""
        return any(is_whole(fit) for fit in (*self.straight, *self.early))

    def rounded(self, case: Tabled, *, pairs: bool) -> list[Fit]:
        """Return the fits with values rounded on the way."""
        key = case, pairs
        if key not in self.known:
            self.known[key] = [*rounded_fits(self.claim, case, pairs=pairs)]
        return self.known[key]

    def worth_a_look(self, volumes: Sequence[Volume]) -> tuple[Volume, ...]:
        """Return the volumes that might give the written value."""
        single = self.is_settled or self.is_single
        return tuple(
            one for one in volumes if any(may_give(self.claim, calc, one, singly=single) for calc in self.calcs)
        )

    def tried(self, volumes: int) -> int:
        """Return how many sums are tried, with so many other volumes."""
        return sum(len(case.rows.candidates) + volumes * (1 + case.rows.singles) for case in self.claim.cases)

    def found(self, volumes: Sequence[Volume], number: int) -> Found:
        """Return every fit; `volumes` are those worth a look of `number`."""
        first = self.claim.cases[0]
        chances = (self.claim.hits(first.single_sizes), self.claim.hits(first.all_sizes))
        return Found([*self._fits(volumes)], *chances, self.tried(number))

    def _fits(self, volumes: Sequence[Volume]) -> list[Fit]:
        fits = [*self.straight]
        if not self.is_settled:
            fits += self.early
        fits += (fit for calc in self.calcs for one in volumes for fit in volume_fit(self.claim, calc, one))
        if not any(is_whole(fit) for fit in fits):
            fits += self._searched(volumes, bool(fits))
        return fits

    def _searched(self, volumes: Sequence[Volume], found: bool) -> Iterator[Fit]:
        """Yield the fits with another volume and a slip, and those with values rounded on the way.

        `found`: pairs fit already, so pairs with roundings besides are not looked for.
        """
        claim, cases = self.claim, self.claim.cases[:MOST_SEARCHED]
        for case in cases:
            for one in volumes:
                pairs = [*volume_pairs(claim, case.calc, one), *volume_fit(claim, case.calc, one, rounded=True)]
                found = found or bool(pairs)
                yield from pairs
            rounded = self.rounded(case, pairs=False)
            found = found or bool(rounded)
            yield from rounded
        if not found:
            for case in cases:
                yield from self.rounded(case, pairs=True)
