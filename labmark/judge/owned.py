"""Numbers of the students' own, nearest owner first: run, student, group, practical.

Each student (and each run that owns one) has the practical's formula with their own numbers in it. A number that is
missing leaves no result; one far from everybody else's is used as it is written, and said.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from math import log
from statistics import median
from typing import Self

from labmark.analyse.arrays import FloatArray
from labmark.analyse.robust import made
from labmark.dataclass import dataclass, field, replace
from labmark.diagnose.hypotheses import PIPETTES
from labmark.exact import as_written
from labmark.facts import Owned, OwnValue, Student
from labmark.findings import found
from labmark.formula import Formula, Input, Owner
from labmark.judge.case import UNLESS_EARNED
from labmark.practical import Practical
from labmark.practical.load import practical_with
from labmark.practical.model import FromSheet, of_group
from labmark.practical.own import ALIQUOT, BLANK_TITRE, OWN, REFERENCE
from labmark.records import ClassSheet, Finding
from labmark.units import shown_unit
from labmark.words import begun, of_run

MAY_BE_NOTHING = (BLANK_TITRE,)
FAR = 2
"""A number this many times larger or smaller than the middle one may be far off,"""
FAR_FROM_ALL = 6
"""if it is also so many robust standard deviations (of logarithms) away: masses may be meant to differ widely."""
_WITHOUT = "A number of your own is missing, so your teacher will look at this with you."
_WITHOUT_TITRE = "A titre that the result rests on is missing, so your teacher will look at this with you."
_NOTHING = "Nothing of your titres is left for the sample, so that is being checked."
_DOUBT = "A number of your own does not go with the rest, so it is being checked."
FITS = 0.05
"""A result no further than this share from the middle one bears out a number that is far off."""
FOLLOWS = 0.005
"""So near, as a share of it, a written result follows from a number, whatever was rounded on the way."""
FEWEST = 3
"""Numbers that have a middle one."""


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
    standing: tuple[Input, ...] = ()
    """Numbers for those who have none that the practical gives, which count for this student."""
    silent: frozenset[str] = frozenset()
    """Labels of the roughs and runs given up that lack a number which other runs have: nobody asks for it."""

    def of(self, run: str | None) -> list[Input]:
        """Return the numbers that count for a run (None: for the student), the nearest owner's last."""
        return [
            *self.beside_of.get(run or "", self.beside),
            *(each.input for each in self.owned if each.run in (None, run)),
        ]

    def lacks(self, run: str | None) -> bool:
        """Return whether a number that the result needs is missing, for the student or for this run."""
        return (
            self.without
            or run in self.silent
            or any(each.finding == "missing-input" and each.run in (None, run) for each in self.findings)
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
        waiting = (*(UNLESS_EARNED if self.doubted else ()), "accuracy", *(("calculation",) if unjudged else ()))
        return dict.fromkeys(waiting, _DOUBT) if self.far else {}

    def without_doubt(self, aside: Collection[tuple[str | None, ...]], name: str) -> Self:
        """Return the same without implausible numbers that are set aside: (code, name of the student, run)."""
        if not aside:
            return self
        missing = [each for each in self.findings if each.finding == "missing-input"]
        kept = (each for each in self.findings if each in missing or (each.finding, name, each.run) not in aside)
        return replace(self, findings=tuple(kept))

    @property
    def far(self) -> bool:
        """Return whether a number is implausible."""
        return any(each.finding == "implausible-input" for each in self.findings)

    @property
    def doubted(self) -> set[str]:
        """Return the labels of the runs of which a number is implausible."""
        return {each.run for each in self.findings if each.finding == "implausible-input" and each.run is not None}


def with_typical(practical: Practical, sheet: ClassSheet) -> Practical:
    """Return the practical with the middle one of the students' own numbers where it gives none for all.

    The class as a whole is looked at with it. Raises InputError where it does not fit together.
    """
    middle: dict[str, Decimal] = {}
    for key, given in practical.own.items():
        each = (inputs for one in sheet.students for inputs in (one.inputs, *(run.inputs for run in one.runs)))
        there = (inputs[key] for inputs in each if key in inputs)
        usable = sorted(value for own in there if (value := _usable(key, own)) is not None)
        if usable and given.default is None:
            middle[key] = usable[len(usable) // 2]
    return practical_with(practical, middle) if middle else practical


def own_numbers(practical: Practical, formula: Formula, sheet: ClassSheet) -> tuple[Numbers, ...]:
    """Return every student's own numbers."""
    if not practical.own:
        return (Numbers(),) * len(sheet.students)
    found = [Numbers() if one.absent else _numbers(practical, formula, one) for one in sheet.students]
    middles = {key: _middle(found, key) for key in practical.own if key not in MAY_BE_NOTHING}
    return tuple(replace(one, findings=(*one.findings, *_far(one, middles, practical))) for one in found)


def _numbers(practical: Practical, formula: Formula, student: Student) -> Numbers:
    """Return a student's own numbers, and those that are missing."""
    # Nobody weighs exactly for a rough, or for a run given up.
    runs = {run.label: run.inputs for run in student.runs if run.inputs or not (run.rough or run.struck)}
    owned: list[Owned] = []
    findings: list[Finding] = []
    standing: list[Input] = []
    silent: frozenset[str] = frozenset()
    for key, given in practical.own.items():
        plain = formula.of.get(key, Input(key, "number", None, OWN[key].unit or practical.unit))
        by_run = {label: inputs[key] for label, inputs in runs.items() if key in inputs}
        usable = {label: own for label, own in by_run.items() if _usable(key, own) is not None}
        nearest = _nearest(plain, given, student, key)
        owned += [Owned(nearest)] if nearest is not None else []
        owned += [Owned(_input(plain, own, "run"), label) for label, own in usable.items()]
        if key in formula.of or key == REFERENCE:
            findings += [_missing(given, own, label, ()) for label, own in by_run.items() if label not in usable]
            # The number for those who have none is not for one who wrote what cannot be read.
            stands_in = given.default is not None and key not in student.inputs
            standing += [plain] if nearest is None and stands_in and not by_run else []
            if nearest is None and not stands_in:
                findings += _lacking(key, given, student, runs)
                silent = frozenset(run.label for run in student.runs if run.label not in runs)
    return Numbers(tuple(owned), tuple(findings), standing=tuple(standing), silent=silent)


def _lacking(
    key: str, given: FromSheet, student: Student, runs: Mapping[str, Mapping[str, OwnValue]]
) -> Iterator[Finding]:
    """Yield that the student has no such number or, where some runs have one, each run without."""
    labels = [label for label, inputs in runs.items() if key not in inputs]
    cells = tuple(student.cells.values())[:1]
    for label in labels if len(labels) < len(runs) else [None]:
        yield _missing(given, student.inputs.get(key), label, cells)


def _nearest(plain: Input, given: FromSheet, student: Student, key: str) -> Input | None:
    """Return the student's own number, or that of the student's group; None where there is none that can be used."""
    own = student.inputs.get(key)
    if own is not None:
        return None if _usable(key, own) is None else _input(plain, own, "student")
    if given.by is None:
        return None
    value = of_group(given, student.groups)
    if value is None:
        return None
    source = student.cells.get(given.by, "")
    return replace(plain, value=Fraction(value), text=f"{value}", owner="group", source=source)


def _usable(key: str, own: OwnValue) -> Decimal | None:
    value = own.value
    return value if value is not None and (value > 0 or (value == 0 and key in MAY_BE_NOTHING)) else None


def _input(plain: Input, own: OwnValue, owner: Owner) -> Input:
    assert own.value is not None
    text = f"{as_written(own.value, own.decimals):f}"
    whole = None if own.whole is None else Fraction(own.whole)
    return replace(plain, value=Fraction(own.value), text=text, owner=owner, source=own.cells[0], whole=whole)


def _missing(given: FromSheet, own: OwnValue | None, run: str | None, cells: tuple[str, ...]) -> Finding:
    heading = given.heading
    name = f"{heading}{of_run(run)}"
    if own is None:
        what = f"{name} is missing" if given.column else f"the practical has no value for this {heading}"
    elif own.value is None:
        what = f"{name} holds “{own.odd}”, which cannot be used as it stands" if own.odd else f"{name} is incomplete"
    else:
        what = f"{name} is {own.value:f}, which cannot be"
    ending = "this run gives no result" if run else "the result cannot be worked out"
    message = f"{begun(what)}: without it {ending}."
    evidence = {"input": given.column or heading, **({"text": own.odd} if own and own.odd else {})}
    return found("missing-input", message, run, evidence, cells=own.cells if own else cells)


def _middle(found: Sequence[Numbers], key: str) -> tuple[float, float] | None:
    """Return the middle logarithm of a number over the class and its robust spread."""
    inputs = (each.input for one in found for each in one.owned if each.input.name == key)
    logs = [log(each.value) for each in inputs if each.value]
    if len(logs) < FEWEST:
        return None
    middle = median(logs)
    return middle, float(made([each - middle for each in logs]))


def _far(one: Numbers, middles: Mapping[str, tuple[float, float] | None], practical: Practical) -> Iterator[Finding]:
    """Yield a finding for every number of a student's that is far from everybody else's."""
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
            f"{heading}{of_run(each.run)} is {each.input.text} {unit}, far {times} than everybody else’s: it is used "
            "as written. Compare it with the notebook; a digit or the decimal point may be out of place."
        )
        evidence = {"input": each.input.name, "value": float(each.input.value)}
        yield found("implausible-input", message, each.run, evidence, cells=[each.input.source])


def held_against_all(
    numbers: Sequence[Numbers], results: FloatArray, formulas: Sequence[Formula], students: Sequence[Student]
) -> tuple[Numbers, ...]:
    """Return the numbers with doubt of those alone that everybody else's results speak against.

    Who weighed half as much, or took a smaller pipette, has such a number and a titre that goes with it. A number that
    gives another result than all, and theirs with two digits exchanged, is mistyped where the student's own result says
    so too. `results` (n,) are those of the students, NaN where there is none; of a run that is doubted the mean of all
    says nothing.
    """
    usual = [result for one, result in zip(numbers, results.tolist(), strict=True) if not one.far and result == result]
    if len(usual) < FEWEST:
        return tuple(numbers)
    middle = median(usual)
    made = zip(numbers, results.tolist(), formulas, students, strict=True)
    return tuple(_held(one, result, middle, formula, student) for one, result, formula, student in made)


def _held(one: Numbers, result: float, middle: float, formula: Formula, student: Student) -> Numbers:
    """Return a student's numbers as the results bear them out, or do not; `middle` is that of all."""
    if one.far:
        results = ((None, result), *((run.label, run.result) for run in student.runs))
        borne_out = {run for run, each in results if each is not None and _is_near(float(each), middle)}
        kept = (each for each in one.findings if each.run not in borne_out or not _is_of_result(each, formula))
        return replace(one, findings=tuple(kept))
    if not _is_near(result, middle):
        return replace(one, findings=(*one.findings, *_mistyped(one, middle, formula, student)))
    return one


def _is_near(result: float, middle: float) -> bool:
    return abs(result - middle) <= FITS * abs(middle)


def _mistyped(one: Numbers, middle: float, formula: Formula, student: Student) -> Iterator[Finding]:
    """Yield a finding for a number that was meant otherwise: so it gives the student's result, which is that of all."""
    own, mean = student.own_result, student.mean
    if own is None or mean is None or student.own_result_unit or not _is_near(float(own), middle):
        return
    mine = (each.input for each in one.owned if each.run is None and each.input.owner == "student")
    for given in (*mine, *one.standing):
        for text, meant in _meant(given):
            so = formula.given([replace(given, value=Fraction(text), text=text)]).curve.result(mean)
            if so is not None and abs(float(so) - float(own)) <= FOLLOWS * abs(middle):
                message = f"{meant} Compare it with the notebook."
                evidence = {"input": given.name, "value": float(given.value or 0), "fits": float(Fraction(text))}
                cells = (given.source,) if given.source else tuple(student.cells.values())[:1]
                yield found("implausible-input", message, None, evidence, cells=cells)


def _meant(given: Input) -> Iterator[tuple[str, str]]:
    """Yield what else a number may be, with what is said of it: another pipette, two digits exchanged."""
    written = f"{given.text} {shown_unit(given.unit)}"
    if given.name == ALIQUOT:
        used = f"A pipette of {written} is written" if given.source else f"No pipette is written: {written} is used"
        for size in (f"{size:g}" for size, _ in PIPETTES if size != given.value):
            yield size, f"{used}. One of {size} cm³ would give the result that is written."
    elif given.source:
        used = f"{begun(given.words)}: {written} is used as it stands."
        for text in _exchanged(given.text):
            other = f"With two digits exchanged, {text} {shown_unit(given.unit)}"
            yield text, f"{used} {other}, it would give the result that is written."


def _exchanged(text: str) -> Iterator[str]:
    """Yield a number with two neighbouring digits exchanged: 1.8453 and 1.4583 for 1.4853."""
    for at in range(len(text) - 1):
        if text[at : at + 2].isdigit() and text[at] != text[at + 1]:
            yield f"{text[:at]}{text[at + 1]}{text[at]}{text[at + 2 :]}"


def _is_of_result(finding: Finding, formula: Formula) -> bool:
    """Return whether a number that is doubted is one that the result is worked out from."""
    return finding.finding == "implausible-input" and finding.evidence["input"] in formula.of
