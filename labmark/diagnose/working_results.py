"""Which slip gives the result that was written: every sum tried on own figures, and what fits."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, DivisionByZero, InvalidOperation
from fractions import Fraction
from functools import cached_property
from math import log

import numpy as np

from labmark.diagnose.working_digits import digit_slip, is_last_figure_out
from labmark.diagnose.working_right import fair_calculations, right_reading
from labmark.diagnose.working_rounding import (
    Digits,
    Early,
    early,
    equals,
    first_reading,
    follows_rounded,
    readings,
    to_decimal,
)
from labmark.diagnose.working_slips import UNEXPLAINED_RATE, WORTH_BESIDE, WORTH_NAMING, Fit, Slip, merged, said, weigh
from labmark.diagnose.working_sums import (
    CONCENTRATIONS,
    RIGHT,
    Calculation,
    Steps,
    at,
    decimal_text,
    line,
    magnitude,
    plain,
    steps,
    sum_text,
    volume_text,
)
from labmark.diagnose.working_ways import OTHER, PAIR_RATE, Candidate, Table, phrase, table, values

ROUGH_RATE = 0.12
ROUGH_MEAN_RATE = 0.06
RUN_RATE = 0.02
ALL_RATE = 0.04
SHORT_RATE = 0.10
ROUNDED_RATE = 0.30
"""How much of a slip's rate goes to those who also rounded, fairly, on the way."""
EARLY_RATES = (0.06, 0.03, 0.01)
"""Rates of rounding a value one, two, three figures short of those asked for."""
CUT_RATE = 0.04
LAST_RATE = 0.005
DECADES = log(100)
"""A value without a cause may lie anywhere within a factor of ten either way (natural logarithm)."""
USUAL_ORDERS = 4
"""How many orders of the sum are tried with a slip and roundings on the way together."""
NEAR = 0.08
"""How far, as a share, roundings on the way are let take a result before they are looked at."""


@dataclass(frozen=True)
class Claim:
    """A written result with what it may rest on."""

    calc: Calculation
    means: tuple[Fraction, ...]
    """own means [cm³], the likeliest first"""
    written: list[Digits]
    titres: Mapping[str, Fraction]
    """other volumes that may stand in the mean's place: what they are -> cm³"""
    rough: Collection[str]
    """which of them make it the rough"""

    @cached_property
    def value(self) -> Fraction:
        """The written value."""
        return self.written[-1 if self.written[-1].decimals >= 0 else 0].value

    @cached_property
    def width(self) -> Fraction:
        """The last digit that can be seen, as a value."""
        decimals = min(reading.decimals for reading in self.written if reading.decimals >= 0)
        return Fraction(1, 10**decimals)

    @property
    def by_accident(self) -> float:
        """Rate at which a value without a cause would be just this one."""
        return UNEXPLAINED_RATE * float(self.width / abs(self.value)) / DECADES if self.value else UNEXPLAINED_RATE

    def hits(self, candidates: np.ndarray) -> float:
        """Return how many of the values tried would hit this one by accident: their density here times a digit."""
        size = abs(float(self.value))
        near = np.abs(candidates[(np.abs(candidates) > size / 2) & (np.abs(candidates) < 2 * size)])
        if not size or not near.size:
            return 0.0
        distinct = len(np.unique(np.round(near / size, 9)))
        return distinct * float(self.width) / (1.5 * size)


def shown_sum(chain: Steps, titre: Fraction, value: Fraction, reading: Digits, written: Digits | None = None) -> str:
    """Return a sum with its value: "0.0500 × 24.35 ÷ 25.00 = 0.0487"."""
    decimals = max(reading.decimals, 0)
    text = f"{sum_text(chain, titre)} = {decimal_text(value, decimals)}"
    if written is not None and not equals(value, written):
        text += f" ({decimal_text(written.value, decimals)} with values rounded on the way)"
    return text


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
        findings, causes, rate = [*findings, "rounding"], [*causes, "too few figures"], rate * SHORT_RATE
        phrases.append("rounding to too few figures")
    working = shown_sum(steps(calc, one.way), titre, value, reading, reading)
    single = len(one.changes) == 1 and not reading.short
    return Fit(tuple(dict.fromkeys(findings)), tuple(causes), rate, joined(phrases), working, value, single)


