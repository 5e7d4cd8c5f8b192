"""A result as a chain of products and differences of named inputs, and all that follows from that one description.

25.0 cm³ of sodium hydroxide against 0.0500 mol/dm³ sulfuric acid, 2 NaOH : 1 H2SO4, mean titre 24.35 cm³:

    n.known    burette.concentration × titre ÷ 1000     0.0500 × 24.35 ÷ 1000 = 0.0012175 mol
    n.unknown  n.known × ratio.NaOH ÷ ratio.H2SO4       0.0012175 × 2 ÷ 1     = 0.002435 mol
    c          n.unknown ÷ flask.aliquot × 1000         0.002435 ÷ 25.0 × 1000 = 0.0974 mol/dm³

From these come the exact value (fractions) and that of a class at once (arrays, where any input may differ from student
to student), the printed working, the titre that a result calls for, and what each input does to the result. Nothing
here knows what kind of titration it is: `labmark.practical.kinds` lays the steps out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, lru_cache, reduce
from itertools import groupby, pairwise, zip_longest
from math import gcd, inf
from operator import and_
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from labmark.dataclass import dataclass, replace
from labmark.exact import in_figures, plain, raised
from labmark.units import shown_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Kind = Literal["titre", "pipette", "flask", "concentration", "mass", "molar mass", "ratio", "number", "factor"]
"""What an input is; a number belongs to the quantity."""
Owner = Literal["practical", "group", "student", "run"]
OF_MATTER = ("mol", "cm3")
"""Units of an amount and a volume: a difference of two has to be above zero, or nothing was found."""
FURTHER = 2
"""So many figures more than asked for are shown on the way."""
SETTLED = 14
"""So many significant figures of a result in floats."""
ROOT = 1e-12
"""How closely, as a share, a titre is found where the steps cannot be turned round exactly."""
PLACES = 9
"""Decimals [cm³] that such a titre is rounded to, so that one that has an end is met exactly."""


@dataclass(frozen=True, slots=True)
class Input:
    """A number that a result rests on."""

    name: str
    """Key of the practical that gives it ("burette.concentration"), "titre", or a name of its own ("1000")."""
    kind: Kind
    value: Fraction | None
    """In `unit`; None where it is measured anew each time, as a titre is."""
    unit: str = ""
    text: str = ""
    """With the digits as written."""
    words: str = ""
    """What it is, as in "pipette of the dilution"."""
    standard_uncertainty: float = 0.0
    """In `unit`; 0 where it counts as exact."""
    limit: float = 0.0
    """± of the school way, in `unit`: a tolerance, or the ± stated; 0 where it counts as exact."""
    law: str = "normal"
    """Law that the standard uncertainty comes from (a key of `analyse.budget.DIVISORS`)."""
    dof: float = inf
    """Degrees of freedom behind the standard uncertainty."""
    owner: Owner = "practical"
    source: str = ""
    """Cell that it stands in, where the class sheet gives it ("Results!B2")."""
    whole: Fraction | None = None
    """What something was taken from to have it, as the bottle with the sample; None where it is no difference."""

    def __post_init__(self) -> None:
        """Show the value plainly where nothing says how it was written."""
        if not self.text and self.value is not None:
            object.__setattr__(self, "text", plain(self.value))


class Step(NamedTuple):
    """A product (× and ÷) or a difference (−) of what is known by then; a slip may make a sum (+) of a difference."""

    name: str
    what: str
    """What it gives, as in "amount of NaOH in the flask"."""
    formula: str
    """In words for the reader, as in "n = c × V ÷ 1000"."""
    do: str
    """Names of inputs and earlier steps, joined by × ÷ −, from left to right: "n.known × ratio.of ÷ ratio.by".

    A power is a product of a step with itself: "Ca × OH × OH"."""
    unit: str
    """In data form."""

    @property
    def terms(self) -> tuple[tuple[str, str], ...]:
        """Return (sign, name) of each term; the sign of the first is ×."""
        return terms(self.do)

    @property
    def is_difference_of_matter(self) -> bool:
        """Return whether two amounts or volumes are taken from one another."""
        return self.unit in OF_MATTER and any(sign == "−" for sign, _ in self.terms)


@lru_cache(maxsize=1 << 12)
def terms(do: str) -> tuple[tuple[str, str], ...]:
    """Return (sign, name) of each term of a step."""
    words = ["×", *do.split()]
    return tuple(zip(words[::2], words[1::2], strict=True))


@dataclass(frozen=True, slots=True)
class Working:
    """One step of a student's working, ready for printing."""

    what: str
    formula: str
    numbers: str
    value: float
    unit: str
    shown: str


