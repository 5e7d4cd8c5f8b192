"""From what students recorded to titres, without changing a reading.

A titre is final minus initial. Where the two are swapped they are taken the other way round and
that is said; where every run of a student reads downwards, the scale counts down and nobody is blamed.

First runs may be roughs without the word: in a class where nobody's run is called rough, and most began with one.

    26.90, 25.30, 25.35   the first is 1.55 cm³ from the nearer of the others, which are 0.05 cm³ apart: a rough

One student's first run far off is as likely a mishap; where most first titres lie above the others, which agree, the
class was told to do a rough. Who ticked the first run, or took the mean of all, meant it as a run like the others.
A student who wrote "rough" among the ticks said so of that run alone: it keeps its number.
Each of several titrations is looked at by itself: what was titrated in one says nothing of another.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from typing import NamedTuple

from labmark.dataclass import replace
from labmark.exact import shown
from labmark.facts import Asked, Run, Student, mean_cm3
from labmark.records import ClassSheet


def with_titres(students: Sequence[Student], capacity: int, within: int = 0) -> list[Student]:
    """Return the students of a class with their titres.

    capacity  largest reading of the burette [µL]
    within    how far titres that agree may lie apart [µL]
    """
    labels = _labels_read([run for one in students for run in one.runs])
    return [_with_titres(one, number, labels, capacity, within) for number, one in enumerate(students, start=1)]


def _with_titres(student: Student, number: int, labels: Collection[str], capacity: int, within: int) -> Student:
    down = [_reads_down(run) for run in student.runs]
    out_of_order = any(run.disordered for run in student.runs)
    read = sum(None not in (run.initial, run.final) for run in student.runs)
    counts_down = sum(down) > 1 and sum(down) == read and not out_of_order
    pairs = zip(student.runs, down, strict=True)
    runs = [_with_titre(run, turned, counts_down, run.label in labels, capacity) for run, turned in pairs]
    if not counts_down:
        others = [run.titre for run in runs if run.usable and not run.reversed and run.titre is not None]
        runs = [_filled_again(run, others, capacity, within) for run in runs]
    return replace(student, number=number, runs=tuple(runs), counts_down=counts_down)


def _reads_down(run: Run) -> bool:
    return run.initial is not None and run.final is not None and run.final < run.initial and not run.parts


def _with_titre(run: Run, down: bool, counts_down: bool, by_readings: bool, capacity: int) -> Run:
    """Return a run with the titre that its readings give or, where it has none to be taken from, that is written."""
    titre = None if run.initial is None or run.final is None else abs(run.final - run.initial)
    if run.parts:  # of a run whose burette was refilled
        titre = sum(abs(end - start) for start, end in run.parts)
    off_scale = any(reading is not None and not 0 <= reading <= capacity for reading in (run.initial, run.final))
    missing = by_readings and titre is None
    # A reading that cannot be right is not put into the other order: that would invent a titre. Readings of several
    # endpoints neither: which of them is wrong is not known.
    wrong = bool(run.disordered) or (off_scale and down)
    titre = None if wrong else titre if by_readings else run.written
    usable = _counts(run, titre) and not run.rough and not off_scale
    turned = down and not wrong and not counts_down
    return replace(run, titre=titre, reversed=turned, off_scale=off_scale, missing=missing, usable=usable)


def _counts(run: Run, titre: int | None) -> bool:
    """Return whether a titre is one to go on with: above nought, and not of a run that was struck out."""
    return titre is not None and titre > 0 and not run.struck


def _labels_read(runs: Sequence[Run]) -> Collection[str]:
    """Return the labels of the runs that are to be taken from readings: of a label of which several have none there is
    a titre only. None, where there are no readings."""
    read = {run.label for run in runs if _is_read(run)}
    times = Counter(run.label for run in runs)
    return read | {label for label, number in times.items() if number < 2} if read else ()


def _is_read(run: Run) -> bool:
    return run.initial is not None or run.final is not None or "initial" in run.odd or "final" in run.odd


def _filled_again(run: Run, others: Sequence[int], capacity: int, within: int) -> Run:
    """Return a run that goes on from the top of the scale once the burette is empty with its titre; any other as it is.

    From 40.00 to 15.35, or counted on to 65.35, that is 25.35. Only a titre that agrees with one of the student's
    `others`, or that is written, is taken for such; the readings may be mistaken or swapped as well.
    """
    initial, final = run.initial, run.final
    if initial is None or final is None or not (run.off_scale or run.reversed) or not _counts(run, run.titre):
        return run
    apart = final - initial
    titre = apart + capacity if apart < 0 else apart
    agree, swapped = _is_near(titre, others, within), _is_near(-apart, others, within) or run.written == -apart
    on = final > capacity and apart <= capacity and agree
    back = apart < 0 <= final and (run.written == titre or (agree and not swapped))
    if not 0 <= initial <= capacity or not (on or back):
        return run
    return replace(run, titre=titre, reversed=False, off_scale=False, usable=not run.rough)


def _is_near(titre: int, others: Sequence[int], within: int) -> bool:
    """Return whether a titre is within so much of one of the student's others [µL]."""
    return any(abs(titre - other) <= within for other in others)


