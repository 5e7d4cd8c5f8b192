"""Back titrations: do the two equations, the reagent in excess, the sample and the flask fit together?

0.750 g of eggshell, 50.0 cm³ of 1.00 mol/dm³ hydrochloric acid, made up to 250 cm³, 25.0 cm³ of that against 0.100
mol/dm³ sodium hydroxide: the acid is the reagent, in both equations, HCl + NaOH and CaCO3 + 2 HCl.
"""

from __future__ import annotations

from typing import NamedTuple

from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, parse_equation
from labmark.practical.file import PracticalFile
from labmark.practical.mistakes import Mistakes, species_in
from labmark.practical.model import Excess
from labmark.practical.quantities import QUANTITIES


class Back(NamedTuple):
    """What makes a practical a back titration."""

    reagent: Species
    """The reagent in excess."""
    equation: Equation
    """Of the reagent with the sample."""
    whole: bool
    """The sample itself is treated with the reagent; otherwise a portion of its solution is, in every flask."""
    undivided: bool
    """All of the mixture is titrated: then the reagent's pipette is the only one."""


def back_titration(
    practical: PracticalFile, excess: Excess, equation: Equation, wrong: Mistakes
) -> tuple[Species, Species, Back] | None:
    """Return titrant and unknown of a back titration, and how it runs; None where `wrong` says what is wrong."""
    try:
        second = named_by_substance(parse_equation(excess.equation), excess.solution)
    except EquationError as error:
        wrong("excess.equation", f"{excess.equation!r} {error}", "correct the equation")
        return None
    second = named_by_substance(second, practical.result.of)
    titrant, reagent, unknown = _species(practical, excess, equation, second, wrong)
    if wrong.found or titrant is None or reagent is None or unknown is None:
        return None
    whole = equation.find(practical.flask.solution) == reagent
    _check_form(practical, excess, whole, wrong)
    back = Back(reagent, second, whole, whole and excess.made_up_to is None)
    return None if wrong.found else (titrant, unknown, back)


def _species(
    practical: PracticalFile, excess: Excess, first: Equation, second: Equation, wrong: Mistakes
) -> tuple[Species | None, Species | None, Species | None]:
    """Return titrant, reagent and unknown; says what stands in neither equation, in the wrong one or on its wrong side.

    The first equation is that of titrant and reagent, the second that of reagent and unknown.
    """
    asked, held = practical.result.of, practical.flask.solution
    titrant = species_in(first, "burette.solution", practical.burette.solution, wrong)
    reagent = species_in(first, "excess.solution", excess.solution, wrong)
    other = species_in(second, "excess.solution", excess.solution, wrong, "excess.equation")
    unknown = species_in(second, "result.of", asked, wrong, "excess.equation")
    if titrant is not None and titrant == reagent:
        wrong("burette.solution", "it is the reagent in excess itself", "name what the rest is titrated with")
    if unknown is not None and unknown == other:
        wrong("result.of", "it is the reagent in excess itself", "name what the reagent reacts with")
    if other and unknown and (second.used_up(other) > 0) != (second.used_up(unknown) > 0):
        wrong("result.of", f"found {asked}, which the reaction makes", "name what the reagent reacts with")
    if reagent and unknown and first.find(held) != reagent and second.find(held) != unknown:
        do = f"give {excess.solution} where the sample itself was treated with it, "
        do += f"{asked} where a portion of the sample's solution was"
        wrong("flask.solution", f"found {held!r}, expected {excess.solution} or {asked}", do)
    return titrant, reagent, unknown


def _check_form(practical: PracticalFile, excess: Excess, whole: bool, wrong: Mistakes) -> None:
    """Say what does not fit the form of the back titration."""
    if practical.burette.concentration is None:
        wrong("burette.concentration", "is missing: it is the known one", "add it in mol/dm³")
    if practical.burette.dilution is not None:
        wrong("burette.dilution", "the known solution has a dilution", "give its concentration as it was titrated")
    for key in ("concentration", "volume"):
        if getattr(excess, key) is None and practical.blank is None:
            wrong(f"excess.{key}", "is missing", "add it, or [blank] titre, what the reagent takes alone")
    if practical.flask.concentration is not None:
        wrong("flask.concentration", "in a back titration it is worked out", "leave it out")
    (_check_whole if whole else _check_portion)(practical, excess, wrong)


