"""The look of a Word file: A4, black headings, tables in small letters, columns by content."""

import re
import zipfile
from pathlib import Path

from lengthwise.report.embedded.tree import Node, stringify
from lengthwise.report.widths import EDGES, LINE

NAME = "look.docx"
# Half points. A font that every office program has, or has one of its widths for.
SIZES = {"Title": 36, "Heading1": 28, "Heading2": 23, "Heading3": 21}
TEXT, TABLE = 20, 16
FONT = '<w:rFonts w:ascii="Arial" w:hAnsi="Arial" w:cs="Arial"/>'
TABLE_LETTERS = f'<w:rPr><w:sz w:val="{TABLE}"/><w:szCs w:val="{TABLE}"/></w:rPr>'
# Twentieths of a point: A4 with margins of 2 cm.
PAGE = (
    '<w:pgSz w:w="11906" w:h="16838"/><w:pgMar w:top="1134" w:right="1134" w:bottom="1134" '
    'w:left="1134" w:header="567" w:footer="567" w:gutter="0"/>'
)


def write_look(default: Path, target: Path) -> Path:
    """Write the reference file from the converter's default one, with our sizes and page."""
    with zipfile.ZipFile(default) as given, zipfile.ZipFile(target, "w") as made:
        for item in given.infolist():
            data = given.read(item)
            if item.filename == "word/styles.xml":
                data = _styles(data.decode("utf-8")).encode("utf-8")
            elif item.filename == "word/document.xml":
                data = data.replace(b"</w:sectPr>", f"{PAGE}</w:sectPr>".encode())
            made.writestr(item, data)
    return target


def _styles(text: str) -> str:
    text = re.sub(
        r'(<w:docDefaults>.*?<w:sz(?:Cs)? w:val=")24', rf"\g<1>{TEXT}", text, flags=re.S
    )
    text = re.sub(r"<w:rFonts w:asciiTheme[^>]*/>", FONT, text)
    # Text of tables follows the table's style, since lists share its paragraph style.
    text = re.sub(
        r'(<w:style [^>]*w:styleId="Table">.*?)(<w:tblPr>)',
        rf"\g<1>{TABLE_LETTERS}\g<2>", text, count=1, flags=re.S,
    )  # fmt: skip
    # Colour says nothing in these documents, so headings are black.
    text = re.sub(r"<w:color w:val=\"0F4761\"[^>]*/>", '<w:color w:val="000000"/>', text)
    text = text.replace('<w:jc w:val="center" />', '<w:jc w:val="left" />')
    for name, size in SIZES.items():
        text = re.sub(
            rf'(<w:style [^>]*w:styleId="{name}".*?)(</w:style>)',
            lambda match, size=size: _sized(match[1], size) + match[2], text, count=1, flags=re.S,
        )  # fmt: skip
    return text


def _sized(style: str, size: int) -> str:
    letters = f'<w:sz w:val="{size}"/><w:szCs w:val="{size}"/>'
    style = re.sub(r"<w:sz(?:Cs)? [^>]*/>", "", style)
    if "</w:rPr>" in style:
        return style.replace("</w:rPr>", f"{letters}</w:rPr>")
    return f"{style}<w:rPr>{letters}</w:rPr>"


def with_office_widths(node: Node) -> Node:
    """Give each column of a table that fits the line the width of its longest cell.

    Office programs share a table without widths evenly, and then break words.
    """
    rows = [*node["c"][3][1], *(row for body in node["c"][4] for row in body[3])]
    longest = [
        max((len(stringify(row[1][place][4])) for row in rows), default=1)
        for place in range(len(node["c"][2]))
    ]
    total = max(LINE, sum(longest) + EDGES * len(longest))
    node["c"][2] = [
        [align, {"t": "ColWidth", "c": (letters + EDGES) / total}]
        for (align, _), letters in zip(node["c"][2], longest, strict=True)
    ]
    return node
