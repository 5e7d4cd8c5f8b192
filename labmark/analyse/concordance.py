"""The concordant sets of a student: of the accurate runs with a usable titre, those that agree (`agreeing`).

The set behind the mean is the one to take first; a student who used another of the largest is right as well. Where too
few agree the two closest runs stand in, and where the teacher decided about runs, those count.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from labmark.agreeing import Limit, agreeing_sets, closest_sets, tightest_span
from labmark.facts import Places

MOST_RUNS = 62
"""Runs a student may have: more is a sheet misread."""


class Concordance(NamedTuple):
    """Which runs of a student agree."""

    sets: tuple[Places, ...]
    """Every largest set that agrees, the one behind the mean first; () where none agree."""
    behind: Places
    """The runs behind the mean; none where there is no mean."""
    agree: bool
    """As many of them as must do agree."""
    span: int | None
    """Largest minus smallest titre behind the mean [µL]; None where there is no mean."""
    total: int
    """Sum of the titres behind the mean [µL]: the mean is exactly this over their number."""
    tightest: int | None
    """Span of the closest `at_least` runs [µL]; None where there are fewer."""


def concordance(
    titres: Sequence[int],
    usable: Sequence[bool],
    within: Limit,
    at_least: int = 2,
    decided: Sequence[bool | None] = (),
) -> Concordance:
    """Return which runs of a student agree.

    titres   [µL], in the order of the work; or results as whole numbers
    usable   True for an accurate run whose titre counts
    within   largest minus smallest, inclusive
    at_least how many must agree; where fewer do, the two closest runs stand in and the student is not concordant
    decided  True for a run that the teacher takes into the mean, False for one that is left out; sets that agree and
             how close the closest are stay those of the titres
    """
    counting = [titre if use else None for titre, use in zip(titres, usable, strict=True)]
    sets = agreeing_sets(counting, within, at_least)
    behind, agree = next(iter(sets or closest_sets(counting)), ()), bool(sets)
    if any(word is not None for word in decided):
        behind = _decided(counting, titres, decided, within, at_least)
        values = [titres[place] for place in behind]
        agree = len(values) >= at_least and bool(agreeing_sets(values, within, len(values)))
    values = [titres[place] for place in behind]
    span = max(values) - min(values) if values else None
    return Concordance(sets, behind, agree, span, sum(values), tightest_span(counting, at_least))


def _decided(
    counting: Sequence[int | None], titres: Sequence[int], decided: Sequence[bool | None], within: Limit, at_least: int
) -> Places:
    """Return the set that agrees among the runs not left out, with the runs that are taken in."""
    kept = [None if word is False else titre for titre, word in zip(counting, decided, strict=True)]
    best = next(iter(agreeing_sets(kept, within, at_least) or closest_sets(kept)), ())
    return tuple(sorted({*best, *(place for place, word in enumerate(decided) if word and titres[place] > 0)}))