def asked(students: Sequence[Student], room: int | None = None, at_least: int = 1) -> Asked:
    """Return what the sheet had room for: a column counts as asked for where anybody filled it.

    room      accurate runs that the sheet has columns for; None where there may be any number
    at_least  accurate runs that must agree
    """
    runs = [run for one in students for run in one.runs]
    return Asked(
        readings=any(map(_is_read, runs)),
        titres_of=frozenset(run.label for run in runs if run.written is not None),
        ticks=any(run.ticked is not None for run in runs),
        mean=any("mean" in one.cells for one in students),
        result=any("result" in cells for cells in (*(one.cells for one in students), *(run.cells for run in runs))),
        accurate=room != 0,
        several=room is None or room >= at_least,
    )


# --- runs counted 0, roughs for most and accurate runs for some ---


def with_counted_0(sheet: ClassSheet, capacity: int, within: int, titration: str = "") -> ClassSheet:
    """Return the class with the runs counted 0 that were meant as accurate runs as such; the sheet itself without any.

    A student means it so who ticks it, or whose mean no runs but with it give: then it is one if it agrees with
    another, or if most of the class do likewise. Where nobody says anything it is one if most agree.
    """
    if not any(run.zero and run.series == titration for one in sheet.students for run in one.runs):
        return sheet
    counted = [tuple(replace(run, rough=run.rough and not run.zero) for run in one.runs) for one in sheet.students]
    whole = with_titres([replace(one, runs=runs) for one, runs in zip(sheet.students, counted, strict=True)], capacity)
    of = [tuple(run for run in one.runs if run.series == titration) for one in whole]
    said = [_means_0(runs, _mean_of(one, titration)) for one, runs in zip(whole, of, strict=True)]
    agree = [_agrees_0(runs, within) for runs in of]
    told = [each for each in said if each is not None] or [each for each in agree if each is not None]
    most = 2 * sum(told) > len(told)
    students = tuple(
        replace(one, runs=tuple(_accurate_0(run, titration) for run in one.runs)) if most or (meant and agreed) else one
        for one, meant, agreed in zip(sheet.students, said, agree, strict=True)
    )
    room = sheet.room if sheet.room is None or titration or not most else sheet.room + 1
    return replace(sheet, students=students, room=room)


def _accurate_0(run: Run, titration: str) -> Run:
    label = f"{titration} 0" if titration and run.label.startswith(titration) else "0"
    return replace(run, rough=False, label=label) if run.zero and run.series == titration else run


def _mean_of(student: Student, titration: str) -> Decimal | None:
    own = student.several_means.get(titration)
    return student.own_mean if not titration else None if own is None else own.value


def _agrees_0(runs: Sequence[Run], within: int) -> bool | None:
    """Return whether a run counted 0 agrees with another; None where there are no two titres."""
    zero, others = (_titres([run for run in runs if run.zero is each]) for each in (True, False))
    return _is_near(zero[0], others, within) if zero and others else None


