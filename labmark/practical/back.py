"""Back titrations: do the two equations, the reagent in excess, the sample and the flask fit together?

0.750 g of eggshell, 50.0 cm³ of 1.00 mol/dm³ hydrochloric acid, made up to 250 cm³, 25.0 cm³ of that against 0.100
mol/dm³ sodium hydroxide: the acid is the reagent, in both equations, HCl + NaOH and CaCO3 + 2 HCl.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, parse_equation
from labmark.practical.file import PracticalFile
from labmark.practical.model import Excess
from labmark.practical.quantities import QUANTITIES
from labmark.problems import Problem

Report = Callable[[str, str, str], Problem]
"""(key, what is wrong, what to do) -> the problem with its place."""


@dataclass(frozen=True)
class Back:
    """What makes a practical a back titration."""

    reagent: Species
    """The reagent in excess."""
    equation: Equation
    """Of the reagent with the sample."""
    whole: bool
    """The sample itself is treated with the reagent; otherwise a portion of its solution is, in every flask."""
    undivided: bool
    """All of the mixture is titrated: then the reagent's pipette is the only one."""


@dataclass(frozen=True)
class BackSpecies:
    """A back titration's species, found in its two equations."""

    titrant: Species
    unknown: Species
    back: Back


def back_titration(
    practical: PracticalFile, excess: Excess, equation: Equation, problem: Report, problems: list[Problem]
) -> BackSpecies | None:
    """Return the species of a back titration and how it runs; None where `problems` says what is wrong."""
    try:
        second = named_by_substance(parse_equation(excess.equation), excess.solution)
    except EquationError as error:
        problems.append(problem("excess.equation", f"{excess.equation!r} {error}", "correct the equation"))
        return None
    second = named_by_substance(second, practical.result.of)
    problems += _species_problems(practical, excess, (equation, second), problem)
    if problems:
        return None
    titrant, reagent = equation.find(practical.burette.solution), equation.find(excess.solution)
    other, unknown = second.find(excess.solution), second.find(practical.result.of)
    whole = equation.find(practical.flask.solution) == reagent
    problems += _problems(practical, excess, whole, problem)
    if problems or titrant is None or reagent is None or other is None or unknown is None:
        return None
    back = Back(reagent, second, whole, whole and excess.made_up_to is None)
    return BackSpecies(titrant, unknown, back)


def _species_problems(
    practical: PracticalFile, excess: Excess, equations: tuple[Equation, Equation], problem: Report
) -> Iterator[Problem]:
    """Yield what is named and stands in neither equation, or in the wrong one."""
    first, second = equations
    titrant, unknown = practical.burette.solution, practical.result.of
    for key, text, one, which in (
        ("burette.solution", titrant, first, "equation"),
        ("excess.solution", excess.solution, first, "equation"),
        ("excess.solution", excess.solution, second, "excess.equation"),
        ("result.of", unknown, second, "excess.equation"),
    ):
        if one.find(text) is None:
            what = f"found {text!r}, expected a species of {which} ({', '.join(one.names)})"
            yield problem(key, what, "name it as it stands there, or correct the equation")
    if first.find(titrant) is not None and first.find(titrant) == first.find(excess.solution):
        yield problem("burette.solution", "it is the reagent in excess itself", "name what the rest is titrated with")
    if second.find(unknown) is not None and second.find(unknown) == second.find(excess.solution):
        yield problem("result.of", "it is the reagent in excess itself", "name what the reagent reacts with")
    reacting, named = second.find(excess.solution), second.find(unknown)
    if reacting and named and (second.used_up(reacting) > 0) != (second.used_up(named) > 0):
        yield problem("result.of", f"found {unknown}, which the reaction makes", "name what the reagent reacts with")
    held = practical.flask.solution
    reagent, asked = first.find(excess.solution), second.find(unknown)
    if None not in (reagent, asked) and first.find(held) != reagent and second.find(held) != asked:
        yield problem(
            "flask.solution",
            f"found {held!r}, expected {excess.solution} or {unknown}",
            f"give {excess.solution} where the sample itself was treated with it, "
            f"{unknown} where a portion of the sample's solution was",
        )


def _problems(practical: PracticalFile, excess: Excess, whole: bool, problem: Report) -> Iterator[Problem]:
    """Yield what does not fit the form of the back titration."""
    if practical.burette.concentration is None:
        yield problem("burette.concentration", "is missing: it is the known one", "add it in mol/dm³")
    if practical.burette.dilution is not None:
        yield problem(
            "burette.dilution", "the known solution has a dilution", "give its concentration as it was titrated"
        )
    for key in ("concentration", "volume"):
        if getattr(excess, key) is None and practical.blank is None:
            yield problem(f"excess.{key}", "is missing", "add it, or [blank] titre, what the reagent takes alone")
    if practical.flask.concentration is not None:
        yield problem("flask.concentration", "in a back titration it is worked out", "leave it out")
    yield from (_whole_problems if whole else _portion_problems)(practical, excess, problem)


