"""Numbers that belong to a student or a group: read, judged with, missing, far off. Classes of `own_classes`."""

from __future__ import annotations

import csv
import random
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import openpyxl
import pytest

from labmark.outputs.own import own_words
from labmark.pipeline import judged_tree, read
from labmark.places import practicals_folder
from labmark.practical import practical_from_rows
from labmark.practical.kinds import formula_of
from labmark.practical.load import practical_with
from labmark.problems import InputError
from tests.columns import students_of
from tests.decided import Marked
from tests.own_classes import SHELL, eggshell_percent, eggshell_student, eggshell_titre, write
from tests.practicals import DRAIN_CLEANER, practical
from tests.seeds import few_quick

EGGSHELLS = (Path(__file__).parents[1] / "templates" / "practicals" / "eggshells.toml").read_text(encoding="utf-8")
OWN_MASS = '{ column = "Mass" }'


def own_practical(folder: Path, mass: str = OWN_MASS, *changes: tuple[str, str]) -> str:
    text = EGGSHELLS
    for old, new in (("mass = 1.500 ", f"mass = {mass} "), *changes):
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "own.toml").write_text(text, encoding="utf-8")
    return str(folder / "own.toml")


def class_of(number: int = 12, seed: int = 1, **how):
    rng = random.Random(seed)
    return [eggshell_student(rng, f"S{place:02}", **how) for place in range(1, number + 1)]


def judged(folder: Path, rows, heading: str = "Mass / g", mass: str = OWN_MASS, *changes: tuple[str, str]):
    return judged_tree(write(folder / "class.csv", rows, heading), own_practical(folder, mass, *changes), ())


def codes(student) -> set[str]:
    # Who shares readings is a question of chance that has nothing to do with own numbers.
    return {each["finding"] for each in student["findings"]} - {"same-readings"}


def lost(student) -> list[str]:
    return [f"{each['criterion']}: {each['reason']}" for each in student["marks"] if each["mark"] != each["out_of"]]


def test_whoever_weighed_for_themselves_and_did_it_right_keeps_every_mark(tmp_path):
    tree = judged(tmp_path, class_of(30))
    assert [(each["student"], lost(each), codes(each)) for each in tree["students"] if lost(each) or codes(each)] == []
    assert tree["class"]["findings"] == []


@pytest.mark.slow
def test_of_five_hundred_who_did_it_right_nobody_is_accused(tmp_path):
    wrong = []
    for seed in range(20):
        tree = judged(tmp_path, class_of(25, seed))
        wrong += [(seed, each["student"], lost(each), codes(each)) for each in tree["students"] if lost(each)]
        wrong += [(seed, each["student"], codes(each)) for each in tree["students"] if codes(each)]
    assert wrong == []


def test_result_and_expected_titre_are_those_of_the_own_mass_by_hand(tmp_path):
    # 1.400 g of 93.2 %: 1.3048 g ÷ 100.09 g/mol = 0.013036 mol, takes 0.026073 mol of HCl; left 0.023927 mol, a tenth of
    # it 2.3927 mmol, which 23.93 cm³ of 0.1000 mol/dm³ NaOH take. A titre of 24.00 finds 0.0260 mol used, 92.94 %.
    row = class_of(1)[0]
    row.mass, row.readings, row.mean, row.result = "1.400", [("0.00", "24.00")] * 3, "24.00", "92.9"
    (student,) = judged(tmp_path, [row])["students"]
    assert float(student["expected_titre"]) == 23.93
    assert student["result"]["value"] == pytest.approx(92.94, abs=0.02)
    assert "÷ 1.400 g × 100" in student["steps"][-1]["numbers"]
    assert lost(student) == []
    assert [{**each, "value": str(each["value"])} for each in student["inputs"]] == [
        {"name": "sample.mass", "value": "1.400", "unit": "g", "owner": "student", "run": None, "cell": "B2"}
    ]


@pytest.mark.parametrize(
    "heading",
    few_quick(["Mass", "MASS (mg)", "mass in mg", "Mass / kg", "Mass g", "Mass (g) ± 0.001", "Mass used / mg"], 3),
)
def test_the_heading_is_found_in_any_case_and_its_unit_is_converted(tmp_path, heading):
    rows = class_of(3)
    shift = 1000 if "mg" in heading else 0.001 if "kg" in heading else 1
    masses = [float(row.mass) for row in rows]
    for row, mass in zip(rows, masses, strict=True):
        row.mass = f"{mass * shift:.6f}".rstrip("0")
    tree = judged(tmp_path, rows, heading)
    assert [float(each["inputs"][0]["value"]) for each in tree["students"]] == pytest.approx(masses)
    assert all(lost(each) == [] for each in tree["students"])


