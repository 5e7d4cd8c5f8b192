"""Slips in the working: which wrong sum gives the value that a student wrote.

Every single slip, and every two that occur together, is tried on the student's own figures; those that give the written
digits are named with the sum that shows it. A value that is right, by any legitimate rounding, is never a slip.

25.00 cm³ of NaOH against 24.35 cm³ of 0.0500 mol/dm³ H2SO4, 2 : 1, is 0.0974 mol/dm³; 0.0487 is `ratio-ignored`.

Written values may be wrong in three places, each held against the one before, so that a slip is counted once: the
titre against own readings (`titre_slip`), the mean against own titres (`mean_slips`), the result against own mean
(`result_slips`). The parts:

- `working_calculation`: the practical's formula and the ways of doing the sum
- `working_edits`, `slips.toml`: slips as edits of the formula
- `working_sums`: the sum as a chain of steps, the right way and every other
- `working_ways`, `working_tabled`: the table of slips, and what each gives at one volume
- `working_orders`, `working_routes`: the orders of the sum, and the values that rounding on the way can lead to
- `working_rounding`, `working_follows`, `working_right`: when a written value is right
- `working_claim`, `working_fits`, `working_early`, `working_volumes`: what may lie behind a result
- `working_search`, `working_results`: the search, and what is named
- `working_shown`: sums in print
- `working_sets`, `working_means`: when a mean is right, and the search behind one that is not
- `working_titres`: the slip behind a titre
- `working_digits`: slips of the pen
- `working_slips`: what is handed on, and its odds
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from labmark.diagnose.working_calculation import Calculation
from labmark.diagnose.working_means import mean_slips, own_mean
from labmark.diagnose.working_results import result_is_right, result_slips
from labmark.diagnose.working_right import own_reading
from labmark.diagnose.working_slips import Slip
from labmark.diagnose.working_sums import own_result
from labmark.diagnose.working_titres import TitreSlip, titre_slip

__all__ = [
    "Calculation",
    "Decimal",
    "Fraction",
    "Slip",
    "TitreSlip",
    "mean_slips",
    "own_mean",
    "own_reading",
    "own_result",
    "result_is_right",
    "result_slips",
    "titre_slip",
]
