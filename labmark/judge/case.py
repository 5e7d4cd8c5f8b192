"""All that the marks of one student rest on, and how it is said of which runs and cells."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from labmark.dataclass import dataclass, field
from labmark.diagnose.plain import Setting
from labmark.diagnose.working_calculation import Calculation
from labmark.exact import shown
from labmark.facts import Asked, OwnMean, OwnResult, Run, Student
from labmark.formula import Input
from labmark.practical.scheme import CRITERIA
from labmark.records import Finding
from labmark.units import shown_unit
from labmark.words import YOUR, listed

Verdict = tuple[Decimal | int | None, str, tuple[str, ...]]
"""(mark, or None where there is nothing to mark on; reason; cells)."""


class Held(NamedTuple):
    """A result and what it is held against, both in the unit asked for."""

    result: Fraction
    reference: Fraction
    decimals: int
    """With which the two are printed everywhere."""


class Unread(NamedTuple):
    """An answer that stands in a cell and cannot be read."""

    text: str
    cells: tuple[str, ...]
    hang: Collection[str]
    """Criteria that cannot be settled without it, where they are not earned all the same."""

    @property
    def reason(self) -> str:
        """Return why marks wait, naming the cell."""
        cells, odd = self.cells, self.text
        return f"{cells[0] if cells else 'The cell'} holds “{odd}”, which cannot be read as a number."


ON_RUNS = ("concordance", "selection", "calculation", "figures", "accuracy")
"""Criteria of which a run decides that may or may not agree with the others."""
UNLESS_EARNED = ("concordance", "selection")
"""Criteria of these that wait for a doubt about one run only where they are not earned all the same."""
_OWN: Mapping[str, Literal["mean", "result"]] = {"mean": "mean", "calculation": "result", "figures": "result"}
"""Criterion -> the answer that it looks at: where that is blank, nothing else can settle the mark."""


class Claimed(NamedTuple):
    """A written result, and what it is judged on."""

    student: Student
    mean: OwnMean | None
    result: OwnResult | None
    sums: Calculation
    done_with: str = ""
    """For which pipette, or with which number, the sum is done, as a sentence; empty where that is plain."""
    run: str = ""
    """Label of the run whose result it is; empty where it is the student's."""

    @property
    def how_wrong(self) -> int:
        """How far from right it is: 0 where it is, 1 where it has too few figures, 2 where it is not."""
        return 2 if self.result is None or not self.result.right else int(self.result.coarse)

    def seen(self, student: Student) -> Student:
        """Return the student with this result."""
        return student if student is self.student else student.with_own("result", self.student.own("result"))


