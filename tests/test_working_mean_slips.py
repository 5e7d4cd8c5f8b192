"""Slips behind a written mean titre."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working_mean_slips import mean_slips, own_mean, selection_odds
from labmark.diagnose.working_slips import Slip
from labmark.exact import both_roundings
from labmark.words import reported, told
from tests.build import averaged, student


def slips(claimed: str, decimals: int | None = 2, *, ticked: str = "", **more: tuple[str, ...]) -> list[Slip]:
    return mean_slips(averaged(claimed, **more, ticked=ticked, written=decimals))


@pytest.mark.parametrize(
    ("claimed", "finding", "cause"),
    [
        ("24.56", "rough-in-mean", "the rough included"),
        ("24.90", "mean-slip", "the rough given instead of a mean"),
        ("24.45", "discordant-in-mean", "a run included that does not agree"),
        ("48.75", "mean-slip", "divided by the wrong number of runs"),
        ("25.38", "mean-slip", "one digit wrong"),
        ("24.83", "mean-slip", "two digits swapped"),
        ("21.19", "mean-slip", "no usual slip gives this value"),
        ("24.37", "rounding", "last figure not rounded correctly"),
    ],
)
def test_each_slip_of_the_mean_is_named(claimed: str, finding: str, cause: str) -> None:
    assert [(slip.finding, slip.cause) for slip in slips(claimed)] == [(finding, cause)]


def test_the_sum_that_gives_the_mean_is_shown_with_its_runs_in_the_same_order() -> None:
    said = "the mean of the rough and runs 1, 2 and 3: (24.90 + 24.35 + 24.60 + 24.40) ÷ 4 = 24.56 cm³"
    assert said in slips("24.56")[0].message


@pytest.mark.parametrize(("claimed", "ticked"), [("24.56", "R123"), ("24.45", "123")])
def test_a_mean_of_the_runs_ticked_is_right_and_their_choice_costs_the_selection(claimed: str, ticked: str) -> None:
    assert slips(claimed, ticked=ticked) == []
    found = own_mean(averaged(claimed, ticked=ticked), 2, 100)
    assert found is not None
    assert (found.right, found.selection_right) == (True, False)


def test_a_mean_is_quoted_as_it_was_written() -> None:
    assert " wrote 25.4 cm³: one digit wrong." in reported(
        slips("25.4", 1, titres=("24.90", "24.40", "24.40"))[0].message
    )


def test_a_ticked_run_left_out_is_a_slip_of_the_mean() -> None:
    found = slips("24.325", 3, titres=("24.90", "24.30", "24.40", "24.35"), ticked="123")
    assert [(slip.finding, slip.cause) for slip in found] == [("mean-slip", "a run left out")]


def odds(claimed: str, *titres: str) -> float:
    """Return the odds that a mean takes in what it seems to."""
    found = selection_odds(averaged(claimed, titres))
    assert found is not None
    return found


def test_the_more_sets_a_mean_may_be_of_the_less_it_says_of_one() -> None:
    # All four with the rough, (24.90 + 24.35 + 24.40 + 24.70) ÷ 4 = 24.5875, or three of them.
    assert odds("24.59", "24.90", "24.35", "24.40", "24.70") < odds("24.55", "24.90", "24.35", "24.40")


def test_a_mean_as_near_ones_own_as_a_neighbours_may_be_one() -> None:
    # The same sum of three titres, with the rough 0.30 and 2.70 cm³ above the others.
    assert odds("24.48", "24.70", "24.35", "24.40") < odds("25.28", "27.10", "24.35", "24.40") - 0.01


def test_a_mean_to_the_nearest_twentieth_says_less_than_one_to_the_hundredth() -> None:
    # (24.90 + 24.35 + 24.40) ÷ 3 = 24.55, and with 24.45 in the place of 24.40 it is 24.567, or 24.55 to 0.05.
    assert odds("24.55", "24.90", "24.35", "24.45") < odds("24.55", "24.90", "24.35", "24.40")


def test_a_mean_in_dm3_is_called_so() -> None:
    # (24.35 + 24.40) ÷ 2 = 24.375
    (found,) = slips("0.02438", 5, titres=("24.90", "24.35", "24.40"))
    assert (found.finding, found.cause) == ("mean-slip", "mean in dm³")


def test_a_mean_a_tenth_off_to_two_decimals_is_no_last_figure_out() -> None:
    # (24.35 + 24.40) ÷ 2 = 24.375; 24.40 and 24.30 are to one decimal, 24.50 is neither.
    assert [slip.finding for slip in slips("24.50", 2, titres=("24.90", "24.35", "24.40"))] == ["mean-slip"]


def test_one_run_is_no_mean() -> None:
    found = slips("24.00", titres=("24.90", "24.35", "24.60", "24.00"))
    assert [(slip.finding, slip.cause) for slip in found] == [("mean-slip", "last run given instead of a mean")]


def test_no_runs_say_nothing() -> None:
    assert mean_slips(student(mean="24.35")) == []


TWENTIETHS = st.integers(200, 800).map(lambda n: F(n, 20))


@given(st.lists(TWENTIETHS, min_size=2, max_size=5), st.sampled_from([2, 3, 4]), st.booleans())
def test_the_mean_of_the_runs_ticked_is_always_right(titres: list[F], decimals: int, known: bool) -> None:
    texts = ("25.00", *(f"{float(titre):.2f}" for titre in titres))
    for written in both_roundings(sum(titres, F(0)) / len(titres), decimals):
        one = averaged(str(written), texts, ticked="12345", written=decimals if known else None)
        found = own_mean(one, 2, 100)
        assert found is not None
        assert found.right
        assert mean_slips(one) == []


@pytest.mark.parametrize("claimed", ["48.75", "25.38"])
def test_a_slip_with_high_odds_is_not_called_a_coincidence(claimed: str) -> None:
    (found,) = slips(claimed, titres=("24.90", "24.35", "24.60", "24.41"), ticked="13")
    assert found.probability is not None
    assert found.probability > 0.6
    assert "coincidence" not in found.message


@pytest.mark.parametrize("claimed", ["24.66", "24.35", "24.50"])
def test_a_slip_that_leaves_room_for_an_accident_is_said_to_do_so(claimed: str) -> None:
    (found,) = slips(claimed, titres=("24.90", "24.35", "24.60", "24.41"), ticked="13")
    assert found.probability is not None
    assert found.probability < 0.9
    assert found.message.endswith(" It may be a coincidence.")


def test_the_chance_of_an_accident_counts_the_means_near_the_written_one() -> None:
    # The sum of all titres lies by itself; near 24.56 lie the means of a dozen sets of runs.
    alone, crowded = slips("73.35", ticked="123")[0], slips("24.56", ticked="13")[0]
    assert alone.chance <= 0.02
    assert crowded.chance > 0.05


def test_a_run_that_is_the_mean_to_the_digit_comes_before_a_mean_to_the_nearest_twentieth() -> None:
    found = slips("24.65", 2, titres=("25.10", "24.60", "24.55", "24.55", "24.65"), ticked="1234")
    assert [(slip.finding, slip.cause) for slip in found] == [("mean-slip", "last run given instead of a mean")]
    assert found[0].also == ("a run left out",)


def test_a_discordant_run_whose_mean_fits_to_the_digit_comes_before_a_rough_that_does_not() -> None:
    # (25.25 + 25.30 + 26.10) ÷ 3 = 25.55; (26.05 + 25.25 + 25.30) ÷ 3 = 25.53
    found = slips("25.55", 2, titres=("26.05", "25.25", "25.30", "26.10"))
    assert [slip.finding for slip in found] == ["discordant-in-mean"]
    assert "the rough included" in found[0].also
    assert "(25.25 + 25.30 + 26.10) ÷ 3 = 25.55 cm³" in found[0].message


def test_a_middle_value_that_gives_the_mean_to_a_twentieth_comes_after_a_run_that_gives_it_to_the_digit() -> None:
    found = slips("24.6", None, titres=("25.10", "24.60", "24.50", "24.50"), ticked="123")
    assert told(found[0].message).startswith("You wrote 24.60 cm³. That is run 1 alone: 24.60 cm³.")


def test_a_mean_that_the_right_runs_give_cut_off_is_no_choice_of_other_runs() -> None:
    # (17.80 + 17.75 + 17.75) ÷ 3 = 17.767; with the rough (17.75 + ...) ÷ 4 = 17.7625
    (found,) = slips("17.76", titres=("17.75", "17.80", "17.75", "17.75"))
    assert (found.finding, found.criterion) == ("rounding", "mean")


def test_a_mean_of_runs_that_nobody_would_choose_is_no_choice_held_against_a_student() -> None:
    # (24.90 + 24.35) ÷ 2 = 24.625: the rough and run 1, of four.
    (found,) = slips("24.63")
    assert (found.finding, found.criterion, found.cause) == ("mean-slip", "mean", "the mean of other runs")
    assert found.message.endswith(" It may be a coincidence.")


def test_a_mean_beside_titres_of_nothing_is_a_slip_like_any_other() -> None:
    assert [slip.finding for slip in slips("5.30", titres=("0.00", "0.00", "0.00"))] == ["mean-slip"]


def test_a_run_ticked_that_the_mean_rightly_leaves_out_is_no_run_left_out() -> None:
    (found,) = slips("24.38", ticked="R13")
    assert (found.finding, found.cause) == ("mean-slip", "a run ticked that the mean rightly leaves out")
    assert "That is the mean of runs 1 and 3: (24.35 + 24.40) ÷ 2 = 24.38 cm³." in found.message
