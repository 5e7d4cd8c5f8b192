"""Chains of reactions: from the sample, by way of what one makes and the next uses up, to the titrant."""

from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.diagnose.working_calculation import calculation
from labmark.exact import significant
from labmark.practical import practical_from_rows
from labmark.practical.equation import EquationError, parse_chain
from labmark.practical.kinds import formula_of
from labmark.problems import InputError
from tests.calculations import slips_behind
from tests.classes import titres, tree_of
from tests.practicals import practical

IODINE = "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-"
HYPOCHLORITE = "ClO^- + 2 I^- + 2 H^+ -> I2 + Cl^- + H2O"
BLEACH = f"""
title = "Bleach"
equation = [ "{HYPOCHLORITE}", "{IODINE}" ]
[burette]
solution = "S2O3^2-"
concentration = 0.09892
[flask]
solution = "ClO^-"
aliquot = 25.00
dilution = {{ taken = 25.00, made_up_to = 1000.0 }}
[result]
of = "ClO^-"
expressed_as = "NaOCl"
quantity = "percent mass by volume"
[reference]
value = 5.28
"""


def test_bleach_comes_out_as_published():
    # From memory: D. Harvey, Analytical Chemistry 2.1, chapter 9: 25.00 mL of bleach in 1000 mL, 25.00 mL of that,
    # 8.96 mL of 0.09892 M thiosulfate; 5.28 % NaOCl.
    assert significant(formula_of(practical(BLEACH)).value(titre=Fraction("8.96")), 3) == Decimal("5.28")


def test_each_equation_is_a_step_of_the_working():
    working = formula_of(practical(BLEACH)).working(3, titre=Decimal("8.96"))
    assert [(step.what, step.formula) for step in working[:3]] == [
        ("amount of S₂O₃²⁻ in the mean titre", "n = c × V ÷ 1000"),
        ("amount of I₂ in the flask", "I₂ : S₂O₃²⁻ = 1 : 2"),
        ("amount of ClO⁻ in the flask", "ClO⁻ : I₂ = 1 : 1"),
    ]


def test_numbers_of_a_chain_of_three_fit_one_another():
    # Dissolved oxygen by Winkler, by hand: O2 makes 2 MnO(OH)2, these 2 I2, and these take 4 S2O3^2-.
    chain = parse_chain(["2 Mn(OH)2 + O2 -> 2 MnO(OH)2", "MnO(OH)2 + 4 H^+ + 2 I^- -> Mn^2+ + I2 + 3 H2O", IODINE], [])
    oxygen, titrant = chain.find("O2"), chain.find("S2O3^2-")
    assert chain.coefficient(titrant) / chain.coefficient(oxygen) == 4
    assert [link.name for link in chain.links] == ["MnO(OH)2", "I2"]


IODATE = "IO3^- + 5 I^- + 6 H^+ -> 3 I2 + 3 H2O"
VITAMIN = "C6H8O6 + I2 -> C6H6O6 + 2 I^- + 2 H^+"


def test_where_more_than_one_species_fits_the_link_is_to_be_named():
    with pytest.raises(EquationError, match=r"more than one species \(I-, H\+\); say which with through"):
        parse_chain([VITAMIN, IODATE], [])
    # By hand: one iodate makes three iodine, and each takes one ascorbic acid.
    chain = parse_chain([VITAMIN, IODATE], ["I2"])
    assert chain.coefficient(chain.find("C6H8O6")) / chain.coefficient(chain.find("IO3^-")) == 3


def test_a_known_in_the_flask_is_followed_to_the_unknown_in_the_burette():
    # By hand: 25.0 cm³ of 0.0100 mol/dm³ iodate make 0.75 mmol of iodine, which take 1.50 mmol of thiosulfate: in
    # 15.00 cm³ that is 0.100 mol/dm³.
    made = practical(
        f"""
        title = "Thiosulfate by iodate"
        equation = [ "{IODATE}", "{IODINE}" ]
        [burette]
        solution = "S2O3^2-"
        [flask]
        solution = "IO3^-"
        aliquot = 25.0
        concentration = 0.0100
        [result]
        of = "S2O3^2-"
        """
    )
    assert formula_of(made).value(titre=Fraction(15)) == Fraction("0.1")
    assert formula_of(made).curve.titre(Fraction("0.1")) == 15


