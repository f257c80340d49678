"""Audit folders for tests: small tables written by hand, and the demo."""

import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from lengthwise.dictionary import Field, schema
from lengthwise.folder import AuditFolder
from lengthwise.store.database import connect

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "demo_dataset"

SMALL = {
    "treatments": (
        "treatment_id,patient_id,clinician_id,tooth,period\nT1,P1,C01,16,2026-01\nT2,P2,C02,11,2026-02\n"
    ),
    "canals": "treatment_id,canal,confirmed_length_mm\nT1,MB,20.5\nT1,P,21.0\nT2,C,23.5\n",
    "readings": (
        "treatment_id,canal,method,length_mm\nT1,MB,electronic,20.5\nT1,P,cbct,21.2\nT2,C,film,24.0\n"
    ),
}


def folder_with(path: Path, **tables: str | bytes) -> AuditFolder:
    """Return an audit folder whose exports are these texts."""
    folder = AuditFolder(path)
    folder.exports.mkdir(parents=True)
    (path / "settings.toml").write_text('practice_name = "Test practice"\n', encoding="utf-8")
    for name, text in tables.items():
        data = text if isinstance(text, bytes) else text.encode()
        (folder.exports / f"{name}.csv").write_bytes(data)
    return folder


def small_folder(path: Path, **changed: str | bytes) -> AuditFolder:
    """Return an audit folder with the small tables, some of them replaced."""
    return folder_with(path, **{**SMALL, **changed})


def stored_records(
    folder: AuditFolder, exports: Iterable[str]
) -> dict[str, list[tuple[Any, ...]]]:
    """Return the stored rows of exports, without where they came from."""
    connection = connect(folder.database, read_only=True)
    try:
        return {
            name: connection.execute(
                "select * exclude (load_id, file_number, row_number) "
                f"from record.{name} order by all"
            ).fetchall()
            for name in exports
        }
    finally:
        connection.close()


def demo_copy(path: Path) -> AuditFolder:
    """Return an audit folder with the demo exports."""
    folder = AuditFolder(path)
    shutil.copytree(DEMO / "exports", folder.exports)
    (path / "settings.toml").write_text('practice_name = "Demo"\n', encoding="utf-8")
    return folder


def demo_fields(name: str) -> list[Field]:
    """Return the fields of an export that the demo has: its levels are in mm, none in words."""
    return [item for item in schema(name).stored if item.name != "fill_level"]
