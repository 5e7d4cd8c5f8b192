"""The slips of the working as one table, every way of doing a practical's sum that they lead to, and what each gives.

A row says what is done differently, which finding it is, how common it is beside the others, and what to say. The
rates are relative to one another: common practice, no source. Rows that change nothing in a practical (a ratio left out
where it is 1 : 1) are no candidates.

What every way gives at one volume is tabled once for all students who have it: own means and titres lie on a lattice,
so that a large cohort has few of them. The floats of the table only sieve; a value that comes near enough is looked at
exactly.
"""

import json
import tomllib
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache, cached_property, lru_cache, reduce
from itertools import combinations
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from labmark.dataclass import dataclass
from labmark.diagnose.working_calculation import Calculation, Change, Way, mistaken, volume_text
from labmark.diagnose.working_routes import Early, early
from labmark.diagnose.working_slips import ALL_TITRES, CROSSED, DIFFERENCE, FROM_START, ONE_TITRE, OTHER_TITRE
from labmark.diagnose.working_sums import outcome, steps
from labmark.formula import Rational
from labmark.places import packaged_text

Floats = npt.NDArray[np.float64]

PAIR_RATE = 0.15
"""How much rarer a second slip is beside a first one than on its own (common practice, no source)."""
OTHER = "result-slip"


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(packaged_text("diagnose/slips.toml"))


@cache
def changes() -> tuple[Change, ...]:
    """Return every slip of the working that is a different way of doing the sum."""
    table = _table()
    tells = {"": "", **table["tell"]}
    rows = (
        {"finding": OTHER}
        | {key: row[key] for key in row if key != "each"}
        | {"do": json.loads(json.dumps(row["do"]).replace("{each}", each))}
        for row in table["slip"]
        for each in row.get("each", [""])
    )
    return tuple(
        Change(**row | {"unless": tuple(row.get("unless", ())), "tell": tells[row.get("tell", "")]}) for row in rows
    )


@cache
def tells() -> dict[tuple[str, str], str]:
    """Return what to do next time about a finding with a cause, where the advice on the finding is not about that."""
    of_changes = {(change.finding, change.cause): change.tell for change in changes() if change.tell}
    others = {("difference-forgotten", FROM_START): "start", (OTHER, CROSSED): "crossed", (OTHER, PIPETTE): "pipette"}
    others |= {
        (OTHER, ONE_TITRE): "mean",
        (OTHER, ALL_TITRES): "mean",
        (OTHER, OTHER_TITRE): "titre",
        (OTHER, DIFFERENCE): "titre",
        (OTHER, WRONG_MASS): "mass",
    }
    return {told: _table()["tell"][name] for told, name in others.items()} | of_changes


STOP_RATE = 0.02
USUAL = 0.05
"""A slip of this rate or more is a usual one."""
FORMULA_RATE = 0.15
WRONG_MASS = "wrong formula mass"
NOMINAL_RATE, MASS_RATE = 0.05, 0.03
NOMINAL = "concentration rounded"
PIPETTE_RATE = 0.01
PIPETTE = "another pipette’s volume taken"
WHOLE_RATE = 0.10
WHOLE = "all that was weighed taken instead of the difference"


def mass_changes(calc: Calculation) -> Iterator[Change]:
    """Yield a row for each other molar mass that may be taken, of the unknown or of a standard that was weighed."""
    for right in (name for name in ("molar_mass", "known_mass") if name in calc.formula.of):
        fair = {each.value for inputs in (calc.formula.inputs, *calc.fair) for each in inputs if each.name == right}
        wrong = [each for each in calc.others if each.value not in fair]
        # The first is the likeliest, the second half as likely, the third a third.
        share = FORMULA_RATE / sum(1 / place for place, _ in enumerate(wrong, start=1)) if wrong else 0
        for place, each in enumerate(wrong, start=1):
            phrase = f"taking the molar mass of {each.words}"
            yield Change("mass", {"replace": {right: each.name}}, OTHER, WRONG_MASS, phrase, share / place)


