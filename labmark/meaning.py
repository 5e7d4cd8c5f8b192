"""What a practical means before anybody has titrated, in words and in figures at one titre.

The titre is the one that the reference calls for. Where none is expected of everybody (numbers of the students' own, no
reference), it is half of what the burette holds, with the mass, say, that a student has weighed then.
"""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from labmark.analyse.budget import Budget, BudgetTable
from labmark.analyse.standardisation import standard_dof, standardisation_tree, with_standardisation
from labmark.assessed import ReferenceValue
from labmark.exact import fraction, plain, round_fraction, significant
from labmark.formula import Formula
from labmark.judge.owned import MAY_BE_NOTHING
from labmark.judge.references import reachable, tellable
from labmark.judge.several import beside_known, forward
from labmark.judge.uncertainty import Behind, budgets, school_percents, without_shared
from labmark.outputs import numbers
from labmark.practical import Practical
from labmark.practical.inputs import TITRE
from labmark.practical.kinds import formula_of
from labmark.practical.load import practical_with
from labmark.practical.model import FromSheet
from labmark.practical.own import REFERENCE
from labmark.practical.scheme import Criterion
from labmark.practical.several import equations_of
from labmark.tree import practical_tree
from labmark.units import shown_unit
from labmark.words import listed

USUAL = Decimal("0.3"), Decimal("0.8")
"""Least and most of a burette that a titre should take: 15 to 40 cm³ of 50 (common practice, no source)."""


def meaning_of(practical: Practical, file: str = "") -> dict[str, list[str]]:
    """Return what a practical means, as lines under headings. Raises InputError where no titre gives its reference."""
    examples = examples_of(practical, file)
    whole = practical if practical.parts else examples[0].practical
    heads = [f"{asked(each)}, to {each.file.result.significant_figures} figures" for each in asked_for(whole)]
    expected = _expected_of_several(practical) if practical.parts else _expected(practical, examples[0])
    means = {whole.file.title: [*heads, *_equations(whole)], "What is expected": [*expected]}
    for example in examples:
        part, formula, titre = example.practical, example.formula, example.titre
        own = "".join(f", {key} = {formula.of[key].text} {shown_unit(formula.of[key].unit)}" for key in example.own)
        working, before = f"a titre of {titre} cm³{own}", ""
        if part.series.several:
            name = part.series.result or part.unknown.shown
            working, before = f"{name}, titre {titre} cm³ ({part.series.name})", f"{name}: "
        means[f"Working for {working}"] = [*_working(part, formula, titre)]
        means |= {f"{before}{key}": lines for key, lines in _held_against_uncertainty(part, formula, titre).items()}
    curve = formula_of(whole.parts[0] if whole.parts else whole).curve
    return {**means, "Cautions": practical_tree(whole, curve, None)["cautions"]}


class Example(NamedTuple):
    """A practical at one titre."""

    practical: Practical
    """With numbers that stand for the students' own, and for the standardisation."""
    formula: Formula
    titre: Decimal
    """The one that the reference calls for, or half of what the burette holds [cm³]."""
    exact: Fraction
    """The same before it is rounded."""
    own: list[str]
    """Keys of the numbers that are each student's own."""
    found: Budget | None
    usual: str = ""
    """Which numbers of their own give a usual titre."""


def example_of(practical: Practical, file: str = "") -> Example:
    """Return what a practical comes to at one titre. Raises InputError where no titre gives its reference."""
    own, usual = _open(practical), ""
    reference = next(iter(references_of(practical).values()), None)
    if not own:
        reachable(references_of(practical).values(), formula_of(practical).curve, file)
    elif reference is not None:
        practical, usual = _with_example(practical, own[0], reference)
    practical, found = with_standardisation(practical)
    formula = formula_of(practical, standard_dof(practical, found))
    titre = None if reference is None else formula.curve.titre(reference)
    if reference is None or titre is None:
        titre = _most(practical, formula) / 2
    else:
        tellable([reference], formula.curve, file)
    return Example(practical, formula, round_fraction(titre, 2), titre, own, found, usual)


