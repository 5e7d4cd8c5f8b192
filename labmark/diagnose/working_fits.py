"""Every slip that gives a written result: each way of doing the sum, other volumes, roundings, on own figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from labmark.diagnose.working_calculation import CONCENTRATIONS, RIGHT, Calculation, decimal_text, plain
from labmark.diagnose.working_claim import Claim, FloatArray, right_text, shown_sum, sieve
from labmark.diagnose.working_digits import is_last_figure_out
from labmark.diagnose.working_right import fair_calculations
from labmark.diagnose.working_rounding import Digits, Early, early, equals, first_reading, follows_rounded, to_decimal
from labmark.diagnose.working_slips import TOO_FEW, Fit
from labmark.diagnose.working_sums import at, line, steps
from labmark.diagnose.working_ways import OTHER, PAIR_RATE, Candidate, Table, phrase, table, values
from labmark.figures import magnitude

ROUGH_RATE = 0.12
ROUGH_MEAN_RATE = 0.06
RUN_RATE = 0.02
ALL_RATE = 0.04
SHORT_RATE = 0.10
ROUNDED_RATE = 0.30
"""How much of a slip's rate goes to those who also rounded, fairly, on the way."""
EARLY_RATES = (0.06, 0.03, 0.01)
"""Rates of rounding a value one, two, three figures short of those asked for."""
FARTHEST = Fraction(1)
"""How far, as a share, roundings to one figure are let take a result."""
CUT_RATE = 0.04
LAST_RATE = 0.005
MOST_SEARCHED = 2
"""With so many molar masses and means the longer searches are made, the standard one first."""
USUAL_ORDERS = 4
"""How many orders of the sum are tried with a slip and roundings on the way together."""
NEAR = Fraction(8, 100)
"""How far, as a share, roundings on the way are let take a result before they are looked at."""


def joined(phrases: list[str]) -> str:
    """Return the phrases as one."""
    return " and ".join(phrases)


def candidate_fit(
    claim: Claim, calc: Calculation, one: Candidate, titre: Fraction, reading: Digits, value: Fraction
) -> Fit:
    """Return the fit of a way of doing the sum."""
    findings = [change.finding for change in one.changes]
    causes = [change.cause for change in one.changes]
    phrases = [phrase(calc, change) for change in one.changes]
    rate = one.rate
    if reading.short:
        findings, causes, rate = [*findings, "rounding"], [*causes, TOO_FEW], rate * SHORT_RATE
        phrases.append("rounding to too few figures")
    working = shown_sum(steps(calc, one.way), titre, value, reading, reading)
    single = len(one.changes) == 1 and not reading.short
    return Fit(tuple(findings), tuple(causes), rate, joined(phrases), working, value, single)


def exact_fits(claim: Claim, calc: Calculation, rows: Table, titre: Fraction, tried: FloatArray) -> Iterator[Fit]:
    """Yield the fits of single slips and pairs with nothing rounded on the way; `tried` holds their values."""
    for place in sieve(claim, tried, 0.0):
        one = rows.candidates[place]
        value = at(one.line, titre)
        if value is not None and (reading := first_reading(value, claim.written)) is not None:
            yield candidate_fit(claim, calc, one, titre, reading, value)


def rounded_fits(
    claim: Claim, calc: Calculation, rows: Table, titre: Fraction, *, pairs: bool = False
) -> Iterator[Fit]:
    """Yield the fits of single slips (or usual pairs) with values rounded on the way, to as many figures as asked."""
    full = [reading for reading in claim.written if not reading.short]
    some = slice(rows.singles, rows.usual) if pairs else slice(0, rows.singles)
    for place in sieve(claim, values(rows.lines[:, some], float(titre)), float(NEAR)) if full else ():
        one = rows.candidates[place + some.start]
        value = at(one.line, titre)
        if value is None:
            continue
        reading = follows_rounded(calc, one.way, titre, full, USUAL_ORDERS)
        if reading is not None and not equals(value, reading):
            fit = candidate_fit(claim, calc, one, titre, reading, value)
            yield replace(fit, rate=fit.rate * ROUNDED_RATE)


