"""The cohort on one page: which classes, each one marked, all of them compared, written."""

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from labmark.cohort.cluster import outcomes_on
from labmark.cohort.compare import cohort_tree
from labmark.cohort.find import OURS, classes_of, is_marked
from labmark.cohort.task import Outcome, Task
from labmark.cohort.work import outcomes
from labmark.cohort.year import Year
from labmark.dataclass import replace
from labmark.outputs.folder import one_writer, write_folder
from labmark.practical.load import NONE, School
from labmark.practicals import named as practical_named
from labmark.practicals import text_of
from labmark.problems import InputError, Problem
from labmark.words import listed
from labmark.written import MANIFEST, listed_in

Progress = Callable[[int, int], None]
"""Called with how many classes are done, and of how many."""
Do = Callable[[Sequence[Task]], Iterator[Outcome]]
"""What marks some classes, here or elsewhere, and yields their outcomes."""


class Cohort(NamedTuple):
    """A cohort that was marked, and what was written."""

    tree: dict[str, Any]
    folder: Path
    passed: tuple[str, ...]
    """Files in the folders that are no class sheets."""
    said: tuple[str, ...]
    """What else there is to say: of single classes, and of changed files that were kept."""
    written: bool = True
    """False where no class could be used and an earlier cohort stands in the folder: it is left as it was."""

    @property
    def errors(self) -> list[str]:
        """Return what is wrong with the classes that could not be used, a line each."""
        return [each["error"] for each in self.tree["classes"] if each["error"] is not None]


class Stopped(Exception):
    """Somebody stopped it; every class that was begun is whole, or as it was."""


def mark_cohort(
    named: Sequence[str],
    practical: str | None,
    out: Path,
    *,
    jobs: int = 1,
    cluster: str | None = None,
    resume: bool = False,
    school: School = NONE,
    progress: Progress | None = None,
) -> Cohort:
    """Mark every class into a folder of its own, and compare them. Raises InputError where nothing can be begun."""
    with one_writer(out):
        tasks, passed = _tasks(named, practical, out, resume=resume, school=school)
        out.mkdir(parents=True, exist_ok=True)
        do = partial(outcomes, jobs=jobs) if cluster is None else partial(outcomes_on, cluster)
        done = _all_done(tasks, do, progress)
        tree = cohort_tree(done)
        # Folders of classes that are marked, some by an earlier cohort, under a name that none of these has.
        there = {each.parent.name for each in out.glob(f"*/{MANIFEST}")}
        if there and all(each["error"] is not None for each in done):
            return Cohort(tree, out, tuple(passed), (), written=False)
        kept = write_folder(out, _files(tree))
    said = [line for each in done for line in each["said"]]
    said += _said(tree, kept, sorted(there - {each.name for each in tasks}))
    return Cohort(tree, out, tuple(passed), tuple(said))


def _tasks(
    named: Sequence[str], practical: str | None, out: Path, *, resume: bool, school: School
) -> tuple[list[Task], list[str]]:
    """Return a task for each class that is meant, and the files that were passed over. Raises InputError."""
    _refuse_a_class(out)
    sha256 = _sha256_of(practical, school)
    classes, passed = classes_of(named, out)
    if not classes:
        if os.path.realpath(out) in map(os.path.realpath, named) and not is_marked(out):
            raise InputError(Problem("the classes would be marked into their own folder", "choose another", str(out)))
        raise InputError(Problem("no class is named", "name class sheets, or a folder of them", ", ".join(named)))
    if not any(os.path.lexists(each.path) for each in classes):
        # A slip in the command must not put an empty cohort in the place of an earlier one.
        absent = ("there is no such file", "check the name and the folder")
        raise InputError([Problem(*absent, str(each.path)) for each in classes])
    return [Task(str(each.path), each.name, str(out), practical, sha256, resume, school) for each in classes], passed


def _said(tree: dict[str, Any], kept: Sequence[str], left_over: Sequence[str]) -> Iterator[str]:
    """Yield what there is to say of a cohort; `kept` are changed files, `left_over` folders of other classes."""
    for same in tree["same_files"]:
        yield f"{listed(same)} are the same file: everybody in it is counted {len(same)} times"
    for one in tree["twice"]:
        yield f"{one['student']} (ID {one['ID']}) stands in {listed(one['classes'])}"
    for name in kept:
        yield f"kept a file of yours that had been changed: {name}"
    for name in left_over:
        yield f"{name} was marked earlier, and is none of these classes: decisions in it move nothing here"


def _all_done(tasks: Sequence[Task], do: Do, progress: Progress | None) -> list[Outcome]:
    """Return the outcomes of the tasks, in order. Raises Stopped."""
    done: dict[str, Outcome] = {}

    def add(some: Sequence[Task]) -> None:
        for outcome in do(some):
            done[outcome["name"]] = outcome
            if progress is not None:
                progress(_finished(done), len(tasks))

    try:
        add(tasks)
        # Who says how the work has changed waits until all that came before has been judged.
        if later := [each for each in tasks if done[each.name].get("progress")]:
            year = Year(list(done.values()))
            add([replace(each, earlier=year.earlier_in(each.name)) for each in later])
    except KeyboardInterrupt as stop:
        finished = f"{_finished(done)} of {len(tasks)} classes were done, and those in hand are whole"
        raise Stopped(f"stopped: {finished}; the same command with --resume goes on from there") from stop
    return [done[each.name] for each in tasks]


def _finished(done: dict[str, Outcome]) -> int:
    return sum("waits" not in each for each in done.values())


def _refuse_a_class(out: Path) -> None:
    """Raise InputError where a class was marked into the folder."""
    there = listed_in(out)
    if there and OURS[-1] not in there:
        what = "a class was marked into this folder"
        raise InputError(Problem(what, "choose another folder with --out", str(out)))


def _sha256_of(practical: str | None, school: School) -> str:
    """Return the hash of a practical's text; empty where each class has its own. Raises InputError."""
    if practical is None:
        return ""
    practical_named(practical, school)
    return hashlib.sha256(text_of(practical).encode()).hexdigest()


def _files(tree: dict[str, Any]) -> list[tuple[str, bytes]]:
    from labmark.cohort.page import page
    from labmark.cohort.sheets import table, workbook
    from labmark.outputs.data import results_text

    made = (page(tree).encode(errors="replace"), workbook(tree), table(tree), results_text(tree).encode())
    return list(zip(OURS, made, strict=True))
