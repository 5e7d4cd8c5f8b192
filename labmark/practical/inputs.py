"""What the formula of a practical takes: what is measured or made up, each with its uncertainty, and plain numbers."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from math import inf, sqrt

from labmark.exact import in_decimals
from labmark.formula import Input, Kind
from labmark.practical import glassware
from labmark.practical.equation import Equation, molar_mass, molar_mass_uncertainty, parse_formula
from labmark.practical.file import PracticalFile, Titration
from labmark.practical.glassware import Glass
from labmark.practical.model import PURITY_WITHIN, Blank, Dilution, Excess, Flask, Measured, Sample, Solution
from labmark.practical.own import BLANK_TITRE
from labmark.practical.record import Back, Practical
from labmark.practical.several import Found, Series, other_titre

TITRE = "titre"
STANDARD = "concentration of the standard"
REAGENT = "concentration of the reagent in excess"
SHARED = (STANDARD, REAGENT)
"""What all results of a class have in common, by its words in the budget."""
WATER = "H2O"
Atoms = tuple[tuple[str, Fraction], ...]


def measured(practical: Practical, standard_dof: float) -> Iterator[Input]:
    """Yield the titre, and what was measured or made up, in the order of the budget."""
    given, back, dilution = practical.file, practical.back, unknown_dilution(practical)
    law = given.uncertainty.glassware
    yield Input(TITRE, "titre", None, "cm3", words="mean titre")
    yield from _blank(BLANK_TITRE, given.blank)
    yield from _portion("flask.aliquot", given.flask.aliquot, given.flask, law)
    side = given.burette if practical.known_in == "burette" else given.flask
    yield from _stated(f"{practical.known_in}.concentration", side, STANDARD, standard_dof)
    if given.excess is not None and back is not None:
        yield from _of_reagent(given.excess, given.flask, back, law)
    if dilution is not None:
        name = f"{practical.unknown_in}.dilution"
        yield from _pipette(f"{name}.taken", dilution.taken, dilution, "pipette of the dilution", law)
        yield from _flask(f"{name}.made_up_to", dilution.made_up_to, dilution, "volumetric flask of the dilution", law)
    if given.sample is not None:
        yield from _of_weighing(given.sample, law)
    yield from _of_others(practical, law)


def _of_others(practical: Practical, law: str) -> Iterator[Input]:
    """Yield the titres that a result rests on beside its own, and what was measured for them alone.

    A titre has no value before a student's stands there; nothing stands for it.
    """
    for place in practical.series.others(practical.unknown):
        part, where = part_of(practical, place), where_in(practical.series, place)
        yield Input(other_titre(place), "titre", Fraction(0), "cm3", words=f"mean titre {where}")
        own = [
            *_stated(shared_name(practical, place, "burette.concentration"), part.burette, f"{STANDARD} {where}"),
            *_portion(
                shared_name(practical, place, "flask.aliquot"), part.flask.aliquot, part.flask, law, f", {where}"
            ),
            *_blank(shared_name(practical, place, BLANK_TITRE), part.blank, f" {where}"),
        ]
        yield from (each for each in own if each.name.endswith(f".{place + 1}"))  # the others are there already


def _of_reagent(excess: Excess, flask: Flask, back: Back, law: str) -> Iterator[Input]:
    yield from _stated("excess.concentration", excess, REAGENT)
    if back.undivided:  # all of the mixture is titrated: the pipette of the flask is that of the reagent
        yield from _portion("excess.volume", excess.volume, flask, law)
    else:
        yield from _pipette("excess.volume", excess.volume, excess, "pipette of the reagent in excess", law)
    yield from _flask("excess.made_up_to", excess.made_up_to, excess, "volumetric flask of the mixture", law)


def _of_weighing(sample: Sample, law: str) -> Iterator[Input]:
    yield from _flask("sample.made_up_to", sample.made_up_to, None, "volumetric flask of the sample", law)
    yield from _pipette("sample.volume", sample.volume, sample, "pipette of the sample", law)
    if sample.mass is not None:
        u = float(sample.standard_uncertainty or 0)
        mass = Fraction(sample.mass)
        yield Input("sample.mass", "mass", mass, "g", f"{sample.mass}", "mass of the sample", u, u)
    if sample.purity is not None:
        within = float(PURITY_WITHIN if sample.purity_within is None else sample.purity_within)
        purity, u = Fraction(sample.purity), within / sqrt(3)
        words = "purity of the standard"
        yield Input("sample.purity", "factor", purity, "", f"{sample.purity}", words, u, within, "rectangular")


# What follows yields nothing where the practical does not give the number.


def _blank(name: str, blank: Blank | None, where: str = "") -> Iterator[Input]:
    if blank is not None:
        yield Input(name, "titre", Fraction(blank.titre), "cm3", f"{blank.titre}", f"blank titre{where}")


def _portion(name: str, volume: Decimal | None, flask: Flask, law: str, where: str = "") -> Iterator[Input]:
    """Yield what the pipette of a titration flask measures."""
    yield from _pipette(name, volume, flask, f"pipette, {float(volume or 0):g} cm³{where}", law)


def _pipette(name: str, volume: Decimal | None, of: Measured, words: str, law: str) -> Iterator[Input]:
    if volume is not None:
        yield _glass(name, "pipette", volume, glassware.pipette(volume, of.glass_class, of.tolerance), words, law)


def _flask(name: str, volume: Decimal | None, of: Excess | Dilution | None, words: str, law: str) -> Iterator[Input]:
    """Yield what a volumetric flask holds; where no table says anything of it, it is of class B."""
    if volume is not None:
        glass = glassware.flask(volume, of.glass_class, of.flask_tolerance) if of else glassware.flask(volume)
        yield _glass(name, "flask", volume, glass, words, law)


def _glass(name: str, kind: Kind, volume: Decimal, glass: Glass, words: str, law: str) -> Input:
    u = glass.tolerance / sqrt(3 if law == "rectangular" else 6)
    return Input(name, kind, Fraction(volume), "cm3", f"{volume}", words, u, glass.tolerance, law)


def _stated(name: str, side: Solution, words: str, dof: float = inf) -> Iterator[Input]:
    """Yield the concentration of a solution, which the practical states."""
    if side.concentration is not None:
        u, value = float(side.standard_uncertainty or 0), Fraction(side.concentration)
        yield Input(name, "concentration", value, "mol/dm3", f"{side.concentration}", words, u, u, dof=dof)


def numbers(practical: Practical) -> Iterator[Input]:
    """Yield what nobody measures: formula masses, the numbers of the equations, and those of units."""
    if practical.series.several:
        yield from _links(practical.series, practical.series.of(practical.unknown), "")
    yield _formula_mass("molar_mass", practical.expressed.mass, "formula mass", practical.expressed.atoms)
    if practical.weighed_standard:
        known = practical.known.atoms
        yield _formula_mass("known_mass", molar_mass(known), f"formula mass of {practical.known.shown}", known)
    water = parse_formula(WATER).atoms
    yield _formula_mass("water_mass", molar_mass(water), "formula mass of water", water)
    for name, equation in _equations(practical):
        yield from (Input(f"{name}.{one.name}", "ratio", equation.coefficient(one)) for _, one in equation.terms)
    yield Input("result.expressed_as", "ratio", practical.expressed.number)
    yield from practical.expressed.quantity.inputs
    yield from _plain_numbers(practical.file)
    yield from (Input(f"{number}", "number", Fraction(number)) for number in (2, 10, 100, 1000, 10_000))


def _links(series: Series, found: Found, after: str) -> Iterator[Input]:
    """Yield how much titrant what is taken off took in another titration, for one that it took there."""
    for number, (of, share) in enumerate(found.less, start=1):
        own = f"{after}.{number}"
        other = None if isinstance(of, int) else series.of(of)
        yield Input(f"link{own}", "ratio", share if other is None else share / other.titrant)
        if other is not None:
            yield from _links(series, other, own)


def _plain_numbers(given: PracticalFile) -> Iterator[Input]:
    """Yield the numbers that the practical gives and that count as exact."""
    result, sample, displaced = given.result, given.sample, given.flask.displaced
    stated = [("result.nominal", result.nominal, "mol/dm3", "concentration on the label")]
    stated += [("result.molar_volume", result.molar_volume, "dm3/mol", "molar volume")]
    stated += [("result.factor", result.factor, "", result.factor_name)]
    if sample is not None and sample.items is not None:
        stated.append(("sample.items", Decimal(sample.items), "", "number of items"))
    if displaced is not None:
        stated.append(("displaced.bottle", displaced.bottle, "cm3", "volume of the bottle"))
        stated.append(("displaced.reagents", displaced.reagents, "cm3", "volume of the reagents in the bottle"))
    for name, value, unit, words in stated:
        if value is not None:
            yield Input(name, "factor", Fraction(value), unit, f"{value}", words)


def _formula_mass(name: str, mass: Fraction, words: str, atoms: Atoms) -> Input:
    u = molar_mass_uncertainty(atoms)
    return Input(name, "molar mass", mass, "g/mol", in_decimals(mass, 1, 3), words, u, law="rectangular")


def _equations(practical: Practical) -> Iterator[tuple[str, Equation]]:
    """Yield the equations from the known to the unknown, each with the name that its numbers have."""
    if practical.back is not None:
        yield "left", practical.equation
        yield "ratio", practical.back.equation
        return
    *before, (last, _) = practical.path
    yield from ((f"link{number}", equation) for number, (equation, _) in enumerate(before, start=1))
    yield "ratio", last


# --- names ---


def unknown_dilution(practical: Practical) -> Dilution | None:
    """Return the dilution of the unknown, if there is one."""
    return practical.file.flask.dilution if practical.unknown_in == "flask" else practical.file.burette.dilution


def where_in(series: Series, place: int) -> str:
    """Return which titre it is, in words."""
    if not series.endpoints:
        return f"in the titration “{series.names[place]}”"
    return f"from {series.names[place - 1]} to {series.names[place]}" if place else f"up to {series.names[0]}"


def part_of(practical: Practical, place: int) -> PracticalFile | Titration:
    """Return what holds burette, flask and blank of one of several titres."""
    return practical.file.titrations[place] if practical.file.titrations else practical.file


def shared_name(practical: Practical, place: int, key: str) -> str:
    """Return the name of an input of another titration: the same as of this one where they have it in common."""
    table = key.partition(".")[0]
    mine, theirs = getattr(practical.file, table), getattr(part_of(practical, place), table)
    kept = {"exclude": {"solution", "capacity", "division"}}
    same = mine is not None and theirs is not None and mine.model_dump(**kept) == theirs.model_dump(**kept)
    return key if same else f"{key}.{place + 1}"
