"""Files are made in a hidden folder beside their place and reach it together, or not at all."""

import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lengthwise.report.pack_manifest import MANIFEST, listed
from lengthwise.scratch import is_remains, is_running

_HIDDEN = re.compile(r"\.(?P<period>.+)\.(?P<part>new|old)-(?P<process>\d+)-[0-9a-f]+\Z")


@contextmanager
def hidden(reports: Path, period: str) -> Iterator[Path]:
    """Yield an empty hidden folder beside `reports/period`; it is gone when the block ends.

    What a killed process has left is cleared first.
    """
    reports.mkdir(parents=True, exist_ok=True)
    _clear(reports, period)
    stage = _beside(reports / period, "new")
    stage.mkdir(mode=0o700)
    try:
        yield stage
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def replace_whole(stage: Path, place: Path) -> None:
    """Put the stage in the place of the period's folder.

    What an earlier pack made and this one does not is dropped; files that no pack made,
    such as a reader's notes, are carried over.
    """
    _carry_over(place, stage)
    old = _beside(place, "old")
    stage.chmod(0o755)
    if place.exists():
        place.rename(old)
    stage.rename(place)
    shutil.rmtree(old, ignore_errors=True)


def move_into(stage: Path, place: Path) -> list[Path]:
    """Move every file of the stage to its place, over an older one of its name."""
    moved = []
    for path in sorted(path for path in stage.rglob("*") if path.is_file()):
        target = place / path.relative_to(stage)
        target.parent.mkdir(parents=True, exist_ok=True)
        moved.append(path.replace(target))
    return moved


def _beside(place: Path, part: str) -> Path:
    name = f".{place.name}.{part}-{os.getpid()}-{secrets.token_hex(4)}"
    return place.with_name(name)


def _clear(reports: Path, period: str) -> None:
    """Put back what a killed process had moved aside; remove what it had begun."""
    for path in sorted(reports.glob(".*")):
        match = _HIDDEN.match(path.name)
        if not match or match["period"] != period or is_running(int(match["process"])):
            continue
        if match["part"] == "old" and not (reports / period).exists():
            path.rename(reports / period)
        else:
            shutil.rmtree(path, ignore_errors=True)


def _carry_over(place: Path, stage: Path) -> None:
    made = {
        folder.relative_to(place) / name
        for folder in (path.parent for path in place.glob(f"*/{MANIFEST}"))
        for name in (*listed(folder), MANIFEST)
    }
    for path in sorted(place.rglob("*")):
        relative = path.relative_to(place)
        is_others = path.is_file() and relative not in made and not is_remains(path)
        if is_others and not (stage / relative).exists():
            (stage / relative).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, stage / relative)
