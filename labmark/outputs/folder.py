"""The folder appears whole or not at all, and nothing of the teacher's is ever lost.

A folder that does not exist yet is written beside its place under another name and then renamed: one step.

In a folder that exists, the new files are first written to a folder inside it. Then the files of the earlier run are
moved aside and the new ones into place, and last of all the list of files, which makes the change good:

    .labmark-new/      the new files, its own list last
    .labmark-old/      the files of the earlier run, and their list
    .labmark-files     what labmark wrote here: the SHA-256 and the path of each file, a line each

Until the new list is in place everything is undone by moving the files back; from then on only tidying is left. The
two folders tell how far a run had come, so what a killed run left behind is undone, or finished, at the next one. The
teacher's folder itself is never renamed or copied: it may be open in a window, shared, or the one worked in.

A file that labmark did not write stays untouched. One that somebody changed since labmark wrote it, and that is written
anew, stays once under a name that follows from what is in it: "marks (kept 3f9a2c1b).xlsx".
"""

import contextlib
import errno
import hashlib
import logging
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import IO

from labmark.problems import InputError, Problem
from labmark.written import MANIFEST, NEW, OLD, is_inside, listed_in

log = logging.getLogger("labmark")

AsRead = Mapping[str, str | None]
"""Path -> SHA-256 of a file that the new ones rest on; None where there was none."""
NOTHING_READ: AsRead = {}
_ELSEWHERE = "choose another folder with --out"
_TABLES = ("marks.xlsx", "marks.csv", "sheets.csv", "pseudonyms.csv")


@contextlib.contextmanager
def one_writer(out: Path) -> Iterator[None]:
    """Keep the folder for one run at a time, and put it right where one was killed.

    Raises InputError where another run has it, or where it is plain beforehand that it cannot be written: for callers
    with long work before the first file. The lock stands outside the folder and ends with the run, however that ends.
    """
    name = hashlib.sha256(os.fsencode(os.path.realpath(out))).hexdigest()[:32]
    with contextlib.ExitStack() as stack:
        # Where there is no place for a lock it is better to go on than to refuse.
        with contextlib.suppress(OSError):
            lock = Path(tempfile.gettempdir()) / f"labmark-{name}.lock"
            stream = _held(lock)
            if stream is None:
                raise InputError(Problem("another labmark is writing here", "run again when it is done", str(out)))
            stack.callback(_let_go, lock, stream)
        _check(out)
        yield


def put_right(out: Path) -> None:
    """Put a folder right in which a run was killed: for callers that only read it. Raises InputError as that does."""
    target = Path(os.path.realpath(out))
    if any(map(_is_there, _left(target))):
        with one_writer(out):
            pass


def _held(lock: Path) -> IO[bytes] | None:
    """Return a file that this process has locked; None where another run has it."""
    while True:
        stream = _opened(lock)
        if not _locked(stream):
            stream.close()
            return None
        # The run that had it may have removed the file since it was opened here: then it is another one by now.
        with contextlib.suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(stream.fileno()), lock.stat()):
                return stream
        stream.close()


def _let_go(lock: Path, stream: IO[bytes]) -> None:
    """Unlock a file, and leave none behind."""
    if sys.platform == "win32":  # what is open cannot be removed there, neither here nor by anybody else
        stream.close()
    with contextlib.suppress(OSError):
        lock.unlink()
    stream.close()


def _opened(lock: Path) -> IO[bytes]:
    """Open a file to be locked; one that another user has made may be read only."""
    try:
        return lock.open("rb")
    except FileNotFoundError:
        return lock.open("a+b")


