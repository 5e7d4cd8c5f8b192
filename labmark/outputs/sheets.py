"""What the students' sheets say, as data for the template. What a student typed is only ever data, never markup."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from labmark.outputs.each import results_of
from labmark.outputs.fit import DENSITIES, LARGE, SLIPS
from labmark.outputs.forms import forms_of
from labmark.outputs.press import Manuscript
from labmark.outputs.printable import REPLACEMENT, all_printable, families, printable, printable_name
from labmark.outputs.sheet_data import class_data, student_data

Tree = Mapping[str, Any]


def manuscript_of(tree: Tree) -> Manuscript:
    """Return what the sheets of a class say, in its order; a student whose `sheet` is None gets none."""
    places = [place for place, student in enumerate(tree["students"]) if student.get("sheet")]
    group, results, forms = class_data(tree), results_of(tree), forms_of(tree)
    printed = all_printable(forms.all(group))
    sheets = []
    for place in places:
        sheet = forms.all(student_data(tree, place, group, results))
        name = printable_name(sheet["name"], sheet["number"])
        sheets.append({**all_printable(sheet), "name": name, "title": f"{name}: {printed['title']}"})
    steps = LARGE if printed["large"] else SLIPS if printed["slips"] else DENSITIES
    data = {
        "title": f"{forms('Feedback')}: {printed['title']}",
        "fonts": families(),
        "class": printed,
        "language": forms.language,
        "words": forms.labels("sheet.typ"),
        "densities": [asdict(density) | {"under": density.under} for density in steps],
        "several": any(sheet["several"] for sheet in sheets),
    }
    paths = [tree["students"][place]["sheet"] for place in places]
    return Manuscript(paths, sheets, printed, steps, json.dumps(data, ensure_ascii=False))


def sheet_warnings(tree: Tree) -> list[str]:
    """Return what the teacher should know of the sheets, a sentence each: names and titles that cannot be printed."""
    warnings = []
    if REPLACEMENT in printable(tree["practical"]["title"]):
        warnings.append("The title of the practical holds characters that cannot be printed; � stands for them.")
    for student in tree["students"]:
        name = f"Student {student['number']}"
        if student["student"] != name and printable_name(student["student"], student["number"]) == name:
            where = f" ({', '.join(student['cells'][:1])})" if student.get("cells") else ""
            warnings.append(
                f"The name of student {student['number']}{where} cannot be printed; the sheet says “{name}”."
            )
    return warnings
