"""`labmark prepare`: from a practical to the folder with the technician's card and the student's page."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from labmark.lesson.pages import card, results_sheet
from labmark.lesson.prepare import prepared
from labmark.outputs.folder import one_writer, write_folder
from labmark.practicals import named


def write_preparation(practical: str, students: int, classes: int, out: Path) -> dict[str, Any]:
    """Write the folder of what a lesson needs; return what stands in its `prepare.json`. Raises InputError."""
    with one_writer(out):
        made = prepared(named(practical), students, classes, practical)
        text = json.dumps(made.tree, ensure_ascii=False, indent=1) + "\n"
        pages = {"card.pdf": card(made), "results-sheet.pdf": results_sheet(made)}
        write_folder(out, [*pages.items(), ("prepare.json", text.encode())])
    return made.tree
