"""What an audit folder holds: every stored row, and every file that a reader sees."""

import hashlib
from dataclasses import dataclass

from lengthwise.store.database import connect

# When a load or a run took place differs by itself; a version without rows is no loss.
MOMENTS = {"loaded_at", "created_at", "undone_at"}
TABLES = (
    "select schema_name, table_name from duckdb_tables() where schema_name in ('record', "
    "'results') and table_name != 'schema_version' order by all"
)


@dataclass(frozen=True)
class State:
    """The stored rows by table, and the hash of each file by its place."""

    rows: dict
    files: dict


def rows(folder):
    """Return every stored row of the tables that have any; the database must open for it."""
    if not folder.database.exists():
        return {}
    connection = connect(folder.database, read_only=True)
    try:
        found = {}
        for schema, name in connection.execute(TABLES).fetchall():
            described = connection.execute(f"describe {schema}.{name}").fetchall()
            columns = ", ".join(row[0] for row in described if row[0] not in MOMENTS)
            found[schema, name] = connection.execute(
                f"select {columns} from {schema}.{name} order by all"
            ).fetchall()
        return {name: kept for name, kept in found.items() if kept}
    finally:
        connection.close()


def files(folder, *, under=""):
    """Return the hash of every file but the database and hidden ones, by its place."""
    return {
        str(path.relative_to(folder.root)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted((folder.root / under).rglob("*"))
        if path.is_file()
        and not _is_hidden(folder, path)
        and not path.name.startswith("audit.")
    }


def state(folder):
    """Return all that a folder holds."""
    return State(rows(folder), files(folder))


def remains(folder, temporary):
    """Return what only a killed command leaves: hidden files and folders, and scratch folders."""
    hidden = [path for path in folder.root.rglob(".*") if not _is_hidden(folder, path.parent)]
    spilled = folder.root.glob("audit.duckdb.*")
    return sorted(path.name for path in [*hidden, *spilled, *temporary.glob("lengthwise-*")])


def _is_hidden(folder, path):
    return any(part.startswith(".") for part in path.relative_to(folder.root).parts)
