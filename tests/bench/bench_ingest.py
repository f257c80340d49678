"""Ingest with every check against the engine's own typed read of the same file."""

import resource
import tempfile
import time
from pathlib import Path

import duckdb

from folders import folder_with
from lengthwise.dictionary import schema
from lengthwise.intake import ingest_files

# Readings of one canal scatter by 0.4 mm about its length, as they do in the demo: in half the
# canals two of them lie more than 1 mm apart, which the checks look into.
SIZES = (1_000_000, 10_000_000)
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
_TYPES = {"number": "double", "integer": "integer", "boolean": "boolean"}


def _typed_read(path: Path, database: Path) -> float:
    """Return the seconds of a typed read into a table of a database file, checks not counted."""
    connection = duckdb.connect(str(database))
    connection.execute("set enable_progress_bar = false")
    columns = ", ".join(
        f"'{item.name}': '{_TYPES.get(item.type, 'varchar')}'"
        for item in schema("readings").fields
    )
    start = time.perf_counter()
    connection.execute(
        f"create table readings as select * from read_csv('{path}', header = true, "
        f"auto_detect = false, columns = {{{columns}}})"
    )
    connection.close()
    return time.perf_counter() - start


def measure(rows: int) -> dict[str, object]:
    """Return the row of the table for one size."""
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        folder = folder_with(root / "audit")
        maker = duckdb.connect()
        maker.execute("set enable_progress_bar = false")
        path = folder.exports / "readings.csv"
        maker.execute(
            _TREATMENTS.format(rows=rows // 12 + 1, path=folder.exports / "treatments.csv")
        )
        maker.execute(_CANALS.format(rows=rows // 6 + 2, path=folder.exports / "canals.csv"))
        maker.execute(_READINGS.format(rows=rows, path=path))
        maker.close()
        parents = [folder.exports / "treatments.csv", folder.exports / "canals.csv"]
        ingest_files(folder, parents, {})
        start = time.perf_counter()
        result = ingest_files(folder, [path], {})
        ours = time.perf_counter() - start
        typed = _typed_read(path, root / "typed.duckdb")
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        return {
            "what": f"ingest of {rows:,} readings", "ours_s": round(ours, 1),
            "typed_read_s": round(typed, 1), "ratio": round(ours / typed, 2),
            "peak_gb": round(peak, 2), "set_aside": result.rows_quarantined,
        }  # fmt: skip


def run(sizes: tuple[int, ...] = SIZES) -> list[dict[str, object]]:
    """Return one row per size."""
    return [measure(rows) for rows in sizes]


if __name__ == "__main__":
    for row in run():
        print(row)
