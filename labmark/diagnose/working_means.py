"""Which runs a mean titre may be of, and when a written mean is right.

A written mean is right to 0.01 or to 0.05 cm³, or to more decimals; zeros at its end say nothing, as a spare one costs
nothing and a number cell loses them: 24.380 and 24.4 are both right for 24.383. Where the student ticked runs, the mean
is held against those; without ticks, against every set of runs that agree, and its parts.
"""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

from labmark.exact import both_roundings, magnitude, visible_decimals
from labmark.facts import Places, Student, mean_cm3

HUNDREDTH = 2
FINEST = 10
"""Titres are told apart to so many microlitres."""
NEAR = 0.03
"""Further from the true one [cm³] no rounding takes a mean."""


def is_to_the_digit(written: Decimal, true: Fraction) -> bool:
    """Return whether a written mean [cm³] is the true one to 0.01 or to the decimals that can be seen.

    Beyond the hundredth a figure may also be cut off, as on the display of a calculator.
    """
    places = max(HUNDREDTH, visible_decimals(written))
    if written in both_roundings(true, HUNDREDTH) or written in both_roundings(true, places):
        return True
    return places > HUNDREDTH and 0 <= (true - Fraction(written)) * 10**places < 1


def mean_is_right(written: Decimal, true: Fraction) -> bool:
    """Return whether a written mean [cm³] is right for a true one."""
    if abs(float(written) - float(true)) > NEAR:
        return False
    # To the nearest 0.05, ties up or to the even one.
    return is_to_the_digit(written, true) or written * 20 in both_roundings(true * 20, 0)


def mean_is_coarse(written: Decimal, true: Fraction) -> bool:
    """Return whether a written mean is right to one decimal only, which is neither to 0.05 nor to 0.01 cm³."""
    return visible_decimals(written) <= 1 and written in both_roundings(true, 1) and not mean_is_right(written, true)


def means_of(student: Student, places: Places) -> Iterator[Fraction]:
    """Yield the mean of some runs on own titres, then on what all of their readings give [cm³]."""
    own = [titre for place in places if (titre := student.runs[place].own_titre) is not None]
    given = [titre for place in places if (titre := student.runs[place].titre) is not None]
    if own:
        yield mean_cm3(sum(own), len(own))
    if given and given != own and len(given) == len(places):
        yield mean_cm3(sum(given), len(given))


def ticked(student: Student) -> Places:
    """Return the places of the runs that the student ticked, those with a titre."""
    return tuple([place for place, run in enumerate(student.runs) if run.ticked and run.own_titre is not None])


def choices(student: Student) -> Iterator[Places]:
    """Yield the sets whose mean is right: the runs ticked (or all that agree with them), else every fair set and part.

    Where one tick is for several endpoints, a mean of titres that agree says better which ones are in it.
    What the mean takes in is another question: see `selection_right`.
    """
    chosen = ticked(student)
    if chosen:
        yield chosen
        yield from (one for one in student.fair if student.ticks_shared or set(chosen) < set(one))
        return
    yield from student.fair
    yield from (part for one in student.fair for size in range(len(one) - 1, 1, -1) for part in combinations(one, size))


def right_choice(student: Student, sets: Iterable[Places]) -> tuple[Places, Fraction] | None:
    """Return the first of some sets whose mean is the written one, with that mean [cm³]; None where none is."""
    return next(_fitting(student, sets), None)


def means_behind(student: Student) -> Iterator[Fraction]:
    """Yield each mean [cm³] that the written one may be, with the figures that were rounded off."""
    yield from (mean for _, mean in _fitting(student, choices(student)))


def _fitting(student: Student, sets: Iterable[Places]) -> Iterator[tuple[Places, Fraction]]:
    """Yield those of some sets whose mean is the written one, with that mean [cm³]."""
    written = student.own_mean
    if written is not None and written.is_finite():
        pairs = ((places, mean) for places in sets for mean in means_of(student, places))
        yield from ((places, mean) for places, mean in pairs if mean_is_right(written, mean))


def selection_right(student: Student, places: Places, at_least: int) -> bool:
    """Return whether the runs all belong to one fair set, and are as many as must agree.

    Where no titres agree, the closest ones are the best there are: taking them is no slip of its own. Where results
    must agree, a run without one (its mass is blank) can be held against nobody.
    """
    chosen = set(places)
    if student.agreement is not None and student.sets:
        chosen = {place for place in places if student.runs[place].result is not None}
    return any(chosen == set(one) or (len(chosen) >= at_least and chosen < set(one)) for one in student.fair)


def unread_means(student: Student, within: int) -> Iterator[Fraction]:
    """Yield the means [cm³] that there may be where one run in them has no titre that can be read, and none is written.

    within   largest minus smallest of titres that agree [µL]: the titre lies where it agrees with all of the others
    """
    any_ticked = any(run.ticked for run in student.runs)
    unread = [run for run in student.accurate if run.own_titre is None and not run.struck]
    unread = [run for run in unread if run.ticked or not any_ticked]
    if student.own_mean is not None or student.agreement is not None or len(unread) != 1:
        return
    for places in [ticked(student)] if any_ticked else student.fair:
        own = [titre for place in places if (titre := student.runs[place].own_titre) is not None]
        if own:
            titres = range(max(own) - within, min(own) + within + 1, FINEST)
            yield from (mean_cm3(sum(own) + titre, len(own) + 1) for titre in titres)


def rounded_means(mean: Fraction, figures: int) -> Iterator[Decimal]:
    """Yield a mean [cm³] as it may be rounded before going on: to 0.05, 0.01, 0.001 or so many significant figures."""
    yield from (one / 20 for one in both_roundings(mean * 20, 0))
    for places in (HUNDREDTH, HUNDREDTH + 1, figures - 1 - magnitude(mean)):
        yield from both_roundings(mean, places)
