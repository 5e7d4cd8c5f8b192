"""Names of the students' sheets that every file system takes.

A name on the class sheet may be anything; a file name may not. Reserved on Windows: `< > : " / \\ | ? *`, control
characters, device names such as CON or LPT1 with any ending, a dot or a space at the end; macOS takes `é` in one
character and in two for the same file; Linux counts 255 bytes. (Source: Microsoft, "Naming Files, Paths, and
Namespaces"; the rest is common practice, no source.)

    >>> sheet_names(["S01", "con", "Zoë / Lab 2"])
    ['01 S01.pdf', '02 _con.pdf', '03 Zoë Lab 2.pdf']
"""

import unicodedata
from collections.abc import Callable, Sequence

LONGEST = 120
"""Bytes of UTF-8 of a name without number and ending: paths on Windows have 260 characters in all."""
RESERVED = frozenset('<>:"/\\|?*')
DEVICES = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$", "clock$"]
    + [f"{device}{digit}" for device in ("com", "lpt") for digit in "0123456789¹²³"]
)
"""Names that Windows keeps for devices, whatever the ending."""


def sheet_names(students: Sequence[str]) -> list[str]:
    """Return a file name for each student, in order: the place on the class sheet, then the name.

    All names differ, also where a file system makes no difference between `Zoë` and `ZOE` + combining dots.
    The same students give the same names.
    """
    width = max(2, len(str(len(students))))
    taken: set[str] = set()
    stems = (f"{number:0{width}d} {safe_name(student)}".strip() for number, student in enumerate(students, start=1))
    return [f"{unlike(stem, taken)}.pdf" for stem in stems]


def safe_name(text: str) -> str:
    """Return `text` as (part of) a file name: at most `LONGEST` bytes of UTF-8; empty where nothing is left."""
    spaced = "".join(_kept(character) for character in unicodedata.normalize("NFC", text))
    name = " ".join(spaced.split()).strip(". ")
    name = _cut(name).strip(". ")
    return f"_{name}" if name.partition(".")[0].strip().casefold() in DEVICES else name


def _kept(character: str) -> str:
    """Return the character, a space where a file name cannot hold it, or nothing for one that is not seen."""
    category = unicodedata.category(character)
    # Format characters (Cf) turn the direction of writing or hide; Cs and Co have no meaning outside one program.
    if category in ("Cf", "Cs", "Co", "Cn"):
        return ""
    return " " if character in RESERVED or category in ("Cc", "Zl", "Zp", "Zs") else character


def _cut(name: str) -> str:
    """Return the beginning of `name` that fits into `LONGEST` bytes, whole characters only."""
    if len(name.encode()) <= LONGEST:
        return name
    cut = name.encode()[:LONGEST].decode(errors="ignore")
    # An accent must not be parted from its letter: what follows the cut tells.
    while cut and unicodedata.combining(name[len(cut)]):
        cut = cut[:-1]
    return cut


def seen_as(name: str) -> str:
    """Return what two names share where a file system takes them for the same."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def unlike(stem: str, taken: set[str], seen: Callable[[str], str] = seen_as) -> str:
    """Return `stem`, with a number where one that looks the same is taken; it is taken then.

    seen   what two names share that look the same; left out, to a file system
    """
    name, copy = stem, 1
    while seen(name) in taken:
        copy += 1
        name = f"{stem} ({copy})"
    taken.add(seen(name))
    return name