@dataclass(frozen=True)
class Formula:
    """Steps in order, the last of which is the result, with the inputs that they take."""

    inputs: tuple[Input, ...]
    steps: tuple[Step, ...]

    @cached_property
    def of(self) -> dict[str, Input]:
        """Return the inputs by name."""
        return {each.name: each for each in self.inputs}

    @property
    def titres(self) -> tuple[str, ...]:
        """Return the names of the titres that it takes; a blank that the practical gives is none of them."""
        return tuple(each.name for each in self.inputs if each.kind == "titre" and each.value is None)

    def given(self, own: Iterable[Input]) -> Formula:
        """Return the formula with inputs in the place of those of the same name: the nearest owner's, say."""
        nearer = {each.name: each for each in own}
        if not nearer.keys() & self.of.keys():
            return self
        return replace(self, inputs=tuple(nearer.get(each.name, each) for each in self.inputs))

    def values(self, given: Mapping[str, Any], number: Callable[[Fraction], Any] = Fraction) -> dict[str, Any]:
        """Return every input and step by name; `given` stands before the inputs' own values.

        Any kind of number will do that knows × ÷ −; `number` turns the inputs' own into it.
        """
        known = {each.name: number(each.value) for each in self.inputs if each.value is not None}
        known |= given
        for step in self.steps:
            *_, known[step.name] = _run(step, known)
        return known

    def value(self, **titres: Fraction) -> Fraction:
        """Return the exact result. Raises ZeroDivisionError where there is none."""
        result: Fraction = self.values(titres)[self.steps[-1].name]
        return result

    def results(self, given: Mapping[str, Floats]) -> Floats:
        """Return results of titres [cm³] (and any other input that differs) as arrays of one shape.

        NaN where a titre is missing or not above zero, or where nothing is left of a difference.
        """
        import numpy as np

        with np.errstate(divide="ignore", invalid="ignore"):
            known = self.values(given, float)
            there = [known[name] > 0 for name in self.titres]
            there += [known[step.name] > 0 for step in self.steps if step.is_difference_of_matter]
            return _settled(np.where(reduce(and_, there), known[self.steps[-1].name], np.nan))

    def slopes(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """Return ∂result/∂input for every input, in floats or arrays, by the chain rule from the result backwards."""
        known = self.values(given, float)
        found: dict[str, Any] = {self.steps[-1].name: 1.0}
        for step in reversed(self.steps):
            slope = found.pop(step.name, 0.0)
            before = [*_run(step, known)]
            for place in range(len(before) - 1, -1, -1):
                sign, name = step.terms[place]
                of_term, of_before = _slopes_of(sign, before[place - 1] if place else 1.0, known[name])
                found[name] = found.get(name, 0.0) + slope * of_term
                slope = slope * of_before
        return {each.name: found.get(each.name, 0.0) for each in self.inputs}

    @cached_property
    def curve(self) -> Curve:
        """Return the result as a function of the one titre. Raises ValueError where there are several."""
        (titre,) = self.titres
        known = self.values({titre: VARIABLE}, Rational.of)
        low, high = Fraction(0), None
        differences = (known[step.name].lowest() for step in self.steps if step.is_difference_of_matter)
        for found in differences:
            if (len(found.top), len(found.bottom)) == (2, 1):
                zero = Fraction(-found.top[0], found.top[1])
                if found.top[1] > 0:
                    low = max(low, zero)
                else:
                    high = zero if high is None else min(high, zero)
        return Curve(known[self.steps[-1].name].lowest(), low, high)

    def turned(self, name: str, titre: Fraction) -> Curve:
        """Return the result of a titre [cm³] as a function of another input: the same curve, turned round."""
        sought = replace(self.of[name], kind="titre", value=None, text="")
        return self.given([sought, *(replace(self.of[each], value=titre) for each in self.titres)]).curve

    def working(self, figures: int, **titres: Decimal) -> tuple[Working, ...]:
        """Return the working for mean titres [cm³], to so many significant figures.

        Values are exact; on the way they are shown to two figures more than asked for.
        """
        known = self.values({name: Fraction(titre) for name, titre in titres.items()})
        texts = {each.name: (each.text, each.unit) for each in self.inputs}
        texts |= {name: (f"{titre:f}", "cm3") for name, titre in titres.items()}
        made = []
        for place, step in enumerate(self.steps, start=1):
            value = known[step.name]
            text = in_figures(value, figures + FURTHER * (place < len(self.steps)))
            shown = f"{text} {shown_unit(step.unit)}".strip()
            made.append(Working(step.what, step.formula, _numbers(step, texts), float(value), step.unit, shown))
            texts[step.name] = (text, step.unit)
        return tuple(made)


def _settled(values: Floats) -> Floats:
    """Return floats to `SETTLED` significant figures: results that are alike are so to the last bit."""
    import numpy as np

    scale = 10.0 ** (SETTLED - 1 - np.floor(np.log10(np.abs(values))))
    return np.where(values == 0, 0.0, np.round(values * scale) / scale)


def _run(step: Step, known: Mapping[str, Any]) -> Iterator[Any]:
    """Yield the running value after each term of a step."""
    value: Any = None
    for sign, name in step.terms:
        term = known[name]
        if value is None:
            value = term
        elif sign == "×":
            value = value * term
        elif sign == "÷":
            value = value / term
        else:
            value = value + term if sign == "+" else value - term
        yield value


def _slopes_of(sign: str, before: Any, term: Any) -> tuple[Any, Any]:
    """Return the derivatives of one operation, by the term and by the value before it."""
    if sign == "×":
        return before, term
    if sign == "÷":
        return -before / term**2, 1 / term
    return -1.0, 1.0


def _numbers(step: Step, texts: Mapping[str, tuple[str, str]]) -> str:
    """Return a step in figures: "0.0500 mol/dm³ × 24.35 cm³ ÷ 1000"; without units where it needs brackets.

    What is multiplied by itself is raised to a power: "0.02080 mol/dm³ × (0.04160 mol/dm³)²".
    """
    signs = [sign for sign, _ in step.terms]
    brackets = any(sign == "−" != after for sign, after in pairwise(signs))
    out, before = "", ""
    for (sign, name), same in groupby(step.terms):
        text, unit = texts[name]
        figure = text if brackets else f"{text} {shown_unit(unit)}".strip()
        if (power := len([*same])) > 1:
            figure = f"({figure})" if " " in figure else figure
            figure += raised(f"{power}")
        if before == "−" != sign:
            out = f"({out})"
        out = f"{out} {sign} {figure}" if out else figure
        before = sign
    return out


class Curve(NamedTuple):
    """The result of a titre t [cm³]: straight lines over one another, but for powers of a step."""

    value: Rational
    low: Fraction
    """Titres that are not above it give no result [cm³]."""
    high: Fraction | None
    """Nor do titres that are not below it, as nothing is left then for the sample; None where any titre will do."""

    def gives(self, titre: Fraction) -> bool:
        """Return whether a titre [cm³] gives a result."""
        return titre > self.low and (self.high is None or titre < self.high)

    def result(self, titre: Fraction) -> Fraction | None:
        """Return the exact result of a titre [cm³]; None where it gives none."""
        return self.value.at(titre) if self.gives(titre) else None

    def titre(self, result: Fraction) -> Fraction | None:
        """Return the titre [cm³] that gives a result, exactly where top and bottom are straight lines, else to `ROOT`.

        None where no titre gives it.
        """
        left = (self.value - Rational.of(result)).top
        if len(left) == 2:
            titre = Fraction(-left[0], left[1])
            return titre if self.gives(titre) else None
        return self._root(left) if len(left) > 2 else None

    def _root(self, left: tuple[int, ...]) -> Fraction | None:
        """Return the only titre in range at which a polynomial is 0, by halving; results rise or fall throughout."""
        some = [each / left[-1] for each in left]
        low, high = float(self.low), 1.0 if self.high is None else float(self.high)
        start = _at(some, low)
        while self.high is None and start * _at(some, high) > 0 and high < 1e9:
            high *= 2
        if start * _at(some, high) > 0:
            return None
        while high - low > ROOT * high:
            middle = (low + high) / 2
            low, high = (middle, high) if start * _at(some, middle) > 0 else (low, middle)
        found = Fraction(str(round((low + high) / 2, PLACES)))
        return found if self.gives(found) else None


@dataclass(frozen=True, slots=True)
class Rational:
    """A quotient of two polynomials in a titre t, each by its factors of 1, t, t², ...

    These are whole numbers: fractions are slow, and there are hundreds of ways to do a sum wrongly.
    """

    top: tuple[int, ...]
    bottom: tuple[int, ...] = (1,)

    @classmethod
    def of(cls, value: Fraction) -> Rational:
        """Return a number that does not depend on the titre."""
        return cls((value.numerator,), (value.denominator,))

    def __mul__(self, other: Rational) -> Rational:
        return Rational(_product(self.top, other.top), _product(self.bottom, other.bottom))

    def __truediv__(self, other: Rational) -> Rational:
        if not any(other.top):
            raise ZeroDivisionError("a step divides by nothing")
        return Rational(_product(self.top, other.bottom), _product(self.bottom, other.top))

    def __sub__(self, other: Rational) -> Rational:
        top = _less(_product(self.top, other.bottom), _product(other.top, self.bottom))
        return Rational(top, _product(self.bottom, other.bottom))

    def __add__(self, other: Rational) -> Rational:
        return self - other * Rational((-1,))

    @property
    def degree(self) -> int:
        """Return the highest power of the titre."""
        return max(len(self.top), len(self.bottom)) - 1

    def lowest(self) -> Rational:
        """Return it without the numbers and powers of the titre that top and bottom share, so that what is always the
        same is equal: no step divides by another factor of itself."""
        if not any(self.top):
            return Rational((0,))
        both = zip_longest(self.top, self.bottom, fillvalue=0)
        shared = next(place for place, pair in enumerate(both) if any(pair))
        divisor = gcd(*self.top, *self.bottom) * (1 if next(filter(None, self.bottom)) > 0 else -1)
        top, bottom = ([each // divisor for each in some[shared:]] for some in (self.top, self.bottom))
        return Rational(tuple(top), tuple(bottom))

    def at(self, titre: Fraction) -> Fraction | None:
        """Return the exact value at a titre; None where it has none."""
        over, under = titre.as_integer_ratio()
        top, bottom, scale = 0, 0, 1
        for above, below in [*zip_longest(self.top, self.bottom, fillvalue=0)][::-1]:
            top, bottom, scale = top * over + above * scale, bottom * over + below * scale, scale * under
        return Fraction(top, bottom) if bottom else None


VARIABLE = Rational((0, 1))
"""The titre itself."""


def _at(some: Iterable[float], at: float) -> float:
    """Return the value of a polynomial."""
    return reduce(lambda value, each: value * at + each, reversed([*some]), 0.0)


def _product(one: tuple[int, ...], other: tuple[int, ...]) -> tuple[int, ...]:
    if len(other) < len(one):
        one, other = other, one
    if len(one) == 1:  # most are numbers, and many of these 1
        return other if one[0] == 1 else tuple([one[0] * each for each in other])
    out = [0] * (len(one) + len(other) - 1)
    for place, first in enumerate(one):
        for further, second in enumerate(other):
            out[place + further] += first * second
    return tuple(out)


def _less(one: tuple[int, ...], other: tuple[int, ...]) -> tuple[int, ...]:
    left = [first - second for first, second in zip_longest(one, other, fillvalue=0)]
    while len(left) > 1 and not left[-1]:
        left.pop()
    return tuple(left)
