"""Claims about the bench in words: a hypothesis, the figures it rests on, and what titres alone can't tell from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from labmark.findings import KINDS

MOST_ALTERNATIVES = 2
"""Alternatives named in the sentence; all of them stand in the evidence."""


def message_of(finding: str, evidence: Mapping[str, Any], run: str | None) -> str:
    """Return the sentence for a claim about a run (its label) or about the student (None)."""
    where = "" if run is None else ("Rough: " if run == "Rough" else f"Run {run}: ")
    return where + _SENTENCES[finding](evidence) + _alternatives(evidence)


def _away(evidence: Mapping[str, Any]) -> str:
    """Return how far a titre is from what it is held against, with the direction."""
    others = evidence.get("above_own_others")
    far, than = (
        (others, "the other runs") if others is not None else (evidence.get("above_expected"), "the expected titre")
    )
    if far is None:
        return f"{_volume(evidence['titre'])} cm³"
    return f"{_volume(evidence['titre'])} cm³ is {_volume(abs(far))} {'above' if far > 0 else 'below'} {than}"


def _level(evidence: Mapping[str, Any]) -> str:
    far, percent = evidence["above_expected"], evidence["percent"]
    side = "above" if far > 0 else "below"
    return f"the runs lie {_volume(abs(far))} cm³ ({abs(percent):.1f} %) {side} what is expected"


def _volume(value: float) -> str:
    return f"{value:.2f}"


def _likely(evidence: Mapping[str, Any]) -> str:
    if evidence.get("likely_titre") is None:
        return ""
    text = f" The titre meant may be {_volume(evidence['likely_titre'])}"
    if evidence.get("mean_if_so") is not None:
        text += f", which would make the mean {_volume(evidence['mean_if_so'])}"
    return text + "."


def _overshoot(evidence: Mapping[str, Any]) -> str:
    return f"probably past the endpoint: {_away(evidence)}."


def _undershoot(evidence: Mapping[str, Any]) -> str:
    return f"probably stopped short of the endpoint: {_away(evidence)}."


def _misread(evidence: Mapping[str, Any]) -> str:
    return f"a reading is probably out by a whole number of cm³: {_away(evidence)}.{_likely(evidence)}"


def _upside_down(evidence: Mapping[str, Any]) -> str:
    where = "the scale was probably read in the wrong direction between two numbered marks"
    return f"{where}: {_away(evidence)}.{_likely(evidence)}"


def _implausible(evidence: Mapping[str, Any]) -> str:
    return f"no ordinary mishap explains this titre: {_away(evidence)}."


def _always(evidence: Mapping[str, Any]) -> str:
    return f"Probably past the endpoint in every run: {_level(evidence)}, and agree with one another."


def _diluted(evidence: Mapping[str, Any]) -> str:
    return f"The titrant was probably weakened, as by water left in the burette: {_level(evidence)}."


def _aliquot(evidence: Mapping[str, Any]) -> str:
    pipette = evidence.get("pipette")
    fits = f"; a pipette of about {pipette:.1f} cm³ would give them" if pipette else ""
    return f"The titres fit another pipette: {_level(evidence)}{fits}."


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


def _alternatives(evidence: Mapping[str, Any]) -> str:
    """Return what else it may have been, as the titres alone don't tell it apart."""
    other = [KINDS[each].title.lower() for each in _names(evidence.get("or")) if each in KINDS]
    same = [str(each) for each in evidence.get("looks_the_same") or ()]
    named = list(dict.fromkeys([*other, *same]))[:MOST_ALTERNATIVES]
    return f" It may also have been: {'; '.join(named)}." if named else ""


def _names(alternatives: Any) -> list[str]:
    """Return the codes among the alternatives ("none" is that nothing happened)."""
    return [str(each["finding"]) for each in alternatives or ()]
