"""The code of a template is kept from run to run, and only where it may be."""

import errno
import sys
import tempfile
from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment
from jinja2.bccache import Bucket

from labmark.outputs import engine


def kept_of(folder: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """What is kept of a template that is filled, where templates are in this folder."""
    monkeypatch.setattr(engine, "templates_folder", lambda: folder)
    environment = Environment(loader=DictLoader({"page": "{{ 6 * 7 }}"}), bytecode_cache=engine._kept_code())
    assert environment.get_template("page").render() == "42"
    return [*folder.glob("__pycache__/*")]


def test_the_code_of_a_template_is_kept_where_python_keeps_that_of_modules(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    assert len(kept_of(tmp_path, monkeypatch)) == 1
    monkeypatch.setattr(Bucket, "write_bytecode", None)
    assert len(kept_of(tmp_path, monkeypatch)) == 1  # it was not made again


def test_no_code_is_kept_where_python_keeps_none_or_cannot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert kept_of(tmp_path, monkeypatch) == []
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    blocked = tmp_path / "blocked"
    blocked.mkdir()
    (blocked / "__pycache__").write_bytes(b"")
    assert kept_of(blocked, monkeypatch) == []


def test_a_full_disk_costs_the_code_and_not_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "no space")

    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(tempfile, "NamedTemporaryFile", full)
    assert kept_of(tmp_path, monkeypatch) == []
