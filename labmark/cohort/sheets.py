"""cohort.csv, one row a class, and cohort.xlsx, which holds the same and what stands behind it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from labmark.findings import KINDS
from labmark.outputs import numbers
from labmark.outputs.class_view import named
from labmark.outputs.rows import Column, Figure, Sheet, yes
from labmark.outputs.table import table_text
from labmark.outputs.workbook import plain_workbook
from labmark.units import shown_unit
from labmark.words import counted, listed

Tree = Mapping[str, Any]
MOST_NAMED = 12
"""Classes that are named in a sentence."""

_CLASS: dict[str, Column] = {
    "class": Column("Class", "text"),
    "file": Column("File", "text"),
    "folder": Column("Folder", "text"),
    "practical": Column("Practical", "text"),
    "students": Column("Students"),
    "absent": Column("Absent"),
    "results": Column("Results"),
    "unit": Column("Unit", "text"),
    "reference": Column("Reference"),
    "robust_mean": Column("Robust mean"),
    "robust_sd": Column("Robust sd"),
    "repeatability_sd": Column("Repeatability sd"),
    "percent_error": Column("Percent error", decimals=2, signed=True),
    "mean_percent": Column("Mean mark, %", decimals=1),
    "decisions": Column("Decisions"),
    "moved_percent": Column("Moved by decisions, %", decimals=2, signed=True),
    "apart": Column("Stands apart", "long", widest=36),
    "findings": Column("Findings", "long", widest=36),
    "error": Column("Error", "long"),
}
"""Key of a class -> its column."""


def table(tree: Tree) -> bytes:
    """Return cohort.csv: a row a class, and behind it the mean share of each criterion's marks [%]."""
    names = criteria_of(tree)
    header = [*(column.header for column in _CLASS.values()), *(f"{name}, %" for name in names)]
    return table_text([header, *([*_class_row(each).values(), *shares(each, names)] for each in tree["classes"])])


def workbook(tree: Tree) -> bytes:
    """Return cohort.xlsx."""
    sheets = [
        *(classes_sheet(tree), practicals_sheet(tree), criteria_sheet(tree), findings_sheet(tree)),
        *(solutions_sheet(tree), apart_sheet(tree), moved_sheet(tree), sample_sheet(tree)),
        *((students_sheet(tree), learnt_sheet(tree)) if tree["year"] else ()),
    ]
    return plain_workbook([sheet for sheet in sheets if sheet.rows], "Classes side by side", tree["made_by"])


def classes_sheet(tree: Tree) -> Sheet:
    """Return the classes, a row each."""
    rows = ({key: _shown(key, value, each) for key, value in _class_row(each).items()} for each in tree["classes"])
    return Sheet.of("Classes", _CLASS, rows)


def _class_row(each: Tree) -> dict[str, Any]:
    known = {**each, "moved_percent": each["moved"] and each["moved"]["mean_percent"]}
    known |= {"apart": "; ".join(stands_apart(each)) or None, "findings": "; ".join(each["findings"]) or None}
    return {key: known[key] for key in _CLASS}


def _shown(key: str, value: Any, each: Tree) -> Any:
    """Return a value with as many decimals as the spread of the class gives it; a unit as it is printed."""
    if key == "unit" and value:
        return shown_unit(value)
    if isinstance(value, float) and _CLASS[key].decimals is None:
        return Figure(value, max(0, numbers.places(value if key.endswith("sd") else each["robust_sd"] or value, 2)))
    return value


def stands_apart(each: Tree) -> list[str]:
    """Return in what a class, or what is one for several, stands apart from the others, in words."""
    return [_APART[row["what"]].format(*_words(row)) for row in each["comparisons"] if row["apart"]]


_APART = {
    "results": "results {} % {} than those of the others{} ({})",
    "marks": "mean mark {} percentage points {} than that of the others{} ({})",
    "decisions": "decisions that moved marks by {} percentage points {} than for the others{} ({})",
}


def doubted(row: Tree) -> str:
    """Return a reference that classes put in doubt, in words."""
    value = f"{numbers.significant(row['reference'], 4)} {shown_unit(row['unit'] or '')}".strip()
    doubting, of = len(row["in_doubt"]), counted(len(row["of"]), "class", "classes")
    return (
        f"the reference {value} is in doubt in {doubting} of {of} compared with it ({_some(row['in_doubt'])}), "
        f"whose centres lie {_reach(*row['percent'])} it"
    )


