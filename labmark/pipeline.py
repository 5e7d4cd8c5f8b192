"""The whole program on one page: read, judge, write. The only module that knows every stage."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from labmark.dataclass import replace
from labmark.practical import Practical, own_numbers, with_burette
from labmark.practical.load import NONE, School
from labmark.practicals import PASSED_OVER, find_practical, own_passed_over
from labmark.records import ClassSheet

if TYPE_CHECKING:
    from labmark.decisions.read import Found
    from labmark.outputs.press import Manuscript
    from labmark.read.grid import Book

Tree = dict[str, Any]
Progress = Callable[[int, int], None]
"""Called with how many sheets are done, and of how many."""


Printer = Callable[["Manuscript", Progress | None], Callable[[], list[tuple[str, bytes]]]]
"""Begins to print; what it returns gives (path, PDF) of every sheet and of `feedback.pdf` when they are done."""


class Marked(NamedTuple):
    """A class that was marked, and what was written."""

    tree: Tree
    folder: Path
    kept: tuple[str, ...]
    """Files of an earlier run that somebody had changed, and under which names they were kept."""
    warnings: tuple[str, ...]


def mark_class(
    path: Path,
    practical: str | None,
    sheets: Sequence[str],
    out: Path,
    *,
    jobs: int = 1,
    progress: Progress | None = None,
    school: School = NONE,
    pseudonyms: bool = False,
    add: Callable[[Tree], None] | None = None,
) -> Marked:
    """Read a class, judge it, and write the marked folder: whole, or not at all. Raises InputError.

    With `pseudonyms` there are codes for names in all that is written but the key. `add` puts into the record tree what
    is known from elsewhere.
    """
    from labmark.decisions.read import MARKS
    from labmark.outputs.folder import one_writer, refuse_a_cohort, refuse_the_class, write_folder
    from labmark.outputs.sheets import sheet_warnings

    with _printer(jobs) as printer, one_writer(out):
        refuse_a_cohort(out)
        refuse_the_class(out, path)
        tree, found, key = _decided(path, practical, sheets, out, school, pseudonyms)
        if add is not None:
            add(tree)
        files = [*_files(tree, found, printer, progress), *([("pseudonyms.csv", key)] if key else [])]
        kept = write_folder(out, files, {MARKS: found.sha256})
    still = [f"{name} is as it was, and may hold names." for name in kept if pseudonyms and not found.coded]
    passed = [note for note in tree["source"]["notes"] if note == PASSED_OVER]
    return Marked(tree, out, tuple(kept), (*passed, *found.notes, *sheet_warnings(tree), *still))


def trial(path: Path, out: Path, **asked: Any) -> tuple[Tree | None, Tree]:
    """Return the record tree that a folder holds (None: there is none), and the one that it would.

    Writes nothing, but puts a folder right in which a run was killed.
    """
    from labmark.decisions.memory import load
    from labmark.outputs.folder import put_right

    put_right(out)
    before = load(out)
    return before, _decided(path, out=out, **asked)[0]


def _decided(
    path: Path, practical: str | None, sheets: Sequence[str], out: Path, school: School, pseudonyms: bool
) -> tuple[Tree, Found, bytes]:
    """Return the record tree of a class with the decisions in a folder, these, and the key of codes where there is one.

    The decisions name the students as the tree does, by name or by code.
    """
    from labmark.decisions.read import decisions_in
    from labmark.pseudonyms import Pseudonyms, key_in, key_text, with_names

    found = decisions_in(out)
    sheet, used = read(path, practical, sheets, school=school)
    sheet = _counting(sheet, used)
    key = key_in(out, sheet)
    found = with_names(found, key)
    if not pseudonyms:
        return tree_of(sheet, used, found), found, b""
    hidden = Pseudonyms.of(sheet, key, found)
    found = hidden.found(found)
    return hidden.tree(tree_of(hidden.sheet(sheet), used, found)), found, key_text(hidden.codes, key)


def judged_tree(path: Path, practical: str | None, sheets: Sequence[str], school: School = NONE) -> Tree:
    """Return the record tree of a class of which the teacher has decided nothing. Raises InputError."""
    return tree_of(*read(path, practical, sheets, school=school))


@contextmanager
def _few_collections() -> Iterator[None]:
    """Pause cyclic garbage collection meanwhile.

    Reading and judging make millions of records that live to their end and hardly a circle among them: looking through
    all of them time and again takes a quarter of the time for a large class.
    """
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


@_few_collections()
def read(
    path: Path, practical: str | None, sheets: Sequence[str], book: Book | None = None, school: School = NONE
) -> tuple[ClassSheet, Practical]:
    """Return the class sheet and its practical. Raises InputError with every problem found in either.

    `book` is what is in the file, where it is loaded already; `school` what stands beneath every practical.
    """
    from labmark.read import burette_read, load_book, read_class

    # The workbook's own practical and its class come from one look at the file.
    if not path.is_dir():
        book = book or load_book(path)
    used = find_practical(practical, path, book, school)
    given = used.file
    capacity = int(given.burette.capacity * 1000)
    sheet = read_class(
        path,
        sheets=sheets,
        columns=given.columns,
        group_by=given.reference.by if given.reference else None,
        capacity=capacity,
        practical_used=practical is None,
        book=book,
        asked=used.asked,
        numbers=own_numbers(used),
        several=used.several,
    )
    if practical is not None and book:
        sheet = replace(sheet, notes=(*sheet.notes, *own_passed_over(path, book, used, school)))
    return sheet, with_burette(used, burette_read(sheet.students, capacity))


@_few_collections()
def tree_of(sheet: ClassSheet, practical: Practical, found: Found | None = None) -> Tree:
    """Return the record tree of a class that was read, with the decisions that the folder holds.

    Pure but for InputError where they do not fit together.
    """
    from labmark.decisions.applied import Applied
    from labmark.judge.stages import judge
    from labmark.outputs.names import sheet_names
    from labmark.tree import record_tree

    counted = _counting(sheet, practical)
    applied = Applied.of(found, counted, practical)
    judged = judge(applied.sheet, applied.practical, applied.decided, applied.aside)
    names = sheet_names([one.student.name for one in judged.students])
    return applied.told(record_tree(judged, [f"feedback/{name}" for name in names]), judged.students)


@_few_collections()
def overview_of(sheet: ClassSheet, practical: Practical) -> Tree:
    """Return what the terminal shows of a class that was read. Pure but for InputError, as above."""
    from labmark.judge.stages import judge
    from labmark.tree import overview

    return overview(judge(_counting(sheet, practical), practical))


def _counting(sheet: ClassSheet, practical: Practical) -> ClassSheet:
    """Return the class with the attempt of each student that counts."""
    from labmark.attempts import one_attempt_each
    from labmark.judge.stages import judge

    which = practical.file.students.attempt
    if which == "each":
        return sheet
    best = which == "best" and one_attempt_each(sheet) is not sheet
    return one_attempt_each(sheet, [one.total for one in judge(sheet, practical).students] if best else None)


def _files(tree: Tree, found: Found, printer: Printer, progress: Progress | None) -> Iterator[tuple[str, bytes]]:
    """Yield every file of the marked folder as (path, content)."""
    from labmark.outputs.chart import distribution, each_distribution
    from labmark.outputs.data import results_text
    from labmark.outputs.decision_rows import upheld
    from labmark.outputs.report import report
    from labmark.outputs.sheets import manuscript_of
    from labmark.outputs.table import marks_csv, marks_schema, sheets_csv

    shared = upheld(tree)
    sheets = printer(manuscript_of(shared), progress)
    yield "results.json", results_text(tree).encode()
    yield "marks.csv", marks_csv(shared)
    yield "marks.schema.json", results_text(marks_schema(shared)).encode()
    yield "sheets.csv", sheets_csv(shared)
    yield "marks.xlsx", new_workbook(tree, found)
    chart = distribution(shared)
    yield "distribution.svg", chart.svg
    yield "distribution.png", chart.png
    for stem, one in each_distribution(shared):
        yield f"{stem}.svg", one.svg
        yield f"{stem}.png", one.png
    yield "report.html", report(shared, chart).encode()
    yield from sheets()


def new_workbook(tree: Tree, found: Found) -> bytes:
    """Return marks.xlsx, with what the teacher added to the one before."""
    from labmark.decisions.applied import renamed
    from labmark.decisions.memory import packed
    from labmark.outputs.workbook import marks_workbook

    return marks_workbook(tree, packed(tree), found.book, renamed(found, tree))


@contextmanager
def _printer(jobs: int) -> Iterator[Printer]:
    """Give what prints the sheets: a process beside this one, or this one first of all where no more is asked for."""
    from labmark.outputs.press import imported, printed

    if jobs == 1:

        def at_once(manuscript: Manuscript, progress: Progress | None) -> Callable[[], list[tuple[str, bytes]]]:
            made = list(printed(manuscript, progress))
            return lambda: made

        yield at_once
    else:
        from labmark.beside import Beside

        with Beside(partial(printed, jobs=jobs), imported) as process:
            yield process.begin
