"""What a lesson needs: quantities by hand, what is warned of, and the pages."""

from __future__ import annotations

import io
import json
import math

import pytest
from click.testing import CliRunner

from labmark.cli import main
from labmark.lesson.pages import _solution, results_sheets
from labmark.lesson.prepare import prepared
from labmark.meaning import examples_of
from labmark.practical import practical_from_toml
from labmark.practical.hazards import cautions_of
from labmark.practicals import named, shipped, text_of
from tests.practicals import DRAIN_CLEANER, card
from tests.seeds import few_quick

OF_BOTTLES = 'concentration = { by = "Bottle", values = { A = 0.0500, B = 0.0470 } }'


def tree(name: str, *changes: tuple[str, str], students: int = 28) -> dict:
    text = text_of(name) if "\n" not in name else name
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return prepared(practical_from_toml(text, "own.toml"), students).tree


def solution(made: dict, role: str) -> dict:
    return next(each for each in made["solutions"] if each["role"] == role)


def warned(made: dict) -> list[str]:
    return [each["warning"] for each in made["warnings"]]


def test_sodium_hydroxide_for_a_class_by_hand():
    # By hand: 4 runs × 25 cm³ and 25 cm³ to rinse: 125 cm³; × 28 × 1.20 = 4200 cm³; × 0.1012 mol/dm³ × 40.00 g/mol = 17.0 g.
    flask = solution(tree("drain-cleaner"), "flask")
    assert (flask["solution"], flask["per_student_cm3"], flask["total_cm3"], flask["mass_g"]) == (
        "NaOH",
        125,
        4200,
        17.0,
    )
    assert "below the limits for a hazard label" in flask["caution"]
    assert "local risk assessment" in flask["caution"]


def test_an_acid_is_diluted_from_the_bench_solution():
    # By hand: 4 × 25.30 + 25 = 126.2, so 127 cm³; × 28 × 1.20 = 4267, so 4300 cm³; × 0.0500 ÷ 1.0 = 215 cm³.
    burette = solution(tree("drain-cleaner"), "burette")
    assert (burette["per_student_cm3"], burette["total_cm3"]) == (127, 4300)
    assert burette["from_stock"] == {"concentration": 1.0, "volume_cm3": 215.0}


def test_a_sample_that_is_diluted_comes_from_its_bottle():
    # By hand: 4200 cm³ × 25 ÷ 250 = 420 cm³; 5.12 g in 100 cm³ ÷ 60.05 g/mol = 0.853 mol/dm³.
    flask = solution(tree("vinegar"), "flask")
    assert flask["from_stock"] == {"concentration": pytest.approx(0.853, abs=0.001), "volume_cm3": 420.0}
    assert flask["mass_g"] is None


def test_a_reagent_in_excess_is_counted_once_where_the_mixture_is_made_up():
    # By hand: eggshells take 50 cm³ once; household ammonia 50 cm³ in every run.
    assert solution(tree("eggshells"), "excess")["per_student_cm3"] == 75
    assert solution(tree("household-ammonia"), "excess")["per_student_cm3"] == 225


def test_a_reagent_whose_blank_alone_is_known_has_its_strength_from_that():
    # By hand: 37.50 cm³ × 0.500 mol/dm³ ÷ 25.0 cm³ = 0.750 mol/dm³.
    assert solution(tree("saponification-value"), "excess")["concentration"] == pytest.approx(0.750)


BLANK_OF_A_PORTION = (("concentration = 1.000 ", "# "), ("[result]", "[blank]\ntitre = 49.90\n[result]"))


def test_a_blank_of_a_portion_of_the_mixture_tells_of_all_of_it():
    # By hand: 49.90 cm³ × 0.1000 mol/dm³ × 250.0 ÷ 25.0 ÷ 50.0 cm³ = 0.998 mol/dm³.
    assert solution(tree("eggshells", *BLANK_OF_A_PORTION), "excess")["concentration"] == pytest.approx(0.998)


def test_a_blank_that_the_students_find_says_no_strength_beforehand():
    of_students = [(old, new.replace("titre = 49.90", "runs = true")) for old, new in BLANK_OF_A_PORTION]
    made = tree("eggshells", *of_students)
    assert (solution(made, "excess")["concentration"], made["expected_titre"]) == (None, None)
    assert [(each["solution"], each["key"]) for each in made["missing"]] == [("HCl", "excess.concentration")]