def _reach(low: float, high: float) -> str:
    """Return how far values lie from another [%]: "3.6 to 3.8 % below", "0.9 % below to 1.2 % above"."""
    ends = [(numbers.fixed(abs(end), 1), "above" if end > 0 else "below") for end in sorted((low, high), key=abs)]
    (near, one), (far, other) = ends
    if one != other:
        return f"{near} % {one} to {far} % {other}"
    return f"{far} % {one}" if near == far else f"{near} to {far} % {one}"


def off(row: Tree) -> str:
    """Return a group that is off in several classes, in words."""
    by = f"{numbers.significant(abs(row['effect_percent']), 2)} % {'higher' if row['effect_percent'] > 0 else 'lower'}"
    beside = "the other one" if row["two_groups"] else "those beside it"
    students = counted(row["students"], "student")
    return (
        f"{row['group']}: results {by} than from {beside} in the same classes ({students} of {_some(row['classes'])})"
    )


def _some(names: Sequence[str]) -> str:
    """Return the names of classes, the first of many."""
    more = len(names) - MOST_NAMED
    return listed([*names[:MOST_NAMED], *([f"{more} more"] if more > 0 else [])])


def _words(row: Tree) -> tuple[str, ...]:
    way = ("higher", "lower") if row["what"] != "decisions" else ("further up", "further down")
    chance = "p < 0.001" if row["p"] < 0.001 else f"p = {numbers.fixed(row['p'], 3)}"
    over = ", each over its own reference" if row.get("over_reference") else ""
    return numbers.significant(abs(row["difference"]), 2), way[row["difference"] < 0], over, chance


def practicals_sheet(tree: Tree) -> Sheet:
    """Return the figures of each practical over its classes, a figure a row."""
    columns = (
        Column("Practical", "text"),
        Column("Figure", "text", widest=36),
        Column("Value"),
        Column("Unit", "text"),
        Column("What it is", "long"),
    )
    rows = [(each["practical"], *row) for each in tree["practicals"] for row in figures_of(each)]
    return Sheet("Practicals", columns, tuple(rows))


def figures_of(each: Tree) -> Iterator[tuple[str, Any, str, str]]:
    """Yield (figure, value, unit, what it is) of a practical."""
    unit = shown_unit(each["unit"])
    yield "classes", len(each["classes"]), "", "that could be used"
    yield "students", each["students"], "", "rows of the class sheets that name a student"
    yield "results", each["results"], "", "students with a result"
    for key in FIGURES:
        name, meaning = named(key, each)
        spread = each["robust_sd"] if key == "robust_mean" else each[key]
        yield name, each[key] and Figure(each[key], numbers.places(spread or each[key], 2)), unit, meaning
    mean = each["mean_percent"]
    yield "mean mark", mean and Figure(mean, 1), "%", "of what each student is marked out of"


FIGURES = (
    *("robust_mean", "robust_sd", "repeatability_sd"),
    *("between_students_sd", "between_classes_sd", "reproducibility_sd"),
)
"""Keys of the figures of a practical."""


def criteria_sheet(tree: Tree) -> Sheet:
    """Return the mean share of each criterion's marks [%], a row a class."""
    names = criteria_of(tree)
    columns = (*_WHICH, *(Column(name, decimals=1) for name in names))
    rows = ((each["class"], each["practical"], *shares(each, names)) for each in tree["classes"] if each["criteria"])
    return Sheet("Criteria", columns, tuple(rows))


def findings_sheet(tree: Tree) -> Sheet:
    """Return how many students in a hundred had each finding, a row a class."""
    codes = codes_of(tree["classes"])
    columns = (*_WHICH, *(Column(KINDS[code].title if code in KINDS else code, decimals=1) for code in codes))
    usable = [each for each in tree["classes"] if each["error"] is None and codes]
    found = (tuple(each["findings_per_hundred"].get(code, 0) for code in codes) for each in usable)
    rows = ((each["class"], each["practical"], *row) for each, row in zip(usable, found, strict=True))
    return Sheet("Findings per hundred", columns, tuple(rows))


def solutions_sheet(tree: Tree) -> Sheet:
    """Return the references in doubt, and what is off in several classes, a row each."""
    columns = (
        Column("Practical", "text"),
        Column("What", "text"),
        Column("Classes", "long"),
        Column("From, %", decimals=2, signed=True),
        Column("To, %", decimals=2, signed=True),
        Column("In words", "long"),
    )
    rows = (
        (part["practical"], what, ", ".join(names), *ends, said)
        for part in tree["practicals"]
        for what, names, ends, said in (
            *(("reference", row["in_doubt"], row["percent"], doubted(row)) for row in part["references"]),
            *((row["group"], row["classes"], (row["effect_percent"],) * 2, off(row)) for row in part["across"]),
        )
    )
    return Sheet("References and bottles", columns, tuple(rows))


