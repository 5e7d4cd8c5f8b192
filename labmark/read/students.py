"""The students of a class over all its tables and sheets: joined where they stand in several, told apart where alike.

With several titrations, endpoints or results nothing is left unnamed.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from labmark.dataclass import replace
from labmark.practical.own import Several
from labmark.problems import Problem, raise_any
from labmark.read.cells import read_number
from labmark.read.grid import Place
from labmark.read.headers import Header, understand
from labmark.read.layouts.columns import by_series, number_runs, settle_trials
from labmark.read.model import UNCLEAR, RawRun, RawStudent, Reading
from labmark.read.words import folded, plain
from labmark.records import NOT_UNDERSTOOD


def name_titration(student: RawStudent, series: str) -> None:
    """Give the titration that a line, a table or a sheet is of to the runs and the mean that stand there."""
    student.series = student.series or series
    if not student.series:
        return
    for run in student.runs:
        run.series = run.series or student.series
    if f"mean:{student.series}" not in student.cells:
        _rename(student, "mean", f"mean:{student.series}")


def _rename(student: RawStudent, old: str, new: str) -> None:
    told: tuple[dict[str, Any], ...] = (student.cells, student.headers)
    for each in told:
        if old in each:
            each[new] = each.pop(old)


def name_run(students: list[RawStudent], run: Header | None) -> None:
    """Name the only run of everybody, which has no name in the table, by what stands over or beside it."""
    for each in (each for student in students for each in student.runs if len(student.runs) == 1):
        if run is None or (each.kind, each.number) != ("accurate", 1):
            continue
        if run.names_run:
            each.kind, each.number = run.kind or ("accurate" if run.number else "rough"), run.number or None
            each.zero, each.unnamed = run.number == 0 and "rough" not in run.tags, False
        elif "trial" in run.tags:
            each.trial, each.number = True, None


def give_runs_their_numbers(parts: Sequence[RawStudent]) -> None:
    """Give each run of a student its own number, a mass, where every run stands in a part with one: they differ."""
    held = {
        (id(part), number.header.own): (part, number) for part in parts for number in part.numbers if number.run is None
    }
    for name in {name for _, name in held}:
        of = [(part, number) for (_, own), (part, number) in held.items() if own == name]
        texts = {plain(part.grid.cells[number.place].text) for part, number in of}
        if len(texts) > 1 and all(len(part.runs) == 1 for part, _ in of):
            for part, number in of:
                number.run = part.runs[0]


def settle_several(readings: list[Reading], several: Several, file: str) -> None:
    """Join the students of several tables, and give bare means and results their names.

    Raises InputError for runs of no titration, and for a titration or an endpoint that nobody has.
    """
    students = _all_of(readings)
    _group_by_sheets(readings)
    if several.titrations:
        _join(students, _is_other_part)
    else:
        _name_by_sheets(readings)
        raise_any([*_settle_bare_titres(readings)])
        _join(students, _goes_on)
        if joined := sum(bool(student.parts) for student in students):
            note = f"{joined} of the students appear more than once, and no run contradicts another: taken together"
            next(reading for reading in readings if reading.students).notes.append(note)
    for student in whole_students(readings):
        give_runs_their_numbers((student, *student.parts))
        for runs in by_series([run for part in (student, *student.parts) for run in part.runs]):
            if any(run.trial and run.number is None for run in runs):
                settle_trials(runs)
                number_runs(runs)
    _leave_unclear_results(readings, several)
    series = (*several.endpoints, *several.titrations)
    for reading in readings:
        for student in reading.students:
            _name(student, "mean", series[-1:], reading)
            _name(student, "result", tuple(several.results)[:1], reading)
    raise_any([*_nameless(readings, several)] or [*_missing(readings, several, file)])


def _leave_unclear_results(readings: list[Reading], several: Several) -> None:
    """Take a student's bare results for none where there are several that differ: nothing says which is which."""
    of = {id(student): reading for reading in readings for student in reading.students}
    told = False
    for whole in whole_students(readings) if len(several.results) > 1 else ():
        parts = [part for part in (whole, *whole.parts) if "result" in part.cells]
        if not any(part.unclear for part in parts) and len({part.said("result") for part in parts}) < 2:
            continue
        for part in parts:
            of[id(part)].ignored[part.cells.pop("result")] = UNCLEAR
        if not told:
            headings = " and ".join(f"Result {name}" for name in several.results)
            what = f"{NOT_UNDERSTOOD}: results of which it cannot be told which is which; head them {headings}"
            of[id(whole)].notes.append(what)
        told = True


def whole_students(readings: list[Reading]) -> Iterator[RawStudent]:
    """Yield every student once, wherever the parts stand."""
    students = _all_of(readings)
    parts = {id(part) for student in students for part in student.parts}
    yield from (student for student in students if id(student) not in parts)


