"""Workbooks (.xlsx, .xlsm) -> grids, from the parts of the file itself.

One pass gives every cell's stored value together with its formula, its number format and its font, so that a formula
that was never calculated is not taken for a blank cell. Only the parts that hold values are looked at: macros,
drawings, links to other files and tables of data stay untouched.
"""

from __future__ import annotations

import posixpath
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from labmark.problems import InputError
from labmark.read.formats import EPOCH_1904, cell_styles
from labmark.read.grid import Book, Grid, Place
from labmark.read.guard import MOST_CELLS, check_sheets, read_part, refuse
from labmark.read.worksheet import Shared, place_of, read_worksheet, rich_text
from labmark.read.xml import attribute, elements, local, parse

_TEXT_ITEM = frozenset({"si"})
_COMMENT = frozenset({"comment"})


@dataclass(frozen=True, slots=True)
class _Package:
    """The archive of a workbook."""

    file: str
    archive: zipfile.ZipFile
    names: frozenset[str]
    read: set[str] = field(default_factory=set)

    def part(self, name: str) -> bytes:
        """Return a part; empty where it is missing. Raises InputError for the second time: each sheet has its own."""
        if name in self.read:
            what = f"the workbook points at its part {name!r} more than once"
            raise refuse(self.file, what, "open it in a spreadsheet program and save it again")
        if name not in self.names:
            return b""
        self.read.add(name)
        return read_part(self.file, self.archive, name)

    def elements(self, name: str, wanted: frozenset[str]) -> Iterator[Element]:
        """Yield the elements of these names in a part; none where it is missing."""
        data = self.part(name)
        yield from elements(self.file, name, data, wanted) if data else ()

    def targets(self, name: str) -> Iterator[tuple[str, str, str]]:
        """Yield id, kind and target part of every relation of a part."""
        folder, _, base = name.rpartition("/")
        relations = posixpath.join(folder, "_rels", f"{base}.rels")
        data = self.part(relations)
        for relation in parse(self.file, relations, data) if data else ():
            target = relation.get("Target", "")
            if relation.get("TargetMode") != "External":
                joined = posixpath.normpath(posixpath.join(folder, target)).lstrip("/")
                yield relation.get("Id", ""), relation.get("Type", "").rpartition("/")[2], joined


def read_workbook(file: str, archive: zipfile.ZipFile, sha256: str) -> Book:
    """Return the sheets of a workbook as grids.

    Raises InputError where the workbook is damaged, locked, or asks for more than a class sheet needs.
    """
    package = _Package(file, archive, frozenset(archive.namelist()))
    main = next((target for _, kind, target in package.targets("") if kind == "officeDocument"), "xl/workbook.xml")
    data = package.part(main)
    if not data:
        raise refuse(file, "the file is no workbook, or is cut short", "save the class sheet as .xlsx")
    root = parse(file, main, data)
    parts = {ident: (kind, target) for ident, kind, target in package.targets(main)}
    shared, notes = _shared(package, root, parts)
    grids = tuple(_grids(package, root, parts, shared))
    if not grids:
        raise refuse(file, "the workbook holds no sheet that can be read", "save it again as .xlsx")
    if sum(len(grid.cells) for grid in grids) > MOST_CELLS:
        raise refuse(file, f"more than {MOST_CELLS} cells are filled", "keep only the class sheet in the workbook")
    return Book(file, sha256, grids, (*notes, *_notes(package)))


def _notes(package: _Package) -> list[str]:
    notes = []
    if any("externalLinks/" in name for name in package.names):
        notes.append("the workbook has links to other files; they were not followed, the stored values were read")
    if any(name.endswith("vbaProject.bin") for name in package.names):
        notes.append("the workbook has macros; they were not run")
    return notes


def _shared(package: _Package, root: Element, parts: dict[str, tuple[str, str]]) -> tuple[Shared, list[str]]:
    """Return what the sheets share, and a note where the formats cannot be read."""
    shared = Shared(package.file)
    notes: list[str] = []
    for element in root:
        if local(element) == "workbookPr" and element.get("date1904") in ("1", "true"):
            shared.epoch = EPOCH_1904
        if local(element) == "calcPr" and element.get("fullCalcOnLoad") in ("1", "true"):
            shared.seeded = True
    for kind, target in parts.values():
        if kind == "sharedStrings":
            shared.strings = [rich_text(item) for item in package.elements(target, _TEXT_ITEM)]
        elif kind == "styles":
            try:
                shared.styles = cell_styles(parse(package.file, target, package.part(target)))
            except InputError:
                what = "the formats of this workbook could not be read"
                notes.append(f"{what}: decimals, dates and strokes cannot be told")
    return shared, notes


def _grids(package: _Package, root: Element, parts: dict[str, tuple[str, str]], shared: Shared) -> Iterator[Grid]:
    sheets = [element for element in root.iter() if local(element) == "sheet"]
    check_sheets(package.file, "workbook", len(sheets))
    for element in sheets:
        kind, target = parts.get(attribute(element, "id"), ("", ""))
        data = package.part(target) if kind == "worksheet" else b""
        if data:
            hidden = element.get("state", "visible") != "visible"
            yield read_worksheet(shared, element.get("name", ""), target, data, hidden, _comments(package, target))


def _comments(package: _Package, sheet: str) -> dict[Place, str]:
    found: dict[Place, str] = {}
    for _, kind, target in package.targets(sheet):
        for comment in package.elements(target, _COMMENT) if kind == "comments" else ():
            place = place_of(comment.get("ref", ""))
            text = " ".join("".join(part.text or "" for part in comment.iter() if local(part) == "t").split())
            if place is not None and text:
                found[place] = text
    return found
