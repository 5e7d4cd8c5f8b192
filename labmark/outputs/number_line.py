"""Places on a number line: where titres or results are drawn, and what the axis says.

Places are fractions of the drawn width, 0 at the left, 1 at the right. What lies outside the window is drawn at its
edge and said to lie further out, so that one misread titre does not squeeze the others into a blot:

    >>> axis = Axis(24.0, 25.0)
    >>> axis.place(24.25), axis.side(24.25)
    (0.25, '')
    >>> axis.place(34.3), axis.side(34.3)
    (1.0, 'right')
"""

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Literal, NamedTuple

from labmark.exact import places_in
from labmark.outputs.numbers import fixed

Side = Literal["", "left", "right"]


class Axis(NamedTuple):
    """A window on a number line."""

    low: float
    """Value at the left edge."""
    high: float
    """Value at the right edge; larger than `low`."""

    def at(self, value: float, start: float = 0.0, end: float = 1.0) -> float:
        """Return where `value` is drawn between two ends; beyond them where it lies outside the window."""
        return start + (value - self.low) / (self.high - self.low) * (end - start)

    def place(self, value: float) -> float:
        """Return where `value` is drawn, 0 to 1; at the edge where it lies outside the window."""
        return round(min(1.0, max(0.0, self.at(value))), 5)

    def holds(self, value: float) -> bool:
        """Return whether `value` lies within the window."""
        return self.low <= value <= self.high

    def side(self, value: float) -> Side:
        """Return at which edge `value` lies outside the window, or nothing."""
        return "left" if value < self.low else "right" if value > self.high else ""

    def pointer(self, value: float, label: str) -> dict[str, Any]:
        """Return what the template draws at a value: {"x": place, "side": edge it lies beyond, "label": words}."""
        return {"x": self.place(value), "side": self.side(value), "label": label}

    def numbers(self, about: int) -> list[tuple[float, str]]:
        """Return (value, label) of the numbers on the axis: round, evenly spaced, about so many."""
        step = _round_step((self.high - self.low) / about)
        first = math.ceil(Decimal(repr(float(self.low))) / step)
        last = math.floor(Decimal(repr(float(self.high))) / step)
        decimals = places_in(step)
        return [(float(step * count), fixed(step * count, decimals)) for count in range(first, last + 1)]

    def ticks(self, about: int = 8) -> list[dict[str, Any]]:
        """Return {"x": place, "label": number} of the numbers on the axis."""
        return [{"x": self.place(value), "label": label} for value, label in self.numbers(about)]


def window(core: Sequence[float], others: Sequence[float], *, smallest: float, widest: float) -> Axis:
    """Return an axis with all of `core`, and those of `others` for which it need not be wider than `widest`.

    It is never narrower than `smallest`. The nearest of the others come in first; there is a margin either side.
    """
    low, high = min(core), max(core)
    for value in sorted(others, key=lambda value: (max(low - value, value - high), value)):
        if max(high, value) - min(low, value) <= widest:
            low, high = min(low, value), max(high, value)
    short = max(0.0, smallest - (high - low)) / 2
    margin = 0.04 * max(smallest, high - low)
    return Axis(low - short - margin, high + short + margin)


def stack(places: Sequence[float], size: float) -> list[int]:
    """Return the level of each dot: the lowest at which it touches no dot placed before it [places and size alike].

    >>> stack([1.00, 1.00, 1.05, 1.20], size=0.10)
    [0, 1, 2, 0]
    """
    order = sorted(range(len(places)), key=lambda i: places[i])
    given = levels([(places[i], places[i] + 0.999 * size) for i in order])
    return [level for _, level in sorted(zip(order, given, strict=True))]


def levels(spans: Sequence[tuple[float, float]]) -> list[int]:
    """Return a level for each mark, 0 lowest, so that none overlaps another; `spans` are (from, to), rising in from."""
    ends: list[float] = []
    given = []
    for start, end in spans:
        level = next((level for level, taken in enumerate(ends) if taken <= start), len(ends))
        ends[level : level + 1] = [end]
        given.append(level)
    return given


def _round_step(least: float) -> Decimal:
    """Return the smallest of ... 0.1, 0.2, 0.5, 1, 2, 5, 10 ... that is at least `least`."""
    power = math.floor(math.log10(least))
    steps = (Decimal(digit).scaleb(power + more) for more in (0, 1) for digit in (1, 2, 5))
    return next(step for step in steps if float(step) >= least * (1 - 1e-9))
