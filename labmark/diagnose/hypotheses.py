"""What can go wrong at the bench: one table of hypotheses, with what each does to a titre and how common it is.

A chemist can argue with every row: change a size or a rate here and the odds follow; nothing of the kind is written
anywhere else. All of it is common practice, no source. Sizes are cm³ where a mishap adds or takes away a volume
("added"), and a fraction of the titre where it changes a concentration or an amount ("proportional").

An overshoot, worked: two in a hundred accurate runs; two in three of them by 0.10 to 0.60 cm³, hardly any by more
than 1 cm³. A run 0.40 cm³ above the same student's others, where the runs of the class scatter by 0.05 cm³, is eight
standard deviations away by chance, and just what an overshoot looks like.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Scope = Literal["run", "student"]
Shape = Literal[
    "as expected",  # nothing happened
    "added",  # the titre is out by a volume within the bands [cm³]
    "proportional",  # the titre is out by a fraction within the bands
    "fading",  # proportional, and less from run to run
    "whole number",  # the titre is out by exactly `low` cm³, either way
    "mirrored",  # a reading n + f stands for n + (1 - f)
    "not refilled",  # the initial reading was the final reading before, and 0.00 was written
    "ratio",  # titres in the ratio of another pipette to the right one
    "scatter",  # the level is right, the runs scatter by a standard deviation within the bands [cm³]
    "anywhere",  # nothing in this table
]


@dataclass(frozen=True, slots=True)
class Band:
    """A share of the cases, and the range of sizes over which it is spread evenly."""

    share: float
    """Fraction of the cases of this hypothesis."""
    low: float
    """Smallest size [cm³, or fraction of the titre]."""
    high: float
    """Largest size [cm³, or fraction of the titre]."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that may have happened at the bench."""

    name: str
    """Short name; also the key in posteriors and in evidence."""
    scope: Scope
    """Whether it happens to one run or to everything a student did."""
    finding: str | None
    """Code of the finding it is claimed as; None where titres alone never carry the claim."""
    direction: Literal["", "+", "-", "+/-"]
    """Which way the titre goes."""
    shape: Shape
    bands: tuple[Band, ...]
    """How large the effect is; empty where the readings themselves settle it."""
    rate: float
    """How often: of accurate runs, or of students, in a class that was taught the technique."""
    runs: Literal["any", "first", "all"]
    """Which accurate runs it can touch."""
    looks_like: str
    """What it does to the readings, for the teacher."""
    tell: str
    """What to tell the student: what most likely happened and what to do next time."""
    check: str
    """What would tell it from the others, or confirm it."""


