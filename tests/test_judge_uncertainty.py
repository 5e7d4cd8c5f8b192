"""Uncertainty of whole practicals, worked out by hand beside the formula. Settings are invented."""

import numpy as np
import pytest

from labmark.judge.uncertainty import Behind, budgets, school_percents
from labmark.places import practicals_folder
from labmark.practical import practical_from_toml
from labmark.practical.equation import molar_mass_uncertainty, parse_formula
from labmark.practical.kinds import formula_of


def school(name, titre):
    made = practical_from_toml((practicals_folder() / f"{name}.toml").read_text(encoding="utf-8"), name)
    return school_percents(Behind(made, formula_of(made), None), {"titre": np.array([titre])})[0]


def test_what_is_left_of_a_difference_is_the_more_uncertain():
    # By hand: 23.00 cm³ ± 0.1 of reading and 0.1 of the burette (0.870 %), pipette 25.0 ± 0.06 (0.24 %), flask 250 ±
    # 0.30 (0.12 %), acid 0.1000 ± 0.0002 (0.2 %), mass 3.25 ± 0.002 (0.062 %): 1.491 % of the molar mass, 282.6 g/mol;
    # of which 176.6 is water: 1.491 × 282.6 ÷ 176.6 = 2.39 %.
    assert school("washing-soda-crystals", 23.00) == pytest.approx(2.39, abs=0.005)


def test_the_burette_itself_and_the_standard_belong_to_the_worst_case():
    # By hand: 25.30 cm³ ± 0.20 (0.791 %), pipette 25.0 ± 0.06 (0.24 %), 0.0500 ± 0.0001 mol/dm³ (0.2 %).
    assert school("drain-cleaner", 25.30) == pytest.approx(0.791 + 0.24 + 0.2, abs=0.001)


def test_both_formula_masses_of_a_hydrate_stand_in_its_budget():
    # By hand: x = (M − 105.988) ÷ 18.015 with M − 105.988 = 176.6: u(M(Na2CO3)) ÷ 18.015, and x × u(M(H2O)) ÷ 18.015.
    made = practical_from_toml((practicals_folder() / "washing-soda-crystals.toml").read_text(encoding="utf-8"), "")
    budget = budgets(Behind(made, formula_of(made), None), {"titre": np.array([23.00])}, np.array([2.0])).of(0)
    found = {row["source"]: row["percent"] / 100 * budget.value for row in budget.rows}
    salt, water = (molar_mass_uncertainty(parse_formula(each).atoms) for each in ("Na2CO3", "H2O"))
    assert found["formula mass"] == pytest.approx(salt / 18.015, rel=1e-4)
    assert found["formula mass of water"] == pytest.approx(budget.value * water / 18.015, rel=1e-4)
