"""Do the parts of a practical fit together: the equation, the species, which solution is the unknown?

In a back titration also the reagent in excess, the sample and the flask. 0.750 g of eggshell, 50.0 cm³ of 1.00 mol/dm³
hydrochloric acid, made up to 250 cm³, 25.0 cm³ of that against 0.100 mol/dm³ sodium hydroxide: the acid is the reagent,
in both equations, HCl + NaOH and CaCO3 + 2 HCl.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import Literal

from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, parse_chain, parse_equation
from labmark.practical.expressed import expressed_of
from labmark.practical.file import PracticalFile
from labmark.practical.mistakes import EXAMPLES, Mistakes, species_in
from labmark.practical.model import Burette, Excess, Flask
from labmark.practical.quantities import QUANTITIES
from labmark.practical.record import Back, Practical
from labmark.practical.standardised import standardised


def of_one(practical: PracticalFile, wrong: Mistakes) -> Practical:
    """Return a practical with one titre whose parts fit together. Raises InputError with every problem found."""
    if len(practical.results) > 1:
        do = "give [[endpoints]] or [[titrations]], or one [result]"
        raise wrong.fatal("results", "several results need several titres", do)
    equation = _equation(practical, wrong)
    if practical.excess is not None:
        return _back(practical, practical.excess, equation, wrong)
    return _direct(practical, equation, wrong)


def _equation(practical: PracticalFile, wrong: Mistakes) -> Equation:
    """Return the equation, or the chain, in which the substances on the bottles count for what they bring."""
    try:
        equation = parse_chain(practical.equation, practical.through)
    except EquationError as error:
        raise wrong.fatal("equation", str(error), "correct the equation") from error
    reagent = () if practical.excess is None else (practical.excess.solution,)
    for text in (practical.flask.solution, practical.result.of, *reagent):
        equation = named_by_substance(equation, text)
    return named_by_substance(equation, practical.burette.solution, practical.burette.gives)


def _direct(practical: PracticalFile, equation: Equation, wrong: Mistakes) -> Practical:
    """Return a direct titration whose parts fit together. Raises InputError with every problem found."""
    titrant, analyte, unknown = _species(practical, equation, wrong)
    practical, standard = standardised(practical, equation, unknown, wrong)
    wrong.check()
    _check_unknown(practical, titrant, analyte, unknown, wrong)
    _check_reaction(equation, titrant, analyte, wrong)
    expressed = expressed_of(practical, unknown, equation, wrong)
    if wrong.found or expressed is None:
        raise wrong.error()
    known_in: Literal["burette", "flask"] = "burette" if unknown == analyte else "flask"
    concentration = (practical.burette if known_in == "burette" else practical.flask).concentration
    known = titrant if known_in == "burette" else analyte
    return Practical(practical, equation, known, unknown, known_in, Fraction(concentration or 0), expressed, standard)


def _species(practical: PracticalFile, equation: Equation, wrong: Mistakes) -> list[Species]:
    """Return titrant, analyte and unknown. Raises InputError with each that does not stand in the equation.

    Where Cu^2+ is asked for, and CuSO4 stands on the bottle, it is the Cu^2+ that is titrated.
    """
    texts = {"burette": practical.burette.solution, "flask": practical.flask.solution}
    found = [species_in(equation, f"{vessel}.solution", text, wrong) for vessel, text in texts.items()]
    found.append(species_in(equation, "result.of", practical.result.of, wrong))
    wrong.check()
    *vessels, unknown = filter(None, found)
    brings = {(substance, ion) for _, substance, ion in equation.brought}
    return [*(unknown if (each, unknown) in brings else each for each in vessels), unknown]


def _check_unknown(
    practical: PracticalFile, titrant: Species, analyte: Species, unknown: Species, wrong: Mistakes
) -> None:
    """Say what is wrong with which solution is known and which is not."""
    if titrant == analyte:
        wrong("flask.solution", "burette and flask hold the same species", "name the two that react")
        return
    if unknown not in (titrant, analyte):
        both = f"{titrant.name} or {analyte.name}"
        wrong("result.of", f"found {unknown.name}, expected what is titrated ({both})", "name one of the two")
        return
    known, other = ("burette", "flask") if unknown == analyte else ("flask", "burette")
    quantity = practical.result.quantity
    # What was weighed is the known solution's where that has no strength of its own.
    if known == "flask" and practical.flask.concentration is None and QUANTITIES[quantity].of == "sample":
        what = f"{quantity} is of what was weighed, and {unknown.name} is in the burette"
        wrong("result.quantity", what, "ask for its amount concentration")
        return
    weighed = known == "flask" and practical.sample is not None and practical.sample.mass is not None
    _check_known(known, getattr(practical, known), wrong, weighed=weighed)
    if getattr(practical, other).concentration is not None:
        do = "leave it out, or put it in [reference]"
        wrong(f"{other}.concentration", f"{unknown.name} is the unknown", do)
    _check_amount(practical, wrong, weighed=weighed and practical.flask.concentration is None)
    _check_division(practical, wrong)


def _check_known(vessel: str, solution: Burette | Flask, wrong: Mistakes, *, weighed: bool) -> None:
    """Say what is wrong with the known solution, of which a concentration is given unless it was weighed."""
    if solution.concentration is None and not weighed:
        do = "add it in mol/dm³" + (", or [sample] mass where it was weighed" if vessel == "flask" else "")
        wrong(f"{vessel}.concentration", "is missing: it is the known one", do)
    if solution.dilution is not None:
        do = "give its concentration as it was titrated"
        wrong(f"{vessel}.dilution", "the known solution has a dilution", do)


def _check_amount(practical: PracticalFile, wrong: Mistakes, *, weighed: bool) -> None:
    """Say what is wrong with how much was titrated; `weighed` says that the known in the flask was."""
    if QUANTITIES[practical.result.quantity].of == "sample":
        check_weighed(practical, wrong)
    elif weighed:
        check_standard(practical, wrong)
    elif practical.flask.aliquot is None:
        wrong("flask.aliquot", "is missing", f"add it: {EXAMPLES['aliquot']}")
    if practical.sample is not None and practical.sample.volume is not None:
        wrong("sample.volume", "this is no back titration", "give flask.aliquot, or [excess]")


def _check_reaction(equation: Equation, titrant: Species, analyte: Species, wrong: Mistakes) -> None:
    """Say why no titre tells of titrant and analyte: a reaction must use up the two together, and nothing else."""
    first, last = (equation.parts or (equation,))[0], (equation.parts or (equation,))[-1]
    if first.find(analyte.name) is None or last.find(titrant.name) is None:
        what = f"the chain does not lead from {analyte.name} to {titrant.name}"
        wrong("equation", what, "write the reactions in order, from the sample to the titrant")
        return
    used = {each.name: equation.used_up(each) for each in (titrant, analyte)}
    alike = [name for name, amount in used.items() if not amount]
    if alike:
        what = f"{' and '.join(alike)} cancels out, as it stands on both sides alike"
        wrong("equation", what, "correct it, or name a species that is used up")
    elif (used[titrant.name] > 0) != (used[analyte.name] > 0):
        what = f"{titrant.name} and {analyte.name} stand on different sides: the reaction makes one of them"
        wrong("equation", what, "name the two that react with one another")
    elif not equation.parts and (others := equation.also_used_up(titrant, analyte)):
        names = " and ".join(each.name for each in others)
        what = f"{titrant.name} reacts with {names} as well as with {analyte.name}, whatever there is of either"
        wrong("equation", what, "give each a reaction of its own, under [[endpoints]] or [[titrations]]")


def _check_division(practical: PracticalFile, wrong: Mistakes) -> None:
    if practical.burette.division >= practical.burette.capacity:
        wrong("burette.division", "is not smaller than the capacity", "give the smallest division in cm³")


def _back(practical: PracticalFile, excess: Excess, equation: Equation, wrong: Mistakes) -> Practical:
    """Return a back titration whose parts fit together. Raises InputError with every problem found."""
    if practical.flask.aliquot is None and excess.made_up_to is None and excess.volume:  # all of it is titrated
        flask = practical.flask.model_copy(update={"aliquot": excess.volume})
        practical = practical.model_copy(update={"flask": flask})
    practical, standard = standardised(practical, equation, None, wrong)
    _check_division(practical, wrong)
    try:
        second = named_by_substance(parse_equation(excess.equation), excess.solution)
    except EquationError as error:
        raise wrong.fatal("excess.equation", f"{excess.equation!r} {error}", "correct the equation") from error
    second = named_by_substance(second, practical.result.of)
    titrant, reagent, unknown = _species_of_back(practical, excess, equation, second, wrong)
    whole = equation.find(practical.flask.solution) == reagent
    _check_form(practical, excess, whole, wrong)
    wrong.check()
    expressed, known = expressed_of(practical, unknown, second, wrong), Fraction(practical.burette.concentration or 0)
    if expressed is None:
        raise wrong.error()
    wrong.check()
    back = Back(reagent, second, whole, whole and excess.made_up_to is None)
    return Practical(practical, equation, titrant, unknown, "burette", known, expressed, standard, back)


def _species_of_back(
    practical: PracticalFile, excess: Excess, first: Equation, second: Equation, wrong: Mistakes
) -> Iterator[Species]:
    """Return titrant, reagent and unknown. Raises InputError with what stands in neither equation, in the wrong one or
    on its wrong side.

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
    wrong.check()
    return filter(None, (titrant, reagent, unknown))


def _check_form(practical: PracticalFile, excess: Excess, whole: bool, wrong: Mistakes) -> None:
    """Say what does not fit the form of the back titration."""
    _check_known("burette", practical.burette, wrong, weighed=False)
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
