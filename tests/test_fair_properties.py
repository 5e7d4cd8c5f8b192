"""Random classes, made and reckoned here without labmark: no slip, no loss; and nothing on a sheet contradicts itself."""

from __future__ import annotations

import csv
import json
import random
import re
from dataclasses import dataclass, field
from fractions import Fraction
from math import floor, log10

import pytest

from labmark.outputs.data import results_text
from labmark.pipeline import judged_tree
from tests.fair_students import CRYSTALS, DILUTED, DRAIN, EGGSHELLS, STANDARD, VINEGAR
from tests.seeds import few_quick, times

QUICK, MANY = 3, times(60)

# name -> (practical, what a mean titre [cm³] gives, expected titre [cm³], significant figures); sums as in fair_students.py.
# Molar masses to two decimals: 60.05, 100.09, 105.99 and 18.02 g/mol (common practice, no source).
PRACTICALS = {
    "drain": (DRAIN, lambda v: v * Fraction("0.004"), Fraction("25.30"), 3),
    "diluted": (DILUTED, lambda v: v / 10, Fraction("25.30"), 3),
    "vinegar": (VINEGAR, lambda v: v / 250 * Fraction("60.05"), Fraction("21.315"), 3),
    "eggshells": (
        EGGSHELLS,
        lambda v: (Fraction(1, 20) - v / 1000) / 2 * Fraction("100.09") / Fraction("1.5") * 100,
        Fraction("22.064"),
        3,
    ),
    "crystals": (
        CRYSTALS,
        lambda v: (Fraction("3.25") / (v / 2000) - Fraction("105.99")) / Fraction("18.02"),
        Fraction("23.006"),
        3,
    ),
    "standard": (STANDARD, lambda v: 2 / v, Fraction("20.305"), 4),
}


@dataclass
class Made:
    """A student with what was planted."""

    name: str
    runs: list[dict]
    """Each with initial, final, titre [hundredths of a cm³], ticked."""
    mean: str
    result: str
    slips: list[str] = field(default_factory=list)


def half_up(value: Fraction, decimals: int) -> str:
    scaled = floor(value * 10**decimals + Fraction(1, 2))
    digits = f"{scaled:0{decimals + 1}d}"
    return f"{digits[:-decimals]}.{digits[-decimals:]}" if decimals else digits


def to_figures(value: Fraction, figures: int) -> str:
    """Round half up to so many significant figures, as a student writes it."""
    decimals = max(0, figures - 1 - floor(log10(value)))
    text = half_up(value, decimals)
    return half_up(value, decimals - 1) if len(text.replace(".", "").lstrip("0")) > figures and decimals else text


def written_mean(rng: random.Random, mean: Fraction) -> str:
    """A right mean in one of the ways in which it is written."""
    ways = [half_up(mean, 2), half_up(Fraction(floor(mean * 20 + Fraction(1, 2)), 20), 2), half_up(mean, 3)]
    return rng.choice(ways)


