"""Chemical equations: species, balance and mole ratio.

The mole ratio is never typed by anyone: it comes from an equation that balances in atoms and charge.

    2 NaOH + H2SO4 -> Na2SO4 + 2 H2O        NaOH : H2SO4 = 2 : 1

Charges may be written MnO4-, Fe2+, SO4^2-, S2O3(2-) or S₂O₃²⁻. Fe2+ alone could be read as iron(II) or as
a pair of iron atoms with one charge: of the possible readings, the one that balances is taken.

A capital letter that is no element (A, Q, R, X, Z ...) stands for a group of unknown mass and balances like an element:
H2A + 2 NaOH -> Na2A + 2 H2O.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import chain, pairwise, product
from math import prod, sqrt
from typing import NamedTuple

from labmark.dataclass import dataclass
from labmark.exact import raised

_ARROW = re.compile(r"\s*(?:<=>|<->|-+>|=+>|→|⟶|⇌|⇄|=)\s*")
_STATE = re.compile(r"\s*\((?:s|l|g|aq|conc|dil)\)\s*$", re.IGNORECASE)
_COEFFICIENT = re.compile(r"^(\d{1,9}/[1-9]\d{0,8}|\d{1,9}(?:\.\d{1,9})?)\s*(?=[A-Z(\[e])")
_EXPLICIT_CHARGE = re.compile(r"^(?P<core>.+?)(?:\^\{?(?P<a>\d*[+-])\}?|\((?P<b>\d*[+-])\)|\s+(?P<c>\d*[+-]))$")
_BARE_CHARGE = re.compile(r"^(?P<core>.*?)(?P<digit>\d?)(?P<sign>\++|-+)$")
_SUPERSCRIPT = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")
_SUBSCRIPT_OUT = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_MOST_READINGS = 4096
PLENTY = ("H+", "OH-", "H2O", "H3O+")
"""Species that are in a flask along with the sample's, and always in plenty."""
ACIDS = ("H2SO4", "HCl", "HNO3", "H3PO4", "CH3COOH")
"""So do these, but where a base is titrated with."""
_GROUP = re.compile(r"[AEGJLMQRXZ](?![a-z])")
"""A capital letter that is no element, and so stands for a group of unknown mass."""

WEIGHT_WITHIN: dict[str, float] = {
    "H": 0.0002, "C": 0.002, "N": 0.001, "O": 0.001, "F": 0.001, "Na": 0.001, "Mg": 0.002, "Al": 0.001, "P": 0.001,
    "S": 0.02, "Cl": 0.01, "K": 0.001, "Ca": 0.004, "Cr": 0.001, "Mn": 0.001, "Fe": 0.002, "Cu": 0.003, "Zn": 0.02,
    "Br": 0.003, "Ag": 0.001, "I": 0.001, "Ba": 0.01,
}  # fmt: skip
"""± of the abridged standard atomic weights (CIAAW 2021; from memory, held against the library's in a test)."""
WEIGHT_WITHIN_OTHERWISE = 0.02


class EquationError(ValueError):
    """The equation cannot be read or does not balance; the message says what to look at."""


class Species(NamedTuple):
    """One substance or ion of an equation."""

    formula: str
    """Formula without charge, state or coefficient, as in Na2CO3.10H2O."""
    charge: int
    """Charge number; 0 for a neutral substance."""
    atoms: tuple[tuple[str, Fraction], ...]
    """(element symbol, number), sorted; empty for an electron."""

    @property
    def has_known_mass(self) -> bool:
        """Return whether no group of unknown mass is in it."""
        return not any(_GROUP.fullmatch(symbol) for symbol, _ in self.atoms)

    @property
    def name(self) -> str:
        """Return the species with its charge, as in MnO4-, Fe2+ or SO4^2-."""
        caret = "^" if abs(self.charge) > 1 and len(self.atoms) > 1 else ""
        return self.formula + caret + _charge_text(self.charge)

    def is_named(self, text: str) -> bool:
        """Return whether a text names it, however it writes the charge."""
        return (self.formula, self.charge) in _charge_readings(_plain(text))

    @property
    def shown(self) -> str:
        """Return the species as it is printed, as in MnO₄⁻."""
        return shown_formula(self.formula) + raised(_charge_text(self.charge))


