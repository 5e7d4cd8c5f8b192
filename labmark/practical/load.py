"""From the text of a practical file, or the rows of a `Practical` sheet, to a practical whose parts fit together.

Everything that is wrong is said at once, each with its key (or cell), what was found, what is expected and,
for an unknown key, the nearest known one.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal, get_args, get_type_hints

from pydantic import BaseModel, TypeAdapter, ValidationError

from labmark.practical.back import Back, back_titration, standard_problems, weighed_problems
from labmark.practical.equation import Equation, EquationError, Species, molar_mass, parse_chain, parse_formula
from labmark.practical.ions import IonsError, ions_of, solubility_product
from labmark.practical.model import OF_RESULTS, Band, Criterion, Excess, FromSheet, NamedResult, PracticalFile, Result
from labmark.practical.own import OWN, OwnNumber, Several, set_aside
from labmark.practical.quantities import PEROXIDE, QUANTITIES, Asked, Quantity, held_differently, numbered
from labmark.practical.rows import problems_of, rows_of
from labmark.practical.school import NONE, SHARED, School, over
from labmark.practical.several import (
    IllPosedError,
    Series,
    equations_of,
    of_endpoints,
    of_titration,
    solved,
    substance,
)
from labmark.practical.standardised import Standardised, standardised
from labmark.problems import InputError, Problem
from labmark.units import ASKED, power_between


@dataclass(frozen=True)
class Expressed:
    """What the amount of the unknown is turned into."""

    name: str
    """As it is printed."""
    formula: str
    """Without the number before it."""
    atoms: tuple[tuple[str, Fraction], ...]
    number: Fraction
    """How much of it stands for one of the unknown: 1/2 of Fe2O3 for Fe2+."""
    mass: Fraction
    """Its molar mass [g/mol]; 0 where that is not known, and not needed."""
    quantity: Quantity
    power: int = 0
    """Power of ten from the quantity's unit to the one asked for."""


@dataclass(frozen=True)
class Practical:
    """A practical whose parts fit together."""

    file: PracticalFile
    equation: Equation
    """Of the titration."""
    known: Species
    """In a back titration the titrant."""
    unknown: Species
    known_in: Literal["burette", "flask"]
    known_concentration: Fraction
    """[mol/dm³]; 0 where the known was itself weighed."""
    expressed: Expressed
    standardised: Standardised | None = None
    """What the technician's standardisation gives, where the practical has one."""
    back: Back | None = None
    """What makes it a back titration, where it is one."""
    own: Mapping[str, FromSheet] = field(default_factory=dict)
    """Key -> where a number stands that belongs to a student, a run or a group; `file` has one that stands for it."""
    parsed: PracticalFile | None = None
    """The file before what follows from it was filled in."""
    series: Series | None = None
    """Which of several titres this is about, where there are several."""
    parts: tuple[Practical, ...] = ()
    """With several titres: the practical of each result, and of each unknown that is only worked out on the way."""

    @property
    def molar_mass(self) -> Fraction:
        """Return that of the unknown as it is expressed [g/mol]; 0 where it is not known, and not needed."""
        return self.expressed.mass

    @property
    def unit(self) -> str:
        """Return the unit that the result is asked for in, as written in data."""
        return self.file.result.unit or self.expressed.quantity.unit

    @property
    def asked(self) -> Asked:
        """Return the unit that a bare number of a student is in."""
        unit = self.file.result.unit
        return self.expressed.quantity.asked if unit is None else Asked(unit, unit)

    @property
    def weighed_standard(self) -> bool:
        """Return whether the known is a standard that was weighed, rather than a solution of known concentration."""
        return not self.known_concentration

    @property
    def path(self) -> tuple[tuple[Equation, Species], ...]:
        """Return the equations from the known to the unknown, each with the species that it leads to."""
        parts, links = self.equation.parts or (self.equation,), self.equation.links
        if self.known_in == "burette":
            parts, links = parts[::-1], links[::-1]
        return tuple(zip(parts, (*links, self.unknown), strict=True))

    @property
    def needs_sample(self) -> bool:
        """Return whether the result is of the weighed sample."""
        return QUANTITIES[self.file.result.quantity].of == "sample"

    @property
    def unknown_in(self) -> Literal["burette", "flask"]:
        """Return the vessel that holds the unknown."""
        return "flask" if self.known_in == "burette" else "burette"

    @property
    def equations(self) -> tuple[Equation, ...]:
        """Return the reactions one after the other, from the sample to the titrant."""
        if self.series is not None:
            return self.series.equations
        given = (self.equation,) if self.back is None else (self.back.equation, self.equation)
        return tuple(part for equation in given for part in equation.parts or (equation,))

    @property
    def several(self) -> Several | None:
        """Return the names of endpoints, titrations and results in the class sheet; None where there is one titre."""
        if not self.parts or self.series is None:
            return None
        names = self.series.names
        return Several(
            names if self.series.endpoints else (),
            () if self.series.endpoints else names,
            {part.series.result: part.asked for part in self.parts if part.series is not None and part.series.result},
        )


