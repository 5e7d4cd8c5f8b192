"""The columns of the class sheet that a practical needs, in the order of the work.

Mass | Rough initial | Rough final | Rough titre | Run 1 initial | ... | Run 1 used | ... | Mean titre | Result
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Literal

from labmark.dataclass import dataclass, replace
from labmark.exact import places_in
from labmark.lesson.roll import NAME, Roll
from labmark.meaning import asked, asked_for
from labmark.practical import Practical
from labmark.practical.own import BLANK, BLANK_TITRE, OWN, REFERENCE, Several
from labmark.units import shown_unit
from labmark.words import listed

Holds = Literal["given", "group", "number", "reading", "titre", "tick", "result"]
ROUGH = "Rough"
USED_UP = ("sample.mass", "sample.volume")
"""Numbers that belong to a run where every run needs its own of what was weighed or measured."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: given by the list of students, or to be filled in during the lesson."""

    heading: str
    holds: Holds
    what: str = ""
    """What belongs there, for whoever stands in the cell."""
    run: str = ""
    """Run that it is about, as in Run 1, or total run 1 where there are several titrations."""
    titration: str = ""
    most: Decimal = Decimal(0)
    """Greatest reading of the burette [cm³], where it holds one."""
    choices: tuple[str, ...] = ()
    """Words to choose from."""
    error: str = ""
    """What is said of anything that does not belong there; empty: anything may stand there. It is questioned, not
    barred: a burette filled again has two pairs of readings."""
    texts: tuple[str, ...] = ()
    """A text for each student; empty where the cell is to be filled in."""
    width: float = 0.0
    """[characters]"""

    @property
    def line(self) -> str:
        """Return what is said of the run: initial, mass."""
        return self.heading.removeprefix(f"{self.run} ")

    @property
    def shown(self) -> str:
        """Return the number format of the cells to be filled in."""
        return FORMATS.get(self.holds, "General")


def usual_runs(practical: Practical) -> int:
    """Return how many accurate runs there is room for where nobody says: one more than must agree."""
    return practical.file.concordance.at_least + 1


def columns_of(practical: Practical, runs: int) -> list[Column]:
    """Return the columns to be filled in, for a rough and so many accurate runs."""
    columns = [*_groups(practical), *_own(practical), *_blank(practical)]
    several = practical.several
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


def one_a_run(practical: Practical) -> bool:
    """Return whether students weigh or measure for every run: all of it goes into one flask, or results must agree."""
    sample, excess = practical.file.sample, practical.file.excess
    undivided = sample is not None and sample.made_up_to is None and (excess is None or excess.made_up_to is None)
    return undivided or practical.file.concordance.of == "result"


def _groups(practical: Practical) -> Iterator[Column]:
    for heading in group_columns(practical):
        allowed = {name for own in practical.own.values() if own.by == heading for name in own.values}
        reference = practical.file.reference
        allowed |= set(reference.values) if reference and reference.by == heading else set()
        yield Column(heading, "group", f"Which one was used: {listed(sorted(allowed))}.")


def _own(practical: Practical, run: str = "") -> Iterator[Column]:
    """Yield the columns of numbers of their own: those that a run has, or those that a student has once."""
    for key, own in practical.own.items():
        if own.column is None or (key in USED_UP and one_a_run(practical)) != bool(run):
            continue
        unit = shown_unit(OWN[key].unit or practical.unit)
        default = f" Left blank it is {own.default} {unit}." if own.default is not None else ""
        for heading in filter(None, (own.column, own.minus)):
            if not (key == BLANK_TITRE and heading == BLANK):
                what = f"{heading} as you read it, in {unit}, with every decimal.{default}"
                holds: Holds = "titre" if key == BLANK_TITRE else "number"
                # Behind Run 1 stands mass in small letters, and KHP as it is.
                within = heading[:1].lower() + heading[1:] if heading[1:2].islower() else heading
                yield Column(f"{run} {within}" if run else heading, holds, what, run)


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
    burettes = {each.name: each.burette for each in practical.file.titrations}
    burette = burettes.get(titration, practical.file.burette)
    for end in ("initial", *(endpoints or ("final",))):
        at = f"{end.capitalize()} burette reading"
        if endpoints and end != "initial":
            at = f"Burette reading at the end point with {end}"
        what = f"{at}, in cm³, to the nearest 0.05: two decimals."
        yield Column(f"{run} {end}", "reading", what, run, titration, burette.capacity)
    yield from _titres(run, titration, endpoints)
    if not rough:
        what = "yes where this run goes into your mean, no where it doesn’t."
        yield Column(f"{run} used", "tick", what, run, titration, choices=("yes", "no"))
        if own:
            yield Column(f"{run} result", "result", f"What this run alone gives: {asked(practical)}.", run, titration)


