"""A student's sum as a chain of steps, the right way and every wrong way, exact.

A `Calculation` holds the practical's formula; a `Way` says how the sum is done (`RIGHT` is the right way). `steps` lays
it out as one running value, a step for each value a student might write down. From that one chain come the sum in
figures (`sum_text`) and the intermediate values that may be rounded (`labmark.diagnose.working_routes`); what it comes
to is worked out by the formula itself (`outcome`).

25.00 cm³ of NaOH against 24.35 cm³ of 0.0500 mol/dm³ H2SO4, 2 : 1:

    0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974          RIGHT
    0.0500 × 24.35 ÷ 25.00 = 0.0487              mole ratio left out

What a way comes to depends on the titre and, but for that, on the practical alone, so that it is worked out once for a
whole class.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import takewhile
from math import prod

from labmark.dataclass import dataclass
from labmark.diagnose.working_calculation import (
    IN_BRACKETS,
    RIGHT,
    Calculation,
    Op,
    Step,
    Steps,
    Way,
    figures_text,
    mistaken,
    volume_text,
)
from labmark.diagnose.working_edits import OTHER_WAY, edited
from labmark.exact import in_decimals, raised
from labmark.formula import VARIABLE, Formula, Input, Rational
from labmark.formula import Step as FormulaStep
from labmark.units import shown_unit

THOUSAND = "1000"
IONS = "ions"
NUMBERS = (*(Input(f"{each}", "number", Fraction(each)) for each in (10, 24, 1000)), Input(IONS, "ratio", Fraction(1)))
"""What a slip may take that the formula does not, and how the numbers of ions are printed together."""
PARTS = {"percent": ("mass concentration", "g/dm³"), "x": ("mass of water in a mole", "g/mol")}
"""What comes of the molar mass within a step: name and unit."""
BEFORE, AFTER = {"−": "from", "+": "plus", "÷": "into"}, {"−": "less", "+": "plus"}
"""Signs before the running value, and behind it, as `Op` has them."""
Named = tuple[str, str, Fraction | None]
"""(sign, name, figure) of an operation on the running value; the titre has none."""


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
    laid = _gathered(_without_thousands(list(_running(calc, _done(calc, way)))))
    return tuple(step for one in laid for step in _shown(calc, _inputs(calc), one) if step.ops)


def _done(calc: Calculation, way: Way) -> tuple[FormulaStep, ...]:
    """Return the formula's steps, done this way. Raises ValueError as `steps` does."""
    some = done(calc.formula.steps, None if calc.undiluted is None else calc.undiluted.steps, way)
    if some is None:
        raise ValueError("that way is none of this practical's")
    return some


@lru_cache(maxsize=256)
def _inputs(calc: Calculation) -> Mapping[str, Input]:
    """Return everything that a way of doing the sum may take, by name."""
    inputs = {each.name: each for each in (*NUMBERS, *calc.formula.inputs, *calc.others, *mistaken(calc.formula))}
    return inputs if calc.undiluted is None else {**calc.undiluted.of, **inputs}


@lru_cache(maxsize=256)
def _right(calc: Calculation) -> Mapping[str, Rational]:
    """Return what each of these, and each step of the right sum, comes to."""
    inputs = _inputs(calc).items()
    known = {name: VARIABLE if each.value is None else Rational.of(each.value) for name, each in inputs}
    return Formula((), calc.formula.steps).values(known)


def _values(calc: Calculation, some: tuple[FormulaStep, ...]) -> Mapping[str, Rational]:
    """Return what each comes to where the steps are these; the first ones, up to a slip, are those of the right sum."""
    pairs = zip(some, calc.formula.steps, strict=False)
    same = sum(1 for _ in takewhile(lambda pair: pair[0] is pair[1], pairs))
    return Formula((), some[same:]).values(_right(calc))


def _figure(value: Rational) -> Fraction | None:
    """Return a value that does not depend on the titre; None where it does."""
    return Fraction(value.top[0], value.bottom[0]) if len(value.top) == len(value.bottom) == 1 else None


def _shown(calc: Calculation, inputs: Mapping[str, Input], laid: _Laid) -> Iterator[Step]:
    """Yield a step as it is printed, in two parts where a student writes down what comes of the molar mass."""
    ops = [op for op in laid.ops if op[2] != 1 or op[0] not in OTHER_WAY]
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


