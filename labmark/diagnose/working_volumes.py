"""The volumes that a student may have taken instead of the mean: the rough, one run, the mean of all."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from labmark.diagnose.working_slips import ALL_TITRES, DIFFERENCE, FROM_START, ONE_TITRE, OTHER_TITRE
from labmark.exact import average, round_fraction
from labmark.formula import Input

ROUGH_RATE = 0.12
ROUGH_MEAN_RATE = 0.06
RUN_RATE = 0.02
ALL_RATE = 0.04
MEAN_ROUNDED_RATE = 0.03
START_RATE = 0.20
OTHER_RATE, DIFFERENCE_RATE = 0.06, 0.02


class Volume(NamedTuple):
    """A volume taken instead of the student's mean."""

    cm3: Fraction
    finding: str
    cause: str
    phrase: str
    rate: float
    beside: tuple[Input, ...] = ()
    """Other titres that were taken with it instead of their means."""


def volumes_instead(
    titres: Mapping[str, Fraction],
    rough: Collection[str],
    means: Collection[Fraction],
    from_start: Fraction | None = None,
    roughs: tuple[Input, ...] = (),
    elsewhere: Sequence[tuple[str, Fraction]] = (),
) -> list[Volume]:
    """Return the volumes that may have been taken, the likeliest first; of equal ones the likeliest stands for all.

    titres   own titres [cm³] by label
    rough    which of the labels are roughs
    means    own means [cm³]: taking one of these is no slip
    from_start   mean of the readings at a later endpoint, counted from the initial one [cm³]
    roughs   of the other titres that the result rests on
    elsewhere   name and mean of each other titre [cm³]
    """
    likeliest: dict[tuple[tuple[int, int], tuple[Input, ...]], Volume] = {}
    every = (
        *_volumes(titres, rough, means, from_start, roughs),
        *_of_others(elsewhere, next(iter(means), Fraction(0))),
    )
    for one in sorted(every, key=lambda one: -one.rate):
        likeliest.setdefault((one.cm3.as_integer_ratio(), one.beside), one)
    own = {mean.as_integer_ratio() for mean in means}
    return [one for (ratio, beside), one in likeliest.items() if ratio[0] > 0 and (beside or ratio not in own)]


def _volumes(
    titres: Mapping[str, Fraction],
    rough: Collection[str],
    means: Collection[Fraction],
    from_start: Fraction | None,
    roughs: tuple[Input, ...],
) -> Iterator[Volume]:
    """Yield the readings from the start, the rough, one run, the mean of all, and a mean rounded before going on."""
    if from_start is not None:
        words = "counting the titre from the initial reading and not from the endpoint before"
        yield Volume(from_start, "difference-forgotten", FROM_START, words, START_RATE)
    for label, cm3 in titres.items():
        if label in rough:
            one = Volume(cm3, "rough-in-result", "the rough titre used", "using the rough titre", ROUGH_RATE)
            yield one
            if roughs:  # with those of the other titres too
                yield one._replace(beside=roughs)
        else:
            words = f"using the titre of run {label} alone"
            yield Volume(cm3, "result-slip", ONE_TITRE, words, RUN_RATE)
    runs = [cm3 for label, cm3 in titres.items() if label not in rough]
    if len(titres) > len(runs) >= 1:
        words = "using the mean of all titres, the rough included,"
        every = average(titres.values())
        yield Volume(every, "rough-in-result", "a mean with the rough used", words, ROUGH_MEAN_RATE)
    if len(runs) > 1:
        words = "using the mean of all accurate titres"
        yield Volume(average(runs), "result-slip", ALL_TITRES, words, ALL_RATE)
    for decimals in (1, 0):
        rounded = round_fraction(next(iter(means), Fraction(0)), decimals)
        words = f"rounding the mean titre to {rounded:f} cm³ before going on"
        yield Volume(Fraction(rounded), "rounding", "rounded too early", words, MEAN_ROUNDED_RATE)


def _of_others(others: Sequence[tuple[str, Fraction]], mean: Fraction) -> Iterator[Volume]:
    """Yield the other titres of a student, and how far they are from this one."""
    for name, other in others:
        yield Volume(other, "result-slip", OTHER_TITRE, f"using the mean titre of “{name}”", OTHER_RATE)
        words = f"using the difference from the mean titre of “{name}”"
        yield Volume(abs(other - mean), "result-slip", DIFFERENCE, words, DIFFERENCE_RATE)
