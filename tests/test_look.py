"""[sheet]: what students read in the units, the decimal mark, the size and the order that a school wants."""

from __future__ import annotations

import io
import math
import random
import re
from decimal import Decimal
from functools import cache
from itertools import pairwise
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

from labmark.lesson.class_sheet import write_class_sheet
from labmark.lesson.pages import results_sheets
from labmark.meaning import examples_of
from labmark.outputs.chart import distribution
from labmark.outputs.forms import Forms
from labmark.outputs.press import printed
from labmark.outputs.sheets import manuscript_of
from labmark.practical import practical_from_rows, practical_from_toml
from labmark.practical.load import school_from_toml
from labmark.practicals import find_practical, school_at
from labmark.problems import InputError
from tests.classes import titres, tree_of
from tests.example_tree import example_tree
from tests.practicals import DRAIN_CLEANER
from tests.sheet_pages import student_sheets


@cache
def pages(place: int = 3, **look: Any) -> list[Any]:
    """Return the pages of a student's sheet with a look."""
    return PdfReader(io.BytesIO(pdf(place, **look))).pages


def pdf(place: int = 3, **look: Any) -> bytes:
    tree = example_tree()
    tree["practical"]["sheet"] |= look
    tree["practical"]["title"] = "Drains at 2.5 cm³ and 1.0 mol/dm³"
    for at, student in enumerate(tree["students"]):
        student["sheet"] = f"feedback/{at:02d}.pdf" if at == place else None
    [(_, made)] = student_sheets(tree)
    return made


def words(**look: Any) -> str:
    text = " ".join(page.extract_text() for page in pages(**look))
    return " ".join(text.replace("\u200b", "").split())


def own_words(**look: Any) -> str:
    """Return the words of a sheet without what was typed."""
    return words(**look).replace("Drains at 2.5 cm³ and 1.0 mol/dm³", "")


@pytest.mark.parametrize(
    ("forms", "text", "shown"),
    [
        (("mL", "mol/dm3", "."), "24.35 cm³ of 0.100 mol/dm³", "24.35 mL of 0.100 mol/dm³"),
        (("mL", "M", "."), "from cm³ to dm³, in mmol/dm³", "from mL to L, in mM"),
        (("cm3", "mol/L", "."), "5.0 × 10⁻⁶ mol³/dm⁹ in 25 cm³", "5.0 × 10⁻⁶ mol³/L³ in 25 cm³"),
        (("cm3", "M", "."), "5.0 × 10⁻⁶ mol³/dm⁹", "5.0 × 10⁻⁶ M³"),
        (("mL", "mol/dm3", "."), "4.0 g/dm³, 0.4 g per 100 cm³", "4.0 g/L, 0.4 g per 100 mL"),
        (
            ("cm3", "mol/dm3", ","),
            "24.35, 24.40 and 24.45 of runs 1, 2 and 3",
            "24,35; 24,40 and 24,45 of runs 1, 2 and 3",
        ),
        (("cm3", "mol/dm3", ","), "FeSO4.7H2O, −0.3 %, labmark 1.2.3", "FeSO4.7H2O, −0,3 %, labmark 1.2.3"),
        (("mL", "mol/dm3", ","), "“24.o5 2.5 cm³” is no number", "“24.o5 2.5 cm³” is no number"),
        (("mL", "mol/dm3", ","), "Bench 3.5 used 1.5 cm³", "Bench 3.5 used 1,5 mL"),
    ],
)
def test_units_and_numbers_are_written_as_the_school_does(forms, text, shown):
    assert Forms(*forms, frozenset({"Bench 3.5"}))(text) == shown


def test_a_sheet_has_its_units_and_its_decimal_mark_throughout():
    text = own_words(volume="mL", concentration="mol/L", decimal=",")
    assert "cm³" not in text
    assert "dm³" not in text
    assert not re.search(r"\d\.\d", text)
    assert "mol/L" in text


def test_what_the_teacher_typed_stays():
    assert "Drains at 2.5 cm³ and 1.0 mol/dm³" in words(volume="mL", concentration="M", decimal=",")


@pytest.mark.slow
def test_nothing_else_of_a_sheet_changes_with_its_units():
    assert own_words(volume="mL").replace("mL", "cm³").replace(" L ", " dm³ ") == own_words()


def test_the_chart_has_them_too():
    tree = example_tree()
    tree["practical"]["sheet"] |= {"volume": "mL", "concentration": "M", "decimal": ","}
    drawn = distribution(tree)
    assert "cm³" not in drawn.alt + drawn.svg.decode()
    assert "mol/dm³" not in drawn.alt + drawn.svg.decode()


