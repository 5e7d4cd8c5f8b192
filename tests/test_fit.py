"""The guess of a sheet's height is near enough that sheets are set at the right size at the first try."""

from typing import Any

import pytest

from labmark.outputs.fit import DENSITIES, LARGE, SLIPS, first_density, height
from labmark.outputs.press import Press, _pages
from labmark.outputs.sheets import manuscript_of
from tests.example_tree import example_tree


def test_densities_run_from_roomy_to_tight():
    on_one_page = list(DENSITIES[:-1])
    assert on_one_page == sorted(on_one_page, key=lambda density: (-density.size, density.brief, -density.gap))
    assert min(density.size for density in DENSITIES) >= 9.5


def test_a_heading_stands_nearer_to_its_own_part_than_to_the_one_before():
    assert all(density.under < 4.2 * density.gap for density in (*DENSITIES, *SLIPS, *LARGE))


@pytest.mark.slow
def test_a_guess_fits_and_the_next_roomier_does_not():
    press = Press(manuscript_of(example_tree()))
    off = 0
    for place, density in enumerate(first_density(press.group, sheet) for sheet in press.sheets):
        assert _pages(press._compile("single", [(place, density)])) == 1
        off += density > 0 and _pages(press._compile("single", [(place, density - 1)])) == 1
    # The guess keeps a little in hand, so that it may now and then be one step too tight.
    assert off <= len(press.densities) // 2


def test_more_words_make_a_taller_sheet():
    press = Press(manuscript_of(example_tree()))
    sheet: dict[str, Any] = press.sheets[0]
    longer = sheet | {"causes": ["a cause that takes a few words to tell, and then some more " * 4]}
    assert height(press.group, longer, DENSITIES[0]) > height(press.group, sheet, DENSITIES[0]) + 5


def test_what_cannot_fit_gets_the_tightest_on_one_page():
    press = Press(manuscript_of(example_tree()))
    full: dict[str, Any] = press.sheets[0] | {"summary": "words " * 9000}
    assert first_density(press.group, full) == len(DENSITIES) - 2


def test_a_sheet_with_fewer_parts_is_less_tall():
    press = Press(manuscript_of(example_tree()))
    parts = [part for part in press.group["parts"] if part not in ("working", "answers")]
    assert height(press.group | {"parts": parts}, press.sheets[0], DENSITIES[0]) < height(
        press.group, press.sheets[0], DENSITIES[0]
    )
