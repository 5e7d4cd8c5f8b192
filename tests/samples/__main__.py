"""Write sample_data again."""

from __future__ import annotations

from tests.samples.folder import write_samples

if __name__ == "__main__":
    for path in write_samples():
        print(path)
