"""Random names for the clinicians' sheets, and the key that leads from a name to a code.

The key lies with the internal reports, never beside the sheets.
"""

import csv
import io
import re
import secrets
from pathlib import Path

from lengthwise.report import escape

FILE_NAME = "clinician-key.csv"
HEADER = ("sheet", "clinician_id")
_SLUG = re.compile(r"[0-9a-f]{16}\Z")


def key_path(internal: Path) -> Path:
    """Return where the key lies: in the folder of the internal reports of a period."""
    return internal / FILE_NAME


def read_key(path: Path) -> dict[str, str]:
    """Return slug by clinician code; empty where there is no key yet.

    A sheet that is rendered again keeps its name, so that the old one is replaced.
    """
    if not path.is_file():
        return {}
    with path.open(encoding="utf-8", newline="") as handle:
        rows = [row for row in csv.reader(handle) if len(row) == len(HEADER)]
    return {_unguarded(code): slug for slug, code in rows if _SLUG.match(slug)}


def with_new(known: dict[str, str], codes: list[str]) -> dict[str, str]:
    """Return a slug for every code: the known one, else a new one drawn at random."""
    return {code: known.get(code) or secrets.token_hex(8) for code in codes}


def key_text(slugs: dict[str, str]) -> str:
    """Return the key as CSV, in the order of the slugs so that it shows no order of people."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(HEADER)
    for code, slug in sorted(slugs.items(), key=lambda pair: pair[1]):
        writer.writerow([slug, escape.csv(code)])
    return buffer.getvalue()


def code_of(path: Path, slug: str) -> str | None:
    """Return the clinician of a sheet's name, None where the key does not have it."""
    return {value: code for code, value in read_key(path).items()}.get(slug)


def _unguarded(code: str) -> str:
    is_guarded = code.startswith("'") and escape.csv(code[1:]) == code
    return code[1:] if is_guarded else code
