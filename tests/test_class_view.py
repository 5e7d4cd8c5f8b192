"""The class statistics on the teacher's page: pictures, tables and words, from whole classes."""

from __future__ import annotations

import json
import random
import re
from functools import cache

import jsonschema
import pytest

from labmark.cohort.sheets import FIGURES as COHORT
from labmark.outputs import plots
from labmark.outputs import report as page
from labmark.outputs.chart import Chart
from labmark.outputs.class_rows import class_sheet
from labmark.outputs.class_view import BY_A_FEW, far_out, more_figures, named, technique
from labmark.outputs.class_view import FIGURES as WORDS
from labmark.outputs.data import results_text
from labmark.outputs.layout import picture_of
from labmark.outputs.rows import marks_sheet
from labmark.places import templates_folder
from tests.classes import scattered, titres, tree_of
from tests.example_tree import example_tree
from tests.practicals import DRAIN_CLEANER
from tests.seeds import few_quick, times
from tests.test_class_statistics import BOTTLES, bottle, in_benches
from tests.test_report import Page
from tests.test_standardised import RUNS, VINEGAR


def drifting():
    return scattered(
        24, centre=lambda place: 24.0 + 0.04 * place, spread=0.04, groups=in_benches, order=lambda place: place + 1
    )


CLASSES = {
    "plain": lambda: tree_of([*scattered(14), titres("27.00", "27.05"), titres()]),
    "drifting": lambda: tree_of(drifting()),
    "two bottles": lambda: tree_of(
        scattered(12, centre=lambda place: (24.35, 25.25)[place % 2], spread=0.03, groups=bottle), BOTTLES
    ),
    "in doubt": lambda: tree_of(scattered(24, centre=25.40, spread=0.05)),
    "standardised": lambda: tree_of([titres("20.00", "20.05"), titres("20.10", "20.15")], RUNS, text=VINEGAR),
    "no uncertainties": lambda: tree_of(
        scattered(8, groups=bottle), BOTTLES, ("standard_uncertainty = 0.0004\n", "")
    ),
    "nobody": lambda: tree_of([]),
    "one student": lambda: tree_of([titres("24.35", "24.40")]),
}  # fmt: skip


@cache
def judged(name):
    return CLASSES[name]()


def text_of(name):
    return Page(page.report(judged(name), Chart(b"<svg/>", b"", "the chart"))).text


@pytest.mark.parametrize("name", few_quick(CLASSES, 9))
def test_every_class_is_a_whole_page_with_ids_once(name):
    seen = Page(page.report(judged(name), Chart(b"<svg/>", b"", "the chart")))
    assert (seen.wrong, seen.open) == ([], [])
    ids = [attributes["id"] for _, attributes in seen.elements if "id" in attributes]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", few_quick(CLASSES, 3))
