"""The teacher's page: what it answers, that nothing in a sheet can act on it, and that everybody can read it."""

from __future__ import annotations

import base64
import hashlib
import html
import itertools
import re
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.findings import KINDS
from labmark.outputs import cards, numbers, plots
from labmark.outputs import report as page
from labmark.outputs.chart import Chart
from labmark.outputs.layout import picture_of
from labmark.places import templates_folder
from tests.example_tree import example_tree, finding
from tests.seeds import few_quick

Tree = dict[str, Any]

CHART = Chart(svg=b"<svg xmlns='http://www.w3.org/2000/svg'/>", png=b"", alt="Distribution of the class: an example.")
VOID = {"meta", "br", "img", "input", "link", "hr"}
DRAWN = {"line", "circle", "path", "rect", "use"}
"""Elements of the small pictures, closed within their own tag."""


class Page(HTMLParser):
    """A page taken apart: elements with their attributes, text, and whether every element was closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.wrong: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in DRAWN:
            self.wrong.append(f"<{tag}/>")

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(f"</{tag}>")
        if tag in ("td", "th"):
            self.words.append(" ")

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


def written(tree: Tree) -> str:
    return page.report(tree, CHART)


def with_students(count: int) -> Tree:
    """The example with so many students, the situations in turn."""
    tree = example_tree()
    pattern = example_tree()["students"]
    tree["students"] = [pattern[n % len(pattern)] | {"number": n + 1, "student": f"S{n + 1:02d}"} for n in range(count)]
    return tree


@pytest.fixture(scope="module")
def example() -> str:
    return written(example_tree())


@pytest.fixture(scope="module")
def parsed(example: str) -> Page:
    return Page(example)


# What it answers ------------------------------------------------------------------------------------------------------


def test_the_questions_come_in_the_order_a_teacher_asks_them(example: str) -> None:
    heads = [html.unescape(head) for head in re.findall(r"<h2[^>]*>(.*?)</h2>", example)]
    assert heads == [
        "Trust?",
        "Who?",
        "Teach?",
        "Data and reference",
        "Teach again",
        "Your decisions",
        "The class in pictures",
        "Everybody",
        "Each student",
        "How it was worked",
        "What was read",
    ]


def test_every_filled_cell_is_accounted_for(parsed: Page) -> None:
    assert "223 filled cells = 220 used + 2 ignored + 1 rejected" in parsed.text
    assert "Results!O6 “drip” is not a number" in parsed.text
    assert "Results!U1 a header that is not known: “Weather”" in parsed.text


def test_the_reference_stands_beside_the_class(parsed: Page) -> None:
    assert "Result, mol/dm³ 0.10120 ± 0.00080 (k = 2) 0.10116 –" in parsed.text
    assert "Titre, cm³ 25.30 25.31 –" in parsed.text


def addresses_in(text: str) -> set[str]:
    """Every address of a cell that the page shows, each with its sheet."""
    found: set[str] = set()
    for shown in re.findall(r'<span class="cells">(.*?)</span>', text):
        sheet = ""
        for cell in html.unescape(shown).split(", "):
            sheet = cell.rpartition("!")[0] or sheet
            found.add(f"{sheet}!{cell.rpartition('!')[2]}")
    return found


def said_of(tree: Tree) -> tuple[str, str]:
    """Level and sentence of the first that the card on trust says."""
    return cards.trust(tree)[0][:2]


def test_a_doubtful_reference_is_said_first_with_how_many_marks_wait() -> None:
    tree = example_tree()
    doubtful = finding("reference-doubtful", "check", "The class lies above it.", [])
    tree["class"]["findings"] = [doubtful | {"evidence": {"shift_percent": 3.94}}]
    for one in tree["students"][:2]:
        one["marks"][-1] |= {"mark": None, "pending": True}
    assert said_of(tree) == (
        "check",
        "The class agrees with itself, 3.9 % above the reference: 2 accuracy marks wait.",
    )


def test_a_group_that_stands_apart_is_named_with_its_members_and_how_far() -> None:
    tree = example_tree()
    evidence = {"group": "Bench 2", "grouping": "Bench", "name": "2", "effect_percent": -2.06}
    tree["class"]["findings"] = [finding("group-shift", "check", "Bench 2 is low.", []) | {"evidence": evidence}]
    names = [one["student"] for one in tree["students"] if one["groups"]["Bench"] == "2"]
    assert said_of(tree)[1] == f"Bench 2 ({', '.join(names)}) is 2.1 % low: no mark waits for it."
    assert cards.trust(tree)[0][2] == "The solutions and the glassware of Bench 2."


def test_without_anything_against_it_the_data_is_not_called_proven() -> None:
    tree = example_tree()
    tree["class"]["findings"] = []
    tree["cells"] |= {"rejected": 0, "rejected_cells": []}
    assert said_of(tree) == ("note", "Nothing found here speaks against the reference.")
    assert cards.unread(tree) == ("note", "Every cell could be used.")


@pytest.mark.parametrize("outcome", few_quick(["technique", "agrees", "scattered", "too few"], 4))
def test_the_outcome_of_the_test_of_the_reference_is_put_in_words(outcome: str) -> None:
    tree = example_tree()
    tree["class"]["findings"] = []
    shift = {"shift_percent": 0.21, "shift_titre": 0.05, "robust_mean": 0.10141}
    tree["class"]["statistics"] |= {"reference_test": {"verdict": outcome, **shift}}
    text = Page(written(tree)).text
    assert f"{cards.TESTED[outcome][1]}." in text
    assert "1 cell could not be used: Results!O6." in text
    assert "0.10120 ± 0.00080 (k = 2) 0.10141 +0.2 %" in text
    assert "25.30 25.35 +0.05" in text


def test_all_who_need_a_look_stand_on_the_first_screen_ranked_with_a_few_words_each() -> None:
    tree = with_students(40)
    for one in tree["students"]:
        one["attention"] = {"rank": 41 - one["number"], "why": "an example; another", "brief": "an example"}
    card = re.search(r'<ol class="who.*?</ol>', written(tree), re.S)
    assert card is not None
    assert re.findall(r"<li><a[^>]*>(.*?)</a> <span>(.*?)</span></li>", card[0]) == [
        (f"S{n:02d}", "an example") for n in range(40, 0, -1)
    ]


def test_what_to_teach_is_the_commonest_finding_and_the_weakest_criterion() -> None:
    tree = example_tree()
    for one in tree["students"][:3]:
        one["findings"] = [*one["findings"], finding("dilution-ignored", "fault", "An example.", [])]
    assert cards.commonest(tree, page.faults(tree)) == (
        "Dilution or portion: 3 of 11 students.",
        KINDS["dilution-ignored"].advice,
    )
    row = {"criterion": "titres", "title": "titres", "of": 11, "full": 7, "mean": 7 / 11, "out_of": 1}
    assert cards.weakest([row]) == ("Titres: 7 of 11 have full marks, mean 0.64 of 1.", cards.LESSON["titres"])
    nearly = row | {"of": 21, "full": 20, "mean": 20 / 21}
    assert cards.weakest([nearly]) == ("Titres: 20 of 21 have full marks, mean 0.95 of 1.", cards.LESSON["titres"])
    assert cards.weakest([row | {"full": 11}]) is None


def test_the_teachers_own_advice_is_what_to_do_in_the_next_lesson() -> None:
    tree = example_tree()
    tree["practical"]["advice"] = {"overshoot": "Go slowly."}
    assert cards.advice(tree, "overshoot") == "Go slowly."


def test_shared_faults_are_counted_once_a_student_and_the_commonest_come_first() -> None:
    tree = example_tree()
    slip = finding("coarse-reading", "fault", "An example.", ["Results!F2"], run="1")
    for one in tree["students"][:3]:
        one["findings"] = [*one["findings"], slip, slip | {"run": "2"}]
    first = page.faults(tree)[0]
    assert (first["code"], [one["student"] for one in first["students"]]) == (
        "coarse-reading",
        ["S01", "S02", "S03", "S05"],
    )


def test_notes_are_nothing_to_teach_again() -> None:
    assert not [row for row in page.faults(example_tree()) if row["level"] == "note"]


def test_criteria_with_the_fewest_full_marks_come_first() -> None:
    rows = page.criteria(example_tree())
    assert [row["width"] for row in rows] == sorted(row["width"] for row in rows)
    assert {row["of"] for row in rows} == {11}


def test_of_criteria_with_as_many_full_marks_the_one_with_the_lower_mean_comes_first() -> None:
    row = {"of": 14, "full": 13, "out_of": 3}
    tree = {
        "class": {
            "marks": {"by_criterion": [row | {"mean": 2.93}, row | {"mean": 2.79}, row | {"of": 0, "mean": None}]}
        }
    }
    assert [each["mean"] for each in page.criteria(tree)] == [2.79, 2.93, None]


def test_every_finding_stands_on_the_page_with_its_cells(example: str, parsed: Page) -> None:
    tree = example_tree()
    addresses = addresses_in(example)
    for found in [*tree["class"]["findings"], *(f for one in tree["students"] for f in one["findings"])]:
        assert " ".join(found["message"].split()) in parsed.text
        assert set(found["cells"]) <= addresses


def test_every_mark_stands_on_the_page_with_its_reason_and_cells(example: str, parsed: Page) -> None:
    addresses = addresses_in(example)
    for one in example_tree()["students"]:
        for mark in one["marks"]:
            assert page.sentence(mark["reason"]) in parsed.text
            assert set(mark["cells"]) <= addresses


def test_how_far_off_a_result_is_follows_from_the_figures_beside_it() -> None:
    # As printed with three figures it would be 0.0 %: the table has more.
    tree = example_tree()
    one = tree["students"][0]
    one["result"] |= {"value": 0.10136, "expanded_uncertainty": 0.00062}
    one |= {"percent_error": 0.16, "printed": {"result": "0.101", "reference": "0.101", "percent": 0.0}}
    assert "0.10136 ± 0.00062 +0.2 %" in Page(written(tree)).text


def test_a_probability_is_given_in_words_and_figures(parsed: Page) -> None:
    assert f"{KINDS['overshoot'].title} · run 2 · very likely (93 %)" in parsed.text


def test_written_digits_are_kept(parsed: Page) -> None:
    assert "2 0.00 25.2 25.20 25.20 yes ● yes" in parsed.text


def test_a_titre_that_differs_from_the_readings_is_marked_by_a_word(parsed: Page) -> None:
    assert "25.20 25.60 ≠ differs" in parsed.text


def test_a_teachers_mark_is_shown_as_the_teachers(parsed: Page) -> None:
    assert "your mark Accepted: the readings were checked at the bench." in parsed.text


def test_a_likely_reading_is_only_a_suggestion(parsed: Page) -> None:
    assert "Perhaps meant: 25.40 (a suggestion, not used)." in parsed.text


def test_several_largest_sets_are_told(parsed: Page) -> None:
    assert "Several sets of runs agree equally well (2 and 3; 1 and 2)" in parsed.text


def test_an_absent_student_is_there_without_marks(parsed: Page) -> None:
    assert "S07 2 – – – – – absent" in parsed.text
    assert "Absent, or no reading handed in: nothing is marked." in parsed.text


def test_findings_are_called_hypotheses_and_bench_advice_defers_to_those_in_charge(parsed: Page) -> None:
    assert "Hypotheses with the figures they rest on. You decide." in parsed.text
    assert "nobody is accused of anything" in parsed.text
    assert "the local risk assessment, the safety data sheets and the qualified person in charge" in parsed.text


def test_what_is_looked_for_stands_at_the_end_folded_with_its_rates_and_what_would_confirm_it(example: str) -> None:
    start = example.index('<details class="more" id="looked-for">')
    part = Page(example[start : example.index("</details>", start) + len("</details>")])
    assert start > example.index('id="how-h"')
    assert part.elements[1][0] == "summary"
    assert "Past the endpoint up, 0.10 to 1.40 cm³ 2.2 % of runs" in part.text
    assert "Pipette wet with water down, 1 to 5 % of the titre 0.06 % of students" in part.text
    assert "Colour left in the flask." in part.text
    assert "common practice, no source" in part.text
    assert "risk assessment, the safety data sheets and the qualified person in charge" in part.text


def test_what_is_looked_for_is_printed_open_with_and_without_the_script(example: str) -> None:
    assert "#looked-for::details-content { content-visibility: visible" in example
    assert 'window.addEventListener("beforeprint", function () { was = looked.open; looked.open = true; });' in example


@pytest.mark.parametrize(("part", "shown"), [(0.022, "2.2 %"), (0.0006, "0.06 %"), (0.795, "79.5 %"), (0.02, "2 %")])
def test_a_small_share_keeps_its_figures(part: float, shown: str) -> None:
    assert page.rate(part) == shown


def test_where_the_reference_is_in_doubt_accuracy_is_shown_both_ways() -> None:
    tree = example_tree()
    one = tree["students"][5]
    one["marks"][-1] |= {"mark": None, "pending": True, "reason": "The reference is being checked."}
    one |= {"total": 7, "out_of": 10, "accuracy_by_reference": 1, "accuracy_by_class": 2}
    one |= {"total_by_reference": 8, "total_by_class": 9}
    text = Page(written(tree)).text
    assert "z Accuracy Total Findings" in text
    assert "+2.3 1, by the class 2 7 / 10" in text
    assert "Total by the reference: 8; by the class: 9." in text
    assert "being checked (3) The reference is being checked. By the reference it would be 1, by the class 2." in text
    assert "accuracy (3): being checked" in text


def test_what_could_not_be_marked_is_told() -> None:
    tree = example_tree()
    tree["class"]["not_marked"] = ["mean", "calculation"]
    assert "Not marked, because the sheet has no room for it: mean and calculation." in Page(written(tree)).text


def test_every_finding_carries_its_code_for_programs(parsed: Page) -> None:
    codes = {one["data-finding"] for one in parsed.all("li") if "data-finding" in one}
    assert {"overshoot", "no-concordant-runs", "group-shift"} <= codes


# Which students are shown, open, and what is said of each -------------------------------------------------------------


def test_every_filter_says_how_many_it_shows_and_the_rows_agree() -> None:
    tree = example_tree()
    text = written(tree)
    for code, name in page.FILTERS[1:]:
        shown = sum(code in kinds.split() for kinds in re.findall(r'<tr data-is="(.*?)"', text))
        assert f'data-only="{code}" aria-pressed="false">{name} <b>{shown}</b>' in text
        assert shown == page.view(tree)["counts"][code]


def test_the_largest_errors_are_never_hidden_by_the_filter_for_them() -> None:
    rows = page.shown_rows(example_tree())
    far = {n for n, one in enumerate(example_tree()["students"]) if one["z"] is not None and abs(one["z"]) > 2}
    assert {n for n, row in enumerate(rows) if "far" in row["kinds"]} == far != set()


def test_students_are_open_who_need_a_look_or_stand_in_a_finding_about_the_class() -> None:
    tree = example_tree()
    evidence = {"group": "Bench 1", "grouping": "Bench", "name": "1", "effect_percent": 3.0}
    tree["class"]["findings"] = [finding("group-shift", "check", "Bench 1 is high.", []) | {"evidence": evidence}]
    for one, row in zip(tree["students"], page.shown_rows(tree), strict=True):
        assert row["open"] == (bool(one["attention"]) or one["groups"]["Bench"] == "1")


def test_what_is_true_of_every_row_is_said_once_above_the_readings() -> None:
    clean, *_ = page.shown_rows(example_tree())
    assert (clean["readings"]["titres"], clean["readings"]["ticks"]) == (False, False)
    assert clean["readings"]["said"] == [
        "Every titre that was written follows from its readings.",
        "The ticks are at the runs in the mean.",
    ]


# Classes of every shape -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", few_quick([0, 60, 1], 2))
def test_classes_of_any_size_are_whole_pages(count: int) -> None:
    tree = with_students(count)
    text = Page(written(tree))
    assert (text.wrong, text.open) == ([], [])
    assert len(text.all("article")) == count


def test_a_class_without_a_reference_says_what_it_is_held_against() -> None:
    tree = example_tree()
    tree["reference"] |= {"from": "class", "value": 0.10116, "standard_uncertainty": None}
    tree["class"] |= {"bands": [], "expected_titre": None}
    text = Page(written(tree)).text
    assert "The practical gives no reference: the class is compared with its own robust mean" in text


def test_a_class_in_which_nobody_has_a_result_says_so() -> None:
    tree = example_tree()
    tree["students"] = [one for one in tree["students"] if one["absent"]]
    tree["reference"] = None
    tree["class"] |= dict.fromkeys(("mean", "sd", "robust_mean", "robust_sd", "sigma", "expected_titre", "mean_titre"))
    tree["class"] |= {"results": 0, "bands": [], "repeatability_sd": None, "reproducibility_sd": None}
    tree["class"]["marks"] = {"mean": None, "out_of": 0, "mean_percent": None, "by_criterion": []}
    text = Page(written(tree))
    assert "No student has a result: there is nothing yet to compare a reference with." in text.text
    assert text.wrong == []


def test_a_class_of_equal_results_shows_each_of_them() -> None:
    tree = with_students(20)
    for one in tree["students"]:
        one |= {"result": one["result"] or {"value": 0.1012}, "groups": {"Bench": str(one["number"] % 2)}}
        one["result"] = one["result"] | {"value": 0.1012}
    (_, strip), *_ = plots.groups(tree, picture_of(tree))
    assert all(len({(mark["x"], mark["dy"]) for mark in row["marks"]}) == 10 for row in strip["rows"])


def test_several_references_are_told_for_each_student() -> None:
    tree = example_tree()
    for one in tree["students"][::2]:
        one["reference"] = one["reference"] | {"value": 0.0987}
        one["expected_titre"] = Decimal("24.68")
    text = Page(written(tree)).text
    assert "Students are compared with references of their own" in text
    assert "Titre minus own expected titre, cm³." in text


def test_a_run_beyond_the_edge_is_told_by_an_arrow_and_its_titre() -> None:
    strip = plots.runs_of_all(example_tree())
    assert strip is not None
    told = {row["label"]: row["below"] for row in strip["rows"] if row["below"]}
    assert [*told.values()] == ["20.20 to 20.25"]


@given(st.lists(st.integers(0, 5000), min_size=1, max_size=12))
def test_no_run_is_drawn_off_the_picture(titres: list[int]) -> None:
    tree = with_students(len(titres))
    for one, titre in zip(tree["students"], titres, strict=True):
        one["runs"] = [run | {"titre": Decimal(titre).scaleb(-2)} for run in one["runs"]]
    strip = plots.runs_of_all(tree)
    marks = [mark for row in strip["rows"] for mark in row["marks"]] if strip else []
    assert all(plots.START <= mark["x"] <= plots.END for mark in marks)


def test_the_same_tree_gives_the_same_page(example: str) -> None:
    assert written(example_tree()) == example


# Nothing in a sheet acts ----------------------------------------------------------------------------------------------


def hostile(tree: Any, text: str) -> Any:
    """The tree with `text` put behind every word that comes from a sheet or a practical."""
    kept = {
        "level",
        "by",
        "kind",
        "scope",
        "from",
        "unit",
        "sheet",
        "criterion",
        "finding",
        "cells",
        "label",
        "evidence",
        "sets",
    }
    if isinstance(tree, dict):
        return {key: value if key in kept else hostile(value, text) for key, value in tree.items()}
    if isinstance(tree, list):
        return [hostile(one, text) for one in tree]
    return tree + text if isinstance(tree, str) else tree


@pytest.mark.parametrize(
    "text",
    few_quick(
        [
            "<script>alert(1)</script>",
            "</style><b>",
            "'\"><img src=x onerror=alert(1)>",
            "{{ 7 * 7 }}",
            "</title></data>",
        ],
        5,
    ),
)
def test_no_text_of_a_sheet_becomes_markup(text: str) -> None:
    plain, attacked = Page(written(example_tree())), Page(written(hostile(example_tree(), text)))
    assert [tag for tag, _ in attacked.elements] == [tag for tag, _ in plain.elements]
    assert attacked.wrong == []
    assert text in attacked.text


@pytest.mark.slow
@given(st.text(min_size=1, max_size=30))
def test_any_name_is_shown_and_none_is_markup(name: str) -> None:
    tree = with_students(1)
    tree["students"][0]["student"] = name
    text = Page(written(tree))
    assert text.wrong == []
    assert len(text.all("script")) == 1


def test_the_policy_names_the_very_style_and_script_of_the_page(example: str, parsed: Page) -> None:
    policy = next(meta["content"] for meta in parsed.all("meta") if meta.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    for tag in ("style", "script"):
        inside = re.search(rf"<{tag}>(.*?)</{tag}>", example, re.S)
        assert inside is not None
        own = base64.b64encode(hashlib.sha256(inside[1].encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{own}'" in policy
    assert policy.startswith("default-src 'none'; img-src data:;")
    assert "unsafe" not in policy


def test_nothing_is_fetched(parsed: Page) -> None:
    sources = [attributes["src"] or "" for _, attributes in parsed.elements if "src" in attributes]
    assert [source[:26] for source in sources] == ["data:image/svg+xml;base64,"]
    links = [a["href"] or "" for a in parsed.all("a")]
    assert not [link for link in links if re.match(r"[a-z]+:|//", link)]
    assert not parsed.all("link")
    assert not parsed.all("iframe")


def test_no_element_carries_a_style_or_a_handler_that_the_policy_would_stop(parsed: Page) -> None:
    names = {name for _, attributes in parsed.elements for name in attributes}
    assert not [name for name in names if name == "style" or name.startswith("on")]


def test_a_file_name_with_odd_signs_is_a_safe_link() -> None:
    tree = with_students(1)
    tree["students"][0]["sheet"] = "feedback/01 a#b?c%d.pdf"
    assert "feedback/01%20a%23b%3Fc%25d.pdf" in [a["href"] for a in Page(written(tree)).all("a")]


# Everybody can read it ------------------------------------------------------------------------------------------------


def test_the_page_is_well_formed(parsed: Page) -> None:
    assert (parsed.wrong, parsed.open) == ([], [])


def test_ids_are_unique_and_every_inner_link_and_label_leads_somewhere(parsed: Page) -> None:
    ids = [attributes["id"] for _, attributes in parsed.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    inner = {(a["href"] or "")[1:] for a in parsed.all("a") if (a["href"] or "").startswith("#")}
    labels = {attributes["aria-labelledby"] for _, attributes in parsed.elements if "aria-labelledby" in attributes}
    assert inner | labels <= set(ids)


def test_headings_go_down_one_step_at_a_time(parsed: Page) -> None:
    levels = [int(tag[1]) for tag, _ in parsed.elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_every_table_has_a_caption_and_every_head_a_scope(parsed: Page) -> None:
    assert len(parsed.all("table")) == len(parsed.all("caption"))
    assert all(head.get("scope") in ("col", "row") for head in parsed.all("th"))


def test_language_landmarks_and_skip_link_are_there(parsed: Page) -> None:
    assert parsed.all("html") == [{"lang": "en-GB"}]
    assert [len(parsed.all(tag)) for tag in ("main", "nav", "footer")] == [1, 1, 1]
    assert parsed.all("a")[0]["href"] == "#main"


def test_every_picture_has_words(parsed: Page) -> None:
    assert [one["alt"] for one in parsed.all("img")] == [CHART.alt]
    assert all(one.get("aria-label") or one.get("aria-hidden") for one in parsed.all("svg"))


def test_a_level_is_told_by_shape_and_word() -> None:
    assert len({shape for shape, _, _ in page.LEVELS.values()}) == 3
    assert [word for _, word, _ in page.LEVELS.values()] == ["Fault", "Check", "Note"]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_every_ink_stands_out_from_every_ground(scheme: int) -> None:
    """4.5 to 1 for text: WCAG 2.2, success criterion 1.4.3."""
    style = (templates_folder() / "report.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", re.findall(r":root \{(.*?)\}", style, re.S)[scheme]))
    for ink in ("ink", "soft", "accent", "fault", "check"):
        for ground in ("paper", "card", "tint"):
            light, dark = sorted((luminance(colours[ink]), luminance(colours[ground])), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, ground)


# Small words ----------------------------------------------------------------------------------------------------------


def test_cells_of_one_sheet_name_it_once() -> None:
    cells = ["Results!J5", "Results!K5", "Other!A1", "B2"]
    assert numbers.addresses(cells) == "Results!J5, K5, Other!A1, B2"
    assert numbers.addresses([]) == ""


@pytest.mark.parametrize(
    ("text", "shown"),
    [("", ""), ("run 1 is out", "Run 1 is out."), ("Is it?", "Is it?"), ("0.50 below.", "0.50 below.")],
)
def test_remarks_read_as_sentences(text: str, shown: str) -> None:
    assert page.sentence(text) == shown


def test_a_finding_of_several_runs_is_named_once_in_the_table_of_all() -> None:
    slip = finding("coarse-reading", "fault", "An example.", [], run="1")
    found = [finding("refilled", "note", "An example.", [], run="Rough"), slip, slip, slip | {"run": "2"}]
    assert page.short(found) == [
        ("fault", KINDS["coarse-reading"].title, "1, 2"),
        ("note", KINDS["refilled"].title, "rough"),
    ]


def test_evidence_is_shown_as_plain_figures() -> None:
    value = {"above": 0.45, "drops": 9, "sets": [["1", "2"]], "seen": True, "volume": Decimal("25.20"), "none": None}
    assert page.plain(value) == "above 0.450, drops 9, sets 1, 2, seen yes, volume 25.20"


def test_what_is_empty_or_a_default_of_nothing_is_left_out() -> None:
    value = {"of": "Fe2+", "gives": "", "factor": None, "factor_name": "factor", "molar_volume": Decimal("22.4")}
    assert page.plain(value) == "of Fe2+"


def facts(code: str, **evidence: Any) -> list[tuple[str, str]]:
    return page.facts(finding(code, "check", "An example.", []) | {"evidence": evidence})


def test_the_figures_behind_a_claim_are_named_and_have_their_unit() -> None:
    assert facts(
        "overshoot", titre=Decimal("25.85"), above_own_others=0.62, percent=-1.87, repeatability=0.0341,
        whole_cm3=-1, check="the flask", likely_titre=None, also_fits=[], **{"or": []},
    ) == [
        ("titre", "25.85 cm³"),
        ("from the middle of the other runs", "+0.62 cm³"),
        ("from what is expected in this class", "−1.9 %"),
        ("standard deviation of good runs in this class", "0.034 cm³"),
        ("out by", "−1 cm³"),
    ]  # fmt: skip


def test_a_figure_is_named_by_the_finding_it_stands_behind() -> None:
    assert facts("always-overshoots", level=25.97, check="the flasks") == [
        ("where the student’s runs lie", "25.97 cm³")
    ]
    assert facts("mean-slip", expected=25.3) == [("expected", "25.3")]


def test_of_the_figures_about_the_class_those_that_a_teacher_can_use_are_shown() -> None:
    shown = facts("reference-doubtful", verdict="doubtful", shift_percent=-3.71, shift_titre=-0.894, level=0.99)
    assert shown == [("class from the reference", "−3.7 %"), ("in titre", "−0.89 cm³")]


def test_what_a_claim_may_be_instead_is_listed_with_its_odds_and_what_would_tell() -> None:
    told = finding("overshoot", "check", "An example.", [], run="1") | {
        "evidence": {
            "or": [{"finding": "misread-division", "probability": 0.12}, {"finding": "none", "probability": 0.05}],
            "looks_the_same": ["leaking tap"],
        }
    }
    looked_for = {"Reading out by whole cm³": "the reading before it", "Leaking tap": "a wet tip"}
    assert page.instead(told, looked_for) == [
        ("Reading out by whole cm³", "12 %", "the reading before it"),
        ("Nothing went wrong", "5 %", ""),
        ("Leaking tap", "within these odds", "a wet tip"),
    ]


def test_what_would_tell_stands_open_beside_the_claim_and_the_alternatives_are_folded() -> None:
    tree = example_tree()
    told = finding("overshoot", "check", "An example.", [], run="1")
    evidence = {"check": "colour left in the flask", "or": [{"finding": "none", "probability": 0.05}]}
    tree["students"][0]["findings"] = [told | {"evidence": evidence}]
    shown = written(tree)
    assert '<p class="tell"><span class="tag">what would tell</span> Colour left in the flask.</p>' in shown
    assert "<summary>What it may be instead</summary>" in shown
    assert "<li><b>Nothing went wrong</b>, 5 %.</li>" in shown
