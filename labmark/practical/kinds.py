"""From a practical to its formula: the one place that knows how each kind of titration and each quantity is worked out.

0.750 g of eggshell in 50.0 cm³ of 1.00 mol/dm³ HCl, made up to 250 cm³; 25.0 cm³ of it take 36.40 cm³ of 0.100 mol/dm³
NaOH:

    amount of HCl added               1.00 × 50.0 ÷ 1000         = 0.0500 mol
    amount of NaOH in the mean titre  0.100 × 36.40 ÷ 1000       = 0.003640 mol
    amount of HCl left in the flask   0.003640 × 1 ÷ 1           = 0.003640 mol
    ... in all of the mixture         0.003640 × 250.0 ÷ 25.0    = 0.03640 mol
    amount of HCl that reacted        0.0500 − 0.03640           = 0.01360 mol
    amount of CaCO3 in the sample     0.01360 × 1 ÷ 2            = 0.00680 mol
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import inf, sqrt

from labmark.figures import in_figures, plain
from labmark.formula import Formula, Input, Kind, Step
from labmark.practical import glassware
from labmark.practical.back import Back
from labmark.practical.equation import Equation, Species, molar_mass, molar_mass_uncertainty, parse_formula
from labmark.practical.file import PracticalFile, Titration
from labmark.practical.glassware import Glass
from labmark.practical.model import PURITY_WITHIN, Blank, Burette, Dilution, Excess, Flask, Sample
from labmark.practical.own import BLANK_TITRE
from labmark.practical.record import Practical
from labmark.practical.several import Found, Series, other_titre

TITRE = "titre"
NET = "net"
"""Titre less the blank."""
SAVED = "saved"
"""Blank less the titre, in a back titration."""
STANDARD = "concentration of the standard"
REAGENT = "concentration of the reagent in excess"
SHARED = (STANDARD, REAGENT)
"""What all results of a class have in common, by its words in the budget."""
WATER = "H2O"
Atoms = tuple[tuple[str, Fraction], ...]


def formula_of(practical: Practical, standard_dof: float = inf) -> Formula:
    """Return the formula of a practical; `standard_dof` are the degrees of freedom of its standard's concentration."""
    steps = tuple(_steps(practical))
    taken = {name for step in steps for _, name in step.terms}
    found = {each.name: each for each in (*_measured(practical, standard_dof), *_numbers(practical))}
    return Formula(tuple(each for each in found.values() if each.name in taken), steps)


# --- steps ---


def _steps(practical: Practical) -> Iterator[Step]:
    """Yield the steps from the titre to the result."""
    steps = [*_to_quantity(practical)]
    expressed, result = practical.expressed, practical.file.result
    if result.factor is not None:
        before, name = steps[-1], f"× {result.factor_name}"
        do = f"{before.name} × result.factor"
        steps.append(Step("times factor", f"{before.what} {name}", name, do, before.unit))
    if expressed.power:
        sign, number = ("×" if expressed.power > 0 else "÷"), 10 ** abs(expressed.power)
        last, unit = steps[-1], practical.unit
        steps[-1] = replace(last, formula=f"{last.formula} {sign} {number}", do=f"{last.do} {sign} {number}", unit=unit)
    yield from steps


def _to_quantity(practical: Practical) -> Iterator[Step]:
    """Yield the steps from the titre to the quantity asked for, each from the last of those before."""
    back, expressed = practical.back, practical.expressed
    if practical.series is not None:
        steps = [*_of_several(practical, practical.series)]
        volume, place = "flask.aliquot", "flask"
    elif back is None:
        steps = [*_direct(practical)]
        volume, place = ("flask.aliquot", "flask") if practical.unknown_in == "flask" else (_net(practical), "burette")
    else:
        steps = [*_back(practical, back)]
        volume, place = ("sample.volume", "sample") if back.whole else ("flask.aliquot", "solution pipetted")
    in_flask = practical.file.flask.aliquot is None if back is None else back.whole
    if not practical.needs_sample or not in_flask:
        what = f"concentration of {practical.unknown.shown} in the {place}"
        steps.append(Step("c", what, "c = n ÷ V × 1000", f"n.unknown ÷ {volume} × 1000", "mol/dm3"))
        steps += _undiluted(practical)
    if expressed.number != 1:
        figure, unit = plain(expressed.number), "mol" if practical.needs_sample else "mol/dm3"
        what, how = f"the same as {expressed.name}", f"{figure} for one {practical.unknown.shown}"
        steps.append(Step("expressed", what, how, f"{steps[-1].name} × result.expressed_as", unit))
    yield from steps
    yield from expressed.quantity.laid_out(steps[-1].name, expressed.name)


