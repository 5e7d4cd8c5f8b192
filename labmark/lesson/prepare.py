"""What a practical needs and what it can give, as plain data: `prepare.json`, and what the card is made of. Pure.

What the tests of a class will be able to see is said of two supposed ones: one that works as carefully as the budget
allows, and an ordinary one.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np

from labmark.analyse.power import shift_of_group, shifts_off_reference
from labmark.exact import places_in, round_fraction, written_figures
from labmark.judge.uncertainty import Behind, budgets, without_shared
from labmark.lesson import indicator
from labmark.lesson.columns import usual_runs
from labmark.lesson.curve import Curve
from labmark.lesson.quantities_needed import RESERVE_PERCENT, of_several, solutions_needed
from labmark.lesson.titration import acids_of, buffer_ph, constants_of, curve_of, curves_to_endpoints, titration_of
from labmark.meaning import (
    Example,
    concerns,
    example_of,
    examples_of,
    expected_titres,
    finer_bands,
    references_of,
    uncertainty_at,
)
from labmark.outputs.numbers import significant
from labmark.practical import Practical
from labmark.practical.glassware import PIPETTES, burette
from labmark.practical.inputs import TITRE
from labmark.practical.kinds import formula_of
from labmark.practical.load import practical_with
from labmark.practical.own import REFERENCE
from labmark.problems import InputError
from labmark.units import shown_unit
from labmark.words import listed

Tree = dict[str, Any]
RUNS = (2, 3, 4, 5)
MOST = 12
"""So many runs are looked at for the one beyond which another gains little."""
LITTLE = 0.1
"""Share of the expanded uncertainty that is not worth another run."""
BENCH = 6
"""Students of a bench (common practice, no source)."""
ORDINARY = 0.01
"""Standard deviation between students of an ordinary class, as a share of the titre (common practice, no source)."""


class Prepared(NamedTuple):
    """What is to be prepared, and what it was worked out from."""

    tree: Tree
    practical: Practical
    examples: list[Example]
    """The practical at one titre: of several results one for each."""
    curves: list[Curve]
    """One, none, or the same as seen from each of several endpoints."""
    constants: list[str]
    """Behind the curve, with their sources."""


def prepared(practical: Practical, students: int, classes: int = 1, file: str = "") -> Prepared:
    """Return what is to be prepared for classes of so many students.

    Raises InputError where no titre gives the practical's reference.
    """
    examples, several = examples_of(practical, file), bool(practical.parts)
    titration = None if several else titration_of(examples[0])
    one = curve_of(titration) if titration else None
    curves, acids = curves_to_endpoints(practical) if several else ([one] if one else [], [])
    within = practical.file.concordance.within
    names = [each.name for each in practical.file.endpoints] or [practical.file.indicator]
    found = [indicator.verdict(curve, name, within) for curve, name in zip(curves, names, strict=False)]
    unsuited = [each for pair in zip(curves, found, strict=True) for each in indicator.complaint(*pair, within)]
    runs, number = 1 + usual_runs(practical), students * classes
    solutions = solutions_needed(titration, runs, number) if titration else of_several(practical, runs, number)
    first = examples[0]
    budget = uncertainty_at(first.practical, first.formula, first.titre)[0].of(0)
    tree = {
        "students": students,
        "classes": classes,
        "runs": runs,
        "reserve_percent": RESERVE_PERCENT,
        "expected_titre": _expected(practical),
        "solutions": solutions,
        "indicator": found[0] if found and not several else None,
        "indicators": [each for each in found if each is not None],
        "curve": _curve(curves[-1], practical) if curves else None,
        "budget": list(budget.rows),
        "advice": budget.sentence,
        "improvements": [*_improvements(practical, first)],
        "foresight": foresight(first, students) if not several else None,
        "warnings": _warnings(practical, examples, unsuited),
        "missing": [*_missing(solutions), *_of_groups(practical)] if titration else [],
    }
    constants = constants_of(acids_of(titration) if titration else acids, titration)
    return Prepared(tree, practical, examples, curves, constants)


def _warnings(practical: Practical, examples: Sequence[Example], unsuited: Sequence[str]) -> list[Tree]:
    """Return what to think about again; `unsuited` says so of the indicators."""
    messages: dict[str, Iterable[str]] = {
        "titre-out-of-range": _out_of_range(practical),
        "indicator-unsuitable": unsuited,
        "band-finer-than-glassware": (each for one in examples for each in _finer(one)),
        "too-few-figures": dict.fromkeys(each for one in examples for each in _few_figures(one)),
    }
    return [{"warning": code, "message": message} for code, said in messages.items() for message in said]


def _expected(practical: Practical) -> dict[str, float] | None:
    """Return the expected titre, and those at the ends of the reference's expanded uncertainty [cm³]."""
    titres, references = expected_titres(practical), references_of(practical)
    if [*titres] != [""] or practical.parts:
        return None
    given, curve = practical.file.reference, formula_of(practical).curve
    reach = 2 * Fraction(given.standard_uncertainty or 0) if given is not None else Fraction(0)
    ends = [curve.titre(references[""] + each) for each in (-reach, reach)]
    low, high = sorted(float(round_fraction(each, 2)) if each is not None else float(titres[""]) for each in ends)
    return {"value": float(titres[""]), "low": low, "high": high}