@pytest.mark.parametrize(
    ("heading", "value"), few_quick([("Mass / g", "1.402"), ("Mass", "1.402"), ("Mass / mg", "None")], 3)
)
def test_a_comma_in_a_mass_is_a_decimal_comma_unless_it_is_in_mg(tmp_path, heading, value):
    rows = class_of(4)
    rows[2].mass = "1,402"
    student = judged(tmp_path, rows, heading)["students"][2]
    assert [str(each["value"]) for each in student["inputs"]] + ["None"] * (value == "None") == [value]


@pytest.mark.parametrize(
    ("entry", "words"),
    few_quick(
        [
            ("", "Mass is missing"),
            ("n/a", "Mass is missing"),
            ("lost it", "Mass holds “lost it”, which cannot be used as it stands"),
            ("1.4 g per 10 cm3", "Mass holds “1.4 g per 10 cm3”, which cannot be used as it stands"),
            ("0", "Mass is 0, which cannot be"),
            ("0.000", "Mass is 0.000, which cannot be"),
            ("-1.402", "Mass is -1.402, which cannot be"),
        ],
        3,
    ),
)
def test_a_missing_mass_leaves_that_student_without_a_result_and_nobody_else(tmp_path, entry, words):
    rows = class_of(4)
    rows[2].mass = entry
    tree = judged(tmp_path, rows)
    student = tree["students"][2]
    assert student["result"] is None
    assert [(each["finding"], each["run"]) for each in student["findings"]] == [("missing-input", None)]
    assert words in student["findings"][0]["message"]
    marks = {each["criterion"]: each["mark"] for each in student["marks"]}
    assert (marks["mean"], marks["calculation"], marks["accuracy"]) == (1, None, None)
    reasons = [each["reason"] for each in student["marks"] if each["criterion"] in ("calculation", "accuracy")]
    assert all("holds “lost it”, which cannot be read" in reason for reason in reasons) == (entry == "lost it")
    assert all(lost(each) == [] for place, each in enumerate(tree["students"]) if place != 2)
    assert tree["cells"]["filled"] == sum(tree["cells"][each] for each in ("used", "ignored", "rejected"))


@pytest.mark.parametrize(
    "entry",
    few_quick(
        [
            "12.402 - 11.000",
            "12.402−11.000",
            "12.402 g − 11.000 g = 1.402 g",
            "12,402 - 11,000 = 1,402",
            "=12.402-11.000",
            "(12.402 - 11.000) g",
            "11.000 - 12.402",
            "12402.0 mg - 11000.0 mg",
            "112.402 - 111.000",
            "111.000 - 112.402",
        ],
        4,
    ),
)
def test_a_mass_typed_as_a_difference_is_taken_exactly_and_the_cell_quoted(tmp_path, entry):
    rows = class_of(4)
    rows[2].mass, rows[2].result = entry, f"{eggshell_percent(float(rows[2].mean), 1.402):.1f}"
    student = judged(tmp_path, rows, "Mass")["students"][2]
    assert [float(each["value"]) for each in student["inputs"]] == [1.402]
    assert any("written as" in each and "12" in each for each in student["notes"])
    assert "calculation" not in " ".join(lost(student))


@pytest.mark.parametrize(
    "entry",
    few_quick(
        [
            "12.402 - 11.000 = 1.502",
            "12.402 - 10.000 - 1.000",
            "1 - 2",
            "1.398-1.402",
            "1.402 - 1.398 g",
            "1.35-1.45",
            "1.4-1.5",
        ],
        4,
    ),
)
def test_a_difference_that_is_out_or_may_be_something_else_is_no_mass(tmp_path, entry):
    rows = class_of(4)
    rows[2].mass = entry
    student = judged(tmp_path, rows)["students"][2]
    assert (student["inputs"], codes(student)) == ([], {"missing-input"})
    assert entry in student["findings"][0]["message"]