def _running(calc: Calculation, some: tuple[FormulaStep, ...]) -> Iterator[_Laid]:
    """Yield the steps that lead from the titre to the result; what does not depend on the titre is one figure."""
    values = _values(calc, some)
    known = {name: _figure(value) for name, value in values.items()}
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
            # What one of them is over another is the same at every titre.
            each = [(values[one] / values[several[0]]).lowest() for one in several]
            multiples = tuple(Fraction(one.top[0], one.bottom[0]) for one in each)
            yield _Laid(step, [(IONS, IONS, prod(multiples, start=Fraction(1)))], multiples=multiples)
        else:
            yield _Laid(step, [*_on_the_way(step, going, known)])


def _on_the_way(step: FormulaStep, going: int, known: Mapping[str, Fraction | None]) -> Iterator[Named]:
    """Yield the operations of a step on the running value, which is its term at `going`; on 1 where that is -1."""
    terms = step.terms
    if going < 0:
        # What the titre is taken from, as a blank: the titre itself is the running value.
        going = next((i for i, (sign, name) in enumerate(terms) if sign in AFTER and known[name] is None), going)
        if going > 0:
            yield "×", terms[going][1], None
    if going > 0:
        figure = prod([known[name] or Fraction(1) for _, name in terms[:going]], start=Fraction(1))
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
        # A figure that is taken off, or taken from, stands beside a running value that is not scaled yet.
        between = [
            (i, (sign, name, figure / scale if figure is not None and sign in IN_BRACKETS else figure))
            for i, (sign, name, figure) in flat[first + 1 : second]
        ]
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
            in_the_way = {"into", "ions"} if other < place else {"into", "ions", *IN_BRACKETS}
            if not in_the_way.intersection(signs[first:second]):
                return first, second
    return None


def _gathered(laid: list[_Laid]) -> list[_Laid]:
    """Return the steps with the way from a portion to the whole sample as one: × 250 ÷ 25."""
    keys = [one.step.name for one in laid]
    if "c" not in keys or "n.sample" not in keys:
        return laid
    first, last = keys.index("c"), keys.index("n.sample")
    whole = laid[last]
    whole.ops += (op for one in laid[first:last] for op in one.ops)
    return [*laid[:first], whole, *laid[last + 1 :]]


def _op(calc: Calculation, inputs: Mapping[str, Input], sign: str, name: str, value: Fraction | None) -> Op:
    """Return an operation with its figure as printed."""
    if value is None:
        return Op(sign, "", None)
    kind = inputs[name].kind if name in inputs else "flask" if name == "less" else ""
    if kind in {"pipette", "flask", "titre"}:
        return Op(sign, volume_text(value), value)
    if kind == "concentration":
        return Op(sign, inputs[name].text, value)
    if not kind:
        return Op(sign, figures_text(value, max(3, calc.significant_figures)), value)
    least, most = {"molar mass": (1, 3), "mass": (2, 6)}.get(kind, (0, 6))
    return Op(sign, in_decimals(value, least, most), value)


# --- what it comes to ---


def outcome(calc: Calculation, way: Way) -> Rational:
    """Return the result, done this way, as a quotient in the titre; the right one is that of the formula's curve.

    Raises ValueError as `steps` does.
    """
    some = _done(calc, way)
    return _values(calc, some)[some[-1].name].lowest()


def sum_text(chain: Steps, titre: Fraction) -> str:
    """Return the chain as one sum in figures: "0.0500 × 24.35 × 2 ÷ 25.00"."""
    text, ends_in_bracket = "", False
    for op in (op for step in chain for op in step.ops):
        figure = volume_text(titre) if op.value is None else op.text
        match op.sign:
            case "from":
                text = f"({figure} − {text})"
            case "less" | "plus":
                before = text[1:-1] if ends_in_bracket else text
                text = f"({before} {'+' if op.sign == 'plus' else '−'} {figure})"
            case "into":
                text = f"{figure} ÷ {text}" if ends_in_bracket else f"{figure} ÷ ({text})"
            case "ions":
                text = f"({text}){raised(f'{len(op.multiples)}')}" + (f" × {figure}" if op.value != 1 else "")
            case "÷" if not text:
                text = f"1 ÷ {figure}"
            case sign:
                text = f"{text} {sign} {figure}" if text else figure
        ends_in_bracket = op.sign in IN_BRACKETS
    return text
