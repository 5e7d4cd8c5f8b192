"""Tables of one record a run, and the blocks of lab books, which are such tables on their side."""

from collections import Counter

from labmark.dataclass import replace
from labmark.problems import InputError
from labmark.read.cells import read_tick
from labmark.read.grid import Cell, Place
from labmark.read.headers import ABOUT, READINGS, Header, understand
from labmark.read.layouts import lines
from labmark.read.layouts.answers import is_symbol
from labmark.read.layouts.columns import by_series, number_runs, settle_trials
from labmark.read.layouts.find import is_blank, is_unit, numberish, run_named
from labmark.read.layouts.view import Column, Table
from labmark.read.model import HEADING, UNCLEAR, RawNumber, RawRun, RawStudent, Reading
from labmark.read.own_values import read_own
from labmark.read.words import folded, plain

CLAIMS = frozenset({"mean", "result", "statistic"})
"""Meanings of labels that may stand behind a student's name."""
BELOW = "is beside or below the table, and says nothing about a run"
FIGURES = "a line of class figures (mean, spread or the like), not a run"
REPEATS = "repeats what stands in an earlier line of the same student"


def read_long(table: Table, reading: Reading, outside: str) -> None:
    """Add the students of a table that has one record a run."""
    names = lines.name_columns(table)
    found: list[RawStudent] = []
    current: RawStudent | None = None
    _keep_one_name(table, names, reading)
    labels, told = _labels_of_claims(table, names), {**_runs_of_lines(table, names), **_runs_behind_names(table, names)}
    for line in table.records:
        name, run = told[line]
        if _names_claim(name, table) and _is_claim(table, line, name, found, labels, reading):
            continue
        if run is None and current is not None and _holds_claims(table, line, current, reading):
            continue
        if run is None and not name and current is not None:
            if _labels_claim(table, line, current, reading):
                continue
            _check_bare_titre(table, line, current)
        why = _why_no_run(table, line, name, names, run)
        blank = run is None and any(is_blank(cell) for at in table.of("run") if (cell := table.cell(line, at)))
        if blank and not why:
            why = lines.NO_STUDENT
            if name:
                current = _student_of(table, line, name, found, current, run)
                lines.add_name(table, line, names, current)
        if why:
            lines.explain(table, line, why, reading)
            continue
        lines.check_name(table, line, names)
        current = _student_of(table, line, name or ("" if current else outside), found, current, run)
        lines.add_name(table, line, names, current)
        _add_run(table, line, current, run, reading)
    for student in found:
        for series in by_series(student.runs):
            settle_trials(series)
            for kind in ("rough", "blank"):
                for at, own in enumerate([own for own in series if own.kind == kind], start=1):
                    own.number = at
            number_runs(series)
        _settle_owners(table, student, reading)
    reading.students.extend(found)


def _runs_of_lines(table: Table, names: list[Column]) -> dict[int, tuple[str, Header | None]]:
    """Return whose each line is, and which run; one that is said once before the names is that of all named there."""
    found: dict[int, tuple[str, Header | None]] = {}
    before = [column for column in table.of("run") if names and column.at < names[0].at]
    below, (last, since) = _runs_below_headings(table, names), (None, set[str]())
    for line in table.records:
        name, run = lines.name_at(table, line, names), _run_at(table, line) or below.get(line)
        if run is not None:
            last, since = run, set()
        elif before and name and name not in since:
            run = last
        since.add(name)
        found[line] = name, run
    return found


def _runs_below_headings(table: Table, names: list[Column]) -> dict[int, Header]:
    """Return the run of each line below a heading that is one, Rough or Run 2 alone; somebody stands below several."""
    found: dict[int, Header] = {}
    told: list[tuple[str, str]] = []
    heading = None
    for line in table.records:
        name = lines.name_at(table, line, names)
        alone = run_named(Cell(name), table.overrides) if len(table.view.lines[line]) == 1 else None
        if alone is not None and alone.names_run and not alone.unknown:
            heading = alone
        elif heading is not None and name and len(table.view.lines[line]) > 1:
            found[line] = heading
            told.append((name, heading.text))
    several = len({name for name, _ in told}) < len(told) == len({*told})
    return found if several else {}


