"""Marks by the scheme: one function a criterion, each mark with its reason and the cells it rests on.

A slip costs its own criterion once; what follows from it is marked on the student's own figures. A blank cell costs one
criterion, and what else would have been marked on it has no mark and counts in no total: a blank result costs the
calculation, and leaves nothing to look at for the figures. A criterion that the class sheet had no room for (no column
for results, say) is left out for everyone, and that is said. A mark that waits, for the teacher, for a doubt to be
settled or for an answer that cannot be read, is pending.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from labmark.assessed import Assessed
from labmark.exact import figures_text, fraction, mean_shown, shown, significant, too_few_figures, written_figures
from labmark.facts import Asked, OwnMean, OwnResult, Run, Student, cm3, runs_named
from labmark.judge.accuracy import accuracy
from labmark.judge.case import UNLESS_EARNED, Case, Verdict, cells_at, is_unfit, reading_cells
from labmark.practical.scheme import CRITERIA as NAMES
from labmark.practical.scheme import Criterion, Grade
from labmark.records import Finding, Mark
from labmark.units import shown_unit
from labmark.words import NOT_AGAINST_YOU, YOUR, begun, counted, either, listed, numbered


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
    name, most = criterion.criterion, criterion.out_of
    out_of = as_number(most)
    if criterion.by == "teacher":
        return Mark(name, None, out_of, "Your teacher marks this.", (), "teacher", criterion.title, pending=True)
    mark, reason, cells = CRITERIA[name](case, criterion)
    unread = case.unread_behind(name) if mark != most else None
    settled = mark is None or (name in UNLESS_EARNED and mark == most)
    pending = unread is not None or (name in case.waits and not settled)
    if unread is not None:
        reason, cells = unread.reason, (*unread.cells, *cells)
    elif pending:
        reason = case.waits[name]
    given = None if pending or mark is None else out_of if mark == most else as_number(mark)
    return Mark(name, given, out_of, reason, tuple(dict.fromkeys(cells)), "scheme", criterion.title, pending=pending)


def grade_of(one: Assessed, grades: Sequence[Grade]) -> str | None:
    """Return the grade of a student, `grades` the best first; None while a mark is pending, or below the lowest."""
    if any(mark.pending for mark in one.marks) or not one.out_of:
        return None
    percent = 100 * Fraction(str(one.total)) / Fraction(str(one.out_of))
    return next((each.grade for each in grades if percent >= Fraction(each.at_least)), None)


def as_number(mark: Decimal | int) -> int | float:
    """Return a mark as a plain number, whole where it is."""
    whole = int(mark)
    return whole if whole == mark else float(mark)


def _recording(case: Case, criterion: Criterion) -> Verdict:
    read = [run for run in case.student.runs if run.initial is not None or run.final is not None]
    if not read:
        return case.blank("There are no burette readings to look at.", (), "table")
    slips = case.found("coarse-reading")
    if slips:
        return 0, " ".join(each.message for each in slips[:2]) + _more(slips, 2), _cells_of(slips)
    unread = case.found("not-a-number")
    odd = [each for each in unread if is_unfit(each.evidence["text"], spoilt=each.evidence["spoilt"])]
    if odd:
        return 0, odd[0].message, _cells_of(odd)
    # What is coarse then is a rough: a note.
    coarse = bool(unread) or any(each.finding == "coarse-reading" for each in case.findings)
    counting = "Every reading that counts is recorded as finely as the burette allows."
    fine = "Every reading is recorded as finely as the burette allows."
    return criterion.out_of, counting if coarse else fine, reading_cells(read)


def _table(case: Case, criterion: Criterion) -> Verdict:
    student = case.student
    if not student.runs:
        return 0, "No run is recorded.", student.at("student")
    # A reading that is there but is not a number costs the recording: one cell, one criterion.
    lacking = (each for each in case.found("missing-input") if each.run is not None and "text" not in each.evidence)
    gaps = [*case.found("missing-reading"), *lacking]
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
            return 0, f"{begun(runs_named(bare))}: no titre is written.", reading_cells(bare)
    return criterion.out_of, "Nothing is missing from the table.", reading_cells(student.runs)


def _titres(case: Case, criterion: Criterion) -> Verdict:
    written = [run for run in case.student.runs if run.written is not None]
    cells = cells_at(written, "titre")
    if written and not any(run.missing or run.cells.keys() & {"initial", "final"} for run in written):
        return None, "No titre is written beside readings that it could be checked against.", cells
    if case.unread_behind("titres"):
        return None, "", ()
    if not written:
        return case.blank("No titre is written.", (), "table")
    slips = case.found("subtraction-slip")
    if slips:
        return 0, slips[0].message + _more(slips, 1), _cells_of(slips)
    if all(run.titre is None for run in written):
        return case.blank("Without readings no titre can be checked.", cells, *case.gaps)
    checked = " that can be checked" if any(run.titre is None for run in written) else ""
    return criterion.out_of, f"Every titre{checked} follows from its readings.", cells


def _concordance(case: Case, criterion: Criterion) -> Verdict:
    student = case.student
    cells = reading_cells(run for run in student.runs if run.usable)
    if student.tightest is None:
        enough = case.begun >= case.setting.at_least or not student.runs
        return case.blank(_too_few(case), cells, *(case.gaps if enough else ()))
    closest, near = _closest(case)
    if not criterion.bands:
        limit = case.how_close()[3]
        return criterion.out_of if student.sets else 0, f"{closest}; the limit is {limit}.", cells
    if student.agreement is not None and near:  # the bands are of titres
        closest += f", {shown(near):f} cm³ of titre"
    for band in criterion.bands:
        if cm3(student.tightest) <= fraction(band.within):
            return band.mark, f"{closest}{f': within {band.within} cm³' if near else ''}.", cells
    return 0, f"{closest}, more than {criterion.bands[-1].within} cm³.", cells


def _too_few(case: Case) -> str:
    """Return that there are too few accurate runs for any to agree."""
    usable, what = case.student.usable, "titre" if case.student.agreement is None else "result"
    few = f"{counted(numbered(len(usable)), 'accurate run')} with a {what}".capitalize()
    if not usable:
        few = f"No accurate run gives a {what}"
    return f"{few}; {numbered(case.setting.at_least)} must agree."


def _closest(case: Case) -> tuple[str, int]:
    """Return how close the titres (or results) lie that agree, or else the closest; and how far apart that is [µL]."""
    student, (what, tightest, span, _) = case.student, case.how_close()
    if student.concordant and student.span is not None and len(student.closest) > case.setting.at_least:
        agree = f"agree; they are {span} apart" if student.span else "are the same"
        return f"{numbered(len(student.closest)).capitalize()} {what} {agree}", student.span
    lie = f"{tightest} apart" if student.tightest else "the same"
    return f"The {numbered(case.setting.at_least)} closest {what} are {lie}", student.tightest or 0


def _selection(case: Case, criterion: Criterion) -> Verdict:
    student, mean = case.student, case.claim.mean
    cells = (*cells_at(student.runs, "used"), *student.at("mean"))
    if mean is None:
        no_tick = "A tick cannot be read" if any("used" in run.odd for run in student.runs) else "No run is ticked"
        nothing = f"{no_tick} and no mean is written, so it cannot be seen which titres were used."
        return case.blank(nothing, cells, "mean")
    what = case.how_close()[0]
    if not mean.runs and case.gaps:
        unread = f"Readings are missing or cannot be read, so it cannot be seen which {what} were chosen."
        return case.blank(unread, cells, *case.gaps)
    if mean.selection_right:
        return criterion.out_of, f"The mean is of {_best(case, what)}.", cells
    return _wrong_selection(case, [student.runs[place] for place in mean.runs], what, cells)


def _best(case: Case, what: str) -> str:
    """Return which runs a mean is rightly of: those that agree or, where too few do, the best there are."""
    if case.student.sets:
        return f"{what} that agree"
    if len(case.student.usable) > 1:
        return f"the closest {what}: no {numbered(case.setting.at_least)} agree"
    return f"the {'only accurate run with' if case.student.usable else 'rough: no accurate run gives'} a {what[:-1]}"


def _wrong_selection(case: Case, chosen: list[Run], what: str, cells: tuple[str, ...]) -> Verdict:
    """Return what is wrong with the runs that a mean is of."""
    student = case.student
    best = [student.runs[place] for place in student.sets[0]] if student.sets else []
    if any(run.rough for run in chosen):
        return 0, "The rough titre was included in the mean.", cells
    if len(chosen) < case.setting.at_least:
        one = "only one was" if len(chosen) == 1 else f"only {len(chosen)} were"
        agree = f" {begun(runs_named(best))} agree." if best else ""
        return 0, f"A mean needs at least {case.setting.at_least} {what} that agree; {one} used.{agree}", cells
    if best:
        lower = runs_named(best)
        return 0, f"{begun(runs_named(chosen))} went into the mean; {lower} agree, and a mean of these is right.", cells
    if student.agreement is None:
        return 0, f"The titres used ({_volumes(chosen)}) do not agree within {shown(case.setting.within):f} cm³.", cells
    out = [run for run in chosen if not run.usable]
    if out and case.gaps:
        return case.blank(f"Without a result of {runs_named(out)} none can be chosen.", cells, *case.gaps)
    return 0, f"The results of {runs_named(chosen)} do not agree within {student.agreement.limit} %.", cells


def _mean(case: Case, criterion: Criterion) -> Verdict:
    student, mean = case.student, case.claim.mean
    if student.own_mean is None and student.agreement is not None and "mean" not in student.odd:
        return None, "Where results are averaged nobody needs a mean titre.", ()
    if student.own_mean is None:
        return 0, "No mean titre is written.", student.at("mean")
    assert mean is not None
    if mean.uncheckable and case.unread_behind("mean"):
        return None, "", ()
    if mean.uncheckable:
        bare = [run for run in student.runs if run.own_titre is None and not run.struck]
        unread = [run for run in bare if run.ticked] or [run for run in bare if not run.rough]
        why = f"{begun(runs_named(unread))} cannot be read, so the mean cannot be checked; {NOT_AGAINST_YOU}."
        return criterion.out_of, why, student.at("mean")
    if mean.expected is None:
        return case.blank("There is no titre that the mean could be of.", student.at("mean"), *case.gaps)
    used = [student.runs[place] for place in mean.runs]
    cells = (*student.at("mean"), *cells_at(used, "titre"))
    return (criterion.out_of if mean.right else 0), _mean_reason(student, mean, mean.expected, used), cells


def _mean_reason(student: Student, mean: OwnMean, expected: Fraction, used: list[Run]) -> str:
    value, written = expected - fraction(student.net), student.mean_as_written
    shown_mean = mean_shown(value)
    volumes = _volumes(used, expected, as_read=not student.net)
    sum_of = f"The mean of {volumes} is {shown_mean:f} cm³"
    if student.saved is not None and student.from_start is None:
        sum_of = f"The blank less the mean of {volumes} is {shown_mean:f} cm³"
    elif student.net > 0 and not any(run.net for run in used):
        sum_of = f"The mean of {volumes} less the blank is {shown_mean:f} cm³"
    elif student.net < 0 and not any(run.net for run in used):
        sum_of = f"The mean of {volumes} counted from the start of each run is {shown_mean:f} cm³"
    if mean.right:
        exact = written is not None and fraction(written) == value
        return f"{sum_of}, as written." if exact else f"{sum_of}; {written} is right."
    if mean.coarse:
        return f"{sum_of}; {written} is not right to 0.05 or 0.01 cm³."
    return f"{sum_of}, but {written} is written."


def _calculation(case: Case, criterion: Criterion) -> Verdict:
    student, result = case.student, case.claim.result
    cells = student.at("result", "mean")
    if student.own_result is None:
        return 0, _of_another_kind(case) or "No result is written.", cells
    if result is None:
        nothing = _nothing_follows(student, case.claim.mean)
        return case.blank(nothing, cells, *(() if student.mean or student.own_mean else case.gaps))
    if result.uncheckable:
        bare = [run for run in student.accurate if run.own_titre is None and not run.struck]
        why = f"The result may well be right: without {runs_named(bare)} it cannot be checked; {NOT_AGAINST_YOU}."
        return criterion.out_of, why, cells
    reason, slips = (_follows if result.right else _contradicts)(case, result), named_slips(case.findings)
    reason = f"{case.claim.done_with} {reason}".lstrip()
    if not slips:
        return criterion.out_of if result.right else 0, f"{reason}.", cells
    return criterion.out_of - cost_of(slips, criterion), f"{reason}: {listed(slips)}{costing(slips, criterion)}", cells


def _start_of(case: Case) -> str:
    """Return what a student's result is worked out from."""
    student = case.student
    if case.held:
        return f"{YOUR} mean titres" if student.own_mean is not None else f"the means of {YOUR} titres"
    if student.agreement is not None:
        return f"{YOUR} titres and numbers"
    return f"{YOUR} mean titre" if student.own_mean is not None else student.mean_named().replace(" {}", "")


