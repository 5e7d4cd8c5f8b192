"""The command line: options, one call, a summary, an exit status.

Exit status 0: done, whatever was found in the readings. 1: the input could not be used, with one line per problem on
standard error. 2: wrong use of the command line. Heavy libraries are only imported by what needs them, so that
`labmark --help` answers at once.
"""

import atexit
import codecs
import contextlib
import gc
import os
import signal
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import click

from labmark import __version__
from labmark.problems import InputError, Problem
from labmark.words import plainly

# Matrices here are small: on a second thread their sums would only wait, and might depend on the number of processors.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Pydantic would look for plugins, of which none is wanted, in what it can read of every package that is installed.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

OUT = "marked"
"""Folder that is written where the user names none."""


def _tell(text: str) -> None:
    """Say something on standard error; where nobody hears it, that is no failure."""
    try:
        click.echo(text, err=True)
    except OSError:
        _let_go(2)


def _let_go(stream: int) -> None:
    """Let what is still to be written to a stream (1 or 2) go nowhere, so that the end of the program does not fail."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream)


class Commands(click.Group):
    """The commands, in whatever surroundings: what is wrong with an input, or refused by the system, is one line."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run a command."""
        # A launcher without a window gives no streams; the next file that is opened must not pass for one.
        for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
            if getattr(sys, name) is None:
                setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode, encoding="utf-8"))
        try:
            return super().main(*args, **kwargs)
        except InputError as error:
            problems = error.problems
        except MemoryError:
            problems = (Problem("the file needs more memory than there is", "split it"),)
        except OSError as error:
            problems = (_refused(error),)
        for problem in problems:
            _tell(f"labmark: {problem}")
        sys.exit(1)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command, and stop where the user says so."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            _tell("labmark: stopped; what it writes is whole, as it was before or with the new marks")
            sys.exit(130)


def _refused(error: OSError) -> Problem:
    """Return what the system refuses; what has no name is the working folder, or standard output."""
    if error.filename is None and isinstance(error, FileNotFoundError):
        return Problem("the folder that you work in is gone", "change to another one")
    if error.filename is None:
        _let_go(1)
    return Problem(error.strerror or str(error), "mend that and run again", str(error.filename or ""))


def _stop(_number: int, _frame: object) -> None:
    """Stop as Ctrl-C does, so that the folder is left whole."""
    raise KeyboardInterrupt


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="labmark")
def main() -> None:
    """Mark a class titration from its spreadsheet.

    \b
    labmark mark class.xlsx                         practical in the workbook's own sheet
    labmark mark class.csv --practical vinegar      a practical that ships with labmark
    labmark check class.xlsx                        what would be read, without writing
    labmark practicals                              those that ship, to use or to copy
    labmark sheet vinegar --students names.txt --out class.xlsx   the workbook to fill in
    labmark prepare vinegar --students 28 --out cards             what to make ready, and whether it works
    labmark cohort classes --out marked             many classes, side by side
    """
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) != signal.SIG_IGN:  # as nohup wants it
            signal.signal(number, _stop)
    # Imports and a class make a million records that stay: looking through them for rubbish this often is enough.
    gc.set_threshold(50_000)
    # At the end the process gives back all of its memory at once: to take it apart first costs 0.3 s for a class of 30.
    atexit.register(gc.freeze)
    # A terminal, or a file that Windows writes, may not know every sign.
    codecs.register_error("plainly", plainly)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="plainly")


PATH = click.Path(path_type=Path, readable=False)
"""Whether it may be read is found out by reading it: then it is an input that cannot be used, and no wrong command."""


def class_options(command: Callable[..., None], *, required: bool = True) -> Callable[..., None]:
    """Add what `mark` and `check` have in common."""
    ships = "A practical file (TOML), or the name of one that ships; else the workbook's sheet called Practical."
    for option in (
        click.option(
            "--sheet", "sheets", metavar="NAME", multiple=True, help="Read this sheet only; may be given again."
        ),
        click.option("--practical", metavar="PRACTICAL", help=ships),
        click.argument("file", metavar="CLASS" if required else "[CLASS]", type=PATH, required=required),
    ):
        command = option(command)
    return command


