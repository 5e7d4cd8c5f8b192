"""A diagnosis that is told how often the simulator plants each fault, or all else as well: how large, and how it reads.

What it misses when it knows everything, titres do not show. What another one misses beside it is for want of knowing
these classes, which are not like all classes: a fault of less than 0.3 cm³ never happens in the plain ones.

    tell_everything(PLAIN)
    score(PLAIN, 60)
"""

from __future__ import annotations

import numpy as np

from labmark.diagnose import (
    bench_claims,
    bench_class,
    bench_course,
    bench_levels,
    bench_misread,
    bench_model,
    bench_posterior,
)
from labmark.diagnose import bench_runs as runs
from labmark.diagnose.hypotheses import RUN_HYPOTHESES, STUDENT_HYPOTHESES, Band, Hypothesis
from tests.simulator import SimulatedBench

NEVER = 1e-9
FOR_SURE = 1e6
"""Students and runs that the simulator's rates and spreads count for beside those of a class."""
Row = tuple[float, tuple[Band, ...]]
"""(rate, sizes)"""


def tell_rates(bench: SimulatedBench) -> None:
    """Tell the diagnosis how often each fault is planted, for the rest of the process."""
    _put(
        {
            bench_class: {"STUDENT_COUNTS": FOR_SURE, "RUN_COUNTS": FOR_SURE},
            bench_claims: {"SHARPER": 1.0, "SHARPER_OF_FEW": 1.0, "WEAK_TOO": 0.0},
        }
    )
    for rows, rates, told in _tables(bench):
        rates[:] = [told.get(row.name, (NEVER, ()))[0] for row in rows]


def tell_everything(bench: SimulatedBench) -> None:
    """Tell it how large faults are, how the scale is misread and how far good work spreads as well."""
    tell_rates(bench)
    runs, students = (tuple(_as_drawn(row, told) for row in rows) for rows, _, told in _tables(bench))
    _put({bench_model: {"RUN_HYPOTHESES": runs}, bench_levels: {"STUDENT_HYPOTHESES": students}})
    for place, way in enumerate(bench_misread.WAYS):
        if way.shape == "mirrored":
            bench_misread.VARIANT_SHARES[place] = 0.5 if way.name in ("final", "both") else 0.0
    _put(_names(bench))
    _put({bench_class: {"BETWEEN_COUNTS": FOR_SURE, "REPEATABILITY_COUNTS": FOR_SURE} | _spreads(bench)})


def _spreads(bench: SimulatedBench) -> dict[str, object]:
    between, repeatability = np.hypot(bench.endpoint, bench.pipette), np.hypot(bench.repeatability, 2**0.5 * bench.eye)
    return {"USUAL_BETWEEN": float(between), "USUAL_REPEATABILITY": float(repeatability)}


def _as_drawn(row: Hypothesis, told: dict[str, Row]) -> Hypothesis:
    """Return a hypothesis with the sizes that the simulator draws."""
    sized = row._replace(bands=told.get(row.name, (NEVER, ()))[1] or row.bands)
    # A run in which something outlandish happened is out by a volume, here, and mostly far too short.
    return sized._replace(shape="added", direction="+") if row.name == "implausible-titre" else sized


def _put(names: dict[object, dict[str, object]]) -> None:
    for module, values in names.items():
        for name, value in values.items():
            setattr(module, name, value)


def _tables(bench: SimulatedBench) -> tuple[tuple[tuple[Hypothesis, ...], np.ndarray, dict[str, Row]], ...]:
    return (
        (RUN_HYPOTHESES, bench_levels.RUN_RATES, _of_runs(bench)),
        (STUDENT_HYPOTHESES, bench_levels.STUDENT_RATES, _of_students(bench)),
    )


def _of_runs(bench: SimulatedBench) -> dict[str, Row]:
    each = {fault: rate / np.mean(bench.accurate) for fault, rate in bench.rates.items()}
    tens, titre = bench.whole_tens, np.mean(bench.titres)
    return {
        "overshoot": (each["overshoot"], (Band(1.0, *bench.overshoot),)),
        "undershoot": (each["undershoot"], (Band(1.0, *bench.undershoot),)),
        "misread-division": (each["misread-division"], (Band(1 - tens, 1.0, 1.0), Band(tens, 10.0, 10.0))),
        "read-upside-down": ((1 - bench.always_upside_down) * each["read-upside-down"], ()),
        "implausible-titre": (
            each["implausible-titre"],
            # A few anywhere, so that no reading is impossible.
            (
                Band(0.57, 2.0 - titre, -0.15 * titre),
                Band(0.38, 3.0, 15.0),
                Band(0.05, -bench.capacity, bench.capacity),
            ),
        ),
    }


def _of_students(bench: SimulatedBench) -> dict[str, Row]:
    rates, habit, washed = bench.rates, bench.always_upside_down, bench.washed_out
    low, high = bench.water
    told: dict[str, Row] = {
        "always-overshoots": (rates["always-overshoots"], (Band(1.0, *bench.always),)),
        "diluted-titrant": ((1 - washed) * rates["diluted-titrant"], (Band(1.0, low, high),)),
        "titrant diluted, less from run to run": (
            washed * rates["diluted-titrant"], (Band(1.0, 0.35 * low, 0.75 * high),)
        ),
        "wrong-aliquot": (rates["wrong-aliquot"], ()),
        "reads the scale upside down": (habit * rates["read-upside-down"], ()),
    }  # fmt: skip
    return told | {"ordinary work": (1 - sum(rate for rate, _ in told.values()), ())}


def _names(bench: SimulatedBench) -> dict[object, dict[str, object]]:
    """Return what else the modules take for granted, as the simulator has it."""
    both = {"COUNTED_FROM_BELOW": 0.0, "HABIT_WAYS": (("both", 1.0),)}
    fading = next(row.bands for row in bench_levels.STUDENT_HYPOTHESES if row.shape == "fading")
    return {
        bench_class: {"USUAL_SHIFT": 1e-5, "CARELESS_SHARE": 0.0},
        bench_model: {"CARELESS_SHARE": 0.0, "SHAKY_FACTOR": bench.shake},
        bench_levels: {"TAIL_SHARE": 0.0, "PIPETTES": ((10.0, 0.5), (20.0, 0.5))},
        bench_course: {"LEFT": np.arange(0.35, 0.76, 0.04), "ASTRAY": 0.001, "_FADING": fading},
        bench_posterior: {**both, "SHAKY_SHARE": bench.shaky},
        runs: {**both, "HABIT_SLIP": 0.001, "ROUGH_TOO": 0.999},
    }  # fmt: skip
