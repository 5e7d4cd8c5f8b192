"""Titres from readings: interpreted where needed, never changed."""

import pytest

from labmark.exact import shown
from tests.build import run, student


def titres(*runs):
    return [None if each.titre is None else str(shown(each.titre)) for each in student(*runs).runs]


def test_a_titre_is_final_minus_initial():
    assert titres(run("1", "0.35 24.70")) == ["24.35"]


def test_readings_the_other_way_round_are_taken_in_the_other_order_and_kept():
    someone = student(run("1", "24.35 0.00"), run("2", "0.00 24.40"))
    assert someone.runs[0].reversed
    assert (someone.runs[0].initial, someone.runs[0].final, someone.runs[0].titre) == (24350, 0, 24350)
    assert someone.concordant


def test_where_every_run_reads_downwards_the_scale_counts_down():
    someone = student(run("Rough", "50.00 25.10"), run("1", "50.00 25.65"), run("2", "49.90 25.55"))
    assert someone.counts_down
    assert not any(each.reversed for each in someone.runs)
    assert someone.concordant


def test_one_run_that_reads_downwards_does_not_make_a_scale():
    someone = student(run("1", "24.35 0.00"))
    assert someone.runs[0].reversed
    assert not someone.counts_down


def test_a_run_without_its_final_reading_gives_no_titre_though_one_is_written():
    someone = student(run("1", "0.00 -", "24.35"), run("2", "0.00 24.40"))
    assert someone.runs[0].missing
    assert someone.runs[0].titre is None
    assert not someone.runs[0].usable


def test_a_sheet_with_titres_only_takes_the_written_ones():
    someone = student(run("Rough", "", "24.90"), run("1", "", "24.35"), run("2", "", "24.40"))
    assert someone.concordant
    assert someone.mean == (24350 + 24400) / 2 / 1000
    assert not any(each.missing for each in someone.runs)


def test_the_parts_of_a_refilled_run_add_up():
    refilled = run("1", "24.60 1.00", parts=((24600, 50000), (0, 1000)))
    assert titres(refilled) == ["26.40"]


def test_a_reading_off_the_scale_leaves_the_run_out():
    someone = student(run("1", "0.00 51.50"), run("2", "0.00 24.40"))
    assert someone.runs[0].off_scale
    assert [each.usable for each in someone.runs] == [False, True]


@pytest.mark.parametrize(
    ("readings", "written", "titre"),
    [
        ("40.00 64.45", None, "24.45"),  # counted on
        ("40.00 14.45", None, "24.45"),  # read on from the top
        ("40.00 17.00", "27.00", "27.00"),  # agrees with no other run, but is what was written
        ("40.00 17.00", None, "23.00"),  # then the readings are taken for swapped
        ("40.00 14.45", "25.55", "25.55"),
        ("24.40 0.00", None, "24.40"),
    ],
)
def test_readings_go_on_from_the_top_of_the_scale_where_the_titre_agrees_with_another_or_is_written(
    readings, written, titre
):
    assert titres(run("1", "0.00 24.40"), run("2", readings, written))[1] == titre


def test_a_run_read_on_from_the_top_is_used_and_is_neither_swapped_nor_off_the_scale():
    someone = student(run("1", "0.00 24.40"), run("2", "40.00 64.45"), run("3", "40.00 14.45"))
    assert [(each.usable, each.off_scale, each.reversed) for each in someone.runs] == [(True, False, False)] * 3


def test_a_struck_out_run_and_the_rough_are_never_in_the_mean():
    someone = student(
        run("Rough", "0.00 24.40"), run("1", "0.00 24.40", struck=True), run("2", "0.00 24.45"), run("3", "0.00 24.50")
    )
    assert [each.in_mean for each in someone.runs] == [False, False, True, True]


def test_a_run_that_took_nothing_has_no_titre_to_use():
    assert not student(run("1", "5.00 5.00")).runs[0].usable
