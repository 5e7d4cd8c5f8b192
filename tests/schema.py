"""Write templates/results.schema.json anew from the types in `labmark.results`: `python -m tests.schema`."""

from __future__ import annotations

import json

from labmark.places import templates_folder
from labmark.results import schema

FILE = templates_folder() / "results.schema.json"


def generated() -> str:
    """Return the text of the file as it should be."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(generated(), encoding="utf-8")
