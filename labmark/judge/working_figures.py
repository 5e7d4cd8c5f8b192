"""A practical as the sum that students do: its formula, and which molar masses they may take instead."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

from labmark.diagnose.working_calculation import Calculation
from labmark.formula import Formula, Input
from labmark.practical import Practical
from labmark.practical.equation import Species, molar_mass, parse_formula, shown_formula
from labmark.practical.kinds import formula_of, unknown_dilution
from labmark.practical.quantities import QUANTITIES
from labmark.units import shown_unit

WATERS = (Fraction(18), Fraction("18.02"))
"""Molar masses of water as good as 18.015 [g/mol]."""


def calculation(practical: Practical, formula: Formula | None = None) -> Calculation:
    """Return the student's sum; `formula` is the student's where numbers are their own."""
    given, right = practical.file.result, formula or formula_of(practical)
    reagent = practical.known if practical.back is None else practical.back.reagent
    if practical.equation.links:
        reagent = practical.path[-2][1]
    whose = {"molar_mass": practical.expressed.formula, "known_mass": practical.known.formula}
    masses = {name: formula for name, formula in whose.items() if parse_formula(formula).has_known_mass}
    undiluted, related = None, dict(_related(practical, right))
    if unknown_dilution(practical) is not None and not given.report_original:
        undiluted = formula_of(_asked(practical, report_original=True))
    return Calculation(
        right,
        given.quantity,
        given.significant_figures,
        shown_unit(practical.unit),
        fair=fair_masses(right, masses),
        others=tuple(_other_masses(practical)),
        names={
            "known": reagent.shown,
            "unknown": practical.unknown.shown,
            "titrant": practical.known.shown,
            **({"others": "other titres"} if practical.series and practical.series.others(practical.unknown) else {}),
        },
        undiluted=undiluted,
        related=related,
        fair_related={unit: fair_masses(one, masses) for unit, one in related.items() if not unit.startswith("mol")},
    )


def with_own(calc: Calculation, inputs: Iterable[Input]) -> Calculation:
    """Return a sum with the student's own numbers in it; the very same where there are none."""
    own = [each for each in inputs if each.value is not None]
    if not own:
        return calc
    undiluted = None if calc.undiluted is None else calc.undiluted.given(own)
    related = {unit: formula.given(own) for unit, formula in calc.related.items()}
    return replace(calc, formula=calc.formula.given(own), undiluted=undiluted, related=related)


@lru_cache(maxsize=256)
def in_unit(calc: Calculation, unit: str) -> Calculation:
    """Return the sum that gives the result in a unit of another quantity of the substance; "": as it was asked for."""
    if unit not in calc.related:
        return calc
    return replace(calc, formula=calc.related[unit], fair=calc.fair_related.get(unit, ()), unit=shown_unit(unit))


def _related(practical: Practical, right: Formula) -> Iterator[tuple[str, Formula]]:
    """Yield (unit, formula) of the other quantities of the substance that a result may be written as.

    The amount in a weighed sample is its mass with a molar mass of 1 g/mol; mol/g is a hundredth of that in %.
    """
    asked = practical.file.result.quantity
    if practical.needs_sample:
        unit = {"mass": "mol", "percent by mass": "mol/g"}.get(asked)
        if unit is not None:
            value = Fraction(1, 100 if unit == "mol/g" else 1) / 10**practical.expressed.power
            one = replace(right.of["molar_mass"], value=value, text="")
            yield unit, right.given([one])
        return
    for quantity, unit in (("amount concentration", "mol/dm3"), ("mass concentration", "g/dm3")):
        if quantity != asked:
            yield unit, formula_of(_asked(practical, quantity=quantity)).given(right.inputs)


def _asked(practical: Practical, **of_result: object) -> Practical:
    """Return a practical of which something else is asked."""
    result = practical.file.result.model_copy(update=of_result)
    expressed = practical.expressed
    if "quantity" in of_result:
        result = result.model_copy(update={"unit": None, "factor": None})
        expressed = replace(expressed, power=0, quantity=QUANTITIES[result.quantity])
    return replace(practical, file=practical.file.model_copy(update={"result": result}), expressed=expressed)


def fair_masses(formula: Formula, of: Mapping[str, str]) -> tuple[tuple[Input, ...], ...]:
    """Return the molar masses that are as good as a formula's, each with each; `of` names whose they are."""
    values = {name: school_molar_masses(whose) for name, whose in of.items()}
    return alternatives(formula, values | {"water_mass": WATERS})


def alternatives(formula: Formula, values: Mapping[str, tuple[Fraction, ...]]) -> tuple[tuple[Input, ...], ...]:
    """Return the inputs of a formula with other values that are as good, each with each, but for its own."""
    each = [
        [replace(formula.of[name], value=value, text="") for value in dict.fromkeys((formula.of[name].value, *others))]
        for name, others in values.items()
        if name in formula.of
    ]
    return tuple(product(*each))[1:]


@lru_cache(maxsize=256)
def school_molar_masses(formula: str) -> tuple[Fraction, ...]:
    """Return the molar mass as schools reckon it: from atomic masses to one decimal, and to whole numbers.

    Chlorine and copper keep their half (35.5 and 63.5) among whole numbers (common practice, no source).
    """
    atoms = parse_formula(formula).atoms
    tenths = sum((number * _rounded(symbol, 1) for symbol, number in atoms), Fraction(0))
    whole = sum((number * _school_whole(symbol) for symbol, number in atoms), Fraction(0))
    exact = molar_mass(atoms)
    return tuple(dict.fromkeys((tenths, whole, _to(exact, 1), _to(exact, 0), _to(exact, 2))))


def _rounded(symbol: str, decimals: int) -> Fraction:
    return _to(molar_mass(((symbol, Fraction(1)),)), decimals)


def _school_whole(symbol: str) -> Fraction:
    return {"Cl": Fraction(71, 2), "Cu": Fraction(127, 2)}.get(symbol) or _rounded(symbol, 0)


def _to(value: Fraction, decimals: int) -> Fraction:
    scale = 10**decimals
    return Fraction((value * scale + Fraction(1, 2)).__floor__(), scale)


def _other_masses(practical: Practical) -> Iterator[Input]:
    """Yield molar masses that a student may take by mistake: of another species, or without the water of a hydrate."""
    expressed, back = practical.expressed.formula, practical.back
    species = [practical.known, *([back.reagent] if back is not None else [])]
    if expressed != practical.unknown.formula:
        species.append(practical.unknown)
    hydrate = re.match(r"^(?P<salt>.+?)[.·]\d*H2O$", expressed)
    named = [(each.shown, each) for each in species]
    if hydrate:
        named.append((f"{shown_formula(hydrate['salt'])} without its water", parse_formula(hydrate["salt"])))
    named += ((each.shown, each) for each in _heavy(practical))
    found = [(name, molar_mass(each.atoms)) for name, each in named if each.has_known_mass]
    masses: dict[Fraction, str] = {}
    for name, mass in found:
        masses.setdefault(mass, name)
    for place, (mass, name) in enumerate(masses.items()):
        yield Input(f"molar_mass.{place}", "molar mass", mass, "g/mol", words=name)


def _heavy(practical: Practical) -> Iterator[Species]:
    """Yield every species of the equations but hydrogen ions and electrons, whose mass nobody takes."""
    equations = [practical.equation, *([practical.back.equation] if practical.back is not None else [])]
    for equation in equations:
        for _, species in equation.terms:
            if not species.has_known_mass or molar_mass(species.atoms) > 2:
                yield species
