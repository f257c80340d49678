"""Command line: parse, call run, print; the only place that prints and sets exit codes."""

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from lengthwise import __version__
from lengthwise.arguments import compare_arguments, with_dialect, with_folder
from lengthwise.errors import FindingsError, LengthwiseError, SettingsError, StoreError


class _Steps:
    """Prints each step on standard error, over the last one where that is a terminal."""

    def __init__(self, quiet: bool) -> None:
        self.quiet = quiet
        self.live = sys.stderr.isatty()

    def __call__(self, message: str) -> None:
        if not self.quiet:
            start, end = ("\r\033[K", "") if self.live else ("", "\n")
            print(f"{start}... {message}", end=end, file=sys.stderr, flush=True)

    def done(self) -> None:
        if self.live and not self.quiet:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


def _folder(arguments: argparse.Namespace) -> Any:
    from lengthwise.folder import AuditFolder

    given = Path(arguments.folder)
    if not (given / "settings.toml").exists():
        raise SettingsError(
            f"{given.resolve().name}: this is not an audit folder (no settings.toml); make one "
            "with lengthwise new DIR, or name one with --folder"
        )
    return AuditFolder(given)


def _overrides(arguments: argparse.Namespace) -> dict[str, str]:
    names = ("separator", "decimal", "encoding", "date_order")
    return {name: getattr(arguments, name) for name in names if getattr(arguments, name, None)}


