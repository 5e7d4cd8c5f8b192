"""What a slip in the working is, as handed on: a hypothesis with the sum that shows it and its odds.

The odds weigh the slips that give the written value against one another and against chance. A written value of d
digits is hit by accident by any one sum with a chance of about (width of a digit) ÷ (where such a value might lie); the
more sums are tried and the fewer the digits, the less a hit is worth.
"""

from collections.abc import Callable
from fractions import Fraction
from typing import Any, NamedTuple

from labmark.facts import Places
from labmark.words import YOU_WROTE, begun

UNEXPLAINED_RATE = 0.10
"""How common a wrong value without a cause in the tables is, beside the rates of the slips.

Common practice, no source."""
WORTH_NAMING = 0.15
"""A hypothesis with a lower probability is not named, only listed."""
WORTH_BESIDE = 0.35
"""From here on a cause under a code for "wrong, and no more" (`result-slip`, `mean-slip`) is named beside others."""
TOO_FEW = "too few figures"
"""Cause of a `rounding` that costs the figures, not the calculation."""
UNEXPLAINED = "no usual slip gives this value"
"""Cause of a wrong value that nothing explains."""
LEFT_OUT = "a run left out"
"""Cause of a `mean-slip`: the mean is that of only some of the runs that agree, or are ticked."""
TICKED_TOO = "a run ticked that the mean rightly leaves out"
"""Cause of a `mean-slip`: the mean is that of the runs that agree, and one more is ticked."""
FROM_START = "the titre counted from the initial reading"
"""Cause of a `difference-forgotten`: a later titre that counts from the endpoint before."""
ONE_TITRE, ALL_TITRES = "one titre used instead of the mean", "the mean of all titres used"
"""Causes of a `result-slip`: another titre than the mean of those that agree."""
OTHER_TITRE, DIFFERENCE = "another titre taken", "the difference of two titres taken"
"""Causes of a `result-slip`: what belongs to another of several titres."""
CROSSED = "two results the wrong way round"
"""Cause of a `result-slip`: two results that are right, each where the other belongs."""
BY_ROUNDING = 1
"""A fit that takes values rounded on the way, a mean to 0.05 or a molar mass as schools round it."""
BY_ZEROS = 2
"""A fit that takes zeros at the end of a whole number to be no figures."""
LOOSE = 0.2
"""What such a fit is worth beside one that is straight from the figures of the practical."""
PLAUSIBLE = 0.0004
"""Two usual slips together are as common as this: what is rarer stands in no other's way."""
TOGETHER = " together with "
"""Stands between the causes of slips that explain a value together."""
DOUBTFUL = 0.10
"""From this chance of an accidental hit on, the message says so."""


class Slip(NamedTuple):
    """A slip in the working: what would explain a written value."""

    finding: str
    """Code from the contract's tables."""
    cause: str
    """A few words, the same for every student: "mole ratio left out"."""
    criterion: str
    """The criterion it costs: "calculation", "figures", "mean" or "selection"."""
    message: str
    """What comes out if the slip is made, with the sum."""
    working: str = ""
    """One line in figures: "0.0500 × 24.35 ÷ 25.00 = 0.0487"; empty where no sum explains the value."""
    value: Fraction | None = None
    """What the sum gives, unrounded."""
    together_with: tuple[str, ...] = ()
    """Findings of the slips that this one explains the value together with; each has a `Slip` of its own."""
    slips: tuple[str, ...] = ()
    """Causes of the named slips in the explanation that this belongs to, those that cost the criterion; () where
    nothing explains the value."""
    candidates_tried: int = 0
    chance: float = 0.0
    """Expected number of the sums tried that would hit a value of so many digits by accident."""
    probability: float | None = None
    """Odds of this slip among all that fit and none of them; None where the slip is a plain fact."""
    also: tuple[str, ...] = ()
    """Causes that fit too and are less likely."""
    says_right: bool = False
    """Whether the message gives the right value already."""
    start: Fraction | None = None
    """The mean [cm³] that the sum begins with; None where another volume stands in its place."""

    def evidence(self) -> dict[str, Any]:
        """Return the figures behind the message, for the record."""
        return {
            "cause": self.cause,
            "working": self.working,
            "value": None if self.value is None else float(self.value),
            "criterion": self.criterion,
            "together_with": list(self.together_with),
            "slips": list(self.slips),
            "candidates_tried": self.candidates_tried,
            "accidental_hits_expected": round(self.chance, 4),
            "also_fits": list(self.also),
        }


