"""Headings in many wordings: what they say is read, or left unused and said; no faultless student loses by a heading."""

from __future__ import annotations

import csv
import json
import random

import pytest

from labmark.outputs.data import results_text
from labmark.pipeline import judged_tree
from labmark.problems import InputError
from tests.fair_students import DRAIN
from tests.seeds import times
from tests.test_strange_sheets import PEOPLE

QUICK, MANY = 10, times(400)

# (initial, final, titre) as people call them; a row is one person's choice.
READINGS = (
    ("initial", "final", "titre"),
    ("Initial reading", "Final reading", "Titre"),
    ("initial burette reading", "final burette reading", "titre"),
    ("start", "end", "volume used"),
    ("Start reading", "End reading", "Volume used"),
    ("starting volume", "final volume", "volume added"),
    ("Vi", "Vf", "Vt"),
    ("V1", "V2", "V2-V1"),
    ("V_i", "V_f", "ΔV"),
    ("before", "after", "used volume"),
    ("Burette start", "Burette end", "Titre"),
    ("reading at start", "reading at end", "volume"),
    ("1st reading", "2nd reading", "difference"),
    ("Initial vol", "Final vol", "Titre vol"),
    ("Init.", "Fin.", "Titre"),
    ("V₁", "V₂", "V₂-V₁"),
    ("burette initial", "burette final", "volume delivered"),
    ("initial level", "final level", "titre"),
    ("Start value", "End value", "Difference"),
)
ROUGHS = (
    "Rough",
    "rough titration",
    "R",
    "Trial",
    "Range-finder",
    "Approximate",
    "Rough run",
    "Practice",
    "Estimate",
    "rough (1)",
)
RUNS = (
    ("1", "2"), ("Run 1", "Run 2"), ("Titration 1", "Titration 2"), ("First", "Second"), ("I", "II"), ("T1", "T2"),
    ("Accurate 1", "Accurate 2"), ("1st", "2nd"), ("#1", "#2"), ("A", "B"), ("Titre 1", "Titre 2"), ("No. 1", "No. 2"),
    ("Attempt 1", "Attempt 2"), ("run one", "run two"), ("Trial 1", "Trial 2"),
)  # fmt: skip
UNITS = ("", " / cm3", " (cm³)", " [mL]", " in cm³", " /cm^3", " ml", " (mL)")
FORMS = (
    "{r} {w}{u}",
    "{w} {r}{u}",
    "{r}: {w}{u}",
    "{w} ({r}){u}",
    "{r} - {w}{u}",
    "{r}, {w}{u}",
    "{w}, {r}{u}",
    "{r}_{w}{u}",
    "{w}{u} {r}",
)
NAMES = ("Student", "Name", "Student name", "Pupil", "Candidate", "Learner", "Full name", "Who")
MEANS = (
    "Mean titre",
    "Mean",
    "Average titre",
    "Average",
    "Avg. titre",
    "x̄",
    "Mean of concordant titres",
    "Average of titres",
    "Mean vol.",
)
RESULTS = (
    "Result", "Concentration", "[NaOH]", "c(NaOH)", "Conc. NaOH", "Concentration of NaOH / mol dm-3", "Answer", "Molarity",
    "NaOH conc (M)", "c / mol/dm³", "Concentration (mol/L)", "My concentration",
)  # fmt: skip


def headings(rng: random.Random) -> list[str]:
    words, form, unit = rng.choice(READINGS), rng.choice(FORMS), rng.choice(UNITS)
    words = words if rng.random() < 0.6 else words[:2]
    labels = (rng.choice(ROUGHS), *rng.choice(RUNS))
    fields = [form.format(r=label, w=word, u=unit) for label in labels for word in words]
    return [rng.choice(NAMES), *fields, rng.choice(MEANS), rng.choice(RESULTS)]


def read(titles: list[str], folder) -> dict | None:
    """Return results.json of the three people under these headings; None where the sheet is refused."""
    titre = len(titles) == 12
    path, practical = folder / "class.csv", folder / "practical.toml"
    practical.write_text(DRAIN, encoding="utf-8")
    with path.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file)
        write.writerow(titles)
        for name, (runs, mean, result) in PEOPLE.items():
            cells = [[low, high, high - low][: 3 if titre else 2] for low, high in runs]
            write.writerow([name, *(f"{each:.2f}" for run in cells for each in run), f"{mean:.2f}", f"{result:.3f}"])
    try:
        return json.loads(results_text(judged_tree(path, str(practical), ())))
    except InputError:
        return None


def harm(tree: dict) -> list[str]:
    """Return what a faultless student lost, or was read otherwise."""
    found = (
        [f"students {[each['student'] for each in tree['students']]}"]
        if {each["student"] for each in tree["students"]} != set(PEOPLE)
        else []
    )
    for student in tree["students"]:
        ends = {(run["initial"], run["final"]) for run in student["runs"]}
        known, mean, result = PEOPLE.get(student["student"], ((), None, None))
        found += [f"{student['student']} {each}" for each in ends - {*known, (None, None)}]
        claimed = (student["claimed"]["mean_titre"], student["claimed"]["result"])
        found += (
            [f"{student['student']} {claimed}"]
            if claimed[0] not in (mean, None) or claimed[1] not in (result, None)
            else []
        )
        found += [
            f"{student['student']} {mark['criterion']}"
            for mark in student["marks"]
            if mark["mark"] not in (mark["out_of"], None)
        ]
    return found


@pytest.mark.parametrize("seeds", [range(QUICK), pytest.param(range(QUICK, MANY), marks=pytest.mark.slow)])
def test_nobody_loses_by_a_heading(seeds, tmp_path):
    harmed, refused = [], 0
    for seed in seeds:
        titles = headings(random.Random(seed))
        tree = read(titles, tmp_path)
        refused += tree is None
        harmed += [(titles, harm(tree))] if tree is not None and harm(tree) else []
    assert harmed == []
    assert refused < len(seeds) / 10


def test_a_first_and_a_second_reading_beside_a_third_are_asked_about(tmp_path):
    (tmp_path / "practical.toml").write_text(DRAIN, encoding="utf-8")
    sheet = "Student,1st reading,2nd reading,3rd reading\nAda,25.30,25.25,25.35\nBo,25.30,25.30,25.25\n"
    (tmp_path / "class.csv").write_text(sheet, encoding="utf-8")
    with pytest.raises(InputError, match="first, second and third reading may be titres, or readings of runs"):
        judged_tree(tmp_path / "class.csv", str(tmp_path / "practical.toml"), ())
