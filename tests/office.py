"""Files that a spreadsheet program which is not ours opens and saves: many at a time, as to start it takes the longest."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

OFFICE = shutil.which("soffice")
needs_office = pytest.mark.skipif(OFFICE is None, reason="no spreadsheet program (soffice) on this machine")


def converted(files: Sequence[Path], to: str, folder: Path, profile: Path | None = None) -> Path:
    """Let LibreOffice save files in another format, `to`, into a folder, and return the folder.

    `profile` holds the program's settings; without it they are those that it begins with.
    """
    home = f"-env:UserInstallation={(profile or folder.parent / 'profile').as_uri()}"
    command = [str(OFFICE), home, "--headless", "--convert-to", to, "--outdir", str(folder), *map(str, files)]
    subprocess.run(command, check=True, capture_output=True, timeout=240)
    return folder


def saved(files: Sequence[Path], ending: str, folder: Path) -> list[Path]:
    """Let it save files of different names as others of this ending, and return these in order."""
    converted(files, ending, folder)
    return [folder / f"{file.stem}.{ending}" for file in files]
