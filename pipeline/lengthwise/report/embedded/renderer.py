"""The embedded engine: parse, run, assemble, convert."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.assemble import assemble, split_metadata
from lengthwise.report.embedded.convert import MARGIN, read_tree, write
from lengthwise.report.embedded.execute import execute
from lengthwise.report.embedded.in_process import only_prints, run_cells
from lengthwise.report.embedded.parameters import with_parameters
from lengthwise.report.embedded.source import read_document

LENGTH = re.compile(r"\d+(\.\d+)?(cm|mm|in|pt)")
SHOWN_METADATA = ("title", "subtitle", "date")


def render_into(
    source: Path, formats: list[str], parameters: Mapping[str, Any], name: str,
    *, is_alone: bool = False,
) -> list[Path]:  # fmt: skip
    """Render `source` inside its own folder; one execution serves all formats.

    Where this process is for the one document alone, its cells run here and not in a kernel.
    """
    folder = source.parent
    document = with_parameters(read_document(source), parameters)
    is_here = is_alone and only_prints(document.cells)
    outputs = (run_cells if is_here else execute)(document.cells, folder)
    printed, text = split_metadata(assemble(document, outputs, folder))
    metadata = document.header | printed
    shown = {key: str(metadata[key]) for key in SHOWN_METADATA if metadata.get(key)}
    shown |= {"lang": "en-GB", "pagetitle": shown.get("title", name)}
    tree = read_tree(text, folder)
    style, margin = _style(metadata, folder), _margin(metadata)
    targets = []
    for output_format in formats:
        target = folder / f"{name}.{output_format}"
        write(tree, shown, output_format, target, style=style, margin=margin)
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


def _margin(header: Mapping[str, Any]) -> str:
    """Return the page margins that the source asks for in its PDF, as Quarto writes them."""
    page = (header.get("format") or {}).get("typst")
    margin = page.get("margin") if isinstance(page, Mapping) else None
    if not isinstance(margin, Mapping):
        return MARGIN
    sides = {side: str(margin.get(side, "2cm")) for side in ("x", "y")}
    if not all(LENGTH.fullmatch(length) for length in sides.values()):
        raise ReportError("The report's margins must be lengths such as 2cm.")
    return f"(x: {sides['x']}, y: {sides['y']})"
