"""The embedded engine: parse, run, assemble, convert."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.assemble import assemble, split_metadata
from lengthwise.report.embedded.convert import read_tree, write
from lengthwise.report.embedded.execute import execute
from lengthwise.report.embedded.parameters import with_parameters
from lengthwise.report.embedded.source import read_document

SHOWN_METADATA = ("title", "subtitle", "date")


def render_into(
    source: Path, formats: list[str], parameters: Mapping[str, Any], name: str
) -> list[Path]:
    """Render `source` inside its own folder; one execution serves all formats."""
    folder = source.parent
    document = with_parameters(read_document(source), parameters)
    outputs = execute(document.cells, folder)
    printed, text = split_metadata(assemble(document, outputs, folder))
    metadata = document.header | printed
    shown = {key: str(metadata[key]) for key in SHOWN_METADATA if metadata.get(key)}
    shown |= {"lang": "en-GB", "pagetitle": shown.get("title", name)}
    tree = read_tree(text, folder)
    style = _style(metadata, folder)
    targets = []
    for output_format in formats:
        target = folder / f"{name}.{output_format}"
        write(tree, shown, output_format, target, style=style)
        targets.append(target)
    return targets


def _style(header: Mapping[str, Any], folder: Path) -> str:
    """Return the style sheet that the source names for its HTML, if it names one."""
    html = (header.get("format") or {}).get("html")
    name = html.get("css") if isinstance(html, Mapping) else None
    if not name:
        return ""
    if not (folder / name).is_file():
        raise ReportError(f"The report names the style sheet {name}, which is not there.")
    return str((folder / name).read_text(encoding="utf-8"))
