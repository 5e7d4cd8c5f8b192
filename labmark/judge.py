"""From a class sheet and a practical to a judged class: every stage in order, all of it pure.

    titres ─> concordant sets, means ─> results ─> the class ─> what went wrong ─> marks

Reference doubt and shifted groups are found first and taken out before anybody is judged, so that a bad bottle does
not become so many students who overshoot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labmark.analyse import scores
from labmark.analyse.chemistry import Conversion, conversion, steps
from labmark.analyse.claims import own_mean
from labmark.analyse.concordance import Concordance, concordance
from labmark.analyse.precision import Precision, precision
from labmark.analyse.reference import ReferenceTest, reference_test
from labmark.analyse.robust import RobustEstimate, algorithm_a
from labmark.analyse.students import asked, students_of
from labmark.analyse.titres import RunTable, run_table
from labmark.analyse.uncertainty import Repeatability
from labmark.assessed import Assessed, ReferenceValue, Uncertain
from labmark.diagnose.bench import BenchDiagnosis
from labmark.diagnose.plain import Setting, plain_findings
from labmark.diagnose.working import Calculation
from labmark.facts import Asked, OwnMean, Student
from labmark.joins import bench, classwide, working
from labmark.joins.glass import glasses
from labmark.joins.uncertainty import budgets, school_percents
from labmark.mark import Case, can_be_marked, marks, titre_for_accuracy
from labmark.practical import Practical
from labmark.problems import InputError, Problem
from labmark.records import ClassSheet, Finding
from labmark.tree import JudgedClass, mean_text
from labmark.volumes import fraction, microlitres, round_fraction

Floats = NDArray[np.float64]

FEWEST_FOR_CONSENSUS = 3
"""Students whose results must be there before the class can be its own reference."""


@dataclass(frozen=True)
class _Worked:
    """What the readings of a class give, before anything is held against anything."""

    table: RunTable
    sets: Concordance
    students: tuple[Student, ...]
    curve: Conversion
    titres: Floats
    """(n,) mean titres [cm³]; NaN where there is none."""
    results: Floats
    """(n,) results; NaN where there is none."""
    robust: RobustEstimate
    precision: Precision
    repeatability: Repeatability | None
    """Of a single titre [cm³]."""


def judge(sheet: ClassSheet, practical: Practical) -> JudgedClass:
    """Return the judged class. Raises InputError where sheet and practical do not fit together."""
    worked = _work_out(sheet, practical)
    references = _references(worked, practical, sheet)
    common = _common_reference(references)
    expected = _expected(references, worked.curve)
    worked = replace(
        worked,
        students=tuple(
            replace(student, expected_titre=titre) for student, titre in zip(worked.students, expected, strict=True)
        ),
    )
    test, figures = _class_figures(worked, practical, references, expected)
    diagnosis = _diagnose(worked, practical, references, expected, figures, test)
    room = asked(sheet.runs, sheet.students, worked.table)
    fair = _fair(worked, references, figures, doubtful=test is not None and test.doubtful)
    assessed = _assess(worked, practical, references, diagnosis, room, fair)
    present = sum(not student.absent for student in worked.students)
    shared = classwide.common_faults([one.findings for one in assessed], present)
    figures = replace(figures, findings=(*figures.findings, *shared))
    return JudgedClass(
        sheet,
        practical,
        worked.curve,
        assessed,
        common,
        figures,
        _sigma(practical, common),
        _bands(practical, worked.curve, common),
        [each.criterion for each in practical.file.marks if not can_be_marked(each.criterion, room)],
    )


def setting_of(practical: Practical) -> Setting:
    """Return the practical's limits in microlitres."""
    given = practical.file
    return Setting(
        capacity=microlitres(given.burette.capacity),
        step=max(1, microlitres(given.burette.division) // 2),
        within=microlitres(given.concordance.within),
        at_least=given.concordance.at_least,
    )


def _work_out(sheet: ClassSheet, practical: Practical) -> _Worked:
    setting = setting_of(practical)
    table = run_table(sheet.runs, len(sheet.students), setting.capacity)
    sets = concordance(table.titre, table.usable, setting.within, setting.at_least)
    students = tuple(students_of(sheet.runs, sheet.students, table, sets))
    curve = conversion(practical)
    with np.errstate(invalid="ignore"):
        titres = np.where(sets.count > 0, sets.total / np.maximum(sets.count, 1) / 1000, np.nan)
    used = np.nonzero(sets.in_mean)
    single = table.titre[used] / 1000
    spread = precision(single, used[0])
    sd, dof = spread.repeatability_sd, spread.dof
    results = curve.results(titres)
    return _Worked(
        table,
        sets,
        students,
        curve,
        titres,
        results,
        algorithm_a(results),
        precision(curve.results(single), used[0]),
        Repeatability(sd, dof) if sd is not None and sd > 0 else None,
    )


def _references(worked: _Worked, practical: Practical, sheet: ClassSheet) -> list[ReferenceValue | None]:
    """Return what each student is held against: the practical's value, by bottle if it says so, or the class's."""
    given = practical.file.reference
    if given is None:
        return [_consensus(worked)] * len(worked.students)
    u = None if given.standard_uncertainty is None else float(given.standard_uncertainty)
    default = None if given.value is None else ReferenceValue(float(given.value), u, "practical", Fraction(given.value))
    if given.by is None:
        return [default] * len(worked.students)
    problems, found = [], []
    for student in worked.students:
        entry = student.groups.get(given.by)
        value = given.values.get(entry) if entry else None
        if value is None and entry and default is None and not student.absent:
            problems.append(_no_reference(student, given.by, entry, sheet, list(given.values)))
        found.append(default if value is None else ReferenceValue(float(value), u, "practical", Fraction(value)))
    if problems:
        raise InputError(problems)
    return found


def _no_reference(student: Student, by: str, entry: str, sheet: ClassSheet, known: list[str]) -> Problem:
    name, _, cell = student.cells.get(by, "").rpartition("!")
    return Problem(
        f"{by} {entry!r} has no reference value in the practical (it has {', '.join(known)})",
        "add it to reference.values, or correct the cell",
        sheet.file,
        name,
        cell,
    )


def _consensus(worked: _Worked) -> ReferenceValue | None:
    """Return the class's robust mean as the reference, with u(x*) = 1.25 s*/√p (ISO 13528:2022, 7.7.3)."""
    robust = worked.robust
    if robust.n < FEWEST_FOR_CONSENSUS or not np.isfinite(robust.mean):
        return None
    return ReferenceValue(
        robust.mean, _finite(robust.standard_uncertainty), "class", Fraction(Decimal(repr(robust.mean)))
    )


def _common_reference(references: Sequence[ReferenceValue | None]) -> ReferenceValue | None:
    """Return the reference of the class: the one that most students have (the first of them at a tie)."""
    there = [each for each in references if each is not None]
    return max(there, key=there.count) if there else None


def _expected(references: Sequence[ReferenceValue | None], curve: Conversion) -> list[Fraction | None]:
    titres: dict[Fraction, Fraction | None] = {}
    return [None if each is None else titres.setdefault(each.exact, curve.titre(each.exact)) for each in references]


def _class_figures(
    worked: _Worked,
    practical: Practical,
    references: Sequence[ReferenceValue | None],
    expected: Sequence[Fraction | None],
) -> tuple[ReferenceTest | None, classwide.ClassFigures]:
    common = _common_reference(references)
    relative = _relative(worked.results, references)
    titre, exponent = _at_reference(worked, common)
    test = _reference_test(worked, relative, common, titre, exponent)
    groupings = classwide.shifted_groups(relative, worked.students, titre, exponent)
    moving = classwide.drift_of(relative, worked.students, titre, exponent)
    unit, digits = practical.unit, practical.file.result.significant_figures
    value = common.value if common else float("nan")
    found = [
        *classwide.reference_finding(test, unit, digits),
        *classwide.group_findings(groupings, unit, value, digits),
        *classwide.drift_finding(moving),
    ]
    return test, classwide.ClassFigures(
        worked.precision, test, groupings, moving, tuple(found), _further(worked, test, groupings, moving, titre)
    )


def _relative(results: Floats, references: Sequence[ReferenceValue | None]) -> Floats:
    """Return every result over its own reference (n,), so that bottles with their own references can be compared."""
    values = np.array([np.nan if each is None else each.value for each in references])
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(results / values)


def _at_reference(worked: _Worked, common: ReferenceValue | None) -> tuple[float, float]:
    """Return the expected titre [cm³] and the relative sensitivity of the result to the titre there."""
    titre = None if common is None else worked.curve.titre(common.exact)
    if titre is None or common is None:
        return float("nan"), 1.0
    return float(titre), worked.curve.sensitivity(float(titre)) * float(titre) / common.value


def _reference_test(
    worked: _Worked, relative: Floats, common: ReferenceValue | None, titre: float, exponent: float
) -> ReferenceTest | None:
    if (
        common is None
        or common.source != "practical"
        or not np.isfinite(titre)
        or worked.robust.n < FEWEST_FOR_CONSENSUS
    ):
        return None
    u = (common.standard_uncertainty or 0.0) / common.value
    test = reference_test(relative, 1.0, u, titre, exponent)
    return replace(
        test,
        reference=common.value,
        reference_uncertainty=test.reference_uncertainty * common.value,
        robust_mean=test.robust_mean * common.value,
        robust_sd=test.robust_sd * common.value,
        shift=test.shift * common.value,
        shift_uncertainty=test.shift_uncertainty * common.value,
    )


def _further(
    worked: _Worked, test: ReferenceTest | None, groupings: Sequence[Any], moving: Any, titre: float
) -> dict[str, Any]:
    there = worked.results[np.isfinite(worked.results)]
    titres = worked.titres[np.isfinite(worked.titres)]
    robust = worked.robust
    return {
        "mean": float(there.mean()) if there.size else None,
        "sd": float(there.std(ddof=1)) if there.size > 1 else None,
        "robust_mean": _finite(robust.mean),
        "robust_sd": _finite(robust.sd),
        "expected_titre": None if not np.isfinite(titre) else float(round_fraction(fraction(repr(titre)), 2)),
        "mean_titre": float(titres.mean()) if titres.size else None,
        "median": _finite(robust.median),
        "made": _finite(robust.made),
        "robust_mean_uncertainty": _finite(robust.standard_uncertainty),
        "repeatability_of_titre": None if worked.repeatability is None else worked.repeatability.sd,
        "precision": classwide.plain(worked.precision),
        "reference_test": classwide.plain(test),
        "groups": classwide.plain(list(groupings)),
        "drift": classwide.plain(moving),
    }


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _diagnose(
    worked: _Worked,
    practical: Practical,
    references: Sequence[ReferenceValue | None],
    expected: Sequence[Fraction | None],
    figures: classwide.ClassFigures,
    test: ReferenceTest | None,
) -> BenchDiagnosis:
    titres = np.array([np.nan if each is None else float(each) for each in expected])
    u = np.array([0.0 if each is None else (each.standard_uncertainty or 0.0) / each.value for each in references])
    titres = classwide.without_group_shifts(titres, figures.groupings, worked.students)
    by_practical = any(each is not None and each.source == "practical" for each in references)
    doubtful = not by_practical or (test is not None and test.doubtful)
    return bench.diagnose(
        practical, worked.table, worked.sets.in_mean, titres, np.nan_to_num(titres * u), doubtful=doubtful
    )


@dataclass(frozen=True)
class _Fair:
    """What each student is fairly held against where the reference is in doubt or a group differs."""

    values: Floats
    """(n,) fair reference values, in the unit of the result; the student's own reference where nothing is in doubt."""
    circumstances: tuple[str, ...]
    """What each student should know; empty where there is nothing."""


_DOUBT = "The class as a whole disagrees with the reference, so the reference is being checked."
_SHIFT = "{} as a whole differs from the rest, so its solutions and glassware are being checked."


def _fair(
    worked: _Worked, references: Sequence[ReferenceValue | None], figures: classwide.ClassFigures, *, doubtful: bool
) -> _Fair:
    values = np.array([np.nan if each is None else each.value for each in references])
    words = [_DOUBT if doubtful else ""] * len(worked.students)
    if doubtful and figures.reference is not None:
        values = values * (figures.reference.robust_mean / figures.reference.reference)
    for grouping in figures.groupings:
        for group in grouping.groups:
            if group.shifted:
                inside = [student.groups.get(grouping.name) == group.name for student in worked.students]
                values = np.where(inside, values * (1 + group.effect_percent / 100), values)
                words = [_SHIFT.format(group.group) if here else word for here, word in zip(inside, words, strict=True)]
    return _Fair(values, tuple(words))


def _assess(
    worked: _Worked,
    practical: Practical,
    references: Sequence[ReferenceValue | None],
    diagnosis: BenchDiagnosis,
    room: Asked,
    fair: _Fair,
) -> list[Assessed]:
    claims = bench.bench_findings(worked.students, diagnosis)
    uncertain = _uncertainties(worked, practical)
    judging = _Judging(worked, practical, room, working.calculation(practical))
    made = []
    for place, student in enumerate(worked.students):
        reference, result = references[place], _finite(worked.results[place])
        case, findings = judging.case(student, claims.get(place, []))
        given = marks(case, practical.file.marks)
        otherwise = (
            _accuracy_by_class(case, practical, worked.curve, fair.values[place]) if fair.circumstances[place] else None
        )
        made.append(
            Assessed(
                student,
                result,
                reference,
                uncertain[place] if result is not None else None,
                _percent(result, reference),
                _z(result, reference, practical),
                tuple(findings),
                given,
                ()
                if student.mean is None
                else tuple(asdict(step) for step in steps(practical, mean_text(student.mean) or Decimal(0))),
                _likely(diagnosis, place, student),
                _fair_z(result, float(fair.values[place]), reference, practical),
                fair.circumstances[place],
                otherwise,
            )
        )
    return made


def _accuracy_by_class(case: Case, practical: Practical, curve: Conversion, fair: float) -> float | None:
    """Return the accuracy mark if the fair value were the reference, so that a teacher sees it both ways."""
    expected = curve.titre(Fraction(Decimal(repr(float(fair))))) if np.isfinite(fair) else None
    criterion = [each for each in practical.file.marks if each.criterion == "accuracy"]
    again = marks(replace(case, student=replace(case.student, expected_titre=expected)), criterion)
    return float(again[0].mark) if again else None


@dataclass(frozen=True)
class _Judging:
    """What it takes to judge one student after the other."""

    worked: _Worked
    practical: Practical
    room: Asked
    calculation: Calculation

    def case(self, student: Student, claims: list[Finding]) -> tuple[Case, list[Finding]]:
        """Return all that the marks of a student rest on, and the findings in order."""
        given, setting = self.practical.file, setting_of(self.practical)
        mean = None if student.absent else own_mean(student, setting.at_least, setting.within)
        result = working.judged_result(student, mean, self.calculation)
        facts = plain_findings(student, setting)
        slips = list(working.working_findings(student, mean, result, self.calculation, setting.within))
        findings = in_order(student, [*facts, *claims, *slips])
        case = Case(
            student,
            findings,
            mean,
            result,
            self.room,
            setting.at_least,
            setting.within,
            given.result.significant_figures,
            self.practical.unit,
        )
        return case, findings


def in_order(student: Student, findings: Sequence[Finding]) -> list[Finding]:
    """Return findings about runs in the order of the runs, then those about the student."""
    place = {run.label: number for number, run in enumerate(student.runs)}
    return sorted(
        findings, key=lambda each: place.get(each.run, len(place)) if each.run is not None else len(place) + 1
    )


def _likely(diagnosis: BenchDiagnosis, place: int, student: Student) -> dict[str, Decimal]:
    found = {run.label: bench.likely_titre(diagnosis, place, each) for each, run in enumerate(student.runs)}
    return {label: titre for label, titre in found.items() if titre is not None}


def _percent(result: float | None, reference: ReferenceValue | None) -> float | None:
    return None if result is None or reference is None else 100 * (result - reference.value) / reference.value


def _z(result: float | None, reference: ReferenceValue | None, practical: Practical) -> float | None:
    """Return z = (result − reference)/σ (ISO 13528:2022, 9.4)."""
    sigma = _sigma(practical, reference)
    if result is None or reference is None or not sigma:
        return None
    return float(scores.z(result, reference.value, sigma))


def _fair_z(result: float | None, fair: float, reference: ReferenceValue | None, practical: Practical) -> float | None:
    sigma = _sigma(practical, reference)
    return None if result is None or not sigma or not np.isfinite(fair) else (result - fair) / sigma


def _sigma(practical: Practical, reference: ReferenceValue | None) -> float | None:
    """Return σ for the scores: as the practical sets it, or its percentage of the reference."""
    if practical.file.scores.sigma is not None:
        return float(practical.file.scores.sigma)
    return None if reference is None else float(practical.file.scores.sigma_percent) / 100 * reference.value


def _uncertainties(worked: _Worked, practical: Practical) -> list[Uncertain]:
    glass = glasses(practical)
    table = budgets(
        practical, glass, worked.curve, worked.titres, worked.sets.count.astype(float), worked.repeatability
    )
    school = school_percents(practical, glass, worked.titres)
    made = []
    for place in range(len(worked.students)):
        budget = table.of(place)
        rows = [
            {
                "source": row.source,
                "value": row.standard_uncertainty,
                "unit": row.unit,
                "percent": row.percent,
                "share": row.share,
            }
            for row in budget.rows
        ]
        made.append(
            Uncertain(
                budget.standard_uncertainty,
                budget.expanded,
                budget.coverage_factor,
                _finite(budget.dof),
                _finite(float(school[place])),
                tuple(rows),
                budget.sentence,
            )
        )
    return made


def _bands(practical: Practical, curve: Conversion, common: ReferenceValue | None) -> list[dict[str, Any]]:
    """Return the accuracy bands in the unit of the result, best first."""
    criterion = next((each for each in practical.file.marks if each.criterion == "accuracy"), None)
    expected = None if common is None else curve.titre(common.exact)
    if criterion is None or expected is None:
        return []
    made = []
    for band in criterion.bands:
        width = Fraction(band.within) * (1 if criterion.unit == "cm3" else expected / 100)
        if width >= expected:
            continue
        ends = sorted(float(curve.result(titre)) for titre in (expected - width, expected + width))
        made.append(
            {
                "mark": int(band.mark) if band.mark == int(band.mark) else float(band.mark),
                "low": ends[0],
                "high": ends[1],
            }
        )
    return made


__all__ = ["OwnMean", "in_order", "judge", "setting_of", "titre_for_accuracy"]
