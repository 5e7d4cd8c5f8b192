"""Classes whose students weighed and measured for themselves. Arithmetic of its own, nothing of labmark; invented."""

from __future__ import annotations

import csv
import random
from dataclasses import dataclass, field
from pathlib import Path

SHELL = 100.09
"""Formula mass of CaCO3 [g/mol], from Ca 40.08, C 12.01, 3 O 16.00 (school data sheets; from memory)."""


def eggshell_titre(mass: float, percent: float) -> float:
    """Return the titre [cm³] of 25.0 cm³ of 250.0: shell in 50.0 cm³ of 1.000 mol/dm³ HCl, 0.1000 mol/dm³ NaOH."""
    left = 0.0500 - 2 * mass * percent / 100 / SHELL
    return left * 25.0 / 250.0 / 0.1000 * 1000


def eggshell_percent(titre: float, mass: float) -> float:
    """Return the percentage by mass that a titre [cm³] gives, as a student works it out."""
    left = 0.1000 * titre / 1000 * 250.0 / 25.0
    return (0.0500 - left) / 2 * SHELL / mass * 100


def to_half_division(volume: float) -> float:
    return round(volume * 20) / 20


@dataclass
class Row:
    """One student as the class sheet has it."""

    name: str
    mass: str
    readings: list[tuple[str, str]]
    mean: str
    result: str
    more: dict[str, str] = field(default_factory=dict)


def eggshell_student(rng: random.Random, name: str, *, percent: float = 93.2, work=eggshell_percent) -> Row:
    """Return a student who did it right: three runs that agree, the mean of all of them, the result from it."""
    mass = round(rng.uniform(1.30, 1.65), 3)
    true = eggshell_titre(mass, percent) + rng.gauss(0, 0.03)
    start, readings, titres = 0.0, [], []
    middle = to_half_division(true)
    for _ in range(3):
        start = to_half_division(rng.uniform(0, 1.5))
        titre = middle + rng.choice((0, 0, 0.05))
        readings.append((f"{start:.2f}", f"{start + titre:.2f}"))
        titres.append(titre)
    mean = f"{sum(titres) / 3:.2f}"
    return Row(name, f"{mass:.3f}", readings, mean, f"{work(float(mean), mass):.1f}")


def write(path: Path, rows: list[Row], heading: str = "Mass / g") -> Path:
    runs = max(len(row.readings) for row in rows)
    head = ["Student", heading, *(f"Run {n} {end}" for n in range(1, runs + 1) for end in ("initial", "final"))]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow([*head, "Mean titre", "Result"])
        for row in rows:
            ends = [end for pair in row.readings for end in pair]
            writer.writerow([row.name, row.mass, *ends, row.mean, row.result])
    return path


PHTHALATE = 204.22
"""Formula mass of KHC8H4O4 [g/mol], from K 39.10, H 1.01, C 12.01, O 16.00 (school data sheets; from memory)."""


@dataclass
class Weighed:
    """One student who weighed a standard into every flask: (mass, initial, final, result) of each run, and the result."""

    name: str
    runs: list[tuple[str, str, str, str]]
    result: str


def weighed_student(
    rng: random.Random, name: str, *, strength: float = 0.1004, runs: int = 4, sd: float = 0.02
) -> Weighed:
    """Return a student who did it right: a result for every run to four figures, and their mean."""
    made, results = [], []
    for _ in range(runs):
        mass = round(rng.uniform(0.45, 0.60), 4)
        start = to_half_division(rng.uniform(0, 1.5))
        titre = to_half_division(mass / PHTHALATE / strength * 1000 + rng.gauss(0, sd))
        results.append(mass / PHTHALATE / titre * 1000)
        made.append((f"{mass:.4f}", f"{start:.2f}", f"{start + titre:.2f}", f"{results[-1]:.4f}"))
    return Weighed(name, made, f"{sum(results) / runs:.4f}")


def write_weighed(path: Path, students: list[Weighed], layout: str = "wide", *, results: bool = True) -> Path:
    """Write the class, a row a student or a row a run; `results` says whether each run has its own."""
    fields = ["mass / g", "initial", "final", *(["result"] if results else [])]
    if layout == "wide":
        numbers = range(1, len(students[0].runs) + 1)
        rows = [["Student", *(f"Run {number} {field}" for number in numbers for field in fields), "Result"]]
        rows += [[one.name, *(cell for run in one.runs for cell in run[: len(fields)]), one.result] for one in students]
    else:
        rows = [["Student", "Run", *(field.capitalize() for field in fields), "Mean result"]]
        for one in students:
            for number, run in enumerate(one.runs, start=1):
                first = number == 1
                rows.append([one.name, str(number), *run[: len(fields)], one.result if first else ""])
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path
