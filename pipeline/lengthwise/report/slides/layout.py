"""Place title, figure, table and text of one slide, so that nothing overlaps or runs over."""

from xml.etree import ElementTree

from lengthwise.report.slides.boxes import Box, fitted, set_box, size_of
from lengthwise.report.slides.names import DRAWING, SLIDES
from lengthwise.report.slides.table import shape_table
from lengthwise.report.slides.text import set_sizes, shown_text

# English metric units: 914400 an inch; a slide is 9144000 wide and 5143500 high.
TITLE = Box(365760, 180000, 8412480, 700000)
WHOLE = Box(365760, 960000, 8412480, 3950000)
FIGURE_ALONE = Box(365760, 900000, 8412480, 3640000)
FIGURE_BESIDE = Box(230000, 960000, 5060000, 3330000)
TABLE_BESIDE = Box(5400000, 1000000, 3560000, 3600000)
CAPTION_HEIGHT = 480000
GAP = 40000
CAPTION_POINTS, TABLE_POINTS, SMALL_TABLE_POINTS = 9, 13, 10.5
# (letters at most, points): a slide with more to say says it smaller.
TEXT_POINTS = ((300, 20), (420, 18), (620, 16), (10_000, 14))


def laid_out(content: bytes, alternative: str) -> bytes:
    """Return the slide with everything in its place; title slides stay as the layout has them."""
    slide = ElementTree.fromstring(content)
    shapes = slide.find(f"{SLIDES}cSld/{SLIDES}spTree")
    if shapes is None or _kind(shapes.find(f"{SLIDES}sp")) != "title":
        return content
    title, *others = shapes.findall(f"{SLIDES}sp")
    set_box(title, TITLE)
    pictures, frames = shapes.findall(f"{SLIDES}pic"), shapes.findall(f"{SLIDES}graphicFrame")
    captions = [shape for shape in others if _is_caption(shape)]
    for picture in pictures:
        _place_figure(picture, captions, alternative, is_alone=not frames)
    for frame in frames:
        shape_table(
            frame, TABLE_BESIDE if pictures else WHOLE,
            SMALL_TABLE_POINTS if pictures else TABLE_POINTS,
        )  # fmt: skip
    for shape in (shape for shape in others if shape not in captions):
        set_box(shape, WHOLE)
        set_sizes(shape, _points(len(shown_text(shape))))
    declaration = b'<?xml version="1.0" encoding="UTF-8"?>\n'
    return declaration + ElementTree.tostring(slide, encoding="utf-8")


def _kind(shape: ElementTree.Element | None) -> str:
    found = None if shape is None else shape.find(f"{SLIDES}nvSpPr/{SLIDES}nvPr/{SLIDES}ph")
    return "" if found is None else found.get("type", "")


def _is_caption(shape: ElementTree.Element) -> bool:
    found = shape.find(f"{SLIDES}nvSpPr/{SLIDES}cNvSpPr")
    return found is not None and found.get("txBox") == "1"


def _place_figure(
    picture: ElementTree.Element, captions: list[ElementTree.Element], alternative: str,
    *, is_alone: bool,
) -> None:  # fmt: skip
    space = FIGURE_ALONE if is_alone else FIGURE_BESIDE
    box = fitted(size_of(picture), space)
    set_box(picture, box)
    name = picture.find(f"{SLIDES}nvPicPr/{SLIDES}cNvPr")
    if name is not None:
        name.set("descr", alternative)
    for caption in captions:
        below = Box(space.x, box.y + box.height + GAP, space.width, CAPTION_HEIGHT)
        set_box(caption, below)
        set_sizes(caption, CAPTION_POINTS)
        for style in caption.iter(f"{DRAWING}pPr"):
            style.set("algn", "l")


def _points(letters: int) -> float:
    return next(points for most, points in TEXT_POINTS if letters <= most)
