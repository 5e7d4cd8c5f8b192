"""The class distribution: where dots stand, what the words say, and that it is the same file each time."""

from __future__ import annotations

import itertools
import re
import struct
import xml.etree.ElementTree as ET
from decimal import Decimal
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from labmark.outputs import chart, layout
from labmark.outputs.chart import distribution
from labmark.outputs.number_line import Axis, stack
from labmark.outputs.rows import marks_sheet
from labmark.places import languages
from labmark.practical.file import Sheet
from tests.classes import sample
from tests.example_tree import PER_CM3, example_tree
from tests.seeds import few_quick

Tree = dict[str, Any]
FONTS = Path(str(find_spec("matplotlib").submodule_search_locations[0])) / "mpl-data" / "fonts" / "ttf"  # type: ignore


@cache
def drawn() -> chart.Chart:
    """Return the chart of the example."""
    return distribution(example_tree())


def class_of(titres: list[str]) -> Tree:
    """A class with these mean titres [cm³], otherwise the example."""
    tree = example_tree()
    pattern = tree["students"][0]
    tree["students"] = [
        pattern
        | {"mean_titre": Decimal(titre), "result": pattern["result"] | {"value": PER_CM3 * float(titre)}}
        | {"student": f"S{n:02d}", "number": n}
        for n, titre in enumerate(titres, start=1)
    ]
    return tree


def test_the_same_tree_gives_the_same_bytes() -> None:
    assert distribution(example_tree()) == drawn()


def test_a_charge_is_raised_and_no_subscript() -> None:
    practical = {"derived": {"equation": "MnO₄⁻ + 5 Fe²⁺ + 8 H⁺ → Mn²⁺ + 5 Fe³⁺ + 4 H₂O"}}
    shown = {of: layout._shown(of, practical) for of in ("Fe2+", "Fe^2+", "MnO4-", "CaCO3")}
    assert shown == {"Fe2+": "Fe²⁺", "Fe^2+": "Fe²⁺", "MnO4-": "MnO₄⁻", "CaCO3": "CaCO₃"}


def test_nothing_in_the_files_tells_when_or_by_what_they_were_made() -> None:
    chart = drawn()
    assert b"<dc:date>" not in chart.svg
    assert b"Software" not in chart.png


def test_both_formats_are_what_they_say() -> None:
    chart = drawn()
    assert ET.fromstring(chart.svg).tag == "{http://www.w3.org/2000/svg}svg"
    assert chart.png.startswith(b"\x89PNG\r\n")
    width, height = struct.unpack(">II", chart.png[16:24])
    assert (width, height) == (1920, 1080)


def test_the_chart_bears_no_names() -> None:
    tree, chart = example_tree(), drawn()
    text = "".join(ET.fromstring(chart.svg).itertext()) + chart.alt
    assert not [one["student"] for one in tree["students"] if one["student"] in text]


def test_letters_stay_letters_in_the_svg() -> None:
    text = "".join(ET.fromstring(drawn().svg).itertext())
    assert "amount concentration of NaOH, mol/dm³" in text
    assert "mean titre, cm³" in text
    assert "3 marks" in text


def test_the_svg_has_a_title_and_a_description() -> None:
    chart = drawn()
    title, more = list(ET.fromstring(chart.svg))[:2]
    assert f"{title.text}: {more.text}" == chart.alt


def test_a_reference_in_doubt_says_so_and_what_rests_on_it_is_hatched() -> None:
    tree = example_tree()
    assert b"<pattern" not in drawn().svg
    tree["class"]["findings"] = [{"finding": "reference-doubtful", "evidence": {}}]
    text = distribution(tree).svg.decode()
    assert "reference being checked: 0.1012" in text
    assert "hatched: being checked, and may change" in text
    assert text.count("fill: url(#") == 2  # round the reference, and over the marks


def test_every_colour_of_the_picture_has_one_for_a_dark_page() -> None:
    svg = drawn().svg
    colours = set(re.findall(r"(?:fill|stroke): (#[0-9a-f]{6})", svg.decode()))
    assert colours <= chart.DARK.keys()
    assert b"prefers-color-scheme: dark" in chart.with_dark_variant(svg)


