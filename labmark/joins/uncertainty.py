"""The uncertainty budget of every result, from the practical, its glassware and the class's repeatability."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labmark.analyse.budget import BudgetTable, Component
from labmark.analyse.chemistry import Conversion
from labmark.analyse.uncertainty import (
    HalfWidth,
    Repeatability,
    Titres,
    glass_component,
    school_percent,
    standard_component,
    titration_budget,
)
from labmark.joins.glass import Glasses
from labmark.practical import Practical

Floats = NDArray[np.float64]


def budgets(
    practical: Practical,
    glass: Glasses,
    curve: Conversion,
    titres: Floats,
    runs: Floats,
    repeatability: Repeatability | None,
) -> BudgetTable:
    """Return the budgets of a class.

    titres         (n,) mean titres [cm³]; NaN where there is none
    runs           (n,) how many runs each mean is of
    repeatability  of a single titre, pooled over the class [cm³]
    """
    results = curve.results(titres)
    with np.errstate(invalid="ignore", divide="ignore"):
        # The share of the result that is a power law: 1 but for water of crystallisation.
        lever = (results - float(curve.offset)) / results
    others = [
        Component(
            each.source,
            each.value,
            each.standard_uncertainty,
            each.unit,
            each.distribution,
            each.dof,
            np.asarray(each.exponent) * curve.power * lever,
            each.advice,
        )
        for each in _others(practical, glass)
    ]
    safe = np.where(np.isfinite(titres) & (titres > 0), titres, 1.0)
    behind = Titres(safe, np.maximum(runs, 1), glass.burette, repeatability, curve.power * lever)
    return titration_budget(results, behind, others)


def _others(practical: Practical, glass: Glasses) -> list[Component]:
    """Return the lines beside the titre, each with the power it has where the result rises with the titre.

    Whatever else enters, it enters the same amount that the titre enters: the standard's concentration beside the
    titre, the aliquot under it. Where the burette holds the unknown the two change places.
    """
    known_in_burette = practical.known_in == "burette"
    side = practical.file.burette if known_in_burette else practical.file.flask
    beside = 1.0 if known_in_burette else -1.0
    lines = [glass_component(f"pipette, {glass.pipette.volume:g} cm³", glass.pipette, -1.0)]
    if side.standard_uncertainty and side.concentration:
        strength, spread = float(side.concentration), float(side.standard_uncertainty)
        lines.append(standard_component("concentration of the standard", strength, spread, "mol/dm3", beside))
    if glass.dilution_pipette is not None and glass.dilution_flask is not None:
        lines.append(glass_component("pipette of the dilution", glass.dilution_pipette, -beside))
        lines.append(glass_component("volumetric flask of the dilution", glass.dilution_flask, beside))
    if glass.sample_flask is not None:
        lines.append(glass_component("volumetric flask of the sample", glass.sample_flask, beside))
    sample = practical.file.sample
    if sample is not None and practical.needs_sample and sample.standard_uncertainty:
        mass, spread = float(sample.mass), float(sample.standard_uncertainty)
        lines.append(standard_component("mass of the sample", mass, spread, "g", -beside))
    return lines


def school_percents(practical: Practical, glass: Glasses, titres: Floats) -> Floats:
    """Return the school way, percentages added up, for every mean titre (n,) [cm³]; NaN where there is none."""
    widths = [HalfWidth(name, piece.volume, piece.tolerance) for name, piece in glass.named if name != "burette"]
    with np.errstate(invalid="ignore", divide="ignore"):
        return school_percent(titres, float(practical.file.burette.division), widths)
