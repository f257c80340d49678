"""Folders and files for the time of one run; what a killed run has left is cleared by the next."""

import os
import re
import secrets
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_PREFIX = "lengthwise-"
_OURS = re.compile(r"lengthwise-(?P<process>\d+)-\w+\Z")
_BESIDE = re.compile(r"\.(?P<name>.+)\.new-(?P<process>\d+)-[0-9a-f]+\Z")


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """Yield an empty folder of this account alone, in the system's place for such; then remove it.

    Copies of rows may lie there, so folders that a killed process left are removed first.
    """
    place = Path(tempfile.gettempdir())
    for path in sorted(place.glob(f"{_PREFIX}*")):
        match = _OURS.match(path.name)
        if match and not is_running(int(match["process"])):
            shutil.rmtree(path, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix=f"{_PREFIX}{os.getpid()}-") as made:
        yield Path(made)


@contextmanager
def file_beside(path: Path) -> Iterator[Path]:
    """Yield the name of a hidden file beside a path; it is gone when the block ends.

    What a killed process left beside the same path is removed first.
    """
    for left in sorted(path.parent.glob(".*")):
        match = _BESIDE.match(left.name)
        if match and match["name"] == path.name and not is_running(int(match["process"])):
            left.unlink(missing_ok=True)
    made = path.with_name(f".{path.name}.new-{os.getpid()}-{secrets.token_hex(4)}")
    try:
        yield made
    finally:
        made.unlink(missing_ok=True)


def is_remains(path: Path) -> bool:
    """Return whether a file has the name of one that `file_beside` gives."""
    return _BESIDE.match(path.name) is not None


def write_whole(path: Path, text: str) -> None:
    """Write a file so that its place holds what was there or all of the text, never a part."""
    with file_beside(path) as made:
        made.write_text(text, encoding="utf-8")
        made.replace(path)


def is_running(process: int) -> bool:
    """Return whether a process of this number runs; True where that cannot be asked."""
    if os.name != "posix":
        # There a signal of nought would end the process; what it left is let alone.
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
