"""The students' sheets: what stands on them, what does not, and that they always fit one accessible page."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pypdf import PdfReader
from typst import TypstError

from labmark.outputs.press import compiler as compiler_of
from labmark.outputs.sheets import class_data, sheet_warnings, student_data
from labmark.pipeline import judged_tree
from labmark.places import templates_folder
from tests.example_tree import example_tree
from tests.seeds import few_quick
from tests.sheet_pages import all_sheets, student_sheets

TEMPLATE = templates_folder() / "sheet.typ"
A4 = (595.276, 841.890)
"""210 mm × 297 mm in points (ISO 216)."""
HOSTILE = [
    '#read("/etc/passwd")',
    "$x",
    "*b* _i_ `c`",
    "<script>alert(1)</script>",
    "@label <label>",
    "= heading",
    "\\ // /* ]) } {",
    "a" * 300,
    "long words " * 30,
    "محمد علي",
    "😀 smile",
    "Zoë Łukaszówna-Đặng",
    "line\nbreak\x00\u202e\ufeff",
    "\ud800",
]


def reader(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def text(pdf: bytes) -> str:
    """Return the words of all pages, without line ends and places of no width where words may break."""
    pages = "\n".join(page.extract_text() for page in reader(pdf).pages)
    return " ".join(pages.replace("\u200b", "").split())


def only(tree: Any, *places: int) -> Any:
    """Return the tree with a sheet for some students only: the class is still the whole class."""
    for place, student in enumerate(tree["students"]):
        student["sheet"] = f"feedback/{place + 1:02d}.pdf" if place in places else None
    return tree


def sheet(place: int, tree: Any = None) -> bytes:
    if tree is None:
        return whole_class()[place]
    [(_, pdf)] = student_sheets(only(tree, place))
    return pdf


@cache
def whole_class() -> list[bytes]:
    tree = example_tree()
    return [pdf for _, pdf in student_sheets(only(tree, *range(len(tree["students"]))))]


def named(name: str) -> Any:
    """Return a tree whose first student is called `name`."""
    tree = example_tree()
    tree["students"][0]["student"] = name
    return tree


def stressed() -> Any:
    """Return a tree whose first student has as much of everything as a page may have to hold, and more."""
    tree = example_tree()
    student = tree["students"][0]
    reason = "the mean takes in a run that does not agree with the others, as the readings in the table above show, "
    student["student"] = "Maximiliane-Konstantina Longnamington-Featherstonehaugh of the Invented Valley " * 2
    student["groups"] = {f"Group {place}": "a rather long name of a group" for place in range(6)}
    student["runs"] = [
        student["runs"][1] | {"label": str(place), "why": reason * 2, "claimed_titre": Decimal("99.95")}
        for place in range(10)
    ]
    student["steps"] = student["steps"] * 3
    for mark in student["marks"]:
        mark["reason"] = reason * 4
    student["feedback"] = {"summary": reason * 5, "causes": [reason * 4] * 3, "next": [reason * 4] * 3}
    tree["practical"]["cautions"] = [reason] * 12
    return tree


@pytest.fixture(scope="module")
def class_pdf() -> bytes:
    tree = example_tree()
    return all_sheets(only(tree, *range(len(tree["students"]))))


# --- the files -------------------------------------------------------------------------------------------------------


def test_each_student_has_a_sheet_under_the_path_of_the_tree():
    tree = example_tree()
    sheets = dict(student_sheets(tree))
    assert list(sheets) == [student["sheet"] for student in tree["students"] if student["sheet"]]
    assert all(pdf.startswith(b"%PDF-") for pdf in sheets.values())


def test_progress_says_how_many_are_done():
    done: list[tuple[int, int]] = []
    list(student_sheets(only(example_tree(), 0, 3, 5), progress=lambda *far: done.append(far)))
    assert done == [(1, 3), (2, 3), (3, 3)]


@pytest.mark.parametrize("place", range(12))
def test_every_sheet_is_one_a4_page(place):
    pages = reader(sheet(place)).pages
    assert len(pages) == 1
    assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx(A4, abs=0.01)


@pytest.mark.slow
def test_the_file_for_printing_gives_every_student_paper_of_their_own(class_pdf):
    pages = reader(class_pdf).pages
    names = [student["student"] for student in example_tree()["students"]]
    assert len(pages) == 2 * len(names) - 1
    for page, name in zip(pages[::2], names, strict=True):
        assert page.extract_text().replace("\u200b", "").split()[0] == name.split()[0]
    assert not [page for page in pages[1::2] if page.extract_text().strip()]


def test_the_file_for_printing_has_a_bookmark_for_each_student(class_pdf):
    titles = [str(entry["/Title"]).replace("\u200b", "") for entry in reader(class_pdf).outline]
    assert titles == [student["student"] for student in example_tree()["students"]]


def test_a_class_of_one_has_a_file_for_printing_too():
    assert len(reader(all_sheets(only(example_tree(), 4))).pages) == 1


# --- accessible ------------------------------------------------------------------------------------------------------


def test_a_sheet_is_tagged_and_says_language_title_and_standard():
    pdf = reader(sheet(1))
    root: Any = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert pdf.metadata is not None
    assert pdf.metadata.title == "S02: Strength of a drain cleaner (invented)"
    # The identifier of PDF/UA-1 in the metadata: ISO 14289-1:2014, clause 5 (from memory).
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()


def tagged(node: Any) -> list[Any]:
    """Return every element of the structure tree below a node."""
    node = node.get_object()
    if isinstance(node, list):
        return [found for each in node for found in tagged(each)]
    if not isinstance(node, dict):
        return []
    return [node, *tagged(node["/K"])] if "/K" in node else [node]


def test_headings_tables_and_drawings_are_tagged():
    elements = tagged(reader(sheet(1)).trailer["/Root"]["/StructTreeRoot"])
    kinds = [element.get("/S") for element in elements]
    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") >= 5
    assert kinds.count("/Table") == 3
    assert "/TH" in kinds
    rows = [tagged(element)[1:] for element in elements if element.get("/S") == "/TR"]
    assert len(rows) > 12
    scopes = [[str((cell["/A"][0]).get("/Scope")) for cell in row if cell["/S"] != "/NonStruct"] for row in rows]
    assert all(scope in (["/Column"] * len(scope), ["/Row"] + ["None"] * (len(scope) - 1)) for scope in scopes)
    figures = [element for element in elements if element.get("/S") == "/Figure"]
    assert [figure["/Alt"].replace("\u00a0", " ") for figure in figures] == [
        "Number line of your titres in cm³: rough 26.10, not in the mean; run 1 25.25, in the mean; run 2 "
        "25.75, left out of the mean; run 3 25.30, in the mean. The titres in the mean are 0.05 cm³ apart: concordant "
        "(limit 0.10). The reference would give 25.30.",
        "Strip of the 11 results of the class, without names, with the reference 0.1012 mol/dm³. Your result is "
        "0.1011 mol/dm³.",
    ]


def luminance(colour: str) -> float:
    """Return the relative luminance of "1b252c" (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2, definition of contrast ratio)."""
    darker, lighter = sorted((luminance(first), luminance(second)))
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_that_of_black_and_white_where_it_should_be():
    # WCAG 2.2: "contrast ratios can range from 1 to 21".
    assert contrast("000000", "ffffff") == pytest.approx(21)
    assert contrast("114a5c", "114a5c") == 1


@pytest.mark.parametrize("ink", ["ink", "quiet", "deep", "own-colour"])
@pytest.mark.parametrize("paper", ["white", "tint", "band"])
def test_text_has_the_contrast_of_wcag_level_aa_on_every_ground(ink, paper):
    colours = dict(re.findall(r'#let ([a-z-]+) = rgb\("#([0-9a-f]{6})"\)', TEMPLATE.read_text(encoding="utf-8"))) | {
        "white": "ffffff"
    }
    # WCAG 2.2, success criterion 1.4.3: at least 4.5 : 1.
    assert contrast(colours[ink], colours[paper]) >= 4.5


# --- what stands on a sheet ------------------------------------------------------------------------------------------


def test_a_sheet_shows_readings_use_working_claims_marks_and_advice():
    words = text(sheet(1))
    for part in [
        "Strength of a drain cleaner (invented) · Bench 1",
        "12 of 13 marks",
        "Two of your runs agree within 0.05 cm³.",
        "2 0.10 25.85 25.75 no 0.45 above the others",
        "0.05 cm³ apart: concordant (limit 0.10)",
        "0.0500 mol/dm³ × 25.28 cm³ ÷ 1000 = 0.001264 mol",
        "25.43 ≠ 25.28",
        "the mean takes in run 2, which lies 0.45 cm³ above the others",
        "Run 2 was most likely stopped past the endpoint.",
        "Add the last cm³ drop by drop",
        "You in the class: 11 results",
        "Follow the local risk assessment and the safety data sheets",
    ]:
        assert part in words


def test_a_result_of_other_runs_that_agree_as_well_stands_beside_what_these_give(tmp_path):
    runs = "".join(f",Run {number} titre,Run {number} used" for number in (1, 2, 3, 4))
    row = "Ada,25.30,x,25.40,x,25.60,,25.70,,25.35,0.101"
    (tmp_path / "class.csv").write_text(f"Student{runs},Mean titre,Result\n{row}\n", encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", "drain-cleaner", ())
    mean, result = student_data(tree, 0, class_data(tree))["claims"]
    assert (mean["given"], mean["sign"]) == ("25.35", "")
    assert (result["own"], result["given"], result["sign"]) == ("0.101", "0.101", "")


def test_a_criterion_is_called_on_the_sheet_what_it_is_called_everywhere_else():
    tree = example_tree()
    named = [line["criterion"] for line in student_data(tree, 0, class_data(tree))["marks"]]
    assert named[:5] == ["Recording", "Table", "Titres", "Concordance", "Selection"]


def test_digits_are_shown_as_they_were_written():
    # Student 5 wrote 25.2: it must not become 25.20.
    assert "2 0.00 25.2 25.2" in text(sheet(4))


def test_a_written_titre_is_shown_only_where_it_differs_from_the_readings():
    assert "25.60" in text(sheet(3))
    assert text(sheet(3)).count("You wrote") == 2
    assert text(sheet(0)).count("You wrote") == 1


def test_a_mark_of_the_teachers_is_said_to_be_one():
    assert "Your teacher’s mark: accepted" in text(sheet(9))
    assert "Your teacher’s mark" not in text(sheet(1))


def test_runs_that_do_not_agree_are_said_not_to():
    assert "not concordant (limit 0.10)" in text(sheet(5))


def test_an_absent_student_gets_a_kind_page_without_marks():
    words = text(sheet(6))
    assert "No readings were handed in." in words
    assert "Ask your teacher when you can do the practical" in words
    assert "marks" not in words


def test_a_student_without_a_mean_titre_reads_what_is_missing():
    tree = example_tree()
    student = tree["students"][4]
    student |= {"mean_titre": None, "result": None, "steps": [], "span": None, "concordant": False}
    for run in student["runs"]:
        run |= {"used": False, "final": None, "titre": None}
    words = text(sheet(4, tree))
    assert "What is missing" in words
    assert "Run 3 has no final reading." in words
    assert "What most likely happened" not in words


def test_the_usual_deferral_is_added_where_the_cautions_lack_it():
    tree = example_tree()
    tree["practical"]["cautions"] = ["Wear eye protection."]
    assert "Follow the local risk assessment, the safety data sheets" in text(sheet(0, tree))


# --- what does not stand on a sheet ----------------------------------------------------------------------------------


def all_in(pdf: bytes) -> str:
    """Return all that can be read in a PDF: its text, its metadata, titles, alternative texts and attachments."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert not opened.attachments
        found = [str(each) for thing in opened.objects for each in strings_in(thing)]
        found += [
            thing.read_bytes().decode(errors="replace")
            for thing in opened.objects
            if isinstance(thing, pikepdf.Stream) and thing.get("/Type") == "/Metadata"
        ]
    return " ".join([text(pdf), *found]).replace("\u200b", "").replace("\u00a0", " ")


