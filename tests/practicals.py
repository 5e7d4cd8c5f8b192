"""Practical files for tests, written as a teacher writes them. Settings are invented unless a source stands beside them."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

from labmark.lesson.prepare import prepared
from labmark.practical import Practical, practical_from_toml
from labmark.practicals import named

DRAIN_CLEANER = """
title = "Strength of a drain cleaner"
equation = "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"
[burette]
solution = "H2SO4"
concentration = 0.0500
[flask]
solution = "NaOH"
aliquot = 25.0
[result]
of = "NaOH"
[reference]
value = 0.0974
standard_uncertainty = 0.0004
"""


def practical(text: str = DRAIN_CLEANER, *changes: tuple[str, str]) -> Practical:
    """Return the practical of a text after (old, new) replacements, each of which must change something."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return practical_from_toml(text, "practical.toml")


@cache
def card(name: str) -> dict[str, Any]:
    """Return what has to be prepared for 28 students of a practical that ships, worked out once for all tests."""
    return prepared(named(name), 28).tree


def ratio(made: Practical) -> Fraction:
    """Return how many mol of the unknown one mol of the known (in a back titration: of the reagent) stands for."""
    equation, known = (made.equation, made.known) if made.back is None else (made.back.equation, made.back.reagent)
    return equation.coefficient(made.unknown) / equation.coefficient(known)


def titration(
    equation: str,
    known: str,
    concentration: str,
    unknown: str,
    aliquot: str,
    *,
    known_in: str = "burette",
    quantity: str = "amount concentration",
    **more: str,
) -> Practical:
    """Return a bare practical for a worked example; `more` may hold sample, dilution, expressed_as, figures."""
    strength = f"concentration = {concentration}"
    in_burette, in_flask = (known, unknown) if known_in == "burette" else (unknown, known)
    lines = [
        'title = "worked example"',
        f'equation = "{equation}"',
        f'[burette]\nsolution = "{in_burette}"',
        strength if known_in == "burette" else "",
        f'[flask]\nsolution = "{in_flask}"\naliquot = {aliquot}',
        strength if known_in == "flask" else "",
        more.get("dilution", ""),
        f'[result]\nof = "{unknown}"\nquantity = "{quantity}"',
        "nominal = 0.1" if quantity == "titre factor" else "",
        f'expressed_as = "{more["expressed_as"]}"' if "expressed_as" in more else "",
        f"[sample]\n{more['sample']}" if "sample" in more else "",
    ]
    return practical_from_toml("\n".join(lines), "example.toml")


EGGSHELLS = """
title = "Calcium carbonate in eggshells"
equation = "HCl + NaOH -> NaCl + H2O"
[burette]
solution = "NaOH"
concentration = 0.1000
[flask]
solution = "HCl"
aliquot = 25.0
[excess]
solution = "HCl"
equation = "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2"
concentration = 1.000
volume = 50.0
made_up_to = 250.0
[sample]
mass = 1.500
[result]
of = "CaCO3"
quantity = "percent by mass"
[reference]
value = 93.2
standard_uncertainty = 0.5
"""
"""A back titration in which the sample itself is treated: blank titre 50.00 cm³, about 1.67 % less for each 0.5 cm³."""

AMMONIA = """
title = "Ammonia in a household cleaner"
equation = "2 HCl + Na2CO3 -> 2 NaCl + H2O + CO2"
[burette]
solution = "Na2CO3"
concentration = 0.0500
[flask]
solution = "NH3"
aliquot = 25.0
dilution = { taken = 20.0, made_up_to = 250.0 }
[excess]
solution = "HCl"
equation = "NH3 + HCl -> NH4Cl"
concentration = 0.100
volume = 50.0
[result]
of = "NH3"
quantity = "mass concentration"
[reference]
value = 22.0
standard_uncertainty = 0.1
"""
"""A back titration of portions of the sample's solution, whose titration is 1 : 2: blank titre 50.00 cm³."""

ACID = "HCl + NaOH -> NaCl + H2O"
CHALK = "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2"


def back(
    titration: str,
    titrant: tuple[str, str],
    reagent: tuple[str, str, str],
    reaction: str,
    unknown: str,
    *,
    aliquot: str | None = None,
    made_up_to: str | None = None,
    portion: bool = False,
    sample: str = "",
    quantity: str = "amount concentration",
    dilution: str = "",
) -> Practical:
    """Return a bare back titration; titrant and reagent are (species, mol/dm³) and (species, mol/dm³, cm³)."""
    lines = [
        'title = "worked example"',
        f'equation = "{titration}"',
        f'[burette]\nsolution = "{titrant[0]}"\nconcentration = {titrant[1]}',
        f'[flask]\nsolution = "{unknown if portion else reagent[0]}"\naliquot = {aliquot or reagent[2]}',
        dilution,
        f'[excess]\nsolution = "{reagent[0]}"\nconcentration = {reagent[1]}\nvolume = {reagent[2]}',
        f'equation = "{reaction}"',
        "" if made_up_to is None else f"made_up_to = {made_up_to}",
        f"[sample]\n{sample}" if sample else "",
        f'[result]\nof = "{unknown}"\nquantity = "{quantity}"',
        "nominal = 0.1" if quantity == "titre factor" else "",
    ]
    return practical_from_toml("\n".join(lines), "example.toml")