def own_numbers(practical: Practical) -> tuple[OwnNumber, ...]:
    """Return the numbers that students have, or may have, of their own."""
    file = practical.file
    vessel = file.burette if practical.known_in == "burette" else file.flask
    known = f"{practical.known_in}.concentration"
    given = {
        "sample.mass": file.sample.mass if file.sample else None,
        "flask.aliquot": file.flask.aliquot,
        known: vessel.concentration,
        "blank.titre": file.blank.titre if file.blank else Decimal(0),
    }
    formulas = {known: (vessel.solution, file.result.of)}
    blanks = file.blank is not None and file.blank.runs
    return tuple(
        OwnNumber(
            key,
            kind.words,
            kind.unit or practical.unit,
            given.get(key),
            practical.own.get(key),
            *formulas.get(key, ("", "")),
            by_runs=blanks and key == "blank.titre",
        )
        for key, kind in OWN.items()
        if key in given or key in practical.own
    )


def table_of(text: str, file: str = "") -> dict[str, Any]:
    """Return what a TOML text says, numbers with the digits written. Raises InputError."""
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Problem(f"not a practical file in TOML: {error}", "look at that line", file)) from error


def practical_from_toml(text: str, file: str = "", school: School = NONE) -> Practical:
    """Return the practical that a TOML text says. Raises InputError with every problem found."""
    return practical_from_table(over(school, table_of(text, file)), file)


def school_from_toml(text: str, file: str = "") -> dict[str, Any]:
    """Return the tables of a school's file. Raises InputError with every problem found."""
    table, kinds = table_of(text, file), get_type_hints(PracticalFile, include_extras=True)
    problems = [_unshared(key, file) for key in table if key not in SHARED]
    for key in SHARED:
        try:
            if key in table:
                TypeAdapter(kinds[key]).validate_python(table[key])
        except ValidationError as error:
            problems += [problem_of({**each, "loc": (key, *each["loc"])}, file, {}) for each in error.errors()]
    if problems:
        raise InputError(problems)
    return table


def _unshared(key: str, file: str) -> Problem:
    if key in PracticalFile.model_fields:
        do = f"leave it to the practical; a school's file may hold {', '.join(SHARED)}"
        return Problem(f"key {key} belongs to one practical", do, file)
    near = difflib.get_close_matches(key, SHARED, 1, 0.0)[0]
    return Problem(f"key {key} is not known; the nearest known key is {near}", "correct or remove it", file)


def practical_from_table(table: Mapping[str, Any], file: str = "") -> Practical:
    """Return the practical that a table of keys says. Raises InputError with every problem found."""
    return _check(table, file, {})


def practical_from_rows(
    rows: Iterable[tuple[str, object, str]], file: str, sheet: str = "Practical", school: School = NONE
) -> Practical:
    """Return the practical that the (key, value, cell) rows of a `Practical` sheet say. Raises InputError."""
    made = rows_of(rows)
    if made.problems:
        raise InputError(problems_of(made, file, sheet))
    return _check(over(school, made.table), file, made.cells, sheet)


