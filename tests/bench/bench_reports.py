"""Time of each report and of the whole pack of the demo, by engine.

`cpu` is processor time of the render and its programs; the pack's `wall` is what a reader
waits. Each report has a process of its own, whose peak of memory is told; the pack's is that of
its largest process.
"""

import os
import resource as system
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from lengthwise import run as commands
from lengthwise.folder import AuditFolder
from lengthwise.processes import cores, process_pool
from lengthwise.report import quarto
from lengthwise.report.pack import Part, parts_of
from lengthwise.report.render import render
from lengthwise.report.run_data import RunData, load_run
from lengthwise.report.snapshot import write_snapshot
from lengthwise.report.workers import PRELOADED
from lengthwise.reporting import KINDS, render_pack
from lengthwise.resources import resource


def run() -> Iterator[dict[str, object]]:
    """Yield one row per report and engine, then one per pack."""
    engines = ["embedded", *(["quarto"] if quarto.is_usable() else [])]
    with tempfile.TemporaryDirectory() as temporary:
        folder = commands.demo_folder(Path(temporary) / "demo")
        commands.ingest_files(folder, [], {})
        run_id = commands.analyse_period(folder, None)
        run_data = load_run(folder.database, run_id)
        parts = parts_of(run_data, folder, dict.fromkeys(KINDS))
        for part in parts:
            for engine in engines:
                yield _one(part, engine, Path(temporary))
        for engine in engines:
            yield _pack(folder, run_data, engine)


def _one(part: Part, engine: str, folder: Path) -> dict[str, object]:
    stored = write_snapshot(part.documents[0].run_data, folder / "run.json")
    source = resource("reports", part.kind.source)
    with process_pool(1, PRELOADED) as pool:
        given = (source, part.formats, stored, folder / "out", engine)
        spent = pool.submit(_rendered, *given).result()
    return {
        "report": part.kind.name, "formats": "+".join(part.formats), "engine": engine, **spent,
    }  # fmt: skip


def _rendered(
    source: Path, formats: tuple[str, ...], stored: Path, target: Path, engine: str
) -> dict[str, str]:
    """Render in a process that does nothing else; return what that took."""
    wall, cpu = time.perf_counter(), _cpu()
    render(source, formats, {"database": stored}, target, "bench", engine=engine, is_alone=True)
    return {
        "wall_s": f"{time.perf_counter() - wall:.1f}", "cpu_s": f"{_cpu() - cpu:.1f}",
        "peak_gb": f"{_peak_gb():.2f}",
    }  # fmt: skip


def _peak_gb() -> float:
    """Return the largest memory of this process or of a program it ran."""
    who = (system.RUSAGE_SELF, system.RUSAGE_CHILDREN)
    return max(system.getrusage(one).ru_maxrss for one in who) / 2**20


def _pack(folder: AuditFolder, run_data: RunData, engine: str) -> dict[str, object]:
    wall = time.perf_counter()
    made = render_pack(folder, str(run_data.run["run_id"]), engine, None, str)
    return {
        "report": "pack", "documents": sum(made.documents.values()), "engine": engine,
        "processors": cores(), "load": f"{os.getloadavg()[0]:.1f}",
        "wall_s": f"{time.perf_counter() - wall:.1f}", "peak_gb": f"{_peak_gb():.2f}",
    }  # fmt: skip


def _cpu() -> float:
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system
