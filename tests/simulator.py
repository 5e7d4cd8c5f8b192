"""Simulated classes at the bench, with the truth beside them.

A model of burettes, pipettes, endpoints and eyes, not of odds: a level moves down a scale, a student looks at it and
writes a number. Nothing of the diagnosis is used here. All names and figures are invented; sizes and rates are
common practice, no source.

    readings = simulate(SimulatedBench(students=28), seed=1)
    readings.initial, readings.final      (students, runs) [µL], the rough first
    readings.truth                        {(row, run or None, finding): effect [cm³], ...}
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import floor

import numpy as np

RUN_FAULTS = ("overshoot", "undershoot", "misread-division", "read-upside-down", "implausible-titre")
STUDENT_FAULTS = ("always-overshoots", "diluted-titrant", "wrong-aliquot")
FAULTS = RUN_FAULTS + STUDENT_FAULTS


@dataclass(frozen=True)
class SimulatedBench:
    """What is simulated."""

    students: int = 28
    accurate: tuple[int, int] = (3, 4)
    """Fewest and most accurate runs of a student."""
    equivalence: float = 24.35
    """Volume of titrant that an aliquot needs [cm³]."""
    titres: tuple[float, float] = (18.0, 28.0)
    """Where that is drawn from when many classes are simulated [cm³]."""
    aliquot: float = 25.0
    capacity: float = 50.0
    division: float = 0.1
    """Smallest division of the burette [cm³]; it is read to half of it."""
    repeatability: float = 0.035
    """Standard deviation of where a careful run stops [cm³]."""
    eye: float = 0.012
    """Standard deviation of a reading before it is written to the nearest 0.05 [cm³]."""
    pipette: float = 0.002
    endpoint: float = 0.004
    """Relative standard deviations between students: pipette, and what they take for the endpoint."""
    class_habit: float = 0.0
    """What all of them stop past the endpoint [cm³]."""
    reference_error: float = 0.0
    """Relative error of the reference."""
    rates: dict[str, float] = field(default_factory=lambda: dict.fromkeys(FAULTS, 0.05))
    """Share of students with each fault; a student has at most one."""
    overshoot: tuple[float, float] = (0.15, 1.0)
    undershoot: tuple[float, float] = (0.15, 0.8)
    always: tuple[float, float] = (0.2, 1.0)
    """Sizes, spread evenly [cm³]."""
    water: tuple[float, float] = (0.02, 0.15)
    """Share by which a wet burette raises the titre."""
    washed_out: float = 0.4
    """Share of wet burettes whose water is washed out from filling to filling."""
    always_upside_down: float = 0.5
    """Share of those who read upside down that do it all the time."""
    whole_tens: float = 0.3
    """Share of misread whole numbers that are out by ten."""
    shaky: float = 0.0
    """Share of students whose runs scatter more, without any one fault."""
    shake: float = 2.5
    """By what factor."""
    wide_reading: float = 0.0
    """Share of students who read to 0.1 only."""
    starts: tuple[float, float, float] = (0.5, 0.3, 0.2)
    """Shares of those who fill to the zero, who fill to near it, and who go on from where the last run ended."""
    copying: float = 0.5
    """Share of those who do not refill that copy the final reading as the next initial one; the others read again."""


@dataclass(frozen=True)
class Readings:
    """A simulated class."""

    initial: np.ndarray
    final: np.ndarray
    """(n, k) [µL]; 0 where there is no run."""
    present: np.ndarray
    rough: np.ndarray
    expected: np.ndarray
    truth: dict[tuple[int, int | None, str], float]
    """(row, run, finding) -> what it did to the titre [cm³]; run None for a fault of everything."""
    fault: list[str]
    """What was planted, a word a student; "" for none."""


class _Student:
    """One student with a burette, a pipette and a pair of eyes."""

    def __init__(self, bench: SimulatedBench, rng: np.random.Generator, fault: str) -> None:
        self.bench, self.rng, self.fault = bench, rng, fault
        self.runs = 1 + int(rng.integers(bench.accurate[0], bench.accurate[1] + 1))
        self.bad_run = int(rng.integers(1, self.runs))
        self.start_style = rng.choice(["zero", "anywhere", "chain"], p=bench.starts)
        self.level = 0.0
        self.used_up = True
        self.copies = rng.random() < bench.copying
        self.written: int | None = None
        """Final reading written down before, where the burette was not refilled [µL]."""
        self.careless = bench.shake if rng.random() < bench.shaky else 1.0
        self.step = bench.division * (1.0 if rng.random() < bench.wide_reading else 0.5)
        self.pipette_error = 1 + rng.normal(0, bench.pipette)
        self.delivered_by_pipette = self._aliquot() * self.pipette_error
        self.taste = bench.equivalence * rng.normal(0, bench.endpoint)
        self.size = self._size()
        self.wash = rng.uniform(0.35, 0.75) if rng.random() < bench.washed_out else 1.0
        self.upside_down_always = rng.random() < bench.always_upside_down
        self.mirror = str(rng.choice(["final", "both"]))
        self.truth: dict[tuple[int | None, str], list[float]] = {}

    def _aliquot(self) -> float:
        if self.fault != "wrong-aliquot":
            return self.bench.aliquot
        sizes = [s for s in (5.0, 10.0, 20.0, 25.0) if s >= 0.4 * self.bench.aliquot]
        sizes = [s for s in sizes if s != self.bench.aliquot]
        sizes = [s for s in sizes if s / self.bench.aliquot * self.bench.equivalence < self.bench.capacity - 4]
        return float(self.rng.choice(sizes)) if sizes else self.bench.aliquot

    def _size(self) -> float:
        bench = self.bench
        span = {"overshoot": bench.overshoot, "undershoot": bench.undershoot, "always-overshoots": bench.always}
        if self.fault in span:
            return float(self.rng.uniform(*span[self.fault]))
        if self.fault == "diluted-titrant":
            return float(self.rng.uniform(*bench.water))
        return 0.0

    def _fill(self, needed: float) -> None:
        """Refill the burette, or go on from where the last run ended."""
        room = self.bench.capacity - self.level
        if self.start_style == "chain" and not self.used_up and room > needed + 1.0:
            return
        self.written = None
        self.level = 0.0 if self.start_style == "zero" else float(self.rng.uniform(0.0, 2.5))
        if self.start_style == "zero":
            self.level = float(np.clip(self.rng.normal(0, 0.008), -0.02, 0.02))
        self.used_up = False

    def _volume(self, run: int) -> tuple[float, float]:
        """Return what runs out of the burette in a run, and what would have without the fault [cm³]."""
        bench, rng = self.bench, self.rng
        delivered = self.delivered_by_pipette / bench.aliquot
        stop = self.taste + bench.class_habit + rng.normal(0, bench.repeatability * self.careless)
        if run == 0:
            stop += rng.gamma(2.0, 0.35)
        without = bench.equivalence * self.pipette_error + stop
        # The rough takes the first filling of a wet burette; every refill washes some of the water out.
        weaker = 1 + self.size * self.wash**run if self.fault == "diluted-titrant" else 1.0
        return self._with_fault(run, bench.equivalence * delivered * weaker + stop), without

    def _with_fault(self, run: int, stop: float) -> float:
        rng = self.rng
        if self.fault == "always-overshoots":
            stop += self.size * rng.uniform(0.9, 1.1)
        if run == self.bad_run:
            stop += {"overshoot": self.size, "undershoot": -self.size}.get(self.fault, 0.0)
            if self.fault == "implausible-titre":
                stop = self._broken(stop)
        return float(stop)

    def _broken(self, stop: float) -> float:
        """Return the volume of a run in which something outlandish happened."""
        room = self.bench.capacity - self.level - stop - 0.5
        if self.rng.random() < 0.6 or room < 4.0:
            return float(self.rng.uniform(2.0, 0.85 * stop))
        return float(stop + self.rng.uniform(3.0, min(15.0, room)))

    def _read(self, level: float, wrong_way: bool) -> int:
        """Return the reading [µL] to the nearest step, read against the scale where that is the fault."""
        steps = round((level + self.rng.normal(0, self.bench.eye)) / self.step)
        reading = max(0, round(steps * self.step * 1000))
        part = reading % 1000
        return reading - part + (1000 - part) if wrong_way and part else reading

    def _misread(self, first: int, last: int) -> tuple[int, int]:
        """Return the readings with one whole number wrong, still on the scale."""
        top = round(self.bench.capacity * 1000)
        tens = self.rng.random() < self.bench.whole_tens
        choices = [
            (first + a, last + b)
            for size in ([10_000] if tens else [1000])
            for a, b in ((size, 0), (-size, 0), (0, size), (0, -size))
            if first + a >= 0 and last + b <= top and last + b > first + a
        ]
        return choices[int(self.rng.integers(len(choices)))]

    def run(self, run: int) -> tuple[int, int]:
        """Do a run and return what is written down [µL]."""
        self._fill(self._about())
        volume, without = self._volume(run)
        volume = min(volume, self.bench.capacity - self.level - 0.02)
        bad = run == self.bad_run
        always = self.fault == "read-upside-down" and self.upside_down_always
        wrong = self.fault == "read-upside-down" and (always or bad)
        both = always or self.mirror == "both"
        first = self._read(self.level, wrong and both)
        last = self._read(self.level + volume, wrong)
        self.level += volume
        if self.fault == "misread-division" and bad:
            first, last = self._misread(first, last)
        elif self.copies and self.written is not None:
            first = self.written
        self.written = last
        self._remember(run, bad or always, (last - first) / 1000 - without)
        return first, last

    def _about(self) -> float:
        return self.bench.equivalence * 1.2 * max(1.0, self.delivered_by_pipette / self.bench.aliquot)

    def _remember(self, run: int, touched: bool, effect: float) -> None:
        if self.fault in STUDENT_FAULTS and run > 0:
            self.truth.setdefault((None, self.fault), []).append(effect)
        elif self.fault and touched:
            self.truth[run, self.fault] = [effect]


def simulate(bench: SimulatedBench | None = None, seed: int = 0) -> Readings:
    """Return a class."""
    bench = bench or SimulatedBench()
    rng = np.random.default_rng(seed)
    names = ["", *bench.rates]
    chances = [1 - sum(bench.rates.values()), *bench.rates.values()]
    faults = [str(rng.choice(names, p=chances)) for _ in range(bench.students)]
    people = [_Student(bench, rng, fault) for fault in faults]
    shape = (bench.students, 1 + bench.accurate[1])
    initial, final = np.zeros(shape, np.int64), np.zeros(shape, np.int64)
    present = np.zeros(shape, np.bool_)
    truth: dict[tuple[int, int | None, str], float] = {}
    for row, person in enumerate(people):
        for run in range(person.runs):
            initial[row, run], final[row, run] = person.run(run)
            present[row, run] = True
        truth |= {(row, run, fault): float(np.mean(effects)) for (run, fault), effects in person.truth.items()}
    rough = np.broadcast_to(np.arange(shape[1]) == 0, shape)
    expected = np.full(bench.students, floor(bench.equivalence * 1e6 * (1 + bench.reference_error)) / 1e6)
    return Readings(initial, final, present, rough, expected, truth, faults)