def test_what_students_weigh_is_ready_for_every_run_that_uses_it_up():
    # By hand: 25.02 cm³ × 0.1004 mol/dm³ × 204.22 g/mol = 0.513 g a run; five runs, 28 students, and a fifth more: 86.2 g.
    once, each = tree("soda-crystals-own-masses"), tree("standardise-by-weighing")
    assert solution(once, "flask")["name"] == "the sample"
    standard = solution(each, "standard")
    assert standard["mass_g"] == pytest.approx(86.2, rel=0.01)


def test_the_expected_titre_is_given_over_the_references_expanded_uncertainty():
    # By hand: 0.1012 × 25.0 ÷ 2 ÷ 0.0500 = 25.30 cm³; ± 2 × 0.0004 ÷ 0.1012 of it = ± 0.20 cm³.
    assert tree("drain-cleaner")["expected_titre"] == {"value": 25.30, "low": 25.10, "high": 25.50}
    assert tree("antacid-tablets")["expected_titre"] is None


def test_what_is_wrong_with_a_practical_is_warned_of():
    assert warned(tree("limescale-remover")) == []
    assert "indicator-unsuitable" in warned(tree("vinegar", ('"phenolphthalein"', '"methyl orange"')))
    assert "titre-out-of-range" in warned(tree(DRAIN_CLEANER, ("value = 0.0974", "value = 0.0150")))
    assert "band-finer-than-glassware" in warned(
        tree("limescale-remover", ("{ within = 0.20, mark = 3 }", "{ within = 0.05, mark = 3 }"))
    )
    assert "too-few-figures" in warned(tree(DRAIN_CLEANER, ("0.0500", "0.05")))


def test_a_concentration_that_nobody_knows_is_said_with_its_key():
    bare = DRAIN_CLEANER.partition("[reference]")[0]
    (said,) = tree(bare)["missing"]
    assert (said["solution"], said["key"]) == ("NaOH", "reference.value")


def test_what_nobody_says_is_not_made_up():
    # Each student weighs, and there is no reference that would say how much.
    bare = text_of("soda-crystals-own-masses").partition("[reference]")
    made = tree(bare[0] + bare[2].partition("[concordance]")[1] + bare[2].partition("[concordance]")[2])
    assert solution(made, "flask")["mass_g"] is None
    (said,) = made["missing"]
    assert (said["solution"], said["key"]) == ("Na2CO3", "sample.mass")
    assert said["message"].startswith("How much Na2CO3 each student weighs is not said: give the column a default")


def test_a_default_says_how_much_each_student_weighs():
    before, _, after = text_of("soda-crystals-own-masses").partition("[reference]")
    bare = before + "[concordance]" + after.partition("[concordance]")[2]
    made = tree(bare.replace('column = "Mass" }', 'column = "Mass", default = 3.25 }'))
    # 3.25 g for each of 28 students, and a fifth more.
    assert (solution(made, "flask")["mass_g"], made["missing"]) == (pytest.approx(3.25 * 28 * 1.2, rel=0.01), [])


def test_solutions_of_several_strengths_are_said():
    (said,) = tree(DRAIN_CLEANER, ("concentration = 0.0500", OF_BOTTLES))["missing"]
    assert said["message"].startswith("H2SO4 is needed in several strengths: 0.0500 (A), 0.0470 (B) mol/dm³;")


def test_unknowns_of_several_bottles_are_said():
    (said,) = tree(DRAIN_CLEANER, ("value = 0.0974", 'by = "Bottle"\nvalues = { A = 0.0974, B = 0.1010 }'))["missing"]
    assert said["message"] == (
        "NaOH is needed for each Bottle: 0.0974 mol/dm³ (A), 0.1010 mol/dm³ (B); the one on this card is that of A"
    )


def test_a_reference_of_each_students_own_says_no_mass_either():
    before, head, after = text_of("soda-crystals-own-masses").partition("[reference]")
    made = tree(before + head + after.replace("value = ", 'value = { column = "True" } # ', 1))
    assert solution(made, "flask")["mass_g"] is None


