"""The catalogue of findings: code, how it is called and how urgent it is, and what to do next time.

A finding is a hypothesis with its evidence. The level says what it asks for: a `note` asks for nothing, a `check`
asks the teacher to look, a `fault` is plain from the student's own figures.
"""

from __future__ import annotations

from typing import NamedTuple

from labmark.records import Level


class Kind(NamedTuple):
    """One kind of finding."""

    code: str
    level: Level
    """The usual level; a finding may carry a milder one where less can be known."""
    title: str
    """A few words for tables and headings."""
    urgency: int
    """How much it asks for a human eye: higher first in the teacher's list."""
    advice: str = ""
    """What the student can do next time; empty where it is nothing to the student, and for a fault at the bench: advice
    on that stands in the table of hypotheses, `diagnose/hypotheses.toml`."""
    private: bool = False
    """For the teacher only: never on a student's sheet."""


OF_A_RUN = (
    Kind(
        "missing-reading",
        "check",
        "Reading missing",
        6,
        "Write down both burette readings before you do anything else: without them there is no titre.",
    ),
    Kind("not-a-number", "check", "Not a number", 7, "Write a reading in figures only, with two decimals."),
    Kind(
        "off-scale",
        "check",
        "Off the scale",
        7,
        "Check each reading against the scale of the burette: it cannot be beyond the last mark.",
    ),
    Kind(
        "reversed-readings",
        "check",
        "Readings swapped",
        3,
        "The final reading is the larger one: the numbers on a burette go up from top to bottom.",
    ),
    Kind(
        "subtraction-slip",
        "fault",
        "Slip in the subtraction",
        3,
        "Check a titre by adding it to the initial reading: the sum must be the final reading.",
    ),
    Kind(
        "coarse-reading",
        "fault",
        "Reading not to half a division",
        1,
        "See whether the level is on a mark or between two, no finer, and always write two decimals, even if the last "
        "is 0.",
    ),
    Kind(
        "not-concordant",
        "note",
        "Not concordant",
        0,
        "Leave a titre that does not agree with the others out of the mean.",
    ),
    Kind("implausible-titre", "check", "Implausible titre", 8),
    Kind("overshoot", "check", "Past the endpoint", 2),
    Kind("undershoot", "check", "Short of the endpoint", 2),
    Kind("misread-division", "check", "Reading out by whole cm³", 5),
    Kind("read-upside-down", "check", "Scale read the wrong way", 5),
    Kind("digits-swapped", "check", "Two digits swapped", 5),
    Kind("refilled", "note", "Burette refilled", 1),
)
"""About a run."""

OF_A_STUDENT = (
    Kind("no-concordant-runs", "check", "No concordant runs", 6, "Keep doing runs until enough of them agree."),
    Kind("too-few-runs", "check", "Too few runs", 5, "Plan your time so that you can do at least one more run."),
    Kind(
        "rough-in-mean",
        "fault",
        "Rough in the mean",
        3,
        "The rough only tells you about where the endpoint is: leave it out of the mean.",
    ),
    Kind(
        "discordant-in-mean",
        "fault",
        "Discordant run in the mean",
        3,
        "Take the mean of the runs that agree, and of no others.",
    ),
    Kind(
        "mean-slip",
        "fault",
        "Slip in the mean",
        3,
        "Check your mean: it must lie between the smallest and the largest titre that went into it.",
    ),
    Kind("level-change", "check", "Two groups of runs", 5),
    Kind("always-overshoots", "check", "Always past the endpoint", 4),
    Kind("always-short", "check", "Always short of the endpoint", 4),
    Kind("diluted-titrant", "check", "Titrant weakened", 5),
    Kind("wrong-aliquot", "check", "Different pipette volume", 6),
    Kind(
        "ratio-ignored", "fault", "Mole ratio left out", 4, "Write the equation first, and take the mole ratio from it."
    ),
    Kind(
        "ratio-inverted",
        "fault",
        "Mole ratio upside down",
        4,
        "Ask which of the two substances there must be more moles of, and check that your answer agrees.",
    ),
    Kind(
        "volume-units",
        "fault",
        "cm³ and dm³ mixed up",
        4,
        "Divide cm³ by 1000 to get dm³ before you multiply by a concentration in mol/dm³.",
    ),
    Kind(
        "volumes-swapped",
        "fault",
        "Volumes swapped",
        4,
        "Label each volume with the name of its solution before you put it into the calculation.",
    ),
    Kind(
        "dilution-ignored",
        "fault",
        "Dilution or portion",
        4,
        "At the end, ask which solution the question is about: the diluted one or the original.",
    ),
    Kind(
        "difference-forgotten",
        "fault",
        "Difference not taken",
        4,
        "Write down what is to be taken from what, and take the difference before you go on.",
    ),
    Kind(
        "rough-in-result",
        "fault",
        "Result from the rough",
        4,
        "Use the mean of the titres that agree in your calculation.",
    ),
    Kind(
        "rounding",
        "check",
        "Rounding",
        1,
        "Keep all the figures on your calculator until the end, then round once, to as many as were asked for.",
    ),
    Kind(
        "result-slip",
        "fault",
        "Slip in the result",
        5,
        "Work through the calculation again, one step to a line, with units.",
    ),
    Kind(
        "impossible-result",
        "check",
        "Impossible result",
        7,
        "Ask of every result whether it can be: no amount is below zero, and no sample is more than 100 % of one "
        "substance.",
    ),
    Kind("same-readings", "check", "Same readings as another student", 9, private=True),
    Kind("counts-down", "note", "Scale counts down", 0),
    Kind(
        "missing-input",
        "check",
        "Own number missing",
        7,
        "Write down at once what you weigh or measure out yourself: no result can be worked out without it.",
    ),
    Kind(
        "implausible-input",
        "check",
        "Own number far off",
        7,
        "Look at the number in your notebook again: a digit or the decimal point may be out of place.",
    ),
)
"""About a student."""

OF_THE_CLASS = (
    Kind("practical-doubtful", "check", "Practical in doubt", 9),
    Kind("reference-doubtful", "check", "Reference in doubt", 9),
    Kind("group-shift", "check", "One group differs", 8),
    Kind("drift", "check", "Drift", 7),
    Kind("common-fault", "check", "Shared by many", 5),
)
"""About the class."""

KINDS: dict[str, Kind] = {kind.code: kind for kind in (*OF_A_RUN, *OF_A_STUDENT, *OF_THE_CLASS)}
"""Code -> kind, in the order of the catalogue."""


def is_private(code: str) -> bool:
    """Return whether a finding is the teacher's alone; a code that is not in the catalogue is not."""
    return code in KINDS and KINDS[code].private
