"""The uncertainty budget of every result, from the practical, its glassware and the class's repeatability."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from labmark.analyse.arrays import FloatArray
from labmark.analyse.budget import BudgetTable, Component, budget_table
from labmark.analyse.uncertainty import Repeatability, Titres, scatter, titration_budget, titre_components
from labmark.assessed import Uncertain
from labmark.dataclass import dataclass, field, replace
from labmark.formula import Formula
from labmark.judge.worked import Worked
from labmark.practical import Practical
from labmark.practical.glassware import Glass, better, burette
from labmark.practical.inputs import SHARED, TITRE
from labmark.practical.several import Series


@dataclass(frozen=True)
class Behind:
    """What the budgets of a class rest on beside its titres."""

    practical: Practical
    formula: Formula
    repeatability: Repeatability | None
    """Of a single titre, pooled over the class [cm³]."""
    others: Mapping[str, tuple[Repeatability | None, FloatArray]] = field(default_factory=dict)
    """Name of another titre that the result rests on -> its repeatability, and (n,) of how many runs its means are."""

    @property
    def burette(self) -> Glass:
        """The burette, with its tolerance."""
        given = self.practical.file.burette
        return burette(given.capacity, given.division, given.glass_class, given.tolerance)


def budgets(behind: Behind, given: Mapping[str, FloatArray], runs: FloatArray) -> BudgetTable:
    """Return the budgets of a class.

    `given` holds its mean titres (n,) [cm³], NaN where missing, and the numbers that students own (`Worked.given`);
    `runs` (n,) says how many runs each mean is of.
    """
    formula = behind.formula
    with np.errstate(invalid="ignore", divide="ignore"):
        slopes = formula.slopes(given)
    titre = _titres(behind, slopes[TITRE], runs)
    others = [*_beside(behind, given, runs, slopes)]
    if others:
        titre = titre._replace(**_shared_readings(behind.practical.series, slopes))
    return titration_budget(formula.results(given), titre, [*others, *_of_inputs(formula, slopes)])


def _of_inputs(formula: Formula, slopes: Mapping[str, FloatArray]) -> Iterator[Component]:
    """Yield the lines of what is not read from a burette: pipette, standard, masses."""
    for each in formula.inputs:
        if each.standard_uncertainty:
            u, slope, advice = each.standard_uncertainty, slopes[each.name], _ADVICE[each.kind]
            yield Component(each.words, slope, u, each.unit, each.law, each.dof, advice)


_ADVICE = {
    "pipette": better("pipette"),
    "flask": better("flask"),
    "concentration": "standardise the solution again, with more runs and a larger mass of primary standard",
    "mass": "weigh out more",
    "factor": "use a purer standard, or one with a certificate",
    "molar mass": "use more figures",
}
"""Kind of input -> what would make its uncertainty smaller, as an order to oneself."""


def uncertainties(worked: Worked, behind: Behind) -> list[Uncertain | None]:
    """Return every student's uncertainty, None where there is no result. Worked out as arrays, then handed out."""
    given = worked.given(worked.titres)
    table = budgets(behind, given, worked.counts.astype(float))
    school, alone = school_percents(behind, given), (each.tolist() for each in without_shared(table))
    made = zip(table.budgets(), school.tolist(), zip(*alone, strict=True), strict=True)
    return [Uncertain(*one) if one[0].standard_uncertainty == one[0].standard_uncertainty else None for one in made]


def without_shared(table: BudgetTable) -> tuple[FloatArray, FloatArray]:
    """Return standard and expanded uncertainty (n,) without the concentrations given, which a class shares."""
    alone = budget_table(table.value, [each for each in table.components if each.source not in SHARED])
    return alone.standard_uncertainty, alone.expanded


def _titres(behind: Behind, slope: FloatArray, runs: FloatArray, name: str = "") -> Titres:
    allowed = behind.practical.file.uncertainty
    return Titres(
        slope,
        np.maximum(runs, 1),
        behind.burette,
        behind.repeatability,
        float(allowed.drop),
        distribution=allowed.glassware,
        name=name,
    )


def _beside(
    behind: Behind, given: Mapping[str, FloatArray], runs: FloatArray, slopes: Mapping[str, Any]
) -> Iterator[Component]:
    """Yield the lines of the other titres that a result rests on.

    Endpoints of one run scatter together, and that stands in the repeatability of the result's own titre.
    """
    series = behind.practical.series
    for place in series.others(behind.practical.unknown):
        name = series.titre(place)
        repeatability, of = behind.others.get(name, (None, runs))
        if of.shape != given[TITRE].shape:  # one titre that stands for the class
            of = np.asarray(np.median(of))
        own = replace(behind, repeatability=repeatability)
        titre = _titres(own, slopes[name], of, series.names[place])
        if series.endpoints:
            yield from titre_components(titre._replace(endpoint_slope=_at_readings(series, slopes)[place + 1]))
        else:
            yield from (*titre_components(titre), *scatter(titre))


def _at_readings(series: Series, slopes: Mapping[str, Any]) -> list[FloatArray]:
    """Return ∂result/∂reading, the initial one and that at every endpoint: it ends one titre and begins the next."""
    each = (slopes.get(series.titre(place), 0.0) for place in range(len(series.names)))
    return [np.asarray(one - other, dtype=np.float64) for one, other in pairwise((0.0, *each, 0.0))]


def _shared_readings(series: Series, slopes: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is said of the titre where its readings belong to others as well."""
    if not series.endpoints:
        return {"name": series.name}
    readings = _at_readings(series, slopes)
    whole = np.sqrt(sum((one**2 for one in readings), np.zeros(())))
    return {"name": series.name, "endpoint_slope": readings[series.place + 1], "reading_slope": whole}


def school_percents(behind: Behind, given: Mapping[str, FloatArray]) -> FloatArray:
    """Return the school way, percentages added up, for the titres of `budgets` (n,); NaN where there is no result.

    In the worst case the burette is out by its tolerance, both readings by half a division, and every other input by
    its limit, all of one way, so that they add up, across a subtraction too. Common practice, no source.
    """
    formula, division = behind.formula, float(behind.practical.file.burette.division)
    with np.errstate(invalid="ignore", divide="ignore"):
        slopes = formula.slopes(given)
        titres = [name for name in slopes if name == TITRE or name.startswith(f"{TITRE}.")]
        parts = [(slopes[name], division + behind.burette.tolerance) for name in titres]
        parts += [(slopes[each.name], each.limit) for each in formula.inputs if each.limit]
        worst = sum(np.abs(slope) * limit for slope, limit in parts)
        return np.asarray(100 * worst / np.abs(formula.results(given)), dtype=np.float64)
