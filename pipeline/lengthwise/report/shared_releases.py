"""The records of what was shared, kept with the internal reports of an audit folder."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from lengthwise.folder import AuditFolder
from lengthwise.report.disclosure import release_record
from lengthwise.report.run_data import RunData

FILE_NAME = "shared-releases.json"
Record = dict[str, Any]


def read_releases(folder: AuditFolder) -> list[Record]:
    """Return every record of the folder, by period and then in the order they were shared."""
    places = sorted(folder.root.glob(f"reports/*/internal/{FILE_NAME}"))
    return [record for place in places for record in _read(place)]


def releases_text(folder: AuditFolder, views: Sequence[RunData]) -> str:
    """Return the file of the views' period: what it held, and each view that adds to it.

    A record is never taken out: what was shared stays known.
    """
    records = _read(folder.reports(str(views[0].run["period"])) / FILE_NAME)
    for view in views:
        record = release_record(view)
        if record["results"] not in [known["results"] for known in records]:
            records.append(record)
    return json.dumps(records, indent=1) + "\n"


def _read(place: Path) -> list[Record]:
    return json.loads(place.read_text(encoding="utf-8")) if place.is_file() else []
