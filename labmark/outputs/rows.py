"""What stands in each sheet of marks.xlsx: columns and rows of plain values, before any look is given to them.

A row of the sheet Marks, as a teacher sees it:

    Number | Student | Attention | Why | Bench | ... | accuracy /3 | Total | Out of | Being checked | Changed | ...
    2      | S02     | 6         | ... | 1     | ... |             | 9     | 10     | accuracy (3)  |         | ...

The number is the student's place in the class sheet: it stays with the student however the rows are sorted. The
teacher's cells hold what was decided so far. The scheme's marks stand again in hidden columns at the end, so that a
change shows.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal, NamedTuple, Self

from labmark.dataclass import dataclass, replace
from labmark.outputs import numbers
from labmark.outputs.each import endpoints_of, expected_and_mean, results_of, seen_by_results, titles, titres_of
from labmark.outputs.names import unlike
from labmark.outputs.own import BEING_CHECKED, heading, keys_by_heading, own_result, standing, waiting
from labmark.problems import letters
from labmark.units import shown_unit

Tree = Mapping[str, Any]
Kind = Literal["number", "text", "long", "mark", "total", "comment", "first", "choice", "reading", "value"]
TEACHERS = frozenset({"mark", "comment", "choice", "reading", "value"})
"""Kinds of column that the teacher may change."""
CLOSED = object()
"""What stands in a column of the teacher's where there is nothing to decide."""
CLASS = "the class"
"""What stands instead of a student beside a finding about the class."""
NAMES: dict[str, tuple[str, ...]] = {
    "Marks": ("Student",),
    "Reasons": ("Student", "Criterion"),
    "Runs": ("Student", "Run"),
    "Inputs": ("Student", "Run", "Input"),
    "Findings": ("Student", "Run", "Finding", "Key"),
    "Class": ("About", "Figure"),
    "Decisions": ("Student", "Decided"),
    "Legend": ("Sheet", "Column"),
}
"""Sheet -> headings of the cells that name a row."""
DEEPEST = 60
"""Rows among which headings are looked for."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a sheet."""

    header: str
    kind: Kind = "number"
    """number; text; long (wrapped text); total (a formula); first (a mark by the scheme, hidden); and the teacher's:
    mark, comment, choice (of `choices`), reading (of a burette), value (any other number)."""
    decimals: int | None = None
    """Decimals that are shown; None: as many as the value has."""
    signed: bool = False
    """Whether a plus is shown."""
    out_of: float = 0
    """Greatest mark, for a column of marks; greatest reading, for one of readings."""
    choices: tuple[str, ...] = ()
    widest: float | None = None
    """Greatest width [characters]; None: as is usual for the kind."""


class Formula(NamedTuple):
    """A formula with its value, for programs that show the value without working it out."""

    formula: str
    value: float | str


class Figure(NamedTuple):
    """A number in a column of mixed figures, with the decimals that suit it."""

    value: float | None
    decimals: int


class Sheet(NamedTuple):
    """A sheet: its name, its columns and, a row each, the values under them."""

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]

    @property
    def last(self) -> int:
        """Return the last row, from 1: a table needs one under its header."""
        return max(2, len(self.rows) + 1)

    @classmethod
    def of(cls, name: str, columns: Mapping[str, Column], records: Iterable[Tree]) -> Self:
        """Return a sheet of records, a row each; `columns` by the key of what stands in them."""
        return cls(name, tuple(columns.values()), tuple(tuple(each.get(key) for key in columns) for each in records))


def teachers(tree: Tree) -> Mapping[tuple[str | None, ...], Any]:
    """Return (student, what, of what, run) -> what the teacher has decided so far."""
    return {
        (each["student"], each["what"], each["of"], each.get("run", each.get("endpoint"))): each["value"]
        for each in tree["decisions"]
    }


def about(found: Tree) -> Any:
    """Return which group or fault a finding about the class is about; None where there is no other of its code."""
    evidence = found.get("evidence", {})
    return evidence.get("group") or evidence.get("finding")


def yes(value: bool | None) -> str | None:
    """Return yes, no or nothing."""
    return None if value is None else "yes" if value else "no"