def _runs_behind_names(table: Table, names: list[Column]) -> dict[int, tuple[str, Header]]:
    """Return whose a line is, and which run, where the runs stand behind the names: Anke rough, Anke 1, Anke 2."""
    found: dict[int, tuple[str, Header]] = {}
    for line in table.records if not table.of("run") else ():
        name, _, label = lines.name_at(table, line, names).rpartition(" ")
        run = run_named(Cell(label), table.overrides)
        if name and run is not None and run.names_run:
            found[line] = name, run
    # Bench 1 and Bench 2 may be two students, and Rough is a surname.
    roughs = {name for name, run in found.values() if run.kind == "rough"}
    others = {name for name, run in found.values() if run.kind != "rough"}
    return {line: each for line, each in found.items() if each[0] in roughs & others}


def _holds_claims(table: Table, line: int, student: RawStudent, reading: Reading) -> bool:
    """Return whether a column of a block holds own values, each behind its label, and no run; takes them if so."""
    cells = table.view.lines[line] if table.view.turned and line - 1 not in table.header_lines else {}
    numbers = [at for at, cell in cells.items() if numberish(cell) or read_own(cell, "", claim=True).state == "number"]
    labels = {at: understand(cell.text, table.overrides) for at in numbers if (cell := table.view.get(line - 1, at))}
    told = {at: label for at, label in labels.items() if label.field in ("mean", "result") and not label.names_run}
    if not told:
        return False
    lines.explain(table, line, "is a note beside the runs", reading)
    for at, label in told.items():
        _claim(student, label, table.view.place(line, at), reading)
    return True


def _labels_claim(table: Table, line: int, student: RawStudent, reading: Reading) -> bool:
    """Return whether a line holds nothing but an own mean or result behind its label, Mean | 25.33; takes it if so."""
    cells = table.view.lines[line]
    if table.view.turned or len(cells) != 2:
        return False
    (at, cell), (behind, number) = cells.items()
    label = understand(cell.text, table.overrides) if cell.kind == "text" else Header()
    told = label.field in ("mean", "result") and not label.unknown and not label.names_run
    if not told or behind != at + 1 or read_own(number, "", claim=True).state != "number":
        return False
    lines.explain(table, line, HEADING, reading)
    _claim(student, label, table.view.place(line, behind), reading)
    return True


def _check_bare_titre(table: Table, line: int, student: RawStudent) -> None:
    """Raise InputError for a titre alone below runs that have a name, or both readings, each: it may be their mean."""
    filled = table.filled(line, *READINGS, "mean", "result")
    named = not any(run.unnamed for run in student.runs) or all("final" in run.cells for run in student.runs)
    alone = len(table.view.lines[line]) == 1 and [each.header.field for each in filled] == ["titre"]
    if named and alone and len(student.runs) > 1 and not table.view.turned:
        what, do = "nothing says what this number below the titres is", "write Mean, or the run, at the head of its row"
        raise InputError(table.view.grid.problem(what, do, table.place(line, filled[0])))


def _claim(student: RawStudent, label: Header, place: Place, reading: Reading) -> None:
    if student.claim(label.key, place, label):
        del reading.ignored[place]


def _names_claim(name: str, table: Table) -> bool:
    return bool(understand(name, table.overrides).tags & CLAIMS)


def _labels_of_claims(table: Table, names: list[Column]) -> set[str]:
    """Return what stands instead of a name beside the mean, the result or the total of most students; Max is a name."""
    times = Counter(lines.name_at(table, line, names) for line in table.records)
    meant = {name: understand(name, table.overrides).tags & CLAIMS for name in times}
    labels = {name for name in times if meant[name] - ({"statistic"} if lines.is_name_like(name) else set())}
    students = len(times.keys() - labels - {""})
    return {name for name in labels if 2 * times[name] > students}


