"""What the speaker's notes say of a figure: it is the figure's alternative text too."""

from xml.etree import ElementTree

from lengthwise.report.slides.names import DRAWING

MARK = "In words: "


def words_of_figure(notes: bytes) -> str:
    """Return the paragraph of the notes that says the figure in words, empty if none does.

    The writers of slides put a file's path where the alternative text belongs.
    """
    if not notes:
        return ""
    for paragraph in ElementTree.fromstring(notes).iter(f"{DRAWING}p"):
        text = "".join(run.text or "" for run in paragraph.iter(f"{DRAWING}t"))
        if text.startswith(MARK):
            return text.removeprefix(MARK)
    return ""
