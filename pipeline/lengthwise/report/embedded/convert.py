"""Convert assembled Markdown with pandoc, and Typst markup to PDF."""

import json
import subprocess
from importlib import resources
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError
from lengthwise.report import escape
from lengthwise.report.embedded.blocks import shaped
from lengthwise.report.embedded.office import NAME, write_look
from lengthwise.report.embedded.references import number
from lengthwise.report.embedded.tree import Node, text_nodes

SECONDS_AT_MOST = 300
MARGIN = "(x: 2cm, y: 2cm)"
# Sections are second-level headings under an HTML title; other formats keep the title apart.
UP_ONE_LEVEL = ("--shift-heading-level-by=-1",)


def read_tree(text: str, folder: Path) -> dict[str, Any]:
    """Return pandoc's tree of the Markdown, with numbers and references resolved."""
    tree: dict[str, Any] = json.loads(
        pandoc(["--from", "markdown", "--to", "json"], text, folder)
    )
    tree["blocks"] = number(tree["blocks"])
    return tree


def write(
    tree: dict[str, Any],
    metadata: dict[str, str],
    output_format: str,
    target: Path,
    *,
    style: str = "",
    margin: str = MARGIN,
) -> None:
    """Write the tree to `target`, inside the folder that holds the images."""
    folder = target.parent
    tree = {**tree, "meta": _meta(metadata)}
    # Each format gets a tree of its own, since shaping changes nodes in place.
    blocks: list[Node] = json.loads(json.dumps(tree["blocks"]))
    writer = "typst" if output_format == "pdf" else output_format
    tree["blocks"] = shaped(blocks, writer)
    source = json.dumps(tree)
    if output_format == "html":
        _write_html(source, style, folder, target)
    elif output_format == "pdf":
        _write_pdf(source, folder, target, metadata, margin)
    else:
        options = ["--from", "json", "--to", writer, "--output", target.name]
        if writer == "docx":
            options += ["--reference-doc", _look(folder).name]
        pandoc([*options, *UP_ONE_LEVEL], source, folder)


def _look(folder: Path) -> Path:
    """Write the reference file of Word documents and return its path."""
    default = folder / f"default-{NAME}"
    pandoc(
        ["--output", default.name, "--print-default-data-file", "reference.docx"], "", folder
    )
    return write_look(default, folder / NAME)


def pandoc(options: list[str], source: str, folder: Path) -> str:
    """Run the packaged pandoc in `folder`, with relative paths only."""
    import pypandoc

    # A fixed time stamp keeps dates of the moment out of office files.
    environment = {"SOURCE_DATE_EPOCH": "0", "LC_ALL": "C.UTF-8"}
    finished = subprocess.run(
        [pypandoc.get_pandoc_path(), "--sandbox=false", *options],
        input=source.encode("utf-8"),
        capture_output=True,
        cwd=folder,
        env=environment,
        timeout=SECONDS_AT_MOST,
        check=False,
    )
    if finished.returncode:
        raise ReportError(
            f"The report could not be converted (pandoc code {finished.returncode})."
        )
    return finished.stdout.decode("utf-8")


def template(name: str) -> str:
    """Return the text of a template or style sheet of this package."""
    return resources.files(__package__).joinpath("templates", name).read_text(encoding="utf-8")


def _meta(metadata: dict[str, str]) -> dict[str, Node]:
    return {
        key: {"t": "MetaInlines", "c": text_nodes(value)} for key, value in metadata.items()
    }


def _write_html(source: str, style: str, folder: Path, target: Path) -> None:
    (folder / "page.html").write_text(template("page.html"), encoding="utf-8")
    (folder / "page.css.html").write_text(f"<style>\n{style}</style>\n", encoding="utf-8")
    options = [
        "--from",
        "json",
        "--to",
        "html5",
        "--standalone",
        "--embed-resources",
        "--mathml",
    ]
    options += ["--toc", "--toc-depth=2", "--template", "page.html", "--section-divs"]
    options += ["--include-in-header", "page.css.html", "--wrap=none"]
    pandoc([*options, "--output", target.name], source, folder)


def _write_pdf(
    source: str, folder: Path, target: Path, metadata: dict[str, str], margin: str
) -> None:
    import typst

    body = pandoc(
        ["--from", "json", "--to", "typst", "--wrap=none", *UP_ONE_LEVEL], source, folder
    )
    names = ("title", "subtitle", "date")
    head = "".join(
        f'#let document-{name} = "{escape.typst_string(metadata.get(name, ""))}"\n'
        for name in names
    )
    head += f"#let document-margin = {margin}\n"
    # pandoc centres tables; figures of text and numbers read from the left.
    body = body.replace("align(center)[#table(", "align(left)[#table(")
    page = folder / "page.typ"
    page.write_text(head + template("page.typ") + body, encoding="utf-8")
    try:
        typst.compile(
            page,
            output=target,
            root=folder,
            ignore_system_fonts=True,
            timestamp=0,
            pdf_standards=["ua-1"],
        )
    except typst.TypstError as failure:
        raise ReportError(f"The PDF could not be set: {failure.message}") from None