def _undiluted(practical: Practical) -> Iterator[Step]:
    """Yield the steps from the concentration c to that before dilution, and to the amount in all of the sample."""
    unknown, sample, of = practical.unknown.shown, practical.file.sample, "c"
    if practical.file.flask.displaced is not None:
        yield from _undisplaced(unknown)
        of = "c.sample"
    if unknown_dilution(practical) is not None and practical.file.result.report_original:
        what = f"concentration of {unknown} before dilution"
        how = "c = c(diluted) × volume made up to ÷ volume taken"
        dilution = f"{practical.unknown_in}.dilution"
        yield Step("c.original", what, how, f"{of} × {dilution}.made_up_to ÷ {dilution}.taken", "mol/dm3")
        of = "c.original"
    if practical.needs_sample:
        assert sample is not None
        name = practical.expressed.name if practical.expressed.number == 1 else unknown
        what = f"amount of {name} in all of the {sample.made_up_to} cm³"
        yield Step("n.sample", what, "n = c × V ÷ 1000", f"{of} × sample.made_up_to ÷ 1000", "mol")


def _direct(practical: Practical) -> Iterator[Step]:
    """Yield the steps of a direct titration up to the amount of the unknown that was titrated."""
    known, unknown = practical.known, practical.unknown
    if practical.file.blank is not None:
        yield Step(NET, "titre less the blank", "V = V(titre) − V(blank)", f"{TITRE} − blank.titre", "cm3")
    titre = "mean titre" if practical.file.blank is None else "titre less the blank"
    volume, place = (_net(practical), titre) if practical.known_in == "burette" else ("flask.aliquot", "flask")
    what = f"amount of {known.shown} in the {place}"
    if practical.weighed_standard:
        yield _weighed(practical, what)
    else:
        yield _amount("n.known", what, f"{practical.known_in}.concentration", volume)
    place = "flask" if practical.unknown_in == "flask" else titre
    what = f"amount of {unknown.shown} in the {place}"
    before, of = "n.known", known
    *others, last = practical.path
    for number, (equation, link) in enumerate(others, start=1):
        name, made = f"n.link{number}", f"amount of {link.shown} in the flask"
        yield _by_ratio(name, made, equation, of, link, before, f"link{number}")
        before, of = name, link
    yield _by_ratio("n.unknown", what, last[0], of, unknown, before, "ratio")


def _of_several(practical: Practical, series: Series) -> Iterator[Step]:
    """Yield the steps from several titres up to the amount of the unknown in the flask.

    What the other titres account for is taken off in cm³ where the titrant and the portions are the same, as everybody
    does it, and as amounts else.
    """
    found = series.of(practical.unknown)
    places = (found.series, *series.others(practical.unknown))
    keys = ("burette.concentration", "flask.aliquot")
    alike = all(_shared(practical, place, key) == key for place in places for key in keys)
    of = yield from _Difference(practical, series, volumes=alike).steps(found)
    if alike:
        where = practical.known.shown if not found.less else f"{practical.known.shown} for {practical.unknown.shown}"
        where += "" if found.less else f" {_where(series, found.series)}"
        yield _amount("n.known", f"amount of {where}", "burette.concentration", of)
        of = "n.known"
    what = f"amount of {practical.unknown.shown} in the flask"
    yield _by_ratio("n.unknown", what, practical.equation, practical.known, practical.unknown, of, "ratio")