HYPOTHESES: tuple[Hypothesis, ...] = (
    # --- one run -----------------------------------------------------------------------------------------------------
    Hypothesis(
        "overshoot", "run", "overshoot", "+", "added",
        (Band(0.68, 0.10, 0.60), Band(0.26, 0.60, 0.95), Band(0.06, 0.95, 1.40)), 0.022, "any",
        "one titre above the same student's others by more than the runs of this class scatter",
        "This run probably went past the endpoint. Go dropwise from about 1 cm³ before the rough titre, rinse the "
        "walls of the flask, and stop at the first lasting change of colour.",
        "colour left in the flask: deeper than in the other runs after an overshoot",
    ),
    Hypothesis(
        "undershoot", "run", "undershoot", "-", "added",
        (Band(0.75, 0.10, 0.60), Band(0.20, 0.60, 0.90), Band(0.05, 0.90, 1.20)), 0.014, "any",
        "one titre below the same student's others by more than the runs of this class scatter",
        "This run probably stopped short of the endpoint. Wait and swirl: the change of colour has to last.",
        "the colour faded again after the reading was taken, or one more drop would still have changed it",
    ),
    Hypothesis(
        "misread-division", "run", "misread-division", "+/-", "whole number",
        (
            Band(0.64, 1.0, 1.0), Band(0.24, 10.0, 10.0), Band(0.05, 2.0, 2.0), Band(0.04, 5.0, 5.0),
            Band(0.02, 3.0, 3.0), Band(0.01, 20.0, 20.0),
        ),
        0.016, "any",
        "one titre out by a whole number of cm³ (1 or 10, seldom another) while its last digits agree with the others",
        "One of the two readings was probably taken from the wrong numbered mark. Read the whole number first, from "
        "the mark above the meniscus, then the tenths.",
        "the reading before or after it in the same filling of the burette",
    ),
    Hypothesis(
        "read-upside-down", "run", "read-upside-down", "+/-", "mirrored", (), 0.010, "any",
        "the titre agrees with the others once the tenths of a reading are counted the other way between its two "
        "numbered marks (24.30 for 24.70)",
        "The scale of a burette runs downwards: count the tenths down from the numbered mark above the meniscus.",
        "which readings change: those at or near a numbered mark, or half-way between two, stay as they are",
    ),
    Hypothesis(
        "implausible-titre", "run", "implausible-titre", "+/-", "anywhere", (), 0.013, "any",
        "a titre far from the student's others and from what was expected, and no mishap of this table would put it "
        "there",
        "This titre fits none of the usual mishaps. Look at what was written down at the time, and at the digits.",
        "digits written in the wrong order, a reading of another student or another run, a run that was broken off",
    ),
    Hypothesis(
        "air bubble in the jet", "run", "overshoot", "+", "added", (Band(1.0, 0.10, 1.00),), 0.0012, "first",
        "the first titre above the others: air left in the jet came out during the run and counted as titrant",
        "Run some titrant through the jet before the first reading until no air is left below the tap.",
        "air seen below the tap; only the first run after filling is touched",
    ),
    Hypothesis(
        "leaking tap", "run", "overshoot", "+", "added", (Band(1.0, 0.10, 0.80),), 0.0008, "any",
        "a titre above the others, more so in slow runs: titrant dripped past the tap or outside the flask",
        "Dry the tip and watch the tap for a minute before the first run; ask for another burette if a drop forms.",
        "a wet tip or bench under the jet; the level falls while the tap is shut",
    ),
    Hypothesis(
        "initial reading taken as zero", "run", "overshoot", "+", "added", (Band(1.0, 0.10, 1.00),), 0.0008, "any",
        "a titre too large by what the initial reading really was, beside an initial reading of exactly 0.00",
        "Read the burette before the run: the level need not be at 0.00, but the reading has to be what it shows.",
        "an initial reading written as 0.00 although the level stood below the mark",
    ),
    Hypothesis(
        "burette not refilled, 0.00 written", "run", "implausible-titre", "+", "not refilled", (), 0.0015, "any",
        "the final reading minus the final reading of the run before agrees with the other titres, and the initial "
        "reading says 0.00",
        "The burette seems not to have been refilled: the initial reading is then the final reading before, not 0.00.",
        "whether the burette was refilled between the two runs",
    ),
    Hypothesis(
        "funnel left in the burette", "run", "undershoot", "-", "added", (Band(1.0, 0.10, 0.40),), 0.0006, "any",
        "a titre below the others: drops fell from the funnel into the burette during the run",
        "Take the funnel out before the initial reading.",
        "a funnel still in the burette at the end of the run",
    ),
    # --- everything a student did ------------------------------------------------------------------------------------
    Hypothesis(
        "ordinary work", "student", None, "", "as expected", (), 0.795, "all",
        "titres about the expected one, as far apart as those of the class",
        "Your titres agree with what was expected.",
        "nothing to check",
    ),
    Hypothesis(
        "always-overshoots", "student", "always-overshoots", "+", "added",
        (Band(0.61, 0.15, 0.60), Band(0.35, 0.60, 0.95), Band(0.04, 0.95, 1.40)), 0.045, "all",
        "runs that agree with one another, all above the expected titre by about the same volume",
        "Your runs agree, and all seem to stop a little past the endpoint. Keep a flask with the right endpoint colour "
        "beside you and stop at the first lasting change.",
        "colour left in the flasks; a second titration with half the aliquot is out by the same volume",
    ),
    Hypothesis(
        "diluted-titrant", "student", "diluted-titrant", "+", "proportional",
        (Band(0.85, 0.020, 0.110), Band(0.15, 0.110, 0.200)), 0.038, "all",
        "runs that agree with one another, all above the expected titre by about the same fraction",
        "Your titrant seems to have been weaker than it should be, as when a burette is left wet with water. Rinse the "
        "burette, jet included, with the titrant itself before filling.",
        "first run higher than the next; a second titration with half the aliquot is out by half the volume",
    ),
    Hypothesis(
        "titrant diluted, less from run to run", "student", "diluted-titrant", "+", "fading",
        (Band(1.0, 0.010, 0.110),), 0.018, "all",
        "titres that come down from run to run towards the expected one: water left in the burette is washed out",
        "Your first titres are the highest, as when a burette is left wet with water. Rinse the burette, jet included, "
        "with the titrant itself before filling.",
        "the rough and the first runs are the highest",
    ),
    Hypothesis(
        "wrong-aliquot", "student", "wrong-aliquot", "+/-", "ratio", (), 0.040, "all",
        "titres in the ratio of another pipette to the one asked for (20 : 25, 10 : 25, 25 : 20)",
        "Your titres fit another pipette size. Look at the volume printed on the pipette.",
        "the volume printed on the pipette that was used",
    ),
    Hypothesis(
        "reads the scale upside down", "student", "read-upside-down", "+/-", "mirrored", (), 0.020, "all",
        "every titre agrees with the expected one once the tenths of all readings are counted the other way between "
        "their two numbered marks",
        "The scale of a burette runs downwards: count the tenths down from the numbered mark above the meniscus.",
        "a reading taken together at the bench",
    ),
    Hypothesis(
        "scattered work", "student", None, "+/-", "scatter", (Band(0.7, 0.15, 0.15), Band(0.3, 0.35, 0.35)), 0.017,
        "all",
        "titres about the expected one, but further apart than those of the class, with no single run to point at",
        "Your runs are further apart than they need to be. Add the last cm³ dropwise and read at eye level every time.",
        "one more run, watched",
    ),
    Hypothesis(
        "pipette wet with water", "student", None, "-", "proportional", (Band(1.0, 0.010, 0.050),), 0.010, "all",
        "runs that agree with one another, all below the expected titre by about the same fraction",
        "Rinse the pipette with the solution it is to measure.",
        "how the pipette was rinsed; the first aliquot is the weakest",
    ),
    Hypothesis(
        "flask rinsed with the solution", "student", "diluted-titrant", "+", "proportional", (Band(1.0, 0.010, 0.080),),
        0.0015, "all",
        "titres above the expected one by what was left in the flask; flask by flask not quite the same",
        "Rinse the conical flask with water only: what stays in it otherwise is titrated as well.",
        "how the flasks were rinsed; with one flask used throughout it looks like a weak titrant",
    ),
    Hypothesis(
        "last drop blown out of the pipette", "student", None, "+", "proportional", (Band(1.0, 0.001, 0.004),), 0.010,
        "all",
        "all titres a few parts in a thousand too high; within what titres alone can show only in a large class",
        "Let the pipette drain with its tip on the wall of the flask; the last drop belongs in the pipette.",
        "how the pipette was emptied",
    ),
    Hypothesis(
        "none of these", "student", "implausible-titre", "+/-", "anywhere", (), 0.0060, "all",
        "runs that agree with one another far from the expected titre, where no mishap of this table would put them",
        "Your runs agree, but not with the expected titre, and no usual mishap explains it. Talk it over with your "
        "teacher.",
        "another solution, another bottle, another practical",
    ),
)  # fmt: skip
"""Every hypothesis, likeliest first within a scope. The rest of the accurate runs went as they should."""

PIPETTES: tuple[tuple[float, float], ...] = ((10.0, 0.30), (20.0, 0.25), (25.0, 0.25), (50.0, 0.12), (5.0, 0.08))
"""Pipettes of a school laboratory [cm³], and how often each is taken by mistake (common practice, no source)."""

MIRRORED_READINGS: tuple[tuple[str, float], ...] = (("final", 0.50), ("initial", 0.20), ("both", 0.30))
"""Which reading of a run was read in the wrong direction, and how often (common practice, no source)."""

COUNTED_FROM_BELOW = 0.2
"""Share of wrong-way readings that also take the whole number from the mark below the meniscus: 25.30 for 24.70."""

RUN_HYPOTHESES: tuple[Hypothesis, ...] = tuple(h for h in HYPOTHESES if h.scope == "run")
STUDENT_HYPOTHESES: tuple[Hypothesis, ...] = tuple(h for h in HYPOTHESES if h.scope == "student")
BY_NAME: dict[str, Hypothesis] = {h.name: h for h in HYPOTHESES}