def _locked(stream: IO[bytes]) -> bool:
    """Lock a file for this process as the operating system does it; return whether it was free."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def write_folder(out: Path, files: Iterable[tuple[str, bytes]], as_read: AsRead = NOTHING_READ) -> tuple[str, ...]:
    """Write files into the folder `out`, all or none; return the paths under which changed files were kept.

    Each file is a path inside the folder, with `/` between its parts, and its content. The folder and those above it
    are made where they are missing. Files of an earlier run that are not among the new ones are removed, unless
    somebody has changed them since. Where a file of `as_read` is another one by now, nothing is written.

    Raises InputError, with one problem, where the folder cannot be written or a file in it is open elsewhere: the
    folder is then as it was. Raises ValueError for a path that leads out of the folder or stands twice.
    """
    content: dict[str, bytes] = {}
    # All of them are made before the first is written.
    for name, data in files:
        if not is_inside(name) or name in content:
            raise ValueError(f"{name!r} is no path inside the folder, or stands twice")
        content[name] = data
    with _explained(out, "it cannot be written here"):
        target = Path(os.path.realpath(out))
        if target.is_dir():
            return _replace(target, content, as_read)
        _refuse_a_file(target, out)
        _create(target, content)
        return ()


def _check(out: Path) -> None:
    """Put a folder right, and raise InputError, with one problem, where it is plain that it cannot be written.

    One that passes may still be refused by `write_folder`.
    """
    with _explained(out, "it cannot be written here"):
        target = Path(os.path.realpath(out))
        _refuse_a_file(target, out)
        if any(map(_is_there, _left(target))):
            recover(target)
            _clear(_waiting(target))
            log.warning("labmark: %s: a run was broken off here; what it left is put right, and no file is lost", out)
        _refuse_if_open(target, listed_in(target))
        there = next(folder for folder in (target, *target.parents) if _is_there(folder))
        if not there.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, "not a folder")
        if not os.access(there, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, "not writable")


def refuse_a_cohort(out: Path) -> None:
    """Raise InputError where a folder holds a cohort: the files of one class would take the place of the cohort's."""
    if "cohort.json" in listed_in(out):
        problem = Problem("this folder holds a cohort", "give a class a folder of its own with --out", str(out))
        raise InputError(problem)


def refuse_the_class(out: Path, path: Path) -> None:
    """Raise InputError where a file that labmark writes would take the place of the class sheet."""
    if path.name in _TABLES and os.path.realpath(path.parent) == os.path.realpath(out):
        raise InputError(Problem("labmark writes a file of this name there", _ELSEWHERE, str(path)))


def recover(folder: Path) -> None:
    """Put a folder right in which a run was killed: back to the files it had, or on to the new ones.

    Raises InputError where a file cannot be moved; nothing is lost then, and it can be called again.
    """
    if _is_there(folder / NEW / MANIFEST):
        _undo(folder)
    _finish(folder)


def _waiting(target: Path) -> Path:
    """Return where a folder that does not exist yet is written before it is renamed."""
    return target.with_name(f".{target.name}{NEW}")


def _left(target: Path) -> tuple[Path, ...]:
    """Return what a killed run may have left of a folder."""
    return target / NEW, target / OLD, _waiting(target)


