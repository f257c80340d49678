"""What all tests share."""

import pytest
from hypothesis import settings

# A shared machine is slow at times, and a failure must come again: no deadline, fixed examples.
settings.register_profile("lengthwise", deadline=None, derandomize=True)
settings.load_profile("lengthwise")


@pytest.fixture
def in_folder(tmp_path, monkeypatch):
    """Sections write figures into the working folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path
