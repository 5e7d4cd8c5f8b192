"""Limits of glassware as the standards print them."""

from __future__ import annotations

import pytest

from labmark.practical.glassware import burette, flask, pipette

# ISO 385:2005 as tabulated in the data file EMP_materialVolumetrico.rda of a public R package; class A cross-read in a
# second source.
BURETTES = [
    (1, 0.01, 0.006, 0.01),
    (2, 0.01, 0.01, 0.02),
    (5, 0.01, 0.01, 0.02),
    (5, 0.02, 0.01, 0.02),
    (10, 0.02, 0.02, 0.05),
    (10, 0.05, 0.03, 0.05),
    (25, 0.05, 0.03, 0.05),
    (25, 0.1, 0.05, 0.1),
    (50, 0.1, 0.05, 0.1),
    (100, 0.2, 0.1, 0.2),
]

# ISO 648:2008, from the same file.
PIPETTES = [
    (0.5, 0.005, 0.01),
    (1, 0.008, 0.015),
    (2, 0.01, 0.02),
    (5, 0.015, 0.03),
    (10, 0.02, 0.04),
    (20, 0.03, 0.06),
    (25, 0.03, 0.06),
    (50, 0.05, 0.1),
    (100, 0.08, 0.15),
]

# ISO 1042:1998, from the same file (one source).
FLASKS = [
    (1, 0.025, 0.05),
    (2, 0.025, 0.05),
    (5, 0.025, 0.05),
    (10, 0.025, 0.05),
    (20, 0.04, 0.08),
    (25, 0.04, 0.08),
    (50, 0.06, 0.12),
    (100, 0.1, 0.2),
    (200, 0.15, 0.3),
    (250, 0.15, 0.3),
    (500, 0.25, 0.5),
    (1000, 0.4, 0.8),
    (2000, 0.6, 1.2),
    (5000, 1.2, 2.4),
]


@pytest.mark.parametrize(("capacity", "division", "a", "b"), BURETTES)
def test_burettes(capacity, division, a, b):
    assert [burette(capacity, division, glass_class).tolerance for glass_class in ("A", "B")] == [a, b]


@pytest.mark.parametrize(("volume", "a", "b"), PIPETTES)
def test_pipettes(volume, a, b):
    assert [pipette(volume, glass_class).tolerance for glass_class in ("A", "B")] == [a, b]


@pytest.mark.parametrize(("volume", "a", "b"), FLASKS)
def test_flasks(volume, a, b):
    assert [flask(volume, glass_class).tolerance for glass_class in ("A", "B")] == [a, b]


def test_a_tolerance_given_in_the_practical_stands_before_the_table():
    given = burette(50.0, 0.1, "B", tolerance=0.05)
    assert (given.tolerance, given.division) == (0.05, 0.1)
    assert pipette(17.0, tolerance=0.04).tolerance == 0.04


@pytest.mark.parametrize(
    ("vessel", "tolerance"),
    [
        (pipette(15.0), 0.06),  # the limit for 20 cm³
        (pipette(200.0), 0.3),  # twice the volume, twice the limit of the largest
        (flask(0.5, "A"), 0.025),  # the limit for 1 cm³
        (burette(50.0, 0.05), 0.05),  # one division
        (burette(30.0, 0.1, "A"), 0.05),  # half a division
    ],
)
def test_what_is_not_in_the_table_has_the_limit_of_its_neighbour(vessel, tolerance):
    assert vessel.tolerance == pytest.approx(tolerance)