def mistaken_changes(calc: Calculation) -> Iterator[Change]:
    """Yield a row for each number that may be taken for another: 0.1 for 0.0985 mol/dm³, the mass with its bottle."""
    for one in mistaken(calc.formula):
        given = calc.formula.of[one.words]
        do = {"replace": {given.name: one.name}}
        if one.kind == "concentration":
            phrase = f"taking {one.text} mol/dm³ for {given.text} mol/dm³"
            yield Change("known", do, OTHER, NOMINAL, phrase, NOMINAL_RATE)
        elif one.kind == "mass" and one.value != given.whole:
            phrase = f"rounding the mass of {given.text} {given.unit} to {one.text} {given.unit} before going on"
            yield Change("rounded", do, "rounding", "rounded too early", phrase, MASS_RATE)
        elif one.whole is None:
            phrase = f"taking {one.text} cm³ instead of {volume_text(given.value or Fraction(0))} cm³ for the pipette"
            yield Change("pipette", do, OTHER, PIPETTE, phrase, PIPETTE_RATE)
        else:
            phrase = f"taking all {one.text} {given.unit} instead of the difference of {given.text} {given.unit}"
            yield Change("weighing", do, "difference-forgotten", WHOLE, phrase, WHOLE_RATE)


def stop_changes(calc: Calculation) -> Iterator[Change]:
    """Yield a row for each step at which the sum may be broken off."""
    for step in (step for step in steps(calc)[:-1] if step.key):
        cause, phrase = f"stopped early, at the {step.name}", f"stopping at the {step.name}"
        yield Change("stop", {"stop": step.key}, OTHER, cause, phrase, STOP_RATE, unit=False)


class Candidate(NamedTuple):
    """A way of doing the sum with one slip or two."""

    way: Way
    value: Rational
    rate: float


def candidate(calc: Calculation, way: Way) -> Candidate | None:
    """Return the candidate that one slip or two make; None where the practical has no such way, or it has no value.

    Nor does any way of doing a sum take the titre more often than the right one.
    """
    try:
        found = outcome(calc, way)
    except (ValueError, ZeroDivisionError):
        return None
    if found.degree > calc.formula.curve.value.degree:
        return None
    return Candidate(way, found, way[0].rate if len(way) == 1 else PAIR_RATE * way[0].rate * way[1].rate)


class Table(NamedTuple):
    """Every candidate of a practical: the single slips first, then the pairs, with their values as float columns."""

    candidates: tuple[Candidate, ...]
    singles: int
    """how many of them are single slips"""
    usual: int
    """where the pairs of two usual slips end"""
    factors: Floats
    """(powers of the titre, 2, candidates): of top and bottom; floats only sieve, the exact values decide"""
    alike: dict[Way, tuple[Candidate, ...]]
    """way of a pair -> rarer pairs of other slips that always give the same"""


def pairs_of(
    calc: Calculation, changes: list[Change], single: set[Rational]
) -> tuple[list[Candidate], dict[Way, tuple[Candidate, ...]]]:
    """Return the pairs that give something new, the commonest of those that are the same, and the others beside it."""
    # Not two at the same place, nor two about the same volumes.
    twos = [(one, other) for one, other in combinations(changes, 2) if other.place not in {one.place, one.apart}]
    found: dict[Rational, list[Candidate]] = {}
    for two in sorted(twos, key=lambda two: -two[0].rate * two[1].rate):
        one = candidate(calc, two)
        if one is not None and one.value not in single:
            found.setdefault(one.value, []).append(one)
    pairs = [same[0] for same in found.values()]
    pairs.sort(key=lambda one: min(change.rate for change in one.way) < USUAL)
    return pairs, {same[0].way: tuple(same[1:]) for same in found.values() if len(same) > 1}


def goes_with_another(one: Change) -> bool:
    """Return whether a slip is thought of beside another: a sum broken off is not, nor a far-fetched molar mass."""
    return one.place not in ("stop", "pipette", "rounded", "decimal") and (one.cause != WRONG_MASS or one.rate >= USUAL)


@lru_cache(maxsize=256)
def table(calc: Calculation) -> Table:
    """Return every candidate of a practical. Single slips of different findings that give the same are all kept."""
    of_practical = (*mass_changes(calc), *mistaken_changes(calc), *stop_changes(calc))
    rows = sorted([*changes(), *of_practical], key=lambda row: -row.rate)
    right = calc.formula.curve.value
    seen = {right}
    singles, kept = [], set()
    for row in rows:
        one = candidate(calc, (row,))
        if one is None or one.value == right or (one.value, row.finding) in kept:
            continue
        kept.add((one.value, row.finding))
        # Two usual slips are as common as a rare one that gives the same.
        seen |= {one.value} if row.rate >= USUAL else set()
        singles.append(one)
    pairs, alike = pairs_of(calc, [one.way[0] for one in singles if goes_with_another(one.way[0])], seen)
    both = (*singles, *pairs)
    usual = sum(min(change.rate for change in one.way) >= USUAL for one in pairs)
    return Table(both, len(singles), len(singles) + usual, factors([one.value for one in both]), alike)


