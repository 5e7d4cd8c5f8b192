"""Titres and means that students wrote otherwise than they are reckoned with here, turned to what was read.

Less the blank; as what the sample saved of it; at a later endpoint counted from the initial reading.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from labmark.dataclass import replace
from labmark.diagnose.plain import titre_right
from labmark.diagnose.working_means import mean_is_right, means_of, ticked
from labmark.facts import Run, Student, cm3


def as_read(student: Student, blank: Fraction) -> Student:
    """Return a student who took the blank [cm³] off their titres with these as they were read; others as they are."""
    off = round(blank * 1000)
    student = _titres_put_back(student, {run.label: off for run in student.runs if off})
    own, taken, net = student.own_mean, Decimal(off) / 1000, any(run.net for run in student.runs)
    if own is not None and off and not _is_mean(student, own) and (net or _is_mean(student, own + taken)):
        return replace(student, own_mean=own + taken, net=taken)
    return student


def _titres_put_back(student: Student, off: Mapping[str, int]) -> Student:
    """Return a student who took so much [µL] off the written titres of the runs with it on them again; others as they
    are."""
    net = {run.label for run in student.runs if run.label in off and _is_net(run, off[run.label])}
    whole = [run for run in student.runs if run.written is not None and run.label in off and run.label not in net]
    # Nobody needs the blank for the rough.
    if not net or not all(run.titre is None or (run.rough and titre_right(run)) for run in whole):
        return student
    back = net.union(run.label for run in whole if run.titre is None)
    runs = tuple(
        replace(run, written=run.written + off[run.label], net=off[run.label])
        if run.written is not None and run.label in back
        else run
        for run in student.runs
    )
    return replace(student, runs=runs)


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
    """Return whether a written titre is right with so much [µL] added to it, and not as it stands."""
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
    student = _titres_put_back(student, {label: -titre for label, titre in before.items()})
    return _mean_from_last(student, before, _mean_before(earlier))


def _mean_before(earlier: Sequence[Student]) -> Decimal | None:
    """Return a student's own mean at the endpoint before, counted from the initial reading [cm³]; None where one of
    them is not written."""
    before: Decimal | None = Decimal(0)
    for one in earlier:
        if one.saved is not None:
            before = one.saved
        else:
            before = None if before is None or one.own_mean is None else before + one.own_mean
    return before


def _titres_before(label: str, earlier: Sequence[Student]) -> list[int]:
    found = [next((run.titre for run in one.runs if run.label == label), None) for one in earlier]
    return [each or 0 for each in found]


def _mean_from_last(student: Student, before: Mapping[str, int], mean_before: Decimal | None) -> Student:
    own = student.own_mean
    if own is None:
        return student
    more = own if mean_before is None else own - mean_before  # means may have been rounded before they were added up
    for places in student.fair:
        labels = [student.runs[place].label for place in places]
        if not all(label in before for label in labels):
            continue
        less = cm3(sum(before[label] for label in labels)) / len(labels)
        for mean in means_of(student, places):
            if not mean_is_right(own, mean) and (mean_is_right(own, mean + less) or mean_is_right(more, mean)):
                kept, off = (Decimal(each.numerator) / Decimal(each.denominator) for each in (mean, less))
                return replace(student, own_mean=kept, net=-off, saved=own)
    return student
