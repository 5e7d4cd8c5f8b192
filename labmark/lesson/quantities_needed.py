"""How much of each solution a class needs, and how it is made: from a solid, from stock, or from the sample."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import ceil
from typing import Any, Literal, NamedTuple

from labmark.exact import significant
from labmark.lesson.columns import one_a_run
from labmark.lesson.constants import kind, table
from labmark.lesson.titration import Titration
from labmark.meaning import expected_titres, references_of
from labmark.practical import Practical
from labmark.practical.equation import Species, molar_mass, parse_formula, shown_formula
from labmark.practical.hazards import SEE, caution_of, is_no_substance
from labmark.practical.inputs import unknown_dilution
from labmark.practical.own import BLANK_TITRE

RINSE = 25
"""For rinsing burette or pipette, each student [cm³]; common practice, no source."""
RESERVE_PERCENT = 20
SAMPLE = "the sample"
DEFERS = "the safety data sheet and the local risk assessment decide"
Role = Literal["flask", "burette", "excess", "standard"]


class Solution(NamedTuple):
    """A solution, or what is weighed, before it is known how it is made."""

    species: Species
    role: Role
    concentration: float | None
    """As it is titrated [mol/dm³]; None where nothing says it."""
    each: float
    """For one student, with a rinse [cm³]."""
    dilution: tuple[Fraction, Fraction] | None = None
    """(taken, made up to) [cm³], where a sample is diluted for it."""
    weighed: float | None = None
    """What one student weighs of the sample [g]; 0 where nobody says how much."""


def solutions_needed(titration: Titration, runs: int, students: int) -> list[dict[str, Any]]:
    """Return what is to be prepared for so many runs of a number of students, the burette's first."""
    return [_prepared(one, students) for one in _solutions(titration, runs)]


def of_several(practical: Practical, runs: int, students: int) -> list[dict[str, Any]]:
    """Return what is to be prepared where there are several titres: the titrants, and the sample."""
    file, titres = practical.file, expected_titres(practical)
    made: list[dict[str, Any]] = []
    vessels = [(each.name, each.burette, each.flask) for each in file.titrations] or [("", file.burette, file.flask)]
    aliquots: dict[str, float] = {}
    titrants: dict[str, tuple[float | None, float]] = {}
    for name, burette, flask in vessels:
        run_in = titres.get(name, burette.capacity / 2) if name else sum(titres.values()) or burette.capacity / 2
        strength = None if burette.concentration is None else float(burette.concentration)
        titrants[burette.solution] = (strength, titrants.get(burette.solution, (0, RINSE))[1] + runs * float(run_in))
        aliquots[flask.solution] = aliquots.get(flask.solution, RINSE) + runs * float(flask.aliquot or 0)
    for solution, (strength, each) in titrants.items():
        made.append(_prepared(Solution(parse_formula(solution), "burette", strength, each), students))
    for solution, each in aliquots.items():
        known = {"solution": solution, "name": solution, "caution": f"{solution}: see its label; {DEFERS}", "note": ""}
        made.append(_prepared(Solution(practical.unknown, "flask", None, each), students) | known)
    return made


def _solutions(titration: Titration, runs: int) -> Iterator[Solution]:
    """Yield what one titration takes for one student: in the burette, in excess, in the flask."""
    practical, file = titration.example.practical, titration.example.practical.file
    in_burette = runs * float(titration.example.titre) + RINSE
    made = _dilution(titration) if practical.unknown_in == "burette" else None
    own = titration.example.own
    strength = None if "burette.concentration" in own else titration.titrant_concentration
    yield Solution(titration.titrant, "burette", strength, in_burette, made)
    excess, back = file.excess, practical.back
    if excess is not None and back is not None:
        times = 1 if back.whole and not back.undivided else runs
        given = None if "excess.concentration" in own else excess.concentration
        strength = _of_blank(titration) if given is None else float(given)
        yield Solution(back.reagent, "excess", strength, times * float(excess.volume or RINSE) + RINSE)
    if file.sample is not None and file.sample.mass is not None:
        yield _weighed(titration, runs)
    elif back is None or not back.whole:
        aliquot = float(file.flask.aliquot or 0)
        strength = None if "flask.concentration" in own else _in_flask(titration)
        made = _dilution(titration) if practical.unknown_in == "flask" else None
        what = practical.unknown if practical.unknown_in == "flask" else practical.known
        yield Solution(what, "flask", strength, runs * aliquot + RINSE, made)


def _of_blank(titration: Titration) -> float | None:
    """Return the concentration of the reagent in excess that its blank says [mol/dm³]."""
    practical, left = titration.example.practical, titration.analyte_amount
    blank, excess, own = practical.file.blank, practical.file.excess, practical.own.get(BLANK_TITRE)
    nobody_says = own is not None and own.column is not None and own.default is None
    if blank is None or left is None or excess is None or excess.volume is None or nobody_says:
        return None
    portions = 1 if excess.made_up_to is None else excess.made_up_to / (practical.file.flask.aliquot or 1)
    return left / titration.run_in * float(blank.titre * portions / excess.volume)


def _weighed(titration: Titration, runs: int) -> Solution:
    """Return the sample or standard that each student weighs, or is given."""
    practical, sample = titration.example.practical, titration.example.practical.file.sample
    assert sample is not None
    assert sample.mass is not None
    known = practical.weighed_standard
    given = practical.own["sample.mass"].default if "sample.mass" in titration.example.own else sample.mass
    nobody_says = given is None and not references_of(practical)
    mass = 0.0 if nobody_says else float(sample.mass) * (runs if one_a_run(practical) else 1)
    what = practical.known if known else practical.unknown
    strength = _in_flask(titration) if sample.made_up_to is not None else None
    return Solution(what, "standard" if known else "flask", strength, float(sample.made_up_to or 0), weighed=mass)


