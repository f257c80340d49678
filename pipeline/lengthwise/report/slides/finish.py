"""Go once through a .pptx: place what is on each slide, and leave nothing of its making in it."""

import re
import zipfile
from pathlib import Path

from lengthwise.report.slides.layout import laid_out
from lengthwise.report.slides.notes import words_of_figure
from lengthwise.report.slides.theme import with_look

SLIDE = re.compile(r"ppt/slides/slide\d+\.xml")
RELATIONS = "ppt/slides/_rels/slide{number}.xml.rels"
LOOK = re.compile(r"ppt/(theme/theme1|slideMasters/slideMaster1)\.xml")
EARLIEST = (1980, 1, 1, 0, 0, 0)
# The writer's own template says who drew it with which program, and counts of its words.
PROGRAM = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/'
    'extended-properties"><Application>lengthwise</Application></Properties>'
)


def finish_slides(path: Path) -> Path:
    """Rewrite the slides at `path` in place; the bytes depend on the content alone."""
    with zipfile.ZipFile(path) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    changed = {name: _changed(name, content, parts) for name, content in parts.items()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in changed.items():
            archive.writestr(zipfile.ZipInfo(name, EARLIEST), content, zipfile.ZIP_DEFLATED)
    return path


def _changed(name: str, content: bytes, parts: dict[str, bytes]) -> bytes:
    if SLIDE.fullmatch(name):
        return laid_out(content, words_of_figure(_notes_of(name, parts)))
    if LOOK.fullmatch(name):
        return with_look(content)
    return PROGRAM.encode() if name == "docProps/app.xml" else content


def _notes_of(name: str, parts: dict[str, bytes]) -> bytes:
    """Return the notes page that belongs to a slide, empty where it has none."""
    number = re.sub(r"\D", "", Path(name).name)
    relations = parts.get(RELATIONS.format(number=number), b"").decode()
    found = re.search(r"notesSlides/(notesSlide\d+\.xml)", relations)
    return parts.get(f"ppt/notesSlides/{found[1]}", b"") if found else b""
