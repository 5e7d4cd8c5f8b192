"""What a student can do next time, one step for each finding, and which runs belonged in the mean."""

from __future__ import annotations

from collections.abc import Sequence

from labmark import words
from labmark.assessed import Assessed
from labmark.diagnose.hypotheses import BY_NAME
from labmark.diagnose.working_slips import LEFT_OUT, TICKED_TOO
from labmark.diagnose.working_ways import tells
from labmark.facts import Run, Student
from labmark.findings import KINDS
from labmark.records import Finding, Mark

SELECTED = ("rough-in-mean", "discordant-in-mean")
"""Findings that say already which runs should have been kept."""


def advice_on(code: str) -> str:
    """Return what to do next time about a kind of finding: from the table for the bench, else from the catalogue."""
    return BY_NAME[code].tell if code in BY_NAME else KINDS[code].advice


def next_time(finding: Finding) -> str:
    """Return what a student can do next time about this very finding; empty where another one says it."""
    evidence = finding.evidence
    if finding.finding == "not-a-number" and evidence.get("spoilt"):
        return "Tell your teacher what the burette showed: the spreadsheet has changed what was typed."
    if finding.finding == "too-few-runs" and not evidence.get("another_run_needed"):
        return ""
    if finding.finding == "discordant-in-mean" and not evidence.get("keep"):
        return "Where no titres agree, do another run before you take a mean."
    if finding.finding == "mean-slip" and evidence.get("cause") == LEFT_OUT:
        return "Take the mean of all the titres that agree."
    if finding.finding == "mean-slip" and evidence.get("cause") == TICKED_TOO:
        return "Tick the runs that your mean is of, and no others."
    if finding.finding == "rounding" and evidence.get("figures"):
        asked = f"{evidence['figures']} significant figures were asked for"
        return f"Count the figures before you write a result down: {asked}."
    if finding.finding == "rounding" and evidence.get("decimals"):
        return "Write a mean with two decimals, as the readings have."
    return tells().get((finding.finding, str(evidence.get("cause"))), "") or advice_on(finding.finding)


def kept(one: Assessed) -> str:
    """Return which runs should have been kept, where the choice cost marks and no finding names them."""
    chosen = [mark for mark in one.marks if mark.criterion == "selection"]
    if not any(map(is_lost, chosen)) or not one.student.sets or any(each.finding in SELECTED for each in one.findings):
        return ""
    return f"{runs_named(one.student, one.student.sets[0])} agree: the mean should be of all of these."


def is_lost(mark: Mark) -> bool:
    """Return whether a mark is below what it is out of; one that waits is not."""
    return mark.mark is not None and mark.mark < mark.out_of


def runs_named(student: Student, places: Sequence[int]) -> str:
    """Return runs as they are named at the beginning of a sentence: "Runs 1, 2 and 3"."""
    return listed([student.runs[place] for place in places]).capitalize()


def listed(runs: Sequence[Run]) -> str:
    """Return runs as they are named in a sentence: "the rough and run 3", "runs 1, 2 and 3"."""
    labels = [run.label for run in runs if not run.rough]
    numbered = [f"run{'s' if len(labels) > 1 else ''} {words.listed(labels)}"] if labels else []
    return words.listed([*(["the rough"] if len(labels) < len(runs) else []), *numbered])
