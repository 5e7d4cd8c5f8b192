"""Marks by the scheme: one function a criterion, each mark with its reason and the cells it rests on.

A slip costs its own criterion once; what follows from it is marked on the student's own figures. A blank cell costs one
criterion, and what else would have been marked on it has no mark and counts in no total: a blank result costs the
calculation, and leaves nothing to look at for the figures. A criterion that the class sheet had no room for (no column
for results, say) is left out for everyone, and that is said. A mark that waits, for the teacher or for a doubt to be
settled, is pending.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from labmark.assessed import Assessed
from labmark.facts import Asked, OwnMean, OwnResult, Run, Student, cm3, mean_cm3
from labmark.figures import apart, figures_text, magnitude, mean_shown, significant, written_figures
from labmark.figures import beside as figures_of
from labmark.practical.scheme import CRITERIA as NAMES
from labmark.practical.scheme import Criterion, Grade
from labmark.records import Finding, Mark
from labmark.units import shown_unit
from labmark.volumes import round_fraction, shown
from labmark.words import NOT_AGAINST_YOU, YOUR, begun, counted, either, listed, numbered

FEWEST = 2
"""Accurate runs that choosing and averaging take."""
_ALONE = "With fewer than two accurate runs there is nothing to choose or to take a mean of."


class Held(NamedTuple):
    """A result and what it is held against, both in the unit asked for."""

    result: Fraction
    reference: Fraction


@dataclass(frozen=True, slots=True)
class Case:
    """All that the marks of one student rest on."""

    student: Student
    findings: Sequence[Finding]
    mean: OwnMean | None
    result: OwnResult | None
    asked: Asked
    at_least: int
    within: int
    """Concordance limit [µL]."""
    figures: int
    """Significant figures asked for."""
    unit: str
    """Of the result, in data form."""
    marked: frozenset[str] = frozenset(NAMES)
    """Criteria of the scheme that this class is marked on."""
    waits: Mapping[str, str] = field(default_factory=dict)
    """Criterion -> why its mark waits, in words for the student."""
    held: Held | None = None
    """Where the result rests on several titres: accuracy is then the result's, not one titre's."""

    def found(self, *codes: str) -> list[Finding]:
        """Return the findings of these kinds that are more than a note; what is struck out costs nothing."""
        struck = [run.label for run in self.student.runs if run.struck]
        kinds = (each for each in self.findings if each.finding in codes and each.level != "note")
        return [each for each in kinds if each.run not in struck]

    @property
    def begun(self) -> int:
        """How many accurate runs were begun, and not struck out."""
        return sum(not run.struck for run in self.student.accurate)

    @property
    def gaps(self) -> list[str]:
        """Return the criteria that unusable readings cost: the table for a blank one, the recording for one that is
        not a number; "" for one that the spreadsheet spoilt, which costs nothing."""
        if not self.student.runs:
            return ["table"]
        runs = [(run, {"initial", "final"} & set(run.odd)) for run in self.student.accurate if not run.struck]
        odd = ["recording" if which - set(run.spoilt) else "" for run, which in runs if which]
        lacking = ["table" for each in self.found("missing-input") if each.run is not None]
        return [*odd, *("table" for run, which in runs if run.missing and not which), *lacking]


Verdict = tuple[Decimal | int | None, str, tuple[str, ...]]
"""(mark, or None where there is nothing to mark on; reason; cells)."""


def marks(case: Case, scheme: Iterable[Criterion]) -> tuple[Mark, ...]:
    """Return the marks of a student, one for each criterion that could be marked; none for an absent student."""
    if case.student.absent:
        return ()
    return tuple(_mark(case, criterion) for criterion in scheme if can_be_marked(criterion, case.asked))


def can_be_marked(criterion: Criterion, asked: Asked) -> bool:
    """Return whether the class sheet had room for what a criterion looks at."""
    looks_at = _LOOKS_AT.get(criterion.criterion)
    return looks_at is None or criterion.by == "teacher" or looks_at(asked)


_LOOKS_AT: Mapping[str, Callable[[Asked], bool]] = {
    "recording": lambda asked: asked.readings,
    "titres": lambda asked: asked.titres and asked.readings,
    "concordance": lambda asked: asked.several,
    "selection": lambda asked: asked.several and (asked.ticks or asked.mean),
    "mean": lambda asked: asked.mean and asked.several,
    "calculation": lambda asked: asked.result and (asked.mean or asked.accurate),
    "figures": lambda asked: asked.result and (asked.mean or asked.accurate),
    "accuracy": lambda asked: asked.reference and asked.accurate,
}


def _mark(case: Case, criterion: Criterion) -> Mark:
    name, out_of = criterion.criterion, as_number(criterion.out_of)
    if criterion.by == "teacher":
        return Mark(name, None, out_of, "Your teacher marks this.", (), "teacher", criterion.title, pending=True)
    alone = name in ("selection", "mean") and case.student.runs and case.begun < FEWEST
    mark, reason, cells = (0, _ALONE, case.student.at("mean")) if alone else CRITERIA[name](case, criterion)
    pending = mark is not None and name in case.waits
    given, why = (None, case.waits[name]) if pending else (None if mark is None else as_number(mark), reason)
    return Mark(name, given, out_of, why, tuple(dict.fromkeys(cells)), "scheme", criterion.title, pending=pending)


def grade_of(one: Assessed, grades: Sequence[Grade]) -> str | None:
    """Return the grade of a student, `grades` the best first; None while a mark is pending, or below the lowest."""
    if any(mark.pending for mark in one.marks) or not one.out_of:
        return None
    percent = 100 * Fraction(str(one.total)) / Fraction(str(one.out_of))
    return next((each.grade for each in grades if percent >= Fraction(each.at_least)), None)


@lru_cache
def as_number(mark: Decimal | int) -> int | float:
    """Return a mark as a plain number, whole where it is."""
    return int(mark) if mark == int(mark) else float(mark)


def _blank(case: Case, reason: str, cells: tuple[str, ...], *borne_by: str) -> Verdict:
    """Return no mark where another criterion bears the cost of what is blank, or nobody ("") does; else nought."""
    borne = any(not name or name in case.marked for name in borne_by)
    return None if borne else 0, reason, cells


def _full(criterion: Criterion, good: bool) -> Decimal:
    return criterion.out_of if good else Decimal(0)


def _recording(case: Case, criterion: Criterion) -> Verdict:
    read = [run for run in case.student.runs if run.initial is not None or run.final is not None]
    if not read:
        return _blank(case, "There are no burette readings to look at.", (), "table")
    slips = case.found("coarse-reading")
    if slips:
        return 0, " ".join(each.message for each in slips[:2]) + _more(slips, 2), _cells_of(slips)
    # What the spreadsheet made of a reading is not the student's doing.
    odd = [each for each in case.found("not-a-number") if not each.evidence.get("spoilt")]
    if odd:
        return 0, odd[0].message, _cells_of(odd)
    return criterion.out_of, "Every reading is recorded as finely as the burette allows.", _reading_cells(read)


def _table(case: Case, criterion: Criterion) -> Verdict:
    student = case.student
    if not student.runs:
        return 0, "No run is recorded.", student.at("student")
    # A reading that is there but is not a number costs the recording: one cell, one criterion.
    gaps = [*case.found("missing-reading"), *(each for each in case.found("missing-input") if each.run is not None)]
    if gaps:
        return 0, gaps[0].message + _more(gaps, 1), _cells_of(gaps)
    if case.asked.titres:
        asked = case.asked.titres_of
        bare = [
            run
            for run in student.runs
            if run.written is None and not run.odd and not run.struck and (asked is None or run.label in asked)
        ]
        if bare:
            return 0, f"{_names(bare)}: no titre is written.", _reading_cells(bare)
    return criterion.out_of, "Nothing is missing from the table.", _reading_cells(student.runs)


def _titres(case: Case, criterion: Criterion) -> Verdict:
    written = [run for run in case.student.runs if run.written is not None]
    cells = _cells_at(written, "titre")
    if written and not any(run.missing or run.cells.keys() & {"initial", "final"} for run in written):
        return None, "No titre stands beside readings that it could be checked against.", cells
    if not written:
        return _blank(case, "No titre is written.", (), "table")
    slips = case.found("subtraction-slip")
    if slips:
        return 0, slips[0].message + _more(slips, 1), _cells_of(slips)
    if all(run.titre is None for run in written):
        return _blank(case, "Without readings no titre can be checked.", cells, *case.gaps)
    checked = " that can be checked" if any(run.titre is None for run in written) else ""
    return criterion.out_of, f"Every titre{checked} follows from its readings.", cells


def _concordance(case: Case, criterion: Criterion) -> Verdict:
    student = case.student
    cells = _reading_cells(run for run in student.runs if run.usable)
    if student.tightest is None:
        what = "titre" if student.agreement is None else "result"
        few = f"{counted(numbered(len(student.usable)), 'accurate run')} with a {what}".capitalize()
        if not student.usable:
            few = f"No accurate run gives a {what}"
        enough = case.begun >= case.at_least or not student.runs
        return _blank(case, f"{few}; {numbered(case.at_least)} must agree.", cells, *(case.gaps if enough else ()))
    what, tightest, span, limit = _how_close(case)
    closest = (
        f"The {numbered(case.at_least)} closest {what} are {f'{tightest} apart' if student.tightest else 'the same'}"
    )
    near = student.tightest
    if student.concordant and student.span is not None and len(student.closest) > case.at_least:
        near = student.span
        agree = f"agree; they are {span} apart" if student.span else "are the same"
        closest = f"{numbered(len(student.closest)).capitalize()} {what} {agree}"
    if not criterion.bands:
        good = bool(student.sets)
        return _full(criterion, good), f"{closest}; the limit is {limit}.", cells
    if student.agreement is not None and near:  # the bands are of titres
        closest += f", {shown(near):f} cm³ of titre"
    for band in criterion.bands:
        if cm3(student.tightest) <= Fraction(band.within):
            return band.mark, f"{closest}{f': within {band.within} cm³' if near else ''}.", cells
    return 0, f"{closest}, more than {criterion.bands[-1].within} cm³.", cells


def _how_close(case: Case) -> tuple[str, str, str, str]:
    """Return what must agree, the span of the closest and of those behind the mean, and the limit, in words."""
    student, agreement = case.student, case.student.agreement
    if agreement is None:
        tightest, span = (f"{shown(each or 0):f} cm³" for each in (student.tightest, student.span))
        return "titres", tightest, span, f"{shown(case.within):f} cm³"
    tightest, span = (f"{float(each or 0):.2f} %" for each in (agreement.tightest, agreement.spread))
    return "results", tightest, span, f"{agreement.limit} %"


def _selection(case: Case, criterion: Criterion) -> Verdict:
    student, mean = case.student, case.mean
    cells = (*_cells_at(student.runs, "used"), *student.at("mean"))
    if mean is None:
        no_mean = "the mean cannot be read" if "mean" in student.odd else "no mean is written"
        nothing = f"No run is ticked and {no_mean}, so it cannot be seen which titres were used."
        return _blank(case, nothing, cells, "mean")
    what = _how_close(case)[0]
    if not mean.runs and case.gaps:
        unread = f"Readings are missing or cannot be read, so it cannot be seen which {what} were chosen."
        return _blank(case, unread, cells, *case.gaps)
    if mean.selection_right:
        agree = f"{what} that agree" if student.sets else f"the closest {what}: no {numbered(case.at_least)} agree"
        return criterion.out_of, f"The mean is of {agree}.", cells
    return _wrong_selection(case, [student.runs[place] for place in mean.runs], what, cells)


def _wrong_selection(case: Case, chosen: list[Run], what: str, cells: tuple[str, ...]) -> Verdict:
    """Return what is wrong with the runs that a mean is of."""
    student = case.student
    best = [student.runs[place] for place in student.sets[0]] if student.sets else []
    if any(run.rough for run in chosen):
        return 0, "The rough titre was included in the mean.", cells
    if len(chosen) < case.at_least:
        one = "only one was" if len(chosen) == 1 else f"only {len(chosen)} were"
        agree = f" {_names(best)} agree." if best else ""
        return 0, f"A mean needs at least {case.at_least} {what} that agree; {one} used.{agree}", cells
    if best:
        return 0, f"{_names(chosen)} went into the mean, but {_names(best).lower()} are the ones that agree.", cells
    if student.agreement is None:
        return 0, f"The titres used ({_volumes(chosen)}) do not agree within {shown(case.within):f} cm³.", cells
    out = [run for run in chosen if not run.usable]
    if out and case.gaps:
        return _blank(case, f"Without a result of {_names(out).lower()} none can be chosen.", cells, *case.gaps)
    return 0, f"The results of {_names(chosen).lower()} do not agree within {student.agreement.limit} %.", cells


def _mean(case: Case, criterion: Criterion) -> Verdict:
    student, mean = case.student, case.mean
    if student.own_mean is None and "mean" in student.spoilt:
        return criterion.out_of, _spoilt(student.odd["mean"]), student.at("mean")
    if student.own_mean is None and student.agreement is not None and "mean" not in student.odd:
        return None, "Where results are averaged nobody needs a mean titre.", ()
    if student.own_mean is None:
        return 0, _unread(student, "mean") or "No mean titre is written.", student.at("mean")
    assert mean is not None
    if mean.uncheckable:
        bare = [run for run in student.runs if run.own_titre is None and not run.struck]
        unread = [run for run in bare if run.ticked] or [run for run in bare if not run.rough]
        why = f"{_names(unread)} cannot be read, so the mean cannot be checked; {NOT_AGAINST_YOU}."
        return criterion.out_of, why, student.at("mean")
    if mean.expected is None:
        return _blank(case, "There is no titre that the mean could be of.", student.at("mean"), *case.gaps)
    used = [student.runs[place] for place in mean.runs]
    cells = (*student.at("mean"), *_cells_at(used, "titre"))
    return (criterion.out_of if mean.right else 0), _mean_reason(student, mean, mean.expected, used), cells


def _mean_reason(student: Student, mean: OwnMean, expected: Fraction, used: list[Run]) -> str:
    shown_mean, written = mean_shown(expected - Fraction(student.net)), student.mean_as_written
    volumes = _volumes(used, expected, as_read=not student.net)
    sum_of = f"The mean of {volumes} is {shown_mean:f} cm³"
    if student.saved is not None:
        sum_of = f"The blank less the mean of {volumes} is {shown_mean:f} cm³"
    elif student.net > 0 and not any(run.net for run in used):
        sum_of = f"The mean of {volumes} less the blank is {shown_mean:f} cm³"
    elif student.net < 0 and not any(run.net for run in used):
        sum_of = f"The mean of {volumes} counted from the initial reading is {shown_mean:f} cm³"
    if mean.right:
        exact = student.own_mean is not None and Fraction(student.own_mean) == expected and student.saved is None
        return f"{sum_of}, as written." if exact else f"{sum_of}; {written} is right."
    if mean.coarse:
        return f"{sum_of}; {written} is not right to 0.05 or 0.01 cm³."
    return f"{sum_of}, but {written} is written."


def _calculation(case: Case, criterion: Criterion) -> Verdict:
    student, result = case.student, case.result
    cells = student.at("result", "mean")
    if student.own_result is None and "result" in student.spoilt:
        return criterion.out_of, _spoilt(student.odd["result"]), cells
    if student.own_result is None:
        return 0, _unread(student, "result") or "No result is written.", cells
    if result is None:
        nothing = _nothing_follows(student, case.mean)
        return _blank(case, nothing, cells, *(() if student.mean or student.own_mean else case.gaps))
    expected = _in_unit(result.expected, case.figures, result.unit or case.unit)
    wrote = f"{YOUR} mean titre" if student.own_mean is not None else student.mean_named().replace(" {}", "")
    start = wrote if student.agreement is None else f"{YOUR} titres and numbers"
    start = f"{YOUR} mean titres" if case.held else start
    if result.uncheckable:
        bare = [run for run in student.accurate if run.own_titre is None and not run.struck]
        return (
            criterion.out_of,
            f"The result may well be right: without {_names(bare).lower()} it cannot be checked; {NOT_AGAINST_YOU}.",
            cells,
        )
    if result.right:
        mistyped = case.mean is not None and student.own_mean is not None and not case.mean.right
        other = mistyped and result.mean is not None and result.mean != Fraction(student.own_mean or Decimal(0))
        which = f"the right mean of {YOUR} titres" if other else start
        return criterion.out_of, f"The result follows from {which} ({expected}).", cells
    gives = "gives" if student.agreement is None and not case.held else "give"
    reason = f"{begun(start)} {gives} {expected}, but {student.result_in_words} is written"
    slips = _named_slips(case.findings)
    if not slips:
        return 0, f"{reason}.", cells
    cost = min(criterion.out_of, len(slips) * (criterion.slip or 1))
    return criterion.out_of - cost, f"{reason}: {listed(slips)}, which costs {as_number(cost)}.", cells


def _named_slips(findings: Iterable[Finding]) -> list[str]:
    """Return the slips that together explain a wrong result, a few words each; none where nothing explains it."""
    explained = (each.evidence.get("slips") for each in findings if each.evidence.get("criterion") == "calculation")
    return next((list(slips) for slips in explained if slips), [])


def _nothing_follows(student: Student, mean: OwnMean | None) -> str:
    """Return why no result can be held against the student's own mean titre."""
    written = student.own_mean is not None and student.own_mean > 0
    if written or student.mean or (mean is not None and mean.expected):
        return f"{either('Your', 'The')} mean titre is not below the blank titre, so nothing is left for the sample."
    return "There is no mean titre to work a result out from."


