"""Work that a process of its own does beside the rest of a run.

The process starts at once, so that its imports are done while the class is still being read. It inherits no memory, on
any system. Where it cannot be started, or is ended from outside, the work is done here instead: only time rests on it.
"""

import signal
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Generic, Self, TypeVar

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

Given = TypeVar("Given")
Piece = TypeVar("Piece")
Tell = Callable[[int, int], None]
"""Called with how much is done, and of how much."""


class Beside(Generic[Given, Piece]):
    """A process for one piece of work; it is gone when the context ends."""

    def __init__(self, work: Callable[[Given, Tell | None], Iterable[Piece]], prepare: Callable[[], None]) -> None:
        """Start it; it begins with `prepare`. Both are functions of a module, by whose name they are found there."""
        self._work, self._waiting, self._wanted = work, ThreadPoolExecutor(max_workers=1), True
        new = get_context("spawn")
        self._pipe, there = new.Pipe()
        self._process = new.Process(target=_serve, args=(work, prepare, there), daemon=True)
        with suppress(OSError):
            self._process.start()
        there.close()

    def begin(self, given: Given, tell: Tell | None = None) -> Callable[[], list[Piece]]:
        """Give the process its work; what is returned waits until it is done, and gives what came of it."""
        return self._waiting.submit(self._done, given, tell).result

    def _done(self, given: Given, tell: Tell | None) -> list[Piece]:
        with suppress(EOFError, OSError):
            self._pipe.send(given)
            while isinstance(message := self._pipe.recv(), tuple):
                if tell is not None:
                    tell(*message)
            return list(message)
        return list(self._work(given, tell)) if self._wanted else []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._wanted = False
        if self._process.pid is not None:
            self._process.kill()
            self._process.join()
        self._waiting.shutdown(cancel_futures=True)
        self._pipe.close()


def _serve(work: Callable[..., Iterable[Any]], prepare: Callable[[], None], pipe: "Connection") -> None:
    """Prepare, wait for what is given, and send what the work makes of it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started it is told to stop as well, and ends it
    # What goes wrong here goes wrong once more where the work is then done, and is told there.
    with suppress(Exception):
        prepare()
        pipe.send(list(work(pipe.recv(), lambda *far: pipe.send(far))))
