"""Acids, bases, complexes and indicators by their tables: which one a formula or a name stands for."""

import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from math import log10
from typing import Any, NamedTuple

from labmark.places import packaged_text
from labmark.practical import Practical
from labmark.practical.equation import EquationError, Species, parse_formula
from labmark.problems import InputError, Problem

Kind = tuple[tuple[tuple[str, Any], ...], int]
"""Atoms and charge: CH3COOH is the same as C2H4O2."""


class Acid(NamedTuple):
    """An acid or base, as one of its forms."""

    name: str
    pka: tuple[float, ...]
    lost: float
    """Hydrogens that each of it has lost."""
    source: str
    times: int = 1
    """How many of it one formula holds: 4 in borax."""


@cache
def table(name: str) -> Mapping[str, Any]:
    """Return a table of the lesson: acids, indicators, solutions."""
    return tomllib.loads(packaged_text(f"lesson/{name}.toml"))


def kind(species: Species) -> Kind:
    """Return what makes two formulas the same."""
    return species.atoms, species.charge


@cache
def _acids() -> dict[Kind, Acid]:
    """Return every form in the table."""
    found = {}
    for row in table("acids")["acid"]:
        pka = tuple(row["pka"] if "pka" in row else (-log10(each) for each in row["ka"]))
        for formula, lost in row["forms"].items():
            times, lost = lost if isinstance(lost, list) else (1, lost)
            found[kind(parse_formula(formula))] = Acid(row["name"], pka, lost, row["source"], times)
    return found


def acid_of(species: Species, practical: Practical, partner_gives_hydrogen: bool | None = None) -> Acid | None:
    """Return the acid or base that a species is a form of, with the practical's own pKa where it has one.

    What stands in no table is taken as the acid itself, or as the base where its partner is an acid.
    """
    known, own = _acids().get(kind(species)), _own(practical)
    if known is not None and known.pka:
        given = next((pka for of, pka in own.items() if (one := _acids().get(of)) and one.name == known.name), None)
        return known._replace(pka=given, source="the practical") if given else known
    if known is None and kind(species) in own:
        pka = own[kind(species)]
        return Acid(species.name, pka, len(pka) if partner_gives_hydrogen else 0, "the practical")
    return known


def _own(practical: Practical) -> dict[Kind, tuple[float, ...]]:
    """Return the pKa's that stand in the practical. Raises InputError for those that fit no formula."""
    found: dict[Kind, tuple[float, ...]] = {}
    for formula, given in practical.file.pka.items():
        pka = tuple(map(float, [given] if isinstance(given, Decimal) else given))
        try:
            of = kind(parse_formula(formula))
        except EquationError as error:
            raise InputError(Problem(f"key pka: {error}", "give a formula, as in CH3COOH")) from error
        known = _acids().get(of)
        if known is not None and len(known.pka) != len(pka):
            what = f"key pka.{formula}: {known.name} has {len(known.pka)} acid constants, found {len(pka)}"
            raise InputError(Problem(what, "give them all, the strongest hydrogen first"))
        found[of] = pka
    return found


def edta_complex(metal: Species) -> float | None:
    """Return log K of the complex of a metal ion with EDTA."""
    constants = {kind(parse_formula(formula)): value for formula, value in table("acids")["edta"]["log_k"].items()}
    return constants.get(kind(metal))


def indicator_named(text: str, rows: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """Return the row of an indicator that a practical names; the longest name where several fit."""
    fitting = [row for row in rows if row["name"] in text.casefold()]
    return max(fitting, key=lambda row: len(row["name"]), default=None)
