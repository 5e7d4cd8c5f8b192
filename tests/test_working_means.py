"""When a written mean titre is right."""

import pytest

from labmark.diagnose.working_means import choices, right_choice
from tests.build import averaged


def is_right(claimed: str, decimals: int | None = 2, *, ticked: str = "", **more: tuple[str, ...]) -> bool:
    one = averaged(claimed, **more, ticked=ticked, written=decimals)
    return right_choice(one, choices(one)) is not None


@pytest.mark.parametrize("claimed", ["24.38", "24.37500", "24.375", "24.40"])
def test_a_mean_is_right_to_a_hundredth_or_a_twentieth_or_finer(claimed: str) -> None:
    # (24.35 + 24.40) ÷ 2 = 24.375, 487.5 twentieths, which are 488 by either rule for ties
    assert is_right(claimed, len(claimed.split(".")[1]))
    assert is_right(claimed, None)


def test_without_ticks_part_of_a_concordant_set_is_a_fair_choice() -> None:
    assert is_right("24.325", 3, titres=("24.90", "24.30", "24.40", "24.35"))


@pytest.mark.parametrize("claimed", ["24.35", "24.45"])
def test_any_of_several_largest_sets_is_a_right_choice(claimed: str) -> None:
    assert is_right(claimed, titres=("24.90", "24.30", "24.40", "24.50"))


def test_where_no_runs_agree_the_closest_two_are_a_fair_choice() -> None:
    assert is_right("24.48", titres=("24.90", "24.35", "24.60", "25.10"))


@pytest.mark.parametrize("claimed", ["24.380", "24.400", "24.38", "24.4", "24.40", "24.3833", "24.383333333"])
@pytest.mark.parametrize("decimals", [2, None])
def test_a_spare_zero_and_a_lost_one_cost_nothing(claimed: str, decimals: int | None) -> None:
    # (24.35 + 24.40 + 24.40) ÷ 3 = 24.383
    assert is_right(claimed, decimals, titres=("24.90", "24.35", "24.40", "24.40"), ticked="123")
