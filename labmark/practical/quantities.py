"""What a result may be, one row each: its unit, and how it is worked out from what the titration finds.

A row is all that a new quantity needs. Its last step gives the result; `{before}` stands for the concentration of the
unknown [mol/dm³] (of a solution), or for its amount in the sample [mol] (of a sample), `{name}` for the substance.
"""

from fractions import Fraction
from typing import Literal, NamedTuple

from labmark.dataclass import dataclass
from labmark.formula import Input, Step
from labmark.practical.equation import Species, parse_formula


class Asked(NamedTuple):
    """The unit that a bare number of a student is in."""

    unit: str
    words: str
    """The same for people."""


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
    needs: tuple[str, ...] = ()
    """Keys of the practical that it cannot do without."""
    inputs: tuple[Input, ...] = ()
    """Numbers that its steps take beside those of the practical."""

    @property
    def asked(self) -> Asked:
        """Return the unit that a bare number is in, where the practical asks for no other."""
        return Asked(self.written or self.unit, self.words or self.unit)

    def laid_out(self, before: str, name: str) -> tuple[Step, ...]:
        """Return the steps, with the names of the step before and of the substance put in."""
        return tuple(
            step._replace(
                what=step.what.format(name=name),
                formula=step.formula.format(name=name),
                do=step.do.format(before=before),
            )
            for step in self.steps
        )


PEROXIDE = "H2O2"
BARE = "a bare number"
_WEIGHED = ("sample.mass",)
_MASS = Step("mass", "mass of {name}", "m = n × M", "{before} × molar_mass", "g")
_DENSITY = Step("mass", "mass concentration of {name}", "ρ = c × M", "{before} × molar_mass", "g/dm3")
_SHARE = Step(
    "percent", "per cent by mass of {name}", "mass of it ÷ mass weighed × 100", "mass ÷ sample.mass × 100", "%"
)
_IN_100_CM3 = Step(
    "percent", "mass of {name} in 100 cm³", "per cent (mass by volume) = c × M ÷ 10", "{before} × molar_mass ÷ 10", "%"
)
_MOLAR = Step("M", "molar mass", "M = m ÷ n", "sample.mass ÷ {before}", "g/mol")
_WATER = Step("x", "water of crystallisation", "x = (M − M({name})) ÷ M(H₂O)", "M − molar_mass ÷ water_mass", "")
_OF_ONE = Step("item", "mass of {name} in one", "mass of it ÷ number of items", "mass ÷ sample.items", "g")
_PER_GRAM = Step(
    "value",
    "mass of {name} for the mass weighed",
    "mass of it × 1000 ÷ mass weighed",
    "mass × 1000 ÷ sample.mass",
    "mg/g",
)
_FACTOR = Step("titre.factor", "titre factor", "c(actual) ÷ c(nominal)", "{before} ÷ result.nominal", "")
# 2 H2O2 -> 2 H2O + O2
_GAS = Step("strength", "volume strength", "V(O₂) = c ÷ 2 × molar volume", "{before} ÷ 2 × result.molar_volume", "")

QUANTITIES: dict[str, Quantity] = {
    "amount concentration": Quantity("solution", "mol/dm3"),
    "mass concentration": Quantity("solution", "g/dm3", (_DENSITY,)),
    "percent by mass": Quantity("sample", "%", (_MASS, _SHARE), needs=_WEIGHED),
    "percent mass by volume": Quantity("solution", "%", (_IN_100_CM3,), written="g/100 cm3", words="% (g/100 cm3)"),
    "molar mass": Quantity("sample", "g/mol", (_MOLAR,), needs=_WEIGHED),
    "water of crystallisation": Quantity("sample", "", (_MOLAR, _WATER), words=BARE, needs=_WEIGHED),
    "mass": Quantity("sample", "g", (_MASS,), needs=_WEIGHED),
    "mass per item": Quantity("sample", "g", (_MASS, _OF_ONE), needs=("sample.items",)),
    "value per gram": Quantity("sample", "mg/g", (_MASS, _PER_GRAM), needs=_WEIGHED),
    "titre factor": Quantity("solution", "", (_FACTOR,), words=BARE, needs=("result.nominal",)),
    "volume strength": Quantity("solution", "", (_GAS,), written="vol", words=BARE),
    # Its steps depend on the ions: `labmark.practical.expressed`.
    "solubility product": Quantity("solution", ""),
}
"""Name in the practical -> the quantity."""


def numbered(text: str) -> tuple[Fraction | None, str]:
    """Return a number before a formula, if there is one, and the formula: "1/2 Fe2O3"."""
    first, _, rest = text.strip().partition(" ")
    try:
        return (Fraction(first), rest.strip()) if rest else (None, first)
    except (ValueError, ZeroDivisionError):
        return None, text.strip()


def held_differently(one: Species, other: Species) -> list[str]:
    """Return the elements that two formulas hold in different numbers; water of crystallisation does not count."""
    first, second = (dict(parse_formula(each.formula.split(".")[0]).atoms) for each in (one, other))
    return sorted(element for element in first.keys() & second.keys() if first[element] != second[element])
