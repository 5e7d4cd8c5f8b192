"""What is claimed of students who behave in ways that the table of hypotheses was not made for, and of ordinary ones.

    python -m tests.benchmarks.bench_behaviours [--classes 60] [--seeds 7,9] [--mixed] [--show]

Class sheets of `tests/benchmarks/behaviours.py` are read and judged as any other. Printed, for each kind of class: how
many ordinary students anything false was claimed of, how many others were told something false with odds of 0.90 or
more, and how often claims were right by the odds they carried; then all kinds together. In odd classes nothing happens
that the table was made for, so that whatever it claims of such things is a coincidence; with `--mixed` what is usual
happens besides, twice as often as each oddity, and odds can hold.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

from labmark.pipeline import judged_tree
from tests.benchmarks.behaviours import CAUSES, EVERY, FIRST, Bench, Person, simulate, write
from tests.odds import SURE, Odds

KINDS = ("plain", "own masses", "masses by run", "two endpoints", "blank", "chain")
MIXED = {"odd": 0.10, "usual": 0.20}
"""Shares of students to whom something odd, and something usual happens."""


def claims_of(student: dict[str, Any]) -> list[dict[str, Any]]:
    """Return what is claimed of a student with odds."""
    return [each for each in student["findings"] if each["probability"] is not None]


def is_true(claim: dict[str, Any], person: Person) -> bool:
    """Return whether a claim may be made of a student."""
    label = claim["run"]
    run = None if label is None else 0 if label == "Rough" else int(label)
    cause = CAUSES.get(person.behaviour)
    named = cause is not None and any(cause in name for name in claim["evidence"].get("looks_the_same", ()))
    at = (claim["finding"], claim["evidence"].get("endpoint", FIRST))
    return named or any(
        found == at[: len(found)] and place in ((run, EVERY) if run is not None else (None,))
        for place, *rest in person.true
        if (found := tuple(rest))
    )


class Tally:
    """Counts over many classes of one kind."""

    def __init__(self) -> None:
        self.people: Counter[str] = Counter()
        self.told: Counter[str] = Counter()
        self.false: Counter[str] = Counter()
        self.what: dict[str, Counter[str]] = defaultdict(Counter)
        self.odds = Odds()

    def add(self, person: Person, student: dict[str, Any], *, show: bool) -> None:
        kind = person.behaviour
        claims = [each for each in claims_of(student) if each["finding"] != "rounding" or not is_true(each, person)]
        false = [each for each in claims if not is_true(each, person)]
        sure = [each for each in false if each["probability"] >= SURE]
        self.people[kind] += 1
        self.told[kind] += bool(false)
        self.false[kind] += bool(sure)
        for finding in sorted({each["finding"] for each in claims}):
            of_it = [each for each in claims if each["finding"] == finding]
            self.odds.add(finding, ((each["probability"], each not in false) for each in of_it))
        for each in sure if kind != "ordinary" else false:
            self.what[kind][each["finding"]] += 1
            if show:
                runs = [f"{a / 1000:.2f}→{b / 1000:.2f}" for a, b in zip(person.initial, person.final, strict=True)]
                print(f"{kind}: {each['finding']} {each['run']} {each['probability']} {runs} {each['message'][:90]}")

    def join(self, other: Tally) -> None:
        """Take in another count."""
        for mine, its in ((self.people, other.people), (self.told, other.told), (self.false, other.false)):
            mine.update(its)
        for kind, counts in other.what.items():
            self.what[kind].update(counts)
        self.odds.join(other.odds)

    def show(self, name: str, *, whole: bool = True) -> None:
        """Print a line; where `whole`, what was told to whom as well."""
        odd = sum(n for kind, n in self.people.items() if kind != "ordinary")
        false = sum(n for kind, n in self.false.items() if kind != "ordinary")
        ordinary = self.people["ordinary"]
        print(
            f"{name:28s} ordinary: {self.told['ordinary']} of {ordinary} told something false; "
            f"others: {false} of {odd} ({false / max(odd, 1):.1%}) for sure; "
            f"{self.odds}",
            flush=True,
        )
        if whole:
            for kind, n in sorted(self.people.items()):
                if self.what[kind]:
                    print(f"    {kind:24s} {self.false[kind]:4d} of {n:5d}  {dict(self.what[kind])}")
            self.odds.show()


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
    parser.add_argument("--classes", type=int, default=60, help="classes of 24 of each kind and seed")
    parser.add_argument("--seeds", default="7")
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--mixed", action="store_true", help="something usual happens to 20 %% of students besides")
    parser.add_argument("--spreads", default="", help="between students where nobody is odd, as 0.004,0.006")
    parser.add_argument("--show", action="store_true", help="show every false claim")
    given = parser.parse_args()
    seeds = [int(each) for each in given.seeds.split(",")]
    benches = {kind: Bench(kind, **(MIXED if given.mixed else {})) for kind in filter(None, given.kinds.split(","))}
    benches |= {
        f"nobody odd, spread {each}": Bench(between=float(each), odd=0.0)
        for each in filter(None, given.spreads.split(","))
    }
    total = Tally()
    for name, bench in benches.items():
        for seed in seeds:
            found = measure(bench, given.classes, seed, show=given.show)
            found.show(f"{name}, {seed}", whole=False)
            total.join(found)
    total.show("all together")


if __name__ == "__main__":
    main()
