"""Loads SQL from files and binds values by name; the header of a file states what it needs."""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from lengthwise.check.codes import Code, code_of_rule, row_codes
from lengthwise.errors import StoreError
from lengthwise.resources import resource

_HEADER = re.compile(r"^-- (\w+): (.*)$")


@dataclass(frozen=True, slots=True)
class SqlFile:
    """One SQL file: its text and the `-- key: value` lines of its header."""

    name: str
    text: str
    header: dict[str, str]

    @property
    def parameters(self) -> tuple[str, ...]:
        """Return the parameter names that the header declares."""
        declared = self.header.get("parameters", "none")
        return () if declared == "none" else tuple(item.strip() for item in declared.split(","))


@cache
def read_sql(path: Path) -> SqlFile:
    """Return a parsed SQL file."""
    text = path.read_text(encoding="utf-8")
    header: dict[str, str] = {}
    for line in text.splitlines():
        match = _HEADER.match(line)
        if match is None:
            break
        header[match[1]] = match[2].strip()
    return SqlFile(path.stem, text, header)


def sql_files(layer: str) -> list[SqlFile]:
    """Return the files of one layer of sql/, in name order."""
    found = [read_sql(path) for path in sorted(resource("sql", layer).glob("*.sql"))]
    if not found:
        raise StoreError(f"sql/{layer} is empty; the installation is damaged, install again")
    return found


def known_codes() -> dict[str, Code]:
    """Return every check code, from the dictionary and from sql/checks."""
    return row_codes() | {
        rule.header["code"]: code_of_rule(rule.header) for rule in sql_files("checks")
    }


def query(layer: str, name: str) -> SqlFile:
    """Return one SQL file by layer and name."""
    return read_sql(resource("sql", layer, f"{name}.sql"))
