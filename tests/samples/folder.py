"""The whole of sample_data: the classes, the list of what was planted, and the pages about them."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tests.samples.bench import Student
from tests.samples.classes import Row, make_class, planted_rows
from tests.samples.files import csv_bytes, table, workbook_bytes
from tests.samples.plan import FINDING_NONE, ClassPlan
from tests.samples.plans import PLANS

FOLDER = Path(__file__).resolve().parents[2] / "sample_data"
INVENTED = "Every person, place and figure here is invented."


def sample_files() -> dict[str, bytes]:
    """Return every file of sample_data: name -> bytes."""
    files: dict[str, bytes] = {}
    rows: list[Row] = []
    for plan in PLANS:
        students = make_class(plan)
        cells = table(plan, students)
        files[plan.file] = (workbook_bytes if plan.file.endswith(".xlsx") else csv_bytes)(plan, cells)
        rows += planted_rows(plan, students)
    files["planted.csv"] = _csv(rows)
    files["planted.md"] = _page(rows).encode()
    files["README.md"] = _readme().encode()
    return files


def write_samples(folder: Path = FOLDER) -> list[Path]:
    """Write sample_data and return the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, data in sample_files().items():
        (folder / name).write_bytes(data)
        paths.append(folder / name)
    return paths


def planted(plan: ClassPlan) -> tuple[list[Student], list[Row]]:
    """Return a class and what was planted in it."""
    students = make_class(plan)
    return students, list(planted_rows(plan, students))


def _csv(rows: list[Row]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("file", "student", "finding", "run", "note"))
    writer.writerows(rows)
    return text.getvalue().encode()


def _page(rows: list[Row]) -> str:
    lines = [
        "# What was planted in the sample classes",
        "",
        f"{INVENTED} The same list for programs: planted.csv. `{FINDING_NONE}` marks what looks odd and is no fault.",
        "Runs that ordinary scatter left outside the concordant set are listed too.",
    ]
    for plan in PLANS:
        lines += ["", f"## {plan.file}", "", plan.about, "", "| student | finding | run | what |", "|---|---|---|---|"]
        lines += [
            f"| {who or 'the class'} | {finding} | {run} | {note} |" for _, who, finding, run, note in _of(plan, rows)
        ]
        if plan.below:
            lines += ["", f"Under the table stands “{' '.join(text for _, text in plan.below)}”, which is no student."]
    return "\n".join(lines) + "\n"


def _of(plan: ClassPlan, rows: list[Row]) -> list[Row]:
    return [row for row in rows if row[0] == plan.file]


def _readme() -> str:
    lines = ["# Sample classes", "", f"{INVENTED} Made by `python -m tests.samples`; don't edit by hand.", ""]
    lines += ["| class | students | what it shows | mark it with |", "|---|---|---|---|"]
    for plan in PLANS:
        practical = "" if plan.own_practical is not None else f" --practical {plan.practical}"
        command = f"`labmark mark sample_data/{plan.file}{practical}`"
        lines.append(f"| {plan.file} | {len(plan.names)} | {plan.about} | {command} |")
    lines += ["", "What was planted: planted.md to read, planted.csv for programs."]
    return "\n".join(lines) + "\n"
