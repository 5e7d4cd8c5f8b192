"""Readings shared with another student: put to the teacher as a question, and never said to a student."""

from labmark.judge.bench import alike_findings as alike_in
from tests.build import run, student

ONE = ("1.35 26.10", "2.20 26.55", "0.75 25.15")


def someone(number, name, *readings):
    import dataclasses

    labels = ("Rough", "1", "2", "3")
    runs = [
        run(label, each, cells={"initial": f"{name}{label}"}) for label, each in zip(labels, readings, strict=False)
    ]
    return dataclasses.replace(student(*runs), number=number, name=name)


def alike_findings(students):
    return alike_in(students, 50_000)


OTHERS = [
    someone(3, "C", "0.00 25.05", "0.00 24.40", "0.10 24.45"),
    someone(4, "D", "3.10 28.00", "1.05 25.35", "0.40 24.80"),
    someone(5, "E", "0.25 25.30", "0.65 25.10", "2.85 27.20"),
]


def test_both_students_are_named_to_the_teacher_with_the_question():
    found = list(alike_findings([someone(1, "A", *ONE), someone(2, "B", *ONE), *OTHERS]))
    assert [place for place, _ in found] == [0, 1]
    assert found[0][1].evidence["with"] == ["B"]
    assert found[0][1].message.startswith(
        "The readings in the rough and runs 1 and 2 are the same as those of B; the odds against chance"
    )
    assert found[0][1].message.endswith("?")
    assert found[0][1].cells == ("ARough", "A1", "A2")


def test_a_shared_titre_or_a_start_at_zero_is_no_question():
    alike = [
        someone(1, "A", "0.00 25.00", "0.00 24.35", "0.00 24.40"),
        someone(2, "B", "0.00 24.90", "0.00 24.35", "0.00 24.40"),
    ]
    assert not list(alike_findings([*alike, *OTHERS]))


def test_a_shared_habit_of_swapping_initial_and_final_is_no_likeness():
    """A reading of 24.35 at the beginning is as common as an end there, once the two columns are swapped."""
    swapped = [
        someone(1, "A", "25.00 0.00", "24.35 0.00", "24.40 0.00"),
        someone(2, "B", "24.90 0.00", "24.35 0.00", "24.40 0.00"),
    ]
    assert not list(alike_findings([*swapped, *OTHERS]))


def test_a_burette_that_counts_down_is_full_as_often_as_others_are_at_zero():
    """Both found 21.80, 20.95, 21.00 and 21.00; nobody else counts down."""
    down = [
        someone(1, "A", "50.00 28.20", "50.00 29.05", "50.00 29.00", "50.00 29.00"),
        someone(2, "B", "50.00 28.25", "50.00 29.05", "50.00 29.00", "50.00 29.00"),
    ]
    assert not list(alike_findings([*down, *OTHERS]))


def test_readings_that_were_copied_from_a_burette_that_counts_down_are_noticed():
    downwards = ["49.65 23.95", "49.80 25.45", "49.35 24.95"]
    found = list(alike_findings([someone(1, "A", *downwards), someone(2, "B", *downwards), *OTHERS]))
    assert [place for place, _ in found] == [0, 1]


def test_readings_that_were_copied_and_swapped_are_still_the_same():
    turned = [" ".join(reversed(each.split())) for each in ONE]
    found = list(alike_findings([someone(1, "A", *ONE), someone(2, "B", *turned), *OTHERS]))
    assert [place for place, _ in found] == [0, 1]


def test_readings_that_cannot_be_compared_are_left_out():
    assert not list(
        alike_findings([someone(1, "A", "0.00 -", "- 24.40", "0.00 -"), someone(2, "B", "0.00 -", "- 24.40", "0.00 -")])
    )


def test_a_larger_ring_is_no_safer():
    own = [
        someone(
            10 + place,
            f"O{place}",
            f"{place / 4:.2f} {25.35 + place / 4:.2f}",
            f"0.{place}5 {24.45 + place / 10:.2f}",
            f"1.{place}0 25.{place}5",
        )
        for place in range(8)
    ]
    ring = [someone(place, f"R{place}", "3.15 28.50", "0.65 24.95", "1.90 26.25") for place in range(6)]
    assert {place for place, _ in alike_findings([*ring, *own])} == set(range(6))