def sieve(claim: Claim, candidates: np.ndarray, share: float) -> list[int]:
    """Return the places of the values near enough to be looked at exactly."""
    size, half = abs(float(claim.value)), 0.5 * float(max(10 ** -Fraction(r.decimals) for r in claim.written))
    with np.errstate(invalid="ignore"):
        near = np.abs(candidates - float(claim.value)) <= half * (1 + 1e-6) + (share + 1e-9) * size
    return [int(place) for place in np.flatnonzero(near)]


def exact_fits(claim: Claim, calc: Calculation, rows: Table, titre: Fraction) -> Iterator[Fit]:
    """Yield the fits of single slips and pairs with nothing rounded on the way."""
    for place in sieve(claim, values(rows.lines, float(titre)), 0.0):
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
    for place in sieve(claim, values(rows.lines[:, some], float(titre)), NEAR) if full else ():
        one = rows.candidates[place + some.start]
        value = at(one.line, titre)
        if value is None:
            continue
        reading = follows_rounded(calc, one.way, titre, full, USUAL_ORDERS)
        if reading is not None and not equals(value, reading):
            fit = candidate_fit(claim, calc, one, titre, reading, value)
            yield with_rate(fit, fit.rate * ROUNDED_RATE)


def with_rate(fit: Fit, rate: float) -> Fit:
    """Return the fit with another rate."""
    return Fit(fit.findings, fit.causes, rate, fit.phrase, fit.working, fit.value, fit.single)


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
    reading = first_reading(value, claim.written) if value is not None and not rounded else None
    rate = one.rate
    if rounded:
        full = [r for r in claim.written if not r.short]
        reading, rate = follows_rounded(calc, RIGHT, one.cm3, full, USUAL_ORDERS) if full else None, rate * ROUNDED_RATE
    if reading is not None and value is not None:
        working = shown_sum(steps(calc), one.cm3, value, reading, reading)
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
        findings = tuple(dict.fromkeys((one.finding, *fit.findings)))
        rate = PAIR_RATE * one.rate * fit.rate
        yield Fit(findings, (one.cause, *fit.causes), rate, joined([one.phrase, fit.phrase]), fit.working, value, False)


def early_words(calc: Calculation, one: Early) -> str:
    """Return how a sentence about rounding too early begins."""
    name, figures = one.name, one.figures
    value = Fraction(one.rounded)
    if calc.quantity in CONCENTRATIONS and name.startswith("amount"):
        value /= 1000
    unit = " mol" if name.startswith("amount") else ""
    noun = "figure" if figures == 1 else "figures"
    shown = plain(value, max(0, figures - 1 - magnitude(value)), 12)
    rest = ", and all that follows," if one.throughout else ""
    return f"rounding the {name} to {shown}{unit}{rest} ({figures} significant {noun}) before going on"


def early_fits(claim: Claim, titre: Fraction) -> Iterator[Fit]:
    """Yield the fits of rounding too early."""
    calc = claim.calc
    value = at(line(calc), titre)
    if value is None or not abs(value) / 3 < abs(claim.value) < abs(value) * 3:
        return
    goal, widest = to_decimal(claim.value), max(Decimal(6).scaleb(-r.decimals - 1) for r in claim.written)
    for one in early(calc, titre):
        if abs(one.result - goal) > widest:
            continue
        value = Fraction(one.result)
        reading = first_reading(value, claim.written)
        if reading is None:
            continue
        missing = calc.significant_figures - one.figures
        rate = EARLY_RATES[min(missing, len(EARLY_RATES)) - 1] * (SHORT_RATE if reading.short else 1.0)
        words = early_words(calc, one)
        working = f"{decimal_text(reading.value, reading.decimals)} instead of {right_text(claim, titre)}"
        yield Fit(("rounding",), ("rounded too early",), rate, words, working, value)
        return


