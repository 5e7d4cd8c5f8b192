"""Numbers of the students' own, nearest owner first: run, student, group, practical.

Each student (and each run that owns one) has the practical's formula with their own numbers in it. A number that is
missing leaves no result; one far from everybody else's is used as it is written, and said.

Where runs have numbers of their own (0.5105 g in one, 0.4876 g in another) results must agree rather than titres. Every
run then gives a result; the set behind the mean is chosen among these, and the student's result is their mean. What is
looked at in titres all the same (the bench, the spread of a hand) is looked at in titres turned to the mean of their
own numbers: those that would have given the very results.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from math import log
from statistics import median
from typing import Any

import numpy as np

from labmark.analyse.arrays import FloatArray, IntArray
from labmark.analyse.concordance import Concordance, concordance
from labmark.analyse.robust import made
from labmark.analyse.titres import RunTable
from labmark.diagnose.plain import titre_right
from labmark.diagnose.working_means import mean_is_right, means_of
from labmark.facts import Agreement, Owned, Places, Run, Student, cm3
from labmark.figures import in_figures
from labmark.findings import KINDS
from labmark.formula import Formula, Input, Owner, Working
from labmark.practical import Practical
from labmark.practical.load import practical_with
from labmark.practical.model import FromSheet
from labmark.practical.own import OWN
from labmark.records import ClassSheet, Finding, OwnInput
from labmark.units import shown_unit
from labmark.volumes import as_written, shown
from labmark.words import listed

REFERENCE = "reference.value"
MAY_BE_NOTHING = ("blank.titre",)
FAR = 2
"""A number this many times larger or smaller than the middle one may be far off,"""
FAR_FROM_ALL = 6
"""if it is also so many robust standard deviations (of logarithms) away: masses may be meant to differ widely."""
_OF_RUNS = ("student", "label", "kind", "struck", "inputs")
_WITHOUT = "A number of your own is missing, so your teacher will look at this with you."
_WITHOUT_TITRE = "A titre that the result rests on is missing, so your teacher will look at this with you."
_NOTHING = "Nothing of your titres is left for the sample, so that is being checked."
_DOUBT = "A number of your own is far from everybody else's, so it is being checked."
FITS = 0.05
"""A result no further than this share from the middle one bears out a number that is far off."""
FEWEST = 3
"""Numbers that have a middle one."""
FINE = 10**9
"""Results are compared as whole numbers of which so many make a middling one."""
SHOWN = 6
"""Significant figures that the mean of own numbers is shown to."""


@dataclass(frozen=True)
class Numbers:
    """The own numbers of one student and of the runs."""

    owned: tuple[Owned, ...] = ()
    findings: tuple[Finding, ...] = ()
    """`missing-input` and `implausible-input`."""
    beside: tuple[Input, ...] = ()
    """The student's titres of other endpoints or titrations that the result rests on."""
    beside_of: Mapping[str, tuple[Input, ...]] = field(default_factory=dict)
    """Label of a run -> its own ones, where runs have numbers of their own."""
    without: bool = False
    """One of these is missing."""

    def of(self, run: str | None) -> list[Input]:
        """Return the numbers that count for a run (None: for the student), the nearest owner's last."""
        return [
            *self.beside_of.get(run or "", self.beside),
            *(each.input for each in self.owned if each.run in (None, run)),
        ]

    def lacks(self, run: str | None) -> bool:
        """Return whether a number that the result needs is missing, for the student or for this run."""
        return self.without or any(
            each.finding == "missing-input" and each.run in (None, run) for each in self.findings
        )

    def misses_one_of(self, student: Student) -> bool:
        """Return whether a run that the student may have taken the mean of lacks a number of its own."""
        any_ticked = any(run.ticked for run in student.runs)
        taken = (run for run in student.accurate if run.ticked or not any_ticked)
        return not self.lacks(None) and any(self.lacks(run.label) for run in taken)

    def waits(self, unjudged: bool, *, nothing: bool = False) -> dict[str, str]:
        """Return which criteria wait for a number, with the reason; `unjudged` says that no result was judged.

        `nothing` says that the blank (or another titre) leaves nothing of the titres.
        """
        if nothing:
            return dict.fromkeys(("calculation", "figures", "accuracy"), _NOTHING)
        if self.lacks(None):
            why = _WITHOUT_TITRE if self.without else _WITHOUT
            return dict.fromkeys(("calculation", "figures", "accuracy"), why)
        if unjudged and not self.far:
            return {"calculation": _WITHOUT} if any(each.run is not None for each in self.findings) else {}
        return dict.fromkeys(("accuracy", "calculation") if unjudged else ("accuracy",), _DOUBT) if self.far else {}

    @property
    def far(self) -> bool:
        """Return whether a number is implausible."""
        return any(each.finding == "implausible-input" for each in self.findings)


