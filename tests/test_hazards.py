"""Cautions on the solutions of a practical come from one table of concentrations, each row with its source."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from labmark.practical.equation import parse_formula
from labmark.practical.hazards import caution_of, cautions_of, hazards
from labmark.practicals import text_of
from tests.practicals import DRAIN_CLEANER, EGGSHELLS, practical

ACID = "concentration = 0.0500"


def caution(name: str, text: str = DRAIN_CLEANER) -> str:
    """Return the one caution that begins with a name."""
    (found,) = [each for each in cautions_of(practical(text)) if each.startswith(name)]
    return found


@pytest.mark.parametrize(
    ("concentration", "says"),
    [
        # CLP, Annex VI, sulfuric acid: irritating from 5 %, corrosive from 15 % (from memory); 98.08 g/mol.
        ("0.0500", "below the limits for a hazard label; irritating to skin and eyes from 0.51 mol/dm³"),
        ("0.52", "irritating to skin and eyes"),
        ("1.6", "corrosive"),
    ],
)
def test_what_is_said_of_a_solution_follows_from_its_concentration(concentration, says):
    assert caution("sulfuric acid", DRAIN_CLEANER.replace(ACID, f"concentration = {concentration}")).endswith(
        f": {says}"
    )


def test_a_solution_that_the_students_are_to_find_the_strength_of_gets_every_limit():
    # 0.5 % and 2 % of sodium hydroxide, 40.00 g/mol.
    assert caution("sodium hydroxide") == (
        "sodium hydroxide, strength unknown: irritating to skin and eyes from 0.13 mol/dm³; corrosive from 0.50 mol/dm³"
    )


def test_hydrogen_peroxide_is_classified_as_the_registry_prints_it():
    # Eye Irrit. 2 from 5 %, Eye Dam. 1 from 8 %, Skin Corr. 1B from 50 %; 34.01 g/mol.
    assert caution("hydrogen peroxide", text_of("hydrogen-peroxide")) == (
        "hydrogen peroxide, strength unknown: irritating to eyes from 1.5 mol/dm³; damaging to eyes from 2.4 mol/dm³; "
        "corrosive from 15 mol/dm³"
    )


@pytest.mark.parametrize(
    ("formula", "concentration", "says"),
    [
        # Potassium dichromate, 294.18 g/mol: 0.0167 mol/dm³ is 0.49 %, 0.1 % is 0.0034 mol/dm³.
        ("K2Cr2O7", "0.0167", "potassium dichromate, 0.0167 mol/dm³: may cause cancer and genetic defects (category 1B)"),
        ("Cr2O7^2-", "0.0167", "potassium dichromate, 0.0167 mol/dm³: may cause cancer and genetic defects (category 1B)"),
        ("K2Cr2O7", "0.003", "potassium dichromate, 0.003 mol/dm³: below the limits for a hazard label; may cause cancer and genetic defects (category 1B) from 0.0034 mol/dm³"),
        # Borax, 381.37 g/mol with its water: 0.3 % is 0.0079 mol/dm³.
        ("Na2B4O7", "0.0500", "borax, 0.05 mol/dm³: may damage fertility or the unborn child (category 1B)"),
        ("Na2B4O7", "0.007", "borax, 0.007 mol/dm³: below the limits for a hazard label; may damage fertility or the unborn child (category 1B) from 0.0079 mol/dm³"),
        # Potassium thiocyanate, 97.18 g/mol: 25 % is 2.6 mol/dm³.
        ("SCN^-", "0.0500", "potassium thiocyanate, 0.05 mol/dm³: below the limits for a hazard label; harmful if swallowed, breathed in or on the skin, and harmful to water life from 2.6 mol/dm³"),
        # Copper(II) sulfate, 249.69 g/mol with its water: 0.2 mol/dm³ is 5.0 %.
        ("CuSO4", "0.200", "copper(II) sulfate, 0.2 mol/dm³: damaging to eyes, and very toxic to water life"),
    ],
)  # fmt: skip
def test_what_is_common_in_titrations_is_classified(formula, concentration, says):
    assert caution_of(parse_formula(formula), Fraction(concentration)) == says


def test_every_formula_of_a_row_is_written_as_species_are_named():
    for row in hazards():
        for formula in row.get("species", ()):
            assert parse_formula(formula).name == formula


def test_the_reagent_in_excess_has_its_caution_too():
    assert caution("hydrochloric acid", EGGSHELLS).startswith("hydrochloric acid, 1 mol/dm³: ")


def test_solid_phenolphthalein_may_cause_cancer():
    said = caution("phenolphthalein", f'indicator = "phenolphthalein"\n{DRAIN_CLEANER}')
    assert "may cause cancer (category 1B)" in said


def test_chromate_may_cause_cancer_as_an_indicator():
    assert "cancer" in caution("potassium chromate", text_of("chloride-with-blank"))


def test_what_is_not_in_the_table_is_never_called_harmless():
    said = cautions_of(practical(f'indicator = "beetroot juice"\n{DRAIN_CLEANER}'))
    assert "indicator (beetroot juice): see its safety data sheet" in said


def test_a_caution_of_the_teacher_s_own_on_the_indicator_needs_no_second_one():
    own = 'indicator = "beetroot juice"\ncautions = ["Beetroot juice: stains"]\n' + DRAIN_CLEANER
    assert not [each for each in cautions_of(practical(own)) if "indicator" in each]


@pytest.mark.parametrize(
    ("name", "called"),
    [("standardise-by-weighing", "potassium hydrogen phthalate"), ("sea-water", "sodium chloride")],
)
def test_a_substance_without_limits_is_called_what_its_bottle_is_called(name, called):
    assert f"{called}: see its safety data sheet" in cautions_of(practical(text_of(name)))


def test_a_standard_that_is_weighed_is_never_called_a_weak_solution():
    said = cautions_of(practical(text_of("standardise-acid-with-own-carbonate")))
    assert "sodium carbonate, strength unknown: irritating to eyes from 0.94 mol/dm³" in said


def test_every_row_names_its_source_and_its_limits_fall():
    for row in hazards():
        assert "from memory" in row["source"] or "ECHA" in row["source"]
        limits = [each["from"] for each in row["limits"]]
        assert limits == sorted(limits, reverse=True)


TYPED = [
    (file, text)
    for file in sorted((Path(__file__).parents[1] / "templates" / "practicals").glob("*.toml"))
    for text in tomllib.loads(file.read_text(encoding="utf-8")).get("cautions", ())
]


@pytest.mark.parametrize(("file", "text"), TYPED, ids=[f"{file.stem}: {text[:20]}" for file, text in TYPED])
def test_what_is_typed_in_a_practical_does_not_repeat_the_table(file, text):
    said = [re.split("[,:]", each)[0] for each in cautions_of(practical(file.read_text(encoding="utf-8")))]
    assert re.split("[,:]", text)[0] not in said
    assert not re.search("low hazard|suspected", text)


def test_a_strength_that_is_typed_in_a_practical_is_classified_as_the_table_does():
    strengths = [found for _, text in TYPED if (found := re.match(r"sulfuric acid, ([\d.]+) mol/dm³.*", text))]
    assert strengths
    for found in strengths:
        classified = caution("sulfuric acid", DRAIN_CLEANER.replace(ACID, f"concentration = {found[1]}"))
        assert classified.rpartition(": ")[2] in found[0]


@pytest.mark.parametrize("name", ["bleach", "dissolved-oxygen", "chloride-with-blank", "water-hardness"])
def test_nobody_is_sent_to_the_safety_data_sheet_of_an_ion_or_of_oxygen_in_water(name):
    told = cautions_of(practical(text_of(name)))
    sent = [each.partition(":")[0] for each in told if each.endswith("see its safety data sheet")]
    assert [each for each in sent if not each.startswith("indicator")] == []
