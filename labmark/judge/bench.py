"""Bench faults: the class's readings to the diagnosis, and its claims back as findings about students.

Readings that are shared beyond chance are a question to the teacher, never a charge.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import inf
from typing import Any

import numpy as np

from labmark.analyse.arrays import BoolArray, FloatArray, IntArray
from labmark.attempts import are_attempts
from labmark.diagnose.bench import BenchDiagnosis, Claim, diagnose_bench
from labmark.diagnose.bench_input import BenchSetting, RunMatrix
from labmark.diagnose.hypotheses import PIPETTES, pipette_about
from labmark.diagnose.likeness import Likeness, likeness
from labmark.exact import fraction, microlitres, shown
from labmark.facts import Run, Student, cm3, runs_named
from labmark.findings import found
from labmark.formula import Curve, Formula
from labmark.judge.accuracy import limits_of
from labmark.judge.bench_words import Limits, beside, message_of, runs_of
from labmark.judge.case import reading_cells
from labmark.judge.classwide import plain
from labmark.judge.references import References
from labmark.judge.worked import Worked, by_run
from labmark.practical import Practical
from labmark.practical.own import ALIQUOT
from labmark.records import Finding

NEEDS_A_ZERO = ("initial reading taken as zero", "burette not refilled, 0.00 written")
"""Causes that show in an initial reading of 0.00, and in no other."""

Curves = tuple[Curve, Curve]
"""The result of a titre with a student's mean numbers, and with those of the run itself."""


def diagnose(
    practical: Practical, worked: Worked, refs: References, expected: FloatArray, *, doubtful: bool
) -> BenchDiagnosis:
    """Return what most likely happened at the bench.

    expected     (n,) titre that each student is held against [cm³]; NaN where there is none
    doubtful     the class agrees with itself and not with the reference
    """
    later = practical.series.endpoints and practical.series.place > 0
    matrix = _matrix(worked, refs, expected, later=later)
    own = _own_aliquots(worked, expected) if ALIQUOT in practical.own else None
    return diagnose_bench(matrix, _setting(practical, worked.formula, doubtful, own))


def _own_aliquots(worked: Worked, expected: FloatArray) -> tuple[tuple[float, float], ...]:
    """Return the aliquot [cm³] at each expected titre [cm³], where it is that of a pipette and of all runs."""
    if worked.of_runs:
        return ()
    found = zip(expected.tolist(), worked.formulas, strict=True)
    there = {titre: float(one.value or 0) for titre, of in found if (one := of.of.get(ALIQUOT)) is not None}
    return tuple(pair for pair in there.items() if any(abs(pair[1] - size) <= 0.01 * size for size, _ in PIPETTES))


def _matrix(worked: Worked, refs: References, expected: FloatArray, *, later: bool) -> RunMatrix:
    """Return the runs as the diagnosis looks at them; those that tell nothing of the bench are not among them.

    That is so of a rough at a `later` endpoint: how far it went past the first is missing from the next titre.
    """
    first, last, titre = (by_run(worked.students, of, np.int64) for of in ("initial", "final", "titre"))
    rough = by_run(worked.students, "rough", np.bool_)
    judged = _judged(worked, refs, titre)
    # Swapped, where they are the other way round: the record keeps them as they are written.
    counts_down = np.array([one.counts_down for one in worked.students], bool)
    down = by_run(worked.students, "reversed", np.bool_) | counts_down[:, None]
    return RunMatrix(
        np.where(judged, np.where(down, last, first), 0),
        np.where(judged, np.where(down, first, last), 0),
        np.where(judged, worked.turned, 0),
        by_run(worked.students, lambda run: True, np.bool_),
        judged & (worked.are_usable | (rough & (not later))),
        rough,
        expected,
        np.nan_to_num(refs.titre_uncertainties(worked)),
        np.where(judged, titre, 0),
    )


