"""How much the random tests try: a little in the usual run, many times that in tests/benchmarks/bench_many_seeds.py."""

import os

TIMES = int(os.environ.get("LABMARK_TIMES", "1"))


def times(few: int) -> int:
    """Return a number of seeds or examples, as many times over as was asked for."""
    return few * TIMES