def strings_in(thing: Any) -> list[Any]:
    """Return the strings in an object of a PDF; what it refers to is an object of its own."""
    if isinstance(thing, pikepdf.String):
        return [thing]
    if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        parts = [value for key, value in thing.items() if not (hasattr(value, "is_indirect") and value.is_indirect)]
    elif isinstance(thing, pikepdf.Array):
        parts = [value for value in thing if not (hasattr(value, "is_indirect") and value.is_indirect)]
    else:
        return []
    return [found for part in parts for found in strings_in(part)]


def test_nothing_in_a_sheet_is_another_students():
    tree = only(example_tree(), 0, 1, 3, 5)
    students = tree["students"]
    for place, student in enumerate(students):
        student["student"] = f"Somebody{place:02d}"
        student["about"] = {"ID": f"9{place:02d}17", "Email": f"mail{place:02d}@school.example"}
        for run in student["runs"]:
            run["initial"] = Decimal(f"{place}.{37 + place}")
    own = {place: (f"Somebody{place:02d}", f" {place}.{37 + place} ") for place in range(len(students))}
    for place, pdf in zip(
        (p for p, s in enumerate(students) if s["sheet"]), (p for _, p in student_sheets(tree)), strict=True
    ):
        said = all_in(pdf)
        assert own[place][0] in said
        assert not students[place]["runs"] or own[place][1] in said
        others = [word for other, words in own.items() if other != place for word in words if word in said]
        assert others == []
        assert not re.search(r"9\d\d17|mail\d\d@", said)


