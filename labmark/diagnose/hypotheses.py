"""What can go wrong at the bench: the table `hypotheses.toml`, read once and checked row by row.

The table is written for a teacher to read and a chemist to argue with: what each mishap does to a titre, how large it
is and how common. Change a size or a rate there and the odds follow. All of it is common practice, no source. What is
taken for granted of good runs and of roughs stands with the arithmetic, in `bench_model.py`.

An overshoot, worked: two in a hundred accurate runs; two in three of them by 0.10 to 0.60 cm³, hardly any by more
than 1 cm³. A run 0.40 cm³ above the same student's others, where the runs of the class scatter by 0.05 cm³, is eight
standard deviations away by chance, and just what an overshoot looks like.
"""

import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple, get_args

from labmark.findings import KINDS
from labmark.places import packaged_text

TABLE = "diagnose/hypotheses.toml"

Scope = Literal["run", "student"]
Direction = Literal["", "+", "-", "+/-"]
Runs = Literal["any", "first"]
Shape = Literal[
    "as expected", "added", "proportional", "fading", "whole number", "mirrored", "digits swapped", "not refilled",
    "another sample", "ratio", "two levels", "each added", "scatter", "anywhere",
]  # fmt: skip
"""What it does to a titre; the head of the table says of each what it means."""
SIZED = ("added", "proportional", "fading", "whole number", "two levels", "each added", "scatter")
"""Shapes whose rows say how large the effect is."""
NEEDED = (
    *((name, "run") for name in (
        "overshoot", "undershoot", "misread-division", "read-upside-down", "implausible-titre",
    )),
    *((name, "student") for name in (
        "ordinary work", "always-overshoots", "always-short", "diluted-titrant", "level-change", "wrong-aliquot",
        "titrant diluted, less from run to run", "reads the scale upside down", "scattered work", "none of these",
        "initial readings taken as zero", "pipette wet with water", "flask rinsed with the solution",
        "last drop blown out of the pipette",
    )),
)  # fmt: skip
"""Rows (name, scope) that the arithmetic asks for by name."""
LEFT_OUT: dict[str, Any] = {"finding": None, "sizes": [], "runs": "any", "says": "", "beside": ""}
"""Keys that a row may leave out, and what stands for them."""
ADD_UP = 0.001
"""Rates and shares that should add up to 1 may miss it by this: they are written to three decimals."""


class BrokenTable(ValueError):
    """The table of hypotheses says something that cannot be, and where."""


class Band(NamedTuple):
    """A share of the cases, and the range of sizes over which it is spread evenly."""

    share: float
    """Fraction of the cases of this hypothesis."""
    low: float
    """Smallest size [cm³, or fraction of the titre]."""
    high: float
    """Largest size [cm³, or fraction of the titre]."""


class Hypothesis(NamedTuple):
    """One thing that may have happened at the bench."""

    name: str
    """Short name; also the key in posteriors and in evidence."""
    scope: Scope
    """Whether it happens to one run or to everything a student did."""
    finding: str | None
    """Code of the finding it is claimed as; None where titres alone never carry the claim."""
    direction: Direction
    """Which way the titre goes."""
    shape: Shape
    bands: tuple[Band, ...]
    """How large the effect is; empty where the readings themselves settle it."""
    rate: float
    """How often: of accurate runs, or of students, in a class that was taught the technique."""
    runs: Runs
    """Which accurate runs can show it."""
    looks_like: str
    """What it does to the readings, for the teacher."""
    says: str
    """The sentence about a student, with {run}, {hedge} and {away} to be filled in; "" where another row says it."""
    beside: str
    """What it is called where another finding may be this instead; "" where it is the same thing by another name."""
    tell: str
    """What to tell the student: what to do next time."""
    check: str
    """What would tell it from the others, or confirm it."""


class Table(NamedTuple):
    """The whole table, as checked."""

    hypotheses: tuple[Hypothesis, ...]
    """Every hypothesis, in the order of the table. The rest of the accurate runs went as they should."""
    pipettes: tuple[tuple[float, float], ...]
    """Pipettes of a school laboratory [cm³], and how often each is taken by mistake."""
    mirrored: tuple[tuple[str, float], ...]
    """Which reading of a run was read in the wrong direction, and how often."""
    counted_from_below: float
    """Share of wrong-way readings that also take the whole number from the mark below the meniscus: 25.30 for 24.70."""