def practical_with(practical: Practical, numbers: Mapping[str, Decimal]) -> Practical:
    """Return a practical with other numbers under its keys, as those that stand for the students' own.

    Raises InputError where they do not fit together.
    """
    parsed = practical.parsed or practical.file
    table = parsed.model_dump(by_alias=True, exclude=set() if "marks" in parsed.model_fields_set else {"marks"})
    for key, number in numbers.items():
        *path, last = key.split(".")
        inner = table
        for part in path:
            inner = inner[part]
        inner[last] = number
    return _with_own(_fit_together(PracticalFile.model_validate(table), "", {}, ""), practical.own)


def _with_own(practical: Practical, own: Mapping[str, FromSheet]) -> Practical:
    return replace(practical, own=own, parts=tuple(replace(each, own=own) for each in practical.parts))


def _check(table: Mapping[str, Any], file: str, cells: Mapping[str, str], sheet: str = "") -> Practical:
    plain, aside = set_aside(table)
    own: dict[str, FromSheet] = {}
    problems: list[Problem] = []
    for key, given in aside.items():
        try:
            own[key] = FromSheet.model_validate(given)
        except ValidationError as error:
            path = tuple(key.split("."))
            found = [{**each, "loc": (*path, *each["loc"])} for each in error.errors()]
            problems += [problem_of(each, file, cells, sheet) for each in found]
    try:
        parsed = PracticalFile.model_validate(plain)
    except ValidationError as error:
        problems += [problem_of(each, file, cells, sheet) for each in error.errors()]
        raise InputError(problems) from error
    if problems:
        raise InputError(problems)
    return replace(_with_own(_fit_together(parsed, file, cells, sheet), own), parsed=parsed)


def problem_of(error: Any, file: str, cells: Mapping[str, str], sheet: str = "") -> Problem:
    """Turn one validation error into a problem that names key, what was found and what is expected."""
    key = ".".join(str(part) for part in error["loc"])
    place = cells.get(key, "") or cells.get(key.rpartition(".")[0], "")
    found, kind = error.get("input"), error["type"]
    if kind == "extra_forbidden":
        known = _known_keys(error["loc"][:-1])
        name = str(error["loc"][-1])
        near = difflib.get_close_matches(name, known, 1, 0.0)
        return Problem(
            f"key {key} is not known; the nearest known key is {near[0]}" if near else f"key {key} is not known",
            "correct or remove it",
            file,
            sheet,
            place,
        )
    if kind == "missing":
        return Problem(f"key {key} is missing", f"add it: {_expected(error['loc'])}", file, sheet, place)
    reason = re.sub(r"^(Value error|Input should be|Decimal input should be),?\s*", "", error["msg"])
    reason = _plainly(reason[:1].lower() + reason[1:])
    named = f"{key}: {reason}" if key else reason
    what = named if kind == "value_error" else f"key {key}: found {_short(found)}, expected {reason}"
    return Problem(what, "correct it", file, sheet, place)


def _plainly(reason: str) -> str:
    """Return what is expected in a teacher's words."""
    if reason.startswith("an integer, float, string or Decimal"):
        return "a number"
    # The smallest that is taken is there against a slip of the keyboard; to the teacher it is nothing.
    return re.sub(r"^greater than( 0| or equal to 1E-9)$", "more than 0", reason)


def _short(value: object) -> str:
    text = str(value) if isinstance(value, (int, Decimal)) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _model_at(loc: Sequence[object]) -> type[BaseModel]:
    """Return the model that a location of an error lies in."""
    if ".".join(map(str, loc)) in OWN:
        return FromSheet
    model: type[BaseModel] = PracticalFile
    for part in loc:
        for name, known in model.model_fields.items():
            if part in (name, known.alias):
                inner = [known.annotation, *get_args(known.annotation)]
                models = [each for each in inner if isinstance(each, type) and issubclass(each, BaseModel)]
                model = models[0] if models else model
    return model


def _known_keys(loc: Sequence[object]) -> list[str]:
    return [field.alias or name for name, field in _model_at(loc).model_fields.items()]


