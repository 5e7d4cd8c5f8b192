"""How long reading takes beside a bare load of the same file, both in the same run, in CPU time.

    python -m tests.benchmarks.bench_reading

Thirty rows of .xlsx beside openpyxl's load (value only; it would need a second load for formulas), and 10,000 rows of
plain .csv beside pandas' C reader. Taken in turn, the best of many: another program on the machine slows either.
"""

from __future__ import annotations

import gc
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
from openpyxl.styles import Font

from labmark.read import read_class
from tests.layouts import put, wide
from tests.test_read_text import large

ROWS = 10_000


def pairs(ours: Callable[[], object], theirs: Callable[[], object], runs: int) -> tuple[float, float]:
    """Return the best CPU seconds of each, taken in turn."""

    def seconds(action: Callable[[], object]) -> float:
        began = time.process_time()
        action()
        return time.process_time() - began

    gc.collect()
    timed = [(seconds(ours), seconds(theirs)) for _ in range(runs)]
    return min(each for each, _ in timed), min(each for _, each in timed)


def main() -> None:
    """Print both pairs."""
    with tempfile.TemporaryDirectory() as folder:
        workbook, table = Path(folder) / "class.xlsx", Path(folder) / "class.csv"
        book = openpyxl.Workbook()
        header, first = wide()[:2]
        put(book.active, [header, *([f"S{number:02}", *first[1:]] for number in range(30))])
        for cell in book.active[1]:
            cell.font = Font(bold=True)
        book.save(workbook)
        table.write_text(large(ROWS), encoding="utf-8")
        small = pairs(lambda: read_class(workbook), lambda: openpyxl.load_workbook(workbook), 60)
        big = pairs(lambda: read_class(table), lambda: pd.read_csv(table, engine="c"), 5)
    for what, (ours, theirs) in ((".xlsx, 30 rows", small), (f".csv, {ROWS:,} rows", big)):
        print(f"{what:22} labmark {1e3 * ours:8.1f} ms   bare load {1e3 * theirs:8.1f} ms   ratio {ours / theirs:.2f}")


if __name__ == "__main__":
    main()
