"""Findings that are plain from the readings: no statistics, no odds.

Each rule looks at one run or one student and yields what it finds; RUN_RULES and STUDENT_RULES at the end are the
lists of them. Nothing here changes a reading: a likely intended value is only ever named.
"""

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from labmark.diagnose.working_titres import TitreSlip, titre_slip
from labmark.exact import both_roundings, shown
from labmark.facts import Run, Student, cm3
from labmark.findings import found
from labmark.records import Finding, Level
from labmark.words import listed, numbered


class Setting(NamedTuple):
    """What the rules need to know of the practical. Volumes in µL."""

    capacity: int
    step: int
    """A reading is a multiple of this: half a division."""
    within: int
    at_least: int


COARSER = ((10, Fraction(1, 100)), (2, Fraction(1, 9)))
"""Wider intervals that a student may keep to, in those asked for, and the odds of that beforehand (common practice, no
source)."""
LEAST_ODDS = 100
"""A wider interval is said from these odds on: of tenths where ten readings all end in 0, as one student in 1,000 shows
who reads as asked. What is said is true of that one as well, and costs nothing."""
MARK = 1000
"""Distance between two numbered marks [µL]."""
READING_DECIMALS = 2
"""Decimals a burette reading is written with (common practice, no source)."""


def plain_findings(student: Student, setting: Setting) -> list[Finding]:
    """Return every plain finding about a student and the student's runs, runs first, in the order of the rules."""
    if student.absent:
        return []
    about_runs = [each for run in student.runs for rule in RUN_RULES for each in rule(run, student, setting)]
    return [*about_runs, *(each for rule in STUDENT_RULES for each in rule(student, setting))]


def name_of(run: Run) -> str:
    """Return what a run is called in a sentence."""
    return "Rough" if run.rough else f"Run {run.label}"


def missing_reading(run: Run, _student: Student, _setting: Setting) -> Iterator[Finding]:
    """A run begun but without its initial or final reading, unless the student gave it up and said so."""
    absent = [which for which in ("initial", "final") if getattr(run, which) is None and which not in run.odd]
    if not run.missing or not absent or run.struck:
        return
    which = f"{absent[0]} reading is" if len(absent) == 1 else f"{' and '.join(absent)} readings are"
    message = f"{name_of(run)}: the {which} missing, so the titre cannot be worked out."
    likely = _reading_from_titre(run, absent)
    if likely is not None:
        message += f" The written titre would fit {shown(likely):f}."
    cells = run.at("initial", "final", "titre")
    yield found("missing-reading", message, run.label, cells=cells, missing=absent, likely=_cm3(likely))


def _reading_from_titre(run: Run, absent: list[str]) -> int | None:
    """Return the reading that the written titre and the other reading suggest [µL]."""
    if run.written is None or len(absent) != 1:
        return None
    if absent == ["final"] and run.initial is not None:
        return run.initial + run.written
    return run.final - run.written if run.final is not None else None


def not_a_number(run: Run, _student: Student, _setting: Setting) -> Iterator[Finding]:
    """A reading that is not a number."""
    for which in ("initial", "final"):
        if which in run.odd:
            yield found(
                "not-a-number",
                f"{name_of(run)}: the {which} reading says “{run.odd[which]}”, "
                f"which {run.why.get(which, 'is not a number')}"
                + ("." if run.rough else "; the run is left out until it is corrected."),
                run.label,
                cells=run.at(which),
                reading=which,
                text=run.odd[which],
                spoilt=which in run.spoilt,
            )


def off_scale(run: Run, _student: Student, setting: Setting) -> Iterator[Finding]:
    """A reading outside the burette's scale."""
    given = {"initial": run.initial, "final": run.final}
    out = [which for which, each in given.items() if each is not None and not 0 <= each <= setting.capacity]
    if not (out and run.off_scale):
        return
    readings = " and ".join(f"the {which} reading {_written(run, which)} cm³" for which in out)
    scale = f"{'is' if len(out) == 1 else 'are'} off the scale, which ends at {shown(setting.capacity):f}"
    likely = {which: meant for which in out if (meant := _with_point_back(getattr(run, which), setting))}
    perhaps = f"; perhaps {' and '.join(f'{shown(each):f}' for each in likely.values())} was meant." if likely else "."
    message = f"{name_of(run)}: {readings} {scale}{perhaps}"
    suggested = {which: _cm3(each) for which, each in likely.items()}
    yield found("off-scale", message, run.label, cells=run.at(*out), readings=out, likely=suggested or None)


