"""The reference from a technician's standardisation: primary standard weighed out, titrated with the solution.

    c = 1000 × m × P × r ÷ (M × V)    m [g], purity P, r moles of titrant for one of standard, M [g/mol], titre V [cm³]

Potassium hydrogen phthalate 0.3888 g, titre 18.64 cm³: 0.10214 mol/dm³ with u = 0.00010 mol/dm³ (QUAM:2012, A2).

A primary standard made up in a flask and pipetted counts with the mass that the pipette took; flask and pipette then
have lines of their own. Mean of all determinations; their scatter gives the repeatability.

It becomes the standard uncertainty of the known solution's concentration, or of the reference; a standard uncertainty
that the practical states itself stays.
"""

from decimal import Decimal
from math import inf, sqrt
from statistics import fmean, stdev
from typing import Any

from labmark.analyse.budget import Budget, Component, budget, standard_uncertainty
from labmark.dataclass import replace
from labmark.exact import decimals_in, fraction, significant
from labmark.practical import Practical, glassware
from labmark.practical.equation import molar_mass_uncertainty
from labmark.practical.glassware import Glass, better
from labmark.practical.model import Standardisation
from labmark.practical.standardised import Standardised

ONE_RUN = 0.005
"""Relative repeatability taken for a single determination, where no second shows one (0.5 %: the project's own default,
cautious beside the 0.05 % of QUAM:2012, A2)."""


def known_lines(given: Standardisation, found: Standardised, burette: Glass) -> tuple[Component, ...]:
    """Return the lines of everything but the repeatability. A mass is the difference of two weighings."""
    within = given.weighing_within or Decimal(1).scaleb(-max(map(decimals_in, given.masses)))
    weighing = sqrt(2) * standard_uncertainty(float(within), "rectangular")
    purity = standard_uncertainty(float(given.purity_within), "rectangular")
    formula_mass = molar_mass_uncertainty(found.atoms)
    calibration = standard_uncertainty(burette.tolerance, "triangular")
    value, (mass, titre) = float(found.value), (fmean(map(float, each)) for each in (given.masses, given.titres))
    finer, larger = "use more figures", "use a burette of a better class, or a larger titre"
    of_mass, of_titre, of_purity = value / mass, -value / titre, value / float(given.purity)
    of_formula = -value / float(found.molar_mass)
    lines = [
        Component("weighing", of_mass, weighing, "g", "rectangular", advice="weigh out more"),
        Component("purity", of_purity, purity, "", "rectangular", advice="use a purer primary standard"),
        Component("formula mass", of_formula, formula_mass, "g/mol", "rectangular", advice=finer),
        Component("burette calibration", of_titre, calibration, "cm3", "triangular", advice=larger),
    ]
    if given.made_up_to is not None and given.aliquot is not None:
        lines.append(_glass("flask of the standard", glassware.flask(given.made_up_to, given.glass_class), -value))
        lines.append(_glass("pipette of the standard", glassware.pipette(given.aliquot, given.glass_class), value))
    return tuple(lines)


def _glass(source: str, glass: Glass, value: float) -> Component:
    u, law = standard_uncertainty(glass.tolerance, "triangular"), "triangular"
    return Component(source, value / glass.volume, u, "cm3", law, advice=better(glass.kind))


def _repeatability(found: Standardised) -> Component:
    """Return the line of the repeatability: that of the scatter, or 0.5 % for a single run."""
    relative = [float(each / found.value) for each in found.each]
    u, dof = ONE_RUN, inf
    if len(relative) > 1:
        u, dof = stdev(relative) / sqrt(len(relative)), float(len(relative) - 1)
    return Component("repeatability", float(found.value), u, "", "normal", dof, "do another determination")


def with_standardisation(practical: Practical) -> tuple[Practical, Budget | None]:
    """Return the practical with the uncertainty of its standardised solution, and how that came about."""
    found, given, own = practical.standardised, practical.file.standardisation, practical.file.burette
    if found is None or given is None:
        return practical, None
    burette = glassware.burette(own.capacity, own.division, given.glass_class)
    result = budget(float(found.value), (*known_lines(given, found, burette), _repeatability(found)))
    u = significant(fraction(result.standard_uncertainty), 2)
    part = practical.known_in if found.known else "reference"
    table = getattr(practical.file, part)
    if table.standard_uncertainty is None:
        table = table.model_copy(update={"standard_uncertainty": u})
    return replace(practical, file=practical.file.model_copy(update={part: table})), result


def standard_dof(practical: Practical, standardisation: Budget | None) -> float:
    """Return the degrees of freedom of the standard's concentration: those of its own standardisation, if any."""
    of_known = practical.standardised is not None and practical.standardised.known
    return standardisation.dof if standardisation is not None and of_known else inf


def standardisation_tree(practical: Practical, result: Budget | None) -> dict[str, Any] | None:
    """Return the standardisation as plain data, with a sentence on what it gave."""
    found, given = practical.standardised, practical.file.standardisation
    if found is None or given is None or result is None:
        return None
    return {
        "what": f"{found.solution.name} standardised against {given.standard} by the technician",
        "unit": "mol/dm3",
        "n": len(found.each),
        "each": [float(each) for each in found.each],
        **result.figures,
        "told": None if found.told is None else float(found.told),
        "budget": list(result.rows),
        "advice": result.sentence,
        "sentence": _sentence(practical, found, result),
    }


def _sentence(practical: Practical, found: Standardised, result: Budget) -> str:
    """Return what a standardisation found, beside what the class was told."""
    value, u = (
        f"{significant(fraction(each), n):f}" for each, n in ((result.value, 5), (result.standard_uncertainty, 2))
    )
    runs = f"{len(found.each)} runs" if len(found.each) > 1 else "a single run"
    given = f"{found.solution.name}: {value} mol/dm³ from {runs} of the technician, standard uncertainty {u}."
    if not found.known:
        return f"{given} It is the reference."
    side = practical.file.burette if practical.known_in == "burette" else practical.file.flask
    if found.told is None:
        return f"{given} The class was told {side.concentration}."
    away = abs(float(found.told) - result.value)
    fits = (
        "which agrees with that"
        if away <= result.expanded
        else "which the uncertainty does not explain: check the label"
    )
    return f"{given} The practical says {found.told}, {fits}."
