"""Every slip that gives a written result: each way of doing the sum, other volumes, roundings, on own figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from labmark.diagnose.working_calculation import CONCENTRATIONS, RIGHT, Calculation, decimal_text, plain
from labmark.diagnose.working_claim import Claim, right_text, shown_sum
from labmark.diagnose.working_digits import is_last_figure_out
from labmark.diagnose.working_early import Early
from labmark.diagnose.working_follows import follows_rounded, roundings
from labmark.diagnose.working_rounding import Digits, equals, first_reading
from labmark.diagnose.working_slips import TOO_FEW, Fit
from labmark.diagnose.working_sums import steps
from labmark.diagnose.working_tabled import Tabled, tabled
from labmark.diagnose.working_volumes import Volume
from labmark.diagnose.working_ways import PAIR_RATE, Candidate, phrase
from labmark.figures import magnitude

SHORT_RATE = 0.10
ROUNDED_RATE = 0.30
"""How much of a slip's rate goes to those who also rounded, fairly, on the way."""
EARLY_RATES = (0.06, 0.03, 0.01)
"""Rates of rounding a value one, two, three figures short of those asked for."""
FARTHEST = Fraction(1)
"""How far, as a share, roundings to one figure are let take a result."""
CUT_RATE = 0.04
LAST_RATE = 0.005
USUAL_ORDERS = 4
"""How many orders of the sum are tried with a slip and roundings on the way together."""
NEAR = Fraction(8, 100)
"""How far, as a share, roundings on the way are let take a result before they are looked at."""


def joined(phrases: list[str]) -> str:
    """Return the phrases as one."""
    return " and ".join(phrases)


def candidate_fit(calc: Calculation, one: Candidate, titre: Fraction, reading: Digits, value: Fraction) -> Fit:
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


def exact_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fits of single slips and pairs with nothing rounded on the way."""
    for place in case.every.near(*claim.near):
        value = case.exact(place)
        if value is not None and (reading := first_reading(value, claim.written)) is not None:
            yield candidate_fit(case.calc, case.rows.candidates[place], case.titre, reading, value)


def rounded_fits(claim: Claim, case: Tabled, *, pairs: bool = False) -> Iterator[Fit]:
    """Yield the fits of single slips (or usual pairs) with values rounded on the way, to as many figures as asked."""
    rows, (goal, tolerance) = case.rows, claim.near
    first, last = (rows.singles, rows.usual) if pairs else (0, rows.singles)
    for place in case.every.near(goal, tolerance + float(NEAR) * abs(goal)) if claim.full else ():
        one, value = rows.candidates[place], case.exact(place) if first <= place < last else None
        if value is None:
            continue
        reading = follows_rounded(case.calc, one.way, case.titre, claim.full, USUAL_ORDERS)
        if reading is not None and not equals(value, reading):
            fit = candidate_fit(case.calc, one, case.titre, reading, value)
            yield replace(fit, rate=fit.rate * ROUNDED_RATE)


def may_give(claim: Claim, calc: Calculation, one: Volume, *, singly: bool) -> bool:
    """Return whether another volume comes near the written value, alone or (not `singly`) with a slip or roundings."""
    case, (goal, tolerance) = tabled(calc, one.cm3), claim.near
    if case.is_near(goal, tolerance):
        return True
    return not singly and (case.singles.holds(goal, tolerance) or may_follow(claim, case))


def may_follow(claim: Claim, case: Tabled) -> bool:
    """Return whether the right sum with values rounded on the way comes near the written value."""
    goal, tolerance = claim.near
    near = case.is_near(goal, float(NEAR) * abs(case.about) + 2 * tolerance)
    return near and bool(claim.full) and roundings(case.calc, RIGHT, case.titre).near(claim.full)


def volume_fit(claim: Claim, calc: Calculation, one: Volume, *, rounded: bool = False) -> Iterator[Fit]:
    """Yield the fit of another volume alone; `rounded`: with values rounded on the way."""
    case = tabled(calc, one.cm3)
    if rounded and may_follow(claim, case):
        reading = follows_rounded(calc, RIGHT, one.cm3, claim.full, USUAL_ORDERS)
    elif not rounded and case.right is not None and case.is_near(*claim.near):
        reading = first_reading(case.right, claim.written)
    else:
        return
    value = case.right
    if reading is not None and value is not None:
        working = shown_sum(steps(calc), one.cm3, value, reading, reading)
        rate = one.rate * (ROUNDED_RATE if rounded else 1.0)
        yield Fit((one.finding,), (one.cause,), rate, one.phrase, working, value, not reading.short)


def volume_pairs(claim: Claim, calc: Calculation, one: Volume) -> Iterator[Fit]:
    """Yield the fits of another volume together with one slip."""
    case = tabled(calc, one.cm3)
    for place in case.singles.near(*claim.near):
        value = case.exact(place)
        reading = first_reading(value, claim.written) if value is not None else None
        if value is None or reading is None:
            continue
        fit = candidate_fit(calc, case.rows.candidates[place], one.cm3, reading, value)
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


def early_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fit of rounding too early: the first found, with the most figures."""
    value, (goal, tolerance) = case.right, claim.near
    # Where the written value is too far off, no rounding is thought to have led there.
    if not value or abs(claim.value / value - 1) > FARTHEST:
        return
    for place in case.early_results.near(goal, 1.2 * tolerance):
        one = case.early[place]
        reading = first_reading(Fraction(one.result), claim.written)
        if reading is not None:
            yield early_fit(claim, case.titre, one, reading)
            return


def last_figure_fits(claim: Claim, case: Tabled) -> Iterator[Fit]:
    """Yield the fit of a last figure cut off instead of rounded, or out by one."""
    value, (goal, tolerance) = case.right, claim.near
    if value is None or not case.is_near(goal, 4 * tolerance):
        return
    for reading in claim.written:
        how = is_last_figure_out(value, reading.value, reading.decimals)
        if how and reading.decimals >= 0 and not reading.short:
            rate = CUT_RATE if how == "cut" else LAST_RATE
            words = (
                "the last figure was cut off instead of rounded" if how == "cut" else "the last figure is one too high"
            )
            longer = Digits(reading.decimals + 2, reading.value, False)
            working = shown_sum(steps(claim.calc), case.titre, value, longer)
            message = f"{working}; you wrote {decimal_text(reading.value, reading.decimals)}: {words}."
            cause = ("last figure not rounded rightly",)
            yield Fit(("rounding",), cause, rate, words, working, value, message=message)
            return