def nothing_used(run: Run, _student: Student, _setting: Setting) -> Iterator[Finding]:
    """Initial and final are the same, so that the run would have used nothing."""
    if run.titre == 0 and not run.off_scale:
        message = f"{name_of(run)}: initial and final reading are the same, so no solution would have been used."
        yield found("implausible-titre", message, run.label, cells=run.at("initial", "final", "titre"), titre=_cm3(0))


def _with_point_back(reading: int, setting: Setting) -> int | None:
    """Return a reading whose decimal point was lost (2250 for 22.50), or None [µL]."""
    likely = reading // 100
    return likely if reading % 100 == 0 and 0 < likely <= setting.capacity and likely % setting.step == 0 else None


def reversed_readings(run: Run, _student: Student, _setting: Setting) -> Iterator[Finding]:
    """Initial and final reading are swapped, or those of several endpoints do not increase."""
    if run.disordered:
        message = f"{name_of(run)}: the readings do not increase ({run.disordered}), so the run is not used."
        yield found("reversed-readings", message, run.label, cells=run.at("initial", "final"))
    if run.reversed and run.initial is not None and run.final is not None and run.titre is not None:
        yield found(
            "reversed-readings",
            f"{name_of(run)}: the initial reading {_written(run, 'initial')} is larger than the final "
            f"reading {_written(run, 'final')}. Taken the other way round, the titre is {shown(run.titre):f} cm³.",
            run.label,
            cells=run.at("initial", "final"),
            titre=_cm3(run.titre),
        )


def subtraction_slip(run: Run, _student: Student, _setting: Setting) -> Iterator[Finding]:
    """The written titre is not final minus initial."""
    # A reading that cannot be right says nothing about the subtraction.
    if run.written is None or run.titre is None or run.missing or run.off_scale or titre_right(run):
        return
    written, slip = shown(run.written, run.written_decimals), _slip_of(run)
    looks = f": {slip.words}" if slip is not None and slip.words else ""
    message = f"{name_of(run)}: {_sum(run)} is {shown(run.titre):f} cm³, but {written:f} is written{looks}."
    yield found(
        "subtraction-slip",
        message,
        run.label,
        cells=run.at("initial", "final", "titre"),
        titre=_cm3(run.titre),
        written=_cm3(run.written),
        kind=None if slip is None else slip.kind,
    )


def _slip_of(run: Run) -> TitreSlip | None:
    """Return the slip that a wrong written titre shows; None where the readings cannot tell."""
    if run.initial is None or run.final is None or run.written is None or run.parts:
        return None
    low, high = sorted((run.initial, run.final)) if run.reversed else (run.initial, run.final)
    return titre_slip(low, high, run.written)


def titre_right(run: Run) -> bool:
    """Return whether the written titre is what the readings give, at the digits written.

    Where the digits cannot be known, two decimals are assumed: readings have two. A titre of readings taken the
    other way round is right with either sign; where the teacher corrected a reading also the titre of those written.
    """
    assert run.written is not None
    assert run.titre is not None
    written = abs(run.written) if run.reversed else run.written
    decimals = READING_DECIMALS if run.written_decimals is None else run.written_decimals
    given = (run.titre, run.titre if run.as_written is None else run.as_written)
    return written in given or any(shown(written, decimals) in both_roundings(cm3(each), decimals) for each in given)


def _sum(run: Run) -> str:
    if run.parts:
        return " + ".join(f"({shown(final):f} − {shown(initial):f})" for initial, final in run.parts)
    high, low = ("initial", "final") if (run.initial or 0) > (run.final or 0) else ("final", "initial")
    return f"{_written(run, high)} − {_written(run, low)}"


