"""Tasks done by the workers of a Dask scheduler that somebody runs. The only module that knows Dask.

Nothing is asked of the workers but labmark in the same version: the class's file, its practical and what the folder
holds of the teacher's decisions are sent with the task, and the folder's files come back and are put into place here.
A class whose worker is lost goes to another one; one that has cost several workers is given up.
"""

import tempfile
from collections import deque
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple

from labmark import __version__
from labmark.cohort.task import DECIDED, Outcome, Task, failed, keep, left_alone, made_from, marked, safely, unwritten
from labmark.cohort.work import AHEAD
from labmark.dataclass import replace
from labmark.outputs.folder import one_writer, put_right, write_folder
from labmark.problems import InputError, Problem
from labmark.written import MANIFEST, listed_in

PATIENCE = 30
"""Seconds that a scheduler, and its first worker, may take to answer."""
Files = dict[str, bytes]
_one_at_a_time = Lock()


class Sent(NamedTuple):
    """What a worker needs to know of a class. Plain values."""

    task: Task
    given: Files
    """The class's file, or those of its folder, by name."""
    practical: bytes | None
    """Text of the practical file; None where it is one that ships, or the workbook's own."""
    held: Files
    """What the class's folder holds of decisions, by name."""


def outcomes_on(address: str, tasks: Sequence[Task]) -> Iterator[Outcome]:
    """Yield the outcome of every task, in any order. Raises InputError where there is no such cluster to work with."""
    waiting = deque(tasks)
    with _connected(address) as client:
        room = AHEAD * sum(client.nthreads().values())
        busy: dict[Any, Task] = {}
        done = _dask().as_completed(loop=client.loop, raise_errors=False)
        while waiting or busy:
            while waiting and len(busy) < room:
                task = waiting.popleft()
                kept = left_alone(task) or _handed_out(client, task, busy, done)
                if kept is not None:
                    yield kept
            if busy:
                future = next(done)
                if future.status in ("pending", "lost"):
                    done.add(future)  # its worker was lost with what it had made: another one makes it again
                else:
                    yield _placed(busy.pop(future), future)


def _handed_out(client: Any, task: Task, busy: dict[Any, Task], done: Any) -> Outcome | None:
    """Hand a class to a worker; return its outcome where there is nothing to send."""
    try:
        future = client.submit(marked_elsewhere, _sent(task), pure=False)
    except OSError:
        return marked(task)  # it cannot be read: that is said here as anywhere
    busy[future] = task
    done.add(future)
    return None


def _sent(task: Task) -> Sent:
    path, practical = Path(task.file), Path(task.practical or "")
    files = [each for each in path.iterdir() if each.is_file()] if path.is_dir() else [path]
    put_right(task.folder)
    held = [task.folder / name for name in (*DECIDED, MANIFEST) if (task.folder / name).is_file()]
    return Sent(
        task,
        {each.name: each.read_bytes() for each in files},
        practical.read_bytes() if practical.is_file() else None,
        {each.name: each.read_bytes() for each in held},
    )


def marked_elsewhere(sent: Sent) -> tuple[Outcome, Files]:
    """Mark a class in a folder of its own, wherever this runs; return its outcome and the files of its folder."""
    with _one_at_a_time, tempfile.TemporaryDirectory(prefix="labmark-") as place:
        there, said_as = _unpacked(sent, Path(place))
        outcome = marked(there)
        names = [] if unwritten(outcome) else listed_in(there.folder)
        files = {name: (there.folder / name).read_bytes() for name in names}
    return {key: _said_here(value, said_as) for key, value in outcome.items()}, files


def _unpacked(sent: Sent, place: Path) -> tuple[Task, dict[str, str]]:
    """Return the task as it is here, and path here -> as it was named, longest first."""
    task, file = sent.task, Path(sent.task.file)
    # A class in one file stands in a folder by itself; one of a file a student is a folder.
    single = list(sent.given) == [file.name]
    given = place / "in" if single else place / "in" / file.name
    _write(given, sent.given)
    path = given / file.name if single else given
    there = replace(task, file=str(path), out=str(place / "out"), resume=False)
    if sent.practical is not None and task.practical is not None:
        _write(place / "practical", {Path(task.practical).name: sent.practical})
        there = replace(there, practical=str(place / "practical" / Path(task.practical).name))
    _write(there.folder, sent.held)
    pairs = {there.file: task.file, there.out: task.out}
    return there, pairs | ({there.practical: task.practical} if there.practical and task.practical else {})


def _write(folder: Path, files: Files) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        (folder / name).write_bytes(data)


def _said_here(value: Any, said_as: dict[str, str]) -> Any:
    """Return words of an outcome with the paths that the teacher knows."""
    if isinstance(value, list):
        return [_said_here(each, said_as) if isinstance(each, str) else each for each in value]
    if isinstance(value, str):
        for here, named in said_as.items():
            value = value.replace(here, named)
    return value


def _placed(task: Task, future: Any) -> Outcome:
    """Put the files that came back into the class's folder; return its outcome."""
    if future.status != "finished":
        lost = future.exception()
        what = f"no worker of the cluster could mark it ({type(lost).__name__})"
        return failed(task, str(Problem(what, "mark it by itself, or split it", task.file)))
    outcome, files = future.result()
    return outcome if unwritten(outcome) else safely(task, partial(_put, outcome=outcome, files=files))


def _put(task: Task, outcome: Outcome, files: Files) -> Outcome:
    before = made_from(task)
    with one_writer(task.folder):
        kept = write_folder(task.folder, list(files.items()))
    keep(task, before, outcome | {"said": []})
    said = [f"{task.name}: kept a file of yours that had been changed: {name}" for name in kept]
    return outcome | {"said": [*outcome["said"], *said]}


def _connected(address: str) -> Any:
    """Return a client of the scheduler, with workers that can mark. Raises InputError."""
    try:
        client = _dask().Client(address, timeout=PATIENCE, set_as_default=False)
    except ImportError as error:
        raise InputError(Problem("Dask is not installed here", "install labmark[cluster]", address)) from error
    except (OSError, ValueError, TypeError) as error:
        what = f"there is no scheduler to work with ({str(error).splitlines()[0]:.120})"
        raise InputError(Problem(what, "check the address, and that it runs", address)) from error
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
        versions = set(client.run(_version).values())
    except Exception as error:
        client.close()
        what = f"its workers cannot mark ({type(error).__name__}: {error!s:.120})"
        raise InputError(Problem(what, f"install labmark {__version__} on them", address)) from error
    if versions != {__version__}:
        client.close()
        what = f"its workers have labmark {', '.join(sorted(versions))}; this is {__version__}"
        raise InputError(Problem(what, "install the same one on all", address))
    return client


def _version() -> str:
    return __version__


def _dask() -> Any:
    import distributed

    return distributed