def factors(some: Sequence[Rational]) -> Floats:
    """Return the factors of top and bottom of values as floats, (powers of the titre, 2, values)."""
    most = max((len(each) for one in some for each in (one.top, one.bottom)), default=1)
    out = np.zeros((most, 2, len(some)))
    for place, one in enumerate(some):
        # Over a factor of the bottom, as whole numbers may be too large for a float.
        unit = max(one.bottom, key=abs)
        out[: len(one.top), 0, place] = [each / unit for each in one.top]
        out[: len(one.bottom), 1, place] = [each / unit for each in one.bottom]
    return out


def values(factors: Floats, titre: float) -> Floats:
    """Return every value at a titre [cm³], as floats; not a number where there is none."""
    top, bottom = reduce(lambda value, each: value * titre + each, factors[::-1])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(bottom == 0, np.nan, top / bottom)


@lru_cache(maxsize=4096)
def phrase(calc: Calculation, change: Change) -> str:
    """Return how a sentence about the slip begins, with the practical's figures."""
    inputs = {} if calc.undiluted is None else calc.undiluted.of
    inputs = {**inputs, **calc.formula.of}
    volumes = {
        word: next((volume_text(each.value) for name, each in inputs.items() if name.endswith(key) and each.value), "")
        for word, key in _VOLUMES.items()
    }
    ratios = {word: _ratio(calc, key) for word, key in (("ratio", "n.unknown"), ("left", "n.left"))}
    return change.phrase.format(**volumes, **ratios, **calc.names)


_VOLUMES = {
    "taken": "dilution.taken",
    "made": "dilution.made_up_to",
    "aliquot": "flask.aliquot",
    "flask": "sample.made_up_to",
    "mixture": "excess.made_up_to",
}
"""Word of a phrase -> how the name of the input ends that it stands for."""


def _ratio(calc: Calculation, key: str) -> str:
    """Return the mole ratio of a step: "1 : 2"."""
    step = next((step for step in calc.formula.steps if step.name == key), None)
    if step is None:
        return ""
    top, bottom = (calc.formula.of[name].text for _, name in step.terms[1:])
    return f"{bottom} : {top}"


SAME = 1e-10
"""Values no further apart than this share are one."""


def near(some: Floats, value: float, tolerance: float) -> list[int]:
    """Return the places of the values within a tolerance."""
    return np.flatnonzero((some >= value - tolerance) & (some <= value + tolerance)).tolist()


def sizes(some: Floats) -> tuple[float, ...]:
    """Return the distinct sizes of the values, ascending; of those that are not a number none."""
    found: list[float] = []
    for size in np.sort(np.abs(some[~np.isnan(some)])).tolist():
        if not found or size - found[-1] > SAME * size:
            found.append(size)
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Tabled:
    """A practical's sum, done in every way, at one volume in the mean's place [cm³]."""

    calc: Calculation
    titre: Fraction

    @property
    def rows(self) -> Table:
        """The ways of doing the sum."""
        return table(self.calc)

    @cached_property
    def right(self) -> Fraction | None:
        """What the right sum gives."""
        return self.calc.formula.curve.value.at(self.titre)

    @cached_property
    def singles(self) -> Floats:
        """The values of the single slips."""
        return values(self.rows.factors[..., : self.rows.singles], float(self.titre))

    @cached_property
    def every(self) -> Floats:
        """The values of single slips and pairs."""
        return values(self.rows.factors, float(self.titre))

    @cached_property
    def single_sizes(self) -> tuple[float, ...]:
        """The distinct sizes of the values of single slips."""
        return sizes(self.singles)

    @cached_property
    def all_sizes(self) -> tuple[float, ...]:
        """The distinct sizes of all values."""
        return sizes(self.every)

    @cached_property
    def early(self) -> tuple[Early, ...]:
        """What comes of rounding too early, to one figure or more."""
        return tuple(early(self.calc, self.titre))

    @cached_property
    def early_results(self) -> Floats:
        """The results of these."""
        return np.array([float(one.result) for one in self.early], dtype=np.float64)

    def exact(self, place: int) -> Fraction | None:
        """Return the exact value of one way of doing the sum; None where it has none."""
        return self.rows.candidates[place].value.at(self.titre)


@lru_cache(maxsize=1 << 12)
def tabled(calc: Calculation, titre: Fraction) -> Tabled:
    """Return the table of a practical at one volume [cm³]."""
    return Tabled(calc, titre)
