"""When the work was done: clock times and dates with times, and the places in the order of work that they give.

    14:05, 13:50, 14:05, nothing      places 2, 1, 2, nothing

Clock times without a day are of one day; where some cells have no day, days are left aside in all of them.
"""

import datetime as dt
import re
from collections.abc import Sequence
from decimal import Decimal

from labmark.read.grid import Cell, Place
from labmark.read.model import RawStudent
from labmark.read.words import folded, plain

DAY = 86400
"""Seconds in a day."""
_DATE = r"(?P<a>\d{1,4})[-/.](?P<b>\d{1,2})[-/.](?P<c>\d{1,4})"
_TEXT = re.compile(
    rf"(?:{_DATE},?[ t]+)?(?P<hour>\d{{1,2}})\s?[:h]\s?(?P<minute>\d\d)(?::(?P<second>\d\d)(?:\.\d+)?)?"
    r"\s*(?:(?P<half>[ap])\.?\s?m\.?|uhr|h|z)?"
)

Moment = tuple[int | None, int]
"""Day (its ordinal number; None for a clock time alone) and seconds of it."""


def moment_of(cell: Cell) -> Moment | None:
    """Return when a cell says that something was done; None where it says no time of day.

    >>> moment_of(Cell("2:35 pm"))
    (None, 52500)
    """
    value = cell.value
    if isinstance(value, dt.datetime):
        # A date that was typed without a time shows as midnight.
        return (value.toordinal(), _seconds(value.time())) if value.time() != dt.time(0) else None
    if isinstance(value, dt.time):
        return None, _seconds(value)
    if isinstance(value, dt.timedelta):
        return (None, int(value.total_seconds())) if dt.timedelta(0) <= value < dt.timedelta(days=1) else None
    return _of_text(value) if isinstance(value, str) and len(value) <= 60 else None


def _seconds(time: dt.time) -> int:
    return 3600 * time.hour + 60 * time.minute + time.second


def _of_text(text: str) -> Moment | None:
    match = _TEXT.fullmatch(folded(plain(text)).strip())
    if match is None:
        return None
    hour, minute, second = int(match["hour"]), int(match["minute"]), int(match["second"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match["half"] == "p" else 0)
    if hour > 23 or minute > 59 or second > 59:
        return None
    return (_day(match) if match["a"] else None), 3600 * hour + 60 * minute + second


def _day(match: re.Match[str]) -> int | None:
    """Return the number of the day: year first, else day first unless only the month can stand there."""
    first, second, third = int(match["a"]), int(match["b"]), int(match["c"])
    year, month, day = (first, second, third) if len(match["a"]) == 4 else (third, second, first)
    if month > 12:
        month, day = day, month
    try:
        return dt.date(year + 2000 if year < 100 else year, month, day).toordinal()
    except ValueError:
        return None


def time_of(raw: RawStudent) -> tuple[Place | None, Moment | None]:
    """Return the cell that says when a student worked, and when; the column of the order of work may hold times."""
    for key in ("order", "when"):
        moment = moment_of(raw.grid.cells[raw.cells[key]]) if key in raw.cells else None
        if moment is not None:
            return raw.cells[key], moment
    return None, None


def whole(number: Decimal | None) -> int | None:
    """Return a place in an order that was written as a number; None where it is no whole number."""
    return int(number) if number is not None and number == number.to_integral_value() and abs(number) < 10**9 else None


def in_order(written: Sequence[int | None], moments: Sequence[Moment | None]) -> list[int | None]:
    """Return the places as they were written, or those that the times give where no places were."""
    return list(written) if any(each is not None for each in written) else places(moments)


def places(moments: Sequence[Moment | None]) -> list[int | None]:
    """Return the place of each moment in their order, from 1; those at the same time share one."""
    there = [each for each in moments if each is not None]
    with_days = all(day is not None for day, _ in there)
    when = [None if each is None else each[1] + (DAY * (each[0] or 0) if with_days else 0) for each in moments]
    place = {second: at + 1 for at, second in enumerate(sorted({each for each in when if each is not None}))}
    return [None if each is None else place[each] for each in when]
