"""What can be wrong with an input, as values with an address.

A problem names the file, the sheet and the cell, says what was found and what to do about it:

    class.xlsx, sheet Results, cell C7: the formula was never calculated; open the file and save it again
"""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from labmark.words import readable, shortened

LONGEST_WORD, LONGEST = 80, 600
"""Characters of a word, and of what was found, that are shown: a cell or a key may hold a book."""


class Problem(NamedTuple):
    """One reason why an input cannot be used."""

    what: str
    """What was found, in a teacher's words, without a full stop."""
    do: str
    """What to do about it, without a full stop."""
    file: str = ""
    """Path as the user gave it."""
    sheet: str = ""
    """Name of the sheet; empty for a text table."""
    cell: str = ""
    """Address such as C7; for a practical file the key, such as burette.capacity."""

    def __str__(self) -> str:
        """Return the one line that is shown: file, sheet, cell: what; do."""
        sheet = f"sheet {self.sheet}" if self.sheet else ""
        # A key of a practical file (burette.capacity) is no cell.
        cell = f"cell {self.cell}" if self.cell[-1:].isdigit() and "." not in self.cell else self.cell
        place = ", ".join(part for part in (self.file, _shortened(sheet), _shortened(cell)) if part)
        line = f"{place}: {_shortened(self.what)}" if place else _shortened(self.what)
        line = f"{line}; {_shortened(self.do)}" if self.do else line
        return " ".join(readable(line).split())


def _shortened(text: str) -> str:
    """Return a text with what is too long cut out of its middle: how it ends says what was expected."""
    words = " ".join(shortened(word, LONGEST_WORD) for word in text.split(" "))
    return words if len(words) <= LONGEST else f"{words[: LONGEST // 2]} … {words[-LONGEST // 2 :]}"


class InputError(Exception):
    """The input cannot be used; carries every problem found, not just the first, and each once."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        found = [problems] if isinstance(problems, Problem) else problems
        self.problems: tuple[Problem, ...] = tuple(dict.fromkeys(found))
        super().__init__("\n".join(map(str, self.problems)))


class Unusable(Exception):
    """One thing that cannot be used, by whoever knows no address: what is wrong with it, and what to do."""

    def __init__(self, what: str, do: str) -> None:
        super().__init__(what)
        self.what, self.do = what, do


def raise_any(problems: Sequence[Problem]) -> None:
    """Raise InputError with these problems, where there are any."""
    if problems:
        raise InputError(problems)


@lru_cache(maxsize=4096)
def letters(column: int) -> str:
    """Return the letters of a column counted from 1.

    >>> letters(28)
    'AB'
    """
    text = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
