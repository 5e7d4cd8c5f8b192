"""Classes of every practical that ships, worked by arithmetic that is written out here: whoever did it right keeps every
mark, and nobody is suspected of anything. Everybody is invented."""

from __future__ import annotations

import csv
import random
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import load_workbook

from labmark.outputs.workbook import marks_workbook
from labmark.pipeline import judged_tree
from labmark.places import practicals_folder
from tests.seeds import few_quick

# Formula masses with one or two decimals, as on a school's periodic table (from memory).
# result = work(titre in cm³, mass in g); `mass` says about how much is weighed.
WORK = {
    "antacid-tablets": (lambda v, m: (0.0250 - 0.0500 * v / 100) / 2 * 100.09 / m * 100, 1.25, 30.0),
    "aspirin-tablets": (lambda v, m: (0.0250 - 0.0500 * v / 100) / 2 * 180.16 / 5 * 1000, None, 16.7),
    "bleach": (lambda v, m: 0.1000 * v / 2 / 25.0 * 10 * 74.44 / 10, None, 32.24),
    "chloride-with-blank": (lambda v, m: 0.0200 * (v - 0.15) / 50.0 * 35.45 * 1000, None, 20.18),
    "chloride-with-thiocyanate": (lambda v, m: (25.0 * 0.1000 - 0.0500 * v) / 10.0 * 58.44, None, 29.98),
    "citric-acid": (lambda v, m: 0.1000 * v / 3 / 20.0 * 192.12, None, 31.23),
    "copper-in-brass": (lambda v, m: 0.1000 * v / 1000 * 10 * 63.55 / m * 100, 2.40, 23.42),
    "dissolved-oxygen": (lambda v, m: 0.00500 * v / 4 / 100 * 125 / 123 * 32.00 * 1000, None, 20.91),
    "eggshells-own-masses": (lambda v, m: (0.0500 - 0.1000 * v / 100) / 2 * 100.09 / m * 100, 1.50, 22.06),
    "ethanedioic-acid-crystals": (lambda v, m: (m / (0.1000 * v / 2 / 100) - 90.03) / 18.02, 1.60, 25.38),
    "hydrogen-peroxide": (lambda v, m: 0.0200 * v * 5 / 2 / 25.0 * 25 / 2 * 22.4, None, 35.71),
    "iron-tablets": (lambda v, m: 0.00500 * v * 5 * 10 * 55.85 / 5, None, 23.28),
    "lime-water": (lambda v, m: 4 * (0.0500 * v / 2 / 25.0) ** 3, None, 20.80),
    "nitrogen-in-flour": (lambda v, m: (5.000 - 0.1000 * v) / 1000 * 14.01 / m * 100 * 6.25, 1.00, 37.43),
    "saponification-value": (lambda v, m: (37.50 - v) * 0.500 * 56.11 / m, 2.00, 23.81),
    "soda-crystals-own-masses": (lambda v, m: (m / (0.1000 * v / 2 / 100) - 105.99) / 18.02, 3.25, 23.01),
    "standardise-acid-with-own-carbonate": (lambda v, m: m * 0.999 / 105.99 / 10 * 2 / v * 1000, 1.3250, 24.49),
    "unknown-diprotic-acid": (lambda v, m: m / (0.1000 * v / 2 / 100), 1.30, 24.98),
    "vitamin-c": (lambda v, m: 0.00400 * v * 3 * 10 * 176.12 / 1000 * 1000, None, 23.66),
    "water-hardness": (lambda v, m: 0.0100 * v / 100.0 * 100.09, None, 28.37),
    "household-ammonia": (lambda v, m: (50.0 * 0.1000 - 0.1000 * v) / 25.0 * 25 * 17.03, None, 17.71),
}
FIGURES = {"standardise-acid-with-own-carbonate": 4}


