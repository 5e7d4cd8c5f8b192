"""Limits of volumetric glassware, as the standards print them: how far a burette, pipette or flask may be out.

    >>> burette(50.0, 0.1, "B").tolerance
    0.1
    >>> pipette(25.0, "A").tolerance
    0.03

A practical may give a tolerance of its own; it then stands in place of the table's. A size that the standard does not
list is given the limit of its neighbour.
Class B is not always twice class A: a 1 cm³ pipette is 0.008 (A) and 0.015 (B).
"""

from decimal import Decimal
from typing import NamedTuple

Given = Decimal | float
"""A volume as the practical gives it [cm³]."""
Limits = tuple[float, float]
"""Of class A, and of class B [cm³]."""

BURETTES: dict[tuple[float, float], Limits] = {
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
"""(capacity, division) -> limits of class A and B, all in cm³. Source: ISO 385:2005."""

PIPETTES: dict[float, Limits] = {
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
"""Volume -> limits of class A and B, all in cm³. Source: ISO 648:2008, pipettes with one mark."""

FLASKS: dict[float, Limits] = {
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


class Glass(NamedTuple):
    """A piece of volumetric glassware and how far it may be out."""

    kind: str
    """"burette", "pipette" or "flask"."""
    volume: float
    """Capacity [cm³]."""
    tolerance: float
    """The largest error it may have, either way [cm³]."""
    division: float | None = None
    """Smallest division of a burette [cm³]."""


def burette(capacity: Given, division: Given, glass_class: str = "B", tolerance: Given | None = None) -> Glass:
    """Return a burette of `capacity` and `division` [cm³], with the limit of its class or the tolerance given.

    Class B burettes of the standard may be out by about one division; a size of its own is given the same.
    """
    size, step = float(capacity), float(division)
    of_class_a, of_class_b = BURETTES.get((size, step), (step / 2, step))
    usual = of_class_b if glass_class == "B" else of_class_a
    return Glass("burette", size, usual if tolerance is None else float(tolerance), step)


def pipette(volume: Given, glass_class: str = "B", tolerance: Given | None = None) -> Glass:
    """Return a one-mark pipette of `volume` [cm³], with the limit of its class or the tolerance given."""
    return _one_mark("pipette", PIPETTES, float(volume), glass_class, tolerance)


def flask(volume: Given, glass_class: str = "B", tolerance: Given | None = None) -> Glass:
    """Return a volumetric flask of `volume` [cm³], with the limit of its class or the tolerance given."""
    return _one_mark("flask", FLASKS, float(volume), glass_class, tolerance)


def better(kind: str) -> str:
    """Return what would make the uncertainty of a piece of glass smaller, as an order to oneself."""
    return f"use a {kind} of a better class, or one calibrated by weighing water"


def _one_mark(kind: str, table: dict[float, Limits], volume: float, glass_class: str, tolerance: Given | None) -> Glass:
    """Return a one-mark vessel; a size of its own has the limit of the next larger one of the standard."""
    size = min((size for size in table if size >= volume), default=max(table))
    usual = table[size][glass_class == "B"] * max(1.0, volume / size)
    return Glass(kind, volume, usual if tolerance is None else float(tolerance))