def _is_claim(table: Table, line: int, name: str, found: list[RawStudent], labels: set[str], reading: Reading) -> bool:
    """Return whether a line is called Anke result, or one of `labels` below Anke; then it is entered as hers.

    Anke total is none of her runs either.
    """
    student = next((one for one in reversed(found) if one.name and name.startswith(one.name)), None)
    student = student or (found[-1] if found and name in labels else None)
    label = understand(name.removeprefix(student.name), table.overrides) if student else Header()
    named = {column.at for column in lines.name_columns(table)}
    places = [table.view.place(line, at) for at in table.view.lines[line] if at not in named]
    total = "statistic" in label.tags and not lines.is_name_like(label.text)
    if student is None or not label.tags & CLAIMS or label.unknown or (len(places) > 1 and not total):
        return False
    lines.explain(table, line, FIGURES if total else HEADING, reading)
    for place in places if label.field in ("mean", "result") else ():
        _claim(student, label, place, reading)
    return True


def _run_at(table: Table, line: int) -> Header | None:
    """Return the run that a line names, with the titration that another cell of the line names."""
    labels = [cell for column in table.of("run") if (cell := table.label(line, column))]
    named = [header for cell in labels if (header := run_named(cell, table.overrides))]
    run = next((header for header in named if header.kind == "rough"), named[0] if named else None)
    if run is None and any(cell.text == "0" for cell in labels):
        run = Header("run", kind="rough", number=0)  # who counts the rough, counts it 0
    if any(read_tick(cell) for column in table.of("rough ticked") if (cell := table.cell(line, column))):
        run = replace(run or Header("run"), kind="rough")
    series = table.series.get(line, "")
    return replace(run, series=run.series or series) if run else Header("run", series=series) if series else None


def _keep_one_name(table: Table, names: list[Column], reading: Reading) -> None:
    """In the block of one student (no run comes twice), what is next to the name is a note."""
    runs_at = table.of("run")
    if not table.view.turned or not names or not runs_at:
        return
    labels = [folded(cell.text) for cell in table.cells(runs_at[0])]
    if len(set(labels)) < len(labels):
        return
    for column in names:
        for line in [line for line in table.records if table.cell(line, column)][1:]:
            reading.ignored[table.place(line, column)] = "a note beside the name"
            del table.view.lines[line][column.at]
    table.records = [line for line in table.records if table.view.lines[line]]


def _why_no_run(table: Table, line: int, name: str, names: list[Column], run: Header | None) -> str:
    if line not in table.series and lines.is_statistic(table, line, name):
        return FIGURES
    if lines.is_example(table, line, name):
        return lines.NO_STUDENT
    some = any(lines.has_reading(table, other) for other in table.records)
    if run is None and not name and table.view.turned and some and not lines.has_reading(table, line):
        return "is a note beside the runs"  # a column of units, or of remarks
    if run is None and table.view.turned and table.of("run") and not lines.has_run(table, line):
        return "" if _line_label(table, line).field in ("result", "own") else "is a note beside the runs"
    if table.filled(line, *READINGS, "used", "mean", "result") or (run is not None and not names):
        return ""
    if lines.is_heading(name):
        return "a heading within the table"
    if run is None and lines.is_sentence(name):
        return BELOW
    named = bool(names) and lines.is_name(name) and not lines.NOTE_START.match(name)
    if named and lines.is_near(table, line, name, names):
        return ""
    return "" if run is not None and name else BELOW


def _student_of(
    table: Table, line: int, name: str, found: list[RawStudent], current: RawStudent | None, run: Header | None
) -> RawStudent:
    """Return the student of a record; one without a name goes with the record above.

    A run that the student has already begins a second attempt, which is kept apart under the same name.
    """
    known = _known(table, line, name, found) if name else current
    if known is not None and not _is_next_attempt(known, run):
        return known
    before = known.runs if known is not None and not table.names_students else ()
    again = run and any((run.kind == "rough", run.number) == (one.kind == "rough", one.number) for one in before)
    if again or not (name or known):
        raise lines.nameless(table)  # these are several people, or nobody
    found.append(RawStudent(table.view.grid, name or (known.name if known else "")))
    return found[-1]


