"""The record tree: a judged class as the plain data that results.json holds and that every output is made from.

Written readings are decimals with the digits that were written; results are floating-point numbers; what there is
not is None. Students with the same mean titre share the records of its working: nothing in a tree is changed.
"""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import reduce
from operator import getitem
from pathlib import PurePath
from typing import Any, Literal

from labmark import __version__, several_tree
from labmark.assessed import Assessed, ReferenceValue, Shown, Told, Uncertain, added
from labmark.dataclass import dataclass
from labmark.exact import mean_text, round_fraction, shown
from labmark.facts import Owned, Run, Student
from labmark.formula import Curve, Formula
from labmark.judge.attention import attention
from labmark.judge.bench_words import looked_for
from labmark.judge.classwide import ClassFigures, plain
from labmark.judge.feedback import why_run, words_for
from labmark.judge.marks import grade_of
from labmark.judge.references import comparison, percent_error, printed, sigma_of, z_of, z_prime_of
from labmark.judge.several import forward, labelled
from labmark.practical import Practical
from labmark.practical.equation import Equation, Species
from labmark.practical.hazards import USUAL_CAUTIONS, cautions_of
from labmark.practical.own import BLANK_TITRE, REFERENCE
from labmark.practical.record import Back
from labmark.practical.scheme import Grade
from labmark.records import ClassSheet, Finding, Mark
from labmark.words import reported, told

FORMAT = 1

Tree = dict[str, Any]


@dataclass(frozen=True)
class JudgedClass:
    """Everything that the tree is made of."""

    sheet: ClassSheet
    practical: Practical
    formula: Formula
    students: Sequence[Assessed]
    reference: ReferenceValue | None
    figures: ClassFigures
    bands: Sequence[Mapping[str, Any]]
    not_marked: Sequence[str]
    """Criteria that the sheet had no room for."""
    further: Callable[[bool], Mapping[str, Any]]
    """The further figures of the class, all of them (True) or those that the terminal shows."""
    shown: Callable[[int], Shown]
    """What the files show of the student at a place beside the judgement: worked out only when it is asked for."""
    by_own_choice: Callable[[int, Assessed], Told | None]
    """A judged student by the runs that they took, where these agree as well; else None."""
    parts: tuple["JudgedClass", ...] = ()
    """With several titres: the class as each of them sees it, the first result first; this is all of them together."""


def record_tree(judged: JudgedClass, sheets: Sequence[str | None]) -> Tree:
    """Return the tree of a judged class; `sheets` are the files of the students' sheets, in order."""
    pressing = attention(judged.students)
    students = [
        _student(place, one, judged, pressing.get(place), sheets[place]) for place, one in enumerate(judged.students)
    ]
    return _tree(judged, students, pressing, whole=True)


def overview(judged: JudgedClass) -> Tree:
    """Return the tree with no more of a student than the name, the runs and whether a human eye is needed.

    That is all that the terminal shows, and in a class of a hundred thousand the rest takes half of the time.
    """
    pressing = attention(judged.students)
    students = [
        {"student": one.student.name, "runs": _labels(place, judged), "attention": pressing.get(place)}
        for place, one in enumerate(judged.students)
    ]
    return _tree(judged, students, pressing, whole=False)


def _labels(place: int, judged: JudgedClass) -> list[str]:
    if not judged.parts:
        return [run.label for run in judged.students[place].student.runs]
    each = ((part.practical.series, part.students[place].student.runs) for part in judged.parts)
    return [*dict.fromkeys(labelled(run.label, series) for series, runs in each for run in runs)]


