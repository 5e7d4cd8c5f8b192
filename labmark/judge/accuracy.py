"""The mark for accuracy: how far a mean titre, or a result that rests on several, is from what the reference gives."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from labmark.exact import apart, average, fraction, round_fraction
from labmark.exact import beside as figures_of
from labmark.facts import Places, Student, mean_cm3, runs_named
from labmark.judge.case import Case, Held, Verdict, reading_cells
from labmark.practical.scheme import Criterion
from labmark.units import shown_unit
from labmark.words import begun, either


def accuracy(case: Case, criterion: Criterion) -> Verdict:
    """Return the mark for accuracy, with its reason and cells."""
    student = case.student
    titre, places = _titre_for_accuracy(student)
    cells = reading_cells(student.runs[place] for place in places)
    if titre is None:
        return case.blank(f"No accurate run gives a {case.how_close()[0][:-1]} to compare.", cells, *case.gaps)
    if case.held is not None:
        return *_result_held(case.held, criterion, case.unit), cells
    # Where runs have a titre of their own to be expected, it is the mean of theirs.
    of_runs = [run.expected for place in places if (run := student.runs[place]).expected is not None]
    expected = average(of_runs) if of_runs else student.expected_titre
    if expected is None:
        return 0 if "accuracy" in case.waits else None, "There is no expected titre to compare with.", cells
    mark, text, within = _held_against(titre, begun(student.mean_named(titre)), expected, criterion)
    rests = "" if student.concordant or student.decided else f" ({_rests_on(case, places)})"
    return mark, f"{text}{rests}{within}.", cells


def _rests_on(case: Case, places: Places) -> str:
    """Return on which runs a mean of titres that do not agree rests."""
    if len(places) < 2:
        return "this rests on one run"
    runs = runs_named([case.student.runs[place] for place in places])
    return f"the {case.how_close()[0]} do not agree, so this rests on {runs}"


def accuracy_mark(case: Case, expected: Fraction | None, criterion: Criterion) -> Decimal:
    """Return the mark for accuracy if the expected titre [cm³] (or what a result is held against) were another one."""
    titre, _ = _titre_for_accuracy(case.student)
    if titre is not None and case.held is not None:
        return _banded(*case.held[:2], criterion)[0]
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
    return mark, text, f": {within} {unit}" if float(away.volume) else ""


def _result_held(held: Held, criterion: Criterion, unit: str) -> tuple[Decimal, str]:
    """Return (mark, the reason) of a result that rests on several titres: with as many digits as everywhere, or as
    show on which side of every limit it lies."""
    mark, within = _banded(held.result, held.reference, criterion)
    limits = [fraction(band.within) for band in criterion.bands]
    exact = abs(held.result - held.reference) / held.reference * 100
    for decimals in range(held.decimals, held.decimals + 6):
        result, reference = (round_fraction(each, decimals) for each in held[:2])
        off = figures_of(abs(Fraction(result) - Fraction(reference)) / Fraction(reference) * 100, limits)
        if all((Fraction(off) <= limit) == (exact <= limit) for limit in limits):
            break
    side = "above" if held.result > held.reference else "below"
    whole = f"{either('Your', 'The')} result {result:f} {shown_unit(unit)}".rstrip()
    away = f"is {off} % {side}" if off else "agrees with"
    return mark, f"{whole} {away} the reference {reference:f}: {within} %."


def _banded(titre: Fraction, expected: Fraction, criterion: Criterion) -> tuple[Decimal, str]:
    """Return (mark, within how much) of a mean titre."""
    far = abs(titre - expected) if criterion.unit == "cm3" else abs(titre - expected) / expected * 100
    for band in criterion.bands:
        if far <= fraction(band.within):
            return band.mark, f"within {band.within}"
    return Decimal(0), f"more than {criterion.bands[-1].within}"


def limits_of(scheme: Iterable[Criterion]) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    """Return the limits of the bands of accuracy [cm³], and those in per cent: a distance shows its side of each."""
    bands = {each.unit: each.bands for each in scheme if each.criterion == "accuracy"}
    volume, percent = (tuple(fraction(band.within) for band in bands.get(unit, ())) for unit in ("cm3", "percent"))
    return volume, percent


def _titre_for_accuracy(student: Student) -> tuple[Fraction | None, Places]:
    """Return the mean titre [cm³] that accuracy is marked on, and the runs behind it.

    It is that of the runs behind the student's mean, from the readings (where several sets agree, of the one that the
    student took); where none agree, and the teacher chose none, of the runs that were ticked, if any.
    """
    runs = () if student.sets or student.decided else student.runs
    ticked = tuple([place for place, run in enumerate(runs) if run.usable and run.ticked])
    if not ticked:
        return student.mean, student.closest
    return mean_cm3(sum(student.runs[place].titre or 0 for place in ticked), len(ticked)), ticked
