"""The reference from a technician's standardisation: primary standard weighed out, titrated with the solution.

    c = 1000 × m × P × r ÷ (M × V)    m [g], purity P, r moles of titrant for one of standard, M [g/mol], titre V [cm³]

Potassium hydrogen phthalate 0.3888 g, titre 18.64 cm³: 0.10214 mol/dm³ with u = 0.00010 mol/dm³ (QUAM:2012, A2).

A primary standard made up in a flask and pipetted counts with the mass that the pipette took; flask and pipette then
have lines of their own. Mean of all determinations; their scatter gives the repeatability.

It becomes the standard uncertainty of the known solution's concentration, or of the reference; a standard uncertainty
that the practical states itself stays.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import inf, sqrt
from typing import Any, NamedTuple

from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, floats
from labmark.analyse.budget import Budget, Component, budget, standard_uncertainty
from labmark.figures import significant
from labmark.practical import Practical, glassware
from labmark.practical.equation import molar_mass_uncertainty
from labmark.practical.glassware import Glass, better
from labmark.practical.standardised import Standardised
from labmark.volumes import average, decimals_in, fraction

ONE_RUN = 0.005
"""Relative repeatability taken for a single determination, where no second shows one (0.5 %: the project's own default,
cautious beside the 0.05 % of QUAM:2012, A2)."""


class PrimaryStandard(NamedTuple):
    """What was weighed, and how well it is known."""

    molar_mass: float
    """[g/mol]"""
    molar_mass_u: float = 0.0
    purity: float = 1.0
    """Mass fraction."""
    purity_half_width: float = 0.0
    """± of the certificate, rectangular."""
    made_up: Glass | None = None
    """Flask that the standard was dissolved in, where it was pipetted from there."""
    aliquot: Glass | None = None
    """Pipette that took the portion."""


def standardise(
    each: ArrayLike, mass: float, titre: float, standard: PrimaryStandard, burette: Glass, weighing_half_width: float
) -> Budget:
    """Return the mean of the concentrations that standardisation runs give [mol/dm³], and its uncertainty.

    Parameters: `each` [mol/dm³], one a determination; `mass` [g] and `titre` [cm³], the means of all;
    `weighing_half_width` [g] of one weighing, rectangular (a mass is the difference of two). The repeatability is that
    of the scatter, or 0.5 % for a single run.
    """
    found = floats(each)
    value = float(found.mean())
    relative, dof = _repeatability(found / value)
    scatter = Component("repeatability", value, relative, "", "normal", dof, "do another determination")
    return budget(value, (*known_lines(value, mass, titre, standard, burette, weighing_half_width), scatter))


def known_lines(
    value: float, mass: float, titre: float, standard: PrimaryStandard, burette: Glass, weighing_half_width: float
) -> tuple[Component, ...]:
    """Return the lines of everything but the repeatability, for a concentration of this value [mol/dm³]."""
    weighing = sqrt(2) * standard_uncertainty(weighing_half_width, "rectangular")
    purity = standard_uncertainty(standard.purity_half_width, "rectangular")
    calibration = standard_uncertainty(burette.tolerance, "triangular")
    finer, larger = "use more figures", "use a burette of a better class, or a larger titre"
    of_mass, of_titre, of_purity = value / mass, -value / titre, value / standard.purity
    of_formula = -value / standard.molar_mass
    lines = [
        Component("weighing", of_mass, weighing, "g", "rectangular", advice="weigh out more"),
        Component("purity", of_purity, purity, "", "rectangular", advice="use a purer primary standard"),
        Component("formula mass", of_formula, standard.molar_mass_u, "g/mol", "rectangular", advice=finer),
        Component("burette calibration", of_titre, calibration, "cm3", "triangular", advice=larger),
    ]
    if standard.made_up is not None and standard.aliquot is not None:
        lines.append(_glass("flask of the standard", standard.made_up, -value))
        lines.append(_glass("pipette of the standard", standard.aliquot, value))
    return tuple(lines)


def _glass(source: str, glass: Glass, value: float) -> Component:
    u, law = standard_uncertainty(glass.tolerance, "triangular"), "triangular"
    return Component(source, value / glass.volume, u, "cm3", law, advice=better(glass.kind))


def _repeatability(relative: FloatArray) -> tuple[float, float]:
    """Return the relative standard uncertainty of the mean that scatter gives, and its degrees of freedom."""
    if relative.size < 2:
        return ONE_RUN, inf
    return float(relative.std(ddof=1)) / sqrt(relative.size), float(relative.size - 1)


def with_standardisation(practical: Practical) -> tuple[Practical, Budget | None]:
    """Return the practical with the uncertainty of its standardised solution, and how that came about."""
    found = practical.standardised
    if found is None:
        return practical, None
    result = _standardise(practical, found)
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


def _standardise(practical: Practical, found: Standardised) -> Budget:
    """Return the concentration of what the technician standardised, with its budget."""
    given = practical.file.standardisation
    assert given is not None
    standard = PrimaryStandard(
        float(found.molar_mass),
        molar_mass_uncertainty(found.atoms),
        float(given.purity),
        float(given.purity_within),
        None if given.made_up_to is None else glassware.flask(given.made_up_to, given.glass_class),
        None if given.aliquot is None else glassware.pipette(given.aliquot, given.glass_class),
    )
    own = practical.file.burette
    burette = glassware.burette(own.capacity, own.division, given.glass_class)
    finest = min(given.masses, key=lambda mass: -decimals_in(mass))
    weighing = given.weighing_within or Decimal(1).scaleb(-decimals_in(finest))
    mass, titre = (float(average(map(Fraction, some))) for some in (given.masses, given.titres))
    return standardise([float(each) for each in found.each], mass, titre, standard, burette, float(weighing))


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
