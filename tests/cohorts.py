"""Simulated cohorts for tests: digests of classes as `cohort` keeps them, from `simulate_class`. Figures are invented."""

from __future__ import annotations

from tests.simulate_class import REFERENCE, TITRE, Recipe, simulate

OUT_OF = 13


def simulated(rng, name, *, students=28, solution=1.0, decisions=None, **more):
    """A class: results as drawn, ten marks by lot and three by how close the result is.

    solution   strength of its solution over the others'
    decisions  rng -> by how many marks the teacher moves a student; None: nothing is decided
    """
    drawn = simulate(rng, Recipe(students=students, solution=solution))
    people = []
    for number, (result, used) in enumerate(zip(drawn.result.tolist(), drawn.used, strict=True), start=1):
        away = abs(result / REFERENCE - 1)
        shift = 0.0 if decisions is None else 100 * float(decisions(rng)) / OUT_OF
        people.append(
            {
                "student": f"{name} {number}",
                "ID": None,
                "number": number,
                "result": result,
                "reference": REFERENCE,
                "groups": {},
                "runs": int(used.sum()),
                "total": float(sum(away <= limit for limit in (0.008, 0.016, 0.024)) + rng.binomial(10, 0.85)),
                "out_of": float(OUT_OF),
                "shift": shift,
                "doubt": 0,
                "why": None,
            }
        )
    digest = {"name": name, "file": f"{name}.csv", "sha256": name, "error": None, "people": people}
    digest |= {"title": "Drain cleaner", "equation": "...", "quantity": ["NaOH"], "unit": "mol/dm3"}
    digest |= {"students": students, "absent": 0, "results": students, "repeatability_sd": 0.0002, "findings": []}
    digest |= {"references": [REFERENCE], "cm3_per_percent": TITRE / 100}
    return digest | {"moved": [] if decisions is None else [{"student": "somebody", "by": 1.0}]} | more


def cohort(rng, classes, **more):
    """Like classes."""
    return [simulated(rng, f"class {place}", **more) for place in range(classes)]


def apart(found):
    """(class, what) of every class that is said to stand apart."""
    return {(name, row["what"]) for name, rows in found.items() for row in rows if row["apart"]}
