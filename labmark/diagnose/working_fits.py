"""Every slip that gives a written result: each way of doing the sum, other volumes, roundings, on own figures."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cached_property, partial
from math import log

from labmark.dataclass import dataclass
from labmark.diagnose.working_calculation import (
    RIGHT,
    Calculation,
    Change,
    Way,
    decimal_text,
    fair_calculations,
    volume_text,
    with_own,
)
from labmark.diagnose.working_right import Digits, equals, first_reading, follows_rounded
from labmark.diagnose.working_routes import Early
from labmark.diagnose.working_shown import printed_sum, shown_sum, unit_of, value_text, with_unit
from labmark.diagnose.working_slips import BY_ROUNDING, BY_ZEROS, TOO_FEW, UNEXPLAINED_RATE, Fit
from labmark.diagnose.working_sums import steps
from labmark.diagnose.working_titres import TRANSPOSED, is_last_figure_out, is_one_digit_wrong, is_transposed
from labmark.diagnose.working_volumes import Volume
from labmark.diagnose.working_ways import OTHER, PAIR_RATE, Tabled, goes_with_another, near, phrase, tabled
from labmark.exact import asked_decimals, in_decimals, magnitude, round_fraction, significant, too_few_figures
from labmark.words import YOU_WROTE, begun

DECADES = log(100)
"""A value without a cause may lie anywhere within a factor of ten either way (natural logarithm)."""
NOT_FAR, NOT_FAR_RATE = Fraction(3, 2), 0.15
"""No further than by this factor from the right value lie so many more (common practice, no source)."""
ONE_DIGIT_RATE = 0.06
"""Rate of one digit that is wrong, of those of a result, by any other."""


@dataclass(frozen=True, eq=False)
class Claim:
    """A written result with the means that it may rest on."""

    calc: Calculation
    means: tuple[Fraction, ...]
    """own means [cm³], the likeliest first"""
    written: tuple[Digits, ...]

    @cached_property
    def value(self) -> Fraction:
        """The written value."""
        return self.written[-1 if self.written[-1].decimals >= 0 else 0].value

    @cached_property
    def width(self) -> Fraction:
        """The last digit that can be seen, as a value."""
        decimals = min(reading.decimals for reading in self.written if reading.decimals >= 0)
        return Fraction(1, 10**decimals)

    @cached_property
    def full(self) -> tuple[Digits, ...]:
        """The readings with as many figures as asked."""
        return tuple(reading for reading in self.written if not reading.short)

    @cached_property
    def cases(self) -> tuple[Tabled, ...]:
        """The sum with every fair molar mass, at every mean."""
        return tuple(tabled(calc, mean) for calc in fair_calculations(self.calc) for mean in self.means)

    @cached_property
    def near(self) -> tuple[float, float]:
        """The written value as a float, and how far off a value may lie that is looked at exactly."""
        value, widest = float(self.value), 10.0 ** -min(reading.decimals for reading in self.written)
        return value, 0.5 * widest * (1 + 1e-6) + 1e-9 * abs(value)

    @property
    def by_accident(self) -> float:
        """Rate at which a value without a cause would be just this one: more often near the right value."""
        right = self.cases[0].right
        if not self.value or not right:
            return UNEXPLAINED_RATE
        not_far = 1 / NOT_FAR <= self.value / right <= NOT_FAR
        density = UNEXPLAINED_RATE / DECADES + (NOT_FAR_RATE / (2 * log(NOT_FAR)) if not_far else 0.0)
        first, second = (round_fraction(one, max(0, self.written[0].decimals)) for one in (right, self.value))
        others = 9 * len(first.as_tuple().digits)
        digit = ONE_DIGIT_RATE / others if is_one_digit_wrong(first, second) else 0.0
        return float(self.width / abs(self.value)) * density + digit

    def hits(self, sizes: Sequence[float]) -> float:
        """Return how many of the values tried would hit this one by accident: their density here times a digit."""
        size = abs(float(self.value))
        if not size:
            return 0.0
        beside = bisect_left(sizes, 2 * size) - bisect_right(sizes, size / 2)
        return max(0, beside) * float(self.width) / (1.5 * size)


def right_decimals(claim: Claim, value: Fraction) -> int:
    """Return the decimals that the right value is shown to: those asked for, or written where only these tell apart."""
    asked = asked_decimals(value, claim.calc.significant_figures)
    same = round_fraction(value, asked) == round_fraction(claim.value, asked)
    return max(asked, claim.written[0].decimals) if same else asked


def right_sum(claim: Claim, titre: Fraction) -> str:
    """Return the right sum with its value: "0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974 mol/dm³"."""
    value = tabled(claim.calc, titre).right or Fraction(0)
    return right_printed(claim.calc, titre, right_decimals(claim, value))


def right_printed(calc: Calculation, titre: Fraction, decimals: int) -> str:
    """Return the right sum to so many decimals."""
    value = tabled(calc, titre).right or Fraction(0)
    text = printed_sum(steps(calc), titre, value, decimals)
    return f"{text} = {with_unit(value_text(value, decimals), calc.unit)}"


SHORT_RATE = 0.10
ROUNDED_RATE = 0.30
"""How much of a slip's rate goes to those who also rounded, fairly, on the way."""
SCHOOL_RATE = 0.30
"""How much of a slip's rate goes to those who took another molar mass that is as good."""
EARLY_RATES = (0.06, 0.01, 0.002)
"""Rates of rounding a value one, two, three figures short of those asked for."""
ENDS_IN_ZEROS = 1.9
"""How much likelier early rounding is where the written value shows no more figures than the rounding left."""
FARTHEST = Fraction(1)
"""How far, as a share, roundings to one figure are let take a result."""
CUT_RATE = 0.04
LAST_RATE = 0.005
PEN_RATE = 0.02
"""Rate of two digits swapped, of which there are about two in a result."""
USUAL_ORDERS = 4
"""How many orders of the sum are tried with a slip and roundings on the way together."""
NEAR = 0.08
"""How far, as a share, roundings on the way are let take a result before they are looked at."""


