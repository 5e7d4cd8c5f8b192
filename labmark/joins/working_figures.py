"""A practical as the sum that students do: what it gives them, and which molar masses they may take instead."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from labmark.diagnose.working import Calculation, Excess
from labmark.formula import Input
from labmark.practical import Practical
from labmark.practical.equation import Equation, Species, molar_mass, parse_formula, shown_formula
from labmark.practical.kinds import unknown_dilution
from labmark.units import shown_unit


def calculation(practical: Practical) -> Calculation:
    """Return the figures that the student's sum needs."""
    given, dilution = practical.file, unknown_dilution(practical)
    expressed = given.result.expressed_as or practical.unknown.formula
    mass, purity = practical.molar_mass, None
    if practical.weighed_standard and given.sample is not None:
        purity = Fraction(given.sample.purity or 1)
        if given.result.quantity == "amount concentration":
            expressed, mass = practical.known.formula, molar_mass(practical.known.atoms)
    return Calculation(
        quantity=given.result.quantity,
        known_concentration=practical.known_concentration,
        aliquot=Fraction(given.flask.aliquot or 0),
        known_in=practical.known_in,
        coefficient_known=_whole(practical)[0],
        coefficient_unknown=_whole(practical)[1],
        dilution=None if dilution is None else (Fraction(dilution.taken), Fraction(dilution.made_up_to)),
        report_original=given.result.report_original,
        molar_mass=mass,
        accepted_molar_masses=school_molar_masses(expressed),
        other_molar_masses=_other_masses(practical, mass),
        weighed=purity,
        sample_mass=None if given.sample is None else _exact(given.sample.mass),
        sample_made_up_to=None if given.sample is None else _exact(given.sample.made_up_to),
        excess=_excess(practical),
        significant_figures=given.result.significant_figures,
        known=(practical.known if practical.back is None else practical.back.reagent).shown,
        unknown=practical.unknown.shown,
        unit=shown_unit(practical.unit),
        known_text=_concentration_text(practical),
    )


def with_own(calc: Calculation, inputs: Iterable[Input]) -> Calculation:
    """Return the figures of a sum with the student's own numbers in it."""
    for own in inputs:
        if own.value is None:
            continue
        if own.name == "sample.mass":
            calc = replace(calc, sample_mass=own.value)
        elif own.name == "flask.aliquot":
            calc = replace(calc, aliquot=own.value)
        elif own.name == f"{calc.known_in}.concentration":
            calc = replace(calc, known_concentration=own.value, known_text=own.text)
        elif own.name == "flask.dilution.taken" and calc.dilution is not None:
            calc = replace(calc, dilution=(own.value, calc.dilution[1]))
        elif calc.excess is not None and own.name == "excess.volume":
            calc = replace(calc, excess=replace(calc.excess, volume=own.value))
        elif calc.excess is not None and own.name == "excess.concentration":
            calc = replace(calc, excess=replace(calc.excess, concentration=own.value))
        elif calc.excess is not None and own.name == "sample.volume":
            calc = replace(calc, excess=replace(calc.excess, sample_volume=own.value))
    return calc


@lru_cache(maxsize=256)
def in_unit(calc: Calculation, unit: str) -> Calculation:
    """Return the sum that gives the result in a unit of another quantity of the substance; "": as it was asked for.

    The amount in a weighed sample is its mass with a molar mass of 1 g/mol; mol/g is a hundredth of that in %.
    """
    if not unit:
        return calc
    asked = {"g/dm3": "mass concentration", "mol/dm3": "amount concentration"}.get(unit, calc.quantity)
    mass = {"g/dm3": calc.molar_mass, "mol/g": Fraction(1, 100)}.get(unit, Fraction(1))
    fair = calc.accepted_molar_masses if unit == "g/dm3" else ()
    return replace(calc, quantity=asked, molar_mass=mass, accepted_molar_masses=fair, unit=shown_unit(unit))


def _concentration_text(practical: Practical) -> str:
    """Return the known concentration with the digits that the practical gives it; "" where it is not a plain figure."""
    given = getattr(practical.file, practical.known_in).concentration
    exact = given is not None and Fraction(given) == practical.known_concentration
    return f"{given:f}" if exact else ""


def _exact(value: Decimal | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def _excess(practical: Practical) -> Excess | None:
    """Return the reagent in excess of a back titration."""
    given, back, sample = practical.file.excess, practical.back, practical.file.sample
    if given is None or back is None:
        return None
    titrant, reagent = _numbers(practical.equation, practical.known, back.reagent)
    return Excess(
        Fraction(given.concentration),
        Fraction(given.volume),
        coefficient=reagent,
        coefficient_titrant=titrant,
        titrant=practical.known.shown,
        mixture=_exact(given.made_up_to),
        whole=back.whole,
        sample_volume=None if sample is None or not back.whole else _exact(sample.volume),
    )


def _whole(practical: Practical) -> tuple[int, int]:
    """Return the stoichiometric numbers of the known (in a back titration: the reagent) and the unknown."""
    back = practical.back
    if back is None:
        return _numbers(practical.equation, practical.known, practical.unknown)
    return _numbers(back.equation, back.reagent, practical.unknown)


def _numbers(equation: Equation, first: Species, second: Species) -> tuple[int, int]:
    """Return the stoichiometric numbers of two species as whole numbers."""
    one, two = equation.coefficient(first), equation.coefficient(second)
    if one.denominator == two.denominator == 1:
        return int(one), int(two)
    ratio = two / one
    return ratio.denominator, ratio.numerator


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


def _other_masses(practical: Practical, right: Fraction) -> tuple[tuple[str, Fraction], ...]:
    """Return molar masses that a student may take by mistake: of another species, or without the water of a hydrate."""
    expressed = practical.file.result.expressed_as
    found = [(practical.known.shown, molar_mass(practical.known.atoms))]
    if practical.back is not None:
        found.append((practical.back.reagent.shown, molar_mass(practical.back.reagent.atoms)))
    if expressed and expressed != practical.unknown.formula:
        found.append((practical.unknown.shown, molar_mass(practical.unknown.atoms)))
    hydrate = re.match(r"^(?P<salt>.+?)[.·]\d*H2O$", expressed or practical.unknown.formula)
    if hydrate:
        salt = shown_formula(hydrate["salt"])
        found.append((f"{salt} without its water", molar_mass(parse_formula(hydrate["salt"]).atoms)))
    found += ((species.shown, molar_mass(species.atoms)) for species in _heavy(practical))
    masses: dict[Fraction, str] = {}
    for name, mass in found:
        masses.setdefault(mass, name)
    return tuple((name, mass) for mass, name in masses.items() if mass != right)


def _heavy(practical: Practical) -> Iterator[Species]:
    """Yield every species of the equations but hydrogen ions and electrons, whose mass nobody takes."""
    equations = [practical.equation, *([practical.back.equation] if practical.back is not None else [])]
    for equation in equations:
        for _, species in (*equation.left, *equation.right):
            if molar_mass(species.atoms) > 2:
                yield species
