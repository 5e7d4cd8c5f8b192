"""Makes the invented classes in sample_data, and the list of what was planted in them.

    python -m tests.samples            write sample_data again, byte for byte

`plans` says who is in a class and what goes wrong, `bench` lets them titrate, `working` lets them reckon, `classes`
lists what was planted, `files` writes it all down, `compare` holds a marked class against the list. The chemistry is
written out here once more on purpose, so that labmark is not tested against itself.
"""

from __future__ import annotations

from tests.samples.folder import FOLDER, sample_files, write_samples

__all__ = ["FOLDER", "sample_files", "write_samples"]
