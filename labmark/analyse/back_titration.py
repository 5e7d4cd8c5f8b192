"""A back titration a step at a time: what was added, what was left, and so what reacted with the sample.

0.750 g of eggshell in 50.0 cm³ of 1.00 mol/dm³ HCl, made up to 250 cm³; 25.0 cm³ of it take 36.40 cm³ of 0.100 mol/dm³
NaOH:

    amount of HCl added               1.00 × 50.0 ÷ 1000         = 0.0500 mol
    amount of NaOH in the mean titre  0.100 × 36.40 ÷ 1000       = 0.003640 mol
    amount of HCl left in the flask   0.003640 × 1 ÷ 1           = 0.003640 mol
    ... in all of the mixture         0.003640 × 250.0 ÷ 25.0    = 0.03640 mol
    amount of HCl that reacted        0.0500 − 0.03640           = 0.01360 mol
    amount of CaCO3 in the sample     0.01360 × 1 ÷ 2            = 0.00680 mol
"""

from __future__ import annotations

from fractions import Fraction

from labmark.analyse.link import Link, amount_in_titre
from labmark.figures import in_figures, plain
from labmark.practical.back import Back
from labmark.practical.equation import Equation, Species
from labmark.practical.load import Practical

FURTHER = 2
"""So many figures more than asked for are shown on the way."""


def to_amount(practical: Practical, back: Back) -> tuple[Link, ...]:
    """Return the steps from the titre to the amount of the unknown that was treated with the reagent [mol]."""
    place = "in the sample" if back.whole else "in the flask"
    unknown = practical.unknown
    reacted = _ratio(back.equation, back.reagent, unknown, back.used, f"amount of {unknown.shown} {place}")
    return (_added(practical, back), *_left(practical, back), _difference(practical, back), reacted)


def to_concentration(practical: Practical, back: Back) -> Link:
    """Return the step from that amount to the concentration of what was measured by pipette."""
    sample = practical.file.sample
    volume = sample.volume if back.whole and sample is not None else practical.file.flask.aliquot
    assert volume is not None
    size, place = Fraction(volume), "in the sample" if back.whole else "in the solution pipetted"
    return Link(
        f"concentration of {practical.unknown.shown} {place}",
        "c = n ÷ V × 1000",
        lambda amount, _: f"{amount} mol ÷ {volume} cm³ × 1000",
        lambda amount, _: amount / size * 1000,
        "mol/dm3",
    )


def _added(practical: Practical, back: Back) -> Link:
    excess = practical.file.excess
    assert excess is not None
    return Link(
        f"amount of {back.reagent.shown} added",
        "n = c × V ÷ 1000",
        lambda *_: f"{excess.concentration} mol/dm³ × {excess.volume} cm³ ÷ 1000",
        lambda *_: back.added,
        "mol",
    )


def _left(practical: Practical, back: Back) -> tuple[Link, ...]:
    """Return the steps from the titre to the amount of the reagent that was left."""
    strength = practical.file.burette.concentration
    titrant = amount_in_titre(practical.known.shown, strength, practical.known_concentration)
    what = f"amount of {back.reagent.shown} left in the flask"
    left = _ratio(practical.equation, practical.known, back.reagent, back.left, what)
    return (titrant, left, *_mixture(practical, back))


def _mixture(practical: Practical, back: Back) -> tuple[Link, ...]:
    excess, aliquot = practical.file.excess, practical.file.flask.aliquot
    if excess is None or excess.made_up_to is None:
        return ()
    return (
        Link(
            f"amount of {back.reagent.shown} left in all of the mixture",
            "n = n(flask) × volume made up to ÷ volume pipetted",
            lambda amount, _: f"{amount} mol × {excess.made_up_to} cm³ ÷ {aliquot} cm³",
            lambda amount, _: amount * back.scale,
            "mol",
        ),
    )


def _difference(practical: Practical, back: Back) -> Link:
    added = in_figures(back.added, practical.file.result.significant_figures + FURTHER)
    return Link(
        f"amount of {back.reagent.shown} that reacted",
        "n = n(added) − n(left)",
        lambda amount, _: f"{added} mol − {amount} mol",
        lambda amount, _: back.added - amount,
        "mol",
    )


def _ratio(equation: Equation, of: Species, to: Species, ratio: Fraction, what: str) -> Link:
    """Return the step by the mole ratio of an equation."""
    top, bottom = plain(equation.coefficient(to)), plain(equation.coefficient(of))
    return Link(
        what,
        f"{to.shown} : {of.shown} = {top} : {bottom}",
        lambda amount, _: f"{amount} mol × {top} ÷ {bottom}",
        lambda amount, _: amount * ratio,
        "mol",
    )
