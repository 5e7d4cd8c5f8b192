"""What becomes of decisions, at length: `python -m tests.benchmarks.bench_decisions [PART [HOW MANY]] ...`.

    sets 1000      random decisions, written by openpyxl: applied, and the bytes of the third run those of the second
    program 60     the same through LibreOffice, all saved by it at once
    kills 300      the writing of the folder killed at a random moment, in a process that is warm
    processes 40   `labmark mark` killed at a random moment (or stopped by SIGTERM or SIGHUP); then `labmark explain`
    starts 300     two runs started together
    time 40        what this many decisions cost in marking a class again, in processor time

The class is that of the tests. But for `processes` and `time`, which make everything, results.json and marks.xlsx are
made by the code that `labmark mark` runs, and the sheets, the report and the chart are left out.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from labmark import pipeline
from labmark.decisions.read import decisions_in
from labmark.outputs.data import results_text
from labmark.outputs.folder import one_writer, put_right, write_folder
from labmark.pipeline import mark_class, new_workbook
from labmark.problems import InputError
from tests.decided import CLASS, PRACTICAL, Marked
from tests.office import saved
from tests.test_decisions_kept import at_random, check_kept, decide_at_random, written_by

Files = dict[str, bytes]
SAMPLE = Path(__file__).resolve().parents[2] / "sample_data" / "drain-cleaner.xlsx"


def _plain(place: Path) -> tuple[Marked, dict[str, Any], bytes]:
    marked = Marked(place / "marked")
    tree = marked.mark()
    return marked, tree, (marked.folder / "marks.xlsx").read_bytes()


def sets(place: Path, count: int) -> str:
    """Write, read and apply random sets of decisions."""
    plain = _plain(place)
    for seed in range(count):
        check_kept(plain[0], decide_at_random(*plain, seed + 1000))
    return f"{count} sets: 0 lost, 0 misapplied, third run as the second"


def program(place: Path, count: int) -> str:
    """Do the same, and let another spreadsheet program save all the workbooks in between."""
    plain = _plain(place)
    marked, all_made, files = plain[0], [], []
    (place / "made").mkdir()
    for seed in range(count):
        all_made.append(decide_at_random(*plain, seed))
        files.append(Path(shutil.copyfile(marked.folder / "marks.xlsx", place / "made" / f"{seed}.xlsx")))
    for made, file in zip(all_made, saved(files, "xlsx", place / "saved"), strict=True):
        shutil.copyfile(file, marked.folder / "marks.xlsx")
        check_kept(marked, made)
    return f"{count} workbooks: 0 lost, 0 misapplied, third run as the second"


def _content(folder: Path) -> Files:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def _marks(folder: Path) -> list[Any]:
    return [each.value for each in decisions_in(folder).decisions if each.what == "mark"]


def _forked(do: Callable[[], object]) -> int:
    """Do something in a process of its own; return its number."""
    child = os.fork()
    if child == 0:
        try:
            do()
        except InputError:
            os._exit(1)
        except BaseException:
            os._exit(3)
        os._exit(0)
    return child


def _ended(child: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def kills(place: Path, count: int) -> str:
    """Kill the writing of a folder, which holds a decision that was not read before."""
    mark_class(_class(place), PRACTICAL, (), place / "marked")
    old = Marked(place / "marked")
    old.write(("Marks", {"Student": "Ada"}, "accuracy /3", 1))
    before, tree = _content(place / "marked"), None
    found = decisions_in(place / "marked")
    tree = pipeline.tree_of(*pipeline.read(_class(place), PRACTICAL, ()), found)
    with pipeline._printer(1) as printer:
        files = list(pipeline._files(tree, found, printer, None))
    kept: Counter[str] = Counter()
    chance = random.Random(1)

    def writing() -> None:
        with one_writer(place / "marked"):
            write_folder(place / "marked", files, {"marks.xlsx": found.sha256})

    began = time.perf_counter()
    assert _ended(_forked(writing)) == 0
    lasts, after = time.perf_counter() - began, _content(place / "marked")
    for _ in range(count):
        shutil.rmtree(place / "marked")
        for name, data in before.items():
            (place / "marked" / name).parent.mkdir(parents=True, exist_ok=True)
            (place / "marked" / name).write_bytes(data)
        child = _forked(writing)
        time.sleep(chance.uniform(0, 1.1 * lasts))
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
        killed, left = (
            _ended(child) != 0,
            any(map(Path.exists, [place / "marked" / f".labmark-{x}" for x in ("new", "old")])),
        )
        put_right(place / "marked")
        there = _content(place / "marked")
        assert there in (before, after), sorted(set(there) ^ set(before))
        assert _marks(place / "marked") == [1]
        kept[
            f"{'killed' if killed else 'done'}, {'left half-way, ' if left else ''}{'old' if there == before else 'new'}"
        ] += 1
    return f"{count} kills: every folder whole, 0 decisions lost; {dict(kept)}"


def processes(place: Path, count: int) -> str:
    """Kill or stop whole runs of the command."""
    environment = {**os.environ, "PYTHONPATH": os.getcwd()}
    command = [sys.executable, "-m", "labmark"]
    marking = [*command, "mark", str(_class(place)), "--practical", PRACTICAL, "--out", str(place / "marked")]
    mark_class(_class(place), PRACTICAL, (), place / "marked")
    seen: Counter[str] = Counter()
    chance = random.Random(2)
    for number in range(count):
        mark = (1, 2)[number % 2]
        Marked(place / "marked").write(("Marks", {"Student": "Ada"}, "accuracy /3", mark))
        process = subprocess.Popen(marking, env=environment, stderr=subprocess.PIPE)
        began, way = time.perf_counter(), (signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGHUP)[number % 4]
        if number % 8 < 6:  # where it is at its most delicate
            while not (place / "marked" / ".labmark-new").exists() and process.poll() is None:
                time.sleep(0.0005)
            time.sleep(chance.uniform(0, 0.03))
        else:
            time.sleep(chance.uniform(0, 5) if began else 0)
        process.send_signal(way)
        said = process.communicate()[1].decode()
        assert "Traceback" not in said, said
        explained = subprocess.run(
            [*command, "explain", str(place / "marked"), "Ada"], env=environment, capture_output=True, text=True
        )
        assert explained.returncode == 0, explained.stderr
        assert _marks(place / "marked") == [mark]
        seen[f"{way.name}: {'put right' if 'broken off' in explained.stderr else 'nothing left'}"] += 1
    return f"{count} runs: every folder whole, 0 decisions lost; {dict(seen)}"


def _light(tree: Any, found: Any, *_: Any) -> Iterable[tuple[str, bytes]]:
    yield "results.json", results_text(tree).encode()
    yield "marks.xlsx", new_workbook(tree, found)


def starts(place: Path, count: int) -> str:
    """Start two runs at once, each time after another decision."""
    pipeline._files = _light  # type: ignore[assignment]
    path, seen = _class(place), Counter[str]()
    mark_class(path, PRACTICAL, (), place / "marked")
    for number in range(count):
        mark = (1, 2)[number % 2]
        Marked(place / "marked").write(("Marks", {"Student": "Ada"}, "accuracy /3", mark))
        read, write = os.pipe()

        def run(read: int = read, write: int = write) -> None:
            os.close(write)
            os.read(read, 1)  # both start when the other end is shut
            mark_class(path, PRACTICAL, (), place / "marked")

        children = [_forked(run), _forked(run)]
        os.close(read)
        os.close(write)
        codes = sorted(map(_ended, children))
        assert codes in ([0, 0], [0, 1]), codes
        folder = decisions_in(place / "marked")
        assert _marks(place / "marked") == [mark]
        assert folder.memory is not None
        assert len(folder.memory["decisions"]) == 1
        seen["both, one after the other" if codes == [0, 0] else "one, the other refused"] += 1
    return f"{count} double starts: 0 mixtures, 0 decisions lost; {dict(seen)}"


def cost(place: Path, count: int) -> str:
    """Compare marking again with and without decisions."""
    shutil.copyfile(SAMPLE, place / "class.xlsx")

    def marking(folder: str) -> float:
        began = time.process_time()
        mark_class(place / "class.xlsx", None, (), place / folder)
        return time.process_time() - began

    marking("without")
    tree = json.loads(results_text(mark_class(place / "class.xlsx", None, (), place / "marked").tree))
    tree["students"] = [one for one in tree["students"] if all(run["initial"] is not None for run in one["runs"])]
    made: dict[Any, Any] = {}
    for seed in range(1000):
        made |= at_random(seed, tree) if len(made) < count else {}
    marked = Marked(place / "marked")
    marked.change(lambda book: written_by(dict(list(made.items())[:count]), book))
    marking("marked")
    pairs = [(marking("without"), marking("marked")) for _ in range(5)]
    without, with_them = (statistics.median(each) for each in zip(*pairs, strict=True))
    return f"{count} decisions: {with_them / without:.2f} times the processor time without ({without:.1f} s)"


def _class(place: Path) -> Path:
    (place / "class.csv").write_text(CLASS, encoding="utf-8")
    return place / "class.csv"


PARTS: dict[str, tuple[Callable[[Path, int], str], int]] = {
    "sets": (sets, 1000),
    "program": (program, 60),
    "kills": (kills, 300),
    "processes": (processes, 40),
    "starts": (starts, 300),
    "time": (cost, 40),
}


def main() -> None:
    """Do the parts that are asked for, else all of them."""
    words = sys.argv[1:] or list(PARTS)
    for at, word in enumerate(words):
        if word in PARTS:
            do, usual = PARTS[word]
            count = int(words[at + 1]) if at + 1 < len(words) and words[at + 1].isdigit() else usual
            with tempfile.TemporaryDirectory() as place:
                print(f"{word}: {do(Path(place), count)}", flush=True)


if __name__ == "__main__":
    main()
