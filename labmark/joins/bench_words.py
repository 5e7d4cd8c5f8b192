"""Claims about the bench in words: a hypothesis, the figures it rests on, and what titres alone can't tell from it.

    Run 2: very probably past the endpoint: 25.85 cm³ is 0.62 above the other runs. Titres alone do not tell this from a
    leaking tap or an initial reading taken as zero.

The same sentences go to the teacher and to the student, so they accuse nobody and say that nothing has been changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labmark.figures import in_figures
from labmark.units import shown_unit
from labmark.volumes import fraction

MOST_ALTERNATIVES = 2
"""Alternatives named in the sentence; all of them stand in the evidence."""
AGREES = 0.10
"""A titre no further than this from the student's others agrees with them: then the expected titre tells [cm³]."""
HEDGES = ((0.90, "very probably"), (0.66, "probably"), (0.0, "possibly"))
"""From this probability on, the word that goes with it: "possibly" is about as likely as not."""

ALTERNATIVES = {
    "overshoot": "a run past the endpoint",
    "undershoot": "a run stopped short of the endpoint",
    "misread-division": "a reading out by whole cm³",
    "read-upside-down": "a scale read in the wrong direction",
    "implausible-titre": "something that is none of the usual mishaps",
    "always-overshoots": "a stop past the endpoint every time",
    "diluted-titrant": "a titrant weakened by water",
    "wrong-aliquot": "another pipette",
    "air bubble in the jet": "an air bubble lost from the jet",
    "leaking tap": "a leaking tap",
    "initial reading taken as zero": "an initial reading taken as zero",
    "burette not refilled, 0.00 written": "a burette that was not refilled",
    "funnel left in the burette": "a funnel left in the burette",
    "flask rinsed with the solution": "a flask rinsed with the solution",
}
"""Finding or hypothesis -> how it is named beside another. What is not here is the same thing under another name."""


def message_of(
    finding: str,
    evidence: Mapping[str, Any],
    run: str | None,
    probability: float = 1.0,
    unit: str = "",
    figures: int = 3,
) -> str:
    """Return the sentences for a claim about a run (its label) or about the student (None).

    probability   that it happened, which decides between "possibly" and "very probably"
    unit, figures of the result that a misreading would lead to
    """
    where = "" if run is None else ("Rough: " if run == "Rough" else f"Run {run}: ")
    hedge = next(words for least, words in HEDGES if probability >= least)
    text = _SENTENCES[finding](evidence, hedge) + _likely(evidence, unit, figures) + _alternatives(finding, evidence)
    return where + text if where else text[:1].upper() + text[1:]


def _away(evidence: Mapping[str, Any]) -> str:
    """Return how far a titre is from what it is held against, with the direction."""
    titre, others, expected = evidence["titre"], evidence.get("above_own_others"), evidence.get("above_expected")
    if others is not None and evidence.get("turned"):
        return f"{_volume(titre)} cm³ is {_side(others)} what the other runs call for with its own numbers"
    if others is not None and (abs(others) > AGREES or expected is None or abs(expected) <= AGREES):
        return f"{_volume(titre)} cm³ is {_side(others)} the other runs"
    if expected is None:
        return f"{_volume(titre)} cm³"
    agreeing = "agrees with the other runs, and " if others is not None else ""
    return f"{_volume(titre)} cm³ {agreeing}is {_side(expected)} the expected titre"


def _side(far: float) -> str:
    return f"{_volume(abs(far))} {'above' if far > 0 else 'below'}"


def _level(evidence: Mapping[str, Any]) -> str:
    far, percent = evidence["above_expected"], evidence["percent"]
    side = "above" if far > 0 else "below"
    return f"the runs lie {_volume(abs(far))} cm³ ({abs(percent):.1f} %) {side} what is expected"


def _volume(value: float) -> str:
    return f"{value:.2f}"