def _curve(curve: Curve, practical: Practical) -> Tree:
    """Return what is measured about equivalence, one drop before and after."""
    before, at, after = (round(each, 2) for each in indicator.about(curve))
    held = {} if curve.quantity == "pH" else {"buffer_ph": buffer_ph(practical.file.indicator)}
    return {"quantity": curve.quantity, "before": before, "at_equivalence": at, "after": after, **held}


def _out_of_range(practical: Practical) -> Iterator[str]:
    titres = [*expected_titres(practical).values()]
    if practical.file.endpoints:  # the burette is read on to the last of them
        titres = [sum(titres, Decimal(0))] if titres else []
    for titre in dict.fromkeys(titres):
        for concern in concerns(practical.file.burette.capacity, titre):
            yield concern.partition(": ")[2]


def _finer(example: Example) -> Iterator[str]:
    practical, titre = example.practical, example.titre
    if practical.series.others(practical.unknown):
        return  # its bands are of the result, which rests on other titres too
    reach = uncertainty_at(practical, example.formula, titre)[1]
    for criterion, finer, own, unit in finer_bands(practical, float(titre), reach):
        if finer:
            bands = f"{' and '.join(finer)} {unit}"
            told = f"the expanded uncertainty of careful work comes to {significant(own, 2)} {unit} of titre"
            yield f"{criterion.shown}: {told}, so that it may miss the band of {bands}"


def _few_figures(example: Example) -> Iterator[str]:
    """Yield each number that was given to fewer figures than the result is asked to."""
    asked = example.practical.file.result.significant_figures
    for each in example.formula.inputs:
        if each.kind in ("concentration", "mass") and "." in each.name and each.text:
            number = Decimal(each.text)
            figures, _ = written_figures(number, places_in(number))
            if figures < asked and each.name not in example.practical.own:
                yield f"{each.name} = {each.text} has {figures} significant figures, and the result is asked to {asked}"


def _of_groups(practical: Practical) -> Iterator[Tree]:
    """Yield that there is more than one strength of a solution, of which the middle one is shown, or more than one
    unknown, of which the first is."""
    solutions = {"burette": practical.file.burette.solution, "flask": practical.file.flask.solution}
    for vessel, solution in solutions.items():
        key = f"{vessel}.concentration"
        given = practical.own.get(key)
        if given is not None and given.by is not None:
            each = ", ".join(f"{value} ({group})" for group, value in given.values.items())
            said = f"{solution} is needed in several strengths: {each} mol/dm³; the one on this card is in the middle"
            yield {"solution": solution, "key": key, "message": said}
    reference, name = practical.file.reference, practical.file.result.of
    if reference is not None and len(reference.values) > 1:
        unit, column, first = shown_unit(practical.unit), reference.by, next(iter(reference.values))
        each = ", ".join(f"{f'{value} {unit}'.rstrip()} ({group})" for group, value in reference.values.items())
        said = f"{name} is needed for each {column}: {each}; the one on this card is that of {first}"
        yield {"solution": name, "key": REFERENCE, "message": said}


def _missing(solutions: list[Tree]) -> Iterator[Tree]:
    """Yield which key would say how strong a solution is that cannot be prepared yet."""
    keys = {
        "standard": "sample.mass",
        "flask": REFERENCE,
        "burette": REFERENCE,
        "excess": "excess.concentration",
    }
    for each in solutions:
        if each["concentration"] is None and each["mass_g"] is None:
            key = "sample.mass" if each["each_g"] is not None else keys[each["role"]]
            said = f"{each['solution']} cannot be prepared yet: the practical does not give {key}"
            if each["each_g"] is not None:
                name = each["solution"]
                said = f"How much {name} each student weighs is not said: give the column a default, or a reference"
            yield {"solution": each["solution"], "key": key, "message": said}


# What better glassware or a better standard would bring.


def _improvements(practical: Practical, example: Example) -> Iterator[Tree]:
    """Yield the standard uncertainty of a result [%] as the practical is, and with each thing that would be better.

    Each is worked out from the practical with that changed. A titration may have a burette of its own: then nothing is.
    """
    changes = [] if practical.file.titrations else [*_changes(practical, example)]
    if changes:
        yield {"with": "what the practical says", "percent": _percent(example)}
    if len(changes) > 1:
        changes.append(("all of these together", {key: each for _, keys in changes for key, each in keys.items()}))
    for words, keys in changes:
        better = examples_of(practical_with(practical, keys))[0]
        yield {"with": words, "percent": _percent(better)}


