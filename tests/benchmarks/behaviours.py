"""Classes of students who do things in their own way, with what may truly be said of each beside them.

Nothing of labmark is used here, and none of its rules: a level sinks in a burette, a student looks at it and writes
a number, and one student in four behaves oddly. What is written goes into a class sheet (CSV) beside a practical. All
of it is invented; how often and how far is common practice, no source.

    bench = Bench(kind="own masses")
    people = simulate(bench, seed=1)
    write(folder, bench, people)          class.csv and practical.toml
    people[3].behaviour, people[3].true   "leaking tap", {(None, "always-overshoots"), ...}

With two endpoints who stops late at the first takes as much from the second titre, and a reading between them belongs
to both. A blank is titrated by each student, masses may be those of students or of runs.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

EVERY = "*"
"""Stands for every run where something is true of whichever it is."""
FIRST, SECOND = "phenolphthalein", "methyl orange"
"""The endpoints where there are two."""
Truth = set[tuple[Any, ...]]
"""(run, finding), and the endpoint where it holds of one only; the run by its place, the rough 0, None for the
student."""


@dataclass(frozen=True)
class Bench:
    """What is simulated."""

    kind: str = "plain"
    students: int = 24
    titres: tuple[float, float] = (16.0, 28.0)
    """Where a class's titre is drawn from [cm³]."""
    runs: tuple[int, int] = (3, 4)
    between: float = 0.004
    """Relative standard deviation between students: pipettes and endpoints."""
    within: float = 0.04
    """Standard deviation of where a run stops [cm³]; a student's own is up to a third more or less."""
    odd: float = 0.25
    """Share of students who behave oddly."""
    usual: float = 0.0
    """Share of students to whom something usual happens: what the table of hypotheses was made for."""
    starts: tuple[float, float, float] = (0.4, 0.35, 0.25)
    """Shares of those who fill to the zero, near it, and who go on from where the last run ended."""
    means: bool = True
    """Whether students write a mean, the odd ones and those who cut it off among them."""


@dataclass
class Person:
    """A student: what runs out of the burette, and then what is written of it."""

    bench: Bench
    rng: np.random.Generator
    level: float
    """Titre of good work [cm³]."""
    mass: float = 1.0
    """Of the sample, over the usual one."""
    behaviour: str = "ordinary"
    true: Truth = field(default_factory=set)
    initial: list[int] = field(default_factory=list)
    final: list[int] = field(default_factory=list)
    """[µL]"""
    second: list[int] = field(default_factory=list)
    """Reading at the second endpoint [µL], where there is one."""
    mean: str = ""
    second_mean: str = ""
    takes: str = "agreeing"
    """Runs that the mean is of."""

    def __post_init__(self) -> None:
        rng, bench = self.rng, self.bench
        self.runs = 1 + int(rng.integers(bench.runs[0], bench.runs[1] + 1))
        hand = bench.within * rng.uniform(0.75, 1.33)
        self.masses = rng.uniform(0.92, 1.09, self.runs) if bench.kind == "masses by run" else np.ones(self.runs)
        self.volumes = self.level * self.masses + rng.normal(0, hand, self.runs)
        self.style = int(rng.choice(3, p=bench.starts))
        self.second_volumes = 0.35 * self.level + rng.normal(0, hand, self.runs)
        self.late(0, rng.gamma(2.0, 0.35))
        self.blank = (0, self.read(BLANK + rng.normal(0, hand)))

    def accurate(self) -> int:
        """Return some accurate run."""
        return int(self.rng.integers(1, self.runs))

    def late(self, run: int, by: float) -> None:
        """Stop so much [cm³] after the endpoint, the first where there are two."""
        self.volumes[run] += by
        self.second_volumes[run] -= by

    def scale(self, by: Any, runs: Any = slice(None)) -> None:
        """Let some runs take so much of the titrant: another solution, or more of the sample."""
        self.volumes[runs] = self.volumes[runs] * by
        self.second_volumes[runs] = self.second_volumes[runs] * by

    def read(self, level: float) -> int:
        """Return what is written of a level [cm³]: the nearest 0.05 [µL]."""
        return max(0, 50 * round((level + self.rng.normal(0, 0.012)) / 0.05))

    def write(self) -> None:
        """Do the runs one after the other and write the readings down."""
        level, two = 0.0, self.bench.kind == "two endpoints"
        for run, volume in enumerate(self.volumes):
            needed = volume + (self.second_volumes[run] if two else 0.0)
            if self.style < 2 or run == 0 or level + needed > 48:
                level = max(0.0, self.rng.normal(0, 0.01)) if self.style == 0 else self.rng.uniform(0, 2.5)
                self.initial.append(self.read(level))
            else:
                self.initial.append((self.second if two else self.final)[-1])
            self.final.append(self.read(level + volume))
            level += needed
            self.second.append(self.read(level))

    def readings(self) -> tuple[list[int], ...]:
        """Return what was written at each point of the runs, a list each."""
        return (self.initial, self.final, *([self.second] if self.bench.kind == "two endpoints" else []))

    def titres(self, place: int = 0) -> list[int]:
        """Return the titres [µL] of all runs up to an endpoint, the rough first."""
        return [b - a for a, b in zip(self.readings()[place], self.readings()[place + 1], strict=True)]


