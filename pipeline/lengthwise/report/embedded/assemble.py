"""Turn a document's text and its cells' outputs into one Markdown text."""

import base64
import re
from pathlib import Path
from typing import Any

import yaml

from lengthwise.report.embedded.source import Cell, Document, Text
from lengthwise.report.escape import attribute, markdown

METADATA = re.compile(r"^---\n(?P<yaml>.*?)\n---\n", re.DOTALL | re.MULTILINE)


def assemble(document: Document, outputs: list[list[Any]], folder: Path) -> str:
    """Return the Markdown of the whole document; images of outputs go into `folder`."""
    remaining = iter(outputs)
    parts = []
    for part in document.parts:
        if isinstance(part, Text):
            parts.append(part.markdown)
        else:
            parts.append(cell_markdown(part, next(remaining), folder))
    return "\n\n".join(parts)


def cell_markdown(cell: Cell, outputs: list[Any], folder: Path) -> str:
    """Return what one cell shows: printed Markdown, images, or its text verbatim."""
    if cell.options.get("include") is False or cell.options.get("output") is False:
        return ""
    return "\n\n".join(_output(cell, output, folder) for output in outputs)


def split_metadata(text: str) -> tuple[dict[str, Any], str]:
    """Take metadata blocks that cells printed out of the text; later ones win."""
    metadata: dict[str, Any] = {}
    for match in METADATA.finditer(text):
        block = yaml.safe_load(match["yaml"])
        if isinstance(block, dict):
            metadata |= block
    return metadata, METADATA.sub("", text)


def _output(cell: Cell, output: Any, folder: Path) -> str:
    kind = output["output_type"]
    if kind == "stream":
        return _text(cell, output["text"]) if output["name"] == "stdout" else ""
    data = output.get("data", {})
    if "image/png" in data:
        return _image(cell, data["image/png"], folder)
    if "text/markdown" in data:
        return str(data["text/markdown"])
    return _text(cell, data.get("text/plain", ""))


def _text(cell: Cell, text: str) -> str:
    if cell.options.get("output") == "asis":
        return text
    return f"```\n{text.rstrip()}\n```" if text.strip() else ""


def _image(cell: Cell, encoded: str, folder: Path) -> str:
    path = folder / "figures" / f"{cell.label}.png"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(base64.b64decode(encoded))
    caption = markdown(str(cell.options.get("fig-cap", "")))
    alternative = attribute(str(cell.options.get("fig-alt", "")))
    identifier = f"#{cell.label} " if cell.label.startswith("fig-") else ""
    return f'![{caption}](figures/{path.name}){{{identifier}fig-alt="{alternative}"}}'