def _in_unit(value: Fraction, figures: int, unit: str) -> str:
    return f"{significant(value, figures):f} {shown_unit(unit)}".strip()


def _figures(case: Case, criterion: Criterion) -> Verdict:
    student, result = case.student, case.result
    if student.own_result is None and "result" in student.spoilt:
        return criterion.out_of, _spoilt(student.odd["result"]), student.at("result")
    if student.own_result is None:
        nothing = "No result is written, so there are no figures to look at."
        return _blank(case, _unread(student, "result") or nothing, student.at("result"), "calculation")
    if result is None:
        return _blank(case, "The result cannot be judged.", student.at("result"), "calculation")
    return _full(criterion, result.figures_right), _figures_reason(case, result), student.at("result")


def _figures_reason(case: Case, result: OwnResult) -> str:
    student, asked = case.student, case.figures
    assert student.own_result is not None
    written = student.result_in_words
    fewest, most = written_figures(student.own_result, student.own_result_decimals)
    if result.figures_right and most is None and fewest < asked:
        return f"{written} may have lost zeros at its end in the file; {NOT_AGAINST_YOU}."
    if result.figures_right and most is not None and most < asked:
        return f"{written} is a whole number, and may be written as one."
    if result.figures_right:
        return f"{written} is to {asked} significant figures."
    if result.coarse:
        full = _in_unit(result.expected, asked, "")
        return f"{written} has fewer than the {asked} significant figures asked for, as in {full}."
    shown_ones = figures_text(student.own_result, student.own_result_decimals)
    return f"{written} has {counted(shown_ones, 'significant figure')}; {asked} were asked for."