def _follows(case: Case, result: OwnResult) -> str:
    """Return from what a right result follows."""
    student, mean, written = case.student, case.claim.mean, Fraction(case.student.own_result or 0)
    mistyped = mean is not None and student.own_mean is not None and not mean.right
    other = mistyped and result.mean is not None and result.mean != Fraction(student.own_mean or Decimal(0))
    which = f"the right mean of {YOUR} titres" if other else _start_of(case)
    expected = _in_unit(result.expected, case.figures, result.unit or case.unit)
    differs = significant(written, case.figures) != significant(result.expected, case.figures)
    too = f"; {student.result_in_words} is right too" if differs and not result.coarse else ""
    return f"The result follows from {which} ({expected}){too}"


def _contradicts(case: Case, result: OwnResult) -> str:
    """Return what a wrong result should have been."""
    start, gives = _start_of(case), "gives" if case.student.agreement is None and not case.held else "give"
    if case.claim.run:
        start, gives = f"run {case.claim.run}", "gives"
    expected = _in_unit(result.expected, case.figures, result.unit or case.unit)
    lead = _beside_readings(case, result) or f"{begun(start)} {gives}"
    return f"{lead} {expected}, but {case.student.result_in_words} is written"


def _beside_readings(case: Case, result: OwnResult) -> str:
    """Return how a sentence begins that gives what follows from the mean as it was written, where the readings show
    another value; empty where they don't."""
    if case.gives is None or case.student.own_mean is None or case.student.agreement is not None or result.unit:
        return ""
    readings = significant(fraction(case.gives), case.figures)
    if case.claim.done_with or readings == significant(result.expected, case.figures):
        return ""
    titres = "titres" if case.held else "titre"
    return f"{begun(YOUR)} readings give {readings:f} and the mean {titres} that {either('you', 'the student')} wrote"