def reasons_sheet(tree: Tree) -> Sheet:
    """Return every mark with the reason for it and the cells it rests on, as it was first given."""
    columns = {
        **_STUDENT,
        "title": Column("Criterion", "text"),
        "mark": Column("Mark"),
        "out_of": Column("Out of"),
        "reason": Column("Reason", "long"),
        "cells": Column("Cells", "long", widest=30),
        "by": Column("Given by", "text"),
        "scheme_mark": Column("By the scheme"),
    }
    marks = ((one, mark) for one in tree["students"] for mark in one["marks"])
    rows = (
        {**_who(one), **mark, "cells": _cells(mark["cells"])} | ({"mark": BEING_CHECKED} if mark.get("pending") else {})
        for one, mark in marks
    )
    return Sheet.of("Reasons", columns, rows)


def runs_sheet(tree: Tree) -> Sheet:
    """Return every run with its readings (one for each endpoint), whether it is in the mean, and why."""
    given = teachers(tree)
    rows = tuple(_run_row(one, run, given) for one in tree["students"] for run in one["runs"])
    return Sheet("Runs", tuple(_run_columns(tree["practical"])), rows)


def _run_columns(practical: Tree) -> Iterator[Column]:
    ends = [each["name"] for each in practical.get("endpoints") or ()] or [""]
    yield from _STUDENT.values()
    yield from (Column("Run", "text"), Column("Kind", "text"), Column("Initial (cm³)"))
    yield from (Column(f"{name or 'Final'} (cm³)") for name in ends)
    yield from (Column(f"{title} (cm³)") for word in ("Titre", "Written titre") for title in titles(ends, word))
    yield from (Column(title, "text") for title in titles(ends, "In the mean"))
    yield Column("Own tick", "text")
    yield from (Column(f"{title} (cm³)") for title in titles(ends, "Likely titre"))
    yield from (Column("Why", "long"), Column("Cells", "long", widest=30))
    yield Column("Use", "choice", choices=("yes", "no"))
    capacity = float(practical["burette"]["capacity"])
    yield from (
        Column(f"{of} is", "reading", out_of=capacity) for of in ("Initial", *(name or "Final" for name in ends))
    )


def _run_row(student: Tree, run: Tree, given: Mapping[tuple[str | None, ...], Any]) -> tuple[Any, ...]:
    name, label, ends = student["student"], run["label"], endpoints_of(run)
    use, initial, final = (given.get((name, what, label, None)) for what in ("use", "initial", "final"))
    corrected = [given.get((name, "reading", label, end)) if end else final for end in ends]
    readings = (one[key] for key in ("final", "titre", "claimed_titre") for one in ends.values())
    ticks = (*(yes(one["used"]) for one in ends.values()), yes(run["claimed_used"]))
    more = (*(one["likely"] for one in ends.values()), run["why"], _cells(run["cells"].values()))
    about = (*_who(student).values(), counted(label), run["kind"], run["initial"])
    return (*about, *readings, *ticks, *more, yes(use), initial, *corrected)


def inputs_sheet(tree: Tree) -> Sheet:
    """Return every number that a student, a run or a group owns, and those that are missing."""
    columns = {
        **_STUDENT,
        "run": Column("Run", "text"),
        "called": Column("Input", "text"),
        "value": Column("Value"),
        "unit": Column("Unit", "text"),
        "owner": Column("Owner", "text"),
        "cell": Column("Cell", "text"),
        "is": Column("Is", "value"),
    }
    given, practical = teachers(tree), tree["practical"]
    inputs = ((one, each) for one in tree["students"] for each in (*one["inputs"], *_missing(one, practical)))
    rows = (
        {**_who(one), **each, "run": counted(each["run"]), "called": heading(each, practical)}
        | {"unit": shown_unit(each["unit"]), "is": given.get((one["student"], "input", each["name"], each["run"]))}
        for one, each in inputs
    )
    return Sheet.of("Inputs", columns, rows)


def _missing(student: Tree, practical: Tree) -> Iterator[Tree]:
    """Yield the numbers that a student lacks, in the form of those that are in the tree."""
    keys = keys_by_heading(practical)
    for name in standing(student, practical):
        yield {"name": name, "value": None, "unit": "", "owner": None, "run": None, "cell": None}
    for each in student["findings"]:
        key = keys.get(each["evidence"].get("input", "")) if each["finding"] == "missing-input" else None
        if key:
            cell = next(iter(each["cells"]), None)
            yield {"name": key, "value": None, "unit": "", "owner": None, "run": each["run"], "cell": cell}


