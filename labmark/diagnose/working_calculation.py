"""A practical's sum as students do it, the ways of doing it, and how its figures are printed.

A `Calculation` holds the formula, with the molar masses that may be taken instead; a `Way` says how the sum is done
(`RIGHT`, or with a slip or two); an `Op` is one operation and a `Step` the operations that lead to a value a student
might write down.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import product
from typing import Any, NamedTuple

from labmark.dataclass import dataclass, field, replace
from labmark.diagnose.hypotheses import PIPETTES
from labmark.exact import in_decimals, in_digits, in_figures, magnitude, round_fraction, significant
from labmark.formula import Formula, Input
from labmark.practical import Practical
from labmark.practical.equation import molar_mass, parse_formula, shown_formula
from labmark.practical.inputs import unknown_dilution
from labmark.practical.kinds import formula_of
from labmark.practical.own import ALIQUOT
from labmark.practical.quantities import QUANTITIES
from labmark.units import shown_unit

WATERS = (Fraction(18), Fraction("18.02"))
"""Molar masses of water as good as 18.015 [g/mol]."""
CONFUSED = (Fraction(2, 5), Fraction(4, 5), Fraction(5, 4), Fraction(5, 2))
"""How many times its size the pipettes have that are taken for one (common practice, no source), but for half and twice
as much: a result that is out by 2 is sooner put down to any 2 in the sum."""
HALVES = {"Cl": Fraction(71, 2), "Cu": Fraction(127, 2)}
"""Atomic masses that keep their half among whole numbers (common practice, no source)."""
SHOWS = Fraction(1, 100_000)
"""A share of a molar mass that a result to five figures may show."""


@dataclass(frozen=True, eq=False)
class Calculation:
    """A practical's sum. Two are the same where they are one object: the tables of each are kept."""

    formula: Formula
    quantity: str
    """one of the contract's quantities, e.g. "amount concentration" """
    significant_figures: int = 3
    unit: str = ""
    """of the result, as printed"""
    fair: tuple[tuple[Input, ...], ...] = ()
    """inputs that are as good as the formula's: molar masses from relative atomic masses to one decimal, ..."""
    others: tuple[Input, ...] = ()
    """molar masses that a student may take by mistake; `words` says whose"""
    names: Mapping[str, str] = field(default_factory=dict)
    """"known", "unknown" and "titrant", for the words"""
    undiluted: Formula | None = None
    """the formula of the undiluted sample, where the diluted one is asked for"""
    related: Mapping[str, "Calculation"] = field(default_factory=dict)
    """unit of another quantity of the substance -> the sum that gives that one"""
    most: Fraction = Fraction(100)
    """most per cent of a sample that the result can be"""
    rough: tuple[Input, ...] = ()
    """the other titres that the result rests on, as the student's roughs were"""

    def value(self, name: str) -> Fraction | None:
        """Return the value of an input; None where the formula has none of that name."""
        found = self.formula.of.get(name)
        return None if found is None else found.value

    @property
    def counts_waters(self) -> bool:
        """Return whether the water of crystallisation is asked for: a whole number in nature."""
        return self.quantity == "water of crystallisation"

    @property
    def blank_titre(self) -> Fraction | None:
        """Return the titre [cm³] that leaves nothing for the sample; None in a direct titration."""
        return self.formula.curve.high


@lru_cache(maxsize=256)
def fair_calculations(calc: Calculation) -> tuple[Calculation, ...]:
    """Return the calculation with the exact molar masses, then with each that is as good."""
    return (calc, *(replace(calc, formula=calc.formula.given(inputs), fair=()) for inputs in calc.fair))


@dataclass(frozen=True, eq=False)
class Change:
    """One slip: what is done differently from the right way. A row of `slips.toml`."""

    place: str
    do: Mapping[str, Any]
    """the edit, see `working_edits`"""
    finding: str
    cause: str
    """a few words, the same for every practical: "mole ratio left out" """
    phrase: str
    """how a sentence about it begins: "Leaving out the {ratio} ratio" """
    rate: float
    apart: str = ""
    """a further place that it does not go with"""
    unless: tuple[str, ...] = ()
    """steps that must not be there"""
    unit: bool = True
    """the sum leads to what was asked for, in its unit"""
    tell: str = ""
    """what to do next time; empty where the advice on the finding says it"""