def _unread(student: Student, which: str) -> str:
    """Return that an own value could not be read, with its cell; empty where the cell is blank."""
    if which not in student.odd:
        return ""
    cells = student.at(which)
    return f"{cells[0] if cells else 'The cell'} holds “{student.odd[which]}”, which cannot be read as a number."


def _spoilt(text: str) -> str:
    return f"The cell holds “{text}”, which is the spreadsheet’s doing; {NOT_AGAINST_YOU}."


def _accuracy(case: Case, criterion: Criterion) -> Verdict:
    student = case.student
    titre, places = titre_for_accuracy(student, case.mean)
    cells = _reading_cells(student.runs[place] for place in places)
    if titre is not None and case.held is not None:
        mark, text = _result_held(case.held, criterion, case.figures, case.unit)
        return mark, text, cells
    if titre is None:
        return _blank(case, "There is no mean titre to compare.", cells, *case.gaps)
    expected = _expected_of(student, places)
    if expected is None:
        return 0 if "accuracy" in case.waits else None, "There is no reference to compare with.", cells
    mark, text, within = _held_against(titre, begun(student.mean_named(titre)), expected, criterion)
    if not student.concordant and not student.decided:
        runs = _names([student.runs[place] for place in places]).lower()
        rests = (
            f"the {_how_close(case)[0]} do not agree, so this rests on {runs}"
            if len(places) > 1
            else "this rests on one run"
        )
        text += f" ({rests})"
    return mark, f"{text}{within}.", cells