def _put_parts(tree: Tree, judged: JudgedClass, whole: bool) -> None:
    """Put what each of several titres says of practical, class and reference into a tree."""
    parts, of = judged.parts, [part.practical.series for part in judged.parts]
    alike = _expect_alike(judged.practical)
    expected = forward(
        judged.practical.parts, [part.formula for part in parts], [part.reference if alike else None for part in parts]
    )
    tree["practical"]["derived"] = several_tree.derived_tree(tree["practical"]["derived"], judged.practical, expected)
    classes = [{"unit": part.practical.unit, **_class(part, {}, whole)} for part in parts]
    tree["class"] = several_tree.class_tree(tree["class"], list(zip(of, classes, strict=True)))
    references = [_reference(part.reference, part.practical.unit) for part in parts]
    tree["reference"] = several_tree.reference_tree(
        tree["reference"], list(zip(of, references, strict=True)), judged.practical.unit
    )


def _tree(judged: JudgedClass, students: list[Tree], pressing: Mapping[int, Any], *, whole: bool) -> Tree:
    """Return the record tree around the students, and around what is shown of them."""
    practical = practical_tree(judged.practical, judged.formula.curve, judged.reference)
    by_result = any(each.student.agreement is not None for each in judged.students)
    practical["concordance"]["of"] = "result" if by_result else "titre"
    tree = {
        "format": FORMAT,
        "made_by": f"labmark {__version__}",
        "practical": practical,
        "source": _source(judged.sheet),
        "cells": _cells(judged.sheet),
        "reference": _reference(judged.reference, judged.practical.unit),
        "students": students,
        "class": _class(judged, pressing, whole),
        "decisions": [],
    }
    if judged.parts:
        _put_parts(tree, judged, whole)
    return tree


def practical_tree(practical: Practical, curve: Curve, reference: ReferenceValue | None) -> Tree:
    """Return the practical as used, defaults filled in, with what was derived from it."""
    tree: Tree = plain(practical.file.model_dump(by_alias=True, mode="python"))
    for key, given in practical.own.items():
        if key == BLANK_TITRE and practical.file.blank is not None and practical.file.blank.runs:
            tree["blank"] = {"runs": True}
            continue
        *path, last = key.split(".")
        reduce(getitem, path, tree)[last] = plain(given.model_dump(exclude_defaults=True))
    derived = [*cautions_of(practical)]
    tree["unit"] = practical.unit
    tree["cautions"] = [*derived, *practical.file.cautions, *USUAL_CAUTIONS]
    tree["derived"] = {"cautions": [*derived, *USUAL_CAUTIONS], **_derived(practical, curve, reference)}
    return tree


def _derived(practical: Practical, curve: Curve, reference: ReferenceValue | None) -> Tree:
    """Return what follows from equation and reference of a practical."""
    expected = curve.titre(reference.exact) if reference is not None and _expect_alike(practical) else None
    back = practical.back
    pair = (practical.known, practical.unknown if back is None else back.reagent)
    # Fe2O3, also where half of it stands for one iron.
    of = practical.expressed.formula if practical.file.result.expressed_as else practical.unknown.name
    return {
        "equation": ", then ".join(each.shown for each in practical.equations),
        "known": practical.known.name,
        "unknown": practical.unknown.name,
        "expected_titre": _two_decimals(expected),
        "mole_ratio": _mole_ratio(practical.equation, pair),
        "molar_mass": {of: round(float(practical.expressed.mass), 4)},
        **({} if back is None else {"back_titration": _back(back, practical.unknown, curve)}),
    }


def _back(back: Back, unknown: Species, curve: Curve) -> Tree:
    return {
        "reagent": back.reagent.name,
        "equation": back.equation.shown,
        "mole_ratio": _mole_ratio(back.equation, (back.reagent, unknown)),
        "blank_titre": _two_decimals(curve.high),
    }


def _expect_alike(practical: Practical) -> bool:
    """Return whether one reference gives everybody the same titre: with numbers of their own it does not."""
    return not practical.own.keys() - {REFERENCE}


def _mole_ratio(equation: Equation, pair: Sequence[Species]) -> Tree:
    numbers = ((each.name, equation.coefficient(each)) for each in pair)
    return {name: int(number) if number.denominator == 1 else float(number) for name, number in numbers}