def read_table(text: str) -> Table:
    """Return the table that a TOML text holds. Raises BrokenTable, which names the row and what is wrong with it."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BrokenTable(f"{TABLE}: {error}") from error
    _keys("the table", raw, ("hypothesis", "pipette", "mirrored", "counted_from_below"))
    rows = tuple(_hypothesis(place, row) for place, row in enumerate(raw["hypothesis"], start=1))
    _check_together(rows)
    pipettes = tuple((_number("a pipette", p, "volume"), _number("a pipette", p, "share")) for p in raw["pipette"])
    mirrored = tuple((which, _number("[mirrored]", raw["mirrored"], which)) for which in ("final", "initial", "both"))
    _add_up("shares of the pipettes", [share for _, share in pipettes])
    _add_up("shares of [mirrored]", [share for _, share in mirrored])
    return Table(rows, pipettes, mirrored, _number("[counted_from_below]", raw["counted_from_below"], "share"))


def _hypothesis(place: int, raw: Mapping[str, Any]) -> Hypothesis:
    where = f"row {place} ({raw.get('name', 'without a name')})"
    texts = ("name", "scope", "direction", "shape", "looks_like", "tell", "check")
    _keys(where, raw, (*texts, "rate"), (*LEFT_OUT,))
    raw = LEFT_OUT | {**raw}
    for key in texts:
        if not isinstance(raw[key], str) or not (raw[key] or key == "direction"):
            raise _broken(where, f"{key} has to be a text")
    for key, allowed in (("scope", Scope), ("direction", Direction), ("shape", Shape), ("runs", Runs)):
        if raw[key] not in get_args(allowed):
            raise _broken(where, f"{key} is {raw[key]!r}; it can be {', '.join(map(repr, get_args(allowed)))}")
    if raw["finding"] not in (None, *KINDS):
        raise _broken(where, f"there is no finding {raw['finding']!r}")
    others = {key: value for key, value in raw.items() if key not in ("sizes", "rate")}
    return Hypothesis(bands=_bands(where, raw), rate=_number(where, raw, "rate"), **others)


def _bands(where: str, raw: Mapping[str, Any]) -> tuple[Band, ...]:
    sizes = raw["sizes"]
    if bool(sizes) != (raw["shape"] in SIZED):
        raise _broken(where, f"the shape {raw['shape']!r} {'has no' if sizes else 'needs'} sizes")
    bands = []
    for size in sizes:
        _keys(f"{where}, sizes", size, ("share", "low", "high"))
        band = Band(*(_number(where, size, key) for key in ("share", "low", "high")))
        if band.low > band.high:
            raise _broken(where, f"a size from {band.low} to {band.high} runs backwards")
        bands.append(band)
    if bands:
        _add_up(f"{where}: shares of the sizes", [band.share for band in bands])
    return tuple(bands)


def _check_together(rows: Sequence[Hypothesis]) -> None:
    twice = [name for name, number in Counter(row.name for row in rows).items() if number > 1]
    if twice:
        raise _broken(f"rows named {twice[0]}", "a name stands once")
    there = {(row.name, row.scope) for row in rows}
    for name, scope in NEEDED:
        if (name, scope) not in there:
            raise _broken(f"the row {name!r} about a {scope}", "it is missing, and the arithmetic asks for it")
    for shape in ("whole number", "mirrored", "digits swapped", "not refilled", "another sample"):
        if sum(row.shape == shape and row.scope == "run" for row in rows) != 1:
            raise _broken(f"rows of the shape {shape!r} about a run", "there has to be exactly one")
    if sum(row.rate for row in rows if row.scope == "run") > 0.5:
        raise _broken("rates of the rows about a run", "together they are more than half of all runs")
    _add_up("rates of the rows about a student", [row.rate for row in rows if row.scope == "student"])


def _keys(where: str, raw: Mapping[str, Any], needed: Sequence[str], others: Sequence[str] = ()) -> None:
    for key in needed:
        if key not in raw:
            raise _broken(where, f"{key} is missing")
    for key in raw:
        if key not in (*needed, *others):
            raise _broken(where, f"there is no key {key!r}")


def _number(where: str, raw: Mapping[str, Any], key: str) -> float:
    value = raw.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not value > 0:
        raise _broken(where, f"{key} has to be a number above 0, and is {value!r}")
    if key in ("rate", "share") and value > 1:
        raise _broken(where, f"{key} is a fraction, and {value} is more than 1")
    return float(value)


def _add_up(what: str, shares: Sequence[float]) -> None:
    if abs(sum(shares) - 1) > ADD_UP:
        raise _broken(what, f"they add up to {sum(shares):.4f}, not to 1")


def _broken(where: str, why: str) -> BrokenTable:
    return BrokenTable(f"{TABLE}: {where}: {why}")


HYPOTHESES, PIPETTES, MIRRORED_READINGS, COUNTED_FROM_BELOW = read_table(packaged_text(TABLE))
"""What `Table` says of them."""
NEAR_SIZE = 0.05
"""So near to the volume of a pipette, as a share of it, titres fit that one."""

RUN_HYPOTHESES: tuple[Hypothesis, ...] = tuple(h for h in HYPOTHESES if h.scope == "run")
STUDENT_HYPOTHESES: tuple[Hypothesis, ...] = tuple(h for h in HYPOTHESES if h.scope == "student")
BY_NAME: dict[str, Hypothesis] = {h.name: h for h in HYPOTHESES}


def pipette_about(volume: float) -> float | None:
    """Return the pipette [cm³] that titres fit which call for `volume`; None where no size is near it."""
    usual = min((size for size, _ in PIPETTES), key=lambda size: abs(size - volume))
    return usual if abs(usual - volume) <= NEAR_SIZE * usual else None
