"""From a class sheet and a practical to a judged class: every stage in order, all of it pure.

    titres ─> concordant sets, means ─> results ─> the class ─> what went wrong ─> marks

Reference doubt and shifted groups are found first and taken out before anybody is judged, so that a bad bottle does
not become so many students who overshoot.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import asdict
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, partial
from itertools import combinations
from math import inf
from typing import Any

import numpy as np

from labmark.analyse.arrays import FloatArray, finite
from labmark.analyse.budget import Budget
from labmark.analyse.standardisation import standard_dof, standardisation_tree, with_standardisation
from labmark.analyse.titres import asked, with_counted_0, with_first_roughs
from labmark.assessed import Assessed, Shown, Told, Uncertain
from labmark.dataclass import dataclass, field, replace
from labmark.diagnose.bench import BenchDiagnosis
from labmark.diagnose.plain import Setting, plain_findings
from labmark.diagnose.working_calculation import Calculation, calculation, with_own
from labmark.diagnose.working_mean_slips import own_mean
from labmark.exact import fraction, mean_text
from labmark.facts import Asked, OwnMean, OwnResult, Student
from labmark.formula import Input
from labmark.judge import bench, classwide, own_result, references, several, working
from labmark.judge.accuracy import accuracy_mark
from labmark.judge.by_result import alone_in, steps_by_run, with_expected
from labmark.judge.case import Case, Claimed, Held, as_it_was, sum_for
from labmark.judge.class_figures import PRACTICAL, Aside, Fair, class_figures, fair_values
from labmark.judge.classwide import ClassFigures
from labmark.judge.further_figures import centre, further
from labmark.judge.marks import as_number, can_be_marked, marks, named_slips
from labmark.judge.owned import Numbers, with_typical
from labmark.judge.together import Decided, combined
from labmark.judge.uncertainty import Behind, uncertainties
from labmark.judge.worked import NO_OTHERS, Beside, Worked, chosen_by, setting_of, with_own_choice, work_out
from labmark.practical import Practical
from labmark.practical.own import ALIQUOT
from labmark.records import ClassSheet, Finding, Mark
from labmark.tree import JudgedClass

_Number = int | float | None
OTHER_PIPETTE = "The titres and the result both go with another pipette, so that is being checked."
BY_THE_PRACTICAL = ("always-overshoots", "always-short", "diluted-titrant", "wrong-aliquot")
"""Findings that say no more than that titres lie far from what the practical expects."""


def judge(
    sheet: ClassSheet, practical: Practical, decided: Decided = list, aside: Collection[Aside] = ()
) -> JudgedClass:
    """Return the judged class. Raises InputError where sheet and practical do not fit together.

    aside   findings that the teacher does not uphold: no mark waits for them
    """
    practical = with_typical(practical, sheet)
    for titration, part in several.titrations(practical).items():
        setting = setting_of(part)
        sheet = with_counted_0(sheet, setting.capacity, setting.within, titration)
        sheet = with_first_roughs(sheet, setting.capacity, setting.within, setting.at_least, titration)
    if practical.parts:
        parts = [replace(one, aside=aside).judged(list) for one in _uncrossed(_parts(sheet, practical))]
        return combined(practical, parts, sheet, decided)
    return replace(_prepared(sheet, practical), aside=aside).expecting().judged(decided)


def _prepared(sheet: ClassSheet, practical: Practical, beside: Beside = NO_OTHERS) -> _Judging:
    practical, standardisation = with_standardisation(practical)
    worked = work_out(sheet, practical, standard_dof(practical, standardisation), beside)
    return _Judging(sheet, practical, standardisation, worked, references.of_class(worked, practical, sheet))


def _parts(sheet: ClassSheet, practical: Practical) -> list[_Judging]:
    """Return the class as each titre of a practical sees it, with the titres that all references call for."""
    parts = practical.parts
    several.check_runs(sheet, parts[0])
    sheets = [several.sheet_of(sheet, part) for part in parts]
    alone: dict[int, Worked] = {}
    for own, part in sorted(zip(sheets, parts, strict=True), key=lambda pair: pair[1].series.place):
        alone[part.series.place] = several.counted_on(work_out(own, part), part, alone)
    made = [_prepared(own, part, several.beside(part, alone)) for own, part in zip(sheets, parts, strict=True)]
    taken = {of.series.place: _by_own_means(alone[of.series.place], setting_of(of)) for of in parts}
    formulas = zip(*(one.worked.formulas for one in made), strict=True)
    held = zip(*(one.refs.each for one in made), strict=True)
    expected = [several.forward(parts, *of_student) for of_student in zip(formulas, held, strict=True)]
    return [
        replace(
            one,
            worked=several.with_others(several.counted_on(one.worked, one.practical, alone), one.practical, alone),
            refs=replace(one.refs, expected=tuple(titres[place] for titres in expected)),
            taken=several.means_beside(one.practical, taken),
        ).expecting()
        for place, one in enumerate(made)
    ]


def _by_own_means(worked: Worked, setting: Setting) -> Worked:
    return with_own_choice(worked, [own_mean(student, setting.at_least, setting.within) for student in worked.students])


def _uncrossed(parts: Sequence[_Judging]) -> list[_Judging]:
    """Return parts in which results that two of them have the wrong way round are judged where they belong."""
    found: list[dict[int, several.Seen]] = [{} for _ in parts]
    named = [place for place, one in enumerate(parts) if one.practical.series.result]
    for first, second in combinations(named, 2):
        for student, seen in _crossed(parts[first], parts[second]):
            found[first][student], found[second][student] = seen
    return [replace(one, crossed=own) if own else one for one, own in zip(parts, found, strict=True)]


def _crossed(one: _Judging, other: _Judging) -> Iterator[tuple[int, tuple[several.Seen, several.Seen]]]:
    """Yield the place of each student whose results are wrong, and right the other way round, as both then see them."""
    names = [each.practical.series.result for each in (one, other)]
    for place, (own, own_other) in enumerate(zip(one.worked.students, other.worked.students, strict=True)):
        # Nearly everybody is done with at the first result.
        if one.follows(place, own) is False and other.follows(place, own_other) is False:
            seen = (exchanged, _), (exchanged_other, _) = several.crossed((own, own_other), names)
            if one.follows(place, exchanged) and other.follows(place, exchanged_other):
                yield place, seen


@dataclass(frozen=True)
class _Judging:
    """What the readings of a class give and what they are held against: what it takes to judge its students."""

    sheet: ClassSheet
    practical: Practical
    standardisation: Budget | None
    worked: Worked
    refs: references.References
    crossed: Mapping[int, several.Seen] = field(default_factory=dict)
    """Place of a student whose results are the wrong way round -> the student with this one, and what is said."""
    aside: Collection[Aside] = ()
    """Findings that the teacher does not uphold."""
    taken: Sequence[tuple[Input, ...]] = ()
    """(n,) means of the other titres behind the result, of the runs that each student took."""

    def follows(self, place: int, student: Student) -> bool | None:
        """Return whether a student's written result follows from own figures; None where there is nothing to judge."""
        setting = self.setting
        mean = own_mean(student, setting.at_least, setting.within)
        result = self._judgeable(place, student, self._first_right(place, student, mean, self._sums[place]).result)
        return None if result is None else result.right

    def expecting(self) -> _Judging:
        """Return the same with the titre that the reference gives each student, and each run where runs differ."""
        worked, refs = self.worked, self.refs
        pairs = zip(worked.students, refs.expected, strict=True)
        students = tuple(replace(student, expected_titre=titre) for student, titre in pairs)
        if worked.of_runs:
            each = zip(students, worked.of_runs, refs.each, strict=True)
            students = tuple(with_expected(one, own, None if ref is None else ref.exact) for one, own, ref in each)
        return replace(self, worked=replace(worked, students=students))

    def judged(self, decided: Decided) -> JudgedClass:
        """Return the judged class, with what the teacher decided."""
        practical, refs, figures = self.practical, self.refs, self.figures
        assessed = decided(self.students())
        settled = any(mark.criterion == "accuracy" and mark.mark is not None for one in assessed for mark in one.marks)
        shared = self.shared_by([one.findings for one in assessed])
        return JudgedClass(
            self.sheet,
            practical,
            self.worked.formula,
            assessed,
            refs.common,
            replace(figures, findings=(*self.practical_doubt, *figures.findings, *shared)),
            # Bands about a value in doubt would say what results earn, on every picture of the class.
            references.bands_about(practical, self.worked.formula.curve, refs.common) if settled else [],
            [each.shown for each in practical.file.marks if not can_be_marked(each, self.room)],
            self.further,
            self.shown,
            self.by_own_choice,
        )

    def further(self, whole: bool) -> Mapping[str, Any]:
        """Return the further figures of the class: all of them, or those that the terminal shows."""
        if not whole:
            return centre(self.worked, self.practical, self.refs)
        standardised = standardisation_tree(self.practical, self.standardisation)
        return {**further(self.worked, self.refs, self.figures, self.behind), "standardisation": standardised}

    @cached_property
    def setting(self) -> Setting:
        """The limits of the practical."""
        return setting_of(self.practical)

    @cached_property
    def behind(self) -> Behind:
        """What the budgets of the class rest on."""
        worked = self.worked
        return Behind(self.practical, worked.formula, worked.repeatability, worked.beside.scatter)

    @cached_property
    def figures(self) -> ClassFigures:
        """What the class as a whole shows."""
        return class_figures(self.worked, self.practical, self.refs)

    @cached_property
    def room(self) -> Asked:
        """What the sheet had room for."""
        sheet, least = self.sheet, self.practical.file.concordance.at_least
        room = asked(sheet.students, sheet.room, least)
        return room._replace(reference=any(each is not None for each in self.refs.each))

    def students(self) -> list[Assessed]:
        """Return every student, judged."""
        fair = fair_values(self.worked, self.refs, self.figures, self.aside)
        return [self._student(place, case, fair) for place, case in enumerate(self._cases)]

    @cached_property
    def _cases(self) -> list[Case]:
        claims = bench.claims_in_words(self.worked, self._diagnosis, self.practical)
        for place, alike in bench.alike_findings(self.worked.students, self.setting.capacity):
            claims[place].append(alike)
        return [self._case(place, sums, claims.get(place, ())) for place, sums in enumerate(self._sums)]

    @cached_property
    def _sums(self) -> list[Calculation]:
        """How each student's result is worked out, with the numbers of their own."""
        sums = calculation(self.practical)
        return [with_own(sums, own) for own in self.worked.inputs]

    @cached_property
    def practical_doubt(self) -> list[Finding]:
        """The finding that the practical may be the wrong one; empty where nothing speaks for that."""
        right = [case.claim.result.right for case in self._cases if case.claim.result is not None]
        return classwide.practical_finding(self.worked.titres / self.refs.titres - 1, right)

    @property
    def _unfit(self) -> bool:
        """Whether marks wait for what is doubted of the practical."""
        return bool(self.practical_doubt) and ("practical-doubtful", None) not in self.aside

    def shared_by(self, by_student: Sequence[Sequence[Finding]]) -> list[Finding]:
        """Return what many students have in common: faults of each, or a habit that only the class as a whole shows."""
        present = sum(not student.absent for student in self.worked.students)
        shared = classwide.common_faults(by_student, present)
        drifts = self.figures.drift is not None and self.figures.drift.drifting
        if self._doubtful or drifts or any(each.evidence["finding"] == classwide.HABIT for each in shared):
            return shared
        return [*shared, *classwide.class_habit(self.worked.titres - self._expected, by_student, present)]

    @cached_property
    def _by_own_choice(self) -> _Judging:
        """The same with the runs that students took, where these agree as well as those behind their means."""
        worked = with_own_choice(self.worked, [case.claim.mean for case in self._cases], self.taken)
        return self if worked is self.worked else replace(self, worked=worked)

    def by_own_choice(self, place: int, one: Assessed) -> Told | None:
        """Return a student by the runs that they took; None where it is the same."""
        other = self._by_own_choice
        student = other.worked.students[place]
        if student is self.worked.students[place] and other.worked.inputs[place] == self.worked.inputs[place]:
            return None
        likely = bench.likely_titres(self._diagnosis, place, student)
        upheld, aside = {each.finding for each in one.findings}, {(each.finding, each.run) for _, each in one.set_aside}
        claims = [each for each in self._claimed_by_own_choice.get(place, ()) if each.finding in upheld]
        claims = [each for each in claims if (each.finding, each.run) not in aside]
        findings = in_order(student, [*claims, *(each for each in one.findings if each.probability is None)])
        one = replace(one, student=student, result=other._results[place], findings=tuple(findings))
        return Told(one, other.shown(place, likely))

    @cached_property
    def _claimed_by_own_choice(self) -> Mapping[int, Sequence[Finding]]:
        """What is claimed of the bench, in words about the runs that students took."""
        return bench.claims_in_words(self._by_own_choice.worked, self._diagnosis, self.practical)

    def shown(self, place: int, likely: Mapping[str, Decimal] | None = None) -> Shown:
        """Return what the files show of a student beside the judgement; `likely` titres where they are at hand."""
        student = self.worked.students[place]
        likely = bench.likely_titres(self._diagnosis, place, student) if likely is None else likely
        return Shown(self._uncertain[place], self._steps(place, mean_text(student.mean)), likely)

    @cached_property
    def _results(self) -> list[float | None]:
        return [*map(finite, self.worked.results)]

    @cached_property
    def _uncertain(self) -> list[Uncertain | None]:
        return uncertainties(self.worked, self.behind)

    def _steps(self, place: int, titre: Decimal | None) -> tuple[Mapping[str, object], ...]:
        """Return the working from a student's mean titre [cm³], with the student's own numbers."""
        formula, figures = self.worked.formulas[place], self.practical.file.result.significant_figures
        if self.worked.of_runs:
            return steps_by_run(self.worked.students[place], self.worked.of_runs[place], figures, self.practical.unit)
        if titre is None or not formula.curve.gives(Fraction(titre)):
            return ()
        return tuple(asdict(step) for step in formula.working(figures, titre=titre))

    @cached_property
    def _diagnosis(self) -> BenchDiagnosis:
        return bench.diagnose(self.practical, self.worked, self.refs, self._expected, doubtful=self._doubtful)

    @property
    def _doubtful(self) -> bool:
        """Whether the class says more about where titres should lie than the reference does."""
        test = self.figures.reference
        return not self.refs.by_practical or (test is not None and test.doubtful)

    @cached_property
    def _numbers(self) -> list[Numbers]:
        """The students' own numbers, without a doubt that the teacher does not share."""
        pairs = zip(self.worked.numbers, self.worked.students, strict=True)
        return [own.without_doubt(self.aside, student.name) for own, student in pairs]

    def _below_blank(self, place: int) -> bool:
        """Return whether a student's mean titre is not above the blank that is taken from it."""
        mean, blank = self.worked.students[place].mean, self.worked.formulas[place].curve.low
        return mean is not None and 0 < blank >= mean

    @cached_property
    def _expected(self) -> FloatArray:
        """Titres that each student is judged against [cm³]: shifts of groups and a drift are taken out."""
        students, figures = self.worked.students, self.figures
        titres = classwide.without_group_shifts(self.refs.titres, figures.groupings, students)
        titres = classwide.without_drift(titres, figures.drift, students)
        # Without the student's number, or with one far off, nobody knows where the titres should lie.
        unknown = [one.far or one.lacks(None) or self._below_blank(place) for place, one in enumerate(self._numbers)]
        return np.where(unknown, self.worked.titres, titres)

    def _student(self, place: int, case: Case, fair: Fair) -> Assessed:
        """Return a student, judged and marked."""
        practical, student = self.practical, self.worked.students[place]
        reference, result = self.refs.each[place], self._results[place]
        held, sigma = float(fair.values[place]), references.sigma_of(practical, reference)
        circumstance = PRACTICAL if self._unfit else fair.circumstances[place]
        case = self._in_doubt(case, circumstance)
        given = marks(case, practical.file.marks)
        return Assessed(
            student,
            result,
            reference,
            tuple(case.findings),
            given,
            None if self._unfit else references.z_of(result, held, sigma),
            bool(circumstance),
            circumstance,
            *(self._both_ways(place, case, fair, given) if circumstance else (None, None)),
        )

    def _both_ways(self, place: int, case: Case, fair: Fair, given: Sequence[Mark]) -> tuple[_Number, _Number]:
        """Return the accuracy mark by the reference as it stands, and by what is fair; None unless that mark waits."""
        if not any(mark.pending and mark.criterion == "accuracy" and mark.by == "scheme" for mark in given):
            return None, None
        criterion = next(each for each in self.practical.file.marks if each.criterion == "accuracy")
        by_class = replace(case, held=self._held(place, case.student.mean, float(fair.values[place])))
        by_reference = as_number(accuracy_mark(case, case.student.expected_titre, criterion))
        return by_reference, as_number(accuracy_mark(by_class, fair.titres[place], criterion))

    def _in_doubt(self, case: Case, circumstance: str) -> Case:
        """Return a case with the marks that wait; where the practical is doubted nobody's sums and glassware are."""
        if not self._unfit:
            return replace(case, waits={**case.waits, "accuracy": circumstance}) if circumstance else case
        findings = [
            each
            for each in case.findings
            if each.evidence.get("criterion") != "calculation" and each.finding not in BY_THE_PRACTICAL
        ]
        return replace(case, findings=findings, waits=dict.fromkeys(("calculation", "accuracy"), circumstance))

    def _case(self, place: int, sums: Calculation, claims: Sequence[Finding]) -> Case:
        """Return all that the marks of a student rest on, the findings in order."""
        own, setting = self._numbers[place], self.setting
        student, exchanged = self.crossed.get(place, (self.worked.students[place], ()))
        mean = own_mean(student, setting.at_least, setting.within)
        chosen = chosen_by(student, mean)
        pipettes = bench.pipettes_claimed(claims)
        claim = self._first_right(place, student, mean, sums, pipettes)
        result = self._judgeable(place, student, claim.result)
        slips = self._working(place, claim)
        numbers = self.worked.numbers[place].findings
        found = (*plain_findings(student, setting), *numbers, *exchanged, *claims, *slips)
        waits = own.waits(result is None and claim.student.own_result is not None, nothing=self._below_blank(place))
        upheld = ("wrong-aliquot", student.name, None) not in self.aside
        if upheld and result is not None and result.right and claim.sums.value(ALIQUOT) in pipettes:
            waits = {"accuracy": OTHER_PIPETTE, **waits}
        unasked = {*self._unasked, *(("discordant-in-mean",) if own.doubted else ())}
        return Case(
            student=claim.seen(chosen),
            findings=in_order(student, [each for each in found if each.finding not in unasked]),
            claim=claim._replace(mean=mean, result=result),
            gives=self._results[place] if chosen is student else None,
            waits=waits,
            held=self._held(place, chosen.mean),
            **self._alike,
        )

    def _judgeable(self, place: int, student: Student, result: OwnResult | None) -> OwnResult | None:
        """Return a judgement; None where a number behind it is missing, or one that is far off may be to blame."""
        own = self._numbers[place]
        if result is None or own.lacks(None) or self._below_blank(place):
            return None
        # The sum may well be right for the number that was meant.
        unsure = not result.right and (own.far or own.misses_one_of(student) or "mean" in student.odd)
        return None if unsure else result

    @cached_property
    def _unasked(self) -> set[str]:
        """Findings that nobody has: too few runs where there was room for no more, a mean where there was for none."""
        few = () if self.room.several else ("too-few-runs",)
        return {*few, *(() if self.room.accurate else ("mean-slip", "rough-in-mean"))}

    @cached_property
    def _alike(self) -> dict[str, Any]:
        """What the cases of all students have in common."""
        given = self.practical.file
        return {
            "asked": self.room,
            "setting": self.setting,
            "figures": given.result.significant_figures,
            "unit": self.practical.unit,
            "marked": frozenset(each.criterion for each in given.marks if can_be_marked(each, self.room)),
        }

    def _held(self, place: int, mean: Fraction | None, fair: float | None = None) -> Held | None:
        """Return the result of a mean titre [cm³] and of others, and what it is held against: `fair`, or the
        reference."""
        reference, formula = self.refs.each[place], self.worked.formulas[place]
        if self.taken and not self.worked.of_runs:
            formula = formula.given(self.taken[place])
        result = None if mean is None else formula.curve.result(mean)
        if not self.worked.beside.typical or result is None:
            return None
        if reference is None or self.worked.numbers[place].without:
            return None
        decimals = references.decimals_beside(reference, self.practical.file.result.significant_figures)
        return Held(result, reference.exact if fair is None else fraction(fair), decimals)

    def _first_right(
        self, place: int, student: Student, mean: OwnMean | None, sums: Calculation, pipettes: Sequence[Fraction] = ()
    ) -> Claimed:
        """Return the result as it is right by any of the other titres that it may rest on, else by the likeliest.

        pipettes   others [cm³] that the titres speak for: who used one may rightly have put it into the sum, right but
                   for a slip that the practical's pipette explains less well
        """
        beside = self.worked.beside
        also = (beside.also[place] if beside.also else ()) or ((),)
        sums = replace(sums, rough=beside.rough[place]) if beside.rough else sums
        usual = sums.formula.of.get(ALIQUOT)
        sizes = [usual, *(replace(usual, value=size, text="") for size in pipettes)] if usual and pipettes else []
        ways: list[tuple[tuple[Input, ...], str]]
        ways = [
            ((each,), sum_for(each.value, other=each is not usual, own=each.owner != "practical")) for each in sizes
        ] or [((), "")]
        if was := _as_written(student, sums):
            ways.append((was, as_it_was(was)))
        claims = [
            self._claim(place, student, mean, with_own(sums, (*others, *own)))._replace(done_with=words)
            for own, words in ways
            for others in also
        ]
        least = min(each.how_wrong for each in claims)
        first, *more = [each for each in claims if each.how_wrong == least]
        return min(first, *more, key=partial(self._unlikely, place)) if sizes and more and least else first

    def _working(self, place: int, claim: Claimed) -> Iterator[Finding]:
        """Yield what the mean and the result of a student show."""
        result = self._judgeable(place, self.worked.students[place], claim.result)

        def expanded() -> float:
            uncertain = self._uncertain[place]
            return 0.0 if uncertain is None else uncertain.budget.expanded

        return working.working_findings(claim._replace(result=result), self.setting.within, expanded)

    def _unlikely(self, place: int, claim: Claimed) -> float:
        """Return how many slips a wrong result takes; beyond any number where none explain it."""
        return len(named_slips(self._working(place, claim))) or inf

    def _claim(self, place: int, student: Student, mean: OwnMean | None, sums: Calculation) -> Claimed:
        """Return the result to judge: the student's, or where it is missing or wrong a run's, a wrong one first."""
        within = self.setting.within
        whole = Claimed(student, mean, own_result.judged_result(student, mean, sums, within), sums)
        if whole.result is not None and not whole.result.right and own_result.is_of_another_kind(student, sums):
            return Claimed(own_result.without_result(student), mean, None, sums)
        if not self.worked.of_runs or (whole.result is not None and whole.result.right):
            return whole
        own, found = self.worked.numbers[place], None
        for run in student.runs:
            if run.own_result is not None and run.titre is not None and not own.lacks(run.label):
                alone, of_run = alone_in(student, run), with_own(calculation(self.practical), own.of(run.label))
                one = Claimed(alone, None, own_result.judged_result(alone, None, of_run), of_run, run=run.label)
                if one.result is not None and (found is None or (found.right and not one.result.right)):
                    found, whole = one.result, one if student.own_result is None or not one.result.right else whole
        return whole


def _as_written(student: Student, sums: Calculation) -> tuple[Input, ...]:
    """Return the student's own numbers as the sheet has them, where the teacher has said what they really were."""
    of = sums.formula.of
    there = ((of.get(key), own.was) for key, own in student.inputs.items())
    return tuple(replace(one, value=Fraction(was), text=f"{was}") for one, was in there if one and was is not None)


def in_order(student: Student, findings: Sequence[Finding]) -> list[Finding]:
    """Return findings about runs in the order of the runs, then those about the student."""
    place = {run.label: number for number, run in enumerate(student.runs)}
    return sorted(
        findings, key=lambda each: place.get(each.run, len(place)) if each.run is not None else len(place) + 1
    )
