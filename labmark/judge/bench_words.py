"""Claims about the bench in words: a hypothesis, the figures it rests on, and what titres alone can't tell from it.

    Run 2 very probably went past the endpoint: 25.85 cm³ is 0.62 cm³ above your mean titre 25.23 cm³. The titres alone
    cannot tell this from a leaking tap.

The sentences are in the table of hypotheses; here they are filled in. They accuse nobody, and say that nothing has
been changed. So is the table itself, which the report shows as what is looked for.
"""

from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import cache
from typing import Any

from labmark.diagnose.hypotheses import BY_NAME, HYPOTHESES, PIPETTES, Band, Hypothesis, pipette_about
from labmark.exact import apart, fraction, in_figures
from labmark.facts import Run, Student, cm3, mean_cm3, runs_named
from labmark.findings import KINDS
from labmark.units import shown_unit
from labmark.words import YOUR, begun, either, listed

MOST_OF_RUN, MOST_OF_STUDENT = 2, 4
"""Alternatives named in the sentence about a run, or all of them; all alternatives stand in the evidence."""
AGREES = 0.10
"""A titre no further than this from the student's others agrees with them: then the expected titre tells [cm³]."""
HEDGES = ((0.90, "very probably"), (0.66, "probably"), (0.0, "possibly"))
"""From this probability on, the word that goes with it: "possibly" is about as likely as not."""
NOT_REFILLED = "burette not refilled, 0.00 written"
READINGS = {
    "final": "the final reading was",
    "initial": "the initial reading was",
    "both": "both readings were",
    "": "a reading was",
}
"""Which reading was out -> how the sentence names it."""

Limits = tuple[tuple[Fraction, ...], tuple[Fraction, ...]]
"""Of the bands of accuracy, in cm³ and in per cent: a distance shows on which side of each it lies."""


def message_of(
    finding: str,
    evidence: Mapping[str, Any],
    student: Student,
    run: Run | None,
    probability: float = 1.0,
    unit: str = "",
    figures: int = 3,
    limits: Limits = ((), ()),
) -> str:
    """Return the sentences for a claim about a run or, where there is none, about the student.

    probability   that it happened, which decides between "possibly" and "very probably"
    unit, figures of the result that a misreading would lead to
    """
    titres = _titres(evidence, student, run, limits)
    runs = runs_of(evidence, student, run)
    meant = evidence.get("likely_titre") is not None
    says = BY_NAME[NOT_REFILLED if finding == "implausible-titre" and meant else finding].says
    text = says.format(**_named(runs, probability), **_readings(evidence), **titres)
    text += _copied(evidence) + _likely(evidence, unit, figures)
    named = alternatives(finding, evidence)[: MOST_OF_STUDENT if run is None else MOST_OF_RUN]
    return f"{text} The titres alone cannot tell this from {listed(named, 'or')}." if named else text


def runs_of(evidence: Mapping[str, Any], student: Student, run: Run | None) -> list[Run]:
    """Return the runs that a claim is about: the one, or those that it names together; none where it is the student."""
    return [one for one in student.runs if one is run or (run and one.label in evidence.get("runs", ()))]


def _named(runs: list[Run], probability: float) -> dict[str, str]:
    """Return what the sentences call runs, within and at their beginning, and how likely it is."""
    name = runs_named(runs) if runs else ""
    return {"run": name, "Run": begun(name), "hedge": next(words for least, words in HEDGES if probability >= least)}


def _readings(evidence: Mapping[str, Any]) -> dict[str, str]:
    """Return what the sentences say of readings: which was out, what was written and what was meant."""
    digits = {key: "" if (value := evidence.get(key)) is None else f"{value:.2f}" for key in ("written", "meant")}
    return digits | {
        "reading": READINGS[str(evidence.get("reading", "")).split(" ")[0]],
        "which": "a reading" if "meant" not in evidence else f"the {evidence['reading']} reading",
    }


def _titres(evidence: Mapping[str, Any], student: Student, run: Run | None, limits: Limits) -> dict[str, str]:
    """Return what the sentences say of a titre, or of all titres of a student together."""
    pipette = evidence.get("pipette")
    alone = None if "runs" in evidence else run
    falls = evidence.get("falls") or evidence.get("last_above_expected") is not None
    return {
        "away": _mean_away(evidence, student, limits) if alone is None else _run_away(evidence, student, alone),
        "groups": _groups(evidence, student),
        "falls": ", and the titres come down from run to run, as while water is washed out" if falls else "",
        "pipette": f"; a pipette of {_size(pipette)} cm³ would give such titres" if pipette else "",
    }


def _copied(evidence: Mapping[str, Any]) -> str:
    """Return that the next run is out as well, where it begins with a copy of a misread final reading."""
    copy = evidence.get("copied_to")
    return "" if copy is None else f" Run {copy} begins with a copy of it, and is out by as much the other way."


