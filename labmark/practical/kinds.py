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

from collections.abc import Generator, Iterator
from fractions import Fraction
from math import inf
from typing import NamedTuple

from labmark.exact import plain
from labmark.formula import Formula, Step
from labmark.practical.equation import Equation, Species, parse_formula
from labmark.practical.inputs import TITRE, measured, numbers, part_of, shared_name, unknown_dilution, where_in
from labmark.practical.record import Back, Practical
from labmark.practical.several import Found, Series

NET = "net"
"""Titre less the blank."""
SAVED = "saved"
"""Blank less the titre, in a back titration."""


def formula_of(practical: Practical, standard_dof: float = inf) -> Formula:
    """Return the formula of a practical; `standard_dof` are the degrees of freedom of its standard's concentration."""
    steps = tuple(_steps(practical))
    taken = {name for step in steps for _, name in step.terms}
    found = {each.name: each for each in (*measured(practical, standard_dof), *numbers(practical))}
    return Formula(tuple(each for each in found.values() if each.name in taken), steps)


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
        steps[-1] = last._replace(formula=f"{last.formula} {sign} {number}", do=f"{last.do} {sign} {number}", unit=unit)
    yield from steps


def _to_quantity(practical: Practical) -> Iterator[Step]:
    """Yield the steps from the titre to the quantity asked for, each from the last of those before."""
    back, expressed = practical.back, practical.expressed
    if practical.series.several:
        steps = [*_of_several(practical, practical.series)]
    else:
        steps = [*(_direct(practical) if back is None else _back(practical, back))]
    in_flask = practical.file.flask.aliquot is None if back is None else back.whole
    if not practical.needs_sample or not in_flask:
        volume, place = _held_in(practical)
        what = f"concentration of {practical.unknown.shown} in the {place}"
        steps.append(Step("c", what, "c = n ÷ V × 1000", f"n.unknown ÷ {volume} × 1000", "mol/dm3"))
        steps += _undiluted(practical)
    if expressed.number != 1:
        figure, unit = plain(expressed.number), "mol" if practical.needs_sample else "mol/dm3"
        what, how = f"the same as {expressed.name}", f"{figure} for one {practical.unknown.shown}"
        steps.append(Step("expressed", what, how, f"{steps[-1].name} × result.expressed_as", unit))
    yield from steps
    yield from expressed.quantity.laid_out(steps[-1].name, expressed.name)


def _held_in(practical: Practical) -> tuple[str, str]:
    """Return the name of the volume that held that amount, and what it is called."""
    if practical.back is not None:
        return ("sample.volume", "sample") if practical.back.whole else ("flask.aliquot", "solution pipetted")
    in_burette = not practical.series.several and practical.unknown_in == "burette"
    return (_net(practical), "burette") if in_burette else ("flask.aliquot", "flask")


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
    what = f"amount of {unknown.shown} in the {'flask' if practical.unknown_in == 'flask' else titre}"
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
    alike = all(shared_name(practical, place, key) == key for place in places for key in keys)
    of = yield from _Difference(practical, series, volumes=alike).steps(found)
    if alike:
        where = practical.known.shown if not found.less else f"{practical.known.shown} for {practical.unknown.shown}"
        where += "" if found.less else f" {where_in(series, found.series)}"
        yield _amount("n.known", f"amount of {where}", "burette.concentration", of)
        of = "n.known"
    what = f"amount of {practical.unknown.shown} in the flask"
    yield _by_ratio("n.unknown", what, practical.equation, practical.known, practical.unknown, of, "ratio")


class _Difference(NamedTuple):
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
        sign, unit, letter = self.reckoned
        titrant, unknown = self.practical.known.shown, found.unknown.shown
        for number, (of, share) in enumerate(found.less, start=1):
            own = f"{after}.{number}"
            name = yield from self.taken_off(found.series, of, share, own)
            step = f"for{after}" if number == len(found.less) else f"rest{own}"
            what, how = f"{sign} of {titrant} for {unknown}", f"{letter} = {letter}(all) − {letter}(the others)"
            yield Step(step, what, how, f"{before} − {name}", unit)
            before = step
        return before

    @property
    def reckoned(self) -> tuple[str, str, str]:
        """What is reckoned with: in words, its unit and its letter."""
        return ("volume", "cm3", "V") if self.volumes else ("amount", "mol", "n")

    def taken_off(self, place: int, of: Species | int, share: Fraction, own: str) -> Generator[Step, None, str]:
        """Yield the steps to what else takes titrant at a titre, as `Found.less` has it; return its name."""
        sign, unit, _ = self.reckoned
        where = where_in(self.series, place)
        if isinstance(of, int):
            name, other = (yield from self.titrant(of, own)), of
        else:
            found = self.series.of(of)
            name, other, share = (yield from self.steps(found, own)), found.series, share / found.titrant
        if share != 1:
            what = f"{sign} of {self.practical.known.shown} that the same takes {where}"
            yield Step(f"same{own}", what, f"{plain(share)} for one", f"{name} × link{own}", unit)
            name = f"same{own}"
        if not self.volumes and (aliquots := _aliquots(self.practical, place, other)) is not None:
            what = f"the same for the portion taken {where}"
            yield Step(f"portion{own}", what, "n × V ÷ V", f"{name} × {aliquots[0]} ÷ {aliquots[1]}", unit)
            name = f"portion{own}"
        return name

    def titrant(self, place: int, after: str) -> Generator[Step, None, str]:
        """Yield the steps to how much titrant a titre is: the blank off it, the amount of it; return its name."""
        volume, part, where = self.series.titre(place), part_of(self.practical, place), where_in(self.series, place)
        if part.blank is not None:
            of_titre = f"{volume} − {shared_name(self.practical, place, 'blank.titre')}"
            yield Step(f"net{after}", f"titre less the blank {where}", "V = V(titre) − V(blank)", of_titre, "cm3")
            volume = f"net{after}"
        if self.volumes:
            return volume
        titrant = self.practical.known if place == self.series.place else parse_formula(part.burette.solution)
        concentration = shared_name(self.practical, place, "burette.concentration")
        yield _amount(f"n.known{after}", f"amount of {titrant.shown} {where}", concentration, volume)
        return f"n.known{after}"


def _aliquots(practical: Practical, place: int, other: int) -> tuple[str, str] | None:
    """Return the names of two portions; None where they are the same."""
    mine, theirs = (shared_name(practical, each, "flask.aliquot") for each in (place, other))
    same = part_of(practical, place).flask.aliquot == part_of(practical, other).flask.aliquot
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