def _titres(run: str, titration: str, endpoints: Sequence[str]) -> Iterator[Column]:
    for place, name in enumerate(endpoints or ("",)):
        before = endpoints[place - 1] if place else "initial"
        less = f"Reading at {name} less that at {before}" if name else "Final reading less initial reading"
        what = f"{less.replace('that at initial', 'the initial one')}, in cm³, worked out by you."
        yield Column(f"{run} titre {name}".strip(), "titre", what, run, titration)


def _claims(practical: Practical, several: Several) -> Iterator[Column]:
    titres = (*several.endpoints, *several.titrations) or ("",)
    averaged = practical.file.concordance.of or ("result" if any(_own(practical, "Run 1")) else "titre")
    for name in titres if averaged == "titre" else ():  # where results are averaged nobody needs a mean titre
        of = f" of {name}" if name else ""
        yield Column(f"Mean titre {name}".strip(), "titre", f"Mean of the titres{of} that you used, in cm³.")
    for part in asked_for(practical):
        figures, name = part.file.result.significant_figures, part.series.result
        what = f"Your result: {asked(part)}, to {figures} significant figures."
        yield Column(f"Result {name}".strip(), "result", what)


# --- laid out: what stands below each heading, or is filled in; what writes files only draws it ---


FORMATS = {"reading": "0.00", "titre": "0.00", "group": "@", "result": "@"}
"""What a cell holds -> its number format. A result is text, so that zeros at its end stay (0.0970)."""
WIDTHS = {NAME: 24.0, "Email": 26.0, "tick": 7.0, "reading": 8.5, "titre": 8.5}
"""Width of a column [characters] by its heading or what it holds."""
USUAL_WIDTH = 11.0
OF_PRACTICAL = {"Key": 29.0, "Value": 42.0, "For the technician": 32.0}
"""Headings of its own sheet -> width of the column [characters]."""
FOUND_OUT = re.compile(
    r"(reference|standardisation)\.(?!by$).*|(?!sheet\.).*\.concentration(\.values\..*)?|.*\.standard_uncertainty|blank\.titre"
)
"""Keys whose values the technician finds out."""
TO_CORRECT = "Yours to correct."
OFFERED = {
    REFERENCE: "What the students should find, from your trial, in the unit of the result.",
    "standardisation.standard": "What you weighed, as in KHC8H4O4; what it gives counts for a blank concentration.",
    "standardisation.equation": "Standard and solution; blank where the equation above holds both.",
    "standardisation.masses": "Mass in each run, in g, as in 0.4012; 0.4050; 0.3987.",
    "standardisation.titres": "Titre of each run, in cm³, as in 19.25; 19.40; 19.15.",
}
"""Keys that are there to be filled in, where the practical has no such table, with what belongs there."""
LINE = 15.0
"""Height of a line of text [points]."""
DEFERS = "Your local risk assessment, the safety data sheets and whoever is in charge decide about work at the bench."


Entry = tuple[str, object, str]
"""Key, value, note. What is the technician's has a note, and what is left to fill in no value."""


def entries(rows: Iterable[tuple[str, object]], several: bool) -> list[Entry]:
    """Return the practical's rows, then those that the technician may fill in; none of these with several titres."""
    made = [(key, value, OFFERED.get(key, TO_CORRECT) if FOUND_OUT.fullmatch(key) else "") for key, value in rows]
    tables = {key.partition(".")[0] for key, _, _ in made}
    offered = [] if several else [key for key in OFFERED if key.partition(".")[0] not in tables]
    return [*made, *((key, None, OFFERED[key]) for key in offered)]


def laid_out(roll: Roll, columns: Sequence[Column]) -> list[Column]:
    """Return what the list gives and `columns` does not ask for, then `columns`, filled in where the list says it."""
    given = {heading: tuple(row[at] for row in roll.rows) for at, heading in enumerate(roll.headings)}
    asked, blank = {each.heading for each in columns}, ("",) * len(roll.rows)
    laid = [
        Column(each, "given", texts=given[each], width=WIDTHS.get(each, USUAL_WIDTH))
        for each in roll.headings
        if each not in asked
    ]
    for each in columns:
        texts, width = given.get(each.heading, blank), WIDTHS.get(each.holds, USUAL_WIDTH)
        laid.append(replace(each, texts=texts, error=_error(each), width=width))
    return laid


def _error(column: Column) -> str:
    if column.holds == "reading":
        return f"A burette reading is a number from 0 to {column.most}."
    if column.holds == "tick":
        return "Yes or no is expected here."
    return "A number is expected here." if column.holds in ("titre", "number") else ""


def shown(value: object) -> str:
    """Return the number format of a value of the practical: with the decimals that were written."""
    return f"{0:.{places_in(value)}f}" if isinstance(value, Decimal) else "General"