@pytest.mark.parametrize(
    ("heading", "value"), [("True", "3896"), ("True / mg L-1", "3896"), ("True / g dm-3", "3.896")]
)
def test_a_reference_of_each_students_own_is_taken_in_the_unit_of_the_result(tmp_path, heading, value):
    # 0.0974 mol/dm³ × 39.997 g/mol = 3896 mg/dm³
    asked = 'of = "NaOH"\nquantity = "mass concentration"\nunit = "mg/dm3"'
    text = DRAIN_CLEANER.replace('of = "NaOH"', asked)
    text = text.replace("value = 0.0974", 'value = { column = "True" }').replace("standard_uncertainty = 0.0004", "")
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    head = f"Student,{heading},Run 1 initial,Run 1 final,Run 2 initial,Run 2 final"
    (tmp_path / "class.csv").write_text(f"{head}\nS01,{value},0.00,24.35,0.10,24.45\n", encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", str(tmp_path / "own.toml"), ())["students"]
    assert (student["reference"]["value"], abs(student["percent_error"]) < 0.05) == (3896, True)


def test_a_reference_in_another_quantity_than_the_result_is_refused_in_one_line(tmp_path):
    text = DRAIN_CLEANER.replace("value = 0.0974", 'value = { column = "True" }').replace(
        "standard_uncertainty = 0.0004", ""
    )
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    head = "Student,True / g dm-3,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final"
    rows = "S01,3.896,0.00,24.35,0.10,24.45\nS02,3.896,0.00,24.35,0.10,24.45\n"
    (tmp_path / "class.csv").write_text(f"{head}\n{rows}", encoding="utf-8")
    with pytest.raises(InputError) as refused:
        judged_tree(tmp_path / "class.csv", str(tmp_path / "own.toml"), ())
    (problem,) = refused.value.problems
    assert "'True / g dm-3' are in g dm-3, and reference.value is in mol/dm³" in str(problem)


def test_a_default_stands_in_for_a_blank_mass(tmp_path):
    rows = class_of(6)
    rows[1].mass = ""
    student = judged(tmp_path, rows, "Mass", '{ column = "Mass", default = 1.500 }')["students"][1]
    assert student["result"] is not None
    assert (student["inputs"], codes(student) & {"missing-input"}) == ([], set())


@pytest.mark.parametrize("mass", few_quick(["abc", "0", "-1.402", "12.402 - ", "spilt", "not recorded"], 4))
def test_a_default_does_not_stand_in_for_a_mass_that_cannot_be(tmp_path, mass):
    rows = class_of(6)
    rows[1].mass = mass
    student = judged(tmp_path, rows, "Mass", '{ column = "Mass", default = 1.500 }')["students"][1]
    assert (student["result"], codes(student)) == (None, {"missing-input"})


@pytest.mark.parametrize("mass", few_quick(["0.142", "14.20", "142.3"], 3))
def test_a_mass_far_from_everybody_elses_is_used_and_said_and_accuracy_waits(tmp_path, mass):
    rows = class_of(12)
    rows[4].mass = mass
    tree = judged(tmp_path, rows)
    student = tree["students"][4]
    assert codes(student) == {"implausible-input"}
    assert student["findings"][0]["message"].startswith(f"Mass is {mass} g, far ")
    assert str(student["inputs"][0]["value"]) == mass
    marks = {each["criterion"]: each for each in student["marks"]}
    assert (marks["accuracy"]["mark"], marks["accuracy"]["pending"]) == (None, True)
    assert student["accuracy_by_reference"] is None  # 0 by a mass that nobody weighed says nothing
    summary = student["feedback"]["summary"]
    assert "That gives " in summary
    assert "expected" not in summary  # 25,000 cm³ below it says nothing of the work
    assert "reference" not in summary
    assert all(codes(each) == set() for place, each in enumerate(tree["students"]) if place != 4)


@pytest.mark.slow
def test_a_mass_with_two_digits_exchanged_is_said_and_asked_about_and_nobody_is_blamed(tmp_path):
    rows = class_of(12)
    mass = rows[4].mass
    rows[4].mass = f"{mass[0]}.{mass[3]}{mass[2]}{mass[4:]}"
    student = judged(tmp_path, rows)["students"][4]
    assert codes(student) == {"implausible-input"}
    assert f"With two digits exchanged, {mass} g, it would give the result" in student["findings"][0]["message"]
    waiting = {each["criterion"] for each in student["marks"] if each.get("pending")}
    assert waiting == {"calculation", "accuracy"}
    assert [each for each in student["marks"] if each["mark"] is not None and each["mark"] < each["out_of"]] == []


@pytest.mark.slow
def test_masses_that_are_meant_to_differ_widely_are_not_far_off(tmp_path):
    rows = class_of(12)
    rng = random.Random(5)
    for row in rows:  # from 0.35 to 2.0 g
        mass = round(0.35 + 1.65 * rng.random(), 3)
        titre = round(eggshell_titre(mass, 93.2) * 20) / 20
        row.mass, row.readings, row.mean = f"{mass}", [("0.00", f"{titre:.2f}")] * 3, f"{titre:.2f}"
        row.result = f"{eggshell_percent(titre, mass):.1f}"
    assert [codes(each) for each in judged(tmp_path, rows)["students"] if codes(each)] == []


def test_a_mass_weighed_by_difference(tmp_path):
    rows = class_of(5)
    masses = [float(row.mass) for row in rows]
    path = write(tmp_path / "class.csv", rows, "Mass before / g")
    lines = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    lines[0].insert(2, "Mass after / g")
    for line, mass in zip(lines[1:], masses, strict=True):
        line[1:2] = [f"{12.5 + mass:.3f}", "12.500"]
    path.write_text("\n".join(map(",".join, lines)), encoding="utf-8")
    tree = judged_tree(path, own_practical(tmp_path, '{ column = "Mass before", minus = "Mass after" }'), ())
    assert [float(each["inputs"][0]["value"]) for each in tree["students"]] == pytest.approx(masses)
    assert [each["inputs"][0]["cell"] for each in tree["students"]] == [f"B{row}" for row in range(2, 7)]
    assert all(lost(each) == [] for each in tree["students"])
    lines[2][1:2], lines[2][2:3] = lines[2][2:3], lines[2][1:2]  # the empty bottle first
    path.write_text("\n".join(map(",".join, lines)), encoding="utf-8")
    tree = judged_tree(path, own_practical(tmp_path, '{ column = "Mass before", minus = "Mass after" }'), ())
    assert [float(each["inputs"][0]["value"]) for each in tree["students"]] == pytest.approx(masses)
    assert "B3 and C3: the first is smaller than the second; their difference is taken" in str(tree["source"])
    lines[2][2] = ""
    path.write_text("\n".join(map(",".join, lines)), encoding="utf-8")
    tree = judged_tree(path, own_practical(tmp_path, '{ column = "Mass before", minus = "Mass after" }'), ())
    assert [codes(each) for each in tree["students"]] == [set(), {"missing-input"}, set(), set(), set()]
    # The number stands in neither column, and is called by neither alone.
    assert own_words(tree["students"][0], tree["practical"]) == [f"Mass {masses[0]:.3f} g"]
    assert tree["students"][1]["findings"][0]["message"].startswith("Mass before − Mass after is incomplete:")


def by_difference(tmp_path, rows):
    path = write(tmp_path / "class.csv", rows, "Mass before / g")
    lines = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    lines[0].insert(2, "Mass after / g")
    for line in lines[1:]:
        line[1:2] = [f"{Decimal(line[1]) + Decimal('12.500')}", "12.500"]
    path.write_text("\n".join(map(",".join, lines)), encoding="utf-8")
    return judged_tree(path, own_practical(tmp_path, '{ column = "Mass before", minus = "Mass after" }'), ())


@pytest.mark.parametrize(("half", "also"), few_quick([(1, set()), (2, {"ratio-ignored"})], 2))
def test_a_result_from_the_mass_with_its_bottle_is_a_difference_forgotten(tmp_path, half, also):
    rows = class_of(4)
    gross = float(rows[1].mass) + 12.5
    rows[1].result = f"{half * eggshell_percent(float(rows[1].mean), gross):#.3g}"
    student = by_difference(tmp_path, rows)["students"][1]
    assert codes(student) == {"difference-forgotten"} | also
    (said,) = (each["message"] for each in student["findings"] if each["finding"] == "difference-forgotten")
    assert f"aking all {gross:.3f} g instead of the difference of {rows[1].mass} g" in said
    (mark,) = (each for each in student["marks"] if each["criterion"] == "calculation")
    assert mark["out_of"] - mark["mark"] == half


def test_a_long_heading_is_shortened_and_the_number_never():
    practical = {"sample": {"mass": {"column": "Weighing bottle with the powder in it"}}}
    one = {"inputs": [{"name": "sample.mass", "value": "1.2630", "unit": "g", "run": None}]}
    assert own_words(one, practical) == ["Weighing bottle with… 1.2630 g"]


@pytest.mark.slow
def test_half_the_mass_with_a_titre_that_goes_with_it_is_not_doubted(tmp_path):
    rows = class_of(12)
    # Half of 1.40 g leaves 36.96 cm³ of alkali: 50.00 − 2 × 0.700 × 93.2 ÷ 100.09 × 10 (in mmol, a tenth of it ÷ 0.1).
    rows[4].mass, rows[4].readings, rows[4].mean = "0.700", [("0.00", "36.95"), ("0.50", "37.45")], "36.95"
    rows[4].readings.append(("0.00", "37.00"))
    rows[4].mean, rows[4].result = "36.97", f"{eggshell_percent(36.97, 0.700):.1f}"
    student = judged(tmp_path, rows)["students"][4]
    assert (codes(student), lost(student)) == (set(), [])


@pytest.mark.slow
def test_a_number_by_bottle_belongs_to_the_group(tmp_path):
    rows = class_of(9)
    for place, row in enumerate(rows):
        row.mass = "ABC"[place % 3]
    by_bottle = '{ by = "Bottle", values = { A = 1.402, B = 1.497 } }'
    tree = judged(tmp_path, rows, "Bottle", by_bottle)
    first, second, third = tree["students"][:3]
    assert [(str(each["inputs"][0]["value"]), each["inputs"][0]["owner"]) for each in (first, second)] == [
        ("1.402", "group"),
        ("1.497", "group"),
    ]
    assert first["inputs"][0]["cell"] == "B2"
    assert (third["inputs"], codes(third)) == ([], {"missing-input"})
    assert tree["practical"]["sample"]["mass"]["by"] == "Bottle"


def test_a_column_that_is_not_there_is_one_line_with_the_nearest_named(tmp_path):
    path = write(tmp_path / "class.csv", class_of(3), "Mas / g")
    with pytest.raises(InputError) as error:
        read(path, own_practical(tmp_path), ())
    assert [str(each) for each in error.value.problems] == [
        f"{path}: sample.mass is to be taken from the column 'Mass', which is not there; the nearest heading is "
        "'Mas / g': correct the name in the practical, or add the column"
    ]


@pytest.mark.slow
def test_any_column_may_choose_among_groups_and_one_that_is_not_there_is_named(tmp_path):
    rows = class_of(4)
    for row, balance in zip(rows, ("left", "right", "left", "Right"), strict=True):
        row.mass = balance
    by = '{ by = "Balance", values = { left = 1.402, right = 1.497 } }'
    tree = judged(tmp_path, rows, "Balance", by)
    assert [str(each["inputs"][0]["value"]) for each in tree["students"]] == ["1.402", "1.497", "1.402", "1.497"]
    with pytest.raises(InputError, match=r"sample\.mass is to be taken from the column 'Balance', which is not there"):
        judged(tmp_path, rows, "Scales", by)


def test_a_columns_table_may_say_which_column_holds_it(tmp_path):
    path = write(tmp_path / "class.csv", class_of(3), "What the balance said (mg)")
    text = own_practical(tmp_path)
    with Path(text).open("a") as file:
        file.write('\n[columns]\nMass = "What the balance said (mg)"\n')
    sheet, _ = read(path, text, ())
    assert [str(each["sample.mass"].value) for each in students_of(sheet)["inputs"]][:1] == ["0.001347"]


def test_the_nearest_heading_is_one_of_the_same_unit(tmp_path):
    with pytest.raises(InputError, match=r"the nearest heading is 'Shell \(g\)'"):
        read(write(tmp_path / "class.csv", class_of(3), "Shell (g)"), own_practical(tmp_path), ())


def test_a_formula_and_the_unit_asked_for_head_the_result(tmp_path):
    path = write(tmp_path / "class.csv", class_of(3), "Mass / g")
    path.write_text(path.read_text(encoding="utf-8").replace("Result", "CaCO3 %", 1), encoding="utf-8")
    sheet, _ = read(path, own_practical(tmp_path), ())
    assert None not in students_of(sheet)["result"]


@pytest.mark.parametrize("heading", ["Mass of eggshell (g)", "m(shell) / g", "Shell mass", "Einwaage / g"])
def test_a_heading_of_the_same_meaning_holds_it_where_no_other_does(tmp_path, heading):
    rows = class_of(3)
    sheet, _ = read(write(tmp_path / "class.csv", rows, heading), own_practical(tmp_path), ())
    assert [each["sample.mass"].value for each in students_of(sheet)["inputs"]] == [Decimal(row.mass) for row in rows]


def test_a_note_that_means_it_is_no_column(tmp_path):
    path = write(tmp_path / "class.csv", class_of(3), "Mas / g")
    path.write_text(f"Mass of shell: about 1.4 g each\n\n{path.read_text(encoding='utf-8')}", encoding="utf-8")
    with pytest.raises(InputError, match=r"sample\.mass is to be taken from the column 'Mass', which is not there"):
        read(path, own_practical(tmp_path), ())


def test_masses_may_stand_on_a_sheet_of_their_own(tmp_path):
    rows = class_of(3)
    with write(tmp_path / "class.csv", rows, "Mass / g").open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    at, book = lines[0].index("Mass / g"), openpyxl.Workbook()
    for title, kept in (("Titrations", [each for each in range(len(lines[0])) if each != at]), ("Masses", [0, at])):
        page = book.create_sheet(title)
        for line in lines:
            page.append([line[each] for each in kept])
    del book["Sheet"]
    book.save(tmp_path / "class.xlsx")
    sheet, _ = read(tmp_path / "class.xlsx", own_practical(tmp_path), ())
    assert [each["sample.mass"].value for each in students_of(sheet)["inputs"]] == [Decimal(row.mass) for row in rows]


SLIPS = {
    "volume-units": lambda titre, mass: eggshell_percent(titre, mass) / 1000,
    "ratio-ignored": lambda titre, mass: (0.0500 - titre / 1000) * SHELL / mass * 100,
    "dilution-ignored": lambda titre, mass: (0.0500 - 0.1 * titre / 1000) / 2 * SHELL / mass * 100,
    "difference-forgotten": lambda titre, mass: titre / 1000 / 2 * SHELL / mass * 100,
}


@pytest.mark.slow
def test_slips_are_sought_on_the_students_own_mass(tmp_path):
    rng, rows, planted = random.Random(3), class_of(16, 3), {}
    for code, slip in SLIPS.items():
        for place in range(4):
            row = eggshell_student(rng, f"{code} {place}")
            right, row.result = row.result, f"{slip(float(row.mean), float(row.mass)):.3g}"
            if row.result != right:  # where as much is left as has reacted, no difference is no slip
                planted[row.name] = code
                rows.append(row)
    found = {each["student"]: codes(each) for each in judged(tmp_path, rows)["students"]}
    named = Counter(planted[name] in found[name] for name in planted)
    assert named[True] == len(planted), {name: found[name] for name in planted if planted[name] not in found[name]}
    assert all(not each for name, each in found.items() if name not in planted)


# The keys of the practical


def test_a_practical_sheet_takes_the_same_keys():
    rows = [
        ("title", "Eggshells", "B1"),
        ("equation", "HCl + NaOH -> NaCl + H2O", "B2"),
        ("burette.solution", "NaOH", "B3"),
        ("burette.concentration.by", "Bottle", "B4"),
        ("burette.concentration.values.A", 0.0987, "B5"),
        ("burette.concentration.values.b 2", 0.1012, "B6"),
        ("flask.solution", "HCl", "B7"),
        ("flask.aliquot", "{ column = \u201cAliquot\u201d, default = 25.0 }", "B8"),
        ("result.of", "HCl", "B9"),
    ]
    made = practical_from_rows(rows, "class.xlsx")
    assert made.own["flask.aliquot"].column == "Aliquot"
    assert str(made.own["flask.aliquot"].default) == str(made.file.flask.aliquot) == "25.0"
    assert list(made.own["burette.concentration"].values) == ["A", "b 2"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ('{ colum = "Mass" }', "key flask.aliquot.colum is not known; the nearest known key is column"),
        ("{ default = 25.0 }", "flask.aliquot: give column, a heading of the class sheet, or by and values for groups"),
        ('{ by = "Bottle" }', "flask.aliquot: by and values belong together"),
        ('{ column = "Aliquot", default = 0 }', "key flask.aliquot.default: found 0, expected more than 0"),
    ],
)
def test_a_wrong_key_is_one_clear_line(given, said):
    with pytest.raises(InputError) as error:
        practical(DRAIN_CLEANER, ("aliquot = 25.0", f"aliquot = {given}"))
    assert [said in str(each) for each in error.value.problems] == [True]


