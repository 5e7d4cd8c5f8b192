"""What a finding rests on, for the teacher's page: figures with names and units, and what it may be instead."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labmark.findings import KINDS
from labmark.outputs import numbers
from labmark.words import begun

Tree = Mapping[str, Any]

Names = Mapping[str, tuple[str, str]]
"""Key of the evidence -> what it is called, and its unit (with ± where the sign says on which side)."""

OF_THE_BENCH: Names = {
    "titre": ("titre", "cm³"),
    "own_level": ("where the student’s good runs lie", "cm³"),
    "above_own_level": ("from there", "±cm³"),
    "above_own_others": ("from the middle of the other runs", "±cm³"),
    "level": ("where the student’s runs lie", "cm³"),
    "expected": ("titre that the reference gives", "cm³"),
    "class_level": ("titre expected in this class", "cm³"),
    "above_expected": ("from what is expected in this class", "±cm³"),
    "percent": ("from what is expected in this class", "±%"),
    "last_above_expected": ("last titre, from what is expected in this class", "±cm³"),
    "repeatability": ("standard deviation of good runs in this class", "cm³ 3"),
    "likely_titre": ("titre that may be meant", "cm³"),
    "mean_if_so": ("mean if so", "cm³"),
    "result_if_so": ("result if so", ""),
    "reading": ("reading concerned", ""),
    "copied_to": ("copied as the initial reading of run", ""),
    "whole_cm3": ("out by", "±whole"),
    "pipette": ("pipette that would fit", "cm³"),
    "falls": ("titres come down from run to run", ""),
}
OF_A_STUDENT: Names = {
    "span": ("span with it taken in", "cm³"),
    "runs": ("runs concerned", ""),
    "keep": ("runs that agree", ""),
    "candidates_tried": ("sums tried", ""),
    "accidental_hits_expected": ("of these, expected to fit by chance", ""),
    "also_fits": ("fits too, less likely", ""),
    "explanation_probability": ("odds of that explanation", "odds"),
    "together_with": ("together with", ""),
    "odds": ("odds against chance, to 1", ""),
}
OF_THE_CLASS: dict[str, Names] = {
    "reference-doubtful": {
        "results": ("results", ""),
        "shift_percent": ("class from the reference", "±%"),
        "shift_titre": ("in titre", "±cm³"),
        "low_titre": ("interval of that, from", "±cm³"),
        "high_titre": ("to", "±cm³"),
        "technique_low": ("technique explains shifts from", "±cm³"),
        "technique_high": ("to", "±cm³"),
        "same_side": ("students on that side", ""),
        "statistic": ("shift over its uncertainty", ""),
    },
    "group-shift": {
        "n": ("students in it", ""),
        "others_n": ("others", ""),
        "effect_percent": ("group from the others", "±%"),
        "effect_titre": ("in titre", "±cm³"),
        "statistic": ("t", ""),
        "critical": ("critical value", ""),
        "looked_at": ("groups looked at", ""),
        "p": ("chance of so much, if nothing differed", ""),
        "same_as": ("the same students", ""),
    },
    "drift": {
        "n": ("results", ""),
        "first_to_last_percent": ("from first to last", "±%"),
        "first_to_last_titre": ("in titre", "±cm³"),
        "tau": ("Kendall’s tau", ""),
        "p": ("chance of so much, if nothing drifted", ""),
        "goes_with": ("goes with", ""),
    },
    "common-fault": {
        "students": ("students", ""),
        "present": ("present", ""),
        "as_far_below": ("as far below", ""),
        "p": ("chance of so much, if nobody had the habit", ""),
    },
}
"""Finding about the class -> the figures of it that are shown; all of them stand in results.json."""
TOLD_ELSEWHERE = (
    *("or", "looks_the_same", "check", "cause", "criterion", "working", "value", "other_set", "slips"),
    *("endpoint", "titration", "result", "turned", "read_to"),
)
"""Keys of the evidence that the message or the list of alternatives says already."""


def title(code: str) -> str:
    """Return a code as a title: "subtraction-slip" is "Subtraction slip"."""
    return begun(code.replace("-", " ").replace("_", " "))


def sentence(text: str) -> str:
    """Return a text with a capital and a full stop, so that remarks from several hands read alike."""
    text = text.strip()
    return begun(text) + ("" if not text or text[-1] in ".?!…”" else ".")


def named(code: str) -> str:
    """Return the few words for a finding from the catalogue; a code that is not in it speaks for itself."""
    return KINDS[code].title if code in KINDS else title(code)


def plain(value: Any) -> str:
    """Return a figure or a list of figures from the evidence as text."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if own := _headings(value):
        return own
    if isinstance(value, Mapping):
        told = {key: one for key, one in value.items() if one not in (None, "", [], {}) and _tells(str(key), value)}
        within = {key: isinstance(one, Mapping) and not _headings(one) for key, one in told.items()}
        joined = ((key, ": " if within[key] else " ", one) for key, one in told.items())
        return ", ".join(f"{title(str(key)).lower()}{joint}{plain(one)}" for key, joint, one in joined)
    if isinstance(value, list | tuple):
        return ", ".join(plain(one) for one in value)
    if isinstance(value, float):
        return numbers.significant(value, 3)
    return numbers.NOTHING if value is None else str(value)


