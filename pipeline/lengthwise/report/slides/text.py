"""Size and letters of the text of a shape."""

from xml.etree import ElementTree

from lengthwise.report.slides.names import DRAWING


def shown_text(element: ElementTree.Element) -> str:
    """Return the letters of every run."""
    return "".join(run.text or "" for run in element.iter(f"{DRAWING}t"))


def set_sizes(element: ElementTree.Element, points: float) -> None:
    """Give every run the size in points."""
    for run in element.iter(f"{DRAWING}r"):
        style = run.find(f"{DRAWING}rPr")
        if style is None:
            style = ElementTree.Element(f"{DRAWING}rPr")
            run.insert(0, style)
        style.set("sz", str(round(100 * points)))