def _judged(worked: Worked, refs: References, titre: IntArray) -> BoolArray:
    """Return which runs (n, r) tell something of the bench; `titre` are theirs [µL]."""
    # With so much sample that no titre gives the reference, titres tell nothing of the bench.
    owned = np.array([bool(one.owned) for one in worked.numbers], bool)
    beyond = owned & np.isnan(refs.titres) & np.isfinite(refs.values)
    judged = by_run(worked.students, _can_be_judged, np.bool_) & ~beyond[:, None]
    if worked.of_runs:  # A titre says nothing without the numbers that go with it, nor with one that is in doubt.
        judged &= by_run(worked.students, lambda run: run.result is not None, np.bool_)
        for row, student, own in zip(judged, worked.students, worked.numbers, strict=True):
            row[[place for place, run in enumerate(student.runs) if run.label in own.doubted]] = False
    # A titre in the mean that leaves nothing for the sample is a plain fact, and told as one.
    highs = np.array([float(inf if (high := of.curve.high) is None else high) for of in worked.formulas])
    judged &= ~(by_run(worked.students, "in_mean", np.bool_) & (titre >= 1000 * highs[:, None]))
    return judged


def _can_be_judged(run: Run) -> bool:
    """Return whether a run has a titre of two readings on the scale."""
    both = run.initial is not None and run.final is not None
    return both and (run.titre or 0) > 0 and not run.off_scale


def _setting(
    practical: Practical, formula: Formula, doubtful: bool, own: tuple[tuple[float, float], ...] | None = None
) -> BenchSetting:
    given, back = practical.file, practical.back
    blank = formula.curve.high
    # All of a mixture: its pipette measured the reagent, and moves the blank titre instead.
    usual = given.flask.aliquot
    no_pipette = back is not None and back.undivided
    return BenchSetting(
        capacity=float(given.burette.capacity),
        division=float(given.burette.division),
        aliquot=None if no_pipette or usual is None else float(usual),
        own_aliquots=() if no_pipette and own else own,
        within=float(given.concordance.within),
        blank_titre=None if back is None or back.whole or blank is None else float(blank),
        reference_doubtful=doubtful,
    )


def claims_in_words(worked: Worked, diagnosis: BenchDiagnosis, practical: Practical) -> dict[int, list[Finding]]:
    """Return the claims about each student alone (by place in the class) as findings."""
    limits = limits_of(practical.file.marks)
    claimed: dict[int, list[Finding]] = defaultdict(list)
    for claim in _said_once(diagnosis.claims, worked.students):
        student, formula = worked.students[claim.student], worked.formulas[claim.student]
        own = worked.of_runs[claim.student][claim.run] if worked.of_runs and claim.run is not None else formula
        curves = (formula.curve, own.curve)
        claimed[claim.student].append(_as_finding(claim, student, practical, curves, limits))
    return claimed


def _said_once(claims: Sequence[Claim], students: Sequence[Student]) -> Iterator[Claim]:
    """Yield the claims, of runs that agree and are all implausible only the first, about their mean."""
    odd: dict[int, dict[int, Claim]] = defaultdict(dict)
    for claim in claims:
        if (
            claim.finding == "implausible-titre"
            and claim.run is not None
            and claim.evidence.get("likely_titre") is None
        ):
            odd[claim.student][claim.run] = claim
    for claim in claims:
        student, places = students[claim.student], students[claim.student].closest
        together = student.concordant and student.agreement is None and set(places) <= odd[claim.student].keys()
        if not together or claim.run not in places:
            yield claim
        elif claim.run == places[0] and student.mean is not None:
            yield claim._replace(evidence=_of_all(claim.evidence, student, student.mean))


def _of_all(evidence: Mapping[str, Any], student: Student, mean: Fraction) -> dict[str, Any]:
    """Return the evidence against one run as that against all behind the mean [cm³]."""
    class_level = evidence["titre"] - evidence["above_expected"]
    labels = [student.runs[place].label for place in student.closest]
    return {"runs": labels, "level": float(mean), "above_expected": float(mean) - class_level}


def pipettes_claimed(claims: Sequence[Finding]) -> list[Fraction]:
    """Return the volume [cm³] of the other pipette that claims about a student name, where there is such a one."""
    fitting = [each.evidence["pipette"] for each in claims if "pipette" in each.evidence]
    return [Fraction(size) for size in map(pipette_about, fitting) if size is not None]


