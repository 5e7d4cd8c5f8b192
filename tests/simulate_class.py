"""A simple simulated class, to measure how often the class tests cry wolf and how often they see the wolf.

What is drawn, in cm³ of titre: for each student the error of burette and pipette (triangular, class B), a habit at the
endpoint (triangular, a drop either way) and the student's own inaccuracy (normal); for each run a scatter (normal);
each reading is rounded to 0.05. A few students are grossly off: another pipette, a whole-cm³ slip, far past the
endpoint, a watery burette.
The figures are invented; that a student is out by about a per cent is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labmark.analyse.arrays import FloatArray, IntArray

TITRE = 24.40
"""Titre of a faultless run [cm³]."""
REFERENCE = 0.1012
"""What it stands for [mol/dm³]."""


@dataclass(frozen=True)
class Recipe:
    """How a class is drawn."""

    students: int = 24
    benches: int = 4
    runs: int = 3
    technique: float = 0.15
    """sd of a student's own inaccuracy, beside glass and habit [cm³]."""
    scatter: float = 0.05
    """sd of a run [cm³]."""
    gross: float = 0.08
    """Share of students who are grossly off."""
    overshoot: float = 0.0
    """Habit that all share [cm³]."""
    solution: float = 1.0
    """True strength of the class's solution over the reference."""
    bench: float = 1.0
    """True strength of the first bench's solution over the others'."""


@dataclass(frozen=True)
class SimulatedClass:
    """Runs and students of a class; `titres` has shape students × runs [cm³]."""

    titres: FloatArray
    used: np.ndarray
    """Runs of the concordant set (students × runs)."""
    mean: FloatArray
    result: FloatArray
    bench: IntArray
    truth: float
    """Strength of the class's solution [mol/dm³]."""

    @property
    def run_results(self) -> tuple[FloatArray, IntArray]:
        """Results of the used runs, and the student of each."""
        student = np.broadcast_to(np.arange(self.mean.size)[:, None], self.titres.shape)
        return self.titres[self.used] * REFERENCE / TITRE, student[self.used]

    @property
    def run_titres(self) -> tuple[FloatArray, IntArray]:
        """Used titres [cm³], and the student of each."""
        result, student = self.run_results
        return result * TITRE / REFERENCE, student


def simulate(rng: np.random.Generator, recipe: Recipe) -> SimulatedClass:
    """Return a class drawn by a recipe."""
    n = recipe.students
    bench = np.arange(n) * recipe.benches // n
    strength = np.where(bench == 0, recipe.bench, 1.0) * recipe.solution
    pipette = 1 + rng.triangular(-0.06, 0, 0.06, n) / 25
    glass, habit = rng.triangular(-0.10, 0, 0.10, n), rng.triangular(-0.05, 0, 0.05, n)
    student = glass + habit + rng.normal(0, recipe.technique, n)
    centre = TITRE * strength * pipette + student + recipe.overshoot
    centre = np.where(rng.random(n) < recipe.gross, _grossly_off(rng, centre), centre)
    titres = _recorded(rng, centre[:, None] + rng.normal(0, recipe.scatter, (n, recipe.runs)))
    used = concordant(titres)
    mean = np.sum(np.where(used, titres, 0), axis=1) / used.sum(axis=1)
    return SimulatedClass(titres, used, mean, mean * REFERENCE / TITRE, bench, REFERENCE * recipe.solution)


def concordant(titres: FloatArray, within: float = 0.10) -> np.ndarray:
    """Return the runs of each student's largest agreeing set, the smaller span on ties; else the two closest."""
    order = np.argsort(titres, axis=1)
    ordered = np.take_along_axis(titres, order, axis=1)
    students, runs = titres.shape
    best = np.full(students, -np.inf)
    chosen = np.zeros(titres.shape, dtype=bool)
    for first in range(runs):
        for last in range(first + 1, runs):
            span = ordered[:, last] - ordered[:, first]
            agree = span <= within + 1e-9
            # Any agreeing set beats none; more runs beat fewer; then the smaller span.
            score = np.where(agree, 100.0 * (last - first), np.where(last == first + 1, -100.0, -np.inf)) - span
            better = score > best
            best = np.where(better, score, best)
            inside = np.zeros(titres.shape, dtype=bool)
            inside[:, first : last + 1] = True
            chosen = np.where(better[:, None], inside, chosen)
    out = np.zeros(titres.shape, dtype=bool)
    np.put_along_axis(out, order, chosen, axis=1)
    return out


def _grossly_off(rng: np.random.Generator, centre: FloatArray) -> FloatArray:
    """Return where each student would end up with a gross fault of a random kind."""
    kinds = np.stack(
        [
            centre * 20 / 25,
            centre + rng.choice([-1.0, 1.0], centre.size),
            centre + rng.uniform(0.4, 2.0, centre.size),
            centre * (1 + rng.uniform(0.02, 0.08, centre.size)),
        ]
    )
    return kinds[rng.integers(0, len(kinds), centre.size), np.arange(centre.size)]


def _recorded(rng: np.random.Generator, delivered: FloatArray) -> FloatArray:
    """Return final − initial as written, both readings rounded to 0.05."""
    initial = rng.uniform(0, 2, delivered.shape)
    written = np.round(initial / 0.05), np.round((initial + delivered) / 0.05)
    return (written[1] - written[0]) * 0.05