def _percent(example: Example) -> float:
    budget = uncertainty_at(example.practical, example.formula, example.titre)[0].of(0)
    return 100 * budget.standard_uncertainty / abs(budget.value)


def _changes(practical: Practical, example: Example) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield what might be better than it is, and the keys of the practical that say so."""
    own, known = practical.file.burette, example.practical.known_in
    finer = burette(own.capacity, own.division, "A").tolerance
    if finer < burette(own.capacity, own.division, own.glass_class, own.tolerance).tolerance:
        yield f"a burette of class A or AS (± {finer:g} cm³)", {"burette.class": "A", "burette.tolerance": None}
    yield from _larger_pipette(practical, example)
    u = getattr(example.practical.file, known).standard_uncertainty
    if u is not None and f"{known}.concentration" not in practical.own:
        words = f"a standard known ten times as well, to {u / 10:f} mol/dm³"
        yield words, {f"{known}.standard_uncertainty": u / 10}


def _larger_pipette(practical: Practical, example: Example) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the next larger pipette, where everybody's titre is known and would still suit the burette."""
    aliquot = practical.file.flask.aliquot
    size = next((each for each in sorted(PIPETTES) if aliquot is not None and each > aliquot), None)
    if size is None or practical.parts or not expected_titres(practical):
        return
    keys = {"flask.aliquot": Decimal(f"{size:.1f}"), "flask.tolerance": None}
    with suppress(InputError):  # a reagent in excess may be too little for so much
        titre = example_of(practical_with(practical, keys)).titre
        if titre > example.titre and not [*concerns(practical.file.burette.capacity, titre)]:
            yield f"a pipette of {size:g} cm³, and so a titre of {titre} cm³", keys


# What a class will show.


def foresight(example: Example, students: int) -> Tree:
    """Return expanded uncertainties [%] by number of runs, and the shifts [cm³] that a class would show."""
    titre, practical, runs = float(example.titre), example.practical, np.arange(2.0, MOST + 1)
    given = {TITRE: np.full(runs.size, titre)}
    table = budgets(Behind(practical, example.formula, None), given, runs)
    slope = abs(float(example.formula.slopes({TITRE: titre})[TITRE]))
    little = np.diff(table.expanded) > -LITTLE * table.expanded[:-1]
    careful = float(without_shared(table)[0][practical.file.concordance.at_least - 2]) / slope
    stated = practical.file.reference
    u = float(stated.standard_uncertainty or 0) / slope if stated is not None else None
    percents = (100 * table.expanded / abs(table.value)).tolist()
    return {
        "percent_by_runs": dict(zip(map(str, RUNS), percents, strict=False)),
        "enough_runs": int(runs[np.argmax(little)]) if little.any() else MOST,
        "found": [
            {"work": work, "between_students_cm3": spread, **_found(students, spread, u)}
            for work, spread in (("careful", careful), ("ordinary", max(careful, ORDINARY * titre)))
        ],
    }


def _found(students: int, spread: float, u: float | None) -> dict[str, float | None]:
    above, below = (shifts_off_reference(students, spread, u) if u is not None else None) or (None, None)
    return {"above_reference": above, "below_reference": below, "bench": shift_of_group(students, BENCH, spread)}


def told(tree: Tree, students: int, titre: float) -> Tree:
    """Return the same in words: a sentence on the runs, the rows of the table, and what is supposed."""
    percents = [f"{significant(each, 2)} %" for each in tree["percent_by_runs"].values()]
    rows = [
        (f"All {students} titres too large for the reference", "above_reference"),
        (f"All {students} titres too small for the reference", "below_reference"),
        (f"One bench of {BENCH} apart from the others", "bench"),
    ]
    made = [[words, *(_shown(each[key], titre) for each in tree["found"])] for words, key in rows]
    careful, ordinary = (significant(each["between_students_cm3"], 2) for each in tree["found"])
    return {
        "runs": f"With {listed([*tree['percent_by_runs']])} agreeing runs the expanded uncertainty of a result is "
        f"{listed(percents)}. Beyond {tree['enough_runs']}, another run takes less than a tenth off it.",
        "rows": [row for row in made if any(row[1:])],
        "supposed": "Shifts that the tests of the class would find in about four of five such classes. "
        "Assumed: students’ means differ by a "
        f"standard deviation of {careful} cm³ where the work is careful (runs scatter by reading and last drop alone), "
        f"of {ordinary} cm³ where it is ordinary; nobody is grossly off.",
    }


def _shown(shift: float | None, titre: float) -> str:
    return f"{shift:.2f} cm³ ({significant(100 * shift / titre, 2)} %)" if shift is not None else ""
