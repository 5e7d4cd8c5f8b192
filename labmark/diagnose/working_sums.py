"""A student's sum as a chain of steps, the right way and every wrong way, exact.

A `Calculation` holds the figures of the practical; a `Way` says how the sum is done (`Way()` is the right way). `steps`
lays the sum out, a step for each value a student might write down. From that one chain come the value
(`line(...)`, `own_result`), the sum in figures (`sum_text`) and the intermediate values that may be rounded
(`labmark.diagnose.working_rounding`).

25.00 cm³ of NaOH against 24.35 cm³ of 0.0500 mol/dm³ H2SO4, 2 : 1:

    0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974          Way()
    0.0500 × 24.35 ÷ 25.00 = 0.0487              Way(ratio="left out")

Every way is a ratio of two straight lines in the titre t, (p + q·t) ÷ (r + s·t): the four numbers depend on the
practical alone, so they are worked out once for a whole class.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from labmark.volumes import round_fraction

Quantity = str
"""One of the contract's quantities, e.g. "amount concentration"."""

CONCENTRATIONS = frozenset({"amount concentration", "mass concentration", "percent mass by volume"})
"""Quantities of a solution; the others are of a weighed sample."""

WATER = Fraction("18.015")
"""Molar mass of water [g/mol], from A_r 1.008 and 15.999 (IUPAC abridged values, from memory)."""

THOUSAND = Fraction(1000)
WHOLE = "in the whole sample"
"""Ends the name of the step from the titrated portion to the whole."""


@dataclass(frozen=True, slots=True)
class Excess:
    """The reagent added in excess in a back titration; the titration finds what was left of it."""

    concentration: Fraction
    """[mol/dm³]"""
    volume: Fraction
    """[cm³] added to the sample"""
    coefficient: int | Fraction = 1
    """of the excess reagent in the equation of the titration"""
    coefficient_titrant: int | Fraction = 1
    """of the titrant in the equation of the titration"""

    @property
    def amount(self) -> Fraction:
        """Amount added [mol]."""
        return self.concentration * self.volume / 1000


@dataclass(frozen=True, slots=True, eq=True)
class Calculation:
    """The figures that the student's sum needs. Volumes in cm³, concentrations in mol/dm³, masses in g."""

    quantity: Quantity
    known_concentration: Fraction
    """of the solution whose concentration is given (in a back titration: of the titrant)"""
    aliquot: Fraction
    known_in: str = "burette"
    """"burette" or "flask": where the known solution is"""
    coefficient_known: int | Fraction = 1
    """of the known species in the balanced equation (in a back titration: of the reagent in excess)"""
    coefficient_unknown: int | Fraction = 1
    dilution: tuple[Fraction, Fraction] | None = None
    """(taken, made up to), or None"""
    report_original: bool = True
    """whether the undiluted sample is asked for"""
    molar_mass: Fraction | None = None
    """of the unknown [g/mol]; of the anhydrous salt where the water of crystallisation is asked for"""
    accepted_molar_masses: tuple[Fraction, ...] = ()
    """as good as `molar_mass`: from relative atomic masses to one decimal, from whole numbers"""
    other_molar_masses: tuple[tuple[str, Fraction], ...] = ()
    """(whose, value): masses that a student may take by mistake ("Na2CO3 without its water", 105.99)"""
    water_mass: Fraction = WATER
    accepted_water_masses: tuple[Fraction, ...] = (Fraction(18),)
    sample_mass: Fraction | None = None
    sample_made_up_to: Fraction | None = None
    """volume of the sample's solution; None where the whole sample is titrated"""
    excess: Excess | None = None
    """set for a back titration"""
    significant_figures: int = 3
    known: str = "the known substance"
    """name or formula, for the words"""
    unknown: str = "the substance asked for"

    def __hash__(self) -> int:
        """Hash of the figures that differ most; equality still compares them all."""
        return hash((self.quantity, self.known_concentration, self.aliquot, self.coefficient_known))


class Way(NamedTuple):
    """How the sum is done; an empty field means the right way."""

    ratio: str = ""
    thousands: int = 0
    volumes: str = ""
    dilution: str = ""
    scale: str = ""
    difference: str = ""
    mass: str = ""
    finish: str = ""
    stop: str = ""


RIGHT = Way()


class Op(NamedTuple):
    """One operation on the running value: × k, ÷ k, "from" (k − value), "into" (k ÷ value), "less" (value − k)."""

    sign: str
    text: str
    """the figure as printed"""
    value: Fraction | None
    """None stands for the titre"""


class Step(NamedTuple):
    """Operations that lead to a value a student might write down."""

    name: str
    """what the value is: "amount of H2SO4" """
    ops: tuple[Op, ...]


