"""Budgets against the Eurachem/CITAC guide and the GUM, another library, and a Monte Carlo run."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import inf, prod, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse.budget import Component, budget, budget_table, standard_uncertainty, welch_satterthwaite
from labmark.analyse.standardisation import known_lines, with_standardisation
from labmark.analyse.uncertainty import (
    GUESSED,
    POOLED,
    Repeatability,
    Titres,
    class_repeatability,
    titration_budget,
)
from labmark.laws import t_quantile
from labmark.practical import glassware
from labmark.problems import InputError
from tests.budgets import Power, lines, product
from tests.practicals import practical
from tests.simulate_class import Recipe, simulate
from tests.test_standardised import VINEGAR

# Potassium hydrogen phthalate in QUAM (weights of the 1990s): C 12.0107(8), H 1.00794(7), O 15.9994(3), K 39.0983(1),
# each rectangular, 8, 5, 4 and 1 atoms.
KHP = 8 * 12.0107 + 5 * 1.00794 + 4 * 15.9994 + 39.0983
KHP_U = sqrt((8 * 0.0008) ** 2 + (5 * 0.00007) ** 2 + (4 * 0.0003) ** 2 + 0.0001**2) / sqrt(3)


def quam_a2():
    """QUAM:2012, A2: NaOH standardised with KHP, inputs as restated in the documentation of GTC (CITAC_A2).

    The weights of the guide are older than ours: its formula mass and the uncertainty of that stand in place of ours.
    """
    made = practical(VINEGAR, ("purity_within", "weighing_within = 0.00015\npurity_within"))
    ours = made.standardised
    found = replace(ours, molar_mass=Fraction(KHP), each=(ours.value * ours.molar_mass / Fraction(KHP),))
    known = known_lines(made.file.standardisation, found, glassware.burette(50.0, 0.1, tolerance=0.03))
    known = [each._replace(standard_uncertainty=KHP_U) if each.source == "formula mass" else each for each in known]
    value = float(found.value)
    others = [Power("repeatability", 1.0, 0.0005), Power("warmth", 18.64, 0.006, "cm3", -1.0)]
    return budget(value, [*known, *lines(value, others)])


def warmth(volume, room, exponent):
    """QUAM: 4 °C either way, 2.1e-4 a degree, rectangular, for the volume as rounded there."""
    return Power("warmth", volume, standard_uncertainty(room * 2.1e-4 * 4, "rectangular"), "cm3", exponent)


def quam_a3(repeatability=0.001):
    """QUAM:2012, A3: HCl titrated with the NaOH of A2, inputs as restated in the documentation of GTC (CITAC_A3)."""
    naoh = quam_a2()
    # Weighing, purity and formula mass as in A2; both titres and the pipette with their warmth; one repeatability.
    kept = {"weighing": 0.3888, "purity": 1.0, "formula mass": KHP}
    standard = [row for row in naoh.rows if row["source"] in kept]
    others = [
        *(Power(row["source"], kept[row["source"]], row["value"], row["unit"]) for row in standard),
        Power("titre of the standardisation", 18.64, standard_uncertainty(0.03, "triangular"), "cm3", -1.0),
        warmth(18.64, 19, -1.0),
        warmth(14.89, 15, 1.0),
        Power("pipette", 15.0, 0.02 / sqrt(6), "cm3", -1.0),
        warmth(15.0, 15, -1.0),
    ]
    value = naoh.value * 14.89 / 15.0
    titres = Titres(
        slope=value / 14.89,
        runs=np.array([1.0]),
        burette=glassware.burette(50.0, 0.1, tolerance=0.03)._replace(division=None),
        repeatability=Repeatability(repeatability * 14.89, inf),
        drop=0.0,
    )
    return titration_budget(np.array([value]), titres, lines(value, others)).of(0)


def contributions(found):
    """Return what each source does to the result, in its unit."""
    return {row["source"]: row["percent"] / 100 * found.value for row in found.rows}


def test_quam_a2_to_all_printed_digits():
    found = quam_a2()
    # Printed: 0.10214 mol/L, u 0.00010; by GTC 1.5.1: 0.10213615970679 and 0.00010050072212.
    assert round(found.value, 5) == 0.10214
    assert round(found.standard_uncertainty, 5) == 0.00010
    assert found.value == pytest.approx(0.102136159706, abs=5e-12)
    assert found.standard_uncertainty == pytest.approx(0.000100500722124, abs=5e-15)


def test_quam_a2_has_the_contributions_of_the_guide():
    rows = contributions(quam_a2())
    # GTC 1.5.1, CITAC_A2: V 7.47292e-5 (calibration and warmth together), R 5.10681e-5, m 3.21735e-5, P 2.94842e-5,
    # M 1.88312e-6.
    assert np.hypot(rows["burette calibration"], rows["warmth"]) == pytest.approx(7.47292e-5, abs=5e-10)
    assert rows["repeatability"] == pytest.approx(5.10681e-5, abs=5e-10)
    assert rows["weighing"] == pytest.approx(3.21735e-5, abs=5e-10)
    assert rows["purity"] == pytest.approx(2.94842e-5, abs=5e-10)
    assert rows["formula mass"] == pytest.approx(1.88312e-6, abs=5e-11)


def test_quam_a2_has_the_formula_mass_of_the_guide():
    # QUAM:2012, A2.4: 204.2212 g/mol, u 0.0038 (0.00376530).
    assert pytest.approx(204.2212, abs=5e-5) == KHP
    assert pytest.approx(0.00376530, abs=5e-9) == KHP_U


def test_quam_a3_to_all_printed_digits():
    found = quam_a3()
    # Printed: 0.10139 mol/L, u 0.00018; by GTC 1.5.1: 0.10138716120 and 0.00018433874.
    assert round(found.value, 5) == 0.10139
    assert round(found.standard_uncertainty, 5) == 0.00018
    assert found.value == pytest.approx(0.10138716120, abs=5e-11)
    assert found.standard_uncertainty == pytest.approx(0.00018433874, abs=5e-11)


def test_quam_a3_of_three_runs():
    # Repeatability 0.001/sqrt(3): u 0.00016 (0.0001647), GTC 1.5.1.
    assert quam_a3(0.001 / sqrt(3)).standard_uncertainty == pytest.approx(0.0001647, abs=5e-8)


def test_quam_a3_has_the_contributions_of_the_guide():
    rows = contributions(quam_a3())
    # GTC 1.5.1, CITAC_A3: R 0.000101387, m 3.19376e-5, P 2.9268e-5, M 1.86931e-6.
    assert rows["repeatability (pooled over the class)"] == pytest.approx(0.000101387, abs=5e-10)
    assert rows["weighing"] == pytest.approx(3.19376e-5, abs=5e-10)
    assert rows["purity"] == pytest.approx(2.9268e-5, abs=5e-10)
    assert rows["formula mass"] == pytest.approx(1.86931e-6, abs=5e-11)


def test_quam_a2_from_the_rounded_table():
    # Web edition of the guide, Table A2.1: relative u 0.00097, c 0.10214, u 0.00010.
    rows = [
        Power("repeatability", 1.0, 0.0005),
        Power("mass", 0.3888, 0.00013, "g"),
        Power("purity", 1.0, 0.00029),
        Power("formula mass", 204.2212, 0.0038, "g/mol", -1),
        Power("titre", 18.64, 0.013, "cm3", -1),
    ]
    found = budget(1000 * product(rows), lines(1000 * product(rows), rows))
    assert found.value == pytest.approx(0.10214, abs=5e-6)
    assert found.standard_uncertainty == pytest.approx(0.00010, abs=5e-6)
    assert found.standard_uncertainty / found.value == pytest.approx(0.00097, abs=5e-6)


# NIST TN 1297, Table B.1 (same content as GUM, Table G.2); 68.27, 90, 95, 95.45, 99, 99.73 %. The cell 35, 90 % is
# printed 1.70 and is 1.690: left out with its row.
T_TABLE = {
    1: (1.84, 6.31, 12.71, 13.97, 63.66, 235.8),
    2: (1.32, 2.92, 4.30, 4.53, 9.92, 19.21),
    3: (1.20, 2.35, 3.18, 3.31, 5.84, 9.22),
    4: (1.14, 2.13, 2.78, 2.87, 4.60, 6.62),
    5: (1.11, 2.02, 2.57, 2.65, 4.03, 5.51),
    6: (1.09, 1.94, 2.45, 2.52, 3.71, 4.90),
    7: (1.08, 1.89, 2.36, 2.43, 3.50, 4.53),
    8: (1.07, 1.86, 2.31, 2.37, 3.36, 4.28),
    9: (1.06, 1.83, 2.26, 2.32, 3.25, 4.09),
    10: (1.05, 1.81, 2.23, 2.28, 3.17, 3.96),
    12: (1.04, 1.78, 2.18, 2.23, 3.05, 3.76),
    15: (1.03, 1.75, 2.13, 2.18, 2.95, 3.59),
    20: (1.03, 1.72, 2.09, 2.13, 2.85, 3.42),
    30: (1.02, 1.70, 2.04, 2.09, 2.75, 3.27),
    50: (1.01, 1.68, 2.01, 2.05, 2.68, 3.16),
    100: (1.005, 1.660, 1.984, 2.025, 2.626, 3.077),
    inf: (1.000, 1.645, 1.960, 2.000, 2.576, 3.000),
}
LEVELS = (0.6826894921, 0.90, 0.95, 0.9544997361, 0.99, 0.9973002039)


@pytest.mark.parametrize(("dof", "row"), T_TABLE.items())
def test_t_has_the_printed_values(dof, row):
    half = 0.05001 if dof == 1 else 0.00501
    assert [float(t_quantile(0.5 + level / 2, dof)) for level in LEVELS[:5]] == pytest.approx(row[:5], abs=0.00501)
    assert float(t_quantile(0.5 + LEVELS[5] / 2, dof)) == pytest.approx(row[5], abs=half)


@given(st.floats(0.5, 1e9), st.floats(0.51, 0.999))
def test_t_agrees_with_scipy(dof, probability):
    from scipy import stats

    assert float(t_quantile(probability, dof)) == pytest.approx(
        float(stats.t.ppf(probability, dof)), rel=1e-6, abs=1e-7
    )


def test_half_widths():
    # GUM 4.3.7, 4.3.9, H.1.3.4: a/sqrt(3), a/sqrt(6), a/sqrt(2).
    assert standard_uncertainty(0.03, "triangular") == pytest.approx(0.0122474, abs=5e-8)
    assert standard_uncertainty(0.00015, "rectangular") == pytest.approx(0.0000866, abs=5e-8)
    assert standard_uncertainty(1.0, "arcsine") == pytest.approx(0.707107, abs=5e-7)
    with pytest.raises(ValueError, match="no distribution 'flat'"):
        standard_uncertainty(1.0, "flat")


def test_effective_degrees_of_freedom_of_gum_g41():
    # JCGM 100:2008, G.4.1 (from memory): 0.25, 0.57, 0.82 % with n 10, 5, 15: 1.03 %, nu 19.0, t95 2.09, U 2.2 %.
    rows = [Component(str(n), 1.0, u, dof=n - 1) for u, n in ((0.0025, 10), (0.0057, 5), (0.0082, 15))]
    found = budget(1.0, rows)
    assert 100 * found.standard_uncertainty == pytest.approx(1.03, abs=0.005)
    assert found.dof == pytest.approx(19.0, abs=0.05)
    assert found.coverage_factor == pytest.approx(2.09, abs=0.005)
    assert 100 * found.expanded == pytest.approx(2.2, abs=0.05)


def test_effective_degrees_of_freedom_of_the_end_gauge():
    # JCGM 100:2008, H.1: 25 nm (18), 9.7 nm (25.6), 2.9 nm (50), 16.6 nm (2): u_c 32 nm, nu 16, t99 2.92, U99 93 nm.
    u, nu = [25.0, 9.7, 2.9, 16.6], [18, 25.6, 50, 2]
    combined = float(np.sqrt(np.sum(np.square(u))))
    dof = int(welch_satterthwaite(u, nu))
    assert round(combined) == 32
    assert dof == 16
    t99 = float(t_quantile(0.995, dof))
    assert t99 == pytest.approx(2.92, abs=0.005)
    assert 32 * t99 == pytest.approx(93, abs=0.5)


def test_effective_degrees_of_freedom_with_sensitivities():
    # R package metRology, example of w.s: u 0.1, 0.3, 0.2, 1.1; c 1, 2, 3, 0.5; df inf, 6, 8, 3. Computed: 1.0161201,
    # 15.60796.
    contributions = [0.1, 0.6, 0.6, 0.55]
    assert np.sqrt(np.sum(np.square(contributions))) == pytest.approx(1.0161201, abs=1e-6)
    assert welch_satterthwaite(contributions, [inf, 6, 8, 3]) == pytest.approx(15.60796, abs=1e-5)


powers = st.sampled_from([-2, -1, 1, 2, 0.5])
inputs = st.lists(st.tuples(st.floats(0.1, 100), st.floats(1e-6, 0.05), powers), min_size=1, max_size=6)


@given(inputs)
def test_budgets_agree_with_the_uncertainties_package(sources):
    from uncertainties import ufloat

    rows = [Power(str(i), x, x * relative, exponent=e) for i, (x, relative, e) in enumerate(sources)]
    other = prod(ufloat(x, x * relative) ** e for x, relative, e in sources)
    ours = budget(product(rows), lines(product(rows), rows))
    assert ours.value == pytest.approx(other.nominal_value, rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(other.std_dev, rel=1e-9, abs=1e-15)


@given(inputs)
def test_shares_add_up_and_come_largest_first(sources):
    rows = [Power(str(i), x, x * relative, exponent=e) for i, (x, relative, e) in enumerate(sources)]
    found = budget(1.0, lines(1.0, rows))
    sizes = contributions(found).values()
    # What is alike to ten decimals of a per cent keeps its order, whatever the last bits say.
    percents = [round(row["percent"], 10) for row in found.rows]
    assert percents == sorted(percents, reverse=True)
    if found.standard_uncertainty > 0:
        assert sum(row["share"] for row in found.rows) == pytest.approx(1.0)
    assert sum(size**2 for size in sizes) == pytest.approx(found.standard_uncertainty**2)


def class_b(value, rows=(), mean=24.40, runs=2.0, slope=None, **more):
    """Return the budgets of results that go with the titre, and with `rows`; the burette is of class B."""
    values = np.atleast_1d(value)
    slopes = values / mean if slope is None else slope
    titres = Titres(slopes, np.atleast_1d(runs), glassware.burette(50, 0.1, "B"), **more)
    return titration_budget(values, titres, lines(values, rows))


PIPETTE = Power("pipette calibration", 25.0, 0.06 / sqrt(6), "cm3", -1.0)
STANDARD = Power("concentration of H2SO4", 0.0500, 0.0001, "mol/dm3")


def test_a_titration_budget_by_hand():
    found = class_b(0.0976, [PIPETTE, STANDARD], repeatability=Repeatability(0.05, 40)).of(0)
    titre = (0.10**2 / 6 + 0.05**2 / 6 + 0.05**2 / 2) / 24.40**2
    relative = sqrt(titre + 0.06**2 / 6 / 25**2 + 0.002**2)
    assert found.standard_uncertainty == pytest.approx(0.0976 * relative)
    assert found.expanded == pytest.approx(found.coverage_factor * found.standard_uncertainty)
    assert [row["source"] for row in found.rows][:2] == ["concentration of H2SO4", "burette calibration"]
    assert found.notes == (POOLED,)


def test_the_sentence_names_the_largest_part_and_what_halving_it_brings():
    found = class_b(0.0976, [PIPETTE], repeatability=Repeatability(0.05, 40)).of(0)
    total = sqrt(sum(row["percent"] ** 2 for row in found.rows))
    halved = sqrt(total**2 - 0.75 * found.rows[0]["percent"] ** 2)
    assert found.sentence.startswith("Largest part: burette calibration (")
    assert "To reduce it, use a burette of a better class" in found.sentence
    assert f"fall from {total:.2f} % to {halved:.2f} %" in found.sentence


def test_readings_are_not_counted_beside_the_repeatability_that_holds_them():
    pooled = class_b(0.1, repeatability=Repeatability(0.05, 40)).of(0)
    guessed = class_b(0.1, repeatability=Repeatability(0.05, 4)).of(0)
    assert {row["source"] for row in pooled.rows} == {
        "burette calibration",
        "endpoint",
        "repeatability (pooled over the class)",
    }
    assert {row["source"] for row in guessed.rows} == {"burette calibration", "endpoint", "two readings", "last drop"}
    assert (pooled.notes, guessed.notes) == ((POOLED,), (GUESSED,))


def test_titres_alike_to_the_digit_are_still_rounded():
    # Two readings to the nearest 0.05: ± 0.025 each, rectangular, over two runs.
    found = class_b(0.1, repeatability=Repeatability(0.0, 40)).of(0)
    row = next(row for row in found.rows if row["source"].startswith("repeatability"))
    assert row["value"] == pytest.approx(0.025 * sqrt(2) / sqrt(3) / sqrt(2))


def test_more_runs_lessen_the_repeatability_and_nothing_else():
    two, four = (class_b(0.1, runs=n, repeatability=Repeatability(0.05, 40)) for n in (2.0, 4.0))
    assert (four.contribution / two.contribution)[:, 0] == pytest.approx([1.0, 1.0, 1 / sqrt(2)])


def test_a_burette_that_holds_the_unknown_is_as_uncertain():
    plus, minus = (class_b(0.1, slope=e, repeatability=Repeatability(0.05, 40)) for e in (0.004, -0.004))
    assert plus.standard_uncertainty == pytest.approx(minus.standard_uncertainty)


def test_a_sensitivity_may_differ_from_student_to_student():
    found = class_b([0.1, 0.1], runs=np.array([2.0, 2.0]), slope=np.array([0.004, 0.012]))
    assert found.standard_uncertainty[1] == pytest.approx(3 * found.standard_uncertainty[0])


def test_a_student_without_a_result_has_no_uncertainty_and_spoils_no_other():
    found = class_b(
        [0.1, np.nan], [PIPETTE], np.array([24.4, np.nan]), np.array([2.0, 2.0]), repeatability=Repeatability(0.05, 40)
    )
    alone = class_b(0.1, [PIPETTE], repeatability=Repeatability(0.05, 40))
    assert np.isnan(found.expanded[1])
    assert found.expanded[0] == pytest.approx(alone.expanded[0])


def test_the_class_at_once_is_each_student_alone():
    rng = np.random.default_rng(4)
    mean, runs = rng.normal(24.4, 0.3, 30), rng.integers(1, 4, 30).astype(float)
    value = 0.1 * mean / 25
    whole = class_b(value, [PIPETTE, STANDARD], mean, runs, repeatability=Repeatability(0.05, 40))
    for i in range(30):
        alone = class_b(value[i], [PIPETTE, STANDARD], mean[i], runs[i], repeatability=Repeatability(0.05, 40)).of(0)
        assert whole.of(i).expanded == pytest.approx(alone.expanded, rel=1e-12)
        assert whole.of(i).rows[0]["source"] == alone.rows[0]["source"]


def test_a_formula_mass_is_next_to_nothing():
    found = budget(0.1, lines(0.1, [PIPETTE, Power("formula mass of NaOH", 39.997, 0.001, "g/mol")]))
    assert found.rows[-1]["source"] == "formula mass of NaOH"
    assert found.rows[-1]["share"] < 0.001


def test_a_result_without_any_uncertainty_has_nothing_to_improve():
    found = budget(0.1, [Component("pipette", 0.004, 0.0)])
    assert (found.standard_uncertainty, found.sentence) == (0.0, "")


def test_repeatability_takes_all_accurate_runs_and_no_harm_from_one_gone_wrong():
    rng = np.random.default_rng(12)
    titres = rng.normal(24.4, 0.3, 30)[:, None] + rng.normal(0, 0.06, (30, 3))
    student = np.repeat(np.arange(30), 3)
    clean = class_repeatability(titres.ravel(), student)
    assert clean.sd == pytest.approx(0.06, rel=0.25)
    assert clean.dof == 60
    titres[4, 1] += 5.0
    assert class_repeatability(titres.ravel(), student).sd == pytest.approx(clean.sd, rel=0.10)


def test_single_runs_give_no_repeatability():
    assert class_repeatability([24.4, 24.5, np.nan], ["a", "b", "b"]) is None
    assert class_repeatability([], []) is None


def standardisation(masses, titres, *changes):
    """Return the budget of a standardisation of alkali with potassium hydrogen phthalate, weighed to 0.0001 g."""
    weighed = ("masses = [0.3888]\ntitres = [18.64]", f"masses = {masses}\ntitres = {titres}")
    balance = ("purity_within", "weighing_within = 0.0001\npurity_within")
    return with_standardisation(practical(VINEGAR, weighed, balance, *changes))[1]


def test_a_standardisation_takes_its_repeatability_from_the_scatter():
    masses, titres = [0.5100, 0.5060, 0.5130], [24.95, 24.80, 25.10]
    found = standardisation(masses, titres)
    each = 1000 * np.array(masses) / (204.2223 * np.array(titres))
    row = next(row for row in found.rows if row["source"] == "repeatability")
    assert found.value == pytest.approx(each.mean())
    assert row["percent"] == pytest.approx(100 * each.std(ddof=1) / each.mean() / sqrt(3))
    # It alone has degrees of freedom of its own: those of the whole are 2 over its share squared (Welch-Satterthwaite).
    assert found.dof == pytest.approx(2 / row["share"] ** 2)


def test_a_single_standardisation_is_taken_to_repeat_within_half_a_per_cent():
    found = standardisation([0.51], [25.0])
    assert found.rows[0]["source"] == "repeatability"
    assert found.rows[0]["percent"] == pytest.approx(0.5)


@pytest.mark.parametrize(("mass", "titre"), [([], []), ([0.5], [0.0]), ([-0.5], [25.0]), ([0.5, np.nan], [25.0, 25.0])])
def test_a_standardisation_without_mass_or_titre_is_refused(mass, titre):
    with pytest.raises(InputError, match="standardisation"):
        standardisation(mass, titre)


@pytest.mark.slow
def test_monte_carlo_agrees_with_the_linear_budget():
    # GUM Supplement 1 (JCGM 101:2008), 8: with a million draws the ends of the 95 % interval agree within half a unit
    # of the second figure of u (delta = 0.000005 for u 0.00028).
    rng = np.random.default_rng(101)
    draws = 1_000_000
    titre = 24.40 + rng.triangular(-0.1, 0, 0.1, draws) + rng.triangular(-0.05, 0, 0.05, draws)
    titre += rng.normal(0, 0.05 / sqrt(2), draws)
    pipette, acid = 25 + rng.triangular(-0.06, 0, 0.06, draws), rng.normal(0.05, 0.0001, draws)
    result = 2 * acid * titre / pipette
    linear = class_b(0.0976, [PIPETTE, STANDARD], repeatability=Repeatability(0.05, inf)).of(0)
    assert result.std() == pytest.approx(linear.standard_uncertainty, abs=5e-6)
    assert np.quantile(result, 0.025) == pytest.approx(linear.value - linear.expanded, abs=5e-6)
    assert np.quantile(result, 0.975) == pytest.approx(linear.value + linear.expanded, abs=5e-6)


@pytest.mark.slow
@pytest.mark.parametrize(("scatter", "runs"), [(0.03, 3), (0.05, 3), (0.08, 3), (0.05, 2), (0.05, 4)])
def test_the_95_per_cent_interval_holds_the_truth_93_to_97_times_in_100(scatter, runs):
    # 600 classes of 24 students who make no gross mistake; standard known to 0.2 %, drawn once a class.
    rng, inside, results = np.random.default_rng(11), 0, 0
    for _ in range(600):
        drawn = simulate(rng, Recipe(technique=0.0, gross=0.0, scatter=scatter, runs=runs))
        value = drawn.result * (1 + rng.normal(0, 0.002))
        seen = class_repeatability(drawn.titres.ravel(), np.repeat(np.arange(24), runs))
        taken = drawn.used.sum(axis=1).astype(float)
        found = class_b(value, [PIPETTE, STANDARD], drawn.mean, taken, repeatability=seen)
        inside += int(np.count_nonzero(np.abs(value - drawn.truth) <= found.expanded))
        results += value.size
    assert 0.93 <= inside / results <= 0.97


def test_budgets_of_a_class_share_one_table():
    found = budget_table(np.array([0.1, 0.2]), lines(np.array([0.1, 0.2]), [PIPETTE, STANDARD]))
    assert found.contribution.shape == (2, 2)
    assert found.standard_uncertainty[1] == pytest.approx(2 * found.standard_uncertainty[0])