def with_typical(practical: Practical, sheet: ClassSheet) -> Practical:
    """Return the practical with the middle one of the students' own numbers where it gives none for all.

    The class as a whole is looked at with it. Raises InputError where it does not fit together.
    """
    middle: dict[str, Decimal] = {}
    for key, given in practical.own.items():
        there = (own[key] for table in (sheet.students, sheet.runs) for own in table["inputs"] if key in own)
        usable = sorted(each for own in there if (each := _usable(key, own)) is not None)
        if usable and given.default is None:
            middle[key] = usable[len(usable) // 2]
    return practical_with(practical, middle) if middle else practical


def own_numbers(practical: Practical, formula: Formula, sheet: ClassSheet) -> tuple[Numbers, ...]:
    """Return every student's own numbers."""
    if not practical.own:
        return (Numbers(),) * len(sheet.students)
    runs: dict[int, dict[str, Mapping[str, OwnInput]]] = {}
    for student, label, kind, struck, inputs in zip(*(sheet.runs[name] for name in _OF_RUNS), strict=True):
        if inputs or (kind != "rough" and not struck):  # nobody weighs exactly for a rough, or for a run given up
            runs.setdefault(int(student), {})[str(label)] = inputs
    found = [
        Numbers() if row["absent"] else _numbers(practical, formula, dict(row), runs.get(place, {}))
        for place, row in enumerate(sheet.students.rows())
    ]
    middles = {key: _middle(found, key) for key in practical.own if key not in MAY_BE_NOTHING}
    return tuple(replace(one, findings=(*one.findings, *_far(one, middles, practical))) for one in found)


def _numbers(
    practical: Practical, formula: Formula, row: Mapping[Any, Any], runs: Mapping[str, Mapping[str, OwnInput]]
) -> Numbers:
    owned: list[Owned] = []
    findings: list[Finding] = []
    for key, given in practical.own.items():
        blank = Input(key, "number", None, OWN[key].unit or practical.unit)
        plain = formula.of.get(key, blank)
        needed = key in formula.of or key == REFERENCE
        by_run = {label: inputs[key] for label, inputs in runs.items() if key in inputs}
        nearest = _nearest(plain, given, row, key)
        if nearest is not None:
            owned.append(Owned(nearest, None))
        for label, own in by_run.items():
            value = _usable(key, own)
            if value is not None:
                owned.append(Owned(_input(plain, own, "run"), label))
            elif needed:
                findings.append(_missing(given, own, label, ()))
        if nearest is None and given.default is None and needed:
            lacking = [label for label in runs if label not in by_run] if by_run else [None]
            cells = tuple(row["cells"].values())[:1]
            findings += [_missing(given, row["inputs"].get(key), label, cells) for label in lacking]
    return Numbers(tuple(owned), tuple(findings))


def _nearest(plain: Input, given: FromSheet, row: Mapping[Any, Any], key: str) -> Input | None:
    """Return the student's own number, or that of the student's group; None where there is none that can be used."""
    own = row["inputs"].get(key)
    if own is not None:
        return None if _usable(key, own) is None else _input(plain, own, "student")
    if given.by is None:
        return None
    value = given.of_group(row["groups"])
    if value is None:
        return None
    return replace(plain, value=Fraction(value), text=f"{value}", owner="group", source=row["cells"].get(given.by, ""))


def _usable(key: str, own: OwnInput) -> Decimal | None:
    value = own.value
    return value if value is not None and (value > 0 or (value == 0 and key in MAY_BE_NOTHING)) else None


def _input(plain: Input, own: OwnInput, owner: Owner) -> Input:
    assert own.value is not None
    text = f"{as_written(own.value, own.decimals):f}"
    return replace(plain, value=Fraction(own.value), text=text, owner=owner, source=own.cells[0])


def _missing(given: FromSheet, own: OwnInput | None, run: str | None, cells: tuple[str, ...]) -> Finding:
    heading = given.heading
    name = f"{heading}{_of_run(run)}"
    if own is None:
        what = f"{name} is blank" if given.column else f"the practical has no value for this {heading}"
    elif own.value is None:
        what = f"{name} holds “{own.odd}”, which is not a number" if own.odd else f"{name} is incomplete"
    else:
        what = f"{name} is {own.value:f}, which cannot be"
    ending = "this run gives no result" if run else "the result cannot be worked out"
    message = f"{what[:1].upper()}{what[1:]}: without it {ending}."
    kind = KINDS["missing-input"]
    evidence = {"input": given.column or heading}
    return Finding(kind.code, message, kind.level, run, None, own.cells if own else cells, evidence)


def _of_run(run: str | None) -> str:
    return "" if run is None else f" of run {run}" if run.isdigit() else f" of the {run.lower()}"


def _middle(found: Sequence[Numbers], key: str) -> tuple[float, float] | None:
    """Return the middle logarithm of a number over the class and its robust spread."""
    inputs = (each.input for one in found for each in one.owned if each.input.name == key)
    logs = [log(each.value) for each in inputs if each.value]
    if len(logs) < FEWEST:
        return None
    middle = median(logs)
    return middle, float(made([each - middle for each in logs]))


def _far(one: Numbers, middles: Mapping[str, tuple[float, float] | None], practical: Practical) -> Iterator[Finding]:
    for each in one.owned:
        middle = middles.get(each.input.name)
        if middle is None or not each.input.value or each.input.owner == "group":
            continue
        away = abs(log(each.input.value) - middle[0])
        if away <= max(log(FAR), FAR_FROM_ALL * middle[1]):
            continue
        heading, unit = practical.own[each.input.name].heading, shown_unit(each.input.unit)
        times = "larger" if log(each.input.value) > middle[0] else "smaller"
        message = (
            f"{heading}{_of_run(each.run)} is {each.input.text} {unit}, far {times} than everybody else's: it is used "
            "as written. Compare it with the notebook; a digit or the decimal point may be out of place."
        )
        kind = KINDS["implausible-input"]
        evidence = {"input": each.input.name, "value": float(each.input.value)}
        yield Finding(kind.code, message, kind.level, each.run, None, (each.input.source,), evidence)


def borne_out(numbers: Sequence[Numbers], results: FloatArray, formula: Formula) -> tuple[Numbers, ...]:
    """Return the numbers without doubt of one with which the readings give what everybody else's give.

    Who weighed half as much, or took a smaller pipette, has such a number and a titre that goes with it. `results` (n,)
    are those of the students, NaN where there is none; of a run that is doubted the mean of all says nothing.
    """
    usual = [result for one, result in zip(numbers, results.tolist(), strict=True) if not one.far and result == result]
    if len(usual) < FEWEST:
        return tuple(numbers)
    middle = median(usual)
    return tuple(
        replace(one, findings=tuple(each for each in one.findings if not _is_of_result(each, formula)))
        if one.far and abs(result - middle) <= FITS * abs(middle)
        else one
        for one, result in zip(numbers, results.tolist(), strict=True)
    )


def _is_of_result(finding: Finding, formula: Formula) -> bool:
    """Return whether a student's number that is doubted is one that the result is worked out from."""
    of_student = finding.finding == "implausible-input" and finding.run is None
    return of_student and finding.evidence["input"] in formula.of


def as_read(student: Student, blank: Fraction) -> Student:
    """Return a student who took the blank [cm³] off their titres with these as they were read; others as they are."""
    off = round(blank * 1000)
    written = [run for run in student.runs if run.written is not None and run.titre is not None]
    net = bool(off and written) and all(
        titre_right(replace(run, written=(run.written or 0) + off)) and not titre_right(run) for run in written
    )
    runs = tuple(
        replace(run, written=run.written + off, net=off) if net and run.written is not None else run
        for run in student.runs
    )
    student, own, less = replace(student, runs=runs), student.own_mean, Decimal(off) / 1000
    if own is not None and off and not _is_mean(student, own) and (net or _is_mean(student, own + less)):
        return replace(student, own_mean=own + less, net=less)
    return student


def as_titre(student: Student, blank: Fraction) -> Student:
    """Return a student of a back titration who wrote what the sample saved [cm³] with the mean titre behind it."""
    own = student.own_mean
    if own is None or _is_mean(student, own):
        return student
    means = (mean for places in student.fair for mean in means_of(student, places))
    mean = next((mean for mean in means if mean_is_right(own, blank - mean)), None)
    if mean is None:
        return student
    kept, off = (Decimal(each.numerator) / Decimal(each.denominator) for each in (mean, blank - mean))
    return replace(student, own_mean=kept, net=kept - off, saved=own)


def _is_mean(student: Student, own: Decimal) -> bool:
    return any(mean_is_right(own, mean) for places in student.fair for mean in means_of(student, places))


# --- where results must agree ---


def is_by_result(practical: Practical, formula: Formula, numbers: Sequence[Numbers]) -> bool:
    """Return whether results must agree rather than titres."""
    asked = practical.file.concordance.of
    owned = any(each.run and each.input.name in formula.of for one in numbers for each in one.owned)
    return owned if asked is None else asked == "result"


def results_of(
    formula: Formula, numbers: Sequence[Numbers], table: RunTable, labels: Sequence[str]
) -> tuple[list[list[Formula]], list[list[Fraction | None]]]:
    """Return the formula and the result of every run."""
    formulas: list[list[Formula]] = []
    results: list[list[Fraction | None]] = []
    for one, rows, titres in zip(numbers, table.row.tolist(), table.titre.tolist(), strict=True):
        names = [labels[row] if row >= 0 else None for row in rows]
        own = [formula.given(one.of(name)) for name in names]
        formulas.append(own)
        results.append(
            [
                None if name is None or one.lacks(name) or titre <= 0 else result_of(each, cm3(titre))
                for name, each, titre in zip(names, own, titres, strict=True)
            ]
        )
    return formulas, results


def result_of(formula: Formula, titre: Fraction) -> Fraction | None:
    """Return the result of a titre [cm³]; None where there is none above zero."""
    return formula.curve.result(titre) if formula.curve.gives(titre) else None


def agreeing(
    practical: Practical, table: RunTable, results: Sequence[Sequence[Fraction | None]]
) -> tuple[RunTable, Concordance]:
    """Return the sets of results that agree; a run without a result is usable no more."""
    there = sorted(each for row in results for each in row if each is not None)
    middle = there[len(there) // 2] if there else Fraction(1)
    fine = [[0 if each is None else round(each / middle * FINE) for each in row] for row in results]
    whole = np.array(fine, dtype=np.int64).reshape(table.titre.shape)
    table = replace(table, usable=table.usable & (whole > 0))
    limit = Fraction(practical.file.concordance.within_percent) / 100
    return table, concordance(whole, table.usable, limit, practical.file.concordance.at_least, table.decided)


def inputs_over(numbers: Numbers, student: Student, places: Places) -> list[Input]:
    """Return a student's own numbers as the mean over some runs."""
    of_runs = [{each.name: each for each in numbers.of(student.runs[place].label)} for place in places]
    found = {each.name: each for each in numbers.of(None)}
    for name in dict.fromkeys(name for own in of_runs for name in own):
        each = [own[name] for own in of_runs if name in own]
        values = [one.value for one in each if one.value is not None]
        mean = sum(values, Fraction(0)) / len(values)
        found[name] = each[0] if len(set(values)) == 1 else replace(each[0], value=mean, text=in_figures(mean, SHOWN))
    return list(found.values())


def with_results(
    student: Student,
    results: Sequence[Fraction | None],
    sets: Concordance,
    place: int,
    limit: Decimal,
    numbers: Numbers,
    formula: Formula,
) -> Student:
    """Return a student whose runs have results, and whose mean titre is that of the runs behind the mean.

    `limit` is how far results that agree may lie apart [per cent].
    """
    runs = tuple(replace(run, result=result) for run, result in zip(student.runs, results, strict=False))
    used = [run for run in runs if run.in_mean]
    if not used:
        return replace(
            student,
            runs=runs,
            mean=None,
            span=None,
            tightest=None,
            fair=(),
            agreement=Agreement(Fraction(0), None, limit),
        )
    mean = sum((cm3(run.titre or 0) for run in used), Fraction(0)) / len(used)
    whole = Fraction(int(sets.total[place]), int(sets.count[place]))
    formula = formula.given(
        inputs_over(numbers, student, tuple(place for place, run in enumerate(runs) if run.in_mean))
    )
    spread, tightest = (100 * Fraction(int(each)) / whole for each in (sets.span[place], sets.tightest[place]))
    return replace(
        student,
        runs=runs,
        mean=mean,
        span=_of_titre(spread, mean, formula),
        tightest=_of_titre(tightest, mean, formula) if tightest >= 0 else None,
        fair=sets.sets[place] or (student.closest,),
        agreement=Agreement(spread, tightest if tightest >= 0 else None, limit),
    )


def _of_titre(apart: Fraction, mean: Fraction, formula: Formula) -> int:
    """Return how many µL of titre results are apart that differ by a share of theirs [per cent].

    `mean` is the mean titre [cm³]. What is left of a reagent, or of a blank, differs by less than the same share.
    """
    result = result_of(formula, mean)
    ends = [] if result is None else [formula.curve.titre(result * (1 + way * apart / 200)) for way in (1, -1)]
    there = [each for each in ends if each is not None]
    return round((max(there) - min(there)) * 1000) if len(there) > 1 else round(apart * mean * 10)


def turned(student: Student, formula: Formula) -> Student:
    """Return a student whose runs have the titres that would have given their results by one formula."""
    runs = (run if run.result is None else replace(run, turned=formula.curve.titre(run.result)) for run in student.runs)
    return replace(student, runs=tuple(runs))


def turned_titres(students: Sequence[Student], table: RunTable) -> IntArray:
    """Return the titres (n, r) [µL], turned where they are."""
    titres = table.titre.copy()
    for place, student in enumerate(students):
        for at, run in enumerate(student.runs):
            if run.turned is not None:
                titres[place, at] = round(run.turned * 1000)
    return titres


def with_expected(student: Student, formulas: Sequence[Formula], reference: Fraction | None) -> Student:
    """Return a student with the titre that the reference gives for each run's own numbers, and their mean."""
    if reference is None or student.expected_titre is None:
        return student
    runs = tuple(
        replace(run, expected=formula.curve.titre(reference))
        for run, formula in zip(student.runs, formulas, strict=False)
    )
    expected = [run.expected for run in runs if run.in_mean and run.expected is not None]
    whole = sum(expected, Fraction(0)) / len(expected) if expected else student.expected_titre
    return replace(student, runs=runs, expected_titre=whole)


def steps_by_run(
    student: Student, formulas: Sequence[Formula], figures: int, unit: str
) -> tuple[Mapping[str, object], ...]:
    """Return the working of the first run behind the mean with its own numbers, and then the mean of the results."""
    used = [(run, formula) for run, formula in zip(student.runs, formulas, strict=False) if run.in_mean]
    if not used:
        return ()
    run, formula = used[0]
    steps = formula.working(figures, titre=shown(run.titre or 0))
    made = [replace(step, what=step.what.replace("in the mean titre", "in the titre")) for step in steps]
    made[-1] = replace(made[-1], what=f"{made[-1].what}, from run {run.label}")
    results = [each.result for each, _ in used if each.result is not None]
    mean = sum(results, Fraction(0)) / len(results)
    numbers = " + ".join(in_figures(each, figures) for each in results)
    text = f"{in_figures(mean, figures)} {shown_unit(unit)}".strip()
    what = f"mean of the results of runs {listed([each.label for each, _ in used])}"
    made.append(Working(what, "sum ÷ number of runs", f"({numbers}) ÷ {len(results)}", float(mean), unit, text))
    return tuple(asdict(step) for step in made)


def alone_in(student: Student, run: Run) -> Student:
    """Return a student with one run only and its own result, to be judged by themselves."""
    return replace(
        student,
        runs=(replace(run, turned=None),),
        sets=((0,),),
        fair=((0,),),
        own_mean=None,
        own_result=run.own_result,
        own_result_decimals=run.own_result_decimals,
        cells={**student.cells, "result": run.cells["result"]},
    )