Steps = tuple[Step, ...]
Line = tuple[Fraction, Fraction, Fraction, Fraction]
"""(p, q, r, s) of (p + q·t) ÷ (r + s·t), t the titre [cm³]."""

TITRE = Op("×", "", None)


def plain(value: Fraction, decimals: int = 0, most: int = 6) -> str:
    """Return a figure as printed: at least `decimals` places, more (up to `most`) where the figure has them."""
    places = decimals
    while places < most and round_fraction(value, places) != value:
        places += 1
    return f"{round_fraction(value, places):f}"


def volume_text(value: Fraction) -> str:
    """Return a volume [cm³] as printed: 25.00, 24.35, 24.333."""
    return plain(value, 2, 3)


def figures_text(value: Fraction, figures: int) -> str:
    """Return a figure with at least `figures` significant figures: 0.0500."""
    return plain(value, max(0, figures - 1 - magnitude(value)), 8)


def magnitude(value: Fraction) -> int:
    """Return the power of ten of the leading digit: 2 for 345, −2 for 0.0345, 0 for 0."""
    if not value:
        return 0
    top, bottom = abs(value.numerator), value.denominator
    guess = len(str(top)) - len(str(bottom))
    if guess >= 0:
        return guess if top >= bottom * 10**guess else guess - 1
    return guess if top * 10**-guess >= bottom else guess - 1


def times(value: Fraction, text: str | None = None) -> Op:
    """Return the operation × value."""
    return Op("×", text if text is not None else plain(value), value)


def over(value: Fraction, text: str | None = None) -> Op:
    """Return the operation ÷ value."""
    return Op("÷", text if text is not None else plain(value), value)


def volume(calc: Calculation, which: str, sign: str) -> Op:
    """Return × or ÷ the volume called "titre" or "aliquot"."""
    if which == "titre":
        return TITRE._replace(sign=sign)
    return Op(sign, volume_text(calc.aliquot), calc.aliquot)


def volumes_used(calc: Calculation, way: Way) -> tuple[str, str]:
    """Return which volume goes with the known and which with the unknown, done this way."""
    known, unknown = ("titre", "aliquot") if calc.known_in == "burette" else ("aliquot", "titre")
    if way.volumes == "swapped":
        return unknown, known
    if way.volumes == "titre for both":
        return "titre", "titre"
    if way.volumes == "aliquot for both":
        return "aliquot", "aliquot"
    return known, unknown


def pair(top: Fraction, bottom: Fraction, text: bool = False) -> tuple[Op, ...]:
    """Return × top ÷ bottom, without the factors that are 1; volumes are printed with two decimals."""
    shown = volume_text if text else plain
    ops = (times(top, shown(top)), over(bottom, shown(bottom)))
    return tuple(op for op in ops if op.value != 1)


def ratio_ops(known: int | Fraction, unknown: int | Fraction, how: str) -> tuple[Op, ...]:
    """Return the mole ratio as operations: × unknown ÷ known, or what this way makes of it."""
    top, bottom = {
        "": (unknown, known),
        "left out": (1, 1),
        "upside down": (known, unknown),
        "multiplied only": (unknown, 1),
        "divided only": (1, known),
    }[how]
    return pair(Fraction(top), Fraction(bottom))


def dilution_ops(calc: Calculation, how: str) -> tuple[Op, ...]:
    """Return the dilution factor as operations."""
    if calc.dilution is None:
        return ()
    taken, made = calc.dilution
    asked = "" if calc.report_original else "left out"
    right = pair(made, taken, text=True)
    return {
        "": right,
        "applied": right,
        "left out": (),
        "wrong way": pair(taken, made, text=True),
        "by the aliquot": pair(made, calc.aliquot, text=True),
        "water added": pair(made - taken, taken, text=True),
        "twice": right + right,
    }[how or asked]


def thousands_ops(power: int) -> tuple[Op, ...]:
    """Return × 1000 or ÷ 1000, as often as needed."""
    op = times(THOUSAND) if power > 0 else over(THOUSAND)
    return (op,) * abs(power)


def mass_ops(calc: Calculation, how: str) -> tuple[Op, ...]:
    """Return × molar mass, or what this way makes of it."""
    mass = dict(calc.other_molar_masses).get(how, calc.molar_mass or Fraction(1))
    text = plain(mass, 1, 3)
    return {"left out": (), "divided": (over(mass, text),)}.get(how, (times(mass, text),))


def without_empty(steps: list[Step]) -> Steps:
    """Return the steps that do something."""
    return tuple(step for step in steps if step.ops)


def amount_steps(calc: Calculation, way: Way, thousands: int) -> list[Step]:
    """Return the steps up to the amount of the unknown in the titrated portion [mol], or × 1000 to a power."""
    known_volume, _ = volumes_used(calc, way)
    figures = max(3, calc.significant_figures)
    concentration = times(calc.known_concentration, figures_text(calc.known_concentration, figures))
    first = (concentration, volume(calc, known_volume, "×"), *thousands_ops(thousands))
    ratio = ratio_ops(calc.coefficient_known, calc.coefficient_unknown, way.ratio)
    return [Step(f"amount of {calc.known}", first), Step(f"amount of {calc.unknown}", ratio)]


