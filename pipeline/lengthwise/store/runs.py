"""Which runs are stored."""

from pathlib import Path

from lengthwise.errors import AnalysisError
from lengthwise.store.database import connect, plain_errors
from lengthwise.store.queries import query


def latest_run(database: Path, period: str | None = None) -> str:
    """Return the id of the newest run, of the period where one is named.

    Raises
    ------
    AnalysisError
        There is no such run; the message names the periods that have one.
    """
    connection = connect(database, read_only=True)
    try:
        with plain_errors("reading the runs"):
            runs = connection.execute(query("queries", "stored_runs").text).df()
    finally:
        connection.close()
    found = runs if period is None else runs[runs["period"] == period]
    if found.empty:
        known = ", ".join(sorted(runs["period"].unique())) or "none"
        raise AnalysisError(
            f"there is no run of {period or 'any period'} (periods with a run: {known}); "
            "run lengthwise analyse first"
        )
    return str(found.iloc[0]["run_id"])
