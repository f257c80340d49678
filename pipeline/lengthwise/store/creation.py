"""Makes an empty database file, whole or not at all: one cut short in its making never opens."""

import os
from pathlib import Path

import duckdb

from lengthwise.scratch import file_beside


def make_database(path: Path) -> None:
    """Make an empty database at a path that has none; one that another process makes first stays.

    The engine writes a new file in several steps and cannot open it after the first of them, so
    it is made under another name and takes its place in one step.
    """
    with file_beside(path) as made:
        duckdb.connect(str(made)).close()
        try:
            os.link(made, path)
        except FileExistsError:
            return
        except OSError:
            # Some file systems of sticks and shares know no second name of a file.
            if not path.exists():
                made.rename(path)