def _name_by_sheets(readings: list[Reading]) -> None:
    """Take the one run of everybody on a sheet called Rough, or Run 2, for that, where other sheets hold runs too."""
    with_runs = [one for one in readings if any(student.runs for student in one.students)]
    for reading in with_runs if len(with_runs) > 1 else ():
        named = understand(reading.grid.name)
        if not named.unknown and all(len(one.runs) < 2 for one in reading.students):
            name_run(reading.students, named)


def _settle_bare_titres(readings: list[Reading]) -> Iterator[Problem]:
    """Take away titres of no run that say again the means of students with several runs elsewhere; yield the others."""
    students = _all_of(readings) if any(map(_is_bare, _all_of(readings))) else []
    done = {name: one for one in students if _counted(one) > 1 for name in [str(_words(one.name))]}
    for reading in readings:
        bare = [
            (one, done[name]) for one in reading.students if (name := str(_words(one.name))) in done and _is_bare(one)
        ]
        again = [_is_mean(_number(one, one.runs[0].cells["titre"]), other) for one, other in bare]
        for one, _ in bare if all(again) else ():
            reading.ignored[one.runs.pop().cells["titre"]] = "the mean titre of the same student again"
        if not all(again):
            what = "nothing says which run this titre is of, and there are several"
            do = "head it Mean titre or, with its number, Run 3 titre"
            yield reading.grid.problem(what, do, bare[0][0].runs[0].cells["titre"], reading.book.file)


def _counted(student: RawStudent) -> int:
    return sum(run.kind == "accurate" for run in student.runs)


def _is_bare(student: RawStudent) -> bool:
    """Return whether there is one titre, and no run named for it."""
    runs = student.runs
    return len(runs) == 1 and runs[0].unnamed and runs[0].kind == "accurate" and {*runs[0].cells} == {"titre"}


def _is_mean(titre: Decimal | None, student: RawStudent) -> bool:
    """Return whether a titre is the mean that a student wrote elsewhere, rounded or not."""
    own = _number(student, student.cells.get("mean"))
    return titre == own or (titre is not None and own is not None and abs(titre - own) <= Decimal("0.01"))


def _number(student: RawStudent, place: Place | None) -> Decimal | None:
    return None if place is None else read_number(student.grid.cells[place], "").number


def _group_by_sheets(readings: list[Reading]) -> None:
    """Take sheets called Bench 1 and Bench 2 for the grouping of the students on them who have none of their own."""
    named = [(one, *_group_in(one.grid.name)) for one in readings if one.students]
    sheets = Counter(group for _, group, _ in named if group)
    for reading, group, text in named:
        named_apart = [one for one in reading.students if one.name != reading.grid.name and group not in one.groups]
        if sheets[group] > 1 and named_apart:
            reading.understood.append(f"{group}: the names of the sheets")
            for student in named_apart:
                student.groups[group] = (None, text)


def _group_in(name: str) -> tuple[str, str]:
    """Return the grouping that a sheet's name begins with, and the rest of it: Bench and 3; empty where it is none."""
    first, _, rest = plain(name).partition(" ")
    header = understand(first)
    return (header.group, rest) if header.field == "group" and rest else ("", "")


def _join(students: Iterable[RawStudent], is_part: Callable[[RawStudent, RawStudent], bool]) -> None:
    """Make parts of one student of those of the same name or ID, where one is a part of the other."""
    known: dict[str, list[RawStudent]] = {}
    for student in students:
        code = folded(student.said("ID"))
        keys = [f"id {code}"] * bool(code) + [f"id {folded(student.name)}", f"name {_words(student.name)}"]
        whole = next((one for key in keys for one in known.get(key, ()) if is_part(one, student)), None)
        if whole is not None:
            whole.parts.append(student)
            continue
        for key in keys:
            known.setdefault(key, []).append(student)


def _words(name: str) -> list[str]:
    """Return the words of a name in one order: Li, Chen and Chen Li are Li Chen."""
    return sorted(folded(name).replace(",", " ").split())


def _goes_on(whole: RawStudent, part: RawStudent) -> bool:
    """Return whether a line or a sheet goes on with what another one begins: no run contradicts another."""
    codes = {code for code in (folded(whole.said("ID")), folded(part.said("ID"))) if code}
    if len(codes) > 1 or _words(whole.name) != _words(part.name) or whole.said("Attempt") or part.said("Attempt"):
        return False
    held, more = [_holds(one) for one in (whole, *whole.parts)], _holds(part)
    if not (part.runs and whole.runs):  # what was worked out or weighed stands apart from the readings
        return (any(held) and bool(more)) or part.grid is not whole.grid or _is_headed_apart(whole, part)
    if any(_is_row_beside(one, part) for one in (whole, *whole.parts)):
        return False
    return any(held) and not any(one[key] != more[key] for one in held for key in one.keys() & more.keys())


