"""The file for printing is bound from the single sheets: their pages as they are, one tree of tags, every bookmark."""

from __future__ import annotations

import io
from functools import cache
from typing import Any

import pikepdf
import pytest

from labmark.outputs.bound import COUNT, bound
from labmark.outputs.press import printed
from labmark.outputs.sheets import manuscript_of
from tests.example_tree import example_tree
from tests.seeds import few_quick


@cache
def made(**look: Any) -> dict[str, bytes]:
    """Return the PDFs of five students by path."""
    tree = example_tree()
    tree["practical"]["sheet"] |= look
    for student in tree["students"][5:]:
        student["sheet"] = None
    return dict(printed(manuscript_of(tree)))


def opened(pdf: bytes) -> Any:
    return pikepdf.open(io.BytesIO(pdf))


LOOKS = [{}, {"slips": True}, {"large": True}]


@pytest.mark.parametrize("look", few_quick(LOOKS, 3), ids=str)
def test_every_piece_of_a_page_finds_its_place_in_the_one_tree_of_tags(look):
    book = opened(made(**look)["feedback.pdf"])
    tags = book.Root.StructTreeRoot
    numbered = pikepdf.NumberTree(tags.ParentTree)
    printed = [page for page in book.pages if "/StructParents" in page]
    assert [int(page.StructParents) for page in printed] == list(range(len(printed))) == list(numbered.keys())
    for page in printed:
        for element in numbered[page.StructParents]:
            assert element.Pg.objgen == page.objgen
            while element.S != "/Document":
                assert any(kid.objgen == element.objgen for kid in element.P.K if not isinstance(kid, int))
                element = element.P
            assert element.objgen == tags.K[0].objgen


def drawn(pdf: bytes) -> list[bytes]:
    """Return what is drawn on every page but the blank ones."""
    with opened(pdf) as pages:
        return [page.Contents.read_bytes() for page in pages.pages if "/StructParents" in page]


def test_a_page_is_drawn_as_in_the_sheet_of_its_student():
    *sheets, book = made().values()
    assert drawn(book) == [page for sheet in sheets for page in drawn(sheet)]


@pytest.mark.parametrize("look", LOOKS, ids=str)
def test_each_student_has_a_part_of_the_tags_and_a_bookmark_to_their_page(look):
    book = opened(made(**look)["feedback.pdf"])
    with book.open_outline() as bookmarks:
        marks = [(mark.title.replace("\u200b", ""), mark.destination[0].objgen) for mark in bookmarks.root]
    assert [title for title, _ in marks] == [student["student"] for student in example_tree()["students"][:5]]
    pages = [page.objgen for page in book.pages]
    places = [pages.index(page) for _, page in marks]
    assert places == sorted(places)
    assert len(set(places)) == (3 if "slips" in look else 5)
    assert len(book.Root.StructTreeRoot.K[0].K) == len(set(places))


def test_it_says_of_itself_what_it_is():
    book = opened(made()["feedback.pdf"])
    with book.open_metadata() as metadata:
        assert metadata["dc:title"] == f"Feedback: {example_tree()['practical']['title']}"
        assert metadata[COUNT] == str(len(book.pages)) == "9"
        assert metadata["pdfuaid:part"] == "1"
    assert book.Root.Lang == "en-GB"
    assert book.Root.MarkInfo.Marked
    assert not book.check_pdf_syntax()


def test_the_same_sheets_give_the_same_bytes():
    *sheets, _ = made().values()
    assert bound(sheets[0], sheets) == bound(sheets[0], sheets)


def test_a_system_without_files_in_memory_binds_the_same_bytes(monkeypatch):
    *sheets, _ = made().values()
    book = bound(sheets[0], sheets)
    monkeypatch.delattr("os.memfd_create", raising=False)
    assert bound(sheets[0], sheets) == book
