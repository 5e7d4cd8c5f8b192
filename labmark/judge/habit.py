"""A habit of the class: many lie well above the expected titre, and hardly anyone below.

Where many stop past the endpoint every time, each by another volume, the class is too scattered to put the reference in
doubt, and it hides its own: each of them is about as far out as the others. Students far above are then counted against
students as far below, who would be as many if nobody had a habit (a sign test).

    28 students, 15 of them 0.30 to 0.97 cm³ above, none as far below: a chance of 1 in 30,000    a common fault

Titres alone don't tell a habit from a titrant that is weaker than its label, and the finding says so.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labmark.findings import KINDS
from labmark.judge.classwide import SHARED_AT_LEAST, SHARED_BY, teach_again
from labmark.records import Finding

Floats = NDArray[np.float64]

FAR, GROSS = 0.30, 1.5
"""From here [cm³] on a mean titre is well above the expected one, six drops: twice what `reference` puts down to
technique; beyond the second something else has happened (common practice, no source)."""

ALPHA = 0.002
"""Chance of naming a habit where there is none."""

HABIT = "always-overshoots"

OTHERWISE = ("diluted-titrant", "wrong-aliquot", "misread-division", "read-upside-down", "overshoot")
"""What explains a student's high titre by itself."""


def class_habit(away: Floats, by_student: Sequence[Sequence[Finding]], present: int) -> list[Finding]:
    """Return a `common-fault` where far more students lie well above the expected titre than below.

    `away` is each mean titre less the expected one (n,) [cm³], NaN where there is none; what is known to shift groups
    is taken out of it already.
    """
    there = np.isfinite(away)
    size = np.abs(np.where(there, away, 0.0))
    far = (size >= FAR - 1e-9) & (size <= GROSS)
    high = np.flatnonzero(far & (away > 0)).tolist()
    above = sum(not any(each.finding in OTHERWISE for each in by_student[place]) for place in high)
    below = int(np.count_nonzero(far & (away < 0)))
    chance = _chance(above, below)
    if above < max(SHARED_AT_LEAST, SHARED_BY * present) or chance > ALPHA:
        return []
    evidence = {"finding": HABIT, "students": above, "present": present, "as_far_below": below, "p": chance}
    return [Finding("common-fault", _message(above, below, present), KINDS["common-fault"].level, evidence=evidence)]


def _chance(above: int, below: int) -> float:
    """Return the chance of so many above, out of those far off, where either side is as likely."""
    from scipy.special import bdtrc

    return 1.0 if above == 0 else float(bdtrc(above - 1, above + below, 0.5))


def _message(above: int, below: int, present: int) -> str:
    fewer = f"{below} as far below" if below else "nobody as far below"
    return (
        f"{KINDS[HABIT].title}, probably: the mean titres of {above} of {present} students lie {FAR:.2f} cm³ or more "
        f"above the expected one, and {fewer}. A titrant weaker than its label would do the same to everybody. "
        f"{teach_again(HABIT)}"
    )
