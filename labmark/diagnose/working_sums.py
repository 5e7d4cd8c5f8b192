"""A student's sum as a chain of steps, the right way and every wrong way, exact.

A `Calculation` holds the figures of the practical; a `Way` says how the sum is done (`Way()` is the right way). `steps`
lays the sum out, a step for each value a student might write down. From that one chain come the value
(`line(...)`, `own_result`), the sum in figures (`sum_text`) and the intermediate values that may be rounded
(`labmark.diagnose.working_orders`).

25.00 cm³ of NaOH against 24.35 cm³ of 0.0500 mol/dm³ H2SO4, 2 : 1:

    0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974          Way()
    0.0500 × 24.35 ÷ 25.00 = 0.0487              Way(ratio="left out")

Every way is a ratio of two straight lines in the titre t, (p + q·t) ÷ (r + s·t): the four numbers depend on the
practical alone, so they are worked out once for a whole class.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from labmark.diagnose.working_calculation import (
    CONCENTRATIONS,
    RIGHT,
    TITRE,
    Calculation,
    Excess,
    Op,
    Step,
    Steps,
    Way,
    figures_text,
    plain,
    scale_volumes,
    volume_text,
)

THOUSAND = Fraction(1000)
WHOLE = "in the whole sample"
"""Ends the name of the step from the titrated portion to the whole."""
MIXTURE = "in the whole mixture"
"""Ends the name of that step where, in a back titration, the portion is one of the mixture."""
Line = tuple[Fraction, Fraction, Fraction, Fraction]
"""(p, q, r, s) of (p + q·t) ÷ (r + s·t), t the titre [cm³]."""


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
    if calc.weighed is not None:
        ratio = ratio_ops(calc.coefficient_known, calc.coefficient_unknown, way.ratio)
        first = weighed_ops(calc, way, calc.weighed, known_volume, thousands)
        return [Step(f"amount of {calc.known}", first), Step(f"amount of {calc.unknown}", ratio)]
    figures = max(3, calc.significant_figures)
    text = calc.known_text or figures_text(calc.known_concentration, figures)
    concentration = times(calc.known_concentration, text)
    first = (concentration, volume(calc, known_volume, "×"), *thousands_ops(thousands))
    ratio = ratio_ops(calc.coefficient_known, calc.coefficient_unknown, way.ratio)
    return [Step(f"amount of {calc.known}", first), Step(f"amount of {calc.unknown}", ratio)]


def weighed_ops(calc: Calculation, way: Way, purity: Fraction, known_volume: str, thousands: int) -> tuple[Op, ...]:
    """Return the mass of a weighed standard turned into its amount in the flask [mmol]."""
    mass = times(calc.sample_mass or Fraction(1), plain(calc.sample_mass or Fraction(1), 2))
    pure = () if purity == 1 else (times(purity),)
    by_mass = tuple(op._replace(sign="÷" if op.sign == "×" else "×") for op in mass_ops(calc, way.mass))
    made = calc.sample_made_up_to
    portion = () if made is None else (volume(calc, known_volume, "×"), over(made, volume_text(made)))
    return (mass, *pure, *by_mass, *thousands_ops(thousands + 1), *portion)


def concentration_steps(calc: Calculation, way: Way) -> Steps:
    """Return the chain for a quantity of a solution; cm³ over cm³, so that no 1000 is left to print."""
    _, unknown_volume = volumes_used(calc, way)
    if calc.excess is None:
        steps = amount_steps(calc, way, way.thousands)
    else:
        steps = back_steps(calc, calc.excess, way, way.thousands)
    measured = None if calc.excess is None else calc.excess.sample_volume
    portion = volume(calc, unknown_volume, "÷") if measured is None else over(measured, volume_text(measured))
    steps.append(Step(f"concentration of {calc.unknown}", (portion,)))
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


def scale_ops(calc: Calculation, way: Way) -> tuple[Op, ...]:
    """Return the step from the titrated portion to the whole sample."""
    made = scale_volumes(calc)
    if made is None or way.scale == "left out":
        return ()
    _, unknown_volume = volumes_used(calc, way)
    portion = volume(calc, unknown_volume, "÷")
    if way.scale == "per dm3":
        made = THOUSAND
    if way.scale == "wrong way":
        return portion._replace(sign="×"), over(made, volume_text(made))
    second = pair(calc.dilution[1], calc.dilution[0], text=True) if calc.sample_made_up_to and calc.dilution else ()
    return (times(made, plain(made) if way.scale == "per dm3" else volume_text(made)), portion, *second)


def back_steps(calc: Calculation, excess: Excess, way: Way, thousands: int) -> list[Step]:
    """Return the steps of a back titration up to the amount of the unknown [mol], or × 1000 to a power."""
    figures = max(3, calc.significant_figures)
    text = calc.known_text or figures_text(calc.known_concentration, figures)
    concentration = times(calc.known_concentration, text)
    titrant = (concentration, volume(calc, volumes_used(calc, way)[0], "×"), *thousands_ops(thousands))
    left = ratio_ops(excess.coefficient_titrant, excess.coefficient, way.left)
    added = excess.amount * THOUSAND ** (thousands + 1)
    used = () if way.difference == "forgotten" else (Op("from", figures_text(added, figures), added),)
    ratio = ratio_ops(calc.coefficient_known, calc.coefficient_unknown, way.ratio)
    mixture = mixture_ops(calc, excess, way.mixture)
    after = way.mixture == "after the difference"
    return [
        Step(f"amount of {excess.titrant}", titrant),
        Step("amount left over", left),
        Step(f"amount left over {MIXTURE}", () if after else mixture),
        Step("amount used up", used),
        Step(f"amount used up {MIXTURE}", mixture if after else ()),
        Step(f"amount of {calc.unknown}", ratio),
    ]


def mixture_ops(calc: Calculation, excess: Excess, how: str) -> tuple[Op, ...]:
    """Return the step from the titrated portion to the whole mixture."""
    if excess.mixture is None or how == "left out":
        return ()
    made, taken = excess.mixture, calc.aliquot
    return pair(taken, made, text=True) if how == "wrong way" else pair(made, taken, text=True)


def sample_steps(calc: Calculation, way: Way) -> Steps:
    """Return the chain for a quantity of a weighed sample."""
    if calc.excess is not None:
        steps = back_steps(calc, calc.excess, way, way.thousands - 1)
    else:
        steps = amount_steps(calc, way, way.thousands - 1)
    if calc.excess is None or not calc.excess.whole:
        steps.append(Step(f"amount of {calc.unknown} {WHOLE}", scale_ops(calc, way)))
    point = {"decimal left": (over(Fraction(10)),), "decimal right": (times(Fraction(10)),)}.get(way.finish, ())
    return without_empty([*steps, *finish_steps(calc, way), Step("result", point)])


def finish_steps(calc: Calculation, way: Way) -> list[Step]:
    """Return the steps from the amount in the sample to the quantity asked for."""
    sample = calc.sample_mass or Fraction(1)
    shown = plain(sample, 2)
    if calc.quantity in {"mass", "percent by mass"}:
        percentage = percent_steps(way, sample, shown) if calc.quantity == "percent by mass" else ()
        return [Step(f"mass of {calc.unknown}", mass_ops(calc, way.mass)), *percentage]
    upside_down = way.finish == "upside down"
    molar = (over(sample, shown),) if upside_down else (Op("into", shown, sample),)
    steps = [Step("molar mass", molar)]
    if calc.counts_waters:
        steps += water_steps(calc, way)
    return steps


def percent_steps(way: Way, sample: Fraction, shown: str) -> list[Step]:
    """Return the steps from the mass in the sample to the percentage."""
    hundred = times(Fraction(100))
    ops: dict[str, tuple[Op, ...]] = {
        "upside down": (Op("into", shown, sample), hundred),
        "no hundred": (over(sample, shown),),
        "mass only": (),
    }
    return [Step("percentage", ops.get(way.finish, (over(sample, shown), hundred)))]


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
