"""One class: marked into its folder, or the reason why not on one line. The same task in this process or another.

What is kept of it stands in the folder `.labmark-cohort`, beside what it was made from, so that a cohort can go on
where it was stopped, and a class that is as it was need not be marked again.
"""

import errno
import gc
import hashlib
import json
import os
import sys
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from labmark import __version__
from labmark.cohort.digest import digest
from labmark.cohort.find import OURS, is_marked, one_line
from labmark.cohort.year import Year, told
from labmark.dataclass import dataclass, field
from labmark.outputs.data import results_text
from labmark.outputs.folder import put_right
from labmark.practical.load import NONE, School
from labmark.problems import InputError, Problem
from labmark.words import readable
from labmark.written import MANIFEST, listed_in

KEPT = ".labmark-cohort"
"""Name of the folder, within that of the cohort, for what is kept of each class."""
DECIDED = ("marks.xlsx", "results.json")
"""Files of a class's folder in which decisions stand."""

Outcome = dict[str, Any]


@dataclass(frozen=True)
class Task:
    """A class to be marked. Plain values, so that another process can be handed it."""

    file: str
    """As it was named."""
    name: str
    """Of its folder."""
    out: str
    """Folder of the cohort."""
    practical: str | None
    """Path, or name of one that ships; None: the workbook's own."""
    practical_sha256: str
    """Of the practical's text; empty where it is the workbook's own."""
    resume: bool
    school: School = field(default_factory=lambda: NONE)
    """What stands beneath every practical."""
    earlier: Mapping[str, Any] | None = None
    """ID -> what a student did in earlier practicals, for a class whose sheets tell of it; None: not known yet."""

    @property
    def folder(self) -> Path:
        """Where the class is marked into."""
        return Path(self.out) / self.name


def marked(task: Task) -> Outcome:
    """Mark a class, unless it is as it was; return its digest, or its error. Never raises but to be stopped."""
    if kept := left_alone(task):
        return kept
    try:
        return safely(task, _marked_anew)
    finally:
        forget()


def forget() -> None:
    """Empty what is worked out once for a class: of no use to the next, and memory would go with their number."""
    for name, module in list(sys.modules.items()):
        if name.startswith(("labmark.diagnose.", "labmark.judge.")):
            for value in vars(module).values():
                # What has no bound are tables that every class needs.
                if hasattr(value, "cache_parameters") and value.cache_parameters()["maxsize"] is not None:
                    value.cache_clear()
    _settle()


@cache
def _settle() -> None:
    """Leave what is there for good, modules mostly, out of every later search for garbage: it was most of each."""
    gc.collect()
    gc.freeze()


def safely(task: Task, do: Callable[[Task], Outcome]) -> Outcome:
    """Return what is made of a class, or why nothing can be made of it."""
    try:
        return do(task)
    except InputError as error:
        return failed(task, one_line(error.problems))
    except MemoryError:
        return failed(task, str(Problem("the file needs more memory than there is", "split it", task.file)))
    except OSError as error:
        return failed(task, str(Problem(f"it cannot be marked ({error.strerror or error})", "", task.file)))
    except Exception as error:  # one class that labmark stumbles over must not cost all the others
        what = f"labmark failed on it ({type(error).__name__}: {error!s:.200})"
        return failed(task, str(Problem(what, "mark it by itself, and report what it says", task.file)))


def failed(task: Task, error: str) -> Outcome:
    """Return what there is to say of a class that cannot be used."""
    try:
        sha256 = _sha256(Path(task.file))
    except OSError:
        sha256 = None
    return {"name": task.name, "file": readable(task.file), "sha256": sha256, "error": error, "said": []}


class _Waits(Exception):
    """Its sheets tell of what came before, which is known once all classes have been judged; holds the digest."""


def unwritten(outcome: Outcome) -> bool:
    """Return whether a class has no folder: it cannot be used, or waits for what came before."""
    return outcome["error"] is not None or "waits" in outcome


def _marked_anew(task: Task) -> Outcome:
    from labmark.pipeline import judged_tree, mark_class

    path, before = Path(task.file), made_from(task)
    if is_marked(path):
        raise InputError(Problem("labmark wrote this folder", "name the class sheet it was made from", task.file))
    try:
        done = mark_class(path, task.practical, (), task.folder, school=task.school, add=_tells(task.earlier))
    except _Waits as waits:
        return _outcome(task, waits.args[0]) | {"waits": True}
    undecided = judged_tree(path, task.practical, (), task.school) if done.tree["decisions"] else None
    said = [f"{task.name}: kept a file of yours that had been changed: {name}" for name in done.kept]
    said += [f"{task.name}: {warning}" for warning in done.warnings]
    outcome = _outcome(task, digest(done.tree, undecided))
    keep(task, before, outcome)
    return outcome | {"said": said}


