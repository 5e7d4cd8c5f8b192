"""How much the random tests try: a little in the usual run, many times that in tests/benchmarks/bench_many_seeds.py."""

import os
from collections.abc import Iterable
from typing import Any

import pytest

TIMES = int(os.environ.get("LABMARK_TIMES", "1"))


def times(few: int) -> int:
    """Return a number of seeds or examples, as many times over as was asked for."""
    return few * TIMES


def few_quick(cases: Iterable[Any], every: int) -> list[Any]:
    """Return cases of one behaviour for `parametrize`: one in `every` is quick, the others are marked slow."""
    return [case if place % every == 0 else _slow(case) for place, case in enumerate(cases)]


def _slow(case: Any) -> Any:
    values = case if isinstance(case, tuple) else (case,)
    return pytest.param(*values, marks=pytest.mark.slow)
