"""What all tests share."""

from hypothesis import settings

# A shared machine is slow at times, and a failure must come again: no deadline, fixed examples.
settings.register_profile("lengthwise", deadline=None, derandomize=True)
settings.load_profile("lengthwise")