@pytest.mark.parametrize(
    ("equations", "through", "says"),
    [
        (f'[ "{HYPOCHLORITE}", "HCl + NaOH -> NaCl + H2O" ]', "", "do not meet: nothing that the first makes"),
        (f'[ "ClO^- + I^- -> I2 + Cl^-", "{IODINE}" ]', "", "does not balance"),
        (f'[ "{HYPOCHLORITE}", "{IODINE}" ]', 'through = [ "Cl^-" ]', "does not stand in both of two neighbouring"),
        (
            f'[ "{HYPOCHLORITE}", "{IODINE}" ]',
            'through = [ "I2", "I2" ]',
            "2 equations have 1 links, and through names 2",
        ),
    ],
)
def test_a_chain_that_does_not_meet_is_refused_in_one_line(equations, through, says):
    text = BLEACH.replace(f'[ "{HYPOCHLORITE}", "{IODINE}" ]', f"{equations}\n{through}")
    with pytest.raises(InputError) as refused:
        practical(text)
    assert says in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1


def test_a_chain_from_the_titrant_to_the_sample_is_refused():
    # Iodate makes the iodine that vitamin C uses up: what the titrant does comes last all the same.
    text = BLEACH.replace(HYPOCHLORITE, "IO3^- + 5 I^- + 6 H^+ -> 3 I2 + 3 H2O").replace("ClO^-", "C6H8O6")
    text = text.replace(IODINE, "C6H8O6 + I2 -> C6H6O6 + 2 H^+ + 2 I^-").replace("S2O3^2-", "IO3^-")
    with pytest.raises(InputError, match="the chain does not lead from C6H8O6 to IO3-; write the reactions in order"):
        practical(text.replace('expressed_as = "NaOCl"', ""))


def test_a_practical_sheet_repeats_the_row_of_the_equation():
    rows = [
        ("title", "Bleach"), ("equation", HYPOCHLORITE), ("equation", IODINE), ("burette.solution", "S2O3^2-"),
        ("burette.concentration", 0.1), ("flask.solution", "ClO^-"), ("flask.aliquot", 25), ("result.of", "ClO^-"),
    ]  # fmt: skip
    made = practical_from_rows([(*row, f"B{n}") for n, row in enumerate(rows, start=2)], "class.xlsx")
    assert formula_of(made).value(titre=Fraction(20)) == Fraction("0.04")


@pytest.mark.parametrize(
    ("written", "finding"),
    [
        # By hand: 0.1 × 20 ÷ 2 ÷ 25 = 0.0400 mol/dm³; without the 2 : 1 twice that, upside down four times.
        ("0.0400", None),
        ("0.0800", "ratio-ignored"),
        ("0.160", "ratio-inverted"),
        ("40.0", "volume-units"),
    ],
)
def test_slips_in_a_chain_are_named_and_a_right_result_is_none(written, finding):
    text = BLEACH.split("dilution")[0].replace("0.09892", "0.1000") + '[result]\nof = "ClO^-"\n'
    found = slips_behind(
        calculation(practical(text)),
        mean=Fraction(20),
        claimed=Decimal(written),
        decimals=len(written.partition(".")[2]),
    )
    assert [slip.finding for slip in found] == ([] if finding is None else [finding])


def test_a_class_that_does_a_chain_is_judged():
    tree = tree_of([titres("8.95", "9.00", mean=Decimal("8.98"), result=Decimal("5.29"))] * 3, text=BLEACH)
    assert tree["practical"]["derived"]["equation"].endswith("I₂ + 2 S₂O₃²⁻ → 2 I⁻ + S₄O₆²⁻")
    assert [each["findings"] for each in tree["students"]] == [[]] * 3
    assert tree["class"]["expected_titre"] == pytest.approx(8.96, abs=0.01)
