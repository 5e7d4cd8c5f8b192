"""What is claimed of students who behave in ways that the table of hypotheses was not made for, and of ordinary ones.

    python -m tests.benchmarks.bench_behaviours [--classes 60] [--seed 7] [--show]

Class sheets of `tests/benchmarks/behaviours.py` are read and judged as any other. Printed, for each kind of class: how
many ordinary students anything was claimed of, how many odd ones were told something false with odds of 0.90 or more,
and how often claims were right by the odds they carried.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

from labmark.pipeline import judged_tree
from tests.benchmarks.behaviours import CAUSES, EVERY, Bench, Person, simulate, write

KINDS = ("plain", "own masses", "two endpoints", "blank", "chain")
SPREADS = (0.002, 0.003, 0.004, 0.005, 0.006)
SURE = 0.90
"""Odds from which on a sentence says "very probably"."""


def claims_of(student: dict[str, Any]) -> list[dict[str, Any]]:
    """Return what is claimed of a student with odds."""
    return [each for each in student["findings"] if each["probability"] is not None]


def is_true(claim: dict[str, Any], person: Person) -> bool:
    """Return whether a claim may be made of a student."""
    label = claim["run"]
    run = None if label is None else 0 if label == "Rough" else int(label)
    places = (run, EVERY) if run is not None else (None,)
    cause = CAUSES.get(person.behaviour)
    named = cause is not None and any(cause in name for name in claim["evidence"].get("looks_the_same", ()))
    return named or any((place, claim["finding"]) in person.true for place in places)


class Tally:
    """Counts over many classes of one kind."""

    def __init__(self) -> None:
        self.people: Counter[str] = Counter()
        self.told: Counter[str] = Counter()
        self.false: Counter[str] = Counter()
        self.what: dict[str, Counter[str]] = defaultdict(Counter)
        self.odds: dict[str, list[tuple[float, bool]]] = defaultdict(list)

    def add(self, person: Person, student: dict[str, Any], *, show: bool) -> None:
        kind = person.behaviour
        claims = [each for each in claims_of(student) if each["finding"] != "rounding" or not is_true(each, person)]
        false = [each for each in claims if not is_true(each, person)]
        sure = [each for each in false if each["probability"] >= SURE]
        self.people[kind] += 1
        self.told[kind] += bool(claims)
        self.false[kind] += bool(sure)
        for each in claims:
            self.odds[each["finding"]].append((each["probability"], each not in false))
        for each in sure if kind != "ordinary" else false:
            self.what[kind][each["finding"]] += 1
            if show:
                runs = [f"{a / 1000:.2f}→{b / 1000:.2f}" for a, b in zip(person.initial, person.final, strict=True)]
                print(f"{kind}: {each['finding']} {each['run']} {each['probability']} {runs} {each['message'][:90]}")

    def show(self, name: str) -> None:
        odd = sum(n for kind, n in self.people.items() if kind != "ordinary")
        false = sum(n for kind, n in self.false.items() if kind != "ordinary")
        ordinary = self.people["ordinary"]
        print(
            f"{name:28s} ordinary: {self.told['ordinary']} of {ordinary} told of something; "
            f"odd: {false} of {odd} ({false / max(odd, 1):.1%}) told something false for sure"
        )
        for kind, n in sorted(self.people.items()):
            if self.what[kind]:
                print(f"    {kind:24s} {self.false[kind]:4d} of {n:5d}  {dict(self.what[kind])}")
        self.show_odds()

    def show_odds(self) -> None:
        every = [odds for each in self.odds.values() for odds in each]
        error = 0.0
        for low in range(10):
            inside = [(p, right) for p, right in every if min(int(10 * p), 9) == low]
            if inside:
                said, right = sum(p for p, _ in inside) / len(inside), sum(r for _, r in inside) / len(inside)
                error += abs(said - right) * len(inside) / len(every)
                print(f"    odds {said:.2f} right {right:.2f} n {len(inside)}")
        print(f"    calibration error {error:.3f}; top bins:", end="")
        for finding, odds in sorted(self.odds.items()):
            top = [(p, right) for p, right in odds if p >= SURE]
            if top:
                said, right = sum(p for p, _ in top) / len(top), sum(r for _, r in top) / len(top)
                print(f" {finding} {said:.2f}/{right:.2f} ({len(top)})", end="")
        print()


def measure(bench: Bench, classes: int, seed: int, *, show: bool) -> Tally:
    """Judge classes from their files."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(classes):
            titre, people = simulate(bench, 1000 * seed + number)
            sheet, plan = write(Path(folder), bench, titre, people)
            tree = judged_tree(sheet, str(plan), ())
            for person, student in zip(people, tree["students"], strict=True):
                tally.add(person, student, show=show)
    return tally


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--classes", type=int, default=60, help="classes of 24 of each kind")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--spreads", default=",".join(map(str, SPREADS)), help="between students where nobody is odd")
    parser.add_argument("--show", action="store_true", help="show every false claim")
    given = parser.parse_args()
    for kind in given.kinds.split(","):
        measure(Bench(kind), given.classes, given.seed, show=given.show).show(kind)
    for spread in map(float, filter(None, given.spreads.split(","))):
        bench = Bench(between=spread, odd=0.0)
        measure(bench, given.classes, given.seed, show=given.show).show(f"nobody odd, spread {spread:.1%}")


if __name__ == "__main__":
    main()
