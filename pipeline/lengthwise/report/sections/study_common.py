"""What the slides share: figure beside table, notes for the speaker, tables without caption."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from lengthwise.report import escape
from lengthwise.report.disclosure.publish import CARRIED
from lengthwise.report.figures.figure import FOLDER, Figure, save
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import MASKED, Column, pipe_table
from lengthwise.report.wording import sentence

MASKED_WORDS = "[m]: masked, since the count is small or would give a small one away."
# The size of a figure on its slide, so that its letters are as large as they were drawn.
WIDE, HALF = (9.2, 4.0), (6.0, 3.8)
READ_INTERVALS = "Read the interval before the number: it is what chance alone leaves open."


def slide(title: str, body: str, notes: Sequence[str], in_words: Sequence[str] = ()) -> str:
    """Return one slide; title and notes are plain text, the body is Markdown.

    `in_words` are notes of the slides alone: a page says them beside the figure.
    """
    masked = (MASKED_WORDS,) if escape.markdown(MASKED) in body else ()
    said = "\n\n".join(escape.markdown(note) for note in (*notes, *masked) if note)
    if in_words:
        words = "\n\n".join(map(escape.markdown, in_words))
        said = f"{said}\n\n{only_for('pptx', words)}"
    spoken = f"\n\n::: {{.notes}}\n\n{said}\n\n:::\n" if said else "\n"
    # Quarto takes away one layer of blocks around what a cell prints; this is that layer.
    wrapped = f":::::: {{.slide-body}}\n\n{body.strip()}{spoken}\n\n::::::\n"
    return f"\n\n## {escape.markdown(title)}\n\n{wrapped}"


def only_for(output_format: str, body: str) -> str:
    """Return Markdown that one format shows: `html` for the page, `pptx` for the slides."""
    opening = f'::: {{.content-visible when-format="{output_format}"}}'
    return f"{opening}\n\n{body.strip()}\n\n:::\n"


def slide_table(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], caption: str, label: str
) -> str:
    """Return a table: with its caption on a page, bare on a slide.

    On slides a caption or a label makes a table vanish; there the slide's title says it.
    """
    table = pipe_table(columns, rows, caption=caption, label=f"study-{label}")
    bare = table.partition("\n\n: ")[0]
    return f"{only_for('pptx', bare)}\n{only_for('html', table)}"


def figure_slide(
    title: str, figure: Figure | None, label: str, beside: str, notes: Sequence[str],
    absent: str,
) -> str:  # fmt: skip
    """Return a slide with the figure on the left and its values on the right.

    The figure is a PNG: it shows what is in the table beside it and carries no data.
    """
    if figure is None:
        return slide(title, beside or f"{escape.markdown(absent)}\n", notes)
    width, height = HALF if beside else WIDE
    image = placed(replace(figure, width_inch=width, height_inch=height), label)
    body = columns(image, beside) if beside else f"{image}\n"
    return slide(title, body, notes, (figure.headline, f"In words: {figure.alt_text}"))


def placed(figure: Figure, label: str) -> str:
    """Save the figure and return its Markdown.

    A page has the headline above and the figure in words below; a slide has its title, and
    the words are in the notes, where the alternative text is taken from.
    """
    save(figure, Path(FOLDER) / f"{label}.png")
    caption, words = escape.markdown(figure.subtitle), escape.attribute(figure.alt_text)
    image = f'![{caption}]({FOLDER}/{label}.png){{#fig-{label} fig-alt="{words}"}}'
    headline = only_for("html", f"**{escape.markdown(figure.headline)}**")
    return f"{headline}\n{image}\n\n{only_for('html', escape.markdown(figure.alt_text))}"


def columns(left: str, right: str) -> str:
    return (
        ':::: {.columns}\n\n::: {.column width="58%"}\n\n'
        f'{left.strip()}\n\n:::\n\n::: {{.column width="42%"}}\n\n{right.strip()}\n\n:::\n\n::::\n'
    )


def bullets(lines: Sequence[str]) -> str:
    """Return plain lines as a list."""
    return "\n".join(f"- {escape.markdown(line)}" for line in lines if line) + "\n"


def of_whole_span(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of a span of quarters, one that was shared before included."""
    return rows[rows["period"].str.contains("..", regex=False)] if len(rows) else rows


def carried_note(rows: pd.DataFrame) -> str:
    """Return what to say of numbers that stand as an earlier pack had them."""
    reasons = rows.loc[rows["reason"].str.startswith(CARRIED), "reason"] if len(rows) else ()
    said = "; ".join(dict.fromkeys(reasons))
    return sentence(f"some numbers here stand {said}") if said else ""


def spans(run_data: RunData) -> list[str]:
    """Return the periods of more than one quarter, the longest-reaching last."""
    found = {
        str(period) for period in run_data.estimates.get("period", ()) if ".." in str(period)
    }
    return sorted((p for p in found if "Q" in p), key=lambda period: period.split("..")[-1])


def span(run_data: RunData) -> str:
    """Return the whole span of the results, else the period of the run."""
    return spans(run_data)[-1] if spans(run_data) else str(run_data.run["period"])
