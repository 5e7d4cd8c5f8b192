"""Students at the bench: lasting error, scatter, drops, readings to 0.05 cm³, and mishaps where they happen.

A lasting error of about 0.5 % comes from pipette and eye, a run adds about 0.04 cm³, more with a shaky hand.
Readings and titres are whole numbers of 0.01 cm³ (2435 is 24.35 cm³); levels and volumes are cm³.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from math import ceil
from random import Random

from tests.samples.plan import ClassPlan, Plant

SEED = 20
MOST_RUNS = 5
HUNDREDTHS = "to a guessed 0.01"
CAPACITY = 5000
Cell = Decimal | str | None


@dataclass
class Run:
    """One run as it happened and as it was written down."""

    label: str
    initial: int | None
    final: int | None
    written: dict[str, Cell] = field(default_factory=dict)
    """What stands in the cell instead of the reading."""
    usable: bool = True
    claimed: int | None = None
    ticked: bool = False

    @property
    def titre(self) -> int | None:
        """Return the titre that the cells give, or None where they give none."""
        return self.own_titre if self.usable else None

    @property
    def own_titre(self) -> int | None:
        """Return the titre in the student's notebook: a slip of the keyboard came later."""
        if None in (self.initial, self.final) or None in self.written.values():
            return None
        return abs((self.final or 0) - (self.initial or 0))


@dataclass
class Student:
    """One row of the class sheet."""

    name: str
    bench: str
    bottle: str
    plants: tuple[Plant, ...] = ()
    runs: list[Run] = field(default_factory=list)
    mean: Decimal | None = None
    result: Cell = None
    remark: str | None = None
    absent: bool = False

    @property
    def accurate(self) -> list[Run]:
        """Return the accurate runs that give a titre."""
        return [run for run in self.runs if run.label != "Rough" and run.titre is not None]

    def planted(self, finding: str, run: str | None = None) -> Plant | None:
        """Return what was planted here under that name, for that run or all of them."""
        fitting = (plant for plant in self.plants if plant.finding == finding and plant.run in (run, None))
        return next(fitting, None)


def best_set(titres: Mapping[str, int], within: int = 10) -> tuple[str, ...]:
    """Return the labels of the concordant set: the largest, then the narrowest, then the one that starts later."""
    order = list(titres)
    for size in range(len(order), 1, -1):
        spans = {
            labels: max(titres[each] for each in labels) - min(titres[each] for each in labels)
            for labels in combinations(order, size)
        }
        fitting = [labels for labels, span in spans.items() if span <= within]
        if fitting:
            return min(fitting, key=lambda labels: (spans[labels], [-order.index(each) for each in labels]))
    return ()


def closest_pair(titres: Mapping[str, int]) -> tuple[str, ...]:
    """Return the labels of the two runs that agree best, or of the only one."""
    if len(titres) < 2:
        return tuple(titres)
    return min(combinations(titres, 2), key=lambda pair: abs(titres[pair[0]] - titres[pair[1]]))


VOLUME_PLANTS: Mapping[str, Callable[[float, float], float]] = {
    "overshoot": lambda volume, size: volume + size,
    "undershoot": lambda volume, size: volume - size,
    "always-overshoots": lambda volume, size: volume + size,
    "diluted-titrant": lambda volume, size: volume * size,
    "wrong-aliquot": lambda volume, size: volume * size,
}
SCATTER = {"Rough": 0.0, "1": 0.05, "2": -0.35, "3": 0.40}
"""Where a student whose runs never agree stops each time [cm³]."""


