"""Titration curves and indicators against published tables, and against sums by hand."""

from __future__ import annotations

from decimal import Decimal
from math import log10, sqrt

import numpy as np
import pytest

from labmark.lesson import indicator
from labmark.lesson.constants import acid_of, table
from labmark.lesson.curve import Solute, acid_base, complexation, conditional
from labmark.lesson.titration import curve_of, titration_of
from labmark.meaning import example_of
from labmark.outputs.numbers import fixed
from labmark.practical.equation import parse_formula
from labmark.practicals import named, shipped
from labmark.problems import InputError
from tests.practicals import DRAIN_CLEANER, card, practical, titration
from tests.seeds import few_quick

STRONG_BASE, STRONG_ACID = Solute(0.100, (), 1), Solute(0.100, (), -1)
ETHANOIC = Solute(0.100, (-log10(1.8e-5),), 0)
WITHIN = Decimal("0.10")

# OpenStax, Chemistry 2e (CC BY), section 14.7: 25.00 mL of 0.100 M acid with 0.100 M NaOH; mL, pH with HCl, with CH3COOH
# (Ka 1.8e-5). The first point with CH3COOH is printed 2.87 (2.8753 without rounding on the way) and left out.
OPENSTAX = [
    (0.0, 1.00, None), (5.0, 1.18, 4.14), (10.0, 1.37, 4.57), (15.0, 1.60, 4.92), (20.0, 1.95, 5.35),
    (22.0, 2.20, 5.61), (24.0, 2.69, 6.13), (24.5, 3.00, 6.44), (24.9, 3.70, 7.14), (25.0, 7.00, 8.72),
    (25.1, 10.30, 10.30), (25.5, 11.00, 11.00), (26.0, 11.29, 11.29), (28.0, 11.75, 11.75), (30.0, 11.96, 11.96),
    (35.0, 12.22, 12.22), (40.0, 12.36, 12.36), (45.0, 12.46, 12.46), (50.0, 12.52, 12.52),
]  # fmt: skip


@pytest.mark.parametrize(("volume", "strong", "weak"), OPENSTAX)
def test_a_strong_and_a_weak_acid_run_as_the_textbook_prints(volume, strong, weak):
    assert acid_base([STRONG_ACID], 25.0, [STRONG_BASE], 25.0).at(volume)[0] == pytest.approx(strong, abs=0.0051)
    if weak is not None:
        assert acid_base([ETHANOIC], 25.0, [STRONG_BASE], 25.0).at(volume)[0] == pytest.approx(weak, abs=0.0051)


# The same book, an exercise with its answers: 40 mL of 0.100 M barbituric acid (Ka 9.8e-5) with 0.100 M KOH; approximate
# methods. At 0 mL it prints 2.50 (2.5112 without approximation), left out.
@pytest.mark.parametrize(("volume", "printed"), [(20, 4.01), (39, 5.60), (40, 8.35), (41, 11.08)])
def test_barbituric_acid_runs_as_the_answers_print(volume, printed):
    curve = acid_base([Solute(0.100, (-log10(9.8e-5),), 0)], 40.0, [STRONG_BASE], 40.0)
    assert curve.at(volume)[0] == pytest.approx(printed, abs=0.015)


# The same book, check your learning: 50.0 mL of 0.100 M HNO3 with 0.200 M NaOH.
@pytest.mark.parametrize(("volume", "printed"), [(0.0, 1.000), (15.0, 1.5111), (25.0, 7.0), (40.0, 12.523)])
def test_nitric_acid_runs_as_the_book_prints(volume, printed):
    curve = acid_base([STRONG_ACID], 50.0, [Solute(0.200, (), 1)], 25.0)
    assert curve.at(volume)[0] == pytest.approx(printed, abs=0.001)


def test_ammonia_is_at_the_printed_ph_at_equivalence():
    # generalchemistrylab.blogspot.com (2012), titration of a weak base: Kb 1.85e-5, 0.1 M with 0.1 M HCl: 5.28.
    curve = acid_base([Solute(0.1, (14 + log10(1.85e-5),), 1)], 100.0, [STRONG_ACID], 100.0)
    assert curve.at(100.0)[0] == pytest.approx(5.28, abs=0.005)


