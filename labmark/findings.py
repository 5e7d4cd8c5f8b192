"""The catalogue of findings: code, what it says, how it is put to a student, and what to do next time.

A finding is a hypothesis with its evidence. The level says what it asks for: a `note` asks for nothing, a `check`
asks the teacher to look, a `fault` is plain from the student's own figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labmark.records import Level

Scope = Literal["run", "student", "class"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding."""

    code: str
    scope: Scope
    level: Level
    """The usual level; a finding may carry a milder one where less can be known."""
    title: str
    """A few words for tables and headings."""
    about: str
    """What it says, in one sentence."""
    advice: str
    """What the student can do next time; empty where it is nothing to the student, or BENCH."""
    private: bool = False
    """For the teacher only: never on a student's sheet."""
    urgency: int = 0
    """How much it asks for a human eye: higher first in the teacher's list."""


BENCH = ""
"""Advice on a fault at the bench stands in the table of hypotheses, `diagnose/hypotheses.toml`."""

_CATALOGUE = (
    # About a run.
    Kind(
        "missing-reading",
        "run",
        "check",
        "Reading missing",
        "A run was begun but has no initial or no final reading.",
        "Write down both burette readings before you do anything else: without them there is no titre.",
        urgency=6,
    ),
    Kind(
        "not-a-number",
        "run",
        "check",
        "Not a number",
        "A reading is not a number, so the run cannot be used.",
        "Write a reading in figures only, with two decimals.",
        urgency=7,
    ),
    Kind(
        "off-scale",
        "run",
        "check",
        "Off the scale",
        "A reading lies outside the burette's scale.",
        "Check each reading against the scale of the burette: it cannot be beyond the last mark.",
        urgency=7,
    ),
    Kind(
        "reversed-readings",
        "run",
        "check",
        "Readings swapped",
        "The initial and the final reading are swapped.",
        "The final reading is the larger one: the numbers on a burette go up from top to bottom.",
        urgency=3,
    ),
    Kind(
        "subtraction-slip",
        "run",
        "fault",
        "Slip in the subtraction",
        "The written titre is not final minus initial.",
        "Check a titre by adding it to the initial reading: the sum must be the final reading.",
        urgency=3,
    ),
    Kind(
        "coarse-reading",
        "run",
        "fault",
        "Reading too coarse",
        "A reading is not recorded as finely as the burette can be read (0.05 cm³ where its marks are 0.1 apart).",
        "See whether the level is on a mark or between two, and always write two decimals, even if the last is 0.",
        urgency=1,
    ),
    Kind(
        "not-concordant",
        "run",
        "note",
        "Not concordant",
        "The titre does not agree with those in the mean.",
        "Leave a titre that does not agree with the others out of the mean.",
        urgency=0,
    ),
    Kind(
        "implausible-titre",
        "run",
        "check",
        "Implausible titre",
        "No ordinary mishap explains the titre.",
        BENCH,
        urgency=8,
    ),
    Kind(
        "overshoot",
        "run",
        "check",
        "Past the endpoint",
        "The run was probably stopped past the endpoint.",
        BENCH,
        urgency=2,
    ),
    Kind(
        "undershoot",
        "run",
        "check",
        "Short of the endpoint",
        "The run was probably stopped short of the endpoint.",
        BENCH,
        urgency=2,
    ),
    Kind(
        "misread-division",
        "run",
        "check",
        "Reading out by whole cm³",
        "A reading is probably out by a whole number of cm³.",
        BENCH,
        urgency=5,
    ),
    Kind(
        "read-upside-down",
        "run",
        "check",
        "Scale read the wrong way",
        "The scale was probably read in the wrong direction between two numbered marks.",
        BENCH,
        urgency=5,
    ),
    Kind(
        "digits-swapped",
        "run",
        "check",
        "Two digits swapped",
        "Two neighbouring digits of a reading were probably written in the wrong order.",
        BENCH,
        urgency=5,
    ),
    Kind(
        "refilled",
        "run",
        "note",
        "Burette refilled",
        "The burette was filled again within the run; the parts are added up.",
        "",
        urgency=1,
    ),
    # About a student.
    Kind(
        "no-concordant-runs",
        "student",
        "check",
        "No concordant runs",
        "Too few titres agree.",
        "Keep doing runs until enough of them agree.",
        urgency=6,
    ),
    Kind(
        "too-few-runs",
        "student",
        "check",
        "Too few runs",
        "There are fewer accurate runs than must agree.",
        "Plan your time so that you can do at least one more run.",
        urgency=5,
    ),
    Kind(
        "rough-in-mean",
        "student",
        "fault",
        "Rough in the mean",
        "The rough titre was included in the mean.",
        "The rough only tells you about where the endpoint is: leave it out of the mean.",
        urgency=3,
    ),
    Kind(
        "discordant-in-mean",
        "student",
        "fault",
        "Discordant run in the mean",
        "A titre that does not agree with the others was included in the mean.",
        "Take the mean of the titres that agree, and of no others.",
        urgency=3,
    ),
    Kind(
        "mean-slip",
        "student",
        "fault",
        "Slip in the mean",
        "The written mean is not the mean of the runs ticked.",
        "Check your mean: it must lie between the smallest and the largest titre that went into it.",
        urgency=3,
    ),
    Kind(
        "level-change",
        "student",
        "check",
        "Two groups of runs",
        "The runs fall into two groups that agree within themselves: something probably changed between them.",
        BENCH,
        urgency=5,
    ),
    Kind(
        "always-overshoots",
        "student",
        "check",
        "Always past the endpoint",
        "Every run was probably stopped past the endpoint, each by about as much.",
        BENCH,
        urgency=4,
    ),
    Kind(
        "always-short",
        "student",
        "check",
        "Always short of the endpoint",
        "Every run was probably stopped short of the endpoint, each by about as much.",
        BENCH,
        urgency=4,
    ),
    Kind(
        "diluted-titrant",
        "student",
        "check",
        "Titrant weakened",
        "The titrant was probably weakened, for example by a burette left wet with water.",
        BENCH,
        urgency=5,
    ),
    Kind(
        "wrong-aliquot",
        "student",
        "check",
        "Different pipette volume",
        "The titres fit a different pipette volume.",
        BENCH,
        urgency=6,
    ),
    Kind(
        "ratio-ignored",
        "student",
        "fault",
        "Mole ratio left out",
        "The mole ratio was left out of the working.",
        "Write the equation first, and take the mole ratio from it.",
        urgency=4,
    ),
    Kind(
        "ratio-inverted",
        "student",
        "fault",
        "Mole ratio upside down",
        "The mole ratio was used upside down.",
        "Ask which of the two substances there must be more moles of, and check that your answer agrees.",
        urgency=4,
    ),
    Kind(
        "volume-units",
        "student",
        "fault",
        "cm³ and dm³ mixed up",
        "The result is out by a power of 1000.",
        "Divide cm³ by 1000 to get dm³ before you multiply by a concentration in mol/dm³.",
        urgency=4,
    ),
    Kind(
        "volumes-swapped",
        "student",
        "fault",
        "Volumes swapped",
        "Titre and aliquot are swapped.",
        "Label each volume with the name of its solution before you put it into the calculation.",
        urgency=4,
    ),
    Kind(
        "dilution-ignored",
        "student",
        "fault",
        "Dilution or portion",
        "The dilution factor, or the step from the portion to the whole, was left out or done wrongly.",
        "At the end, ask which solution the question is about: the diluted one or the original.",
        urgency=4,
    ),
    Kind(
        "difference-forgotten",
        "student",
        "fault",
        "Difference not taken",
        "The result was worked out from one part of a difference alone, such as what was left over or the whole titre.",
        "Write down what is to be taken from what, and take the difference before you go on.",
        urgency=4,
    ),
    Kind(
        "rough-in-result",
        "student",
        "fault",
        "Result from the rough",
        "The result was worked out from the rough titre.",
        "Use the mean of the titres that agree in your calculation.",
        urgency=4,
    ),
    Kind(
        "rounding",
        "student",
        "check",
        "Rounding",
        "The working was rounded too early, or to too few figures.",
        "Keep all the figures on your calculator until the end, then round once, to as many as were asked for.",
        urgency=1,
    ),
    Kind(
        "result-slip",
        "student",
        "fault",
        "Slip in the result",
        "The written result is wrong, and no single slip explains it.",
        "Work through the calculation again, one step to a line, with units.",
        urgency=5,
    ),
    Kind(
        "impossible-result",
        "student",
        "check",
        "Impossible result",
        "A written result that cannot be (below zero, more than 100 per cent), or readings that give none.",
        "Ask of every result whether it can be: no amount is below zero, and no sample is more than 100 % of one "
        "substance.",
        urgency=7,
    ),
    Kind(
        "same-readings",
        "student",
        "check",
        "Same readings as another student",
        "The readings match another student's by more than chance; there may be an innocent reason.",
        "",
        private=True,
        urgency=9,
    ),
    Kind(
        "counts-down",
        "student",
        "note",
        "Scale counts down",
        "Every run is read downwards from a full scale, and is taken like that.",
        "",
        urgency=0,
    ),
    Kind(
        "missing-input",
        "student",
        "check",
        "Own number missing",
        "A number of their own (mass, aliquot) that the result needs is missing, not a number, zero or negative.",
        "Write down at once what you weigh or measure out yourself: no result can be worked out without it.",
        urgency=7,
    ),
    Kind(
        "implausible-input",
        "student",
        "check",
        "Own number far off",
        "A number of their own is far from everybody else's: it is used as written, and accuracy waits.",
        "Look at the number in your notebook again: a digit or the decimal point may be out of place.",
        urgency=7,
    ),
    # About the class.
    Kind(
        "practical-doubtful",
        "class",
        "check",
        "Practical in doubt",
        "No result follows by the practical, and the titres are far from what it expects.",
        "",
        urgency=9,
    ),
    Kind(
        "reference-doubtful",
        "class",
        "check",
        "Reference in doubt",
        "The class agrees with itself, and not with the reference.",
        "",
        urgency=9,
    ),
    Kind(
        "group-shift",
        "class",
        "check",
        "One group differs",
        "One bench, bottle or group differs from the rest.",
        "",
        urgency=8,
    ),
    Kind("drift", "class", "check", "Drift", "Results move with the order of work.", "", urgency=7),
    Kind(
        "common-fault",
        "class",
        "check",
        "Shared by many",
        "A fault that many share: worth teaching again.",
        "",
        urgency=5,
    ),
)

KINDS: dict[str, Kind] = {kind.code: kind for kind in _CATALOGUE}
"""Code -> kind, in the order of the catalogue."""


def is_private(code: str) -> bool:
    """Return whether a finding is the teacher's alone; a code that is not in the catalogue is not."""
    return code in KINDS and KINDS[code].private
