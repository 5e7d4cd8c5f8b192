"""Practical files: what may stand in them, and what is said about what may not."""

import re
from decimal import Decimal

import pytest

from labmark.practical import practical_from_rows, practical_from_toml
from labmark.problems import InputError
from tests.practicals import DRAIN_CLEANER, practical, ratio

EQUATION = 'equation = "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"'


def problems(text, *changes):
    with pytest.raises(InputError) as error:
        practical(text, *changes)
    return [str(each) for each in error.value.problems]


def test_the_mole_ratio_comes_from_the_equation():
    assert ratio(practical()) == 2


def test_numbers_keep_the_digits_that_were_written():
    assert str(practical().file.burette.concentration) == "0.0500"


def test_defaults_are_filled_in():
    given = practical().file
    assert (given.concordance.within, given.concordance.at_least) == (Decimal("0.10"), 2)
    assert (given.burette.capacity, given.burette.division) == (50, Decimal("0.1"))
    assert given.result.quantity == "amount concentration"
    assert [each.criterion for each in given.marks][-1] == "accuracy"


@pytest.mark.parametrize(("mark", "of"), [("AS", "A"), ("a", "A"), ("b", "B")])
def test_the_class_of_glassware_may_stand_as_on_the_glass(mark, of):
    text = DRAIN_CLEANER.replace("[burette]", f'[burette]\nclass = "{mark}"')
    assert practical_from_toml(text).file.burette.glass_class == of


def test_an_unknown_key_is_named_with_the_nearest_known_one():
    assert problems(DRAIN_CLEANER, ("aliquot = 25.0", "aliqout = 25.0")) == [
        "practical.toml: key flask.aliqout is not known; the nearest known key is aliquot; correct or remove it",
    ]


@pytest.mark.parametrize(("key", "without"), [("burette.solution", "burette_solution"), ("flask.aliquot", "aliquot")])
def test_a_key_of_a_sheet_without_its_table_is_named_with_it(key, without):
    rows = [(without if name == key else name, *rest) for name, *rest in ROWS]
    with pytest.raises(InputError, match=f"{without} is not known; the nearest known key is {re.escape(key)};"):
        practical_from_rows(rows, "class.xlsx")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("0.0500", '"strong"', "key burette.concentration: found 'strong', expected a number; "),
        ("aliquot = 25.0", 'aliquot = "25 mL"', "key flask.aliquot: found '25 mL', expected a number; "),
        ("[burette]", "burette = 5\n[burettes]", "key burette: found 5, expected a table of keys; "),
        ('"H2SO4"', '"EDTA"', "or say what it brings: gives = "),
        ("0.0500", "-0.05", "key burette.concentration: found -0.05, expected more than 0"),
        ('of = "NaOH"', 'of = "NaOH"\nquantity = "strength"', "found 'strength', expected 'amount concentration', "),
        (
            "-> Na2SO4 + 2 H2O",
            "-> Na2SO4 + H2O",
            "does not balance: H: 4 on the left, 2 on the right; O: 6 on the left, 5",
        ),
        (
            '"H2SO4"',
            '"HCl"',
            "key burette.solution: found 'HCl', expected a species of the equation (NaOH, H2SO4, Na2SO4, H2O); name a",
        ),
        ('"H2SO4"', '"H2S04"', "found 'H2S04', expected a species of the equation (NaOH, H2SO4, Na2SO4, H2O); perhaps"),
        ('of = "NaOH"', 'of = "H2O"', "key result.of: found H2O, expected what is titrated (H2SO4 or NaOH)"),
        ("concentration = 0.0500\n", "", "key burette.concentration: is missing: it is the known one"),
        ("aliquot = 25.0", "aliquot = 25.0\nconcentration = 0.1", "key flask.concentration: NaOH is the unknown"),
        ('solution = "NaOH"', 'solution = "H2SO4"', "burette and flask hold the same species"),
        (
            'of = "NaOH"',
            'of = "NaOH"\nquantity = "molar mass"',
            "molar mass needs the mass weighed; add [sample] with mass",
        ),
        ("value = 0.0974", 'by = "Bottle"', "by needs values"),
        (
            "aliquot = 25.0",
            "aliquot = 25.0\ndilution = { taken = 50, made_up_to = 25 }",
            "made_up_to must be larger than taken",
        ),
    ],
)
def test_what_cannot_be_used_is_said_with_its_key(old, new, said):
    found = problems(DRAIN_CLEANER, (old, new))
    assert any(said in each for each in found), found


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("equation = 5", "key equation: found 5, expected a text"),
        ("equation = []", "key equation: found [], expected a text"),
        ('equation = [1, "I2 -> 2 I"]', "key equation.1: found 1, expected a text"),
        (f'{EQUATION}\npka = {{ HA = "x" }}', "key pka.HA: found 'x', expected a number"),
        (f'{EQUATION}\npka = {{ HA = [6.3, "x"] }}', "key pka.HA.2: found 'x', expected a number"),
        (f"{EQUATION}\npka = {{ HA = 50, HB = 4 }}", "key pka.HA: found 50, expected less than or equal to 40"),
    ],
)
def test_what_may_be_a_list_is_named_by_its_key_alone(keys, said):
    assert problems(DRAIN_CLEANER, (EQUATION, keys)) == [f"practical.toml: {said}; correct it"]


