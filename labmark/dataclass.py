"""`dataclass` and `replace` of the dataclasses module, for records that are made by the hundred thousand.

That a frozen record stays as it is made is what mypy sees to. At run time each of its fields would be set by a call
besides, so that a run of a student took seven times as long to make, and as long again to make with another value.
"""

import dataclasses
from collections.abc import Callable
from dataclasses import field as field
from functools import cache
from operator import attrgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
    from dataclasses import replace as replace
else:

    def dataclass(*, frozen: bool = False, eq: bool = True, slots: bool = False) -> Callable[[type], type]:
        """Make a record of a class; a frozen one has a hash."""
        return dataclasses.dataclass(eq=eq, slots=slots, unsafe_hash=frozen and eq)

    def replace(record: Any, /, **changes: Any) -> Any:
        """Return a record with other values in some of its fields."""
        values_of, places = _fields(type(record))
        kind, *values = values_of(record)
        for name, value in changes.items():
            values[places[name]] = value
        return kind(*values)


@cache
def _fields(kind: Any) -> tuple[Callable[[Any], tuple[Any, ...]], dict[str, int]]:
    """Return what takes a record apart into its kind and values, and the place of each field among these."""
    names = kind.__match_args__
    return attrgetter("__class__", *names), {name: place for place, name in enumerate(names)}
