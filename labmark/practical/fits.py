"""Do the parts of a practical fit together: the equation, the species, which solution is the unknown?

In a back titration also the reagent in excess, the sample and the flask. 0.750 g of eggshell, 50.0 cm³ of 1.00 mol/dm³
hydrochloric acid, made up to 250 cm³, 25.0 cm³ of that against 0.100 mol/dm³ sodium hydroxide: the acid is the reagent,
in both equations, HCl + NaOH and CaCO3 + 2 HCl.

With several titres there is a part for each result, and for each unknown that is only worked out on the way.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Literal

from labmark.dataclass import replace
from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, parse_chain, parse_equation, parse_formula
from labmark.practical.expressed import expressed_of
from labmark.practical.file import NamedResult, PracticalFile
from labmark.practical.mistakes import EXAMPLES, Mistakes, species_in
from labmark.practical.model import Burette, Excess, Flask, Result
from labmark.practical.quantities import QUANTITIES, numbered
from labmark.practical.record import Back, Practical
from labmark.practical.scheme import OF_RESULTS, Band, Criterion
from labmark.practical.several import Found, Series, of_endpoints, of_titration, solved
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
    if wrong.found or expressed is None:
        raise wrong.error()
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


def of_several(practical: PracticalFile, wrong: Mistakes) -> Practical:
    """Return a practical with several titres, and a part for each result. Raises InputError."""
    _check_several(practical, wrong)
    wrong.check()
    series = _series(practical, [each.of for each in practical.results or (practical.result,)], wrong)
    if "marks" not in practical.model_fields_set:
        practical = practical.model_copy(update={"marks": tuple(_usual_marks(practical, series))})
    parts = tuple(_parts(practical, series, wrong))
    wrong.check()
    return replace(parts[0], file=practical, parts=parts)


def _series(practical: PracticalFile, of_all: Sequence[str], wrong: Mistakes) -> Series:
    """Return what all the titres together find, as the first of them sees it. Raises InputError."""
    given = practical.endpoints or practical.titrations
    names, key = tuple(each.name for each in given), "endpoints" if practical.endpoints else "titrations"
    if practical.endpoints:
        lines = [*of_endpoints(practical.endpoints, practical.burette, of_all, wrong)]
    else:
        lines = [of_titration(each, place, of_all, wrong) for place, each in enumerate(practical.titrations, 1)]
    found = solved(lines, names, partial(wrong.fatal, key))
    if len(names) == 1:
        raise wrong.fatal(key, "there is only one", "give [result] and equation, or two of them")
    uses = tuple(tuple(line.items()) for line in lines)
    formulas = tuple(numbered(each.expressed_as or each.of)[1] for each in practical.results)
    return Series(names, bool(practical.endpoints), 0, "", True, True, found, uses, formulas)


def _usual_marks(practical: PracticalFile, series: Series) -> Iterator[Criterion]:
    """Yield the usual criteria, for each result those of results: one of several titres is judged in per cent."""
    results = practical.results or (practical.result,)
    percents = tuple(Band(within=Decimal(within), mark=Decimal(4 - within)) for within in (1, 2, 3))
    for mark in practical.marks:
        of_result = mark.criterion in OF_RESULTS
        for result in results if of_result else results[:1]:
            name = result.name if isinstance(result, NamedResult) and of_result and len(results) > 1 else ""
            made = mark.model_copy(update={"result": name})
            found = (each.unknown for each in series.found if each.unknown.is_named(result.of))
            if mark.criterion == "accuracy" and any(series.others(unknown) for unknown in found):
                made = made.model_copy(update={"unit": "percent", "bands": percents})
            yield made


def _check_several(practical: PracticalFile, wrong: Mistakes) -> None:
    """Say what does not go with several titres."""
    for key in ("excess", "standardisation"):
        if getattr(practical, key) is not None:
            wrong(key, "does not go with several titres", "leave it out: give the concentration as it is known")
    if practical.endpoints and practical.titrations:
        wrong("endpoints", "there are [[titrations]], too", "give one of the two")
    if practical.endpoints and practical.blank is not None:
        why = "does not go with several endpoints: each takes another, and it does not say which one it is for"
        wrong("blank", why, "leave it out, or titrate to each apart: [[titrations]], each with a [titrations.blank]")
    if practical.flask.aliquot is None and (practical.titrations or practical.sample is None):
        wrong("flask.aliquot", *_no_aliquot(weighed=practical.sample is not None))
    for what in ("endpoints", "titrations", "results"):
        folded = [each.name.strip().casefold() for each in getattr(practical, what)]
        if len({*folded}) < len(folded):
            wrong(what, "two have the same name", "give each a name of its own")
    if len({each.flask.dilution for each in practical.titrations}) > 1:
        wrong("titrations", "their samples are diluted differently", "give all the same [flask] dilution")
    named = dict.fromkeys(each.name for each in practical.results)
    for place, mark in enumerate(practical.marks, 1):
        if mark.result and mark.result not in named:
            do = f"name a result: {', '.join(named) or 'there is one'}"
            wrong(f"marks.{place}.result", f"found {mark.result!r}", do)


def _no_aliquot(*, weighed: bool) -> tuple[str, str]:
    """Return what is wrong without a volume of the pipette, and what to do; with `weighed` where there is a mass."""
    if not weighed:
        return "is missing", f"add it: {EXAMPLES['aliquot']}"
    do = "give sample.made_up_to and the volume of the pipette; where each flask holds a sample of its own, write a "
    return "is missing: several titrations are of one solution, pipetted", do + "practical for each titration"


def _parts(practical: PracticalFile, series: Series, wrong: Mistakes) -> Iterator[Practical]:
    """Yield the practical of each result, and of each unknown that is only worked out on the way."""
    asked: list[Found] = []
    for place, result in enumerate(practical.results or (practical.result,), 1):
        wrong.result = f"results.{place}" if practical.results else "result"
        found = next((each for each in series.found if each.unknown.is_named(result.of)), None)
        if found is None:
            names = ", ".join(each.unknown.name for each in series.found)
            wrong("result.of", f"found {result.of!r}, expected one of {names}", "name what is found")
            continue
        name = result.name if isinstance(result, NamedResult) else ""
        one = replace(series, place=found.series, result=name, reads=found not in asked)
        asked.append(found)
        yield from _part(_asking(practical, result, first=place == 1), one, found.unknown, wrong)
    wrong.result = "result"
    for found in (each for each in series.found if each not in asked):
        one = replace(series, place=found.series, asked=False)
        part = practical.model_copy(update={"result": Result(of=found.unknown.name), "reference": None})
        yield from _part(part, one, found.unknown, wrong)


def _asking(practical: PracticalFile, result: NamedResult | Result, *, first: bool) -> PracticalFile:
    """Return a practical that asks for one of several results; the practical's own reference is the first one's."""
    reference = result.reference if isinstance(result, NamedResult) else practical.reference
    given = {each: getattr(result, each) for each in Result.model_fields if each in result.model_fields_set}
    reference = reference or (practical.reference if first else None)
    return practical.model_copy(update={"result": Result.model_validate(given), "reference": reference})


def _part(practical: PracticalFile, series: Series, unknown: Species, wrong: Mistakes) -> Iterator[Practical]:
    """Yield the practical of one unknown, unless `wrong` says what is wrong with it."""
    own = practical.titrations[series.place] if practical.titrations else None
    shared = {} if own is None else {"burette": own.burette, "flask": own.flask, "blank": own.blank}
    marks = tuple(_marks_of(practical, series, unknown, wrong))
    file = practical.model_copy(update={**shared, "results": (), "marks": marks})
    if file.burette.concentration is None:
        wrong("burette.concentration", "is missing: it is the known one", "add it in mol/dm³")
        return
    try:
        titrant = parse_formula(file.burette.solution)
    except EquationError as error:
        wrong("burette.solution", str(error), "give a formula such as HCl")
        return
    equation = Equation(((series.of(unknown).titrant, titrant), (Fraction(1), unknown)), ())
    if QUANTITIES[file.result.quantity].of == "sample":
        check_weighed(file, wrong)
    expressed = expressed_of(file, unknown, equation, wrong)
    if expressed is not None:
        known = Fraction(file.burette.concentration)
        yield Practical(file, equation, titrant, unknown, "burette", known, expressed, series=series)


def _marks_of(practical: PracticalFile, series: Series, unknown: Species, wrong: Mistakes) -> Iterator[Criterion]:
    """Yield the scheme as it stands for one result: of several titres cm³ say nothing."""
    several = bool(series.others(unknown))
    for place, mark in enumerate(practical.marks, 1):
        if mark.criterion in OF_RESULTS and (not series.asked or mark.result not in ("", series.result)):
            continue
        if mark.by == "scheme" and mark.criterion == "accuracy" and several and mark.unit == "cm3":
            what = f"{series.result or unknown.name} rests on several titres, so that cm³ says nothing of it"
            wrong(f"marks.{place}.unit", what, 'write unit = "percent", with bands in per cent')
        yield mark