@pytest.mark.parametrize(
    ("equation", "of", "said"),
    [
        (
            "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O",
            "Na2SO4",
            "H2SO4 and Na2SO4 stand on different sides: the reaction makes one",
        ),
        (
            "2 NaOH + H2SO4 + NaCl -> Na2SO4 + 2 H2O + NaCl",
            "NaCl",
            "NaCl cancels out, as it stands on both sides alike",
        ),
    ],
)
def test_what_the_reaction_does_not_use_up_is_no_unknown(equation, of, said):
    with pytest.raises(InputError) as caught:
        practical(
            DRAIN_CLEANER,
            ("2 NaOH + H2SO4 -> Na2SO4 + 2 H2O", equation),
            ('solution = "NaOH"', f'solution = "{of}"'),
            ('of = "NaOH"', f'of = "{of}"'),
        )
    assert said in str(caught.value)


def test_an_equation_written_from_right_to_left_is_as_good():
    backwards = ("2 NaOH + H2SO4 -> Na2SO4 + 2 H2O", "Na2SO4 + 2 H2O -> 2 NaOH + H2SO4")
    assert ratio(practical(DRAIN_CLEANER, backwards)) == 2


def test_every_problem_is_said_at_once():
    assert (
        len(
            problems(DRAIN_CLEANER, ("aliquot = 25.0", "aliquot = 0"), ("0.0500", "0"), ("[result]", "[result]\nx = 1"))
        )
        == 3
    )


def test_a_text_that_is_no_toml_is_said_to_be_none():
    assert "not a practical file in TOML" in problems("title = ")[0]
    assert problems("concentration = 0,0500")[0].endswith("; write a decimal point, not a comma")


MARKS = """
[[marks]]
criterion = "accuracy"
bands = [ { within = 0.20, mark = 3 }, { within = 0.40, mark = 2 } ]
"""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"accuracy"', '"acuracy"', "'acuracy' is not a criterion that labmark marks; the nearest is accuracy."),
        ('"accuracy"', '"figures"\nslip = 1', "slip belongs to calculation, not to figures"),
        ('"accuracy"', '"concordance"\nunit = "percent"', "unit = percent belongs to accuracy"),
        ('"accuracy"', '"tidy bench"\nby = "teacher"', "tidy bench takes mark = N, not bands"),
        ("within = 0.20", "within = 0.60", "bands must widen from the first to the last"),
        ("mark = 3", "mark = 1", "a wider band cannot earn a higher mark"),
        ('"accuracy"', '"figures"', "figures takes mark = N, not bands"),
        ("bands = [ { within = 0.20, mark = 3 }, { within = 0.40, mark = 2 } ]", "mark = 3", "accuracy needs bands"),
        ("bands = [ { within = 0.20, mark = 3 }, { within = 0.40, mark = 2 } ]", "", "needs mark = N or bands"),
    ],
)
def test_a_marking_scheme_that_makes_no_sense_is_refused(old, new, said):
    found = problems(DRAIN_CLEANER + MARKS, (old, new))
    assert any(said in each for each in found), found


def test_a_criterion_of_any_name_may_be_the_teachers_own():
    own = '[[marks]]\ncriterion = "tidy bench"\ntitle = "Tidy bench"\nby = "teacher"\nmark = 2\n'
    (given,) = practical(DRAIN_CLEANER + own).file.marks
    assert (given.criterion, given.shown, given.by, given.out_of) == ("tidy bench", "Tidy bench", "teacher", 2)


