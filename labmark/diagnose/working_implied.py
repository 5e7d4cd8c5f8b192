"""What a written result would take that no usual slip explains: another number in the ratio, volume or mass.

It proves no slip, and names the figure to look at: with 59.0 g/mol in place of 60.052 (the ion for the acid) 5.12 %
becomes 5.03 %. What is said is true whatever happened.
"""

from collections.abc import Iterator
from fractions import Fraction

from labmark.dataclass import replace
from labmark.diagnose.hypotheses import PIPETTES
from labmark.diagnose.working_calculation import volume_text
from labmark.diagnose.working_fits import Claim
from labmark.diagnose.working_right import first_reading
from labmark.exact import in_decimals, in_figures
from labmark.formula import Formula, Input

NUMBERS = (1, 2, 3, 4, 5, 6, 8, 14)
"""Numbers of an equation, those of the hydrogen ions among them."""
SIZES, FLASKS = sorted(int(size) for size, _ in PIPETTES), [50, 100, 200, 250, 500, 1000]
"""Volumes of a school laboratory [cm³] (common practice, no source)."""
VOLUMES = {"flask.aliquot": SIZES, "flask.dilution.taken": SIZES, "flask.dilution.made_up_to": FLASKS,
           "sample.made_up_to": FLASKS}  # fmt: skip
FARTHEST = 3
"""A mass more than this many times too large or too small is not put down to looking at the wrong one."""
MASSES = {"sample.mass": ("mass", "g", 2, 6), "molar_mass": ("molar mass", "g/mol", 1, 3),
          "known_mass": ("molar mass", "g/mol", 1, 3)}  # fmt: skip
"""Name of an input -> what it is called, its unit, and the fewest and the most decimals that it is shown with."""


def implied(claim: Claim) -> str:
    """Return what would give the written value, in words behind "no usual slip gives that value"; "" where nothing.

    The means that the result may rest on are tried in turn, as one that was rounded leads elsewhere.
    """
    formula, mean = claim.calc.formula, claim.means[0]
    right = formula.curve.result(mean)
    if right is None or right <= 0 or claim.value <= 0 or not claim.full:
        return ""
    for one, number, words in _other_numbers(formula):
        other = None if number == one.value else formula.given([replace(one, value=number, text="")]).curve
        results = (other.result(mean) for mean in claim.means) if other is not None else ()
        if any(found is not None and first_reading(found, claim.full) for found in results):
            return f"{words}? That would give it"
    return _mass(claim, mean)


def _other_numbers(formula: Formula) -> Iterator[tuple[Input, Fraction, str]]:
    """Yield each input that another number may stand for, with that number and what to ask."""
    for one in formula.inputs:
        for number in NUMBERS if one.kind == "ratio" else ():
            yield one, Fraction(number), f". Was {number} taken in place of {one.value} in the mole ratio"
    for one in (formula.of[name] for name in VOLUMES if name in formula.of):
        if one.value is not None:
            own = volume_text(one.value)
            for size in VOLUMES[one.name]:
                yield one, Fraction(size), f". Were {size} cm³ taken in place of {own} cm³"


def _mass(claim: Claim, mean: Fraction) -> str:
    asked = []
    for name, (what, unit, fewest, most) in MASSES.items():
        own = claim.calc.value(name)
        found = None if own is None else claim.calc.formula.turned(name, mean).titre(claim.value)
        if own is not None and found is not None and own / FARTHEST < found < own * FARTHEST:
            taken, right = (in_figures(each, claim.calc.significant_figures) for each in (found, own))
            if taken != right:
                asked.append(f"the {what} {taken} {unit} in place of {in_decimals(own, fewest, most)} {unit}")
    return f". Was {' or '.join(asked)}? {'That' if len(asked) == 1 else 'Either'} would give it" if asked else ""
