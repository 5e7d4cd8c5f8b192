"""A student's sum as a chain of steps, the right way and every wrong way, exact.

A `Calculation` holds the practical's formula; a `Way` says how the sum is done (`RIGHT` is the right way). `steps` lays
it out as one running value, a step for each value a student might write down. From that one chain come the value
(`line`, `own_result`), the sum in figures (`sum_text`) and the intermediate values that may be rounded
(`labmark.diagnose.working_routes`).

25.00 cm³ of NaOH against 24.35 cm³ of 0.0500 mol/dm³ H2SO4, 2 : 1:

    0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974          RIGHT
    0.0500 × 24.35 ÷ 25.00 = 0.0487              mole ratio left out

Every way is a ratio of two straight lines in the titre t, (p + q·t) ÷ (r + s·t), or its nth power, times k: these
depend on the practical alone, so they are worked out once for a whole class. On the way there figures are whole numbers
over whole numbers, not in their lowest terms: fractions are slow, and a practical has hundreds of ways.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import gcd, prod

from labmark.diagnose.working_calculation import (
    RIGHT,
    Calculation,
    Op,
    Step,
    Steps,
    Way,
    figures_text,
    mistaken,
    plain,
    volume_text,
)
from labmark.diagnose.working_edits import OTHER_WAY, edited
from labmark.figures import raised
from labmark.formula import Formula, Input
from labmark.formula import Step as FormulaStep
from labmark.units import shown_unit

THOUSAND = "1000"
IONS = "ions"
ANY_TITRE = Fraction(1, 7)
"""What one step is over another that goes with it is the same at every titre; this one leaves no difference at 0."""
NUMBERS = (*(Input(f"{each}", "number", Fraction(each)) for each in (10, 24, 1000)), Input(IONS, "ratio", Fraction(1)))
"""What a slip may take that the formula does not, and how the numbers of ions are printed together."""
PARTS = {"percent": ("mass concentration", "g/dm³"), "x": ("mass of water in a mole", "g/mol")}
"""What comes of the molar mass within a step: name and unit."""
BEFORE, AFTER = {"−": "from", "÷": "into"}, {"−": "less"}
"""Signs before the running value, and behind it, as `Op` has them."""
Ratio = tuple[int, int]
"""(top, bottom) of a figure."""
Known = dict[str, Ratio | None]
"""Figures by name; what depends on the titre has none."""
Named = tuple[str, str, Ratio | None]
"""(sign, name, figure) of an operation on the running value; the titre has none."""
Simple = tuple[int, int, int, int]
"""(p, q, r, s) of a line over a line."""
Line = tuple[int, int, int, int, int, Fraction]
"""(p, q, r, s, n, k) of k ((p + q·t) ÷ (r + s·t))ⁿ, t the titre [cm³].

p and q have no divisor in common, nor have r and s, and the first of each that is not 0 is positive, so that ways that
always give the same are equal."""


@lru_cache(maxsize=1 << 14)
def done(
    steps: tuple[FormulaStep, ...], undiluted: tuple[FormulaStep, ...] | None, way: Way
) -> tuple[FormulaStep, ...] | None:
    """Return a formula's steps as they are done this way; None where a slip of it does not apply."""
    found: tuple[FormulaStep, ...] | None = steps
    for change in way:
        do = dict(change.do)
        if do.pop("undiluted", False):
            found = undiluted
        if found is None or {step.name for step in found}.intersection(change.unless):
            return None
        found = edited(found, do)
    return found


# --- the sum as one running value ---


@dataclass(slots=True)
class _Laid:
    """A step being laid out."""

    step: FormulaStep
    ops: list[Named]
    scale: Fraction = Fraction(1)
    multiples: tuple[Fraction, ...] = ()
    """What is multiplied with one another, of the value before it."""


@lru_cache(maxsize=1 << 14)
def steps(calc: Calculation, way: Way = RIGHT) -> Steps:
    """Return the sum as a chain of steps, done this way. Raises ValueError where the practical has no such way."""
    laid = _gathered(_without_thousands(list(_in_turn(calc, way))))
    return tuple(step for one in laid for step in _shown(calc, _inputs(calc), one) if step.ops)