def _known(table: Table, line: int, name: str, found: list[RawStudent]) -> RawStudent | None:
    """Return the student of this name, unless the line gives another attempt, or another ID."""
    grid = table.view.grid
    told = {ABOUT[each.header.field]: table.place(line, each) for each in table.filled(line, "attempt", "code")}
    said = {key: plain(grid.cells[place].text) for key, place in told.items()}
    for one in reversed(found):
        if one.name == name and all(one.said(key) == text for key, text in said.items() if key in one.cells):
            return one
    return None


def _is_next_attempt(student: RawStudent, run: Header | None) -> bool:
    if run is None or run.field == "mean" or "refill" in run.tags:
        return False
    before = [
        known for known in student.runs if known.series == run.series and known.kind == "accurate" and not known.trial
    ]
    if run.kind == "rough":
        return bool(before)
    return run.kind != "blank" and run.number is not None and any(known.number == run.number for known in before)


def _add_run(table: Table, line: int, student: RawStudent, run: Header | None, reading: Reading) -> None:
    before = len(student.numbers)
    if any(column.header.group for column in table.of("own")):
        results = [column for column in table.filled(line, "result") if not column.header.of]
        student.numbers += [RawNumber(column.header, table.place(line, column)) for column in results]
    lines.add_claims(table, line, student)
    _explain_repeats(table, line, student, reading)
    found = _runs_of(table, line, run)
    heading = {table.place(line, column): HEADING for column in table.filled(line, "run")}
    if run is not None and run.field == "mean":
        reading.ignored |= heading
        _add_mean(student, before, found, run, reading)
        return
    if run is None and found and (label := _line_label(table, line)).field in ("result", "own"):
        reading.ignored |= heading
        place = next(iter(found[0].cells.values()))
        if label.field == "own":
            student.numbers.append(RawNumber(label, place))
        else:
            student.claim(label.key, place, label)
        return
    lines.explain_titration(table, line, reading)
    for column in table.filled(line, "run", "rough ticked"):
        reading.ignored[table.place(line, column)] = "names the run" if run else "names no run"
    if run is not None and "refill" in run.tags and student.runs:
        _add_part(student.runs[-1], {key: place for one in found for key, place in one.cells.items()}, reading)
        return
    student.runs += found
    for own in student.numbers[before:]:
        own.run = found[0] if found else RawRun("none")


def _runs_of(table: Table, line: int, run: Header | None) -> list[RawRun]:
    """Return the runs that stand in a line: one, or one of each titration that the headings name."""
    filled = table.filled(line, *READINGS)
    kind = run.kind if run is not None and run.kind in ("rough", "blank") else "accurate"
    trial = run is not None and "trial" in run.tags and run.kind != "rough"
    found = []
    for series in dict.fromkeys(column.header.series for column in filled or table.filled(line, "used")):
        own = [each for each in table.of(*READINGS, "used", "used at") if each.header.series in ("", series)]
        columns = {column.header.key: column for column in reversed(own)}
        cells = table.places(line, columns)
        name = series or (run.series if run is not None else "")
        number = run.number if run is not None else None
        ticks = bool(table.of("runs used")) or any(key.startswith("used") for key in columns)
        zero = number == 0 and "rough" not in run.tags if run is not None else False
        found.append(RawRun(kind, number, cells, columns, name, trial, zero, ticks, run is None))
    return found


def _line_label(table: Table, line: int) -> Header:
    """Return what a line says of itself where runs are named: Result / mol dm-3."""
    texts = [cell.text for column in table.of("run") if (cell := table.label(line, column))]
    if not texts or len(table.filled(line, *READINGS)) != 1:
        return Header()
    said = understand(texts[0], table.overrides)
    symbol = not said.field and is_symbol(texts[0], table.overrides.asked)
    return replace(said, field="result") if symbol else said