def right_text(claim: Claim, titre: Fraction) -> str:
    """Return the right value at the places written, or at the figures asked for where those are more."""
    value = at(line(claim.calc), titre) or Fraction(0)
    asked = claim.calc.significant_figures - 1 - magnitude(value)
    return decimal_text(value, max(0, asked, claim.written[0].decimals))


def last_figure_fits(claim: Claim, titre: Fraction) -> Iterator[Fit]:
    """Yield the fit of a last figure cut off instead of rounded, or out by one."""
    value = at(line(claim.calc), titre)
    if value is None:
        return
    for reading in claim.written:
        how = is_last_figure_out(value, reading.value, reading.decimals)
        if how and reading.decimals >= 0 and not reading.short:
            words = "cutting the last figure off instead of rounding" if how == "cut" else "rounding the last figure up"
            rate = CUT_RATE if how == "cut" else LAST_RATE
            shown = shown_sum(steps(claim.calc), titre, value, Digits(reading.decimals + 2, reading.value, False))
            working = f"{decimal_text(reading.value, reading.decimals)} from {shown}"
            yield Fit(("rounding",), ("last figure not rounded rightly",), rate, words, working, value)
            return


def all_fits(claim: Claim) -> tuple[list[Fit], float, float, int]:
    """Return every fit, the accidental hits expected of single slips and of all, and how many sums were tried."""
    fits: list[Fit] = []
    tried, single_values, all_values = 0, [], []
    volumes = volumes_instead(claim)
    rounding = [fit for mean in claim.means for fit in (*early_fits(claim, mean), *last_figure_fits(claim, mean))]
    for calc in fair_calculations(claim.calc):
        rows = table(calc)
        for mean in claim.means:
            every = values(rows.lines, float(mean))
            single_values.append(every[: rows.singles])
            all_values.append(every)
            fits += exact_fits(claim, calc, rows, mean)
        fits += (fit for one in volumes for fit in volume_fit(claim, calc, one))
        if not any(fit.single for fit in (*fits, *rounding)):
            fits += (fit for one in volumes for fit in volume_pairs(claim, calc, rows, one))
            fits += (fit for one in volumes for fit in volume_fit(claim, calc, one, rounded=True))
            fits += (fit for mean in claim.means for fit in rounded_fits(claim, calc, rows, mean))
        if not fits and not rounding:
            fits += (fit for mean in claim.means for fit in rounded_fits(claim, calc, rows, mean, pairs=True))
        tried += len(rows.candidates) * len(claim.means) + len(volumes) * (1 + rows.singles)
    fits += rounding
    return fits, claim.hits(np.concatenate(single_values)), claim.hits(np.concatenate(all_values)), tried


def named(fits: list[Fit], claim: Claim) -> tuple[list[tuple[Fit, float]], list[Fit]]:
    """Return the fits worth naming with their probabilities, and the others; a single slip leaves no room for pairs."""
    ranked = weigh(merged(fits), claim.by_accident)
    worth = [(fit, odds) for fit, odds in ranked if odds >= WORTH_NAMING]
    if sum(odds for _, odds in worth) < 0.5:
        return [], [fit for fit, _ in ranked]
    if any(fit.single for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if fit.single]
    if any(OTHER not in fit.findings for fit, _ in worth):
        worth = [(fit, odds) for fit, odds in worth if OTHER not in fit.findings or odds >= WORTH_BESIDE]
    kept = {fit.findings for fit, _ in worth}
    return worth, [fit for fit, _ in ranked if fit.findings not in kept]


def slips_of(worth: list[tuple[Fit, float]], others: list[Fit], chances: tuple[float, float], tried: int) -> list[Slip]:
    """Return a slip for each finding of the fits, likeliest first."""
    found: dict[str, Slip] = {}
    also = tuple(dict.fromkeys(" and ".join(fit.causes) for fit in others))
    for fit, odds in worth:
        chance = chances[0] if fit.single else chances[1]
        for place, finding in enumerate(fit.findings):
            together = tuple(other for other in fit.findings if other != finding)
            cause = fit.causes[min(place, len(fit.causes) - 1)] if together else " and ".join(fit.causes)
            criterion = "figures" if finding == "rounding" and cause == "too few figures" else "calculation"
            slip = Slip(
                finding,
                cause,
                criterion,
                said(fit, chance),
                fit.working,
                fit.value,
                together,
                tried,
                chance,
                odds,
                also,
            )
            found.setdefault(finding, slip)
    return list(found.values())


