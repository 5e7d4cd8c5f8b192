"""The whole diagnosis of a cohort: how long each part takes, and how much memory.

    python -m tests.benchmarks.bench_cohort [--students 10000] [--practical drain-cleaner]

Students with a rough and three runs each: readings of the simulator with its faults, own means of which some take in a
discordant run or the rough or are out by a digit, own results of which one in seven holds a planted slip. They are
written as a text table and read as any class is; reading, titres and class figures are timed apart. The parts are the
functions that `labmark.judge.stages` calls. Seeded; all students are invented.
"""

from __future__ import annotations

import argparse
import gc
import random
import resource
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from labmark.diagnose.bench_input import RunMatrix
from labmark.diagnose.plain import plain_findings
from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_mean_slips import own_mean
from labmark.facts import Student
from labmark.judge import bench, own_result, working
from labmark.judge.case import Claimed
from labmark.judge.stages import _Judging, _prepared, judge
from labmark.judge.worked import Worked, setting_of
from labmark.pipeline import read
from labmark.practical import Practical
from labmark.practicals import find_practical
from labmark.records import ClassSheet, Finding
from tests.benchmarks.bench_diagnosis import cohort
from tests.benchmarks.bench_working import CODES, PAIRS, figures, no_rounding, parts, places_for, result, slipped, write
from tests.calculations import Figures

WRONG = 1 / 7
"""Share of the results that hold a planted slip: pairs as often as each single one."""
KINDS = (*CODES, *CODES, *PAIRS)
ALL_TAKEN, ROUGH_TAKEN, DIGIT_OUT = 0.05, 0.01, 0.02
"""Shares of the means that take in every accurate run, the rough too, or are out by 0.1, 1 or 10."""


def agreeing(titres: list[int], within: int = 100) -> list[int]:
    """Return the titres [µL] of the largest set within the limit; all of them where none agree."""
    sets = [[titre for titre in titres if low <= titre <= low + within] for low in titres]
    best = max(sets, key=lambda one: (len(one), -max(one)))
    return best if len(best) > 1 else titres


def written_mean(rng: random.Random, rough: int, titres: list[int]) -> Decimal:
    """Return the mean titre [cm³] that a student writes."""
    chance = rng.random()
    taken = agreeing(titres)
    if chance < ALL_TAKEN:
        taken = titres
    elif chance < ALL_TAKEN + ROUGH_TAKEN:
        taken = [rough, *titres]
    mean = Fraction(sum(taken), 1000 * len(taken))
    if chance > 1 - DIGIT_OUT:
        mean += Fraction(rng.choice([100, -100, 1000, -1000, 10000]), 1000)
    return write(mean, 2)


def figures_of(practical: Practical) -> Figures:
    """Return the figures of a direct titration."""
    file = practical.file
    known, unknown = (int(practical.equation.coefficient(one)) for one in (practical.known, practical.unknown))
    given = file.flask.dilution
    return Figures(
        file.result.quantity,
        practical.known_concentration,
        Fraction(file.flask.aliquot),
        practical.known_in,
        known,
        unknown,
        None if given is None else (Fraction(given.taken), Fraction(given.made_up_to)),
        molar_mass=practical.expressed.mass,
        significant_figures=file.result.significant_figures,
    )


def written_result(rng: random.Random, calc: Figures, mean: Fraction, rough: int) -> Decimal | None:
    """Return the result that a student writes, to the figures asked for or one more; None where there is none."""
    wrong = rng.random() < WRONG
    kind = rng.choice(KINDS) if wrong else "right"
    slips = (kind,) if isinstance(kind, str) else kind
    volume = Fraction(rough, 1000) if kind == "rough-in-result" else mean
    try:
        p, keep = parts(calc, volume), no_rounding
        if kind == "rounding":
            count = calc.significant_figures - 1
            keep = lambda value: figures(value, count)  # noqa: E731
        elif kind == "result-slip":
            p["c"] *= Fraction(rng.randrange(700, 1400), 1000)
        elif wrong and kind != "rough-in-result":
            p = slipped(slips, p, rng)
        value = result(calc.quantity, p, keep)
    except ZeroDivisionError:
        return None
    places = places_for(value, calc.significant_figures + rng.choice([0, 0, 1])) if value > 0 else -1
    return write(value, places) if places >= 0 else None