def asked(practical: Practical) -> str:
    """Return what is asked, as in "mass concentration of NaCl, g/dm³"; of several results all, without the units."""
    if practical.parts:
        each = [(part.file.result.quantity, part.expressed.name) for part in asked_for(practical)]
        alike = len({quantity for quantity, _ in each}) == 1
        whole = [name if alike and place else f"{quantity} of {name}" for place, (quantity, name) in enumerate(each)]
        return listed(whole)
    unit = shown_unit(practical.unit)
    what = f"{practical.file.result.quantity} of {practical.expressed.name}"
    return what if unit in ("", "%") else f"{what}, {unit}"


def taken(own: FromSheet) -> str:
    """Return where a number that is not the same for all comes from."""
    if own.by is not None:
        groups = ", ".join(f"{name} {value}" for name, value in own.values.items())
        return f"one for each {own.by} ({groups}; here the middle one stands for them)"
    less = f" less {own.minus}" if own.minus else ""
    default = f", {own.default} where it is blank" if own.default else ""
    return f"each student's own, from the column {own.column}{less}{default}"


def references_of(practical: Practical) -> dict[str, Fraction]:
    """Return the reference of each group, "" where it is everybody's; empty where the practical has none."""
    given, own = practical.file.reference, practical.own.get(REFERENCE)
    if given is None or (own is not None and own.default is None):
        return {}
    everybodys = {} if given.value is None else {"": given.value}
    return {name: Fraction(value) for name, value in {**given.values, **everybodys}.items()}


def expected_titres(practical: Practical) -> dict[str, Decimal]:
    """Return the titre [cm³] that each reference calls for; empty where numbers of their own decide it."""
    needed = {key for one in practical.parts or (practical,) for key in formula_of(one).of}
    if any(practical.own[key].default is None for key in practical.own.keys() & needed):
        return {}
    if practical.parts:
        names, found = practical.parts[0].series.names, titres_of(practical)
        return {names[at]: round_fraction(titre, 2) for at, titre in found.items() if titre is not None}
    titres = {name: formula_of(practical).curve.titre(value) for name, value in references_of(practical).items()}
    return {name: round_fraction(titre, 2) for name, titre in titres.items() if titre is not None}


def concerns(capacity: Decimal, titre: Decimal) -> Iterator[str]:
    """Yield what is odd about an expected titre, for a burette of that capacity [both in cm³]."""
    least, most = ((share * capacity).normalize() for share in USUAL)
    if titre > capacity:
        yield f"warning: {titre} cm³ is more than the burette holds ({capacity}): everybody would have to refill it"
    elif not least <= titre <= most:
        why = "readings and endpoint weigh more than they need" if titre < least else "little is left for an overshoot"
        yield f"note: {titre} cm³ is not in the usual range of this burette, {least:f} to {most:f} cm³: {why}"


def _equations(practical: Practical) -> Iterator[str]:
    """Yield the equations, those of each of several titres under its name, and the indicator."""
    for given in practical.file.endpoints or practical.file.titrations:
        yield from (f"{given.name}: {each.shown}" for each in equations_of(given))
    if not practical.parts:
        yield from (each.shown for each in practical.equations)
        yield from [f"indicator: {practical.file.indicator}"] * bool(practical.file.indicator)


def _expected(practical: Practical, example: Example) -> Iterator[str]:
    """Yield what the class is held against, and the titre that it calls for."""
    given, titres, unit = practical.file.reference, expected_titres(practical), shown_unit(practical.unit)
    u = f" (standard uncertainty {given.standard_uncertainty:f})" if given and given.standard_uncertainty else ""
    for name, value in references_of(practical).items():
        titre = f" {titres[name]} cm³" if name in titres else f": {_whose(practical)}"
        yield f"{name and f'{name}: '}expected titre{titre}, for the reference {plain(value)} {unit}".rstrip() + u
    if given is None:
        yield "no reference: the class is compared with its own centre, from three results on"
    yield from (f"{key}: {taken(own)}" for key, own in practical.own.items())
    yield from (concern for titre in titres.values() for concern in concerns(practical.file.burette.capacity, titre))
    yield from [example.usual] * bool(example.usual)
    told = standardisation_tree(example.practical, example.found)
    yield from [str(told["sentence"])] if told else []


def _whose(practical: Practical) -> str:
    """Return whose an expected titre is, where it is not everybody's."""
    groups = [own.by for own in practical.own.values()]
    return f"one for each {' and '.join(map(str, dict.fromkeys(groups)))}" if all(groups) else "each student's own"


