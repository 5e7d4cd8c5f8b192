"""Students and runs as places -> the students of a class as they were recorded, and the account of its cells."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from labmark.dataclass import replace
from labmark.exact import PER_CM3, as_written
from labmark.facts import OwnValue, Run, Student
from labmark.practical.own import OwnNumber, Several
from labmark.practical.quantities import Asked
from labmark.read.cells import Value, read_number, titres_in, unusable
from labmark.read.decimal_marks import decimal_mark
from labmark.read.grid import Cell, Place
from labmark.read.headers import ABOUT, Header, listed_runs, says_all
from labmark.read.model import RawNumber, RawRun, RawStudent, Reading, run_label
from labmark.read.moments import Moment, in_order, time_of, whole
from labmark.read.own_numbers import is_turned, own_input, owned
from labmark.read.own_values import as_shown, in_asked_unit, read_own
from labmark.read.runs import (
    BARE_NUMBER,
    ENDS,
    FARTHEST,
    NOTHING,
    READINGS,
    Done,
    Entry,
    RunReader,
    bare_decimals,
    microlitres,
)
from labmark.read.students import by_endpoint
from labmark.read.words import plain, says_absent
from labmark.read.written_units import is_small
from labmark.words import listed

_TRAILING_ZERO = re.compile(r"(?<![\d.,])\d+[.,](\d*)0(?![\d.,])")
_SECOND_DECIMAL = re.compile(r"(?<![\d.,])\d+[.,]\d\d")
_MAY_BE_THOUSANDS = re.compile(r"[.,]\d{3}(?!\d)")
NAME_CELLS = ("student", "surname", "forename")
"""Cells that name a student; they stand first."""


class Maker(RunReader):
    """Makes the students of a class, and enters every cell it looks at in the account."""

    def __init__(self, asked: Asked | None, numbers: Sequence[OwnNumber], several: Several) -> None:
        """Take the unit that results are turned into; without it they are left alone.

        `numbers` are those of the practical that a student or a run may own; `several` are its titres and results,
        where there are several.
        """
        super().__init__(several.endpoints)
        self.asked = asked
        self.several = several
        self.known = numbers
        self.numbers = [number for number in numbers if number.columns]
        self._students: list[Student] = []
        self._moments: list[Moment | None] = []
        self.runs_read = 0

    def add(self, raw: RawStudent) -> None:
        """Add one student and the runs, from all the tables where they stand."""
        parts = (raw, *raw.parts)
        entry = Entry(self.account, raw.grid, [note for part in parts for note in part.notes])
        runs = self._runs(parts, entry.notes)
        groups, about = self._told(parts, runs, entry)
        order, absent = self._order(raw, entry), not _did_something(runs, entry)
        inputs = {key: own for part in reversed(parts) for key, own in self._owned(part, None, entry.notes).items()}
        if absent:
            self._set_aside(runs, inputs, entry)
        done = [(self._run(each), each.kind == "blank") for each in runs if not absent]
        means, results = (self._several(field, entry) for field in ("mean", "result"))
        mean, result = entry.value("mean"), entry.value("result")
        student = Student(
            len(self._students) + 1,
            raw.name,
            runs=tuple([run for run, is_blank in done if not is_blank]),
            blanks=tuple([run for run, is_blank in done if is_blank]),
            groups=groups,
            about=about,
            absent=absent,
            own_mean=mean.number,
            own_mean_decimals=mean.decimals,
            own_result=result.number,
            own_result_decimals=result.decimals,
            own_result_unit=result.unit_text,
            inputs=inputs,
            several_means=means,
            several_results=results,
            cells={key: entry.cells[key] for key in NAME_CELLS if key in entry.cells} | entry.cells,
            odd=entry.odd,
            notes=tuple(dict.fromkeys(entry.notes)),
            order=order,
        )
        self._students.append(student)

    def _order(self, raw: RawStudent, entry: Entry) -> int | None:
        """Return the place in the order of work as it is written; where a time stands instead, that is kept."""
        time, moment = time_of(raw)
        self._moments.append(moment)
        if time is None:
            return whole(self._claim(raw, "order", entry).number)
        entry.use("order", time)
        return None

    def _runs(self, parts: Sequence[RawStudent], notes: list[str]) -> list[Done]:
        """Return the runs that a student did, those of each titration together."""
        order_of = {name: at for at, name in enumerate(self.several.titrations)}
        runs = sorted(_joined(parts), key=lambda each: order_of.get(each[1].series, 0))
        done = [each for part, run in runs for each in self._done(part, run, notes)]
        self._doubt_crosses(done)
        return done

    def _told(
        self, parts: Sequence[RawStudent], runs: list[Done], entry: Entry
    ) -> tuple[dict[str, str], dict[str, str]]:
        """Read what the tables say of a student beside the runs: groups and the like, ticks, own values, the name.

        Returns the groups, and what is known of the student.
        """
        groups: dict[str, str] = {}
        about: dict[str, str] = {}
        for part in parts:
            own = entry.on(part.grid)
            for key in [key for key in part.cells if key.startswith("used")]:
                self._tick_listed(part, key, runs, own)
            self._about(part, groups, about, own)
            self._claims(part, own)
        _tick_blanks(runs)
        self._give_up(runs)
        for part in reversed(parts):
            for key in [key for key in part.cells if key.partition(" ")[0] in NAME_CELLS]:  # "student 1", a second one
                entry.on(part.grid).use(key, part.cells[key])
        return groups, about

    def _claims(self, raw: RawStudent, entry: Entry) -> None:
        """Read the student's own means and results in one table; the first of each counts."""
        for key in [key for key in raw.cells if key.partition(":")[0] in ("mean", "result")]:
            if key in entry.cells:
                why = f"another {' '.join(key.split(':'))} of the same student; the first one was taken"
                self.account.ignored[raw.grid.address(raw.cells[key])] = why
            else:
                entry.values[key] = self._claim(raw, key, entry)

    def _several(self, field: str, entry: Entry) -> dict[str, OwnValue]:
        """Take the means, or results, that have names out of an entry."""
        names = self.several.results if field == "result" else (*self.several.endpoints, *self.several.titrations)
        found = {}
        for key, name in ((f"{field}:{name}", name) for name in names):
            if key in entry.values and key in entry.cells:
                value, cell, odd = entry.values[key], entry.cells.pop(key), entry.odd.pop(key, "")
                found[name] = OwnValue(value.number, value.decimals, (cell,), odd, unit=value.unit_text)
        return found

    def _set_aside(self, runs: list[Done], inputs: Mapping[str, OwnValue], entry: Entry) -> None:
        """Take the cells of a student who was absent for what they are."""
        addresses = [entry.cells.pop(key) for key in entry.values if key in entry.cells]
        addresses += [address for run in runs for address in run.entry.cells.values()]
        addresses += [address for own in inputs.values() for address in own.cells]
        said = dict.fromkeys(text for each in (*(run.entry for run in runs), entry) for text in each.odd.values())
        self.account.set_aside(addresses, "no reading stands with this name: taken for absent")
        if said:
            only = ", ".join(map(repr, said))
            entry.notes.append(f"taken for absent: no reading stands with this name, only {only}")
        entry.odd.clear()
        entry.values.clear()

    def _owned(self, raw: RawStudent, run: RawRun | None, notes: list[str]) -> dict[str, OwnValue]:
        """Return the numbers that a student (or a run) owns, by the practical's keys; blank ones are left out."""
        found: dict[str, OwnValue] = {}
        for number, terms in owned(raw, run, self.numbers):
            if is_turned(terms):
                where = listed([raw.grid.address(term.place) for term, _ in terms])
                self.unit_notes[f"{where}: the first is smaller than the second; their difference is taken"] = None
            entry = Entry(self.account, raw.grid)
            for term, value in terms:
                address = raw.grid.address(term.place)
                entry.enter(address, term.place, value)
                notes += [f"{address}: {value.remark}"] if value.remark and value.state == "number" else []
            if entry.cells:
                wanted, odd = len(number.columns), "; ".join(entry.odd.values())
                found[number.key] = own_input(terms, wanted, tuple(entry.cells), odd)
        for each in raw.numbers if run is None else ():  # the runs have had theirs by now
            address, account = raw.grid.address(each.place), self.account
            taken = address in account.used or address in account.rejected or address in account.ignored
            if not taken and (each.header.group or each.header.field == "result"):
                done = each.run is None or any(each.run is known for known in raw.runs)
                why = "another number of that name was taken" if done else "belongs to a run without readings"
                account.ignored[address] = why
        return found

    def _about(self, raw: RawStudent, groups: dict[str, str], about: dict[str, str], entry: Entry) -> None:
        """Add the groups that a table puts a student into, and what it says of them; what another said first counts."""
        if raw.person:
            about.setdefault("Name", raw.person)
        told: list[tuple[dict[str, str], str, Place | None, str]]
        told = [(groups, name, *each) for name, each in raw.groups.items()]
        told += [(about, key, raw.cells[key], raw.said(key)) for key in ABOUT.values() if key in raw.cells]
        for into, key, place, text in told:
            absent = f"{text!r} says that somebody was absent" if says_absent(text) else ""
            why = absent if text else "an empty text"
            if not why:
                into.setdefault(key, text)
            if place is not None:
                entry.enter(key, place, Value("nothing" if why else "number", why=why))

    def _claim(self, raw: RawStudent, key: str, entry: Entry, of_run: RawNumber | None = None) -> Value:
        """Read an own value of the student; with `of_run` a run's own result."""
        place = raw.cells.get(key) if of_run is None else of_run.place
        if place is None:
            return NOTHING
        cell, (what, _, name) = raw.grid.cells[place], key.partition(":")
        header = raw.headers.get(key, Header()) if of_run is None else of_run.header
        unit = header.result_unit if what == "result" else ""
        value = read_own(cell, _mark(raw, cell), claim=what != "mean", thousands=is_small(unit))
        if cell.kind == "number" and what != "order":
            value = as_shown(value, cell.decimals, claim=what == "result")
        if value.state == "number" and what == "mean":
            value = self.scaled(value, header.scale)
        if value.state == "number" and what == "result":
            asked = self.several.results.get(name, self.asked)
            value, of_header = in_asked_unit(value, asked, plain(cell.text)[:60], unit)
            self.unit_notes.update({of_header: None} if of_header else {})
        if value.number is not None and abs(value.number) <= FARTHEST:  # 24.4 shown with two decimals is 24.40
            value = replace(value, number=as_written(value.number, value.decimals))
        if value.remark and value.state == "number":
            entry.notes.append(f"{raw.grid.address(place)}: {value.remark}")
        return entry.enter(key, place, value)

    def _done(self, raw: RawStudent, run: RawRun, notes: list[str]) -> list[Done]:
        """Return a run, or each endpoint of it; nothing where it was not done."""
        of_endpoints = by_endpoint(run, self.several.endpoints if run.kind != "blank" else ())
        done = [self.read_run(raw, one, notes) for one in of_endpoints]
        left = {*run.cells.values()} - {place for one in of_endpoints for place in one.cells.values()}
        for address in map(raw.grid.address, left):
            self.account.ignored[address] = "another cell of the run says this for the last endpoint"
        # A blank may be nothing.
        if all(
            not one.entry.cells
            or (not one.ticked and one.run.kind != "blank" and self.was_not_done(one.run, one.entry))
            for one in done
        ):
            return []
        own = next((each for each in raw.numbers if each.run is run and each.header.field == "result"), None)
        result = NOTHING if own is None else self._claim(raw, "result", done[0].entry, own)
        inputs = self._owned(raw, run, notes)
        number = None if result.unit_text else result.number  # one of another quantity is no result of the runs
        for one in done:
            one.of_run = {"inputs": inputs, "own_result": number, "own_result_decimals": result.decimals}
            remarks = ((key, value.remark) for key, value in one.entry.values.items() if value.remark)
            notes += [f"{one.entry.cells.get(key, '')}: {remark}" for key, remark in remarks]
        self.runs_read += 1
        return done

    def _run(self, done: Done) -> Run:
        """Return a run as it was recorded."""
        run, values, odd = done.run, done.entry.values, done.entry.odd
        label = run_label(run.kind, run.number)
        volume = {key: microlitres(done.entry.value(key)) for key in READINGS}
        return Run(
            f"{run.series} {label.lower()}" if run.series in self.several.titrations else label,
            done.kind == "rough",
            run.series,
            volume["initial"],
            volume["final"],
            done.entry.value("initial").decimals,
            done.entry.value("final").decimals,
            written=volume["titre"],
            written_decimals=done.entry.value("titre").decimals,
            parts=done.parts,
            ticked=done.ticked,
            struck=any(value.discard for value in values.values()),
            cells=done.entry.cells,
            odd=odd,
            why={key: one.fault for key, one in values.items() if key in odd and one.fault and not one.spoilt},
            spoilt=done.spoilt,
            zero=run.zero,
            **done.of_run,
        )

    def _tick_listed(self, raw: RawStudent, key: str, runs: list[Done], entry: Entry) -> None:
        """Tick the runs that one cell lists: "1 and 3"; those of one titration, where the key names that."""
        place, series = raw.cells[key], key.partition(":")[2] or raw.series
        cell = raw.grid.cells[place]
        meant = [each for each in runs if series in ("", each.run.series)]
        labels = [run_label(each.run.kind, each.run.number) for each in meant]
        ticked = listed_runs(cell.text) if cell.kind in ("text", "number") else set()
        ticked = _of_titres(titres_in(cell.text), dict(zip(labels, meant, strict=True))) or ticked
        accurate = {label for label, each in zip(labels, meant, strict=True) if each.kind == "accurate"}
        ticked = accurate if says_all(cell.text, len(accurate)) else ticked
        there = bool(ticked) and ticked <= {*labels}
        value = Value("number") if there else read_number(cell, raw.grid.mark)
        if not there and value.state != "nothing" and not value.spoilt:
            value = unusable(plain(cell.text), "does not name runs of this student; write them as 1, 2")
        if entry.enter("used", place, value).state == "number":
            for each, label in zip(meant, labels, strict=True):
                if label in ticked or each.kind == "accurate":
                    each.ticked, each.entry.cells["used"] = label in ticked, entry.cells["used"]

    def _give_up(self, runs: list[Done]) -> None:
        """Take words where a reading should be for why the run was given up: where nothing else claims it.

        The student's other runs have a titre or a tick, and this one has neither, but several words ("tap leaked") or a
        no. A lone word may be anything, also a number (twenty-four).
        """
        claimed = any(each.ticked or _titre(each) is not None for each in runs)
        for each in runs if claimed and not self.several.endpoints else ():
            entry = each.entry
            said = [key for key in ENDS if key in entry.odd]
            crossed = each.ticked is False and "used" in entry.cells
            worded = crossed or all(len(entry.odd[key].split()) > 1 for key in said)
            no_number = {entry.value(key).fault for key in said} == {"is not a number"}
            taken = each.kind != "accurate" or each.ticked or "titre" in entry.cells
            for key in said if worded and no_number and not taken else ():
                why = f"{entry.odd.pop(key)!r} says that the run was given up"
                self.account.set_aside([entry.cells.pop(key)], why)
                entry.values[key] = Value("nothing", why=why, discard=True)

    def _doubt_crosses(self, runs: list[Done]) -> None:
        """An x is a tick, except where the same student ticks in another way too: then it may be a cross."""
        crosses = [each for each in runs if each.tick == "x"]
        for each in crosses if any(each.tick not in ("", "x") for each in runs) else ():
            why = "an x beside other ticks may be a tick or a cross; write y or n"
            each.ticked = None
            each.entry.enter("used", each.run.cells["used"], Value("odd", why=why))

    def students(self) -> tuple[Student, ...]:
        """Return the students, in the order of the sheet."""
        orders = in_order([one.order for one in self._students], self._moments)
        pairs = zip(self._students, orders, strict=True)
        return tuple([one if order == one.order else replace(one, order=order) for one, order in pairs])