def concentration_steps(calc: Calculation, way: Way) -> Steps:
    """Return the chain for a quantity of a solution; cm³ over cm³, so that no 1000 is left to print."""
    _, unknown_volume = volumes_used(calc, way)
    steps = amount_steps(calc, way, way.thousands)
    steps.append(Step(f"concentration of {calc.unknown}", (volume(calc, unknown_volume, "÷"),)))
    steps.append(Step(f"concentration of {calc.unknown} in the original", dilution_ops(calc, way.dilution)))
    if calc.quantity != "amount concentration":
        steps.append(Step("mass concentration", mass_ops(calc, way.mass)))
    if calc.quantity == "percent mass by volume":
        steps.append(Step("mass in 100 cm³", (over(Fraction(10)),)))
    finish = {
        "per flask": (times((calc.dilution or (THOUSAND, THOUSAND))[1]), over(THOUSAND)),
        "per dm3": (times(Fraction(10)),),
        "decimal left": (over(Fraction(10)),),
        "decimal right": (times(Fraction(10)),),
    }.get(way.finish, ())
    return without_empty([*steps, Step("result", finish)])


def scale_volumes(calc: Calculation) -> Fraction | None:
    """Return the volume of solution that the sample gave [cm³]; None where the whole sample was titrated."""
    return calc.sample_made_up_to or (calc.dilution[1] if calc.dilution else None)


def scale_ops(calc: Calculation, way: Way) -> tuple[Op, ...]:
    """Return the step from the titrated portion to the whole sample."""
    made = scale_volumes(calc)
    if made is None or way.scale == "left out":
        return ()
    _, unknown_volume = volumes_used(calc, way)
    portion = volume(calc, unknown_volume, "÷")
    if way.scale == "wrong way":
        return portion._replace(sign="×"), over(made, volume_text(made))
    second = pair(calc.dilution[1], calc.dilution[0], text=True) if calc.sample_made_up_to and calc.dilution else ()
    return (times(made, volume_text(made)), portion, *second)


def left_steps(calc: Calculation, excess: Excess, way: Way) -> list[Step]:
    """Return the steps of a back titration up to the amount of the unknown in the whole sample [mol]."""
    figures = max(3, calc.significant_figures)
    concentration = times(calc.known_concentration, figures_text(calc.known_concentration, figures))
    titrant = (concentration, TITRE, over(THOUSAND), *thousands_ops(way.thousands))
    left = ratio_ops(excess.coefficient_titrant, excess.coefficient, "")
    added = Op("from", figures_text(excess.amount, figures), excess.amount)
    used = () if way.difference == "forgotten" else (added,)
    ratio = ratio_ops(calc.coefficient_known, calc.coefficient_unknown, way.ratio)
    return [
        Step("amount of titrant", titrant),
        Step("amount left over", left),
        Step(f"amount left over {WHOLE}", scale_ops(calc, way)),
        Step("amount used up", used),
        Step(f"amount of {calc.unknown}", ratio),
    ]


def sample_steps(calc: Calculation, way: Way) -> Steps:
    """Return the chain for a quantity of a weighed sample."""
    if calc.excess is not None:
        steps = left_steps(calc, calc.excess, way)
    else:
        steps = amount_steps(calc, way, way.thousands - 1)
        steps.append(Step(f"amount of {calc.unknown} {WHOLE}", scale_ops(calc, way)))
    return without_empty([*steps, *finish_steps(calc, way)])


def finish_steps(calc: Calculation, way: Way) -> list[Step]:
    """Return the steps from the amount in the sample to the quantity asked for."""
    sample = calc.sample_mass or Fraction(1)
    shown = plain(sample, 2)
    if calc.quantity in {"mass", "percent by mass"}:
        return [Step(f"mass of {calc.unknown}", mass_ops(calc, way.mass)), *percent_steps(calc, way, sample, shown)]
    upside_down = way.finish == "upside down"
    molar = (over(sample, shown),) if upside_down else (Op("into", shown, sample),)
    steps = [Step("molar mass", molar)]
    if calc.quantity == "water of crystallisation":
        steps += water_steps(calc, way)
    return steps