def _open(practical: Practical) -> list[str]:
    """Return the keys of the numbers that are each student's own, and that nothing stands for."""
    needed = formula_of(practical).of.keys() - {*MAY_BE_NOTHING}
    own = {key: given for key, given in practical.own.items() if key in needed}
    return [key for key, given in own.items() if given.column is not None and given.default is None]


def _most(practical: Practical, formula: Formula) -> Fraction:
    """Return what the burette holds, or the blank titre of a back titration where that is less [cm³]."""
    capacity, high = Fraction(practical.file.burette.capacity), formula.curve.high
    return min(capacity, capacity if high is None else high)


def _with_example(practical: Practical, key: str, reference: Fraction) -> tuple[Practical, str]:
    """Return the practical with an own number that calls for half a burette, and which numbers are usual."""
    formula = formula_of(practical)
    most = _most(practical, formula)
    titres = [most / 2, *(Fraction(share) * most for share in USUAL)]
    found = (formula.turned(key, titre).titre(reference) for titre in titres)
    middle, *ends = [significant(each or Fraction(0), 3) for each in found]
    usual = f"usual titres call for {min(ends):f} to {max(ends):f} {shown_unit(formula.of[key].unit)} as {key}"
    try:
        return practical_with(practical, {key: middle}), usual
    except ValueError:  # no such number fits the rest, as a dilution that takes more than its flask holds
        return practical, usual


def _working(practical: Practical, formula: Formula, titre: Decimal) -> Iterator[str]:
    steps = formula.working(practical.file.result.significant_figures, titre=titre)
    for place, step in enumerate(steps, 1):
        yield from (f"{place}. {step.what}: {step.formula}", f"   {step.numbers} = {step.shown}")


def _held_against_uncertainty(practical: Practical, formula: Formula, titre: Decimal) -> dict[str, list[str]]:
    """Return the uncertainty of the result at a titre [cm³], and the marks held against it."""
    (table, reach), of = uncertainty_at(practical, formula, titre), "titre"
    least = practical.file.concordance.at_least
    if practical.series.others(practical.unknown):
        # Bands in per cent are then of the result, not of one titre.
        slope = abs(float(formula.slopes({TITRE: float(titre)})[TITRE]))
        reach, of = reach * slope / abs(float(table.value[0])) * float(titre), "result"
    percent = school_percents(Behind(practical, formula, None), {TITRE: np.array([float(titre)])})[0]
    school = f"the school way, percentages added up: {numbers.significant(percent, 2)} %"
    scheme = ", ".join(f"{each.shown} {numbers.mark(each.out_of)}" for each in practical.file.marks)
    return {
        f"Uncertainty of its result, from {least} runs": [
            *_uncertainty(practical, formula, table.of(0)),
            school,
        ],
        "Marks": [scheme, *_bands(practical, float(titre), reach, of)],
    }


def uncertainty_at(practical: Practical, formula: Formula, titre: Decimal) -> tuple[BudgetTable, float]:
    """Return the budget of a result from as many runs as must agree, and the expanded uncertainty of careful work with
    this glassware in titre [cm³].

    The concentrations, which a class shares, are not in that: they put the reference in question, and nobody's work.
    """
    given, runs = {TITRE: np.array([float(titre)])}, np.array([float(practical.file.concordance.at_least)])
    table = budgets(Behind(practical, formula, None), given, runs)
    own = float(without_shared(table)[1][0])
    return table, own / abs(float(formula.slopes({TITRE: float(titre)})[TITRE]))


def finer_bands(practical: Practical, titre: float, reach: float) -> Iterator[tuple[Criterion, list[str], float, str]]:
    """Yield each criterion with bands of accuracy: those finer than `reach`, and how far that is in the unit given."""
    for criterion in practical.file.marks:
        if criterion.criterion == "accuracy" and criterion.bands:
            own, unit = (reach, "cm³") if criterion.unit == "cm3" else (100 * reach / titre, "%")
            shown = significant(fraction(own), 2)
            finer = [f"{each.within}" for each in criterion.bands if each.within < shown]
            yield criterion, finer, own, unit