def coarse_reading(run: Run, _student: Student, setting: Setting) -> Iterator[Finding]:
    """Not recorded to the nearest half division, or with fewer than two decimals where that can be known.

    Of the rough that is a note: it shows where the endpoint lies, and need not be read closely (common practice, no
    source).
    """
    coarse: dict[str, list[str]] = {}
    decimals = {which: getattr(run, f"{which}_decimals") for which in ("initial", "final")}
    for which, written in decimals.items():
        if why := _why_coarse(getattr(run, which), written, setting):
            coarse.setdefault(why, []).append(which)
    if not coarse:
        return
    said = [
        f"{listed([f'the {which} reading {_written(run, which)}' for which in same])} "
        f"{'is' if len(same) == 1 else 'are'} {why}"
        for why, same in coarse.items()
    ]
    message = f"{name_of(run)}: {listed(said)}."
    out = [which for same in coarse.values() for which in same]
    given = {which: decimals[which] for which in out}
    level: Level | None = "note" if run.rough else None
    yield found("coarse-reading", message, run.label, level=level, cells=run.at(*out), readings=out, decimals=given)


def _why_coarse(reading: int | None, decimals: int | None, setting: Setting) -> str:
    """Return what is coarse about a reading [µL]; empty where nothing is, or where it cannot be known."""
    if reading is None or not 0 <= reading <= setting.capacity:
        return ""
    # 24.975 in two decimals is 24.97 or 24.98.
    rounded = 0 if reading % 10 else 5
    if rounded < reading % setting.step < setting.step - rounded:
        return f"not to the nearest {shown(setting.step):f} cm³"
    if decimals is not None and decimals < READING_DECIMALS:
        return f"given with {'one decimal' if decimals == 1 else 'no decimals'} instead of two"
    return ""


def coarse_throughout(student: Student, setting: Setting) -> Iterator[Finding]:
    """All readings are whole in a wider interval than asked for: a note, for the digits are there.

    An initial reading on a numbered mark was set there, and one already written says nothing again.
    """
    pairs = [(run, which) for run in student.runs for which in ("initial", "final") if getattr(run, which) is not None]
    for wider, before in COARSER:
        interval = wider * setting.step
        if any(getattr(run, which) % interval for run, which in pairs):
            continue
        if any(_why_coarse(getattr(run, which), getattr(run, f"{which}_decimals"), setting) for run, which in pairs):
            return
        telling = {getattr(run, which) for run, which in pairs if which == "final" or getattr(run, which) % MARK}
        odds = before * wider ** len(telling)
        if odds >= LEAST_ODDS:
            share = "half" if wider == 2 else f"one in {wider}"
            message = (
                f"All readings are multiples of {shown(interval):f} cm³. Of {len(telling)} readings to the nearest "
                f"{shown(setting.step):f} cm³, as asked for, about {share} would be: perhaps they were read to the "
                f"nearest {shown(interval):f} cm³."
            )
            # It is about all runs alike; as a finding about a run it stands with the first that counts.
            first = next((run.label for run in student.accurate), None)
            cells, p = _titre_cells(student), round(float(odds / (1 + odds)), 3)
            read_to = _cm3(interval)
            yield found("coarse-reading", message, first, level="note", probability=p, cells=cells, read_to=read_to)
            return


def refilled(run: Run, student: Student, setting: Setting) -> Iterator[Finding]:
    """The burette was filled again within the run."""
    if _goes_on(run, student, setting) and run.titre is not None:
        # Nobody is blamed, and what stands beyond the scale is still called so.
        code = "off-scale" if (run.final or 0) > setting.capacity else "refilled"
        agrees = "as is written" if run.written == run.titre else "which agrees with another run"
        message = (
            f"{name_of(run)}: the burette is taken to have been filled again at {shown(setting.capacity):f}. So read, "
            f"{_written(run, 'initial')} and {_written(run, 'final')} give {shown(run.titre):f} cm³, {agrees}."
        )
        yield found(code, message, run.label, level="note", cells=run.at("initial", "final"), titre=_cm3(run.titre))
    if run.parts and run.titre is not None:
        parts = listed([f"{shown(start):f} to {shown(end):f}" for start, end in run.parts])
        message = f"{name_of(run)}: the burette was filled again; {parts} add up to {shown(run.titre):f} cm³."
        cells = dict.fromkeys(run.at("initial", "final", "initial again", "final again"))  # one cell may hold them all
        yield found("refilled", message, run.label, cells=tuple(cells), titre=_cm3(run.titre))


