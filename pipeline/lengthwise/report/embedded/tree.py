"""Small helpers for pandoc's document tree (JSON), so that the steps read plainly."""

from collections.abc import Callable, Iterator
from typing import Any

Node = dict[str, Any]


def text_nodes(text: str) -> list[Node]:
    """Return `text` as inline nodes."""
    nodes: list[Node] = []
    for index, word in enumerate(text.split(" ")):
        if index:
            nodes.append({"t": "Space"})
        if word:
            nodes.append({"t": "Str", "c": word})
    return nodes


def raw_block(output_format: str, text: str) -> Node:
    """Return a block that reaches one format unchanged."""
    return {"t": "RawBlock", "c": [output_format, text]}


def stringify(node: Any) -> str:
    """Return the letters of a node, without its formatting."""
    if isinstance(node, list):
        return "".join(stringify(item) for item in node)
    if not isinstance(node, dict):
        return ""
    if node.get("t") in {"Space", "SoftBreak", "LineBreak"}:
        return " "
    if node.get("t") in {"Str", "Code"}:
        content = node["c"]
        return str(content if isinstance(content, str) else content[-1])
    return stringify(node.get("c"))


def walk(node: Any) -> Iterator[Node]:
    """Yield every typed node below `node`, in document order."""
    if isinstance(node, list):
        for item in node:
            yield from walk(item)
    elif isinstance(node, dict):
        if "t" in node:
            yield node
        for value in node.values():
            yield from walk(value)


def rewrite(node: Any, change: Callable[[Node], Any]) -> Any:
    """Return the tree with `change` applied from the leaves up.

    `change` answers a node, or a list of nodes that takes the node's place.
    """
    if isinstance(node, list):
        changed: list[Any] = []
        for item in node:
            result = rewrite(item, change)
            is_spliced = isinstance(result, list) and isinstance(item, dict)
            changed.extend(result) if is_spliced else changed.append(result)
        return changed
    if isinstance(node, dict):
        inner = {key: rewrite(value, change) for key, value in node.items()}
        return change(inner) if "t" in inner else inner
    return node