@dataclass(frozen=True, slots=True)
class Volume:
    """A volume taken instead of the own mean."""

    cm3: Fraction
    finding: str
    cause: str
    phrase: str
    rate: float


def volumes_instead(claim: Claim) -> list[Volume]:
    """Return the volumes that may have been taken instead of the mean: the rough, a run, the mean of all."""
    found = []
    for label, cm3 in claim.titres.items():
        if label in claim.rough:
            found.append(Volume(cm3, "rough-in-result", "worked from the rough", "working from the rough", ROUGH_RATE))
        else:
            words = f"working from run {label} alone"
            found.append(Volume(cm3, "result-slip", "worked from one run instead of the mean", words, RUN_RATE))
    runs = [cm3 for label, cm3 in claim.titres.items() if label not in claim.rough]
    every = list(claim.titres.values())
    if len(every) > len(runs) >= 1:
        mean, words = sum(every, Fraction(0)) / len(every), "working from the mean of all runs with the rough"
        found.append(Volume(mean, "rough-in-result", "worked from a mean with the rough", words, ROUGH_MEAN_RATE))
    if len(runs) > 1:
        mean, words = sum(runs, Fraction(0)) / len(runs), "working from the mean of all accurate runs"
        found.append(Volume(mean, "result-slip", "worked from the mean of all runs", words, ALL_RATE))
    likeliest: dict[Fraction, Volume] = {}
    for one in sorted(found, key=lambda one: -one.rate):
        likeliest.setdefault(one.cm3, one)
    return [one for one in likeliest.values() if one.cm3 > 0 and one.cm3 not in claim.means]


def volume_fit(claim: Claim, calc: Calculation, one: Volume, *, rounded: bool = False) -> Iterator[Fit]:
    """Yield the fit of another volume alone; `rounded`: with values rounded on the way."""
    value = at(line(calc), one.cm3)
    if value is None or abs(value - claim.value) > NEAR * abs(value) + claim.coarsest:
        return
    if rounded:
        full = [reading for reading in claim.written if not reading.short]
        reading = follows_rounded(calc, RIGHT, one.cm3, full, USUAL_ORDERS) if full else None
    else:
        reading = first_reading(value, claim.written)
    if reading is not None:
        working = shown_sum(steps(calc), one.cm3, value, reading, reading)
        rate = one.rate * (ROUNDED_RATE if rounded else 1.0)
        yield Fit((one.finding,), (one.cause,), rate, one.phrase, working, value, not reading.short)


def volume_pairs(claim: Claim, calc: Calculation, rows: Table, one: Volume) -> Iterator[Fit]:
    """Yield the fits of another volume together with one slip."""
    for place in sieve(claim, values(rows.lines[:, : rows.singles], float(one.cm3)), 0.0):
        way = rows.candidates[place]
        value = at(way.line, one.cm3)
        reading = first_reading(value, claim.written) if value is not None else None
        if value is None or reading is None:
            continue
        fit = candidate_fit(claim, calc, way, one.cm3, reading, value)
        findings = (one.finding, *fit.findings)
        rate = PAIR_RATE * one.rate * fit.rate
        yield Fit(findings, (one.cause, *fit.causes), rate, joined([one.phrase, fit.phrase]), fit.working, value, False)


def rounded_text(calc: Calculation, one: Early) -> str:
    """Return the value that was rounded too early, with what it is: "amount of NaOH to 0.0021 mol"."""
    value = Fraction(one.rounded)
    if calc.quantity in CONCENTRATIONS and one.name.startswith("amount"):
        value /= 1000
    unit = " mol" if one.name.startswith("amount") else ""
    return f"{one.name} to {plain(value, max(0, one.figures - 1 - magnitude(value)), 12)}{unit}"


def early_fit(claim: Claim, titre: Fraction, one: Early, reading: Digits) -> Fit:
    """Return the fit of one value rounded too early."""
    calc, noun = claim.calc, "figure" if one.figures == 1 else "figures"
    rate = EARLY_RATES[min(calc.significant_figures - one.figures, len(EARLY_RATES)) - 1]
    rest = ", and all that follows in the same way," if one.throughout else ""
    value, written = rounded_text(calc, one), decimal_text(reading.value, reading.decimals)
    words = f"rounding the {value} ({one.figures} significant {noun}){rest} before going on"
    right = right_text(claim, titre)
    message = (
        f"{words[0].upper()}{words[1:]} gives {written}, which is what you wrote. Rounded at the end it is {right}."
    )
    working = f"{value} gives {written}, unrounded {right}"
    rate *= SHORT_RATE if reading.short else 1.0
    return Fit(("rounding",), ("rounded too early",), rate, words, working, Fraction(one.result), message=message)


