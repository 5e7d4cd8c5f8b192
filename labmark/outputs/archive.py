"""A workbook's archive with everything settled: same content, same bytes, and a value beside every formula.

The library that writes the workbook stamps the time on it in three places and leaves formulas without a value. Both are
put right in the finished archive:

    <c r="M2"><f>SUM(C2:K2)</f><v></v></c>   becomes   <c r="M2"><f>SUM(C2:K2)</f><v>12</v></c>
"""

import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

EPOCH = (1980, 1, 1, 0, 0, 0)
"""The earliest time that an entry of an archive can bear; it stands for "no time"."""

_STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(</dcterms:)")
_SHEET = re.compile(r"xl/worksheets/sheet([0-9]+)\.xml")
_FORMULA = re.compile(r'<c r="([A-Z]+[0-9]+)"([^>]*)>(<f>[^<]*</f>)<v(?:/>|></v>)')


def settled(workbook: bytes, values: Sequence[Mapping[str, float | str]]) -> bytes:
    """Return the archive of a workbook without times, and with the value of every formula.

    `values` holds, sheet by sheet in order, cell -> value of the formula there; text becomes a text result.
    Formulas of the teacher's have none: they are worked out when the file is opened.
    """
    with zipfile.ZipFile(io.BytesIO(workbook)) as source:
        return archive({name: _settled_part(name, source.read(name), values) for name in source.namelist()})


def archive(parts: Mapping[str, bytes]) -> bytes:
    """Return an archive of named parts without times."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as target:
        for name, data in parts.items():
            entry = zipfile.ZipInfo(name, EPOCH)
            # What is called so is read as it stands.
            entry.compress_type = zipfile.ZIP_DEFLATED if name != "mimetype" else zipfile.ZIP_STORED
            entry.create_system = 3  # else it tells on which system the archive was made
            entry.external_attr = 0o600 << 16
            target.writestr(entry, data, compresslevel=6)
    return stream.getvalue()


def _settled_part(name: str, data: bytes, values: Sequence[Mapping[str, float | str]]) -> bytes:
    if name == "docProps/core.xml":
        return _STAMP.sub(rb"\g<1>1980-01-01T00:00:00Z\2", data)
    sheet = _SHEET.fullmatch(name)
    of = values[int(sheet[1]) - 1] if sheet and int(sheet[1]) <= len(values) else {}
    return _with_values(data.decode(), of).encode() if of else data


def _with_values(cells: str, values: Mapping[str, float | str]) -> str:
    def filled(found: re.Match[str]) -> str:
        cell, attributes, formula = found.groups()
        value = values.get(cell)
        if value is None:
            return found[0]
        if isinstance(value, str):
            return f'<c r="{cell}"{attributes} t="str">{formula}<v>{escape(value)}</v>'
        return f'<c r="{cell}"{attributes}>{formula}<v>{value!r}</v>'

    return _FORMULA.sub(filled, cells)
