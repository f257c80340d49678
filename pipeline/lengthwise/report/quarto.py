"""The Quarto engine: the same source, rendered by the program where it is installed."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.parameters import TAG, parameter_code
from lengthwise.report.embedded.source import CELL, expand_includes, parse_cell, read_document

OLDEST = (1, 6)
WRITERS = {"html": "html", "pdf": "typst", "docx": "docx", "pptx": "pptx"}
SECONDS_AT_MOST = 900


@cache
def version() -> tuple[int, ...]:
    """Return the version of the Quarto on PATH, empty where there is none."""
    program = shutil.which("quarto")
    if program is None:
        return ()
    finished = subprocess.run(
        [program, "--version"], capture_output=True, text=True, timeout=60, check=False
    )
    return tuple(int(part) for part in re.findall(r"\d+", finished.stdout)[:3])


def is_usable() -> bool:
    return version() >= OLDEST


def render_into(
    source: Path, formats: list[str], parameters: Mapping[str, Any], name: str
) -> list[Path]:
    """Render `source` in its own fresh folder, one format after the other."""
    if not is_usable():
        raise ReportError("Quarto 1.6 or newer is not on PATH; use the embedded engine.")
    inject(source, parameters)
    return [_render(source, output_format, name) for output_format in formats]


def inject(source: Path, parameters: Mapping[str, Any]) -> None:
    """Write the parameter values into the copied source, so that no other tool is needed."""
    code = parameter_code(read_document(source), parameters)
    if not code:
        return
    cell = f"\n\n```{{python}}\n#| label: given-parameters\n#| output: false\n{code}\n```\n"
    text = expand_includes(source.read_text(encoding="utf-8"), source.parent)

    def with_values(match: re.Match[str]) -> str:
        is_tagged = TAG in parse_cell(match["body"]).tags
        return match[0] + cell if is_tagged else match[0]

    source.write_text(CELL.sub(with_values, text), encoding="utf-8")


def _render(source: Path, output_format: str, name: str) -> Path:
    target = source.parent / f"{name}.{output_format}"
    command = ["quarto", "render", source.name, "--to", WRITERS[output_format]]
    finished = subprocess.run(
        [*command, "--output", target.name],
        cwd=source.parent,
        env=os.environ | {"QUARTO_PYTHON": sys.executable, "SOURCE_DATE_EPOCH": "0"},
        capture_output=True,
        timeout=SECONDS_AT_MOST,
        check=False,
    )
    # Quarto's own output can quote a row inside a traceback, so it is not passed on.
    if finished.returncode or not target.is_file():
        raise ReportError(
            f"Quarto could not make the {output_format} (code {finished.returncode}); the "
            "embedded engine names the cell that stopped."
        )
    return target
