"""How many runs are worth doing, and what the tests of the class will be able to see. Pure.

Two classes are supposed: one that works as carefully as the budget allows, and an ordinary one.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from labmark.analyse.power import shift_of_group, shifts_off_reference
from labmark.judge.uncertainty import Behind, budgets, without_shared
from labmark.meaning import Example
from labmark.outputs.numbers import significant
from labmark.practical.inputs import TITRE
from labmark.words import listed

RUNS = (2, 3, 4, 5)
MOST = 12
"""So many runs are looked at for the one beyond which another gains little."""
LITTLE = 0.1
"""Share of the expanded uncertainty that is not worth another run."""
BENCH = 6
"""Students of a bench (common practice, no source)."""
ORDINARY = 0.01
"""Standard deviation between students of an ordinary class, as a share of the titre (common practice, no source)."""


def foresight(example: Example, students: int) -> dict[str, Any]:
    """Return expanded uncertainties [%] by number of runs, and the shifts [cm³] that a class would show."""
    titre, practical, runs = float(example.titre), example.practical, np.arange(2.0, MOST + 1)
    given = {TITRE: np.full(runs.size, titre)}
    table = budgets(Behind(practical, example.formula, None), given, runs)
    slope = abs(float(example.formula.slopes({TITRE: titre})[TITRE]))
    little = np.diff(table.expanded) > -LITTLE * table.expanded[:-1]
    careful = float(without_shared(table)[0][practical.file.concordance.at_least - 2]) / slope
    stated = practical.file.reference
    u = float(stated.standard_uncertainty or 0) / slope if stated is not None else None
    percents = (100 * table.expanded / abs(table.value)).tolist()
    return {
        "percent_by_runs": dict(zip(map(str, RUNS), percents, strict=False)),
        "enough_runs": int(runs[np.argmax(little)]) if little.any() else MOST,
        "found": [
            {"work": work, "between_students_cm3": spread, **_found(students, spread, u)}
            for work, spread in (("careful", careful), ("ordinary", max(careful, ORDINARY * titre)))
        ],
    }


def _found(students: int, spread: float, u: float | None) -> dict[str, float | None]:
    above, below = (shifts_off_reference(students, spread, u) if u is not None else None) or (None, None)
    return {"above_reference": above, "below_reference": below, "bench": shift_of_group(students, BENCH, spread)}


def told(tree: dict[str, Any], students: int, titre: float) -> dict[str, Any]:
    """Return the same in words: a sentence on the runs, the rows of the table, and what is supposed."""
    percents = [f"{significant(each, 2)} %" for each in tree["percent_by_runs"].values()]
    rows = [
        (f"All {students} titres too large for the reference", "above_reference"),
        (f"All {students} titres too small for the reference", "below_reference"),
        (f"One bench of {BENCH} apart from the others", "bench"),
    ]
    made = [[words, *(_shown(each[key], titre) for each in tree["found"])] for words, key in rows]
    careful, ordinary = (significant(each["between_students_cm3"], 2) for each in tree["found"])
    return {
        "runs": f"With {listed([*tree['percent_by_runs']])} agreeing runs the expanded uncertainty of a result is "
        f"{listed(percents)}. Beyond {tree['enough_runs']}, another run takes less than a tenth off it.",
        "rows": [row for row in made if any(row[1:])],
        "supposed": "Shifts that the tests of the class would find in about four of five such classes. "
        "Supposed: students’ means differ by a "
        f"standard deviation of {careful} cm³ where the work is careful (runs scatter by reading and last drop alone), "
        f"of {ordinary} cm³ where it is ordinary; nobody is grossly off.",
    }


def _shown(shift: float | None, titre: float) -> str:
    return f"{shift:.2f} cm³ ({significant(100 * shift / titre, 2)} %)" if shift is not None else ""