def _two_decimals(value: Fraction | None) -> Decimal | None:
    return None if value is None else round_fraction(value, 2)


def _source(sheet: ClassSheet) -> Tree:
    return {
        "file": PurePath(sheet.file).name or sheet.file,  # not the path: that may tell whose machine it was
        "sha256": sheet.sha256,
        **{key: list(getattr(sheet, key)) for key in ("sheets", "understood", "notes")},
    }


def _cells(sheet: ClassSheet) -> Tree:
    ledger = sheet.ledger
    return {
        "filled": ledger.filled,
        "used": len(ledger.used),
        "ignored": len(ledger.ignored),
        "rejected": len(ledger.rejected),
        "ignored_cells": [{"cell": cell, "why": why} for cell, why in ledger.ignored.items()],
        "rejected_cells": [{"cell": cell, "why": why} for cell, why in ledger.rejected.items()],
    }


def _reference(reference: ReferenceValue | None, unit: str) -> Tree | None:
    if reference is None:
        return None
    return {
        "value": reference.value,
        "standard_uncertainty": reference.standard_uncertainty,
        "unit": unit,
        "from": reference.source,
    }


def _student(place: int, one: Assessed, judged: JudgedClass, pressing: Tree | None, sheet: str | None) -> Tree:
    parts = (Told(part.students[place], part.shown(place)) for part in judged.parts)
    chosen = judged.by_own_choice(place, one)
    return {
        **_person(one.student),
        **_marked(one, judged.practical.file.grades),
        "attention": pressing,
        "sheet": sheet,
        **_told(Told(one, judged.shown(place), tuple(parts)), judged),
        # What their own sheet shows instead.
        **({} if chosen is None else {"by_own_choice": _told(chosen, judged)}),
    }


def _told(told: Told, judged: JudgedClass) -> Tree:
    """Return what follows from a choice of a student's runs."""
    practical, parts = judged.practical, list(zip(judged.parts, told.parts, strict=True))
    tree = {
        **_readings(told.one.student, told.shown),
        **_worked_out(told.one, told.shown, practical),
        "feedback": words_for(told.one, practical, [(part.practical, of.one) for part, of in parts]),
    }
    each = [(part.practical.series, _told(of, part)) for part, of in parts]
    return several_tree.student_tree(tree, each) if each else tree


def _person(student: Student) -> Tree:
    return {
        "student": student.name,
        "number": student.number,
        "absent": student.absent,
        "groups": dict(student.groups),
        "about": {key: text for key, text in student.about.items() if key != "Name"},
        "notes": list(student.notes),
    }


def _readings(student: Student, shown_too: Shown) -> Tree:
    """Return what a student recorded, and what of it goes into the mean."""
    by_result, likely = student.agreement is not None, shown_too.likely
    sets = ([student.closest] if student.concordant else []) if student.decided else student.sets
    runs = []
    for at, run in enumerate(student.runs):
        kind = "rough" if run.rough else "accurate"
        runs.append(_run(run, kind, why_run(student, at), likely.get(run.label), by_result=by_result))
    return {
        "cells": list(student.cells.values()),
        "runs": [*runs, *(_run(run, "blank", "a blank: it is taken from the titres") for run in student.blanks)],
        "inputs": [_input(each) for each in student.owned],
        "concordant": student.concordant,
        # That behind the mean first; where the teacher chose the runs, that one alone.
        "sets": [[student.runs[run].label for run in group] for group in sets],
        "mean_titre": None if by_result else mean_text(student.mean),
        "span": None if student.span is None or by_result else shown(student.span),
        "expected_titre": _two_decimals(student.expected_titre),
    }


