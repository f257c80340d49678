"""Give a report its parameters: one cell injected after the cell tagged `parameters`."""

import ast
from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.source import Cell, Document

TAG = "parameters"
INJECTED_LABEL = "given-parameters"


def declared_parameters(cell: Cell) -> list[str]:
    """Return the names the tagged cell assigns, in order."""
    names = []
    for statement in ast.parse(cell.code).body:
        targets = statement.targets if isinstance(statement, ast.Assign) else []
        names += [target.id for target in targets if isinstance(target, ast.Name)]
    return names


def parameter_code(document: Document, parameters: Mapping[str, Any]) -> str:
    """Return the lines that assign `parameters`; unknown names are refused."""
    tagged = [cell for cell in document.cells if TAG in cell.tags]
    known = declared_parameters(tagged[0]) if tagged else []
    if unknown := sorted(set(parameters) - set(known)):
        raise ReportError(
            f"This report has no parameter {', '.join(unknown)}; it has: "
            f"{', '.join(known) or 'none'}."
        )
    return "\n".join(f"{name} = {_literal(value)}" for name, value in parameters.items())


def with_parameters(document: Document, parameters: Mapping[str, Any]) -> Document:
    """Return the document with the parameter values injected."""
    code = parameter_code(document, parameters)
    if not code:
        return document
    injected = Cell(code, {"label": INJECTED_LABEL, "output": False})
    parts: list[Any] = []
    for part in document.parts:
        parts.append(part)
        if isinstance(part, Cell) and TAG in part.tags:
            parts.append(injected)
    return Document(document.header, tuple(parts))


def _literal(value: Any) -> str:
    if isinstance(value, PurePath):
        value = str(value)
    if not isinstance(value, str | int | float | bool | None):
        raise ReportError("A report parameter must be text, a number, yes or no, or empty.")
    return repr(value)
