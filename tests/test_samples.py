"""The practicals that ship, and the invented classes: they are what their maker makes, and what they claim to be."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
import zipfile
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from statistics import mean, stdev, variance

import openpyxl
import pytest

from labmark.findings import KINDS
from labmark.places import practicals_folder
from labmark.practical.hazards import cautions_of
from labmark.practical.kinds import formula_of
from labmark.practical.load import practical_from_rows, practical_from_toml
from labmark.practical.record import Practical
from tests.practicals import ratio
from tests.samples import FOLDER, sample_files
from tests.samples.bench import Student, best_set
from tests.samples.classes import make_class
from tests.samples.compare import compare, planted_facts
from tests.samples.plan import FINDING_NONE, NOTES, ClassPlan, Plant
from tests.samples.plans import DRAIN_CLEANER, EGGSHELLS, LIMESCALE_REMOVER, MOSS_KILLER, PLANS, STANDARDISING, VINEGAR
from tests.samples.working import own_result

CRITERIA = ["recording", "table", "titres", "concordance", "selection", "mean", "calculation", "figures", "accuracy"]
SHIPPED = sorted(path.stem for path in practicals_folder().glob("*.toml"))


def practical(name: str) -> Practical:
    return practical_from_toml((practicals_folder() / f"{name}.toml").read_text(encoding="utf-8"), name)


def sheet_rows(name: str) -> list[list[object]]:
    """Return the class table of a sample file, headings first."""
    if name.endswith(".csv"):
        return [list(row) for row in csv.reader(io.StringIO((FOLDER / name).read_text(encoding="utf-8-sig")))]
    return [list(row) for row in openpyxl.load_workbook(FOLDER / name)["Results"].iter_rows(values_only=True)]


def planted() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((FOLDER / "planted.csv").read_text(encoding="utf-8"))))


def unplanted(plan: ClassPlan) -> list[Student]:
    students = [each for each in make_class(plan) if not each.plants and not each.absent]
    return [each for each in students if each.bench != plan.off_bench[0]]


# --- practicals ---


def test_ten_practicals_of_different_shape_ship():
    loaded = [practical(name) for name in SHIPPED]
    assert len(SHIPPED) >= 10
    assert {each.unknown_in for each in loaded} == {"burette", "flask"}
    assert {ratio(each) for each in loaded} >= {Fraction(1), Fraction(2), Fraction(1, 2), Fraction(5)}
    assert sum(each.file.flask.dilution is not None for each in loaded) >= 2


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_practical_marks_all_nine_criteria_and_says_its_cautions(name):
    loaded = practical(name).file
    assert [*dict.fromkeys(each.criterion for each in loaded.marks)] == CRITERIA
    assert len([*loaded.cautions, *cautions_of(practical(name))]) >= 3
    assert loaded.indicator
    assert loaded.reference is not None
    assert loaded.reference.standard_uncertainty


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_practical_tells_the_teacher_what_to_change(name):
    text = (practicals_folder() / f"{name}.toml").read_text(encoding="utf-8")
    assert "invented" in text
    assert "change" in text.lower()
    assert "safety data sheet" in text


@pytest.mark.parametrize(
    ("name", "titre"),
    [
        # Worked by hand with rounded formula masses; the titre belongs to the reference value.
        ("bleach", 32.24),  # 4.80 × 10 ÷ 74.44 ÷ 10 × 25.0 × 2 ÷ 0.1000
        ("drain-cleaner", 25.30),  # 0.1012 × 25.0 ÷ 2 ÷ 0.0500
        ("eggshells", 22.06),  # (50.0 − 0.932 × 1.500 ÷ 100.09 × 2 × 1000) ÷ 10 ÷ 0.1000
        ("household-ammonia", 17.71),  # (5.00 − 55.0 ÷ 17.031 ÷ 25 × 25.0) ÷ 0.1000
        ("iodine-solution", 19.79),  # 6.28 ÷ 253.81 × 20.0 × 2 ÷ 0.0500
        ("limescale-remover", 24.10),  # 0.0964 × 25.0 ÷ 0.1000
        ("moss-killer", 23.95),  # 5.35 ÷ 55.845 × 25.0 ÷ 5 ÷ 0.0200
        ("sea-water", 23.68),  # 34.6 ÷ 58.44 ÷ 10 × 20.0 ÷ 0.0500
        ("standardise-sodium-hydroxide", 20.30),  # 0.1000 × 20.0 ÷ 0.0985
        ("vinegar", 21.31),  # 5.12 × 10 ÷ 60.052 ÷ 10 × 25.0 ÷ 0.1000
        ("washing-soda", 24.81),  # 5.26 ÷ 105.99 × 25.0 × 2 ÷ 0.1000
        ("washing-soda-crystals", 23.00),  # 3.25 ÷ (105.99 + 9.8 × 18.015) ÷ 10 × 2 ÷ 0.1000 × 1000
        ("water-hardness", 28.37),  # 0.284 ÷ 100.09 × 100.0 ÷ 0.0100
        ("aspirin-tablets", 16.70),  # (25.0 − 5 × 0.300 ÷ 180.16 × 2 × 1000) ÷ 10 ÷ 0.0500
        ("chloride-with-blank", 20.18),  # 0.284 ÷ 35.45 × 50.0 ÷ 0.0200, and 0.15 of blank
        ("chloride-with-thiocyanate", 29.98),  # (25.0 × 0.1000 − 5.85 ÷ 58.44 × 10.0) ÷ 0.0500
        ("citric-acid", 31.23),  # 10.0 ÷ 192.12 × 20.0 × 3 ÷ 0.1000
        ("dissolved-oxygen", 20.91),  # 0.00850 ÷ 31.998 × 100.0 × 123 ÷ 125 × 4 ÷ 0.00500
        ("hydrogen-peroxide", 35.71),  # 20.0 ÷ 22.4 × 2 ÷ 25 × 25.0 × 2 ÷ 5 ÷ 0.0200
        ("iron-tablets", 23.28),  # 5 × 0.0650 ÷ 55.845 ÷ 10 ÷ 5 ÷ 0.00500 × 1000
        ("vitamin-c", 23.66),  # 0.500 ÷ 176.12 ÷ 10 ÷ 3 ÷ 0.00400 × 1000
    ],
)
def test_the_reference_of_a_shipped_practical_gives_a_titre_that_fits_a_burette(name, titre):
    loaded = practical(name)
    assert loaded.file.reference is not None
    expected = formula_of(loaded).curve.titre(Fraction(loaded.file.reference.value or 0))
    assert float(expected or 0) == pytest.approx(titre, abs=0.01)


@pytest.mark.parametrize(
    ("name", "mass", "titre"),
    [
        # Worked by hand for one student who weighed so many grams.
        ("antacid-tablets", "1.250", 30.02),  # (25.00 − 1.250 × 0.400 ÷ 100.09 × 2 × 1000) ÷ 10 ÷ 0.0500
        ("copper-in-brass", "2.400", 23.42),  # 2.400 × 0.620 ÷ 63.546 ÷ 10 ÷ 0.1000 × 1000
        ("eggshells-own-masses", "1.500", 22.06),  # (50.0 − 1.500 × 0.932 ÷ 100.09 × 2 × 1000) ÷ 10 ÷ 0.1000
        ("ethanedioic-acid-crystals", "1.600", 25.38),  # 1.600 ÷ (90.034 + 2 × 18.015) ÷ 10 × 2 ÷ 0.1000 × 1000
        ("nitrogen-in-flour", "1.000", 37.43),  # (5.000 − 1.000 × 0.110 ÷ 6.25 ÷ 14.007 × 1000) ÷ 0.1000
        ("saponification-value", "2.000", 23.81),  # 37.50 − 0.192 × 2.000 ÷ 56.106 ÷ 0.500 × 1000
        ("soda-crystals-own-masses", "3.250", 23.01),  # 3.250 ÷ (105.99 + 9.8 × 18.015) ÷ 10 × 2 ÷ 0.1000 × 1000
        ("standardise-acid-with-own-carbonate", "1.3250", 24.49),  # 1.325 × 0.999 ÷ 105.99 ÷ 10 × 2 ÷ 0.1020 × 1000
        ("standardise-by-weighing", "0.5100", 24.87),  # 0.5100 ÷ 204.22 ÷ 0.1004 × 1000
        ("unknown-diprotic-acid", "1.300", 24.98),  # 1.300 ÷ 104.1 ÷ 10 × 2 ÷ 0.1000 × 1000
    ],
)
def test_an_own_mass_gives_a_titre_that_fits_a_burette(name, mass, titre):
    loaded = practical(name)
    formula = formula_of(loaded)
    assert "sample.mass" in loaded.own
    theirs = formula.given([replace(formula.of["sample.mass"], value=Fraction(mass), text=mass)])
    assert loaded.file.reference is not None
    expected = theirs.curve.titre(Fraction(loaded.file.reference.value or 0))
    assert float(expected or 0) == pytest.approx(titre, abs=0.01)
    assert 15 <= titre <= 40


# --- the files and their maker ---


@pytest.mark.slow
def test_sample_data_holds_exactly_what_the_maker_makes():
    made = sample_files()
    assert sorted(path.name for path in FOLDER.iterdir()) == sorted(made)
    for name, data in made.items():
        kept = (FOLDER / name).read_bytes()
        if name.endswith(".xlsx"):  # compressed bytes hang on the zlib at hand, the members do not
            assert members(kept) == members(data), name
        else:
            assert kept == data, name


def members(data: bytes) -> dict[str, tuple[bytes, tuple[int, ...]]]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {entry.filename: (archive.read(entry), entry.date_time) for entry in archive.infolist()}


@pytest.mark.slow
def test_the_maker_makes_the_same_bytes_whatever_the_hash_seed():
    code = "import hashlib; from tests.samples import sample_files\n"
    code += "for name, data in sample_files().items(): print(name, hashlib.sha256(data).hexdigest())"
    seen = set()
    for seed in ("1", "2"):
        made = subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            cwd=FOLDER.parent,
            capture_output=True,
            text=True,
            check=True,
        )
        seen.add(made.stdout)
    assert len(seen) == 1


def test_at_least_three_classes_of_24_to_32_students_with_benches_and_bottles():
    assert len(PLANS) >= 3
    for plan in PLANS:
        heads, *rows = sheet_rows(plan.file)
        assert heads[:3] == ["Student", "Bench", "Bottle"]
        names = [str(row[0]).strip() for row in rows if row[0] and row[1]]
        assert 24 <= len(names) <= 32
        assert len(set(names)) == len(names)


def test_every_file_says_that_everything_is_invented():
    for name in ("planted.md", "README.md"):
        assert "invented" in (FOLDER / name).read_text(encoding="utf-8")
    for plan in PLANS:
        if plan.file.endswith(".xlsx"):
            book = openpyxl.load_workbook(FOLDER / plan.file)
            assert "invented" in str(book.properties.title)
            assert "invented" in str(book["About"]["A2"].value)


@pytest.mark.slow
def test_the_mess_of_an_evening_is_there():
    cells = {plan.file: [cell for row in sheet_rows(plan.file)[1:] for cell in row[3:]] for plan in PLANS}
    assert any(isinstance(each, str) and each.replace(".", "").isdecimal() for each in cells["drain-cleaner.xlsx"])
    assert "absent" in cells["vinegar.xlsx"]
    assert [None] * len(sheet_rows("vinegar.xlsx")[0]) in sheet_rows("vinegar.xlsx")
    assert "Class mean" in [row[0] for row in sheet_rows("limescale-remover.csv")]
    formats = {
        plan.file: openpyxl.load_workbook(FOLDER / plan.file)["Results"]["D2"].number_format
        for plan in (DRAIN_CLEANER, VINEGAR)
    }
    assert formats == {"drain-cleaner.xlsx": "0.00", "vinegar.xlsx": "General"}


@pytest.mark.parametrize("plan", [DRAIN_CLEANER, STANDARDISING, EGGSHELLS], ids=lambda plan: plan.file)
def test_a_workbooks_own_practical_says_what_the_shipped_file_says_but_for_its_changes(plan):
    sheet = openpyxl.load_workbook(FOLDER / plan.file)["Practical"]
    rows = [(str(row[0].value), row[1].value, row[1].coordinate) for row in sheet.iter_rows(min_row=2)]
    own, shipped = practical_from_rows(rows, plan.file).file, practical(plan.practical).file
    for key in type(shipped).model_fields:
        if key not in (plan.own_practical or {}):
            assert getattr(own, key) == getattr(shipped, key), key
    assert own.title != shipped.title


# --- what was planted ---


def test_every_planted_finding_names_a_student_and_a_run_of_its_class():
    rows = planted()
    for plan in PLANS:
        heads, *table = sheet_rows(plan.file)
        names = {str(row[0]).strip() for row in table if row[0]}
        labels = {"Rough", *(str(head).split()[1] for head in heads if str(head).startswith("Run "))}
        for row in (each for each in rows if each["file"] == plan.file):
            assert row["student"] in names | {""}
            assert row["run"] in labels | {""}
            assert row["finding"] in {*NOTES, "not-concordant", "group-shift", "reference-doubtful", "common-fault"}


def test_every_kind_of_mishap_and_slip_is_planted_somewhere():
    assert {row["finding"] for row in planted()} == {
        *NOTES,
        "not-concordant",
        "group-shift",
        "reference-doubtful",
        "common-fault",
    }


def test_nothing_is_planted_in_the_quiet_class():
    assert {row["finding"] for row in planted() if row["file"] == MOSS_KILLER.file} <= {"not-concordant"}


def test_every_slip_of_subtraction_in_a_file_is_on_the_list():
    known = {(row["student"], row["run"]) for row in planted() if row["finding"] == "subtraction-slip"}
    found = set()
    for plan in PLANS:
        heads, *rows = sheet_rows(plan.file)
        for place, head in enumerate(heads):
            if not str(head).endswith("titre") or str(head).startswith("Mean"):
                continue
            label = str(head).removesuffix(" titre").removeprefix("Run ")
            for row in rows:
                try:
                    initial, final, titre = (Decimal(str(cell)) for cell in row[place - 2 : place + 1])
                except ArithmeticError:
                    continue
                if abs(final - initial) != titre and final < 60:
                    found.add((str(row[0]).strip(), label))
    assert found == known


def test_readings_of_the_quiet_class_end_in_0_or_5():
    heads, *rows = sheet_rows(MOSS_KILLER.file)
    places = [place for place, head in enumerate(heads) if str(head).endswith(("initial", "final"))]
    readings = [str(row[place]) for row in rows for place in places if row[place]]
    assert all(len(each.partition(".")[2]) == 2 and each[-1] in "05" for each in readings)


def test_some_start_at_nought_some_go_on_from_the_last_reading_some_at_odd_values():
    heads, *rows = sheet_rows(MOSS_KILLER.file)
    first, before = heads.index("Run 1 initial"), heads.index("Rough final")
    starts = {"zero" if row[first] == "0.00" else "odd" for row in rows}
    assert starts == {"zero", "odd"}
    assert any(row[first] == row[before] for row in rows)


@pytest.mark.slow
def test_scatter_is_that_of_a_class_at_school():
    # About 0.5 % between students and a few hundredths of a cm³ between runs: common practice, no source.
    off, within = [], []
    for plan in (DRAIN_CLEANER, LIMESCALE_REMOVER, STANDARDISING, MOSS_KILLER):
        for student in unplanted(plan):
            titres = [(run.titre or 0) / 100 for run in student.accurate]
            expected = plan.chemistry.titre(Fraction(plan.truth[student.bottle]))
            off.append(100 * (mean(titres) / expected - 1))
            within.append(variance(titres))
    assert abs(mean(off)) < 0.4
    assert 0.3 < stdev(off) < 0.8
    assert 0.03 < mean(within) ** 0.5 < 0.09


def test_the_bench_that_is_off_and_the_doubtful_reference_show_in_the_titres():
    bench = [(run.titre or 0) / 100 for each in make_class(DRAIN_CLEANER) if each.bench == "5" for run in each.accurate]
    assert 1.02 < mean(bench) / 25.30 < 1.04
    # 0.0964 mol/dm³ × 25 cm³ ÷ 0.1000 mol/dm³
    limescale = [(run.titre or 0) / 100 for each in unplanted(LIMESCALE_REMOVER) for run in each.accurate]
    assert mean(limescale) / 24.10 == pytest.approx(0.963, abs=0.006)


# --- the maker's own arithmetic ---


def test_the_makers_chemistry_gives_results_worked_by_hand():
    # 0.0500 × 24.35 ÷ 25.0 × 2 = 0.0974
    assert float(DRAIN_CLEANER.chemistry.result(Fraction("24.35"))) == pytest.approx(0.0974)
    # 0.1000 × 20.00 ÷ 25.0 × 10 = 0.8000 mol/dm³; × 60.052 g/mol = 48.04 g/dm³ = 4.804 g in 100 cm³
    assert float(VINEGAR.chemistry.result(Fraction(20))) == pytest.approx(4.80416)
    # 0.1000 × 20.0 ÷ 20.30 = 0.09852
    assert float(STANDARDISING.chemistry.result(Fraction("20.30"))) == pytest.approx(0.098522, abs=1e-6)
    # 50.0 mmol − 0.1000 × 22.00 × 10 = 28.0 mmol of acid; ÷ 2 × 100.086 mg ÷ 1500 mg
    assert float(EGGSHELLS.chemistry.result(Fraction(22))) == pytest.approx(93.4136)
    # 0.0200 × 24.00 ÷ 25.0 × 5 = 0.0960 mol/dm³; × 55.845 g/mol
    assert float(MOSS_KILLER.chemistry.result(Fraction(24))) == pytest.approx(5.36112)


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.file)
def test_titre_and_result_undo_each_other(plan):
    for truth in plan.truth.values():
        titre = Fraction(plan.chemistry.titre(Fraction(truth)))
        assert float(plan.chemistry.result(titre)) == pytest.approx(float(truth))


@pytest.mark.parametrize(
    ("titres", "best"),
    [
        ({"1": 2435, "2": 2445}, ("1", "2")),  # 0.10 apart agrees
        ({"1": 2435, "2": 2450}, ()),
        ({"1": 2430, "2": 2440, "3": 2445}, ("2", "3")),  # the narrower pair
        ({"1": 2430, "2": 2440, "3": 2450}, ("2", "3")),  # as narrow: the later start
        ({"1": 2430, "2": 2490, "3": 2440, "4": 2435}, ("1", "3", "4")),  # the larger set
    ],
)
def test_the_concordant_set_is_the_largest_then_the_narrowest_then_the_later(titres, best):
    assert best_set(titres) == best


def test_a_planted_slip_that_would_not_show_is_refused():
    plain = Student("X", "1", "A", (Plant("dilution-ignored"),))
    with pytest.raises(ValueError, match="dilution-ignored does not show"):
        own_result(MOSS_KILLER, plain, Fraction(24))


def test_whole_number_formula_masses_give_another_result_and_are_no_fault():
    rows = [row for row in planted() if row["finding"] == FINDING_NONE and "formula mass" in row["note"]]
    assert {row["student"] for row in rows} == {"V-0411", "V-0435", "V-0440"}


def test_holding_a_marked_class_against_the_list_tells_found_missed_and_beyond():
    def finding(code: str, run: str | None = None) -> dict[str, str | None]:
        return {"finding": code, "run": run}

    results = {
        "class": {"findings": [finding("group-shift")]},
        "students": [{"student": "M1 ", "findings": [finding("overshoot", "2"), finding("mean-slip")]}],
    }
    seen = compare(results, [("M1", "overshoot", "2"), ("M1", "overshoot", "3"), ("", "group-shift", "")])
    assert seen.found == (("M1", "overshoot", "2"), ("", "group-shift", ""))
    assert seen.missed == (("M1", "overshoot", "3"),)
    assert seen.beyond == (("M1", "mean-slip", ""),)


def test_the_list_can_be_read_for_one_class():
    facts = planted_facts(DRAIN_CLEANER.file)
    assert ("", "group-shift", "") in facts
    assert ("Bao T", "overshoot", "2") in facts
    assert all(code != FINDING_NONE for _, code, _ in facts)


def test_every_planted_finding_is_in_the_catalogue_of_findings():
    assert {row["finding"] for row in planted()} - {FINDING_NONE} <= set(KINDS)
