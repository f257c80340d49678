"""Parts of a document that only some formats show, written as Quarto writes them."""

from typing import Any

from lengthwise.report.embedded.tree import Node

SHOWN, HIDDEN, FORMAT = "content-visible", "content-hidden", "when-format"
# Printed around what a slide holds, since Quarto takes away one layer of blocks there.
WRAPPER = "slide-body"
# The PDF is set with Typst, so both names mean it.
SAME = {"pdf": "typst"}


def visible(node: Node, output_format: str) -> Any:
    """Return the content of a conditional part where the format shows it, else nothing."""
    if node["t"] != "Div":
        return node
    _, classes, attributes = node["c"][0]
    if WRAPPER in classes:
        return node["c"][1]
    wanted = dict(attributes).get(FORMAT)
    if wanted is None or not {SHOWN, HIDDEN} & set(classes):
        return node
    is_named = SAME.get(wanted, wanted) == output_format
    return node["c"][1] if is_named == (SHOWN in classes) else []