def _likely(evidence: Mapping[str, Any], unit: str, figures: int) -> str:
    """Return what was probably meant and where it would lead, and that nothing has been changed."""
    if evidence.get("likely_titre") is None:
        return ""
    text = f" The titre meant may be {_volume(evidence['likely_titre'])} cm³"
    mean, result = evidence.get("mean_if_so"), evidence.get("result_if_so")
    if mean is not None:
        text += f"; the mean would then be {_volume(mean)} cm³"
    if mean is not None and result is not None:
        number = in_figures(fraction(repr(float(result))), figures)
        text += f" and the result {number} {shown_unit(unit)}".rstrip()
    return text + ". Nothing has been changed: that is for the teacher to decide."


def _overshoot(evidence: Mapping[str, Any], hedge: str) -> str:
    return f"{hedge} past the endpoint: {_away(evidence)}."


def _undershoot(evidence: Mapping[str, Any], hedge: str) -> str:
    return f"{hedge} stopped short of the endpoint: {_away(evidence)}."


def _misread(evidence: Mapping[str, Any], hedge: str) -> str:
    reading = f"the {evidence['reading']} reading" if evidence.get("reading") else "a reading"
    return f"{reading} is {hedge} out by a whole number of cm³: {_away(evidence)}.{_copied(evidence)}"


def _copied(evidence: Mapping[str, Any]) -> str:
    copy = evidence.get("copied_to")
    return "" if copy is None else f" Run {copy} begins with a copy of it, and is out by as much the other way."


def _upside_down(evidence: Mapping[str, Any], hedge: str) -> str:
    which = {"final": "the final reading was", "initial": "the initial reading was", "both": "both readings were"}
    reading = which.get(str(evidence.get("reading", "")).split(" ")[0], "the scale was")
    text = f"{reading} {hedge} taken in the wrong direction between two numbered marks: {_away(evidence)}."
    return text + _copied(evidence)


def _implausible(evidence: Mapping[str, Any], hedge: str) -> str:
    if evidence.get("likely_titre") is not None:
        return f"the burette was {hedge} not refilled, and 0.00 written: {_away(evidence)}."
    return f"{hedge} none of the usual mishaps: {_away(evidence)}."


def _always(evidence: Mapping[str, Any], hedge: str) -> str:
    return f"{hedge} past the endpoint in every run: {_level(evidence)}, and agree with one another."


def _diluted(evidence: Mapping[str, Any], hedge: str) -> str:
    return f"the titrant was {hedge} weakened, as by water left in the burette: {_weakened(evidence)}."


def _weakened(evidence: Mapping[str, Any]) -> str:
    last = evidence.get("last_above_expected")
    if last is not None:
        side = f"{_volume(abs(last))} {'above' if last > 0 else 'below'} it"
        first = f"{_volume(evidence['above_expected'])} cm³ ({evidence['percent']:.1f} %) above what is expected"
        return f"the first titre lies {first}, and the later ones come down to {side}, as while water is washed out"
    falls = ", and come down from run to run, as while water is washed out" if evidence.get("falls") else ""
    return _level(evidence) + falls


def _aliquot(evidence: Mapping[str, Any], hedge: str) -> str:
    pipette = evidence.get("pipette")
    fits = f"; a pipette of about {pipette:.1f} cm³ would give them" if pipette else ""
    return f"{hedge} another pipette: {_level(evidence)}{fits}."


_SENTENCES = {
    "overshoot": _overshoot,
    "undershoot": _undershoot,
    "misread-division": _misread,
    "read-upside-down": _upside_down,
    "implausible-titre": _implausible,
    "always-overshoots": _always,
    "diluted-titrant": _diluted,
    "wrong-aliquot": _aliquot,
}


def _alternatives(finding: str, evidence: Mapping[str, Any]) -> str:
    """Return what the titres alone do not tell apart from the finding."""
    named = alternatives(finding, evidence)[:MOST_ALTERNATIVES]
    return f" Titres alone do not tell this from {' or '.join(named)}." if named else ""


def alternatives(finding: str, evidence: Mapping[str, Any]) -> list[str]:
    """Return what else it may have been, likeliest first, then what never has a finding of its own."""
    others = [str(each["finding"]) for each in evidence.get("or") or ()]
    # A burette that was not refilled is the claim itself where the titre that was meant is known.
    same: Sequence[str] = () if finding == "implausible-titre" else evidence.get("looks_the_same") or ()
    return list(dict.fromkeys(ALTERNATIVES[each] for each in (*others, *same) if each in ALTERNATIVES))