class Bench:
    """A student at work: a lasting error, a way of filling the burette, and ordinary scatter."""

    def __init__(self, rng: Random, end_point: float, student: Student) -> None:
        self.rng, self.student = rng, student
        self.volume = end_point * (1 + rng.gauss(0, 0.004)) + rng.gauss(0.01, 0.02)
        self.shake = rng.choices((0.02, 0.035, 0.09), (4, 4, 2))[0]
        self.drop = rng.uniform(0.035, 0.05)
        self.filling = rng.choice(("zero", "chained", "chained", "odd"))
        self.level: float | None = None
        self.shown = 0

    def run(self, label: str) -> Run:
        """Return one run, as it was written down."""
        volume = self.delivered(label)
        start, initial = self.fill(volume)
        self.level = start + volume
        self.shown = self.read(self.level)
        run = Run(label, initial, self.shown)
        for plant in self.student.plants:
            if plant.run in (label, None) and plant.finding in READING_PLANTS:
                READING_PLANTS[plant.finding](run, plant)
        return run

    def fill(self, volume: float) -> tuple[float, int]:
        """Return the level [cm³] that a run of so much starts from, and its reading: left standing, or filled again."""
        if self.filling == "chained" and self.level is not None and self.level + volume < 49.8:
            return self.level, self.shown
        if self.filling == "zero" or self.rng.random() < 0.3:
            return 0.0, 0
        level = self.rng.randrange(500, 3200) / 1000
        return level, self.read(level)

    def delivered(self, label: str) -> float:
        """Return the volume [cm³] that is run in, to the last drop."""
        volume = self.volume + self.rng.gauss(0, self.shake)
        if label == "Rough":
            volume += self.rng.uniform(0.15, 0.9)
        if self.student.planted("no-concordant-runs"):
            volume += SCATTER[label]
        for plant in self.student.plants:
            if plant.finding in VOLUME_PLANTS and plant.run in (label, None):
                volume = VOLUME_PLANTS[plant.finding](volume, plant.size)
        return ceil(volume / self.drop) * self.drop

    def read(self, level: float) -> int:
        """Return a level [cm³] as it is read, to the nearest 0.05 cm³."""
        return max(0, round((level + self.rng.gauss(0, 0.012)) * 20) * 5)


def _misread(run: Run, plant: Plant) -> None:
    change = round(plant.size * 100)
    if plant.detail == "initial":
        run.initial = (run.initial or 0) + change
    else:
        run.final = (run.final or 0) + change


def _upside_down(run: Run, plant: Plant) -> None:
    def mirrored(reading: int) -> int:
        whole, part = divmod(reading, 100)
        return 100 * whole + (100 - part if part else 0)

    run.initial, run.final = mirrored(run.initial or 0), mirrored(run.final or 0)


def _reversed(run: Run, plant: Plant) -> None:
    run.initial, run.final = run.final, run.initial


def _counts_down(run: Run, plant: Plant) -> None:
    run.initial, run.final = CAPACITY - (run.initial or 0), CAPACITY - (run.final or 0)


def _missing(run: Run, plant: Plant) -> None:
    run.written, run.usable = {plant.detail or "final": None}, False


def _letter(run: Run, plant: Plant) -> None:
    text = f"{(run.final or 0) / 100:.2f}"
    head, nought, tail = text.rpartition("0")
    run.written, run.usable = {"final": f"{head}O{tail}" if nought else text.replace(".", "..")}, False


def _off_scale(run: Run, plant: Plant) -> None:
    run.written, run.usable = {"final": Decimal((run.final or 0) + 10000).scaleb(-2)}, False


def _coarse(run: Run, plant: Plant) -> None:
    if plant.detail == HUNDREDTHS:
        run.final = (run.final or 0) + 2
        return
    run.initial, run.final = (round((reading or 0) / 10) * 10 for reading in (run.initial, run.final))
    run.written = {"initial": f"{run.initial / 100:.1f}", "final": f"{run.final / 100:.1f}"}


READING_PLANTS: Mapping[str, Callable[[Run, Plant], None]] = {
    "misread-division": _misread,
    "implausible-titre": _misread,
    "read-upside-down": _upside_down,
    "reversed-readings": _reversed,
    "counts-down": _counts_down,
    "missing-reading": _missing,
    "not-a-number": _letter,
    "off-scale": _off_scale,
    "coarse-reading": _coarse,
}


def work(plan: ClassPlan, student: Student, rng: Random) -> None:
    """Let a student titrate: a rough, then runs until enough of them agree, or the lesson ends."""
    end_point = plan.chemistry.titre(Fraction(plan.truth[student.bottle]))
    if student.bench == plan.off_bench[0]:
        end_point *= plan.off_bench[1]
    bench = Bench(rng, end_point, student)
    student.runs.append(bench.run("Rough"))
    wanted = max(rng.choices((2, 3, 4), (4, 5, 1))[0], plan.at_least)
    wanted = max([wanted] + [int(plant.run) for plant in student.plants if plant.run and plant.run.isdecimal()])
    most = {"too-few-runs": plan.at_least - 1, "no-concordant-runs": 3, "read-upside-down": 3}
    limit = min([most.get(plant.finding, MOST_RUNS) for plant in student.plants], default=MOST_RUNS)
    for number in range(1, limit + 1):
        student.runs.append(bench.run(str(number)))
        agreeing = best_set({run.label: run.titre or 0 for run in student.accurate})
        if number >= wanted and len(agreeing) >= plan.at_least:
            return
