"""What no font can draw is replaced before Typst sees it, and nothing else is."""

import unicodedata

import pytest

from labmark.outputs import printable as module
from labmark.outputs.printable import can_print, printable, printable_name


def test_every_character_taken_for_printable_untried_does_print():
    usual = [chr(code) for code in range(0x20, 0x3000) if module.USUAL.fullmatch(chr(code))] + [module.REPLACEMENT]
    assert len(usual) > 400
    assert module._prints("".join(usual))


@pytest.mark.slow
def test_characters_printed_untried_are_composed_and_none_is_hidden():
    usual = [chr(code) for code in range(0x110000) if module.USUAL.fullmatch(chr(code)) and code != 0x200B]
    assert not [one for one in usual if unicodedata.normalize("NFC", one) != one or unicodedata.category(one)[0] == "C"]


@pytest.mark.parametrize("text", ["plain", "Łukasz", "Đặng Thị", "H₂SO₄ → 2", "محمد علي", "שלום", "Дарья", "😀"])
def test_text_that_the_fonts_have_is_left_alone(text):
    assert printable(text) == text


def test_only_the_characters_that_no_font_has_are_replaced():
    assert printable("Acid 酸 strength") == "Acid � strength"


@pytest.mark.parametrize(
    ("text", "line"),
    [("a\nb\r\n\tc", "a b c"), ("a\x00b", "a b"), ("x\u202ey\ufeff", "xy"), ("e\u0301", "é"), ("a\ud800b", "a�b")],
)
def test_text_becomes_one_line_without_hidden_characters(text, line):
    assert printable(text) == line


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("24.35 cm³ apart", "24.35_cm³ apart"),
        ("0.0974 mol/dm³, or 0.4 %.", "0.0974_mol/dm³, or 0.4_%."),
        ("1.00 × 10⁻⁴ mol × 2", "1.00_×_10⁻⁴_mol × 2"),
        ("2 Lines, 3 grapes", "2 Lines, 3 grapes"),
    ],
)
def test_a_number_is_not_parted_from_its_unit_or_its_power(text, kept):
    assert printable(text) == kept.replace("_", "\u00a0")


def test_a_long_word_may_be_broken_and_an_ordinary_one_may_not():
    assert "\u200b" in printable("a" * 60)
    assert "\u200b" not in printable("Featherstonehaugh-Longnamington " * 5)


@pytest.mark.parametrize("name", ["", " \t", "\u200b", "王小明", "a\ud800", "\U0010ffff"])
def test_a_name_that_cannot_be_printed_becomes_the_number(name):
    assert printable_name(name, 7) == "Student 7"


def test_a_very_long_name_is_cut():
    assert printable_name("Ann Other " * 40, 1) == ("Ann Other " * 8)[:79].rstrip() + "…"


def test_a_package_of_fonts_that_is_not_there_is_done_without(monkeypatch):
    monkeypatch.setattr(module, "MORE_FONTS", ("no_such_package_of_fonts",))
    assert module.fonts.__wrapped__().families()
    assert module.families()[:2] == ("Libertinus Serif", "DejaVu Sans")
    assert not [name for name in module.families() if "Resort" in name]


def test_whether_text_prints_is_tried_not_assumed():
    assert can_print("Ж")
    assert not can_print("酸")
