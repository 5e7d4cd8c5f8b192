"""What stands in the sheet Class of marks.xlsx: a figure a row, each with its unit and what it means."""

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from labmark.outputs import numbers
from labmark.outputs.class_view import named
from labmark.outputs.each import expected_and_mean, results_of
from labmark.outputs.rows import CLOSED, Column, Figure, Formula, Sheet, places_of, result_decimals, teachers
from labmark.problems import letters
from labmark.units import shown_unit
from labmark.words import counted, listed

Tree = Mapping[str, Any]
Row = tuple[Any, ...]

COLUMNS = (
    Column("About", "text"),
    Column("Figure", "text"),
    Column("Value"),
    Column("Unit", "text"),
    Column("Remarks", "long"),
    Column("Reference is", "value"),
)

_COUNTS = {
    "students": "rows of the class sheet that name a student",
    "absent": "without a reading",
    "results": "students with a result",
}
_OF_A_REAGENT = ("volume", "concentration")
_TITRES = {"expected titre": "titre that the reference value would give", "mean titre": "mean of the mean titres"}
_RESULTS = ("mean", "sd", "robust_mean", "robust_sd", "repeatability_sd", "reproducibility_sd", "sigma")
_FURTHER = {"median": False, "made": False, "robust_mean_uncertainty": False, "repeatability_of_titre": True}
"""Key of a further figure -> whether it is a titre's."""

_CELLS = {
    "filled": "of every sheet that was read",
    "used": "readings, students' own figures, names and groups",
    "ignored": "they say nothing about a reading; each is listed in results.json",
    "rejected": "they should have held something usable; listed below",
}


def class_sheet(tree: Tree, marks: Sheet) -> Sheet:
    """Return the figures of the class, the marks, the practical and the file, a figure a row.

    `marks` is the sheet Marks: the means of marks refer to it.
    """
    results = results_of(tree)

    def of_each(rows_of: Callable[[Tree, str], Iterator[Row]]) -> Iterator[Row]:
        for name, one in results.items():
            yield from ((about, f"{figure} {name}".rstrip(), *rest) for about, figure, *rest in rows_of(one, name))

    rows = [*_class_rows(tree), *of_each(_result_rows), *_mark_rows(tree, marks), *of_each(_band_rows)]
    rows += [*of_each(_statistics), *_practical_rows(tree), *_file_rows(tree)]
    return Sheet("Class", COLUMNS, tuple(row if len(row) == len(COLUMNS) else (*row, CLOSED) for row in rows))


def _class_rows(tree: Tree) -> Iterator[Row]:
    for key, meaning in _COUNTS.items():
        yield "class", key, tree["class"][key], None, meaning
    for name, titres in expected_and_mean(tree).items():
        for (called, meaning), titre in zip(_TITRES.items(), titres, strict=True):
            yield "class", f"{called} {name}".rstrip(), Figure(titre, 2), "cm³", meaning


def _reference_rows(tree: Tree, result: str, unit: str, decimals: int) -> Iterator[Row]:
    """Yield what a result is held against: the common reference, and that of each group; each may be decided."""
    given, stated = teachers(tree), tree["practical"].get("reference") or {}
    reference = tree["reference"] or {"value": None, "from": "class"}
    origin = "as the practical gives it" if reference["from"] == "practical" else "the robust mean of the class"
    rows: list[tuple[Any, ...]] = [(result or None, Figure(reference["value"], decimals), origin)]
    by = "" if result else stated.get("by")
    rows += [
        (whose, float(value), f"of {by} {whose}, as the practical gives it")
        for whose, value in ((stated.get("values") or {}) if by else {}).items()
    ]
    for whose, value, origin in rows:
        decided = given.get((None, "reference", whose, None))
        words = origin if decided is None else "as you decided"
        yield "class", "reference" if whose in (None, result) else f"reference {whose}", value, unit, words, decided


def _result_rows(tree: Tree, name: str) -> Iterator[Row]:
    figures, unit = tree["class"], shown_unit(tree["practical"]["unit"])
    decimals = result_decimals(tree) + 1  # spreads are small: one more place than the results
    yield from _reference_rows(tree, name, unit, decimals)
    for key in _RESULTS:
        called, meaning = named(key, figures)
        yield "class", called, Figure(figures[key], decimals), unit, meaning


