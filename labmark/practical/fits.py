"""Do the parts of a practical fit together: the equation, the species, which solution is the unknown?"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Literal

from labmark.practical.back import back_titration, check_standard, check_weighed
from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, parse_chain
from labmark.practical.expressed import expressed_of
from labmark.practical.file import PracticalFile
from labmark.practical.mistakes import EXAMPLES, Mistakes, species_in
from labmark.practical.model import Burette, Excess, Flask
from labmark.practical.parts import of_several
from labmark.practical.quantities import QUANTITIES
from labmark.practical.record import Practical
from labmark.practical.standardised import standardised


def fit_together(practical: PracticalFile, file: str, cells: Mapping[str, str], sheet: str) -> Practical:
    """Check what no single key can show: the equation, the species, which solution is the unknown."""
    wrong = Mistakes(file, cells, sheet)
    if practical.endpoints or practical.titrations:
        return of_several(practical, wrong)
    if len(practical.results) > 1:
        do = "give [[endpoints]] or [[titrations]], or one [result]"
        raise wrong.fatal("results", "several results need several titres", do)
    equation = _equation(practical, wrong)
    if practical.excess is not None:
        return _back(practical, practical.excess, equation, wrong)
    return _direct(practical, equation, wrong)


def _equation(practical: PracticalFile, wrong: Mistakes) -> Equation:
    """Return the equation, or the chain, in which the substances on the bottles count for what they bring."""
    given = practical.equation
    try:
        equation = parse_chain([given] if isinstance(given, str) else given, practical.through)
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
    found = back_titration(practical, excess, equation, wrong)
    _check_division(practical, wrong)
    expressed = None if found is None else expressed_of(practical, found[1], found[2].equation, wrong)
    if wrong.found or found is None or expressed is None:
        raise wrong.error()
    (titrant, unknown, back), concentration = found, practical.burette.concentration
    assert concentration is not None
    known = Fraction(concentration)
    return Practical(practical, equation, titrant, unknown, "burette", known, expressed, standard, back)