Behaviour = Callable[[Person], Truth]
"""Does the runs and writes them; returns what may be said of the student."""


def ordinary(person: Person) -> Truth:
    """Do as one was taught."""
    person.write()
    return set()


# --- odd behaviour ----------------------------------------------------------------------------------------------------


def wrong_refill(person: Person) -> Truth:
    """Fill up from another bottle before one of the later runs, and go on with it."""
    first, weaker = int(person.rng.integers(2, person.runs)), person.rng.choice([-1, 1])
    person.scale(person.rng.uniform(1.03, 1.2) ** weaker, slice(first, None))
    person.write()
    true: Truth = {(None, "level-change"), (EVERY, "implausible-titre")}
    return true | {(None, "diluted-titrant")} if weaker > 0 else true


def swapped_digits(person: Person) -> Truth:
    """Write two neighbouring digits of a final reading in the other order, such that it still looks like a reading."""
    person.write()
    readings = person.readings()
    which = int(person.rng.integers(1, len(readings)))
    for _ in range(60):
        run, at = person.accurate(), int(person.rng.integers(0, 3))
        digits = list(f"{readings[which][run] // 10:04d}")
        digits[at], digits[at + 1] = digits[at + 1], digits[at]
        other = 10 * int("".join(digits))
        top = readings[which + 1][run] if which + 1 < len(readings) else 50_000
        if readings[which - 1][run] < other <= top and other != readings[which][run]:
            readings[which][run] = other
            return {(run, "digits-swapped")}
    return set()


def leaking_tap(person: Person) -> Truth:
    """Lose titrant past the tap for as long as a run lasts."""
    minutes = person.rng.uniform(1.5, 3.5, person.runs)
    minutes[0] *= 0.5
    lost = person.rng.uniform(0.05, 0.3) * minutes
    person.volumes = person.volumes + lost
    person.second_volumes = person.second_volumes + 0.35 * lost
    person.write()
    return {(None, "always-overshoots"), (EVERY, "overshoot")}


def flask_rinsed(person: Person) -> Truth:
    """Rinse the flasks with the solution: some of it stays in each."""
    one = person.rng.random() < 0.3
    left = person.rng.uniform(0.2, 1.2, person.runs) * person.rng.uniform(0.5, 1.0)
    if one:
        left[np.arange(person.runs) != person.accurate()] = 0.0
    person.scale(1 + left / 25.0)
    person.write()
    return {(None, "always-overshoots")} if not one else {(EVERY, "implausible-titre")}


def forgotten_indicator(person: Person) -> Truth:
    """Put the indicator in when the run takes too long: the first where there are two, or only then the second."""
    run, late = person.accurate(), 0.3 + person.rng.exponential(1.6)
    if person.bench.kind == "two endpoints" and person.rng.random() < 0.5:
        person.second_volumes[run] += late
        person.write()
        return {(run, "overshoot", SECOND), (run, "implausible-titre")}
    late = min(late, 34.0 - person.volumes[run])
    if person.bench.kind == "two endpoints":
        late = min(late, 0.8 * person.second_volumes[run])
    person.late(run, late)
    person.write()
    return {(run, "overshoot", FIRST), (run, "implausible-titre")}


def copied_mean(person: Person) -> Truth:
    """Write down the mean of somebody else."""
    person.write()
    other = person.level * (1 + person.rng.normal(0, 0.006))
    person.mean = f"{other:.2f}"
    return {(None, "mean-slip"), (None, "rounding")}


def funnel(person: Person) -> Truth:
    """Leave the funnel in: drops fall into the burette during a run, or during all of them."""
    drops = 0.05 * person.rng.integers(2, 9, person.runs)
    if person.rng.random() < 0.6:
        run = person.accurate()
        drops[np.arange(person.runs) != run] = 0.0
        person.volumes = person.volumes - drops
        person.write()
        return {(run, "undershoot")}
    person.volumes = person.volumes - drops
    person.write()
    return {(None, "always-short"), (EVERY, "undershoot")}