def _worked_out(one: Assessed, shown_too: Shown, practical: Practical) -> Tree:
    """Return what a student's readings give, and what the student made of them."""
    student, unit, uncertain = one.student, practical.unit, shown_too.uncertain
    result, reference = one.result, one.reference
    return {
        "reference": _reference(reference, unit),
        "result": _result(result, unit, uncertain),
        "printed": printed(result, reference, practical.file.result.significant_figures),
        "percent_error": percent_error(result, reference),
        "z": z_of(result, reference.value if reference else None, sigma_of(practical, reference)),
        "z_prime": z_prime_of(result, reference, practical),
        "comparison": plain(comparison(result, reference, uncertain, practical)),
        "order": student.order,
        "steps": list(shown_too.steps),
        "uncertainty": _uncertainty(uncertain),
        "claimed": {
            "mean_titre": student.mean_as_written,
            "result": student.result_as_written,
            **({"unit": student.own_result_unit} if student.own_result_unit else {}),
            **_unread(student),
        },
    }


def _unread(student: Student) -> Tree:
    """Return what stands where a mean or a result cannot be read; of several the name stands before it (here "")."""
    answers: tuple[tuple[str, Literal["mean", "result"]], ...] = (("mean_titre", "mean"), ("result", "result"))
    own = {key: student.own(which) for key, which in answers}
    found = {key: {"": each.odd} for key, each in own.items() if each.value is None and each.odd}
    return {"unread": found} if found else {}


def _marked(one: Assessed, grades: Sequence[Grade]) -> Tree:
    """Return what was found of a student, and the marks."""
    return {
        "findings": _findings(one),
        "marks": [_mark(each) for each in one.marks],
        "total": one.total,
        "out_of": one.out_of,
        "grade": grade_of(one, grades),
        **{key: getattr(one, key) for key in ("accuracy_by_reference", "accuracy_by_class")},
        "total_by_reference": _with(one.total, one.accuracy_by_reference),
        "total_by_class": _with(one.total, one.accuracy_by_class),
        **({"excused": True} if one.excused else {}),
        **({"comment": one.comment} if one.comment else {}),
    }


def _with(total: int | float, waiting: int | float | None) -> int | float | None:
    return None if waiting is None else added([total, waiting])


def _input(owned: Owned) -> Tree:
    given = owned.input
    return {
        "name": given.name,
        "value": Decimal(given.text),
        "unit": given.unit,
        "owner": given.owner,
        "run": owned.run,
        "cell": given.source,
    }


def _run(run: Run, kind: str, why: str, likely: Decimal | None = None, *, by_result: bool = False) -> Tree:
    """Return a run; where results must agree (`by_result`) with what it has of its own."""
    of_run = {
        "result": None if run.result is None else float(run.result),
        "claimed_result": run.own_result,
        "expected_titre": _two_decimals(run.expected),
    }
    return {
        "label": run.label,
        "kind": kind,
        "initial": run.reading("initial"),
        "final": run.reading("final"),
        "titre": None if run.titre is None else shown(run.titre),
        **({"parts": [[shown(start), shown(end)] for start, end in run.parts]} if run.parts else {}),
        "claimed_titre": None if run.written is None else shown(run.written - run.net, run.written_decimals),
        "used": run.in_mean,
        **(of_run if by_result else {}),
        "claimed_used": None if kind == "blank" else run.ticked,
        "cells": run.cells,
        "why": why,
        "likely": likely,
    }


def _result(result: float | None, unit: str, uncertain: Uncertain | None) -> Tree | None:
    if result is None:
        return None
    found = uncertain and uncertain.budget
    return {
        "value": result,
        "unit": unit,
        "standard_uncertainty": found and found.standard_uncertainty,
        "expanded_uncertainty": found and found.expanded,
        "coverage_factor": found and found.coverage_factor,
    }


def _uncertainty(uncertain: Uncertain | None) -> Tree | None:
    if uncertain is None:
        return None
    return {
        "school_percent": uncertain.school_percent,
        "degrees_of_freedom": uncertain.budget.figures["degrees_of_freedom"],
        "budget": list(uncertain.budget.rows),
        "advice": uncertain.budget.sentence,
    }


