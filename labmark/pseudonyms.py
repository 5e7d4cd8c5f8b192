"""Codes instead of names, for a marked class that is handed to somebody else; `pseudonyms.csv` is the key.

The class is coded before it is judged, so that everything which is made of it has codes; what was typed elsewhere
(notes, names of sheets and files, the teacher's comments) is gone through once more in the record tree. A student keeps
the code of an earlier run, for the decisions in the folder stand under it.
"""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import count
from pathlib import Path
from typing import Any, Self

from labmark.dataclass import dataclass, replace
from labmark.decisions.read import Found
from labmark.facts import Student
from labmark.judge.bench import names_partner
from labmark.outputs.table import safe_text, table_text
from labmark.read.files import load_bytes
from labmark.records import ClassSheet

Tree = dict[str, Any]
SOMEBODY = "a student"
"""Stands for a part of a name that several share."""
COMMON = frozenset({"and", "can", "long", "mark", "may", "not", "run", "the", "will"})
"""Words that are no names where they are written small."""
_WORD = re.compile(r"[^\W_]+")
_OURS = ("format", "made_by", "practical")
"""Parts of a record tree that hold nothing which was typed about a student."""


@dataclass(frozen=True)
class Pseudonyms:
    """The codes of a class."""

    codes: Mapping[str, str]
    """Name of a student -> code, in the order of the class."""
    words: Mapping[str, str]
    """What tells who a student is -> code: several words in small letters, one word as it is spelt."""

    @classmethod
    def of(cls, sheet: ClassSheet, key: Mapping[str, str], found: Found) -> Self:
        """Return the codes of a class: those of `key` (code -> name), and new ones for whom it does not know.

        A new code is none that the folder knows already, whoever it stands for there.
        """
        kept = {name: code for code, name in key.items()}
        names = [one.name for one in sheet.students]
        remembered = {one["student"] for one in (found.memory or {}).get("students", ())}
        taken = {*names, *key, *remembered}
        new = (code for number in count(1) if (code := f"P{number:02d}") not in taken)
        codes = {name: kept.get(name) or next(new) for name in names}
        return cls(codes, _telling(sheet, codes))

    def sheet(self, sheet: ClassSheet) -> ClassSheet:
        """Return the class with codes for names, and of what else is known of a student the class and the partner."""
        people = sheet.students
        return replace(
            sheet,
            students=tuple(
                replace(one, name=code, about=self._about(one.about, people))
                for one, code in zip(people, self.codes.values(), strict=True)
            ),
        )

    def _about(self, about: Mapping[str, str], people: Sequence[Student]) -> dict[str, str]:
        said = about.get("Partner", "")
        meant = [
            self.codes[one.name] for one in people if said and names_partner(said, one.name, one.about.get("ID", ""))
        ]
        kept = {key: text for key, text in about.items() if key in ("Class", "Attempt")}
        return kept | ({"Partner": " and ".join(meant)} if meant else {})

    def found(self, found: Found) -> Found:
        """Return what a folder says of decisions, with codes for names.

        What the teacher added to a workbook with names is not carried over.
        """
        coded = renamed(found, self.codes)
        decisions = tuple(replace(each, known_as="") for each in coded.decisions)
        return replace(coded, decisions=decisions, called={}, book=found.book if found.coded else None)

    def tree(self, tree: Tree) -> Tree:
        """Return a record tree without a name in it."""
        return {key: part if key in _OURS else self.coded(part) for key, part in tree.items()}

    def coded(self, data: Any) -> Any:
        """Return texts, and lists and tables of them, with codes for names."""
        if isinstance(data, str):
            return self._text(data)
        if isinstance(data, Mapping):
            return {self._text(key): self.coded(value) for key, value in data.items()}
        return [self.coded(value) for value in data] if isinstance(data, list | tuple) else data

    def _text(self, text: str) -> str:
        """Return a text with codes for names."""
        known = self._known
        if not any(word.casefold() in known for word in _WORD.findall(text)):
            return text
        return self._pattern.sub(lambda match: self.words.get(_key(match[0]), match[0]), text)

    @cached_property
    def _known(self) -> frozenset[str]:
        """Every word that is part of what tells."""
        return frozenset(word.casefold() for key in self.words for word in key.split())

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        """What tells, the longest first, and not within a word or behind a decimal point."""
        told = sorted(self.words, key=lambda key: (-len(key), key))
        either = "|".join(r"[\W_]+".join(map(re.escape, key.split())) for key in told)
        return re.compile(rf"(?<![^\W_])(?<!\d[.,])(?:{either})(?![^\W_])", re.IGNORECASE)


def _key(text: str) -> str:
    words = _WORD.findall(text)
    return " ".join(words).casefold() if len(words) > 1 else "".join(words)


def _telling(sheet: ClassSheet, codes: Mapping[str, str]) -> dict[str, str]:
    """Return the words that tell who a student is."""
    told: dict[str, set[str]] = {}
    for name, about in ((one.name, one.about) for one in sheet.students):
        whole = [name, *(about[key] for key in ("Name", "ID", "Email") if key in about)]
        parts = [word for word in _WORD.findall(about.get("Name", name)) if len(word) > 2]
        for key in {_key(each) for each in (*whole, *parts)}:
            if len(key) > (3 if key.isdigit() else 1) and key not in COMMON:
                told.setdefault(key, set()).add(codes[name])
    return {key: found.pop() if len(found) == 1 else SOMEBODY for key, found in told.items()}


def renamed(found: Found, names: Mapping[str, str]) -> Found:
    """Return what a folder says of decisions with other names for its students; others than in `names` stay."""

    def of(one: Mapping[str, Any]) -> Tree:
        return {**one, "student": names.get(one["student"], one["student"])}

    memory = found.memory and {**found.memory, "students": [of(one) for one in found.memory["students"]]}
    decisions = (replace(each, student=names.get(each.student or "", each.student)) for each in found.decisions)
    return replace(found, memory=memory, decisions=tuple(decisions))


def with_names(found: Found, key: Mapping[str, str]) -> Found:
    """Return what a folder says of decisions with the names of a key, in the teacher's words too."""
    words = Pseudonyms({}, key)
    named = renamed(found, key)
    decisions = (replace(each, value=words.coded(each.value)) for each in named.decisions)
    return replace(named, decisions=tuple(decisions), called=key, coded=bool(key))


def key_text(codes: Mapping[str, str], key: Mapping[str, str]) -> bytes:
    """Return pseudonyms.csv: the codes of a class, and those of an earlier key, which nobody else is given."""
    rows = {code: name for name, code in codes.items()} | dict(key)
    return table_text([["code", "name"], *map(list, rows.items())])


def key_in(folder: Path, sheet: ClassSheet) -> dict[str, str]:
    """Return code -> name of the key in a folder, with the names as the class has them; empty where there is none."""
    path = folder / "pseudonyms.csv"
    if not path.exists():
        return {}
    rows = csv.reader(io.StringIO(load_bytes(path).decode("utf-8-sig", errors="replace"), newline=""))
    # The file has an apostrophe before what a spreadsheet program might calculate.
    as_they_are = {safe_text(one.name): one.name for one in sheet.students}
    return {row[0]: as_they_are.get(row[1], row[1]) for row in rows if len(row) == 2 and row[0] != "code"}