_EXAMPLES = {
    "title": 'title = "Strength of a drain cleaner"',
    "equation": 'equation = "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"',
    "burette": '[burette] with solution = "H2SO4" and its concentration',
    "flask": '[flask] with solution = "NaOH" and aliquot = 25.0',
    "result": '[result] with of = "NaOH"',
    "solution": 'a species of the equation, as in solution = "NaOH"',
    "aliquot": "the volume of the pipette in cm³, as in aliquot = 25.0",
    "of": 'the unknown, as in of = "NaOH"',
    "volume": "the volume added in cm³, as in volume = 50.0",
    "concentration": "in mol/dm³, as in concentration = 1.00",
}


def _expected(loc: Sequence[object]) -> str:
    return _EXAMPLES.get(str(loc[-1]), f"{loc[-1]} = ...")


def _fit_together(practical: PracticalFile, file: str, cells: Mapping[str, str], sheet: str) -> Practical:
    """Check what no single key can show: the equation, the species, which solution is the unknown."""

    def problem(key: str, what: str, do: str) -> Problem:
        return Problem(f"key {key}: {what}", do, file, sheet, cells.get(key, ""))

    if practical.endpoints or practical.titrations:
        return _several(practical, problem)
    if len(practical.results) > 1:
        what = "several results need several titres"
        raise InputError(problem("results", what, "give [[endpoints]] or [[titrations]], or one [result]"))
    try:
        given = practical.equation
        equation = parse_chain([given] if isinstance(given, str) else given, practical.through)
    except EquationError as error:
        raise InputError(problem("equation", str(error), "correct the equation")) from error
    if practical.excess is not None:
        return _back(practical, practical.excess, equation, problem)
    problems: list[Problem] = [
        problem(
            key,
            f"found {text!r}, expected a species of the equation ({', '.join(equation.names)})",
            _nearest(text, equation),
        )
        for key, text in _species_keys(practical)
        if equation.find(text) is None
    ]
    if problems:
        raise InputError(problems)
    titrant, analyte, unknown = (equation.find(text) for _, text in _species_keys(practical))
    assert titrant is not None
    assert analyte is not None
    assert unknown is not None
    practical, standard = standardised(practical, equation, unknown, problem, problems)
    if problems:
        raise InputError(problems)
    problems = _unknown_problems(practical, titrant, analyte, unknown, problem)
    problems += _no_reaction(equation, titrant, analyte, problem) or _lumped(equation, titrant, analyte, problem)
    expressed = _expressed(practical, unknown, equation, problem, problems)
    if problems or expressed is None:
        raise InputError(problems)
    known_in: Literal["burette", "flask"] = "burette" if unknown == analyte else "flask"
    concentration = (practical.burette if known_in == "burette" else practical.flask).concentration
    return Practical(
        practical,
        equation,
        titrant if known_in == "burette" else analyte,
        unknown,
        known_in,
        Fraction(concentration or 0),
        expressed,
        standard,
    )


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
    practical: PracticalFile, titrant: Species, analyte: Species, unknown: Species, problem: Any
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
    found = []
    weighed = known == "flask" and practical.sample is not None and practical.sample.mass is not None
    if getattr(practical, known).concentration is None and not weighed:
        do = "add it in mol/dm³" + (", or [sample] mass where it was weighed" if known == "flask" else "")
        found.append(problem(f"{known}.concentration", "is missing: it is the known one", do))
    if getattr(practical, other).concentration is not None:
        found.append(
            problem(
                f"{other}.concentration", f"{unknown.name} is the unknown", "leave it out, or put it in [reference]"
            )
        )
    if QUANTITIES[practical.result.quantity].of == "sample":
        found += weighed_problems(practical, problem)
    elif practical.flask.aliquot is None and not (weighed and practical.flask.concentration is None):
        found.append(problem("flask.aliquot", "is missing", f"add it: {_EXAMPLES['aliquot']}"))
    elif weighed and practical.flask.concentration is None:
        found += standard_problems(practical, problem)
    if practical.sample is not None and practical.sample.volume is not None:
        found.append(problem("sample.volume", "this is no back titration", "give flask.aliquot, or [excess]"))
    found += _division_problems(practical, problem)
    if getattr(practical, known).dilution is not None:
        found.append(
            problem(
                f"{known}.dilution", "the known solution has a dilution", "give its concentration as it was titrated"
            )
        )
    return found


