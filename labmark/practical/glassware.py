"""Limits of volumetric glassware, as the standards print them: how far a burette, pipette or flask may be out.

    >>> burette(50.0, 0.1, "B").tolerance
    0.1
    >>> pipette(25.0, "A").tolerance
    0.03

A practical may give a tolerance of its own; it then stands in place of the table's.
Class B is not always twice class A: a 1 cm³ pipette is 0.008 (A) and 0.015 (B).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import isclose

from labmark.practical.model import Burette

BURETTES: dict[tuple[float, float], tuple[float, float]] = {
    (1, 0.01): (0.006, 0.01),
    (2, 0.01): (0.01, 0.02),
    (5, 0.01): (0.01, 0.02),
    (5, 0.02): (0.01, 0.02),
    (10, 0.02): (0.02, 0.05),
    (10, 0.05): (0.03, 0.05),
    (25, 0.05): (0.03, 0.05),
    (25, 0.1): (0.05, 0.1),
    (50, 0.1): (0.05, 0.1),
    (100, 0.2): (0.1, 0.2),
}
"""(capacity, division) -> limits of class A (also AS) and B, all in cm³. Source: ISO 385:2005."""

PIPETTES: dict[float, tuple[float, float]] = {
    0.5: (0.005, 0.01),
    1: (0.008, 0.015),
    2: (0.01, 0.02),
    5: (0.015, 0.03),
    10: (0.02, 0.04),
    20: (0.03, 0.06),
    25: (0.03, 0.06),
    50: (0.05, 0.1),
    100: (0.08, 0.15),
}
"""Volume -> limits of class A (also AS) and B, all in cm³. Source: ISO 648:2008, pipettes with one mark."""

FLASKS: dict[float, tuple[float, float]] = {
    1: (0.025, 0.05),
    2: (0.025, 0.05),
    5: (0.025, 0.05),
    10: (0.025, 0.05),
    20: (0.04, 0.08),
    25: (0.04, 0.08),
    50: (0.06, 0.12),
    100: (0.1, 0.2),
    200: (0.15, 0.3),
    250: (0.15, 0.3),
    500: (0.25, 0.5),
    1000: (0.4, 0.8),
    2000: (0.6, 1.2),
    5000: (1.2, 2.4),
}
"""Volume -> limits of class A and B, all in cm³. Source: ISO 1042:1998."""

SOURCES = {"burette": "ISO 385:2005", "pipette": "ISO 648:2008", "flask": "ISO 1042:1998"}
GIVEN = "given in the practical"
CLASSES = {"A": 0, "AS": 0, "B": 1}
"""Class -> which of the two limits; AS (with a waiting time) has those of A."""


class UnknownGlassware(ValueError):
    """No limit is known for this size and class; the message says which are."""


@dataclass(frozen=True, slots=True)
class Glass:
    """A piece of volumetric glassware and how far it may be out."""

    kind: str
    """"burette", "pipette" or "flask"."""
    volume: float
    """Capacity [cm³]."""
    tolerance: float
    """The largest error it may have, either way [cm³]."""
    source: str
    """Where the tolerance comes from: a standard and class, or the practical."""
    division: float | None = None
    """Smallest division of a burette [cm³]."""
    glass_class: str = ""
    """"A", "AS" or "B"; empty where the practical gives a tolerance."""

    @property
    def relative(self) -> float:
        """Tolerance as a share of the capacity."""
        return self.tolerance / self.volume


def burette(capacity: float, division: float, glass_class: str = "B", tolerance: float | None = None) -> Glass:
    """Return a burette of `capacity` and `division` [cm³], with the limit of its class or the tolerance given.

    Raises UnknownGlassware (a ValueError) where the table has no such burette, naming those it has.
    """
    if tolerance is not None:
        return Glass("burette", capacity, _checked(tolerance, "burette"), GIVEN, division)
    which = _class("burette", glass_class)
    for (size, step), limits in BURETTES.items():
        if isclose(size, capacity) and isclose(step, division):
            return Glass("burette", capacity, limits[which], _source("burette", glass_class), division, glass_class)
    same = [step for size, step in BURETTES if isclose(size, capacity)]
    if same:
        known = f"for {capacity:g} cm³ the divisions {_list(same)} cm³ are known"
    else:
        near = _nearest(capacity, [size for size, _ in BURETTES])
        nearest = [f"{size:g} cm³ with {step:g} cm³" for size, step in BURETTES if size in near]
        known = f"the nearest are {' and '.join(nearest)}"
    raise UnknownGlassware(
        f"no limit is known for a burette of {capacity:g} cm³ with divisions of {division:g} cm³ "
        f"({SOURCES['burette']}): {known}; or give its tolerance"
    )


def pipette(volume: float, glass_class: str = "B", tolerance: float | None = None) -> Glass:
    """Return a one-mark pipette of `volume` [cm³]. Raises UnknownGlassware where the table has no such size."""
    return _one_mark("pipette", PIPETTES, volume, glass_class, tolerance)


def flask(volume: float, glass_class: str = "B", tolerance: float | None = None) -> Glass:
    """Return a volumetric flask of `volume` [cm³]. Raises UnknownGlassware where the table has no such size."""
    return _one_mark("flask", FLASKS, volume, glass_class, tolerance)


def burette_of(given: Burette, glass_class: str, tolerance: Decimal | None = None) -> Glass:
    """Return a burette of the practical's capacity and division [cm³], of this class or with the tolerance given."""
    capacity, division = float(given.capacity), float(given.division)
    try:
        return burette(capacity, division, glass_class, _float(tolerance))
    except UnknownGlassware:
        # Class B burettes of the standard may be out by about one division; a size of its own is given the same.
        share = 1.0 if glass_class == "B" else 0.5
        return Glass(
            "burette", capacity, share * division, "no standard size: one division (half for class A)", division
        )