def with_mass(claim: Claim, calc: Calculation, way: Way) -> str:
    """Return the words for a molar mass as schools round it, where the sum takes one; "" for that of the practical."""
    for name in ("molar_mass", "known_mass"):
        mass = calc.value(name)
        if mass is not None and mass != claim.calc.value(name) and not {"stop", "mass"} & {each.place for each in way}:
            return f" with {in_decimals(mass, 1, 3)} g/mol as the molar mass"
    return ""


def looseness(reading: Digits, *, exact: bool) -> int:
    """Return how much it takes for a value to fit a reading."""
    if reading.short and reading.decimals < 0:
        return BY_ZEROS
    return 0 if exact else BY_ROUNDING


def sum_fit(
    claim: Claim, case: Tabled, way: Way, rate: float, reading: Digits, value: Fraction, volume: Volume | None = None
) -> Fit:
    """Return the fit of a sum done this way, with the sum that shows it; `volume`: with this one for the mean."""
    slips: list[Volume | Change] = [*([] if volume is None else [volume]), *way]
    findings, causes = [each.finding for each in slips], [each.cause for each in slips]
    phrases = [each.phrase if isinstance(each, Volume) else phrase(case.calc, each) for each in slips]
    if reading.short:
        rate *= SHORT_RATE
    if reading.short and way:
        findings, causes = [*findings, "rounding"], [*causes, TOO_FEW]
        phrases.append("rounding to too few figures")
    mass = with_mass(claim, case.calc, way)
    return Fit(
        tuple(findings),
        tuple(causes),
        rate * (SCHOOL_RATE if mass else 1.0),
        " and ".join(phrases) + mass,
        "",
        value,
        len(slips) == 1 and not reading.short,
        loose=looseness(reading, exact=not mass and equals(value, reading)),
        work=partial(worked, case.calc, way, case.titre, value, reading),
        start=case.titre if volume is None else None,
    )