def _no_reaction(equation: Equation, titrant: Species, analyte: Species, problem: Any) -> list[Problem]:
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


def _lumped(equation: Equation, titrant: Species, analyte: Species, problem: Any) -> list[Problem]:
    """Return what else of an equation the titrant reacts with: one titre cannot tell two unknowns apart."""
    others = [] if equation.parts else equation.also_used_up(titrant, analyte)
    if not others:
        return []
    names = " and ".join(each.name for each in others)
    what = f"{titrant.name} reacts with {names} as well as with {analyte.name}, whatever there is of either"
    return [problem("equation", what, "give each a reaction of its own, under [[endpoints]] or [[titrations]]")]


def _division_problems(practical: PracticalFile, problem: Any) -> list[Problem]:
    if practical.burette.division < practical.burette.capacity:
        return []
    return [problem("burette.division", "is not smaller than the capacity", "give the smallest division in cm³")]


def _back(practical: PracticalFile, excess: Excess, equation: Equation, problem: Any) -> Practical:
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
        expressed = _expressed(practical, found.unknown, found.back.equation, problem, problems)
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


def _expressed(
    practical: PracticalFile, unknown: Species, equation: Equation, problem: Any, problems: list[Problem]
) -> Expressed | None:
    """Return what the result is expressed as; None where `problems` says what is wrong."""
    result, quantity = practical.result, QUANTITIES[practical.result.quantity]
    problems += _quantity_problems(practical, unknown, problem)
    number, text = numbered(result.expressed_as) if result.expressed_as else (None, unknown.name)
    try:
        species = parse_formula(text) if result.expressed_as else unknown
    except EquationError as error:
        problems.append(problem("result.expressed_as", str(error), "give a formula such as FeSO4.7H2O"))
        return None
    if number is None and result.quantity == "value per gram" and (itself := equation.find(text)) is not None:
        number = equation.coefficient(itself) / equation.coefficient(unknown)
    other = held_differently(unknown, species) if number is None else []
    if other:
        what = f"{unknown.name} and {text} hold {other[0]} in different numbers"
        do = f'say how much of it stands for one {unknown.name}, as in expressed_as = "1/2 {text}"'
        problems.append(problem("result.expressed_as", what, do))
    if result.quantity == "solubility product":
        try:
            quantity = solubility_product(ions_of(result.ions or (), species), species)
        except IonsError as error:
            problems.append(problem("result.ions", str(error), error.do))
    mass = _mass_of(species, "molar_mass" in " ".join(step.do for step in quantity.steps), problem, problems)
    unit = quantity.unit
    power = power_between(unit, result.unit or unit)
    if power is None:
        asked = ", ".join(each for each in ASKED if power_between(unit, each) is not None) or "none"
        what = f"found {result.unit!r}, which is no unit for {result.quantity}"
        problems.append(problem("result.unit", what, f"give one of {asked}, or leave it out"))
    return Expressed(
        result.expressed_as or unknown.shown,
        text if result.expressed_as else unknown.formula,
        species.atoms,
        number or Fraction(1),
        mass,
        quantity,
        power or 0,
    )


def _mass_of(species: Species, needed: bool, problem: Any, problems: list[Problem]) -> Fraction:
    """Return a molar mass [g/mol]; 0 where it is not known, which is wrong where it is needed."""
    try:
        return molar_mass(species.atoms)
    except EquationError as error:
        if needed:
            problems.append(
                problem(
                    "result.quantity",
                    f"it needs the molar mass of {species.name}, and {error}",
                    "ask for the molar mass, or write the formula out",
                )
            )
        return Fraction(0)