def test_a_page_is_on_the_paper_that_there_is():
    assert [float(side) for side in pages(paper="letter")[0].mediabox[2:]] == [612, 792]


def sizes(page: Any) -> set[float]:
    found: set[float] = set()

    def visit(text: str, cm: Any, tm: Any, _font: Any, size: float) -> None:
        if text.strip():
            found.add(round(abs(size * tm[3] * cm[3]), 1))

    page.extract_text(visitor_text=visit)
    return found


def test_large_print_is_18_pt_its_labels_14_and_takes_as_many_pages_as_it_takes():
    large = pages(size="large")
    found = set().union(*map(sizes, large))
    assert len(large) > 1
    assert 18.0 in found
    assert min(found) >= 14


def heights(page: Any) -> list[float]:
    """Return how high each piece of text stands."""
    found: list[float] = []
    page.extract_text(visitor_text=lambda text, at, *_: found.append(at[5]) if text.strip() else None)
    return found


def test_in_large_print_the_cautions_stand_clear_of_what_is_above_them():
    tree = example_tree()
    tree["practical"]["sheet"] |= {"size": "large", "parts": ("comment", "class", "cautions")}
    tree["students"] = [each | {"sheet": "a.pdf" if at == 3 else None} for at, each in enumerate(tree["students"])]
    tree["students"][3]["comment"] = "words " * 9 * 18  # the page would be as good as full
    [(_, made)] = student_sheets(tree)
    for page in PdfReader(io.BytesIO(made)).pages:
        apart = [above - below for above, below in pairwise(heights(page))]
        assert min(each for each in apart if each > 1) > 14


def test_parts_stand_in_the_order_that_was_asked_for_and_no_others():
    text = own_words(parts=("marks", "summary"))
    others = ("Your readings", "At the bench", "The working", "You in the class", "What to do next")
    assert not [each for each in others if each in text]
    assert text.index("Marks, and where each came from") < text.index("Your runs agree")


def test_the_class_is_left_out_and_the_school_put_in():
    assert "You in the class" in words()
    text = words(class_strip=False, school="Invented School, 1.5 Science Lane")
    assert "You in the class" not in text
    assert text.endswith("Invented School, 1.5 Science Lane")


def test_a_practical_stands_above_its_school():
    school = school_from_toml('[sheet]\nvolume = "mL"\nsize = "large"\n')
    made = practical_from_toml(DRAIN_CLEANER + '[sheet]\nsize = "normal"\n', school=school).file.sheet
    assert (made.volume, made.size, made.paper) == ("mL", "normal", "A4")


def test_a_practical_sheet_holds_it_too():
    rows = [("title", "t", "B1"), ("equation", "HCl + NaOH -> NaCl + H2O", "B2"), ("burette.solution", "NaOH", "B3")]
    rows += [("burette.concentration", 0.1, "B4"), ("flask.solution", "HCl", "B5"), ("flask.aliquot", 25, "B6")]
    rows += [("result.of", "HCl", "B7"), ("sheet.decimal", ",", "B8"), ("sheet.class_strip", False, "B9")]
    rows += [("sheet.parts", "marks", "B10"), ("sheet.parts", "advice", "B11")]
    made = practical_from_rows(rows, "class.xlsx").file.sheet
    assert (made.decimal, made.class_strip, made.parts) == (",", False, ("marks", "advice"))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('language = "xx"', "'xx' is not there yet; there is 'en'"),
        ('volume = "litres"', "sheet.volume"),
        ('parts = ["mark"]', "sheet.parts"),
        ('colour = "red"', "key sheet.colour is not known"),
    ],
)
def test_what_it_does_not_know_is_one_clear_error(line, said):
    with pytest.raises(InputError) as error:
        practical_from_toml(f"{DRAIN_CLEANER}[sheet]\n{line}\n", "own.toml")
    [problem] = error.value.problems
    assert said in str(problem)


def test_the_blank_sheet_for_the_bench_follows_it():
    look = '[sheet]\nvolume = "mL"\nconcentration = "mol/L"\npaper = "letter"\n'
    practical = practical_from_toml(DRAIN_CLEANER + look)
    [page] = PdfReader(io.BytesIO(results_sheets(practical, examples_of(practical), 3))).pages
    assert "Your readings, in mL" in page.extract_text()
    assert "cm³" not in page.extract_text()
    assert "mol/dm³" not in page.extract_text()
    assert float(page.mediabox[2]) == 612


