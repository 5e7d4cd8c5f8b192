"""From posteriors to findings: what is claimed, with what probability, on which evidence, and what it may be instead.

A finding is claimed where something went wrong with odds of about two to one or more, and it is what most likely did;
what titres alone can't tell from it stands beside it under "or". Nothing is changed by a claim.

Good work is supposed to scatter more widely than it mostly does, and mishaps to be of any size, so that nobody is
accused; what is claimed for all that is right more often than the posteriors say. The odds that are stated make up for
it: posteriors p of the finding and of all that it may be instead become pᵏ ÷ Σ pᵏ, more so where the class is too small
to say how far its good work scatters; else that one run alone was read upside down, which its digits tell, is stated as
it is. That every run went past the endpoint is hardly ever said surely: a titrant may be weak by any such volume, and
titres cannot tell. What is claimed stays as it is.
"""

from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from statistics import median
from typing import Any, NamedTuple

import numpy as np

from labmark.agreeing import agreeing_sets
from labmark.diagnose.bench_course import groups_of
from labmark.diagnose.bench_input import BenchSetting, Flags, Floats, Ints, RunMatrix
from labmark.diagnose.bench_levels import OF_SAMPLE, Fit, pipette_of
from labmark.diagnose.bench_misread import OF_HYPOTHESIS, WAYS, Way, ends
from labmark.diagnose.bench_model import FIRST, STEP
from labmark.diagnose.bench_posterior import FADING, HABIT, Posterior
from labmark.diagnose.bench_runs import CHAINED
from labmark.diagnose.bench_view import View
from labmark.diagnose.hypotheses import BY_NAME, RUN_HYPOTHESES, STUDENT_HYPOTHESES, Hypothesis
from labmark.facts import mean_cm3

ANY_FAULT = 0.65
"""A finding about a run is claimed where all the faults it could be are together at least this probable,"""
ANY_FAULT_OF_STUDENT = 0.75
"""one about everything a student did, which rests on a comparison with others, where they are this probable,"""
LIKELIEST = 0.30
"""and it alone at least this."""
BY_CHANCE = 4
"""Of a run no further from its student's level than so many reading intervals (0.20 cm³) nothing is claimed that its
digits do not show: now and then one that nothing happened to lies as far out, and where it does not agree is said."""
SHARPER, SHARPER_OF_FEW = 1.45, 1.69
"""k, and k in a class of few, found from simulated classes."""
WEAK_TOO = 0.10
"""Of students whose runs are all too large by one volume, a weak titrant is stated of so many at least, however small
that volume is: what the table says of weak ones is about larger volumes (found from simulated classes)."""
WORTH_NAMING, HARDLY = 0.01, 0.001
"""Another finding less probable than this is not named, nor is another cause of the same finding."""

RUN_FINDINGS = (
    "overshoot", "undershoot", "misread-division", "read-upside-down", "digits-swapped", "implausible-titre",
)  # fmt: skip
STUDENT_FINDINGS = ("level-change", "always-overshoots", "always-short", "diluted-titrant", "wrong-aliquot")
TELLING = 0.9
"""Which of two readings was out is said from this share on."""
_OVERSHOOT, _UNDERSHOOT = map(RUN_FINDINGS.index, ("overshoot", "undershoot"))
_MISREAD, _UPSIDE_DOWN = map(RUN_FINDINGS.index, ("misread-division", "read-upside-down"))
_SWAPPED, _IMPLAUSIBLE = map(RUN_FINDINGS.index, ("digits-swapped", "implausible-titre"))
_LATE, _DILUTED = map(STUDENT_FINDINGS.index, ("always-overshoots", "diluted-titrant"))
_UNEVEN = [h.shape == "each added" and h.finding == "always-overshoots" for h in STUDENT_HYPOTHESES]


class Claim(NamedTuple):
    """A fault at the bench that is claimed of a student, or of one run."""

    student: int
    """Row in the matrix."""
    run: int | None
    """Column in the matrix; None for a finding about the student."""
    finding: str
    probability: float
    evidence: Mapping[str, Any]
    """Figures [cm³ unless the key says otherwise], and under "or" what titres alone can't tell from it."""
    mean_if_so: Fraction | None = None
    """Mean that the likely titres would lead to, exactly [cm³]; None where nothing was misread, or no two agree."""