def _whole_problems(practical: PracticalFile, excess: Excess, problem: Report) -> Iterator[Problem]:
    """Yield what does not fit where the sample itself is treated with the reagent."""
    aliquot, made = practical.flask.aliquot, excess.made_up_to
    if made is None and excess.volume is not None and aliquot != excess.volume:
        what = f"found {aliquot}, but all of the mixture is titrated, {excess.volume} cm³ of {excess.solution} in it"
        do = f"give excess.made_up_to where the mixture was made up and pipetted, or aliquot = {excess.volume}"
        yield problem("flask.aliquot", what, do)
    if aliquot is None and made is not None:
        yield problem("flask.aliquot", "is missing", "give what is pipetted of the mixture, in cm³")
    if aliquot is not None and made is not None and made <= aliquot:
        yield problem("excess.made_up_to", f"{made} cm³ is not more than the {aliquot} cm³ pipetted", "correct it")
    if made is not None and made < (excess.volume or 0):
        yield problem("excess.made_up_to", f"{made} cm³ is less than the {excess.volume} cm³ added", "correct it")
    if practical.flask.dilution is not None:
        yield problem("flask.dilution", "the flask holds the mixture", "give excess.made_up_to instead")
    yield from _sample_problems(practical, problem)


def _sample_problems(practical: PracticalFile, problem: Report) -> Iterator[Problem]:
    sample, quantity = practical.sample, practical.result.quantity
    of_solid = QUANTITIES[quantity].of == "sample"
    if "sample.mass" in QUANTITIES[quantity].needs and (sample is None or sample.mass is None):
        yield problem("result.quantity", f"{quantity} needs the mass weighed", "add [sample] with mass")
    if not of_solid and (sample is None or sample.volume is None):
        what = f"{quantity} needs the volume of the sample that was treated"
        yield problem("result.quantity", what, "add [sample] with volume")
    if sample is not None and sample.made_up_to is not None:
        yield problem(
            "sample.made_up_to",
            "the sample itself was treated with the reagent",
            "leave it out; or name the unknown in flask.solution where a portion of its solution was treated",
        )


def _portion_problems(practical: PracticalFile, excess: Excess, problem: Report) -> Iterator[Problem]:
    """Yield what does not fit where a portion of the sample's solution is treated in every flask."""
    if excess.made_up_to is not None:
        yield problem(
            "excess.made_up_to",
            "all of the flask is titrated, as flask.solution is the unknown",
            f"leave it out; or give flask.solution = {excess.solution!r} and the sample where the mixture was made up",
        )
    if practical.sample is not None and practical.sample.volume is not None:
        yield problem("sample.volume", "the sample's volume is flask.aliquot", "leave it out")
    if QUANTITIES[practical.result.quantity].of == "sample":
        yield from weighed_problems(practical, problem)
    elif practical.sample is not None and practical.sample.mass is not None:
        what = f"{practical.result.quantity} is of the solution that was pipetted, whatever was weighed"
        yield problem("sample.mass", what, "leave [sample] out, or ask for percent by mass")


def weighed_problems(practical: PracticalFile, problem: Report) -> Iterator[Problem]:
    """Yield what a weighed sample lacks, of which a solution was made and portions pipetted."""
    sample = practical.sample
    if "sample.mass" in QUANTITIES[practical.result.quantity].needs and (sample is None or sample.mass is None):
        what = f"{practical.result.quantity} needs the mass weighed"
        yield problem("result.quantity", what, "add [sample] with mass and made_up_to")
    elif sample is not None and (sample.made_up_to is None) != (practical.flask.aliquot is None):
        yield from _half_said(practical, problem)


def standard_problems(practical: PracticalFile, problem: Report) -> Iterator[Problem]:
    """Yield what is wrong with a weighed standard in the flask."""
    sample = practical.sample
    if sample is not None and (sample.made_up_to is None) != (practical.flask.aliquot is None):
        yield from _half_said(practical, problem)


def _half_said(practical: PracticalFile, problem: Report) -> Iterator[Problem]:
    """Yield that a solution was made and nothing pipetted from it, or the other way round."""
    if practical.flask.aliquot is None:
        do = "add what was pipetted, in cm³; or leave sample.made_up_to out where all of it is in the flask"
        yield problem("flask.aliquot", "is missing, and a solution was made of what was weighed", do)
    else:
        do = "add the volume of solution made in cm³; or leave flask.aliquot out where what was weighed is in the flask"
        yield problem("sample.made_up_to", "is missing", do)
