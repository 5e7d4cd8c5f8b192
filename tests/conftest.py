"""Settings for all tests: property tests take the time a busy machine needs, and CI tries the same examples each time."""

import gc
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from labmark.cli import main
from tests.bare import bare_files
from tests.seeds import times

# As the command itself does: see labmark.cli.
gc.set_threshold(50_000)
settings.register_profile("labmark", deadline=None, max_examples=times(25), derandomize=bool(os.environ.get("CI")))
settings.load_profile("labmark")

# A process beside each of the many small classes here would cost more than it gains.
next(one for one in main.commands["mark"].params if one.name == "jobs").default = 1


def pytest_collection_finish() -> None:
    """Leave what stays to the end, modules and tests, out of every later look for garbage."""
    gc.collect()
    gc.freeze()


@pytest.fixture
def bare() -> Iterator[None]:
    """Mark classes without their chart and sheets, for a test that looks at neither."""
    with bare_files():
        yield


@pytest.fixture(scope="session")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder that marking the class of `tests.decided` leaves: to be copied, not written to."""
    from tests.decided import Marked

    marked = Marked(tmp_path_factory.mktemp("once") / "marked")
    marked.mark()
    return marked.folder