def _in_turn(calc: Calculation, way: Way) -> Iterator[_Laid]:
    """Return the steps of the sum as the formula has them, done this way. Raises ValueError as `steps` does."""
    some = done(calc.formula.steps, None if calc.undiluted is None else calc.undiluted.steps, way)
    if some is None:
        raise ValueError("that way is none of this practical's")
    return _running(_inputs(calc), _known(calc), some)


@lru_cache(maxsize=256)
def _inputs(calc: Calculation) -> Mapping[str, Input]:
    """Return everything that a way of doing the sum may take, by name."""
    inputs = {each.name: each for each in (*NUMBERS, *calc.formula.inputs, *calc.others, *mistaken(calc.formula))}
    return inputs if calc.undiluted is None else {**calc.undiluted.of, **inputs}


@lru_cache(maxsize=256)
def _known(calc: Calculation) -> Known:
    """Return the figures of these."""
    inputs = _inputs(calc).items()
    return {name: None if each.value is None else each.value.as_integer_ratio() for name, each in inputs}


def _shown(calc: Calculation, inputs: Mapping[str, Input], laid: _Laid) -> Iterator[Step]:
    """Yield a step as it is printed, in two parts where a student writes down what comes of the molar mass."""
    ops = [op for op in laid.ops if op[2] is None or op[2][0] != op[2][1] or op[0] not in OTHER_WAY]
    part = next((i for i, op in enumerate(ops, start=1) if op[1].startswith("molar_mass")), len(ops))
    made = [tuple(_op(calc, inputs, *op) for op in some) for some in (ops[:part], ops[part:])]
    if laid.multiples:
        made = [tuple(op._replace(multiples=laid.multiples) for op in made[0]), ()]
    whole = Step(laid.step.what, made[0], laid.step.name, shown_unit(laid.step.unit), laid.scale)
    if made[1]:
        name, unit = PARTS.get(laid.step.name, ("value on the way", ""))
        yield Step(name, made[0], "", unit)
        whole = whole._replace(ops=made[1])
    yield whole


def _running(inputs: Mapping[str, Input], given: Known, some: tuple[FormulaStep, ...]) -> Iterator[_Laid]:
    """Yield the steps that lead from the titre to the result; what does not depend on the titre is one figure."""
    known = given.copy()
    for step in some:
        known[step.name] = _value(step, known)
    by_name = {step.name: step for step in some}
    path: list[tuple[FormulaStep, int, list[str]]] = []
    name = some[-1].name
    while name in by_name:
        step = by_name[name]
        names = [term for _, term in step.terms]
        # It goes by the term that depends on the titre; where none does, by the first step.
        several = [term for term in names if term in by_name and known[term] is None]
        name = several[0] if several else names[0]
        path.append((step, names.index(name) if name in by_name else -1, several))
    for step, going, several in reversed(path):
        if len(several) > 1:
            multiples = _multiples(inputs, some, several)
            ions = prod(multiples, start=Fraction(1)).as_integer_ratio()
            yield _Laid(step, [(IONS, IONS, ions)], multiples=multiples)
        else:
            yield _Laid(step, [*_on_the_way(step, going, known)])


def _multiples(
    inputs: Mapping[str, Input], some: tuple[FormulaStep, ...], names: Sequence[str]
) -> tuple[Fraction, ...]:
    """Return how many times the first of some steps, which all go with the titre, each of them is."""
    titres = {name: ANY_TITRE for name, each in inputs.items() if each.value is None}
    values = Formula(tuple(inputs.values()), some).values(titres)
    return tuple(values[name] / values[names[0]] for name in names)


def _value(step: FormulaStep, known: Known) -> Ratio | None:
    """Return the value of a step that does not depend on the titre; None where it does."""
    top, bottom = 1, 1
    for sign, name in step.terms:
        figure = known[name]
        if figure is None:
            return None
        over, under = figure if sign != "÷" else figure[::-1] if figure[0] else (1, 1)
        top = top * over if sign != "−" else top * under - bottom * over
        bottom *= under
    return top, bottom


