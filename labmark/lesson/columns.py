"""The columns of the class sheet that a practical needs, in the order of the work.

Mass | Rough initial | Rough final | Rough titre | Run 1 initial | ... | Run 1 used | ... | Mean titre | Result
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from labmark.meaning import asked, asked_for
from labmark.practical import Practical
from labmark.practical.own import BLANK, OWN, Several
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
    run: str = ""
    """Run that it is about, as in Run 1, or total run 1 where there are several titrations."""
    titration: str = ""
    most: Decimal = Decimal(0)
    """Greatest reading of the burette [cm³], where it holds one."""

    @property
    def line(self) -> str:
        """Return what is said of the run: initial, mass."""
        return self.heading.removeprefix(f"{self.run} ")


def usual_runs(practical: Practical) -> int:
    """Return how many accurate runs there is room for where nobody says: one more than must agree."""
    return practical.file.concordance.at_least + 1


def columns_of(practical: Practical, runs: int) -> list[Column]:
    """Return the columns to be filled in, for a rough and so many accurate runs."""
    columns = [*_groups(practical), *_own(practical), *_blank(practical)]
    several = practical.several or Several()
    for titration in several.titrations or ("",):
        for name in (ROUGH, *(f"Run {number}" for number in range(1, runs + 1))):
            run = f"{titration} {name.lower()}".strip() if titration else name
            columns += [*_of_run(practical, run, titration, several.endpoints, rough=name == ROUGH)]
    return [*columns, *_claims(practical, several)]


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


def _own(practical: Practical, run: str = "") -> Iterator[Column]:
    """Yield the columns of numbers of their own: those that a run has, or those that a student has once."""
    for key, own in practical.own.items():
        if own.column is None or (key in USED_UP and in_one_flask(practical)) != bool(run):
            continue
        unit = shown_unit(OWN[key].unit or practical.unit)
        default = f" Left blank it is {own.default} {unit}." if own.default is not None else ""
        for heading in filter(None, (own.column, own.minus)):
            if not (key == "blank.titre" and heading == BLANK):
                what = f"{heading} as you read it, in {unit}, with every decimal.{default}"
                holds: Holds = "titre" if key == "blank.titre" else "number"
                yield Column(f"{run} {_within(heading)}" if run else heading, holds, what, run)


def _within(heading: str) -> str:
    """Return a heading as it stands behind Run 1: Mass in small letters, KHP as it is."""
    return heading[:1].lower() + heading[1:] if heading[1:2].islower() else heading


def _blank(practical: Practical) -> Iterator[Column]:
    most = practical.file.burette.capacity
    if practical.file.blank is not None and practical.file.blank.runs:
        for end in ("initial", "final"):
            what = f"{end.capitalize()} burette reading of the blank, in cm³."
            yield Column(f"{BLANK} {end}", "reading", what, most=most)


def _of_run(
    practical: Practical, run: str, titration: str, endpoints: Sequence[str], *, rough: bool
) -> Iterator[Column]:
    """Yield the columns of one run: a reading at each endpoint, where there are several, instead of the final one."""
    own = [*_own(practical, run)]
    yield from own
    burette = next(
        (each.burette for each in practical.file.titrations if each.name == titration), practical.file.burette
    )
    for end in ("initial", *(endpoints or ("final",))):
        at = (
            f"Burette reading at the end point with {end}"
            if endpoints and end != "initial"
            else f"{end.capitalize()} burette reading"
        )
        what = f"{at}, in cm³, to the nearest 0.05: two decimals."
        yield Column(f"{run} {end}", "reading", what, run, titration, burette.capacity)
    for place, name in enumerate(endpoints or ("",)):
        before = endpoints[place - 1] if place else "initial"
        less = f"Reading at {name} less that at {before}" if name else "Final reading less initial reading"
        what = f"{less.replace('that at initial', 'the initial one')}, in cm³, worked out by you."
        yield Column(f"{run} titre {name}".strip(), "titre", what, run, titration)
    if not rough:
        what = "yes where this run goes into your mean, no where it doesn't."
        yield Column(f"{run} used", "tick", what, run, titration)
        if own:
            yield Column(f"{run} result", "result", f"What this run alone gives: {asked(practical)}.", run, titration)


def _claims(practical: Practical, several: Several) -> Iterator[Column]:
    for name in (*several.endpoints, *several.titrations) or ("",):
        of = f" of {name}" if name else ""
        yield Column(f"Mean titre {name}".strip(), "titre", f"Mean of the titres{of} that you used, in cm³.")
    for part in asked_for(practical) or [practical]:
        figures, name = part.file.result.significant_figures, part.series.result if part.series is not None else ""
        what = f"Your result: {asked(part)}, to {figures} significant figures."
        yield Column(f"Result {name}".strip(), "result", what)
