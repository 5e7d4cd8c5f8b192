"""Folders marked without chart and sheets, which take most of the time: for tests that look at neither."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext

import pytest

from labmark import pipeline
from labmark.outputs import chart


@contextmanager
def bare_files() -> Iterator[None]:
    """Mark classes meanwhile without their chart and sheets."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chart, "distribution", lambda _: chart.Chart(b"<svg/>", b"", "the chart"))
        patch.setattr(chart, "each_distribution", lambda _: ())
        patch.setattr(pipeline, "_printer", lambda _: nullcontext(lambda *_: list))
        yield
