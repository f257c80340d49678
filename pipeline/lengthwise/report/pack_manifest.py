"""What a folder of reports holds: every file with its hash, and what made it."""

import hashlib
import json
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from lengthwise.scratch import write_whole

MANIFEST = "manifest.json"
FORMAT = "lengthwise pack 1"
BLOCK_BYTES = 1 << 20


def engine_name(engine: str) -> str:
    """Return the engine with the versions that decide what it writes."""
    if engine == "quarto":
        from lengthwise.report import quarto

        return f"quarto {'.'.join(str(part) for part in quarto.version())}"
    from importlib.metadata import version

    import pypandoc

    return f"embedded (pandoc {pypandoc.get_pandoc_version()}, typst {version('typst')})"


def write_manifest(
    folder: Path, names: Collection[str], run: Mapping[str, Any], engine: str
) -> Path:
    """Write the manifest of one audience's folder, from its own files and its own view.

    Parameters
    ----------
    names : collection of str
        The files just made. What an older manifest names keeps its entry; other files that
        lie there are not named.
    run : mapping
        The run as the folder's documents know it: a shared view has no versions and no id
        that could be matched with another record.
    """
    made = {name: _entry(folder / name, str(run["run_id"]), engine) for name in names}
    kept = {name: entry for name, entry in _entries(folder).items() if (folder / name).exists()}
    content = {
        "format": FORMAT,
        "audience": folder.name,
        "period": str(run["period"]),
        "run_id": str(run["run_id"]),
        "data_as_of": str(run["created_at"])[:10],
        "lengthwise": str(run["version"]),
        "engine": engine,
        "versions": dict(run.get("versions") or {}),
        "files": [entry for _, entry in sorted((kept | made).items())],
    }
    target = folder / MANIFEST
    text = json.dumps(content, indent=2, ensure_ascii=False)
    write_whole(target, f"{text}\n")
    return target


def listed(folder: Path) -> list[str]:
    """Return the files that a folder's manifest names, none where there is no manifest."""
    return list(_entries(folder))


def sha256_of(path: Path) -> str:
    """Return the hash of a file's bytes."""
    found = hashlib.sha256()
    with path.open("rb") as handle:
        while block := handle.read(BLOCK_BYTES):
            found.update(block)
    return found.hexdigest()


def _entries(folder: Path) -> dict[str, dict[str, Any]]:
    try:
        content = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        return {Path(str(item["name"])).name: dict(item) for item in content["files"]}
    except (OSError, ValueError, KeyError, TypeError):
        # A manifest that someone has changed names nothing we could rely on.
        return {}


def _entry(path: Path, run_id: str, engine: str) -> dict[str, Any]:
    return {
        "name": path.name,
        "bytes": path.stat().st_size,
        "sha256": sha256_of(path),
        "run_id": run_id,
        "engine": engine,
    }
