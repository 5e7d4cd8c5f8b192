"""One step of the working that leads from a titre to the result, exact, with what it takes to print it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

Exact = Fraction


@dataclass(frozen=True)
class Link:
    """One step of the working: what it gives, how, and in what unit."""

    what: str
    """What the step gives, as in "amount of NaOH in the flask"."""
    formula: str
    """As in "n = c × V ÷ 1000"."""
    numbers: Callable[[str, str], str]
    """The formula with figures, given the figures of the value before and of the titre."""
    apply: Callable[[Exact, Exact], Exact]
    """Value of the step, given the value before and the titre [cm³]; the first step is given the titre twice."""
    unit: str
    """Unit in data form."""


def amount_in_titre(titrant: str, strength: Decimal | None, concentration: Exact) -> Link:
    """Return the step from a titre [cm³] to the amount of the titrant in it.

    strength        its concentration as the practical writes it [mol/dm³]
    concentration   the same, exact
    """
    return Link(
        f"amount of {titrant} in the mean titre",
        "n = c × V ÷ 1000",
        lambda _, titre: f"{strength} mol/dm³ × {titre} cm³ ÷ 1000",
        lambda _, titre: concentration * titre / 1000,
        "mol",
    )


def evaluate(links: Iterable[Link], titre: Exact) -> Exact:
    """Return the exact value at the end of the steps."""
    value = titre
    for link in links:
        value = link.apply(value, titre)
    return value