def test_carbonate_passes_hydrogencarbonate_and_ends_at_carbonic_acid():
    # By hand: hydrogencarbonate is at (pK1 + pK2)/2 but for a little water; the end at sqrt(K1 c).
    pka = (6.35, 10.33)
    curve = acid_base([Solute(0.100, pka, 2)], 25.0, [STRONG_ACID], 50.0)
    assert curve.at(25.0)[0] == pytest.approx((6.35 + 10.33) / 2, abs=0.01)
    assert curve.at(50.0)[0] == pytest.approx(-log10(sqrt(10**-6.35 * 0.1 * 25 / 75)), abs=0.005)
    assert curve.at(12.5)[0] == pytest.approx(10.33, abs=0.02)
    assert curve.at(37.5)[0] == pytest.approx(6.35, abs=0.005)


def test_phosphoric_acid_has_two_equivalence_points_that_can_be_seen():
    # By hand: an ion between two forms is at sqrt((K1 K2 c + K1 Kw)/(K1 + c)), with c = 0.05 and 0.1/3.
    k1, k2, k3 = 7.5e-3, 6.2e-8, 4.2e-13
    curve = acid_base([Solute(0.100, tuple(-log10(each) for each in (k1, k2, k3)), 0)], 25.0, [STRONG_BASE], 25.0)
    assert curve.at(25.0)[0] == pytest.approx(-log10(sqrt((k1 * k2 * 0.05 + k1 * 1e-14) / (k1 + 0.05))), abs=0.01)
    c = 0.1 / 3
    assert curve.at(50.0)[0] == pytest.approx(-log10(sqrt((k2 * k3 * c + k2 * 1e-14) / (k2 + c))), abs=0.01)


def test_calcium_with_edta_at_ph_10():
    # By hand, with K' = 10^10.25: half-way pCa = -log10(0.005 × 50/75), at equivalence half of log10(K'/0.005),
    # and half as much again pCa = log10(K') - log10(2).
    log_conditional = conditional(10.70, (1.99, 2.67, 6.16, 10.26), 10.0)
    assert log_conditional == pytest.approx(10.70 + log10(1 / (1 + 10**0.26)), abs=0.001)
    curve = complexation(0.0100, 50.0, 0.0100, log_conditional, 50.0, "pCa")
    assert curve.at(25.0)[0] == pytest.approx(-log10(0.25 / 75), abs=0.001)
    assert curve.at(50.0)[0] == pytest.approx((log_conditional - log10(0.005)) / 2, abs=0.001)
    assert curve.at(75.0)[0] == pytest.approx(log_conditional - log10(2), abs=0.001)


# Kimia Analitik (flipbuilder.com/iyrbm/ezfg, page 76): 50.0 mL of 0.00500 M calcium with 0.0100 M EDTA at pH 10, K' 1.75e10.
@pytest.mark.parametrize(("volume", "printed"), [(10.0, 2.60), (25.0, 6.36), (35.0, 9.85)])
def test_calcium_with_edta_runs_as_a_textbook_prints(volume, printed):
    curve = complexation(0.00500, 50.0, 0.0100, log10(1.75e10), 25.0, "pCa")
    assert curve.at(volume)[0] == pytest.approx(printed, abs=0.006)
    assert conditional(10.70, acid_of(parse_formula("C10H14N2O8^2-"), practical()).pka, 10.0) == pytest.approx(
        log10(1.75e10), abs=0.01
    )


@pytest.mark.parametrize("flask", [[ETHANOIC], [STRONG_ACID], [Solute(0.1, (2.12, 7.21, 12.38), 0)]])
def test_the_volume_that_brings_a_ph_about_brings_it_about(flask):
    curve = acid_base(flask, 25.0, [STRONG_BASE], 25.0)
    for volume in (3.0, 24.9, 25.05, 40.0):
        assert curve.volume(float(curve.at(volume)[0])) == pytest.approx(volume, abs=1e-6)


