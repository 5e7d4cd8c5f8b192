"""Right work of every kind of titration: own masses, blanks, chains, back titrations, powers, each worked by arithmetic.

    python -m tests.benchmarks.bench_kinds [STUDENTS]

Classes of eight who did everything right (`tests/test_shipped_classes.py`, which knows nothing of the diagnosis) are
marked; whoever loses a mark in the working, or is told of a mishap or a slip, is counted and shown. Then cm³ and dm³ are
mixed up by all of them, and those of whom that is not said are counted.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from labmark.pipeline import judged_tree
from tests.test_shipped_classes import WORK, class_sheet

SIZE = 8
NOT_IN_PROPORTION = ("ethanedioic-acid-crystals", "soda-crystals-own-masses", "lime-water")
"""Where a volume that is 1000 times too large does not make the result so."""


def planted(name: str, wrong: float, folder: Path) -> tuple[int, int]:
    """Return of how many it is said that cm³ and dm³ were mixed up, and of how many it is true."""
    tree = judged_tree(class_sheet(name, folder / "class.csv", "", wrong), name, ())
    named = [any(each["finding"] == "volume-units" for each in one["findings"]) for one in tree["students"]]
    if not all(named):
        print(f"{name}, result times {wrong:g}: said of {sum(named)} of {len(named)}")
    return sum(named), len(named)


def main() -> None:
    students = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    classes = -(-students // SIZE // len(WORK))
    accused = lost = seen = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in WORK:
            for seed in range(classes):
                tree = judged_tree(class_sheet(name, Path(folder) / "class.csv", f" {seed}"), name, ())
                for one in tree["students"]:
                    seen += 1
                    below = [
                        mark for mark in one["marks"] if mark["mark"] is not None and mark["mark"] < mark["out_of"]
                    ]
                    working = [mark["reason"] for mark in below if mark["criterion"] != "accuracy"]
                    found = [each["message"] for each in one["findings"] if each["level"] != "note"]
                    lost += bool(working)
                    accused += bool(found)
                    for text in (*working, *found):
                        print(f"{name} {seed} {one['student']}: {text}")
        slips = [
            planted(name, wrong, Path(folder))
            for name in WORK
            if name not in NOT_IN_PROPORTION
            for wrong in (1000.0, 0.001)
        ]
    print(f"{seen} students who did it right: {lost} lose a mark other than accuracy, {accused} are told of something")
    print(f"cm³ and dm³ mixed up: said of {sum(said for said, _ in slips)} of {sum(of for _, of in slips)}")


if __name__ == "__main__":
    main()
