"""Settings for all tests: property tests take the time a busy machine needs, and CI tries the same examples each time."""

import os

from hypothesis import settings

settings.register_profile("labmark", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("labmark")
