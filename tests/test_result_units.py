"""Units of results: the power of ten to the unit asked for, and units of something else."""

from decimal import Decimal

import pytest

from labmark.exact import figures_right
from labmark.practical.quantities import QUANTITIES, Asked
from labmark.read.cells import read_number
from labmark.read.grid import Cell
from labmark.read.own_values import in_asked_unit, read_own
from labmark.read.written_units import Unit, asked_unit, header_unit, unit_of

AMOUNT, MASS, PERCENT = "amount concentration", "mass concentration", "percent mass by volume"


PRODUCT = Asked("mol3/dm9", "mol3/dm9")


@pytest.mark.parametrize(
    "text",
    [
        "3.60E-5", "3.60e-5 mol3 dm-9", "3.60 × 10⁻⁵ mol³/dm⁹", "3.60 x 10^-5 mol^3/dm^9", "3.60·10⁻⁵ mol³ dm⁻⁹",
        "3.60E-05 mol3 L-3", "3.60*10^-5 (mol^3 dm^-9)", "0.0000360", "0.0000360 mol3/dm9", "Ksp = 3.60E-5",
        "3.60e-5 M^3", "3.60 × 10⁻⁵ M³", "3.60 10^-5",
    ],
)  # fmt: skip
def test_a_solubility_product_is_read_with_its_figures_in_any_spelling(text: str) -> None:
    value, _ = in_asked_unit(read_own(Cell(text), ".", claim=True), PRODUCT, text, "Ksp / mol3 dm-9")
    assert (f"{value.number:f}", value.decimals, value.unit_text) == ("0.0000360", 7, "")
    assert figures_right(value.number, value.decimals, 3)


@pytest.mark.parametrize(("text", "figures"), [("5.0E-6", 2), ("0.0000050", 2), ("5E-6", 1), ("5.02 x 10^-6", 3)])
def test_zeros_before_a_small_number_are_no_figures_of_it(text: str, figures: int) -> None:
    value = read_number(Cell(text), ".", claim=True)
    assert [count for count in (1, 2, 3, 4) if figures_right(value.number, value.decimals, count)] == [figures]


def test_a_product_of_concentrations_is_no_concentration() -> None:
    value, _ = in_asked_unit(read_number(Cell("0.0208 mol/dm3"), ".", claim=True), PRODUCT, "0.0208 mol/dm3", "")
    assert (value.number, value.unit_text) == (Decimal("0.0208"), "mol/dm3")
    assert "mol3/dm9 is asked for, so look at the unit" in value.remark


def taken(text: str, quantity: str, header: str = "") -> tuple[str, int | None, str]:
    value, _ = in_asked_unit(read_number(Cell(text), ".", claim=True), QUANTITIES[quantity].asked, text, header)
    return f"{value.number:f}", value.decimals, value.remark


def unit_in(text: str, quantity: str) -> str:
    return in_asked_unit(read_number(Cell(text), ".", claim=True), QUANTITIES[quantity].asked, text, "")[0].unit_text


@pytest.mark.parametrize(
    ("text", "quantity", "number", "decimals"),
    [
        ("98.8 mmol/dm3", AMOUNT, "0.0988", 4),
        ("98.80 mmol dm-3", AMOUNT, "0.09880", 5),
        ("98.8 mM", AMOUNT, "0.0988", 4),
        ("98.8 mol/m3", AMOUNT, "0.0988", 4),
        ("9.88e-5 mol/cm3", AMOUNT, "0.0988", 4),
        ("3950 mg/L", MASS, "3.950", None),
        ("0.395 g/100 cm3", MASS, "3.95", 2),
        ("58.4 mg per 10 cm3", MASS, "5.84", 2),
        ("58.4 mg/10 mL", MASS, "5.84", 2),
        ("42.1 g/dm3", PERCENT, "4.21", 2),
        ("0.106 kg/mol", "molar mass", "106", 0),
        ("1520 mg", "mass", "1.520", None),
        ("5120 mg", PERCENT, "5.120", None),
        ("98.8 mmol", AMOUNT, "0.0988", 4),
        ("285 ppm", MASS, "0.285", 3),
        ("285 ppm", "percent by mass", "0.0285", 4),
        ("823 mg/g", "percent by mass", "82.3", 1),
        ("42.0 mg/kg", "percent by mass", "0.00420", 5),
        ("823 g kg-1", "percent by mass", "82.3", 1),
        ("823 ‰", "percent by mass", "82.3", 1),
        ("0.395 %", MASS, "3.95", 2),
        ("202 mg/tablet", "mass per item", "0.202", 3),
        ("202 mg per tablet", "mass per item", "0.202", 3),
        ("202 mg/tab.", "mass per item", "0.202", 3),
    ],
)
def test_a_unit_beside_the_number_is_honoured(text: str, quantity: str, number: str, decimals: int | None) -> None:
    found = taken(text, quantity)
    assert found[:2] == (number, decimals)
    assert found[2].startswith(f"written as {text!r}, taken as {Decimal(number).normalize():f}")


