"""What the terminal says: colours only on a terminal, a progress bar only where there is something to wait for."""

from __future__ import annotations

import io

import click
import pytest
from click.testing import CliRunner

from labmark import terminal
from tests import example_tree as example


def example_tree():
    """The example, with the equation as it is printed."""
    tree = example.example_tree()
    tree["practical"]["derived"]["equation"] = "2 NaOH + H₂SO₄ → Na₂SO₄ + 2 H₂O"
    return tree


def test_the_first_six_who_need_an_eye_are_named_in_order():
    said = terminal.understanding(example_tree())
    ranked = sorted(
        (each for each in example_tree()["students"] if each["attention"]), key=lambda each: each["attention"]["rank"]
    )
    places = [said.index(each["attention"]["why"]) for each in ranked[:6]]
    assert places == sorted(places)
    assert f"Look first at ({len(ranked)} of {len(example_tree()['students'])} students)" in click.unstyle(said)


def test_where_many_need_an_eye_the_rest_are_counted():
    tree = example_tree()
    for student in tree["students"]:
        student["attention"] = {"rank": student["number"], "why": "an example"}
    said = terminal.understanding(tree)
    assert said.count("an example") == 6
    assert "  and 6 more; the report of `labmark mark` ranks them all" in said


def test_one_or_two_more_are_named_and_not_counted():
    tree = example_tree()
    for student in tree["students"][:8]:
        student["attention"] = {"rank": student["number"], "why": "an example"}
    for student in tree["students"][8:]:
        student["attention"] = None
    said = terminal.understanding(tree)
    assert said.count("an example") == 8
    assert "ranks them all" not in said


def test_one_student_is_one_student():
    tree = example_tree()
    tree["students"] = [each for each in tree["students"] if each["attention"]][:1]
    tree["students"][0]["runs"] = tree["students"][0]["runs"][:1]
    tree["class"] |= {"students": 1, "absent": 0}
    said = click.unstyle(terminal.understanding(tree))
    assert "  1 student, 1 run; " in said
    assert "1 of 1 student)" in said


def test_references_of_the_students_own_are_not_told_one_by_one():
    tree = example_tree()
    one = {"groups": [], "robust_mean": 0.1, "robust_sd": None, "reference": 0.1}
    tree["class"]["statistics"]["by_reference"] = [one, one | {"reference": 0.2}]
    said = click.unstyle(terminal.understanding(tree))
    assert "Each student is compared with a reference of their own" in said
    assert "Others" not in said


def test_a_class_that_needs_nobody_is_said_so():
    tree = example_tree()
    for student in tree["students"]:
        student["attention"] = None
    assert "Nobody needs a second look." in terminal.understanding(tree)


def test_what_the_teacher_set_aside_about_the_class_is_not_said_again():
    tree = example_tree()
    first, second = tree["class"]["findings"][:2]
    first["aside"] = True
    assert first["message"] not in terminal.understanding(tree)
    assert second["message"] in terminal.understanding(tree)


def test_what_was_not_understood_stands_beside_what_was_not_marked():
    tree = example_tree()
    note = "not understood and not used: 'Yield' (column J); name them in a [columns] table if they matter"
    tree["source"]["notes"] = [note]
    tree["class"]["not_marked"] = ["calculation"]
    assert f"nothing to mark it on: calculation\n  {note}\n" in terminal.understanding(tree)


def test_colours_go_where_a_terminal_is():
    @click.command()
    def show():
        click.echo(terminal.understanding(example_tree()))

    assert "\x1b[" not in CliRunner().invoke(show).output
    assert "\x1b[" in CliRunner().invoke(show, color=True).output


def shown(monkeypatch, seconds):
    """Return what the bar writes when the sheets begin after so many seconds."""
    clock = iter([0.0, *[seconds] * 100])
    monkeypatch.setattr(terminal.time, "monotonic", lambda: next(clock))

    @click.command()
    def work():
        with terminal.progress("sheets", quiet=False, patience=1.0) as progress:
            for done in range(1, 31):
                progress(done, 30)

    return CliRunner().invoke(work).stderr


def test_a_bar_is_shown_after_a_second(monkeypatch):
    assert "sheets" in shown(monkeypatch, 1.5)


class Screen(io.StringIO):
    """What a terminal is given, as text."""

    def isatty(self):
        return True


def test_on_a_terminal_the_bar_says_how_many_are_done_and_how_fast(monkeypatch):
    monkeypatch.setattr(terminal.sys, "stderr", screen := Screen())
    with terminal.progress("classes", quiet=False) as progress:
        for done in (0, 1, 1, 2, 3):  # Twice as far where a class waits for what came before it.
            progress(done, 3)
    assert "4/3" not in screen.getvalue()
    assert all(words in screen.getvalue() for words in ("classes", "1/3", "3/3", " a second"))


def test_quick_work_shows_no_bar(monkeypatch):
    assert shown(monkeypatch, 0.3) == ""


def test_quiet_gives_no_callback():
    with terminal.progress("sheets", quiet=True) as progress:
        assert progress is None


@pytest.mark.parametrize("part", ["ignored", "rejected"])
def test_long_lists_of_cells_are_cut_and_say_so(part):
    tree = example_tree()
    tree["cells"][f"{part}_cells"] = [{"cell": f"A{row}", "why": f"invented {row}"} for row in range(1, 40)]
    assert "  and 27 more reasons; results.json of `labmark mark` holds them all" in terminal.understanding(tree)


def test_cells_of_one_reason_share_a_line_so_that_the_surprise_among_them_is_seen():
    tree = example_tree()
    dashes = [{"cell": f"A{row}", "why": "says nothing"} for row in range(1, 20_001)]
    tree["cells"]["ignored_cells"] = [*dashes, {"cell": "B7", "why": "a colour"}]
    said = terminal.understanding(tree)
    assert "  A1, A2, A3, A4, A5, A6 and 19 994 more: says nothing" in said
    assert "  B7: a colour" in said


def test_a_long_list_of_notes_is_cut_and_says_so():
    tree = example_tree()
    tree["source"]["notes"] = [f"F{row}: 2250 is beyond the burette" for row in range(1, 21)]
    said = terminal.understanding(tree)
    assert said.count("note: ") == 12
    assert "  and 8 more notes; results.json of `labmark mark` holds them all" in said


def test_thousands_stand_apart_where_a_number_is_long():
    tree = example_tree()
    tree["class"]["students"], tree["cells"]["filled"] = 100_000, 1_600_016
    said = terminal.understanding(tree)
    assert "  100 000 students" in said
    assert "1 600 016 filled cells" in said
