"""Endpoints, titrations and several results in the class sheet: read the same in every layout, and nothing lost."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from labmark import pipeline
from labmark.practical.model import FromSheet
from labmark.practical.own import OwnNumber, Several
from labmark.practical.quantities import Asked
from labmark.problems import InputError
from labmark.read import load_book, read_class
from labmark.read.headers import Meant, titration_named, understand
from labmark.read.mapping import mapping_text
from labmark.records import ClassSheet
from tests import several_layouts as made
from tests.build import ul
from tests.columns import runs_of, students_of
from tests.layouts import Rows, xlsx
from tests.seeds import few_quick


def rows_of(sheet: ClassSheet) -> list[tuple[Any, ...]]:
    names = list(students_of(sheet)["student"])
    columns = ("label", "series", "kind", "initial", "final", "ticked")
    return [(names[row["student"]], *(row[key] for key in columns)) for row in runs_of(sheet).rows()]


def claims_of(sheet: ClassSheet) -> dict[str, dict[str, dict[str, str]]]:
    return {
        student["student"]: {
            field: {name: str(own.value) for name, own in values.items()}
            for field, values in student["several"].items()
        }
        for student in students_of(sheet).rows()
    }


def of_endpoints() -> list[tuple[Any, ...]]:
    found = []
    for name, has in made.MIXTURE.items():
        for run in made.RUNS:
            initial, first, second, used = has[run]
            tick = None if run == "Rough" else used == "y"
            same = ("rough" if run == "Rough" else "accurate",)
            label = run.removeprefix("Run ")
            found.append((name, label, "phenolphthalein", *same, ul(initial), ul(first), tick))
            found.append((name, label, "methyl orange", *same, ul(first), ul(second), tick))
    return found


def of_titrations() -> list[tuple[Any, ...]]:
    found = []
    for name, has in made.HARDNESS.items():
        for key in made.KEYS:
            initial, final, used = has[key]
            titration, _, run = key.partition(" ")
            tick = None if run == "Rough" else used == "y"
            kind = "rough" if run == "Rough" else "accurate"
            label = f"{titration} {run.removeprefix('Run ').lower()}"
            found.append((name, label, titration, kind, ul(initial), ul(final), tick))
    return found


def claimed(students: made.Students, several: Several) -> dict[str, dict[str, dict[str, str]]]:
    series = several.endpoints or several.titrations
    return {
        name: {
            "mean": dict(zip(series, has["mean"], strict=True)),
            "result": dict(zip(several.results, has["result"], strict=True)),
        }
        for name, has in students.items()
    }


def check_accounts(path: Path, sheet: ClassSheet) -> None:
    """Every filled cell is used or ignored, with a reason, and none is both."""
    paths = sorted(path.iterdir()) if path.is_dir() else [path]
    ledger = sheet.ledger
    assert ledger.filled == sum(len(grid.cells) for each in paths for grid in load_book(each).grids)
    assert not ledger.rejected
    assert not set(ledger.ignored) & set(ledger.used)
    assert all(ledger.ignored.values())


def read(rows: Rows, several: Several, tmp_path: Path, **more: Any) -> ClassSheet:
    return read_class(xlsx(rows)(tmp_path), several=several, **more)


def run_of(sheet: ClassSheet, label: str, series: str) -> dict[str, Any]:
    return next(row for row in runs_of(sheet).rows() if (row["label"], row["series"]) == (label, series))


def problems(rows: Rows | dict[str, Rows], several: Several, tmp_path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_class(xlsx(rows)(tmp_path), several=several)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize("variant", few_quick(made.OF_ENDPOINTS, 4))
def test_endpoints_read_the_same_in_every_layout(variant: str, tmp_path: Path) -> None:
    path = made.OF_ENDPOINTS[variant](tmp_path)
    sheet = read_class(path, several=made.ENDPOINTS)
    assert sorted(rows_of(sheet), key=str) == sorted(of_endpoints(), key=str)
    assert claims_of(sheet) == claimed(made.MIXTURE, made.ENDPOINTS)
    check_accounts(path, sheet)


@pytest.mark.parametrize("variant", few_quick(made.OF_TITRATIONS, 4))
def test_titrations_read_the_same_in_every_layout(variant: str, tmp_path: Path) -> None:
    path = made.OF_TITRATIONS[variant](tmp_path)
    sheet = read_class(path, several=made.TITRATIONS)
    assert rows_of(sheet) == of_titrations()
    assert claims_of(sheet) == claimed(made.HARDNESS, made.TITRATIONS)
    check_accounts(path, sheet)


CLASSES = {
    **{f"endpoints, {name}": (made.ENDPOINTS, write) for name, write in made.OF_ENDPOINTS.items()},
    **{f"titrations, {name}": (made.TITRATIONS, write) for name, write in made.OF_TITRATIONS.items()},
}


@pytest.mark.parametrize("variant", few_quick(CLASSES, 6))
def test_a_mapping_reads_back_as_the_same_class(variant: str, tmp_path: Path) -> None:
    several, write = CLASSES[variant]
    path = write(tmp_path)
    sheet = read_class(path, several=several)
    again = read_class(path, several=several, columns=tomllib.loads(mapping_text(sheet))["columns"])
    assert (rows_of(again), claims_of(again)) == (rows_of(sheet), claims_of(sheet))


def test_a_mapping_names_endpoints_and_titrations(tmp_path: Path) -> None:
    mixture = mapping_text(read(made.wide(), made.ENDPOINTS, tmp_path))
    hardness = mapping_text(read(made.wide_titrations(), made.TITRATIONS, tmp_path))
    for meaning in ("Run 1 initial", "Run 1 phenolphthalein", "Mean titre phenolphthalein", "Result NaOH"):
        assert f'"{meaning}" = ' in mixture
    for meaning in ("total run 1 initial", "calcium rough final", "Mean titre total", "Result Mg"):
        assert f'"{meaning}" = ' in hardness


HEADINGS = {
    "Phenolphthalein 1": ("final at:phenolphthalein", "", 1),
    "Rough methyl orange": ("final at:methyl orange", "rough", None),
    "Phenolphthalein (run 2) / mL": ("final at:phenolphthalein", "accurate", 2),
    "1st run: methyl orange": ("final at:methyl orange", "accurate", 1),
    "METHYL  ORANGE reading, run 3": ("final at:methyl orange", "accurate", 3),
    "Run 1 after methyl orange": ("final at:methyl orange", "accurate", 1),
    "Run 1 phenolphthalein initial": ("initial", "accurate", 1),
    "Run 1 methyl orange start": ("initial at:methyl orange", "accurate", 1),
    "Run 1 titre (phenolphthalein)": ("titre at:phenolphthalein", "accurate", 1),
    "phenolphthalein titre 1": ("titre at:phenolphthalein", "", 1),
    "Mean phenolphthalein / cm³": ("mean:phenolphthalein", "", None),
    "Average titre to methyl orange": ("mean:methyl orange", "", None),
    "NaOH result": ("result:NaOH", "", None),
    "Concentration of NaOH / g dm-3": ("result:NaOH", "", None),
    "c(Na2CO3) / g dm-3": ("result:Na2CO3", "", None),
    "NaOH / g dm-3": ("result:NaOH", "", None),
    "NaOH": ("", "", None),
    "Run 1 result NaOH": ("ignored", "", None),
    "Phenolphthalein colour": ("ignored", "", None),
    "Result phenolphthalein": ("ignored", "", None),
    "Indicator": ("ignored", "", None),
    "Run 1 final": ("final", "accurate", 1),
}


def test_a_unit_below_the_name_of_a_result_leaves_it_the_result() -> None:
    names = Meant({}, Several(("phenolphthalein", "methyl orange"), (), {"NaOH": Asked("g/dm3", "g/dm3")}))
    header = understand(("NaOH", "g/dm3"), names)
    assert (header.field, header.of, header.unit) == ("result", "NaOH", "g/dm3")


@pytest.mark.parametrize("heading", HEADINGS)
def test_a_heading_with_a_name_is_understood_by_the_rest(heading: str) -> None:
    header = understand(heading, Meant({}, made.ENDPOINTS))
    field, kind, number = HEADINGS[heading]
    assert header.key == field
    if field != "ignored":
        assert (header.kind, header.number) == (kind, number)


def test_the_longest_name_that_fits_is_meant() -> None:
    names = Meant({}, Several((), ("total", "total hardness"), {"total": Asked("g/dm3", "")}))
    assert understand("Total hardness run 1 initial", names).series == "total hardness"
    assert understand("Total run 1 initial", names).series == "total"
    assert understand("Mean total hardness", names).key == "mean:total hardness"


def test_a_name_is_told_from_a_unit() -> None:
    names = Meant({}, made.TITRATIONS)
    assert [understand(text, names).key for text in ("calcium result / mg dm-3", "Result (Mg)", "Mg (mg/dm3)")] == [
        "result:calcium",
        "result:Mg",
        "result:Mg",
    ]


def test_a_written_titre_is_of_its_endpoint_and_a_bare_one_of_the_last(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange"]
    rows = [[*header, "Run 1 titre phenolphthalein", "Run 1 titre"], ["S01", "0.10", "15.85", "19.95", "15.75", "4.10"]]
    sheet = read(rows, made.ENDPOINTS, tmp_path)
    assert runs_of(sheet)["titre"] == [15750, 4100]


def test_a_bare_mean_is_of_the_last_titre_and_a_bare_result_the_first(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange", "Mean titre", "Result"]
    sheet = read([header, ["S01", "0.10", "15.85", "19.95", "4.10", "1.86"]], made.ENDPOINTS, tmp_path)
    assert claims_of(sheet) == {"S01": {"mean": {"methyl orange": "4.10"}, "result": {"NaOH": "1.86"}}}
    assert (students_of(sheet)["mean"], students_of(sheet)["result"]) == ([None], [None])


def test_results_that_do_not_say_of_what_are_not_guessed_at(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange"]
    claims = ["Concentration of sodium carbonate", "Concentration of sodium hydroxide"]
    sheet = read([[*header, *claims], ["S01", "0.10", "15.85", "19.95", "1.75", "1.86"]], made.ENDPOINTS, tmp_path)
    assert claims_of(sheet) == {"S01": {}}
    assert any("not understood and not used: 'Concentration of sodium carbonate'" in note for note in sheet.notes)


@pytest.mark.parametrize("first", ["total", "calcium"])
def test_a_bare_result_in_the_lines_of_each_titration_is_not_guessed_at(first: str, tmp_path: Path) -> None:
    # Magnesium beside the total: taken for the first result it would be wrong calcium.
    lines = {"total": ["total", "0.00", "30.00", "24.3"], "calcium": ["calcium", "0.00", "20.00", "80.2"]}
    order = sorted(lines, key=lambda name: name != first)
    rows = [["Student", "Titration", "Initial", "Final", "Result"], *(["S01", *lines[name]] for name in order)]
    sheets = {name: [["Student", "Initial", "Final", "Result"], ["S01", *lines[name][1:]]] for name in order}
    for given in (rows, sheets):
        sheet = read_class(xlsx(given)(tmp_path), several=made.TITRATIONS)
        assert claims_of(sheet) == {"S01": {}}
        assert any(
            "it cannot be told which is which; head them Result calcium and Result Mg" in note for note in sheet.notes
        )
        check_accounts(tmp_path / "class.xlsx", sheet)


def test_each_result_is_turned_into_its_own_unit(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange"]
    rows = [[*header, "Result NaOH / mg dm-3", "Result Na2CO3"], ["S01", "0.10", "15.85", "19.95", "1860", "0.0165 M"]]
    own = students_of(read(rows, made.ENDPOINTS, tmp_path))["several"][0]["result"]
    assert (str(own["NaOH"].value), own["NaOH"].unit) == ("1.860", "")
    assert (str(own["Na2CO3"].value), own["Na2CO3"].unit) == ("0.0165", "mol/dm3")
    assert own["Na2CO3"].cells == ("Results!F2",)


@pytest.mark.parametrize("at", [1, 4, 5])
def test_of_two_columns_for_one_result_the_one_called_so_is_it(tmp_path: Path, at: int) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange", "Result NaOH"]
    row = ["S01", "0.10", "15.85", "19.95", "1.86"]
    rows = [[*line[:at], more, *line[at:]] for line, more in ((header, "[NaOH]"), (row, "0.0465"))]
    own = students_of(read(rows, made.ENDPOINTS, tmp_path))["several"][0]["result"]
    assert str(own["NaOH"].value) == "1.86"
    unfilled = [[*header[:4], "[NaOH]", "Result NaOH"], [*row[:4], "0.0465", ""]]
    own = students_of(read(unfilled, made.ENDPOINTS, tmp_path))["several"][0]["result"]
    assert str(own["NaOH"].value) == "0.0465"


def test_a_reading_that_cannot_be_read_is_said_of_both_endpoints_beside_it(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange"]
    sheet = read([header, ["S01", "0.10", "15.8o", "19.95"]], made.ENDPOINTS, tmp_path)
    assert [row["odd"] for row in runs_of(sheet).rows()] == [{"final": "15.8o"}, {"initial": "15.8o"}]
    assert list(sheet.ledger.rejected) == ["Results!C2"]


def test_a_run_with_one_reading_still_has_a_row_an_endpoint(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange"]
    sheet = read([header, ["S01", "", "", "19.95"], ["S02", "0.00", "15.00", "19.00"]], made.ENDPOINTS, tmp_path)
    assert rows_of(sheet)[:2] == [
        ("S01", "1", "phenolphthalein", "accurate", None, None, None),
        ("S01", "1", "methyl orange", "accurate", None, 19950, None),
    ]


@pytest.mark.parametrize("label", [["Student"], []], ids=["Student", "no label"])
@pytest.mark.parametrize("gap", [True, False], ids=["a blank row between", "none"])
def test_a_second_titration_belongs_to_the_student_named_over_the_first(
    tmp_path: Path, gap: bool, label: list[str]
) -> None:
    rows: Rows = []
    for name, low in (("Ann Lee", "0.00"), ("Bo Ray", "0.10")):
        rows += [[*label, name]]
        for titration, high in (("total", "30.10"), ("calcium", "20.10")):
            rows += [[titration, "1", "2"], ["Initial", low, low], ["Final", high, high], *([[]] if gap else [])]
        rows += [["Result calcium", "80.2"], ["Result Mg", "24.3"], []]
    sheet = read(rows, made.TITRATIONS, tmp_path)
    assert list(students_of(sheet)["student"]) == ["Ann Lee", "Bo Ray"]
    assert list(runs_of(sheet)["label"]) == ["total 1", "total 2", "calcium 1", "calcium 2"] * 2


@pytest.mark.parametrize("heads", ["{0} titre 1|{0} mean titre", "{0} titre 1|{0} titre"])
def test_another_titration_behind_an_empty_column_is_the_students_too(tmp_path: Path, heads: str) -> None:
    total, calcium = (heads.format(name).split("|") for name in ("Total", "Calcium"))
    header = ["Student", *total, "Result calcium", "", *calcium, "Result Mg"]
    row = ["30.00", "30.05", "80.2", "", "20.00", "20.05", "24.3"]
    sheet = read([header, ["S01", *row], ["S02", *row]], made.TITRATIONS, tmp_path)
    assert students_of(sheet)["several"][0]["result"].keys() == {"calcium", "Mg"}
    assert {*runs_of(sheet)["series"]} == {"total", "calcium"}


@pytest.mark.parametrize("rows", [made.long_titrations(), made.row_a_titration()], ids=["a row a run", "a row each"])
def test_the_account_says_that_a_column_names_the_titration(tmp_path: Path, rows: Rows) -> None:
    assert read(rows, made.TITRATIONS, tmp_path).ledger.ignored["Results!B2"] == "names the titration"


def test_a_final_reading_beside_the_last_endpoint_is_not_needed(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange", "Run 1 final"]
    rows = [header, ["S01", "0.10", "15.85", "19.95", "19.95"], ["S02", "0.00", "15.00", "", "19.00"]]
    sheet = read(rows, made.ENDPOINTS, tmp_path)
    assert runs_of(sheet)["final"] == [15850, 19950, 15000, 19000]
    assert sheet.ledger.ignored["Results!E2"] == "another cell of the run says this for the last endpoint"


def test_the_teacher_says_what_a_heading_is(tmp_path: Path) -> None:
    rows = [["Student", "A", "B", "C", "D"], ["S01", "0.10", "15.85", "19.95", "1.86"]]
    meant = {"Run 1 initial": "A", "Run 1 phenolphthalein": "B", "Run 1 methyl orange": "C", "Result NaOH": "D"}
    sheet = read(rows, made.ENDPOINTS, tmp_path, columns=meant)
    assert runs_of(sheet)["final"] == [15850, 19950]
    assert claims_of(sheet) == {"S01": {"result": {"NaOH": "1.86"}}}


def test_a_meaning_that_nearly_names_an_endpoint_is_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="did you mean 'Run 1 phenolphthalein'"):
        read(made.wide(), made.ENDPOINTS, tmp_path, columns={"Run 1 phenolftalein": "Run 1 phenolphthalein"})


def test_a_column_titration_means_runs_where_its_entries_name_none(tmp_path: Path) -> None:
    rows = [["Student", "Titration", "total initial", "total final", "calcium initial", "calcium final"]]
    rows += [["S01", "Rough", "0.00", "12.90", "0.00", "9.80"], ["S01", "1", "0.00", "12.40", "0.00", "9.35"]]
    labels = runs_of(read(rows, made.TITRATIONS, tmp_path))["label"]
    assert labels == ["total rough", "total 1", "calcium rough", "calcium 1"]


def test_a_student_on_one_sheet_only_is_kept(tmp_path: Path) -> None:
    calcium = [*made.of_one("calcium"), ["S03", *[""] * 3, "0.00", "9.40", "", *[""] * 6]]
    path = xlsx({"total": made.of_one("total"), "calcium": calcium})(tmp_path)
    sheet = read_class(path, several=made.TITRATIONS)
    assert students_of(sheet)["student"] == ["S01", "S02", "S03"]
    assert [row[1] for row in rows_of(sheet) if row[0] == "S03"] == ["calcium 1"]


def test_a_second_attempt_is_no_part_of_the_first(tmp_path: Path) -> None:
    rows = made.wide_titrations()
    sheet = read([*rows, ["S01", *rows[2][1:]]], made.TITRATIONS, tmp_path)
    assert students_of(sheet)["student"] == ["S01", "S02", "S01 (2)"]


def test_people_of_one_name_and_two_numbers_stay_apart(tmp_path: Path) -> None:
    total = [["ID", *row] if at == 0 else [f"10{at}", *row] for at, row in enumerate(made.of_one("total"))]
    calcium = [["ID", *row] if at == 0 else [f"20{at}", *row] for at, row in enumerate(made.of_one("calcium"))]
    sheet = read_class(xlsx({"total": total, "calcium": calcium})(tmp_path), several=made.TITRATIONS)
    assert len(sheet.students) == 4


def test_an_absent_student_has_no_runs_of_any_titration(tmp_path: Path) -> None:
    rows = [*made.wide_titrations(), ["S03", "absent", *[""] * 21]]
    sheet = read(rows, made.TITRATIONS, tmp_path)
    assert students_of(sheet)["absent"] == [False, False, True]
    assert students_of(sheet)["several"][2] == {}


FIELDS = ("initial", "final", "used")


def test_a_blank_tick_speaks_of_its_own_titration(tmp_path: Path) -> None:
    rows = [["Student", *(f"{each} run {n} {end}" for each in ("total", "calcium") for n in (1, 2) for end in FIELDS)]]
    rows += [["S01", "0", "12.40", "y", "0", "12.45", "", "0", "9.35", "", "0", "9.40", ""]]
    rows += [["S02", "0", "12.40", "y", "0", "12.45", "", "0", "9.35", "y", "0", "9.40", ""]]
    assert runs_of(read(rows, made.TITRATIONS, tmp_path))["ticked"] == [
        True,
        False,
        None,
        None,
        True,
        False,
        True,
        False,
    ]


def test_a_titration_that_nobody_has_done_is_one_problem(tmp_path: Path) -> None:
    (found,) = problems({"total": made.of_one("total")}, made.TITRATIONS, tmp_path)
    assert "class.xlsx, sheet total: no run of the titration 'calcium' was found; head its columns" in found


@pytest.mark.parametrize("ways", ["columns", "sheets", "lines"])
def test_a_titration_that_everybody_missed_is_no_problem_of_the_sheet(tmp_path: Path, ways: str) -> None:
    heads = ["Student", *(f"{each} run 1 {end}" for each in ("total", "calcium") for end in ("initial", "final"))]
    one = ["Student", "Run 1 initial", "Run 1 final"]
    rows = {
        "columns": [heads, ["S01", "0.00", "12.40", "", ""], ["S02", "0.00", "12.45", "", ""]],
        "sheets": {"total": [one, ["S01", "0.00", "12.40"]], "calcium": [one, ["S01", "", ""]]},
        "lines": [
            ["Student", "Titration", "Initial", "Final"],
            ["S01", "total", "0.00", "12.40"],
            ["S01", "calcium", "", ""],
        ],
    }[ways]
    assert [run.label for run in read(rows, made.TITRATIONS, tmp_path).students[0].runs] == ["total 1"]


def test_a_volume_beside_the_reading_at_an_endpoint_is_its_titre(tmp_path: Path) -> None:
    first, second = made.ENDPOINTS.endpoints
    heads = ["Student", "Run", "Initial", first, second, f"V {first}", f"V {second}"]
    sheet = read([heads, ["S01", "1", "0.00", "12.40", "20.10", "12.40", "7.70"]], made.ENDPOINTS, tmp_path)
    assert [run.written for run in sheet.students[0].runs] == [12_400, 7_700]


def test_an_endpoint_without_a_column_is_one_problem(tmp_path: Path) -> None:
    rows = [
        [text for text, head in zip(row, made.wide()[0], strict=True) if "methyl" not in head] for row in made.wide()
    ]
    (found,) = problems(rows, made.ENDPOINTS, tmp_path)
    assert "sheet Results: no reading of the endpoint 'methyl orange' was found; head a column" in found


def test_runs_of_no_titration_are_one_problem(tmp_path: Path) -> None:
    rows = [["Student", "Run 1 initial", "Run 1 final"], ["S01", "0.00", "12.40"], ["S02", "0.00", "12.45"]]
    (found,) = problems(rows, made.TITRATIONS, tmp_path)
    assert "sheet Results, cell B2: nothing says which titration this run is of (total, calcium)" in found


def test_a_misspelt_titration_is_named_with_its_cell(tmp_path: Path) -> None:
    rows = made.wide_titrations()
    rows[0] = [text.replace("calcium Run", "calicum Run").replace("calcium Rough", "calicum Rough") for text in rows[0]]
    (found,) = problems(rows, made.TITRATIONS, tmp_path)
    assert "cell K2" in found
    assert "'calcium run 1 initial'" in found


def test_a_class_without_initial_readings_is_one_problem(tmp_path: Path) -> None:
    rows = [["Student", "Run 1 phenolphthalein", "Run 1 methyl orange"], ["S01", "15.75", "19.85"]]
    (found,) = problems(rows, made.ENDPOINTS, tmp_path)
    assert "there are no initial readings; add columns 'Run 1 initial'" in found


def test_two_columns_of_one_endpoint_are_refused(tmp_path: Path) -> None:
    rows = [["Student", "Run 1 initial", "Run 1 phenolphthalein", "Phenolphthalein run 1", "Run 1 methyl orange"]]
    rows += [["S01", "0.00", "15.75", "15.75", "19.85"]]
    (found,) = problems(rows, made.ENDPOINTS, tmp_path)
    assert "two columns seem to be the same thing ('Phenolphthalein run 1'" in found


@pytest.mark.parametrize(
    ("practical", "rows", "means"),
    [
        ("hydroxide-and-carbonate", made.wide(), {"phenolphthalein": 15.725, "methyl orange": 4.125}),
        pytest.param(
            "calcium-and-magnesium",
            made.wide_titrations(result="{} result"),
            {"total": 12.425, "calcium": 9.375},
            marks=pytest.mark.slow,
        ),
    ],
)
def test_a_class_sheet_is_judged_as_it_is_read(
    practical: str, rows: Rows, means: dict[str, float], tmp_path: Path
) -> None:
    """Means by hand: (15.75 + 15.70) / 2, (4.10 + 4.15) / 2; (12.40 + 12.45) / 2, (9.35 + 9.40) / 2."""
    sheet, used = pipeline.read(xlsx(rows)(tmp_path), practical, ())
    first = pipeline.tree_of(sheet, used)["students"][0]
    assert {name: float(mean) for name, mean in first["mean_titres"].items()} == means


def test_two_readings_in_the_cell_of_an_endpoint_are_rejected_once(tmp_path: Path) -> None:
    header = ["Student", "Run 1 initial", "Run 1 phenolphthalein", "Run 1 methyl orange"]
    path = xlsx([header, ["S01", "0.10", "0.10 - 15.85", "19.95"]])(tmp_path)
    ledger = read_class(path, several=made.ENDPOINTS).ledger
    assert list(ledger.rejected) == ["Results!C2"]
    assert "Results!C2" not in ledger.used


def test_a_mass_that_is_alike_in_all_lines_is_the_students(tmp_path: Path) -> None:
    rows = [[*row[:2], "0.512" if at > 1 else "Mass" * at, *row[2:]] for at, row in enumerate(made.groups_of_columns())]
    number = OwnNumber("sample.mass", "mass", "g", taken=FromSheet(column="Mass"))
    sheet = read(rows, made.TITRATIONS, tmp_path, numbers=[number])
    assert [str(own["sample.mass"].value) for own in students_of(sheet)["inputs"]] == ["0.512", "0.512"]
    assert not any(runs_of(sheet)["inputs"])


def test_a_reading_left_out_is_told_with_the_name_of_its_titration_as_the_practical_has_it(tmp_path: Path) -> None:
    class_sheet = tmp_path / "class.csv"
    class_sheet.write_text(
        "Student,Run-off run 1 initial,Run-off run 1 final,Run-off run 2 initial,Tap run 1 initial,Tap run 1 final\n"
        "Ada,0.00,24.30,1.00,0.10,12.30\n"
        "Ben,0.05,24.35,1.05,0.00,12.20\n"
    )
    notes = read_class(class_sheet, several=Several((), ("Run-off", "Tap"))).notes
    assert "there is no final reading of Run-off run 2: its initial readings were not used" in notes


@pytest.mark.parametrize("runs", ["Titre", "Run"])
def test_readings_at_endpoints_of_runs_called_titre_are_no_titres(tmp_path: Path, runs: str) -> None:
    header = ["Student", *(f"{runs} {at} {what}" for at in (1, 2) for what in ("initial", *made.ENDPOINTS.endpoints))]
    path = xlsx([header, ["S01", "0.10", "15.85", "19.95", "0.20", "15.95", "20.10"]])(tmp_path)
    finals = [(run["initial"], run["final"]) for run in runs_of(read_class(path, several=made.ENDPOINTS)).rows()]
    assert sorted(finals) == [(100, 15850), (200, 15950), (15850, 19950), (15950, 20100)]


@pytest.mark.parametrize(
    ("title", "titration"),
    [
        *(("Calcium only", "calcium"), ("Total hardness (EBT)", "total"), ("Calcium (calcon)", "calcium")),
        *(("Total Recall", ""), ("Solo Total", "total"), ("Calcium in tap water", ""), ("EBT (total)", "total")),
    ],
)
def test_what_says_how_a_titration_was_done_leaves_its_name(title: str, titration: str) -> None:
    assert titration_named(title, Meant({}, made.TITRATIONS)) == titration


@pytest.mark.parametrize("heading", ["Ca2+ / mg dm-3", "Ca²⁺ (mg/L)", "Ca^2+ mg/dm3"])
def test_a_result_may_be_headed_with_its_ion(heading: str) -> None:
    asked = Asked("mg/dm3", "mg/dm³")
    header = understand(heading, Meant({}, Several(results={"Ca": asked, "Mg": asked})))
    assert (header.field, header.of) == ("result", "Ca")


@pytest.mark.parametrize("heading", ["Total hardness mean", "Mean of total hardness / cm3"])
def test_a_mean_of_a_titration_is_one_whatever_word_stands_beside_its_name(heading: str) -> None:
    header = understand(heading, Meant({}, made.TITRATIONS))
    assert (header.field, header.series) == ("mean", "total")
