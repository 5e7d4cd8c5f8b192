"""One student as plain facts: what was recorded, what it gives, what was claimed.

Everything later (findings, marks, sheets) rests on these. Volumes are µL unless said otherwise.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any, Literal, NamedTuple, Self

from labmark.dataclass import dataclass, field, replace
from labmark.exact import PER_CM3, as_written, fraction, in_digits, shown
from labmark.formula import Input
from labmark.units import shown_unit
from labmark.words import YOUR, either, listed

SAME_MEAN = Fraction(3, 100)
"""Further apart [cm³] two means are not one, differently rounded."""
Places = tuple[int, ...]
"""Places of runs in a student's `runs`."""


class OwnValue(NamedTuple):
    """A number that a student or a run owns, or one of several means or results, as it was written."""

    value: Decimal | None
    """In the unit of its key (g, cm³, mol/dm³) or of the result; None where the cells hold no number."""
    decimals: int | None = None
    """Decimals written; None where that cannot be known."""
    cells: tuple[str, ...] = ()
    odd: str = ""
    """Text of a cell that holds no number."""
    whole: Decimal | None = None
    """The larger weighing, where it is a difference of two."""
    unit: str = ""
    """Of a result, as `own_result_unit` of a student."""
    was: Decimal | None = None
    """What the cells hold, where the teacher has said what it really was."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a student, or one endpoint of it, by itself.

    With several endpoints a run is one for each, in their order, with the same label and the same tick: `initial` is
    the reading before (the initial one, or that of the endpoint before), `final` the one at the endpoint.
    """

    label: str
    """"Rough", "1", "2", ...; with several titrations it begins with their name: "total 1", "total rough"."""
    rough: bool
    series: str = ""
    """Endpoint or titration that it is of, as in the practical; empty where there is one only."""
    initial: int | None = None
    """Reading as recorded [µL]."""
    final: int | None = None
    initial_decimals: int | None = None
    """Decimals written; None where that cannot be known."""
    final_decimals: int | None = None
    titre: int | None = None
    """What the readings give [µL]."""
    written: int | None = None
    """Own titre as written [µL]."""
    written_decimals: int | None = None
    net: int = 0
    """What `written` has more than was written, where the student took the blank off the titres [µL]."""
    parts: tuple[tuple[int, int], ...] = ()
    """(initial, final) [µL] of each part of a run whose burette was refilled."""
    ticked: bool | None = None
    """The student's tick; None where the sheet has no tick for this run."""
    struck: bool = False
    """Struck out by the student: a discard."""
    reversed: bool = False
    disordered: str = ""
    """Readings of several endpoints that do not increase ("0.00, 23.75, 20.10"), so that the run is not used."""
    off_scale: bool = False
    missing: bool = False
    usable: bool = False
    """Accurate, and with a titre that can be used."""
    in_mean: bool = False
    """Belongs to the set behind the mean."""
    decided: bool | None = None
    """The teacher takes it into the mean (True), or leaves it out (False); None where nothing was decided."""
    as_written: int | None = None
    """Titre of the readings as they were written [µL], where the teacher has corrected one."""
    result: Fraction | None = None
    """What the run gives with its own numbers, where results must agree rather than titres."""
    expected: Fraction | None = None
    """Titre that the reference gives with the numbers of this run [cm³], where it has any of its own."""
    turned: Fraction | None = None
    """Titre that would have given this result with the mean of their own numbers [cm³]."""
    own_result: Decimal | None = None
    """Own result of the run as written."""
    own_result_decimals: int | None = None
    inputs: Mapping[str, OwnValue] = field(default_factory=dict)
    """Numbers that the run owns, by the practical's keys."""
    cells: Mapping[str, str] = field(default_factory=dict)
    """{"initial": "Results!C2", "final": ..., "titre": ..., "used": ...}: filled cells only."""
    odd: Mapping[str, str] = field(default_factory=dict)
    """{"initial": "24.o", ...}: text of the cells that hold no usable number."""
    why: Mapping[str, str] = field(default_factory=dict)
    """What is wrong with an odd cell, where that is known: "has the letter o where a digit should be"."""
    spoilt: tuple[str, ...] = ()
    """Names of the cells (initial, final, titre, used) that the spreadsheet spoilt, not the student: they hold a
    formula that was never calculated, an error value or a date that was a number, and `odd` says which."""
    zero: bool = False
    """Counted 0 rather than called the rough."""

    @property
    def own_titre(self) -> int | None:
        """Return the titre that the student went on with: the written one, else what the readings give [µL]."""
        return self.titre if self.written is None else self.written

    def reading(self, which: str) -> Decimal | None:
        """Return a reading [cm³], or the written titre, with the digits that were written; None where there is none."""
        value = getattr(self, which)
        return None if value is None else shown(value, getattr(self, f"{which}_decimals"))

    def at(self, *what: str) -> tuple[str, ...]:
        """Return the addresses of the cells that hold `what`, those that are filled."""
        cells = self.cells
        return tuple([cells[each] for each in what if each in cells])