def test_a_polynomial_solver_finds_the_same_ph():
    # Oracle: the charge balance of a weak acid and a strong base is a cubic in [H+], here solved by numpy's roots.
    ka, kw = 1.8e-5, 1e-14
    curve = acid_base([ETHANOIC], 25.0, [STRONG_BASE], 25.0)
    for volume in np.linspace(0.5, 45, 30):
        acid, base = 0.1 * 25 / (25 + volume), 0.1 * volume / (25 + volume)
        roots = np.roots([1, ka + base, ka * (base - acid) - kw, -ka * kw])
        hydrogen = max(root.real for root in roots if abs(root.imag) < 1e-20)
        assert curve.at(volume)[0] == pytest.approx(-log10(hydrogen), abs=1e-6)


# --- tables ---


def test_every_constant_and_range_has_its_source():
    rows = [*table("acids")["acid"], table("acids")["edta"], *table("indicators")["indicator"]]
    assert all(row["source"].strip() for row in rows)
    assert all(row["low"] < row["high"] for row in table("indicators")["indicator"])


def test_a_formula_written_otherwise_is_the_same_acid():
    assert acid_of(parse_formula("C2H4O2"), practical()) == acid_of(parse_formula("CH3COOH"), practical())


def test_pka_of_the_practical_count_instead_of_the_table():
    vinegar = named("vinegar")
    own = vinegar.file.model_copy(update={"pka": {"CH3COOH": Decimal("4.756")}})
    acid = acid_of(
        parse_formula("CH3COONa"), practical(DRAIN_CLEANER, ('title = "', 'pka = { "CH3COOH" = 4.756 }\ntitle = "'))
    )
    assert own.pka
    assert (acid.pka, acid.lost, acid.source) == ((4.756,), 1, "the practical")


def test_an_acid_that_stands_in_no_table_takes_its_pka_from_the_practical():
    from labmark.practical import practical_from_toml
    from labmark.practicals import text_of

    made = practical_from_toml('pka = { "H2A" = [2.0, 5.5] }\n' + text_of("unknown-diprotic-acid"))
    curve = curve_of(titration_of(example_of(made)))
    assert curve is not None
    assert curve.at(curve.equivalence / 2 * 1.5)[0] == pytest.approx(5.5, abs=0.01)


def test_too_few_pka_are_refused():
    given = practical(DRAIN_CLEANER, ('title = "', 'pka = { "H3PO4" = 2.1 }\ntitle = "'))
    with pytest.raises(InputError, match="phosphoric acid has 3 acid constants, found 1"):
        acid_of(parse_formula("H3PO4"), given)


def test_borax_is_four_of_boric_acid_of_which_half_are_neutralised():
    # By hand: 25 cm³ of 0.0500 mol/dm³ take 25 cm³ of 0.100 mol/dm³ HCl; then boric acid, 0.100 mol/dm³, is at
    # -log10(sqrt(5.4e-10 × 0.100)) = 5.13.
    made = titration(
        "Na2B4O7 + 2 HCl + 5 H2O -> 4 H3BO3 + 2 NaCl", "Na2B4O7", "0.0500", "HCl", "25.0", known_in="flask"
    )
    curve = curve_of(titration_of(example_of(made)))
    assert curve is not None
    assert curve.at(curve.equivalence)[0] == pytest.approx(5.13, abs=0.01)


# --- indicators ---


def test_methyl_orange_with_a_strong_acid_begins_a_drop_late_and_suits():
    # By hand, with pKa 1.99 for hydrogensulfate: at pH 4.4 [H+] is 3.98e-5, and SO4^2- (0.0251 mol/dm³) has taken 2.45
    # times as much: 3.45 × 3.98e-5 × 50.4 cm³ ÷ 0.100 mol/dm³ of hydrogen = 0.07 cm³.
    drain = named("drain-cleaner")
    found = indicator.verdict(curve_of(titration_of(example_of(drain))), "methyl orange", WITHIN)
    assert found is not None
    assert found["bias_cm3"] == pytest.approx(0.07, abs=0.003)
    assert (found["ph_before"], found["ph_after"], found["suits"]) == (
        pytest.approx(10.0, abs=0.05), pytest.approx(4.5, abs=0.05), True,
    )  # fmt: skip


