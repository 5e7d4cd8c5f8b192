"""Records what classes are told while other tests judge them, as sentences for `python -m tests.catalogue`.

    python -m pytest -q -m "not slow" -p tests.record_words

writes tests/languages/*.txt again: one sentence of each kind, with what somebody typed in quotation marks.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from labmark import tree as judged
from labmark.outputs import forms
from labmark.outputs.language import Language, Typed
from tests.catalogue import CORPUS

SEEN: dict[str, dict[str, str]] = {}


class Recorder(Language):
    """A language without a word: all that it is asked for is left."""

    def __call__(self, text: str, typed: Typed | None = None) -> str:
        if typed is not None and text in typed.texts:
            return text
        if typed is not None and "“" not in text:
            for begin, end in reversed([*typed.spans(text)]):
                text = f"{text[:begin]}“{text[begin:end]}”{text[end:]}"
            typed = None
        return super().__call__(text, typed)


def sheet_texts(tree: Any) -> None:
    """Ask for every text of the sheets and the chart of a class."""
    from labmark.outputs import chart
    from labmark.outputs.decision_rows import upheld
    from labmark.outputs.each import results_of
    from labmark.outputs.layout import picture_of, words
    from labmark.outputs.sheets import class_data, student_data

    shared = upheld(tree)
    say, results, group = forms.forms_of(shared), results_of(shared), class_data(shared)
    say.all(group)
    for place in range(len(shared["students"])):
        say.all(student_data(shared, place, group, results))
    for picture in map(picture_of, results.values()):
        say(words(picture))
        chart._panel(picture, say)


def workbook_texts(tree: Any) -> None:
    """Ask for every text of marks.xlsx."""
    from labmark.outputs.workbook import marks_workbook

    marks_workbook(tree)


def report_texts(tree: Any) -> None:
    """Ask for every text of the report."""
    from labmark.outputs.chart import Chart
    from labmark.outputs.decision_rows import upheld
    from labmark.outputs.report import report

    report(upheld(tree), Chart(b"", b"", ""))


def lesson_texts(practical: Any) -> None:
    """Ask for every text of the technician's card, the page for the bench and the blank class sheet."""
    from labmark.lesson import pages
    from labmark.lesson.columns import columns_of, laid_out
    from labmark.lesson.prepare import prepared
    from labmark.lesson.roll import Roll

    made, kept = prepared(practical, 28), pages.pdf
    pages.pdf = lambda _template, data, say: say.all(data) and b""  # type: ignore[assignment]
    try:
        pages.card(made)
        pages.results_sheets(made.practical, made.examples, 3)
    finally:
        pages.pdf = kept
    typed = practical.file.model_dump()
    names = {name for text in forms.names_in(typed) for name in (text, text[:1].lower() + text[1:])}
    say = forms.Forms(language="xx", names=frozenset(names))
    for each in laid_out(Roll((), (), (), ()), columns_of(practical, 2)):
        for text in (each.heading, each.what, each.error, *each.choices):
            say(text)


def record_lessons() -> None:
    """Record what stands on the pages before the lesson, for every practical that ships."""
    from labmark.places import languages, practicals_folder
    from labmark.practical import file
    from labmark.practical.load import practical_from_toml

    left = SEEN.setdefault("lesson", {})
    recorder = Recorder([], left=left)
    kept = forms.language, file.languages
    forms.language, file.languages = (lambda _name: recorder), (lambda: (*languages(), "xx"))  # type: ignore[assignment]
    try:
        for path in sorted(practicals_folder().glob("*.toml")):
            text = path.read_text(encoding="utf-8")
            lesson_texts(practical_from_toml(f'{text}\n[sheet]\nlanguage = "xx"\n', path.name))
    finally:
        forms.language, file.languages = kept


RECORDED: dict[str, Callable[[Any], None]] = {"sheet": sheet_texts, "workbook": workbook_texts, "report": report_texts}


def record(tree: Any) -> None:
    """Record what a class is told."""
    look = {**(tree["practical"].get("sheet") or {}), "language": "xx", "decimal": "."}
    tree = {**tree, "practical": {**tree["practical"], "sheet": look}}
    for name, texts in RECORDED.items():
        left = SEEN.setdefault(name, {})
        recorder = Recorder([], left=left)
        kept, forms.language = forms.language, lambda _name, found=recorder: found  # type: ignore[assignment]
        try:
            texts(tree)
        finally:
            forms.language = kept


def kinds(lines: Iterable[str]) -> list[str]:
    """Return one line of each kind, with words in it, in order."""
    found = {
        re.sub(r"\d[\d., \u2009]*", "0", re.sub(r"“[^”]*”", "“”", line)): line for line in sorted(lines, reverse=True)
    }
    return sorted(found.values())


def write(folder: Path = CORPUS) -> None:
    """Add what was recorded to the files."""
    for name, left in SEEN.items():
        path = folder / f"{name}.txt"
        before = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
        path.write_text("".join(f"{line}\n" for line in kinds([*before, *left.values()])), encoding="utf-8")


def pytest_configure(config: Any) -> None:
    """Record each class that is judged."""
    plain = judged.record_tree

    def recorded(*given: Any, **named: Any) -> Any:
        tree = plain(*given, **named)
        try:
            record(tree)
        except Exception as error:
            SEEN.setdefault("errors", {})[repr(error)] = repr(error)
        return tree

    judged.record_tree = recorded


def pytest_sessionfinish(session: Any) -> None:
    """Write what was recorded."""
    write()
