"""Makers of two invented classes in many layouts: runs with two endpoints, and two titrations of one sample."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from labmark.practical.own import Several
from labmark.practical.quantities import Asked
from tests.layouts import Rows, Writer, beside, stacked, table, turned, xlsx

GRAMS = Asked("g/dm3", "g/dm³")
ENDPOINTS = Several(("phenolphthalein", "methyl orange"), (), {"NaOH": GRAMS, "Na2CO3": GRAMS})
TITRATIONS = Several((), ("total", "calcium"), {"calcium": Asked("mg/dm3", "mg/dm³"), "Mg": Asked("mg/dm3", "mg/dm³")})
RUNS = ("Rough", "Run 1", "Run 2")

Students = dict[str, dict[str, tuple[str, ...]]]

MIXTURE: Students = {
    "S01": {
        "Rough": ("0.00", "15.90", "20.10", ""),
        "Run 1": ("0.10", "15.85", "19.95", "y"),
        "Run 2": ("0.00", "15.70", "19.85", "y"),
        "mean": ("15.73", "4.13"),
        "result": ("1.86", "1.75"),
    },
    "S02": {
        "Rough": ("0.00", "16.00", "20.20", ""),
        "Run 1": ("0.00", "15.80", "19.90", "y"),
        "Run 2": ("20.00", "35.75", "39.90", ""),
        "mean": ("15.80", "4.10"),
        "result": ("1.87", "1.74"),
    },
}
"""run -> initial, phenolphthalein, methyl orange, used; means; results"""

HARDNESS: Students = {
    "S01": {
        "total Rough": ("0.00", "12.90", ""),
        "total Run 1": ("0.00", "12.40", "y"),
        "total Run 2": ("0.10", "12.55", "y"),
        "calcium Rough": ("0.00", "9.80", ""),
        "calcium Run 1": ("12.00", "21.35", "y"),
        "calcium Run 2": ("0.00", "9.40", "y"),
        "mean": ("12.43", "9.38"),
        "result": ("75.2", "14.8"),
    },
    "S02": {
        "total Rough": ("0.00", "12.70", ""),
        "total Run 1": ("0.00", "12.45", "y"),
        "total Run 2": ("0.00", "12.50", "y"),
        "calcium Rough": ("0.00", "9.60", ""),
        "calcium Run 1": ("0.00", "9.40", "y"),
        "calcium Run 2": ("9.40", "18.85", ""),
        "mean": ("12.48", "9.40"),
        "result": ("75.3", "15.0"),
    },
}

Words = dict[str, str]
CONTRACT: Words = {
    "phenolphthalein": "{} phenolphthalein",
    "methyl orange": "{} methyl orange",
    "mean": "Mean titre {}",
}


# -- one run, two endpoints -------------------------------------------------------------------------------------------


def wide(
    words: Sequence[str] = ("{} initial", "{} phenolphthalein", "{} methyl orange", "{} used"),
    mean: str = "Mean titre {}",
    result: str = "Result {}",
    runs: Sequence[str] = RUNS,
) -> Rows:
    header = ["Student", *(word.format(run) for run in runs for word in words)]
    claims = [mean.format(name) for name in ENDPOINTS.endpoints] + [result.format(name) for name in ENDPOINTS.results]
    rows = [[*header, *claims]]
    for name, has in MIXTURE.items():
        rows.append([name, *(text for run in RUNS for text in has[run]), *has["mean"], *has["result"]])
    return rows


def two_rows() -> Rows:
    upper, lower = ["Student"], [""]
    for run in RUNS:
        upper += [run, "", "", ""]
        lower += ["Initial", "Phenolphthalein", "Methyl orange", "Used"]
    claims = ["Mean phenolphthalein", "Mean methyl orange", "NaOH / g dm-3", "Na2CO3 / g dm-3"]
    return [[*upper, *claims], [*lower, "", "", "", ""], *wide()[1:]]


def endpoints_over_runs() -> Rows:
    fields = ("Initial", "Phenolphthalein / cm3", "Methyl orange / cm3", "Used")
    upper, lower = ["Student"], [""]
    for field in fields:
        upper += [field, "", ""]
        lower += RUNS
    claims = [*wide()[0][-4:]]
    rows = [[*upper, *claims], [*lower, "", "", "", ""]]
    for name, has in MIXTURE.items():
        cells = [has[run][at] for at in range(4) for run in RUNS]
        rows.append([name, *cells, *has["mean"], *has["result"]])
    return rows


def long() -> Rows:
    means = ["Mean titre phenolphthalein", "Mean titre methyl orange", "Result NaOH", "Result Na2CO3"]
    rows = [["Student", "Run", "Initial", "Phenolphthalein", "Methyl orange", "Used", *means]]
    for name, has in MIXTURE.items():
        for run in RUNS:
            claims = [*has["mean"], *has["result"]] if run == "Run 1" else [""] * 4
            rows.append([name, run.removeprefix("Run "), *has[run], *claims])
    return rows


def endpoint_block(name: str, *, named: bool = True) -> Rows:
    has = MIXTURE[name]
    rows = [["Student", name]] if named else []
    rows += [["", *(run.removeprefix("Run ") for run in RUNS)]]
    for at, field in enumerate(("Initial", "Phenolphthalein", "Methyl orange", "Used")):
        rows.append([field, *(has[run][at] for run in RUNS)])
    rows += [[f"Mean titre {each}", text] for each, text in zip(ENDPOINTS.endpoints, has["mean"], strict=True)]
    return rows + [
        [f"Result {each} / g dm-3", text] for each, text in zip(ENDPOINTS.results, has["result"], strict=True)
    ]


def form(rows: Rows, at: int) -> Rows:
    """One student as lines of a label and a value."""
    return [[label, value] for label, value in zip(rows[0], rows[at], strict=True)]


def files(make: dict[str, Rows], ending: str = ".csv") -> Writer:
    def write(folder: Path) -> Path:
        for name, rows in make.items():
            (xlsx(rows, name=f"{name}.xlsx") if ending == ".xlsx" else table(rows, name=f"{name}.csv"))(folder)
        return folder

    return write


OF_ENDPOINTS: dict[str, Writer] = {
    "wide": xlsx(wide()),
    "wide .csv": table(wide()),
    "readings": xlsx(wide(("{} initial", "{} phenolphthalein reading", "{} methyl orange reading", "{} used"))),
    "in brackets, with units": xlsx(
        wide(
            ("{} initial (cm3)", "{} (phenolphthalein) / cm3", "{} (Methyl Orange) / cm3", "{} used"),
            "Average titre ({}) / cm3",
            "{} result / g dm-3",
        )
    ),
    "name first": xlsx(
        wide(
            ("{} initial", "Phenolphthalein {}", "methyl-orange {}", "used {}"),
            "Mean {}",
            "Concentration of {} (g/dm3)",
            ("rough", "1", "2"),
        )
    ),
    "in sentences": xlsx(
        wide(
            (
                "Initial burette reading of {}",
                "Burette reading at the phenolphthalein end point of {}",
                "Reading of {} at the methyl orange endpoint",
                "Did you use {} in the mean?",
            ),
            "Your mean titre for {}",
            "Your result for {}, in g/dm3",
            ("your rough titration", "your first accurate titration", "your second accurate titration"),
        )
    ),
    "final is the last endpoint": xlsx(wide(("{} initial", "{} phenolphthalein", "{} final", "{} used"))),
    "final of each": xlsx(wide(("{} initial", "{} phenolphthalein final", "{} methyl orange final", "{} used"))),
    "runs without numbers": xlsx(
        [[text.replace("Run 1 ", "").replace("Run 2 ", "") for text in wide()[0]], *wide()[1:]]
    ),
    "two header rows": xlsx(two_rows()),
    "endpoints over runs": xlsx(endpoints_over_runs()),
    "long": xlsx(long()),
    "long .csv": table(long()),
    "students across": xlsx(turned(wide())),
    "blocks": xlsx(stacked(endpoint_block(name) for name in MIXTURE)),
    "blocks side by side": xlsx(beside([endpoint_block(name) for name in MIXTURE])),
    "a sheet a student": xlsx({name: endpoint_block(name, named=False) for name in MIXTURE}),
    "a form a student": files({name: form(wide(), at) for at, name in enumerate(MIXTURE, start=1)}),
    "a workbook a student": files({name: endpoint_block(name, named=False) for name in MIXTURE}, ".xlsx"),
    "a long file per student": files(
        {name: [row[1:] for row in long() if row[0] in ("Student", name)] for name in MIXTURE}
    ),
}


# -- one sample, two titrations ---------------------------------------------------------------------------------------

KEYS = tuple(f"{titration} {run}" for titration in TITRATIONS.titrations for run in RUNS)


def wide_titrations(
    name: str = "{titration} {run} {field}",
    mean: str = "Mean titre {}",
    result: str = "Result {}",
) -> Rows:
    header = ["Student"]
    for titration in TITRATIONS.titrations:
        for run in RUNS:
            header += [name.format(titration=titration, run=run, field=field) for field in ("initial", "final", "used")]
    claims = [mean.format(each) for each in TITRATIONS.titrations] + [
        result.format(each) for each in TITRATIONS.results
    ]
    rows = [[*header, *claims]]
    for student, has in HARDNESS.items():
        rows.append([student, *(text for key in KEYS for text in has[key]), *has["mean"], *has["result"]])
    return rows


def titrations_over_runs(*, levels: int = 2) -> Rows:
    rows: list[list[str]] = [[""], [""], ["Student"]] if levels == 3 else [[""], ["Student"]]
    for titration in TITRATIONS.titrations:
        for run in RUNS:
            first = titration.title() if run == "Rough" else ""
            texts = [f"{run} initial", f"{run} final", f"{run} used"]
            if levels == 3:
                rows[0] += [first, "", ""]
                rows[1] += [run, "", ""]
                rows[2] += ["Initial", "Final", "Used"]
            else:
                rows[0] += [first, "", ""]
                rows[1] += texts
        rows[0] += [""]
        if levels == 3:
            rows[1] += [""]
        rows[-1] += ["Mean titre"]
    for row in rows:
        row += ["", ""] if row is not rows[-1] else ["Result calcium", "Result Mg"]
    for student, has in HARDNESS.items():
        line = [student]
        for at, titration in enumerate(TITRATIONS.titrations):
            line += [text for run in RUNS for text in has[f"{titration} {run}"]] + [has["mean"][at]]
        rows.append([*line, *has["result"]])
    return rows


def long_titrations(heading: str = "Titration", *, runs: bool = True, joined: bool = False) -> Rows:
    rows = [
        [
            "Student",
            heading,
            *(["Run"] if runs else []),
            "Initial",
            "Final",
            "Used",
            "Mean titre",
            "Result calcium",
            "Result Mg",
        ]
    ]
    for student, has in HARDNESS.items():
        for at, titration in enumerate(TITRATIONS.titrations):
            for run in RUNS:
                label = run.removeprefix("Run ")
                first = run == "Run 1"
                claims = [has["mean"][at]] * first or [""]
                claims += has["result"] if first and not at else ("", "")
                named = [f"{titration} {label.lower()}"] if joined else [titration]
                rows.append([student, *named, *([label] if runs else []), *has[f"{titration} {run}"], *claims])
    return rows


def groups_of_columns() -> Rows:
    """A line a run, the two titrations side by side."""
    upper = ["", "", "total", "", "", "calcium", "", ""]
    rows = [upper, ["Student", "Run", *["Initial", "Final", "Used"] * 2, *wide_titrations()[0][-4:]]]
    upper += [""] * 4
    for student, has in HARDNESS.items():
        for run in RUNS:
            cells = [text for titration in TITRATIONS.titrations for text in has[f"{titration} {run}"]]
            claims = [*has["mean"], *has["result"]] if run == "Rough" else [""] * 4
            rows.append([student, run, *cells, *claims])
    return rows


def of_one(titration: str, *, results: bool = True, student: str = "Student") -> Rows:
    """The plain class sheet of one titration."""
    at = TITRATIONS.titrations.index(titration)
    fields = [f"{run} {field}" for run in RUNS for field in ("initial", "final", "used")]
    claims = ["Result calcium", "Result Mg"] if results else []
    rows = [[student, *fields, "Mean titre", *claims]]
    for name, has in HARDNESS.items():
        cells = [text for run in RUNS for text in has[f"{titration} {run}"]]
        rows.append([name, *cells, has["mean"][at], *(has["result"] if results else ())])
    return rows


def row_a_titration() -> Rows:
    total, calcium = of_one("total"), of_one("calcium", results=False)
    rows = [[total[0][0], "Titration", *total[0][1:]]]
    for first, second in zip(total[1:], calcium[1:], strict=True):
        rows += [[first[0], "Total", *first[1:]], [second[0], "Calcium", *second[1:], "", ""]]
    return rows


def titration_blocks(name: str, *, title: str = "{}", label: bool = True) -> Rows:
    has = HARDNESS[name]
    parts = [[["Student", name]]] if label else []
    for at, titration in enumerate(TITRATIONS.titrations):
        rows = [[title.format(titration)], ["", *(run.removeprefix("Run ") for run in RUNS)]]
        for place, field in enumerate(("Initial", "Final", "Used")):
            rows.append([field, *(has[f"{titration} {run}"][place] for run in RUNS)])
        rows.append(["Mean titre", has["mean"][at]])
        if at:
            rows += [[f"Result {each}", text] for each, text in zip(TITRATIONS.results, has["result"], strict=True)]
        parts.append(rows)
    return stacked(parts)


def lines_of_titrations(name: str) -> Rows:
    """One block, with the lines of each titration below each other."""
    has = HARDNESS[name]
    rows = [["Student", name], ["", *(run.removeprefix("Run ") for run in RUNS)]]
    for titration in TITRATIONS.titrations:
        for place, field in enumerate(("initial", "final", "used")):
            rows.append([f"{titration} {field}", *(has[f"{titration} {run}"][place] for run in RUNS)])
    rows += [[f"Mean titre {each}", text] for each, text in zip(TITRATIONS.titrations, has["mean"], strict=True)]
    return rows + [[f"Result {each}", text] for each, text in zip(TITRATIONS.results, has["result"], strict=True)]


OF_TITRATIONS: dict[str, Writer] = {
    "wide": xlsx(wide_titrations()),
    "wide .csv": table(wide_titrations()),
    "run first": xlsx(wide_titrations("{run} {titration} {field}", "{} mean titre", "{} result / mg dm-3")),
    "run first, in brackets": xlsx(wide_titrations("{run} ({titration}) {field}", "Mean ({})", "Concentration of {}")),
    "capitals": xlsx([[text.upper() for text in wide_titrations()[0]], *wide_titrations()[1:]]),
    "two header rows": xlsx(titrations_over_runs()),
    "three header rows": xlsx(titrations_over_runs(levels=3)),
    "long": xlsx(long_titrations()),
    "long, no runs named": xlsx([[*row] for row in long_titrations("Titration")]),
    "long, another heading": xlsx(long_titrations("Which?")),
    "long, runs named with the titration": xlsx(long_titrations("Titration", runs=False, joined=True)),
    "long, titrations side by side": xlsx(groups_of_columns()),
    "a row a titration": xlsx(row_a_titration()),
    "students across": xlsx(turned(wide_titrations())),
    "a sheet a titration": xlsx({"Total": of_one("total", results=False), "Calcium": of_one("calcium")}),
    "a sheet a titration, titled": xlsx(
        {"Total titration": [["Hardness"], [], *of_one("total")], "Calcium titration": of_one("calcium", results=False)}
    ),
    "tables under titles": xlsx(
        stacked([[["total"]], of_one("total"), [["calcium"]], of_one("calcium", results=False)])
    ),
    "blocks": xlsx(stacked(titration_blocks(name) for name in HARDNESS)),
    "blocks with labels": xlsx(stacked(titration_blocks(name, title="Titration: {}") for name in HARDNESS)),
    "lines in a block": xlsx(stacked(lines_of_titrations(name) for name in HARDNESS)),
    "a sheet a student": xlsx({name: titration_blocks(name, label=False) for name in HARDNESS}),
    "a workbook a student": files({name: titration_blocks(name, label=False) for name in HARDNESS}, ".xlsx"),
    "a form a student": files({name: form(wide_titrations(), at) for at, name in enumerate(HARDNESS, start=1)}),
}


def upright(name: str) -> Rows:
    """One student: a table of a row a run for each titration, under its name."""
    has = HARDNESS[name]
    parts = [[[f"Student: {name}"]]]
    for at, titration in enumerate(TITRATIONS.titrations):
        rows = [[titration.title()], ["Run", "Initial", "Final", "Used", "Mean titre", "Result calcium", "Result Mg"]]
        rows += [[run.removeprefix("Run "), *has[f"{titration} {run}"]] for run in RUNS]
        rows[2] += [has["mean"][at], *(has["result"] if at else ())]
        parts.append(rows)
    return stacked(parts)


def corner_blocks(name: str) -> Rows:
    """Blocks with the titration in the corner, where the labels meet the runs."""
    rows = titration_blocks(name)
    return [[rows[at - 1][0], *row[1:]] if row[:1] == [""] else row for at, row in enumerate(rows)]


def listed_ticks() -> Rows:
    """The runs that were used, in one column a titration."""
    rows = wide_titrations()
    kept = [at for at, text in enumerate(rows[0]) if not text.endswith("used")]
    found = [[*(rows[0][at] for at in kept), "total runs used", "calcium runs used"]]
    for row, has in zip(rows[1:], HARDNESS.values(), strict=True):
        used = [" and ".join(run[-1] for run in RUNS if has[f"{each} {run}"][2]) for each in TITRATIONS.titrations]
        found.append([*(row[at] for at in kept), *used])
    return found


def with_codes(rows: Rows, *, names: bool = True) -> Rows:
    """The grid with a column of IDs, with the names beside it or not."""
    codes = ["ID", *(f"20{at}" for at in range(1, len(rows)))]
    return [[code, *row[not names :]] for code, row in zip(codes, rows, strict=True)]


def once(rows: Rows) -> Rows:
    """The grid with each name in its first row only."""
    return [["" if row[0] == before[0] else row[0], *row[1:]] for before, row in zip([[""], *rows], rows, strict=False)]


OF_TITRATIONS |= {
    "upright tables": xlsx(stacked(upright(name) for name in HARDNESS)),
    "titrations in the corner": xlsx(stacked(corner_blocks(name) for name in HARDNESS)),
    "blocks side by side": xlsx(beside([titration_blocks(name) for name in HARDNESS])),
    "ticks listed": xlsx(listed_ticks()),
    "sheets joined by ID": xlsx(
        {"total": with_codes(of_one("total")), "calcium": with_codes(of_one("calcium", results=False), names=False)}
    ),
    "a row a titration, name once": xlsx(once(row_a_titration())),
    "long, name once": xlsx(once(long_titrations())),
    "a .csv a titration": files({"Total": of_one("total", results=False), "Calcium": of_one("calcium")}),
}
