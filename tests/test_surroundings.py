"""Ordinary surroundings: whatever the machine is like, the same bytes, or one clear line."""

from __future__ import annotations

import codecs
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from labmark.outputs.data import results_text
from labmark.outputs.folder import write_folder
from labmark.pipeline import judged_tree
from labmark.practical import practical_from_toml
from labmark.practicals import text_of
from labmark.problems import LONGEST, InputError, Problem
from labmark.read import read_class
from labmark.words import plainly, readable
from tests.columns import students_of
from tests.decided import CLASS, PRACTICAL
from tests.seeds import few_quick

LABMARK = [sys.executable, "-m", "labmark"]
POSIX = pytest.mark.skipif(os.name != "posix", reason="names, links, pipes and devices of Unix")
CLASS_FILE = b"Kl\xe4sse.csv" if os.name == "posix" else "Klässe.csv"
ASCII = {"LC_ALL": "C", "PYTHONIOENCODING": "ascii"}


def labmark(folder: Path, *words: str | bytes, env: dict[str, str] | None = None, shell: str = "") -> Any:
    """Run labmark in a folder; `shell` redirects its streams."""
    command = ["sh", "-c", f'exec "$@" {shell}', "sh", *LABMARK, *words]
    environment = {**os.environ, "PYTHONPATH": os.getcwd(), **(env or {})}
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, check=False, timeout=120)
    assert b"Traceback" not in done.stderr, done.stderr.decode()
    return done


def told(done: Any) -> str:
    """Return the one line on standard error of a run that failed."""
    assert done.returncode == 1, done
    (line,) = done.stderr.decode().splitlines()
    return str(line)