def _size(pipette: float) -> str:
    """Return the volume [cm³] that titres fit as the pipette there is of about that size: 24.9 is a pipette of 25."""
    usual = pipette_about(pipette)
    return f"about {pipette:.1f}" if usual is None else f"{usual:g}"


def _run_away(evidence: Mapping[str, Any], student: Student, run: Run) -> str:
    """Return how far a titre is from what it is held against, with the direction."""
    titre, others, turned = cm3(run.titre or 0), beside(student, run), evidence.get("above_own_others")
    by_result = run.turned is not None
    if by_result and (turned is None or abs(turned) > AGREES):
        way = "" if turned is None else f" is {abs(turned):.2f} cm³ {'above' if turned > 0 else 'below'}"
        return f"{float(titre):.2f} cm³{way and way + ' what the other runs call for with its own numbers'}"
    expected, named = held_against(student, evidence, run)
    far = others is not None and abs(titre - others) > fraction(AGREES)
    if not by_result and others is not None and (far or abs(titre - expected) <= fraction(AGREES)):
        found = apart(titre, others)
        what = _others_named(student, run) if run.in_mean else student.mean_named()
        return f"{found.titre} cm³ is {found.words(what.format('{} cm³'))}"
    found, agreeing = apart(titre, expected), not by_result and others is not None
    return f"{found.titre} cm³ {'agrees with the other runs, and ' if agreeing else ''}is {found.words(named)}"


def _mean_away(evidence: Mapping[str, Any], student: Student, limits: Limits) -> str:
    expected, named = held_against(student, evidence)
    if student.agreement is not None:
        far = evidence["level"] - evidence["class_level"] if "titre" in evidence else evidence["above_expected"]
        return f"the titres are {abs(far):.2f} cm³ {'above' if far > 0 else 'below'} what {YOUR} numbers call for"
    assert student.mean is not None
    if "titre" in evidence:  # the first, where later ones come down from it
        found = apart(fraction(evidence["titre"]), expected)
        return f"{found.titre} cm³ is {found.words(named)}"
    found = apart(student.mean, expected, *limits)
    return f"{student.mean_named().format(f'{found.titre} cm³')} is {found.words(named)}"


def beside(student: Student, run: Run) -> Fraction | None:
    """Return what a titre is compared with first: the mean titre or, for a run in it, the mean of the others in it."""
    if not run.in_mean:
        return student.mean
    others = [each.titre for each in _others(student, run) if each.titre is not None]
    return mean_cm3(sum(others), len(others)) if others else None


def _others(student: Student, run: Run) -> list[Run]:
    """Return the other runs behind the mean."""
    return [each for each in student.runs if each.in_mean and each is not run]


def _others_named(student: Student, run: Run) -> str:
    """Return what their mean is called; there may be runs besides that are left out of it."""
    others = _others(student, run)
    return f"{'that' if len(others) == 1 else 'the mean'} of {runs_named(others)}, {{}}"


def held_against(student: Student, evidence: Mapping[str, Any], run: Run | None = None) -> tuple[Fraction, str]:
    """Return the titre [cm³] to be expected and what it is called: the reference's, where the class bears it out.

    Where the reference or a group is in doubt, the class tells better what was to be expected.
    """
    titre, expected = evidence["titre"] if "titre" in evidence else evidence["level"], student.expected_titre
    # Of a run with numbers of its own both are looked at turned to the mean numbers.
    turned = Fraction(0) if run is None or run.turned is None else cm3(run.titre or 0) - run.turned
    centre = fraction(titre) - fraction(evidence["above_expected"])
    if expected is not None and abs(centre - turned - expected) <= fraction(AGREES):
        return (run and run.expected) or expected, "the expected {} cm³"
    return centre, "the {} cm³ that the class’s titres suggest"


def _groups(evidence: Mapping[str, Any], student: Student) -> str:
    """Return two groups of runs with their means and how far these are apart; empty where there are none."""
    if "groups" not in evidence:
        return ""
    groups = [[run for run in student.runs if run.label in labels] for labels in evidence["groups"]]
    named = [runs_named(group) for group in groups]
    if student.agreement is not None:
        return f"With their own numbers, {named[0]} and {named[1]} do not agree"
    before, after = (mean_cm3(sum(run.titre or 0 for run in group), len(group)) for group in groups)
    found = apart(after, before)
    way = "higher" if found.above else "lower"
    return (
        f"{named[0].capitalize()} {'agree' if len(groups[0]) > 1 else 'is'} at {found.expected} cm³ and {named[1]} "
        f"at {found.titre} cm³, {found.volume} cm³ {way}"
    )