class Owned(NamedTuple):
    """A number of the student's own, of one run or of the group."""

    input: Input
    run: str | None = None
    """Label of the run that owns it."""


class Agreement(NamedTuple):
    """How closely results agree, in per cent of their mean."""

    spread: Fraction
    """Largest minus smallest of the set behind the mean."""
    tightest: Fraction | None
    """The same of the closest so many runs as must agree; None where there are fewer."""
    limit: Decimal


@dataclass(frozen=True, slots=True)
class Student:
    """One student of a class."""

    number: int
    """Place in the class, from 1."""
    name: str
    """Name, code or number as written."""
    runs: tuple[Run, ...]
    """In the order of the sheet."""
    blanks: tuple[Run, ...] = ()
    """Runs of the student's own that give the blank; they are no runs of the sample."""
    groups: Mapping[str, str] = field(default_factory=dict)
    """{"Bench": "3"}"""
    about: Mapping[str, str] = field(default_factory=dict)
    """ID, Email, Class, Attempt and Partner, those given."""
    absent: bool = False
    """Nothing but a name, or marked as absent."""
    counts_down: bool = False
    concordant: bool = False
    mean: Fraction | None = None
    """Mean titre of the set behind it [cm³]."""
    span: int | None = None
    """Largest minus smallest of that set [µL]."""
    tightest: int | None = None
    """Span of the closest `at_least` runs [µL]; None where there are fewer."""
    sets: tuple[Places, ...] = ()
    """Places (in `runs`) of every largest concordant set, the one behind the mean first."""
    fair: tuple[Places, ...] = ()
    """Places of the sets that a mean may be of: the largest that agree, by readings or own titres, the one behind the
    mean first; where none agree, the closest."""
    own_mean: Decimal | None = None
    """[cm³]"""
    own_mean_decimals: int | None = None
    own_result: Decimal | None = None
    own_result_decimals: int | None = None
    own_result_unit: str = ""
    """Unit of the written result where it is another quantity than was asked for, in plain units: "mol/dm3", "g/dm3",
    "%", "g/mol", "g", "mol" or "mol/g" (4050 mg/L is 4.050 g/dm3); else empty."""
    inputs: Mapping[str, OwnValue] = field(default_factory=dict)
    """Numbers that the student owns, by the practical's keys."""
    several_means: Mapping[str, OwnValue] = field(default_factory=dict)
    """Own means by endpoint or titration, where there are several."""
    several_results: Mapping[str, OwnValue] = field(default_factory=dict)
    """Own results by name, where there are several."""
    expected_titre: Fraction | None = None
    """Titre that the student's reference would give [cm³]."""
    cells: Mapping[str, str] = field(default_factory=dict)
    odd: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    """Remarks for the teacher (comments, a second attempt, ...)."""
    order: int | None = None
    """Place in the order of work, where the sheet tells it."""
    owned: tuple[Owned, ...] = ()
    net: Decimal = Decimal(0)
    """What `own_mean` has more than was written, where the student took the blank off the titres [cm³]."""
    saved: Decimal | None = None
    """The mean as written, where it is what the sample saved in a back titration (the blank less the mean titre), or
    that of a later endpoint counted from the initial reading."""
    from_start: Fraction | None = None
    """Mean titre of a later endpoint counted from the initial reading [cm³]; None at the first, or the only one."""
    elsewhere: tuple[tuple[str, Fraction], ...] = ()
    """Name and mean [cm³] of each other titre of the student's, where there are several."""
    ticks_shared: bool = False
    """A tick stands for the titres of a run at several endpoints, some of which may not be in their means."""
    agreement: Agreement | None = None
    """How closely the results behind the mean agree, where results must; None where titres must."""

    @property
    def accurate(self) -> tuple[Run, ...]:
        """Return the runs that were not the rough."""
        return tuple(run for run in self.runs if not run.rough)

    @property
    def usable(self) -> tuple[Run, ...]:
        """Return the accurate runs whose titre can be used."""
        return tuple([run for run in self.runs if run.usable])

    @property
    def decided(self) -> bool:
        """Return whether the teacher decided about any run."""
        return any(run.decided is not None for run in self.runs)

    @property
    def closest(self) -> Places:
        """Return the places of the runs behind the mean: the concordant set, or the two closest where none agree."""
        return tuple([place for place, run in enumerate(self.runs) if run.in_mean])

    def mean_named(self, mean: Fraction | None = None) -> str:
        """Return what a sentence calls a mean titre [cm³], that of the runs behind it where none is given.

        It is the student's mean titre where they wrote it; who wrote none, or another, as that less the blank, reads
        which titres it is of. The figure goes where the braces stand: "the mean {} of your titres that agree".
        """
        held = self.mean if mean is None else mean
        as_read = None if self.net or self.saved is not None else self.own_mean
        if as_read is not None and held is not None and abs(fraction(as_read) - held) <= SAME_MEAN:
            return f"{YOUR} mean titre {{}}"
        if self.decided:
            return f"the mean {{}} of the runs that {either('your', 'the')} teacher chose"
        if self.agreement is not None:
            return f"the mean {{}} of the titres behind {YOUR} result"
        if self.concordant:
            return f"the mean {{}} of {YOUR} titres that agree"
        if mean is not None and mean != self.mean:
            return f"the mean {{}} of the titres that {either('you', 'the student')} ticked"
        if len(self.closest) > 1:
            return f"the mean {{}} of {YOUR} two closest titres"
        return f"{YOUR} only accurate titre {{}}"

    def own(self, which: Literal["mean", "result"]) -> OwnValue:
        """Return the student's mean or result as it was written."""
        value, decimals = getattr(self, f"own_{which}"), getattr(self, f"own_{which}_decimals")
        unit, odd = self.own_result_unit if which == "result" else "", self.odd.get(which, "")
        return OwnValue(value, decimals, self.at(which), odd, unit=unit)

    def with_own(self, which: Literal["mean", "result"], own: OwnValue) -> Self:
        """Return the student with another mean or result than was written."""
        cells, odd = {**self.cells, which: "".join(own.cells[:1])}, {**self.odd, which: own.odd}
        values: dict[str, Any] = {f"own_{which}": own.value, f"own_{which}_decimals": own.decimals}
        values |= {"own_result_unit": own.unit} if which == "result" else {}
        return replace(
            self,
            cells={key: cell for key, cell in cells.items() if cell},
            odd={key: text for key, text in odd.items() if text},
            **values,
        )

    @property
    def mean_as_written(self) -> Decimal | None:
        """Return the student's mean with the digits that were written."""
        if self.own_mean is None:
            return None
        written = self.own_mean - self.net if self.saved is None else self.saved
        return as_written(written, self.own_mean_decimals)

    @property
    def result_as_written(self) -> Decimal | None:
        """Return the student's result with the digits that were written."""
        return None if self.own_result is None else as_written(self.own_result, self.own_result_decimals)

    @property
    def result_in_words(self) -> str:
        """Return the student's result as written, with its unit where that is of another quantity than asked for."""
        written = "" if self.result_as_written is None else in_digits(self.result_as_written)
        return f"{written} {shown_unit(self.own_result_unit)}".rstrip()

    def at(self, *what: str) -> tuple[str, ...]:
        """Return the addresses of the student's own cells that hold `what`, those that are filled."""
        cells = self.cells
        return tuple([cells[each] for each in what if each in cells])