def findings_sheet(tree: Tree) -> Sheet:
    """Return every finding, those about the class first."""
    columns = {
        **_STUDENT,
        "run": Column("Run", "text"),
        "finding": Column("Finding", "text"),
        "level": Column("Level", "text"),
        "probability": Column("Probability", decimals=2),
        "message": Column("What was seen", "long"),
        "check": Column("What would tell", "long", widest=40),
        "cells": Column("Cells", "long", widest=30),
        "aside": Column("Aside", "choice", choices=("yes",)),
        "about": Column("Key", "first"),
    }
    rows = [_finding_row({"student": CLASS, "about": about(each)}, each) for each in tree["class"]["findings"]]
    rows += [_finding_row(_who(one), each) for one in tree["students"] for each in one["findings"]]
    nothing = {"student": CLASS, "finding": "none", "message": "Nothing was found.", "aside": CLOSED}
    return Sheet.of("Findings", columns, rows or [nothing])


def _finding_row(who: Tree, found: Tree) -> Tree:
    told = {"run": counted(found["run"]), "check": found["evidence"].get("check")}
    return {**who, **found, **told, "cells": _cells(found["cells"]), "aside": yes(found.get("aside"))}


# The sheet Marks.


def criteria(tree: Tree) -> list[tuple[str, str, float]]:
    """Return the criteria of the marking scheme: the name, what people read (each once), and what it is out of."""
    marked: list[Tree] = next((one["marks"] for one in tree["students"] if one["marks"]), [])
    names, titles = unique(map(criterion_of, marked)), unique(mark["title"] for mark in marked)
    return [(name, title, mark["out_of"]) for name, title, mark in zip(names, titles, marked, strict=True)]


def criterion_of(mark: Tree) -> str:
    """Return the name of a mark's criterion, with that of the result where it is about one of several."""
    return f"{mark['criterion']} {mark.get('result', '')}".rstrip()


def given_marks(student: Tree) -> dict[str, Tree]:
    """Return criterion -> mark of one student; empty for one who was not marked."""
    return dict(zip(unique(map(criterion_of, student["marks"])), student["marks"], strict=True))


def groupings(tree: Tree) -> list[str]:
    """Return the names of the groupings, in the order in which they first appear."""
    return list(dict.fromkeys(name for one in tree["students"] for name in one["groups"]))


class _Layout(NamedTuple):
    """What the rows of the sheet Marks have in common."""

    criteria: tuple[str, ...]
    groupings: tuple[str, ...]
    columns: tuple[Column, ...]
    grades: tuple[Tree, ...]
    identified: bool
    """Some student has an ID."""
    given: Mapping[tuple[str | None, ...], Any]
    """What the teacher has decided so far."""


def marks_sheet(tree: Tree) -> Sheet:
    """Return one row per student: figures, marks, total, and where a teacher is needed."""
    scheme, groups = criteria(tree), groupings(tree)
    identified = any("ID" in one["about"] for one in tree["students"])
    heads = [*_heads(tree, scheme, groups, identified=identified)]
    headers = unique(column.header for column in heads)
    columns = tuple(replace(column, header=header) for column, header in zip(heads, headers, strict=True))
    grades = tuple(tree["practical"].get("grades") or ())
    layout = _Layout(tuple(name for name, *_ in scheme), tuple(groups), columns, grades, identified, teachers(tree))
    rows = (_marks_row(*both, layout, n) for n, both in enumerate(seen_by_results(tree), 2))
    return Sheet("Marks", columns, tuple(rows))


def _heads(
    tree: Tree, scheme: list[tuple[str, str, float]], groups: Iterable[str], *, identified: bool
) -> Iterator[Column]:
    yield from _STUDENT.values()
    yield from (Column("Attention"), Column("Why", "long", widest=30))
    yield from [Column("ID", "text")] if identified else []
    yield from (Column(f"{name} (group)" if name.casefold() in _TAKEN else name, "text") for name in groups)
    yield from _mark_columns(scheme, graded=bool(tree["practical"].get("grades")))
    yield Column("Excused", "choice", choices=("yes",))
    yield from (Column("Comment", "comment"), Column("Private note", "comment"))
    yield from _figure_columns(tree)
    yield from (Column(f"{title}, as marked", "first") for _, title, _ in scheme)


