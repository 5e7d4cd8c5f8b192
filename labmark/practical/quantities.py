"""What a result may be, one row each: its unit, and how it is worked out from what the titration finds.

A row is all that a new quantity needs. Its last step gives the result; `{before}` stands for the concentration of the
unknown [mol/dm³] (of a solution), or for its amount in the sample [mol] (of a sample), `{name}` for the substance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from labmark.formula import Step


@dataclass(frozen=True)
class Quantity:
    """One quantity."""

    of: Literal["solution", "sample"]
    unit: str
    """Of the result, in data form."""
    steps: tuple[Step, ...] = ()
    written: str = ""
    """Unit that a bare number of a student is in, where it is not `unit` ("g/100 cm3" for a percentage)."""
    words: str = ""
    """That unit in words, where they are others."""

    def laid_out(self, before: str, name: str) -> tuple[Step, ...]:
        """Return the steps, with the names of the step before and of the substance put in."""
        return tuple(
            replace(
                step,
                what=step.what.format(name=name),
                formula=step.formula.format(name=name),
                do=step.do.format(before=before),
            )
            for step in self.steps
        )


_MASS = Step("mass", "mass of {name}", "m = n × M", "{before} × molar_mass", "g")
_MOLAR = Step("M", "molar mass", "M = m ÷ n", "sample.mass ÷ {before}", "g/mol")

QUANTITIES: dict[str, Quantity] = {
    "amount concentration": Quantity("solution", "mol/dm3"),
    "mass concentration": Quantity(
        "solution",
        "g/dm3",
        (Step("mass", "mass concentration of {name}", "ρ = c × M", "{before} × molar_mass", "g/dm3"),),
    ),
    "percent by mass": Quantity(
        "sample",
        "%",
        (
            _MASS,
            Step(
                "percent",
                "per cent by mass of {name}",
                "mass of it ÷ mass weighed × 100",
                "mass ÷ sample.mass × 100",
                "%",
            ),
        ),
    ),
    "percent mass by volume": Quantity(
        "solution",
        "%",
        (
            Step(
                "percent",
                "mass of {name} in 100 cm³",
                "per cent (mass by volume) = c × M ÷ 10",
                "{before} × molar_mass ÷ 10",
                "%",
            ),
        ),
        written="g/100 cm3",
        words="% (g per 100 cm3)",
    ),
    "molar mass": Quantity("sample", "g/mol", (_MOLAR,)),
    "water of crystallisation": Quantity(
        "sample",
        "",
        (
            _MOLAR,
            Step(
                "x",
                "water of crystallisation",
                "x = (M − M({name})) ÷ M(H₂O)",
                "M − molar_mass ÷ water_mass",
                "",
            ),
        ),
        words="a bare number",
    ),
    "mass": Quantity("sample", "g", (_MASS,)),
}
"""Name in the practical -> the quantity."""

NEEDS_SAMPLE = tuple(name for name, quantity in QUANTITIES.items() if quantity.of == "sample")
"""Quantities of a weighed sample."""
