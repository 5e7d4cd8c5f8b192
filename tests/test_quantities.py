"""What a result may be: further quantities, units, numbers before a formula, groups of unknown mass. Settings invented."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.formula import Formula
from labmark.pipeline import judged_tree
from labmark.practical.equation import EquationError, molar_mass, parse_equation, parse_formula
from labmark.practical.expressed import ions_of
from labmark.practical.kinds import formula_of
from labmark.practical.load import practical_from_rows
from labmark.problems import InputError, Unusable
from labmark.units import ASKED, power_between
from tests.practicals import DRAIN_CLEANER, practical

IRON = """
title = "Iron in tablets"
equation = "MnO4- + 5 Fe2+ + 8 H+ -> Mn2+ + 5 Fe3+ + 4 H2O"
[burette]
solution = "MnO4-"
concentration = 0.00500
[flask]
solution = "Fe2+"
aliquot = 25.0
[sample]
items = 5
made_up_to = 250.0
[result]
of = "Fe2+"
quantity = "mass per item"
unit = "mg"
"""


IRON_PER_CENT = (
    (
        "items = 5\nmade_up_to = 250.0\n",
        "mass = 1.500\nmade_up_to = 250.0\n",
    ),
    ('quantity = "mass per item"\nunit = "mg"', 'quantity = "percent by mass"\nunit = "UNIT"'),
)


def formula(text: str = DRAIN_CLEANER, *changes: tuple[str, str]) -> Formula:
    return formula_of(practical(text, *changes))


def problems(text: str, *changes: tuple[str, str]) -> str:
    with pytest.raises(InputError) as caught:
        practical(text, *changes)
    return "\n".join(str(each) for each in caught.value.problems)


IODINE_VALUE = """
title = "Iodine value of an oil"
equation = [ "ICl + KI -> KCl + I2", "I2 + 2 Na2S2O3 -> 2 NaI + Na2S4O6" ]
[burette]
solution = "Na2S2O3"
concentration = 0.1000
[flask]
solution = "ICl"
[excess]
solution = "ICl"
equation = "R + ICl -> RICl"
[blank]
titre = 46.30
[sample]
mass = 0.230
[result]
of = "R"
expressed_as = "I2"
quantity = "value per gram"
unit = "g/100 g"
"""


def test_a_mass_per_item_in_milligrams_needs_no_mass():
    # 0.00500 × 23.28 × 5 × 10 × 55.845 ÷ 5 = 65.0 mg in each.
    assert float(formula(IRON).value(titre=Fraction("23.28"))) == pytest.approx(65.0, abs=0.01)


def test_a_mass_per_item_without_their_number_is_refused():
    said = problems(IRON, ("items = 5", "mass = 1.5"))
    assert "sample.items: is missing" in said


@pytest.mark.parametrize(
    ("unit", "value"),
    # 0.0974 mol/dm³ for a titre of 24.35; 3.896 g/dm³ with 39.997 g/mol.
    [("mol/dm3", 0.0974), ("mol/L", 0.0974), ("M", 0.0974), ("mmol/dm3", 97.4)],
)
def test_a_concentration_may_be_asked_for_in_any_unit_of_its_family(unit, value):
    made = formula(DRAIN_CLEANER, ('of = "NaOH"', f'of = "NaOH"\nunit = "{unit}"'))
    assert float(made.value(titre=Fraction("24.35"))) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "value"), [("g/L", 3.8957), ("mg/dm³", 3895.7), ("ppm", 3895.7), ("mg/100 cm3", 389.57)]
)
def test_a_mass_concentration_too(unit, value):
    asked = f'of = "NaOH"\nquantity = "mass concentration"\nunit = "{unit}"'
    assert float(formula(DRAIN_CLEANER, ('of = "NaOH"', asked)).value(titre=Fraction("24.35"))) == pytest.approx(
        value, rel=1e-4
    )


def test_an_iodine_value_is_asked_for_in_g_per_100_g():
    # (46.30 − 23.10) × 0.1000 ÷ 1000 ÷ 2 × 253.81 ÷ 0.230 × 100 = 128.0 g of iodine, as iodine chloride was saved.
    made = formula(IODINE_VALUE)
    assert float(made.value(titre=Fraction("23.10"))) == pytest.approx(128.01, abs=0.01)


def test_a_titre_factor_may_be_multiplied():
    asked = 'of = "NaOH"\nquantity = "titre factor"\nnominal = 0.1\nfactor = 2\nfactor_name = "twice"'
    assert float(formula(DRAIN_CLEANER, ('of = "NaOH"', asked)).value(titre=Fraction("24.35"))) == pytest.approx(1.948)


def test_a_class_that_finds_an_iodine_value_is_marked(tmp_path):
    (tmp_path / "oil.toml").write_text(IODINE_VALUE, encoding="utf-8")
    head = "Student,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result"
    (tmp_path / "class.csv").write_text(f"{head}\nS01,0.00,23.10,0.10,23.20,23.10,128\n", encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", str(tmp_path / "oil.toml"), ())["students"]
    (given,) = [each for each in student["marks"] if each["criterion"] == "calculation"]
    assert given["mark"] == given["out_of"]


@pytest.mark.parametrize("quantity", ["percent by mass", "molar mass", "mass", "value per gram"])
def test_what_is_of_a_sample_is_not_asked_of_the_burette(quantity):
    text = """
