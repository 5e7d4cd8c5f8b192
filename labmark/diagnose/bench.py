"""Faults at the bench: what most likely happened to a run, or to everything a student did.

    readings ─look──> lattice ─fit_class──> repeatability, spread, shift ─posterior──> odds ─Claims──> claims

A class with an expected titre of 24.35 cm³; one student has 24.35, 24.80 and 24.40: the second run is 0.40 cm³ above
the other two, which agree with the class, and overshoot takes nearly all of the odds. Another has 24.85, 24.80 and
24.85: either every run went 0.5 cm³ past the endpoint or the titrant was 2 % weak, and titres alone can't say which.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from labmark.dataclass import replace
from labmark.diagnose.bench_claims import Claim, Claims
from labmark.diagnose.bench_class import fit_class
from labmark.diagnose.bench_input import BenchSetting, Floats, Ints, RunMatrix
from labmark.diagnose.bench_levels import Fit
from labmark.diagnose.bench_posterior import posterior, prepared
from labmark.diagnose.bench_view import class_centre, expected_titres, look
from labmark.diagnose.hypotheses import RUN_HYPOTHESES, STUDENT_HYPOTHESES

CHUNK = 1024
"""Students looked at together: more would only take more memory."""


class BenchDiagnosis(NamedTuple):
    """What most likely happened at the bench."""

    claims: list[Claim]
    """In the order of the students; those about the student before those about runs."""
    run_posterior: Floats
    """(n, k, RUN_HYPOTHESES); what is missing to 1 is that nothing happened to the run."""
    student_posterior: Floats
    """(n, STUDENT_HYPOTHESES), adds up to 1; all 0 where a student has no run that can be judged."""
    likely: Ints
    """Likely intended titre of a misread run, (n, k) [µL]; -1 where none is claimed."""
    level: Floats
    """Level at which the student works [cm³], (n,); NaN where there is no run that can be judged."""
    fit: Fit
    """What the class says about good work."""


def diagnose_bench(runs: RunMatrix, setting: BenchSetting | None = None) -> BenchDiagnosis:
    """Return what most likely happened at the bench, for every run and every student of a class.

    Without a reference (`runs.expected` NaN), or with a doubtful one, students are held against the class's centre.
    Deterministic; no state. Students without an accurate run that can be judged get no claim.
    """
    setting = setting or BenchSetting()
    if not runs.accurate.any() or not (np.isfinite(class_centre(runs)) and class_centre(runs) > 0):
        return _nothing(runs)
    fit = fit_class(runs, setting)
    parts = list(_parts(replace(runs, expected=expected_titres(runs)), setting, fit))
    run, student, likely, level = (np.concatenate([part[i] for part in parts]) for i in range(4))
    claims = [claim for part in parts for claim in part[4]]
    return BenchDiagnosis(claims, run, student, likely, level, fit)


def _parts(runs: RunMatrix, setting: BenchSetting, fit: Fit) -> Iterator[tuple]:  # type: ignore[type-arg]
    """Yield the results of some students at a time."""
    for start in range(0, runs.titre.shape[0], CHUNK):
        some = runs.rows(slice(start, start + CHUNK))
        view = look(some, setting)
        found = posterior(view, *prepared(view, fit, setting))
        # Nothing is said of students who have no accurate run that can be judged.
        mute = ~view.accurate.any(axis=1)
        for table in (found.student, found.run, found.variant):
            table[mute] = 0.0
        found.level[mute] = np.nan
        claims = Claims(some, view, found, fit, setting)
        moved = [claim._replace(student=claim.student + start) for claim in claims.all()]
        yield found.run, found.student, claims.likely, found.level, moved


def _nothing(runs: RunMatrix) -> BenchDiagnosis:
    """Return the diagnosis of a class without a run that can be judged."""
    n, k = runs.titre.shape
    return BenchDiagnosis(
        [], np.zeros((n, k, len(RUN_HYPOTHESES))), np.zeros((n, len(STUDENT_HYPOTHESES))),
        np.full((n, k), -1, dtype=np.int64), np.full(n, np.nan), Fit(0.05, 0.005, 0.0, 1.0),
    )  # fmt: skip


__all__ = ["BenchDiagnosis", "BenchSetting", "Claim", "Fit", "RunMatrix", "diagnose_bench"]
