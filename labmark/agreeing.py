"""Which titres agree: the one home of that, for a student's runs as for the titres that a misreading would leave.

The largest set whose largest minus smallest is at most a limit; ties go to the smaller span, then to the set whose
earliest run comes later (then the next, and so on). Runs 24.35, 24.40, 24.80, 24.85 with a limit of 0.10 give two sets
of two with the same span: the later one is taken first.

Why windows are enough: a set of the largest size leaves no titre between its smallest and its largest out, or it
could be made larger. So every largest set is a run of neighbours in the sorted titres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from labmark.facts import Places

Limit = int | Fraction
"""Largest minus smallest that still agrees: in µL, or (a fraction) as a share of the mean of those that agree."""


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
    closest = tightest_span(titres, 2)
    return _in_order(pair for pair in pairwise(there) if pair[1][0] - pair[0][0] == closest)


def _sorted(titres: Sequence[int | None]) -> list[tuple[int, int]]:
    """Return (titre, place) of the titres that are there, the smallest first."""
    return sorted((titre, place) for place, titre in enumerate(titres) if titre is not None)


def _in_order(windows: Iterable[Sequence[tuple[int, int]]]) -> tuple[Places, ...]:
    """Return the places in windows of sorted titres: the tighter first, then the one that starts later."""
    found = [(window[0][0] - window[-1][0], tuple(sorted(place for _, place in window))) for window in windows]
    return tuple(places for _, places in sorted(found, reverse=True))


def tightest_span(titres: Sequence[int | None], number: int) -> int | None:
    """Return the span of the closest so many titres [µL]; None where there are fewer."""
    values = [titre for titre, _ in _sorted(titres)]
    return min((high - low for low, high in zip(values, values[number - 1 :], strict=False)), default=None)