def _of_titres(titres: Sequence[str], runs: Mapping[str, Done]) -> set[str]:
    """Return the labels of the runs whose titres a cell lists (24.30 and 24.40); none where others may be meant."""
    said = Counter(int(Decimal(each.replace(",", ".")) * PER_CM3) for each in titres)
    of_runs = {label: _titre(run) for label, run in runs.items()}
    found = {label: titre for label, titre in of_runs.items() if titre in said}
    return {*found} if Counter(found.values()) == said else set()


def _titre(run: Done) -> int | None:
    """Return the titre of a run [µL]: as written, or else from its readings."""
    initial, final, titre = (microlitres(run.entry.value(key)) for key in ("initial", "final", "titre"))
    return abs(final - initial) if titre is None and initial is not None and final is not None else titre


def _did_something(runs: list[Done], entry: Entry) -> bool:
    """Return whether a student recorded anything: a number other than 0, a tick, what was meant for a reading.

    Formulas give 0 or an error for who was not there, and a start at 0.00 is often filled in beforehand.
    """
    meant = [entry.odd[key] for key, value in entry.values.items() if key in entry.odd and not value.spoilt]
    for run in runs:
        if run.ticked or any(microlitres(run.entry.value(key)) for key in READINGS) or {*ENDS} & {*run.spoilt}:
            return True
        meant += [text for key, text in run.entry.odd.items() if key not in run.spoilt]
    return any(value.number for value in entry.values.values()) or any(
        any(char.isdigit() for char in text) and not says_absent(text) for text in meant
    )