def _gather(names: tuple[str, ...], table: tuple[Hypothesis, ...], *, back: bool = False) -> Floats:
    """Return which hypotheses count towards which finding, (hypotheses, findings).

    Titres cannot tell too much or too little sample from stopping late or early, and the claim carries the sum; in a
    `back` titration more sample means a smaller titre.
    """

    def finding(h: Hypothesis) -> str | None:
        if h.name not in OF_SAMPLE or not h.beside:
            return h.finding
        return "always-overshoots" if (h.direction == "+") != back else "always-short"

    return np.array([[float(finding(h) == name) for name in names] for h in table])


_OF_RUN = _gather(RUN_FINDINGS, RUN_HYPOTHESES)
_OF_STUDENT, _OF_STUDENT_BACK = (_gather(STUDENT_FINDINGS, STUDENT_HYPOTHESES, back=back) for back in (False, True))


_OF_WAY = _OF_RUN[OF_HYPOTHESIS].T
"""Which ways to write a reading belong to which finding, (findings, ways)."""


def by_finding(found: Posterior, view: View, setting: BenchSetting) -> tuple[Floats, Floats]:
    """Return probabilities of the findings about runs, (n, k, findings), and about students, (n, findings)."""
    runs = found.run @ _OF_RUN
    # Runs that agree with one another where no mishap would put them: each of them is without an explanation.
    astray = found.student[:, [h.name for h in STUDENT_HYPOTHESES].index("none of these")]
    ordinary = np.maximum(1 - runs.sum(axis=2), 0.0)
    runs[:, :, _IMPLAUSIBLE] += astray[:, None] * ordinary * view.accurate
    return runs, found.student @ (_OF_STUDENT if setting.blank_titre is None else _OF_STUDENT_BACK)


class _Decision(NamedTuple):
    """Where something is claimed, and which finding is the likeliest."""

    on_student: Flags
    best_student: Ints
    on_run: Flags
    best_run: Ints


def _decide(found: Posterior, view: View, by_run: Floats, by_student: Floats) -> _Decision:
    """Return what is claimed; a habit of reading upside down stands beside what else may lift all of the titres."""
    habit, lifted = found.student[:, HABIT], by_student.sum(axis=1)
    likeliest = (habit >= LIKELIEST) & (habit > by_student.max(axis=1))
    is_habit = likeliest & (habit + lifted >= ANY_FAULT_OF_STUDENT)
    on_student, best_student = _claimed(by_student, habit, ANY_FAULT_OF_STUDENT)
    on_run, best_run = _claimed(by_run, np.where(is_habit, lifted, 0.0)[:, None], ANY_FAULT)
    away = np.abs(view.titre * (STEP / 1000) - np.nan_to_num(found.level)[:, None])
    by_chance = (away <= BY_CHANCE * view.unit / 1000) & np.isin(best_run, (_OVERSHOOT, _UNDERSHOOT, _UPSIDE_DOWN))
    # A habit that is hardly likelier than not makes no run odd that is not odd beside the others.
    on_run &= is_habit[:, None] | ((by_run.sum(axis=2) - habit[:, None] >= LIKELIEST) & ~by_chance)
    # A first run above the next is the very mark of a wet burette: it is no overshoot besides.
    weak = on_student & (best_student == _DILUTED)
    on_run &= ~(weak[:, None] & (view.kind == FIRST) & (best_run == _OVERSHOOT))
    return _Decision(on_student & ~is_habit, best_student, on_run, best_run)


def _claimed(probabilities: Floats, beside: Floats, least: float) -> tuple[Flags, Ints]:
    """Return where something is claimed and which finding is the likeliest (last axis).

    `beside` is the probability of other faults that would explain the same readings; with it, all have to be `least`.
    """
    best = probabilities.argmax(axis=-1)
    top = np.take_along_axis(probabilities, best[..., None], axis=-1)[..., 0]
    return (probabilities.sum(axis=-1) + beside >= least) & (top >= LIKELIEST), best