def one_decimal_hidden(person: Person) -> Truth:
    """Read to the tenth, cut off or rounded, and write a 0 behind it."""
    person.write()
    cut = 0 if person.rng.random() < 0.5 else 50
    for readings in (person.initial, person.final, person.second):
        readings[:] = [(reading + cut) // 100 * 100 for reading in readings]
    return {(None, "coarse-reading"), (EVERY, "coarse-reading")}


def initial_taken_as_zero(person: Person) -> Truth:
    """Write 0.00 where the level stood a little below it, once or always."""
    person.style = 1
    person.write()
    if person.rng.random() < 0.5:
        run = person.accurate()
        person.initial[run] = 0
        return {(run, "overshoot"), (run, "implausible-titre")}
    person.initial[:] = [0] * person.runs
    return {(EVERY, "overshoot"), (None, "always-overshoots"), (EVERY, "implausible-titre")}


def fudged_last_run(person: Person) -> Truth:
    """Write the last run such that it agrees with one of those before, whatever it was."""
    person.write()
    like = int(person.rng.integers(1, person.runs - 1))
    for before, after in pairwise(person.readings()):
        out = after[like] - before[like] + 50 * int(person.rng.integers(-1, 2))
        after[-1] = before[-1] + out
    # A titre that was another sample's does not go with the mass of this one.
    return {(person.runs - 1, "implausible-titre")} if person.bench.kind == "masses by run" else set()


# --- what is usual ----------------------------------------------------------------------------------------------------


def one_run_late(person: Person) -> Truth:
    """Stop past the endpoint once."""
    run = person.accurate()
    person.late(run, 0.15 + min(person.rng.exponential(0.35), 3.0))
    person.write()
    return {(run, "overshoot", FIRST)}


def one_run_short(person: Person) -> Truth:
    """Stop before the endpoint once."""
    run = person.accurate()
    person.late(run, -0.15 - min(person.rng.exponential(0.2), 1.2))
    person.write()
    return {(run, "undershoot", FIRST)}


def always_late(person: Person) -> Truth:
    """Take a deeper colour for the endpoint every time."""
    late = 0.2 + person.rng.gamma(2.0, 0.17)
    for run in range(person.runs):
        person.late(run, late * person.rng.uniform(0.9, 1.1))
    person.write()
    return {(None, "always-overshoots", FIRST)}


def wet_burette(person: Person) -> Truth:
    """Leave water in the burette; every refill washes some of it out, or a rinsed bottle stays as weak as it is."""
    share = person.rng.uniform(0.03, 0.14)
    left = person.rng.uniform(0.3, 0.7) if person.rng.random() < 0.4 else 1.0
    person.scale(1 + share * left ** np.arange(person.runs))
    person.write()
    return {(None, "diluted-titrant")}


def other_pipette(person: Person) -> Truth:
    """Take the pipette of 20 or of 10 cm³ instead of that of 25."""
    person.scale(person.rng.choice([0.8, 0.4], p=[0.7, 0.3]))
    person.write()
    return {(None, "wrong-aliquot")}


def whole_number_misread(person: Person) -> Truth:
    """Read the number below the meniscus, or one of the tens."""
    person.write()
    readings = person.readings()
    which, run = int(person.rng.integers(0, len(readings))), person.accurate()
    out = int(person.rng.choice([1000, -1000, 10_000, -10_000], p=[0.37, 0.37, 0.13, 0.13]))
    reading = readings[which][run] + out
    low = readings[which - 1][run] if which else -1
    high = readings[which + 1][run] if which + 1 < len(readings) else 50_000
    if not low < reading < high:
        return set()
    readings[which][run] = reading
    return {(run, "misread-division")}


def scale_upside_down(person: Person) -> Truth:
    """Count the tenths upwards: of one reading, or of all final ones and those initial ones that are read."""
    person.write()
    always = person.rng.random() < 0.5
    at = range(person.runs) if always else [person.accurate()]
    for readings in person.readings()[0 if always else 1 :]:
        for run in at:
            part = readings[run] % 1000
            readings[run] += 1000 - 2 * part if part else 0
    return {(EVERY, "read-upside-down")} if always else {(at[0], "read-upside-down")}


def mean_of_all(person: Person) -> Truth:
    """Take the mean of everything in the column, the rough as well."""
    person.takes = "everything"
    person.write()
    return {(None, "rough-in-mean"), (None, "discordant-in-mean")}


def mean_of_all_accurate(person: Person) -> Truth:
    """Take the mean of all runs but the rough, whether they agree or not."""
    person.takes = "accurate"
    person.late(person.accurate(), person.rng.uniform(0.15, 0.6))
    person.write()
    return {(None, "discordant-in-mean"), (EVERY, "overshoot")}


WITHOUT = {"masses by run": ("copied mean", "flask rinsed", "other pipette", "mean of all", "mean of all accurate")}
"""What there is not where each run has a sample of its own: a pipette, and a mean titre."""
CAUSES = {
    "leaking tap": "leaking tap",
    "flask rinsed": "flask rinsed",
    "funnel": "funnel",
    "initial taken as zero": "taken as zero",
    "wrong refill": "another bottle",
}
"""What happened in words: a claim that names it among what titres cannot tell from it is true."""


def by_name(*behaviours: Behaviour) -> dict[str, Behaviour]:
    """Return behaviours by what they are called."""
    return {each.__name__.replace("_", " "): each for each in behaviours}


ODD = by_name(
    wrong_refill, swapped_digits, leaking_tap, flask_rinsed, forgotten_indicator, copied_mean, funnel,
    one_decimal_hidden, initial_taken_as_zero, fudged_last_run,
)  # fmt: skip
USUAL = by_name(
    one_run_late, one_run_short, always_late, wet_burette, other_pipette, whole_number_misread, scale_upside_down,
    mean_of_all, mean_of_all_accurate,
)  # fmt: skip


def own_mean(person: Person, place: int = 0) -> str:
    """Return the mean of what the student takes, rounded, or cut off by one student in four.

    That is then true of the student.
    """
    rough, *accurate = person.titres(place)
    titres = sorted(accurate)
    sets = [titres[i:j] for i in range(len(titres)) for j in range(i + 2, len(titres) + 1)]
    agreeing = [each for each in sets if each[-1] - each[0] <= 100] or [titres[:2]]
    best = min(agreeing, key=lambda each: (-len(each), each[-1] - each[0]))
    taken = {"everything": [rough, *accurate], "accurate": accurate}.get(person.takes, best)
    hundredths = sum(taken) / len(taken) / 10
    cut, whole = int(hundredths + 1e-9), int(hundredths + 0.5 + 1e-9)
    if person.rng.random() < 0.25 and cut != whole:
        person.true, whole = person.true | {(None, "rounding")}, cut
    return f"{whole // 100}.{whole % 100:02d}"


def simulate(bench: Bench, seed: int) -> tuple[float, list[Person]]:
    """Return the titre to be expected of the usual sample [cm³] and the students of a class."""
    rng = np.random.default_rng([seed, 77, *bench.kind.encode()])
    titre = round(float(rng.uniform(*bench.titres)), 2)
    people = []
    for _ in range(bench.students):
        mass = rng.uniform(0.9, 1.12) if bench.kind == "own masses" else 1.0
        drawn, name = rng.random(), "ordinary"
        if drawn < bench.odd + bench.usual:
            names = ODD if drawn < bench.odd else USUAL
            name = str(rng.choice([each for each in names if each not in WITHOUT.get(bench.kind, ())]))
        volume = titre * mass * (1 + rng.normal(0, bench.between)) + (BLANK if bench.kind == "blank" else 0.0)
        person = Person(bench, rng, volume, mass, name)
        person.true = (ODD | USUAL).get(name, ordinary)(person)
        if bench.means and bench.kind != "masses by run":
            person.mean = person.mean or own_mean(person)
            if bench.kind == "two endpoints":
                person.second_mean = own_mean(person, 1)
        people.append(person)
    return titre, people


# --- class sheets and practicals --------------------------------------------------------------------------------------

BLANK = 0.30
"""What a flask without any sample takes [cm³]."""
BY_MASS = {"own masses": 1.500, "masses by run": 0.1500}
"""Usual mass [g] where masses are those of students, or of runs."""
BURETTE = '[burette]\nsolution = "{}"\nconcentration = 0.1000\ncapacity = 50.0\ndivision = 0.1\n'


def practical(bench: Bench, titre: float) -> str:
    """Return the practical file of a class whose usual sample takes `titre` cm³."""
    c = titre * 0.1000 / 25.0
    head = f'title = "Behaviour at the bench, {bench.kind}"\n'
    end = f"[reference]\nvalue = {c:.6f}\nstandard_uncertainty = {0.001 * c:.6f}\n"
    result = '[result]\nof = "NaOH"\nquantity = "amount concentration"\nsignificant_figures = 3\n'
    flask = '[flask]\nsolution = "NaOH"\naliquot = 25.0\n'
    if bench.kind in BY_MASS:
        # Soda, Na2CO3, in 250.0 cm³ or straight in the flask: mass percentage of what was weighed.
        dissolved = "made_up_to = 250.0\n" if bench.kind == "own masses" else ""
        aliquot = "aliquot = 25.0\n" if dissolved else ""
        percent = titre * 0.1000 / 1000 / 2 * (10 if dissolved else 1) * 105.99 / BY_MASS[bench.kind] * 100
        head += 'equation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"\n'
        return (
            head + BURETTE.format("HCl") + f'[flask]\nsolution = "Na2CO3"\n{aliquot}'
            f'[sample]\nmass = {{ column = "Mass" }}\n{dissolved}'
            '[result]\nof = "Na2CO3"\nquantity = "percent by mass"\nsignificant_figures = 3\n'
            f"[reference]\nvalue = {percent:.5f}\nstandard_uncertainty = {0.001 * percent:.5f}\n"
        )
    if bench.kind == "two endpoints":
        carbonate, alkali = 0.35 * titre, 0.65 * titre
        reference = "reference = { value = %.6f, standard_uncertainty = %.6f }\n"
        return (
            head + BURETTE.format("HCl") + '[flask]\nsolution = "soda lye"\naliquot = 25.0\n'
            '[[endpoints]]\nname = "phenolphthalein"\n'
            'equations = [ "OH^- + H^+ -> H2O", "CO3^2- + H^+ -> HCO3^-" ]\n'
            '[[endpoints]]\nname = "methyl orange"\nequations = [ "HCO3^- + H^+ -> H2O + CO2" ]\n'
            '[[results]]\nname = "NaOH"\nof = "OH^-"\nquantity = "amount concentration"\n'
            + reference % (alkali * 0.1 / 25, 0.001 * alkali * 0.1 / 25)
            + '[[results]]\nname = "Na2CO3"\nof = "CO3^2-"\nquantity = "amount concentration"\n'
            + reference % (carbonate * 0.1 / 25, 0.001 * carbonate * 0.1 / 25)
        )
    if bench.kind == "chain":
        head += 'equation = [ "ClO^- + 2 I^- + 2 H^+ -> I2 + Cl^- + H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]\n'
        half = end.replace(f"{c:.6f}", f"{c / 2:.6f}").replace(f"{0.001 * c:.6f}", f"{0.0005 * c:.6f}")
        return (
            head + BURETTE.format("S2O3^2-") + flask.replace("NaOH", "ClO^-") + result.replace("NaOH", "ClO^-") + half
        )
    blank = "[blank]\ntitre = { runs = true }\n" if bench.kind == "blank" else ""
    return head + 'equation = "NaOH + HCl -> NaCl + H2O"\n' + BURETTE.format("HCl") + blank + flask + result + end


def columns(bench: Bench, most: int) -> list[str]:
    """Return the headings of a class sheet with so many runs."""
    labels = ["Rough", *(f"Run {n}" for n in range(1, most))]
    ends = ("initial", FIRST, SECOND) if bench.kind == "two endpoints" else ("initial", "final")
    own = ("mass",) if bench.kind == "masses by run" else ()
    before = {"own masses": ["Mass"], "blank": ["Blank initial", "Blank final"]}.get(bench.kind, [])
    means = [f"Mean titre {each}" for each in (FIRST, SECOND)] if bench.kind == "two endpoints" else ["Mean titre"]
    return ["Student", *before, *(f"{a} {b}" for a in labels for b in (*own, *ends)), *means]


def row(bench: Bench, person: Person, most: int) -> list[str]:
    """Return the cells of a student behind the name."""
    own = {
        "own masses": [f"{BY_MASS['own masses'] * person.mass:.3f}"],
        "blank": [f"{reading / 1000:.2f}" for reading in person.blank],
    }
    cells = own.get(bench.kind, [])
    for run in range(most):
        there = run < person.runs
        if bench.kind == "masses by run":
            cells.append(f"{BY_MASS[bench.kind] * person.masses[run]:.4f}" if there else "")
        cells += [f"{each[run] / 1000:.2f}" if there else "" for each in person.readings()]
    return [*cells, person.mean, *([person.second_mean] if bench.kind == "two endpoints" else [])]


def write(folder: Path, bench: Bench, titre: float, people: Sequence[Person]) -> tuple[Path, Path]:
    """Write the class sheet and the practical; return where they are."""
    most = max(person.runs for person in people)
    sheet, plan = folder / "class.csv", folder / "practical.toml"
    with sheet.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(columns(bench, most))
        writer.writerows([f"Student {n}", *row(bench, person, most)] for n, person in enumerate(people, start=1))
    plan.write_text(practical(bench, titre), encoding="utf-8")
    return sheet, plan
