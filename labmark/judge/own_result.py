"""Whether a written result follows from the student's own figures: right, however it was rounded on the way."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from labmark.dataclass import replace
from labmark.diagnose.working_calculation import Calculation, in_unit
from labmark.diagnose.working_means import means_behind, means_of, rounded_means, ticked, unread_means
from labmark.diagnose.working_right import Titres, own_reading
from labmark.exact import average, both_roundings, figures_right, fraction, visible_decimals
from labmark.facts import OwnMean, OwnResult, Places, Run, Student, cm3


def judged_result(student: Student, mean: OwnMean | None, calc: Calculation, within: int = 0) -> OwnResult | None:
    """Return whether the student's result follows from their mean or a right one; None where there is nothing to judge.

    It is right at the digits written, and also when it follows from intermediate values rounded to at least as many
    figures as were asked for, or from a formula mass as schools round it.

    within   largest minus smallest of titres that agree [µL]
    """
    if student.own_result is None:
        return None
    starts = [start for start in starts_of(student, mean) if start > 0]
    below = tuple([start for start in starts if calc.blank_titre is None or start < calc.blank_titre])
    if not below:
        return _at_blank(calc, starts[0], student) if starts else None
    first = _judged_as_written(student, calc, below, ())
    if first.right and not first.coarse:
        return first
    beyond = (_at_blank(calc, start, student) for start in starts if start not in below)
    nothing = next(filter(None, beyond), None)  # of a mean whose digits are swapped
    return nothing or _judged_further(student, calc, below, within)


def _judged_further(student: Student, calc: Calculation, starts: tuple[Fraction, ...], within: int) -> OwnResult:
    """Return the judgement of a result by means that were rounded before going on, by the titres run by run, and by
    means of which a titre cannot be read."""
    # Nearly everybody is done with by now. A mean of 20.33 may be that of fewer runs, 20.325; 24.38 cm³ is 0.0244 dm³.
    behind = [one for one in means_behind(student) if calc.blank_titre is None or one < calc.blank_titre]
    rounded = {Fraction(one): mean for mean in starts[::-1] for one in rounded_means(mean, calc.significant_figures)}
    whole = {mean: mean for mean in (*starts, *behind)}
    judged = _judged_as_written(student, calc, tuple({**whole, **rounded}), _by_run(student))
    if judged.mean is not None:  # what is said of it is said of the mean before it was rounded
        mean = {**rounded, **whole}[judged.mean]
        expected = in_unit(calc, judged.unit).formula.curve.value.at(mean)
        judged = judged._replace(mean=mean, expected=judged.expected if expected is None else expected)
    unread = () if judged.right else tuple(dict.fromkeys(unread_means(student, within)))
    perhaps = _judged_as_written(student, calc, unread, ()) if unread else judged
    return perhaps._replace(uncheckable=True) if perhaps.right and unread else judged


def _judged_as_written(
    student: Student, calc: Calculation, starts: tuple[Fraction, ...], by_run: tuple[Titres, ...]
) -> OwnResult:
    """Return the judgement of a result in the unit that stands beside it, or else as a number in the unit asked for.

    A unit may be of another quantity of the substance; or it is a slip of the pen beside the number asked for.
    """
    written, decimals = student.own_result or Decimal(0), student.own_result_decimals
    own = student.own_result_unit
    units = dict.fromkeys((own if own in calc.related else "", ""))
    judged = [_judged(in_unit(calc, unit), starts, by_run, written, decimals)._replace(unit=unit) for unit in units]
    return next((one for one in judged if one.right), judged[0])


def is_of_another_kind(student: Student, calc: Calculation) -> bool:
    """Return whether the unit beside a written result belongs to nothing that the result can be turned into."""
    return student.own_result_unit not in ("", *calc.related)


def without_result(student: Student) -> Student:
    """Return a student whose written result is of something else than was asked for (520 mg, not a percentage)."""
    return replace(student, own_result=None, odd={**student.odd, "result": student.result_in_words})


@lru_cache(maxsize=1 << 15)
def _judged(
    calc: Calculation, starts: tuple[Fraction, ...], by_run: tuple[Titres, ...], written: Decimal, decimals: int | None
) -> OwnResult:
    """Return the judgement of a result; in a large cohort many students have the same mean and the same result."""
    # A bare 0 is what anything small rounds to: it says nothing.
    tries = [*((start, ()) for start in starts), (starts[0], by_run)] if written else []
    rests_on, coarse = None, False
    for start, titres in tries:
        reading = own_reading(calc, start, written, decimals, titres)
        if reading is not None and (rests_on is None or not reading.short):
            rests_on, coarse = start, reading.short
            if not coarse:
                break
    whole = rests_on is not None and calc.counts_waters and not visible_decimals(written) and not decimals
    figures = (whole or figures_right(written, decimals, calc.significant_figures)) and not coarse
    expected = calc.formula.curve.value.at(rests_on or starts[0])
    assert expected is not None
    return OwnResult(rests_on is not None, expected, figures, coarse, mean=rests_on)


def _at_blank(calc: Calculation, mean: Fraction, student: Student) -> OwnResult | None:
    """Return that the result follows from a mean that is not below the blank titre: nothing, or less than nothing.

    None where another result is written: it may follow from anything, so that there is nothing to judge.
    """
    expected = calc.formula.curve.value.at(mean)
    if expected is None:
        return None
    written, decimals = student.own_result, student.own_result_decimals
    places = 0 if written is None else visible_decimals(written) if decimals is None else decimals
    return OwnResult(True, expected, True, False) if written in both_roundings(expected, places) else None


def starts_of(student: Student, mean: OwnMean | None) -> tuple[Fraction, ...]:
    """Return the means that the result may fairly rest on [cm³], the student's, as written, first.

    Whoever mistyped a mean may have gone on with the right one: that of the runs ticked, or of a fair set. Where runs
    have numbers of their own, the mean of their results is as good as the result of the mean titre.
    """
    starts = [] if student.own_mean is None or student.own_mean <= 0 else [fraction(student.own_mean)]
    starts += [mean.expected] if mean is not None and mean.expected and student.agreement is None else []
    for places in dict.fromkeys((ticked(student), *student.fair)):
        starts += _means(student, places)
    return tuple(dict.fromkeys(starts))


def _means(student: Student, places: Places) -> Iterator[Fraction]:
    """Yield the means [cm³] of these runs that a result may rest on.

    Where runs have numbers of their own, the mean titre goes with the mean numbers of the runs behind the mean only;
    of any runs the titres count that give their results with these numbers.
    """
    if student.agreement is None or set(places) == set(student.closest):
        yield from means_of(student, places)
    titres = [turned_titre(student.runs[place]) for place in places] if student.agreement is not None else []
    there = [titre for titre in titres if titre is not None]
    if there:
        yield average(there)


def _by_run(student: Student) -> tuple[Titres, ...]:
    """Return the titres of the sets that a result may have been worked out from run by run [cm³]."""
    sets = dict.fromkeys((ticked(student), *student.fair))
    return tuple(
        tuple([titre for place in places if (titre := turned_titre(student.runs[place])) is not None])
        for places in sets
        if len(places) > 1
    )


def turned_titre(run: Run) -> Fraction | None:
    """Return the student's titre [cm³] of a run, turned to the mean of their own numbers where the run has its own."""
    if run.own_titre is None or run.titre is None or run.turned is None:
        return None if run.own_titre is None else cm3(run.own_titre)
    return run.turned * run.own_titre / run.titre
