"""Slips planted in the working of several titres, and right work in many ways: the arithmetic is written out here."""

from __future__ import annotations

import random

import pytest

from labmark.judge.stages import judge
from labmark.practical import practical_from_toml
from tests.seeds import few_quick, times
from tests.several_classes import LYE, WELL, class_of, endpoints, student
from tests.test_several import titration

NAMES = ("phenolphthalein", "methyl orange")
NAOH, NA2CO3, CA, MG = 39.997, 105.99, 40.08, 24.31


def figures(value: float, count: int = 3) -> str:
    """Return a number with so many significant figures, without a power of ten."""
    digits = count - 1 - int(f"{value:e}".partition("e")[2])
    return f"{value:.{max(0, digits)}f}"


def lye(rng: random.Random, slip: str = ""):
    """Return a student with two agreeing runs; `slip` is what is done wrong in the working."""
    first, second = 23.75 + rng.randrange(-6, 7) / 20, 3.75 + rng.randrange(-3, 4) / 20
    runs = []
    for label in ("1", "2"):
        start, late = rng.randrange(0, 40) / 20, rng.choice((0, 0.05))
        texts = (start, start + first + late, start + first + late + second)
        runs += endpoints(label, " ".join(f"{each:.2f}" for each in texts), NAMES)
        first -= 0 if label == "1" else late
    rows = [row for row in runs if row["series"] == NAMES[0]]
    v1 = sum(row["final"] - row["initial"] for row in rows) / len(rows) / 1000
    v2 = second
    taken = {"whole": v1, "other": v2, "": v1 - v2}.get(slip, v1 - v2)
    carbonate = v1 + v2 if slip == "from the start" else v2
    naoh, na2co3 = taken * 0.1 / 25 * NAOH, carbonate * 0.1 / 25 * NA2CO3
    if slip == "thousand":
        naoh /= 1000
    if slip == "mass":
        naoh = taken * 0.1 / 25 * 36.46
    if slip == "no mass":
        na2co3 = v2 * 0.1 / 25
    places = rng.choice((2, 3))

    def way(volume: float) -> str:
        return f"{volume + 1e-9:.{places}f}"  # a tie goes up

    means = {NAMES[0]: way(v1), NAMES[1]: way(v2)}
    if rng.random() < 0.3:
        means[NAMES[1]] = way(v1 + v2)
    return student("S", runs, means, {"NaOH": figures(naoh), "Na2CO3": figures(na2co3)})


def well(rng: random.Random, slip: str = ""):
    total, calcium = 30.00 + rng.randrange(-8, 9) / 20, 20.00 + rng.randrange(-8, 9) / 20
    runs = [
        titration(name, label, f"{start:.2f} {start + titre:.2f}")
        for name, titre in (("total", total), ("calcium", calcium))
        for label in ("1", "2")
        for start in (rng.randrange(0, 40) / 20,)
    ]
    magnesium = {"whole": total, "other": calcium}.get(slip, total - calcium)
    ca, mg = calcium * 0.00500 / 50 * CA * 1000, magnesium * 0.00500 / 50 * MG * 1000
    return student(
        "S", runs, {"total": f"{total:.2f}", "calcium": f"{calcium:.2f}"}, {"Ca": figures(ca), "Mg": figures(mg)}
    )


def named(one):
    return {each.finding for each in one.findings if each.level != "note"} - {"same-readings"}


def planted(make, seeds, slip: str = ""):
    """Return a student for each seed."""
    students = [make(random.Random(f"{slip} {seed}"), slip) for seed in seeds]
    for number, (row, _) in enumerate(students):
        row["student"] = f"S{number}"
    return students


def judged(text: str, make, seeds, slip: str = ""):
    return judge(class_of(*planted(make, seeds, slip)), practical_from_toml(text)).students


WORKING = {"calculation", "figures", "mean", "titres", "selection", "table", "recording", "concordance"}


def not_full(one):
    return {mark.criterion for mark in one.marks if mark.mark != mark.out_of} & WORKING


@pytest.mark.parametrize(("text", "make"), few_quick([(LYE, lye), (WELL, well)], 2))
@pytest.mark.parametrize("seeds", few_quick([range(30), range(30, times(600))], 2))
def test_whoever_worked_it_out_right_loses_nothing_in_the_working(text, make, seeds):
    for start in range(seeds.start, seeds.stop, 60):
        for one in judged(text, make, range(start, min(start + 60, seeds.stop))):
            assert not_full(one) == set(), (one.student, [each.message for each in one.findings])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "make", "slip", "finding"),
    few_quick(
        [
            (LYE, lye, "whole", "difference-forgotten"),
            (LYE, lye, "other", "difference-forgotten"),
            (LYE, lye, "thousand", "volume-units"),
            (LYE, lye, "from the start", "difference-forgotten"),
            (LYE, lye, "mass", "result-slip"),
            (WELL, well, "whole", "difference-forgotten"),
            (WELL, well, "other", "difference-forgotten"),
        ],
        2,
    ),
)
def test_a_slip_in_a_result_of_several_titres_is_named(text, make, slip, finding):
    students = judged(text, make, range(12), slip)
    assert sum(finding in named(one) for one in students) >= 11
    assert all(
        sum(mark.mark != mark.out_of for mark in one.marks if mark.criterion == "calculation") == 1 for one in students
    )