def test_a_card_says_what_cannot_be_prepared_yet(tmp_path):
    import pypdf

    own = tmp_path / "own.toml"
    own.write_text(DRAIN_CLEANER.partition("[reference]")[0], encoding="utf-8")
    done = CliRunner().invoke(main, ["prepare", str(own), "--students", "3", "--out", str(tmp_path / "a")])
    assert "NaOH cannot be prepared yet: the practical does not give reference.value" in done.stderr
    text = " ".join(pypdf.PdfReader(tmp_path / "a" / "card.pdf").pages[0].extract_text().split())
    assert "NaOH cannot be prepared yet" in text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "there", "not_there"),
    [
        # Weighed into a conical flask by every student: no flask of the technician's, and no strength of a powder.
        ("standardise-by-weighing", ["A primary standard. Weigh it exactly. Labels"], ["into a volumetric flask"]),
        (
            "calcium-and-magnesium",
            [
                "Indicator: total: eriochrome black T (wine red to pure blue), at pH 10; calcium: calconcarboxylic acid",
                "indicator (calconcarboxylic acid): see its safety data sheet",
            ],
            [],
        ),
        # 0.3 and 0.8 of the blank titre: (37.50 − 30.00) × 0.500 × 56.106 ÷ 192 = 1.10 g, and 3.84 g at 11.25 cm³.
        ("saponification-value", ["call for 1.10 to 3.84 g", "made up with ethanol, not water"], []),
    ],
)
def test_a_card_says_what_a_technician_goes_by(name, there, not_there, tmp_path):
    import pypdf

    CliRunner().invoke(main, ["prepare", name, "--students", "24", "--out", str(tmp_path / "a")])
    text = " ".join(pypdf.PdfReader(tmp_path / "a" / "card.pdf").pages[0].extract_text().split())
    assert [each for each in there if each not in text] == []
    assert [each for each in not_there if each in text] == []


def test_titrant_and_sample_of_several_titres_are_added_up():
    # By hand: 30.00 and 20.00 cm³ in each of 4 runs, and 25 cm³ to rinse; 50.0 cm³ of water in each of 8 titrations.
    made = tree("calcium-and-magnesium")
    assert (solution(made, "burette")["per_student_cm3"], solution(made, "flask")["per_student_cm3"]) == (226, 425)
    assert (made["expected_titre"], made["indicator"]) == (None, None)
    assert "titre-out-of-range" not in warned(tree("hydroxide-and-carbonate"))


@pytest.mark.parametrize("name", few_quick(shipped(), 9))
def test_there_is_enough_of_everything_and_glass_for_the_marks(name):
    made = card(name)
    assert "band-finer-than-glassware" not in warned(made)
    for each in made["solutions"]:
        assert each["total_cm3"] >= 28 * each["per_student_cm3"] * (1 + made["reserve_percent"] / 100) - 1e-6
        assert each["caution"]


@pytest.mark.parametrize(
    ("name", "solution", "amount"),
    [
        # By hand from strengths and molar masses, not from amounts that are rounded to what is weighed or measured out.
        ("vitamin-c", "IO3-", 0.856),  # 0.004000 × 214.00 g; 3.47 g in 4050 cm³ would be 0.857
        ("chloride-with-blank", "Ag+", 3.40),  # 0.02000 × 169.87 g
        ("eggshells", "HCl", 500),  # 1.000 of 2.0 mol/dm³; 1280 cm³ in 2550 cm³ would be 502
        ("vinegar", "CH3COOH", 100),  # 25 cm³ in 250 cm³
        ("lime-water", "Ca(OH)2", None),
    ],
)
def test_what_goes_into_a_litre_is_worked_from_the_strength(name, solution, amount):
    assert {each["solution"]: each["per_dm3"] for each in card(name)["solutions"]}[solution] == amount


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("household-ammonia", "ammonia solution, 3.23 mol/dm³: corrosive, with a vapour that irritates eyes and lungs"),
        ("hydrogen-peroxide", "hydrogen peroxide, 1.79 mol/dm³: irritating to eyes"),
        ("drain-cleaner", None),
    ],
)
def test_the_card_warns_of_what_a_solution_is_diluted_from(name, said):
    # By hand: 0.1292 mol/dm³ × 250 / 10; 0.07143 mol/dm³ × 250 / 10.
    assert card(name)["solutions"][-1]["caution_of_original"] == said


OF_ACID = """
title = "Strength of an acid drain cleaner"
equation = "H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O"
[burette]
solution = "NaOH"
concentration = 0.1000
[flask]
solution = "H2SO4"
aliquot = 25.0
dilution = { taken = 10.0, made_up_to = 1000.0 }
[result]
of = "H2SO4"
quantity = "amount concentration"
[reference]
value = 4.28
"""
"""Invented."""


@pytest.mark.parametrize("text", [OF_ACID, text_of("drain-cleaner")], ids=["a sample", "the stock solution"])
def test_whoever_dilutes_sulfuric_acid_is_told_which_goes_into_which(text):
    # Common practice, no source.
    (acid,) = [each for each in tree(text)["solutions"] if each["solution"] == "H2SO4"]
    assert "Acid into water, never water into acid." in _solution(acid)["how"]


# What better glassware or a better standard would bring.