def _quantity_problems(practical: PracticalFile, unknown: Species, problem: Any) -> Iterator[Problem]:
    """Yield what a quantity cannot do without."""
    result, sample = practical.result, practical.sample
    if result.quantity == "titre factor" and result.nominal is None:
        yield problem(
            "result.nominal",
            "is missing: a titre factor is the concentration over the one on the label",
            "add it in mol/dm³",
        )
    if result.quantity == "mass per item" and (sample is None or sample.items is None):
        yield problem("sample.items", "is missing: mass per item needs their number", "add it under [sample]")
    if result.quantity == "volume strength" and unknown.formula != PEROXIDE:
        yield problem(
            "result.quantity",
            f"found {unknown.name}, but a volume strength is of {PEROXIDE}",
            "ask for a concentration",
        )


# --- several titres ---


def _several(practical: PracticalFile, problem: Any) -> Practical:
    """Return a practical with several titres, and a part for each result. Raises InputError."""
    problems = [*_several_problems(practical, problem)]
    if problems:
        raise InputError(problems)
    given_scheme = "marks" in practical.model_fields_set
    practical = practical if given_scheme else _each_result_marked(practical)
    results = practical.results or (practical.result,)
    of_all = [each.of for each in results]
    given = practical.endpoints or practical.titrations
    names, key = tuple(each.name for each in given), "endpoints" if practical.endpoints else "titrations"
    try:
        lines = (
            [*of_endpoints(practical.endpoints, practical.burette, of_all)]
            if practical.endpoints
            else [of_titration(each, place, of_all) for place, each in enumerate(practical.titrations)]
        )
        found = solved(lines, names, key)
        if len(names) == 1:
            raise InputError(problem(key, "there is only one", "give [result] and equation, or two of them"))
        equations = tuple(equation for each in given for equation in equations_of(each))
    except IllPosedError as error:
        raise InputError(problem(error.key, str(error), error.do)) from error
    series = Series(
        names,
        bool(practical.endpoints),
        0,
        "",
        True,
        True,
        equations,
        found,
        tuple(tuple(line.items()) for line in lines),
        practical.titrations,
    )
    parts = tuple(_parts(practical, results, series, given_scheme, problem, problems))
    if problems:
        raise InputError(problems)
    return replace(parts[0], file=practical, parts=parts)


def _each_result_marked(practical: PracticalFile) -> PracticalFile:
    """Return a practical that gives no scheme of its own with the usual criteria for each of its results."""
    if len(practical.results) < 2:
        return practical
    marks: list[Criterion] = []
    for each in practical.marks:
        names = [result.name for result in practical.results] if each.criterion in OF_RESULTS else [""]
        marks += (each.model_copy(update={"result": name}) for name in names)
    return practical.model_copy(update={"marks": tuple(marks)})


def _several_problems(practical: PracticalFile, problem: Any) -> Iterator[Problem]:
    """Yield what does not go with several titres."""
    for key in ("excess", "standardisation"):
        if getattr(practical, key) is not None:
            yield problem(key, "does not go with several titres", "leave it out: give the concentration as it is known")
    if practical.endpoints and practical.titrations:
        yield problem("endpoints", "there are [[titrations]], too", "give one of the two")
    if practical.endpoints and practical.blank is not None:
        yield problem("blank", "does not go with several endpoints", "leave it out")
    if practical.flask.aliquot is None and (practical.titrations or practical.sample is None):
        yield problem("flask.aliquot", "is missing", f"add it: {_EXAMPLES['aliquot']}")
    for what in ("endpoints", "titrations", "results"):
        folded = [each.name.strip().casefold() for each in getattr(practical, what)]
        if len({*folded}) < len(folded):
            yield problem(what, "two have the same name", "give each a name of its own")
    dilutions = {each.flask.dilution for each in practical.titrations}
    if len(dilutions) > 1:
        yield problem("titrations", "their samples are diluted differently", "give all the same [flask] dilution")
    named = {each.name for each in practical.results}
    for place, mark in enumerate(practical.marks):
        if mark.result and mark.result not in named:
            yield problem(
                f"marks.{place}.result",
                f"found {mark.result!r}",
                f"name a result: {', '.join(named) or 'there is one'}",
            )