@pytest.mark.slow
def test_a_likeness_to_another_student_is_never_shown():
    tree = example_tree()
    likeness = {"finding": "same-readings", "message": "Shares every reading with S12.", "run": None}
    for student in tree["students"][:7]:
        student["findings"] = [*student["findings"], likeness]
    tree["students"][4] |= {"mean_titre": None, "result": None, "steps": []}
    assert "Shares every reading" not in text(all_sheets(tree))


def test_a_class_too_small_to_be_anonymous_has_no_strip():
    tree = example_tree()
    tree["students"] = tree["students"][:4]
    assert "You in the class" not in text(sheet(0, tree))


@pytest.mark.slow
def test_only_students_with_the_same_reference_share_a_strip():
    tree = example_tree()
    results = sum(student["result"] is not None for student in tree["students"])
    other = [
        student
        | {
            "reference": student["reference"] and student["reference"] | {"value": 0.0987},
            "printed": student["printed"] | {"reference": "0.0987"},
        }
        for student in tree["students"]
    ]
    tree["students"] += other
    assert f"You in the class: {results} results, compared with the same reference" in text(sheet(0, tree))
    assert "reference 0.0987" in text(sheet(23, tree))


# --- fits one page ---------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_as_much_as_there_may_be_takes_more_pages_rather_than_small_print():
    pdf = sheet(0, stressed())
    words = text(pdf)
    assert len(reader(pdf).pages) > 1
    assert "(more in class)" not in words
    # The last line is there: nothing runs over the edge.
    assert "Follow the local risk assessment, the safety data sheets and the qualified person in charge." in words


