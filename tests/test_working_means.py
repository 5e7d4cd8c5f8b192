"""Slips behind a written mean titre."""

from decimal import Decimal as D
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working import MeanRun, Slip, mean_is_right, mean_slips
from labmark.volumes import both_roundings

WITHIN = F("0.10")


def runs(*titres: str, ticked: str = "") -> list[MeanRun]:
    """Return a rough and accurate runs 1, 2, ...; `ticked` holds the labels ticked ("R" for the rough)."""
    labels = ["Rough", *(str(i) for i in range(1, len(titres)))]
    return [
        MeanRun(label, "rough" if label == "Rough" else "accurate", F(titre), (label[0] in ticked) if ticked else None)
        for label, titre in zip(labels, titres, strict=True)
    ]


THREE = ("24.90", "24.35", "24.60", "24.40")
AGREE = [["1", "3"]]


def slips(claimed: str, decimals: int | None = 2, *, ticked: str = "", titres: tuple[str, ...] = THREE) -> list[Slip]:
    return mean_slips(
        runs(*titres, ticked=ticked), claimed=D(claimed), decimals=decimals, within=WITHIN, concordant=AGREE
    )


@pytest.mark.parametrize("claimed", ["24.38", "24.37500", "24.375", "24.40", "24.35"])
def test_a_mean_is_right_to_a_hundredth_or_a_twentieth_or_finer(claimed: str) -> None:
    # (24.35 + 24.40) ÷ 2 = 24.375, halfway between two twentieths
    assert slips(claimed, len(claimed.split(".")[1])) == []
    assert slips(claimed, None) == []


@pytest.mark.parametrize(
    ("claimed", "finding", "cause"),
    [
        ("24.56", "rough-in-mean", "the rough taken in"),
        ("24.90", "rough-in-mean", "the rough given instead of a mean"),
        ("24.45", "discordant-in-mean", "a run taken in that does not agree"),
        ("48.75", "mean-slip", "divided by the wrong number of runs"),
        ("25.38", "mean-slip", "one digit wrong"),
        ("24.83", "mean-slip", "two digits in each other's place"),
        ("21.19", "mean-slip", "no usual slip gives this value"),
        ("24.37", "rounding", "last figure not rounded rightly"),
    ],
)
def test_each_slip_of_the_mean_is_named(claimed: str, finding: str, cause: str) -> None:
    assert [(slip.finding, slip.cause) for slip in slips(claimed)] == [(finding, cause)]


def test_the_sum_that_gives_the_mean_is_shown() -> None:
    assert "(24.90 + 24.35 + 24.60 + 24.40) ÷ 4 = 24.56" in slips("24.56")[0].message


def test_a_mean_of_the_runs_ticked_is_right_and_the_choice_of_a_rough_costs_the_selection() -> None:
    found = slips("24.56", ticked="R123")
    assert [(slip.finding, slip.criterion) for slip in found] == [("rough-in-mean", "selection")]


def test_ticking_a_run_that_does_not_agree_costs_the_selection() -> None:
    found = slips("24.45", ticked="123")
    assert [(slip.finding, slip.criterion) for slip in found] == [("discordant-in-mean", "selection")]
    assert "run 2 does not agree" in found[0].message


def test_a_rough_taken_in_against_the_ticks_costs_the_mean() -> None:
    found = slips("24.56", ticked="13")
    assert [(slip.finding, slip.criterion) for slip in found] == [("rough-in-mean", "mean")]


def test_a_ticked_run_left_out_is_a_slip_of_the_mean() -> None:
    found = mean_slips(
        runs("24.90", "24.30", "24.40", "24.35", ticked="123"),
        claimed=D("24.325"), decimals=3, within=WITHIN, concordant=[["1", "2", "3"]],
    )  # fmt: skip
    assert [(slip.finding, slip.cause) for slip in found] == [("mean-slip", "a run left out")]


def test_without_ticks_part_of_a_concordant_set_is_a_fair_choice() -> None:
    found = mean_slips(
        runs("24.90", "24.30", "24.40", "24.35"), claimed=D("24.325"), decimals=3, within=WITHIN,
        concordant=[["1", "2", "3"]],
    )  # fmt: skip
    assert found == []


def test_any_of_several_largest_sets_is_a_right_choice() -> None:
    titres = runs("24.90", "24.30", "24.40", "24.50")
    for claimed in ("24.35", "24.45"):
        sets = [["1", "2"], ["2", "3"]]
        assert mean_slips(titres, claimed=D(claimed), decimals=2, within=WITHIN, concordant=sets) == []


def test_one_run_is_no_mean() -> None:
    found = mean_slips(runs("24.90", "24.35", "24.60", "24.00"), claimed=D("24.00"), decimals=2, within=WITHIN)
    assert [(slip.finding, slip.cause) for slip in found] == [("mean-slip", "last run given instead of a mean")]


def test_where_no_runs_agree_the_closest_two_are_a_fair_choice() -> None:
    titres = runs("24.90", "24.35", "24.60", "25.10")
    assert mean_slips(titres, claimed=D("24.48"), decimals=2, within=WITHIN) == []