def early_fits(claim: Claim, titre: Fraction) -> Iterator[Fit]:
    """Yield the fit of rounding too early: the first found, with the most figures."""
    value = at(line(claim.calc), titre)
    if not value:
        return
    goal, widest = to_decimal(claim.value), max(Decimal(6).scaleb(-r.decimals - 1) for r in claim.written)
    for one in early(claim.calc, titre, fewest_figures(claim, value)):
        if abs(one.result - goal) > widest:
            continue
        reading = first_reading(Fraction(one.result), claim.written)
        if reading is not None:
            yield early_fit(claim, titre, one, reading)
            return


def fewest_figures(claim: Claim, value: Fraction) -> int:
    """Return to how few figures values need to be thought rounded: none where the written value is too far off."""
    apart = abs(claim.value / value - 1)
    return claim.calc.significant_figures if apart > FARTHEST else 1


def last_figure_fits(claim: Claim, titre: Fraction) -> Iterator[Fit]:
    """Yield the fit of a last figure cut off instead of rounded, or out by one."""
    value = at(line(claim.calc), titre)
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
            working = shown_sum(steps(claim.calc), titre, value, longer)
            message = f"{working}; you wrote {decimal_text(reading.value, reading.decimals)}: {words}."
            cause = ("last figure not rounded rightly",)
            yield Fit(("rounding",), cause, rate, words, working, value, message=message)
            return


@dataclass(frozen=True)
class Found:
    """What was found, and among how many sums."""

    fits: list[Fit]
    singles_by_accident: float
    """accidental hits expected of the single slips"""
    all_by_accident: float
    """accidental hits expected of single slips and pairs"""
    tried: int


def all_fits(claim: Claim) -> Found:
    """Return every fit: exact ones first, and what takes more searching only where no single slip fits."""
    cases = [(calc, table(calc), mean) for calc in fair_calculations(claim.calc) for mean in claim.means]
    volumes = volumes_instead(claim)
    fits = [fit for mean in claim.means for fit in last_figure_fits(claim, mean)]
    every = [values(rows.lines, float(mean)) for _, rows, mean in cases]
    for (calc, rows, mean), tried in zip(cases, every, strict=True):
        fits += exact_fits(claim, calc, rows, mean, tried)
    if not any(fit.single and OTHER not in fit.findings for fit in fits):
        fits += (fit for mean in claim.means for fit in early_fits(claim, mean))
        fits += (fit for calc, _, _ in cases for one in volumes for fit in volume_fit(claim, calc, one))
    if not any(fit.single for fit in fits):
        fits += searched_fits(claim, cases[:MOST_SEARCHED], volumes, bool(fits))
    singles = claim.hits(every[0][: cases[0][1].singles])
    number = sum(len(rows.candidates) + len(volumes) * (1 + rows.singles) for _, rows, _ in cases)
    return Found(fits, singles, claim.hits(every[0]), number)


def searched_fits(
    claim: Claim, cases: list[tuple[Calculation, Table, Fraction]], volumes: list[Volume], found: bool
) -> Iterator[Fit]:
    """Yield the fits with another volume and a slip, and those with values rounded on the way.

    `found`: pairs fit already, so pairs with roundings besides are not looked for.
    """
    for calc, rows, mean in cases:
        for one in volumes:
            pairs = [*volume_pairs(claim, calc, rows, one), *volume_fit(claim, calc, one, rounded=True)]
            found = found or bool(pairs)
            yield from pairs
        rounded = [*rounded_fits(claim, calc, rows, mean)]
        found = found or bool(rounded)
        yield from rounded
    if not found:
        for calc, rows, mean in cases:
            yield from rounded_fits(claim, calc, rows, mean, pairs=True)