def _is_headed_apart(one: RawStudent, other: RawStudent) -> bool:
    """Return whether another heading of names stands between two rows: they are of two tables."""
    (first, at), (last, _) = sorted(each.cells.get("student", (0, 0)) for each in (one, other))
    between = (one.grid.cells.get((row, at)) for row in range(first + 1, last) if one.lines and other.lines)
    return any(cell is not None and understand(cell.text).field == "student" for cell in between)


def _is_row_beside(one: RawStudent, other: RawStudent) -> bool:
    """Return whether two rows of a table have the same runs."""
    mine, theirs = _cells_of_runs(one), _cells_of_runs(other)
    same = (mine[key][1] == theirs[key][1] for key in mine.keys() & theirs.keys())  # column
    return one.grid is other.grid and any(same)


def _cells_of_runs(student: RawStudent) -> dict[str, Place]:
    """Return the cells of a student's runs, by what they are; readings of endpoints count as one."""
    told = ((run, *key.partition(" at:")[:2], place) for run in student.runs for key, place in run.cells.items())
    return {f"{run.kind} {run.number} {'' if at else key}": place for run, key, at, place in told if key != "used"}


def _holds(student: RawStudent) -> dict[str, object]:
    """Return what stands of a student's runs and own values, by what it is; nobody reads the same twice."""
    places = {key: place for key, place in student.cells.items() if key in ("mean", "result")}
    of_run = "".join(f" {run.kind} {run.number}" for run in student.runs if len(student.runs) == 1)
    places |= {f"{number.header.own}{of_run}": number.place for number in student.numbers}
    places |= _cells_of_runs(student)
    cells = ((key, student.grid.cells[place]) for key, place in places.items())
    return {
        key: object() if key.endswith(("initial", "final", "both", " ")) else read_number(cell, ".").number or cell.text
        for key, cell in cells
    }


def _is_other_part(whole: RawStudent, part: RawStudent) -> bool:
    """Return whether the runs of two lines are of other titrations."""
    codes = {code for code in (folded(whole.said("ID")), folded(part.said("ID"))) if code}
    return len(codes) < 2 and not any(_series(one) & _series(part) for one in (whole, *whole.parts))


def _series(student: RawStudent) -> set[str]:
    return {student.series, *(run.series for run in student.runs)} - ({""} if student.series else set())


def _name(student: RawStudent, field: str, names: tuple[str, ...], reading: Reading) -> None:
    """Give a bare mean the name of the last titre, and a bare result that of the first, unless that has its own."""
    if field not in student.cells or not names:
        return
    key = f"{field}:{names[0]}"
    if key in student.cells:
        reading.ignored[student.cells.pop(field)] = f"the {field} of {names[0]} has a cell of its own"
    else:
        _rename(student, field, key)


def by_endpoint(run: RawRun, endpoints: tuple[str, ...]) -> list[RawRun]:
    """Return a run as one an endpoint, each from the reading of the one before it; itself where there are none."""
    if not endpoints:
        return [run]
    bare = {key: run.cells[key] for key in ("final", "titre") if key in run.cells}
    cells = {f"{key} at:{endpoints[-1]}": place for key, place in bare.items()} | run.cells
    used = [place for key, place in run.cells.items() if key == "used" or key.startswith("used at:")][:1]
    found, before = [], cells.get("initial")
    for name in endpoints:
        own: dict[str, Place | None] = {key: cells.get(f"{key} at:{name}") for key in ("initial", "final", "titre")}
        own |= {"initial": own["initial"] or before, "used": used[0] if used else None}
        of_header = {key: run.columns.get(f"{key} at:{name}", run.columns.get(key)) for key in own}
        there = {key: place for key, place in own.items() if place}
        columns = {key: column for key, column in of_header.items() if column is not None}
        found.append(replace(run, series=name, cells=there, columns=columns))
        before = own["final"]
    return found


def _nameless(readings: list[Reading], several: Several) -> Iterator[Problem]:
    """Yield a problem for each sheet with runs that no titration has."""
    there = {run.series for run in _runs(readings)}
    example = next((name for name in several.titrations if name not in there), "".join(several.titrations[:1]))
    for reading in readings if several.titrations else ():
        first = next((run for run in _runs([reading]) if run.kind != "blank" and not run.series), None)
        if first is not None:
            what = f"nothing says which titration this run is of ({', '.join(several.titrations)})"
            do = f"write its name into the heading ({example!r} as in '{example} run 1 initial'), over the table, "
            do += "into a column Titration, or give each titration a sheet of its name"
            yield reading.grid.problem(what, do, min(first.cells.values()), reading.book.file)


