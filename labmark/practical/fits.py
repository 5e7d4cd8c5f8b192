"""Do the parts of a practical fit together: the equation, the species, which solution is the unknown?"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Literal

from labmark.practical.back import Report, back_titration, standard_problems, weighed_problems
from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, parse_chain
from labmark.practical.expressed import expressed_of
from labmark.practical.file import PracticalFile
from labmark.practical.mistakes import EXAMPLES
from labmark.practical.model import Excess
from labmark.practical.parts import of_several
from labmark.practical.quantities import QUANTITIES
from labmark.practical.record import Practical
from labmark.practical.standardised import standardised
from labmark.problems import InputError, Problem


def fit_together(practical: PracticalFile, file: str, cells: Mapping[str, str], sheet: str) -> Practical:
    """Check what no single key can show: the equation, the species, which solution is the unknown."""

    def problem(key: str, what: str, do: str) -> Problem:
        return Problem(f"key {key}: {what}", do, file, sheet, cells.get(key, ""))

    if practical.endpoints or practical.titrations:
        return of_several(practical, problem)
    if len(practical.results) > 1:
        what = "several results need several titres"
        raise InputError(problem("results", what, "give [[endpoints]] or [[titrations]], or one [result]"))
    equation = _equation(practical, problem)
    if practical.excess is not None:
        return _back(practical, practical.excess, equation, problem)
    return _direct(practical, equation, problem)


def _equation(practical: PracticalFile, problem: Report) -> Equation:
    """Return the equation, or the chain, in which the substances on the bottles count for what they bring."""
    given = practical.equation
    try:
        equation = parse_chain([given] if isinstance(given, str) else given, practical.through)
    except EquationError as error:
        raise InputError(problem("equation", str(error), "correct the equation")) from error
    reagent = () if practical.excess is None else (practical.excess.solution,)
    for text in (practical.flask.solution, practical.result.of, *reagent):
        equation = named_by_substance(equation, text)
    return named_by_substance(equation, practical.burette.solution, practical.burette.gives)


def _direct(practical: PracticalFile, equation: Equation, problem: Report) -> Practical:
    """Return a direct titration whose parts fit together. Raises InputError with every problem found."""
    titrant, analyte, unknown = _species(practical, equation, problem)
    problems: list[Problem] = []
    practical, standard = standardised(practical, equation, unknown, problem, problems)
    if problems:
        raise InputError(problems)
    problems = _unknown_problems(practical, titrant, analyte, unknown, problem)
    problems += _no_reaction(equation, titrant, analyte, problem) or _lumped(equation, titrant, analyte, problem)
    expressed = expressed_of(practical, unknown, equation, problem, problems)
    if problems or expressed is None:
        raise InputError(problems)
    known_in: Literal["burette", "flask"] = "burette" if unknown == analyte else "flask"
    concentration = (practical.burette if known_in == "burette" else practical.flask).concentration
    known = titrant if known_in == "burette" else analyte
    return Practical(practical, equation, known, unknown, known_in, Fraction(concentration or 0), expressed, standard)


def _species(practical: PracticalFile, equation: Equation, problem: Report) -> tuple[Species, Species, Species]:
    """Return titrant, analyte and unknown. Raises InputError with each that does not stand in the equation."""
    found, problems = [], []
    for key, text in _species_keys(practical):
        species = equation.find(text)
        if species is None:
            what = f"found {text!r}, expected a species of the equation ({', '.join(equation.names)})"
            problems.append(problem(key, what, _nearest(text, equation)))
        else:
            found.append(species)
    if problems:
        raise InputError(problems)
    titrant, analyte, unknown = found
    return titrant, analyte, unknown


def _species_keys(practical: PracticalFile) -> tuple[tuple[str, str], ...]:
    return (
        ("burette.solution", practical.burette.solution),
        ("flask.solution", practical.flask.solution),
        ("result.of", practical.result.of),
    )


def _nearest(text: str, equation: Equation) -> str:
    near = difflib.get_close_matches(text, equation.names, 1, 0.0)
    return f"perhaps {near[0]} is meant" if near else "name a species of the equation"


def _unknown_problems(
    practical: PracticalFile, titrant: Species, analyte: Species, unknown: Species, problem: Report
) -> list[Problem]:
    """Return what is wrong with which solution is known and which is not."""
    if titrant == analyte:
        return [problem("flask.solution", "burette and flask hold the same species", "name the two that react")]
    if unknown not in (titrant, analyte):
        both = f"{titrant.name} or {analyte.name}"
        return [
            problem("result.of", f"found {unknown.name}, expected what is titrated ({both})", "name one of the two")
        ]
    known, other = ("burette", "flask") if unknown == analyte else ("flask", "burette")
    weighed = known == "flask" and practical.sample is not None and practical.sample.mass is not None
    return [
        *_known_problems(practical, known, problem, weighed=weighed),
        *_other_problems(practical, other, unknown, problem),
        *_amount_problems(practical, problem, weighed=weighed and practical.flask.concentration is None),
        *_division_problems(practical, problem),
    ]


def _known_problems(practical: PracticalFile, known: str, problem: Report, *, weighed: bool) -> Iterator[Problem]:
    solution = getattr(practical, known)
    if solution.concentration is None and not weighed:
        do = "add it in mol/dm³" + (", or [sample] mass where it was weighed" if known == "flask" else "")
        yield problem(f"{known}.concentration", "is missing: it is the known one", do)
    if solution.dilution is not None:
        do = "give its concentration as it was titrated"
        yield problem(f"{known}.dilution", "the known solution has a dilution", do)


def _other_problems(practical: PracticalFile, other: str, unknown: Species, problem: Report) -> Iterator[Problem]:
    if getattr(practical, other).concentration is not None:
        do = "leave it out, or put it in [reference]"
        yield problem(f"{other}.concentration", f"{unknown.name} is the unknown", do)


def _amount_problems(practical: PracticalFile, problem: Report, *, weighed: bool) -> Iterator[Problem]:
    """Yield what is wrong with how much was titrated; `weighed` says that the known in the flask was."""
    if QUANTITIES[practical.result.quantity].of == "sample":
        yield from weighed_problems(practical, problem)
    elif weighed:
        yield from standard_problems(practical, problem)
    elif practical.flask.aliquot is None:
        yield problem("flask.aliquot", "is missing", f"add it: {EXAMPLES['aliquot']}")
    if practical.sample is not None and practical.sample.volume is not None:
        yield problem("sample.volume", "this is no back titration", "give flask.aliquot, or [excess]")


def _no_reaction(equation: Equation, titrant: Species, analyte: Species, problem: Report) -> list[Problem]:
    """Return why a reaction does not use up titrant and analyte together, so that no titre tells of either."""
    used = {each.name: equation.used_up(each) for each in (titrant, analyte)}
    alike = [name for name, amount in used.items() if not amount]
    if alike:
        what = f"{' and '.join(alike)} cancels out, as it stands on both sides alike"
        return [problem("equation", what, "correct it, or name a species that is used up")]
    if (used[titrant.name] > 0) != (used[analyte.name] > 0):
        what = f"{titrant.name} and {analyte.name} stand on different sides: the reaction makes one of them"
        return [problem("equation", what, "name the two that react with one another")]
    return []


def _lumped(equation: Equation, titrant: Species, analyte: Species, problem: Report) -> list[Problem]:
    """Return what else of an equation the titrant reacts with: one titre cannot tell two unknowns apart."""
    others = [] if equation.parts else equation.also_used_up(titrant, analyte)
    if not others:
        return []
    names = " and ".join(each.name for each in others)
    what = f"{titrant.name} reacts with {names} as well as with {analyte.name}, whatever there is of either"
    return [problem("equation", what, "give each a reaction of its own, under [[endpoints]] or [[titrations]]")]


def _division_problems(practical: PracticalFile, problem: Report) -> list[Problem]:
    if practical.burette.division < practical.burette.capacity:
        return []
    return [problem("burette.division", "is not smaller than the capacity", "give the smallest division in cm³")]


def _back(practical: PracticalFile, excess: Excess, equation: Equation, problem: Report) -> Practical:
    """Return a back titration whose parts fit together. Raises InputError with every problem found."""
    problems: list[Problem] = []
    if practical.flask.aliquot is None and excess.made_up_to is None and excess.volume:  # all of it is titrated
        flask = practical.flask.model_copy(update={"aliquot": excess.volume})
        practical = practical.model_copy(update={"flask": flask})
    practical, standard = standardised(practical, equation, None, problem, problems)
    found = back_titration(practical, excess, equation, problem, problems)
    problems += _division_problems(practical, problem)
    expressed = None
    if found is not None:
        expressed = expressed_of(practical, found.unknown, found.back.equation, problem, problems)
    if problems or found is None or expressed is None:
        raise InputError(problems)
    concentration = practical.burette.concentration
    assert concentration is not None
    return Practical(
        practical,
        equation,
        found.titrant,
        found.unknown,
        "burette",
        Fraction(concentration),
        expressed,
        standard,
        found.back,
    )
