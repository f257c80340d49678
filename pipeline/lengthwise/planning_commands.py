"""The commands `due` and `plan`: their options, and the lines they answer with."""

import argparse
from collections.abc import Callable
from pathlib import Path

from lengthwise.folder import AuditFolder

Add = Callable[..., argparse.ArgumentParser]


def add_commands(add: Add, with_folder: Callable[[argparse.ArgumentParser], None]) -> None:
    """Declare both commands."""
    parser = add("due", _due, "teeth due, overdue or lost for review, by key")
    parser.add_argument("--by", help="month, e.g. 2026-09 (default: the latest quarter's last)")
    parser.add_argument("--out", help="write the list to this CSV file, keys only")
    parser.add_argument(
        "--discontinued", help="CSV file with treatment_id of teeth that are out of reach"
    )
    with_folder(parser)


def _due(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from lengthwise import run

    paths = [Path(name) if name else None for name in (arguments.discontinued, arguments.out)]
    lines = run.reviews_due(folder, arguments.by, *paths).splitlines()
    return [*lines, f"List of keys: {arguments.out}"] if arguments.out else lines