Way = tuple[Change, ...]
RIGHT: Way = ()


IN_BRACKETS = {"from", "less", "plus"}
"""Signs of operations that are printed in brackets: sums and differences."""


class Op(NamedTuple):
    """One operation on the running value: × k, ÷ k, "from" (k − value), "into" (k ÷ value), "less" (value − k), "plus".

    "ions" multiplies multiples of the value with one another, which gives k times a power of it.
    """

    sign: str
    text: str
    """the figure as printed"""
    value: Fraction | None
    """None stands for the titre"""
    multiples: tuple[Fraction, ...] = ()
    """of the value, in "ions": (1, 2, 2) for s × 2 s × 2 s, that is 4 s³"""


class Step(NamedTuple):
    """Operations that lead to a value a student might write down."""

    name: str
    """what the value is: "amount of H₂SO₄ in the mean titre" """
    ops: tuple[Op, ...]
    key: str = ""
    """name of the formula's step that it is"""
    unit: str = ""
    """as printed"""
    scale: Fraction = Fraction(1)
    """the value in that unit, over the running value: 1/1000 where volumes in cm³ go on without 1000"""


Steps = tuple[Step, ...]
SMALLEST = -4
"""Magnitude below which a value is printed with a power of ten."""


def volume_text(value: Fraction) -> str:
    """Return a volume [cm³] as printed: 25.00, 24.35, 24.333."""
    return in_decimals(value, 2, 3)


def figures_text(value: Fraction, figures: int) -> str:
    """Return a figure with at least `figures` significant figures: 0.0500."""
    return in_decimals(value, max(0, figures - 1 - magnitude(value)), 8)


def decimal_text(value: Fraction, decimals: int) -> str:
    """Return a value rounded half up to `decimals` places, as printed; very small ones with a power of ten."""
    rounded = round_fraction(value, decimals)
    if rounded and rounded.adjusted() < SMALLEST:
        return in_figures(Fraction(rounded), decimals + 1 + rounded.adjusted())
    return in_digits(rounded if decimals >= 0 else Decimal(int(rounded)))


def calculation(practical: Practical) -> Calculation:
    """Return the sum that a practical asks for."""
    given, right = practical.file.result, formula_of(practical)
    whose = {"molar_mass": practical.expressed.formula, "known_mass": practical.known.formula}
    masses = {name: formula for name, formula in whose.items() if parse_formula(formula).has_known_mass}
    undiluted = None
    if unknown_dilution(practical) is not None and not given.report_original:
        undiluted = formula_of(_asked(practical, report_original=True))
    asked = Calculation(
        right,
        given.quantity,
        given.significant_figures,
        shown_unit(practical.unit),
        fair=fair_masses(right, masses),
        others=tuple(_other_masses(practical)),
        names=_named(practical),
        undiluted=undiluted,
        most=practical.expressed.most,
    )
    related = {
        unit: replace(asked, formula=one, fair=_fair_in(unit, one, masses), unit=shown_unit(unit))
        for unit, one in _related(practical, right)
    }
    return replace(asked, related=related)


def _named(practical: Practical) -> dict[str, str]:
    """Return what the words call the substances, and other titres that the result rests on."""
    reagent = practical.known if practical.back is None else practical.back.reagent
    if practical.equation.links:
        reagent = practical.path[-2][1]
    names = {"known": reagent.shown, "unknown": practical.unknown.shown, "titrant": practical.known.shown}
    return names | ({"others": "other titres"} if practical.series.others(practical.unknown) else {})


def _fair_in(unit: str, formula: Formula, masses: Mapping[str, str]) -> tuple[tuple[Input, ...], ...]:
    """Return the molar masses that are as good as those of a formula that gives the result in another unit."""
    if unit in _HARDNESS:
        return alternatives(formula, {"molar_mass": _of_hardness(unit)})
    return () if unit.startswith("mol") else fair_masses(formula, masses)


def with_own(calc: Calculation, inputs: Iterable[Input]) -> Calculation:
    """Return a sum with the student's own numbers in it; the very same where there are none."""
    own = tuple([each for each in inputs if each.value is not None])
    return _given(calc, own) if own else calc