def pipette_of(volume: Decimal, glass_class: str, tolerance: Decimal | None = None) -> Glass:
    """Return a pipette of this volume [cm³]."""
    try:
        return pipette(float(volume), glass_class, _float(tolerance))
    except UnknownGlassware:
        return _next_larger("pipette", float(volume), glass_class, PIPETTES)


def flask_of(volume: Decimal, glass_class: str, tolerance: Decimal | None = None) -> Glass:
    """Return a volumetric flask of this volume [cm³]."""
    try:
        return flask(float(volume), glass_class, _float(tolerance))
    except UnknownGlassware:
        return _next_larger("flask", float(volume), glass_class, FLASKS)


def better(kind: str) -> str:
    """Return what would make the uncertainty of a piece of glass smaller, as an order to oneself."""
    return f"use a {kind} of a better class, or one calibrated by weighing water"


def _one_mark(
    kind: str, table: dict[float, tuple[float, float]], volume: float, glass_class: str, tolerance: float | None
) -> Glass:
    """Look a one-mark vessel up."""
    if tolerance is not None:
        return Glass(kind, volume, _checked(tolerance, kind), GIVEN)
    which = _class(kind, glass_class)
    for size, limits in table.items():
        if isclose(size, volume):
            return Glass(kind, volume, limits[which], _source(kind, glass_class), None, glass_class)
    raise UnknownGlassware(
        f"no limit is known for a {kind} of {volume:g} cm³ ({SOURCES[kind]}): the nearest sizes are "
        f"{_list(_nearest(volume, list(table)))} cm³; or give its tolerance"
    )


def _class(kind: str, glass_class: str) -> int:
    """Return which limit a class stands for."""
    if glass_class not in CLASSES:
        raise UnknownGlassware(f"no class {glass_class!r} of a {kind}: known are A, AS and B; or give its tolerance")
    return CLASSES[glass_class]


def _source(kind: str, glass_class: str) -> str:
    return f"{SOURCES[kind]}, class {glass_class}"


def _checked(tolerance: float, kind: str) -> float:
    if not tolerance >= 0:
        raise ValueError(f"the tolerance of the {kind} is {tolerance:g} cm³: it cannot be below 0")
    return tolerance


def _nearest(volume: float, sizes: list[float]) -> list[float]:
    """Return the known sizes next below and next above, whichever there are."""
    below, above = [s for s in sizes if s < volume], [s for s in sizes if s > volume]
    return ([max(below)] if below else []) + ([min(above)] if above else [])


def _list(sizes: list[float]) -> str:
    return " and ".join(f"{size:g}" for size in sizes)


def _next_larger(kind: str, volume: float, glass_class: str, table: dict[float, tuple[float, float]]) -> Glass:
    """Return a piece of a size that the standard does not list, with the limit of the next larger one that it does."""
    size = min((size for size in table if size >= volume), default=max(table))
    limit = table[size][0 if glass_class == "A" else 1] * max(1.0, volume / size)
    return Glass(kind, volume, limit, f"no standard size: the limit for {size:g} cm³", glass_class=glass_class)


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
