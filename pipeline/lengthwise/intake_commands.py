"""Commands around the intake; each returns the lines that the command line prints."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from lengthwise.arguments import with_dialect
from lengthwise.errors import SettingsError
from lengthwise.folder import AuditFolder

Answer = Callable[[argparse.Namespace, AuditFolder], list[str]]


def loads(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    """Return what each load did, those taken back included."""
    from lengthwise.load_words import load_lines
    from lengthwise.store.tables import connect_current
    from lengthwise.store.undo import listed_changes, listed_loads

    connection = connect_current(folder.database)
    try:
        return load_lines(listed_loads(connection), listed_changes(connection))
    finally:
        connection.close()


def undo(arguments: argparse.Namespace, folder: AuditFolder) -> list[str]:
    """Take a load back; return what changed."""
    from lengthwise.store.database import connect
    from lengthwise.store.tables import ensure_tables
    from lengthwise.store.undo import undo_load

    if not folder.database.exists():
        return ["No load is stored."]
    connection = connect(folder.database)
    try:
        ensure_tables(connection)
        done = undo_load(connection, arguments.load)
    finally:
        connection.close()
    return [
        f"Load {done.load_id} taken back: {done.rows_removed:,} rows removed, "
        f"{done.rows_restored:,} earlier rows count again. lengthwise loads keeps a note of it.",
        "Stored runs keep their figures; run lengthwise analyse for new ones.",
    ]


def draft_mapping(arguments: argparse.Namespace, folder: AuditFolder | None) -> list[str]:
    """Write the draft of a mapping; return what it could and could not decide."""
    from lengthwise.ingest.draft_file import drafts

    target = Path(arguments.out)
    found = [item for name in arguments.files for item in drafts(Path(name))]
    try:
        with target.open("x", encoding="utf-8") as handle:
            handle.write("\n".join(item.text for item in found))
    except FileExistsError:
        raise SettingsError(
            f"{target.name}: there is such a file; name another with --out"
        ) from None
    except OSError:
        raise SettingsError(f"{target.name}: the file cannot be written") from None
    lines = []
    for item in found:
        counts = item.counts
        lines.append(
            f"{item.name}: {counts['certain']} columns certain, {counts['likely']} likely, "
            f"{counts['question']} open, {counts['refused']} that identify people or hold free "
            f"text; {item.questions} questions to answer"
        )
    return [*lines, f"Draft written to {target}: answer its questions; nothing was loaded."]


def pseudonymise(arguments: argparse.Namespace, folder: AuditFolder | None) -> list[str]:
    """Write a copy of a file with coded columns; return what was done and where the way back is."""
    from lengthwise.ingest import pseudonyms
    from lengthwise.ingest.dialect import dialect
    from lengthwise.scratch import scratch_folder

    source, output = Path(arguments.file), Path(arguments.out)
    if output.exists():
        raise SettingsError(f"{output.name}: there is such a file; name another with --out")
    columns = {}
    for item in arguments.column:
        header, _, kind = item.partition("=")
        columns[header] = kind or header.lower()
    names = ("separator", "encoding")
    form = dialect(
        **{name: getattr(arguments, name) for name in names if getattr(arguments, name)}
    )
    secret = Path(arguments.key_file or arguments.look_up)
    pseudonyms.require_apart(secret, output)
    coder = pseudonyms.keyed(secret) if arguments.key_file else pseudonyms.LookUp(secret)
    try:
        with scratch_folder() as work:
            done = pseudonyms.replace_values(
                source, output, form, columns, tuple(arguments.drop), coder, work
            )
        if isinstance(coder, pseudonyms.LookUp):
            coder.save()
        pseudonyms.publish(output)
    except OSError:
        raise SettingsError(
            f"{output.name} or {secret.name}: cannot be written; check the folders and their rights"
        ) from None
    counts = ", ".join(f"{header}: {count:,} codes" for header, count in done.values.items())
    what = "The key" if arguments.key_file else "The look-up"
    return [
        f"{output}: {done.rows:,} rows; {counts}",
        f"{what} leads back to the person: {secret}. Keep it apart from the audit folder. The "
        "file is pseudonymised, not anonymous.",
    ]


def _add_pseudonymise(add: Callable[..., Any]) -> None:
    parser = add(
        "pseudonymise", pseudonymise, "replace identifying columns by codes, before a load"
    )
    parser.add_argument("file", help="CSV file")
    parser.add_argument("--out", required=True, help="coded copy to write")
    parser.add_argument(
        "--column", action="append", required=True, metavar="HEADER[=KIND]",
        help="column to code; the same KIND has the same codes in every file (repeatable)",
    )  # fmt: skip
    parser.add_argument(
        "--drop", action="append", default=[], metavar="HEADER", help="column to leave out"
    )
    default = str(Path.home() / "lengthwise-look-up" / "codes.csv")
    parser.add_argument(
        "--look-up", default=default, help="file of random codes (default: %(default)s)"
    )
    parser.add_argument("--key-file", help="code by a keyed hash with this key instead")
    with_dialect(parser)


def add_commands(add: Callable[..., Any], with_folder: Callable[[Any], None]) -> None:
    """Add `loads`, `undo`, `map` and `pseudonymise`; `add(name, answer, text)` returns the parser."""
    with_folder(add("loads", loads, "list the loads"))
    parser = add("undo", undo, "take a load back: its rows go, corrected ones return")
    parser.add_argument("load", type=int, help="number of the load, see lengthwise loads")
    with_folder(parser)
    parser = add(
        "map",
        draft_mapping,
        "draft a mapping for files of your own, to edit: each line with its confidence and reason, "
        "questions where it must not guess; loads nothing",
    )
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="CSV, .xlsx or .ods files of your own"
    )
    parser.add_argument(
        "--out",
        default="mapping-draft.toml",
        help="file to write (default: mapping-draft.toml)",
    )
    _add_pseudonymise(add)