def _expected_of(student: Student, places: Sequence[int]) -> Fraction | None:
    """Return the titre that the reference gives [cm³]; the mean over these runs where each has its own."""
    of_runs = [run.expected for place in places if (run := student.runs[place]).expected is not None]
    return sum(of_runs, Fraction(0)) / len(of_runs) if of_runs else student.expected_titre


def accuracy_mark(case: Case, expected: Fraction | None, criterion: Criterion) -> Decimal:
    """Return the mark for accuracy if the expected titre [cm³] (or what a result is held against) were another one."""
    titre, _ = titre_for_accuracy(case.student, case.mean)
    if titre is not None and case.held is not None:
        return _banded(*case.held, criterion)[0]
    if titre is None or expected is None:
        return Decimal(0)
    return _banded(titre, expected, criterion)[0]


def _held_against(titre: Fraction, named: str, expected: Fraction, criterion: Criterion) -> tuple[Decimal, str, str]:
    """Return (mark, how far a mean titre, so named, is from the expected one, within what)."""
    volume = criterion.unit == "cm3"
    away, unit = apart(titre, expected, *limits_of([criterion])), "cm³" if volume else "%"
    text = f"{named.format(f'{away.titre} cm³')} is {away.words(percent=not volume)}"
    mark, within = _banded(titre, expected, criterion)
    # Who hit it to the hundredth wants no limit beside that.
    return mark, text, f": {within} {unit}" if Fraction(away.volume) else ""