def test_every_picture_says_what_it_shows_and_stays_within_its_frame(name):
    text = page.report(judged(name), Chart(b"<svg/>", b"", "the chart"))
    for attributes, inside in re.findall(r'<svg class="strip"([^>]*)>(.*?)</svg>', text, re.S):
        assert len(re.search(r'aria-label="([^"]+)"', attributes)[1]) > 20
        width, height = (float(size) for size in re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', attributes).groups())
        assert all(0 <= float(x) <= width for x in re.findall(r' (?:x|cx|x1|x2)="([-\d.]+)"', inside))
        assert all(0 <= float(y) <= height for y in re.findall(r' (?:y|cy|y1|y2)="([-\d.]+)"', inside))


# Order of work ---


def test_results_stand_in_order_of_work_with_the_robust_line():
    tree = judged("drifting")
    seen = plots.in_order_of_work(tree, picture_of(tree))
    places = [x for x, *_ in seen["points"]]
    assert (len(places), places) == (24, sorted(places))
    assert seen["slope"][1] > seen["slope"][3]  # up the page: titres rise
    assert "more than chance explains" in seen["words"]


@pytest.mark.parametrize("name", ["plain", "nobody", "one student"])
def test_without_an_order_there_is_no_picture_of_it(name):
    tree = judged(name)
    assert plots.in_order_of_work(tree, picture_of(tree)) is None


# h and k ---


def test_bars_beyond_their_indicator_are_black_and_named_in_words():
    seen = plots.consistency(judged("plain"))
    h = next(panel for panel in seen["panels"] if panel["name"] == "h")
    assert [bar["number"] for bar in h["bars"] if bar["kind"] == "beyond"] == ["15"]
    assert seen["words"].startswith("Beyond the 1 % indicator: S15 by h")


def test_bars_are_as_high_as_their_figure():
    tree = judged("plain")
    panel = plots.consistency(tree)["panels"][1]
    k = [value for value in tree["class"]["statistics"]["mandel"]["k"] if value is not None]
    tallest = max(bar["height"] for bar in panel["bars"])
    assert [bar["height"] for bar in panel["bars"]] == pytest.approx([tallest * value / max(k) for value in k], abs=0.1)


@pytest.mark.slow
def test_a_cohort_has_no_bars_that_nobody_could_tell_apart():
    assert plots.consistency(tree_of(scattered(plots.MOST_BARS + 1))) is None


# Budget ---


def test_the_longest_bar_is_the_largest_part():
    bars = plots.amounts(judged("plain")["class"]["statistics"]["budget"]["rows"])
    assert bars[0]["width"] == 100
    assert [bar["width"] for bar in bars] == sorted((bar["width"] for bar in bars), reverse=True)
    assert all("of the variance" in bar["text"] for bar in bars)


def test_a_class_without_a_result_has_no_budget():
    assert judged("nobody")["class"]["statistics"]["budget"] is None
    assert "What the uncertainty is made of" not in text_of("nobody")


# Words ---


def test_who_lies_far_out_is_named_for_the_teacher():
    tree = judged("plain")
    ((student, away),) = far_out(tree, picture_of(tree))
    assert student["student"] == "S15"
    assert away.startswith("+10") or away.startswith("+11")
    assert "Far from the class centre, for your eyes only: S15" in text_of("plain")


def test_two_bottles_stand_side_by_side_each_with_its_own_figures():
    text = text_of("two bottles")
    assert re.search(r"Bottle A \(6\) 0\.09740 ± 0\.00080", text)
    assert re.search(r"Bottle B \(6\) 0\.10100 ± 0\.00080", text)
    assert "In per cent, each student against their own reference" in text


def test_a_doubtful_reference_comes_with_what_to_check_and_both_means():
    text = text_of("in doubt")
    assert "What to check, in this order: Standardise the solution again." in text
    assert re.search(r"Mean mark of those concerned: [\d.]+ by the reference, [\d.]+ by the class", text)
    assert re.search(r"\d, by the class \d", text)


@pytest.mark.parametrize(("shift", "words"), [(0.09, "0.09 cm³ above"), (-0.04, "stopping a little short of")])
def test_a_shift_that_technique_explains_is_told_from_a_wrong_reference(shift, words):
    said = technique({"verdict": "technique", "shift_titre": shift})
    assert words in said
    assert said.endswith("Show the endpoint again before the solutions are doubted.")


@pytest.mark.parametrize("verdict", ["agrees", "doubtful", "scattered", "too few"])
def test_other_outcomes_say_nothing_of_technique(verdict):
    assert technique({"verdict": verdict, "shift_titre": 0.3}) == ""


def test_the_technicians_runs_are_told_with_their_uncertainty():
    text = text_of("standardised")
    assert re.search(r"NaOH: 0\.10\d+ mol/dm³ from 3 runs of the technician, standard uncertainty 0\.000\d+\.", text)


def test_each_student_is_told_inside_or_outside_the_combined_uncertainty():
    assert text_of("plain").count("E_n =") == 15


def test_screening_is_said_to_decide_nothing():
    assert "None of these decides a mark or leaves a result out." in text_of("plain")


def test_what_one_student_did_is_folded_away_from_what_is_shared():
    tree = tree_of([titres("24.35", "24.35"), *scattered(8, spread=0.03), titres("24.30", "24.90")])
    seen = page.view(tree)
    assert all(len(row["students"]) > 1 or row["common"] for row in seen["faults"])
    assert all(len(row["students"]) == 1 for row in seen["single"])
    assert seen["single"]


@pytest.mark.slow
def test_a_student_without_a_bottle_falls_back_on_the_common_reference():
    common = (BOTTLES[0], "value = 0.0980\n" + BOTTLES[1])
    tree = tree_of([*scattered(8, groups=bottle), titres("24.35", "24.35")], common)
    assert tree["students"][-1]["reference"]["value"] == 0.0980
    assert "S09" in Page(page.report(tree, Chart(b"<svg/>", b"", "the chart"))).text


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(times(8)))
def test_a_class_of_any_make_up_gives_a_valid_record_and_a_whole_page(seed):
    draw = random.Random(seed)
    text, changes = draw.choice(PRACTICALS)
    students = [drawn_student(draw, place) for place in range(draw.choice([0, 1, 2, 3, 5, 12, 24]))]
    tree = tree_of(students, *changes, text=text)
    schema = json.loads((templates_folder() / "results.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(json.loads(results_text(tree)))
    assert Page(page.report(tree, Chart(b"<svg/>", b"", "the chart"))).wrong == []


PRACTICALS = (
    (DRAIN_CLEANER, ()),
    (DRAIN_CLEANER.partition("[reference]")[0], ()),
    (DRAIN_CLEANER, (("standard_uncertainty = 0.0004\n", ""),)),
    (DRAIN_CLEANER, (BOTTLES,)),
    (VINEGAR, (RUNS,)),
)


def drawn_student(draw, place):
    """A student with any number of runs, groups and a place in the order of work, or without them."""
    groups = {name: draw.choice(labels) for name, labels in GROUPS.items() if name == "Bottle" or draw.random() < 0.8}
    spread = draw.choice([0, 0.03, 0.1, 1])
    runs = [f"{round((24.35 + draw.gauss(0, spread)) * 20) / 20:.2f}" for _ in range(draw.choice([0, 1, 2, 3, 3, 5]))]
    return titres(*runs, groups=groups, order=draw.choice([None, place + 1, 1]))


GROUPS = {"Bottle": "AB", "Bench": "12345", "Class": "PQ"}


@pytest.mark.parametrize(("ratio", "said"), [(9.9, False), (10.1, True)])
def test_a_spread_of_single_runs_far_above_the_robust_one_is_explained(ratio, said):
    tree = example_tree()
    tree["class"] |= {"robust_sd": 0.0004, "reproducibility_sd": 0.0004 * ratio}
    assert (BY_A_FEW in {meaning for *_, meaning in page.class_figures(tree)}) is said


@pytest.mark.slow
def test_report_workbook_and_cohort_call_a_figure_by_one_name():
    tree = CLASSES["plain"]()
    in_workbook = {row[1] for row in class_sheet(tree, marks_sheet(tree)).rows}
    in_report = {name for name, _, _ in (*page.class_figures(tree), *more_figures(tree["class"]["statistics"]))}
    limits = {"repeatability limit", "reproducibility limit"}
    assert in_report - in_workbook == limits
    assert {named(key, {})[0] for key in COHORT} - in_workbook == {"spread between students", "spread between classes"}


def test_only_what_students_add_beyond_their_runs_is_called_the_spread_between_students():
    assert WORDS["between_students_sd"][0] == "spread between students"
    assert not [key for key, (_, meaning) in WORDS.items() if "between students" in meaning]
