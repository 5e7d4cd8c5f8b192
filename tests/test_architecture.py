"""The arrows between modules: what may import what, and what stays off the path of `labmark --help`."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "labmark"
STAGES = ("read", "analyse", "diagnose", "outputs")
# The practical is a record that every stage may be handed, so its package counts as a base, not as a stage.
BASE = (
    "exact",
    "formula",
    "laws",
    "units",
    "words",
    "problems",
    "records",
    "dataclass",
    "facts",
    "agreeing",
    "findings",
    "places",
    "written",
    "practical",
)
PURE = ("analyse", "diagnose", "practical", "judge")
EDGES = {
    "openpyxl": {"outputs.workbook", "outputs.carried", "lesson.blank_sheet"},
    "defusedxml": {"read.xml"},
    "distributed": {"cohort.cluster"},
    "babel": {"outputs.language"},
}


def modules() -> dict[str, ast.Module]:
    return {
        ".".join(path.relative_to(PACKAGE).with_suffix("").parts): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }


MODULES = modules()


@cache
def imported(tree: ast.Module) -> set[str]:
    """Return every module that a module imports, also inside functions."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def own(tree: ast.Module) -> set[str]:
    """Return the top-level parts of labmark that a module imports."""
    return {name.split(".")[1] for name in imported(tree) if name.startswith("labmark.")}


@pytest.mark.parametrize("stage", STAGES)
def test_stages_do_not_import_one_another(stage):
    for name, tree in MODULES.items():
        if name.split(".")[0] == stage:
            assert not own(tree) & (set(STAGES) - {stage}), name


@pytest.mark.parametrize("stage", STAGES)
def test_stages_rest_on_the_base_only(stage):
    for name, tree in MODULES.items():
        if name.split(".")[0] == stage:
            assert own(tree) - {stage, "__version__"} <= set(BASE), name


@pytest.mark.parametrize("base", BASE)
def test_the_base_imports_no_stage(base):
    for name, tree in MODULES.items():
        if name.split(".")[0] == base:
            assert not own(tree) & {*STAGES, "judge", "pipeline", "cli"}, name


@pytest.mark.parametrize("part", PURE)
def test_the_middle_knows_no_files_clock_terminal_or_chance(part):
    unwanted = {
        "os",
        "pathlib",
        "time",
        "datetime",
        "random",
        "click",
        "openpyxl",
        "jinja2",
        "typst",
        "sys",
        "io",
    }
    for name, tree in MODULES.items():
        if name.split(".")[0] == part:
            assert not {each.split(".")[0] for each in imported(tree)} & unwanted, name


@pytest.mark.parametrize("library", EDGES)
def test_each_outside_thing_has_its_own_module(library):
    users = {name for name, tree in MODULES.items() if library in {each.split(".")[0] for each in imported(tree)}}
    assert users <= EDGES[library], users


def test_records_are_made_in_one_way():
    for name, tree in MODULES.items():
        own_way = {f"dataclasses.{each}" for each in ("dataclass", "field", "replace")} & imported(tree)
        assert not own_way or name == "dataclass", (name, own_way)


def test_modules_import_one_another_without_a_circle():
    graph = {
        f"labmark.{name.removesuffix('.__init__')}".removesuffix(".__init__"): imported(tree)
        for name, tree in MODULES.items()
    }
    graph = {name: {each for each in names if each in graph and each != name} for name, names in graph.items()}
    while graph:
        free = [name for name, names in graph.items() if not names & set(graph)]
        assert free, f"in a circle: {sorted(graph)}"
        for name in free:
            del graph[name]


def test_help_imports_no_heavy_library():
    code = (
        "import sys\nfrom labmark.cli import main\n"
        "heavy = {'numpy', 'scipy', 'matplotlib', 'openpyxl', 'typst', 'jinja2', 'pydantic', 'periodictable'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.slow
def test_every_benchmark_finds_what_it_measures():
    for path in sorted((PACKAGE.parent / "tests" / "benchmarks").glob("*.py")):
        importlib.import_module(f"tests.benchmarks.{path.stem}")
