"""Lines of a budget whose result is a product of powers, as published ones are."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, prod
from typing import NamedTuple

from labmark.analyse.arrays import FloatArray
from labmark.analyse.budget import Component


class Power(NamedTuple):
    """An input of a product, with its standard uncertainty and the power that it stands in."""

    source: str
    value: float
    u: float
    unit: str = ""
    exponent: float = 1.0
    dof: float = inf

    def line(self, result: float | FloatArray) -> Component:
        """Return what it does to a result, or to those of a class."""
        return Component(self.source, self.exponent * result / self.value, self.u, self.unit, dof=self.dof)


def product(rows: Sequence[Power]) -> float:
    """Return the result of these inputs."""
    return prod(row.value**row.exponent for row in rows)


def lines(result: float | FloatArray, rows: Sequence[Power]) -> list[Component]:
    """Return what they do to a result."""
    return [row.line(result) for row in rows]
