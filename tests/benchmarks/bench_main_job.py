"""The main job against a bare program that does the same kinds of work with the same libraries.

    python -m tests.benchmarks.bench_main_job [--runs 5]

Both are timed as whole processes, in turn, after one run that is not counted, with Python's bytecode kept as it is where
both are installed, and into a folder that is not there yet (what it takes to mark again, `bench_decisions` tells). The
bare program imports the libraries, reads the sheet, writes a workbook of the size of marks.xlsx, draws a chart, and
compiles every student's page through one reused compiler, from data that lie ready, a document each; it judges nothing,
and makes no feedback.pdf.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from labmark.places import templates_folder

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLE = ROOT / "sample_data" / "vinegar.xlsx"

BARE = """
import io, json, sys
import click, jinja2, numpy, pydantic, periodictable, scipy.special
import openpyxl
import typst
from importlib.util import find_spec
from pathlib import Path

sample, out = Path(sys.argv[1]), Path(sys.argv[2])
sheets = openpyxl.load_workbook(sample).worksheets
rows = max((list(sheet.iter_rows(values_only=True)) for sheet in sheets), key=len)
students = [row for row in rows[1:] if row[0]]

book = openpyxl.Workbook()
sizes = {"Marks": (1, 32), "Reasons": (7, 8), "Runs": (4, 13), "Findings": (1, 8), "Class": (3, 5)}
for title, (per_student, columns) in sizes.items():
    sheet = book.create_sheet(title)
    for row in range(per_student * len(students)):
        sheet.append([f"{row}", *[row * 0.05] * (columns - 1)])
book.save(out / "marks.xlsx")

fonts = Path(find_spec("matplotlib").submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"
fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(fonts)])
dots = "".join(f'<circle cx="{90 * (i % 7)}" cy="{10 * i}" r="6"/>' for i in range(len(students)))
svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="691pt" height="388pt">{dots}<text y="20">chart</text></svg>'
(out / "distribution.svg").write_text(svg)
line = b'#set page(width: 691pt, height: 388pt, margin: 0pt)\\n#image(bytes(sys.inputs.svg), format: "svg")'
compiler = typst.Compiler(font_paths=fonts, sys_inputs={"svg": svg})
(out / "distribution.png").write_bytes(compiler.compile(input=line, format="png", ppi=200))
table = "{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}"
(out / "report.html").write_text(jinja2.Template(table).render(rows=students))

compiler = typst.Compiler(root=sys.argv[3], font_paths=fonts)
for place, page in enumerate(sorted(Path(sys.argv[4]).iterdir())):
    call, _, data = page.read_text(encoding="utf-8").partition("\\n")
    line = f'#import "sheet.typ": single\\n#{call}\\n'.encode()
    pdf = compiler.compile(input=line, format="pdf", pdf_standards=["ua-1"], sys_inputs={"data": data})
    (out / f"{place}.pdf").write_bytes(pdf)
"""


class Spent(NamedTuple):
    """What a whole process takes [s]."""

    wall: float
    processor: float


def seconds(command: list[str], bytecode: str) -> Spent:
    """Return how long a whole process takes; `bytecode` is the folder where it keeps what it compiled of its source."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True, env=kept | {"PYTHONPYCACHEPREFIX": bytecode})
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Spent(time.perf_counter() - begun, processor)


def write_pages(folder: Path) -> None:
    """Write what a bare program compiles: for every student the call of the page, and its data."""
    from labmark.outputs.press import Press, _literal
    from labmark.outputs.sheets import manuscript_of
    from labmark.pipeline import judged_tree

    tree = judged_tree(SAMPLE, "vinegar", ())
    folder.mkdir()
    for place, student in enumerate(tree["students"]):
        press = Press(manuscript_of(tree | {"students": [student]}))
        call = f"single((({_literal(press.sheets[0])}, {press.densities[0]}),))"
        (folder / f"{place:03d}.txt").write_text(f"{call}\n{press.text}", encoding="utf-8")


def pair(runs: int) -> list[list[Spent]]:
    """Return what labmark, the bare program, `labmark check` and `labmark --help` take, run in turn."""
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
        pages = Path(folder) / "pages"
        write_pages(pages)
        theirs = [sys.executable, str(bare), str(SAMPLE), str(out), str(templates_folder()), str(pages)]
        labmark = [sys.executable, "-m", "labmark"]
        commands = ours, theirs, [*labmark, "check", str(SAMPLE), "--practical", "vinegar"], [*labmark, "--help"]
        for command in commands:
            seconds(command, f"{folder}/bytecode")
        rounds = []
        for _ in range(runs):
            shutil.rmtree(f"{folder}/marked")
            rounds.append([seconds(command, f"{folder}/bytecode") for command in commands])
        return rounds


def main() -> None:
    """Print the medians and the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    rounds = pair(parser.parse_args().runs)
    names = ("labmark mark, 30 students", "bare program", "labmark check", "labmark --help")
    print(f"medians of {len(rounds)} runs in turn   seconds   of processor time   over the bare program, pair by pair")
    for name, spent in zip(names, zip(*rounds, strict=True), strict=True):
        wall, processor = (statistics.median(each) for each in zip(*spent, strict=True))
        ratios = [
            statistics.median(one[part] / bare[part] for one, (_, bare, *_) in zip(spent, rounds, strict=True))
            for part in (0, 1)
        ]
        print(f"{name:26} {wall:11.3f} {processor:13.3f} {ratios[0]:20.2f} {ratios[1]:6.2f}")


if __name__ == "__main__":
    main()