class Fit(NamedTuple):
    """A hypothesis that gives the written value."""

    findings: tuple[str, ...]
    """one finding, or those that occur together"""
    causes: tuple[str, ...]
    """a cause for each finding"""
    rate: float
    phrase: str
    """how the sentence begins: "leaving out the 2 : 1 ratio" """
    working: str
    value: Fraction
    single: bool = True
    message: str = ""
    """the whole sentence, where "... gives ..., which is what you wrote" does not say it"""
    loose: int = 0
    """0: straight from the figures of the practical; `BY_ROUNDING`, `BY_ZEROS` where it takes more to fit"""
    work: Callable[[], str] | None = None
    """makes `working`, where it is empty: most fits are never named"""
    others: tuple[str, ...] = ()
    """further causes under the same findings, likeliest first"""
    runs: Places = ()
    """places of the runs that a mean is of"""
    start: Fraction | None = None
    """the mean [cm³] that the sum begins with; None where another volume stands in its place"""

    @property
    def cause(self) -> str:
        """Return all its causes in words."""
        return TOGETHER.join(self.causes)


def weigh(fits: list[Fit], by_accident: float) -> list[tuple[Fit, float]]:
    """Return each fit with its probability, likeliest first; `by_accident` is the rate of an unexplained value here."""
    total = sum(fit.rate for fit in fits) + by_accident
    ranked = sorted(fits, key=lambda fit: (-fit.rate, fit.findings, fit.causes))
    return [(fit, fit.rate / total) for fit in ranked]


def merged(fits: list[Fit]) -> list[Fit]:
    """Return one fit for each set of findings: the likeliest, with the rates of all its causes."""
    causes: dict[tuple[tuple[str, ...], tuple[str, ...]], Fit] = {}
    for fit in sorted(fits, key=lambda fit: (fit.loose, -fit.rate)):
        causes.setdefault((tuple(sorted(fit.findings)), fit.causes), fit)
    best: dict[tuple[str, ...], Fit] = {}
    for (findings, _), fit in causes.items():
        first = best.setdefault(findings, fit)
        if first is not fit:
            rate = first.rate + (fit.rate if fit.loose == first.loose else 0.0)
            best[findings] = first._replace(rate=rate, others=(*first.others, fit.cause))
    return list(best.values())


def is_usurped(fit: Fit, fits: list[Fit]) -> bool:
    """Return whether a fit that takes more than the figures of the practical stands behind one that doesn't."""
    if not fit.loose:
        return False
    rivals = [one.rate for one in fits if not one.loose and one.rate >= PLAUSIBLE]
    return max(rivals, default=0.0) > (0.0 if fit.loose >= BY_ZEROS else LOOSE * fit.rate)


def said(fit: Fit, chance: float) -> str:
    """Return the sentence: "Leaving out the 2 : 1 ratio gives 0.0500 × 24.35 ÷ 25.00 = 0.0487, which is ..."."""
    text = fit.message or f"{begun(fit.phrase)} gives {fit.working}, which is what {YOU_WROTE}."
    if chance >= DOUBTFUL:
        text += " It may be a coincidence."
    return text


def slip_of(
    fit: Fit, place: int, criterion: str, message: str, tried: int, chance: float, odds: float, also: tuple[str, ...]
) -> Slip:
    """Return the slip of one finding of a fit, that at `place`."""
    finding, cause = fit.findings[place], fit.causes[place]
    together = tuple(dict.fromkeys(other for other in fit.findings if other != finding))
    slips = tuple(one for one in fit.causes if one != TOO_FEW)
    return Slip(
        finding, cause, criterion, message, fit.working, fit.value, together, slips, tried, chance, odds, also,
        bool(fit.message), fit.start,
    )  # fmt: skip
