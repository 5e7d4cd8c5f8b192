"""One bench, bottle or group that differs from the rest; and where the spread comes from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse.groups import group_shifts
from labmark.analyse.precision import variance_components
from labmark.analyse.robust import algorithm_a, joint_fit
from tests.simulate_class import REFERENCE, TITRE, Recipe, simulate

BENCH = [str(1 + i // 6) for i in range(24)]


def a_class(**strength):
    """24 results a per cent or so apart, each bench with its own strength (bench_3=1.04)."""
    rng = np.random.default_rng(33)
    results = REFERENCE * (1 + rng.normal(0, 0.007, 24))
    return results * np.array([strength.get(f"bench_{bench}", 1.0) for bench in BENCH])


def benches(results, **more):
    (found,) = group_shifts(results, {"Bench": BENCH}, TITRE, **more)
    return found


def shifted(results, **more):
    return [group.group for group in benches(results, **more).groups if group.shifted]


def test_benches_alike_are_left_alone():
    assert shifted(a_class()) == []


def test_a_bench_four_per_cent_off_is_named_with_its_effect():
    found = benches(a_class(bench_3=1.04))
    third = found.groups[2]
    assert [group.group for group in found.groups if group.shifted] == ["Bench 3"]
    assert third.effect_percent == pytest.approx(4.0, abs=1.0)
    assert third.effect_titre == pytest.approx(0.04 * TITRE, abs=0.25)
    assert third.effect == pytest.approx(third.mean - third.others)
    assert third.low < third.effect < third.high
    assert third.low > 0
    assert third.p < 0.01
    assert (third.n, third.others_n, third.looked_at, third.dof) == (6, 18, 4, 20)


def test_a_bad_bench_does_not_make_the_good_ones_look_odd():
    found = benches(a_class(bench_3=1.15))
    assert [group.group for group in found.groups if group.shifted] == ["Bench 3"]
    # The others are held against one another only.
    assert {group.others_n for group in found.groups if not group.shifted} == {12}


def test_two_bad_benches_are_both_named():
    assert shifted(a_class(bench_1=1.08, bench_4=0.90)) == ["Bench 1", "Bench 4"]


def test_one_student_far_out_does_not_shift_the_bench():
    results = a_class()
    results[8] *= 1.5
    assert shifted(results) == []


def test_a_shift_smaller_than_two_drops_is_not_worth_a_finding():
    # 400 students: a shift of 0.06 cm³ is beyond chance, and does not matter.
    bench = np.repeat([0, 1, 2, 3], 100)
    spread = np.tile(np.linspace(-0.002, 0.002, 100), 4)
    results = REFERENCE * (1 + spread) + np.where(bench == 2, 0.06 * REFERENCE / TITRE, 0.0)
    (found,) = group_shifts(results, {"Bench": bench}, TITRE)
    assert abs(found.groups[2].statistic) > found.groups[2].critical
    assert not any(group.shifted for group in found.groups)


def test_of_two_bottles_the_one_further_from_the_reference_is_named():
    bottle = np.repeat(["A", "B"], 12)
    results = REFERENCE * (1 + 0.004 * np.tile(np.linspace(-1, 1, 12), 2)) * np.where(bottle == "A", 1.05, 1.0)
    for reference, named in ((REFERENCE, "Bottle A"), (1.05 * REFERENCE, "Bottle B")):
        (found,) = group_shifts(results, {"Bottle": bottle}, TITRE, reference=reference)
        assert [group.group for group in found.groups if group.shifted] == [named]
        assert all(group.two_groups for group in found.groups)


def test_groups_of_one_or_two_are_not_judged():
    results = np.append(a_class(), [0.2, 0.2])
    (found,) = group_shifts(results, {"Bench": [*BENCH, "9", "9"]}, TITRE)
    assert found.left_out == ("9",)
    assert len(found.groups) == 4


@pytest.mark.parametrize("labels", [["1"] * 24, [None] * 24, [str(i) for i in range(24)], [""] * 24])
def test_a_grouping_without_two_groups_of_three_is_shown_empty(labels):
    (found,) = group_shifts(a_class(), {"Bench": labels}, TITRE)
    assert found.groups == ()


def test_an_empty_class_has_no_groups():
    (found,) = group_shifts([], {"Bench": []}, TITRE)
    assert found.groups == ()


def test_every_grouping_counts_in_the_correction():
    bottle = ["A" if i % 2 else "B" for i in range(24)]
    one, two = group_shifts(a_class(), {"Bench": BENCH, "Bottle": bottle}, TITRE)
    assert {group.looked_at for group in (*one.groups, *two.groups)} == {6}
    assert one.groups[0].critical > benches(a_class()).groups[0].critical


def test_groups_that_hold_the_same_students_are_said_to():
    bottle = ["C" if bench == "3" else "D" for bench in BENCH]
    by_bench, by_bottle = group_shifts(a_class(bench_3=1.05), {"Bench": BENCH, "Bottle": bottle}, TITRE)
    assert by_bench.groups[2].same_as == ("Bottle C",)
    assert by_bottle.groups[1].same_as == ("Bench 3",)
    assert by_bench.groups[0].same_as == ()


BENCHES_28 = [*"1111112222223333334444445555"]
"""Benches of six, the last of four."""


def named(results, **groupings):
    """Return the shifted groups, and by how much each is moved [cm³]."""
    found = group_shifts(results, groupings, TITRE, reference=1.0)
    return {group.group: group.effect_titre for grouping in found for group in grouping.groups if group.shifted}


def crossing(bottles, seed=5, **strength):
    """28 results over their reference, bottles handed out across the benches; bottle_C=0.97 is 3 % low."""
    results = 1 + np.random.default_rng(seed).normal(0, 0.004, 28)
    for label, factor in strength.items():
        kind, name = label.split("_")
        labels = bottles if kind == "bottle" else BENCHES_28
        results = results * np.where(np.array([*labels]) == name, factor, 1.0)
    return results


@pytest.mark.parametrize(
    ("bottles", "strength", "expected"),
    [
        ("AAAAAAAAAABBBBBBBBBCCCCCCCCC", {"bottle_C": 0.97}, {"Bottle C"}),  # bench 5, and most of bench 4
        ("AAAAAAAAAAAAAAABBBBBBBBBBBBB", {"bottle_B": 0.97}, {"Bottle B"}),  # benches 4 and 5, and half of bench 3
        ("AAAAAABBBBBBBBBBBBCCCCCCCCCC", {"bottle_B": 0.97}, {"Bottle B"}),  # benches 2 and 3, all of them
        ("AAAAAABBBBBBBBBBBBCCCCCCCCCC", {"bench_2": 0.97}, {"Bench 2"}),  # half of bottle B
        ("AAAAAABBBBBBBBBBBBCCCCCCCCCC", {"bottle_B": 0.96, "bench_5": 1.04}, {"Bottle B", "Bench 5"}),
        ("AAAAAAAAABBBBBBBBBBBBCCCCCCC", {"bottle_C": 0.96, "bench_4": 0.95}, {"Bottle C", "Bench 4"}),  # they cross
        ("AAAAAAAAAABBBBBBBBBCCCCCCCCC", {}, set()),
    ],
)
def test_where_groups_cross_a_shift_is_named_once(bottles, strength, expected):
    found = named(crossing(bottles, **strength), Bench=BENCHES_28, Bottle=[*bottles])
    assert set(found) == expected
    shifts = {label[0].upper() + label[1:].replace("_", " "): factor - 1 for label, factor in strength.items()}
    assert found == pytest.approx({name: shift * TITRE for name, shift in shifts.items()}, abs=0.2)


def test_the_order_of_the_groupings_does_not_matter():
    bottles = "AAAAAAAAAABBBBBBBBBCCCCCCCCC"
    results = crossing(bottles, bottle_C=0.97)
    assert set(named(results, Bottle=[*bottles], Bench=BENCHES_28)) == {"Bottle C"}


def test_of_groups_with_the_same_students_one_is_named():
    bottle = ["C" if bench == "3" else "D" for bench in BENCH]
    by_bench, by_bottle = group_shifts(a_class(bench_3=1.05), {"Bench": BENCH, "Bottle": bottle}, TITRE)
    assert [group.group for group in by_bench.groups if group.shifted] == ["Bench 3"]
    assert not any(group.shifted for group in by_bottle.groups)


@pytest.mark.parametrize("off", [(0.05, 0.06), (0.03, 0.05, 0.04)])
def test_two_or_three_students_of_six_are_no_shift_of_their_bench(off):
    results = REFERENCE * (1 + np.tile(np.linspace(-0.004, 0.004, 6), 4))
    results[6 : 6 + len(off)] *= 1 + np.array(off)
    assert shifted(results) == []


def test_a_bad_bench_is_found_among_faulty_students():
    # Percentages off the reference, bench by bench: a fifth of the class used another pipette.
    off = [
        *(0.1, -0.15, 0.2, -50.1, 0.3, 0.45),
        *(-3.9, -4.15, -4.15, 1.95, -3.8, -4.4),
        *(-0.15, -50.0, 0.2, -0.25, 0.1, 0.3),
        *(5.95, 0.3, -0.15, 0.1, 0.3, -0.25),
        *(0.95, -0.4, -50.0, -49.6, -0.15),
    ]
    bench = [str(1 + at // 6) for at in range(29)]
    assert set(named(1 + np.array(off) / 100, Bench=bench)) == {"Bench 2"}


def test_a_bench_where_most_are_grossly_off_does_not_make_the_others_look_odd():
    results = a_class()
    results[0] = np.nan
    results[1:3] *= 0.5
    results[3] *= 0.75
    assert shifted(results) == []


def test_a_group_that_says_its_kind_is_not_said_twice():
    (found,) = group_shifts(a_class(), {"Group teacher": ["Group teacher 1"] * 12 + ["2"] * 12}, TITRE)
    assert [group.group for group in found.groups] == ["Group teacher 1", "Group teacher 2"]


def test_missing_results_and_labels_are_left_out():
    results, labels = a_class(), list(BENCH)
    results[0], labels[1] = np.nan, None
    (found,) = group_shifts(results, {"Bench": labels}, TITRE)
    assert [group.n for group in found.groups] == [4, 6, 6, 6]


def test_results_without_any_spread_show_any_difference():
    results = np.where(np.array(BENCH) == "2", 1.02, 1.00) * REFERENCE
    assert shifted(results) == ["Bench 2"]
    assert shifted(np.full(24, REFERENCE)) == []


@pytest.mark.slow
@given(st.integers(0, 2**32 - 1), st.floats(1e-3, 1e3))
def test_the_unit_of_the_result_does_not_matter(seed, scale):
    results = simulate(np.random.default_rng(seed), Recipe(bench=1.03)).result
    plain, scaled = benches(results), benches(scale * results)
    assert [g.shifted for g in plain.groups] == [g.shifted for g in scaled.groups]
    assert [g.effect_titre for g in plain.groups] == pytest.approx([g.effect_titre for g in scaled.groups], abs=1e-5)


@given(st.integers(0, 2**32 - 1))
def test_one_group_alone_is_algorithm_a(seed):
    values = np.random.default_rng(seed).normal(24.4, 0.3, 15)
    centre, spread = joint_fit(values, np.zeros(15, dtype=np.int64), 1)
    alone = algorithm_a(values)
    assert (centre[0], spread) == (pytest.approx(alone.mean, abs=1e-6), pytest.approx(alone.sd, abs=1e-6))


def share(recipe, classes, seed):
    """Return the share of classes that name the first bench, and that name another."""
    rng, first, other = np.random.default_rng(seed), 0, 0
    for _ in range(classes):
        drawn = simulate(rng, recipe)
        (found,) = group_shifts(drawn.result, {"Bench": drawn.bench}, TITRE, reference=REFERENCE)
        names = {group.name for group in found.groups if group.shifted}
        first += 0 in names
        other += bool(names - {0})
    return first / classes, other / classes


@pytest.mark.slow
def test_few_clean_classes_name_a_bench():
    assert sum(share(Recipe(), 200, 1)) <= 0.02


@pytest.mark.slow
def test_most_classes_find_a_bench_four_per_cent_off():
    first, other = share(Recipe(bench=1.04), 100, 2)
    assert first >= 0.90
    assert other <= 0.02


@pytest.mark.slow
@pytest.mark.parametrize("technique", [0.08, 0.15, 0.22])
@pytest.mark.parametrize("gross", [0.0, 0.08, 0.15])
def test_scatter_and_gross_mistakes_do_not_shift_a_bench(technique, gross):
    assert sum(share(Recipe(technique=technique, gross=gross), 1000, 3)) <= 0.02


@pytest.mark.slow
@pytest.mark.parametrize("technique", [0.08, 0.15, 0.22])
@pytest.mark.parametrize("bench", [0.96, 1.04])
def test_a_bench_four_per_cent_off_is_found_whatever_the_scatter(technique, bench):
    first, other = share(Recipe(technique=technique, bench=bench), 1000, 4)
    assert first >= 0.90
    assert other <= 0.02


def test_balanced_components_are_those_of_the_textbook():
    # Two benches of two students of two runs, worked by hand: mean squares 32 (1), 4 (2) and 0.5 (4); so run 0.5,
    # student (4 − 0.5)/2 = 1.75, bench (32 − 4)/4 = 7.
    values = [0.5, -0.5, 2.5, 1.5, 4.5, 3.5, 6.5, 5.5]
    bench, student = [1, 1, 1, 1, 2, 2, 2, 2], ["a", "a", "b", "b", "c", "c", "d", "d"]
    found = variance_components(values, {"Bench": bench, "student": student})
    assert [part.level for part in found] == ["Bench", "student", "run"]
    assert [part.sd**2 for part in found] == pytest.approx([7.0, 1.75, 0.5])
    assert [part.dof for part in found] == [1, 2, 4]
    assert sum(part.share for part in found) == pytest.approx(1.0)


def test_the_interval_of_the_runs_is_chi_squared():
    # 4 degrees of freedom: 0.5 × 4/11.1433 and 0.5 × 4/0.484419 (points of chi-squared, scipy 1.17).
    values = [0.5, -0.5, 2.5, 1.5, 4.5, 3.5, 6.5, 5.5]
    run = variance_components(values, {"student": [1, 1, 2, 2, 3, 3, 4, 4]})[-1]
    assert run.low**2 == pytest.approx(0.5 * 4 / 11.1433, rel=1e-4)
    assert run.high**2 == pytest.approx(0.5 * 4 / 0.484419, rel=1e-4)


def test_bench_three_of_two_classes_is_two_benches():
    values = np.arange(16.0)
    found = variance_components(values, {"class": [1] * 8 + [2] * 8, "Bench": ["3", "3", "4", "4"] * 4})
    assert [part.units for part in found] == [2, 4, 16]


def test_a_level_that_splits_nothing_is_left_out():
    found = variance_components([1.0, 1.1, 2.0, 2.2], {"Bench": ["1"] * 4, "student": ["a", "a", "b", "b"]})
    assert [part.level for part in found] == ["student", "run"]
    assert variance_components([1.0], {"student": ["a"]}) == ()


def test_runs_without_a_label_are_left_out():
    found = variance_components([1.0, 1.1, 2.0, 2.2, 9.0], {"student": ["a", "a", "b", "b", None]})
    assert found[-1].units == 4


@pytest.mark.slow
def test_intervals_of_components_hold_the_truth():
    # 1000 classes of 6 benches of 4 students of 3 runs, a tenth of the runs missing; sd 0.5, 1.0, 0.3.
    rng, inside = np.random.default_rng(8), np.zeros(3)
    bench, student = np.repeat(np.arange(6), 12), np.repeat(np.arange(24), 3)
    for _ in range(1000):
        values = rng.normal(0, 0.5, 6)[bench] + rng.normal(0, 1, 24)[student] + rng.normal(0, 0.3, 72)
        kept = rng.random(72) < 0.9
        found = variance_components(values[kept], {"Bench": bench[kept], "student": student[kept]})
        inside += [part.low <= truth <= part.high for part, truth in zip(found, (0.5, 1.0, 0.3), strict=True)]
    assert np.all((inside / 1000 >= 0.93) & (inside / 1000 <= 0.98))
