"""Read a .qmd: its header, its running text and its Python cells with `#|` options."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from lengthwise.errors import ReportError

HEADER = re.compile(r"\A---\s*\n(?P<yaml>.*?)\n---\s*\n", re.DOTALL)
INCLUDE = re.compile(r"^\{\{<\s*include\s+(?P<path>\S+)\s*>\}\}\s*$", re.MULTILINE)
CELL = re.compile(
    r"^(?P<fence>`{3,})\{python\}[^\S\n]*\n(?P<body>.*?)^(?P=fence)[^\S\n]*$",
    re.DOTALL | re.MULTILINE,
)
OPTION = re.compile(r"^#\|\s?(?P<text>.*)$")
INCLUDES_AT_MOST = 10


@dataclass(frozen=True, slots=True)
class Text:
    """Running Markdown between two cells."""

    markdown: str


@dataclass(frozen=True, slots=True)
class Cell:
    """One Python cell: its code without the option lines, and the options by name."""

    code: str
    options: dict[str, Any] = field(default_factory=dict)

    @property
    def label(self) -> str:
        return str(self.options.get("label", "unlabelled"))

    @property
    def tags(self) -> list[str]:
        tags = self.options.get("tags", [])
        return [tags] if isinstance(tags, str) else list(tags)


@dataclass(frozen=True, slots=True)
class Document:
    """A parsed source: the header as a mapping and the parts in their order."""

    header: dict[str, Any]
    parts: tuple[Text | Cell, ...]

    @property
    def cells(self) -> list[Cell]:
        return [part for part in self.parts if isinstance(part, Cell)]


def read_document(path: Path) -> Document:
    """Parse the .qmd at `path`, with the files it includes put in place."""
    text = expand_includes(path.read_text(encoding="utf-8"), path.parent)
    header: dict[str, Any] = {}
    if match := HEADER.match(text):
        header = yaml.safe_load(match["yaml"]) or {}
        text = text[match.end() :]
    return Document(header, tuple(_parts(text)))


def expand_includes(text: str, folder: Path) -> str:
    """Return the text with every include line replaced by that file's text."""
    for _ in range(INCLUDES_AT_MOST):
        if not INCLUDE.search(text):
            return text
        text = INCLUDE.sub(lambda match: _included(folder, match["path"]), text)
    raise ReportError("The report includes files that include each other without end.")


def _included(folder: Path, name: str) -> str:
    path = folder / name
    if not path.is_file():
        raise ReportError(f"The report includes {name}, which is not there.")
    return path.read_text(encoding="utf-8")


def _parts(text: str) -> Iterator[Text | Cell]:
    position = 0
    for match in CELL.finditer(text):
        if between := text[position : match.start()]:
            yield Text(between)
        yield parse_cell(match["body"])
        position = match.end()
    if rest := text[position:]:
        yield Text(rest)


def parse_cell(body: str) -> Cell:
    """Return the cell of a fence's body: leading `#|` lines are its options."""
    lines = body.splitlines()
    options = []
    while lines and (match := OPTION.match(lines[0])):
        options.append(match["text"])
        lines.pop(0)
    return Cell("\n".join(lines), yaml.safe_load("\n".join(options)) or {})
