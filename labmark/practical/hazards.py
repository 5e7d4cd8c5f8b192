"""Cautions about a practical's solutions, from one table of the concentrations from which they are classified.

    0.1000 mol/dm³ sodium hydroxide is 0.40 %: below 0.5 %, from which it is irritating

Per cent by mass become mol/dm³ with a density of 1 kg/dm³, as dilute solutions have. What is not in the table is never
called harmless: its safety data sheet is named instead; so it is where the table has no more than a name.
"""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from functools import cache
from typing import Any

from labmark.exact import plain, significant
from labmark.places import packaged_text
from labmark.practical.equation import Species, molar_mass, parse_formula
from labmark.practical.record import Practical

TABLE = "practical/hazards.toml"
GRAMS_PER_DM3 = 10
"""Of a solution of 1 % by mass with a density of 1 kg/dm³."""

SEE = ": see its safety data sheet"
"""Ends a caution that can say no more."""
BENCH_CAUTIONS = (
    "Wear eye protection throughout, and a lab coat; wipe up spills at once, wash splashes off with plenty of water.",
    "Never pipette by mouth; fill the burette below eye level, through a funnel that is taken out again.",
)
"""What to do at the bench in every titration (common practice, no source)."""
USUAL_CAUTIONS = (
    *BENCH_CAUTIONS,
    "Follow the local risk assessment, the safety data sheets and the qualified person in charge; "
    "they come before anything said here.",
)
"""Cautions that hold for every titration: of things said here those at the bench, and what comes before them."""


@cache
def hazards() -> tuple[Mapping[str, Any], ...]:
    """Return the rows of the table."""
    return tuple(tomllib.loads(packaged_text(TABLE))["substance"])


def cautions_of(practical: Practical) -> tuple[str, ...]:
    """Return a caution for each solution of the practical, and for its indicator.

    An ion of which nothing is known here has no safety data sheet to be sent to, nor has oxygen in water.
    """
    solutions = [caution_of(*each) for each in _solutions(practical) if not is_no_substance(each[0])]
    return tuple(dict.fromkeys([*_beside_typed(practical, solutions), *indicator_cautions(practical)]))


def _beside_typed(practical: Practical, told: Iterable[str]) -> Iterator[str]:
    """Yield cautions without those that only send to the safety data sheet of what a typed one is about."""
    typed = [each.casefold() for each in practical.file.cautions]
    for each in told:
        name = each.partition(":")[0].removeprefix("indicator (").removesuffix(")").casefold()
        if not each.endswith(SEE) or not any(own.startswith(name) for own in typed):
            yield each


def is_no_substance(species: Species) -> bool:
    """Return whether nothing can be on the shelf by this name: an ion that the table does not know, an element."""
    return _row_of(species) is None and bool(species.charge or len(species.atoms) == 1)


def _solutions(practical: Practical) -> Iterator[tuple[Species, Fraction | None]]:
    """Yield each substance in solution with its concentration [mol/dm³]; None where students find or weigh it."""
    if practical.parts:
        yield from _of_several(practical)
        return
    yield practical.known, practical.known_concentration or None
    if practical.back is not None and practical.file.excess is not None:
        added = practical.file.excess.concentration
        yield practical.back.reagent, None if added is None else Fraction(added)
    if practical.file.sample is None:
        yield practical.unknown, None


def _of_several(practical: Practical) -> Iterator[tuple[Species, Fraction | None]]:
    """Yield the titrants, and what is asked for by the names of the substances: ions have no label of their own.

    An element that ions are expressed as is not in the solution: calcium, for Ca²⁺.
    """
    for part in practical.parts:
        yield part.known, part.known_concentration
        sought = parse_formula(part.expressed.formula)
        dissolved = not sought.charge and len(sought.atoms) > 1 and part.unknown != sought
        if part.series.asked and dissolved:
            yield sought, None


def _row_of(species: Species) -> Mapping[str, Any] | None:
    return next((row for row in hazards() if species.name in row.get("species", ())), None)


def caution_of(species: Species, concentration: Fraction | None, name: str = "") -> str:
    """Return what a solution is classified as at a concentration [mol/dm³]; None where students find or weigh it."""
    row = _row_of(species)
    if row is None or not row["limits"]:
        name = name or (row["name"] if row else species.shown)
        return f"{name}: see its safety data sheet"
    mass = molar_mass(parse_formula(row["species"][0]).atoms)
    limits = [(GRAMS_PER_DM3 * Fraction(str(each["from"])) / mass, each["says"]) for each in row["limits"]]
    said = [f"{says} from {significant(least, 2):f} mol/dm³" for least, says in reversed(limits)]
    if concentration is None:
        return f"{row['name']}, strength unknown: {'; '.join(said)}"
    strength = f"{row['name']}, {plain(concentration)} mol/dm³"
    found = next((says for least, says in limits if concentration >= least), None)
    return f"{strength}: {found}" if found else f"{strength}: below the limits for a hazard label; {said[0]}"


def indicator_cautions(practical: Practical) -> Iterator[str]:
    """Yield what is to be said of the indicator; nothing where there is none, or where a typed caution says more."""
    return _beside_typed(practical, _of_indicators(practical))


def _of_indicators(practical: Practical) -> Iterator[str]:
    of_each = (each.indicator for each in practical.file.titrations if each.indicator)
    for given in dict.fromkeys(of_each) or [practical.file.indicator]:
        used = given.casefold()
        rows = [row for row in hazards() if row.get("indicator") and row["indicator"] in used]
        if rows:
            yield from (f"{row['name']}: {row['limits'][0]['says']}" for row in rows)
        elif used and not used.startswith("none"):
            yield f"indicator ({given.split(',')[0].split(' (')[0]}): see its safety data sheet"