def titre_for(name: str, mass: float, scale: float) -> float:
    """Return the titre of a student who weighed `scale` times the usual mass, found by halving."""
    work, usual, titre = WORK[name]
    wanted = work(titre, usual)
    low, high = titre / 3, min(titre * 3, 49.9) if name != "saponification-value" else 37.4999
    rises = work(low, mass) < work(high, mass)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if (work(middle, mass) < wanted) == rises else (low, middle)
    return low if scale != 1 else titre


def figures(value: float, count: int) -> str:
    """Return a number with so many significant figures, as a student writes it."""
    text = f"{value:.{count - 1}e}"
    mantissa, power = text.split("e")
    return f"{float(text):.{max(0, count - 1 - int(power))}f}" if -5 < int(power) < 5 else f"{mantissa}E{int(power)}"


def class_sheet(name: str, path: Path, seed: str = "", wrong: float = 1.0) -> Path:
    """Write a class of eight who did everything right, but for a result that is so many times too large."""
    rng, (work, usual, _) = random.Random(name + seed), WORK[name]
    columns = {"antacid-tablets": ["Mass before", "Mass after"]}.get(name, ["Mass / g"] if usual else [])
    head = ["Student", *columns]
    for run in ("Rough", "Run 1", "Run 2"):
        head += [f"{run} initial", f"{run} final", f"{run} titre"]
    rows = []
    for number in range(1, 9):
        scale = 1 if usual is None else rng.uniform(0.95, 1.05)
        mass = None if usual is None else round(usual * scale, 4)
        titre = round(titre_for(name, mass, scale) * 20 + rng.gauss(0, 0.6)) / 20
        row = [f"Student {number}"]
        row += [f"{12.5 + mass:.4f}", "12.5000"] if name == "antacid-tablets" else [f"{mass:.4f}"] if usual else []
        for off in (rng.choice((0.4, 0.6)), 0, rng.choice((0, 0.05))):
            start = rng.randrange(0, 40) / 20
            row += [f"{start:.2f}", f"{start + titre + off:.2f}", f"{titre + off:.2f}"]
        mean = (titre + float(row[-1])) / 2
        row += [f"{mean:.3f}".rstrip("0") if round(mean * 1000) % 10 else f"{mean:.2f}"]
        rows.append([*row, figures(work(mean, mass) * wrong, FIGURES.get(name, 3))])
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[*head, "Mean titre", "Result"], *rows])
    return path


@pytest.mark.parametrize("name", few_quick(WORK, 24))
def test_whoever_did_a_shipped_practical_right_keeps_every_mark(name, tmp_path):
    tree = judged_tree(class_sheet(name, tmp_path / "class.csv"), name, ())
    for student in tree["students"]:
        lost = {
            m["criterion"]: m["reason"] for m in student["marks"] if m["mark"] is not None and m["mark"] < m["out_of"]
        }
        assert not lost, (student["student"], student["claimed"], student["result"], lost)
        assert [f["finding"] for f in student["findings"] if f["level"] != "note"] == []
    assert [f["finding"] for f in tree["class"]["findings"]] == []


def test_a_reagent_whose_strength_the_blank_makes_needless_is_told_without_one(tmp_path):
    name = "saponification-value"
    book = load_workbook(BytesIO(marks_workbook(judged_tree(class_sheet(name, tmp_path / "class.csv"), name, ()), "")))
    told = {row[1]: row[2:5] for row in book["Class"].iter_rows(values_only=True)}
    assert told["reagent in excess"] == (25, "cm³", "KOH: XR + KOH -> KX + ROH")
    assert "concentration of the reagent in excess" not in told


def test_every_practical_that_ships_and_says_something_new_is_worked():
    older = {
        "drain-cleaner", "eggshells", "iodine-solution", "limescale-remover", "moss-killer", "sea-water", "vinegar",
        "standardise-sodium-hydroxide", "standardise-by-weighing", "washing-soda", "washing-soda-crystals",
        "hydroxide-and-carbonate", "carbonate-and-hydrogencarbonate", "calcium-and-magnesium",
    }  # fmt: skip
    assert {path.stem for path in practicals_folder().glob("*.toml")} == older | set(WORK)
