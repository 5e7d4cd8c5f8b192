"""What the samples come to, kept so that a change of the program can be held against it.

    python -m tests.pin FOLDER              write the record tree of every sample and seed
    python -m tests.pin FOLDER --against OLD   write them, and print every value that differs from OLD

Numbers that agree to nine figures are the same; keys that are only added are left out of the comparison.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Iterator
from math import isclose
from pathlib import Path
from typing import Any

from labmark.outputs.data import results_text
from labmark.outputs.table import marks_csv
from labmark.pipeline import judged_tree
from labmark.places import practicals_folder
from tests.classes import scattered, tree_of
from tests.samples import bench, classes, files
from tests.samples.plans import PLANS

SEEDS = (bench.SEED, 5, 6, 7)
SAME = 1e-9


def trees() -> Iterator[tuple[str, Any]]:
    """Yield (name, record tree): each sample class by several seeds, then a class for each practical that ships."""
    for seed in SEEDS:
        classes.SEED = files.SEED = seed
        for plan in PLANS:
            yield from _sample(plan, seed)
    for path in sorted(practicals_folder().glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        if "[[endpoints]]" in text or "[[titrations]]" in text:
            continue  # no one titre scatters about a centre there
        centre = float(tree_of(scattered(3), text=text)["class"]["expected_titre"])
        yield path.stem, tree_of(scattered(8, centre), text=text)


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
    options = sys.argv[1:]
    main(Path(options[0]), Path(options[2]) if "--against" in options else None)
