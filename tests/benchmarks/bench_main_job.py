"""The main job against a bare program that does the same kinds of work with the same libraries.

    python -m tests.benchmarks.bench_main_job [--runs 5]

Both are timed as whole processes, in turn, after one run that is not counted. The bare program imports the libraries,
reads the sheet, writes a workbook of the size of marks.xlsx, draws a chart, and compiles as many pages as there are
students, each through one reused compiler; it judges nothing.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLE = ROOT / "sample_data" / "vinegar.xlsx"

BARE = '''
import io, json, sys
import click, jinja2, pandas, pydantic, periodictable, scipy.special
import openpyxl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
import typst
from pathlib import Path

sample, out = Path(sys.argv[1]), Path(sys.argv[2])
rows = list(openpyxl.load_workbook(sample).worksheets[-1].iter_rows(values_only=True))
rows = [row for row in max((list(sheet.iter_rows(values_only=True)) for sheet in openpyxl.load_workbook(sample)), key=len) if row[0]]
students = rows[1:]

book = openpyxl.Workbook()
for title, per_student, columns in (("Marks", 1, 24), ("Reasons", 9, 6), ("Runs", 4, 14), ("Findings", 1, 8), ("Class", 2, 4)):
    sheet = book.create_sheet(title)
    for row in range(per_student * len(students)):
        sheet.append([f"{row}", *[row * 0.05] * (columns - 1)])
book.save(out / "marks.xlsx")

figure = Figure(figsize=(8, 4))
axes = figure.subplots()
axes.plot([float(i % 7) for i in range(len(students))], [i * 0.1 for i in range(len(students))], "o")
for kind in ("svg", "png"):
    figure.savefig(out / f"distribution.{kind}")
(out / "report.html").write_text(jinja2.Template("{% for row in rows %}<tr>{% for c in row %}<td>{{ c }}</td>{% endfor %}</tr>{% endfor %}").render(rows=students))

page = """
#set document(title: "sheet", date: none)
#set page(paper: "a4", margin: 1.5cm)
#let data = json(bytes(sys.inputs.data))
= #data.name
#table(columns: 5, table.header([Run], [Initial], [Final], [Titre], [Why]), ..data.runs.flatten().map(c => [#c]))
#for line in data.lines [ + #line ]
#table(columns: 3, table.header([Criterion], [Mark], [Reason]), ..data.marks.flatten().map(c => [#c]))
#for line in data.lines [ #line #parbreak() ]
"""
(out / "page.typ").write_text(page)
compiler = typst.Compiler(str(out / "page.typ"), root=str(out), ignore_system_fonts=True)
for place, row in enumerate(students):
    data = {"name": str(row[0]), "runs": [[str(c)] * 5 for c in row[3:7]], "marks": [["criterion", "1", "a reason in some words " * 3]] * 9,
            "lines": ["some words about what happened and what to do next " * 2] * 6}
    (out / f"{place}.pdf").write_bytes(compiler.compile(sys_inputs={"data": json.dumps(data)}, pdf_standards=["ua-1"]))
'''


def seconds(command: list[str]) -> float:
    """Return how long a whole process takes."""
    begun = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - begun


def pair(runs: int) -> tuple[list[float], list[float], list[float]]:
    """Return the seconds of labmark, of the bare program, and of `labmark --help`, run in turn."""
    with tempfile.TemporaryDirectory() as folder:
        bare = Path(folder) / "bare.py"
        bare.write_text(BARE, encoding="utf-8")
        out = Path(folder) / "bare"
        out.mkdir()
        ours = [
            sys.executable,
            "-m",
            "labmark",
            "mark",
            str(SAMPLE),
            "--practical",
            "vinegar",
            "--out",
            f"{folder}/marked",
        ]
        theirs = [sys.executable, str(bare), str(SAMPLE), str(out)]
        helps = [sys.executable, "-m", "labmark", "--help"]
        for command in (ours, theirs, helps):
            seconds(command)
        timed = [(seconds(ours), seconds(theirs), seconds(helps)) for _ in range(runs)]
    a, b, c = zip(*timed, strict=True)
    return list(a), list(b), list(c)


def main() -> None:
    """Print the medians and the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    ours, bare, helps = pair(parser.parse_args().runs)
    ratio = statistics.median(a / b for a, b in zip(ours, bare, strict=True))
    print(f"labmark mark, 30 students   {statistics.median(ours):6.2f} s (of {len(ours)} runs)")
    print(f"bare program                {statistics.median(bare):6.2f} s")
    print(f"ratio, pair by pair         {ratio:6.2f}")
    print(f"labmark --help              {statistics.median(helps):6.3f} s")


if __name__ == "__main__":
    main()