def jobs_option(what: str) -> Callable[..., Any]:
    """Add how many work side by side."""
    usual = min(4, os.cpu_count() or 1)
    shown = "processors, at most 4"
    return click.option("--jobs", metavar="N", default=usual, show_default=shown, type=click.IntRange(1, 64), help=what)


def _school(_context: click.Context, _option: click.Parameter, file: Path | None) -> dict[str, Any]:
    """Return what a school's file says for all practicals; nothing where none is named. Raises InputError."""
    if file is None:
        return {}
    from labmark.practicals import school_at

    return school_at(file)


school_option = click.option(
    "--school",
    metavar="FILE",
    type=PATH,
    callback=_school,
    help="What the school says for all practicals (TOML): [sheet], [advice], [concordance], [scores], "
    "[[marks]], [[grades]].",
)


@main.command()
@class_options
@click.option(
    "--out", metavar="FOLDER", default=OUT, show_default=True, type=PATH, help="Where the marked folder goes."
)
@jobs_option("How many print sheets side by side; 1 leaves the rest of the machine alone.")
@school_option
@click.option("--dry-run", is_flag=True, help="Write nothing; say what would change in FOLDER.")
@click.option("--pseudonyms", is_flag=True, help="Codes instead of names in every file; pseudonyms.csv is the key.")
@click.option("--quiet", "-q", is_flag=True, help="Say nothing but problems.")
def mark(file: Path, out: Path, jobs: int, dry_run: bool, quiet: bool, **asked: Any) -> None:
    """Mark a class: CLASS is a workbook, a text table, or a folder of one file a student."""
    from labmark import terminal
    from labmark.cohort.task import tells_as_in_cohort
    from labmark.pipeline import mark_class, trial

    if dry_run:
        from labmark.changes import changes

        click.echo(changes(*trial(file, out=out, **asked), str(out)))
        return
    quiet_bar = quiet or not sys.stderr.isatty()
    with terminal.progress("sheets", quiet=quiet_bar, patience=terminal.PATIENCE) as progress:
        add = tells_as_in_cohort(out)
        done = mark_class(file, out=out, jobs=jobs, progress=progress, add=add, **asked)
    if not quiet:
        _tell(terminal.summary(done))


@main.command()
@click.argument("folder", metavar="FOLDER", type=PATH)
@click.argument("student", metavar="STUDENT")
def explain(folder: Path, student: str) -> None:
    """Explain every mark of STUDENT (a name or an ID) from the marked FOLDER alone."""
    from labmark.explain import explained

    click.echo(explained(folder, student))


@main.command()
@partial(class_options, required=False)
@school_option
@click.option(
    "--mapping", is_flag=True, help="Print the columns as a [columns] table to paste into the practical file."
)
def check(
    file: Path | None, practical: str | None, sheets: tuple[str, ...], mapping: bool, school: dict[str, Any]
) -> None:
    """Show how CLASS is understood and what would be found; write nothing.

    Without CLASS: what the practical means.
    """
    # All that is made for a class of 30 lives to the end: looking through it once would take 0.02 s.
    gc.set_threshold(1_000_000)
    from labmark import terminal

    if file is None:
        if practical is None or sheets or mapping:
            option = "--mapping needs" if mapping else "--sheet needs" if sheets else "Name"
            raise click.UsageError(f"{option} CLASS, a class sheet; or give --practical alone, to see what it means.")
        from labmark.meaning import meaning_of
        from labmark.practicals import named

        click.echo(terminal.meaning(meaning_of(named(practical, school), practical)))
        return
    if practical is None and file.suffix.lower() == ".toml":
        raise click.UsageError(f"{file} is a practical, not a class sheet; write --practical before it.")
    from labmark.pipeline import overview_of, read
    from labmark.read import mapping_text

    sheet, used = read(file, practical, sheets, school=school)
    if mapping:
        click.echo(mapping_text(sheet), nl=False)
        return
    click.echo(terminal.understanding(overview_of(sheet, used)))


