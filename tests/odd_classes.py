"""For every practical that ships with one titre: students who did it right, each in a way of their own.

Sums are written out here as on a pupil's page, in exact fractions and without labmark; what the bench gives is reckoned
back from the reference of the practical. Units are those that chemists write beside such a result. Invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction as F

Units = tuple[tuple[str, F | int], ...]

PER_CENT: Units = (
    ("{} %", 1),
    ("{}%", 1),
    ("{} % by mass", 1),
    ("{} g per 100 g", 1),
    ("{} mg/g", 10),
    ("{} g/g", F("0.01")),
)
AMOUNT: Units = (
    ("{} mmol/dm3", 1000),
    ("{} mol/L", 1),
    ("{} M", 1),
    ("{} mM", 1000),
    ("{} mol dm-3", 1),
    ("{} kmol/m3", 1),
)
GRAMS: Units = (
    *(("{} g/L", 1), ("{} mg/dm3", 1000), ("{} mg/L", 1000), ("{} ppm", 1000), ("{} g dm-3", 1), ("{} kg/m3", 1)),
    *(("{} % w/v", F("0.1")), ("{} g/100 cm3", F("0.1"))),
)
MILLIGRAMS: Units = (("{} mg/L", 1), ("{} g/dm3", F("0.001")), ("{} ppm", 1), ("{} g/m3", 1), ("{} µg/cm3", 1))
OF_ONE: Units = (("{} mg", 1), ("{} g", F("0.001")), ("{} mg per tablet", 1), ("{} mg/tablet", 1))
BY_VOLUME: Units = (
    ("{} %", 1),
    ("{} g/dm3", 10),
    ("{} g/L", 10),
    ("{} g per 100 cm3", 1),
    ("{} % w/v", 1),
    ("{} g/100 mL", 1),
)
WATERS: Units = (("x = {}", 1), ("{} H2O", 1))
MOLAR: Units = (("{} g/mol", 1), ("{} g mol-1", 1), ("Mr = {}", 1), ("{} u", 1))
VALUE: Units = (("{} mg/g", 1), ("{} mg KOH/g", 1), ("{} mg g-1", 1), ("{} g/g", F("0.001")))
VOLUMES: Units = (
    ("{} vol", 1),
    ("{} volumes", 1),
    ("{} mol/dm3", 2 / F("22.4")),
    ("{} g/dm3", F("68.028") / F("22.4")),
)
PRODUCT: Units = (("{} mol3 dm-9", 1), ("{} mol³/dm⁹", 1), ("{} M^3", 1))


@dataclass(frozen=True)
class Bench:
    """What a practical gives from a mean titre t [cm³], a mass m [g] and a molar mass M [g/mol]."""

    gives: Callable[[F, F, F], F]
    reference: str
    molar_masses: tuple[str, ...] = ("1",)
    """As tables give it, to one decimal, and to whole numbers, in any order (IUPAC abridged, from memory)."""
    units: Units = ()
    mass: str = "1"
    owner: str = ""
    """Of the mass: "student", "difference" or "run"; empty where the practical gives it or needs none."""
    highest: int = 49
    """Titres lie below [cm³]."""
    figures: int = 3
    at_least: int = 2


BENCHES = {
    "antacid-tablets": Bench(lambda t, m, M: (F("0.025") - t / 2000) / 2 * M / m * 100, "40.0", ("100.0869", "100.1", "100"), PER_CENT, "1.250", "difference"),
    "aspirin-tablets": Bench(lambda t, m, M: (F("0.025") - t / 2000) / 2 * M / 5 * 1000, "300", ("180.159", "180.2", "180"), OF_ONE),
    "bleach": Bench(lambda t, m, M: F("0.1") * t / 2 / 25 * M, "4.80", ("74.442", "74.4", "74.5"), BY_VOLUME),
    "chloride-with-blank": Bench(lambda t, m, M: (t - F("0.15")) * F("0.02") / 50 * M * 1000, "284", ("35.453", "35.5", "35.45"), MILLIGRAMS),
    "chloride-with-thiocyanate": Bench(lambda t, m, M: (F("2.5") - F("0.05") * t) / 10 * M, "5.85", ("58.443", "58.4", "58.5"), GRAMS),
    "citric-acid": Bench(lambda t, m, M: F("0.1") * t / 3 / 20 * M, "10.0", ("192.124", "192.1", "192"), GRAMS),
    "copper-in-brass": Bench(lambda t, m, M: t / 1000 * M / m * 100, "62.0", ("63.546", "63.5", "63.55"), PER_CENT, "2.400", "student"),
    "dissolved-oxygen": Bench(lambda t, m, M: F("0.005") * t / 4 / 100 * 125 / 123 * M * 1000, "8.50", ("31.9988", "32.0", "32"), MILLIGRAMS),
    "drain-cleaner": Bench(lambda t, m, M: t * F("0.004"), "0.1012", units=AMOUNT),
    "eggshells": Bench(lambda t, m, M: (F("0.05") - t / 1000) / 2 * M / F("1.5") * 100, "93.2", ("100.0869", "100.1", "100"), PER_CENT),
    "eggshells-own-masses": Bench(lambda t, m, M: (F("0.05") - t / 1000) / 2 * M / m * 100, "93.2", ("100.0869", "100.1", "100"), PER_CENT, "1.500", "student"),
    "ethanedioic-acid-crystals": Bench(lambda t, m, M: (m / (t / 2000) - M) / F("18.015"), "2.00", ("90.0349", "90.0", "90"), WATERS, "1.600", "student"),
    "household-ammonia": Bench(lambda t, m, M: (5 - F("0.1") * t) * M, "55.0", ("17.0305", "17.0", "17"), GRAMS),
    "hydrogen-peroxide": Bench(lambda t, m, M: F("0.02") * t * 5 / 2 * M / 2, "20.0", ("22.4",), VOLUMES),
    "iodine-solution": Bench(lambda t, m, M: F("0.05") * t / 2 / 20 * M, "6.28", ("253.809", "253.8", "254"), GRAMS),
    "iron-tablets": Bench(lambda t, m, M: F("0.005") * t * 5 / 100 * M / 5 * 1000, "65.0", ("55.845", "55.8", "56"), OF_ONE),
    "lime-water": Bench(lambda t, m, M: 4 * (t / 1000) ** 3, "0.0000360", units=PRODUCT),
    "limescale-remover": Bench(lambda t, m, M: F("0.1") * t / 25, "0.0964", units=AMOUNT),
    "moss-killer": Bench(lambda t, m, M: F("0.02") * t * 5 / 25 * M, "5.35", ("55.845", "55.8", "56"), GRAMS),
    "nitrogen-in-flour": Bench(lambda t, m, M: (5 - F("0.1") * t) / 1000 * M / m * 100 * F("6.25"), "11.0", ("14.0067", "14.0", "14"), PER_CENT, "1.000", "run"),
    "saponification-value": Bench(lambda t, m, M: (F("37.5") - t) * F("0.5") * M / m, "192", ("56.1056", "56.1", "56"), VALUE, "2.000", "run", 37),
    "sea-water": Bench(lambda t, m, M: F("0.05") * t / 20 * 10 * M, "34.6", ("58.443", "58.4", "58.5"), GRAMS),
    "soda-crystals-own-masses": Bench(lambda t, m, M: (m / (t / 2000) - M) / F("18.015"), "9.8", ("105.9884", "106.0", "106"), WATERS, "3.250", "student"),
    "standardise-acid-with-own-carbonate": Bench(lambda t, m, M: m * F("0.999") / M / 10 * 2 / t * 1000, "0.1020", ("105.9884", "106.0", "105.99"), AMOUNT, "1.325", "student", figures=4),
    "standardise-by-weighing": Bench(lambda t, m, M: m / M / t * 1000, "0.1004", ("204.2212", "204.22", "204.2"), AMOUNT, "0.500", "run", figures=4, at_least=3),
    "standardise-sodium-hydroxide": Bench(lambda t, m, M: 2 / t, "0.0985", units=AMOUNT, figures=4, at_least=3),
    "unknown-diprotic-acid": Bench(lambda t, m, M: m / (t / 2000), "104.1", units=MOLAR, mass="1.300", owner="student"),
    "vinegar": Bench(lambda t, m, M: F("0.1") * t / 25 * M, "5.12", ("60.052", "60.1", "60"), BY_VOLUME),
    "vitamin-c": Bench(lambda t, m, M: F("0.004") * t * 3 / 100 * M * 1000, "500", ("176.124", "176.1", "176"), OF_ONE),
    "washing-soda": Bench(lambda t, m, M: F("0.1") * t / 2 / 25 * M, "5.26", ("105.9884", "106.0", "106"), GRAMS),
    "washing-soda-crystals": Bench(lambda t, m, M: (F("3.25") / (t / 2000) - M) / F("18.015"), "9.8", ("105.9884", "106.0", "106"), WATERS),
    "water-hardness": Bench(lambda t, m, M: F("0.01") * t / 100 * M, "0.284", ("100.0869", "100.1", "100"), GRAMS),
}  # fmt: skip
"""Practical -> its sum by hand; the figures stand at the head of its file."""
RUNS = 5
FURTHEST_RUN = {"left out": "1"}
"""Student -> a run that was left out, about which something may be found."""
GIVEN_UP = "given up"


def decimal(value: F) -> Decimal:
    return Context(prec=50).divide(Decimal(value.numerator), Decimal(value.denominator))


def places(value: F, decimals: int, rule: str = ROUND_HALF_UP) -> str:
    return f"{decimal(F(value)).quantize(Decimal(1).scaleb(-decimals), rounding=rule):f}"


def to_figures(value: F, figures: int, rule: str = ROUND_HALF_UP) -> str:
    rounded = Context(prec=figures, rounding=rule).plus(decimal(F(value)))
    return f"{rounded.quantize(Decimal(1).scaleb(min(0, rounded.adjusted() - figures + 1))):f}"


def in_powers(value: F, figures: int, power: str = "{} x 10^{}") -> str:
    rounded = Context(prec=figures).plus(decimal(value))
    front = rounded.scaleb(-rounded.adjusted()).quantize(Decimal(1).scaleb(1 - figures))
    return power.format(f"{front:f}", rounded.adjusted())


def nearest(titre: F) -> F:
    return F(round(titre * 20), 20)


def expected(bench: Bench, mass: F) -> F:
    """Return the titre, to 0.05 cm³, that the reference gives with a mass, by halving."""
    low, high = F(1), F(bench.highest)
    rises = bench.gives(high, mass, F(bench.molar_masses[0])) > bench.gives(low, mass, F(bench.molar_masses[0]))
    for _ in range(20):
        middle = (low + high) / 2
        above = bench.gives(middle, mass, F(bench.molar_masses[0])) > F(bench.reference)
        low, high = (low, middle) if above == rises else (middle, high)
    return nearest(low)


@dataclass(frozen=True)
class Way:
    """How one student worked."""

    name: str
    runs: Sequence[str] = ("0", "0.05", "0")
    """Each titre less the expected one [cm³]."""
    used: str = "yyyyy"
    slots: Sequence[int] = (1, 2, 3, 4, 5)
    """Which runs of the sheet they are."""
    starts: Sequence[str] = ("0.00",) * RUNS
    final: Callable[[F, F], tuple[str, str]] = lambda start, titre: (places(start, 2), places(start + titre, 2))
    """From start and titre: both readings as they are written in the second run."""
    rough: bool = True
    mass: str = "1"
    mean: Callable[[F], str] = lambda mean: places(mean, 2)
    rounded: bool = True
    """Goes on with the mean as written."""
    molar_mass: int = 0
    by_run: bool = False
    """Works out a result of each run, and takes their mean."""
    result: Callable[[F, int], str] = to_figures
    times: F | int = 1
    written_mass: Callable[[F], str] = lambda mass: places(mass, 3)


def over_the_top(start: F, titre: F) -> tuple[str, str]:
    """A burette filled again at 50.00, and read on from the top."""
    return "40.00", places(titre - 10, 2)


def counted_on(start: F, titre: F) -> tuple[str, str]:
    return "40.00", places(titre + 40, 2)


def added_up(start: F, titre: F) -> tuple[str, str]:
    return "40.00", f"50.00 + {places(titre - 10, 2)}"


def down(start: F, titre: F) -> tuple[str, str]:
    return "50.00", places(50 - titre, 2)


def ways(bench: Bench) -> Iterator[Way]:
    """Yield the ways in which students of a practical are right."""
    yield Way("five", ("0", "0.05", "-0.05", "0", "0.05"))
    yield Way("no rough", starts=("2.35", "1.15", "0.40"), rough=False, mass="0.9", rounded=False)
    yield Way(GIVEN_UP, slots=(2, 3, 4), mass="1.1", molar_mass=1)
    yield Way("filled again", final=over_the_top, rounded=False)
    yield Way("counted on", final=counted_on)
    yield Way("added up", final=added_up)
    yield Way("left out", ("0.60", "0", "0.05", "0"), "nyyy", (1, 3, 4, 5), molar_mass=2)
    yield Way("one of two sets", ("-0.05", "0", "0.05", "0.10"), "yyyn", rounded=False)
    yield Way("in powers", result=in_powers, rounded=False)
    yield Way("with an uncertainty", result=lambda value, n: f"{to_figures(value, n)} ± {to_figures(value / 100, 1)}")
    yield Way("rounded at last", result=lambda value, n: f"{to_figures(value, n + 3)} = {to_figures(value, n)}")
    yield Way(
        "rounded in brackets",
        result=lambda value, n: f"{to_figures(value, n + 1)} ({to_figures(value, n)} to {n} s.f.)",
    )
    yield Way("run by run", by_run=True, molar_mass=1, written_mass=lambda mass: f"{places(mass, 3)} g")
    yield Way(
        "display",
        mean=lambda mean: places(mean, 6),
        rounded=False,
        written_mass=lambda mass: f"{places(mass * 1000, 0)} mg",
    )
    yield Way(
        "half to even",
        mean=lambda mean: places(mean, 2, ROUND_HALF_EVEN),
        result=lambda value, n: to_figures(value, n, ROUND_HALF_EVEN),
        rounded=False,
    )
    yield Way("to 0.05", mean=lambda mean: places(nearest(mean), 2), rounded=False)
    for place, (words, times) in enumerate(bench.units):
        yield Way(
            f"{words}",
            result=lambda value, n, words=words: words.format(to_figures(value, n)),
            times=times,
            molar_mass=place,
        )  # type: ignore[misc]


def header(bench: Bench) -> list[str]:
    own = {"student": ["Mass"], "difference": ["Mass before", "Mass after"]}.get(bench.owner, [])
    of_run = ["mass"] if bench.owner == "run" else []
    cells = [f"Rough {each}" for each in (*of_run, "initial", "final", "titre")]
    cells += [f"Run {n} {each}" for n in range(1, RUNS + 1) for each in (*of_run, "initial", "final", "titre", "used")]
    return ["Student", *own, *cells, "Mean titre", "Result"]


def row(bench: Bench, way: Way) -> list[str]:
    """Return what a student hands in, cell by cell."""
    mass = F(places(F(bench.mass) * F(way.mass if bench.owner != "run" else "1"), 3))
    titre, molar_mass = expected(bench, mass), F(bench.molar_masses[way.molar_mass % len(bench.molar_masses)])
    titres = [titre + F(each) for each in way.runs]
    # What a run weighs in gives the reference exactly, to the milligram.
    shares = bench.gives(titre, F(1), F(bench.molar_masses[0])) / F(bench.reference)
    of_run = F(places(1 / shares if bench.gives(titre, F(2), F(1)) > bench.gives(titre, F(1), F(1)) else shares, 3))
    given = of_run if bench.owner == "run" else mass
    cells = {"Student": way.name, "Mass": way.written_mass(mass), "Mass before": places(F("13.482") + mass, 3), "Mass after": "13.482"}  # fmt: skip
    if way.rough:
        cells |= {"Rough initial": "0.00", "Rough final": places(titre + F("0.6"), 2), "Rough titre": places(titre + F("0.6"), 2), "Rough mass": places(of_run, 3)}  # fmt: skip
    for place, (slot, each) in enumerate(zip(way.slots, titres, strict=False)):
        start = F(way.starts[place])
        readings = way.final(start, each) if place == 1 else (places(start, 2), places(start + each, 2))
        values = (places(of_run, 3), *readings, places(each, 2), way.used[place])
        cells |= dict(zip((f"Run {slot} {name}" for name in ("mass", "initial", "final", "titre", "used")), values, strict=True))  # fmt: skip
    if way.name == GIVEN_UP:
        cells |= {"Run 1 initial": "0.00", "Run 1 final": "tap leaked", "Run 1 used": "n"}
    good = [each for each, used in zip(titres, way.used, strict=False) if used == "y"]
    mean = sum(good, F(0)) / len(good)
    starts = good if way.by_run or bench.owner == "run" else [F(way.mean(mean)) if way.rounded else mean]
    value = sum((bench.gives(each, given, molar_mass) for each in starts), F(0)) / len(starts)
    cells |= {"Mean titre": way.mean(mean), "Result": way.result(value * way.times, bench.figures)}
    return [cells.get(name, "") for name in header(bench)]


def class_of(bench: Bench) -> list[list[str]]:
    """Return the class sheet: a header and a row a student."""
    return [header(bench), *(row(bench, way) for way in ways(bench))]