def _on_the_way(step: FormulaStep, going: int, known: Known) -> Iterator[Named]:
    """Yield the operations of a step on the running value, which is its term at `going`; on 1 where that is -1."""
    terms = step.terms
    if going < 0:
        # What the titre is taken from, as a blank: the titre itself is the running value.
        going = next((i for i, (sign, name) in enumerate(terms) if sign == "−" and known[name] is None), going)
        if going > 0:
            yield "×", terms[going][1], None
    if going > 0:
        before = [known[name] or (1, 1) for _, name in terms[:going]]
        figure = prod([top for top, _ in before]), prod([bottom for _, bottom in before])
        yield BEFORE.get(terms[going][0], terms[going][0]), terms[0][1], figure
    for sign, name in terms[going + 1 :]:
        yield AFTER.get(sign, sign), name, known[name]


def _without_thousands(laid: list[_Laid]) -> list[_Laid]:
    """Return the steps without the ÷ 1000 and × 1000 that undo one another: students go on in cm³."""
    flat: list[tuple[int, Named]] = [(i, op) for i, one in enumerate(laid) for op in one.ops]
    while (pair := _undoing(flat)) is not None:
        first, second = pair
        scale = Fraction(1000) if flat[first][1][0] == "×" else Fraction(1, 1000)
        for one in laid[flat[first][0] : flat[second][0]]:
            one.scale *= scale
        between = [(i, _scaled(op, scale)) for i, op in flat[first + 1 : second]]
        flat = [*flat[:first], *between, *flat[second + 1 :]]
    for i, one in enumerate(laid):
        one.ops = [op for j, op in flat if j == i]
    return laid


def _undoing(flat: Sequence[tuple[int, Named]]) -> tuple[int, int] | None:
    """Return the places of a × 1000 and a ÷ 1000 that undo one another, the one after it sooner than one before."""
    signs = [op[0] for _, op in flat]
    thousands = [i for i, (_, op) in enumerate(flat) if op[1] == THOUSAND and op[0] in "×÷"]
    for place in (i for i in thousands if signs[i] == "×"):
        others = [i for i in thousands if signs[i] == "÷"]
        for other in (*(i for i in others if i > place), *(i for i in reversed(others) if i < place)):
            first, second = sorted((place, other))
            in_the_way = {"into", "ions"} if other < place else {"into", "ions", "from", "less"}
            if not in_the_way.intersection(signs[first:second]):
                return first, second
    return None


def _scaled(op: Named, scale: Fraction) -> Named:
    """Return an operation on a running value that is not scaled yet."""
    sign, name, figure = op
    if figure is None or sign not in {"from", "less"}:
        return op
    return sign, name, (Fraction(*figure) / scale).as_integer_ratio()


def _gathered(laid: list[_Laid]) -> list[_Laid]:
    """Return the steps with the way from a portion to the whole sample as one: × 250 ÷ 25."""
    keys = [one.step.name for one in laid]
    if "c" not in keys or "n.sample" not in keys:
        return laid
    first, last = keys.index("c"), keys.index("n.sample")
    whole = laid[last]
    whole.ops += (op for one in laid[first:last] for op in one.ops)
    return [*laid[:first], whole, *laid[last + 1 :]]


def _op(calc: Calculation, inputs: Mapping[str, Input], sign: str, name: str, figure: Ratio | None) -> Op:
    """Return an operation with its figure as printed."""
    if figure is None:
        return Op(sign, "", None)
    value = Fraction(*figure)
    kind = inputs[name].kind if name in inputs else "flask" if name == "less" else ""
    if kind in {"pipette", "flask", "titre"}:
        return Op(sign, volume_text(value), value)
    if kind == "concentration":
        return Op(sign, inputs[name].text, value)
    if not kind:
        return Op(sign, figures_text(value, max(3, calc.significant_figures)), value)
    return Op(sign, plain(value, {"molar mass": 1, "mass": 2}.get(kind, 0), 3 if kind == "molar mass" else 6), value)


# --- what it comes to ---


