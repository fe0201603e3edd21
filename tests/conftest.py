"""One rule for all property tests: the same examples in every run, and no deadline on a busy machine."""

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("house")
