"""The concordant set: the largest that agrees, then the tighter, then the later."""

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.agreeing import with_mean
from labmark.facts import Run, Student


def of(titres, within, at_least=2, usable=None):
    """A student with these titres [µL]."""
    keep = [True] * len(titres) if usable is None else usable
    pairs = enumerate(zip(titres, keep, strict=True), start=1)
    runs = tuple(Run(str(place), rough=False, titre=titre, usable=use) for place, (titre, use) in pairs)
    return with_mean(Student(1, "S01", runs), titres, within, at_least)


def one(*titres, within="0.10", at_least=2, usable=None):
    """A student whose titres are written in cm³."""
    return of([round(float(titre) * 1000) for titre in titres], round(float(within) * 1000), at_least, usable)


def runs_in_mean(found):
    return [place + 1 for place in found.closest]


@pytest.mark.parametrize(
    ("titres", "expected"),
    [
        (["24.35", "24.40"], [1, 2]),
        (["24.90", "24.35", "24.40"], [2, 3]),
        (["24.30", "24.35", "24.40", "24.95"], [1, 2, 3]),
        # Two largest sets, one of them tighter.
        (["24.30", "24.40", "24.80", "24.85"], [3, 4]),
        # Two largest sets as tight as each other: the one that starts later.
        (["24.80", "24.85", "24.30", "24.35"], [3, 4]),
        # They overlap: the earliest run that differs decides.
        (["24.30", "24.40", "24.50"], [2, 3]),
        (["24.50", "24.40", "24.30"], [2, 3]),
    ],
)
def test_the_largest_then_tighter_then_later_set_is_taken(titres, expected):
    assert runs_in_mean(one(*titres)) == expected


def test_titres_exactly_the_limit_apart_agree():
    assert one("22.50", "22.60").concordant


def test_titres_a_hair_further_apart_do_not_agree():
    found = one("22.50", "22.65")
    assert not found.concordant
    assert runs_in_mean(found) == [1, 2]


def test_without_agreement_the_two_closest_runs_stand_in():
    found = one("24.00", "24.60", "24.80")
    assert not found.concordant
    assert runs_in_mean(found) == [2, 3]
    assert found.sets == ()


def test_three_must_agree_where_the_practical_says_so():
    found = one("24.35", "24.40", "24.90", at_least=3)
    assert not found.concordant
    assert runs_in_mean(found) == [1, 2]
    assert found.tightest == 550


def test_a_single_run_is_its_own_mean_but_not_concordant():
    found = one("24.35")
    assert not found.concordant
    assert (found.mean, len(found.closest)) == (Fraction("24.35"), 1)


def test_a_student_without_a_usable_run_has_no_mean():
    found = one("24.35", "24.40", usable=[False, False])
    assert (found.closest, found.mean, found.span) == ((), None, None)


def test_runs_that_do_not_count_are_left_out():
    assert runs_in_mean(one("24.35", "24.35", "24.40", usable=[False, True, True])) == [2, 3]


def test_every_largest_set_is_known_with_the_chosen_one_first():
    assert one("24.30", "24.40", "24.50").sets == ((1, 2), (0, 1))


def by_trying_all(titres, within):
    """The rule as it is written, by looking at every subset."""
    subsets = [
        group
        for size in range(1, len(titres) + 1)
        for group in combinations(range(len(titres)), size)
        if max(titres[i] for i in group) - min(titres[i] for i in group) <= within
    ]
    span = {group: max(titres[i] for i in group) - min(titres[i] for i in group) for group in subsets}
    largest = [group for group in subsets if len(group) == max(map(len, subsets))]
    best = min(span[group] for group in largest)
    return max(group for group in largest if span[group] == best), set(largest)


@given(
    st.lists(st.integers(470, 500).map(lambda step: step * 50), min_size=2, max_size=7), st.sampled_from([50, 100, 200])
)
def test_windows_find_what_trying_every_subset_finds(titres, within):
    found = of(titres, within)
    chosen, largest = by_trying_all(titres, within)
    if len(chosen) < 2:
        assert not found.concordant
    else:
        assert found.closest == chosen
        assert set(found.sets) == largest


@given(st.permutations([24300, 24350, 24400, 24900, 25500]))
def test_the_mean_does_not_hang_on_the_order_where_one_set_is_largest(titres):
    found = of(titres, 100)
    assert (found.mean, len(found.closest)) == (Fraction("24.35"), 3)
