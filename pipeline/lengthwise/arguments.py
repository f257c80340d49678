"""Arguments that several commands share, and those of commands with many."""

import argparse
import os


def with_folder(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the audit folder."""
    parser.add_argument(
        "--folder", default=os.curdir, help="audit folder (default: the current folder)"
    )


def with_dialect(parser: argparse.ArgumentParser) -> None:
    """Add the options that say how files are written."""
    parser.add_argument("--separator", help="column separator: , ; | tab (default: ,)")
    parser.add_argument("--decimal", help="decimal mark: . or , (default: .)")
    parser.add_argument("--encoding", help="text encoding (default: utf-8)")
    parser.add_argument(
        "--date-order", dest="date_order", help="date order: ymd, dmy, mdy (default: ymd)"
    )


def compare_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what `compare` takes beside the form of the file."""
    parser.add_argument("file", help="CSV file with a header line")
    parser.add_argument("--method", required=True, help="column of the method")
    parser.add_argument("--reference", required=True, help="column of the reference")
    parser.add_argument(
        "--cluster", help="column of the patient or subject, for several rows each"
    )
    parser.add_argument(
        "--replicate",
        help="column that names what was read several times: rows of one name are repeats",
    )
    parser.add_argument(
        "--true-value", dest="true_value", choices=["constant", "varying"], default="constant",
        help="whether the true value stays the same over repeats (default: constant)",
    )  # fmt: skip
    parser.add_argument(
        "--tolerance", type=float, help="tolerance in the column's unit (default: none)"
    )
    parser.add_argument(
        "--coverage",
        type=float,
        default=0.95,
        help="share of differences inside (default: 0.95)",
    )
    parser.add_argument(
        "--multiplier", type=float,
        help="multiple of the SD for the limits (default: from the coverage)",
    )  # fmt: skip
    parser.add_argument("--json", help="write the result to this JSON file")
    parser.add_argument("--figure", help="write a figure to this PNG file")
