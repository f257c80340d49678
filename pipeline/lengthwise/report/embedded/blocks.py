"""Callouts, tabsets, figures and tables, shaped for each output format."""

import json
from collections.abc import Iterator
from typing import Any

from lengthwise.report import escape
from lengthwise.report.embedded.conditional import visible
from lengthwise.report.embedded.office import with_office_widths
from lengthwise.report.embedded.tree import Node, raw_block, rewrite, stringify, text_nodes

ROWS_KEPT_TOGETHER = 12
SMALL_PRINT = "result-ids"
CALLOUTS = {
    "callout-note": "Note",
    "callout-important": "Important",
    "callout-tip": "Tip",
    "callout-warning": "Warning",
    "callout-caution": "Caution",
}


def shaped(blocks: list[Node], output_format: str) -> list[Node]:
    """Return the blocks as `output_format` (html, typst, docx, pptx) needs them."""
    steps = {"html": _for_html, "typst": _for_typst, "docx": _for_docx, "pptx": _for_slides}
    step = steps.get(output_format, _for_office)
    blocks = list(rewrite(blocks, lambda node: visible(node, output_format)))
    if output_format == "typst":
        blocks = list(_with_headlines(blocks))
    return list(rewrite(blocks, step))


def _with_headlines(blocks: list[Node]) -> Iterator[Node]:
    """Keep a figure's headline on the page of its figure."""
    for block, following in zip(blocks, [*blocks[1:], {"t": ""}], strict=True):
        is_bold = block["t"] == "Para" and [node["t"] for node in block["c"]] == ["Strong"]
        if is_bold and following["t"] == "Figure":
            yield raw_block("typst", "#headline[")
            yield block
            yield raw_block("typst", "]")
        else:
            yield block


def _for_html(node: Node) -> Any:
    match node["t"]:
        case "Div" if title := callout_title(node):
            return _callout_html(node, title)
        case "Figure":
            return _with_alternative(node)
        case "Table":
            return _scrollable(_with_scopes(node))
    return node


def _for_typst(node: Node) -> Any:
    match node["t"]:
        case "Div" if title := callout_title(node):
            opening = f'#callout("{escape.typst_string(title)}")['
            return [raw_block("typst", opening), *node["c"][1], raw_block("typst", "]")]
        case "Div" if SMALL_PRINT in node["c"][0][1]:
            return [
                raw_block("typst", "#smallprint["), *node["c"][1], raw_block("typst", "]")
            ]  # fmt: skip
        case "Figure":
            return _figure_typst(node)
        case "Table":
            return _kept_together(_with_fitting_widths(node))
    return node


def _for_docx(node: Node) -> Any:
    if node["t"] == "Table" and _fits(node):
        return with_office_widths(node)
    return _for_office(node)


def _for_office(node: Node) -> Any:
    match node["t"]:
        case "Div" if title := callout_title(node):
            heading = {"t": "Para", "c": [{"t": "Strong", "c": text_nodes(title)}]}
            return [{"t": "BlockQuote", "c": [heading, *node["c"][1]]}]
        case "Figure":
            return _with_alternative(node)
        case "Table":
            return _with_fitting_widths(node)
    return node


def _for_slides(node: Node) -> Any:
    """Print under a figure its caption: pandoc's slides take the image's own text for it."""
    if node["t"] != "Figure" or (image := _image(node)) is None:
        return _for_office(node)
    caption = [inline for block in node["c"][1][1] for inline in block.get("c", [])]
    changed = {"t": "Image", "c": [image[0], caption, image[2]]}
    return {"t": "Figure", "c": [*node["c"][:2], [{"t": "Plain", "c": [changed]}]]}


def callout_title(node: Node) -> str:
    """Return the title of a callout, its kind's name where none is given, else nothing."""
    _, classes, attributes = node["c"][0]
    kinds = [CALLOUTS[name] for name in classes if name in CALLOUTS]
    if not kinds:
        return ""
    return str(dict(attributes).get("title") or kinds[0])


def _callout_html(node: Node, title: str) -> Node:
    (identifier, classes, _), content = node["c"]
    heading = {"t": "Para", "c": [{"t": "Strong", "c": text_nodes(title)}]}
    attributes = [["role", "note"], ["aria-label", title]]
    return {
        "t": "Div",
        "c": [[identifier, ["callout", *classes], attributes], [heading, *content]],
    }


def _image(node: Node) -> list[Any] | None:
    """Return the content of a figure's only image, if that is what it holds."""
    content = node["c"][2]
    if len(content) == 1 and content[0]["t"] in {"Plain", "Para"}:
        inlines = content[0]["c"]
        if len(inlines) == 1 and inlines[0]["t"] == "Image":
            return list(inlines[0]["c"])
    return None


def _alternative(image: list[Any]) -> str:
    return str(dict(image[0][2]).get("fig-alt") or stringify(image[1]))


def _with_alternative(node: Node) -> Node:
    """Give the image its alternative text, which is not the caption."""
    if (image := _image(node)) is None:
        return node
    (identifier, classes, attributes), _, target = image
    kept = [pair for pair in attributes if pair[0] != "fig-alt"]
    inlines = text_nodes(_alternative(image))
    changed = {"t": "Image", "c": [[identifier, classes, kept], inlines, target]}
    return {"t": "Figure", "c": [*node["c"][:2], [{"t": "Plain", "c": [changed]}]]}


def _figure_typst(node: Node) -> Any:
    """Write the figure ourselves: pandoc's writer leaves the alternative text out."""
    if (image := _image(node)) is None:
        return node
    identifier = node["c"][0][0]
    width = dict(image[0][2]).get("width", "100%")
    opening = (
        f'#figure(image("{escape.typst_string(image[2][0])}", width: {width}, '
        f'alt: "{escape.typst_string(_alternative(image))}"), kind: image, caption: ['
    )
    closing = f"]) <{identifier}>" if identifier else "])"
    return [raw_block("typst", opening), *node["c"][1][1], raw_block("typst", closing)]


def _without_widths(node: Node) -> Node:
    node["c"][2] = [[align, {"t": "ColWidthDefault"}] for align, _ in node["c"][2]]
    return node


def _with_fitting_widths(node: Node) -> Node:
    """Keep the shares of a table that fills the line; equal ones mean that it fits."""
    return _without_widths(node) if _fits(node) else node


def _fits(node: Node) -> bool:
    return len({json.dumps(width) for _, width in node["c"][2]}) == 1


def _kept_together(node: Node) -> list[Node]:
    """Keep a short table on one page; a long one may break and repeats its headings."""
    rows = sum(len(body[3]) for body in node["c"][4])
    if rows > ROWS_KEPT_TOGETHER:
        return [node]
    return [raw_block("typst", "#block(breakable: false)["), node, raw_block("typst", "]")]


def _with_scopes(node: Node) -> Node:
    """Mark column and row headings, so that a screen reader names them with each cell."""
    node = _without_widths(node)
    for row in node["c"][3][1]:
        for cell in row[1]:
            cell[0][2].append(["scope", "col"])
    for body in node["c"][4]:
        body[1] = 1
        for row in body[3]:
            row[1][0][0][2].append(["scope", "row"])
    return node


def _scrollable(node: Node) -> Node:
    """Wrap a table so that a narrow screen scrolls the table and not the page."""
    name = stringify(node["c"][1][1]) or "Table"
    attributes = [["role", "region"], ["tabindex", "0"], ["aria-label", name]]
    return {"t": "Div", "c": [["", ["table-scroll"], attributes], [node]]}
