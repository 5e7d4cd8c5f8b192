"""Classes marked by the workers of a real scheduler on this machine: the same bytes, also when a worker is killed."""

from __future__ import annotations

import os
import signal
from contextlib import chdir, nullcontext
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from labmark.cli import main
from labmark.cohort import cluster as on_cluster
from labmark.cohort.task import Task
from labmark.places import practicals_folder
from tests.decided import CLASS, PRACTICAL
from tests.test_cohort import OTHER, files_in, run


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Five classes, one of them broken, one a folder of one file a student."""
    place = tmp_path_factory.mktemp("cluster")
    (place / "classes/11A").mkdir(parents=True)
    for name, text in (("9A", OTHER), ("9B", CLASS), ("10A", OTHER), ("broken", "hello,there\n")):
        (place / f"classes/{name}.csv").write_text(text, encoding="utf-8")
    header, *rows = CLASS.splitlines()
    for row in rows[:3]:
        (place / f"classes/11A/{row.split(',')[0]}.csv").write_text(f"{header}\n{row}\n", encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def scheduler():
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, processes=True
    ) as cluster:
        yield cluster.scheduler_address


def without_what_is_kept(folder):
    return {name: data for name, data in files_in(folder).items() if not name.startswith(".labmark-cohort")}


@pytest.mark.slow
def test_a_cluster_gives_the_same_bytes_also_when_a_worker_is_killed(place, scheduler, monkeypatch):
    killed = []

    def placed(task, future):
        if not killed:
            killed.append(next(iter(future.client.run(os.getpid).values())))
            os.kill(killed[0], signal.SIGKILL)
        return real(task, future)

    real = on_cluster._placed
    monkeypatch.setattr(on_cluster, "_placed", placed)
    with chdir(place):
        run("classes", "--practical", PRACTICAL, "--out", "here", "--jobs", 1, code=1)
        done = run("classes", "--practical", PRACTICAL, "--out", "there", "--cluster", scheduler, code=1)
    assert killed, done.output
    assert "classes/broken.csv" in done.stderr
    assert without_what_is_kept(place / "there") == without_what_is_kept(place / "here")
    with chdir(place):
        before = {path: path.stat().st_mtime_ns for path in (place / "there/9A").rglob("*")}
        run("classes", "--practical", PRACTICAL, "--out", "there", "--cluster", scheduler, "--resume", code=1)
    assert {path: path.stat().st_mtime_ns for path in (place / "there/9A").rglob("*")} == before


def ends_its_worker(sent):
    """Stand in for a class that takes more memory than any worker has."""
    if sent.task.name == "9B":
        os._exit(9)
    return {"name": sent.task.name, "error": "not marked"}, {}


@pytest.mark.slow
def test_a_class_that_costs_several_workers_is_given_up(tmp_path, scheduler, monkeypatch):
    monkeypatch.setattr(on_cluster, "marked_elsewhere", ends_its_worker)
    for name in ("9A", "9B", "10A"):
        (tmp_path / f"{name}.csv").write_text(CLASS, encoding="utf-8")
    tasks = [Task(str(tmp_path / f"{name}.csv"), name, str(tmp_path), None, "", False) for name in ("9A", "9B", "10A")]
    done = {each["name"]: each["error"] for each in on_cluster.outcomes_on(scheduler, tasks)}
    assert "no worker of the cluster could mark it (KilledWorker)" in done.pop("9B")
    assert set(done.values()) == {"not marked"}


def test_a_class_that_is_lost_with_the_worker_that_marked_it_is_waited_for(tmp_path, monkeypatch):
    class Future:
        """Marked, lost, and marked again."""

        status = "lost"

        def result(self):
            return {"name": "9A", "error": "not marked"}, {}

    class Completed(list):
        def add(self, future):
            self.append(future)

        def __next__(self):
            future = self.pop()
            future.status = "finished" if hasattr(future, "asked") else "lost"
            future.asked = True
            return future

    client = SimpleNamespace(nthreads=lambda: {"one": 1}, submit=lambda *_a, **_k: Future(), loop=None)
    monkeypatch.setattr(on_cluster, "_connected", lambda _: nullcontext(client))
    monkeypatch.setattr(on_cluster, "_dask", lambda: SimpleNamespace(as_completed=lambda **_: Completed()))
    (tmp_path / "9A.csv").write_text(CLASS, encoding="utf-8")
    task = Task(str(tmp_path / "9A.csv"), "9A", str(tmp_path), None, "", False)
    assert [each["error"] for each in on_cluster.outcomes_on("tcp://nowhere:1", [task])] == ["not marked"]


@pytest.mark.slow
def test_workers_with_another_labmark_are_one_line_and_nothing_is_written(place, scheduler, monkeypatch):
    monkeypatch.setattr(on_cluster, "__version__", "0.0.1")
    with chdir(place):
        done = run("classes/9A.csv", "--practical", PRACTICAL, "--out", "other", "--cluster", scheduler, code=1)
    (line,) = done.stderr.splitlines()
    assert "this is 0.0.1; install the same one on all" in line
    assert not (place / "other/9A").exists()


@pytest.mark.slow
def test_a_cluster_tells_of_earlier_practicals_as_one_machine_does(tmp_path, scheduler):
    text = (practicals_folder() / f"{PRACTICAL}.toml").read_text(encoding="utf-8")
    (tmp_path / "p.toml").write_text(f"{text}\n[sheet]\nprogress = true\n", encoding="utf-8")
    for name, text in (("1 vinegar.csv", CLASS), ("2 bleach.csv", CLASS.replace("25.30", "25.35"))):
        (tmp_path / name).write_text(text, encoding="utf-8")
    with chdir(tmp_path):
        for out, where in (("here", ("--jobs", 2)), ("there", ("--cluster", scheduler))):
            run("1 vinegar.csv", "2 bleach.csv", "--practical", "p.toml", "--out", out, *where)
    assert files_in(tmp_path / "there") == files_in(tmp_path / "here")
    assert b"Your runs agree, as they do in" in (tmp_path / "there/2 bleach/results.json").read_bytes()


def test_a_scheduler_that_is_not_there_is_one_line(place, monkeypatch):
    monkeypatch.setattr(on_cluster, "PATIENCE", 0.1)
    with chdir(place):
        done = CliRunner().invoke(
            main, ["cohort", "classes", "--practical", PRACTICAL, "--out", "no", "--cluster", "tcp://127.0.0.1:9"]
        )
    assert done.exit_code == 1
    assert len([line for line in done.stderr.splitlines() if line.startswith("labmark: ")]) == 1
    assert "tcp://127.0.0.1:9" in done.stderr