def percent_steps(calc: Calculation, way: Way, sample: Fraction, shown: str) -> list[Step]:
    """Return the steps from the mass in the sample to the percentage, or to the mass asked for."""
    hundred = times(Fraction(100))
    made = scale_volumes(calc)
    if calc.quantity == "mass":
        per_dm3 = (times(THOUSAND), over(made, volume_text(made))) if way.finish == "per dm3" and made else ()
        return [Step("mass in 1 dm³", per_dm3)]
    ops: dict[str, tuple[Op, ...]] = {
        "": (over(sample, shown), hundred),
        "upside down": (Op("into", shown, sample), hundred),
        "no hundred": (over(sample, shown),),
        "mass only": (),
    }
    return [Step("percentage", ops[way.finish])]


def water_steps(calc: Calculation, way: Way) -> list[Step]:
    """Return the steps from the molar mass of the hydrate to the number of waters."""
    anhydrous = dict(calc.other_molar_masses).get(way.mass, calc.molar_mass or Fraction(0))
    less = Op("less", plain(anhydrous, 1, 3), anhydrous)
    water = over(calc.water_mass, plain(calc.water_mass, 1, 3))
    keep_salt = way.finish == "salt not taken off"
    keep_water = way.finish == "not divided by water"
    return [Step("mass of water in a mole", () if keep_salt else (less,)), Step("x", () if keep_water else (water,))]


@lru_cache(maxsize=65536)
def steps(calc: Calculation, way: Way = RIGHT) -> Steps:
    """Return the sum as a chain of steps, done this way; `way.stop` ends it at that step."""
    chain = concentration_steps(calc, way) if calc.quantity in CONCENTRATIONS else sample_steps(calc, way)
    if not way.stop:
        return chain
    names = [step.name for step in chain]
    if way.stop not in names:
        return chain
    kept = chain[: names.index(way.stop) + 1]
    thousand = Step("in mol", (over(THOUSAND),))
    return (*kept, thousand) if calc.quantity in CONCENTRATIONS and way.stop.startswith("amount") else kept


def apply(op: Op, line: Line) -> Line:
    """Return the line after one operation.

    Raises ValueError where the titre would come in twice without cancelling: no way of doing the sum does that.
    """
    p, q, r, s = line
    k = op.value
    if k is None:
        return with_titre(op.sign, line)
    match op.sign:
        case "×":
            return p * k, q * k, r, s
        case "÷":
            return p, q, r * k, s * k
        case "from":
            return k * r - p, k * s - q, r, s
        case "less":
            return p - k * r, q - k * s, r, s
        case _:
            return k * r, k * s, p, q


def with_titre(sign: str, line: Line) -> Line:
    """Return the line times or over the titre."""
    p, q, r, s = line
    zero = Fraction(0)
    if sign == "÷":
        p, q, r, s = r, s, p, q
    if not r:
        p, q, r, s = p, q, s, zero
    elif not q:
        p, q, r, s = zero, p, r, s
    else:
        raise ValueError("the titre comes in twice")
    return (r, s, p, q) if sign == "÷" else (p, q, r, s)


@lru_cache(maxsize=65536)
def line(calc: Calculation, way: Way = RIGHT) -> Line:
    """Return the result, done this way, as a line over a line in the titre."""
    value: Line = (Fraction(1), Fraction(0), Fraction(1), Fraction(0))
    for step in steps(calc, way):
        for op in step.ops:
            value = apply(op, value)
    return value


def at(value: Line, titre: Fraction) -> Fraction | None:
    """Return the line's value at a titre; None where it has none (a division by zero)."""
    p, q, r, s = value
    bottom = r + s * titre
    return (p + q * titre) / bottom if bottom else None


def own_result(calc: Calculation, titre: Fraction) -> Fraction:
    """Return the result that a titre [cm³] gives, in the unit of the quantity, exact.

    Moles of the known = c·V; × mole ratio; ÷ volume or mass; × dilution factor; then the quantity asked for.
    Raises ZeroDivisionError where the titre makes the sum impossible (0.00 cm³ as a divisor).
    """
    value = at(line(calc), titre)
    if value is None:
        raise ZeroDivisionError(f"a titre of {volume_text(titre)} cm³ gives no result")
    return value


def sum_text(chain: Steps, titre: Fraction) -> str:
    """Return the chain as one sum in figures: "0.0500 × 24.35 × 2 ÷ 25.00"."""
    text = ""
    for op in (op for step in chain for op in step.ops):
        figure = volume_text(titre) if op.value is None else op.text
        match op.sign:
            case "from":
                text = f"({figure} − {text})"
            case "less":
                text = f"({text} − {figure})"
            case "into":
                text = f"{figure} ÷ ({text})"
            case "÷" if not text:
                text = f"1 ÷ {figure}"
            case sign:
                text = f"{text} {sign} {figure}" if text else figure
    return text


def decimal_text(value: Fraction, decimals: int) -> str:
    """Return a value rounded half up to `decimals` places, as printed."""
    rounded: Decimal = round_fraction(value, decimals)
    return f"{rounded:f}" if decimals >= 0 else f"{int(rounded)}"