def files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def class_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the file of a class."""
    path = tmp_path_factory.mktemp("surroundings") / os.fsdecode(CLASS_FILE)
    path.write_text(CLASS.replace("Ada", "Zoë"), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def plain(class_file: Path) -> Path:
    """Return the folder of the class, marked there as anywhere."""
    folder = class_file.parent
    assert labmark(folder, "mark", CLASS_FILE, "--practical", PRACTICAL, "--out", "plain").returncode == 0
    return folder


@POSIX
@pytest.mark.slow
def test_no_setting_of_the_users_and_no_missing_stream_changes_a_byte(plain: Path) -> None:
    done = labmark(
        plain,
        *("mark", CLASS_FILE, "--practical", PRACTICAL, "--out", "odd"),
        env=ASCII | {"HOME": "/nonexistent"},
        shell="0<&- 1>&- 2>&-",
    )
    assert done.returncode == 0
    assert files(plain / "odd") == files(plain / "plain")


@POSIX
@pytest.mark.slow
@pytest.mark.parametrize("shell", ["2>/dev/full", "2>&-", "1>/dev/full", "1>&- 2>/dev/full"])
def test_marking_does_not_fail_because_nobody_hears_of_it(plain: Path, shell: str) -> None:
    out = f"out {shell.replace('/', '')}"
    assert labmark(plain, "mark", CLASS_FILE, "--practical", PRACTICAL, "--out", out, shell=shell).returncode == 0
    assert files(plain / out) == files(plain / "plain")


@POSIX
@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_run_that_is_told_to_stop_leaves_the_folder_whole(plain: Path, number: signal.Signals) -> None:
    command = [*LABMARK, "mark", os.fsdecode(CLASS_FILE), "--practical", PRACTICAL, "--out", "plain"]
    before, new = files(plain / "plain"), plain / "plain" / ".labmark-new"
    environment = {**os.environ, "PYTHONPATH": os.getcwd()}
    process = subprocess.Popen(command, cwd=plain, env=environment, stderr=subprocess.PIPE)
    while not new.exists() and process.poll() is None:
        time.sleep(0.001)
    process.send_signal(number)
    said = process.communicate()[1].decode()
    assert (process.returncode, "stopped" in said) in ((130, True), (0, False))
    assert "Traceback" not in said
    assert files(plain / "plain") == before


@POSIX
@pytest.mark.parametrize("words", [["--help"], pytest.param(["practicals"], marks=pytest.mark.slow)])
def test_an_answer_that_cannot_be_written_is_said(tmp_path: Path, words: list[str]) -> None:
    assert "No space left on device" in told(labmark(tmp_path, *words, shell=">/dev/full"))


def test_the_class_file_is_named_in_letters_whatever_its_name(class_file: Path) -> None:
    text = results_text(judged_tree(class_file, PRACTICAL, ()))
    assert '"file":"Kl\\\\xe4sse.csv"' in text.replace(" ", "")


@POSIX
def test_files_of_a_class_folder_may_have_any_name(tmp_path: Path) -> None:
    header, one, *_ = CLASS.splitlines()
    for number, name in enumerate((b"M\xfcller.csv", "Zoë.csv".encode(), b"\xff.txt.doc")):
        text = f"{header.removeprefix('Student,ID,')}\n{one.removeprefix('Ada,1,').replace('25.30', f'25.{number}0')}\n"
        (tmp_path / os.fsdecode(name)).write_text(text, encoding="utf-8")
    read = read_class(tmp_path)
    assert list(students_of(read)["student"]) == ["M\\xfcller", "Zoë"]
    assert "passed over: \\xff.txt.doc" in " ".join(read.notes)


def test_a_name_is_readable_on_a_system_that_knows_ascii_alone() -> None:
    assert readable("Klasse \udcc3\udc9c.csv") == "Klasse Ü.csv"
    assert str(Problem("no", "", "Kl\udce4sse.csv")) == "Kl\\xe4sse.csv: no"


def test_a_name_that_the_system_cannot_hold_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def in_ascii(path: Path, data: bytes) -> int:
        return len(str(path).encode("ascii"))

    monkeypatch.setattr(Path, "write_bytes", in_ascii)
    with pytest.raises(InputError, match=r"names of files here are in .* set PYTHONUTF8=1"):
        write_folder(tmp_path / "marked", [("feedback/Zoë.pdf", b"")])
    assert not (tmp_path / "marked").exists()


@POSIX
@pytest.mark.parametrize("words", [["mark"], pytest.param(["cohort", "--out", "many"], marks=pytest.mark.slow)])
def test_a_working_folder_that_is_gone_is_one_line(class_file: Path, tmp_path: Path, words: list[str]) -> None:
    (tmp_path / "here").mkdir()
    command = 'rmdir ../here; exec "$@"'
    done = subprocess.run(
        ["sh", "-c", command, "sh", *LABMARK, *words, class_file, "--practical", PRACTICAL],
        cwd=tmp_path / "here",
        env={**os.environ, "PYTHONPATH": os.getcwd()},
        capture_output=True,
        check=False,
    )
    assert told(done) == "labmark: the folder that you work in is gone; change to another one"


@POSIX
def test_pipes_and_links_in_a_circle_are_passed_over_in_a_folder_of_classes(class_file: Path, tmp_path: Path) -> None:
    from labmark.cohort.find import classes_of

    (tmp_path / "class.csv").write_bytes(class_file.read_bytes())
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")
    found, passed = classes_of([str(tmp_path)], tmp_path / "out")
    assert [each.path.name for each in found] == ["class.csv"]
    assert [Path(each).name for each in passed] == ["loop.csv", "pipe.csv"]


DEEP = {
    "lists": "x = " + "[" * 3000 + "]" * 3000,
    "tables": "x = " + "{a = " * 3000 + "1" + "}" * 3000,
    "a dotted key": "x" + ".a" * 3000 + " = 1",
    "digits": "title = " + "9" * 5000,
    "an exponent": "title = 1e" + "9" * 5000,
    "hexadecimal digits": "title = 0x" + "f" * 5000,
    "a decimal": "title = 0." + "9" * 5000,
    "a key": "k" * 5000 + " = 1",
    "a title": f'title = "{"x" * 500_000}"',
    "an equation": f'equation = "{"NaOH + " * 5000}-> H2O"',
}


@pytest.mark.parametrize("line", few_quick(DEEP.values(), 6), ids=DEEP)
def test_a_practical_out_of_all_measure_is_refused_in_a_few_words(line: str) -> None:
    key = line.partition(" =")[0]
    others = [each for each in text_of(PRACTICAL).splitlines() if not each.startswith(f"{key} =")]
    with pytest.raises(InputError) as caught:
        practical_from_toml("\n".join([line, *others]), "deep.toml")
    (problem,) = caught.value.problems
    assert len(str(problem)) < LONGEST + 100


@pytest.mark.parametrize(
    ("encoding", "line"),
    [
        ("ascii", "CaCO3 -> CO3^2-, 10^-5, 24.30 +/-0.05 cm^3 != 24.35, Ines, Zoe's x?"),
        ("cp1252", "CaCO3 -> CO3²-, 10^-5, 24.30 ±0.05 cm³ != 24.35, Inês, Zoë’s ×?"),
    ],
)
def test_a_sign_that_a_terminal_has_not_got_is_written_with_those_it_has(encoding: str, line: str) -> None:
    codecs.register_error("plainly", plainly)
    text = "CaCO₃ → CO₃²⁻, 10⁻⁵, 24.30 ±0.05 cm³ ≠ 24.35, Inês, Zoë’s ×✓"
    assert text.encode(encoding, "plainly").decode(encoding) == line