def a_run(rng: random.Random, titre: int, *, ticked: bool) -> dict:
    start = 5 * rng.randrange(0, min(100, (5000 - titre) // 5 + 1))
    return {"initial": start, "final": start + titre, "titre": titre, "ticked": ticked}


def student(rng: random.Random, name: str, practical: str) -> Made:
    """Somebody who did everything right, sometimes with one bad run that is left out."""
    _, gives, expected, figures = PRACTICALS[practical]
    centre = 5 * round((float(expected) + rng.uniform(-0.08, 0.08)) * 20)
    needed = 3 if practical == "standard" else 2
    good = [centre + rng.choice((-5, 0, 5)) for _ in range(rng.choice((needed, 3, 4)))]
    runs = [a_run(rng, titre, ticked=True) for titre in good]
    if rng.random() < 0.3:
        away = rng.choice((-1, 1, 1, 1)) * 5 * rng.randrange(6, 16)
        runs.insert(rng.randrange(len(runs) + 1), a_run(rng, centre + away, ticked=False))
    rough = a_run(rng, centre + 5 * rng.randrange(4, 20), ticked=False)
    mean = Fraction(sum(good), 100 * len(good))
    own = written_mean(rng, mean)
    result = to_figures(gives(Fraction(own) if rng.random() < 0.6 else mean), figures)
    return Made(name, [rough, *runs], own, result)


def plant(rng: random.Random, made: Made, practical: str) -> None:
    """Plant one slip and carry it on, or not, as students do."""
    slip = rng.choice(("titre", "mean", "result", "reading", "rough in mean", "blank mean", "blank result", "coarse"))
    run = rng.choice([each for each in made.runs if each["ticked"]])
    made.slips.append(slip)
    if slip == "titre":
        run["titre"] += rng.choice((10, -10, 100, -100))
    elif slip == "mean":
        made.mean = half_up(Fraction(made.mean) + Fraction(rng.choice((-1, 1)) * rng.randrange(20, 90), 100), 2)
    elif slip == "result":
        made.result = f"{float(made.result) * rng.choice((2, 0.5, 1000, 1.13)):.4g}"
    elif slip == "reading":
        run["final"] = None
    elif slip == "rough in mean":
        used = [each["titre"] for each in made.runs if each["ticked"]] + [made.runs[0]["titre"]]
        made.runs[0]["ticked"] = True
        made.mean = half_up(Fraction(sum(used), 100 * len(used)), 2)
    elif slip == "blank mean":
        made.mean = ""
    elif slip == "blank result":
        made.result = ""
    else:
        run["final"] += 2
        run["titre"] += 2
        _, gives, _, figures = PRACTICALS[practical]
        used = [each["titre"] for each in made.runs if each["ticked"]]
        made.mean = half_up(Fraction(sum(used), 100 * len(used)), 2)
        made.result = to_figures(gives(Fraction(made.mean)), figures)


def volume(value: int | None) -> str:
    return "" if value is None else f"{value / 100:.2f}"


def sheet(made: list[Made], columns: set[str]) -> list[list[str]]:
    """The plain class sheet; `columns` says which of titre, used, mean and result it has."""
    most = max(len(each.runs) for each in made)
    titre, used = "titre" in columns, "used" in columns
    header = ["Student", "Rough initial", "Rough final", *(["Rough titre"] if titre else [])]
    header += [*(["Rough used"] if used else [])]
    for run in range(1, most):
        header += [f"Run {run} initial", f"Run {run} final"]
        header += ([f"Run {run} titre"] if titre else []) + ([f"Run {run} used"] if used else [])
    header += [title for key, title in (("mean", "Mean titre"), ("result", "Result")) if key in columns]
    rows = [header]
    for one in made:
        row = [one.name]
        for run in [*one.runs, *[None] * (most - len(one.runs))]:
            cells = (
                {"initial": "", "final": ""} if run is None else {key: volume(run[key]) for key in ("initial", "final")}
            )
            row += [cells["initial"], cells["final"]]
            row += ["" if run is None else volume(run["titre"])] if titre else []
            row += ["" if run is None or not run["ticked"] else "y"] if used else []
        row += [text for key, text in (("mean", one.mean), ("result", one.result)) if key in columns]
        rows.append(row)
    return rows


NAMES = [
    "Ada",
    "Ben",
    "Cem",
    "Dov",
    "Ewa",
    "Fio",
    "Gil",
    "Hui",
    "Ida",
    "Jan",
    "Kai",
    "Lea",
    "Mo",
    "Nia",
    "Ola",
    "Per",
    "Quy",
    "Ria",
    "Sol",
    "Tam",
]


def a_class(seed: int) -> tuple[str, list[Made], set[str], str]:
    """(practical, students, columns, decimal mark) of a random class."""
    rng = random.Random(seed)
    practical = rng.choice(list(PRACTICALS))
    made = [student(rng, name, practical) for name in NAMES[: rng.randrange(6, 15)]]
    for one in made:
        if rng.random() < 0.35:
            plant(rng, one, practical)
    columns = {each for each in ("titre", "used", "mean", "result") if rng.random() < 0.85}
    if any(slip in ("rough in mean", "blank mean") for one in made for slip in one.slips):
        columns |= {"mean"}
    return practical, made, columns, rng.choice((".", ".", ","))


def tree_of(seed: int, folder) -> tuple[list[Made], dict, set[str]]:
    practical, made, columns, mark = a_class(seed)
    rows = sheet(made, columns)
    path, toml = folder / f"class{seed}.csv", folder / f"{practical}.toml"
    with path.open("w", encoding="utf-8", newline="") as file:
        body = [[cell.replace(".", mark) if place else cell for place, cell in enumerate(row)] for row in rows[1:]]
        csv.writer(file, delimiter=";" if mark == "," else ",").writerows([rows[0], *body])
    toml.write_text(PRACTICALS[practical][0], encoding="utf-8")
    return made, json.loads(results_text(judged_tree(path, str(toml), ()))), columns


SAYS_LOST = {
    "coarse-reading": {"recording"},
    "not-a-number": {"recording"},
    "missing-reading": {"table"},
    "subtraction-slip": {"titres"},
    "too-few-runs": {"concordance"},
    "no-concordant-runs": {"concordance"},
    "rough-in-mean": {"selection"},
    "discordant-in-mean": {"selection"},
    "mean-slip": {"mean"},
    "ratio-ignored": {"calculation"},
    "ratio-inverted": {"calculation"},
    "volume-units": {"calculation"},
    "volumes-swapped": {"calculation"},
    "dilution-ignored": {"calculation"},
    "difference-forgotten": {"calculation"},
    "rough-in-result": {"calculation", "selection"},
    "result-slip": {"calculation"},
    "rounding": {"calculation", "figures", "mean"},
}
"""A finding that is more than a note -> the criteria of which at least one must have lost something, or not be there."""


def contradictions(student: dict) -> list[str]:
    """Return what a student's findings and marks say against one another."""
    marks = {each["criterion"]: each for each in student["marks"]}
    lost = {name for name, each in marks.items() if each["mark"] is not None and each["mark"] < each["out_of"]}
    found = []
    for each in student["findings"]:
        criteria = SAYS_LOST.get(each["finding"], set())
        there = {name for name in criteria if name in marks and marks[name]["mark"] is not None}
        if each["level"] != "note" and there and not there & lost:
            found.append(f"{each['finding']} ({each['message']}), but {sorted(there)} is full")
    codes = {each["finding"] for each in student["findings"]}
    if "calculation" in lost and student["claimed"]["result"] is not None:
        explained = {code for code, criteria in SAYS_LOST.items() if "calculation" in criteria} | {"impossible-result"}
        if not codes & (explained | {"missing-input"}):
            found.append("calculation is lost, and no finding says why")
    found += exclusive(student)
    settled = [each for each in student["marks"] if each["mark"] is not None]
    if (student["total"], student["out_of"]) != tuple(sum(each[key] for each in settled) for key in ("mark", "out_of")):
        found.append("the total is not the sum of the marks")
    found += [f"{each['criterion']} is out of range" for each in settled if not 0 <= each["mark"] <= each["out_of"]]
    found += [
        f"{each['criterion']} waits with a mark"
        for each in student["marks"]
        if each.get("pending") and each["mark"] is not None
    ]
    return found


# Of each kind one figure has one explanation: a second may be named in the same message, not found beside it.
EXPLAINS = {
    "the result": {code for code, criteria in SAYS_LOST.items() if "calculation" in criteria} - {"rounding"},
    "the mean": {"rough-in-mean", "discordant-in-mean"},
    "a run": {
        "reversed-readings", "misread-division", "read-upside-down", "digits-swapped", "overshoot", "undershoot",
        "implausible-titre", "subtraction-slip",
    },
}  # fmt: skip


def exclusive(student: dict) -> list[str]:
    """Return findings that explain one figure in more than one way."""
    found = []
    for what, codes in EXPLAINS.items():
        told: dict[object, set[str]] = {}
        for each in student["findings"]:
            if each["finding"] in codes and each["level"] != "note":
                told.setdefault(each["run"] if what == "a run" else None, set()).add(each["message"])
        found += [
            f"{what} {run or ''} is explained twice: {messages}" for run, messages in told.items() if len(messages) > 1
        ]
    return found


def losses(made: Made, student: dict, columns: set[str]) -> list[str]:
    """Return what somebody who made no slip lost or was told."""
    if made.slips:
        return []
    found = [
        f"{each['criterion']} {each['mark']}: {each['reason']}"
        for each in student["marks"]
        if each["mark"] != each["out_of"]
    ]
    # A run that was left out may be explained; nothing is wrong with the student's work.
    left_out = {run["label"] for run in student["runs"] if not run["used"]}
    found += [
        f"{each['finding']}: {each['message']}"
        for each in student["findings"]
        if each["level"] != "note" and each["run"] not in left_out
    ]
    asked = {"recording", "table", "concordance", "accuracy"} | ({"titres"} if "titre" in columns else set())
    asked |= {"selection"} if columns & {"used", "mean"} else set()
    asked |= {"mean"} & columns | ({"calculation", "figures"} if "result" in columns else set())
    missing = asked - {each["criterion"] for each in student["marks"]}
    return found + [f"{each} is left out" for each in sorted(missing)]


COSTS = {
    "titre": ({"titres"},),
    # A wrong mean may by chance be that of other runs: then it is the choice that is lost.
    "mean": ({"mean"}, {"selection"}),
    "reading": ({"table"}, {"table", "concordance"}, {"table", "concordance", "accuracy"}),
    "rough in mean": ({"selection"},),
    "blank mean": ({"mean"},),
    "blank result": ({"calculation"},),
    "coarse": (
        {"recording"},
        {"recording", "concordance"},
        {"recording", "selection"},
        {"recording", "concordance", "selection"},
    ),
    "result": ({"calculation"}, {"calculation", "figures"}),
}
"""A slip -> what it may cost: its own criterion, and where 0.02 cm³ or a run lost part titres, their agreement."""


def overcharged(made: Made, student: dict) -> list[str]:
    """Return what one slip cost beyond its own criterion."""
    if not made.slips:
        return []
    lost = {
        each["criterion"] for each in student["marks"] if each["mark"] is not None and each["mark"] < each["out_of"]
    }
    if not lost or lost in COSTS[made.slips[0]]:
        return []
    return [f"{made.slips[0]} cost {sorted(lost)}: {made}"]


NUMBER = r"(\d+(?:\.\d+)?)"
AWAY = re.compile(rf"{NUMBER} ?% (above|below) (?:the|its) reference(?: of| value of)?(?: {NUMBER})?")
PERCENTAGE = re.compile(rf"(above|below) the reference {NUMBER} %: a percentage error of {NUMBER} %")
FROM_EXPECTED = re.compile(
    rf"{NUMBER} cm³(?: \({NUMBER} ?%\))? (above|below) (?:what is expected|the expected {NUMBER})"
)
MEAN_AGAINST = re.compile(rf"mean titre {NUMBER} cm³ is {NUMBER} cm³ (above|below) the expected {NUMBER} cm³")
GIVES = re.compile(rf"gives {NUMBER} [^,.]*, {NUMBER} % (above|below) the reference")


def texts_of(student: dict) -> list[str]:
    told = student["feedback"]
    said = [told["summary"], *told["causes"], *told["next"]] if told else []
    return said + [each["message"] for each in student["findings"]] + [each["reason"] for each in student["marks"]]


def decimals_of(text: str) -> int:
    return len(text.partition(".")[2])


def disagreements(student: dict) -> list[str]:
    """Return the numbers on one sheet that cannot all be true."""
    found = []
    reference = student["reference"] or {}
    if student["percent_error"] is not None and student["result"]:
        true = (student["result"]["value"] / reference["value"] - 1) * 100
        if abs(true - student["percent_error"]) > 1e-3:
            found.append(f"percent error {student['percent_error']}, but result and reference give {true}")
    said = texts_of(student)
    percents = {(amount, way) for text in said for amount, way, _ in AWAY.findall(text)}
    percents |= {(amount, way) for text in said for way, _, amount in PERCENTAGE.findall(text)}
    percents |= {(amount, way) for text in said for _, amount, way, _ in FROM_EXPECTED.findall(text) if amount}
    if len(percents) > 1:
        found.append(f"{sorted(percents)} from one reference")
    distances = {(amount, way) for text in said for amount, _, way, _ in FROM_EXPECTED.findall(text)}
    # Without concordance the result is that of the closest runs, and accuracy that of the runs ticked.
    if len(distances) > 1 and student["concordant"]:
        found.append(f"{sorted(distances)} cm³ from one expected titre")
    for text in said:
        for mean, amount, way, expected in MEAN_AGAINST.findall(text):
            off = (Fraction(mean) - Fraction(expected)) * (1 if way == "above" else -1)
            # What is printed is rounded: a mean to 0.001, an expected titre to 0.01.
            if abs(off - Fraction(amount)) > Fraction(1, 100):
                found.append(f"{text}: {float(off):.3f} as printed")
        for value, amount, way in GIVES.findall(text):
            off = (Fraction(value) / Fraction(str(reference["value"])) - 1) * 100 * (1 if way == "above" else -1)
            if abs(off - Fraction(amount)) > Fraction(6, 10 ** (decimals_of(amount) + 1)):
                found.append(f"{text} beside a reference of {reference['value']}: {float(off):.2f} % as printed")
    return found


# In class 20 a result rests on a reading that is missing, where neither titres nor a mean are written.
SEEDS = few_quick([20, *range(QUICK), *(seed for seed in range(QUICK, MANY) if seed != 20)], MANY)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_slip_no_loss_and_a_slip_costs_its_own_criterion(seed, tmp_path):
    made, tree, columns = tree_of(seed, tmp_path)
    assert [each["student"] for each in tree["students"]] == [one.name for one in made]
    for one, student in zip(made, tree["students"], strict=True):
        told = losses(one, student, columns) + overcharged(one, student) + contradictions(student)
        assert told == [], (one, student["claimed"])


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(QUICK), range(QUICK, MANY)])
def test_no_number_on_a_sheet_contradicts_another(seeds, tmp_path):
    told = [
        said for seed in seeds for student in tree_of(seed, tmp_path)[1]["students"] for said in disagreements(student)
    ]
    assert told == []