def _tick_blanks(runs: list[Done]) -> None:
    """A blank beside ticked runs says that the run was not used; of the rough it says nothing, where few ask.

    Where a tick of a student cannot be read, the others do not say which runs were used: the mean may.
    """
    unread = {each.run.series for each in runs if "used" in each.entry.odd}
    for each in runs:
        each.ticked = None if each.run.series in unread else each.ticked
    told = {each.run.series for each in runs if each.ticked}
    for each in runs:
        if each.ticked is None and each.run.series in told and each.run.can_tick and each.run.kind == "accurate":
            each.ticked = False


def _joined(parts: Sequence[RawStudent]) -> list[tuple[RawStudent, RawRun]]:
    """Return the runs of a student, each with what other tables say of it; one that has readings goes before."""
    found: dict[tuple[str, str, int | None, int], tuple[RawStudent, RawRun]] = {}
    for part in sorted(parts, key=lambda each: not any({*run.cells} - {"titre", "used"} for run in each.runs)):
        times: Counter[tuple[str, str, int | None]] = Counter()
        for run in _told_apart(part):
            key = (run.series, run.kind, run.number)
            times[key] += 1
            first = found.setdefault((*key, times[key]), (part, run))[1]
            if first is not run:
                first.more.append((part.grid, run))
    return list(found.values())


