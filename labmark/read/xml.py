"""XML parts of a workbook, parsed without namespaces' spelling and without entities."""

import io
from collections.abc import Iterator
from functools import lru_cache
from xml.etree.ElementTree import XML, Element, ParseError, iterparse

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from labmark.problems import InputError
from labmark.read.guard import refuse

MOST_ELEMENTS = 1_100_000
"""Rows or texts of one part: a few more than a sheet can have."""
AT_ONCE = 2**20
"""Bytes of a part that is parsed as a whole; a larger one goes by element by element."""
_DAMAGED = (ParseError, ValueError, LookupError, RecursionError)
"""What the parser says of a damaged part; an encoding that it does not know is a ValueError or a LookupError."""
_AGAIN = "open it in a spreadsheet program and save it again"


def parse(file: str, name: str, data: bytes) -> Element:
    """Return the root element of a part; raises InputError where it is no XML.

    No part may declare a document type or an entity: the guard refuses it, and so does the parser.
    """
    try:
        root: Element = fromstring(data, forbid_dtd=True)
    except (*_DAMAGED, DefusedXmlException) as error:
        raise damaged(file, name, error) from error
    return root


def elements(file: str, name: str, data: bytes, wanted: frozenset[str]) -> Iterator[Element]:
    """Yield the elements of these local names, each forgotten afterwards; raises InputError likewise.

    The many rows go through the library's fast parser (a fifth of the time of a whole reading): the guard has refused
    every part with a document type, so no entity can be declared here either.
    """
    count = 0
    try:
        small = len(data) <= AT_ONCE
        for element in XML(data).iter() if small else (each for _, each in iterparse(io.BytesIO(data))):
            if local(element.tag) in wanted:
                count += 1
                if count > MOST_ELEMENTS:
                    what = f"the part {name!r} has more than {MOST_ELEMENTS} rows or texts"
                    raise refuse(file, what, "keep only the class sheet in the file")
                yield element
                element.clear()
    except _DAMAGED as error:
        raise damaged(file, name, error) from error


def damaged(file: str, name: str, error: Exception) -> InputError:
    """Return the error for a part that cannot be taken apart."""
    return refuse(file, f"the part {name!r} of the workbook is damaged ({error})", _AGAIN)


@lru_cache(maxsize=1024)
def local(tag: object) -> str:
    """Return an element's name without its namespace: the strict dialect and the usual one differ in nothing else."""
    return tag[tag.rfind("}") + 1 :] if isinstance(tag, str) else ""
