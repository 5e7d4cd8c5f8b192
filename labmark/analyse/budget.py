"""The uncertainty budget: what each input does to a result, combined as the GUM says.

Each input does its slope times its uncertainty to the result, and these add in quadrature:

    u(y)² = Σ (∂y/∂x_i × u(x_i))²

In a plain product of powers, c = c_s × V_t ÷ V_p × ..., the slope is e_i × y/x_i, e_i the power that the input stands
in. Everything takes one result or a whole class at once: any figure of a component may be a number or an array.

    >>> titre, pipette = 0.1000 / 25.0, -0.1000 / 25.0
    >>> rows = [Component("titre", titre, 0.05, "cm3"), Component("pipette", pipette, 0.0245, "cm3")]
    >>> round(budget(0.1000, rows).standard_uncertainty, 6)
    0.000223

Source: JCGM 100:2008 (GUM), 4.3 (half-widths), 5.1.6 (products), G.4 (degrees of freedom), G.6.4 (expanded).
"""

from collections.abc import Iterator, Mapping, Sequence
from math import inf, sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import FloatArray, finite
from labmark.exact import fraction, in_figures
from labmark.laws import t_quantile

DIVISORS = {"rectangular": sqrt(3), "triangular": sqrt(6), "arcsine": sqrt(2), "normal": 1.0}
"""Half-width -> standard uncertainty (GUM 4.3.7, 4.3.9, H.1.3.4); a "normal" half-width is already one."""

LEVEL = 0.95
"""Level of confidence of the expanded uncertainty."""


class Component(NamedTuple):
    """One source of uncertainty: what an input does to the result, and its standard uncertainty."""

    source: str
    """What it is, in a teacher's words: "burette calibration"."""
    slope: float | FloatArray
    """∂result/∂input."""
    standard_uncertainty: float | FloatArray
    """In `unit`."""
    unit: str = ""
    distribution: str = "normal"
    """Law that the standard uncertainty comes from (a key of `DIVISORS`); for the reader."""
    dof: float | FloatArray = inf
    """Degrees of freedom; infinite for a limit from a certificate or a standard."""
    advice: str = ""
    """What would make it smaller, as an order to oneself: "use a class A pipette"."""

    def contribution(self, results: FloatArray) -> FloatArray:
        """Return |slope| × u for results (n,), in their unit."""
        u = np.asarray(self.standard_uncertainty, dtype=np.float64)
        return np.broadcast_to(np.abs(self.slope * u), results.shape)


class Budget(NamedTuple):
    """A result with its combined and expanded uncertainty, and the lines behind them, largest first."""

    value: float
    standard_uncertainty: float
    dof: float
    """Effective degrees of freedom; infinite where every source's are."""
    coverage_factor: float
    expanded: float
    rows: tuple[Mapping[str, Any], ...]
    """Each "source" with its standard uncertainty ("value"), "unit", "distribution", what it does to the result in
    "percent" of it, and its "share" of the combined variance (0 to 1)."""
    sentence: str
    """What to improve first, and what that would bring."""
    notes: tuple[str, ...]
    """What the reader should know of how it was put together."""

    @property
    def figures(self) -> dict[str, float | None]:
        """Return the result and its uncertainty as plain data; degrees of freedom without end are None."""
        return {
            "value": self.value,
            "standard_uncertainty": self.standard_uncertainty,
            "expanded_uncertainty": self.expanded,
            "coverage_factor": self.coverage_factor,
            "degrees_of_freedom": finite(self.dof),
        }