@pytest.mark.parametrize(
    ("text", "quantity"),
    [
        ("0.0988 mol/dm3", AMOUNT),
        ("0.0988 mol L-1", AMOUNT),
        ("0.0988M", AMOUNT),
        ("0.0988 moles per litre", AMOUNT),
        ("98.8 mmol/cm3", AMOUNT),
        ("3.95 g/L", MASS),
        ("3.95 mg/cm3", MASS),
        ("34.7 ‰", MASS),
        ("4.21 %", PERCENT),
        ("4.21 % w/v", PERCENT),
        ("4.21 m/v%", PERCENT),
        ("82.3 weight %", "percent by mass"),
        ("4.21 g/100 ml", PERCENT),
        ("82.3 %", "percent by mass"),
        ("82.3 % w/w", "percent by mass"),
        ("82.3 % by mass", "percent by mass"),
        ("82.3 wt%", "percent by mass"),
        ("82.3 Masse-%", "percent by mass"),
        ("82.3 g/100 g", "percent by mass"),
        ("106 g/mol", "molar mass"),
    ],
)
def test_the_unit_asked_for_in_any_spelling_needs_no_word(text: str, quantity: str) -> None:
    assert taken(text, quantity) == (
        text.split()[0].rstrip("M"),
        len(text.split()[0].rstrip("M").partition(".")[2]),
        "",
    )


@pytest.mark.parametrize(
    ("text", "quantity", "number", "unit"),
    [
        ("4.05 g/dm3", AMOUNT, "4.05", "g/dm3"),
        ("4050 mg/L", AMOUNT, "4.050", "g/dm3"),
        ("4050 ppm", AMOUNT, "4.050", "g/dm3"),
        ("4.05 g", AMOUNT, "4.05", "g/dm3"),
        ("0.405 % w/v", AMOUNT, "4.05", "g/dm3"),
        ("101 mmol/L", MASS, "0.101", "mol/dm3"),
        ("0.101 M", PERCENT, "0.101", "mol/dm3"),
        ("12.3 mmol", "mass", "0.0123", "mol"),
        ("7.75 mmol/g", "percent by mass", "0.00775", "mol/g"),
        ("1.79 mol/dm3", "volume strength", "1.79", "mol/dm3"),
        ("6.07 %", "volume strength", "60.7", "g/dm3"),
    ],
)
def test_a_unit_of_another_quantity_of_the_substance_is_handed_on_with_the_number_in_it(
    text: str, quantity: str, number: str, unit: str
) -> None:
    value, _ = in_asked_unit(read_number(Cell(text), ".", claim=True), QUANTITIES[quantity].asked, text, "")
    assert (f"{value.number:f}", value.unit_text) == (number, unit)
    assert value.remark.startswith(f"written as {text!r}, taken as {number} {unit}; ")


def test_per_cent_by_volume_of_a_substance_is_read() -> None:
    value = read_own(Cell("5.12 % ethanoic acid by volume"), ".", claim=True)
    assert (value.number, value.unit_text) == (Decimal("5.12"), "% v/v")


@pytest.mark.parametrize(("text", "quantity"), [("0.0988 mol", AMOUNT), ("3.95 g", MASS)])
def test_the_volume_that_a_concentration_is_in_may_be_left_out(text: str, quantity: str) -> None:
    number, _, remark = taken(text, quantity)
    assert (number, unit_in(text, quantity)) == (text.split()[0], "")
    assert "is asked for, so look at the unit" in remark


@pytest.mark.parametrize(
    ("text", "quantity"),
    [
        ("0.0988 cm3", AMOUNT),
        ("10.0 mol", "water of crystallisation"),
        ("82.3 % w/v", "percent by mass"),
        ("5.12 % by volume", PERCENT),
        ("5.12 %v/v", PERCENT),
        ("5.12 vol%", PERCENT),
        ("5.12 vol.-%", "percent by mass"),
        ("0.101 N", AMOUNT),
        ("15.9 °dH", "percent by mass"),
    ],
)
def test_a_unit_of_something_else_is_noted_and_handed_on(text: str, quantity: str) -> None:
    number, _, remark = taken(text, quantity)
    assert (number, unit_in(text, quantity)) == tuple(text.split(maxsplit=1))
    assert "is asked for, so look at the unit" in remark


