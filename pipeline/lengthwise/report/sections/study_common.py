"""What the slides share: figure beside table, notes for the speaker, tables without caption."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from lengthwise.report import escape
from lengthwise.report.figures.figure import FOLDER, Figure, save
from lengthwise.report.run_data import RunData
from lengthwise.report.tables import Column, pipe_table

MASKED_WORDS = "[m]: masked, since the count is small or would give a small one away."
# The size of a figure on its slide, so that its letters are as large as they were drawn.
WIDE, HALF = (9.2, 4.0), (6.0, 3.8)
READ_INTERVALS = "Read the interval before the number: it is what chance alone leaves open."


def slide(title: str, body: str, notes: Sequence[str]) -> str:
    """Return one slide; title and notes are plain text, the body is Markdown."""
    said = "\n\n".join(escape.markdown(note) for note in notes if note)
    spoken = f"\n\n::: {{.notes}}\n\n{said}\n\n:::\n" if said else "\n"
    return f"\n\n## {escape.markdown(title)}\n\n{body.strip()}{spoken}"


def slide_table(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> str:
    """Return a table without caption or label: on slides those make it vanish.

    What it shows stands in the slide's title instead.
    """
    table = pipe_table(columns, rows, caption="x", label="x")
    return table.partition("\n\n: ")[0] + "\n"


def figure_slide(
    title: str, figure: Figure | None, label: str, beside: str, notes: Sequence[str],
    absent: str,
) -> str:  # fmt: skip
    """Return a slide with the figure on the left and its values on the right.

    The figure is a PNG: it shows what is in the table beside it and carries no data.
    """
    if figure is None:
        return slide(title, beside or f"{escape.markdown(absent)}\n", notes)
    figure = (
        replace(figure, width_inch=WIDE[0], height_inch=WIDE[1])
        if not beside
        else (replace(figure, width_inch=HALF[0], height_inch=HALF[1]))
    )
    image = placed(figure, label)
    spoken = (figure.headline, *notes, f"In words: {figure.alt_text}")
    body = f"{image}\n" if not beside else columns(image, beside)
    return slide(title, body, spoken)


def placed(figure: Figure, label: str) -> str:
    """Save the figure and return its Markdown; its headline is told in the notes."""
    save(figure, Path(FOLDER) / f"{label}.png")
    caption, words = escape.markdown(figure.subtitle), escape.attribute(figure.alt_text)
    return f'![{caption}]({FOLDER}/{label}.png){{#fig-{label} fig-alt="{words}"}}\n'


def columns(left: str, right: str) -> str:
    return (
        ':::: {.columns}\n\n::: {.column width="58%"}\n\n'
        f'{left.strip()}\n\n:::\n\n::: {{.column width="42%"}}\n\n{right.strip()}\n\n:::\n\n::::\n'
    )


def bullets(lines: Sequence[str]) -> str:
    """Return plain lines as a list."""
    return "\n".join(f"- {escape.markdown(line)}" for line in lines if line) + "\n"


def spans(run_data: RunData) -> list[str]:
    """Return the periods of more than one quarter, the longest-reaching last."""
    found = {
        str(period) for period in run_data.estimates.get("period", ()) if ".." in str(period)
    }
    return sorted((p for p in found if "Q" in p), key=lambda period: period.split("..")[-1])


def span(run_data: RunData) -> str:
    """Return the whole span of the results, else the period of the run."""
    return spans(run_data)[-1] if spans(run_data) else str(run_data.run["period"])
