"""The random tests with many times their seeds: `python -m tests.benchmarks.bench_many_seeds [TIMES] [TEST FILE ...]`.

Ten times takes about a quarter of an hour on two cores: 6,000 mutated workbooks, 30,000 students who did it right in odd
ways, 10,000 cells with one meaning in odd words, 4,000 class sheets of odd headings, 600 random classes.
"""

from __future__ import annotations

import os
import subprocess
import sys

FILES = (
    "tests/test_read_mutations.py",
    "tests/test_right_in_odd_ways.py",
    "tests/test_known_meaning.py",
    "tests/test_heading_wordings.py",
    "tests/test_fair_properties.py",
    "tests/test_several_planted.py",
    "tests/test_class_view.py",
    "tests/test_class_sheet.py",
)


def main() -> int:
    """Run the tests, and return their exit status."""
    times, *files = sys.argv[1:] or ["10"]
    command = [sys.executable, "-m", "pytest", "-q", "-n", "2", *(files or FILES)]
    return subprocess.run(command, env=os.environ | {"LABMARK_TIMES": times}).returncode


if __name__ == "__main__":
    sys.exit(main())