def rows(runs: RunMatrix, calc: Figures) -> Iterator[str]:
    """Yield the lines of a text table."""
    rng = random.Random(5)
    labels = ["Rough", *(f"Run {k}" for k in range(1, runs.titre.shape[1]))]
    yield ",".join(["Student", "Bench", *(f"{a} {b}" for a in labels for b in ("initial", "final", "titre")),
                    "Mean titre", "Result"])  # fmt: skip
    initial, final = runs.initial.tolist(), runs.final.tolist()
    for place, readings in enumerate(zip(initial, final, strict=True)):
        pairs = list(zip(*readings, strict=True))
        rough, *titres = [end - start for start, end in pairs]
        cells = [f"{volume / 1000:.2f}" for start, end in pairs for volume in (start, end, end - start)]
        mean = written_mean(rng, rough, titres)
        value = written_result(rng, calc, Fraction(mean), rough) if mean > 0 else None
        yield ",".join([f"S{place:06d}", str(place % 8), *cells, f"{mean}", "" if value is None else f"{value:f}"])


@contextmanager
def timed(what: str, spent: dict[str, tuple[float, float]]) -> Iterator[None]:
    """Take the wall time and the processor time of a part."""
    wall, busy = time.perf_counter(), time.process_time()
    yield
    spent[what] = time.perf_counter() - wall, time.process_time() - busy
    print(f"{what:42s} {spent[what][0]:7.2f} s   {spent[what][1]:7.2f} s of processor   most memory {memory():5.0f} MB")


def memory() -> float:
    """Return the most memory that the process has held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def prepared(sheet: ClassSheet, practical: Practical) -> tuple[Worked, _Judging]:
    """Return the class as the diagnosis takes it: titres, references, shifted groups."""
    judging = _prepared(sheet, practical).expecting()
    assert judging.figures
    return judging.worked, judging


def slips(students: tuple[Student, ...], practical: Practical) -> list[Finding]:
    """Return the findings about means and results, as the judge asks for them student by student."""
    setting, calc, found = setting_of(practical), calculation(practical), []
    for student in students:
        mean = None if student.absent else own_mean(student, setting.at_least, setting.within)
        judged = own_result.judged_result(student, mean, calc)
        found += working.working_findings(Claimed(student, mean, judged, calc), setting.within)
    return found


def diagnose(sheet: ClassSheet, practical: Practical) -> None:
    """Print the time of each part of the diagnosis, and of all of it."""
    before: dict[str, tuple[float, float]] = {}
    spent: dict[str, tuple[float, float]] = {}
    with timed("titres, references, class figures", before):
        worked, judging = prepared(sheet, practical)
    setting = setting_of(practical)
    print("the diagnosis:")
    with timed("  plain findings", spent):
        plain = [finding for student in worked.students for finding in plain_findings(student, setting)]
    with timed("  faults at the bench", spent):
        diagnosis = judging._diagnosis
    with timed("  claims and likeness as findings", spent):
        claims = bench.claims_in_words(worked, diagnosis, judging.practical)
        for place, alike in bench.alike_findings(worked.students, setting.capacity):
            claims[place].append(alike)
    with timed("  means, results, slips in the working", spent):
        own = slips(worked.students, practical)
    wall, busy = (sum(part) for part in zip(*spent.values(), strict=True))
    print(f"{'  all of it':42s} {wall:7.2f} s   {busy:7.2f} s of processor   most memory {memory():5.0f} MB")
    counts = Counter(one.finding for one in (*plain, *(each for some in claims.values() for each in some), *own))
    print(", ".join(f"{finding} {count}" for finding, count in counts.most_common()))


def main() -> None:
    """Make a cohort, read it, and time the diagnosis."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--students", type=int, default=10_000)
    parser.add_argument("--practical", default="drain-cleaner")
    parser.add_argument("--judge", action="store_true", help="time the whole judgement too, marks and all")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cohort.csv"
        practical = find_practical(given.practical, path)
        runs = cohort(given.students)
        path.write_text("\n".join(rows(runs, figures_of(practical))) + "\n", encoding="utf-8")
        del runs
        # The program switches the collector of cycles off while it works: nothing of it makes any to speak of.
        gc.disable()
        print(f"{given.students} students x 4 runs, {given.practical}")
        with timed("reading the text table", {}):
            sheet, practical = read(path, given.practical, [])
    diagnose(sheet, practical)
    if given.judge:
        with timed("the whole judgement, marks included", {}):
            judge(sheet, practical)


if __name__ == "__main__":
    main()