def _create(target: Path, content: Mapping[str, bytes]) -> None:
    """Write a new folder beside its place, then rename it."""
    missing = [folder for folder in target.parents if not _is_there(folder)]
    waiting = _waiting(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _clear(waiting)
        _write(waiting, content)
        os.replace(waiting, target)
    except BaseException:
        with contextlib.suppress(OSError):
            _clear(waiting)
        for folder in missing:
            _remove_if_empty(folder)
        raise


def _replace(target: Path, content: Mapping[str, bytes], as_read: AsRead) -> tuple[str, ...]:
    """Write into a folder that exists: new files aside, old ones away, new ones in, list last."""
    _refuse_if_open(target, {*listed_in(target), *content})
    recover(target)
    try:
        _write(target / NEW, content)
        _swap(target, content, as_read)
    except BaseException:
        # Where even undoing it fails the next run does it, and nothing is lost.
        with contextlib.suppress(OSError, InputError):
            recover(target)
        raise
    # The new files stand: what cannot be tidied up now, the next run will.
    with contextlib.suppress(OSError, InputError):
        try:
            return _finish(target)
        except KeyboardInterrupt:
            _finish(target)  # told to stop: the little that is left goes first
            raise
    return ()


def _write(folder: Path, content: Mapping[str, bytes]) -> None:
    """Write files into a new folder and, after all of them, their list."""
    folder.mkdir()
    for name, data in content.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    lines = [f"{hashlib.sha256(content[name]).hexdigest()}  {name}\n" for name in sorted(content)]
    (folder / MANIFEST).write_bytes("".join(lines).encode())


def _swap(target: Path, content: Mapping[str, bytes], as_read: AsRead) -> None:
    """Move the files of the earlier run away and the new ones into place; the list makes it good."""
    before = listed_in(target)
    gone = [name for name, mark in before.items() if name not in content and _sha256(target / name) == mark]
    (target / OLD).mkdir()
    if _is_there(target / MANIFEST):
        shutil.copyfile(target / MANIFEST, target / OLD / MANIFEST)
    for name in [*content, *gone]:
        if (target / name).is_dir():
            raise InputError(Problem("a folder stands where a file should go", "move it", file=str(target / name)))
        if _is_there(target / name):
            _move(target / name, target / OLD / name)
    for name, digest in as_read.items():
        if _sha256(target / OLD / name) != digest:
            raise InputError(Problem("it was saved while labmark was at work", "run again", file=str(target / name)))
    for name in content:
        _move(target / NEW / name, target / name)
    _move(target / NEW / MANIFEST, target / MANIFEST)


def _undo(target: Path) -> None:
    """Move the new files out again and those of the earlier run back; can be broken off and begun again."""
    if not _is_there(target / OLD):
        return  # the files of the earlier run had not been touched yet
    names = list(listed_in(target / NEW))
    for name in names:
        if _is_there(target / name) and not _is_there(target / NEW / name):
            _move(target / name, target / NEW / name)
    for name in _files_in(target / OLD):
        _move(target / OLD / name, target / name)
    for name in names:
        _remove_empty_parents(target, name)


def _finish(target: Path) -> tuple[str, ...]:
    """Keep what somebody had changed of the earlier files and clear both folders; return the names of what is kept."""
    before, now = listed_in(target / OLD), listed_in(target)
    kept = []
    for name in _files_in(target / OLD):
        if _sha256(target / OLD / name) in {before.get(name, ""), now.get(name, "")}:
            _remove(target / OLD / name)
            _remove_empty_parents(target, name)
        else:
            kept.append(_kept_name(target, name))
            if _is_there(target / kept[-1]):
                _remove(target / OLD / name)  # it is there already, to the last byte
            else:
                _move(target / OLD / name, target / kept[-1])
    with contextlib.suppress(OSError):
        _clear(target / NEW)
        _clear_old(target / OLD)
    return tuple(kept)


def _clear_old(folder: Path) -> None:
    """Remove what is left of the folder of earlier files, but never a file that may still be needed."""
    if not _files_in(folder):
        # Their list goes last: without it the files of the earlier run would pass for changed ones.
        _remove(folder / MANIFEST)
        for where, _, _ in os.walk(folder, topdown=False):
            _remove_if_empty(Path(where))


def _kept_name(target: Path, name: str) -> str:
    """Return "marks (kept 3f9a2c1b).xlsx" for a "marks.xlsx" of that content, with more of it where that is taken."""
    path, digest = PurePosixPath(name), _sha256(target / OLD / name) or ""
    names = (path.with_name(f"{path.stem} (kept {digest[:length]}){path.suffix}") for length in range(8, 65))
    return str(next(free for free in names if _sha256(target / free) in (None, digest)))


def _files_in(folder: Path) -> list[str]:
    """Return the paths of the files in a folder, without its list, in order; none where there is no folder.

    What cannot be read raises: a folder must not pass for an empty one and be cleared with all that is in it.
    """
    if not _is_there(folder):
        return []
    found = (path.relative_to(folder).as_posix() for path in _files_below(folder))
    return sorted(name for name in found if name != MANIFEST)


def _files_below(folder: Path) -> Iterator[Path]:
    """Yield the files of a folder and of the folders in it; a link counts as a file."""
    for name in os.listdir(folder):
        if stat.S_ISDIR(os.lstat(folder / name).st_mode):
            yield from _files_below(folder / name)
        else:
            yield folder / name


def _is_there(path: Path) -> bool:
    """Return whether a file, folder or link is there; what cannot be looked at raises and does not pass for absent."""
    try:
        os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def _sha256(path: Path) -> str | None:
    """Return the hash of a file; None where there is none, or a folder.

    A pipe, which would be waited for, passes for an empty file, and a link that leads nowhere for its text.
    """
    with _explained(path, "it cannot be read"):
        try:
            if path.is_file():
                return hashlib.sha256(path.read_bytes()).hexdigest()
            if path.is_symlink():
                return hashlib.sha256(os.fsencode(os.readlink(path))).hexdigest()
            return hashlib.sha256().hexdigest() if _is_there(path) and not path.is_dir() else None
        except (FileNotFoundError, NotADirectoryError):
            return None


def _move(source: Path, to: Path) -> None:
    """Move a file, and make the folders above its new place."""
    with _explained(to if OLD in source.parts or NEW in source.parts else source, "it cannot be moved"):
        to.parent.mkdir(parents=True, exist_ok=True)
        os.replace(source, to)


def _clear(folder: Path) -> None:
    """Remove a folder and all that is in it."""
    if _is_there(folder):
        shutil.rmtree(folder)


def _remove_empty_parents(target: Path, name: str) -> None:
    """Remove the folders between `target` and a file that is gone, as far as they are empty."""
    for parent in list(PurePosixPath(name).parents)[:-1]:
        _remove_if_empty(target / parent)


def _remove(file: Path) -> None:
    """Remove a file; where it cannot be removed now, the next run will."""
    with contextlib.suppress(OSError):
        file.unlink()


def _remove_if_empty(folder: Path) -> None:
    """Remove a folder where that can be done without losing anything."""
    with contextlib.suppress(OSError):
        folder.rmdir()


def _refuse_a_file(target: Path, out: Path) -> None:
    if _is_there(target) and not target.is_dir():
        raise InputError(Problem("this is a file, not a folder", _ELSEWHERE, file=str(out)))


def _refuse_if_open(target: Path, names: Iterable[str]) -> None:
    """Raise InputError where a spreadsheet program shows, by a file of its own, that it has one of ours open."""
    for name in sorted(names):
        path = target / name
        for lock in (path.with_name(f"~${path.name}"), path.with_name(f".~lock.{path.name}#")):
            if _is_there(lock):
                what = "it is open in a spreadsheet program"
                do = f"close it and run again (where it is not open, delete {lock.name})"
                raise InputError(Problem(what, do, file=str(path)))


@contextlib.contextmanager
def _explained(path: Path, otherwise: str) -> Iterator[None]:
    """Turn an error of the file system into one problem that says what to do."""
    try:
        yield
    except OSError as error:
        what, do = _REASONS.get(error.errno or 0, (f"{otherwise} ({error.strerror or error})", "choose another folder"))
        if isinstance(error, PermissionError) and path.is_file():
            what, do = "it is open in another program, or may not be changed", "close it and run again"
        raise InputError(Problem(what, do, file=str(path))) from error
    except UnicodeEncodeError as error:
        what = f"the names of files here are in {sys.getfilesystemencoding()}, which has no “{error.object:.80}”"
        raise InputError(Problem(what, "set PYTHONUTF8=1 and run again", file=str(path))) from error


_REASONS: dict[int, tuple[str, str]] = {
    errno.EACCES: ("this place may not be written to", _ELSEWHERE),
    errno.EPERM: ("this place may not be written to", _ELSEWHERE),
    errno.EROFS: ("this place may not be written to", _ELSEWHERE),
    errno.ENOSPC: ("the disk is full", "free some space and run again"),
    errno.ENAMETOOLONG: ("the path is too long", "choose a folder with a shorter path with --out"),
    errno.ENOTDIR: ("a file stands where a folder is needed", _ELSEWHERE),
    errno.EEXIST: ("a file stands where a folder is needed", _ELSEWHERE),
    errno.ELOOP: ("the links of this path lead in a circle", _ELSEWHERE),
}
"""Error number -> what is wrong and what to do."""
