"""The technician's standardisation: its uncertainty, and where that goes.

It becomes the standard uncertainty of the known solution's concentration, or of the reference; a standard uncertainty
that the practical states itself stays.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import inf, isfinite
from typing import Any

from labmark.analyse.budget import Budget
from labmark.analyse.standardisation import PrimaryStandard, Standardisation, standardise
from labmark.figures import significant
from labmark.practical import Practical, glassware
from labmark.practical.equation import molar_mass_uncertainty
from labmark.practical.standardised import Standardised
from labmark.volumes import fraction


def with_standardisation(practical: Practical) -> tuple[Practical, Standardisation | None]:
    """Return the practical with the uncertainty of its standardised solution, and how that came about."""
    found = practical.standardised
    if found is None:
        return practical, None
    result = _standardise(practical, found)
    u = significant(fraction(repr(result.standard_uncertainty)), 2)
    part = practical.known_in if found.known else "reference"
    table = getattr(practical.file, part)
    if table.standard_uncertainty is None:
        table = table.model_copy(update={"standard_uncertainty": u})
    return replace(practical, file=practical.file.model_copy(update={part: table})), result


def standard_dof(practical: Practical, standardisation: Standardisation | None) -> float:
    """Return the degrees of freedom of the standard's concentration: those of its own standardisation, if any."""
    of_known = practical.standardised is not None and practical.standardised.known
    return standardisation.dof if standardisation is not None and of_known else inf


def _standardise(practical: Practical, found: Standardised) -> Standardisation:
    given = practical.file.standardisation
    assert given is not None
    standard = PrimaryStandard(
        float(found.molar_mass),
        molar_mass_uncertainty(found.atoms),
        float(given.purity),
        float(given.purity_within),
        float(found.ratio),
        None if given.made_up_to is None else glassware.flask(given.made_up_to, given.glass_class),
        None if given.aliquot is None else glassware.pipette(given.aliquot, given.glass_class),
    )
    own = practical.file.burette
    burette = glassware.burette(own.capacity, own.division, given.glass_class)
    finest = min(given.masses, key=lambda mass: mass.as_tuple().exponent)
    weighing = given.weighing_within or Decimal(1).scaleb(int(finest.as_tuple().exponent))
    return standardise(
        [float(mass) for mass in given.masses],
        [float(titre) for titre in given.titres],
        standard,
        burette,
        weighing_half_width=float(weighing),
    )


def standardisation_tree(practical: Practical, result: Standardisation | None) -> dict[str, Any] | None:
    """Return the standardisation as plain data, with a sentence on what it gave."""
    found, given = practical.standardised, practical.file.standardisation
    if found is None or given is None or result is None:
        return None
    return {
        "what": f"{found.solution.name} standardised against {given.standard} by the technician",
        "unit": "mol/dm3",
        "n": result.n,
        "each": list(result.each),
        "value": result.value,
        "standard_uncertainty": result.standard_uncertainty,
        "expanded_uncertainty": result.budget.expanded,
        "coverage_factor": result.budget.coverage_factor,
        "degrees_of_freedom": result.dof if isfinite(result.dof) else None,
        "told": None if found.told is None else float(found.told),
        "budget": budget_rows(result.budget),
        "advice": result.budget.sentence,
        "sentence": _sentence(practical, found, result),
    }


def _sentence(practical: Practical, found: Standardised, result: Standardisation) -> str:
    value, u = (
        f"{significant(fraction(repr(each)), n):f}" for each, n in ((result.value, 5), (result.standard_uncertainty, 2))
    )
    runs = f"{result.n} runs" if result.n > 1 else "a single run"
    given = f"{found.solution.name}: {value} mol/dm³ from {runs} of the technician, standard uncertainty {u}."
    if not found.known:
        return f"{given} It is the reference."
    side = practical.file.burette if practical.known_in == "burette" else practical.file.flask
    if found.told is None:
        return f"{given} The class was told {side.concentration}."
    away = abs(float(found.told) - result.value)
    fits = (
        "which agrees with that"
        if away <= result.budget.expanded
        else "which the uncertainty does not explain: check the label"
    )
    return f"{given} The practical says {found.told}, {fits}."


def budget_rows(budget: Budget) -> list[dict[str, Any]]:
    """Return the lines of a budget as plain data, largest first."""
    return [
        {
            "source": row.source,
            "value": row.standard_uncertainty,
            "unit": row.unit,
            "distribution": row.distribution,
            "percent": row.percent,
            "share": row.share,
        }
        for row in budget.rows
    ]
