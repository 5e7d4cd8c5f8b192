"""Writes a file that is the user's from then on, and never over another one."""

from __future__ import annotations

import contextlib
from pathlib import Path

from labmark.problems import InputError, Problem


def write_new(path: Path, data: bytes) -> None:
    """Write a new file. One that is there already stays as it is: unless it is the same, that is an InputError."""
    try:
        with path.open("xb") as stream:
            stream.write(data)
    except FileExistsError as error:
        if path.is_file() and path.read_bytes() == data:
            return
        there = "a folder" if path.is_dir() else "there already, and is not overwritten"
        raise InputError(Problem(f"it is {there}", "give the name of a new file", str(path))) from error
    except (OSError, ValueError) as error:
        with contextlib.suppress(OSError, ValueError):
            path.unlink()  # half of a file is none
        why = getattr(error, "strerror", None) or error
        raise InputError(Problem(f"it cannot be written ({why})", "check the folder", str(path))) from error
