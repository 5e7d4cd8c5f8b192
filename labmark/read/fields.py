"""A large text table as bytes: where its fields are, and the numbers in them, a whole column at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

Array = np.ndarray[Any, Any]
EMPTY, NUMBER, OTHER = 0, 1, 2
"""What a field is: nothing, a plain number, anything else."""
WORD, MOST_PLACES = 8, 5
"""Characters of a number that are read at once, and decimals in it."""
_ALL_ZEROS = np.uint64(0x3030303030303030)
_KEEP = np.array([(2**64 - 1) ^ ((1 << 8 * (WORD - size)) - 1) for size in range(WORD + 1)], np.uint64)
_ZEROS = np.array([0x3030303030303030 & ((1 << 8 * (WORD - size)) - 1) for size in range(WORD + 1)], np.uint64)
"""For each length: the bytes of a word that belong to a field, and zeros for those before it."""
LONGEST_NUMBER = 9
"""Characters of a plain number; a longer one is looked at on its own."""


@dataclass(slots=True)
class Fields:
    """The fields of the rows of a table: `starts` and `ends` are positions in `data`, a row each, a column each."""

    data: bytes
    buffer: Array
    starts: Array
    ends: Array
    words: Array
    """The eight bytes before each position, as one little-endian number."""

    def texts(self, column: int) -> list[str]:
        """Return a column's fields as texts."""
        return self.joined(column).split("\n")

    def joined(self, column: int) -> str:
        """Return a column's fields as one text, a line each."""
        starts, ends = self.starts[:, column], self.ends[:, column]
        lengths = ends - starts + 1
        before = np.cumsum(lengths) - lengths
        places = np.repeat(starts - before, lengths) + np.arange(int(lengths.sum()))
        found = self.buffer[places]
        found[before[1:] - 1] = 10
        return found[:-1].tobytes().decode()

    def text(self, row: int, column: int) -> str:
        """Return one field."""
        return self.data[self.starts[row, column] : self.ends[row, column]].decode()


def find_fields(data: bytes, delimiter: str, header_lines: int) -> Fields | None:
    """Return where the fields of all lines after the header are; None where the lines are not all of one kind.

    `data` has as many carriage returns as line feeds, or none: where each line ends in one, none stands in a field.
    """
    buffer = np.frombuffer(data + bytes(LONGEST_NUMBER), np.uint8)
    stops = np.flatnonzero((buffer == ord(delimiter)) | (buffer == 10))
    line_ends = np.flatnonzero(buffer[stops] == 10)
    if len(line_ends) <= header_lines:
        return None
    returns = buffer[stops[line_ends] - 1] == 13
    if returns.any() != (b"\r" in data) or returns.any() != returns.all():
        return None
    first = line_ends[header_lines - 1] + 1
    widths = np.diff(line_ends[header_lines - 1 :])
    width = int(widths[0])
    if (widths != width).any():
        return None
    # Column by column from here on: each is walked through many times.
    ends = np.asfortranarray(stops[first:].reshape(-1, width))
    starts = np.empty_like(ends)
    starts[:, 1:] = ends[:, :-1] + 1
    starts[1:, 0] = ends[:-1, -1] + 1
    starts[0, 0] = stops[first - 1] + 1
    # Where lines end in a carriage return and a line feed, the return is no part of the last field.
    ends[:, -1] -= int(returns[0])
    words: Array = np.ndarray((len(data) + 1,), "<u8", bytes(WORD) + data, strides=(1,))
    return Fields(data, buffer, starts, ends, words)


def read_numbers(fields: Fields, column: int, mark: str) -> tuple[Array, Array, Array]:
    """Return a column's digits as whole numbers, how many of them are decimals, and what each field is.

    "24.40" gives 2440 and 2. A field with any other character than digits and one mark is OTHER.
    """
    starts, ends = fields.starts[:, column], fields.ends[:, column]
    digits, decimals, state = _of_one_form(fields, starts, ends, ord(mark))
    rest = np.flatnonzero(state == OTHER)
    if len(rest):
        digits[rest], decimals[rest], state[rest] = _of_any_form(fields.buffer, starts[rest], ends[rest], ord(mark))
    return digits, decimals, state


def _of_one_form(fields: Fields, starts: Array, ends: Array, mark: int) -> tuple[Array, Array, Array]:
    """Read the numbers that have as many decimals as the first one in the column: most columns hold no others.

    A field's characters are taken as one word of eight bytes, zeros put before them, and all digits of a word are
    checked and added up at once.
    """
    lengths = ends - starts
    state = np.where(lengths == 0, EMPTY, OTHER).astype(np.int8)
    filled = int(np.argmax(lengths > 0))
    first = fields.data[starts[filled] : ends[filled]]
    places = len(first) - 1 - first.rfind(bytes([mark])) if bytes([mark]) in first else 0
    if places > MOST_PLACES:
        places = 0
    good = (lengths > places + bool(places)) & (lengths <= WORD)
    short = np.where(good, lengths, 0)
    words = (fields.words[ends] & _KEEP[short]) | _ZEROS[short]
    if places:
        point = np.uint64(8 * (WORD - 1 - places))
        good &= ((words >> point) & np.uint64(0xFF)) == mark
        above = words & ~((np.uint64(1) << (point + np.uint64(8))) - np.uint64(1))
        below = words & ((np.uint64(1) << point) - np.uint64(1))
        words = above | (below << np.uint64(8)) | np.uint64(0x30)
    good &= (((words + np.uint64(0x4646464646464646)) | (words - _ALL_ZEROS)) & np.uint64(0x8080808080808080)) == 0
    digits = np.where(good, _digits_of(words), 0).astype(np.int64)
    state[good] = NUMBER
    return digits, np.where(good, places, 0), state


def _digits_of(words: Array) -> Array:
    """Return the eight decimal digits of each word as one number: pairs, then fours, then all eight are joined."""
    words = (words & np.uint64(0x0F0F0F0F0F0F0F0F)) * np.uint64(10 * 2**8 + 1) >> np.uint64(8)
    words = (words & np.uint64(0x00FF00FF00FF00FF)) * np.uint64(100 * 2**16 + 1) >> np.uint64(16)
    return (words & np.uint64(0x0000FFFF0000FFFF)) * np.uint64(10_000 * 2**32 + 1) >> np.uint64(32)


def _of_any_form(buffer: Array, starts: Array, ends: Array, mark: int) -> tuple[Array, Array, Array]:
    """Read numbers of any number of decimals, character by character."""
    lengths = ends - starts
    longest = min(LONGEST_NUMBER, int(lengths.max(initial=0)))
    digits = np.zeros(len(starts), np.int32)
    decimals = np.zeros(len(starts), np.int8)
    points = np.zeros(len(starts), np.int8)
    good = (lengths > 0) & (lengths <= LONGEST_NUMBER)
    for step in range(longest):
        inside = lengths > step
        char = buffer[starts + step]
        digit = char - np.uint8(48)
        counts = inside & (digit < 10)
        is_point = inside & (char == mark)
        good &= counts | is_point | ~inside
        np.multiply(digits, 10, out=digits, where=counts)
        np.add(digits, digit, out=digits, where=counts, casting="unsafe")
        decimals += counts & (points > 0)
        points += is_point
    good &= (points <= 1) & (lengths > points)
    state = np.where(lengths == 0, EMPTY, np.where(good, NUMBER, OTHER)).astype(np.int8)
    return digits.astype(np.int64), decimals.astype(np.int64), state
