"""The folder appears whole or not at all, whatever fails, and nothing of the teacher's is lost."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from labmark.outputs.folder import one_writer, put_right, recover, refuse_the_class, write_folder
from labmark.problems import InputError
from labmark.written import MANIFEST, NEW, OLD
from tests.seeds import few_quick

EARLIER = [("report.html", b"earlier report"), ("marks.xlsx", b"earlier marks"), ("feedback/01 S01.pdf", b"sheet 1")]
LATER = [("report.html", b"later report"), ("marks.xlsx", b"later marks"), ("feedback/02 S02.pdf", b"sheet 2")]
OWN = {"notes.docx": b"the teacher's own", "feedback/remarks.txt": b"also the teacher's"}


def of(data: bytes) -> str:
    """Return what a kept file of that content is named after."""
    return hashlib.sha256(data).hexdigest()[:8]


def content(folder: Path) -> dict[str, bytes]:
    """Return path -> bytes of all files in a folder but for the list of them."""
    files = (path for path in folder.rglob("*") if path.is_file() and path != folder / MANIFEST)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def put(folder: Path, files: dict[str, bytes]) -> None:
    """Put files into a folder, as a teacher would."""
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


def only_line(error: pytest.ExceptionInfo[InputError]) -> str:
    """Return the line of the one problem that an error carries."""
    (problem,) = error.value.problems
    return str(problem)


@pytest.fixture
def marked(tmp_path: Path) -> Path:
    """Return a folder of an earlier run, in which the teacher has put files of their own."""
    write_folder(tmp_path / "marked", EARLIER)
    put(tmp_path / "marked", OWN)
    return tmp_path / "marked"


def test_a_new_folder_holds_the_files_and_their_list(tmp_path: Path) -> None:
    assert write_folder(tmp_path / "out", EARLIER) == ()
    assert content(tmp_path / "out") == dict(EARLIER)
    # the form that `sha256sum --check` reads
    assert (tmp_path / "out" / MANIFEST).read_text(encoding="utf-8").splitlines() == [
        f"{hashlib.sha256(dict(EARLIER)[name]).hexdigest()}  {name}"
        for name in ("feedback/01 S01.pdf", "marks.xlsx", "report.html")
    ]
    assert os.listdir(tmp_path) == ["out"]


def test_folders_above_that_are_missing_are_made(tmp_path: Path) -> None:
    write_folder(tmp_path / "term 1" / "Jahrgang Ü" / "marked – 2", EARLIER)
    assert content(tmp_path / "term 1" / "Jahrgang Ü" / "marked – 2") == dict(EARLIER)


def test_of_an_earlier_run_only_files_that_are_not_ours_remain(marked: Path) -> None:
    assert write_folder(marked, LATER) == ()
    assert content(marked) == dict(LATER) | OWN


def test_a_folder_that_was_never_ours_keeps_what_it_holds(tmp_path: Path) -> None:
    put(tmp_path, {"class.xlsx": b"readings", "term/plan.txt": b"plan"})
    write_folder(tmp_path, LATER)
    assert content(tmp_path) == dict(LATER) | {"class.xlsx": b"readings", "term/plan.txt": b"plan"}


def test_the_folder_inside_the_class_folder_leaves_the_class_alone(tmp_path: Path) -> None:
    put(tmp_path, {"S01.csv": b"readings"})
    write_folder(tmp_path / "marked", EARLIER)
    write_folder(tmp_path / "marked", LATER)
    assert content(tmp_path) == {"S01.csv": b"readings"} | {
        f"marked/{name}": data for name, data in [*LATER, (MANIFEST, (tmp_path / "marked" / MANIFEST).read_bytes())]
    }


def test_a_file_that_somebody_changed_is_kept_under_another_name(marked: Path) -> None:
    (marked / "marks.xlsx").write_bytes(b"with comments")
    assert write_folder(marked, LATER) == (f"marks (kept {of(b'with comments')}).xlsx",)
    (marked / "marks.xlsx").write_bytes(b"with further comments")
    assert write_folder(marked, EARLIER) == (f"marks (kept {of(b'with further comments')}).xlsx",)
    kept = {f"marks (kept {of(data)}).xlsx": data for data in (b"with comments", b"with further comments")}
    assert content(marked) == dict(EARLIER) | OWN | kept
    write_folder(marked, LATER)
    assert content(marked) == dict(LATER) | OWN | kept


def test_a_changed_file_that_is_not_written_anew_stays_where_it_is(marked: Path) -> None:
    (marked / "feedback" / "01 S01.pdf").write_bytes(b"with a drawing")
    assert write_folder(marked, LATER) == ()
    assert content(marked) == dict(LATER) | OWN | {"feedback/01 S01.pdf": b"with a drawing"}


def test_a_file_of_unknown_origin_with_one_of_our_names_is_kept(tmp_path: Path) -> None:
    put(tmp_path, {"report.html": b"of last year", "marks.xlsx": b"later marks"})
    assert write_folder(tmp_path, LATER) == (f"report (kept {of(b'of last year')}).html",)
    assert content(tmp_path) == dict(LATER) | {f"report (kept {of(b'of last year')}).html": b"of last year"}


@pytest.mark.parametrize(
    "spoilt", [b"", b"\xff\xfe", b"nonsense", b"0" * 64 + b"  ../class.xlsx\n", b"x  /etc/hosts\n"]
)
def test_a_spoilt_list_of_files_loses_nothing(marked: Path, spoilt: bytes) -> None:
    put(marked.parent, {"class.xlsx": b"readings"})
    (marked / MANIFEST).write_bytes(spoilt)
    write_folder(marked, LATER)
    assert content(marked).items() >= (dict(LATER) | OWN).items()
    assert (marked / f"marks (kept {of(b'earlier marks')}).xlsx").read_bytes() == b"earlier marks"
    assert (marked.parent / "class.xlsx").read_bytes() == b"readings"


def test_the_same_files_give_the_same_folder(marked: Path, tmp_path: Path) -> None:
    write_folder(marked, LATER)
    write_folder(tmp_path / "fresh", reversed(LATER))
    assert (marked / MANIFEST).read_bytes() == (tmp_path / "fresh" / MANIFEST).read_bytes()


def test_folders_of_the_earlier_run_that_are_empty_now_go(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", EARLIER)
    write_folder(tmp_path / "out", [("report.html", b"later report")])
    assert sorted(os.listdir(tmp_path / "out")) == [MANIFEST, "report.html"]


def test_through_a_link_the_folder_behind_it_is_written(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    (tmp_path / "dangling").symlink_to(tmp_path / "not yet")
    for link, behind in (("link", "real"), ("dangling", "not yet")):
        write_folder(tmp_path / link, EARLIER)
        write_folder(tmp_path / link, LATER)
        assert (tmp_path / link).is_symlink()
        assert content(tmp_path / behind) == dict(LATER)


def test_the_folder_one_works_in_stays_the_same_folder(marked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(marked)
    before = marked.stat().st_ino
    write_folder(Path("."), LATER)
    assert marked.stat().st_ino == before
    assert content(Path()) == dict(LATER) | OWN


def test_a_file_where_the_folder_should_be_is_an_error_and_stays(tmp_path: Path) -> None:
    put(tmp_path, {"out": b"a file"})
    with pytest.raises(InputError) as error:
        write_folder(tmp_path / "out", EARLIER)
    assert only_line(error) == f"{tmp_path / 'out'}: this is a file, not a folder; choose another folder with --out"
    assert content(tmp_path) == {"out": b"a file"}


def test_a_file_among_the_folders_above_is_an_error(tmp_path: Path) -> None:
    put(tmp_path, {"term": b"a file"})
    with pytest.raises(InputError) as error:
        write_folder(tmp_path / "term" / "out", EARLIER)
    assert only_line(error) == (
        f"{tmp_path / 'term' / 'out'}: a file stands where a folder is needed; choose another folder with --out"
    )
    assert content(tmp_path) == {"term": b"a file"}


@pytest.mark.parametrize(
    ("in_the_way", "line"),
    [
        ({"marks.xlsx/inner.txt": b"x"}, "marks.xlsx: a folder stands where a file should go; move it"),
        ({"feedback": b"x"}, "a file stands where a folder is needed; choose another folder with --out"),
    ],
)
def test_what_stands_in_the_way_of_our_files_is_an_error_and_stays(
    tmp_path: Path, in_the_way: dict[str, bytes], line: str
) -> None:
    put(tmp_path, in_the_way)
    with pytest.raises(InputError) as error:
        write_folder(tmp_path, EARLIER)
    assert line in only_line(error)
    assert content(tmp_path) == in_the_way
    assert not {NEW, OLD} & set(os.listdir(tmp_path))


def test_links_in_a_circle_are_an_error(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(InputError, match="circle"):
        write_folder(tmp_path / "a", EARLIER)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of Unix")
@pytest.mark.parametrize("name", ["report.html", "notes"])
@pytest.mark.parametrize("kind", ["pipe", "circle", "nowhere"])
def test_a_pipe_or_a_link_to_nothing_is_kept_and_not_waited_for(marked: Path, name: str, kind: str) -> None:
    (marked / name).unlink(missing_ok=True)
    if kind == "pipe":
        os.mkfifo(marked / name)
    else:
        (marked / name).symlink_to("other")
    if kind == "circle":
        (marked / "other").symlink_to(name)
    before = os.lstat(marked / name).st_ino
    kept = write_folder(marked, LATER)
    assert len(kept) == (name == "report.html")
    assert os.lstat(marked / (kept[0] if kept else name)).st_ino == before
    assert content(marked).items() >= dict(LATER).items()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of Unix")
def test_a_pipe_in_place_of_the_list_of_files_is_said(marked: Path) -> None:
    (marked / MANIFEST).unlink()
    os.mkfifo(marked / MANIFEST)
    with pytest.raises(InputError, match="named pipe"):
        write_folder(marked, LATER)
    assert content(marked).items() >= dict(EARLIER).items()


def test_a_path_that_is_too_long_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        write_folder(tmp_path / ("x" * 300), EARLIER)
    assert "the path is too long; choose a folder with a shorter path" in only_line(error)


@pytest.mark.parametrize(
    "name", ["../class.xlsx", "/etc/hosts", "a//b", "", ".", "a/../../b", "C:/b", "a\\b", "a\nb", MANIFEST]
)
def test_a_path_that_leads_out_of_the_folder_is_refused_before_anything_is_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="no path inside the folder"):
        write_folder(tmp_path / "out", [*EARLIER, (name, b"")])
    assert os.listdir(tmp_path) == []


def test_the_same_path_twice_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="stands twice"):
        write_folder(tmp_path / "out", [*EARLIER, EARLIER[0]])


def test_an_error_while_the_files_are_made_leaves_everything_as_it_was(marked: Path) -> None:
    def failing() -> Iterator[tuple[str, bytes]]:
        yield LATER[0]
        raise OSError(errno.EIO, "a font could not be read")

    with pytest.raises(OSError, match="font"):
        write_folder(marked, failing())
    assert content(marked) == dict(EARLIER) | OWN


@pytest.mark.parametrize("lock", ["~$marks.xlsx", ".~lock.marks.xlsx#"])
@pytest.mark.parametrize("ours", [True, False])
def test_a_workbook_open_in_a_spreadsheet_program_is_refused_before_anything_is_written(
    tmp_path: Path, lock: str, ours: bool
) -> None:
    earlier = dict(EARLIER if ours else [("marks.xlsx", b"not ours")])
    if ours:
        write_folder(tmp_path, EARLIER)
    put(tmp_path, earlier | {lock: b"open"})
    with pytest.raises(InputError) as error:
        write_folder(tmp_path, LATER)
    assert only_line(error) == (
        f"{tmp_path / 'marks.xlsx'}: it is open in a spreadsheet program; "
        f"close it and run again (where it is not open, delete {lock})"
    )
    assert content(tmp_path) == earlier | {lock: b"open"}


def test_a_file_that_cannot_be_moved_is_named_and_everything_is_put_back(
    marked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On Windows a file that a program has open cannot be moved; the error is imitated."""
    replace = os.replace

    def refuse(source: Path, to: Path) -> None:
        if Path(source) == marked / "marks.xlsx":
            raise PermissionError(errno.EACCES, "in use")
        replace(source, to)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(InputError) as error:
        write_folder(marked, LATER)
    assert only_line(error) == (
        f"{marked / 'marks.xlsx'}: it is open in another program, or may not be changed; close it and run again"
    )
    assert content(marked) == dict(EARLIER) | OWN
    assert not {NEW, OLD} & set(os.listdir(marked))


