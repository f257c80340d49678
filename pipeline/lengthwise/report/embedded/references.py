"""Number figures and tables in their order and turn @fig- and @tbl- into links."""

from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report.embedded.tree import Node, rewrite, text_nodes, walk

KINDS = {"fig-": ("Figure", "Figure"), "tbl-": ("Table", "Table")}
NO_BREAK = "\u00a0"


def number(blocks: list[Node]) -> list[Node]:
    """Return the blocks with numbered captions and resolved references."""
    names = _names(blocks)
    captioned = rewrite(blocks, lambda node: _with_number(node, names))
    return list(rewrite(captioned, lambda node: _resolved(node, names)))


def _names(blocks: list[Node]) -> dict[str, str]:
    names: dict[str, str] = {}
    counts = dict.fromkeys(KINDS, 0)
    for node in walk(blocks):
        identifier = node["c"][0][0] if node["t"] in {"Figure", "Table"} else ""
        prefix = identifier[:4]
        if prefix not in KINDS:
            continue
        if identifier in names:
            raise ReportError(f"The report uses the label {identifier} twice.")
        counts[prefix] += 1
        names[identifier] = f"{KINDS[prefix][0]}{NO_BREAK}{counts[prefix]}"
    return names


def _with_number(node: Node, names: dict[str, str]) -> Node:
    if node["t"] not in {"Figure", "Table"} or node["c"][0][0] not in names:
        return node
    caption = node["c"][1]
    lead = [*text_nodes(f"{names[node['c'][0][0]]}:"), {"t": "Space"}]
    if caption[1]:
        first = caption[1][0]
        caption[1][0] = {"t": first["t"], "c": [*lead, *first["c"]]}
    else:
        caption[1] = [{"t": "Plain", "c": lead[:-1]}]
    return node


def _resolved(node: Node, names: dict[str, str]) -> Any:
    if node["t"] != "Cite":
        return node
    identifier = node["c"][0][0]["citationId"]
    if identifier not in names:
        raise ReportError(f"The report refers to {identifier}, which it does not show.")
    link = [["", [], []], text_nodes(names[identifier]), [f"#{identifier}", ""]]
    return {"t": "Link", "c": link}