def _dilution(titration: Titration) -> tuple[Fraction, Fraction] | None:
    made = unknown_dilution(titration.example.practical)
    return None if made is None else (Fraction(made.taken), Fraction(made.made_up_to))


def _in_flask(titration: Titration) -> float | None:
    """Return the concentration of what is pipetted [mol/dm³]; an unknown's only where a reference says it."""
    practical = titration.example.practical
    amount, aliquot = titration.analyte_amount, practical.file.flask.aliquot
    if amount is None or aliquot is None or (practical.known_in == "burette" and not references_of(practical)):
        return None
    if practical.back is not None:
        amount = 1000 * float(titration.amounts["n.unknown"])
    return amount / float(aliquot)


def _prepared(one: Solution, students: int) -> dict[str, Any]:
    """Return how much of a solution there must be, and how it is made."""
    each = ceil(one.each)
    total = _rounded_up(students * each * (1 + RESERVE_PERCENT / 100))
    row = _row_of(one.species)
    strength = None if one.concentration is None else Fraction(one.concentration)
    grams, share = _grams(one, row, strength), _share(one, row, strength)
    each_dm3 = grams if grams is not None else None if share is None else 1000 * share
    return {
        "solution": one.species.name,
        "role": one.role,
        "concentration": None if strength is None else float(significant(strength, 4)),
        "per_student_cm3": each,
        "total_cm3": total,
        "mass_g": _mass(one, grams, total, students),
        "per_dm3": None if each_dm3 is None else float(significant(each_dm3, 3)),
        "from_stock": _from_stock(one, row, strength, share, total),
        "caution": _deferring(_caution(one, strength, row.get("name", ""))),
        "original": one.dilution is not None,
        "caution_of_original": _of_original(one, strength, share, row.get("name", "")),
        "name": SAMPLE if _is_sample(one) else row.get("name", one.species.shown),
        "solid": shown_formula(row["weigh"]) if "weigh" in row else "",
        "diluting": row.get("diluting", ""),
        "note": row.get("note", ""),
        "exact": row.get("exact", False),
        "each_g": one.weighed,
    }


def _row_of(species: Species) -> Mapping[str, Any]:
    """Return what the table says of a solution, however its formula is written; empty where it says nothing."""
    rows = ((row, [kind(parse_formula(each)) for each in row["species"]]) for row in table("solutions")["solution"])
    return next((row for row, kinds in rows if kind(species) in kinds), {})


def _is_sample(one: Solution) -> bool:
    """Return whether students weigh it, or whether it is as it comes: water with its calcium or its oxygen."""
    as_it_comes = is_no_substance(one.species) and not _row_of(one.species)
    return one.role == "flask" and (one.weighed is not None or as_it_comes)


def _caution(one: Solution, strength: Fraction | None, name: str) -> str:
    """Return what is known of a solution's hazards at its concentration; of a sample its label alone tells."""
    if _is_sample(one):
        return f"{SAMPLE}: see its label"
    return caution_of(one.species, strength and Fraction(significant(strength, 4)), name)


def _deferring(caution: str) -> str:
    """Return a caution with what decides; one that only sends to the safety data sheet says so once."""
    name = caution.removesuffix(SEE)
    return f"{caution}; {DEFERS}" if name == caution else f"{name}: {DEFERS}"


def _of_original(one: Solution, strength: Fraction | None, share: Fraction | None, name: str) -> str | None:
    """Return what is known of the hazards of the sample that a solution is diluted from; None where it is not."""
    if one.dilution is None or strength is None or share is None:
        return None
    return caution_of(one.species, Fraction(significant(strength / share, 3)), name)


def _rounded_up(volume: float) -> int:
    """Return a volume [cm³] rounded up to what is measured out; the last bit of a product does not count."""
    step = 10 if volume < 1000 else 50 if volume < 10_000 else 100
    return step * ceil(round(volume, 6) / step)


def _grams(one: Solution, row: Mapping[str, Any], strength: Fraction | None) -> Fraction | None:
    """Return what is weighed for 1 dm³ of a solution [g]; None where it is made otherwise."""
    if one.weighed is not None or one.dilution is not None or strength is None or "weigh" not in row:
        return None
    return strength * molar_mass(parse_formula(row["weigh"]).atoms)


def _share(one: Solution, row: Mapping[str, Any], strength: Fraction | None) -> Fraction | None:
    """Return how much of a solution is the stock solution, or the sample, that it is diluted from."""
    if one.dilution is not None:
        return one.dilution[0] / one.dilution[1]
    stock = Fraction(str(row["stock"])) if "stock" in row else None
    if stock is None or strength is None or strength > stock or one.weighed is not None:
        return None
    return strength / stock


def _mass(one: Solution, grams: Fraction | None, total: int, students: int) -> float | None:
    """Return what is weighed for all of it [g], to three figures."""
    if one.weighed is not None:
        mass = Fraction(one.weighed * students * (1 + RESERVE_PERCENT / 100))
        return float(significant(mass, 3)) if mass else None
    return None if grams is None else float(significant(grams * total / 1000, 3))


def _from_stock(
    one: Solution, row: Mapping[str, Any], strength: Fraction | None, share: Fraction | None, total: int
) -> dict[str, Any] | None:
    """Return the stock solution, or the sample, that it is diluted from."""
    if share is None:
        return None
    known = None if strength is None else float(significant(strength / share, 3))
    stock = known if one.dilution is not None else float(row["stock"])
    return {"concentration": stock, "volume_cm3": float(significant(total * share, 3))}
