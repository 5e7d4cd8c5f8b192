"""What readings stand for that were written in another way: tenths counted upwards, or two digits swapped.

A reading of 24.70 taken in the wrong direction stands for 24.30: true = n + (1 − f), written = n + f. Where the whole
number was taken from the mark below the meniscus as well, 25.30 was written for 24.70: true = written − 2 f.
A reading of 23.75 with two neighbouring digits swapped stands for 32.75, for 27.35 or, if it could be read so finely,
for 23.57. Each way has its share, so that a titre which agrees by coincidence is weighed against the ways there are.
"""

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np

from labmark.diagnose.bench_input import MARK, Ints
from labmark.diagnose.hypotheses import COUNTED_FROM_BELOW, MIRRORED_READINGS, RUN_HYPOTHESES

SWAPPED_READINGS = (("final", 0.65), ("initial", 0.35))
SWAPPED_PLACES = tuple((place, 1 / 3) for place in (1000, 100, 10))
"""Lower of the two places [µL], and how often these are the ones swapped: no pair of digits is known to be likelier."""


def mirrored(reading: Ints, *, below: bool = False) -> Ints:
    """Return what readings [µL] stand for that were taken upside down, whole number from the mark below or not."""
    part = reading % MARK
    return np.asarray(np.where(part > 0, reading - 2 * part + (0 if below else MARK), reading))


def swapped(reading: Ints, place: int) -> Ints:
    """Return readings [µL] with the digit of a place and the one before it swapped: 2.05 stands for 20.05 (02.05).

    None stands for a number that begins with a zero: nobody writes that, so none was written in another order.
    """
    high, low = reading // (10 * place) % 10, reading // place % 10
    in_front = (place == MARK) & (low == 0)
    return np.asarray(np.where(in_front, reading, reading + (low - high) * 9 * place))


class Way(NamedTuple):
    """A way in which one reading of a run, or both, may have been written."""

    name: str
    shape: str
    """Of the hypothesis about the run."""
    share: float
    """Of the cases of that hypothesis."""
    which: str
    meant: Callable[[Ints], Ints]


def _ways() -> tuple[Way, ...]:
    upside_down = [
        Way(which + how, "mirrored", share * of, which, partial(mirrored, below=bool(how)))
        for how, of in (("", 1 - COUNTED_FROM_BELOW), (" from below", COUNTED_FROM_BELOW))
        for which, share in MIRRORED_READINGS
    ]
    digits = [
        Way(f"{which} {place}", "digits swapped", share * of, which, partial(swapped, place=place))
        for which, share in SWAPPED_READINGS
        for place, of in SWAPPED_PLACES
    ]
    return (*upside_down, *digits)


WAYS = _ways()
VARIANTS: tuple[str, ...] = tuple(way.name for way in WAYS)
"""Names of the ways: which reading, and how."""
VARIANT_SHARES = np.array([way.share for way in WAYS])
_SHAPES = [h.shape for h in RUN_HYPOTHESES]
OF_HYPOTHESIS = np.array([_SHAPES.index(way.shape) for way in WAYS])  # type: ignore[arg-type]
"""Place in RUN_HYPOTHESES of the hypothesis that each way belongs to."""


def ends(way: Way, low: Ints, high: Ints) -> tuple[Ints, Ints]:
    """Return what the lower and the higher reading [µL] of runs stand for if they were written in this way."""
    return low if way.which == "final" else way.meant(low), high if way.which == "initial" else way.meant(high)


def meant(low: Ints, high: Ints, unit: int, top: float) -> Ints:
    """Return the titres [µL] that readings stand for, with a last axis over WAYS.

    `unit` is what is read to, `top` the end of the scale [µL]: no digits were swapped in a reading that is off either.
    """
    titres = []
    for way in WAYS:
        first, last = ends(way, low, high)
        of_one_run = (first < last) & (last <= top) & (first % unit == 0) & (last % unit == 0)
        titres.append(np.where(of_one_run | (way.shape == "mirrored"), last - first, high - low))
    return np.stack(titres, axis=-1)