@dataclass(frozen=True, slots=True)
class Case:
    """All that the marks of one student rest on."""

    student: Student
    findings: Sequence[Finding]
    claim: Claimed
    asked: Asked
    setting: Setting
    figures: int
    """Significant figures asked for."""
    unit: str
    """Of the result, in data form."""
    marked: frozenset[str] = frozenset(CRITERIA)
    """Criteria of the scheme that this class is marked on."""
    waits: Mapping[str, str] = field(default_factory=dict)
    """Criterion -> why its mark waits, in words for the student."""
    held: Held | None = None
    """Where the result rests on several titres: accuracy is then the result's, not one titre's."""
    gives: float | None = None
    """Result of the readings, in the unit asked for; None where there is none, or the student took other runs."""

    def found(self, *codes: str) -> list[Finding]:
        """Return the findings of these kinds that are more than a note; what is struck out costs nothing."""
        kinds = [each for each in self.findings if each.finding in codes and each.level != "note"]
        struck = [run.label for run in self.student.runs if run.struck] if kinds else ()
        return [each for each in kinds if each.run not in struck]

    @property
    def begun(self) -> int:
        """How many accurate runs were begun, and not struck out."""
        return sum(not run.struck for run in self.student.accurate)

    @property
    def gaps(self) -> list[str]:
        """Return the criteria that unusable readings cost: the table for a blank one, the recording for one that is
        not a number; "" for one that costs nothing."""
        if not self.student.runs:
            return ["table"]
        runs = [(run, {"initial", "final"} & set(run.odd)) for run in self.student.accurate if not run.struck]
        unfit = [any(is_unfit(run.odd[each], spoilt=each in run.spoilt) for each in which) for run, which in runs]
        odd = ["recording" if bad else "" for bad, (_, which) in zip(unfit, runs, strict=True) if which]
        lacking = ["" if "text" in each.evidence else "table" for each in self.found("missing-input") if each.run]
        return [*odd, *("table" for run, which in runs if run.missing and not which), *lacking]

    def unread_behind(self, criterion: str) -> Unread | None:
        """Return an answer that cannot be read, on which a mark hangs that is not earned; None where there is none."""
        own = _OWN.get(criterion)
        if own and self.student.own(own).value is None and not self.student.own(own).odd:
            return None
        return next((each for each in self._unread() if criterion in each.hang), None)

    def _unread(self) -> Iterator[Unread]:
        student = self.student
        if "result" in student.odd and not student.own_result_unit:
            yield Unread(student.odd["result"], student.at("result"), ("calculation", "figures"))
        if "mean" in student.odd:
            yield Unread(student.odd["mean"], student.at("mean"), ("selection", "mean", "calculation", "figures"))
        for run in (run for run in student.runs if "titre" in run.odd and not run.struck):
            titres = () if self.found("subtraction-slip") else ("titres",)
            behind = () if run.rough else ("mean",) if run.titre is not None else ("mean", *ON_RUNS)
            yield Unread(run.odd["titre"], run.at("titre"), (*titres, *behind))
        for each in (each for each in self.found("missing-input") if "text" in each.evidence):
            yield Unread(each.evidence["text"], each.cells, ON_RUNS)

    def blank(self, reason: str, cells: tuple[str, ...], *borne_by: str) -> Verdict:
        """Return no mark where another criterion bears the cost of what is blank, or nobody ("") does; else nought."""
        borne = any(not name or name in self.marked for name in borne_by)
        return None if borne else 0, reason, cells

    def how_close(self) -> tuple[str, str, str, str]:
        """Return what must agree, the span of the closest and of those behind the mean, and the limit, in words."""
        student, agreement = self.student, self.student.agreement
        if agreement is None:
            tightest, span = (f"{shown(each or 0):f} cm³" for each in (student.tightest, student.span))
            return "titres", tightest, span, f"{shown(self.setting.within):f} cm³"
        tightest, span = (f"{float(each or 0):.2f} %" for each in (agreement.tightest, agreement.spread))
        return "results", tightest, span, f"{agreement.limit} %"


def sum_for(volume: Fraction | Decimal | None, *, other: bool = False, own: bool = False) -> str:
    """Return for which pipette [cm³] a sum is done, where titres speak for an `other` one than the practical's, or than
    the student's `own`."""
    size = f"{float(volume or 0):g} cm³"
    if other:
        return f"This is worked out for a pipette of {size}, which {YOUR} titres fit."
    if own:
        return f"This is worked out for the pipette of {size} that is written."
    return f"This is worked out for the practical’s pipette of {size}."


def as_it_was(numbers: Iterable[Input]) -> str:
    """Return with which numbers a sum is done, where the teacher has said since what they really were."""
    written = listed([f"{each.text} {shown_unit(each.unit)}" for each in numbers])
    return f"This is worked out with {written}, as it was written before."


def reading_cells(runs: Iterable[Run]) -> tuple[str, ...]:
    """Return the cells of the readings of runs."""
    return cells_at(runs, "initial", "final")


def is_unfit(text: str, *, spoilt: bool) -> bool:
    """Return whether a text where a number belongs counts against the student who recorded it.

    It does not where the spreadsheet spoilt the number, nor in brackets, in which students put what they do not use.
    """
    return not spoilt and text[:1] not in ("(", "[")


def cells_at(runs: Iterable[Run], *what: str) -> tuple[str, ...]:
    """Return the cells of runs for these keys ("titre", "used")."""
    return tuple([cell for run in runs for cell in run.at(*what)])
