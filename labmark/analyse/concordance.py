"""The concordant sets of a class: of each student's accurate runs with a usable titre, those that agree (`agreeing`).

The set behind the mean is the one to take first; a student who used another of the largest is right as well. Where too
few agree the two closest runs stand in, and where the teacher decided about runs, those count.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from labmark.agreeing import Limit, agreeing_sets, closest_sets, tightest_span
from labmark.analyse.arrays import BoolArray, IntArray
from labmark.facts import Places

MOST_RUNS = 62
"""Runs a student may have: more is a sheet misread."""


@dataclass(frozen=True)
class Concordance:
    """Concordant sets of a class of n students with up to r runs each."""

    within: Limit
    """Largest minus smallest, inclusive."""
    at_least: int
    in_mean: BoolArray
    """(n, r): the run belongs to the set behind the mean."""
    concordant: BoolArray
    """(n,): at least `at_least` runs agree."""
    span: IntArray
    """(n,) largest minus smallest titre behind the mean [µL]; -1 where there is no mean."""
    total: IntArray
    """(n,) sum of the titres behind the mean [µL]; the mean is total / count, exactly."""
    count: IntArray
    """(n,) number of runs behind the mean; 0 where there is no mean."""
    sets: tuple[tuple[Places, ...], ...]
    """For each student every largest set that agrees, the one behind the mean first; () where none agree."""
    tightest: IntArray
    """(n,) span of the closest `at_least` runs [µL]; -1 where there are fewer."""


def concordance(
    titres: IntArray, usable: BoolArray, within: Limit, at_least: int = 2, decided: IntArray | None = None
) -> Concordance:
    """Return the concordant set of every student.

    titres   (n, r) [µL], in the order of the work; or results as whole numbers
    usable   (n, r), True for an accurate run whose titre counts
    within   largest minus smallest, inclusive
    at_least how many must agree; where fewer do, the two closest runs stand in and the student is not concordant
    decided  (n, r), 1 for a run that the teacher takes into the mean, -1 for one that is left out; sets that agree and
             how close the closest are stay those of the titres
    """
    rows = _rows(titres, usable)
    sets = tuple([agreeing_sets(row, within, at_least) for row in rows])
    chosen = [(next(iter(own or closest_sets(row)), ()), bool(own)) for row, own in zip(rows, sets, strict=True)]
    for student, words in _decided_about(decided):
        chosen[student] = _decided(rows[student], titres[student].tolist(), words, within, at_least)
    tightest = np.array([tightest_span(row, at_least) for row in rows], np.int64)
    return Concordance(within, at_least, *_behind_means(titres, chosen), sets, tightest)


def _rows(titres: IntArray, usable: BoolArray) -> list[list[int | None]]:
    """Return the titres of each student, None for one that does not count."""
    pairs = zip(titres.tolist(), usable.tolist(), strict=True)
    return [[titre if use else None for titre, use in zip(*pair, strict=True)] for pair in pairs]


def _decided_about(decided: IntArray | None) -> Iterator[tuple[int, list[int]]]:
    """Yield the place of each student about whose runs the teacher decided, with what was decided of each run."""
    if decided is not None:
        for student in np.flatnonzero(decided.any(axis=1)).tolist():
            yield student, decided[student].tolist()


Chosen = tuple[Places, bool]
"""The runs behind a mean, and whether as many as must do agree."""


def _behind_means(
    titres: IntArray, chosen: Sequence[Chosen]
) -> tuple[BoolArray, BoolArray, IntArray, IntArray, IntArray]:
    """Return which runs (n, r) are behind the means, and of each mean (n,): do they agree, span, total and number."""
    in_mean = np.array([[place in own for place in range(titres.shape[1])] for own, _ in chosen], bool)
    in_mean = in_mean.reshape(titres.shape)
    total = np.where(in_mean, titres, 0).sum(axis=1)
    return in_mean, np.array([agree for _, agree in chosen], bool), _spans(titres, in_mean), total, in_mean.sum(axis=1)


def _decided(
    row: Sequence[int | None], titres: Sequence[int], decided: Sequence[int], within: Limit, at_least: int
) -> Chosen:
    """Return the set that agrees among the runs not left out, with the runs that are taken in."""
    kept = [None if word < 0 else titre for titre, word in zip(row, decided, strict=True)]
    best = next(iter(agreeing_sets(kept, within, at_least) or closest_sets(kept)), ())
    places = tuple({*best, *(place for place, word in enumerate(decided) if word > 0 and titres[place] > 0)})
    values = [titres[place] for place in places]
    return places, len(values) >= at_least and bool(agreeing_sets(values, within, len(values)))


def _spans(titres: IntArray, chosen: BoolArray) -> IntArray:
    far = np.int64(2**62)
    high = np.where(chosen, titres, -far).max(axis=1, initial=-far)
    low = np.where(chosen, titres, far).min(axis=1, initial=far)
    return np.where(chosen.any(axis=1), high - low, -1)