class OwnMean(NamedTuple):
    """What the student's mean is the mean of."""

    right: bool
    """It is the mean of the runs that were ticked, or of some runs where there are no ticks."""
    runs: Places
    """Places of those runs; where nothing fits, the ticked ones (or the set behind our mean)."""
    selection_right: bool
    """Those runs all belong to one largest concordant set, and at least as many as must agree."""
    expected: Fraction | None
    """The mean of those runs on own titres [cm³]."""
    coarse: bool = False
    """The mean of those runs to one decimal only: not right, as a mean titre is given to 0.05 or 0.01 cm³."""
    uncheckable: bool = False
    """A ticked run has no titre that can be read, so that the mean cannot be checked: not held against the student."""


class OwnResult(NamedTuple):
    """What the student's result should have been, from the student's mean."""

    right: bool
    expected: Fraction
    figures_right: bool
    coarse: bool = False
    """Right, but to fewer figures than were asked for."""
    unit: str = ""
    """Unit that it was written and is judged in, where that is of another quantity than asked for; else empty."""
    mean: Fraction | None = None
    """Mean titre that it follows from [cm³]; None where it follows from none."""
    uncheckable: bool = False
    """It rests on a run without a titre that can be read, and may well be right: not held against the student."""


class Asked(NamedTuple):
    """What the class sheet had room for: nobody is marked on a column that is not there."""

    readings: bool = True
    titres_of: frozenset[str] | None = None
    """Labels of the runs that there is a column for the titre of; None: all of them."""
    ticks: bool = True
    mean: bool = True
    result: bool = True
    accurate: bool = True
    """There is room for an accurate run; False where everybody did the rough only."""
    several: bool = True
    """There is room for as many accurate runs as must agree."""
    reference: bool = True
    """There is a value that accuracy can be marked against."""

    @property
    def titres(self) -> bool:
        """Return whether there is a column for any titre."""
        return self.titres_of is None or bool(self.titres_of)


@lru_cache(maxsize=1 << 14)
def cm3(volume: int) -> Fraction:
    """Return microlitres as exact cm³."""
    return Fraction(volume, PER_CM3)


@lru_cache(maxsize=1 << 14)
def mean_cm3(total: int, runs: int) -> Fraction:
    """Return the exact mean [cm³] of so many runs whose titres add up to `total` [µL]. Kept, as in a large class
    many students have the same."""
    return Fraction(total, runs * PER_CM3)


def runs_named(runs: Sequence[Run]) -> str:
    """Return runs as they are named in a sentence: "the rough and run 3", "runs 1, 2 and 3"."""
    labels = [run.label for run in runs if not run.rough]
    numbered = [f"run{'s' if len(labels) > 1 else ''} {listed(labels)}"] if labels else []
    return listed([*(["the rough"] if len(labels) < len(runs) else []), *numbered])
