"""Titres and means that students wrote less the blank, or as what the sample saved of it, turned to what was read."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from labmark.diagnose.plain import titre_right
from labmark.diagnose.working_means import mean_is_right, means_of
from labmark.facts import Run, Student


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
    mean = next((mean for mean in means if mean_is_right(own, blank - mean)), None)
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
    return any(mean_is_right(own, mean) for places in student.fair for mean in means_of(student, places))
