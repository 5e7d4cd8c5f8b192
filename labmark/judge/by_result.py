"""Where results must agree rather than titres, since runs have numbers of their own.

Of 0.5105 g in one run and 0.4876 g in another every run gives a result; the set behind the mean is chosen among these,
and the student's result is their mean. What is looked at in titres all the same (the bench, the spread of a hand) is
looked at in titres turned to the mean of their own numbers: those that would have given the very results.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from decimal import Decimal
from fractions import Fraction

from labmark.agreeing import with_mean
from labmark.dataclass import replace
from labmark.exact import PER_CM3, average, in_figures, shown
from labmark.facts import Agreement, OwnValue, Places, Run, Student, cm3
from labmark.formula import Formula, Input, Working
from labmark.judge.owned import Numbers
from labmark.practical import Practical
from labmark.units import shown_unit
from labmark.words import listed

Results = Sequence[Fraction | None]
"""Of a student's runs; None where a run gives none."""
FINE = 10**9
"""Results are compared as whole numbers of which so many make a middling one."""
SHOWN = 6
"""Significant figures that the mean of own numbers is shown to."""


def is_by_result(practical: Practical, formula: Formula, numbers: Sequence[Numbers]) -> bool:
    """Return whether results must agree rather than titres."""
    asked = practical.file.concordance.of
    owned = any(each.run and each.input.name in formula.of for one in numbers for each in one.owned)
    return owned if asked is None else asked == "result"


def result_of(formula: Formula, own: Numbers, run: Run) -> Fraction | None:
    """Return what a run gives with its own numbers; None where one of them is missing."""
    return None if own.lacks(run.label) else formula.given(own.of(run.label)).curve.result(cm3(run.titre or 0))


