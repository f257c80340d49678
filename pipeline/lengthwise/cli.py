"""Command line: parse, call run, print; the only place that prints and sets exit codes."""


def entry() -> None:
    """Run the command line."""
    raise SystemExit(0)