def _new(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise import run

    folder = run.new_folder(Path(arguments.dir))
    print(f"Audit folder ready: {folder.root}")
    print(
        "Put your files into exports/, then run: lengthwise quarter --folder " + arguments.dir
    )
    return 0


def _check(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise import run, screens
    from lengthwise.quality.written import write_check

    paths = [Path(name) for name in arguments.files]
    folder = _folder(arguments)
    result = run.check_files(folder, paths, _overrides(arguments), steps)
    steps.done()
    print(screens.intake(result))
    if result.findings.empty:
        print("No findings.")
    print("\n".join(["", *write_check(folder, result, arguments.page, arguments.findings)]))
    return 0 if result.findings.empty else FindingsError.exit_code


def _ingest(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise import run, screens

    paths = [Path(name) for name in arguments.files]
    result = run.ingest_files(_folder(arguments), paths, _overrides(arguments), steps)
    steps.done()
    print(screens.intake(result))
    return 0


def _analyse(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise import run

    folder = _folder(arguments)
    run_id = run.analyse_period(folder, arguments.period, steps)
    steps.done()
    print(f"Run {run_id}")
    for sentence in run.headlines(folder, run_id):
        print(f"- {sentence}")
    return 0


def _quarter(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise import run, screens

    result = run.whole_quarter(
        _folder(arguments), arguments.period, _overrides(arguments), steps
    )
    steps.done()
    print(screens.quarter(result))
    return 0


def _demo(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise import run, screens

    folder = run.demo_folder(Path(arguments.dir))
    print("The demo's practice, people and numbers are invented.")
    result = run.whole_quarter(folder, None, {}, steps)
    steps.done()
    print(screens.quarter(result))
    return 0


def _compare(arguments: argparse.Namespace, steps: _Steps) -> int:
    from lengthwise.compare import compare_columns, printed

    result = compare_columns(arguments)
    print(printed(result))
    return 0


def _add(
    commands: Any, name: str, function: Callable[..., int], text: str
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(name, help=text, description=text)
    parser.set_defaults(function=function)
    return parser


def add_demo(commands: Any) -> None:
    """Add `demo`."""
    parser = _add(commands, "demo", _demo, "the whole job on the demo dataset (invented)")
    parser.add_argument(
        "dir", nargs="?", default="demo-audit", help="folder (default: demo-audit)"
    )


def add_new(commands: Any) -> None:
    """Add `new`."""
    parser = _add(commands, "new", _new, "make an audit folder, commented and ready")
    parser.add_argument("dir", help="folder to make")


def add_stages(commands: Any) -> None:
    """Add `quarter`, `check`, `ingest` and `analyse`."""
    parser = _add(commands, "quarter", _quarter, "everything for one quarter, reports included")
    parser.add_argument("period", nargs="?", help="quarter, e.g. 2026-Q3 (default: the latest)")
    with_folder(parser)
    with_dialect(parser)
    parser = _add(
        commands, "check", _check, "judge files without storing; exit code 1 on findings"
    )
    parser.add_argument("files", nargs="*", help="files (default: all in exports/)")
    parser.add_argument(
        "--findings", help="CSV file of findings (default: reports/check/findings.csv)"
    )
    parser.add_argument(
        "--page", help="data-quality page (default: reports/check/data-quality.html)"
    )
    with_folder(parser)
    with_dialect(parser)
    parser = _add(
        commands, "ingest", _ingest, "load files; a file already loaded changes nothing"
    )
    parser.add_argument("files", nargs="*", help="files (default: all in exports/)")
    with_folder(parser)
    with_dialect(parser)
    parser = _add(
        commands, "analyse", _analyse, "derive, compute and store the results of a quarter"
    )
    parser.add_argument("period", nargs="?", help="quarter, e.g. 2026-Q3 (default: the latest)")
    with_folder(parser)


def add_compare(commands: Any) -> None:
    """Add `compare`."""
    text = "agreement of any two columns of any CSV file, in the file's own unit"
    parser = _add(commands, "compare", _compare, text)
    compare_arguments(parser)
    with_dialect(parser)


def _answer(arguments: argparse.Namespace, steps: _Steps) -> int:
    folder = _folder(arguments) if hasattr(arguments, "folder") else None
    arguments.progress = steps
    lines = arguments.answer(arguments, folder)
    steps.done()
    print("\n".join(lines))
    return 0


def add_around_intake(commands: Any) -> None:
    """Add the commands around the intake, those that plan, and those that make documents."""
    from lengthwise import intake_commands, planning_commands, report_commands, sharing_commands

    def add(name: str, answer: Callable[..., list[str]], text: str) -> argparse.ArgumentParser:
        found = _add(commands, name, _answer, text)
        found.set_defaults(answer=answer)
        return found

    for module in (intake_commands, planning_commands, report_commands, sharing_commands):
        module.add_commands(add, with_folder)


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    top = argparse.ArgumentParser(
        prog="lengthwise",
        description="Clinical audit and outcomes of root-canal working lengths and filling levels.",
    )
    top.add_argument("--version", action="version", version=f"lengthwise {__version__}")
    top.add_argument("--quiet", action="store_true", help="print no progress")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for add in (
        add_demo,
        add_new,
        add_stages,
        add_compare,
        add_around_intake,
    ):
        add(commands)
    return top


def main(argv: Sequence[str]) -> int:
    """Run one command; return its exit code."""
    arguments = parser().parse_args(argv)
    steps = _Steps(arguments.quiet)
    try:
        code = int(arguments.function(arguments, steps))
        sys.stdout.flush()
        return code
    except LengthwiseError as error:
        steps.done()
        print(f"lengthwise: {error}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        # The reader of the output, such as head, has seen enough.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        steps.done()
        print(
            f"lengthwise: the system refused to read or write a file ({error.strerror}); nothing "
            "was half stored. Check free disk space and the folder's rights, then try again",
            file=sys.stderr,
        )
        return StoreError.exit_code
    except KeyboardInterrupt:
        steps.done()
        print("lengthwise: interrupted; the database is as it was", file=sys.stderr)
        return 130


def entry() -> None:
    """Run the command line of the process."""
    # Matrices here are narrow: threads of the algebra library wait for one another, and take
    # the cores from the documents that render side by side. Must be set before it is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    raise SystemExit(main(sys.argv[1:]))