def test_what_a_killed_run_left_beside_a_new_folder_is_cleared(tmp_path: Path) -> None:
    put(tmp_path / f".out{NEW}", {"report.html": b"half"})
    write_folder(tmp_path / "out", EARLIER)
    assert os.listdir(tmp_path) == ["out"]


def test_a_full_disk_is_an_error_and_leaves_everything_as_it_was(marked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, data: bytes) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(InputError) as error:
        write_folder(marked, LATER)
    assert only_line(error) == f"{marked}: the disk is full; free some space and run again"
    assert content(marked) == dict(EARLIER) | OWN


# Before long work.


@pytest.mark.parametrize("out", ["marked", "new", "new/deep", "."])
def test_a_folder_that_can_be_written_passes_and_is_not_touched(marked: Path, out: str) -> None:
    before = content(marked.parent)
    with one_writer(marked.parent / out):
        pass
    assert content(marked.parent) == before
    assert os.listdir(marked.parent) == ["marked"]


@pytest.mark.parametrize(
    ("out", "line"),
    [
        ("marked", "marks.xlsx: it is open in a spreadsheet program; close it"),
        ("file", "file: this is a file, not a folder; choose another folder with --out"),
        ("file/out", "a file stands where a folder is needed; choose another folder with --out"),
        ("x" * 300, "the path is too long"),
    ],
)
def test_what_is_plain_beforehand_is_said_before_long_work(marked: Path, out: str, line: str) -> None:
    put(marked.parent, {"file": b"x", "marked/~$marks.xlsx": b"open"})
    with pytest.raises(InputError) as error, one_writer(marked.parent / out):
        pass
    assert line in only_line(error)


