"""Settings for all tests: property tests take the time a busy machine needs, and CI tries the same examples each time."""

import os

from hypothesis import settings

from tests.seeds import times

settings.register_profile("labmark", deadline=None, max_examples=times(25), derandomize=bool(os.environ.get("CI")))
settings.load_profile("labmark")