def test_methyl_orange_with_a_weak_acid_comes_too_soon_and_phenolphthalein_is_named():
    curve = acid_base([ETHANOIC], 25.0, [STRONG_BASE], 25.0)
    found = indicator.verdict(curve, "methyl orange", WITHIN)
    assert found is not None
    # By hand: pH 4.4 is where 10^(4.4 - 4.745) = 0.452 of the acid per rest has reacted: 25 × 0.311 = 7.8 cm³.
    assert found["bias_cm3"] == pytest.approx(7.8 - 25, abs=0.05)
    assert not found["suits"]
    (said,) = indicator.complaint(curve, found, WITHIN)
    assert said.startswith("methyl orange begins to change 17.2")
    assert "too soon" in said
    assert said.endswith("phenolphthalein suits")


def test_no_indicator_suits_where_two_drops_hardly_move_the_ph():
    boric = acid_base([Solute(0.100, (9.27,), 0)], 25.0, [STRONG_BASE], 25.0)
    found = indicator.verdict(boric, "thymolphthalein", WITHIN)
    (said,) = indicator.complaint(boric, found, WITHIN)
    assert said.endswith("no indicator in labmark’s table suits this titration")


@pytest.mark.parametrize("name", few_quick(sorted({*shipped()} - {"carbonate-and-hydrogencarbonate"}), 9))
def test_the_indicator_of_each_practical_that_ships_suits_it(name):
    assert "indicator-unsuitable" not in {each["warning"] for each in card(name)["warnings"]}


def test_each_of_several_endpoints_has_its_own_indicator():
    # By hand: at 23.75 cm³ all is hydrogencarbonate, about (6.37 + 10.33)/2; at 27.50 cm³ carbonic acid, 0.375 mmol in
    # 52.5 cm³, at sqrt(4.3e-7 × 0.00714).
    first, second = card("hydroxide-and-carbonate")["indicators"]
    assert (first["name"], first["titre_cm3"], first["suits"]) == ("phenolphthalein", 23.75, True)
    assert first["ph_at_equivalence"] == pytest.approx((6.37 + 10.33) / 2, abs=0.02)
    assert (second["name"], second["titre_cm3"], second["suits"]) == ("methyl orange", 27.5, True)
    assert second["ph_at_equivalence"] == pytest.approx(-log10(sqrt(4.3e-7 * 0.375 / 52.5)), abs=0.01)


def test_an_endpoint_at_which_the_colour_hardly_changes_is_warned_of():
    # By hand: beside as much hydrogencarbonate again, two drops of 12.5 cm³ move the pH by a tenth.
    tree = card("carbonate-and-hydrogencarbonate")
    assert [each["suits"] for each in tree["indicators"]] == [False, True]
    (said,) = [each["message"] for each in tree["warnings"]]
    assert said.startswith("phenolphthalein changes slowly: two drops about equivalence move the pH by only 0.1")
    assert f"(pH {fixed(tree['indicators'][0]['ph_at_equivalence'], 1)} at equivalence" in said  # as on the card


def test_what_the_reagent_has_made_of_the_sample_is_in_the_flask_too():
    # Aspirin: ethanoate and salicylate are bases, and bring the pH at equivalence above 7.
    curve = curve_of(titration_of(example_of(named("aspirin-tablets"))))
    assert curve is not None
    assert curve.at(curve.equivalence)[0] > 8


def test_redox_and_silver_titrations_have_no_curve():
    for name in ("bleach", "iron-tablets", "sea-water", "hydrogen-peroxide"):
        assert curve_of(titration_of(example_of(named(name)))) is None
