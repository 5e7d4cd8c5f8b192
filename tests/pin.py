"""What the samples come to, kept so that a change of the program can be held against it.

    python -m tests.pin FOLDER              write the record tree of every sample and seed
    python -m tests.pin FOLDER --against OLD   write them, and print every value that differs from OLD

Numbers that agree to nine figures are the same; keys that are only added are left out of the comparison.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate
from math import isclose
from pathlib import Path
from typing import Any

from labmark.judge.stages import judge
from labmark.outputs.data import results_text
from labmark.outputs.table import marks_csv
from labmark.pipeline import judged_tree
from labmark.places import practicals_folder
from labmark.practical import practical_from_toml
from labmark.tree import record_tree
from tests.benchmarks.behaviours import Bench, simulate, write
from tests.benchmarks.bench_behaviours import KINDS
from tests.classes import scattered, tree_of
from tests.practicals import DRAIN_CLEANER
from tests.samples import bench, classes, files
from tests.samples.plans import PLANS
from tests.several_classes import LYE, WELL, class_of, endpoints, student
from tests.test_several import titration
from tests.test_several_planted import figures, lye, planted, well

SEEDS = (bench.SEED, 5, 6, 7)
SAME = 1e-9
SLIPS = ("", "whole", "other", "from the start", "thousand", "mass", "no mass")
"""What goes wrong in the working of several titres, by the makers of these classes; some make no slip of one."""
WRONG_BY = (1, 1, 1000, 1 / 1000, 2, 0.5, 1.1, 1)
"""What the students of a class multiply their results by."""


STANDARDISED = """
[standardisation]
standard = "Na2CO3"
equation = "Na2CO3 + H2SO4 -> Na2SO4 + CO2 + H2O"
masses = [ 0.1325, 0.1298, 0.1341 ]
titres = [ 25.00, 24.50, 25.30 ]
purity_within = 0.0005
"""
"""0.1325 ÷ 105.99 ÷ 0.02500 = 0.0500 mol/dm³ of sulfuric acid."""


def trees() -> Iterator[tuple[str, Any]]:
    """Yield (name, record tree): each sample class by several seeds, then a class for each practical that ships,
    classes with several titres in which every slip of theirs is planted, classes of which many behave oddly, and
    classes that are off as a whole."""
    for seed in SEEDS:
        classes.SEED = files.SEED = seed
        for plan in PLANS:
            yield from _sample(plan, seed)
    for path in sorted(practicals_folder().glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        if "[[endpoints]]" in text or "[[titrations]]" in text:
            yield path.stem, _several_titres(text)
        else:
            centre = float(tree_of(scattered(3), text=text)["class"]["expected_titre"])
            yield path.stem, tree_of(scattered(8, centre), text=text)
    for name, text, make in (("lye", LYE, lye), ("well", WELL, well)):
        for slip in SLIPS:
            yield f"{name}-{slip.replace(' ', '-') or 'right'}", _tree(planted(make, SEEDS, slip), text)
    for kind in KINDS:
        for seed in SEEDS:
            yield f"odd-{kind.replace(' ', '-')}-{seed}", _odd(kind, seed)
    yield from _off_together()


def _odd(kind: str, seed: int) -> Any:
    """Return the tree of a class of which half behave oddly, or as the table of hypotheses says."""
    odd = Bench(kind, odd=0.3, usual=0.2)
    with tempfile.TemporaryDirectory() as folder:
        sheet, plan = write(Path(folder), odd, *simulate(odd, seed))
        return judged_tree(sheet, str(plan), ())


def _off_together() -> Iterator[tuple[str, Any]]:
    """Yield classes of 24 in four benches, that work in turn and have one bottle of two: what moves with the order, a
    bench, a bottle that crosses the benches; and one whose titrant was standardised."""

    def group(place: int) -> dict[str, str]:
        return {"Bench": str(1 + place // 6), "Bottle": "AB"[place >= 15]}

    moved = {
        "nothing-off": lambda _: 24.35,
        "drift": lambda place: 24.0 + 0.03 * place,
        "bench-off": lambda place: 24.35 if place // 6 != 1 else 25.3,
        "bottle-off": lambda place: 24.35 if place < 15 else 23.6,
        "drift-and-bench": lambda place: 24.0 + 0.03 * place + (0.95 if place // 6 == 1 else 0),
        "reference-off": lambda _: 25.1,
    }
    for name, centre in moved.items():
        students = scattered(24, centre, groups=group, order=lambda place: place + 1)
        yield name, tree_of(students)
    standardised = DRAIN_CLEANER.replace("concentration = 0.0500\n", "", 1) + STANDARDISED
    yield "standardised", tree_of(scattered(8), text=standardised)


def _tree(students: Sequence[Any], text: str) -> Any:
    return record_tree(judge(class_of(*students), practical_from_toml(text)), [None] * len(students))


def _several_titres(text: str) -> Any:
    """Return the tree of a class whose titres scatter about the expected ones; one student a slip in the results."""
    made = practical_from_toml(text)
    expected = _tree([student("none", [])], text)["practical"]["derived"]["expected_titres"]
    centres = {name: float(titre) for name, titre in expected.items()}
    endpoints_of_a_run = made.parts[0].series.endpoints
    rng = random.Random(1)
    runs = [[*_runs(centres, endpoints_of_a_run, rng)] for _ in WRONG_BY]
    bare = _tree([student(f"S{place}", each) for place, each in enumerate(runs)], text)
    students = []
    for place, (own, each, wrong) in enumerate(zip(bare["students"], runs, WRONG_BY, strict=True)):
        means = {name: f"{float(mean):.2f}" for name, mean in own["mean_titres"].items()}
        results = {name: figures(one["value"] * wrong) for name, one in own["results"].items()}
        students.append(student(f"S{place}", each, means, results))
    return _tree(students, text)


def _runs(centres: Mapping[str, float], endpoints_of_a_run: bool, rng: random.Random) -> Iterator[dict[str, Any]]:
    """Yield the rows of three runs with titres near their centres [cm³], to the nearest 0.05 cm³."""
    for label in ("1", "2", "3"):
        titres = [round(centre * 20 + rng.gauss(0, 1.5)) / 20 for centre in centres.values()]
        if endpoints_of_a_run:
            readings = [0.0, *accumulate(titres)]
            yield from endpoints(label, " ".join(f"{each:.2f}" for each in readings), tuple(centres))
        else:
            for name, titre in zip(centres, titres, strict=True):
                yield titration(name, label, f"0.00 {titre:.2f}")


def _sample(plan: Any, seed: int) -> Iterator[tuple[str, Any]]:
    try:
        made = classes.make_class(plan)
    except ValueError as refused:  # a slip that would not show with this seed
        print(f"{plan.file}, seed {seed}: {refused}", file=sys.stderr)
        return
    data = (files.workbook_bytes if plan.file.endswith(".xlsx") else files.csv_bytes)(plan, files.table(plan, made))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / plan.file
        path.write_bytes(data)
        tree = judged_tree(path, None if plan.own_practical is not None else plan.practical, ())
    tree["source"]["file"] = plan.file
    yield f"{path.stem}-{seed}", tree


def differences(old: Any, new: Any, place: str = "") -> Iterator[str]:
    """Yield every place whose value differs, with both values."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in old:
            yield from differences(old[key], new.get(key, "gone"), f"{place} / {key}")
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for number, (one, other) in enumerate(zip(old, new, strict=True)):
            name = one.get("student", one.get("finding", number)) if isinstance(one, dict) else number
            yield from differences(one, other, f"{place} / {name}")
    elif not _same(old, new):
        yield f"{place}: {old!r} -> {new!r}"


def _same(old: Any, new: Any) -> bool:
    numbers = all(isinstance(one, (int, float)) and not isinstance(one, bool) for one in (old, new))
    return old == new or (numbers and isclose(old, new, rel_tol=SAME, abs_tol=SAME))


def main(folder: Path, against: Path | None) -> None:
    """Write the trees, and print what differs."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, tree in trees():
        text = results_text(tree | {"marks.csv": marks_csv(tree).decode("utf-8-sig")})
        (folder / f"{name}.json").write_text(text, encoding="utf-8")
        if against is not None and (against / f"{name}.json").exists():
            old = json.loads((against / f"{name}.json").read_text(encoding="utf-8"))
            for line in differences(old, json.loads(text), name):
                print(line)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--against", metavar="OLD", type=Path)
    options = parser.parse_args()
    main(options.folder, options.against)