def agreeing(practical: Practical, students: Sequence[Student], results: Sequence[Results]) -> Iterator[Student]:
    """Yield the students with the results of their runs, of which one without is usable no more, and with their means.

    How far apart these lie is still said as for titres, in whole numbers of which `FINE` make a middling result.
    """
    there = sorted(each for row in results for each in row if each is not None)
    middle = there[len(there) // 2] if there else Fraction(1)
    limit = Fraction(practical.file.concordance.within_percent) / 100
    for student, row in zip(students, results, strict=True):
        fine = [0 if each is None else round(each / middle * FINE) for each in row]
        runs = tuple(
            replace(run, result=result, usable=run.usable and number > 0)
            for run, result, number in zip(student.runs, row, fine, strict=True)
        )
        yield with_mean(replace(student, runs=runs), fine, limit, practical.file.concordance.at_least)


def inputs_over(numbers: Numbers, student: Student, places: Places) -> list[Input]:
    """Return a student's own numbers as the mean over some runs."""
    of_runs = [{each.name: each for each in numbers.of(student.runs[place].label)} for place in places]
    found = {each.name: each for each in numbers.of(None)}
    for name in dict.fromkeys(name for own in of_runs for name in own):
        each = [own[name] for own in of_runs if name in own]
        values = [one.value for one in each if one.value is not None]
        mean = average(values)
        one = replace(each[0], value=mean, text=in_figures(mean, SHOWN), whole=None)
        found[name] = each[0] if len(set(values)) == 1 else one
    return list(found.values())


def with_results(student: Student, limit: Decimal, formula: Formula) -> Student:
    """Return a student whose results agree, or not, with how closely, and with the mean titre behind them.

    `limit` is how far results that agree may lie apart [per cent]; `formula` holds the mean of the student's own
    numbers over these runs.
    """
    used = [run.titre or 0 for run in student.runs if run.in_mean]
    if not used or student.mean is None:
        nothing = Agreement(Fraction(0), None, limit)
        return replace(student, mean=None, span=None, tightest=None, fair=(), agreement=nothing)
    mean, share = average(map(cm3, used)), 100 / (student.mean * PER_CM3)
    spread, tightest = (None if each is None else each * share for each in (student.span, student.tightest))
    apart = [None if each is None else _of_titre(each, mean, formula) for each in (spread, tightest)]
    close = Agreement(spread or Fraction(0), tightest, limit)
    fair = student.sets or (student.closest,)
    return replace(student, mean=mean, span=apart[0], tightest=apart[1], fair=fair, agreement=close)


def with_chosen_results(student: Student, close: Agreement) -> Student:
    """Return a student by the runs in the mean, with how closely their results agree and the titre expected of them."""
    results = [run.result for run in student.runs if run.in_mean and run.result is not None]
    close = close._replace(spread=(max(results) - min(results)) / average(results) * 100)
    return replace(student, agreement=close, expected_titre=_expected_of(student.runs) or student.expected_titre)


def _of_titre(apart: Fraction, mean: Fraction, formula: Formula) -> int:
    """Return how far apart in titre [µL] two results are that lie `apart` per cent of their mean from one another.

    `mean` is the mean titre [cm³]. In a back titration, or beside a blank, it does not change by the same share.
    """
    result = formula.curve.result(mean)
    ends = [] if result is None else [formula.curve.titre(result * (1 + way * apart / 200)) for way in (1, -1)]
    there = [each for each in ends if each is not None]
    return round((max(there) - min(there)) * 1000) if len(there) > 1 else round(apart * mean * 10)


def turned(student: Student, formula: Formula) -> Student:
    """Return a student whose runs have the titres that would have given their results by one formula."""
    runs = (run if run.result is None else replace(run, turned=formula.curve.titre(run.result)) for run in student.runs)
    return replace(student, runs=tuple(runs))


def with_expected(student: Student, formulas: Sequence[Formula], reference: Fraction | None) -> Student:
    """Return a student with the titre that the reference gives for each run's own numbers, where it has them, and
    their mean."""
    if reference is None or student.expected_titre is None:
        return student
    runs = tuple(
        replace(run, expected=None if run.result is None else formula.curve.titre(reference))
        for run, formula in zip(student.runs, formulas, strict=True)
    )
    return replace(student, runs=runs, expected_titre=_expected_of(runs) or student.expected_titre)


def _expected_of(runs: Sequence[Run]) -> Fraction | None:
    """Return the mean of the titres expected of the runs in the mean; None where none is."""
    expected = [run.expected for run in runs if run.in_mean and run.expected is not None]
    return average(expected) if expected else None


def steps_by_run(
    student: Student, formulas: Sequence[Formula], figures: int, unit: str
) -> tuple[Mapping[str, object], ...]:
    """Return the working of the first run behind the mean with its own numbers, and then the mean of the results."""
    used = [(run, formula) for run, formula in zip(student.runs, formulas, strict=True) if run.in_mean]
    if not used:
        return ()
    run, formula = used[0]
    steps = formula.working(figures, titre=shown(run.titre or 0))
    made = [replace(step, what=step.what.replace("in the mean titre", "in the titre")) for step in steps]
    made[-1] = replace(made[-1], what=f"{made[-1].what}, from run {run.label}")
    results = [each.result for each, _ in used if each.result is not None]
    mean = average(results)
    numbers = " + ".join(in_figures(each, figures) for each in results)
    text = f"{in_figures(mean, figures)} {shown_unit(unit)}".strip()
    what = f"mean of the results of runs {listed([each.label for each, _ in used])}"
    made.append(Working(what, "sum ÷ number of runs", f"({numbers}) ÷ {len(results)}", float(mean), unit, text))
    return tuple(asdict(step) for step in made)


def alone_in(student: Student, run: Run) -> Student:
    """Return a student with one run only and its own result, to be judged by themselves."""
    student = student.with_own("result", OwnValue(run.own_result, run.own_result_decimals, run.at("result")))
    return replace(student, runs=(replace(run, turned=None),), sets=((0,),), fair=((0,),), own_mean=None)
