"""Many classes: what a class costs in a cohort and by itself, and whether time and memory go with the number.

    python -m tests.benchmarks.bench_classes classes [--classes 20 200] [--jobs 1 2] [--alone 5]
    python -m tests.benchmarks.bench_classes size [--students 30 300]
    python -m tests.benchmarks.bench_classes cluster [--classes 20] [--runs 5]

`classes`: cohorts of so many classes of 28 with each number of processes, one after another, an unchanged cohort
resumed, and `labmark mark` of one class of it, all as whole processes. `size`: one class of so many students. `cluster`:
one worker against two, in turn. Seconds of the clock say little on a machine with other work to do; those of the
processor say what there is to do. The students are those of `bench_cohort`, all invented.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from labmark.practicals import find_practical
from tests.benchmarks.bench_cohort import figures_of, rows
from tests.benchmarks.bench_diagnosis import cohort

PRACTICAL = "drain-cleaner"
CLASS = 28
LARGEST = 1000
"""Students of a class that is marked whole; more of them are an examining body's table, which is checked."""


class Spent(NamedTuple):
    """What a whole process, and those that it waited for, took."""

    wall: float
    processor: float
    memory: float
    """Most that any one of its processes held [MB]."""


def spent_on(command: Sequence[str]) -> Spent:
    """Run labmark to its end."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "labmark", *command], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"labmark {' '.join(command)}: exit status {process.returncode}")
    return Spent(time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def written(folder: Path, sizes: Sequence[int]) -> list[Path]:
    """Write a class sheet of each size."""
    folder.mkdir(parents=True)
    header, *lines = rows(cohort(sum(sizes)), figures_of(find_practical(PRACTICAL, folder / "any.csv")))
    files = []
    for number, size in enumerate(sizes):
        own, lines = lines[:size], lines[size:]
        files.append(folder / f"class {number:04d}.csv")
        files[-1].write_text("\n".join([header, *own]) + "\n", encoding="utf-8")
    return files


def show(what: str, spent: Spent, students: int) -> None:
    """Print a line of figures."""
    print(
        f"{what:42s} {spent.wall:8.2f} s {spent.processor:8.2f} s of processor {spent.memory:6.0f} MB"
        f"   {1000 * spent.processor / students:6.1f} ms a student",
        flush=True,
    )


def classes(place: Path, numbers: Sequence[int], jobs: Sequence[int], alone: int) -> None:
    """Show cohorts beside single runs, and what it takes to find one unchanged."""
    files = written(place / "single", [CLASS])
    single = [
        # Each into a folder of its own, as the cohort does: a workbook that is there already would be read as well.
        spent_on(
            ["mark", str(files[0]), "--practical", PRACTICAL, "--out", str(place / f"alone {run}"), "-q", "--jobs", "1"]
        )
        for run in range(alone + 1)
    ][1:]
    one = Spent(*map(statistics.median, zip(*single, strict=True)))
    show(f"mark, one class of {CLASS}, median of {alone}", one, CLASS)
    for number in numbers:
        written(place / f"{number}", [CLASS] * number)
        for job in jobs:
            out = ["--out", str(place / f"marked {number} {job}"), "--jobs", str(job)]
            command = ["cohort", str(place / f"{number}"), "--practical", PRACTICAL, *out]
            spent, resumed = spent_on(command), spent_on([*command, "--resume"])
            show(f"cohort, {number} classes, {job} process(es)", spent, CLASS * number)
            print(
                f"    a class: {spent.wall / number / one.wall:.2f} of a single run by the clock,"
                f" {spent.processor / number / one.processor:.2f} of its processor time;"
                f" {CLASS * number / spent.wall:.0f} sheets a second of the clock,"
                f" {CLASS * number / spent.processor:.0f} a second of one processor;"
                f" unchanged {resumed.wall:.2f} s, {resumed.processor:.2f} s of processor"
                f" ({100 * resumed.processor / spent.processor:.1f} %)",
                flush=True,
            )


def size(place: Path, students: Sequence[int]) -> None:
    """Show what one class takes, by its size; above a thousand students to check it only."""
    for number in students:
        files = written(place / f"{number}", [number])
        out = ["--out", str(place / f"marked {number}"), "-q", "--jobs", "1"]
        if number <= LARGEST:
            show(
                f"mark, one class of {number}",
                spent_on(["mark", str(files[0]), "--practical", PRACTICAL, *out]),
                number,
            )
        show(f"check, one class of {number}", spent_on(["check", str(files[0]), "--practical", PRACTICAL]), number)


def cluster(place: Path, number: int, runs: int) -> None:
    """Show how much sooner two workers are done than one: pairs of runs in turn, each after one that warms them."""
    from distributed import LocalCluster

    written(place / "classes", [CLASS] * number)
    for workers in (1, 2):
        (place / f"{workers}").mkdir()
    ratios = []
    with (
        LocalCluster(n_workers=1, threads_per_worker=1, host="127.0.0.1", dashboard_address=None) as one,
        LocalCluster(n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None) as two,
    ):
        for run in range(runs + 1):
            took = []
            for scheduler in (one, two):
                out = str(place / f"{run} {scheduler.scheduler_address.rsplit(':', 1)[1]}")
                command = ["cohort", str(place / "classes"), "--practical", PRACTICAL, "--out", out]
                took.append(spent_on([*command, "--cluster", scheduler.scheduler_address]).wall)
            if run:
                ratios.append(took[0] / took[1])
                print(f"one worker {took[0]:.2f} s, two {took[1]:.2f} s: {ratios[-1]:.2f} times", flush=True)
    print(f"median {statistics.median(ratios):.2f} times")


def main() -> None:
    """Print the figures asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=["classes", "size", "cluster"])
    parser.add_argument("--classes", type=int, nargs="+", default=[20])
    parser.add_argument("--jobs", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--alone", type=int, default=5)
    parser.add_argument("--students", type=int, nargs="+", default=[30, 300])
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if given.what == "classes":
            classes(Path(folder), given.classes, given.jobs, given.alone)
        elif given.what == "size":
            size(Path(folder), given.students)
        else:
            cluster(Path(folder), given.classes[0], given.runs)


if __name__ == "__main__":
    main()