def finding_tree(finding: Finding) -> Tree:
    """Return a finding as plain data."""
    return {
        **{key: getattr(finding, key) for key in ("finding", "run", "level", "probability")},
        "message": reported(finding.message),
        "cells": list(finding.cells),
        "evidence": plain(finding.evidence),
    }


def _findings(one: Assessed) -> list[Tree]:
    """Return the findings of a student, those that the teacher set aside in their places."""
    listed = [finding_tree(each) for each in one.findings]
    for place, each in one.set_aside:
        listed.insert(place, finding_tree(each) | {"aside": True})
    return listed


def _mark(mark: Mark) -> Tree:
    decided = mark.by == "teacher" and not mark.pending
    return {
        "criterion": mark.criterion,
        **({"result": mark.result} if mark.result else {}),
        "title": mark.title or mark.criterion,
        "mark": mark.mark,
        **({"pending": True} if mark.pending else {}),
        "out_of": mark.out_of,
        "reason": reported(mark.reason),
        "by": mark.by,
        **({"scheme_mark": mark.scheme_mark} if decided else {}),
        "cells": list(mark.cells),
    } | ({} if told(mark.reason) == reported(mark.reason) else {"told": told(mark.reason)})


def _class(judged: JudgedClass, pressing: Mapping[int, Any], whole: bool) -> Tree:
    """Return the figures of the class, the further ones as a `whole` or in part; `pressing` are in order of urgency."""
    figures, further, students = judged.figures, judged.further(whole), judged.students
    return {
        "students": len(students),
        "absent": sum(one.student.absent for one in students),
        "results": sum(one.result is not None for one in students),
        **{key: further[key] for key in _OF_RESULTS},
        "repeatability_sd": figures.precision.repeatability_sd,
        "reproducibility_sd": figures.precision.reproducibility_sd,
        "sigma": sigma_of(judged.practical, judged.reference),
        **{key: further[key] for key in _OF_TITRES},
        "marks": _marks_of_class(students),
        "bands": [dict(band) for band in judged.bands],
        "attention": [students[place].student.name for place in pressing],
        "not_marked": list(judged.not_marked),
        "statistics": {key: value for key, value in further.items() if key not in (*_OF_RESULTS, *_OF_TITRES)},
        "findings": [finding_tree(each) for each in figures.findings],
        "looked_for": [dict(row) for row in looked_for()],
    }


_OF_RESULTS, _OF_TITRES = ("mean", "sd", "robust_mean", "robust_sd"), ("expected_titre", "mean_titre")
"""Further figures that stand among the figures of the class itself."""


def _marks_of_class(students: Sequence[Assessed]) -> Tree:
    """Return the marks of the class; a mark that is pending or has nothing to rest on counts in no mean."""
    marked = [one for one in students if one.marks and not one.excused]
    totals = [(one.total, one.out_of) for one in marked]
    out_of = {most for _, most in totals}
    shares = [100 * total / most for total, most in totals if most]
    return {
        "mean": sum(total for total, _ in totals) / len(marked) if marked else None,
        "out_of": out_of.pop() if len(out_of) == 1 else None if out_of else 0,
        "mean_percent": sum(shares) / len(shares) if shares else None,
        "by_criterion": [_marks_of(given) for given in zip(*(one.marks for one in marked), strict=True)],
    }


def _marks_of(given: Sequence[Mark]) -> Tree:
    settled = [mark.mark for mark in given if mark.mark is not None]
    return {
        "criterion": given[0].criterion,
        **({"result": given[0].result} if given[0].result else {}),
        "title": given[0].title or given[0].criterion,
        "out_of": given[0].out_of,
        "of": len(settled),
        "full": settled.count(given[0].out_of),
        "mean": sum(settled) / len(settled) if settled else None,
        "pending": sum(mark.pending for mark in given),
    }