def _as_finding(claim: Claim, student: Student, practical: Practical, curves: Curves, limits: Limits) -> Finding:
    """Return a claim about a student as a finding; `limits` are those of the bands of accuracy."""
    run = None if claim.run is None else student.runs[claim.run]
    evidence = _evidence(claim, student, run, curves, microlitres(practical.file.concordance.within))
    probability, figures = claim.probability, practical.file.result.significant_figures
    return found(
        claim.finding,
        message_of(claim.finding, evidence, student, run, probability, practical.unit, figures, limits),
        None if run is None else run.label,
        plain(evidence),
        probability=round(float(probability), 3),
        cells=reading_cells(runs_of(evidence, student, run) or student.accurate),
    )


def _evidence(claim: Claim, student: Student, run: Run | None, curves: Curves, within: int) -> dict[str, Any]:
    """Return the figures behind a claim as the student knows them; `within` is the concordance limit [µL]."""
    evidence = _of_this_run(claim.evidence, student, run) | _if_so(claim, student, curves[0])
    if run is not None and run.turned is not None:
        evidence = _turned_back(evidence, run, run.turned, curves)
    if "groups" in evidence:
        evidence["groups"] = [[student.runs[place].label for place in group] for group in evidence["groups"]]
    if claim.finding == "diluted-titrant":
        evidence["falls"] = _falls(student, within)
    return evidence


def _of_this_run(evidence: Mapping[str, Any], student: Student, run: Run | None) -> dict[str, Any]:
    """Return the evidence without causes that the readings rule out (zero was not written), and with the very distance
    from the other runs that the sentence tells."""
    same = evidence.get("looks_the_same") or ()
    if run is not None:
        same = [name for name in same if run.initial == 0 or name not in NEEDS_A_ZERO]
    if run is None or run.turned is not None or "runs" in evidence:
        return {**evidence, "looks_the_same": list(same)}
    others = beside(student, run)
    away = None if others is None else round(float(cm3(run.titre or 0) - others), 4)
    return {**evidence, "looks_the_same": list(same), "above_own_others": away}


def _if_so(claim: Claim, student: Student, curve: Curve) -> dict[str, Any]:
    """Return the result that a misreading would lead to, and the label of the run that began with a copy of it."""
    mean, copied = claim.mean_if_so, claim.evidence.get("copied_to")
    out: dict[str, Any] = {} if copied is None else {"copied_to": student.runs[copied].label}
    if mean is not None and (result := curve.result(mean)) is not None:
        out["result_if_so"] = float(result)
    return out


def _turned_back(evidence: Mapping[str, Any], run: Run, turned: Fraction, curves: Curves) -> dict[str, Any]:
    """Return the evidence with the titres as they were read, where they were looked at turned to the mean numbers, and
    with the distance from the titre that the other runs call for with the numbers of this one."""
    titre = cm3(run.titre or 0)
    there = [key for key in ("titre", "likely_titre") if evidence.get(key) is not None]
    back = {key: evidence[key] + float(titre - turned) for key in there}
    away = evidence.get("above_own_others")
    others = None if away is None else curves[0].result(turned - fraction(away))
    if others is not None and (called_for := curves[1].titre(others)) is not None:
        back["above_own_others"] = round(float(titre - called_for), 3)
    return {**evidence, **back, "mean_if_so": None, "turned": True}


def _falls(student: Student, within: int) -> bool:
    """Return whether the titres come down from run to run, by more than agreeing titres may differ [µL]."""
    titres = [run.titre for run in student.usable if run.titre is not None]
    coming_down = all(after <= before for before, after in pairwise(titres))
    return len(titres) > 1 and coming_down and titres[0] - titres[-1] > within


def likely_titres(diagnosis: BenchDiagnosis, place: int, student: Student) -> dict[str, Decimal]:
    """Return the likely intended titre [cm³] of each misread run, by its label."""
    likely = zip(student.runs, diagnosis.likely[place].tolist(), strict=False)
    found = [(run, value) for run, value in likely if value >= 0]
    shift = {run.label: 0 if run.turned is None else (run.titre or 0) - round(run.turned * 1000) for run, _ in found}
    return {run.label: shown(value + shift[run.label]) for run, value in found}