def test_each_named_slip_costs_one_mark_unless_the_scheme_says_otherwise():
    scheme = '[[marks]]\ncriterion = "calculation"\nmark = 4\n'
    assert practical(DRAIN_CLEANER + scheme).file.marks[0].slip == 1
    assert practical(DRAIN_CLEANER + scheme + "slip = 0.5\n").file.marks[0].slip == Decimal("0.5")


GRADES = """
[[grades]]
at_least = 60
grade = "C"
[[grades]]
at_least = 80
grade = "A"
"""


def test_grades_may_stand_in_any_order_and_are_kept_the_best_first():
    assert [(each.at_least, each.grade) for each in practical(DRAIN_CLEANER + GRADES).file.grades] == [
        (80, "A"),
        (60, "C"),
    ]
    assert "two grades begin at the same per cent" in problems(DRAIN_CLEANER + GRADES, ("60", "80"))[0]
    assert problems(DRAIN_CLEANER + GRADES, ("80", "101"))


@pytest.mark.parametrize(
    "rows",
    [
        [("grades.1.at_least", 80), ("grades.1.grade", "A"), ("grades.2.at_least", 60), ("grades.2.grade", "9")],
        [("[[grades]]", None), ("at_least", 80), ("grade", "A"), ("[[grades]]", None), ("at_least", 60), ("grade", 9)],
        [("grades.grade", "A"), ("grades.at_least", 80), ("grades.grade", "9"), ("grades.at_least", 60)],
        [("Grades.A", 80), ("grades.9", 60)],
    ],
)
def test_grades_stand_in_a_practical_sheet_as_marks_do(rows):
    made = practical_from_rows([*ROWS, *((key, value, "A20") for key, value in rows)], "class.xlsx")
    assert [(each.at_least, each.grade) for each in made.file.grades] == [(80, "A"), (60, "9")]


def test_a_criterion_stands_once():
    assert problems(DRAIN_CLEANER + MARKS + MARKS)[0].startswith("practical.toml: marks: accuracy stands twice")


ROWS = [
    ("title", "Strength of a drain cleaner", "A1"),
    ("Equation", "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O", "A2"),
    ("burette.solution", "H2SO4", "A3"),
    ("burette.concentration", 0.05, "A4"),
    ("flask.solution", "NaOH", "A5"),
    ("flask.aliquot", 25, "A6"),
    ("result.of", "NaOH", "A7"),
    ("cautions", "sodium hydroxide: corrosive", "A8"),
    ("cautions", "sulfuric acid: irritant", "A9"),
    ("marks.1.criterion", "recording", "A10"),
    ("marks.1.mark", 1, "A11"),
    ("marks.2.criterion", "accuracy", "A12"),
    ("marks.2.bands", "0.20: 3, 0.40: 2", "A13"),
]


def test_a_practical_sheet_says_the_same_in_rows():
    made = practical_from_rows(ROWS, "class.xlsx")
    assert ratio(made) == 2
    assert made.file.cautions == ("sodium hydroxide: corrosive", "sulfuric acid: irritant")
    assert [(each.criterion, each.out_of) for each in made.file.marks] == [("recording", 1), ("accuracy", 3)]


def test_a_problem_in_a_practical_sheet_names_the_cell():
    rows = [*ROWS[:5], ("flask.aliquot", "a lot", "A6"), *ROWS[6:]]
    with pytest.raises(
        InputError, match=re.escape("class.xlsx, sheet Practical, cell A6: key flask.aliquot: found 'a lot'")
    ):
        practical_from_rows(rows, "class.xlsx")


def test_a_key_given_twice_in_a_sheet_is_refused():
    with pytest.raises(InputError, match="stands twice"):
        practical_from_rows([*ROWS, ("flask.aliquot", 20, "A14")], "class.xlsx")


def test_the_unknown_may_stand_in_the_burette():
    text = DRAIN_CLEANER.replace("concentration = 0.0500\n", "").replace(
        "aliquot = 25.0", "aliquot = 25.0\nconcentration = 0.1"
    )
    made = practical_from_toml(text.replace('of = "NaOH"', 'of = "H2SO4"'))
    assert (made.known_in, made.unknown_in, ratio(made)) == ("flask", "burette", 0.5)


def rows_with(*more):
    """The rows of the sheet without their marks, and more."""
    return [*ROWS[:9], *((key, value, f"A{place}") for place, (key, value) in enumerate(more, start=10))]


