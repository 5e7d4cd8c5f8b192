"""The slips of the working as one table, and every way of doing a practical's sum that they lead to.

A row says what is done differently, which finding it is, how common it is beside the others, and what to say. The
rates are relative to one another: common practice, no source. Rows that change nothing in a practical (a ratio left out
where it is 1 : 1) are no candidates.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt

from labmark.diagnose.working_calculation import CONCENTRATIONS, RIGHT, Calculation, Way, scale_volumes, volume_text
from labmark.diagnose.working_sums import Line, line, steps

PAIR_RATE = 0.15
"""How much rarer a second slip is beside a first one than on its own (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Change:
    """One slip: what is done differently from the right way."""

    field: str
    """of `Way`"""
    done: str | int
    finding: str
    cause: str
    """a few words, the same for every practical: "mole ratio left out" """
    phrase: str
    """how a sentence about it begins: "Leaving out the {ratio} ratio" """
    rate: float
    applies: Callable[[Calculation], bool]


def has_ratio(calc: Calculation) -> bool:
    """Return whether the mole ratio is other than 1 : 1."""
    return calc.coefficient_known != calc.coefficient_unknown


def has_wide_ratio(calc: Calculation) -> bool:
    """Return whether neither side of the mole ratio is 1 (2 : 5)."""
    return has_ratio(calc) and 1 not in (calc.coefficient_known, calc.coefficient_unknown)


def in_solution(calc: Calculation) -> bool:
    """Return whether a solution's concentration is asked for."""
    return calc.quantity in CONCENTRATIONS


def is_diluted(calc: Calculation) -> bool:
    """Return whether a dilution factor belongs in the sum."""
    return in_solution(calc) and calc.dilution is not None and calc.report_original


def not_asked(calc: Calculation) -> bool:
    """Return whether there was a dilution, and the diluted solution is asked for."""
    return in_solution(calc) and calc.dilution is not None and not calc.report_original


def is_scaled(calc: Calculation) -> bool:
    """Return whether a portion of a made-up sample was titrated."""
    return not in_solution(calc) and scale_volumes(calc) is not None


def has_two_volumes(calc: Calculation) -> bool:
    """Return whether the sum holds both titre and aliquot, one over the other."""
    if calc.excess is not None:
        return in_solution(calc) and not calc.excess.whole
    return bool(calc.aliquot) and (in_solution(calc) or is_scaled(calc))


def is_back(calc: Calculation) -> bool:
    """Return whether it is a back titration."""
    return calc.excess is not None


def has_ratio_left(calc: Calculation) -> bool:
    """Return whether, in a back titration, titrant and reagent left over react other than 1 : 1."""
    return calc.excess is not None and calc.excess.coefficient != calc.excess.coefficient_titrant


def has_mixture(calc: Calculation) -> bool:
    """Return whether, in a back titration, a portion of the mixture was titrated."""
    return calc.excess is not None and calc.excess.mixture is not None


def has_mass(calc: Calculation) -> bool:
    """Return whether the sum multiplies by a molar mass."""
    return calc.molar_mass is not None and calc.quantity in {
        "mass concentration",
        "percent mass by volume",
        "percent by mass",
        "mass",
    }


def of(*quantities: str) -> Callable[[Calculation], bool]:
    """Return a test for the quantities."""
    return lambda calc: calc.quantity in quantities


def dissolved_flask(calc: Calculation) -> bool:
    """Return whether the answer may be given per made-up flask instead of per dm³."""
    return is_diluted(calc) and calc.quantity != "percent mass by volume"


def always(calc: Calculation) -> bool:
    """Return True: the slip may happen in every practical."""
    return True


DILUTION = "dilution-ignored"
OTHER = "result-slip"
WATER = "water of crystallisation"

CHANGES: tuple[Change, ...] = (
    Change("ratio", "left out", "ratio-ignored", "mole ratio left out",
           "leaving out the {ratio} ratio of {known} to {unknown}", 0.30, has_ratio),
    Change("ratio", "upside down", "ratio-inverted", "mole ratio upside down",
           "taking the {ratio} ratio of {known} to {unknown} upside down", 0.15, has_ratio),
    Change("ratio", "multiplied only", "ratio-ignored", "half of the mole ratio left out",
           "multiplying by one number of the {ratio} ratio without dividing by the other", 0.05, has_wide_ratio),
    Change("ratio", "divided only", "ratio-ignored", "half of the mole ratio left out",
           "dividing by one number of the {ratio} ratio without multiplying by the other", 0.05, has_wide_ratio),
    Change("thousands", 1, "volume-units", "cm³ not turned into dm³ (× 1000)",
           "leaving a volume in cm³ where dm³ is needed", 0.12, always),
    Change("thousands", -1, "volume-units", "1000 divided by once too often",
           "dividing by 1000 once too often", 0.10, always),
    Change("thousands", 2, "volume-units", "1000 multiplied by twice too often",
           "being out by 1000 twice", 0.01, always),
    Change("thousands", -2, "volume-units", "1000 divided by twice too often",
           "dividing by 1000 twice too often", 0.01, always),
    Change("volumes", "swapped", "volumes-swapped", "titre and aliquot swapped",
           "swapping titre and aliquot", 0.12, has_two_volumes),
    Change("volumes", "titre for both", OTHER, "the titre taken for both volumes",
           "taking the titre for both volumes", 0.01, has_two_volumes),
    Change("dilution", "left out", DILUTION, "dilution factor left out",
           "leaving out the dilution ({taken} to {made} cm³)", 0.25, is_diluted),
    Change("dilution", "wrong way", DILUTION, "dilution factor the wrong way round",
           "applying the dilution ({taken} to {made} cm³) the wrong way round", 0.08, is_diluted),
    Change("dilution", "by the aliquot", DILUTION, "scaled up by the aliquot instead of the volume diluted",
           "scaling up by {made} ÷ {aliquot} instead of {made} ÷ {taken}", 0.06, is_diluted),
    Change("dilution", "water added", DILUTION, "scaled up by the water added",
           "scaling up by the water added instead of the whole flask", 0.02, is_diluted),
    Change("dilution", "twice", DILUTION, "dilution factor applied twice",
           "applying the dilution twice", 0.01, is_diluted),
    Change("dilution", "applied", DILUTION, "dilution factor applied where the diluted solution is asked for",
           "applying the dilution although the diluted solution was asked for", 0.10, not_asked),
    Change("scale", "left out", DILUTION, "per aliquot instead of per flask",
           "giving the answer for one {aliquot} cm³ portion instead of the whole {made} cm³", 0.20, is_scaled),
    Change("scale", "wrong way", DILUTION, "scaled down from aliquot to flask",
           "scaling down instead of up from {aliquot} cm³ to {made} cm³", 0.04, is_scaled),
    Change("scale", "per dm3", OTHER, "per dm³ instead of per flask",
           "reckoning with 1 dm³ instead of the {made} cm³", 0.08, is_scaled),
    Change("difference", "forgotten", "difference-forgotten", "back titration: difference not taken",
           "using what was left over instead of what was used up", 0.20, is_back),
    Change("left", "left out", "ratio-ignored", "mole ratio of the titration left out",
           "leaving out the {left} ratio of {titrant} to {known}", 0.20, has_ratio_left),
    Change("left", "upside down", "ratio-inverted", "mole ratio of the titration upside down",
           "taking the {left} ratio of {titrant} to {known} upside down", 0.10, has_ratio_left),
    Change("mixture", "left out", DILUTION, "portion of the mixture taken for all of it",
           "taking what was left in {aliquot} cm³ for what was left in all {mixture} cm³", 0.20, has_mixture),
    Change("mixture", "after the difference", DILUTION, "scaled up after the difference instead of before",
           "scaling up from {aliquot} cm³ to {mixture} cm³ after taking the difference", 0.08, has_mixture),
    Change("mixture", "wrong way", DILUTION, "scaled down from aliquot to mixture",
           "scaling down instead of up from {aliquot} cm³ to {mixture} cm³", 0.04, has_mixture),
    Change("mass", "left out", OTHER, "molar mass left out", "leaving out the molar mass", 0.06, has_mass),
    Change("mass", "divided", OTHER, "divided by the molar mass", "dividing by the molar mass", 0.04, has_mass),
    Change("finish", "upside down", OTHER, "percentage the wrong way up",
           "taking the percentage the wrong way up", 0.06, of("percent by mass")),
    Change("finish", "upside down", OTHER, "molar mass the wrong way up",
           "dividing amount by mass instead of mass by amount", 0.08, of("molar mass", WATER)),
    Change("finish", "no hundred", OTHER, "not turned into a percentage",
           "leaving out × 100", 0.08, of("percent by mass")),
    Change("finish", "mass only", OTHER, "mass given instead of percentage",
           "stopping at the mass", 0.04, of("percent by mass")),
    Change("finish", "salt not taken off", OTHER, "mass of the anhydrous salt not taken off",
           "not taking off the mass of the anhydrous salt", 0.08, of(WATER)),
    Change("finish", "not divided by water", OTHER, "not divided by the molar mass of water",
           "stopping before dividing by the molar mass of water", 0.08, of(WATER)),
    Change("finish", "per flask", OTHER, "per flask instead of per dm³",
           "giving what is in {made} cm³ instead of in 1 dm³", 0.03, dissolved_flask),
    Change("finish", "per dm3", OTHER, "per dm³ instead of per 100 cm³",
           "giving the mass in 1 dm³ instead of in 100 cm³", 0.08, of("percent mass by volume")),
    Change("finish", "decimal left", OTHER, "decimal point one place out",
           "a decimal point one place to the left", 0.015, always),
    Change("finish", "decimal right", OTHER, "decimal point one place out",
           "a decimal point one place to the right", 0.015, always),
)  # fmt: skip
"""Every slip of the working that is a different way of doing the sum."""

STOP_RATE = 0.02
USUAL = 0.05
"""A slip of this rate or more is a usual one."""
FORMULA_RATE = 0.15
WRONG_MASS = "wrong formula mass"


def mass_changes(calc: Calculation) -> list[Change]:
    """Return a row for each other molar mass that may be taken."""
    if calc.molar_mass is None:
        return []
    fair = (calc.molar_mass, *calc.accepted_molar_masses)
    wrong = [(name, value) for name, value in calc.other_molar_masses if value not in fair]
    # The first is the likeliest, the second half as likely, the third a third.
    share = FORMULA_RATE / sum(1 / place for place, _ in enumerate(wrong, start=1)) if wrong else 0
    return [
        Change(
            "mass",
            name,
            OTHER,
            WRONG_MASS,
            f"taking the molar mass of {name}",
            share / place,
            always,
        )
        for place, (name, _) in enumerate(wrong, start=1)
    ]


def stop_changes(calc: Calculation) -> list[Change]:
    """Return a row for each step at which the sum may be broken off."""
    return [
        Change(
            "stop",
            step.name,
            OTHER,
            f"stopped early, at the {step.name}",
            f"stopping at the {step.name}",
            STOP_RATE,
            always,
        )
        for step in steps(calc)[:-1]
    ]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A way of doing the sum with one slip or two."""

    way: Way
    changes: tuple[Change, ...]
    line: Line
    rate: float


def changed(changes: tuple[Change, ...]) -> Way:
    """Return the way with these changes."""
    fields: dict[str, Any] = {change.field: change.done for change in changes}
    return RIGHT._replace(**fields)


def candidate(calc: Calculation, changes: tuple[Change, ...]) -> Candidate:
    """Return the candidate that these changes make."""
    way = changed(changes)
    rate = changes[0].rate if len(changes) == 1 else PAIR_RATE * changes[0].rate * changes[1].rate
    return Candidate(way, changes, line(calc, way), rate)


def normal(value: Line) -> tuple[Fraction, ...]:
    """Return a line over a line scaled so that equal ones are equal tuples."""
    lead = next(part for part in (*value[2:], *value[:2]) if part)
    return tuple(part / lead for part in value)


@dataclass(frozen=True, slots=True)
class Table:
    """Every candidate of a practical: the single slips first, then the pairs, with their lines as float columns."""

    candidates: tuple[Candidate, ...]
    singles: int
    """how many of them are single slips"""
    usual: int
    """where the pairs of two usual slips end"""
    lines: npt.NDArray[np.float64]
    """(4, candidates): p, q, r, s; floats only sieve, the exact lines decide"""
    alike: dict[Way, tuple[Candidate, ...]]
    """way of a pair -> rarer pairs of other slips that always give the same"""


def pairs_of(
    calc: Calculation, changes: list[Change], single: set[tuple[Fraction, ...]]
) -> tuple[list[Candidate], dict[Way, tuple[Candidate, ...]]]:
    """Return the pairs that give something new, the commonest of those that are the same, and the others beside it."""
    twos = [two for two in combinations(changes, 2) if go_together(*two)]
    found: dict[tuple[Fraction, ...], list[Candidate]] = {}
    for two in sorted(twos, key=lambda two: -two[0].rate * two[1].rate):
        one = candidate(calc, two)
        key = normal(one.line)
        if key not in single:
            found.setdefault(key, []).append(one)
    pairs = [same[0] for same in found.values()]
    pairs.sort(key=lambda one: min(change.rate for change in one.changes) < USUAL)
    return pairs, {same[0].way: tuple(same[1:]) for same in found.values() if len(same) > 1}


def goes_with_another(one: Change) -> bool:
    """Return whether a slip is thought of beside another: a sum broken off is not, nor a far-fetched molar mass."""
    return one.field != "stop" and (one.cause != WRONG_MASS or one.rate >= USUAL)


def go_together(first: Change, second: Change) -> bool:
    """Return whether two slips may occur in one sum: not two at the same place, nor two about the same volumes."""
    return first.field != second.field and {first.field, second.field} != {"volumes", "scale"}


@lru_cache(maxsize=256)
def table(calc: Calculation) -> Table:
    """Return every candidate of a practical. Single slips of different findings that give the same are all kept."""
    rows = [row for row in CHANGES if row.applies(calc)] + mass_changes(calc) + stop_changes(calc)
    rows.sort(key=lambda row: -row.rate)
    right = normal(line(calc))
    seen = {right}
    singles, kept = [], set()
    for row in rows:
        one = candidate(calc, (row,))
        key = normal(one.line)
        if key == right or (key, row.finding) in kept:
            continue
        kept.add((key, row.finding))
        seen.add(key)
        singles.append(one)
    changes = [one.changes[0] for one in singles if goes_with_another(one.changes[0])]
    pairs, alike = pairs_of(calc, changes, seen)
    both = (*singles, *pairs)
    lines = np.array([[float(part) for part in one.line] for one in both], dtype=np.float64).reshape(-1, 4).T
    usual = sum(min(change.rate for change in one.changes) >= USUAL for one in pairs)
    return Table(both, len(singles), len(singles) + usual, lines, alike)


def values(lines: npt.NDArray[np.float64], titre: float) -> npt.NDArray[np.float64]:
    """Return the value of every line at a titre [cm³], as floats; not a number where there is none."""
    p, q, r, s = lines
    bottom = r + s * titre
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(bottom == 0, np.nan, (p + q * titre) / bottom)


@lru_cache(maxsize=4096)
def phrase(calc: Calculation, change: Change) -> str:
    """Return how a sentence about the slip begins, with the practical's figures."""
    made = scale_volumes(calc) or Fraction(0)
    taken = calc.dilution[0] if calc.dilution else Fraction(0)
    excess = calc.excess
    return change.phrase.format(
        ratio=f"{calc.coefficient_known} : {calc.coefficient_unknown}",
        known=calc.known,
        unknown=calc.unknown,
        taken=volume_text(taken),
        made=volume_text(made),
        aliquot=volume_text(calc.aliquot),
        left=f"{excess.coefficient_titrant} : {excess.coefficient}" if excess else "",
        titrant=excess.titrant if excess else "",
        mixture=volume_text(excess.mixture) if excess and excess.mixture else "",
    )
