"""Work done by a process beside the run: the same work, whatever becomes of the process."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from labmark.beside import Beside
from labmark.pipeline import mark_class

SAMPLE = Path(__file__).parent.parent / "sample_data" / "drain-cleaner.xlsx"
Tell = Callable[[int, int], None] | None


def ready() -> None:
    """Nothing needs to be prepared."""


def doubled_there(given: list[int], tell: Tell) -> Iterator[tuple[int, int]]:
    """Yield the double of each number, and which process worked it out."""
    for place, one in enumerate(given, start=1):
        if tell is not None:
            tell(place, len(given))
        yield 2 * one, os.getpid()


def lost_there(given: int, _: Tell) -> Iterator[int]:
    """Yield the process, unless it is another one than that given: then it is killed."""
    if os.getpid() != given:
        os.kill(os.getpid(), signal.SIGTERM)
    yield os.getpid()


def wrong(_: int, __: Tell) -> Iterator[int]:
    """Fail."""
    raise ValueError("no such number")


def endless(given: Path, _: Tell) -> Iterator[None]:
    """Leave a file, and go on for a minute."""
    given.touch()
    time.sleep(60)
    yield


def test_another_process_does_the_work_and_tells_how_far_it_is():
    told = []
    with Beside(doubled_there, ready) as beside:
        wait = beside.begin([1, 2], lambda done, of: told.append((done, of)))
        (one, process), (two, _) = wait()
    assert (one, two, told) == (2, 4, [(1, 2), (2, 2)])
    assert process != os.getpid()


def test_what_a_lost_process_leaves_is_done_here():
    with Beside(lost_there, ready) as beside:
        assert beside.begin(os.getpid())() == [os.getpid()]


def test_what_goes_wrong_there_is_raised_here():
    with Beside(wrong, ready) as beside, pytest.raises(ValueError, match="no such number"):
        beside.begin(1)()


def test_a_run_that_is_broken_off_waits_for_nothing(tmp_path):
    begun = time.monotonic()
    with Beside(endless, ready) as beside:
        wait = beside.begin(tmp_path / "begun")
        while not (tmp_path / "begun").exists():
            time.sleep(0.01)
    assert wait() == []
    assert time.monotonic() - begun < 30


@pytest.mark.slow
def test_a_folder_has_the_same_bytes_whoever_prints_the_sheets(tmp_path):
    made, told = [], set()
    for jobs in (1, 2):
        out = tmp_path / f"{jobs}"
        mark_class(SAMPLE, None, (), out, jobs=jobs, progress=lambda *far: told.add(far))
        made.append({file.name: file.read_bytes() for file in out.rglob("*.*")})
    assert made[0] == made[1]
    assert (28, 28) in told
