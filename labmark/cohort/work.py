"""Tasks done here, or by several processes; their outcomes as they come.

Each process is started afresh (no memory is inherited, on any system) and does one class after another, so that
imports and the compiler of the sheets are paid for once. Where a process is ended by the system, for want of memory
mostly, each class that it may have been busy with is tried once more in a process of its own, and one that ends that
as well is given up.
"""

import signal
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context

from labmark.cohort.task import Outcome, Task, failed, marked
from labmark.problems import Problem

Do = Callable[[Task], Outcome]
AHEAD = 2
"""Classes handed out for each process, so that none waits for the next."""
FEW = 8
"""Classes that are marked here with one job. Of more, a process of its own holds what marking takes: this one keeps
what is known of each and compares them, so that no memory goes with their number."""


def outcomes(tasks: Sequence[Task], jobs: int, do: Do = marked) -> Iterator[Outcome]:
    """Yield the outcome of every task, in any order; `do` is what is done with each."""
    if len(tasks) <= (FEW if jobs == 1 else 1):
        for task in tasks:
            with _to_its_end() as stopped:
                outcome = do(task)
            yield outcome
            if stopped:
                raise KeyboardInterrupt
        return
    waiting = deque(tasks)
    while waiting:
        lost: list[Task] = []
        yield from _until_broken(waiting, min(jobs, len(waiting)), do, lost)
        for task in lost:
            yield _alone(task, do)


@contextmanager
def _to_its_end() -> Iterator[list[int]]:
    """Let a class be marked to its end, and note whether somebody stops the program meanwhile; twice stops at once."""
    asked: list[int] = []

    def noted(number: int, _frame: object) -> None:
        asked.append(number)
        signal.signal(number, before)

    before = signal.getsignal(signal.SIGINT)
    if before is not signal.SIG_IGN:  # as in a shell's background, where Ctrl-C is meant for something else
        signal.signal(signal.SIGINT, noted)
    try:
        yield asked
    finally:
        signal.signal(signal.SIGINT, before)


def _until_broken(waiting: deque[Task], jobs: int, do: Do, lost: list[Task]) -> Iterator[Outcome]:
    """Yield outcomes until all is done or a process is lost; `lost` are then the tasks that may be to blame."""
    busy: dict[Future[Outcome], Task] = {}
    with _processes(jobs) as pool:
        try:
            while waiting or busy:
                while waiting and len(busy) < AHEAD * jobs:
                    busy[pool.submit(do, waiting[0])] = waiting[0]
                    waiting.popleft()
                for future in wait(busy, return_when=FIRST_COMPLETED).done:
                    outcome = future.result()
                    del busy[future]
                    yield outcome
        except BrokenProcessPool:
            lost.extend(busy.values())
        except KeyboardInterrupt:
            # The classes in hand are marked to their end, and count.
            pool.shutdown(wait=True, cancel_futures=True)
            yield from (each.result() for each in busy if not each.cancelled() and each.exception() is None)
            raise
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _alone(task: Task, do: Do) -> Outcome:
    with _processes(1) as pool:
        try:
            return pool.submit(do, task).result()
        except BrokenProcessPool:
            what = "the process that marked it was ended, twice; perhaps there is too little memory"
            return failed(task, str(Problem(what, "mark it by itself with --jobs 1, or split it", task.file)))


def _processes(jobs: int) -> ProcessPoolExecutor:
    # The one that is asked to stop hands nothing more out; the others finish the class in hand.
    return ProcessPoolExecutor(
        jobs, get_context("spawn"), initializer=signal.signal, initargs=(signal.SIGINT, signal.SIG_IGN)
    )