@dataclass(frozen=True)
class Equation:
    """A balanced equation, or a chain of them from the sample to the titrant, each with numbers that fit the others."""

    left: tuple[tuple[Fraction, Species], ...]
    right: tuple[tuple[Fraction, Species], ...]
    parts: tuple["Equation", ...] = ()
    """The equations of a chain as they are written; empty for a single one."""
    links: tuple[Species, ...] = ()
    """What joins each equation of a chain to the next."""
    brought: tuple[tuple[Fraction, Species, Species], ...] = ()
    """Substances that stand for a species that they bring, as K2Cr2O7, with their numbers: (number, substance, ion)."""
    scale: Fraction = Fraction(1)
    """What the numbers as written are multiplied by, so that those of the substances are whole."""

    @property
    def terms(self) -> tuple[tuple[Fraction, Species], ...]:
        """Return every species with its number, left to right, then the substances that bring one."""
        written = tuple((number * self.scale, species) for number, species in (*self.left, *self.right))
        return (*written, *((number, substance) for number, substance, _ in self.brought))

    def as_written(self, species: Species) -> Species:
        """Return what the equation writes for a substance: the ion that it brings, or the species itself."""
        return next((ion for _, substance, ion in self.brought if substance == species), species)

    def find(self, text: str) -> Species | None:
        """Return the species that `text` names, or None."""
        return next((species for _, species in self.terms if species.is_named(text)), None)

    def coefficient(self, species: Species) -> Fraction:
        """Return the stoichiometric number of a species (of the left side first)."""
        return next(number for number, each in self.terms if each == species)

    def used_up(self, species: Species) -> Fraction:
        """Return how much of a species is used up; below 0 where it is made, 0 where it stands on both sides alike."""
        species = self.as_written(species)
        terms = [*self.left, *((-number, each) for number, each in self.right)]
        return sum((number for number, each in terms if each == species), Fraction(0))

    def also_used_up(self, one: Species, other: Species) -> list[Species]:
        """Return the species that the first reacts with by itself, without the second, within this equation.

        NaOH + Na2CO3 + 3 HCl -> 3 NaCl + 2 H2O + CO2 are two reactions in one; water and the ions that are always there
        are no second substance.
        """
        one, other = self.as_written(one), self.as_written(other)
        plenty = PLENTY if "OH" in one.formula else (*PLENTY, *ACIDS)
        beside = [each for _, each in self.left if each not in (one, other) and each.name not in plenty]
        return [each for each in beside if self._has_part(one, each, other)]

    def _has_part(self, one: Species, with_: Species, without: Species) -> bool:
        """Return whether some amounts of the species, on the sides where they stand, balance without one of them."""
        from scipy.optimize import linprog

        terms = [(1, each) for _, each in self.left] + [(-1, each) for _, each in self.right]
        kept = [(sign, each) for sign, each in terms if each != without]
        symbols = sorted({symbol for _, each in kept for symbol, _ in each.atoms})
        rows = [[sign * float(dict(each.atoms).get(symbol, 0)) for sign, each in kept] for symbol in symbols]
        rows.append([float(sign * each.charge) for sign, each in kept])
        least = [(1 if each in (one, with_) else 0, None) for _, each in kept]
        return bool(linprog([1.0] * len(kept), A_eq=rows, b_eq=[0.0] * len(rows), bounds=least).success)

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of all species, left to right."""
        return tuple(dict.fromkeys(species.name for _, species in (*self.left, *self.right)))

    @property
    def shown(self) -> str:
        """Return the equation as it is printed; a chain is printed by its parts."""
        return " → ".join(
            " + ".join(f"{number} {species.shown}" if number != 1 else species.shown for number, species in side)
            for side in (self.left, self.right)
        )


@lru_cache(maxsize=256)
def parse_equation(text: str) -> Equation:
    """Return the balanced equation that `text` says.

    Raises EquationError where a formula cannot be read or where no reading of the charges balances.
    """
    sides = _ARROW.split(_plain(text))
    if len(sides) != 2 or not all(side.strip() for side in sides):
        what = "one arrow between what reacts and what is formed"
        raise EquationError(f"expected {what}, as in 2 NaOH + H2SO4 -> Na2SO4 + 2 H2O")
    terms = [[_readings(term) for term in _terms(side)] for side in sides]
    flat = [*terms[0], *terms[1]]
    if prod(map(len, flat)) > _MOST_READINGS:
        raise EquationError("too many ways to read the charges; write them as in SO4^2-")
    middle = len(terms[0])
    equations = (Equation(tuple(choice[:middle]), tuple(choice[middle:])) for choice in product(*flat))
    likeliest = next(equations)
    balanced = next((each for each in chain([likeliest], equations) if not _imbalance(each)), None)
    if balanced is None:
        raise EquationError(f"does not balance: {_imbalance(likeliest)}")
    return balanced


def parse_chain(given: str | Sequence[str], through: Sequence[str]) -> Equation:
    """Return the equations of a titration as one, joined by what each makes and the next uses up.

    `through` names these links where more than one species fits. Raises EquationError where an equation cannot be read
    or does not balance, and where neighbours do not meet in one species.
    """
    parts = [_parsed(text) for text in ([given] if isinstance(given, str) else given)]
    if len(parts) == 1:
        return parts[0]
    if through and len(through) != len(parts) - 1:
        raise EquationError(f"{len(parts)} equations have {len(parts) - 1} links, and through names {len(through)}")
    links, scale = [], [Fraction(1)]
    for place, (one, other) in enumerate(pairwise(parts)):
        links.append(_link(one, other, through[place] if through else None))
        scale.append(scale[-1] * one.coefficient(links[-1]) / other.coefficient(links[-1]))
    scaled = [*zip(parts, scale, strict=True)]
    left = tuple((number * k, each) for part, k in scaled for number, each in part.left)
    right = tuple((number * k, each) for part, k in scaled for number, each in part.right)
    return Equation(left, right, tuple(parts), tuple(links))


def _parsed(text: str) -> Equation:
    try:
        return parse_equation(text)
    except EquationError as error:
        raise EquationError(f"{text!r} {error}") from error


def _link(one: Equation, other: Equation, named: str | None) -> Species:
    """Return what the first equation makes and the second uses up, or what is named, where both hold it."""
    if named is not None:
        found = one.find(named)
        if found is None or other.find(named) != found:
            raise EquationError(f"through names {named}, which does not stand in both of two neighbouring equations")
        return found
    used = {species for _, species in other.left}
    fitting = [species for _, species in one.right if species in used]
    if len(fitting) == 1:
        return fitting[0]
    names = ", ".join(species.name for species in fitting)
    both = f"{one.shown} and {other.shown}"
    if fitting:
        raise EquationError(f"{both} meet in more than one species ({names}); say which with through")
    raise EquationError(f"{both} do not meet: nothing that the first makes is used up in the second")


def parse_formula(text: str) -> Species:
    """Return the substance that a formula names, as in Na2CO3.10H2O. Raises EquationError."""
    formula, charge = _charge_readings(_plain(text))[0]
    return Species(formula, charge, _atoms(formula))


def molar_mass(atoms: Iterable[tuple[str, Fraction]]) -> Fraction:
    """Return the molar mass [g/mol] from the standard atomic weights.

    Atomic weights are those of the periodictable library (IUPAC/CIAAW standard atomic weights, conventional
    values where the standard gives an interval). The mass of the electrons of a charge is left out. Raises
    EquationError where a group of unknown mass is in it.
    """
    from periodictable import elements

    atoms = tuple(atoms)
    groups = [symbol for symbol, _ in atoms if _GROUP.fullmatch(symbol)]
    if groups:
        raise EquationError(f"{groups[0]} stands for a group whose mass is not known")
    return sum((number * Fraction(repr(elements.symbol(symbol).mass)) for symbol, number in atoms), Fraction(0))


def molar_mass_uncertainty(atoms: Iterable[tuple[str, Fraction]]) -> float:
    """Return u(M) [g/mol]: ± of each atomic weight, rectangular, the elements in quadrature.

    All atoms of an element share its error. As QUAM:2012, A2.4, does.
    """
    widths = (float(number) * WEIGHT_WITHIN.get(symbol, WEIGHT_WITHIN_OTHERWISE) for symbol, number in atoms)
    return sqrt(sum(width**2 for width in widths) / 3)


def shown_formula(formula: str) -> str:
    """Return a formula with lowered numbers, as in Na₂CO₃·10H₂O."""
    dotted = re.sub(r"[.*]", "·", formula)
    return re.sub(r"(?<=[A-Za-z)\]])\d+", lambda m: m.group().translate(_SUBSCRIPT_OUT), dotted)


def _plain(text: str) -> str:
    """Return `text` with raised figures as ^..., lowered figures as figures, and plain signs."""
    text = re.sub(r"[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+", lambda m: "^" + m.group().translate(_SUPERSCRIPT), text)
    text = unicodedata.normalize("NFKC", text)
    return text.replace("−", "-").replace("–", "-").replace("*", ".").replace("·", ".").replace("•", ".").strip()


def _terms(side: str) -> list[str]:
    """Split one side of an equation into its terms; a + that belongs to a charge has no space before it."""
    return [term for term in re.split(r"\s+\+\s*|(?<=[A-Za-z0-9)\]])\+(?=\d*[A-Z(\[])", side.strip()) if term.strip()]


def _readings(term: str) -> list[tuple[Fraction, Species]]:
    """Return every way to read one term as (stoichiometric number, species), the likeliest first."""
    term = _STATE.sub("", term.strip())
    match = _COEFFICIENT.match(term)
    number = Fraction(match.group(1)) if match else Fraction(1)
    body = term[match.end() :] if match else term
    found = []
    for formula, charge in _charge_readings(body):
        try:
            found.append((number, Species(formula, charge, _atoms(formula))))
        except EquationError as error:
            problem = error
    if not found:
        raise problem
    return found


def _charge_readings(text: str) -> list[tuple[str, int]]:
    """Return every (formula, charge number) that `text` may mean, the likeliest first."""
    text = _STATE.sub("", text.strip())
    if text in ("e-", "e^-", "e"):
        return [("e", -1)]
    explicit = _EXPLICIT_CHARGE.match(text)
    if explicit:
        charge = explicit["a"] or explicit["b"] or explicit["c"]
        return [(_tidy(explicit["core"]), _charge(charge[:-1], charge[-1]))]
    bare = _BARE_CHARGE.match(text)
    if not bare or not bare["core"]:
        return [(_tidy(text), 0)]
    core, digit, sign = bare["core"], bare["digit"], bare["sign"]
    if not digit or len(sign) > 1:
        return [(_tidy(core + digit), _charge("", sign[0]) * len(sign))]
    with_charge, with_atoms = (core, _charge(digit, sign)), (core + digit, _charge("", sign))
    # Fe2+ is far commoner than a charged pair of atoms; MnO4- is far commoner than a fourfold charge.
    single_atom = re.fullmatch(r"[A-Z][a-z]?", core) is not None
    order = (with_charge, with_atoms) if single_atom else (with_atoms, with_charge)
    return [(_tidy(formula), charge) for formula, charge in order]


def _charge(digits: str, sign: str) -> int:
    return int(digits or "1") * (1 if sign == "+" else -1)


def _charge_text(charge: int) -> str:
    if not charge:
        return ""
    size = "" if abs(charge) == 1 else str(abs(charge))
    return size + ("+" if charge > 0 else "-")


def _tidy(formula: str) -> str:
    return re.sub(r"\s+", "", formula).replace("[", "(").replace("]", ")")


def _atoms(formula: str) -> tuple[tuple[str, Fraction], ...]:
    """Return (symbol, number) of each element in a formula; a hydrate is the sum of its parts."""
    from periodictable import elements

    if formula == "e":
        return ()
    total: Counter[str] = Counter()
    for part in formula.split("."):
        match = re.match(r"\d{0,9}", part)
        factor, core = int(match.group() or 1), part[match.end() :]  # type: ignore[union-attr]
        for symbol, number in _counted(core, formula).items():
            if not _GROUP.fullmatch(symbol) and not hasattr(elements, symbol):
                raise EquationError(f"{formula!r} is not a chemical formula ({symbol} is no element)")
            total[symbol] += factor * number
    return tuple(sorted((symbol, Fraction(number)) for symbol, number in total.items()))


def _counted(core: str, formula: str) -> Counter[str]:
    """Return how many of each element, or group, stand in a formula with brackets; `formula` is named in errors."""
    wrong = EquationError(f"{formula!r} is not a chemical formula")
    if not re.fullmatch(r"(?:[A-Z][a-z]?\d{0,9}|\(|\)\d{0,9})+", core):
        raise wrong
    counts: list[Counter[str]] = [Counter()]
    for token, figures in re.findall(r"([A-Z][a-z]?|[()])(\d*)", core):
        if token == "(":
            counts.append(Counter())
            continue
        if token == ")" and (len(counts) < 2 or not counts[-1]):
            raise wrong
        inside = counts.pop() if token == ")" else Counter([token])
        counts[-1].update({symbol: number * int(figures or 1) for symbol, number in inside.items()})
    if len(counts) > 1:
        raise wrong
    return counts[0]


def _imbalance(equation: Equation) -> str:
    """Return what does not balance, in words; empty where everything does."""
    left, right = _totals(equation.left), _totals(equation.right)
    unequal = [symbol for symbol in sorted({*left, *right}) if left[symbol] != right[symbol]]
    return "; ".join(f"{symbol}: {left[symbol]} on the left, {right[symbol]} on the right" for symbol in unequal)


def _totals(side: Iterable[tuple[Fraction, Species]]) -> dict[str, Fraction]:
    total: dict[str, Fraction] = Counter()  # type: ignore[assignment]
    for number, species in side:
        for symbol, atoms in species.atoms:
            total[symbol] += number * atoms
        total["charge"] += number * species.charge
    return total
