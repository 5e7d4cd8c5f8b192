"""The uncertainty budget of every result, from the practical, its glassware and the class's repeatability."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.arrays import t_quantile
from labmark.analyse.budget import BudgetTable, Component, improvement_of, welch_satterthwaite
from labmark.analyse.chemistry import Conversion
from labmark.analyse.uncertainty import (
    HalfWidth,
    Repeatability,
    Titres,
    formula_mass_component,
    glass_component,
    school_percent,
    school_percent_of_difference,
    standard_component,
    titration_budget,
)
from labmark.assessed import Uncertain
from labmark.joins.glass import Glasses
from labmark.joins.worked import Worked
from labmark.practical import Practical
from labmark.practical.equation import molar_mass_uncertainty, parse_formula

Floats = NDArray[np.float64]

STANDARD = "concentration of the standard"
REAGENT = "concentration of the reagent in excess"
SHARED = (STANDARD, REAGENT)
"""Names of the lines that all results of a class share."""

WITH_FORMULA_MASS = ("mass concentration", "percent by mass", "percent mass by volume", "mass")
"""Quantities that a formula mass turns an amount into."""


@dataclass(frozen=True)
class Behind:
    """What the budgets of a class rest on beside its titres."""

    practical: Practical
    glass: Glasses
    curve: Conversion
    repeatability: Repeatability | None
    """Of a single titre, pooled over the class [cm³]."""
    standard_dof: float = inf
    """Degrees of freedom of the standard's concentration."""


def budgets(behind: Behind, titres: Floats, runs: Floats) -> BudgetTable:
    """Return the budgets of a class, from mean titres (n,) [cm³], NaN where missing, and their numbers of runs (n,)."""
    curve, given = behind.curve, behind.practical.file.uncertainty
    results = curve.results(titres)
    with np.errstate(invalid="ignore", divide="ignore"):
        # The share of the result that is a power law: 1 but for water of crystallisation.
        lever = (results - float(curve.offset)) / results
    power = curve.power * lever
    safe = np.where(np.isfinite(results), titres, 1.0)
    left = _left_over_reacted(curve, safe)
    others = [
        Component(
            each.source,
            each.value,
            each.standard_uncertainty,
            each.unit,
            each.distribution,
            each.dof,
            np.asarray(each.exponent) * power,
            each.advice,
        )
        for each in _others(behind, left)
    ]
    titre = Titres(
        safe,
        np.maximum(runs, 1),
        behind.glass.burette,
        behind.repeatability,
        power if left is None else -power * left,
        float(given.drop),
        distribution=given.glassware,
    )
    return titration_budget(results, titre, [*others, *_formula_mass(behind.practical)])


def _left_over_reacted(curve: Conversion, titres: Floats) -> Floats | None:
    """Return the amount left over that which reacted (n,), titre ÷ (blank − titre); None for a direct titration.

    A share of what was left weighs so many times as much in what reacted, and the other way: n = added − left.
    """
    if curve.blank is None:
        return None
    reacted = float(curve.blank) - titres
    return np.where(reacted > 0, titres / np.where(reacted > 0, reacted, 1.0), 0.0)


def _others(behind: Behind, left: Floats | None) -> list[Component]:
    """Return the lines beside the titre, each with the power it has where the result rises with the titre.

    Whatever else enters, it enters the same amount that the titre enters: the standard's concentration beside the
    titre, the aliquot under it. Where the burette holds the unknown the two change places. In a back titration what
    enters the amount left, or the amount added, weighs by its share of their difference (`left` of the amount left).
    """
    practical, glass = behind.practical, behind.glass
    law = practical.file.uncertainty.glassware
    known_in_burette = practical.known_in == "burette"
    side = practical.file.burette if known_in_burette else practical.file.flask
    beside = 1.0 if known_in_burette else -1.0
    of_titre: float | Floats = beside if left is None else -left
    lines = [_pipette(behind, left)]
    if side.standard_uncertainty and side.concentration:
        strength, spread = float(side.concentration), float(side.standard_uncertainty)
        lines.append(standard_component(STANDARD, strength, spread, "mol/dm3", of_titre, behind.standard_dof))
    if left is not None:
        lines += _excess(behind, left)
    if glass.dilution_pipette is not None and glass.dilution_flask is not None:
        lines.append(glass_component("pipette of the dilution", glass.dilution_pipette, -beside, law))
        lines.append(glass_component("volumetric flask of the dilution", glass.dilution_flask, beside, law))
    if glass.sample_flask is not None:
        lines.append(glass_component("volumetric flask of the sample", glass.sample_flask, beside, law))
    if glass.sample_pipette is not None:
        lines.append(glass_component("pipette of the sample", glass.sample_pipette, -1.0, law))
    sample = practical.file.sample
    if sample is not None and sample.mass is not None and practical.needs_sample and sample.standard_uncertainty:
        mass, spread = float(sample.mass), float(sample.standard_uncertainty)
        lines.append(standard_component("mass of the sample", mass, spread, "g", -beside))
    return lines


def _pipette(behind: Behind, left: Floats | None) -> Component:
    """Return the line of the pipette of the flask: under the sample, under what was left, or beside what was added."""
    practical, glass = behind.practical, behind.glass
    exponent: float | Floats = -1.0
    if left is not None and practical.back is not None and practical.back.whole:
        exponent = 1 + left if glass.excess_pipette is None else left
    return glass_component(
        f"pipette, {glass.pipette.volume:g} cm³", glass.pipette, exponent, practical.file.uncertainty.glassware
    )


