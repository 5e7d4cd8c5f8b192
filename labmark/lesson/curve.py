"""Titration curves from what must balance, with concentrations for activities.

Acids and bases: the charges of all ions in the flask add up to nothing. At one pH each solution has a charge per dm³ q,
and the water one of [H+] - [OH-], so

    V0 q_flask + V q_titrant + (V0 + V)([H+] - [OH-]) = 0

is linear in V: the titrant that brings a pH about follows at once, and the pH after a volume by halving an interval.
EDTA: metal ion and EDTA are each either free or in the complex; with the conditional constant of one pH this is linear
in V likewise.
"""

from collections.abc import Callable, Sequence
from math import log10
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labmark.dataclass import dataclass

Floats = NDArray[np.float64]
PKW = 14.0
"""Of water at 25 °C."""
LOWEST, HIGHEST = -2.0, 40.0
"""pH and pM between which a solution is sought."""
HALVINGS = 60


class Solute(NamedTuple):
    """An acid or base in solution."""

    concentration: float
    """[mol/dm³]"""
    pka: tuple[float, ...]
    """Of its most protonated form, the strongest hydrogen first."""
    lost: float
    """Hydrogens that it has lost as it is put in: what the ions beside it make up for; -1 for a strong acid."""


@dataclass(frozen=True, slots=True)
class Curve:
    """A titration: what is measured in the flask, against the volume of titrant [cm³]."""

    quantity: str
    """pH, or pM of a metal ion."""
    equivalence: float
    """Titrant that the equation calls for [cm³]."""
    surplus: Callable[[Floats, Floats], Floats]
    """(p, volume) -> how far out the balance is; it falls as p rises, and goes with the volume in a straight line."""

    def at(self, volume: ArrayLike) -> Floats:
        """Return the pH (or pM) after volumes of titrant (n,) [cm³]."""
        volumes = np.atleast_1d(np.asarray(volume, dtype=np.float64))
        low, high = np.full_like(volumes, LOWEST), np.full_like(volumes, HIGHEST)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            above = self.surplus(middle, volumes) < 0
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        return (low + high) / 2

    def volume(self, p: float) -> float:
        """Return the titrant that brings a pH about [cm³]; 0, or twice the equivalence, where that lies outside."""
        start, end = self.at([0.0, 2 * self.equivalence]).tolist()
        rising = end > start
        if (p <= start) if rising else (p >= start):
            return 0.0
        if (p >= end) if rising else (p <= end):
            return 2 * self.equivalence
        of_none, of_one = (float(self.surplus(np.array([p]), np.array([each]))[0]) for each in (0.0, 1.0))
        return of_none / (of_none - of_one)


def acid_base(flask: Sequence[Solute], volume: float, titrant: Sequence[Solute], equivalence: float) -> Curve:
    """Return the curve of `titrant` run into `volume` cm³ of the solution in the flask."""

    def surplus(p: Floats, run_in: Floats) -> Floats:
        water = np.asarray(10.0**-p - 10.0 ** (p - PKW))
        return volume * _charge(flask, p) + run_in * _charge(titrant, p) + (volume + run_in) * water

    return Curve("pH", equivalence, surplus)


def _charge(solutes: Sequence[Solute], p: Floats) -> Floats:
    """Return the charge of the acids and bases and of the ions beside them [mol/dm³] at each pH."""
    total = np.zeros_like(p)
    for one in solutes:
        hydrogens_lost = np.arange(len(one.pka) + 1) @ _shares(one.pka, p)
        total = total + one.concentration * (one.lost - hydrogens_lost)
    return total


def _shares(pka: Sequence[float], p: Floats) -> Floats:
    """Return the share of each form (k, n): the one that has lost nothing first."""
    steps = [np.zeros_like(p)]
    for each in pka:
        steps.append(steps[-1] + p - each)
    powers = np.array(steps)
    shares = 10.0 ** (powers - powers.max(axis=0))
    return np.asarray(shares / shares.sum(axis=0))


def conditional(log_k: float, pka: Sequence[float], ph: float) -> float:
    """Return log K' of a complex with the wholly deprotonated form of an acid, at one pH."""
    return log_k + log10(float(_shares(pka, np.array([ph]))[-1, 0]))


def complexation(
    metal: float, volume: float, titrant: float, log_conditional: float, equivalence: float, quantity: str
) -> Curve:
    """Return the curve of a 1 : 1 complex: `titrant` mol/dm³ run into `volume` cm³ of metal ion [mol/dm³]."""

    def surplus(p: Floats, run_in: Floats) -> Floats:
        bound = 1 + 10.0 ** (p - log_conditional)  # titrant per metal ion that is not free
        return np.asarray(titrant * run_in - (metal * volume - 10.0**-p * (volume + run_in)) * bound)

    return Curve(quantity, equivalence, surplus)
