"""The class workbook of a lesson as an OpenDocument spreadsheet, which reads and looks like the other one.

Its parts are small, and their XML stands in `templates/class-sheet.ods.j2`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from labmark.lesson.columns import DEFERS, LINE, OF_PRACTICAL, Entry, Laid, Rule, shown
from labmark.outputs.archive import archive
from labmark.outputs.workbook import in_cell
from labmark.places import templates_folder

if TYPE_CHECKING:
    from markupsafe import Markup

TYPE = "application/vnd.oasis.opendocument.spreadsheet"
PARTS = {"manifest": "META-INF/manifest.xml"} | {
    part: f"{part}.xml" for part in ("content", "styles", "settings", "meta")
}
"""Block of the template -> the part of the archive that it makes."""


def class_spreadsheet(title: str, laid: Sequence[Laid], practical: Iterable[Entry], *, letter: bool = False) -> bytes:
    """Return the spreadsheet: the columns of the class sheet, and the rows of the practical's own sheet.

    It prints on A4, or on letter paper.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    env = Environment(
        loader=FileSystemLoader(templates_folder()), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    env.filters |= {"paragraphs": _paragraphs, "condition": _condition}
    template = env.get_template("class-sheet.ods.j2")
    context = template.new_context(_told(title, laid, practical, letter))
    made = {name: "".join(template.blocks[part](context)).encode() for part, name in PARTS.items()}
    return archive({"mimetype": TYPE.encode(), **made})


def _told(title: str, laid: Sequence[Laid], practical: Iterable[Entry], letter: bool) -> dict[str, Any]:
    """Return what the template takes, by its names."""
    rows = [(*each, shown(each[1])) for each in practical]
    formats = sorted({*(each.shown for each in laid), *(each for *_, each in rows)})
    return {
        "type": TYPE,
        "parts": [name for name in PARTS.values() if not name.startswith("META")],
        "title": in_cell(title),
        "defers": DEFERS,
        "paper": (27.94, 21.59) if letter else (29.7, 21.0),
        "laid": laid,
        "students": len(laid[0].texts),
        "practical": rows,
        "formats": {each: f"N{place}" for place, each in enumerate(formats)},
        "widths": sorted({*(each.width for each in laid), *OF_PRACTICAL.values()}),
        "of_practical": OF_PRACTICAL,
        "line": LINE,
    }


def _paragraphs(value: object) -> Markup:
    """Return a text in paragraphs, a line each; a space that would be lost behind another is written out."""
    from markupsafe import Markup, escape

    lines = (str(escape(line)) for line in in_cell(str(value)).split("\n"))
    return Markup("").join(Markup(f"<text:p>{re.sub('(?:^|(?<= )) ', '<text:s/>', each)}</text:p>") for each in lines)


def _condition(rule: Rule) -> str:
    """Return what a cell may hold, in the formulas of OpenDocument."""
    if rule.choices:
        return "of:cell-content-is-in-list(" + ";".join(f'"{each}"' for each in rule.choices) + ")"
    number = "of:cell-content-is-decimal-number() and "
    return number + (f"cell-content-is-between(0,{rule.most})" if rule.most is not None else "cell-content()>=0")
