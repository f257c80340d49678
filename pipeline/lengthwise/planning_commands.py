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
    parser = add("plan", _plan, "cases needed for a precision or a change, and by when")
    _declare_plan(parser)
    with_folder(parser)


def _due(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from lengthwise import run

    paths = [Path(name) if name else None for name in (arguments.discontinued, arguments.out)]
    lines = run.reviews_due(folder, arguments.by, *paths).splitlines()
    return [*lines, f"List of keys: {arguments.out}"] if arguments.out else lines


def _plan(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    from lengthwise import run
    from lengthwise.analyse.plan import Wish

    names = ("half_width", "share", "after", "sd_mm", "design_effect", "population", "power")
    given = {name: getattr(arguments, name) for name in names}
    wish = Wish(arguments.aim, **given, by_month=arguments.by)
    return run.plan(folder, wish, arguments.measure)


def _declare_plan(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "aim", choices=["limit", "bias", "share", "change"],
        help="limit of agreement, bias, share, or change of a share",
    )  # fmt: skip
    for option, text in (
        ("--half-width", "wanted half width of the interval: mm, or a share such as 0.05"),
        ("--share", "expected share, before a change (default: the practice's)"),
        ("--after", "share after a change"),
        ("--sd-mm", "SD of the differences in mm (default: the practice's, electronic)"),
        ("--design-effect", "widening for patients with several (default: the practice's)"),
    ):
        parser.add_argument(option, type=float, help=text)
    parser.add_argument("--population", type=int, help="all cases there are (finite practice)")
    parser.add_argument("--power", type=float, default=0.8, help="of a change (default: 0.8)")
    parser.add_argument(
        "--measure", default="fill_within",
        help="fill_within, fill_short, fill_beyond or a criterion (default: fill_within)",
    )  # fmt: skip
    parser.add_argument("--by", help="month, e.g. 2027-03: what to expect on record by then")
