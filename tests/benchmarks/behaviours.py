"""Classes of students who do things in their own way, with what may truly be said of each beside them.

Nothing of labmark is used here, and none of its rules: a level sinks in a burette, a student looks at it and writes
a number, and one student in four behaves oddly. What is written goes into a class sheet (CSV) beside a practical. All
of it is invented; how often and how far is common practice, no source.

    bench = Bench(kind="own masses")
    people = simulate(bench, seed=1)
    write(folder, bench, people)          class.csv and practical.toml
    people[3].behaviour, people[3].true   "leaking tap", {(None, "always-overshoots"), ...}
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

EVERY = "*"
"""Stands for every run where something is true of whichever it is."""
Truth = set[tuple[int | str | None, str]]
"""(run, finding): the run by its place, the rough 0; None for the student."""


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

    def __post_init__(self) -> None:
        rng, bench = self.rng, self.bench
        self.runs = 1 + int(rng.integers(bench.runs[0], bench.runs[1] + 1))
        hand = bench.within * rng.uniform(0.75, 1.33)
        self.volumes = self.level + rng.normal(0, hand, self.runs)
        self.volumes[0] += rng.gamma(2.0, 0.35)
        self.style = int(rng.choice(3, p=bench.starts))
        self.second_volumes = 0.35 * self.level + rng.normal(0, hand, self.runs)

    def accurate(self) -> int:
        """Return some accurate run."""
        return int(self.rng.integers(1, self.runs))

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


Behaviour = Callable[[Person], Truth]
"""Does the runs and writes them; returns what may be said of the student."""


def ordinary(person: Person) -> Truth:
    """Do as one was taught."""
    person.write()
    return set()


def wrong_refill(person: Person) -> Truth:
    """Fill up from another bottle before one of the later runs, and go on with it."""
    first, weaker = int(person.rng.integers(2, person.runs)), person.rng.choice([-1, 1])
    person.volumes[first:] *= person.rng.uniform(1.03, 1.2) ** weaker
    person.write()
    true = {(None, "level-change"), (EVERY, "implausible-titre")}
    return true | {(None, "diluted-titrant")} if weaker > 0 else true


def swapped_digits(person: Person) -> Truth:
    """Write two neighbouring digits of a final reading in the other order, such that it still looks like a reading."""
    person.write()
    for _ in range(60):
        run, at = person.accurate(), int(person.rng.integers(0, 3))
        digits = list(f"{person.final[run] // 10:04d}")
        digits[at], digits[at + 1] = digits[at + 1], digits[at]
        other = 10 * int("".join(digits))
        if person.initial[run] < other <= 50_000 and other != person.final[run]:
            person.final[run] = other
            return {(run, "digits-swapped")}
    return set()


def leaking_tap(person: Person) -> Truth:
    """Lose titrant past the tap for as long as a run lasts."""
    minutes = person.rng.uniform(1.5, 3.5, person.runs)
    minutes[0] *= 0.5
    person.volumes = person.volumes + person.rng.uniform(0.05, 0.3) * minutes
    person.write()
    return {(None, "always-overshoots"), (EVERY, "overshoot")}


def flask_rinsed(person: Person) -> Truth:
    """Rinse the flasks with the solution: some of it stays in each."""
    one = person.rng.random() < 0.3
    left = person.rng.uniform(0.2, 1.2, person.runs) * person.rng.uniform(0.5, 1.0)
    if one:
        left[np.arange(person.runs) != person.accurate()] = 0.0
    person.volumes = person.volumes * (1 + left / 25.0)
    person.write()
    return {(None, "always-overshoots")} if not one else {(EVERY, "implausible-titre")}


def forgotten_indicator(person: Person) -> Truth:
    """Put the indicator in when the run takes too long."""
    run = person.accurate()
    person.volumes[run] += 0.3 + person.rng.exponential(1.6)
    person.volumes[run] = min(person.volumes[run], 34.0)
    person.write()
    return {(run, "overshoot"), (run, "implausible-titre")}


def copied_mean(person: Person) -> Truth:
    """Write down the mean of somebody else."""
    person.write()
    other = person.bench.titres[0] if person.level <= 0 else person.level * (1 + person.rng.normal(0, 0.006))
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
    out = person.final[like] - person.initial[like] + 50 * int(person.rng.integers(-1, 2))
    person.final[-1] = person.initial[-1] + out
    return set()


CAUSES = {
    "leaking tap": "leaking tap",
    "flask rinsed": "flask rinsed",
    "funnel": "funnel",
    "initial taken as zero": "taken as zero",
}
"""What happened in words: a claim that names it among what titres cannot tell from it is true."""
ODD: dict[str, Behaviour] = {
    each.__name__.replace("_", " "): each
    for each in (
        wrong_refill, swapped_digits, leaking_tap, flask_rinsed, forgotten_indicator, copied_mean, funnel,
        one_decimal_hidden, initial_taken_as_zero, fudged_last_run,
    )
}  # fmt: skip


def own_mean(person: Person) -> str:
    """Return the mean of the closest runs that agree within 0.10, rounded, or cut off by one student in four.

    That is then true of the student.
    """
    titres = sorted(last - first for first, last in zip(person.initial[1:], person.final[1:], strict=True))
    sets = [titres[i:j] for i in range(len(titres)) for j in range(i + 2, len(titres) + 1)]
    agreeing = [each for each in sets if each[-1] - each[0] <= 100] or [titres[:2]]
    best = min(agreeing, key=lambda each: (-len(each), each[-1] - each[0]))
    hundredths = sum(best) / len(best) / 10
    cut, whole = int(hundredths + 1e-9), int(hundredths + 0.5 + 1e-9)
    if person.rng.random() < 0.25 and cut != whole:
        person.true, whole = person.true | {(None, "rounding")}, cut
    return f"{whole // 100}.{whole % 100:02d}"


def simulate(bench: Bench, seed: int) -> tuple[float, list[Person]]:
    """Return the titre to be expected of the usual sample [cm³] and the students of a class."""
    rng = np.random.default_rng([seed, 77])
    titre = round(float(rng.uniform(*bench.titres)), 2)
    people = []
    for _ in range(bench.students):
        mass = rng.uniform(0.9, 1.12) if bench.kind == "own masses" else 1.0
        name = str(rng.choice(list(ODD))) if rng.random() < bench.odd else "ordinary"
        volume = titre * mass * (1 + rng.normal(0, bench.between)) + (BLANK if bench.kind == "blank" else 0.0)
        person = Person(bench, rng, volume, mass, name)
        person.true = ODD.get(name, ordinary)(person)
        if bench.means and not person.mean and bench.kind not in ("two endpoints", "own masses"):
            person.mean = own_mean(person)
        people.append(person)
    return titre, people


# --- class sheets and practicals --------------------------------------------------------------------------------------

BLANK = 0.30
"""What a flask without any sample takes [cm³]."""
USUAL_MASS = 1.500
BURETTE = '[burette]\nsolution = "{}"\nconcentration = 0.1000\ncapacity = 50.0\ndivision = 0.1\n'


def practical(bench: Bench, titre: float) -> str:
    """Return the practical file of a class whose usual sample takes `titre` cm³."""
    c = titre * 0.1000 / 25.0
    head = f'title = "Behaviour at the bench, {bench.kind}"\n'
    end = f"[reference]\nvalue = {c:.6f}\nstandard_uncertainty = {0.001 * c:.6f}\n"
    result = '[result]\nof = "NaOH"\nquantity = "amount concentration"\nsignificant_figures = 3\n'
    flask = '[flask]\nsolution = "NaOH"\naliquot = 25.0\n'
    if bench.kind == "own masses":  # soda, Na2CO3, in 250.0 cm³: mass percentage of what was weighed
        percent = titre * 0.1000 / 1000 / 2 * 10 * 105.99 / USUAL_MASS * 100
        head += 'equation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"\n'
        return (
            head + BURETTE.format("HCl") + '[flask]\nsolution = "Na2CO3"\naliquot = 25.0\n'
            '[sample]\nmass = { column = "Mass" }\nmade_up_to = 250.0\n'
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
    blank = f"[blank]\ntitre = {BLANK:.2f}\n" if bench.kind == "blank" else ""
    return head + 'equation = "NaOH + HCl -> NaCl + H2O"\n' + BURETTE.format("HCl") + blank + flask + result + end


def write(folder: Path, bench: Bench, titre: float, people: list[Person]) -> tuple[Path, Path]:
    """Write the class sheet and the practical; return where they are."""
    most = max(person.runs for person in people)
    labels = ["Rough", *(f"Run {n}" for n in range(1, most))]
    two = bench.kind == "two endpoints"
    ends = ("initial", "phenolphthalein", "methyl orange") if two else ("initial", "final")
    head = ["Student", *(["Mass"] if bench.kind == "own masses" else []), *(f"{a} {b}" for a in labels for b in ends)]
    sheet, plan = folder / "class.csv", folder / "practical.toml"
    with sheet.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow([*head, *([] if two else ["Mean titre"])])
        for number, person in enumerate(people):
            columns = (person.initial, person.final, *([person.second] if two else []))
            readings = [f"{each[run] / 1000:.2f}" for run in range(person.runs) for each in columns]
            readings += [""] * (len(ends) * (most - person.runs))
            mass = [f"{USUAL_MASS * person.mass:.3f}"] if bench.kind == "own masses" else []
            writer.writerow([f"Student {number + 1}", *mass, *readings, *([] if two else [person.mean])])
    plan.write_text(practical(bench, titre), encoding="utf-8")
    return sheet, plan