def by_hand(titre: float, burette: float, glass: float, standard: float) -> float:
    """Return the standard uncertainty [%] of a mean of two titres [cm³], and of what is known besides.

    A burette that may be out by so much (triangular), two readings of ± 0.05 cm³ a run (rectangular), the middle of a
    drop of 0.05 cm³ at the end point (rectangular) and where in the change of colour it is taken (triangular).
    glass      sum of squares of (tolerance ÷ volume), each of them triangular
    standard   its standard uncertainty [%]
    """
    of_titre = burette**2 / 6 + 2 * 0.05**2 / 3 / 2 + 0.025**2 / 3 / 2 + 0.05**2 / 6
    return math.sqrt(100**2 * (of_titre / titre**2 + glass / 6) + standard**2)


def improved(name: str, *changes: tuple[str, str]) -> dict[str, float]:
    return {each["with"]: each["percent"] for each in tree(name, *changes)["improvements"]}


def test_a_better_burette_and_a_better_standard_bring_what_they_do_by_hand():
    # Vinegar: 21.31 cm³, pipettes of 25 cm³ (± 0.06) twice, a flask of 250 cm³ (± 0.3), 0.1000 ± 0.0003 mol/dm³.
    glass = 2 * (0.06 / 25) ** 2 + (0.3 / 250) ** 2
    assert improved("vinegar") == {
        "what the practical says": pytest.approx(by_hand(21.31, 0.1, glass, 0.3), rel=1e-3),
        "a burette of class A or AS (± 0.05 cm³)": pytest.approx(by_hand(21.31, 0.05, glass, 0.3), rel=1e-3),
        "a standard known ten times as well, to 0.00003 mol/dm³": pytest.approx(
            by_hand(21.31, 0.1, glass, 0.03), rel=1e-3
        ),
        "all of these together": pytest.approx(by_hand(21.31, 0.05, glass, 0.03), rel=1e-3),
    }


def test_a_larger_pipette_brings_a_larger_titre():
    # 19.79 cm³ for 20 cm³ (± 0.06), so 24.74 cm³ for 25 cm³ (± 0.06); 0.0500 ± 0.0001 mol/dm³.
    found = improved("iodine-solution")
    assert found["what the practical says"] == pytest.approx(by_hand(19.79, 0.1, (0.06 / 20) ** 2, 0.2), rel=1e-3)
    larger = found["a pipette of 25 cm³, and so a titre of 24.74 cm³"]
    assert larger == pytest.approx(by_hand(24.74, 0.1, (0.06 / 25) ** 2, 0.2), rel=1e-3)
    assert found["all of these together"] == pytest.approx(by_hand(24.74, 0.05, (0.06 / 25) ** 2, 0.02), rel=1e-3)


@pytest.mark.parametrize(
    ("name", "changes", "offered"),
    [
        ("vinegar", [('class = "B"', 'class = "A"')], ["a standard known ten times as well, to 0.00003 mol/dm³"]),
        ("vinegar", [("standard_uncertainty = 0.0003", "")], ["a burette of class A or AS (± 0.05 cm³)"]),
        # A burette that was calibrated is better already.
        ("vinegar", [('class = "B"', "tolerance = 0.02"), ("standard_uncertainty = 0.0003", "")], []),
        # A larger portion of the sample takes more of the reagent than there is.
        ("household-ammonia", [], ["a burette of class A or AS (± 0.05 cm³)", "a standard known ten times as well, to 0.00003 mol/dm³", "all of these together"]),
        # Each of these titrations may have a burette of its own.
        ("calcium-and-magnesium", [], []),
    ],
)  # fmt: skip
def test_only_what_would_be_better_is_offered(name, changes, offered):
    assert [*improved(name, *changes)][1:] == offered


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("prepare") / "cards"
    arguments = ["prepare", "vinegar", "--students", "28", "--classes", "3", "--out", str(out)]
    done = CliRunner().invoke(main, arguments)
    assert (done.exit_code, done.stdout) == (0, "")
    assert "card.pdf" in done.stderr
    return out


def test_a_card_says_how_much_goes_into_a_flask_that_there_is(folder):
    # By hand: 3 × 28 × 111 cm³ × 1.20, so 11 200 cm³: 4.00 g of NaOH a litre; 25 cm³ of vinegar in 250 cm³.
    import pypdf

    text = " ".join(pypdf.PdfReader(folder / "card.pdf").pages[0].extract_text().split())
    assert "Weigh 44.8 g of NaOH, dissolve it and make it up to 11200 cm³. That is 4.00 g for each 1000 cm³." in text
    assert "Use pipette and volumetric flask. That is 100 cm³ for each 1000 cm³." in text
    assert "found __________ mol/dm³ Below the limits for a hazard label; irritating to skin and eyes from" in text