def _mark_rows(tree: Tree, sheet: Sheet) -> Iterator[Row]:
    """Means of marks are formulas: they follow when the teacher changes a mark."""
    for criterion in tree["class"].get("not_marked", ()):
        yield "marks", "not marked", None, None, f"{criterion}: the class sheet has no room for it"
    marks, last = tree["class"]["marks"], len(sheet.rows) + 1
    places = places_of(sheet.columns, "mark")
    if places:
        most = marks["out_of"]
        out_of = "out of what each is marked on" if most is None else f"out of {numbers.mark(most)}"
        yield "marks", "mean total", _mean(places[-1] + 1, last, marks["mean"]), None, out_of
    for place, part in zip(places, marks["by_criterion"], strict=True):
        full = f"out of {numbers.mark(part['out_of'])}; full marks as marked: {part['full']} of {part['of']}"
        checked = f"; being checked: {part['pending']}" if part["pending"] else ""
        yield "marks", f"mean for {part['title']}", _mean(place, last, part["mean"]), None, full + checked


def _mean(place: int, last: int, value: float | None) -> Formula:
    cells = f"Marks!${letters(place)}$2:${letters(place)}${last}"
    return Formula(f'=IF(COUNT({cells})=0,"",AVERAGE({cells}))', "" if value is None else value)


def _band_rows(tree: Tree, _name: str) -> Iterator[Row]:
    unit, decimals = shown_unit(tree["practical"]["unit"]), result_decimals(tree)
    for band in tree["class"]["bands"]:
        limits = f"{numbers.fixed(band['low'], decimals)} to {numbers.fixed(band['high'], decimals)}"
        yield "accuracy", f"band for {numbers.mark(band['mark'])}", limits, unit, "results that earn this mark"


def _statistics(tree: Tree, result: str) -> Iterator[Row]:
    """The further figures that a teacher can use; results.json holds all of them."""
    further, unit = tree["class"]["statistics"], shown_unit(tree["practical"]["unit"])
    for key, of_titre in _FURTHER.items():
        name, meaning = named(key, further)
        if further.get(key) is not None and not (of_titre and result):
            decimals = 3 if of_titre else result_decimals(tree) + 1
            yield "class", name, Figure(further[key], decimals), "cm³" if of_titre else unit, meaning
    test = further.get("reference_test")
    if test:
        yield "class", "reference test", None, None, f"the reference and the class: {test['verdict']}"
    for grouping in further.get("groups") or ():
        for group in grouping["groups"]:
            verdict = "more than scatter explains" if group["shifted"] else "no more than scatter explains"
            remark = f"from the others; {counted(group['n'], 'student')}; {verdict}"
            yield "groups", f"{group['grouping']} {group['name']}", Figure(group["effect_percent"], 2), "%", remark


def _practical_rows(tree: Tree) -> Iterator[Row]:
    practical = tree["practical"]
    given = practical["equation"] or practical["derived"]["equation"]
    equation = given if isinstance(given, str) else ", then ".join(given)
    for key, text in (("title", practical["title"]), ("equation", equation), ("indicator", practical["indicator"])):
        if text:
            yield "practical", key, None, None, text
    excess = practical.get("excess")
    if excess:
        # The practical gives no number where each student has their own, or where the blank stands in for it.
        volume, strength = (each if isinstance(each, Decimal) else None for each in map(excess.get, _OF_A_REAGENT))
        measured = volume and "cm³"
        yield "practical", "reagent in excess", volume, measured, f"{excess['solution']}: {excess['equation']}"
        if strength is not None:
            yield "practical", "concentration of the reagent in excess", strength, "mol/dm³", None
        blank = practical["derived"]["back_titration"]["blank_titre"]
        yield "practical", "blank titre", blank, "cm³", "titre that the reagent alone would take"
    for name, one in results_of(tree).items():
        wanted, unit = one["practical"]["result"], shown_unit(one["practical"]["unit"])
        yield "practical", f"result {name}".rstrip(), None, unit, f"{wanted['quantity']} of {wanted['of']}"
    within, least = practical["concordance"]["within"], practical["concordance"]["at_least"]
    yield "practical", "concordant within", within, "cm³", f"largest minus smallest of at least {least} runs"
    for caution in practical["cautions"]:
        yield "practical", "caution", None, None, caution


def _file_rows(tree: Tree) -> Iterator[Row]:
    source, cells = tree["source"], tree["cells"]
    sheets = f", sheets: {listed(source['sheets'])}" if source["sheets"] else ""  # a text table has none
    yield "file", "read from", None, None, f"{source['file']}{sheets}"
    yield "file", "sha256", None, None, source["sha256"]
    yield "file", "marked by", None, None, tree["made_by"]
    for key, meaning in _CELLS.items():
        yield "file", f"cells {key}", cells[key], None, meaning
    for part in cells["rejected_cells"]:
        yield "file", "rejected cell", None, None, f"{part['cell']}: {part['why']}"
    for key in ("understood", "notes"):
        for sentence in source.get(key, ()):
            yield "file", "understood" if key == "understood" else "note", None, None, sentence
