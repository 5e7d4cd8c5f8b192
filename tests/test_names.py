"""File names of the sheets are safe on Windows, macOS and Linux, and stay the same."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.outputs.names import LONGEST, safe_name, sheet_names

# Reserved characters, device names and trailing dots or spaces: Microsoft, "Naming Files, Paths, and Namespaces".
RESERVED = '<>:"/\\|?*'


def test_a_name_carries_the_place_in_the_class():
    assert sheet_names(["S01", "Zoë / Lab 2"]) == ["01 S01.pdf", "02 Zoë Lab 2.pdf"]


def test_places_sort_in_a_class_of_more_than_a_hundred():
    names = sheet_names([f"S{number}" for number in range(120)])
    assert names[0] == "001 S0.pdf"
    assert sorted(names) == names


def test_a_student_without_a_name_still_has_a_file():
    assert sheet_names(["", " ", "..."]) == ["01.pdf", "02.pdf", "03.pdf"]


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("con", "_con"),
        ("CON.txt", "_CON.txt"),
        ("LPT¹", "_LPT¹"),
        ("com1 .x", "_com1 .x"),
        ("console", "console"),
        ("a<b>:c", "a b c"),
        ("../../etc/passwd", "etc passwd"),
        ("line\nbreak\ttab\x00nul", "line break tab nul"),
        ("ends with dots. . .", "ends with dots"),
        ("\u202egnp.exe", "gnp.exe"),
        ("a\ud800b", "ab"),
        ("e\u0301", "é"),
        ("محمد", "محمد"),
        ("王小明", "王小明"),
    ],
)
def test_what_a_file_system_refuses_is_replaced(name, safe):
    assert safe_name(name) == safe


def test_a_long_name_is_cut_at_a_whole_character():
    cut = safe_name("é" * 200)
    assert cut == "é" * (LONGEST // 2)


def test_an_accent_is_not_parted_from_its_letter():
    # U+0323 (dot below) has no composed form with x.
    name = "a" * (LONGEST - 1) + "x\u0323"
    assert safe_name(name) == "a" * (LONGEST - 1)


def test_names_differ_where_a_file_system_sees_no_difference():
    names = sheet_names(["Straße", "STRASSE"])
    assert len({unicodedata.normalize("NFKC", name).casefold() for name in names}) == 2


@given(st.lists(st.text(max_size=200), max_size=30))
def test_any_names_become_different_safe_and_stable_files(students):
    names = sheet_names(students)
    assert names == sheet_names(students)
    assert len({unicodedata.normalize("NFKC", name).casefold() for name in names}) == len(students)
    for name in names:
        assert len(name.encode()) <= 140
        assert not set(name) & set(RESERVED)
        assert not any(unicodedata.category(character) in ("Cc", "Cf", "Cs") for character in name)
        assert name.endswith(".pdf")
        assert not name.removesuffix(".pdf").endswith((".", " "))
