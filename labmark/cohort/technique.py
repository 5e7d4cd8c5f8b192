"""What is kept of how a student worked in one practical, and how that differs from earlier ones, in words. Pure."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from labmark.analyse.apart import ALPHA
from labmark.exact import average, fraction
from labmark.findings import KINDS, is_private
from labmark.words import listed

Technique = Mapping[str, Any]
READING = 2 * 0.05**2 / 12
"""Variance [cm⁶] that reading a titre to the nearest 0.05 cm³ leaves alone (two readings, rectangular)."""
NEARER = 2.0
"""Standard uncertainties of their difference by which one result must be nearer to the reference than another."""
MISREAD = frozenset({"misread-division", "read-upside-down", "digits-swapped", "implausible-titre"})
"""Findings about a run whose titre says little of how well the end point was met."""


def technique(one: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return what is kept of a student's record; None for one who did nothing."""
    if one["absent"] or not one["runs"] or one.get("excused"):
        return None
    error, result, marks = one["percent_error"], one["result"], one["marks"]
    known = (one["reference"] or {}).get("from") == "practical" and error is not None and result["value"]
    # A mark that the teacher gives where the scheme leaves it open says nothing of the reference.
    open_to = [each for each in marks if each.get("pending") or each.get("scheme_mark", 0) is None]
    doubted = any(each["criterion"] == "accuracy" for each in open_to)
    marked = [each for each in marks if each["mark"] is not None and each["out_of"]]
    u_percent = 100 * result["standard_uncertainty"] / result["value"] if known else None
    return {
        "spread": _spread(one),
        "error": [error, u_percent] if known and not doubted else None,
        "concordant": one["concordant"],
        "marks": {each["title"]: [float(each["mark"]), float(each["out_of"])] for each in marked},
        "slips": sorted({each["finding"] for each in one["findings"] if counts(each)}),
    }


def counts(finding: Mapping[str, Any]) -> bool:
    """Return whether a finding is one to learn from: no note, nothing set aside, and no question to a few."""
    return finding["level"] != "note" and not finding.get("aside") and not is_private(finding["finding"])


def _spread(one: Mapping[str, Any]) -> list[float]:
    """Return the squares [cm⁶] of the accurate titres about their means, and the degrees of freedom."""
    if any(given["run"] for given in one["inputs"]):
        return [0.0, 0]  # each run has a mass of its own: titres differ as they must
    wild = {each["run"] for each in one["findings"] if each["finding"] in MISREAD}
    titres: dict[str, list[Fraction]] = {}
    for run in one["runs"]:
        if run["kind"] == "accurate" and run["titre"] is not None and run["label"] not in wild:
            titres.setdefault(run.get("titration", ""), []).append(fraction(run["titre"]))
    squares = sum(((titre - average(own)) ** 2 for own in titres.values() for titre in own), Fraction(0))
    return [float(squares), sum(len(own) - 1 for own in titres.values())]


def where(each: Mapping[str, Any], date: str, titles: Sequence[str]) -> str:
    """Return how a class's practical is named among several of one student with these titles."""
    if titles.count(each["title"]) > 1:
        return f"the practical of {date}" if date else f"“{each['title']}” (“{each['name']}”)"
    return f"“{each['title']}”"


def line(now: Technique, before: Sequence[Technique]) -> str:
    """Return how the work differs from earlier work, in two sentences at most; empty where nothing can be said.

    First what is better or as good, then what to look out for. Nothing is said that chance may explain.
    """
    return " ".join(filter(None, (next(_good(now, before), ""), next(_care(now, before), "")))) if before else ""


def _good(now: Technique, before: Sequence[Technique]) -> Iterator[str]:
    last = before[-1]
    if spreads(now, before) == "closer":
        yield f"Your accurate runs lie closer together than in {_those(before)}."
    if now["error"] and last["error"]:
        (here, u), (there, v) = now["error"], last["error"]
        if abs(there) - abs(here) > NEARER * (u * u + v * v) ** 0.5:
            yield f"Your result lies nearer to the reference than in {last['where']}."
    share, criterion, where = min(_lost(now, before), default=(0.0, "", ""))
    if share < 0:
        yield f"What cost you marks in {where} has full marks here: {criterion}."
    if now["concordant"] and last["concordant"]:
        yield f"Your runs agree, as they do in {last['where']}."


def _lost(now: Technique, before: Sequence[Technique]) -> Iterator[tuple[float, str, str]]:
    """Yield what share each criterion with full marks lost in the latest earlier practical that has it, and where."""
    for criterion, (mark, out_of) in now["marks"].items():
        last = next((each for each in reversed(before) if criterion in each["marks"]), None)
        if mark == out_of and last is not None:
            was, of = last["marks"][criterion]
            yield was / of - 1, criterion, last["where"]


def _care(now: Technique, before: Sequence[Technique]) -> Iterator[str]:
    had = {code: [each for each in before if code in each["slips"]] for code in now["slips"] if code in KINDS}
    code = max(had, key=lambda code: (len(had[code]), KINDS[code].urgency, code), default="")
    if had.get(code):
        yield f"{KINDS[code].title}: one thing to look out for, noted here and in {had[code][-1]['where']}."
    if spreads(now, before) == "wider":
        yield f"Your accurate runs lie further apart than in {_those(before)}: take the last drops slowly."


def _those(before: Sequence[Technique]) -> str:
    return listed([each["where"] for each in before if each["spread"][1]])


def spreads(now: Technique, before: Sequence[Technique]) -> str:
    """Return whether accurate runs lie "closer" or "wider" than before by more than chance explains; else empty.

    By the variance ratio (F, two-sided 5 %) of three runs and more to those of the earlier practicals, pooled. Neither
    variance is taken to be less than what reading a burette leaves.
    """
    from scipy.special import fdtrc

    (own, dof), (squares, others) = now["spread"], (sum(each["spread"][part] for each in before) for part in (0, 1))
    if min(dof, others) < 2:
        return ""
    ratio = max(squares / others, READING) / max(own / dof, READING)
    p = {"closer": fdtrc(others, dof, ratio), "wider": fdtrc(dof, others, 1 / ratio)}
    return next((way for way, chance in p.items() if chance < ALPHA / 2), "")