def _means_0(runs: Sequence[Run], mean: Decimal | None) -> bool | None:
    """Return whether a student took a run counted 0 into the mean; None where nothing says so."""
    if any(run.zero and run.ticked for run in runs):
        return True
    titred = [run for run in runs if run.usable and run.titre is not None]
    sets = [some for size in range(2, len(titred) + 1) for some in combinations(titred[:MOST_COUNTED], size)]
    near = [
        any(run.zero for run in some)
        for some in sets
        if mean is not None and abs(Fraction(mean) - mean_cm3(sum(_titres(some)), len(some))) <= ROUNDED
    ]
    return all(near) if near and any(run.zero for run in titred) else None


MOST_COUNTED = 8
"""So many runs are put together to find those behind a mean."""
ROUNDED = Fraction(6, 1000)
"""A mean that was rounded to 0.01 lies no further off [cm³]."""


# --- first runs that are roughs ---

FAR = 2
"""So many times the span of the others, and further than titres may differ, the first lies apart (common practice, no
source)."""


def with_first_roughs(sheet: ClassSheet, capacity: int, within: int, at_least: int, titration: str = "") -> ClassSheet:
    """Return the class with the first runs that are roughs as such, and a note of it; the sheet itself where none are.

    capacity, within   of the burette and of concordance [µL]
    at_least           accurate runs that must agree
    titration          which of several
    """
    runs = [tuple([run for run in one.runs if run.series == titration]) for one in sheet.students]
    # Runs with numbers of their own have titres that need not agree.
    if any("rough" in run.label.casefold() or run.inputs for of_student in runs for run in of_student):
        return sheet
    pairs = zip(sheet.students, runs, strict=True)
    whole = with_titres([replace(one, runs=of_student) for one, of_student in pairs], capacity)
    gaps = {place: gap for place, one in enumerate(whole) if (gap := _gap(one.runs, at_least)) is not None}
    apart = {place: gap for place, gap in gaps.items() if max(gap.above, gap.below) > max(within, FAR * gap.span)}
    above_others_that_agree = sum(gap.above > 0 and gap.span <= within for gap in apart.values())
    if 2 * above_others_that_agree <= len(gaps):
        return sheet
    taken = {place: whole[place].runs[0] for place in apart if not _meant_as_run(whole[place], titration)}
    return _taken(sheet, taken, len(gaps), titration)


def _titres(runs: Sequence[Run]) -> list[int]:
    return [run.titre for run in runs if run.usable and run.titre is not None]


class _Gap(NamedTuple):
    """How far a first titre lies above the others, and below them, and their span [µL]."""

    above: int
    below: int
    span: int


def _gap(runs: Sequence[Run], at_least: int) -> _Gap | None:
    """Return how far the first titre lies off; None where it is not there, or fewer others are than must agree."""
    first, others = _titres(runs[:1]), _titres(runs[1:])
    if not first or len(others) < at_least:
        return None
    return _Gap(first[0] - max(others), min(others) - first[0], max(others) - min(others))


def _meant_as_run(student: Student, titration: str) -> bool:
    """Return whether a student ticked the first run, or wrote a mean nearer to that of all runs than without it."""
    mean = _mean_of(student, titration)
    if student.runs[0].ticked or mean is None:
        return bool(student.runs[0].ticked)
    titres, written = _titres(student.runs), Fraction(mean)
    every, others = (mean_cm3(sum(some), len(some)) for some in (titres, titres[1:]))
    return abs(written - every) < abs(written - others)


def _taken(sheet: ClassSheet, taken: Mapping[int, Run], judged: int, titration: str) -> ClassSheet:
    """Return the class with these first runs, by the places of their students, as roughs."""
    students = list(sheet.students)
    for place, first in taken.items():
        one, note = students[place], f"run {first.label} ({shown(first.titre or 0):f} cm³)"
        runs = tuple(
            replace(run, rough=True) if (run.series, run.label) == (titration, first.label) else run for run in one.runs
        )
        students[place] = replace(one, runs=runs, notes=(*one.notes, f"{note} was taken for the rough titration"))
    of = f"{titration}: " if titration else ""
    note = (
        f"{of}the first runs of {len(taken)} of {judged} students, none of them called a rough, lie apart from their "
        "other runs: they were taken for the rough titration"
    )
    room = None if sheet.room is None or titration else sheet.room - 1
    return replace(sheet, students=tuple(students), room=room, notes=(*sheet.notes, note))