@pytest.mark.parametrize(
    "marks",
    [
        [("marks.recording", 1), ("marks.accuracy", "0.20: 3, 0.40: 2")],
        [("marks.recording", 1), ("marks.accuracy", "0,20: 3; 0,40: 2")],
        [("marks.recording", 1), ("marks.accuracy", "0.20:3,0.40:2")],
        [("marks[1].criterion", "recording"), ("marks[1].mark", 1), ("marks[2].criterion", "accuracy"), ("marks[2].bands", "0.20: 3, 0.40: 2")],
        [("[[marks]]", None), ("criterion", "recording"), ("mark", 1), ("[[marks]]", None), ("criterion", "accuracy"), ("bands", "0.20:3; 0.40:2")],
        [("marks.criterion", "recording"), ("marks.mark", 1), ("marks.criterion", "accuracy"), ("marks.bands", "0.20: 3, 0.40: 2")],
        [("marks.1.criterion", "recording"), ("marks.1.mark", 1), ("marks.2.criterion", "accuracy"), ("marks.2.bands", "[{ within = 0.20, mark = 3 }, { within = 0.40, mark = 2 }]")],
    ],
)  # fmt: skip
def test_a_marking_scheme_may_be_written_in_several_ways(marks):
    made = practical_from_rows(rows_with(*marks), "class.xlsx").file.marks
    assert [(each.criterion, each.out_of) for each in made] == [("recording", 1), ("accuracy", 3)]
    assert [(band.within, band.mark) for band in made[1].bands] == [(Decimal("0.20"), 3), (Decimal("0.40"), 2)]


def test_tables_may_be_opened_by_a_row_of_their_own():
    rows = [
        ("title", "t", "A1"),
        ("equation", ROWS[1][1], "A2"),
        ("[burette]", None, "A3"),
        ("solution", "H2SO4", "A4"),
    ]
    rows += [("concentration", 0.05, "A5"), ("[flask]", None, "A6"), ("solution", "NaOH", "A7"), ("aliquot", 25, "A8")]
    rows += [
        ("dilution", "{ taken = 10.0, made_up_to = 250.0 }", "A9"),
        ("[result]", None, "A10"),
        ("of", "NaOH", "A11"),
    ]
    made = practical_from_rows(rows, "class.xlsx").file
    assert made.flask.dilution is not None
    assert made.flask.dilution.made_up_to == 250


def test_groups_with_a_reference_keep_their_names():
    rows = rows_with(("reference.by", "Bottle"), ("reference.values.A", 0.1012), ("reference.values.b 2", 0.0987))
    made = practical_from_rows(rows, "class.xlsx").file
    assert made.reference is not None
    assert list(made.reference.values) == ["A", "b 2"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[reference]", "[concordance]\nwithin = 0.03333\n[reference]", "0.03333 is not a whole number of microlitres"),
        ("aliquot = 25.0", "aliquot = 1e300", "key flask.aliquot: found 1E+300, expected less than or equal to 100000"),
        ("0.0500", "1e-300", "key burette.concentration: found 1E-300, expected more than 0"),
    ],
)
def test_numbers_that_no_laboratory_has_are_refused(old, new, said):
    found = problems(DRAIN_CLEANER, (old, new))
    assert any(said in each for each in found), found


WEIGHED = ("[reference]\nvalue = 0.0974", "[sample]\nmass = 1.0\nmade_up_to = 250.0\n[reference]\nvalue = 322")
PERCENT = ('of = "NaOH"', 'of = "NaOH"\nquantity = "percent by mass"')


def test_a_reference_that_no_sample_has_is_refused():
    (found,) = problems(DRAIN_CLEANER, WEIGHED, PERCENT)
    assert "key reference.value: found 322, but no sample holds more than 100 % of NaOH;" in found


# Na2CO3.10H2O for 2 NaOH: 286.14 g/mol ÷ 2 ÷ 39.997 g/mol is 358 % of what is nothing but NaOH.
@pytest.mark.parametrize("more", ['expressed_as = "1/2 Na2CO3.10H2O"', 'unit = "mg/g"'])
def test_a_reference_above_100_may_stand_where_a_sample_may_have_it(more):
    assert practical(DRAIN_CLEANER, WEIGHED, (PERCENT[0], f"{PERCENT[1]}\n{more}"))