def _result_held(held: Held, criterion: Criterion, figures: int, unit: str) -> tuple[Decimal, str]:
    """Return (mark, the reason) of a result that rests on several titres."""
    result, reference = held
    mark, within = _banded(result, reference, criterion)
    limits = [Fraction(band.within) for band in criterion.bands]
    off = figures_of(abs(result - reference) / reference * 100, limits)
    values = [f"{round_fraction(each, figures - magnitude(reference)):f}" for each in held]
    side = "above" if result > reference else "below"
    away = f"{off} % {side} the reference {values[1]}" if off else f"the reference {values[1]}"
    return mark, f"{either('Your', 'The')} result {values[0]} {shown_unit(unit)} is {away}: {within} %."


def _banded(titre: Fraction, expected: Fraction, criterion: Criterion) -> tuple[Decimal, str]:
    """Return (mark, within how much) of a mean titre."""
    far = abs(titre - expected) if criterion.unit == "cm3" else abs(titre - expected) / expected * 100
    for band in criterion.bands:
        if far <= Fraction(band.within):
            return band.mark, f"within {band.within}"
    return Decimal(0), f"more than {criterion.bands[-1].within}"


def limits_of(scheme: Iterable[Criterion]) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    """Return the limits of the bands of accuracy [cm³], and those in per cent: a distance shows its side of each."""
    bands = {each.unit: each.bands for each in scheme if each.criterion == "accuracy"}
    volume, percent = (tuple(Fraction(band.within) for band in bands.get(unit, ())) for unit in ("cm3", "percent"))
    return volume, percent


