"""Several titres: which unknown each endpoint or titration finds, and in which order they follow from one another.

Sodium hydroxide with sodium carbonate, hydrochloric acid to phenolphthalein and on to methyl orange:

    phenolphthalein   OH⁻ + H⁺ -> H2O, CO3²⁻ + H⁺ -> HCO3⁻    finds 1 OH⁻ and 1 CO3²⁻
    methyl orange     HCO3⁻ + H⁺ -> H2O + CO2                 finds 1 CO3²⁻, as the hydrogencarbonate comes of it

So the carbonate follows from the second titre, and the hydroxide from the first less what the carbonate took.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import partial
from itertools import product
from typing import NamedTuple

from labmark.dataclass import dataclass
from labmark.practical.brought import brought_by
from labmark.practical.equation import PLENTY, Equation, EquationError, Species, parse_chain, parse_equation
from labmark.practical.file import Endpoint, Titration
from labmark.practical.mistakes import Mistakes
from labmark.practical.model import Burette
from labmark.problems import InputError
from labmark.words import counted


class Found(NamedTuple):
    """An unknown, and the titre that it follows from."""

    unknown: Species
    series: int
    """Place of the endpoint or titration."""
    titrant: Fraction
    """Amount of titrant that one of it takes there."""
    less: tuple[tuple[Species | int, Fraction], ...] = ()
    """What else takes titrant there and is taken off first: so much titrant for one of another unknown; or, of the
    titrant of another series, so much for one."""


@dataclass(frozen=True)
class Series:
    """One of several titres of a practical, and the unknown that is worked out from it."""

    names: tuple[str, ...]
    """Of all endpoints or titrations."""
    endpoints: bool
    """They are endpoints of one run."""
    place: int
    """Of this one."""
    result: str
    """Name of the result that it is about; empty where there is one."""
    asked: bool
    """The result is asked for; it is only worked out on the way where not."""
    reads: bool
    """What is to be said of its readings is said here, and not with another result of the same titre."""
    found: tuple[Found, ...]
    """All unknowns, in the order in which they follow from one another."""
    lines: tuple[tuple[tuple[Species, Fraction], ...], ...] = ()
    """What each titre finds: unknown, amount of titrant that one of it takes."""
    formulas: tuple[str, ...] = ()
    """What the results are given as: one may be taken for another."""

    @property
    def name(self) -> str:
        """Return the name of this endpoint or titration."""
        return self.names[self.place]

    @property
    def several(self) -> bool:
        """Return whether there are others beside it."""
        return len(self.names) > 1

    def titre(self, place: int) -> str:
        """Return the name of a titre as an input of the formula: this one's, or another's."""
        return "titre" if place == self.place else other_titre(place)

    def of(self, unknown: Species) -> Found:
        """Return how an unknown is found."""
        return next(each for each in self.found if each.unknown == unknown)

    def others(self, unknown: Species) -> tuple[int, ...]:
        """Return the places of the other titres that an unknown rests on."""
        if not self.several:
            return ()
        found = self.of(unknown)
        places = {place for of, _ in found.less for place in ((of,) if isinstance(of, int) else self._all(of))}
        return tuple(sorted(places - {found.series}))

    def _all(self, unknown: Species) -> tuple[int, ...]:
        return (self.of(unknown).series, *self.others(unknown))


ONLY = Series(("",), False, 0, "", True, True, ())
"""The one titre of a practical that has one."""


def other_titre(place: int) -> str:
    """Return the name of a titre, by its place, in the formula of a result that has another one of its own."""
    return f"titre.{place + 1}"


Refuse = Callable[[str, str], InputError]
"""(what is wrong with a key, what to do) -> the error."""
Uses = dict[Species, Fraction]
"""Unknown -> amount of titrant that one of it takes."""


def of_endpoints(
    endpoints: Sequence[Endpoint], burette: Burette, asked: Sequence[str], wrong: Mistakes
) -> Iterator[Uses]:
    """Yield what each endpoint finds. Raises InputError.

    `asked` are the species of the results. What an earlier endpoint made is no unknown of its own, unless it is asked.
    """
    made: dict[Species, Uses] = {}
    for place, endpoint in enumerate(endpoints, 1):
        refuse = partial(wrong.fatal, f"endpoints.{place}.equations")
        yield _used([_equation(text, refuse) for text in endpoint.equations], burette, asked, made, refuse)


def of_titration(titration: Titration, place: int, asked: Sequence[str], wrong: Mistakes) -> Uses:
    """Return what a titration finds. Raises InputError."""
    refuse = partial(wrong.fatal, f"titrations.{place}.{'equations' if titration.equations else 'equation'}")
    counted = [*asked, *titration.count]
    if titration.equations:
        found = _used([_equation(text, refuse) for text in titration.equations], titration.burette, counted, {}, refuse)
    else:
        found = _of_chain(titration, counted, refuse)
    if titration.count:
        named = [next((each for each in found if each.is_named(text)), text) for text in titration.count]
        missing = [each for each in named if isinstance(each, str)]
        more = [each.name for each in found if each not in named]
        if missing or more:
            what = f"{', '.join(missing)} is not found by the equations"
            what = what if missing else f"{', '.join(more)} is found too"
            raise wrong.fatal(f"titrations.{place}.count", what, f"the equations find {_names(found)}")
    return found


def equations_of(given: Endpoint | Titration) -> tuple[Equation, ...]:
    """Return the equations of an endpoint or a titration. Raises EquationError."""
    if given.equations:
        return tuple(map(parse_equation, given.equations))
    assert isinstance(given, Titration)
    chain = parse_chain(given.equation, given.through)
    return chain.parts or (chain,)


def solved(lines: Sequence[Uses], names: Sequence[str], refuse: Refuse) -> tuple[Found, ...]:
    """Return the unknowns in the order in which they follow from the titres. Raises InputError.

    `lines` are what each titre finds; `names` are theirs.
    """
    unknowns = tuple(dict.fromkeys(each for line in lines for each in line))
    if len(unknowns) != len(lines):
        many = f"{counted(len(unknowns), 'unknown')} ({_names(unknowns)})"
        what = f"{many} and {counted(len(lines), 'titre')} ({', '.join(names)})"
        raise refuse(what, "there must be as many unknowns as titres: look at the equations, and at [[results]]")
    left: list[_Line] = [_Line(place, dict(line), []) for place, line in enumerate(lines)]
    found: list[Found] = []
    while left:
        line = _of_one_unknown(left)
        if line is None:
            what = f"{_names(unknowns)} cannot be told apart by {', '.join(names)}"
            raise refuse(what, "they find the same; look at the equations")
        (unknown, titrant), *_ = line.uses.items()
        found.append(Found(unknown, line.series, titrant, tuple(line.less)))
        left.remove(line)
        _take_off(unknown, left, names, refuse)
    return tuple(found)


@dataclass()
class _Line:
    """What a titre still finds, and what is taken off it before."""

    series: int
    uses: Uses
    less: list[tuple[Species | int, Fraction]]


def _of_one_unknown(left: Sequence[_Line]) -> _Line | None:
    """Return a titre that finds one unknown alone, if need be once titres are taken off others; None without any."""
    while (line := next((each for each in left if len(each.uses) == 1), None)) is None and _combined(left):
        pass
    return line


def _take_off(unknown: Species, left: Sequence[_Line], names: Sequence[str], refuse: Refuse) -> None:
    """Take an unknown that is found off what the other titres find; raises InputError where one finds nothing else."""
    for line in left:
        if unknown in line.uses:
            line.less.append((unknown, line.uses.pop(unknown)))
        if not line.uses:
            what = f"{names[line.series]} finds nothing that is not known"
            raise refuse(what, "every endpoint or titration finds one unknown more; look at the equations")


def _combined(left: Sequence[_Line]) -> bool:
    """Take a multiple of one titre off another so that an unknown drops out; return whether that was possible."""
    for one, other in product(left, repeat=2):
        if one is other or other.less:
            continue
        for unknown in one.uses.keys() & other.uses.keys():
            share = one.uses[unknown] / other.uses[unknown]
            rest = {
                each: one.uses.get(each, Fraction(0)) - share * other.uses.get(each, Fraction(0))
                for each in {**one.uses, **other.uses}
            }
            rest = {each: number for each, number in rest.items() if number}
            if rest and all(number > 0 for number in rest.values()) and len(rest) < len(one.uses):
                one.uses = rest
                one.less.append((other.series, share))
                return True
    return False


def _used(
    equations: Sequence[Equation], burette: Burette, asked: Sequence[str], made: dict[Species, Uses], refuse: Refuse
) -> Uses:
    """Return what equations side by side find, and add what they make to `made`."""
    ion, brings = _brought(burette, equations, refuse)
    found: Uses = {}
    for equation in equations:
        species = _flask_species(equation, ion, asked, made, refuse)
        number = equation.coefficient(species)
        there = dict(made.pop(species, {}))
        if not there or any(species.is_named(text) for text in asked):
            there[species] = there.get(species, Fraction(0)) + 1
        for unknown, amount in there.items():
            found[unknown] = found.get(unknown, Fraction(0)) + amount * equation.coefficient(ion) / number / brings
            for times, product_ in equation.right:
                uses = made.setdefault(product_, {})
                uses[unknown] = uses.get(unknown, Fraction(0)) + amount * times / number
    return found


def _flask_species(
    equation: Equation, ion: Species, asked: Sequence[str], made: Mapping[Species, Uses], refuse: Refuse
) -> Species:
    """Return the species of the sample that an equation uses up."""
    there = [each for _, each in equation.left if each != ion and equation.used_up(each) > 0]
    if len(there) > 1:
        named = [each for each in there if each in made or any(each.is_named(text) for text in asked)]
        there = named or [each for each in there if each.name not in PLENTY]
    if len(there) == 1:
        return there[0]
    which = f"any of {_names(there)} may be" if there else "nothing of the sample is"
    do = "correct it, or name the unknown as `of` of a result"
    raise refuse(f"{which} what {equation.shown} uses up", do)


def _of_chain(titration: Titration, counted: Sequence[str], refuse: Refuse) -> Uses:
    """Return what a chain of reactions finds: what stands on the left of the first of them."""
    try:
        chain = parse_chain(titration.equation, titration.through)
    except EquationError as error:
        raise refuse(str(error), "correct the equation") from error
    first, last = (chain.parts or (chain,))[0], (chain.parts or (chain,))[-1]
    ion, brings = _brought(titration.burette, [last], refuse)
    species = _flask_species(first, ion, counted, {}, refuse)
    return {species: chain.coefficient(ion) / chain.coefficient(species) / brings}


def _brought(burette: Burette, equations: Sequence[Equation], refuse: Refuse) -> tuple[Species, Fraction]:
    """Return the species of the equations that the titrant brings, and how much of it one of the titrant brings.

    2 H⁺ of one H2SO4. Raises InputError where that is not plain.
    """
    first = equations[0]
    found = brought_by(first, burette.solution, burette.gives, [each for _, each in first.left])
    everywhere = [pair for pair in found if all(equation.find(pair[0].name) for equation in equations)]
    if len(everywhere) == 1:
        return everywhere[0]
    where = ", ".join(each.shown for each in equations)
    what = f"{burette.gives or burette.solution} brings no species that stands in all of {where}"
    do = 'correct the equations, or say what it brings, as in gives = "2 H^+" under [burette]'
    raise refuse(what, do)


def _equation(text: str, refuse: Refuse) -> Equation:
    try:
        return parse_equation(text)
    except EquationError as error:
        raise refuse(f"{text!r} {error}", "correct the equation") from error


def _names(species: Sequence[Species] | Mapping[Species, Fraction]) -> str:
    return ", ".join(each.name for each in species)