def cost_of(slips: Sequence[str], criterion: Criterion) -> Decimal:
    """Return what named slips cost."""
    return min(criterion.out_of, Decimal(len(slips)) * (criterion.slip or 1))


def costing(slips: Sequence[str], criterion: Criterion) -> str:
    """Return how a reason that names slips ends."""
    return f", which costs {as_number(cost_of(slips, criterion))}."


def named_slips(findings: Iterable[Finding]) -> list[str]:
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
    student, result = case.student, case.claim.result
    if student.own_result is None:
        nothing = "No result is written, so there are no figures to look at."
        return case.blank(_of_another_kind(case) or nothing, student.at("result"), "calculation")
    if result is None:
        return case.blank("The result cannot be judged.", student.at("result"), "calculation")
    mark = criterion.out_of if result.figures_right else 0
    return mark, _figures_reason(case, result), student.at("result")


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
        return too_few_figures(written, asked, _in_unit(result.expected, asked, ""))
    shown_ones = figures_text(student.own_result, student.own_result_decimals)
    return f"{written} has {counted(shown_ones, 'significant figure')}; {asked} were asked for."


def _of_another_kind(case: Case) -> str:
    """Return that a written result is of something else than was asked for, with its cell; empty where it is not."""
    student, cells = case.student, case.student.at("result")
    if "result" not in student.odd:
        return ""
    odd, unit = student.odd["result"], shown_unit(case.unit)
    return f"{cells[0] if cells else 'The cell'} holds “{odd}”, where a result in {unit} is asked for."


def _more(slips: Sequence[Finding], shown_ones: int) -> str:
    more = len(slips) - shown_ones
    return f" And {more} more." if more > 0 else ""


def _cells_of(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(cell for each in findings for cell in each.cells)


def _volumes(runs: Iterable[Run], mean: Fraction | None = None, *, as_read: bool = False) -> str:
    """Return own titres as they were written; those that the readings give where only these have the mean [cm³].

    as_read   with the blank, where the student took it off the titres
    """
    own = [(titre, run.net, run.written_decimals) for run in runs if (titre := run.own_titre) is not None]
    if mean is not None and mean * len(own) != cm3(sum(titre for titre, _, _ in own)):
        own = [(run.titre, 0, None) for run in runs if run.titre is not None]
    return ", ".join([f"{shown(titre if as_read else titre - net, decimals):f}" for titre, net, decimals in own])


_WAYS = (_recording, _table, _titres, _concordance, _selection, _mean, _calculation, _figures, accuracy)
CRITERIA: Mapping[str, Callable[[Case, Criterion], Verdict]] = dict(zip(NAMES, _WAYS, strict=True))
"""Criterion -> the function that marks it."""
