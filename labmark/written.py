"""What labmark writes: how it knows its own files again, by a list in every folder and a hidden sheet in marks.xlsx.

Files that are the user's from then on are never written over another one.
"""

import contextlib
import re
from collections.abc import Collection
from pathlib import Path

from labmark.problems import InputError, Problem

MANIFEST = ".labmark-files"
"""Name of the list of files that labmark wrote into a folder."""
NEW = ".labmark-new"
"""Name of the folder in which new files wait; also the end of the name of a new folder that waits beside its place."""
OLD = ".labmark-old"
"""Name of the folder in which the files of the earlier run wait until the new ones are in place."""
HIDDEN = "labmark"
"""Name of the hidden sheet of marks.xlsx that holds what it was written from."""

_OURS = {MANIFEST, NEW, OLD}
_KEPT = re.compile(r" \(kept [0-9a-f]{8,64}\)(?=\.[^.]*$)")


def is_own(name: str, listed: Collection[str]) -> bool:
    """Return whether a file is labmark's, or was kept of its files, by the list of them in the folder."""
    return name == MANIFEST or _KEPT.sub("", name) in listed


def is_inside(name: str) -> bool:
    """Return whether a path stays inside its folder and keeps clear of what is labmark's own there."""
    parts = name.split("/")
    return not ({"", ".", ".."} & set(parts) or parts[0] in _OURS or set("\\\n\r\0") & set(name) or ":" in parts[0])


def listed_in(folder: Path) -> dict[str, str]:
    """Return path -> SHA-256 of labmark's files in a folder, by its list of them; empty where there is none.

    Other lines of the list count for nothing.
    """
    manifest = folder / MANIFEST
    if not manifest.is_file():
        return {}
    text = manifest.read_text(encoding="utf-8", errors="replace")
    pairs = (line.split("  ", 1) for line in text.split("\n"))
    return {pair[1]: pair[0] for pair in pairs if len(pair) == 2 and is_inside(pair[1])}


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
