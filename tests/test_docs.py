"""The documentation says what is so: commands, options, files, and the two commands that CI runs."""

from __future__ import annotations

import doctest
import importlib
import re
import shlex
from pathlib import Path
from typing import get_args

import click
import pytest
from click.testing import CliRunner
from pydantic import BaseModel

from labmark.cli import main
from labmark.findings import KINDS
from labmark.judge.marks import CRITERIA
from labmark.places import practicals_folder, templates_folder
from labmark.practical.file import PracticalFile

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_and_option_stands_in_the_readme(name):
    assert f"labmark {name}" in README
    for parameter in main.commands[name].params:
        if isinstance(parameter, click.Option):
            assert parameter.opts[0] in README, parameter.opts


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_and_option_has_help(name):
    assert main.commands[name].help
    for parameter in main.commands[name].params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.opts


def test_the_readme_gives_two_commands_for_a_fresh_machine():
    commands = re.findall(r"```sh\n(.*)\n```", README)
    assert len(commands) == 2
    assert all(command.startswith("python3 -m venv .venv && .venv/bin/pip install") for command in commands)
    assert "labmark mark sample_data/" in commands[0]
    assert commands[1].rstrip().endswith("pytest -q -n 2")


@pytest.mark.slow
def test_the_commands_of_a_lesson_do_as_they_stand_in_the_readme(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "names.txt").write_text("Amara K\nBao T\n", encoding="utf-8")
    told = README.partition("## A lesson")[2].partition("```\n")[2].partition("```")[0]
    commands = [shlex.split(line, comments=True)[1:] for line in told.splitlines()]
    assert [words[0] for words in commands] == ["practicals", "check", "prepare", "sheet", "mark"]
    for words in commands:
        assert CliRunner().invoke(main, words).exit_code == 0, words
    assert all((tmp_path / "marked" / name).is_file() for name in ("report.html", "marks.xlsx", "feedback.pdf"))


def test_files_that_the_readme_names_are_there():
    named = re.findall(r"`(sample_data/[\w./-]+|templates/[\w./-]+)`", README) + re.findall(
        r"(sample_data/[\w-]+\.\w+)", README
    )
    assert named
    for each in named:
        assert (ROOT / each).exists(), each


def test_the_examples_in_the_code_are_true():
    tried = failed = 0
    for path in sorted((ROOT / "labmark").rglob("*.py")):
        if ">>> " in path.read_text(encoding="utf-8"):
            module = importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))
            result = doctest.testmod(module)
            tried, failed = tried + result.attempted, failed + result.failed
    assert (tried > 20, failed) == (True, 0)


def keys_of(table: type[BaseModel]) -> set[str]:
    """Return the names of a table's keys, and of those of the tables in it."""
    names = {field.alias or name for name, field in table.model_fields.items()}
    inside = [part for field in table.model_fields.values() for part in (field.annotation, *get_args(field.annotation))]
    return names.union(*(keys_of(part) for part in inside if isinstance(part, type) and issubclass(part, BaseModel)))


def test_every_key_of_a_practical_stands_in_the_readme_or_in_one_that_ships():
    shipped = "".join(each.read_text(encoding="utf-8") for each in practicals_folder().glob("*.toml"))
    said = README + shipped
    found = {key for key in keys_of(PracticalFile) if re.search(rf"\b{key}\b[` ]|\b{key}\]", said)}
    assert sorted(keys_of(PracticalFile) - found) == []


@pytest.mark.parametrize("module", re.findall(r"`labmark/([\w/.]+\.(?:py|toml))`", DEVELOPERS))
def test_modules_that_the_guide_names_are_there(module):
    assert (ROOT / "labmark" / module).is_file()


def test_the_schema_knows_every_finding_and_criterion():
    schema = (templates_folder() / "results.schema.json").read_text(encoding="utf-8")
    for code in (*KINDS, *CRITERIA):
        assert f'"{code}"' in schema


def test_nothing_but_the_usual_stands_at_the_top():
    usual = {"README.md", "DEVELOPERS.md", "pyproject.toml", "labmark", "tests", "templates", "sample_data"}
    leftovers = {"build", "dist", "marked"}
    there = {
        path.name for path in ROOT.iterdir() if not path.name.startswith(".") and not path.name.endswith(".egg-info")
    }
    assert there - leftovers == usual
