"""Binds PDFs that Typst wrote into one that is as accessible as they are.

To lay all sheets out again as one document would take as long as all of them together, and memory for every page. Here
the pages are taken as they are. What a document says besides has to be joined: the tree of tags, the numbers by which
a page finds its place in that tree, and the bookmarks.
"""

import io
import os
from collections.abc import Iterable, Iterator
from typing import Any

import pikepdf

COUNT = "{http://ns.adobe.com/xap/1.0/t/pg/}NPages"
"""Key of the number of pages in the metadata (XMP)."""


def bound(cover: bytes, parts: Iterable[bytes]) -> bytes:
    """Return the pages of all `parts` as one PDF, each part on paper of its own where both sides are printed on.

    `cover` lends title, language and metadata; its page is left out. A part keeps its bookmarks, and its tags become a
    part of the one tree. Every PDF is one that Typst wrote as PDF/UA-1, without annotations. The same bytes come of the
    same parts.
    """
    with _opened(cover) as book:
        _empty(book)
        with book.open_outline() as bookmarks:
            bookmarks.root.clear()
            for part in parts:
                with _opened(part) as source:
                    bookmarks.root.extend(_added(book, source))
        with book.open_metadata(set_pikepdf_as_editor=False) as metadata:
            # They are the cover's own, and follow from the title: two classes may have the same.
            del metadata["xmpMM:DocumentID"], metadata["xmpMM:InstanceID"]
            metadata[COUNT] = str(len(book.pages))
        out = io.BytesIO()
        book.save(out, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return out.getvalue()


def _opened(pdf: bytes) -> Any:
    """Return a PDF, opened.

    Of bytes pikepdf asks Python for a few at a time, a third of the time that binding takes; what the system calls a
    file it reads by itself, and Linux has files that stand nowhere but in memory.
    """
    if not hasattr(os, "memfd_create"):  # nor has it every Python for Linux
        return pikepdf.open(io.BytesIO(pdf))
    with open(os.memfd_create("sheet"), "w+b") as file:
        file.write(pdf)
        file.flush()
        return pikepdf.open(file, access_mode=pikepdf.AccessMode.mmap)


def _empty(book: Any) -> None:
    """Take the page and the tags out of the cover."""
    del book.pages[0]
    tags = book.Root.StructTreeRoot
    tags.K[0].K, tags.RoleMap = pikepdf.Array(), pikepdf.Dictionary()
    tags.ParentTree = pikepdf.Dictionary(Nums=pikepdf.Array())


def _added(book: Any, source: Any) -> list[Any]:
    """Add the pages of `source` to `book`, on paper of their own, and its tags; return its bookmarks."""
    if len(book.pages) % 2:
        book.add_blank_page(page_size=book.pages[-1].mediabox[2:])
    first = len(book.pages)
    book.pages.extend(source.pages)
    _tag(book.Root.StructTreeRoot, book.copy_foreign(source.Root.StructTreeRoot), book.pages[first:])
    pages = [page.objgen for page in source.pages]
    return [
        pikepdf.OutlineItem(str(mark.Title), first + pages.index(page.objgen), str(kind)[1:], left=left, top=top)
        for mark in _bookmarks(source.Root.Outlines.get("/First"))
        for page, kind, left, top, _ in [mark.Dest]
    ]


def _bookmarks(mark: Any) -> Iterator[Any]:
    """Yield a bookmark and those that follow it."""
    while mark is not None:
        yield mark
        mark = mark.get("/Next")


def _tag(tags: Any, more: Any, pages: Iterable[Any]) -> None:
    """Hang a tree of tags into another one as a part of it, and number its pages anew."""
    document, part = tags.K[0], more.K[0]
    part.S, part.P = pikepdf.Name.Part, document
    document.K.append(part)
    tags.RoleMap.update(more.RoleMap)
    # Cells are named only for lists of headers, which the sheets do without; the names would stand twice.
    for cell in pikepdf.NameTree(more.IDTree).values() if "/IDTree" in more else ():
        del cell.ID
    numbered, numbers = pikepdf.NumberTree(more.ParentTree), tags.ParentTree.Nums
    for page in pages:
        numbers.extend([len(numbers) // 2, numbered[page.StructParents]])
        page.StructParents = len(numbers) // 2 - 1
    tags.ParentTreeNextKey = len(numbers) // 2