class BudgetTable(NamedTuple):
    """The budgets of n results, with k sources each; arrays have shape n, or k × n."""

    value: FloatArray
    standard_uncertainty: FloatArray
    dof: FloatArray
    coverage_factor: FloatArray
    expanded: FloatArray
    contribution: FloatArray
    """What each source does to the result, in its unit (k × n)."""
    components: tuple[Component, ...]
    notes: tuple[str, ...] = ()

    def of(self, place: int) -> Budget:
        """Return the budget of one result."""
        return self.budgets()[place]

    def budgets(self) -> list[Budget]:
        """Return the budget of every result."""
        columns = (self.value, self.standard_uncertainty, self.dof, self.coverage_factor, self.expanded)
        figures: Iterator[tuple[float, float, float, float, float]] = zip(*(e.tolist() for e in columns), strict=True)
        return [Budget(*own, rows, say, self.notes) for own, (rows, say) in zip(figures, self._lines(), strict=True)]

    def _lines(self) -> list[tuple[tuple[dict[str, Any], ...], str]]:
        """Return (rows, what to improve) of every budget, as `Budget` holds them."""
        with np.errstate(invalid="ignore", divide="ignore"):
            percents = (100 * self.contribution / np.abs(self.value)).T
            totals = np.sqrt(np.sum(percents**2, axis=1))
            shares = np.where(totals[:, None] > 0, (percents / totals[:, None]) ** 2, 0.0)
        # What is alike to ten decimals stands in the order of the formula, whatever the last bits say.
        order = np.argsort(-percents.round(10), axis=1, kind="stable")
        alike = [{"source": c.source, "unit": c.unit, "distribution": c.distribution} for c in self.components]
        own = [np.broadcast_to(c.standard_uncertainty, totals.shape).astype(float).tolist() for c in self.components]
        made = []
        for place, (lines, total) in enumerate(zip(order.tolist(), totals.tolist(), strict=True)):
            percent, share = percents[place].tolist(), shares[place].tolist()
            rows = tuple(
                alike[line] | {"value": own[line][place], "percent": percent[line], "share": share[line]}
                for line in lines
            )
            first = self.components[lines[0]]
            advice = improvement_of(first.source, first.advice, percent[lines[0]], total) if total > 0 else ""
            made.append((rows, advice))
        return made


def standard_uncertainty(half_width: float, distribution: str) -> float:
    """Return the standard uncertainty of a quantity known to within ± `half_width`, by the law named.

    Rectangular: every value within is as likely (a reading, a certificate's "±" without more). Triangular: values
    near the middle are likelier than at the ends. Raises ValueError on another law.
    """
    if distribution not in DIVISORS:
        raise ValueError(f"no distribution {distribution!r}: known are {', '.join(DIVISORS)}")
    return half_width / DIVISORS[distribution]


def welch_satterthwaite(contributions: ArrayLike, dof: ArrayLike) -> FloatArray:
    """Return the effective degrees of freedom, u_c⁴ / Σ(u_i⁴/ν_i); infinite where no ν_i is finite.

    `contributions` and `dof` have the sources along the first axis. Source: GUM G.4.1, formula (G.2b). The result isn't
    cut to a whole number: t is taken in between (G.4.1, note 1).
    """
    u = np.asarray(contributions, dtype=np.float64)
    nu = np.broadcast_to(np.asarray(dof, dtype=np.float64), u.shape)
    square = np.sum(u**2, axis=0)
    below = np.sum(u**4 / nu, axis=0)
    return np.asarray(np.where(below > 0, square**2 / np.where(below > 0, below, 1.0), np.inf), dtype=np.float64)


def budget(value: float, components: Sequence[Component]) -> Budget:
    """Return the budget of one result; see `budget_table`."""
    return budget_table(np.array([value]), components).of(0)


def budget_table(value: ArrayLike, components: Sequence[Component], notes: Sequence[str] = ()) -> BudgetTable:
    """Return the budgets of n results at once.

    Parameters: `value` has shape n; each figure of a component is a number, or has shape n. A source with several
    lines (a titre with its calibration and its repeatability) gives each its own component.
    Several lines are taken as independent. A result without a value (NaN) gets NaN throughout.
    """
    result = np.atleast_1d(np.asarray(value, dtype=np.float64))
    contribution = np.stack([component.contribution(result) for component in components])
    dof = np.stack([np.broadcast_to(np.asarray(c.dof, dtype=np.float64), result.shape) for c in components])
    combined = np.where(np.isfinite(result), np.sqrt(np.sum(contribution**2, axis=0)), np.nan)
    effective = welch_satterthwaite(contribution, dof)
    factor = t_quantile(0.5 + LEVEL / 2, effective)
    return BudgetTable(
        result, combined, effective, factor, factor * combined, contribution, tuple(components), tuple(notes)
    )


def improvement_of(source: str, advice: str, percent: float, total: float) -> str:
    """Return a sentence: the largest source, what would lessen it, and what halving it would bring.

    `percent` is what the source does to the result, `total` (above 0) what all do together [both in % of the result].
    """
    halved = sqrt(total**2 - 0.75 * percent**2)
    now, then = (in_figures(fraction(each), 2) for each in (total, halved))
    what = f"Largest part: {source} ({100 * (percent / total) ** 2:.0f} % of the variance)."
    falls = f"With half of it, the standard uncertainty would fall from {now} % to {then} %."
    return f"{what} To reduce it, {advice}. {falls}" if advice else f"{what} {falls}"