_TAKEN = frozenset({"excused", "comment", "private note", "id"})
"""Headings by which decisions are found: no grouping may be called so."""


def mark_heading(title: str, out_of: float) -> str:
    """Return what a column of marks is headed with: "accuracy /3"."""
    return f"{title} /{numbers.mark(out_of)}"


def _mark_columns(scheme: list[tuple[str, str, float]], *, graded: bool) -> list[Column]:
    columns = [Column(mark_heading(title, out_of), "mark", out_of=float(out_of)) for _, title, out_of in scheme]
    if scheme:
        columns += [Column("Total", "total"), Column("Out of", "total")]
        columns += [Column("Grade", "total")] if graded else []
        columns += [Column("Being checked", "text"), Column("Changed", "total")]
    return columns


def _figure_columns(tree: Tree) -> Iterator[Column]:
    titres, results = expected_and_mean(tree), results_of(tree)
    units = {name: shown_unit(one["practical"]["unit"]) for name, one in results.items()}
    yield from (Column(f"{title} (cm³)", decimals=2) for title in titles(titres, "Mean titre"))
    for name, one in results.items():
        figures = [_in_unit(title, units[name]) for word in ("Result", "Reference") for title in titles([name], word)]
        yield from (Column(figure, decimals=result_decimals(one)) for figure in figures)
        yield Column(f"{f'Error {name}'.rstrip()} (%)", decimals=1, signed=True)
        yield Column(f"z {name}".rstrip(), decimals=2, signed=True)
    yield from (Column(f"{title} (cm³)") for title in titles(titres, "Own mean titre"))
    yield from (Column(_in_unit(f"Own result {name}".rstrip(), unit)) for name, unit in units.items())


def _in_unit(title: str, unit: str) -> str:
    return f"{title} ({unit})" if unit else title


def result_decimals(tree: Tree) -> int:
    """Return the decimals that suit most results: to the second figure of the uncertainty, else four figures."""
    wanted: Counter[int] = Counter()
    for one in tree["students"]:
        if one["result"] is not None:
            expanded, value = one["result"]["expanded_uncertainty"], one["result"]["value"]
            wanted[numbers.places(expanded, 2) if expanded else numbers.places(value, 4)] += 1
    return max(0, min(10, wanted.most_common(1)[0][0])) if wanted else 4


def _marks_row(student: Tree, seen: Sequence[Tree], layout: _Layout, row: int) -> tuple[Any, ...]:
    """Return a student's row; `seen` is the student as each result sees them."""
    name, titres = student["student"], titres_of(student).values()
    scheme, marks = _both_marks(student, layout)
    excused, *words = (layout.given.get((name, what, None, None)) for what in ("excused", "comment", "note"))
    changed = any(mark is not None and mark != first for mark, first in zip(marks, scheme, strict=True))
    return (
        *_who(student).values(),
        *_attention(student),
        *([student["about"].get("ID")] if layout.identified else []),
        *(counted(student["groups"].get(name)) for name in layout.groupings),
        *marks,
        *(_totals(student, layout, row, changed=changed) if marks else ()),
        *(yes(excused), *words),
        *(one["mean_titre"] for one in titres),
        *(figure for one in seen for figure in _of_a_result(one)),
        *(one["claimed"]["mean_titre"] for one in titres),
        *map(own_result, seen),
        *scheme,
    )


def _both_marks(student: Tree, layout: _Layout) -> tuple[list[Any], list[Any]]:
    """Return a student's marks by the scheme, and those that count."""
    given = given_marks(student)
    scheme = [scheme_mark(given[each]) if each in given else None for each in layout.criteria]
    pairs = zip(layout.criteria, scheme, strict=True)
    return scheme, [layout.given.get((student["student"], "mark", of, None), first) for of, first in pairs]


def _attention(student: Tree) -> tuple[int | None, str | None]:
    """Return how soon a student needs an eye, and why, with the notes from the class sheet."""
    attention = student["attention"] or {"rank": None, "why": "absent" if student["absent"] else None}
    return attention["rank"], "\n".join(filter(None, (attention["why"], *student["notes"]))) or None