def _outcome(task: Task, made: Outcome) -> Outcome:
    """Return a digest as it reads back from where it is kept: a class left alone gives the same bytes."""
    return {"name": task.name, "file": readable(task.file), **json.loads(results_text(made)), "error": None, "said": []}


def _tells(earlier: Mapping[str, Any] | None) -> Callable[[dict[str, Any]], None]:
    """Return what puts into a record tree, where it is asked for, how the work differs from what came before."""

    def add(tree: dict[str, Any]) -> None:
        if tree["practical"]["sheet"]["progress"]:
            if earlier is None:
                raise _Waits(digest(tree))
            told(tree["students"], earlier)

    return add


def tells_as_in_cohort(folder: Path) -> Callable[[dict[str, Any]], None]:
    """Return what does the same to a class that is marked by itself, into its folder in a cohort or elsewhere."""
    folder = Path(os.path.abspath(folder))
    try:
        entries = json.loads((folder.parent / OURS[-1]).read_text(encoding="utf-8"))["classes"]
        names = [each["class"] for each in entries if each["error"] is None]
        kept = [json.loads((folder.parent / KEPT / f"{name}.json").read_text(encoding="utf-8")) for name in names]
        return _tells(Year([each["outcome"] for each in kept]).earlier_in(folder.name))
    except (OSError, ValueError, LookupError, TypeError):
        return _tells({})


# Whether a class is as it was ----------------------------------------------------------------------------------------


def made_from(task: Task) -> dict[str, str]:
    """Return what a class is made from, as it is now: file, practical and labmark."""
    try:
        sha256 = _sha256(Path(task.file))
    except OSError:
        sha256 = ""  # reading it says what is wrong
    return {
        "file": readable(task.file),
        "sha256": sha256,
        "practical": task.practical or "",
        "practical_sha256": task.practical_sha256,
        "school": repr(task.school),
        "version": f"{__version__}, digest 5",  # another number where another digest is kept
    }


def left_alone(task: Task) -> Outcome | None:
    """Return what was kept of a class, where nothing that it rests on has changed since."""
    if not task.resume:
        return None
    try:
        put_right(task.folder)
        kept = json.loads(_place(task).read_text(encoding="utf-8"))
        same = kept["made_from"] == made_from(task) | _folder_state(task.folder)
        same = same and task.earlier in (None, kept["earlier"])
        return dict(kept["outcome"]) if same else None
    except (OSError, ValueError, LookupError, TypeError, InputError):
        return None


def keep(task: Task, before: dict[str, str], outcome: Outcome) -> None:
    """Keep what was made of a class, with what it was made from. Raises OSError."""
    kept = {"made_from": before | _folder_state(task.folder), "earlier": task.earlier, "outcome": outcome}
    place = _place(task)
    place.parent.mkdir(exist_ok=True)
    waiting = place.with_name(f".{place.name}")
    waiting.write_text(json.dumps(kept), encoding="utf-8")
    os.replace(waiting, place)


def _folder_state(folder: Path) -> dict[str, str]:
    """Return hashes of a class's folder: its list of files, and those in which decisions stand. Raises OSError."""
    listed = (folder / MANIFEST).read_bytes()
    names = listed_in(folder)
    gone = [name for name in names if not (folder / name).is_file()]
    state = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in DECIDED if name not in gone}
    return state | {MANIFEST: hashlib.sha256(listed).hexdigest(), "gone": "; ".join(gone)}


def _sha256(path: Path) -> str:
    """Return the hash of a class's file, or over those of a folder. Raises OSError."""
    if not path.is_dir():
        if not path.is_file():
            raise FileNotFoundError(errno.ENOENT, "no file")  # a pipe would be waited for
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    files = sorted(each for each in path.iterdir() if each.is_file())
    lines = [f"{_sha256(each)}  {readable(each.name)}\n" for each in files]
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def _place(task: Task) -> Path:
    return Path(task.out) / KEPT / f"{task.name}.json"
