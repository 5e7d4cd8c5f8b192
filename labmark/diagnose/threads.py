"""The same work on several parts at once, in two threads; what comes back does not depend on their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

THREADS = 2
"""More would wait for one another: what is not arithmetic on arrays runs in one thread at a time."""

Part = TypeVar("Part")
Found = TypeVar("Found")


def in_threads(work: Callable[[Part], Found], parts: Iterable[Part]) -> Iterator[Found]:
    """Yield work(part) for each part, in the order of the parts; a single part is worked on here and now."""
    parts = list(parts)
    threads = min(len(parts), THREADS)
    if threads < 2:
        yield from map(work, parts)
        return
    with ThreadPoolExecutor(threads) as pool:
        yield from pool.map(work, parts)