def _told_apart(part: RawStudent) -> Iterator[RawRun]:
    """Yield the runs that stand of a student; those whose titres stand in one cell (25.30; 25.35) each by itself."""
    alone = sum(run.kind == "accurate" for run in part.runs) == 1
    for run in part.runs:
        held = alone and run.kind == "accurate" and run.unnamed and {*run.cells} == {"titre"}
        each = titres_in(part.grid.cells[run.cells["titre"]].text) if held else []
        yield from [replace(run, number=number, titre=titre) for number, titre in enumerate(each, start=1)] or [run]


def keeps_zeros(reading: Reading) -> bool | None:
    """Return whether a text table keeps trailing zeros: at least one reading in it has one; None without readings.

    The program that wrote the table then wrote all digits; else it may have dropped zeros, and no digits can be known.
    Beside readings of two decimals 26.0 is no more than how programs write 26.
    """
    runs = [run for student in reading.students for run in student.runs]
    keys = ("initial", "final", "titre", "both")
    texts = {plain(reading.grid.cells[run.cells[key]].text) for run in runs for key in keys if key in run.cells}
    # What was typed as words (50.00 + 5.30) has all of its digits.
    texts = {text for text in texts if BARE_NUMBER.fullmatch(text)}
    if not texts:
        return None
    fine = any(_SECOND_DECIMAL.search(text) for text in texts)
    zeros = (match[1] for text in texts for match in _TRAILING_ZERO.finditer(text))
    return any(decimals or not fine for decimals in zeros)


def zeros_cut(reading: Reading) -> dict[str, int]:
    """Return answer (mean, result) -> decimals up to which one in a text table may have lost its zeros.

    Whoever saves a sheet as text gets 93 for 93.0 in a column that has no format, though the readings keep their zeros.
    So it may be where none of the answers ends in a zero.
    """
    texts: dict[str, list[str]] = {"mean": [], "result": []}
    for student in reading.students:
        for key, place in student.cells.items():
            texts.get(key.partition(":")[0], []).append(plain(reading.grid.cells[place].text))
    return {
        key: max(map(bare_decimals, found), default=0)
        for key, found in texts.items()
        if not any(map(_TRAILING_ZERO.search, found))
    }


def _mark(raw: RawStudent, cell: Cell) -> str:
    """Return the decimal mark of a student's texts, or else the file's, where a cell may need it."""
    if cell.kind != "text" or not _MAY_BE_THOUSANDS.search(cell.text):
        return raw.grid.mark
    places = [*raw.cells.values(), *(place for run in raw.runs for place in run.cells.values())]
    return decimal_mark(raw.grid.cells[place] for place in places)[0] or raw.grid.mark