def mates(seed: int) -> list[Any]:
    """Return five classmates with a reading or two out of the way."""
    rng = random.Random(seed)
    made = []
    for _ in range(5):
        values = [24.35 + rng.gauss(0, 0.08) for _ in range(rng.choice((1, 2, 3)))]
        values[0] += rng.choice((0, 0, rng.uniform(0.3, 3)))
        made.append(titres(*(f"{round(value * 20) / 20:.2f}" for value in values)))
    return made


@pytest.mark.slow
@pytest.mark.parametrize(
    "mine",
    [
        titres("24.30", "24.35", "24.25"),
        titres("24.30", "24.35", "25.25"),
        titres("24.30", "25.35"),
        titres("25.30", "25.35", "25.25", result=Decimal("0.1013"), result_decimals=4),
        titres("24.80", "24.85", "24.80", mean=Decimal("24.80"), mean_decimals=2),
    ],
    ids=range(5),
)
def test_in_a_small_class_a_sheet_does_not_depend_on_the_others_results(mine):
    sheets, classes = set(), 0
    for seed in range(12):
        tree = tree_of([mine, *mates(seed)])
        if not tree["class"]["findings"]:
            classes += 1
            tree["students"][0]["sheet"] = "feedback/01.pdf"
            sheets |= {pdf for _, pdf in student_sheets(tree)}
    assert classes > 4
    assert len(sheets) == 1


def test_the_class_workbook_follows_it_and_carries_it(tmp_path):
    (tmp_path / "names.txt").write_text("Ada\nBo\n")
    (tmp_path / "school.toml").write_text(
        '[sheet]\nvolume = "mL"\ndecimal = ","\npaper = "letter"\nclass_strip = false\nparts = ["marks", "advice"]\n'
    )
    out = tmp_path / "class.xlsx"
    write_class_sheet("drain-cleaner", tmp_path / "names.txt", out, None, school_at(tmp_path / "school.toml"))
    page = openpyxl.load_workbook(out)["Results"]
    hints = [rule.prompt for rule in page.data_validations.dataValidation]
    assert any("in mL, to the nearest 0,05" in hint for hint in hints)
    assert not any("cm³" in hint for hint in hints)
    assert page.page_setup.paperSize == int(page.PAPERSIZE_LETTER)
    look = find_practical(None, out).file.sheet
    assert (look.volume, look.decimal, look.class_strip, look.parts) == ("mL", ",", False, ("marks", "advice"))


def slips(**look: Any) -> dict[str, bytes]:
    tree = example_tree()
    tree["practical"]["sheet"] |= {"slips": True, **look}
    return dict(printed(manuscript_of(tree)))


def test_two_slips_share_a_page_whose_back_is_blank():
    made = slips()
    pages = PdfReader(io.BytesIO(made.pop("feedback.pdf"))).pages
    assert len(pages) == 2 * math.ceil(len(made) / 2) - 1
    assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx([595.276, 841.890], abs=0.01)
    first, second = (student["student"] for student in example_tree()["students"][:2])
    assert first in pages[0].extract_text()
    assert second in pages[0].extract_text()
    assert not [page for page in pages[1::2] if page.extract_text().strip()]


@pytest.mark.slow
def test_a_slip_by_itself_is_half_a_page_of_one_student():
    for pdf in slips(paper="letter").values():
        pages = PdfReader(io.BytesIO(pdf)).pages
        if len(pages) == 1:
            assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx([612, 396], abs=0.01)


@pytest.mark.slow
def test_a_slip_has_what_was_lost_with_the_reason_and_names_what_is_full():
    text = " ".join(PdfReader(io.BytesIO([*slips().values()][1])).pages[0].extract_text().split())
    assert "Full marks: Recording 1, Table 1" in text
    assert "0 / 1 the mean takes in run 2" in text
    assert "What to do next" in text
    assert "The working" not in text
    assert "At the bench wear eye protection" in text  # the advice sends them there
    assert "Never pipette by mouth" not in text


@pytest.mark.slow
def test_a_unit_stands_behind_its_answer_where_no_working_stands_beside_it():
    text = PdfReader(io.BytesIO([*slips().values()][1])).pages[0].extract_text()
    assert any(line.startswith("Mean titre cm³ 25.43") for line in text.splitlines())


def test_slips_are_not_large():
    with pytest.raises(InputError, match="slips are small"):
        practical_from_toml(DRAIN_CLEANER + '[sheet]\nslips = true\nsize = "large"\n')