@lru_cache(maxsize=1 << 10)
def _given(calc: Calculation, own: tuple[Input, ...]) -> Calculation:
    """Return a sum with other numbers in it, the same one for the same numbers, as the tables of each are kept."""
    undiluted = None if calc.undiluted is None else calc.undiluted.given(own)
    related = {unit: with_own(one, own) for unit, one in calc.related.items()}
    return replace(calc, formula=calc.formula.given(own), undiluted=undiluted, related=related)


def in_unit(calc: Calculation, unit: str) -> Calculation:
    """Return the sum that gives the result in a unit of another quantity of the substance; "": as it was asked for."""
    return calc.related.get(unit, calc)


_HARDNESS: dict[str, tuple[str, tuple[Fraction, ...]]] = {
    "°dH": ("CaO", (Fraction(1_000_000, 178), Fraction(1_000_900, 178))),
    "°fH": ("CaCO3", ()),
}
"""Degrees of hardness -> the substance of which 10 mg in 1 dm3 make one, and molar masses, a hundredfold, that come of
0.178 mmol, and of 17.8 mg of CaCO3, for a degree (all from memory)."""


def _of_hardness(unit: str) -> tuple[Fraction, ...]:
    """Return the molar mass that turns mol/dm3 into degrees of hardness, and others that are as good."""
    formula, rounded = _HARDNESS[unit]
    masses = (molar_mass(parse_formula(formula).atoms), *school_molar_masses(formula))
    return (*(100 * mass for mass in masses), *rounded)


_AMOUNTS = {
    "mass": ("mol", 1),
    "mass per item": ("mol", 1),
    "percent by mass": ("mol/g", 100),
    "value per gram": ("mol/g", 1000),
}
"""Quantity of a sample -> the unit of its amount, and what the number is that many times of, but for the molar mass."""


def _related(practical: Practical, right: Formula) -> Iterator[tuple[str, Formula]]:
    """Yield (unit, formula) of the other quantities of the substance that a result may be written as.

    The amount in a weighed sample (or in one tablet) is its mass with a molar mass of 1 g/mol; mol/g is a hundredth of
    that in %, and a thousandth of that in mg/g.
    """
    asked = practical.file.result.quantity
    if practical.needs_sample:
        unit, times = _AMOUNTS.get(asked, ("", 1))
        if unit:
            value = Fraction(1, times) / Fraction(10) ** practical.expressed.power
            one = replace(right.of["molar_mass"], value=value, text="")
            yield unit, right.given([one])
        return
    for quantity, unit in (("amount concentration", "mol/dm3"), ("mass concentration", "g/dm3")):
        if quantity != asked:
            yield unit, formula_of(_asked(practical, quantity=quantity)).given(right.inputs)
    if sum(number for element, number in practical.expressed.atoms if element in ("Ca", "Mg")) == 1:
        in_grams = formula_of(_asked(practical, quantity="mass concentration")).given(right.inputs)
        for unit in _HARDNESS:
            yield unit, in_grams.given([replace(in_grams.of["molar_mass"], value=_of_hardness(unit)[0], text="")])


def _asked(practical: Practical, **of_result: object) -> Practical:
    """Return a practical of which something else is asked."""
    result = practical.file.result.model_copy(update=of_result)
    expressed = practical.expressed
    if "quantity" in of_result:
        result = result.model_copy(update={"unit": None, "factor": None})
        expressed = replace(expressed, power=0, quantity=QUANTITIES[result.quantity])
    return replace(practical, file=practical.file.model_copy(update={"result": result}), expressed=expressed)


def fair_masses(formula: Formula, of: Mapping[str, str]) -> tuple[tuple[Input, ...], ...]:
    """Return the molar masses that are as good as a formula's, each with each; `of` names whose they are."""
    values = {name: school_molar_masses(whose) for name, whose in of.items()}
    return alternatives(formula, values | {"water_mass": WATERS})


def alternatives(formula: Formula, values: Mapping[str, tuple[Fraction, ...]]) -> tuple[tuple[Input, ...], ...]:
    """Return the inputs of a formula with other values that are as good, each with each, but for its own."""
    each = [
        [replace(formula.of[name], value=value, text="") for value in dict.fromkeys((formula.of[name].value, *others))]
        for name, others in values.items()
        if name in formula.of
    ]
    return tuple(product(*each))[1:]