WEIGHED = """
title = "Standardising sodium hydroxide"
equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
[burette]
solution = "NaOH"
[flask]
solution = "KHC8H4O4"
[sample]
mass = 0.5105
[result]
of = "NaOH"
significant_figures = 4
"""


def test_a_weighed_standard_gives_the_concentration_by_hand():
    # 0.5105 g ÷ 204.22 g/mol = 2.4998 mmol; in 24.85 cm³: 0.10060 mol/dm³. A tenth of 5.105 g in 250.0 cm³ is the same.
    weighed = formula_of(practical(WEIGHED))
    assert float(weighed.value(titre=Fraction("24.85"))) == pytest.approx(0.10060, abs=1e-5)
    pipetted = formula_of(
        practical(WEIGHED, ("0.5105", "5.105\nmade_up_to = 250.0"), ('O4"\n[s', 'O4"\naliquot = 25.0\n[s'))
    )
    assert pipetted.value(titre=Fraction("24.85")) == weighed.value(titre=Fraction("24.85"))
    pure = formula_of(practical(WEIGHED, ("0.5105", "0.5105\npurity = 0.99")))
    assert pure.value(titre=Fraction("24.85")) == weighed.value(titre=Fraction("24.85")) * Fraction("0.99")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            [("mass = 0.5105", "mass = 5.105\nmade_up_to = 250.0")],
            "key flask.aliquot: is missing, and a solution was made",
        ),
        ([('O4"\n[s', 'O4"\naliquot = 25.0\n[s')], "key sample.made_up_to: is missing"),
        ([("[sample]\nmass = 0.5105\n", "")], "key flask.concentration: is missing: it is the known one"),
    ],
)
def test_a_weighed_standard_that_is_half_said_is_one_clear_line(changes, said):
    with pytest.raises(InputError) as error:
        practical(WEIGHED, *changes)
    assert [said in str(each) for each in error.value.problems][:1] == [True]