def _missing(readings: list[Reading], several: Several, file: str) -> Iterator[Problem]:
    """Yield a problem for each titration that nobody has a run of, and for readings of an endpoint without a column."""
    runs = _runs(readings)
    keys = {key for run in runs for key in run.cells}
    sheets = ", ".join(dict.fromkeys(one.grid.sheet for one in readings if one.students and one.grid.sheet))
    there = {name for reading in readings for name in reading.named} | {one.series for one in _all_of(readings)}
    for name in several.titrations:
        if runs and name not in there | {run.series for run in runs}:
            do = f"head its columns '{name} run 1 initial', '{name} run 1 final', or call a sheet {name!r}"
            yield Problem(f"no run of the titration {name!r} was found", do, file, sheets)
    there |= {*several.endpoints[-1:]} if keys & {"final", "titre"} else set()
    for name in several.endpoints:
        if runs and name not in there:
            do = f"head a column 'Run 1 {name}', with the burette's readings there"
            yield Problem(f"no reading of the endpoint {name!r} was found", do, file, sheets)
    if any(key.startswith("final at:") for key in keys) and not any(key.startswith("initial") for key in keys):
        do = "add columns 'Run 1 initial', with 0.00 where the burette was filled to the mark"
        yield Problem("there are no initial readings", do, file, sheets)


def _all_of(readings: list[Reading]) -> list[RawStudent]:
    return [student for reading in readings for student in reading.students]


def _runs(readings: list[Reading]) -> list[RawRun]:
    return [run for student in _all_of(readings) for run in student.runs]


# --- told apart ---


def make_distinct(students: list[RawStudent], file: str) -> None:
    """Give every student a name of its own: "S01 (2)" for a second attempt, "S01 (11B)" for one of another class.

    Raises InputError where two students are alike in every cell: a row that was pasted twice.
    """
    by_name: dict[str, list[RawStudent]] = {}
    for student in students:
        by_name.setdefault(folded(student.name), []).append(student)
    problems = [problem for alike in by_name.values() if len(alike) > 1 for problem in _pasted(alike, file)]
    raise_any(problems)
    taken = {student.name for student in students}
    for alike in by_name.values():
        if len(alike) > 1:
            _tell_apart(alike, taken)


def _tell_apart(alike: list[RawStudent], taken: set[str]) -> None:
    name = alike[0].name
    told = [(student.said("ID"), student.said("Attempt")) for student in alike]
    known = len(set(told)) == len(alike) and (all(who for who, _ in told) or all(time for _, time in told))
    labels = [str(number) for number in range(1, len(alike) + 1)]
    classes = len({student.grid.prefix for student in alike}) == len(alike)
    if classes:
        of_files = len({student.grid.name for student in alike}) < len(alike)
        labels = [student.grid.prefix[1:].partition("]")[0] if of_files else student.grid.name for student in alike]
    elif known:
        several = len({who for who, _ in told}) > 1
        labels = [", ".join([who] * several + [f"attempt {time}"] * bool(time)) for who, time in told]
    for place, (student, label) in enumerate(zip(alike, labels, strict=True)):
        student.person = name
        if place or classes or known:
            student.name = _free(name, label, taken)
            taken.add(student.name)
    others = ", ".join(student.name for student in alike)
    for student in () if known else alike:
        ask = "two practicals (--sheet chooses one), or two people?" if classes else "two attempts, or two people?"
        student.notes.append(f"the name {name} appears more than once: kept as {others}; {ask}")


def _free(name: str, label: str, taken: set[str]) -> str:
    """Return a name with a label that nobody has yet; a label that is the name, and more, as it is."""
    if label == name or (label.startswith(f"{name} ") and label not in taken):
        return label
    wanted, number = f"{name} ({label})", 2
    while wanted in taken:
        wanted, number = f"{name} ({number})", number + 1
    return wanted


def _pasted(alike: list[RawStudent], file: str) -> list[Problem]:
    seen: dict[tuple[tuple[str, str], ...], RawStudent] = {}
    problems = []
    for student in alike:
        content = _content(student)
        first = seen.setdefault(content, student)
        if first is not student and student.runs and first.grid.prefix == student.grid.prefix:
            cell = first.grid.address(_first_place(first)).rpartition("!")[2].rpartition("]")[2]
            what = f"{student.name!r} is the same as in {cell}, cell by cell"
            do = "delete the row that was pasted twice"
            problems.append(student.grid.problem(what, do, _first_place(student), file))
    return problems


def _content(student: RawStudent) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((key, plain(student.grid.cells[place].text)) for key, place in student.filled()))


def held_by(student: RawStudent) -> set[tuple[str, str]]:
    """Return all that stands of a student but the runs' numbering, for comparing sheets; never empty."""
    return {*_content(student), ("student", student.name), ("titration", student.series)}


def _first_place(student: RawStudent) -> Place:
    return student.cells.get("student") or min(place for run in student.runs for place in run.cells.values())
