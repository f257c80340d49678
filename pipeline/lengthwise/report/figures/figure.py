"""A figure with all its words, and its way into a report."""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lengthwise.report import escape
from lengthwise.report.trace import footer

DOTS_PER_INCH = 150
FOLDER = "figures"
SPOKEN_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawn result.

    Attributes
    ----------
    plot : plotnine.ggplot
    headline : str
        The chart's finding in one sentence.
    subtitle : str
        Measure, population, period and n.
    alt_text : str
        Kind of chart, main pattern with numbers; written from the same rows.
    result_ids : tuple of str
        The estimates that are drawn.
    width_inch, height_inch : float
    """

    plot: Any
    headline: str
    subtitle: str
    alt_text: str
    result_ids: tuple[str, ...]
    width_inch: float = 7.0
    height_inch: float = 3.6


def spoken(parts: Sequence[str], most: int = SPOKEN_AT_MOST) -> str:
    """Return the parts of an alternative text; a long list ends with how many are left out."""
    said = "; ".join(parts[:most])
    rest = len(parts) - most
    return f"{said}; and {rest} more, as in the table below" if rest > 0 else said


def save(figure: Figure, path: Path) -> Path:
    """Write the figure as a PNG whose bytes depend on the figure alone."""
    import matplotlib as mpl
    import matplotlib.pyplot as plt
    from plotnine import theme

    size = (figure.width_inch, figure.height_inch)
    path.parent.mkdir(parents=True, exist_ok=True)
    with warnings.catch_warnings():
        # matplotlib's layout engine warns of axes too small for text in tiny panels.
        warnings.filterwarnings("ignore", message=".*(tight|constrained).*layout.*")
        # A dollar sign in a name is a letter, not the start of a formula to be set.
        with mpl.rc_context({"text.parse_math": False}):
            drawn = (figure.plot + theme(figure_size=size, dpi=DOTS_PER_INCH)).draw()
            try:
                # No metadata: a program's version or a path would make equal figures differ.
                drawn.savefig(path, dpi=DOTS_PER_INCH, metadata={"Software": None})
            finally:
                plt.close(drawn)
    return path


def place(figure: Figure | None, label: str, folder: Path | None = None) -> str:
    """Save the figure and return the Markdown that shows it, or nothing for None.

    Parameters
    ----------
    label : str
        Letters, digits and hyphens; becomes the file name and `@fig-<label>`.
    folder : Path, optional
        Working folder of the report, the current one by default.
    """
    if figure is None:
        return ""
    save(figure, (folder or Path()) / FOLDER / f"{label}.png")
    headline = escape.markdown(figure.headline)
    caption = escape.markdown(figure.subtitle)
    alternative = escape.attribute(figure.alt_text)
    image = f'![{caption}]({FOLDER}/{label}.png){{#fig-{label} fig-alt="{alternative}"}}'
    # Not every format and reader shows the alternative text, so the body says it too.
    return f"**{headline}**\n\n{image}\n\n{footer(figure.result_ids, figure.alt_text)}"