def test_no_line_is_drawn_through_the_words_of_another() -> None:
    (panel,) = ET.fromstring(drawn().svg).findall("{http://www.w3.org/2000/svg}g")
    paper, words = next(pair for pair in itertools.pairwise(panel) if "class centre" in (pair[1].text or ""))
    assert paper.get("style") == "fill: #ffffff"
    assert float(paper.attrib["x"]) + float(paper.attrib["width"]) == pytest.approx(float(words.attrib["x"]), abs=0.02)
    left, top, wide, high = (float(paper.attrib[side]) for side in ("x", "y", "width", "height"))
    for line in list(panel)[list(panel).index(words) :]:
        x1, y1, x2, y2 = (float(line.attrib.get(end, "0")) for end in ("x1", "y1", "x2", "y2"))
        assert max(x1, x2) < left or min(x1, x2) > left + wide or max(y1, y2) < top or min(y1, y2) > top + high


def test_no_letter_is_smaller_than_can_be_read_at_eight_metres() -> None:
    """15 points of a picture 9.6 inches wide: twice what the chart had on paper."""
    svg = drawn().svg.decode()
    sizes = [float(size) for size in re.findall(r"font-size: ([0-9.]+)px", svg)]
    assert sizes
    assert min(sizes) >= 15


def test_a_title_with_markup_or_mathematics_is_plain_text() -> None:
    tree = example_tree()
    tree["practical"]["title"] = r"<b>$\frac$ & $x_1$</b>"
    assert r"<b>$\frac$ & $x_1$</b>" in "".join(ET.fromstring(distribution(tree).svg).itertext())


def test_a_student_far_out_is_counted_at_the_edge_and_in_the_words() -> None:
    chart = drawn()
    assert "1 further out" in "".join(ET.fromstring(chart.svg).itertext())
    assert chart.alt.endswith("1 further out than the frame.")


def test_the_words_tell_what_the_chart_shows() -> None:
    assert drawn().alt == (
        "Distribution of the class: 11 results, one dot each. 10 within the frame, from 0.1009 to 0.1035 mol/dm³. "
        "Reference 0.10120 ± 0.00080 mol/dm³. Class centre 0.1012 mol/dm³. "
        "Marking bands: 9 in the band for 3; 0 in the band for 2; 1 in the band for 1; 1 outside. "
        "1 further out than the frame."
    )


def test_equal_results_stack_and_are_counted_where_they_overlap() -> None:
    chart = distribution(class_of(["25.30"] * 60))
    assert "60 at one place" in "".join(ET.fromstring(chart.svg).itertext())


def test_sixty_spread_results_all_get_a_dot() -> None:
    chart = distribution(class_of([f"{25 + n / 100:.2f}" for n in range(60)]))
    assert "60 results" in chart.alt
    assert chart.svg.count(b"<circle ") >= 60


@pytest.mark.parametrize("titres", few_quick([["25.30"], [], ["25.30", "25.30"], ["0.05", "49.90"]], 4))
def test_small_and_odd_classes_get_a_chart(titres: list[str]) -> None:
    chart = distribution(class_of(titres))
    assert chart.svg.startswith(b"<?xml")
    assert chart.alt.startswith("Distribution of the class: ")


def test_a_class_without_results_or_reference_says_so() -> None:
    tree = example_tree()
    tree["students"] = [one for one in tree["students"] if one["absent"]]
    tree["reference"] = None
    tree["class"] |= {"robust_mean": None, "robust_sd": None, "bands": []}
    assert "No student has a result yet." in "".join(ET.fromstring(distribution(tree).svg).itertext())


def test_where_the_class_is_its_own_reference_only_its_centre_is_named() -> None:
    tree = example_tree()
    tree["reference"] |= {"from": "class", "standard_uncertainty": None, "value": tree["class"]["robust_mean"]}
    alt = distribution(tree).alt
    assert "Class centre" in alt
    assert "Reference" not in alt


def test_bottles_of_different_strength_are_shown_as_differences_from_the_own_reference() -> None:
    tree = example_tree()
    for one in tree["students"][::2]:
        one["reference"] = one["reference"] | {"value": 0.0987}
    picture = layout.picture_of(tree)
    assert picture.label == "difference from their own reference, %"
    expected = [one["percent_error"] for one in tree["students"] if one["percent_error"] is not None]
    assert [dot.value for dot in picture.dots] == expected


def test_a_result_in_per_cent_is_no_difference_from_a_reference() -> None:
    tree = example_tree()
    tree["reference"] |= {"unit": "%"}
    tree["practical"]["unit"] = "%"
    assert "Reference 0.10120 ± 0.00080 %." in distribution(tree).alt


