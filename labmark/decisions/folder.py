"""What a marked folder says of the teacher's decisions."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from labmark.decisions.memory import RESULTS, Tree, check_format, load, unpacked
from labmark.decisions.model import Decision, from_tree
from labmark.decisions.read import Reader
from labmark.problems import InputError, Problem, raise_any
from labmark.read.files import load_book, load_bytes
from labmark.read.grid import Book
from labmark.written import HIDDEN

MARKS = "marks.xlsx"


@dataclass(frozen=True)
class Found:
    """Decisions of a folder, and what they were made on."""

    decisions: tuple[Decision, ...] = ()
    memory: Tree | None = None
    """Of the run that wrote the workbook (or the folder, where there is none); None where nothing is remembered."""
    notes: tuple[str, ...] = ()
    """What the teacher should know of it."""
    file: str = ""
    """Path that problems name: marks.xlsx, or results.json where that alone remembers."""
    book: bytes | None = None
    """marks.xlsx as it was read; None where there is none of labmark's."""
    sha256: str | None = None
    """Of marks.xlsx, whoever wrote it."""
    called: Mapping[str, str] = field(default_factory=dict)
    """Code in the workbook -> name, where it was written with codes and they are names here."""
    coded: bool = False
    """The folder was written with codes instead of names."""


def decisions_in(folder: Path) -> Found:
    """Return the decisions of a folder. Raises InputError with every cell that cannot be read."""
    kept = load(folder)
    path = folder / MARKS
    if not path.exists():
        decisions = tuple(map(from_tree, kept["decisions"])) if kept else ()
        gone = f"{path} is gone: {len(decisions)} of your decisions were taken from {RESULTS}"
        return Found(decisions, kept, (gone,) if decisions else (), str(folder / RESULTS))
    book, data = load_book(path), load_bytes(path)
    if hashlib.sha256(data).hexdigest() != book.sha256:
        raise InputError(Problem("it is just being saved", "run again", str(path)))
    written_from = _written_from(book, str(path)) or kept
    if written_from is None:
        return Found(file=str(path), sha256=book.sha256)
    reader = Reader(str(path), written_from)
    decisions = reader.read(book)
    mine, theirs = written_from["source"], (kept or written_from)["source"]
    if decisions and mine["sha256"] != theirs["sha256"] and Path(mine["file"]).name != Path(theirs["file"]).name:
        what = f"it was written for another class file ({mine['file']})"
        raise InputError(Problem(what, "put this folder's own workbook back, or delete it", str(path)))
    raise_any(reader.problems)
    return Found(decisions, written_from, tuple(reader.notes), str(path), data, book.sha256)


def _written_from(book: Book, file: str) -> Tree | None:
    """Return what the hidden sheet holds; None where it is missing or was changed."""
    for grid in book.grids:
        if grid.name == HIDDEN:
            text = "".join(grid.cells[row, 1].text for row, column in sorted(grid.cells) if row > 1 and column == 1)
            tree = unpacked(text)
            if tree is not None:
                check_format(tree, file)
                return tree
    return None