def _parts(
    practical: PracticalFile,
    results: Sequence[NamedResult | Result],
    series: Series,
    given_scheme: bool,
    problem: Any,
    problems: list[Problem],
) -> Iterator[Practical]:
    """Yield the practical of each result, and of each unknown that is only worked out on the way."""
    done: set[int] = set()
    asked = []
    for place, result in enumerate(results):
        key = f"results.{place}" if practical.results else "result"
        found = next((each for each in series.found if _names_it(each.unknown, result.of)), None)
        if found is None:
            names = ", ".join(each.unknown.name for each in series.found)
            problems.append(problem(f"{key}.of", f"found {result.of!r}, expected one of {names}", "name what is found"))
            continue
        asked.append(found.unknown)
        name = result.name if isinstance(result, NamedResult) else ""
        reference = result.reference if isinstance(result, NamedResult) else practical.reference
        if place == 0:
            reference = reference or practical.reference
        plain = Result.model_validate(
            {each: getattr(result, each) for each in Result.model_fields if each in result.model_fields_set}
        )
        one = replace(series, place=found.series, result=name, reads=found.series not in done)
        done.add(found.series)

        def of_this(where: str, what: str, do: str, key: str = key) -> Problem:
            return problem(re.sub(r"^result\b", key, where), what, do)  # type: ignore[no-any-return]

        part = practical.model_copy(update={"result": plain, "reference": reference})
        yield from _part(part, one, found.unknown, given_scheme, of_this, problems)
    for found in series.found:
        if found.unknown not in asked:
            one = replace(series, place=found.series, asked=False, reads=found.series not in done)
            on_the_way = Result(of=found.unknown.name)
            part = practical.model_copy(update={"result": on_the_way, "reference": None})
            yield from _part(part, one, found.unknown, given_scheme, problem, problems)


def _names_it(species: Species, text: str) -> bool:
    return Equation(((Fraction(1), species),), ()).find(text) is not None


def _part(
    practical: PracticalFile,
    series: Series,
    unknown: Species,
    given_scheme: bool,
    problem: Any,
    problems: list[Problem],
) -> Iterator[Practical]:
    """Yield the practical of one unknown, unless `problems` says what is wrong with it."""
    own = practical.titrations[series.place] if practical.titrations else None
    shared = {} if own is None else {"burette": own.burette, "flask": own.flask, "blank": own.blank}
    marks = tuple(_marks_of(practical, series, unknown, given_scheme, problem, problems))
    file = practical.model_copy(update={**shared, "results": (), "marks": marks})
    if file.burette.concentration is None:
        problems.append(problem("burette.concentration", "is missing: it is the known one", "add it in mol/dm³"))
        return
    try:
        titrant = substance(file.burette)
    except EquationError as error:
        problems.append(problem("burette.solution", str(error), "give a formula such as HCl"))
        return
    equation = Equation(((series.of(unknown).titrant, titrant), (Fraction(1), unknown)), ())
    if QUANTITIES[file.result.quantity].of == "sample":
        problems += weighed_problems(file, problem)
    expressed = _expressed(file, unknown, equation, problem, problems)
    if expressed is not None:
        known = Fraction(file.burette.concentration)
        yield Practical(file, equation, titrant, unknown, "burette", known, expressed, series=series)


def _marks_of(
    practical: PracticalFile,
    series: Series,
    unknown: Species,
    given: bool,
    problem: Any,
    problems: list[Problem],
) -> Iterator[Criterion]:
    """Yield the scheme as it stands for one result: one of several titres is judged in per cent."""
    several = bool(series.others(unknown))
    for place, mark in enumerate(practical.marks):
        if mark.criterion in OF_RESULTS and (not series.asked or mark.result not in ("", series.result)):
            continue
        if mark.by == "scheme" and mark.criterion == "accuracy" and several and mark.unit == "cm3":
            if given:
                what = f"{series.result or unknown.name} rests on several titres, so that cm³ says nothing of it"
                problems.append(problem(f"marks.{place}.unit", what, 'write unit = "percent", with bands in per cent'))
            percents = tuple(Band(within=Decimal(within), mark=Decimal(4 - within)) for within in (1, 2, 3))
            mark = mark.model_copy(update={"unit": "percent", "bands": percents})
        yield mark