def _headings(value: Any) -> str:
    """Return the headings of the class sheet that a number of the students' own stands under; "" of anything else."""
    found = [value.get(key) for key in ("column", "by", "minus")] if isinstance(value, Mapping) else []
    return " − ".join(f"“{each}”" for each in found if each)


def _tells(key: str, value: Mapping[Any, Any]) -> bool:
    """Return whether a key of the practical says something: what a default is of that is not there says nothing."""
    there = {
        "factor_name": value.get("factor"),
        "molar_volume": value.get("quantity") == "volume strength",
        "within_percent": value.get("of") == "result",
    }
    return bool(there.get(key, True))


def facts(found: Tree) -> list[tuple[str, str]]:
    """Return the figures behind a finding as (name, figure with unit); what says nothing is left out."""
    evidence, of_class = found["evidence"], OF_THE_CLASS.get(found["finding"])
    names = of_class or (OF_THE_BENCH if "check" in evidence else OF_A_STUDENT)
    return [
        (name, ", ".join(map(named, value)) if key == "together_with" else _figure(value, unit))
        for key, value in evidence.items()
        if key not in TOLD_ELSEWHERE and value is not None and value != [] and (of_class is None or key in of_class)
        for name, unit in [names.get(key, (title(key).lower(), ""))]
    ]


def _figure(value: Any, unit: str) -> str:
    number = isinstance(value, int | float | Decimal) and not isinstance(value, bool)
    if not unit or not number:
        return plain(value)
    if unit == "odds":
        return numbers.probability(float(value))
    if unit == "±whole":
        return f"{numbers.signed(value, 0)} cm³"
    decimals = 1 if "%" in unit else 3 if unit.endswith("3") else 2
    shown = numbers.signed(value, decimals) if unit.startswith("±") else numbers.fixed(value, decimals)
    return f"{shown} {'%' if '%' in unit else 'cm³'}"


def instead(found: Tree, looked_for: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Return what a finding may be instead: (name, odds, what would tell), likeliest first.

    `looked_for` holds what would confirm each hypothesis, by its heading. Causes that titres alone never tell from
    the finding have no odds of their own: they are within those of the finding.
    """
    evidence = found["evidence"]
    told = [
        ("Nothing went wrong" if one["finding"] == "none" else named(one["finding"]), numbers.share(one["probability"]))
        for one in evidence.get("or") or ()
    ]
    told += [(begun(name), "within these odds") for name in evidence.get("looks_the_same") or ()]
    return [(what, odds, looked_for.get(what, "")) for what, odds in told]