@main.command()
@click.argument("name", required=False)
@click.option("--new", metavar="FILE", type=PATH, help="Copy it to FILE, to edit.")
def practicals(name: str | None, new: Path | None) -> None:
    """List the practicals that ship; show one, NAME; or copy it to edit."""
    from labmark import practicals, terminal

    if new is not None:
        click.echo(terminal.copied(*practicals.copy_to_edit(name, new), str(new)))
    elif name is not None:
        click.echo(terminal.one_practical(name, practicals.named(name), practicals.text_of(name)))
    else:
        click.echo(terminal.listed_practicals({each: practicals.named(each) for each in practicals.shipped()}))


@main.command()
@click.argument("practical")
@click.option(
    "--students",
    metavar="LIST",
    required=True,
    type=PATH,
    help="Who is in the class: .txt (one name per line), .csv, .xlsx or .ods (Student, ID, Email, Class, Bench, ...).",
)
@click.option(
    "--out",
    metavar="FILE",
    required=True,
    type=PATH,
    help="The workbook to write, .xlsx or .ods; .pdf: a results sheet for each student, to fill in at the bench.",
)
@click.option(
    "--runs",
    metavar="N",
    type=click.IntRange(1, 12),
    show_default="one more than must agree",
    help="Accurate runs to make room for, beside the rough.",
)
@school_option
def sheet(practical: str, students: Path, out: Path, runs: int | None, school: dict[str, Any]) -> None:
    """Write the class workbook of PRACTICAL for a lesson, to be filled in and marked; or everyone's results sheet."""
    from labmark import terminal
    from labmark.lesson.class_sheet import write_class_sheet

    _tell(terminal.class_sheet(write_class_sheet(practical, students, out, runs, school)))


@main.command()
@click.argument("practical")
@click.option("--students", metavar="N", required=True, type=click.IntRange(1, 10_000), help="In one class.")
@click.option(
    "--classes",
    metavar="N",
    default=1,
    show_default=True,
    type=click.IntRange(1, 100),
    help="How many classes of that size do the practical.",
)
@click.option("--out", metavar="FOLDER", required=True, type=PATH, help="Where card and sheet go.")
@school_option
def prepare(practical: str, students: int, classes: int, out: Path, school: dict[str, Any]) -> None:
    """Write the technician's card and a blank results sheet of PRACTICAL, and say whether it works."""
    from labmark import terminal
    from labmark.lesson.pages import write_preparation

    _tell(terminal.preparation(write_preparation(practical, students, classes, out, school), out))


@main.command()
@click.argument("classes", metavar="CLASS...", nargs=-1, required=True)
@click.option(
    "--practical",
    metavar="PRACTICAL",
    help="One practical for all classes: a file (TOML), or the name of one that ships; else each workbook's own.",
)
@click.option("--out", metavar="FOLDER", required=True, type=PATH, help="Where all the folders go.")
@jobs_option("Processes that mark classes side by side.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Mark on the workers of this Dask scheduler instead, as tcp://10.0.0.5:8786; needs labmark[cluster].",
)
@school_option
@click.option("--resume", is_flag=True, help="Leave classes alone that are as they were when they were marked here.")
def cohort(classes: tuple[str, ...], **asked: Any) -> None:
    """Mark many classes, each into a folder of its own, and compare them.

    CLASS is a class as `mark` takes it, a folder of classes, or a pattern (classes/*.xlsx).
    """
    from labmark import terminal
    from labmark.cohort.run import Stopped, mark_cohort

    try:
        with terminal.progress("classes", quiet=not sys.stderr.isatty()) as progress:
            done = mark_cohort(classes, progress=progress, **asked)
    except Stopped as stopped:
        _tell(f"labmark: {stopped}")
        sys.exit(130)
    _tell(terminal.cohort(done))
    if done.errors:
        sys.exit(1)