def test_a_place_that_may_not_be_written_to_is_said_before_long_work(
    marked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(InputError) as error, one_writer(marked / "new"):
        pass
    assert only_line(error) == (f"{marked / 'new'}: this place may not be written to; choose another folder with --out")


# Every single call to the operating system fails in turn, or is the last before the run is killed.

COMMENTED = dict(EARLIER) | OWN | {"marks.xlsx": b"with comments"}
AFTER = dict(LATER) | OWN | {f"marks (kept {of(b'with comments')}).xlsx": b"with comments"}


class Fault:
    """Lets the n-th call that the code under test makes to the operating system go wrong."""

    def __init__(self, n: int, act: Callable[[], None]) -> None:
        self.left, self.act = n, act

    def __call__(self, frame: FrameType, event: str, called: Any) -> None:
        of = getattr(called, "__module__", None) or type(getattr(called, "__self__", None)).__module__
        if event != "c_call" or of not in ("posix", "nt", "io", "_io"):
            return
        self.left -= 1
        if self.left == 0:
            self.act()


def failing(number: int) -> Callable[[], None]:
    def fail() -> None:
        """Refuse as an operating system does."""
        raise OSError(number, os.strerror(number))

    return fail


def interrupt() -> None:
    """Stop as by Ctrl-C."""
    raise KeyboardInterrupt


FAULTS = {errno.errorcode[each]: failing(each) for each in (errno.EACCES, errno.ENOSPC, errno.EBUSY)}
FAULTS |= {"Ctrl-C": interrupt}


def run_with(folder: Path, n: int, act: Callable[[], None]) -> tuple[bool, bool]:
    """Write the later files while the n-th call goes wrong; return whether there was one, and whether that was said."""
    fault, said = Fault(n, act), False
    sys.setprofile(fault)
    try:
        write_folder(folder, LATER)
    except InputError:
        said = True
    except KeyboardInterrupt:
        pass
    finally:
        sys.setprofile(None)
    return fault.left <= 0, said


def commented(folder: Path) -> Path:
    """Return a folder of an earlier run with files and comments of the teacher."""
    write_folder(folder, EARLIER)
    put(folder, OWN | {"marks.xlsx": b"with comments"})
    return folder


def visible(folder: Path) -> dict[str, bytes]:
    """Return the files in a folder but for what waits to be tidied up."""
    return {name: data for name, data in content(folder).items() if name.split("/")[0] not in (NEW, OLD)}


@pytest.mark.slow
@pytest.mark.parametrize("act", FAULTS)
def test_whichever_call_fails_the_old_files_are_intact_or_the_new_ones_whole(tmp_path: Path, act: str) -> None:
    n, went_on = 0, True
    while went_on:
        n += 1
        folder = commented(tmp_path / str(n))
        went_on, said = run_with(folder, n, FAULTS[act])
        assert act != "Ctrl-C" or content(folder) == visible(folder), n  # who is told to stop tidies up
        recover(folder)
        assert visible(folder) in (COMMENTED, AFTER), n
        assert not (said and visible(folder) == AFTER), n  # no error after success
        write_folder(folder, LATER)
        assert content(folder) == AFTER, n
        assert os.listdir(tmp_path).count(f".{n}{NEW}") == 0
    assert n > 100


@pytest.mark.parametrize("act", few_quick(FAULTS, 2))
def test_whichever_call_fails_a_new_folder_is_whole_or_not_there(tmp_path: Path, act: str) -> None:
    n, went_on = 0, True
    while went_on:
        n += 1
        folder = tmp_path / str(n) / "marked"
        went_on, said = run_with(folder, n, FAULTS[act])
        assert content(folder) in ({}, dict(LATER)), n
        assert not (said and folder.exists()), n
        write_folder(folder, LATER)
        assert content(folder) == dict(LATER), n
        assert os.listdir(folder.parent) == ["marked"], n
    assert n > 20


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork a process to be killed")
def test_whenever_the_run_is_killed_the_next_one_puts_things_right(tmp_path: Path) -> None:
    n, killed = 0, True
    while killed:
        n += 1
        folder = commented(tmp_path / str(n))
        child = os.fork()
        if child == 0:
            run_with(folder, n, lambda: os._exit(9))
            os._exit(0)
        killed = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
        recover(folder)
        assert content(folder) in (COMMENTED, AFTER), n
        write_folder(folder, LATER)
        assert content(folder) == AFTER, n
    assert n > 100


def test_one_run_at_a_time_writes_a_folder(tmp_path: Path) -> None:
    with one_writer(tmp_path / "out"):
        code = "import pathlib, sys\nfrom labmark.outputs.folder import one_writer\nwith one_writer(pathlib.Path(sys.argv[1])): pass"
        done = subprocess.run(
            [sys.executable, "-c", code, str(tmp_path / "out")], capture_output=True, text=True, check=False
        )
        assert "another labmark is writing here" in done.stderr
    with one_writer(tmp_path / "out"):
        pass


def test_a_run_leaves_no_file_of_its_own_among_temporary_ones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    with one_writer(tmp_path / "out"):
        assert os.listdir(temporary)
    assert os.listdir(temporary) == []


def test_of_many_runs_at_once_no_two_write_a_folder(tmp_path: Path) -> None:
    inside, most, refused = [0], [0], [0]

    def try_often() -> None:
        for _ in range(200):
            try:
                with one_writer(tmp_path / "out"):
                    inside[0] += 1
                    most[0] = max(most[0], inside[0])
                    time.sleep(0)
                    inside[0] -= 1
            except InputError:
                refused[0] += 1

    runs = [threading.Thread(target=try_often) for _ in range(4)]
    for each in runs:
        each.start()
    for each in runs:
        each.join()
    assert (most, refused[0] < 800) == ([1], True)


LEFT = {
    "half of the new files": {f"{NEW}/report.html": b"half"},
    "all of them, and half of the old": {
        f"{NEW}/{MANIFEST}": b"0  report.html\n",
        f"{NEW}/report.html": b"new",
        f"{OLD}/report.html": b"earlier report",
    },
}


@pytest.mark.parametrize("left", LEFT.values(), ids=LEFT)
@pytest.mark.parametrize("by", [one_writer, put_right])
def test_what_a_killed_run_left_is_put_right_by_whatever_comes_next_and_said(
    marked: Path, caplog: pytest.LogCaptureFixture, by: Callable[[Path], Any], left: dict[str, bytes]
) -> None:
    put(marked, left)
    if f"{OLD}/report.html" in left:
        (marked / "report.html").unlink()
    with contextlib.suppress(ValueError), by(marked) or contextlib.nullcontext():
        raise ValueError("something else is wrong")
    assert content(marked) == dict(EARLIER) | OWN
    assert not {NEW, OLD} & set(os.listdir(marked))
    assert caplog.messages == [
        f"labmark: {marked}: a run was broken off here; what it left is put right, and no file is lost"
    ]
    put_right(marked)
    assert len(caplog.messages) == 1


def test_what_is_being_written_is_not_read(marked: Path) -> None:
    with one_writer(marked):
        put(marked, {f"{NEW}/report.html": b"half"})
        with pytest.raises(InputError, match="another labmark is writing here"):
            put_right(marked)


def test_what_cannot_be_tidied_up_is_no_error_after_success(marked: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(marked, {"marks.xlsx": b"with comments"})
    replace = os.replace

    def refuse(source: Path, to: Path) -> None:
        if "kept" in str(to):
            raise PermissionError(errno.EACCES, "in use")
        replace(source, to)

    monkeypatch.setattr(os, "replace", refuse)
    assert write_folder(marked, LATER) == ()
    monkeypatch.undo()
    put_right(marked)
    assert content(marked) == dict(LATER) | OWN | {f"marks (kept {of(b'with comments')}).xlsx": b"with comments"}


def test_the_class_sheet_is_not_written_over(tmp_path: Path) -> None:
    refuse_the_class(tmp_path, tmp_path / "class.csv")
    refuse_the_class(tmp_path / "marked", tmp_path / "marks.csv")
    with pytest.raises(InputError, match="labmark writes a file of this name there"):
        refuse_the_class(tmp_path / "." / ".." / tmp_path.name, tmp_path / "marks.csv")


def test_a_workbook_that_was_saved_meanwhile_is_not_written_over(marked: Path) -> None:
    before = content(marked)
    with pytest.raises(InputError, match="saved while labmark was at work"):
        write_folder(marked, LATER, {"marks.xlsx": of(b"another")})
    assert content(marked) == before


def test_a_kept_file_is_kept_once(marked: Path) -> None:
    for _ in range(3):
        put(marked, {"marks.xlsx": b"with comments"})
        write_folder(marked, LATER)
    assert [name for name in content(marked) if "kept" in name] == [f"marks (kept {of(b'with comments')}).xlsx"]