def worked(calc: Calculation, way: Way, titre: Fraction, value: Fraction, reading: Digits) -> str:
    """Return a sum done this way with its value, as it was written."""
    return shown_sum(steps(calc, way), titre, value, reading, calc.significant_figures, unit_of(calc, way))


def fits_if(
    claim: Claim, case: Tabled, way: Way, rate: float, value: Fraction | None, volume: Volume | None = None, *,
    rounded: bool = False,
) -> Iterator[Fit]:  # fmt: skip
    """Yield the fit of a sum done this way if it gives what was written: straight, or `rounded` on the way."""
    if value is None or (rounded and not claim.full):
        return
    if rounded:
        reading = follows_rounded(case.calc, way, case.titre, claim.full, USUAL_ORDERS)
    else:
        reading = first_reading(value, claim.written)
    if reading is not None and not (rounded and equals(value, reading)):
        yield sum_fit(claim, case, way, rate * (ROUNDED_RATE if rounded else 1.0), reading, value, volume)


def exact_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fits of single slips and pairs with nothing rounded on the way."""
    for place in near(case.every, *claim.near):
        one, value = case.rows.candidates[place], case.exact(place)
        if value is not None and first_reading(value, claim.written) is not None:
            for same in (one, *case.rows.alike.get(one.way, ())):
                yield from fits_if(claim, case, same.way, same.rate, value)


def rounded_fits(claim: Claim, case: Tabled, *, pairs: bool = False) -> Iterator[Fit]:
    """Yield the fits of single slips (or usual pairs) with values rounded on the way, to as many figures as asked."""
    rows, (goal, tolerance) = case.rows, claim.near
    first, last = (rows.singles, rows.usual) if pairs else (0, rows.singles)
    for place in near(case.every, goal, tolerance + NEAR * abs(goal)):
        if first <= place < last:
            one = rows.candidates[place]
            yield from fits_if(claim, case, one.way, one.rate, case.exact(place), rounded=True)


def pen_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fit of the right value with two neighbouring digits swapped; 0.90 for 9.00 is a point out of place."""
    value, reading = case.right, claim.written[0]
    if value is None or reading.decimals < 0 or reading.short:
        return
    written, right = (round_fraction(each, reading.decimals) for each in (reading.value, value))
    if right.adjusted() == written.adjusted() and is_transposed(right, written):
        words = f"it may be a slip of the pen: {TRANSPOSED}"
        working = right_sum(claim, case.titre)
        message = unlike(claim, case.titre, f"{written:f}", words)
        yield Fit((OTHER,), (TRANSPOSED,), PEN_RATE, words, working, value, message=message)


def unlike(claim: Claim, mean: Fraction, written: str, words: str) -> str:
    """Return the sentence that holds a written value against the right sum."""
    return (
        f"From a mean of {volume_text(mean)} cm³ the correct working is {right_sum(claim, mean)}, but "
        f"{YOU_WROTE} {written}; {words}."
    )


def volume_fit(claim: Claim, calc: Calculation, one: Volume, *, rounded: bool = False) -> Iterator[Fit]:
    """Yield the fit of another volume alone; `rounded`: with values rounded on the way."""
    case = tabled(with_own(calc, one.beside), one.cm3)
    (goal, tolerance), value = claim.near, float(case.right or 0)
    if not rounded or abs(value - goal) <= NEAR * abs(value) + 2 * tolerance:
        yield from fits_if(claim, case, RIGHT, one.rate, case.right, one, rounded=rounded)


def volume_pairs(claim: Claim, calc: Calculation, one: Volume) -> Iterator[Fit]:
    """Yield the fits of another volume together with one slip."""
    case = tabled(with_own(calc, one.beside), one.cm3)
    for place in near(case.singles, *claim.near) if one.finding != "rounding" else ():
        way, _, rate = case.rows.candidates[place]
        if goes_with_another(way[0]):
            yield from fits_if(claim, case, way, PAIR_RATE * one.rate * rate, case.exact(place), one)