def test_a_mean_to_one_decimal_is_short() -> None:
    found = mean_slips(
        runs("25", "24.35", "24.37"), claimed=D("24.4"), decimals=1, within=WITHIN, concordant=[["1", "2"]]
    )
    assert [(slip.finding, slip.criterion) for slip in found] == [("rounding", "figures")]


def test_a_lost_zero_is_given_back() -> None:
    assert mean_slips(runs("25", "24.40", "24.40"), claimed=D("24.4"), decimals=None, within=WITHIN,
                      concordant=[["1", "2"]]) == []  # fmt: skip


def test_no_runs_say_nothing() -> None:
    assert mean_slips([], claimed=D("24.35"), decimals=2, within=WITHIN) == []


TWENTIETHS = st.integers(200, 800).map(lambda n: F(n, 20))


@given(st.lists(TWENTIETHS, min_size=2, max_size=5), st.sampled_from([2, 3, 4, None]))
def test_the_mean_of_the_runs_ticked_is_always_right(titres: list[F], decimals: int | None) -> None:
    accurate = [MeanRun(str(i), "accurate", titre, True) for i, titre in enumerate(titres)]
    mean = sum(titres, F(0)) / len(titres)
    labels = [run.label for run in accurate]
    for written in both_roundings(mean, decimals or 2):
        given = {"claimed": written, "decimals": decimals, "within": WITHIN, "concordant": [labels]}
        assert mean_is_right(accurate, **given)
        assert mean_slips(accurate, **given) == []


def test_a_short_mean_of_part_of_a_concordant_set_is_named_as_short() -> None:
    # (24.45 + 24.55 + 24.55) ÷ 3 = 24.52 is 25 to the nearest whole; (24.45 + 24.55) ÷ 2 = 24.50 may be 24.
    found = mean_slips(
        runs("25.10", "24.45", "24.55", "24.55"), claimed=D("24"), decimals=0, within=WITHIN,
        concordant=[["1", "2", "3"]],
    )  # fmt: skip
    assert [(slip.finding, slip.cause) for slip in found] == [("rounding", "too few figures")]
    assert "as in 24.50" in found[0].message


@pytest.mark.parametrize("claimed", ["48.75", "24.35", "24.50", "25.38"])
def test_a_slip_with_high_odds_is_not_called_a_coincidence(claimed: str) -> None:
    (found,) = mean_slips(
        runs("24.90", "24.35", "24.60", "24.41", ticked="13"),
        claimed=D(claimed), decimals=2, within=WITHIN, concordant=AGREE,
    )  # fmt: skip
    assert found.probability is not None
    assert found.probability > 0.6
    assert "coincidence" not in found.message


def test_a_slip_that_leaves_room_for_an_accident_is_said_to_do_so() -> None:
    (found,) = mean_slips(
        runs("24.90", "24.35", "24.60", "24.41", ticked="13"),
        claimed=D("24.66"), decimals=2, within=WITHIN, concordant=AGREE,
    )  # fmt: skip
    assert found.probability is not None
    assert found.probability < 0.9
    assert found.message.endswith(" It may be a coincidence.")


def test_the_chance_of_an_accident_counts_the_means_near_the_written_one() -> None:
    # The sum of all titres lies by itself; near 24.56 lie the means of a dozen sets of runs.
    alone, crowded = slips("73.35", ticked="123")[0], slips("24.56", ticked="13")[0]
    assert alone.chance <= 0.02
    assert crowded.chance > 0.05


def test_a_run_that_is_the_mean_to_the_digit_comes_before_a_mean_to_the_nearest_twentieth() -> None:
    found = mean_slips(
        runs("25.10", "24.60", "24.55", "24.55", "24.65", ticked="1234"), claimed=D("24.65"), decimals=2,
        within=WITHIN, concordant=[["1", "2", "3", "4"]],
    )  # fmt: skip
    assert [(slip.finding, slip.cause) for slip in found] == [("mean-slip", "last run given instead of a mean")]
    assert found[0].also == ("a run left out",)


def test_a_discordant_run_whose_mean_fits_to_the_digit_comes_before_a_rough_that_does_not() -> None:
    # (25.25 + 25.30 + 26.10) ÷ 3 = 25.55; (26.05 + 25.25 + 25.30) ÷ 3 = 25.53
    found = mean_slips(
        runs("26.05", "25.25", "25.30", "26.10"), claimed=D("25.55"), decimals=2, within=WITHIN,
        concordant=[["1", "2"]],
    )  # fmt: skip
    assert [slip.finding for slip in found] == ["discordant-in-mean"]
    assert "the rough taken in" in found[0].also
    assert "(25.25 + 25.30 + 26.10) ÷ 3 = 25.55 cm³" in found[0].message


def test_a_middle_value_that_gives_the_mean_to_a_twentieth_comes_after_a_run_that_gives_it_to_the_digit() -> None:
    found = mean_slips(
        runs("25.10", "24.60", "24.50", "24.50", ticked="123"), claimed=D("24.6"), decimals=None, within=WITHIN,
        concordant=[["1", "2", "3"]],
    )  # fmt: skip
    assert found[0].message.startswith("You wrote 24.60 cm³. That is run 1 alone: 24.60 cm³.")