def _likely(evidence: Mapping[str, Any], unit: str, figures: int) -> str:
    """Return what was probably meant and where it would lead, and that nothing has been changed."""
    if evidence.get("likely_titre") is None:
        return ""
    text = f" Perhaps {evidence['likely_titre']:.2f} cm³ was meant"
    mean, result = evidence.get("mean_if_so"), evidence.get("result_if_so")
    if mean is not None:
        text += f"; the mean would then be {mean:.2f} cm³"
    if mean is not None and result is not None:
        number = in_figures(fraction(result), figures)
        text += f" and the result {number} {shown_unit(unit)}".rstrip()
    return f"{text}. Nothing has been changed: {either('your teacher decides', 'you decide')}."


def alternatives(finding: str, evidence: Mapping[str, Any]) -> list[str]:
    """Return what else it may have been, likeliest first, then what never has a finding of its own."""
    others = [str(each["finding"]) for each in evidence.get("or") or ()]
    # A burette that was not refilled is the claim itself where the titre that was meant is known.
    same = () if finding == "implausible-titre" else evidence.get("looks_the_same") or ()
    rows = [BY_NAME[each] for each in (*others, *same) if each in BY_NAME]
    return list(dict.fromkeys(row.beside for row in rows if row.beside))


WAYS = {"": "", "+": "up", "-": "down", "+/-": "up or down"}
"""Direction of a hypothesis -> words for what it does to the titre."""


@cache
def looked_for() -> tuple[dict[str, Any], ...]:
    """Return a row a hypothesis, in the order of the table.

    {"what", "scope", "finding", "direction", "effect", "rate", "looks_like", "tell", "check"}; `effect` says which way
    and how much, `rate` is a fraction of accurate runs (scope "run") or of students (scope "student").
    """
    return tuple(
        {
            "what": name_of(each),
            "scope": each.scope,
            "finding": each.finding,
            "direction": each.direction,
            "effect": effect_of(each),
            "rate": each.rate,
            "looks_like": each.looks_like,
            "tell": each.tell,
            "check": each.check,
        }
        for each in HYPOTHESES
    )


def name_of(hypothesis: Hypothesis) -> str:
    """Return a hypothesis as a heading: the title of its own finding, or its name."""
    return begun(KINDS[hypothesis.name].title if hypothesis.name in KINDS else hypothesis.name)


def effect_of(hypothesis: Hypothesis) -> str:
    """Return which way a hypothesis moves the titre, and by how much."""
    way = WAYS[hypothesis.direction]
    return f"{way}, {_SIZES[hypothesis.shape](hypothesis.bands)}" if way else "as expected"


def _added(bands: tuple[Band, ...]) -> str:
    return _range(bands, 1, " cm³", ".2f")


def _proportional(bands: tuple[Band, ...]) -> str:
    return f"{_range(bands, 100, ' %', 'g')} of the titre"


def _whole(bands: tuple[Band, ...]) -> str:
    commonest = " or ".join(f"{band.low:g} cm³ ({100 * band.share:.0f} %)" for band in bands[:2])
    rest = ", ".join(f"{low:g}" for low in sorted(band.low for band in bands[2:]))
    return f"{commonest}, seldom {rest}" if rest else commonest


def _range(bands: tuple[Band, ...], scale: float, unit: str, form: str) -> str:
    """Return from where to where the sizes go and, of several bands, up to where the commonest goes."""
    low, high = (f"{scale * end:{form}}" for end in (min(b.low for b in bands), max(b.high for b in bands)))
    most = max(bands, key=lambda band: band.share)
    if len(bands) == 1 or most.low == most.high:
        return f"{low} to {high}{unit}"
    return f"{low} to {high}{unit} (mostly up to {scale * most.high:{form}})"


_SIZES: dict[str, Callable[[tuple[Band, ...]], str]] = {
    "added": _added,
    "proportional": _proportional,
    "fading": lambda bands: f"{_proportional(bands)} at first, less from run to run",
    "whole number": _whole,
    "each added": lambda bands: f"each run by its own, {_added(bands)}",
    "scatter": lambda bands: f"runs scatter by {_added(bands)}",
    "mirrored": lambda _: "as the readings say: 24.70 written for 24.30",
    "digits swapped": lambda _: "as the readings say: 23.75 written for 27.35",
    "another sample": lambda _: "to the titre of a run before",
    "not refilled": lambda _: "by the final reading of the run before",
    "two levels": lambda bands: f"some runs, {_added(bands)}",
    "ratio": lambda _: f"in the ratio of another pipette ({_listed(sorted(size for size, _ in PIPETTES))} cm³)",
    "anywhere": lambda _: "by any amount",
}
"""Shape -> words for how much, from the bands."""


def _listed(sizes: list[float]) -> str:
    return ", ".join(f"{size:g}" for size in sizes)
