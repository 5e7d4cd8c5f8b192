"""The columns of the class sheet that a practical needs, in the order of the work.

Mass | Rough initial | Rough final | Rough titre | Run 1 initial | ... | Run 1 used | ... | Mean titre | Result
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from labmark.meaning import asked
from labmark.practical import Practical
from labmark.practical.own import BLANK, OWN
from labmark.units import shown_unit
from labmark.words import listed

Holds = Literal["group", "number", "reading", "titre", "tick", "result"]
ROUGH = "Rough"
USED_UP = ("sample.mass", "sample.volume")
"""Numbers that belong to a run where what was weighed or measured goes into one flask as it is."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column that is filled in during the lesson."""

    heading: str
    holds: Holds
    what: str
    """What belongs there, for whoever stands in the cell."""


def usual_runs(practical: Practical) -> int:
    """Return how many accurate runs there is room for where nobody says: one more than must agree."""
    return practical.file.concordance.at_least + 1


def columns_of(practical: Practical, runs: int) -> list[Column]:
    """Return the columns to be filled in, for a rough and so many accurate runs."""
    columns = [*_groups(practical), *_own(practical, by_run=False), *_blank(practical)]
    for run in (ROUGH, *(f"Run {number}" for number in range(1, runs + 1))):
        columns += _of_run(practical, run)
    return [*columns, *_claims(practical)]


def group_columns(practical: Practical) -> tuple[str, ...]:
    """Return the headings whose entries choose a number of the practical, such as Bottle."""
    by = [own.by for own in practical.own.values()]
    by += [practical.file.reference.by] if practical.file.reference else []
    return tuple(dict.fromkeys(each for each in by if each))


def in_one_flask(practical: Practical) -> bool:
    """Return whether what was weighed or measured goes into one flask as it is, so that every run needs its own."""
    sample, excess = practical.file.sample, practical.file.excess
    return sample is not None and sample.made_up_to is None and (excess is None or excess.made_up_to is None)


def _groups(practical: Practical) -> Iterator[Column]:
    for heading in group_columns(practical):
        allowed = {name for own in practical.own.values() if own.by == heading for name in own.values}
        reference = practical.file.reference
        allowed |= set(reference.values) if reference and reference.by == heading else set()
        yield Column(heading, "group", f"Which one was used: {listed(sorted(allowed))}.")


def _own(practical: Practical, *, by_run: bool, run: str = "") -> Iterator[Column]:
    """Yield the columns of numbers of their own: those that each run has, or those that a student has once."""
    for key, own in practical.own.items():
        if own.column is None or (key in USED_UP and in_one_flask(practical)) != by_run:
            continue
        unit = shown_unit(OWN[key].unit or practical.unit)
        default = f" Left blank it is {own.default} {unit}." if own.default is not None else ""
        for heading in filter(None, (own.column, own.minus)):
            if not (key == "blank.titre" and heading == BLANK):
                what = f"{heading} as you read it, in {unit}, with every decimal.{default}"
                yield Column(f"{run} {_within(heading)}" if run else heading, "number", what)


def _within(heading: str) -> str:
    """Return a heading as it stands behind Run 1: Mass in small letters, KHP as it is."""
    return heading[:1].lower() + heading[1:] if heading[1:2].islower() else heading


def _blank(practical: Practical) -> Iterator[Column]:
    if practical.file.blank is not None and practical.file.blank.runs:
        for end in ("initial", "final"):
            yield Column(f"{BLANK} {end}", "reading", f"{end.capitalize()} burette reading of the blank, in cm³.")


def _of_run(practical: Practical, run: str) -> Iterator[Column]:
    own = [*_own(practical, by_run=True, run=run)]
    yield from own
    for end in ("initial", "final"):
        yield Column(
            f"{run} {end}", "reading", f"{end.capitalize()} burette reading in cm³, to the nearest 0.05: two decimals."
        )
    yield Column(f"{run} titre", "titre", "Final reading less initial reading, in cm³, worked out by you.")
    if run != ROUGH:
        yield Column(f"{run} used", "tick", "yes where this run goes into your mean, no where it doesn't.")
        if own:
            yield Column(f"{run} result", "result", f"What this run alone gives: {asked(practical)}.")


def _claims(practical: Practical) -> Iterator[Column]:
    yield Column("Mean titre", "titre", "Mean of the titres that you used, in cm³.")
    figures = practical.file.result.significant_figures
    yield Column("Result", "result", f"Your result: {asked(practical)}, to {figures} significant figures.")
