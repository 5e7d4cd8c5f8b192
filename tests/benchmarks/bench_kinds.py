"""Right work of every kind of titration: own masses, blanks, chains, back titrations, powers, each worked by arithmetic.

    python -m tests.benchmarks.bench_kinds [STUDENTS]

Classes of eight who did everything right (`tests/test_shipped_classes.py`, which knows nothing of the diagnosis) are
marked; whoever loses a mark in the working, or is told of a mishap or a slip, is counted and shown.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from labmark.pipeline import judged_tree
from tests.test_shipped_classes import WORK, class_sheet

SIZE = 8


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
    print(f"{seen} students who did it right: {lost} lose a mark other than accuracy, {accused} are told of something")


if __name__ == "__main__":
    main()