@dataclass(frozen=True)
class _Difference:
    """How much titrant an unknown took: a titre less what else was found with it.

    Names of steps end in `after`, so that those of one unknown are told from those of another.
    """

    practical: Practical
    series: Series
    volumes: bool
    """Reckoned in cm³ of one titrant, and not as amounts."""

    def steps(self, found: Found, after: str = "") -> Generator[Step, None, str]:
        """Yield the steps to it; return the name of what says how much it is."""
        before = yield from self.titrant(found.series, after)
        sign, unit, letter = ("volume", "cm3", "V") if self.volumes else ("amount", "mol", "n")
        titrant, unknown = self.practical.known.shown, found.unknown.shown
        for number, (of, share) in enumerate(found.less, start=1):
            own, other = f"{after}.{number}", of if isinstance(of, int) else self.series.of(of).series
            if isinstance(of, int):
                name = yield from self.titrant(of, own)
            else:
                name = yield from self.steps(self.series.of(of), own)
                share = share / self.series.of(of).titrant
            if share != 1:
                what = f"{sign} of {titrant} that the same takes {_where(self.series, found.series)}"
                yield Step(f"same{own}", what, f"{plain(share)} for one", f"{name} × link{own}", unit)
                name = f"same{own}"
            if not self.volumes and (aliquots := _aliquots(self.practical, found.series, other)) is not None:
                what = f"the same for the portion taken {_where(self.series, found.series)}"
                yield Step(f"portion{own}", what, "n × V ÷ V", f"{name} × {aliquots[0]} ÷ {aliquots[1]}", unit)
                name = f"portion{own}"
            step = f"for{after}" if number == len(found.less) else f"rest{own}"
            what, how = f"{sign} of {titrant} for {unknown}", f"{letter} = {letter}(all) − {letter}(the others)"
            yield Step(step, what, how, f"{before} − {name}", unit)
            before = step
        return before

    def titrant(self, place: int, after: str) -> Generator[Step, None, str]:
        """Yield the steps to how much titrant a titre is: the blank off it, the amount of it; return its name."""
        volume, part, where = self.series.titre(place), _part_of(self.practical, place), _where(self.series, place)
        if part.blank is not None:
            of_titre = f"{volume} − {_shared(self.practical, place, 'blank.titre')}"
            yield Step(f"net{after}", f"titre less the blank {where}", "V = V(titre) − V(blank)", of_titre, "cm3")
            volume = f"net{after}"
        if self.volumes:
            return volume
        titrant = self.practical.known if place == self.series.place else parse_formula(part.burette.solution)
        concentration = _shared(self.practical, place, "burette.concentration")
        yield _amount(f"n.known{after}", f"amount of {titrant.shown} {where}", concentration, volume)
        return f"n.known{after}"


def _where(series: Series, place: int) -> str:
    """Return which titre it is, in words."""
    if not series.endpoints:
        return f"in the titration “{series.names[place]}”"
    return f"from {series.names[place - 1]} to {series.names[place]}" if place else f"up to {series.names[0]}"


def _part_of(practical: Practical, place: int) -> PracticalFile | Titration:
    """Return what holds burette, flask and blank of one of several titres."""
    series = practical.series
    assert series is not None
    return series.titrations[place] if series.titrations else practical.file


def _shared(practical: Practical, place: int, key: str) -> str:
    """Return the name of an input of another titration: the same as of this one where they have it in common."""
    table = key.partition(".")[0]
    mine, theirs = getattr(practical.file, table), getattr(_part_of(practical, place), table)
    kept = {"exclude": {"solution", "capacity", "division"}}
    same = mine is not None and theirs is not None and mine.model_dump(**kept) == theirs.model_dump(**kept)
    return key if same else f"{key}.{place + 1}"


def _aliquots(practical: Practical, place: int, other: int) -> tuple[str, str] | None:
    """Return the names of two portions; None where they are the same."""
    mine, theirs = (_shared(practical, each, "flask.aliquot") for each in (place, other))
    same = _part_of(practical, place).flask.aliquot == _part_of(practical, other).flask.aliquot
    return None if same else (mine, theirs)


def _weighed(practical: Practical, what: str) -> Step:
    """Return the step from a standard that was weighed to its amount in the flask."""
    sample = practical.file.sample
    assert sample is not None
    how, do = "n = m ÷ M", "sample.mass ÷ known_mass"
    if sample.purity is not None:
        how, do = "n = m × purity ÷ M", "sample.mass × sample.purity ÷ known_mass"
    if sample.made_up_to is not None:
        how, do = f"{how} × volume pipetted ÷ volume made up", f"{do} × flask.aliquot ÷ sample.made_up_to"
    return Step("n.known", what, how, do, "mol")


