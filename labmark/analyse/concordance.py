"""The concordant set: the one home of which runs agree, for a student and for a whole class.

Of the accurate runs with a usable titre: the largest set whose largest minus smallest is at most `within`; ties
go to the smaller span, then to the set whose earliest run comes later (then the next, and so on). Runs 24.35,
24.40, 24.80, 24.85 with a limit of 0.10 give two sets of two with the same span: the later one is taken, and a
student who used either is right.

Why windows are enough: a set of the largest size leaves no titre between its smallest and its largest out, or it
could be made larger. So every largest set is a run of neighbours in the sorted titres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from labmark.analyse.arrays import BoolArray, IntArray
from labmark.facts import Places

Limit = int | Fraction
"""Largest minus smallest that still agrees: in µL, or (a fraction) as a share of the mean of those that agree."""
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
    tightest = np.array([_tightest(row, at_least) for row in rows], np.int64)
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


def agreeing_sets(titres: Sequence[int | None], within: Limit, at_least: int) -> tuple[Places, ...]:
    """Return the places of every largest set of titres [µL] that agree, the one to take first; () where too few do.

    titres   in the order of the work; None where there is none that counts
    """
    there = _sorted(titres)
    windows = [list(_window(there[first:], within)) for first in range(len(there))]
    most = max(map(len, windows), default=0)
    return _in_order(window for window in windows if len(window) == most) if most >= at_least else ()


def _window(there: Sequence[tuple[int, int]], within: Limit) -> Iterator[tuple[int, int]]:
    """Yield the first of these titres and those after it that agree with it."""
    low, total = there[0][0], 0
    for number, (titre, place) in enumerate(there, start=1):
        total += titre
        allowed = within if isinstance(within, int) else within * Fraction(total, number)
        if titre - low > allowed:
            return
        yield titre, place


def closest_sets(titres: Sequence[int | None]) -> tuple[Places, ...]:
    """Return the places of the two closest titres, every such pair, the one to take first; the only titre alone."""
    there = _sorted(titres)
    if len(there) < 2:
        return _in_order([there]) if there else ()
    closest = _tightest(titres, 2)
    return _in_order(pair for pair in pairwise(there) if pair[1][0] - pair[0][0] == closest)


def _sorted(titres: Sequence[int | None]) -> list[tuple[int, int]]:
    """Return (titre, place) of the titres that are there, the smallest first."""
    return sorted((titre, place) for place, titre in enumerate(titres) if titre is not None)


def _in_order(windows: Iterable[Sequence[tuple[int, int]]]) -> tuple[Places, ...]:
    """Return the places in windows of sorted titres: the tighter first, then the one that starts later."""
    found = [(window[0][0] - window[-1][0], tuple(sorted(place for _, place in window))) for window in windows]
    return tuple(places for _, places in sorted(found, reverse=True))


def _tightest(titres: Sequence[int | None], number: int) -> int:
    """Return the span of the closest so many titres [µL]; -1 where there are fewer."""
    values = [titre for titre, _ in _sorted(titres)]
    return min((high - low for low, high in zip(values, values[number - 1 :], strict=False)), default=-1)


def _spans(titres: IntArray, chosen: BoolArray) -> IntArray:
    far = np.int64(2**62)
    high = np.where(chosen, titres, -far).max(axis=1, initial=-far)
    low = np.where(chosen, titres, far).min(axis=1, initial=far)
    return np.where(chosen.any(axis=1), high - low, -1)