def likely_titres(runs: RunMatrix, found: Posterior, decision: _Decision, view: View, way: Ints, copied: Flags) -> Ints:
    """Return the titre that a misread run probably stands for, (n, k) [µL]; -1 where nothing of the kind is claimed.

    As far from `runs.titre` as the readings are out, whatever 1 cm³ on the burette comes to in it. `way` is the one of
    WAYS in which each was probably written; `copied`: the next run begins with it.
    """
    claimed, best = decision.on_run, decision.best_run
    meant = [ends(each, view.low, view.high) for each in WAYS]
    low, high = (np.choose(way, each) for each in zip(*meant, strict=True))
    otherwise = runs.titre + (high - low) - (view.high - view.low)
    chained = (best == _IMPLAUSIBLE) & (found.run[:, :, CHAINED] > 0.5)
    out = np.where(claimed & (best == _MISREAD), _less_whole_numbers(runs, found, view), -1)
    out = np.where(claimed & ((best == _UPSIDE_DOWN) | (best == _SWAPPED)), otherwise, out)
    out = np.where(claimed & chained, view.chained * 10, out)
    # Both readings may have been upside down: the next run began with the final one.
    moved = np.where(best == _UPSIDE_DOWN, view.high - high, runs.titre - out)
    after = np.roll(copied, 1, axis=1) & (out < 0)
    return np.asarray(np.where(after, runs.titre + np.roll(moved, 1, axis=1), out), dtype=np.int64)


def _less_whole_numbers(runs: RunMatrix, found: Posterior, view: View) -> Ints:
    """Return the titres without the whole cm³ by which each is out, (n, k) [µL]."""
    # A rough lies past the endpoint as it is: only a misreading by 10 cm³ can be told there.
    step = np.where(runs.rough, 10, 1)
    offset = np.rint((runs.titre / 1000 - found.level[:, None]) / view.turned / step) * step * 1000
    # A student without a level has no claim either: 0 stands in for the number that is not there.
    return np.asarray(runs.titre - np.nan_to_num(offset).astype(np.int64))


def is_copied(found: Posterior, decision: _Decision) -> Flags:
    """Return which misreadings that are claimed were probably copied as the initial reading of the next run, (n, k)."""
    chance = np.where(decision.best_run == _MISREAD, found.copied[:, :, 0], found.copied[:, :, 1:].sum(axis=2))
    misread = (decision.best_run == _MISREAD) | (decision.best_run == _UPSIDE_DOWN)
    return np.asarray(decision.on_run & misread & (chance >= LIKELIEST))


def stated(posteriors: Floats, power: float) -> Floats:
    """Return the odds that are stated of findings that exclude one another; behind them, that nothing went wrong."""
    sharper = np.append(posteriors, max(1 - posteriors.sum(), 0.0)) ** power
    return np.asarray(sharper / sharper.sum())


def _or(names: tuple[str, ...], odds: Floats, own: int) -> list[dict[str, Any]]:
    """Return the alternatives to the finding, likeliest first; "none" is that nothing went wrong."""
    others = [
        {"finding": name, "probability": round(p, 3)}
        for place, (name, p) in enumerate(zip((*names, "none"), odds.tolist(), strict=True))
        if place != own and p >= WORTH_NAMING
    ]
    return sorted(others, key=lambda item: (-item["probability"], item["finding"]))


@cache
def causes(finding: str, *, back: bool = False) -> tuple[str, ...]:
    """Return the other causes that look like a finding on titres alone; of a student's, too much or too little sample.

    In a `back` titration more sample means a smaller titre.
    """
    about, turned = BY_NAME[finding], {"+": "-", "-": "+"}

    def moves_alike(h: Hypothesis) -> bool:
        return about.scope == h.scope and (turned[h.direction] if back else h.direction) == about.direction

    return tuple(
        h.name
        for h in (*RUN_HYPOTHESES, *STUDENT_HYPOTHESES)
        if h.name not in (finding, "none of these")
        and (bool(h.beside) and moves_alike(h) if h.name in OF_SAMPLE else h.finding == finding)
    )


