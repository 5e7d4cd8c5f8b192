"""Uncertainty of titration results: the GUM budget, and the school way beside it.

What goes into a titre, and how nothing is counted twice:

- burette calibration: within the limit of its class, the same for all runs of a student. Triangular by default, as
  makers aim at the middle (QUAM:2012, A2.4, does the same); a practical may ask for rectangular, which suits old glass.
- repeatability: the scatter of a student's runs. It holds the scatter of both readings, of the last drop and of the
  pipetting, so that none of these stands in the budget again (QUAM:2012, A2 and A3, do the same). It is pooled over the
  class, as three runs alone tell next to nothing of a spread, and over all accurate runs, whether they agree or not:
  runs picked for agreeing within 0.10 cm³ never scatter by more than about 0.04, however careless the hand. It is
  robust, so that one run gone wrong does not count as scatter; and never below what rounding each reading hides.
- endpoint: a habit (always stopping a drop late, at a deeper tint) is in all runs alike; no repeatability shows it.
  Within a drop either way, triangular: most people stop near the colour they were shown.
- two readings: only where the class has too few second runs for a repeatability. Then ± half a division each,
  rectangular. A habit in reading (parallax) cancels in final − initial.

Results of one class share pipette class, standard and reference, so their budgets are not independent of one another.
Expansion by warmth cancels between aliquot and titre of one room and is left out; add a component where it does not.
"""

from collections.abc import Iterable, Sequence
from math import inf, sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, codes, floats
from labmark.analyse.budget import DIVISORS, BudgetTable, Component, budget_table, standard_uncertainty
from labmark.analyse.robust import joint_fit
from labmark.practical.glassware import Glass, better

DROP = 0.05
"""Volume of a drop from a burette [cm³] (common practice, no source)."""

FEWEST_DOF = 5
"""Degrees of freedom from which a pooled repeatability is used rather than guessed from drop and division: with
fewer, the standard deviation is itself uncertain by more than about a third (GUM Table E.1)."""

POOLED = (
    "Repeatability is pooled over all accurate runs of the class; it holds the scatter of readings, last drop and "
    "pipetting, so these are not counted again."
)
GUESSED = "Too few second runs for a repeatability: reading and last drop are taken from division and drop size."


class Repeatability(NamedTuple):
    """Scatter of a single titre, pooled over the class."""

    sd: float
    """s_r of a single titre [cm³]."""
    dof: float
    """Degrees of freedom behind it."""


class Titres(NamedTuple):
    """The titres behind n results, and how they were read."""

    slope: float | FloatArray
    """∂result/∂titre [unit of the result per cm³], which may differ from student to student."""
    runs: FloatArray
    """How many runs each mean is of."""
    burette: Glass
    repeatability: Repeatability | None = None
    drop: float = DROP
    """[cm³]"""
    distribution: str = "triangular"
    """Law of the burette's calibration."""
    name: str = ""
    """Of the endpoint or the titration, where there are several."""
    endpoint_slope: FloatArray | None = None
    """∂result/∂(volume at the endpoint); None: `slope`. What is late at one endpoint is missing from the next titre."""
    reading_slope: FloatArray | None = None
    """Root of the sum of squares of ∂result/∂reading over all readings of a run; None: that of two, √2 × `slope`. A
    reading between two titres belongs to both, so that these are not independent of one another."""

    def line(self, what: str, within: float | FloatArray, law: str, advice: str, dof: float = inf) -> Component:
        """Return a line of the budget for a volume known to ± so much by a law [cm³]."""
        source = f"{what}, {self.name}" if self.name else what
        return Component(source, self.slope, within / DIVISORS[law], "cm3", law, dof, advice)


def titration_budget(value: ArrayLike, titres: Titres, others: Sequence[Component]) -> BudgetTable:
    """Return the budgets of n results: the titre's own lines, then `others` (pipette, flask, standard, formula mass).

    `value` has shape n; NaN where a student has no result, whose budget is NaN throughout.
    """
    note = POOLED if _usable(titres) is not None else GUESSED
    return budget_table(value, [*titre_components(titres), *scatter(titres), *others], [note])


def class_repeatability(titres: ArrayLike, student: Iterable[Any]) -> Repeatability | None:
    """Return the scatter of a single titre [cm³], pooled over the class; None where no student has two runs.

    Parameters: `titres`, all accurate runs of all students, agreeing or not [cm³]; `student`, whose each one is.
    The spread is Algorithm A's, with a centre for each student (`robust.joint_fit`).
    """
    array = floats(titres)
    number, _ = codes(student)
    use = np.isfinite(array) & (number >= 0)
    array, number = array[use], np.unique(number[use], return_inverse=True)[1].astype(np.int64).reshape(-1)
    students = int(number.max(initial=-1)) + 1
    if array.size <= students:
        return None
    _, spread = joint_fit(array, number, students)
    return Repeatability(spread, float(array.size - students))


def titre_components(titres: Titres) -> tuple[Component, ...]:
    """Return the lines of the mean titre that are alike in all runs: calibration and endpoint."""
    advice = "stop at the first lasting colour, by half drops, against a white tile and a flask of the right tint"
    endpoint = titres.line("endpoint", titres.drop, "triangular", advice)
    if titres.endpoint_slope is not None:
        endpoint = endpoint._replace(slope=titres.endpoint_slope)
    within, law = titres.burette.tolerance, titres.distribution
    return titres.line("burette calibration", within, law, better("burette")), endpoint


def _usable(titres: Titres) -> Repeatability | None:
    """Return the pooled repeatability where enough runs stand behind it."""
    seen = titres.repeatability
    return seen if seen is not None and seen.dof >= FEWEST_DOF else None


def _of_readings(titres: Titres) -> FloatArray | float:
    """Return how much of the uncertainty of one reading a titre has: √2, or more where others are read with it."""
    if titres.reading_slope is None:
        return sqrt(2)
    return np.asarray(titres.reading_slope / np.abs(titres.slope), dtype=np.float64)


def scatter(titres: Titres) -> tuple[Component, ...]:
    """Return the lines of what differs from run to run, for a mean of several runs."""
    root = np.sqrt(np.asarray(titres.runs, dtype=np.float64))
    seen, half = _usable(titres), (titres.burette.division or 0.0) / 2
    if seen is not None:
        # Two readings, each rounded to the nearest step (GUM F.2.2.1): titres alike to the digit may differ so far.
        hidden = _of_readings(titres) * standard_uncertainty(half / 2, "rectangular")
        advice = "do another accurate run, and slow down to drops near the end"
        pooled = np.maximum(seen.sd, hidden) / root
        return (titres.line("repeatability (pooled over the class)", pooled, "normal", advice, seen.dof),)
    advice = "read at eye level, to the nearest half division, with a white card behind the meniscus"
    return (
        titres.line("two readings", _of_readings(titres) * half / root, "rectangular", advice),
        titres.line("last drop", titres.drop / 2 / root, "rectangular", "split the last drops"),
    )
