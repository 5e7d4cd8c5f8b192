"""Titres and means that students wrote otherwise than they are reckoned with here, turned to what was read.

Less the blank; as what the sample saved of it; at a later endpoint counted from the initial reading.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from labmark.diagnose.plain import titre_right
from labmark.diagnose.working_means import mean_is_right, means_of, ticked
from labmark.facts import Run, Student, cm3
from labmark.figures import mean_shown
from labmark.volumes import PER_CM3, as_written, both_roundings


def as_read(student: Student, blank: Fraction) -> Student:
    """Return a student who took the blank [cm³] off their titres with these as they were read; others as they are."""
    off = round(blank * 1000)
    less = [bool(off) and _is_net(run, off) for run in student.runs]
    whole = [run for run, one in zip(student.runs, less, strict=True) if not one and run.written is not None]
    # Nobody needs the blank for the rough.
    net = any(less) and all(run.titre is None or (run.rough and titre_right(run)) for run in whole)
    runs = tuple(
        replace(run, written=run.written + off, net=off)
        if net and run.written is not None and (one or run.titre is None)
        else run
        for run, one in zip(student.runs, less, strict=True)
    )
    student, own, taken = replace(student, runs=runs), student.own_mean, Decimal(off) / 1000
    if own is not None and off and not _is_mean(student, own) and (net or _is_mean(student, own + taken)):
        return replace(student, own_mean=own + taken, net=taken)
    return student


def as_titre(student: Student, blank: Fraction) -> Student:
    """Return a student of a back titration who wrote what the sample saved [cm³] with the mean titre behind it."""
    own = student.own_mean
    if own is None or _is_mean(student, own):
        return student
    means = (mean for places in student.fair for mean in means_of(student, places))
    kept = Decimal(blank.numerator) / blank.denominator - own  # the mean may have been rounded first
    mean = next((mean for mean in means if mean_is_right(own, blank - mean) or mean_is_right(kept, mean)), None)
    if mean is None:
        return student
    kept, off = (Decimal(each.numerator) / Decimal(each.denominator) for each in (mean, blank - mean))
    return replace(student, own_mean=kept, net=kept - off, saved=own)


def _is_net(run: Run, off: int) -> bool:
    """Return whether a written titre is right with the blank [µL] added to it, and not as it stands."""
    if run.written is None or run.titre is None or titre_right(run):
        return False
    return titre_right(replace(run, written=run.written + off))


def _is_mean(student: Student, own: Decimal) -> bool:
    """Return whether a written mean is that of runs that agree, of those ticked, or of all."""
    every = tuple(place for place, run in enumerate(student.runs) if run.usable)
    some = (*student.fair, ticked(student), every)
    return any(mean_is_right(own, mean) for places in some for mean in means_of(student, places))


def from_the_last_endpoint(student: Student, earlier: Sequence[Student]) -> Student:
    """Return a student who counted a later endpoint's titres from the initial reading with these from the one before.

    `earlier` is the student at the endpoints before. Others are returned as they are.
    """
    before = {run.label: sum(titres) for run in student.runs if all(titres := _titres_before(run.label, earlier))}
    used = [run for run in student.runs if run.in_mean and run.label in before]
    if student.mean is not None and used:
        less = cm3(sum(before[run.label] for run in used)) / len(used)
        student = replace(student, from_start=student.mean + less)
    return _mean_from_last(_titres_from_last(student, before), before)


def _titres_from_last(student: Student, before: Mapping[str, int]) -> Student:
    """Return a student whose written titres all count from the initial reading with these from the endpoint before.

    `before` are the titres up to there [µL], by run.
    """
    written = [run for run in student.runs if run.written is not None and run.titre is not None and run.label in before]
    gross = [_is(run.written or 0, (run.titre or 0) + before[run.label], run.written_decimals) for run in written]
    net = [_is(run.written or 0, run.titre or 0, run.written_decimals) for run in written]
    if not written or not all(gross) or any(net):
        return student
    runs = tuple(
        replace(run, written=run.written - before[run.label], net=-before[run.label])
        if run in written and run.written is not None
        else run
        for run in student.runs
    )
    return replace(student, runs=runs)


def _titres_before(label: str, earlier: Sequence[Student]) -> list[int]:
    found = [next((run.titre for run in one.runs if run.label == label), None) for one in earlier]
    return [each or 0 for each in found]


def _is(written: int, titre: int, decimals: int | None) -> bool:
    places = 2 if decimals is None else decimals
    return written == titre or as_written(Decimal(written) / PER_CM3, places) in both_roundings(cm3(titre), places)


def _mean_from_last(student: Student, before: Mapping[str, int]) -> Student:
    own = student.own_mean
    if own is None:
        return student
    for places in student.fair:
        labels = [student.runs[place].label for place in places]
        if not all(label in before for label in labels):
            continue
        less = cm3(sum(before[label] for label in labels)) / len(labels)
        for mean in means_of(student, places):
            if mean_is_right(own, mean + less) and not mean_is_right(own, mean):
                kept = mean_shown(mean, 2)
                return replace(student, own_mean=kept, net=kept - own)
    return student