title = "t"
equation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"
[burette]
solution = "HCl"
[flask]
solution = "Na2CO3"
[sample]
mass = 0.13
[result]
of = "HCl"
quantity = "amount concentration"
"""
    said = problems(text, ("amount concentration", quantity))
    assert f"result.quantity: {quantity} is of what was weighed, and HCl is in the burette" in said


def test_a_unit_of_something_else_is_refused_with_those_that_would_do():
    said = problems(DRAIN_CLEANER, ('of = "NaOH"', 'of = "NaOH"\nunit = "mg"'))
    assert "result.unit" in said
    assert "mmol/dm3" in said


def test_so_much_of_a_formula_may_stand_for_one_of_the_unknown():
    # Half of Fe2O3, 159.69 g/mol, for each Fe2+: 5 × 0.00500 × 25.00 ÷ 25.0 × 159.69 ÷ 2 = 1.9961 g/dm³.
    text = IRON.replace('quantity = "mass per item"\nunit = "mg"', 'quantity = "mass concentration"')
    text = text.replace("[sample]\nitems = 5\nmade_up_to = 250.0\n", "")
    made = formula(text, ('of = "Fe2+"', 'of = "Fe2+"\nexpressed_as = "1/2 Fe2O3"'))
    assert float(made.value(titre=Fraction(25))) == pytest.approx(1.9961, rel=1e-4)
    said = problems(text, ('of = "Fe2+"', 'of = "Fe2+"\nexpressed_as = "Fe2O3"'))
    assert "hold Fe in different numbers" in said
    assert '"1/2 Fe2O3"' in said


def test_a_hydrate_holds_no_more_of_the_salt_itself():
    carbonate = ("2 NaOH + H2SO4 -> Na2SO4 + 2 H2O", "Na2CO3 + H2SO4 -> Na2SO4 + CO2 + H2O")
    asked = 'of = "Na2CO3"\nquantity = "mass concentration"\nexpressed_as = "Na2CO3.10H2O"'
    practical(DRAIN_CLEANER, carbonate, ('solution = "NaOH"', 'solution = "Na2CO3"'), ('of = "NaOH"', asked))


def test_a_titre_factor_is_the_concentration_over_the_label():
    made = formula(DRAIN_CLEANER, ('of = "NaOH"', 'of = "NaOH"\nquantity = "titre factor"\nnominal = 0.1'))
    assert float(made.value(titre=Fraction("24.35"))) == pytest.approx(0.974)
    assert "result.nominal" in problems(DRAIN_CLEANER, ('of = "NaOH"', 'of = "NaOH"\nquantity = "titre factor"'))


def test_a_volume_strength_is_of_hydrogen_peroxide_alone():
    said = problems(DRAIN_CLEANER, ('of = "NaOH"', 'of = "NaOH"\nquantity = "volume strength"'))
    assert "a volume strength is of H2O2" in said


LIME_WATER = """
title = "Lime water"
equation = "Ca(OH)2 + 2 HCl -> CaCl2 + 2 H2O"
[burette]
solution = "HCl"
concentration = 0.0500
[flask]
solution = "Ca(OH)2"
aliquot = 25.0
[result]
of = "Ca(OH)2"
quantity = "solubility product"
"""
HYDROXIDE = (
    ("Ca(OH)2 + 2 HCl -> CaCl2 + 2 H2O", "OH^- + HCl -> Cl^- + H2O"),
    ('solution = "Ca(OH)2"', 'solution = "OH^-"'),
)
PRODUCT = 4 * 0.0208**3
"""For 20.80 cm³: 0.0500 × 20.80 ÷ 2 ÷ 25.0 = 0.0208 = s, and s × (2 s)²."""


@pytest.mark.parametrize(
    "changes",
    [
        (),
        (('of = "Ca(OH)2"', 'of = "Ca(OH)2"\nions = [ "Ca^2+", "2 OH^-" ]'),),
        (('of = "Ca(OH)2"', 'of = "Ca(OH)2"\nions = [ "Ca2+", "2OH-" ]'),),
        (*HYDROXIDE, ('of = "Ca(OH)2"', 'of = "OH^-"\nions = [ "Ca^2+", "2 OH^-" ]')),
        (*HYDROXIDE, ('of = "Ca(OH)2"', 'of = "OH^-"\nexpressed_as = "1/2 Ca(OH)2"')),
    ],
)
def test_a_solubility_product_follows_from_the_substance_or_from_one_of_its_ions(changes):
    made = practical(LIME_WATER, *changes)
    assert float(formula_of(made).value(titre=Fraction("20.80"))) == pytest.approx(PRODUCT)
    assert made.unit == "mol3/dm9"
    *_, ion, product = formula_of(made).working(3, titre=Decimal("20.80"))
    assert (ion.what, ion.shown) == ("concentration of OH⁻", "0.041600 mol/dm³")
    assert product.numbers == "0.020800 mol/dm³ × (0.041600 mol/dm³)²"
    assert product.shown == "3.60 × 10⁻⁵ mol³/dm⁹"


@pytest.mark.parametrize(
    ("formula", "ions"),
    [
        ("Ca(OH)2", "Ca2+ 2 OH-"), ("PbI2", "Pb2+ 2 I-"), ("AgCl", "Ag+ Cl-"), ("CaS", "Ca2+ S2-"),
        ("Ag2S", "2 Ag+ S2-"), ("Ca3(PO4)2", "3 Ca2+ 2 PO4^3-"), ("Ca(IO3)2", "Ca2+ 2 IO3-"),
    ],
)  # fmt: skip
def test_one_element_and_one_element_or_bracket_splits_by_itself(formula, ions):
    found = ions_of((), parse_formula(formula))
    assert " ".join(f"{number} {ion.name}".removeprefix("1 ") for number, ion in found) == ions


@pytest.mark.parametrize("formula", ["CaSO4", "Hg2Cl2", "Ag2CrO4", "Ca(OH)2.8H2O", "Ca(SO4)", "OH^-"])
def test_what_may_split_in_more_ways_must_be_told(formula):
    with pytest.raises(Unusable, match="cannot be split into ions without being told"):
        ions_of((), parse_formula(formula))


@pytest.mark.parametrize(
    ("ions", "what"),
    [
        ('[ "Ca^2+", "OH^-" ]', "Ca^2+ + OH^- carry a charge of +1 together"),
        ('[ "Ca^2+", "2 Xx^-" ]', "Xx is no element"),
        ('[ "Ca", "2 OH^-" ]', "found 1 Ca, expected ions with their charge"),
        ('[ "Mg^2+", "2 OH^-" ]', "Ca(OH)2 is neither Mg2+ nor OH- nor made up of them"),
        ('[ "Ca^2+", "0 OH^-" ]', "found 0 OH-, expected ions with their charge"),
        ('[ "5000 Na^+", "5000 Cl^-" ]', "found 5000 Na+, expected ions with their charge, 9 of each at most"),
        ('[ "Ca^2+", "1/2 OH^-" ]', "found 1/2 OH-, expected ions with their charge"),
    ],
)
def test_ions_that_cannot_be_are_one_clear_line(ions, what):
    said = problems(LIME_WATER, ('of = "Ca(OH)2"', f'of = "Ca(OH)2"\nions = {ions}'))
    assert what in said
    assert "key result.ions: " in said
    assert len(said.splitlines()) == 1


def test_ions_stand_in_a_practical_sheet_too():
    rows = [line.split(" = ") for line in LIME_WATER.replace("[", "").replace("]", "").splitlines() if " = " in line]
    table = {"burette": rows[2:4], "flask": rows[4:6], "result": rows[6:]}
    made = [(key, value.strip('"'), "A1") for key, value in rows[:2]]
    made += [(f"{name}.{key}", value.strip('"'), "A1") for name, each in table.items() for key, value in each]
    made += [("result.ions", "Ca^2+", "A8"), ("result.ions", "2 OH^-", "A9")]
    assert practical_from_rows(made, "class.xlsx").file.result.ions == ("Ca^2+", "2 OH^-")


def test_a_factor_multiplies_at_the_end_and_is_named_in_the_working():
    asked = 'of = "NaOH"\nfactor = 6.25\nfactor_name = "protein factor"'
    made = formula(DRAIN_CLEANER, ('of = "NaOH"', asked))
    assert float(made.value(titre=Fraction("24.35"))) == pytest.approx(0.0974 * 6.25)
    assert "protein factor" in made.working(3, titre=Decimal("24.35"))[-1].what


def test_reagents_that_pushed_out_some_of_the_sample_are_counted_in():
    made = formula(DRAIN_CLEANER, ("aliquot = 25.0", "aliquot = 25.0\ndisplaced = { bottle = 125.0, reagents = 5.0 }"))
    assert made.value(titre=Fraction("24.35")) == Fraction("0.0974") * 125 / 120


# --- groups of unknown mass ---


@pytest.mark.parametrize("text", ["H2A + 2 NaOH -> Na2A + 2 H2O", "XR + KOH -> KX + ROH", "Ca^2+ + Z^4- -> CaZ^2-"])
def test_a_capital_letter_that_is_no_element_balances_like_one(text):
    assert parse_equation(text)


@pytest.mark.parametrize("text", ["X + KOH -> KX", "H2A + NaOH -> Na2A + H2O"])
def test_a_group_that_does_not_balance_is_refused(text):
    with pytest.raises(EquationError, match="does not balance"):
        parse_equation(text)


@pytest.mark.parametrize("formula", ["Ag", "Al", "Ra", "Xe", "Zn", "Ac", "At", "Re"])
def test_an_element_that_begins_with_such_a_letter_is_itself(formula):
    assert parse_formula(formula).atoms == ((formula, Fraction(1)),)


def test_the_mass_of_a_group_is_not_known():
    with pytest.raises(EquationError, match="mass is not known"):
        molar_mass(parse_formula("H2A").atoms)


def test_a_quantity_that_needs_the_mass_of_a_group_is_refused():
    acid = ("2 NaOH + H2SO4 -> Na2SO4 + 2 H2O", "H2A + 2 NaOH -> Na2A + 2 H2O")
    text = DRAIN_CLEANER.replace('solution = "NaOH"', 'solution = "H2A"').replace('"H2SO4"', '"NaOH"')
    said = problems(text, acid, ('of = "NaOH"', 'of = "H2A"\nquantity = "mass concentration"'))
    assert "needs the molar mass of H2A" in said


@pytest.mark.parametrize("unit", [unit for unit in ASKED if power_between(unit, "%") is not None])
def test_every_unit_of_a_share_gives_the_same_result(unit: str) -> None:
    sample, quantity = IRON_PER_CENT
    asked = [formula(IRON, sample, (quantity[0], quantity[1].replace("UNIT", each))) for each in (unit, "%")]
    power = power_between("%", unit)
    assert power is not None
    one, per_cent = (each.value(titre=Fraction(20)) for each in asked)
    assert one == per_cent * Fraction(10) ** power