def _back(practical: Practical, back: Back) -> Iterator[Step]:
    """Yield the steps of a back titration up to the amount of the unknown that was treated with the reagent.

    Where a blank says what all of the reagent takes, the titre that the sample saved gives what reacted at once.
    """
    reagent, titrant, excess = back.reagent, practical.known, practical.file.excess
    reacted, left = f"amount of {reagent.shown} that reacted", f"amount of {reagent.shown} left in"
    of_all, of_blank = excess is not None and excess.made_up_to is not None, practical.file.blank is not None
    if of_blank:
        yield Step(SAVED, "titre that the sample saved", "V = V(blank) − V(titre)", f"blank.titre − {TITRE}", "cm3")
        yield _amount("n.titrant", f"amount of {titrant.shown} in it", "burette.concentration", SAVED)
        in_flask, in_all = f"{reacted}, in the flask" if of_all else reacted, reacted
    else:
        yield _amount("n.added", f"amount of {reagent.shown} added", "excess.concentration", "excess.volume")
        yield _amount("n.titrant", f"amount of {titrant.shown} in the mean titre", "burette.concentration", TITRE)
        in_flask, in_all = f"{left} the flask", f"{left} all of the mixture"
    yield _by_ratio("n.left", in_flask, practical.equation, titrant, reagent, "n.titrant", "left")
    found = "n.left"
    if of_all:
        how = "n = n(flask) × volume made up to ÷ volume pipetted"
        yield Step("n.mixture", in_all, how, "n.left × excess.made_up_to ÷ flask.aliquot", "mol")
        found = "n.mixture"
    if not of_blank:
        yield Step("n.reacted", reacted, "n = n(added) − n(left)", f"n.added − {found}", "mol")
        found = "n.reacted"
    what = f"amount of {practical.unknown.shown} in the {'sample' if back.whole else 'flask'}"
    yield _by_ratio("n.unknown", what, back.equation, reagent, practical.unknown, found, "ratio")


def _net(practical: Practical) -> str:
    """Return the name of the volume of titrant that went into the sample."""
    return TITRE if practical.file.blank is None else NET


def _amount(name: str, what: str, concentration: str, volume: str) -> Step:
    return Step(name, what, "n = c × V ÷ 1000", f"{concentration} × {volume} ÷ 1000", "mol")


def _by_ratio(name: str, what: str, equation: Equation, of: Species, to: Species, amount: str, ratio: str) -> Step:
    top, bottom = plain(equation.coefficient(to)), plain(equation.coefficient(of))
    how = f"{to.shown} : {of.shown} = {top} : {bottom}"
    return Step(name, what, how, f"{amount} × {ratio}.{to.name} ÷ {ratio}.{of.name}", "mol")


def _undisplaced(unknown: str) -> Iterator[Step]:
    """Yield the steps to a sample of which reagents pushed some out of its bottle."""
    what, how = "volume of the sample in the bottle", "V = V(bottle) − V(reagents)"
    yield Step("V.sample", what, how, "displaced.bottle − displaced.reagents", "cm3")
    what, how = f"concentration of {unknown} in the sample", "c = c(bottle) × V(bottle) ÷ V"
    yield Step("c.sample", what, how, "c × displaced.bottle ÷ V.sample", "mol/dm3")


def unknown_dilution(practical: Practical) -> Dilution | None:
    """Return the dilution of the unknown, if there is one."""
    return practical.file.flask.dilution if practical.unknown_in == "flask" else practical.file.burette.dilution


# --- inputs ---


def _measured(practical: Practical, standard_dof: float) -> Iterator[Input]:
    """Yield the titre, and what was measured or made up, in the order of the budget."""
    given, back, dilution = practical.file, practical.back, unknown_dilution(practical)
    excess, law = given.excess, given.uncertainty.glassware
    yield Input(TITRE, "titre", None, "cm3", words="mean titre")
    yield from _blank(BLANK_TITRE, given.blank)
    yield from _portion("flask.aliquot", given.flask.aliquot, given.flask, law)
    side = given.burette if practical.known_in == "burette" else given.flask
    yield from _stated(f"{practical.known_in}.concentration", side, STANDARD, standard_dof)
    if excess is not None and back is not None:
        yield from _stated("excess.concentration", excess, REAGENT)
        if back.undivided:  # all of the mixture is titrated: the pipette of the flask is that of the reagent
            yield from _portion("excess.volume", excess.volume, given.flask, law)
        else:
            yield from _pipette("excess.volume", excess.volume, excess, "pipette of the reagent in excess", law)
        yield from _flask("excess.made_up_to", excess.made_up_to, excess, "volumetric flask of the mixture", law)
    if dilution is not None:
        name = f"{practical.unknown_in}.dilution"
        yield from _pipette(f"{name}.taken", dilution.taken, dilution, "pipette of the dilution", law)
        yield from _flask(f"{name}.made_up_to", dilution.made_up_to, dilution, "volumetric flask of the dilution", law)
    if given.sample is not None:
        yield from _of_weighing(given.sample, law)
    if practical.series is not None:
        yield from _of_others(practical, practical.series, law)