def _add_part(run: RawRun, cells: dict[str, tuple[int, int]], reading: Reading) -> None:
    """Add the second part of a run whose burette was refilled."""
    for key, place in cells.items():
        if key in ("initial", "final") and f"{key} again" not in run.cells:
            run.cells[f"{key} again"] = place
        else:
            reading.ignored[place] = "belongs to a part of a run"


def _add_mean(student: RawStudent, before: int, found: list[RawRun], run: Header, reading: Reading) -> None:
    """Take an average line or column for what it is: its titre is the student's own mean.

    Of its numbers, which are the student's from the place `before` on, the result is that of the mean.
    """
    student.numbers[before:] = [number for number in student.numbers[before:] if number.header.field == "result"]
    for number in student.numbers[before:]:
        number.header = replace(number.header, tags=number.header.tags | {"mean"})
    for one in found:
        for key, place in one.cells.items():
            field, _, endpoint = key.partition(":")
            name = endpoint or one.series or run.of
            mean = f"mean:{name}" if name else "mean"
            # A mean titre alone stands in the first line of a block, whatever that line holds of a run.
            if (field in ("titre", "titre at") or len(one.cells) == 1) and mean not in student.cells:
                student.cells[mean] = place
            else:
                reading.ignored[place] = "in an average of the runs, which is no run"


def _explain_repeats(table: Table, line: int, student: RawStudent, reading: Reading) -> None:
    """Explain the cells that repeat in each record what has been read once: the name, the bench, the mean.

    A mean, a result or a list of runs that differs from the first one is noted, too.
    """
    once = ("mean", "result", "runs used")
    for column in table.filled(line, "student", "surname", "forename", *ABOUT, "group", "order", *once):
        place, key = table.place(line, column), lines.claim_key(table, line, column.header)
        if place in {*student.cells.values(), *(at for at, _ in student.groups.values())}:
            continue
        said = plain(table.view.grid.cells[place].text)
        if is_unit(table.view.grid.cells[place]):
            reading.ignored.setdefault(place, "header: a unit")
            continue
        if column.header.field not in once or said == student.said(key):
            reading.ignored.setdefault(place, REPEATS)
            continue
        if key == "result" and len(table.overrides.several.results) > 1:
            student.unclear = True
            reading.ignored.setdefault(place, UNCLEAR)
            continue
        what = " ".join(key.split(":")).replace("used", "list of runs", 1)
        address = table.view.grid.address(place)
        reading.ignored.setdefault(place, f"a second {what} of the same student; the first one was taken")
        student.notes.append(f"another {what} ({said[:40]}) stands in {address}; the first was taken")


def _settle_owners(table: Table, student: RawStudent, reading: Reading) -> None:
    """Numbers that are alike in all of a student's lines, or that stand in one line only, are the student's."""
    _settle_results(table, student)
    runs = [run for run in student.runs if run.kind != "blank"]
    most = len(runs) if table.series else max(map(len, by_series(runs)), default=0)
    for name in dict.fromkeys(number.header.own for number in student.numbers if number.header.field == "own"):
        numbers = [number for number in student.numbers if number.header.own == name]
        texts = {plain(table.view.grid.cells[number.place].text) for number in numbers}
        if len(texts) == 1 and (len(numbers) == 1 or len(numbers) >= most):
            numbers[0].run = None
            student.numbers = [number for number in student.numbers if number not in numbers[1:]]
            reading.ignored.update({number.place: REPEATS for number in numbers[1:]})


def _settle_results(table: Table, student: RawStudent) -> None:
    """Results that differ from line to line are those of the runs; the student's stands under a mean, if anywhere."""
    results = [number for number in student.numbers if number.header.field == "result"]
    of_runs = [number for number in results if "mean" not in number.header.tags]
    differ = len({plain(table.view.grid.cells[number.place].text) for number in of_runs}) > 1
    student.numbers = [number for number in student.numbers if number not in results or (differ and number in of_runs)]
    if differ:
        student.cells.pop("result", None)
        for number in results:
            if number not in of_runs:
                student.claim("result", number.place, number.header)
        student.notes = [note for note in student.notes if not note.startswith("another result")]