def test_the_title_beside_the_cautions_has_just_the_room_that_it_takes():
    compiler = compiler_of('{"title": ""}')
    page = """
#import "sheet.typ": part, part-look, part-width
#set document(title: "Widths", date: none)
#show heading.where(level: 2): set text(..part-look)
#context assert.eq(part-width("At the bench"), measure(part("At the bench")).width)
"""
    assert compiler.compile(input=page.encode(), format="svg")
    with pytest.raises(TypstError, match="equality assertion failed"):
        compiler.compile(input=page.replace("(..part-look)", "(size: 1em)").encode(), format="svg")


@pytest.mark.slow
def test_a_guess_that_was_too_bold_is_mended(monkeypatch):
    monkeypatch.setattr("labmark.outputs.press.first_density", lambda *_: 0)
    tree = example_tree()
    tree["students"][0]["feedback"]["summary"] *= 12
    assert len(reader(sheet(0, tree)).pages) == 1
    assert len(reader(all_sheets(only(tree, 0, 1))).pages) == 3


def body_size(pdf: bytes) -> float:
    """Return the size of the first word in the table of readings [pt]."""
    found: list[float] = []

    def visit(words: str, cm: Any, tm: Any, _font: Any, size: float) -> None:
        if words.strip().startswith("Rough"):
            found.append(round(abs(size * tm[3] * cm[3]), 2))

    reader(pdf).pages[0].extract_text(visitor_text=visit)
    return found[0]


@pytest.mark.slow
def test_a_class_has_one_size_however_much_there_is_to_say_to_one_of_them():
    tree = only(example_tree(), 0, 3)
    before = {body_size(pdf) for _, pdf in student_sheets(tree)}
    tree["students"][0]["feedback"]["summary"] *= 60
    after = {body_size(pdf) for _, pdf in student_sheets(tree)}
    assert len(before) == len(after) == 1
    assert min(before) > min(after) >= 9.5