def _of_others(practical: Practical, series: Series, law: str) -> Iterator[Input]:
    """Yield the titres that a result rests on beside its own, and what was measured for them alone.

    A titre has no value before a student's stands there; nothing stands for it.
    """
    for place in series.others(practical.unknown):
        part, where = _part_of(practical, place), _where(series, place)
        yield Input(other_titre(place), "titre", Fraction(0), "cm3", words=f"mean titre {where}")
        own = [
            *_stated(_shared(practical, place, "burette.concentration"), part.burette, f"{STANDARD} {where}"),
            *_portion(_shared(practical, place, "flask.aliquot"), part.flask.aliquot, part.flask, law, f", {where}"),
            *_blank(_shared(practical, place, BLANK_TITRE), part.blank, f" {where}"),
        ]
        yield from (each for each in own if each.name.endswith(f".{place + 1}"))  # the others are there already


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


def _pipette(
    name: str, volume: Decimal | None, of: Flask | Excess | Dilution | Sample, words: str, law: str
) -> Iterator[Input]:
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


def _stated(name: str, side: Burette | Flask | Excess, words: str, dof: float = inf) -> Iterator[Input]:
    """Yield the concentration of a solution, which the practical states."""
    if side.concentration is not None:
        u, value = float(side.standard_uncertainty or 0), Fraction(side.concentration)
        yield Input(name, "concentration", value, "mol/dm3", f"{side.concentration}", words, u, u, dof=dof)


def _numbers(practical: Practical) -> Iterator[Input]:
    """Yield what nobody measures: formula masses, the numbers of the equations, and those of units."""
    back, given = practical.back, practical.file
    if practical.series is not None:
        yield from _links(practical, practical.series, practical.series.of(practical.unknown), "")
    yield _formula_mass("molar_mass", practical.expressed.mass, "formula mass", practical.expressed.atoms)
    if practical.weighed_standard:
        known = practical.known.atoms
        yield _formula_mass("known_mass", molar_mass(known), f"formula mass of {practical.known.shown}", known)
    water = parse_formula(WATER).atoms
    yield _formula_mass("water_mass", molar_mass(water), "formula mass of water", water)
    if back is None:
        *others, (last, _) = practical.path
        for number, (equation, _) in enumerate(others, start=1):
            yield from _of_equation(f"link{number}", equation)
        yield from _of_equation("ratio", last)
    else:
        yield from _of_equation("left", practical.equation)
        yield from _of_equation("ratio", back.equation)
    yield Input("result.expressed_as", "ratio", practical.expressed.number)
    yield from practical.expressed.quantity.inputs
    yield from _plain_numbers(given)
    yield from (Input(f"{number}", "number", Fraction(number)) for number in (2, 10, 100, 1000))


def _links(practical: Practical, series: Series, found: Found, after: str) -> Iterator[Input]:
    """Yield how much titrant what is taken off took in another titration, for one that it took there."""
    for number, (of, share) in enumerate(found.less, start=1):
        own = f"{after}.{number}"
        other = None if isinstance(of, int) else series.of(of)
        yield Input(f"link{own}", "ratio", share if other is None else share / other.titrant)
        if other is not None:
            yield from _links(practical, series, other, own)


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
    return Input(name, "molar mass", mass, "g/mol", in_figures(mass, 5), words, u, law="rectangular")


def _of_equation(name: str, equation: Equation) -> Iterator[Input]:
    for _, species in equation.terms:
        yield Input(f"{name}.{species.name}", "ratio", equation.coefficient(species))