@pytest.mark.parametrize("name", ["dissolved-oxygen", "water-hardness"])
def test_water_that_is_looked_at_is_the_sample_and_no_solution_of_an_ion_or_of_oxygen(name):
    water = solution(tree(name), "flask")
    assert water["name"] == "the sample"
    assert water["caution"] == "the sample: see its label; the safety data sheet and the local risk assessment decide"

    assert solution(tree("moss-killer"), "flask")["name"] == "ammonium iron(II) sulfate"


def test_a_label_names_a_solution_and_not_its_ion_and_no_element_is_called_a_solution():
    burette = solution(tree("bleach"), "burette")
    assert burette["caution"] == "sodium thiosulfate: the safety data sheet and the local risk assessment decide"
    assert solution(tree("bleach"), "flask")["name"] == "sodium hypochlorite"
    practical = practical_from_toml(text_of("calcium-and-magnesium"))
    assert not {"Ca", "Mg"} & {each.partition(":")[0] for each in cautions_of(practical)}


@pytest.mark.parametrize(("size", "pages"), [("normal", 1), ("large", 2)])
def test_a_results_sheet_is_as_large_as_it_is_asked_for_and_both_pages_of_the_paper(size, pages, tmp_path):
    import pypdf

    own = tmp_path / "own.toml"
    own.write_text(f'{text_of("vinegar")}\n[sheet]\nsize = "{size}"\npaper = "letter"\n', encoding="utf-8")
    done = CliRunner().invoke(main, ["prepare", str(own), "--students", "3", "--out", str(tmp_path / "a")])
    assert done.exit_code == 0
    sheet, card = (pypdf.PdfReader(tmp_path / "a" / f"{name}.pdf") for name in ("results-sheet", "card"))
    assert len(sheet.pages) == pages
    assert [round(float(each.pages[0].mediabox.width)) for each in (sheet, card)] == [612, 612]


def test_prepare_writes_card_page_and_data(folder):
    made = json.loads((folder / "prepare.json").read_text(encoding="utf-8"))
    assert {
        "students",
        "runs",
        "reserve_percent",
        "expected_titre",
        "solutions",
        "indicator",
        "budget",
        "warnings",
    } <= {*made}
    assert (made["students"], made["classes"]) == (28, 3)
    assert solution(made, "flask")["total_cm3"] >= 3 * 28 * 125 * 1.2
    assert {"source", "unit", "percent", "share"} <= {*made["budget"][0]}
    assert made["improvements"][0]["percent"] > made["improvements"][-1]["percent"]


def test_the_pages_are_accessible_and_say_who_decides(folder):
    import pypdf

    for name in ("card.pdf", "results-sheet.pdf"):
        pdf = pypdf.PdfReader(io.BytesIO((folder / name).read_bytes()))
        assert "pdfuaid:part" in pdf.xmp_metadata.stream.get_data().decode()
        text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
        assert "risk assessment" in text
        assert "Wear eye protection throughout" in text
        assert "Never pipette by mouth" in text
        assert "Acid in a pickling vinegar" in text
    assert len(pdf.pages) == 1
    assert "(Run 3 used); the others are Mean titre and Result" in text


def test_a_results_sheet_gives_the_blank_and_no_titre_that_is_to_be_found():
    import pypdf

    def page(name: str) -> str:
        practical = named(name)
        made = results_sheets(practical, examples_of(practical), 3)
        return " ".join(pypdf.PdfReader(io.BytesIO(made)).pages[0].extract_text().split())

    assert "What you are given blank titre: 0.15 cm³" in page("chloride-with-blank")
    assert "0.00500 mol/dm³ Your readings" in page("calcium-and-magnesium")


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_every_practical_has_its_pages(name, tmp_path):
    import pypdf

    for out in (tmp_path / "one", tmp_path / "two"):
        done = CliRunner().invoke(main, ["prepare", name, "--students", "30", "--out", str(out)])
        assert done.exit_code == 0, done.output
    assert len(pypdf.PdfReader(tmp_path / "one" / "results-sheet.pdf").pages) == 1
    for file in ("card.pdf", "results-sheet.pdf", "prepare.json"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()


def test_a_practical_that_is_not_there_is_an_error_of_one_line(tmp_path):
    done = CliRunner().invoke(main, ["prepare", "no-such", "--students", "3", "--out", str(tmp_path / "a")])
    assert done.exit_code == 1
    assert done.stderr.count("\n") == 1
    assert not (tmp_path / "a").exists()