def _excess(behind: Behind, left: Floats) -> list[Component]:
    """Return the lines of the reagent in excess, and of the flask that the mixture was made up in."""
    given, glass, law = behind.practical.file.excess, behind.glass, behind.practical.file.uncertainty.glassware
    lines = []
    if given is not None and given.standard_uncertainty:
        strength, spread = float(given.concentration), float(given.standard_uncertainty)
        lines.append(standard_component(REAGENT, strength, spread, "mol/dm3", 1 + left))
    if glass.excess_pipette is not None:
        lines.append(glass_component("pipette of the reagent in excess", glass.excess_pipette, 1 + left, law))
    if glass.mixture_flask is not None:
        lines.append(glass_component("volumetric flask of the mixture", glass.mixture_flask, -left, law))
    return lines


def _formula_mass(practical: Practical) -> list[Component]:
    """Return the line of the formula mass where it turns the amount into the result: next to nothing, and shown so."""
    if practical.file.result.quantity not in WITH_FORMULA_MASS:
        return []
    expressed = practical.file.result.expressed_as
    atoms = parse_formula(expressed).atoms if expressed else practical.unknown.atoms
    return [formula_mass_component("formula mass", float(practical.molar_mass), molar_mass_uncertainty(atoms))]


def uncertainties(worked: Worked, behind: Behind) -> list[Uncertain | None]:
    """Return every student's uncertainty, None where there is no result. Worked out as arrays, then handed out."""
    table = budgets(behind, worked.titres, worked.sets.count.astype(float))
    school = school_percents(behind.practical, behind.glass, worked.titres).tolist()
    unshared, unshared_expanded = _unshared(table)
    rows = _rows(table)
    columns = (
        table.standard_uncertainty,
        table.expanded,
        table.coverage_factor,
        table.dof,
        unshared,
        unshared_expanded,
    )
    figures = zip(*(column.tolist() for column in columns), strict=True)
    return [
        Uncertain(u, expanded, factor, dof if dof < inf else None, school[place], *rows[place], alone, alone_expanded)
        if u == u
        else None
        for place, (u, expanded, factor, dof, alone, alone_expanded) in enumerate(figures)
    ]


def _rows(table: BudgetTable) -> list[tuple[tuple[dict[str, Any], ...], str]]:
    """Return (lines, largest first; what to improve) of every budget."""
    percents = (100 * table.relative).T
    totals = np.sqrt(np.sum(percents**2, axis=1))
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = np.where(totals[:, None] > 0, (percents / totals[:, None]) ** 2, 0.0)
    order = np.argsort(-percents, axis=1, kind="stable")
    parts = [_standing(component, len(totals)) for component in table.components]
    made = []
    for place, (lines, total) in enumerate(zip(order.tolist(), totals.tolist(), strict=True)):
        percent, share = percents[place].tolist(), shares[place].tolist()
        budget = tuple(
            parts[line][0] | {"value": parts[line][1][place], "percent": percent[line], "share": share[line]}
            for line in lines
        )
        first = table.components[lines[0]]
        advice = improvement_of(first.source, first.advice, percent[lines[0]], total) if total > 0 else ""
        made.append((budget, advice))
    return made


def _standing(component: Component, students: int) -> tuple[dict[str, Any], list[float]]:
    """Return what a line says of every student alike, and its standard uncertainty for each."""
    values = np.broadcast_to(np.asarray(component.standard_uncertainty, dtype=np.float64), (students,))
    same = {"source": component.source, "unit": component.unit, "distribution": component.distribution}
    return same, values.tolist()


def _unshared(table: BudgetTable) -> tuple[Floats, Floats]:
    """Return standard and expanded uncertainty (n,) without the concentrations given, which a class shares."""
    keep = [k for k, component in enumerate(table.components) if component.source not in SHARED]
    relative = table.relative[keep]
    dof = np.stack([np.broadcast_to(np.asarray(table.components[k].dof, float), table.value.shape) for k in keep])
    standard = np.abs(table.value) * np.sqrt(np.sum(relative**2, axis=0))
    return standard, standard * t_quantile(0.5 + table.level / 2, welch_satterthwaite(relative, dof))


def school_percents(practical: Practical, glass: Glasses, titres: Floats) -> Floats:
    """Return the school way, percentages added up, for every mean titre (n,) [cm³]; NaN where there is none."""
    widths = {name: HalfWidth(name, piece.volume, piece.tolerance) for name, piece in glass.named if name != "burette"}
    division, blank = float(practical.file.burette.division), practical.blank_titre
    with np.errstate(invalid="ignore", divide="ignore"):
        if practical.back is None or blank is None:
            return school_percent(titres, division, [*widths.values()])
        left = ["volumetric flask of the mixture"]
        added = ["pipette of the reagent in excess"]
        if practical.back.whole:
            (left if glass.excess_pipette is not None else added).append("pipette")
        of_left, of_added = ([widths.pop(name) for name in names if name in widths] for names in (left, added))
        return school_percent_of_difference(titres, float(blank), division, of_left, of_added, [*widths.values()])