def test_a_sample_weighed_into_the_flask_needs_no_pipette():
    # 0.1520 g of Na2CO3 (105.99 g/mol) takes 2 × 1.4341 mmol = 2.8682 mmol of HCl: 28.68 cm³ of 0.1000 mol/dm³.
    made = practical(
        WEIGHED,
        ("KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O", "Na2CO3 + 2 HCl -> 2 NaCl + H2O + CO2"),
        ('"NaOH"', '"HCl"\nconcentration = 0.1000'),
        ("KHC8H4O4", "Na2CO3"),
        ("0.5105", "0.1520"),
        ('"NaOH"', '"Na2CO3"\nquantity = "percent by mass"'),
    )
    assert float(formula_of(made).curve.titre(Fraction(100))) == pytest.approx(28.68, abs=0.005)


@pytest.mark.parametrize(
    ("name", "mass", "titre"),
    [
        ("eggshells-own-masses", "1.500", 22.06),  # (50.0 − 0.932 × 1.500 ÷ 100.09 × 2 × 1000) ÷ 10 ÷ 0.1000
        ("standardise-by-weighing", "0.5000", 24.39),  # 0.5000 ÷ 204.22 ÷ 0.1004 × 1000
    ],
)
def test_a_shipped_practical_with_own_masses_expects_a_titre_that_fits_a_burette(name, mass, titre):
    loaded = practical_with(
        practical((practicals_folder() / f"{name}.toml").read_text()), {"sample.mass": Decimal(mass)}
    )
    assert loaded.file.reference is not None
    expected = formula_of(loaded).curve.titre(Fraction(loaded.file.reference.value or 0))
    assert float(expected or 0) == pytest.approx(titre, abs=0.01)


