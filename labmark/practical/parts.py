"""A practical with several titres: a part for each result, and for each unknown that is only worked out on the way."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import partial

from labmark.practical.equation import Equation, EquationError, Species, parse_formula
from labmark.practical.expressed import expressed_of
from labmark.practical.file import NamedResult, PracticalFile
from labmark.practical.fits import check_weighed
from labmark.practical.mistakes import EXAMPLES, Mistakes
from labmark.practical.model import Result
from labmark.practical.quantities import QUANTITIES
from labmark.practical.record import Practical
from labmark.practical.scheme import OF_RESULTS, Band, Criterion
from labmark.practical.several import Found, Series, of_endpoints, of_titration, solved


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
    return Series(names, bool(practical.endpoints), 0, "", True, True, found, uses)


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
        wrong("flask.aliquot", "is missing", f"add it: {EXAMPLES['aliquot']}")
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
