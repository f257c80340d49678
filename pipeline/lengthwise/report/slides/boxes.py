"""Where a shape stands on its slide."""

from dataclasses import dataclass
from xml.etree import ElementTree

from lengthwise.report.slides.names import DRAWING, SLIDES


@dataclass(frozen=True, slots=True)
class Box:
    """Left upper corner and size, in English metric units."""

    x: int
    y: int
    width: int
    height: int


def fitted(size: tuple[int, int], space: Box) -> Box:
    """Return the largest box of the same shape inside the space, in its middle."""
    width, height = size
    scale = min(space.width / width, space.height / height)
    new_width, new_height = int(width * scale), int(height * scale)
    return Box(space.x + (space.width - new_width) // 2, space.y, new_width, new_height)


def size_of(shape: ElementTree.Element) -> tuple[int, int]:
    """Return the width and height that a shape was given."""
    extent = shape.find(f".//{DRAWING}ext")
    if extent is None:
        raise ValueError("the shape must have a size")
    return int(extent.get("cx", "1")), int(extent.get("cy", "1"))


def set_box(shape: ElementTree.Element, box: Box) -> None:
    """Move a shape, picture or table frame to the box."""
    own = shape.find(f"{SLIDES}spPr")
    if own is not None:
        place = own.find(f"{DRAWING}xfrm")
        if place is None:
            place = ElementTree.Element(f"{DRAWING}xfrm")
            own.insert(0, place)
    else:
        place = shape.find(f"{SLIDES}xfrm")
    if place is None:
        raise ValueError("the shape must have a place")
    place.clear()
    ElementTree.SubElement(place, f"{DRAWING}off", x=str(box.x), y=str(box.y))
    ElementTree.SubElement(place, f"{DRAWING}ext", cx=str(box.width), cy=str(box.height))