def short_slip(claim: Claim, reading: Digits) -> Slip:
    """Return the slip of a right value with too few figures."""
    asked = claim.calc.significant_figures
    value = at(line(claim.calc), claim.means[0])
    shown = decimal_text(reading.value, reading.decimals)
    right = right_text(claim, claim.means[0])
    message = f"{shown} has too few figures: {asked} significant figures were asked for, as in {right}."
    return Slip("rounding", "too few figures", "figures", message, f"{right} → {shown}", value)


def unexplained(claim: Claim, others: list[Fit], chance: float, tried: int) -> Slip:
    """Return the slip that no sum explains, with what the student's own figures give."""
    mean = claim.means[0]
    value = at(line(claim.calc), mean) or Fraction(0)
    right = right_text(claim, mean)
    decimals = max(0, claim.written[-1].decimals if claim.written[-1].decimals >= 0 else 0)
    shown = decimal_text(claim.value, decimals)
    working = f"{sum_text(steps(claim.calc), mean)} = {right}"
    how = digit_slip(Decimal(right), Decimal(shown))
    cause = how or "no usual slip gives this value"
    ending = (
        f"that would be a slip of the pen: {how}"
        if how
        else "no usual slip gives that value: go through the steps again"
    )
    message = f"From a mean of {volume_text(mean)} cm³ the sum is {working}. You wrote {shown}; {ending}."
    also = tuple(dict.fromkeys(" and ".join(fit.causes) for fit in others))
    return Slip("result-slip", cause, "calculation", message, working, value, (), tried, chance, None, also)


def result_slips(
    calc: Calculation,
    *,
    mean: Fraction,
    claimed: Decimal,
    decimals: int | None,
    titres: Mapping[str, Fraction] | None = None,
    rough: Collection[str] = ("Rough",),
    other_means: tuple[Fraction, ...] = (),
) -> list[Slip]:
    """Return the slips that explain a written result, likeliest first; an empty list where it is right.

    `mean` [cm³] is the own mean that the result should rest on, `other_means` further ones that it may fairly rest on
    (the unrounded mean behind a rounded one). `claimed` is the written result and `decimals` the places written, None
    where that cannot be known. `titres` are the own titres [cm³] by label; `rough` says which labels are roughs.
    A value that no sum explains is one `result-slip`. Nothing can be said (an empty list) where the mean is not
    positive.
    """
    if mean <= 0 or not claimed.is_finite():
        return []
    whole = calc.quantity == "water of crystallisation"
    written = readings(claimed, decimals, calc.significant_figures, whole_is_enough=whole)
    means = tuple(dict.fromkeys((mean, *(other for other in other_means if other > 0))))
    right = right_reading(calc, means, written)
    claim = Claim(calc, means, written, titres or {}, rough)
    if right is not None:
        return [short_slip(claim, right)] if right.short else []
    try:
        fits, single_chance, all_chance, tried = all_fits(claim)
    except (DivisionByZero, InvalidOperation) as problem:
        raise ValueError(f"the figures of the practical allow no result: {problem}") from problem
    worth, others = named(fits, claim)
    if not worth:
        return [unexplained(claim, others, all_chance, tried)]
    return slips_of(worth, others, (single_chance, all_chance), tried)


def result_is_right(
    calc: Calculation,
    *,
    mean: Fraction,
    claimed: Decimal,
    decimals: int | None,
    other_means: tuple[Fraction, ...] = (),
) -> bool:
    """Return whether a written result is right at the digits written; how many figures it has is another question."""
    if mean <= 0 or not claimed.is_finite():
        return False
    written = readings(claimed, decimals, calc.significant_figures)
    return right_reading(calc, (mean, *other_means), written) is not None