@pytest.mark.slow
def test_more_runs_than_a_page_holds_take_more_pages_that_bear_the_name():
    tree = example_tree()
    tree["students"][0]["runs"] = tree["students"][0]["runs"] * 25
    pages = reader(sheet(0, tree)).pages
    assert len(pages) > 1
    assert all(f"S01, page {number} of {len(pages)}" in page.extract_text() for number, page in enumerate(pages, 1))
    words = " ".join(page.extract_text() for page in pages)
    assert words.count("never in the mean") == 25


# --- what a student typed is text ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", few_quick(HOSTILE, 8), ids=range(len(HOSTILE)))
def test_a_hostile_name_is_printed_as_text_on_one_page(name):
    pdf = sheet(0, named(name))
    assert len(reader(pdf).pages) == 1
    assert "root:" not in text(pdf)


def hostile(data: Any, word: str) -> Any:
    """Return the data with `word` for every text that somebody may have typed or that may quote it."""
    if isinstance(data, dict):
        fixed = ("kind", "by", "criterion", "sheet", "finding", "level", "unit", "from")
        return {key: value if key in fixed else hostile(value, word) for key, value in data.items()}
    if isinstance(data, list):
        return [hostile(each, word) for each in data]
    return word if isinstance(data, str) else data


@pytest.mark.parametrize("word", few_quick(HOSTILE, 16), ids=range(len(HOSTILE)))
def test_hostile_text_anywhere_on_a_sheet_stays_text(word):
    tree = example_tree()
    tree["students"][1] = hostile(tree["students"][1], word)
    tree["practical"] |= {"title": word, "cautions": [word] * 3}
    assert "root:" not in text(sheet(1, tree))


@pytest.mark.parametrize("name", ['#read("/etc/passwd") $x *b*', r'") #panic("\u{41}\"\\") (\n'])
def test_markup_in_a_name_is_printed_letter_by_letter(name):
    assert text(sheet(0, named(name))).startswith(name)


@pytest.mark.parametrize("name", few_quick(["王小明", "नमस्ते", "สวัสดี", "", "   ", "\u200b", "\ue000"], 3))
def test_a_name_that_cannot_be_printed_becomes_the_number_and_is_warned_of(name):
    tree = named(name)
    assert text(sheet(0, tree)).startswith("Student 1 ")
    assert sheet_warnings(tree) == ["The name of student 1 (Results!A2) cannot be printed; the sheet says “Student 1”."]


def test_names_that_can_be_printed_are_not_warned_of():
    assert sheet_warnings(example_tree()) == []


def test_other_text_that_cannot_be_printed_is_replaced():
    tree = example_tree()
    tree["practical"]["title"] = "Acid 酸 strength"
    tree["students"][0]["marks"][0]["reason"] = "written as 二十五"
    words = text(sheet(0, tree))
    assert "Acid � strength" in words
    assert "written as ���" in words
    assert sheet_warnings(tree) == [
        "The title of the practical holds characters that cannot be printed; � stands for them."
    ]


# --- fast enough -----------------------------------------------------------------------------------------------------


# --- same input, same bytes ------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_threads_give_the_same_bytes_in_the_same_order():
    tree = example_tree()
    assert list(student_sheets(tree, jobs=3)) == list(student_sheets(tree))


@pytest.mark.slow
def test_another_process_with_another_hash_seed_gives_the_same_bytes(class_pdf):
    program = (
        "import sys; from tests.example_tree import example_tree; from tests.sheet_pages import all_sheets\n"
        "tree = example_tree()\n"
        "for place, student in enumerate(tree['students']): student['sheet'] = f'feedback/{place + 1:02d}.pdf'\n"
        "sys.stdout.buffer.write(all_sheets(tree))"
    )
    root = str(Path(__file__).parent.parent)
    settings = os.environ | {"PYTHONHASHSEED": "17", "PYTHONPATH": root, "TZ": "Pacific/Auckland"}
    other = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True, env=settings)
    assert other.stdout == class_pdf


def test_who_is_told_what_to_do_at_the_bench_is_told_to_take_care_where_no_part_says_so():
    tree = example_tree()
    group = class_data(tree)
    cautious, bare = (student_data(tree, 0, group | {"parts": parts})["next"] for parts in (["cautions"], ["advice"]))
    assert bare[:-1] == cautious
    assert "wear eye protection" in bare[-1]
    assert "local risk assessment, the safety data sheets and the qualified person in charge" in bare[-1]
