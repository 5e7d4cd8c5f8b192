"""Sums for tests from bare figures, without a practical's file: substances are K, U and T where nothing is said."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

from labmark.diagnose.working import result_slips
from labmark.diagnose.working_calculation import WATERS, alternatives, figures_text
from labmark.diagnose.working_calculation import Calculation as Sum
from labmark.diagnose.working_edits import skip
from labmark.diagnose.working_right import own_reading
from labmark.diagnose.working_slips import TOO_FEW, Slip
from labmark.formula import Formula, Input
from labmark.practical.equation import Equation, Species
from labmark.practical.file import PracticalFile
from labmark.practical.kinds import formula_of
from labmark.practical.quantities import QUANTITIES
from labmark.practical.record import Back, Expressed, Practical

F = Fraction


@dataclass(frozen=True)
class Excess:
    """The reagent added in excess in a back titration."""

    concentration: Fraction
    volume: Fraction
    coefficient: int = 1
    coefficient_titrant: int = 1
    titrant: str = "T"
    mixture: Fraction | None = None


@dataclass(frozen=True)
class Figures:
    """What a practical gives. Volumes in cm³, concentrations in mol/dm³, masses in g."""

    quantity: str
    known_concentration: Fraction
    aliquot: Fraction
    known_in: str = "burette"
    coefficient_known: int = 1
    coefficient_unknown: int = 1
    dilution: tuple[Fraction, Fraction] | None = None
    report_original: bool = True
    molar_mass: Fraction | None = None
    accepted_molar_masses: tuple[Fraction, ...] = ()
    other_molar_masses: tuple[tuple[str, Fraction], ...] = ()
    sample_mass: Fraction | None = None
    sample_made_up_to: Fraction | None = None
    """None where all of the sample is titrated."""
    excess: Excess | None = None
    significant_figures: int = 3
    known: str = "K"
    unknown: str = "U"
    unit: str = ""
    known_text: str = ""

    @cached_property
    def sum(self) -> Sum:
        """Return the student's sum."""
        formula = self._formula(self.report_original)
        if self.quantity in ("molar mass", "percent by mass", "water of crystallisation", "mass"):
            formula = self._whole(formula)
        others = (
            Input(f"molar_mass.{place}", "molar mass", mass, "g/mol", words=name)
            for place, (name, mass) in enumerate(self.other_molar_masses)
        )
        return Sum(
            formula,
            self.quantity,
            self.significant_figures,
            self.unit,
            alternatives(formula, {"molar_mass": self.accepted_molar_masses, "water_mass": WATERS}),
            tuple(others),
            {"known": self.known, "unknown": self.unknown, "titrant": self.excess.titrant if self.excess else ""},
            None if self.report_original or self.dilution is None else self._formula(True),
        )

    def _whole(self, formula: Formula) -> Formula:
        """Return the formula without the step from a portion to the whole where all of the sample is titrated."""
        if self.sample_made_up_to is not None or self.excess is not None:
            return formula
        return Formula(formula.inputs, skip(formula.steps, ["n.sample", "c"]) or ())

    def _formula(self, original: bool) -> Formula:
        known, unknown, titrant = (Species(name, 0, (("H", F(1)),)) for name in (self.known, self.unknown, "T"))
        pair = Equation(((F(self.coefficient_known), known), (F(self.coefficient_unknown), unknown)), ())
        excess, back, equation = self.excess, None, pair
        if excess is not None:
            equation = Equation(((F(excess.coefficient_titrant), titrant), (F(excess.coefficient), known)), ())
            back = Back(known, pair, True, excess.mixture is None)
        return formula_of(
            Practical(
                PracticalFile.model_validate(self._table(original)),
                equation,
                known if excess is None else titrant,
                unknown,
                self.known_in,
                self.known_concentration,
                Expressed(
                    unknown.name,
                    unknown.formula,
                    unknown.atoms,
                    F(1),
                    self.molar_mass or F(1),
                    replace(QUANTITIES[self.quantity], unit=self.unit),
                ),
                None,
                back,
            )
        )

    def _table(self, original: bool) -> dict[str, object]:
        text = self.known_text or figures_text(self.known_concentration, max(3, self.significant_figures))
        known_side, unknown_side = {"solution": "K", "concentration": Decimal(text)}, {"solution": "U"}
        if self.dilution is not None:
            unknown_side["dilution"] = dict(zip(("taken", "made_up_to"), map(decimal, self.dilution), strict=True))
        sides = (known_side, unknown_side) if self.known_in == "burette" else (unknown_side, known_side)
        table = {
            "title": "", "equation": "", "burette": sides[0], "flask": {**sides[1], "aliquot": decimal(self.aliquot)},
            "result": {
                "of": "U", "quantity": self.quantity, "significant_figures": self.significant_figures,
                "report_original": original,
            },
        }  # fmt: skip
        if self.sample_mass is not None:
            made = self.sample_made_up_to or (None if self.excess else F(1000))
            table["sample"] = {"mass": decimal(self.sample_mass), "made_up_to": decimal(made)}
        if self.excess is not None:
            one = self.excess
            table["excess"] = {
                "solution": "K", "equation": "", "concentration": decimal(one.concentration),
                "volume": decimal(one.volume), "made_up_to": decimal(one.mixture),
            }  # fmt: skip
        return table


def decimal(value: Fraction | None) -> Decimal | None:
    """Return a fraction that ends as a decimal."""
    return None if value is None else Decimal(value.numerator) / Decimal(value.denominator)


def Calculation(*figures: object, **more: object) -> Sum:
    """Return the sum of these `Figures`."""
    return Figures(*figures, **more).sum


def slips_behind(calc, *, mean, claimed, decimals, other_means=(), **more):
    """Return the slips behind a written result, as the judge has them: of a right one it asks for figures alone."""
    read = [found for one in (mean, *other_means) if (found := own_reading(calc, one, claimed, decimals)) is not None]
    if read:
        right = next((found for found in read if not found.short), read[0])
        return [Slip("rounding", TOO_FEW, "figures", f"{claimed} has too few figures.")] if right.short else []
    return result_slips(calc, mean=mean, claimed=claimed, decimals=decimals, other_means=other_means, **more)