class Claims:
    """The claims of some students, and the likely titres (n, k) [µL], -1 where none is claimed."""

    def __init__(self, runs: RunMatrix, view: View, found: Posterior, fit: Fit, setting: BenchSetting) -> None:
        self.runs, self.view, self.found, self.fit, self.setting = runs, view, found, fit, setting
        self.by_run, self.by_student = by_finding(found, view, setting)
        self.decision = _decide(found, view, self.by_run, self.by_student)
        # Of the ways to write a reading, those that the likeliest finding allows.
        self.way = (found.variant * _OF_WAY[self.decision.best_run]).argmax(axis=2)
        self.copied = is_copied(found, self.decision)
        self.likely = likely_titres(runs, found, self.decision, view, self.way, self.copied)
        self.centre = fit.centre(view.expected)
        self.power = SHARPER if fit.learnt else SHARPER_OF_FEW

    def all(self) -> list[Claim]:
        """Return every claim, in the order of the students, those about the student first."""
        decision = self.decision
        claims = [self._of_student(int(i), int(decision.best_student[i])) for i in np.flatnonzero(decision.on_student)]
        places = zip(*np.nonzero(decision.on_run), strict=True)
        claims += [self._of_run(int(i), int(k), int(decision.best_run[i, k])) for i, k in places]
        return sorted(claims, key=lambda claim: (claim.student, -1 if claim.run is None else claim.run))

    def _of_student(self, i: int, best: int) -> Claim:
        odds = stated(np.append(self.by_student[i], self.found.student[i, HABIT]), self.power)
        # A leaking tap lets each run be out by a volume of its own; no weak titrant does.
        if self.found.student[i, _UNEVEN].sum() < self.by_student[i, _LATE] / 5:
            weak = max(WEAK_TOO * float(odds[_LATE] + odds[_DILUTED]), float(odds[_DILUTED]))
            odds[_LATE], odds[_DILUTED] = odds[_LATE] + odds[_DILUTED] - weak, weak
        finding, level, centre = STUDENT_FINDINGS[best], float(self.found.level[i]), float(self.centre[i])
        further = self._further(i, finding)
        # Of a titrant that gets stronger from run to run the first titre tells how weak it was.
        away = further.get("titre", level)
        evidence = {
            "level": round(level, 3),
            "expected": round(float(self.view.expected[i]), 3),
            "class_level": round(centre, 3),
            "above_expected": round(away - centre, 3),
            "percent": round(100 * (away / centre - 1), 2),
            "or": _or((*STUDENT_FINDINGS, RUN_FINDINGS[_UPSIDE_DOWN]), odds, best),
            "looks_the_same": causes(finding, back=self.setting.blank_titre is not None),
            "check": BY_NAME[finding].check,
        }
        return Claim(i, None, finding, float(odds[best]), evidence | further)

    def _further(self, i: int, finding: str) -> dict[str, Any]:
        """Return the figures that only some findings have."""
        if finding == "diluted-titrant" and self.found.student[i, FADING] > self.by_student[i, _DILUTED] / 2:
            titres = self.runs.titre[i, self.view.accurate[i]] / 1000
            return {
                "titre": float(titres[0]), "last_above_expected": round(float(titres[-1]) - float(self.centre[i]), 3)
            }  # fmt: skip
        if finding == "level-change":
            places = np.flatnonzero(self.view.accurate[i]).tolist()
            at = groups_of(self.runs.titre[i, places].tolist())
            return {"groups": [places[:at], places[at:]]}
        (own,) = self.setting.pipettes([float(self.view.expected[i])])
        pipette = pipette_of(float(self.found.level[i]), float(self.centre[i]), self.setting, own)
        return {"pipette": round(pipette, 2)} if finding == "wrong-aliquot" and pipette is not None else {}

    def _of_run(self, i: int, k: int, best: int) -> Claim:
        odds, finding = self._odds_of_run(i, k, best), RUN_FINDINGS[best]
        titre = int(self.runs.titre[i, k]) / 1000
        others = self._others(i, k)
        evidence: dict[str, Any] = {
            "titre": titre,
            "own_level": round(float(self.found.level[i]), 3),
            "above_own_level": round(titre - float(self.found.level[i]), 3),
            "above_own_others": None if others is None else round(titre - others, 3),
            "expected": round(float(self.view.expected[i]), 3),
            "above_expected": round(titre - float(self.centre[i]), 3),
            "repeatability": round(self.fit.repeatability, 3),
            "or": _or((*RUN_FINDINGS, *STUDENT_FINDINGS), odds, best),
            "looks_the_same": self._causes(i, k, finding),
            "check": BY_NAME[finding].check,
        }
        likely, mean = self._likely(i, k, best)
        return Claim(i, k, finding, float(odds[best]), evidence | likely, mean)

    def _odds_of_run(self, i: int, k: int, best: int) -> Floats:
        """Return the odds; where a reading upside down may be a habit, those of findings about all runs as well."""
        own = self.by_run[i, k]
        habit = best == _UPSIDE_DOWN and self.found.student[i, HABIT] > own[best] / 2
        beside = self.by_student[i] if habit else np.zeros(len(STUDENT_FINDINGS))
        by_digits = best == _UPSIDE_DOWN and not habit and self.fit.learnt
        return stated(np.append(own, beside), 1.0 if by_digits else self.power)

    def _causes(self, i: int, k: int, finding: str) -> tuple[str, ...]:
        """Return the other causes that would bring a titre as far out as this, likeliest first."""
        chances = (*self.found.run[i, k].tolist(), *self.found.student[i].tolist())
        chance = {h.name: p for h, p in zip((*RUN_HYPOTHESES, *STUDENT_HYPOTHESES), chances, strict=True)}
        return tuple(sorted((one for one in causes(finding) if chance[one] > HARDLY), key=lambda one: -chance[one]))

    def _others(self, i: int, k: int) -> float | None:
        """Return the median of the student's other accurate titres [cm³]."""
        pairs = enumerate(zip(self.runs.titre[i].tolist(), self.view.accurate[i].tolist(), strict=True))
        others = [titre for place, (titre, accurate) in pairs if accurate and place != k]
        return median(others) / 1000 if others else None

    def _likely(self, i: int, k: int, best: int) -> tuple[dict[str, Any], Fraction | None]:
        """Return the likely intended titre of a misreading and the mean it would lead to [cm³], exact beside it."""
        if self.likely[i, k] < 0:
            return {}, None
        mean = self._mean_if_so(i)
        shown = None if mean is None else round(float(mean), 4)
        out: dict[str, Any] = {"likely_titre": int(self.likely[i, k]) / 1000, "mean_if_so": shown}
        if self.copied[i, k]:
            out["copied_to"] = k + 1
        way = WAYS[int(self.way[i, k])]
        if best == _UPSIDE_DOWN:
            out["reading"] = self._turned(i, k, way)
        if best == _SWAPPED:
            at = int(way.which == "final")
            readings = [(low / 1000, high / 1000) for low, high in self._readings(i, k, way)]
            out |= {"reading": way.which, "written": readings[0][at], "meant": readings[1][at]}
        if best == _MISREAD:
            out["whole_cm3"] = int(self.runs.titre[i, k] - self.likely[i, k]) // 1000
            out |= _which_reading(float(self.found.ended[i, k]), out)
        return out, mean

    def _mean_if_so(self, i: int) -> Fraction | None:
        """Return the mean [cm³] of the largest set of likely titres that agree; None where no two do."""
        likely = np.where(self.likely[i] >= 0, self.likely[i], self.runs.titre[i])[self.view.accurate[i]].tolist()
        sets = agreeing_sets(likely, round(self.setting.within * 1000), 2)
        return mean_cm3(sum(likely[place] for place in sets[0]), len(sets[0])) if sets else None

    def _turned(self, i: int, k: int, way: Way) -> str:
        """Return which reading was upside down, and how: on a numbered mark, as at 0.00, it is the same either way."""
        written, meant = self._readings(i, k, way)
        turned = [name for name, one, other in zip(("initial", "final"), written, meant, strict=True) if one != other]
        return way.name.replace(way.which, turned[0]) if len(turned) == 1 else way.name

    def _readings(self, i: int, k: int, way: Way) -> list[tuple[int, int]]:
        """Return the lower and the higher reading of a run [µL], as written and as they were meant."""
        both = self.view.low[i, k], self.view.high[i, k]
        return [(int(low), int(high)) for low, high in (both, ends(way, *both))]


def _which_reading(ended: float, evidence: Mapping[str, Any]) -> dict[str, str]:
    """Return which reading was probably out, where the readings of the runs before or after tell."""
    if "copied_to" in evidence or ended > TELLING:
        return {"reading": "final"}
    return {"reading": "initial"} if ended < 1 - TELLING else {}