def _uncertainty(practical: Practical, formula: Formula, budget: Budget) -> Iterator[str]:
    """Yield the budget, largest first, and what it comes to."""
    yield f"{'from':<40}{'uncertainty':<17}{'of result':>9}{'of variance':>12}"
    for row in budget.rows:
        left = f"{row['source']:<40}{numbers.significant(row['value'], 2)} {shown_unit(row['unit'])}"
        percent, share = f" {numbers.significant(row['percent'], 2)} %", numbers.share(row["share"])
        yield f"{left}{percent:>{max(1, 66 - len(left))}}{share:>12}"
    stated = [each for each in formula.inputs if each.kind in ("concentration", "mass")]
    exact = [each.words for each in stated if not each.standard_uncertainty]
    if exact:
        yield f"counted as exact, as no standard_uncertainty is given: {listed(exact)}"
    value, expanded = numbers.with_uncertainty(budget.value, budget.expanded)
    factor = numbers.significant(budget.coverage_factor, 3)
    yield f"{value} ± {expanded} {shown_unit(practical.unit)}".rstrip() + f" (expanded, k = {factor})"
    yield budget.sentence


def _bands(practical: Practical, titre: float, reach: float, of: str) -> Iterator[str]:
    """Yield the bands of accuracy held against `reach`, what the uncertainty of careful work comes to in titre [cm³].

    of   what the bands are about: the titre, or the result
    """
    for criterion, finer, own, unit in finer_bands(practical, titre, reach):
        bands = [f"{numbers.mark(each.mark)} within {each.within}" for each in criterion.bands]
        yield f"accuracy: {', '.join(bands)} {unit} of the {of}"
        told = f"finer, so that careful work may miss it: {', '.join(finer)} {unit}" if finer else "no band is finer"
        reach_of = f"{numbers.significant(own, 2)} {unit} of {of}"
        yield f"careful work comes to ± {reach_of} without the concentrations, which all share; {told}"


# --- several titres ---


def examples_of(practical: Practical, file: str = "") -> list[Example]:
    """Return what a practical comes to at one titre: of several results each, at the titres that all call for."""
    if not practical.parts:
        return [example_of(practical, file)]
    for part in practical.parts:
        if (value := _value_of(part)) is not None:
            tellable([value.exact], beside_known(formula_of(part), part, {}).curve, file)
    known = {place: titre for place, titre in titres_of(practical).items() if titre is not None}
    made = []
    for part in asked_for(practical):
        formula = beside_known(formula_of(part), part, known)
        titre = known.get(part.series.place, _most(part, formula) / 2)
        made.append(Example(part, formula, round_fraction(titre, 2), titre, [], None))
    return made


def asked_for(practical: Practical) -> list[Practical]:
    """Return the parts of a practical with several titres whose results are asked for; else the practical itself."""
    return [part for part in practical.parts if part.series.asked] or [practical]


def titres_of(practical: Practical) -> dict[int, Fraction | None]:
    """Return the titre [cm³] of each endpoint or titration that the references together call for, by its place."""
    references = [_value_of(part) for part in practical.parts]
    titres = forward(practical.parts, [formula_of(part) for part in practical.parts], references)
    return {part.series.place: titre for part, titre in zip(practical.parts, titres, strict=True)}


def _value_of(part: Practical) -> ReferenceValue | None:
    value = next(iter(references_of(part).values()), None)
    return None if value is None else ReferenceValue(float(value), None, "practical", value)


def _expected_of_several(practical: Practical) -> Iterator[str]:
    """Yield what the class is held against, and the titres that it calls for."""
    titres, capacity = titres_of(practical), practical.file.burette.capacity
    series = practical.parts[0].series
    for part in practical.parts:
        value = _value_of(part)
        if value is not None:
            name = part.series.result or part.unknown.shown
            yield f"reference of {name}: {value.value:g} {shown_unit(part.unit)}".rstrip()
    total, same_for_all = Fraction(0), bool(expected_titres(practical))
    for place, name in enumerate(series.names):
        titre = titres.get(place)
        if titre is None:
            yield f"{name}: no expected titre, as a reference is missing"
            continue
        if not same_for_all:
            yield f"expected titre {name}: {_whose(practical)}"
            continue
        total = total + titre if series.endpoints else titre
        reading = f", {round_fraction(total, 2)} cm³ in all" if series.endpoints and place else ""
        yield f"expected titre {name}: {round_fraction(titre, 2)} cm³{reading}"
        if not series.endpoints or place == len(series.names) - 1:
            yield from concerns(capacity, round_fraction(total, 2))
    yield from (f"{key}: {taken(own)}" for key, own in practical.own.items())
