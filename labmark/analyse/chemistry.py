"""From a titre to the result, a step at a time.

25.0 cm³ of sodium hydroxide against 0.0500 mol/dm³ sulfuric acid, 2 NaOH : 1 H2SO4, mean titre 24.35 cm³:

    amount of H2SO4 in the titre     0.0500 × 24.35 ÷ 1000 = 0.0012175 mol
    amount of NaOH in the flask      0.0012175 × 2         = 0.002435 mol
    concentration of NaOH            0.002435 ÷ 25.0 × 1000 = 0.0974 mol/dm³

Every step is exact (fractions), and is kept with its formula and numbers for printing. All steps together are
one power law, result = scale × titre^power + offset, so that a whole class is converted at once; in a back titration
(`labmark.analyse.back_titration`) blank titre − titre stands in the titre's place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from labmark.analyse import back_titration
from labmark.analyse.link import Exact, Link, amount_in_titre, evaluate
from labmark.figures import in_figures, plain
from labmark.practical.equation import molar_mass, parse_formula
from labmark.practical.load import Practical
from labmark.practical.model import Dilution
from labmark.units import shown_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Conversion:
    """result = scale × x^power + offset [x in cm³].

    x is the titre; in a back titration it is what the titre falls short of the blank titre, blank − titre, so that the
    result falls where a direct titration's would rise. A titre that is not below the blank titre gives no result.
    """

    scale: Exact
    power: int
    """1 where the result rises with x, -1 where it falls."""
    offset: Exact
    blank: Exact | None = None
    """Titre without any sample [cm³]; None for a direct titration."""

    def gives(self, titre: Exact) -> bool:
        """Return whether a titre [cm³] gives a result."""
        return titre > 0 and (self.blank is None or titre < self.blank)

    def result(self, titre: Exact) -> Exact:
        """Return the exact result of a titre [cm³] that gives one."""
        return self.scale * self._x(titre) ** self.power + self.offset

    def titre(self, result: Exact) -> Exact | None:
        """Return the titre [cm³] that gives a result; None where no titre above zero does."""
        rest = (result - self.offset) / self.scale
        if rest <= 0:
            return None
        titre = self._x(rest if self.power == 1 else 1 / rest)
        return titre if titre > 0 else None

    def results(self, titres: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return results of an array of titres [cm³]; same shape, missing stays missing."""
        import numpy as np

        x = titres if self.blank is None else float(self.blank) - titres
        with np.errstate(divide="ignore", invalid="ignore"):
            converted: NDArray[np.float64] = float(self.scale) * x ** float(self.power) + float(self.offset)
        return np.where((titres > 0) & (x > 0), converted, np.nan)

    def titres(self, results: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the titres [cm³] that give an array of results; same shape."""
        import numpy as np

        with np.errstate(divide="ignore", invalid="ignore"):
            x: NDArray[np.float64] = ((results - float(self.offset)) / float(self.scale)) ** float(self.power)
        return x if self.blank is None else float(self.blank) - x

    def sensitivity(self, titre: float) -> float:
        """Return how much the result moves for 1 cm³ of titre, in the unit of the result per cm³."""
        x, sign = (titre, 1) if self.blank is None else (float(self.blank) - titre, -1)
        return sign * float(self.scale) * self.power * x ** (self.power - 1)

    def _x(self, volume: Exact) -> Exact:
        """Return x of a titre, or the titre of an x: the same either way."""
        return volume if self.blank is None else self.blank - volume


def chain(practical: Practical) -> tuple[Link, ...]:
    """Return the steps from a mean titre [cm³] to the result of a practical."""
    back = practical.back
    if back is None:
        return (*_to_concentration(practical), *_dilution_links(practical), *_to_quantity(practical))
    amount = back_titration.to_amount(practical, back)
    if back.whole and practical.needs_sample:
        return (*amount, *_of_amount(practical))
    concentration = back_titration.to_concentration(practical, back)
    return (*amount, concentration, *_dilution_links(practical), *_to_quantity(practical))


def conversion(practical: Practical) -> Conversion:
    """Return the steps of a practical as one power law."""
    links, blank = chain(practical), practical.blank_titre
    rises = (practical.known_in == "burette") != (practical.file.result.quantity in _FALLING)
    power = 1 if rises else -1
    # Two points of the power law, the second at twice the x of the first.
    first, second = (Exact(1), Exact(2)) if blank is None else (blank / 2, Exact(0))
    one, two = evaluate(links, first), evaluate(links, second)
    scale = (two - one) / (Exact(2) ** power - 1) / first**power
    return Conversion(scale, power, one - scale * first**power, blank)


@dataclass(frozen=True)
class Step:
    """One step of a student's working, ready for printing."""

    what: str
    formula: str
    numbers: str
    value: float
    unit: str
    shown: str


def steps(links: Sequence[Link], figures: int, titre: Decimal) -> tuple[Step, ...]:
    """Return the working for a mean titre [cm³], to so many significant figures.

    Values are exact; on the way they are shown to two figures more than asked for.
    """
    volume = f"{titre:f}"
    value, before, made = Fraction(titre), volume, []
    for place, link in enumerate(links, start=1):
        value = link.apply(value, Fraction(titre))
        text = in_figures(value, figures + 2 * (place < len(links)))
        made.append(
            Step(
                link.what,
                link.formula,
                link.numbers(before, volume),
                float(value),
                link.unit,
                f"{text} {shown_unit(link.unit)}".strip(),
            )
        )
        before = text
    return tuple(made)


_FALLING = ("molar mass", "water of crystallisation")
_WATER = "H2O"


def _to_concentration(practical: Practical) -> tuple[Link, ...]:
    """Return the steps from the titre to the concentration of the unknown as it was titrated."""
    known, unknown = practical.known.shown, practical.unknown.shown
    aliquot, concentration = Fraction(practical.file.flask.aliquot), practical.known_concentration
    strength = (practical.file.burette if practical.known_in == "burette" else practical.file.flask).concentration
    pipette = f"{practical.file.flask.aliquot} cm³"
    ratio = _ratio_link(practical)
    if practical.known_in == "burette":
        return (
            amount_in_titre(known, strength, concentration),
            ratio,
            Link(
                f"concentration of {unknown} in the flask",
                "c = n ÷ V × 1000",
                lambda amount, _: f"{amount} mol ÷ {pipette} × 1000",
                lambda amount, _: amount / aliquot * 1000,
                "mol/dm3",
            ),
        )
    return (
        Link(
            f"amount of {known} in the flask",
            "n = c × V ÷ 1000",
            lambda *_: f"{strength} mol/dm³ × {pipette} ÷ 1000",
            lambda *_: concentration * aliquot / 1000,
            "mol",
        ),
        ratio,
        Link(
            f"concentration of {unknown} in the burette",
            "c = n ÷ V × 1000",
            lambda amount, titre: f"{amount} mol ÷ {titre} cm³ × 1000",
            lambda amount, titre: amount / titre * 1000,
            "mol/dm3",
        ),
    )


def _ratio_link(practical: Practical) -> Link:
    number_known = plain(practical.equation.coefficient(practical.known))
    number_unknown = plain(practical.equation.coefficient(practical.unknown))
    ratio, vessel = practical.ratio, practical.unknown_in
    place = "in the flask" if vessel == "flask" else "in the mean titre"
    return Link(
        f"amount of {practical.unknown.shown} {place}",
        f"{practical.unknown.shown} : {practical.known.shown} = {number_unknown} : {number_known}",
        lambda amount, _: f"{amount} mol × {number_unknown} ÷ {number_known}",
        lambda amount, _: amount * ratio,
        "mol",
    )


def _dilution_links(practical: Practical) -> tuple[Link, ...]:
    dilution = unknown_dilution(practical)
    if dilution is None or not practical.file.result.report_original:
        return ()
    factor = Fraction(dilution.made_up_to) / Fraction(dilution.taken)
    return (
        Link(
            f"concentration of {practical.unknown.shown} before dilution",
            "c = c(diluted) × volume made up to ÷ volume taken",
            lambda concentration, _: f"{concentration} mol/dm³ × {dilution.made_up_to} cm³ ÷ {dilution.taken} cm³",
            lambda concentration, _: concentration * factor,
            "mol/dm3",
        ),
    )


def unknown_dilution(practical: Practical) -> Dilution | None:
    """Return the dilution of the unknown, if there is one."""
    return practical.file.flask.dilution if practical.unknown_in == "flask" else practical.file.burette.dilution


def _to_quantity(practical: Practical) -> tuple[Link, ...]:
    """Return the steps from the concentration to the quantity that is asked for."""
    quantity = practical.file.result.quantity
    mass, name = practical.molar_mass, practical.file.result.expressed_as or practical.unknown.shown
    mass_text = _mass_text(mass)
    if quantity == "amount concentration":
        return ()
    if quantity == "mass concentration":
        return (
            Link(
                f"mass concentration of {name}",
                "ρ = c × M",
                lambda c, _: f"{c} mol/dm³ × {mass_text}",
                lambda c, _: c * mass,
                "g/dm3",
            ),
        )
    if quantity == "percent mass by volume":
        return (
            Link(
                f"mass of {name} in 100 cm³",
                "per cent (mass by volume) = c × M ÷ 10",
                lambda c, _: f"{c} mol/dm³ × {mass_text} ÷ 10",
                lambda c, _: c * mass / 10,
                "%",
            ),
        )
    return _of_sample(practical, name)


def _mass_text(mass: Exact) -> str:
    return f"{in_figures(mass, 5)} g/mol"


def _of_sample(practical: Practical, name: str) -> tuple[Link, ...]:
    """Return the steps from the concentration to a quantity of the weighed sample."""
    sample = practical.file.sample
    assert sample is not None
    assert sample.made_up_to is not None
    volume = Fraction(sample.made_up_to)
    amount = Link(
        f"amount of {name} in all of the {sample.made_up_to} cm³",
        "n = c × V ÷ 1000",
        lambda c, _: f"{c} mol/dm³ × {sample.made_up_to} cm³ ÷ 1000",
        lambda c, _: c * volume / 1000,
        "mol",
    )
    return (amount, *_of_amount(practical))


def _of_amount(practical: Practical) -> tuple[Link, ...]:
    """Return the steps from the amount in the weighed sample to the quantity that is asked for."""
    sample, mass = practical.file.sample, practical.molar_mass
    assert sample is not None
    assert sample.mass is not None
    weighed, mass_text = Fraction(sample.mass), _mass_text(mass)
    name = practical.file.result.expressed_as or practical.unknown.shown
    as_mass = Link(f"mass of {name}", "m = n × M", lambda n, _: f"{n} mol × {mass_text}", lambda n, _: n * mass, "g")
    percent = Link(
        f"per cent by mass of {name}",
        "mass of it ÷ mass weighed × 100",
        lambda m, _: f"{m} g ÷ {sample.mass} g × 100",
        lambda m, _: m / weighed * 100,
        "%",
    )
    molar = Link(
        "molar mass", "M = m ÷ n", lambda n, _: f"{sample.mass} g ÷ {n} mol", lambda n, _: weighed / n, "g/mol"
    )
    water_mass = molar_mass(parse_formula(_WATER).atoms)
    water = Link(
        "water of crystallisation",
        f"x = (M − M({name})) ÷ M(H₂O)",
        lambda m, _: f"({m} − {in_figures(mass, 5)}) ÷ {in_figures(water_mass, 5)}",
        lambda m, _: (m - mass) / water_mass,
        "",
    )
    return {
        "mass": (as_mass,),
        "percent by mass": (as_mass, percent),
        "molar mass": (molar,),
        "water of crystallisation": (molar, water),
    }[practical.file.result.quantity]