def test_differences_have_their_marking_bands_and_their_centre() -> None:
    tree = example_tree()
    tree["students"][0]["reference"] = tree["students"][0]["reference"] | {"value": 0.0987}
    tree["class"]["statistics"] |= {"reference_test": {"shift_percent": -0.4}}
    picture = layout.picture_of(tree)
    assert [round(high, 2) for _, _, high in picture.bands] == [0.79, 1.58, 2.37]
    assert "Class centre −0.4 % from the reference." in layout.words(picture)


@pytest.mark.parametrize(
    "relation", [lambda titre: 0.004 * titre, lambda titre: 2500 / titre, lambda titre: 0.3 - 0.004 * titre]
)
def test_the_axis_of_titres_follows_the_results(relation: Any) -> None:
    scale = layout.titre_scale([(titre, relation(titre)) for titre in (24.0, 25.0, 25.3, 26.0)])
    assert scale is not None
    assert scale(25.1) == pytest.approx(relation(25.1))


def test_no_axis_of_titres_where_titre_and_result_are_not_one_scale() -> None:
    assert layout.titre_scale([(24.0, 0.1), (25.0, 0.2), (26.0, 0.1), (25.5, 0.4)]) is None
    assert layout.titre_scale([]) is None


def test_ticks_are_round_numbers_within_the_axis() -> None:
    marks = Axis(0.0984, 0.1041).numbers(layout.TICKS)
    assert [label for _, label in marks] == ["0.099", "0.100", "0.101", "0.102", "0.103", "0.104"]


@given(st.lists(st.floats(0.5, 7.5), max_size=80), st.sampled_from(layout.DOT_SIZES))
def test_no_two_dots_of_a_level_touch(places: list[float], size: float) -> None:
    levels = stack(places, size)
    for level in set(levels):
        row = sorted(place for place, own in zip(places, levels, strict=True) if own == level)
        assert all(b - a >= size * 0.99 for a, b in itertools.pairwise(row))


@given(st.lists(st.floats(0.5, 7.5), max_size=120))
def test_no_dot_rises_out_of_the_frame(places: list[float]) -> None:
    size, rise, levels = layout.fitting(places)
    assert all(layout.FLOOR + size + level * rise <= layout.CEILING + 1e-9 for level in levels)


def test_a_result_without_a_unit_has_no_empty_one() -> None:
    tree = example_tree()
    tree["practical"]["unit"] = ""
    text = [each.text or "" for each in ET.fromstring(distribution(tree).svg).iter()]
    assert not [each for each in text if each.rstrip().endswith(",")]
    assert not [column.header for column in marks_sheet(tree).columns if "()" in column.header]


@pytest.mark.parametrize(
    ("source", "lies"), [("practical", "where the true value very"), ("class", "the middle of the")]
)
def test_what_is_shaded_is_the_true_value_of_a_reference_alone(source, lies):
    tree = example_tree()
    tree["reference"] |= {"from": source}
    assert f"shaded: {lies}" in " ".join(each.text or "" for each in ET.fromstring(distribution(tree).svg).iter())


def boxes_of(svg: bytes) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return the words of a picture, each with the room that they take: from left, from top, to right, to bottom."""
    found = []
    for each in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):
        look = dict(part.split(": ") for part in each.attrib["style"].split("; "))
        name, size = "DejaVuSans-Bold" if look["font-weight"] == "700" else "DejaVuSans", float(look["font-size"][:-2])
        left, top, right, bottom = ImageFont.truetype(FONTS / f"{name}.ttf", 100).getbbox(each.text or "", anchor="ls")
        x = float(each.attrib["x"]) - {"start": 0, "middle": 0.5, "end": 1}[look["text-anchor"]] * right * size / 100
        y = float(each.attrib["y"])
        box = (x + left * size / 100, y + top * size / 100, x + right * size / 100, y + bottom * size / 100)
        found += [(each.text, box)] if each.text else []
    return found


def overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@pytest.mark.parametrize("language", few_quick(languages(), 2))
@pytest.mark.parametrize("file", few_quick(["drain-cleaner.xlsx", "limescale-remover.csv"], 2))
def test_no_words_lie_over_others_or_beyond_the_edge_in_any_language(language, file):
    title = "Standardising hydrochloric acid with sodium carbonate"
    tree = sample(file)
    of_language = {"title": title, "sheet": Sheet(language=language).model_dump()}
    boxes = boxes_of(distribution({**tree, "practical": {**tree["practical"], **of_language}}).svg)
    assert [words for words, box in boxes if box[0] < 0 or box[2] > 72 * layout.WIDTH] == []
    assert [(a, b) for (a, one), (b, other) in itertools.combinations(boxes, 2) if overlap(one, other)] == []
    assert (boxes[0][0] == title) == (language == "en")
