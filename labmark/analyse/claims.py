"""Is what the student wrote right, judged on the student's own figures?

Errors are carried forward: the titres are held against own readings, the mean against own titres and ticks. A written
value is right when it equals the true one rounded to the digits that were written, ties either way; a mean also to
0.05 or 0.01 cm³. (The result, whose working has many fair ways, is looked at with the slips in the working.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import combinations

from labmark.facts import OwnMean, Places, Student, mean_cm3
from labmark.figures import visible_decimals
from labmark.volumes import PER_CM3, both_roundings

NEAR = 60
"""A mean further than this from the written one [µL] is not it, by any rounding to a tenth of a cm³ or finer."""
MOST_RUNS_TRIED = 10
"""Above this many runs only the likelier sets are tried for a mean without ticks."""


def rounds_to(written: Decimal, true: Fraction, decimals: int) -> bool:
    """Return whether `written` is what `true` rounds to at so many places, ties either way."""
    return written in both_roundings(true, decimals)


@lru_cache(maxsize=1 << 16)
def mean_fits(written: Decimal, true: Fraction, decimals: int | None) -> bool:
    """Return whether a written mean [cm³] is right: to 0.01, to 0.05, or to the decimals written."""
    places = max(2, visible_decimals(written) if decimals is None else decimals)
    twentieths = (value / 20 for value in both_roundings(true * 20, 0))
    return rounds_to(written, true, places) or any(written == value for value in twentieths)


def mean_is_written(written: Decimal, true: Fraction, decimals: int | None) -> bool:
    """Return whether a written mean is right to 0.01 cm³ or to the decimals written."""
    return rounds_to(written, true, max(2, visible_decimals(written) if decimals is None else decimals))


def mean_fits_coarsely(written: Decimal, true: Fraction, decimals: int | None) -> bool:
    """Return whether a written mean is right to one decimal only, which is neither to 0.05 nor to 0.01 cm³.

    Where the digits written cannot be known it makes no odds: with a zero at its end it would be wrong as well.
    """
    places = visible_decimals(written) if decimals is None else decimals
    return places == 1 and rounds_to(written, true, 1)


def own_mean(student: Student, at_least: int, within: int) -> OwnMean | None:
    """Return what the student's mean is the mean of; None where there is nothing to judge.

    at_least   how many runs must agree
    within     largest minus smallest of titres that agree [µL]
    """
    ticked = tuple(place for place, run in enumerate(student.runs) if run.ticked and run.own_titre is not None)
    if student.own_mean is None and not ticked:
        return None
    if student.own_mean is None:
        return OwnMean(False, ticked, selection_right(student, ticked, at_least, within), _mean(student, ticked))
    if any(run.ticked and run.own_titre is None for run in student.runs):
        return OwnMean(True, ticked, True, None, uncheckable=True)
    # A fair choice first; of the others one that gives the very digits before one to the nearest 0.05.
    near: list[tuple[Places, Fraction]] = []
    for places, mean in _near_means(student, ticked, within, student.own_mean):
        near.append((places, mean))
        if mean_fits(student.own_mean, mean, student.own_mean_decimals):
            chosen = selection_right(student, places, at_least, within)
            if chosen or places == ticked:
                return OwnMean(True, places, chosen, mean)
    for fits in (mean_is_written, mean_fits, mean_fits_coarsely):
        for places, mean in near:
            if fits(student.own_mean, mean, student.own_mean_decimals):
                coarse = fits is mean_fits_coarsely
                return OwnMean(not coarse, places, selection_right(student, places, at_least, within), mean, coarse)
    places = ticked or (student.sets[0] if student.sets else student.closest)
    # Runs ticked in excess, and the mean of the right ones all the same: one slip, and it costs the mean.
    apart = any(
        mean_fits(student.own_mean, mean, student.own_mean_decimals)
        for group in student.sets
        for mean in _means(student, group)
    )
    chosen = selection_right(student, places, at_least, within) if ticked and not apart else True
    return OwnMean(False, places, chosen, _mean(student, places))


def selection_right(student: Student, places: Places, at_least: int, within: int) -> bool:
    """Return whether the runs all belong to one largest concordant set, by the readings or by own titres.

    Where no titres agree, the closest ones are the best there are: taking them is no slip of its own.
    """
    if any(student.runs[place].rough for place in places):
        return False
    # Nearly everybody takes runs that agree by the readings: then own titres need not be looked at.
    if len(places) >= at_least and any(set(places) <= set(largest) for largest in student.sets):
        return True
    agreeing = [largest for largest in (*student.sets, *_own_sets(student, within)) if len(largest) >= at_least]
    if not agreeing:
        return bool(places) and (set(places) == set(student.closest) or _as_close(student, places))
    return len(places) >= at_least and any(set(places) <= set(largest) for largest in agreeing)


def _as_close(student: Student, places: Places) -> bool:
    """Return whether two runs are as close to one another as the closest two."""
    if len(places) != 2 or len(student.closest) != 2:
        return False
    (one, other), (first, second) = (
        [student.runs[place].titre for place in pair] for pair in (places, student.closest)
    )
    if one is None or other is None or first is None or second is None:
        return False
    return abs(one - other) == abs(first - second)


def _own_sets(student: Student, within: int) -> Iterator[Places]:
    """Yield the largest concordant sets on the student's own titres: a slip made before is carried forward."""
    own = sorted(
        [
            (titre, place)
            for place, run in enumerate(student.runs)
            if not run.rough and (titre := run.own_titre) is not None
        ]
    )
    groups = [tuple([place for titre, place in own if low <= titre <= low + within]) for low, _ in own]
    most = max(map(len, groups), default=0)
    yield from (group for group in groups if len(group) == most and most > 1)


