"""The wheel carries the templates, and runs from where it is installed, also from a path with spaces."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True)
    (made,) = out.glob("*.whl")
    return made


def test_the_wheel_carries_templates_data_and_type_marker(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    for name in (
        "templates/sheet.typ",
        "templates/report.html.j2",
        "templates/results.schema.json",
        "py.typed",
        "read/words.toml",
        "diagnose/hypotheses.toml",
    ):
        assert f"labmark/{name}" in names
    assert {
        f"labmark/templates/practicals/{path.name}" for path in (ROOT / "templates" / "practicals").glob("*.toml")
    } <= names
    assert not [name for name in names if name.startswith(("tests/", "sample_data/"))]


def test_an_installed_labmark_marks_a_class_from_a_path_with_spaces(wheel, tmp_path):
    home = tmp_path / "Program Files" / "labmark here"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(home)
    out = tmp_path / "marked work"
    sample = str(ROOT / "sample_data" / "moss-killer.csv")
    command = [sys.executable, "-m", "labmark", "mark", sample, "--practical", "moss-killer", "--out", str(out)]
    environment = os.environ | {"PYTHONPATH": str(home), "PYTHONSAFEPATH": "1"}
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (out / "report.html").stat().st_size > 10_000
    where = subprocess.run(
        [sys.executable, "-c", "from labmark.places import templates_folder; print(templates_folder())"],
        cwd=tmp_path, env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert where.stdout.strip() == str(home / "labmark" / "templates")
