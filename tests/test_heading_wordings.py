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
    ("V0", "V1", "Veq"),
    ("init", "fin", "vol"),
    ("Start vol", "End vol", "Vol used"),
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
    "r",
    "r1",
    "0",
)
RUNS = (
    ("1", "2"), ("Run 1", "Run 2"), ("Titration 1", "Titration 2"), ("First", "Second"), ("I", "II"), ("T1", "T2"),
    ("Accurate 1", "Accurate 2"), ("1st", "2nd"), ("#1", "#2"), ("A", "B"), ("Titre 1", "Titre 2"), ("No. 1", "No. 2"),
    ("Attempt 1", "Attempt 2"), ("run one", "run two"), ("Trial 1", "Trial 2"), ("a1", "a2"), ("Acc. 1", "Acc. 2"),
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
    "Vmoy",
    "Average of concordant titres",
)
RESULTS = (
    "Result", "Concentration", "[NaOH]", "c(NaOH)", "Conc. NaOH", "Concentration of NaOH / mol dm-3", "Answer", "Molarity",
    "NaOH conc (M)", "c / mol/dm³", "Concentration (mol/L)", "My concentration",
    "c", "M", "mol/dm3", "Conc. / M", "c1",
)  # fmt: skip


def headings(rng: random.Random) -> list[str]:
    words, form, unit = rng.choice(READINGS), rng.choice(FORMS), rng.choice(UNITS)
    words = words if rng.random() < 0.6 else words[:2]
    labels = (rng.choice(ROUGHS), *rng.choice(RUNS))
    fields = [form.format(r=label, w=word, u=unit) for label in labels for word in words]
    return [rng.choice(NAMES), *fields, rng.choice(MEANS), rng.choice(RESULTS)]


def read(titles: list[str], folder) -> dict | None:
    """Return results.json of the three people under these headings; None where the sheet is refused."""
    size = 3 if len(titles) == 12 else 2
    rows = [titles]
    for name, (runs, mean, result) in PEOPLE.items():
        rows.append([name, *(each for run in runs for each in cells_of(run)[:size]), f"{mean:.2f}", f"{result:.3f}"])
    return judged(rows, folder)


def cells_of(run: tuple[float, float]) -> list[str]:
    low, high = run
    return [f"{each:.2f}" for each in (low, high, high - low)]


def judged(rows: list[list[str]], folder) -> dict | None:
    path, practical = folder / "class.csv", folder / "practical.toml"
    practical.write_text(DRAIN, encoding="utf-8")
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    try:
        return json.loads(results_text(judged_tree(path, str(practical), ())))
    except InputError:
        return None


LABELS = ("Run", "Titration", "Trial", "No.", "", "Titration no.", "Experiment", "Nr.", "#", "Attempt", "Type")


def laid_out(rng: random.Random) -> list[list[str]]:
    """Return the three people in one of the layouts whose runs are labels: in lines, across, in blocks of either way."""
    words, unit, name, label = rng.choice(READINGS), rng.choice(UNITS), rng.choice(NAMES), rng.choice(LABELS)
    runs_as, mean_as, result_as = (rng.choice(ROUGHS), *rng.choice(RUNS)), rng.choice(MEANS), rng.choice(RESULTS)
    heads = [f"{word}{unit}" for word in (words if rng.random() < 0.6 else words[:2])]
    size, layout, rows = len(heads), rng.choice(("lines", "names once", "across", "blocks", "lines in blocks")), []
    if layout in ("lines", "names once"):
        rows.append([name, label, *heads, mean_as, result_as])
    elif layout == "across":
        rows.append([name, "", *runs_as, mean_as, result_as])
    for who, (runs, mean, result) in PEOPLE.items():
        cells, own = [cells_of(run)[:size] for run in runs], [f"{mean:.2f}", f"{result:.3f}"]
        downwards = [[head, *each] for head, each in zip(heads, zip(*cells, strict=True), strict=True)]
        if layout in ("lines", "names once"):
            named = [who if layout == "lines" or at == 0 else "" for at in range(len(runs))]
            lines = zip(named, runs_as, cells, [own, [], []], strict=True)
            rows += [[each, run, *read_off, *rest] for each, run, read_off, rest in lines]
        elif layout == "across":
            rows += [[who if at == 0 else "", *line, *(own if at == 0 else [])] for at, line in enumerate(downwards)]
        elif layout == "blocks":
            rows += [[f"{name}: {who}"], ["", *runs_as], *downwards, [mean_as, own[0]], [result_as, own[1]], []]
        else:
            gap = [""] * (size - 1)
            runs_down = [[run, *each] for run, each in zip(runs_as, cells, strict=True)]
            rows += [[name, who], [label, *heads], *runs_down, [mean_as, *gap, own[0]], [result_as, *gap, own[1]], []]
    return rows


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


SEEDS = pytest.mark.parametrize("seeds", [range(QUICK), range(QUICK, MANY)])


def tried(seeds, made, read_from):
    """Return (what was made and who lost what by it) of every seed that did harm, and how many were refused."""
    harmed, refused = [], 0
    for seed in seeds:
        sheet = made(random.Random(seed))
        tree = read_from(sheet)
        refused += tree is None
        if tree is not None and (lost := harm(tree)):
            harmed.append((sheet, lost))
    return harmed, refused


@pytest.mark.slow
@SEEDS
def test_nobody_loses_by_a_heading(seeds, tmp_path):
    harmed, refused = tried(seeds, headings, lambda titles: read(titles, tmp_path))
    assert harmed == []
    assert refused <= max(2, len(seeds) / 10)


@pytest.mark.slow
@SEEDS
def test_nobody_loses_by_a_layout_and_its_labels(seeds, tmp_path):
    harmed, refused = tried(seeds, laid_out, lambda rows: judged(rows, tmp_path))
    assert harmed == []
    assert refused <= max(3, len(seeds) / 5)


def test_a_first_and_a_second_reading_beside_a_third_are_asked_about(tmp_path):
    (tmp_path / "practical.toml").write_text(DRAIN, encoding="utf-8")
    sheet = "Student,1st reading,2nd reading,3rd reading\nAda,25.30,25.25,25.35\nBo,25.30,25.30,25.25\n"
    (tmp_path / "class.csv").write_text(sheet, encoding="utf-8")
    with pytest.raises(InputError, match="first, second and third reading may be titres, or readings of runs"):
        judged_tree(tmp_path / "class.csv", str(tmp_path / "practical.toml"), ())
