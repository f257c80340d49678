"""The commands `share` and `pool`: one practice's summary for others, and several together."""

import argparse
from collections.abc import Callable
from pathlib import Path

from lengthwise.folder import AuditFolder

Add = Callable[..., argparse.ArgumentParser]


def add_commands(add: Add, with_folder: Callable[[argparse.ArgumentParser], None]) -> None:
    """Declare both commands."""
    parser = add(
        "share", _share, "this practice's summary for others, shown before it is written"
    )
    parser.add_argument(
        "--site", required=True, help="code of this practice, letters and digits, not its name"
    )
    parser.add_argument(
        "--out", help="write the summary to this JSON file (default: show only)"
    )
    parser.add_argument(
        "--leave-out", default="",
        help="parts or methods to leave out: agreement,fill,outcome,model or a method",
    )  # fmt: skip
    with_folder(parser)
    parser = add("pool", _pool, "pool the summaries of several practices")
    parser.add_argument("files", nargs="+", help="summaries written by lengthwise share")
    parser.add_argument("--out", help="write the pooled numbers to this JSON file")


def _share(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from lengthwise.sharing import share

    left_out = [name for name in arguments.leave_out.split(",") if name]
    out = Path(arguments.out) if arguments.out else None
    return share(folder, arguments.site, out, left_out)


def _pool(arguments: argparse.Namespace, folder: AuditFolder | None) -> list[str]:
    from lengthwise.sharing import pool_files

    out = Path(arguments.out) if arguments.out else None
    return pool_files([Path(name) for name in arguments.files], out)
