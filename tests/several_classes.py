"""Classes with several titres as reading hands them on: a run of two endpoints is a row for each. All invented."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labmark.facts import OwnValue
from labmark.records import ClassSheet, Ledger
from tests.build import decimals, people, run, ul

LYE = """
title = "Soda lye from the cleaning cupboard"
indicator = "phenolphthalein, then methyl orange"
[burette]
solution = "HCl"
concentration = 0.1000
standard_uncertainty = 0.0002
[flask]
solution = "soda lye"
aliquot = 25.0
[[endpoints]]
name = "phenolphthalein"
equations = [ "OH^- + H^+ -> H2O", "CO3^2- + H^+ -> HCO3^-" ]
[[endpoints]]
name = "methyl orange"
equations = [ "HCO3^- + H^+ -> H2O + CO2" ]
[[results]]
name = "NaOH"
of = "OH^-"
expressed_as = "NaOH"
quantity = "mass concentration"
reference = { value = 3.20, standard_uncertainty = 0.02 }
[[results]]
name = "Na2CO3"
of = "CO3^2-"
expressed_as = "Na2CO3"
quantity = "mass concentration"
reference = { value = 1.59, standard_uncertainty = 0.01 }
"""
"""0.0800 mol/dm³ of NaOH (× 39.997 = 3.20 g/dm³) and 0.0150 of Na2CO3 (× 105.99 = 1.59): 25.0 cm³ of it take
25.0 × (0.0800 + 0.0150) ÷ 0.1000 = 23.75 cm³ to phenolphthalein and 25.0 × 0.0150 ÷ 0.1000 = 3.75 cm³ more."""

WELL = """
title = "Calcium and magnesium in well water"
[burette]
solution = "Na2H2Y"
concentration = 0.00500
[flask]
solution = "well water"
aliquot = 50.0
[[titrations]]
name = "total"
indicator = "eriochrome black T"
equations = [ "Ca^2+ + H2Y^2- -> CaY^2- + 2 H^+", "Mg^2+ + H2Y^2- -> MgY^2- + 2 H^+" ]
count = [ "Ca^2+", "Mg^2+" ]
[[titrations]]
name = "calcium"
indicator = "calcon"
equations = [ "Ca^2+ + H2Y^2- -> CaY^2- + 2 H^+" ]
[[results]]
name = "Ca"
of = "Ca^2+"
quantity = "mass concentration"
unit = "mg/dm3"
reference = { value = 80.2 }
[[results]]
name = "Mg"
of = "Mg^2+"
quantity = "mass concentration"
unit = "mg/dm3"
reference = { value = 24.3 }
"""
"""0.00200 mol/dm³ of calcium (× 40.078 = 80.2 mg/dm³) and 0.00100 of magnesium (× 24.305 = 24.3): 50.0 cm³ of it take
50.0 × 0.00300 ÷ 0.00500 = 30.00 cm³ in all, and 20.00 cm³ for the calcium."""


def own(text: str | None, cell: str) -> OwnValue | None:
    """Return a written mean or result."""
    return None if text is None else OwnValue(Decimal(text), decimals(text), cells=(cell,))


def endpoints(label: str, readings: str, names: tuple[str, ...], **more: Any) -> list[dict[str, Any]]:
    """Return the rows of a run: endpoints("1", "0.00 23.75 27.50", names)."""
    each = readings.split()
    rows = []
    for place, name in enumerate(names):
        titre = (more.get("titres") or {}).get(name)
        row = run(label, f"{each[place]} {each[place + 1]}", titre, series=name, tick=more.get("tick"))
        before = names[place - 1] if place else "initial"
        row["cells"] = {"initial": f"{label}!{before}", "final": f"{label}!{name}"}
        if titre is not None:
            row["cells"]["titre"] = f"{label}!{name} titre"
        rows.append(row)
    return rows


def student(
    name: str, runs: list[dict[str, Any]], means: dict[str, str] | None = None, results: dict[str, str] | None = None
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return a student with written means (by endpoint or titration) and results (by name)."""
    kinds = {"mean": means or {}, "result": results or {}}
    several = {kind: {key: own(text, f"{name}!{key}") for key, text in of.items()} for kind, of in kinds.items()}
    return {"student": name, "several": several, "cells": {"student": f"{name}!A"}}, runs


def class_of(*students: tuple[dict[str, Any], list[dict[str, Any]]]) -> ClassSheet:
    """Return the class."""
    return ClassSheet(people(*students), Ledger(), "class.csv", "0" * 64, ("",))


__all__ = ["LYE", "WELL", "class_of", "endpoints", "own", "student", "ul"]
