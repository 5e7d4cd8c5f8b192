"""Faults at the bench, found in readings of invented students.

What is ordinary and what is not: common practice, no source.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labmark.diagnose.bench import BenchDiagnosis, BenchSetting, RunMatrix, diagnose_bench
from labmark.diagnose.bench_claims import SHARPER, SHARPER_OF_FEW, stated
from labmark.diagnose.hypotheses import BY_NAME, RUN_HYPOTHESES, STUDENT_HYPOTHESES
from tests.build import run_matrix
from tests.seeds import few_quick

NAMES = [hypothesis.name for hypothesis in STUDENT_HYPOTHESES]
EXPECTED = 24.35
CLASS = [
    [(0.00, 24.95), (0.00, 24.30), (0.00, 24.35), (0.00, 24.30)],
    [(0.00, 25.10), (0.00, 24.45), (0.00, 24.50), (0.00, 24.40)],
    [(0.30, 24.85), (0.15, 24.40), (1.10, 25.40), (0.65, 24.95)],
    [(0.00, 25.30), (0.00, 24.40), (0.00, 24.35), (0.00, 24.40)],
    [(1.20, 26.40), (0.85, 25.15), (2.05, 26.25), (0.40, 24.70)],
    [(0.00, 24.60), (0.00, 24.20), (0.00, 24.20), (0.00, 24.25)],
    [(0.05, 25.40), (0.00, 24.45), (0.10, 24.50), (0.00, 24.40)],
    [(0.00, 25.20), (0.50, 24.80), (0.25, 24.60), (1.15, 25.45)],
    [(0.45, 25.30), (0.00, 24.30), (0.00, 24.40), (0.00, 24.35)],
    [(0.00, 24.90), (0.00, 24.35), (0.00, 24.25), (0.00, 24.30)],
]
"""Ten ordinary students: rough, then three accurate runs, initial and final reading [cm³]."""


def matrix(*students: list[tuple[float, float]], expected: float | None = EXPECTED) -> RunMatrix:
    """Return these students, followed by the class."""
    rows = [*students, *CLASS]
    wide = max(map(len, rows))
    padded = [row + [(0.0, 0.0)] * (wide - len(row)) for row in rows]
    volumes = np.round(np.array(padded) * 1000).astype(np.int64)
    here = np.array([[place < len(row) for place in range(wide)] for row in rows])
    runs = run_matrix(volumes[..., 0], volumes[..., 1], usable=here, expected=expected)
    return dataclasses.replace(runs, present=here)


def claimed(found: BenchDiagnosis, student: int = 0) -> list[tuple[int | None, str]]:
    return [(claim.run, claim.finding) for claim in found.claims if claim.student == student]


SPECIFICATION = [
    ("nothing", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 24.35)], []),
    ("a rough far past the endpoint is no fault", [(0, 26.05), (0, 24.35), (0, 24.40), (0, 24.35)], []),
    ("a rough that stopped at the endpoint is no fault", [(0, 24.35), (0, 24.35), (0, 24.40), (0, 24.35)], []),
    ("a run 0.10 from the others is ordinary", [(0, 24.95), (0, 24.35), (0, 24.45), (0, 24.35)], []),
    ("a run 0.20 from the others may be one", [(0, 24.95), (0, 24.35), (0, 24.35), (0, 24.35), (0, 24.55)], []),
    ("a little high throughout is ordinary", [(0, 24.95), (0, 24.55), (0, 24.50), (0, 24.50)], []),
    ("second run 0.40 past", [(0, 24.95), (0, 24.35), (0, 24.77), (0, 24.35)], [(2, "overshoot")]),
    ("third run 0.45 short", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 23.90)], [(3, "undershoot")]),
    ("final reading one too many", [(0, 24.95), (0, 24.35), (0, 25.35), (0, 24.40)], [(2, "misread-division")]),
    ("initial one too many", [(0, 24.95), (1.15, 24.50), (0.20, 24.55), (0.30, 24.65)], [(1, "misread-division")]),
    ("final reading ten too many", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 34.35)], [(3, "misread-division")]),
    ("ten too many but for 0.20", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 34.20)], [(3, "implausible-titre")]),
    (
        "final reading mirrored: 24.30 written as 25.70",  # taken from the mark below
        [(0.9, 25.7), (0.25, 24.60), (0.35, 24.70), (0.40, 24.05)],
        [(3, "read-upside-down")],
    ),
    (
        "every reading mirrored",
        [(1.70, 26.80), (0.70, 24.35), (0.45, 24.05), (1.90, 25.50), (0.15, 25.80)],
        [(run, "read-upside-down") for run in range(5)],
    ),
    (
        "units and tenths swapped: 20.55 for 25.05",
        [(0, 24.95), (0, 24.35), (0, 24.40), (0.65, 20.55)],
        [(3, "digits-swapped")],
    ),
    ("tens and units swapped", [(0, 24.95), (0, 24.35), (0, 42.35), (0, 24.40)], [(2, "digits-swapped")]),
    (
        "initial digits swapped: 2.15 for 1.25",
        [(0, 24.95), (2.15, 25.60), (0, 24.40), (0, 24.35)],
        [(1, "digits-swapped")],
    ),
    ("a run broken off", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 7.15)], [(3, "implausible-titre")]),
    (
        "far above, together, for no reason",
        [(0, 34.0), (0, 33.20), (0, 33.25), (0, 33.20)],
        [(run, "implausible-titre") for run in (1, 2, 3)],
    ),
    ("half a cm³ past every time", [(0, 25.45), (0, 24.90), (0, 24.85), (0, 24.90)], [(None, "always-overshoots")]),
    ("half a cm³ short every time", [(0, 24.35), (0, 23.85), (0, 23.80), (0, 23.85)], [(None, "always-short")]),
    ("a little low throughout is ordinary", [(0, 24.95), (0, 24.15), (0, 24.20), (0, 24.20)], []),
    ("six per cent high", [(0, 26.60), (0, 25.85), (0, 25.80), (0, 25.85)], [(None, "diluted-titrant")]),
    ("high, and less each time", [(0, 26.90), (0, 25.70), (0, 25.05), (0, 24.65)], [(None, "diluted-titrant")]),
    ("two filling levels", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 25.15), (0, 25.10)], [(None, "level-change")]),
    (
        "the first three elsewhere",
        [(0, 24.4), (0, 23.70), (0, 23.75), (0, 23.70), (0, 24.40), (0, 24.35)],
        [(None, "level-change")],
    ),
    ("one alone apart is no group", [(0, 24.95), (0, 24.35), (0, 24.40), (0, 24.35), (0, 24.85)], [(4, "overshoot")]),
    (
        "coming to and fro",
        [(0, 24.95), (0, 24.35), (0, 24.85), (0, 24.40), (0, 24.80)],
        [(2, "overshoot"), (4, "overshoot")],
    ),
    ("a 20 cm³ pipette", [(0, 19.95), (0, 19.50), (0, 19.45), (0, 19.50)], [(None, "wrong-aliquot")]),
    ("a 10 cm³ pipette", [(0, 10.15), (0, 9.75), (0, 9.80), (0, 9.75)], [(None, "wrong-aliquot")]),
    (
        "a 20 cm³ pipette and one run past the endpoint",
        [(0, 19.95), (0, 19.50), (0, 19.92), (0, 19.50)],
        [(None, "wrong-aliquot"), (2, "overshoot")],
    ),
    (
        "burette not refilled, and 0.00 written",
        [(0, 24.90), (0, 24.35), (0, 48.75), (0, 24.40)],
        [(2, "implausible-titre")],
    ),
]


@pytest.mark.parametrize(
    ("readings", "wanted"), few_quick([row[1:] for row in SPECIFICATION], 8), ids=[row[0] for row in SPECIFICATION]
)
def test_what_is_claimed_of_which_readings(readings, wanted):
    assert claimed(diagnose_bench(matrix(readings))) == wanted


WASHED_OUT = [(2.60, 27.15), (1.20, 28.35), (2.00, 27.60), (1.70, 26.80), (2.15, 26.75)]
"""A burette wet with water that each refill washes out: 27.15, 25.60, 25.10 and 24.60 after the rough."""


def test_titres_that_come_down_by_a_like_share_from_run_to_run_are_one_weakened_titrant():
    assert claimed(diagnose_bench(matrix(WASHED_OUT))) == [(None, "diluted-titrant")]


def test_one_high_first_titre_is_no_weakened_titrant():
    """It would have had to lose all of its water at once."""
    found = claimed(diagnose_bench(matrix([(0, 24.95), (0, 26.60), (0, 24.35), (0, 24.30)])))
    assert found == [(1, "implausible-titre")]


@pytest.mark.parametrize(
    ("readings", "finding"),
    [
        ([(0, 24.45), (0, 9.75), (0, 9.70), (0, 9.75)], "wrong-aliquot"),
        ([(0, 24.25), (0, 27.20), (0, 27.20), (0, 27.15)], "diluted-titrant"),
    ],
    ids=["another pipette later on", "weak titrant later on"],
)
def test_a_rough_where_it_was_expected_is_no_fault_whatever_spoilt_the_other_runs(readings, finding):
    assert claimed(diagnose_bench(matrix(readings))) == [(None, finding)]


def test_final_readings_upside_down_in_all_runs_are_noticed():
    """Titres of 24.40, 24.40, 24.30 and 24.35 from anywhere; the initial readings are right."""
    runs = [(1.25, 26.05), (0.95, 25.65), (1.45, 25.15), (1.10, 25.60), (2.60, 26.05)]
    found = claimed(diagnose_bench(matrix(runs)))
    assert [run for run, finding in found if finding == "read-upside-down"] == [1, 2, 3, 4]
    assert {finding for run, finding in found if run} == {"read-upside-down"}


def test_a_reading_that_is_the_same_either_way_is_not_blamed():
    found = diagnose_bench(matrix([(0, 25.00), (0, 24.65), (0, 24.70), (0, 24.65)], expected=24.32))
    assert (0, "read-upside-down") not in claimed(found)


def test_the_ordinary_class_is_left_alone():
    assert diagnose_bench(matrix()).claims == []


def test_a_single_mishap_comes_with_its_figures():
    found = diagnose_bench(matrix([(0, 24.95), (0, 24.35), (0, 24.77), (0, 24.35)]))
    evidence = found.claims[0].evidence
    assert evidence["above_own_others"] == pytest.approx(0.42)
    assert evidence["expected"] == 24.35
    assert "leaking tap" in evidence["looks_the_same"]
    assert found.claims[0].probability > 0.8


def test_odds_are_stated_surer_than_the_posteriors_by_their_power_and_add_up():
    # By hand: 0.70, 0.20 and what is left of 1, each to the power of 1.45, over their sum; of 1.69 in a class of few.
    assert stated(np.array([0.7, 0.2]), SHARPER) == pytest.approx([0.8183, 0.1330, 0.0487], abs=1e-4)
    assert stated(np.array([0.7, 0.2]), SHARPER_OF_FEW) == pytest.approx([0.8638, 0.1040, 0.0322], abs=1e-4)
    assert stated(np.array([0.5, 0.0]), SHARPER) == pytest.approx([0.5, 0.0, 0.5])
    assert stated(np.array([1.0 + 1e-12]), SHARPER) == pytest.approx([1.0, 0.0])


def test_of_one_run_alone_read_upside_down_the_posterior_is_stated():
    found = diagnose_bench(matrix([(0.9, 25.7), (0.25, 24.60), (0.35, 24.70), (0.40, 24.05)]))
    upside_down = [each.finding == "read-upside-down" for each in RUN_HYPOTHESES]
    assert claimed(found) == [(3, "read-upside-down")]
    assert found.claims[0].probability == pytest.approx(found.run_posterior[0, 3, upside_down].sum())


def test_where_every_run_is_out_alike_a_weak_titrant_keeps_one_tenth_of_the_odds():
    for too_much in (0.45, 0.50, 0.60):
        claim = diagnose_bench(matrix([(0, EXPECTED + too_much)] * 4)).claims[0]
        weak = {other["finding"]: other["probability"] for other in claim.evidence["or"]}["diluted-titrant"]
        assert claim.finding == "always-overshoots"
        assert claim.probability < 0.9
        assert weak >= 0.1 * (claim.probability + weak) - 0.001
    # No weak titrant brings titres that are out by volumes of their own, as a leaking tap does.
    assert diagnose_bench(matrix([(0, 24.65), (0, 25.05), (0, 24.85), (0, 25.25)])).claims[0].probability > 0.95


def test_only_causes_that_bring_a_titre_as_far_out_are_named():
    # A tap leaks 0.80 cm³ at most, and a funnel loses drops.
    high, low = (
        diagnose_bench(matrix([(0, 25.15), (0, 24.35), (0, 24.40), (0, last)])).claims[0].evidence["looks_the_same"]
        for last in (25.85, 23.60)
    )
    assert high == ("solution from another bottle, higher titre",)
    assert low == ("solution from another bottle, lower titre",)


def test_an_air_bubble_comes_first_where_the_first_run_alone_is_high():
    found = diagnose_bench(matrix([(0, 25.15), (0, 24.80), (0, 24.35), (0, 24.35), (0, 24.40)]))
    assert found.claims[0].evidence["looks_the_same"][0] == "air bubble in the jet"


@pytest.mark.parametrize(
    ("readings", "run", "likely", "mean"),
    [
        ([(0, 24.95), (0, 24.35), (0, 25.35), (0, 24.40)], 2, 24350, 24.3667),
        ([(0, 24.95), (0, 24.35), (0, 24.40), (0, 14.35)], 3, 24350, 24.3667),
        ([(1.7, 26.8), (0.70, 24.35), (0.45, 24.05), (1.90, 25.50), (0.15, 25.80)], 1, 24350, 24.375),
        ([(0, 24.90), (0, 24.35), (0, 48.75), (0, 24.40)], 2, 24400, 24.3833),
    ],
    ids=["one too many", "ten too few", "all mirrored", "not refilled"],
)  # fmt: skip
def test_the_likely_titre_of_a_misreading_and_the_mean_it_leads_to(readings, run, likely, mean):
    found = diagnose_bench(matrix(readings))
    evidence = next(claim.evidence for claim in found.claims if claim.student == 0 and claim.run == run)
    assert found.likely[0, run] == likely
    assert (evidence["likely_titre"], evidence["mean_if_so"]) == (likely / 1000, pytest.approx(mean, abs=1e-4))


def test_what_may_have_happened_to_a_rough_adds_up_to_no_more_than_all():
    volumes = 50 * np.array([[(0, 0), (178, 593), (171, 962)], [(180, 653), (0, 0), (0, 665)]])
    runs = run_matrix(volumes[..., 0], volumes[..., 1])
    found = diagnose_bench(dataclasses.replace(runs, usable=runs.titre > 0))
    assert found.run_posterior.sum(axis=2).max() <= 1


def test_a_misread_rough_is_out_by_ten_and_stays_past_the_endpoint():
    found = diagnose_bench(matrix([(0, 15.05), (0, 24.35), (0, 24.40), (0, 24.35)]), BenchSetting())
    assert found.likely[0, 0] == 25_050


def test_a_habit_that_is_no_likelier_than_not_touches_only_the_run_that_is_odd():
    # All mirrored, they would be 22.15, 20.05, 21.00 and 20.85; but 20.95 and 21.00 are what the class has.
    rows = [[(a, round(b - 3.5, 2)) for a, b in row] for row in CLASS]
    volumes = np.round(np.array([[(0, 22.85), (0, 20.95), (0, 21.00), (0, 20.15)], *rows]) * 1000).astype(np.int64)
    found = diagnose_bench(run_matrix(volumes[..., 0], volumes[..., 1], expected=20.86))
    habit = found.student_posterior[0, NAMES.index("reads the scale upside down")]
    assert 0.05 < habit < 0.5
    assert [run for run, _ in claimed(found)] == [3]


def test_swapped_digits_are_named_with_what_may_have_been_meant():
    found = diagnose_bench(matrix([(0, 24.95), (0, 24.35), (0, 24.40), (0.65, 20.55)]))
    (claim,) = [claim for claim in found.claims if claim.student == 0]
    wanted = {"reading": "final", "written": 20.55, "meant": 25.05, "likely_titre": 24.4}
    assert {key: claim.evidence[key] for key in wanted} == wanted


def test_a_shortfall_that_swapped_digits_happen_to_explain_stays_a_shortfall_with_both_named():
    found = diagnose_bench(matrix([(0, 24.95), (0, 24.50), (0, 24.05), (0, 24.50)]))
    (claim,) = [claim for claim in found.claims if claim.student == 0]
    assert claim.finding == "undershoot"
    assert "digits-swapped" in {other["finding"] for other in claim.evidence["or"]}


def test_a_run_broken_off_where_no_exchange_of_digits_leads_stays_implausible():
    assert claimed(diagnose_bench(matrix([(0, 24.95), (0, 24.35), (0, 24.40), (0, 20.05)]))) == [
        (3, "implausible-titre")
    ]


def test_nothing_likely_is_offered_for_a_run_that_was_not_misread():
    found = diagnose_bench(matrix([(0, 24.95), (0, 24.35), (0, 24.77), (0, 24.35)]))
    assert (found.likely == -1).all()


def test_always_past_the_endpoint_and_a_weak_titrant_are_named_together():
    found = diagnose_bench(matrix([(0, 25.75), (0, 25.10), (0, 25.15), (0, 25.10)]))
    claim = found.claims[0]
    named = {claim.finding, *(other["finding"] for other in claim.evidence["or"])}
    assert {"always-overshoots", "diluted-titrant"} <= named


def test_always_past_the_endpoint_names_a_leak_a_rinsed_flask_and_another_eye_for_the_colour():
    found = diagnose_bench(matrix([(0, 25.45), (0, 24.90), (0, 24.85), (0, 24.90)]))
    named = {BY_NAME[name].beside for name in found.claims[0].evidence["looks_the_same"]}
    assert named == {"a leaking tap", "a flask rinsed with the solution", "another eye for the colour"}


def test_in_a_back_titration_no_rinsed_flask_explains_titres_that_are_high():
    found = diagnose_bench(matrix([(0, 25.45), (0, 24.90), (0, 24.85), (0, 24.90)]), BACK)
    assert "flask rinsed with the solution" not in found.claims[0].evidence["looks_the_same"]
    low = diagnose_bench(matrix([(0, 24.15), (0, 23.60), (0, 23.65), (0, 23.60)]), BACK)
    assert low.claims[0].evidence["looks_the_same"] == ("flask rinsed with the solution",)


def test_always_short_names_the_wet_pipette_that_titres_cannot_tell_from_it():
    found = diagnose_bench(matrix([(0, 24.35), (0, 23.85), (0, 23.80), (0, 23.85)]))
    assert found.claims[0].evidence["looks_the_same"] == ("pipette wet with water",)


def test_no_reference_no_difference_where_the_class_agrees():
    readings = [(0, 24.95), (0, 24.90), (0, 24.85), (0, 24.90)]
    with_one, without = (diagnose_bench(matrix(readings, expected=e)) for e in (EXPECTED, None))
    assert claimed(with_one) == claimed(without) == [(None, "always-overshoots")]


@pytest.mark.parametrize("doubtful", [True, False])
def test_a_wrong_reference_accuses_nobody(doubtful):
    found = diagnose_bench(matrix(expected=EXPECTED * 0.98), BenchSetting(reference_doubtful=doubtful))
    assert found.claims == []


def test_a_class_that_all_stops_a_drop_late_is_not_a_class_of_culprits():
    late = [[(a, round(b + 0.10, 2)) for a, b in row] for row in CLASS]
    assert diagnose_bench(matrix(*late)).claims == []


def test_shaky_work_has_no_single_culprit():
    found = diagnose_bench(matrix([(0, 24.9), (0, 24.20), (0, 24.50), (0, 24.35), (0, 24.05)]))
    assert claimed(found) == []
    assert found.student_posterior[0, NAMES.index("scattered work")] > 0.05


def test_runs_that_cannot_be_judged_are_left_out():
    runs = matrix([(0, 24.95), (0, 24.35), (0, 24.40), (0, 7.15)])
    usable = runs.usable.copy()
    usable[0, 3] = False
    assert claimed(diagnose_bench(dataclasses.replace(runs, usable=usable))) == []


@pytest.mark.parametrize("kept", [[0], []], ids=["only a rough", "nothing"])
def test_a_student_without_an_accurate_run_gets_no_claim(kept):
    runs = matrix([(0, 34.95), (0, 24.35), (0, 24.40), (0, 7.15)])
    usable = runs.usable.copy()
    usable[0] = [run in kept for run in range(usable.shape[1])]
    found = diagnose_bench(dataclasses.replace(runs, usable=usable))
    assert claimed(found) == []
    assert np.isnan(found.level[0])


def test_a_class_without_any_run_is_no_error():
    runs = dataclasses.replace(matrix(), usable=np.zeros((len(CLASS), 4), dtype=bool))
    assert diagnose_bench(runs).claims == []


def test_a_single_student_is_held_against_the_reference():
    runs = run_matrix([[0, 0, 0, 0]], [[20200, 19500, 19450, 19500]], expected=EXPECTED)
    assert claimed(diagnose_bench(runs)) == [(None, "wrong-aliquot")]


def test_a_weighed_sample_knows_no_other_pipette():
    found = diagnose_bench(matrix([(0, 19.95), (0, 19.50), (0, 19.45), (0, 19.50)]), BenchSetting(aliquot=None))
    assert "wrong-aliquot" not in {finding for _, finding in claimed(found)}


BACK = BenchSetting(blank_titre=40.0)


@pytest.mark.parametrize(
    ("readings", "finding"),
    [
        # 40.00 − (40.00 − 24.35) × 20/25 = 27.48; in proportion to the titre alone it would be 19.48.
        ([(0, 28.00), (0, 27.50), (0, 27.45), (0, 27.50)], [(None, "wrong-aliquot")]),
        ([(0, 26.60), (0, 25.85), (0, 25.80), (0, 25.85)], [(None, "diluted-titrant")]),
        ([(0, 24.15), (0, 23.60), (0, 23.65), (0, 23.60)], [(None, "always-short")]),
    ],
    ids=["a 20 cm³ pipette for the sample", "titrant six per cent weak", "flasks rinsed with the sample"],
)
def test_a_back_titration_turns_what_the_sample_does_the_other_way_round(readings, finding):
    assert claimed(diagnose_bench(matrix(readings), BACK)) == finding


def test_the_pipette_that_fits_a_back_titration_is_named():
    found = diagnose_bench(matrix([(0, 28.00), (0, 27.50), (0, 27.45), (0, 27.50)]), BACK)
    assert found.claims[0].evidence["pipette"] == pytest.approx(20.0, abs=0.1)


def test_a_wet_pipette_raises_the_titre_of_a_back_titration():
    titres = [(0, 25.20), (0, 24.95), (0, 24.90), (0, 24.95)]
    wet = "pipette wet with water"
    direct, back = (diagnose_bench(matrix(titres), setting) for setting in (BenchSetting(), BACK))
    place = NAMES.index(wet)
    assert back.student_posterior[0, place] > 0.02 > direct.student_posterior[0, place]


def test_posteriors_add_up_to_one():
    found = diagnose_bench(matrix(*(row[1] for row in SPECIFICATION)))
    assert found.student_posterior.sum(axis=1) == pytest.approx(np.ones(len(found.level)))
    assert (found.run_posterior >= 0).all()
    assert (found.run_posterior.sum(axis=2) <= 1 + 1e-9).all()
    assert all(0 < claim.probability <= 1 + 1e-9 for claim in found.claims)


@pytest.mark.slow
def test_the_same_readings_give_the_same_figures_to_the_last_bit():
    runs = matrix(*(row[1] for row in SPECIFICATION))
    first, second = diagnose_bench(runs), diagnose_bench(runs)
    assert first.claims == second.claims
    assert (first.run_posterior == second.run_posterior).all()


@pytest.mark.slow
@given(st.permutations(range(len(SPECIFICATION))))
@settings(max_examples=5)
def test_the_order_of_the_students_does_not_matter(order):
    rows = [SPECIFICATION[place][1] for place in order]
    moved, straight = diagnose_bench(matrix(*rows)), diagnose_bench(matrix(*(row[1] for row in SPECIFICATION)))
    for place, original in enumerate(order):
        assert claimed(moved, place) == claimed(straight, original)


@pytest.mark.slow
def test_a_large_class_is_looked_at_part_by_part_with_the_same_outcome():
    runs = matrix([(0, 24.95), (0, 24.35), (0, 24.77), (0, 24.35)])
    many = runs.rows(np.tile(np.arange(len(CLASS) + 1), 60))
    found = diagnose_bench(many)
    assert [claim.student for claim in found.claims] == list(range(0, 60 * (len(CLASS) + 1), len(CLASS) + 1))


@pytest.mark.parametrize(
    ("reading", "finding"), [(35.15, "misread-division"), (25.85, "read-upside-down"), (21.55, "digits-swapped")]
)
def test_a_misreading_is_known_where_titres_are_turned_to_the_mass_of_another_run(reading, finding):
    # Nine tenths of the usual sample: 25.15 - 3.25 = 21.90 cm³ on the burette is 24.33 cm³ with all of it.
    runs = matrix([(0, 24.95), (0, 24.35), (3.25, reading), (0, 24.35)])
    titre = runs.titre.copy()
    titre[0, 2] = np.rint(titre[0, 2] / 0.9)
    found = diagnose_bench(dataclasses.replace(runs, titre=titre))
    assert claimed(found) == [(2, finding)]
    # As far from the titre as the reading is out.
    assert found.likely[0, 2] - titre[0, 2] == round(25_150 - reading * 1000)


@pytest.mark.parametrize(("reading", "finding"), [(24.35, "implausible-titre"), (24.10, "overshoot")])
def test_a_titre_that_is_that_of_another_sample_is_no_overshoot(reading, finding):
    # The third run has a smaller sample: 24.35 cm³, as of the second, would have been 25.10 cm³ with the usual one.
    runs = matrix([(0, 24.95), (0, 24.35), (0, reading), (0, 24.45)])
    titre = runs.titre.copy()
    titre[0, 2] = np.rint(titre[0, 2] / 0.97)
    assert claimed(diagnose_bench(dataclasses.replace(runs, titre=titre))) == [(2, finding)]


def test_readings_are_not_changed():
    runs = matrix(*(row[1] for row in SPECIFICATION))
    before = [getattr(runs, field.name).copy() for field in dataclasses.fields(runs)]
    diagnose_bench(runs)
    for field, was in zip(dataclasses.fields(runs), before, strict=True):
        assert np.array_equal(getattr(runs, field.name), was, equal_nan=field.name.startswith("expected")), field.name


readings_of_any_kind = st.lists(
    st.lists(st.tuples(st.integers(0, 1100), st.integers(0, 1100)), min_size=3, max_size=3), min_size=1, max_size=6
)


expected_of_any_kind = st.sampled_from([None, 24.35, 0.0, -3.0, float("inf"), 900.0])


@pytest.mark.slow
@given(readings_of_any_kind, expected_of_any_kind, st.sampled_from([50.0, 10.0]))
def test_whatever_stands_in_the_sheet_the_odds_are_odds(rows, expected, capacity):
    volumes = np.array(rows, dtype=np.int64) * 50
    runs = run_matrix(volumes[..., 0], volumes[..., 1], expected=expected)
    runs = dataclasses.replace(runs, usable=runs.titre > 0)
    found = diagnose_bench(runs, BenchSetting(capacity=capacity))
    assert np.isfinite(found.student_posterior).all()
    assert ((found.run_posterior >= 0) & (found.run_posterior <= 1 + 1e-9)).all()
    judged = runs.accurate.any(axis=1)
    assert found.student_posterior.sum(axis=1)[judged] == pytest.approx(np.ones(judged.sum()))
    assert all(0 < claim.probability <= 1 + 1e-9 for claim in found.claims)


def test_readings_that_were_hardly_taken_give_no_odds_above_one():
    rows = [[(0, 0)] * 3] * 5 + [[(0, 203), (0, 1), (0, 1)]]
    volumes = np.array(rows, dtype=np.int64) * 50
    runs = run_matrix(volumes[..., 0], volumes[..., 1], expected=24.35)
    found = diagnose_bench(dataclasses.replace(runs, usable=runs.titre > 0), BenchSetting(capacity=50.0))
    assert found.run_posterior.max() <= 1 + 1e-9
    assert found.run_posterior.sum(axis=2).max() <= 1 + 1e-9


@pytest.mark.parametrize("shape", [(0, 4), (3, 0), (1, 1)])
def test_empty_or_tiny_classes_are_no_error(shape):
    assert diagnose_bench(run_matrix(np.zeros(shape), np.zeros(shape))).claims == []


def test_a_microburette_is_judged_by_its_own_division():
    rows = [[round((b - a) / 10, 3) for a, b in row] for row in CLASS]
    finals = np.round(np.array([[2.49, 2.43, 2.435, 2.43], *rows]) * 1000).astype(np.int64)
    runs = run_matrix(np.zeros_like(finals), finals, expected=2.435)
    assert diagnose_bench(runs, BenchSetting(capacity=10.0, division=0.02, aliquot=10.0)).claims == []