def apply(sign: str, figure: Ratio | None, line: Simple) -> Simple:
    """Return the line after one operation.

    Raises ValueError where the titre would come in twice without cancelling: no way of doing the sum does that.
    """
    p, q, r, s = line
    if figure is None:
        return with_titre(sign, line)
    top, bottom = figure
    match sign:
        case "×":
            return p * top, q * top, r * bottom, s * bottom
        case "÷":
            return p * bottom, q * bottom, r * top, s * top
        case "from":
            return top * r - bottom * p, top * s - bottom * q, bottom * r, bottom * s
        case "less":
            return bottom * p - top * r, bottom * q - top * s, bottom * r, bottom * s
        case _:
            return top * r, top * s, bottom * p, bottom * q


def with_titre(sign: str, line: Simple) -> Simple:
    """Return the line times or over the titre."""
    p, q, r, s = line
    if sign == "÷":
        p, q, r, s = r, s, p, q
    if not r:
        p, q, r, s = p, q, s, 0
    elif not q:
        p, q, r, s = 0, p, r, s
    else:
        raise ValueError("the titre comes in twice")
    return (r, s, p, q) if sign == "÷" else (p, q, r, s)


@lru_cache(maxsize=1 << 14)
def line(calc: Calculation, way: Way = RIGHT) -> Line:
    """Return the result, done this way, as a `Line` in the titre. Raises ValueError as `steps` does."""
    value: Simple = (1, 0, 1, 0)
    n, after = 1, (1, 1)
    # The figures as printed do not matter here: most ways are only looked at for their value.
    for laid in _in_turn(calc, way):
        n = len(laid.multiples) or n
        for sign, _, figure in laid.ops:
            if n == 1:
                value = apply(sign, figure, value)
            elif figure is None or sign not in {IONS, *OTHER_WAY}:
                raise ValueError("nothing but × and ÷ comes after a power")
            else:
                top, bottom = figure[::-1] if sign == "÷" else figure
                after = after[0] * top, after[1] * bottom
    p, q, r, s = value
    common, under = _divisor(p, q), _divisor(r, s)
    k = Fraction(after[0] * common**n, after[1] * under**n)
    return p // common, q // common, r // under, s // under, n, k


def _divisor(first: int, second: int) -> int:
    """Return the greatest common divisor of two numbers, with the sign of the first that is not 0; 1 where both are."""
    return (gcd(first, second) or 1) * (1 if (first or second) >= 0 else -1)


def at(value: Line, titre: Fraction) -> Fraction | None:
    """Return the line's value at a titre; None where it has none (a division by zero)."""
    p, q, r, s, n, k = value
    over, under = titre.as_integer_ratio()
    bottom = r * under + s * over
    if not bottom:
        return None
    simple = Fraction(p * under + q * over, bottom)
    return k * simple if n == 1 else k * simple**n


def own_result(calc: Calculation, titre: Fraction) -> Fraction:
    """Return the result that a titre [cm³] gives, in the unit of the quantity, exact.

    Raises ZeroDivisionError where the titre makes the sum impossible (0.00 cm³ as a divisor).
    """
    value = at(line(calc), titre)
    if value is None:
        raise ZeroDivisionError(f"a titre of {volume_text(titre)} cm³ gives no result")
    return value


def sum_text(chain: Steps, titre: Fraction) -> str:
    """Return the chain as one sum in figures: "0.0500 × 24.35 × 2 ÷ 25.00"."""
    text, ends_in_bracket = "", False
    for op in (op for step in chain for op in step.ops):
        figure = volume_text(titre) if op.value is None else op.text
        match op.sign:
            case "from":
                text = f"({figure} − {text})"
            case "less":
                text = f"({text} − {figure})"
            case "into":
                text = f"{figure} ÷ {text}" if ends_in_bracket else f"{figure} ÷ ({text})"
            case "ions":
                text = f"({text}){raised(f'{len(op.multiples)}')}" + (f" × {figure}" if op.value != 1 else "")
            case "÷" if not text:
                text = f"1 ÷ {figure}"
            case sign:
                text = f"{text} {sign} {figure}" if text else figure
        ends_in_bracket = op.sign in {"from", "less"}
    return text
