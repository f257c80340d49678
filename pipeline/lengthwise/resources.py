"""Finds sql/, reports/ and demo_dataset/, in a checkout or inside the installed wheel."""

from functools import cache
from pathlib import Path

_HERE = Path(__file__).resolve().parent


@cache
def resource(*parts: str) -> Path:
    """Return the path of a shipped file or folder, e.g. `resource("sql", "marts")`."""
    packed = _HERE / "_resources"
    root = packed if packed.is_dir() else _HERE.parents[1]
    return root.joinpath(*parts)
