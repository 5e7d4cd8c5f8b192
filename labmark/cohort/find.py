"""Which classes are meant, and what each one's folder is called.

    classes/10A.xlsx        a file                      10A
    classes                 the tables in a folder, and in the folders within it
    classes/*.csv           a pattern, where the shell leaves it to us
    classes/10B             a folder of one file a student is one class

What labmark wrote is never taken for a class sheet. Classes stand in the order of their names, so that it makes no
difference in which order they are given.
"""

import glob
import os
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from labmark.outputs.names import safe_name, seen_as, unlike
from labmark.problems import InputError
from labmark.read import read_class
from labmark.read.files import TABLE_ENDINGS
from labmark.words import readable
from labmark.written import MANIFEST

NOT_CLASSES = frozenset({".txt"})
"""Endings that are a table only where somebody names the file: in a folder they are mostly notes."""
LOOKED_AT = 5
"""Files of a folder that are looked at, at most, to tell a class of one file a student from a folder of classes."""
OURS = ("cohort.html", "cohort.xlsx", "cohort.csv", "cohort.json")
"""Files of the cohort itself, next to the classes' folders."""


class Found(NamedTuple):
    """A class that is meant."""

    path: Path
    """File, or folder of one file a student, as it was named."""
    name: str
    """Name of its folder, unlike every other one."""


def classes_of(named: Sequence[str], out: Path) -> tuple[list[Found], list[str]]:
    """Return the classes that are meant, and the files in the folders that were passed over.

    What is not there stays among them: it is said when it comes to be marked. Nothing in the folder `out` is a class.
    """
    passed: list[str] = []
    paths = [path for one in named for path in _expanded(one, Path(os.path.realpath(out)), passed)]
    once = {os.path.realpath(path): path for path in sorted(paths, key=str, reverse=True)}
    ordered = sorted(once.values(), key=lambda path: (natural(_stem(path)), str(path)))
    return [Found(path, name) for path, name in zip(ordered, _names(ordered), strict=True)], sorted(set(passed))


def natural(text: str) -> list[tuple[bool, int, str]]:
    """Return a key that puts 9A before 10A.

    >>> sorted(["lab", "10A", "9A"], key=natural)
    ['9A', '10A', 'lab']
    """
    parts = re.findall(r"([0-9]+)|([^0-9]+)", text.casefold())
    return [(not number, int(number or 0), word) for number, word in parts]


def _expanded(named: str, out: Path, passed: list[str]) -> Iterator[Path]:
    # A folder in quotes that ends in \ leaves a quote behind on Windows; patterns come there as they were typed.
    text = named.strip('"')
    if not os.path.exists(text) and os.sep == "/":
        text = text.replace("\\", "/")
    if os.path.exists(text) or not glob.has_magic(text):
        yield from _below(Path(text), out, passed) if os.path.isdir(text) else [Path(text)]
        return
    hits = [Path(hit) for hit in sorted(glob.glob(text, recursive=True))]
    tables = [hit for hit in hits if not hit.is_dir() and _is_table(hit, TABLE_ENDINGS) and not is_marked(hit.parent)]
    # ** finds a folder and what is in it: where files were found, they are what is meant.
    below = (path for hit in hits if hit.is_dir() for path in _below(hit, out, passed))
    found = tables or list(below)
    yield from found or [Path(text)]


def _below(folder: Path, out: Path, passed: list[str]) -> list[Path]:
    """Return the classes in a folder; the folder itself where it is one, or holds none."""
    if Path(os.path.realpath(folder)) == out:
        return []  # a pattern takes in what the last run wrote
    return list(_walked(folder, out, passed)) or [folder]


def _walked(folder: Path, out: Path, passed: list[str]) -> Iterator[Path]:
    """Yield the classes in a folder and below it; a folder whose tables are one class is one."""
    if is_marked(folder) or Path(os.path.realpath(folder)) == out:
        return
    try:
        there = sorted(folder.iterdir(), key=lambda path: path.name)
    except OSError:
        yield folder
        return
    seen = [path for path in there if not path.name.startswith((".", "~$"))]
    files = [path for path in seen if not path.is_dir()]
    tables = [path for path in files if _is_table(path, TABLE_ENDINGS - NOT_CLASSES) and path.is_file()]
    if len(tables) > 1 and _is_one_class(tables):
        yield folder
        return
    passed += [readable(str(path)) for path in files if path not in tables]
    yield from tables
    for path in seen:
        if path.is_dir() and not path.is_symlink():
            yield from _walked(path, out, passed)


def _is_table(path: Path, endings: frozenset[str]) -> bool:
    return path.suffix.casefold() in endings and not path.name.startswith((".", "~$"))


def is_marked(folder: Path) -> bool:
    """Return whether labmark wrote into a folder."""
    return (folder / MANIFEST).exists()


def _is_one_class(tables: Sequence[Path]) -> bool:
    """Return whether each file of a folder holds one student, as far as those looked at can be read."""
    found = False
    for path in tables[:LOOKED_AT]:
        students = _students_in(path)
        if students > 1:
            return False
        found = found or students == 1
    return found


def _students_in(path: Path) -> int:
    try:
        return len(read_class(path).students)
    except InputError:
        return 0


def _stem(path: Path) -> str:
    full = path.absolute()
    return safe_name(readable(full.name if path.is_dir() else full.stem)) or "class"


_APART_BY: tuple[Callable[[Path], tuple[str, ...]], ...] = (
    lambda path: (),
    lambda path: (path.suffix[1:],),
    lambda path: (path.absolute().parent.name,),
    lambda path: (*path.absolute().parts[-3:-1], path.suffix[1:]),
)
"""What tells files of one name apart: the ending, the folder, or all of it."""


def _names(paths: Sequence[Path]) -> list[str]:
    """Return a name for each: the file's; where files share it, with the ending or the folder that tells them apart."""
    taken = {seen_as(name) for name in OURS}
    names: dict[Path, str] = {}
    for apart in _APART_BY:
        tried = {path: _joined(path, apart(path)) for path in paths if path not in names}
        times = Counter(map(seen_as, tried.values()))
        fresh = {path: name for path, name in tried.items() if times[seen_as(name)] == 1 and seen_as(name) not in taken}
        names |= fresh
        taken |= set(map(seen_as, fresh.values()))
    return [names[path] if path in names else unlike(_stem(path), taken) for path in paths]


def _joined(path: Path, apart: Iterable[str]) -> str:
    said = ", ".join(part for part in apart if part)
    return safe_name(f"{_stem(path)} ({said})") if said else _stem(path)


def one_line(problems: Iterable[object]) -> str:
    """Return what is wrong with a class on one line: the first problem, and how many more there are."""
    first, *others = map(str, problems)
    return f"{first} (and {len(others)} more; labmark check names them)" if others else first
