"""Addresses of many cells without a text for each: they are spelt out when somebody asks for one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from typing import Any

import numpy as np
from pandas.api.extensions import ExtensionArray, ExtensionDtype

Pattern = tuple[tuple[str, str], ...]
"""Field -> letters of its column, for the filled cells of one run or student."""


class AddressDtype(ExtensionDtype):
    """Type of a column whose every entry is a mapping of field -> address."""

    name = "addresses"
    na_value = None

    @property
    def type(self) -> Any:  # type: ignore[override]
        """Type of an entry."""
        return dict

    @classmethod
    def construct_array_type(cls) -> Any:
        """Return the array of this type."""
        return AddressArray


class AddressArray(ExtensionArray):
    """For each entry a row and a pattern; asked for, entry 7 is {"initial": "C9", "final": "D9"}."""

    def __init__(self, rows: np.ndarray[Any, Any], kinds: np.ndarray[Any, Any], patterns: Sequence[Pattern]) -> None:
        self._rows, self._kinds, self._patterns = rows, kinds, tuple(patterns)

    @property
    def dtype(self) -> AddressDtype:
        """Type of the column."""
        return AddressDtype()

    @property
    def nbytes(self) -> int:
        """Bytes taken up."""
        return int(self._rows.nbytes + self._kinds.nbytes)

    def __len__(self) -> int:
        return len(self._rows)

    def __getitem__(self, item: Any) -> Any:
        if isinstance(item, (int, np.integer)):
            row = int(self._rows[item])
            return {field: f"{letters}{row}" for field, letters in self._patterns[int(self._kinds[item])]}
        if isinstance(item, list):
            item = np.asarray(item)
        return AddressArray(self._rows[item], self._kinds[item], self._patterns)

    def __eq__(self, other: object) -> Any:
        return np.array([mine == theirs for mine, theirs in zip(self, other, strict=True)])  # type: ignore[call-overload]

    def isna(self) -> np.ndarray[Any, Any]:
        """Return that no entry is missing."""
        return np.zeros(len(self), dtype=bool)

    def take(self, indices: Any, *, allow_fill: bool = False, fill_value: Any = None) -> AddressArray:
        """Return the entries at these positions."""
        return self[np.asarray(indices)]  # type: ignore[no-any-return]

    def copy(self) -> AddressArray:
        """Return a copy."""
        return AddressArray(self._rows.copy(), self._kinds.copy(), self._patterns)

    @classmethod
    def _from_sequence(cls, scalars: Any, *, dtype: Any = None, copy: bool = False) -> AddressArray:
        """Return an array of mappings whose cells stand in one row each."""
        patterns: dict[Pattern, int] = {}
        rows, kinds = [], []
        for cells in scalars:
            split = [(field, address.rstrip("0123456789")) for field, address in cells.items()]
            first = next(iter(cells.values()), "A0")
            rows.append(int(first[len(first.rstrip("0123456789")) :]))
            kinds.append(patterns.setdefault(tuple(split), len(patterns)))
        return cls(np.array(rows, np.int64), np.array(kinds, np.int64), tuple(patterns))

    @classmethod
    def _concat_same_type(cls, to_concat: Sequence[AddressArray]) -> AddressArray:
        patterns: list[Pattern] = []
        kinds = []
        for array in to_concat:
            kinds.append(array._kinds + len(patterns))
            patterns.extend(array._patterns)
        return cls(np.concatenate([array._rows for array in to_concat]), np.concatenate(kinds), patterns)


class AddressSet(Set[str]):
    """The addresses of the filled cells of a table's columns, and some more."""

    def __init__(
        self, first_row: int, letters: Sequence[str], filled: np.ndarray[Any, Any], more: frozenset[str]
    ) -> None:
        self._first, self._letters, self._filled, self._more = first_row, tuple(letters), filled, more
        self._columns = {name: at for at, name in enumerate(self._letters)}

    def __contains__(self, address: object) -> bool:
        if not isinstance(address, str):
            return False
        letters = address.rstrip("0123456789")
        row = address[len(letters) :]
        at = self._columns.get(letters)
        if at is None or not row or not 0 <= int(row) - self._first < len(self._filled):
            return address in self._more
        return bool(self._filled[int(row) - self._first, at]) or address in self._more

    def __iter__(self) -> Iterator[str]:
        for row, at in zip(*np.nonzero(self._filled), strict=True):
            yield f"{self._letters[at]}{self._first + int(row)}"
        yield from self._more

    def __len__(self) -> int:
        return int(self._filled.sum()) + len(self._more)

    def __hash__(self) -> int:
        return hash((self._first, self._letters, len(self)))