def _goes_on(run: Run, student: Student, setting: Setting) -> bool:
    """Return whether the readings were taken to go on from the top of the scale."""
    if run.initial is None or run.final is None or run.parts or run.off_scale or run.reversed or run.disordered:
        return False
    return run.final > setting.capacity or (run.final < run.initial and not student.counts_down)


def not_concordant(run: Run, student: Student, setting: Setting) -> Iterator[Finding]:
    """Outside the concordant set, where there is one."""
    by_titres = student.concordant and run.decided is None
    if not (by_titres and run.usable and not run.in_mean and run.titre is not None):
        return
    titres = [each.titre for each in student.runs if each.in_mean and each.titre is not None]
    span = max(run.titre, *titres) - min(run.titre, *titres)
    other = any(student.runs.index(run) in group for group in student.sets)
    if other:
        why = "belongs to another set of titres that agree as well: the closest set is used, and at a tie the later one"
    elif student.agreement is not None:
        limit = student.agreement.limit
        why = f"gives a result that is left out: with it the results in the mean would be more than {limit} % apart"
    else:
        limit = shown(setting.within)
        why = f"is left out: with it the titres in the mean would be {shown(span):f} cm³ apart, more than {limit:f}"
    message = f"{name_of(run)}: {shown(run.titre):f} cm³ {why}."
    cells = run.at("initial", "final", "titre")
    yield found("not-concordant", message, run.label, cells=cells, span=_cm3(span), other_set=other)


def no_concordant_runs(student: Student, setting: Setting) -> Iterator[Finding]:
    """Enough accurate runs, and fewer agree than must."""
    if student.concordant or student.sets or len(student.usable) < setting.at_least:
        return
    message = f"No {numbered(setting.at_least)} titres agree within {shown(setting.within):f} cm³"
    if student.agreement is not None:
        message = f"No {numbered(setting.at_least)} results agree within {student.agreement.limit} %"
    elif student.span is not None and not student.decided:
        message += f"; the mean is that of the two closest, {shown(student.span):f} cm³ apart"
    closest = [student.runs[place].label for place in student.closest]
    yield found(
        "no-concordant-runs",
        f"{message}. Another run was needed.",
        cells=_titre_cells(student),
        tightest=_cm3(student.tightest),
        closest=closest,
        another_run_needed=True,
    )


def too_few_runs(student: Student, setting: Setting) -> Iterator[Finding]:
    """Fewer accurate runs with a usable titre than must agree; where enough were done, their own findings say why."""
    usable = len(student.usable)
    if usable >= setting.at_least:
        return
    done = len([run for run in student.accurate if not run.struck])
    what = "titre" if student.agreement is None else "result"
    runs = f"{numbered(usable)} accurate run{' gives' if usable == 1 else 's give'} a {what}"
    begins = f"Only {runs}" if usable else f"No accurate run gives a {what}"
    needed = done < setting.at_least
    message = f"{begins}, and {numbered(setting.at_least)} must agree."
    message += " Another run was needed." if needed else ""
    yield found(
        "too-few-runs", message, cells=_titre_cells(student), usable=usable, begun=done, another_run_needed=needed
    )


def counts_down(student: Student, _setting: Setting) -> Iterator[Finding]:
    """Every run reads downwards: the scale counts down."""
    if student.counts_down:
        message = "Every run is read downwards, so the scale is taken to count down."
        yield found("counts-down", message, cells=[cell for run in student.runs for cell in run.at("initial", "final")])


def _titre_cells(student: Student) -> list[str]:
    return [cell for run in student.accurate for cell in run.at("initial", "final")]


def _written(run: Run, which: str) -> str:
    return f"{shown(getattr(run, which), getattr(run, f'{which}_decimals')):f}"


def _cm3(volume: int | None) -> Decimal | None:
    return None if volume is None else shown(volume)


RUN_RULES: tuple[Callable[[Run, Student, Setting], Iterator[Finding]], ...] = (
    missing_reading,
    not_a_number,
    off_scale,
    nothing_used,
    reversed_readings,
    subtraction_slip,
    coarse_reading,
    refilled,
    not_concordant,
)

STUDENT_RULES: tuple[Callable[[Student, Setting], Iterator[Finding]], ...] = (
    no_concordant_runs,
    too_few_runs,
    counts_down,
    coarse_throughout,
)