# --- readings that are shared ---

MOST_NAMED = 3
"""Students named in the message; all of them stand in the evidence."""
_BETWEEN = re.compile(r"\s*(?:[&+;/]|\band\b|\bund\b|\bet\b|\by\b)\s*")
"""What stands between two partners."""


def alike_findings(students: Sequence[Student], capacity: int) -> Iterator[tuple[int, Finding]]:
    """Yield (place in the class, `same-readings`) for every student whose readings are shared beyond chance.

    `capacity` is that of the burettes [µL].
    """
    for alike in likeness(_shared_matrix(students, capacity)):
        for place in alike.students:
            strangers = [other for other in alike.students if not _are_partners(students[place], students[other])]
            if strangers:
                yield place, _finding(students, alike, place, strangers)


def _shared_matrix(students: Sequence[Student], capacity: int) -> RunMatrix:
    """Return the readings as padded matrices, the smaller first: to swap them is a habit, and no likeness.

    Of a burette that counts down they are how far it has run from full, which it is as often as others are at 0.00.
    """
    full = np.array([one.counts_down and _begins_full(one, capacity) for one in students], bool)[:, None]
    there = by_run(students, lambda run: None not in (run.initial, run.final, run.titre), np.bool_)
    numbers = (by_run(students, of, np.int64) for of in ("initial", "final", "titre"))
    initial, final, titre = (np.where(there, each, 0) for each in numbers)
    ends = [np.where(full & there, capacity - each, each) for each in (initial, final)]
    rough, nothing = there & by_run(students, "rough", np.bool_), np.full(len(students), np.nan)
    return RunMatrix(
        np.minimum(*ends), np.maximum(*ends), titre, there, there, rough, nothing, np.zeros(len(students)), titre
    )


def _begins_full(student: Student, capacity: int) -> bool:
    """Return whether runs begin nearer to a full burette than they end to 0.00: the two are not just swapped."""
    ends = [(run.initial, run.final) for run in student.runs if run.initial is not None and run.final is not None]
    return sum(capacity - initial for initial, _ in ends) < sum(final for _, final in ends)


def _are_partners(one: Student, other: Student) -> bool:
    """Return whether two are one student, or either names the other as a partner, in full or in part."""
    return are_attempts((one, other)) or one is other or _names(one, other) or _names(other, one)


def _names(one: Student, other: Student) -> bool:
    return names_partner(one.about.get("Partner", ""), other.name, other.about.get("ID", ""))


def names_partner(said: str, name: str, known_as: str) -> bool:
    """Return whether what was written as the partner names a student, by (part of) the name or by the ID."""
    told = [_words(part) for part in _BETWEEN.split(said.casefold())]
    return any(part and (part <= _words(name) or part == {known_as.casefold()}) for part in told)


def _words(text: str) -> set[str]:
    return {word.strip(",.") for word in text.casefold().split()}


def _finding(students: Sequence[Student], alike: Likeness, place: int, strangers: Sequence[int]) -> Finding:
    student = students[place]
    others = [students[other].name for other in strangers]
    named = ", ".join(others[:MOST_NAMED]) + (
        f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    )
    shared = [student.runs[column] for column in alike.runs if column < len(student.runs)]
    where = f" in {runs_named(shared)}" if shared else ""
    odds = f"about {alike.odds:,.0f}".replace(",", " ") if alike.odds < 1e6 else "more than a million"
    message = (
        f"The readings{where} are the same as those of {named}; the odds against chance are "
        f"{odds} to 1. Did they share a bench, a burette or a set of readings, or is one of them "
        "entered twice?"
    )
    cells = tuple(cell for run in shared for cell in run.at("initial", "final"))
    evidence = {"with": others, "runs": [run.label for run in shared], "odds": alike.odds}
    return found("same-readings", message, None, evidence, cells=cells)
