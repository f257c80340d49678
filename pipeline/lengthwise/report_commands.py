"""The commands that make documents of a stored run; each returns the lines to print."""

import argparse
from collections.abc import Callable

from lengthwise.errors import SettingsError
from lengthwise.folder import AuditFolder
from lengthwise.report.documents import KINDS

Add = Callable[..., argparse.ArgumentParser]


def add_commands(add: Add, with_folder: Callable[[argparse.ArgumentParser], None]) -> None:
    """Declare the commands; `add(name, answer, text)` returns the parser."""
    parser = add("report", _report, "render one report of a stored run")
    parser.add_argument("kind", choices=list(KINDS), help="which report")
    parser.add_argument("--run", default="latest", help="run id (default: the latest)")
    had = "; ".join(f"{kind.name}: {','.join(kind.formats)}" for kind in KINDS.values())
    parser.add_argument("--formats", help=f"some of {had} (default: all)")
    _with_engine(parser)
    with_folder(parser)
    parser = add("pack", _pack, "render all reports of a period, sorted by who may read them")
    parser.add_argument("--period", help="quarter, e.g. 2026-Q3 (default: the newest run's)")
    parser.add_argument(
        "--jobs", type=int, help="documents rendered at once (default: one per processor)"
    )
    _with_engine(parser)
    with_folder(parser)
    parser = add(
        "explain", _explain, "from a number in a report to its definition and its rows"
    )
    parser.add_argument(
        "result",
        metavar="RESULT_ID",
        help="id under a figure or table; * stands for any letters",
    )
    parser.add_argument("--run", default="latest", help="run id (default: the latest)")
    parser.add_argument("--rows", help="write every row number to this CSV file")
    with_folder(parser)
    add_handbook(add)


def add_handbook(add: Add) -> None:
    """Declare `handbook`, which needs no audit folder."""
    parser = add("handbook", _handbook, "render the handbook: methods, data, proof")
    parser.add_argument(
        "dir", nargs="?", default=".", help="folder to write to (default: here)"
    )
    parser.add_argument("--formats", default="html,pdf", help="html,pdf (default: both)")
    _with_engine(parser)


def _with_engine(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--engine", default="auto", choices=["auto", "quarto", "embedded"],
        help="renderer (default: quarto where it is installed, else embedded)",
    )  # fmt: skip


def _report(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from lengthwise.reporting import render_report

    formats = tuple(arguments.formats.split(",")) if arguments.formats else None
    found = render_report(
        folder, arguments.kind, arguments.run, formats, arguments.engine, arguments.progress
    )
    return [str(path) for path in found]


def _pack(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from lengthwise import screens
    from lengthwise.reporting import render_pack, run_of_period

    if arguments.jobs is not None and arguments.jobs < 1:
        raise SettingsError("--jobs must be 1 or more")
    run_id = run_of_period(folder, arguments.period)
    return screens.pack(
        render_pack(folder, run_id, arguments.engine, arguments.jobs, arguments.progress)
    )


def _handbook(arguments: argparse.Namespace, folder: AuditFolder | None) -> list[str]:
    from pathlib import Path

    from lengthwise.report.render import render
    from lengthwise.resources import resource

    found = render(
        resource("reports", "handbook.qmd"), arguments.formats.split(","), {},
        Path(arguments.dir), "handbook", engine=arguments.engine,
    )  # fmt: skip
    return [str(path) for path in found]


def _explain(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from pathlib import Path

    from lengthwise.explaining import explain

    rows_to = Path(arguments.rows) if arguments.rows else None
    return explain(folder, arguments.result, arguments.run, rows_to)
