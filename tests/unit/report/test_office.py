"""Word files: A4, our letters, and columns as wide as what they hold."""

import re
import zipfile

import pytest

from lengthwise.report.embedded.convert import pandoc, read_tree, write
from lengthwise.report.embedded.office import write_look

NARROW = "| A | Long heading |\n|----|---:|\n| x | 1 |\n\n: c {#tbl-a}\n"


@pytest.fixture(scope="module")
def look(tmp_path_factory):
    folder = tmp_path_factory.mktemp("look")
    pandoc(["--output", "d.docx", "--print-default-data-file", "reference.docx"], "", folder)
    with zipfile.ZipFile(write_look(folder / "d.docx", folder / "look.docx")) as archive:
        return {
            name: archive.read(f"word/{name}.xml").decode() for name in ("styles", "document")
        }


def test_the_page_is_a4(look):
    assert '<w:pgSz w:w="11906" w:h="16838"/>' in look["document"]


def test_no_heading_is_coloured_and_tables_have_smaller_letters(look):
    assert "0F4761" not in look["styles"]
    table = re.search(r'w:styleId="Table">.*?</w:style>', look["styles"], re.DOTALL)[0]
    assert table.index('<w:sz w:val="16"/>') < table.index("<w:tblPr>")


def test_fonts_are_named_and_not_left_to_a_theme(look):
    assert "asciiTheme" not in look["styles"]


def test_columns_are_as_wide_as_their_longest_cell(tmp_path):
    write(read_tree(NARROW, tmp_path), {"title": "t"}, "docx", tmp_path / "t.docx")
    with zipfile.ZipFile(tmp_path / "t.docx") as archive:
        body = archive.read("word/document.xml").decode()
    first, second = (int(width) for width in re.findall(r'<w:gridCol w:w="(\d+)"', body))
    assert second > 3 * first