def apart_sheet(tree: Tree) -> Sheet:
    """Return what each class was held against the others in, a row each."""
    columns = {
        "class": Column("Class", "text"),
        "what": Column("What", "text"),
        "difference": Column("Difference from the others, %", decimals=2, signed=True),
        "error": Column("Its standard deviation by chance, %", decimals=2),
        "p": Column("p, corrected for many", decimals=4),
        "said": Column("Stands apart", "text"),
    }
    rows = (
        row | {"class": each.get("class") or each["group"], "said": yes(row["apart"])}
        for each in (*tree["classes"], *(one for part in tree["practicals"] for one in part["over_classes"]))
        for row in each["comparisons"]
    )
    return Sheet.of("Held against the others", columns, rows)


def moved_sheet(tree: Tree) -> Sheet:
    """Return the students whose marks a teacher's decisions moved, a row each."""
    columns = {
        "class": Column("Class", "text"),
        **_STUDENT,
        "by": Column("Marks up or down", signed=True, decimals=1),
        "said": Column("Decisions", "long"),
    }
    moved = ((each["class"], one) for each in tree["classes"] if each["moved"] for one in each["moved"]["students"])
    rows = (one | {"class": name, "said": "; ".join(one["said"])} for name, one in moved)
    return Sheet.of("Moved marks", columns, rows)


def sample_sheet(tree: Tree) -> Sheet:
    """Return whose work to look at, a row each."""
    columns = {
        "practical": Column("Practical", "text"),
        "class": Column("Class", "text"),
        **_STUDENT,
        "ID": Column("ID", "text"),
        "total": Column("Total"),
        "out_of": Column("Out of"),
        "percent": Column("Per cent", decimals=1),
        "how": Column("Chosen", "text"),
        "why": Column("Why look", "long"),
    }
    rows = (one | {"practical": part["practical"]} for part in tree["practicals"] for one in part["sample"])
    return Sheet.of("Sample", columns, rows)


def students_sheet(tree: Tree) -> Sheet:
    """Return who was followed over several practicals, a row each."""
    heads = {"classes": "Classes", "spread": "Spread of accurate runs, cm³", "error": "From the reference"}
    heads |= {"back": "Noted more than once", "said": "What a sheet says of it"}
    names = {"student": Column("Student", "text"), "ID": Column("ID", "text")}
    columns = names | {key: Column(head, "long") for key, head in heads.items()}
    return Sheet.of("Students over time", columns, map(followed, tree["year"]["students"]))


def followed(one: Tree) -> dict[str, Any]:
    """Return a student's row, with what is known of each practical in order: "0.21, 0.05"."""
    parts = {
        "classes": (each["class"] for each in one["sittings"]),
        "spread": (numbers.uncertainty(each["sd_of_titres"]) for each in one["sittings"]),
        "error": (numbers.percent(each["percent_error"]) for each in one["sittings"]),
        "back": (KINDS[code].title for code in one["again"]),
    }
    return {**one, **{key: ", ".join(part) for key, part in parts.items()}}


def learnt_sheet(tree: Tree) -> Sheet:
    """Return how the students of each class did before and do now, a row each."""
    figures = {key: Column(key.capitalize(), decimals=2) for key in ("students", "before", "now")}
    words = {"class": Column("Class", "text"), "what": Column("What", "long")}
    tests = {"p": Column("p, corrected for many", decimals=4), "change": Column("Beyond chance", "text")}
    return Sheet.of("What was learnt", words | figures | tests, tree["year"]["learnt"])


_STUDENT = {"student": Column("Student", "text"), "number": Column("Number")}


_WHICH = (Column("Class", "text"), Column("Practical", "text"))


def criteria_of(tree: Tree) -> list[str]:
    """Return the criteria of all classes, each once, in the order in which they first stand."""
    return list(dict.fromkeys(row["criterion"] for each in tree["classes"] for row in each["criteria"]))


def codes_of(classes: Any) -> list[str]:
    """Return the codes of findings that students had, the commonest first."""
    totals: dict[str, float] = {}
    for each in classes:
        for code, rate in each["findings_per_hundred"].items():
            totals[code] = totals.get(code, 0) + rate
    return sorted(totals, key=lambda code: (-totals[code], code))


def shares(each: Tree, names: list[str]) -> list[float | None]:
    """Return a class's mean share of the marks of these criteria [%]; None for one that it has not got."""
    of = {row["criterion"]: row["percent"] for row in each["criteria"]}
    return [of.get(name) for name in names]