def titre_for_accuracy(student: Student, mean: OwnMean | None) -> tuple[Fraction | None, tuple[int, ...]]:
    """Return the mean titre [cm³] that accuracy is marked on, and the runs behind it.

    It is the mean of the concordant set, from the readings. Where several largest sets agree, a student who used
    one of them is marked on that one; where none do, on the runs that were ticked, or else on the closest two. Where
    the teacher chose the runs, it is their mean.
    """
    used = student.closest
    if student.decided:
        return student.mean, used
    ticked = () if student.sets else tuple(n for n, run in enumerate(student.runs) if run.usable and run.ticked)
    if ticked:
        return mean_cm3(sum(student.runs[place].titre or 0 for place in ticked), len(ticked)), ticked
    chosen = tuple(sorted(mean.runs)) if mean is not None else ()
    titres = [titre for place in chosen if (titre := student.runs[place].titre) is not None]
    if chosen in student.sets and len(titres) == len(chosen):
        return mean_cm3(sum(titres), len(titres)), chosen
    return student.mean, used


def _more(slips: Sequence[Finding], shown_ones: int) -> str:
    more = len(slips) - shown_ones
    return f" And {more} more." if more > 0 else ""


def _cells_of(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(cell for each in findings for cell in each.cells)


def _reading_cells(runs: Iterable[Run]) -> tuple[str, ...]:
    return _cells_at(runs, "initial", "final")


def _cells_at(runs: Iterable[Run], *what: str) -> tuple[str, ...]:
    return tuple([cell for run in runs for cell in run.at(*what)])


def _volumes(runs: Iterable[Run], mean: Fraction | None = None, *, as_read: bool = False) -> str:
    """Return own titres as they were written; those that the readings give where only these have the mean [cm³].

    as_read   with the blank, where the student took it off the titres
    """
    own = [(titre, run.net, run.written_decimals) for run in runs if (titre := run.own_titre) is not None]
    if mean is not None and mean * len(own) != cm3(sum(titre for titre, _, _ in own)):
        own = [(run.titre, 0, None) for run in runs if run.titre is not None]
    return ", ".join([f"{shown(titre if as_read else titre - net, decimals):f}" for titre, net, decimals in own])


def _names(runs: Sequence[Run]) -> str:
    labels = ["the rough" if run.rough else run.label for run in runs]
    text = listed(labels)
    return text[:1].upper() + text[1:] if runs[0].rough else f"Run{'' if len(labels) == 1 else 's'} {text}"


_WAYS = (_recording, _table, _titres, _concordance, _selection, _mean, _calculation, _figures, _accuracy)
CRITERIA: Mapping[str, Callable[[Case, Criterion], Verdict]] = dict(zip(NAMES, _WAYS, strict=True))
"""Criterion -> the function that marks it."""
