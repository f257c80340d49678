"""Writes and reads the result tables; the only way from the database into a report."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from lengthwise import __version__
from lengthwise.dictionary import all_schemas
from lengthwise.errors import AnalysisError
from lengthwise.store.database import Connection, connect, plain_errors, transaction
from lengthwise.store.queries import known_codes, query

_TABLES = ("estimates", "points", "lists")


def mart(connection: Connection, name: str) -> pd.DataFrame:
    """Return one mart as a frame."""
    frame: pd.DataFrame = connection.table(f"marts.{name}").df()
    return frame


def safety_lists(connection: Connection, quarter: str) -> dict[str, pd.DataFrame]:
    """Return the three safety lists of a quarter."""
    return {
        name: connection.execute(
            query("queries", f"safety_{name}").text, {"quarter": quarter}
        ).df()
        for name in ("incidents", "beyond_lower_posterior", "altered_sensation")
    }


def treatments_with_incident(connection: Connection) -> pd.DataFrame:
    """Return one row per treatment; `is_met` where an adverse event is on record."""
    return connection.execute(query("queries", "treatments_with_incident").text).df()


def earlier_actions(
    connection: Connection, quarter: str
) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return every earlier quarter that was analysed, with the actions of its latest run."""
    rows = connection.execute(
        query("queries", "earlier_runs").text, {"quarter": quarter}
    ).fetchall()
    return [(period, json.loads(settings).get("actions") or []) for period, settings in rows]


def quarters(connection: Connection) -> list[str]:
    """Return the quarters that hold treatments, in order."""
    rows = connection.execute(query("queries", "quarters_with_treatments").text).fetchall()
    return [row[0] for row in rows]


def completeness(connection: Connection) -> pd.DataFrame:
    """Return one row per export and field: rows present and rows in all."""
    parts = []
    for export in all_schemas().values():
        names = [item.name for item in export.stored]
        counts = ", ".join(f"count({name})" for name in names)
        row = connection.execute(
            f"select count(*), {counts} from record.{export.name} where superseded_by is null"
        ).fetchone()
        total, *present = row or (0,)
        parts += [
            {"export": export.name, "field": name, "present": known, "total": total}
            for name, known in zip(names, present, strict=True)
        ]
    return pd.DataFrame(parts)


def loaded_inputs(connection: Connection) -> list[dict[str, Any]]:
    """Return the files that the stored rows came from."""
    frame = connection.execute(query("queries", "loaded_files").text).df()
    rows: list[dict[str, Any]] = json.loads(frame.to_json(orient="records"))
    return rows


def write_run(
    connection: Connection, run_id: str, period: str, settings: dict[str, Any],
    inputs: list[dict[str, Any]], versions: dict[str, str], rows: dict[str, list[dict[str, Any]]],
) -> None:  # fmt: skip
    """Store a run whole; the same run replaces itself."""
    with plain_errors("storing the results"), transaction(connection):
        for name in ("runs", *_TABLES):
            connection.execute(f"delete from results.{name} where run_id = $id", {"id": run_id})
        connection.execute(
            "insert into results.runs select $id, $period, $at, $version, $settings, $inputs, "
            "$versions, coalesce(max(run_number), 0) + 1 from results.runs",
            {
                "id": run_id, "period": period, "at": datetime.now(UTC).replace(tzinfo=None),
                "version": __version__, "settings": _json(settings), "inputs": _json(inputs),
                "versions": _json(versions),
            },
        )  # fmt: skip
        for name in _TABLES:
            if rows[name]:
                frame = pd.DataFrame(rows[name]).assign(run_id=run_id)
                connection.register("new_rows", frame)
                connection.execute(f"insert into results.{name} by name select * from new_rows")
                connection.unregister("new_rows")


def _json(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False)


def read_run(database: Path, run: str = "latest") -> dict[str, Any]:
    """Return a stored run: `run` as a dict, `estimates`, `points`, `lists`, `findings` as frames.

    Raises
    ------
    AnalysisError
        There is no such run.
    """
    connection = connect(database, read_only=True)
    try:
        frames: dict[str, Any] = {}
        with plain_errors("reading the results"):
            runs = connection.execute(query("queries", "stored_runs").text).df()
            chosen = runs if run == "latest" else runs[runs["run_id"] == run]
            if chosen.empty:
                raise AnalysisError("there is no such run; run lengthwise analyse first")
            frames["run"] = chosen.iloc[0].to_dict()
            run_id = {"run_id": frames["run"]["run_id"]}
            for name in _TABLES:
                frames[name] = connection.execute(
                    query("queries", f"results_{name}").text, run_id
                ).df()
            found = connection.execute(query("queries", "findings_by_code").text).df()
        codes = known_codes()
        frames["findings"] = found.assign(
            remedy=[codes[code].remedy if code in codes else "" for code in found["code"]]
        )
        return frames
    finally:
        connection.close()