def _near_means(student: Student, ticked: Places, within: int, written: Decimal) -> Iterator[tuple[Places, Fraction]]:
    """Yield the sets that the mean may be of with their means [cm³], those near enough to be what is written."""
    goal = int(written * PER_CM3)
    for places in _likely_sets(student, ticked, within):
        for total, count in dict.fromkeys(_totals(student, places)):
            if abs(goal * count - total) <= NEAR * count:
                yield places, mean_cm3(total, count)


def _likely_sets(student: Student, ticked: Places, within: int) -> Iterator[Places]:
    """Yield the sets of runs that the mean may be of, the likelier ones first."""
    if not ticked:
        # Mostly it is one of these, and then nothing below is worked out.
        yield from student.sets
    accurate = tuple(place for place, run in enumerate(student.runs) if not run.rough and run.own_titre is not None)
    rough = tuple(place for place, run in enumerate(student.runs) if run.rough and run.own_titre is not None)
    if ticked:
        # With ticks only the plain alternatives are believed: anything else would excuse every slip.
        yield from dict.fromkeys(
            (ticked, tuple(sorted({*ticked, *rough})), accurate, tuple(sorted({*accurate, *rough})))
        )
        return
    own_sets = tuple(_own_sets(student, within))
    yield from own_sets
    largest = (*student.sets, *own_sets)
    if not student.sets:
        yield student.closest
    yield from (
        subset for group in largest for size in range(len(group) - 1, 1, -1) for subset in combinations(group, size)
    )
    yield accurate
    yield from (tuple(sorted({*rough, *group})) for group in (*largest, accurate) if rough)
    if len(accurate) + len(rough) <= MOST_RUNS_TRIED:
        for group in (accurate, tuple(sorted({*accurate, *rough}))):
            yield from (each for size in range(len(group) - 1, 1, -1) for each in combinations(group, size))


def _means(student: Student, places: Sequence[int]) -> Iterator[Fraction]:
    """Yield the mean of some runs on own titres, then on what the readings give [cm³]."""
    yield from (mean_cm3(total, count) for total, count in _totals(student, places))


def _totals(student: Student, places: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield sum [µL] and number of own titres of some runs, then of what all of their readings give."""
    own = [titre for place in places if (titre := student.runs[place].own_titre) is not None]
    if own:
        yield sum(own), len(own)
    given = [titre for place in places if (titre := student.runs[place].titre) is not None]
    if given and len(given) == len(places):
        yield sum(given), len(given)


def _mean(student: Student, places: Sequence[int]) -> Fraction | None:
    own = [titre for place in places if (titre := student.runs[place].own_titre) is not None]
    return mean_cm3(sum(own), len(own)) if own else None