def test_of_two_columns_of_one_name_the_first_counts_and_no_cell_is_lost(tmp_path):
    rows = class_of(4)
    path = write(tmp_path / "class.csv", rows, "Mass / g")
    lines = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    for line, more in zip(lines, ["Mass used / g", "1.1", "1.2", "1.3", "1.4"], strict=True):
        line.insert(2, more)
    path.write_text("\n".join(map(",".join, lines)), encoding="utf-8")
    tree = judged_tree(path, own_practical(tmp_path), ())
    assert [str(each["inputs"][0]["value"]) for each in tree["students"]] == [row.mass for row in rows]
    cells = tree["cells"]
    assert cells["filled"] == sum(map(len, lines)) == cells["used"] + cells["ignored"] + cells["rejected"]
    assert {"cell": "C2", "why": "another number of that name was taken"} in cells["ignored_cells"]


def test_so_much_sample_that_no_titre_gives_the_reference_tells_nothing_of_the_bench(tmp_path):
    # 2.950 g × 0.932 ÷ 100.09 g/mol × 2 is 54.9 mmol of acid, and 50.0 mmol were added.
    head = "Student,Mass,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result"
    rows = [f"S{place},1.500,0.00,22.05,0.00,22.10,22.08,93.2" for place in range(8)]
    rows.append("S9,2.950,0.00,0.50,0.00,0.55,0.53,83.9")
    (tmp_path / "class.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    last = judged_tree(tmp_path / "class.csv", "eggshells-own-masses", ())["students"][-1]
    assert codes(last) == set()
    reasons = {each["criterion"]: (each["mark"], each["reason"]) for each in last["marks"]}
    assert reasons["accuracy"] == (None, "There is no expected titre to compare with.")


# --- another pipette than the sheet says ---

OWN_PIPETTE = DRAIN_CLEANER.replace("aliquot = 25.0", 'aliquot = { column = "Pipette", default = 25.0 }')


def lye(name: str, pipette: str, used: float, *, summed: float | None = None) -> list[str]:
    """Return a row of somebody with 0.0974 mol/dm³ of lye; `summed` is the pipette in the sum, if not the one used."""
    titre = round(0.0974 * used / 2 / 0.0500 * 20) / 20
    result = f"{0.0500 * titre * 2 / (summed or used):.3g}"
    return [name, pipette, "0.00", f"{titre:.2f}", "1.00", f"{titre + 1:.2f}", f"{titre:.2f}", result]


def lye_class(folder: Path, *rows: list[str]) -> Path:
    (folder / "own.toml").write_text(OWN_PIPETTE, encoding="utf-8")
    head = ["Student", "Pipette", *(f"Run {n} {end}" for n in (1, 2) for end in ("initial", "final"))]
    others = [lye(f"S{place}", pipette, 25) for place, pipette in enumerate(["25.0", "", "25.0", "", "25.0", ""])]
    with (folder / "class.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[*head, "Mean titre", "Result"], *others, *rows])
    return folder / "class.csv"


@pytest.mark.parametrize(
    ("written", "told"),
    [("", "No pipette is written: 25.0 cm³ is used."), ("25.0", "A pipette of 25.0 cm³ is written.")],
)
def test_who_took_another_pipette_than_the_sheet_says_is_asked_about_it_and_loses_nothing(tmp_path, written, told):
    path = lye_class(tmp_path, lye("Ada", written, 20))
    *others, student = judged_tree(path, str(tmp_path / "own.toml"), ())["students"]
    assert [code for each in others for code in codes(each)] == []
    assert codes(student) == {"implausible-input"}
    asked = "One of 20 cm³ would give the result that is written. Compare it with the notebook."
    assert student["findings"][0]["message"] == f"{told} {asked}"
    assert {each["criterion"] for each in student["marks"] if each.get("pending")} == {"calculation", "accuracy"}
    assert [each for each in student["marks"] if each["mark"] is not None and each["mark"] < each["out_of"]] == []
    assert student["feedback"]["next"] == ["Write down the volume that is printed on the pipette you use."]


def test_which_pipette_it_was_may_be_decided_where_none_is_written(tmp_path):
    text = lye_class(tmp_path, lye("Ada", "", 20)).read_text(encoding="utf-8")
    folder = Marked(tmp_path / "marked", str(tmp_path / "own.toml"))
    folder.mark(text)
    folder.write(("Inputs", {"Student": "Ada", "Input": "Pipette", "Value": None}, "Is", 20))
    student = folder.mark(text)["students"][-1]
    assert (codes(student), lost(student)) == (set(), [])


@pytest.mark.parametrize(
    ("written", "used", "summed", "for_which"),
    [
        ("", 20, 25, "This is worked out for the practical’s pipette of 25 cm³."),
        ("25.0", 20, 25, "This is worked out for the pipette of 25 cm³ that is written."),
        ("20.0", 25, 20, "This is worked out for the pipette of 20 cm³ that is written."),
    ],
)
def test_another_pipette_than_a_students_own_is_named(tmp_path, written, used, summed, for_which):
    path = lye_class(tmp_path, lye("Ada", written, used, summed=summed))
    student = judged_tree(path, str(tmp_path / "own.toml"), ())["students"][-1]
    (finding,) = student["findings"]
    assert finding["finding"] == "wrong-aliquot"
    assert f"a pipette of {used} cm³ would give such titres" in finding["message"]
    assert student["feedback"]["summary"].endswith(for_which)
