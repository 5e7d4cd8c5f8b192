"""What is planted in a sample class, and how a class is described."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.samples.chemistry import Chemistry

PRACTICALS = Path(__file__).resolve().parents[2] / "templates" / "practicals"
FINDING_NONE = "none"
"""In the list of what was planted: looks odd, and is no fault."""
TO_HALF_TENTHS = "own mean to the nearest 0.05"


@dataclass(frozen=True)
class Plant:
    """One thing that goes wrong: a finding of the contract, where, and how much."""

    finding: str
    run: str | None = None
    size: float = 0.0
    """[cm³], or a factor."""
    detail: str = ""

    def note(self) -> str:
        """Return what was planted, in words."""
        words = NOTES[self.finding]
        return words.format(size=self.size, signed=f"{self.size:+.2f}", detail=self.detail or "final")


NOTES: Mapping[str, str] = {
    "overshoot": "run {size:.2f} cm³ past the end point",
    "undershoot": "stopped {size:.2f} cm³ short of the end point",
    "implausible-titre": "final reading {signed} cm³ out, for no reason",
    "always-overshoots": "every run {size:.2f} cm³ past the end point",
    "diluted-titrant": "burette left wet: every titre × {size}",
    "wrong-aliquot": "another pipette: every titre × {size}",
    "no-concordant-runs": "every run stopped somewhere else",
    "too-few-runs": "ran out of time",
    "misread-division": "{detail} reading {signed} cm³ out",
    "read-upside-down": "scale read upwards: distance to the next whole mark mirrored",
    "reversed-readings": "initial and final reading swapped",
    "missing-reading": "{detail} reading left blank",
    "not-a-number": "a slip of the keyboard in the {detail} reading",
    "off-scale": "a 1 typed in front of the {detail} reading",
    "coarse-reading": "readings written {detail}",
    "counts-down": "every run read from a scale that counts down (a note, no fault)",
    "subtraction-slip": "own titre {signed} cm³ out",
    "rough-in-mean": "rough titre included in the mean",
    "discordant-in-mean": "every run included in the mean",
    "mean-slip": "own mean {signed} cm³ out",
    "ratio-ignored": "result without the mole ratio",
    "ratio-inverted": "result with the mole ratio upside down",
    "volume-units": "result with cm³ and dm³ mixed up",
    "volumes-swapped": "result with titre and aliquot swapped",
    "dilution-ignored": "result without the dilution",
    "difference-forgotten": "result from what was left of the reagent, not from what had reacted",
    "rough-in-result": "result worked out from the rough titre",
    "rounding": "result rounded {detail}",
    "result-slip": "two digits of the result swapped",
    "same-readings": "readings copied from {detail}",
    FINDING_NONE: "{detail}",
}


@dataclass(frozen=True)
class ClassPlan:
    """One class: who, what, the truth, and what is planted."""

    file: str
    practical: str
    chemistry: Chemistry
    truth: Mapping[str, str]
    """True result for each bottle."""
    names: tuple[str, ...]
    per_bench: int
    bottles: tuple[str, ...]
    """Bottle of each bench, in turn."""
    about: str
    plants: Mapping[int, tuple[Plant, ...]]
    """Number of the student -> what goes wrong."""
    group_plants: tuple[tuple[str, str, str], ...] = ()
    """Findings about the class: finding, group or finding meant, what was planted."""
    off_bench: tuple[str, float] = ("", 1.0)
    """A bench whose titres are out, and the factor."""
    absent: tuple[int, ...] = ()
    remarks: Mapping[int, str] = field(default_factory=dict)
    ticks: tuple[str, str | None] = ("y", None)
    """How a tick and a missing tick are written."""
    number_format: str = "General"
    with_titres: bool = True
    own_practical: Mapping[str, Any] | None = None
    """Changes to the practical where the workbook holds a Practical sheet of its own."""
    blank_after: int = 0
    """Number of the student after whom a row was left empty; 0 for none."""
    preparation: tuple[tuple[str | float, ...], ...] = ()
    """The technician's own sheet in the workbook, which holds no class."""
    below: tuple[tuple[str, str], ...] = ()
    """Stray cells under the table: column heading and text."""
    own_result_number: bool = False
    """Results typed as numbers with no format, so that trailing noughts are lost."""

    @property
    def at_least(self) -> int:
        """Return how many runs must agree."""
        return int(practical_file(self.practical)["concordance"]["at_least"])


def practical_file(name: str) -> dict[str, Any]:
    """Return a practical that ships, its decimals as written."""
    return tomllib.loads((PRACTICALS / f"{name}.toml").read_text(encoding="utf-8"), parse_float=Decimal)
