"""The sheets of a class apart from the file that has them all."""

from __future__ import annotations

from itertools import islice

from labmark.outputs.press import printed
from labmark.outputs.sheets import manuscript_of


def student_sheets(tree, **how):
    """(path, PDF) of each student's sheet; the file of all of them is not made."""
    return islice(printed(manuscript_of(tree), **how), sum(bool(student.get("sheet")) for student in tree["students"]))


def all_sheets(tree):
    """`feedback.pdf`."""
    return list(printed(manuscript_of(tree)))[-1][1]