@lru_cache(maxsize=256)
def school_molar_masses(formula: str) -> tuple[Fraction, ...]:
    """Return the molar mass as schools reckon it: from atomic masses to one decimal, to whole numbers, to two decimals,
    and to five figures where a result could show that."""
    atoms = parse_formula(formula).atoms
    each = {symbol: molar_mass(((symbol, Fraction(1)),)) for symbol, _ in atoms}
    tables = [
        {symbol: Fraction(round_fraction(mass, decimals)) for symbol, mass in each.items()} for decimals in (1, 0, 2)
    ]
    tables[1] |= HALVES
    tables.append({symbol: Fraction(significant(mass, 5)) for symbol, mass in each.items()})
    *added, abridged = (sum((number * table[symbol] for symbol, number in atoms), Fraction(0)) for table in tables)
    own = molar_mass(atoms)
    added += [abridged] if abs(abridged - own) > own * SHOWS else []
    rounded = (Fraction(round_fraction(own, decimals)) for decimals in (1, 0, 2))
    return tuple(dict.fromkeys((*added, *rounded)))


@lru_cache(maxsize=256)
def mistaken(formula: Formula) -> tuple[Input, ...]:
    """Return what may be taken for an input, which `words` names, by mistake.

    A concentration to one figure, as a label has it, a mass to two figures or one, the whole that a mass was the
    difference from, another pipette.
    """
    given = [each for each in formula.inputs if each.kind == "concentration" and each.value]
    labels = [(each, "nominal", Fraction(significant(each.value or Fraction(1), 1)), 0) for each in given]
    masses = [each for each in formula.inputs if each.kind == "mass" and each.value]
    labels += (
        (each, f"to{figures}", Fraction(significant(each.value or Fraction(1), figures)), 0)
        for each in masses
        for figures in (2, 1)
    )
    wholes = [(each, "whole", each.whole, 2) for each in formula.inputs if each.whole is not None]
    aliquots = [each for each in formula.inputs if each.name == ALIQUOT]
    others = [
        (each, f"by{size:g}", Fraction(size), 2)
        for each in aliquots
        for size, _ in PIPETTES
        if each.value and Fraction(size) / each.value in CONFUSED
    ]
    return tuple(
        replace(each, name=f"{how}.{each.name}", value=value, text=in_decimals(value, decimals), words=each.name)
        for each, how, value, decimals in (*labels, *wholes, *others)
        if value != each.value
    )


def _other_masses(practical: Practical) -> Iterator[Input]:
    """Yield molar masses that a student may take by mistake: of another species, or without the water of a hydrate."""
    expressed, back = practical.expressed.formula, practical.back
    species = [practical.known, *([back.reagent] if back is not None else [])]
    if expressed != practical.unknown.formula:
        species.append(practical.unknown)
    hydrate = re.match(r"^(?P<salt>.+?)[.·]\d*H2O$", expressed)
    named = [(each.shown, each) for each in map(parse_formula, practical.series.formulas)]
    named += ((each.shown, each) for each in species)
    if hydrate:
        named.append((f"{shown_formula(hydrate['salt'])} without its water", parse_formula(hydrate["salt"])))
    atoms = dict(parse_formula(expressed).atoms)  # Ca for CaCO3
    named += ((symbol, parse_formula(symbol)) for symbol, number in atoms.items() if number == 1 < len(atoms))
    # Nobody takes the mass of water, hydrogen ions or electrons.
    equations = [practical.equation, *([back.equation] if back is not None else [])]
    every = [each for equation in equations for _, each in equation.terms if each.has_known_mass]
    named += ((each.shown, each) for each in every if molar_mass(each.atoms) > 2 and each.shown != "H₂O")
    found = [(name, molar_mass(each.atoms)) for name, each in named if each.has_known_mass]
    masses: dict[Fraction, str] = {}
    for name, mass in found:
        masses.setdefault(mass, name)
    for place, (mass, name) in enumerate(masses.items()):
        yield Input(f"molar_mass.{place}", "molar mass", mass, "g/mol", words=name)