def _of_a_result(student: Tree) -> tuple[Any, ...]:
    result, reference = student["result"], student["reference"]
    return (result and result["value"], reference and reference["value"], student["percent_error"], student["z"])


def scheme_mark(mark: Tree) -> Any:
    """Return the mark that the scheme gives: beside the teacher's where there is one."""
    return mark["scheme_mark"] if "scheme_mark" in mark else mark["mark"]


def _totals(student: Tree, layout: _Layout, row: int, *, changed: bool) -> Iterator[Any]:
    """Yield total, what it is out of, grade, marks that wait, and whether a mark was changed. What can follow a changed
    mark is a formula; it is blank, not nought, for a student who was not marked or is excused. A blank cell counts as
    the scheme has it."""
    marks, first = (span(layout.columns, kind, row) for kind in ("mark", "first"))
    places, excused = places_of(layout.columns, "mark"), f"{letters(places_of(layout.columns, 'choice')[0])}{row}"
    most = ",".join(f"{layout.columns[place - 1].out_of:g}" for place in places)
    there = any(mark["mark"] is not None for mark in student["marks"])
    nothing = f'OR(COUNT({marks})+COUNT({first})=0,{excused}<>"")'
    total_of = f'SUM({marks})+SUMPRODUCT(({marks}="")*{first})'
    yield Formula(f'=IF({nothing},"",{total_of})', student["total"] if there else "")
    # Typed over, a mark that waited counts in both.
    sum_of = f"SUMPRODUCT(--(ISNUMBER({marks})+ISNUMBER({first})>0)*{{{most}}})"
    yield Formula(f'=IF({nothing},"",{sum_of})', student["out_of"] if there else "")
    if layout.grades:
        yield Formula(_grade(student, places, row, layout.grades), student["grade"] or "")
    yield waiting(student) or None
    yield Formula(f'=IF(SUMPRODUCT(({marks}<>"")*({marks}<>{first}))>0,"changed","")', "changed" if changed else "")


def _grade(student: Tree, places: list[int], row: int, grades: tuple[Tree, ...]) -> str:
    """Return a formula for the grade, `grades` the best first; blank while the total is, or a mark that it waits for.

    `places` are those of the columns of marks, behind which the total stands and what it is out of.
    """
    total, out_of = (f"{letters(places[-1] + further)}{row}" for further in (1, 2))
    waits = [place for place, mark in zip(places, student["marks"], strict=False) if mark.get("pending")]
    parts = [f'IF({cell}="","",' for cell in (*(f"{letters(place)}{row}" for place in waits), total)]
    for each in grades:
        text = each["grade"].replace('"', '""')
        parts.append(f'IF({total}*100>={each["at_least"]}*{out_of},"{text}",')
    return f'={"".join(parts)}""{")" * len(parts)}'


def span(columns: tuple[Column, ...], kind: Kind, row: int) -> str:
    """Return the range of neighbouring cells of one kind in a row, as in "M2:U2"."""
    places = places_of(columns, kind)
    return f"{letters(places[0])}{row}:{letters(places[-1])}{row}"


def places_of(columns: tuple[Column, ...], kind: Kind) -> list[int]:
    """Return the places of the columns of a kind, from 1."""
    return [place for place, column in enumerate(columns, 1) if column.kind == kind]


# Small parts.

_STUDENT = {"number": Column("Number"), "student": Column("Student", "text")}


def _who(student: Tree) -> Tree:
    return {key: student[key] for key in _STUDENT}


def _cells(cells: Iterable[str]) -> str | None:
    return numbers.addresses(cells) or None


def counted(text: str | None) -> str | int | None:
    """Return a label that is a plain counting number as a number, so that 10 sorts after 9."""
    if text is not None and text.isascii() and text.isdigit() and len(text) < 10 and str(int(text)) == text:
        return int(text)
    return text


def unique(names: Iterable[str]) -> list[str]:
    """Return names in one line each, those that differ from an earlier one only by case with a number added."""
    taken: set[str] = set()
    plain = (" ".join("".join(letter if letter.isprintable() else " " for letter in name).split()) for name in names)
    return [unlike(name[:80].strip() or "unnamed", taken, str.casefold) for name in plain]
