"""One cell at a time: what a text, a number or anything else in it says."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.read.cells import Pair, exact, read_number, read_pair, read_tick, read_total
from labmark.read.formats import format_decimals
from labmark.read.grid import Cell
from labmark.read.own_values import as_shown, read_own
from labmark.read.words import plain

# text of a reading -> number, decimals written
NUMBERS = {
    "22.50": ("22.50", 2),
    "22.5 cm3": ("22.5", 1),
    "22.5 cm³": ("22.5", 1),
    "22.50ml": ("22.50", 2),
    "22.50 mL": ("22.50", 2),
    "22.50 (cm3)": ("22.50", 2),
    "0.02250 dm³": ("22.50", 2),
    "0.0225 L": ("22.5", 1),
    "0.023 L": ("23", 0),
    "~23": ("23", 0),
    "ca. 23": ("23", 0),
    "Ø 24.35": ("24.35", 2),
    "24.40*": ("24.40", 2),
    "24.40 ✓": ("24.40", 2),
    "2250": ("2250", 0),
    ".5": ("0.5", 1),
    "22.": ("22", 0),
    "\u00a022.50\u2009": ("22.50", 2),
    "22.50\u200b": ("22.50", 2),
    "\ufeff22.50": ("22.50", 2),
    "２２．５０": ("22.50", 2),
    "−1.00": ("-1.00", 2),
    "_x0009_22.50": ("22.50", 2),
    "22,50": ("22.50", 2),
    "25,380": ("25.380", 3),
    "22·50": ("22.50", 2),
    "22'50": ("22.50", 2),
    "22.50 ± 0.05": ("22.50", 2),
    "22.50 +/- 0.05 cm3": ("22.50", 2),
    "22.50 cm": ("22.50", 2),
    "22.50.": ("22.50", 2),
    "'22.50": ("22.50", 2),
    "22.50?": ("22.50", 2),
    "22.50 *": ("22.50", 2),
    "22.50 bubble in the tip": ("22.50", 2),
    "22.50, colour too strong": ("22.50", 2),
    "22.50 (rough)": ("22.50", 2),
    "22.50¹": ("22.50", 2),
    "22.10 ²": ("22.10", 2),
    "22.50⁽¹⁾": ("22.50", 2),
    "22.50₁": ("22.50", 2),
    "① 22.50": ("22.50", 2),
    "22.50 c.c.": ("22.50", 2),
    "22.50 cubic cm": ("22.50", 2),
    "22.50 cm³ – good": ("22.50", 2),
    "22.50\n(second try)": ("22.50", 2),
    "22.50 cm³ ❷": ("22.50", 2),
}
NOTHING = (
    *("-", "–", "--", "n/a", "N/A", "absent", "Absent.", "fehlt", "absente", "ausente", "", "  ", "\u200b"),
    *("not done", "Not done (no time).", "didn’t do it", "ran out of time", "not calculated - had to leave"),
    *("nicht berechnet", "keine Zeit, Brand im Labor", "pas eu le temps", "sin calcular porque faltaba tiempo"),
)
ODD = (
    "22..5",
    "22.5O",
    "l8.5",
    "22 50",
    "1,234.5",
    "1.234,5",
    "24,300 µl",
    "25.12l",
    "3.90 dm3",
    "0.20 L",
    "0.05 l",
    "> 50",
    "22½",
    "22.50 or 22.60",
    "22.50 not 22.60",
    "22.50 nicht genommen",
    "22.50 minus two",
    "1 022.5",
    "nan",
    "inf",
    "1e5",
    "1_0",
    "٢٢",
    "as before",
    "wie oben",
    "?",
    "x",
    "twenty",
    "see over",
    "not sure",
    "not done, about 24",
    "(24.40)",
    "24.40 g",
    "22 May",
    "22-May",
    "22/05/2026",
    "2026-05-22 00:00:00",
    "22:30",
    "=22.5",
    "9" * 300,
)


@pytest.mark.parametrize("text", NUMBERS)
def test_a_text_with_a_number_in_it_is_that_number_with_the_decimals_written(text: str) -> None:
    value = read_number(Cell(text), ".")
    assert (value.state, str(value.number), value.decimals) == ("number", *NUMBERS[text])


@pytest.mark.parametrize("text", NOTHING)
def test_words_for_nothing_are_nothing_and_say_so(text: str) -> None:
    value = read_number(Cell(text), ".")
    assert value.state == "nothing"
    assert value.why


@pytest.mark.parametrize("text", ODD)
def test_what_is_no_plain_number_is_never_guessed(text: str) -> None:
    value = read_number(Cell(text), ".")
    assert (value.state, value.number) == ("odd", None)
    assert value.why


@pytest.mark.parametrize(
    ("text", "likely"), [("22..5", "likely 22.5"), ("22.5O", "likely 22.50"), ("l8.5", "likely 18.5")]
)
def test_a_likely_reading_is_said_and_not_taken(text: str, likely: str) -> None:
    assert likely in read_number(Cell(text), ".").why


@pytest.mark.parametrize("mark", [".", ",", ""])
@pytest.mark.parametrize("text", ["22,50", "22.50", "25,380", "25.380", "0,050"])
def test_a_volume_has_the_decimal_mark_that_it_has_whatever_the_file_writes(text: str, mark: str) -> None:
    assert read_number(Cell(text), mark).number == Decimal(text.replace(",", "."))


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("0,101", ".", "0.101"),
        ("98.8", ",", "98.8"),
        ("1,010", ",", "1.010"),
        ("1,010", "", "1.010"),
        ("1,010", ".", None),
        ("1.010", ",", None),
        ("1,010 mg/L", "", None),
        ("1,010 mg/L", ",", "1.010"),
        ("1,234.5 mg/L", ",", "1234.5"),
        ("1.234,5 mg/L", ".", "1234.5"),
        ("1 234 ppm", ".", "1234"),
    ],
)
def test_the_other_texts_decide_about_a_result_only_where_it_can_be_understood_in_two_ways(
    text: str, mark: str, number: str | None
) -> None:
    value = read_own(Cell(text), mark, claim=True)
    assert value.number == (None if number is None else Decimal(number))
    assert number is not None or value.why == f"{text!r} can be 1.010 or 1010; write it with a decimal point"


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("24.o", "has the letter o where a digit should be, likely 24.0"),
        ("24.3O cm³", "has the letter O where a digit should be, likely 24.30"),
        ("24.3, 24.4", "holds more than one number"),
        ("l8.5O", "has the letters O and l where a digit should be, likely 18.50"),
        ("24..30", "has more than one decimal mark, likely 24.30"),
        ("1,234.5", "has more than one decimal mark"),
        ("24 .30", "has a space between its figures, likely 24.30"),
        ("22 50", "has a space between its figures"),
        ("25.12l", "would be 25.12 l, which no burette shows; write it in cm3"),
        ("24,300 µl", "can be 24.300 or 24300; write it with a decimal point"),
        ("> 50", "is a limit rather than a reading"),
        ("24.30 or 24.40", "holds more than one number"),
        ("24.40 g", "has something beside the number that cannot be told"),
        ("twenty", "is not a number"),
        ("(24.40)", "stands in brackets; write the number without them, or strike it out"),
        ("as before", "points to another cell; write the number"),
    ],
)
def test_a_message_about_a_number_says_what_is_wrong_with_that_number(text: str, fault: str) -> None:
    value = read_number(Cell(text), ".")
    assert value.why == f"{plain(text)!r} {fault}"
    assert value.fault == fault.partition(";")[0]


@pytest.mark.parametrize("claim", [False, True])
@pytest.mark.parametrize("text", ["9" * 300, "24." + "3" * 300, "1e99" + "0" * 300])
def test_a_number_of_hundreds_of_digits_is_refused_and_quoted_shortened(text: str, claim: bool) -> None:
    value = read_number(Cell(text), ".", claim=claim)
    assert value.number is None
    assert len(value.why) < 120


@pytest.mark.parametrize("text", ["22.50¹", "22.50 ₂", "22.50 ③", "22.50?", "22.50*", "22.50 too fast"])
def test_what_stands_beside_a_reading_is_a_remark_for_the_teacher(text: str) -> None:
    assert read_number(Cell(text), ".").remark == f"written as {text!r}"


@pytest.mark.parametrize(
    "text", ["24.40 (discard)", "24.40 discarded", "24.40 (not used)", "24.40 (verworfen)", "24.40 ✗", "24.40 cm³ ❌"]
)
def test_a_reading_marked_as_discarded_keeps_its_number_and_is_not_to_be_used(text: str) -> None:
    value = read_number(Cell(text), ".")
    assert (value.number, value.discard) == (Decimal("24.40"), True)


def test_a_struck_out_cell_keeps_its_number_and_is_not_to_be_used() -> None:
    value = read_number(Cell(24.4, "number", 2, struck=True), ".")
    assert (value.number, value.discard) == (Decimal("24.4"), True)


@pytest.mark.parametrize(
    ("stored", "number"),
    [
        (22.45 - 9.9, "12.55"),
        (36.3 - 22.6, "13.7"),
        (12.549999999999999, "12.55"),
        (0.1 + 0.2, "0.3"),
        (22, "22"),
        (22.5, "22.5"),
    ],
)
def test_binary_noise_is_taken_off_a_stored_number(stored: float, number: str) -> None:
    """The first three are among the stored results of subtractions met in real tables."""
    assert exact(stored) == Decimal(number)


@given(st.integers(-100_000, 1_000_000))
def test_every_whole_microlitre_survives_being_stored_as_a_float(volume: int) -> None:
    assert exact(volume / 1000) * 1000 == volume


@given(st.text(max_size=60), st.sampled_from([".", ","]))
def test_any_text_is_a_number_nothing_or_odd_with_a_reason(text: str, mark: str) -> None:
    for claim in (False, True):
        value = read_number(Cell(text), mark, claim=claim)
        assert value.state in ("number", "nothing", "odd")
        assert (value.number is not None) == (value.state == "number")
        assert value.state == "number" or value.why


@pytest.mark.parametrize(
    ("value", "likely"),
    [
        (dt.datetime(2026, 5, 22), "likely 22.5"),
        (dt.datetime(1900, 1, 22, 12, 0), "likely 22.5"),
        (dt.timedelta(days=22, hours=12), "likely 22.5"),
        (dt.time(0, 0), "retype it"),
    ],
)
def test_a_number_that_became_a_date_is_said_with_the_likely_reading_and_not_taken(value: object, likely: str) -> None:
    read = read_number(Cell(value, "date"), ".")
    assert read.state == "odd"
    assert "date or time" in read.why
    assert likely in read.why


def test_a_formula_that_was_never_calculated_says_what_to_do() -> None:
    assert "recalculate and save" in read_number(Cell("", "uncalculated"), ".").why


def test_an_error_names_itself() -> None:
    assert "#DIV/0!" in read_number(Cell("#DIV/0!", "error"), ".").why


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0.0974", "0.0974"),
        ("0.0974 mol/dm3", "0.0974"),
        ("0.0974 mol dm-3", "0.0974"),
        ("0.0974M", "0.0974"),
        ("9.74E-2", "0.0974"),
        ("9.74 x 10^-2", "0.0974"),
        ("3.617E-14", "3.617E-14"),  # a solubility product of three ions, each out by a thousand
        ("9.74×10⁻² mol dm⁻³", "0.0974"),
        ("12.3 %", "12.3"),
        ("142 g/mol", "142"),
        ("9.74 E-2", "0.0974"),
        ("9.74·10⁻²", "0.0974"),
        ("9·74·10^-2", "0.0974"),
        ("9·74 × 10⁻² mol dm⁻³", "0.0974"),
        ("0·101", "0.101"),
        ("0·1012 mol dm⁻³", "0.1012"),
        ("1·01·10-1", "0.101"),
        ("0.0974¹", "0.0974"),
        ("0.0974 mol L⁻¹", "0.0974"),
        ("0.0974 mol pro Liter", "0.0974"),
        ("0,0974 mol por litro", "0.0974"),
        ("0.0974 mol/dm", "0.0974"),
    ],
)
def test_a_result_is_read_with_its_unit_and_its_power_of_ten(text: str, number: str) -> None:
    assert read_number(Cell(text), ".", claim=True).number == Decimal(number)


@pytest.mark.parametrize("text", ["22/05/2026", "22.5O", "0.0974 apples", "1 in 10", "0.09.74"])
def test_a_result_is_not_guessed_from_other_text(text: str) -> None:
    assert read_number(Cell(text), ".", claim=True).number is None


@pytest.mark.parametrize(
    ("text", "number", "decimals"),
    [
        ("c = n/V = 0.00247 / 0.0250 = 0.0988 mol/dm3", "0.0988", 4),
        ("285 mg CaCO3/L", "285", 0),
        ("0.0988 mol NaOH per dm3", "0.0988", 4),
        ("10.0 H2O", "10.0", 1),
        ("82.3% CaCO3 by mass", "82.3", 1),
        ("82.3 % CaCO3 (w/w)", "82.3", 1),
        ("82.3 % by weight of carbonate", "82.3", 1),
        ("10 waters", "10", 0),
        ("5.12 g ethanoic acid per 100 cm3 of vinegar", "5.12", 2),
        ("58.4 mg of salt in 10 cm3", "58.4", 1),
        ("3.95 g of ammonia per dm3", "3.95", 2),
        ("0.0988 ± 0.0004", "0.0988", 4),
        ("0.0980 +/- 0.0004 mol dm-3", "0.0980", 4),
        ("(9.88 ± 0.04) × 10^-2 mol/dm3", "0.0988", 4),
        ("0.0988 ± 4E-04", "0.0988", 4),
        ("0.0988 mol/dm3 ± 0.4 %", "0.0988", 4),
        ("c = 0.0988", "0.0988", 4),
        ("c(H2SO4) = 0.0988 mol/dm3", "0.0988", 4),
        ("x = 10.0", "10.0", 1),
        ("= 0.0988 mol dm-3", "0.0988", 4),
        ("(0.0988)", "0.0988", 4),
        ("[0.0988 mol/dm3]", "0.0988", 4),
        ("One tablet contains 65.1 mg", "65.1", 1),
        ("65.1 mg of Fe²⁺ in one tablet", "65.1", 1),
        ("die Konzentration beträgt 0,0988 mol/L", "0.0988", 4),
        ("284 ppm as CaCO3", "284", 0),
        ("c = 0.855 M so 5.13 %", "5.13", 2),
        ("0.00247 mol in 25 cm3, therefore c = 0.0988 mol/dm3", "0.0988", 4),
        ("0.0494 × 2 ∴ 0.0988", "0.0988", 4),
        ("n = 0,00247 mol, also c = 0,0988 mol/L", "0.0988", 4),
        ("n = 0,00247 mol donc c = 0,0988 mol/L", "0.0988", 4),
    ],
)
def test_what_surrounds_an_own_result_is_seen_through_and_noted(text: str, number: str, decimals: int) -> None:
    value = read_own(Cell(text), ".", claim=True)
    assert (str(value.number), value.decimals) == (number, decimals)
    assert value.remark.startswith(f"written as {plain(text)!r}")


@pytest.mark.parametrize("text", ["w = 0.931", "w(CaCO3) = 0.931", "ω = 0,931"])
def test_a_mass_fraction_that_its_symbol_names_is_one_in_a_gram(text: str) -> None:
    value = read_own(Cell(text), "", claim=True)
    assert (value.number, value.unit_text) == (Decimal("0.931"), "g/g")


@pytest.mark.parametrize("text", ["see book", "22/05/2026", "12:30", "±0.5", "1 in 10", "0.0988 apples"])
def test_an_own_result_that_leaves_a_doubt_is_not_read(text: str) -> None:
    assert read_own(Cell(text), ".", claim=True).state == "odd"


@pytest.mark.parametrize(
    ("stored", "shown", "number", "decimals"),
    [
        (76 / 3, 2, "25.33", 2),  # =AVERAGE(...) that shows 25.33
        (25.3333, 2, "25.3333", 4),  # typed, whatever the column's format shows
        (25.325, 2, "25.325", 3),
        (24.4, 2, "24.4", 2),
        (24.4, 1, "24.4", None),
    ],
)
def test_a_calculated_mean_is_what_its_cell_shows(stored: float, shown: int, number: str, decimals: int | None) -> None:
    value = as_shown(read_own(Cell(stored, "number", shown), ".", claim=False), shown, claim=False)
    assert (str(value.number), value.decimals) == (number, decimals)


def test_a_result_is_what_its_cell_shows_where_that_has_three_figures_at_least() -> None:
    shown = [
        as_shown(read_own(Cell(0.1013, "number", places), ".", claim=True), places, claim=True) for places in (3, 2)
    ]
    assert [(str(value.number), value.decimals) for value in shown] == [("0.101", 3), ("0.1013", 4)]


@pytest.mark.parametrize(("shown", "decimals"), [(0, None), (1, None), (2, 2), (3, 3)])
def test_a_format_of_fewer_than_two_decimals_does_not_tell_how_many_were_read(shown: int, decimals: int | None) -> None:
    assert read_number(Cell(25.3, "number", shown), ".").decimals == decimals


@pytest.mark.parametrize("text", ["spilt", "Verworfen", "tachado"])
def test_a_word_for_a_run_that_was_given_up_is_a_discard_and_no_bad_reading(text: str) -> None:
    value = read_number(Cell(text), ".")
    assert (value.state, value.discard) == ("nothing", True)


def test_an_own_mean_is_read_in_the_same_way() -> None:
    assert read_own(Cell("mean = 24,35 cm3"), ".", claim=False).number == Decimal("24.35")
    for text in ("(24.30 + 24.40) / 2 = 24.35", "24.30, 24.40 → 24.35", "24.35 from runs 1 and 2", "Mean titre 24.35"):
        assert read_own(Cell(text), ".", claim=False).number == Decimal("24.35")


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("(24.30 + 24.40)/2", "."),
        ("(24,30+24,40) : 2", ","),
        ("24.30 + 24.40 / 2 = …", "."),
        ("24.30+24.35+24.40 ÷ 3", "."),
        ("mean: (24.30 + 24.40) ÷ 2", "."),
    ],
)
def test_an_own_mean_that_was_left_as_a_sum_is_what_the_sum_comes_to(text: str, mark: str) -> None:
    value = read_own(Cell(text), mark, claim=False)
    assert (value.number, value.decimals, value.remark[:10]) == (Decimal("24.35"), None, "written as")


def test_a_result_that_was_left_as_a_product_is_what_the_product_comes_to() -> None:
    assert read_own(Cell("25.30 × 0.0500 × 2 / 25.0"), ".", claim=True).number == Decimal("0.1012")


@pytest.mark.parametrize(
    "text", ["24.30 - 24.40", "24.30/24.40", "24.30+24.40", "1/2/2026", "2**9/3", "(24.30+24.40)/0"]
)
@pytest.mark.parametrize("claim", [True, False])
def test_two_values_and_what_is_no_sum_are_not_worked_out(text: str, claim: bool) -> None:
    assert read_own(Cell(text), ".", claim=claim).state == "odd"


@pytest.mark.parametrize("text", ["=(B3+B4)/2", "=AVERAGE(B3:B4)", "=MITTELWERT(B3;B4)", "= G2 - F2"])
def test_a_formula_that_stands_as_text_was_never_calculated(text: str) -> None:
    for value in (read_own(Cell(text), ".", claim=False), read_number(Cell(text), ".")):
        assert (value.state, value.spoilt) == ("odd", "formula never calculated")
        assert value.why == f"{text!r} is a formula that was never calculated; type the number"


@pytest.mark.parametrize("text", ["av. 24.35", "avg. 24.35 cm3", "24. 35", "24. 35 cm3"])
def test_an_own_mean_may_be_shortened_and_spaced(text: str) -> None:
    assert read_own(Cell(text), ".", claim=False).number == Decimal("24.35")


@pytest.mark.parametrize("text", ["0, 101", "0. 101 mol/dm3", "c = 0, 101"])
def test_a_space_behind_the_decimal_mark_of_a_result_is_one_too_many(text: str) -> None:
    value = read_own(Cell(text), ".", claim=True)
    assert (value.number, value.remark[:10]) == (Decimal("0.101"), "written as")


@pytest.mark.parametrize("text", ["1, 2", "12, 13", "0, 1, 2"])
def test_a_list_of_numbers_is_no_result(text: str) -> None:
    assert read_own(Cell(text), ".", claim=True).state == "odd"


def test_a_reading_that_a_program_wrote_with_its_binary_noise_is_the_reading() -> None:
    for text in ("24.349999999999998", "24.349999999999998 cm3", "0.024349999999999998 dm3"):
        value = read_number(Cell(text), ".")
        assert (str(value.number), value.decimals) == ("24.35", None)


@pytest.mark.parametrize(("words", "discard"), [("not concordant", True), ("overshot", True), ("rough", False)])
def test_words_behind_a_reading_say_whether_it_counts(words: str, discard: bool) -> None:
    assert read_number(Cell(f"24.30 {words}"), ".").discard is discard


@pytest.mark.parametrize("text", ["0.101 mol/l NaOH", "0.101 mol dm-3 of NaOH", "c = 0.101 mol/dm3 ammonia"])
def test_the_name_of_the_substance_behind_the_unit_of_a_result_is_no_hindrance(text: str) -> None:
    value = read_own(Cell(text), ".", claim=True)
    assert value.number == Decimal("0.101")
    assert value.unit_text.startswith("mol")


WRITTEN = {
    "0.102 M HCl": "0.102",
    "11.0 % protein": "11.0",
    "approximately 0.102": "0.102",
    "around 0.102 M": "0.102",
    "environ 0,102 mol/L": "0.102",
    "ungefähr 0,102": "0.102",
    "≅ 0.102": "0.102",
    "1.02 x 10^(-1) mol/L": "0.102",
    "1.02*10**-1": "0.102",
    "20.0 V": "20.0",
    "Na2CO3, 10 H2O": "10",
}


@pytest.mark.parametrize(("text", "number"), WRITTEN.items())
def test_a_result_is_read_however_it_is_put(text: str, number: str) -> None:
    assert str(read_own(Cell(text), "", claim=True).number) == number


@pytest.mark.parametrize("text", ["0.102 M used", "1.02 x 10^(-1", "10 V, 20 V"])
def test_what_may_be_another_number_is_no_result(text: str) -> None:
    assert read_own(Cell(text), "", claim=True).state == "odd"


@pytest.mark.parametrize("text", ["0.101 NaOH", "0.101 mol/l or 0.2", "24.40 cm3 NaOH and more"])
def test_a_result_with_anything_else_behind_it_is_not_read(text: str) -> None:
    assert read_own(Cell(text), ".", claim=True).state == "odd"


def test_a_percentage_format_is_read_as_it_is_seen() -> None:
    assert read_number(Cell(0.123, "number", 1, percent=True), ".", claim=True).number == Decimal("12.3")


@pytest.mark.parametrize(
    "text",
    [
        "concordant",
        "used in mean",
        "y",
        "Y",
        "yes",
        "x",
        "✓",
        "✔",
        "✔\ufe0f",
        "☑",
        "true",
        "1",
        "(y)",
        "ja",
        "oui",
        "sí",
        "in",
        "good",
        "averaged",
        "👍",
    ],
)
def test_ticks_of_any_kind_are_ticks(text: str) -> None:
    assert read_tick(Cell(text)) is True


@pytest.mark.parametrize(
    "text",
    [
        "overshot",
        "discarded",
        "not concordant",
        "n",
        "no",
        "✗",
        "✘",
        "❌",
        "×",
        "☐",
        "false",
        "0",
        "nein",
        "non",
        "not used",
        "out",
        "bad",
        "👎",
        "/",
    ],
)
def test_crosses_of_any_kind_are_no_ticks(text: str) -> None:
    assert read_tick(Cell(text)) is False


def test_what_is_neither_tick_nor_cross_is_neither() -> None:
    assert read_tick(Cell("maybe")) is None


PAIRS = """
12.20 - 24.40   12.20–24.40   12.20 to 24.40   12.20 → 24.40   12.20 => 24.40   12.20 cm3 - 24.40 cm3   12.20/24.40
12.20; 24.40   12.20 24.40   12.20 and 24.40   from 12.20 to 24.40   (12.20, 24.40)   [12.20; 24.40]   12.20,24.40
12,20-24,40   12,20; 24,40   12,20 24,40   12,20, 24,40   12,20,24,40   12,20 und 24,40   von 12,20 bis 24,40
de 12,20 à 24,40   de 12,20 a 24,40   desde 12,20 hasta 24,40   entre 12,20 et 24,40   12,20 y 24,40   12,20 - 24.40
initial 12.20 final 24.40   final: 24.40, initial: 12.20   Anfang 12,20 / Ende 24,40   V1 = 12.20; V2 = 24.40
12.20 (initial) 24.40 (final)   start 12.20 end 24.40   12.20 up to 24.40 cm³   0.01220 dm3 - 0.02440 dm3
12.20 & 24.40   12.20 ... 24.40   12.20¹ - 24.40²   inicial 12,20 final 24,40   lecture initiale : 12,20 ; finale : 24,40
"""


@pytest.mark.parametrize("text", [text for line in PAIRS.splitlines() for text in line.split("   ") if text])
def test_both_readings_of_a_cell_are_told_apart(text: str) -> None:
    (pair,) = read_pair(text, ".")
    assert (pair.first.number, pair.second.number, pair.first.decimals) == (Decimal("12.20"), Decimal("24.40"), 2)


@pytest.mark.parametrize("text", ["12.20 - 24.40*", "12.20 → 24.40 cm³ ✓", "12.20 to 24.40 (pink)"])
def test_a_remark_behind_both_readings_of_a_cell_is_noted(text: str) -> None:
    (pair,) = read_pair(text, ".")
    assert (pair.first.number, pair.second.number) == (Decimal("12.20"), Decimal("24.40"))
    assert pair.second.remark.startswith("written as '24.40")


@pytest.mark.parametrize("text", ["12.20 - 24.40 (not used)", "12.20 - 24.40 ✗"])
def test_both_readings_of_a_cell_may_be_called_not_used(text: str) -> None:
    (pair,) = read_pair(text, ".")
    assert pair.second.discard


@pytest.mark.parametrize("text", ["12.20, 24.40 (0.10, 12.40)", "12.20 - 24.40 (12.30)"])
def test_further_readings_in_brackets_are_no_remark(text: str) -> None:
    assert read_pair(text, ".") == ()


@pytest.mark.parametrize("text", ["25.90 - 0.10 = 25.80", "0,10 - 25,90 = 25,80 cm³", "25.90-0.10=25.80"])
def test_a_difference_with_its_outcome_gives_both_readings_and_the_titre(text: str) -> None:
    (pair,) = read_pair(text, ".")
    assert (pair.first.number, pair.second.number) == (Decimal("0.10"), Decimal("25.90"))
    assert read_total(text, ".").number == Decimal("25.80")


@pytest.mark.parametrize(
    "text",
    [
        "0.00 - 48.20 + 0.00 - 1.30",
        "0.00 - 48.20\n0.00 - 1.30",
        "(0.00, 48.20), (0.00, 1.30)",
        "0.00 to 48.20 and 0.00 to 1.30",
        "0.00-48.20, 0.00-1.30",
        "0.00-48.20, refilled 0.00-1.30",
    ],
)
def test_a_refilled_run_in_one_cell_has_a_pair_a_part(text: str) -> None:
    first, second = read_pair(text, ".")
    assert isinstance(first, Pair)
    assert (second.first.number, second.second.number) == (Decimal("0.00"), Decimal("1.30"))


@pytest.mark.parametrize(
    "text",
    [
        "12.20",
        "12.20 - ",
        "12,20",
        "0,23",
        "0, 23",
        "24 30",
        "1 022.5",
        "1,234.5",
        "spilt - 24.40",
        "1-2-3",
        "0,23,50",
        "= 2",
    ],
)
def test_a_cell_without_two_readings_is_no_pair(text: str) -> None:
    assert read_pair(text, ".") == ()


@pytest.mark.parametrize(
    ("number_format", "decimals"),
    [
        ("0.00", 2),
        ("0.0", 1),
        ("0", 0),
        ("#,##0.00", 2),
        ('0.00 "mL"', 2),
        (r"0.00\ \c\m³", 2),
        ("[Red]0.00", 2),
        ("0.00;[Red]-0.00", 2),
        ("0.00_ ", 2),
        ("0.0%", 1),
        ("General", None),
        ("@", None),
        ("0.0#", None),
        ("# ?/?", None),
        ("0.00E+00", None),
        ("dd/mm/yyyy", None),
        ('General "days"', None),
        ("", None),
    ],
)
def test_a_number_format_tells_the_decimals_where_it_fixes_them(number_format: str, decimals: int | None) -> None:
    assert format_decimals(number_format) == decimals