def test_a_unit_beside_the_number_goes_before_that_of_the_header() -> None:
    assert taken("98.8 mmol/dm3", AMOUNT, "mol/dm3")[0] == "0.0988"
    assert taken("0.0988 mol/dm3", AMOUNT, "mmol/dm3")[0] == "0.0988"
    assert taken("98.8", AMOUNT, "mmol/dm3")[0] == "0.0988"


@pytest.mark.parametrize("text", ["20.0 vol", "20.0 vol.", "20.0 volumes", "20.0 Volume", "20.0 volume strength"])
def test_a_volume_strength_may_be_called_so(text: str) -> None:
    assert taken(text, "volume strength") == ("20.0", 1, f"written as {text!r}")


@pytest.mark.parametrize(("text", "unit"), [("15.9 °dH", "°dH"), ("15.9 Grad dH", "°dH"), ("28.4 °f", "°fH")])
def test_degrees_of_hardness_are_handed_on_where_a_concentration_is_asked_for(text: str, unit: str) -> None:
    assert unit_in(text, MASS) == unit


def test_a_factor_in_per_cent_is_the_hundredth_part() -> None:
    assert taken("101.0 %", "titre factor")[:2] == ("1.010", 3)


def test_how_many_zeros_of_a_whole_number_count_stays_open_in_another_unit() -> None:
    value, _ = in_asked_unit(read_number(Cell("26000 µg"), ".", claim=True), Asked("mg", "mg"), "26000 µg", "")
    assert (value.number, value.decimals) == (Decimal(26), None)


def test_digits_that_are_not_known_stay_unknown_in_another_unit() -> None:
    value, _ = in_asked_unit(
        read_number(Cell(98.8, "number"), ".", claim=True), QUANTITIES[AMOUNT].asked, "98.8", "mmol/dm3"
    )
    assert (value.number, value.decimals) == (Decimal("0.0988"), None)


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("Result / mmol dm⁻³", "mmol dm-3"),
        ("c(NaOH) in mg/L", "mg/L"),
        ("Result [g/dm³]", "g/dm3"),
        ("Hardness / mg L-1 CaCO3", "mg L-1"),
        ("Concentration (ppm as CaCO3)", "ppm"),
        ("Hardness (mg/dm³ CaCO₃)", "mg/dm3"),
        ("Total hardness (mg/L as CaCO3)", "mg/L"),
        ("Hardness (mg CaCO3/L)", "mg/L"),
        ("Hardness in mg CaCO3 per dm3", "mg per dm3"),
        ("Result (g/dm3 NaCl)", "g/dm3"),
        ("Volume of NaOH", ""),
        ("Hardness (mg/dm3) to 3 s.f.", "mg/dm3"),
        ("Ergebnis in mg/L (3 signifikante Stellen)", "mg/L"),
        ("Result mmol/dm³", "mmol/dm3"),
        ("Concentration of acid mol dm-3", "mol dm-3"),
        ("Result M", ""),
        ("Concentration of g", ""),
        ("Molar mass (M)", ""),
        ("M (g/mol)", "g/mol"),
        ("m [mol/dm3]", "mol/dm3"),
        ("x in Na2CO3.xH2O", ""),
        ("Result", ""),
        ("Concentration / mmol dm-3 (3 marks)", "mmol dm-3"),
        ("What is the concentration (mmol/dm³)? Give your answer to 3 s.f.", "mmol/dm3"),
        ("Concentration in mmol/L to 3 significant figures", "mmol/L"),
        ("Concentration, in mg/L, of chloride", "mg/L"),
        ("Result / mol dm -3", "mol dm -3"),
        ("Concentration (M) of acid", ""),
    ],
)
def test_the_unit_in_a_header_is_found(header: str, unit: str) -> None:
    assert header_unit(header) == unit


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_of_a_practical_has_a_unit_that_is_known(quantity: str) -> None:
    # Per cent alone does not say of what: by volume it is grams in 100 cm³. A strength is shown without "vol".
    unit = {"percent mass by volume": "% w/v", "volume strength": "vol"}.get(quantity, QUANTITIES[quantity].unit)
    assert asked_unit(QUANTITIES[quantity].asked.unit) == (unit_of(unit) or Unit("", 0))
    assert unit_of(unit) is not None or not unit


@pytest.mark.parametrize("text", ["apples", "mol dm-3 h", "", "NaOH", "cm", "M g/mol"])
def test_what_is_no_unit_is_none(text: str) -> None:
    assert unit_of(text) is None


@pytest.mark.parametrize("header", ["Rough: volume used", "Rough: vol used"])
def test_a_word_behind_a_unit_that_headings_know_names_no_substance(header):
    assert header_unit(header) == ""
