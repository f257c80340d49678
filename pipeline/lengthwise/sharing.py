"""Wires a stored run to the summary that a practice shares, and summaries to their pooling."""

import json
from collections.abc import Sequence
from pathlib import Path

from lengthwise.errors import ReportError
from lengthwise.folder import AuditFolder
from lengthwise.scratch import write_whole

RECORD = "shared-summaries.json"


def share(
    folder: AuditFolder, site: str, out: Path | None, leave_out: Sequence[str] = ()
) -> list[str]:
    """Return the summary in words; write it to `out` where it is named and nothing forbids it."""
    from lengthwise.report.run_data import load_run
    from lengthwise.report.shared_releases import read_releases
    from lengthwise.report.sharing.summary import summarise
    from lengthwise.report.sharing.text import refusal_lines, summary_lines

    run_data = load_run(folder.database)
    place = folder.reports(str(run_data.run["period"])) / RECORD
    earlier = [
        item for path in sorted(folder.root.glob(f"reports/*/internal/{RECORD}"))
        for item in json.loads(path.read_text(encoding="utf-8"))
    ]  # fmt: skip
    summary, reasons = summarise(
        run_data, site, releases=read_releases(folder), earlier=earlier, leave_out=leave_out
    )
    lines = summary_lines(summary)
    if reasons:
        raise ReportError("\n".join([*lines, *refusal_lines(reasons)]))
    if out is None:
        return [*lines, "Nothing was written. Read it, then name a file with --out FILE."]
    text = json.dumps(summary, indent=2, ensure_ascii=False) + "\n"
    write_whole(out, text)
    _record(place, summary)
    return [*lines, f"Summary: {out}"]


def _record(place: Path, summary: dict[str, object]) -> None:
    """Keep what was shared, so that the next summary can be held against it."""
    known = json.loads(place.read_text(encoding="utf-8")) if place.is_file() else []
    if summary not in known:
        place.parent.mkdir(parents=True, exist_ok=True)
        write_whole(place, json.dumps([*known, summary], indent=1) + "\n")


def pool_files(paths: Sequence[Path], out: Path | None) -> list[str]:
    """Return the pooled results in words; write the numbers to `out` where it is named."""
    from lengthwise.report.sharing.pooled import as_json, pool, read_summary
    from lengthwise.report.sharing.text import pooled_lines

    pooled = pool([read_summary(path) for path in paths])
    lines = pooled_lines(pooled)
    if out is not None:
        out.write_text(json.dumps(as_json(pooled), indent=2) + "\n", encoding="utf-8")
        lines.append(f"Pooled numbers: {out}")
    return lines
