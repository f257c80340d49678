"""Ingest with every check against the engine's own typed read of the same file; then derive.

The typed read into a database file is timed before and after ours and the mean of both taken,
since other work on the machine comes and goes; `processor_ratio` is that of processor seconds,
which such work disturbs least. Each step has a process of its own, so its peak of memory is its
own. `exponent` is the slope of log processor seconds on log rows since the size before: 1 is
linear. The largest size takes ten minutes of a quiet machine, and 10 GB of the disk that holds
temporary files.
"""

import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import duckdb

from folders import folder_with
from lengthwise.derive.build import build
from lengthwise.dictionary import schema
from lengthwise.folder import AuditFolder
from lengthwise.intake import ingest_files
from lengthwise.periods import parse_quarter
from lengthwise.settings import load_settings
from lengthwise.store.database import connect

# Readings of one canal scatter by 0.4 mm about its length, as they do in the demo: in half the
# canals two of them lie more than 1 mm apart, which the checks look into.
SIZES = (1_000_000, 10_000_000, 50_000_000)
_READINGS = """
copy (
    select 'T' || (i // 12) as treatment_id, (['MB', 'DB'])[1 + (i // 6) % 2] as canal,
        (['film', 'electronic', 'cbct'])[1 + i % 3] as method, 'initial' as stage,
        1 + (i // 3) % 2 as replicate,
        round(18 + hash(i // 6) % 50 / 10 + 0.8 * (random() + random() + random() - 1.5), 1) as length_mm,
        (['dry', 'wet'])[1 + i % 2] as canal_state, 15 as file_size_iso, 'no' as metal_contact,
        'yes' as circuit_checked, 'clip' as electrode, 'yes' as stable, 'C01' as observer_id
    from range({rows}) as numbers (i)
) to '{path}' (header)
"""
_CANALS = """
copy (
    select distinct 'T' || (i // 2) as treatment_id, (['MB', 'DB'])[1 + i % 2] as canal,
        20.5 as confirmed_length_mm
    from range({rows}) as numbers (i)
) to '{path}' (header)
"""
_TREATMENTS = """
copy (
    select 'T' || i as treatment_id, 'P' || (i // 2) as patient_id, 'C01' as clinician_id,
        '16' as tooth, '2026-01' as period
    from range({rows}) as numbers (i)
) to '{path}' (header)
"""
_TESTS = Path(__file__).resolve().parents[1]
_TYPES = {"number": "double", "integer": "integer", "boolean": "boolean"}


def _make(folder: AuditFolder, rows: int) -> dict[str, Any]:
    """Write the exports and store the readings' parents."""
    maker = duckdb.connect()
    maker.execute("set enable_progress_bar = false")
    texts = {
        "treatments": _TREATMENTS.format(
            rows=rows // 12 + 1, path=_export(folder, "treatments")
        ),
        "canals": _CANALS.format(rows=rows // 6 + 2, path=_export(folder, "canals")),
        "readings": _READINGS.format(rows=rows, path=_export(folder, "readings")),
    }
    for text in texts.values():
        maker.execute(text)
    maker.close()
    ingest_files(folder, [_export(folder, "treatments"), _export(folder, "canals")], {})
    return {}


def _export(folder: AuditFolder, name: str) -> Path:
    return folder.exports / f"{name}.csv"


def _typed_read(folder: AuditFolder, _: int) -> dict[str, Any]:
    """Read into a table of a database file of its own, checks not counted."""
    database = folder.root / "typed.duckdb"
    columns = ", ".join(
        f"'{item.name}': '{_TYPES.get(item.type, 'varchar')}'"
        for item in schema("readings").fields
    )
    connection = duckdb.connect(str(database))
    connection.execute("set enable_progress_bar = false")
    connection.execute(
        f"create table readings as select * from read_csv('{_export(folder, 'readings')}', "
        f"header = true, auto_detect = false, columns = {{{columns}}})"
    )
    connection.close()
    database.unlink()
    return {}


def _ingest(folder: AuditFolder, _: int) -> dict[str, Any]:
    result = ingest_files(folder, [_export(folder, "readings")], {})
    return {"set_aside": result.rows_quarantined, "findings": len(result.findings)}


def _derive(folder: AuditFolder, _: int) -> dict[str, Any]:
    connection = connect(folder.database)
    build(connection, load_settings(folder.root), parse_quarter("2026-Q1"))
    (row,) = connection.execute("select count(*) from marts.length_pairs").fetchall()
    connection.close()
    return {"pairs": int(row[0])}


_STEPS: dict[str, Callable[[AuditFolder, int], dict[str, Any]]] = {
    "make": _make, "typed": _typed_read, "ingest": _ingest, "derive": _derive,
}  # fmt: skip


def _timed(step: str, root: str, rows: str) -> dict[str, Any]:
    """Return what a step tells, its seconds and the peak of this process."""
    start, processor = time.perf_counter(), time.process_time()
    found = _STEPS[step](AuditFolder(Path(root)), int(rows))
    return {
        **found,
        "seconds": time.perf_counter() - start,
        "processor": time.process_time() - processor,
        "peak_gb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6,
    }


def _in_process(step: str, folder: AuditFolder, rows: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "bench.bench_ingest", step, str(folder.root), str(rows)]
    done = subprocess.run(command, cwd=_TESTS, capture_output=True, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def measure(rows: int) -> dict[str, dict[str, Any]]:
    """Return what each step took for one size; only this folder holds the files."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = folder_with(Path(scratch) / "audit")
        _in_process("make", folder, rows)
        before = _in_process("typed", folder, rows)
        ours = _in_process("ingest", folder, rows)
        after = _in_process("typed", folder, rows)
        derived = _in_process("derive", folder, rows)
    return {"before": before, "ingest": ours, "after": after, "derive": derived}


def run(sizes: tuple[int, ...] = SIZES) -> Iterator[dict[str, Any]]:
    """Yield two rows for each size: ingest, and derive."""
    earlier: dict[str, dict[str, Any]] = {}
    for at, rows in enumerate(sizes):
        found = measure(rows)
        for step in ("ingest", "derive"):
            row = {"what": f"{step} of {rows:,} readings", **_against_typed(found, step)}
            if earlier:
                growth = math.log(found[step]["processor"] / earlier[step]["processor"])
                row["exponent"] = round(growth / math.log(rows / sizes[at - 1]), 2)
            told = ("set_aside", "findings", "pairs")
            own = {key: value for key, value in found[step].items() if key in told}
            yield {**row, "peak_gb": round(found[step]["peak_gb"], 2), **own}
        earlier = found


def _against_typed(found: dict[str, dict[str, Any]], step: str) -> dict[str, float]:
    before, own, after = found["before"], found[step], found["after"]
    typed = {key: (before[key] + after[key]) / 2 for key in ("seconds", "processor")}
    return {
        "seconds": round(own["seconds"], 1),
        "typed_before_s": round(before["seconds"], 1),
        "typed_after_s": round(after["seconds"], 1),
        "ratio": round(own["seconds"] / typed["seconds"], 2),
        "processor_ratio": round(own["processor"] / typed["processor"], 2),
    }


if __name__ == "__main__":
    print(json.dumps(_timed(*sys.argv[1:])))