def rounded_text(one: Early) -> str:
    """Return the value that was rounded too early, with what it is: "amount of NaOH to 0.0021 mol"."""
    value = Fraction(one.rounded) * one.step.scale
    text = in_decimals(value, max(0, one.figures - 1 - magnitude(value)), 12)
    return f"{one.step.name} to {with_unit(text, one.step.unit)}"


def early_fit(claim: Claim, titre: Fraction, one: Early, reading: Digits) -> Fit:
    """Return the fit of one value rounded too early."""
    calc, noun = claim.calc, "figure" if one.figures == 1 else "figures"
    rate = EARLY_RATES[min(calc.significant_figures - one.figures, len(EARLY_RATES)) - 1]
    rest = ", and all that follows in the same way," if one.throughout else ""
    value, written = rounded_text(one), decimal_text(reading.value, reading.decimals)
    words = f"rounding the {value} ({one.figures} significant {noun}){rest} before going on"
    exact = tabled(calc, titre).right or Fraction(0)
    right = with_unit(value_text(exact, right_decimals(claim, exact)), calc.unit)
    message = (
        f"{begun(words)} gives {with_unit(written, calc.unit)}, which is what {YOU_WROTE}. "
        f"Rounded at the end it is {right}."
    )
    working = f"{value} gives {written}, unrounded {right}"
    # Zeros where figures were asked for are what such rounding leaves; by accident they stand there once in ten times.
    rate *= ENDS_IN_ZEROS if claim.value and significant(claim.value, one.figures) == claim.value else 1.0
    cause, loose = ("rounded too early",), looseness(reading, exact=True)
    return Fit(("rounding",), cause, rate, words, working, Fraction(one.result), message=message, loose=loose)


def early_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fit of rounding too early: the first found, with the most figures."""
    value, (goal, tolerance) = case.right, claim.near
    # Where the written value is too far off, no rounding is thought to have led there.
    if not value or abs(claim.value / value - 1) > FARTHEST:
        return
    if has_zeros_for_figures(claim, value):
        yield zeros_fit(claim, value)
        return
    for place in near(case.early_results, goal, 1.2 * tolerance):
        one = case.early[place]
        reading = first_reading(Fraction(one.result), claim.written)
        if reading is not None:
            yield early_fit(claim, case.titre, one, reading)
            return


def has_zeros_for_figures(claim: Claim, value: Fraction) -> bool:
    """Return whether a whole number is the right value rounded to too few figures, as 100 is 98.6 to one."""
    fewer = range(1, claim.calc.significant_figures)
    return claim.written[0].decimals <= 0 and any(significant(value, few) == claim.value for few in fewer)


def zeros_fit(claim: Claim, value: Fraction) -> Fit:
    """Return the fit of rounding the right value to too few figures."""
    written, right = decimal_text(claim.value, 0), value_text(value, right_decimals(claim, value))
    message = too_few_figures(written, claim.calc.significant_figures, right)
    words, cause = "rounding the result to too few figures", ("rounded too early",)
    return Fit(("rounding",), cause, EARLY_RATES[0], words, written, value, message=message)


def last_figure_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fit of a last figure cut off instead of rounded, or out by one."""
    value = case.right
    if value is None:
        return
    for reading in claim.written:
        how = is_last_figure_out(value, reading.value, reading.decimals)
        if how and reading.decimals >= 0 and not reading.short:
            rate = CUT_RATE if how == "cut" else LAST_RATE
            words = (
                "the last figure was cut off instead of rounded" if how == "cut" else "the last figure is one too high"
            )
            longer = Digits(reading.decimals + 2, reading.value, False)
            figures, unit = claim.calc.significant_figures, claim.calc.unit
            working = shown_sum(steps(claim.calc), case.titre, value, longer, figures, unit, fits=False)
            message = f"{working}, but {YOU_WROTE} {decimal_text(reading.value, reading.decimals)}: {words}."
            cause = ("last figure not rounded rightly",)
            yield Fit(("rounding",), cause, rate, words, working, value, message=message)
            return
