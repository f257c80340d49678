import pytest

from lengthwise.errors import ReportError
from lengthwise.report.embedded.assemble import split_metadata
from lengthwise.report.embedded.blocks import shaped
from lengthwise.report.embedded.convert import read_tree
from lengthwise.report.embedded.parameters import declared_parameters, with_parameters
from lengthwise.report.embedded.source import Cell, Text, read_document
from lengthwise.report.embedded.tree import stringify, walk

SOURCE = """---
title: A report
---

Before {{< not an include >}}

```{python}
#| label: parameters
#| tags: [parameters]
period = "a"
```

```python
shown = 1
```

```{python}
#| label: body
#| output: asis
print(period)
```
"""


@pytest.fixture
def document(tmp_path):
    path = tmp_path / "x.qmd"
    path.write_text(SOURCE)
    return read_document(path)


def test_cells_header_and_text_are_told_apart(document):
    assert document.header == {"title": "A report"}
    assert [cell.label for cell in document.cells] == ["parameters", "body"]
    assert document.cells[1].options["output"] == "asis"
    assert any(
        isinstance(part, Text) and "shown = 1" in part.markdown for part in document.parts
    )


def test_included_files_are_put_in_place(tmp_path):
    (tmp_path / "x.qmd").write_text("{{< include _part.qmd >}}\n")
    (tmp_path / "_part.qmd").write_text("```{python}\n#| label: part\n1\n```\n")
    assert [cell.label for cell in read_document(tmp_path / "x.qmd").cells] == ["part"]


def test_includes_without_end_are_refused(tmp_path):
    (tmp_path / "x.qmd").write_text("{{< include x.qmd >}}\n")
    with pytest.raises(ReportError, match="without end"):
        read_document(tmp_path / "x.qmd")


def test_parameters_are_injected_after_the_tagged_cell(document):
    changed = with_parameters(document, {"period": 'b"; import os'})
    assert [cell.label for cell in changed.cells] == ["parameters", "given-parameters", "body"]
    namespace = {}
    exec(changed.cells[1].code, namespace)
    assert namespace["period"] == 'b"; import os'
    assert "os" not in namespace


def test_an_unknown_parameter_is_an_error_that_names_the_known(document):
    with pytest.raises(ReportError, match="no parameter perod; it has: period"):
        with_parameters(document, {"perod": "b"})


def test_declared_parameters_are_the_assigned_names():
    assert declared_parameters(Cell("a = 1\nb = None\nprint(a)")) == ["a", "b"]


def test_a_printed_metadata_block_becomes_metadata():
    metadata, text = split_metadata("a\n\n---\ntitle: B\n---\n\nc")
    assert metadata == {"title": "B"}
    assert "title" not in text


def test_references_are_numbered_in_order_and_linked(tmp_path):
    text = (
        "See @fig-b, @tbl-a.\n\n| x |\n|---|\n| 1 |\n\n: Cap {#tbl-a}\n\n"
        '![One](a.png){#fig-a fig-alt="A"}\n\n![Two](b.png){#fig-b fig-alt="B"}\n'
    )
    shown = stringify(read_tree(text, tmp_path)["blocks"])
    assert "See Figure\u00a02, Table\u00a01." in shown
    assert "Figure\u00a01: One" in shown


@pytest.mark.parametrize(
    "text", ["See @fig-none.", "![A](a.png){#fig-a}\n\n![B](b.png){#fig-a}"]
)
def test_broken_references_are_errors(text, tmp_path):
    with pytest.raises(ReportError, match=r"fig-(none|a)"):
        read_tree(text, tmp_path)


def test_html_tables_have_scopes_and_a_focusable_box(tmp_path):
    tree = read_tree("| a | b |\n|---|---|\n| x | 1 |\n\n: Cap {#tbl-a}\n", tmp_path)
    box = shaped(tree["blocks"], "html")[0]
    attributes = dict(box["c"][0][2])
    assert (attributes["tabindex"], attributes["role"]) == ("0", "region")
    assert "Cap" in attributes["aria-label"]
    table = next(node for node in walk(box) if node["t"] == "Table")
    assert ["scope", "col"] in table["c"][3][1][0][1][0][0][2]
    assert ["scope", "row"] in table["c"][4][0][3][0][1][0][0][2]


@pytest.mark.parametrize("output_format", ["html", "docx"])
def test_alternative_text_is_not_the_caption(output_format, tmp_path):
    tree = read_tree('![Cap](a.png){#fig-a fig-alt="What is seen"}\n', tmp_path)
    image = next(n for n in walk(shaped(tree["blocks"], output_format)) if n["t"] == "Image")
    assert stringify(image["c"][1]) == "What is seen"


def test_slides_print_the_caption_below_the_figure(tmp_path):
    tree = read_tree('![Cap](a.png){#fig-a fig-alt="What is seen"}\n', tmp_path)
    image = next(n for n in walk(shaped(tree["blocks"], "pptx")) if n["t"] == "Image")
    assert stringify(image["c"][1]) == "Figure\u00a01: Cap"


@pytest.mark.parametrize("output_format", ["html", "typst", "docx"])
def test_callouts_keep_title_and_body(output_format, tmp_path):
    tree = read_tree('::: {.callout-note title="T one"}\nBody\n:::\n', tmp_path)
    blocks = shaped(tree["blocks"], output_format)
    raw = " ".join(n["c"][1] for n in walk(blocks) if n["t"] == "RawBlock")
    assert "T one" in stringify(blocks) + raw
    assert "Body" in stringify(blocks)
