"""The catalogue of findings, from the table `findings.toml`, and findings made by it.

A finding is a hypothesis with its evidence. The level says what it asks for: a `note` asks for nothing, a `check`
asks the teacher to look, a `fault` is plain from the student's own figures.
"""

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from labmark.places import packaged_text
from labmark.records import Finding, Level

TABLE = "findings.toml"


class Kind(NamedTuple):
    """One kind of finding; the head of the table explains the keys."""

    code: str
    level: Level
    title: str
    urgency: int
    advice: str = ""
    private: bool = False


_TABLE = tomllib.loads(packaged_text(TABLE))
OF_A_RUN, OF_A_STUDENT, OF_THE_CLASS = (
    tuple(Kind(**row) for row in _TABLE[about]) for about in ("run", "student", "class")
)
KINDS: dict[str, Kind] = {kind.code: kind for kind in (*OF_A_RUN, *OF_A_STUDENT, *OF_THE_CLASS)}
"""Code -> kind, in the order of the catalogue."""
NOTHING: Mapping[str, Any] = {}


def found(
    code: str,
    message: str,
    run: str | None = None,
    evidence: Mapping[str, Any] = NOTHING,
    *,
    level: Level | None = None,
    probability: float | None = None,
    cells: Iterable[str] = (),
    **more: Any,
) -> Finding:
    """Return a finding of the catalogue, at its usual level unless said otherwise; `more` is evidence as well."""
    return Finding(code, message, level or KINDS[code].level, run, probability, tuple(cells), {**evidence, **more})


def runs_meant(run: str | None, evidence: Mapping[str, Any]) -> list[str]:
    """Return the labels of the runs that a finding is about: its own, with those that it names together."""
    return [] if run is None else [*evidence.get("runs", (run,))]


def is_private(code: str) -> bool:
    """Return whether a finding is the teacher's alone; a code that is not in the catalogue is not."""
    return code in KINDS and KINDS[code].private