def _check_whole(practical: PracticalFile, excess: Excess, wrong: Mistakes) -> None:
    """Say what does not fit where the sample itself is treated with the reagent."""
    aliquot, made = practical.flask.aliquot, excess.made_up_to
    if made is None and excess.volume is not None and aliquot != excess.volume:
        what = f"found {aliquot}, but all of the mixture is titrated, {excess.volume} cm³ of {excess.solution} in it"
        do = f"give excess.made_up_to where the mixture was made up and pipetted, or aliquot = {excess.volume}"
        wrong("flask.aliquot", what, do)
    if aliquot is None and made is not None:
        wrong("flask.aliquot", "is missing", "give what is pipetted of the mixture, in cm³")
    if aliquot is not None and made is not None and made <= aliquot:
        wrong("excess.made_up_to", f"{made} cm³ is not more than the {aliquot} cm³ pipetted", "correct it")
    if made is not None and made < (excess.volume or 0):
        wrong("excess.made_up_to", f"{made} cm³ is less than the {excess.volume} cm³ added", "correct it")
    if practical.flask.dilution is not None:
        wrong("flask.dilution", "the flask holds the mixture", "give excess.made_up_to instead")
    _check_treated(practical, wrong)


def _check_treated(practical: PracticalFile, wrong: Mistakes) -> None:
    """Say what is not known of the sample that was itself treated with the reagent."""
    sample, quantity = practical.sample, practical.result.quantity
    if "sample.mass" in QUANTITIES[quantity].needs and (sample is None or sample.mass is None):
        wrong("result.quantity", f"{quantity} needs the mass weighed", "add [sample] with mass")
    if QUANTITIES[quantity].of != "sample" and (sample is None or sample.volume is None):
        what = f"{quantity} needs the volume of the sample that was treated"
        wrong("result.quantity", what, "add [sample] with volume")
    if sample is not None and sample.made_up_to is not None:
        do = "leave it out; or name the unknown in flask.solution where a portion of its solution was treated"
        wrong("sample.made_up_to", "the sample itself was treated with the reagent", do)


def _check_portion(practical: PracticalFile, excess: Excess, wrong: Mistakes) -> None:
    """Say what does not fit where a portion of the sample's solution is treated in every flask."""
    if excess.made_up_to is not None:
        how = f"flask.solution = {excess.solution!r} and the sample where the mixture was made up"
        what = "all of the flask is titrated, as flask.solution is the unknown"
        wrong("excess.made_up_to", what, f"leave it out; or give {how}")
    if practical.sample is not None and practical.sample.volume is not None:
        wrong("sample.volume", "the sample's volume is flask.aliquot", "leave it out")
    if QUANTITIES[practical.result.quantity].of == "sample":
        check_weighed(practical, wrong)
    elif practical.sample is not None and practical.sample.mass is not None:
        what = f"{practical.result.quantity} is of the solution that was pipetted, whatever was weighed"
        wrong("sample.mass", what, "leave [sample] out, or ask for percent by mass")


def check_weighed(practical: PracticalFile, wrong: Mistakes) -> None:
    """Say what a weighed sample lacks, of which a solution was made and portions pipetted."""
    sample = practical.sample
    if "sample.mass" in QUANTITIES[practical.result.quantity].needs and (sample is None or sample.mass is None):
        what = f"{practical.result.quantity} needs the mass weighed"
        wrong("result.quantity", what, "add [sample] with mass and made_up_to")
    else:
        check_standard(practical, wrong)


def check_standard(practical: PracticalFile, wrong: Mistakes) -> None:
    """Say where a solution was made of what was weighed and nothing pipetted from it, or the other way round."""
    sample, aliquot = practical.sample, practical.flask.aliquot
    if sample is not None and sample.made_up_to is not None and aliquot is None:
        do = "add what was pipetted, in cm³; or leave sample.made_up_to out where all of it is in the flask"
        wrong("flask.aliquot", "is missing, and a solution was made of what was weighed", do)
    if sample is not None and sample.made_up_to is None and aliquot is not None:
        do = "add the volume of solution made in cm³; or leave flask.aliquot out where what was weighed is in the flask"
        wrong("sample.made_up_to", "is missing", do)
